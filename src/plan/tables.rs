//! What is reckoned once from an instance: who is there at each step of the grid, and the chances that a
//! search asks for again and again.

use std::collections::BTreeSet;

use super::Firing;
use super::instance::{Fuel, Instance, Kiln, Person, Way};
use super::spread::{Spread, phi};

/// The grid of hands, watches and lightings, minutes.
pub const STEP_MIN: f64 = 5.0;

/// Standard deviations after the mean at which a kiln is drawn: cool with nine chances in ten.
const COOL_DEVIATIONS: f64 = 1.29;

/// Steps beyond the last moment stated, so that what drops late can still be drawn.
const STEPS_BEYOND: usize = 600;

/// Drops further apart than this are not asked whether their watches meet, minutes.
const APART_MIN: f64 = 400.0;

/// Stretch of time, minutes.
pub type Stretch = (f64, f64);

#[derive(Debug)]
pub struct Tables {
    pub instance: Instance,
    /// How many steps the grid has.
    pub steps: usize,
    /// How many people are there who can pack and draw, at each step.
    pub hands: Vec<u8>,
    /// When somebody is there who can watch.
    pub watched: Vec<Stretch>,
    /// Steps of night tariff before each step.
    night_before: Vec<u32>,
    /// What a litre of each load type left waiting still has to pay, EUR.
    pub still_to_fire_eur_per_l: Vec<f64>,
    /// From each way's lighting at each step: the chance that somebody is there at the drop.
    there: Vec<Vec<f64>>,
    /// When each way may be packed and lit so that its own rules hold, in the order of time.
    pub lightings: Vec<Vec<f64>>,
    /// The lots, each after the one it needs first.
    pub in_order: Vec<usize>,
    /// When each kiln that is hot from before has been drawn.
    pub free_from: Vec<f64>,
    /// What each lot is called by whoever said it; nothing where the load is known as a whole only.
    pub names: Vec<String>,
    /// Which lots are not to go into which kiln, by somebody's choice.
    pub barred: BTreeSet<(usize, usize)>,
}

/// The whole number at or below. A search asks for these so often that the library's own rounding would be a
/// tenth of it.
pub fn floor(value: f64) -> i64 {
    let whole = value as i64;
    whole - i64::from(whole as f64 > value)
}

pub fn floor_step(minute: f64) -> i64 {
    floor(minute / STEP_MIN)
}

pub fn ceil_step(minute: f64) -> i64 {
    -floor_step(-minute)
}

impl Tables {
    pub fn new(instance: Instance) -> Tables {
        let ends = instance.people.iter().flat_map(|person| &person.there).map(|there| there.1);
        let last = ends.fold(instance.last_drop_by, f64::max);
        let steps = floor_step(last).max(0) as usize + STEPS_BEYOND;
        let hands = present(&instance, steps, |person| person.packs);
        let eyes = present(&instance, steps, |person| person.watches);
        let mut tables = Tables {
            watched: stretches(&eyes),
            night_before: night_before(&instance, steps),
            still_to_fire_eur_per_l: still_to_fire(&instance),
            in_order: in_order(&instance),
            free_from: Vec::new(),
            names: instance.lots.iter().map(|lot| lot.id.clone()).collect(),
            barred: BTreeSet::new(),
            there: Vec::new(),
            lightings: Vec::new(),
            hands,
            steps,
            instance,
        };
        tables.free_from = tables.instance.kilns.iter().map(|k| tables.free_again(k)).collect();
        tables.there = (0..tables.instance.ways.len()).map(|way| tables.there_of(way)).collect();
        let packed = |way: usize| {
            let pack_min = tables.instance.kiln_of(way).pack_min;
            tables.may_be_lit(way).filter(|light| *light >= pack_min).collect()
        };
        tables.lightings = (0..tables.instance.ways.len()).map(packed).collect();
        tables
    }

    /// Whether somebody chose not to have this lot in the kiln of this way.
    pub fn bars(&self, lot: usize, way: usize) -> bool {
        self.barred.contains(&(lot, self.instance.ways[way].kiln))
    }

    /// From lit to the drop: as forecast, or as the way usually takes.
    pub fn drop_of<'a>(&'a self, firing: &'a Firing) -> &'a Spread {
        firing.forecast.as_ref().unwrap_or(&self.instance.ways[firing.way].drop)
    }

