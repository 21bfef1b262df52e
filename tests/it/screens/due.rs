//! Keys go where the large letters are: what is due owns them, each says whose it is, and a key that
//! comes just as another kiln becomes due writes nothing unasked.

use std::sync::Arc;

use spyhole::testing::scene::Floor;

use super::desk::{Desk, PLAIN, text};
use super::frames::begun;
use crate::prelude::*;

/// Heron and Otter are both at their drop; Wren is empty.
pub(super) fn both_due() -> Desk {
    let mut desk = super::frames::likely_down();
    let heron = desk.heron().clone();
    desk.advices[1].1 = heron;
    desk
}

/// Makes this one of both the more urgent one.
fn turn_to(desk: &mut Desk, kiln: &str) {
    for (place, name) in ["Heron", "Otter"].into_iter().enumerate() {
        let advice = &mut desk.advices[place].1;
        let dropped = if name == kiln { 0.95 } else { 0.0 };
        advice.forecast.as_mut().unwrap().dropped = dropped;
    }
    assert_eq!(desk.scene().due().unwrap().kiln, kiln);
}

fn kiln_of(desk: &Desk, entry: &Entry) -> String {
    let About::Firing(firing) = entry.about else { panic!("{entry:?}") };
    desk.memory.firing(firing).unwrap().kiln.clone()
}

fn form_kiln(desk: &Desk) -> Option<&str> {
    desk.app.form.as_ref().map(|form| form.kiln.as_str())
}

#[test]
fn law_what_is_due_owns_the_keys_until_another_kiln_is_chosen_beside_it() {
    let mut desk = both_due();
    turn_to(&mut desk, "Otter");
    // Wren was chosen while Otter was due: the choice holds beside Otter, and the form says both.
    desk.type_in("\t\t");
    assert_eq!(desk.app.kiln(&desk.scene()).unwrap().kiln, "Wren");
    desk.type_in("p");
    let shown = text(&desk.draw(80, 24, PLAIN));
    assert!(shown.contains("This is for Wren, but Otter is due now."), "{shown}");
    desk.press(Key::Escape);
    // Another kiln becomes due: the keys go with it, and the hints say so.
    turn_to(&mut desk, "Heron");
    let shown = text(&desk.draw(80, 24, PLAIN));
    for hint in ["l  look Heron", "a  answer Heron", "o  off Heron"] {
        assert!(shown.contains(hint), "{shown}");
    }
    desk.type_in("o");
    assert_eq!(form_kiln(&desk), Some("Heron"));
    let written = desk.type_in("\n\n");
    assert_eq!(kiln_of(&desk, &written[0]), "Heron");
    // Shut off, Heron makes way for Otter.
    desk.advices.remove(0);
    desk.type_in("l");
    assert_eq!(form_kiln(&desk), Some("Otter"));
}

#[test]
fn law_a_key_that_comes_as_the_large_letters_turn_writes_nothing_unasked() {
    for key in ["o", "a"] {
        // The last frame still names Heron; or the new one has not stood for long.
        for drawn in [false, true] {
            let mut desk = both_due();
            turn_to(&mut desk, "Heron");
            let scene = desk.scene();
            desk.app.shows(&scene, Span::seconds(10));
            desk.hasty = true;
            turn_to(&mut desk, "Otter");
            if drawn {
                let scene = desk.scene();
                desk.app.shows(&scene, Span::seconds(20));
            }
            desk.running = Span(20_900);
            assert!(desk.type_in(key).is_empty());
            let shown = text(&desk.draw(80, 24, PLAIN));
            assert!(shown.contains("Otter") && shown.contains("no longer"), "{key}\n{shown}");
            if key == "o" {
                assert!(desk.type_in("\n").is_empty(), "asked first");
            }
        }
    }
    // Nor is what the last frame did not let ring.
    let mut desk = calm();
    let scene = desk.scene();
    desk.app.shows(&scene, Span::seconds(10));
    desk.hasty = true;
    heron_is_due(&mut desk, true);
    assert!(desk.type_in("a").is_empty());
    // A second later it is meant.
    let mut desk = both_due();
    turn_to(&mut desk, "Heron");
    let written = desk.type_in("a");
    assert_eq!(kiln_of(&desk, &written[0]), "Heron");
}

