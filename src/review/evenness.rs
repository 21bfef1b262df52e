//! How evenly a kiln heats: the cones read on the shelves after drawing.
//!
//! A cone that stands, leans or lies says between which temperatures its place ended, at the
//! firing's own climb. Places are compared within a firing, never across firings, so a hot firing
//! does not make its places look hot: the value of a reading is modelled as firing plus place, and
//! both are fitted in turn (the classic two-way table).

use std::collections::BTreeMap;

use super::cone_steps::{USUAL_CLIMB, degrees_per_cone, lean_bounds_c};
use super::facts::Facts;
use super::ledger::grouped;
use crate::cone::curve;
use crate::firing::FiringId;
use crate::units::CelsiusPerHour;

/// Fewer firings than this at a place say nothing about it.
pub const FEWEST_TO_SAY: usize = 4;
/// A cone that says only "at least" or "at most" is taken this far beyond, C: half a step.
const OPEN_SIDE_C: f64 = 10.0;

/// One place in a kiln against the middle of the kiln.
#[derive(Debug, Clone, PartialEq)]
pub struct Place {
    pub place: String,
    /// Hotter (positive) or colder than the mean of the places, C.
    pub differs_c: f64,
    /// The same in cones, at the target the firings went for.
    pub differs_cones: f64,
    /// Half of a 95 % interval, C.
    pub plus_or_minus_c: f64,
    /// The later half of its firings less the earlier half, C, with half of a 95 % interval; only
    /// with enough of both.
    pub change_c: Option<(f64, f64)>,
    pub firings: Vec<FiringId>,
}

/// The map of one kiln, coldest place first.
#[derive(Debug, Clone, PartialEq)]
pub struct Evenness {
    pub kiln: String,
    pub places: Vec<Place>,
    /// The mean distance from the coldest to the hottest place, C.
    pub spread_c: f64,
    /// The spread has grown or shrunk (later half less earlier half), C.
    pub spread_change_c: Option<f64>,
    /// The places nearest the mean, for the loads that forgive least.
    pub steady: Vec<String>,
}

/// One place in one firing.
struct Seen {
    firing: usize,
    place: usize,
    ended_c: f64,
}

/// The map of every kiln in which at least two places have cones.
pub fn evenness(facts: &[&Facts]) -> Vec<Evenness> {
    let kilns = grouped(facts, |f| (!f.shelves.is_empty()).then(|| f.kiln.clone()));
    kilns.into_iter().filter_map(|(kiln, facts)| Evenness::of(kiln, &facts)).collect()
}

/// The temperature at which each place of a firing ended, as its cones tell; by place, C.
fn ended(facts: &Facts) -> BTreeMap<String, f64> {
    let climb = facts.final_climb.unwrap_or(USUAL_CLIMB);
    let climb = CelsiusPerHour(climb.0.clamp(15.0, 300.0));
    let mut bounds: BTreeMap<String, (f64, f64)> = BTreeMap::new();
    for shelf in &facts.shelves {
        let Ok(curve) = curve(shelf.cone, facts.pack.family) else { continue };
        let end = curve.temperature_ending(climb).0;
        let (low, high) = lean_bounds_c(curve, shelf.seen, climb);
        let place = shelf.place.trim().to_lowercase();
        let known = bounds.entry(place).or_insert((f64::NEG_INFINITY, f64::INFINITY));
        known.0 = known.0.max(low.map_or(f64::NEG_INFINITY, |low| end + low));
        known.1 = known.1.min(high.map_or(f64::INFINITY, |high| end + high));
    }
    let middle = |(low, high): (f64, f64)| match (low.is_finite(), high.is_finite()) {
        (true, true) => Some(0.5 * (low + high)),
        (true, false) => Some(low + OPEN_SIDE_C),
        (false, true) => Some(high - OPEN_SIDE_C),
        (false, false) => None,
    };
    bounds.into_iter().filter_map(|(place, bounds)| Some((place, middle(bounds)?))).collect()
}

