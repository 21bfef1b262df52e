//! Taking in the lines of a firing record: all of them or none.

use std::collections::{HashMap, HashSet};

use serde_json::Value;

use super::error::JournalError;
use super::write::{Check, Writing};
use super::{Journal, NewEvent, Uid, folding};
use crate::edge::form;
use crate::edge::record::RecordLine;
use crate::firing::Kind;
use crate::firing::{EventId, FiringId, Shop, What, Who};
use crate::kiln::Kiln;
use crate::units::Moment;

/// What an import did, or would do.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Imported {
    pub events: usize,
    /// Events that were there already.
    pub already: usize,
    /// Firings that were not there before.
    pub firings: usize,
    /// Kilns it brought that nobody had described.
    pub kilns: Vec<String>,
}

/// Why a record was not taken in.
#[derive(Debug, thiserror::Error)]
pub enum ImportError {
    #[error(
        "line {line}: this record never says \"lit\" or \"packed\", so nobody knows which kiln it is: add such a line first"
    )]
    NoOpening { line: usize },
    #[error(
        "line {line}: event {event} is to be struck, but no line of this record has \"id\": {event}"
    )]
    NothingToStrike { line: usize, event: EventId },
    #[error("line {line}: {error}")]
    Line { line: usize, error: JournalError },
    #[error(transparent)]
    Journal(#[from] JournalError),
}

/// Whether an import is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mode {
    /// Everything is tried and nothing kept.
    DryRun,
    Keep,
}

impl Journal {
    /// Takes in a record. What is there already is not doubled, so the same record can be taken
    /// in again; firings and events get new numbers where theirs are taken.
    ///
    /// # Errors
    /// [`ImportError`] for the first line that does not fit; then nothing was written.
    pub fn import(
        &mut self,
        lines: &[RecordLine],
        written: Moment,
        mode: Mode,
    ) -> Result<Imported, ImportError> {
        let mut result = Ok(Imported::default());
        let written = self.write(|writing| {
            result = Import::new(writing, written).take(lines);
            match (&result, mode) {
                (Ok(_), Mode::Keep) => Ok(()),
                // Any error rolls the transaction back.
                _ => Err(JournalError::NoFiring),
            }
        });
        match (result, mode, written) {
            (Err(ImportError::Line { line, error }), ..) => {
                Err(ImportError::Line { line, error: error.named(self.path()) })
            }
            (Err(error), ..) => Err(error),
            (Ok(_), Mode::Keep, Err(error)) => Err(error.into()),
            // An error of the journal itself comes before any line is tried.
            (Ok(_), Mode::DryRun, Err(error)) if !matches!(error, JournalError::NoFiring) => {
                Err(error.into())
            }
            (Ok(imported), ..) => Ok(imported),
        }
    }
}

struct Import<'w, 'c> {
    writing: &'w mut Writing<'c>,
    written: Moment,
    /// Firings by the number the record gives them.
    firings: HashMap<Option<FiringId>, FiringId>,
    /// Events by the number the record gives them.
    events: HashMap<EventId, EventId>,
    imported: Imported,
}

impl<'w, 'c> Import<'w, 'c> {
    fn new(writing: &'w mut Writing<'c>, written: Moment) -> Self {
        Import {
            writing,
            written,
            firings: HashMap::new(),
            events: HashMap::new(),
            imported: Imported::default(),
        }
    }

    fn take(mut self, lines: &[RecordLine]) -> Result<Imported, ImportError> {
        let mut openings: HashMap<Option<FiringId>, &RecordLine> = HashMap::new();
        for line in lines.iter().filter(|line| opens(line)) {
            openings.entry(line.firing).or_insert(line);
        }
        // A firing's opening has to be written before what belongs to it, even if the record has
        // it later; everything else keeps its order.
        let mut ahead = HashSet::new();
        for line in lines {
            if needs_firing(line) && !self.firings.contains_key(&line.firing) {
                let opening =
                    openings.get(&line.firing).ok_or(ImportError::NoOpening { line: line.line })?;
                self.put(opening)?;
                ahead.insert(opening.line);
            }
            if !ahead.contains(&line.line) {
                self.put(line)?;
            }
        }
        self.list_kilns(openings.into_values())?;
        Ok(self.imported)
    }

    /// A firing of a kiln nobody described brings that kiln along.
    fn list_kilns<'l>(
        &mut self,
        openings: impl Iterator<Item = &'l RecordLine>,
    ) -> Result<(), JournalError> {
        let (described, _) = folding::events_of(&self.writing.transaction, FiringId(0))?;
        let mut listed = Shop::default();
        for event in described {
            if let What::KilnSet(kiln) = event.what {
                listed.set_kiln(kiln);
            }
        }
        for line in openings {
            let Some(name) = line.what.kiln().filter(|name| listed.kiln(name).is_none()) else {
                continue;
            };
            let kiln = Kiln::undescribed(name.trim());
            let uid = Uid::of_content(&format!("kiln of a record {}", kiln.name));
            let new = NewEvent::new(None, self.written, Who::Program, What::KilnSet(kiln.clone()));
            self.writing.put(&NewEvent { uid, ..new }, self.written, Check::Nothing)?;
            self.imported.kilns.push(kiln.name.clone());
            listed.set_kiln(kiln);
        }
        Ok(())
    }

    fn put(&mut self, line: &RecordLine) -> Result<(), ImportError> {
        let opens_anew = opens(line) && !self.firings.contains_key(&line.firing);
        let firing = self.firings.get(&line.firing).copied().filter(|_| needs_firing(line));
        let mut what = line.what.clone();
        if let What::Struck { event, .. } = &mut what {
            *event = *self
                .events
                .get(event)
                .ok_or(ImportError::NothingToStrike { line: line.line, event: *event })?;
        }
        let new = NewEvent {
            uid: line.uid.unwrap_or_else(|| uid_of(line)),
            firing,
            at: line.at.moment,
            offset_minutes: line.at.offset_minutes,
            who: line.who.clone(),
            what,
        };
        let written = line.written.map_or(self.written, |written| written.moment);
        let appended = self
            .writing
            .put(&new, written, Check::Nothing)
            .map_err(|error| ImportError::Line { line: line.line, error })?;
        if let Some(id) = line.id {
            self.events.insert(id, appended.id);
        }
        if let (true, Some(firing)) = (opens_anew, appended.firing) {
            self.firings.insert(line.firing, firing);
            self.imported.firings += usize::from(!appended.already);
        }
        self.imported.events += usize::from(!appended.already);
        self.imported.already += usize::from(appended.already);
        Ok(())
    }
}

fn opens(line: &RecordLine) -> bool {
    matches!(line.what, What::Packed(_) | What::Lit(_))
}

fn needs_firing(line: &RecordLine) -> bool {
    let kind = Kind::of(&line.what);
    !kind.is_of_the_shop() && kind != Kind::Struck
}

/// The mark of a line that came without one: the same line again is the same event.
fn uid_of(line: &RecordLine) -> Uid {
    let kind = Kind::of(&line.what).name();
    let fields = Value::Object(form::write(&line.what));
    Uid::of_content(&format!("{} {kind} {fields}", line.at.moment.0))
}
