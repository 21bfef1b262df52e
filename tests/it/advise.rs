//! `spyhole advise`, through the built program, on records of made-up firings.

use std::iter;

use chrono::{DateTime, FixedOffset, TimeDelta};

use crate::prelude::*;
use crate::program::{Run, command, finish};

/// The first line of every record here: a gold firing lit at nine.
const LIT: &str = r#"{"at":"2026-03-14T09:00:00+01:00","event":"lit","kiln":"North","load_type":"gold","cone":"018","guide":"019","guard":"017","cone_family":"self-supporting"}"#;

/// A record, and a folder of its own to keep it in; the shop's file in it does not exist.
struct Record {
    folder: TempDir,
}

impl Record {
    fn of(lines: &[String]) -> Record {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("record.jsonl"), lines.join("\n")).unwrap();
        Record { folder }
    }

    fn path(&self) -> PathBuf {
        self.folder.path().join("record.jsonl")
    }

    fn run(&self, args: &[&str]) -> Run {
        let shop = self.folder.path().join("shop.db");
        let run =
            finish(command().arg("advise").arg(self.path()).args(args).env("SPYHOLE_SHOP", &shop));
        assert!(!shop.exists(), "asking for advice began a shop");
        run
    }

    fn json(&self, at: &str) -> Value {
        serde_json::from_str(&self.run(&["--at", at, "--json"]).ok()).unwrap()
    }
}

fn at(hour: u32, minute: u32) -> String {
    format!("2026-03-14T{hour:02}:{minute:02}:00+01:00")
}

