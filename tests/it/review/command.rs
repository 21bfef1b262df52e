//! `spyhole review` on a shop of made-up firings: every table, every number explained, nothing
//! changed until it is accepted.

use super::made::{Making, gold, judged, kiln, packed};
use crate::prelude::*;
use crate::program::{Run, spyhole};

/// Writes a shop of `count` firings of North with gold, its probe 8 C high.
fn shop(path: &Path, count: i64) {
    let mut journal = Journal::open(path).unwrap();
    let start = Moment(1_735_700_000_000);
    let put = |journal: &mut Journal, firing: Option<FiringId>, at: Moment, what: What| {
        let event = NewEvent::new(firing, at, Who::Person("Kim".into()), what);
        journal.append(&event, at).unwrap().firing
    };
    put(&mut journal, None, start, What::KilnSet(kiln("North", Fuel::Gas)));
    put(&mut journal, None, start, What::LoadTypeSet(gold(0.5, 0.5)));
    for n in 0..count {
        let making = Making {
            lit: start + Span::hours(48 * n + 1),
            climb: 150.0 + (n % 3) as f64,
            probe_high: 8.0,
            looks_every_min: 3,
            every_min: 10,
            seed: n as u64,
            ..Making::default()
        };
        let shelves = [("top", "017", Seen::Half), ("floor", "018", Seen::Down)];
        let verdict = if n % 6 == 5 { Verdict::Over } else { Verdict::Good };
        let firing = judged(packed(making.firing(), 40, 300.0), verdict, &shelves);
        let (lit, off) = (firing.lit.unwrap(), firing.off.unwrap());
        let packing = firing.packing.clone().unwrap();
        let id = put(&mut journal, None, lit - Span::minutes(30), What::Packed(packing));
        let begin = lit_with("North", "gold", firing.pack.unwrap());
        put(&mut journal, id, lit, What::Lit(begin));
        for (at, t) in &firing.readings {
            put(&mut journal, id, *at, What::Reading(*t));
        }
        for Looked { at, look, .. } in &firing.looks {
            put(&mut journal, id, *at, What::Look(*look));
        }
        put(&mut journal, id, off, What::Off);
        put(&mut journal, id, off + Span::hours(11), What::Drawn);
        let (at, outcome) = firing.outcome.unwrap();
        put(&mut journal, id, at, What::Outcome(outcome));
    }
}

fn review(path: &Path, args: &[&str]) -> Run {
    let shop = path.to_str().unwrap();
    spyhole(&[&["--shop", shop, "review"], args].concat())
}

fn json(path: &Path, args: &[&str]) -> Value {
    let run = review(path, &[args, &["--json", "--explain"]].concat());
    assert_eq!(run.code, 0, "{args:?}: {}", run.err);
    serde_json::from_str(&run.out).unwrap()
}

#[test]
fn law_every_table_explains_every_row() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shop.spyhole");
    shop(&path, 14);
    for args in [
        &["all"][..],
        &["outcomes"],
        &["outcomes", "--by", "month"],
        &["drift"],
        &["tolerance"],
        &["evenness"],
        &["cost"],
        &["firing", "3"],
        &["near", "3"],
    ] {
        let answer = json(&path, args);
        let tables = answer["tables"].as_array().unwrap();
        let rows: Vec<&Value> =
            tables.iter().flat_map(|table| table["rows"].as_array().unwrap()).collect();
        assert!(!rows.is_empty(), "{args:?}");
        for row in rows {
            assert!(row["formula"].as_str().unwrap().len() > 10, "{args:?}: {row}");
            assert!(row["firings"].is_array(), "{args:?}: {row}");
        }
        let text = review(&path, &[args, &["--explain"]].concat());
        assert!(text.out.contains("firings: "), "{}", text.out);
        let csv = review(&path, &[args, &["--csv"]].concat()).out;
        let columns = csv.lines().next().unwrap().split(',').count();
        let read = csv::Reader::from_reader(csv.as_bytes()).records().next().unwrap().unwrap();
        assert_eq!(read.len(), columns, "{args:?}: {csv}");
    }
    let answer = json(&path, &["outcomes"]);
    let row = &answer["tables"][0]["rows"][0];
    assert_eq!((&row["load"], &row["good"], &row["over"]), (&"gold".into(), &12.into(), &2.into()));
    assert_eq!(row["firings"].as_array().unwrap().len(), 14);
    // A period: the days of the first five firings.
    let answer = json(&path, &["outcomes", "--until", "2025-01-09"]);
    let counted = answer["tables"][0]["rows"][0]["firings"].as_array().unwrap().len();
    assert!((4..=5).contains(&counted), "{counted}");
    assert!(review(&path, &["outcomes", "--until", "2025-01-09"]).out.contains("too few to say"));
}

