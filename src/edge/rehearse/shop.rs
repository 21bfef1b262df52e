//! The made-up shop behind the screen of a rehearsal.

use std::collections::BTreeMap;

use super::casts;
use super::history;
use super::minder::{COOL, MadeUpKiln, deed};
use super::setting::{self, PRACTICE_KILN, START, Setting};
use crate::casting::What as Bench;
use crate::edge::journal::NewEvent;
use crate::edge::shipped_schedules;
use crate::edge::shop::adviser::Patience;
use crate::edge::shop::behind_screen::Behind;
use crate::edge::shop::kept::KeptShop;
use crate::edge::shop::store::{About, Entry};
use crate::firing::event::{Look, Packing, Seen, Verdict};
use crate::firing::{ConePack, EventId, Firing, FiringId, Lit, State, What, Who};
use crate::kiln::{Kiln, LoadType, same_name, starter};
use crate::scene::{Scene, seen_of};
use crate::units::{Moment, Span};
use crate::watch::forgives::forgives;
use crate::words::{self, Lesson, LessonEnd, LessonSoFar, Mishap, NamedKeys};

/// How long before that the made-up shop begins.
const DAYS_BEFORE: Span = Span::hours(72);
/// How much of their climb the burners give while the pressure is low.
const LOW_PRESSURE: f64 = 0.1;
/// How long ago the mould of the lesson was drained as the trainee comes.
const CAST_DUE_AFTER: Span = Span::hours(27);
/// How long what goes wrong lasts, where it ends by itself.
const WRONG_LASTS: Span = Span::minutes(75);

/// A made-up shop. It knows what the trainee cannot: what is at the spyhole.
#[derive(Debug)]
pub struct RehearsalShop {
    shop: KeptShop,
    /// Every firing that was begun.
    firings: BTreeMap<FiringId, Firing>,
    load_types: Vec<LoadType>,
    places: Vec<MadeUpKiln>,
    lesson: Option<Lesson>,
    /// Up to when everything has been lived through.
    at: Moment,
    /// When the trainee came.
    came: Moment,
    wrong: Option<(&'static str, Span, Mishap)>,
    /// The last look of the trainee that was not what there was to see, and when.
    misread: Option<(Moment, Look, Look)>,
    /// The firing of which the trainee wrote another outcome than its shelves show, and both.
    misjudged: Option<(FiringId, Verdict, Verdict)>,
}

impl RehearsalShop {
    /// The shop at the moment the trainee comes in: the whole one, or that of a lesson. The same
    /// seed gives the same shop. A snapshot waits for advice as `patience` says.
    ///
    /// # Errors
    /// When the made-up past contradicts itself, which a test rules out; when the system has no
    /// thread for the advice.
    pub fn new(
        lesson: Option<Lesson>,
        seed: u64,
        patience: impl Into<Patience>,
    ) -> anyhow::Result<RehearsalShop> {
        let setting = lesson.map_or_else(|| setting::whole(seed), setting::of);
        let begins = START - DAYS_BEFORE;
        let kilns: Vec<Kiln> = setting.kilns.iter().map(setting::Described::kiln).collect();
        let places = (0u64..).zip(setting.kilns).map(|(index, kiln)| {
            MadeUpKiln::new(kiln, seed.wrapping_mul(31).wrapping_add(index), begins)
        });
        let mut shop = RehearsalShop {
            places: places.collect(),
            shop: KeptShop::made_up(kilns, starter::load_types(), patience, begins)?,
            firings: BTreeMap::new(),
            load_types: starter::load_types(),
            lesson,
            at: begins,
            came: START,
            wrong: None,
            misread: None,
            misjudged: None,
        };
        if lesson.is_none() {
            for entry in history::entries(&shop.load_types, seed) {
                let last = entry.then.last().map_or(entry.at, |(at, _)| *at);
                shop.shop.append(&entry, last)?;
            }
        }
        shop.live_until_the_trainee_comes(&setting)?;
        let drained = match lesson {
            None => Some(Span::hours(5)),
            Some(Lesson::CastDue) => Some(CAST_DUE_AFTER),
            Some(_) => None,
        };
        for (at, what) in drained.into_iter().flat_map(|drained| casts::entries(shop.at, drained)) {
            let event = NewEvent::new(None, at, Who::Person(words::COLLEAGUE.into()), what);
            shop.shop.write_event(&event, None, shop.at)?;
        }
        Ok(shop)
    }

