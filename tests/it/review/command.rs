//! `spyhole review` on a shop of made-up firings: every table, every number explained, nothing
//! changed until it is accepted.

use super::history::events;
use super::made::{Making, gold, judged, kiln, packed};
use crate::prelude::*;
use crate::program::{self, Run};

/// A shop of `count` firings of North with gold, its probe 8 C high.
fn shop(count: i64) -> Asked {
    let (folder, path) = shop_file();
    let mut journal = begun(&path);
    let start = Moment(1_735_700_000_000);
    let mut put = |firing: Option<FiringId>, at: Moment, what: What| {
        let event = NewEvent::new(firing, at, Who::Person("Kim".into()), what);
        journal.append(&event, at).unwrap().firing
    };
    put(None, start, What::KilnSet(kiln("North", Fuel::Gas)));
    put(None, start, What::LoadTypeSet(gold(0.5, 0.5)));
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
        let mut id = None;
        for (at, what) in events(&firing) {
            id = put(id, at, what);
        }
    }
    Asked { folder, path }
}

/// A shop that is asked, and its folder.
struct Asked {
    folder: TempDir,
    path: PathBuf,
}

impl Asked {
    /// Runs a line, in which `{}/` is the folder of the shop.
    fn run(&self, line: &str) -> Run {
        let folder = format!("{}/", self.folder.path().display());
        program::at(&self.path, &line.replace("{}/", &folder))
    }

    fn json(&self, line: &str) -> Value {
        let said = self.run(&format!("review {line} --json --explain")).ok();
        serde_json::from_str(&said).unwrap()
    }

    fn read(&self, name: &str) -> String {
        fs::read_to_string(self.folder.path().join(name)).unwrap()
    }

    fn refuses(&self, rows: &[(&str, &str)]) {
        for (line, says) in rows {
            let said = self.run(line).refused();
            assert!(said.contains(says), "{line}: {said}");
        }
    }
}

#[test]
fn law_every_table_explains_every_row() {
    let shop = shop(14);
    let asked = "all|outcomes|outcomes --by month|drift|tolerance|evenness|cost|firing 3|near 3";
    for line in asked.split('|') {
        let answer = shop.json(line);
        let tables = answer["tables"].as_array().unwrap();
        let rows: Vec<&Value> =
            tables.iter().flat_map(|table| table["rows"].as_array().unwrap()).collect();
        assert!(!rows.is_empty(), "{line}");
        for row in rows {
            assert!(row["formula"].as_str().unwrap().len() > 10, "{line}: {row}");
            assert!(row["firings"].is_array(), "{line}: {row}");
        }
        let text = shop.run(&format!("review {line} --explain")).out;
        assert!(text.contains("firings: "), "{text}");
        let csv = shop.run(&format!("review {line} --csv")).out;
        let columns = csv.lines().next().unwrap().split(',').count();
        let read = csv::Reader::from_reader(csv.as_bytes()).records().next().unwrap().unwrap();
        assert_eq!(read.len(), columns, "{line}: {csv}");
    }
    let answer = shop.json("outcomes");
    let row = &answer["tables"][0]["rows"][0];
    assert_eq!((&row["load"], &row["good"], &row["over"]), (&"gold".into(), &12.into(), &2.into()));
    assert_eq!(row["firings"].as_array().unwrap().len(), 14);
    // A period: the days of the first five firings.
    let answer = shop.json("outcomes --until 2025-01-09");
    let counted = answer["tables"][0]["rows"][0]["firings"].as_array().unwrap().len();
    assert!((4..=5).contains(&counted), "{counted}");
    assert!(shop.run("review outcomes --until 2025-01-09").out.contains("too few to say"));
}

#[test]
fn law_a_suggestion_holds_only_once_accepted_and_can_be_taken_back() {
    let shop = shop(10);
    let high = || shop.json("drift")["tables"][1]["rows"][0]["reads_high_c"].as_f64().unwrap();
    let before = high();
    assert_abs_diff_eq!(before, 8.0, epsilon = 2.0);
    let said = shop.run("review drift").out;
    assert!(said.contains("spyhole review accept probe \"North\""), "{said}");
    assert_eq!(high(), before, "looking changes nothing");
    let said = shop.run("review accept probe north --json").ok();
    let answer: Value = serde_json::from_str(&said).unwrap();
    let add = answer["accepted"]["add_c"].as_f64().unwrap();
    assert!((-10.0..=-6.0).contains(&add), "{answer}");
    assert_eq!(answer["accepted"]["firings"].as_array().unwrap().len(), 10);
    let journal = Journal::open(&shop.path).unwrap();
    let now = Moment(4_000_000_000_000);
    assert_eq!(journal.shop().unwrap().corrections.at("North", now), add);
    // The firings were before it, so their own numbers stay.
    assert_eq!(high(), before);
    shop.run(&format!("strike {} --reason 'not yet'", answer["event_id"])).ok();
    assert_eq!(journal.shop().unwrap().corrections.at("North", now), 0.0);
    shop.refuses(&[("review accept tolerance gold", "suggests no change")]);
}

