//! What the screen shows besides the floor: past firings, schedules, the shop itself.

use super::pick::Pick;
use super::review::Review;
use crate::scene::{FiringScene, PastFiring, Scene, Sort};
use crate::schedule::Schedule;
use crate::units::Moment;
use crate::words::{self, Dial};

/// The view that is open.
#[derive(Debug, Clone, Default)]
pub enum View {
    #[default]
    Floor,
    Ledger(Ledger),
    Schedules(Schedules),
    Shop(Pick),
    Review(Box<Review>),
}

/// Past firings: their list, or one or two of them opened.
#[derive(Debug, Clone, Default)]
pub struct Ledger {
    pub pick: Pick,
    pub sort: Sort,
    /// `None` until they were read.
    pub rows: Option<Vec<PastFiring>>,
    /// The firing opened, and the one laid over it.
    pub open: Vec<FiringScene>,
    /// The list is shown to pick the one to be laid over.
    pub comparing: bool,
    /// The review from which the firing was opened, to go back to.
    pub review: Option<Box<Review>>,
}

/// The schedules: their list, or one of them opened.
#[derive(Debug, Clone, Default)]
pub struct Schedules {
    pub pick: Pick,
    pub open: Option<usize>,
}

/// One line of the shop.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ShopRow<'a> {
    Kiln(&'a str),
    LoadType(&'a str),
    NewKiln,
    NewLoadType,
}

impl Ledger {
    /// Whether the list is shown, not a firing.
    pub fn lists(&self) -> bool {
        self.open.is_empty() || self.comparing
    }

    /// The firings that the filter leaves.
    pub fn found(&self, now: Moment, dial: &Dial<'_>) -> Vec<&PastFiring> {
        let rows = self.rows.as_deref().unwrap_or_default();
        let lines = rows.iter().map(|past| words::past_line(past, now, dial));
        self.pick.with_words(lines).into_iter().map(|place| &rows[place]).collect()
    }

    pub fn take_rows(&mut self, rows: Vec<PastFiring>) {
        let rows = self.rows.insert(rows);
        self.sort.sort(rows);
    }

    pub fn sort_anew(&mut self) {
        self.sort = self.sort.next();
        if let Some(rows) = &mut self.rows {
            self.sort.sort(rows);
        }
    }

    /// Opens a firing, beside the one that is open if that was asked for.
    pub fn open(&mut self, firing: FiringScene) {
        self.open.truncate(usize::from(self.comparing));
        self.open.push(firing);
        self.comparing = false;
    }
}

impl Schedules {
    /// The places of the schedules that the filter leaves.
    pub fn found(&self, schedules: &[Schedule]) -> Vec<usize> {
        self.pick.with_words(schedules.iter().map(words::schedule_line))
    }
}

/// Everything the shop has, and what can be added to it, in the order shown.
pub fn shop_rows(scene: &Scene) -> Vec<ShopRow<'_>> {
    let mut kilns: Vec<&str> = scene.kilns.iter().map(|kiln| kiln.kiln.as_str()).collect();
    kilns.sort_unstable();
    let loads = scene.load_types.iter().map(|load| ShopRow::LoadType(&load.name));
    let kilns = kilns.into_iter().map(ShopRow::Kiln);
    kilns.chain([ShopRow::NewKiln]).chain(loads).chain([ShopRow::NewLoadType]).collect()
}

/// A line of the shop, as it is shown and filtered.
pub fn shop_line(row: ShopRow<'_>, scene: &Scene, dial: &Dial<'_>) -> String {
    match row {
        ShopRow::NewKiln => words::ADD_KILN.into(),
        ShopRow::NewLoadType => words::ADD_LOAD_TYPE.into(),
        ShopRow::Kiln(name) => {
            let kiln = scene.kiln(name).map(|kiln| &kiln.described);
            kiln.map_or_else(String::new, |kiln| words::kiln_line(kiln, dial.scale))
        }
        ShopRow::LoadType(name) => {
            let load = scene.load_types.iter().find(|load| load.name == name);
            load.map_or_else(String::new, words::load_type_line)
        }
    }
}
