//! The changes a search tries on a plan.

use rand::RngExt as _;

use super::search::Search;
use super::{Firing, Plan, WAITS};

/// How often each change is tried, in hundredths, and the change; false where it does not apply.
type Change = fn(&mut Search<'_>, &mut Plan) -> bool;
const CHANGES: [(u32, Change); 10] = [
    (30, shift),
    (12, move_lot),
    (9, exchange_lots),
    (10, new_firing),
    (14, elsewhere),
    (13, exchange_firings),
    (4, fill_up),
    (3, leave_out),
    (3, wait_with_hands),
    (2, split),
];

/// One change at random.
pub fn change(search: &mut Search<'_>, plan: &mut Plan) -> bool {
    let mut pick = search.random.random_range(0..100);
    for (often, change) in CHANGES {
        if pick < often {
            return change(search, plan);
        }
        pick -= often;
    }
    false
}

fn pick(search: &mut Search<'_>, of: usize) -> Option<usize> {
    (of > 0).then(|| search.random.random_range(0..of))
}

/// A firing that may be changed so, at random.
fn some(search: &mut Search<'_>, plan: &Plan, may: fn(&Firing) -> bool) -> Option<usize> {
    let at = pick(search, plan.firings.len())?;
    may(&plan.firings[at]).then_some(at)
}

/// A lighting of a way at random.
fn some_light(search: &mut Search<'_>, way: usize) -> Option<f64> {
    let at = pick(search, search.tables.lightings[way].len())?;
    Some(search.tables.lightings[way][at])
}

/// Earlier or later, mostly by little.
fn shift(search: &mut Search<'_>, plan: &mut Plan) -> bool {
    let Some(at) = some(search, plan, Firing::may_shift) else { return false };
    let (way, light) = (plan.firings[at].way, plan.firings[at].light);
    let lightings = &search.tables.lightings[way];
    if lightings.is_empty() {
        return false;
    }
    let now = lightings.partition_point(|other| *other < light);
    let most = [2, 8, 40, 400][search.random.random_range(0..4)];
    let by = search.random.random_range(1..=most);
    let to = if search.random.random() { now + by } else { now.saturating_sub(by) };
    let to = lightings[to.min(lightings.len() - 1)];
    plan.firings[at].light = to;
    to != light
}

fn litres(search: &Search<'_>, plan: &Plan, firing: usize) -> f64 {
    plan.litres_in(&search.tables.instance, firing)
}

/// Whether a lot may leave where it is.
fn loose(plan: &Plan, lot: usize) -> bool {
    plan.lot_in[lot] == WAITS || plan.firings[plan.lot_in[lot]].is_open()
}

fn some_loose_lot(search: &mut Search<'_>, plan: &Plan) -> Option<usize> {
    let lot = pick(search, plan.lot_in.len())?;
    loose(plan, lot).then_some(lot)
}

fn load_type(search: &Search<'_>, plan: &Plan, firing: usize) -> usize {
    search.tables.instance.ways[plan.firings[firing].way].load_type
}

/// A lot into another firing, or out of its own.
fn move_lot(search: &mut Search<'_>, plan: &mut Plan) -> bool {
    let Some(lot) = some_loose_lot(search, plan) else { return false };
    let is = &search.tables.instance.lots[lot];
    let from = plan.lot_in[lot];
    if from != WAITS && search.random.random_range(0..5) == 0 {
        plan.lot_in[lot] = WAITS;
        return true;
    }
    let fits = |at: &usize| {
        *at != from
            && plan.firings[*at].is_open()
            && load_type(search, plan, *at) == is.load_type
            && !search.tables.bars(lot, plan.firings[*at].way)
            && litres(search, plan, *at) + is.room_l
                <= search.tables.instance.kiln_of(plan.firings[*at].way).room_l
    };
    let to: Vec<usize> = (0..plan.firings.len()).filter(fits).collect();
    let Some(to) = pick(search, to.len()).map(|at| to[at]) else { return false };
    plan.lot_in[lot] = to;
    true
}

fn exchange_lots(search: &mut Search<'_>, plan: &mut Plan) -> bool {
    let Some(one) = some_loose_lot(search, plan) else { return false };
    let lots = &search.tables.instance.lots;
    let others = |lot: &usize| {
        lots[*lot].load_type == lots[one].load_type
            && plan.lot_in[*lot] != plan.lot_in[one]
            && loose(plan, *lot)
    };
    let others: Vec<usize> = (0..lots.len()).filter(others).collect();
    let Some(other) = pick(search, others.len()).map(|at| others[at]) else { return false };
    plan.lot_in.swap(one, other);
    [one, other].into_iter().all(|lot| fits_in_its_firing(search, plan, lot))
}

fn fits_in_its_firing(search: &Search<'_>, plan: &Plan, lot: usize) -> bool {
    let at = plan.lot_in[lot];
    let room = |at: usize| search.tables.instance.kiln_of(plan.firings[at].way).room_l;
    at == WAITS || litres(search, plan, at) <= room(at) + 1e-6
}

/// Waiting lots of its type that are ready by then into a firing while there is room, in an order at
/// random.
fn fill(search: &mut Search<'_>, plan: &mut Plan, firing: usize) -> bool {
    let instance = &search.tables.instance;
    let (of_type, kiln) =
        (load_type(search, plan, firing), instance.kiln_of(plan.firings[firing].way));
    let mut room = kiln.room_l - litres(search, plan, firing);
    let packed = plan.firings[firing].light - kiln.pack_min;
    let is_ready = |lot: &usize| {
        let ready = instance.lots[*lot].ready_from.unwrap_or(0.0);
        let off_the_bench = instance.lots[*lot].after.map_or(0.0, |(first, bench)| {
            let first = plan.firings.get(plan.lot_in[first]);
            first.map_or(f64::INFINITY, |first| instance.drawn_by(first) + bench)
        });
        ready.max(off_the_bench) <= packed
    };
    let lots = &instance.lots;
    let waits = |lot: &usize| {
        plan.lot_in[*lot] == WAITS
            && lots[*lot].load_type == of_type
            && !search.tables.bars(*lot, plan.firings[firing].way)
    };
    let mut waiting: Vec<usize> = (0..lots.len()).filter(waits).filter(is_ready).collect();
    let mut any = false;
    while let Some(at) = pick(search, waiting.len()) {
        let lot = waiting.swap_remove(at);
        if lots[lot].room_l <= room {
            room -= lots[lot].room_l;
            plan.lot_in[lot] = firing;
            any = true;
        }
    }
    any
}

/// A firing of what waits in a kiln and on a day at random, at the best of four times.
fn new_firing(search: &mut Search<'_>, plan: &mut Plan) -> bool {
    let Some(way) = pick(search, search.tables.instance.ways.len()) else { return false };
    let Some(light) = some_light(search, way) else { return false };
    plan.firings.push(Firing::new(way, light));
    let at = plan.firings.len() - 1;
    if !fill(search, plan, at) {
        return false;
    }
    best_light(search, plan, at);
    true
}

/// The cheapest of four lightings of a firing.
fn best_light(search: &mut Search<'_>, plan: &mut Plan, at: usize) {
    let mut best = (search.price(plan).1, plan.firings[at].light);
    for _ in 0..3 {
        let Some(light) = some_light(search, plan.firings[at].way) else { return };
        plan.firings[at].light = light;
        let price = search.price(plan).1;
        if price < best.0 {
            best = (price, light);
        }
    }
    plan.firings[at].light = best.1;
}

/// An open firing, with a way of the same load type and a lighting of it at random.
fn some_other(search: &mut Search<'_>, plan: &Plan) -> Option<(usize, usize, f64)> {
    let at = some(search, plan, Firing::is_open)?;
    let of_type = load_type(search, plan, at);
    let same: Vec<usize> = search.tables.instance.ways_of(of_type).collect();
    let way = pick(search, same.len()).map(|at| same[at])?;
    Some((at, way, some_light(search, way)?))
}

/// A firing in another kiln or on another day; what does not fit waits.
fn elsewhere(search: &mut Search<'_>, plan: &mut Plan) -> bool {
    let Some((at, way, light)) = some_other(search, plan) else { return false };
    let firing = &mut plan.firings[at];
    (firing.way, firing.light) = (way, light);
    spill(search, plan, at);
    fill(search, plan, at);
    true
}

/// Takes lots out until the rest fits.
fn spill(search: &mut Search<'_>, plan: &mut Plan, at: usize) {
    let room = search.tables.instance.kiln_of(plan.firings[at].way).room_l;
    while litres(search, plan, at) > room {
        let inside: Vec<usize> = plan.lots_in(at).collect();
        let Some(out) = pick(search, inside.len()) else { return };
        plan.lot_in[inside[out]] = WAITS;
    }
}

/// Two firings change kilns and times.
fn exchange_firings(search: &mut Search<'_>, plan: &mut Plan) -> bool {
    let one = some(search, plan, Firing::is_open);
    let other = some(search, plan, Firing::is_open);
    let (Some(one), Some(other)) = (one, other) else { return false };
    if one == other || !plan.exchange(&search.tables.instance, one, other) {
        return false;
    }
    spill(search, plan, one);
    spill(search, plan, other);
    true
}

fn fill_up(search: &mut Search<'_>, plan: &mut Plan) -> bool {
    let Some(at) = some(search, plan, Firing::is_open) else { return false };
    fill(search, plan, at)
}

fn leave_out(search: &mut Search<'_>, plan: &mut Plan) -> bool {
    let Some(at) = some(search, plan, Firing::is_open) else { return false };
    plan.remove(at);
    true
}

/// Packing is done sooner, or drawing waits, so that the same hands do something else first.
fn wait_with_hands(search: &mut Search<'_>, plan: &mut Plan) -> bool {
    let Some(at) = pick(search, plan.firings.len()) else { return false };
    let steps = [0, 3, 12, 48, 200][search.random.random_range(0..5)];
    let steps = if steps == 0 { 0 } else { search.random.random_range(1..=steps) };
    let firing = &mut plan.firings[at];
    let packing = firing.may_shift() && search.random.random();
    let wait = if packing { &mut firing.pack_ahead } else { &mut firing.draw_wait };
    std::mem::replace(wait, steps) != steps
}

/// Some lots of a firing into a new one of another kiln, which is then filled.
fn split(search: &mut Search<'_>, plan: &mut Plan) -> bool {
    let Some((at, way, light)) = some_other(search, plan) else { return false };
    plan.firings.push(Firing::new(way, light));
    let new = plan.firings.len() - 1;
    for lot in 0..plan.lot_in.len() {
        if plan.lot_in[lot] == at && search.random.random() {
            plan.lot_in[lot] = new;
        }
    }
    spill(search, plan, new);
    fill(search, plan, new);
    best_light(search, plan, new);
    true
}
