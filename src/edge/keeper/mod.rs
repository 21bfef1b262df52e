//! Keeping watch: from the journal to the bell, without a screen or beside one.
//!
//! Every second the keeper looks whether anything was written, works out which alarms stand,
//! and, if it holds the [`lease`], rings them, and sees to the daily backup. Whatever fails (the file is busy, a way to ring is
//! missing, the disk is full) is told and survived: it goes on with what it last knew.

pub mod beside;
pub mod command;
pub mod diary;

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use chrono::{Local, TimeZone, Timelike};

use super::bell::equip::Equipment;
use super::bell::log::{self, Line, Of, RingLog, Stamp};
use super::bell::{Delivery, Press};
use super::journal::daily::DailyBackup;
use super::journal::{Journal, JournalError, NewEvent};
use super::shop::advised::Counsel;
use super::shop::clock::{LocalZone, SystemClock, Timekeeper};
use super::shop::lease::RingLease;
use super::shop::standing::Standing;
use super::shop::told::Told;
use crate::alarm::{Alarm, Book, Key, MinuteOfDay, Notice, State, Steady};
use crate::firing::event::Look;
use crate::firing::{What, Who};
use crate::units::{Moment, Scale, Span};
use crate::words::{self, Clock, Dial};
use diary::Diary;

/// The time between two steps.
pub const STEP: Duration = Duration::from_secs(1);
/// The same while no firing is open: nothing can ring.
const CALM_STEP: Duration = Duration::from_secs(2);
/// A clock set back by less than this is not worth a word.
const CLOCK_TRIFLE: Span = Span::seconds(5);

/// One process that keeps watch over a shop.
#[derive(Debug)]
pub struct Keeper {
    equipment: Equipment,
    /// `keep` or `screen`, told to whoever asks who keeps watch.
    doing: &'static str,
    journal: Journal,
    lease: RingLease,
    log: RingLog,
    backup: DailyBackup,
    watched: Standing,
    book: Book,
    steady: Steady,
    /// The alarms that stand, as of the last step.
    standing: Vec<Alarm>,
    diary: Diary,
    /// The alarms written down as raised and not yet as over, by what state they were in.
    known: BTreeMap<Key, Of>,
    reaches: Option<bool>,
    /// Whether any way has delivered since the last call.
    reached_since_call: bool,
    clock_told: bool,
    /// Troubles of the last step: what goes on is told once.
    troubles: Vec<Told>,
}

impl Keeper {
    /// With this bell, and by advice that may be shared.
    ///
    /// # Errors
    /// When the shop's file or the lock beside it cannot be opened.
    pub fn open(
        shop: &Path,
        equipment: Equipment,
        counsel: Counsel,
        doing: &'static str,
        now: Moment,
    ) -> anyhow::Result<Keeper> {
        let journal = Journal::open_or_begin(shop, now)?.with_unread(counsel.unread());
        let out_of_service = equipment.settings.out_of_service.clone();
        Ok(Keeper {
            lease: RingLease::of(shop)?,
            log: RingLog::of(shop),
            watched: Standing::new(counsel, out_of_service),
            equipment,
            doing,
            journal,
            backup: DailyBackup::default(),
            book: Book::default(),
            steady: Steady::default(),
            standing: Vec::new(),
            diary: Diary::default(),
            known: BTreeMap::new(),
            reaches: None,
            reached_since_call: false,
            clock_told: false,
            troubles: Vec::new(),
        })
    }

    /// The alarms that stand, as of the last step.
    pub fn standing(&self) -> &[Alarm] {
        &self.standing
    }

    /// How long to wait before the next step.
    pub fn pause(&self) -> Duration {
        let calm = self.watched.open().is_empty() && !self.equipment.bell.is_busy();
        if calm { CALM_STEP } else { STEP }
    }

    /// Whether it is this process that rings.
    pub fn rings(&self) -> bool {
        self.lease.is_held()
    }

    /// Whether the last ring reached anybody; `None` before the first.
    pub fn reaches(&self) -> Option<bool> {
        self.reaches
    }

    /// Steps until `stop` is set; after each step `stepped` hears what happened.
    pub fn run(&mut self, stop: &AtomicBool, mut stepped: impl FnMut(&Keeper, Vec<Told>)) {
        let mut last = Instant::now();
        while !stop.load(Ordering::Relaxed) {
            let passed = Span(i64::try_from(last.elapsed().as_millis()).unwrap_or(i64::MAX));
            last = Instant::now();
            let told = self.step(SystemClock.now(), passed);
            stepped(self, told);
            std::thread::park_timeout(self.pause());
        }
    }

