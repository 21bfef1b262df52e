//! What the shop keeps, changed on the screen: load types with their cautions, how things are shown,
//! whom it calls; the alarms answered and put off; schedules of the shop's own.

use spyhole::testing::edge::bell::settings::BellSettings;
use spyhole::testing::edge::house_file::usual_here;
use spyhole::testing::edge::own_schedules;
use spyhole::testing::edge::settings_file::SettingsFile;
use spyhole::testing::edge::shop::store::Kept;

use super::desk::{Desk, NOW};
use super::frames::with_settings;
use crate::prelude::*;

fn problem(desk: &Desk) -> String {
    desk.app.form.as_ref().and_then(|form| form.problem.clone()).unwrap_or_default()
}

#[test]
fn law_people_are_added_changed_and_taken_off() {
    let mut desk = with_settings();
    let people = |desk: &Desk| -> Vec<String> {
        let settings = desk.settings.clone().unwrap();
        settings.bell.unwrap().people.into_iter().map(|person| person.name).collect()
    };
    desk.type_in("4add somebody to call\nIda\tsound desktop\t\t6:00 to 18:00\n");
    assert_eq!(people(&desk), ["Ada", "Ben", "Ida"]);
    let settings = desk.settings.clone().unwrap().bell.unwrap().meant().unwrap();
    assert_eq!(settings.rota.people[2].ways, [WayName::Sound, WayName::Desktop]);
    // What the command line refuses, the form refuses in the same words, and keeps nothing.
    desk.type_in("\nBob\tsond\n");
    assert!(problem(&desk).contains("did you mean \"sound\"?"), "{}", problem(&desk));
    assert_eq!(people(&desk).len(), 3);
    desk.type_in("!!call ben\n<2\n");
    assert_eq!(people(&desk), ["Ada", "Ida"]);
}

/// Every way that has to be set up, by the fields of its table; what the file refuses, the form refuses.
#[test]
fn law_a_way_is_set_up_and_given_up_by_its_form() {
    let mut desk = with_settings();
    let bell = |desk: &Desk| desk.settings.clone().unwrap().bell.unwrap();
    desk.type_in("4ring by mqtt\n203.0.113.5\n");
    assert!(problem(&desk).contains("is not in the shop's network"), "{}", problem(&desk));
    desk.type_in("^192.168.1.5:1884\n");
    assert_eq!(bell(&desk).mqtt.unwrap().broker, "192.168.1.5:1884");
    desk.type_in("!ring by webhook\nhttps://example.org/a\ttext\tTitle: Kilns\n");
    let webhook = bell(&desk).webhook.unwrap();
    assert_eq!((&*webhook.url, &*webhook.body), ("https://example.org/a", "text"));
    assert_eq!(webhook.headers, ["Title: Kilns"]);
    // Ben is called by the command: it stays, and its time limit is a number.
    desk.type_in("!ring by command\n\t\t\t←←12 s\n");
    assert_eq!(bell(&desk).command.unwrap().time_limit_s, 12, "{}", problem(&desk));
    desk.type_in("\n^\n");
    assert!(problem(&desk).starts_with("Ben is to be called by command"), "{}", problem(&desk));
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
    assert!(problem(&desk).contains("is not a full path"), "{}", problem(&desk));
}

/// Through the store of a real shop: the very files the command line reads, whole or not at all.
#[test]
fn law_a_kept_shop_keeps_its_settings_in_the_files_the_command_line_reads() {
    let (_folder, path) = shop_file();
    begun_by_the_program(&path, NOW);
    let mut shop = KeptShop::open(&path, "Ida".into(), Duration::ZERO, NOW).unwrap();
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
    let (folder, shop) = shop_file();
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
fn law_a_new_shop_is_offered_what_is_usual_in_its_country() {
    let f = Some((Scale::Fahrenheit, Clock::TwelveHour));
    for (all, lang, usual) in [
        ("", "en_US.UTF-8", f),
        ("en_US", "de_DE.UTF-8", f),
        ("en_GB.UTF-8", "en_US.UTF-8", None),
        ("C.UTF-8", "en_US", None),
        ("", "de_DE@euro", None),
        ("", "", None),
    ] {
        let set = |name: &str| Some(if name == "LC_ALL" { all } else { lang }.to_owned());
        assert_eq!(usual_here(set), usual, "{all:?} {lang:?}");
    }
}
