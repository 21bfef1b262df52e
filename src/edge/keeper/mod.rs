//! Keeping watch: from the journal to the bell, without a screen or beside one.
//!
//! Every second the keeper looks whether anything was written, works out which alarms stand,
//! and, if it holds the [lease](super::shop::lease), rings them, and sees to the daily backup. Whatever fails (the file is busy, a way to ring is
//! missing, the disk is full) is told and survived: it goes on with what it last knew.
//!
//! What lies on a disk is read and written on two threads of their own, [`reading`] and [`turn`]: a disk
//! that hangs holds up them, and never the bell.

pub mod beside;
pub mod command;
pub mod diary;
mod notify;
mod reading;
mod turn;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use chrono::{Local, TimeZone, Timelike};

use super::bell::equip::Equipment;
use super::bell::log::{self, Line, Of, Stamp};
use super::bell::settings::BellSettings;
use super::bell::{Delivery, Press};
use super::journal::NewEvent;
use super::nearest::did_you_mean;
use super::shop::advised::Counsel;
use super::shop::adviser::Aside;
use super::shop::clock::{LocalZone, SystemClock, Timekeeper};
use super::shop::standing::Standing;
use super::shop::told::Told;
use super::shop::watched::View;
use crate::alarm::condition::{Condition, Figure};
use crate::alarm::{Alarm, Answer, Answering, Book, Key, MinuteOfDay, Notice, State, Steady, Task};
use crate::firing::event::Look;
use crate::firing::{FiringId, What, Who};
use crate::units::{Moment, Scale, Span};
use crate::words::{self, Clock, Dial};
use reading::{Found, Order, Reading};
use turn::{Heard, Turn};

/// The time between two steps.
pub const STEP: Duration = Duration::from_secs(1);
/// The same while nothing rings, nor is any look due within the hour.
const CALM_STEP: Duration = Duration::from_secs(2);
/// A clock set back by less than this is not worth a word.
const CLOCK_TRIFLE: Span = Span::seconds(5);
/// Somebody is called for a file that could not be read for so long: one that is exchanged may be missing
/// for a moment, and a disk may have to wake up.
const UNREAD_AFTER: Span = Span::seconds(10);
/// A piece of reading that takes so long does not go on at all.
const HANGS_AFTER: Duration = Duration::from_secs(5);

/// One process that keeps watch over a shop.
#[derive(Debug)]
pub struct Keeper {
    shop: PathBuf,
    equipment: Equipment,
    turn: Aside<Turn, Heard>,
    reading: Aside<Reading, Found>,
    rings: bool,
    watched: Standing,
    book: Book,
    steady: Steady,
    /// The alarms that stand, as of the last step.
    standing: Vec<Alarm>,
    /// The alarms written down as raised and not yet as over, by what state they were in.
    known: BTreeMap<Key, Of>,
    /// Whether nothing is to be hurried, as of the last step.
    calm: bool,
    file: FileState,
    reaches: Option<bool>,
    /// Whether any way has delivered since the last call.
    reached_since_call: bool,
    clock_told: bool,
    /// Troubles of the last step: what goes on is told once.
    troubles: Vec<Told>,
    /// What has to be told as long as this runs.
    always: Option<Told>,
    /// Settings of the bell that were made since.
    settings: Option<BellSettings>,
}

/// What is known of the shop's file itself.
#[derive(Debug, Default)]
struct FileState {
    /// What happened to it, until somebody has answered.
    harmed: Option<(Moment, String)>,
    /// Since when it cannot be read, and why.
    unread: Option<(Moment, String)>,
    /// When it was read last.
    read_at: Option<Moment>,
    answers: Vec<Answer>,
}

