//! One firing with what its card needs of the shop around it.

use crate::firing::{Firing, Shop};
use crate::review::cost::{Cost, cost};
use crate::review::nearest::usual_curve;
use crate::review::prices::Prices;
use crate::review::{Facts, Ledger};
use crate::units::{Celsius, Span};

/// The usual course is drawn from at least and at most so many firings before this one.
pub const FEWEST_FOR_USUAL: usize = 3;
pub const MOST_FOR_USUAL: u32 = 30;

/// A course to be drawn under another, and what it is.
pub type Beside = (String, Vec<(Span, Celsius)>);

/// A firing, digested and reckoned.
#[derive(Debug, Clone)]
pub struct OneFiring {
    pub firing: Firing,
    /// A ledger of this firing alone.
    pub ledger: Ledger,
    pub facts: Facts,
    pub cost: Cost,
}

impl OneFiring {
    /// `None` if it was never lit. `ahead` is what the shop's wall clock is ahead of UTC.
    pub fn of(firing: Firing, shop: Shop, prices: &Prices, ahead: Span) -> Option<OneFiring> {
        let Shop { kilns, load_types, corrections, .. } = shop;
        let ledger = Ledger::new([&firing], kilns, load_types, &corrections, ahead);
        let facts = ledger.facts.first()?.clone();
        let cost = cost(&ledger, &facts, prices);
        Some(OneFiring { firing, ledger, facts, cost })
    }
}

/// The usual course of the firings before, all of one kiln and load; `None` of too few.
pub fn usual(past: &[Firing]) -> Option<Beside> {
    if past.len() < FEWEST_FOR_USUAL {
        return None;
    }
    let course = usual_curve(&past.iter().collect::<Vec<_>>(), Span::minutes(10));
    Some((format!("the usual course of the {} firings before", past.len()), course))
}
