//! State as a fold over events: what is known of one firing.

use super::event::{ConePack, FiringId, Look, Outcome, Packing};
use crate::units::{Celsius, Moment};

/// Where a firing is in its life.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum State {
    /// Packed, or only named; not lit yet.
    #[default]
    Planned,
    Lit,
    /// Somebody has begun to look at the cones.
    Watching,
    /// The target was seen down; not off yet.
    Dropped,
    Off,
    /// Off, and a cooling reading was taken.
    Cooling,
    Drawn,
    Closed,
    /// Given up before its drop.
    Aborted,
}

/// Everything known of one firing, struck events left out. Lists are in the order of time.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Firing {
    pub id: FiringId,
    pub kiln: String,
    pub load_type: String,
    pub pack: Option<ConePack>,
    pub packing: Option<Packing>,
    /// The name of the schedule it follows.
    pub schedule: Option<String>,
    pub lit: Option<Moment>,
    pub readings: Vec<(Moment, Celsius)>,
    pub silences: Vec<(Moment, String)>,
    pub looks: Vec<(Moment, Look)>,
    pub turned: Vec<(Moment, String)>,
    pub notes: Vec<(Moment, String)>,
    pub off: Option<Moment>,
    pub aborted: Option<(Moment, String)>,
    pub drawn: Option<Moment>,
    pub outcome: Option<(Moment, Outcome)>,
    pub state: State,
}
