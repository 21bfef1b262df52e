//! The review of ten years, 24,000 made-up firings, beside the same tables made with pandas.
//!
//! ```text
//! cargo bench --bench review
//! SPYHOLE_PYTHON=/path/to/python cargo bench --bench review      a Python that has pandas
//! ```
//!
//! Three things are measured, each on one core: digesting firings of 500 readings into facts, all
//! tables of the review from these facts, and the whole command `spyhole review all` on a shop's file
//! with these firings. The first review, which digests every one of them, stands beside a bare scan over the events.
//! Pandas gets the facts as a table already in memory (`review_pandas.py` says which tables it makes
//! and prints its own time), and as a whole process that reads the same table from CSV. What counts
//! are the ratios within one run.

use std::error::Error;
use std::fmt::Write as _;
use std::fs;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;
use rusqlite::types::ValueRef;
use spyhole::testing::cone::{Cone, Family};
use spyhole::testing::edge::journal::{Journal, JournalError, LedgerFilter, NewEvent, Uid};
use spyhole::testing::edge::prices_file;
use spyhole::testing::firing::event::Counted;
use spyhole::testing::firing::event::Outcome;
use spyhole::testing::firing::event::{Look, Packing, ShelfCone};
use spyhole::testing::firing::{
    ConePack, EventId, Firing, FiringId, Lit, Looked, Seen, State, Verdict, What, Who,
};
use spyhole::testing::kiln::{Fuel, Kiln, LoadType, Miss};
use spyhole::testing::review::cost::costs;
use spyhole::testing::review::drift::{drifts, probe_offsets};
use spyhole::testing::review::evenness::evenness;
use spyhole::testing::review::late::late_looks;
use spyhole::testing::review::outcomes::{By, outcomes, overshoots, went_with};
use spyhole::testing::review::prices::{Kind, Price, Prices};
use spyhole::testing::review::suggestion::Corrections;
use spyhole::testing::review::tolerance::tolerances;
use spyhole::testing::review::{Facts, Ledger};
use spyhole::testing::units::{Celsius, Moment, Scale, Span};
use spyhole::testing::words::tables;

const FIRINGS: i64 = 24_000;
const READINGS: i64 = 500;
const KILNS: [&str; 8] = ["North", "East", "South", "West", "Old", "Small", "Tall", "Test"];
const LOADS: [(&str, &str); 5] =
    [("gold", "018"), ("decal", "016"), ("lustre", "019"), ("glaze", "6"), ("bisque", "04")];
const ROUNDS: usize = 5;

fn main() -> Result<(), Box<dyn Error>> {
    let mut out = io::stdout().lock();
    if !std::env::args().any(|argument| argument == "--bench") {
        writeln!(out, "a benchmark: run it with `cargo bench --bench review`")?;
        return Ok(());
    }
    let mut chance = Pcg64Mcg::seed_from_u64(7);
    let folder = tempfile::tempdir()?;
    let shop = folder.path().join("shop.db");
    Journal::begin(&shop, &[], Moment(0))?;
    let mut journal = Journal::open(&shop)?;
    put_shop(&mut journal)?;
    let mut facts = Vec::new();
    let mut digesting = Duration::ZERO;
    let mut events = Vec::new();
    for id in 0..FIRINGS {
        let firing = made_up(id, &mut chance);
        let begun = Instant::now();
        facts.extend(Facts::of(&firing, 0.0));
        digesting += begun.elapsed();
        put(&firing, &mut events);
        if id % 100 == 99 {
            journal.append_all(&events, firing.lit.unwrap_or_default())?;
            events.clear();
        }
    }
    journal.append_all(&events, Moment(0))?;
    drop(journal);
    writeln!(
        out,
        "digesting {FIRINGS} firings of {READINGS} readings: {:.3} s ({:.0} ns a reading)",
        digesting.as_secs_f64(),
        digesting.as_nanos() as f64 / (FIRINGS * READINGS) as f64
    )?;
    let load_types = LOADS.iter().map(|(name, cone)| load_type(name, cone)).collect();
    let kilns = KILNS.iter().map(|name| kiln(name)).collect();
    let ledger = Ledger::from_facts(facts, kilns, load_types, Span::ZERO);
    let mut times: Vec<Duration> = Vec::new();
    let mut rows = 0;
    for _ in 0..ROUNDS {
        let begun = Instant::now();
        rows = whole_review(&ledger);
        times.push(begun.elapsed());
    }
    times.sort();
    let ours = times[ROUNDS / 2];
    writeln!(
        out,
        "the whole review, {rows} rows: {:.3} s (median of {ROUNDS})",
        ours.as_secs_f64()
    )?;
    writeln!(out, "together: {:.3} s", (ours + digesting).as_secs_f64())?;
    first_review(&shop, &mut out)?;
    let command = whole_command(&shop, &mut out)?;
    beside_pandas(&ledger, ours, command, &mut out)
}

