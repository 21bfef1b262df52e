//! The review on the screen: its pages, its filters, why it says what it says, and that it says the
//! same as the command line.

use spyhole::testing::edge::screen::export::{self, Export, Wanted};
use spyhole::testing::edge::screen::review::{Period, Review};
use spyhole::testing::review::ledger::Asked;
use spyhole::testing::review::table::Cell;
use spyhole::testing::scene::{Page, ReviewQuestion, ReviewRow, ReviewScene};
use spyhole::testing::words::tables;

use super::desk::{Desk, NOW, PLAIN, text};
use crate::prelude::*;
use crate::program::{command, finish, json};
use crate::review::history;

fn review(desk: &Desk) -> &Review {
    match &desk.app.view {
        View::Review(review) => review,
        other => panic!("the review is closed: {other:?}"),
    }
}

#[test]
fn law_after_the_last_page_comes_the_first() {
    let mut desk = Desk::with_a_year();
    desk.type_in("5");
    for page in Page::all(false) {
        assert_eq!(review(&desk).page, *page);
        desk.press(Key::Tab);
    }
    assert_eq!(review(&desk).page, Page::Outcomes);
}

#[test]
fn law_the_review_is_asked_for_one_kiln_and_for_a_period() {
    let mut desk = Desk::with_a_year();
    desk.type_in("5");
    let counted = |desk: &Desk| review(desk).scene.as_ref().unwrap().past.len();
    let all = counted(&desk);
    desk.type_in("k");
    assert_eq!(review(&desk).kiln.as_deref(), Some("Heron"));
    assert!(review(&desk).scene.as_ref().unwrap().past.values().all(|past| past.kiln == "Heron"));
    let heron = counted(&desk);
    desk.type_in("kk");
    let wren = counted(&desk);
    desk.type_in("k");
    assert_eq!((review(&desk).kiln.as_deref(), counted(&desk)), (None, all));
    assert!(wren < heron && heron < all, "{wren} {heron} {all}");
    // NOW is the 12th of March: this year is the shortest.
    let mut counts = vec![all];
    for period in [Period::ThisYear, Period::TwelveMonths, Period::NinetyDays, Period::All] {
        desk.type_in("p");
        assert_eq!(review(&desk).period, period);
        counts.push(counted(&desk));
    }
    let [_, year, twelve, ninety, again] = counts[..] else { panic!("{counts:?}") };
    assert!(year < ninety && ninety < twelve && twelve <= all && again == all, "{counts:?}");
}

#[test]
fn law_a_period_begins_at_midnight() {
    let zone = FixedZone(Span::hours(2));
    let since = |period: Period| period.since(NOW, &zone);
    // 2026-03-12T13:40:20Z, with a clock two hours ahead; from `date -u -d ... +%s`.
    assert_eq!(since(Period::All), None);
    assert_eq!(since(Period::ThisYear), Some(Moment(1_767_218_400_000)));
    assert_eq!(since(Period::TwelveMonths), Some(Moment(1_741_730_400_000)));
    assert_eq!(since(Period::NinetyDays), Some(Moment(1_765_490_400_000)));
}

/// A correction is accepted by a form, holds from then on, and can be taken back.
#[test]
fn law_a_probe_correction_is_accepted_by_a_form() {
    let mut desk = Desk::with_a_year();
    let later = NOW + Span::hours(1);
    desk.type_in("5\tka");
    assert!(desk.app.form.is_none(), "not on the evidence of a part of the shop");
    let refused = desk.app.message.as_ref().map(|message| message.text.clone());
    assert!(refused.as_ref().is_some_and(|text| text.contains("all kilns")), "{refused:?}");
    desk.type_in("kkka");
    assert_eq!(desk.app.form.as_ref().map(|form| form.kiln.as_str()), Some("Heron"));
    assert_eq!(desk.memory.shop().corrections.at("Heron", later), 0.0, "nothing yet");
    desk.type_in("!a");
    let of_page = review(&desk).page_rows().iter().find_map(ReviewRow::suggestion).cloned();
    let written = desk.press(Key::Enter);
    let [entry] = &written[..] else { panic!("{written:?}") };
    let What::Accepted(suggestion) = &entry.what else { panic!("{entry:?}") };
    assert_eq!(Some(suggestion), of_page.as_ref());
    let add = desk.memory.shop().corrections.at("Heron", later);
    assert!((-11.0..=-7.0).contains(&add), "its probe reads 9 C high: {add}");
    // It shows from the next firing on, and is not asked for again until then.
    assert!(review(&desk).page_rows().iter().all(|row| row.suggestion().is_none()));
    assert!(text(&desk.draw(80, 24, PLAIN)).contains("accepted"));
    desk.type_in("u\n");
    assert!(review(&desk).page_rows().iter().any(|row| row.suggestion().is_some()));
    assert_eq!(desk.memory.shop().corrections.at("Heron", later), 0.0);
}

