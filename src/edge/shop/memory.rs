//! A shop kept in memory only: for rehearsals, and for tests. Nothing of it reaches a disk.

use std::collections::BTreeMap;

use anyhow::bail;

use super::store::{About, Entry};
use crate::alarm::{Alarm, Answer, Desk, Watched, findings};
use crate::edge::shop::standing::{answer, plans};
use crate::firing::Kind;
use crate::firing::{
    Event, EventId, Firing, FiringId, Fold, Shop, State, What, Who, permit_in_kiln,
};
use crate::kiln::same_name;
use crate::kiln::{Kiln, LoadType};
use crate::review::Ledger;
use crate::review::prices::Prices;
use crate::scene::{ReviewQuestion, ReviewScene};
use crate::units::Moment;
use crate::watch::Advice;

/// The events of a made-up shop, folded as they come.
#[derive(Debug, Clone, Default)]
pub struct Memory {
    /// As the shop began; what was described anew is in `of_shop`.
    kilns: Vec<Kiln>,
    load_types: Vec<LoadType>,
    folds: BTreeMap<FiringId, Fold>,
    /// Events of the shop itself.
    of_shop: Vec<Event>,
    last: i64,
}

impl Memory {
    pub fn new(kilns: Vec<Kiln>, load_types: Vec<LoadType>) -> Memory {
        Memory { kilns, load_types, ..Memory::default() }
    }

    /// Writes an event, if it can have happened: the same rules as for a shop that is kept.
    ///
    /// # Errors
    /// The reason it cannot have happened; then nothing is written.
    pub fn append(&mut self, entry: &Entry, who: Who, now: Moment) -> anyhow::Result<EventId> {
        let struck = match entry.what {
            What::Struck { event, .. } => self.firing_of(event),
            _ => None,
        };
        let firing = match struck.map_or(entry.about, About::Firing) {
            About::Shop => return self.set(entry, who, now),
            About::Firing(firing) => firing,
            About::NewFiring => FiringId(self.folds.keys().last().map_or(1, |last| last.0 + 1)),
        };
        if entry.about != About::NewFiring && !self.folds.contains_key(&firing) {
            bail!("there is no firing {firing} in this shop");
        }
        let id = EventId(self.last + 1);
        let what = entry.what.clone();
        let event = Event { id, firing: Some(firing), at: entry.at, written: now, who, what };
        let nothing = Fold::default();
        let before = self.folds.get(&firing).unwrap_or(&nothing);
        if matches!(entry.what, What::Packed(_) | What::Lit(_) | What::Struck { .. }) {
            let mut after = before.clone();
            after.apply(event.clone());
            let others = self.folds.iter().filter(|(other, _)| **other != firing);
            let others = others.map(|(_, fold)| fold);
            permit_in_kiln(&event, entry.seen, (before, &after), others)?;
        }
        before.firing().permit(entry.at, &entry.what)?;
        self.last = id.0;
        self.folds.entry(firing).or_default().apply(event);
        Ok(id)
    }

    /// The firing of an event that stands.
    fn firing_of(&self, event: EventId) -> Option<FiringId> {
        let holds = |fold: &Fold| fold.standing_events().any(|known| known.id == event);
        self.folds.iter().find(|(_, fold)| holds(fold)).map(|(id, _)| *id)
    }

    /// Describes a kiln or a load type, accepts a change or takes it back, as for a shop that is
    /// kept.
    fn set(&mut self, entry: &Entry, who: Who, now: Moment) -> anyhow::Result<EventId> {
        match &entry.what {
            what if Kind::of(what).is_of_the_shop() => {}
            What::Struck { event, .. } if self.standing().any(|known| known.id == *event) => {}
            What::Struck { event, .. } => bail!("there is no event {event} that could be struck"),
            other => bail!("{} belongs to a firing", other.phrase()),
        }
        self.last += 1;
        let id = EventId(self.last);
        let what = entry.what.clone();
        self.of_shop.push(Event { id, firing: None, at: entry.at, written: now, who, what });
        Ok(id)
    }

