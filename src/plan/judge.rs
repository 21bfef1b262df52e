//! Which rules a plan breaks and what it costs, in closed form.
//!
//! Two near-normal drops make the chance that their watches meet a difference of two normal
//! distribution functions, and a day's chance is at most the sum over its pairs; so nothing is
//! simulated, and a search can judge some hundred thousand plans a second.

use super::tables::{STEP_MIN, Tables, ceil_step, floor_step};
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

/// What a plan costs, EUR.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Costs {
    pub fuel: f64,
    pub work: f64,
    pub still_to_fire: f64,
    pub late: f64,
    pub waiting: f64,
    pub watches_meet: f64,
    pub nobody_there: f64,
    pub put_off: f64,
}

impl Costs {
    pub fn each(&self) -> [(&'static str, f64); 8] {
        [
            ("fuel", self.fuel),
            ("work", self.work),
            ("still_to_fire", self.still_to_fire),
            ("late", self.late),
            ("waiting", self.waiting),
            ("watches_meet", self.watches_meet),
            ("nobody_there", self.nobody_there),
            ("put_off", self.put_off),
        ]
    }

    pub fn total(&self) -> f64 {
        self.each().iter().map(|(_, eur)| eur).sum()
    }
}

/// A rule a plan breaks; firings and lots by their place in the plan and in the instance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Broken {
    WrongLoadType { lot: usize },
    Barred { lot: usize },
    TooFull { firing: usize, litres: f64 },
    Empty { firing: usize },
    NobodyPacks { firing: usize },
    PackedBeforeNow { firing: usize },
    LitBeforePacked { firing: usize },
    LitLongAfterPacking { firing: usize },
    NobodyLights { firing: usize },
    DropsAfterEnd { firing: usize },
    NeedsFirst { lot: usize },
    OnTheBench { lot: usize, firing: usize },
    NotDry { lot: usize, firing: usize },
    NobodyDraws { firing: usize },
    DrawnHot { firing: usize, chance: f64 },
    NobodyAtDrop { firing: usize, chance: f64 },
    HotFromBefore { firing: usize },
    NotDrawnYet { firing: usize },
    HandsShort { minutes: f64, at: f64 },
    GasAtOnce { firing: usize, kilns: usize },
    PowerAtOnce { firing: usize, kw: f64 },
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
    pub fn of(tables: &Tables, plan: &Plan) -> Judged {
        let mut broken = Vec::new();
        let costs = Slate::new(tables).judge(tables, plan, &mut |size, what| {
            broken.push((size, what));
        });
        Judged { broken, costs }
    }
}

/// Room for the sums of one judgement, kept from one to the next.
#[derive(Debug)]
pub struct Slate {
    hands: Vec<u8>,
    eyes: Vec<u8>,
    order: Vec<usize>,
    load: Vec<Load>,
    drawn: Vec<f64>,
    finished: Vec<f64>,
    climbs: Vec<Climb>,
    last_of_kiln: Vec<Option<usize>>,
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

/// A kiln that begins or ends its climb.
#[derive(Debug, Clone, Copy)]
struct Climb {
    at: f64,
    begins: bool,
    kilns: i32,
    kw: f64,
    firing: usize,
}

type Say<'a> = &'a mut dyn FnMut(f64, Broken);

impl Slate {
    pub fn new(tables: &Tables) -> Slate {
        let lots = tables.instance.lots.len();
        Slate {
            hands: vec![0; tables.steps],
            eyes: vec![0; tables.steps],
            order: Vec::new(),
            load: Vec::new(),
            drawn: vec![f64::NAN; lots],
            finished: vec![0.0; lots],
            climbs: Vec::new(),
            last_of_kiln: vec![None; tables.instance.kilns.len()],
        }
    }

    /// What the plan costs; each rule it breaks is said, with how badly.
    pub fn judge(&mut self, tables: &Tables, plan: &Plan, say: Say<'_>) -> Costs {
        let mut costs = Costs::default();
        self.loads(tables, plan, say);
        for (at, firing) in plan.firings.iter().enumerate() {
            self.firing(tables, (at, firing), &mut costs, say);
        }
        self.lots(tables, plan, say);
        self.kilns(tables, plan, &mut costs, say);
        self.short_hands(tables, plan, say);
        self.climbs(tables, plan, say);
        self.watches(tables, plan, &mut costs, say);
        self.lateness(tables, &mut costs);
        costs
    }

