//! What is said of safety, at the step it is about.

use crate::kiln::Fuel;

/// Said where somebody is sent to the spyhole. Common practice, no source.
pub const CAUTION_LOOK: &str =
    "Wear shaded glasses at the spyhole and keep hands and face out of its draught.";

/// Said where a kiln is to be shut off. Common practice, no source.
pub fn caution_off(fuel: Fuel) -> &'static str {
    if fuel == Fuel::Electric { CAUTION_OFF_ELECTRIC } else { CAUTION_OFF }
}

pub(super) const CAUTION_OFF: &str = "Shut off as the kiln maker's manual says. Never relight a hot gas kiln without purging it, and keep the room ventilated.";
pub(super) const CAUTION_OFF_ELECTRIC: &str =
    "Switch off as the kiln maker's manual says, and keep the room ventilated.";

/// Said where a kiln that was given up is lit again. Common practice, no source.
pub fn caution_relight(fuel: Fuel) -> &'static str {
    if fuel == Fuel::Electric { CAUTION_SWITCH_ON } else { CAUTION_RELIGHT }
}

const CAUTION_RELIGHT: &str = "Never relight a hot gas kiln without purging it: do as the kiln maker's manual says, and keep the room ventilated.";
const CAUTION_SWITCH_ON: &str =
    "Switch on again as the kiln maker's manual says, and keep the room ventilated.";

/// Said where a kiln is to be drawn. Common practice, no source.
pub const CAUTION_DRAW: &str = "Open and unload as the kiln maker's manual says: hot ware can crack, and hot shelves burn hands.";

/// Said where somebody might rely on the program alone.
pub const CAUTION_ALONE: &str =
    "Spyhole only advises; the cone decides. Spyhole is not a safety device.";
