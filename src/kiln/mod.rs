//! The shop's own kilns and load types, as somebody described them.
//!
//! How a kiln heats and cools is learned from its firings, not stored here.

pub mod names;
pub mod starter;
pub mod typed;

use crate::cone::{Cone, Family};
use crate::units::{Celsius, CelsiusPerHour, Span};

closed! {
    /// What a kiln burns.
    pub enum Fuel {
        Gas => "gas",
        Electric => "electric",
        Wood => "wood",
        Oil => "oil",
    }
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

impl Kiln {
    /// The kiln of this name of which no more is known: it is taken for one fired by gas.
    pub fn undescribed(name: &str) -> Kiln {
        let (name, fuel) = (name.to_owned(), Fuel::Gas);
        Kiln { name, fuel, litres: None, ceiling: None, fastest_climb: None }
    }
}

closed! {
    /// What happens to a load that misses its cone on one side.
    pub enum Miss {
        /// Can be decorated or glazed and fired again.
        FireAgain => "fire_again",
        /// Nothing brings it back.
        Lost => "lost",
    }
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

/// Names of kilns and load types are compared without blanks around and without case.
pub fn same_name(a: &str, b: &str) -> bool {
    a.trim().to_lowercase() == b.trim().to_lowercase()
}
