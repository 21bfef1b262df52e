//! The heating that lies ahead of the last reading, and how one day goes along it.
//!
//! It goes by the plan, by what this kiln usually does, or simply onward as it climbs now. Every day
//! goes the same stretches, each at its own pace; what differs is how long a stretch takes, and heat
//! work takes just as much longer.

use super::climb::ChamberStates;
use super::evidence::{Cones, TARGET};
use super::past::Experience;
use super::planned::{Planned, Stretch, cut};
use crate::units::{Celsius, CelsiusPerHour};

/// When, after the last reading, the wandering climb has its knots, hours.
pub const KNOTS_H: [f64; 5] = [0.2, 0.5, 1.0, 2.0, 4.0];

/// No firing is followed hotter than this, C.
const HOTTEST_C: f64 = 1480.0;
/// The slowest climb that a pace is compared with, C/h.
const SLOWEST_C_PER_H: f64 = 4.0;
/// A plan that soaks this close under the target's end point, C, goes before the usual course:
/// a soak cannot be told from a ladder of temperatures.
const SOAK_MATTERS_C: f64 = 100.0;

/// Heat work that grows by less than this over a stretch, ln, is steady.
const STEADY: f64 = 1e-6;

/// What lies ahead, before today's pace is asked.
#[derive(Debug, Clone)]
pub struct Ahead {
    /// The stretches from the last reading on, with the heat work of the pack on each, and by how
    /// much, ln, the target works faster at its end than at its beginning.
    pub stretches: Vec<(Stretch, [f64; 3], f64)>,
    pub from_c: f64,
    /// What today's climb is to be compared with, C/h.
    pub climb_c_per_h: f64,
    /// Whether plan or past stand behind it.
    pub known: bool,
}

/// How one day differs from another on the way.
#[derive(Debug, Clone)]
pub struct Day {
    /// ln of the pace at the last reading, and at each knot.
    pub paces: [f64; KNOTS_H.len() + 1],
    /// How the climb falls with temperature, ln per C.
    pub slowing: f64,
    /// Heat work of the target, at the usual temperatures, from the last reading to its drop; not
    /// above 0 when it dropped before.
    pub needed: f64,
}

/// The day at one moment; where the way does not lead so far, at its end.
#[derive(Debug, Clone, PartialEq)]
pub struct Reached {
    /// Heat work of the pack since the last reading, and the chamber above that, C.
    pub work: [f64; 3],
    pub rise_c: f64,
    /// Whether the way leads so far.
    pub is_there: bool,
}

/// What came of a day.
#[derive(Debug, Clone)]
pub struct Walked {
    /// Hours from the last reading to the drop, and the climb there, C/h; `None` when the way ends
    /// before.
    pub drop: Option<(f64, f64)>,
    /// In the order of the moments asked for.
    pub reached: Vec<Reached>,
}

impl Ahead {
    /// From a chamber at `c` that has been near there for `near_h` and climbs by these `states`.
    pub fn of(
        c: f64,
        near_h: f64,
        (climb_c_per_h, states): (f64, &ChamberStates),
        planned: Option<&Planned>,
        experience: &Experience,
        cones: &Cones,
    ) -> Option<Ahead> {
        let target = cones.target;
        let end_c = target.temperature_ending(CelsiusPerHour(120.0)).0;
        let usual = experience.profile.as_ref().filter(|profile| profile.covers(c));
        let soaks = planned.is_some_and(|planned| planned.soaks_above(end_c - SOAK_MATTERS_C));
        let place = planned
            .filter(|_| soaks || usual.is_none() || states.planned_c_per_h.is_some())
            .and_then(|planned| planned.place_of(c, near_h).map(|at_h| (planned, at_h)));
        let ahead = |stretches: Vec<Stretch>, climb_c_per_h, known| Ahead {
            stretches: stretches
                .into_iter()
                .map(|s| {
                    let k = |c| target.heat_work_per_hour(Celsius(c)).ln();
                    (s, cones.heat_work(s.from_c, s.to_c, s.hours), k(s.to_c) - k(s.from_c))
                })
                .collect(),
            from_c: c,
            climb_c_per_h,
            known,
        };
        if let Some((planned, at_h)) = place {
            let stretches = planned.stretches_from(at_h, target);
            // At a corner the plan climbs twice over: the pace is against the climb it was told by.
            let planned_climb = match states.planned_c_per_h {
                Some(planned_c_per_h) => planned_c_per_h,
                None if planned.in_soak(at_h) => climb_c_per_h,
                None => stretches.first()?.climb_c_per_h().max(SLOWEST_C_PER_H),
            };
            return Some(ahead(stretches, planned_climb, true));
        }
        let mut stretches = Vec::new();
        let Some(usual) = usual else {
            let hours = (HOTTEST_C - c).max(1.0) / climb_c_per_h;
            cut(c, HOTTEST_C.max(c + 1.0), hours, target, &mut stretches);
            return Some(ahead(stretches, climb_c_per_h, false));
        };
        for rung in usual.stretches(c, HOTTEST_C) {
            cut(rung.from_c, rung.to_c, rung.hours, target, &mut stretches);
        }
        Some(ahead(stretches, usual.climb(c), true))
    }

