//! What is said beside the view through the spyhole.

use super::dial::Dial;
use super::kiln::{chamber_line, curve_title};
use crate::scene::{ConeScene, KilnScene};

pub fn port_title(kiln: &str) -> String {
    format!("{kiln}'s spyhole")
}

/// `target 018`.
pub fn cone_and_role(cone: &ConeScene) -> String {
    format!("{} {}", cone.role, cone.cone.name())
}

/// `bend 31, 25 to 40`: the likely lean in degrees, and the range it is in nine times of ten.
pub fn lean_phrase(cone: &ConeScene) -> String {
    match cone.expected {
        None => "bend not known".into(),
        Some(now) => {
            let (least, most) = now.lean_range_deg;
            if least.round() == most.round() {
                return format!("bend {:.0}", now.lean_deg);
            }
            format!("bend {:.0}, {least:.0} to {most:.0}", now.lean_deg)
        }
    }
}

/// Said of a chamber in which nothing glows, or of which nothing is known.
pub fn dark_line(kiln: &KilnScene, glows: bool) -> Option<String> {
    match (kiln.heat(), glows) {
        (_, true) => None,
        (Some(_), false) => Some("dark: nothing glows yet".into()),
        (None, false) => Some("heat not known".into()),
    }
}

/// `gold, cone 018`.
pub fn load_short(kiln: &KilnScene) -> Option<String> {
    let load_type = kiln.load_type.as_ref()?;
    let cone = kiln.pack.map(|pack| format!(", cone {}", pack.target.name()));
    Some(format!("{load_type}{}", cone.unwrap_or_default()))
}

/// `Heat of Heron: about 712 C, climbing 150 C/h`, as far as it is known.
pub fn heat_title(kiln: &KilnScene, dial: &Dial<'_>) -> String {
    let title = curve_title(&kiln.kiln);
    chamber_line(kiln, dial).map_or(title.clone(), |chamber| format!("{title}: {chamber}"))
}

/// The moment that is, on the heat curve.
pub const NOW: &str = "now";

/// What the numbers beside the port are.
pub const LEAN_KEY: &str = "bend in degrees, 90 is down";

/// What the crosses on the heat curve are.
pub const SET_ASIDE_KEY: &str = "x = reading not believed";
