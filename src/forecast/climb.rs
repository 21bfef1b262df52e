//! The chamber and its climb at the last reading, from noisy readings.
//!
//! Readings are laid along a ruler: how many hours the plan, or this kiln on other days, takes to
//! come so far. On that ruler a planned burner step is nothing new, and today's pace is near 1. A
//! Kalman filter follows the place, a pace that lasts (today's gas, today's load) and a passing
//! one (a draught, a burner turned early). Where the usual course is known, the lasting pace begins
//! from how long the kiln took to come so far: a day that is late by now goes on as slowly. How
//! restless the passing one is, is not known either: four degrees of restlessness are filtered side
//! by side and weighted by how well they foretold each reading, today's and those of past firings of
//! this kiln.

use super::evidence::{Reading, gather};
use super::planned::Planned;
use super::profile::Profile;
use super::turns::{TurnEffect, TurnedAt};

/// Standard deviations of the passing pace, each a possible kiln: from one on a controller to one
/// by hand in the wind. Guesses, weighted by the evidence.
pub const RESTLESSNESS: [f64; 4] = [0.04, 0.10, 0.22, 0.5];
/// What is thought of them beforehand.
const RESTLESSNESS_PRIOR: [f64; 4] = [0.2, 0.4, 0.3, 0.1];
/// Readings are gathered over so long, hours: a gust of wind lasts minutes and says little of the
/// hours ahead.
const GATHER_H: f64 = 10.0 / 60.0;
/// How far back the climb is judged from, hours.
const WINDOW_H: f64 = 2.5;
/// The lasting pace before anything is read, and how wide that is, on the plain ruler of 100 C an
/// hour.
const PACE_PLAIN: (f64, f64) = (1.2, 1.2);
const PLAIN_C_PER_H: f64 = 100.0;
/// How long a passing pace lasts, hours (the time in which it falls to 1/e): where the usual
/// course is known, what departs from it soon passes; where it is not, a changed climb may be a
/// burner turned for good. Guesses.
const PASSES_KNOWN_H: f64 = 0.3;
const PASSES_PLAIN_H: f64 = 1.5;
/// The lasting pace drifts by this in an hour, in ln: losses grow as it gets hotter, gas and draught
/// change with the day (a guess).
const DRIFT: f64 = 0.02;
/// Near the end, where losses take most of the heat, days differ by so much more than in their
/// length (a guess).
const DIFFERS_AT_END: f64 = 1.3;
/// How far the pace from here on may be from that of the whole day so far, in ln; and how late a
/// kiln may be, hours, for reasons that have nothing to do with its pace: a burner turned late, a
/// cold start (guesses).
const GOES_ON: f64 = 0.03;
const ONCE_LATE_H: f64 = 0.07;
/// Freedom of the t that weighs how late a day is: a kiln that once stood still is not slow.
const LATE_FREEDOM: f64 = 4.0;
/// A reading so many standard deviations off is far off.
const FAR: f64 = 4.0;
/// How far the climb may change where nobody turned a burner, as a standard deviation in shares of
/// it (a guess): a probe that creeps, a burner that goes out.
const CHANGED_BY: f64 = 0.5;
/// Where the ruler stands still, in a soak, readings still tell the place so well, C/h.
const LEAST_SLOPE_C_PER_H: f64 = 20.0;

/// What readings are laid along.
#[derive(Debug, Clone, Copy)]
pub enum Ruler<'a> {
    Plain,
    /// What the kiln usually does; and how much one day's pace differs from another's, in ln.
    Usual(&'a Profile, f64),
    Plan(&'a Planned, f64),
}

/// A reading on its ruler: hours since lit, the place in the ruler's hours, its noise there, and
/// how many C an hour of the ruler is there.
#[derive(Debug, Clone, Copy)]
struct Mark {
    at_h: f64,
    place_h: f64,
    noise_h: f64,
    slope_c_per_h: f64,
    /// How restless the ruler is from the mark before this one, beside its usual.
    unrest: f64,
}

/// Temperature, lasting and passing climb as a normal distribution: C, C/h, C/h.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChamberState {
    pub mean: [f64; 3],
    pub covariance: [[f64; 3]; 3],
}

