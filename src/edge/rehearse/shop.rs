//! The made-up shop: three kilns, a packed load of gold, and a little of yesterday.

use anyhow::Context;

use super::kiln::SimulatedKiln;
use crate::edge::screen::key::{Meaning, binding};
use crate::edge::screen::memory::Memory;
use crate::edge::screen::store::{About, Entry, Snapshot, Store};
use crate::firing::event::{Look, Outcome, Packing, Seen, Verdict};
use crate::firing::{ConePack, EventId, Firing, FiringId, Lit, What, Who};
use crate::kiln::{Fuel, Kiln, LoadType, starter};
use crate::scene::{PastFiring, ReviewQuestion, ReviewScene, Scene, advices};
use crate::units::{Celsius, Moment, Span};
use crate::watch::Advice;
use crate::words::{self, LessonKeys};

/// When a rehearsal begins: nine in the morning of a made-up day.
pub const START: Moment = Moment(1_773_306_000_000);
/// The kiln the lesson is about.
pub const PRACTICE_KILN: &str = "Heron";
const PRACTICE_LOAD: &str = "gold";
/// Colder than this it may be drawn. Common practice, no source: cool enough for bare hands.
const COOL: Celsius = Celsius(60.0);
/// Advice older than this is made anew.
const ADVICE_AGE: Span = Span::minutes(1);

/// A made-up shop. It knows what the trainee cannot: what is at the spyhole.
#[derive(Debug, Clone)]
pub struct RehearsalShop {
    memory: Memory,
    kilns: Vec<(String, SimulatedKiln)>,
    advised: Option<(EventId, Moment)>,
    advices: Vec<(FiringId, Advice)>,
    /// The review asked for, until it is handed out.
    review: Option<ReviewScene>,
}

impl RehearsalShop {
    /// The shop on the morning the rehearsal begins. The same seed gives the same shop.
    ///
    /// # Errors
    /// When the made-up past contradicts itself, which a test rules out.
    pub fn new(seed: u64) -> anyhow::Result<RehearsalShop> {
        let kilns = vec![
            made_up(PRACTICE_KILN, Fuel::Gas, 300.0, 1100.0),
            made_up("Otter", Fuel::Electric, 120.0, 1260.0),
            made_up("Wren", Fuel::Gas, 90.0, 1260.0),
        ];
        let simulated = (0u64..)
            .zip(&kilns)
            .map(|(index, kiln)| {
                let own_seed = seed.wrapping_mul(31).wrapping_add(index);
                (kiln.name.clone(), SimulatedKiln::new(kiln.fuel, own_seed, START - DAYS_BEFORE))
            })
            .collect();
        let mut shop = RehearsalShop {
            memory: Memory::new(kilns, starter::load_types()),
            kilns: simulated,
            advised: None,
            advices: Vec::new(),
            review: None,
        };
        shop.live_through(PRACTICE_KILN, PRACTICE_LOAD, START - Span::hours(70), true)?;
        shop.live_through(PRACTICE_KILN, PRACTICE_LOAD, START - Span::hours(46), true)?;
        shop.live_through("Otter", "decal", START - Span::hours(20), false)?;
        shop.pack()?;
        shop.advance(START)?;
        Ok(shop)
    }

    /// How many outcomes the trainee has written, and not struck.
    pub fn outcomes(&self) -> usize {
        let closed = self.memory.closed();
        let outcomes = closed.iter().filter_map(|firing| firing.outcome.as_ref());
        outcomes.filter(|(at, _)| *at >= START).count()
    }

    fn load_type(&self, name: &str) -> Option<LoadType> {
        self.memory.shop().load_type(name).cloned()
    }

    fn simulated(&mut self, name: &str) -> Option<&mut SimulatedKiln> {
        self.kilns.iter_mut().find(|(known, _)| known == name).map(|(_, kiln)| kiln)
    }

    /// The gold that waits for the trainee.
    fn pack(&mut self) -> anyhow::Result<()> {
        let load = self.load_type(PRACTICE_LOAD);
        let packing = Packing {
            kiln: PRACTICE_KILN.into(),
            load_type: PRACTICE_LOAD.into(),
            pack: load.map(|load| ConePack::usual(load.target, load.family)),
            ..Packing::default()
        };
        let at = START - Span::minutes(30);
        self.write(About::NewFiring, at, What::Packed(packing), Who::Program)?;
        Ok(())
    }

    /// A firing of the days before, by somebody who looked every three minutes near the end.
    fn live_through(
        &mut self,
        kiln: &str,
        load_type: &str,
        lit: Moment,
        close: bool,
    ) -> anyhow::Result<()> {
        let Some(load) = self.load_type(load_type) else { return Ok(()) };
        self.advance(lit)?;
        let pack = ConePack::usual(load.target, load.family);
        let what = Lit {
            kiln: kiln.into(),
            load_type: load_type.into(),
            pack,
            schedule: None,
            plan: Vec::new(),
        };
        self.write(About::NewFiring, lit, What::Lit(what), Who::Program)?;
        let Some(id) = self.memory.shop().firing_in(kiln).map(|firing| firing.id) else {
            return Ok(());
        };
        let about = About::Firing(id);
        let mut now = lit;
        let mut seen = Look::default();
        while seen.target != Some(Seen::Down) && now < lit + Span::hours(16) {
            now = now + Span::minutes(3);
            self.advance(now)?;
            seen = self.simulated(kiln).and_then(|kiln| kiln.seen()).unwrap_or_default();
            if seen.guide.is_some_and(|guide| guide >= Seen::Half) {
                self.write(about, now, What::Look(seen), Who::Program)?;
            }
        }
        self.write(about, now, What::Off, Who::Program)?;
        if close {
            let drawn = lit + Span::hours(22);
            self.advance(drawn)?;
            self.write(about, drawn, What::Drawn, Who::Program)?;
            let outcome = Outcome {
                verdict: Verdict::Good,
                note: String::new(),
                shelves: Vec::new(),
                loss: None,
            };
            self.write(about, drawn, What::Outcome(outcome), Who::Program)?;
        }
        Ok(())
    }