/// A page names what is due and no key that answers, so an alarm of another kiln is none that it showed.
#[test]
fn law_a_page_answers_nothing_that_its_frame_did_not_name() {
    let mut desk = both_due();
    turn_to(&mut desk, "Otter");
    desk.type_in("a6");
    let scene = desk.scene();
    assert_eq!(scene.ringing().map(|alarm| &*alarm.kiln), Some("Heron"));
    desk.app.shows(&scene, Span::seconds(10));
    let shown = text(&desk.draw(80, 24, PLAIN));
    assert!(shown.starts_with("Otter: LOOK NOW"), "{shown}");
    (desk.hasty, desk.running) = (true, Span::seconds(20));
    turn_to(&mut desk, "Heron");
    assert!(desk.type_in("a").is_empty());
    let message = desk.app.message.clone().unwrap();
    assert!(message.text.contains("Heron"), "{message:?}");
    // Once it was shown, it is meant.
    desk.hasty = false;
    let written = desk.type_in("a");
    assert_eq!(kiln_of(&desk, &written[0]), "Heron");
}

/// A terminal tells of no key that is let go: one that is held is pressed again and again.
#[test]
fn regress_an_enter_that_is_held_answers_no_question() {
    let mut desk = both_due();
    turn_to(&mut desk, "Heron");
    desk.type_in("o");
    desk.hasty = true;
    for _ in 0..60 {
        assert!(desk.type_in("\n").is_empty());
        desk.running = desk.running + Span(660);
    }
    let shown = text(&desk.draw(80, 24, PLAIN));
    assert!(shown.contains("Nobody saw the target of Heron down"), "{shown}");
    desk.running = desk.running + Span::seconds(1);
    assert_eq!(desk.type_in("\n").len(), 1);
}

#[test]
fn regress_a_backspace_that_is_held_leaves_the_field_above_as_it_was() {
    let mut desk = both_due();
    turn_to(&mut desk, "Heron");
    desk.type_in("n");
    desk.type_in("a draught\t9:10");
    let said = |desk: &Desk| desk.app.form.as_ref().unwrap().said("text").to_owned();
    assert_eq!(said(&desk), "a draught");
    desk.type_in(&"←".repeat(30));
    assert_eq!(said(&desk), "a draught");
}

#[test]
fn law_shutting_off_a_kiln_nobody_saw_down_is_asked_about_once() {
    let mut desk = both_due();
    turn_to(&mut desk, "Heron");
    let alarms = desk.scene().alarms;
    assert!(alarms.iter().any(|alarm| alarm.kiln == "Heron"), "{alarms:?}");
    assert!(desk.type_in("o\n").is_empty());
    let shown = text(&desk.draw(80, 24, PLAIN));
    assert!(shown.contains("Nobody saw the target of Heron down"), "{shown}");
    assert_eq!(desk.type_in("\n").len(), 1);
    // The next kiln has the large letters at once, though the advice is that of before.
    assert_eq!(desk.scene().due().unwrap().kiln, "Otter");
    let shown = text(&desk.draw(80, 24, PLAIN));
    let heron = shown.lines().find(|line| line.contains("Heron ■ off"));
    assert!(heron.is_some_and(|line| line.contains("read it")), "{shown}");
    // No alarm that was found before calls to its spyhole any more.
    let (shop, advices) = (Arc::new(desk.memory.shop()), Arc::new(desk.advices.clone()));
    let scene = Floor { shop, advices, alarms, ..Floor::default() }.scene(desk.now);
    assert!(scene.alarms.iter().all(|alarm| alarm.kiln != "Heron"), "{:?}", scene.alarms);
    let mut desk = both_due();
    turn_to(&mut desk, "Heron");
    let written = desk.type_in("ld\no\n");
    assert_eq!(written.len(), 2, "seen down, it is not asked about: {written:?}");
}

#[test]
fn law_the_next_kiln_is_the_line_below() {
    let mut desk = super::port::eight();
    for step in 0..=8 {
        let shown = text(&desk.draw(80, 24, PLAIN));
        let mut kilns = shown.lines().skip_while(|line| !line.contains("Heron ◉ watch: "));
        assert!(kilns.nth(step % 8).is_some_and(|line| line.starts_with("> ")), "{step}\n{shown}");
        desk.press(Key::Tab);
    }
}

#[test]
fn law_no_letter_is_silent_and_one_key_leads_home() {
    let mut desk = Desk::busy();
    desk.type_in("j");
    let shown = text(&desk.draw(80, 24, PLAIN));
    assert!(shown.contains("j is no key here: ? lists them all."), "{shown}");
    desk.type_in("v1");
    assert!(!desk.app.far);
}

/// Heron is not due, or is again.
pub(super) fn heron_is_due(desk: &mut Desk, due: bool) {
    desk.heron().say = if due { Task::ProbablyDown } else { Task::NextLook };
    desk.heron().next_look = Some(desk.now + Span::minutes(if due { -1 } else { 40 }));
    desk.heron().forecast.as_mut().unwrap().dropped = if due { 0.9 } else { 0.0 };
    assert_eq!(desk.scene().due().is_some(), due);
}

