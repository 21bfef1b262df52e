//! How loads came out, and what went with the bad ones.

use std::collections::{BTreeMap, BTreeSet};

use chrono::Datelike as _;

use super::calendar::{SEASONS, wall};
use super::facts::Facts;
use super::fisher;
use super::ledger::{grouped, ids, median};
use super::wilson::{Difference, Share};
use crate::firing::event::Fullness;
use crate::firing::{FiringId, Verdict};
use crate::units::Span;

/// A look that saw the target down after nobody had looked for longer than this was late, minutes.
pub const LATE_LOOK_MIN: f64 = 10.0;
/// Off later than this after the target was seen down was late, minutes.
pub const LATE_OFF_MIN: f64 = 3.0;
/// A climb faster than this many times the usual one of the kiln with this load was fast.
pub const FAST_CLIMB: f64 = 1.25;
/// Where nobody said how full it was: less than this share of the fullest load of its kind in its kiln is a part load.
pub const PART_LOAD: f64 = 0.6;

/// Drops of two kilns that are no further apart are hard to see both (common practice, no source).
pub const AT_ONCE: Span = Span::minutes(30);

closed! {
    /// What firings are told apart by.
    #[derive(Hash)]
    pub enum By {
        LoadType => "load",
        Kiln => "kiln",
        Schedule => "schedule",
        Season => "season",
        Month => "month",
    }
}

/// The outcomes of one group of firings.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcomes {
    pub group: String,
    pub under: Share,
    pub good: Share,
    pub over: Share,
    /// The good ones of the pieces that were fired and counted.
    pub pieces: Share,
    /// The good share of the later half of the firings, less that of the earlier half.
    pub trend: Option<Difference>,
    pub firings: Vec<FiringId>,
}

closed! {
    /// Something that may go with a bad outcome.
    #[derive(Hash)]
    pub enum Trait {
        LateLook => "late look",
        LateOff => "late off",
        FastClimb => "fast climb",
        PartLoad => "part load",
        NeverSeenDown => "never seen down",
        /// Fired by the schedule named, among loads of the types it was ever used for.
        Schedule => "schedule",
        /// In the kiln named.
        Kiln => "kiln",
        /// With the load type named.
        LoadType => "load",
        /// The drop was in the hours named.
        TimeOfDay => "drop from",
        /// The drop was on a Saturday or Sunday.
        Weekend => "drop at the weekend",
        /// The cone of another kiln went down at about the same time.
        TwoAtOnce => "two drops at once",
    }
}

/// How often loads missed with a trait and without it.
#[derive(Debug, Clone, PartialEq)]
pub struct WentWith {
    pub what: Trait,
    /// Which schedule, kiln, load type or hours.
    pub named: Option<String>,
    /// How many were missed of those that had it: loads, or drops that were found late.
    pub missed_with: Share,
    pub missed_without: Share,
    /// The first less the second.
    pub difference: Option<Difference>,
    /// How probable it is that the two come apart so far by chance alone (Fisher's exact test).
    pub by_chance: f64,
    /// The same, allowing for how many traits were asked about (Holm's step-down).
    pub by_chance_of_all: f64,
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
    /// What costs are told apart by.
    pub const COSTS: [By; 3] = [By::LoadType, By::Kiln, By::Month];

    /// The firings of each group, in the order of the groups, where the wall clock is ahead of UTC by
    /// `ahead`.
    pub fn groups<'a>(self, facts: &[&'a Facts], ahead: Span) -> Vec<(String, Vec<&'a Facts>)> {
        let groups = grouped(facts, |facts| Some(self.group(facts, ahead))).into_iter();
        groups.map(|((_, name), facts)| (name, facts)).collect()
    }

    /// The group of a firing: its place among the groups where names do not say it, and its name.
    pub fn group(self, facts: &Facts, ahead: Span) -> (usize, String) {
        match self {
            By::LoadType => (0, facts.load_type.clone()),
            By::Kiln => (0, facts.kiln.clone()),
            By::Schedule => (0, facts.schedule.clone().unwrap_or_else(|| "none".to_owned())),
            By::Season => {
                let season = (wall(facts.lit, ahead).month() as usize + 9) % 12 / 3;
                (season, SEASONS[season].to_owned())
            }
            By::Month => (0, wall(facts.lit, ahead).format("%Y-%m").to_string()),
        }
    }
}

impl Trait {
    /// Those that every firing has or has not, whatever its schedule.
    pub const OF_EVERY_FIRING: [Trait; 5] =
        [Trait::LateLook, Trait::LateOff, Trait::FastClimb, Trait::PartLoad, Trait::NeverSeenDown];

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
                "packed half full or less; where nobody said, fewer than {:.0} % of the most pieces of this load in this kiln",
                PART_LOAD * 100.0
            ),
            Trait::NeverSeenDown => "off came before anybody saw the target down".to_owned(),
            Trait::Schedule => {
                "fired by it, against all other firings of the load types it was used for"
                    .to_owned()
            }
            Trait::Kiln => "in this kiln, against all others".to_owned(),
            Trait::LoadType => "with this load type, against all others".to_owned(),
            Trait::TimeOfDay => "the target probably went down in these hours".to_owned(),
            Trait::Weekend => "the target went down on a Saturday or Sunday".to_owned(),
            Trait::TwoAtOnce => format!(
                "the target of another kiln went down within {} minutes before or after",
                AT_ONCE.as_minutes()
            ),
        }
    }
}

