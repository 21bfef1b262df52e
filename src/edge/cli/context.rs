//! What every command is given: where to write, which shop, and what time it is.

use std::fmt;
use std::io::{self, BufRead, Write};
use std::path::{Path, PathBuf};

use chrono::Local;
use serde_json::{Value, json};

use crate::edge::journal::{
    Journal, JournalError, NewEvent, ReadOnly, Uid, UnreadEvents, rescue, shop_files, starters,
};
use crate::edge::nearest::did_you_mean;
use crate::edge::plain;
use crate::edge::record::Time;
use crate::edge::shop::clock::{CLOCK_BEHIND, LocalZone};
use crate::edge::time_entry;
use crate::edge::whole_file::{self, Spared};
use crate::firing::{FiringId, Kind, Shop, Unread, What, Who};
use crate::kiln::{Kiln, LoadType};
use crate::units::{Moment, Scale};
use crate::words::{self, Clock, Dial, Meant};

/// The surroundings of one command.
pub struct Context<'a> {
    /// Answers.
    pub out: &'a mut dyn Write,
    /// Warnings and questions, so that answers stay readable by programs.
    pub err: &'a mut dyn Write,
    pub input: &'a mut dyn BufRead,
    /// Answers are JSON instead of sentences.
    pub json: bool,
    pub scale: Scale,
    /// How times of day are shown.
    pub clock_face: Clock,
    pub shop: PathBuf,
    pub now: Moment,
    /// Somebody is there to answer questions.
    pub interactive: bool,
    /// Who writes; may be empty.
    pub who: String,
    /// Events that could not be read on the way to the answer, until they are told.
    pub unread: UnreadEvents,
    /// The mark of what this command enters: done again, it is no second entry.
    pub mark: Uid,
    /// What the clock shows, where the newest entry is of later: then `now` is when that was made.
    pub behind: Option<Moment>,
}

impl fmt::Debug for Context<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Context").field("shop", &self.shop).field("now", &self.now).finish()
    }
}

/// What becomes of a file that is there already.
#[derive(Debug, Clone, Copy, clap::Args)]
pub struct Over {
    /// Write over a file that is there already.
    #[arg(long)]
    pub replace: bool,
}

/// Something a person typed that cannot be used; the text says why and what to do.
#[derive(Debug, thiserror::Error)]
#[error("{0}")]
pub struct Unusable(pub String);

/// The same with patches of colour in it. All but the patches are words of this program.
#[derive(Debug, thiserror::Error)]
#[error("{0}")]
pub struct Painted(pub String);

/// What an answer lacks that was given all the same.
#[derive(Debug, thiserror::Error)]
#[error("{0}")]
pub struct Incomplete(pub String);

/// The exit code an error stands for: 2 when what was asked for cannot be, 1 when the machine
/// failed (disk, permission, damage).
pub fn exit_code(error: &anyhow::Error) -> u8 {
    let failed = |error: &JournalError| {
        matches!(
            error,
            JournalError::DiskFull { .. }
                | JournalError::NotWritable { .. }
                | JournalError::NewerFile { .. }
                | JournalError::Damaged { .. }
                | JournalError::Exchanged { .. }
                | JournalError::Busy { .. }
                | JournalError::NotOpened { .. }
                | JournalError::Sqlite(_)
        )
    };
    let machine = error.downcast_ref::<JournalError>().is_some_and(failed)
        || error.is::<Incomplete>()
        || error.chain().any(<dyn std::error::Error>::is::<io::Error>);
    if machine { 1 } else { 2 }
}