/// The busy floor, nothing due anywhere.
pub(super) fn calm() -> Desk {
    let mut desk = Desk::with_past();
    heron_is_due(&mut desk, false);
    desk
}

pub(super) const DUE: Key = Key::Function(2);

#[test]
fn law_a_page_makes_way_for_what_becomes_due_and_is_found_as_it_was() {
    for (key, typed) in [("2", "gold"), ("3", "glaze"), ("4", "sto"), ("5", "")] {
        let mut desk = calm();
        desk.type_in(&format!("{key}{typed}"));
        desk.press(Key::Down);
        let page = text(&desk.draw(80, 24, PLAIN));
        heron_is_due(&mut desk, true);
        // What is pressed as it gives way was meant for the page.
        let scene = desk.scene();
        desk.app.shows(&scene, desk.running);
        desk.hasty = true;
        assert!(desk.type_in("a").is_empty());
        desk.hasty = false;
        desk.running = desk.running + Span::seconds(2);
        let floor = text(&desk.draw(80, 24, PLAIN));
        for hint in ["l  look Heron", "a  answer Heron", "o  off Heron", "F2 leads back"] {
            assert!(floor.contains(hint), "{key}: {hint}\n{floor}");
        }
        desk.type_in("l");
        assert_eq!(form_kiln(&desk), Some("Heron"));
        desk.press(Key::Escape);
        // Asked for, the page comes back though it is due, and says so.
        desk.type_in(key);
        let back = text(&desk.draw(80, 24, PLAIN));
        assert!(back.starts_with("Heron: LOOK NOW: LIKELY DOWN. F2: look"), "{back}");
        desk.press(DUE);
        assert_eq!(form_kiln(&desk), Some("Heron"));
        desk.press(Key::Escape);
        heron_is_due(&mut desk, false);
        desk.press(DUE);
        assert_eq!(text(&desk.draw(80, 24, PLAIN)), page);
    }
}

#[test]
fn law_one_key_leads_from_what_is_being_typed_to_the_kiln_that_is_due_and_back() {
    for begun in ["\tnloose brick", "\tr8", "4Wren\n\tlo"] {
        let mut desk = calm();
        desk.type_in(begun);
        heron_is_due(&mut desk, true);
        // Letters are text still; what is due stands above.
        desk.type_in("a");
        let said = |desk: &Desk| -> Vec<String> {
            let form = desk.app.form.as_ref().unwrap();
            form.fields.iter().map(|field| field.said().to_owned()).collect()
        };
        let typed = said(&desk);
        for size in [(80, 24), (120, 40), (64, 18), (40, 12)] {
            let shown = text(&desk.draw(size.0, size.1, PLAIN));
            assert!(shown.contains("F2") && shown.contains("LOOK NOW"), "{size:?}\n{shown}");
        }
        let shown = text(&desk.draw(80, 24, PLAIN));
        assert!(shown.contains("F2 notes look at Heron; this is kept"), "{shown}");
        assert!(shown.contains("█"), "{shown}");
        desk.press(DUE);
        assert_eq!(form_kiln(&desk), Some("Heron"));
        // Half a look is kept as well.
        desk.type_in("s@");
        assert_eq!(said(&desk), typed);
        desk.press(DUE);
        assert_eq!((form_kiln(&desk), said(&desk)[0].as_str()), (Some("Heron"), "standing"));
        let written = desk.type_in("hs\n");
        assert_eq!(kiln_of(&desk, &written[0]), "Heron");
        heron_is_due(&mut desk, false);
        desk.press(DUE);
        assert_eq!(said(&desk), typed);
        assert!(desk.app.made_way().is_none());
    }
    let mut desk = calm();
    desk.press(DUE);
    assert_eq!(desk.app.message.unwrap().tone, Tone::Refused);
}

#[test]
fn law_from_a_look_to_off_takes_five_keys() {
    let mut desk = super::frames::likely_down();
    let written = desk.type_in("ld\no\n");
    let [look, off] = &written[..] else { panic!("{written:?}") };
    assert!(matches!(&look.what, What::Look(look) if look.target == Some(Seen::Down)), "{look:?}");
    assert!(matches!(off.what, What::Off), "{off:?}");
}