fn reading(hour: u32, minute: u32, celsius: f64) -> String {
    let at = at(hour, minute);
    format!(r#"{{"at":"{at}","event":"reading","celsius":{celsius}}}"#)
}

fn time(value: &Value) -> DateTime<FixedOffset> {
    DateTime::parse_from_rfc3339(value.as_str().unwrap()).unwrap()
}

/// Read every quarter of an hour along a climb of 150 C/h that stands at `last_c` at `hour:00`.
fn climbing(hour: u32, last_c: f64) -> Vec<String> {
    let mut lines = vec![LIT.to_owned()];
    for quarter in (0..12).rev() {
        let minutes = hour * 60 - quarter * 15;
        let celsius = last_c - 150.0 * f64::from(quarter) / 4.0;
        lines.push(reading(minutes / 60, minutes % 60, celsius));
    }
    lines
}

/// Lit at nine and read 40,000 times until one, along a climb of 150 C/h to 659 C with some noise.
fn dense() -> Vec<String> {
    let lit = DateTime::parse_from_rfc3339(&at(9, 0)).unwrap();
    let reading = |count: i32| {
        let at = (lit + TimeDelta::milliseconds(360 * i64::from(count))).to_rfc3339();
        let noise = f64::from(count * 7_919 % 33 - 16) / 20.0;
        let celsius = 59.0 + 600.0 * f64::from(count) / 40_000.0 + noise;
        format!(r#"{{"at":"{at}","event":"reading","celsius":{celsius:.2}}}"#)
    };
    iter::once(LIT.to_owned()).chain((1..=40_000).map(reading)).collect()
}

/// Readings three times a second say no more of the drop than one in a minute and a bit.
#[test]
fn law_a_dense_record_says_what_is_said_of_it_thinned() {
    let dense = dense();
    let thinned: Vec<String> = dense.iter().step_by(200).cloned().collect();
    assert_eq!(thinned.len(), 201);
    let [dense, thinned] = [dense, thinned].map(|lines| Record::of(&lines).json(&at(13, 0)));
    assert_eq!(dense["say"], thinned["say"]);
    for (key, within_minutes) in [("p05", 2), ("p50", 1), ("p95", 2), ("next_look", 2)] {
        let apart = (time(&dense[key]) - time(&thinned[key])).abs();
        assert!(apart <= TimeDelta::minutes(within_minutes), "{key}: {dense:#} {thinned:#}");
    }
}

#[test]
fn law_a_dense_record_in_another_order_with_a_slip_struck_says_the_same() {
    let mut lines = dense();
    let answer = Record::of(&lines).json(&at(13, 0));
    lines.rotate_left(12_345);
    let half_past = at(10, 30);
    let slip = format!(r#"{{"id":90001,"at":"{half_past}","event":"reading","celsius":1200}}"#);
    let strike = format!(r#"{{"id":90002,"at":"{half_past}","event":"struck","struck":90001}}"#);
    lines.extend([strike, slip]);
    assert_eq!(Record::of(&lines).json(&at(13, 0)), answer);
}

/// An export of the whole shop describes its kilns and load types too: they are no firing.
#[test]
fn regress_kilns_and_load_types_in_a_record_are_no_second_firing() {
    let mut lines = climbing(13, 659.0);
    for line in &mut lines {
        line.insert_str(1, r#""firing":1,"#);
    }
    let alone = Record::of(&lines).json(&at(13, 0));
    let kiln = r#"{"at":"2026-03-14T08:00:00+01:00","event":"kiln","name":"South","fuel":"gas"}"#;
    lines.insert(0, kiln.to_owned());
    assert_eq!(Record::of(&lines).json(&at(13, 0)), alone);
}

/// At 150 C/h the chart ends cone 018 at 734 C: read at 659 C, the drop is half an hour away.
#[test]
fn published_a_steady_climb_drops_where_the_chart_says() {
    let advice = Record::of(&climbing(13, 659.0)).json(&at(13, 0));
    let (p05, p50, p95) = (time(&advice["p05"]), time(&advice["p50"]), time(&advice["p95"]));
    assert!(p05 < p50 && p50 < p95, "{advice:#}");
    let chart = DateTime::parse_from_rfc3339(&at(13, 30)).unwrap();
    let off_by_minutes = (p50 - chart).num_minutes().abs();
    assert!(off_by_minutes <= 8, "the median is {off_by_minutes} minutes off the chart's");
    assert!(p05 < chart && chart < p95, "{advice:#}");
    let width_minutes = (p95 - p05).num_minutes();
    assert!((4..=60).contains(&width_minutes), "a window of {width_minutes} minutes");
    assert!(time(&advice["watch_opens"]) <= p05, "{advice:#}");
    assert!(time(&advice["next_look"]) < p95, "{advice:#}");
    let lean = |role: &str| {
        let cones = advice["cones"].as_array().unwrap();
        cones.iter().find(|cone| cone["role"] == role).unwrap()["lean_deg"].as_f64().unwrap()
    };
    assert!(lean("guide") > lean("target") && lean("target") >= lean("guard"), "{advice:#}");
}

#[test]
fn law_a_target_seen_down_says_shut_off() {
    let mut lines = climbing(13, 734.0);
    let seen = at(13, 1);
    lines.push(format!(r#"{{"at":"{seen}","event":"look","target":"down","guide":"down"}}"#));
    let record = Record::of(&lines);
    let advice = record.json(&at(13, 5));
    assert_eq!(advice["say"], "shut_off");
    assert_eq!(advice["overshoot_min"], 4.0);
    assert!(advice["sentence"].as_str().unwrap().starts_with("Shut off North now"), "{advice:#}");
    // As of a minute before the look, nobody knows that yet.
    assert_ne!(record.json(&at(13, 0))["say"], "shut_off");
}

#[test]
fn law_past_firings_sharpen_the_clock() {
    let record = Record::of(&[LIT.to_owned()]);
    let width = |advice: &Value| (time(&advice["p95"]) - time(&advice["p05"])).num_minutes();
    let alone = record.json(&at(9, 30));
    let history = tempfile::tempdir().unwrap();
    for day in 1..=10 {
        let then = |minute: i32, what: &str| {
            format!(r#"{{"at":"2026-02-{day:02}T13:{minute:02}:00+01:00","event":{what}}}"#)
        };
        let past = [
            LIT.replace("03-14", &format!("02-{day:02}")),
            then(day * 2, r#""look","target":"half""#),
            then(day * 2 + 5, r#""look","target":"down""#),
            then(day * 2 + 6, r#""off""#),
        ];
        fs::write(history.path().join(format!("{day}.jsonl")), past.join("\n")).unwrap();
    }
    let history = history.path().to_str().unwrap();
    let said = record.run(&["--history", history, "--at", &at(9, 30), "--json"]).ok();
    let learned: Value = serde_json::from_str(&said).unwrap();
    assert!(width(&learned) < width(&alone), "{alone:#} {learned:#}");
    let p50 = time(&learned["p50"]);
    let usual = DateTime::parse_from_rfc3339(&at(13, 14)).unwrap();
    assert!((p50 - usual).num_minutes().abs() <= 25, "{learned:#}");
}

#[test]
fn law_a_record_long_over_is_answered_as_it_stood() {
    let run = Record::of(&climbing(13, 659.0)).run(&["--json"]);
    let advice: Value = serde_json::from_str(&run.out).unwrap();
    assert_eq!(time(&advice["at"]).timestamp(), time(&Value::from(at(13, 0))).timestamp());
}

/// Lit by a schedule that is no longer there: what it said then is in the record.
#[test]
fn law_the_plan_it_was_lit_by_counts_and_not_what_became_of_the_schedule() {
    let named = LIT.replace("}", r#","schedule":"since thrown away"}"#);
    let planned = named.replace("}", r#","plan":[[0,20],[300,740]]}"#);
    let asked = |lit: &str| Record::of(&[lit.to_owned()]).json(&at(9, 30));
    let (without, with) = (asked(&named), asked(&planned));
    let rests_on = |advice: &Value| advice["rests_on"].as_str().unwrap_or_default().to_owned();
    assert!(!rests_on(&without).contains("since thrown away"), "{without:#}");
    assert!(rests_on(&with).contains("the schedule since thrown away"), "{with:#}");
    // The plan reaches its top five hours after nine.
    let top = DateTime::parse_from_rfc3339(&at(14, 0)).unwrap();
    assert!((time(&with["p50"]) - top).num_minutes().abs() <= 30, "{with:#}");
}

#[test]
fn law_what_it_rests_on_is_said_when_asked() {
    let run = Record::of(&climbing(13, 659.0)).run(&["--at", &at(13, 0), "--explain"]);
    assert!(run.out.contains("rests on") && run.out.contains("12 readings"), "{}", run.out);
}

#[test]
fn law_a_turn_of_the_burner_counts_and_is_named() {
    let median = |record: &Record| time(&record.json(&at(13, 2))["p50"]);
    let mut lines = climbing(13, 659.0);
    let untouched = median(&Record::of(&lines));
    for (minute, to) in [(0, "half"), (1, "60 %")] {
        let at = at(13, minute);
        lines.push(format!(r#"{{"at":"{at}","event":"turned","to":"{to}"}}"#));
    }
    let turned = Record::of(&lines);
    let run = turned.run(&["--at", &at(13, 2), "--explain"]);
    let said = run.ok();
    assert!(said.contains("the burner or switch was turned 2 times, the last up at "), "{said}");
    assert!(median(&turned) < untouched, "turned up, it drops sooner");
}

#[test]
fn law_a_record_that_cannot_be_used_is_named_with_its_lines() {
    let bad = Record::of(&[
        LIT.replace("kiln", "kilm"),
        r#"{"at":"2026-03-14T10:00:00+01:00","event":"redding","celsius":500}"#.into(),
    ]);
    let said = bad.run(&[]).refused();
    assert!(said.contains("line 1: key \"kiln\""), "{said}");
    assert!(said.contains("line 2: ") && said.contains("\"reading\""), "{said}");
    let of = |number: i32| LIT.replace("\"event\"", &format!("\"firing\":{number},\"event\""));
    for (lines, how, says) in [
        (vec![of(1), of(2)], &[][..], "tells of 2 firings, and advice is for one"),
        (vec![LIT.into()], &["--at", &at(8, 0)], "has no event up to"),
        (vec![reading(10, 0, 500.0)], &[], "never says \"lit\" or \"packed\""),
    ] {
        let said = Record::of(&lines).run(how).refused();
        assert!(said.contains(says), "{said}");
    }
}

#[test]
fn law_bad_lines_deep_in_a_long_record_are_named() {
    let mut lines = dense();
    lines[31_233] = lines[31_233].replace("celsius", "celcius");
    lines[39_998].truncate(20);
    let said = Record::of(&lines).run(&[]).refused();
    assert!(said.contains("line 31234: key \"celsius\" is missing"), "{said}");
    assert!(said.contains("line 39999: this is not JSON"), "{said}");
    assert_eq!(said.matches("line ").count(), 2, "{said}");
}

/// An hour on and nobody has looked: nobody is told that the target may go down soon.
#[test]
fn a_drop_long_past_is_said_to_be_past() {
    let record = Record::of(&climbing(13, 659.0));
    let advice = record.json(&at(14, 30));
    let sentence = advice["sentence"].as_str().unwrap();
    assert!(advice["say"] == "look" || advice["say"] == "stay", "{advice:#}");
    let begins = "Look at North now: its target most likely went down at";
    assert!(sentence.starts_with(begins), "{sentence}");
    let down = time(&advice["p50"]);
    assert!(sentence.contains(&down.format("%-H:%M").to_string()), "{sentence}");
    let due = record.json(&at(13, 29));
    assert!(!due["sentence"].as_str().unwrap().contains("went down"), "{due:#}");
}

/// A target that leans is minutes from its end point at ordinary rates (the maker of the cones says
/// 15 to 25 minutes from the first lean): no reading and no usual length puts the next look off.
#[test]
fn published_a_leaning_target_is_looked_at_again_within_minutes() {
    for last_c in [400.0, 560.0, 612.0] {
        for (target, within) in [("leaning", 15), ("half", 10)] {
            let mut lines = climbing(13, last_c);
            let look = at(13, 0);
            lines.push(format!(
                r#"{{"at":"{look}","event":"look","guide":"down","target":"{target}"}}"#
            ));
            let advice = Record::of(&lines).json(&at(13, 1));
            let next = time(&advice["next_look"]) - DateTime::parse_from_rfc3339(&look).unwrap();
            assert!(next.num_minutes() <= within, "{target} at {last_c} C: {advice:#}");
        }
    }
}

/// 72.5 was meant.
#[test]
fn law_a_first_number_that_was_mistyped_is_named() {
    let mut lines = vec![LIT.to_owned(), reading(9, 30, 725.0)];
    lines.extend([reading(10, 0, 150.0), reading(10, 30, 230.0), reading(11, 0, 310.0)]);
    let record = Record::of(&lines);
    let named = |line: &str| line.starts_with("Not believed: 725 C at ");
    for now in [at(9, 31), at(10, 1), at(11, 1)] {
        let json = record.json(&now);
        assert!(json["not_believed"].as_str().is_some_and(named), "{now}: {json}");
        let said = record.run(&["--at", &now]).ok();
        assert!(said.lines().any(named), "{said}");
    }
}