/// The filter's answer for each degree of restlessness.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChamberStates {
    pub states: [ChamberState; RESTLESSNESS.len()],
    /// ln of how well each foretold the readings.
    pub log_likelihood: [f64; RESTLESSNESS.len()],
    /// How long a passing pace lasts on this ruler, hours.
    pub passes_h: f64,
    /// What the plan climbs at the last reading, C/h, where the readings were laid along it.
    pub planned_c_per_h: Option<f64>,
}

impl ChamberStates {
    /// The state of the restlessness that foretold today's readings best.
    pub fn likeliest(&self) -> &ChamberState {
        let chances = chances(&self.log_likelihood);
        let best = (0..chances.len()).max_by(|a, b| chances[*a].total_cmp(&chances[*b]));
        &self.states[best.unwrap_or(0)]
    }
}

impl ChamberState {
    pub fn c(&self) -> f64 {
        self.mean[0]
    }

    pub fn climb_c_per_h(&self) -> f64 {
        self.mean[1] + self.mean[2]
    }
}

/// The lowest and highest of the readings that the filter takes, C.
pub fn lately(readings: &[Reading]) -> (f64, f64) {
    let last_h = readings.last().map_or(0.0, |reading| reading.at_h);
    let lately = readings.iter().filter(|reading| reading.at_h >= last_h - WINDOW_H);
    lately.fold((f64::INFINITY, f64::NEG_INFINITY), |(least, most), reading| {
        (least.min(reading.c), most.max(reading.c))
    })
}

/// Filters the last hours of readings, during which the burner was turned; `None` with fewer than
/// two of them.
pub fn filter(readings: &[Reading], ruler: Ruler, turned: &[TurnedAt]) -> Option<ChamberStates> {
    let (ruler, marks) = laid(readings, ruler)?;
    let lasting = ruler.lasting(&marks, turned);
    let last = (marks[marks.len() - 1], readings.last()?.c);
    let both = RESTLESSNESS.map(|restless| ruler.filtered(&marks, lasting, turned, restless));
    Some(ChamberStates {
        states: both.map(|(place, _)| place.chamber(last)),
        log_likelihood: both.map(|(_, log_likelihood)| log_likelihood),
        passes_h: ruler.passes_h(),
        planned_c_per_h: matches!(ruler, Ruler::Plan(..)).then_some(last.0.slope_c_per_h),
    })
}

/// When the climb of these readings most likely changed though nobody turned a burner, hours since
/// lit, and how many times likelier they are if it changed at some time than if it did not. `log_sum`
/// is ln of how likely they are at all, from ln of how likely each degree of restlessness makes them.
/// `None` where no course is known from which a climb could be told to have changed.
pub fn changed(
    readings: &[Reading],
    ruler: Ruler,
    turned: &[TurnedAt],
    log_sum: impl Fn(&[f64; RESTLESSNESS.len()]) -> f64,
) -> Option<(f64, f64)> {
    let (ruler, marks) =
        laid(readings, ruler).filter(|(ruler, _)| !matches!(ruler, Ruler::Plain))?;
    let lasting = ruler.lasting(&marks, turned);
    let log_likelihood = |turned: &[TurnedAt]| {
        log_sum(&RESTLESSNESS.map(|restless| ruler.filtered(&marks, lasting, turned, restless).1))
    };
    let steady = log_likelihood(turned);
    let odds = marks[1..marks.len() - 1].iter().map(|mark| {
        let change = (mark.at_h, TurnEffect::Changes { by: 0.0, spread: CHANGED_BY });
        let place = turned.partition_point(|(at_h, _)| *at_h < mark.at_h);
        let with_change = [&turned[..place], &[change], &turned[place..]].concat();
        (mark.at_h, (log_likelihood(&with_change) - steady).exp())
    });
    let odds: Vec<(f64, f64)> = odds.collect();
    let (at_h, _) = *odds.iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
    Some((at_h, odds.iter().map(|(_, odds)| odds).sum::<f64>() / odds.len() as f64))
}

