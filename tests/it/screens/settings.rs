//! What the shop keeps, changed on the screen: load types with their cautions, how things are shown,
//! whom it calls; the alarms answered and put off; schedules of the shop's own.

use std::fs;

use spyhole::testing::alarm::{State, Task, WayName};
use spyhole::testing::edge::bell::settings::{BellFile, BellSettings};
use spyhole::testing::edge::house_file::House;
use spyhole::testing::edge::own_schedules::{self, Offered};
use spyhole::testing::edge::schedule_file;
use spyhole::testing::edge::screen::app::Tone;
use spyhole::testing::edge::screen::key::{self, Key, Meaning};
use spyhole::testing::edge::settings_file::SettingsFile;
use spyhole::testing::edge::shipped_schedules;
use spyhole::testing::edge::shop::kept::KeptShop;
use spyhole::testing::edge::shop::store::Kept;
use spyhole::testing::firing::What;
use spyhole::testing::units::{Celsius, Scale, Span};
use spyhole::testing::words::Clock;

use super::desk::{Desk, NOW, PLAIN, text};
use super::frames::{own_schedules as with_own_schedules, with_settings};

fn ringing(desk: &Desk) -> Option<Task> {
    desk.scene().ringing().map(|alarm| alarm.key.task)
}

fn problem(desk: &Desk) -> String {
    desk.app.form.as_ref().and_then(|form| form.problem.clone()).unwrap_or_default()
}

#[test]
fn law_one_key_answers_what_rings_and_is_undone_by_two() {
    let mut desk = Desk::busy();
    assert_eq!(ringing(&desk), Some(Task::LookDue));
    let hints = |desk: &Desk| text(&desk.draw(80, 24, PLAIN)).lines().last().unwrap().to_owned();
    assert!(hints(&desk).contains(" a  answer"), "{}", hints(&desk));
    let frame = text(&desk.draw(80, 24, PLAIN));
    assert!(frame.starts_with("! Look at Heron "), "{frame}");
    let before = desk.written.len();
    desk.type_in("a");
    assert_eq!(desk.written[before], What::Acknowledged { alarm: "look_due".into() });
    assert_eq!(desk.written.len(), before + 1);
    assert_eq!(ringing(&desk), None);
    assert!(!hints(&desk).contains("answer"), "{}", hints(&desk));
    let message = desk.app.message.clone().unwrap();
    assert_eq!(message.tone, Tone::Saved);
    assert!(message.text.contains("Heron: look due answered"), "{}", message.text);
    desk.type_in("a");
    let refused = desk.app.message.clone().unwrap();
    assert_eq!(
        (refused.tone, refused.text.as_str()),
        (Tone::Refused, "No alarm stands that could be answered or put off.")
    );
    desk.type_in("u\n");
    assert_eq!(ringing(&desk), Some(Task::LookDue), "struck, it rings again");
}

#[test]
fn law_an_alarm_is_put_off_within_its_limits() {
    let mut desk = Desk::busy();
    let before = desk.written.len();
    // The field holds the usual length: take it out and say a longer one.
    desk.type_in("z\t");
    desk.press(Key::Control('u'));
    desk.type_in("5h\n");
    assert_eq!(
        problem(&desk),
        "look_due has medium priority and can be put off for 1 s to 4 h 00 min, not for 5 h 00 min: \
         say a shorter time"
    );
    desk.press(Key::Control('u'));
    desk.type_in("30 min\n");
    let wanted = What::Shelved { alarm: "look_due".into(), length: Span::minutes(30) };
    assert_eq!(desk.written[before], wanted);
    assert_eq!(ringing(&desk), None);
    let states = |desk: &Desk| -> Vec<State> {
        desk.scene().alarms.iter().map(|alarm| alarm.state).collect()
    };
    assert!(states(&desk).contains(&State::Shelved), "{:?}", states(&desk));
    desk.now = NOW + Span::minutes(31);
    assert!(ringing(&desk).is_some(), "it comes back by itself");
}

/// What the standard gives the highest priority cannot be put off, on the screen as on the command
/// line.
#[test]
fn law_the_highest_alarm_cannot_be_put_off() {
    let mut desk = Desk::busy();
    let look = spyhole::testing::firing::event::Look {
        target: Some(spyhole::testing::firing::Seen::Down),
        ..Default::default()
    };
    desk.write(1, NOW - Span::minutes(1), What::Look(look));
    assert_eq!(ringing(&desk), Some(Task::ShutOff));
    let before = desk.written.len();
    desk.type_in("z\n");
    assert!(desk.app.form.is_none());
    assert_eq!(desk.written.len(), before);
}

