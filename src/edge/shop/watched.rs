//! The keeper beside the screen, as the screen shows it: which alarms stand, when to flash and send
//! the bell, and one line when something about the watch has to be put right.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::Receiver;
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};
use std::{fmt, io};

use super::advised::Counsel;
use super::clock::{SystemClock, Timekeeper};
use super::lease::{Watch, who_watches};
use super::standing::Known;
use super::told::{Told, watch_words};
use crate::alarm::{Alarm, State, Task};
use crate::edge::bell::terminal::Receipt;
use crate::firing::{FiringId, What};
use crate::units::Scale;

/// Starts a keeper over the shop in this file, which tells temperatures in this scale.
pub type Start = fn(&Path, Scale, Counsel) -> anyhow::Result<Beside>;

/// How long a keeper that is told to stop is waited for: whoever leaves is gone within 0.3 s.
const LONGEST_END: Duration = Duration::from_millis(200);

/// The watch as of the keeper's last step.
#[derive(Debug, Clone, Default)]
pub struct View {
    /// The alarms that stand, the most urgent first.
    pub standing: Vec<Alarm>,
    /// What they follow from.
    pub known: Known,
    /// Whether it is this process that rings.
    pub rings: bool,
    /// Whether the last ring of this process reached anybody.
    pub reaches: Option<bool>,
    /// What is wrong as long as it lasts.
    pub troubles: Vec<Told>,
}

/// The watch as of its last step, for whoever asks meanwhile.
pub type Shown = Arc<Mutex<View>>;

/// The watch that is shown there.
pub fn seen(shown: &Shown) -> View {
    shown.lock().unwrap_or_else(PoisonError::into_inner).clone()
}

/// Shows the watch as it is now.
pub fn show(shown: &Shown, view: View) {
    *shown.lock().unwrap_or_else(PoisonError::into_inner) = view;
}

/// A keeper that runs beside a screen until it is dropped.
#[derive(Debug)]
pub struct Beside {
    stop: Arc<AtomicBool>,
    view: Shown,
    /// Rings by the terminal: the screen flashes, and sends the bell itself, since the terminal
    /// is its own.
    flashes: Receiver<Receipt>,
    /// Everything that happens, troubles among it.
    pub told: Receiver<Told>,
    thread: Option<JoinHandle<()>>,
    /// What ends with it, or why that could not begin.
    company: Result<Option<Box<dyn Company>>, String>,
}

/// What ends with a keeper.
trait Company: fmt::Debug + Send {}

impl<C: fmt::Debug + Send> Company for C {}

impl Beside {
    /// Runs `keep` on a thread of its own until it is to stop; it shows the watch after each step.
    pub fn start(
        flashes: Receiver<Receipt>,
        told: Receiver<Told>,
        keep: impl FnOnce(&AtomicBool, &dyn Fn(View)) + Send + 'static,
    ) -> io::Result<Beside> {
        let stop = Arc::new(AtomicBool::new(false));
        let view = Shown::default();
        let (stopped, shown) = (Arc::clone(&stop), Arc::clone(&view));
        let show = move |now| show(&shown, now);
        let thread = Some(thread::Builder::new().spawn(move || keep(&stopped, &show))?);
        Ok(Beside { stop, view, flashes, told, thread, company: Ok(None) })
    }

    /// The same with something that goes by what this shows, and ends with it; the watch goes on
    /// without it where it cannot begin.
    pub fn with<C: fmt::Debug + Send + 'static>(
        mut self,
        company: impl FnOnce(Shown) -> io::Result<C>,
    ) -> Beside {
        let begun = company(Arc::clone(&self.view));
        self.company = begun
            .map(|company| Some(Box::new(company) as Box<dyn Company>))
            .map_err(|error| format!("Phones and tablets see nothing of this shop: {error}."));
        self
    }

    /// The watch as of its last step.
    pub fn view(&self) -> View {
        seen(&self.view)
    }

    /// Whether the keeper's thread is alive; one that is not has to be told of.
    fn is_alive(&self) -> bool {
        self.thread.as_ref().is_some_and(|thread| !thread.is_finished())
    }
}

impl Drop for Beside {
    /// Stops as soon as its step is done, and lets go of the lease with it; a step that a disk holds up
    /// is not waited for.
    fn drop(&mut self) {
        self.company = Ok(None);
        self.stop.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            thread.thread().unpark();
            let begun = Instant::now();
            while !thread.is_finished() && begun.elapsed() < LONGEST_END {
                thread::sleep(Duration::from_millis(2));
            }
        }
    }
}

