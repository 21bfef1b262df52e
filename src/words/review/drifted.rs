//! What is said of a change the ledger shows.

use crate::review::calendar;
use crate::review::drift::{Drift, Measure};
use crate::review::table::fixed;
use crate::units::{Scale, Span};

/// `The probe on North was changed or moved on 2026-05-03; its error is learned again.`
pub fn begun_anew(drift: &Drift, ahead: Span) -> Option<String> {
    let (kiln, day) = (&drift.kiln, calendar::day(drift.anew?, ahead));
    Some(format!("The probe on {kiln} was changed or moved on {day}; its error is learned again."))
}

/// `East takes 14 min longer to the drop with gold since 2026-05-03 (+- 4 min): burner, gas pressure,
/// damper or elements?`; nothing where no change was found.
pub fn drifted(drift: &Drift, scale: Scale, ahead: Span) -> Option<String> {
    let (signal, since) = (drift.signal()?, drift.since()?);
    let (kiln, up) = (&drift.kiln, signal.change > 0.0);
    let with = drift.load_type.as_deref().map_or(String::new(), |load| format!(" with {load}"));
    let unit = drift.measure.unit(scale);
    let by = fixed(drift.measure.shown(signal.change.abs(), scale), 0);
    let about = fixed(drift.measure.shown(signal.plus_or_minus, scale), 0);
    let way = |more, less| if up { more } else { less };
    let change = match drift.measure {
        Measure::TimeToDrop => {
            format!("{kiln} takes {by} min {} to the drop{with}", way("longer", "less"))
        }
        Measure::FinalClimb => {
            format!("{kiln} climbs {by} {unit} {} at the end{with}", way("faster", "slower"))
        }
        Measure::Soak => {
            format!("{kiln} stays {by} min {} at its top{with}", way("longer", "less"))
        }
        Measure::ProbeHigh => {
            let way = way("higher", "lower");
            format!("The probe on {kiln} reads {by} {unit} {way} against the cones")
        }
        Measure::LetsGo => {
            format!("Mould {kiln} lets go {by} % {} than expected of it", way("later", "sooner"))
        }
    };
    let (day, look) = (calendar::day(since, ahead), drift.measure.where_to_look(up));
    Some(format!("{change} since {day} (+- {about} {unit}): {look}"))
}