/// The first review, which digests every firing, beside a bare scan over the same rows' contents: both of a
/// file that was read before, in this process.
fn first_review(shop: &Path, out: &mut impl io::Write) -> Result<(), Box<dyn Error>> {
    let journal = Journal::open(shop)?;
    let connection = rusqlite::Connection::open(shop)?;
    let scan = || -> rusqlite::Result<(Duration, i64)> {
        let begun = Instant::now();
        let mut statement = connection.prepare("SELECT * FROM events ORDER BY id")?;
        let columns = statement.column_count();
        let (mut rows, mut mixed) = (statement.query([])?, 0);
        while let Some(row) = rows.next()? {
            for column in 0..columns {
                mixed ^= match row.get_ref(column)? {
                    ValueRef::Null => 1,
                    ValueRef::Integer(number) => number,
                    ValueRef::Real(number) => number.to_bits() as i64,
                    ValueRef::Text(bytes) | ValueRef::Blob(bytes) => bytes.len() as i64,
                };
            }
        }
        Ok((begun.elapsed(), mixed))
    };
    let (_, mixed) = scan()?;
    let begun = Instant::now();
    let facts = journal.facts(&LedgerFilter::default(), &Corrections::default(), &mut |_, _| ())?;
    let ours = begun.elapsed().as_secs_f64();
    let (bare, again) = scan()?;
    let bare = bare.as_secs_f64();
    assert_eq!(mixed, again);
    writeln!(
        out,
        "the first review of {} firings, nothing digested yet: {ours:.3} s, a bare scan over the events: {bare:.3} s, ratio {:.1}",
        facts.len(),
        ours / bare
    )?;
    Ok(())
}

/// The median of the command's time once every firing is kept digested.
fn whole_command(shop: &Path, out: &mut impl io::Write) -> Result<Duration, Box<dyn Error>> {
    fs::write(prices_file::beside(shop), prices_as_csv())?;
    let review = || -> Result<Duration, Box<dyn Error>> {
        let begun = Instant::now();
        let answer = Command::new(env!("CARGO_BIN_EXE_spyhole"))
            .arg("--shop")
            .arg(shop)
            .args(["review", "all"])
            .output()?;
        let took = begun.elapsed();
        if !answer.status.success() {
            return Err(String::from_utf8_lossy(&answer.stderr).into_owned().into());
        }
        Ok(took)
    };
    let mut again = (0..ROUNDS).map(|_| review()).collect::<Result<Vec<_>, _>>()?;
    again.sort();
    let again = again[ROUNDS / 2];
    writeln!(
        out,
        "spyhole review all, from then on: {:.3} s (median of {ROUNDS})",
        again.as_secs_f64()
    )?;
    Ok(again)
}

fn put_shop(journal: &mut Journal) -> Result<(), JournalError> {
    let kilns = KILNS.map(|name| What::KilnSet(kiln(name)));
    let loads = LOADS.map(|(name, cone)| What::LoadTypeSet(load_type(name, cone)));
    let events: Vec<NewEvent> =
        kilns.into_iter().chain(loads).map(|what| event(None, Moment(0), what)).collect();
    journal.append_all(&events, Moment(0))?;
    Ok(())
}

fn event(firing: Option<FiringId>, at: Moment, what: What) -> NewEvent {
    let who = Who::Person("Ida".into());
    NewEvent { uid: Uid::fresh(), firing, at, offset_minutes: 0, who, what }
}

/// A firing as the events it came about by.
fn put(firing: &Firing, events: &mut Vec<NewEvent>) {
    let (Some(lit), Some(pack)) = (firing.lit, firing.pack) else { return };
    let id = Some(firing.id);
    let begin = Lit {
        kiln: firing.kiln.clone(),
        load_type: firing.load_type.clone(),
        pack,
        schedule: firing.schedule.clone(),
        plan: Vec::new(),
    };
    let packing = firing.packing.clone().map(What::Packed);
    // What begins a firing is not told its number.
    events.extend(packing.map(|what| event(None, lit - Span::minutes(30), what)));
    events.push(event(id, lit, What::Lit(begin)));
    events.extend(firing.readings.iter().map(|(at, t)| event(id, *at, What::Reading(*t))));
    events.extend(
        firing.looks.iter().map(|Looked { at, look, .. }| event(id, *at, What::Look(*look))),
    );
    events.extend(firing.off.map(|at| event(id, at, What::Off)));
    events.extend(firing.off.map(|at| event(id, at + Span::hours(11), What::Drawn)));
    let outcome = firing.outcome.clone();
    events.extend(outcome.map(|(at, outcome)| event(id, at, What::Outcome(outcome))));
}

