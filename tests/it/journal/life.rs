//! The life of a firing: which step is possible when, and what the fold makes of odd records.

use spyhole::testing::edge::journal::Journal;
use spyhole::testing::firing::{FiringId, Seen, State, Verdict, What};

use super::*;

fn refused(journal: &mut Journal, firing: FiringId, at: Moment, what: What, text: &str) {
    let error = journal.append_checked(&event(Some(firing), at, what), at).unwrap_err();
    assert_eq!(error.to_string(), text);
}

fn done(journal: &mut Journal, firing: FiringId, at: Moment, what: What) {
    journal.append_checked(&event(Some(firing), at, what), at).unwrap();
}

#[test]
fn law_a_firing_runs_from_planned_to_closed() {
    let (_folder, _path, mut journal) = new_shop();
    let begun = journal.append_checked(&event(None, minutes(-30), packed("North")), LIT).unwrap();
    let firing = begun.firing.unwrap();
    let state = |journal: &Journal| journal.firing(firing).unwrap().state;
    assert_eq!(state(&journal), State::Planned);
    for (at, what, expected) in [
        (0, lit("North"), State::Lit),
        (60, reading(300.0), State::Lit),
        (200, look(Seen::Leaning), State::Watching),
        (210, look(Seen::Down), State::Dropped),
        (212, What::Off, State::Off),
        (300, reading(400.0), State::Cooling),
        (900, What::Drawn, State::Drawn),
        (930, outcome(Verdict::Good), State::Closed),
    ] {
        done(&mut journal, firing, minutes(at), what);
        assert_eq!(state(&journal), expected, "after minute {at}");
    }
    assert!(journal.firing(firing).unwrap().oddities.is_empty());
    assert!(journal.shop().unwrap().open.is_empty());
}

#[test]
fn law_a_firing_can_be_given_up_and_resumed() {
    let (_folder, _path, mut journal) = new_shop();
    let firing = light(&mut journal, "North");
    done(&mut journal, firing, minutes(30), What::Aborted { reason: "gas failed".into() });
    assert_eq!(journal.firing(firing).unwrap().state, State::Aborted);
    done(&mut journal, firing, minutes(50), What::Resumed);
    let folded = journal.firing(firing).unwrap();
    assert_eq!((folded.state, folded.aborted), (State::Lit, None));
    assert_eq!(folded.interruptions.len(), 1);
    done(&mut journal, firing, minutes(60), look(Seen::Standing));
    done(&mut journal, firing, minutes(70), What::Aborted { reason: String::new() });
    done(&mut journal, firing, minutes(80), What::Resumed);
    assert_eq!(journal.firing(firing).unwrap().state, State::Watching);
}

#[test]
fn law_impossible_steps_are_refused_with_what_can_be_done_instead() {
    let (_folder, _path, mut journal) = new_shop();
    let planned = journal.append_checked(&event(None, LIT, packed("North")), LIT).unwrap();
    let firing = planned.firing.unwrap();
    let j = &mut journal;
    refused(
        j,
        firing,
        LIT,
        look(Seen::Down),
        "North is not lit, so a look cannot be: light it first with \"spyhole light North --load TYPE\"; if it was lit earlier, add --at TIME",
    );
    refused(
        j,
        firing,
        LIT,
        outcome(Verdict::Good),
        "North is not lit, so an outcome cannot be: light it first with \"spyhole light North --load TYPE\"; if it was lit earlier, add --at TIME",
    );
    done(j, firing, LIT, lit("North"));
    refused(
        j,
        firing,
        minutes(-20),
        reading(20.0),
        "a reading would be 20 min before North was lit: check the time, or strike the event \"lit\" and light it again with the right --at TIME",
    );
    refused(
        j,
        firing,
        minutes(5),
        lit("North"),
        "North is lit already: to begin another firing, draw this one first; if the time it was lit is wrong, strike that event and light it again with --at TIME",
    );
    refused(
        j,
        firing,
        minutes(5),
        packed("North"),
        "North has been lit for 5 min, so it cannot be packed now: if it was packed before, add --at TIME; the next load is packed once this one is drawn; for a remark use \"spyhole note North TEXT\"",
    );
    refused(
        j,
        firing,
        minutes(5),
        What::Drawn,
        "North is still lit: switch it off first and say so with \"spyhole off North\", or give it up with \"spyhole abort North\"",
    );
    refused(
        j,
        firing,
        minutes(5),
        What::Resumed,
        "North is lit, and only a firing that was given up can be resumed: if it was switched off too early, strike the event \"off\", give it up with \"spyhole abort North\" and then resume it",
    );
    done(j, firing, minutes(200), look(Seen::Down));
    refused(
        j,
        firing,
        minutes(201),
        What::Aborted { reason: String::new() },
        "the target cone of North was seen down, so this firing came to its end: use \"spyhole off North\"",
    );
    let not_drawn = "North is not drawn yet, and an outcome is judged on the drawn ware: first use \"spyhole drawn North\"";
    refused(j, firing, minutes(201), outcome(Verdict::Good), not_drawn);
    done(j, firing, minutes(202), What::Off);
    refused(j, firing, minutes(203), outcome(Verdict::Good), not_drawn);
    refused(
        j,
        firing,
        minutes(203),
        What::Off,
        "North is off already, so switching off cannot be: if the time of that was wrong, strike that event and enter it again with --at TIME",
    );
    refused(
        j,
        firing,
        minutes(190),
        What::Drawn,
        "drawing it would be 12 min before North was off: check the time, or strike the event \"off\" and enter it again with the right --at TIME",
    );
    done(j, firing, minutes(300), reading(400.0));
    assert_eq!(j.firing(firing).unwrap().state, State::Cooling);
    refused(j, firing, minutes(301), outcome(Verdict::Good), not_drawn);
    done(j, firing, minutes(900), What::Drawn);
    refused(
        j,
        firing,
        minutes(901),
        reading(90.0),
        "North has been drawn, so a reading cannot be: if it was before that, add --at TIME; for a remark use \"spyhole note North TEXT\"",
    );
    done(j, firing, minutes(905), outcome(Verdict::Good));
    refused(
        j,
        firing,
        minutes(906),
        outcome(Verdict::Over),
        "this firing of North has its outcome already: to change it, strike that outcome and enter it again",
    );
}

#[test]
fn law_late_entries_are_taken_in_where_they_happened() {
    let (_folder, _path, mut journal) = new_shop();
    let firing = light(&mut journal, "North");
    done(&mut journal, firing, minutes(200), What::Off);
    done(&mut journal, firing, minutes(190), look(Seen::Down));
    done(&mut journal, firing, minutes(100), reading(500.0));
    let folded = journal.firing(firing).unwrap();
    assert_eq!(folded.state, State::Off);
    assert_eq!(folded.seen_down(), Some(minutes(190)));
    assert!(folded.oddities.is_empty());
}

#[test]
fn law_two_firings_cannot_burn_in_one_kiln() {
    let (_folder, _path, mut journal) = new_shop();
    light(&mut journal, "North");
    let again = journal.append_checked(&event(None, minutes(9), lit("north")), minutes(9));
    assert!(again.unwrap_err().to_string().starts_with("North is lit already"));
    light(&mut journal, "South");
    assert_eq!(journal.shop().unwrap().open.len(), 2);
}
