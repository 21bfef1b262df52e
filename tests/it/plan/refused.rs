//! Instances and plans that are refused, each with one clear error.

use super::{asked, path, text};
use crate::prelude::*;
use crate::program::spyhole;
use spyhole::testing::edge::plan_file;

/// What is written in the place of what, and what the error says.
const REFUSED: [(&str, &str, &str); 24] = [
    ("\"plan_instance\": 1", "\"plan_instance\": 2", "plan_instance is 2"),
    ("\"last_drop_by\"", "\"last_drop\"", "unknown key \"last_drop\""),
    ("\"room_l\": 100", "\"room_litres\": 100", "unknown key \"room_litres\""),
    ("\"room_l\": 100", "\"room_l\": -100", "kilns 1.room_l is -100, not a number from 0.1"),
    ("\"room_l\": 100", "\"room_l\": 1e999", "number out of range"),
    ("\"room_l\": 100", "\"room_l\": \"100\"", "a number"),
    ("\"kiln\": \"Heron\"", "\"kiln\": \"North\"", "kilns: \"North\" is there twice"),
    ("\"id\": \"B02\"", "\"id\": \"B01\"", "batches: \"B01\" is there twice"),
    ("\"after\": \"B02\"", "\"after\": \"B99\"", "batches 3: \"B99\" is not among the batches"),
    (
        "\"after\": \"B02\"",
        "\"after\": \"B03\"",
        "batches 3 has an \"after\" that leads back to itself",
    ),
    ("\"bench_min\": 210,", "", "batches 3 has only one of after and bench_min"),
    (
        "\"load_type\": \"gold\",\n   \"pieces\": 24",
        "\"load_type\": \"golf\",\n   \"pieces\": 24",
        "batches 1: \"golf\" is not among the load types",
    ),
    ("2026-03-03T07:00:00+01:00", "2026-03-03T07:00:00", "no time with date and offset"),
    ("2026-03-03T12:00:00+01:00", "2026-03-03T07:30:00+01:00", "not after its \"from\""),
    (
        "2026-03-04T20:00:00+01:00",
        "2026-03-02T20:00:00+01:00",
        "last_drop_by is 2026-03-02T20:00:00+01:00, before now",
    ),
    ("2026-03-04T20:00:00+01:00", "2036-03-04T20:00:00+01:00", "more than two months from now"),
    ("\"p05\": 557", "\"p05\": 657", "which does not rise from p05 over p50 to p95"),
    ("\"gas_eur\": 12.0", "\"gas_eur\": 12.0, \"energy_kwh\": 30", "either gas_eur or energy_kwh"),
    ("\"power_kw\": 4.8", "\"power_kw\": null", "kilns 2 has no power_kw"),
    ("\"fuel\": \"gas\"", "\"fuel\": \"coal\"", "unknown word \"coal\""),
    ("\"pack\",", "\"cook\",", "unknown word \"cook\""),
    ("\"watches_at_once\": 1", "\"watches_at_once\": 2", "limits.watches_at_once is 2"),
    (
        "\"watches_meet_at_most\": 0.05",
        "\"watches_meet_at_most\": 5",
        "limits.watches_meet_at_most is 5, not a number from 0 to 1",
    ),
    ("\"night_from\": \"22:00\"", "\"night_from\": \"25:00\"", "tariff.night_from is \"25:00\""),
];

#[test]
fn law_an_instance_that_cannot_be_is_refused() {
    let good = text("tiny1");
    for (is, becomes, says) in REFUSED {
        assert!(good.contains(is), "{is}");
        let error = plan_file::instance(&good.replacen(is, becomes, 1)).unwrap_err().to_string();
        assert!(error.contains(says), "{becomes}: {error}");
    }
    let list = plan_file::instance(&good.replacen(
        "\"limits\": {",
        "\"limits\": [1, 1, 1, 1, 1, 1], \"tariff\": {",
        1,
    ));
    assert!(list.is_err());
}

#[test]
fn law_an_old_plan_that_cannot_be_is_refused() {
    let (asked, tables) = asked(&text("tiny1"));
    let good = r#"{"plan": 1, "firings": [{"number": 1, "batch_ids": ["B01"], "kiln": "Heron", "load_type": "gold",
        "light_at": "2026-03-03T09:00:00+01:00", "state": "planned"}, {"batch_ids": ["B04"], "kiln": "North",
        "load_type": "glaze", "light_at": "2026-03-04T09:00:00+01:00"}]}"#;
    assert!(plan_file::plan(good, &asked, &tables).unwrap().gone.is_empty());
    for (is, becomes, says) in [
        ("\"plan\": 1", "\"plan\": 3", "plan is 3"),
        ("\"number\": 1", "\"numbers\": 1", "unknown key \"numbers\""),
        ("\"number\": 1", "\"number\": 2", "\"2\" is there twice"),
        ("\"B04\"", "\"B01\"", "\"B01\" is there twice"),
        ("planned", "fired", "unknown word \"fired\""),
        ("planned", "lit", "drop_p05, drop_p50 and drop_p95"),
        ("T09:00:00+01:00", "T9:00", "no time with date and offset"),
    ] {
        let error = plan_file::plan(&good.replacen(is, becomes, 1), &asked, &tables);
        let error = error.unwrap_err().to_string();
        assert!(error.contains(says), "{becomes}: {error}");
    }
    // A kiln that is no more, or a lot, is a reason to plan anew.
    let gone = plan_file::plan(&good.replace("North", "South"), &asked, &tables).unwrap();
    assert_eq!(gone.gone.len(), 1);
    assert_eq!(gone.plan.firings.len(), 1);
}

#[test]
fn law_a_refusal_is_one_line_and_exit_code_2() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("bad.json");
    fs::write(&file, text("tiny1").replacen("\"room_l\": 100", "\"room_l\": -1", 1)).unwrap();
    let file = file.to_str().unwrap();
    for line in [&["plan", "--from", file][..], &["plan", "--from", &path("tiny1"), "--was", file]]
    {
        let run = spyhole(line);
        assert_eq!((run.code, run.out.as_str()), (2, ""), "{}", run.err);
        assert_eq!(run.err.lines().count(), 1, "{}", run.err);
        assert!(run.err.starts_with(&format!("spyhole: {file}: ")), "{}", run.err);
    }
}
