//! Simulated firings by the thousand: is the forecast honest, is it sharp, and what is the look
//! plan worth. The tests run a small number of them, `cargo bench --bench forecast_calibration`
//! the full one.

use crate::simulator::{Dice, LIT, Reads, SimulatedFiring, SimulatedKiln, after, gold, looked};
use spyhole::testing::firing::{Firing, Seen};
use statrs::distribution::{ContinuousCDF, Normal};

use spyhole::testing::forecast::{Forecast, Question, USUAL_LIMIT, forecast};
use spyhole::testing::kiln::LoadType;
use spyhole::testing::units::{CelsiusPerHour, Moment, Span};
use spyhole::testing::watch::advise;
use spyhole::testing::watch::forgives::forgives;
use spyhole::testing::watch::task::Task;

/// One state of knowledge.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Knowledge {
    pub(crate) name: &'static str,
    /// Past firings of this kiln with this load.
    pub(crate) history: usize,
    pub(crate) reads: Reads,
    pub(crate) looks: bool,
}

pub(crate) const STATES: [Knowledge; 10] = [
    Knowledge { name: "clock only", history: 0, reads: Reads::Nothing, looks: false },
    Knowledge { name: "clock only, looks", history: 0, reads: Reads::Nothing, looks: true },
    Knowledge { name: "history", history: 8, reads: Reads::Nothing, looks: false },
    Knowledge { name: "history, looks", history: 8, reads: Reads::Nothing, looks: true },
    Knowledge { name: "one reading", history: 8, reads: Reads::Once, looks: false },
    Knowledge { name: "one reading, looks", history: 8, reads: Reads::Once, looks: true },
    Knowledge { name: "hand readings", history: 8, reads: Reads::ByHand, looks: false },
    Knowledge { name: "hand readings, looks", history: 8, reads: Reads::ByHand, looks: true },
    Knowledge { name: "probe", history: 8, reads: Reads::Probe, looks: false },
    Knowledge { name: "probe, looks", history: 8, reads: Reads::Probe, looks: true },
];

/// A kiln with its past, and one more firing of it whose end is still hidden.
pub(crate) struct Trial {
    pub(crate) kiln: SimulatedKiln,
    pub(crate) past: Vec<Firing>,
    pub(crate) load: LoadType,
    pub(crate) truth: SimulatedFiring,
}

/// The climb of a kiln drawn for calibration: most near 150 C/h, few below 90 or above 250.
fn any_climb(dice: &mut Dice) -> f64 {
    dice.normal(150f64.ln(), 0.28).exp().clamp(60.0, 320.0)
}

impl Trial {
    pub(crate) fn new(history: usize, reads: Reads, climb_c_per_h: f64, dice: &mut Dice) -> Trial {
        let kiln = SimulatedKiln::new("North", climb_c_per_h, dice);
        let past = (0..history).map(|_| kiln.fire(dice).finished(&kiln, reads, dice)).collect();
        // Somebody's rule of thumb is off by an eighth either way.
        let usual = Span::from_hours(kiln.nominal_h * dice.normal(0.0, 0.12).exp());
        let truth = kiln.fire(dice);
        Trial { load: gold(Some(usual)), past, truth, kiln }
    }

    /// What is usual for this kiln: the mean of its past, or the rule of thumb.
    pub(crate) fn usual_h(&self) -> f64 {
        let lengths = self.past_lengths_h();
        if lengths.is_empty() {
            return self.load.usual_length.map_or(5.0, Span::as_hours);
        }
        lengths.iter().sum::<f64>() / lengths.len() as f64
    }

    pub(crate) fn past_lengths_h(&self) -> Vec<f64> {
        let off = |firing: &Firing| firing.off.map(|off| (off - LIT).as_hours());
        self.past.iter().filter_map(off).collect()
    }

