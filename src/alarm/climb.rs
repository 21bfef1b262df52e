//! What the readings say by themselves: climbing as it should, stalled, too fast, falling.
//!
//! Readings set aside as implausible are not looked at. Limits are our own (common practice, no
//! source).

use crate::units::{Celsius, CelsiusPerHour, Moment, Span};

/// A climb is measured over this long, or between the last two readings if they are further apart.
pub const MEASURED_OVER: Span = Span::minutes(20);
/// Two readings further apart than this say nothing of the climb now.
const TOO_FAR_APART: Span = Span::minutes(60);
/// The last reading speaks for this long.
const SPEAKS_FOR: Span = Span::minutes(60);

/// Below this a kiln that should climb is stalled; above [`CLIMBS_AGAIN`] it no longer is.
pub const STALLED_BELOW: CelsiusPerHour = CelsiusPerHour(15.0);
pub const CLIMBS_AGAIN: CelsiusPerHour = CelsiusPerHour(30.0);
/// Below this a kiln is still warming up or driving off water, and a pause is no stall.
pub const STALL_COUNTS_ABOVE: Celsius = Celsius(300.0);
/// So many times the allowed climb is too fast; below [`SLOW_ENOUGH`] times it no longer is.
pub const TOO_FAST: f64 = 1.15;
pub const SLOW_ENOUGH: f64 = 1.05;
/// So far below its peak, and still falling, a kiln is off or out, C; within
/// [`BACK_WITHIN_C`] of it, it is not.
pub const FALLEN_BY_C: f64 = 40.0;
pub const BACK_WITHIN_C: f64 = 25.0;

/// How far a condition holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Holds {
    /// Since when.
    pub since: Moment,
    /// True where it would raise an alarm; false where it only keeps one that stands.
    pub enters: bool,
}

/// The reading from which the climb up to the one at `index` is measured.
pub fn measured_from(readings: &[(Moment, Celsius)], index: usize) -> Option<(Moment, Celsius)> {
    let (at, _) = *readings.get(index)?;
    readings[..index].iter().rfind(|(earlier, _)| at - *earlier >= MEASURED_OVER).copied()
}

/// The climb up to the reading at `index`, if the readings say one.
pub fn climb_at(readings: &[(Moment, Celsius)], index: usize) -> Option<CelsiusPerHour> {
    let (from_at, from) = measured_from(readings, index)?;
    let (at, reached) = readings[index];
    let length = at - from_at;
    (length <= TOO_FAR_APART).then(|| CelsiusPerHour((reached.0 - from.0) / length.as_hours()))
}

/// The latest climb, if it still speaks for `now`.
pub fn climb_now(readings: &[(Moment, Celsius)], now: Moment) -> Option<CelsiusPerHour> {
    let last = readings.len().checked_sub(1)?;
    (now - readings[last].0 <= SPEAKS_FOR).then(|| climb_at(readings, last))?
}

/// Whether the climb has stayed on one side of two limits: `enter` decides for an alarm, `keep`
/// for as long as one stands. The condition began with the first reading of the unbroken run that
/// keeps it.
fn run(
    readings: &[(Moment, Celsius)],
    now: Moment,
    enter: impl Fn(CelsiusPerHour, Celsius) -> bool,
    keep: impl Fn(CelsiusPerHour, Celsius) -> bool,
) -> Option<Holds> {
    climb_now(readings, now)?;
    let mut holds: Option<Holds> = None;
    for index in (0..readings.len()).rev() {
        let (at, temperature) = readings[index];
        let Some(climb) = climb_at(readings, index) else { break };
        if !keep(climb, temperature) {
            break;
        }
        let enters_here = enter(climb, temperature);
        let known = holds.get_or_insert(Holds { since: at, enters: false });
        if enters_here {
            *known = Holds { since: at, enters: true };
        }
    }
    holds
}

/// A kiln that should climb and does not.
pub fn stalled(readings: &[(Moment, Celsius)], now: Moment) -> Option<Holds> {
    let counts = |temperature: Celsius| temperature >= STALL_COUNTS_ABOVE;
    run(
        readings,
        now,
        |climb, temperature| climb < STALLED_BELOW && counts(temperature),
        |climb, temperature| climb < CLIMBS_AGAIN && counts(temperature),
    )
}

/// A kiln that climbs faster than `allowed`.
pub fn too_fast(
    readings: &[(Moment, Celsius)],
    allowed: CelsiusPerHour,
    now: Moment,
) -> Option<Holds> {
    run(
        readings,
        now,
        |climb, _| climb.0 > TOO_FAST * allowed.0,
        |climb, _| climb.0 > SLOW_ENOUGH * allowed.0,
    )
}

/// A kiln that burns by the record and cools by its readings.
pub fn falls_as_if_off(readings: &[(Moment, Celsius)]) -> Option<Holds> {
    let (last_at, last) = *readings.last()?;
    let (peak_index, peak) = readings
        .iter()
        .enumerate()
        .map(|(index, (_, temperature))| (index, *temperature))
        .max_by(|a, b| a.1.0.total_cmp(&b.1.0))?;
    if peak.0 - last.0 < BACK_WITHIN_C {
        return None;
    }
    let fallen = |at: &(Moment, Celsius)| peak.0 - at.1.0 >= FALLEN_BY_C;
    let since = readings[peak_index..].iter().find(|reading| fallen(reading));
    let before_last = readings[..readings.len() - 1].last().map_or(last, |(_, before)| *before);
    let enters = fallen(&(last_at, last)) && last < before_last;
    Some(Holds { since: since.map_or(last_at, |(at, _)| *at), enters })
}
