//! A "down" that does not fit: asked about in the form, told while it stands, and struck by one key.

use super::desk::{Desk, NOW, PLAIN, text};
use crate::prelude::*;

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
        let said = if guide.is_some() { "still" } else { "chance in 250" };
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
