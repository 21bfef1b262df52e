//! The devices of the page, which ring by themselves: the ring is delivered once one of them says that it sounds.

use std::path::PathBuf;
use std::thread;
use std::time::{Duration, Instant};

use super::{Ring, Way, WayError};
use crate::alarm::{Alarm, WayName};
use crate::edge::journal::devices::{self, Rang};
use crate::units::{Moment, Span};
use crate::words;

/// How often it is asked who says so.
const ASK_EVERY: Duration = Duration::from_millis(200);
/// Somebody who tries the sound of a device has so long to try the bell.
const TRIED_WITHIN: Span = Span::minutes(5);

/// The page of the shop in this file, and how long its devices are given.
#[derive(Debug)]
pub struct OnPage {
    shop: PathBuf,
    within: Duration,
}

impl OnPage {
    pub fn new(shop: PathBuf, within: Duration) -> OnPage {
        OnPage { shop, within }
    }

    /// From when on a device counts that says so: it repeats by its own clock.
    fn since(&self, ring: &Ring) -> Moment {
        let repeats = ring.call.alarms.iter().map(|alarm| alarm.key.task.repeat());
        let repeat = repeats.max().map(|most| most + Span::seconds(self.within.as_secs() as i64));
        ring.call.at - repeat.unwrap_or(TRIED_WITHIN)
    }
}

impl Way for OnPage {
    fn name(&self) -> WayName {
        WayName::Page
    }

    fn limit(&self) -> Duration {
        self.within + Duration::from_secs(3)
    }

    fn ring(&mut self, ring: &Ring) -> Result<String, WayError> {
        let failed = |reason: String| WayError::failed(words::PAGE_WAY, reason);
        let (since, begun) = (self.since(ring), Instant::now());
        let alarms: Vec<String> = ring.call.alarms.iter().map(Alarm::mark).collect();
        loop {
            let mut rang = devices::rang(&self.shop).map_err(|error| failed(error.to_string()))?;
            rang.retain(|Rang { alarm, at, .. }| {
                *at >= since && (alarms.is_empty() || alarms.contains(alarm))
            });
            if !rang.is_empty() {
                let names: Vec<String> = rang.into_iter().map(|rang| rang.device).collect();
                return Ok(names.join(", "));
            }
            if alarms.is_empty() {
                return Err(failed(words::PAGE_NOT_TRIED.into()));
            }
            if begun.elapsed() >= self.within {
                return Err(failed(words::PAGE_NOBODY_RINGS.into()));
            }
            thread::sleep(ASK_EVERY);
        }
    }
}