/// Who keeps watch over the shop on the screen.
#[derive(Debug)]
pub struct Watched {
    shop: PathBuf,
    /// The keeper of this process, or why there is none.
    beside: Result<Beside, String>,
    /// What did not work last.
    trouble: Option<Told>,
    line: Option<String>,
    /// The alarms that stand, the most urgent first.
    standing: Vec<Alarm>,
}

impl Watched {
    /// Starts a keeper beside the screen, by the same advice; where that fails, the line says so.
    pub fn start(start: Start, shop: &Path, scale: Scale, counsel: Counsel) -> Watched {
        let beside = start(shop, scale, counsel).map_err(|error| format!("{error:#}"));
        let mut watched = Watched {
            shop: shop.to_owned(),
            beside,
            trouble: None,
            line: None,
            standing: Vec::new(),
        };
        watched.line = watched.said();
        watched
    }

    /// The alarms that stand, the most urgent first.
    pub fn standing(&self) -> &[Alarm] {
        &self.standing
    }

    /// What was just written down of an alarm is shown at once; the keeper says the same at its
    /// next step.
    pub fn answered(&mut self, firing: FiringId, what: &What) {
        let (name, state) = match what {
            What::Acknowledged { alarm } => (alarm, State::Acknowledged),
            What::Shelved { alarm, .. } => (alarm, State::Shelved),
            _ => return,
        };
        let task = Task::of_alarm(name);
        let meant = |alarm: &&mut Alarm| alarm.key.firing == firing && Some(alarm.key.task) == task;
        if let Some(alarm) = self.standing.iter_mut().find(meant) {
            alarm.state = state;
        }
    }

    /// The rings that the terminal's turn has come for since this was last asked, each to be answered
    /// when the terminal has taken it.
    pub fn rings(&mut self) -> Vec<Receipt> {
        self.beside.as_ref().map_or(Vec::new(), |beside| beside.flashes.try_iter().collect())
    }

    /// Hears what the keeper has to tell; true if the line or the alarms are others now.
    pub fn hear(&mut self) -> bool {
        if let Ok(beside) = &self.beside {
            for told in beside.told.try_iter() {
                match (&told, &self.trouble) {
                    (Told::BackedUp(_), Some(Told::NoBackup(_))) => self.trouble = None,
                    // What goes on is in the view.
                    _ if told.is_trouble() && !told.goes_on() => self.trouble = Some(told),
                    _ => {}
                }
            }
        }
        let standing = self.beside.as_ref().map(|beside| beside.view().standing);
        let standing = standing.unwrap_or_default();
        let rings = standing.iter().any(|alarm| alarm.state.rings());
        self.trouble.take_if(|trouble| !trouble.outlasts_the_alarms() && !rings);
        let line = self.said();
        let shown = |alarms: &[Alarm]| -> Vec<_> {
            alarms.iter().map(|alarm| (alarm.key, alarm.state)).collect()
        };
        let changed = line != self.line || shown(&standing) != shown(&self.standing);
        (self.line, self.standing) = (line, standing);
        changed
    }

    /// What is wrong with the watch; `None` while somebody can be reached.
    pub fn line(&self) -> Option<&str> {
        self.line.as_deref()
    }

    fn said(&self) -> Option<String> {
        let beside = match &self.beside {
            Ok(beside) => beside,
            Err(why) => return Some(format!("Nothing rings from this screen: {why}.")),
        };
        if !beside.is_alive() {
            return Some(
                "The watch beside this screen has ended: leave the screen and open it again."
                    .into(),
            );
        }
        let view = beside.view();
        if view.rings {
            let unreached = (view.reaches == Some(false)).then(|| {
                "The last ring reached nobody: stay near, and try \"spyhole bell test\".".into()
            });
            // The screen says by itself what its answers lack.
            let goes_on = view.troubles.iter().find(|told| !matches!(told, Told::LeftOut(_)));
            let trouble = || goes_on.or(self.trouble.as_ref()).map(Told::brief);
            let alone = beside.company.as_ref().err().cloned();
            return unreached.or_else(|| Some(trouble()?.trim().to_owned())).or(alone);
        }
        match who_watches(&self.shop, SystemClock.now()) {
            // The lease is being taken at this moment.
            Ok(Watch::Nobody | Watch::By(None)) => None,
            Ok(Watch::By(Some(holder))) if holder.reaches != Some(false) => None,
            Ok(wrong) => Some(watch_words(&wrong)),
            Err(error) => Some(format!("Nobody knows who keeps watch: {error}.")),
        }
    }
}
