//! What is known of one firing up to a moment, in the form the forecast reckons with: hours since
//! lit, readings gathered into short stretches, what was seen of each cone.

use std::rc::Rc;
use std::sync::OnceLock;

use statrs::distribution::{ContinuousCDF, Normal};

use super::plausible::{self, Implausible, SetAside, Sifted};
use crate::cone::{Cone, Curve, curve, lean_deg};
use crate::firing::event::GlowSeen;
use crate::firing::read_by::{Readings, as_one};
use crate::firing::setting::{self, Way};
use crate::firing::{ConePack, Firing, Seen};
use crate::units::{Celsius, Moment};

/// The place of each cone of the pack in arrays of three.
pub const GUIDE: usize = 0;
pub const TARGET: usize = 1;
pub const GUARD: usize = 2;

/// The curves of guide, target and guard.
#[derive(Debug, Clone, Copy)]
pub struct Cones {
    pub curves: [Option<&'static Curve>; 3],
    pub target: &'static Curve,
}

/// Some readings close together, as one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Hours since lit.
    pub at_h: f64,
    pub c: f64,
    /// Standard deviation of its error, C, apart from a constant offset.
    pub noise_c: f64,
}

/// What somebody saw, in hours since lit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sight {
    pub at_h: f64,
    pub seen: [Option<Seen>; 3],
}

/// A burner or switch turned by hand, hours since lit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turn {
    pub at_h: f64,
    /// `None` when the words do not say.
    pub way: Option<Way>,
}

/// What is known of one firing up to `now`.
#[derive(Debug, Clone)]
pub struct Evidence {
    /// Where it was given up and lit again, as if it had been lit once ([`Firing::lit_as_if_once`]).
    pub lit: Moment,
    /// Now, or when it was switched off.
    pub until: Moment,
    pub cones: Cones,
    /// Those of several sources as if one had read them all.
    pub readings: Vec<Reading>,
    pub sights: Vec<Sight>,
    pub turns: Vec<Turn>,
    pub set_aside: Vec<SetAside>,
    /// The readings that are believed, each source's by itself, before they were gathered; there may be
    /// a million of them, and clones share them.
    pub each: Rc<Vec<Readings>>,
    /// When the colour of the glow was named that stands in place of readings.
    pub glow: Option<Moment>,
}

/// Readings closer together than this are gathered into one, hours.
const GATHER_H: f64 = 2.0 / 60.0;
/// Error of a single reading, and what is left of it however many are gathered, C. Common
/// practice, no source: a display of whole degrees, read while it moves.
const NOISE_SINGLE_C: f64 = 1.5;
const NOISE_LEFT_C: f64 = 0.6;
/// Fewest numbers that tell the steps they are written in.
const ENOUGH_NUMBERS: usize = 4;
/// Readings that are further apart on average were written down by hand, hours, and the time beside
/// each is off by so much (guesses).
const BY_HAND_EVERY_H: f64 = 8.0 / 60.0;
const TIME_BY_HAND_H: f64 = 1.0 / 60.0;

/// How sharply a person tells one word from the next, degrees of lean (a guess: a tenth of a
/// right angle is 9 degrees, and people do a little better than that).
pub const EYE_DEG: f64 = 6.0;
/// How often somebody writes down a word that has nothing to do with what was seen (a guess).
pub const WRONG_WORD: f64 = 0.002;

impl Cones {
    /// `None` when the chart does not have the target.
    pub fn of(pack: &ConePack) -> Option<Cones> {
        let find = |cone: Cone| curve(cone, pack.family).ok();
        let target = find(pack.target)?;
        Some(Cones {
            curves: [pack.guide.and_then(find), Some(target), pack.guard.and_then(find)],
            target,
        })
    }

    /// Heat work of all three from `from_c` to `to_c` in `hours`.
    pub fn heat_work(&self, from_c: f64, to_c: f64, hours: f64) -> [f64; 3] {
        self.curves.map(|curve| {
            curve.map_or(0.0, |curve| {
                hours * curve.mean_heat_work_per_hour(Celsius(from_c), Celsius(to_c))
            })
        })
    }

    /// d ln k/dT of the target where it ends at `climb_c_per_h`, per C: how much a degree matters.
    pub fn per_degree(&self, climb_c_per_h: f64) -> f64 {
        let end = self.target.temperature_ending(crate::units::CelsiusPerHour(climb_c_per_h));
        let k = |t: f64| self.target.heat_work_per_hour(Celsius(t)).ln();
        (k(end.0 + 4.0) - k(end.0 - 4.0)) / 8.0
    }
}

