//! When a kiln that is off will be cool enough to be drawn.
//!
//! By Newton's law of cooling what is hot loses heat in proportion to how much hotter it is than the
//! room: T(t) = a + (T0 - a) exp(-t / tau), so it is at T after tau ln((T0 - a) / (T - a)) (any
//! handbook of physics). A kiln is no single body: its air and ware cool sooner than its bricks, so
//! tau grows, and what is reckoned from early readings comes out early. It is therefore taken from
//! the newest readings only, and every further reading puts it right.
//!
//! Where this firing has no readings after off, the kiln's own past coolings say how long it takes:
//! by their readings, or by when it was drawn, which may have been later than it had to be.

use crate::firing::Firing;
use crate::firing::read_by::Readings;
use crate::forecast::plausible::sift;
use crate::schedule::Leg;
use crate::units::{Celsius, Moment, Span};

/// Below this a kiln is drawn where the shop says nothing else. Common practice, no source: the
/// kiln maker's manual decides.
pub const USUAL_DRAW_BELOW: Celsius = Celsius(100.0);
/// What a shop may choose.
pub const DRAW_BELOW_RANGE: (Celsius, Celsius) = (Celsius(30.0), Celsius(300.0));
/// What the room is taken to be, C: a guess.
const ROOM: Celsius = Celsius(20.0);
/// The law is taken from the readings of so long before the last one.
const NEWEST: Span = Span::hours(3);
/// Readings closer than this say nothing of how fast it cools.
const LEAST_APART: Span = Span::minutes(15);
/// A kiln never seen to cool is taken to be hot for so long after off. Common practice, no source.
pub const USUALLY_HOT_FOR: Span = Span::hours(14);
/// A chamber may still rise by so much after off, C (a guess).
const STILL_RISES_C: f64 = 30.0;
/// A leg flatter than this is held, C/h.
const LEVEL: f64 = 1.0;
/// A kiln of whose cooling nothing is known is read so long after off or its last reading (a guess).
const READ_AFTER: Span = Span::hours(1);
/// So many past coolings of a kiln are asked, the youngest.
const PAST: usize = 8;

/// The cooling of one firing, and what past ones of its kiln say.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Cooling {
    /// When it was shut off or given up.
    off: Moment,
    /// The believed readings since, and the hottest of before.
    readings: Vec<(Moment, Celsius)>,
    hottest: Option<Celsius>,
    past: Vec<PastCooling>,
}

/// How a kiln cooled once: readings by the time since off, and when it was drawn.
#[derive(Debug, Clone, PartialEq, Default)]
struct PastCooling {
    readings: Vec<(Span, Celsius)>,
    drawn: Option<Span>,
}

/// Why a kiln that is said to be drawn may be too hot for it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TooHot {
    /// It was read so, and by its readings or its past it is still about so hot.
    About(Celsius),
    /// It was read once since off.
    Read(Moment, Celsius),
    /// Nothing is known but that it has been off for so short a time.
    OffFor(Span),
}

/// Newton's law through readings: the last of them, and how fast what is above the room's falls.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Law {
    pub at: Moment,
    pub from: Celsius,
    /// The time in which the difference to the room falls to 1/e.
    pub tau: Span,
    pub room: Celsius,
}

impl Law {
    /// The law through these readings by least squares of ln(T - a) over time, through the last one;
    /// `None` where they do not fall, or say nothing of how fast.
    pub fn through(readings: &[(Moment, Celsius)], room: Celsius) -> Option<Law> {
        let &(at, from) = readings.last()?;
        let above = |t: Celsius| (t.0 - room.0).max(0.0).ln();
        let first = readings.first()?;
        if at - first.0 < LEAST_APART || from.0 <= room.0 + 1.0 {
            return None;
        }
        let points = readings.iter().filter(|(_, t)| t.0 > room.0 + 1.0);
        let points: Vec<(f64, f64)> =
            points.map(|(when, t)| ((*when - at).as_hours(), above(*t) - above(from))).collect();
        // A line through the last reading: its slope is sum(x y) / sum(x x).
        let xx: f64 = points.iter().map(|(x, _)| x * x).sum();
        let xy: f64 = points.iter().map(|(x, y)| x * y).sum();
        let slope = xy / xx;
        (slope < -1e-3).then(|| Law { at, from, tau: Span::from_hours(-1.0 / slope), room })
    }

