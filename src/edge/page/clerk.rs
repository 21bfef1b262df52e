//! The one thread of the page that has the shop's journal open: it makes what is to be seen, and writes what
//! comes from the devices. A disk that hangs holds up this thread; the devices hear that nothing was saved.

use std::collections::{HashMap, HashSet};
use std::fmt::Display;
use std::net::IpAddr;
use std::path::PathBuf;
use std::process;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::time::{Duration, Instant};

use tokio::sync::watch;

use super::address::{self, Address as Place};
use super::noting::{Desk, Noted};
use super::sent::{Said, Sent};
use super::server::{self, Server};
use super::{codes, pin, routes, ways};
use crate::alarm::{Alarm, Key, Upcoming};
use crate::edge::bell::log::{Deed, Line, Of, Stamp};
use crate::edge::house_file::House;
use crate::edge::journal::devices::{Code, Device, Digest, Pairing};
use crate::edge::journal::rights::Trying;
use crate::edge::journal::{Address, Uid};
use crate::edge::own_schedules::Offered;
use crate::edge::shop::advised::Counsel;
use crate::edge::shop::clock::{SystemClock, Timekeeper};
use crate::edge::shop::kept::KeptShop;
use crate::edge::shop::store::{About, Entry, Kept, Settings};
use crate::edge::shop::watched::{Shown, View, seen};
use crate::firing::{FiringId, What};
use crate::scene::Floor;
use crate::text;
use crate::units::{Moment, Span};
use crate::words;

/// The time between two steps where nothing comes in.
const STEP: Duration = Duration::from_millis(500);
/// The same while the page is switched off.
const STEP_OFF: Duration = Duration::from_millis(1500);
/// How often it is looked which addresses this computer has.
const LOOKED_EVERY: Duration = Duration::from_secs(10);
/// How long a picture waits for advice.
const PATIENCE: Duration = Duration::from_secs(3);
/// So many jobs may wait; more are refused at once.
const JOBS: usize = 64;
/// How often it is written down that a device is here: each time is a change of the shop's file.
const SEEN_EVERY: Span = Span::hours(1);

/// What is to be seen of a shop, as of one moment.
#[derive(Debug, Clone, Default)]
pub struct Picture {
    pub floor: Floor,
    /// What would ring if nobody did anything.
    pub upcoming: Vec<Upcoming>,
    pub house: House,
    pub devices: Vec<Device>,
    /// Whether there is a PIN that a device could be told.
    pub has_pin: bool,
    /// What a kiln can be lit by.
    pub schedules: Vec<Offered>,
    /// What is wrong with the shop's file.
    pub line: Option<String>,
    /// Where the rest is read.
    pub journal: Option<Address>,
}

impl Picture {
    /// The device that shows this.
    pub fn device(&self, token: &Digest) -> Option<&Device> {
        self.devices.iter().find(|device| device.token == *token)
    }
}

/// How the web finds the newest picture.
pub type Pictures = watch::Receiver<Arc<Picture>>;

/// What a device wants done by whoever has the journal.
pub type Job = Box<dyn FnOnce(&mut Serving, Moment) + Send>;

/// Where the web puts its jobs.
pub type Jobs = SyncSender<Job>;

/// Why a device is not paired.
#[derive(Debug)]
pub enum Unpaired {
    NoSuchCode,
    /// A device of this name is paired, which this one may be.
    NameTaken(String),
    Otherwise(String),
}

/// The thread's own.
#[derive(Debug)]
pub struct Clerk {
    shop: PathBuf,
    counsel: Counsel,
    shown: Shown,
    serving: Option<Serving>,
    jobs: (Jobs, Receiver<Job>),
}

/// What there is while the page is served.
#[derive(Debug)]
pub struct Serving {
    port: u16,
    kept: KeptShop,
    view: View,
    pictures: watch::Sender<Arc<Picture>>,
    /// None while the port cannot be had.
    server: Option<Server>,
    noted: HashMap<String, Moment>,
    /// What devices did at the alarms that stand, as it is in the log of rings: the device, the alarm's mark, the
    /// deed.
    logged: HashSet<(String, String, Deed)>,
    /// The address by which a device was paired last, and when it was looked whether this computer still has it.
    door: Option<IpAddr>,
    looked: Option<Instant>,
}

impl Clerk {
    pub fn new(shop: PathBuf, counsel: Counsel, shown: Shown) -> Clerk {
        let jobs = sync_channel(JOBS);
        Clerk { shop, counsel, shown, serving: None, jobs }
    }