impl Context<'_> {
    /// The shop's journal, or what could be read of it if it is damaged.
    ///
    /// # Errors
    /// [`JournalError`] when there is none, or it cannot be opened.
    pub fn journal(&mut self) -> anyhow::Result<Journal> {
        let journal = self.open_journal()?.with_unread(&self.unread);
        journal.recall_damage()?;
        let newest = journal.last_written()?;
        if let Some(newest) = newest.filter(|newest| *newest - self.now > CLOCK_BEHIND) {
            let clock = *self.behind.get_or_insert(self.now);
            self.now = clock;
            let remark = format!(
                "The clock of this machine shows {}, but the newest entry was made {}: one of them is wrong. Until the clock is set right, or that entry struck, this answers as of {}.",
                self.clock(clock),
                self.clock(newest),
                self.clock(newest)
            );
            self.now = newest;
            self.warn(&remark)?;
        }
        Ok(journal)
    }

    /// The same; a shop that is not there is begun with the starter set.
    ///
    /// # Errors
    /// [`JournalError`] when it can neither be opened nor begun.
    pub fn journal_or_new(&mut self) -> anyhow::Result<Journal> {
        if let Err(JournalError::NoShop { path }) = shop_files::check(&self.shop) {
            Journal::begin(&path, &starters(self.now), self.now)?;
            self.warn(&format!(
                "This is a new shop, kept in {}, with a starter set of load types (common practice: \"spyhole load-type list\" shows them, edit them to your own).",
                path.display()
            ))?;
        }
        self.journal()
    }

    fn open_journal(&mut self) -> anyhow::Result<Journal> {
        let opened = Journal::open_or_rescue(&self.shop, self.now)?;
        if let Some(loss) = opened.loss {
            self.warn(&loss.to_string())?;
        }
        if let Some(ReadOnly::Newer { found }) = opened.journal.read_only() {
            self.warn(&format!(
                "The shop's file is of version {found}, written by a newer Spyhole: it can be read here, but not written."
            ))?;
        }
        Ok(opened.journal)
    }

    /// Does `work`; if that shows the shop's file to be damaged, or exchanged while it was written, does it
    /// again in the file in which the shop goes on. What went there already is not written twice: it
    /// bears the same mark.
    ///
    /// # Errors
    /// Those of `work`, and when no file beside it can be written.
    pub fn undeterred(
        &mut self,
        mut work: impl FnMut(&mut Self) -> anyhow::Result<()>,
    ) -> anyhow::Result<()> {
        let done = work(self);
        let Err(error) = &done else { return done };
        match error.downcast_ref() {
            Some(JournalError::Exchanged { .. }) => {}
            Some(JournalError::Damaged { path, reason }) if !shop_files::is_left(path) => {
                rescue::rescue(path, reason.clone(), self.now)?;
            }
            _ => return done,
        }
        // What was met was of the damaged file.
        self.unread.take();
        work(self)
    }

    /// One answer: a sentence for people, an object for programs; and in either the events that
    /// could not be read on the way to it.
    ///
    /// # Errors
    /// When the output is gone.
    pub fn answer(&mut self, sentence: &str, object: &Value) -> anyhow::Result<()> {
        let said = self.say(sentence, object).and_then(|()| self.out.flush());
        let Some(event) = object.get("event_id") else { return Ok(said?) };
        // Whoever reads that this failed would do it again.
        Ok(said.map_err(|error| {
            let text = format!("event {event} is written, but the answer could not be: {error}");
            io::Error::new(error.kind(), text)
        })?)
    }

    fn say(&mut self, sentence: &str, object: &Value) -> io::Result<()> {
        if self.json {
            return self.write_value(object);
        }
        writeln!(self.out, "{}", sentence.trim_end())?;
        let lacks = words::left_out_and_remedy(&self.unread.take(), self.now, &self.dial());
        lacks.map_or(Ok(()), |lacks| writeln!(self.out, "{lacks}"))
    }

    /// An answer for programs, whatever was asked for.
    ///
    /// # Errors
    /// When the output is gone.
    pub fn value(&mut self, value: &Value) -> anyhow::Result<()> {
        Ok(self.write_value(value)?)
    }

    /// Writes a value. An object that lacks events names them under `unreadable_events`; a list has
    /// no place for that.
    fn write_value(&mut self, value: &Value) -> io::Result<()> {
        let mut value = value.clone();
        if let Value::Object(keys) = &mut value {
            let lacks = self.unread.take();
            if !lacks.is_empty() {
                let lacks = lacks.iter().map(|unread| self.unread_object(unread)).collect();
                keys.insert("unreadable_events".into(), Value::Array(lacks));
            }
        }
        plain::write_json(self.out, &value)
    }

    /// An event that could not be read, for programs.
    pub fn unread_object(&self, unread: &Unread) -> Value {
        let one = std::slice::from_ref(unread);
        json!({
            "event_id": unread.event.0,
            "event": unread.kind,
            "firing": unread.firing.map(|firing| firing.0),
            "kiln": Some(&unread.kiln).filter(|kiln| !kiln.is_empty()),
            "at": self.stamp(unread.at),
            "newer": unread.newer,
            "say": words::left_out_and_remedy(one, self.now, &self.dial()),
        })
    }

    /// Tells beside the answer what could not be read and had no place in it: the answer is a
    /// table, a record or a picture.
    ///
    /// # Errors
    /// When the error output is gone.
    pub fn tell_unread(&mut self) -> io::Result<()> {
        let lacks = words::left_out_and_remedy(&self.unread.take(), self.now, &self.dial());
        lacks.map_or(Ok(()), |lacks| self.warn(&lacks))
    }

    /// Writes an answer into a file somebody named, over another only where that is asked for.
    ///
    /// # Errors
    /// See [`whole_file::place`].
    pub fn place(
        &self,
        file: &Path,
        over: Over,
        write: impl FnOnce(&mut dyn Write) -> anyhow::Result<()>,
    ) -> anyhow::Result<()> {
        let placed = whole_file::place(file, (&self.shop, over.replace), write);
        placed.map_err(|error| match error.downcast_ref() {
            Some(Spared::Taken(_)) => {
                Unusable(format!("{error}, or add --replace to write over it")).into()
            }
            _ => error,
        })
    }

    /// How times and temperatures are written for whoever asks.
    pub fn dial(&self) -> Dial<'static> {
        Dial { zone: &LocalZone, clock: self.clock_face, scale: self.scale }
    }

    /// A remark that is no part of the answer.
    ///
    /// # Errors
    /// When the error output is gone.
    pub fn warn(&mut self, remark: &str) -> io::Result<()> {
        writeln!(self.err, "{remark}")
    }

    /// Asks a question to be answered yes or no; anything but yes is no.
    ///
    /// # Errors
    /// When nobody can be asked any more.
    pub fn confirms(&mut self, question: &str) -> io::Result<bool> {
        write!(self.err, "{question} (yes/no) ")?;
        self.err.flush()?;
        let mut answer = String::new();
        self.input.read_line(&mut answer)?;
        Ok(matches!(answer.trim().to_lowercase().as_str(), "y" | "yes"))
    }

    /// Asks whether something hard to believe is meant. Nobody being there to ask, it is warned of,
    /// with what is `done` then, and taken as it was said.
    ///
    /// # Errors
    /// [`Unusable`] with `unless` when it is not meant, or when nobody can be asked any more.
    pub fn asks_whether_meant(
        &mut self,
        remark: &str,
        done: &str,
        unless: &str,
    ) -> anyhow::Result<()> {
        if !self.interactive {
            return Ok(self.warn(&format!("Warning: {remark}{done}"))?);
        }
        if self.confirms(&format!("{remark} Is that meant?"))? {
            return Ok(());
        }
        Err(Unusable(unless.into()).into())
    }

    /// The time typed after `--at`, or now.
    ///
    /// # Errors
    /// [`time_entry::TimeError`].
    pub fn time(&self, typed: Option<&str>) -> Result<Time, time_entry::TimeError> {
        match typed {
            Some(text) => self.time_before(text, self.now, Meant::Past),
            None => Ok(time_entry::in_zone(self.now, &Local)),
        }
    }

    /// The same where the latest such time before this moment is meant.
    ///
    /// # Errors
    /// [`time_entry::TimeError`].
    pub fn time_before(
        &self,
        text: &str,
        until: Moment,
        meant: Meant,
    ) -> Result<Time, time_entry::TimeError> {
        time_entry::parse(text, until, meant, (self.clock_face, &Local))
    }

    /// The time of an entry of this kind: the one typed after `--at`, or now. While the clock stands
    /// before the newest entry, a look and whatever ends a burning is taken to be made right after that
    /// one, and anything else is asked about.
    ///
    /// # Errors
    /// [`Unusable`] where nobody says when it was, and those of [`Context::time`].
    pub fn entry_time(&mut self, typed: Option<&str>, kind: Kind) -> anyhow::Result<Time> {
        let (Some(clock), None) = (self.behind, typed) else { return Ok(self.time(typed)?) };
        if !matches!(kind, Kind::Look | Kind::Off | Kind::Aborted) {
            let unless =
                "nothing was written: say when it was with --at TIME, or set the clock right";
            let meant = self.interactive && self.confirms("Is the clock right?")?;
            if !meant {
                return Err(Unusable(unless.into()).into());
            }
            self.now = clock;
        }
        Ok(self.time(None)?)
    }

    /// A new event by whoever sits here.
    pub fn event(&self, firing: Option<FiringId>, at: Time, what: What) -> NewEvent {
        let said = (self.mark, firing, at.moment, &what);
        NewEvent {
            uid: Uid::of_content(&format!("{said:?}")),
            firing,
            at: at.moment,
            offset_minutes: at.offset_minutes,
            who: Who::Person(self.who.clone()),
            what,
        }
    }

    /// The same inside a sentence: `at 9:10`, `yesterday at 21:40`.
    pub fn at(&self, at: Moment) -> String {
        self.dial().with_at(&self.clock(at), at)
    }

    /// `9:10` today, `yesterday 21:40`, or with the date.
    pub fn clock(&self, at: Moment) -> String {
        let local = |moment| time_entry::in_zone(moment, &Local).local();
        let (then, today) = (local(at), local(self.now).date_naive());
        let time = self.dial().time(at);
        if then.date_naive() == today {
            time
        } else if Some(then.date_naive()) == today.pred_opt() {
            format!("yesterday {time}")
        } else {
            format!("{} {time}", then.format("%Y-%m-%d"))
        }
    }

    /// RFC 3339 with the local offset, for programs.
    pub fn stamp(&self, at: Moment) -> String {
        time_entry::in_zone(at, &Local).to_string()
    }
}