#[test]
fn law_cautions_are_added_changed_and_taken_away() {
    let mut desk = Desk::busy();
    let cautions = |desk: &Desk| desk.memory.shop().load_type("gold").unwrap().cautions.clone();
    let first = cautions(&desk);
    assert!(first.len() >= 3);
    desk.type_in("4gold\n");
    // Backwards from the first field is the last: an empty caution.
    desk.press(Key::BackTab);
    desk.type_in("Mind the left burner.\n");
    let mut wanted = first.clone();
    wanted.push("Mind the left burner.".into());
    assert_eq!(cautions(&desk), wanted);
    desk.type_in("\n");
    for _ in 0..2 {
        desk.press(Key::BackTab);
    }
    desk.press(Key::Control('u'));
    desk.type_in("\n");
    assert_eq!(cautions(&desk), first);
}

#[test]
fn law_people_are_added_changed_and_taken_off() {
    let mut desk = with_settings();
    let people = |desk: &Desk| -> Vec<String> {
        let settings = desk.settings.clone().unwrap();
        settings.bell.unwrap().people.into_iter().map(|person| person.name).collect()
    };
    desk.type_in("4add somebody\nIda\tsound desktop\t\t6:00 to 18:00\n");
    assert_eq!(people(&desk), ["Ada", "Ben", "Ida"]);
    let settings = desk.settings.clone().unwrap().bell.unwrap().meant().unwrap();
    assert_eq!(settings.rota.people[2].ways, [WayName::Sound, WayName::Desktop]);
    // What the command line refuses, the form refuses in the same words, and keeps nothing.
    desk.type_in("\nBob\tsond\n");
    assert!(problem(&desk).contains("did you mean \"sound\"?"), "{}", problem(&desk));
    assert_eq!(people(&desk).len(), 3);
    desk.press(Key::Escape);
    desk.press(Key::Escape);
    desk.type_in("call ben\n");
    desk.press(Key::BackTab);
    desk.type_in("2\n");
    assert_eq!(people(&desk), ["Ada", "Ida"]);
}

/// The clock and the scale are kept for the shop; c and k change them for this screen alone.
#[test]
fn law_how_things_are_shown_is_kept_for_the_shop() {
    let mut desk = Desk::busy();
    desk.type_in("ck");
    assert_eq!(desk.settings.clone().unwrap().house, Ok(House::default()));
    desk.type_in("4shown\n22\n");
    let house = desk.settings.clone().unwrap().house.unwrap();
    assert_eq!((house.scale, house.clock), (Some(Scale::Fahrenheit), Some(Clock::TwelveHour)));
    desk.type_in("\n\t\t\t80C\n");
    let house = desk.settings.clone().unwrap().house.unwrap();
    assert_eq!(house.draw_below, Some(Celsius(80.0)));
    desk.type_in("\n\t\tschedules\n");
    assert!(problem(&desk).contains("is no whole path"), "{}", problem(&desk));
}

#[test]
fn law_settings_that_cannot_be_kept_stay_in_the_form() {
    let mut desk = with_settings();
    desk.refuses = Some("the disk is full");
    desk.type_in("4shown\n2\n");
    assert!(problem(&desk).starts_with("Not saved: the disk is full"), "{}", problem(&desk));
    assert_eq!(desk.settings, with_settings().settings);
}

/// Through the store of a real shop: the very files the command line reads, whole or not at all.
#[test]
fn law_a_kept_shop_keeps_its_settings_in_the_files_the_command_line_reads() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shop.db");
    let mut shop = KeptShop::open(&path, "Ida".into(), std::time::Duration::ZERO, NOW).unwrap();
    let was = shop.settings().unwrap();
    let mut becomes = was.clone();
    let house = House { scale: Some(Scale::Fahrenheit), ..House::default() };
    becomes.house = Ok(house.clone());
    becomes.bell = with_settings().settings.unwrap().bell;
    shop.keep(&Kept { was: was.clone(), becomes: becomes.clone() }).unwrap();
    assert_eq!(shop.settings(), Some(becomes.clone()));
    assert_eq!(House::read(&path).unwrap(), house);
    let bell = BellSettings::read(&path).unwrap();
    assert_eq!(bell.rota.people.len(), 2);
    assert_eq!(bell.out_of_service, [("Otter".to_owned(), Task::ProbeTrouble)]);
    assert_eq!(BellFile::read(&path).unwrap(), becomes.bell.clone().unwrap());
    // Somebody else changed them meanwhile: nothing is overwritten.
    let error = shop.keep(&Kept { was, becomes }).unwrap_err().to_string();
    assert!(error.contains("changed meanwhile"), "{error}");
    // A garbled file is told of, and what it says stays.
    fs::write(SettingsFile("house").path(&path), "{\"scale\": \"K\"}").unwrap();
    let said = shop.settings().unwrap().house.unwrap_err();
    assert!(said.ends_with("\"scale\" is \"K\": use C or F"), "{said}");
    fs::write(SettingsFile("house").path(&path), "{\"scael\": \"C\"}").unwrap();
    let said = shop.settings().unwrap().house.unwrap_err();
    assert!(said.contains("line 1, column 8: unknown key \"scael\""), "{said}");
    fs::write(SettingsFile("house").path(&path), "{\"clock\": 13}").unwrap();
    let said = shop.settings().unwrap().house.unwrap_err();
    assert!(said.ends_with("\"clock\" is 13: use 12 or 24"), "{said}");
}