/// Every table of the review; gives back how many rows they have, so that nothing is left out.
fn whole_review(ledger: &Ledger) -> usize {
    let facts: Vec<&Facts> = ledger.facts.iter().collect();
    let scale = Scale::Celsius;
    let mut made = Vec::new();
    for by in By::ALL {
        made.push(tables::outcomes(by, &outcomes(ledger.ahead, &facts, by)));
    }
    made.push(tables::overshoots(&overshoots(&facts)));
    made.push(tables::went_with(&went_with(&facts)));
    made.push(tables::late_looks(&late_looks(ledger, &facts)));
    made.push(tables::drift(&drifts(&facts, &Corrections::default()), scale, ledger.ahead));
    made.push(tables::probes(&probe_offsets(&facts, &Corrections::default()), scale));
    made.push(tables::tolerance(&tolerances(ledger, &facts)));
    made.push(tables::evenness(&evenness(&facts), scale));
    let prices = prices();
    for by in By::COSTS {
        made.push(tables::costs(by, &costs(ledger, &facts, &prices, by)));
    }
    made.iter().map(|table| table.rows.len()).sum()
}

fn beside_pandas(
    ledger: &Ledger,
    ours: Duration,
    command: Duration,
    out: &mut impl io::Write,
) -> Result<(), Box<dyn Error>> {
    let folder = std::env::temp_dir().join(format!("spyhole-review-{}", std::process::id()));
    fs::create_dir_all(&folder)?;
    let (firings, shelves) = as_csv(ledger);
    fs::write(folder.join("firings.csv"), firings)?;
    fs::write(folder.join("shelves.csv"), shelves)?;
    let script = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("benches/review_pandas.py");
    let python = std::env::var("SPYHOLE_PYTHON").unwrap_or_else(|_| "python3".to_owned());
    let begun = Instant::now();
    let answer = Command::new(&python).arg(script).arg(&folder).arg("1").output();
    let whole = begun.elapsed();
    let script = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("benches/review_pandas.py");
    let answer = answer.and_then(|_| Command::new(&python).arg(script).arg(&folder).output());
    fs::remove_dir_all(&folder)?;
    match answer {
        Ok(answer) if answer.status.success() => {
            let said = String::from_utf8_lossy(&answer.stdout).into_owned();
            let theirs: f64 = said.lines().next().unwrap_or_default().trim().parse()?;
            writeln!(out, "pandas, the same tables from a table in memory: {theirs:.3} s")?;
            for line in said.lines().skip(1) {
                writeln!(out, "  {line}")?;
            }
            writeln!(out, "ratio: {:.1} times", theirs / ours.as_secs_f64())?;
            let (theirs, command) = (whole.as_secs_f64(), command.as_secs_f64());
            writeln!(out, "a Python process that reads the table from CSV: {theirs:.3} s")?;
            writeln!(out, "ratio to the whole command: {:.1} times", theirs / command)?;
        }
        _ => writeln!(out, "no pandas in {python}: only our own times")?,
    }
    Ok(())
}

/// The facts as pandas would have them.
fn as_csv(ledger: &Ledger) -> (String, String) {
    let mut firings = String::from(
        "id,kiln,load,schedule,month,season,verdict,loss,pieces,worth,looks,gap,off_late,climb,minutes,soak,probe,over,spread,hours\n",
    );
    let mut shelves = String::from("id,kiln,place,cone,seen\n");
    let cell = |value: Option<f64>| value.map_or(String::new(), |value| value.to_string());
    for f in &ledger.facts {
        let [month, season] = [By::Month, By::Season].map(|by| by.group(f, ledger.ahead).1);
        let _ = writeln!(
            firings,
            "{},{},{},{},{month},{},{},{},{},{},{},{},{},{},{},{},{},{},{},{}",
            f.id,
            f.kiln,
            f.load_type,
            f.schedule.as_deref().unwrap_or("none"),
            season,
            f.verdict.map_or("", Verdict::name),
            cell(f.loss),
            cell(f.pieces.map(f64::from)),
            cell(f.worth),
            f.looks,
            cell(f.drop.and_then(|drop| drop.gap_minutes())),
            cell(f.drop.zip(f.off).map(|(drop, off)| (off - drop.by).as_minutes())),
            cell(f.final_climb.map(|climb| climb.0)),
            cell(f.minutes_to_drop),
            cell(f.soak_minutes),
            cell(f.probe_high_c.map(|b| b.best)),
            cell(f.overshoot_cones.map(|b| b.best)),
            cell(f.overshoot_cones.map(|b| b.spread())),
            cell(f.consumption.hours),
        );
        for shelf in &f.shelves {
            let _ = writeln!(
                shelves,
                "{},{},{},{},{}",
                f.id,
                f.kiln,
                shelf.place,
                shelf.cone.position(),
                shelf.seen as u8
            );
        }
    }
    (firings, shelves)
}

