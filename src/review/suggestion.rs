//! A change the ledger suggests. It holds only once somebody has accepted it.

use crate::firing::FiringId;
use crate::units::Moment;

/// A suggested change, with its evidence.
#[derive(Debug, Clone, PartialEq)]
pub struct Suggestion {
    pub change: Change,
    /// The firings it rests on.
    pub evidence: Vec<FiringId>,
}

/// What would be changed.
#[derive(Debug, Clone, PartialEq)]
pub enum Change {
    /// From when it is accepted, add so many degrees to what the probe of this kiln reads.
    ProbeCorrection { kiln: String, add_c: f64 },
    /// How far this load type forgives, in cones; `None` leaves that side as it is.
    Tolerance { load_type: String, under_cones: Option<f64>, over_cones: Option<f64> },
}

/// Probe corrections that were accepted, in the order of time.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Corrections {
    accepted: Vec<(String, Moment, f64)>,
}

impl Corrections {
    /// Takes in a change accepted at that moment; anything but a probe correction changes nothing here.
    pub fn accept(&mut self, from: Moment, change: &Change) {
        if let Change::ProbeCorrection { kiln, add_c } = change {
            self.accepted.push((kiln.clone(), from, *add_c));
            self.accepted.sort_by_key(|(_, from, _)| *from);
        }
    }

    /// What is to be added to the readings of this kiln at that moment, C: the last correction
    /// accepted by then, 0 if there is none.
    pub fn at(&self, kiln: &str, moment: Moment) -> f64 {
        self.in_force(kiln, moment).map_or(0.0, |(_, add_c)| add_c)
    }

    /// The last correction accepted for this kiln by that moment: since when it holds, and C.
    pub fn in_force(&self, kiln: &str, moment: Moment) -> Option<(Moment, f64)> {
        self.accepted
            .iter()
            .rev()
            .find(|(name, from, _)| *from <= moment && name.eq_ignore_ascii_case(kiln))
            .map(|(_, from, add_c)| (*from, *add_c))
    }
}
