//! Sums made beside the loop: a forecast or a review takes its time, and nobody's typing waits for
//! it.

use std::io;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

use crate::edge::shop::advised::{Advices, Advised};
use crate::firing::{Firing, FiringId, Shop};
use crate::units::{Moment, Span};

type Work<T> = Box<dyn FnOnce() -> anyhow::Result<T> + Send>;

/// Asks for an answer, and hears of it later. Questions are numbered; the answer to any but the
/// newest is dropped, and a question that a newer one overtook is not worked on at all.
#[derive(Debug)]
pub struct Adviser<T = Advised> {
    questions: Sender<(u64, Work<T>)>,
    answers: Receiver<(u64, anyhow::Result<T>)>,
    asked: u64,
    answered: u64,
}

impl<T: Send + 'static> Adviser<T> {
    /// Starts the thread that works on the questions; it ends when the adviser is dropped.
    ///
    /// # Errors
    /// When the system has no thread to give.
    pub fn new() -> io::Result<Adviser<T>> {
        let (questions, todo) = channel::<(u64, Work<T>)>();
        let (done, answers) = channel();
        thread::Builder::new().name("adviser".into()).spawn(move || {
            while let Ok(question) = todo.recv() {
                let (number, work) = todo.try_iter().last().unwrap_or(question);
                if done.send((number, work())).is_err() {
                    return;
                }
            }
        })?;
        Ok(Adviser { questions, answers, asked: 0, answered: 0 })
    }

    /// Asks anew; whatever was asked before is forgotten.
    pub fn ask(&mut self, work: impl FnOnce() -> anyhow::Result<T> + Send + 'static) {
        self.asked += 1;
        // The thread lives as long as this does; should it be gone, no answer comes.
        let _ = self.questions.send((self.asked, Box::new(work)));
    }

    /// Whether the newest question has no answer yet.
    pub fn awaits(&self) -> bool {
        self.answered < self.asked
    }

    /// The answer to the newest question, if it comes within this time.
    pub fn hear(&mut self, patience: Duration) -> Option<anyhow::Result<T>> {
        let until = Instant::now() + patience;
        while self.awaits() {
            let left = until.saturating_duration_since(Instant::now());
            let (number, answer) = self.answers.recv_timeout(left).ok()?;
            if number == self.asked {
                self.answered = number;
                return Some(answer);
            }
        }
        None
    }
}

/// How long whoever asks waits for one piece of work; then it goes on with what it knew.
const PATIENCE: Duration = Duration::from_secs(1);

/// Something on a disk, and the thread that works on it: a disk that hangs holds up nobody else.
#[derive(Debug)]
pub struct Aside<T, R> {
    of: Arc<Mutex<T>>,
    adviser: Adviser<R>,
    begun: Instant,
}

impl<T: Send + 'static, R: Send + 'static> Aside<T, R> {
    /// Nothing is to be done yet.
    ///
    /// # Errors
    /// When the system has no thread to give.
    pub fn new(of: T) -> io::Result<Aside<T, R>> {
        Ok(Aside { of: Arc::new(Mutex::new(of)), adviser: Adviser::new()?, begun: Instant::now() })
    }

    /// Has this done, if nothing hangs, and hears what came of it and of what was done before.
    pub fn ask(&mut self, work: impl FnOnce(&mut T) -> R + Send + 'static) -> Vec<R> {
        let mut answers: Vec<R> = self.hear().into_iter().collect();
        if self.begin(work) {
            answers.extend(self.hear());
        }
        answers
    }

    /// Has this done, unless the work before it is not done yet; true if it is begun.
    pub fn begin(&mut self, work: impl FnOnce(&mut T) -> R + Send + 'static) -> bool {
        let free = !self.adviser.awaits();
        if free {
            let of = Arc::clone(&self.of);
            self.begun = Instant::now();
            // Whoever broke off left it as it was before that step.
            let work = move || work(&mut of.lock().unwrap_or_else(PoisonError::into_inner));
            self.adviser.ask(move || Ok(work()));
        }
        free
    }

    fn hear(&mut self) -> Option<R> {
        self.adviser.hear(PATIENCE.saturating_sub(self.begun.elapsed()))?.ok()
    }

    /// How long the work that is not done has taken.
    pub fn hangs_for(&self) -> Option<Duration> {
        self.adviser.awaits().then(|| self.begun.elapsed())
    }
}

