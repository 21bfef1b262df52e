//! The life of a firing, and which step is possible when.
//!
//! ```text
//!              packed
//!                │
//!                ▼
//!           ┌─────────┐ lit   ┌─────┐ look  ┌──────────┐ look: target down ┌─────────┐
//!           │ planned │──────▶│ lit │──────▶│ watching │──────────────────▶│ dropped │
//!           └─────────┘       └─────┘       └──────────┘                   └─────────┘
//!                              │ ▲ │ off          │ ▲ │ off                   │ off
//!                      aborted │ │ │      aborted │ │ └───────────┐           │
//!                              ▼ │ └──────────────┼─┼──────────┐  │           │
//!                            ┌─────────┐          │ │          ▼  ▼           ▼
//!                            │ aborted │◀─────────┘ │          ┌───────────────┐
//!                            └─────────┘────────────┘          │      off      │
//!                              │        resumed (to watching   └───────────────┘
//!                              │        if anybody had looked,         │ reading
//!                              │        else to lit)                   ▼
//!                              │                               ┌───────────────┐
//!                              │ drawn                 ┌───────│    cooling    │
//!                              ▼                       │ drawn └───────────────┘
//!                            ┌───────┐ ◀───────────────┘
//!                            │ drawn │ ◀─── drawn, from off as well
//!                            └───────┘
//!                              │ outcome
//!                              ▼
//!                            ┌────────┐
//!                            │ closed │
//!                            └────────┘
//! ```
//!
//! Whether the target is down is answered in [`super::down`]; a firing that was seen down before it
//! was given up is resumed to dropped.
//!
//! Things may be entered late, so a step is judged by the time at which it happened. `permit`
//! refuses what cannot have happened; the fold uses the same rules, but only to report what is odd
//! about a record that came from elsewhere.

use serde::{Deserialize, Serialize};

use super::event::What;
use super::ids::FiringId;
use super::stands::Stands;
use crate::closed::Word;
use crate::text::argument;
use crate::units::{Moment, Span};

closed! {
    /// Where a firing is in its life; the diagram is above.
    #[derive(Hash, Default, Serialize, Deserialize)]
    pub enum State {
        /// Packed, or only named; not lit yet.
        #[default]
        Planned => "planned",
        Lit => "lit",
        /// Somebody has begun to look at the cones.
        Watching => "watching",
        /// The target was seen down; not off yet.
        Dropped => "dropped",
        Off => "off",
        /// Off, and a cooling reading was taken.
        Cooling => "cooling",
        Drawn => "drawn",
        Closed => "closed",
        /// Given up before its drop.
        Aborted => "aborted",
    }
}

impl State {
    /// The state of this name.
    pub fn named(name: &str) -> Option<State> {
        Word::named(name)
    }
}

/// As much of a firing as decides which step is possible.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Standing<'a> {
    pub kiln: &'a str,
    pub state: State,
    pub lit: Option<Moment>,
    /// When it was switched off or given up, whichever holds now.
    pub off: Option<Moment>,
    pub drawn: Option<Moment>,
}

