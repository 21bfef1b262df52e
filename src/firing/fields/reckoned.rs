//! The fields of what the program reckons and somebody accepts, or the watch keeps.

use super::{FORGIVES, Field, Of};
use crate::closed::Word;
use crate::firing::mark::{ForecastBy, When};

/// No probe that is still of use is further off, C.
const CORRECTION: Of = Of::Program(-60.0, 60.0);

pub static ACCEPTED: [Field; 6] = [
    field!("kiln" "kiln" Of::Kiln => like("\"North\"", ""); "The kiln whose probe is corrected."),
    field!("add_c" "correction" CORRECTION =>
        needed(), like("-8", ""), within("C to add to every reading");
        "What is added to what the probe of this kiln reads, C."),
    field!("load_type" "load" Of::Program(0.0, 0.0) => needed(), like("\"gold\"", "");
        "The load type whose tolerance is changed."),
    field!("under_cones" "max. under" Of::Cones => like("0.5", ""), within(FORGIVES);
        "How far under the target it forgives from here on, in cones."),
    field!("over_cones" "max. over" Of::Cones => like("0.5", ""), within(FORGIVES);
        "How far over the target it forgives from here on, in cones."),
    field!("firings" "firings" Of::Program(0.0, 0.0) => like("[\"12\", \"15\"]", "");
        "The numbers, as text, of the firings it rests on."),
];

/// From a day before to 30 days after.
const TO_THE_DROP: Of = Of::Program(-1_440.0, 43_200.0);
const AFTER: &str = "minutes from then to the drop, at most 30 days";

pub static MARKED: [Field; 7] = [
    field!("when" "when" Of::Word("when it was kept,", When::NAMES) => needed();
        "When the forecast was kept: `at_lighting`, `hour_before` or `first_look`."),
    field!("forecast_by" "forecast by" Of::Word("what it was forecast by,", ForecastBy::NAMES) =>
        needed();
        "What it was forecast by: `clock`, `one reading` or `readings`."),
    field!("p05_min" "earliest" TO_THE_DROP => needed(), like("195", ""), within(AFTER);
        "Minutes to the drop; one time in twenty it is earlier."),
    field!("p50_min" "middle" TO_THE_DROP => needed(), like("195", ""), within(AFTER);
        "Minutes to the drop; as likely earlier as later."),
    field!("p95_min" "latest" TO_THE_DROP => needed(), like("195", ""), within(AFTER);
        "Minutes to the drop; one time in twenty it is later."),
    field!("width" "width" Of::Program(0.1, 10.0) =>
        needed(), like("1", ""), within("times as wide as reckoned");
        "How many times as wide as reckoned the window was told."),
    field!("lit" "lit" Of::Program(0.0, 0.0) => needed(), like("17", "");
        "The `id` of the `lit` line it was of; a mark whose `lit` is another event is passed over."),
];
