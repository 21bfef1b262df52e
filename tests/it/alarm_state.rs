//! The state machine against the standard's diagram, arrow by arrow and gap by gap.

use spyhole::testing::alarm::State;
use spyhole::testing::alarm::state::AlarmInput;

/// The arrows of ANSI/ISA-18.2 and IEC 62682 for an alarm that does not latch, with the edition's
/// letters of 2016 beside them.
const ARROWS: [(State, AlarmInput, State); 23] = [
    (State::Normal, AlarmInput::Occurs, State::Unacknowledged), // A to B
    (State::Unacknowledged, AlarmInput::Acknowledge, State::Acknowledged), // B to C
    (State::Unacknowledged, AlarmInput::Returns, State::ReturnedUnacknowledged), // B to D
    (State::Acknowledged, AlarmInput::Returns, State::Normal),  // C to A
    (State::ReturnedUnacknowledged, AlarmInput::Acknowledge, State::Normal), // D to A
    (State::ReturnedUnacknowledged, AlarmInput::Occurs, State::Unacknowledged), // D to B
    (State::Acknowledged, AlarmInput::RaiseAgain, State::Unacknowledged), // C to B
    (State::Normal, AlarmInput::Shelve, State::Shelved),        // A to G
    (State::Unacknowledged, AlarmInput::Shelve, State::Shelved),
    (State::Acknowledged, AlarmInput::Shelve, State::Shelved),
    (State::ReturnedUnacknowledged, AlarmInput::Shelve, State::Shelved),
    (State::Normal, AlarmInput::Suppress, State::SuppressedByDesign), // A to H
    (State::Unacknowledged, AlarmInput::Suppress, State::SuppressedByDesign),
    (State::Acknowledged, AlarmInput::Suppress, State::SuppressedByDesign),
    (State::ReturnedUnacknowledged, AlarmInput::Suppress, State::SuppressedByDesign),
    (State::Normal, AlarmInput::TakeOut, State::OutOfService), // A to I
    (State::Unacknowledged, AlarmInput::TakeOut, State::OutOfService),
    (State::Acknowledged, AlarmInput::TakeOut, State::OutOfService),
    (State::ReturnedUnacknowledged, AlarmInput::TakeOut, State::OutOfService),
    // The latched states are reached only by a latching alarm; the way out of them is the same.
    (State::LatchedUnacknowledged, AlarmInput::Acknowledge, State::LatchedAcknowledged), // E to F
    (State::LatchedAcknowledged, AlarmInput::Reset, State::Normal),                      // F to A
    (State::LatchedUnacknowledged, AlarmInput::Reset, State::ReturnedUnacknowledged),    // E to D
    (State::Shelved, AlarmInput::Back { active: true }, State::Unacknowledged),          // G to B
];

const BACK: [(State, AlarmInput, State); 5] = [
    (State::Shelved, AlarmInput::Back { active: false }, State::Normal), // G to A
    (State::SuppressedByDesign, AlarmInput::Back { active: true }, State::Unacknowledged), // H to B
    (State::SuppressedByDesign, AlarmInput::Back { active: false }, State::Normal),
    (State::OutOfService, AlarmInput::Back { active: true }, State::Unacknowledged), // I to B
    (State::OutOfService, AlarmInput::Back { active: false }, State::Normal),
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

/// The arrow from `state` on `input`, in the diagram as written down here.
fn drawn(state: State, input: AlarmInput, latching: bool) -> Option<State> {
    match (state, input, latching) {
        (State::Unacknowledged, AlarmInput::Returns, true) => Some(State::LatchedUnacknowledged), // B to E
        (State::Acknowledged, AlarmInput::Returns, true) => Some(State::LatchedAcknowledged), // C to F
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
