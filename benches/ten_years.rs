//! A shop of ten years beside one of a month, and the journal beside Python's.
//!
//! ```text
//! cargo bench --bench ten_years                          everything, the ten-year shop included
//! cargo bench --bench ten_years -- --months 12           a younger shop instead of ten years
//! cargo bench --bench ten_years -- --python              only the comparison with Python
//! cargo bench --bench ten_years -- --generate FILE       only make the ten-year shop, to look at
//! ```
//!
//! The shop is made up: eight kilns, 24,000 firings, 500 readings each. What counts are the ratios
//! within one run: start-up of the old shop to the young one, and the journal to Python's `sqlite3`
//! and `json` doing the same (`benches/journal_python.py`; left out where there is no `python3`).

mod old_shop;

use std::fs;
use std::hint::black_box;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

use old_shop::{BEGINNING, MONTHS, generate, light, person};
use rusqlite::Connection;
use spyhole::testing::edge::form;
use spyhole::testing::edge::journal::{Journal, JournalError, LedgerFilter};
use spyhole::testing::firing::{Verdict, What};
use spyhole::testing::units::{Celsius, Moment};

const STARTS: usize = 25;
const ROUNDS: usize = 7;
const COMMITS: i64 = 500;

fn main() -> io::Result<()> {
    let (mut months, mut only_python) = (MONTHS, false);
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        match word.as_str() {
            "--months" => months = words.next().and_then(|n| n.parse().ok()).unwrap_or(MONTHS),
            "--generate" => {
                let path = PathBuf::from(words.next().unwrap_or_else(|| "ten_years.db".into()));
                return generate(&path, months);
            }
            "--python" => only_python = true,
            // What cargo itself passes.
            "--bench" => {}
            other => panic!("{other} is no word of this benchmark: see the top of its source"),
        }
    }
    let folder = tempfile::tempdir()?;
    let mut out = io::stdout();
    compare_with_python(folder.path(), &mut out)?;
    if only_python {
        return Ok(());
    }
    compare_starts(folder.path(), months, &mut out)
}

fn compare_starts(folder: &Path, months: i64, out: &mut impl Write) -> io::Result<()> {
    let (old, young) = (folder.join("old.db"), folder.join("young.db"));
    let clock = Instant::now();
    generate(&old, months)?;
    writeln!(out, "{months} months made in {:.0} s", clock.elapsed().as_secs_f64())?;
    generate(&young, 1)?;
    writeln!(out, "size: old {:.0} MB, young {:.1} MB", megabytes(&old)?, megabytes(&young)?)?;
    let mut row = |what: &str, work: &dyn Fn(&Path)| {
        // Alternating, so that a slow moment of the machine hits both.
        let (mut of_old, mut of_young) = (Vec::new(), Vec::new());
        for _ in 0..STARTS {
            of_old.push(timed(|| work(&old)));
            of_young.push(timed(|| work(&young)));
        }
        let (of_old, of_young) = (median(of_old), median(of_young));
        let ratio = of_old.as_secs_f64() / of_young.as_secs_f64();
        writeln!(out, "{what}: old {of_old:.2?}, young {of_young:.2?}, ratio {ratio:.2}")
    };
    let open = |path: &Path| Journal::open(path).expect("the shop opens");
    row("open", &|path| drop(open(path)))?;
    row("open and status", &|path| drop(open(path).shop().expect("the shop is read")))?;
    let last = LedgerFilter { limit: Some(20), ..LedgerFilter::default() };
    row("open and last 20 of the ledger", &|path| {
        assert_eq!(open(path).ledger(&last).expect("the ledger is read").len(), 20);
    })?;
    let north = LedgerFilter {
        kiln: Some("North".into()),
        result: Some(Verdict::Over),
        ..LedgerFilter::default()
    };
    row("open and every spoiled firing of one kiln", &|path| {
        drop(open(path).ledger(&north).expect("the ledger is read"));
    })
}

fn compare_with_python(folder: &Path, out: &mut impl Write) -> io::Result<()> {
    let million = folder.join("million.db");
    generate(&million, 10)?;
    let as_json = folder.join("json.db");
    let events = copy_as_json(&million, &as_json);
    let journal = Journal::open(&million).expect("the shop opens");
    let mut of = Figures::default();
    // In turns, so that a slow moment of the machine hits everybody.
    for round in 0..ROUNDS {
        let fold = timed(|| fold_each(&journal));
        of.fold.push(fold.as_secs_f64());
        of.scan.push(timed(|| bare_scan(&million)).as_secs_f64());
        of.python_json.extend(python("fold_json", &[&as_json])?);
        of.python_rows.extend(python("fold_rows", &[&million])?);
        of.commits.push(commits(&folder.join(format!("commits_{round}.db"))));
        let theirs = folder.join(format!("commits_python_{round}.db"));
        of.python_commits.extend(python("commits", &[&theirs, Path::new(&COMMITS.to_string())])?);
    }
    let [fold, scan] = [of.fold, of.scan].map(middle);
    writeln!(
        out,
        "fold of {events} events: {:.0} ms, bare scan {:.0} ms, ratio {:.2}",
        fold * 1000.0,
        scan * 1000.0,
        fold / scan
    )?;
    let ours = middle(of.commits);
    if of.python_commits.is_empty() {
        return writeln!(out, "{ours:.0} durable commits a second; no python3 to compare with");
    }
    for (what, times) in [("the same events as JSON", of.python_json), ("our file", of.python_rows)]
    {
        let theirs = middle(times);
        writeln!(out, "Python folds {what} in {theirs:.2} s: {:.1} times our time", theirs / fold)?;
    }
    let theirs = middle(of.python_commits);
    let ratio = ours / theirs;
    writeln!(out, "durable commits a second: {ours:.0}, Python {theirs:.0}, ratio {ratio:.2}")
}

