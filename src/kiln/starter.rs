//! A first set of load types, for a shop that has none of its own yet.
//!
//! Every number here is common practice, no source: cones, tolerances and lengths differ with the
//! maker of the clay, glaze, gold or decal, whose leaflet comes first. They are meant to be edited.

use super::{LoadType, Miss};
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
const GOLD_METAL: &str = "Over-fired gold discolours and lifts, and nothing brings it back: be at the kiln near the end.";

struct Row {
    name: &'static str,
    cone: &'static str,
    under_cones: f64,
    over_cones: f64,
    under: Miss,
    over: Miss,
    usual_hours: f64,
    cautions: &'static [&'static str],
}

const ROWS: [Row; 10] = [
    Row {
        name: "gold",
        cone: "018",
        under_cones: 0.5,
        over_cones: 0.5,
        under: Miss::FireAgain,
        over: Miss::Lost,
        usual_hours: 5.0,
        cautions: &[FUMES, GOLD_METAL, EYES, GAS],
    },
    Row {
        name: "lustre",
        cone: "019",
        under_cones: 0.5,
        over_cones: 0.5,
        under: Miss::FireAgain,
        over: Miss::Lost,
        usual_hours: 5.0,
        cautions: &[FUMES, LUSTRE_METAL, EYES, GAS],
    },
    Row {
        name: "decal",
        cone: "017",
        under_cones: 0.7,
        over_cones: 1.0,
        under: Miss::FireAgain,
        over: Miss::Lost,
        usual_hours: 6.0,
        cautions: &[FUMES, EYES, GAS],
    },
    Row {
        name: "china paint",
        cone: "018",
        under_cones: 0.7,
        over_cones: 1.0,
        under: Miss::FireAgain,
        over: Miss::Lost,
        usual_hours: 5.0,
        cautions: &[FUMES, EYES, GAS],
    },
    Row {
        name: "earthenware bisque",
        cone: "04",
        under_cones: 1.0,
        over_cones: 1.0,
        under: Miss::FireAgain,
        over: Miss::Lost,
        usual_hours: 10.0,
        cautions: &[DAMP, EYES, GAS],
    },
    Row {
        name: "earthenware glaze",
        cone: "06",
        under_cones: 0.7,
        over_cones: 1.0,
        under: Miss::FireAgain,
        over: Miss::Lost,
        usual_hours: 8.0,
        cautions: &[EYES, GAS],
    },
    Row {
        name: "stoneware bisque",
        cone: "06",
        under_cones: 1.0,
        over_cones: 2.0,
        under: Miss::FireAgain,
        over: Miss::Lost,
        usual_hours: 10.0,
        cautions: &[DAMP, EYES, GAS],
    },
    Row {
        name: "stoneware glaze",
        cone: "6",
        under_cones: 0.7,
        over_cones: 1.0,
        under: Miss::FireAgain,
        over: Miss::Lost,
        usual_hours: 9.0,
        cautions: &[EYES, GAS],
    },
    Row {
        name: "porcelain glaze",
        cone: "9",
        under_cones: 0.5,
        over_cones: 1.0,
        under: Miss::FireAgain,
        over: Miss::Lost,
        usual_hours: 11.0,
        cautions: &[EYES, GAS],
    },
    Row {
        name: "body test",
        cone: "1",
        under_cones: 1.0,
        over_cones: 1.0,
        under: Miss::FireAgain,
        over: Miss::FireAgain,
        usual_hours: 9.0,
        cautions: &[DAMP, EYES, GAS],
    },
];

/// Whether a load type still has the usual length it came with here, so that nobody of the shop has
/// said how long it takes.
pub fn has_its_length(load: &LoadType) -> bool {
    let row = ROWS.iter().find(|row| super::same_name(row.name, &load.name));
    row.is_some_and(|row| load.usual_length == Some(Span::from_hours(row.usual_hours)))
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
            under: row.under,
            over: row.over,
            usual_length: Some(Span::from_hours(row.usual_hours)),
            cautions: row.cautions.iter().map(|caution| (*caution).into()).collect(),
        })
        .collect()
}
