//! How fast stored histories turn into heat work: every vector level, the plain path with the
//! standard library's exp, and a NumPy trapezoid on the same data, in the same run.
//!
//! `cargo bench --bench heat_work`. The NumPy side is `heat_work_numpy.py`, a child process that
//! times itself on request, so that the two sides take turns. Without NumPy only our own numbers
//! are printed. The histories are made up.

use std::env;
use std::error::Error;
use std::fs;
use std::hint::black_box;
use std::io::{self, BufRead, BufReader, Write};
use std::path::PathBuf;
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::time::Instant;

use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;
use spyhole::cone::curve::{Law, Piece};
use spyhole::cone::{Bulk, Cone, Curve, Family, HeatWork, Histories, VectorLevel, curve};
use spyhole::units::{Celsius, Moment};

const READINGS_PER_FIRING: usize = 2000;
const FIRINGS: [usize; 3] = [500, 2000, 8000];
const ROUNDS: usize = 9;
const SEED: u64 = 2026;

/// The exit code with which the script says that there is no NumPy.
const NUMPY_MISSING: i32 = 3;

type Outcome<T = ()> = Result<T, Box<dyn Error>>;

fn main() -> Outcome {
    let mut out = io::stdout().lock();
    if !env::args().any(|argument| argument == "--bench") {
        writeln!(out, "a benchmark: run it with `cargo bench --bench heat_work`")?;
        return Ok(());
    }
    writeln!(out, "vector level chosen on this processor: {}", Bulk::default().level().name())?;
    for cone in ["018", "05.5"] {
        let curve = curve(Cone::parse(cone)?, Family::SelfSupporting)?;
        writeln!(out, "\ncone {cone}, {} piece(s) in its curve", curve.pieces().len())?;
        for firings in FIRINGS {
            compare(&mut out, curve, &Ledger::made_up(firings, curve))?;
        }
    }
    Ok(())
}

/// Readings of many firings, end to end.
struct Ledger {
    times: Vec<Moment>,
    temperatures: Vec<Celsius>,
    starts: Vec<usize>,
}

impl Ledger {
    /// Firings read about every half minute: a slow climb, a faster one, a soak near the end point
    /// of the cone, and cooling; each with its own rates and the noise of a probe.
    fn made_up(firings: usize, curve: &Curve) -> Ledger {
        let mut random = Pcg64Mcg::seed_from_u64(SEED);
        let end = curve.pieces().iter().map(|piece| piece.up_to_c).find(|up| up.is_finite());
        let end = end.unwrap_or_else(|| match curve.pieces()[0].law {
            Law::Kissinger { at_c, .. } | Law::Exponential { at_c, .. } => at_c,
        });
        let mut ledger = Ledger { times: vec![], temperatures: vec![], starts: vec![] };
        for firing in 0..firings {
            ledger.starts.push(ledger.times.len());
            let top = end + random.random_range(0.0..25.0);
            let (slow, fast) =
                (random.random_range(60.0..120.0), random.random_range(100.0..200.0));
            let soak_h = random.random_range(0.1..0.6);
            let turn_h = 0.5 * (top - 20.0) / slow;
            let top_h = turn_h + 0.5 * (top - 20.0) / fast;
            let mut at = 1_700_000_000_000 + firing as i64 * 86_400_000;
            let start = at;
            for _ in 0..READINGS_PER_FIRING {
                let hours = (at - start) as f64 / 3.6e6;
                let smooth = if hours < turn_h {
                    20.0 + slow * hours
                } else if hours < top_h {
                    top - fast * (top_h - hours)
                } else if hours < top_h + soak_h {
                    top
                } else {
                    20.0 + (top - 20.0) * (-(hours - top_h - soak_h) / 4.0).exp()
                };
                ledger.times.push(Moment(at));
                ledger.temperatures.push(Celsius(smooth + random.random_range(-0.3..0.3)));
                at += random.random_range(20_000..40_000);
            }
        }
        ledger
    }