/// Every firing of the shop, folded from its events.
fn fold_each(journal: &Journal) {
    for row in journal.ledger(&LedgerFilter::default()).expect("the ledger is read") {
        black_box(journal.firing(row.firing).expect("it folds"));
    }
}

/// What was measured, one figure a round: seconds, and commits a second.
#[derive(Default)]
struct Figures {
    fold: Vec<f64>,
    scan: Vec<f64>,
    python_json: Vec<f64>,
    python_rows: Vec<f64>,
    commits: Vec<f64>,
    python_commits: Vec<f64>,
}

/// What Python measures of itself; nothing where there is no `python3`.
fn python(work: &str, values: &[&Path]) -> io::Result<Option<f64>> {
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/benches/journal_python.py");
    let Ok(answer) = Command::new("python3").arg(script).arg(work).args(values).output() else {
        return Ok(None);
    };
    io::stderr().write_all(&answer.stderr)?;
    Ok(String::from_utf8_lossy(&answer.stdout).trim().parse().ok())
}

/// The events of a shop as another program might keep them: one JSON object each.
fn copy_as_json(from: &Path, to: &Path) -> usize {
    let journal = Journal::open(from).expect("the shop opens");
    let mut events = Vec::new();
    let read: Result<(), JournalError> = journal.each_event(None, |one| {
        events.push(one);
        Ok(())
    });
    read.expect("it is read");
    let mut connection = Connection::open(to).expect("a new file");
    connection
        .execute_batch(
            "CREATE TABLE events (id INTEGER PRIMARY KEY, firing INTEGER, at_ms INTEGER, body TEXT)",
        )
        .expect("a table");
    let transaction = connection.transaction().expect("a transaction");
    for stored in &events {
        let event = &stored.event;
        let mut fields = form::write(&event.what);
        fields
            .insert("event".into(), spyhole::testing::firing::Kind::of(&event.what).name().into());
        let body = serde_json::Value::Object(fields).to_string();
        let firing = event.firing.map_or(0, |firing| firing.0);
        transaction
            .prepare_cached("INSERT INTO events VALUES (?1, ?2, ?3, ?4)")
            .and_then(|mut insert| insert.execute((event.id.0, firing, event.at.0, body)))
            .expect("a row");
    }
    transaction.commit().expect("a commit");
    events.len()
}

/// Steps through every row and touches every column, nothing else.
fn bare_scan(path: &Path) {
    let connection = Connection::open(path).expect("the shop opens");
    let mut statement = connection.prepare("SELECT * FROM events ORDER BY id").expect("a query");
    let columns = statement.column_count();
    let mut rows = statement.query([]).expect("rows");
    let mut sum = 0_i64;
    while let Some(row) = rows.next().expect("a row") {
        for column in 0..columns {
            sum = sum.wrapping_add(row.get_ref(column).expect("a value").as_i64().unwrap_or(1));
        }
    }
    assert_ne!(sum, 0);
}

/// Durable commits a second: one reading each, judged and answered.
fn commits(path: &Path) -> f64 {
    Journal::begin(path, &[], BEGINNING).expect("a new shop");
    let mut journal = Journal::open(path).expect("a new shop");
    let firing = journal.append_checked(&light("North", BEGINNING), BEGINNING).expect("lit").firing;
    let clock = Instant::now();
    for n in 1..=COMMITS {
        let at = Moment(BEGINNING.0 + 1000 * n);
        let new = person(firing, at, What::Reading(Celsius(n as f64 / 10.0)));
        journal.append_checked(&new, at).expect("a reading");
    }
    COMMITS as f64 / clock.elapsed().as_secs_f64()
}

fn timed(work: impl FnOnce()) -> Duration {
    let clock = Instant::now();
    work();
    clock.elapsed()
}

fn median(mut times: Vec<Duration>) -> Duration {
    times.sort_unstable();
    times[times.len() / 2]
}

fn middle(mut figures: Vec<f64>) -> f64 {
    figures.sort_unstable_by(f64::total_cmp);
    figures.get(figures.len() / 2).copied().unwrap_or(f64::NAN)
}

/// The file with its log.
fn megabytes(path: &Path) -> io::Result<f64> {
    let log = fs::metadata(format!("{}-wal", path.display())).map_or(0, |log| log.len());
    Ok((fs::metadata(path)?.len() + log) as f64 / 1e6)
}