    fn loads(&mut self, tables: &Tables, plan: &Plan, say: Say<'_>) {
        let instance = &tables.instance;
        self.load.clear();
        self.load.extend(plan.firings.iter().map(|firing| {
            let drop = tables.drop_at(firing);
            Load { drop, day: instance.day(drop), ..Load::default() }
        }));
        for (lot, at) in plan.lot_in.iter().enumerate() {
            self.drawn[lot] = f64::NAN;
            if *at == WAITS {
                continue;
            }
            let (is, firing) = (&instance.lots[lot], &plan.firings[*at]);
            let load = &mut self.load[*at];
            load.litres += is.room_l;
            load.worth_eur += is.worth_eur();
            load.lots += 1;
            self.drawn[lot] = firing.draw + instance.kiln_of(firing.way).draw_min;
            if is.load_type != instance.ways[firing.way].load_type {
                say(5.0, Broken::WrongLoadType { lot });
            }
            // What was packed all the same is as it is.
            if firing.state == State::Planned && tables.bars(lot, firing.way) {
                say(5.0, Broken::Barred { lot });
            }
        }
    }

    fn firing(
        &self,
        tables: &Tables,
        (at, firing): (usize, &Firing),
        costs: &mut Costs,
        say: Say<'_>,
    ) {
        let instance = &tables.instance;
        let (kiln, limits, load) = (instance.kiln_of(firing.way), &instance.limits, self.load[at]);
        if load.litres > kiln.room_l + 1e-6 {
            say(load.litres / kiln.room_l, Broken::TooFull { firing: at, litres: load.litres });
        }
        if load.lots == 0 {
            say(1.0, Broken::Empty { firing: at });
        }
        let there = tables.there(firing);
        // What burns already can be neither packed nor lit otherwise.
        if firing.state != State::Lit {
            if firing.state == State::Planned {
                packing(firing, at, kiln.pack_min, say);
            }
            if !kiln.starts_by_itself && !tables.somebody_lights(firing.light) {
                say(2.0, Broken::NobodyLights { firing: at });
            }
            if load.drop > instance.last_drop_by {
                say(1.0, Broken::DropsAfterEnd { firing: at });
            }
            let least = limits.dropped_while_there_at_least;
            if there < least - THERE_SLACK {
                say(0.2 + least - there, Broken::NobodyAtDrop { firing: at, chance: there });
            }
        }
        let is_drawn = firing.state == State::Lit && firing.draw + kiln.draw_min <= 0.0;
        if !is_drawn {
            drawing(tables, (at, firing), say);
        }
        let weights = &instance.weights;
        costs.nobody_there += (1.0 - there) * weights.lost_share_if_nobody_there * load.worth_eur;
        costs.fuel += tables.fuel_eur(firing);
        costs.work += weights.firing_work_eur;
    }

    fn lots(&self, tables: &Tables, plan: &Plan, say: Say<'_>) {
        for (lot, at) in plan.lot_in.iter().enumerate().filter(|(_, at)| **at != WAITS) {
            let firing = &plan.firings[*at];
            if firing.state != State::Planned {
                continue;
            }
            let is = &tables.instance.lots[lot];
            let pack = self.packs_at(tables, firing);
            let until = |ready: f64| 1.0 + ((ready - pack) / DAY_MIN).min(9.0);
            match is.after {
                Some((first, _)) if plan.lot_in[first] == WAITS => {
                    say(2.0, Broken::NeedsFirst { lot });
                }
                Some((first, bench)) => {
                    let ready = self.drawn[first] + bench;
                    if ready > pack + ROUNDING_MIN {
                        say(until(ready), Broken::OnTheBench { lot, firing: *at });
                    }
                }
                None => {
                    let ready = is.ready_from.unwrap_or(0.0);
                    if ready > pack + ROUNDING_MIN {
                        say(until(ready), Broken::NotDry { lot, firing: *at });
                    }
                }
            }
        }
    }

    /// Where nobody can pack, as if it were packed just before the lighting.
    fn packs_at(&self, tables: &Tables, firing: &Firing) -> f64 {
        let latest = firing.light - tables.instance.kiln_of(firing.way).pack_min;
        if firing.pack.is_nan() { latest } else { firing.pack }
    }

