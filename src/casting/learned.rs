//! What all casts together teach: the fit at each of a few spreads and exponents, with its chance.

use std::iter;

use super::casts::{Cast, Casting};
use super::dose::Dose;
use super::event::Found;
use super::fit::{Fit, Priors, Row, SHARED};
use super::interval::likelihood;
use super::late::{Late, Opened};
use crate::units::{Moment, Span};

/// ln of 22 hours at the reference: what to expect before anything is seen (common practice, no
/// source; published practice goes from 1 to 48 hours).
const MEAN: (f64, f64) = (3.09, 0.7);
/// A wall twice as thick has twice the water and one face (a guess).
const THICKNESS: (f64, f64) = (1.0, 0.4);
/// ln of how much longer a mould takes that was opened just before: 1.17 by a supplier's trial of
/// three casts without drying.
const WETNESS: (f64, f64) = (0.2, 0.3);
const BODIES: f64 = 0.2;
/// Noise of a cast, differences between moulds and between spells of days, powers of the deficit; each with ln of its prior chance.
const NOISES: [f64; 7] = [0.07, 0.1, 0.13, 0.165, 0.21, 0.3, 0.5];
const NOISE: (f64, f64) = (-1.75, 0.5);
const MOULDS: [(f64, f64); 3] = [(0.12, -1.0), (0.25, -0.7), (0.5, -1.2)];
const SPELLS: [f64; 3] = [0.03, 0.12, 0.28];
const POWERS: [f64; 5] = [0.5, 0.25, 0.75, 0.0, 1.0];
const POWER: (f64, f64) = (0.5, 0.35);
/// A spell lasts so long, and so many are told apart; how far the days to come go with the last one
/// (guesses).
const SPELL: Span = Span::hours(6 * 24);
const MOST_SPELLS: usize = 15;
const GOES_ON: f64 = 0.6;
/// A cast counts for half after so long: moulds wear.
const HALF: Span = Span::hours(90 * 24);
/// What counts for less is left out, and all but so many of the last.
const LEAST: f64 = 0.05;
const MOST_CASTS: usize = 5000;
/// Fits that are less likely than the best by this, ln, are left out.
const FAR_LESS: f64 = 3.0;
const MOST_FITS: usize = 8;
/// Fits of less chance than this are left out.
const LEAST_CHANCE: f64 = 1e-3;
/// What cracked let go so long before at least, ln dose (a guess: a good deal less than is usual).
const FORGIVEN: f64 = 0.35;
/// A check is so fine at best, ln dose.
const FINEST: f64 = 0.03;

/// One exponent of the air, and what was fitted with it.
#[derive(Debug)]
pub struct Under {
    pub dose: Dose,
    pub fits: Vec<(Fit, f64)>,
}

/// What was learned of a shop.
#[derive(Debug)]
pub struct Learned {
    pub under: Vec<Under>,
    pub late: Late,
    centre: (f64, f64),
}

impl Learned {
    pub fn new(casting: &Casting) -> Learned {
        let emptied = casting.casts.iter().rev().filter(|cast| cast.window().is_some());
        let finished: Vec<(&Cast, f64)> = emptied
            .filter_map(|cast| Some((cast, weight(casting.now - cast.emptied?.0))))
            .take_while(|(_, weight)| *weight >= LEAST)
            .take(MOST_CASTS)
            .collect();
        let centre = centre(&finished);
        let counts = (casting.moulds.len(), casting.bodies.len(), MOST_SPELLS);
        let powers = if casting.air.is_some() { &POWERS[..] } else { &[0.0] };
        let mut under: Vec<Under> = Vec::new();
        for power in powers {
            let dose = Dose::new(casting.air.as_ref(), *power);
            let rows: Vec<(Row, (f64, f64))> = finished
                .iter()
                .filter_map(|(cast, weight)| {
                    let spell = (casting.now - cast.drained).0 / SPELL.0;
                    let spell = Some((spell as usize, 1.0)).filter(|(at, _)| *at < MOST_SPELLS);
                    Some((row(cast, *weight, centre, spell), bounds(cast, &dose)?))
                })
                .collect();
            let apart = (power - POWER.0) / POWER.1;
            let log_power = -0.5 * apart * apart;
            let fits = match under.first() {
                None => fits(&rows, counts, log_power),
                // What is unlikely with one exponent is left out with the others.
                Some(Under { fits: near, .. }) => {
                    let again = |(start, log): &(Fit, f64)| {
                        let fit = Fit::new(&rows, counts, start.priors, Some(start));
                        let log = log - start.evidence + fit.evidence + log_power;
                        (fit, log)
                    };
                    let first = again(&near[0]);
                    // Nor is an exponent fitted further that is unlikely with what is likeliest.
                    let rest = if first.1 < near[0].1 - FAR_LESS { &[] } else { &near[1..] };
                    iter::once(first).chain(rest.iter().map(again)).collect()
                }
            };
            under.push(Under { dose, fits });
        }
        keep_likely(&mut under);
        let late = late(&finished, &under, centre);
        Learned { under, late, centre }
    }

