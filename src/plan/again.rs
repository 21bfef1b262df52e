//! An old plan when the day goes otherwise: if it breaks no rule it holds, else it is mended with as few
//! changes as possible.
//!
//! A plan once said is worth keeping, so every change has its price. What is packed, lit or begins
//! within two hours stays, unless no plan that keeps the rules can leave it. The least surgery comes
//! first: other hands, another lighting, another day, another kiln, an exchange, leaving out.

use super::decode::tidied;
use super::judge::{Broken, Judged};
use super::search::{Found, Rank, Search};
use super::tables::{STEP_MIN, Tables, ceil_step};
use super::{Firing, Held, Plan, State, WAITS};
use crate::units::Moment;

/// What a change costs, EUR: a firing elsewhere, new or left out; a lighting moved by more than what
/// nobody minds; a lot elsewhere (guesses).
const FIRING_EUR: f64 = 6.0;
const LIGHTING_EUR: f64 = 1.0;
const LOT_EUR: f64 = 0.5;
pub const NOBODY_MINDS_MIN: f64 = 15.0;

/// What a lesser change of a lighting costs, and one of packing or drawing alone, EUR (a guess): so that
/// nothing is changed for nothing.
const LITTLE_EUR: f64 = 0.3;

/// How many times its price a change must save (a guess): some of what a search saves anywhere is what the
/// one before it left lying.
const WORTH_IT: f64 = 2.0;

/// A firing whose packing begins within this time stays, minutes.
const SOON_MIN: f64 = 120.0;

/// The old plan is known to be good: the search begins cold, EUR, and is short.
const COOL: (f64, f64) = (4.0, 0.2);
const JUDGEMENTS: u32 = 40_000;

/// Operations on one plan, one after the other, at most.
const OPERATIONS: usize = 16;

/// An old plan; its firings have their numbers.
#[derive(Debug, Default)]
pub struct Was {
    /// Each firing carries its own place in `was`.
    pub plan: Plan,
    /// What of it is no more.
    pub gone: Vec<Gone>,
    /// When it was adopted, if it was.
    pub said: Option<Moment>,
    /// Lots it had in no firing: that they are fired is no change of what was said.
    pub free: Vec<usize>,
    /// How many rules are broken already by what is begun.
    pub given: usize,
    /// It has to be looked at anew, whether or not it breaks a rule.
    pub spoilt: bool,
}

impl Was {
    pub fn push(&mut self, firing: Firing, lots: &[usize]) {
        let at = self.plan.firings.len();
        lots.iter().for_each(|lot| self.plan.put(*lot, at));
        self.plan.firings.push(Firing { was: Some(at), ..firing });
    }
}

/// What a firing of the old plan was changed or taken out for before anything was judged.
#[derive(Debug, Clone, PartialEq)]
pub struct Gone {
    pub firing: usize,
    pub kiln: String,
    pub load_type: String,
    pub lots: Vec<String>,
    pub why: GoneWhy,
}

/// Why; late is what is not lit though its time is over.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GoneWhy {
    NoKiln,
    CannotFire,
    NoLot,
    Late { was: Moment, becomes: Moment },
}

/// What became of an old plan.
#[derive(Debug)]
pub struct Since {
    pub was: Was,
    /// Nothing of it is changed or taken out, and no rule is broken that was not before.
    pub holds: bool,
    pub changed: Vec<Changed>,
}

/// One change, with its reason.
#[derive(Debug, Clone, PartialEq)]
pub struct Changed {
    pub what: Change,
    pub reason: Reason,
}

/// A firing by its place in the old plan and in the new one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Change {
    Moved { was: usize, at: usize },
    LeftOut { was: usize },
    New { at: usize },
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reason {
    /// As it was, this would be broken.
    Breaks(Broken),
    /// It costs so much less, EUR.
    Saves(f64),
    /// It goes with the other changes.
    Follows,
}

