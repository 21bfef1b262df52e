//! What is said of a schedule.

use super::cautions::caution;
use super::dial::Dial;
use crate::schedule::caution::Severity;
use crate::schedule::check::{Limits, check};
use crate::schedule::{Leg, Pace, Schedule, Segment};
use crate::units::{Celsius, CelsiusPerHour, Scale, Span};

/// Said where a kiln follows no schedule.
pub const NO_SCHEDULE: &str = "none";

/// What a schedule calls for at such a kiln, without the mere remarks: a sentence each.
pub fn schedule_cautions(schedule: &Schedule, limits: &Limits, dial: &Dial<'_>) -> Vec<String> {
    match check(schedule, limits) {
        Err(malformed) => vec![malformed.to_string()],
        Ok(cautions) => cautions
            .iter()
            .map(|caution| &caution.rule)
            .filter(|rule| rule.severity() != Severity::Remark)
            .map(|rule| caution(rule, dial.scale))
            .collect(),
    }
}

pub const SCHEDULES_TITLE: &str = "Schedules";
pub const NO_SUCH_SCHEDULE: &str = "no such schedule";

/// `018  5 h 30 min  Lustre and gold`: what a list says of a schedule.
pub fn schedule_line(schedule: &Schedule, own: bool) -> String {
    let (target, total) = (schedule.target.name(), schedule.total().to_string());
    format!("{target:<4} {total:>12}  {}", schedule_name(schedule, own))
}

/// `Lustre and gold`, or `Gold on cups (own)` for one of the shop's own.
pub fn schedule_name(schedule: &Schedule, own: bool) -> String {
    let mark = if own { " (own)" } else { "" };
    format!("{}{mark}", schedule.name)
}

/// What a form offers: `Lustre and gold, last time`; `Earthenware bisque (04)` where it goes to
/// another cone than the load.
pub fn offered_schedule(schedule: &Schedule, own: bool, fits: bool, last: bool) -> String {
    let cone = if fits { String::new() } else { format!(" ({})", schedule.target) };
    let last = if last { ", last time" } else { "" };
    format!("{}{cone}{last}", schedule_name(schedule, own))
}

/// What a list says of a file that cannot be used as a schedule.
pub fn garbled_schedule(file: &str, why: &str) -> String {
    format!("cannot be used: {file}, {why}")
}

/// What it is for, and its segments, each with when it ends.
pub fn schedule_orders(schedule: &Schedule, scale: Scale) -> Vec<String> {
    let mut lines = vec![
        format!("For {}, to cone {} ({}).", schedule.ware, schedule.target, schedule.family),
        format!("{:>11}  start at {}", "0 min", schedule.start.display(scale)),
    ];
    let reached = schedule.plan();
    lines.extend(schedule.segments.iter().zip(reached.iter().skip(1)).map(
        |(segment, (ends, reached))| {
            format!("{:>11}  {}", ends.to_string(), order(segment, *reached, scale))
        },
    ));
    lines
}

/// The corners of a plan: `20 C, 400 C after 3 h 48 min, 734 C after 6 h 02 min`.
pub fn plan_text(plan: &[(Span, Celsius)], scale: Scale) -> String {
    let corner = |(after, t): &(Span, Celsius)| match *after {
        Span::ZERO => t.display(scale),
        after => format!("{} after {after}", t.display(scale)),
    };
    plan.iter().map(corner).collect::<Vec<_>>().join(", ")
}

/// What is to be aired, and why: a sentence each.
pub fn schedule_airing(schedule: &Schedule, scale: Scale) -> Vec<String> {
    let airing = schedule.ventilate.iter().map(|stretch| {
        let (from, to) = (stretch.from.display(scale), stretch.to.display(scale));
        format!("Ventilate from {from} to {to}. {}", stretch.why)
    });
    airing.collect()
}

/// One segment in words, and where it ends.
fn order(segment: &Segment, reached: Celsius, scale: Scale) -> String {
    match segment {
        Segment::Ramp { pace: Pace::Rate(rate), .. } => climb(reached, *rate, scale),
        Segment::Ramp { pace: Pace::Within(length), .. } => {
            format!("climb to {} within {length}", reached.display(scale))
        }
        Segment::Soak(length) => stay(reached, *length, scale),
        Segment::Cool { rate, .. } => cool(reached, *rate, scale),
    }
}

/// A leg of a plan in the same words: `climb to 734 C at 150 C/h`.
pub fn leg_order(leg: &Leg, scale: Scale) -> String {
    match leg.rate() {
        _ if leg.is_level() => stay(leg.to, leg.length, scale),
        rate if leg.climbs() => climb(leg.to, rate, scale),
        rate => cool(leg.to, CelsiusPerHour(-rate.0), scale),
    }
}

fn climb(to: Celsius, rate: CelsiusPerHour, scale: Scale) -> String {
    format!("climb to {} at {}", to.display(scale), rate.display(scale))
}

fn stay(at: Celsius, length: Span, scale: Scale) -> String {
    format!("hold {} for {length}", at.display(scale))
}

fn cool(to: Celsius, rate: CelsiusPerHour, scale: Scale) -> String {
    format!("cool to {} at {}", to.display(scale), rate.display(scale))
}
