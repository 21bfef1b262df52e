//! Plaster moulds of other physics: how long pieces take in made-up shops. Shares no function and no
//! constant with the program.
//!
//! Times are hours since a Monday midnight; a month has 30 days.

use rand::{RngExt as _, SeedableRng as _};
use rand_distr::{Distribution as _, Gamma, StandardNormal};
use rand_pcg::Pcg64;
use statrs::distribution::{ContinuousCDF as _, Gamma as GammaChance};

pub type Chance = Pcg64;

pub fn chance(seed: u64, salt: u64) -> Chance {
    Pcg64::seed_from_u64(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ salt)
}

pub fn normal(chance: &mut Chance) -> f64 {
    StandardNormal.sample(chance)
}

/// When a piece lets go, and when it is too late, hours since the beginning.
#[derive(Debug, Clone, Copy)]
pub struct Truth {
    pub lets_go: f64,
    pub late: f64,
}

/// What was seen of one cast: hours since the beginning, and minutes from poured to drained.
#[derive(Debug, Clone, Copy)]
pub struct Seen {
    pub drained: f64,
    pub minutes: f64,
    pub heavy: f64,
    /// It let go between these.
    pub after: f64,
    pub before: f64,
}

/// What makes pieces let go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Physics {
    /// Water goes through the wall into two layers of plaster and from both into the air.
    Diffusion,
    /// Evaporation alone, until the shrinkage reaches a strain.
    Strain,
    /// Neither air nor water: a time for every mould, with a skewed noise and good and bad days.
    Times,
}

/// How long a shop's pieces take.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pace {
    Fast,
    Usual,
    Slow,
}

impl Pace {
    /// Hours, about.
    pub fn hours(self) -> f64 {
        match self {
            Pace::Fast => 11.0,
            Pace::Usual => 24.0,
            Pace::Slow => 46.0,
        }
    }
}

#[derive(Debug, Clone)]
struct Block {
    /// How well its plaster draws, and how windy its place is.
    draws: f64,
    windy: f64,
    /// Water in the plaster near the clay and behind it, kg/m2.
    near: f64,
    behind: f64,
    /// As of when.
    as_of: f64,
    casts: f64,
    /// How much later than letting go it is too late.
    forgives: f64,
}

/// One shop's air and moulds.
#[derive(Debug, Clone)]
pub struct World {
    physics: Physics,
    pace: Pace,
    season: f64,
    days: Days,
    blocks: Vec<Block>,
    chance: Chance,
}

/// The weather at each midnight and how good each day is, with what each has of the day before.
#[derive(Debug, Clone, Default)]
struct Days {
    weather: Vec<(f64, f64)>,
    good: Vec<f64>,
    last: Vec<[f64; 3]>,
}

impl Days {
    fn go_on(mut self, until: usize, season: f64, chance: &mut Chance) -> Days {
        let [mut warm, mut damp, mut good] = self.last.last().copied().unwrap_or_default();
        for day in self.last.len()..until {
            warm = 0.7 * warm + 1.4 * normal(chance);
            damp = 0.75 * damp + 0.06 * normal(chance);
            good = 0.6 * good + GOOD * normal(chance);
            let year = (season + day as f64 * std::f64::consts::TAU / 365.0).sin();
            self.weather.push((19.0 + 2.5 * year + warm, (0.62 + damp).clamp(0.32, 0.9)));
            self.good.push(good);
            self.last.push([warm, damp, good]);
        }
        self
    }
}

const DAYS: usize = 420;
const GOOD: f64 = 0.07;
/// Shape of the strain's gamma distribution; spread of the moulds' wind and draught; scale of Gumbel's noise.
const STRAIN: f64 = 40.0;
const WINDY: f64 = 0.3;
const DRAWS: f64 = 0.18;
const SKEWED: f64 = 0.11;
const STEP_H: f64 = 0.25;
/// kg/m2 of water the two layers hold.
const NEAR_HOLDS: f64 = 1.5;
const BEHIND_HOLDS: f64 = 6.0;

impl World {
    pub fn new(physics: Physics, pace: Pace, moulds: usize, seed: u64) -> World {
        let mut chance = chance(seed, 11);
        let season = chance.random_range(0.0..std::f64::consts::TAU);
        let days = Days::default().go_on(DAYS, season, &mut chance);
        let blocks = (0..moulds)
            .map(|_| Block {
                draws: (DRAWS * normal(&mut chance)).exp(),
                windy: (WINDY * normal(&mut chance)).exp(),
                near: 0.0,
                behind: chance.random_range(0.0..0.1) * BEHIND_HOLDS,
                as_of: 0.0,
                casts: 0.0,
                forgives: chance.random_range(1.75..2.35),
            })
            .collect();
        World { physics, pace, season, days, blocks, chance }
    }