#[test]
fn law_a_first_reading_that_cannot_be_is_asked_about_once() {
    for (scale, typed, number) in
        [(Scale::Fahrenheit, "1250c", "1250 F"), (Scale::Celsius, "1250C", "677 C")]
    {
        let mut desk = Desk::busy();
        desk.dial.scale = scale;
        let gold = lit_with(
            "Wren",
            "gold",
            ConePack::usual(Cone::parse("018").unwrap(), Family::SelfSupporting),
        );
        let lit = Entry::new(About::NewFiring, desk.now - Span::hours(3), What::Lit(gold));
        desk.memory.append(&lit, Who::Program, desk.now).unwrap();
        while desk.app.kiln(&desk.scene()).unwrap().kiln != "Wren" {
            desk.press(Key::Tab);
        }
        let typed = format!("r{typed}");
        desk.type_in(&typed);
        let shown = text(&desk.draw(80, 24, PLAIN));
        let shown = shown.replace('│', " ").split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(shown.contains(&format!("it is {number}, which fits")), "{shown}");
        assert!(desk.type_in("\n").is_empty());
        assert_eq!(desk.type_in("\n").len(), 1, "asked once");
    }
}

#[test]
fn law_a_firing_is_begun_in_an_empty_kiln_while_another_burns() {
    // Heron and Otter burn, Wren is empty.
    let mut desk = calm();
    assert_eq!(desk.app.kiln(&desk.scene()).unwrap().kiln, "Heron");
    desk.type_in("4add a kiln\nGrebe\t1\n!!!f");
    let shown = text(&desk.draw(80, 24, PLAIN));
    assert!(shown.contains("Heron is firing already."), "{shown}");
    assert!(shown.contains("1 Wren") && shown.contains("2 Grebe"), "{shown}");
    desk.type_in("2");
    let form = desk.app.form.as_ref().unwrap();
    assert_eq!((form.title, form.kiln.as_str()), (Title::Light, "Grebe"));
}

#[test]
fn law_trouble_with_the_bell_hides_no_answer_to_a_key() {
    let trouble = "not delivered to Ada by sound: cannot play: no such device as the one that the \
                   sound card had before, and none beside it; not delivered by desktop; no way is left";
    for size in [(80, 24), (120, 40), (64, 18), (40, 12)] {
        for far in [false, true] {
            let mut desk = both_due();
            desk.guidance = Some(trouble);
            desk.app.far = far;
            for key in ["j", "x", "a", "z", "f", "d"] {
                desk.type_in(key);
                let Some(message) = desk.app.message.clone() else {
                    desk.press(Key::Escape);
                    desk.app.far = far;
                    continue;
                };
                let shown = text(&desk.draw(size.0, size.1, PLAIN));
                let shown = shown.split_whitespace().collect::<Vec<_>>().join(" ");
                let wanted: Vec<&str> = message.text.split_whitespace().take(4).collect();
                let wanted = wanted.join(" ");
                assert!(shown.contains(&wanted), "{size:?} {far} {key}: {wanted}\n{shown}");
            }
        }
    }
}

#[test]
fn law_what_there_is_to_do_stands_large_when_nothing_is_counted_down() {
    for keys in ["", "\t"] {
        let mut desk = super::frames::cooled();
        desk.type_in(keys);
        let shown = text(&desk.draw(80, 24, PLAIN));
        assert!(shown.lines().take(6).filter(|line| line.contains('█')).count() >= 4, "{shown}");
    }
}

/// Behind what the kilns want, and not while a look is due; what is for another day is not told. How large it
/// stands where no kiln wants anything is in the golden frames.
#[test]
fn law_the_far_view_tells_what_the_plan_wants_next_today() {
    let told = |desk: &Desk| {
        let shown = text(&desk.draw(120, 40, PLAIN));
        shown.lines().find(|line| line.contains("y the plan")).map(|line| line.trim().to_owned())
    };
    let mut desk = begun("a_quiet_day").after("v");
    for (minutes, deed) in [
        (0, Some("at 8:00: Pack Wren with gold: 1 rims.")),
        (25, Some("now: Pack Wren with gold: 1 rims.")),
        (85, Some("now: Light Wren with gold: 1 rims.")),
        (150, None),
    ] {
        let mut later = begun("a_quiet_day").after("v");
        later.now = desk.now + Span::minutes(minutes);
        let line = deed.map(|deed| format!("All kilns are empty. By the plan, {deed}"));
        assert_eq!(told(&later), line, "{minutes}");
    }
    desk.type_in("v");
    assert_eq!(told(&desk), None, "the floor is the kilns' own");
    let mut desk = begun("the_day").after("!v");
    assert_eq!(told(&desk), None, "a look is due and rings");
    desk.type_in("a");
    desk.app.message = None;
    assert_eq!((told(&desk), desk.scene().ringing()), (None, None), "a look is due still");
    heron_is_due(&mut desk, false);
    let line = told(&desk).unwrap();
    let deed = "Look at Heron in 40 min, at 14:20. By the plan, at 16:55: Pack Wren with gold: ";
    assert!(line.starts_with(deed), "{line}");
}
