//! Which rules a plan breaks and what it costs, in closed form.
//!
//! Two near-normal drops make the chance that their watches meet a difference of two normal
//! distribution functions, and a day's chance is at most the sum over its pairs; so nothing is
//! simulated, and a search can judge some hundred thousand plans a second.

use std::cmp::Ordering;

use super::decode::watch;
use super::instance::Instance;
use super::tables::{STEP_MIN, Tables, ceil_step, floor, floor_step};
use super::{Firing, Plan, State, WAITS};

const DAY_MIN: f64 = 1440.0;

/// What is allowed for rounding, minutes.
const ROUNDING_MIN: f64 = 1.0;

/// How far below the chance asked for a chance still passes: of a drop while somebody is there, of a
/// kiln cool in time; and how far above it, of watches that meet.
const THERE_SLACK: f64 = 0.005;
const COOL_SLACK: f64 = 0.02;
const MEET_SLACK: f64 = 0.001;

/// How long after the plan's end a lot left waiting is taken to be drawn, minutes: the next morning.
const AFTER_THE_END_MIN: f64 = 1100.0;

macro_rules! costs {
    ($($kind:ident),*) => {
        /// What a plan costs, EUR.
        #[derive(Debug, Clone, Copy, PartialEq, Default)]
        pub struct Costs { $(pub $kind: f64),* }

        impl Costs {
            pub fn each(&self) -> [(&'static str, f64); 8] {
                [$((stringify!($kind), self.$kind)),*]
            }
        }
    };
}

costs!(fuel, work, still_to_fire, late, waiting, watches_meet, nobody_there, put_off);

impl Costs {
    pub fn total(&self) -> f64 {
        self.each().iter().map(|(_, eur)| eur).sum()
    }
}

/// A rule a plan breaks; lots by their place in the instance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Broken {
    WrongLoadType { lot: usize },
    Barred { lot: usize },
    TooFull { litres: f64 },
    Empty,
    NobodyPacks,
    PackedBeforeNow,
    LitBeforePacked,
    LitLongAfterPacking,
    NobodyLights,
    DropsAfterEnd,
    NeedsFirst { lot: usize },
    OnTheBench { lot: usize },
    NotDry { lot: usize },
    NobodyDraws,
    DrawnHot { chance: f64 },
    NobodyAtDrop { chance: f64 },
    HotFromBefore,
    NotDrawnYet,
    HandsShort { minutes: f64, at: f64 },
    GasAtOnce { kilns: usize },
    PowerAtOnce { kw: f64 },
    WatchesMeet { day: i64, chance: f64 },
}

/// A plan with what is to be said of it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Judged {
    /// Each with how badly it is broken.
    pub broken: Vec<(f64, Broken)>,
    pub costs: Costs,
}

impl Judged {
    /// What the plan costs, and each rule it breaks.
    pub fn of(tables: &Tables, plan: &Plan) -> Judged {
        let mut judge = Judge {
            tables,
            instance: &tables.instance,
            plan,
            order: plan.by_light(),
            load: Vec::new(),
            drawn: vec![f64::NAN; plan.lot_in.len()],
            judged: Judged::default(),
        };
        judge.loads();
        for (at, firing) in plan.firings.iter().enumerate() {
            judge.firing(firing, judge.load[at]);
        }
        judge.lots();
        judge.kilns();
        judge.short_hands();
        judge.climbs();
        judge.watches();
        judge.lateness();
        judge.judged
    }
}

/// One judgement.
struct Judge<'a> {
    tables: &'a Tables,
    instance: &'a Instance,
    plan: &'a Plan,
    order: Vec<usize>,
    load: Vec<Load>,
    /// When each lot is drawn; no number where it waits.
    drawn: Vec<f64>,
    judged: Judged,
}

/// What the lots of one firing come to.
#[derive(Debug, Clone, Copy, Default)]
struct Load {
    litres: f64,
    worth_eur: f64,
    lots: usize,
    drop: f64,
    day: i64,
}

