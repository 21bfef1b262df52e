//! What casts teach: how they came out by mould, by weekday of pouring and by slip, and whether a mould
//! lets go later than it did.

use std::collections::BTreeMap;

use chrono::Datelike as _;

use super::calendar::wall;
use super::charts::Chart;
use super::drift::{Drift, Measure};
use super::ledger::Asked;
use super::wilson::Share;
use crate::casting::casts::Cast;
use crate::casting::{Casting, Found, Learned};
use crate::units::Span;

/// Casts after which plaster is likely worn (from the trade: EP 0211653). What is seen of a mould counts for
/// more.
pub const LIFE: usize = 80;

closed! {
    /// What casts are told apart by.
    pub enum CastsBy {
        Mould => "mould",
        Weekday => "weekday poured",
        Body => "slip",
    }
}

/// The casts of one group that were opened and noted.
#[derive(Debug, Clone, PartialEq)]
pub struct Casts {
    pub group: String,
    pub forced: usize,
    pub cracked: usize,
    /// Either of them.
    pub missed: Share,
    /// Whether surely more than among all casts.
    pub is_worse: bool,
    /// Whether its mould lets go later than it did.
    pub is_later: bool,
    /// Whether its mould has had as many casts as plaster usually lasts.
    pub is_old: bool,
}

/// Every answer of it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BenchReview {
    pub groups: Vec<(CastsBy, Vec<Casts>)>,
    /// How much later each mould let go than was expected.
    pub drifts: Vec<Drift>,
}

impl CastsBy {
    /// The place of a cast's group among the groups, and its name.
    fn group(self, casting: &Casting, cast: &Cast, ahead: Span) -> Option<(u32, String)> {
        Some(match self {
            CastsBy::Mould => (0, casting.moulds[cast.mould].code.clone()),
            CastsBy::Weekday => {
                let day = wall(cast.poured?, ahead).weekday();
                (day.num_days_from_monday(), day.to_string())
            }
            CastsBy::Body => (0, casting.bodies[cast.body?].clone()),
        })
    }
}

impl BenchReview {
    /// Of the casts drained in the period asked for, where the wall clock is ahead of UTC by `ahead`.
    pub fn of(casting: &Casting, asked: &Asked, ahead: Span) -> BenchReview {
        let in_period = |cast: &Cast| {
            asked.since.is_none_or(|since| cast.drained >= since)
                && asked.until.is_none_or(|until| cast.drained < until)
        };
        let residuals = Learned::new(casting).residuals(casting);
        let drift = |mould: usize| {
            let of_mould = residuals.iter().filter(|(cast, _)| cast.mould == mould);
            let known: Vec<_> = of_mould.filter(|(cast, _)| in_period(cast)).collect();
            let values: Vec<f64> = known.iter().map(|(_, late)| 100.0 * late).collect();
            Drift {
                measure: Measure::LetsGo,
                kiln: casting.moulds[mould].code.clone(),
                load_type: None,
                when: known.iter().map(|(cast, _)| cast.drained).collect(),
                firings: Vec::new(),
                anew: None,
                chart: Chart::of(&values),
                values,
            }
        };
        let in_use = (0..casting.moulds.len()).filter(|at| casting.moulds[*at].retired.is_empty());
        let drifts: Vec<Drift> = in_use.map(drift).filter(|it| !it.values.is_empty()).collect();
        let opened = |cast: &&Cast| cast.emptied.is_some_and(|(_, found)| found.is_some());
        let casts: Vec<&Cast> =
            casting.casts.iter().filter(opened).filter(|cast| in_period(cast)).collect();
        let all = missed(&casts);
        let groups = CastsBy::ALL.map(|by| {
            let mut groups: BTreeMap<(u32, String), Vec<&Cast>> = BTreeMap::new();
            for cast in &casts {
                if let Some(group) = by.group(casting, cast, ahead) {
                    groups.entry(group).or_default().push(cast);
                }
            }
            let group = |((_, group), casts): ((u32, String), Vec<&Cast>)| {
                let of_mould = by == CastsBy::Mould;
                let is_later = |drift: &Drift| {
                    drift.kiln == group && drift.signal().is_some_and(|signal| signal.change > 0.0)
                };
                let missed = missed(&casts);
                Casts {
                    forced: count(&casts, Found::Forced),
                    cracked: count(&casts, Found::Cracked),
                    missed,
                    is_worse: missed.says_something() && Some(missed.low) > all.value(),
                    is_later: of_mould && drifts.iter().any(is_later),
                    is_old: of_mould && casting.poured(casts[0].mould) >= LIFE,
                    group,
                }
            };
            (by, groups.into_iter().map(group).collect())
        });
        BenchReview { groups: groups.to_vec(), drifts }
    }

    /// The groups of one way to tell casts apart.
    pub fn by(&self, by: CastsBy) -> &[Casts] {
        let found = self.groups.iter().find(|(of, _)| *of == by);
        found.map_or(&[], |(_, groups)| groups)
    }

    /// Forced or cracked, of all that were opened.
    pub fn missed(&self) -> Share {
        let shares = || self.by(CastsBy::Mould).iter().map(|group| group.missed);
        Share::new(shares().map(|share| share.hits).sum(), shares().map(|share| share.of).sum())
    }
}

fn count(casts: &[&Cast], found: Found) -> usize {
    casts.iter().filter(|cast| cast.emptied.is_some_and(|(_, was)| was == Some(found))).count()
}

fn missed(casts: &[&Cast]) -> Share {
    Share::new(count(casts, Found::Forced) + count(casts, Found::Cracked), casts.len())
}
