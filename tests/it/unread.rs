//! An event that cannot be read is named on every answer that lacks it.

use rusqlite::Connection;
use spyhole::testing::edge::shop::clock::{SystemClock, Timekeeper};

use crate::journal::{PATIENCE, lit};
use crate::prelude::*;
use crate::program::{Run, spyhole};

/// The event that is garbled.
const LOOK: i64 = 22;
/// The look of the firing that is over.
const PAST_LOOK: i64 = 16;

/// A shop with two kilns alight for hours and a firing that is over; North's target was seen down
/// by the event [`LOOK`], the last one.
struct Shop {
    folder: TempDir,
    now: Moment,
}

impl Shop {
    fn new() -> Shop {
        let shop = Shop { folder: tempfile::tempdir().unwrap(), now: SystemClock.now() };
        for (kiln, fuel) in [("North", "gas"), ("South", "electric")] {
            assert_eq!(shop.run(&["kiln", "add", kiln, "--fuel", fuel]).code, 0);
        }
        let mut journal = Journal::open(&shop.path()).unwrap();
        let before = journal.last_event().unwrap().unwrap().0;
        let ago = |minutes| shop.now - Span::minutes(minutes);
        let outcome = Outcome {
            verdict: Verdict::Good,
            note: String::new(),
            shelves: Vec::new(),
            loss: None,
            counted: Counted::default(),
        };
        let look = |target| {
            What::Look(Look { guide: Some(Seen::Down), target: Some(target), guard: None })
        };
        let written = [
            (None, 1_800, lit("South")),
            (Some(1), 1_560, look(Seen::Down)),
            (Some(1), 1_555, What::Off),
            (Some(1), 900, What::Drawn),
            (Some(1), 890, What::Outcome(outcome)),
            (None, 240, lit("North")),
            (Some(2), 120, What::Reading(Celsius(500.0))),
            (Some(2), 10, look(Seen::Down)),
        ];
        for (firing, minutes, what) in written {
            let who = Who::Person("Ida".into());
            let event = NewEvent::new(firing.map(FiringId), ago(minutes), who, what);
            journal.append_checked(&event, ago(minutes)).unwrap();
        }
        let last = journal.last_event().unwrap().unwrap().0;
        assert_eq!((last, before), (LOOK, LOOK - 8), "the look is the event these tests garble");
        shop
    }

    fn path(&self) -> PathBuf {
        self.folder.path().join("shop.db")
    }

    fn run(&self, line: &[&str]) -> Run {
        let path = self.path();
        let mut args = vec!["--shop", path.to_str().unwrap()];
        args.extend(line);
        spyhole(&args)
    }

    fn json(&self, line: &[&str]) -> Value {
        let run = self.run(&[line, &["--json"]].concat());
        serde_json::from_str(&run.out).unwrap_or_else(|error| panic!("{line:?}: {error}"))
    }

    fn file(&self, name: &str) -> String {
        self.folder.path().join(name).display().to_string()
    }
}

/// What a failing disk does to the fields of an event.
fn garble(path: &Path, event: i64) {
    let raw = Connection::open(path).unwrap();
    raw.execute_batch(
        "DROP TRIGGER events_are_never_changed;
         DROP TRIGGER events_are_never_deleted;",
    )
    .unwrap();
    let sql = "UPDATE events SET body = replace(body, 'a', '?') WHERE id = ?1";
    assert_eq!(raw.execute(sql, [event]).unwrap(), 1);
}

const NAMED: &str = "Event 22 (look, North, firing 2, ";
const LEFT_OUT: &str = ") cannot be read and is left out. Enter it again and take the damaged one back with \"spyhole strike 22 --reason damaged\", or restore a backup: see \"spyhole journal check\".";

fn names(text: &str) -> bool {
    text.contains(NAMED) && text.contains(LEFT_OUT)
}

