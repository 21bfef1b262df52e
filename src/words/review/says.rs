//! What is said of a row of the review beside its numbers: in a table, and in a word on the screen.

use crate::review::bench::Casts;
use crate::review::charts::{FEWEST_IN_CONTROL, IN_CONTROL};
use crate::review::drift::Drift;
use crate::review::evenness::{self, Evenness};
use crate::review::outcomes::{Outcomes, WentWith};
use crate::review::tolerance::{Edge, FEWEST_TO_SUGGEST};
use crate::review::wilson::{FEWEST_TO_SAY, Share};
use crate::scene::ReviewRow;

/// What can be said of a row, apart from its numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// As it should be, or as it was.
    Steady,
    /// Better than before, or more than the figure.
    Up,
    /// Worse than before, or less than the figure.
    Down,
    /// It has changed, and somebody has to look into it.
    Changed,
    /// What is usual is still being learned.
    Learning,
    /// Too few firings to say.
    TooFew,
    Hottest,
    Coldest,
    /// A change is suggested and can be accepted.
    Suggested,
    /// Nothing is to be said beside the numbers.
    Plain,
}

/// How a row stands, with its sentence in a table and its word on the screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Says {
    pub standing: Standing,
    pub table: &'static str,
    pub screen: &'static str,
}

const fn says(standing: Standing, table: &'static str, screen: &'static str) -> Says {
    Says { standing, table, screen }
}

const TOO_FEW: Says = says(Standing::TooFew, "too few to say", "too few");

pub(super) fn of_row(row: &ReviewRow<'_>) -> Says {
    match *row {
        ReviewRow::Outcomes(_, group) => of_outcomes(group),
        ReviewRow::WentWith(row) => of_trait(row),
        ReviewRow::Overshoot(_) => says(Standing::Plain, "", ""),
        ReviewRow::Probe(_, true) => says(Standing::Steady, "", "accepted"),
        ReviewRow::Probe(probe, _) if probe.suggestion.is_some() => {
            says(Standing::Suggested, "", "press a")
        }
        ReviewRow::Probe(..) => says(Standing::Steady, "", "as usual"),
        ReviewRow::Series(drift) => of_series(drift),
        ReviewRow::Edge(row, side) => of_edge(row.edge(side)),
        ReviewRow::Place(map, at) => of_place(map, at),
        ReviewRow::Costs(_, group) if group.incomplete > 0 => {
            says(Standing::Plain, "", "part unknown")
        }
        ReviewRow::Decoration(row) if row.total(row.gold_price).is_none() => {
            says(Standing::Plain, "", "part unknown")
        }
        ReviewRow::Costs(..) | ReviewRow::Decoration(_) => says(Standing::Plain, "", ""),
        ReviewRow::Casts(_, group) => of_casts(group),
    }
}

pub(super) fn of_outcomes(group: &Outcomes) -> Says {
    match group.trend {
        _ if !group.good.says_something() => TOO_FEW,
        None => says(Standing::Steady, "too few to say a trend", "steady"),
        Some(trend) if !trend.is_clear() => says(Standing::Steady, "no clear change", "steady"),
        Some(trend) if trend.difference > 0.0 => says(Standing::Up, "better", "better"),
        Some(_) => says(Standing::Down, "worse", "worse"),
    }
}

pub(super) fn of_casts(group: &Casts) -> Says {
    match group {
        _ if group.is_later => {
            says(Standing::Changed, "lets go later than it did: worn plaster?", "later")
        }
        _ if group.is_worse => says(Standing::Down, "more than all together", "more than all"),
        _ if group.is_old => says(
            Standing::Plain,
            "80 casts or more, when plaster is often worn (from the trade)",
            "80 casts",
        ),
        _ if !group.missed.says_something() => TOO_FEW,
        _ => says(Standing::Steady, "as all together", "as all"),
    }
}

pub(super) fn of_trait(row: &WentWith) -> Says {
    let few = |share: Share| share.of < FEWEST_TO_SAY;
    match row.difference {
        None => says(Standing::TooFew, "nothing to compare", "too few"),
        Some(d) if row.is_clear() && d.difference > 0.0 => {
            says(Standing::Down, "goes with misses", "with misses")
        }
        Some(_) if row.is_clear() => says(Standing::Up, "goes with good loads", "with good"),
        Some(_) if few(row.missed_with) || few(row.missed_without) => TOO_FEW,
        Some(_) => says(Standing::Steady, "no clear difference", "no clear link"),
    }
}

pub(super) fn of_series(drift: &Drift) -> Says {
    let count = drift.values.len();
    match (&drift.chart, drift.signal()) {
        // So many values without any scatter make no chart, and nothing to worry about.
        (None, _) if count >= FEWEST_IN_CONTROL => {
            says(Standing::Steady, "too few to say", "as usual")
        }
        (None, _) => TOO_FEW,
        (Some(_), Some(signal)) => {
            let look = drift.measure.where_to_look(signal.change > 0.0);
            says(Standing::Changed, look, "changed")
        }
        (Some(_), None) if count <= IN_CONTROL => {
            says(Standing::Learning, "still learning what is usual", "still learning")
        }
        (Some(_), None) => says(Standing::Steady, "as usual", "as usual"),
    }
}

pub(super) fn of_edge(edge: &Edge) -> Says {
    match edge.suggested() {
        Some(to) if to > edge.figure => {
            says(Standing::Up, "forgives more than is set", "forgives more")
        }
        Some(_) => says(Standing::Down, "forgives less than is set", "forgives less"),
        None if edge.cases < FEWEST_TO_SUGGEST => TOO_FEW,
        None => says(Standing::Steady, "as set", "as set"),
    }
}

pub(super) fn of_place(map: &Evenness, at: usize) -> Says {
    match map.places[at].firings.len() {
        few if few < evenness::FEWEST_TO_SAY => TOO_FEW,
        _ if at == 0 => says(Standing::Coldest, "coldest", "coldest"),
        _ if at + 1 == map.places.len() => says(Standing::Hottest, "hottest", "hottest"),
        _ => says(Standing::Steady, "", "between"),
    }
}
