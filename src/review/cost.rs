//! What a load costs: fuel, cones, decals and metal, time; and what a miss loses.
//!
//! Fuel comes from two meter readings if there are any, or else from what the kiln draws, for how
//! long, and at which share of full. What is not known is left out of a total and named, never taken as 0.

use super::facts::Facts;
use super::ledger::{Ledger, ids};
use super::outcomes::By;
use super::prices::{Kind, Prices};
use crate::firing::{FiringId, Verdict};
use crate::kiln::{Fuel, LoadType, Miss};

/// The walk and the look, minutes of work (a guess).
pub const MINUTES_A_LOOK: f64 = 4.0;

/// One firing's cost in the shop's own money.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Cost {
    pub fuel: Option<f64>,
    pub cones: Option<f64>,
    pub things: Option<f64>,
    pub work: Option<f64>,
    /// Sum of what is known.
    pub total: f64,
    /// What the outcome lost, as noted or reckoned; nothing for a good load.
    pub lost: Option<Lost>,
    /// How the fuel was reckoned.
    pub fuel_from: Option<FuelFrom>,
    /// What could not be reckoned.
    pub unknown: Vec<&'static str>,
}

/// What outcomes lost, in the shop's own money.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Lost {
    pub under: f64,
    pub over: f64,
    /// By breakage, or noted of a load that was no miss.
    pub broken: f64,
}

closed! {
    /// What a firing's fuel is known from.
    #[derive(Hash)]
    pub enum FuelFrom {
        Meter => "two meter readings",
        DrawAndShare => "what the kiln draws, its hours and its settings",
        DrawAndDuty => "what the kiln draws, its hours and its duty",
    }
}

/// Many firings together.
#[derive(Debug, Clone, PartialEq)]
pub struct Costs {
    pub group: String,
    pub loads: usize,
    pub pieces: Option<u32>,
    pub fuel: f64,
    pub cones: f64,
    pub things: f64,
    pub work: f64,
    pub total: f64,
    /// The total over the loads whose pieces were counted, for each of these pieces.
    pub per_piece: Option<f64>,
    /// The total over the loads whose good pieces were counted, for each of these.
    pub per_good_piece: Option<f64>,
    pub lost: Lost,
    /// How many loads have something unknown, and what.
    pub incomplete: usize,
    pub firings: Vec<FiringId>,
}

/// What one firing cost.
pub fn cost(ledger: &Ledger, facts: &Facts, prices: &Prices) -> Cost {
    let at = facts.lit;
    let mut cost = Cost::default();
    if let Some((fuel, from)) = fuel(ledger, facts, prices) {
        (cost.fuel, cost.fuel_from) = (Some(fuel), Some(from));
    }
    cost.cones =
        prices.at(Kind::Cone, "", at).map(|price| price.value * facts.pack.cones().count() as f64);
    cost.things = facts
        .consumption
        .used
        .iter()
        .map(|(amount, name)| Some(amount * prices.at(Kind::Thing, name, at)?.value))
        .sum();
    let hands =
        prices.at(Kind::Hands, &facts.load_type, at).or_else(|| prices.at(Kind::Hands, "", at));
    cost.work = prices.at(Kind::Hour, "", at).zip(hands).map(|(hour, hands)| {
        hour.value * (hands.value + MINUTES_A_LOOK * facts.looks as f64) / 60.0
    });
    for (part, name) in [
        (cost.fuel, "fuel"),
        (cost.cones, "cones"),
        (cost.things, "materials"),
        (cost.work, "work"),
    ] {
        match part {
            Some(value) => cost.total += value,
            None => cost.unknown.push(name),
        }
    }
    cost.lost = lost(ledger, facts, cost.total);
    if cost.lost.is_none() {
        cost.unknown.push("loss");
    }
    cost
}

fn fuel(ledger: &Ledger, facts: &Facts, prices: &Prices) -> Option<(f64, FuelFrom)> {
    let (at, kiln) = (facts.lit, ledger.kiln(&facts.kiln)?);
    let price = |unit: &str| {
        let of = format!("{} {unit}", kiln.fuel.name());
        prices.at(Kind::Fuel, &of, at).map(|price| price.value)
    };
    if let Some((amount, unit)) = &facts.consumption.metered {
        return Some((amount * price(unit)?, FuelFrom::Meter));
    }
    let draw = prices.at(Kind::Draw, &kiln.name, at)?;
    let duty = prices.at(Kind::Duty, &kiln.name, at).map(|duty| duty.value);
    // A burner burns as it is set; an electric kiln switches itself, so without its duty its
    // rating says nothing.
    let duty = duty.or((kiln.fuel != Fuel::Electric).then_some(1.0));
    let (share, from) = match facts.consumption.share {
        Some(share) => (share, FuelFrom::DrawAndShare),
        None => (duty?, FuelFrom::DrawAndDuty),
    };
    let amount = draw.value * facts.consumption.hours? * share;
    let unit = if draw.unit.eq_ignore_ascii_case("kW") { "kWh" } else { per_hour(&draw.unit) };
    Some((amount * price(unit)?, from))
}

