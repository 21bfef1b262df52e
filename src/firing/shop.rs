//! What there is in the shop right now: its kilns, its load types and the firings not yet closed.

use super::event::{Event, What};
use super::fold::struck_events;
use super::holding::Holding;
use super::ids::EventId;
use super::known::Firing;
use super::life::{Refusal, State};
use super::lot::Lot;
use crate::hours::ShopHours;
use crate::kiln::names::Names;
use crate::kiln::{Kiln, LoadType, same_name};
use crate::plan::adopted::Adopted;
use crate::plan::limits::HouseLimits;
use crate::review::suggestion::{Change, Corrections};
use crate::units::Moment;

/// The state of the shop needed by every screen; small whatever the length of the journal.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Shop {
    /// On the floor, in the order they were first added.
    pub kilns: Vec<Kiln>,
    /// No longer on the floor.
    pub retired: Vec<Kiln>,
    /// What kilns were called before.
    pub names: Names,
    /// What happened to the kilns themselves between firings, in the order of time.
    pub of_kilns: Vec<Event>,
    /// In the order they were first added.
    pub load_types: Vec<LoadType>,
    /// Ware as it was said, in the order in which it was first.
    pub lots: Vec<Lot>,
    /// Every firing that is not closed, folded, in the order they were begun.
    pub open: Vec<Firing>,
    /// The plan that is gone by, and when it was adopted.
    pub adopted: Option<(Moment, Adopted)>,
    /// When somebody is there.
    pub hours: ShopHours,
    /// What its plan keeps to.
    pub limits: HouseLimits,
    /// Whether a mould was ever described.
    pub casts: bool,
    /// Probe corrections that were accepted.
    pub corrections: Corrections,
    /// The last event this state includes.
    pub last_event: Option<EventId>,
}

impl Shop {
    /// What the shop's own events add up to, in the order of writing, with the kilns in them called as
    /// they are now.
    pub fn of(events: Vec<Event>, names: Names) -> Shop {
        let mut shop = Shop { names, ..Shop::default() };
        let struck = struck_events(&events);
        for event in events.into_iter().filter(|event| !struck.contains(&event.id)) {
            match &event.what {
                What::KilnSet(kiln) => shop.set_kiln(kiln.clone()),
                What::LoadTypeSet(load_type) => shop.set_load_type(load_type.clone()),
                What::LotSet(lot) => shop.set_lot(lot.clone()),
                What::Planned(adopted) => shop.adopted = Some((event.at, adopted.clone())),
                What::Bench(_) => shop.casts = true,
                What::Hours(hours) => shop.hours.set(*hours),
                What::LimitsSet(limits) => shop.limits = *limits,
                What::Closed(closed) => shop.hours.close(event.id, closed.clone()),
                What::Accepted(suggestion) => shop.accept(event.at, &suggestion.change),
                What::ProbeChanged { kiln, .. } => shop.corrections.change_probe(event.at, kiln),
                What::KilnRetired { kiln, .. } => {
                    let its = |one: &mut Kiln| same_name(&one.name, kiln);
                    shop.retired.extend(shop.kilns.extract_if(.., its));
                }
                What::KilnReturned { kiln } => shop.bring_back(kiln),
                _ => {}
            }
            shop.of_kilns.extend(Some(event).filter(|event| event.what.of_kiln().is_some()));
        }
        shop.of_kilns.sort_by_key(|event| (event.at, event.id));
        shop
    }

    /// The kiln of this name, whatever the case of its letters, retired or not; a name it had before
    /// finds it as well.
    pub fn kiln(&self, name: &str) -> Option<&Kiln> {
        let name = self.names.now(name);
        self.kilns.iter().chain(&self.retired).find(|kiln| same_name(&kiln.name, name))
    }

    /// What happened to this kiln itself between its firings, in the order of time.
    pub fn of_kiln<'s>(&'s self, name: &'s str) -> impl Iterator<Item = &'s Event> {
        let named =
            |event: &Event| event.what.of_kiln().map(|kiln| self.names.now(kiln).to_owned());
        self.of_kilns.iter().filter(move |event| named(event).is_some_and(|n| same_name(&n, name)))
    }

    fn bring_back(&mut self, name: &str) {
        let its = |one: &mut Kiln| same_name(&one.name, name);
        self.kilns.extend(self.retired.extract_if(.., its));
    }

    /// Whether a kiln can be called so, used, or taken off the floor or back; `open` says how far a firing
    /// of a kiln has come that is not closed.
    ///
    /// # Errors
    /// [`Refusal`], whose text says why not and what can be done instead.
    pub fn permit(&self, what: &What, open: impl Fn(&str) -> Option<State>) -> Result<(), Refusal> {
        let known = |kiln: &str| {
            let none = || Refusal::NoKiln { kiln: kiln.to_owned() };
            self.kiln(kiln).map(|kiln| kiln.name.clone()).ok_or_else(none)
        };
        let retired = |kiln: &str| self.retired.iter().any(|one| same_name(&one.name, kiln));
        match what {
            What::KilnRenamed { kiln, name } => {
                let kiln = known(kiln)?;
                let other = self.kiln(name).filter(|other| other.name != kiln);
                other.map_or(Ok(()), |other| Err(Refusal::NameTaken { known: other.name.clone() }))
            }
            What::KilnRetired { kiln, .. } => {
                let kiln = known(kiln)?;
                if retired(&kiln) {
                    return Err(Refusal::Retired { kiln });
                }
                open(&kiln).map_or(Ok(()), |state| Err(Refusal::RetiredInUse { kiln, state }))
            }
            What::KilnReturned { kiln } => {
                let kiln = known(kiln)?;
                if retired(&kiln) { Ok(()) } else { Err(Refusal::NotRetired { kiln }) }
            }
            What::Packed(_) | What::Lit(_) => match what.kiln().map(|kiln| self.names.now(kiln)) {
                Some(kiln) if retired(kiln) => Err(Refusal::Retired { kiln: kiln.to_owned() }),
                _ => Ok(()),
            },
            _ => Ok(()),
        }
    }

    /// The load type of this name, whatever the case of its letters.
    pub fn load_type(&self, name: &str) -> Option<&LoadType> {
        self.load_types.iter().find(|load_type| same_name(&load_type.name, name))
    }

    /// The firing a person means by the name of a kiln: the one that burns or cools, or else the
    /// one that is packed, or else the last one drawn whose outcome is not written. Of several, the
    /// youngest.
    pub fn firing_in(&self, kiln: &str) -> Option<&Firing> {
        let kiln = self.names.now(kiln);
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
        let mut known = self.kilns.iter_mut().chain(&mut self.retired);
        match known.find(|known| same_name(&known.name, &kiln.name)) {
            Some(known) => *known = kiln,
            None => self.kilns.push(kiln),
        }
    }

    /// A kiln in which there is a firing, and which nobody described, is listed as a gas kiln: records
    /// from elsewhere and damaged files have firings of kilns they do not describe.
    pub fn list_every_open_kiln(&mut self) {
        let open: Vec<String> =
            self.open.iter().map(|firing| firing.kiln.trim().to_owned()).collect();
        for name in open.iter().filter(|name| !name.is_empty()) {
            self.bring_back(name);
            if !self.kilns.iter().any(|kiln| same_name(&kiln.name, name)) {
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
