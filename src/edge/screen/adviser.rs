//! Sums made beside the loop: a forecast or a review takes its time, and nobody's typing waits for
//! it.

use std::fmt;
use std::io;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread;
use std::time::{Duration, Instant};

use crate::firing::FiringId;
use crate::watch::Advice;

/// The advice for every firing that burns.
pub type Advices = Vec<(FiringId, Advice)>;

type Work<T> = Box<dyn FnOnce() -> anyhow::Result<T> + Send>;

/// Asks for an answer, and hears of it later. Questions are numbered; the answer to any but the
/// newest is dropped, and a question that a newer one overtook is not worked on at all.
pub struct Adviser<T = Advices> {
    questions: Sender<(u64, Work<T>)>,
    answers: Receiver<(u64, anyhow::Result<T>)>,
    asked: u64,
    answered: u64,
}

impl<T> fmt::Debug for Adviser<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (asked, answered) = (self.asked, self.answered);
        f.debug_struct("Adviser").field("asked", &asked).field("answered", &answered).finish()
    }
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
