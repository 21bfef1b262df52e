//! What a firing used up.
//!
//! Meter readings and materials are written down as notes: one that begins with `meter` (`meter 4812.3
//! m3`, before and after), or with `used` (`used 3.5 g gold`, `used 40 decal`).

use serde::{Deserialize, Serialize};

use crate::firing::Firing;
use crate::firing::setting::share;
use crate::units::Moment;

/// What a firing used up, before any price.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Consumption {
    /// Difference of the first and the last meter reading, and their unit.
    pub metered: Option<(f64, String)>,
    /// From lit to off.
    pub hours: Option<f64>,
    /// The mean share of full, 0 to 1, if the settings were written down as shares.
    pub share: Option<f64>,
    /// Amount and name of each thing noted.
    pub used: Vec<(f64, String)>,
}

impl Consumption {
    pub fn of(firing: &Firing) -> Consumption {
        let end = firing.off.or(firing.aborted.as_ref().map(|(at, _)| *at));
        let burning = firing.lit.zip(end).filter(|(lit, end)| end > lit);
        Consumption {
            metered: metered(firing),
            hours: burning.map(|(lit, end)| (end - lit).as_hours()),
            share: burning.and_then(|(lit, end)| mean_share(&firing.turned, lit, end)),
            used: firing.notes.iter().filter_map(|(_, text)| after_word(text, "used")).collect(),
        }
    }
}

/// The amount and the rest of a note that begins with this word.
fn after_word(text: &str, word: &str) -> Option<(f64, String)> {
    let mut parts = text.split_whitespace();
    if !parts.next()?.eq_ignore_ascii_case(word) {
        return None;
    }
    let amount: f64 = parts.next()?.parse().ok().filter(|a: &f64| a.is_finite() && *a >= 0.0)?;
    let rest = parts.collect::<Vec<_>>().join(" ");
    (!rest.is_empty()).then_some((amount, rest))
}

fn metered(firing: &Firing) -> Option<(f64, String)> {
    let mut readings = firing.notes.iter().filter_map(|(_, text)| after_word(text, "meter"));
    let (first, unit) = readings.next()?;
    let (last, last_unit) = readings.next_back()?;
    (last >= first && unit.eq_ignore_ascii_case(&last_unit)).then_some((last - first, unit))
}

/// The mean share of full from the settings; `None` unless every one of them is a share and the
/// first is from the start (within a tenth of the time).
fn mean_share(turned: &[(Moment, String)], lit: Moment, end: Moment) -> Option<f64> {
    let (first, _) = turned.first()?;
    let length = (end - lit).as_hours();
    if (*first - lit).as_hours() > 0.1 * length {
        return None;
    }
    let mut sum = 0.0;
    for (index, (at, to)) in turned.iter().enumerate() {
        let from = if index == 0 { lit } else { *at };
        let until = turned.get(index + 1).map_or(end, |(next, _)| *next).min(end);
        sum += share(to)? * (until - from).as_hours().max(0.0);
    }
    Some(sum / length)
}
