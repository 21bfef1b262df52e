//! What is said of past firings.

use super::dial::{Clock, Dial};
use super::lengths::shortened;
use super::story::event_phrase;
use crate::firing::{Event, FiringId, Shop, What};
use crate::scene::{FiringScene, PastFiring, Sort};
use crate::units::Moment;

/// Said while the ledger is read, and where it is empty.
pub const READING_LEDGER: &str = "reading the ledger";
pub const NO_SUCH_FIRING: &str = "no such firing in the ledger";
pub const NO_CURVE: &str = "nothing was read in this firing";

/// What happened to kilns between their firings, as lines of the ledger.
pub fn between_firings(shop: &Shop, dial: &Dial<'_>) -> Vec<PastFiring> {
    let line = |event: &Event| {
        let kiln = shop.names.now(event.what.of_kiln()?).to_owned();
        let note = match &event.what {
            What::KilnNote { text, .. } => text.clone(),
            other => event_phrase(other, &kiln, dial),
        };
        let (firing, begun, load_type) = (FiringId::SHOP, event.at, String::new());
        Some(PastFiring { firing, kiln, load_type, target: None, begun, verdict: None, note })
    };
    shop.of_kilns.iter().filter_map(line).collect()
}

/// The column of the kiln's name, and what a name has where there is little room.
const KILN_COLUMNS: usize = 10;
const NARROW_KILN: usize = 14;

/// `2026-03-11 9:40  Heron  gold  018  good  bright and even`.
pub fn past_line(past: &PastFiring, now: Moment, dial: &Dial<'_>) -> String {
    let when_columns = match dial.clock {
        Clock::TwelveHour => 19,
        Clock::TwentyFourHour => 16,
    };
    format!(
        "{:<when_columns$}  {:<KILN_COLUMNS$}  {:<18}  {:<4}  {:<5}  {}",
        dial.time_and_day(past.begun, now),
        past.kiln,
        past.load_type,
        past.target.map_or("", |cone| cone.name()),
        came_out(past),
        past.note
    )
}

/// The same in a list, where a long name gives way to what became of the firing.
pub fn past_row(past: &PastFiring, now: Moment, dial: &Dial<'_>) -> String {
    let kiln = shortened(&past.kiln, KILN_COLUMNS);
    past_line(&PastFiring { kiln, ..past.clone() }, now, dial)
}

/// The same in the least room: what stands last on a narrow screen is lost first.
pub fn past_short(past: &PastFiring, now: Moment, dial: &Dial<'_>) -> String {
    let when = dial.time_and_day(past.begun, now);
    if past.firing == FiringId::SHOP {
        return format!("      {}, {when}: {}", past.kiln, past.note);
    }
    let kiln = shortened(&past.kiln, NARROW_KILN);
    format!("{:<5} {kiln} {}, {when}", came_out(past), past.load_type)
}

/// How a load came out; `open` while nobody has written it.
fn came_out(past: &PastFiring) -> &'static str {
    let of_a_firing = if past.firing == FiringId::SHOP { "" } else { "open" };
    past.verdict.map_or(of_a_firing, |verdict| verdict.name())
}

pub fn ledger_title(sort: Sort, comparing: bool) -> String {
    let by = match sort {
        Sort::Youngest => "newest first",
        Sort::Kiln => "by kiln",
        Sort::Load => "by load",
        Sort::CameOut => "by outcome",
    };
    let what = if comparing { "Choose the firing to lay over it" } else { "Ledger" };
    format!("{what}, {by}")
}

/// `Heron, gold, 2026-03-11 9:40: good`, and what is laid over it.
pub fn firing_title(open: &[FiringScene], now: Moment, dial: &Dial<'_>) -> String {
    let one = |firing: &FiringScene| {
        let past = &firing.past;
        let when = dial.time_and_day(past.begun, now);
        let parts = [past.kiln.as_str(), past.load_type.as_str(), when.as_str(), came_out(past)];
        parts.iter().filter(|part| !part.is_empty()).copied().collect::<Vec<_>>().join(", ")
    };
    open.iter().map(one).collect::<Vec<_>>().join(" | ")
}
