//! How far under and over a load type really forgives, learned from overshoot and outcome.
//!
//! On each side there is an edge, in cones, at which half of the loads miss, and a softness: loads,
//! places in the kiln and eyes differ. A load x cones beyond the target misses on that side with
//! chance Phi((x - edge) / s), where s adds the softness and the load's own uncertainty of x in
//! squares. The posterior of edge and softness is worked out on a grid, exactly, from the load
//! type's own figure as the prior middle. Nothing is fitted by hand, and nothing is changed: what
//! comes out is a suggestion.

use std::sync::OnceLock;

use statrs::distribution::{ContinuousCDF, Normal};

use super::facts::Facts;
use super::ledger::{Ledger, grouped, ids};
use super::suggestion::{Change, Suggestion};
use crate::firing::{FiringId, Verdict};
use crate::kiln::LoadType;

/// On fewer judged firings than this nothing is suggested at all.
pub const FEWEST_TO_SUGGEST: usize = 15;
/// On fewer judged firings than this a wider tolerance is never suggested.
pub const FEWEST_TO_WIDEN: usize = 25;
/// Nor with fewer loads than this that came out right beyond the present figure.
pub const FEWEST_BEYOND: usize = 5;
/// Smaller changes are not worth a suggestion, cones.
pub const SMALLEST_CHANGE: f64 = 0.1;
/// How unsure the load type's own figure is taken to be: a factor of two either way is one standard
/// deviation (a guess on the wide side, so that the firings soon say more than the figure does).
const PRIOR_FACTOR: f64 = 2.0;
/// A figure of nothing at all is taken as this, cones.
const SMALLEST_FIGURE: f64 = 0.1;
/// The chance of a miss at the suggested limit, as the distance in softnesses inside the edge:
/// 1.2816 is one load in ten.
const INSIDE_SOFTNESSES: f64 = 1.2816;

const EDGES: usize = 240;
const WIDEST_EDGE: f64 = 6.0;
const SOFTNESSES: [f64; 6] = [0.05, 0.1, 0.16, 0.25, 0.4, 0.63];

closed! {
    /// Which side of the target.
    #[derive(Hash)]
    pub enum Side {
        Under => "under",
        Over => "over",
    }
}

/// One load as the learning sees it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Case {
    /// Beyond the target on the side in question, in cones; negative on the other side.
    pub beyond: f64,
    /// The standard deviation of `beyond`.
    pub spread: f64,
    pub missed: bool,
}

/// What is known of one side of one load type.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Edge {
    /// The load type's own figure, cones.
    pub figure: f64,
    /// Quantiles of the edge at which half of the loads miss, cones.
    pub p025: f64,
    pub p50: f64,
    pub p975: f64,
    /// What keeps nine of ten loads right, with 9 in 10 certainty.
    pub safe: f64,
    pub cases: usize,
    pub missed: usize,
    /// Loads that came out right beyond the figure.
    pub right_beyond: usize,
}

/// Both sides of one load type.
#[derive(Debug, Clone, PartialEq)]
pub struct Tolerance {
    pub load_type: String,
    pub under: Edge,
    pub over: Edge,
    pub firings: Vec<FiringId>,
    pub suggestion: Option<Suggestion>,
}

impl Side {
    fn case(self, facts: &Facts) -> Option<Case> {
        let (over, verdict) = (facts.overshoot_cones?, facts.judged()?);
        if !(over.low.is_finite() && over.high.is_finite()) {
            return None;
        }
        let (beyond, missed) = match self {
            Side::Under => (-over.best, verdict == Verdict::Under),
            Side::Over => (over.best, verdict == Verdict::Over),
        };
        Some(Case { beyond, spread: over.spread(), missed })
    }
}