    /// Walks until the target has dropped and every moment is past; moments are hours from the last
    /// reading, in order and not before it.
    pub fn walked(&self, day: &Day, moments_h: &[f64]) -> Walked {
        let (mut after_h, mut rise_c, mut work) = (0.0, 0.0, [0.0; 3]);
        let mut drop = None;
        let mut reached = Vec::with_capacity(moments_h.len());
        for (stretch, usual_work, growth) in &self.stretches {
            if drop.is_some() && reached.len() == moments_h.len() {
                break;
            }
            let middle_c = 0.5 * (stretch.from_c + stretch.to_c) - self.from_c;
            let slower = (-day.pace(after_h) - day.slowing * middle_c).exp();
            let hours = stretch.hours * slower;
            let climbed_c = stretch.to_c - stretch.from_c;
            let worked = |part: f64| -> [f64; 3] {
                std::array::from_fn(|cone| work[cone] + part * slower * usual_work[cone])
            };
            while let Some(moment_h) = moments_h.get(reached.len())
                && *moment_h <= after_h + hours
            {
                let part = (moment_h - after_h) / hours;
                let work = worked(done_by(part, *growth));
                reached.push(Reached { work, rise_c: rise_c + part * climbed_c, is_there: true });
            }
            let done = worked(1.0);
            if drop.is_none() && done[TARGET] >= day.needed {
                let last = (day.needed - work[TARGET]) / (done[TARGET] - work[TARGET]);
                drop = Some((after_h + part_at(last, *growth) * hours, climbed_c / hours));
            }
            (after_h, rise_c, work) = (after_h + hours, rise_c + climbed_c, done);
        }
        reached.resize(moments_h.len(), Reached { work, rise_c, is_there: false });
        Walked { drop, reached }
    }
}

/// The part of its heat work that is done after a part of the time of a stretch, both 0 to 1: it grows
/// geometrically.
fn done_by(part: f64, growth: f64) -> f64 {
    if growth.abs() < STEADY { part } else { (growth * part).exp_m1() / growth.exp_m1() }
}

/// The other way round.
fn part_at(done: f64, growth: f64) -> f64 {
    if growth.abs() < STEADY { done } else { (done * growth.exp_m1()).ln_1p() / growth }
}

impl Day {
    /// ln of the pace so many hours after the last reading: straight from knot to knot, and level
    /// beyond the last.
    pub fn pace(&self, after_h: f64) -> f64 {
        let Some(next) = KNOTS_H.iter().position(|knot_h| after_h < *knot_h) else {
            return self.paces[KNOTS_H.len()];
        };
        let before_h = if next == 0 { 0.0 } else { KNOTS_H[next - 1] };
        let part = (after_h - before_h) / (KNOTS_H[next] - before_h);
        self.paces[next] + part * (self.paces[next + 1] - self.paces[next])
    }
}