/// The plan to go on with, and what became of the old one.
pub fn again(tables: &Tables, was: Was) -> (Found, Since) {
    if Judged::of(tables, &was.plan).broken.len() <= was.given && !was.spoilt {
        let (plan, holds) = (was.plan.clone(), was.gone.is_empty());
        return (Found { plan, tried: 1 }, Since { was, holds, changed: Vec::new() });
    }
    let old = &was.plan;
    let besides = |plan: &Plan| WORTH_IT * price_of_changes(tables, &was, plan);
    let mut search = Search::new(tables, tables.instance.seed(), &besides);
    search.given = was.given;
    let (mut plan, mut holds) = (Plan::default(), false);
    for held in [Held::Whole, Held::Load, Held::Nothing] {
        plan.clone_from(old);
        // What somebody chose to keep stays in any case.
        for firing in plan.firings.iter_mut().filter(|firing| firing.held == Held::Nothing) {
            let soon = firing.state == State::Packed || firing.pack < SOON_MIN;
            firing.held = if soon { held } else { Held::Nothing };
        }
        tidied(tables, &mut plan);
        let better = mended(&mut search, plan, |is, was| is.0 < was.0);
        let found = search.anneal(&better, COOL, JUDGEMENTS);
        let found_any = found.0.is_finite();
        plan = if found_any { unneeded_undone(&mut search, old, found) } else { better };
        holds = search.begin(&plan).0.is_finite();
        if holds {
            break;
        }
    }
    if !holds {
        // No plan keeps every rule: one that breaks them the least.
        plan = mended(&mut search, plan, |is, was| is.1 < was.1);
    }
    plan.sort();
    let changed = changed(&mut search, old, &plan);
    for firing in &mut plan.firings {
        firing.held = firing.was.map_or(Held::Nothing, |was| old.firings[was].held);
    }
    let broken = !Judged::of(tables, &plan).broken.is_empty();
    let holds = !broken && changed.is_empty() && was.gone.is_empty();
    let found = Found { plan, tried: search.tried };
    (found, Since { was, holds, changed })
}

/// How a firing of an old plan keeps its hands, when these are placed anew.
pub fn keep_hands(tables: &Tables, firing: &mut Firing) {
    let by = firing.pack + tables.instance.kiln_of(firing.way).pack_min;
    let steps = |min: f64| (min / STEP_MIN).clamp(0.0, f64::from(u16::MAX)) as u16;
    firing.pack_ahead = steps(firing.light - by);
    let first = ceil_step(tables.drawable_at(firing)) as f64 * STEP_MIN;
    firing.draw_wait = steps(firing.draw - first);
}

fn is_elsewhere(tables: &Tables, one: &Firing, other: &Firing) -> bool {
    let day = |firing: &Firing| tables.instance.day(firing.light);
    one.way != other.way || day(one) != day(other)
}

fn price_of_changes(tables: &Tables, was: &Was, plan: &Plan) -> f64 {
    let old = &was.plan;
    let mut eur = 0.0;
    let mut kept = 0;
    let is_free = |lot: &usize| was.free.contains(lot);
    for (at, firing) in plan.firings.iter().enumerate() {
        let Some(was) = firing.was.map(|was| &old.firings[was]) else {
            let new = was.free.is_empty() || !plan.lots_in(at).all(|lot| is_free(&lot));
            eur += if new { FIRING_EUR } else { 0.0 };
            continue;
        };
        kept += 1;
        if is_elsewhere(tables, was, firing) {
            eur += FIRING_EUR;
        } else if (was.light - firing.light).abs() > NOBODY_MINDS_MIN {
            eur += LIGHTING_EUR;
        } else if (was.light, was.pack_ahead, was.draw_wait)
            != (firing.light, firing.pack_ahead, firing.draw_wait)
        {
            eur += LITTLE_EUR;
        }
    }
    eur += FIRING_EUR * (old.firings.len() - kept) as f64;
    let kiln = |plan: &Plan, lot: usize| {
        let firing = &plan.firings[plan.firing_of(lot)?];
        Some((tables.instance.ways[firing.way].kiln, firing.was))
    };
    let lots = (0..old.lot_in.len()).filter(|lot| !is_free(lot));
    let moved = lots.filter(|lot| kiln(old, *lot) != kiln(plan, *lot)).count();
    eur + LOT_EUR * moved as f64
}