/// What the firings say about one side whose figure is `figure` cones.
pub fn edge(figure: f64, cases: &[Case]) -> Edge {
    let grid = Grid::of(figure, cases);
    Edge {
        figure,
        p025: grid.quantile(0.025, |edge, _| edge),
        p50: grid.quantile(0.5, |edge, _| edge),
        p975: grid.quantile(0.975, |edge, _| edge),
        safe: grid.quantile(0.1, |edge, soft| edge - INSIDE_SOFTNESSES * soft).max(0.0),
        cases: cases.len(),
        missed: cases.iter().filter(|case| case.missed).count(),
        right_beyond: cases.iter().filter(|case| !case.missed && case.beyond > figure).count(),
    }
}

/// The posterior of edge and softness.
struct Grid {
    /// Edge, softness, weight.
    cells: Vec<(f64, f64, f64)>,
}

impl Grid {
    fn of(figure: f64, cases: &[Case]) -> Grid {
        let middle = figure.max(SMALLEST_FIGURE).ln();
        let cases = binned(&shrunk(cases));
        let mut cells = Vec::with_capacity(EDGES * SOFTNESSES.len());
        for soft in SOFTNESSES {
            for step in 0..EDGES {
                let edge = WIDEST_EDGE * (step as f64 + 0.5) / EDGES as f64;
                // Log-normal in the edge; the 1/edge of its density is left in.
                let apart = (edge.ln() - middle) / PRIOR_FACTOR.ln();
                let mut log_weight = -0.5 * apart * apart - edge.ln();
                for (case, missed, right) in &cases {
                    let s = (soft * soft + case.spread * case.spread).sqrt();
                    let (miss, hold) = log_chances((case.beyond - edge) / s);
                    log_weight += missed * miss + right * hold;
                }
                cells.push((edge, soft, log_weight));
            }
        }
        let best = cells.iter().map(|(_, _, w)| *w).fold(f64::NEG_INFINITY, f64::max);
        for cell in &mut cells {
            cell.2 = (cell.2 - best).exp();
        }
        let total: f64 = cells.iter().map(|(_, _, w)| w).sum();
        for cell in &mut cells {
            cell.2 /= total;
        }
        Grid { cells }
    }

    /// The value below which this much of the posterior lies.
    fn quantile(&self, part: f64, value: impl Fn(f64, f64) -> f64) -> f64 {
        let mut values: Vec<(f64, f64)> =
            self.cells.iter().map(|&(edge, soft, weight)| (value(edge, soft), weight)).collect();
        values.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut sum = 0.0;
        for (value, weight) in &values {
            sum += weight;
            if sum >= part {
                return *value;
            }
        }
        values.last().map_or(0.0, |(value, _)| *value)
    }
}

/// What is measured with an error lies, on average, further out than what was: each case is drawn
/// towards the mean by the share of the scatter that is error, and is known better for it.
fn shrunk(cases: &[Case]) -> Vec<Case> {
    let count = cases.len() as f64;
    let mean = cases.iter().map(|case| case.beyond).sum::<f64>() / count;
    let scatter = cases.iter().map(|case| (case.beyond - mean).powi(2)).sum::<f64>() / count;
    let error = cases.iter().map(|case| case.spread * case.spread).sum::<f64>() / count;
    // At least a tenth of the scatter is real: loads do differ.
    let real = (scatter - error).max(0.1 * scatter);
    let draw = |case: &Case| {
        let error = case.spread * case.spread;
        let kept = if real > 0.0 { real / (real + error) } else { 1.0 };
        Case {
            beyond: mean + kept * (case.beyond - mean),
            spread: case.spread * kept.sqrt(),
            missed: case.missed,
        }
    };
    cases.iter().map(draw).collect()
}