    fn live_until_the_trainee_comes(&mut self, setting: &Setting) -> anyhow::Result<()> {
        for lit in setting.lit {
            let at = START - lit.before;
            self.live(at)?;
            let Some(pack) = self.usual_pack(lit.load_type) else { continue };
            let plan = lit.schedule.and_then(shipped_schedules::plan);
            let what = What::Lit(Lit {
                kiln: lit.kiln.into(),
                load_type: lit.load_type.into(),
                pack,
                schedule: lit.schedule.map(str::to_owned),
                plan: plan.unwrap_or_default(),
            });
            self.write_deed(None, at, what)?;
        }
        if let Some(load_type) = setting.packed {
            let at = START - Span::minutes(30);
            self.live(at)?;
            let packing = Packing {
                kiln: PRACTICE_KILN.into(),
                load_type: load_type.into(),
                pack: self.usual_pack(load_type),
                ..Packing::default()
            };
            self.write_deed(None, at, What::Packed(packing))?;
        }
        self.live(START)?;
        if let Some((name, role, wanted)) = setting.comes_at {
            let seen = |shop: &Self| {
                let look = shop.place(name).and_then(|place| place.kiln.seen());
                look.and_then(|look| seen_of(&look, role))
            };
            while seen(self) < Some(wanted) && self.at < START + Span::hours(12) {
                self.live(self.at + Span::minutes(1))?;
            }
            // Whoever minds it until then has seen it too.
            self.live(self.at + Span::minutes(2))?;
        }
        self.came = self.at;
        self.wrong = setting.wrong;
        let at_work = |place: &MadeUpKiln| place.name == PRACTICE_KILN;
        self.places
            .iter_mut()
            .filter(|place| at_work(place))
            .for_each(|place| place.minded = false);
        Ok(())
    }

    /// When the trainee came.
    pub fn came(&self) -> Moment {
        self.came
    }

    /// How the rehearsal went, for somebody who has left it.
    pub fn closing(&self) -> String {
        match (self.lesson, self.ended()) {
            (None, _) => words::rehearsal_ended(self.outcomes()),
            (Some(_), Some(ended)) => words::lesson_ended(&ended),
            (Some(Lesson::CastDue), None) if self.is_poured_again() => {
                words::CAST_LESSON_ENDED.into()
            }
            (Some(lesson), None) => words::lesson_left(lesson),
        }
    }

    /// Whether the mould of the lesson was poured since the trainee came.
    fn is_poured_again(&self) -> bool {
        let events = self.shop.journal().bench(self.at).unwrap_or_default();
        let poured =
            |what: &Bench| matches!(what, Bench::Poured { mould, .. } if mould == words::CAST_DUE);
        events.iter().any(|event| event.at >= self.came && poured(&event.what))
    }

    /// How many outcomes were written of the practice kiln since the trainee came, and not struck.
    pub fn outcomes(&self) -> usize {
        let of_trainee = self.firings.values().filter(|firing| firing.kiln == PRACTICE_KILN);
        let outcomes = of_trainee.filter(|firing| firing.state == State::Closed);
        let outcomes = outcomes.filter_map(|firing| firing.outcome.as_ref());
        outcomes.filter(|(at, _)| *at >= self.came).count()
    }

    fn usual_pack(&self, load_type: &str) -> Option<ConePack> {
        let load = self.load_type(load_type)?;
        Some(ConePack::usual(load.target, load.family))
    }

    fn load_type(&self, name: &str) -> Option<&LoadType> {
        self.load_types.iter().find(|load| same_name(&load.name, name))
    }

    fn place(&self, name: &str) -> Option<&MadeUpKiln> {
        self.places.iter().find(|place| place.name == name)
    }

    fn place_of(&self, firing: FiringId) -> Option<&MadeUpKiln> {
        self.place(&self.firings.get(&firing)?.kiln)
    }

    /// Writes what a colleague did or a probe read, and lets its simulated kiln follow it. It comes after
    /// all that was written of its firing, so that nothing is read back.
    fn write(&mut self, event: &NewEvent) -> anyhow::Result<()> {
        let written = self.shop.write_event(event, None, event.at)?;
        let Some(id) = written.firing else { return Ok(()) };
        let firing = self.firings.entry(id).or_insert_with(|| Firing { id, ..Firing::default() });
        firing.step(written.id, event.at, &event.who, &event.what);
        let here = |place: &&mut MadeUpKiln| place.firing == Some(id) || place.name == firing.kiln;
        if let Some(place) = self.places.iter_mut().find(here) {
            place.follow(Some(&*firing).filter(|firing| firing.state != State::Closed));
        }
        Ok(())
    }

    /// The same of a colleague.
    fn write_deed(
        &mut self,
        firing: Option<FiringId>,
        at: Moment,
        what: What,
    ) -> anyhow::Result<()> {
        self.write(&NewEvent::new(firing, at, Who::Person(words::COLLEAGUE.into()), what))
    }

