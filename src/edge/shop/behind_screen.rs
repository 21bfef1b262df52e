//! What stands behind a screen.

use std::fmt;

use super::kept::KeptShop;
use super::store::Entry;
use crate::firing::event::Look;
use crate::firing::{EventId, FiringId};
use crate::scene::{Floor, Scene};
use crate::units::Moment;
use crate::words::NamedKeys;

/// What stands behind a screen: a shop, and what goes on in it where it is made up. Errors are
/// shown, and the screen goes on.
pub trait Behind: fmt::Debug {
    /// The shop itself.
    fn shop(&mut self) -> &mut KeptShop;

    /// Lets the time of a made-up shop pass.
    ///
    /// # Errors
    /// When what happened there could not be written.
    fn live(&mut self, _now: Moment) -> anyhow::Result<()> {
        Ok(())
    }

    /// Everything there is to see at `now`.
    ///
    /// # Errors
    /// When the shop could not be read.
    fn snapshot(&mut self, now: Moment) -> anyhow::Result<Floor> {
        self.live(now)?;
        self.shop().snapshot(now)
    }

    /// Whether there is anything new to see since the last snapshot.
    ///
    /// # Errors
    /// When that could not be found out.
    fn changed(&mut self, now: Moment) -> anyhow::Result<bool> {
        self.live(now)?;
        self.shop().changed(now)
    }

    /// Writes an event down for good. When this returns a number, the event is durable.
    ///
    /// # Errors
    /// When it could not be written; then nothing was.
    fn append(&mut self, entry: &Entry, now: Moment) -> anyhow::Result<EventId> {
        self.shop().append(entry, now)
    }

    /// What somebody looking through the spyhole sees now; only a made-up shop knows.
    fn glimpse(&self, _firing: FiringId) -> Option<Look> {
        None
    }

    /// What drawing this firing shows of the load; only a made-up shop knows.
    fn shelves(&self, _firing: FiringId) -> Option<String> {
        None
    }

    /// A line that stays: what a rehearsal advises, or that something is wrong with the file or
    /// with the watch.
    fn guidance(&self, scene: &Scene, keys: &NamedKeys<'_>) -> Option<String>;
}

impl Behind for KeptShop {
    fn shop(&mut self) -> &mut KeptShop {
        self
    }

    fn guidance(&self, _: &Scene, _: &NamedKeys<'_>) -> Option<String> {
        self.line()
    }
}
