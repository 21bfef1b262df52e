//! The sentence, the line of what rings and the key that answers it speak of the same thing; and
//! what is asked before something hard to believe is written.

use std::sync::Arc;

use spyhole::testing::alarm::Target;
use spyhole::testing::edge::bell::{Delivery, WayError};
use spyhole::testing::edge::shop::standing::Standing;
use spyhole::testing::edge::shop::told::Told;
use spyhole::testing::words;

use super::desk::{Desk, NOW, PLAIN, text};
use crate::prelude::*;

/// Heron has probably dropped, and Otter's probe is broken.
pub(super) fn two_that_ring() -> Desk {
    let mut desk = super::frames::likely_down();
    desk.write(2, NOW - Span::minutes(3), What::Reading(Celsius(1372.0)));
    desk
}

/// While nothing is to be done at a spyhole, what rings is the headline.
#[test]
fn law_what_rings_is_the_headline_while_everything_else_can_wait() {
    let mut desk = two_that_ring();
    let heron = desk.heron();
    (heron.say, heron.next_look) = (Task::NextLook, Some(NOW + Span::minutes(25)));
    heron.forecast.as_mut().unwrap().dropped = 0.0;
    let scene = desk.scene();
    assert_eq!(scene.kilns[0].kiln, "Otter");
    let alarm = scene.ringing().unwrap();
    assert!(!scene.rings_beside());
    let said = words::headline(&scene, &DIAL, Striking::ByCommand);
    assert!(said.starts_with(&words::alarms::headline(alarm)), "{said}");
    // What comes next there is still counted down.
    assert!(said.ends_with("Look at Otter in 5 h 45 min, at 19:30."), "{said}");
    assert_eq!(words::big_word(&scene.kilns[0], NOW).as_deref(), Some("5 h 50"));
    desk.type_in("a");
    assert_eq!(desk.scene().kilns[0].kiln, "Heron", "answered, it makes way for what comes next");
}

/// An alarm of a rehearsal goes by its own rule, as a keeper's does, not with every smaller figure.
#[test]
fn law_alarms_remember_that_they_stand() {
    let mut desk = super::frames::likely_down();
    let mut remembers = Standing::default();
    let tasks = |desk: &Desk, alarms: &mut Standing| -> Vec<Task> {
        let alarms = desk.memory.alarms_on(alarms, &Arc::new(desk.advices.clone()), desk.now);
        alarms.iter().map(|alarm| alarm.key.task).collect()
    };
    assert!(tasks(&desk, &mut remembers).contains(&Task::ProbablyDown));
    desk.heron().forecast.as_mut().unwrap().dropped = 0.4;
    desk.now = NOW + Span::seconds(10);
    assert!(tasks(&desk, &mut remembers).contains(&Task::ProbablyDown));
    assert!(!tasks(&desk, &mut Standing::default()).contains(&Task::ProbablyDown));
}

/// That one way to ring failed matters while something rings.
#[test]
fn law_a_failed_delivery_is_no_news_once_nothing_rings() {
    let target = Target { person: String::new(), reach: String::new(), way: WayName::Sound };
    let result = Err(WayError::Busy);
    let failed = Delivery { keys: Vec::new(), target, result, fell_back: false };
    let told = Told::Delivery(failed);
    assert!(!told.outlasts_the_alarms());
    assert_eq!(told.brief(), "The bell fails by sound: \"spyhole bell test\" says why.");
    assert!(Told::NoBackup("the disk is full".into()).outlasts_the_alarms());
}

/// After the drop and after off, what was not believed still is not: on the curve, in the glow and in
/// words.
#[test]
fn law_readings_set_aside_stay_so() {
    let mut desk = super::frames::two_cones_down();
    for minutes in (10..=180).step_by(10) {
        let celsius = 720.0 - 2.4 * minutes as f64;
        desk.write(1, NOW - Span::minutes(minutes), What::Reading(Celsius(celsius)));
    }
    let broken = (NOW - Span::minutes(4), Celsius(1372.0));
    desk.write(1, broken.0, What::Reading(broken.1));
    let look = Look { target: Some(Seen::Down), ..Look::default() };
    desk.write(1, NOW - Span::minutes(3), What::Look(look));
    desk.heron().forecast = Err(Declined::Over);
    for step in [None, Some(What::Off)] {
        if let Some(off) = step {
            desk.write(1, NOW - Span::minutes(1), off);
        }
        let scene = desk.scene();
        let heron = scene.kiln("Heron").unwrap();
        assert!(heron.curve.set_aside.contains(&broken), "{:?}", heron.curve.set_aside);
        assert!(heron.curve.believed().all(|reading| reading != broken));
        assert!(heron.heat().is_none_or(|heat| heat.0 < 800.0), "{:?}", heron.heat());
        let said = words::reading_line(heron, NOW, &DIAL).unwrap();
        assert_eq!(said, "read 1372 C 4 min ago, not believed");
    }
    let past = spyhole::testing::scene::FiringScene::of(desk.memory.firing(FiringId(1)).unwrap());
    assert!(past.set_aside.iter().any(|(_, t)| *t == broken.1));
    assert!(past.curve.iter().all(|(_, t)| *t != broken.1));
}