fn cone(name: &str) -> Cone {
    Cone::parse(name).expect("a cone of the chart")
}

fn kiln(name: &str) -> Kiln {
    Kiln { name: name.into(), fuel: Fuel::Gas, litres: None, ceiling: None, fastest_climb: None }
}

fn load_type(name: &str, target: &str) -> LoadType {
    LoadType {
        name: name.into(),
        target: cone(target),
        family: Family::SelfSupporting,
        under_cones: 0.5,
        over_cones: 0.5,
        under: Miss::FireAgain,
        over: Miss::Lost,
        usual_length: None,
        cautions: Vec::new(),
    }
}

/// The same prices as a file.
fn prices_as_csv() -> String {
    let mut list = String::from(
        "from,what,of,value,unit\n2010-01-01,fuel,gas m3,1.2,\n2010-01-01,cone,,0.4,\n2010-01-01,hour,,28,\n2010-01-01,hands,,90,\n",
    );
    for kiln in KILNS {
        let _ = writeln!(list, "2010-01-01,draw,{kiln},3,m3/h");
    }
    list
}

fn prices() -> Prices {
    let price = |kind, of: &str, value, unit: &str| Price {
        from: Moment(0),
        kind,
        of: of.into(),
        value,
        unit: unit.into(),
    };
    let mut list = vec![
        price(Kind::Fuel, "gas m3", 1.2, ""),
        price(Kind::Cone, "", 0.4, ""),
        price(Kind::Hour, "", 28.0, ""),
        price(Kind::Hands, "", 90.0, ""),
    ];
    list.extend(KILNS.iter().map(|kiln| price(Kind::Draw, kiln, 3.0, "m3/h")));
    Prices::new(list)
}

/// One firing of ten years: 500 readings on the way to its cone, looks, an outcome, shelf cones.
fn made_up(id: i64, chance: &mut Pcg64Mcg) -> Firing {
    let mut uniform = || chance.random::<f64>();
    let kiln = KILNS[(id % 8) as usize];
    let (load, target) = LOADS[(uniform() * 5.0) as usize % 5];
    let target = cone(target);
    let lit = Moment(1_450_000_000_000) + Span::minutes(219 * id);
    let climb = 120.0 + 60.0 * uniform();
    let law =
        spyhole::testing::cone::curve(target, Family::SelfSupporting).expect("made in this family");
    let ends = law.temperature_ending(spyhole::testing::units::CelsiusPerHour(climb)).0;
    let drop = (ends - 20.0) / climb;
    let off = drop + 0.15 * uniform();
    let at = |hours: f64| lit + Span::from_hours(hours);
    let readings = (0..READINGS)
        .map(|n| {
            let hours = off * n as f64 / (READINGS - 1) as f64;
            (at(hours), Celsius(20.0 + climb * hours + 2.0 * uniform()))
        })
        .collect();
    let looks = (0..12)
        .map(|n| drop + (f64::from(n) - 10.5) * 0.08)
        .map(|hours| {
            let seen = if hours >= drop { Seen::Down } else { Seen::Standing };
            let look = Look { target: Some(seen), ..Look::default() };
            Looked { event: EventId(0), at: at(hours), look }
        })
        .collect();
    let over = (off - drop) * climb / 20.0;
    let verdict = match over + 0.2 * (uniform() - 0.5) {
        over if over > 0.7 => Verdict::Over,
        over if over < 0.02 => Verdict::Under,
        _ => Verdict::Good,
    };
    let shelf = |(index, place): (usize, &str)| ShelfCone {
        place: place.into(),
        cone: target,
        seen: Seen::ALL[(index + (uniform() * 2.0) as usize).min(3)],
    };
    let shelves = ["floor", "middle", "top"].into_iter().enumerate().map(shelf).collect();
    let pack = Some(ConePack::usual(target, Family::SelfSupporting));
    Firing {
        id: FiringId(id + 1),
        kiln: kiln.into(),
        load_type: load.into(),
        pack,
        packing: Some(Packing {
            kiln: kiln.into(),
            load_type: load.into(),
            pieces: Some(20 + (uniform() * 40.0) as u32),
            worth: Some(300.0),
            pack,
            ..Packing::default()
        }),
        schedule: Some(format!("{load} on glazed ware")),
        lit: Some(lit),
        readings,
        looks,
        off: Some(at(off)),
        outcome: Some((
            at(off + 14.0),
            Outcome {
                verdict,
                note: String::new(),
                shelves,
                loss: None,
                counted: Counted::default(),
                full: None,
            },
        )),
        state: State::Closed,
        ..Firing::default()
    }
}
