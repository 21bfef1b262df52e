//! Readings that contradict physics are set aside, each with its reason, and never used.
//!
//! A kiln is heavy: it cannot jump, it cannot hold one value to the last digit while it is being
//! heated, and it is never below freezing once lit. The limits are guesses on the generous side;
//! a reading is set aside only when no kiln could have done it.

use crate::cone::curve;
use crate::firing::Firing;
use crate::firing::read_by::{Readings, Source};
use crate::units::{Celsius, CelsiusPerHour, Moment, Span};

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

/// A chamber climbs at most so fast between two readings, and falls at most so fast with the burner
/// out and the damper open, C/h (guesses: small gas kilns climb by 600 in their first hour).
pub(super) const FASTEST_CLIMB_C_PER_H: f64 = 750.0;
pub(super) const FASTEST_FALL_C_PER_H: f64 = 600.0;
/// Where the climb is known, a chamber stays so close to where it leads, C for every hour since,
/// and for no longer than this, hours (guesses).
const CLIMB_CHANGES_C_PER_H: f64 = 125.0;
const CLIMB_HOLDS_H: f64 = 0.5;
/// A reading further off than this may be Fahrenheit taken for Celsius, C for every hour since.
pub(super) const PERHAPS_FAHRENHEIT_C_PER_H: f64 = 250.0;
/// A first reading that is hotter than a kiln can be since it was lit this warm, C, or than the end of
/// its target by so much, C, waits for others that agree with it (guesses, both generous: a kiln lit
/// again while hot, a lighting noted late, a probe in the hottest place).
const FIRST_LIT_WARM_C: f64 = 200.0;
const FIRST_ABOVE_TARGET_C: f64 = 200.0;
pub(super) const FAST_END: CelsiusPerHour = CelsiusPerHour(300.0);
/// So many readings that agree with one another are believed against one or two before them.
pub(super) const AGREE: usize = 3;
/// What reading and noise may add, C.
pub(super) const SLACK_C: f64 = 12.0;
/// Above this a lit chamber of a pottery never is, and so cold it is not again; a broken probe often
/// reads so.
const BROKEN_ABOVE_C: f64 = 1365.0;
const BROKEN_BELOW_C: f64 = 5.0;
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

/// The readings of a firing that can be used, and those set aside.
#[derive(Debug, Clone)]
pub struct Sifted {
    /// Those that can be used, each source's by itself.
    pub each: Vec<Readings>,
    /// In the order of time.
    pub aside: Vec<SetAside>,
    /// Since when a source has spoken no sense, if one does not now, and why.
    pub trouble: Option<(Moment, Implausible)>,
}

/// The readings of a firing from lit to `until`, each source's judged by themselves; where it was given
/// up and lit again, from then on, for before it cooled. `soaks` are the temperatures the schedule holds.
pub fn sift(firing: &Firing, until: Moment, soaks: &[Celsius]) -> Sifted {
    let lit = firing.resumed_by(until).or(firing.lit).unwrap_or(Moment(i64::MIN));
    let sift_one = |source: usize| {
        let mut sifter = Sifter { first: First::of(firing, until), ..Sifter::default() };
        let since_lit = |(at, _): &(Moment, Celsius)| *at >= lit && *at <= until;
        firing.readings_of(source).filter(since_lit).for_each(|(at, c)| sifter.take(at, c));
        let (mut good, mut aside) = sifter.sifted();
        set_flat_lines_aside(&mut good, &mut aside, soaks);
        // A person who also types what a display says need not go on.
        if firing.sources().len() < 2 || firing.sources()[source] != Source::Hand {
            aside.extend(fell_silent(&good, &aside, until));
        }
        (good, aside)
    };
    let (each, asides): (Vec<Readings>, Vec<Vec<SetAside>>) =
        (0..firing.sources().len().max(1)).map(sift_one).unzip();
    let last = |its: &Readings| its.last().map(|(at, _)| *at);
    // A number mistyped is past with the next one that fits, whoever reads it; a probe is right
    // again when it says so itself.
    let trouble_of = |(source, aside): (usize, &Vec<SetAside>)| {
        let good = match firing.sources().get(source) {
            Some(Source::Probe(_)) => last(&each[source]),
            _ => each.iter().filter_map(last).max(),
        };
        let since_good = aside.iter().filter(|one| good.is_none_or(|good| one.at >= good));
        since_good.map(|one| (one.at, one.why)).min_by_key(|(at, _)| *at)
    };
    let trouble = asides.iter().enumerate().filter_map(trouble_of).min_by_key(|(at, _)| *at);
    let mut aside: Vec<SetAside> = asides.into_iter().flatten().collect();
    let spoken = each.iter().filter_map(last).chain(aside.iter().map(|one| one.at)).max();
    let said = firing.silences.iter().map(|(at, _)| *at).filter(|at| *at <= until).max();
    if let Some(at) = said.filter(|at| spoken.is_none_or(|spoken| spoken <= *at)) {
        aside.retain(|one| one.why != Implausible::Silent);
        aside.push(silent(at));
    }
    aside.sort_by_key(|set_aside| set_aside.at);
    Sifted { each, aside, trouble }
}