    /// Looks whether to serve, makes a picture where something changed, and does what was asked for.
    pub fn step(&mut self) {
        let view = seen(&self.shown);
        let wanted = view.known.page().filter(|_| view.rings);
        if self.serving.as_ref().map(|serving| serving.port) != wanted {
            if let Some(serving) = self.serving.take() {
                serving.end();
            }
            self.serving = wanted.and_then(|port| self.begin(port).ok());
        }
        let jobs = self.jobs.0.clone();
        if let Some(serving) = &mut self.serving {
            let now = SystemClock.now();
            serving.picture(view, now);
            serving.open(jobs);
            serving.look_where();
        }
        let step = if self.serving.is_some() { STEP } else { STEP_OFF };
        if let (Ok(job), Some(serving)) = (self.jobs.1.recv_timeout(step), &mut self.serving) {
            job(serving, SystemClock.now());
        }
    }

    fn begin(&self, port: u16) -> anyhow::Result<Serving> {
        let now = SystemClock.now();
        let kept = KeptShop::shared(&self.shop, self.counsel.clone(), PATIENCE, now)?;
        let (pictures, _) = watch::channel(Arc::default());
        let (view, noted) = (View::default(), HashMap::new());
        let door = kept.journal().door().unwrap_or_default();
        let (server, looked, logged) = (None, None, HashSet::new());
        Ok(Serving { port, kept, view, pictures, server, noted, logged, door, looked })
    }
}

impl Serving {
    /// Opens the port, once there is something to see.
    fn open(&mut self, jobs: Jobs) {
        if self.server.is_some() {
            return;
        }
        let pictures = self.pictures.subscribe();
        let port = self.port;
        let begun = server::bind(port).and_then(|listener| {
            Server::start(listener, |stopped| routes::router(port, pictures, jobs, stopped))
        });
        let (process, trouble) = match &begun {
            Ok(_) => (process::id(), String::new()),
            Err(error) => (0, words::page_not_served(port, &error.to_string())),
        };
        self.server = begun.ok();
        // Whoever asks hears of it; the page itself does not rest on it.
        let _ = self.kept.journal().note_served(process, &trouble);
    }

    /// Looks whether this computer is still where its devices know it, and says so where it is not: a browser
    /// takes another address for another page.
    fn look_where(&mut self) {
        if self.server.is_none() || self.looked.is_some_and(|at| at.elapsed() < LOOKED_EVERY) {
            return;
        }
        self.looked = Some(Instant::now());
        let has = |ip: &IpAddr| address::all().iter().any(|one| one.ip == *ip);
        let trouble = match (self.door.filter(|door| !has(door)), address::reachable().first()) {
            (Some(was), Some(Place { ip, .. })) => {
                words::page_moved(&address::url(was, self.port), &address::url(*ip, self.port))
            }
            _ => String::new(),
        };
        let journal = self.kept.journal();
        if journal.page().is_ok_and(|page| page.is_some_and(|page| page.trouble != trouble)) {
            let _ = journal.note_trouble(&trouble);
        }
    }

    fn end(mut self) {
        self.server = None;
        let _ = self.kept.journal().note_served(0, "");
    }

    /// Makes a picture if anything is to be seen that was not.
    fn picture(&mut self, view: View, now: Moment) {
        let is_first = self.server.is_none();
        let devices = self.kept.journal().devices();
        let last = Arc::clone(&self.pictures.borrow());
        // While the file goes on beside, those that are paired stay so.
        let devices = devices.ok().filter(|_| self.has_tables()).unwrap_or(last.devices.clone());
        let has_pin = self.kept.journal().pin().map_or(last.has_pin, |pin| pin.is_some());
        let changed = self.kept.changed(now).unwrap_or(true);
        // Its figures are others every second; by the next advice they are told as well.
        let told = |view: &View| {
            let stands = view.standing.iter().map(|alarm| (alarm.key, alarm.state, alarm.raised));
            (view.known.last_event(), stands.collect::<Vec<_>>())
        };
        if !(is_first || changed || told(&view) != told(&self.view)) {
            // Who may note is known without looking at the kilns again.
            if (&devices, has_pin) != (&last.devices, last.has_pin) {
                let last = Picture::clone(&last);
                self.pictures.send_replace(Arc::new(Picture { devices, has_pin, ..last }));
            }
            return;
        }
        // What cannot be read leaves what is known; the keeper tells of it.
        let Ok(floor) = self.kept.snapshot(now) else { return };
        let floor = Floor { alarms: view.standing.clone(), ..floor };
        let upcoming = view.known.upcoming(now);
        let house = House::or_usual(self.kept.journal().path());
        let (line, schedules) = (self.kept.line(), self.kept.schedules());
        self.view = view;
        let journal = Some(self.kept.journal().address());
        let picture =
            Picture { floor, upcoming, house, devices, has_pin, schedules, line, journal };
        self.pictures.send_replace(Arc::new(picture));
    }

