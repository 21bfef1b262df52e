//! A tiny panel on the kiln: all that matters can be read there.

use spyhole::testing::edge::screen::key;
use spyhole::testing::words;

use super::desk::{Desk, NOW, PLAIN, text};
use super::frames::own_schedules;
use super::port::{lit, usual};
use crate::prelude::*;

const TINY: (u16, u16) = (40, 12);

/// The words of a frame, without its lines and borders.
fn said(desk: &Desk) -> String {
    let frame = text(&desk.draw(TINY.0, TINY.1, PLAIN));
    let inside = frame.replace(['│', '╭', '╮', '╰', '╯', '─'], " ");
    inside.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn holds(desk: &Desk, wanted: &str) -> bool {
    let wanted = wanted.split_whitespace().collect::<Vec<_>>().join(" ");
    said(desk).contains(&wanted)
}

/// Every caution of every form is shown, or told of and a few keys away.
#[test]
fn law_no_caution_is_out_of_reach() {
    let forms: [fn() -> Desk; 6] = [
        || Desk::busy().after("<f1"),
        || own_schedules().after("<f1b"),
        || Desk::busy().after("l"),
        || Desk::busy().after("o"),
        || Desk::busy().after("xgas"),
        || super::frames::cooled().after("d"),
    ];
    for open in forms {
        let mut desk = open();
        let form = desk.app.form.clone().unwrap();
        let all: Vec<String> = form.notices.iter().chain(&form.called_for).cloned().collect();
        assert!(!all.is_empty(), "{:?}", form.title);
        let mut unread: Vec<String> = all.iter().map(|one| words::in_brief(one)).collect();
        unread.retain(|caution| !holds(&desk, caution));
        if !unread.is_empty() {
            assert!(said(&desk).contains("Read first (Up): "), "{:?}: {}", form.title, said(&desk));
        }
        while desk.app.form.as_ref().unwrap().at_field > 0 {
            desk.press(Key::BackTab);
        }
        for _ in 0..all.len() {
            desk.press(Key::Up);
            unread.retain(|caution| !holds(&desk, caution));
        }
        assert!(unread.is_empty(), "{:?}: {unread:?}", form.title);
        // What was entered is still there, and a letter goes on entering.
        desk.press(Key::Down);
        let after = desk.app.form.clone().unwrap();
        assert_eq!(format!("{:?}", after.fields), format!("{:?}", form.fields));
    }
}

/// Two long names that begin alike are cut where they still can be told apart.
#[test]
fn law_names_that_begin_alike_are_told_apart() {
    let names = [
        "The large gas kiln behind the glaze room",
        "The large gas kiln behind the glaze store",
        "Wren",
    ];
    let desk = lit(&names, usual()).after("4");
    for name in ["The large.. room", "The large.. store", "Wren"] {
        assert!(holds(&desk, name), "{name}: {}", said(&desk));
    }
    // Where there is room for them, they are whole.
    let frame = text(&desk.draw(80, 24, PLAIN));
    assert!(names.iter().all(|name| frame.contains(name)), "{frame}");
}

/// What a rehearsal shows at the spyhole is in sight while it is noted.
#[test]
fn law_what_there_is_to_see_is_in_sight() {
    let look =
        Look { guide: Some(Seen::Half), target: Some(Seen::Leaning), guard: Some(Seen::Standing) };
    let mut desk = Desk::busy().after("l");
    let form = desk.app.form.as_mut().unwrap();
    form.notices.insert(0, words::spyhole_shows(&look));
    assert!(holds(&desk, "Seen: guide h, target l, guard s."), "{}", said(&desk));
    assert!(holds(&desk, "Shaded glasses."), "{}", said(&desk));
}

#[test]
fn law_every_key_is_in_the_pages_of_the_help() {
    let mut desk = Desk::busy().after("?");
    let mut unread: Vec<_> = key::bindings(false).collect();
    for _ in 0..3 {
        unread.retain(|binding| !holds(&desk, &format!("{} {}", binding.label(), binding.short)));
        desk.press(Key::Down);
    }
    assert!(unread.is_empty(), "{unread:?}");
    desk.press(Key::Char('x'));
    assert!(desk.app.help.is_none() && desk.app.form.is_none(), "any other key only closes it");
}

/// What a teacher says stays whole below what was saved, on every screen.
#[test]
fn law_the_teacher_is_heard_out() {
    let teacher = "5 of 5: Heron is off and cools for hours; opened hot, ware cracks. + makes time \
                   run faster. A forecast is as good as what is noted: u strikes it, l records it again, \
                   and nothing of it is kept when the lesson is over.";
    let mut desk = Desk::busy().after("llds\n");
    (desk.guidance, desk.app.rehearsal) = (Some(teacher), true);
    assert!(holds(&desk, teacher), "{}", said(&desk));
    assert!(said(&desk).contains("Saved, "), "{}", said(&desk));
    for (columns, rows) in [(80, 24), (120, 40)] {
        let frame = text(&desk.draw(columns, rows, PLAIN));
        let words = frame.split_whitespace().collect::<Vec<_>>().join(" ");
        let teacher = teacher.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(words.contains(&teacher) && words.contains("Saved, "), "{frame}");
    }
    assert_eq!(desk.now, NOW);
    // What is wrong with a way to ring leaves the digits where they are.
    desk.app.rehearsal = false;
    assert!(text(&desk.draw(TINY.0, TINY.1, PLAIN)).contains("█  █"), "{}", said(&desk));
    // Where a doubt has taken their room, it is told whole below that.
    let fails = "The bell fails by sound: \"spyhole bell test\" says why.";
    let mut desk = super::frames::looks_that_disagree();
    desk.guidance = Some(fails);
    assert!(holds(&desk, fails) && holds(&desk, "strike the wrong look."), "{}", said(&desk));
    // And what is cut says so.
    let desk = super::lead::two_that_ring().after("a");
    assert!(holds(&desk, "somebody is on the way.."), "{}", said(&desk));
}

/// Nobody takes a rehearsal for the shop, whatever lies over the screen.
#[test]
fn law_what_is_made_up_says_so_under_everything() {
    for keys in
        ["", "v", "vllds\n", "vu\n", "l", "vl", "llds\nv?", "v/", "?", "/", "5", "2", "e", "4a"]
    {
        let mut desk = Desk::busy().after(keys);
        (desk.guidance, desk.app.rehearsal) = (Some("1 of 5: wait."), true);
        for (columns, rows) in [(40, 12), (80, 24), (120, 40), (200, 60)] {
            let frame = text(&desk.draw(columns, rows, PLAIN));
            assert!(frame.contains("made up"), "{keys:?}\n{frame}");
        }
    }
}