/// Readings in the order of time, sorted into those that one chamber can have done and others.
///
/// A reading that does not fit the good ones waits, with those after it that fit it and not the
/// good ones. They are set aside when a reading comes back to where the good ones lead; they are
/// believed instead when there are three of them against one or two, for then it was the first that
/// was mistyped.
#[derive(Debug, Default)]
struct Sifter {
    first: First,
    good: Row,
    waiting: Row,
    /// Why each of those that wait does not fit the good ones.
    reasons: Vec<Implausible>,
    aside: Vec<SetAside>,
}

impl Sifter {
    fn take(&mut self, at: Moment, reading: Celsius) {
        if reading.0 < 0.0 {
            return self.set_aside((at, reading), Implausible::Reversed);
        }
        if reading.0 > BROKEN_ABOVE_C {
            return self.set_aside((at, reading), Implausible::OpenCircuit);
        }
        if self.good.began_in_fahrenheit(at, reading) {
            let first = std::mem::take(&mut self.good);
            first.0.into_iter().for_each(|one| self.set_aside(one, Implausible::LikelyFahrenheit));
        }
        let is_first = self.good.0.is_empty();
        let reason = match is_first {
            true => self.first.why_not(at, reading),
            false => self.good.why_not(at, reading),
        };
        // A kiln does not fall while it is being lit: what is far below those waiting is a beginning.
        let could_follow =
            |(_, last): &(Moment, Celsius)| !is_first || reading.0 >= last.0 - SLACK_C;
        let follows_those_waiting = self.waiting.0.last().is_some_and(could_follow)
            && self.waiting.why_not(at, reading).is_none();
        match reason {
            None if !follows_those_waiting || self.good.leads_to(at, reading) => {
                self.set_waiting_aside();
                self.good.push((at, reading));
            }
            reason => {
                if !follows_those_waiting {
                    self.set_waiting_aside();
                }
                self.waiting.push((at, reading));
                self.reasons.push(reason.unwrap_or(Implausible::Jump));
                self.believe_those_that_agree();
            }
        }
    }

    fn believe_those_that_agree(&mut self) {
        if self.waiting.0.len() < AGREE || self.good.0.len() >= AGREE {
            return;
        }
        let first = std::mem::replace(&mut self.good, std::mem::take(&mut self.waiting));
        self.reasons.clear();
        first.0.into_iter().for_each(|one| self.set_aside(one, Implausible::Jump));
    }

    fn set_waiting_aside(&mut self) {
        let waiting = std::mem::take(&mut self.waiting);
        let reasons = std::mem::take(&mut self.reasons);
        waiting.0.into_iter().zip(reasons).for_each(|(one, why)| self.set_aside(one, why));
    }

    fn set_aside(&mut self, (at, reading): (Moment, Celsius), why: Implausible) {
        self.aside.push(SetAside { at, reading: Some(reading), why });
    }

    fn sifted(mut self) -> (Vec<(Moment, Celsius)>, Vec<SetAside>) {
        self.set_waiting_aside();
        (self.good.0, self.aside)
    }
}

/// What a first reading can be.
#[derive(Debug, Default)]
struct First {
    /// When it was lit, if it was not lit again while hot.
    lit: Option<Moment>,
    /// Where its target ends at a fast climb.
    end: Option<Celsius>,
}

impl First {
    fn of(firing: &Firing, until: Moment) -> First {
        let curve = firing.pack.and_then(|pack| curve(pack.target, pack.family).ok());
        First {
            lit: firing.lit.filter(|_| firing.resumed_by(until).is_none()),
            end: curve.map(|curve| curve.temperature_ending(FAST_END)),
        }
    }

    /// Why a kiln cannot be so hot then, whatever it was before; `None` if it can.
    fn why_not(&self, at: Moment, reading: Celsius) -> Option<Implausible> {
        let most = self
            .lit
            .map(|lit| FIRST_LIT_WARM_C + SLACK_C + FASTEST_CLIMB_C_PER_H * (at - lit).as_hours());
        let end = self.end.map(|end| end.0 + FIRST_ABOVE_TARGET_C);
        let can_be = |c: f64| [most, end].into_iter().flatten().all(|limit| c <= limit);
        match (can_be(reading.0), can_be(Celsius::from_fahrenheit(reading.0).0)) {
            (true, _) => None,
            (false, true) => Some(Implausible::LikelyFahrenheit),
            (false, false) => Some(Implausible::Jump),
        }
    }
}

