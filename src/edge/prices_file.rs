//! The list of prices: a CSV file beside the shop's, kept by hand or by a spreadsheet.
//!
//! ```text
//! from,what,of,value,unit
//! 2026-01-01,fuel,gas m3,1.15,
//! 2026-01-01,draw,East,11,kW
//! 2026-01-01,duty,East,0.6,
//! 2026-01-01,thing,g gold,82,
//! 2026-01-01,cone,,0.45,
//! 2026-01-01,hour,,28,
//! 2026-01-01,hands,gold,90,
//! ```

use std::fmt::Display;
use std::path::{Path, PathBuf};

use chrono::NaiveDate;

use super::journal::shop_files;
use super::plain_file;
use crate::review::prices::{Kind, Price, Prices};
use crate::text::marked;
use crate::units::{Moment, Span};

/// What things cost in a made-up shop (a guess).
const MADE_UP: &str = "from,what,of,value,unit
2000-01-01,fuel,gas m3,1.15,
2000-01-01,fuel,electric kWh,0.31,
2000-01-01,draw,Heron,2.4,m3/h
2000-01-01,draw,Wren,1.8,m3/h
2000-01-01,draw,Otter,9,kW
2000-01-01,draw,Badger,13,kW
2000-01-01,draw,Finch,4,kW
2000-01-01,duty,Otter,0.6,
2000-01-01,duty,Badger,0.6,
2000-01-01,duty,Finch,0.6,
2000-01-01,thing,g gold,82,
2000-01-01,cone,,0.45,
2000-01-01,hour,,28,
2000-01-01,hands,,80,
";

const HEADING: [&str; 5] = ["from", "what", "of", "value", "unit"];

/// Why a list of prices cannot be used.
#[derive(Debug, thiserror::Error)]
#[error("{0}")]
pub struct PricesError(String);

/// Where the list is looked for when nobody names another: `shop.spyhole` has `shop.prices.csv`.
pub fn beside(shop: &Path) -> PathBuf {
    shop_files::named(shop).with_extension("prices.csv")
}

/// The list of prices beside a shop's file; no prices where there is none.
///
/// # Errors
/// When it cannot be used as it is.
pub fn of_shop(shop: &Path, ahead: Span) -> Result<Prices, PricesError> {
    let list = beside(shop);
    if list.exists() { read(&list, ahead.0) } else { Ok(Prices::default()) }
}

fn unreadable(path: &str, error: impl Display) -> PricesError {
    PricesError(format!("the prices in {path} cannot be read: {error}"))
}

/// Reads a list; days begin at midnight where the wall clock is `ahead_ms` ahead of UTC.
///
/// # Errors
/// [`PricesError`] for the first line that cannot be used.
pub fn read(path: &Path, ahead_ms: i64) -> Result<Prices, PricesError> {
    let name = path.display().to_string();
    let text = plain_file::read_to_string(path).map_err(|error| unreadable(&name, error))?;
    prices(&text, name, ahead_ms)
}

/// What things cost in a made-up shop.
///
/// # Errors
/// As [`read`].
pub fn made_up() -> Result<Prices, PricesError> {
    prices(MADE_UP, String::new(), 0)
}

fn prices(text: &str, name: String, ahead_ms: i64) -> Result<Prices, PricesError> {
    let unreadable = |error| unreadable(&name, error);
    let mut lines = csv::ReaderBuilder::new()
        .trim(csv::Trim::All)
        .flexible(true)
        .comment(Some(b'#'))
        .from_reader(text.trim_start_matches('\u{feff}').as_bytes());
    let heading = lines.headers().map_err(unreadable)?;
    if heading.iter().take(4).ne(HEADING.into_iter().take(4)) {
        let heading = HEADING.join(",");
        return Err(PricesError(format!("{name}: the first line has to be {heading}")));
    }
    let mut prices = Vec::new();
    for record in lines.records() {
        let record = record.map_err(unreadable)?;
        let line = record.position().map_or(0, |position| position.line() as usize);
        prices.push(price(&record, &name, line, ahead_ms)?);
    }
    Ok(Prices::new(prices))
}

fn price(
    record: &csv::StringRecord,
    path: &str,
    line: usize,
    ahead_ms: i64,
) -> Result<Price, PricesError> {
    let field = |at: usize| marked(record.get(at).unwrap_or("").to_owned());
    let wrong = |why: String| Err(PricesError(format!("{path}, line {line}: {why}")));
    let day: Option<NaiveDate> = field(0).parse().ok();
    let Some(midnight) = day.and_then(|day| day.and_hms_opt(0, 0, 0)) else {
        return wrong(format!("\"{}\" is no day: write it like 2026-03-01", field(0)));
    };
    let Some(kind) = Kind::ALL.into_iter().find(|kind| kind.name() == field(1)) else {
        let (seen, kinds) = (field(1), Kind::ALL.map(Kind::name).join(", "));
        return wrong(format!("\"{seen}\" is nothing that has a price here: use one of {kinds}"));
    };
    let (low, high) = kind.range();
    let value = field(3).parse().ok().filter(|value| (low..=high).contains(value));
    let Some(value) = value else {
        let (what, seen) = (kind.name(), field(3));
        return wrong(format!("{what} \"{seen}\" is not a number from {low} to {high}"));
    };
    if kind == Kind::Draw && field(4).is_empty() {
        return wrong("what a kiln draws needs its unit: kW, m3/h, kg/h or the like".into());
    }
    let from = Moment(midnight.and_utc().timestamp_millis() - ahead_ms);
    Ok(Price { from, kind, of: field(2), value, unit: field(4) })
}
