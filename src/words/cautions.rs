//! What the trade would say about a schedule, in the scale of whoever reads it.

use crate::kiln::starter;
use crate::schedule::caution::{
    CRACKED_BELOW, CRISTOBALITE_INVERSION, Hazard, QUARTZ_INVERSION, Rule, UNLOADED_BELOW,
};
use crate::units::{Celsius, CelsiusPerHour, RATE_RANGE_C_PER_H, Scale};

/// A finding as a sentence.
pub fn caution(rule: &Rule, scale: Scale) -> String {
    let t = |t: Celsius| t.display(scale);
    let r = |rate: CelsiusPerHour| rate.display(scale);
    match *rule {
        Rule::TooFast { hazard, rate, limit } => {
            let (low, high) = hazard.band();
            let (from, to) = if hazard.on_cooling() { (high, low) } else { (low, high) };
            format!(
                "{} between {} and {}, where up to {} is usual: {}.",
                r(rate),
                t(from),
                t(to),
                r(limit),
                advice(hazard, scale)
            )
        }
        Rule::Unventilated { up_to } => format!(
            "Fumes come off up to about {}, and the schedule does not say to ventilate all the way: add it under ventilate, open the vents and air the room.",
            t(up_to)
        ),
        Rule::Fumes { up_to } => format!(
            "Fumes come off up to about {}: ventilate the kiln and the room, and do not work beside it. The maker's data sheet comes first.",
            t(up_to)
        ),
        Rule::AboveCeiling { top, ceiling } => format!(
            "The top of {} is above the kiln's ceiling of {}: use another kiln or a cooler cone.",
            t(top),
            t(ceiling)
        ),
        Rule::FasterThanKiln { rate, fastest } => format!(
            "{} is faster than the kiln can climb ({}): the real firing will be longer than planned; slow the ramp and solve again.",
            r(rate),
            r(fastest)
        ),
        Rule::NeverDrops { target, heat_work } => format!(
            "Cone {target} is not down at the end: {:.0} % of its heat work is done. Raise the top or lengthen the soak; solving gives the top.",
            (heat_work * 100.0).floor()
        ),
        Rule::PastDrop { target, early } => format!(
            "Cone {target} is down {early} before the soak at the top ends: shut off at the cone, or solve for a lower top."
        ),
        Rule::AboveChart { target, top, hottest } => format!(
            "The top temperature of {} is hotter than cone {target} needs however fast it climbs ({} at {}): check it and the cone, zeros included (05 is not 5).",
            t(top),
            t(hottest),
            r(CelsiusPerHour(RATE_RANGE_C_PER_H.1))
        ),
        Rule::RateChangesNearTop { slowest, fastest } => format!(
            "The pace changes between {} and {} within the last {} before the top: a chart temperature for one rate does not hold; go by the heat work.",
            r(slowest),
            r(fastest),
            last_hundred(scale)
        ),
        Rule::RateOffChart { target, rate, basis } => format!(
            "The chart has no rates around {} for cone {target}: the top is {}, so trust the cone before the number.",
            r(rate),
            basis.name()
        ),
        Rule::GuardDown { guard, at } => format!(
            "The guard cone {guard} goes down too, {at} after lighting: this is a full cone over; shorten the soak or lower the top."
        ),
        Rule::FreeCooling => format!(
            "The kiln cools by itself through {}, where quartz shrinks: keep it closed until it is well below.",
            t(QUARTZ_INVERSION)
        ),
        Rule::Opening => format!(
            "Do not open the kiln even a crack above about {}; unload it below about {}.",
            t(CRACKED_BELOW),
            t(UNLOADED_BELOW)
        ),
    }
}

/// What happens there and what to do, as the end of a sentence.
fn advice(hazard: Hazard, scale: Scale) -> String {
    let quartz = QUARTZ_INVERSION.display(scale);
    match hazard {
        Hazard::DampWare => {
            "damp ware bursts from steam; climb slower or hold below boiling until it is dry".into()
        }
        Hazard::CombinedWater => {
            "the water bound in the clay is leaving; climb slower or the ware may crack".into()
        }
        Hazard::QuartzUp => format!("quartz grows at {quartz}; climb slower or the ware may crack"),
        Hazard::QuartzDown => {
            format!("quartz shrinks at {quartz}; cool slower or the ware may dunt")
        }
        Hazard::CarbonBurnOut => {
            "carbon and sulfur have no time to burn out; climb slower with air in the kiln or the body may bloat and the glaze pinhole".into()
        }
        Hazard::OrganicMedia => {
            "oils and covercoats boil instead of burning off; climb slower or the decoration may blister".into()
        }
        Hazard::CristobaliteUp => format!(
            "cristobalite grows near {}; climb slower or ware fired before may dunt",
            CRISTOBALITE_INVERSION.display(scale)
        ),
        Hazard::CristobaliteDown => format!(
            "cristobalite shrinks near {}; cool slower or the ware may dunt",
            CRISTOBALITE_INVERSION.display(scale)
        ),
    }
}

/// A caution of a load type. What a shop wrote itself is said as it wrote it.
pub fn load_caution(caution: &str, scale: Scale) -> String {
    let shipped = starter::LIMITS.iter().find(|(shipped, _)| *shipped == caution);
    shipped.map_or_else(
        || caution.to_owned(),
        |(_, limit)| caution.replace(&limit.display(Scale::Celsius), &limit.display(scale)),
    )
}

/// The stretch below the top over which a climb decides a cone's end temperature.
pub fn last_hundred(scale: Scale) -> String {
    Celsius::display_step(100.0, scale)
}
