//! The screen in the terminal: state, update and drawing apart from each other.
//!
//! Reading order: [`key`] (what a key means), [`form`] and
//! [`entry`] (what somebody enters, and the event it stands for), [`pick`] and [`view`] (lists, and
//! what there is beside the floor), [`app`] (state and update),
//! [`review`] (what past firings teach), [`draw`] (scene to cells), [`theme`], and what touches the world: [`terminal`],
//! [`driver`]. Behind it is a shop of [`crate::edge::shop`].
//!
//! An event is written only when a form was confirmed, and is shown as saved only when the shop
//! has given it a number.

pub mod app;
pub mod draw;
pub mod driver;
pub mod entry;
pub mod export;
pub mod form;
pub mod input;
pub mod key;
pub mod pick;
pub mod review;
pub mod spots;
pub mod terminal;
pub mod theme;
pub mod unwritten;
pub mod view;

pub use driver::run;

use crate::units::Scale;
use crate::words::{Clock, Dial, Zone};

/// How this reader likes the screen.
#[derive(Debug, Clone, Copy)]
pub struct Face {
    pub scale: Scale,
    pub clock: Clock,
    pub theme: theme::Theme,
}

impl Face {
    /// Times in this zone, written the way the reader likes.
    pub fn dial(self, zone: &dyn Zone) -> Dial<'_> {
        Dial { zone, clock: self.clock, scale: self.scale }
    }
}
