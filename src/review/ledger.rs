//! Many firings, digested, in the order they were lit; and the part of them that was asked for.

use std::collections::BTreeMap;

use super::cone_steps::degrees_per_cone;
use super::facts::{Basis, Bounds, Facts};
use super::suggestion::Corrections;
use crate::firing::Lot;
use crate::firing::{Firing, FiringId};
use crate::kiln::{Kiln, LoadType};
use crate::units::{CelsiusPerHour, Moment, Span};

/// Past firings and the shop they belong to.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Ledger {
    pub facts: Vec<Facts>,
    pub kilns: Vec<Kiln>,
    pub load_types: Vec<LoadType>,
    /// Lots of ware as they were said.
    pub lots: Vec<Lot>,
    /// What the shop's wall clock is ahead of UTC; decides to which day and month a firing belongs.
    pub ahead: Span,
}

/// Which firings are asked for; `None` asks for all.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Asked {
    pub since: Option<Moment>,
    /// Up to and not including.
    pub until: Option<Moment>,
    pub kiln: Option<String>,
    pub load_type: Option<String>,
}

impl Ledger {
    /// Digests firings; those never lit are left out.
    pub fn new<'a>(
        firings: impl IntoIterator<Item = &'a Firing>,
        kilns: Vec<Kiln>,
        load_types: Vec<LoadType>,
        corrections: &Corrections,
        ahead: Span,
    ) -> Ledger {
        let digest = |firing| Ledger::digest(firing, corrections);
        let facts = firings.into_iter().filter_map(digest).collect();
        Ledger::from_facts(facts, kilns, load_types, ahead)
    }

    /// Digests one firing, its readings set right by the correction accepted when it was lit;
    /// `None` if it was never lit.
    pub fn digest(firing: &Firing, corrections: &Corrections) -> Option<Facts> {
        Facts::of(firing, corrections.at(&firing.kiln, firing.lit?))
    }

    /// From firings digested one by one.
    pub fn from_facts(
        mut facts: Vec<Facts>,
        kilns: Vec<Kiln>,
        load_types: Vec<LoadType>,
        ahead: Span,
    ) -> Ledger {
        facts.sort_by_key(|facts| (facts.lit, facts.id));
        fill_in_cones(&mut facts);
        Ledger { facts, kilns, load_types, lots: Vec::new(), ahead }
    }

    /// The firings asked for, in the order they were lit.
    pub fn select<'a>(&'a self, asked: &'a Asked) -> Vec<&'a Facts> {
        self.facts.iter().filter(|facts| asked.takes(facts)).collect()
    }

    pub fn kiln(&self, name: &str) -> Option<&Kiln> {
        self.kilns.iter().find(|kiln| same(&kiln.name, name))
    }

    pub fn load_type(&self, name: &str) -> Option<&LoadType> {
        self.load_types.iter().find(|load_type| same(&load_type.name, name))
    }
}

impl Asked {
    fn takes(&self, facts: &Facts) -> bool {
        self.since.is_none_or(|since| facts.lit >= since)
            && self.until.is_none_or(|until| facts.lit < until)
            && self.kiln.as_ref().is_none_or(|kiln| same(kiln, &facts.kiln))
            && self.load_type.as_ref().is_none_or(|load| same(load, &facts.load_type))
    }
}

/// Names are compared without blanks around and without case.
fn same(a: &str, b: &str) -> bool {
    a == b || a.trim().to_lowercase() == b.trim().to_lowercase()
}

/// The firings of each value of `key`, each in the order of the ledger.
pub fn grouped<'a, K: Ord>(
    facts: &[&'a Facts],
    key: impl Fn(&Facts) -> Option<K>,
) -> BTreeMap<K, Vec<&'a Facts>> {
    let mut groups: BTreeMap<K, Vec<&'a Facts>> = BTreeMap::new();
    for facts in facts {
        if let Some(key) = key(facts) {
            groups.entry(key).or_default().push(facts);
        }
    }
    groups
}

pub fn ids(facts: &[&Facts]) -> Vec<FiringId> {
    facts.iter().map(|facts| facts.id).collect()
}

/// The middle value; `None` of nothing.
pub fn median(values: impl IntoIterator<Item = f64>) -> Option<f64> {
    let mut values: Vec<f64> = values.into_iter().collect();
    values.sort_by(f64::total_cmp);
    let (half, odd) = (values.len() / 2, values.len() % 2 == 1);
    match values.len() {
        0 => None,
        _ if odd => Some(values[half]),
        _ => Some(0.5 * (values[half - 1] + values[half])),
    }
}

/// The middle value, and the standard deviation that goes with the middle distance from it: 1.4826 times
/// that distance in a normal distribution. `None` of nothing.
pub fn robust(values: &[f64]) -> Option<(f64, f64)> {
    let middle = median(values.iter().copied())?;
    let apart = median(values.iter().map(|value| (value - middle).abs()))?;
    Some((middle, 1.4826 * apart))
}

/// Firings watched by looks alone get their overshoot in cones from the minutes and the usual
/// climb of their kiln, if it was ever measured.
fn fill_in_cones(facts: &mut [Facts]) {
    let mut climbs: BTreeMap<String, Vec<f64>> = BTreeMap::new();
    for facts in facts.iter() {
        if let Some(climb) = facts.final_climb {
            climbs.entry(facts.kiln.clone()).or_default().push(climb.0);
        }
    }
    let usual: BTreeMap<String, f64> =
        climbs.into_iter().filter_map(|(kiln, climbs)| Some((kiln, median(climbs)?))).collect();
    for facts in facts.iter_mut().filter(|facts| facts.overshoot_cones.is_none()) {
        let climb = facts.final_climb.map(|climb| climb.0).or(usual.get(&facts.kiln).copied());
        if let (Some(over), Some(climb)) = (facts.overshoot_minutes, climb)
            && over.high.is_finite()
        {
            let step_c =
                degrees_per_cone(facts.pack.target, facts.pack.family, CelsiusPerHour(climb));
            let cones = |minutes: f64| minutes / 60.0 * climb / step_c;
            facts.overshoot_cones = Some(Bounds {
                low: cones(over.low),
                best: cones(over.best),
                high: cones(over.high),
            });
            facts.basis = Some(Basis::DropAndClimb);
        }
    }
}
