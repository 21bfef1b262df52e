//! Where the hands go: packing and drawing follow from what is lit when.
//!
//! Drawing takes the first fit once a kiln is cool, packing the last fit before the lighting; either may
//! be told to leave room for the other.

use super::judge::{steps, take};
use super::tables::{STEP_MIN, Tables, ceil_step, floor_step};
use super::{Firing, Plan, State, WAITS};

/// Room for the hands of one plan, kept from one to the next.
#[derive(Debug)]
pub struct Hands {
    busy: Vec<u8>,
    order: Vec<usize>,
    free_from: Vec<f64>,
    drawn: Vec<f64>,
    /// The first lot of each firing, and the next one in the same firing after each lot.
    first_lot: Vec<usize>,
    next_lot: Vec<usize>,
}

/// A packing begins at most so long before its lighting, steps: a day.
const LONGEST_AHEAD: i64 = 288;

impl Hands {
    pub fn new(tables: &Tables) -> Hands {
        Hands {
            busy: vec![0; tables.steps],
            order: Vec::new(),
            free_from: Vec::new(),
            drawn: vec![f64::INFINITY; tables.instance.lots.len()],
            first_lot: Vec::new(),
            next_lot: vec![WAITS; tables.instance.lots.len()],
        }
    }

    /// Gives every firing that is not packed its packing, and every one its drawing. One that cannot be
    /// packed in time breaks a rule, or is lit later if it may be put off.
    pub fn decode(&mut self, tables: &Tables, plan: &mut Plan, put_off: bool) {
        self.busy.fill(0);
        for firing in &plan.firings {
            let (from, to) = watch(tables, firing);
            take(&mut self.busy, from, to);
        }
        self.order.clear();
        self.order.extend(0..plan.firings.len());
        self.order.sort_by(|a, b| plan.firings[*a].light.total_cmp(&plan.firings[*b].light));
        self.free_from.clear();
        self.free_from.extend_from_slice(&tables.first_free);
        self.drawn.fill(f64::INFINITY);
        self.first_lot.clear();
        self.first_lot.resize(plan.firings.len(), WAITS);
        for (lot, at) in plan.lot_in.iter().enumerate().filter(|(_, at)| **at != WAITS) {
            self.next_lot[lot] = std::mem::replace(&mut self.first_lot[*at], lot);
        }
        for nth in 0..self.order.len() {
            self.firing(tables, plan, self.order[nth], put_off);
        }
    }

