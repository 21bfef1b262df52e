//! What past firings teach, as there is to see: every answer of the review for the firings asked
//! for, page by page and row by row.

use std::collections::{BTreeMap, BTreeSet};

use super::PastFiring;
use crate::firing::{FiringId, Verdict};
use crate::review::calendar::Day;
use crate::review::charts::{FEWEST_IN_CONTROL, IN_CONTROL};
use crate::review::cost::{CostBy, Costs, costs};
use crate::review::drift::{Drift, Measure, ProbeOffset, drifts, probe_offsets};
use crate::review::evenness::{Evenness, FEWEST_TO_SAY, evenness};
use crate::review::ledger::Asked;
use crate::review::outcomes::{By, Outcomes, Overshoot, WentWith, outcomes, overshoots, went_with};
use crate::review::own_record::OwnRecord;
use crate::review::prices::Prices;
use crate::review::suggestion::Corrections;
use crate::review::table::Table;
use crate::review::tolerance::{Edge, FEWEST_TO_SUGGEST, Side, Tolerance, tolerances};
use crate::review::wilson::Share;
use crate::review::{Facts, Ledger, Suggestion, tables};
use crate::units::{Moment, Scale, Span};

/// Which firings a review is asked of, when, and what the wall clock is ahead of UTC.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ReviewQuestion {
    pub asked: Asked,
    pub now: Moment,
    pub ahead: Span,
}

/// One page of the review.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Page {
    #[default]
    Outcomes,
    Drift,
    Tolerance,
    Evenness,
    Cost,
}

/// Every answer of the review.
#[derive(Debug, Clone, PartialEq)]
pub struct ReviewScene {
    /// The firings asked for, by their number.
    pub past: BTreeMap<FiringId, PastFiring>,
    pub ahead: Span,
    /// The good loads among those that were judged.
    pub good: Share,
    /// Whether the windows told before them held the drops.
    pub own_record: OwnRecord,
    pub outcomes: Vec<(By, Vec<Outcomes>)>,
    pub overshoots: Vec<Overshoot>,
    pub went_with: Vec<WentWith>,
    /// Those that have changed first, the clearest change at the top.
    pub drifts: Vec<Drift>,
    pub probes: Vec<ProbeOffset>,
    /// The kilns whose correction was accepted after the last firing that speaks for it: it shows
    /// from the next one on, and nothing is suggested until then.
    pub accepted: Vec<String>,
    pub tolerances: Vec<Tolerance>,
    /// By load type, the overshoot in cones and the verdict of every firing that its tolerance was
    /// learned from.
    pub cases: BTreeMap<String, Vec<(f64, Verdict)>>,
    pub maps: Vec<Evenness>,
    pub costs: Vec<(CostBy, Vec<Costs>)>,
    pub all_costs: Costs,
    /// The part of them that was lit in the year it is now.
    pub this_year: Costs,
    /// Whether there is a list of prices.
    pub priced: bool,
}

