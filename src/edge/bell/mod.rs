//! Ways to ring: the terminal, the desktop, a sound, a voice, a command of the shop's own, and
//! messages to other computers.
//!
//! One trait, [`Way`]; one thread for each way, so that one that hangs holds up no other; and one
//! [`Bell`] that gives each call to its ways, notices those that fail or hang, tries the next rung
//! of the ladder instead, and says what became of every ring.
//!
//! Reading order: this file, [`ringer`] (the bell), [`terminal`], [`desktop`], [`sound`] with
//! [`tone`], [`speech`], [`command`] with [`limited`] and [`outgoing`], [`webhook`] with [`peer`],
//! [`email`], [`mqtt`], [`page`], [`settings`], [`equip`], [`log`].

pub mod command;
pub mod desktop;
pub mod email;
pub mod equip;
pub mod limited;
pub mod log;
pub mod mqtt;
pub mod outgoing;
pub mod page;
pub mod peer;
pub mod ringer;
pub mod settings;
pub mod sound;
pub mod speech;
pub mod terminal;
pub mod tone;
pub mod webhook;

use std::fmt;
use std::time::Duration;

use crate::alarm::{Call, Key, Target, WayName};
use crate::firing::Seen;
use crate::units::Scale;
use crate::words::alarms as words;

pub use ringer::{Bell, Delivery};

/// One call to one person by one way.
#[derive(Debug, Clone, PartialEq)]
pub struct Ring {
    pub call: Call,
    pub target: Target,
    /// What to do, in one line.
    pub headline: String,
    /// Why, since when, and how.
    pub body: String,
}

/// Why a ring was not delivered.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum WayError {
    #[error("{what} was not found: {remedy}")]
    Missing { what: String, remedy: String },
    #[error("{what}: {reason}")]
    Failed { what: String, reason: String },
    #[error("{what} did not answer within {seconds} s")]
    TimedOut { what: String, seconds: u64 },
    #[error("the ring before it still hangs")]
    Busy,
}

impl WayError {
    pub fn failed(what: impl Into<String>, reason: impl fmt::Display) -> WayError {
        WayError::Failed { what: what.into(), reason: reason.to_string() }
    }
}

/// Something that can be rung. It may take its time, up to [`limit`](Way::limit): it has a thread
/// of its own.
pub trait Way: Send {
    fn name(&self) -> WayName;

    /// A ring that takes longer than this has failed.
    fn limit(&self) -> Duration;

    /// Rings, and says by what: the player, the program.
    ///
    /// # Errors
    /// [`WayError`], shown to the shop and written down.
    fn ring(&mut self, ring: &Ring) -> Result<String, WayError>;

    /// The alarm is answered or over: what still shows it can go.
    fn settle(&mut self, _key: Key) {}

    /// This process keeps watch from now on, or does so no more.
    fn hold(&mut self, _watches: bool) {}
}

/// What somebody pressed on a notification.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Press {
    Acknowledge(Vec<Key>),
    /// The target cone of this alarm's firing was seen so.
    Saw(Key, Seen),
}

impl Ring {
    pub fn new(call: &Call, target: Target, scale: Scale) -> Ring {
        Ring {
            headline: words::call_headline(call),
            body: words::call_body(call, scale),
            call: call.clone(),
            target,
        }
    }
}
