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
pub(super) const KNOTS_H: [f64; 5] = [0.2, 0.5, 1.0, 2.0, 4.0];

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
pub(super) struct Ahead {
    /// The stretches from the last reading on, with the heat work of the pack on each, and by how
    /// much, ln, the target works faster at its end than at its beginning.
    stretches: Vec<(Stretch, [f64; 3], f64)>,
    from_c: f64,
    /// What today's climb is to be compared with, C/h.
    pub(super) climb_c_per_h: f64,
    /// Whether plan or past stand behind it.
    pub(super) known: bool,
}

/// How one day differs from another on the way.
#[derive(Debug, Clone)]
pub(super) struct Day {
    /// ln of the pace at the last reading, and at each knot.
    pub(super) paces: [f64; KNOTS_H.len() + 1],
    /// How the climb falls with temperature, ln per C.
    pub(super) slowing: f64,
    /// Heat work of the target, at the usual temperatures, from the last reading to its drop; not
    /// above 0 when it dropped before.
    pub(super) needed: f64,
}

/// The day at one moment; where the way does not lead so far, at its end.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Reached {
    /// Heat work of the pack since the last reading, and the chamber above that, C.
    pub(super) work: [f64; 3],
    pub(super) rise_c: f64,
    /// Whether the way leads so far.
    pub(super) is_there: bool,
}

/// What came of a day.
#[derive(Debug, Clone)]
pub(super) struct Walked {
    /// Hours from the last reading to the drop, and the climb there, C/h; `None` when the way ends
    /// before.
    pub(super) drop: Option<(f64, f64)>,
    /// In the order of the moments asked for.
    pub(super) reached: Vec<Reached>,
}