/// Readings that one chamber can have done, in the order of time, and where the last quarter of an hour
/// of them begins.
#[derive(Debug, Default)]
pub(super) struct Row(Readings, usize);

impl Row {
    pub(super) fn of(readings: &[(Moment, Celsius)]) -> Row {
        let mut row = Row::default();
        readings.iter().for_each(|reading| row.push(*reading));
        row
    }

    fn push(&mut self, reading: (Moment, Celsius)) {
        self.0.push(reading);
        while reading.0 - self.0[self.1].0 > Span::minutes(15) {
            self.1 += 1;
        }
    }

    /// Why a next reading is none that this chamber can have done; `None` if it can.
    fn why_not(&self, at: Moment, reading: Celsius) -> Option<Implausible> {
        let &(last_at, last) = self.0.last()?;
        let since_h = (at - last_at).as_hours();
        let possible = |c: f64| {
            c <= last.0 + SLACK_C + FASTEST_CLIMB_C_PER_H * since_h
                && c >= last.0 - SLACK_C - FASTEST_FALL_C_PER_H * since_h
        };
        let climb = self.climb();
        let expected = last.0 + climb.unwrap_or(0.0) * since_h;
        let off = (reading.0 - expected).abs();
        let from_fahrenheit = Celsius::from_fahrenheit(reading.0).0;
        let far = match climb {
            Some(_) => off > SLACK_C + PERHAPS_FAHRENHEIT_C_PER_H * since_h,
            None => !possible(reading.0),
        };
        if far && possible(from_fahrenheit) && (from_fahrenheit - expected).abs() < 0.25 * off {
            return Some(Implausible::LikelyFahrenheit);
        }
        let broken = reading.0 < BROKEN_BELOW_C && off > SLACK_C;
        match (possible(reading.0), broken) {
            (true, _) => None,
            (false, true) => Some(Implausible::OpenCircuit),
            (false, false) => Some(Implausible::Jump),
        }
    }

    /// Whether a reading is where this chamber must be by its climb; not where no climb is known yet.
    fn leads_to(&self, at: Moment, reading: Celsius) -> bool {
        let (Some(&(last_at, last)), Some(climb)) = (self.0.last(), self.climb()) else {
            return false;
        };
        let since_h = (at - last_at).as_hours();
        let off = (reading.0 - last.0 - climb * since_h).abs();
        off <= SLACK_C + CLIMB_CHANGES_C_PER_H * since_h.min(CLIMB_HOLDS_H)
    }

    /// Whether its only reading is far above the next one, and right as Fahrenheit: a kiln that is
    /// being lit does not fall.
    fn began_in_fahrenheit(&self, at: Moment, next: Celsius) -> bool {
        let [(first_at, first)] = self.0[..] else { return false };
        let first_c = Celsius::from_fahrenheit(first.0).0;
        let most = FASTEST_CLIMB_C_PER_H * (at - first_at).as_hours();
        first.0 > next.0 + SLACK_C
            && first_c > 0.0
            && (0.0..=SLACK_C + most).contains(&(next.0 - first_c))
    }

    /// The climb over the last quarter of an hour, or of the last two readings, C/h; `None` with one.
    pub(super) fn climb(&self) -> Option<f64> {
        let [.., before, last] = self.0[..] else { return None };
        let from = Some(self.0[self.1]).filter(|(at, _)| last.0 - *at >= Span::minutes(5));
        let from = from.unwrap_or(before);
        let hours = (last.0 - from.0).as_hours();
        Some(if hours < 1.0 / 60.0 { 0.0 } else { (last.1.0 - from.1.0) / hours })
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
    let before = good.partition_point(|(earlier, _)| at - *earlier >= Span::minutes(15));
    good[..before].last().is_some_and(|(earlier, value)| {
        (reading.0 - value.0) / (at - *earlier).as_hours() > FLAT_AFTER_CLIMB_C_PER_H
    })
}

/// A probe that spoke every few minutes and has stopped.
fn fell_silent(good: &[(Moment, Celsius)], aside: &[SetAside], until: Moment) -> Option<SetAside> {
    let last = good.last().map(|(at, _)| *at).max(aside.last().map(|set_aside| set_aside.at))?;
    let from = good.len().checked_sub(8)?;
    let mut pauses: Vec<i64> =
        good[from..].windows(2).map(|pair| (pair[1].0 - pair[0].0).0).collect();
    pauses.sort_unstable();
    let usual = Span(pauses[pauses.len() / 2]);
    let quiet = until - last;
    (usual <= SILENT && quiet > SILENT && quiet.0 > SILENT_PAUSES * usual.0).then(|| silent(last))
}

fn silent(at: Moment) -> SetAside {
    SetAside { at, reading: None, why: Implausible::Silent }
}
