//! Simulated firings by the thousand: is the forecast honest, is it sharp, and what is the look
//! plan worth. The tests run a small number of them, `cargo bench --bench forecast_calibration`
//! the full one.

use crate::simulator::{Dice, LIT, Reads, SimulatedFiring, SimulatedKiln, after, gold};
use spyhole::firing::{Firing, Seen};
use spyhole::forecast::{Forecast, Question, USUAL_LIMIT, forecast};
use spyhole::kiln::LoadType;
use spyhole::units::{Moment, Span};
use spyhole::watch::{Say, advise};

/// One state of knowledge.
#[derive(Debug, Clone, Copy)]
pub struct Knowledge {
    pub name: &'static str,
    /// Past firings of this kiln with this load.
    pub history: usize,
    pub reads: Reads,
    pub looks: bool,
}

pub const STATES: [Knowledge; 8] = [
    Knowledge { name: "clock only", history: 0, reads: Reads::Nothing, looks: false },
    Knowledge { name: "clock only, looks", history: 0, reads: Reads::Nothing, looks: true },
    Knowledge { name: "history", history: 8, reads: Reads::Nothing, looks: false },
    Knowledge { name: "history, looks", history: 8, reads: Reads::Nothing, looks: true },
    Knowledge { name: "hand readings", history: 8, reads: Reads::ByHand, looks: false },
    Knowledge { name: "hand readings, looks", history: 8, reads: Reads::ByHand, looks: true },
    Knowledge { name: "probe", history: 8, reads: Reads::Probe, looks: false },
    Knowledge { name: "probe, looks", history: 8, reads: Reads::Probe, looks: true },
];

/// A kiln with its past, and one more firing of it whose end is still hidden.
pub struct Trial {
    pub kiln: SimulatedKiln,
    pub past: Vec<Firing>,
    pub load: LoadType,
    pub truth: SimulatedFiring,
}

/// The climb of a kiln drawn for calibration: most near 150 C/h, few below 90 or above 250.
fn any_climb(dice: &mut Dice) -> f64 {
    dice.normal(150f64.ln(), 0.28).exp().clamp(60.0, 320.0)
}

impl Trial {
    pub fn new(history: usize, reads: Reads, climb_c_per_h: f64, dice: &mut Dice) -> Trial {
        let kiln = SimulatedKiln::new("North", climb_c_per_h, dice);
        let past = (0..history).map(|_| kiln.fire(dice).finished(&kiln, reads, dice)).collect();
        // Somebody's rule of thumb is off by an eighth either way.
        let usual = Span::from_hours(kiln.nominal_h * dice.normal(0.0, 0.12).exp());
        let truth = kiln.fire(dice);
        Trial { load: gold(Some(usual)), past, truth, kiln }
    }

    /// What is usual for this kiln: the mean of its past, or the rule of thumb.
    pub fn usual_h(&self) -> f64 {
        let lengths = self.past_lengths_h();
        if lengths.is_empty() {
            return self.load.usual_length.map_or(5.0, Span::as_hours);
        }
        lengths.iter().sum::<f64>() / lengths.len() as f64
    }

    pub fn past_lengths_h(&self) -> Vec<f64> {
        let off = |firing: &Firing| firing.off.map(|off| (off - LIT).as_hours());
        self.past.iter().filter_map(off).collect()
    }

    pub fn question<'a>(&'a self, firing: &'a Firing, now: Moment) -> Question<'a> {
        Question {
            firing,
            load: Some(&self.load),
            kiln: None,
            past: &self.past,
            schedule: None,
            now,
            limit: USUAL_LIMIT,
        }
    }
}

/// One question asked at a moment chosen without knowing the answer. `None` when a look before it
/// already saw the target down.
pub fn asked(state: Knowledge, dice: &mut Dice) -> Option<(Forecast, f64)> {
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
            firing.looks.push((after(now_h - before), look));
        }
    }
    let forecast = forecast(&trial.question(&firing, after(now_h))).ok()?;
    Some((forecast, trial.truth.drop_h))
}

/// What a number of questions came to.
#[derive(Debug, Clone, Default)]
pub struct Calibration {
    /// The drop's place in each forecast distribution, 0 to 1.
    pub ranks: Vec<f64>,
    pub widths_min: Vec<f64>,
}

impl Calibration {
    pub fn run(state: Knowledge, firings: usize, seed: u64) -> Calibration {
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
    pub fn inside(&self) -> f64 {
        let inside = self.ranks.iter().filter(|rank| (0.05..0.95).contains(*rank)).count();
        inside as f64 / self.ranks.len() as f64
    }

    pub fn histogram(&self, bins: usize) -> Vec<usize> {
        let mut histogram = vec![0; bins];
        for rank in &self.ranks {
            histogram[((rank * bins as f64) as usize).min(bins - 1)] += 1;
        }
        histogram
    }

    /// Pearson's chi-square of the rank histogram against a flat one.
    pub fn chi_square(&self, bins: usize) -> f64 {
        let expected = self.ranks.len() as f64 / bins as f64;
        self.histogram(bins).iter().map(|n| (*n as f64 - expected).powi(2) / expected).sum()
    }
}

pub fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted[sorted.len() / 2]
}

/// One firing watched to its end.
#[derive(Debug, Clone, Copy)]
pub struct Watched {
    pub looks: usize,
    /// Minutes from the drop to the look that saw it; negative when taken for down a little early.
    pub late_min: f64,
    pub forgives_min: f64,
}

/// Follows the advice from lit to the drop: looks when it says so, writes down what is seen.
pub fn watched(trial: &Trial, reads: Reads, dice: &mut Dice) -> Watched {
    let whole = trial.truth.record(&trial.kiln, reads, trial.truth.drop_h + 0.9, dice);
    let mut firing = Firing { readings: Vec::new(), ..whole.clone() };
    let mut now_h = 0.4 * trial.usual_h();
    let mut looks = 0;
    loop {
        let known = whole.readings.partition_point(|(at, _)| *at <= after(now_h));
        firing.readings = whole.readings[..known].to_vec();
        let advice = advise(&trial.question(&firing, after(now_h)));
        if matches!(advice.say, Say::Look | Say::Stay) {
            looks += 1;
            let look = trial.truth.look(now_h, dice);
            firing.looks.push((after(now_h), look));
            if look.target == Some(Seen::Down) {
                let climb = spyhole::units::CelsiusPerHour(trial.truth.climb_c_per_h);
                let forgives = spyhole::watch::forgives::forgives(
                    trial.load.target,
                    trial.load.family,
                    climb,
                    trial.load.over_cones,
                );
                return Watched {
                    looks,
                    late_min: (now_h - trial.truth.drop_h) * 60.0,
                    forgives_min: forgives.map_or(0.0, Span::as_minutes),
                };
            }
        }
        // Wait for the next look, but hear every new reading on the way.
        let next_look_h = advice.next_look.map_or(now_h + 0.25, |at| (at - LIT).as_hours());
        let pause_h = if reads == Reads::Probe { 2.0 / 60.0 } else { 0.25 };
        now_h = next_look_h.clamp(now_h + 1.0 / 60.0, now_h + pause_h);
        assert!(now_h < 20.0, "nobody would still be waiting");
    }
}
