//! The stored form of a plan: the corner points of a schedule as it was when a kiln was lit by it.

use serde_json::{Value, json};

use super::super::fields::{FieldError, Fields};
use crate::units::{Celsius, Span, TEMPERATURE_RANGE_C};

/// Corner points as pairs of minutes and degrees.
pub(super) fn write(plan: &[(Span, Celsius)]) -> Value {
    plan.iter().map(|(after, celsius)| json!([after.as_minutes(), celsius.0])).collect()
}

/// More corner points than any kiln's controller knows; a plan is not a record of readings.
const LONGEST_PLAN: usize = 300;

/// From lit to a year later: slower than any kiln is fired.
const PLAN_RANGE_MIN: (f64, f64) = (0.0, 525_600.0);

pub(super) fn read(fields: &mut Fields) -> Result<Vec<(Span, Celsius)>, FieldError> {
    let pairs = fields.pairs("plan", "[[0, 20], [300, 717]]")?;
    let refused = |reason| Err(FieldError::Refused { key: "plan", reason });
    if pairs.len() > LONGEST_PLAN {
        let count = pairs.len();
        return refused(format!("{count} points are more than the {LONGEST_PLAN} a plan may have"));
    }
    let mut plan: Vec<(Span, Celsius)> = Vec::with_capacity(pairs.len());
    for (minutes, celsius) in pairs {
        for (value, name, (low, high)) in [
            (minutes, "time in minutes", PLAN_RANGE_MIN),
            (celsius, "temperature in C", TEMPERATURE_RANGE_C),
        ] {
            if !(low..=high).contains(&value) {
                return refused(format!("the {name} {value} is outside {low} to {high}"));
            }
        }
        let after = Span::from_minutes(minutes);
        if let Some((before, _)) = plan.last().filter(|(before, _)| *before >= after) {
            let before = before.as_minutes();
            return refused(format!(
                "the point at {minutes} min comes after the one at {before} min: put the points in the order of time, each later than the one before"
            ));
        }
        plan.push((after, Celsius(celsius)));
    }
    Ok(plan)
}