impl Evidence {
    /// `None` when the firing is not lit, has no pack, or its target is not on the chart.
    pub fn until(firing: &Firing, now: Moment, soaks: &[Celsius]) -> Option<Evidence> {
        let lit = firing.lit_as_if_once(now).filter(|lit| *lit <= now)?;
        let cones = Cones::of(firing.pack.as_ref()?)?;
        let until = firing.off.map_or(now, |off| off.min(now));
        let Sifted { each, aside, .. } = plausible::sift(firing, until, soaks);
        let sights = firing
            .looks_as_if_once(until)
            .map(|looked| Sight {
                at_h: (looked.at - lit).as_hours(),
                seen: [looked.look.guide, looked.look.target, looked.look.guard],
            })
            .collect();
        Some(Evidence {
            lit,
            until,
            cones,
            readings: gathered(&as_one(&each), lit),
            sights,
            turns: turns(firing, lit, until),
            set_aside: aside,
            each: Rc::new(each),
            glow: None,
        })
    }

    /// The same with the colour of the glow that was named last as one reading, where no reading is
    /// believed.
    pub fn or_by_the_glow(self, firing: &Firing) -> Evidence {
        let until = self.until;
        let from = firing.resumed_by(until).unwrap_or(self.lit);
        let by_then = |(at, _): &&(Moment, GlowSeen)| *at >= from && *at <= until;
        let last = firing.glows.iter().rfind(by_then).filter(|_| self.readings.is_empty());
        let Some((at, glow)) = last else { return self };
        let reading = Reading {
            at_h: self.hours(*at),
            c: glow.colour.middle().0,
            noise_c: glow.colour.error_c(glow.room),
        };
        Evidence { readings: vec![reading], each: Rc::default(), glow: Some(*at), ..self }
    }

    /// The same without the readings after a moment, hours since lit.
    pub fn read_until(&self, at_h: f64) -> Evidence {
        let mut readings = self.readings.clone();
        readings.truncate(readings.partition_point(|reading| reading.at_h <= at_h));
        Evidence { readings, ..self.clone() }
    }

    /// Whether any cone was said to be more than standing.
    pub fn saw_a_cone_move(&self) -> bool {
        let words = |sight: &Sight| sight.seen.into_iter().flatten();
        self.sights.iter().flat_map(words).any(|word| word != Seen::Standing)
    }

    /// The same without any reading.
    pub fn without_readings(&self) -> Evidence {
        Evidence { readings: Vec::new(), each: Rc::default(), glow: None, ..self.clone() }
    }

    /// The same with every reading set aside, because what was seen contradicts them.
    pub fn contradicted(&self) -> Evidence {
        let mut set_aside = self.set_aside.clone();
        set_aside.extend(self.each.iter().flatten().map(|&(at, reading)| SetAside {
            at,
            reading: Some(reading),
            why: Implausible::ContradictsLook,
        }));
        set_aside.sort_by_key(|set_aside| set_aside.at);
        Evidence { set_aside, ..self.without_readings() }
    }

    /// How many sources there are whose readings are believed or not.
    pub fn sources(&self) -> usize {
        self.each.len()
    }

    /// The same with the readings of one source only.
    pub fn of_source(&self, source: usize) -> Evidence {
        let each = vec![self.each[source].clone()];
        Evidence { readings: gathered(&each[0], self.lit), each: Rc::new(each), ..self.clone() }
    }

    /// How many readings are believed, and when the last of them was made; `None` without any.
    pub fn read(&self) -> Option<(usize, Moment)> {
        let last = self.each.iter().filter_map(|its| its.last()).map(|(at, _)| *at).max()?;
        Some((self.each.iter().map(Vec::len).sum(), last))
    }

    pub fn hours(&self, at: Moment) -> f64 {
        (at - self.lit).as_hours()
    }
}

/// The turns of a firing until a moment.
fn turns(firing: &Firing, lit: Moment, until: Moment) -> Vec<Turn> {
    let mut before = None;
    let mut turns = Vec::new();
    for (at, to) in &firing.turned {
        if *at > lit && *at <= until {
            let way = setting::way(before, to);
            turns.push(Turn { at_h: (*at - lit).as_hours(), way });
        }
        before = Some(to.as_str());
    }
    turns
}

/// Readings as they came, each with the error of a single one, gathered into two minutes each.
fn gathered(readings: &[(Moment, Celsius)], lit: Moment) -> Vec<Reading> {
    let written_c = NOISE_SINGLE_C.hypot(NOISE_LEFT_C).hypot(steps_c(readings) / 12f64.sqrt());
    let single = |&(at, c): &(Moment, Celsius)| Reading {
        at_h: (at - lit).as_hours(),
        c: c.0,
        noise_c: written_c,
    };
    let mut gathered = gather(readings.iter().map(single), GATHER_H);
    if readings.len() == gathered.len() && written_by_hand(&gathered) {
        let climbs: Vec<f64> = (0..gathered.len()).map(|at| climb_around(&gathered, at)).collect();
        for (reading, climb) in gathered.iter_mut().zip(climbs) {
            reading.noise_c = reading.noise_c.hypot(TIME_BY_HAND_H * climb);
        }
    }
    gathered
}

