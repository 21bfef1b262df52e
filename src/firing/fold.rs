//! State as a fold over events: what is known of one firing.
//!
//! The fold never fails. Events of our own making cannot contradict each other, but a record from
//! elsewhere can say anything; what does not fit is taken as well as it can be and reported as an
//! [`Oddity`].

use std::borrow::Borrow;
use std::collections::BTreeSet;

use super::down::{Looked, StoodUp};
use super::event::{Event, Look, Packing, What, Who};
use super::ids::EventId;
use super::known::{Firing, Interruption, Oddity, OddityKind};
use super::life::State;
use super::mark::Marked;
use crate::units::{Celsius, Moment};

impl Firing {
    /// What these events, of one firing and in any order, add up to. Of readings, of which there may
    /// be a million, no more is held than they add.
    pub fn fold<E: Borrow<Event>>(events: impl IntoIterator<Item = E>) -> Firing {
        let mut firing = Firing::default();
        let mut readings: Vec<(Moment, EventId, Celsius, u8)> = Vec::new();
        let mut writers: Vec<Who> = Vec::new();
        let mut deeds: Vec<E> = Vec::new();
        for event in events {
            let &Event { id, firing: of, at, ref who, ref what, .. } = event.borrow();
            firing.id = of.unwrap_or(firing.id);
            match what {
                What::Reading(celsius) => {
                    let writer = writers.iter().position(|writer| writer == who);
                    let writer = writer.unwrap_or_else(|| {
                        writers.push(who.clone());
                        writers.len() - 1
                    });
                    readings.push((at, id, *celsius, writer.min(255) as u8));
                }
                _ => deeds.push(event),
            }
        }
        readings.sort_unstable_by_key(|(at, id, ..)| (*at, *id));
        readings.dedup_by_key(|(at, id, ..)| (*at, *id));
        deeds.sort_by_key(|deed| order(E::borrow(deed)));
        deeds.dedup_by_key(|deed| order(E::borrow(deed)));
        let deeds = || deeds.iter().map(Borrow::borrow);
        let struck = struck_events(deeds());
        let mut unstruck = readings.iter().filter(|(_, id, ..)| !struck.contains(id)).peekable();
        let standing = deeds().filter(|deed| !struck.contains(&deed.id));
        for deed in standing.map(Some).chain([None]) {
            let is_before = |(at, id, ..): &&(Moment, EventId, Celsius, u8)| {
                deed.is_none_or(|deed| (*at, *id) < order(deed))
            };
            while let Some((at, id, celsius, writer)) = unstruck.next_if(is_before) {
                firing.step_reading(*id, *at, &writers[usize::from(*writer)], *celsius);
            }
            if let Some(deed) = deed {
                firing.step(deed.id, deed.at, &deed.who, &deed.what);
            }
        }
        firing.report_strikes_of_nothing(deeds(), readings.iter().map(|(_, id, ..)| *id));
        firing
    }

    /// Takes in one event that comes after all those before it and is not struck.
    pub fn step(&mut self, id: EventId, at: Moment, who: &Who, what: &What) {
        if let What::Reading(celsius) = what {
            return self.step_reading(id, at, who, *celsius);
        }
        self.judge(id, at, what);
        match what {
            What::KilnSet(_)
            | What::LoadTypeSet(_)
            | What::LotSet(_)
            | What::Planned(_)
            | What::ProbeChanged { .. }
            | What::KilnRenamed { .. }
            | What::KilnRetired { .. }
            | What::KilnReturned { .. }
            | What::KilnNote { .. }
            | What::Accepted(_)
            | What::Hours(_)
            | What::Closed(_)
            | What::LimitsSet(_)
            | What::Bench(_)
            | What::Struck { .. } => {}
            What::Packed(packing) => self.pack(id, at, packing),
            What::Lit(lit) => {
                self.settle_kiln(id, at, &lit.kiln);
                self.load_type.clone_from(&lit.load_type);
                self.pack = Some(lit.pack);
                self.schedule.clone_from(&lit.schedule);
                self.plan.clone_from(&lit.plan);
                self.lit.get_or_insert(at);
                self.lit_event = Some(id);
                self.marks.clear();
                if self.state == State::Planned {
                    self.state = self.state_alight();
                }
            }
            What::Reading(celsius) => self.take_reading(at, who, *celsius),
            What::ProbeSilent { reason } => self.silences.push((at, reason.clone())),
            What::Look(look) => self.look(id, at, who, look),
            What::Glow(glow) => self.glows.push((at, *glow)),
            What::Called => self.calls.push((id, at)),
            What::Marked(mark) if self.lit_event == Some(mark.lit) => {
                self.marks.push(Marked { at, mark: *mark });
            }
            What::Marked(_) => {}
            What::Turned { to } => self.turned.push((at, to.clone())),
            What::Note { text } => self.notes.push((at, text.clone())),
            What::Off => {
                self.off.get_or_insert(at);
                self.advance_to(State::Off);
            }
            What::Aborted { reason } => {
                self.aborted.get_or_insert_with(|| (at, reason.clone()));
                self.advance_to(State::Aborted);
            }
            What::Resumed => self.resume(at),
            What::Drawn => {
                self.drawn.get_or_insert(at);
                self.advance_to(State::Drawn);
            }
            What::Outcome(outcome) => {
                self.outcome = Some((at, outcome.clone().completed(self.pieces())));
                self.advance_to(State::Closed);
            }
            What::Acknowledged { alarm } => self.acknowledged.push((at, alarm.clone())),
            What::Shelved { alarm, length } => self.shelved.push((at, alarm.clone(), *length)),
        }
    }

