//! Taking in the lines of a firing record: all of them or none.

use std::collections::{BTreeSet, HashMap};

use serde_json::Value;

use super::error::JournalError;
use super::write::{Check, Writing};
use super::{Journal, NewEvent, Uid, folding};
use crate::edge::form;
use crate::edge::record::{RecordError, RecordLine};
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
    #[error(transparent)]
    Wrong(#[from] RecordError),
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
    /// Takes in a record, line by line as it is read. What is there already is not doubled, so the same record can be taken
    /// in again; firings and events get new numbers where theirs are taken.
    ///
    /// # Errors
    /// [`ImportError`] for every line that is wrong, or for the first that does not fit; then
    /// nothing was written.
    pub fn import(
        &mut self,
        lines: impl IntoIterator<Item = Result<RecordLine, RecordError>>,
        written: Moment,
        mode: Mode,
    ) -> Result<Imported, Vec<ImportError>> {
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
            (Err(errors), ..) => Err(errors
                .into_iter()
                .map(|error| match error {
                    ImportError::Line { line, error } => {
                        ImportError::Line { line, error: error.named(self.path()) }
                    }
                    other => other,
                })
                .collect()),
            (Ok(_), Mode::Keep, Err(error)) => Err(vec![error.into()]),
            // An error of the journal itself comes before any line is tried.
            (Ok(_), Mode::DryRun, Err(error)) if !matches!(error, JournalError::NoFiring) => {
                Err(vec![error.into()])
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
    /// Events by the number the record gives them, as runs: the first, the number it has here, and how
    /// many follow on in both. A whole shop is one run.
    events: Vec<(i64, i64, i64)>,
    /// Lines of firings whose opening comes later in the record.
    ahead: HashMap<Option<FiringId>, Vec<RecordLine>>,
    /// Strikes of events that may be among those.
    strikes: Vec<RecordLine>,
    /// The kilns that firings of the record are in.
    kilns: BTreeSet<String>,
    imported: Imported,
}

impl<'w, 'c> Import<'w, 'c> {
    fn new(writing: &'w mut Writing<'c>, written: Moment) -> Self {
        Import {
            writing,
            written,
            firings: HashMap::new(),
            events: Vec::new(),
            ahead: HashMap::new(),
            strikes: Vec::new(),
            kilns: BTreeSet::new(),
            imported: Imported::default(),
        }
    }

    fn take(
        mut self,
        lines: impl IntoIterator<Item = Result<RecordLine, RecordError>>,
    ) -> Result<Imported, Vec<ImportError>> {
        let mut wrong: Vec<ImportError> = Vec::new();
        let mut unfit = None;
        for line in lines {
            match line {
                Err(error) => wrong.push(error.into()),
                // Behind a line that is wrong the others are only looked through.
                Ok(line) if wrong.is_empty() && unfit.is_none() => {
                    unfit = self.put_in_its_place(line).err();
                }
                Ok(_) => {}
            }
        }
        if wrong.is_empty() && unfit.is_none() {
            unfit = self.put_the_rest().err();
        }
        wrong.extend(unfit.filter(|_| wrong.is_empty()));
        if wrong.is_empty() { Ok(self.imported) } else { Err(wrong) }
    }

    /// A firing's opening has to be written before what belongs to it, even if the record has it
    /// later; everything else keeps its order.
    fn put_in_its_place(&mut self, line: RecordLine) -> Result<(), ImportError> {
        let firing = line.firing;
        let is_begun = self.firings.contains_key(&firing);
        let opens = opens(&line);
        if needs_firing(&line) && !is_begun && !opens {
            self.ahead.entry(firing).or_default().push(line);
            return Ok(());
        }
        if let What::Struck { event, .. } = line.what
            && self.event_here(event).is_none()
            && !self.ahead.is_empty()
        {
            self.strikes.push(line);
            return Ok(());
        }
        self.put(&line)?;
        if opens && let Some(kiln) = line.what.kiln() {
            self.kilns.insert(kiln.trim().to_owned());
        }
        let ahead = if opens { self.ahead.remove(&firing) } else { None };
        ahead.unwrap_or_default().iter().try_for_each(|line| self.put(line))
    }

    fn put_the_rest(&mut self) -> Result<(), ImportError> {
        let lost = self.ahead.values().flatten().map(|line| line.line).min();
        if let Some(line) = lost {
            return Err(ImportError::NoOpening { line });
        }
        let strikes = std::mem::take(&mut self.strikes);
        strikes.iter().try_for_each(|line| self.put(line))?;
        Ok(self.list_kilns()?)
    }

    /// The number an event of the record has here.
    fn event_here(&self, event: EventId) -> Option<EventId> {
        let mut runs = self.events.iter().rev();
        let (first, here, _) =
            runs.find(|(first, _, count)| (*first..first + count).contains(&event.0))?;
        Some(EventId(event.0 - first + here))
    }

    fn is_here(&mut self, event: EventId, here: EventId) {
        match self.events.last_mut() {
            Some((first, its, count)) if (event.0 - *first, here.0 - *its) == (*count, *count) => {
                *count += 1;
            }
            _ => self.events.push((event.0, here.0, 1)),
        }
    }

    /// A firing of a kiln nobody described brings that kiln along.
    fn list_kilns(&mut self) -> Result<(), JournalError> {
        let (described, _) = folding::events_of(&self.writing.transaction, FiringId(0))?;
        let names = folding::names(&self.writing.transaction)?;
        let mut listed = Shop::of(described, names);
        for name in std::mem::take(&mut self.kilns) {
            if listed.kiln(&name).is_some() {
                continue;
            }
            let kiln = Kiln::undescribed(&name);
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
        if let What::Struck { event, corrected_by, .. } = &mut what {
            *event = self
                .event_here(*event)
                .ok_or(ImportError::NothingToStrike { line: line.line, event: *event })?;
            *corrected_by = corrected_by.and_then(|by| self.event_here(by));
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
            self.is_here(id, appended.id);
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
