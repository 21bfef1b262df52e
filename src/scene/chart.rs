//! The charts of the review as data: a bar to a row, and a series under control. The screen draws them
//! in cells, and a picture in lines.

use super::{ReviewRow, ReviewScene};
use crate::review::calendar::day;
use crate::review::charts::{CUT_SIGMA, Chart};
use crate::review::cost::Costs;
use crate::review::drift::Drift;
use crate::review::wilson::Share;
use crate::units::{Scale, Span};

/// A bar of a row, in parts of its axis from 0 to 1; what a row has not is `None`.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Bar {
    /// Filled from here to there.
    pub full: Option<(f64, f64)>,
    /// An amount from 0, and how far another on top of it goes.
    pub amounts: Option<(f64, f64)>,
    pub whiskers: Option<(f64, f64)>,
    pub middle: Option<f64>,
    pub figure: Option<f64>,
}

/// A control chart in the reader's scale.
#[derive(Debug, Clone, PartialEq)]
pub struct Control {
    /// One value to a firing; those beyond `low` and `high` are drawn there.
    pub values: Vec<f64>,
    pub low: f64,
    pub high: f64,
    /// The lower limit of the average, what is usual, the upper limit.
    pub usual: Option<[f64; 3]>,
    /// The average that follows the firings, from this one on.
    pub average: (usize, Vec<f64>),
    /// The firing at which a change began.
    pub began: Option<usize>,
    /// The day of each firing.
    pub days: Vec<String>,
}

impl ReviewRow<'_> {
    /// The bar of the row beside the other rows of its page.
    pub fn bar(&self, scene: &ReviewScene) -> Bar {
        match *self {
            ReviewRow::Outcomes(_, group) => Bar::of_share(group.good),
            ReviewRow::WentWith(row) => Bar::of_share(row.missed_with),
            ReviewRow::Edge(row, side) => {
                // All load types share one axis, cones.
                let both = scene.tolerances.iter().flat_map(|row| [&row.under, &row.over]);
                let widest = both.map(|edge| edge.p975.max(edge.figure)).fold(1.0, f64::max);
                let edge = row.edge(side);
                Bar {
                    whiskers: Some((edge.p025 / widest, edge.p975 / widest)),
                    middle: Some(edge.p50 / widest),
                    figure: Some(edge.figure / widest),
                    ..Bar::default()
                }
            }
            ReviewRow::Place(map, at) => {
                // From the middle of the kiln to the left where it is colder, to the right where hotter.
                let apart = map.places.iter().map(|place| place.differs_c.abs());
                let end = 0.5 + 0.5 * map.places[at].differs_c / apart.fold(1.0, f64::max);
                let full = Some((end.min(0.5), end.max(0.5)));
                Bar { full, figure: Some(0.5), ..Bar::default() }
            }
            ReviewRow::Costs(_, group) => {
                let sum = |group: &Costs| group.total + group.lost.total();
                let whole = sum(&scene.all_costs);
                let amounts = (group.total / whole, sum(group) / whole);
                Bar { amounts: (whole > 0.0).then_some(amounts), ..Bar::default() }
            }
            ReviewRow::Casts(_, group) => Bar::of_share(group.missed),
            ReviewRow::Overshoot(_)
            | ReviewRow::Probe(..)
            | ReviewRow::Series(_)
            | ReviewRow::Decoration(_) => Bar::default(),
        }
    }
}

impl Bar {
    /// A share with its interval; nothing where there are too few to say one.
    fn of_share(share: Share) -> Bar {
        let said = share.value().filter(|_| share.says_something());
        said.map_or_else(Bar::default, |value| Bar {
            full: (value > 0.0).then_some((0.0, value)),
            whiskers: Some((share.low, share.high)),
            ..Bar::default()
        })
    }
}

impl Control {
    /// The chart of a series.
    pub fn of(drift: &Drift, scale: Scale, ahead: Span) -> Control {
        let shown = |value: f64| drift.measure.shown(value, scale);
        let values: Vec<f64> = drift.values.iter().copied().map(shown).collect();
        let chart = drift.chart.as_ref();
        let around = |sigmas: f64| {
            chart.map(|chart| {
                let usual = chart.in_control;
                [-sigmas, 0.0, sigmas].map(|sigmas| shown(usual.mean + sigmas * usual.sigma))
            })
        };
        let usual = around(Chart::limit_sigma());
        // As the chart itself, the picture takes no single wild firing at its word.
        let cut = around(CUT_SIGMA);
        let within = |value: f64| cut.map_or(value, |[low, _, high]| value.clamp(low, high));
        let ends = values.iter().copied().map(within).chain(usual.into_iter().flatten());
        let (low, high) = ends.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
            (low.min(value), high.max(value))
        });
        let (low, high) = if low <= high { (low, high) } else { (0.0, 0.0) };
        // A series that never moved still needs some height.
        let margin = (0.04 * (high - low)).max(0.5);
        let average = chart.map_or_else(Default::default, |chart| {
            let usual = chart.in_control;
            let at = |sigmas: &f64| shown(usual.mean + sigmas * usual.sigma);
            (usual.count, chart.ewma_sigma.iter().map(at).collect())
        });
        Control {
            values,
            low: low - margin,
            high: high + margin,
            usual,
            average,
            began: drift.signal().map(|signal| signal.began_at),
            days: drift.when.iter().map(|at| day(*at, ahead).to_string()).collect(),
        }
    }
}
