//! What a schedule means for alarms: steps by hand, soaks, and how fast the kiln may climb.

use super::condition::{Plan, PlannedStep};
use crate::firing::after::at_the_cone;
use crate::kiln::Kiln;
use crate::schedule::Leg;
use crate::units::{Celsius, CelsiusPerHour, Moment, Span};

/// Where a kiln begins that has no schedule.
const COLD: Celsius = Celsius(0.0);

/// The plan of a firing lit at `lit`, from the corner points of its schedule (time since lit, and
/// temperature; none without a schedule). Where nobody turns it by hand, its steps ask nobody for anything.
/// Steps after the cone follow the drop, not the clock.
pub fn plan(lit: Moment, corners: &[(Span, Celsius)], kiln: Option<&Kiln>) -> Plan {
    let (legs, after) = at_the_cone(corners);
    let of_kiln = Plan { fuel: kiln.map(|kiln| kiln.fuel), ..Plan::default() };
    let by_hand = of_kiln.by_hand();
    let steps = legs.windows(2).filter(|pair| by_hand && turns(&pair[0], &pair[1]));
    let kiln_limit = kiln.and_then(|kiln| kiln.fastest_climb);
    let level = |leg: &&Leg| leg.is_level();
    let mut fastest: Vec<(Celsius, CelsiusPerHour)> = Vec::new();
    for leg in legs.iter().filter(|leg| leg.climbs()) {
        let allowed = kiln_limit.map_or(leg.rate().0, |limit| limit.0.max(leg.rate().0));
        // The kiln's own limit never makes a schedule look too fast.
        fastest.push((leg.from, CelsiusPerHour(allowed)));
    }
    if let (true, Some(limit)) = (fastest.is_empty(), kiln_limit) {
        fastest.push((COLD, limit));
    }
    Plan {
        steps: steps.map(|pair| PlannedStep { at: lit + pair[1].starts, leg: pair[1] }).collect(),
        soaks: legs
            .iter()
            .filter(level)
            .map(|leg| (lit + leg.starts, lit + leg.starts + leg.length))
            .collect(),
        soak_temperatures: legs.iter().chain(&after).filter(level).map(|leg| leg.to).collect(),
        fastest,
        ..of_kiln
    }
}

/// Whether somebody has to turn something between two legs.
fn turns(before: &Leg, after: &Leg) -> bool {
    (after.rate().0 - before.rate().0).abs() >= 10.0
}