impl Judge<'_> {
    fn say(&mut self, size: f64, broken: Broken) {
        self.judged.broken.push((size, broken));
    }

    fn loads(&mut self) {
        self.load.extend(self.plan.firings.iter().map(|firing| {
            let drop = self.tables.drop_at(firing);
            Load { drop, day: self.instance.day(drop), ..Load::default() }
        }));
        for (lot, at) in self.plan.placed() {
            let (is, firing) = (&self.instance.lots[lot], &self.plan.firings[at]);
            let load = &mut self.load[at];
            load.litres += is.room_l;
            load.worth_eur += is.worth_eur();
            load.lots += 1;
            self.drawn[lot] = self.instance.drawn_by(firing);
            if is.load_type != self.instance.ways[firing.way].load_type {
                self.say(5.0, Broken::WrongLoadType { lot });
            }
            // What was packed all the same is as it is.
            if firing.state == State::Planned && self.tables.bars(lot, firing.way) {
                self.say(5.0, Broken::Barred { lot });
            }
        }
    }

    fn firing(&mut self, firing: &Firing, load: Load) {
        let (tables, instance) = (self.tables, self.instance);
        let (kiln, limits) = (instance.kiln_of(firing.way), &instance.limits);
        if load.litres > kiln.room_l + 1e-6 {
            let litres = load.litres;
            self.say(litres / kiln.room_l, Broken::TooFull { litres });
        }
        if load.lots == 0 {
            self.say(1.0, Broken::Empty);
        }
        let there = tables.there(firing);
        // What burns already can be neither packed nor lit otherwise.
        if firing.state != State::Lit {
            if firing.state == State::Planned {
                self.packing(firing, kiln.pack_min);
            }
            if !kiln.starts_by_itself && !tables.somebody_lights(firing.light) {
                self.say(2.0, Broken::NobodyLights);
            }
            if load.drop > instance.last_drop_by {
                self.say(1.0, Broken::DropsAfterEnd);
            }
            let least = limits.dropped_while_there_at_least;
            if there < least - THERE_SLACK {
                self.say(0.2 + least - there, Broken::NobodyAtDrop { chance: there });
            }
        }
        if !instance.is_drawn(firing) {
            self.drawing(firing);
        }
        let weights = &instance.weights;
        self.judged.costs.nobody_there +=
            (1.0 - there) * weights.lost_share_if_nobody_there * load.worth_eur;
        self.judged.costs.fuel += tables.fuel_eur(firing);
        self.judged.costs.work += weights.firing_work_eur;
    }

    fn packing(&mut self, firing: &Firing, pack_min: f64) {
        let pack = self.packs_at(firing);
        if firing.pack.is_nan() {
            self.say(2.0, Broken::NobodyPacks);
        }
        if pack < -ROUNDING_MIN {
            self.say(2.0, Broken::PackedBeforeNow);
        }
        if firing.light < pack + pack_min - ROUNDING_MIN {
            self.say(1.0, Broken::LitBeforePacked);
        }
        if firing.light > pack + DAY_MIN {
            self.say(1.0, Broken::LitLongAfterPacking);
        }
    }

    fn drawing(&mut self, firing: &Firing) {
        let (tables, step) = (self.tables, floor_step(firing.draw));
        let drawn_by_somebody = step >= 0 && tables.hands.get(step as usize) != Some(&0);
        if !drawn_by_somebody {
            self.say(1.0, Broken::NobodyDraws);
        }
        let chance = tables.cool_by(firing, firing.draw);
        if chance < self.instance.limits.cool_in_time_at_least - COOL_SLACK {
            self.say(0.5, Broken::DrawnHot { chance });
        }
    }

    fn lots(&mut self) {
        for (lot, at) in self.plan.placed() {
            let firing = &self.plan.firings[at];
            if firing.state != State::Planned {
                continue;
            }
            let is = &self.instance.lots[lot];
            let (ready, late) = match is.after {
                Some((first, _)) if self.plan.lot_in[first] == WAITS => {
                    self.say(2.0, Broken::NeedsFirst { lot });
                    continue;
                }
                Some((first, bench)) => (self.drawn[first] + bench, Broken::OnTheBench { lot }),
                None => (is.ready_from.unwrap_or(0.0), Broken::NotDry { lot }),
            };
            self.too_soon((self.packs_at(firing), ready), 9.0, late);
        }
    }

    /// Says it of a packing before something is ready for it: the worse the longer before, up to so many days.
    fn too_soon(&mut self, (pack, ready): (f64, f64), most: f64, broken: Broken) {
        if ready > pack + ROUNDING_MIN {
            self.say(1.0 + ((ready - pack) / DAY_MIN).min(most), broken);
        }
    }

    /// Where nobody can pack, as if it were packed just before the lighting.
    fn packs_at(&self, firing: &Firing) -> f64 {
        let latest = firing.light - self.instance.kiln_of(firing.way).pack_min;
        if firing.pack.is_nan() { latest } else { firing.pack }
    }

    fn kilns(&mut self) {
        let mut last_of_kiln: Vec<Option<&Firing>> = vec![None; self.instance.kilns.len()];
        for nth in 0..self.order.len() {
            let at = self.order[nth];
            let firing = &self.plan.firings[at];
            let kiln = self.instance.ways[firing.way].kiln;
            let pack = self.packs_at(firing);
            let draw_min = self.instance.kilns[kiln].draw_min;
            let before = last_of_kiln[kiln].replace(firing);
            if firing.state == State::Planned {
                let (free, most, hot) = match before {
                    None => (self.tables.free_from[kiln], 5.0, Broken::HotFromBefore),
                    Some(before) => (self.instance.drawn_by(before), 9.0, Broken::NotDrawnYet),
                };
                self.too_soon((pack, free), most, hot);
            }
            if let Some(before) = before {
                let cool = self.tables.cool_by(before, pack - draw_min + 20.0);
                self.judged.costs.put_off += (1.0 - cool) * self.instance.weights.put_off_eur;
            }
        }
    }

    fn short_hands(&mut self) {
        let (tables, of) = (self.tables, self.tables.steps);
        let (mut hands, mut eyes) = (vec![0u8; of], vec![0u8; of]);
        let mut work = Vec::with_capacity(2 * self.plan.firings.len());
        let mut short = 0;
        let mut works = |(from, min): (f64, f64), counts: bool| {
            short += if counts { outside(of, from, from + min) } else { 0 };
            work.push(steps(of, from, from + min));
            take(&mut hands, from, from + min);
        };
        for firing in &self.plan.firings {
            let kiln = self.instance.kiln_of(firing.way);
            let (from, to) = watch(tables, firing);
            take(&mut eyes, from, to);
            works((firing.draw, kiln.draw_min), firing.draw > 0.0);
            if firing.state == State::Planned {
                works((self.packs_at(firing), kiln.pack_min), true);
            }
        }
        let mut at = f64::INFINITY;
        for step in work.into_iter().flatten() {
            // Counted once, whoever else is busy then.
            let busy = std::mem::take(&mut hands[step]);
            if busy > 0 && busy + eyes[step] > tables.hands[step] {
                short += 1;
                at = at.min(step as f64 * STEP_MIN);
            }
        }
        if short > 0 {
            let minutes = short as f64 * STEP_MIN;
            self.say(0.3 + short as f64 / 6.0, Broken::HandsShort { minutes, at });
        }
    }

    fn climbs(&mut self) {
        let limits = &self.instance.limits;
        // When which kiln begins or ends its climb, and what it takes; at one moment those that end come first.
        let mut climbs = Vec::with_capacity(2 * self.plan.firings.len());
        for (at, firing) in self.plan.firings.iter().enumerate() {
            let (gas, kw) = match self.instance.kiln_of(firing.way).power_kw {
                None => (1, 0.0),
                Some(kw) => (0, kw),
            };
            climbs.push((firing.light, true, gas, kw, at));
            climbs.push((self.load[at].drop, false, -gas, -kw, at));
        }
        climbs.sort_by(|a, b| a.partial_cmp(b).unwrap_or(Ordering::Equal));
        let (mut kilns, mut kw) = (0_i64, 0.0);
        for (_, begins, gas, more_kw, at) in climbs {
            kilns += gas;
            kw += more_kw;
            if !begins || self.plan.firings[at].state == State::Lit {
                continue;
            }
            if gas > 0 && kilns as usize > limits.gas_kilns_climbing_at_once {
                self.say(1.0, Broken::GasAtOnce { kilns: kilns as usize });
            }
            if more_kw > 0.0 && kw > limits.power_kw_at_once + 0.05 {
                self.say(0.5 + kw / limits.power_kw_at_once, Broken::PowerAtOnce { kw });
            }
        }
    }

    fn watches(&mut self) {
        let most = self.instance.limits.watches_meet_at_most;
        let mut order = std::mem::take(&mut self.order);
        order.sort_by(|a, b| self.load[*a].drop.total_cmp(&self.load[*b].drop));
        let mut total = 0.0;
        for (nth, at) in order.iter().enumerate() {
            let (one, load) = (&self.plan.firings[*at], self.load[*at]);
            for next in &order[nth + 1..] {
                let (other, its) = (&self.plan.firings[*next], self.load[*next]);
                if its.day != load.day {
                    break;
                }
                let chance = self.tables.meet(one, other);
                // Of two that burn nothing can be moved any more.
                if one.state != State::Lit || other.state != State::Lit {
                    total += chance;
                }
                let lost = self.instance.weights.lost_share_if_watches_meet;
                self.judged.costs.watches_meet += chance * lost * load.worth_eur.min(its.worth_eur);
            }
            if order.get(nth + 1).is_none_or(|next| self.load[*next].day != load.day) {
                if total > most + MEET_SLACK {
                    self.say(0.2 + total, Broken::WatchesMeet { day: load.day, chance: total });
                }
                total = 0.0;
            }
        }
    }

    fn lateness(&mut self) {
        let (instance, weights) = (self.instance, &self.instance.weights);
        let mut finished = std::mem::take(&mut self.drawn);
        for at in &self.tables.in_order {
            let lot = &instance.lots[*at];
            let first = lot.after.map(|(first, bench)| (finished[first], bench));
            let ready = match first {
                Some((finished, bench)) => finished + bench,
                None => lot.ready_from.unwrap_or(0.0),
            };
            if finished[*at].is_nan() {
                let first = first.map_or(0.0, |(finished, _)| finished + DAY_MIN);
                finished[*at] = (instance.last_drop_by + AFTER_THE_END_MIN).max(first);
                let eur_per_l = self.tables.still_to_fire_eur_per_l[lot.load_type];
                self.judged.costs.still_to_fire += lot.room_l * eur_per_l;
            }
            let waits = (finished[*at] - ready.max(0.0)).max(0.0) / DAY_MIN;
            self.judged.costs.waiting += lot.pieces * weights.waiting_eur_per_piece_day * waits;
            let days = lot.wanted_by.map_or(0.0, |by| days_late(finished[*at], by));
            self.judged.costs.late += days * lot.pieces * weights.late_eur_per_piece_day;
        }
    }
}

/// Whole days begun after it was wanted.
pub fn days_late(finished: f64, wanted_by: f64) -> f64 {
    (-floor((wanted_by - finished) / DAY_MIN)).max(0) as f64
}

/// How many steps of a stretch are off the grid, where nobody is there.
fn outside(of: usize, from: f64, to: f64) -> i64 {
    let before = (-floor_step(from)).clamp(0, ceil_step(to - from));
    before + (ceil_step(to) - floor_step(from).max(of as i64)).max(0)
}

/// The steps a stretch touches.
pub fn steps(of: usize, from: f64, to: f64) -> std::ops::Range<usize> {
    let within = |step: i64| step.clamp(0, of as i64) as usize;
    within(floor_step(from))..within(ceil_step(to))
}

/// One more is busy from then to then.
pub fn take(busy: &mut [u8], from: f64, to: f64) {
    let of = busy.len();
    for step in steps(of, from, to) {
        busy[step] = busy[step].saturating_add(1);
    }
}
