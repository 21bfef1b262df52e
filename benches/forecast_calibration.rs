//! Is the forecast honest, and what is the look plan worth: the full trials.
//!
//! `cargo bench --bench forecast_calibration` simulates 2,000 firings for each state of knowledge
//! and 500 watched to their end for each kind of reading; `SPYHOLE_TRIALS=200` makes it 200 and 50.
//! Names after `--` choose among the states, "sharpness" and "worth":
//! `cargo bench --bench forecast_calibration -- "probe, looks" worth`.
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

/// One line or two of the answer, how to come by it, and what is said before it.
struct Trial {
    heading: Option<String>,
    answer: Box<dyn FnOnce() -> String + Send>,
}

const SHARPNESS: &str = "sharpness";
const WORTH: &str = "worth";

fn main() -> std::io::Result<()> {
    let out = &mut std::io::stdout().lock();
    let firings = std::env::var("SPYHOLE_TRIALS").ok().and_then(|n| n.parse().ok()).unwrap_or(2000);
    let closed = firings / 4;
    let chosen = chosen()?;
    let wanted = |name: &str| chosen.is_empty() || chosen.iter().any(|one| one == name);
    let mut trials: Vec<Trial> = Vec::new();
    let honest = STATES.into_iter().filter(|state| wanted(state.name));
    trials.extend(under(
        format!(
            "Honesty: {firings} firings a state; inside 5-95 % should be 0.86 to 0.94;\n\
             ranks in {BINS} bins are flat when chi-square is below {FLAT_BELOW} (1 in 1000)."
        ),
        honest.map(|state| move || honesty(state, firings)),
    ));
    let reads = |name| {
        let all = [Reads::Nothing, Reads::ByHand, Reads::Probe];
        all.into_iter().filter(move |_| wanted(name))
    };
    trials.extend(under(
        format!("\nSharpness: {closed} firings, one hour before the drop; CRPS in minutes."),
        reads(SHARPNESS).map(|reads| move || sharpness(reads, closed)),
    ));
    trials.extend(under(
        format!(
            "\nWorth: {closed} gold firings watched to their end, 100 to 250 C/h, ten in the past."
        ),
        reads(WORTH).map(|reads| move || worth(reads, closed)),
    ));
    in_order(trials, |heading, answer| {
        if let Some(heading) = heading {
            writeln!(out, "{heading}")?;
        }
        writeln!(out, "{answer}")?;
        out.flush()
    })
}

/// The names given on the command line, apart from what Cargo itself adds.
fn chosen() -> std::io::Result<Vec<String>> {
    let chosen: Vec<String> = std::env::args().skip(1).filter(|name| name != "--bench").collect();
    let names: Vec<&str> =
        STATES.iter().map(|state| state.name).chain([SHARPNESS, WORTH]).collect();
    match chosen.iter().find(|name| !names.contains(&name.as_str())) {
        Some(name) => Err(std::io::Error::other(format!(
            "\"{name}\" is none of the trials; there are: {}",
            names.join("; ")
        ))),
        None => Ok(chosen),
    }
}

/// Trials of one kind, the first of them under its heading.
fn under<F: FnOnce() -> String + Send + 'static>(
    heading: String,
    answers: impl Iterator<Item = F>,
) -> impl Iterator<Item = Trial> {
    let headings = std::iter::once(heading).map(Some).chain(std::iter::repeat(None));
    answers.zip(headings).map(|(answer, heading)| Trial { heading, answer: Box::new(answer) })
}

/// Runs the trials on all processors and tells of each in their order.
fn in_order(
    trials: Vec<Trial>,
    mut tell: impl FnMut(Option<String>, String) -> std::io::Result<()>,
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
                    let Trial { heading, answer } = trial;
                    if done.send((at, (heading, answer()))).is_err() {
                        return;
                    }
                }
            });
        }
        let mut waiting = vec![None; count];
        let mut told = 0;
        while told < count {
            let (at, answer) = answers.recv().expect("every trial has an answer");
            waiting[at] = Some(answer);
            while let Some((heading, answer)) = waiting.get_mut(told).and_then(Option::take) {
                tell(heading, answer)?;
                told += 1;
            }
        }
        Ok(())
    })
}

fn honesty(state: Knowledge, firings: usize) -> String {
    let calibration = Calibration::run(state, firings, 100_000);
    format!(
        "{:22} inside {:.3}  mean rank {:.3}  chi-square {:5.1}  median width {:4.0} min  {:?}",
        state.name,
        calibration.inside(),
        calibration.mean_rank(),
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
