//! The alarms that stand in a shop: what they follow from is read when something was written, and
//! kept when it cannot be read.

use std::sync::Arc;
use std::time::Duration;

use super::advised::{Advices, Advised, Counsel, age, is_calm};
use super::bench::Reckoned;
use crate::alarm::condition::Condition;
use crate::alarm::plan::plan;
use crate::alarm::{
    Alarm, Answer, Answering, Desk, Plan, Task, Upcoming, Watched, findings, upcoming,
};
use crate::edge::house_file::House;
use crate::edge::journal::Journal;
use crate::edge::shipped_schedules;
use crate::firing::{Event, EventId, Firing, FiringId, Kind, Shop, What, Who};
use crate::scene::BenchScene;
use crate::units::Moment;

/// The open firings with their advice, plans and answers, as they were read last, and how their alarms stand.
#[derive(Debug, Clone, Default)]
pub struct Known {
    shop: Arc<Shop>,
    advices: Advices,
    plans: Vec<(FiringId, Plan)>,
    answers: Vec<Answer>,
    bench: Arc<BenchScene>,
    /// The port at which the page is to be served, while it is switched on.
    page: Option<u16>,
    /// An alarm goes by its own rule, not because a figure was a little smaller for a moment.
    desk: Desk,
}

impl Known {
    /// The port at which the page is to be served, while it is switched on.
    pub fn page(&self) -> Option<u16> {
        self.page
    }

    /// Every open firing with what is known of it.
    pub fn watched(&self) -> impl Iterator<Item = Watched<'_>> {
        self.shop.open.iter().filter_map(|firing| {
            let plan = self.plans.iter().find(|(id, _)| *id == firing.id).map(|(_, plan)| plan)?;
            let advice = self.advices.iter().find(|(id, _)| *id == firing.id);
            Some(Watched { firing, advice: advice.map(|(_, advice)| advice), plan })
        })
    }

    /// What would ring later if nobody did anything, by what is known and stood at `now`.
    pub fn upcoming(&self, now: Moment) -> Vec<Upcoming> {
        upcoming(&self.watched().collect::<Vec<_>>(), &self.answers, &self.desk, now)
    }

    /// The last event it rests on.
    pub fn last_event(&self) -> Option<EventId> {
        self.shop.last_event
    }
}

/// What is known of the open firings, and the alarms that stand by that.
#[derive(Debug, Default)]
pub struct Standing {
    known: Known,
    /// What the advice comes from, shared with whoever else in this process wants it.
    counsel: Counsel,
    /// What is wrong with the shop's file, and what was answered to that.
    of_file: (Option<Condition>, Vec<Answer>),
    /// As the bell's settings name them.
    out_of_service: Vec<(String, Task)>,
    version: Option<i64>,
    advised: Option<Moment>,
    reckoned: Reckoned,
}

impl Standing {
    /// Nothing is known of the open firings yet. Alarms out of service do not stand.
    pub fn new(counsel: Counsel, out_of_service: Vec<(String, Task)>) -> Standing {
        Standing { counsel, out_of_service, ..Standing::default() }
    }

    /// Reads what was written since, and makes the advice anew if it is old; true if it did either.
    ///
    /// # Errors
    /// When the file cannot be read; what was known stays.
    pub fn refresh(&mut self, journal: &Journal, now: Moment) -> anyhow::Result<bool> {
        let version = journal.data_version()?;
        let last = journal.last_event()?;
        let changed = self.version != Some(version) || last != self.known.shop.last_event;
        let age = age(&self.known.shop, &self.known.advices, now);
        let old = self.advised.is_some_and(|at| now < at || now - at >= age);
        if !changed && !old {
            return Ok(false);
        }
        if changed {
            self.read(journal)?;
        }
        let burning = self.known.shop.open.iter().any(Firing::burns);
        let Advised { at, advices } = match burning {
            true => self.counsel.on(&self.known.shop, |past| Ok(past.read(journal)?), now)?,
            false => Advised::default(),
        };
        self.known.advices = advices;
        self.advised = burning.then_some(at);
        self.version = Some(version);
        Ok(true)
    }

    /// Reads the shop as it stands, and what answers its alarms.
    ///
    /// # Errors
    /// When the file cannot be read; what was known stays.
    pub fn read(&mut self, journal: &Journal) -> anyhow::Result<&Arc<Shop>> {
        let mut answers = Vec::new();
        let shop = journal.shop_seeing(|fold| {
            let off = fold.firing().off;
            let holds = fold.standing_events().filter(|event| may_answer(event, off));
            answers.extend(holds.filter_map(answer));
        })?;
        answers.sort_by_key(|answer| answer.at);
        let mut plans = plans(&shop);
        if let Some(below) = journal.file().and_then(|file| House::or_usual(file).draw_below) {
            plans.iter_mut().for_each(|(_, plan)| plan.draw_below = below);
        }
        let before = std::mem::take(&mut self.known);
        // A file that cannot say it says nothing else than before.
        let page = journal.page().map_or(before.page, |page| page.map(|page| page.port));
        self.known = Known { shop: Arc::new(shop), plans, answers, page, ..before };
        Ok(&self.known.shop)
    }