    /// The events of the shop itself that were not struck.
    fn standing(&self) -> impl Iterator<Item = &Event> {
        let struck = |id: EventId| {
            let strikes =
                |event: &Event| matches!(event.what, What::Struck { event, .. } if event == id);
            self.of_shop.iter().any(strikes)
        };
        self.of_shop.iter().filter(move |event| !struck(event.id))
    }

    /// What the firings teach, at these prices.
    pub fn review(&self, question: &ReviewQuestion, prices: &Prices) -> ReviewScene {
        let Shop { kilns, load_types, corrections, .. } = self.shop();
        let facts = self.firings().filter_map(|firing| Ledger::digest(firing, &corrections));
        let known = Ledger { facts: facts.collect(), kilns, load_types, ahead: question.ahead };
        ReviewScene::of(&known, &corrections, prices, question)
    }

    /// Every firing, closed or not, in the order they were begun.
    pub fn firings(&self) -> impl Iterator<Item = &Firing> {
        self.folds.values().map(Fold::firing).filter(|firing| !firing.is_void())
    }

    /// The shop as it stands.
    pub fn shop(&self) -> Shop {
        let mut shop = Shop {
            kilns: self.kilns.clone(),
            load_types: self.load_types.clone(),
            open: self
                .folds
                .values()
                .map(Fold::firing)
                .filter(|firing| firing.state != State::Closed && !firing.is_void())
                .cloned()
                .collect(),
            corrections: Default::default(),
            last_event: (self.last > 0).then_some(EventId(self.last)),
        };
        for event in self.standing() {
            match &event.what {
                What::KilnSet(kiln) => shop.set_kiln(kiln.clone()),
                What::LoadTypeSet(load) => shop.set_load_type(load.clone()),
                What::Accepted(suggestion) => shop.accept(event.at, &suggestion.change),
                What::ProbeChanged { kiln, .. } => shop.corrections.change_probe(event.at, kiln),
                _ => {}
            }
        }
        shop
    }

    /// The schedule by which a kiln was lit last, if it followed one.
    pub fn last_schedule(&self, kiln: &str) -> Option<String> {
        let here = |firing: &&Firing| firing.lit.is_some() && same_name(&firing.kiln, kiln);
        self.firings().filter(here).last()?.schedule.clone()
    }

    /// The load type of this name, whatever the case of its letters.
    pub fn load_type(&self, name: &str) -> Option<&LoadType> {
        self.load_types.iter().find(|load| same_name(&load.name, name))
    }

    /// One firing, closed or not.
    pub fn firing(&self, firing: FiringId) -> Option<&Firing> {
        self.folds.get(&firing).map(Fold::firing)
    }

    /// The alarms that stand at `now` by this advice, the most urgent first, on a desk that
    /// remembers, as a keeper's does: an alarm goes by its own rule, not because a figure was a
    /// little smaller for a moment.
    pub fn alarms_on(
        &self,
        desk: &mut Desk,
        advices: &[(FiringId, Advice)],
        now: Moment,
    ) -> Vec<Alarm> {
        let shop = self.shop();
        let plans = plans(&shop);
        let found = shop.open.iter().zip(&plans).flat_map(|(firing, (_, plan))| {
            let advice = advices.iter().find(|(id, _)| *id == firing.id).map(|(_, advice)| advice);
            findings(&Watched { firing, advice, plan }, now)
        });
        let found: Vec<_> = found.collect();
        let folds = shop.open.iter().filter_map(|firing| self.folds.get(&firing.id));
        let holds = folds.flat_map(|fold| {
            fold.events().iter().filter(|event| !fold.is_struck(event.id)).filter_map(answer)
        });
        let mut answers: Vec<Answer> = holds.collect();
        answers.sort_by_key(|answer| answer.at);
        let open: Vec<FiringId> = shop.open.iter().map(|firing| firing.id).collect();
        desk.keep_only(&open);
        desk.step(&found, &answers, now)
    }

    /// The last event written.
    pub fn last_event(&self) -> EventId {
        EventId(self.last)
    }

    /// Every firing that has its outcome, in the order they were begun.
    pub fn closed(&self) -> Vec<Firing> {
        let firings = self.folds.values().map(Fold::firing);
        firings.filter(|firing| firing.state == State::Closed).cloned().collect()
    }
}