    fn has_tables(&self) -> bool {
        self.kept.journal().page().is_ok_and(|page| page.is_some())
    }

    /// A device sounds for an alarm; for none where somebody tries it.
    pub fn rang(&mut self, device: &str, alarm: &str, now: Moment) {
        let of = self.view.standing.iter().find(|one| one.mark() == alarm).cloned();
        if alarm.is_empty() || of.is_some() {
            // Not written is not delivered: the next way is called.
            let _ = self.kept.journal().note_rang(device, alarm, now);
        }
        of.iter().for_each(|of| self.log(of, device, Deed::Sounded, now));
    }

    /// Puts what a device did into the log of rings, once: that is read from its end, and no device is to push
    /// out of there what rang.
    fn log(&mut self, alarm: &Alarm, device: &str, did: Deed, now: Moment) {
        let stand: HashSet<String> = self.view.standing.iter().map(Alarm::mark).collect();
        self.logged.retain(|(_, mark, _)| stand.contains(mark));
        if self.logged.insert((device.to_owned(), alarm.mark(), did)) {
            let (at, of, device) = (Stamp(now), Of::alarm(alarm), device.to_owned());
            // It is for whoever reads it later; no ring rests on it.
            let _ = self.kept.log_ring(Line::Device { at, of, device, did });
        }
    }

    /// A device came by this address of this computer: that by which one was paired is where they stay.
    pub fn came_by(&mut self, address: Option<IpAddr>, is_paired_by_it: bool) {
        let known = self.door.is_some() && !is_paired_by_it;
        let Some(address) = address.filter(|_| !known) else { return };
        // The notice rests on it, and the page does not.
        let _ = self.kept.journal().note_door(address);
        (self.door, self.looked) = (Some(address), None);
    }

    /// A device is here, and would be heard or not, where it says so.
    pub fn here(&mut self, device: String, sound: Option<bool>, now: Moment) {
        let fresh = |at: &Moment| now - *at < SEEN_EVERY;
        if sound.is_some() || !self.noted.get(&device).is_some_and(fresh) {
            let _ = self.kept.journal().note_device(&device, sound, now);
            self.noted.insert(device, now);
        }
    }

    /// Pairs a device, and gives what it shows from then on.
    ///
    /// # Errors
    /// Why it is not paired.
    pub fn pair(
        &mut self,
        code: &Code,
        (name, again): (&str, bool),
        now: Moment,
    ) -> Result<String, Unpaired> {
        let name = name.trim();
        if name.is_empty() {
            return Err(Unpaired::Otherwise(words::PAGE_NAME_MISSING.into()));
        }
        text::name(name).map_err(|unfit| Unpaired::Otherwise(unfit.to_string()))?;
        let token = codes::token().map_err(not_written).map_err(Unpaired::Otherwise)?;
        let digest = codes::digest(&token);
        match self.kept.journal().pair(code, (name, &digest), again, now) {
            Ok(Pairing::Paired) => {
                // Its next request finds it known.
                self.picture(self.view.clone(), now);
                Ok(token)
            }
            Ok(Pairing::NoSuchCode) => Err(Unpaired::NoSuchCode),
            Ok(Pairing::NameTaken) => Err(Unpaired::NameTaken(words::page_name_taken(name))),
            Err(error) => Err(Unpaired::Otherwise(not_written(error))),
        }
    }

    /// Gives a device the right to note, if the PIN is right.
    fn unlock(&mut self, device: &str, typed: &str, now: Moment) -> Result<(), String> {
        let journal = self.kept.journal();
        let Some(kept) = journal.pin().map_err(not_written)? else {
            return Err(words::PAGE_NO_PIN.into());
        };
        let Some(typed) = pin::read(typed) else { return Err(words::PAGE_NO_SUCH_PIN.into()) };
        match journal.may_try_pin(device, now).map_err(not_written)? {
            Trying::May => {}
            Trying::Later(left) => return Err(words::page_pin_later(left)),
            Trying::NoMore => return Err(words::PAGE_PIN_NO_MORE.into()),
        }
        let is_right = pin::is(&kept, &typed);
        journal.note_pin_tried(device, is_right, now).map_err(not_written)?;
        is_right.then_some(()).ok_or(words::PAGE_PIN_WRONG.into())
    }