/// The last hours of readings on their ruler, or on the plain one where theirs tells nothing of one;
/// `None` with fewer than two of them.
fn laid<'a>(readings: &[Reading], ruler: Ruler<'a>) -> Option<(Ruler<'a>, Vec<Mark>)> {
    let last = readings.last()?;
    let from = readings.partition_point(|reading| reading.at_h < last.at_h - WINDOW_H);
    let earlier = readings.len() - 1;
    // The newest stands alone: the state is wanted at its moment.
    let before = &readings[from.min(earlier.saturating_sub(1))..earlier];
    let mut window = gather(before.iter().copied(), GATHER_H);
    window.push(*last);
    if window.len() < 2 {
        return None;
    }
    let on = |ruler: Ruler<'a>| Some((ruler, ruler.marks(&window, readings)?));
    on(ruler).or_else(|| on(Ruler::Plain))
}

impl Ruler<'_> {
    /// The gathered ones of these readings on the ruler; `None` where it tells nothing of one.
    fn marks(&self, window: &[Reading], readings: &[Reading]) -> Option<Vec<Mark>> {
        let place = |at: usize| {
            let reading = &window[at];
            match self {
                Ruler::Plain => Some((reading.c / PLAIN_C_PER_H, PLAIN_C_PER_H)),
                Ruler::Usual(profile, _) => {
                    Some((profile.hours_to(reading.c), profile.climb(reading.c)))
                }
                Ruler::Plan(planned, _) => {
                    let until = readings.partition_point(|read| read.at_h <= reading.at_h);
                    let place = planned.place_of(reading.c, time_near(&readings[..until]))?;
                    Some((place, planned.slope(place)))
                }
            }
        };
        let mut before_h = None;
        (0..window.len())
            .map(|at| {
                let (place_h, slope) = place(at)?;
                let slope_c_per_h = slope.max(LEAST_SLOPE_C_PER_H);
                let Reading { at_h, noise_c, .. } = window[at];
                let unrest = match self {
                    Ruler::Usual(profile, _) => {
                        profile.unrest(before_h.unwrap_or(place_h), place_h)
                    }
                    Ruler::Plain | Ruler::Plan(..) => 1.0,
                };
                before_h = Some(place_h);
                let noise_h = noise_c / slope_c_per_h;
                Some(Mark { at_h, place_h, noise_h, slope_c_per_h, unrest })
            })
            .collect()
    }

    /// Mean and width of the lasting pace, before the climb between the marks is looked at.
    fn lasting(&self, marks: &[Mark], turned: &[TurnedAt]) -> (f64, f64) {
        let width = match self {
            Ruler::Plain => return PACE_PLAIN,
            Ruler::Plan(_, width) => return (1.0, *width),
            Ruler::Usual(_, width) => DIFFERS_AT_END * width,
        };
        let last = marks[marks.len() - 1];
        let mut took_h = last.at_h;
        for (_, effect) in turned.iter().filter(|(at_h, _)| *at_h < last.at_h) {
            match effect {
                TurnEffect::Changes { .. } => return (1.0, width),
                TurnEffect::Resumes { lost_h } => took_h -= lost_h,
            }
        }
        if last.place_h <= 0.0 || took_h <= 0.0 {
            return (1.0, width);
        }
        let late = (last.place_h / took_h).ln();
        let own = width * width;
        let other = GOES_ON.powi(2) + (ONCE_LATE_H / took_h).powi(2);
        let odd = (LATE_FREEDOM + late * late / (own + other)) / (LATE_FREEDOM + 1.0);
        let told = own / (own + other * odd);
        ((told * late).exp(), width * (1.0 - told).sqrt())
    }

    fn passes_h(&self) -> f64 {
        match self {
            Ruler::Plain => PASSES_PLAIN_H,
            Ruler::Usual(..) | Ruler::Plan(..) => PASSES_KNOWN_H,
        }
    }

    /// Place and pace at the last mark, and ln of how well the marks were foretold; the lasting pace
    /// begins from this mean and width.
    fn filtered(
        &self,
        marks: &[Mark],
        (pace, width): (f64, f64),
        turned: &[TurnedAt],
        restless: f64,
    ) -> (Place, f64) {
        let passing = (restless * pace).powi(2);
        let mut place = Place {
            mean: [marks[0].place_h, pace, 0.0],
            covariance: [
                [marks[0].noise_h.powi(2), 0.0, 0.0],
                [0.0, width * width, 0.0],
                [0.0, 0.0, passing],
            ],
        };
        let mut log_likelihood = 0.0;
        let mut beyond = 0.0;
        for (count, pair) in marks.windows(2).enumerate() {
            let passing = passing * pair[1].unrest.powi(2);
            let (mut from_h, between) = (pair[0].at_h, pair[0].at_h..pair[1].at_h);
            for (at_h, effect) in turned.iter().filter(|(at_h, _)| between.contains(at_h)) {
                place.forward(at_h - from_h, passing, self.passes_h());
                place.turn(effect, (pace, width), passing);
                from_h = *at_h;
            }
            place.forward(pair[1].at_h - from_h, passing, self.passes_h());
            let off = place.deviations(&pair[1]);
            if off.abs() > FAR && off * beyond > 0.0 {
                place = Place::afresh(&pair[0], &pair[1], passing);
            }
            beyond = if off.abs() > FAR { off } else { 0.0 };
            let surprise = place.take(&pair[1]);
            // The first two readings only find the pace.
            if count > 0 {
                log_likelihood += surprise;
            }
        }
        (place, log_likelihood)
    }
}

