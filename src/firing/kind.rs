//! The kinds of events: number, name, phrase, and the fields of each.
//!
//! Store, record, command, form and documentation all come from [`Kind::fields`].

use super::event::What;
use super::fields::{self, Field};
use crate::casting::What as Bench;

/// One line a kind: number, name and phrase, the shape of its event, and its fields.
macro_rules! kinds {
    ($($kind:ident = $number:literal $name:literal $phrase:literal $what:pat => $fields:expr;)+) => {
        closed! {
            /// The kinds of events. The number is what the journal stores; it is never used again
            /// for another.
            pub enum Kind {
                $($kind = $number => $name,)+
            }
        }

        impl Kind {
            pub fn of(what: &What) -> Kind {
                match what {
                    $($what => Kind::$kind,)+
                }
            }

            /// The step within a sentence, with its article.
            pub fn phrase(self) -> &'static str {
                match self {
                    $(Kind::$kind => $phrase,)+
                }
            }

            /// Its fields, in the order in which they are asked.
            pub fn fields(self) -> &'static [Field] {
                match self {
                    $(Kind::$kind => $fields,)+
                }
            }
        }
    };
}

kinds! {
    Lit = 5 "lit" "lighting" What::Lit(_) => &fields::LIT;
    Reading = 1 "reading" "a reading" What::Reading(_) => &fields::READING;
    Look = 7 "look" "a look" What::Look(_) => &fields::LOOK;
    Glow = 26 "glow" "the colour of the glow" What::Glow(_) => &fields::GLOW;
    Off = 10 "off" "shutting off" What::Off => &[];
    Drawn = 13 "drawn" "unloading it" What::Drawn => &[];
    Outcome = 14 "outcome" "an outcome" What::Outcome(_) => &fields::OUTCOME;
    Packed = 4 "packed" "packing" What::Packed(_) => &fields::PACKED;
    Turned = 8 "turned" "turning the burner or switch" What::Turned { .. } => &fields::TURNED;
    Note = 9 "note" "a note" What::Note { .. } => &fields::NOTE;
    ProbeSilent = 6 "probe_silent" "a silent probe" What::ProbeSilent { .. }
        => &fields::PROBE_SILENT;
    Aborted = 11 "aborted" "giving it up" What::Aborted { .. } => &fields::ABORTED;
    Resumed = 12 "resumed" "resuming it" What::Resumed => &[];
    Acknowledged = 15 "acknowledged" "answering an alarm" What::Acknowledged { .. }
        => &fields::ACKNOWLEDGED;
    Shelved = 16 "shelved" "putting off an alarm" What::Shelved { .. } => &fields::SHELVED;
    Struck = 17 "struck" "striking an event" What::Struck { .. } => &fields::STRUCK;
    Kiln = 2 "kiln" "a kiln" What::KilnSet(_) => &fields::KILN;
    LoadType = 3 "load_type" "a load type" What::LoadTypeSet(_) => &fields::LOAD_TYPE;
    Accepted = 18 "accepted" "accepting a suggestion" What::Accepted(_) => &fields::ACCEPTED;
    Called = 24 "called" "a call to look" What::Called => &[];
    Marked = 25 "marked" "keeping a forecast" What::Marked(_) => &fields::MARKED;
    ProbeChanged = 19 "probe_changed" "a changed probe" What::ProbeChanged { .. }
        => &fields::PROBE_CHANGED;
    KilnRenamed = 50 "kiln_renamed" "renaming a kiln" What::KilnRenamed { .. }
        => &fields::KILN_RENAMED;
    KilnRetired = 51 "kiln_retired" "retiring a kiln" What::KilnRetired { .. }
        => &fields::KILN_RETIRED;
    KilnReturned = 52 "kiln_returned" "bringing back a kiln" What::KilnReturned { .. }
        => &fields::KILN_RETURNED;
    KilnNote = 53 "kiln_note" "a note on a kiln" What::KilnNote { .. } => &fields::KILN_NOTE;
    Hours = 40 "hours" "the hours of the shop" What::Hours(_) => &fields::HOURS;
    Closed = 41 "closed" "closed days" What::Closed(_) => &fields::CLOSED;
    Limits = 62 "limits" "what the plan keeps to" What::LimitsSet(_) => &fields::LIMITS;
    Lot = 60 "lot" "a lot of ware" What::LotSet(_) => &fields::LOT;
    Planned = 61 "planned" "going by a plan" What::Planned(_) => &fields::PLANNED;
    Mould = 42 "mould" "a mould" What::Bench(Bench::Mould(_)) => &fields::MOULD;
    MouldRenamed = 47 "mould_renamed" "renaming a mould" What::Bench(Bench::Renamed { .. })
        => &fields::MOULD_RENAMED;
    Room = 43 "room" "the air of the room" What::Bench(Bench::Room { .. }) => &fields::ROOM;
    Poured = 44 "poured" "pouring a mould" What::Bench(Bench::Poured { .. }) => &fields::POURED;
    Drained = 45 "drained" "draining a mould" What::Bench(Bench::Drained { .. })
        => &fields::DRAINED;
    Check = 46 "check" "checking a mould" What::Bench(Bench::Check { .. }) => &fields::CHECK;
}

