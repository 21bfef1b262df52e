//! What past firings teach, as there is to see: every answer of the review for the firings asked
//! for, page by page and row by row.

use std::collections::{BTreeMap, BTreeSet};

use chrono::Datelike as _;

use super::PastFiring;
use crate::firing::mark::When;
use crate::firing::{FiringId, Verdict};
use crate::review::bench::{BenchReview, Casts, CastsBy};
use crate::review::calendar::wall;
use crate::review::cost::{Costs, costs};
use crate::review::decoration::{Decoration, decorations};
use crate::review::drift::{Drift, Measure, ProbeOffset, drifts, probe_offsets};
use crate::review::evenness::{Evenness, evenness};
use crate::review::late::late_looks;
use crate::review::ledger::Asked;
use crate::review::outcomes::{By, Outcomes, Overshoot, WentWith, outcomes, overshoots, went_with};
use crate::review::own_record::OwnRecord;
use crate::review::prices::Prices;
use crate::review::suggestion::Corrections;
use crate::review::tolerance::{Side, Tolerance, tolerances};
use crate::review::wilson::Share;
use crate::review::{Facts, Ledger, Suggestion};
use crate::units::{Moment, Span};

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
    /// Shown where a shop has moulds.
    Bench,
}

/// Every answer of the review.
#[derive(Debug, Clone, PartialEq)]
pub struct ReviewScene {
    /// The firings asked for, by their number.
    pub past: BTreeMap<FiringId, PastFiring>,
    pub ahead: Span,
    /// The good loads among those that were judged.
    pub good: Share,
    /// The good ones of the pieces that were counted.
    pub pieces: Share,
    /// Whether the windows told before them held the drops, and those kept at each time.
    pub own_record: OwnRecord,
    pub windows: [(When, OwnRecord); 3],
    pub outcomes: Vec<(By, Vec<Outcomes>)>,
    pub overshoots: Vec<Overshoot>,
    pub went_with: Vec<WentWith>,
    pub late: Vec<WentWith>,
    pub drifts: Vec<Drift>,
    pub probes: Vec<ProbeOffset>,
    /// The kilns whose suggested correction was accepted after the last firing that speaks for it: it
    /// shows from the next one on, and is not suggested again until then.
    pub accepted: Vec<String>,
    pub tolerances: Vec<Tolerance>,
    /// By load type, the overshoot in cones and the verdict of every firing that its tolerance was
    /// learned from.
    pub cases: BTreeMap<String, Vec<(f64, Verdict)>>,
    pub maps: Vec<Evenness>,
    pub costs: Vec<(By, Vec<Costs>)>,
    pub all_costs: Costs,
    /// The part of them that was lit in the year it is now.
    pub this_year: Costs,
    /// What a piece costs by how it is decorated.
    pub decorations: Vec<Decoration>,
    /// Whether there is a list of prices.
    pub priced: bool,
    pub bench: Option<BenchReview>,
}

