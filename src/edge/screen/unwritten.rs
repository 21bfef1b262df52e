//! An entry that was not written, and why, for somebody at the screen.

use super::key;
use crate::edge::journal::JournalError;
use crate::firing::Refusal;
use crate::words;

/// An entry that was not written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unwritten {
    /// Why not, for somebody at the screen.
    pub why: String,
    /// Somebody else packed or lit the kiln first, and `why` says so.
    pub overtaken: bool,
}

/// Why an entry was not written.
pub fn reason(error: &anyhow::Error) -> Unwritten {
    let from_journal = error.downcast_ref::<JournalError>().and_then(|error| match error {
        JournalError::Refused(refusal) => Some(refusal),
        _ => None,
    });
    match from_journal.or(error.downcast_ref::<Refusal>()) {
        Some(refusal) => Unwritten {
            why: words::impossible(refusal, &key::named_keys()),
            overtaken: matches!(refusal, Refusal::ChangedMeanwhile(_)),
        },
        None => Unwritten { why: format!("{error:#}"), overtaken: false },
    }
}