    /// The moment of the drop, as likely before as after.
    pub fn drop_at(&self, firing: &Firing) -> f64 {
        firing.light + self.drop_of(firing).p50
    }

    pub fn day_of(&self, firing: &Firing) -> i64 {
        self.instance.day(self.drop_at(firing))
    }

    /// The chance that somebody is there when the cone drops.
    pub fn there(&self, firing: &Firing) -> f64 {
        let step = floor_step(firing.light);
        match self.there[firing.way].get(step as usize) {
            Some(chance) if firing.forecast.is_none() && step as f64 * STEP_MIN == firing.light => {
                *chance
            }
            _ => self.there_lit(self.drop_of(firing), firing.light),
        }
    }

    fn there_lit(&self, drop: &Spread, light: f64) -> f64 {
        let near = |&&(from, to): &&Stretch| to > light && from < light + 2.0 * drop.p50;
        let watched = self.watched.iter().filter(near);
        watched.map(|(from, to)| drop.by(to - light) - drop.by(from - light)).sum()
    }

    /// The chance that two watches meet; 0 for drops on different days or far apart.
    pub fn meet(&self, one: &Firing, other: &Firing) -> f64 {
        let (a, b) = (self.drop_at(one), self.drop_at(other));
        if (a - b).abs() >= APART_MIN || self.instance.day(a) != self.instance.day(b) {
            return 0.0;
        }
        // The difference of two nearly normal drops is nearly normal: both moments agree.
        let (first, then) = (self.drop_of(one), self.drop_of(other));
        let mean = other.light - one.light + then.mean - first.mean;
        let deviation = (first.variance + then.variance).sqrt();
        let (one, other) = (self.instance.load_type(one.way), self.instance.load_type(other.way));
        phi((other.before_drop_min + one.after_drop_min - mean) / deviation)
            - phi((-(one.before_drop_min + other.after_drop_min) - mean) / deviation)
    }

    /// The chance that the kiln is cool by then.
    pub fn cool_by(&self, firing: &Firing, when: f64) -> f64 {
        let (drop, cool) = (self.drop_of(firing), &self.instance.ways[firing.way].cool);
        let mean = firing.light + drop.mean + cool.mean;
        phi((when - mean) / (drop.variance + cool.variance).sqrt())
    }

    /// When the kiln is cool enough to be drawn.
    pub fn drawable_at(&self, firing: &Firing) -> f64 {
        let (drop, cool) = (self.drop_of(firing), &self.instance.ways[firing.way].cool);
        let deviation = (drop.variance + cool.variance).sqrt();
        firing.light + (drop.mean + cool.mean + COOL_DEVIATIONS * deviation)
    }

    /// The first moment from which whoever packs and draws is free for so long; the end of the grid if there is
    /// none.
    pub fn first_free(&self, from: f64, min: f64, free: impl Fn(usize) -> bool) -> f64 {
        let need = ceil_step(min).max(1) as usize;
        let mut run = 0;
        for step in ceil_step(from).max(0) as usize..self.steps {
            run = if free(step) { run + 1 } else { 0 };
            if run == need {
                return (step + 1 - need) as f64 * STEP_MIN;
            }
        }
        self.steps as f64 * STEP_MIN
    }

    /// The last stretch of so long between two moments in which they are free.
    pub fn last_free(
        &self,
        (from, by): (f64, f64),
        min: f64,
        free: impl Fn(usize) -> bool,
    ) -> Option<f64> {
        let (need, least) = (ceil_step(min), ceil_step(from).max(0));
        let mut run = 0;
        for step in (least..floor_step(by).min(self.steps as i64)).rev() {
            run = if free(step as usize) { run + 1 } else { 0 };
            if run == need {
                return Some(step as f64 * STEP_MIN);
            }
        }
        None
    }

    /// The first moment from which somebody who draws is there for so long.
    pub fn next_there(&self, minute: f64, need_min: f64) -> f64 {
        self.first_free(minute, need_min, |step| self.hands[step] > 0)
    }

    /// The last stretch in which somebody can pack before it is lit.
    pub fn pack_before(&self, kiln: usize, light: f64) -> Option<f64> {
        let pack_min = self.instance.kilns[kiln].pack_min;
        self.last_free((0.0, light), pack_min, |step| self.hands[step] > 0)
    }

    /// Whether somebody is there to light a kiln then.
    pub fn somebody_lights(&self, light: f64) -> bool {
        let step = floor_step(light);
        let there = |step: i64| self.hands[step as usize] > 0;
        step > 0 && (step as usize) < self.steps && (there(step) || there(step - 1))
    }

