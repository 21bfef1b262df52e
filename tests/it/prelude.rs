//! The names most tests speak of, and the tables they read.

pub(crate) use approx::{abs_diff_eq, assert_abs_diff_eq};
pub(crate) use serde_json::Value;
pub(crate) use spyhole::testing::alarm::{
    Alarm, Answer, Answering, Book, Call, Hours, MinuteOfDay, Person, Plan, Priority, Rota,
    Watched, WayName, findings,
};
pub(crate) use spyhole::testing::cone::{Cone, Curve, Family, HeatWork, curve};
pub(crate) use spyhole::testing::edge::bell::settings::BellFile;
pub(crate) use spyhole::testing::edge::house_file::House;
pub(crate) use spyhole::testing::edge::journal::{
    Journal, JournalError, LedgerFilter, NewEvent, StoredEvent, Uid, starters,
};
pub(crate) use spyhole::testing::edge::own_schedules::Offered;
pub(crate) use spyhole::testing::edge::screen::app::Tone;
pub(crate) use spyhole::testing::edge::screen::input::{Input, Mouse};
pub(crate) use spyhole::testing::edge::screen::key::{Key, Meaning};
pub(crate) use spyhole::testing::edge::screen::theme::{Depth, Paper, Theme};
pub(crate) use spyhole::testing::edge::screen::view::View;
pub(crate) use spyhole::testing::edge::shop::kept::KeptShop;
pub(crate) use spyhole::testing::edge::shop::store::{About, Entry};
pub(crate) use spyhole::testing::edge::{schedule_file, shipped_schedules};
pub(crate) use spyhole::testing::firing::event::{
    Counted, Fullness, GlowSeen, Look, Outcome, Packing, ShelfCone,
};
pub(crate) use spyhole::testing::firing::mark::{ForecastBy, When};
pub(crate) use spyhole::testing::firing::{
    ConePack, Doubt, Event, EventId, Firing, FiringId, Kind, Lit, Looked, Seen, Shop, State,
    Verdict, What, Who,
};
pub(crate) use spyhole::testing::forecast::{
    ConeNow, Declined, Forecast, Ground, Implausible, Question, USUAL_LIMIT, forecast,
};
pub(crate) use spyhole::testing::glow::{Glow, GlowWord, Room};
pub(crate) use spyhole::testing::kiln::{Fuel, Kiln, LoadType, Miss};
pub(crate) use spyhole::testing::review::prices::{Price, Prices};
pub(crate) use spyhole::testing::review::suggestion::{Change, Corrections};
pub(crate) use spyhole::testing::review::{Facts, Ledger};
pub(crate) use spyhole::testing::scene::{BenchScene, Phase, Scene};
pub(crate) use spyhole::testing::schedule::Ware;
pub(crate) use spyhole::testing::units::{Celsius, CelsiusPerHour, Moment, Scale, Span};
pub(crate) use spyhole::testing::watch::task::Task;
pub(crate) use spyhole::testing::watch::{Advice, advise};
pub(crate) use spyhole::testing::words::{Clock, Dial, FixedZone, Striking, Title};
pub(crate) use std::fs;
pub(crate) use std::path::{Path, PathBuf};
pub(crate) use std::time::Duration;
pub(crate) use tempfile::TempDir;

pub(crate) use crate::memory::Memory;
pub(crate) use crate::review::made::kiln;

/// How long something may take that takes a fraction of a second: nothing is timed by it.
pub(crate) const PATIENCE: Duration = Duration::from_secs(60);

/// Universal time in 24 hours and degrees Celsius.
pub(crate) const DIAL: Dial<'static> =
    Dial { zone: &ZONE, clock: Clock::TwentyFourHour, scale: Scale::Celsius };
pub(crate) const ZONE: FixedZone = FixedZone(Span::ZERO);

/// A firing of these events, numbered in the order of writing.
pub(crate) fn firing_of(events: impl IntoIterator<Item = (Moment, What)>) -> Firing {
    let mut firing = Firing { id: FiringId(1), ..Firing::default() };
    for (number, (at, what)) in (1..).zip(events) {
        firing.step(EventId(number), at, &Who::Person(String::new()), &what);
    }
    firing
}

/// The shop in this file; one that is not there is begun without any event.
#[track_caller]
pub(crate) fn begun(path: &Path) -> Journal {
    Journal::begin(path, &[], Moment(0)).unwrap();
    Journal::open(path).unwrap()
}

/// A shop begun in this file as the program begins one.
#[track_caller]
pub(crate) fn begun_by_the_program(path: &Path, now: Moment) -> Journal {
    Journal::begin(path, &starters(now), now).unwrap();
    Journal::open(path).unwrap()
}

/// A folder of its own, and the file of a shop in it that is not there yet.
pub(crate) fn shop_file() -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shop.db");
    (folder, path)
}

/// A number is as near to another as that.
#[track_caller]
pub(crate) fn near(found: f64, wanted: f64, within: f64, of: impl std::fmt::Display) {
    assert!(abs_diff_eq!(found, wanted, epsilon = within), "{of}: {found}, not {wanted}");
}

/// A lighting by no schedule.
pub(crate) fn lit_with(kiln: &str, load_type: &str, pack: ConePack) -> Lit {
    let (kiln, load_type) = (kiln.into(), load_type.into());
    Lit { kiln, load_type, pack, schedule: None, plan: Vec::new() }
}

/// What is asked of a firing of which nothing is known but itself and those before it.
pub(crate) fn question<'a>(firing: &'a Firing, past: &'a [Firing], now: Moment) -> Question<'a> {
    let (load, kiln, schedule, corrections) = (None, None, None, None);
    Question { firing, load, kiln, past, schedule, corrections, now, limit: USUAL_LIMIT }
}

/// Every event of these firings, or of the whole shop, in the order of writing.
pub(crate) fn stored(journal: &Journal, firings: Option<&[FiringId]>) -> Vec<StoredEvent> {
    let mut all = Vec::new();
    let taken: Result<(), JournalError> = journal.each_event(firings, |one| {
        all.push(one);
        Ok(())
    });
    taken.unwrap();
    all
}

/// A table of `tests/data`, by its path there.
pub(crate) fn data<T: serde::de::DeserializeOwned>(name: &str) -> T {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data").join(name);
    let text = fs::read_to_string(&path).unwrap_or_else(|error| panic!("{name}: {error}"));
    toml::from_str(&text).unwrap_or_else(|error| panic!("{name}: {error}"))
}
