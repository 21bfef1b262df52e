//! The life of a firing: which step is possible when, and what the fold makes of odd records.

use super::*;

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
        done(&mut journal, Some(firing), at, what);
        assert_eq!(state(&journal), expected, "after minute {at}");
    }
    assert!(journal.firing(firing).unwrap().oddities.is_empty());
    assert!(journal.shop().unwrap().open.is_empty());
}

#[test]
fn law_a_firing_can_be_given_up_and_resumed() {
    let (_folder, _path, mut journal) = new_shop();
    let firing = light(&mut journal, "North");
    done(&mut journal, Some(firing), 30, What::Aborted { reason: "gas failed".into() });
    assert_eq!(journal.firing(firing).unwrap().state, State::Aborted);
    done(&mut journal, Some(firing), 50, What::Resumed);
    let folded = journal.firing(firing).unwrap();
    assert_eq!((folded.state, folded.aborted), (State::Lit, None));
    assert_eq!(folded.interruptions.len(), 1);
    done(&mut journal, Some(firing), 60, look(Seen::Standing));
    done(&mut journal, Some(firing), 70, What::Aborted { reason: String::new() });
    done(&mut journal, Some(firing), 80, What::Resumed);
    assert_eq!(journal.firing(firing).unwrap().state, State::Watching);
}
