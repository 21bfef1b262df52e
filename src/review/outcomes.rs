//! How loads came out, and what went with the bad ones.

use std::collections::BTreeMap;

use super::calendar::Day;
use super::facts::Facts;
use super::ledger::{Ledger, grouped, ids, median};
use super::wilson::{Difference, Share};
use crate::firing::{FiringId, Verdict};

/// A look that saw the target down after nobody had looked for longer than this was late, minutes.
pub const LATE_LOOK_MIN: f64 = 10.0;
/// Off later than this after the target was seen down was late, minutes.
pub const LATE_OFF_MIN: f64 = 3.0;
/// A climb faster than this many times the usual one of the kiln with this load was fast.
pub const FAST_CLIMB: f64 = 1.25;
/// Less than this share of the fullest load of its kind in its kiln is a part load.
pub const PART_LOAD: f64 = 0.6;

/// What firings are told apart by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum By {
    LoadType,
    Kiln,
    Schedule,
    Season,
    Month,
}

/// The outcomes of one group of firings.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcomes {
    pub group: String,
    pub under: Share,
    pub good: Share,
    pub over: Share,
    /// The good share of the later half of the firings, less that of the earlier half.
    pub trend: Option<Difference>,
    pub firings: Vec<FiringId>,
}

/// Something that may go with a bad outcome.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Trait {
    LateLook,
    LateOff,
    FastClimb,
    PartLoad,
    NeverSeenDown,
}

/// How often loads missed with a trait and without it.
#[derive(Debug, Clone, PartialEq)]
pub struct WentWith {
    pub what: Trait,
    pub missed_with: Share,
    pub missed_without: Share,
    /// The first less the second.
    pub difference: Option<Difference>,
    /// The missed firings that had it.
    pub firings: Vec<FiringId>,
}

/// Overshoot of the firings with one verdict: the middle values.
#[derive(Debug, Clone, PartialEq)]
pub struct Overshoot {
    pub verdict: Verdict,
    pub minutes: Option<f64>,
    pub cones: Option<f64>,
    pub firings: Vec<FiringId>,
}

impl By {
    pub const ALL: [By; 5] = [By::LoadType, By::Kiln, By::Schedule, By::Season, By::Month];

    pub fn name(self) -> &'static str {
        match self {
            By::LoadType => "load",
            By::Kiln => "kiln",
            By::Schedule => "schedule",
            By::Season => "season",
            By::Month => "month",
        }
    }
}

impl Trait {
    pub const ALL: [Trait; 5] =
        [Trait::LateLook, Trait::LateOff, Trait::FastClimb, Trait::PartLoad, Trait::NeverSeenDown];

    pub fn name(self) -> &'static str {
        match self {
            Trait::LateLook => "late look",
            Trait::LateOff => "late off",
            Trait::FastClimb => "fast climb",
            Trait::PartLoad => "part load",
            Trait::NeverSeenDown => "never seen down",
        }
    }

    /// What the word means here.
    pub fn meaning(self) -> String {
        match self {
            Trait::LateLook => format!(
                "the target was found down after more than {LATE_LOOK_MIN} minutes without a look"
            ),
            Trait::LateOff => {
                format!("off came more than {LATE_OFF_MIN} minutes after the target was seen down")
            }
            Trait::FastClimb => format!(
                "the final climb was more than {FAST_CLIMB} times the usual one of this kiln with this load"
            ),
            Trait::PartLoad => format!(
                "fewer than {:.0} % of the most pieces of this load in this kiln",
                PART_LOAD * 100.0
            ),
            Trait::NeverSeenDown => "off came before anybody saw the target down".to_owned(),
        }
    }
}

/// Under, good and over in each group; groups without an outcome are left out.
pub fn outcomes(ledger: &Ledger, facts: &[&Facts], by: By) -> Vec<Outcomes> {
    let judged: Vec<&Facts> = facts.iter().copied().filter(|f| f.verdict.is_some()).collect();
    let month = |facts: &Facts| Day::of(facts.lit, ledger.ahead).month();
    match by {
        By::LoadType => of_groups(grouped(&judged, |f| Some(f.load_type.clone()))),
        By::Kiln => of_groups(grouped(&judged, |f| Some(f.kiln.clone()))),
        By::Schedule => of_groups(grouped(&judged, |f| {
            Some(f.schedule.clone().unwrap_or_else(|| "none".to_owned()))
        })),
        By::Season => of_groups(grouped(&judged, |f| Some(month(f).season()))),
        By::Month => of_groups(grouped(&judged, |f| Some(month(f)))),
    }
}