/// Every command whose answer rests on the look.
fn answers(shop: &Shop) -> Vec<Vec<String>> {
    let words = |line: &[&str]| line.iter().map(|word| (*word).to_owned()).collect::<Vec<_>>();
    let mut record = words(&["advise"]);
    record.push(shop.file("south.jsonl"));
    let mut calendar = words(&["alarms", "--ics"]);
    calendar.push(shop.file("kilns.ics"));
    let mut card = words(&["review", "card", "2"]);
    card.extend([shop.file("card.html"), "--replace".into()]);
    vec![
        words(&["status"]),
        words(&["history", "North"]),
        words(&["ledger"]),
        words(&["alarms"]),
        words(&["alarms", "report"]),
        words(&["review", "all"]),
        words(&["review", "outcomes"]),
        words(&["review", "firing", "2"]),
        words(&["review", "near", "2"]),
        record,
        calendar,
        card,
    ]
}

#[test]
fn law_every_answer_that_lacks_an_event_names_it() {
    let shop = Shop::new();
    let exported = shop.run(&["export", "--firing", "1", "-o", &shop.file("south.jsonl")]);
    assert_eq!(exported.code, 0, "{}", exported.err);
    let answers = answers(&shop);
    for line in &answers {
        let line: Vec<&str> = line.iter().map(String::as_str).collect();
        let run = shop.run(&line);
        assert!(!run.out.contains("cannot be read") && run.err.is_empty(), "{line:?}: {run:?}");
        assert_eq!(shop.json(&line).get("unreadable_events"), None, "{line:?}");
    }
    assert!(shop.run(&["status"]).out.contains("Shut off North now"));
    garble(&shop.path(), LOOK);
    for line in &answers {
        let line: Vec<&str> = line.iter().map(String::as_str).collect();
        let run = shop.run(&line);
        assert_eq!(run.code, 0, "{line:?}: {}", run.err);
        assert!(names(&run.out), "{line:?}: {}", run.out);
        let told = shop.json(&line)["unreadable_events"].clone();
        let [one] = told.as_array().unwrap().as_slice() else { panic!("{line:?}: {told}") };
        assert_eq!(one["event_id"], LOOK);
        assert_eq!(one["event"], "look");
        assert_eq!((&one["kiln"], &one["firing"]), (&"North".into(), &2.into()));
        assert_eq!(one["newer"], false);
        assert!(names(one["say"].as_str().unwrap()));
        let at = chrono::DateTime::parse_from_rfc3339(one["at"].as_str().unwrap()).unwrap();
        assert_eq!(at.timestamp_millis(), (shop.now - Span::minutes(10)).0);
    }
    let card = fs::read_to_string(shop.file("card.html")).unwrap();
    assert!(card.contains(NAMED), "the card itself says so");
    let calendar = fs::read_to_string(shop.file("kilns.ics")).unwrap().replace("\r\n ", "");
    assert!(calendar.contains("Event 22 (look"), "the calendar itself says so: {calendar}");
}

#[test]
fn law_an_answer_that_does_not_rest_on_the_event_is_as_before() {
    let shop = Shop::new();
    let asked: [&[&str]; 7] = [
        &["history", "--firing", "1"],
        &["ledger", "--kiln", "South"],
        &["load-type", "list"],
        &["kiln", "list"],
        &["review", "firing", "1"],
        &["review", "outcomes", "--kiln", "South"],
        &["export", "--kiln", "South"],
    ];
    let before = asked.map(|line| shop.run(line).out);
    garble(&shop.path(), LOOK);
    assert_eq!(asked.map(|line| shop.run(line).out), before);
}