    fn histories(&self) -> Histories<'_> {
        Histories::new(&self.times, &self.temperatures, &self.starts).expect("made here, and even")
    }

    fn one_at_a_time(&self, curve: &'static Curve) -> Vec<f64> {
        let firings = self.times.chunks(READINGS_PER_FIRING);
        let firings = firings.zip(self.temperatures.chunks(READINGS_PER_FIRING));
        let heat_work = |(times, temperatures): (&[Moment], &[Celsius])| {
            let mut heat_work = HeatWork::new(curve);
            for (&at, &temperature) in times.iter().zip(temperatures) {
                heat_work.append(at, temperature);
            }
            heat_work.total()
        };
        firings.map(heat_work).collect()
    }
}

/// One size: every level and NumPy take turns, and the medians of the rounds are told.
fn compare(out: &mut impl Write, curve: &'static Curve, ledger: &Ledger) -> Outcome {
    let readings = ledger.times.len() as f64;
    writeln!(out, "  {} firings, {:.0} million readings", ledger.starts.len(), readings / 1e6)?;
    let mut levels: Vec<Timed> = VectorLevel::available().map(Timed::new).collect();
    let mut numpy = NumPy::start(curve, ledger)?;
    for _ in 0..ROUNDS {
        for level in &mut levels {
            level.run(curve, ledger);
        }
        if let Some(numpy) = &mut numpy {
            numpy.run(readings)?;
        }
    }
    let start = Instant::now();
    let incremental = ledger.one_at_a_time(curve);
    let one_by_one = start.elapsed().as_secs_f64() * 1e9 / readings;
    report(out, "one reading at a time", one_by_one, 0.0)?;
    for level in &levels {
        let off = largest_difference(&level.heat_work, &incremental);
        report(out, level.bulk.level().name(), median(&level.times), off)?;
    }
    let of = |wanted| levels.iter().find(|timed| timed.bulk.level() == wanted);
    let of = |wanted| of(wanted).expect("every processor has it");
    let (plain, standard) = (of(VectorLevel::Plain), of(VectorLevel::StandardExp));
    let ratio = median(&ratios(&standard.times, &plain.times));
    let best = fastest(&standard.times) / fastest(&plain.times);
    writeln!(
        out,
        "    plain: {ratio:.2} times as fast as the standard exp, {best:.2} by the best runs"
    )?;
    let Some(numpy) = numpy else {
        writeln!(out, "    python3 has no NumPy: no comparison with it")?;
        return Ok(());
    };
    let (version, numpy_times, theirs) = numpy.finish()?;
    report(out, &version, median(&numpy_times), largest_difference(&theirs, &incremental))?;
    for level in &levels {
        let name = level.bulk.level().name();
        let ratio = median(&ratios(&numpy_times, &level.times));
        let best = fastest(&numpy_times) / fastest(&level.times);
        writeln!(out, "    {name}: {ratio:.1} times as fast as NumPy, {best:.1} by the best runs")?;
    }
    Ok(())
}

fn report(out: &mut impl Write, what: &str, nanoseconds: f64, off: f64) -> Outcome {
    writeln!(out, "    {what:38} {nanoseconds:6.2} ns/reading, {off:.0e} from one at a time")?;
    Ok(())
}

/// One vector level, its times in ns/reading and its results.
struct Timed {
    bulk: Bulk,
    times: Vec<f64>,
    heat_work: Vec<f64>,
}

impl Timed {
    fn new(level: VectorLevel) -> Timed {
        let bulk = Bulk::at_level(level).expect("only available levels are timed");
        Timed { bulk, times: vec![], heat_work: vec![] }
    }

    fn run(&mut self, curve: &Curve, ledger: &Ledger) {
        let start = Instant::now();
        self.heat_work = black_box(self.bulk.heat_work(black_box(curve), ledger.histories()));
        self.times.push(start.elapsed().as_secs_f64() * 1e9 / ledger.times.len() as f64);
    }
}

fn ratios(slow: &[f64], fast: &[f64]) -> Vec<f64> {
    slow.iter().zip(fast).map(|(slow, fast)| slow / fast).collect()
}

fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted[sorted.len() / 2]
}

/// The run that was disturbed least, on a machine that has other things to do.
fn fastest(values: &[f64]) -> f64 {
    values.iter().copied().fold(f64::INFINITY, f64::min)
}

/// The largest relative difference of two lists of heat work.
fn largest_difference(values: &[f64], expected: &[f64]) -> f64 {
    assert_eq!(values.len(), expected.len());
    values.iter().zip(expected).map(|(a, b)| (a / b - 1.0).abs()).fold(0.0, f64::max)
}

/// The other side: a Python process holding the same readings, which runs when told to.
struct NumPy {
    child: Child,
    ask: ChildStdin,
    answers: BufReader<ChildStdout>,
    folder: tempfile::TempDir,
    version: String,
    times: Vec<f64>,
}

impl NumPy {
    /// None when python3 or NumPy is missing.
    fn start(curve: &Curve, ledger: &Ledger) -> Outcome<Option<NumPy>> {
        let folder = tempfile::tempdir()?;
        let hours = |at: &Moment| (at.0 - ledger.times[0].0) as f64 / 3.6e6;
        let numbers =
            |values: Vec<f64>| -> Vec<u8> { values.iter().flat_map(|v| v.to_ne_bytes()).collect() };
        let write = |name, values| fs::write(folder.path().join(name), numbers(values));
        write("hours", ledger.times.iter().map(hours).collect())?;
        write("celsius", ledger.temperatures.iter().map(|t| t.0).collect())?;
        write("pieces", curve.pieces().iter().flat_map(piece_numbers).collect())?;
        let script = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("benches/heat_work_numpy.py");
        let child = Command::new("python3")
            .arg(script)
            .arg(folder.path())
            .arg(READINGS_PER_FIRING.to_string())
            .envs(
                ["OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"]
                    .map(|name| (name, "1")),
            )
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn();
        let Ok(mut child) = child else { return Ok(None) };
        let (ask, answers) = (child.stdin.take(), child.stdout.take());
        let (ask, answers) = (ask.expect("piped"), BufReader::new(answers.expect("piped")));
        let mut numpy =
            NumPy { child, ask, answers, folder, version: String::new(), times: vec![] };
        let version = numpy.answer()?;
        if version.is_empty() {
            let status = numpy.child.wait()?;
            let missing = status.code() == Some(NUMPY_MISSING);
            return if missing {
                Ok(None)
            } else {
                Err(format!("the NumPy side: {status}").into())
            };
        }
        numpy.version = version;
        Ok(Some(numpy))
    }

    fn answer(&mut self) -> Outcome<String> {
        let mut line = String::new();
        self.answers.read_line(&mut line)?;
        Ok(line.trim().to_owned())
    }

    fn run(&mut self, readings: f64) -> Outcome {
        writeln!(self.ask, "run")?;
        let nanoseconds: f64 = self.answer()?.parse()?;
        self.times.push(nanoseconds / readings);
        Ok(())
    }

    /// What it ran, its times in ns/reading, and the heat work of each firing.
    fn finish(self) -> Outcome<(String, Vec<f64>, Vec<f64>)> {
        let NumPy { mut child, ask, folder, version, times, .. } = self;
        drop(ask);
        child.wait()?;
        let bytes = fs::read(folder.path().join("results"))?;
        let (values, _) = bytes.as_chunks::<8>();
        Ok((version, times, values.iter().map(|bytes| f64::from_ne_bytes(*bytes)).collect()))
    }
}

/// Upper end, 0 for a Kissinger line or 1 for an exponential, and its three numbers.
fn piece_numbers(piece: &Piece) -> [f64; 5] {
    match piece.law {
        Law::Kissinger { at_c, rate_c_per_h, slope_k } => {
            [piece.up_to_c, 0.0, at_c, rate_c_per_h, slope_k]
        }
        Law::Exponential { at_c, k_at_per_h, growth_per_c, .. } => {
            [piece.up_to_c, 1.0, at_c, k_at_per_h, growth_per_c]
        }
    }
}