/// The step in which temperatures were written down, in either scale, C; 0 where it is a degree or
/// less, or there are too few of them to tell.
fn steps_c(readings: &[(Moment, Celsius)]) -> f64 {
    let whole = |step: f64, (scale, zero): (f64, f64)| {
        readings.iter().all(|(_, c)| {
            let steps = (c.0 * scale + zero) / step;
            (steps - steps.round()).abs() * step < 0.05
        })
    };
    let scales = [(1.0, 0.0), (1.8, 32.0)];
    let found =
        [50.0, 20.0, 10.0, 5.0, 2.0].into_iter().flat_map(|step| scales.map(|scale| (step, scale)));
    let found = found
        .filter(|_| readings.len() >= ENOUGH_NUMBERS)
        .find(|(step, scale)| whole(*step, *scale));
    found.map_or(0.0, |(step, (scale, _))| step / scale)
}

/// Whether the readings are as far apart as somebody writes them down, and no probe does.
fn written_by_hand(readings: &[Reading]) -> bool {
    let [first, .., last] = readings else { return false };
    (last.at_h - first.at_h) / (readings.len() - 1) as f64 >= BY_HAND_EVERY_H
}

/// The climb from the reading before one to the one after it, C/h, at least 0.
fn climb_around(readings: &[Reading], at: usize) -> f64 {
    let (before, after) =
        (readings[at.saturating_sub(1)], readings[(at + 1).min(readings.len() - 1)]);
    let hours = (after.at_h - before.at_h).max(GATHER_H);
    ((after.c - before.c) / hours).max(0.0)
}

/// Readings of the same stretch of `span_h` hours as their mean, at their mean time.
pub fn gather(readings: impl Iterator<Item = Reading>, span_h: f64) -> Vec<Reading> {
    let mut gathered = Vec::new();
    let mut rest = readings.peekable();
    while let Some(Reading { at_h: from_h, .. }) = rest.peek().copied() {
        let (mut count, mut at_h, mut c, mut loose) = (0.0, 0.0, 0.0, 0.0);
        while let Some(reading) = rest.next_if(|reading| reading.at_h < from_h + span_h) {
            count += 1.0;
            at_h += reading.at_h;
            c += reading.c;
            loose += reading.noise_c.powi(2) - NOISE_LEFT_C.powi(2);
        }
        let loose = (loose / count).max(0.0) / count;
        let noise_c = NOISE_LEFT_C.hypot(loose.sqrt());
        gathered.push(Reading { at_h: at_h / count, c: c / count, noise_c });
    }
    gathered
}

/// How likely it is that somebody says this word of a cone with this heat work.
pub fn chance_of_word(word: Seen, heat_work: f64) -> f64 {
    let lean = lean_deg(heat_work);
    let chance_below = |deviations: f64| Normal::standard().cdf(deviations);
    let (low, high) = word.lean_range_deg();
    let above_low = if word == Seen::Standing { 1.0 } else { chance_below((lean - low) / EYE_DEG) };
    let above_high = if word == Seen::Down { 0.0 } else { chance_below((lean - high) / EYE_DEG) };
    (1.0 - WRONG_WORD) * (above_low - above_high).max(0.0) + WRONG_WORD / 4.0
}

/// How often somebody takes guide and target for each other (a guess).
const TAKEN_FOR_EACH_OTHER: f64 = 0.01;

/// ln of how likely a sight is, from the heat work of each cone at that moment. A target further down
/// than the guide may be the guide.
pub fn log_chance(sight: &Sight, heat_work: &[f64; 3]) -> f64 {
    let of_words = |words: [Option<Seen>; 3]| -> f64 {
        let said = words.iter().zip(heat_work).filter_map(|(word, j)| Some(((*word)?, j)));
        said.map(|(word, j)| log_chance_of_word(word, *j)).sum()
    };
    let [guide, target, guard] = sight.seen;
    let as_said = of_words(sight.seen);
    if guide.is_none() || guide >= target {
        return as_said;
    }
    let swapped = of_words([target, guide, guard]) + TAKEN_FOR_EACH_OTHER.ln();
    let most = as_said.max(swapped);
    most + ((as_said - most).exp() + (swapped - most).exp()).ln()
}

/// Steps of the table below, from a fresh cone to one that is down.
const STEPS: usize = 1024;

/// ln of [`chance_of_word`] to 0.001, from a table: a forecast asks it of every firing it imagines,
/// for every word that was said.
pub fn log_chance_of_word(word: Seen, heat_work: f64) -> f64 {
    type Row = [f64; STEPS + 2];
    static ROWS: [OnceLock<Row>; Seen::ALL.len()] = [const { OnceLock::new() }; Seen::ALL.len()];
    let exactly = |step: usize| chance_of_word(word, step as f64 / STEPS as f64).ln();
    let row = ROWS[word as usize].get_or_init(|| std::array::from_fn(exactly));
    let place = heat_work.clamp(0.0, 1.0) * STEPS as f64;
    let at = place as usize;
    row[at] + (row[at + 1] - row[at]) * (place - at as f64)
}