    /// Temperature and relative humidity of the room.
    pub fn air(&self, at: f64) -> (f64, f64) {
        let day = ((at / 24.0).max(0.0) as usize).min(DAYS - 2);
        let part = at / 24.0 - day as f64;
        let (from, to) = (self.days.weather[day], self.days.weather[day + 1]);
        let swing = ((at % 24.0 - 9.0) / 24.0 * std::f64::consts::TAU).sin();
        let celsius = from.0 + part * (to.0 - from.0) + 1.6 * swing;
        let humid = (from.1 + part * (to.1 - from.1) - 0.05 * swing).clamp(0.25, 0.97);
        (celsius, humid)
    }

    /// What the air can still take up, kPa, by Tetens' formula.
    fn thirst(&self, at: f64) -> f64 {
        let (celsius, humid) = self.air(at);
        0.61078 * (17.27 * celsius / (celsius + 237.3)).exp() * (1.0 - humid)
    }

    /// How fast everything goes, 1 in the usual shop.
    fn speed(&self) -> f64 {
        Pace::Usual.hours() / self.pace.hours()
    }

    /// What a piece takes in a usual mould by the middle of its luck: thirst, or hours.
    fn whole(&self, minutes: f64, heavy: f64) -> f64 {
        let wall = minutes / 18.0;
        match self.physics {
            Physics::Times => self.pace.hours() * heavy * wall.powf(0.35),
            _ => 21.5 * self.pace.hours() / 24.0 * heavy * wall.sqrt(),
        }
    }

    /// From the 5th to the 95th hundredth of when the last of these casts of a mould lets go, hours, as
    /// told by somebody who knows this world's laws and numbers, its weather and how good its days were
    /// until now, and of the mould what was seen of it. Not for diffusion.
    pub fn known_width(&self, casts: &[Seen], chance: &mut Chance) -> Option<f64> {
        const PATHS: usize = 12;
        let (now, past) = casts.split_last()?;
        let today = (now.drained / 24.0) as usize;
        let spread = match self.physics {
            Physics::Diffusion => return None,
            Physics::Strain => WINDY,
            Physics::Times => DRAWS,
        };
        let weigh = |step: i32| {
            let z = 0.25 * f64::from(step);
            let (trait_of, mut log) = ((spread * z).exp(), -0.5 * z * z);
            for seen in past {
                let good = self.days.good[(seen.drained / 24.0) as usize];
                let done = |at: f64| self.done(seen.drained, at);
                let by = |at: f64| match at - seen.drained {
                    never if never <= 0.0 => 0.0,
                    hours if hours > 1e4 => 1.0,
                    _ => self.chance_by(seen, done(at), trait_of, good),
                };
                log += (by(seen.before) - by(seen.after)).max(1e-4).ln();
            }
            (trait_of, log.exp())
        };
        let traits: Vec<(f64, f64)> = (-12..=12).map(weigh).collect();
        let sum = PATHS as f64 * traits.iter().map(|(_, share)| share).sum::<f64>();
        let paths: Vec<World> = (0..PATHS)
            .map(|_| {
                let mut path = self.clone();
                // The weather is known to the midnight before, how good days are to the day before.
                let known = if self.physics == Physics::Times { today } else { today + 1 };
                path.days.weather.truncate(known);
                path.days.good.truncate(known);
                path.days.last.truncate(known);
                path.days = path.days.go_on(today + 40, self.season, chance);
                path
            })
            .collect();
        let mut done = vec![0.0; PATHS];
        let (mut at, mut before, mut from) = (now.drained, 0.0, None);
        loop {
            at += 0.5;
            let mut by = 0.0;
            for (path, done) in paths.iter().zip(&mut done) {
                *done += match self.physics {
                    Physics::Times => 0.5,
                    _ => 0.5 * path.thirst(at).max(0.05),
                };
                let good = path.days.good[today];
                let part = |(trait_of, share): &(f64, f64)| {
                    share * self.chance_by(now, *done, *trait_of, good)
                };
                by += traits.iter().map(part).sum::<f64>() / sum;
            }
            let crossed = |chance: f64| at - 0.5 * (by - chance) / (by - before);
            if by >= 0.05 && from.is_none() {
                from = Some(crossed(0.05));
            }
            if by >= 0.95 || at > now.drained + 800.0 {
                return Some(crossed(0.95) - from?);
            }
            before = by;
        }
    }

    /// Thirst, or hours, from one moment to another.
    fn done(&self, from: f64, to: f64) -> f64 {
        if self.physics == Physics::Times {
            return to - from;
        }
        let steps = ((to - from).min(1000.0) / STEP_H) as usize;
        let thirst = |step: usize| self.thirst(from + STEP_H * step as f64).max(0.05);
        STEP_H * (0..steps).map(thirst).sum::<f64>()
    }

