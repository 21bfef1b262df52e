//! What a full update of forecast and look plan takes, growing with readings and with past firings:
//! `cargo bench --bench forecast`. The limit is 5 ms of processor time for 500 readings and 12 past
//! firings.

use std::hint::black_box;
use std::io::Write;
use std::time::Instant;

#[path = "../tests/it/forecast_trials.rs"]
#[expect(dead_code, reason = "only the trial is needed here")]
mod forecast_trials;
#[path = "../tests/it/simulator.rs"]
mod simulator;

use forecast_trials::Trial;
use simulator::{Dice, Reads, after};
use spyhole::testing::firing::Firing;
use spyhole::testing::units::{Celsius, Moment};
use spyhole::testing::watch::advise;

fn main() -> std::io::Result<()> {
    let out = &mut std::io::stdout().lock();
    writeln!(out, "full update of forecast and look plan:")?;
    for (readings, past) in
        [(30, 12), (125, 12), (500, 0), (500, 3), (500, 12), (500, 48), (2000, 12), (8000, 12)]
    {
        let trial = Trial::new(past, Reads::Probe, 150.0, &mut Dice::new(5));
        let now_h = trial.truth.drop_h - 1.0;
        let whole = trial.truth.record(&trial.kiln, Reads::Probe, now_h, &mut Dice::new(6));
        let firing = Firing { readings: spaced(&whole, now_h, readings), ..whole };
        let question = trial.question(&firing, after(now_h));
        let seconds = fastest(|| advise(&question));
        writeln!(out, "  {readings:5} readings, {past:2} past firings: {:6.2} ms", seconds * 1e3)?;
    }
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let peak = status.lines().find(|line| line.starts_with("VmHWM")).unwrap_or("not known here");
    writeln!(out, "memory at its highest, all of the above at once: {}", peak.trim())
}

/// So many readings at even steps along the recorded ones.
fn spaced(whole: &Firing, now_h: f64, count: usize) -> Vec<(Moment, Celsius)> {
    let step_h = now_h / count as f64;
    (1..=count)
        .map(|at| {
            let when = after(at as f64 * step_h);
            let next = whole.readings.partition_point(|(at, _)| *at < when);
            let (_, c) = whole.readings[next.min(whole.readings.len() - 1)];
            (when, c)
        })
        .collect()
}

/// The best of a hundred runs, seconds.
fn fastest<T>(mut run: impl FnMut() -> T) -> f64 {
    let mut best = f64::INFINITY;
    for _ in 0..100 {
        let start = Instant::now();
        black_box(run());
        best = best.min(start.elapsed().as_secs_f64());
    }
    best
}
