//! Is the forecast honest, and what is the look plan worth: the full trials.
//!
//! `cargo bench --bench forecast_calibration` simulates 2,000 firings for each state of knowledge
//! and 500 watched to their end for each kind of reading; `SPYHOLE_TRIALS=200` makes it 200 and 50.

use std::io::Write;

#[path = "../tests/it/forecast_trials.rs"]
mod forecast_trials;
#[path = "../tests/it/simulator.rs"]
mod simulator;

use forecast_trials::{BINS, Calibration, Closed, FLAT_BELOW, STATES, Sharpness, median};
use simulator::Reads;

fn main() -> std::io::Result<()> {
    let out = &mut std::io::stdout().lock();
    let firings = std::env::var("SPYHOLE_TRIALS").ok().and_then(|n| n.parse().ok()).unwrap_or(2000);
    writeln!(out, "Honesty: {firings} firings a state; inside 5-95 % should be 0.86 to 0.94;")?;
    writeln!(
        out,
        "ranks in {BINS} bins are flat when chi-square is below {FLAT_BELOW} (1 in 1000)."
    )?;
    for state in STATES {
        let calibration = Calibration::run(state, firings, 100_000);
        writeln!(
            out,
            "{:22} inside {:.3}  chi-square {:5.1}  median width {:4.0} min  {:?}",
            state.name,
            calibration.inside(),
            calibration.chi_square(BINS),
            median(&calibration.widths_min),
            calibration.histogram(BINS),
        )?;
    }
    let closed = firings / 4;
    writeln!(out, "\nSharpness: {closed} firings, one hour before the drop; CRPS in minutes.")?;
    for reads in [Reads::Nothing, Reads::ByHand, Reads::Probe] {
        let sharp = Sharpness::run(reads, closed, 200_000);
        writeln!(
            out,
            "{reads:?}: median width {:.1} min; CRPS {:.2} beside {:.2} of the usual time; with the guide just seen down: width {:.1} min",
            sharp.width_min, sharp.crps_min, sharp.crps_usual_min, sharp.width_guide_down_min
        )?;
    }
    writeln!(
        out,
        "\nWorth: {closed} gold firings watched to their end, 100 to 250 C/h, ten in the past."
    )?;
    for reads in [Reads::Nothing, Reads::ByHand, Reads::Probe] {
        let (by_plan, by_habit) = Closed::run(reads, closed, 300_000);
        writeln!(out, "{reads:?}: by the plan   {by_plan}")?;
        writeln!(out, "{reads:?}: every 5 min   {by_habit}")?;
    }
    Ok(())
}
