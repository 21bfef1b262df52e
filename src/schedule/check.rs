//! Going through a schedule with the trade's cautions and the kiln's limits.

use super::caution::{Caution, Hazard, Rule};
use super::malformed::Malformed;
use super::simulate::{Course, PLANNED_DOWN};
use super::{Leg, Schedule, Ware};
use crate::cone::{Basis, Curve, curve};
use crate::firing::event::ConePack;
use crate::kiln::Kiln;
use crate::units::{Celsius, CelsiusPerHour, RATE_RANGE_C_PER_H, Span};

/// How long before the end of the soak the target may be down without remark. Tops are set in whole
/// degrees, and a degree is worth a few minutes.
pub const EARLY_DROP_ALLOWED: Span = Span::minutes(5);

/// The last stretch before the top, over which one rate decides, C.
const LAST_STRETCH_C: f64 = 100.0;

/// Rates that differ by less than this are one rate.
const SAME_RATE: f64 = 0.05;

/// Less of a band than this is only its edge, C.
const EDGE_C: f64 = 0.5;

/// What a kiln can do, as far as it is known.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Limits {
    pub ceiling: Option<Celsius>,
    pub fastest: Option<CelsiusPerHour>,
}

impl From<&Kiln> for Limits {
    fn from(kiln: &Kiln) -> Self {
        Limits { ceiling: kiln.ceiling, fastest: kiln.fastest_climb }
    }
}

impl Ware {
    /// The fastest usual pace through a band; `None` where it does not matter for this ware. Common
    /// practice, no source, except for the fall through 573 C (see [`Hazard`]).
    pub fn usual_pace(self, hazard: Hazard) -> Option<CelsiusPerHour> {
        let fired = !matches!(self, Ware::RawCast | Ware::RawGlazed);
        let overglaze = matches!(self, Ware::ChinaPaint | Ware::Decals | Ware::LustreAndGold);
        let c_per_h = match hazard {
            Hazard::DampWare if overglaze => return None,
            Hazard::DampWare if fired => 120.0,
            Hazard::DampWare => 60.0,
            Hazard::CombinedWater | Hazard::CarbonBurnOut if fired => return None,
            Hazard::CombinedWater => 100.0,
            // Under a raw glaze the body has to be clean before the glaze seals it.
            Hazard::CarbonBurnOut if self == Ware::RawGlazed => 100.0,
            Hazard::CarbonBurnOut => 150.0,
            Hazard::QuartzUp if fired => 200.0,
            Hazard::QuartzUp => 100.0,
            Hazard::OrganicMedia if !overglaze => return None,
            Hazard::OrganicMedia if self == Ware::ChinaPaint => 200.0,
            Hazard::OrganicMedia => 150.0,
            // Glaze and body have been through it once, and glazed earthenware may dunt.
            Hazard::CristobaliteUp if !overglaze => return None,
            Hazard::CristobaliteUp => 150.0,
            Hazard::QuartzDown => 50.0,
            Hazard::CristobaliteDown => 100.0,
        };
        Some(CelsiusPerHour(c_per_h))
    }

    /// Where it gives off fumes worth a warning, if it does: media of decorations burn off, and carbon
    /// monoxide and sulfur leave raw clay from its combined water on.
    fn fumes(self) -> Option<(Celsius, Celsius)> {
        match self {
            Ware::ChinaPaint | Ware::Decals | Ware::LustreAndGold => {
                Some(Hazard::OrganicMedia.band())
            }
            Ware::RawCast | Ware::RawGlazed => {
                Some((Hazard::CombinedWater.band().0, Hazard::CarbonBurnOut.band().1))
            }
            Ware::GlazedBisque => None,
        }
    }
}

/// Every caution about a schedule, the gravest first, then in the order of the segments.
///
/// # Errors
/// [`Malformed`] when no kiln could follow it.
pub fn check(schedule: &Schedule, limits: &Limits) -> Result<Vec<Caution>, Malformed> {
    schedule.well_formed()?;
    let curve = curve(schedule.target, schedule.family)?;
    let legs = schedule.legs();
    let mut cautions = Vec::new();
    kiln_limits(&legs, limits, &mut cautions);
    paces(schedule.ware, &legs, &mut cautions);
    fumes(schedule, &mut cautions);
    final_rate(schedule, &legs, curve, &mut cautions);
    cones(schedule, curve, &mut cautions)?;
    cooling(schedule, &legs, &mut cautions);
    cautions.sort_by_key(|caution| {
        (std::cmp::Reverse(caution.rule.severity()), caution.segment.unwrap_or(usize::MAX))
    });
    Ok(cautions)
}

fn at(leg: &Leg, rule: Rule) -> Caution {
    Caution { rule, segment: Some(leg.segment) }
}

fn overall(rule: Rule) -> Caution {
    Caution { rule, segment: None }
}

