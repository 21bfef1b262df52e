//! What is known of one firing.

use std::borrow::Cow;

use super::down::{Down, Looked};
use super::event::{ConePack, Fullness, GlowSeen, Outcome, Packing, Seen, Verdict, What};
use super::ids::{EventId, FiringId};
use super::life::{Refusal, Standing, State, permit};
use super::mark::Marked;
use super::read_by::{ReadBy, Readings, Source, as_one};
use crate::units::{Celsius, Moment, Span};

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
    /// The corner points of that schedule when it was lit, time since lit; empty when there is none.
    pub plan: Vec<(Span, Celsius)>,
    pub lit: Option<Moment>,
    /// The event that lit it.
    pub lit_event: Option<EventId>,
    pub readings: Vec<(Moment, Celsius)>,
    pub read_by: ReadBy,
    pub silences: Vec<(Moment, String)>,
    pub looks: Vec<Looked>,
    /// The colour of the glow, as it was named.
    pub glows: Vec<(Moment, GlowSeen)>,
    /// Who made a look, of those that name somebody.
    pub lookers: Vec<(EventId, String)>,
    /// When somebody was called to look, and the event that tells of it.
    pub calls: Vec<(EventId, Moment)>,
    /// What was forecast of the drop since it was lit.
    pub marks: Vec<Marked>,
    pub turned: Vec<(Moment, String)>,
    pub notes: Vec<(Moment, String)>,
    pub off: Option<Moment>,
    /// The giving-up that holds now; one that was resumed is among the interruptions.
    pub aborted: Option<(Moment, String)>,
    pub interruptions: Vec<Interruption>,
    pub drawn: Option<Moment>,
    pub outcome: Option<(Moment, Outcome)>,
    /// Alarms somebody has answered.
    pub acknowledged: Vec<(Moment, String)>,
    /// Alarms put off, and for how long.
    pub shelved: Vec<(Moment, String, Span)>,
    pub state: State,
    /// What does not fit together, in the order of time.
    pub oddities: Vec<Oddity>,
}

/// A firing that was given up and lit again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Interruption {
    pub aborted: Moment,
    pub reason: String,
    pub resumed: Moment,
}

/// An event that does not fit the events before it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Oddity {
    pub event: EventId,
    pub at: Moment,
    pub kind: OddityKind,
}

#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum OddityKind {
    /// A step that could not have happened then.
    #[error("{0}")]
    Impossible(Refusal),
    /// A cone cannot stand up again.
    #[error("the {cone} cone was {before} and later {after}: one of the two looks is wrong")]
    StoodUp { cone: &'static str, before: Seen, after: Seen },
    /// The record names another kiln or load than the events before it.
    #[error("this event is of kiln {after}, the events before it are of kiln {before}")]
    OtherKiln { before: String, after: String },
    /// A correction that names an event which is not there.
    #[error(
        "event {event} is to be struck, but this firing has no such event before it that can be read"
    )]
    NothingToStrike { event: EventId },
}

impl Firing {
    /// The plan it was lit by; of a firing recorded without one, what `find` makes of the name of
    /// its schedule.
    pub fn plan_or(
        &self,
        find: impl Fn(&str) -> Option<Vec<(Span, Celsius)>>,
    ) -> Option<Vec<(Span, Celsius)>> {
        if self.plan.is_empty() {
            return self.schedule.as_deref().and_then(find);
        }
        Some(self.plan.clone())
    }

    /// How full its kiln was, as somebody saw as it was unpacked, or else packed.
    pub fn full(&self) -> Option<Fullness> {
        let unpacked = self.outcome.as_ref().and_then(|(_, outcome)| outcome.full);
        unpacked.or(self.packing.as_ref()?.full)
    }

    /// As much of this firing as decides which step is possible.
    pub fn standing(&self) -> Standing<'_> {
        Standing {
            kiln: &self.kiln,
            state: self.state,
            lit: self.lit,
            off: self.off.or(self.aborted.as_ref().map(|(at, _)| *at)),
            drawn: self.drawn,
        }
    }

    /// Whether `what` can have happened at `at`; see [`permit`].
    ///
    /// # Errors
    /// [`Refusal`], whose text says why not and what can be done instead.
    pub fn permit(&self, at: Moment, what: &What) -> Result<(), Refusal> {
        permit(&self.standing(), at, what)?;
        let What::Outcome(Outcome { verdict, counted, .. }) = what else { return Ok(()) };
        let (kiln, sum) = (self.kiln.clone(), counted.sum());
        // A load fired to its end is a miss or none: called not fired, it would be left out of both.
        let not_fired = *verdict == Verdict::NotFired || counted.not_fired > Some(0);
        if not_fired && self.aborted.is_none() {
            return Err(Refusal::NotGivenUp { kiln });
        }
        match self.pieces() {
            Some(packed) if sum > packed.into() => {
                Err(Refusal::CountedTooMany { kiln, counted: sum, packed })
            }
            _ => Ok(()),
        }
    }

    /// How many pieces were packed.
    pub fn pieces(&self) -> Option<u32> {
        self.packing.as_ref().and_then(|packing| packing.pieces)
    }

    /// Whether it burns: lit, and neither off nor given up.
    pub fn burns(&self) -> bool {
        matches!(self.state, State::Lit | State::Watching | State::Dropped)
    }

    /// Whether it cools: off or given up, and not drawn.
    pub fn cools(&self) -> bool {
        matches!(self.state, State::Off | State::Cooling | State::Aborted)
    }

    /// Whether nothing is left of it: every event that began it was struck.
    pub fn is_void(&self) -> bool {
        self.lit.is_none() && self.packing.is_none()
    }

    /// Whether the target is down, by all looks there are.
    pub fn down(&self) -> Option<Down> {
        self.down_by(Moment(i64::MAX))
    }

    /// Whether the target is down, by the looks until `now`.
    pub fn down_by(&self, now: Moment) -> Option<Down> {
        let lit = self.lit?;
        Down::among(self.looks.iter().filter(|looked| looked.at >= lit && looked.at <= now))
    }

    /// When the target was first seen down.
    pub fn seen_down(&self) -> Option<Moment> {
        self.down().map(|down| down.first.at)
    }

    /// The same firing as it would be known without the looks until `now` that say down.
    pub fn without_down(&self, now: Moment) -> Firing {
        let mut firing = self.clone();
        firing.looks.retain(|looked| looked.at > now || looked.look.target != Some(Seen::Down));
        firing
    }

    /// Who or what read its temperatures, in the order in which they began.
    pub fn sources(&self) -> &[Source] {
        self.read_by.sources()
    }

    /// The readings of one of its sources, in the order of time; where nobody said whose they are,
    /// all are the first one's.
    pub fn readings_of(&self, source: usize) -> impl Iterator<Item = (Moment, Celsius)> {
        let its = move |(place, reading): (usize, &(Moment, Celsius))| {
            (self.read_by.source_of(place) == source).then_some(*reading)
        };
        self.readings.iter().enumerate().filter_map(its)
    }

    /// Its readings as if one source had read them all; see [`as_one`].
    pub fn readings_as_one(&self) -> Cow<'_, [(Moment, Celsius)]> {
        match self.sources().len() {
            0 | 1 => Cow::Borrowed(&self.readings),
            sources => {
                let each = (0..sources).map(|source| self.readings_of(source).collect());
                Cow::Owned(as_one(&each.collect::<Vec<Readings>>()).into_owned())
            }
        }
    }
}
