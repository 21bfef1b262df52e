//! The bell: gives each call to its ways, each on its own thread, and sees to it that a ring that
//! fails, hangs or stands in line is followed by the next rung.

use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::fmt;
use std::sync::mpsc::{self, Receiver, Sender};
use std::thread;
use std::time::{Duration, Instant};

use super::{Ring, Way, WayError};
use crate::alarm::{Call, Key, Target, WayName};
use crate::units::Scale;
use crate::words::alarms as words;

/// What became of one ring by one way.
#[derive(Debug, Clone, PartialEq)]
pub struct Delivery {
    /// The alarms it was for.
    pub keys: Vec<Key>,
    pub target: Target,
    /// By what it rang, or why not.
    pub result: Result<String, WayError>,
    /// Whether another way was tried instead.
    pub fell_back: bool,
}

enum Job {
    Ring(u64, Box<Ring>),
    Settle(Key),
    Hold(bool),
}

/// A way, and whom it calls alone; nobody where it calls whoever is near.
type Place = (WayName, String);

/// A ring that has waited so long behind another of its lane is not waited for: the next rung is called
/// as well.
const WAITS_IN_LINE: Duration = Duration::from_secs(2);

/// One way's thread, and how long it may still be busy.
struct Lane {
    jobs: Sender<Job>,
    limit: Duration,
    /// When everything given to it should be done.
    done_by: Option<Instant>,
    /// It was given up on and has not come back.
    hangs: bool,
}

/// A ring on its way.
struct Pending {
    call: u64,
    target: Target,
    place: Place,
    deadline: Instant,
    /// When the next rung is called as well if this still waits behind another; once.
    waits_until: Option<Instant>,
}

/// A call with the rungs not yet tried.
struct Open {
    call: Call,
    fallback: VecDeque<Target>,
    pending: usize,
    reached: bool,
}

/// All ways there are.
pub struct Bell {
    lanes: BTreeMap<Place, Lane>,
    results: Receiver<(Place, u64, Result<String, WayError>)>,
    pending: BTreeMap<u64, Pending>,
    open: BTreeMap<u64, Open>,
    next: u64,
    scale: Scale,
    /// What is said at the end of every ring.
    pub remark: Option<String>,
}

impl fmt::Debug for Bell {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let ways: Vec<_> = self.lanes.keys().collect();
        f.debug_struct("Bell").field("ways", &ways).field("pending", &self.pending.len()).finish()
    }
}

impl Bell {
    /// Each way with the person it calls alone, so that one who cannot be reached holds up no other; with
    /// no name where it calls whoever is near.
    pub fn new(ways: Vec<(String, Box<dyn Way>)>, scale: Scale) -> Bell {
        let (tell, results) = mpsc::channel();
        let lanes = ways.into_iter().map(|(person, way)| {
            let (place, limit) = ((way.name(), person), way.limit());
            let jobs = work(way, place.clone(), tell.clone());
            (place, Lane { jobs, limit, done_by: None, hangs: false })
        });
        Bell {
            lanes: lanes.collect(),
            results,
            pending: BTreeMap::new(),
            open: BTreeMap::new(),
            next: 0,
            scale,
            remark: None,
        }
    }

    /// The ways this bell has.
    pub fn ways(&self) -> BTreeSet<WayName> {
        self.lanes.keys().map(|(way, _)| *way).collect()
    }

    /// Starts all rings of a call. What becomes of them is told by [`Self::poll`].
    pub fn ring(&mut self, call: &Call) -> Vec<Delivery> {
        let id = self.number();
        let fallback: VecDeque<Target> = call.fallback.iter().cloned().collect();
        self.open.insert(id, Open { call: call.clone(), fallback, pending: 1, reached: false });
        let mut failed = Vec::new();
        for target in call.targets.clone() {
            self.start(id, target, &mut failed);
        }
        // Counted as one of them till here: the first may fail before the next is started.
        if let Some(open) = self.open.get_mut(&id) {
            open.pending -= 1;
        }
        self.close(id, &mut failed);
        failed
    }

    /// What has become of rings since the last call, fallbacks started on the way.
    pub fn poll(&mut self) -> Vec<Delivery> {
        let mut told = Vec::new();
        while let Ok((place, job, result)) = self.results.try_recv() {
            if let Some(lane) = self.lanes.get_mut(&place) {
                lane.hangs = false;
            }
            // One that was given up on has been told already.
            if let Some(pending) = self.pending.remove(&job) {
                self.finish(pending, result, &mut told);
            }
        }
        let now = Instant::now();
        let late: Vec<u64> = self
            .pending
            .iter()
            .filter(|(_, pending)| pending.deadline <= now)
            .map(|(job, _)| *job)
            .collect();
        for job in late {
            let Some(pending) = self.pending.remove(&job) else { continue };
            let seconds = self.lanes.get_mut(&pending.place).map_or(0, |lane| {
                lane.hangs = true;
                lane.limit.as_secs()
            });
            let what = pending.target.way.name().to_owned();
            self.finish(pending, Err(WayError::TimedOut { what, seconds }), &mut told);
        }
        self.hasten(now, &mut told);
        told
    }

