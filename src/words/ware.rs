//! What is said of ware that waits to be fired, and how its words are read.

use super::Dial;
use crate::firing::State;
use crate::units::Moment;
use crate::ware::{Lot, Place, Ware};

pub const NOTHING_WAITS: &str =
    "No ware waits to be fired. Say what does: spyhole lot glaze --contents mugs --fills half";

/// Shares of a kiln as they are said.
const SHARES: [(&str, f64); 9] = [
    ("full", 1.0),
    ("three quarters", 0.75),
    ("two thirds", 0.67),
    ("half", 0.5),
    ("a third", 0.33),
    ("a quarter", 0.25),
    ("quarter", 0.25),
    ("a fifth", 0.2),
    ("a tenth", 0.1),
];

/// Reads how much of a kiln ware fills: `half`, `a third`, `35 %`, `0.35`.
///
/// # Errors
/// What it has to look like.
pub fn read_share(text: &str, (low, high): (f64, f64)) -> Result<f64, String> {
    let plain = text.trim().to_lowercase().replace(['-', '_'], " ");
    let named = SHARES.iter().find(|(name, _)| *name == plain).map(|(_, share)| *share);
    let percent = || Some(plain.strip_suffix('%')?.trim().parse::<f64>().ok()? / 100.0);
    let read = named.or_else(percent).or_else(|| plain.parse().ok());
    read.filter(|share| (low..=high).contains(share)).ok_or_else(|| {
        format!("\"{text}\" does not say how much of a kiln: write it like half, a third or 35%, from 1% to {high} kilns")
    })
}

/// Reads grams of gold: `3.5`, or the bottle before and after, `48.2-44.7`.
///
/// # Errors
/// What it has to look like.
pub fn read_grams(text: &str, (low, high): (f64, f64)) -> Result<f64, String> {
    let grams = |text: &str| text.trim().trim_end_matches('g').trim().parse::<f64>().ok();
    let read = match text.split_once(" to ").or_else(|| text.split_once('-')) {
        // A balance shows no more than thousandths.
        Some((before, after)) => grams(before)
            .zip(grams(after))
            .map(|(before, after)| ((before - after) * 1000.0).round() / 1000.0),
        None => grams(text),
    };
    read.filter(|grams| (low..=high).contains(grams)).ok_or_else(|| {
        format!("\"{text}\" is no amount of gold: write grams like 3.5, or the bottle before and after like 48.2-44.7, from {low} to {high} g")
    })
}

/// `half`, or `35 %`.
fn share(fills: f64) -> String {
    let named = SHARES.iter().find(|(_, share)| (share - fills).abs() < 0.005);
    named.map_or_else(|| format!("{:.0} %", 100.0 * fills), |(name, _)| (*name).to_owned())
}

/// `7: 24 tall mugs for glaze, half of North`.
pub fn lot_phrase(lot: &Lot) -> String {
    let what = if lot.contents.is_empty() { "ware" } else { &lot.contents };
    let pieces = lot.pieces.map(|pieces| format!("{pieces} ")).unwrap_or_default();
    let of = if lot.of_kiln.is_empty() { "a kiln" } else { &lot.of_kiln };
    let fills = lot.fills.map(|fills| format!(", {} of {of}", share(fills))).unwrap_or_default();
    format!("{}: {pieces}{what} for {}{fills}", lot.name, lot.load_type)
}

/// The same with when it is wanted and where it is.
pub fn ware_line(ware: &Ware, now: Moment, dial: &Dial<'_>) -> String {
    let lot = &ware.lot;
    let later = lot.ready.filter(|ready| *ready > now);
    let ready = later.map(|at| format!(", ready {}", dial.time_and_day(at, now)));
    let wanted = lot.wanted.map(|at| format!(", wanted by {}", dial.time_and_day(at, now)));
    let place = match &ware.place {
        Place::Waits => String::new(),
        Place::In { kiln, state: State::Planned, .. } => format!("; packed in {kiln}"),
        Place::In { kiln, state: State::Drawn, .. } => {
            format!("; drawn from {kiln}, outcome not written")
        }
        Place::In { kiln, .. } => format!("; in {kiln}"),
        Place::Done => "; done".into(),
    };
    let fired = match ware.fired.as_slice() {
        [] => String::new(),
        [one] => format!("; firing {one}"),
        several => {
            let all: Vec<String> = several.iter().map(ToString::to_string).collect();
            format!("; firings {}", all.join(", "))
        }
    };
    let phrase = lot_phrase(lot);
    format!("{phrase}{}{}{place}{fired}", ready.unwrap_or_default(), wanted.unwrap_or_default())
}

/// Said of what is in a kiln, was never fired and is not dry yet, before it is lit.
pub fn damp_in<'w>(
    kiln: &'w str,
    ware: &'w [Ware],
    now: Moment,
    dial: &'w Dial<'_>,
) -> impl Iterator<Item = String> + 'w {
    let inside =
        move |ware: &&Ware| matches!(&ware.place, Place::In { kiln: of, .. } if *of == kiln);
    ware.iter().filter(inside).filter_map(move |ware| damp_ware(ware, now, dial))
}

fn damp_ware(ware: &Ware, now: Moment, dial: &Dial<'_>) -> Option<String> {
    let ready = ware.lot.ready.filter(|ready| ware.fired.len() <= 1 && *ready > now)?;
    let (name, at) = (&ware.lot.name, dial.time_and_day(ready, now));
    Some(format!(
        "{name} may still be damp, and damp ware bursts: it was to be dry {at}. Hold it to your cheek: what is cool is damp."
    ))
}

/// The lots that may go into a kiln, above the form that packs it.
pub fn waiting_lots(ware: &[Ware]) -> Option<String> {
    let waits = ware.iter().filter(|ware| ware.waits()).map(|ware| lot_phrase(&ware.lot));
    let all: Vec<String> = waits.collect();
    (!all.is_empty()).then(|| format!("Waiting: {}.", all.join("; ")))
}

/// A lot that was named and cannot be packed.
pub fn no_such_lot(name: &str, ware: &[Ware]) -> String {
    let known: Vec<&str> = ware.iter().filter(|w| w.waits()).map(|w| w.lot.name.as_str()).collect();
    let known = if known.is_empty() { "none".to_owned() } else { known.join(", ") };
    format!("no lot \"{name}\" waits to be fired: name one of those that do ({known}), or none")
}
