//! One firing with what its card needs of the shop around it.

use crate::firing::{Firing, FiringId, Shop};
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

/// The usual course of these firings, all of one kiln and load, the youngest first; `None` of too few.
///
/// # Errors
/// Whatever kept one of them from being read.
pub fn usual<E>(
    before: impl Iterator<Item = FiringId>,
    read: impl FnMut(FiringId) -> Result<Firing, E>,
) -> Result<Option<Beside>, E> {
    let past: Vec<Firing> =
        before.take(MOST_FOR_USUAL as usize).map(read).collect::<Result<_, _>>()?;
    let past: Vec<&Firing> = past.iter().filter(|one| one.off.is_some()).collect();
    let what = format!("the usual course of the {} firings before", past.len());
    let enough = past.len() >= FEWEST_FOR_USUAL;
    Ok(enough.then(|| (what, usual_curve(&past, Span::minutes(10)))))
}
