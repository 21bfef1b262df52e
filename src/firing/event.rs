//! Everything that happens, as plain data.
//!
//! Events are appended and never changed; a mistake is struck by a later event. What is stored in
//! a file has its own form elsewhere; this is what the program thinks in.

use std::cmp::Ordering;
use std::fmt;

use serde::{Deserialize, Serialize};

use super::ids::{EventId, FiringId};
use super::lot::Lot;
use super::mark::Mark;
use crate::casting::What as Bench;
use crate::cone::{Cone, Family};
use crate::glow::{GlowWord, Room};
use crate::hours::{Closed, Hours};
use crate::kiln::names::Names;
use crate::kiln::{Kiln, LoadType};
use crate::plan::adopted::Adopted;
use crate::plan::limits::HouseLimits;
use crate::review::Suggestion;
use crate::review::suggestion::Change;
use crate::units::{Celsius, Moment, Span};

/// One thing that happened.
#[derive(Debug, Clone, PartialEq)]
pub struct Event {
    pub id: EventId,
    /// The firing it belongs to; `None` for events of the shop itself (kilns, load types).
    pub firing: Option<FiringId>,
    /// When it happened. Events count in this order; ties in the order of writing.
    pub at: Moment,
    /// When it was written down.
    pub written: Moment,
    pub who: Who,
    pub what: What,
}

/// Who or what wrote an event.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Who {
    /// Somebody; the name may be empty when nobody said.
    Person(String),
    Probe(String),
    Program,
}

#[derive(Debug, Clone, PartialEq)]
pub enum What {
    /// A kiln was added, or described anew (same name).
    KilnSet(Kiln),
    /// A load type was added, or described anew (same name).
    LoadTypeSet(LoadType),
    /// Ware waits to be fired, or is described anew (same name).
    LotSet(Lot),
    /// The shop goes by this plan from here on.
    Planned(Adopted),
    Packed(Packing),
    Lit(Lit),
    /// A temperature, while heating or cooling.
    Reading(Celsius),
    /// From here on nothing is read, and why.
    ProbeSilent {
        reason: String,
    },
    /// From here on the kiln has another probe, or it sits elsewhere.
    ProbeChanged {
        kiln: String,
        note: String,
    },
    /// The kiln is called by another name; the one before still finds it.
    KilnRenamed {
        kiln: String,
        name: String,
    },
    /// The kiln leaves the floor; its history stays.
    KilnRetired {
        kiln: String,
        reason: String,
    },
    /// A retired kiln is back on the floor.
    KilnReturned {
        kiln: String,
    },
    /// A remark on a kiln in which there is nothing.
    KilnNote {
        kiln: String,
        text: String,
    },
    Look(Look),
    /// The colour of the chamber's glow, as somebody named it.
    Glow(GlowSeen),
    /// A burner or switch was set to this by hand.
    Turned {
        to: String,
    },
    Note {
        text: String,
    },
    Off,
    /// The firing was given up before its drop: gas failed, kiln switched off early.
    Aborted {
        reason: String,
    },
    /// An aborted firing was lit again.
    Resumed,
    Drawn,
    Outcome(Outcome),
    Acknowledged {
        alarm: String,
    },
    Shelved {
        alarm: String,
        length: Span,
    },
    /// The watch called somebody to look; the program writes it, and no forecast reads it.
    Called,
    /// What was forecast of the drop; the same holds of it.
    Marked(Mark),
    /// What the ledger suggested was accepted, and holds from here on.
    Accepted(Suggestion),
    /// When somebody is in the shop.
    Hours(Hours),
    /// Days on which nobody is.
    Closed(Closed),
    /// What the plan keeps to, all of it.
    LimitsSet(HouseLimits),
    /// What is noted at the casting bench.
    Bench(Bench),
    /// An earlier event is taken back.
    Struck {
        event: EventId,
        reason: String,
        /// The event that stands in its place, where it was corrected.
        corrected_by: Option<EventId>,
    },
}

/// What was put into a kiln.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Packing {
    pub kiln: String,
    pub load_type: String,
    pub contents: String,
    /// The lots of waiting ware that went in.
    pub lots: Vec<String>,
    pub pieces: Option<u32>,
    /// How full the kiln is, by eye.
    pub full: Option<Fullness>,
    /// What the load is worth, in the shop's own money.
    pub worth: Option<f64>,
    pub packed_by: String,
    pub pack: Option<ConePack>,
    /// Where the cone pack stands.
    pub cones_stand: String,
}

closed! {
    /// How much of the room in a kiln is taken, as a person packing it would say.
    #[derive(PartialOrd, Ord, Hash, Serialize, Deserialize)]
    pub enum Fullness {
        Full = 4 => "full",
        ThreeQuarters = 3 => "three quarters",
        Half = 2 => "half",
        Quarter = 1 => "quarter",
    }
}

