//! A rehearsal: the real screen over a made-up shop, with simulated kilns, sped up.
//!
//! Everything the trainee does is real except the shop: it lives in memory, and the shop's own
//! file is not even looked for. Reading order: [`setting`] (the made-up shops, as tables), [`kiln`]
//! (one simulated kiln), [`minder`] (who minds the others), [`shop`] (all of it behind the screen).

mod clock;
pub mod kiln;
mod minder;
mod setting;
mod shop;

use std::io::Write;

use anyhow::bail;
use clap::builder::PossibleValue;
use clap::{Args, ValueEnum};

use crate::edge::screen;
use crate::edge::screen::Face;
use crate::edge::screen::adviser::Patience;
use crate::edge::screen::app::App;
use crate::units::Span;
use crate::words::{self, FixedZone, Lesson};

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

/// Runs a rehearsal until the trainee leaves it, then says one line.
///
/// # Errors
/// When the speed is out of range, or there is no terminal.
pub fn run(args: &RehearseArgs, face: Face, out: &mut dyn Write) -> anyhow::Result<()> {
    let (slowest, fastest) = SPEEDS;
    let speed = args.speed.unwrap_or_else(|| args.script.map_or(USUAL_SPEED, setting::speed));
    if !(slowest..=fastest).contains(&speed) {
        bail!("speed {speed} is outside {slowest} to {fastest}: 60 runs an hour in a minute");
    }
    let mut shop = RehearsalShop::new(args.script, args.seed, Patience::OF_A_SCREEN)?;
    let mut clock = SimulatedClock::new(shop.came(), speed, SPEEDS);
    let zone = FixedZone(Span::ZERO);
    let app = App::rehearsing(PRACTICE_KILN);
    screen::run(&mut shop, &mut clock, face.dial(&zone), face.theme, app)?;
    let said = match (args.script, shop.ended()) {
        (None, _) => words::rehearsal_ended(shop.outcomes()),
        (Some(_), Some(ended)) => words::lesson_ended(&ended),
        (Some(lesson), None) => words::lesson_left(lesson),
    };
    writeln!(out, "{said}")?;
    Ok(())
}
