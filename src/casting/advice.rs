//! What is said of one mould: its window, the next check, and whether something is wrong.

use super::casts::{Cast, Casting};
use super::dose::Dose;
use super::fit::Fit;
use super::interval::below;
use super::late::Late;
use super::learned::Learned;
use super::plan::{Candidate, Plan, plan};
use crate::units::{Moment, Span};

/// When it lets go, and when it is too late.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Window {
    pub opens_p05: Moment,
    pub opens_p50: Moment,
    pub opens_p95: Moment,
    pub late_p05: Moment,
    pub late_p50: Moment,
}

/// The answer for one mould.
#[derive(Debug, Clone, PartialEq)]
pub struct Advice {
    pub cast: Cast,
    pub hypothetical: bool,
    pub window: Window,
    /// The next check in hours when somebody is there.
    pub plan: Option<Plan>,
    /// Whether the plan is likely to end well.
    pub good: bool,
    /// When to pour instead.
    pub pour: Option<Moment>,
    /// It should have let go long ago: no forecast is worth anything.
    pub trouble: bool,
    /// Whether the late edge rests on the trade more than on the shop's own casts.
    pub late_of_the_trade: bool,
}

impl Advice {
    /// When to check next; none for a pouring that is better put off.
    pub fn next_check(&self) -> Option<Moment> {
        self.plan.filter(|_| self.pour.is_none()).map(|plan| plan.next)
    }
}

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NoAdvice {
    #[error("mould {0} is empty: pour it first, or ask with --if-poured BODY")]
    Empty(String),
    #[error("mould {0} is full: leave --if-poured out, or note first how it was opened")]
    Full(String),
}

/// Points of the distribution at each exponent, in spreads of a cast, and how far they go.
const STEP: f64 = 0.45;
const REACH: (i32, i32) = (-10, 17);
/// Freedom of the t that a cast's ln dose is taken for.
const FREEDOM: f64 = 8.0;
/// A cast lies no further out than this, in spreads.
const FURTHEST: f64 = 6.0;
/// How fine a "not yet" is, ln dose (a guess).
const JUDGED: f64 = 0.04;
/// How far the late edge goes with what is odd about this cast's letting go (a guess: all the way
/// if it is so many times that, not at all if it is a dryness of its own).
const FOLLOWS: f64 = 0.6;
/// Exponents of less chance are left out.
const LEAST: f64 = 0.02;
const LEAST_POINT: f64 = 1e-6;
/// The window that is told, as chances.
const TOLD: std::ops::RangeInclusive<f64> = 0.05..=0.95;
/// So many times the upper end of its window, and something is wrong.
const WRONG: f64 = 3.0;
/// Checks are planned to the hour, to two where they may be further ahead than this, and so on; and for so long
/// at most.
const TO_THE_HOUR: Span = Span::hours(100);
const PLANNED_FOR: Span = Span::hours(21 * 24);
/// Fewer cracks than this are good to pour for, and so many fewer worth waiting for; a cast that is
/// there has no good hour beyond these chances (chosen by simulation).
const CRACKS: f64 = 0.06;
const WORTH_WAITING: f64 = 0.04;
const READY: f64 = 0.5;
const LOST: f64 = 0.15;

impl Learned {
    /// What is said of the cast in a mould, or of one that is poured now.
    ///
    /// # Errors
    /// [`NoAdvice`] for an empty mould, or a full one that is to be poured.
    pub fn advice(
        &self,
        casting: &Casting,
        mould: usize,
        if_poured: Option<&str>,
    ) -> Result<Advice, NoAdvice> {
        let code = || casting.moulds[mould].code.clone();
        let (cast, hypothetical) = match (casting.full[mould], if_poured) {
            (Some(full), None) => (casting.casts[full].clone(), false),
            (None, Some(body)) => (casting.if_poured(mould, body, casting.now), true),
            (None, None) => return Err(NoAdvice::Empty(code())),
            (Some(_), Some(_)) => return Err(NoAdvice::Full(code())),
        };
        let first = Forecast::new(self, &cast, None);
        let usual_h = (first.quantile(*TOLD.end()) - cast.drained).as_hours();
        let age_h = (casting.now - cast.drained).as_hours();
        let trouble = !hypothetical && age_h > WRONG * usual_h;
        let forecast = match cast.not_yet() {
            Some(not_yet) => Forecast::new(self, &cast, Some(not_yet)),
            None => first,
        };
        let window = forecast.window();
        let plan = plan(&forecast.candidates(casting));
        let pour = match (if_poured, plan) {
            (Some(body), Some(plan)) => self.better(casting, (mould, body), plan.cracks),
            _ => None,
        };
        let good = pour.is_none()
            && plan.is_some_and(|plan| hypothetical || plan.ready >= READY && plan.cracks <= LOST);
        let late_of_the_trade = self.late.is_of_the_trade();
        Ok(Advice { cast, hypothetical, window, plan, good, pour, trouble, late_of_the_trade })
    }

