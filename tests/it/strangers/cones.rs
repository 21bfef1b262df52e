//! Cones that bend as a softening glass does.
//!
//! A cone is a leaning beam of stiff glass with undissolved grains in it. Gravity turns it at a
//! rate of `fluidity * sin(lean)`; fluidity follows Arrhenius in temperature and grows as grains
//! dissolve, which takes time of its own, and the body of the cone lags behind the chamber. What a
//! cone has gone through is therefore not one number: the order of hot and less hot hours counts.
//! Rate, activation and stiffening are fitted to the published end temperatures of each cone.

use std::collections::HashMap;
use std::sync::{LazyLock, Mutex, PoisonError};

/// Orton Ceramic Foundation, "Temperature Equivalents for Orton Pyrometric Cones", wall chart of
/// 2016: C at the end point for steady C per hour.
const CHART: &str = include_str!("../../../assets/cone_chart.csv");

/// Lean of a fresh cone and of one that is down, degrees (the same foundation).
pub(crate) const FRESH_DEG: f64 = 8.0;
pub(crate) const DOWN_DEG: f64 = 90.0;

const KELVIN: f64 = 273.15;
/// Lag of the cone's body behind the chamber, hours. A guess: a few grams of glass.
const BODY_LAG_H: f64 = 45.0 / 3600.0;
/// Hours in which two thirds of the grains dissolve at the reference temperature, and the
/// activation of that, K. Guesses: slow against the bending, with a weaker call for heat.
const DISSOLVING_H: f64 = 0.75;
const DISSOLVING_K: f64 = 28_000.0;

/// Published end points of a self-supporting cone, (C per hour, C).
pub(crate) fn chart_ends(cone: &str) -> Vec<(f64, f64)> {
    CHART
        .lines()
        .filter_map(|line| {
            let fields: Vec<_> = line.split(',').collect();
            (fields[0] == cone && fields[1] == "self-supporting")
                .then(|| (fields[2].parse().unwrap(), fields[3].parse().unwrap()))
        })
        .collect()
}

/// How one number of cone softens.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Kinetics {
    reference_k: f64,
    ln_turns_per_h: f64,
    activation_k: f64,
    /// Logarithm of how much stiffer the glass is while no grain has dissolved.
    stiffening: f64,
}

impl Kinetics {
    /// Kinetics of a cone of the chart.
    pub(crate) fn of(cone: &str) -> Self {
        Self::remembered(cone.to_owned(), || chart_ends(cone))
    }

    /// Kinetics half a cone beyond the first of two: end temperatures in the middle.
    pub(crate) fn halfway(cone: &str, next: &str) -> Self {
        Self::remembered(format!("{cone} to {next}"), || {
            let nexts = chart_ends(next);
            let middle = |&(rate, end): &(f64, f64)| {
                let &(_, beyond) = nexts.iter().find(|other| other.0 == rate)?;
                Some((rate, f64::midpoint(end, beyond)))
            };
            chart_ends(cone).iter().filter_map(middle).collect()
        })
    }

    /// Fitting takes longer than firing, so each is done once.
    fn remembered(name: String, ends: impl FnOnce() -> Vec<(f64, f64)>) -> Self {
        static FITTED: LazyLock<Mutex<HashMap<String, Kinetics>>> = LazyLock::new(Mutex::default);
        let mut fitted = FITTED.lock().unwrap_or_else(PoisonError::into_inner);
        *fitted.entry(name).or_insert_with(|| Self::fitted(&ends()))
    }

    /// Of a few stiffenings the one that comes nearest to all end points, with the rate and the
    /// activation that suit it best.
    fn fitted(ends: &[(f64, f64)]) -> Self {
        let stiffenings: &[f64] = if ends.len() > 2 { &[0.0, 0.7, 1.4, 2.1] } else { &[0.7] };
        let candidates = stiffenings.iter().map(|&stiffening| Self::nearest(ends, stiffening));
        candidates.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap().1
    }