closed! {
    /// A cone's part in the pack.
    #[derive(Hash)]
    pub enum Role {
        Guide => "guide",
        Target => "target",
        Guard => "guard",
    }
}

/// The cones at the spyhole.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct ConePack {
    pub family: Family,
    pub target: Cone,
    /// One cooler; warns that the drop is near.
    pub guide: Option<Cone>,
    /// One hotter; if it moves, it is late.
    pub guard: Option<Cone>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Lit {
    pub kiln: String,
    pub load_type: String,
    pub pack: ConePack,
    /// The name of the schedule it follows.
    pub schedule: Option<String>,
    /// The corner points of that schedule as it was then, time since lit: the schedule may be
    /// edited later, the plan of this firing not. Empty when there is none.
    pub plan: Vec<(Span, Celsius)>,
}

closed! {
    /// What becomes of the other entries of a firing when its lighting is corrected.
    pub enum Others {
        /// They stay, and none may lie before the lighting.
        Stay => "stay",
        /// What somebody entered moves by as much.
        Move => "move",
        /// They stay, also before the lighting, where they count for nothing.
        Keep => "keep",
    }
}

closed! {
    /// What somebody saw of one cone.
    #[derive(PartialOrd, Ord, Hash, Serialize, Deserialize)]
    pub enum Seen {
        Standing => "standing",
        Leaning => "leaning",
        Half => "half",
        Down => "down",
    }
}

/// A look through the spyhole; a cone nobody could make out is `None`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Look {
    pub target: Option<Seen>,
    pub guide: Option<Seen>,
    pub guard: Option<Seen>,
}

/// The colour of the glow, and the room it was judged in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct GlowSeen {
    pub colour: GlowWord,
    pub room: Room,
}

closed! {
    #[derive(Hash, Serialize, Deserialize)]
    pub enum Verdict {
        Under => "under",
        Good => "good",
        Over => "over",
        /// The kiln was given up: neither a miss nor a good load.
        NotFired => "not fired",
    }
}

/// Pieces of a load by how they came out, as far as somebody counted them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Counted {
    pub good: Option<u32>,
    pub under: Option<u32>,
    pub over: Option<u32>,
    /// Broken or cracked, which is no miss of the cone.
    pub broken: Option<u32>,
    pub not_fired: Option<u32>,
}

/// How the load came out.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    pub verdict: Verdict,
    pub note: String,
    /// Cones read on the shelves after drawing.
    pub shelves: Vec<ShelfCone>,
    /// What was lost, in the shop's own money.
    pub loss: Option<f64>,
    pub counted: Counted,
    /// How full the kiln was, as it was unpacked.
    pub full: Option<Fullness>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ShelfCone {
    /// Where in the kiln, in the shop's own words.
    pub place: String,
    pub cone: Cone,
    pub seen: Seen,
}

impl What {
    /// Whether somebody saw the target down.
    pub fn sees_down(&self) -> bool {
        matches!(self, What::Look(Look { target: Some(Seen::Down), .. }))
    }

    /// Whether the watch writes it by itself, and nobody enters it.
    pub fn is_of_the_watch(&self) -> bool {
        matches!(self, What::Called | What::Marked(_))
    }

    /// The kiln an event names itself, if it does; the others name their firing only.
    pub fn kiln(&self) -> Option<&str> {
        match self {
            What::Packed(packing) => Some(&packing.kiln),
            What::Lit(lit) => Some(&lit.kiln),
            _ => None,
        }
    }

    /// Calls the kiln it names by the name that it has now.
    pub fn call_by(&mut self, names: &Names) {
        let kiln = match self {
            What::KilnSet(Kiln { name, .. }) => name,
            What::Planned(adopted) => {
                return adopted.kilns().for_each(|kiln| *kiln = names.now(kiln).to_owned());
            }
            What::LotSet(Lot { of_kiln, .. }) => of_kiln,
            What::Packed(Packing { kiln, .. }) | What::Lit(Lit { kiln, .. }) => kiln,
            What::Accepted(Suggestion { change: Change::ProbeCorrection { kiln, .. }, .. }) => kiln,
            What::ProbeChanged { kiln, .. }
            | What::KilnRetired { kiln, .. }
            | What::KilnReturned { kiln }
            | What::KilnNote { kiln, .. } => kiln,
            _ => return,
        };
        *kiln = names.now(kiln).to_owned();
    }

    /// The kiln whose own story it belongs to, between the firings.
    pub fn of_kiln(&self) -> Option<&str> {
        match self {
            What::KilnRenamed { name: kiln, .. }
            | What::KilnRetired { kiln, .. }
            | What::KilnReturned { kiln }
            | What::KilnNote { kiln, .. } => Some(kiln),
            _ => None,
        }
    }
}