/// Cases that hardly differ, counted together: beyond to 0.02 cones, spread to 0.05. Thousands of
/// firings then cost no more than a few hundred.
fn binned(cases: &[Case]) -> Vec<(Case, f64, f64)> {
    let mut bins: std::collections::BTreeMap<(i64, i64), (f64, f64)> = Default::default();
    for case in cases {
        let beyond = (case.beyond.clamp(-3.0, 8.0) / 0.02).round() as i64;
        let spread = (case.spread.min(3.0) / 0.05).round() as i64;
        let (missed, right) = bins.entry((beyond, spread)).or_default();
        if case.missed {
            *missed += 1.0;
        } else {
            *right += 1.0;
        }
    }
    let case = |(beyond, spread): (i64, i64)| Case {
        beyond: beyond as f64 * 0.02,
        spread: spread as f64 * 0.05,
        missed: false,
    };
    bins.into_iter().map(|(bin, (missed, right))| (case(bin), missed, right)).collect()
}

/// Logarithms of the chance of a miss and of none, `z` standard deviations beyond the edge. One
/// load in fifty is spoiled by something else (dust, a careless hand) or judged wrongly: a guess,
/// without which one odd load would outweigh fifty sound ones.
///
/// Looked up, since a review asks millions of times: in steps of 0.01 the nearest entry is within
/// 0.02 of the truth at the steepest place, where all entries around it err to both sides.
fn log_chances(z: f64) -> (f64, f64) {
    const ODD: f64 = 0.02;
    const STEPS: i32 = 800;
    static TABLE: OnceLock<Vec<(f64, f64)>> = OnceLock::new();
    let table = TABLE.get_or_init(|| {
        let entry = |step: i32| {
            let miss = ODD / 2.0 + (1.0 - ODD) * Normal::standard().cdf(f64::from(step) / 100.0);
            (miss.ln(), (1.0 - miss).ln())
        };
        (-STEPS..=STEPS).map(entry).collect()
    });
    let limit = f64::from(STEPS);
    table[((z * 100.0).round().clamp(-limit, limit) + limit) as usize]
}

/// What the firings say about every load type of the ledger that has firings with an outcome.
pub fn tolerances(ledger: &Ledger, facts: &[&Facts]) -> Vec<Tolerance> {
    let groups = grouped(facts, |f| Some(f.load_type.to_lowercase()));
    ledger
        .load_types
        .iter()
        .filter_map(|load_type| {
            let facts = groups.get(&load_type.name.to_lowercase())?;
            Tolerance::of(load_type, facts)
        })
        .collect()
}

impl Tolerance {
    /// One of its sides.
    pub fn edge(&self, side: Side) -> &Edge {
        match side {
            Side::Under => &self.under,
            Side::Over => &self.over,
        }
    }

    fn of(load_type: &LoadType, facts: &[&Facts]) -> Option<Tolerance> {
        let judged: Vec<&Facts> = facts
            .iter()
            .copied()
            .filter(|f| f.pack.target == load_type.target && Side::Over.case(f).is_some())
            .collect();
        if judged.is_empty() {
            return None;
        }
        let side = |side: Side, figure: f64| {
            let cases: Vec<Case> = judged.iter().filter_map(|f| side.case(f)).collect();
            edge(figure, &cases)
        };
        let under = side(Side::Under, load_type.under_cones);
        let over = side(Side::Over, load_type.over_cones);
        let firings = ids(&judged);
        let change = (under.suggested(), over.suggested());
        let suggestion = (change != (None, None)).then(|| Suggestion {
            change: Change::Tolerance {
                load_type: load_type.name.clone(),
                under_cones: change.0,
                over_cones: change.1,
            },
            evidence: firings.clone(),
        });
        Some(Tolerance { load_type: load_type.name.clone(), under, over, firings, suggestion })
    }
}

impl Edge {
    /// Another figure, to a tenth of a cone, if the firings speak for it.
    pub fn suggested(&self) -> Option<f64> {
        let to = (self.safe * 10.0).floor() / 10.0;
        let narrower = self.cases >= FEWEST_TO_SUGGEST
            && self.missed >= 3
            && self.p975 < self.figure
            && to <= self.figure - SMALLEST_CHANGE;
        let wider = self.cases >= FEWEST_TO_WIDEN
            && self.right_beyond >= FEWEST_BEYOND
            && to >= self.figure + SMALLEST_CHANGE;
        (narrower || wider).then_some(to)
    }
}