/// Why a step is impossible, and what can be done instead.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Refusal {
    #[error(
        "{kiln} is not lit, so {step} cannot be recorded: light it first with \"spyhole light {named} --load TYPE\"; if it was lit earlier, add --at TIME",
        named = argument(.kiln)
    )]
    NotLit { kiln: String, step: &'static str },
    #[error(
        "{kiln} is {state} already: to begin another firing, draw this one first; if the time it was lit is wrong, strike that event and light it again with --at TIME"
    )]
    AlreadyLit { kiln: String, state: State },
    #[error(
        "{step} would be {early} before {kiln} was lit: check the time, or strike the event \"lit\" and light it again with the right --at TIME"
    )]
    BeforeLit { kiln: String, step: &'static str, early: Span },
    #[error(
        "{kiln} has been lit for {since}, so it cannot be packed now: if it was packed before, add --at TIME; the next load is packed once this one is drawn; for a remark use \"spyhole note {named} TEXT\"",
        named = argument(.kiln)
    )]
    PackedAfterLit { kiln: String, since: Span },
    #[error(
        "{kiln} was packed {early} after the time given, and what was said last counts: leave out --at to change it, or strike the event \"packed\" and pack it again"
    )]
    PackedLater { kiln: String, early: Span },
    #[error(
        "{kiln} was packed {early} after that, so it cannot have been lit then: check the time, or strike the event \"packed\" and pack it again with the right --at TIME"
    )]
    LitBeforePacked { kiln: String, early: Span },
    #[error(
        "{0}, and a kiln holds one load until it is drawn: to change what was packed use \"spyhole pack {kiln}\", or strike the event \"packed\" first", kiln = argument(&.0.kiln)
    )]
    AlreadyPacked(Stands),
    #[error(
        "{0}, while this was being entered, and nothing was written: see \"spyhole status\", then enter it again"
    )]
    ChangedMeanwhile(Stands),
    #[error(
        "{kiln} is {state} already, so {step} cannot be recorded: if the time of that was wrong, strike that event and enter it again with --at TIME"
    )]
    AlreadyOff { kiln: String, state: State, step: &'static str },
    #[error(
        "the target cone of {kiln} was seen down, so this firing came to its end: use \"spyhole off {named}\"",
        named = argument(.kiln)
    )]
    AbortAfterDrop { kiln: String },
    #[error(
        "{kiln} is {state}, and only a firing that was given up can be resumed: if it was shut off too early, strike the event \"off\", give it up with \"spyhole abort {named}\" and then resume it",
        named = argument(.kiln)
    )]
    NothingToResume { kiln: String, state: State },
    #[error(
        "{kiln} is still {state}: shut it off first and say so with \"spyhole off {named}\", or give it up with \"spyhole abort {named}\"",
        named = argument(.kiln)
    )]
    StillBurning { kiln: String, state: State, step: &'static str },
    #[error(
        "{step} would be {early} before {kiln} was off: check the time, or strike the event \"off\" and enter it again with the right --at TIME"
    )]
    BeforeOff { kiln: String, step: &'static str, early: Span },
    #[error(
        "{kiln} has been drawn, so {step} cannot be recorded: if it was before that, add --at TIME; for a remark use \"spyhole note {named} TEXT\"",
        named = argument(.kiln)
    )]
    AlreadyDrawn { kiln: String, step: &'static str },
    #[error(
        "{kiln} was fired then already, in firing {firing}: check the times; \"spyhole history --firing {firing}\" shows that one"
    )]
    FiredThen { kiln: String, firing: FiringId },
    #[error(
        "{kiln} is not drawn yet, and an outcome is judged on the drawn ware: first use \"spyhole drawn {named}\"",
        named = argument(.kiln)
    )]
    NotDrawn { kiln: String },
    #[error(
        "this firing of {kiln} has its outcome already: to change it, strike that outcome and enter it again"
    )]
    AlreadyClosed { kiln: String },
    #[error(
        "{kiln} is retired, so it can be neither packed nor lit: bring it back first with \"spyhole kiln bring-back {named}\"",
        named = argument(.kiln)
    )]
    Retired { kiln: String },
    #[error(
        "{kiln} is {state}, and a kiln is retired when its firings are closed: record that it was drawn and how the load came out, or strike what was packed"
    )]
    RetiredInUse { kiln: String, state: State },
    #[error("{kiln} is not retired, so it cannot be brought back: it is on the floor already")]
    NotRetired { kiln: String },
    #[error(
        "there is a kiln {known} already, or there was one of that name before: choose another name"
    )]
    NameTaken { known: String },
    #[error("this shop has no kiln {kiln}: see \"spyhole kiln list\"")]
    NoKiln { kiln: String },
    #[error(
        "this firing of {kiln} was not given up, so its load was fired: say whether it came out under, good or over; if it was given up, strike the events \"drawn\" and \"off\" and enter \"spyhole abort {named}\" with --at TIME",
        named = argument(.kiln)
    )]
    NotGivenUp { kiln: String },
    #[error(
        "{counted} pieces are counted, and {packed} were packed in {kiln}: check the counts, or correct what was packed with \"spyhole pack {named} --firing ID --pieces {counted} --at TIME\", at a time before it was lit",
        named = argument(.kiln)
    )]
    CountedTooMany { kiln: String, counted: u64, packed: u32 },
}