/// How long a snapshot waits for advice, or a question for its answer, before it goes on with what was known.
#[derive(Debug, Clone, Copy)]
pub struct Patience {
    /// For the first advice of all.
    first: Duration,
    later: Duration,
}

impl Patience {
    /// For a screen: the first frame is to come at once, and after it nobody who types is to feel
    /// anything, while a figure that changes twice within a moment is not to be seen either.
    pub const OF_A_SCREEN: Patience =
        Patience { first: Duration::ZERO, later: Duration::from_millis(30) };

    /// Whether the first snapshot does not even wait for the readings.
    pub fn glances(self) -> bool {
        self.first.is_zero()
    }

    /// For everything but the first answer.
    pub fn later(self) -> Duration {
        self.later
    }
}

impl From<Duration> for Patience {
    /// The same for all advice.
    fn from(each: Duration) -> Patience {
        Patience { first: each, later: each }
    }
}

/// The advice on one shop, as fresh as it can be without anybody waiting for it.
#[derive(Debug)]
pub struct Advising {
    adviser: Adviser,
    patience: Patience,
    /// What was heard last.
    advices: Advices,
    /// When the newest was asked for or made, while anything burns.
    asked: Option<Moment>,
    /// It was heard since the last snapshot: that one need not ask again.
    heard: bool,
    /// Something happened that the newest question knows nothing of.
    behind: bool,
}

impl Advising {
    /// Nothing is known yet; a snapshot waits as `patience` says for what it asked.
    ///
    /// # Errors
    /// When the system has no thread to give.
    pub fn new(patience: Patience) -> io::Result<Advising> {
        let adviser = Adviser::new()?;
        Ok(Advising {
            adviser,
            patience,
            advices: Advices::default(),
            asked: None,
            heard: false,
            behind: false,
        })
    }

    /// The advice to show of a shop at `now`. It is asked for anew unless it was just heard and
    /// nothing has `changed` since; `make` makes it, beside the loop. A question that waits for its
    /// answer is not overtaken: where much happens, nothing would be heard.
    ///
    /// # Errors
    /// Whatever kept the advice from being made, if that is known at once.
    pub fn on(
        &mut self,
        shop: &Arc<Shop>,
        changed: bool,
        make: impl FnOnce(&Arc<Shop>) -> anyhow::Result<Advised> + Send + 'static,
        now: Moment,
    ) -> anyhow::Result<Advices> {
        self.behind |= !std::mem::take(&mut self.heard) || changed;
        if !shop.open.iter().any(|firing| firing.burns() || firing.cools()) {
            self.asked = None;
        } else if self.behind && !self.adviser.awaits() {
            self.behind = false;
            let asked = Arc::clone(shop);
            self.adviser.ask(move || make(&asked));
            self.asked = Some(now);
            let Patience { first, later, .. } = self.patience;
            self.patience.first = later;
            self.take_in(first)?;
        }
        let is_hot = |one: &Firing| one.burns() || one.cools();
        let hot = |id: FiringId| shop.open.iter().any(|one| one.id == id && is_hot(one));
        if !self.advices.iter().all(|(id, _)| hot(*id)) {
            Arc::make_mut(&mut self.advices).retain(|(id, _)| hot(*id));
        }
        Ok(Arc::clone(&self.advices))
    }

    /// Whether newer advice has come since this was asked last.
    ///
    /// # Errors
    /// Whatever kept it from being made.
    pub fn hear(&mut self) -> anyhow::Result<bool> {
        self.heard |= self.take_in(Duration::ZERO)?;
        Ok(self.heard)
    }

    /// Takes the newest advice in, if it comes within this time.
    fn take_in(&mut self, patience: Duration) -> anyhow::Result<bool> {
        let Some(answer) = self.adviser.hear(patience) else { return Ok(false) };
        let Advised { at, advices } = answer?;
        self.advices = advices;
        self.asked = self.asked.map(|_| at);
        Ok(true)
    }

    /// Whether the advice is older than this, while anything burns.
    pub fn is_older(&self, age: Span, now: Moment) -> bool {
        self.asked.is_some_and(|asked| now - asked >= age)
    }

    /// What was heard last.
    pub fn advices(&self) -> &Advices {
        &self.advices
    }

    /// Whether the newest question has no answer yet.
    pub fn awaits(&self) -> bool {
        self.adviser.awaits()
    }
}