/// When it can be drawn stands among what comes next, where there is something to go on.
#[test]
fn law_the_rail_says_when_a_kiln_can_be_drawn() {
    let mut desk = super::frames::cooled();
    desk.now = NOW + Span::hours(3);
    desk.advise_cooling();
    let draws = |desk: &Desk| -> Vec<String> {
        let coming = desk.scene().agenda();
        let lines = coming.iter().map(|one| words::agenda_line(one, desk.now, &DIAL));
        lines.filter(|line| line.contains("is cool")).collect()
    };
    assert_eq!(draws(&desk), [] as [String; 0]);
    // A first cooling is told when to read it.
    let said = words::say(desk.scene().kiln("Heron").unwrap(), desk.now, &DIAL);
    assert!(said.contains("Read it now: two readings an hour apart"), "{said}");
    let off = NOW - Span::minutes(5);
    for half_hours in 0..=5 {
        let at = off + Span::minutes(30 * half_hours + 5);
        let celsius = 20.0 + 680.0 * (-(at - off).as_hours() / 3.0).exp();
        desk.write(1, at, What::Reading(Celsius(celsius)));
    }
    desk.advise_cooling();
    // 3 h ln(680 / 80) after off at 13:35 is 20:00.
    assert_eq!(draws(&desk), ["20:00 Heron is cool"]);
    let scene = desk.scene();
    let said = words::say(scene.kiln("Heron").unwrap(), desk.now, &DIAL);
    assert_eq!(said, "Let Heron cool: off since 13:35, cool enough to unload about 20:00.");
}

/// A watch that begins within this minute has begun, rather than in no seconds.
#[test]
fn law_no_watch_begins_in_no_time() {
    let scene = Desk::busy().scene();
    let mut kiln = scene.kiln("Otter").unwrap().clone();
    for seconds in -90..90 {
        kiln.watch_opens = Some(NOW + Span::seconds(seconds));
        let said = words::watch_line(&kiln, NOW, &DIAL).unwrap();
        assert!(!said.ends_with(" 0 s"), "{said}");
        // It is twenty seconds past the minute.
        assert_eq!(said.starts_with("watch from"), seconds >= 40, "{seconds}: {said}");
    }
}

/// What a kiln was lit by last is picked for the same load, until somebody picks another.
#[test]
fn law_the_schedule_of_last_time_is_picked() {
    let picked = |keys: &str| {
        let mut desk = Desk::busy();
        let mut known = desk.schedules.iter_mut();
        let gold = known.find(|one| one.reference == "Gold in a gas kiln").unwrap();
        gold.last_in.push("Wren".into());
        desk.press(Key::BackTab);
        desk.type_in(keys);
        desk.app.form.as_ref().unwrap().said("schedule").to_owned()
    };
    assert_eq!(picked("f"), "");
    assert_eq!(picked("f1"), "Gold in a gas kiln");
    // It goes with the load, and is asked for anew where that changes.
    assert_eq!(picked("f5"), "");
    assert_eq!(picked("f1<5"), "");
    assert_eq!(picked("f5<1"), "Gold in a gas kiln");
    // Whoever says "none", or another, is not told otherwise.
    assert_eq!(picked("f11<<1"), "");
    assert_eq!(picked("f13<<1"), "Lustre and gold");
    // It is told whole on a tiny panel, picked or not.
    for (keys, name) in [("f1", "[2 Gold in a gas kiln,"), ("f1↓", "[Gold in a gas kiln..]")] {
        let mut desk = Desk::busy();
        let mut known = desk.schedules.iter_mut();
        known
            .find(|one| one.reference == "Gold in a gas kiln")
            .unwrap()
            .last_in
            .push("Wren".into());
        desk.press(Key::BackTab);
        desk.type_in(keys);
        let shown = text(&desk.draw(40, 12, PLAIN));
        assert!(shown.contains(name), "{shown}");
        assert!(keys != "f1" || shown.contains("last time]"), "{shown}");
    }
}

