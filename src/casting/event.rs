//! What is noted at the casting bench.

use crate::units::{Celsius, Moment};

closed! {
    /// What a check found. All but the first empty the mould.
    pub enum Found {
        NotYet => "not_yet",
        Well => "well",
        /// It had not let go and was pulled.
        Forced => "forced",
        Cracked => "cracked",
        /// Slip, undercut, a wall too thin: it says nothing of the hour.
        OtherCrack => "other_crack",
    }
}

/// A mould as it is described. A description of the same code replaces the one before.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Mould {
    pub code: String,
    /// In how many parts it comes apart.
    pub parts: Option<u32>,
    /// How many pieces it makes at once.
    pub pieces: Option<u32>,
    /// The slip it is usually poured with.
    pub body: String,
    /// What comes out of it.
    pub ware: String,
    pub place: String,
    pub note: String,
    /// Why it is not poured any more; empty while it is.
    pub retired: String,
}

/// One event.
#[derive(Debug, Clone)]
pub struct Event {
    pub at: Moment,
    pub what: What,
}

#[derive(Debug, Clone, PartialEq)]
pub enum What {
    Mould(Mould),
    /// Relative humidity from 0 to 1.
    Room {
        celsius: Celsius,
        humidity: f64,
    },
    /// The mould of this code has another from now on; the earlier one still finds it.
    Renamed {
        mould: String,
        name: String,
    },
    Poured {
        mould: String,
        body: String,
    },
    Drained {
        mould: String,
    },
    Check {
        mould: String,
        found: Found,
    },
}

impl What {
    /// The order of what is noted for the same moment: a mould is opened before it is poured anew.
    pub fn rank(&self) -> u8 {
        match self {
            What::Mould(_) | What::Room { .. } | What::Renamed { .. } => 0,
            What::Check { .. } => 1,
            What::Poured { .. } => 2,
            What::Drained { .. } => 3,
        }
    }
}