    /// How much later than expected each cast let go, in ln dose: of an interval, what is expected within it.
    pub fn residuals<'c>(&self, casting: &'c Casting) -> Vec<(&'c Cast, f64)> {
        let Some((under, fit)) = likeliest(&self.under) else { return Vec::new() };
        let late = |cast: &'c Cast| {
            let (low, high) = bounds(cast, &under.dose)?;
            let (mean, spread) = expected(fit, &row(cast, 1.0, self.centre, None));
            let bounds = ((low - mean) / spread, (high - mean) / spread);
            // What is beyond all that was expected is at its nearer bound.
            let within = likelihood(bounds, 0.0, 1.0, 0.0).slope.clamp(bounds.0, bounds.1);
            Some((cast, spread * within))
        };
        casting.casts.iter().filter_map(late).collect()
    }

    /// What is asked of a cast.
    pub fn row(&self, cast: &Cast) -> Row {
        row(cast, 1.0, self.centre, Some((0, GOES_ON)))
    }
}

/// The likeliest fits over noise and spreads of moulds and spells, the best first: at each noise, the widest
/// first, since from there Newton's method finds its way, then at each spread where the noise is likely.
fn fits(
    rows: &[(Row, (f64, f64))],
    counts: (usize, usize, usize),
    log_power: f64,
) -> Vec<(Fit, f64)> {
    let shared: [(f64, f64); SHARED] = [MEAN, THICKNESS, WETNESS];
    let fit = |noise: f64, (moulds, log_moulds): (f64, f64), spells, start: Option<&Fit>| {
        let priors = Priors { shared, bodies: BODIES, spells, moulds, noise };
        let fit = Fit::new(rows, counts, priors, start);
        let apart = (noise.ln() - NOISE.0) / NOISE.1;
        let log = fit.evidence + log_power + log_moulds - 0.5 * apart * apart;
        (fit, log)
    };
    let mut fits: Vec<(Fit, f64)> = Vec::new();
    for noise in NOISES.into_iter().rev() {
        fits.push(fit(noise, MOULDS[1], SPELLS[1], fits.last().map(|(fit, _)| fit)));
    }
    keep_near(&mut fits);
    for at in 0..fits.len() {
        let start = fits[at].0.clone();
        let others = MOULDS.into_iter().flat_map(|moulds| SPELLS.map(|spells| (moulds, spells)));
        for (moulds, spells) in others.filter(|other| *other != (MOULDS[1], SPELLS[1])) {
            fits.push(fit(start.priors.noise, moulds, spells, Some(&start)));
        }
    }
    keep_near(&mut fits);
    fits
}

/// Keeps those that are not far less likely than the best, and few, the best first.
fn keep_near(fits: &mut Vec<(Fit, f64)>) {
    fits.sort_by(|one, other| other.1.total_cmp(&one.1));
    let best = fits[0].1;
    fits.retain(|(_, log)| *log >= best - FAR_LESS);
    fits.truncate(MOST_FITS);
}

/// From logarithms to chances; what is unlikely is left out.
fn keep_likely(under: &mut Vec<Under>) {
    let logs = under.iter().flat_map(|under| under.fits.iter().map(|(_, log)| *log));
    let best = logs.fold(f64::NEG_INFINITY, f64::max);
    let mut sum = 0.0;
    for under in &mut *under {
        for (_, chance) in &mut under.fits {
            *chance = (*chance - best).exp();
            sum += *chance;
        }
    }
    for under in &mut *under {
        under.fits.retain_mut(|(_, chance)| {
            *chance /= sum;
            *chance >= LEAST_CHANCE
        });
    }
    under.retain(|under| !under.fits.is_empty());
}

