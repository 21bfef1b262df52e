//! Is the forecast honest, and what is the look plan worth: the full trials.
//!
//! `cargo bench --bench forecast_calibration` simulates 2,000 firings for each state of knowledge
//! and 500 watched to their end for each kind of reading; `SPYHOLE_TRIALS=200` makes it 200 and 50.
//! As many trials go side by side as there are processors; each has its own dice, so that the
//! numbers are the same however many there are.

use std::io::Write;
use std::sync::Mutex;
use std::sync::mpsc::channel;
use std::thread;

#[path = "../tests/it/forecast_trials.rs"]
mod forecast_trials;
#[path = "../tests/it/simulator.rs"]
mod simulator;

use forecast_trials::{
    BINS, Calibration, Closed, FLAT_BELOW, Knowledge, STATES, Sharpness, median,
};
use simulator::Reads;

/// One line or two of the answer, and how to come by it.
type Trial = Box<dyn FnOnce() -> String + Send>;

fn main() -> std::io::Result<()> {
    let out = &mut std::io::stdout().lock();
    let firings = std::env::var("SPYHOLE_TRIALS").ok().and_then(|n| n.parse().ok()).unwrap_or(2000);
    let closed = firings / 4;
    let mut trials: Vec<Trial> = Vec::new();
    trials.extend(STATES.map(|state| Box::new(move || honesty(state, firings)) as Trial));
    let reads = [Reads::Nothing, Reads::ByHand, Reads::Probe];
    trials.extend(reads.map(|reads| Box::new(move || sharpness(reads, closed)) as Trial));
    trials.extend(reads.map(|reads| Box::new(move || worth(reads, closed)) as Trial));
    writeln!(out, "Honesty: {firings} firings a state; inside 5-95 % should be 0.86 to 0.94;")?;
    writeln!(
        out,
        "ranks in {BINS} bins are flat when chi-square is below {FLAT_BELOW} (1 in 1000)."
    )?;
    in_order(trials, |at, answer| {
        if at == STATES.len() {
            writeln!(
                out,
                "\nSharpness: {closed} firings, one hour before the drop; CRPS in minutes."
            )?;
        }
        if at == STATES.len() + reads.len() {
            writeln!(
                out,
                "\nWorth: {closed} gold firings watched to their end, 100 to 250 C/h, ten in the past."
            )?;
        }
        writeln!(out, "{answer}")?;
        out.flush()
    })
}

/// Runs the trials on all processors and tells of each in their order.
fn in_order(
    trials: Vec<Trial>,
    mut tell: impl FnMut(usize, String) -> std::io::Result<()>,
) -> std::io::Result<()> {
    let workers = thread::available_parallelism().map_or(1, usize::from);
    let count = trials.len();
    let todo = Mutex::new(trials.into_iter().enumerate());
    let (done, answers) = channel();
    thread::scope(|scope| {
        for _ in 0..workers {
            let (todo, done) = (&todo, done.clone());
            scope.spawn(move || {
                loop {
                    let next = todo.lock().expect("no trial runs while it is taken").next();
                    let Some((at, trial)) = next else { return };
                    if done.send((at, trial())).is_err() {
                        return;
                    }
                }
            });
        }
        let mut waiting: Vec<Option<String>> = vec![None; count];
        let mut told = 0;
        while told < count {
            let (at, answer) = answers.recv().expect("every trial has an answer");
            waiting[at] = Some(answer);
            while let Some(answer) = waiting.get_mut(told).and_then(Option::take) {
                tell(told, answer)?;
                told += 1;
            }
        }
        Ok(())
    })
}

fn honesty(state: Knowledge, firings: usize) -> String {
    let calibration = Calibration::run(state, firings, 100_000);
    format!(
        "{:22} inside {:.3}  chi-square {:5.1}  median width {:4.0} min  {:?}",
        state.name,
        calibration.inside(),
        calibration.chi_square(BINS),
        median(&calibration.widths_min),
        calibration.histogram(BINS),
    )
}

fn sharpness(reads: Reads, firings: usize) -> String {
    let sharp = Sharpness::run(reads, firings, 200_000);
    format!(
        "{reads:?}: median width {:.1} min; CRPS {:.2} beside {:.2} of the usual time; with the guide just seen down: width {:.1} min",
        sharp.width_min, sharp.crps_min, sharp.crps_usual_min, sharp.width_guide_down_min
    )
}

fn worth(reads: Reads, firings: usize) -> String {
    let (by_plan, by_habit) = Closed::run(reads, firings, 300_000);
    format!("{reads:?}: by the plan   {by_plan}\n{reads:?}: every 5 min   {by_habit}")
}
