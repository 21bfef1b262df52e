//! From events to casts: which mould was poured with what, when it was drained, what was seen.

use std::collections::BTreeMap;

use super::air::Air;
use super::code::Code;
use super::event::{Event, Found, Mould, What};
use crate::hours::Staffed;
use crate::kiln::names::Names;
use crate::review::ledger::median;
use crate::units::{Celsius, Moment, Span};

/// Minutes from poured to drained where nobody noted any (common practice, no source).
const USUAL_MINUTES: f64 = 20.0;
/// Longer than this from poured to drained is a note written late (a guess).
const LONGEST_MINUTES: f64 = 240.0;
/// Hours in which the water of a cast leaves its mould (a guess).
const MOULD_DRIES_H: f64 = 60.0;
/// A mould that rested longer is like a new one.
const LONG_REST: Span = Span::hours(21 * 24);
/// How much wider the first cast of a mould is, and one whose draining nobody noted (guesses).
const FIRST_WIDER: f64 = 1.3;
const UNNOTED_WIDER: f64 = 1.15;
/// So far the air is foreseen.
const FORESEEN: Span = Span::hours(30 * 24);

/// One cast.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Cast {
    pub mould: usize,
    /// The body's number, if pouring was noted.
    pub body: Option<usize>,
    pub poured: Option<Moment>,
    /// As noted, or as it is usual after pouring.
    pub drained: Moment,
    pub drain_noted: bool,
    /// The checks that found it not ready.
    pub not_yets: Vec<Moment>,
    /// How it was emptied; without a result where only the next pouring says that it was.
    pub emptied: Option<(Moment, Option<Found>)>,
    /// ln of the thickness of its wall over that of 20 minutes.
    pub thickness: f64,
    /// How wet the mould's last casts left it: one for a cast just opened.
    pub wet: f64,
    /// How much wider than usual its dose varies.
    pub wider: f64,
}

/// What was strange in the events: nobody noted how the cast of this moment was opened, or that any was poured
/// before it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Remark {
    pub at: Moment,
    pub poured: bool,
}

/// Why no mould answers to a code.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NoMould {
    #[error("there is no mould \"{code}\" (there are {known}): check its code")]
    Unknown { code: String, known: String },
    #[error("there is no mould \"{code}\", and it may be {first} or {second}: write which")]
    Either { code: String, first: String, second: String },
}

/// Everything that was noted up to a moment.
#[derive(Debug, Clone, Default)]
pub struct Casting {
    pub moulds: Vec<Mould>,
    /// What moulds were called before.
    pub names: Names,
    pub bodies: Vec<String>,
    /// In the order of pouring.
    pub casts: Vec<Cast>,
    /// The cast in each mould.
    pub full: Vec<Option<usize>>,
    pub air: Option<Air>,
    pub staffed: Option<Staffed>,
    /// What was strange last of each mould.
    pub remarks: Vec<Option<Remark>>,
    /// The moment all this is told for.
    pub now: Moment,
    /// Which moulds somebody described.
    described: Vec<bool>,
    of_mould: Vec<Vec<usize>>,
    /// How often each mould was poured before all this.
    earlier: Vec<usize>,
    /// How wet each was left, and the shop's usual minutes from poured to drained.
    wetness: Vec<Wetness>,
    usual_minutes: f64,
}

impl Casting {
    /// The casts of events in whatever order; those after `now` are left out.
    ///
    /// # Errors
    /// [`NoMould::Either`] for a code that may be one of two moulds.
    pub fn new(
        mut events: Vec<Event>,
        staffed: Option<Staffed>,
        now: Moment,
    ) -> Result<Casting, NoMould> {
        // A mould is there before somebody describes it, by whatever code.
        let of_mould = |what: &What| matches!(what, What::Mould(_) | What::Renamed { .. });
        events.retain(|event| event.at <= now || of_mould(&event.what));
        events.sort_by_key(|event| (event.at, event.what.rank()));
        let mut casting = Casting { staffed, now, ..Casting::default() };
        for event in &events {
            if let What::Renamed { mould, name } = &event.what {
                casting.names.rename(mould, name);
            }
        }
        for event in &events {
            if let What::Mould(mould) = &event.what {
                casting.describe(mould);
            }
        }
        let mut readings: Vec<(Moment, Celsius, f64)> = Vec::new();
        let mut known = BTreeMap::new();
        for Event { at, what } in events {
            match what {
                What::Mould(_) | What::Renamed { .. } => {}
                What::Room { celsius, humidity } => readings.push((at, celsius, humidity)),
                What::Poured { ref mould, .. }
                | What::Drained { ref mould }
                | What::Check { ref mould, .. } => {
                    let mould = casting.mould_of(mould, &mut known)?;
                    match what {
                        What::Poured { body, .. } => casting.pour(mould, &body, at),
                        What::Check { found, .. } => casting.check(mould, found, at),
                        _ => casting.drain(mould, at),
                    }
                }
            }
        }
        casting.air = Air::new(&readings, now, now + FORESEEN);
        casting.settle();
        Ok(casting)
    }