#[test]
fn law_a_suggestion_holds_only_once_accepted_and_can_be_taken_back() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shop.spyhole");
    shop(&path, 10);
    let high = |args: &[&str]| json(&path, args)["tables"][1]["rows"][0]["reads_high_c"].clone();
    let before = high(&["drift"]).as_f64().unwrap();
    assert_abs_diff_eq!(before, 8.0, epsilon = 2.0);
    let said = review(&path, &["drift"]).out;
    assert!(said.contains("spyhole review accept probe \"North\""), "{said}");
    assert_eq!(high(&["drift"]).as_f64().unwrap(), before, "looking changes nothing");
    let run = review(&path, &["accept", "probe", "north", "--json"]);
    assert_eq!(run.code, 0, "{}", run.err);
    let answer: Value = serde_json::from_str(&run.out).unwrap();
    let add = answer["accepted"]["add_c"].as_f64().unwrap();
    assert!((-10.0..=-6.0).contains(&add), "{answer}");
    assert_eq!(answer["accepted"]["firings"].as_array().unwrap().len(), 10);
    let journal = Journal::open(&path).unwrap();
    let now = Moment(4_000_000_000_000);
    assert_eq!(journal.shop().unwrap().corrections.at("North", now), add);
    // The firings were before it, so their own numbers stay.
    assert_eq!(high(&["drift"]).as_f64().unwrap(), before);
    let strike = spyhole(&[
        "--shop",
        path.to_str().unwrap(),
        "strike",
        &answer["event_id"].to_string(),
        "--reason",
        "not yet",
    ]);
    assert_eq!(strike.code, 0, "{}", strike.err);
    assert_eq!(journal.shop().unwrap().corrections.at("North", now), 0.0);
    let none = review(&path, &["accept", "tolerance", "gold"]);
    assert_eq!(none.code, 2, "{}", none.out);
    assert!(none.err.contains("suggests no change"), "{}", none.err);
}

#[test]
fn law_cards_charts_and_schedules_are_written() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shop.spyhole");
    shop(&path, 4);
    let file = |name: &str| folder.path().join(name).display().to_string();
    assert_eq!(review(&path, &["card", "2", &file("card.svg")]).code, 0);
    let card = fs::read_to_string(file("card.svg")).unwrap();
    assert!(card.starts_with("<svg") && card.contains("gold in North"), "{card}");
    assert!(!card.contains("pale: "), "one firing before is no usual course");
    assert_eq!(review(&path, &["card", "4", &file("card.svg"), "--replace"]).code, 0);
    let card = fs::read_to_string(file("card.svg")).unwrap();
    assert!(card.contains("pale: the usual course of the 3 firings before"), "{card}");
    assert_eq!(
        review(&path, &["card", "4", &file("card.svg"), "--over", "1", "--replace"]).code,
        0
    );
    assert!(fs::read_to_string(file("card.svg")).unwrap().contains("pale: firing 1"));
    assert_eq!(review(&path, &["card", "4", &file("card.HTML")]).code, 0);
    let page = fs::read_to_string(file("card.HTML")).unwrap();
    assert!(page.starts_with("<!DOCTYPE html>") && page.contains("<h1>North: gold</h1>"), "{page}");
    let run = review(&path, &["drift", "--picture", &file("drift.svg")]);
    assert_eq!(run.code, 0, "{}", run.err);
    assert!(fs::read_to_string(file("drift-2.svg")).unwrap().starts_with("<svg"));
    let run = review(&path, &["outcomes", "--picture", &file("outcomes.svg")]);
    assert_eq!(run.code, 0, "{}", run.err);
    assert!(fs::read_to_string(file("outcomes.svg")).unwrap().contains(">too few<"));
    let run =
        review(&path, &["repeat", "2", "--ware", "lustre and gold", "--file", &file("r.json")]);
    assert_eq!(run.code, 0, "{}", run.err);
    let schedule = fs::read_to_string(file("r.json")).unwrap();
    let schedule = schedule_file::from_json(&schedule).unwrap();
    assert!(schedule.segments.len() <= 4, "{schedule:?}");
    for (args, says) in [
        (&["card", "2", "card.png"][..], "ends in neither .html nor .svg"),
        (&["drift", "--picture", "drift.pdf"], "does not end in .svg"),
        (&["card", "99", "card.svg"], "99"),
        (&["repeat", "2", "--ware", "decals", "--within", "1"], "2 to 60 C"),
        (&["outcomes", "--kiln", "Nort"], "North"),
        (&["outcomes", "--since", "2025-02-01", "--until", "2025-01-01"], "no day is in between"),
        (&["outcomes", "--by", "moon"], "load, kiln, schedule, season, month"),
    ] {
        let run = review(&path, args);
        assert_eq!(run.code, 2, "{args:?}: {}", run.out);
        assert!(run.err.contains(says), "{args:?}: {}", run.err);
    }
}

