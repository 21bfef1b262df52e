//! Where the hands go: packing and drawing follow from what is lit when.
//!
//! Drawing takes the first fit once a kiln is cool, packing the last fit before the lighting; either may
//! be told to leave room for the other.

use super::judge::{steps, take};
use super::tables::{STEP_MIN, Tables, ceil_step, floor_step};
use super::{Firing, Plan, State, WAITS};

/// A packing begins at most so long before its lighting, steps: a day.
const LONGEST_AHEAD: i64 = 288;

/// Gives every firing that is not packed its packing, and every one its drawing. One that cannot be
/// packed in time breaks a rule, or is lit later if it may be put off.
pub fn decode(tables: &Tables, plan: &mut Plan, put_off: bool) {
    let mut hands = Hands {
        tables,
        busy: vec![0; tables.steps],
        free_from: tables.free_from.clone(),
        drawn: vec![f64::INFINITY; plan.lot_in.len()],
    };
    for firing in &plan.firings {
        let (from, to) = watch(tables, firing);
        take(&mut hands.busy, from, to);
    }
    for at in plan.by_light() {
        hands.firing(plan, at, put_off);
    }
}

/// What the hands are taken for, and from when each kiln and each lot is free again.
struct Hands<'a> {
    tables: &'a Tables,
    busy: Vec<u8>,
    free_from: Vec<f64>,
    drawn: Vec<f64>,
}

impl Hands<'_> {
    fn firing(&mut self, plan: &mut Plan, at: usize, put_off: bool) {
        let tables = self.tables;
        let place = tables.instance.ways[plan.firings[at].way].kiln;
        let kiln = &tables.instance.kilns[place];
        if plan.firings[at].state == State::Planned {
            let from = self.earliest(plan, at).max(self.free_from[place]);
            let firing = &mut plan.firings[at];
            let mut pack = self.pack(firing, from);
            if pack.is_none() && put_off && firing.may_shift() {
                self.put_off(firing, from);
                pack = self.pack(firing, from);
            }
            let anyhow = || tables.pack_before(place, firing.light).unwrap_or(f64::NAN);
            firing.pack = pack.unwrap_or_else(anyhow);
            take(&mut self.busy, firing.pack, firing.pack + kiln.pack_min);
        }
        let firing = &mut plan.firings[at];
        if !tables.instance.is_drawn(firing) {
            let from = ceil_step(tables.drawable_at(firing)) + i64::from(firing.draw_wait);
            firing.draw = self.first_fit(from as f64 * STEP_MIN, kiln.draw_min);
            take(&mut self.busy, firing.draw, tables.instance.drawn_by(firing));
        }
        self.free_from[place] = tables.instance.drawn_by(firing);
        for lot in plan.lots_in(at) {
            self.drawn[lot] = self.free_from[place];
        }
    }

    fn pack(&self, firing: &Firing, from: f64) -> Option<f64> {
        let by = firing.light - f64::from(firing.pack_ahead) * STEP_MIN;
        let from = from.max((floor_step(by) - LONGEST_AHEAD) as f64 * STEP_MIN);
        let pack_min = self.tables.instance.kiln_of(firing.way).pack_min;
        self.tables.last_free((from, by), pack_min, |step| self.is_free(step))
    }

    /// Lights a firing that cannot be packed in time as soon as it can.
    fn put_off(&mut self, firing: &mut Firing, from: f64) {
        let tables = self.tables;
        let pack_min = tables.instance.kiln_of(firing.way).pack_min;
        let packed = self.first_fit(from, pack_min) + pack_min;
        let lightings = &tables.lightings[firing.way];
        let next = lightings.partition_point(|light| *light < packed);
        let Some(light) = lightings.get(next) else { return };
        let (from, to) = watch(tables, firing);
        for step in steps(tables.steps, from, to) {
            self.busy[step] -= 1;
        }
        firing.light = *light;
        firing.pack_ahead = 0;
        let (from, to) = watch(tables, firing);
        take(&mut self.busy, from, to);
    }

    /// When all that goes in is dry and off the bench; at once, where it never will be.
    fn earliest(&self, plan: &Plan, at: usize) -> f64 {
        let ready = plan.lots_in(at).map(|lot| {
            let is = &self.tables.instance.lots[lot];
            let after = is.after.map_or(0.0, |(first, bench)| self.drawn[first] + bench);
            after.max(is.ready_from.unwrap_or(0.0))
        });
        Some(ready.fold(0.0, f64::max)).filter(|ready| ready.is_finite()).unwrap_or(0.0)
    }

    fn is_free(&self, step: usize) -> bool {
        self.busy[step] < self.tables.hands[step]
    }

    fn first_fit(&self, from: f64, min: f64) -> f64 {
        self.tables.first_free(from, min, |step| self.is_free(step))
    }
}

/// When a firing is watched if it drops when it is likeliest to.
pub fn watch(tables: &Tables, firing: &Firing) -> (f64, f64) {
    let watch = tables.instance.load_type(firing.way);
    let drop = tables.drop_at(firing);
    (drop - watch.before_drop_min, drop + watch.after_drop_min)
}

/// Leaves out what cannot be fired because what it needs first waits, and firings left empty.
pub fn tidied(tables: &Tables, plan: &mut Plan) {
    for lot in &tables.in_order {
        let first = tables.instance.lots[*lot].after.map(|(first, _)| first);
        let at = plan.lot_in[*lot];
        let movable = at != WAITS && plan.firings[at].is_open();
        if movable && first.is_some_and(|first| plan.lot_in[first] == WAITS) {
            plan.lot_in[*lot] = WAITS;
        }
    }
    let mut at = plan.firings.len();
    while at > 0 {
        at -= 1;
        if plan.firings[at].is_open() && !plan.lot_in.contains(&at) {
            plan.remove(at);
        }
    }
}
