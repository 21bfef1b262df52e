//! A plan that the shop goes by: what was said when it was adopted, in the shop's own names, and the old
//! plan that it makes at a later moment.
//!
//! What was packed or lit meanwhile is as it stands, whatever was said of it; ware that is fired or gone
//! drops out. Where packing should have begun it is taken to be under way until an hour after the
//! lighting's time.

use super::again::{Gone, GoneWhy, NOBODY_MINDS_MIN, Was, keep_hands};
use super::decode::decode;
use super::tables::{STEP_MIN, Tables};
use super::{Firing, Held, Judged, Plan, State};
use crate::kiln::same_name;
use crate::units::{Moment, Span};

/// What was said.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Adopted {
    /// In the order in which they are lit.
    pub firings: Vec<Said>,
    /// What waits, so that what comes later is known as new.
    pub waiting: Vec<LotOf>,
    /// What is not to be fired in a kiln, or in none, by somebody's choice.
    pub barred: Vec<LotOf>,
}

/// One firing that is not lit.
#[derive(Debug, Clone, PartialEq)]
pub struct Said {
    pub kiln: String,
    pub load_type: String,
    pub lots: Vec<String>,
    pub light: Moment,
    pub pack: Moment,
    pub draw: Moment,
    /// Somebody chose to keep it as it is.
    pub kept: bool,
}

/// A lot while it waits for a load type, and a kiln where one is meant.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LotOf {
    pub lot: String,
    pub load_type: String,
    pub kiln: Option<String>,
}

/// What somebody chooses of a lot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Choice {
    /// The firing it goes into stays as it is, or no longer has to.
    Keep,
    /// It is not fired, or may be again.
    LeaveOut,
    /// What it is fired with goes into another kiln.
    Elsewhere,
}

/// A plan is gone on from for so long; one that is older says nothing of the days to come.
const LASTS: Span = Span::hours(72);
/// Nobody packs for longer than until so long after the lighting's time, minutes (a guess).
const OVER_MIN: f64 = 60.0;
/// A load packed without its lots is the firing that was said for this time before or after, minutes.
const ABOUT_THEN_MIN: f64 = 720.0;

impl LotOf {
    fn is(&self, lot: &str, load_type: &str) -> bool {
        same_name(&self.lot, lot) && same_name(&self.load_type, load_type)
    }
}

impl Tables {
    /// A lot as the shop knows it.
    pub fn said(&self, lot: usize) -> LotOf {
        let load_type = self.instance.load_type_of(lot).to_owned();
        LotOf { lot: self.names[lot].clone(), load_type, kiln: None }
    }

    fn is(&self, lot: usize, one: &LotOf) -> bool {
        one.is(&self.names[lot], self.instance.load_type_of(lot))
    }

    /// The lots and kilns that somebody chose to keep apart.
    pub fn bar(&mut self, barred: &[LotOf]) {
        for one in barred {
            let only = one.kiln.as_deref().map(|name| self.instance.kiln_called(name));
            for lot in 0..self.names.len() {
                if self.is(lot, one) {
                    let kilns = 0..self.instance.kilns.len();
                    let kilns = kilns.filter(|kiln| only.is_none_or(|only| only == Some(*kiln)));
                    self.barred.extend(kilns.map(|kiln| (lot, kiln)));
                }
            }
        }
    }
}

impl Adopted {
    /// Every kiln it names.
    pub fn kilns(&mut self) -> impl Iterator<Item = &mut String> {
        let barred = self.barred.iter_mut().filter_map(|one| one.kiln.as_mut());
        self.firings.iter_mut().map(|said| &mut said.kiln).chain(barred)
    }

    /// Takes in what somebody chose of a lot.
    pub fn choose(&mut self, choice: Choice, lot: LotOf) {
        let has = |said: &Said| said.lots.iter().any(|name| lot.is(name, &said.load_type));
        let is = |one: &LotOf| one.is(&lot.lot, &lot.load_type);
        match (choice, self.firings.iter().position(has)) {
            (Choice::Keep, Some(at)) => self.firings[at].kept ^= true,
            (Choice::Elsewhere, Some(at)) => {
                let Said { kiln, load_type, lots, .. } = self.firings.remove(at);
                self.barred.extend(lots.into_iter().map(|lot| LotOf {
                    lot,
                    load_type: load_type.clone(),
                    kiln: Some(kiln.clone()),
                }));
            }
            (Choice::LeaveOut, None) if self.barred.iter().any(is) => {
                self.barred.retain(|one| !is(one));
                self.waiting.retain(|one| !is(one));
            }
            (Choice::LeaveOut, at) => {
                if let Some(said) = at.map(|at| &mut self.firings[at]) {
                    said.lots.retain(|name| !same_name(name, &lot.lot));
                    said.kept = false;
                }
                self.waiting.push(lot.clone());
                self.barred.push(lot);
            }
            (Choice::Keep | Choice::Elsewhere, None) => {}
        }
    }

