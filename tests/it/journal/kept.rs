//! The journal behind the screen: damage met while running.

use std::sync::Arc;

use super::*;
use crate::same_shop::put_in_its_place;
use spyhole::testing::edge::house_file::House;
use spyhole::testing::edge::prices_file;
use spyhole::testing::edge::shop::advised::Counsel;
use spyhole::testing::edge::shop::store::{Kept, Settings};

#[test]
fn law_damage_met_while_running_does_not_end_the_watch() {
    let (_folder, path, mut journal) = new_shop();
    let firing = light(&mut journal, "North");
    let read: Vec<NewEvent> =
        (1..50).map(|n| event(Some(firing), minutes(n), reading(20.0 + n as f64))).collect();
    journal.append_all(&read, minutes(50)).unwrap();
    drop(journal);
    let page = page_of(&path, "open_firings");
    let mut shop = KeptShop::open(&path, "Ida".into(), PATIENCE, minutes(51)).unwrap();
    let whole = shop.snapshot(minutes(51)).unwrap();
    assert_eq!(shop.line(), None);

    let mut bytes = fs::read(&path).unwrap();
    bytes[(page - 1) * 4096..page * 4096].fill(0x55);
    fs::write(&path, &bytes).unwrap();
    // Another process writes: what was read before is read anew.
    let other = rusqlite::Connection::open(&path).unwrap();
    other.execute("INSERT INTO writers (kind, name) VALUES ('person', 'Mia')", []).unwrap();
    let after = shop.snapshot(minutes(52)).unwrap();
    assert_eq!(after.shop.open[0].readings, whole.shop.open[0].readings);
    let said = shop.line().unwrap();
    assert_eq!(
        said,
        "shop.db is damaged: the shop goes on in shop.rescued.db; 50 events copied, at least 0 lost. See \"spyhole journal check\"."
    );
    let look = What::Look(Look { target: Some(Seen::Leaning), ..Look::default() });
    let entry = Entry::new(About::Firing(firing), minutes(53), look);
    assert_eq!(shop.append(&entry, minutes(53)).unwrap(), EventId(51));
    let beside = Journal::open(&path.with_file_name("shop.rescued.db")).unwrap();
    assert_eq!(beside.firing(firing).unwrap().looks.len(), 1);
    assert_eq!(fs::read(&path).unwrap()[(page - 1) * 4096], 0x55, "the damaged file is left alone");
}

/// A page that waits for it would wait for ever.
#[test]
fn law_a_plan_that_is_being_made_comes_though_another_file_is_read_meanwhile() {
    let (_folder, path, mut journal) = new_shop();
    light(&mut journal, "North");
    drop(journal);
    let mut shop = KeptShop::open(&path, "Ida".into(), PATIENCE, minutes(51)).unwrap();
    shop.snapshot(minutes(51)).unwrap();
    shop.ask_plan(minutes(51)).unwrap();
    put_in_its_place(&path, &fs::read(&path).unwrap());
    assert!(shop.changed(minutes(52)).unwrap());
    shop.snapshot(minutes(52)).unwrap();
    assert!(shop.plan().is_some_and(|plan| plan.is_ok()));
    assert!(shop.plan_is_behind(), "it is of the file before");
}

/// In calm minutes the one file is made whole: whoever had it open goes on with the same advice as the others.
#[test]
fn law_advice_is_shared_also_after_the_file_was_made_whole() {
    let (_folder, path, mut journal) = new_shop();
    light(&mut journal, "North");
    let counsel = Counsel::default();
    let mut shop = KeptShop::shared(&path, counsel.clone(), PATIENCE, minutes(51)).unwrap();
    shop.snapshot(minutes(51)).unwrap();
    let whole = rusqlite::Connection::open(&path).unwrap();
    whole.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(())).unwrap();
    assert!(shop.changed(minutes(52)).unwrap());
    let seen = shop.snapshot(minutes(52)).unwrap();
    let another = Arc::new(journal.shop().unwrap());
    let shared = counsel.on(&another, |_| panic!("it was made already"), minutes(52)).unwrap();
    assert_eq!(shared.advices, seen.advices);
    // What was written since is in none of it.
    journal.append(&event(Some(FiringId(1)), minutes(52), reading(400.0)), minutes(52)).unwrap();
    let another = Arc::new(journal.shop().unwrap());
    let made = counsel.on(&another, |past| Ok(past.read(&journal)?), minutes(52)).unwrap();
    assert!(!Arc::ptr_eq(&made.advices, &shared.advices));
}

/// The keeper goes by those beside the file by which the shop is called.
#[test]
fn law_a_shop_that_goes_on_beside_its_file_keeps_its_settings() {
    let (_folder, path, mut journal) = new_shop();
    light(&mut journal, "North");
    drop(journal);
    let warmer = House { draw_below: Some(Celsius(120.0)), ..House::default() };
    warmer.write(&path).unwrap();
    fs::write(path.with_file_name("shop.prices.csv"), "from,what,price\n").unwrap();
    let mut bytes = fs::read(&path).unwrap();
    bytes[..100].fill(0xa5);
    fs::write(&path, &bytes).unwrap();
    let mut shop = KeptShop::open(&path, "Ida".into(), PATIENCE, minutes(51)).unwrap();
    let beside = shop.journal().path().to_owned();
    assert_eq!(beside.file_name().unwrap(), "shop.rescued.db");
    assert_eq!(prices_file::beside(&beside), prices_file::beside(&path));
    let was = shop.settings().unwrap();
    assert_eq!(was.house.as_ref().unwrap(), &warmer);
    let cooler = House { draw_below: Some(Celsius(90.0)), ..House::default() };
    let becomes = Settings { house: Ok(cooler.clone()), ..was.clone() };
    shop.keep(&Kept { was, becomes }).unwrap();
    assert_eq!(House::read(&path).unwrap(), cooler);
    assert!(!path.with_file_name("shop.rescued.db.house.json").exists());
}
