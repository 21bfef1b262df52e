//! What is not known, as points of a space where everything unknown is a standard normal number.
//!
//! A [`Model`] turns such a point into a firing that could be, and says how well it agrees with
//! what was seen. The sampler draws points where agreement is good: adaptive importance sampling.
//! It starts from the prior, lets the evidence in by degrees, each time moving the proposal (a
//! normal distribution of full covariance, a tenth of the prior mixed in) to where the weight
//! lies, and stops when most of the draws count. With few unknowns and little evidence, points laid
//! evenly over the prior do instead. Nothing is resampled, so no parameter ever
//! degenerates to a few values.

use super::lanes::{Block, LANES, Lanes, Task, at_best, exp, larger, ln};
use super::normal::{Draws, Even};

/// The most unknowns a model may have.
pub const MOST_UNKNOWNS: usize = 16;

pub type Point = [f64; MOST_UNKNOWNS];

/// Turns unknowns into a firing that could be.
pub trait Model {
    type Firing;
    /// How many of the numbers of a [`Point`] are used.
    fn unknowns(&self) -> usize;
    /// The firing at each point, and the logarithm of how well it agrees with what was seen.
    fn imagine(&self, points: &Block) -> Vec<(Self::Firing, f64)>;
}

/// One point of a block.
pub fn point(points: &Block, lane: usize) -> Point {
    points.each_ref().map(|unknown| unknown[lane])
}

/// Points side by side, as many as there are lanes.
pub fn block(points: &[Point]) -> Block {
    std::array::from_fn(|unknown| std::array::from_fn(|lane| points[lane][unknown]))
}

/// One possible firing; the weights of a sample add up to 1.
#[derive(Debug, Clone)]
pub struct Weighted<F> {
    pub weight: f64,
    pub firing: F,
}

/// Possible firings, and the points they stand for in the same order.
#[derive(Debug, Clone)]
pub struct Sample<F> {
    pub firings: Vec<Weighted<F>>,
    points: Vec<Block>,
}

impl<F> Sample<F> {
    /// The point that the firing at this place stands for.
    pub fn point(&self, at: usize) -> Point {
        point(&self.points[at / LANES], at % LANES)
    }
}

/// Blocks of draws in each round of adaptation, and in the last one; a tenth of them is a whole
/// number.
const BLOCKS_ADAPTING: usize = 10;
const BLOCKS_FINAL: usize = 40;
/// The share of the draws that must count, in the sense of effective sample size.
const ENOUGH: f64 = 0.3;
/// While adapting, evidence is let in only so far that this share of the draws counts.
const STEP: f64 = 0.15;
const MOST_ROUNDS: usize = 10;
/// The share of the prior in every proposal, and how much wider than the weighted draws it is.
const DEFENSIVE: f64 = 0.1;
const WIDER: f64 = 1.25;

/// A normal proposal, by its mean and the Cholesky factor of its covariance.
#[derive(Debug, Clone)]
struct Proposal {
    mean: Point,
    factor: [Point; MOST_UNKNOWNS],
    log_determinant: f64,
    unknowns: usize,
}

/// Possible firings, weighted by the evidence. The same seed gives the same sample.
pub fn sample<M: Model>(model: &M, seed: u64) -> Sample<M::Firing> {
    sampled(model, seed, Points::Kept)
}

/// The same without the points they stand for, which are most of what a sample takes of memory.
pub fn firings<M: Model>(model: &M, seed: u64) -> Vec<Weighted<M::Firing>> {
    sampled(model, seed, Points::LetGo).firings
}

/// What becomes of points once it is known what they stand for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Points {
    Kept,
    LetGo,
}

fn sampled<M: Model>(model: &M, seed: u64, points: Points) -> Sample<M::Firing> {
    if let Some(round) = evenly(model, points) {
        return round.weighted();
    }
    let mut draws = Draws::seeded(seed);
    let mut proposal = None;
    for _ in 0..MOST_ROUNDS {
        let round = Round::of(model, proposal.as_ref(), &mut draws, BLOCKS_ADAPTING, Points::Kept);
        let exponent = bearable_exponent(&round.ratios, &round.evidence);
        let weights = normalised(&round.ratios, &round.evidence, exponent);
        if exponent >= 1.0 && effective(&weights) >= ENOUGH * weights.len() as f64 {
            break;
        }
        let points: Vec<Point> = round.points().collect();
        proposal = Some(Proposal::fitted(&points, &weights, model.unknowns()));
    }
    Round::of(model, proposal.as_ref(), &mut draws, BLOCKS_FINAL, points).weighted()
}