/// How long the last of these readings and those before it have been near each other, hours.
pub fn time_near(readings: &[Reading]) -> f64 {
    const NEAR_C: f64 = 8.0;
    let Some(last) = readings.last() else { return 0.0 };
    let near = readings.iter().rev().take_while(|reading| (reading.c - last.c).abs() < NEAR_C);
    near.last().map_or(0.0, |first| last.at_h - first.at_h)
}

/// Place, lasting and passing pace on the ruler as a normal distribution.
#[derive(Debug, Clone, Copy)]
struct Place {
    mean: [f64; 3],
    covariance: [[f64; 3]; 3],
}

impl Place {
    /// As temperature and climb, where the ruler has this mark at this temperature.
    fn chamber(&self, (mark, c): (Mark, f64)) -> ChamberState {
        let slope = mark.slope_c_per_h;
        let [place_h, lasting, passing] = self.mean;
        ChamberState {
            mean: [c + (place_h - mark.place_h) * slope, lasting * slope, passing * slope],
            covariance: self.covariance.map(|row| row.map(|entry| entry * slope * slope)),
        }
    }

    /// So many hours on; `passing` is the variance the passing pace always comes back to.
    fn forward(&mut self, hours: f64, passing: f64, passes_h: f64) {
        let kept = (-hours / passes_h).exp();
        let travelled = passes_h * (1.0 - kept);
        let step = [[1.0, hours, travelled], [0.0, 1.0, 0.0], [0.0, 0.0, kept]];
        self.mean = step.map(|row| (0..3).map(|k| row[k] * self.mean[k]).sum());
        let half = step.map(|row| {
            std::array::from_fn::<f64, 3, _>(|column| {
                (0..3).map(|k| row[k] * self.covariance[k][column]).sum()
            })
        });
        self.covariance = half.map(|row| {
            std::array::from_fn(|column| (0..3).map(|k| row[k] * step[column][k]).sum())
        });
        // What an Ornstein-Uhlenbeck pace and its integral gain in variance (standard formulas).
        let gained = passing * (1.0 - kept * kept);
        let both = passing * passes_h * (1.0 - kept).powi(2);
        let place =
            passing * passes_h * (2.0 * hours - passes_h * (3.0 - 4.0 * kept + kept * kept));
        self.covariance[0][0] += place.max(0.0);
        self.covariance[0][2] += both;
        self.covariance[2][0] += both;
        self.covariance[2][2] += gained;
        // And what a lasting pace that drifts gains.
        let drifted = DRIFT * DRIFT * hours;
        self.covariance[1][1] += drifted;
        self.covariance[0][1] += drifted * hours / 2.0;
        self.covariance[1][0] += drifted * hours / 2.0;
        self.covariance[0][0] += drifted * hours * hours / 3.0;
    }

