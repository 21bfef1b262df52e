//! Room air, and how fast it dries.

use crate::units::{Celsius, Moment, Span};

/// The deficit at which an hour of drying counts as one, Pa: 20 C and 61 %.
pub const REFERENCE_PA: f64 = 900.0;
/// Beyond these a deficit is an error of the sensor or does nothing more, Pa (a guess).
const SURE_PA: (f64, f64) = (60.0, 3000.0);
/// Between readings that are further apart than this the air is taken as usual.
const FAR_APART: Span = Span::hours(48);
/// Hours are told so far before and after now.
const BEFORE: Span = Span::hours(3 * 366 * 24);
const HOUR: Span = Span::hours(1);
/// The air to come is that of the same hour on so many last days, and what the last hours are above or
/// below that passes in so many (guesses).
const LAST_DAYS: usize = 10;
const LAST_HOURS: usize = 16;
const PASSES_H: f64 = 72.0;

/// Pressure of saturated water vapour, Pa: Magnus' formula with the constants of the WMO guide
/// (Sonntag 1990).
pub fn saturation_pa(air: Celsius) -> f64 {
    611.2 * (17.62 * air.0 / (243.12 + air.0)).exp()
}

/// Vapour pressure deficit of air of this relative humidity from 0 to 1, Pa.
pub fn deficit_pa(air: Celsius, humidity: f64) -> f64 {
    saturation_pa(air) * (1.0 - humidity)
}

/// Hour by hour, ln of the deficit over [`REFERENCE_PA`].
#[derive(Debug, Clone, Default)]
pub struct Air {
    pub first: Moment,
    pub hours: Vec<f64>,
    pub usual: f64,
    /// How far a day's mean usually lies from that of the days before, by which it is foreseen.
    pub changes: f64,
}

impl Air {
    /// From readings in the order of time, for doses from long before `now` to `until`; `None`
    /// without any.
    pub fn new(readings: &[(Moment, Celsius, f64)], now: Moment, until: Moment) -> Option<Air> {
        let oldest = now - BEFORE;
        let readings: Vec<(Moment, f64)> = readings
            .iter()
            .filter(|(at, ..)| *at >= oldest && *at <= now)
            .map(|&(at, celsius, humidity)| {
                let pa = deficit_pa(celsius, humidity).clamp(SURE_PA.0, SURE_PA.1);
                (at, (pa / REFERENCE_PA).ln())
            })
            .collect();
        let (first, last) = (readings.first()?.0, readings.last()?.0);
        let first = Moment(first.0 - first.0.rem_euclid(HOUR.0));
        let usual = readings.iter().map(|(_, ln)| ln).sum::<f64>() / readings.len() as f64;
        let known = (last - first).0 as usize / HOUR.0 as usize + 1;
        let hour = |nth: usize| between(&readings, first + Span::hours(nth as i64), usual);
        let mut hours: Vec<f64> = (0..known).map(hour).collect();
        let changes = changes(&hours);
        let far = last + FAR_APART + FAR_APART < now;
        let ahead = 0..((until - first).0 / HOUR.0).max(0) as usize + 1 - known;
        let ahead = ahead.map(|ahead| foreseen(&hours, ahead).filter(|_| !far).unwrap_or(usual));
        let ahead: Vec<f64> = ahead.collect();
        hours.extend(ahead);
        Some(Air { first, hours, usual, changes })
    }
}

/// The air so many hours after the last of these: as at the same hour of the last days, and what the last
/// hours are above or below that passes. `None` within the first day.
fn foreseen(hours: &[f64], ahead: usize) -> Option<f64> {
    let known = hours.len();
    let of_days = |hour: usize| {
        let back = (1..=LAST_DAYS).map_while(|day| hours.get(hour.checked_sub(24 * day)?));
        let (sum, count) = back.fold((0.0, 0.0), |(sum, count), ln| (sum + ln, count + 1.0));
        (count > 0.0).then(|| sum / count)
    };
    let usual = of_days(known + ahead % 24)?;
    let last = known.saturating_sub(LAST_HOURS).max(24)..known;
    let apart: f64 = last.clone().filter_map(|hour| Some(hours[hour] - of_days(hour)?)).sum();
    let passed = (-(ahead as f64) / PASSES_H).exp();
    Some(usual + passed * apart / last.len().max(1) as f64)
}

/// Standard deviation of a day's mean from what was foreseen of it; with a typical one (a guess) that
/// counts for a few days.
fn changes(hours: &[f64]) -> f64 {
    const TYPICAL: (f64, f64) = (0.15, 5.0);
    let (mut squares, mut count) = (TYPICAL.0 * TYPICAL.0 * TYPICAL.1, TYPICAL.1);
    for day in (LAST_DAYS..hours.len() / 24).map(|day| 24 * day) {
        let apart = (0..24).filter_map(|at| Some(hours[day + at] - foreseen(&hours[..day], at)?));
        squares += (apart.sum::<f64>() / 24.0).powi(2);
        count += 1.0;
    }
    (squares / count).sqrt()
}

/// The air at a moment between readings.
fn between(readings: &[(Moment, f64)], at: Moment, usual: f64) -> f64 {
    let next = readings.partition_point(|(then, _)| *then <= at);
    match (next.checked_sub(1).map(|before| readings[before]), readings.get(next)) {
        (Some((from, low)), Some(&(to, high))) if to - from <= FAR_APART => {
            low + (high - low) * (at - from).0 as f64 / (to - from).0.max(1) as f64
        }
        (Some((_, ln)), None) | (None, Some(&(_, ln))) => ln,
        _ => usual,
    }
}
