//! What is noted at the casting bench: the kinds of events and their fields, each told once.

use crate::hours::Staffed;
use crate::units::{Celsius, Moment};

closed! {
    /// What a check found. All but the first empty the mould.
    pub enum Found {
        NotYet => "not_yet",
        Well => "well",
        /// It had not let go and was pulled.
        Forced => "forced",
        Cracked => "cracked",
    }
}

closed! {
    /// A kind of event.
    pub enum Kind {
        Mould => "mould",
        Room => "room",
        Poured => "poured",
        Drained => "drained",
        Check => "check",
        Hours => "hours",
    }
}

/// One key of a kind of event.
#[derive(Debug, Clone, Copy)]
pub struct Field {
    pub key: &'static str,
    pub about: &'static str,
    pub example: &'static str,
    pub needed: bool,
}

/// One event.
#[derive(Debug, Clone)]
pub struct Event {
    pub at: Moment,
    pub what: What,
}

#[derive(Debug, Clone)]
pub enum What {
    /// In how many parts a mould comes apart.
    Mould {
        mould: String,
        parts: Option<u32>,
    },
    /// Relative humidity from 0 to 1.
    Room {
        celsius: Celsius,
        humidity: f64,
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
    Hours(Staffed),
}

impl What {
    /// The order of what is noted for the same moment: a mould is opened before it is poured anew.
    pub fn rank(&self) -> u8 {
        match self {
            What::Mould { .. } | What::Room { .. } | What::Hours(_) => 0,
            What::Check { .. } => 1,
            What::Poured { .. } => 2,
            What::Drained { .. } => 3,
        }
    }
}

const MOULD: Field =
    Field { key: "mould", about: "The code written on the mould", example: "\"A3\"", needed: true };

impl Kind {
    /// Its keys besides `at` and `event`.
    pub fn fields(self) -> &'static [Field] {
        const fn field(key: &'static str, about: &'static str, example: &'static str) -> Field {
            Field { key, about, example, needed: true }
        }
        const fn optional(key: &'static str, about: &'static str, example: &'static str) -> Field {
            Field { key, about, example, needed: false }
        }
        const MOULDS: [Field; 3] = [
            MOULD,
            optional("parts", "In how many parts it comes apart", "2"),
            optional("pieces", "How many pieces it makes at once", "1"),
        ];
        const ROOM: [Field; 2] = [
            field("celsius", "The temperature of the room, C, from -20 to 60", "19.5"),
            field("rh", "Its relative humidity, from 0 to 1", "0.58"),
        ];
        const POURED: [Field; 2] =
            [MOULD, field("body", "The slip that was poured", "\"porcelain\"")];
        const CHECK: [Field; 2] = [
            MOULD,
            field("result", "What was found: not_yet, well, forced or cracked", "\"not_yet\""),
        ];
        const HOURS: [Field; 4] = [
            field(
                "days",
                "The days on which somebody is there, as a list",
                "[\"mon\", \"tue\", \"wed\"]",
            ),
            field("from", "When they come, by the clock on the wall", "\"8:00\""),
            field("to", "When they leave; midnight is 24:00", "\"17:30\""),
            optional(
                "zone",
                "The time zone by its name, or the offset from UTC; UTC if left out",
                "\"Europe/London\"",
            ),
        ];
        match self {
            Kind::Mould => &MOULDS,
            Kind::Room => &ROOM,
            Kind::Poured => &POURED,
            Kind::Drained => &[MOULD],
            Kind::Check => &CHECK,
            Kind::Hours => &HOURS,
        }
    }

    /// One of its fields.
    pub fn field(self, key: &str) -> Field {
        *self.fields().iter().find(|field| field.key == key).expect("a key of the table")
    }
}
