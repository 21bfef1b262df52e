//! What the shop says its plan keeps to: gas, power, when power is cheap, and what it would rather have.

use super::instance::{Limits, Tariff, Weights};
use crate::hours::TimeOfDay;

closed! {
    /// How much one of the shop's sentences counts.
    pub enum Counts {
        Less => "less",
        Usual => "usual",
        More => "more",
    }
}

/// As it was said last; where nothing was, there is no limit and all counts as usual.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct HouseLimits {
    /// How many gas kilns may climb at once.
    pub gas_kilns: Option<u32>,
    pub power_kw: Option<f64>,
    /// From when to when a kWh costs less, and what, in the shop's own money.
    pub cheap_from: Option<TimeOfDay>,
    pub cheap_to: Option<TimeOfDay>,
    pub cheap_price: Option<f64>,
    /// The sentences of `fields::LIMITS`.
    pub on_time: Option<Counts>,
    pub at_once: Option<Counts>,
    pub apart: Option<Counts>,
    pub attended: Option<Counts>,
    pub full: Option<Counts>,
}

/// More power than any shop has, kW.
const ANY_KW: f64 = 1e6;

/// A sentence that counts more or less counts so many times as much (a guess).
const TURNED: f64 = 4.0;

fn times(counts: Option<Counts>) -> f64 {
    match counts {
        Some(Counts::Less) => 1.0 / TURNED,
        None | Some(Counts::Usual) => 1.0,
        Some(Counts::More) => TURNED,
    }
}

impl HouseLimits {
    /// Whether beginning, end and price of the cheap hours are said, or none of them.
    pub fn cheap_is_whole(&self) -> bool {
        let said = [self.cheap_from.is_some(), self.cheap_to.is_some(), self.cheap_price.is_some()];
        said == [false; 3] || said == [true; 3] && self.cheap_from != self.cheap_to
    }

    pub fn limits(&self) -> Limits {
        Limits {
            gas_kilns_climbing_at_once: self.gas_kilns.map_or(usize::MAX, |kilns| kilns as usize),
            power_kw_at_once: self.power_kw.unwrap_or(ANY_KW),
            watches_meet_at_most: 0.05,
            dropped_while_there_at_least: 0.95,
            cool_in_time_at_least: 0.9,
        }
    }

    /// The tariff of a shop that pays so much for a kWh.
    pub fn tariff(&self, day_eur_per_kwh: f64) -> Tariff {
        let minute = |time: Option<TimeOfDay>| time.map_or(0.0, |time| f64::from(time.0));
        Tariff {
            day_eur_per_kwh,
            night_eur_per_kwh: self.cheap_price.unwrap_or(day_eur_per_kwh),
            night: (minute(self.cheap_from), minute(self.cheap_to)),
        }
    }

    /// What is worth how much (guesses).
    pub fn weights(&self) -> Weights {
        Weights {
            late_eur_per_piece_day: times(self.on_time),
            waiting_eur_per_piece_day: 0.05 * times(self.at_once),
            lost_share_if_watches_meet: 0.15 * times(self.apart),
            lost_share_if_nobody_there: 0.5 * times(self.attended),
            put_off_eur: 40.0,
            firing_work_eur: 12.0 * times(self.full),
        }
    }
}