fn kiln_limits(legs: &[Leg], limits: &Limits, cautions: &mut Vec<Caution>) {
    for leg in legs.iter().filter(|leg| leg.to > leg.from) {
        if let Some(ceiling) = limits.ceiling
            && leg.to > ceiling
        {
            cautions.push(at(leg, Rule::AboveCeiling { top: leg.to, ceiling }));
        }
        if let Some(fastest) = limits.fastest
            && leg.rate().0 > fastest.0 * (1.0 + 1e-6)
        {
            cautions.push(at(leg, Rule::FasterThanKiln { rate: leg.rate(), fastest }));
        }
    }
}

fn paces(ware: Ware, legs: &[Leg], cautions: &mut Vec<Caution>) {
    for hazard in Hazard::ALL {
        let Some(limit) = ware.usual_pace(hazard) else { continue };
        let (low, high) = hazard.band();
        for leg in legs {
            let (cooler, hotter) = (leg.from.0.min(leg.to.0), leg.from.0.max(leg.to.0));
            let through = hotter.min(high.0) - cooler.max(low.0);
            let rate = CelsiusPerHour(leg.rate().0.abs());
            let belongs = hazard.on_cooling() == (leg.to < leg.from);
            // A leg's length is whole milliseconds, so its rate is off by parts in a million.
            if belongs && through > EDGE_C && rate.0 > limit.0 * (1.0 + 1e-6) {
                cautions.push(at(leg, Rule::TooFast { hazard, rate, limit }));
            }
        }
    }
}

fn fumes(schedule: &Schedule, cautions: &mut Vec<Caution>) {
    let Some((begins, up_to)) = schedule.ware.fumes() else { return };
    let up_to = Celsius(up_to.0.min(schedule.top().0));
    let mut entries: Vec<(f64, f64)> =
        schedule.ventilate.iter().map(|entry| (entry.from.0, entry.to.0)).collect();
    entries.sort_by(|a, b| a.0.total_cmp(&b.0));
    let aired = entries
        .into_iter()
        .fold(begins.0, |aired, (from, to)| if from <= aired { aired.max(to) } else { aired });
    cautions.push(overall(if aired >= up_to.0 {
        Rule::Fumes { up_to }
    } else {
        Rule::Unventilated { up_to }
    }));
}

fn final_rate(schedule: &Schedule, legs: &[Leg], curve: &Curve, cautions: &mut Vec<Caution>) {
    let Some(peak) = schedule.peak() else { return };
    let top = legs[peak.ramp].to.0;
    let last_stretch: Vec<f64> = legs[..=peak.ramp]
        .iter()
        .filter(|leg| leg.from.0.max(leg.to.0) > top - LAST_STRETCH_C + EDGE_C)
        .map(|leg| leg.rate().0)
        .collect();
    let slowest = last_stretch.iter().copied().fold(f64::INFINITY, f64::min);
    let fastest = last_stretch.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if slowest < fastest * (1.0 - SAME_RATE) {
        let (slowest, fastest) = (CelsiusPerHour(slowest), CelsiusPerHour(fastest));
        cautions.push(at(&legs[peak.ramp], Rule::RateChangesNearTop { slowest, fastest }));
    }
    let rate = legs[peak.ramp].rate();
    if let Ok(end) = curve.end_point(rate)
        && matches!(end.basis, Basis::Extrapolated | Basis::Estimated)
    {
        let rule = Rule::RateOffChart { target: schedule.target, rate, basis: end.basis };
        cautions.push(at(&legs[peak.ramp], rule));
    }
}

fn cones(
    schedule: &Schedule,
    target_curve: &'static Curve,
    cautions: &mut Vec<Caution>,
) -> Result<(), Malformed> {
    let (target, top) = (schedule.target, schedule.top());
    let hottest = target_curve.temperature_ending(CelsiusPerHour(RATE_RANGE_C_PER_H.1));
    if top > hottest {
        cautions.push(overall(Rule::AboveChart { target, top, hottest }));
    }
    let course = Course::new(schedule, target_curve);
    match course.reaches(PLANNED_DOWN) {
        None => {
            cautions.push(overall(Rule::NeverDrops { target, heat_work: course.total() }));
        }
        Some((down, _)) => {
            let early = Span(schedule.heating_ends().0 - down.0);
            if early > EARLY_DROP_ALLOWED {
                cautions.push(overall(Rule::PastDrop { target, early }));
            }
        }
    }
    if let Some(guard) = ConePack::usual(target, schedule.family).guard
        && let Some((at, _)) =
            Course::new(schedule, curve(guard, schedule.family)?).reaches(PLANNED_DOWN)
    {
        cautions.push(overall(Rule::GuardDown { guard, at }));
    }
    Ok(())
}

fn cooling(schedule: &Schedule, legs: &[Leg], cautions: &mut Vec<Caution>) {
    let end = legs.last().map_or(schedule.start, |leg| leg.to);
    if end > Hazard::QuartzDown.band().1 {
        cautions.push(overall(Rule::FreeCooling));
    }
    cautions.push(overall(Rule::Opening));
}
