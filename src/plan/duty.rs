//! Who does what: names for the packings and the watches of a plan.
//!
//! A plan counts hands only; that they are enough at each moment is one of its rules. Names are given
//! afterwards, to whoever is free.

use super::tables::{STEP_MIN, Tables};
use super::{Firing, Plan, State};

/// Who packs each firing, and who watches it, one after the other.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Duty {
    pub packs: Option<usize>,
    pub watch: Vec<usize>,
}

/// The duties of each firing.
pub fn duties(tables: &Tables, plan: &Plan) -> Vec<Duty> {
    let people = &tables.instance.people;
    let mut busy: Vec<Vec<(f64, f64)>> = vec![Vec::new(); people.len()];
    let mut duties = vec![Duty::default(); plan.firings.len()];
    let there = |who: usize, at: f64| people[who].there.iter().any(|(a, b)| *a <= at && at < *b);
    for (at, firing) in plan.firings.iter().enumerate() {
        let (from, to) = watch(tables, firing);
        let drop = tables.drop_at(firing);
        // From the beginning of the watch on, whoever is there; most of all at the drop itself.
        let mut when = from;
        while when < to {
            let free = |who: usize| !busy[who].iter().any(|(a, b)| *a < to && when < *b);
            let rank = |who: &usize| (!free(*who), free(*who) && !there(*who, drop));
            let present = |who: &usize| people[*who].watches && there(*who, when);
            let Some(who) = (0..people.len()).filter(present).min_by_key(rank) else {
                when += STEP_MIN;
                continue;
            };
            let stretch = people[who].there.iter().find(|(a, b)| *a <= when && when < *b);
            let until = stretch.map_or(to, |(_, until)| until.min(to));
            busy[who].push((when, until));
            if duties[at].watch.last() != Some(&who) {
                duties[at].watch.push(who);
            }
            when = until;
        }
    }
    for (at, firing) in plan.firings.iter().enumerate() {
        if firing.state == State::Planned {
            let to = firing.pack + tables.instance.kiln_of(firing.way).pack_min;
            let stays = |who: &usize| {
                let there = &people[*who].there;
                people[*who].packs && there.iter().any(|(a, b)| *a <= firing.pack && to <= *b)
            };
            let free = |who: &usize| !busy[*who].iter().any(|(a, b)| *a < to && firing.pack < *b);
            let packs = (0..people.len()).find(|who| stays(who) && free(who));
            if let Some(who) = packs {
                busy[who].push((firing.pack, to));
            }
            duties[at].packs = packs;
        }
    }
    duties
}

/// From when to when a firing is watched: its earliest drop is not missed, nor its latest.
pub fn watch(tables: &Tables, firing: &Firing) -> (f64, f64) {
    let drop = tables.drop_of(firing);
    let watch = tables.instance.load_type(firing.way);
    let from = firing.light + drop.p05 - watch.before_drop_min;
    (from, firing.light + drop.p95 + watch.after_drop_min)
}
