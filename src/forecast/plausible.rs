//! Readings that contradict physics are set aside, each with its reason, and never used.
//!
//! A kiln is heavy: it cannot jump, it cannot hold one value to the last digit while it is being
//! heated, and it is never below freezing once lit. The limits are guesses on the generous side;
//! a reading is set aside only when no kiln could have done it.

use crate::firing::Firing;
use crate::units::{Celsius, Moment, Span};

/// Why a reading was not used.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Implausible {
    /// Changed faster than any kiln can, and has not come back.
    Jump,
    /// The same value to the last digit, although the kiln was climbing.
    FlatLine,
    /// Below freezing since lit: a probe wired the wrong way round reads so.
    Reversed,
    /// At the end of the probe's range: a broken probe reads so.
    OpenCircuit,
    /// Taken as Fahrenheit it would fit.
    LikelyFahrenheit,
    /// What was seen of the cones cannot be where it reads.
    ContradictsLook,
    /// A probe that used to speak has said nothing since.
    Silent,
}

/// A reading set aside, or the silence after `at`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SetAside {
    pub at: Moment,
    /// `None` for a silence.
    pub reading: Option<Celsius>,
    pub why: Implausible,
}

/// From one reading to the next no chamber changes faster than this, C/h.
const FASTEST_CHANGE_C_PER_H: f64 = 1500.0;
/// Nor does its climb change by more than this between two readings, C/h.
const FASTEST_TURN_C_PER_H: f64 = 500.0;
/// What reading and noise may add, C.
const SLACK_C: f64 = 12.0;
/// Above this a lit chamber of a pottery never is; a broken probe often reads so.
const BROKEN_ABOVE_C: f64 = 1365.0;
/// A value held to the last digit this long, over at least so many readings, is a flat line.
const FLAT: Span = Span::minutes(10);
const FLAT_COUNT: usize = 6;
/// It must have climbed at least so fast before, C/h.
const FLAT_AFTER_CLIMB_C_PER_H: f64 = 60.0;
/// Near a planned soak, C, a steady value is to be expected.
const NEAR_SOAK_C: f64 = 15.0;
/// A probe silent for this long, and for so many of its usual pauses, is named.
const SILENT: Span = Span::minutes(5);
const SILENT_PAUSES: i64 = 5;

/// The readings of a firing from lit to `until` that can be used, and those set aside, in the
/// order of time. `soaks` are the temperatures the schedule holds.
pub fn sift(
    firing: &Firing,
    until: Moment,
    soaks: &[Celsius],
) -> (Vec<(Moment, Celsius)>, Vec<SetAside>) {
    let lit = firing.lit.unwrap_or(Moment(i64::MIN));
    let mut sifter = Sifter::default();
    for &(at, reading) in firing.readings.iter().filter(|(at, _)| *at >= lit && *at <= until) {
        sifter.take(at, reading);
    }
    let Sifter { mut good, mut aside, .. } = sifter;
    set_flat_lines_aside(&mut good, &mut aside, soaks);
    if let Some(silence) = silence(firing, &good, &aside, until) {
        aside.push(silence);
    }
    aside.sort_by_key(|set_aside| set_aside.at);
    (good, aside)
}

#[derive(Debug, Default)]
struct Sifter {
    good: Vec<(Moment, Celsius)>,
    aside: Vec<SetAside>,
    /// The last reading of all, and whether the probe has jumped away.
    last: Option<(Moment, Celsius)>,
    away: bool,
}

impl Sifter {
    fn take(&mut self, at: Moment, reading: Celsius) {
        let verdict = self.judge(at, reading);
        self.away = verdict == Some(Implausible::Jump);
        self.last = Some((at, reading));
        match verdict {
            None => self.good.push((at, reading)),
            Some(why) => self.aside.push(SetAside { at, reading: Some(reading), why }),
        }
    }

