//! What lies ahead besides the drop itself: the chamber's temperature, and what a look would tell.

use super::evidence::{GUIDE, TARGET, chance_of_word};
use super::known::{Either, Known};
use super::lanes::{LANES, Lanes};
use super::normal::Draws;
use super::sampler::{self, Point, Sample, Weighted, block};
use super::{Declined, Imagined, Question, middle, seed, still_going};
use crate::cone::Cone;
use crate::firing::Seen;
use crate::units::{Celsius, Moment, Span};

/// The chamber at one moment ahead, as a probe would read it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    pub at: Moment,
    /// The 5, 50 and 95 % quantiles.
    pub low: Celsius,
    pub middle: Celsius,
    pub high: Celsius,
}

/// What a look at one cone, made now, would do to the width of the 5-95 % window.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LookWorth {
    pub cone: Cone,
    pub width_now: Span,
    /// The width to be expected afterwards, over all that may be seen.
    pub width_after: Span,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Outlook {
    /// From now to well past the drop, at even steps; empty when nothing is known of the chamber.
    pub band: Vec<Band>,
    /// Looks at guide and target, the one that narrows most first.
    pub look_worth: Vec<LookWorth>,
}

/// Steps of the band from now to its end.
const STEPS: usize = 12;
/// The band ends this much after the 95 % quantile of the drop.
const BEYOND: Span = Span::minutes(30);
/// Firings drawn from the sample for the band.
const DRAWN: usize = 6 * LANES;

/// What lies ahead at `question.now`.
///
/// # Errors
/// [`Declined`], as for the forecast.
pub fn outlook(question: &Question) -> Result<Outlook, Declined> {
    still_going(question)?;
    let known = Known::of(question)?;
    let (model, _) = known.model(question)?;
    let sample = sampler::sample(&model, seed(&known.evidence));
    let mut look_worth: Vec<LookWorth> = [GUIDE, TARGET]
        .into_iter()
        .filter_map(|place| {
            let cone = known.evidence.cones.curves[place]?.cone;
            Some(look_worth(cone, place, &sample.firings))
        })
        .collect();
    look_worth.sort_by_key(|worth| worth.width_after);
    let knows_chamber = middle(&sample.firings, |imagined| imagined.chamber_c).is_some();
    let band = if knows_chamber { band(&known, &model, &sample, question.now) } else { Vec::new() };
    Ok(Outlook { band, look_worth })
}

fn band(known: &Known, model: &Either<'_>, sample: &Sample<Imagined>, now: Moment) -> Vec<Band> {
    let end =
        super::Drops::of(&sample.firings, known.evidence.lit).quantile(0.95).max(now) + BEYOND;
    let step = Span((end - now).0 / STEPS as i64);
    let times: Vec<Moment> = (0..=STEPS as i64).map(|at| now + Span(step.0 * at)).collect();
    let hours: Vec<f64> = times.iter().map(|at| known.evidence.hours(*at)).collect();
    let drawn: Vec<Point> =
        systematic(&sample.firings, seed(&known.evidence)).map(|at| sample.point(at)).collect();
    let courses: Vec<Vec<Lanes>> = drawn
        .chunks_exact(LANES)
        .map(|points| match model {
            Either::Clock(model) => model.chamber_at(&block(points), &hours),
            Either::OneReading(model) => model.chamber_at(&block(points), &hours),
            Either::Readings(model) => model.chamber_at(&block(points), &hours),
        })
        .collect();
    let at_time = |at: usize| {
        let mut values: Vec<f64> = courses.iter().flat_map(|course| course[at]).collect();
        values.sort_by(f64::total_cmp);
        let quantile = |part: f64| Celsius(values[(part * (values.len() - 1) as f64) as usize]);
        Band { at: times[at], low: quantile(0.05), middle: quantile(0.5), high: quantile(0.95) }
    };
    (0..times.len()).map(at_time).collect()
}

/// Firings drawn evenly from a weighted sample, by their places in it.
fn systematic(sample: &[Weighted<Imagined>], seed: u64) -> impl Iterator<Item = usize> {
    let mut level = Draws::seeded(seed).uniform() / DRAWN as f64;
    let mut sum = 0.0;
    sample.iter().enumerate().flat_map(move |(at, drawn)| {
        sum += drawn.weight;
        let times = (((sum - level) * DRAWN as f64).ceil()).max(0.0);
        level += times / DRAWN as f64;
        std::iter::repeat_n(at, times as usize)
    })
}

fn look_worth(cone: Cone, place: usize, sample: &[Weighted<Imagined>]) -> LookWorth {
    let mut ordered: Vec<(f64, f64, f64)> =
        sample.iter().map(|s| (s.firing.drop_h, s.weight, s.firing.heat_work[place])).collect();
    ordered.sort_by(|a, b| a.0.total_cmp(&b.0));
    let width = |weight: &dyn Fn(&(f64, f64, f64)) -> f64| {
        let whole: f64 = ordered.iter().map(weight).sum();
        let quantile = |part: f64| {
            let mut sum = 0.0;
            let found = ordered.iter().find(|entry| {
                sum += weight(entry);
                sum >= part * whole
            });
            found.map_or(0.0, |entry| entry.0)
        };
        (whole, quantile(0.95) - quantile(0.05))
    };
    let (_, now_h) = width(&|entry| entry.1);
    let after_h: f64 = Seen::ALL
        .into_iter()
        .map(|word| width(&|entry| entry.1 * chance_of_word(word, entry.2)))
        .map(|(chance, width)| chance * width)
        .sum();
    LookWorth { cone, width_now: Span::from_hours(now_h), width_after: Span::from_hours(after_h) }
}
