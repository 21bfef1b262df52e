//! A rehearsal: a made-up shop with simulated kilns, sped up, to stand behind the real screen.
//!
//! Everything the trainee does is real except the shop: it lives in memory, and the shop's own
//! file is not even looked for. Reading order: [`setting`] (the made-up shops, as tables), [`history`] (their
//! two years before), [`kiln`]
//! (one simulated kiln), [`minder`] (who minds the others), [`shop`] (all of it behind the screen).

mod casts;
mod clock;
mod history;
pub mod kiln;
mod minder;
mod setting;
mod shop;

use anyhow::bail;
use clap::builder::PossibleValue;
use clap::{Args, ValueEnum};

use crate::edge::shop::adviser::Patience;
use crate::words::Lesson;

pub use clock::SimulatedClock;
pub use setting::PRACTICE_KILN;
pub use shop::RehearsalShop;

/// The speeds a rehearsal can run at: as the clock does, to a whole firing within seconds.
const SPEEDS: (f64, f64) = (0.1, 100_000.0);
/// An hour in a minute.
const USUAL_SPEED: f64 = 60.0;

/// Practise a whole firing on a made-up shop, with time running faster.
#[derive(Debug, Clone, Args)]
pub struct RehearseArgs {
    /// How many times as fast as the clock time runs (60, or what the lesson says); it can be
    /// changed while it runs
    #[arg(long, value_name = "NUMBER")]
    pub speed: Option<f64>,
    /// Which made-up day it is: the same number gives the same kilns, cones, weather and mishap
    #[arg(long, default_value_t = 1, value_name = "NUMBER")]
    pub seed: u64,
    /// A lesson of five minutes instead of the whole shop
    #[arg(long, value_name = "NAME")]
    pub script: Option<Lesson>,
}

impl ValueEnum for Lesson {
    fn value_variants<'a>() -> &'a [Lesson] {
        &Lesson::ALL
    }

    fn to_possible_value(&self) -> Option<PossibleValue> {
        Some(PossibleValue::new(self.name()).help(self.about()))
    }
}

impl RehearseArgs {
    /// The made-up shop as the trainee comes in, and its time.
    ///
    /// # Errors
    /// When the speed is out of range, or the system has no thread for the advice.
    pub fn begin(&self, patience: Patience) -> anyhow::Result<(RehearsalShop, SimulatedClock)> {
        let (slowest, fastest) = SPEEDS;
        let speed = self.speed.unwrap_or_else(|| self.script.map_or(USUAL_SPEED, setting::speed));
        if !(slowest..=fastest).contains(&speed) {
            bail!("speed {speed} is outside {slowest} to {fastest}: 60 runs an hour in a minute");
        }
        let shop = RehearsalShop::new(self.script, self.seed, patience)?;
        let clock = SimulatedClock::new(shop.came(), speed, SPEEDS);
        Ok((shop, clock))
    }
}