    /// When it is as cool as this; `None` for what the room itself is not.
    pub fn reaches(&self, limit: Celsius) -> Option<Moment> {
        if self.from.0 <= limit.0 {
            return Some(self.at);
        }
        let (from, to) = (self.from.0 - self.room.0, limit.0 - self.room.0);
        (to > 0.0).then(|| self.at + Span::from_hours(self.tau.as_hours() * (from / to).ln()))
    }

    pub fn temperature_at(&self, when: Moment) -> Celsius {
        let left = (-(when - self.at).as_hours() / self.tau.as_hours()).exp();
        Celsius(self.room.0 + (self.from.0 - self.room.0) * left)
    }
}

impl Cooling {
    /// The cooling of a firing that is off, with what `past` firings say of its kiln; `None` for one
    /// that burns, or is drawn.
    pub fn of(firing: &Firing, past: &[Firing]) -> Option<Cooling> {
        let off = firing.standing().off.filter(|_| firing.cools())?;
        let believed = believed(firing);
        let hottest = believed.iter().map(|(_, t)| *t).max_by(|a, b| a.0.total_cmp(&b.0));
        let readings = believed.into_iter().filter(|(at, _)| *at >= off).collect();
        let here = past
            .iter()
            .filter(|one| one.id != firing.id && crate::kiln::same_name(&one.kiln, &firing.kiln));
        let mut past: Vec<(Moment, PastCooling)> = here.filter_map(PastCooling::of).collect();
        past.sort_by_key(|(off, _)| std::cmp::Reverse(*off));
        past.truncate(PAST);
        let past = past.into_iter().map(|(_, past)| past).collect();
        Some(Cooling { off, readings, hottest, past })
    }

    /// The law that the newest readings since off follow.
    fn law(&self) -> Option<Law> {
        let (last, _) = self.readings.last()?;
        let newest = self.readings.iter().position(|(at, _)| *last - *at <= NEWEST)?;
        // A reading just before the stretch is better than a stretch of one.
        let from =
            if newest + 1 == self.readings.len() { newest.saturating_sub(1) } else { newest };
        Law::through(&self.readings[from..], ROOM)
    }

    /// When the kiln is below this, as far as there is anything to go on.
    pub fn below(&self, limit: Celsius) -> Option<Moment> {
        let cool = self.readings.iter().rev().take_while(|(_, t)| t.0 <= limit.0).last();
        if let Some((at, _)) = cool {
            return Some(*at);
        }
        if let Some(law) = self.law() {
            return law.reaches(limit);
        }
        let usual = median(self.past.iter().filter_map(|past| past.below(limit)).collect())?;
        let last = self.readings.last().map_or(self.off, |(at, _)| *at);
        Some((self.off + usual).max(last))
    }

    /// When to read it next where nothing says when it is cool.
    pub fn next_reading(&self) -> Moment {
        self.readings.last().map_or(self.off, |(at, _)| *at) + READ_AFTER
    }

    /// Why it may be hotter than this at `when`; `None` where nothing speaks for that.
    pub fn too_hot(&self, limit: Celsius, when: Moment) -> Option<TooHot> {
        if self.hottest.is_some_and(|hottest| hottest.0 <= limit.0) {
            return None;
        }
        let read = self.readings.iter().rev().find(|(at, _)| *at <= when);
        match (read, self.law()) {
            (Some((_, t)), _) if t.0 <= limit.0 => None,
            (Some(_), Some(law)) => {
                let about = law.temperature_at(when);
                (about.0 > limit.0).then_some(TooHot::About(about))
            }
            _ => match (self.below(limit), read) {
                (Some(cool), _) if cool <= when => None,
                (_, Some((at, t))) if when - *at < USUALLY_HOT_FOR => Some(TooHot::Read(*at, *t)),
                (Some(_), _) => Some(TooHot::OffFor(when - self.off)),
                (None, _) => {
                    (when - self.off < USUALLY_HOT_FOR).then_some(TooHot::OffFor(when - self.off))
                }
            },
        }
    }
}

