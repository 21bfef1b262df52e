//! The numbers of events and firings.

use serde::{Deserialize, Serialize};

/// An event's number within its shop, in the order of writing; it is what a person names.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct EventId(pub i64);

/// A firing's number within its shop, from 1.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize,
)]
pub struct FiringId(pub i64);

impl FiringId {
    /// The shop itself, where no firing is meant.
    pub const SHOP: FiringId = FiringId(0);
}
