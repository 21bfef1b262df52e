//! How fast the forecast is, beside NumPy on the same sums in the same run, one core each.
//!
//! `cargo bench --bench forecast` needs `python3` with NumPy for the comparison and says so when
//! there is none. What is compared:
//!
//! - A climb that wanders: a sample of 10,000 drop times one hour before the drop. Both sides draw
//!   their own standard normal numbers, as many each, and walk the same stretches; ours is what the
//!   forecast itself does, which besides the drop also finds the pack's heat work and the chamber
//!   now, and NumPy is spared that. Once, NumPy also gets our numbers, and the drop times must then
//!   agree to a tenth of a second: ours takes a short exponential.
//! - Whole firings: the same from half an hour after lighting to the drop.
//! - A steady climb: the drop after a single reading. Ours is the forecast's own sum, on its own
//!   evenly laid points; NumPy draws normal numbers and finds the end points by interpolating in a
//!   table of the chart's curve, and in a second version, which no one would write who had not
//!   seen ours, by our polynomial. How far the drop times from the same numbers are apart is said.
//! - A reading taken in by one cone.

use std::hint::black_box;
use std::io::Write;
use std::path::Path;
use std::process::Command;
use std::time::Instant;

#[path = "../tests/it/forecast_trials.rs"]
#[expect(dead_code, reason = "only the trial is needed here")]
mod forecast_trials;
#[path = "../tests/it/simulator.rs"]
mod simulator;

use forecast_trials::Trial;
use simulator::{Dice, Reads, after};
use spyhole::cone::curve::Law;
use spyhole::cone::{Curve, HeatWork};
use spyhole::firing::Firing;
use spyhole::forecast::by_one_reading::ByOneReading;
use spyhole::forecast::by_readings::ByReadings;
use spyhole::forecast::climb::{Ruler, filter};
use spyhole::forecast::evidence::Evidence;
use spyhole::forecast::lanes::{Block, LANES};
use spyhole::forecast::normal::{Draws, Even};
use spyhole::forecast::past::{Beforehand, Experience};
use spyhole::forecast::sampler::{MOST_UNKNOWNS, Model, point};
use spyhole::units::{Celsius, Moment};
use spyhole::watch::advise;

const SAMPLES: usize = 10_000;
/// Climb and needed heat work: what a drop after one reading follows from.
const STEADY_UNKNOWNS: usize = 2;

fn main() -> std::io::Result<()> {
    let out = &mut std::io::stdout().lock();
    let folder = std::env::temp_dir().join(format!("spyhole-bench-{}", std::process::id()));
    std::fs::create_dir_all(&folder)?;
    let trial = Trial::new(12, Reads::Probe, 150.0, &mut Dice::new(5));
    let now_h = trial.truth.drop_h - 1.0;
    let firing = trial.truth.record(&trial.kiln, Reads::Probe, now_h, &mut Dice::new(6));
    let curve = spyhole::cone::curve(trial.load.target, trial.load.family).expect("on the chart");

    save(&folder.join("laws"), &laws(curve))?;
    let (steady_s, steady) = steady(&trial, now_h, &folder)?;

    let late = wandering(&trial, now_h, &folder, "late")?;
    let early = wandering(&trial, 0.5, &folder, "early")?;

    let readings: Vec<(Moment, Celsius)> = firing.readings.clone();
    let (reading_s, _) = fastest(|| taken_in(curve, &readings));
    let flat: Vec<f64> =
        readings.iter().flat_map(|(at, c)| [(at.0 - after(0.0).0) as f64 / 3.6e6, c.0]).collect();
    save(&folder.join("readings"), &flat)?;

    let each_ns = reading_s / readings.len() as f64 * 1e9;
    writeln!(
        out,
        "10,000 drop times, steady climb:    {:8.3} ms {:?} h",
        steady_s * 1e3,
        three(&steady)
    )?;
    writeln!(
        out,
        "10,000 drop times, wandering climb: {:8.3} ms {:?} h",
        late.0 * 1e3,
        three(&late.1)
    )?;
    writeln!(
        out,
        "10,000 whole firings:               {:8.3} ms {:?} h",
        early.0 * 1e3,
        three(&early.1)
    )?;
    writeln!(out, "one reading taken in, one cone:     {each_ns:8.1} ns")?;
    out.flush()?;
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("benches/forecast_numpy.py");
    match Command::new("python3").arg(script).arg(&folder).env("OMP_NUM_THREADS", "1").status() {
        Ok(status) if status.success() => {}
        _ => writeln!(out, "no comparison: python3 with NumPy is needed for it")?,
    }
    std::fs::remove_dir_all(&folder)?;
    growth(out)
}