    /// The same as [`Self::step`] for a reading: by far the most frequent event.
    pub fn step_reading(&mut self, id: EventId, at: Moment, who: &Who, celsius: Celsius) {
        if self.lit.is_none() || self.drawn.is_some() {
            self.judge(id, at, &What::Reading(celsius));
        }
        self.take_reading(at, who, celsius);
        if self.state == State::Off {
            self.state = State::Cooling;
        }
    }

    /// Puts a reading after those there are, as this source's.
    pub fn take_reading(&mut self, at: Moment, who: &Who, celsius: Celsius) {
        self.read_by.push(self.readings.len(), who);
        self.readings.push((at, celsius));
    }

    fn judge(&mut self, event: EventId, at: Moment, what: &What) {
        if let Err(refusal) = self.permit(at, what) {
            self.odd(event, at, OddityKind::Impossible(refusal));
        }
    }

    fn odd(&mut self, event: EventId, at: Moment, kind: OddityKind) {
        self.oddities.push(Oddity { event, at, kind });
    }

    fn report_strikes_of_nothing<'e>(
        &mut self,
        deeds: impl Iterator<Item = &'e Event> + Clone,
        readings: impl Iterator<Item = EventId>,
    ) {
        let strikes = deeds.clone().filter_map(|event| match event.what {
            What::Struck { event: target, .. } => Some((event, target)),
            _ => None,
        });
        let mut unknown: BTreeSet<EventId> = strikes.clone().map(|(_, target)| target).collect();
        deeds.map(|event| event.id).chain(readings).for_each(|id| {
            unknown.remove(&id);
        });
        for (strike, target) in
            strikes.filter(|(s, target)| unknown.contains(target) || *target >= s.id)
        {
            self.odd(strike.id, strike.at, OddityKind::NothingToStrike { event: target });
        }
        self.oddities.sort_by_key(|oddity| (oddity.at, oddity.event));
    }

    /// A state is never left backwards by an odd record: an `off` after `drawn` changes nothing.
    fn advance_to(&mut self, next: State) {
        let place = |state| match state {
            State::Planned => 0,
            State::Lit => 1,
            State::Watching => 2,
            State::Dropped => 3,
            State::Aborted | State::Off => 4,
            State::Cooling => 5,
            State::Drawn => 6,
            State::Closed => 7,
        };
        if place(next) > place(self.state) {
            self.state = next;
        }
    }

    fn settle_kiln(&mut self, event: EventId, at: Moment, kiln: &str) {
        if !self.kiln.is_empty() && !crate::kiln::same_name(&self.kiln, kiln) {
            let (before, after) = (self.kiln.clone(), kiln.to_owned());
            self.odd(event, at, OddityKind::OtherKiln { before, after });
        }
        kiln.clone_into(&mut self.kiln);
    }

    fn pack(&mut self, event: EventId, at: Moment, packing: &Packing) {
        self.settle_kiln(event, at, &packing.kiln);
        if self.lit.is_none() {
            self.load_type.clone_from(&packing.load_type);
            self.pack = packing.pack;
        }
        self.packing = Some(packing.clone());
    }

    fn look(&mut self, event: EventId, at: Moment, who: &Who, look: &Look) {
        let looked = Looked { event, at, look: *look };
        let stood_up: Vec<StoodUp> = looked.stood_up(&self.looks).collect();
        for StoodUp { cone, earlier: (_, before), later: (_, after) } in stood_up {
            self.odd(event, at, OddityKind::StoodUp { cone, before, after });
        }
        self.looks.push(looked);
        if let Who::Person(name) = who
            && !name.is_empty()
        {
            self.lookers.push((event, name.clone()));
        }
        if self.burns() {
            self.state = self.state_alight();
        }
    }

    fn resume(&mut self, at: Moment) {
        let Some((aborted, reason)) = self.aborted.take() else { return };
        self.interruptions.push(Interruption { aborted, reason, resumed: at });
        if self.state == State::Aborted {
            self.state = self.state_alight();
        }
    }

    /// State of a firing that burns, by its looks.
    fn state_alight(&self) -> State {
        let looked = self.looks.iter().any(|looked| Some(looked.at) >= self.lit);
        match (self.down(), looked) {
            (Some(_), _) => State::Dropped,
            (None, true) => State::Watching,
            (None, false) => State::Lit,
        }
    }
}