#[test]
fn law_garbled_settings_are_listed_and_not_overwritten() {
    let mut desk = Desk::busy();
    let mut settings = desk.settings.clone().unwrap();
    settings.bell = Err("the bell settings are garbled".into());
    desk.settings = Some(settings.clone());
    desk.type_in("4garbled\n");
    let refused = desk.app.message.clone().unwrap();
    assert_eq!(refused.text, "the bell settings are garbled. Put the file right first.");
    assert!(desk.app.form.is_none());
    assert_eq!(desk.settings, Some(settings));
}

/// Files of a folder beside the shop: each a schedule or a reason, none left out.
#[test]
fn law_schedules_of_the_shops_own_are_listed_and_garbled_ones_told_of() {
    let folder = tempfile::tempdir().unwrap();
    let shop = folder.path().join("shop.db");
    let house = House::default();
    assert_eq!(own_schedules::offered(&shop, &house), own_schedules::shipped());
    let own = folder.path().join("schedules");
    fs::create_dir(&own).unwrap();
    let mut mine = shipped_schedules::named("lustre_and_gold").unwrap();
    mine.name = "Gold on cups".into();
    fs::write(own.join("cups.json"), schedule_file::to_json(&mine)).unwrap();
    fs::write(own.join("bad.json"), "{").unwrap();
    fs::write(own.join("notes.txt"), "no schedule").unwrap();
    let offered = own_schedules::offered(&shop, &house);
    let [bad, cups] = &offered[own_schedules::shipped().len()..] else { panic!("{offered:?}") };
    assert_eq!((bad.file_name(), cups.schedule()), ("bad.json", Some(&mine)));
    assert!(bad.found.as_ref().unwrap_err().contains("line 1"), "{bad:?}");
    let found = own_schedules::find(&shop, &house, "gold on CUPS").unwrap();
    assert_eq!(found.reference, cups.reference);
    assert_eq!(own_schedules::find(&shop, &house, &cups.reference).unwrap().found, cups.found);
    // Another folder, named in the settings; one that is not there is told of.
    // What cannot be a temperature to draw at is refused with the range.
    let refused = House::draw_below_of("20C").unwrap_err();
    assert!(refused.contains("outside 30 C (86 F) to 300 C (572 F)"), "{refused}");
    assert!(House::draw_below_of("100").unwrap_err().contains("has no unit"));
    let named = |folder| House { schedules: Some(folder), ..House::default() };
    let elsewhere = own_schedules::offered(&folder.path().join("x/y.db"), &named(own));
    assert_eq!(elsewhere, offered);
    let nowhere = own_schedules::offered(&shop, &named(folder.path().join("nowhere")));
    assert!(nowhere.last().unwrap().found.is_err());
}

#[test]
fn law_a_kiln_is_lit_by_a_schedule_of_the_shops_own() {
    let mut desk = with_own_schedules();
    desk.press(Key::BackTab);
    desk.type_in("3blue\nf1\n");
    let Some(What::Lit(lit)) = desk.written.last() else { panic!("{:?}", desk.written) };
    assert_eq!(lit.schedule.as_deref(), Some("/shop/schedules/blue_cups.json"));
    let own = desk.schedules.iter().find(|one| one.own).and_then(Offered::schedule).unwrap();
    assert_eq!(lit.plan, own.plan());
    // One that cannot be used lights nothing.
    desk.press(Key::Escape);
    desk.press(Key::Escape);
    desk.type_in("3cannot\nf");
    assert!(desk.app.form.is_none());
    assert_eq!(key::meaning(Key::Char('a'), false), Some(Meaning::Acknowledge));
}