    /// Every kiln does what its firing says: whatever was struck or entered late.
    fn follow(&mut self) -> anyhow::Result<()> {
        let shop = self.shop.journal().shop()?;
        for place in &mut self.places {
            place.follow(shop.firing_in(&place.name));
        }
        let open: BTreeMap<_, _> =
            shop.open.into_iter().map(|firing| (firing.id, firing)).collect();
        // What is open no more was closed just now, or struck altogether.
        for (id, known) in self.firings.iter_mut().filter(|(id, _)| !open.contains_key(id)) {
            if known.state != State::Closed {
                *known = self.shop.journal().firing(*id)?;
            }
        }
        self.firings.extend(open);
        Ok(())
    }

    fn mind(&mut self) -> anyhow::Result<()> {
        let to_do = |place: &MadeUpKiln| {
            let firing = self.firings.get(&place.firing.filter(|_| place.minded)?)?;
            let what = deed(place, firing, self.load_type(&firing.load_type)?, self.at)?;
            Some((firing.id, what))
        };
        let deeds: Vec<(FiringId, What)> = self.places.iter().filter_map(to_do).collect();
        for (firing, what) in deeds {
            self.write_deed(Some(firing), self.at, what)?;
        }
        Ok(())
    }

    fn go_wrong(&mut self) {
        let wrong = self.wrong_now();
        let Some((name, _, mishap)) = self.wrong else { return };
        let Some(place) = self.places.iter_mut().find(|place| place.name == name) else { return };
        let holds = wrong.is_some();
        match mishap {
            Mishap::ProbeBroken => place.kiln.break_probe(holds),
            Mishap::PressureLow => place.kiln.set_pressure(if holds { LOW_PRESSURE } else { 1.0 }),
            Mishap::NobodyLooks => place.minded = !holds,
        }
    }

    /// What is wrong now, and since when. A broken probe mends when its kiln has been drawn.
    fn wrong_now(&self) -> Option<(&'static str, Moment, Mishap)> {
        let (kiln, after, mishap) = self.wrong?;
        let since = self.came + after;
        let firing = self.place(kiln)?.firing.and_then(|id| self.firings.get(&id));
        let lasts = match mishap {
            Mishap::ProbeBroken => firing.is_some_and(|f| f.lit.is_some_and(|lit| lit <= since)),
            Mishap::PressureLow | Mishap::NobodyLooks => {
                self.at - since < WRONG_LASTS && firing.is_some_and(Firing::burns)
            }
        };
        (self.at >= since && lasts).then_some((kiln, since, mishap))
    }

    /// The firing a lesson is about: the last one in the practice kiln that was lit, or is packed.
    fn of_lesson(&self) -> Option<&Firing> {
        let begun = self.firings.values().filter(|firing| !firing.is_void());
        let here = begun.filter(|firing| firing.kiln == PRACTICE_KILN);
        here.filter(|firing| firing.drawn.is_none_or(|drawn| drawn >= self.came)).last()
    }

    /// How the lesson ended, once it has.
    pub fn ended(&self) -> Option<LessonEnd<'_>> {
        let lesson = self.lesson.filter(|lesson| *lesson != Lesson::CastDue)?;
        let firing = self.of_lesson()?;
        let shut = firing.off.or(firing.aborted.as_ref().map(|(at, _)| *at))?;
        let written = firing.outcome.as_ref().map(|(_, outcome)| outcome.verdict);
        if lesson == Lesson::GoodFiring && written.is_none() {
            return None;
        }
        let place = self.place(PRACTICE_KILN)?;
        let came = self.came_out(firing, place)?;
        let off = place.kiln.off().unwrap_or(shut);
        let down = place.kiln.down().filter(|down| *down <= off);
        Some(LessonEnd {
            kiln: PRACTICE_KILN,
            load_type: &firing.load_type,
            down,
            found: firing.seen_down(),
            off,
            forgives: self.forgives(firing, place),
            came,
            written,
        })
    }

    fn came_out(&self, firing: &Firing, place: &MadeUpKiln) -> Option<Verdict> {
        let load = self.load_type(&firing.load_type)?;
        let over = place.kiln.load_over()?;
        Some(words::came_out(over, load.under_cones, load.over_cones))
    }

    /// How late the load forgives, at the climb the kiln really had.
    fn forgives(&self, firing: &Firing, place: &MadeUpKiln) -> Option<Span> {
        let (pack, load) = (firing.pack?, self.load_type(&firing.load_type)?);
        forgives(pack.target, pack.family, place.kiln.climb(), load.over_cones)
    }

    /// What was written of a load that came out otherwise, while that stands: the load, and both.
    fn misjudged(&self) -> Option<(&str, Verdict, Verdict)> {
        let (firing, written, came) = self.misjudged?;
        let firing = self.firings.get(&firing)?;
        let (_, outcome) = firing.outcome.as_ref()?;
        (outcome.verdict == written).then_some((firing.load_type.as_str(), written, came))
    }