/// A firing that takes in events one after another, in whatever order they become known.
///
/// An event that is later than all before it costs one step; one that comes late, or strikes
/// another, folds the events anew. What comes out does not depend on how they were batched.
#[derive(Debug, Clone, Default)]
pub struct Fold {
    /// In the order of time, ties in the order of writing; struck events included.
    events: Vec<Event>,
    /// Every event a strike names, known or not.
    targets: BTreeSet<EventId>,
    struck: BTreeSet<EventId>,
    firing: Firing,
}

impl Fold {
    pub fn firing(&self) -> &Firing {
        &self.firing
    }

    pub fn into_firing(self) -> Firing {
        self.firing
    }

    /// All events, struck ones included, in the order of time.
    pub fn events(&self) -> &[Event] {
        &self.events
    }

    /// The events that were not taken back, in the order of time.
    pub fn standing_events(&self) -> impl Iterator<Item = &Event> {
        self.events.iter().filter(|event| !self.is_struck(event.id))
    }

    /// The events that were corrected, each with the one that stands in its place.
    pub fn corrections(&self) -> impl Iterator<Item = (EventId, EventId)> {
        self.standing_events().filter_map(|event| match event.what {
            What::Struck { event, corrected_by: Some(by), .. } => Some((event, by)),
            _ => None,
        })
    }

    /// Whether this event was taken back.
    pub fn is_struck(&self, event: EventId) -> bool {
        self.struck.contains(&event)
    }

    /// Takes in one event. The same event taken in again changes nothing.
    pub fn apply(&mut self, event: Event) {
        self.extend([event]);
    }

    /// Takes in several events.
    pub fn extend(&mut self, events: impl IntoIterator<Item = Event>) {
        let mut in_order = true;
        for event in events {
            if let Some(firing) = event.firing {
                self.firing.id = firing;
            }
            if let What::Struck { event: target, .. } = event.what {
                self.targets.insert(target);
                in_order = false;
            }
            in_order &= self.events.last().is_none_or(|last| order(last) < order(&event))
                && !self.targets.contains(&event.id);
            if in_order {
                self.firing.step(event.id, event.at, &event.who, &event.what);
            }
            self.events.push(event);
        }
        if !in_order {
            self.fold_anew();
        }
    }

    fn fold_anew(&mut self) {
        self.events.sort_by_key(order);
        self.events.dedup_by_key(|event| event.id);
        self.struck = struck_events(&self.events);
        self.firing = Firing { id: self.firing.id, ..Firing::fold(&self.events) };
    }
}

/// Events count in the order in which they happened; ties in the order of writing.
fn order(event: &Event) -> (Moment, EventId) {
    (event.at, event.id)
}

/// Which of these events are taken back. A strike can be struck too, which brings its event back;
/// strikes name earlier events only, so they are resolved from the last one backwards.
pub fn struck_events<'e>(events: impl IntoIterator<Item = &'e Event>) -> BTreeSet<EventId> {
    let mut strikes: Vec<(EventId, EventId)> = events
        .into_iter()
        .filter_map(|event| match event.what {
            What::Struck { event: target, .. } => Some((event.id, target)),
            _ => None,
        })
        .filter(|(strike, target)| target < strike)
        .collect();
    strikes.sort_unstable_by(|a, b| b.cmp(a));
    let mut struck = BTreeSet::new();
    for (strike, target) in strikes {
        if !struck.contains(&strike) {
            struck.insert(target);
        }
    }
    struck
}
