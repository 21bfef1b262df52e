//! Whether a temperature that somebody writes down fits what this kiln can have done.
//!
//! Physics alone decides which readings are used; here a first reading is also held against the
//! target and against what the kiln usually reads by then, since a slip is mended most easily while
//! the display is in sight.

use super::evidence::Cones;
use super::plausible::{
    AGREE, FAST_END, FASTEST_CLIMB_C_PER_H, FASTEST_FALL_C_PER_H, Implausible,
    PERHAPS_FAHRENHEIT_C_PER_H, Row, SLACK_C, sift,
};
use crate::firing::read_by::Source;
use crate::firing::{Firing, Who};
use crate::kiln::same_name;
use crate::review::ledger::median;
use crate::review::nearest::{course, temperature};
use crate::units::{Celsius, Moment, Span};

/// A reading that does not fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Misfit {
    pub against: Against,
    /// What it is when its number is taken on the other scale, where that fits.
    pub other_scale: Option<Celsius>,
}

/// What it does not fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Against {
    /// The reading before it: after that a kiln is between these two. Either may be the wrong one
    /// while `few` agree.
    Before { last: (Moment, Celsius), from: Celsius, to: Celsius, few: bool },
    /// How fast a kiln climbs from lit.
    Lit { since: Span, most: Celsius },
    /// The end of the target.
    Target { end: Celsius },
    /// What this kiln usually reads by then.
    Usual { since: Span, about: Celsius },
    /// What any probe reads that is whole.
    Itself(Implausible),
}

/// A kiln may be lit while it is still so warm, C (a guess).
const LIT_WARM_C: f64 = 100.0;
/// So far above the end of its target a kiln is not while it burns, C (a guess: a fast climb, a probe
/// in the hottest place).
const ABOVE_TARGET_C: f64 = 60.0;
/// The share of the usual rise above the room within which a first reading passes, and the usual
/// temperature below which nothing is made of it, C (guesses: days differ by a third at most).
const USUAL_SHARE: std::ops::RangeInclusive<f64> = 0.65..=1.5;
const USUAL_COUNTS_C: f64 = 120.0;
/// The usual temperature from which on the two scales can be told apart, C (a guess).
const SCALE_COUNTS_C: f64 = 45.0;
pub const ROOM_C: f64 = 20.0;

impl Misfit {
    /// Whether it is asked about before it is written: it fits on the other scale, or is the first
    /// reading and more than the kiln or its load can have come to.
    pub fn is_asked(&self) -> bool {
        let too_much = matches!(self.against, Against::Lit { .. } | Against::Target { .. });
        self.other_scale.is_some() || too_much
    }
}

/// The same as [`misfit`] of a reading that is not written yet and would be the last one.
pub fn misfit_if_read(
    firing: &Firing,
    (at, read): (Moment, Celsius),
    past: &[Firing],
) -> Option<Misfit> {
    if firing.readings.last().is_some_and(|(last, _)| *last > at) {
        return None;
    }
    let mut with_it = firing.clone();
    with_it.take_reading(at, &Who::Person(String::new()), read);
    misfit(&with_it, (at, read), past)
}

/// Why the reading that somebody made of a firing at that moment, and that is among its readings,
/// does not fit; `None` if it does, or when nothing is known to hold it against. Where nobody said whose
/// the readings are, all are somebody's.
pub fn misfit(firing: &Firing, (at, read): (Moment, Celsius), past: &[Firing]) -> Option<Misfit> {
    let lit = firing.lit_as_if_once(at).filter(|lit| *lit <= at)?;
    if firing.standing().off.is_some_and(|off| off < at) {
        return None;
    }
    let sources = firing.sources();
    let nobodys = sources.is_empty().then_some(0);
    let hand = sources.iter().position(|source| *source == Source::Hand).or(nobodys)?;
    let until = firing.readings.last()?.0;
    let sifted = sift(firing, until, &[]);
    let is_it = |one: &&super::SetAside| one.at == at && one.reading == Some(read);
    let why = sifted.aside.iter().find(is_it).map(|one| one.why);
    // Only the plan knows whether a value may stand still.
    let why = why.filter(|why| *why != Implausible::FlatLine);
    let good = &sifted.each[hand];
    let before = &good[..good.partition_point(|(earlier, _)| *earlier < at)];
    match (before.last(), why) {
        (Some(last), why) => {
            // Until a reading came that could tell, none was held against what is usual.
            let told = usual_that_counts(firing, last.0 - lit, past).is_some();
            let first = || if told { None } else { first(firing, at - lit, read, past) };
            after(before, *last, (at, read), why.is_some()).or_else(first)
        }
        (None, why) => first(firing, at - lit, read, past)
            .or_else(|| why.map(|why| Misfit { against: Against::Itself(why), other_scale: None })),
    }
}

