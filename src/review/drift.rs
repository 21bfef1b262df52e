//! Whether a kiln or its probe has changed.
//!
//! Four series, each with its own chart: time to the drop, final climb and soak for each kiln and
//! load type, and the probe against the cones for each kiln.

use statrs::distribution::{ContinuousCDF, StudentsT};

use super::charts::{Chart, Signal};
use super::facts::Facts;
use super::ledger::{grouped, ids};
use super::suggestion::{Change, Corrections, Suggestion};
use crate::firing::FiringId;
use crate::units::{Moment, Scale};

closed! {
    /// What is watched.
    #[derive(PartialOrd, Ord, Hash)]
    pub enum Measure {
        /// Minutes from lit to the drop.
        TimeToDrop => "time to the drop",
        /// C/h over the last 100 C.
        FinalClimb => "final climb",
        /// Minutes within 5 C of the top.
        Soak => "soak",
        /// C that the probe reads above what the cones say.
        ProbeHigh => "probe against the cones",
        /// Percent that a cast let go later than was expected of it.
        LetsGo => "letting go, against what was expected",
    }
}

/// One series and its chart.
#[derive(Debug, Clone, PartialEq)]
pub struct Drift {
    pub measure: Measure,
    /// The kiln, or the mould.
    pub kiln: String,
    /// `None` for the probe, which does not care what is in the kiln.
    pub load_type: Option<String>,
    pub values: Vec<f64>,
    pub when: Vec<Moment>,
    pub firings: Vec<FiringId>,
    /// When the probe was changed or moved: no earlier firing is in its series.
    pub anew: Option<Moment>,
    /// `None` when the series is too short.
    pub chart: Option<Chart>,
}

/// How far a probe is off, from the cones of its last firings.
#[derive(Debug, Clone, PartialEq)]
pub struct ProbeOffset {
    pub kiln: String,
    /// C the probe reads high with the correction it has; negative when it reads low.
    pub high_c: f64,
    /// Half of a 95 % interval.
    pub plus_or_minus_c: f64,
    pub firings: Vec<FiringId>,
    pub last: Moment,
    pub suggestion: Option<Suggestion>,
}

/// Fewer firings than this say nothing about a probe.
pub const FEWEST_FOR_PROBE: usize = 6;
/// Older firings than the last so many are left out: a probe ages.
pub const NEWEST_FOR_PROBE: usize = 20;
/// A smaller offset is not worth a correction, C: the cone's own tolerance and a little more.
pub const SMALLEST_CORRECTION_C: f64 = 3.0;
/// What all cones of one box may be off by together, C, one standard deviation: half the makers'
/// tolerance of 2 C (from memory). More firings do not make it smaller.
const BOX_OF_CONES_C: f64 = 1.0;

impl Measure {
    pub const OF_KILNS: [Measure; 4] =
        [Measure::TimeToDrop, Measure::FinalClimb, Measure::Soak, Measure::ProbeHigh];

    pub fn unit(self, scale: Scale) -> &'static str {
        match (self, scale) {
            (Measure::TimeToDrop | Measure::Soak, _) => "min",
            (Measure::FinalClimb, Scale::Celsius) => "C/h",
            (Measure::FinalClimb, Scale::Fahrenheit) => "F/h",
            (Measure::ProbeHigh, scale) => scale.letter(),
            (Measure::LetsGo, _) => "%",
        }
    }

    /// One of its values in that unit.
    pub fn shown(self, value: f64, scale: Scale) -> f64 {
        match self {
            Measure::FinalClimb | Measure::ProbeHigh => scale.degrees(value),
            Measure::TimeToDrop | Measure::Soak | Measure::LetsGo => value,
        }
    }

    fn value(self, facts: &Facts) -> Option<f64> {
        match self {
            Measure::TimeToDrop => facts.minutes_to_drop,
            Measure::FinalClimb => facts.final_climb.map(|climb| climb.0),
            Measure::Soak => facts.soak_minutes,
            // A correction is no change of the probe.
            Measure::ProbeHigh => facts.probe_itself_high_c(),
            Measure::LetsGo => None,
        }
    }

    /// Where to look when it has changed; common practice, no source.
    pub fn where_to_look(self, up: bool) -> &'static str {
        match (self, up) {
            (Measure::TimeToDrop, true) | (Measure::FinalClimb, false) => {
                "burner, gas pressure, damper or elements?"
            }
            (Measure::TimeToDrop, false) | (Measure::FinalClimb, true) => {
                "lighter loads, another burner setting, or new elements?"
            }
            (Measure::Soak, _) => "another schedule, or a kiln that no longer reaches its top?",
            (Measure::LetsGo, true) => "worn or damp plaster, or another slip?",
            (Measure::LetsGo, false) => "drier plaster, a thinner wall, or another slip?",
            (Measure::ProbeHigh, _) => "the probe, its wire, its place, or another box of cones?",
        }
    }
}

/// Every series of these firings, longest known first within a measure; that of a probe begins anew
/// where `corrections` say it was changed.
pub fn drifts(facts: &[&Facts], corrections: &Corrections) -> Vec<Drift> {
    let mut drifts = Vec::new();
    for measure in Measure::OF_KILNS {
        let load_type = |f: &Facts| (measure != Measure::ProbeHigh).then(|| f.load_type.clone());
        for ((kiln, load_type), group) in grouped(facts, |f| Some((f.kiln.clone(), load_type(f)))) {
            let anew = (measure == Measure::ProbeHigh)
                .then(|| corrections.probe_since(&kiln, Moment(i64::MAX)))
                .flatten();
            drifts.extend(Drift::of(measure, kiln, load_type, &group, anew));
        }
    }
    drifts
}

