//! Plaster moulds of other physics: how long pieces take in made-up shops. Shares no function and no
//! constant with the program.
//!
//! Times are hours since a Monday midnight; a month has 30 days.

use rand::{RngExt as _, SeedableRng as _};
use rand_distr::{Distribution as _, Gamma, StandardNormal};
use rand_pcg::Pcg64;

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
    weather: Vec<(f64, f64)>,
    good_days: Vec<f64>,
    blocks: Vec<Block>,
    chance: Chance,
}

const DAYS: usize = 420;
const STEP_H: f64 = 0.25;
/// kg/m2 of water the two layers hold.
const NEAR_HOLDS: f64 = 1.5;
const BEHIND_HOLDS: f64 = 6.0;

impl World {
    pub fn new(physics: Physics, pace: Pace, moulds: usize, seed: u64) -> World {
        let mut chance = chance(seed, 11);
        let (mut warm, mut damp, mut good) = (0.0, 0.0, 0.0);
        let season = chance.random_range(0.0..std::f64::consts::TAU);
        let (mut weather, mut good_days) = (Vec::new(), Vec::new());
        for day in 0..DAYS {
            warm = 0.7 * warm + 1.4 * normal(&mut chance);
            damp = 0.75 * damp + 0.06 * normal(&mut chance);
            good = 0.6 * good + 0.07 * normal(&mut chance);
            let year = (season + day as f64 * std::f64::consts::TAU / 365.0).sin();
            weather.push((19.0 + 2.5 * year + warm, (0.62 + damp).clamp(0.32, 0.9)));
            good_days.push(good);
        }
        let blocks = (0..moulds)
            .map(|_| Block {
                draws: (0.18 * normal(&mut chance)).exp(),
                windy: (0.3 * normal(&mut chance)).exp(),
                near: 0.0,
                behind: chance.random_range(0.0..0.1) * BEHIND_HOLDS,
                as_of: 0.0,
                casts: 0.0,
                forgives: chance.random_range(1.75..2.35),
            })
            .collect();
        World { physics, pace, weather, good_days, blocks, chance }
    }

    /// Temperature and relative humidity of the room.
    pub fn air(&self, at: f64) -> (f64, f64) {
        let day = ((at / 24.0).max(0.0) as usize).min(DAYS - 2);
        let part = at / 24.0 - day as f64;
        let (from, to) = (self.weather[day], self.weather[day + 1]);
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

    /// A piece drained now after so many minutes; `heavy` bodies take longer.
    pub fn drained(&mut self, mould: usize, at: f64, minutes: f64, heavy: f64) -> Truth {
        self.blocks[mould].casts += 1.0;
        let luck = normal(&mut self.chance);
        let other = normal(&mut self.chance);
        match self.physics {
            Physics::Diffusion => self.soak(mould, at, minutes, heavy, (luck, other)),
            Physics::Strain => {
                let gamma = Gamma::new(40.0, 1.0 / 40.0).expect("a shape");
                let strain = gamma.sample(&mut self.chance);
                let block = &self.blocks[mould];
                let wall = (minutes / 18.0).sqrt();
                let whole = 21.5 * self.pace.hours() / 24.0 * strain * heavy * wall;
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
                let skewed = 0.11 * (-(-even.ln()).ln() - 0.577);
                let block = &self.blocks[mould];
                let good = self.good_days[(at / 24.0) as usize];
                let wall = (minutes / 18.0).powf(0.35);
                let takes = self.pace.hours() / block.draws * heavy * wall * (skewed + good).exp();
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
