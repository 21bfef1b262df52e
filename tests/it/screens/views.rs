//! The ledger, the schedules, the shop and the finder.

use spyhole::testing::edge::screen::app::{Input, Mouse};
use spyhole::testing::edge::screen::key::{self, Key, Meaning};
use spyhole::testing::edge::screen::pick::{Pick, Picked};
use spyhole::testing::edge::screen::view::View;
use spyhole::testing::edge::shipped_schedules;
use spyhole::testing::firing::What;
use spyhole::testing::kiln::{Fuel, Miss};
use spyhole::testing::units::{Celsius, Span};
use spyhole::testing::words::Title;

use super::desk::{Desk, PLAIN, text};

#[test]
fn law_the_ledger_is_sorted_filtered_and_compared() {
    let mut desk = Desk::with_past();
    desk.type_in("2");
    let found = |desk: &Desk| match &desk.app.view {
        View::Ledger(ledger) => {
            let found = ledger.found(desk.now, &super::DIAL);
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
    desk.type_in("\n\n");
    desk.press(Key::Escape);
    desk.type_in("over\n");
    let View::Ledger(ledger) = &desk.app.view else { panic!("the ledger is closed") };
    let open: Vec<i64> = ledger.open.iter().map(|firing| firing.past.firing.0).collect();
    assert_eq!(open, [3, 4]);
    assert_eq!(ledger.open[0].off, Some(Span::minutes(257)));
    for _ in 0..4 {
        desk.press(Key::Escape);
    }
    assert!(matches!(desk.app.view, View::Floor), "Escape leads back to the floor");
}

#[test]
fn law_a_kiln_is_lit_from_a_schedule() {
    let mut desk = Desk::busy();
    desk.press(Key::BackTab);
    desk.type_in("3lustre\nf1\n");
    let Some(What::Lit(lit)) = desk.written.last() else { panic!("{:?}", desk.written) };
    assert_eq!(lit.kiln, "Wren");
    assert!(shipped_schedules::named(lit.schedule.as_ref().unwrap()).is_some());
}

#[test]
fn law_kilns_and_load_types_are_added_and_changed() {
    let mut desk = Desk::empty();
    desk.type_in("4\nHeron\t1\t250\t1260C\n");
    let kiln = desk.memory.shop().kilns[0].clone();
    assert_eq!((kiln.name.as_str(), kiln.fuel, kiln.litres), ("Heron", Fuel::Gas, Some(250.0)));
    assert_eq!(kiln.ceiling, Some(Celsius(1260.0)));
    desk.type_in("heron\n2\n");
    let changed = desk.memory.shop().kilns;
    assert_eq!((changed.len(), changed[0].fuel), (1, Fuel::Electric));
    assert_eq!(changed[0].ceiling, kiln.ceiling, "what was not touched stays");
    desk.press(Key::Escape);
    desk.type_in("add load\nraku\t06\n");
    let load = desk.memory.shop().load_type("raku").cloned().unwrap();
    assert_eq!((load.target.name(), load.under, load.over), ("06", Miss::FireAgain, Miss::Lost));
    // The same name again is refused, and nothing is written.
    let events = desk.written.len();
    desk.type_in("\nraku\t06\n");
    assert_eq!(desk.written.len(), events);
    let problem = desk.app.form.as_ref().and_then(|form| form.problem.clone()).unwrap();
    assert!(problem.starts_with("There is \"raku\" already"), "{problem}");
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
    desk.press(Key::Escape);
    desk.type_in("/strike\n");
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
