//! The most likely values of a hierarchical model of interval-censored normals, and how sure they are.
//!
//! ln dose = mean + thickness + wetness + body + spell of days + mould + noise. Newton's method on the logarithm of
//! the posterior; moulds are eliminated one by one, so that the cost grows in step with the casts.

use super::interval::likelihood;

/// Mean, thickness and wetness; the bodies come after them, then the spells.
pub const SHARED: usize = 3;
/// One note in two hundred is wrong about before and after (a guess).
const ODD: f64 = 0.005;
const MOST_STEPS: usize = 12;
const CLOSE_ENOUGH: f64 = 5e-3;
/// No step goes further than this.
const LONGEST_STEP: f64 = 0.7;

/// What is taken from a cast, or asked of one.
#[derive(Debug, Clone, Copy)]
pub struct Row {
    pub mould: usize,
    pub body: Option<usize>,
    /// Which spell of days, counted back, and how far it goes with that.
    pub spell: Option<(usize, f64)>,
    /// 1, thickness and wetness, the last two beside the shop's usual.
    pub shared: [f64; SHARED],
    /// How much wider than usual it varies.
    pub wider: f64,
    /// What it counts for, from 1 down.
    pub weight: f64,
}

/// Normal priors: mean and standard deviation of each shared value; standard deviations of bodies,
/// spells, moulds and noise.
#[derive(Debug, Clone, Copy)]
pub struct Priors {
    pub shared: [(f64, f64); SHARED],
    pub bodies: f64,
    pub spells: f64,
    pub moulds: f64,
    pub noise: f64,
}

/// The mode, and the curvature of the log posterior around it.
#[derive(Debug, Clone)]
pub struct Fit {
    pub priors: Priors,
    bodies: usize,
    values: Vec<f64>,
    moulds: Vec<f64>,
    /// Inverse of the shared values' curvature with the moulds eliminated, row by row.
    covariance: Vec<f64>,
    /// Curvature of each mould by itself, and with the shared values.
    of_moulds: Vec<f64>,
    crossed: Vec<f64>,
    /// Laplace's approximation to ln evidence.
    pub evidence: f64,
}

impl Fit {
    /// From rows with the bounds of their ln dose; `start` is a fit of the same rows nearby.
    pub fn new(
        rows: &[(Row, (f64, f64))],
        (moulds, bodies, spells): (usize, usize, usize),
        priors: Priors,
        start: Option<&Fit>,
    ) -> Fit {
        let count = SHARED + bodies + spells;
        let mut fit = Fit {
            priors,
            bodies,
            values: (0..count).map(|at| priors.of(at, bodies).0).collect(),
            moulds: vec![0.0; moulds],
            covariance: vec![0.0; count * count],
            of_moulds: vec![0.0; moulds],
            crossed: vec![0.0; moulds * count],
            evidence: 0.0,
        };
        if let Some(start) = start {
            fit.values.clone_from(&start.values);
            fit.moulds.clone_from(&start.moulds);
        }
        for _ in 0..MOST_STEPS {
            if fit.step(rows) < CLOSE_ENOUGH {
                break;
            }
        }
        fit
    }