    fn kilns(&mut self, tables: &Tables, plan: &Plan, costs: &mut Costs, say: Say<'_>) {
        let instance = &tables.instance;
        self.order.clear();
        self.order.extend(0..plan.firings.len());
        self.order.sort_by(|a, b| plan.firings[*a].light.total_cmp(&plan.firings[*b].light));
        self.last_of_kiln.fill(None);
        for at in &self.order {
            let firing = &plan.firings[*at];
            let kiln = instance.ways[firing.way].kiln;
            let pack = self.packs_at(tables, firing);
            let draw_min = instance.kilns[kiln].draw_min;
            match self.last_of_kiln[kiln].replace(*at) {
                None => {
                    let free = tables.first_free[kiln];
                    if pack < free - ROUNDING_MIN && firing.state == State::Planned {
                        let size = 1.0 + ((free - pack) / DAY_MIN).min(5.0);
                        say(size, Broken::HotFromBefore { firing: *at });
                    }
                }
                Some(before) => {
                    let before = &plan.firings[before];
                    let free = before.draw + draw_min;
                    if pack < free - ROUNDING_MIN && firing.state == State::Planned {
                        let size = 1.0 + ((free - pack) / DAY_MIN).min(9.0);
                        say(size, Broken::NotDrawnYet { firing: *at });
                    }
                    let cool = tables.cool_by(before, pack - draw_min + 20.0);
                    costs.put_off += (1.0 - cool) * instance.weights.put_off_eur;
                }
            }
        }
    }

    fn short_hands(&mut self, tables: &Tables, plan: &Plan, say: Say<'_>) {
        let instance = &tables.instance;
        self.hands.fill(0);
        self.eyes.fill(0);
        let (mut short, mut first) = (0, f64::INFINITY);
        for firing in &plan.firings {
            let kiln = instance.kiln_of(firing.way);
            let watch = &instance.load_types[instance.ways[firing.way].load_type];
            let drop = tables.drop_at(firing);
            take(&mut self.eyes, drop - watch.before_drop_min, drop + watch.after_drop_min);
            take(&mut self.hands, firing.draw, firing.draw + kiln.draw_min);
            if firing.draw > 0.0 {
                short += outside(tables.steps, firing.draw, firing.draw + kiln.draw_min);
            }
            if firing.state == State::Planned {
                let pack = self.packs_at(tables, firing);
                short += outside(tables.steps, pack, pack + kiln.pack_min);
                take(&mut self.hands, pack, pack + kiln.pack_min);
            }
        }
        for firing in &plan.firings {
            let kiln = instance.kiln_of(firing.way);
            let pack = self.packs_at(tables, firing);
            for (from, min) in [(pack, kiln.pack_min), (firing.draw, kiln.draw_min)] {
                for step in steps(tables.steps, from, from + min) {
                    let busy = std::mem::take(&mut self.hands[step]);
                    if busy > 0 && busy + self.eyes[step] > tables.hands[step] {
                        short += 1;
                        first = first.min(step as f64 * STEP_MIN);
                    }
                }
            }
        }
        if short > 0 {
            let minutes = short as f64 * STEP_MIN;
            say(0.3 + short as f64 / 6.0, Broken::HandsShort { minutes, at: first });
        }
    }

    fn climbs(&mut self, tables: &Tables, plan: &Plan, say: Say<'_>) {
        let limits = &tables.instance.limits;
        self.climbs.clear();
        for (at, firing) in plan.firings.iter().enumerate() {
            let (kilns, kw) = match tables.instance.kiln_of(firing.way).power_kw {
                None => (1, 0.0),
                Some(kw) => (0, kw),
            };
            let begins = Climb { at: firing.light, begins: true, kilns, kw, firing: at };
            let ends =
                Climb { at: self.load[at].drop, begins: false, kilns: -kilns, kw: -kw, firing: at };
            self.climbs.extend([begins, ends]);
        }
        self.climbs.sort_by(|a, b| {
            let same_moment = a.begins.cmp(&b.begins).then(a.kilns.cmp(&b.kilns));
            a.at.total_cmp(&b.at).then(same_moment).then(a.kw.total_cmp(&b.kw))
        });
        let (mut gas, mut kw) = (0i32, 0.0);
        for climb in &self.climbs {
            gas += climb.kilns;
            kw += climb.kw;
            if !climb.begins || plan.firings[climb.firing].state == State::Lit {
                continue;
            }
            let firing = climb.firing;
            let kilns = gas.max(0) as usize;
            if climb.kilns > 0 && kilns > limits.gas_kilns_climbing_at_once {
                say(1.0, Broken::GasAtOnce { firing, kilns });
            }
            if climb.kw > 0.0 && kw > limits.power_kw_at_once + 0.05 {
                say(0.5 + kw / limits.power_kw_at_once, Broken::PowerAtOnce { firing, kw });
            }
        }
    }