/// A full update of forecast and look plan, growing with readings and with past firings.
fn growth(out: &mut impl Write) -> std::io::Result<()> {
    writeln!(out, "\nfull update of forecast and look plan:")?;
    for (readings, past) in
        [(30, 12), (125, 12), (500, 0), (500, 3), (500, 12), (500, 48), (2000, 12), (8000, 12)]
    {
        let trial = Trial::new(past, Reads::Probe, 150.0, &mut Dice::new(5));
        let now_h = trial.truth.drop_h - 1.0;
        let whole = trial.truth.record(&trial.kiln, Reads::Probe, now_h, &mut Dice::new(6));
        let firing = Firing { readings: spaced(&whole, now_h, readings), ..whole };
        let question = trial.question(&firing, after(now_h));
        let (seconds, _) = fastest(|| advise(&question));
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

/// The best of five hundred runs, seconds, and what it gave.
fn fastest<T>(mut run: impl FnMut() -> T) -> (f64, T) {
    let mut best = f64::INFINITY;
    let mut result = run();
    for _ in 0..500 {
        let start = Instant::now();
        result = black_box(run());
        best = best.min(start.elapsed().as_secs_f64());
    }
    (best, result)
}

/// Seconds for a sample of drop times after one reading, and the sample. What NumPy needs for the
/// same goes into the folder.
fn steady(trial: &Trial, now_h: f64, folder: &Path) -> std::io::Result<(f64, Vec<f64>)> {
    let firing = trial.truth.record(&trial.kiln, Reads::Once, now_h, &mut Dice::new(6));
    let evidence = Evidence::until(&firing, after(now_h), &[]).expect("a firing that is lit");
    let experience = Experience::of(&[], &firing, &evidence.cones, &Beforehand::default());
    let model = ByOneReading::new(&evidence, &experience, None, now_h).expect("one reading");
    let mut points = [[0.0; LANES]; MOST_UNKNOWNS];
    let (seconds, drops) = fastest(|| {
        let mut drops = Vec::with_capacity(SAMPLES + LANES);
        let mut even = Even::begun();
        while drops.len() < SAMPLES {
            even.fill(&mut points, STEADY_UNKNOWNS);
            drops.extend_from_slice(&model.drops(&points)[0]);
        }
        drops.truncate(SAMPLES);
        drops
    });
    let mut even = Even::begun();
    let blocks = (0..SAMPLES.div_ceil(LANES)).flat_map(|_| {
        even.fill(&mut points, STEADY_UNKNOWNS);
        (0..LANES).flat_map(|lane| [points[0][lane], points[1][lane]]).collect::<Vec<f64>>()
    });
    let used: Vec<f64> = blocks.take(STEADY_UNKNOWNS * SAMPLES).collect();
    save(&folder.join("steady"), &model.as_numbers())?;
    save(&folder.join("steady-points"), &used)?;
    save(&folder.join("steady-drops"), &drops)?;
    Ok((seconds, drops))
}

/// Seconds for a sample of drop times of a firing as it stands at `now_h`, and the sample. What
/// NumPy needs for the same goes into the folder.
fn wandering(
    trial: &Trial,
    now_h: f64,
    folder: &Path,
    name: &str,
) -> std::io::Result<(f64, Vec<f64>)> {
    let firing = trial.truth.record(&trial.kiln, Reads::Probe, now_h, &mut Dice::new(6));
    let evidence = Evidence::until(&firing, after(now_h), &[]).expect("a firing that is lit");
    let experience = Experience::of(&trial.past, &firing, &evidence.cones, &Beforehand::default());
    let profile = experience.profile.as_ref().expect("twelve firings with readings");
    let states =
        filter(&evidence.readings, Ruler::Usual(profile, 0.05), &[]).expect("readings enough");
    let model =
        ByReadings::new(&evidence, &experience, None, states, &[], now_h).expect("readings enough");
    let (seconds, drops) = fastest(|| imagined_drops(&model));
    save(&folder.join(name), &model.as_numbers())?;
    save(&folder.join(format!("{name}-points")), &points_used(&model))?;
    save(&folder.join(format!("{name}-drops")), &drops)?;
    Ok((seconds, drops))
}

/// Draws the blocks of points that a sample stands on, one after the other.
fn each_block(model: &ByReadings, mut take: impl FnMut(&Block)) {
    let mut draws = Draws::seeded(2);
    let mut points = [[0.0; LANES]; MOST_UNKNOWNS];
    for _ in 0..SAMPLES.div_ceil(LANES) {
        draws.fill(&mut points, model.unknowns());
        take(&points);
    }
}

/// Drop times as the forecast itself imagines them, drawing included.
fn imagined_drops(model: &ByReadings) -> Vec<f64> {
    let mut drops = Vec::with_capacity(SAMPLES + LANES);
    each_block(model, |points| {
        drops.extend(model.imagine(points).iter().map(|(firing, _)| firing.drop_h));
    });
    drops.truncate(SAMPLES);
    drops
}

/// The points of [`imagined_drops`], one row each.
fn points_used(model: &ByReadings) -> Vec<f64> {
    let mut rows = Vec::with_capacity(MOST_UNKNOWNS * (SAMPLES + LANES));
    each_block(model, |points| {
        rows.extend((0..LANES).flat_map(|lane| point(points, lane)));
    });
    rows.truncate(MOST_UNKNOWNS * SAMPLES);
    rows
}

fn taken_in(curve: &'static Curve, readings: &[(Moment, Celsius)]) -> f64 {
    let mut heat_work = HeatWork::new(curve);
    for (at, c) in readings {
        heat_work.append(*at, *c);
    }
    heat_work.total()
}

/// The pieces of a curve as rows of six: kind, upper end, and the numbers of its law.
fn laws(curve: &Curve) -> Vec<f64> {
    let row = |piece: &spyhole::cone::curve::Piece| match piece.law {
        Law::Kissinger { at_c, rate_c_per_h, slope_k } => {
            [0.0, piece.up_to_c, at_c, rate_c_per_h, slope_k, 0.0]
        }
        Law::Exponential { at_c, rate_c_per_h, k_at_per_h, growth_per_c } => {
            [1.0, piece.up_to_c, at_c, rate_c_per_h, k_at_per_h, growth_per_c]
        }
    };
    curve.pieces().iter().flat_map(row).collect()
}

fn three(values: &[f64]) -> [f64; 3] {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    [0.05, 0.5, 0.95].map(|part| {
        let value = sorted[(part * (sorted.len() - 1) as f64) as usize];
        (value * 1e6).round() / 1e6
    })
}

fn save(path: &Path, numbers: &[f64]) -> std::io::Result<()> {
    let bytes: Vec<u8> = numbers.iter().flat_map(|number| number.to_le_bytes()).collect();
    std::fs::write(path, bytes)
}