    /// The burner is turned: the lasting pace is another one, or again what it was before any
    /// reading, its mean and width.
    fn turn(&mut self, effect: &TurnEffect, before: (f64, f64), passing: f64) {
        let kept = match effect {
            TurnEffect::Changes { by, spread } => {
                let factor = by.exp();
                self.mean[1] *= factor;
                (factor, (spread * self.mean[1]).powi(2), 1.0, 0.0)
            }
            TurnEffect::Resumes { .. } => {
                self.mean = [self.mean[0], before.0, 0.0];
                (0.0, before.1 * before.1, 0.0, passing)
            }
        };
        let (lasting, new_lasting, passed, new_passing) = kept;
        let factors = [1.0, lasting, passed];
        for (row, factor) in self.covariance.iter_mut().zip(factors) {
            for (entry, other) in row.iter_mut().zip(factors) {
                *entry *= factor * other;
            }
        }
        self.covariance[1][1] += new_lasting;
        self.covariance[2][2] += new_passing;
    }

    /// How far off a reading is, in standard deviations.
    fn deviations(&self, mark: &Mark) -> f64 {
        (mark.place_h - self.mean[0]) / self.covariance[0][0].sqrt().hypot(mark.noise_h)
    }

    /// Two readings in turn were far off on the same side: whatever went before no longer holds.
    fn afresh(before: &Mark, mark: &Mark, passing: f64) -> Place {
        let pace = (mark.place_h - before.place_h) / (mark.at_h - before.at_h);
        let wide = 0.3 * pace.abs().max(1.0);
        let noise = mark.noise_h.powi(2);
        Place {
            mean: [mark.place_h, pace, 0.0],
            covariance: [[noise, 0.0, 0.0], [0.0, wide * wide, 0.0], [0.0, 0.0, passing]],
        }
    }

    /// Takes in a reading and gives ln of its likelihood. Beyond four standard deviations it pulls
    /// no more than at four (Huber): it may be poor, but if others agree the filter follows.
    fn take(&mut self, mark: &Mark) -> f64 {
        let variance = self.covariance[0][0] + mark.noise_h.powi(2);
        let off = mark.place_h - self.mean[0];
        let deviations = self.deviations(mark);
        let inflated = variance * (deviations.abs() / FAR).max(1.0);
        let column = self.covariance[0];
        for row in 0..3 {
            let gain = column[row] / inflated;
            self.mean[row] += gain * off;
            for (entry, first) in self.covariance[row].iter_mut().zip(column) {
                *entry -= gain * first;
            }
        }
        -0.5 * (variance.ln() + deviations.powi(2).min(FAR * FAR))
    }
}

/// Chances of each restlessness from several logarithms of likelihood.
pub fn chances(log_likelihood: &[f64; RESTLESSNESS.len()]) -> [f64; RESTLESSNESS.len()] {
    let most = log_likelihood.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let mut chances = [0.0; RESTLESSNESS.len()];
    for (at, chance) in chances.iter_mut().enumerate() {
        *chance = RESTLESSNESS_PRIOR[at] * (log_likelihood[at] - most).exp();
    }
    let sum: f64 = chances.iter().sum();
    chances.map(|chance| chance / sum)
}
