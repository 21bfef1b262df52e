//! What is not known, as points of a space where everything unknown is a standard normal number.
//!
//! A [`Model`] turns such a point into a firing that could be, and says how well it agrees with
//! what was seen. The sampler draws points where agreement is good: adaptive importance sampling.
//! It starts from the prior, lets the evidence in by degrees, each time moving the proposal (a
//! normal distribution of full covariance, a tenth of the prior mixed in) to where the weight
//! lies, and stops when most of the draws count. Nothing is resampled, so no parameter ever
//! degenerates to a few values.

use rand::RngExt as _;
use rand::SeedableRng as _;
use rand_distr::StandardNormal;
use rand_pcg::Pcg64Mcg;

use super::Imagined;

/// The most unknowns a model may have.
pub const MOST_UNKNOWNS: usize = 16;

/// Standard normal numbers, one for each unknown; those not in use are 0.
pub type Point = [f64; MOST_UNKNOWNS];

/// Turns unknowns into a firing that could be.
pub trait Model {
    /// How many of the numbers of a [`Point`] are used.
    fn unknowns(&self) -> usize;
    /// The firing at a point, and the logarithm of how well it agrees with what was seen.
    fn imagine(&self, point: &Point) -> (Imagined, f64);
}

/// One possible firing; the weights of a sample add up to 1.
#[derive(Debug, Clone)]
pub struct Weighted {
    pub weight: f64,
    pub firing: Imagined,
}

/// Draws in each round of adaptation.
const DRAWS_ADAPTING: usize = 640;
/// Draws in the last round for a witness that leads, and for one beside it.
pub const DRAWS_LEADING: usize = 2560;
pub const DRAWS_BESIDE: usize = 640;
/// The last one is drawn on while less than this share of its draws counts, up to so many times over:
/// where one look says otherwise than all the rest, no single normal distribution is near what agrees
/// with both.
const FEWEST: f64 = 0.08;
const DRAWN_MOST: usize = 8;
/// The share of the draws that must count, in the sense of effective sample size.
const ENOUGH: f64 = 0.3;
/// While adapting, evidence is let in only so far that this share of the draws counts.
const STEP: f64 = 0.15;
const MOST_ROUNDS: usize = 10;
/// The share of the prior in every proposal, and how much wider than the weighted draws it is.
const DEFENSIVE: f64 = 0.1;
const WIDER: f64 = 1.25;

/// Evidence is weighed between this, as good as impossible, and the same above 0. What is no number
/// counts as impossible: a forecast that stands on the others is better than none.
pub const LEAST_LOG: f64 = -1e6;

/// Possible firings, and ln of how likely the evidence is over all of them.
#[derive(Debug, Clone)]
pub struct Sample {
    pub firings: Vec<Weighted>,
    pub log_evidence: f64,
}

/// Possible firings, at least so many, weighted by the evidence. The same seed gives the same sample.
pub fn sample(model: &impl Model, draws: usize, seed: u64) -> Sample {
    let mut random = Pcg64Mcg::seed_from_u64(seed);
    let (proposal, mut round) = adapted(model, &mut random);
    let mut weights = round.weights(1.0);
    let fewest = FEWEST * draws as f64;
    while weights.len() < draws
        || effective(&weights) < fewest && weights.len() < DRAWN_MOST * draws
    {
        let wanted = if weights.len() < draws { draws - weights.len() } else { draws };
        round.draw(model, proposal.as_ref(), &mut random, wanted);
        weights = round.weights(1.0);
    }
    let log_evidence = round.log_evidence();
    let firings = round.firings.into_iter().zip(weights);
    let firings = firings.map(|(firing, weight)| Weighted { weight, firing }).collect();
    Sample { firings, log_evidence }
}

/// A proposal near what agrees with the evidence, and what was drawn from it so far.
fn adapted(model: &impl Model, random: &mut Pcg64Mcg) -> (Option<Proposal>, Round) {
    let mut proposal = None;
    for _ in 0..MOST_ROUNDS {
        let mut round = Round::default();
        round.draw(model, proposal.as_ref(), random, DRAWS_ADAPTING);
        let exponent = round.bearable_exponent();
        let weights = round.weights(exponent);
        if exponent >= 1.0 && effective(&weights) >= ENOUGH * weights.len() as f64 {
            return (proposal, round);
        }
        proposal = Some(Proposal::fitted(&round.points, &weights, model.unknowns()));
    }
    (proposal, Round::default())
}

/// Draws, each with what it stands for.
#[derive(Default)]
struct Round {
    points: Vec<Point>,
    firings: Vec<Imagined>,
    /// ln of prior over proposal.
    ratios: Vec<f64>,
    /// ln of the evidence.
    evidence: Vec<f64>,
}

