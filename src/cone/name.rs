//! Cone names, as potters write them and as this program prints them.
//!
//! `06` and `6` are different cones, 224 C apart, so a name is never normalised by dropping a
//! zero. Half cones are printed with a decimal point (`05.5`), which every terminal can show.

use std::fmt;

use serde::{Deserialize, Serialize};

/// The cones of the chart in firing order, coolest first.
const NAMES: [&str; 38] = [
    "022", "021", "020", "019", "018", "017", "016", "015", "014", "013", "012", "011", "010",
    "09", "08", "07", "06", "05.5", "05", "04", "03", "02", "01", "1", "2", "3", "4", "5", "5.5",
    "6", "7", "8", "9", "10", "11", "12", "13", "14",
];

/// A cone of the chart; ordered from the coolest (022) to the hottest (14).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "&'static str")]
pub struct Cone(u8);

/// Why a cone name was refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ConeError {
    #[error("\"{seen}\" is not a cone name: write it like 018, 05.5, 6 or ^6")]
    Unreadable { seen: String },
    #[error(
        "there is no cone {seen} on the chart: it runs 022, 021 ... 02, 01, 1, 2 ... 14, with the half cones 05.5 and 5.5{hint}"
    )]
    NotOnChart { seen: String, hint: String },
}

impl TryFrom<String> for Cone {
    type Error = ConeError;

    fn try_from(name: String) -> Result<Self, ConeError> {
        Cone::parse(&name)
    }
}

impl From<Cone> for &'static str {
    fn from(cone: Cone) -> Self {
        cone.name()
    }
}

impl Cone {
    /// Every cone of the chart, coolest first.
    pub fn all() -> impl DoubleEndedIterator<Item = Cone> + ExactSizeIterator {
        (0..NAMES.len() as u8).map(Cone)
    }

    /// The one way a cone is printed: `018`, `05.5`, `6`.
    pub fn name(self) -> &'static str {
        NAMES[self.index()]
    }

    /// Reads `018`, `05½`, `05.5`, `05 1/2`, `^6`, `cone 6`, `Δ04`.
    ///
    /// # Errors
    /// [`ConeError`] when the text is no cone name, or names a cone the chart does not have.
    pub fn parse(text: &str) -> Result<Self, ConeError> {
        let unreadable = || ConeError::Unreadable { seen: text.trim().into() };
        let lower = text.trim().to_lowercase();
        let bare = lower.strip_prefix("cone").unwrap_or(&lower);
        let bare = bare.trim_start().trim_start_matches(['^', 'δ', '∆', '△']).trim();
        let (digits, half) = match bare.strip_suffix('½').or_else(|| bare.strip_suffix("1/2")) {
            Some(whole) => (whole.trim_end_matches([' ', '-']), true),
            None => match bare.split_once(['.', ',']) {
                Some((whole, "5")) => (whole, true),
                Some((whole, fraction))
                    if !fraction.is_empty() && fraction.bytes().all(|b| b == b'0') =>
                {
                    (whole, false)
                }
                Some(_) => return Err(unreadable()),
                None => (bare, false),
            },
        };
        if digits.is_empty() || digits.len() > 3 || !digits.bytes().all(|b| b.is_ascii_digit()) {
            return Err(unreadable());
        }
        let name = if half { format!("{digits}.5") } else { digits.to_owned() };
        if let Some(index) = NAMES.iter().position(|n| *n == name) {
            return Ok(Cone(index as u8));
        }
        let number = digits.trim_start_matches('0');
        let near: Vec<&str> = NAMES
            .iter()
            .copied()
            .filter(|n| !number.is_empty() && n.trim_start_matches('0') == number)
            .collect();
        let hint = match near.as_slice() {
            [] => String::new(),
            names => format!("; did you mean {}?", names.join(" or ")),
        };
        Err(ConeError::NotOnChart { seen: name, hint })
    }

    /// The cone's place in firing order, counted from 0 for 022.
    pub fn index(self) -> usize {
        usize::from(self.0)
    }

    pub fn is_half(self) -> bool {
        self.name().ends_with(".5")
    }

    /// The cone's place on the scale of whole cones: 022 is 0, each whole cone one more, half
    /// cones between, so that a difference of positions is a distance "in cones".
    pub fn position(self) -> f64 {
        // 05.5 is index 17 and 5.5 index 28: each shifts what follows by half a step for itself
        // and half for its successor.
        let index = f64::from(self.0);
        match self.0 {
            0..17 => index,
            17 => 16.5,
            18..28 => index - 1.0,
            28 => 26.5,
            _ => index - 2.0,
        }
    }

    /// The whole cone one step cooler (the usual guide cone); from a half cone, the whole cone
    /// just below it.
    pub fn cooler(self) -> Option<Cone> {
        Cone::all().rev().find(|c| *c < self && !c.is_half())
    }

    /// The whole cone one step hotter (the usual guard cone).
    pub fn hotter(self) -> Option<Cone> {
        Cone::all().find(|c| *c > self && !c.is_half())
    }
}

impl fmt::Display for Cone {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}
