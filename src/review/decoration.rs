//! What a piece costs by how it is decorated, at the price of gold of the day and at another: gold, decals, or
//! both.
//!
//! Gold and decals are what was said of the lots, a firing costs what the shop's own loads of the same types
//! did, and a miss as often as they missed. What is not known leaves the sum unknown.

use super::cost::cost;
use super::facts::Facts;
use super::ledger::{Ledger, grouped, ids};
use super::outcomes::{By, outcomes};
use super::prices::{Kind, Prices};
use crate::firing::FiringId;
use crate::kiln::{LoadType, Miss, same_name};
use crate::units::Moment;
use crate::ware::Lot;

/// The names of gold and decals in the list of prices.
const GOLD: &str = "g gold";
const DECAL: &str = "decal";

/// How much dearer gold is taken to be for comparison.
pub const DEARER: f64 = 1.25;

/// The pieces that are decorated in one way; money and amounts are of one piece.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Decoration {
    pub name: &'static str,
    pub pieces: u32,
    pub gold_g: f64,
    pub decals: f64,
    pub gold_price: Option<f64>,
    pub decal: Option<f64>,
    pub firing: Option<f64>,
    /// What misses are to be expected to lose.
    pub lost: Option<f64>,
    pub firings: Vec<FiringId>,
}

/// What one load type costs and loses, a piece.
struct OfType {
    firing: Option<f64>,
    /// The shares under and over, where there are enough to say one.
    missed: Option<[f64; 2]>,
    firings: Vec<FiringId>,
}

/// A row for each way in which ware was decorated.
pub fn decorations(
    ledger: &Ledger,
    (lots, facts): (&[Lot], &[&Facts]),
    prices: &Prices,
    now: Moment,
) -> Vec<Decoration> {
    let ways = [("gold", true, false), ("decals", false, true), ("decals and gold", true, true)];
    let one = |(name, gold, decals): (&'static str, bool, bool)| {
        let its = |lot: &&Lot| (lot.gold_g.is_some(), lot.decals.is_some()) == (gold, decals);
        let lots: Vec<&Lot> = lots.iter().filter(its).filter(|lot| lot.pieces > Some(0)).collect();
        (!lots.is_empty()).then(|| Decoration::of(name, &lots, (ledger, facts), prices, now))
    };
    ways.into_iter().filter_map(one).collect()
}

/// What is not there costs nothing, whatever its price.
fn of_amount(amount: f64, price: Option<f64>) -> Option<f64> {
    if amount == 0.0 { Some(0.0) } else { Some(amount * price?) }
}

impl Decoration {
    fn of(
        name: &'static str,
        lots: &[&Lot],
        (ledger, facts): (&Ledger, &[&Facts]),
        prices: &Prices,
        now: Moment,
    ) -> Decoration {
        let pieces: u32 = lots.iter().filter_map(|lot| lot.pieces).sum();
        let a_piece = |sum: f64| sum / f64::from(pieces);
        let gold_g = a_piece(lots.iter().filter_map(|lot| lot.gold_g).sum());
        let decals = a_piece(lots.iter().filter_map(|lot| lot.decals).map(f64::from).sum());
        let price = |of: &str| prices.at(Kind::Thing, of, now).map(|price| price.value);
        let mut all = Decoration {
            name,
            pieces,
            gold_g,
            decals,
            gold_price: price(GOLD),
            decal: of_amount(decals, price(DECAL)),
            firing: Some(0.0),
            lost: Some(0.0),
            firings: Vec::new(),
        };
        for lot in lots {
            let share = f64::from(lot.pieces.unwrap_or(0)) / f64::from(pieces);
            for name in std::iter::once(&lot.load_type).chain(&lot.then) {
                let of_type = OfType::of(name, (ledger, facts), prices);
                let add = |sum: &mut Option<f64>, cost: Option<f64>| {
                    *sum = sum.zip(cost).map(|(sum, cost)| sum + share * cost);
                };
                let load = ledger.load_types.iter().find(|load| same_name(&load.name, name));
                add(&mut all.lost, load.and_then(|load| of_type.lost(load, lot.worth)));
                add(&mut all.firing, of_type.firing);
                all.firings.extend(of_type.firings);
            }
        }
        all.firings.sort_unstable();
        all.firings.dedup();
        all
    }

    /// What the gold on a piece costs at this price of a gram.
    pub fn gold(&self, price: Option<f64>) -> Option<f64> {
        of_amount(self.gold_g, price)
    }

    /// What a piece costs with gold at this price.
    pub fn total(&self, gold: Option<f64>) -> Option<f64> {
        Some(self.gold(gold)? + self.decal? + self.firing? + self.lost?)
    }
}

impl OfType {
    fn of(name: &str, (ledger, facts): (&Ledger, &[&Facts]), prices: &Prices) -> OfType {
        let named = |facts: &Facts| same_name(&facts.load_type, name).then_some(());
        let its = grouped(facts, named).remove(&()).unwrap_or_default();
        // Gold and decals noted of a firing are in the lots already.
        let known = its.iter().filter_map(|facts| {
            let cost = cost(ledger, facts, prices);
            Some((cost.fuel? + cost.cones? + cost.work?, f64::from(facts.pieces?)))
        });
        let (sum, pieces) = known.fold((0.0, 0.0), |all, one| (all.0 + one.0, all.1 + one.1));
        let came_out = outcomes(ledger.ahead, &its, By::LoadType).into_iter().next();
        let missed = came_out.filter(|one| one.good.says_something());
        OfType {
            firing: (pieces > 0.0).then(|| sum / pieces),
            missed: missed.and_then(|one| Some([one.under.value()?, one.over.value()?])),
            firings: ids(&its),
        }
    }

    /// Lost to misses: the worth of a piece where nothing brings it back, else another firing.
    fn lost(&self, load: &LoadType, worth: Option<f64>) -> Option<f64> {
        let miss = |share: f64, miss: Miss| match miss {
            _ if share == 0.0 => Some(0.0),
            Miss::Lost => Some(share * worth?),
            Miss::FireAgain => Some(share * self.firing?),
        };
        let [under, over] = self.missed?;
        Some(miss(under, load.under)? + miss(over, load.over)?)
    }
}
