//! The day: what goes into which kiln, and when to light it, so that no two watches want the same eyes.
//!
//! An [`Instance`] states the shop, as somebody wrote it or from the journal ([`of_shop`]) and what that says the plan keeps to ([`limits`]); [`Tables`] hold what is reckoned from it once; [`judge`] says in
//! closed form which rules a [`Plan`] breaks and what it costs; [`search`] looks for a cheap one by
//! annealing; [`again`] mends an old one with as few changes as possible, such as one that was [`adopted`]; [`why`] gives the reasons.
//! A [`DayPlan`] is one that is made, with all of that.
//! A plan is advice: nothing rings because of it, and the watch's own forecast outranks it.

pub mod adopted;
pub mod again;
mod day;
mod decode;
pub mod duty;
pub mod instance;
pub mod judge;
pub mod limits;
mod moves;
pub mod of_shop;
pub mod search;
pub mod spread;
pub mod tables;
pub mod why;

pub use day::{DayPlan, FromShop};
pub use instance::Instance;
pub use judge::{Broken, Judged};
pub use tables::Tables;

use spread::Spread;

/// Where a firing of a plan stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum State {
    #[default]
    Planned,
    /// Its packing should have begun, and nobody said yet that it is packed.
    Packing,
    Packed,
    Lit,
}

/// How much of a firing must stay as it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Held {
    #[default]
    Nothing,
    /// Kiln and lots.
    Load,
    /// Its lighting as well.
    Whole,
}

/// One firing of a plan; every moment in minutes from when the plan is made.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Firing {
    /// Kiln and load type, by the place in [`Instance::ways`].
    pub way: usize,
    pub light: f64,
    /// When packing begins; no number where nobody can pack in time.
    pub pack: f64,
    /// When drawing begins.
    pub draw: f64,
    /// How long before the lighting packing has to be done, and how long drawing waits though the kiln
    /// is cool, in steps of the grid: room for other work of the same hands.
    pack_ahead: u16,
    draw_wait: u16,
    pub state: State,
    pub held: Held,
    /// Which firing of an old plan it was.
    pub was: Option<usize>,
    /// What it goes by where it is said, 0 until the plan is made.
    pub number: usize,
    /// From lit to the drop as forecast for this firing, once it is lit.
    pub forecast: Option<Spread>,
}

impl Firing {
    pub fn new(way: usize, light: f64) -> Firing {
        Firing { way, light, pack: f64::NAN, draw: f64::NAN, ..Firing::default() }
    }

    /// Whether its kiln and its lots may still change.
    pub fn is_open(&self) -> bool {
        self.state == State::Planned && self.held == Held::Nothing
    }

    /// Whether its lighting may still change.
    pub fn may_shift(&self) -> bool {
        self.state != State::Lit && self.held != Held::Whole
    }
}

/// In no firing.
const WAITS: usize = usize::MAX;

/// What is fired when, and which lot goes where.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Plan {
    pub firings: Vec<Firing>,
    /// The firing of each lot, or [`WAITS`].
    lot_in: Vec<usize>,
}

impl Plan {
    pub fn empty(instance: &Instance) -> Plan {
        Plan { firings: Vec::new(), lot_in: vec![WAITS; instance.lots.len()] }
    }

    /// The firing a lot goes into.
    pub fn firing_of(&self, lot: usize) -> Option<usize> {
        Some(self.lot_in[lot]).filter(|firing| *firing != WAITS)
    }

    pub fn lots_in(&self, firing: usize) -> impl Iterator<Item = usize> + '_ {
        (0..self.lot_in.len()).filter(move |lot| self.lot_in[*lot] == firing)
    }

    pub fn litres_in(&self, instance: &Instance, firing: usize) -> f64 {
        self.lots_in(firing).map(|lot| instance.lots[lot].room_l).sum()
    }

    /// Each lot that is in a firing, with that.
    fn placed(&self) -> impl Iterator<Item = (usize, usize)> + '_ {
        self.lot_in.iter().copied().enumerate().filter(|(_, at)| *at != WAITS)
    }

    pub fn put(&mut self, lot: usize, firing: usize) {
        self.lot_in[lot] = firing;
    }

    /// Takes a firing out; its lots wait.
    pub fn remove(&mut self, firing: usize) {
        self.firings.remove(firing);
        for lot in &mut self.lot_in {
            match *lot {
                WAITS => {}
                at if at == firing => *lot = WAITS,
                at if at > firing => *lot -= 1,
                _ => {}
            }
        }
    }

    /// Two firings change kilns and times; false where one of their kilns cannot fire the other's load type.
    fn exchange(&mut self, instance: &Instance, one: usize, other: usize) -> bool {
        let (a, b) = (self.firings[one], self.firings[other]);
        let way = |at: Firing, of: Firing| {
            instance.way(instance.ways[at.way].kiln, instance.ways[of.way].load_type)
        };
        let (Some(first), Some(second)) = (way(b, a), way(a, b)) else { return false };
        (self.firings[one].way, self.firings[one].light) = (first, b.light);
        (self.firings[other].way, self.firings[other].light) = (second, a.light);
        true
    }

    /// The firings in the order in which they are lit.
    fn by_light(&self) -> Vec<usize> {
        let mut order: Vec<usize> = (0..self.firings.len()).collect();
        order.sort_by(|a, b| self.firings[*a].light.total_cmp(&self.firings[*b].light));
        order
    }

    pub fn sort(&mut self) {
        let order = self.by_light();
        self.firings = order.iter().map(|old| self.firings[*old]).collect();
        for lot in self.lot_in.iter_mut().filter(|lot| **lot != WAITS) {
            *lot = order.iter().position(|old| old == lot).unwrap_or(WAITS);
        }
    }
}
