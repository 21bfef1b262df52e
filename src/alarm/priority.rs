//! How urgent an alarm is, and what that means for its ringing.

use std::fmt;

use crate::units::Span;

/// How urgent an alarm is, most urgent first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Priority {
    Highest,
    High,
    Medium,
    Low,
}

impl Priority {
    pub const ALL: [Priority; 4] =
        [Priority::Highest, Priority::High, Priority::Medium, Priority::Low];

    pub fn name(self) -> &'static str {
        match self {
            Priority::Highest => "highest",
            Priority::High => "high",
            Priority::Medium => "medium",
            Priority::Low => "low",
        }
    }

    /// An unanswered alarm of this priority is never silent for longer than this.
    pub const fn repeat(self) -> Span {
        match self {
            Priority::Highest => Span::minutes(1),
            Priority::High => Span::minutes(2),
            Priority::Medium => Span::minutes(5),
            Priority::Low => Span::minutes(30),
        }
    }

    /// Unanswered for this long, the next person or the next way is called as well.
    pub const fn widens_after(self) -> Span {
        match self {
            Priority::Highest => Span::minutes(2),
            Priority::High => Span::minutes(4),
            Priority::Medium => Span::minutes(10),
            Priority::Low => Span::hours(1),
        }
    }

    /// The longest it may be shelved; `None`: it cannot be shelved.
    pub const fn longest_shelf(self) -> Option<Span> {
        match self {
            Priority::Highest => None,
            Priority::High => Some(Span::minutes(30)),
            Priority::Medium => Some(Span::hours(4)),
            Priority::Low => Some(Span::hours(24)),
        }
    }
}

impl fmt::Display for Priority {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}
