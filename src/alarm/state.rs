//! The life of one alarm: the state machine of the standard.
//!
//! ```text
//!                          occurs
//!        NORMAL ------------------------> UNACKNOWLEDGED <-----------------+
//!        ^  ^  ^                          |      |   ^                     |
//!        |  |  |             acknowledge  |      |   | raised again        | occurs
//!        |  |  |                          v      |   | (timer)             |
//!        |  |  +---- returns ------ ACKNOWLEDGED-+---+                     |
//!        |  |                             |      | returns                 |
//!        |  |                             |      v                         |
//!        |  +------ acknowledge ----------+-- RETURNED UNACKNOWLEDGED -----+
//!        |                                |          ^
//!        |      latching alarms only:     | returns  | reset
//!        |                                v          |
//!        +--- reset --- LATCHED ACKNOWLEDGED <--- LATCHED UNACKNOWLEDGED <-- returns -- (unack.)
//!                                      acknowledge
//!
//!        normal, unacknowledged, acknowledged, returned unacknowledged
//!            -- shelve -----------> SHELVED                \
//!            -- suppress ---------> SUPPRESSED BY DESIGN    > back to NORMAL or UNACKNOWLEDGED,
//!            -- take out ---------> OUT OF SERVICE         /  as the condition is then
//! ```
//!
//! States and arrows after ANSI/ISA-18.2 and IEC 62682. The letters of the two editions differ,
//! so nothing here is named by letter.

closed! {
    /// A state of the standard.
    #[derive(Hash)]
    pub enum State {
        Normal => "normal",
        Unacknowledged => "unacknowledged",
        Acknowledged => "acknowledged",
        ReturnedUnacknowledged => "returned_unacknowledged",
        LatchedUnacknowledged => "latched_unacknowledged",
        LatchedAcknowledged => "latched_acknowledged",
        /// Put off by a person, for a limited time.
        Shelved => "shelved",
        /// Put off by the program, because another alarm says more.
        SuppressedByDesign => "suppressed_by_design",
        /// Taken out by the shop's settings, for repair.
        OutOfService => "out_of_service",
    }
}

/// What can happen to an alarm.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum AlarmInput {
    /// The condition comes.
    Occurs,
    /// The condition goes.
    Returns,
    Acknowledge,
    /// Acknowledged long ago, and nothing was done.
    RaiseAgain,
    /// A latched alarm is cleared.
    Reset,
    Shelve,
    Suppress,
    TakeOut,
    /// Shelf, suppression or repair is over; `active` is the condition at that moment.
    Back {
        active: bool,
    },
}

impl State {
    /// The state after `input`, or `None` where the diagram has no such arrow. `latching` is the
    /// rule's own.
    pub fn after(self, input: AlarmInput, latching: bool) -> Option<State> {
        use AlarmInput::*;
        use State::*;
        let next = match (self, input) {
            (Normal | ReturnedUnacknowledged, Occurs) => Unacknowledged,
            (Unacknowledged, Acknowledge) => Acknowledged,
            (ReturnedUnacknowledged, Acknowledge) => Normal,
            (LatchedUnacknowledged, Acknowledge) => LatchedAcknowledged,
            (Unacknowledged, Returns) if latching => LatchedUnacknowledged,
            (Unacknowledged, Returns) => ReturnedUnacknowledged,
            (Acknowledged, Returns) if latching => LatchedAcknowledged,
            (Acknowledged, Returns) => Normal,
            (Acknowledged, RaiseAgain) => Unacknowledged,
            (LatchedAcknowledged, Reset) => Normal,
            (LatchedUnacknowledged, Reset) => ReturnedUnacknowledged,
            (Normal | Unacknowledged | Acknowledged | ReturnedUnacknowledged, Shelve) => Shelved,
            (Normal | Unacknowledged | Acknowledged | ReturnedUnacknowledged, Suppress) => {
                SuppressedByDesign
            }
            (Normal | Unacknowledged | Acknowledged | ReturnedUnacknowledged, TakeOut) => {
                OutOfService
            }
            (Shelved | SuppressedByDesign | OutOfService, Back { active: true }) => Unacknowledged,
            (Shelved | SuppressedByDesign | OutOfService, Back { active: false }) => Normal,
            _ => return None,
        };
        Some(next)
    }

    /// Whether an alarm in this state calls for somebody.
    pub fn rings(self) -> bool {
        self == State::Unacknowledged
    }

    /// Whether it belongs on the list of what stands.
    pub fn stands(self) -> bool {
        self != State::Normal
    }
}