    fn lots(&self, firing: usize) -> impl Iterator<Item = usize> + '_ {
        let some = |lot: usize| Some(lot).filter(|lot| *lot != WAITS);
        std::iter::successors(some(self.first_lot[firing]), move |lot| some(self.next_lot[*lot]))
    }

    fn firing(&mut self, tables: &Tables, plan: &mut Plan, at: usize, put_off: bool) {
        let instance = &tables.instance;
        let way = &instance.ways[plan.firings[at].way];
        let kiln = &instance.kilns[way.kiln];
        if plan.firings[at].state == State::Planned {
            let from = self.earliest(tables, at).max(self.free_from[way.kiln]);
            let fit = |hands: &Hands, firing: &Firing| {
                let by = firing.light - f64::from(firing.pack_ahead) * STEP_MIN;
                hands.last_fit(tables, from, by, kiln.pack_min)
            };
            let mut pack = fit(self, &plan.firings[at]);
            if pack.is_none() && put_off && plan.firings[at].may_shift() {
                self.put_off(tables, &mut plan.firings[at], from);
                pack = fit(self, &plan.firings[at]);
            }
            let firing = &mut plan.firings[at];
            let anyhow = || tables.pack_before(way.kiln, firing.light).unwrap_or(f64::NAN);
            firing.pack = pack.unwrap_or_else(anyhow);
            take(&mut self.busy, firing.pack, firing.pack + kiln.pack_min);
        }
        let firing = &mut plan.firings[at];
        let drawn_already = firing.state == State::Lit && firing.draw + kiln.draw_min <= 0.0;
        if !drawn_already {
            self.draw(tables, firing, kiln.draw_min);
        }
        self.free_from[way.kiln] = firing.draw + kiln.draw_min;
        let mut lot = self.first_lot[at];
        while lot != WAITS {
            self.drawn[lot] = self.free_from[way.kiln];
            lot = self.next_lot[lot];
        }
    }

    fn draw(&mut self, tables: &Tables, firing: &mut Firing, draw_min: f64) {
        let cool = tables.drawable_at(firing);
        let from = ceil_step(cool) + i64::from(firing.draw_wait);
        firing.draw = self.first_fit(tables, from, draw_min);
        take(&mut self.busy, firing.draw, firing.draw + draw_min);
    }

    /// Lights a firing that cannot be packed in time as soon as it can.
    fn put_off(&mut self, tables: &Tables, firing: &mut Firing, from: f64) {
        let pack_min = tables.instance.kiln_of(firing.way).pack_min;
        let packed = self.first_fit(tables, ceil_step(from), pack_min) + pack_min;
        let lightings = &tables.lightings[firing.way];
        let next = lightings.partition_point(|step| (*step as f64) * STEP_MIN < packed);
        let Some(step) = lightings.get(next) else { return };
        let (from, to) = watch(tables, firing);
        for step in steps(tables.steps, from, to) {
            self.busy[step] -= 1;
        }
        firing.light = *step as f64 * STEP_MIN;
        firing.pack_ahead = 0;
        let (from, to) = watch(tables, firing);
        take(&mut self.busy, from, to);
    }

    /// When all that goes in is dry and off the bench; at once, where it never will be.
    fn earliest(&self, tables: &Tables, at: usize) -> f64 {
        let ready = self.lots(at).map(|lot| {
            let lot = &tables.instance.lots[lot];
            let after = lot.after.map_or(0.0, |(first, bench)| self.drawn[first] + bench);
            after.max(lot.ready_from.unwrap_or(0.0))
        });
        let ready = ready.fold(0.0, f64::max);
        if ready.is_finite() { ready } else { 0.0 }
    }

    fn is_free(&self, tables: &Tables, step: i64) -> bool {
        self.busy[step as usize] < tables.hands[step as usize]
    }

    fn last_fit(&self, tables: &Tables, from: f64, by: f64, min: f64) -> Option<f64> {
        let need = ceil_step(min);
        let mut run = 0;
        let mut step = floor_step(by).min(tables.steps as i64) - 1;
        let least = ceil_step(from).max(floor_step(by) - LONGEST_AHEAD);
        while step >= least {
            if self.is_free(tables, step) {
                run += 1;
                if run == need {
                    return Some(step as f64 * STEP_MIN);
                }
                step -= 1;
            } else {
                run = 0;
                step = tables.hands_before(step - 1);
            }
        }
        None
    }

    fn first_fit(&self, tables: &Tables, from: i64, min: f64) -> f64 {
        let need = ceil_step(min).max(1);
        let (mut run, mut step) = (0, from.max(0));
        while step < tables.steps as i64 {
            if self.is_free(tables, step) {
                run += 1;
                if run == need {
                    return (step + 1 - need) as f64 * STEP_MIN;
                }
                step += 1;
            } else {
                run = 0;
                step = tables.hands_after(step + 1);
            }
        }
        tables.steps as f64 * STEP_MIN
    }
}

/// When a firing is watched if it drops when it is likeliest to.
fn watch(tables: &Tables, firing: &Firing) -> (f64, f64) {
    let watch = &tables.instance.load_types[tables.instance.ways[firing.way].load_type];
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
        if plan.firings[at].is_open() && plan.lots_in(at).next().is_none() {
            plan.remove(at);
        }
    }
}