impl Evenness {
    fn of(kiln: String, facts: &[&Facts]) -> Option<Evenness> {
        let mut names: Vec<String> = Vec::new();
        let mut seen: Vec<Seen> = Vec::new();
        for (firing, facts) in facts.iter().enumerate() {
            let ended = ended(facts);
            if ended.len() < 2 {
                continue;
            }
            for (name, ended_c) in ended {
                let place = names.iter().position(|n| *n == name).unwrap_or_else(|| {
                    names.push(name);
                    names.len() - 1
                });
                seen.push(Seen { firing, place, ended_c });
            }
        }
        if names.len() < 2 {
            return None;
        }
        let effects = two_way(&seen, facts.len(), names.len());
        let mut places: Vec<Place> = names
            .iter()
            .enumerate()
            .map(|(index, name)| place(name, index, &seen, &effects, facts))
            .collect();
        places.sort_by(|a, b| a.differs_c.total_cmp(&b.differs_c));
        let spread_c = places.last()?.differs_c - places.first()?.differs_c;
        let spread_change_c = match (places.first()?.change_c, places.last()?.change_c) {
            (Some((cold, _)), Some((hot, _))) => Some(hot - cold),
            _ => None,
        };
        let steady = steady(&places);
        Some(Evenness { kiln, places, spread_c, spread_change_c, steady })
    }
}

/// Firing effects and place effects, the place effects with mean 0.
struct Effects {
    firing: Vec<f64>,
    place: Vec<f64>,
}

fn two_way(seen: &[Seen], firings: usize, places: usize) -> Effects {
    let mut effects = Effects { firing: vec![0.0; firings], place: vec![0.0; places] };
    let means = |count: usize, value: &dyn Fn(&Seen) -> (usize, f64)| -> Vec<f64> {
        let mut sums = vec![(0.0, 0.0_f64); count];
        for seen in seen {
            let (index, value) = value(seen);
            sums[index].0 += value;
            sums[index].1 += 1.0;
        }
        sums.into_iter().map(|(sum, count)| sum / count.max(1.0)).collect()
    };
    // With every place read each time one round is exact; gaps take a few more.
    for _ in 0..20 {
        effects.firing = means(firings, &|s| (s.firing, s.ended_c - effects.place[s.place]));
        effects.place = means(places, &|s| (s.place, s.ended_c - effects.firing[s.firing]));
        let mean = effects.place.iter().sum::<f64>() / places as f64;
        effects.place.iter_mut().for_each(|effect| *effect -= mean);
    }
    effects
}

fn place(name: &str, index: usize, seen: &[Seen], effects: &Effects, facts: &[&Facts]) -> Place {
    let here: Vec<&Seen> = seen.iter().filter(|s| s.place == index).collect();
    let apart: Vec<f64> = here.iter().map(|s| s.ended_c - effects.firing[s.firing]).collect();
    let differs_c = effects.place[index];
    let (earlier, later) = apart.split_at(apart.len() / 2);
    let change_c = (earlier.len() >= FEWEST_TO_SAY).then(|| {
        let ((a, error_a), (b, error_b)) = (mean_and_error(earlier), mean_and_error(later));
        (b - a, super::wilson::Z_95 * error_a.hypot(error_b))
    });
    let step = |facts: &Facts| {
        let climb = facts.final_climb.unwrap_or(USUAL_CLIMB);
        degrees_per_cone(facts.pack.target, facts.pack.family, climb)
    };
    let steps: f64 = here.iter().map(|s| step(facts[s.firing])).sum();
    Place {
        place: name.to_owned(),
        differs_c,
        differs_cones: differs_c / (steps / here.len().max(1) as f64),
        plus_or_minus_c: super::wilson::Z_95 * mean_and_error(&apart).1,
        change_c,
        firings: here.iter().map(|s| facts[s.firing].id).collect(),
    }
}

/// Mean and its standard error. A cone read in whole words is never sharper than about 5 C, so the
/// scatter is taken as at least that.
fn mean_and_error(values: &[f64]) -> (f64, f64) {
    const WORD_C: f64 = 5.0;
    let count = values.len().max(1) as f64;
    let mean = values.iter().sum::<f64>() / count;
    let squares: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
    let sigma = (squares / (count - 1.0).max(1.0)).sqrt().max(WORD_C / 12_f64.sqrt());
    (mean, sigma / count.sqrt())
}

/// The places within a quarter of the spread from the mean, that are known well enough.
fn steady(places: &[Place]) -> Vec<String> {
    let known = |place: &&Place| place.firings.len() >= FEWEST_TO_SAY;
    let known: Vec<&Place> = places.iter().filter(known).collect();
    let (Some(cold), Some(hot)) = (known.first(), known.last()) else { return Vec::new() };
    let quarter = 0.25 * (hot.differs_c - cold.differs_c);
    let near = known.iter().filter(|place| place.differs_c.abs() <= quarter);
    near.map(|place| place.place.clone()).collect()
}