    pub fn fuel_eur(&self, firing: &Firing) -> f64 {
        let kwh = match self.instance.ways[firing.way].fuel {
            Fuel::GasEur(eur) => return eur,
            Fuel::Kwh(kwh) => kwh,
        };
        let step = |minute: f64| floor_step(minute).clamp(0, self.steps as i64) as usize;
        let (from, to) = (step(firing.light), step(self.drop_at(firing)));
        let night = f64::from(self.night_before[to] - self.night_before[from]);
        let night = night / (to - from).max(1) as f64;
        let tariff = &self.instance.tariff;
        kwh * (night * tariff.night_eur_per_kwh + (1.0 - night) * tariff.day_eur_per_kwh)
    }

    fn free_again(&self, kiln: &Kiln) -> f64 {
        kiln.cool_at.map_or(0.0, |cool| {
            self.next_there(cool.at(COOL_DEVIATIONS), kiln.draw_min) + kiln.draw_min
        })
    }

    fn there_of(&self, way: usize) -> Vec<f64> {
        let drop = &self.instance.ways[way].drop;
        (0..self.steps).map(|step| self.there_lit(drop, step as f64 * STEP_MIN)).collect()
    }

    /// When a kiln that is packed may be lit.
    pub fn may_be_lit(&self, way: usize) -> impl Iterator<Item = f64> + '_ {
        let (limits, kiln) = (&self.instance.limits, self.instance.kiln_of(way));
        let may = move |light: &f64| {
            let firing = Firing::new(way, *light);
            self.drop_at(&firing) <= self.instance.last_drop_by
                && self.there(&firing) >= limits.dropped_while_there_at_least
                && (kiln.starts_by_itself || self.somebody_lights(*light))
        };
        (1..self.steps).map(|step| step as f64 * STEP_MIN).filter(may)
    }
}

fn present(instance: &Instance, steps: usize, can: fn(&Person) -> bool) -> Vec<u8> {
    let mut present = vec![0u8; steps];
    for person in instance.people.iter().filter(|person| can(person)) {
        for (from, to) in &person.there {
            for step in ceil_step(*from).max(0)..floor_step(*to).max(0) {
                present[step as usize] = present[step as usize].saturating_add(1);
            }
        }
    }
    present
}

fn night_before(instance: &Instance, steps: usize) -> Vec<u32> {
    let night = |step: usize| instance.is_night(step as f64 * STEP_MIN);
    let sum = (0..steps).scan(0, |sum, step| {
        *sum += u32::from(night(step));
        Some(*sum)
    });
    std::iter::once(0).chain(sum).collect()
}

fn stretches(present: &[u8]) -> Vec<Stretch> {
    let mut found: Vec<Stretch> = Vec::new();
    for (step, _) in present.iter().enumerate().filter(|(_, count)| **count > 0) {
        let (from, to) = (step as f64 * STEP_MIN, (step + 1) as f64 * STEP_MIN);
        match found.last_mut() {
            Some(last) if last.1 == from => last.1 = to,
            _ => found.push((from, to)),
        }
    }
    found
}

/// Ware left waiting owes its share of a usual load, four fifths full.
fn still_to_fire(instance: &Instance) -> Vec<f64> {
    let eur = |way: &Way| {
        let fuel = match way.fuel {
            Fuel::GasEur(eur) => eur,
            Fuel::Kwh(kwh) => kwh * instance.tariff.day_eur_per_kwh,
        };
        (fuel + instance.weights.firing_work_eur) / instance.kilns[way.kiln].room_l
    };
    let of_type = |load_type: usize| {
        let each: Vec<f64> =
            instance.ways_of(load_type).map(|way| eur(&instance.ways[way])).collect();
        each.iter().sum::<f64>() / each.len().max(1) as f64 / 0.8
    };
    (0..instance.load_types.len()).map(of_type).collect()
}

fn in_order(instance: &Instance) -> Vec<usize> {
    let depth = |lot: usize| {
        let first = |lot: &usize| instance.lots[*lot].after.map(|(first, _)| first);
        std::iter::successors(Some(lot), first).take(instance.lots.len()).count()
    };
    let mut order: Vec<usize> = (0..instance.lots.len()).collect();
    order.sort_by_key(|lot| depth(*lot));
    order
}
