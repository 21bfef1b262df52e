//! The state machine against the standard's diagram, arrow by arrow and gap by gap.

use spyhole::testing::alarm::State;
use spyhole::testing::alarm::state::Input;

/// The arrows of ANSI/ISA-18.2 and IEC 62682 for an alarm that does not latch, with the edition's
/// letters of 2016 beside them.
const ARROWS: [(State, Input, State); 23] = [
    (State::Normal, Input::Occurs, State::Unacknowledged), // A to B
    (State::Unacknowledged, Input::Acknowledge, State::Acknowledged), // B to C
    (State::Unacknowledged, Input::Returns, State::ReturnedUnacknowledged), // B to D
    (State::Acknowledged, Input::Returns, State::Normal),  // C to A
    (State::ReturnedUnacknowledged, Input::Acknowledge, State::Normal), // D to A
    (State::ReturnedUnacknowledged, Input::Occurs, State::Unacknowledged), // D to B
    (State::Acknowledged, Input::RaiseAgain, State::Unacknowledged), // C to B
    (State::Normal, Input::Shelve, State::Shelved),        // A to G
    (State::Unacknowledged, Input::Shelve, State::Shelved),
    (State::Acknowledged, Input::Shelve, State::Shelved),
    (State::ReturnedUnacknowledged, Input::Shelve, State::Shelved),
    (State::Normal, Input::Suppress, State::SuppressedByDesign), // A to H
    (State::Unacknowledged, Input::Suppress, State::SuppressedByDesign),
    (State::Acknowledged, Input::Suppress, State::SuppressedByDesign),
    (State::ReturnedUnacknowledged, Input::Suppress, State::SuppressedByDesign),
    (State::Normal, Input::TakeOut, State::OutOfService), // A to I
    (State::Unacknowledged, Input::TakeOut, State::OutOfService),
    (State::Acknowledged, Input::TakeOut, State::OutOfService),
    (State::ReturnedUnacknowledged, Input::TakeOut, State::OutOfService),
    // The latched states are reached only by a latching alarm; the way out of them is the same.
    (State::LatchedUnacknowledged, Input::Acknowledge, State::LatchedAcknowledged), // E to F
    (State::LatchedAcknowledged, Input::Reset, State::Normal),                      // F to A
    (State::LatchedUnacknowledged, Input::Reset, State::ReturnedUnacknowledged),    // E to D
    (State::Shelved, Input::Back { active: true }, State::Unacknowledged),          // G to B
];

const BACK: [(State, Input, State); 5] = [
    (State::Shelved, Input::Back { active: false }, State::Normal), // G to A
    (State::SuppressedByDesign, Input::Back { active: true }, State::Unacknowledged), // H to B
    (State::SuppressedByDesign, Input::Back { active: false }, State::Normal),
    (State::OutOfService, Input::Back { active: true }, State::Unacknowledged), // I to B
    (State::OutOfService, Input::Back { active: false }, State::Normal),
];

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

const INPUTS: [Input; 10] = [
    Input::Occurs,
    Input::Returns,
    Input::Acknowledge,
    Input::RaiseAgain,
    Input::Reset,
    Input::Shelve,
    Input::Suppress,
    Input::TakeOut,
    Input::Back { active: true },
    Input::Back { active: false },
];

/// The arrow from `state` on `input`, in the diagram as written down here.
fn drawn(state: State, input: Input, latching: bool) -> Option<State> {
    match (state, input, latching) {
        (State::Unacknowledged, Input::Returns, true) => Some(State::LatchedUnacknowledged), // B to E
        (State::Acknowledged, Input::Returns, true) => Some(State::LatchedAcknowledged), // C to F
        _ => ARROWS
            .iter()
            .chain(&BACK)
            .find(|(from, by, _)| *from == state && *by == input)
            .map(|(_, _, to)| *to),
    }
}

#[test]
fn published_every_arrow_of_the_diagram_and_no_other() {
    let mut arrows = 0;
    for latching in [false, true] {
        for state in STATES {
            for input in INPUTS {
                let expected = drawn(state, input, latching);
                assert_eq!(state.after(input, latching), expected, "{state} on {input:?}");
                arrows += usize::from(expected.is_some());
            }
        }
    }
    assert_eq!(arrows, 2 * (ARROWS.len() + BACK.len()));
}

/// Which pairs of states have an arrow between them, for every one of the 81 pairs.
#[test]
fn published_every_pair_of_states_without_an_arrow_has_none() {
    let to = |from: State| {
        let mut reached: Vec<State> = INPUTS
            .iter()
            .flat_map(|input| [from.after(*input, false), from.after(*input, true)])
            .flatten()
            .collect();
        reached.sort_by_key(|state| *state as u8);
        reached.dedup();
        reached
    };
    use State::*;
    let put_aside = [Shelved, SuppressedByDesign, OutOfService];
    let with = |first: &[State]| [first, &put_aside[..]].concat();
    let expected = [
        (Normal, with(&[Unacknowledged])),
        (Unacknowledged, with(&[Acknowledged, ReturnedUnacknowledged, LatchedUnacknowledged])),
        (Acknowledged, with(&[Normal, Unacknowledged, LatchedAcknowledged])),
        (ReturnedUnacknowledged, with(&[Normal, Unacknowledged])),
        (LatchedUnacknowledged, vec![ReturnedUnacknowledged, LatchedAcknowledged]),
        (LatchedAcknowledged, vec![Normal]),
        (Shelved, vec![Normal, Unacknowledged]),
        (SuppressedByDesign, vec![Normal, Unacknowledged]),
        (OutOfService, vec![Normal, Unacknowledged]),
    ];
    let mut without = 0;
    for (from, reached) in expected {
        assert_eq!(to(from), reached, "from {from}");
        without += STATES.iter().filter(|state| !reached.contains(state)).count();
    }
    assert_eq!(without, 81 - 30, "pairs without an arrow");
}

#[test]
fn law_only_an_unacknowledged_alarm_rings() {
    let ringing: Vec<State> = STATES.into_iter().filter(|state| state.rings()).collect();
    assert_eq!(ringing, [State::Unacknowledged]);
}
