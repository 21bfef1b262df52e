//! What a keeper reads of the shop's file and writes into it. It follows the file: one that is damaged,
//! exchanged or gone is told of, and the watch goes on by what can be read.

use std::path::PathBuf;

use super::diary::Diary;
use crate::alarm::Key;
use crate::edge::bell::settings::BellSettings;
use crate::edge::journal::at_path::Followed;
use crate::edge::journal::daily::DailyBackup;
use crate::edge::journal::rescue::{Loss, Opened, rescue};
use crate::edge::journal::{Journal, JournalError, NewEvent};
use crate::edge::shop::advised::Counsel;
use crate::edge::shop::clock::LocalZone;
use crate::edge::shop::standing::{Known, Standing};
use crate::edge::shop::told::Told;
use crate::firing::{EventId, Who};
use crate::units::{Moment, Scale};
use crate::words::{self, Clock, Dial};

/// The shop's file, as one keeper has it open.
#[derive(Debug)]
pub(super) struct Reading {
    file: Followed,
    /// None until a shop is there.
    journal: Option<Journal>,
    counsel: Counsel,
    standing: Standing,
    settings: BellSettings,
    diary: Diary,
    backup: DailyBackup,
}

/// What is to be read and written in one step.
#[derive(Debug)]
pub(super) struct Order {
    /// By the time alarms count by, and by the clock.
    pub now: Moment,
    pub wall: Moment,
    /// Whether this process rings: then it keeps the diary and the backups.
    pub rings: bool,
    /// What was pressed on notifications.
    pub pressed: Vec<(Key, NewEvent)>,
}

/// What was found.
#[derive(Debug, Default)]
pub(super) struct Found {
    pub at: Moment,
    /// What is known, if it is something else than before.
    pub known: Option<Known>,
    /// What happened to the file, if something did.
    pub harmed: Option<String>,
    /// Why it cannot be read.
    pub unread: Option<String>,
    /// The bell's settings, if they are others than this keeper goes by.
    pub settings: Option<BellSettings>,
    pub told: Vec<Told>,
}

/// What became of a damaged file, to go before other sentences.
fn brief(loss: &Loss) -> String {
    format!("the file {}", loss.brief().trim_end_matches('.'))
}

impl Reading {
    pub fn of(shop: PathBuf, counsel: Counsel, settings: BellSettings) -> Reading {
        Reading {
            file: Followed::of(shop),
            journal: None,
            standing: Standing::new(counsel.clone(), settings.out_of_service.clone()),
            counsel,
            settings,
            diary: Diary::default(),
            backup: DailyBackup::default(),
        }
    }

    /// One step of it all.
    pub fn step(&mut self, order: &Order) -> Found {
        let mut found = Found { at: order.now, ..Found::default() };
        if let Err(error) = self.read(order.now, &mut found) {
            found.unread = Some(format!("{error:#}"));
            return found;
        }
        // What cannot be used changes nothing.
        let set = BellSettings::read(self.file.shop()).ok();
        found.settings = set.filter(|set| *set != self.settings);
        for (key, event) in &order.pressed {
            let written = self.write(event, order.wall, "what was pressed", &mut found);
            found.told.extend(written.map(|id| Told::Pressed(*key, event.what.clone(), id)));
        }
        if order.rings {
            self.write_down(order.now, &mut found);
            let made = self.journal.as_ref().and_then(|it| self.backup.keep(it, order.wall));
            found.told.extend(made.map(|made| match made {
                Ok(path) => Told::BackedUp(path),
                Err(why) => Told::NoBackup(why),
            }));
            let looked = self.journal.as_ref().map(|it| self.backup.look_after(it, order.wall));
            if let Some(Err(error)) = looked {
                found.told.push(Told::Trouble(error.to_string()));
            }
        }
        found
    }