    /// Kinetics of the smallest largest miss, with that miss, C: Gauss and Newton in the two
    /// unknowns, slopes by differences; large misses gain weight in later rounds (Lawson 1961).
    fn nearest(ends: &[(f64, f64)], stiffening: f64) -> (f64, Self) {
        let (last_rate, last_c) = ends[ends.len() - 1];
        let (rate, c) = ends[ends.len() - 2];
        let width = (last_c - c) / (last_rate / rate).ln();
        let reference_k = c + KELVIN;
        let mut kinetics = Self {
            reference_k,
            ln_turns_per_h: (2.7 * rate / width).ln(),
            activation_k: reference_k * reference_k / width,
            stiffening,
        };
        let misses = |k: &Self| ends.iter().map(|&(rate, c)| k.end_c(rate) - c).collect::<Vec<_>>();
        let mut weights = vec![1.0; ends.len()];
        let mut best = (f64::INFINITY, kinetics);
        for round in 0..16 {
            let now = misses(&kinetics);
            let largest = now.iter().fold(0.0, |largest: f64, miss| largest.max(miss.abs()));
            if largest < best.0 {
                best = (largest, kinetics);
            }
            let turns = 0.05;
            let activation = 0.01 * kinetics.activation_k;
            let quicker = Self { ln_turns_per_h: kinetics.ln_turns_per_h + turns, ..kinetics };
            let steeper = Self { activation_k: kinetics.activation_k + activation, ..kinetics };
            let (quicker, steeper) = (misses(&quicker), misses(&steeper));
            let mut sums = [0.0; 5];
            for (place, weight) in weights.iter_mut().enumerate() {
                let (now, quicker, steeper) = (now[place], quicker[place], steeper[place]);
                let (by_turns, by_activation) =
                    ((quicker - now) / turns, (steeper - now) / activation);
                sums[0] += *weight * by_turns * by_turns;
                sums[1] += *weight * by_turns * by_activation;
                sums[2] += *weight * by_activation * by_activation;
                sums[3] += *weight * by_turns * now;
                sums[4] += *weight * by_activation * now;
                if round > 3 && largest > 0.1 {
                    *weight *= (now.abs() / largest).max(0.2).sqrt();
                }
            }
            let determinant = sums[0] * sums[2] - sums[1] * sums[1];
            kinetics.ln_turns_per_h -= (sums[2] * sums[3] - sums[1] * sums[4]) / determinant;
            let change = (sums[0] * sums[4] - sums[1] * sums[3]) / determinant;
            let bound = 0.3 * kinetics.activation_k;
            kinetics.activation_k -= change.clamp(-bound, bound);
        }
        best
    }

    /// Chamber temperature at which a cone of these kinetics is down under a steady climb, C.
    pub(crate) fn end_c(&self, rate_c_per_h: f64) -> f64 {
        const STEP_C: f64 = 0.5;
        let mut chamber_c = self.reference_k - KELVIN - 200.0;
        let mut cone = Cone::new(*self, 0.0);
        cone.body_c = chamber_c;
        loop {
            let before = cone.turn;
            chamber_c += STEP_C;
            cone.step(STEP_C / rate_c_per_h, chamber_c);
            if cone.turn >= 0.0 {
                return chamber_c - STEP_C * cone.turn / (cone.turn - before);
            }
            assert!(chamber_c < 2_000.0, "{self:?} never bends");
        }
    }

    fn turns_per_h(&self, k: f64, undissolved: f64) -> f64 {
        let arrhenius =
            self.ln_turns_per_h + self.activation_k * (1.0 / self.reference_k - 1.0 / k);
        (arrhenius - self.stiffening * undissolved).exp()
    }
}

/// One cone in the kiln.
#[derive(Debug, Clone)]
pub(crate) struct Cone {
    kinetics: Kinetics,
    /// How much hotter the cone takes the chamber to be than a cone of the chart would, C.
    tolerance_c: f64,
    body_c: f64,
    undissolved: f64,
    /// Logarithm of the tangent of half the lean; it grows by the fluidity and is zero at 90 degrees.
    turn: f64,
}

impl Cone {
    pub(crate) fn new(kinetics: Kinetics, tolerance_c: f64) -> Self {
        let turn = (FRESH_DEG.to_radians() / 2.0).tan().ln();
        Self { kinetics, tolerance_c, body_c: 20.0, undissolved: 1.0, turn }
    }

    pub(crate) fn step(&mut self, hours: f64, chamber_c: f64) {
        let lag = chamber_c - self.body_c;
        let after_c = chamber_c - lag * (-hours / BODY_LAG_H).exp();
        let k = f64::midpoint(self.body_c, after_c) + self.tolerance_c + KELVIN;
        self.body_c = after_c;
        let reference_k = self.kinetics.reference_k;
        // Far below its end point nothing moves in a cone.
        if k < reference_k - 250.0 {
            return;
        }
        let dissolving = (DISSOLVING_K * (1.0 / reference_k - 1.0 / k)).exp() / DISSOLVING_H;
        self.undissolved *= (-hours * dissolving).exp();
        self.turn += hours * self.kinetics.turns_per_h(k, self.undissolved);
    }

    /// Lean from upright, degrees; a cone that is down lies still.
    pub(crate) fn lean_deg(&self) -> f64 {
        (2.0 * self.turn.exp().atan()).to_degrees().min(DOWN_DEG)
    }
}
