//! A keeper beside a screen: on a thread of its own, so that drawing never waits for it, and the
//! screen rings when no other process does.

use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{self, Receiver, Sender};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::{self, JoinHandle};
use std::time::Instant;

use super::{Keeper, Parts, Told};
use crate::alarm::Alarm;
use crate::edge::advised::Counsel;
use crate::edge::bell::Ring;
use crate::edge::bell::equip::equip_with;
use crate::edge::bell::settings::BellSettings;
use crate::edge::bell::terminal::Terminal;
use crate::edge::screen::clock::{SystemClock, Timekeeper};
use crate::units::{Scale, Span};

/// What the screen shows of the watch.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct View {
    /// The alarms that stand, the most urgent first.
    pub standing: Vec<Alarm>,
    /// Whether it is this process that rings.
    pub rings: bool,
    /// Whether the last ring of this process reached anybody.
    pub reaches: Option<bool>,
}

/// A keeper that runs beside a screen until it is dropped.
#[derive(Debug)]
pub struct Beside {
    stop: Arc<AtomicBool>,
    view: Arc<Mutex<View>>,
    /// Rings by the terminal: the screen flashes, and sends the bell itself, since the terminal
    /// is its own.
    pub flashes: Receiver<Ring>,
    /// Everything that happens, troubles among it.
    pub told: Receiver<Told>,
    thread: Option<JoinHandle<()>>,
}

impl Beside {
    /// Starts keeping watch over this shop, by the same advice as the screen. Settings that cannot
    /// be used are told as trouble, and the usual ones hold: a screen must not stay silent for a
    /// misspelt name.
    ///
    /// # Errors
    /// When the shop's file or the lock beside it cannot be opened.
    pub fn start(shop: &Path, scale: Scale, counsel: Counsel) -> anyhow::Result<Beside> {
        let (flash, flashes) = mpsc::channel();
        let (tell, told) = mpsc::channel();
        let settings = BellSettings::read(shop).unwrap_or_else(|error| {
            let trouble =
                Told::Trouble(format!("{error}; until it is put right whoever is near is called"));
            // The receiver is ours, and still here.
            let _ = tell.send(trouble);
            BellSettings::default()
        });
        let equipment = equip_with(settings, scale, Terminal::new(None, Some(flash)));
        let parts = Parts {
            shop: shop.to_owned(),
            bell: equipment.bell,
            rota: equipment.settings.rota,
            out_of_service: equipment.settings.out_of_service,
            presses: equipment.presses,
            counsel,
            doing: "screen",
        };
        let keeper = Keeper::open(parts, SystemClock.now())?;
        let stop = Arc::new(AtomicBool::new(false));
        let view = Arc::new(Mutex::new(View::default()));
        let thread = {
            let (stop, view) = (Arc::clone(&stop), Arc::clone(&view));
            thread::spawn(move || keep(keeper, &stop, &view, &tell))
        };
        Ok(Beside { stop, view, flashes, told, thread: Some(thread) })
    }

    /// The watch as of its last step.
    pub fn view(&self) -> View {
        self.view.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Whether the keeper's thread is alive; one that is not has to be told of.
    pub fn is_alive(&self) -> bool {
        self.thread.as_ref().is_some_and(|thread| !thread.is_finished())
    }
}

fn keep(mut keeper: Keeper, stop: &AtomicBool, view: &Mutex<View>, tell: &Sender<Told>) {
    let mut last = Instant::now();
    while !stop.load(Ordering::Relaxed) {
        let passed = Span(i64::try_from(last.elapsed().as_millis()).unwrap_or(i64::MAX));
        last = Instant::now();
        for told in keeper.step(SystemClock.now(), passed) {
            // A screen that is ending listens no more; the watch goes on until it says stop.
            let _ = tell.send(told);
        }
        let now = View {
            standing: keeper.standing().to_vec(),
            rings: keeper.rings(),
            reaches: keeper.reaches(),
        };
        *view.lock().unwrap_or_else(PoisonError::into_inner) = now;
        thread::park_timeout(keeper.pause());
    }
}

impl Drop for Beside {
    /// Stops as soon as its step is done, and lets go of the lease with it.
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            thread.thread().unpark();
            // A thread that panicked has let go as well.
            let _ = thread.join();
        }
    }
}
