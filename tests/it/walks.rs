//! Calls to look, and how late people come to them.

use spyhole::testing::watch::walks::walks;

use crate::journal::{lit, minutes};
use crate::keeper::{TestShop, now};
use crate::prelude::*;

/// A firing of these events, each `(minutes since lit, who, what)`, in the order of writing.
fn firing(events: &[(i64, &str, What)]) -> Firing {
    let lit = (0, "Ida", lit("North"));
    let numbered = std::iter::once(&lit).chain(events).enumerate();
    Firing::fold(numbered.map(|(index, (at, who, what))| Event {
        id: EventId(index as i64 + 1),
        firing: Some(FiringId(1)),
        at: minutes(*at),
        written: minutes(*at),
        who: match what {
            What::Called => Who::Program,
            _ => Who::Person((*who).into()),
        },
        what: what.clone(),
    }))
}

fn look() -> What {
    What::Look(Look { target: Some(Seen::Standing), ..Look::default() })
}

fn told(firing: &Firing, past: &[Firing]) -> Vec<(f64, bool, Option<String>)> {
    let walks = walks(firing, past).into_iter();
    walks.map(|walk| (walk.late_min, walk.today, walk.who.map(str::to_owned))).collect()
}

#[test]
fn law_a_walk_is_from_a_call_to_the_first_look_after_it() {
    let ida = Some("Ida".to_owned());
    let today = firing(&[
        (100, "Ida", look()),
        (120, "", What::Called),
        (127, "Ida", look()),
        (128, "Bo", look()),
        (150, "", What::Called),
        (151, "", look()),
    ]);
    assert_eq!(told(&today, &[]), [(7.0, true, ida.clone()), (1.0, true, None)]);
    let other = firing(&[(90, "", What::Called), (94, "Ida", look())]);
    let both = [(4.0, false, ida.clone()), (7.0, true, ida), (1.0, true, None)];
    assert_eq!(told(&today, &[other]), both, "those of past firings come first");
}

#[test]
fn law_a_call_nobody_answered_tells_nothing() {
    let nobody = firing(&[(100, "Ida", look()), (120, "", What::Called)]);
    assert!(told(&nobody, &[]).is_empty());
    let too_late = firing(&[(120, "", What::Called), (181, "Ida", look())]);
    assert!(told(&too_late, &[]).is_empty(), "after an hour it is another walk");
    let called_anew =
        firing(&[(120, "", What::Called), (150, "", What::Called), (153, "", look())]);
    assert_eq!(told(&called_anew, &[]), [(3.0, true, None)], "the later call was answered");
}

#[test]
fn law_somebody_who_was_there_already_is_not_late() {
    // Looked at 118, called at 120, written down at 121.
    let there = firing(&[(120, "", What::Called), (118, "Bo", look()), (140, "Bo", look())]);
    assert_eq!(told(&there, &[]), [(0.0, true, Some("Bo".to_owned()))]);
    // Written down before the call: it does not answer it.
    let before = firing(&[(118, "Bo", look()), (120, "", What::Called)]);
    assert!(told(&before, &[]).is_empty());
}

#[test]
fn law_a_call_is_no_evidence_and_no_step_of_a_firing() {
    let plain = firing(&[(100, "Ida", look())]);
    let called = firing(&[(100, "Ida", look()), (120, "", What::Called)]);
    assert_eq!(Firing { calls: Vec::new(), ..called.clone() }, plain);
    assert_eq!(called.calls, [(EventId(3), minutes(120))]);
    let before_lit = Moment(minutes(0).0 - 1);
    assert!(called.permit(before_lit, &What::Called).is_ok(), "the lighting may be struck later");
    assert!(called.permit(minutes(0) + Span::hours(30), &What::Called).is_ok());
}

#[test]
fn law_a_lighting_is_struck_also_when_its_alarm_has_rung() {
    let mut shop = TestShop::new("{}");
    let firing = shop.light("North", Span::hours(2));
    let lit = shop.journal.fold(firing).unwrap().events()[0].id;
    shop.write(Some(firing), now(), What::Called);
    shop.write(Some(firing), now(), What::Acknowledged { alarm: "look_due".into() });
    let reason = "the wrong kiln".to_owned();
    shop.write(Some(firing), now(), What::Struck { event: lit, reason, corrected_by: None });
    assert!(shop.journal.shop().unwrap().open.is_empty());
}
