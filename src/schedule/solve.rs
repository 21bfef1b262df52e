//! From a cone back to the top temperature.
//!
//! With a final ramp at rate b up to T and a soak h there, the heat work of a cone is
//! B(T)/b + B'(T) h (see [`crate::cone::curve`]): all that happens at lower temperatures is in
//! B(T)/b, as long as the final ramp begins well below the cone. It rises with T, so the top at
//! which it is 1 is found by halving. A whole schedule, whose ramps may change pace near the top,
//! is solved the same way on the exact simulation of its heating part.

use super::simulate::Course;
use super::{Pace, Peak, Schedule, Segment};
use crate::cone::chart::FamilyError;
use crate::cone::{Basis, Cone, Curve, curve};
use crate::units::{
    Celsius, CelsiusPerHour, RATE_RANGE_C_PER_H, Scale, Span, TEMPERATURE_RANGE_C, UnitError,
};

/// The longest soak that is solved for. Nobody soaks a cone down for longer.
pub const LONGEST_SOAK: Span = Span::hours(24);

/// How narrow the bracket around the top has to be, C.
const BRACKET_C: f64 = 1e-9;

/// Why there is no top temperature.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SolveError {
    #[error(transparent)]
    Rate(#[from] UnitError),
    #[error(transparent)]
    Family(#[from] FamilyError),
    #[error("a soak of {0} is outside 0 to 24 h: give a shorter soak and a hotter top")]
    Soak(Span),
    #[error("the schedule has no ramp: there is no top to solve for, add one")]
    NoRamp,
    #[error(
        "cone {cone} is down before the last ramp begins at {}: shorten or cool the segments before it",
        .begins.in_both_scales()
    )]
    DownBefore { cone: Cone, begins: Celsius },
    #[error(
        "cone {cone} does not go down in this schedule at any top up to {}: give a slower final ramp or a longer soak",
        Celsius(TEMPERATURE_RANGE_C.1).in_both_scales()
    )]
    OutOfReach { cone: Cone },
}

/// Heat work of a steady climb at `final_rate` up to `top`, and a soak there.
pub fn heat_work(curve: &Curve, top: Celsius, final_rate: CelsiusPerHour, soak: Span) -> f64 {
    curve.rate_ending_at(top).0 / final_rate.0 + curve.heat_work_per_hour(top) * soak.as_hours()
}

/// The top temperature at which the cone is just down at the end of the soak.
///
/// # Errors
/// [`SolveError::Rate`] outside 5 to 600 C/h, [`SolveError::Soak`] outside 0 to 24 h.
pub fn top(curve: &Curve, final_rate: CelsiusPerHour, soak: Span) -> Result<Celsius, SolveError> {
    // Without a soak this is the end point, and with one it can only be lower.
    let hottest = curve.end_point(final_rate)?.end;
    if !(Span::ZERO..=LONGEST_SOAK).contains(&soak) {
        return Err(SolveError::Soak(soak));
    }
    if soak == Span::ZERO {
        return Ok(hottest);
    }
    Ok(lowest_reaching(0.0, hottest.0, 1.0, |t| heat_work(curve, Celsius(t), final_rate, soak)))
}

/// Where a top temperature comes from, with or without a soak: as sure as the chart is about the
/// steady rate that would end there. Beyond 5 and 600 C/h it is the curve's straight extension.
pub fn basis(curve: &Curve, top: Celsius) -> Basis {
    let (slowest, fastest) = RATE_RANGE_C_PER_H;
    let rate = curve.rate_ending_at(top).0.clamp(slowest, fastest);
    curve.end_point(CelsiusPerHour(rate)).map_or(Basis::Extrapolated, |end| end.basis)
}

/// The schedule with its peak moved so that its target is just down at the end of the soak there.
///
/// # Errors
/// [`SolveError`] when there is no such peak.
pub fn solved(schedule: &Schedule) -> Result<Schedule, SolveError> {
    solved_for(schedule, 1.0)
}

