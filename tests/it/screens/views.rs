//! The ledger, the schedules, the shop and the finder.

use spyhole::testing::edge::screen::key;
use spyhole::testing::edge::screen::pick::{Pick, Picked};

use super::desk::{Desk, PLAIN, text};
use crate::prelude::*;

#[test]
fn law_the_ledger_is_sorted_filtered_and_compared() {
    let mut desk = Desk::with_past();
    desk.type_in("2");
    let found = |desk: &Desk| match &desk.app.view {
        View::Ledger(ledger) => {
            let found = ledger.found();
            found.iter().map(|past| past.firing.0).collect::<Vec<_>>()
        }
        _ => panic!("the ledger is closed"),
    };
    // Heron was lit before Otter today, as firings 1 and 2; Wren's are 3, a week ago, and 4.
    assert_eq!(found(&desk), [2, 1, 4, 3]);
    desk.type_in("\t\t\t");
    assert_eq!(found(&desk)[..2], [4, 3], "what went wrong comes first");
    desk.type_in("good wren");
    assert_eq!(found(&desk), [3]);
    desk.type_in("\n\n!over\n");
    let View::Ledger(ledger) = &desk.app.view else { panic!("the ledger is closed") };
    let open: Vec<i64> = ledger.open.iter().map(|firing| firing.past.firing.0).collect();
    assert_eq!(open, [3, 4]);
    assert_eq!(ledger.open[0].off, Some(Span::minutes(257)));
    desk.type_in("!!!!");
    assert!(matches!(desk.app.view, View::Floor), "Escape leads back to the floor");
}

/// Every action is found by the whole of its name, and does what its key does.
#[test]
fn law_the_finder_knows_every_action() {
    let phrases = key::phrases(true);
    for (place, binding) in key::bindings(true).enumerate() {
        let typed = phrases[place].clone();
        let finder = Pick { typed, at: 0 };
        assert_eq!(finder.with_letters(&phrases).first(), Some(&place), "{}", binding.long);
    }
    let mut desk = Desk::busy();
    desk.type_in("/lokthr\n");
    assert_eq!(desk.app.form.as_ref().map(|form| form.kiln.as_str()), Some("Heron"));
    desk.type_in("!/strike\n");
    assert_eq!(desk.app.form.as_ref().map(|form| form.title), Some(Title::Strike));
    assert_eq!(key::meaning(Key::Char('/'), false), Some(Meaning::Find));
}

#[test]
fn law_a_list_never_takes_what_the_filter_left_out() {
    let mut pick = Pick::default();
    assert_eq!(pick.press(Key::Enter, 0), Picked::Ignored);
    assert_eq!(pick.press(Key::Up, 5), Picked::Moved);
    assert_eq!(pick.press(Key::Enter, 5), Picked::Taken(4));
    assert_eq!(pick.press(Key::Enter, 2), Picked::Taken(1));
    assert_eq!(pick.press(Key::Char('x'), 2), Picked::Moved);
    assert_eq!(pick.press(Key::Enter, 2), Picked::Taken(0));
    assert_eq!(pick.press(Key::Escape, 2), Picked::Moved);
    assert_eq!(pick.press(Key::Escape, 2), Picked::Left);
}

/// A click on a kiln chooses it, one on a line opens it, one beside everything does nothing.
#[test]
fn law_the_mouse_does_what_the_keys_do() {
    let mut desk = Desk::busy();
    let size = (80, 24);
    let place = |desk: &Desk, wanted: &str| {
        let frame = text(&desk.draw(size.0, size.1, PLAIN));
        let row = frame.lines().position(|line| line.contains(wanted)).unwrap();
        (2, row as u16)
    };
    let otter = place(&desk, "Otter");
    desk.click(size, otter);
    let scene = desk.scene();
    assert_eq!(desk.app.kiln(&scene).map(|kiln| kiln.kiln.as_str()), Some("Otter"));
    desk.hear(Input::Mouse(Mouse::WheelDown));
    assert_eq!(desk.app.kiln(&scene).map(|kiln| kiln.kiln.as_str()), Some("Wren"));
    desk.type_in("4");
    let lustre = place(&desk, "lustre");
    desk.click(size, lustre);
    assert_eq!(desk.app.form.as_ref().map(|form| form.kiln.as_str()), Some("lustre"));
    desk.click(size, otter);
    assert!(desk.app.form.is_some(), "what lies under a form cannot be clicked");
}
