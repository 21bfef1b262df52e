//! A made-up shop for screens and pictures: a journal in memory, with every firing folded.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::sync::Arc;

use spyhole::testing::alarm::Alarm;
use spyhole::testing::casting::Casting;
use spyhole::testing::edge::journal::{Journal, NewEvent};
use spyhole::testing::edge::shop::advised::Advices;
use spyhole::testing::edge::shop::standing::{Known, Standing};
use spyhole::testing::edge::shop::store::{About, Entry};
use spyhole::testing::firing::{EventId, Firing, FiringId, Shop, State, What, Who};
use spyhole::testing::hours::Staffed;
use spyhole::testing::kiln::{Kiln, LoadType};
use spyhole::testing::review::prices::Prices;
use spyhole::testing::scene::{BenchScene, ReviewQuestion, ReviewScene};
use spyhole::testing::units::Moment;
use spyhole::testing::words::FixedZone;

#[derive(Debug)]
pub(crate) struct Memory {
    journal: Journal,
    firings: BTreeMap<FiringId, Firing>,
    /// The shop and what its alarms follow from, as they were read since the last event.
    read: RefCell<Option<(Arc<Shop>, Known)>>,
}

impl Memory {
    pub(crate) fn new(kilns: Vec<Kiln>, load_types: Vec<LoadType>) -> Memory {
        let mut journal = Journal::in_memory().unwrap();
        let (kilns, load_types) = (kilns.into_iter(), load_types.into_iter());
        let described = kilns.map(What::KilnSet).chain(load_types.map(What::LoadTypeSet));
        let described = described.map(|what| NewEvent::new(None, Moment(0), Who::Program, what));
        journal.append_all(&described.collect::<Vec<_>>(), Moment(0)).unwrap();
        Memory { journal, firings: BTreeMap::new(), read: RefCell::default() }
    }

    /// Writes an event, if it can have happened.
    pub(crate) fn append(
        &mut self,
        entry: &Entry,
        who: Who,
        now: Moment,
    ) -> anyhow::Result<EventId> {
        self.read.take();
        let firing = match entry.about {
            About::Firing(firing) => Some(firing),
            About::NewFiring | About::Shop => None,
        };
        let event = NewEvent::new(firing, entry.at, who, entry.what.clone());
        if entry.about == About::Shop && !entry.then.is_empty() {
            let new = |what: &What| NewEvent::new(None, entry.at, event.who.clone(), what.clone());
            let all: Vec<NewEvent> = entry.all().map(new).collect();
            return Ok(self.journal.append_all(&all, now)?[0].id);
        }
        let appended = self.journal.append_having_seen(&event, entry.seen, now)?;
        if let Some(firing) = appended.firing {
            self.firings.insert(firing, self.journal.firing(firing)?);
        }
        Ok(appended.id)
    }

    pub(crate) fn journal(&self) -> &Journal {
        &self.journal
    }

    fn read(&self) -> (Arc<Shop>, Known) {
        let read = || {
            let mut standing = Standing::default();
            let shop = Arc::clone(standing.read(&self.journal).unwrap());
            (shop, standing.known().clone())
        };
        self.read.borrow_mut().get_or_insert_with(read).clone()
    }

    pub(crate) fn shop(&self) -> Shop {
        Shop::clone(&self.read().0)
    }

    /// The casting bench as a shop that is open reckons it.
    pub(crate) fn bench(&self, now: Moment) -> BenchScene {
        let (shop, events) = (self.shop(), self.journal.bench(now).unwrap());
        let staffed = Staffed { hours: shop.hours, zone: Arc::new(FixedZone::default()) };
        BenchScene::of(Casting::new(events, staffed.known(), now).unwrap())
    }

    pub(crate) fn review(&self, question: &ReviewQuestion, prices: &Prices) -> ReviewScene {
        self.journal.review(question, prices, &mut |_, _| {}).unwrap()
    }

    /// Every firing, closed or not, in the order they were begun.
    pub(crate) fn firings(&self) -> impl Iterator<Item = &Firing> {
        self.firings.values().filter(|firing| !firing.is_void())
    }

    pub(crate) fn firing(&self, firing: FiringId) -> Option<&Firing> {
        self.firings.get(&firing)
    }

    /// Every firing that has its outcome, in the order they were begun.
    pub(crate) fn closed(&self) -> Vec<Firing> {
        self.firings().filter(|firing| firing.state == State::Closed).cloned().collect()
    }

    pub(crate) fn load_type(&self, name: &str) -> Option<LoadType> {
        self.shop().load_type(name).cloned()
    }

    /// The alarms that stand by this advice, for somebody who remembers those before.
    pub(crate) fn alarms_on(
        &self,
        standing: &mut Standing,
        advices: &Advices,
        now: Moment,
    ) -> Vec<Alarm> {
        standing.go_by(self.read().1);
        standing.alarms_by(advices, now)
    }
}