fn weight(age: Span) -> f64 {
    (-age.as_hours() / HALF.as_hours()).exp2()
}

/// Mean thickness and wetness of the casts.
fn centre(casts: &[(&Cast, f64)]) -> (f64, f64) {
    let sum: f64 = casts.iter().map(|(_, weight)| weight).sum();
    if sum == 0.0 {
        return (0.0, 0.0);
    }
    let mean = |value: fn(&Cast) -> f64| {
        casts.iter().map(|(cast, weight)| weight * value(cast)).sum::<f64>() / sum
    };
    (mean(|cast| cast.thickness), mean(|cast| cast.wet))
}

fn row(cast: &Cast, weight: f64, centre: (f64, f64), spell: Option<(usize, f64)>) -> Row {
    let shared = [1.0, cast.thickness - centre.0, cast.wet - centre.1];
    Row { mould: cast.mould, body: cast.body, spell, shared, wider: cast.wider, weight }
}

/// The bounds of ln dose at which a finished cast let go.
fn bounds(cast: &Cast, dose: &Dose) -> Option<(f64, f64)> {
    let (after, before) = cast.window()?;
    let ln = |at: Moment| dose.between(cast.drained, at).max(0.1).ln();
    let low = after.map_or(f64::NEG_INFINITY, ln);
    let cracked = matches!(cast.emptied, Some((_, Some(Found::Cracked))));
    let ago = if cracked { FORGIVEN } else { 0.0 };
    let high = before.map_or(f64::INFINITY, |at| (ln(at) - ago).max(low + FINEST));
    Some((low, high))
}

/// The likeliest fit, with its exponent.
fn likeliest(under: &[Under]) -> Option<(&Under, &Fit)> {
    let all = under.iter().flat_map(|under| under.fits.iter().map(move |fit| (under, fit)));
    let best = all.max_by(|a, b| a.1.1.total_cmp(&b.1.1));
    best.map(|(under, (fit, _))| (under, fit))
}

/// Mean and spread of ln dose of letting go.
fn expected(fit: &Fit, row: &Row) -> (f64, f64) {
    (fit.mean(row), (fit.variance(row) + (fit.priors.noise * row.wider).powi(2)).sqrt())
}

/// What opened casts say of being late, by the likeliest fit.
fn late(finished: &[(&Cast, f64)], under: &[Under], centre: (f64, f64)) -> Late {
    let Some((under, fit)) = likeliest(under) else { return Late::new(&[]) };
    let opened: Vec<Opened> = finished
        .iter()
        .filter_map(|&(cast, weight)| {
            let (at, found) = cast.emptied?;
            if !matches!(found, Some(Found::Well | Found::Cracked)) {
                return None;
            }
            let (low, high) = bounds(cast, &under.dose)?;
            let row = row(cast, weight, centre, None);
            let end = under.dose.between(cast.drained, at).max(0.1).ln();
            Some(Opened {
                ratios: ratios((low, high), expected(fit, &row), end),
                cracked: found == Some(Found::Cracked),
                weight,
            })
        })
        .collect();
    Late::new(&opened)
}

/// ln of opening over letting go, at points of a normal distribution between two bounds.
fn ratios((low, high): (f64, f64), (mean, spread): (f64, f64), end: f64) -> Vec<(f64, f64)> {
    const POINTS: u32 = 9;
    let from = low.max(mean - 4.0 * spread).min(high - FINEST);
    let to = high.min(mean + 4.0 * spread).max(from + FINEST);
    let mut points: Vec<(f64, f64)> = (0..POINTS)
        .map(|at| {
            let ln = from + (to - from) * (f64::from(at) + 0.5) / f64::from(POINTS);
            let z = (ln - mean) / spread;
            (end - ln, (-0.5 * z * z).exp() + 1e-12)
        })
        .collect();
    let sum: f64 = points.iter().map(|(_, share)| share).sum();
    for (_, share) in &mut points {
        *share /= sum;
    }
    points
}