impl ConePack {
    /// The usual pack: the whole cones on either side of the target.
    pub fn usual(target: Cone, family: Family) -> Self {
        let made = |cone: Option<Cone>| cone.filter(|c| family.cones().any(|made| made == *c));
        ConePack { family, target, guide: made(target.cooler()), guard: made(target.hotter()) }
    }

    /// Guide, target and guard, those that are there, coolest first.
    pub fn cones(&self) -> impl Iterator<Item = Cone> {
        [self.guide, Some(self.target), self.guard].into_iter().flatten()
    }
}

impl Look {
    /// Whether a cooler cone is said to be less far down than a hotter one, which softens later:
    /// possible where a draught cools one of them, and else a slip of the finger.
    pub fn is_against_the_order(&self) -> bool {
        let seen = [self.guide, self.target, self.guard].into_iter().flatten();
        !seen.is_sorted_by(|cooler, hotter| cooler >= hotter)
    }
}

impl Outcome {
    /// With the pieces nobody counted added, where it is known how many were packed: they came out
    /// as the whole load did, or well where those that did so are counted.
    pub fn completed(mut self, packed: Option<u32>) -> Outcome {
        let rest = packed.and_then(|packed| u64::from(packed).checked_sub(self.counted.sum()));
        let Some(rest) = rest.filter(|_| self.counted != Counted::default()) else { return self };
        let Counted { good, under, over, not_fired, .. } = &mut self.counted;
        let missing = match self.verdict {
            Verdict::NotFired => not_fired,
            Verdict::Under if under.is_none() => under,
            Verdict::Over if over.is_none() => over,
            _ => good,
        };
        missing.get_or_insert(u32::try_from(rest).unwrap_or(u32::MAX));
        self
    }
}

impl Fullness {
    /// The share of the room that is taken.
    pub fn share(self) -> f64 {
        f64::from(self as u8) / 4.0
    }
}

impl Counted {
    /// Good, under, over, broken, not fired.
    fn counts(self) -> [Option<u32>; 5] {
        let Counted { good, under, over, broken, not_fired } = self;
        [good, under, over, broken, not_fired]
    }

    pub fn sum(self) -> u64 {
        self.counts().into_iter().flatten().map(u64::from).sum()
    }

    /// All pieces of the load: those packed, or else those counted where the good ones are.
    pub fn all(self, packed: Option<u32>) -> Option<u64> {
        let packed = packed.map(|packed| self.sum().max(packed.into()));
        packed.or(self.good.map(|_| self.sum()))
    }

    /// The good pieces, and of how many that were fired; `None` where they were not counted.
    pub fn good_of_fired(self) -> Option<(u32, u64)> {
        let fired = self.sum() - u64::from(self.not_fired.unwrap_or(0));
        self.good.map(|good| (good, fired))
    }

    /// How the whole load came out: good where no piece missed, else as most of those that did, and
    /// over where they are as many.
    pub fn verdict(self) -> Option<Verdict> {
        let [good, under, over, _, not_fired] = self.counts().map(Option::unwrap_or_default);
        let fired = good > 0 || not_fired == 0;
        let verdict = match under.cmp(&over) {
            Ordering::Greater => Verdict::Under,
            Ordering::Equal if over == 0 && fired => Verdict::Good,
            Ordering::Equal if over == 0 => Verdict::NotFired,
            _ => Verdict::Over,
        };
        (self != Counted::default()).then_some(verdict)
    }
}

/// `52 good, 8 over, 1 broken of 61`.
impl fmt::Display for Counted {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let named = self.counts().into_iter().zip(["good", "under", "over", "broken", "not fired"]);
        let said = named.filter_map(|(count, name)| Some((count?, name)));
        let said = said.filter(|(count, name)| *count > 0 || *name == "good");
        let said: Vec<String> = said.map(|(count, name)| format!("{count} {name}")).collect();
        let of = self.good.map(|_| format!(" of {}", self.sum())).unwrap_or_default();
        write!(f, "{}{of}", said.join(", "))
    }
}

impl Seen {
    /// The leans, degrees from upright, for which somebody would say this word: where the word is
    /// said rather than its neighbour is a matter of the eye, and the forecast treats it so.
    /// Common practice, no source: standing below 15, leaning below 35, half below 80, then down.
    pub fn lean_range_deg(self) -> (f64, f64) {
        match self {
            Seen::Standing => (0.0, 15.0),
            Seen::Leaning => (15.0, 35.0),
            Seen::Half => (35.0, 80.0),
            Seen::Down => (80.0, 90.0),
        }
    }
}

impl fmt::Display for EventId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)
    }
}

impl fmt::Display for FiringId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)
    }
}