/// How likely what was seen is, over all firings that could be.
pub fn mean_likelihood<M: Model>(model: &M, seed: u64) -> f64 {
    let round = Round::of(model, None, &mut Draws::seeded(seed), BLOCKS_ADAPTING, Points::LetGo);
    let likelihoods = round.evidence.iter().map(|log| log.exp());
    likelihoods.sum::<f64>() / round.evidence.len() as f64
}

/// With few unknowns and little evidence, points laid evenly over the prior do.
fn evenly<M: Model>(model: &M, points: Points) -> Option<Round<M::Firing>> {
    let unknowns = model.unknowns();
    if unknowns > Even::MOST {
        return None;
    }
    let mut even = Even::begun();
    let round = Round::by(model, BLOCKS_FINAL, points, |_, points| {
        even.fill(points, unknowns);
        [0.0; LANES]
    });
    let weights = normalised(&round.ratios, &round.evidence, 1.0);
    (effective(&weights) >= ENOUGH * weights.len() as f64).then_some(round)
}

/// Draws, each with what it stands for.
struct Round<F> {
    /// Empty when they are let go.
    blocks: Vec<Block>,
    firings: Vec<F>,
    /// The logarithm of prior over proposal.
    ratios: Vec<f64>,
    /// The logarithm of the evidence.
    evidence: Vec<f64>,
}

impl<F> Round<F> {
    fn of<M: Model<Firing = F>>(
        model: &M,
        proposal: Option<&Proposal>,
        draws: &mut Draws,
        count: usize,
        points: Points,
    ) -> Round<F> {
        Round::by(model, count, points, |at, points| {
            draws.fill(points, model.unknowns());
            let moves = at as f64 >= DEFENSIVE * count as f64;
            match proposal {
                None => [0.0; LANES],
                Some(proposal) => at_best(Proposing { proposal, points, moves }),
            }
        })
    }

    /// From blocks that are filled by `fill`, which also gives ln of prior over proposal.
    fn by<M: Model<Firing = F>>(
        model: &M,
        count: usize,
        kept: Points,
        mut fill: impl FnMut(usize, &mut Block) -> Lanes,
    ) -> Round<F> {
        let mut round = Round {
            blocks: Vec::new(),
            firings: Vec::with_capacity(count * LANES),
            ratios: Vec::with_capacity(count * LANES),
            evidence: Vec::with_capacity(count * LANES),
        };
        for at in 0..count {
            let mut points = [[0.0; LANES]; MOST_UNKNOWNS];
            round.ratios.extend(fill(at, &mut points));
            for (firing, log_likelihood) in model.imagine(&points) {
                round.firings.push(firing);
                round.evidence.push(log_likelihood);
            }
            if kept == Points::Kept {
                round.blocks.push(points);
            }
        }
        round
    }

    fn weighted(self) -> Sample<F> {
        let weights = normalised(&self.ratios, &self.evidence, 1.0);
        let firings = self.firings.into_iter().zip(weights);
        let firings = firings.map(|(firing, weight)| Weighted { weight, firing }).collect();
        Sample { firings, points: self.blocks }
    }

    fn points(&self) -> impl Iterator<Item = Point> {
        self.blocks.iter().flat_map(|points| (0..LANES).map(|lane| point(points, lane)))
    }
}

fn normalised(ratios: &[f64], evidence: &[f64], exponent: f64) -> Vec<f64> {
    let logs: Vec<f64> = ratios.iter().zip(evidence).map(|(r, e)| r + exponent * e).collect();
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let mut weights: Vec<f64> = logs.iter().map(|log| (log - most).exp()).collect();
    let sum: f64 = weights.iter().sum();
    for weight in &mut weights {
        *weight /= sum;
    }
    weights
}

fn effective(weights: &[f64]) -> f64 {
    1.0 / weights.iter().map(|w| w * w).sum::<f64>()
}

