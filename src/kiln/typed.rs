//! What a person may say of a kiln or a load type.

use crate::text;

/// Cones either side of the target that a load may forgive.
const TOLERANCE_CONES: (f64, f64) = (0.0, 5.0);
const LITRES: (f64, f64) = (1.0, 100_000.0);

/// Why something said of a kiln or a load type cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Unfit {
    #[error("the name is empty: give one, for example North")]
    Name,
    #[error(transparent)]
    Text(#[from] text::Unfit),
    #[error(
        "volume {seen} litres is outside 1 to 100000: give the volume of the chamber in litres"
    )]
    Litres { seen: f64 },
    #[error("volume \"{seen}\" is not a number of litres: write it like 250")]
    NoLitres { seen: String },
    #[error("tolerance \"{seen}\" is not a number of cones from 0 to 5: write it like 0.5")]
    Tolerance { seen: String },
}

/// A name that says something.
///
/// # Errors
/// [`Unfit::Name`] and [`Unfit::Text`].
pub fn name(text: &str) -> Result<String, Unfit> {
    match text.trim() {
        "" => Err(Unfit::Name),
        name => Ok(text::name(name)?.to_owned()),
    }
}

/// A chamber's volume, 1 to 100,000 litres.
///
/// # Errors
/// [`Unfit::Litres`].
pub fn litres(litres: f64) -> Result<f64, Unfit> {
    let (least, most) = LITRES;
    if (least..=most).contains(&litres) { Ok(litres) } else { Err(Unfit::Litres { seen: litres }) }
}

/// A chamber's volume as it was typed: `250`.
///
/// # Errors
/// [`Unfit::NoLitres`] and [`Unfit::Litres`].
pub fn read_litres(text: &str) -> Result<f64, Unfit> {
    let number = text.trim().parse().map_err(|_| Unfit::NoLitres { seen: text.into() })?;
    litres(number)
}

/// How far a load forgives, in cones, 0 to 5.
///
/// # Errors
/// [`Unfit::Tolerance`].
pub fn tolerance(text: &str) -> Result<f64, Unfit> {
    let (least, most) = TOLERANCE_CONES;
    let number = text.trim().parse().ok().filter(|cones| (least..=most).contains(cones));
    number.ok_or_else(|| Unfit::Tolerance { seen: text.into() })
}