impl Drift {
    fn of(
        measure: Measure,
        kiln: String,
        load_type: Option<String>,
        facts: &[&Facts],
        anew: Option<Moment>,
    ) -> Option<Drift> {
        let known: Vec<(&Facts, f64)> = facts
            .iter()
            .filter(|f| Some(f.lit) >= anew)
            .filter_map(|f| Some((*f, measure.value(f)?)))
            .collect();
        if known.is_empty() && anew.is_none() {
            return None;
        }
        let values: Vec<f64> = known.iter().map(|(_, value)| *value).collect();
        Some(Drift {
            measure,
            kiln,
            load_type,
            when: known.iter().map(|(f, _)| f.lit).collect(),
            firings: known.iter().map(|(f, _)| f.id).collect(),
            anew,
            chart: Chart::of(&values),
            values,
        })
    }

    pub fn signal(&self) -> Option<Signal> {
        self.chart.as_ref()?.signal
    }

    /// When the change began, if there is one.
    pub fn since(&self) -> Option<Moment> {
        self.signal().and_then(|signal| self.when.get(signal.began_at).copied())
    }

    /// The firings since the change, or all of them.
    pub fn evidence(&self) -> Vec<FiringId> {
        let from = self.signal().map_or(0, |signal| signal.began_at);
        self.firings.get(from..).unwrap_or_default().to_vec()
    }
}

/// How far each kiln's probe is off, from its newest firings; those before a change that was written
/// down, or that the chart has found, are left out.
pub fn probe_offsets(facts: &[&Facts], corrections: &Corrections) -> Vec<ProbeOffset> {
    let kilns = grouped(facts, |f| Some(f.kiln.clone()));
    let offset = |(kiln, mut facts): (String, Vec<&Facts>)| {
        let anew = corrections.probe_since(&kiln, Moment(i64::MAX));
        facts.retain(|f| Some(f.lit) >= anew);
        ProbeOffset::of(kiln, &facts)
    };
    kilns.into_iter().filter_map(offset).collect()
}

impl ProbeOffset {
    fn of(kiln: String, facts: &[&Facts]) -> Option<ProbeOffset> {
        let in_force_c = facts.last()?.correction_c;
        let mut known: Vec<&Facts> =
            facts.iter().copied().filter(|f| f.probe_high_c.is_some()).collect();
        let series: Vec<f64> = known.iter().filter_map(|f| f.probe_itself_high_c()).collect();
        let changed = Chart::of(&series).and_then(|chart| chart.signal);
        let begins = changed.map_or(0, |signal| signal.began_at);
        // A change just found may have too few firings of its own to say more than that.
        let newest = known.len().saturating_sub(NEWEST_FOR_PROBE);
        known.drain(..begins.max(newest));
        if known.len() < FEWEST_FOR_PROBE {
            return None;
        }
        let (itself_high_c, error) = weighted_mean(&known)?;
        // What is accepted takes the place of what was accepted before.
        let high_c = itself_high_c + in_force_c;
        let freedom = (known.len() - 1) as f64;
        let t = StudentsT::new(0.0, 1.0, freedom).ok()?.inverse_cdf(0.975);
        let plus_or_minus_c =
            ((t * error).powi(2) + (super::wilson::Z_95 * BOX_OF_CONES_C).powi(2)).sqrt();
        let worth_it = high_c.abs() >= SMALLEST_CORRECTION_C && high_c.abs() > plus_or_minus_c;
        let evidence = ids(&known);
        let suggestion = worth_it.then(|| Suggestion {
            change: Change::ProbeCorrection { kiln: kiln.clone(), add_c: -itself_high_c.round() },
            evidence: evidence.clone(),
        });
        let last = known.last()?.lit;
        Some(ProbeOffset { kiln, high_c, plus_or_minus_c, firings: evidence, last, suggestion })
    }
}

/// The mean offset, each firing weighted by how sharply its drop was seen, and its standard error
/// from the scatter that was really there. Single firings are cut at three robust deviations.
fn weighted_mean(known: &[&Facts]) -> Option<(f64, f64)> {
    let high: Vec<(f64, f64)> = known
        .iter()
        .filter_map(|f| Some((f.probe_itself_high_c()?, f.probe_high_c?.spread())))
        .collect();
    let bests: Vec<f64> = high.iter().map(|(best, _)| *best).collect();
    let (middle, deviation) = super::ledger::robust(&bests)?;
    let cut = (3.0 * deviation).max(1.0);
    let weighted: Vec<(f64, f64)> = high
        .iter()
        .map(|(best, spread)| {
            // What differs from firing to firing beside the sight of the drop is about 2 C.
            let weight = 1.0 / (spread.powi(2) + 4.0);
            (best.clamp(middle - cut, middle + cut), weight)
        })
        .collect();
    let total: f64 = weighted.iter().map(|(_, w)| w).sum();
    let mean = weighted.iter().map(|(v, w)| v * w).sum::<f64>() / total;
    let scatter = weighted.iter().map(|(v, w)| w * (v - mean).powi(2)).sum::<f64>() / total;
    let count = weighted.len() as f64;
    Some((mean, (scatter / (count - 1.0)).sqrt()))
}
