//! The stored form of a mark: lengths of time in minutes, from the moment it was made.

use serde_json::{Value, json};

use super::super::fields::{FieldError, Fields};
use crate::firing::EventId;
use crate::firing::mark::{ForecastBy, Mark, When};
use crate::units::Span;

/// From a day before to 30 days after.
const RANGE_MIN: (f64, f64) = (-1_440.0, 43_200.0);
const WIDTH_RANGE: (f64, f64) = (0.1, 10.0);

pub(super) fn write(mark: &Mark) -> Value {
    json!({
        "when": mark.when.name(),
        "forecast_by": mark.by.name(),
        "p05_min": mark.p05.as_minutes(),
        "p50_min": mark.p50.as_minutes(),
        "p95_min": mark.p95.as_minutes(),
        "width": mark.width,
        "lit": mark.lit.0,
    })
}

pub(super) fn read(fields: &mut Fields) -> Result<Mark, FieldError> {
    let mut after = |key| {
        let advice = "minutes from then to the drop, at most 30 days";
        fields.number(key, "195", RANGE_MIN, advice).map(Span::from_minutes)
    };
    let (p05, p50, p95) = (after("p05_min")?, after("p50_min")?, after("p95_min")?);
    if !(p05 <= p50 && p50 <= p95) {
        let reason = format!("{p50} has to lie between p05_min, {p05}, and p95_min, {p95}");
        return Err(FieldError::Refused { key: "p50_min", reason });
    }
    Ok(Mark {
        when: fields.choice("when", &When::ALL, When::name)?,
        by: fields.choice("forecast_by", &ForecastBy::ALL, ForecastBy::name)?,
        p05,
        p50,
        p95,
        width: fields.number("width", "1", WIDTH_RANGE, "times as wide as reckoned")?,
        lit: EventId(fields.whole("lit", "17")?),
    })
}
