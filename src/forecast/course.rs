//! The heating that lies ahead of the last reading: by the plan, by what this kiln usually does,
//! or simply onward as it climbs now.

use super::past::Experience;
use super::planned::{Planned, Stretch, cut};
use crate::cone::Curve;
use crate::units::CelsiusPerHour;

/// What lies ahead, before today's pace is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct Course {
    pub stretches: Vec<Stretch>,
    /// What today's climb is to be compared with, C/h.
    pub climb_c_per_h: f64,
    /// Whether plan or past stand behind it.
    pub known: bool,
}

/// No firing is followed hotter than this, C.
const HOTTEST_C: f64 = 1480.0;
/// The slowest climb that a pace is compared with, C/h.
const SLOWEST_C_PER_H: f64 = 4.0;
/// A plan that soaks this close under the target's end point, C, goes before the usual course:
/// a soak cannot be told from a ladder of temperatures.
const SOAK_MATTERS_C: f64 = 100.0;

impl Course {
    /// From a chamber at `c` that has been near there for `near_h` and climbs at `climb_c_per_h`.
    pub fn ahead(
        c: f64,
        near_h: f64,
        climb_c_per_h: f64,
        planned: Option<&Planned>,
        experience: &Experience,
        target: &Curve,
    ) -> Option<Course> {
        let end_c = target.temperature_ending(CelsiusPerHour(120.0)).0;
        let usual = experience.profile.as_ref().filter(|profile| profile.covers(c));
        let soaks = planned.is_some_and(|planned| planned.soaks_above(end_c - SOAK_MATTERS_C));
        let place = planned
            .filter(|_| soaks || usual.is_none())
            .and_then(|planned| planned.place_of(c, near_h).map(|at_h| (planned, at_h)));
        if let Some((planned, at_h)) = place {
            let stretches = planned.stretches_from(at_h, target);
            let first = stretches.first()?;
            let climb = (first.to_c - first.from_c) / first.hours;
            let soaking = planned.in_soak(at_h);
            let climb_c_per_h = if soaking { climb_c_per_h } else { climb.max(SLOWEST_C_PER_H) };
            return Some(Course { stretches, climb_c_per_h, known: true });
        }
        let mut stretches = Vec::new();
        let Some(usual) = usual else {
            let hours = (HOTTEST_C - c).max(1.0) / climb_c_per_h;
            cut(c, HOTTEST_C.max(c + 1.0), hours, target, &mut stretches);
            return Some(Course { stretches, climb_c_per_h, known: false });
        };
        for rung in usual.stretches(c, HOTTEST_C) {
            cut(rung.from_c, rung.to_c, rung.hours, target, &mut stretches);
        }
        Some(Course { stretches, climb_c_per_h: usual.climb(c), known: true })
    }
}