/// One row of a page.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ReviewRow<'a> {
    Outcomes(By, &'a Outcomes),
    WentWith(&'a WentWith),
    Overshoot(&'a Overshoot),
    Probe(&'a ProbeOffset),
    Series(&'a Drift),
    Edge(&'a Tolerance, Side),
    /// A place of a kiln, by its index in the map.
    Place(&'a Evenness, usize),
    Costs(CostBy, &'a Costs),
}

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

impl Page {
    pub const ALL: [Page; 5] =
        [Page::Outcomes, Page::Drift, Page::Tolerance, Page::Evenness, Page::Cost];

    /// The page so many further, the first after the last.
    pub fn further(self, steps: usize) -> Page {
        let here = Page::ALL.iter().position(|page| *page == self).unwrap_or(0);
        Page::ALL[(here + steps) % Page::ALL.len()]
    }
}

impl ReviewScene {
    /// Works out every answer. `known` holds the digested firings of the whole shop in any order;
    /// those asked for are taken from it as a review of them alone would. `corrections` are those
    /// accepted so far.
    pub fn of(
        known: &Ledger,
        corrections: &Corrections,
        prices: &Prices,
        question: &ReviewQuestion,
    ) -> ReviewScene {
        let taken = known.select(&question.asked).into_iter().cloned().collect();
        let (kilns, load_types) = (known.kilns.clone(), known.load_types.clone());
        let ledger = Ledger::from_facts(taken, kilns, load_types, question.ahead);
        let facts: Vec<&Facts> = ledger.facts.iter().collect();
        let year = |at: Moment| Day::of(at, ledger.ahead).year;
        let of_year: Vec<&Facts> =
            facts.iter().copied().filter(|f| year(f.lit) == year(question.now)).collect();
        let outcomes = By::ALL.map(|by| (by, outcomes(&ledger, &facts, by))).to_vec();
        let tolerances = tolerances(&ledger, &facts);
        let mut probes = probe_offsets(&facts, corrections);
        let mut accepted = Vec::new();
        for probe in probes.iter_mut().filter(|probe| probe.suggestion.is_some()) {
            let correction = |at| corrections.at(&probe.kiln, at);
            if correction(question.now) != correction(probe.last) {
                probe.suggestion = None;
                accepted.push(probe.kiln.clone());
            }
        }
        ReviewScene {
            past: facts.iter().map(|f| (f.id, past(f))).collect(),
            ahead: ledger.ahead,
            good: good(&outcomes),
            own_record: OwnRecord::of_facts(&facts, None),
            outcomes,
            overshoots: overshoots(&facts),
            went_with: went_with(&facts),
            drifts: clearest_first(drifts(&facts, corrections)),
            probes,
            accepted,
            cases: tolerances
                .iter()
                .map(|row| (row.load_type.clone(), cases(&ledger, row)))
                .collect(),
            tolerances,
            maps: evenness(&facts),
            costs: CostBy::ALL.map(|by| (by, costs(&ledger, &facts, prices, by))).to_vec(),
            all_costs: Costs::of("all".to_owned(), &facts, &ledger, prices),
            this_year: Costs::of("this year".to_owned(), &of_year, &ledger, prices),
            priced: !prices.is_empty(),
        }
    }

    /// In how many ways the rows of a page can be told apart.
    pub fn ways(page: Page) -> usize {
        match page {
            Page::Outcomes => By::ALL.len(),
            Page::Cost => CostBy::ALL.len(),
            Page::Drift | Page::Tolerance | Page::Evenness => 1,
        }
    }

    /// The rows of a page, told apart in this way (counted from 0, and round again).
    pub fn rows(&self, page: Page, way: usize) -> Vec<ReviewRow<'_>> {
        let way = way % ReviewScene::ways(page);
        match page {
            Page::Outcomes => {
                let (by, groups) = &self.outcomes[way];
                let groups = groups.iter().map(|group| ReviewRow::Outcomes(*by, group));
                // A trait that no firing had says nothing.
                let had = self.went_with.iter().filter(|row| row.missed_with.of > 0);
                let traits = had.map(ReviewRow::WentWith);
                let overshoots = self.overshoots.iter().filter(|row| !row.firings.is_empty());
                groups.chain(traits).chain(overshoots.map(ReviewRow::Overshoot)).collect()
            }
            Page::Drift => {
                let suggested = |probe: &&ProbeOffset| {
                    probe.suggestion.is_some() || self.accepted.contains(&probe.kiln)
                };
                let first = self.probes.iter().filter(suggested);
                let last = self.probes.iter().filter(|probe| !suggested(probe));
                let series = self.drifts.iter().map(ReviewRow::Series);
                first
                    .map(ReviewRow::Probe)
                    .chain(series)
                    .chain(last.map(ReviewRow::Probe))
                    .collect()
            }
            Page::Tolerance => self
                .tolerances
                .iter()
                .flat_map(|row| [Side::Under, Side::Over].map(|side| ReviewRow::Edge(row, side)))
                .collect(),
            Page::Evenness => self
                .maps
                .iter()
                .flat_map(|map| top_down(map).into_iter().map(|at| ReviewRow::Place(map, at)))
                .collect(),
            Page::Cost => {
                let (by, groups) = &self.costs[way];
                let all = std::iter::once(&self.all_costs).filter(|all| all.loads > 0);
                all.chain(groups).map(|group| ReviewRow::Costs(*by, group)).collect()
            }
        }
    }

    /// The series of this kiln's probe against the cones.
    pub fn probe_series(&self, kiln: &str) -> Option<&Drift> {
        let of_probe = |drift: &&Drift| drift.measure == Measure::ProbeHigh && drift.kiln == kiln;
        self.drifts.iter().find(of_probe)
    }
}

fn past(facts: &Facts) -> PastFiring {
    PastFiring {
        firing: facts.id,
        kiln: facts.kiln.clone(),
        load_type: facts.load_type.clone(),
        target: Some(facts.pack.target),
        begun: facts.lit,
        verdict: facts.verdict,
        note: String::new(),
    }
}

fn cases(ledger: &Ledger, row: &Tolerance) -> Vec<(f64, Verdict)> {
    let learned: BTreeSet<FiringId> = row.firings.iter().copied().collect();
    let learned = ledger.facts.iter().filter(|f| learned.contains(&f.id));
    learned.filter_map(|f| Some((f.overshoot_cones?.best, f.verdict?))).collect()
}

/// All groups of one way together.
fn good(outcomes: &[(By, Vec<Outcomes>)]) -> Share {
    let groups = outcomes.first().map_or(&[] as &[Outcomes], |(_, groups)| groups);
    let sum = |count: fn(&Outcomes) -> usize| groups.iter().map(count).sum();
    Share::new(sum(|group| group.good.hits), sum(|group| group.good.of))
}

/// How many standard deviations a change is, 0 for none.
fn clearness(drift: &Drift) -> f64 {
    let sigma = drift.chart.as_ref().map(|chart| chart.in_control.sigma);
    drift.signal().zip(sigma).map_or(0.0, |(signal, sigma)| (signal.change / sigma).abs())
}

fn clearest_first(mut drifts: Vec<Drift>) -> Vec<Drift> {
    // Within the same, those with the most firings say the most.
    drifts.sort_by_key(|drift| std::cmp::Reverse(drift.values.len()));
    drifts.sort_by(|a, b| clearness(b).total_cmp(&clearness(a)));
    drifts
}

/// The places of a kiln from its top to its floor, as far as their names tell; others between.
fn top_down(map: &Evenness) -> Vec<usize> {
    let height = |place: &str| {
        let has = |words: &[&str]| words.iter().any(|word| place.contains(word));
        match () {
            () if has(&["top", "upper", "roof"]) => 0,
            () if has(&["bottom", "lower", "floor"]) => 2,
            () => 1,
        }
    };
    let mut places: Vec<usize> = (0..map.places.len()).collect();
    places.sort_by_key(|at| (height(&map.places[*at].place), map.places[*at].place.clone()));
    places
}

impl<'a> ReviewRow<'a> {
    /// The row as the tables of the review have it, with its formula and firings.
    pub fn table(&self, scale: Scale, ahead: Span) -> Table {
        use std::slice::from_ref;
        match *self {
            ReviewRow::Outcomes(by, group) => tables::outcomes(by, from_ref(group)),
            ReviewRow::WentWith(row) => tables::went_with(from_ref(row)),
            ReviewRow::Overshoot(row) => tables::overshoots(from_ref(row)),
            ReviewRow::Probe(probe) => tables::probes(from_ref(probe), scale),
            ReviewRow::Series(drift) => tables::drift(from_ref(drift), scale, ahead),
            ReviewRow::Edge(row, side) => {
                let mut table = tables::tolerance(from_ref(row));
                // Under stands first, over second.
                let other = usize::from(side == Side::Under);
                table.rows.remove(other);
                table
            }
            ReviewRow::Place(map, at) => {
                let mut table = tables::evenness(from_ref(map), scale);
                table.rows = table.rows.drain(at..=at).collect();
                table
            }
            ReviewRow::Costs(by, group) => tables::costs(by.title(), by.name(), from_ref(group)),
        }
    }

    /// The change that the row suggests.
    pub fn suggestion(&self) -> Option<&'a Suggestion> {
        match *self {
            ReviewRow::Probe(probe) => probe.suggestion.as_ref(),
            ReviewRow::Edge(row, _) => row.suggestion.as_ref(),
            _ => None,
        }
    }

    pub fn standing(&self) -> Standing {
        match *self {
            ReviewRow::Outcomes(_, group) => of_trend(group),
            ReviewRow::WentWith(row) => of_trait(row),
            ReviewRow::Overshoot(_) | ReviewRow::Costs(..) => Standing::Plain,
            ReviewRow::Probe(probe) if probe.suggestion.is_some() => Standing::Suggested,
            ReviewRow::Probe(_) => Standing::Steady,
            ReviewRow::Series(drift) => of_series(drift),
            ReviewRow::Edge(row, side) => of_edge(side_of(row, side)),
            ReviewRow::Place(map, at) => of_place(map, at),
        }
    }
}

/// One side of a load type.
pub fn side_of(row: &Tolerance, side: Side) -> &Edge {
    match side {
        Side::Under => &row.under,
        Side::Over => &row.over,
    }
}

fn of_trend(group: &Outcomes) -> Standing {
    match group.trend {
        _ if !group.good.says_something() => Standing::TooFew,
        Some(trend) if trend.is_clear() && trend.difference > 0.0 => Standing::Up,
        Some(trend) if trend.is_clear() => Standing::Down,
        _ => Standing::Steady,
    }
}

fn of_trait(row: &WentWith) -> Standing {
    let enough = |share: Share| share.of >= crate::review::wilson::FEWEST_TO_SAY;
    match row.difference {
        Some(difference) if row.is_clear() && difference.difference > 0.0 => Standing::Down,
        Some(_) if row.is_clear() => Standing::Up,
        Some(_) if enough(row.missed_with) && enough(row.missed_without) => Standing::Steady,
        _ => Standing::TooFew,
    }
}

fn of_series(drift: &Drift) -> Standing {
    match (&drift.chart, drift.signal()) {
        // So many values without any scatter make no chart, and nothing to worry about.
        (None, _) if drift.values.len() >= FEWEST_IN_CONTROL => Standing::Steady,
        (None, _) => Standing::TooFew,
        (Some(_), Some(_)) => Standing::Changed,
        (Some(_), None) if drift.values.len() <= IN_CONTROL => Standing::Learning,
        (Some(_), None) => Standing::Steady,
    }
}

fn of_edge(edge: &Edge) -> Standing {
    match edge.suggested() {
        Some(to) if to > edge.figure => Standing::Up,
        Some(_) => Standing::Down,
        None if edge.cases < FEWEST_TO_SUGGEST => Standing::TooFew,
        None => Standing::Steady,
    }
}

fn of_place(map: &Evenness, at: usize) -> Standing {
    match &map.places[at] {
        place if place.firings.len() < FEWEST_TO_SAY => Standing::TooFew,
        _ if at == 0 => Standing::Coldest,
        _ if at + 1 == map.places.len() => Standing::Hottest,
        _ => Standing::Steady,
    }
}