    /// The old plan that it is by now, beside what is begun; `None` where it is too old.
    pub fn by_now(&self, at: Moment, tables: &Tables, begun: &Plan, now: Moment) -> Option<Was> {
        if now - at > LASTS {
            return None;
        }
        let mut was = Was { plan: begun.clone(), said: Some(at), ..Was::default() };
        was.given = Judged::of(tables, begun).broken.len();
        let mut met = vec![false; begun.firings.len()];
        for (number, said) in (begun.firings.len() + 1..).zip(&self.firings) {
            let light = (said.light - now).as_minutes();
            match said.begun_as(tables, begun, light, &met) {
                None => said.not_begun(&mut was, number, tables, now),
                Some(at) => {
                    met[at] = true;
                    let packed = &mut was.plan.firings[at];
                    if packed.state == State::Packed && light >= STEP_MIN {
                        packed.light = light;
                    }
                }
            }
        }
        was.free =
            (0..tables.names.len()).filter(|lot| was.plan.firing_of(*lot).is_none()).collect();
        let waited = |lot: &usize| self.waiting.iter().any(|one| tables.is(*lot, one));
        let earlier_day = tables.instance.day((at - now).as_minutes()) < 0;
        let lacks = was.gone.iter().any(|gone| !matches!(gone.why, GoneWhy::Late { .. }));
        was.spoilt = lacks || earlier_day || !was.free.iter().all(waited);
        decode(tables, &mut was.plan, false);
        Some(was)
    }
}

impl Said {
    /// What was packed or lit in its place.
    fn begun_as(&self, tables: &Tables, begun: &Plan, light: f64, met: &[bool]) -> Option<usize> {
        let (instance, names) = (&tables.instance, &tables.names);
        (0..begun.firings.len()).find(|at| {
            let firing = &begun.firings[*at];
            let same = same_name(&instance.kiln_of(firing.way).name, &self.kiln)
                && same_name(&instance.load_type(firing.way).name, &self.load_type);
            let named = |lot: usize| self.lots.iter().any(|name| same_name(name, &names[lot]));
            let nameless = begun.lots_in(*at).all(|lot| names[lot].is_empty());
            let then = nameless && (firing.light - light).abs() < ABOUT_THEN_MIN;
            !met[*at] && same && (then || begun.lots_in(*at).any(named))
        })
    }

    fn not_begun(&self, was: &mut Was, number: usize, tables: &Tables, now: Moment) {
        let mut lots: Vec<usize> = Vec::new();
        for name in &self.lots {
            let waits = |lot: &usize| {
                tables.said(*lot).is(name, &self.load_type)
                    && was.plan.firing_of(*lot).is_none()
                    && !lots.contains(lot)
            };
            let found = (0..tables.names.len()).find(waits);
            lots.extend(found);
        }
        if lots.is_empty() {
            return;
        }
        let load_type = tables.instance.lots[lots[0]].load_type;
        let kiln = tables.instance.kiln_called(&self.kiln);
        let Some(way) = kiln.and_then(|kiln| tables.instance.way(kiln, load_type)) else {
            let why = if kiln.is_none() { GoneWhy::NoKiln } else { GoneWhy::CannotFire };
            return was.gone.push(self.gone(number, why));
        };
        let minutes = |at: Moment| (at - now).as_minutes();
        let mut firing = Firing::new(way, minutes(self.light));
        firing.pack = minutes(self.pack);
        firing.draw = minutes(self.draw);
        firing.held = if self.kept { Held::Whole } else { Held::Nothing };
        keep_hands(tables, &mut firing);
        let is_over = firing.light < STEP_MIN;
        if firing.pack < 0.0 && firing.light > -OVER_MIN {
            let today = |light: &f64| tables.instance.day(*light) == tables.instance.day(0.0);
            let soonest = || tables.may_be_lit(way).next().filter(today);
            if let Some(light) = if is_over { soonest() } else { Some(firing.light) } {
                if light - firing.light > NOBODY_MINDS_MIN {
                    let becomes = now + Span::from_minutes(light);
                    was.gone.push(self.gone(number, GoneWhy::Late { was: self.light, becomes }));
                }
                (firing.state, firing.light) = (State::Packing, light);
            }
        }
        if is_over && firing.state == State::Planned {
            firing.held = Held::Nothing;
        }
        was.push(Firing { number, ..firing }, &lots);
    }

    fn gone(&self, firing: usize, why: GoneWhy) -> Gone {
        let (kiln, load_type) = (self.kiln.clone(), self.load_type.clone());
        Gone { firing, kiln, load_type, lots: self.lots.clone(), why }
    }
}
