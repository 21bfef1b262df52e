//! What the review view remembers: the page, the row, and which firings are asked for.

use chrono::{Datelike, Days, Months, NaiveDate, NaiveTime};

use super::pick::Pick;
use crate::edge::shop::clock::ahead;
use crate::firing::FiringId;
use crate::review::ledger::Asked;
use crate::scene::{Page, ReviewQuestion, ReviewRow, ReviewScene, Scene};
use crate::units::{Moment, Scale};
use crate::words::{self, Dial, Zone};

closed! {
    /// How far back firings are asked for.
    #[derive(Default)]
    pub enum Period {
        #[default]
        All => "all time",
        ThisYear => "this year",
        TwelveMonths => "last 12 months",
        NinetyDays => "last 90 days",
    }
}

/// The review that is open.
#[derive(Debug, Clone, Default)]
pub struct Review {
    pub page: Page,
    /// In which way the rows of the page are told apart, counted on and on.
    pub way: usize,
    /// The row somebody is at; nothing is typed into it.
    pub rows: Pick,
    pub kiln: Option<String>,
    pub period: Period,
    /// `None` until it is there.
    pub scene: Option<Box<ReviewScene>>,
    /// The firings behind the row, where they are shown.
    pub why: Option<Pick>,
}

impl Period {
    pub fn next(self) -> Period {
        Period::ALL[(self as usize + 1) % Period::ALL.len()]
    }

    /// The midnight from which on firings are asked for.
    pub fn since(self, now: Moment, zone: &dyn Zone) -> Option<Moment> {
        let today = zone.wall(now).date();
        let first = match self {
            Period::All => None,
            Period::ThisYear => NaiveDate::from_ymd_opt(today.year(), 1, 1),
            Period::TwelveMonths => today.checked_sub_months(Months::new(12)),
            Period::NinetyDays => today.checked_sub_days(Days::new(90)),
        };
        let midnight = first?.and_time(NaiveTime::MIN);
        // Where the clock was put forward over midnight, the same in universal time is near enough.
        let universal = Moment(midnight.and_utc().timestamp_millis());
        Some(zone.moments(midnight).earliest().unwrap_or(universal))
    }
}

impl Review {
    /// What is asked of the shop for it.
    pub fn question(&self, now: Moment, dial: &Dial<'_>) -> ReviewQuestion {
        let asked = Asked {
            since: self.period.since(now, dial.zone),
            kiln: self.kiln.clone(),
            ..Asked::default()
        };
        ReviewQuestion { asked, now, ahead: ahead(now, dial.zone) }
    }

    /// Whether nothing is left out.
    pub fn is_whole(&self) -> bool {
        self.kiln.is_none() && self.period == Period::All
    }

    /// The rows of the page.
    pub fn page_rows(&self) -> Vec<ReviewRow<'_>> {
        self.scene.as_ref().map_or_else(Vec::new, |scene| scene.rows(self.page, self.way))
    }

    /// The row somebody is at.
    pub fn row(&self) -> Option<ReviewRow<'_>> {
        let rows = self.page_rows();
        rows.get(self.rows.at.min(rows.len().saturating_sub(1))).copied()
    }

    /// The firings behind that row, the youngest first.
    pub fn behind(&self) -> Vec<FiringId> {
        let (Some(scene), Some(row)) = (&self.scene, self.row()) else { return Vec::new() };
        let table = words::tables::row_table(&row, Scale::Celsius, scene.ahead);
        table.rows.into_iter().flat_map(|row| row.firings).rev().collect()
    }

    /// What a click picks from.
    pub fn pick(&mut self) -> &mut Pick {
        self.why.as_mut().unwrap_or(&mut self.rows)
    }

    /// Goes to another page, to its first row.
    pub fn turn(&mut self, back: bool) {
        let bench = self.scene.as_ref().is_some_and(|scene| scene.bench.is_some());
        self.page = self.page.next(back, bench);
        self.way = 0;
        self.rows.at = 0;
    }

    /// The kiln after the one asked for, by name; all of them after the last.
    pub fn next_kiln(&mut self, scene: &Scene) {
        let mut names: Vec<&String> = scene.kilns.iter().map(|kiln| &kiln.kiln).collect();
        names.sort_unstable();
        let next = match &self.kiln {
            None => names.first(),
            Some(kiln) => names.iter().find(|name| **name > kiln),
        };
        self.kiln = next.map(|name| (*name).clone());
    }
}