/// The past firing that went most like one is laid over it, as the command line finds it.
#[test]
fn law_the_nearest_past_firing_is_laid_over() {
    let (_folder, path) = shop_file();
    kept(&path, 12);
    let store = KeptShop::open(&path, String::new(), PATIENCE, NOW).unwrap();
    let found = store.nearest(FiringId(11)).unwrap();
    let shop = path.to_str().unwrap();
    let told = json(&["--shop", shop, "review", "near", "11", "--most", "3", "--json"]);
    let rows = told["tables"][0]["rows"].as_array().unwrap();
    assert_eq!(rows.len(), found.near.len());
    for (row, (near, firing)) in rows.iter().zip(&found.near) {
        assert_eq!(row["firing"], near.id.to_string());
        assert_eq!(firing.id, near.id);
        crate::prelude::near(row["apart_c"].as_f64().unwrap(), near.apart_c, 0.05, row);
    }
    let mut desk = Desk::with_a_year();
    desk.type_in("m");
    let refused = desk.app.message.as_ref().map(|message| message.tone);
    assert_eq!(refused, Some(Tone::Refused), "no kiln holds a firing");
    desk.type_in("2heron gold\nm");
    let View::Ledger(ledger) = &desk.app.view else { panic!("no firing is open") };
    let open: Vec<FiringId> = ledger.open.iter().map(|firing| firing.past.firing).collect();
    let said = desk.app.message.as_ref().map(|message| message.text.clone()).unwrap();
    assert_eq!(open.len(), 2);
    assert!(said.starts_with(&format!("Most like it: firing {} (", open[1])), "{said}");
}

/// What a past firing gives is written into a new file, never over another.
#[test]
fn law_a_past_firing_gives_a_schedule_and_a_card() {
    let (folder, path) = shop_file();
    kept(&path, 2);
    let store = KeptShop::open(&path, String::new(), PATIENCE, NOW).unwrap();
    let file = folder.path().join("again.json").display().to_string();
    let asked = |file: &str| Export {
        firing: FiringId(1),
        what: Wanted::Schedule(Ware::LustreAndGold),
        file: file.to_owned(),
    };
    let said = export::write(&store, &asked(&file), &DIAL, NOW).unwrap();
    assert!(said.starts_with(&file) && said.contains("segments"), "{said}");
    let text = fs::read_to_string(&file).unwrap();
    let schedule = schedule_file::from_json(&text).unwrap();
    assert_eq!(schedule.target, store.journal().firing(FiringId(1)).unwrap().pack.unwrap().target);
    let again = export::write(&store, &asked(&file), &DIAL, NOW).unwrap_err();
    assert!(format!("{again:#}").contains("again.json"), "{again:#}");
    assert_eq!(fs::read_to_string(&file).unwrap(), text);
    let wrong = export::write(&store, &asked("again.txt"), &DIAL, NOW).unwrap_err();
    assert!(wrong.to_string().contains(".json"), "{wrong}");
    // The same card as the command line's, byte for byte.
    let card = |name: &str| folder.path().join(name).display().to_string();
    let (ours, theirs) = (card("ours.html"), card("theirs.html"));
    let wanted = Export { firing: FiringId(2), what: Wanted::Card, file: ours.clone() };
    let said = export::write(&store, &wanted, &DIAL, NOW).unwrap();
    assert!(said.contains(&ours), "{said}");
    let shop = path.to_str().unwrap();
    let run =
        finish(command().env("TZ", "UTC").args(["--shop", shop, "review", "card", "2", &theirs]));
    assert_eq!(run.code, 0, "{}", run.err);
    let read = |file: &str| fs::read_to_string(file).unwrap();
    assert_eq!(read(&ours), read(&theirs));
    // The form says what is missing, hands out the wish, and stays open until it was written.
    let mut desk = Desk::with_a_year();
    desk.type_in("2heron gold\ns\n");
    let problem = desk.app.form.as_ref().and_then(|form| form.problem.clone());
    assert!(problem.is_some_and(|text| text.contains("what is fired")));
    desk.type_in("6");
    assert!(desk.press(Key::Enter).is_empty(), "no event is written");
    assert!(desk.app.form.as_ref().is_some_and(|form| form.saving));
    desk.hear(Input::Exported(Err("the disk is full".into())));
    assert!(desk.app.form.as_ref().is_some_and(|form| form.problem.is_some()));
    desk.hear(Input::Exported(Ok("written".into())));
    assert!(desk.app.form.is_none());
}

/// A shop in a file, with the first firings of the made-up year.
fn kept(path: &Path, count: usize) {
    let mut journal = begun(path);
    let who = || Who::Program;
    for kiln in history::kilns() {
        let event = NewEvent::new(None, Moment(0), who(), What::KilnSet(kiln));
        journal.append(&event, NOW).unwrap();
    }
    for load_type in history::load_types() {
        let event = NewEvent::new(None, Moment(0), who(), What::LoadTypeSet(load_type));
        journal.append(&event, NOW).unwrap();
    }
    for firing in history::firings(NOW).iter().take(count) {
        let mut events = history::events(firing).into_iter();
        let (at, what) = events.next().unwrap();
        let begun = journal.append(&NewEvent::new(None, at, who(), what), NOW).unwrap().firing;
        let events: Vec<NewEvent> =
            events.map(|(at, what)| NewEvent::new(begun, at, who(), what)).collect();
        journal.append_all(&events, NOW).unwrap();
    }
}

