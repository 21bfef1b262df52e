//! The top temperature asked for, beside the one it is compared with.

use crate::cone::{Basis, Cone, Curve, Family, curve};
use crate::schedule::{Schedule, Segment, solve};
use crate::units::{Celsius, CelsiusPerHour, Span};

/// A top that was asked for, beside the one it is compared with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Tops {
    pub(super) cone: Cone,
    pub(super) family: Family,
    pub(super) before: Finish,
    pub(super) after: Finish,
}

/// How a firing ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Finish {
    pub(super) rate: CelsiusPerHour,
    pub(super) soak: Span,
    pub(super) top: Celsius,
    pub(super) basis: Basis,
}

/// The schedule's own finish, and the one solved for.
pub(super) fn solve_schedule(
    schedule: &Schedule,
    final_rate: Option<CelsiusPerHour>,
    soak: Option<Span>,
) -> Result<(Tops, Schedule), solve::SolveError> {
    let solved = if final_rate.is_some() || soak.is_some() {
        solve::same_heat_work(schedule, final_rate, soak)?
    } else {
        solve::solved(schedule)?
    };
    let (before, after) = (finish(schedule)?, finish(&solved)?);
    Ok((Tops { cone: schedule.target, family: schedule.family, before, after }, solved))
}

fn finish(schedule: &Schedule) -> Result<Finish, solve::SolveError> {
    let peak = schedule.peak().ok_or(solve::SolveError::NoRamp)?;
    let ramp = schedule.legs()[peak.ramp];
    let soak = match peak.soak.map(|index| schedule.segments[index]) {
        Some(Segment::Soak(length)) => length,
        _ => Span::ZERO,
    };
    let basis = solve::basis(curve(schedule.target, schedule.family)?, ramp.to);
    Ok(Finish { rate: ramp.rate(), soak, top: ramp.to, basis })
}

/// The chart's end point at this rate beside the top with the soak; or, with another final rate,
/// the top at the first rate beside the top at the other.
pub(super) fn solve_cone(
    curve: &Curve,
    rate: CelsiusPerHour,
    soak: Span,
    final_rate: Option<CelsiusPerHour>,
) -> Result<Tops, solve::SolveError> {
    let finish = |rate, soak| {
        let top = solve::top(curve, rate, soak)?;
        Ok::<_, solve::SolveError>(Finish { rate, soak, top, basis: solve::basis(curve, top) })
    };
    let (before, after) = match final_rate {
        Some(other) => (finish(rate, soak)?, finish(other, soak)?),
        None => (finish(rate, Span::ZERO)?, finish(rate, soak)?),
    };
    Ok(Tops { cone: curve.cone, family: curve.family, before, after })
}