    fn describe(&mut self, mould: &Mould) {
        let mould = Mould { code: self.names.now(&mould.code).to_owned(), ..mould.clone() };
        match self.moulds.iter_mut().find(|known| known.code == mould.code) {
            Some(known) => *known = mould,
            None => self.add(mould, true),
        }
    }

    fn add(&mut self, mould: Mould, described: bool) {
        self.moulds.push(mould);
        self.described.push(described);
        self.full.push(None);
        self.remarks.push(None);
        self.of_mould.push(Vec::new());
        self.earlier.push(0);
    }

    /// The mould that is written so: this very code, else the only one that may be meant.
    ///
    /// # Errors
    /// [`NoMould`] when there is none, or more than one.
    pub fn mould(&self, code: &str) -> Result<usize, NoMould> {
        self.meant(code, false)?.ok_or_else(|| {
            let known: Vec<&str> =
                self.moulds.iter().take(12).map(|mould| mould.code.as_str()).collect();
            let more = if self.moulds.len() > known.len() { ", ..." } else { "" };
            let known = if known.is_empty() { "none".into() } else { known.join(", ") + more };
            NoMould::Unknown { code: code.to_owned(), known }
        })
    }

    fn meant(&self, code: &str, described: bool) -> Result<Option<usize>, NoMould> {
        let code = self.names.now(code);
        if let Some(exact) = self.moulds.iter().position(|mould| mould.code == code) {
            return Ok(Some(exact));
        }
        let (whole, part) = (Code::whole(code), Code::of_part(code));
        let mut alike = self.moulds.iter().enumerate().filter(|(at, mould)| {
            let same = Code::whole(&mould.code) == whole;
            let in_parts = mould.parts.is_some_and(|parts| parts > 1);
            let of_part = in_parts && Code::of_part(&mould.code) == part;
            (!described || self.described[*at]) && (same || of_part)
        });
        match (alike.next(), alike.next()) {
            (Some((_, first)), Some((_, second))) => Err(NoMould::Either {
                code: code.to_owned(),
                first: first.code.clone(),
                second: second.code.clone(),
            }),
            (first, _) => Ok(first.map(|(at, _)| at)),
        }
    }

    /// The mould an event speaks of; one that nobody described is new.
    fn mould_of(
        &mut self,
        code: &str,
        known: &mut BTreeMap<String, usize>,
    ) -> Result<usize, NoMould> {
        if let Some(mould) = known.get(code) {
            return Ok(*mould);
        }
        let mould = match self.meant(code, true)? {
            Some(mould) => mould,
            None => {
                let code = self.names.now(code).to_owned();
                self.add(Mould { code, ..Mould::default() }, false);
                self.moulds.len() - 1
            }
        };
        known.insert(code.to_owned(), mould);
        Ok(mould)
    }

    /// Every cast of a mould, in the order of pouring.
    pub fn casts_of(&self, mould: usize) -> impl DoubleEndedIterator<Item = &Cast> {
        self.of_mould[mould].iter().map(|at| &self.casts[*at])
    }

    /// The same, where these codes were poured so often before the first event.
    #[must_use]
    pub fn after(mut self, earlier: &[(String, usize)]) -> Casting {
        for (code, count) in earlier {
            if let Ok(mould) = self.mould(code) {
                self.earlier[mould] += count;
            }
        }
        self
    }

    /// How often a mould was poured in its life.
    pub fn poured(&self, mould: usize) -> usize {
        self.earlier[mould] + self.of_mould[mould].len()
    }

    /// The slip a mould is likely poured with next: its usual one, else that of its last cast, else that of
    /// the last one of all.
    pub fn usual_body(&self, mould: usize) -> Option<&str> {
        let usual = Some(self.moulds[mould].body.as_str()).filter(|body| !body.is_empty());
        let last = || self.casts_of(mould).rev().find_map(|cast| cast.body);
        let of_all = || self.casts.iter().rev().find_map(|cast| cast.body);
        usual.or_else(|| last().or_else(of_all).map(|body| self.bodies[body].as_str()))
    }

    /// The number of a body, in whatever case it is written.
    pub fn body(&self, name: &str) -> Option<usize> {
        self.bodies.iter().position(|body| body.eq_ignore_ascii_case(name.trim()))
    }

    fn pour(&mut self, mould: usize, body: &str, at: Moment) {
        if let Some(full) = self.full[mould] {
            let cast = &mut self.casts[full];
            cast.emptied = Some((at, None));
            let at = cast.poured.unwrap_or(cast.drained);
            self.remarks[mould] = Some(Remark { at, poured: true });
        }
        let number = self.body(body).unwrap_or_else(|| {
            self.bodies.push(body.trim().to_owned());
            self.bodies.len() - 1
        });
        let (body, poured) = (Some(number), Some(at));
        self.begin(Cast { mould, body, poured, drained: at, ..Cast::default() });
    }

    fn begin(&mut self, cast: Cast) {
        self.full[cast.mould] = Some(self.casts.len());
        self.of_mould[cast.mould].push(self.casts.len());
        self.casts.push(cast);
    }