/// The plan after the least surgery that keeps all rules, or as far as each step is better.
fn mended(search: &mut Search<'_>, plan: Plan, better: fn(Rank, Rank) -> bool) -> Plan {
    let mut now = ranked(search, plan);
    for _ in 0..OPERATIONS {
        if now.0.0 == 0 {
            break;
        }
        let next = SURGERY.iter().find_map(|surgery| {
            let tried = surgery(search.tables, &now.1);
            let tried = tried.into_iter().map(|plan| ranked(search, plan));
            let best = tried.min_by(|a, b| a.0.0.cmp(&b.0.0).then(a.0.1.total_cmp(&b.0.1)))?;
            better(best.0, now.0).then_some(best)
        });
        let Some(next) = next else { break };
        now = next;
    }
    now.1
}

/// The plan without the changes that are not worth their price, one after the other.
fn unneeded_undone(search: &mut Search<'_>, old: &Plan, found: (f64, Plan)) -> Plan {
    let (mut price, mut plan) = found;
    for was in 0..old.firings.len() {
        let at = plan.firings.iter().position(|firing| firing.was == Some(was));
        let held = at.map_or(Held::Nothing, |at| plan.firings[at].held);
        let mut undone = undone(search.tables, (old, was), (&plan, at));
        for firing in undone.firings.iter_mut().filter(|firing| firing.was == Some(was)) {
            firing.held = held;
        }
        let (broken, asked) = search.price(&mut undone);
        if broken == 0 && asked <= price {
            (price, plan) = (asked, undone);
        }
    }
    plan
}

fn ranked(search: &mut Search<'_>, mut plan: Plan) -> (Rank, Plan) {
    (search.price(&mut plan), plan)
}

type Surgery = fn(&Tables, &Plan) -> Vec<Plan>;
const SURGERY: [Surgery; 6] =
    [other_hands, other_light, other_day, other_kiln, exchanged, left_out];

/// The plan with one firing changed.
fn with(plan: &Plan, at: usize, change: impl Fn(&mut Firing)) -> Plan {
    let mut plan = plan.clone();
    change(&mut plan.firings[at]);
    plan
}

fn which(plan: &Plan, may: fn(&Firing) -> bool) -> Vec<usize> {
    (0..plan.firings.len()).filter(|at| may(&plan.firings[*at])).collect()
}

fn other_hands(_: &Tables, plan: &Plan) -> Vec<Plan> {
    let mut tried = Vec::new();
    for steps in (0..48).step_by(3) {
        for at in 0..plan.firings.len() {
            tried.push(with(plan, at, |firing| firing.draw_wait = steps));
            if plan.firings[at].may_shift() {
                tried.push(with(plan, at, |firing| firing.pack_ahead = steps));
            }
        }
    }
    tried
}

/// One firing at other times, of those its way has, in these steps.
fn relit(
    tables: &Tables,
    plan: &Plan,
    (may, every): (fn(&Firing) -> bool, usize),
    fits: impl Fn(&Firing, usize, f64) -> bool,
) -> Vec<Plan> {
    let mut tried = Vec::new();
    for at in which(plan, may) {
        let is = &plan.firings[at];
        let of_type = tables.instance.ways[is.way].load_type;
        for way in tables.instance.ways_of(of_type) {
            for light in tables.lightings[way].iter().copied().step_by(every) {
                if fits(is, way, light) {
                    tried.push(with(plan, at, |firing| (firing.way, firing.light) = (way, light)));
                }
            }
        }
    }
    tried
}

fn other_light(tables: &Tables, plan: &Plan) -> Vec<Plan> {
    let day = |minute: f64| tables.instance.day(minute);
    relit(tables, plan, (Firing::may_shift, 1), |firing, way, light| {
        way == firing.way && day(light) == day(firing.light)
    })
}