    fn judge(&mut self, at: Moment, reading: Celsius) -> Option<Implausible> {
        if reading.0 < 0.0 {
            return Some(Implausible::Reversed);
        }
        if reading.0 > BROKEN_ABOVE_C {
            return Some(Implausible::OpenCircuit);
        }
        let &(good_at, good) = self.good.last()?;
        let since_h = (at - good_at).as_hours();
        let expected = good.0 + self.climb() * since_h;
        let off = (reading.0 - expected).abs();
        let allowed = SLACK_C + FASTEST_TURN_C_PER_H * since_h;
        let as_fahrenheit = (Celsius::from_fahrenheit(reading.0).0 - expected).abs();
        if off > SLACK_C + 0.5 * FASTEST_TURN_C_PER_H * since_h && as_fahrenheit < 0.25 * off {
            return Some(Implausible::LikelyFahrenheit);
        }
        if let [only] = self.good[..]
            && off > allowed
            && (Celsius::from_fahrenheit(only.1.0).0 - reading.0).abs() < 0.25 * off
        {
            self.aside.push(SetAside {
                at: only.0,
                reading: Some(only.1),
                why: Implausible::LikelyFahrenheit,
            });
            self.good.clear();
            return None;
        }
        if self.away {
            // Back only when it returns to where the chamber must be; the longer it was away, the
            // less is known of that, but a jump that stays stays a jump.
            let back = SLACK_C + 0.25 * FASTEST_TURN_C_PER_H * since_h.min(0.5);
            return (off > back).then_some(Implausible::Jump);
        }
        let jumped = self.last.is_some_and(|(last_at, last)| {
            let pause_h = (at - last_at).as_hours();
            (reading.0 - last.0).abs() > SLACK_C + FASTEST_CHANGE_C_PER_H * pause_h
        });
        (jumped || off > allowed).then_some(match reading.0 {
            low if low < 5.0 => Implausible::OpenCircuit,
            _ => Implausible::Jump,
        })
    }

    /// The climb over the last quarter of an hour of good readings, or their last two, C/h.
    fn climb(&self) -> f64 {
        let [.., before, last] = self.good[..] else { return 0.0 };
        let from = self
            .good
            .iter()
            .rev()
            .take_while(|(at, _)| last.0 - *at <= Span::minutes(15))
            .last()
            .filter(|(at, _)| last.0 - *at >= Span::minutes(5))
            .copied()
            .unwrap_or(before);
        let hours = (last.0 - from.0).as_hours();
        if hours < 1.0 / 60.0 { 0.0 } else { (last.1.0 - from.1.0) / hours }
    }
}

/// Takes out runs of one value where the kiln had been climbing and no soak is planned.
fn set_flat_lines_aside(
    good: &mut Vec<(Moment, Celsius)>,
    aside: &mut Vec<SetAside>,
    soaks: &[Celsius],
) {
    let mut flat = vec![false; good.len()];
    let mut start = 0;
    while start < good.len() {
        let value = good[start].1;
        let end = (start..good.len()).find(|at| good[*at].1 != value).unwrap_or(good.len());
        let long = end - start >= FLAT_COUNT && good[end - 1].0 - good[start].0 >= FLAT;
        let planned = soaks.iter().any(|soak| (soak.0 - value.0).abs() < NEAR_SOAK_C);
        if long && !planned && climbed_before(good, start) {
            flat[start + 1..end].fill(true);
        }
        start = end;
    }
    let mut at = 0;
    good.retain(|&(when, reading)| {
        let out = flat[at];
        at += 1;
        if out {
            let why = Implausible::FlatLine;
            aside.push(SetAside { at: when, reading: Some(reading), why });
        }
        !out
    });
}

fn climbed_before(good: &[(Moment, Celsius)], start: usize) -> bool {
    let (at, reading) = good[start];
    let before = good[..start].iter().rev().find(|(earlier, _)| at - *earlier >= Span::minutes(15));
    before.is_some_and(|(earlier, value)| {
        (reading.0 - value.0) / (at - *earlier).as_hours() > FLAT_AFTER_CLIMB_C_PER_H
    })
}

/// A probe that spoke every few minutes and has stopped, or said itself that it is silent.
fn silence(
    firing: &Firing,
    good: &[(Moment, Celsius)],
    aside: &[SetAside],
    until: Moment,
) -> Option<SetAside> {
    let spoken = good.last().map(|(at, _)| *at).max(aside.last().map(|set_aside| set_aside.at));
    let silent = |at| SetAside { at, reading: None, why: Implausible::Silent };
    let said = firing.silences.iter().map(|(at, _)| *at).filter(|at| *at <= until).max();
    if let Some(at) = said
        && spoken.is_none_or(|spoken| spoken <= at)
    {
        return Some(silent(at));
    }
    let last = spoken?;
    let from = good.len().checked_sub(8)?;
    let mut pauses: Vec<i64> =
        good[from..].windows(2).map(|pair| (pair[1].0 - pair[0].0).0).collect();
    pauses.sort_unstable();
    let usual = Span(pauses[pauses.len() / 2]);
    let quiet = until - last;
    (usual <= SILENT && quiet > SILENT && quiet.0 > SILENT_PAUSES * usual.0).then(|| silent(last))
}