    /// Has the bench reckoned beside the loop; true if there is another. No trouble of the bench is one of
    /// the watch: it goes by what was known.
    pub fn reckon(&mut self, journal: &Journal, now: Moment) -> bool {
        let heard = self.reckoned.hear(Duration::ZERO);
        let asked = (journal, &*self.known.shop);
        let bench = heard.and_then(|_| self.reckoned.on(asked, Duration::ZERO.into(), now));
        bench.is_ok_and(|bench| self.of_bench(bench))
    }

    /// Goes by this bench; whether it is another.
    pub fn of_bench(&mut self, bench: Arc<BenchScene>) -> bool {
        let another = *bench != *self.known.bench;
        self.known.bench = bench;
        another
    }

    /// What was read last.
    pub fn known(&self) -> &Known {
        &self.known
    }

    /// Goes by what another has read; how the alarms stand is this one's own.
    pub fn go_by(&mut self, known: Known) {
        let desk = std::mem::take(&mut self.known.desk);
        self.known = Known { desk, ..known };
    }

    /// Goes by this condition of the shop's file, and by what was answered to it.
    pub fn of_file(&mut self, condition: Option<Condition>, answers: &[Answer]) {
        self.of_file = (condition, answers.to_vec());
    }

    /// Hears what was answered to an alarm of the shop itself.
    pub fn answer(&mut self, task: Task, who: String, now: Moment) {
        let what = Answering::Acknowledged(task);
        self.of_file.1.push(Answer { at: now, firing: FiringId::SHOP, who, what });
    }

    /// The alarms that stand at `now`, the most urgent first; one of the bench waits until no other rings.
    pub fn alarms(&mut self, now: Moment) -> Vec<Alarm> {
        let mut found: Vec<_> =
            self.watched().flat_map(|watched| findings(&watched, now)).collect();
        let (of_file, answered) = &self.of_file;
        found.extend(of_file.clone());
        found.extend(self.known.bench.rings(now));
        let answers = [self.known.answers.as_slice(), answered].concat();
        let open: Vec<_> = self.open().into_iter().chain([FiringId::SHOP]).collect();
        let names = &self.known.shop.names;
        let out = self.out_of_service.iter();
        let out = out.map(|(kiln, task)| (names.now(kiln).to_owned(), *task));
        self.known.desk.take_out_of_service(out.collect());
        self.known.desk.keep_only(&open);
        let mut alarms = self.known.desk.step(&found, &answers, now);
        let of_the_bench = |alarm: &Alarm| alarm.key.task.is_of_the_bench();
        if alarms.iter().any(|alarm| alarm.state.rings() && !of_the_bench(alarm)) {
            alarms.retain(|alarm| !of_the_bench(alarm));
        }
        alarms
    }

    /// The same by advice that was made already.
    pub fn alarms_by(&mut self, advices: &Advices, now: Moment) -> Vec<Alarm> {
        self.known.advices = Arc::clone(advices);
        self.alarms(now)
    }

    /// Every open firing with what is known of it.
    pub fn watched(&self) -> impl Iterator<Item = Watched<'_>> {
        self.known.watched()
    }

    /// The shop as it was read last.
    pub fn shop(&self) -> &Shop {
        &self.known.shop
    }

    /// Whether nothing is to be hurried, by what is known.
    pub fn is_calm(&self, now: Moment) -> bool {
        is_calm(&self.known.shop, &self.known.advices, now)
    }

    /// The firings that are not closed.
    pub fn open(&self) -> Vec<FiringId> {
        self.known.shop.open.iter().map(|firing| firing.id).collect()
    }

    /// The last thing that happened in a kiln that burns, if one does.
    pub fn newest_while_burning(&self) -> Option<Moment> {
        self.known.shop.open.iter().filter(|firing| firing.burns()).filter_map(newest).max()
    }
}

fn newest(firing: &Firing) -> Option<Moment> {
    let last_reading = firing.readings.last().map(|(at, _)| *at);
    let last_look = firing.looks.last().map(|looked| looked.at);
    [firing.lit, last_reading, last_look].into_iter().flatten().max()
}

/// What every open firing goes by: the plan it was lit with, else that of the schedule it names.
fn plans(shop: &Shop) -> Vec<(FiringId, Plan)> {
    let plan_of = |firing: &Firing| {
        let corners = firing.plan_or(shipped_schedules::plan).unwrap_or_default();
        let kiln = shop.kiln(&firing.kiln);
        let lit = firing.lit_as_if_once(Moment(i64::MAX));
        lit.map_or_else(Plan::default, |lit| plan(lit, &corners, kiln))
    };
    shop.open.iter().map(|firing| (firing.id, plan_of(firing))).collect()
}

/// Readings are nearly all that is written, and answer nothing before the kiln is off: what a
/// burning kiln is asked for is a look.
fn may_answer(event: &Event, off: Option<Moment>) -> bool {
    !matches!(event.what, What::Reading(_)) || off.is_some_and(|off| event.at >= off)
}

/// What an event answers, if it answers anything.
fn answer(event: &Event) -> Option<Answer> {
    let what = match &event.what {
        What::Acknowledged { alarm } => Answering::Acknowledged(Task::of_alarm(alarm)?),
        What::Shelved { alarm, length } => Answering::Shelved(Task::of_alarm(alarm)?, *length),
        other => Answering::Did(Kind::of(other)),
    };
    let who = match &event.who {
        Who::Person(name) | Who::Probe(name) => name.clone(),
        Who::Program => String::new(),
    };
    Some(Answer { at: event.at, firing: event.firing?, who, what })
}
