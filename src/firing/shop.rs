//! What there is in the shop right now: its kilns, its load types and the firings not yet closed.

use super::event::EventId;
use super::fold::Firing;
use super::holding::Holding;
use super::life::State;
use crate::hours::ShopHours;
use crate::kiln::{Kiln, LoadType, same_name};
use crate::review::suggestion::{Change, Corrections};
use crate::units::Moment;
use crate::ware::Lot;

/// The state of the shop needed by every screen; small whatever the length of the journal.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Shop {
    /// In the order they were first added.
    pub kilns: Vec<Kiln>,
    /// In the order they were first added.
    pub load_types: Vec<LoadType>,
    /// Ware as it was said, in the order in which it was first.
    pub lots: Vec<Lot>,
    /// Every firing that is not closed, folded, in the order they were begun.
    pub open: Vec<Firing>,
    /// When somebody is there.
    pub hours: ShopHours,
    /// Probe corrections that were accepted.
    pub corrections: Corrections,
    /// The last event this state includes.
    pub last_event: Option<EventId>,
}

impl Shop {
    /// The kiln of this name, whatever the case of its letters.
    pub fn kiln(&self, name: &str) -> Option<&Kiln> {
        self.kilns.iter().find(|kiln| same_name(&kiln.name, name))
    }

    /// The load type of this name, whatever the case of its letters.
    pub fn load_type(&self, name: &str) -> Option<&LoadType> {
        self.load_types.iter().find(|load_type| same_name(&load_type.name, name))
    }

    /// The firing a person means by the name of a kiln: the one that burns or cools, or else the
    /// one that is packed, or else the last one drawn whose outcome is not written. Of several, the
    /// youngest.
    pub fn firing_in(&self, kiln: &str) -> Option<&Firing> {
        let here = self.open.iter().filter(|firing| same_name(&firing.kiln, kiln));
        here.max_by_key(|firing| firing.holding())
    }

    /// The last firing of this kiln that was drawn and waits for its outcome.
    pub fn unjudged_in(&self, kiln: &str) -> Option<&Firing> {
        let mut drawn = self.open.iter().rev().filter(|firing| firing.state == State::Drawn);
        drawn.find(|firing| same_name(&firing.kiln, kiln))
    }

    /// Whether another firing holds the same kiln as this one, and is the one that is meant there:
    /// possible in records from elsewhere and in files of earlier versions.
    pub fn is_packed_over(&self, firing: &Firing) -> bool {
        firing.holding() == Holding::Load
            && self.firing_in(&firing.kiln).is_some_and(|meant| meant.id != firing.id)
    }

    /// A kiln set anew under the same name replaces the older description.
    pub fn set_kiln(&mut self, kiln: Kiln) {
        match self.kilns.iter_mut().find(|known| same_name(&known.name, &kiln.name)) {
            Some(known) => *known = kiln,
            None => self.kilns.push(kiln),
        }
    }

    /// A kiln in which there is a firing, and which nobody described, is listed as a gas kiln: records
    /// from elsewhere and damaged files have firings of kilns they do not describe.
    pub fn list_every_open_kiln(&mut self) {
        for name in self.open.iter().map(|firing| firing.kiln.trim()) {
            if !name.is_empty() && !self.kilns.iter().any(|kiln| same_name(&kiln.name, name)) {
                self.kilns.push(Kiln::undescribed(name));
            }
        }
    }

    /// A suggestion that was accepted holds from that moment on.
    pub fn accept(&mut self, at: Moment, change: &Change) {
        self.corrections.accept(at, change);
        if let Change::Tolerance { load_type, under_cones, over_cones } = change
            && let Some(known) =
                self.load_types.iter_mut().find(|known| same_name(&known.name, load_type))
        {
            known.under_cones = under_cones.unwrap_or(known.under_cones);
            known.over_cones = over_cones.unwrap_or(known.over_cones);
        }
    }

    /// A lot said anew under the same name replaces what was said before.
    pub fn set_lot(&mut self, lot: Lot) {
        match self.lots.iter_mut().find(|known| same_name(&known.name, &lot.name)) {
            Some(known) => *known = lot,
            None => self.lots.push(lot),
        }
    }

    /// A load type set anew under the same name replaces the older description.
    pub fn set_load_type(&mut self, load_type: LoadType) {
        match self.load_types.iter_mut().find(|known| same_name(&known.name, &load_type.name)) {
            Some(known) => *known = load_type,
            None => self.load_types.push(load_type),
        }
    }
}
