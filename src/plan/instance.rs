//! What a plan is made for: kilns, people, lots, limits and prices, as the shop states them.
//!
//! Every moment is in minutes from the moment the plan is made, so that clocks and their changes stay
//! outside. Kilns, load types and lots go by their place in the lists.

use super::spread::Spread;
use super::tables::floor;
use super::{Firing, State};
use crate::kiln::same_name;

/// Everything a plan rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct Instance {
    /// The time of day at which the plan is made, minutes after midnight.
    pub made_at_min: f64,
    /// No cone is to drop after this.
    pub last_drop_by: f64,
    pub people: Vec<Person>,
    pub kilns: Vec<Kiln>,
    pub load_types: Vec<LoadType>,
    /// What each kiln can fire.
    pub ways: Vec<Way>,
    pub lots: Vec<Lot>,
    pub limits: Limits,
    pub tariff: Tariff,
    pub weights: Weights,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Person {
    pub name: String,
    pub packs: bool,
    pub watches: bool,
    /// From when to when.
    pub there: Vec<(f64, f64)>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Kiln {
    pub name: String,
    /// Power drawn while it climbs, kW; `None` in a gas kiln, 0 in one that burns something else.
    pub power_kw: Option<f64>,
    pub room_l: f64,
    pub pack_min: f64,
    pub draw_min: f64,
    pub starts_by_itself: bool,
    /// When it is cool, if it is hot from a firing before the plan.
    pub cool_at: Option<Spread>,
}

/// A load type, with how long its watch begins before the drop and ends after it.
#[derive(Debug, Clone, PartialEq)]
pub struct LoadType {
    pub name: String,
    pub before_drop_min: f64,
    pub after_drop_min: f64,
}

/// One load type in one kiln.
#[derive(Debug, Clone, PartialEq)]
pub struct Way {
    pub kiln: usize,
    pub load_type: usize,
    /// From lit to the drop.
    pub drop: Spread,
    /// From the drop until it can be drawn.
    pub cool: Spread,
    pub fuel: Fuel,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fuel {
    GasEur(f64),
    Kwh(f64),
}

/// Ware that goes into the kiln together.
#[derive(Debug, Clone, PartialEq)]
pub struct Lot {
    pub id: String,
    pub load_type: usize,
    pub pieces: f64,
    pub room_l: f64,
    pub worth_eur_per_piece: f64,
    pub ready_from: Option<f64>,
    /// The lot that has to be drawn first, and how long it is on the bench after that, minutes.
    pub after: Option<(usize, f64)>,
    pub wanted_by: Option<f64>,
}

impl Lot {
    pub fn worth_eur(&self) -> f64 {
        self.pieces * self.worth_eur_per_piece
    }
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    pub gas_kilns_climbing_at_once: usize,
    pub power_kw_at_once: f64,
    pub watches_meet_at_most: f64,
    pub dropped_while_there_at_least: f64,
    pub cool_in_time_at_least: f64,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tariff {
    pub day_eur_per_kwh: f64,
    pub night_eur_per_kwh: f64,
    /// From when to when the night tariff holds, minutes after midnight.
    pub night: (f64, f64),
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weights {
    pub late_eur_per_piece_day: f64,
    pub waiting_eur_per_piece_day: f64,
    pub lost_share_if_watches_meet: f64,
    pub lost_share_if_nobody_there: f64,
    pub put_off_eur: f64,
    pub firing_work_eur: f64,
}

impl Instance {
    /// A number made from all that is stated: the same question begins the same search everywhere.
    /// FNV-1a over its text.
    pub fn seed(&self) -> u64 {
        let text = format!("{self:?}");
        text.bytes().fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
        })
    }

    pub fn kiln_of(&self, way: usize) -> &Kiln {
        &self.kilns[self.ways[way].kiln]
    }

    /// When the kiln has been drawn after a firing.
    pub fn drawn_by(&self, firing: &Firing) -> f64 {
        firing.draw + self.kiln_of(firing.way).draw_min
    }

    /// Whether it is drawn as the plan is made.
    pub fn is_drawn(&self, firing: &Firing) -> bool {
        firing.state == State::Lit && self.drawn_by(firing) <= 0.0
    }

    pub fn load_type(&self, way: usize) -> &LoadType {
        &self.load_types[self.ways[way].load_type]
    }

    /// Whether the night tariff holds.
    pub fn is_night(&self, minute: f64) -> bool {
        let (from, to) = self.tariff.night;
        let clock = (self.made_at_min + minute) % 1440.0;
        if from > to { clock >= from || clock < to } else { from <= clock && clock < to }
    }

    /// The way of a kiln with a load type, if it can fire that.
    pub fn way(&self, kiln: usize, load_type: usize) -> Option<usize> {
        self.ways.iter().position(|way| way.kiln == kiln && way.load_type == load_type)
    }

    pub fn kiln_called(&self, name: &str) -> Option<usize> {
        self.kilns.iter().position(|kiln| same_name(&kiln.name, name))
    }

    /// The load type a lot waits for.
    pub fn load_type_of(&self, lot: usize) -> &str {
        &self.load_types[self.lots[lot].load_type].name
    }

    /// What is made of a lot next.
    pub fn next_of(&self, lot: usize) -> Option<usize> {
        self.lots.iter().position(|next| next.after.is_some_and(|(first, _)| first == lot))
    }

    /// The ways of a load type.
    pub fn ways_of(&self, load_type: usize) -> impl Iterator<Item = usize> + '_ {
        (0..self.ways.len()).filter(move |way| self.ways[*way].load_type == load_type)
    }

    /// The day of the plan a moment falls on, 0 for the first.
    pub fn day(&self, minute: f64) -> i64 {
        floor((minute + self.made_at_min) / 1440.0)
    }
}
