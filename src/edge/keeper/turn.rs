//! Whose turn it is to ring, and what was rung: what of it lies on a disk.

use std::path::Path;
use std::process;

use crate::alarm::{Notice, Task};
use crate::edge::bell::log::{self, Line, RingLog};
use crate::edge::shop::lease::{Holder, RingLease};
use crate::edge::shop::told::{Told, held_words};
use crate::firing::FiringId;
use crate::units::{Moment, Span};

/// The right to ring, and the log of rings.
#[derive(Debug)]
pub(super) struct Turn {
    lease: RingLease,
    log: RingLog,
    doing: &'static str,
    /// So far the log has been read; nothing of it before the first step.
    read_to: Option<u64>,
    holds: bool,
}

/// What came of asking for the right to ring.
#[derive(Debug, Default)]
pub(super) struct Heard {
    pub holds: bool,
    /// The end of the log, for a process that rings from now on.
    pub before: Option<Vec<Line>>,
    /// The alarms of the shop itself that were answered, and by whom.
    pub answers: Vec<(Task, String)>,
    pub told: Vec<Told>,
}

impl Turn {
    pub fn of(shop: &Path, doing: &'static str) -> Turn {
        let log = RingLog::of(shop);
        Turn { lease: RingLease::of(shop), log, doing, read_to: None, holds: false }
    }

    /// Writes these lines down, and takes or keeps the right to ring. Where nobody can tell who has
    /// it, this process rings: twice is better than not at all.
    pub fn take(
        &mut self,
        lines: &[Line],
        reaches: Option<bool>,
        wall: Moment,
        passed: Span,
    ) -> Heard {
        let mut heard = Heard::default();
        let me = Holder { pid: process::id(), doing: self.doing.into(), beat_ms: wall.0, reaches };
        if let Err(error) = self.log.append(lines) {
            heard.told.push(Told::trouble_with(self.log.path(), &error));
        }
        heard.holds = self.lease.take(&me, passed).unwrap_or_else(|error| {
            let path = self.lease.path().display();
            heard.told.push(Told::Trouble(format!(
                "{path}: {error}: nobody can tell who else rings, so this process does in any case"
            )));
            true
        });
        if let Err(error) = self.lease.beat(&me) {
            heard.told.push(Told::trouble_with(self.lease.path(), &error));
        }
        let why = self.lease.passed_over().map(|watch| {
            format!(
                "this process rings in the place of whoever has the watch: {}",
                held_words(watch)
            )
        });
        heard.told.extend(why.clone().map(Told::Trouble));
        match (self.holds, heard.holds) {
            (false, true) => heard.before = Some(self.begin(why, wall, &mut heard.told)),
            (true, false) => heard.told.push(Told::Trouble(
                "this process stood still, and another rings in its place".into(),
            )),
            _ => {}
        }
        self.holds = heard.holds;
        heard.answers = self.answers(&mut heard.told);
        heard
    }

    fn begin(&self, why: Option<String>, wall: Moment, told: &mut Vec<Told>) -> Vec<Line> {
        let before = self.log.tail().unwrap_or_else(|error| {
            told.push(Told::trouble_with(self.log.path(), &error));
            Vec::new()
        });
        told.push(Told::Notice(Notice::TookOver, String::new()));
        let detail = why.map_or(self.doing.to_owned(), |why| format!("{}: {why}", self.doing));
        // A log that cannot be written is told of with the first ring.
        let _ = self.log.append(&[log::notice_line(Notice::TookOver, detail, wall)]);
        before
    }

    /// What was answered since the last time.
    fn answers(&mut self, told: &mut Vec<Told>) -> Vec<(Task, String)> {
        let (lines, read_to) = match self.log.since(self.read_to) {
            Ok(read) => read,
            Err(error) => {
                told.push(Told::trouble_with(self.log.path(), &error));
                return Vec::new();
            }
        };
        self.read_to = Some(read_to);
        let of_shop = lines.into_iter().filter_map(|line| match line {
            Line::Answered { of, who, .. } if of.firing == FiringId::SHOP.0 => {
                Some((of.key()?.task, who))
            }
            _ => None,
        });
        of_shop.collect()
    }
}