#[test]
fn law_an_export_writes_what_it_can_and_fails_saying_what_it_lacks() {
    let shop = Shop::new();
    let lines = |run: &Run| run.out.lines().count();
    let whole = shop.run(&["export"]);
    garble(&shop.path(), LOOK);
    for (line, fewer) in [(vec!["export"], 1), (vec!["export", "--csv", "ledger"], 0)] {
        let run = shop.run(&line);
        assert_eq!(run.code, 1, "{line:?}");
        assert!(run.err.starts_with("spyhole: Event 22") && names(&run.err), "{}", run.err);
        if fewer == 1 {
            assert_eq!(lines(&run), lines(&whole) - fewer);
        }
    }
    let file = shop.file("shop.jsonl");
    let run = shop.run(&["export", "-o", &file]);
    assert_eq!(run.code, 1);
    assert!(names(&run.out) && names(&run.err), "{run:?}");
    let written = fs::read_to_string(&file).unwrap();
    assert_eq!(written.lines().count(), lines(&whole) - 1);
    let csv = shop.run(&["review", "outcomes", "--csv"]);
    assert!(csv.code == 0 && !csv.out.contains("Event 22") && names(&csv.err), "{csv:?}");
    assert_eq!(shop.run(&["export", "--kiln", "South"]).code, 0, "this one lacks nothing");
}

#[test]
fn law_a_struck_event_that_cannot_be_read_is_missed_by_nobody() {
    let shop = Shop::new();
    garble(&shop.path(), LOOK);
    let entered = shop.run(&["look", "North", "--guide", "down", "--target", "down"]);
    assert_eq!(entered.code, 0, "{}", entered.err);
    let struck = shop.run(&["strike", "22", "--reason", "damaged"]);
    assert_eq!(struck.code, 0, "{}", struck.err);
    assert!(struck.out.starts_with("Event 22 (look at "), "{}", struck.out);
    assert!(!struck.out.contains("cannot be read"), "{}", struck.out);
    let status = shop.run(&["status"]);
    assert!(status.out.contains("Shut off North now"), "{}", status.out);
    assert!(!status.out.contains("cannot be read"), "{}", status.out);
    assert_eq!(shop.run(&["export", "-o", &shop.file("shop.jsonl")]).code, 0);
    let checked = shop.run(&["journal", "check"]);
    assert_eq!(checked.code, 0, "{}", checked.err);
    assert!(
        checked
            .out
            .contains("Damaged events that were struck, so that no answer lacks them: 1 (22)"),
        "{}",
        checked.out
    );
}

#[test]
fn law_the_event_is_named_whatever_was_kept_of_the_firing_before() {
    let shop = Shop::new();
    // The look of a firing that is over; what was made of it is kept for the review.
    assert_eq!(shop.run(&["review", "all"]).code, 0);
    garble(&shop.path(), PAST_LOOK);
    for line in [&["review", "outcomes"][..], &["ledger"], &["alarms", "report"], &["status"]] {
        let run = shop.run(line);
        assert!(run.out.contains("Event 16 (look, South, firing 1, "), "{line:?}: {}", run.out);
    }
}

#[test]
fn law_a_screen_names_the_event_while_it_shows_the_shop() {
    let shop = Shop::new();
    let mut store = KeptShop::open(&shop.path(), String::new(), PATIENCE, shop.now).unwrap();
    let named = |store: &mut KeptShop| -> Vec<EventId> {
        let scene = store.snapshot(shop.now).unwrap().scene(shop.now);
        scene.unread.iter().map(|unread| unread.event).collect()
    };
    assert_eq!(named(&mut store), []);
    garble(&shop.path(), LOOK);
    // Nobody wrote: what was read stays, and the ledger is read anew.
    store.ledger().unwrap();
    assert!(store.changed(shop.now).unwrap());
    assert_eq!(named(&mut store), [EventId(LOOK)]);
    assert_eq!(shop.run(&["strike", "22", "--reason", "damaged"]).code, 0);
    assert!(store.changed(shop.now).unwrap());
    assert_eq!(named(&mut store), []);
}

#[test]
fn law_an_event_whose_firing_is_garbled_is_named_by_whoever_shows_the_shop() {
    let shop = Shop::new();
    let raw = Connection::open(shop.path()).unwrap();
    raw.execute_batch("DROP TRIGGER events_are_never_changed").unwrap();
    raw.execute("UPDATE events SET firing = firing + 1024 WHERE id = ?1", [LOOK]).unwrap();
    let status = shop.run(&["status"]);
    assert!(status.out.contains("Event 22 (look, firing 1026, "), "{}", status.out);
}