/// `m3/h` -> `m3`.
fn per_hour(unit: &str) -> &str {
    unit.trim().strip_suffix("/h").map_or(unit, str::trim)
}

/// What an outcome lost: as noted; else of each piece counted its share of the load, and where the
/// misses were not counted the whole load: its worth where nothing brings it back, or the cost of
/// firing it again.
fn lost(ledger: &Ledger, facts: &Facts, again: f64) -> Option<Lost> {
    if let Some(noted) = facts.loss {
        return Some(match facts.verdict {
            Some(Verdict::Under) => Lost { under: noted, ..Lost::default() },
            Some(Verdict::Over) => Lost { over: noted, ..Lost::default() },
            _ => Lost { broken: noted, ..Lost::default() },
        });
    }
    let counted = facts.counted;
    let ([under, over, broken], all) = match facts.verdict {
        Some(Verdict::Under) if counted.under.is_none() => ([Some(1), None, None], Some(1)),
        Some(Verdict::Over) if counted.over.is_none() => ([None, Some(1), None], Some(1)),
        _ => ([counted.under, counted.over, counted.broken], counted.all(facts.pieces)),
    };
    let load_type = ledger.load_type(&facts.load_type);
    let miss = |of: fn(&LoadType) -> Miss| match of(load_type?) {
        Miss::Lost => facts.worth,
        Miss::FireAgain => (again > 0.0).then_some(again),
    };
    let part = |count: Option<u32>, whole: Option<f64>| match count.unwrap_or(0) {
        0 => Some(0.0),
        count => Some(f64::from(count) / all? as f64 * whole?),
    };
    Some(Lost {
        under: part(under, miss(|load| load.under))?,
        over: part(over, miss(|load| load.over))?,
        broken: part(broken, facts.worth)?,
    })
}

impl Lost {
    pub fn total(self) -> f64 {
        self.under + self.over + self.broken
    }
}

/// The costs of these firings, group by group.
pub fn costs(ledger: &Ledger, facts: &[&Facts], prices: &Prices, by: By) -> Vec<Costs> {
    let groups = by.groups(facts, ledger.ahead).into_iter();
    groups.map(|(group, facts)| Costs::of(group, &facts, ledger, prices)).collect()
}

impl Costs {
    /// All of these firings together.
    pub fn of(group: String, facts: &[&Facts], ledger: &Ledger, prices: &Prices) -> Costs {
        let mut sum = Costs {
            group,
            loads: facts.len(),
            pieces: None,
            fuel: 0.0,
            cones: 0.0,
            things: 0.0,
            work: 0.0,
            total: 0.0,
            per_piece: None,
            per_good_piece: None,
            lost: Lost::default(),
            incomplete: 0,
            firings: ids(facts),
        };
        let (mut counted, mut of_good, mut good) = (0.0, 0.0, 0.0);
        for facts in facts {
            let cost = cost(ledger, facts, prices);
            sum.fuel += cost.fuel.unwrap_or(0.0);
            sum.cones += cost.cones.unwrap_or(0.0);
            sum.things += cost.things.unwrap_or(0.0);
            sum.work += cost.work.unwrap_or(0.0);
            sum.total += cost.total;
            sum.incomplete += usize::from(!cost.unknown.is_empty());
            let lost = cost.lost.unwrap_or_default();
            sum.lost.under += lost.under;
            sum.lost.over += lost.over;
            sum.lost.broken += lost.broken;
            if let Some(pieces) = facts.pieces {
                counted += cost.total;
                sum.pieces = Some(sum.pieces.unwrap_or(0) + pieces);
            }
            if let Some(pieces) = facts.counted.good {
                of_good += cost.total;
                good += f64::from(pieces);
            }
        }
        sum.per_good_piece = (good > 0.0).then(|| of_good / good);
        sum.per_piece = sum.pieces.filter(|p| *p > 0).map(|pieces| counted / f64::from(pieces));
        sum
    }
}