#[test]
fn law_prices_are_read_from_the_list_beside_the_shop() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shop.spyhole");
    shop(&path, 3);
    assert!(review(&path, &["cost"]).out.contains("There is no list of prices"));
    let list = folder.path().join("shop.prices.csv");
    let good = "from,what,of,value,unit\n2020-01-01,cone,,0.5,\n2025-01-03,cone,,2,\n";
    fs::write(&list, good).unwrap();
    let rows = json(&path, &["cost"])["tables"][0]["rows"].clone();
    // Three cones each: the first firing at the old price, two at the new one.
    assert_eq!(rows[0]["cones"], 1.5 + 6.0 + 6.0, "{rows}");
    for (line, says) in [
        ("2025-13-01,cone,,1,", "line 2: \"2025-13-01\" is no day"),
        ("2025-01-01,bread,,1,", "\"bread\" is nothing that has a price here"),
        ("2025-01-01,duty,East,60,", "not a number from 0 to 1"),
        ("2025-01-01,draw,East,11,", "needs its unit"),
    ] {
        fs::write(&list, format!("from,what,of,value,unit\n{line}\n")).unwrap();
        let run = review(&path, &["cost"]);
        assert_eq!(run.code, 2);
        assert!(run.err.contains(says), "{line}: {}", run.err);
    }
}

/// The forecast says that it has to learn the new probe, and the review that its chart begins anew.
#[test]
fn law_a_changed_probe_is_told_by_review_and_advice() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shop.spyhole");
    shop(&path, 10);
    let at = |args: &[&str]| {
        let run = spyhole(&[&["--shop", path.to_str().unwrap()], args].concat());
        assert_eq!(run.code, 0, "{args:?}: {}", run.err);
        run.out
    };
    at(&["review", "accept", "probe", "North"]);
    let record = folder.path().join("today.jsonl");
    let mut lines = vec![r#"{"at": "2025-01-25T08:00:00Z", "event": "lit", "kiln": "North", "load_type": "gold", "cone": "018", "cone_family": "self-supporting", "guide": "019"}"#.to_owned()];
    lines.extend((1..9).map(|nth| {
        let celsius = 20 + 50 * nth;
        let time = format!("2025-01-25T{:02}:{:02}:00Z", 8 + nth / 3, nth % 3 * 20);
        format!(r#"{{"at": "{time}", "event": "reading", "celsius": {celsius}}}"#)
    }));
    fs::write(&record, lines.join("\n")).unwrap();
    let advise = ["advise", record.to_str().unwrap(), "--at", "2025-01-25T10:41:00Z", "--explain"];
    let said = at(&advise);
    assert!(said.contains("10 past firings") && !said.contains("probe changed"), "{said}");
    at(&["probe-changed", "North", "--at", "2025-01-23T12:00:00+00:00"]);
    let told = at(&advise);
    assert!(told.contains("a probe changed on 2025-01-23 (its error is learned again)"), "{told}");
    let drift = at(&["review", "drift"]);
    let remark =
        "The probe on North was changed or moved on 2025-01-23; its error is learned again.";
    assert!(drift.contains(remark) && !drift.contains("review accept probe"), "{drift}");
    at(&["review", "drift", "--picture", folder.path().join("drift.svg").to_str().unwrap()]);
}