    /// Looks, decides and rings once. `wall` is what the clock says, `passed` how long the last
    /// step was ago by a stopwatch.
    pub fn step(&mut self, wall: Moment, passed: Span) -> Vec<Told> {
        let mut told = Vec::new();
        self.take_lease(wall, &mut told);
        let newest = self.watched.newest_while_burning();
        let now = self.steady.tell(wall, passed, newest);
        self.mention_clock(wall, &mut told);
        self.take_presses(wall, &mut told);
        if let Err(error) = self.watched.refresh(&self.journal, now) {
            told.push(Told::Trouble(format!("the shop's file cannot be read now: {error:#}")));
        }
        let dial = Dial { zone: &LocalZone, clock: Clock::default(), scale: Scale::default() };
        let lacks = words::left_out_and_remedy(&self.journal.unread().list(), now, &dial);
        told.extend(lacks.map(Told::LeftOut));
        self.standing = self.watched.alarms(now);
        let mut lines = Vec::new();
        if self.rings() {
            self.note_changes(now, &mut lines, &mut told);
            self.ring(now, wall, &mut lines, &mut told);
            self.write_down(now, &mut told);
            told.extend(self.backup.keep(&self.journal, wall).map(|made| match made {
                Ok(path) => Told::BackedUp(path),
                Err(why) => Told::NoBackup(why),
            }));
            if let Err(error) = self.backup.look_after(&self.journal, wall) {
                told.push(Told::Trouble(error.to_string()));
            }
        }
        let deliveries = self.equipment.bell.poll();
        self.note_deliveries(deliveries, now, &mut lines, &mut told);
        if let Err(error) = self.log.append(&lines) {
            told.push(Told::trouble_with(self.log.path(), &error));
        }
        if let Err(error) = self.lease.beat(self.doing, self.reaches, wall) {
            told.push(Told::trouble_with(self.lease.path(), &error));
        }
        self.only_new_troubles(told)
    }

    /// A trouble that goes on from step to step is told when it begins.
    fn only_new_troubles(&mut self, mut told: Vec<Told>) -> Vec<Told> {
        let now: Vec<Told> = told.iter().filter(|told| told.goes_on()).cloned().collect();
        told.retain(|told| !self.troubles.contains(told));
        self.troubles = now;
        told
    }

    fn take_lease(&mut self, wall: Moment, told: &mut Vec<Told>) {
        if self.lease.is_held() {
            return;
        }
        match self.lease.take() {
            Ok(false) => {}
            Ok(true) => {
                let before = self.log.tail().unwrap_or_else(|error| {
                    told.push(Told::trouble_with(self.log.path(), &error));
                    Vec::new()
                });
                self.book = Book::resume(log::rang(&before));
                self.known = open_alarms(&before);
                // What the holder before said of itself holds no more.
                let beat = self.lease.beat(self.doing, self.reaches, wall);
                if let Err(error) = beat {
                    told.push(Told::trouble_with(self.lease.path(), &error));
                }
                told.push(Told::Notice(Notice::TookOver, String::new()));
                let line = log::notice_line(Notice::TookOver, self.doing.into(), wall);
                // A log that cannot be written is told of with the first ring.
                let _ = self.log.append(&[line]);
            }
            Err(error) => told.push(Told::Trouble(format!(
                "{}: {error}: nobody can tell who rings, so this process does not",
                self.lease.path().display()
            ))),
        }
    }

    fn mention_clock(&mut self, wall: Moment, told: &mut Vec<Told>) {
        let back = self.steady.set_back_by(wall);
        if back > CLOCK_TRIFLE && !self.clock_told {
            told.push(Told::ClockSetBack(back));
        }
        self.clock_told = back > CLOCK_TRIFLE;
    }

    /// Writes down what was raised, answered and over since the last step.
    fn note_changes(&mut self, now: Moment, lines: &mut Vec<Line>, told: &mut Vec<Told>) {
        let at = Stamp(now);
        for alarm in &self.standing {
            let of = Of::alarm(alarm);
            let known = self.known.get(&alarm.key);
            match alarm.state {
                State::Unacknowledged if known != Some(&of) => {
                    self.known.insert(alarm.key, of.clone());
                    let priority = alarm.key.task.priority().name().to_owned();
                    lines.push(Line::Raised { at, of, kiln: alarm.kiln.clone(), priority });
                }
                State::Acknowledged | State::LatchedAcknowledged | State::Shelved => {
                    let Some(of) = self.known.remove(&alarm.key) else { continue };
                    let who = alarm.answered.as_ref().map_or(String::new(), |(_, who)| who.clone());
                    lines.push(Line::Answered { at, of, who });
                    self.equipment.bell.settle(alarm.key);
                    told.push(Told::Answered(alarm.clone()));
                }
                _ => {}
            }
        }
        let standing = &self.standing;
        let rings = |key: &Key| {
            standing.iter().any(|alarm| alarm.key == *key && alarm.state == State::Unacknowledged)
        };
        let over: Vec<Key> = self.known.keys().filter(|key| !rings(key)).copied().collect();
        for key in over {
            let Some(of) = self.known.remove(&key) else { continue };
            lines.push(Line::Returned { at, of });
            self.equipment.bell.settle(key);
            let unanswered = standing
                .iter()
                .find(|alarm| alarm.key == key && alarm.state == State::ReturnedUnacknowledged);
            if let Some(alarm) = unanswered {
                let headline = words::alarms::headline(alarm);
                told.push(Told::Notice(Notice::ReturnedUnanswered, headline));
            }
        }
    }

