//! What is said of when somebody is in the shop, and of what its plan keeps to.

use super::dial::{Clock, Dial, FixedZone};
use crate::firing::fields::LIMITS;
use crate::hours::{Closed, Hours, Open, TimeOfDay};
use crate::plan::limits::{Counts, HouseLimits};
use crate::units::{Moment, Scale, Span};

/// `somebody is here mon-fri 8:00 to 17:30, 2 people`.
pub fn hours_line(hours: &Hours, clock: Clock) -> String {
    let Hours { days, open: Open { from, to, people } } = hours;
    let time = |at: TimeOfDay| time(at, clock);
    match people.0 {
        0 => format!("nobody is here {days}"),
        1 => format!("somebody is here {days} {} to {}", time(*from), time(*to)),
        people => format!("{people} people are here {days} {} to {}", time(*from), time(*to)),
    }
}

/// `the plan keeps to: 2 gas kilns at once, 24.5 kW; counts more: I would rather wait a day than meet two watches`.
pub fn limits_line(limits: &HouseLimits, clock: Clock) -> String {
    let gas = limits.gas_kilns.map(|kilns| format!("{kilns} gas kilns at once"));
    let power = limits.power_kw.map(|kw| format!("{kw} kW at once"));
    let cheap = limits.cheap_from.zip(limits.cheap_to).zip(limits.cheap_price);
    let cheap = cheap.map(|((from, to), price)| {
        format!("power at {price} a kWh {} to {}", time(from, clock), time(to, clock))
    });
    let said: Vec<String> =
        [gas, power, cheap].into_iter().flatten().chain(turned(limits)).collect();
    let said = if said.is_empty() { "no limit".into() } else { said.join("; ") };
    format!("the plan keeps to: {said}")
}

/// The sentences that count otherwise than usual: `counts more: I would rather ...`.
pub fn turned(limits: &HouseLimits) -> Vec<String> {
    let HouseLimits { on_time, at_once, apart, attended, full, .. } = limits;
    let all = [on_time, at_once, apart, attended, full].into_iter();
    let said = all.zip(&LIMITS[LIMITS.len() - 5..]).filter_map(|(counts, field)| {
        let counts = counts.filter(|counts| *counts != Counts::Usual)?;
        Some(format!("counts {counts}: {}", field.about.split(':').next()?))
    });
    said.collect()
}

fn time(time: TimeOfDay, clock: Clock) -> String {
    let zone = FixedZone::default();
    let dial = Dial { zone: &zone, clock, scale: Scale::default() };
    dial.time(Moment::default() + Span::minutes(time.0.into()))
}

/// `closed 2026-12-24 to 2027-01-02: holidays`.
pub fn closed_line(closed: &Closed) -> String {
    let until = closed.until.filter(|until| *until != closed.from);
    let until = until.map(|until| format!(" to {until}")).unwrap_or_default();
    let why = if closed.why.is_empty() { String::new() } else { format!(": {}", closed.why) };
    format!("closed {}{until}{why}", closed.from)
}