/// Under, good and over in each group; groups without an outcome are left out.
pub fn outcomes(ahead: Span, facts: &[&Facts], by: By) -> Vec<Outcomes> {
    let judged: Vec<&Facts> = facts.iter().copied().filter(|f| f.judged().is_some()).collect();
    let groups = by.groups(&judged, ahead).into_iter();
    groups.map(|(group, facts)| Outcomes::of(group, &facts)).collect()
}

fn share(facts: &[&Facts], verdict: Verdict) -> Share {
    let hits = facts.iter().filter(|facts| facts.verdict == Some(verdict)).count();
    Share::new(hits, facts.len())
}

fn pieces(facts: &[&Facts]) -> Share {
    let counted = facts.iter().filter_map(|facts| facts.counted.good_of_fired());
    let (good, of) =
        counted.fold((0, 0), |(good, of), one| (good + one.0 as usize, of + one.1 as usize));
    Share::new(good, of)
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
            pieces: pieces(facts),
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
            Trait::LateLook => was_late(facts),
            Trait::LateOff => {
                let late = (facts.off? - facts.drop?.by).as_minutes();
                Some(late > LATE_OFF_MIN)
            }
            Trait::FastClimb => Some(facts.final_climb?.0 > FAST_CLIMB * climb?),
            Trait::PartLoad => match facts.full {
                Some(full) => Some(full <= Fullness::Half),
                None => Some(f64::from(facts.pieces?) < PART_LOAD * f64::from(fullest?)),
            },
            Trait::NeverSeenDown => (facts.looks > 0).then_some(!facts.seen_down),
            _ => None,
        }
    }
}

/// For each trait, and each schedule that can be compared with another, how often loads missed with
/// it and without it. It says what went together, not what caused it.
pub fn went_with(facts: &[&Facts]) -> Vec<WentWith> {
    let judged: Vec<&Facts> = facts.iter().copied().filter(|f| f.judged().is_some()).collect();
    let had = had(&judged);
    let missed = |facts: &Facts| facts.verdict != Some(Verdict::Good);
    let of_trait =
        |what: Trait| WentWith::of(what, None, &missed, judged.iter().map(|&f| (f, had(f, what))));
    let mut rows: Vec<WentWith> = Trait::OF_EVERY_FIRING.into_iter().map(of_trait).collect();
    for (schedule, fired) in grouped(&judged, |f| f.schedule.clone()) {
        let used_for: BTreeSet<&str> = fired.iter().map(|f| f.load_type.as_str()).collect();
        let by_it = |f: &Facts| {
            let is_like = used_for.contains(f.load_type.as_str());
            is_like.then(|| f.schedule.as_ref() == Some(&schedule))
        };
        let firings = judged.iter().map(|&f| (f, by_it(f)));
        let row = WentWith::of(Trait::Schedule, Some(schedule.clone()), &missed, firings);
        rows.extend(Some(row).filter(WentWith::compares));
    }
    allow_for_all(&mut rows);
    rows
}

/// Whether the drop was found by a look that came late; `None` when it was not seen.
pub(super) fn was_late(facts: &Facts) -> Option<bool> {
    facts.drop.map(|drop| drop.gap_minutes().is_none_or(|gap| gap > LATE_LOOK_MIN))
}

/// Allows for as many questions as could be asked at all.
pub(super) fn allow_for_all(rows: &mut [WentWith]) {
    let indices: Vec<usize> = (0..rows.len()).filter(|index| rows[*index].compares()).collect();
    let chances: Vec<f64> = indices.iter().map(|index| rows[*index].by_chance).collect();
    for (index, of_all) in indices.into_iter().zip(fisher::adjusted(&chances)) {
        rows[index].by_chance_of_all = of_all;
    }
}

/// What is more probable by chance than this is not called a difference.
pub const CLEAR: f64 = 0.05;

impl WentWith {
    /// From firings that had it, had it not, or of which it is not known.
    pub(super) fn of<'a>(
        what: Trait,
        named: Option<String>,
        missed: &dyn Fn(&Facts) -> bool,
        firings: impl Iterator<Item = (&'a Facts, Option<bool>)>,
    ) -> WentWith {
        let (mut with, mut without) = (Vec::new(), Vec::new());
        for (facts, had) in firings {
            match had {
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
        let by_chance = fisher::by_chance(missed_with, missed_without);
        WentWith {
            what,
            named,
            missed_with,
            missed_without,
            difference,
            by_chance,
            by_chance_of_all: by_chance,
            firings: ids(&with),
        }
    }

    /// Whether there are firings on both sides.
    pub fn compares(&self) -> bool {
        self.difference.is_some()
    }

    /// `part load`, or `schedule gold on glazed ware`.
    pub fn name(&self) -> String {
        match &self.named {
            Some(named) => format!("{} {named}", self.what.name()),
            None => self.what.name().to_owned(),
        }
    }

    /// Whether it can be said that this goes with misses, or with good loads.
    pub fn is_clear(&self) -> bool {
        self.by_chance_of_all <= CLEAR
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
    [Verdict::Under, Verdict::Good, Verdict::Over].map(of).to_vec()
}
