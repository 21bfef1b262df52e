//! The reasons of a plan: why a firing is in it, why a lot waits and what would help, and the last
//! moment for each lighting.

use std::collections::BTreeMap;

use super::decode::{decode, tidied};
use super::judge::{Broken, Judged, days_late};
use super::tables::{STEP_MIN, Tables};
use super::{Firing, Plan, State};

/// Why a lot is left waiting: what it needs first waits as well; somebody chose so; it needs more room than any
/// kiln has that fires its load type, litres; no lighting has the drop while somebody is there often
/// enough, the best with how long somebody would have to be there, and its chance; the way that comes
/// nearest, and the rule it would break; a firing for it costs so much more than waiting.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WaitsWhy {
    After { first: usize },
    NoKiln,
    Barred,
    TooLarge { most: f64 },
    NobodyAtDrop { way: usize, light: f64, until: f64, chance: f64 },
    Breaks { way: usize, light: f64, broken: Broken },
    NotWorthIt { way: usize, light: f64, eur: f64, room_left: f64 },
}

/// Every so many lightings are tried for a lot left waiting.
const EVERY: usize = 6;

/// A lot that is planned and late all the same: when it is wanted and when it is drawn, and the days between.
#[derive(Debug, Clone, Copy)]
pub struct Late {
    pub lot: usize,
    pub wanted: f64,
    pub drawn: f64,
    pub days: f64,
}

pub fn late(tables: &Tables, plan: &Plan) -> Vec<Late> {
    let late = plan.placed().filter_map(|(lot, at)| {
        let wanted = tables.instance.lots[lot].wanted_by?;
        let drawn = tables.instance.drawn_by(&plan.firings[at]);
        let days = days_late(drawn, wanted);
        (days > 0.0).then_some(Late { lot, wanted, drawn, days })
    });
    late.collect()
}

/// The chance of each day that watches meet, at most, and that all drops are while somebody is there.
pub fn days(tables: &Tables, plan: &Plan) -> Vec<(i64, f64, f64)> {
    let mut days: BTreeMap<i64, (f64, f64)> = BTreeMap::new();
    for (nth, firing) in plan.firings.iter().enumerate() {
        let (meet, there) = days.entry(tables.day_of(firing)).or_insert((0.0, 1.0));
        *meet += plan.firings[..nth].iter().map(|other| tables.meet(other, firing)).sum::<f64>();
        *there *= tables.there(firing);
    }
    days.into_iter().map(|(day, (meet, there))| (day, meet, there)).collect()
}

/// The last lighting that still has the drop while somebody is there, keeps the watches apart and takes no
/// more gas or current than the house gives, everything else as planned.
pub fn light_no_later_than(tables: &Tables, plan: &Plan, at: usize) -> f64 {
    let planned = plan.firings[at].light;
    if plan.firings[at].state == State::Lit {
        return planned;
    }
    let day = tables.instance.day(planned);
    let mut later = plan.clone();
    let limits = &tables.instance.limits;
    let mut latest = planned;
    loop {
        let light = latest + STEP_MIN;
        later.firings[at].light = light;
        let too_late = |(_, broken): &(f64, Broken)| {
            matches!(
                broken,
                Broken::NobodyLights
                    | Broken::DropsAfterEnd
                    | Broken::GasAtOnce { .. }
                    | Broken::PowerAtOnce { .. }
                    | Broken::LitLongAfterPacking
            )
        };
        let holds = tables.instance.day(light) == day
            && tables.there(&later.firings[at]) >= limits.dropped_while_there_at_least
            && days(tables, &later).iter().all(|(_, meet, _)| *meet <= limits.watches_meet_at_most)
            && !Judged::of(tables, &later).broken.iter().any(too_late);
        if !holds {
            return latest;
        }
        latest = light;
    }
}

/// The lot that is most in a hurry in a firing, by when it, or what is made of it, is wanted, and the load type
/// it still needs after this; none where the firing only costs less than leaving its lots waiting does.
pub fn hurry<'t>(
    tables: &'t Tables,
    plan: &Plan,
    at: usize,
) -> Option<(usize, f64, Option<&'t str>)> {
    let instance = &tables.instance;
    let wanted = plan.lots_in(at).flat_map(|lot| {
        let chain = std::iter::successors(Some(lot), |of| instance.next_of(*of));
        let then = instance.next_of(lot).map(|next| instance.load_type_of(next));
        chain.enumerate().filter_map(move |(nth, later)| {
            let by = instance.lots[later].wanted_by?;
            // What is made of a lot needs a day and a third more each time it is fired, common practice, no source.
            Some((by - nth as f64 * 1900.0, lot, by, then.filter(|_| nth > 0)))
        })
    });
    let first = wanted.min_by(|a, b| a.0.total_cmp(&b.0));
    first.map(|(_, lot, by, then)| (lot, by, then))
}