impl Keeper {
    /// With this bell, and by advice that may be shared; `always` has to be told as long as it runs.
    /// One that `waits` takes up whatever shop will be there.
    ///
    /// # Errors
    /// When the shop's file is not there or cannot be opened, and this does not wait for it; when the
    /// system has no thread to give.
    pub fn open(
        shop: &Path,
        (equipment, always): (Equipment, Option<Told>),
        counsel: Counsel,
        (doing, waits): (&'static str, bool),
        now: Moment,
    ) -> anyhow::Result<Keeper> {
        let out_of_service = equipment.settings.out_of_service.clone();
        let mut reading = Reading::of(shop.to_owned(), counsel, equipment.settings.clone());
        let mut first = Found::default();
        if !waits {
            reading.follow(now, &mut first)?;
        }
        let harmed = first.harmed.map(|what| (now, what));
        Ok(Keeper {
            shop: shop.to_owned(),
            turn: Aside::new(Turn::of(shop, doing))?,
            reading: Aside::new(reading)?,
            rings: false,
            watched: Standing::new(Counsel::default(), out_of_service),
            equipment,
            book: Book::default(),
            steady: Steady::default(),
            standing: Vec::new(),
            known: BTreeMap::new(),
            calm: false,
            file: FileState { harmed, ..FileState::default() },
            reaches: None,
            reached_since_call: false,
            clock_told: false,
            troubles: Vec::new(),
            always,
            settings: None,
        })
    }

    /// The settings of the bell where they are others by now: the next keeper goes by them.
    pub fn other_settings(&self) -> Option<&BellSettings> {
        self.settings.as_ref()
    }

    /// The watch as of the last step.
    pub fn view(&self) -> View {
        let (standing, troubles) = (self.standing.clone(), self.troubles.clone());
        let known = self.watched.known().clone();
        View { standing, known, rings: self.rings, reaches: self.reaches, troubles }
    }

    /// How long to wait before the next step.
    pub fn pause(&self) -> Duration {
        if self.calm { CALM_STEP } else { STEP }
    }

    /// Steps until `stop` is set, or `stepped`, which hears after each step what happened, says no.
    pub fn run(&mut self, stop: &AtomicBool, mut stepped: impl FnMut(&Keeper, Vec<Told>) -> bool) {
        let mut last = Instant::now();
        while !stop.load(Ordering::Relaxed) {
            let passed = Span(i64::try_from(last.elapsed().as_millis()).unwrap_or(i64::MAX));
            last = Instant::now();
            let told = self.step(SystemClock.now(), passed);
            if !stepped(self, told) {
                return;
            }
            std::thread::park_timeout(self.pause());
        }
    }

    /// Looks, decides and rings once. `wall` is what the clock says, `passed` how long the last
    /// step was ago by a stopwatch.
    pub fn step(&mut self, wall: Moment, passed: Span) -> Vec<Told> {
        let mut told: Vec<Told> = self.always.iter().cloned().collect();
        let newest = self.watched.newest_while_burning();
        let now = self.steady.tell(wall, passed, newest);
        self.mention_clock(wall, &mut told);
        let begun = Instant::now();
        self.take_turn(now, (wall, passed), &mut told);
        let goes_on = self.settings.is_some();
        self.read(now, wall, &mut told);
        if begun.elapsed() > CALM_STEP {
            // Stopped in between, it may have lost it.
            self.take_turn(now, (wall, Span::ZERO), &mut told);
        }
        self.watched.of_file(self.of_file(now), &self.file.answers);
        self.standing = self.watched.alarms(now);
        let busy = !self.standing.is_empty() || self.equipment.bell.is_busy();
        self.calm = !busy && self.watched.is_calm(now);
        let mut lines = Vec::new();
        if self.rings {
            self.note_changes(now, &mut lines, &mut told);
            // With other settings the next keeper rings, unless there was none to be had.
            if self.settings.is_none() || goes_on {
                self.ring(now, wall, &mut lines, &mut told);
            }
        }
        let deliveries = self.equipment.bell.poll();
        self.note_deliveries(deliveries, now, &mut lines, &mut told);
        if !lines.is_empty() {
            // While the disk hangs nobody else could read them either.
            let reaches = self.reaches;
            self.turn.begin(move |turn| turn.take(&lines, reaches, wall, Span::ZERO));
        }
        self.only_new_troubles(told)
    }

    /// A trouble that goes on from step to step is told when it begins.
    fn only_new_troubles(&mut self, mut told: Vec<Told>) -> Vec<Told> {
        let mut now: Vec<Told> = Vec::new();
        told.retain(|told| {
            let again = now.contains(told) || self.troubles.contains(told);
            now.extend(Some(told).filter(|told| told.goes_on()).cloned());
            !again
        });
        self.troubles = now;
        told
    }

    /// Takes or keeps the right to ring, and hears what was answered to the alarms of the shop itself.
    /// While nothing can be learnt of it, it stays as it was.
    fn take_turn(&mut self, now: Moment, (wall, passed): (Moment, Span), told: &mut Vec<Told>) {
        let reaches = self.reaches;
        for heard in self.turn.ask(move |turn| turn.take(&[], reaches, wall, passed)) {
            if self.rings != heard.holds {
                self.equipment.bell.hold(heard.holds);
            }
            self.rings = heard.holds;
            told.extend(heard.told);
            if let Some(before) = heard.before {
                self.book = Book::resume(log::rang(&before));
                let open = log::open_alarms(&before);
                self.known = open.into_iter().map(|(key, (of, _))| (key, of)).collect();
            }
            heard.answers.into_iter().for_each(|(task, who)| self.answer(task, who, now));
        }
    }

    /// Somebody has answered an alarm of the shop itself.
    fn answer(&mut self, task: Task, who: String, now: Moment) {
        let what = Answering::Acknowledged(task);
        self.file.answers.push(Answer { at: now, firing: FiringId::SHOP, who, what });
        if task == Task::ShopFile {
            self.file.harmed = None;
        }
    }

    /// Has read what was written since, and written down what was pressed and forecast.
    fn read(&mut self, now: Moment, wall: Moment, told: &mut Vec<Told>) {
        let free = self.reading.hangs_for().is_none();
        let pressed = if free { self.pressed(wall, now) } else { Vec::new() };
        let order = Order { now, wall, rings: self.rings, pressed };
        for found in self.reading.ask(move |reading| reading.step(&order)) {
            told.extend(found.told);
            self.settings = found.settings;
            if let Some(known) = found.known {
                self.watched.go_by(known);
            }
            let file = &mut self.file;
            file.harmed = found.harmed.map(|what| (found.at, what)).or(file.harmed.take());
            let since = file.unread.take().map_or(found.at, |(since, _)| since);
            file.unread = found.unread.map(|why| (since, why));
            if file.unread.is_none() {
                file.read_at = Some(found.at);
            }
        }
        if self.reading.hangs_for().is_some_and(|long| long >= HANGS_AFTER) {
            let since = self.file.read_at.unwrap_or(now);
            self.file.unread.get_or_insert((since, "the shop's file does not answer".into()));
        }
        self.equipment.bell.remark = self.file.unread.as_ref().map(|(since, why)| {
            let dial = Dial { zone: &LocalZone, clock: Clock::default(), scale: Scale::default() };
            let by = self.file.read_at.map_or("nothing was read of it yet".into(), |at| {
                format!("alarms go by what was read at {}", dial.time(at))
            });
            told.push(Told::Trouble(format!("{why}; {by}")));
            format!("{why}. This has been so for {}: {by}", now - *since)
        });
        told.extend(self.unknown_kiln().map(Told::Trouble));
    }

    /// What is wrong with the shop's file, as the condition of an alarm.
    fn of_file(&self, now: Moment) -> Option<Condition> {
        let FileState { harmed, unread, .. } = &self.file;
        let unread = unread.as_ref().filter(|(since, _)| now - *since >= UNREAD_AFTER);
        let (since, what) = harmed.as_ref().or(unread)?;
        Some(Condition {
            firing: FiringId::SHOP,
            kiln: self.shop.display().to_string(),
            fuel: None,
            task: Task::ShopFile,
            since: *since,
            enters: true,
            figure: Figure::Found(what.clone()),
        })
    }

    /// What to say of an alarm out of service at a kiln that this shop has not.
    fn unknown_kiln(&self) -> Option<String> {
        let kilns = &self.watched.shop().kilns;
        let known = |name: &str| self.watched.shop().kiln(name).is_some();
        let out = self.equipment.settings.out_of_service.iter();
        let (name, task) = out.filter(|_| !kilns.is_empty()).find(|(kiln, _)| !known(kiln))?;
        let hint = did_you_mean(name, kilns.iter().map(|kiln| kiln.name.as_str()));
        Some(format!(
            "the bell settings take {task} out of service at \"{name}\", and this shop has no kiln of that name{hint}"
        ))
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

    /// What was pressed on notifications since, as events; an alarm of the shop itself is answered in
    /// the log of rings.
    fn pressed(&mut self, wall: Moment, now: Moment) -> Vec<(Key, NewEvent)> {
        let mut pressed = Vec::new();
        while let Ok(press) = self.equipment.presses.try_recv() {
            let whats: Vec<(Key, What)> = match press {
                Press::Acknowledge(keys) => keys
                    .into_iter()
                    .map(|key| (key, What::Acknowledged { alarm: key.task.name().into() }))
                    .collect(),
                Press::Saw(key, seen) => {
                    vec![(key, What::Look(Look { target: Some(seen), ..Look::default() }))]
                }
            };
            for (key, what) in whats {
                if key.firing == FiringId::SHOP {
                    self.answer(key.task, String::new(), now);
                } else {
                    let who = Who::Person(String::new());
                    pressed.push((key, NewEvent::new(Some(key.firing), wall, who, what)));
                }
            }
        }
        pressed
    }
}

/// The minute of the local day; across daylight saving it is what the clock on the wall shows.
pub fn minute_of_day<Z: TimeZone>(at: Moment, zone: &Z) -> MinuteOfDay {
    let local = zone.timestamp_millis_opt(at.0).single();
    MinuteOfDay::of_second(local.map_or(0, |local| local.num_seconds_from_midnight()))
}
