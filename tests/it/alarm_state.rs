//! The state machine against the standard's diagram, arrow by arrow and gap by gap.

use std::collections::BTreeSet;

use spyhole::testing::alarm::State;
use spyhole::testing::alarm::state::AlarmInput;

/// An arrow of the standards' diagram: from a state, on an input, to a state; and whether it is that of
/// a latching alarm.
type Arrow = (&'static str, &'static str, &'static str, bool);

fn arrows() -> Vec<Arrow> {
    let lines = include_str!("../reference/alarm_states.txt").lines();
    let arrow = |line: &'static str| {
        let mut words = line.split_whitespace();
        let [from, on, to] = [0; 3].map(|_| words.next().unwrap());
        (from, on, to, line.ends_with("latching"))
    };
    lines.filter(|line| !line.starts_with('#')).map(arrow).collect()
}

const STATES: [State; 9] = [
    State::Normal,
    State::Unacknowledged,
    State::Acknowledged,
    State::ReturnedUnacknowledged,
    State::LatchedUnacknowledged,
    State::LatchedAcknowledged,
    State::Shelved,
    State::SuppressedByDesign,
    State::OutOfService,
];

const INPUTS: [AlarmInput; 10] = [
    AlarmInput::Occurs,
    AlarmInput::Returns,
    AlarmInput::Acknowledge,
    AlarmInput::RaiseAgain,
    AlarmInput::Reset,
    AlarmInput::Shelve,
    AlarmInput::Suppress,
    AlarmInput::TakeOut,
    AlarmInput::Back { active: true },
    AlarmInput::Back { active: false },
];

/// Every state on every input, of an alarm that latches and of one that does not: 28 arrows each, and
/// between 51 of the 81 pairs of states there is none.
#[test]
fn published_every_arrow_of_the_diagram_and_no_other() {
    let (drawn, mut pairs) = (arrows(), BTreeSet::new());
    for latching in [false, true] {
        let mut found = 0;
        for (state, input) in STATES.into_iter().flat_map(|state| INPUTS.map(|on| (state, on))) {
            let (from, on) = (format!("{state:?}"), format!("{input:?}"));
            let on = on.replace(" { active: ", "(").replace(" }", ")");
            let there = drawn.iter().filter(|arrow| (arrow.0, arrow.1) == (&from[..], &on[..]));
            let expected = there.filter(|arrow| latching || !arrow.3).max_by_key(|arrow| arrow.3);
            let to = state.after(input, latching).map(|to| format!("{to:?}"));
            assert_eq!(to.as_deref(), expected.map(|arrow| arrow.2), "{state} on {input:?}");
            found += usize::from(to.is_some());
            pairs.extend(to.map(|to| (from, to)));
        }
        assert_eq!(found, 28);
    }
    assert_eq!(pairs.len(), 81 - 51);
}

#[test]
fn law_only_an_unacknowledged_alarm_rings() {
    let ringing: Vec<State> = STATES.into_iter().filter(|state| state.rings()).collect();
    assert_eq!(ringing, [State::Unacknowledged]);
}