    fn found(&self, looks: f64, at_h: f64) -> Watched {
        let climb = CelsiusPerHour(self.truth.climb_c_per_h);
        let load = &self.load;
        let forgives = forgives(load.target, load.family, climb, load.over_cones);
        Watched {
            looks,
            late_min: (at_h - self.truth.drop_h) * 60.0,
            forgives_min: forgives.map_or(0.0, Span::as_minutes),
        }
    }

    pub(crate) fn question<'a>(&'a self, firing: &'a Firing, now: Moment) -> Question<'a> {
        Question {
            firing,
            load: Some(&self.load),
            kiln: None,
            past: &self.past,
            schedule: None,
            corrections: None,
            now,
            limit: USUAL_LIMIT,
        }
    }
}

/// One question asked at a moment chosen without knowing the answer. `None` when a look before it
/// already saw the target down.
pub(crate) fn asked(state: Knowledge, dice: &mut Dice) -> Option<(Forecast, f64)> {
    let climb = any_climb(dice);
    let trial = Trial::new(state.history, state.reads, climb, dice);
    let now_h = trial.usual_h() - dice.uniform(0.0, 2.0);
    let mut firing = trial.truth.record(&trial.kiln, state.reads, now_h, dice);
    if state.looks {
        for before in [0.5, 0.25, 0.0] {
            let look = trial.truth.look(now_h - before, dice);
            if look.target == Some(Seen::Down) {
                return None;
            }
            firing.looks.push(looked(after(now_h - before), look));
        }
    }
    let forecast = forecast(&trial.question(&firing, after(now_h))).ok()?;
    Some((forecast, trial.truth.drop_h))
}

/// What a number of questions came to.
#[derive(Debug, Clone, Default)]
pub(crate) struct Calibration {
    /// The drop's place in each forecast distribution, 0 to 1.
    pub(crate) ranks: Vec<f64>,
    pub(crate) widths_min: Vec<f64>,
}

impl Calibration {
    pub(crate) fn run(state: Knowledge, firings: usize, seed: u64) -> Calibration {
        let mut calibration = Calibration::default();
        let mut next = seed;
        while calibration.ranks.len() < firings {
            next += 1;
            let Some((forecast, drop_h)) = asked(state, &mut Dice::new(next)) else { continue };
            calibration.ranks.push(forecast.drops.chance_before(after(drop_h)));
            calibration.widths_min.push((forecast.p95 - forecast.p05).as_minutes());
        }
        calibration
    }

    /// The share of drops inside the 5-95 % window.
    pub(crate) fn inside(&self) -> f64 {
        let inside = self.ranks.iter().filter(|rank| (0.05..0.95).contains(*rank)).count();
        inside as f64 / self.ranks.len() as f64
    }

    /// Above one half when drops come later than foretold.
    pub(crate) fn mean_rank(&self) -> f64 {
        self.ranks.iter().sum::<f64>() / self.ranks.len() as f64
    }

    pub(crate) fn histogram(&self, bins: usize) -> Vec<usize> {
        let mut histogram = vec![0; bins];
        for rank in &self.ranks {
            histogram[((rank * bins as f64) as usize).min(bins - 1)] += 1;
        }
        histogram
    }

    /// Pearson's chi-square of the rank histogram against a flat one.
    pub(crate) fn chi_square(&self, bins: usize) -> f64 {
        let expected = self.ranks.len() as f64 / bins as f64;
        self.histogram(bins).iter().map(|n| (*n as f64 - expected).powi(2) / expected).sum()
    }
}

/// Bins of a rank histogram, and the chi-square of nine degrees of freedom that a flat one stays
/// below in 999 of 1000 (tables of the chi-square distribution: 27.88).
pub(crate) const BINS: usize = 10;
pub(crate) const FLAT_BELOW: f64 = 27.88;

pub(crate) fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted[sorted.len() / 2]
}