impl Round {
    /// From the proposal, the first tenth from the prior; all from the prior without one.
    fn draw(
        &mut self,
        model: &impl Model,
        proposal: Option<&Proposal>,
        random: &mut Pcg64Mcg,
        count: usize,
    ) {
        for at in 0..count {
            let mut point = [0.0; MOST_UNKNOWNS];
            point[..model.unknowns()].fill_with(|| random.sample(StandardNormal));
            if let Some(proposal) = proposal
                && at as f64 >= DEFENSIVE * count as f64
            {
                point = proposal.moved(&point);
            }
            let (firing, evidence) = model.imagine(&point);
            self.ratios.push(proposal.map_or(0.0, |proposal| proposal.log_ratio(&point)));
            self.points.push(point);
            self.firings.push(firing);
            let evidence = if evidence.is_nan() { LEAST_LOG } else { evidence };
            self.evidence.push(evidence.clamp(LEAST_LOG, -LEAST_LOG));
        }
    }

    /// What each draw counts when the evidence is taken to this power; they add up to 1.
    fn weights(&self, exponent: f64) -> Vec<f64> {
        let logs = self.ratios.iter().zip(&self.evidence).map(|(r, e)| r + exponent * e);
        let most = logs.clone().fold(f64::NEG_INFINITY, f64::max);
        let mut weights: Vec<f64> = logs.map(|log| (log - most).exp()).collect();
        let sum: f64 = weights.iter().sum();
        weights.iter_mut().for_each(|weight| *weight /= sum);
        weights
    }

    /// ln of the mean likelihood under the prior.
    fn log_evidence(&self) -> f64 {
        let logs = self.ratios.iter().zip(&self.evidence).map(|(r, e)| r + e);
        let most = logs.clone().fold(f64::NEG_INFINITY, f64::max);
        let mean = logs.map(|log| (log - most).exp()).sum::<f64>() / self.ratios.len() as f64;
        most + mean.ln()
    }

    /// How far the evidence can be let in with enough draws still counting: 1 when all of it.
    fn bearable_exponent(&self) -> f64 {
        let enough = STEP * self.evidence.len() as f64;
        let bearable = |exponent: f64| effective(&self.weights(exponent)) >= enough;
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
}

/// The effective sample size (Kish).
fn effective(weights: &[f64]) -> f64 {
    1.0 / weights.iter().map(|w| w * w).sum::<f64>()
}

/// A normal proposal, by its mean and the Cholesky factor of its covariance.
#[derive(Debug, Clone)]
struct Proposal {
    mean: Point,
    factor: [Point; MOST_UNKNOWNS],
    log_determinant: f64,
    unknowns: usize,
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
                        WIDER * weight * (point[row] - mean[row]) * (point[column] - mean[column]);
                }
            }
        }
        let factor = cholesky(&covariance, 1e-6);
        let log_determinant = (0..unknowns).map(|row| factor[row][row].ln()).sum();
        Proposal { mean, factor, log_determinant, unknowns }
    }

    /// A standard normal point moved to this proposal.
    fn moved(&self, standard: &Point) -> Point {
        let mut point = self.mean;
        for (row, value) in point.iter_mut().enumerate().take(self.unknowns) {
            *value += (0..=row).map(|k| self.factor[row][k] * standard[k]).sum::<f64>();
        }
        point
    }

    /// ln of the prior's density over that of prior and proposal mixed.
    fn log_ratio(&self, point: &Point) -> f64 {
        let mut standard = [0.0; MOST_UNKNOWNS];
        for row in 0..self.unknowns {
            let inner: f64 = (0..row).map(|k| self.factor[row][k] * standard[k]).sum();
            standard[row] = (point[row] - self.mean[row] - inner) / self.factor[row][row];
        }
        let squares = |point: &Point| point.iter().map(|x| x * x).sum::<f64>();
        let nearer = 0.5 * (squares(point) - squares(&standard)) - self.log_determinant;
        -(DEFENSIVE + (1.0 - DEFENSIVE) * nearer.exp()).ln()
    }
}

/// The Cholesky factor of a covariance, of which only the lower half is read; no square on its
/// diagonal is taken as less than `least`.
pub fn cholesky<const N: usize>(covariance: &[[f64; N]; N], least: f64) -> [[f64; N]; N] {
    let mut factor = [[0.0; N]; N];
    for row in 0..N {
        for column in 0..=row {
            let inner: f64 = (0..column).map(|k| factor[row][k] * factor[column][k]).sum();
            let rest = covariance[row][column] - inner;
            factor[row][column] =
                if row == column { rest.max(least).sqrt() } else { rest / factor[column][column] };
        }
    }
    factor
}
