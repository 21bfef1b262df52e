//! What reaches the state of the screen, what a key is judged by, and what is to be done for it: all of it
//! plain data.

use std::sync::Arc;

use super::export::Export;
use super::key::Key;
use super::spots::Spot;
use super::unwritten::Unwritten;
use crate::edge::bell::log::Of;
use crate::edge::own_schedules::Offered;
use crate::edge::shop::store::{Entries, Entry, Kept, Nearest, Record, Settings};
use crate::firing::event::Look;
use crate::firing::{EventId, Firing, FiringId};
use crate::plan::DayPlan;
use crate::scene::{PastFiring, ReviewQuestion, ReviewScene, Scene};
use crate::units::Span;
use crate::words::Dial;

/// Something that reached the screen.
#[derive(Debug, Clone)]
pub enum Input {
    Key(Key),
    Mouse(Mouse),
    /// The screen opened.
    Opened,
    /// The shop's answer to the entry handed out last.
    Answered(Result<EventId, Unwritten>),
    /// The shop's answer to the settings handed out last: those that hold now.
    Kept(Result<Box<Settings>, String>),
    /// What [`Effect::ReadSettings`] found.
    Settings(Box<Settings>),
    /// What [`Effect::ReadLedger`] found.
    Ledger(Result<Vec<PastFiring>, String>),
    /// What [`Effect::ReadFiring`] found.
    Firing(Result<Box<Firing>, String>),
    /// What [`Effect::ReadEntries`] found.
    Entries(Result<Box<Entries>, String>),
    /// What [`Effect::ReadEntry`] found.
    Entry(Result<Box<Entries>, String>),
    /// What [`Effect::ReadRecord`] found.
    Record(Box<Record>),
    /// What [`Effect::ReadNearest`] found.
    Nearest(Result<Box<Nearest>, String>),
    /// What became of [`Effect::Export`] or [`Effect::Answer`]: what to say of it, or why it was not
    /// written.
    Exported(Result<String, String>),
    /// What [`Effect::Review`] came to.
    Review(Result<Box<ReviewScene>, String>),
    /// What [`Effect::Plan`] came to.
    Plan(Result<Arc<DayPlan>, String>),
    /// The shop could not be read.
    Unreadable(String),
}

/// What was done with the mouse.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Mouse {
    /// Clicked on this.
    Clicked(Spot),
    WheelUp,
    WheelDown,
}

/// Something the driver is to do.
#[derive(Debug, Clone, PartialEq)]
pub enum Effect {
    /// Write this down and answer with [`Input::Answered`].
    Append(Entry),
    /// Keep these settings and answer with [`Input::Kept`].
    Keep(Box<Kept>),
    /// Answer with [`Input::Settings`], where the shop keeps any.
    ReadSettings,
    /// Answer with [`Input::Ledger`].
    ReadLedger,
    /// Answer with [`Input::Firing`].
    ReadFiring(FiringId),
    /// Answer with [`Input::Entries`].
    ReadEntries(FiringId),
    /// Answer with [`Input::Entry`].
    ReadEntry(EventId),
    /// Answer with [`Input::Record`], where it can be read.
    ReadRecord(FiringId),
    /// Answer with [`Input::Nearest`].
    ReadNearest(FiringId),
    /// Write a file and answer with [`Input::Exported`].
    Export(Export),
    /// Answer this alarm of the shop itself, and then with [`Input::Exported`].
    Answer(Of),
    /// Answer with [`Input::Review`].
    Review(ReviewQuestion),
    /// Answer with [`Input::Plan`].
    Plan,
    ChangeSpeed(f64),
    ChangeScale,
    ChangeClock,
    Redraw,
    Suspend,
    Quit,
}

/// What a key press is judged by.
#[derive(Debug, Clone, Copy)]
pub struct Context<'a> {
    pub scene: &'a Scene,
    pub dial: Dial<'a>,
    /// What a rehearsal shows at the chosen kiln's spyhole, and of its load when drawn.
    pub glimpse: Option<&'a Look>,
    pub shelves: Option<&'a str>,
    /// The schedules a kiln can be lit with.
    pub schedules: &'a [Offered],
    /// Since the screen opened, by a clock that only goes forward.
    pub running: Span,
}