    /// The chance that a cast let go within the window told when it was drained, by what was seen: after
    /// and before which moment.
    pub fn holds(&self, cast: &Cast, (after, before): (Option<Moment>, Option<Moment>)) -> f64 {
        let forecast = Forecast::new(self, cast, None);
        let low = after.map_or(0.0, |at| forecast.chance_before(at));
        let high = before.map_or(1.0, |at| forecast.chance_before(at));
        if high - low < LEAST_POINT {
            return f64::from(u8::from(TOLD.contains(&low)));
        }
        (high.min(*TOLD.end()) - low.max(*TOLD.start())).max(0.0) / (high - low)
    }

    /// The next morning on which to pour instead, if more pieces would come out whole than now.
    fn better(&self, casting: &Casting, (mould, body): (usize, &str), now: f64) -> Option<Moment> {
        if now <= CRACKS {
            return None;
        }
        let staffed = casting.staffed.as_ref()?;
        let week = casting.now + Span::hours(7 * 24);
        let mornings = staffed.openings(casting.now, week);
        let cracks = mornings.into_iter().filter_map(|at| {
            let cast = casting.if_poured(mould, body, at);
            let candidates = Forecast::new(self, &cast, None).candidates(casting);
            Some((at, plan(&candidates)?.cracks))
        });
        let cracks: Vec<(Moment, f64)> = cracks.collect();
        let least = cracks.iter().map(|(_, cracks)| *cracks).fold(f64::INFINITY, f64::min);
        let fair = CRACKS.max(least + WORTH_WAITING);
        cracks.into_iter().find(|(_, cracks)| *cracks <= fair && now > fair).map(|(at, _)| at)
    }
}

/// One moment at which it may let go.
#[derive(Debug, Clone, Copy)]
struct Point {
    at: Moment,
    /// Which exponent, and its ln dose.
    under: usize,
    ln: f64,
    chance: f64,
    /// The chance of all before it, and of half of what it stands for itself.
    by: f64,
}

/// How the late edge goes with the dose at which it lets go, at one exponent.
#[derive(Debug, Clone, Copy)]
struct Edge<'a> {
    dose: &'a Dose,
    /// Mean of ln dose of letting go, and the spread of the edge around its own mean.
    mean: f64,
    spread: f64,
}

/// The distribution of one cast.
struct Forecast<'a> {
    late: Late,
    drained: Moment,
    edges: Vec<Edge<'a>>,
    /// In the order of time.
    points: Vec<Point>,
}