    /// Somebody uses a device from here on, and types the PIN where it was not told that.
    ///
    /// # Errors
    /// Why the PIN or the name is not taken.
    pub fn choose(&mut self, device: &str, said: &Said, now: Moment) -> Result<(), String> {
        let unlocked = said.of("pin").map_or(Ok(()), |pin| self.unlock(device, pin, now));
        let done = unlocked.and_then(|()| self.person(device, said.text("person").trim(), now));
        // Its next request finds it known.
        self.picture(self.view.clone(), now);
        done
    }

    fn person(&mut self, device: &str, person: &str, now: Moment) -> Result<(), String> {
        let person = text::name(person).map_err(|unfit| unfit.to_string())?;
        if person.is_empty() {
            return Err(words::PAGE_PERSON_MISSING.into());
        }
        self.kept.journal().choose_person(device, person, now).map_err(not_written)
    }

    /// Notes what was sent by a device; it is seen by the next picture.
    pub fn note(&mut self, device: &str, sent: &Sent, now: Moment) -> Noted {
        // What is asked rests on what is known by now.
        self.picture(self.view.clone(), now);
        let devices = self.kept.journal().devices().unwrap_or_default();
        let Some(by) = devices.iter().find(|one| one.name == device) else { return Noted::NoRight };
        let picture = Arc::clone(&self.pictures.borrow());
        let mut desk = Desk { kept: &mut self.kept, picture: &picture, by, now };
        let noted = desk.note(sent).unwrap_or_else(|error| Noted::Refused(not_written(error)));
        if let Noted::Saved { .. } = noted {
            let at_it = |one: &&Alarm| Some(one.key.firing) == sent.firing && one.state.rings();
            let rang: Vec<Alarm> = self.view.standing.iter().filter(at_it).cloned().collect();
            rang.iter().for_each(|alarm| self.log(alarm, device, Deed::Noted, now));
        }
        noted
    }

    /// Sets a way to ring up, as somebody on a device says.
    ///
    /// # Errors
    /// Why it is not set up so.
    pub fn set_up(&mut self, device: &str, said: &Said, now: Moment) -> Result<(), String> {
        let devices = self.kept.journal().devices().unwrap_or_default();
        if !devices.iter().any(|one| one.name == device && one.may_note(now)) {
            return Err(words::PAGE_PIN_SAYS.into());
        }
        let was = self.kept.settings().ok_or(words::NO_SETTING)?;
        let bell = ways::with(was.bell.as_ref().map_err(Clone::clone)?, said)?;
        let becomes = Settings { bell: Ok(bell), ..was.clone() };
        self.kept.keep(&Kept { was, becomes }).map_err(not_written)
    }

    /// Writes down that somebody is on the way, as the screen does.
    ///
    /// # Errors
    /// Why nothing was written.
    pub fn answer(
        &mut self,
        device: &str,
        key: Key,
        uid: Uid,
        now: Moment,
    ) -> Result<String, String> {
        let Some(alarm) = self.view.standing.iter().find(|alarm| alarm.key == key).cloned() else {
            let written = self.kept.journal().marked(Some(key.firing), uid).map_err(not_written)?;
            return written
                .map(|_| words::PAGE_ANSWERED.into())
                .ok_or(words::PAGE_NOTHING_RINGS.into());
        };
        let picture = Arc::clone(&self.pictures.borrow());
        let by = picture.devices.iter().find(|one| one.name == device);
        let who = by.map_or(device, Device::person).to_owned();
        let written = match key.firing {
            FiringId::SHOP => self.kept.answer_of(Of::alarm(&alarm), who, now).map_err(Into::into),
            firing => {
                let what = What::Acknowledged { alarm: key.task.name().into() };
                let entry = Entry::new(About::Firing(firing), now, what);
                self.kept.append_by(&entry, (&who, uid), now).map(drop)
            }
        };
        written.map_err(|error: anyhow::Error| not_written(error))?;
        self.log(&alarm, device, Deed::Answered, now);
        Ok(words::page_answered(&alarm))
    }
}

fn not_written(error: impl Display) -> String {
    words::page_not_written(&format!("{error:#}"))
}
