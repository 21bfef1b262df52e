//! What the screen shows besides the floor: past firings, schedules, the shop itself.

mod shop;

pub use shop::{ShopRow, ShopView};

use super::key::Meaning;
use super::pick::Pick;
use super::review::Review;
use crate::edge::own_schedules::Offered;
use crate::edge::shop::store::{Entries, Settings};
use crate::scene::{BenchScene, FiringScene, MouldScene, PastFiring, Sort};
use crate::units::Moment;
use crate::words::{self, Dial};

/// The view that is open.
#[derive(Debug, Clone, Default)]
pub enum View {
    #[default]
    Floor,
    Ledger(LedgerView),
    Schedules(Schedules),
    Shop(ShopView),
    Review(Box<Review>),
    Entries(Box<EntriesView>),
    Plan(PlanView),
    Bench(BenchView),
}

/// The page of the plan.
#[derive(Debug, Clone, Default)]
pub struct PlanView {
    /// Which lot somebody is at.
    pub pick: Pick,
    /// Why that lot is where it is, in place of the list.
    pub why: bool,
    /// The drawing list, in its place.
    pub drawing: bool,
}

/// The casting bench.
#[derive(Debug, Clone, Default)]
pub struct BenchView {
    /// The code of the mould somebody is at; none is the first.
    pub at: Option<String>,
    /// Its casts, from this line on, in place of the list.
    pub casts: Option<usize>,
}

impl BenchView {
    /// The place in the list of the mould somebody is at.
    pub fn place(&self, bench: &BenchScene) -> usize {
        self.at.as_ref().and_then(|code| bench.place(code)).unwrap_or(0)
    }

    pub fn mould<'a>(&self, bench: &'a BenchScene) -> Option<&'a MouldScene> {
        bench.moulds.get(self.place(bench))
    }

    /// Goes so many lines down the list, to its end at most.
    pub fn go(&mut self, bench: &BenchScene, lines: isize) {
        let last = bench.moulds.len().saturating_sub(1);
        let place = self.place(bench).saturating_add_signed(lines).min(last);
        self.at = bench.moulds.get(place).map(|mould| mould.mould.code.clone());
    }
}

/// Past firings: their list, or one or two of them opened.
#[derive(Debug, Clone, Default)]
pub struct LedgerView {
    pub pick: Pick,
    pub sort: Sort,
    /// `None` until they were read; each with what it is found by, in small letters.
    pub rows: Option<Vec<(PastFiring, String)>>,
    /// The firing opened, and the one laid over it.
    pub open: Vec<FiringScene>,
    /// The list is shown to pick the one to be laid over.
    pub comparing: bool,
    /// The review from which the firing was opened, to go back to.
    pub review: Option<Box<Review>>,
}

/// What was entered of one firing, to be corrected.
#[derive(Debug, Clone)]
pub struct EntriesView {
    pub pick: Pick,
    pub entries: Entries,
    /// The ledger from which it was opened, to go back to.
    pub ledger: Option<LedgerView>,
}

impl EntriesView {
    /// One line an entry, as a list shows it.
    pub fn lines(&self, now: Moment, dial: &Dial<'_>) -> Vec<String> {
        let line = |event| words::entry_line(event, &self.entries.kiln, now, dial);
        self.entries.events.iter().map(line).collect()
    }
}

/// The schedules: their list, or one of them opened.
#[derive(Debug, Clone, Default)]
pub struct Schedules {
    pub pick: Pick,
    /// What a firing would keep of the one opened.
    pub open: Option<String>,
    /// The page of its text, counted on over its end.
    pub page: usize,
}

impl View {
    /// What opens it.
    pub fn meaning(&self) -> Meaning {
        match self {
            View::Floor => Meaning::Floor,
            View::Ledger(_) => Meaning::Ledger,
            View::Schedules(_) => Meaning::Schedules,
            View::Shop(_) => Meaning::Shop,
            View::Review(_) => Meaning::Review,
            View::Entries(_) => Meaning::Correct,
            View::Plan(_) => Meaning::Plan,
            View::Bench(_) => Meaning::Bench,
        }
    }

    /// What the shop keeps beside its journal, as far as this view has read it.
    pub fn settings(&self) -> Option<&Settings> {
        match self {
            View::Shop(shop) => shop.settings.as_deref(),
            _ => None,
        }
    }
}

impl LedgerView {
    /// Whether the list is shown, not a firing.
    pub fn lists(&self) -> bool {
        self.open.is_empty() || self.comparing
    }

    /// The firings that the filter leaves.
    pub fn found(&self) -> Vec<&PastFiring> {
        let rows = self.rows.as_deref().unwrap_or_default();
        let places = self.pick.in_small_letters(rows.iter().map(|(_, words)| words));
        places.into_iter().map(|place| &rows[place].0).collect()
    }

    /// Takes the firings as they were read, and finds the words for each once.
    pub fn take_rows(&mut self, rows: Vec<PastFiring>, now: Moment, dial: &Dial<'_>) {
        let worded = rows.into_iter().map(|past| {
            let words = words::past_line(&past, now, dial).to_lowercase();
            (past, words)
        });
        self.sort.sort(self.rows.insert(worded.collect()), |(past, _)| past);
    }

    pub fn sort_anew(&mut self) {
        self.sort = self.sort.next();
        self.sort.sort(self.rows.as_deref_mut().unwrap_or_default(), |(past, _)| past);
    }

    /// Opens a firing, beside the one that is open if that was asked for.
    pub fn open(&mut self, firing: FiringScene) {
        self.open.truncate(usize::from(self.comparing));
        let listed = self.rows.iter().flatten().find(|(past, _)| past.firing == firing.past.firing);
        // The list knows when one that was never lit began.
        let past = listed.map_or(firing.past, |(past, _)| past.clone());
        self.open.push(FiringScene { past, ..firing });
        self.comparing = false;
    }
}

impl Schedules {
    /// The places of the schedules that the filter leaves.
    pub fn found(&self, schedules: &[Offered]) -> Vec<usize> {
        self.pick.with_words(schedules.iter().map(Schedules::line))
    }

    /// The one that is open, if it is still there.
    pub fn opened<'a>(&self, schedules: &'a [Offered]) -> Option<&'a Offered> {
        let open = self.open.as_deref()?;
        schedules.iter().find(|one| one.reference == open)
    }

    /// A line of the list: a schedule, or why a file is none.
    pub fn line(offered: &Offered) -> String {
        match &offered.found {
            Ok(schedule) => words::schedule_line(schedule, offered.own),
            Err(why) => words::garbled_schedule(offered.file_name(), why),
        }
    }
}
