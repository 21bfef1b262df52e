//! What is said of what lies ahead.

use super::dial::Dial;
use crate::scene::{Ahead, Coming};
use crate::units::Moment;

pub const COMING_TITLE: &str = "What comes next";
pub const NOTHING_COMING: &str = "nothing that could be foreseen";

/// `14:05 look at Heron`, `now shut off Otter`, `tomorrow 8:00 Wren may drop`.
pub fn coming_line(coming: &Coming, now: Moment, dial: &Dial<'_>) -> String {
    let kiln = &coming.kiln;
    let when = if coming.at <= now && coming.what <= Ahead::Look {
        "now".to_owned()
    } else {
        dial.time_and_day(coming.at, now)
    };
    match coming.what {
        Ahead::ShutOff => format!("{when} shut off {kiln}"),
        Ahead::Look => format!("{when} look at {kiln}"),
        Ahead::WatchOpens => format!("{when} watch of {kiln} begins"),
        Ahead::Drop => format!("{when} {kiln} likely drops"),
        Ahead::Draw => format!("{when} {kiln} can be drawn"),
    }
}