/// The same of a reading after others of the same display.
fn after(
    before: &[(Moment, Celsius)],
    last: (Moment, Celsius),
    (at, read): (Moment, Celsius),
    set_aside: bool,
) -> Option<Misfit> {
    let since_h = (at - last.0).as_hours();
    let from = Celsius(last.1.0 - SLACK_C - FASTEST_FALL_C_PER_H * since_h);
    let to = Celsius(last.1.0 + SLACK_C + FASTEST_CLIMB_C_PER_H * since_h);
    let climb = Row::of(before).climb();
    let off = |c: Celsius| (c.0 - last.1.0 - climb.unwrap_or(0.0) * since_h).abs();
    let is_far = off(read) > SLACK_C + PERHAPS_FAHRENHEIT_C_PER_H * since_h;
    let doubted = set_aside || (is_far && climb.is_some());
    let fits = |c: &Celsius| doubted && (from..=to).contains(c) && off(*c) < 0.25 * off(read);
    let other_scale = on_the_other_scale(read).into_iter().find(fits);
    let against = Against::Before { last, from, to, few: before.len() < AGREE };
    (set_aside || other_scale.is_some()).then_some(Misfit { against, other_scale })
}

/// The same of the first reading of a firing that can tell.
fn first(firing: &Firing, since: Span, read: Celsius, past: &[Firing]) -> Option<Misfit> {
    let most = Celsius(LIT_WARM_C + SLACK_C + FASTEST_CLIMB_C_PER_H * since.as_hours());
    let end = firing.pack.as_ref().and_then(Cones::of);
    let end = end.map(|cones| cones.target.temperature_ending(FAST_END));
    let about = usual(firing, since, past).filter(|about| about.0 > SCALE_COUNTS_C);
    let against = |c: Celsius| {
        let beyond = end.filter(|end| c.0 > end.0 + ABOVE_TARGET_C);
        let share = |about: &Celsius| (c.0 - ROOM_C) / (about.0 - ROOM_C);
        let odd = about.filter(|about| !USUAL_SHARE.contains(&share(about)));
        (c > most)
            .then_some(Against::Lit { since, most })
            .or(beyond.map(|end| Against::Target { end }))
            .or(odd.map(|about| Against::Usual { since, about }))
    };
    let fits = |c: &Celsius| c.0 > 0.0 && against(*c).is_none();
    let other_scale = on_the_other_scale(read).into_iter().find(fits);
    let counts = |against: &Against| match against {
        Against::Usual { about, .. } => about.0 > USUAL_COUNTS_C || other_scale.is_some(),
        _ => true,
    };
    against(read).filter(counts).map(|against| Misfit { against, other_scale })
}

/// The number of a reading in Celsius taken for Fahrenheit, and that in Fahrenheit for Celsius.
fn on_the_other_scale(read: Celsius) -> [Celsius; 2] {
    [Celsius::from_fahrenheit(read.0), Celsius(read.fahrenheit())]
}

/// What is usual so long after lighting, where a reading can be held against it.
fn usual_that_counts(firing: &Firing, since: Span, past: &[Firing]) -> Option<Celsius> {
    usual(firing, since, past).filter(|about| about.0 > USUAL_COUNTS_C)
}

/// What this kiln usually reads so long after lighting: in past firings with this load, with any
/// load, or by the plan.
fn usual(firing: &Firing, since: Span, past: &[Firing]) -> Option<Celsius> {
    let of_kiln = || past.iter().filter(|other| same_name(&other.kiln, &firing.kiln));
    let read = |other: &Firing| temperature(&course(other), since);
    let with_load = of_kiln().filter(|other| same_name(&other.load_type, &firing.load_type));
    median(with_load.filter_map(read))
        .or_else(|| median(of_kiln().filter_map(read)))
        .or_else(|| temperature(&firing.plan, since))
        .map(Celsius)
}