/// The kiln of this name, or what to do about it.
///
/// # Errors
/// [`Unusable`] naming the kiln that may be meant.
pub fn kiln_named<'s>(shop: &'s Shop, name: &str) -> Result<&'s Kiln, Unusable> {
    shop.kiln(name).ok_or_else(|| {
        let known = shop.kilns.iter().chain(&shop.retired);
        let hint = did_you_mean(name, known.map(|kiln| kiln.name.as_str()));
        Unusable(format!(
            "there is no kiln \"{name}\" in this shop{hint} (to add it: spyhole kiln add \"{name}\" --fuel gas)"
        ))
    })
}

/// The load type of this name, or what to do about it.
///
/// # Errors
/// [`Unusable`] naming the load types there are.
pub fn load_type_named<'s>(shop: &'s Shop, name: &str) -> Result<&'s LoadType, Unusable> {
    shop.load_type(name).ok_or_else(|| {
        let names = || shop.load_types.iter().map(|load_type| load_type.name.as_str());
        let (hint, known) = (did_you_mean(name, names()), names().collect::<Vec<_>>().join(", "));
        Unusable(format!(
            "there is no load type \"{name}\" in this shop{hint} (there are {known}; to add it: spyhole load-type add \"{name}\" --cone CONE)"
        ))
    })
}