    /// Writes an event and lets the simulated kiln follow it.
    fn write(&mut self, about: About, at: Moment, what: What, who: Who) -> anyhow::Result<EventId> {
        let id = self.memory.append(&Entry { about, at, what }, who, at)?;
        self.follow();
        Ok(id)
    }

    /// Every kiln does what its firing says: whatever was struck or entered late.
    fn follow(&mut self) {
        let shop = self.memory.shop();
        for (name, kiln) in &mut self.kilns {
            let firing = shop.firing_in(name);
            if let Some((firing, pack)) = firing.and_then(|f| f.lit.and(f.pack).map(|p| (f, p))) {
                kiln.load(firing.id, pack);
            }
            kiln.burn(firing.is_some_and(Firing::burns));
        }
    }

    /// Lets time pass; what the probes read is written.
    fn advance(&mut self, now: Moment) -> anyhow::Result<()> {
        let shop = self.memory.shop();
        for (name, kiln) in &mut self.kilns {
            let readings = kiln.advance(now);
            let firing = shop.firing_in(name).filter(|f| f.lit.is_some() && f.drawn.is_none());
            let Some(firing) = firing else { continue };
            for (at, celsius) in readings.into_iter().filter(|(at, _)| firing.lit <= Some(*at)) {
                let about = About::Firing(firing.id);
                let entry = Entry { about, at, what: What::Reading(celsius) };
                self.memory.append(&entry, Who::Probe(name.clone()), at)?;
            }
        }
        Ok(())
    }

    fn of_firing(&self, firing: FiringId) -> Option<&SimulatedKiln> {
        let name = &self.memory.firing(firing)?.kiln;
        self.kilns.iter().find(|(known, _)| known == name).map(|(_, kiln)| kiln)
    }
}

/// How long before the rehearsal the made-up shop begins.
const DAYS_BEFORE: Span = Span::hours(72);

fn made_up(name: &str, fuel: Fuel, litres: f64, ceiling_c: f64) -> Kiln {
    Kiln {
        name: name.into(),
        fuel,
        litres: Some(litres),
        ceiling: Some(Celsius(ceiling_c)),
        fastest_climb: None,
    }
}

impl Store for RehearsalShop {
    fn snapshot(&mut self, now: Moment) -> anyhow::Result<Snapshot> {
        self.advance(now)?;
        let shop = self.memory.shop();
        self.advices = advices(&shop, &self.memory.closed(), |_| None, now);
        self.advised = Some((self.memory.last_event(), now));
        Ok(Snapshot { shop, advices: self.advices.clone(), alarms: Vec::new() })
    }

    fn append(&mut self, entry: &Entry, now: Moment) -> anyhow::Result<EventId> {
        self.advance(now)?;
        let id = self.memory.append(entry, Who::Person(String::new()), now)?;
        self.follow();
        Ok(id)
    }

    fn changed(&mut self, now: Moment) -> anyhow::Result<bool> {
        self.advance(now)?;
        let fresh = |(event, at): (EventId, Moment)| {
            event == self.memory.last_event() && now - at < ADVICE_AGE
        };
        Ok(!self.advised.is_some_and(fresh))
    }

    fn ledger(&mut self) -> anyhow::Result<Vec<PastFiring>> {
        Ok(self.memory.firings().map(PastFiring::of).collect())
    }

    fn firing(&mut self, firing: FiringId) -> anyhow::Result<Firing> {
        self.memory.firing(firing).cloned().context("there is no such firing in this shop")
    }

    fn ask_review(&mut self, question: &ReviewQuestion) -> anyhow::Result<()> {
        self.review = Some(self.memory.review(question));
        Ok(())
    }

    fn review(&mut self) -> Option<anyhow::Result<ReviewScene>> {
        self.review.take().map(Ok)
    }

    fn glimpse(&self, firing: FiringId, _now: Moment) -> Option<Look> {
        self.of_firing(firing)?.seen()
    }

    fn shelves(&self, firing: FiringId) -> Option<String> {
        let over = self.of_firing(firing)?.cones_over()?;
        let load = self.load_type(&self.memory.firing(firing)?.load_type)?;
        Some(words::load_shows(over, load.under_cones, load.over_cones))
    }

    fn guidance(&self, scene: &Scene) -> Option<String> {
        let kiln = scene.kiln(PRACTICE_KILN)?;
        let (_, simulated) = self.kilns.iter().find(|(name, _)| name == PRACTICE_KILN)?;
        let cool = simulated.chamber() < COOL;
        let lesson = words::lesson(kiln, scene.now, cool, self.outcomes() > 0);
        let label = |meaning| binding(meaning).label;
        let keys = LessonKeys {
            light: label(Meaning::Light),
            look: label(Meaning::Look),
            off: label(Meaning::Off),
            drawn: label(Meaning::Drawn),
            outcome: label(Meaning::Outcome),
            faster: label(Meaning::Faster),
            quit: label(Meaning::Quit),
        };
        Some(lesson.text(PRACTICE_KILN, &keys))
    }
}