    /// Opens what lies at the shop's path, if that is not what was opened before.
    ///
    /// # Errors
    /// See [`Followed::news`].
    pub fn follow(&mut self, now: Moment, found: &mut Found) -> Result<(), JournalError> {
        let Some(met) = self.file.news(now)? else { return Ok(()) };
        let goes_on = |journal: &Journal| journal.path() == met.opened.journal.path();
        found.harmed = match &met.opened.loss {
            // Whoever made the file beside it called somebody.
            Some(loss) if met.before.is_none() && loss.saved.is_none() => None,
            Some(loss) => (!self.journal.as_ref().is_some_and(goes_on)).then(|| brief(loss)),
            None => (met.before == Some(true)).then(|| "another file was put in its place".into()),
        };
        self.go_on_in(met.opened);
        Ok(())
    }

    fn go_on_in(&mut self, opened: Opened) {
        if self.journal.is_some() {
            self.counsel.forget();
            let out_of_service = self.settings.out_of_service.clone();
            self.standing = Standing::new(self.counsel.clone(), out_of_service);
        }
        self.journal = Some(opened.journal.with_unread(self.counsel.unread()));
    }

    fn read(&mut self, now: Moment, found: &mut Found) -> anyhow::Result<()> {
        self.follow(now, found)?;
        let mut read = self.journal.as_ref().map(|it| self.standing.refresh(it, now));
        if let Some(Err(error)) = read {
            self.go_on_after(error.downcast()?, now, found)?;
            read = self.journal.as_ref().map(|it| self.standing.refresh(it, now));
        }
        let mut new = read.transpose()?.unwrap_or_default();
        new |= self.journal.as_ref().is_some_and(|it| self.standing.reckon(it, now));
        found.known = new.then(|| self.standing.known().clone());
        let dial = Dial { zone: &LocalZone, clock: Clock::default(), scale: Scale::default() };
        let lacks = words::left_out_and_remedy(&self.counsel.unread().list(), now, &dial);
        found.told.extend(lacks.map(Told::LeftOut));
        Ok(())
    }

    /// Goes on beside a file that turned out damaged, or in what lies now at the path of one exchanged.
    fn go_on_after(
        &mut self,
        error: JournalError,
        now: Moment,
        found: &mut Found,
    ) -> Result<(), JournalError> {
        let open = self.journal.as_ref().map_or(self.file.shop(), Journal::path);
        match error {
            JournalError::Damaged { path, reason } if path == open => {
                let opened = rescue(&path, reason, now)?;
                found.harmed = opened.loss.as_ref().map(brief);
                self.file.note_open();
                self.go_on_in(opened);
                Ok(())
            }
            JournalError::Exchanged { .. } => self.follow(now, found),
            other => Err(other),
        }
    }

    /// Writes down that somebody is called, and what is forecast of the drop, by the alarms that follow
    /// from what was read: those of a moment before would take a call that goes on for a new one.
    fn write_down(&mut self, now: Moment, found: &mut Found) {
        let standing = self.standing.alarms(now);
        for due in self.diary.due(self.standing.watched(), &standing, now) {
            let event = NewEvent::new(Some(due.firing), now, Who::Program, due.what.clone());
            let event = NewEvent { uid: due.uid, ..event };
            if self.write(&event, now, due.what.phrase(), found).is_some() {
                self.diary.written(&due, now);
            }
        }
    }

    /// Writes an event down; one that was written before under the same mark is written.
    fn write(
        &mut self,
        event: &NewEvent,
        now: Moment,
        what: &str,
        found: &mut Found,
    ) -> Option<EventId> {
        let mut written = self.journal.as_mut()?.append_checked(event, now);
        if let Err(error @ (JournalError::Damaged { .. } | JournalError::Exchanged { .. })) =
            written
        {
            written = self.go_on_after(error, now, found).and_then(|()| match &mut self.journal {
                Some(journal) => journal.append_checked(event, now),
                None => Err(JournalError::NoFiring),
            });
        }
        match written {
            Ok(appended) => Some(appended.id),
            Err(JournalError::MarkTaken(id)) => Some(id),
            Err(error) => {
                found.told.push(Told::Trouble(format!("{what} is not written down: {error}")));
                None
            }
        }
    }
}