    fn course(&self) -> LessonSoFar {
        let looks = self.of_lesson().map_or(&[] as &[_], |firing| firing.looks.as_slice());
        let down = self.place(PRACTICE_KILN).and_then(|place| place.kiln.down());
        let wrong = self.wrong_now().filter(|(_, _, what)| *what == Mishap::ProbeBroken);
        let last = looks.last().filter(|looked| looked.at >= self.came);
        let misread = self.misread.filter(|(at, noted, _)| {
            last.is_some_and(|last| (last.at, last.look) == (*at, *noted))
        });
        LessonSoFar {
            looked: last.is_some(),
            down_for: down.map(|down| self.at - down),
            probe_broken: wrong.map(|(_, since, _)| self.at - since),
            misread: misread.map(|(_, noted, shown)| (noted, shown)),
            mould: None,
        }
    }
}

impl Behind for RehearsalShop {
    fn shop(&mut self) -> &mut KeptShop {
        &mut self.shop
    }

    /// Lets time pass: kilns climb and cool, probes are read, kilns that are minded are looked at,
    /// and what is to go wrong goes wrong.
    fn live(&mut self, until: Moment) -> anyhow::Result<()> {
        while self.at < until {
            let minute = Moment(self.at.0 - self.at.0.rem_euclid(60_000) + 60_000);
            self.at = minute.min(until);
            let firings = &self.firings;
            let read_in = |place: &mut MadeUpKiln| {
                let read = place.kiln.advance(self.at).into_iter();
                read.filter_map(|(at, celsius)| place.reading(firings, at, celsius))
                    .collect::<Vec<_>>()
            };
            let read: Vec<NewEvent> = self.places.iter_mut().flat_map(read_in).collect();
            read.iter().try_for_each(|event| self.write(event))?;
            if self.at == minute {
                self.go_wrong();
                self.mind()?;
            }
        }
        Ok(())
    }

    fn append(&mut self, entry: &Entry, now: Moment) -> anyhow::Result<EventId> {
        self.live(now)?;
        let shown = match (&entry.what, entry.about) {
            (What::Look(noted), About::Firing(firing)) if entry.at == now => self
                .glimpse(firing)
                .filter(|shown| differs(noted, shown))
                .map(|shown| (entry.at, *noted, shown)),
            _ => None,
        };
        let judged = match (&entry.what, entry.about) {
            (What::Outcome(outcome), About::Firing(firing)) => {
                let came = self.place_of(firing).zip(self.firings.get(&firing));
                let came = came.and_then(|(place, firing)| self.came_out(firing, place));
                came.map(|came| (firing, outcome.verdict, came))
            }
            _ => None,
        };
        let id = self.shop.append(entry, now)?;
        self.misread = shown.or(self.misread);
        if judged.is_some() {
            self.misjudged = judged.filter(|(_, written, came)| written != came);
        }
        self.follow()?;
        Ok(id)
    }

    fn glimpse(&self, firing: FiringId) -> Option<Look> {
        self.place_of(firing)?.kiln.seen()
    }

    fn shelves(&self, firing: FiringId) -> Option<String> {
        let place = self.place_of(firing)?;
        let firing = self.firings.get(&firing)?;
        Some(words::load_shows(&firing.load_type, self.came_out(firing, place)?))
    }

    fn guidance(&self, scene: &Scene, keys: &NamedKeys<'_>) -> Option<String> {
        if let Some(ended) = self.ended() {
            return Some(words::lesson_closing(&ended, keys.quit));
        }
        let kiln = scene.kiln(PRACTICE_KILN)?;
        let cool = self.place(PRACTICE_KILN)?.kiln.chamber() < COOL;
        let prompt = words::prompt(kiln, cool, self.outcomes() > 0);
        if let Some(lesson) = self.lesson {
            let mould = scene.bench.mould(words::CAST_DUE).map(|mould| mould.state);
            let course = LessonSoFar { mould, ..self.course() };
            return Some(lesson.text(prompt, &course, PRACTICE_KILN, keys));
        }
        let said = match self.misjudged() {
            Some((load_type, written, came)) => words::misjudged(load_type, written, came, keys),
            None => words::prompt_text(prompt, PRACTICE_KILN, keys),
        };
        Some(match self.wrong_now() {
            Some((kiln, since, what)) => {
                format!("{said} {}", words::mishap(what, kiln, scene.now - since, keys))
            }
            None => said,
        })
    }
}

/// Whether something was noted of a cone that is not what there was to see of it.
fn differs(noted: &Look, shown: &Look) -> bool {
    let one = |noted: Option<Seen>, shown: Option<Seen>| noted.is_some() && noted != shown;
    one(noted.guide, shown.guide)
        || one(noted.target, shown.target)
        || one(noted.guard, shown.guard)
}
