//! An event that cannot be read is named on every answer that lacks it.

use rusqlite::Connection;
use spyhole::testing::edge::shop::clock::{SystemClock, Timekeeper};

use crate::journal::{lit, outcome};
use crate::prelude::*;
use crate::program::{self, Run};

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
        shop.run("kiln add North --fuel gas").ok();
        shop.run("kiln add South --fuel electric").ok();
        let mut journal = Journal::open(&shop.path()).unwrap();
        let before = journal.last_event().unwrap().unwrap().0;
        let ago = |minutes| shop.now - Span::minutes(minutes);
        let look = |target| {
            What::Look(Look { guide: Some(Seen::Down), target: Some(target), guard: None })
        };
        let written = [
            (None, 1_800, lit("South")),
            (Some(1), 1_560, look(Seen::Down)),
            (Some(1), 1_555, What::Off),
            (Some(1), 900, What::Drawn),
            (Some(1), 890, outcome(Verdict::Good)),
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

    /// Runs a line, in which `{}/` is the folder of the shop.
    fn run(&self, line: &str) -> Run {
        let folder = format!("{}/", self.folder.path().display());
        program::at(&self.path(), &line.replace("{}/", &folder))
    }

    fn json(&self, line: &str) -> Value {
        let run = self.run(&format!("{line} --json"));
        serde_json::from_str(&run.out).unwrap_or_else(|error| panic!("{line:?}: {error}"))
    }

    fn read(&self, name: &str) -> String {
        fs::read_to_string(self.folder.path().join(name)).unwrap()
    }
}

/// What a failing disk does to the fields of an event.
fn garble(path: &Path, event: i64) {
    let raw = Connection::open(path).unwrap();
    raw.execute_batch("DROP TRIGGER events_are_never_changed").unwrap();
    let sql = "UPDATE events SET body = replace(body, 'a', '?') WHERE id = ?1";
    assert_eq!(raw.execute(sql, [event]).unwrap(), 1);
}

const NAMED: &str = "Event 22 (look, North, firing 2, ";
const LEFT_OUT: &str = ") cannot be read and counts nowhere here. Enter it again and take the damaged one back with \"spyhole strike 22 --reason damaged\", or restore a backup: see \"spyhole journal check\".";

fn names(text: &str) -> bool {
    text.contains(NAMED) && text.contains(LEFT_OUT)
}

/// Every command whose answer rests on the look.
const ANSWERS: &str = "status|history North|ledger|alarms|alarms report|review all|review outcomes|\
    review firing 2|review near 2|advise {}/south.jsonl|alarms --ics {}/kilns.ics|\
    review card 2 {}/card.html --replace";

#[test]
fn law_every_answer_that_lacks_an_event_names_it() {
    let shop = Shop::new();
    shop.run("export --firing 1 -o {}/south.jsonl").ok();
    for line in ANSWERS.split('|') {
        let run = shop.run(line);
        assert!(!run.out.contains("cannot be read") && run.err.is_empty(), "{line:?}: {run:?}");
        assert_eq!(shop.json(line).get("unreadable_events"), None, "{line:?}");
    }
    assert!(shop.run("status").out.contains("Shut off North now"));
    garble(&shop.path(), LOOK);
    for line in ANSWERS.split('|') {
        let said = shop.run(line).ok();
        assert!(names(&said), "{line:?}: {said}");
        let told = shop.json(line)["unreadable_events"].clone();
        let [one] = told.as_array().unwrap().as_slice() else { panic!("{line:?}: {told}") };
        assert_eq!(one["event_id"], LOOK);
        assert_eq!(one["event"], "look");
        assert_eq!((&one["kiln"], &one["firing"]), (&"North".into(), &2.into()));
        assert_eq!(one["newer"], false);
        assert!(names(one["say"].as_str().unwrap()));
        let at = chrono::DateTime::parse_from_rfc3339(one["at"].as_str().unwrap()).unwrap();
        assert_eq!(at.timestamp_millis(), (shop.now - Span::minutes(10)).0);
    }
    assert!(shop.read("card.html").contains(NAMED), "the card itself says so");
    let calendar = shop.read("kilns.ics").replace("\r\n ", "");
    assert!(calendar.contains("Event 22 (look"), "the calendar itself says so: {calendar}");
}

#[test]
fn law_an_answer_that_does_not_rest_on_the_event_is_as_before() {
    let shop = Shop::new();
    let asked = "history --firing 1|ledger --kiln South|load-type list|kiln list|review firing 1|\
        review outcomes --kiln South|export --kiln South";
    let said = || asked.split('|').map(|line| shop.run(line).ok()).collect::<Vec<_>>();
    let before = said();
    garble(&shop.path(), LOOK);
    assert_eq!(said(), before);
}

#[test]
fn law_an_export_writes_what_it_can_and_fails_saying_what_it_lacks() {
    let shop = Shop::new();
    let lines = |run: &Run| run.out.lines().count();
    let whole = shop.run("export");
    garble(&shop.path(), LOOK);
    let [run, ledger] = ["export", "export --csv ledger"].map(|line| shop.run(line));
    for run in [&run, &ledger] {
        assert!(run.err.starts_with("spyhole: Event 22") && names(&run.err), "{}", run.err);
        assert_eq!(run.code, 1);
    }
    assert_eq!(lines(&run), lines(&whole) - 1);
    let run = shop.run("export -o {}/shop.jsonl");
    assert_eq!(run.code, 1);
    assert!(names(&run.out) && names(&run.err), "{run:?}");
    assert_eq!(shop.read("shop.jsonl").lines().count(), lines(&whole) - 1);
    let csv = shop.run("review outcomes --csv");
    assert!(csv.code == 0 && !csv.out.contains("Event 22") && names(&csv.err), "{csv:?}");
    shop.run("export --kiln South").ok();
}

#[test]
fn law_a_struck_event_that_cannot_be_read_is_missed_by_nobody() {
    let shop = Shop::new();
    garble(&shop.path(), LOOK);
    shop.run("look North --guide down --target down").ok();
    let struck = shop.run("strike 22 --reason damaged").ok();
    assert!(struck.starts_with("Event 22 (look at "), "{struck}");
    let status = shop.run("status").ok();
    assert!(status.contains("Shut off North now"), "{status}");
    assert!(!(struck + &status).contains("cannot be read"));
    shop.run("export -o {}/shop.jsonl").ok();
    let checked = shop.run("journal check").ok();
    let told = "Damaged events that were struck, so that no answer lacks them: 1 (22)";
    assert!(checked.contains(told), "{checked}");
}

#[test]
fn law_the_event_is_named_whatever_was_kept_of_the_firing_before() {
    let shop = Shop::new();
    // The look of a firing that is over; what was made of it is kept for the review.
    shop.run("review all").ok();
    garble(&shop.path(), PAST_LOOK);
    for line in ["review outcomes", "ledger", "alarms report", "status"] {
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
    shop.run("strike 22 --reason damaged").ok();
    assert!(store.changed(shop.now).unwrap());
    assert_eq!(named(&mut store), []);
}

#[test]
fn law_an_event_whose_firing_is_garbled_is_named_by_whoever_shows_the_shop() {
    let shop = Shop::new();
    let raw = Connection::open(shop.path()).unwrap();
    raw.execute_batch("DROP TRIGGER events_are_never_changed").unwrap();
    raw.execute("UPDATE events SET firing = firing + 1024 WHERE id = ?1", [LOOK]).unwrap();
    let status = shop.run("status").ok();
    assert!(status.contains("Event 22 (look, firing 1026, "), "{status}");
}
