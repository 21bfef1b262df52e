//! The tables of the review: which of them answers which question, the same for page, command and print.

use super::tables;
use crate::review::Table;
use crate::review::bench::CastsBy;
use crate::review::outcomes::By;
use crate::scene::{Page, ReviewScene};
use crate::units::Scale;
use crate::words;

/// One table of the review.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ReviewTable {
    Outcomes(By),
    Overshoots,
    WentWith,
    Windows,
    Drift,
    Probes,
    Tolerance,
    Evenness,
    Costs(By),
    LateLooks,
    /// With the other price of a gram of gold, or a quarter dearer.
    Decorations(Option<f64>),
    Casts(CastsBy),
    MouldDrift,
}

impl ReviewTable {
    /// The tables of a page whose rows are told apart in this way.
    pub fn of_page(page: Page, way: usize) -> Vec<ReviewTable> {
        use ReviewTable::*;
        match page {
            Page::Outcomes => vec![Outcomes(By::ALL[way]), Overshoots, WentWith, Windows],
            Page::Drift => vec![Drift, Probes],
            Page::Tolerance => vec![Tolerance],
            Page::Evenness => vec![Evenness],
            Page::Cost => vec![Costs(By::COSTS[way]), LateLooks, Decorations(None)],
            Page::Bench => vec![Casts(CastsBy::ALL[way]), MouldDrift],
        }
    }

    /// Every table of the kilns.
    pub fn all() -> Vec<ReviewTable> {
        use ReviewTable::*;
        let mut all = By::ALL.map(Outcomes).to_vec();
        all.extend([Overshoots, WentWith, LateLooks, Windows]);
        all.extend([Drift, Probes, Tolerance, Evenness]);
        all.extend(By::COSTS.map(Costs));
        all.push(Decorations(None));
        all
    }

    /// Whether not every shop has what it tells of; it has a command of its own.
    pub fn is_apart(self) -> bool {
        matches!(self, ReviewTable::Windows | ReviewTable::Decorations(_))
    }

    pub fn table(self, scene: &ReviewScene, scale: Scale) -> Table {
        match self {
            ReviewTable::Outcomes(by) => tables::outcomes(by, of(&scene.outcomes, by)),
            ReviewTable::Overshoots => tables::overshoots(&scene.overshoots),
            ReviewTable::WentWith => tables::went_with(&scene.went_with),
            ReviewTable::Windows => {
                let mut table = tables::windows(&scene.windows);
                table.remarks.extend(words::held_line(scene.own_record.told, words::DROPS));
                table.remarks.extend(words::width_line(&scene.own_record));
                table
            }
            ReviewTable::Drift => tables::drift(&scene.drifts, scale, scene.ahead),
            ReviewTable::Probes => tables::probes(&scene.probes, scale),
            ReviewTable::Tolerance => tables::tolerance(&scene.tolerances),
            ReviewTable::Evenness => tables::evenness(&scene.maps, scale),
            ReviewTable::Costs(by) => {
                let groups = of(&scene.costs, by).iter().chain([&scene.all_costs]);
                tables::costs(by, &groups.cloned().collect::<Vec<_>>())
            }
            ReviewTable::LateLooks => tables::late_looks(&scene.late),
            ReviewTable::Decorations(gold) => tables::decorations(&scene.decorations, gold),
            ReviewTable::Casts(by) => {
                tables::casts(by, scene.bench.as_ref().map_or(&[], |bench| bench.by(by)))
            }
            ReviewTable::MouldDrift => {
                let drifts = scene.bench.as_ref().map_or(&[][..], |bench| &bench.drifts);
                tables::drift(drifts, scale, scene.ahead)
            }
        }
    }
}

/// The groups of one way to tell firings apart.
fn of<T>(ways: &[(By, Vec<T>)], by: By) -> &[T] {
    ways.iter().find(|(known, _)| *known == by).map_or(&[], |(_, groups)| groups)
}
