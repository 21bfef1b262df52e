//! What is said of a change the ledger shows.

use crate::review::calendar::Day;
use crate::review::drift::{Drift, Measure};
use crate::review::table::fixed;
use crate::review::tables::{degrees, letter};
use crate::units::{Scale, Span};

/// `East takes 14 minutes longer to the drop with gold since 2026-05-03: burner, gas pressure, damper
/// or elements?`; nothing where no change was found.
pub fn drifted(drift: &Drift, scale: Scale, ahead: Span) -> Option<String> {
    let (signal, since) = (drift.signal()?, drift.since()?);
    let (kiln, up) = (&drift.kiln, signal.change > 0.0);
    let with = drift.load_type.as_deref().map_or(String::new(), |load| format!(" with {load}"));
    let (size, unit) = (signal.change.abs(), letter(scale));
    let of_degrees = || fixed(degrees(size, scale), 0);
    let minutes = || match fixed(size, 0).as_str() {
        "1" => "1 minute".to_owned(),
        count => format!("{count} minutes"),
    };
    let way = |more, less| if up { more } else { less };
    let change = match drift.measure {
        Measure::TimeToDrop => {
            format!("{kiln} takes {} {} to the drop{with}", minutes(), way("longer", "less"))
        }
        Measure::FinalClimb => {
            let way = way("faster", "slower");
            format!("{kiln} climbs {} {unit}/h {way} at the end{with}", of_degrees())
        }
        Measure::Soak => {
            format!("{kiln} stays {} {} at the top{with}", minutes(), way("longer", "less"))
        }
        Measure::ProbeHigh => {
            let way = way("higher", "lower");
            format!("The probe on {kiln} reads {} {unit} {way} against the cones", of_degrees())
        }
    };
    let (day, look) = (Day::of(since, ahead), drift.measure.where_to_look(up));
    Some(format!("{change} since {day}: {look}"))
}
