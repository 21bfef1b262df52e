//! What a schedule means for alarms: steps by hand, soaks, and how fast the kiln may climb.

use super::condition::{Plan, PlannedStep};
use crate::kiln::{Fuel, Kiln};
use crate::schedule::Leg;
use crate::units::{Celsius, CelsiusPerHour, Moment, Span};

/// Where a kiln begins that has no schedule.
const COLD: Celsius = Celsius(0.0);
/// A leg steeper than this is a climb, flatter is a soak, C/h.
const LEVEL_C_PER_H: f64 = 1.0;

/// The plan of a firing lit at `lit`, from the corner points of its schedule (time since lit, and
/// temperature; none without a schedule). Burners are turned by hand; an electric kiln follows its
/// own controller, so its steps ask nobody for anything.
pub fn plan(lit: Moment, corners: &[(Span, Celsius)], kiln: Option<&Kiln>) -> Plan {
    let legs: Vec<Leg> = Leg::between(corners).collect();
    let by_hand = kiln.is_some_and(|kiln| kiln.fuel != Fuel::Electric);
    let steps = legs.windows(2).filter(|pair| by_hand && turns(&pair[0], &pair[1]));
    let kiln_limit = kiln.and_then(|kiln| kiln.fastest_climb);
    let level = |leg: &&Leg| leg.rate().0.abs() < LEVEL_C_PER_H;
    let mut fastest: Vec<(Celsius, CelsiusPerHour)> = Vec::new();
    for leg in legs.iter().filter(|leg| leg.rate().0 >= LEVEL_C_PER_H) {
        let allowed = kiln_limit.map_or(leg.rate().0, |limit| limit.0.max(leg.rate().0));
        // The kiln's own limit never makes a schedule look too fast.
        fastest.push((leg.from, CelsiusPerHour(allowed)));
    }
    if let (true, Some(limit)) = (fastest.is_empty(), kiln_limit) {
        fastest.push((COLD, limit));
    }
    Plan {
        steps: steps
            .map(|pair| PlannedStep { at: lit + pair[1].starts, to: order(&pair[1]) })
            .collect(),
        soaks: legs
            .iter()
            .filter(level)
            .map(|leg| (lit + leg.starts, lit + leg.starts + leg.length))
            .collect(),
        soak_temperatures: legs.iter().filter(level).map(|leg| leg.to).collect::<Vec<Celsius>>(),
        fastest,
        ..Plan::default()
    }
}

/// Whether somebody has to turn something between two legs.
fn turns(before: &Leg, after: &Leg) -> bool {
    (after.rate().0 - before.rate().0).abs() >= 10.0
}

/// The order of a leg, in words.
fn order(leg: &Leg) -> String {
    let rate = leg.rate().0;
    let (to, length) = (leg.to.0, leg.length);
    if rate.abs() < LEVEL_C_PER_H {
        format!("hold {to:.0} C for {length}")
    } else if rate > 0.0 {
        format!("climb {rate:.0} C/h to {to:.0} C")
    } else {
        format!("cool {:.0} C/h to {to:.0} C", -rate)
    }
}
