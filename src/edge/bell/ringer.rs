//! The bell: gives each call to its ways, each on its own thread, and sees to it that a ring that
//! fails or hangs is followed by the next way.

use std::collections::{BTreeMap, VecDeque};
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
    deadline: Instant,
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
    lanes: BTreeMap<WayName, Lane>,
    results: Receiver<(WayName, u64, Result<String, WayError>)>,
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
    pub fn new(ways: Vec<Box<dyn Way>>, scale: Scale) -> Bell {
        let (tell, results) = mpsc::channel();
        let lanes = ways.into_iter().map(|way| {
            let (name, limit) = (way.name(), way.limit());
            let jobs = work(way, tell.clone());
            (name, Lane { jobs, limit, done_by: None, hangs: false })
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
    pub fn ways(&self) -> impl Iterator<Item = WayName> {
        self.lanes.keys().copied()
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
        while let Ok((way, job, result)) = self.results.try_recv() {
            if let Some(lane) = self.lanes.get_mut(&way) {
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
            let way = pending.target.way;
            let seconds = self.lanes.get_mut(&way).map_or(0, |lane| {
                lane.hangs = true;
                lane.limit.as_secs()
            });
            let error = WayError::TimedOut { what: way.name().to_owned(), seconds };
            self.finish(pending, Err(error), &mut told);
        }
        told
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
        let started = match self.lanes.get_mut(&way) {
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
                    WayError::Failed {
                        what: way.name().to_owned(),
                        reason: "it has no thread: start the program again".into(),
                    }
                })
            }
        };
        match started {
            Ok(deadline) => {
                self.pending.insert(job, Pending { call, target, deadline });
            }
            Err(error) => {
                self.finish(Pending { call, target, deadline: now }, Err(error), told);
            }
        }
    }

    /// Notes what became of one ring, and starts the next rung for one that failed.
    fn finish(
        &mut self,
        pending: Pending,
        result: Result<String, WayError>,
        told: &mut Vec<Delivery>,
    ) {
        let waits = self.pending.values().any(|other| other.target.way == pending.target.way);
        if let Some(lane) = self.lanes.get_mut(&pending.target.way).filter(|_| !waits) {
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
    tell: Sender<(WayName, u64, Result<String, WayError>)>,
) -> Sender<Job> {
    let (jobs, mine) = mpsc::channel();
    let working = thread::Builder::new().spawn(move || {
        while let Ok(job) = mine.recv() {
            match job {
                Job::Ring(job, ring) => {
                    let result = way.ring(&ring);
                    if tell.send((way.name(), job, result)).is_err() {
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