#[test]
fn law_cards_charts_and_schedules_are_written() {
    let shop = shop(4);
    shop.run("review card 2 {}/card.svg").ok();
    let card = shop.read("card.svg");
    assert!(card.starts_with("<svg") && card.contains("gold in North"), "{card}");
    assert!(!card.contains("pale: "), "one firing before is no usual course");
    shop.run("review card 4 {}/card.svg --replace").ok();
    let card = shop.read("card.svg");
    assert!(card.contains("pale: the usual course of the 3 firings before"), "{card}");
    shop.run("review card 4 {}/card.svg --over 1 --replace").ok();
    assert!(shop.read("card.svg").contains("pale: firing 1"));
    shop.run("review card 4 {}/card.HTML").ok();
    let page = shop.read("card.HTML");
    assert!(page.starts_with("<!DOCTYPE html>") && page.contains("<h1>North: gold</h1>"), "{page}");
    shop.run("review drift --picture {}/drift.svg").ok();
    assert!(shop.read("drift-2.svg").starts_with("<svg"));
    shop.run("review outcomes --picture {}/outcomes.svg").ok();
    assert!(shop.read("outcomes.svg").contains(">too few<"));
    shop.run("review repeat 2 --ware 'lustre and gold' --file {}/r.json").ok();
    let schedule = schedule_file::from_json(&shop.read("r.json")).unwrap();
    assert!(schedule.segments.len() <= 4, "{schedule:?}");
    shop.refuses(&[
        ("review card 2 card.png", "ends in neither .html nor .svg"),
        ("review drift --picture drift.pdf", "does not end in .svg"),
        ("review card 99 card.svg", "99"),
        ("review repeat 2 --ware decals --within 1", "2 to 60 C"),
        ("review outcomes --kiln Nort", "North"),
        ("review outcomes --since 2025-02-01 --until 2025-01-01", "no day is in between"),
        ("review outcomes --by moon", "load, kiln, schedule, season, month"),
    ]);
}

#[test]
fn law_prices_are_read_from_the_list_beside_the_shop() {
    let shop = shop(3);
    assert!(shop.run("review cost").out.contains("There is no list of prices"));
    let list = shop.folder.path().join("shop.prices.csv");
    let good = "from,what,of,value,unit\n2020-01-01,cone,,0.5,\n2025-01-03,cone,,2,\n";
    fs::write(&list, good).unwrap();
    let rows = shop.json("cost")["tables"][0]["rows"].clone();
    // Three cones each: the first firing at the old price, two at the new one.
    assert_eq!(rows[0]["cones"], 1.5 + 6.0 + 6.0, "{rows}");
    for (line, says) in [
        ("2025-13-01,cone,,1,", "line 2: \"2025-13-01\" is no day"),
        ("2025-01-01,bread,,1,", "\"bread\" is nothing that has a price here"),
        ("2025-01-01,duty,East,60,", "not a number from 0 to 1"),
        ("2025-01-01,draw,East,11,", "needs its unit"),
    ] {
        fs::write(&list, format!("from,what,of,value,unit\n{line}\n")).unwrap();
        shop.refuses(&[("review cost", says)]);
    }
}

/// The forecast says that it has to learn the new probe, and the review that its chart begins anew.
#[test]
fn law_a_changed_probe_is_told_by_review_and_advice() {
    let shop = shop(10);
    let at = |line: &str| shop.run(line).ok();
    at("review accept probe North");
    let record = shop.folder.path().join("today.jsonl");
    let mut lines = vec![r#"{"at": "2025-01-25T08:00:00Z", "event": "lit", "kiln": "North", "load_type": "gold", "cone": "018", "cone_family": "self-supporting", "guide": "019"}"#.to_owned()];
    lines.extend((1..9).map(|nth| {
        let celsius = 20 + 50 * nth;
        let time = format!("2025-01-25T{:02}:{:02}:00Z", 8 + nth / 3, nth % 3 * 20);
        format!(r#"{{"at": "{time}", "event": "reading", "celsius": {celsius}}}"#)
    }));
    fs::write(&record, lines.join("\n")).unwrap();
    let advise = "advise {}/today.jsonl --at 2025-01-25T10:41:00Z --explain";
    let said = at(advise);
    assert!(said.contains("10 past firings") && !said.contains("probe changed"), "{said}");
    at("probe-changed North --at 2025-01-23T12:00:00+00:00");
    let told = at(advise);
    assert!(told.contains("a probe changed on 2025-01-23 (its error is learned again)"), "{told}");
    let drift = at("review drift");
    let remark =
        "The probe on North was changed or moved on 2025-01-23; its error is learned again.";
    assert!(drift.contains(remark) && !drift.contains("review accept probe"), "{drift}");
    at("review drift --picture {}/drift.svg");
}