/// Whether `what` can have happened at `at` in a firing that stands like this.
///
/// # Errors
/// [`Refusal`], whose text says why not and what can be done instead.
pub fn permit(standing: &Standing<'_>, at: Moment, what: &What) -> Result<(), Refusal> {
    let step = Step { standing, at, name: what.phrase() };
    match what {
        // Events of the shop, remarks and corrections are possible at any time; so is what alarms leave
        // behind, else a lighting could not be struck as soon as one has rung.
        What::KilnSet(_)
        | What::LoadTypeSet(_)
        | What::LotSet(_)
        | What::Planned(_)
        | What::ProbeChanged { .. }
        | What::KilnRenamed { .. }
        | What::KilnRetired { .. }
        | What::KilnReturned { .. }
        | What::KilnNote { .. }
        | What::Accepted(_)
        | What::Hours(_)
        | What::Closed(_)
        | What::LimitsSet(_)
        | What::Bench(_)
        | What::Note { .. }
        | What::Acknowledged { .. }
        | What::Shelved { .. }
        | What::Called
        | What::Marked(_)
        | What::Struck { .. } => Ok(()),
        What::Packed(_) => step.before_lit(),
        What::Lit(_) => step.not_lit_yet(),
        What::Reading(_) | What::ProbeSilent { .. } | What::Look(_) | What::Glow(_) => {
            step.after_lit()?;
            step.before_drawn()
        }
        What::Turned { .. } => {
            step.after_lit()?;
            step.before_off()
        }
        What::Off => {
            step.after_lit()?;
            step.not_off_yet()
        }
        What::Aborted { .. } => {
            step.after_lit()?;
            if standing.state == State::Dropped {
                return Err(Refusal::AbortAfterDrop { kiln: step.kiln() });
            }
            step.not_off_yet()
        }
        What::Resumed => {
            step.after_lit()?;
            if standing.state != State::Aborted {
                return Err(Refusal::NothingToResume { kiln: step.kiln(), state: standing.state });
            }
            step.after_off()
        }
        What::Drawn => {
            step.after_lit()?;
            if standing.drawn.is_some() {
                return Err(Refusal::AlreadyDrawn { kiln: step.kiln(), step: step.name });
            }
            if standing.off.is_none() {
                return Err(Refusal::StillBurning {
                    kiln: step.kiln(),
                    state: standing.state,
                    step: step.name,
                });
            }
            step.after_off()
        }
        What::Outcome(_) => match standing.state {
            State::Drawn => Ok(()),
            State::Closed => Err(Refusal::AlreadyClosed { kiln: step.kiln() }),
            State::Planned => Err(Refusal::NotLit { kiln: step.kiln(), step: step.name }),
            _ => Err(Refusal::NotDrawn { kiln: step.kiln() }),
        },
    }
}

/// One step to be judged.
struct Step<'a> {
    standing: &'a Standing<'a>,
    at: Moment,
    name: &'static str,
}

impl Step<'_> {
    fn kiln(&self) -> String {
        self.standing.kiln.to_owned()
    }

    fn before_lit(&self) -> Result<(), Refusal> {
        match self.standing.lit {
            Some(lit) if self.at > lit => {
                Err(Refusal::PackedAfterLit { kiln: self.kiln(), since: self.at - lit })
            }
            _ => Ok(()),
        }
    }

    fn not_lit_yet(&self) -> Result<(), Refusal> {
        if self.standing.lit.is_none() {
            return Ok(());
        }
        Err(Refusal::AlreadyLit { kiln: self.kiln(), state: self.standing.state })
    }

    fn after_lit(&self) -> Result<(), Refusal> {
        match self.standing.lit {
            None => Err(Refusal::NotLit { kiln: self.kiln(), step: self.name }),
            Some(lit) if self.at < lit => {
                Err(Refusal::BeforeLit { kiln: self.kiln(), step: self.name, early: lit - self.at })
            }
            Some(_) => Ok(()),
        }
    }

    fn not_off_yet(&self) -> Result<(), Refusal> {
        if self.standing.off.is_none() {
            return Ok(());
        }
        Err(self.already_off())
    }

    fn before_off(&self) -> Result<(), Refusal> {
        match self.standing.off {
            Some(off) if self.at > off => Err(self.already_off()),
            _ => Ok(()),
        }
    }

    fn already_off(&self) -> Refusal {
        Refusal::AlreadyOff { kiln: self.kiln(), state: self.standing.state, step: self.name }
    }

    fn after_off(&self) -> Result<(), Refusal> {
        match self.standing.off {
            Some(off) if self.at < off => {
                Err(Refusal::BeforeOff { kiln: self.kiln(), step: self.name, early: off - self.at })
            }
            _ => Ok(()),
        }
    }

    fn before_drawn(&self) -> Result<(), Refusal> {
        match self.standing.drawn {
            Some(drawn) if self.at > drawn => {
                Err(Refusal::AlreadyDrawn { kiln: self.kiln(), step: self.name })
            }
            _ => Ok(()),
        }
    }
}
