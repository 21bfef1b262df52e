//! The shop's own kilns and load types, as somebody described them.
//!
//! How a kiln heats and cools is learned from its firings, not stored here.

pub mod starter;
pub mod typed;

use std::fmt;

use crate::cone::{Cone, Family};
use crate::units::{Celsius, CelsiusPerHour, Span};

/// What a kiln burns.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fuel {
    Gas,
    Electric,
    Wood,
    Oil,
}

/// One kiln. Its name identifies it within the shop, whatever the case of its letters.
#[derive(Debug, Clone, PartialEq)]
pub struct Kiln {
    pub name: String,
    pub fuel: Fuel,
    /// Chamber volume in litres, if known.
    pub litres: Option<f64>,
    /// The hottest the maker allows, if known.
    pub ceiling: Option<Celsius>,
    /// The fastest it can climb near the top, if known.
    pub fastest_climb: Option<CelsiusPerHour>,
}

/// What happens to a load that misses its cone on one side.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Miss {
    /// Can be decorated or glazed and fired again.
    FireAgain,
    /// Nothing brings it back.
    Lost,
}

/// A kind of load: gold, decal, glaze, bisque... Its name identifies it within the shop.
#[derive(Debug, Clone, PartialEq)]
pub struct LoadType {
    pub name: String,
    pub target: Cone,
    pub family: Family,
    /// How far under the target the load forgives, in cones, 0 to 5.
    pub under_cones: f64,
    /// How far over the target the load forgives, in cones, 0 to 5.
    pub over_cones: f64,
    pub under: Miss,
    pub over: Miss,
    /// From lit to the drop, as a rule; `None` when nobody knows yet.
    pub usual_length: Option<Span>,
    /// Short cautions shown once when such a load is lit.
    pub cautions: Vec<String>,
}

impl Fuel {
    pub const ALL: [Fuel; 4] = [Fuel::Gas, Fuel::Electric, Fuel::Wood, Fuel::Oil];

    pub fn name(self) -> &'static str {
        match self {
            Fuel::Gas => "gas",
            Fuel::Electric => "electric",
            Fuel::Wood => "wood",
            Fuel::Oil => "oil",
        }
    }
}

impl Miss {
    pub const ALL: [Miss; 2] = [Miss::FireAgain, Miss::Lost];

    /// The name in records: `fire_again` or `lost`.
    pub fn name(self) -> &'static str {
        match self {
            Miss::FireAgain => "fire_again",
            Miss::Lost => "lost",
        }
    }
}

impl fmt::Display for Miss {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Miss::FireAgain => "fire again",
            Miss::Lost => "lost",
        })
    }
}

impl fmt::Display for Fuel {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

/// Names of kilns and load types are compared without blanks around and without case.
pub fn same_name(a: &str, b: &str) -> bool {
    a.trim().to_lowercase() == b.trim().to_lowercase()
}