    fn drain(&mut self, mould: usize, at: Moment) {
        match self.full[mould] {
            Some(full) if !self.casts[full].drain_noted => {
                let cast = &mut self.casts[full];
                (cast.drained, cast.drain_noted) = (at, true);
            }
            Some(_) => {}
            None => {
                self.remarks[mould] = Some(Remark { at, poured: false });
                self.begin(Cast { mould, drained: at, drain_noted: true, ..Cast::default() });
            }
        }
    }

    fn check(&mut self, mould: usize, found: Found, at: Moment) {
        match self.full[mould] {
            None => self.remarks[mould] = Some(Remark { at, poured: false }),
            Some(full) if found == Found::NotYet => self.casts[full].not_yets.push(at),
            Some(full) => {
                self.casts[full].emptied = Some((at, Some(found)));
                self.full[mould] = None;
            }
        }
    }

    /// What only all casts together say: usual minutes, thickness, wetness, how wide.
    fn settle(&mut self) {
        let noted: Vec<Option<f64>> = self.casts.iter().map(Cast::minutes).collect();
        self.usual_minutes = median(noted.iter().flatten().copied()).unwrap_or(USUAL_MINUTES);
        for mould in 0..self.moulds.len() {
            let usual = self.minutes(mould);
            let mut wetness = Wetness::default();
            for at in &self.of_mould[mould] {
                let cast = &mut self.casts[*at];
                if let (false, Some(poured)) = (cast.drain_noted, cast.poured) {
                    let ends = [cast.not_yets.first().copied(), cast.emptied.map(|(at, _)| at)];
                    let first = ends.into_iter().flatten().min().unwrap_or(Moment(i64::MAX));
                    cast.drained = (poured + Span::from_minutes(usual)).min(first);
                }
                cast.thickness = thickness(noted[*at].unwrap_or(usual));
                (cast.wet, cast.wider) = wetness.at(cast.poured.unwrap_or(cast.drained));
                cast.wider *= if cast.drain_noted { 1.0 } else { UNNOTED_WIDER };
                if let Some((emptied, _)) = cast.emptied {
                    wetness.opened(emptied);
                }
            }
            self.wetness.push(wetness);
        }
    }

    /// A mould's usual minutes from poured to drained.
    fn minutes(&self, mould: usize) -> f64 {
        median(self.casts_of(mould).filter_map(Cast::minutes)).unwrap_or(self.usual_minutes)
    }

    /// The cast this mould would have if it were poured then, with its usual minutes.
    pub fn if_poured(&self, mould: usize, body: &str, at: Moment) -> Cast {
        let usual = self.minutes(mould);
        let (wet, wider) = self.wetness[mould].at(at);
        Cast {
            mould,
            body: self.body(body),
            poured: Some(at),
            drained: at + Span::from_minutes(usual),
            drain_noted: true,
            thickness: thickness(usual),
            wet,
            wider,
            ..Cast::default()
        }
    }
}

impl Cast {
    /// The last check that found it not ready.
    pub fn not_yet(&self) -> Option<Moment> {
        self.not_yets.last().copied()
    }

    /// After and before which moment it let go, as far as checks say; none of one that is not emptied.
    pub fn window(&self) -> Option<(Option<Moment>, Option<Moment>)> {
        let (at, found) = self.emptied?;
        match found {
            Some(Found::Well | Found::Cracked) => Some((self.not_yet(), Some(at))),
            Some(Found::Forced) => Some((Some(at), None)),
            Some(Found::NotYet | Found::OtherCrack) | None => {
                self.not_yet().map(|not_yet| (Some(not_yet), None))
            }
        }
    }

    /// Minutes from poured to drained, where both are noted.
    fn minutes(&self) -> Option<f64> {
        let minutes = (self.drained - self.poured.filter(|_| self.drain_noted)?).as_minutes();
        (0.5..=LONGEST_MINUTES).contains(&minutes).then_some(minutes)
    }
}

/// ln of the thickness of a wall cast in these minutes over that of 20: its square grows in step with
/// time (Adcock and McDowall 1957).
pub fn thickness(minutes: f64) -> f64 {
    0.5 * (minutes / USUAL_MINUTES).ln()
}

/// The water that a mould's last casts left in it.
#[derive(Debug, Clone, Default)]
struct Wetness {
    /// As of the last opening.
    left: f64,
    opened: Option<Moment>,
}

impl Wetness {
    /// How wet it is, and how much wider the first cast of a new or long rested mould varies.
    fn at(&self, poured: Moment) -> (f64, f64) {
        let rested = self.opened.map(|opened| poured - opened);
        let wet = rested.map_or(0.0, |rested| self.left * dried(rested));
        let is_first = rested.is_none_or(|rested| rested > LONG_REST);
        (wet, if is_first { FIRST_WIDER } else { 1.0 })
    }

    fn opened(&mut self, at: Moment) {
        self.left = 1.0 + self.opened.map_or(0.0, |opened| self.left * dried(at - opened));
        self.opened = Some(at);
    }
}

fn dried(rested: Span) -> f64 {
    (-rested.as_hours().max(0.0) / MOULD_DRIES_H).exp()
}
