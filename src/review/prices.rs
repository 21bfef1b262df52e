//! What things cost, as dated values: a price holds from its day until the next one.

use crate::units::Moment;

closed! {
    /// What a value of the list says.
    #[derive(Hash)]
    pub enum Kind {
        /// Money for one unit of a fuel; `of` is the fuel and the unit, like `gas m3`.
        Fuel => "fuel",
        /// What a kiln takes at full in an hour; `of` is the kiln, with the unit of its fuel.
        Draw => "draw",
        /// The share of the time, 0 to 1, for which a kiln takes it; `of` is the kiln.
        Duty => "duty",
        /// Money for one of a thing; `of` is its name as notes have it, like `g gold` or `decal`.
        Thing => "thing",
        /// Money for one cone.
        Cone => "cone",
        /// Money for an hour's work.
        Hour => "hour",
        /// Minutes of work to pack and draw one load; `of` is the load type, or empty for any.
        Hands => "hands",
    }
}

/// One dated value.
#[derive(Debug, Clone, PartialEq)]
pub struct Price {
    pub from: Moment,
    pub kind: Kind,
    pub of: String,
    pub value: f64,
    /// The unit of a [`Kind::Draw`]; empty for the others.
    pub unit: String,
}

/// Dated values, in the order of time.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Prices {
    prices: Vec<Price>,
}

impl Kind {
    /// The values that make sense, both ends included.
    pub fn range(self) -> (f64, f64) {
        match self {
            Kind::Duty => (0.0, 1.0),
            Kind::Hands => (0.0, 10_000.0),
            _ => (0.0, 1_000_000.0),
        }
    }
}

impl Prices {
    pub fn new(mut prices: Vec<Price>) -> Prices {
        prices.sort_by_key(|price| price.from);
        Prices { prices }
    }

    /// The value that held at that moment.
    pub fn at(&self, kind: Kind, of: &str, moment: Moment) -> Option<&Price> {
        let named = |price: &&Price| price.kind == kind && same(&price.of, of);
        self.prices.iter().rev().filter(|price| price.from <= moment).find(named)
    }

    pub fn is_empty(&self) -> bool {
        self.prices.is_empty()
    }
}

fn same(a: &str, b: &str) -> bool {
    a.trim().eq_ignore_ascii_case(b.trim())
}
