//! Simulated firings that share no function, no constant and no physics with the program they are
//! to judge: a gas kiln by its balance of energy and an electric kiln by zones, cones that bend as
//! a softening glass does, the people who mind them, and all that goes wrong.
//!
//! Where no source is named, a number is a guess of a plausible range, drawn anew for every kiln.

pub(crate) mod chance;
mod cones;
mod electric;
pub(crate) mod faults;
pub(crate) mod firing;
mod gas;
mod laws;
pub(crate) mod loads;
pub(crate) mod people;
pub(crate) mod probes;
mod wall;

use electric::ElectricKiln;
use faults::Fault;
use firing::Firing;
use gas::GasKiln;
use loads::{Load, Plan};

/// A kiln of either kind, the same one at every firing: its build, its habits and its probe
/// belong to the kiln, the weather and the packing to the day.
#[derive(Debug, Clone)]
pub(crate) enum Kiln {
    Gas(Box<GasKiln>),
    Electric(Box<ElectricKiln>),
}

impl Kiln {
    pub(crate) fn gas(seed: u64) -> Self {
        Self::Gas(Box::new(GasKiln::draw(seed)))
    }

    pub(crate) fn electric(seed: u64) -> Self {
        Self::Electric(Box::new(ElectricKiln::draw(seed)))
    }

    /// Firing of a load on the day of the seed. The same kiln, load, faults and seed give the same
    /// firing. It runs on as if nobody ever shut off, so that what a late shut-off costs is known.
    pub(crate) fn fire(&self, load: Load, faults: &[Fault], seed: u64) -> Firing {
        match self {
            Self::Gas(kiln) => kiln.fire(load, faults, seed),
            Self::Electric(kiln) => kiln.fire(load, faults, seed),
        }
    }

    /// Plan this kiln follows with a load when nothing is unusual.
    pub(crate) fn plan(&self, load: Load) -> Plan {
        match self {
            Self::Gas(kiln) => Plan::usual(load, kiln.seed),
            Self::Electric(kiln) => Plan::usual(load, kiln.seed),
        }
    }
}