impl Ahead {
    /// From a chamber at `c` that has been near there for `near_h` and climbs by these `states`.
    pub(super) fn of(
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
    pub(super) fn walked(&self, day: &Day, moments_h: &[f64]) -> Walked {
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
    fn pace(&self, after_h: f64) -> f64 {
        let Some(next) = KNOTS_H.iter().position(|knot_h| after_h < *knot_h) else {
            return self.paces[KNOTS_H.len()];
        };
        let before_h = if next == 0 { 0.0 } else { KNOTS_H[next - 1] };
        let part = (after_h - before_h) / (KNOTS_H[next] - before_h);
        self.paces[next] + part * (self.paces[next + 1] - self.paces[next])
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;

    use super::*;

    /// From 600 C to 1070 C with a soak in between, and heat work that grows as it gets hotter, in
    /// so many stretches a rung.
    fn ahead(fine: usize) -> Ahead {
        let mut from_c = 600.0;
        let stretches = (0..80 * fine)
            .map(|at| {
                let soaks = (30 * fine..31 * fine).contains(&at);
                let (rise_c, hours) = if soaks { (0.0, 0.2) } else { (6.0, 0.05) };
                let (rise_c, hours) = (rise_c / fine as f64, hours / fine as f64);
                let stretch = Stretch { from_c, to_c: from_c + rise_c, hours };
                let growth = GROWTH_PER_C * rise_c;
                let mean = if soaks { 1.0 } else { growth.exp_m1() / growth };
                let work = hours * work_per_h(from_c) * mean;
                from_c += rise_c;
                (stretch, [2.0 * work, work, 0.5 * work], growth)
            })
            .collect();
        Ahead { stretches, from_c: 600.0, climb_c_per_h: 120.0, known: true }
    }

    const GROWTH_PER_C: f64 = 0.02;

    fn work_per_h(c: f64) -> f64 {
        0.01 * (GROWTH_PER_C * (c - 600.0)).exp()
    }

    fn day() -> Day {
        let paces = [0.3, -0.2, 0.1, 0.25, -0.1, 0.2];
        Day { paces, slowing: 0.001, needed: 0.5 }
    }

    /// Everything by Euler's method, minute parts of a second at a time, from the usual climb of the
    /// place that has been reached.
    #[test]
    fn crosscheck_a_day_beside_small_steps_of_time() {
        const STEP_H: f64 = 1e-5;
        let (day, moments_h) = (day(), [0.0, 0.13, 1.2, 2.4]);
        let walked = ahead(200).walked(&day, &moments_h);
        let (mut soaked_h, mut rise_c, mut work, mut at_h) = (0.0, 0.0f64, 0.0f64, 0.0f64);
        let mut reached = Vec::new();
        let mut drop = None;
        while drop.is_none() || reached.len() < moments_h.len() {
            if moments_h.get(reached.len()).is_some_and(|moment_h| *moment_h <= at_h) {
                reached.push((work, rise_c));
            }
            let pace = (day.pace(at_h) + day.slowing * rise_c).exp();
            work += STEP_H * work_per_h(600.0 + rise_c);
            if rise_c >= 180.0 && soaked_h < 0.2 {
                soaked_h += STEP_H * pace;
            } else {
                rise_c += STEP_H * pace * 120.0;
            }
            at_h += STEP_H;
            if drop.is_none() && work >= day.needed {
                drop = Some((at_h, pace * 120.0));
            }
        }
        let ((drop_h, climb), (euler_h, euler_climb)) = (walked.drop.unwrap(), drop.unwrap());
        assert_relative_eq!(drop_h, euler_h, max_relative = 1e-3);
        assert_relative_eq!(climb, euler_climb, max_relative = 1e-3);
        for (ours, (work, rise_c)) in walked.reached.iter().zip(reached) {
            assert!(ours.is_there);
            assert_relative_eq!(ours.work[TARGET], work, max_relative = 2e-3, epsilon = 1e-6);
            assert_relative_eq!(ours.work[0], 2.0 * ours.work[TARGET], max_relative = 1e-9);
            assert_relative_eq!(ours.rise_c, rise_c, max_relative = 1e-3, epsilon = 1e-2);
        }
    }

    /// By straight lines through a stretch, a drop in its middle would come 0.0008 h early.
    #[test]
    fn law_a_drop_within_a_stretch_is_where_finer_stretches_have_it() {
        for needed in [0.3, 0.31, 0.32, 0.33, 0.34] {
            let even = Day { paces: [0.0; KNOTS_H.len() + 1], slowing: 0.0, needed };
            let [coarse, fine] = [1, 100].map(|fine| ahead(fine).walked(&even, &[2.02]));
            let apart_h = coarse.drop.unwrap().0 - fine.drop.unwrap().0;
            assert!(apart_h.abs() < 1e-6, "{needed}: {apart_h} h");
            assert_relative_eq!(
                coarse.reached[0].work[TARGET],
                fine.reached[0].work[TARGET],
                max_relative = 1e-6
            );
        }
    }

    #[test]
    fn law_a_day_at_an_even_pace_takes_that_much_longer() {
        let usual = Day { paces: [0.0; KNOTS_H.len() + 1], slowing: 0.0, needed: 0.5 };
        let slower = Day { paces: [-0.4; KNOTS_H.len() + 1], needed: 0.5 * 0.4f64.exp(), ..usual };
        let [usual, slower] = [usual, slower].map(|day| ahead(1).walked(&day, &[]).drop.unwrap());
        assert_relative_eq!(slower.0, usual.0 * 0.4f64.exp(), max_relative = 1e-12);
        assert_relative_eq!(slower.1, usual.1 * (-0.4f64).exp(), max_relative = 1e-12);
    }

    #[test]
    fn law_a_target_that_the_way_never_brings_down_has_no_drop() {
        let walked = ahead(1).walked(&Day { needed: 1e9, ..day() }, &[1e6]);
        assert_eq!(walked.drop, None);
        assert!(!walked.reached[0].is_there);
        assert_relative_eq!(walked.reached[0].rise_c, 79.0 * 6.0, max_relative = 1e-12);
    }
}