fn other_day(tables: &Tables, plan: &Plan) -> Vec<Plan> {
    relit(tables, plan, (Firing::is_open, 2), |firing, way, _| way == firing.way)
}

fn other_kiln(tables: &Tables, plan: &Plan) -> Vec<Plan> {
    relit(tables, plan, (Firing::is_open, 4), |firing, way, _| way != firing.way)
}

fn exchanged(tables: &Tables, plan: &Plan) -> Vec<Plan> {
    let open = which(plan, Firing::is_open);
    let mut tried = Vec::new();
    for (nth, one) in open.iter().enumerate() {
        for other in &open[nth + 1..] {
            let mut plan = plan.clone();
            if plan.exchange(&tables.instance, *one, *other) {
                tried.push(plan);
            }
        }
    }
    tried
}

fn left_out(tables: &Tables, plan: &Plan) -> Vec<Plan> {
    which(plan, Firing::is_open).into_iter().map(|at| without(tables, plan, at)).collect()
}

fn without(tables: &Tables, plan: &Plan, at: usize) -> Plan {
    let mut plan = plan.clone();
    plan.remove(at);
    tidied(tables, &mut plan);
    plan
}

/// What is otherwise than in the old plan, each with why it does not stay.
fn changed(search: &mut Search<'_>, old: &Plan, plan: &Plan) -> Vec<Changed> {
    let mut changed = Vec::new();
    for was in 0..old.firings.len() {
        let at = plan.firings.iter().position(|firing| firing.was == Some(was));
        let same = at.is_some_and(|at| {
            let (a, b) = (&old.firings[was], &plan.firings[at]);
            let lots = old.lots_in(was).eq(plan.lots_in(at));
            lots && (a.way, a.light, a.draw) == (b.way, b.light, b.draw)
                && (a.pack == b.pack || a.state != State::Planned)
        });
        if !same {
            let undone = undone(search.tables, (old, was), (plan, at));
            let reason = reason(search, plan, undone);
            let what = at.map_or(Change::LeftOut { was }, |at| Change::Moved { was, at });
            changed.push(Changed { what, reason });
        }
    }
    for at in 0..plan.firings.len() {
        if plan.firings[at].was.is_none() {
            let without = without(search.tables, plan, at);
            let reason = reason(search, plan, without);
            changed.push(Changed { what: Change::New { at }, reason });
        }
    }
    changed
}

/// The new plan with one firing as it was in the old one.
fn undone(tables: &Tables, (old, was): (&Plan, usize), (plan, at): (&Plan, Option<usize>)) -> Plan {
    let mut undone = plan.clone();
    let at = at.unwrap_or_else(|| {
        undone.firings.push(old.firings[was]);
        undone.firings.len() - 1
    });
    undone.firings[at] = old.firings[was];
    for lot in 0..undone.lot_in.len() {
        let now = undone.lot_in[lot];
        if old.lot_in[lot] == was && (now == WAITS || now == at) {
            undone.lot_in[lot] = at;
        } else if now == at {
            undone.lot_in[lot] = WAITS;
        }
    }
    tidied(tables, &mut undone);
    undone
}

fn reason(search: &mut Search<'_>, plan: &Plan, mut undone: Plan) -> Reason {
    let price = search.price(&mut undone.clone()).1;
    // As it was means with its hands as they were: only what fits nowhere else is placed anew.
    let as_it_was = Judged::of(search.tables, &undone).broken;
    search.price(&mut undone);
    let anew = Judged::of(search.tables, &undone).broken;
    let worst = |broken: &[(f64, Broken)]| {
        let worst = broken.iter().max_by(|a, b| a.0.total_cmp(&b.0));
        worst.map(|(_, broken)| *broken)
    };
    if let Some(broken) = worst(&anew).or(worst(&as_it_was)) {
        return Reason::Breaks(broken);
    }
    let saves = price - search.price(&mut plan.clone()).1;
    if saves > 0.5 { Reason::Saves(saves) } else { Reason::Follows }
}
