//! What a keeper tells whoever listens, and in which words.

use std::io;
use std::path::{Path, PathBuf};

use super::lease::{Holder, Watch};
use crate::alarm::{Alarm, Call, Key, Notice};
use crate::edge::bell::Delivery;
use crate::firing::{EventId, What};
use crate::units::Span;
use crate::words::alarms as words;

/// One thing that happened while keeping watch.
#[derive(Debug, Clone, PartialEq)]
pub enum Told {
    Rang(Box<Call>),
    Delivery(Delivery),
    Answered(Alarm),
    /// Something was pressed on a notification and written down.
    Pressed(Key, What, EventId),
    Notice(Notice, String),
    /// The clock on the wall was set back while a kiln burned.
    ClockSetBack(Span),
    /// The daily backup was made.
    BackedUp(PathBuf),
    /// It was not, and why.
    NoBackup(String),
    /// Events that could not be read, and that the watch does without.
    LeftOut(String),
    /// Something does not work; the watch goes on.
    Trouble(String),
}

impl Told {
    /// What does not work with this file.
    pub fn trouble_with(file: &Path, error: &io::Error) -> Told {
        Told::Trouble(format!("{}: {error}", file.display()))
    }

    /// Whether it is something to be put right.
    pub fn is_trouble(&self) -> bool {
        match self {
            Told::Trouble(_) | Told::LeftOut(_) | Told::NoBackup(_) | Told::ClockSetBack(_) => true,
            Told::Delivery(delivery) => delivery.result.is_err(),
            _ => false,
        }
    }

    /// Whether it is still worth saying when nothing rings any more: that one way did not reach
    /// anybody matters while somebody is to be reached.
    pub fn outlasts_the_alarms(&self) -> bool {
        !matches!(self, Told::Delivery(_))
    }

    /// Whether it is found again at every step for as long as it lasts.
    pub fn goes_on(&self) -> bool {
        matches!(self, Told::Trouble(_) | Told::LeftOut(_))
    }

    /// The same in a line that fits a screen beside what is to be done.
    pub fn brief(&self) -> String {
        match self {
            Told::Delivery(Delivery { target, result: Err(_), .. }) => {
                let way = target.way.name();
                format!("The bell fails by {way}: \"spyhole bell test\" says why.")
            }
            other => other.line(),
        }
    }

    /// One line for a person.
    pub fn line(&self) -> String {
        match self {
            Told::Rang(call) => format!("Ring {}: {}", call.count, words::call_headline(call)),
            Told::Delivery(delivery) => delivery_words(delivery),
            Told::Answered(alarm) => match &alarm.answered {
                Some((_, who)) if !who.is_empty() => {
                    format!("Answered by {who}: {}", words::headline(alarm))
                }
                _ => format!("Answered: {}", words::headline(alarm)),
            },
            Told::Pressed(key, what, event) => {
                format!(
                    "Pressed on the notification of {}: {}, event {event}",
                    key.task.name(),
                    what.phrase()
                )
            }
            Told::Notice(notice, detail) if detail.is_empty() => {
                format!("Notice: {}", words::notice(*notice))
            }
            Told::Notice(notice, detail) => format!("Notice: {detail}: {}", words::notice(*notice)),
            Told::ClockSetBack(back) => format!(
                "The clock was set back by {back} while a kiln burns: countdowns go on by what really passes"
            ),
            Told::BackedUp(path) => format!("Backup made: {}", path.display()),
            Told::NoBackup(why) => format!("No backup was made: {why}."),
            Told::LeftOut(text) => text.clone(),
            Told::Trouble(text) => format!("Trouble: {text}"),
        }
    }
}

fn delivery_words(delivery: &Delivery) -> String {
    let target = &delivery.target;
    let whom =
        if target.person.is_empty() { String::new() } else { format!(" to {}", target.person) };
    let way = target.way.name();
    match &delivery.result {
        Ok(by) => format!("  delivered{whom} by {way} ({by})"),
        Err(error) if delivery.fell_back => {
            format!("  not delivered{whom} by {way}: {error}; the next way is tried")
        }
        Err(error) => format!("  not delivered{whom} by {way}: {error}; no way is left"),
    }
}

/// Whether anybody keeps watch, in words.
pub fn watch_words(watch: &Watch) -> String {
    match watch {
        Watch::Nobody => {
            "Nobody keeps watch: nothing rings. Start \"spyhole keep\" or the screen.".into()
        }
        Watch::By(Some(holder)) if holder.reaches == Some(false) => format!(
            "Watched by process {} ({}), but its last ring reached nobody: try \"spyhole bell test\".",
            holder.pid, holder.doing
        ),
        Watch::By(Some(holder)) => format!("Watched by process {} ({}).", holder.pid, holder.doing),
        Watch::By(None) => "Watched by another process.".into(),
        Watch::Stuck(holder, still) => format!(
            "Process {} ({}) should keep watch, but has not moved for {still}: end it, and another takes over.",
            holder.pid, holder.doing
        ),
        Watch::Gone(_) => format!(
            "Nobody keeps watch: {}. Start \"spyhole keep\" or the screen: it rings all the same.",
            held_words(watch)
        ),
    }
}

/// Who has the lock of the watch without keeping watch.
pub fn held_words(watch: &Watch) -> String {
    match watch {
        Watch::Stuck(Holder { pid, doing, .. }, _) => {
            format!("process {pid} ({doing}) holds its lock and does not move: end it")
        }
        Watch::Gone(Holder { pid, doing, .. }) => format!(
            "another program holds its lock, and process {pid} ({doing}), named in it, is gone"
        ),
        Watch::Nobody | Watch::By(_) => "another program holds its lock".to_owned(),
    }
}