    /// One step of Newton's method; how far it went.
    fn step(&mut self, rows: &[(Row, (f64, f64))]) -> f64 {
        let count = self.values.len();
        let priors = self.priors;
        let (mut curved, mut pull) = (vec![0.0; count * count], vec![0.0; count]);
        self.evidence = 0.0;
        for at in 0..count {
            let (mean, spread) = priors.of(at, self.bodies);
            let apart = (self.values[at] - mean) / spread;
            curved[at * count + at] = spread.powi(-2);
            pull[at] = -apart / spread;
            self.evidence -= 0.5 * apart * apart + spread.ln();
        }
        let of_mould = priors.moulds.powi(-2);
        self.of_moulds.fill(of_mould);
        self.crossed.fill(0.0);
        let mut pulls: Vec<f64> = self.moulds.iter().map(|value| -value * of_mould).collect();
        for value in &self.moulds {
            self.evidence -= 0.5 * value * value * of_mould + priors.moulds.ln();
        }
        for (row, bounds) in rows {
            let seen = likelihood(*bounds, self.mean(row), priors.noise * row.wider, ODD);
            self.evidence += row.weight * seen.log;
            let (slope, bend) = (row.weight * seen.slope, row.weight * seen.bend);
            pulls[row.mould] += slope;
            self.of_moulds[row.mould] += bend;
            for (at, by) in row.terms(self.bodies) {
                pull[at] += slope * by;
                self.crossed[row.mould * count + at] += bend * by;
                for (other, by_other) in row.terms(self.bodies) {
                    curved[at * count + other] += bend * by * by_other;
                }
            }
        }
        for (mould, own) in self.of_moulds.iter().enumerate() {
            let crossed = &self.crossed[mould * count..(mould + 1) * count];
            self.evidence -= 0.5 * own.ln();
            for at in (0..count).filter(|at| crossed[*at] != 0.0) {
                pull[at] -= crossed[at] * pulls[mould] / own;
                for other in 0..count {
                    curved[at * count + other] -= crossed[at] * crossed[other] / own;
                }
            }
        }
        self.evidence -= 0.5 * invert(&mut curved, count);
        self.covariance = curved;
        let mut furthest: f64 = 0.0;
        let mut moves = vec![0.0; count];
        for (at, made) in moves.iter_mut().enumerate() {
            let row = &self.covariance[at * count..(at + 1) * count];
            let step: f64 = row.iter().zip(&pull).map(|(by, pull)| by * pull).sum();
            *made = step.clamp(-LONGEST_STEP, LONGEST_STEP);
            self.values[at] += *made;
            furthest = furthest.max(step.abs());
        }
        for (mould, value) in self.moulds.iter_mut().enumerate() {
            let crossed = &self.crossed[mould * count..(mould + 1) * count];
            let with: f64 = crossed.iter().zip(&moves).map(|(by, step)| by * step).sum();
            let step = (pulls[mould] - with) / self.of_moulds[mould];
            *value += step.clamp(-LONGEST_STEP, LONGEST_STEP);
            furthest = furthest.max(step.abs());
        }
        furthest
    }

    /// The mean of ln dose of such a cast.
    pub fn mean(&self, row: &Row) -> f64 {
        let shared: f64 = row.terms(self.bodies).map(|(at, by)| by * self.values[at]).sum();
        shared + self.moulds[row.mould]
    }

    /// How well that mean is known: its variance.
    pub fn variance(&self, row: &Row) -> f64 {
        let count = self.values.len();
        let own = self.of_moulds[row.mould];
        let crossed = &self.crossed[row.mould * count..(row.mould + 1) * count];
        let mut beside: Vec<f64> = crossed.iter().map(|by| -by / own).collect();
        for (at, by) in row.terms(self.bodies) {
            beside[at] += by;
        }
        let mut sum = 1.0 / own;
        for (at, by) in beside.iter().enumerate() {
            let row = &self.covariance[at * count..(at + 1) * count];
            sum += by * row.iter().zip(&beside).map(|(c, other)| c * other).sum::<f64>();
        }
        if row.body.is_none() {
            sum += self.priors.bodies.powi(2);
        }
        let apart = row.spell.map_or(1.0, |(_, by)| 1.0 - by * by);
        sum + apart * self.priors.spells.powi(2)
    }
}

impl Row {
    /// Places and factors of its values.
    fn terms(&self, bodies: usize) -> impl Iterator<Item = (usize, f64)> + use<> {
        let body = self.body.map(|body| (SHARED + body, 1.0));
        let spell = self.spell.map(|(spell, by)| (SHARED + bodies + spell, by));
        self.shared.into_iter().enumerate().chain(body).chain(spell)
    }
}

impl Priors {
    fn of(&self, at: usize, bodies: usize) -> (f64, f64) {
        let other = if at < SHARED + bodies { self.bodies } else { self.spells };
        self.shared.get(at).copied().unwrap_or((0.0, other))
    }
}

/// Inverts a symmetric positive matrix in its place; ln of its determinant.
fn invert(matrix: &mut [f64], count: usize) -> f64 {
    let mut log = 0.0;
    for pivot in 0..count {
        let at = pivot * count;
        let divisor = matrix[at + pivot].max(1e-12);
        log += divisor.ln();
        matrix[at + pivot] = 1.0;
        for value in &mut matrix[at..at + count] {
            *value /= divisor;
        }
        for row in (0..count).filter(|row| *row != pivot) {
            let factor = matrix[row * count + pivot];
            if factor == 0.0 {
                continue;
            }
            matrix[row * count + pivot] = 0.0;
            for column in 0..count {
                matrix[row * count + column] -= factor * matrix[at + column];
            }
        }
    }
    log
}
