//! What is said of a schedule.

use super::dial::Dial;
use crate::schedule::Schedule;
use crate::schedule::caution::Severity;
use crate::schedule::check::{Limits, check};

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
            .map(|rule| rule.text(dial.scale))
            .collect(),
    }
}