/// How sharp the forecast is one hour before the drop, and just when the guide is seen down.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sharpness {
    pub(crate) width_min: f64,
    pub(crate) crps_min: f64,
    /// Of "the same time as usual": the mean and standard deviation of the past lengths.
    pub(crate) crps_usual_min: f64,
    pub(crate) width_guide_down_min: f64,
}

/// CRPS of a normal distribution (Gneiting and Raftery 2007), in the unit of its arguments.
pub(crate) fn crps_normal(mean: f64, deviation: f64, seen: f64) -> f64 {
    let w = (seen - mean) / deviation;
    let density = (-0.5 * w * w).exp() / std::f64::consts::TAU.sqrt();
    let below = Normal::standard().cdf(w);
    deviation * (w * (2.0 * below - 1.0) + 2.0 * density - 1.0 / std::f64::consts::PI.sqrt())
}

/// CRPS of a weighted sample of hours, in minutes: E|X - y| - E|X - X'| / 2.
pub(crate) fn crps_min(forecast: &Forecast, seen_h: f64) -> f64 {
    let (mut off, mut apart) = (0.0, 0.0);
    let (mut weight_before, mut sum_before) = (0.0, 0.0);
    for (hours, weight) in forecast.drops.weighted_hours() {
        off += weight * (hours - seen_h).abs();
        apart += weight * (hours * weight_before - sum_before);
        weight_before += weight;
        sum_before += weight * hours;
    }
    60.0 * (off - apart)
}

impl Sharpness {
    pub(crate) fn run(reads: Reads, firings: usize, seed: u64) -> Sharpness {
        let mut widths = (Vec::new(), Vec::new());
        let mut crps = (Vec::new(), Vec::new());
        for at in 0..firings as u64 {
            let dice = &mut Dice::new(seed + at);
            let trial = Trial::new(10, reads, any_climb(dice), dice);
            let drop_h = trial.truth.drop_h;
            let width = |forecast: &Forecast| (forecast.p95 - forecast.p05).as_minutes();
            let before = trial.truth.record(&trial.kiln, reads, drop_h - 1.0, dice);
            if let Ok(forecast) = forecast(&trial.question(&before, after(drop_h - 1.0))) {
                widths.0.push(width(&forecast));
                crps.0.push(crps_min(&forecast, drop_h));
                let lengths = trial.past_lengths_h();
                let mean = trial.usual_h();
                let squares: f64 = lengths.iter().map(|h| (h - mean).powi(2)).sum();
                let deviation = (squares / (lengths.len() - 1) as f64).sqrt();
                crps.1.push(crps_normal(mean * 60.0, deviation * 60.0, drop_h * 60.0));
            }
            // Looks five minutes apart until the guide is down.
            let mut at_h = drop_h - dice.uniform(0.9, 1.0);
            let mut sights = Vec::new();
            while at_h < drop_h {
                let look = trial.truth.look(at_h, dice);
                sights.push(looked(after(at_h), look));
                if look.guide == Some(Seen::Down) {
                    let mut firing = trial.truth.record(&trial.kiln, reads, at_h, dice);
                    firing.looks = sights;
                    if let Ok(forecast) = forecast(&trial.question(&firing, after(at_h))) {
                        widths.1.push(width(&forecast));
                    }
                    break;
                }
                at_h += 5.0 / 60.0;
            }
        }
        let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
        Sharpness {
            width_min: median(&widths.0),
            crps_min: mean(&crps.0),
            crps_usual_min: mean(&crps.1),
            width_guide_down_min: median(&widths.1),
        }
    }
}

/// What came of many firings watched to their end.
#[derive(Debug, Clone, Default)]
pub(crate) struct Closed(Vec<Watched>);

