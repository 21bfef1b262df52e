//! What is not known, as points of a space where everything unknown is a standard normal number.
//!
//! A [`Model`] turns such a point into a firing that could be, and says how well it agrees with
//! what was seen. The sampler draws points where agreement is good: adaptive importance sampling.
//! It starts from the prior, lets the evidence in by degrees, each time moving the proposal (a
//! normal distribution of full covariance, a tenth of the prior mixed in) to where the weight
//! lies, and stops when most of the draws count. Nothing is resampled, so no parameter ever
//! degenerates to a few values.

use super::normal::Draws;

/// The most unknowns a model may have.
pub const MOST_UNKNOWNS: usize = 16;

pub type Point = [f64; MOST_UNKNOWNS];

/// Turns unknowns into a firing that could be.
pub trait Model {
    type Firing;
    /// How many of the numbers of a [`Point`] are used.
    fn unknowns(&self) -> usize;
    /// The firing at this point, and the logarithm of how well it agrees with what was seen.
    fn imagine(&self, point: &Point) -> (Self::Firing, f64);
}

/// One possible firing; the weights of a sample add up to 1.
#[derive(Debug, Clone)]
pub struct Weighted<F> {
    pub weight: f64,
    pub point: Point,
    pub firing: F,
}

/// Draws in each round of adaptation, and in the last one.
const DRAWS_ADAPTING: usize = 600;
const DRAWS_FINAL: usize = 2400;
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
pub fn sample<M: Model>(model: &M, seed: u64) -> Vec<Weighted<M::Firing>> {
    let mut draws = Draws::seeded(seed);
    let mut proposal = None;
    for _ in 0..MOST_ROUNDS {
        let (points, log_weights, evidence) =
            round(model, proposal.as_ref(), &mut draws, DRAWS_ADAPTING);
        let exponent = bearable_exponent(&log_weights, &evidence, DRAWS_ADAPTING);
        let weights = normalised(&log_weights, &evidence, exponent);
        if exponent >= 1.0 && effective(&weights) >= ENOUGH * DRAWS_ADAPTING as f64 {
            break;
        }
        let points: Vec<Point> = points.into_iter().map(|(point, _)| point).collect();
        proposal = Some(Proposal::fitted(&points, &weights, model.unknowns()));
    }
    let (points, log_weights, evidence) = round(model, proposal.as_ref(), &mut draws, DRAWS_FINAL);
    let weights = normalised(&log_weights, &evidence, 1.0);
    points
        .into_iter()
        .zip(weights)
        .map(|((point, firing), weight)| Weighted { weight, point, firing })
        .collect()
}

type Round<F> = (Vec<(Point, F)>, Vec<f64>, Vec<f64>);

/// Draws, the logarithm of prior over proposal, and the logarithm of the evidence.
fn round<M: Model>(
    model: &M,
    proposal: Option<&Proposal>,
    draws: &mut Draws,
    count: usize,
) -> Round<M::Firing> {
    let unknowns = model.unknowns();
    let mut points = Vec::with_capacity(count);
    let (mut ratios, mut evidence) = (Vec::with_capacity(count), Vec::with_capacity(count));
    for at in 0..count {
        let mut point = [0.0; MOST_UNKNOWNS];
        for value in &mut point[..unknowns] {
            *value = draws.normal();
        }
        let ratio = match proposal {
            None => 0.0,
            Some(proposal) => {
                if at as f64 >= DEFENSIVE * count as f64 {
                    point = proposal.moved(&point);
                }
                proposal.log_prior_over_mixture(&point)
            }
        };
        let (firing, log_likelihood) = model.imagine(&point);
        points.push((point, firing));
        ratios.push(ratio);
        evidence.push(log_likelihood);
    }
    (points, ratios, evidence)
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
fn bearable_exponent(ratios: &[f64], evidence: &[f64], count: usize) -> f64 {
    let bearable = |x: f64| effective(&normalised(ratios, evidence, x)) >= STEP * count as f64;
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

    fn moved(&self, standard: &Point) -> Point {
        let mut point = [0.0; MOST_UNKNOWNS];
        for (row, value) in point.iter_mut().enumerate().take(self.unknowns) {
            *value =
                self.mean[row] + (0..=row).map(|k| self.factor[row][k] * standard[k]).sum::<f64>();
        }
        point
    }

    /// ln of prior density over that of prior and proposal mixed.
    fn log_prior_over_mixture(&self, point: &Point) -> f64 {
        let mut standard = [0.0; MOST_UNKNOWNS];
        for row in 0..self.unknowns {
            let inner: f64 = (0..row).map(|k| self.factor[row][k] * standard[k]).sum();
            standard[row] = (point[row] - self.mean[row] - inner) / self.factor[row][row];
        }
        let square = |p: &Point| p[..self.unknowns].iter().map(|x| x * x).sum::<f64>();
        let log_prior = -0.5 * square(point);
        let log_proposal = -0.5 * square(&standard) - self.log_determinant;
        let most = log_prior.max(log_proposal);
        let mixture =
            DEFENSIVE * (log_prior - most).exp() + (1.0 - DEFENSIVE) * (log_proposal - most).exp();
        log_prior - most - mixture.ln()
    }
}