/// The schedules have names, and those come first that fit the load and that the kiln knows.
#[test]
fn law_the_schedules_that_fit_come_first() {
    let mut desk = Desk::busy();
    for one in &mut desk.schedules {
        if one.reference == "Decals on earthenware" {
            one.last_in.push("Wren".into());
        }
    }
    desk.type_in("<f1");
    let options = |desk: &Desk| -> Vec<String> {
        let form = desk.app.form.as_ref().unwrap();
        let field = form.fields.iter().find(|field| field.asks.key == "schedule").unwrap();
        match &field.value {
            spyhole::testing::edge::screen::form::Value::Choice { options, .. } => {
                options.iter().map(|option| option.shown.clone()).collect()
            }
            other => panic!("{other:?}"),
        }
    };
    let gold = options(&desk);
    let first =
        ["none", "Lustre and gold", "Gold in a gas kiln", "Decals on earthenware, last time"];
    assert_eq!(gold[..4], first);
    assert!(gold[4..].iter().all(|name| name.ends_with(')')), "{gold:?}");
    let shown = text(&desk.draw(120, 60, PLAIN));
    assert!(gold.iter().all(|name| shown.contains(name.as_str())), "{shown}");
    for size in [(80, 24), (40, 12)] {
        let shown = text(&desk.draw(size.0, size.1, PLAIN));
        assert!(shown.contains("2 Lustre and gold"), "{shown}");
    }
    // Where somebody is elsewhere, the name of the one picked stands there and no bare numbers.
    desk.press(Key::Tab);
    let shown = text(&desk.draw(80, 24, PLAIN));
    assert!(shown.contains("schedule    [none]  or 14 others"), "{shown}");
    desk.press(Key::BackTab);
    // Another load brings another order, and what was picked stays picked.
    desk.type_in("2");
    let picked = |desk: &Desk| {
        let form = desk.app.form.as_ref().unwrap();
        form.schedule(&desk.schedules).map(|one| one.reference.clone())
    };
    assert_eq!(picked(&desk).as_deref(), Some("Lustre and gold"));
    desk.type_in("<<5");
    assert_ne!(options(&desk), gold);
    assert_eq!(picked(&desk).as_deref(), Some("Lustre and gold"));
}

#[test]
fn law_a_kept_shop_knows_what_a_kiln_was_lit_by_last() {
    let (_folder, path) = shop_file();
    begun_by_the_program(&path, NOW);
    let mut shop = KeptShop::open(&path, "Ida".into(), Duration::ZERO, NOW).unwrap();
    let wren = Desk::busy().memory.shop().kiln("Wren").unwrap().clone();
    let set = Entry::new(About::Shop, NOW, What::KilnSet(wren));
    shop.append(&set, NOW).unwrap();
    let mut desk = Desk::busy();
    desk.type_in("<f12");
    let entry = desk.press(Key::Enter).remove(0);
    shop.snapshot(NOW).unwrap();
    assert!(shop.schedules().iter().all(|one| one.last_in.is_empty()));
    shop.append(&entry, NOW).unwrap();
    let last: Vec<String> = shop
        .schedules()
        .into_iter()
        .filter(|one| one.last_in == ["Wren"])
        .map(|one| one.reference)
        .collect();
    assert_eq!(last, ["Lustre and gold"]);
}

#[test]
fn law_a_clock_of_twelve_hours_says_the_half_once() {
    let dial = Dial { clock: Clock::TwelveHour, ..DIAL };
    let at =
        |hour: i64| Moment(NOW.0 - NOW.0.rem_euclid(86_400_000)) + Span::minutes(60 * hour + 5);
    assert_eq!(dial.time_range(at(13), at(14), " to "), "1:05 to 2:05 pm");
    assert_eq!(dial.time_range(at(11), at(14), " to "), "11:05 am to 2:05 pm");
    assert_eq!(dial.time_range(at(14), at(37), " to "), "2:05 pm to 1:05 pm", "of another day");
    assert_eq!(dial.time_range(at(14), at(39), " to "), "2:05 pm to 3:05 pm next day");
    assert_eq!(dial.time_range(at(14), at(49), " to "), "2:05 pm to 1:05 am, 2 days later");
    assert_eq!(DIAL.time_range(at(13), at(14), " to "), "13:05 to 14:05");
}

/// The opened schedule says what it calls for and what to air, on pages where there is no room.
#[test]
fn law_a_schedule_says_its_cautions() {
    let mut desk = Desk::busy().after("3lustre\n");
    let lustre = shipped_schedules::named("lustre_and_gold").unwrap();
    let mut wanted = words::schedule_airing(&lustre, DIAL.scale);
    wanted.extend(words::schedule_cautions(&lustre, &Default::default(), &DIAL));
    assert!(!wanted.is_empty());
    for size in [(80, 24), (40, 12)] {
        let mut unread = wanted.clone();
        for _ in 0..6 {
            let shown =
                text(&desk.draw(size.0, size.1, PLAIN)).replace(['│', '╭', '╮', '╰', '╯'], " ");
            let shown = shown.split_whitespace().collect::<Vec<_>>().join(" ");
            // A caution may go over from one page to the next: its beginning and its end are seen.
            unread.retain(|caution| {
                let words: Vec<&str> = caution.split_whitespace().collect();
                !shown.contains(&words[words.len() - 2..].join(" "))
            });
            desk.press(Key::Down);
        }
        assert!(unread.is_empty(), "{size:?}: {unread:?}");
    }
}