/// The schedule with its peak moved so that the target's heat work at the end of the soak there is
/// `heat_work`.
///
/// # Errors
/// [`SolveError`] when there is no such peak.
pub fn solved_for(schedule: &Schedule, heat_work: f64) -> Result<Schedule, SolveError> {
    let peak = schedule.peak().ok_or(SolveError::NoRamp)?;
    let curve = curve(schedule.target, schedule.family)?;
    let heating = heating_part(schedule, peak);
    let begins = heating.legs()[peak.ramp].from;
    let with_top = |top: f64| moved(&heating, peak, Celsius(top));
    let done = |top: f64| Course::new(&with_top(top), curve).total();
    if done(begins.0) >= heat_work {
        return Err(SolveError::DownBefore { cone: schedule.target, begins });
    }
    let hottest = TEMPERATURE_RANGE_C.1;
    if done(hottest) < heat_work {
        return Err(SolveError::OutOfReach { cone: schedule.target });
    }
    let top = lowest_reaching(begins.0, hottest, heat_work, done);
    Ok(moved(schedule, peak, top))
}

/// The schedule with another final rate or another soak at the peak and the top that gives the
/// same heat work as before. A soak of zero takes the soak out.
///
/// # Errors
/// [`SolveError`] when there is no such top, or the rate or the soak is out of range.
pub fn same_heat_work(
    schedule: &Schedule,
    final_rate: Option<CelsiusPerHour>,
    soak: Option<Span>,
) -> Result<Schedule, SolveError> {
    let peak = schedule.peak().ok_or(SolveError::NoRamp)?;
    let curve = curve(schedule.target, schedule.family)?;
    let heat_work = Course::new(&heating_part(schedule, peak), curve).total();
    solved_for(&finished_otherwise(schedule, final_rate, soak)?, heat_work)
}

/// The schedule with another final rate or soak, its top as it was.
fn finished_otherwise(
    schedule: &Schedule,
    final_rate: Option<CelsiusPerHour>,
    soak: Option<Span>,
) -> Result<Schedule, SolveError> {
    let peak = schedule.peak().ok_or(SolveError::NoRamp)?;
    let mut changed = schedule.clone();
    if let Some(rate) = final_rate {
        let rate = rate.checked(&rate.display(Scale::Celsius))?;
        if let Segment::Ramp { pace, .. } = &mut changed.segments[peak.ramp] {
            *pace = Pace::Rate(rate);
        }
    }
    if let Some(soak) = soak {
        if !(Span::ZERO..=LONGEST_SOAK).contains(&soak) {
            return Err(SolveError::Soak(soak));
        }
        if let Some(old) = peak.soak {
            changed.segments.remove(old);
        }
        if soak > Span::ZERO {
            changed.segments.insert(peak.ramp + 1, Segment::Soak(soak));
        }
    }
    Ok(changed)
}

/// The segments up to the end of the soak at the peak.
fn heating_part(schedule: &Schedule, peak: Peak) -> Schedule {
    let mut heating = schedule.clone();
    heating.segments.truncate(peak.soak.unwrap_or(peak.ramp) + 1);
    heating
}

/// The schedule with its peak at another temperature.
fn moved(schedule: &Schedule, peak: Peak, top: Celsius) -> Schedule {
    let mut changed = schedule.clone();
    if let Segment::Ramp { to, .. } = &mut changed.segments[peak.ramp] {
        *to = top;
    }
    changed
}

/// The lowest temperature between `low` and `high` at which `done`, which rises, is at least
/// `wanted`: within 1e-9 C, on the side where it is reached.
fn lowest_reaching(low: f64, high: f64, wanted: f64, done: impl Fn(f64) -> f64) -> Celsius {
    let (mut below, mut reached) = (low, high);
    while reached - below > BRACKET_C {
        let middle = 0.5 * (below + reached);
        if done(middle) < wanted {
            below = middle;
        } else {
            reached = middle;
        }
    }
    Celsius(reached)
}
