//! A first glance at the shop: everything but the readings, which are nearly all there is to read.

use super::error::JournalError;
use super::{Journal, LedgerFilter, PAST_FIRINGS, read};
use crate::firing::{Event, Firing, FiringId, Shop, State};

impl Journal {
    /// The shop without its readings, in a fraction of the time [`Journal::shop`] takes where much
    /// burns: what there is to know of the open firings from what people did.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn glance(&self) -> Result<Shop, JournalError> {
        self.reading(|| {
            let mut shop = self.shop_without_firings()?;
            let open = read::open_firings(&self.connection)?;
            let end = self.end_with(&open)?;
            let mut of_all = match end.range {
                Some(range) => read::deeds_within(&self.connection, range)?,
                None => Vec::new(),
            };
            for id in open {
                let is_of_it = |event: &mut Event| event.firing == Some(id);
                let deeds: Vec<Event> = match end.range {
                    Some(_) => of_all.extract_if(.., is_of_it).collect(),
                    None => read::deeds_of(&self.connection, id)?,
                };
                let mut firing = Firing { id, ..read::folded(deeds).into_firing() };
                if firing.state == State::Off && self.cools(id)? {
                    firing.state = State::Cooling;
                }
                shop.open.push(firing);
            }
            Ok(shop)
        })
    }

    /// The youngest firings that are off, without their readings: as many as a forecast learns from.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn past_glance(&self) -> Result<Vec<Firing>, JournalError> {
        let filter = LedgerFilter { limit: Some(PAST_FIRINGS), ..LedgerFilter::default() };
        let rows = self.ledger(&filter)?;
        let over = rows.into_iter().filter(|row| row.off.is_some());
        self.reading(|| {
            let without_readings = |id: FiringId| {
                let deeds = self.stored_events("firing = ?1 AND events.kind <> 1", &[&id.0])?;
                let deeds = deeds.into_iter().map(|stored| stored.event).collect();
                Ok(Firing { id, ..read::folded(deeds).into_firing() })
            };
            over.map(|row| without_readings(row.firing)).collect()
        })
    }

    /// Whether a firing that is off cools, which is only seen by a reading.
    fn cools(&self, firing: FiringId) -> Result<bool, JournalError> {
        let mut statement = self
            .connection
            .prepare_cached("SELECT 1 FROM firings WHERE id = ?1 AND state = 'cooling'")?;
        Ok(statement.exists([firing.0])?)
    }
}
