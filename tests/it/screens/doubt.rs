//! A "down" that does not fit: asked about in the form, told while it stands, and struck by one key.

use spyhole::testing::edge::screen::key::Key;
use spyhole::testing::firing::event::{Look, Seen};
use spyhole::testing::firing::{Doubt, EventId, State, What};
use spyhole::testing::forecast::{Declined, Ground};
use spyhole::testing::units::Span;
use spyhole::testing::watch::task::Task;
use spyhole::testing::words::Title;

use super::desk::{Desk, NOW, PLAIN, text};
use super::frames::looks_that_disagree;

fn problem(desk: &Desk) -> String {
    desk.app.form.as_ref().and_then(|form| form.problem.clone()).unwrap_or_default()
}

fn state(desk: &Desk) -> State {
    desk.memory.shop().firing_in("Heron").unwrap().state
}

/// The event of the target that was seen so.
fn event_of(desk: &Desk, seen: Seen) -> EventId {
    let shop = desk.memory.shop();
    let looks = &shop.firing_in("Heron").unwrap().looks;
    looks.iter().rev().find(|looked| looked.look.target == Some(seen)).unwrap().event
}

#[test]
fn law_a_look_after_a_down_is_asked_about_with_both_times() {
    let mut desk = Desk::busy();
    let look = Look { target: Some(Seen::Down), guide: Some(Seen::Down), guard: None };
    desk.write(1, NOW - Span::minutes(4), What::Look(look));
    let before = desk.written.len();
    desk.type_in("lds\n");
    let asked = problem(&desk);
    let expected = "The target was down at 13:36 and standing at 13:40: a cone does not stand up \
                    again. Enter again if you saw it so.";
    assert_eq!(asked, expected);
    desk.type_in("\n");
    assert_eq!(desk.written.len(), before + 1, "asked once");
    assert_eq!(state(&desk), State::Dropped, "the call stands");
}

/// A look entered late, with its time, is held against those after it as well.
#[test]
fn law_a_late_look_is_asked_about_by_its_own_time() {
    let mut desk = Desk::busy();
    desk.type_in("ldd");
    desk.press(Key::Tab);
    desk.type_in("10 min ago\n");
    let asked = problem(&desk);
    assert!(asked.starts_with("The target was down at 13:30 and standing at 13:34: "), "{asked}");
}

/// The advice gives no chance of a drop by now.
#[test]
fn law_a_down_against_all_that_is_known_is_asked_about_once() {
    let mut desk = Desk::busy();
    let before = desk.written.len();
    desk.heron().forecast.as_mut().unwrap().dropped = 0.0;
    desk.type_in("ldd\n");
    assert!(problem(&desk).contains("less than 1 chance in 250"), "{}", problem(&desk));
    desk.type_in("\n");
    assert_eq!(desk.written.len(), before + 1);
    let mut likely = Desk::busy();
    likely.heron().forecast.as_mut().unwrap().dropped = 0.3;
    likely.type_in("ldd\n");
    assert_eq!(likely.written.len(), before + 1, "nobody asks what is to be expected");
}

#[test]
fn law_the_key_that_undoes_asks_which_look_is_wrong() {
    for (key, wrong, after) in
        [("1", Seen::Down, State::Watching), ("2", Seen::Standing, State::Dropped)]
    {
        let mut desk = looks_that_disagree();
        assert_eq!(state(&desk), State::Dropped);
        let shown = text(&desk.draw(120, 40, PLAIN));
        for said in ["Shut off Heron now", "does not stand up", "to strike the wrong look."] {
            assert!(shown.contains(said), "{said}: {shown}");
        }
        let meant = event_of(&desk, wrong);
        desk.type_in("u\n");
        assert_eq!(problem(&desk), "Say first which look is wrong.");
        desk.type_in(key);
        desk.type_in("\n");
        let written = desk.written.last().unwrap().clone();
        assert!(matches!(written, What::Struck { event, .. } if event == meant), "{written:?}");
        assert_eq!(state(&desk), after);
        assert!(desk.scene().kiln("Heron").unwrap().doubted.is_none());
    }
}

/// What was mistyped at another kiln meanwhile can be taken back, and the doubt is still settled by
/// choosing its kiln.
#[test]
fn law_the_key_that_undoes_reaches_what_was_saved_since_at_another_kiln() {
    let mut desk = looks_that_disagree();
    let scene = desk.scene();
    let other = scene.kilns.iter().find(|kiln| kiln.is_lit() && kiln.kiln != "Heron").unwrap();
    let other = other.kiln.clone();
    while desk.app.kiln(&desk.scene()).unwrap().kiln != other {
        desk.press(Key::Tab);
    }
    desk.type_in("r412C\n");
    assert!(matches!(desk.written.last(), Some(What::Reading(_))), "{:?}", desk.app.form);
    desk.type_in("u");
    let form = desk.app.form.clone().unwrap();
    assert_eq!((form.title, form.kiln.as_str()), (Title::Strike, other.as_str()));
    desk.press(Key::Escape);
    while desk.app.kiln(&desk.scene()).unwrap().kiln != "Heron" {
        desk.press(Key::Tab);
    }
    desk.type_in("u");
    assert_eq!(desk.app.form.as_ref().map(|form| form.kiln.as_str()), Some("Heron"));
}

/// The key is for the look in doubt, so nothing else that is saved is promised to be undone by it.
#[test]
fn regress_the_key_that_undoes_is_promised_to_one_entry_only() {
    for (mut desk, promised) in [(Desk::busy(), true), (looks_that_disagree(), false)] {
        desk.type_in("nfog\n");
        let shown = text(&desk.draw(120, 40, PLAIN));
        assert!(shown.contains("Saved, "), "{shown}");
        assert_eq!(shown.contains("(u undoes)"), promised, "{shown}");
    }
}

#[test]
fn regress_a_doubt_is_told_to_its_end_on_a_common_terminal() {
    for guide in [None, Some(Seen::Standing)] {
        let mut desk = Desk::busy();
        let look = Look { target: Some(Seen::Down), guide, guard: None };
        desk.write(1, NOW - Span::minutes(3), What::Look(look));
        let heron = desk.heron();
        heron.say = Task::ShutOff;
        heron.otherwise = std::mem::replace(&mut heron.forecast, Err(Declined::Over)).ok();
        heron.doubt = guide.is_none().then_some(Doubt::Unlikely(0.0));
        let shown = text(&desk.draw(80, 24, PLAIN));
        let said = if guide.is_some() { "guide, which goes" } else { "chance in 250" };
        assert!(shown.contains(said) && shown.contains("wrong."), "{shown}");
    }
}

/// What a probe says is set beside what counts more, in times a potter can check.
#[test]
fn law_readings_that_count_for_little_are_told_with_their_own_drop() {
    let mut desk = Desk::busy();
    let forecast = desk.heron().forecast.as_mut().unwrap();
    let doubted = Some(NOW + Span::minutes(74));
    forecast.rests_on = vec![Ground::Readings { count: 9, last: NOW - Span::minutes(8), doubted }];
    let shown = text(&desk.draw(200, 60, PLAIN)).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(shown.contains("they count for little: by them alone it drops at 14:54"), "{shown}");
}