    fn watches(&mut self, tables: &Tables, plan: &Plan, costs: &mut Costs, say: Say<'_>) {
        let weight = tables.instance.weights.lost_share_if_watches_meet;
        let most = tables.instance.limits.watches_meet_at_most;
        let load = &self.load;
        let mut order = std::mem::take(&mut self.order);
        order.sort_by(|a, b| load[*a].drop.total_cmp(&load[*b].drop));
        let mut total = 0.0;
        for (nth, at) in order.iter().enumerate() {
            let (one, day) = (&plan.firings[*at], load[*at].day);
            for next in &order[nth + 1..] {
                let other = &plan.firings[*next];
                if load[*next].day != day {
                    break;
                }
                let chance = tables.meet(one, other);
                // Of two that burn nothing can be moved any more.
                if one.state != State::Lit || other.state != State::Lit {
                    total += chance;
                }
                costs.watches_meet +=
                    chance * weight * load[*at].worth_eur.min(load[*next].worth_eur);
            }
            if order.get(nth + 1).is_none_or(|next| load[*next].day != day) {
                if total > most + MEET_SLACK {
                    say(0.2 + total, Broken::WatchesMeet { day, chance: total });
                }
                total = 0.0;
            }
        }
        self.order = order;
    }

    fn lateness(&mut self, tables: &Tables, costs: &mut Costs) {
        let (instance, weights) = (&tables.instance, &tables.instance.weights);
        for at in &tables.in_order {
            let lot = &instance.lots[*at];
            let first = lot.after.map(|(first, bench)| (self.finished[first], bench));
            let ready = match first {
                Some((finished, bench)) => finished + bench,
                None => lot.ready_from.unwrap_or(0.0),
            };
            let mut finished = self.drawn[*at];
            if finished.is_nan() {
                let first = first.map_or(0.0, |(finished, _)| finished + DAY_MIN);
                finished = (instance.last_drop_by + AFTER_THE_END_MIN).max(first);
                let eur_per_l = tables.still_to_fire_eur_per_l[lot.load_type];
                costs.still_to_fire += lot.room_l * eur_per_l;
            }
            self.finished[*at] = finished;
            let waits = (finished - ready.max(0.0)).max(0.0) / DAY_MIN;
            costs.waiting += lot.pieces * weights.waiting_eur_per_piece_day * waits;
            let days = lot.wanted_by.map_or(0.0, |by| days_late(finished, by));
            costs.late += days * lot.pieces * weights.late_eur_per_piece_day;
        }
    }
}

/// Whole days begun after it was wanted.
pub fn days_late(finished: f64, wanted_by: f64) -> f64 {
    ((finished - wanted_by) / DAY_MIN).ceil().max(0.0)
}

fn packing(firing: &Firing, at: usize, pack_min: f64, say: Say<'_>) {
    if firing.pack.is_nan() {
        say(2.0, Broken::NobodyPacks { firing: at });
        if firing.light - pack_min < -ROUNDING_MIN {
            say(2.0, Broken::PackedBeforeNow { firing: at });
        }
        return;
    }
    if firing.pack < -ROUNDING_MIN {
        say(2.0, Broken::PackedBeforeNow { firing: at });
    }
    if firing.light < firing.pack + pack_min - ROUNDING_MIN {
        say(1.0, Broken::LitBeforePacked { firing: at });
    }
    if firing.light > firing.pack + DAY_MIN {
        say(1.0, Broken::LitLongAfterPacking { firing: at });
    }
}

fn drawing(tables: &Tables, (at, firing): (usize, &Firing), say: Say<'_>) {
    let step = floor_step(firing.draw);
    let drawn_by_somebody = |step: i64| step >= 0 && tables.hands[step as usize] > 0;
    if step < tables.steps as i64 && !drawn_by_somebody(step) {
        say(1.0, Broken::NobodyDraws { firing: at });
    }
    let cool = tables.cool_by(firing, firing.draw);
    if cool < tables.instance.limits.cool_in_time_at_least - COOL_SLACK {
        say(0.5, Broken::DrawnHot { firing: at, chance: cool });
    }
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
