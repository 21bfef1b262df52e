//! `spyhole cone`, through the built program.

use crate::program::{json, spyhole};
use approx::assert_abs_diff_eq;

/// Orton wall chart, 2016: self-supporting cone 018 at 150 C/h ends at 734 C.
#[test]
fn published_cone_018_at_150_c_per_h() {
    let answer = json(&["cone", "018", "--rate", "150C/h", "--json"]);
    assert_eq!(answer["cone"], "018");
    assert_eq!(answer["family"], "self-supporting");
    assert_eq!(answer["rate_c_per_h"], 150.0);
    assert_eq!(answer["end_c"], 734.0);
    assert_eq!(answer["end_f"], 1353.0);
    assert_eq!(answer["basis"], "published");
}

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
fn law_every_basis_is_named() {
    let basis = |args: &[&str]| json(args)["basis"].clone();
    assert_eq!(basis(&["cone", "018", "--rate", "15C/h", "--json"]), "published");
    assert_eq!(basis(&["cone", "018", "--rate", "400C/h", "--json"]), "extrapolated");
    assert_eq!(
        basis(&["cone", "6", "--rate", "60C/h", "--family", "small", "--json"]),
        "estimated"
    );
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

/// 06 and 6 are 224 C apart at 60 C/h (chart: 998 and 1222 C); the answer warns of the twin.
#[test]
fn published_the_zero_twin_is_named() {
    let run = spyhole(&["cone", "6", "--rate", "60C/h"]);
    assert!(run.out.contains("1222 C"), "{}", run.out);
    assert!(run.out.contains("cone 06 is another cone, down at 998 C"), "{}", run.out);
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
