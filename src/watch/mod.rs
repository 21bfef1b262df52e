//! From a forecast to what to do: when to look, when to stay, when to shut off.

use crate::forecast::{Declined, Forecast};
use crate::units::{Moment, Span};

/// The one thing to do now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Say {
    Wait,
    Look,
    /// Stay at the spyhole.
    Stay,
    ShutOff,
}

/// What is known of a firing at one moment, and what follows from it.
#[derive(Debug, Clone, PartialEq)]
pub struct Advice {
    pub at: Moment,
    pub say: Say,
    pub forecast: Result<Forecast, Declined>,
    /// When the drop becomes likely enough to be watched for.
    pub watch_opens: Option<Moment>,
    /// The next time to look; at or before `at` means now.
    pub next_look: Option<Moment>,
    /// How long after the drop the load still comes out right, at the present climb.
    pub forgives: Option<Span>,
    /// How long the target has been seen down without `off`.
    pub overshoot: Option<Span>,
}

impl Say {
    pub fn name(self) -> &'static str {
        match self {
            Say::Wait => "wait",
            Say::Look => "look",
            Say::Stay => "stay",
            Say::ShutOff => "shut_off",
        }
    }
}