    /// The chance that a piece lets go by the time so much is done, in a mould of this draught or wind.
    fn chance_by(&self, seen: &Seen, done: f64, trait_of: f64, good: f64) -> f64 {
        let whole = self.whole(seen.minutes, seen.heavy);
        if self.physics == Physics::Times {
            let z = ((done * trait_of / whole).ln() - good) / SKEWED + 0.577;
            return (-(-z).exp()).exp();
        }
        let strain = (0.5 + 0.5 * trait_of) * done / whole;
        GammaChance::new(STRAIN, STRAIN).expect("a shape").cdf(strain)
    }

    /// A piece drained now after so many minutes; `heavy` bodies take longer.
    pub fn drained(&mut self, mould: usize, at: f64, minutes: f64, heavy: f64) -> Truth {
        self.blocks[mould].casts += 1.0;
        let luck = normal(&mut self.chance);
        let other = normal(&mut self.chance);
        match self.physics {
            Physics::Diffusion => self.soak(mould, at, minutes, heavy, (luck, other)),
            Physics::Strain => {
                let gamma = Gamma::new(STRAIN, 1.0 / STRAIN).expect("a shape");
                let strain = gamma.sample(&mut self.chance);
                let block = &self.blocks[mould];
                let whole = strain * self.whole(minutes, heavy);
                let forgives = block.forgives * (0.08 * other).exp();
                let (windy, mut at, mut done) = (0.5 + 0.5 * block.windy, at, 0.0);
                let mut lets_go = None;
                loop {
                    done += STEP_H * windy * self.thirst(at).max(0.05);
                    at += STEP_H;
                    if done >= whole {
                        let lets_go = *lets_go.get_or_insert(at);
                        if done >= forgives * whole || at > lets_go + 2000.0 {
                            return Truth { lets_go, late: at };
                        }
                    }
                }
            }
            Physics::Times => {
                // Gumbel's noise: skewed to the late side.
                let even: f64 = self.chance.random_range(0.001..0.999);
                let skewed = SKEWED * (-(-even.ln()).ln() - 0.577);
                let block = &self.blocks[mould];
                let good = self.days.good[(at / 24.0) as usize];
                let takes = self.whole(minutes, heavy) / block.draws * (skewed + good).exp();
                let forgives = block.forgives * (0.12 * other).exp();
                Truth { lets_go: at + takes, late: at + takes * forgives.max(1.3) }
            }
        }
    }

    /// Water through the wall, until enough of it is gone.
    fn soak(&mut self, mould: usize, at: f64, minutes: f64, heavy: f64, luck: (f64, f64)) -> Truth {
        self.rest(mould, at);
        let speed = self.speed();
        let block = self.blocks[mould].clone();
        let wall_mm = (0.7 * minutes).sqrt() * (1.0 - 0.25 * block.near / NEAR_HOLDS);
        let clay = 1.5 * wall_mm;
        let (mut water, mut near, mut behind) = (0.30 * clay, block.near, block.behind);
        let lets_go_at = (0.215 - 0.006 * luck.0) / heavy.sqrt() * clay;
        let late_at = (0.166 - 0.005 * luck.1) / heavy.sqrt() * clay;
        let draws = 0.11 * speed * block.draws * (-0.004 * block.casts).exp();
        let (mut at, mut lets_go) = (at, None);
        loop {
            let thirst = self.thirst(at);
            let wet = (water / clay - 0.14).max(0.0);
            let drawn = draws * wet * 2.0 / wall_mm.sqrt() * (1.0 - near / NEAR_HOLDS).max(0.0);
            let open = 0.011 * speed * block.windy * thirst * (wet / 0.1).min(1.0);
            let passed = 0.05 * speed * (near / NEAR_HOLDS - behind / BEHIND_HOLDS);
            let left = 0.03 * speed * block.windy * thirst * behind / BEHIND_HOLDS;
            water -= STEP_H * (drawn + open);
            near += STEP_H * (drawn - passed);
            behind += STEP_H * (passed - left);
            at += STEP_H;
            if water <= lets_go_at && lets_go.is_none() {
                lets_go = Some(at);
                let block = &mut self.blocks[mould];
                (block.near, block.behind, block.as_of) = (near, behind, at);
            }
            if let Some(lets_go) = lets_go
                && (water <= late_at || at > lets_go + 2000.0)
            {
                return Truth { lets_go, late: at };
            }
        }
    }

    /// An empty mould dries on.
    fn rest(&mut self, mould: usize, at: f64) {
        let speed = self.speed();
        let mut block = self.blocks[mould].clone();
        while block.as_of < at {
            let thirst = self.thirst(block.as_of);
            let passed = 0.05 * speed * (block.near / NEAR_HOLDS - block.behind / BEHIND_HOLDS);
            let face = 0.03 * speed * block.windy * thirst * block.near / NEAR_HOLDS;
            let left = 0.03 * speed * block.windy * thirst * block.behind / BEHIND_HOLDS;
            block.near = (block.near - STEP_H * (passed + face)).max(0.0);
            block.behind = (block.behind + STEP_H * (passed - left)).max(0.0);
            block.as_of += STEP_H;
        }
        self.blocks[mould] = block;
    }
}
