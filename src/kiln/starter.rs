//! A first set of load types, for a shop that has none of its own yet.
//!
//! Every number here is common practice, no source: cones, tolerances and lengths differ with the
//! maker of the clay, glaze, gold or decal, whose leaflet comes first. They are meant to be edited.

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

const ROWS: [Row; 12] = [
    Row {
        name: "gold",
        cone: "018",
        schedule: "Lustre and gold",
        under_cones: 0.5,
        over_cones: 0.5,
        over: Miss::Lost,
        usual_hours: 6.0,
        cautions: &[FUMES, GOLD_METAL, EYES, GAS],
    },
    Row {
        name: "lustre",
        cone: "018",
        schedule: "Lustre and gold",
        under_cones: 0.5,
        over_cones: 0.5,
        over: Miss::Lost,
        usual_hours: 6.0,
        cautions: &[FUMES, LUSTRE_METAL, EYES, GAS],
    },
    Row {
        name: "decal",
        cone: "017",
        schedule: "Decals, cone 017",
        under_cones: 0.7,
        over_cones: 1.0,
        over: Miss::Lost,
        usual_hours: 6.0,
        cautions: &[FUMES, EYES, GAS],
    },
    Row {
        name: "china paint",
        cone: "016",
        schedule: "China paint on porcelain, one coat",
        under_cones: 0.7,
        over_cones: 1.0,
        over: Miss::Lost,
        usual_hours: 5.5,
        cautions: &[FUMES, EYES, GAS],
    },
    Row {
        name: "earthenware bisque",
        cone: "04",
        schedule: "Cast earthenware, first firing",
        under_cones: 1.0,
        over_cones: 1.0,
        over: Miss::Lost,
        usual_hours: 15.75,
        cautions: &[DAMP, EYES, GAS],
    },
    Row {
        name: "earthenware glaze",
        cone: "05",
        schedule: "Cast earthenware, clear glaze",
        under_cones: 0.7,
        over_cones: 1.0,
        over: Miss::Lost,
        usual_hours: 7.0,
        cautions: &[EYES, GAS],
    },
    Row {
        name: "once-fired earthenware",
        cone: "04",
        schedule: "Cast earthenware, raw glaze in one firing",
        under_cones: 0.7,
        over_cones: 1.0,
        over: Miss::Lost,
        usual_hours: 16.5,
        cautions: &[DAMP, EYES, GAS],
    },
    Row {
        name: "stoneware bisque",
        cone: "06",
        schedule: "Stoneware, first firing",
        under_cones: 1.0,
        over_cones: 2.0,
        over: Miss::Lost,
        usual_hours: 14.75,
        cautions: &[DAMP, EYES, GAS],
    },
    Row {
        name: "stoneware glaze",
        cone: "6",
        schedule: "Mid-range stoneware, glaze",
        under_cones: 0.7,
        over_cones: 1.0,
        over: Miss::Lost,
        usual_hours: 8.75,
        cautions: &[EYES, GAS],
    },
    Row {
        name: "porcelain bisque",
        cone: "08",
        schedule: "Porcelain, first firing",
        under_cones: 1.0,
        over_cones: 1.0,
        over: Miss::Lost,
        usual_hours: 13.75,
        cautions: &[DAMP, EYES, GAS],
    },
    Row {
        name: "porcelain glaze",
        cone: "9",
        schedule: "Porcelain, glaze",
        under_cones: 0.5,
        over_cones: 0.5,
        over: Miss::Lost,
        usual_hours: 9.0,
        cautions: &[EYES, GAS],
    },
    Row {
        name: "body test",
        cone: "04",
        schedule: "Test bars of a new body",
        under_cones: 1.0,
        over_cones: 1.0,
        over: Miss::FireAgain,
        usual_hours: 21.5,
        cautions: &[DAMP, EYES, GAS],
    },
];

fn same(name: &str, load: &LoadType) -> bool {
    same_name(name, &load.name)
}

fn of(load: &LoadType) -> Option<&'static Row> {
    ROWS.iter().find(|row| same(row.name, load))
}

/// Whether a load type still has the usual length it came with here, so that nobody of the shop has
/// said how long it takes.
pub fn has_its_length(load: &LoadType) -> bool {
    let now = ROWS.iter().map(|row| (row.name, row.usual_hours));
    let mut all = now.chain(EARLIER.iter().map(|(name, .., hours)| (*name, *hours)));
    all.any(|(name, hours)| same(name, load) && load.usual_length == Some(Span::from_hours(hours)))
}

/// Whether a load type is as it came, by what is said of its cones and its length.
pub fn is_as_it_came(load: &LoadType) -> bool {
    let said = |cone: &str, over: f64| load.target.name() == cone && load.over_cones == over;
    let (row, earlier) = (of(load), EARLIER.iter().find(|earlier| same(earlier.0, load)));
    has_its_length(load)
        && row.is_some_and(|row| load.under_cones == row.under_cones && load.over == row.over)
        && (row.is_some_and(|row| said(row.cone, row.over_cones))
            || earlier.is_some_and(|(_, cone, over, _)| said(cone, *over)))
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
            under: Miss::FireAgain,
            over: row.over,
            usual_length: Some(Span::from_hours(row.usual_hours)),
            cautions: row.cautions.iter().map(|caution| (*caution).into()).collect(),
        })
        .collect()
}