impl<'a> Forecast<'a> {
    fn new(learned: &'a Learned, cast: &Cast, not_yet: Option<Moment>) -> Forecast<'a> {
        let row = learned.row(cast);
        let mut points = Vec::new();
        let mut edges = Vec::new();
        for under in &learned.under {
            let sum: f64 = under.fits.iter().map(|(_, chance)| chance).sum();
            if sum < LEAST {
                continue;
            }
            let moments = |(fit, chance): &(Fit, f64)| {
                let mean = fit.mean(&row);
                let noise = fit.priors.noise * row.wider;
                (chance / sum, mean, fit.variance(&row) + noise * noise)
            };
            let parts: Vec<(f64, f64, f64)> = under.fits.iter().map(moments).collect();
            let mean: f64 = parts.iter().map(|(share, mean, _)| share * mean).sum();
            let variance: f64 = parts
                .iter()
                .map(|(share, at, variance)| share * (variance + (at - mean).powi(2)))
                .sum::<f64>()
                + under.dose.unforeseen.powi(2);
            // Student's t of this freedom and variance.
            let spread = (variance * (FREEDOM - 2.0) / FREEDOM).sqrt();
            let seen = not_yet.map(|at| under.dose.between(cast.drained, at).max(0.1).ln());
            // A check far behind all that was expected is believed.
            let middle = seen.map_or(mean, |seen| mean.max(seen - FURTHEST * spread));
            // It lies between two points, not at one or the other.
            let shift =
                seen.map_or(0.5, |seen| ((seen - middle) / (STEP * spread)).rem_euclid(1.0));
            for step in REACH.0..=REACH.1 {
                let z = STEP * (f64::from(step) + shift - 0.5);
                let ln = middle + spread * z;
                let tail = (1.0 + z * z / FREEDOM).powf(-0.5 * (FREEDOM + 1.0));
                let after = seen.map_or(1.0, |seen| below((ln - seen) / JUDGED));
                let at = under.dose.reached(cast.drained, ln.exp());
                let chance = sum * tail * after;
                points.push(Point { at, under: edges.len(), ln, chance, by: 0.0 });
            }
            let own = (1.0 - FOLLOWS * FOLLOWS) * variance;
            edges.push(Edge {
                dose: &under.dose,
                mean,
                spread: own.sqrt().hypot(learned.late.spread),
            });
        }
        points.sort_by_key(|point| point.at);
        let sum: f64 = points.iter().map(|point| point.chance).sum::<f64>().max(1e-300);
        let mut by = 0.0;
        for point in &mut points {
            point.chance /= sum;
            point.by = by + 0.5 * point.chance;
            by += point.chance;
        }
        points.retain(|point| point.chance > LEAST_POINT);
        Forecast { late: learned.late, drained: cast.drained, edges, points }
    }

    /// The points before and after one from which on this no longer holds.
    fn around(&self, holds: impl Fn(&Point) -> bool) -> (Option<&Point>, Option<&Point>) {
        let after = self.points.partition_point(holds);
        (after.checked_sub(1).map(|before| &self.points[before]), self.points.get(after))
    }

    /// The moment before which it lets go with this chance.
    fn quantile(&self, chance: f64) -> Moment {
        match self.around(|point| point.by < chance) {
            (Some(low), Some(high)) => {
                let part = (chance - low.by) / (high.by - low.by).max(1e-12);
                low.at + Span::from_hours(part * (high.at - low.at).as_hours())
            }
            (None, Some(one)) | (Some(one), None) => one.at,
            (None, None) => self.drained,
        }
    }

    /// The chance that it lets go before a moment.
    fn chance_before(&self, at: Moment) -> f64 {
        match self.around(|point| point.at <= at) {
            (Some(low), Some(high)) => {
                let part = (at - low.at).as_hours() / (high.at - low.at).as_hours();
                low.by + part * (high.by - low.by)
            }
            (None, Some(_)) => 0.0,
            (_, None) => 1.0,
        }
    }

    /// The chance that it is too late by then.
    fn late_by(&self, at: Moment) -> f64 {
        let doses: Vec<f64> = self.lns(at);
        self.points.iter().map(|point| self.late(point, at, doses[point.under])).sum()
    }

    /// The chance that it lets go at this point and is too late at a moment of this ln dose.
    fn late(&self, point: &Point, at: Moment, ln: f64) -> f64 {
        if point.at >= at {
            return 0.0;
        }
        let Edge { mean, spread, .. } = self.edges[point.under];
        let edge = self.late.mean + mean + FOLLOWS * (point.ln - mean);
        let z = (ln - edge) / spread;
        // Most points are far from it.
        if z.abs() < 4.0 {
            point.chance * below(z)
        } else {
            point.chance * f64::from(u8::from(z > 0.0))
        }
    }

    fn lns(&self, at: Moment) -> Vec<f64> {
        self.edges.iter().map(|edge| edge.dose.between(self.drained, at).max(1e-3).ln()).collect()
    }

    fn late_quantile(&self, chance: f64) -> Moment {
        let (mut low, mut high) = (self.drained, self.quantile(1.0) + Span::hours(24));
        while self.late_by(high) < chance && high - low < PLANNED_FOR + PLANNED_FOR {
            high = high + (high - self.drained);
        }
        for _ in 0..24 {
            let middle = low + Span((high - low).0 / 2);
            if self.late_by(middle) < chance { low = middle } else { high = middle }
        }
        high
    }

    fn window(&self) -> Window {
        Window {
            opens_p05: self.quantile(*TOLD.start()),
            opens_p50: self.quantile(0.5),
            opens_p95: self.quantile(*TOLD.end()),
            late_p05: self.late_quantile(0.05),
            late_p50: self.late_quantile(0.5),
        }
    }

    /// Moments at which somebody is there, from the first at which it may be ready on.
    fn candidates(&self, casting: &Casting) -> Vec<Candidate> {
        let from = casting.now.max(self.drained).max(self.quantile(0.01));
        let until = (self.quantile(0.995) + Span::hours(48)).min(from + PLANNED_FOR);
        let step = Span::hours(1 + (until - from).0.max(0) / TO_THE_HOUR.0);
        let moments = match &casting.staffed {
            Some(staffed) => staffed.moments(from, until.max(from + Span::hours(96)), step),
            None => (0..=(until - from).0 / step.0).map(|nth| from + Span(nth * step.0)).collect(),
        };
        // From which point on it was still closed at each candidate before, and at none.
        let mut closed_from = vec![0];
        let candidate = |at: Moment| {
            let doses = self.lns(at);
            let mut late = vec![0.0; self.points.len() + 1];
            for (nth, point) in self.points.iter().enumerate().rev() {
                late[nth] = late[nth + 1] + self.late(point, at, doses[point.under]);
            }
            let late = closed_from.iter().map(|from| late[*from]).collect();
            let closed = self.points.partition_point(|point| point.at <= at);
            closed_from.push(closed);
            let closed = self.points[closed..].iter().map(|point| point.chance).sum();
            Candidate { at, hours: (at - from).as_hours(), closed, late }
        };
        moments.into_iter().map(candidate).collect()
    }
}
