//! What the looks that came too late had in common: at which kiln, with which load, when, and with
//! what else going on.

use std::collections::BTreeSet;

use chrono::{Datelike as _, Timelike as _};

use super::calendar::wall;
use super::drop_seen::DropSeen;
use super::facts::Facts;
use super::ledger::Ledger;
use super::outcomes::{AT_ONCE, Trait, WentWith, allow_for_all, was_late};
use crate::units::Moment;

/// The hours of a day, by the wall clock.
const HOURS: [(u32, u32); 4] = [(0, 6), (6, 12), (12, 18), (18, 24)];

/// For each circumstance, how many drops were found late with it and without it, of the firings
/// whose drop was seen. Circumstances that all of them had, or none, are left out.
pub fn late_looks(ledger: &Ledger, facts: &[&Facts]) -> Vec<WentWith> {
    let seen: Vec<&Facts> = facts.iter().copied().filter(|f| f.drop.is_some()).collect();
    let late = |facts: &Facts| was_late(facts) == Some(true);
    let of = |what: Trait, named: Option<String>, had: &dyn Fn(&Facts) -> bool| {
        let row = WentWith::of(what, named, &late, seen.iter().map(|&f| (f, Some(had(f)))));
        Some(row).filter(WentWith::compares)
    };
    let mut rows = Vec::new();
    for kiln in seen.iter().map(|f| &f.kiln).collect::<BTreeSet<_>>() {
        rows.extend(of(Trait::Kiln, Some(kiln.clone()), &|f| f.kiln == *kiln));
    }
    for load in seen.iter().map(|f| &f.load_type).collect::<BTreeSet<_>>() {
        rows.extend(of(Trait::LoadType, Some(load.clone()), &|f| f.load_type == *load));
    }
    let clock = |f: &Facts| wall(dropped(f), ledger.ahead);
    for (from, until) in HOURS {
        let within = |f: &Facts| (from..until).contains(&clock(f).hour());
        let hours = format!("{from}:00 to {until}:00");
        rows.extend(of(Trait::TimeOfDay, Some(hours), &within));
    }
    let weekend = |f: &Facts| clock(f).weekday().number_from_monday() > 5;
    rows.extend(of(Trait::Weekend, None, &weekend));
    let mut drops: Vec<(Moment, &str)> =
        seen.iter().map(|f| (dropped(f), f.kiln.as_str())).collect();
    drops.sort_unstable();
    let at_once = |f: &Facts| {
        let first = drops.partition_point(|(at, _)| *at < dropped(f) - AT_ONCE);
        let mut near = drops[first..].iter().take_while(|(at, _)| *at <= dropped(f) + AT_ONCE);
        near.any(|(_, kiln)| *kiln != f.kiln)
    };
    rows.extend(of(Trait::TwoAtOnce, None, &at_once));
    allow_for_all(&mut rows);
    rows
}

/// When the target probably went down.
fn dropped(facts: &Facts) -> Moment {
    facts.dropped.map_or(facts.lit, DropSeen::middle)
}