fn of_groups<K: Ord + ToString>(groups: BTreeMap<K, Vec<&Facts>>) -> Vec<Outcomes> {
    groups.into_iter().map(|(key, facts)| Outcomes::of(key.to_string(), &facts)).collect()
}

fn share(facts: &[&Facts], verdict: Verdict) -> Share {
    let hits = facts.iter().filter(|facts| facts.verdict == Some(verdict)).count();
    Share::new(hits, facts.len())
}

impl Outcomes {
    fn of(group: String, facts: &[&Facts]) -> Outcomes {
        let (earlier, later) = facts.split_at(facts.len() / 2);
        let (before, after) = (share(earlier, Verdict::Good), share(later, Verdict::Good));
        let enough = before.says_something() && after.says_something();
        Outcomes {
            group,
            under: share(facts, Verdict::Under),
            good: share(facts, Verdict::Good),
            over: share(facts, Verdict::Over),
            trend: if enough { after.less(before) } else { None },
            firings: ids(facts),
        }
    }
}

/// Which traits each firing had, as far as is known; `None` where it cannot be told.
fn had<'a>(facts: &[&'a Facts]) -> impl Fn(&'a Facts, Trait) -> Option<bool> + use<'a> {
    let pairs = grouped(facts, |f| Some((f.kiln.clone(), f.load_type.clone())));
    let usual: BTreeMap<(String, String), (Option<f64>, Option<u32>)> = pairs
        .into_iter()
        .map(|(pair, facts)| {
            let climb = median(facts.iter().filter_map(|f| f.final_climb).map(|climb| climb.0));
            (pair, (climb, facts.iter().filter_map(|f| f.pieces).max()))
        })
        .collect();
    move |facts, what| {
        let (climb, fullest) = usual[&(facts.kiln.clone(), facts.load_type.clone())];
        match what {
            Trait::LateLook => {
                facts.drop.map(|drop| drop.gap_minutes().is_none_or(|gap| gap > LATE_LOOK_MIN))
            }
            Trait::LateOff => {
                let late = (facts.off? - facts.drop?.by).as_minutes();
                Some(late > LATE_OFF_MIN)
            }
            Trait::FastClimb => Some(facts.final_climb?.0 > FAST_CLIMB * climb?),
            Trait::PartLoad => Some(f64::from(facts.pieces?) < PART_LOAD * f64::from(fullest?)),
            Trait::NeverSeenDown => (facts.looks > 0).then_some(facts.drop.is_none()),
        }
    }
}

/// For each trait, how often loads missed with it and without it.
pub fn went_with(facts: &[&Facts]) -> Vec<WentWith> {
    let judged: Vec<&Facts> = facts.iter().copied().filter(|f| f.verdict.is_some()).collect();
    let had = had(&judged);
    let missed = |facts: &Facts| facts.verdict != Some(Verdict::Good);
    let went_with = |what: Trait| {
        let (mut with, mut without) = (Vec::new(), Vec::new());
        for &facts in &judged {
            match had(facts, what) {
                Some(true) => with.push(facts),
                Some(false) => without.push(facts),
                None => {}
            }
        }
        let count = |group: &[&Facts]| {
            Share::new(group.iter().filter(|facts| missed(facts)).count(), group.len())
        };
        let (missed_with, missed_without) = (count(&with), count(&without));
        with.retain(|facts| missed(facts));
        let difference = missed_with.less(missed_without);
        WentWith { what, missed_with, missed_without, difference, firings: ids(&with) }
    };
    Trait::ALL.into_iter().map(went_with).collect()
}

impl WentWith {
    /// Whether it can be said that this goes with a miss.
    pub fn is_clear(&self) -> bool {
        self.missed_with.of >= super::wilson::FEWEST_TO_SAY
            && self.missed_without.of >= super::wilson::FEWEST_TO_SAY
            && self.difference.is_some_and(Difference::is_clear)
    }
}

/// The middle overshoot for each verdict.
pub fn overshoots(facts: &[&Facts]) -> Vec<Overshoot> {
    let of = |verdict: Verdict| {
        let facts: Vec<&Facts> =
            facts.iter().copied().filter(|f| f.verdict == Some(verdict)).collect();
        let minutes = facts.iter().filter_map(|f| f.overshoot_minutes).map(|b| b.best);
        let cones = facts.iter().filter_map(|f| f.overshoot_cones).map(|b| b.best);
        Overshoot { verdict, minutes: median(minutes), cones: median(cones), firings: ids(&facts) }
    };
    Verdict::ALL.into_iter().map(of).collect()
}
