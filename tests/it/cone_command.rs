//! `spyhole cone`, through the built program.

use crate::prelude::*;
use crate::program::{json, spyhole};

/// Between the chart's 715 C at 60 C/h and 734 C at 150 C/h.
#[test]
fn published_rates_enclose_an_interpolated_one() {
    let answer = json(&["cone", "018", "--rate", "100C/h", "--json"]);
    let end = answer["end_c"].as_f64().unwrap();
    assert!((715.0..734.0).contains(&end), "{end}");
    assert_eq!(answer["basis"], "interpolated");
}

/// The chart's 1353 F at 270 F/h, within 3 F.
#[test]
fn published_cone_018_ends_near_1350_f() {
    let answer = json(&["cone", "--at", "1350F", "--rate", "270F/h", "--json"]);
    let cones = answer["cones"].as_array().unwrap();
    assert_eq!(cones.len(), 38, "every self-supporting cone is answered");
    let cone = cones.iter().find(|cone| cone["cone"] == "018").unwrap();
    assert_abs_diff_eq!(cone["end_f"].as_f64().unwrap(), 1350.0, epsilon = 3.0);
    assert!((0.9..=1.0).contains(&cone["heat_work"].as_f64().unwrap()));
    assert!((70.0..=90.0).contains(&cone["lean_deg"].as_f64().unwrap()));
    assert_eq!(answer["cone_equivalent"], "019 and 0.9 of the way to 018");
}

#[test]
fn law_names_of_one_cone_give_one_answer() {
    for group in [
        &["05½", "05.5", "05 1/2", "cone 05.5", "^05,5"][..],
        &["5½", "5.5", "Δ5.5"],
        &["^6", "cone 6", "6", "Cone6", "6.0"],
        &["018", "Δ018", " ^018 "],
    ] {
        let answers: Vec<String> =
            group.iter().map(|name| spyhole(&["cone", name, "--rate", "60C/h"]).out).collect();
        assert!(answers.windows(2).all(|pair| pair[0] == pair[1]), "{group:?}: {answers:#?}");
    }
}

#[test]
fn law_the_whole_chart_is_listed() {
    let chart = json(&["cone", "--json"]);
    let mut count = chart["rows"].as_array().unwrap().len();
    for family in ["large", "small", "self-supporting iron-free", "large iron-free"] {
        count += json(&["cone", "--family", family, "--json"])["rows"].as_array().unwrap().len();
    }
    assert_eq!(count, 279);
}