impl PastCooling {
    /// How a firing cooled, and when it was off; `None` where nothing was written of it.
    fn of(firing: &Firing) -> Option<(Moment, PastCooling)> {
        let off = firing.off?;
        let mut readings: Vec<(Span, Celsius)> = Vec::new();
        for (at, t) in believed(firing).into_iter().filter(|(at, _)| *at >= off) {
            let since = at - off;
            if readings.last().is_none_or(|(last, _)| since.0 - last.0 >= LEAST_APART.0) {
                readings.push((since, t));
            }
        }
        let drawn = firing.drawn.map(|drawn| drawn - off);
        let known = !readings.is_empty() || drawn.is_some();
        known.then_some((off, PastCooling { readings, drawn }))
    }

    /// How long after off it was as cool as this: between two readings by Newton's law, else at the
    /// latest when it was drawn.
    fn below(&self, limit: Celsius) -> Option<Span> {
        let at = self.readings.iter().position(|(_, t)| t.0 <= limit.0);
        match at
            .map(|at| (at.checked_sub(1).map(|before| self.readings[before]), self.readings[at]))
        {
            Some((Some((from, hot)), (_, cool))) if cool.0 > ROOM.0 + 1.0 => {
                let moment = |since: Span| Moment(since.0);
                let read = [(moment(from), hot), (moment(self.readings[at?].0), cool)];
                let law = Law::through(&read, ROOM)?;
                // The law goes through the cooler of the two, so it looks back from there.
                let (above, to) = (limit.0 - ROOM.0, cool.0 - ROOM.0);
                let back = Span::from_hours(law.tau.as_hours() * (above / to).ln());
                Some(Span((read[1].0 - back).0))
            }
            Some((_, (since, _))) => Some(since),
            None => self.drawn,
        }
    }
}

/// How long after off a kiln is usually as cool as this, by its past coolings: seldom sooner, as likely sooner
/// as later, seldom later.
pub fn usual(past: &[Firing], kiln: &str, limit: Celsius) -> [Span; 3] {
    let here = past.iter().filter(|one| crate::kiln::same_name(&one.kiln, kiln));
    let mut coolings: Vec<(Moment, PastCooling)> = here.filter_map(PastCooling::of).collect();
    coolings.sort_by_key(|(off, _)| std::cmp::Reverse(*off));
    let spans = coolings.iter().take(PAST).filter_map(|(_, past)| past.below(limit));
    let usual = median(spans.collect()).unwrap_or(USUALLY_HOT_FOR);
    // A day more or less windy, a fuller kiln (a guess).
    [0.8, 1.0, 1.3].map(|times| Span::from_hours(usual.as_hours() * times))
}

/// What was read of a firing and believed, from lit on.
fn believed(firing: &Firing) -> Readings {
    sifted(firing, Moment(i64::MAX)).0
}

/// What was read of a firing up to `until`, believed and not, each in the order of time. How fast a
/// chamber falls once it is off says nothing of its probe; only what is hotter than it was while it
/// burned, or below freezing, is not believed then.
pub fn sifted(firing: &Firing, until: Moment) -> (Readings, Readings) {
    let off = firing.standing().off.unwrap_or(Moment(i64::MAX));
    let sifted = sift(firing, until.min(off), &soaks(&firing.plan));
    let mut good = sifted.each.concat();
    good.sort_by_key(|(at, _)| *at);
    let mut aside: Readings =
        sifted.aside.into_iter().filter_map(|one| Some((one.at, one.reading?))).collect();
    let hottest = good.iter().map(|(_, t)| t.0).fold(f64::NEG_INFINITY, f64::max);
    let most = match (good.is_empty(), aside.is_empty()) {
        (true, true) => f64::INFINITY,
        _ => hottest + STILL_RISES_C,
    };
    let since = firing.readings.iter().filter(|(at, _)| *at > off && *at <= until);
    for reading in since.copied() {
        match (0.0..=most).contains(&reading.1.0) {
            true => good.push(reading),
            false => aside.push(reading),
        }
    }
    (good, aside)
}

/// The temperatures that a plan holds.
fn soaks(plan: &[(Span, Celsius)]) -> Vec<Celsius> {
    Leg::between(plan).filter(|leg| leg.rate().0.abs() < LEVEL).map(|leg| leg.to).collect()
}

/// The middle of these, the longer one of two.
fn median(mut spans: Vec<Span>) -> Option<Span> {
    spans.sort_unstable();
    spans.get(spans.len() / 2).copied()
}