impl What {
    /// The step within a sentence, with its article.
    pub fn phrase(&self) -> &'static str {
        Kind::of(self).phrase()
    }
}

impl Kind {
    /// Whether somebody enters it of a firing, and so may correct it.
    pub fn is_corrected(self) -> bool {
        use Kind::{Acknowledged, Called, Marked, ProbeSilent, Shelved, Struck};
        let else_written = [Acknowledged, Called, Marked, ProbeSilent, Shelved, Struck];
        !self.is_of_the_shop() && !else_written.contains(&self)
    }

    /// The version its fields are written in; every version up to it can be read.
    pub fn version(self) -> i64 {
        1
    }

    pub fn numbered(number: i64) -> Option<Kind> {
        Kind::ALL.into_iter().find(|kind| *kind as i64 == number)
    }

    /// Whether it belongs to the shop and not to a firing.
    pub fn is_of_the_shop(self) -> bool {
        use Kind::{Accepted, KilnNote, KilnRenamed, KilnRetired, KilnReturned, ProbeChanged};
        let of_kiln = [KilnRenamed, KilnRetired, KilnReturned, KilnNote, ProbeChanged];
        let of_kiln = matches!(self, Accepted | Kind::Planned) || of_kiln.contains(&self);
        of_kiln || self.describes() || self.is_of_the_bench()
    }

    /// Whether it is noted of a cast or of the room it stands in.
    pub fn is_of_the_bench(self) -> bool {
        use Kind::{Check, Drained, MouldRenamed, Poured, Room};
        matches!(self, MouldRenamed | Room | Poured | Drained | Check)
    }

    /// Whether it describes something of the shop, whenever it is written.
    pub fn describes(self) -> bool {
        use Kind::{Closed, Hours, Kiln, Limits, LoadType, Lot, Mould};
        matches!(self, Kiln | LoadType | Lot | Hours | Closed | Limits | Mould)
    }

    /// The field by which what it describes is known; none of what is there once, or is not described.
    pub fn name_field(self) -> Option<&'static Field> {
        match self {
            Kind::Limits => None,
            Kind::Lot => Some(self.field("lot")),
            _ => self.fields().first().filter(|_| self.describes()),
        }
    }

    /// The field of this key.
    ///
    /// # Panics
    /// When the kind has none: a slip in the program that the round trip of every kind finds.
    pub fn field(self, key: &str) -> &'static Field {
        let found = self.fields().iter().find(|field| field.key == key);
        found.unwrap_or_else(|| panic!("{self} has no field {key}"))
    }
}