/// How far the evidence can be let in with enough draws still counting: 1 when all of it.
fn bearable_exponent(ratios: &[f64], evidence: &[f64]) -> f64 {
    let enough = STEP * ratios.len() as f64;
    let bearable = |x: f64| effective(&normalised(ratios, evidence, x)) >= enough;
    if bearable(1.0) {
        return 1.0;
    }
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..12 {
        let middle = 0.5 * (low + high);
        if bearable(middle) { low = middle } else { high = middle }
    }
    // Never stand still: a proposal that is a poor fit must still be able to move.
    low.max(1e-3)
}

impl Proposal {
    fn fitted(points: &[Point], weights: &[f64], unknowns: usize) -> Self {
        let mut mean = [0.0; MOST_UNKNOWNS];
        for (point, weight) in points.iter().zip(weights) {
            for at in 0..unknowns {
                mean[at] += weight * point[at];
            }
        }
        let mut covariance = [[0.0; MOST_UNKNOWNS]; MOST_UNKNOWNS];
        for (point, weight) in points.iter().zip(weights) {
            for row in 0..unknowns {
                for column in 0..=row {
                    covariance[row][column] +=
                        weight * (point[row] - mean[row]) * (point[column] - mean[column]);
                }
            }
        }
        let mut factor = [[0.0; MOST_UNKNOWNS]; MOST_UNKNOWNS];
        let mut log_determinant = 0.0;
        for row in 0..unknowns {
            for column in 0..=row {
                let inner: f64 = (0..column).map(|k| factor[row][k] * factor[column][k]).sum();
                let rest = WIDER * covariance[row][column] - inner;
                factor[row][column] = if row == column {
                    rest.max(1e-6).sqrt()
                } else {
                    rest / factor[column][column]
                };
            }
            log_determinant += factor[row][row].ln();
        }
        Proposal { mean, factor, log_determinant, unknowns }
    }
}

/// Moves standard normal points to the proposal, if asked to, and gives ln of the prior's density
/// over that of prior and proposal mixed.
struct Proposing<'a> {
    proposal: &'a Proposal,
    points: &'a mut Block,
    moves: bool,
}

impl Task for Proposing<'_> {
    type Output = Lanes;

    #[inline(always)]
    fn run(self) -> Lanes {
        let Proposing { proposal, points, moves } = self;
        if moves {
            proposal.moved(points);
        }
        let mut standard = [[0.0; LANES]; MOST_UNKNOWNS];
        let (mut prior, mut proposed) = ([0.0; LANES], [0.0; LANES]);
        for (row, unknown) in points.iter().enumerate().take(proposal.unknowns) {
            let (before, this) = standard.split_at_mut(row);
            let this = &mut this[0];
            for i in 0..LANES {
                this[i] = unknown[i] - proposal.mean[row];
            }
            for (column, factor) in before.iter().zip(proposal.factor[row]) {
                for i in 0..LANES {
                    this[i] -= factor * column[i];
                }
            }
            let each = 1.0 / proposal.factor[row][row];
            for i in 0..LANES {
                this[i] *= each;
                prior[i] -= 0.5 * unknown[i] * unknown[i];
                proposed[i] -= 0.5 * this[i] * this[i];
            }
        }
        std::array::from_fn(|i| {
            let proposed = proposed[i] - proposal.log_determinant;
            let most = larger(prior[i], proposed);
            let (prior, proposed) = (prior[i] - most, proposed - most);
            prior - ln(DEFENSIVE * exp(prior) + (1.0 - DEFENSIVE) * exp(proposed))
        })
    }
}

impl Proposal {
    /// Moves standard normal points to this proposal.
    #[inline(always)]
    fn moved(&self, points: &mut Block) {
        // From the last row up, so that what a row needs of those above it is still there.
        for row in (0..self.unknowns).rev() {
            let (above, this) = points.split_at_mut(row);
            let this = &mut this[0];
            for value in this.iter_mut() {
                *value = self.mean[row] + self.factor[row][row] * *value;
            }
            for (column, factor) in above.iter().zip(self.factor[row]) {
                for i in 0..LANES {
                    this[i] += factor * column[i];
                }
            }
        }
    }
}
