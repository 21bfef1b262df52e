//! What a person may say of a kiln or a load type.

use crate::text;

/// Cones either side of the target that a load may forgive.
const TOLERANCE_CONES: (f64, f64) = (0.0, 5.0);
const LITRES: (f64, f64) = (1.0, 100_000.0);

/// Why something said of a kiln or a load type cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{0}")]
pub struct Unfit(String);

/// A name that says something.
///
/// # Errors
/// [`Unfit`].
pub fn name(text: &str) -> Result<String, Unfit> {
    match text.trim() {
        "" => Err(Unfit("the name is empty: give one, for example North".into())),
        name => text::name(name).map(str::to_owned).map_err(|error| Unfit(error.to_string())),
    }
}

/// A chamber's volume, 1 to 100,000 litres.
///
/// # Errors
/// [`Unfit`].
pub fn litres(litres: f64) -> Result<f64, Unfit> {
    let (least, most) = LITRES;
    if (least..=most).contains(&litres) {
        return Ok(litres);
    }
    Err(Unfit(format!(
        "volume {litres} litres is outside 1 to 100000: give the volume of the chamber in litres"
    )))
}

/// A chamber's volume as it was typed: `250`.
///
/// # Errors
/// [`Unfit`].
pub fn read_litres(text: &str) -> Result<f64, Unfit> {
    let no_number =
        |_| Unfit(format!("volume \"{text}\" is not a number of litres: write it like 250"));
    litres(text.trim().parse().map_err(no_number)?)
}

/// How far a load forgives, in cones, 0 to 5.
///
/// # Errors
/// [`Unfit`].
pub fn tolerance(text: &str) -> Result<f64, Unfit> {
    let (least, most) = TOLERANCE_CONES;
    let number = text.trim().parse().ok().filter(|cones| (least..=most).contains(cones));
    let why = "is not a number of cones from 0 to 5: write it like 0.5";
    number.ok_or_else(|| Unfit(format!("tolerance \"{text}\" {why}")))
}
