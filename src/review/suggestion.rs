//! A change the ledger suggests. It holds only once somebody has accepted it.

use crate::firing::FiringId;
use crate::kiln::same_name;
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

/// Probe corrections that were accepted, and when a kiln got another probe, in the order of time.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Corrections {
    accepted: Vec<(String, Moment, f64)>,
    changed: Vec<(String, Moment)>,
}

impl Corrections {
    /// Takes in a change accepted at that moment; anything but a probe correction changes nothing here.
    pub fn accept(&mut self, from: Moment, change: &Change) {
        if let Change::ProbeCorrection { kiln, add_c } = change {
            self.accepted.push((kiln.clone(), from, *add_c));
            self.accepted.sort_by_key(|(_, from, _)| *from);
        }
    }

    /// From then on the kiln has another probe, or it sits elsewhere: no earlier correction holds.
    pub fn change_probe(&mut self, from: Moment, kiln: &str) {
        self.changed.push((kiln.to_owned(), from));
        self.changed.sort_by_key(|(_, from)| *from);
    }

    /// Since when this kiln has had the probe that it has at that moment; `None` if no change is known.
    pub fn probe_since(&self, kiln: &str, moment: Moment) -> Option<Moment> {
        let its = |(name, from): &&(String, Moment)| *from <= moment && same_name(name, kiln);
        self.changed.iter().rev().find(its).map(|(_, from)| *from)
    }

    /// What is to be added to the readings of this kiln at that moment, C: the last correction
    /// accepted by then, 0 if there is none.
    pub fn at(&self, kiln: &str, moment: Moment) -> f64 {
        self.in_force(kiln, moment).map_or(0.0, |(_, add_c)| add_c)
    }

    /// The last correction accepted for this kiln's probe by that moment: since when it holds, and C.
    pub fn in_force(&self, kiln: &str, moment: Moment) -> Option<(Moment, f64)> {
        let since = self.probe_since(kiln, moment);
        self.accepted
            .iter()
            .rev()
            .find(|(name, from, _)| *from <= moment && same_name(name, kiln))
            .map(|(_, from, add_c)| (*from, *add_c))
            .filter(|(from, _)| Some(*from) >= since)
    }
}
