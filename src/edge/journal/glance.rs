//! A first glance at the shop: everything but the readings, which are nearly all there is to read.

use super::error::JournalError;
use super::{Journal, read};
use crate::firing::{Firing, FiringId, Shop, State};

impl Journal {
    /// The shop without its readings, in a fraction of the time [`Journal::shop`] takes where much
    /// burns: what there is to know of the open firings from what people did.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn glance(&self) -> Result<Shop, JournalError> {
        self.reading(|| {
            let mut shop = self.shop_without_firings()?;
            let mut statement = self.connection.prepare_cached(
                "SELECT id, state = 'cooling' FROM firings WHERE state <> 'closed' AND void = 0
                 ORDER BY id",
            )?;
            let open = statement.query_map([], |row| Ok((FiringId(row.get(0)?), row.get(1)?)))?;
            for one in open {
                let (id, cools) = one?;
                let mut firing = Firing { id, ..read::deeds(&self.connection, id)?.into_firing() };
                // That a firing cools is only seen by a reading.
                if cools && firing.state == State::Off {
                    firing.state = State::Cooling;
                }
                shop.open.push(firing);
            }
            Ok(shop)
        })
    }
}
