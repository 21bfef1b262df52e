//! A first glance at the shop: everything but the readings, which are nearly all there is to read.

use std::collections::BTreeSet;

use rusqlite::types::ToSql;

use super::error::JournalError;
use super::{Journal, LedgerFilter, LedgerRow, PAST_FIRINGS, folding, read};
use crate::casting::Casting;
use crate::firing::{Event, Firing, FiringId, Shop, State};
use crate::kiln::same_name;
use crate::ware::{self, Lot, Ware};
use crate::words::Zone;

impl Journal {
    /// The shop without its readings, in a fraction of the time [`Journal::shop`] takes where much
    /// burns: what there is to know of the open firings from what people did.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn glance(&self) -> Result<Shop, JournalError> {
        self.reading(|| {
            let mut shop = self.shop_without_firings()?;
            shop.open = self.without_readings(&read::open_firings(&self.connection)?)?;
            for firing in shop.open.iter_mut().filter(|firing| firing.state == State::Off) {
                if self.cools(firing.id)? {
                    firing.state = State::Cooling;
                }
            }
            shop.list_every_open_kiln();
            Ok(shop)
        })
    }

    /// The youngest firings that are off, without their readings: as many as a forecast learns from.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn past_glance(&self) -> Result<Vec<Firing>, JournalError> {
        let rows = self.youngest()?;
        let over = rows.into_iter().filter(|row| row.off.is_some()).map(|row| row.firing);
        self.reading(|| self.without_readings(&over.collect::<Vec<_>>()))
    }

    fn youngest(&self) -> Result<Vec<LedgerRow>, JournalError> {
        self.ledger(&LedgerFilter { limit: Some(PAST_FIRINGS), ..LedgerFilter::default() })
    }

    /// Where the ware of this shop is.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn ware(&self, shop: &Shop, zone: &dyn Zone) -> Result<Vec<Ware>, JournalError> {
        if shop.lots.is_empty() && !shop.casts {
            return Ok(Vec::new());
        }
        let now = self.last_written()?.unwrap_or_default();
        let (cast, rows) = match shop.casts {
            true => (Casting::new(self.bench(now)?, None, now).ok(), self.youngest()?),
            false => (None, Vec::new()),
        };
        self.reading(|| {
            // The openings have an index; few of them name a lot.
            let with_lots = "kind IN (4, 5) AND body LIKE '%\"lots\"%'";
            let (packed, _) = folding::select(&self.connection, with_lots, &[])?;
            let firings = packed.iter().filter_map(|stored| stored.event.firing);
            let firings: BTreeSet<FiringId> = firings.collect();
            let firings = self.without_readings(&firings.into_iter().collect::<Vec<_>>())?;
            let names_lots = |id: FiringId| firings.iter().any(|firing| firing.id == id);
            let of_type = |load: &str| {
                let of_it = rows.iter().filter(|row| same_name(&row.load_type, load));
                of_it.filter(|row| !names_lots(row.firing)).filter_map(|row| row.lit).max()
            };
            let mut lots = shop.lots.clone();
            let cast = cast
                .as_ref()
                .map(|cast| ware::from_moulds((cast, zone), &shop.load_types, &firings, of_type));
            let is_new = |lot: &Lot| !shop.lots.iter().any(|said| same_name(&said.name, &lot.name));
            lots.extend(cast.into_iter().flatten().filter(is_new));
            Ok(ware::follow(&lots, &firings, &shop.load_types))
        })
    }

    /// These firings, folded from all their events but the readings.
    fn without_readings(&self, firings: &[FiringId]) -> Result<Vec<Firing>, JournalError> {
        let mut events = match self.piece_with(firings)? {
            Some((first, last)) => self.deeds("id BETWEEN ?1 AND ?2", &[&first, &last])?,
            None => Vec::new(),
        };
        let folded = |id: &FiringId| {
            let is_of_it = |event: &mut Event| event.firing == Some(*id);
            let mut deeds: Vec<Event> = events.extract_if(.., is_of_it).collect();
            if deeds.is_empty() {
                deeds = self.deeds("firing = ?1", &[&id.0])?;
            }
            let (fold, _) = folding::with_opening(&self.connection, *id, deeds, &[])?;
            Ok(Firing { id: *id, ..fold.into_firing() })
        };
        firings.iter().map(folded).collect()
    }

    /// The events of this condition but the readings.
    fn deeds(&self, of: &str, values: &[&dyn ToSql]) -> Result<Vec<Event>, JournalError> {
        let condition = format!("{of} AND kind <> 1");
        let (stored, _) = folding::select(&self.connection, &condition, values)?;
        Ok(stored.into_iter().map(|stored| stored.event).collect())
    }

    /// Whether a firing that is off cools, which is only seen by a reading.
    fn cools(&self, firing: FiringId) -> Result<bool, JournalError> {
        let mut statement = self
            .connection
            .prepare_cached("SELECT 1 FROM firings WHERE id = ?1 AND state = 'cooling'")?;
        Ok(statement.exists([firing.0])?)
    }
}
