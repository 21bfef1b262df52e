//! The keeper beside the screen, as the screen shows it: which alarms stand, when to flash and send
//! the bell, and one line when something about the watch has to be put right.

use std::path::{Path, PathBuf};

use crate::alarm::{Alarm, State, Task};
use crate::edge::advised::Counsel;
use crate::edge::keeper::beside::Beside;
use crate::edge::keeper::lease::Watch;
use crate::edge::keeper::{Told, told, who_watches};
use crate::firing::{FiringId, What};
use crate::units::Scale;

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
    scale: Scale,
    counsel: Counsel,
}

impl Watched {
    /// Starts a keeper beside the screen, by the same advice; where that fails, the line says so.
    pub fn start(shop: &Path, scale: Scale, counsel: Counsel) -> Watched {
        let beside =
            Beside::start(shop, scale, counsel.clone()).map_err(|error| format!("{error:#}"));
        let mut watched = Watched {
            shop: shop.to_owned(),
            beside,
            trouble: None,
            line: None,
            standing: Vec::new(),
            scale,
            counsel,
        };
        watched.line = watched.said();
        watched
    }

    /// The same with the bell's settings as they are now.
    pub fn anew(self) -> Watched {
        let Watched { shop, beside, scale, standing, counsel, .. } = self;
        // The one before has to let go of the lock first.
        drop(beside);
        Watched { standing, ..Watched::start(&shop, scale, counsel) }
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

    /// Whether the terminal's turn to ring has come since this was last asked.
    pub fn rings(&mut self) -> bool {
        self.beside.as_ref().is_ok_and(|beside| beside.flashes.try_iter().count() > 0)
    }

    /// Hears what the keeper has to tell; true if the line or the alarms are others now.
    pub fn hear(&mut self) -> bool {
        if let Ok(beside) = &self.beside {
            for told in beside.told.try_iter() {
                match (&told, &self.trouble) {
                    (Told::BackedUp(_), Some(Told::NoBackup(_))) => self.trouble = None,
                    // The screen says this itself.
                    (Told::LeftOut(_), _) => {}
                    _ if told.is_trouble() => self.trouble = Some(told),
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
            let trouble = || self.trouble.as_ref().map(|told| told.line().trim().to_owned());
            return unreached.or_else(trouble);
        }
        match who_watches(&self.shop) {
            // The lease is being taken at this moment.
            Ok(Watch::Nobody | Watch::By(None)) => None,
            Ok(Watch::By(Some(holder))) if holder.reaches != Some(false) => None,
            Ok(wrong) => Some(told::watch_words(&wrong)),
            Err(error) => Some(format!("Nobody knows who keeps watch: {error}.")),
        }
    }
}