    /// Calls the next rung beside what has waited in line for long enough.
    fn hasten(&mut self, now: Instant, told: &mut Vec<Delivery>) {
        let mut begun = BTreeSet::new();
        let mut calls = Vec::new();
        for pending in self.pending.values_mut() {
            let is_behind = !begun.insert(&pending.place);
            if is_behind && pending.waits_until.take_if(|until| *until <= now).is_some() {
                calls.push(pending.call);
            }
        }
        for call in calls {
            let next = self.open.get_mut(&call).and_then(|open| open.fallback.pop_front());
            if let Some(target) = next {
                self.start(call, target, told);
            }
        }
    }

    /// Whether a ring is still on its way.
    pub fn is_busy(&self) -> bool {
        !self.pending.is_empty()
    }

    /// The alarm is answered or over.
    pub fn settle(&mut self, key: Key) {
        for lane in self.lanes.values().filter(|lane| !lane.hangs) {
            // A way whose thread is gone shows nothing.
            let _ = lane.jobs.send(Job::Settle(key));
        }
    }

    /// This process keeps watch from now on, or does so no more.
    pub fn hold(&mut self, watches: bool) {
        for lane in self.lanes.values() {
            // As above.
            let _ = lane.jobs.send(Job::Hold(watches));
        }
    }

    fn number(&mut self) -> u64 {
        self.next += 1;
        self.next
    }

    /// Gives one ring to its way; one that cannot even be started falls back at once.
    fn start(&mut self, call: u64, target: Target, told: &mut Vec<Delivery>) {
        let job = self.number();
        let Some(open) = self.open.get_mut(&call) else { return };
        open.pending += 1;
        let mut ring = Box::new(Ring::new(&open.call, target.clone(), self.scale));
        if let Some(remark) = &self.remark {
            ring.body += &format!(" {}.", words::capital(remark));
        }
        let now = Instant::now();
        let way = target.way;
        let own = (way, target.person.clone());
        let place = if self.lanes.contains_key(&own) { own } else { (way, String::new()) };
        let started = match self.lanes.get_mut(&place) {
            None => Err(WayError::Missing {
                what: way.name().to_owned(),
                remedy: "set it up in the bell settings".into(),
            }),
            Some(lane) if lane.hangs => Err(WayError::Busy),
            Some(lane) => {
                let free = lane.done_by.map_or(now, |done| done.max(now));
                let deadline = free + lane.limit;
                lane.done_by = Some(deadline);
                lane.jobs.send(Job::Ring(job, ring)).map(|()| deadline).map_err(|_| {
                    WayError::failed(way.name(), "it has no thread: start the program again")
                })
            }
        };
        let deadline = *started.as_ref().unwrap_or(&now);
        let waits_until = Some(now + WAITS_IN_LINE);
        let pending = Pending { call, target, place, deadline, waits_until };
        match started {
            Ok(_) => drop(self.pending.insert(job, pending)),
            Err(error) => self.finish(pending, Err(error), told),
        }
    }

    /// Notes what became of one ring, and starts the next rung for one that failed.
    fn finish(
        &mut self,
        pending: Pending,
        result: Result<String, WayError>,
        told: &mut Vec<Delivery>,
    ) {
        let waits = self.pending.values().any(|other| other.place == pending.place);
        if let Some(lane) = self.lanes.get_mut(&pending.place).filter(|_| !waits) {
            lane.done_by = None;
        }
        let Some(open) = self.open.get_mut(&pending.call) else { return };
        open.pending -= 1;
        let keys = open.call.alarms.iter().map(|alarm| alarm.key).collect();
        open.reached |= result.is_ok();
        let next = if result.is_err() { open.fallback.pop_front() } else { None };
        let last = open.pending == 0 && !open.reached && !open.call.last_resort.is_empty();
        let fell_back = result.is_err() && (next.is_some() || last);
        told.push(Delivery { keys, target: pending.target, result, fell_back });
        if let Some(target) = next {
            self.start(pending.call, target, told);
        }
        self.close(pending.call, told);
    }

    /// Is done with a call of which nothing is under way. Where nobody was reached by what is set, the
    /// machine calls whoever is near by the other ways it has.
    fn close(&mut self, call: u64, told: &mut Vec<Delivery>) {
        let Some(open) = self.open.get_mut(&call).filter(|open| open.pending == 0) else { return };
        if !open.reached {
            open.fallback = std::mem::take(&mut open.call.last_resort).into();
        }
        match open.fallback.pop_front().filter(|_| !open.reached) {
            Some(target) => self.start(call, target, told),
            None => drop(self.open.remove(&call)),
        }
    }
}

/// The thread of one way.
fn work(
    mut way: Box<dyn Way>,
    place: Place,
    tell: Sender<(Place, u64, Result<String, WayError>)>,
) -> Sender<Job> {
    let (jobs, mine) = mpsc::channel();
    let working = thread::Builder::new().spawn(move || {
        while let Ok(job) = mine.recv() {
            match job {
                Job::Ring(job, ring) => {
                    let result = way.ring(&ring);
                    if tell.send((place.clone(), job, result)).is_err() {
                        return;
                    }
                }
                Job::Settle(key) => way.settle(key),
                Job::Hold(watches) => way.hold(watches),
            }
        }
    });
    // Without a thread nobody takes the jobs: each is told to have failed.
    drop(working);
    jobs
}