/// One row of a page.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ReviewRow<'a> {
    Outcomes(By, &'a Outcomes),
    WentWith(&'a WentWith),
    Overshoot(&'a Overshoot),
    /// A probe, and whether its correction was accepted already.
    Probe(&'a ProbeOffset, bool),
    Series(&'a Drift),
    Edge(&'a Tolerance, Side),
    /// A place of a kiln, by its index in the map.
    Place(&'a Evenness, usize),
    Costs(By, &'a Costs),
    Decoration(&'a Decoration),
    Casts(CastsBy, &'a Casts),
}

impl Page {
    pub const ALL: [Page; 6] =
        [Page::Outcomes, Page::Drift, Page::Tolerance, Page::Evenness, Page::Cost, Page::Bench];

    /// Those there are with a bench and without.
    pub fn all(bench: bool) -> &'static [Page] {
        if bench { &Page::ALL } else { &Page::ALL[..Page::ALL.len() - 1] }
    }

    /// The next page, or the one before; the first after the last.
    pub fn next(self, back: bool, bench: bool) -> Page {
        let all = Page::all(bench);
        let here = all.iter().position(|page| *page == self).unwrap_or(0);
        all[(here + if back { all.len() - 1 } else { 1 }) % all.len()]
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
        let year = |at: Moment| wall(at, ledger.ahead).year();
        let of_year: Vec<&Facts> =
            facts.iter().copied().filter(|f| year(f.lit) == year(question.now)).collect();
        let outcomes = By::ALL.map(|by| (by, outcomes(ledger.ahead, &facts, by))).to_vec();
        let tolerances = tolerances(&ledger, &facts);
        let probes = probe_offsets(&facts, corrections);
        let is_accepted = |probe: &&ProbeOffset| {
            let correction = |at| corrections.at(&probe.kiln, at);
            probe.suggestion.is_some() && correction(question.now) != correction(probe.last)
        };
        let accepted = probes.iter().filter(is_accepted).map(|probe| probe.kiln.clone()).collect();
        ReviewScene {
            past: facts.iter().map(|f| (f.id, past(f))).collect(),
            ahead: ledger.ahead,
            good: all(&outcomes, |group| group.good),
            pieces: all(&outcomes, |group| group.pieces),
            own_record: OwnRecord::of_facts(&facts, None),
            windows: When::ALL.map(|when| (when, OwnRecord::of_facts(&facts, Some(when)))),
            outcomes,
            overshoots: overshoots(&facts),
            went_with: went_with(&facts),
            late: late_looks(&ledger, &facts),
            drifts: drifts(&facts, corrections),
            probes,
            accepted,
            cases: tolerances
                .iter()
                .map(|row| (row.load_type.clone(), cases(&ledger, row)))
                .collect(),
            tolerances,
            maps: evenness(&facts),
            costs: By::COSTS.map(|by| (by, costs(&ledger, &facts, prices, by))).to_vec(),
            all_costs: Costs::of("all".to_owned(), &facts, &ledger, prices),
            this_year: Costs::of("this year".to_owned(), &of_year, &ledger, prices),
            decorations: decorations(&ledger, (&known.lots, &facts), prices, question.now),
            priced: !prices.is_empty(),
            bench: None,
        }
    }

    /// In how many ways the rows of a page can be told apart.
    pub fn ways(page: Page) -> usize {
        match page {
            Page::Outcomes => By::ALL.len(),
            Page::Cost => By::COSTS.len(),
            Page::Bench => CastsBy::ALL.len(),
            Page::Drift | Page::Tolerance | Page::Evenness => 1,
        }
    }

    /// The rows of a page, told apart in this way (counted from 0, and round again).
    pub fn rows<'a>(&'a self, page: Page, way: usize) -> Vec<ReviewRow<'a>> {
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
                let (first, last): (Vec<_>, Vec<_>) =
                    self.probes.iter().partition(|probe| probe.suggestion.is_some());
                let probe = |probe: &'a ProbeOffset| {
                    ReviewRow::Probe(probe, self.accepted.contains(&probe.kiln))
                };
                let series = self.clearest_first().into_iter().map(ReviewRow::Series);
                first
                    .into_iter()
                    .map(probe)
                    .chain(series)
                    .chain(last.into_iter().map(probe))
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
                let costs = all.chain(groups).map(|group| ReviewRow::Costs(*by, group));
                costs.chain(self.decorations.iter().map(ReviewRow::Decoration)).collect()
            }
            Page::Bench => {
                let Some(bench) = &self.bench else { return Vec::new() };
                let by = CastsBy::ALL[way];
                bench.by(by).iter().map(|group| ReviewRow::Casts(by, group)).collect()
            }
        }
    }

    /// The series that have changed first, the clearest change at the top.
    pub fn clearest_first(&self) -> Vec<&Drift> {
        let mut drifts: Vec<&Drift> = self.drifts.iter().collect();
        // Within the same, those with the most firings say the most.
        drifts.sort_by_key(|drift| std::cmp::Reverse(drift.values.len()));
        drifts.sort_by(|a, b| clearness(b).total_cmp(&clearness(a)));
        drifts
    }

    /// The series of this mould.
    pub fn mould_series(&self, code: &str) -> Option<&Drift> {
        self.bench.as_ref()?.drifts.iter().find(|drift| drift.kiln == code)
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
    learned.filter_map(|f| Some((f.overshoot_cones?.best, f.judged()?))).collect()
}

/// All groups of one way together.
fn all(outcomes: &[(By, Vec<Outcomes>)], share: fn(&Outcomes) -> Share) -> Share {
    let groups = outcomes.first().map_or(&[] as &[Outcomes], |(_, groups)| groups);
    let shares = || groups.iter().map(share);
    Share::new(shares().map(|share| share.hits).sum(), shares().map(|share| share.of).sum())
}

/// How many standard deviations a change is, 0 for none.
fn clearness(drift: &Drift) -> f64 {
    let sigma = drift.chart.as_ref().map(|chart| chart.in_control.sigma);
    drift.signal().zip(sigma).map_or(0.0, |(signal, sigma)| (signal.change / sigma).abs())
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
    /// The change that the row suggests.
    pub fn suggestion(&self) -> Option<&'a Suggestion> {
        match *self {
            ReviewRow::Probe(probe, false) => probe.suggestion.as_ref(),
            ReviewRow::Edge(row, _) => row.suggestion.as_ref(),
            _ => None,
        }
    }
}