    fn ring(&mut self, now: Moment, wall: Moment, lines: &mut Vec<Line>, told: &mut Vec<Told>) {
        let flooded = self.book.flood().is_some();
        let calls = self.book.step(
            &self.standing,
            &self.equipment.settings.rota,
            minute_of_day(wall, &Local),
            now,
        );
        let notice = match (flooded, self.book.flood().is_some()) {
            (false, true) => Some(Notice::FloodBegan),
            (true, false) => Some(Notice::FloodOver),
            _ => None,
        };
        if let Some(notice) = notice {
            lines.push(log::notice_line(notice, String::new(), now));
            told.push(Told::Notice(notice, String::new()));
        }
        for call in calls {
            lines.extend(log::call_lines(&call, |key| self.book.rang(key).copied()));
            self.reached_since_call = false;
            let failed = self.equipment.bell.ring(&call);
            self.note_deliveries(failed, now, lines, told);
            told.push(Told::Rang(Box::new(call)));
        }
    }

    fn note_deliveries(
        &mut self,
        deliveries: Vec<Delivery>,
        now: Moment,
        lines: &mut Vec<Line>,
        told: &mut Vec<Told>,
    ) {
        for delivery in deliveries {
            lines.push(log::delivery_line(&delivery, now));
            // One way that reaches somebody is enough; all have to fail for nobody to be reached.
            if delivery.result.is_ok() {
                self.reached_since_call = true;
                self.reaches = Some(true);
            } else if !self.reached_since_call && !self.equipment.bell.is_busy() {
                self.reaches = Some(false);
            }
            told.push(Told::Delivery(delivery));
        }
    }

    /// Writes down that somebody is called, and what is forecast of the drop.
    fn write_down(&mut self, now: Moment, told: &mut Vec<Told>) {
        for due in self.diary.due(self.watched.watched(), &self.standing, now) {
            let (firing, what) = (Some(due.firing), due.what.clone());
            let event = NewEvent { uid: due.uid, ..NewEvent::new(firing, now, Who::Program, what) };
            match self.journal.append_checked(&event, now) {
                Ok(_) | Err(JournalError::MarkTaken(_)) => self.diary.written(&due, now),
                Err(error) => {
                    let what = due.what.phrase();
                    told.push(Told::Trouble(format!("{what} is not written down: {error}")));
                }
            }
        }
    }

    /// Writes down what was pressed on notifications.
    fn take_presses(&mut self, wall: Moment, told: &mut Vec<Told>) {
        while let Ok(press) = self.equipment.presses.try_recv() {
            let events: Vec<(Key, What)> = match press {
                Press::Acknowledge(keys) => keys
                    .into_iter()
                    .map(|key| (key, What::Acknowledged { alarm: key.task.name().into() }))
                    .collect(),
                Press::Saw(key, seen) => {
                    vec![(key, What::Look(Look { target: Some(seen), ..Look::default() }))]
                }
            };
            for (key, what) in events {
                let who = Who::Person(String::new());
                let event = NewEvent::new(Some(key.firing), wall, who, what);
                match self.journal.append_checked(&event, wall) {
                    Ok(appended) => told.push(Told::Pressed(key, event.what, appended.id)),
                    Err(error) => told.push(Told::Trouble(format!(
                        "what was pressed on the notification is not written down: {error}"
                    ))),
                }
            }
        }
    }
}

/// The alarms a log tells of that are raised and not over.
fn open_alarms(lines: &[Line]) -> BTreeMap<Key, Of> {
    let mut open = BTreeMap::new();
    for line in lines {
        match line {
            Line::Raised { of, .. } => {
                of.key().map(|key| open.insert(key, of.clone()));
            }
            Line::Answered { of, .. } | Line::Returned { of, .. } => {
                of.key().map(|key| open.remove(&key));
            }
            _ => {}
        }
    }
    open
}

/// The minute of the local day; across daylight saving it is what the clock on the wall shows.
pub fn minute_of_day<Z: TimeZone>(at: Moment, zone: &Z) -> MinuteOfDay {
    let local = zone.timestamp_millis_opt(at.0).single();
    MinuteOfDay::of_second(local.map_or(0, |local| local.num_seconds_from_midnight()))
}
