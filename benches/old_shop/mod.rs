//! A made-up shop of years: eight kilns, 25 firings a month each with 500 readings, the last ones
//! still burning.

use std::io;
use std::path::Path;

use spyhole::testing::cone::{Cone, Family};
use spyhole::testing::edge::journal::{Journal, NewEvent, Uid, starters};
use spyhole::testing::firing::event::Counted;
use spyhole::testing::firing::event::Look;
use spyhole::testing::firing::event::Outcome;
use spyhole::testing::firing::{ConePack, FiringId, Lit, Seen, Verdict, What, Who};
use spyhole::testing::kiln::{Fuel, Kiln};
use spyhole::testing::units::{Celsius, Moment, Span};

/// 2016-01-04T05:00:00Z.
pub(crate) const BEGINNING: Moment = Moment(1_451_883_600_000);
const KILNS: [&str; 8] = ["North", "South", "East", "West", "Attic", "Yard", "Small", "Test"];
/// Ten years.
pub(crate) const MONTHS: i64 = 120;
/// Eight kilns, 25 firings a month each: 24,000 in ten years.
const FIRINGS_A_MONTH: i64 = 25;
const READINGS: i64 = 500;

/// Makes a shop whose last firings are still burning.
pub(crate) fn generate(path: &Path, months: i64) -> io::Result<()> {
    if path.exists() {
        return Err(io::Error::other(format!("{} is there already", path.display())));
    }
    Journal::begin(path, &starters(BEGINNING), BEGINNING).expect("a new shop");
    let mut journal = Journal::open(path).expect("a new shop");
    let kilns = KILNS.map(|name| {
        let (litres, ceiling) = (Some(250.0), Some(Celsius(1300.0)));
        let kiln =
            Kiln { name: name.into(), fuel: Fuel::Gas, litres, ceiling, fastest_climb: None };
        person(None, BEGINNING, What::KilnSet(kiln))
    });
    journal.append_all(&kilns, BEGINNING).expect("kilns");
    let rounds = months * FIRINGS_A_MONTH;
    // A firing every 29 hours: 25 in a month of 30 days.
    let every = Span::minutes(24 * 60 * 30 / FIRINGS_A_MONTH);
    let mut number = 0;
    for round in 0..rounds {
        let begun = Moment(BEGINNING.0 + every.0 * round);
        let (mut openings, mut events) = (Vec::new(), Vec::new());
        for (index, kiln) in KILNS.iter().enumerate() {
            number += 1;
            let lit = begun + Span::minutes(7 * index as i64);
            let seed = round * KILNS.len() as i64 + index as i64;
            openings.push(light(kiln, lit));
            run(FiringId(number), lit, seed, round + 1 < rounds, &mut events);
        }
        events.sort_by_key(|event| event.at);
        let written = events.last().map_or(begun, |event| event.at);
        openings.append(&mut events);
        journal.append_all(&openings, written).expect("a round of firings");
    }
    Ok(())
}

pub(crate) fn person(firing: Option<FiringId>, at: Moment, what: What) -> NewEvent {
    let who = Who::Person("Ida".into());
    NewEvent { uid: Uid::fresh(), firing, at, offset_minutes: 60, who, what }
}

pub(crate) fn light(kiln: &str, lit: Moment) -> NewEvent {
    let pack = ConePack::usual(Cone::parse("018").expect("a cone"), Family::SelfSupporting);
    let (kiln, load_type) = (kiln.to_owned(), "gold".to_owned());
    person(None, lit, What::Lit(Lit { kiln, load_type, pack, schedule: None, plan: Vec::new() }))
}

/// What follows on being lit: read every 40 s or so, looked at, off, drawn, judged.
fn run(id: FiringId, lit: Moment, seed: i64, ends: bool, events: &mut Vec<NewEvent>) {
    let climb = 138.0 + (seed % 23) as f64;
    let step = Span::seconds(37 + seed % 5);
    for n in 1..=READINGS {
        let at = Moment(lit.0 + step.0 * n);
        let wobble = ((n * 7919 + seed * 104_729) % 100) as f64 / 40.0;
        let celsius = 20.0 + climb * (at - lit).as_hours() + wobble;
        let what = What::Reading(Celsius((celsius * 10.0).round() / 10.0));
        let who = Who::Probe("top".into());
        events.push(NewEvent { who, ..person(Some(id), at, what) });
    }
    let end = Moment(lit.0 + step.0 * READINGS);
    let mut then =
        |minutes: i64, what| events.push(person(Some(id), end + Span::minutes(minutes), what));
    then(-30, What::Look(Look { guide: Some(Seen::Leaning), ..Look::default() }));
    if !ends {
        return;
    }
    then(1, What::Look(Look { target: Some(Seen::Down), ..Look::default() }));
    then(2, What::Off);
    then(700, What::Drawn);
    let verdict = if seed % 17 == 0 { Verdict::Over } else { Verdict::Good };
    let (note, shelves) = ("bright".into(), vec![]);
    then(
        720,
        What::Outcome(Outcome {
            verdict,
            note,
            shelves,
            loss: None,
            counted: Counted::default(),
            full: None,
        }),
    );
}
