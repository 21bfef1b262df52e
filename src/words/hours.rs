//! What is said of when somebody is in the shop.

use super::dial::{Clock, Dial, FixedZone};
use crate::hours::{Closed, Hours, Open, TimeOfDay};
use crate::units::{Moment, Scale, Span};

/// `somebody is here mon-fri 8:00 to 17:30, 2 people`.
pub fn hours_line(hours: &Hours, clock: Clock) -> String {
    let Hours { days, open: Open { from, to, people } } = hours;
    let zone = FixedZone::default();
    let dial = Dial { zone: &zone, clock, scale: Scale::default() };
    let time = |time: TimeOfDay| dial.time(Moment::default() + Span::minutes(time.0.into()));
    match people.0 {
        0 => format!("nobody is here {days}"),
        1 => format!("somebody is here {days} {} to {}", time(*from), time(*to)),
        people => format!("{people} people are here {days} {} to {}", time(*from), time(*to)),
    }
}

/// `closed 2026-12-24 to 2027-01-02: holidays`.
pub fn closed_line(closed: &Closed) -> String {
    let until = closed.until.filter(|until| *until != closed.from);
    let until = until.map(|until| format!(" to {until}")).unwrap_or_default();
    let why = if closed.why.is_empty() { String::new() } else { format!(": {}", closed.why) };
    format!("closed {}{until}{why}", closed.from)
}
