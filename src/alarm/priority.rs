//! How urgent an alarm is, and what that means for its ringing.

use crate::units::Span;

closed! {
    /// How urgent an alarm is, most urgent first.
    #[derive(PartialOrd, Ord, Hash)]
    pub enum Priority {
        Highest => "highest",
        High => "high",
        Medium => "medium",
        Low => "low",
    }
}

impl Priority {
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