/// Why each lot that is in no firing waits.
pub fn left_waiting(tables: &Tables, plan: &Plan) -> Vec<(usize, WaitsWhy)> {
    let waiting = (0..tables.instance.lots.len()).filter(|lot| plan.firing_of(*lot).is_none());
    waiting.map(|lot| (lot, waits(tables, plan, lot))).collect()
}

fn waits(tables: &Tables, plan: &Plan, lot: usize) -> WaitsWhy {
    let instance = &tables.instance;
    let is = &instance.lots[lot];
    if let Some((first, _)) = is.after.filter(|(first, _)| plan.firing_of(*first).is_none()) {
        return WaitsWhy::After { first };
    }
    let mut ways: Vec<usize> = instance.ways_of(is.load_type).collect();
    if ways.is_empty() {
        return WaitsWhy::NoKiln;
    }
    ways.retain(|way| !tables.bars(lot, *way));
    if ways.is_empty() {
        return WaitsWhy::Barred;
    }
    let most = ways.iter().map(|way| instance.kiln_of(*way).room_l).fold(0.0, f64::max);
    ways.retain(|way| instance.kiln_of(*way).room_l >= is.room_l);
    if ways.is_empty() {
        return WaitsWhy::TooLarge { most };
    }
    if ways.iter().all(|way| tables.lightings[*way].is_empty()) {
        return nobody_at_drop(tables, &ways);
    }
    nearest(tables, plan, lot, &ways)
}

/// The first morning on which a kiln could be lit, and how long somebody would have to be there.
fn nobody_at_drop(tables: &Tables, ways: &[usize]) -> WaitsWhy {
    let mut best: Option<(f64, WaitsWhy)> = None;
    for way in ways {
        let (kiln, drop) = (tables.instance.kiln_of(*way), &tables.instance.ways[*way].drop);
        for step in 0..tables.steps {
            let firing = Firing::new(*way, step as f64 * STEP_MIN);
            let lit = kiln.starts_by_itself || tables.somebody_lights(firing.light);
            let packed = firing.light >= kiln.pack_min;
            if !lit || !packed || tables.drop_at(&firing) > tables.instance.last_drop_by {
                continue;
            }
            let (light, chance) = (firing.light, tables.there(&firing));
            let until = light + drop.at(1.6449);
            if best.as_ref().is_none_or(|(most, _)| chance > most + 1e-9) {
                best = Some((chance, WaitsWhy::NobodyAtDrop { way: *way, light, until, chance }));
            }
        }
    }
    best.map_or(WaitsWhy::NoKiln, |(_, why)| why)
}

/// Tries the lot in every firing of its type and in new ones: what comes nearest says why it waits.
fn nearest(tables: &Tables, plan: &Plan, lot: usize, ways: &[usize]) -> WaitsWhy {
    let now = Judged::of(tables, plan).costs.total();
    let mut best: Option<((usize, f64), WaitsWhy)> = None;
    let mut try_in = |mut tried: Plan, at: usize| {
        tried.put(lot, at);
        tidied(tables, &mut tried);
        decode(tables, &mut tried, false);
        let Judged { broken, costs } = Judged::of(tables, &tried);
        let Firing { way, light, .. } = tried.firings[at];
        let size: f64 = broken.iter().map(|(size, _)| size).sum();
        let rank = (broken.len(), if broken.is_empty() { costs.total() } else { size });
        if best.as_ref().is_some_and(|(least, _)| rank >= *least) {
            return;
        }
        let instance = &tables.instance;
        let room_left = instance.kiln_of(way).room_l - tried.litres_in(instance, at);
        let why = match broken.first() {
            Some((_, broken)) => WaitsWhy::Breaks { way, light, broken: *broken },
            None => WaitsWhy::NotWorthIt { way, light, eur: costs.total() - now, room_left },
        };
        best = Some((rank, why));
    };
    for (at, firing) in plan.firings.iter().enumerate() {
        if ways.contains(&firing.way) && firing.state == State::Planned {
            try_in(plan.clone(), at);
        }
    }
    for way in ways {
        for light in tables.lightings[*way].iter().step_by(EVERY) {
            let mut tried = plan.clone();
            tried.firings.push(Firing::new(*way, *light));
            let at = tried.firings.len() - 1;
            try_in(tried, at);
        }
    }
    best.map_or(WaitsWhy::NoKiln, |(_, why)| why)
}
