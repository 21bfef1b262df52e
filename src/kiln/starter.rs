//! A first set of load types, for a shop that has none of its own yet.
//!
//! Every number here is common practice, no source: cones, tolerances and lengths differ with the
//! maker of the clay, glaze, gold or decal, whose leaflet comes first. They are meant to be edited.

use super::Miss::{FireAgain, Lost};
use super::{LoadType, Miss, same_name};
use crate::cone::{Cone, Family};
use crate::units::{Celsius, Span};

/// What the starter set rests on, as it is shown beside each of its entries.
pub const BASIS: &str =
    "common practice, no source: edit it to the maker's leaflet and your own kiln";

const EYES: &str = "Wear shaded glasses at the spyhole: the glow hurts the eyes.";
const FUMES: &str =
    "The medium burns off below 500 C: vent the kiln and the room well, and keep out of the fumes.";
const GAS: &str = "Burning gas and burning-off ware give off carbon monoxide: keep the kiln room aired, with an alarm for it.";
const DAMP: &str = "Ware that is not bone dry bursts near 100 C: hold it below until it is dry.";
/// The cautions above that name a temperature, and which: a reader of Fahrenheit is told it in F.
pub const LIMITS: [(&str, Celsius); 2] = [(FUMES, Celsius(500.0)), (DAMP, Celsius(100.0))];
const LUSTRE_METAL: &str =
    "Lustre is harmed by a few minutes too many: be at the kiln near the end.";
const GOLD_METAL: &str =
    "Over-fired gold discolours and lifts, and costs new gold: be at the kiln near the end.";

const DECORATED: &[&str] = &[FUMES, EYES, GAS];
const RAW: &[&str] = &[DAMP, EYES, GAS];
const GLAZED: &[&str] = &[EYES, GAS];

struct Row {
    name: &'static str,
    cone: &'static str,
    /// The shipped schedule to that cone; it takes the usual hours.
    schedule: &'static str,
    under_cones: f64,
    over_cones: f64,
    over: Miss,
    usual_hours: f64,
    cautions: &'static [&'static str],
}

/// What earlier versions said otherwise: name, cone, cones over and usual hours.
const EARLIER: [(&str, &str, f64, f64); 9] = [
    ("gold", "018", 0.5, 5.0),
    ("lustre", "019", 0.5, 5.0),
    ("china paint", "018", 1.0, 5.0),
    ("earthenware bisque", "04", 1.0, 10.0),
    ("earthenware glaze", "06", 1.0, 8.0),
    ("stoneware bisque", "06", 2.0, 10.0),
    ("stoneware glaze", "6", 1.0, 9.0),
    ("porcelain glaze", "9", 1.0, 11.0),
    ("body test", "1", 1.0, 9.0),
];

const fn row(
    (name, cone, schedule): (&'static str, &'static str, &'static str),
    (under_cones, over_cones, over): (f64, f64, Miss),
    usual_hours: f64,
    cautions: &'static [&'static str],
) -> Row {
    Row { name, cone, schedule, under_cones, over_cones, over, usual_hours, cautions }
}

const ROWS: [Row; 12] = [
    row(("gold", "018", "Lustre and gold"), (0.5, 0.5, Lost), 6.0, &[FUMES, GOLD_METAL, EYES, GAS]),
    row(
        ("lustre", "018", "Lustre and gold"),
        (0.5, 0.5, Lost),
        6.0,
        &[FUMES, LUSTRE_METAL, EYES, GAS],
    ),
    row(("decal", "017", "Decals, cone 017"), (0.7, 1.0, Lost), 6.0, DECORATED),
    row(
        ("china paint", "016", "China paint on porcelain, one coat"),
        (0.7, 1.0, Lost),
        5.5,
        DECORATED,
    ),
    row(
        ("earthenware bisque", "04", "Cast earthenware, first firing"),
        (1.0, 1.0, Lost),
        15.75,
        RAW,
    ),
    row(
        ("earthenware glaze", "05", "Cast earthenware, clear glaze"),
        (0.7, 1.0, Lost),
        7.0,
        GLAZED,
    ),
    row(
        ("once-fired earthenware", "04", "Cast earthenware, raw glaze in one firing"),
        (0.7, 1.0, Lost),
        16.5,
        RAW,
    ),
    row(("stoneware bisque", "06", "Stoneware, first firing"), (1.0, 2.0, Lost), 14.75, RAW),
    row(("stoneware glaze", "6", "Mid-range stoneware, glaze"), (0.7, 1.0, Lost), 8.75, GLAZED),
    row(("porcelain bisque", "08", "Porcelain, first firing"), (1.0, 1.0, Lost), 13.75, RAW),
    row(("porcelain glaze", "9", "Porcelain, glaze"), (0.5, 0.5, Lost), 9.0, GLAZED),
    row(("body test", "04", "Test bars of a new body"), (1.0, 1.0, FireAgain), 21.5, RAW),
];

fn of(load: &LoadType) -> Option<&'static Row> {
    ROWS.iter().find(|row| same_name(row.name, &load.name))
}

/// The rows of this and of earlier versions that a load type has its name and usual length from.
fn as_long(load: &LoadType) -> impl Iterator<Item = (&'static str, f64)> {
    let now = ROWS.iter().map(|row| (row.name, row.cone, row.over_cones, row.usual_hours));
    let as_long = |(name, _, _, hours): &(&str, &str, f64, f64)| {
        same_name(name, &load.name) && load.usual_length == Some(Span::from_hours(*hours))
    };
    now.chain(EARLIER).filter(as_long).map(|(_, cone, over, _)| (cone, over))
}

/// Whether a load type still has the usual length it came with here, so that nobody of the shop has
/// said how long it takes.
pub fn has_its_length(load: &LoadType) -> bool {
    as_long(load).next().is_some()
}

/// Whether a load type is as it came, by its cone, what it forgives and its length.
pub fn is_as_it_came(load: &LoadType) -> bool {
    let came = (load.target.name(), load.over_cones);
    as_long(load).any(|said| said == came)
        && of(load).is_some_and(|row| row.under_cones == load.under_cones)
}

/// The name of the shipped schedule to the cone of a load type.
pub fn schedule(load: &LoadType) -> Option<&'static str> {
    of(load).filter(|row| row.cone == load.target.name()).map(|row| row.schedule)
}

/// The starter set, in firing order of its uses: [`BASIS`] holds for every number.
pub fn load_types() -> Vec<LoadType> {
    ROWS.iter()
        .map(|row| LoadType {
            name: row.name.into(),
            target: Cone::parse(row.cone).expect("the starter set names cones of the chart"),
            family: Family::SelfSupporting,
            under_cones: row.under_cones,
            over_cones: row.over_cones,
            under: FireAgain,
            over: row.over,
            usual_length: Some(Span::from_hours(row.usual_hours)),
            cautions: row.cautions.iter().map(|caution| (*caution).into()).collect(),
        })
        .collect()
}
