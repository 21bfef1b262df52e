//! A rehearsal: the real screen over a made-up shop, with simulated kilns, sped up.
//!
//! Everything the trainee does is real except the shop: it lives in memory, and the shop's own
//! file is not even looked for.

mod clock;
mod kiln;
mod shop;

use std::io::Write;

use anyhow::bail;
use clap::Args;

use crate::edge::screen;
use crate::edge::screen::Face;
use crate::edge::screen::app::App;
use crate::units::Span;
use crate::words::FixedZone;

pub use clock::SimulatedClock;
pub use kiln::SimulatedKiln;
pub use shop::{PRACTICE_KILN, RehearsalShop, START};

/// The speeds a rehearsal can run at: as the clock does, to a whole firing within seconds.
const SPEEDS: (f64, f64) = (0.1, 100_000.0);

/// Practise a whole firing on a made-up shop, with time running faster.
#[derive(Debug, Clone, Args)]
pub struct RehearseArgs {
    /// How many times as fast as the clock time runs; it can be changed while it runs
    #[arg(long, default_value_t = 60.0, value_name = "NUMBER")]
    pub speed: f64,
    /// Which made-up day it is: the same number gives the same kilns, cones and weather
    #[arg(long, default_value_t = 1, value_name = "NUMBER")]
    pub seed: u64,
}

/// Runs a rehearsal until the trainee leaves it, then says one line.
///
/// # Errors
/// When the speed is out of range, or there is no terminal.
pub fn run(args: &RehearseArgs, face: Face, out: &mut dyn Write) -> anyhow::Result<()> {
    let (slowest, fastest) = SPEEDS;
    if !(slowest..=fastest).contains(&args.speed) {
        bail!(
            "speed {} is outside {slowest} to {fastest}: 60 runs an hour in a minute",
            args.speed
        );
    }
    let mut shop = RehearsalShop::new(args.seed)?;
    let mut clock = SimulatedClock::new(START, args.speed, SPEEDS);
    let zone = FixedZone(Span::ZERO);
    let app = App::rehearsing(PRACTICE_KILN);
    screen::run(&mut shop, &mut clock, face.dial(&zone), face.theme, app)?;
    writeln!(out, "{}", crate::words::rehearsal_ended(shop.outcomes()))?;
    Ok(())
}