impl Closed {
    /// By the plan; and, on the same firings, by somebody who looks every five minutes from one
    /// and a half standard deviations before the usual time.
    pub(crate) fn run(reads: Reads, firings: usize, seed: u64) -> (Closed, Closed) {
        let (mut by_plan, mut by_habit) = (Closed::default(), Closed::default());
        for at in 0..firings as u64 {
            let dice = &mut Dice::new(seed + at);
            let climb = dice.uniform(100.0, 250.0);
            let trial = Trial::new(10, reads, climb, dice);
            by_plan.0.push(watched(&trial, reads, dice));
            by_habit.0.push(every_five_minutes(&trial, dice));
        }
        (by_plan, by_habit)
    }

    pub(crate) fn looks(&self) -> f64 {
        self.0.iter().map(|watched| watched.looks).sum::<f64>() / self.0.len() as f64
    }

    /// The share found late by at most so many minutes.
    pub(crate) fn within(&self, minutes: f64) -> f64 {
        let within = self.0.iter().filter(|watched| watched.late_min <= minutes).count();
        within as f64 / self.0.len() as f64
    }

    /// How many were found later than the load forgives.
    pub(crate) fn spoiled(&self) -> usize {
        self.0.iter().filter(|watched| watched.late_min > watched.forgives_min).count()
    }

    pub(crate) fn latest_min(&self) -> f64 {
        self.0.iter().map(|watched| watched.late_min).fold(f64::NEG_INFINITY, f64::max)
    }
}

impl std::fmt::Display for Closed {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "looks {:.2}  found within 2.5 min {:.3}  latest {:.1} min  later than forgiven {}",
            self.looks(),
            self.within(2.5),
            self.latest_min(),
            self.spoiled()
        )
    }
}

/// One firing watched to its end.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Watched {
    /// Walks; a minute more there is a fifth of one.
    pub(crate) looks: f64,
    /// Minutes from the drop to the look that saw it; negative when taken for down a little early.
    pub(crate) late_min: f64,
    pub(crate) forgives_min: f64,
}

/// Follows the advice from lit to the drop: looks when it says so, writes down what is seen.
pub(crate) fn watched(trial: &Trial, reads: Reads, dice: &mut Dice) -> Watched {
    let whole = trial.truth.record(&trial.kiln, reads, trial.truth.drop_h + 0.9, dice);
    let mut firing = Firing { readings: Vec::new(), ..whole.clone() };
    let mut now_h = 0.4 * trial.usual_h();
    let mut looks = 0.0;
    loop {
        let known = whole.readings.partition_point(|(at, _)| *at <= after(now_h));
        firing.readings = whole.readings[..known].to_vec();
        let advice = advise(&trial.question(&firing, after(now_h)));
        if matches!(advice.say, Task::LookDue | Task::Stay) {
            let stayed =
                firing.looks.last().is_some_and(|last| after(now_h) - last.at <= Span::seconds(61));
            looks += if stayed { 0.2 } else { 1.0 };
            let look = trial.truth.look(now_h, dice);
            firing.looks.push(looked(after(now_h), look));
            if look.target == Some(Seen::Down) {
                return trial.found(looks, now_h);
            }
        }
        // Wait for the next look, but hear every new reading on the way.
        let next_look_h = advice.next_look.map_or(now_h + 0.25, |at| (at - LIT).as_hours());
        let pause_h = if reads == Reads::Probe { 2.0 / 60.0 } else { 0.25 };
        now_h = next_look_h.clamp(now_h + 1.0 / 60.0, now_h + pause_h);
        assert!(now_h < 20.0, "nobody would still be waiting");
    }
}

fn every_five_minutes(trial: &Trial, dice: &mut Dice) -> Watched {
    let lengths = trial.past_lengths_h();
    let mean = trial.usual_h();
    let squares: f64 = lengths.iter().map(|h| (h - mean).powi(2)).sum();
    let mut at_h = mean - 1.5 * (squares / (lengths.len() - 1) as f64).sqrt();
    let mut looks = 0.0;
    loop {
        looks += 1.0;
        if trial.truth.look(at_h, dice).target == Some(Seen::Down) {
            return trial.found(looks, at_h);
        }
        at_h += 5.0 / 60.0;
    }
}
