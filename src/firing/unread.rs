//! An event that is in the journal and whose content cannot be read.

use super::ids::{EventId, FiringId};
use crate::units::Moment;

/// What is still known of an event whose content cannot be read. It is left out of everything that
/// is worked out, so every answer that rests on it has to name it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unread {
    pub event: EventId,
    /// `None` for events of the shop itself.
    pub firing: Option<FiringId>,
    /// The kiln of that firing; empty where it is not known.
    pub kiln: String,
    pub at: Moment,
    /// The name of its kind in a firing record, where it is one that is known.
    pub kind: Option<&'static str>,
    /// It is whole, and was written by a newer version of the program; otherwise it is damaged.
    pub newer: bool,
    /// It began its firing, whose kiln, load and cone are known from the summary kept beside it.
    pub by_summary: bool,
}
