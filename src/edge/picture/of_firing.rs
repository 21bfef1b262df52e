//! One firing with what its card needs of the shop around it.

use crate::firing::{Firing, Shop};
use crate::review::calendar::clock;
use crate::review::cost::{Cost, cost};
use crate::review::prices::Prices;
use crate::review::{Facts, Ledger};
use crate::units::{Celsius, Moment, Scale, Span};

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

/// Everything the card shows.
#[derive(Debug, Clone, Copy)]
pub struct Card<'a> {
    pub one: &'a OneFiring,
    pub scale: Scale,
    /// Another course laid under this one's, and what it is.
    pub beside: Option<&'a Beside>,
    /// Which events of the firing could not be read.
    pub left_out: Option<&'a str>,
}

impl Card<'_> {
    pub(super) fn title(&self) -> String {
        let facts = &self.one.facts;
        format!("Firing {}: {} in {}", facts.id, facts.load_type, facts.kiln)
    }

    pub(super) fn clock(&self, at: Moment) -> String {
        clock(at, self.one.ledger.ahead)
    }
}