fn asked(path: &Path, asked: Asked) -> ReviewScene {
    let mut store = KeptShop::open(path, String::new(), PATIENCE, NOW).unwrap();
    store.ask_review(&ReviewQuestion { asked, now: NOW, ahead: Span::ZERO }).unwrap();
    store.review().expect("it comes within the time").unwrap()
}

/// A table row as the command line writes it.
fn as_json(row: ReviewRow<'_>) -> Value {
    let table = tables::row_table(&row, Scale::Celsius, Span::ZERO);
    let [of_row] = &table.rows[..] else { panic!("{table:?}") };
    let mut object = serde_json::Map::new();
    for (column, cell) in table.columns.iter().zip(&of_row.cells) {
        let value = match cell {
            Cell::Text(text) => text.as_str().into(),
            Cell::Count(count) => (*count).into(),
            Cell::Number(_, _) => cell.shown().parse::<f64>().unwrap().into(),
            Cell::Unknown => Value::Null,
        };
        object.insert(column.key.into(), value);
    }
    object.insert("formula".into(), of_row.formula.clone().into());
    object.insert("firings".into(), of_row.firings.iter().map(|id| id.0).collect());
    object.into()
}

/// Every row of every page is a row of the command line's tables, number by number, with the same
/// formula and the same firings; for the whole shop, and for a part of it.
#[test]
fn law_the_screen_says_what_the_command_line_says() {
    let (folder, path) = shop_file();
    kept(&path, 75);
    let list = "from,what,of,value,unit\n2020-01-01,cone,,0.5,\n2020-01-01,fuel,gas m3,1.1,\n\
                2020-01-01,draw,Heron,2.4,m3/h\n";
    fs::write(folder.path().join("shop.prices.csv"), list).unwrap();
    let since = Moment(1_756_684_800_000);
    let part = Asked { since: Some(since), kiln: Some("Heron".into()), ..Asked::default() };
    for (question, options) in
        [(Asked::default(), &[][..]), (part, &["--kiln", "Heron", "--since", "2025-09-01"])]
    {
        let scene = asked(&path, question);
        for (page, way, args) in [
            (Page::Outcomes, 0, &["outcomes"][..]),
            (Page::Outcomes, 3, &["outcomes", "--by", "season"]),
            (Page::Drift, 0, &["drift"]),
            (Page::Tolerance, 0, &["tolerance"]),
            (Page::Evenness, 0, &["evenness"]),
            (Page::Cost, 0, &["cost"]),
            (Page::Cost, 2, &["cost", "--by", "month"]),
        ] {
            let run = finish(
                command()
                    .env("TZ", "UTC")
                    .args(["--shop", path.to_str().unwrap(), "review"])
                    .args(args)
                    .args(options)
                    .args(["--json", "--explain"]),
            );
            assert_eq!(run.code, 0, "{args:?}: {}", run.err);
            let told: Value = serde_json::from_str(&run.out).unwrap();
            let told: Vec<&Value> = told["tables"]
                .as_array()
                .unwrap()
                .iter()
                .flat_map(|table| table["rows"].as_array().unwrap())
                .collect();
            let rows = scene.rows(page, way);
            assert!(rows.len() >= 2 || page == Page::Evenness, "{args:?}: {rows:?}");
            for row in rows {
                let row = numbers(as_json(row));
                assert!(
                    told.iter().any(|told| numbers((*told).clone()) == row),
                    "{args:?} {options:?}: {row} is not among {told:#?}"
                );
            }
        }
    }
}

/// Whole numbers and others are written alike: 3 is 3.0.
fn numbers(value: Value) -> Value {
    match value {
        Value::Number(number) => number.as_f64().unwrap().into(),
        Value::Array(list) => list.into_iter().map(numbers).collect(),
        Value::Object(object) => {
            object.into_iter().map(|(key, value)| (key, numbers(value))).collect()
        }
        other => other,
    }
}

/// While the ledger is read the view says so, and keys work.
#[test]
fn law_the_screen_does_not_wait_for_the_review() {
    let mut desk = Desk::with_past();
    desk.type_in("5");
    let View::Review(review) = &mut desk.app.view else { panic!("the review is closed") };
    review.scene = None;
    for (columns, rows) in [(40, 12), (80, 24)] {
        let frame = text(&desk.draw(columns, rows, PLAIN));
        assert!(frame.contains("reading the ledger"), "{frame}");
    }
    for key in [Key::Down, Key::Enter, Key::Char('b'), Key::Char('a'), Key::Tab, Key::Escape] {
        desk.press(key);
    }
    assert!(matches!(desk.app.view, View::Floor));
}
