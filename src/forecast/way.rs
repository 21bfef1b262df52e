//! The way from the last reading on, walked by many days side by side.
//!
//! Every day goes the same stretches, each at its own pace; what differs is how long a stretch
//! takes, and heat work takes just as much longer. So one factor for each stretch and day is all
//! there is to reckon, and one exponential.

use std::ops::Range;

use super::evidence::TARGET;
use super::lanes::{LANES, Lanes, Task, any, at_best, coarse_exp, larger, smaller};
use super::planned::Stretch;

/// When, after the last reading, the wandering climb has its knots, hours.
pub(super) const KNOTS_H: [f64; 5] = [0.2, 0.5, 1.0, 2.0, 4.0];

/// Longer than any firing, and no infinity, which nothing could be multiplied by.
const LONGEST_H: f64 = 1e290;

/// A stretch at the usual pace.
#[derive(Debug, Clone, Copy)]
struct Leg {
    /// Its middle above the start of the way, C.
    rise_c: f64,
    climb_c_per_h: f64,
    hours: f64,
    /// Heat work of the pack.
    work: [f64; 3],
}

/// The stretches from the last reading on, as they usually go.
#[derive(Debug, Clone)]
pub(super) struct Way {
    legs: Vec<Leg>,
}

/// How days differ on the way.
#[derive(Debug, Clone)]
pub(super) struct Days {
    /// ln of the pace at the last reading, and at each knot.
    pub(super) paces: [Lanes; KNOTS_H.len() + 1],
    /// How the climb falls with temperature, ln per C.
    pub(super) slowing: Lanes,
    /// Heat work of the target, at the usual temperatures, from the start of the way to its drop;
    /// not above 0 when it dropped before.
    pub(super) needed: Lanes,
}

/// The days at one moment; where the way does not lead so far, at its end.
#[derive(Debug, Clone)]
pub(super) struct Reached {
    /// Heat work of the pack since the start of the way, and the chamber above that, C.
    pub(super) work: [Lanes; 3],
    pub(super) rise_c: Lanes,
    /// Hours from the end of the way to the moment.
    left_h: Lanes,
}

impl Reached {
    #[inline(always)]
    fn start(moment_h: f64) -> Reached {
        Reached { work: [[0.0; LANES]; 3], rise_c: [0.0; LANES], left_h: [moment_h; LANES] }
    }

    /// Goes along a leg that takes `slower` times as long as usual, as far as the moment.
    #[inline(always)]
    fn pass(&mut self, leg: &Leg, slower: &Lanes) {
        let each = leg.work.map(|work| work / leg.hours);
        for i in 0..LANES {
            let inside = smaller(leg.hours * slower[i], self.left_h[i]);
            self.left_h[i] -= inside;
            self.rise_c[i] += inside * leg.climb_c_per_h / slower[i];
            for (work, each) in self.work.iter_mut().zip(each) {
                work[i] += inside * each;
            }
        }
    }

    #[inline(always)]
    fn is_on_its_way(&self) -> bool {
        any(|i| self.left_h[i] > 0.0)
    }

    /// Whether the way of this day leads so far.
    pub(super) fn is_there(&self, day: usize) -> bool {
        self.left_h[day] <= 0.0
    }
}

/// What came of the days.
#[derive(Debug, Clone)]
pub(super) struct Walked {
    /// Hours from the last reading to the drop; infinite when the way ends before.
    pub(super) drop_h: Lanes,
    /// The climb at the drop, C/h.
    pub(super) drop_climb_c_per_h: Lanes,
    /// In the order of the moments asked for.
    pub(super) reached: Vec<Reached>,
}

impl Way {
    pub(super) fn new(stretches: &[(Stretch, [f64; 3])], from_c: f64) -> Way {
        let leg = |(stretch, work): &(Stretch, [f64; 3])| Leg {
            rise_c: 0.5 * (stretch.from_c + stretch.to_c) - from_c,
            climb_c_per_h: (stretch.to_c - stretch.from_c) / stretch.hours,
            hours: stretch.hours,
            work: *work,
        };
        Way { legs: stretches.iter().map(leg).collect() }
    }

    /// Walks until every target has dropped and every moment, in hours from the last reading, in
    /// order and not before it, is past.
    pub(super) fn walked(&self, days: &Days, moments_h: &[f64]) -> Walked {
        at_best(Walk { way: self, days, moments_h })
    }
}

struct Walk<'a> {
    way: &'a Way,
    days: &'a Days,
    moments_h: &'a [f64],
}

impl Task for Walk<'_> {
    type Output = Walked;

    #[inline(always)]
    fn run(self) -> Walked {
        let slowing = &self.days.slowing;
        let mut pace = Pace::of(&self.days.paces);
        let mut reached: Vec<Reached> = self.moments_h.iter().map(|h| Reached::start(*h)).collect();
        let mut past = 0;
        let mut after = [0.0; LANES];
        // Heat work still to do, and the hours it takes.
        let mut needed = self.days.needed.map(|needed| larger(needed, 0.0));
        let mut drop_h = [0.0; LANES];
        // The usual climb at the drop, and how much slower that day is.
        let (mut usual_climb, mut drop_slower) = ([0.0; LANES], [1.0; LANES]);
        for leg in &self.way.legs {
            let mut slower = pace.slower(&after);
            // The bits of what is still to do, of all days: 0 when nothing is.
            let mut left = 0;
            for i in 0..LANES {
                slower[i] = coarse_exp(slower[i] - slowing[i] * leg.rise_c);
            }
            for reached in &mut reached[past..] {
                reached.pass(leg, &slower);
            }
            while past < reached.len() && !reached[past].is_on_its_way() {
                past += 1;
            }
            // A cold kiln does no heat work to speak of, however long it takes.
            let hours_each = smaller(leg.hours / leg.work[TARGET], LONGEST_H);
            for i in 0..LANES {
                // Replaced by sums: a choice would be stored under a mask, for which some
                // processors take many times as long.
                let open = if needed[i] > 0.0 { 1.0 } else { 0.0 };
                usual_climb[i] += open * (leg.climb_c_per_h - usual_climb[i]);
                drop_slower[i] += open * (slower[i] - drop_slower[i]);
                let hours = leg.hours * slower[i];
                drop_h[i] += smaller(needed[i] * hours_each, hours);
                needed[i] = larger(needed[i] - leg.work[TARGET] * slower[i], 0.0);
                left |= needed[i].to_bits();
                after[i] += hours;
            }
            if past == reached.len() && left == 0 {
                break;
            }
        }
        for i in 0..LANES {
            drop_h[i] = if needed[i] > 0.0 { f64::INFINITY } else { drop_h[i] };
        }
        let drop_climb_c_per_h = std::array::from_fn(|i| usual_climb[i] / drop_slower[i]);
        Walked { drop_h, drop_climb_c_per_h, reached }
    }
}

/// ln of how much slower than usual each day goes: a line over the hours since the last reading
/// with a bend at each knot, and level beyond the last.
struct Pace {
    /// The line that all days have come to: its value at the last reading and its steepness.
    at_start: Lanes,
    steepness: Lanes,
    /// How much steeper it becomes at each knot.
    bends: [Lanes; KNOTS_H.len()],
    /// The knots that some days have passed and others have not.
    turning: Range<usize>,
}

impl Pace {
    #[inline(always)]
    fn of(paces: &[Lanes; KNOTS_H.len() + 1]) -> Pace {
        let mut steepness = [[0.0; LANES]; KNOTS_H.len() + 1];
        let mut before_h = 0.0;
        for (knot, at_h) in KNOTS_H.into_iter().enumerate() {
            let each = 1.0 / (at_h - before_h);
            for i in 0..LANES {
                steepness[knot][i] = (paces[knot][i] - paces[knot + 1][i]) * each;
            }
            before_h = at_h;
        }
        let mut bends = [[0.0; LANES]; KNOTS_H.len()];
        for (bend, steepness) in bends.iter_mut().zip(steepness.windows(2)) {
            for (i, bend) in bend.iter_mut().enumerate() {
                *bend = steepness[1][i] - steepness[0][i];
            }
        }
        let [steepness, ..] = steepness;
        Pace { at_start: paces[0].map(|pace| -pace), steepness, bends, turning: 0..0 }
    }

    /// For days so many hours after the last reading, which never go back.
    #[inline(always)]
    fn slower(&mut self, after: &Lanes) -> Lanes {
        let turning = &mut self.turning;
        while turning.end < KNOTS_H.len() && any(|i| after[i] > KNOTS_H[turning.end]) {
            turning.end += 1;
        }
        while turning.start < turning.end && !any(|i| after[i] < KNOTS_H[turning.start]) {
            let (bend, at_h) = (&self.bends[turning.start], KNOTS_H[turning.start]);
            for (i, bend) in bend.iter().enumerate() {
                self.at_start[i] -= bend * at_h;
                self.steepness[i] += bend;
            }
            turning.start += 1;
        }
        let mut slower = [0.0; LANES];
        for i in 0..LANES {
            slower[i] = self.at_start[i] + self.steepness[i] * after[i];
        }
        for knot in turning.clone() {
            for i in 0..LANES {
                slower[i] += self.bends[knot][i] * larger(after[i] - KNOTS_H[knot], 0.0);
            }
        }
        slower
    }
}

#[cfg(test)]
mod tests {
    use super::super::normal::Draws;
    use super::super::sampler::MOST_UNKNOWNS;
    use super::*;

    const MOMENTS_H: [f64; 3] = [0.0, 0.13, 1.2];

    /// Eighty stretches with a soak among them, and heat work that grows as it gets hotter.
    fn stretches() -> Vec<(Stretch, [f64; 3])> {
        let mut from_c = 600.0;
        (0..80)
            .map(|at| {
                let (rise_c, hours) = if at == 30 { (0.0, 0.2) } else { (6.0, 0.05) };
                let stretch = Stretch { from_c, to_c: from_c + rise_c, hours };
                let work = 0.01 * hours * (0.02 * (from_c - 600.0)).exp();
                from_c += rise_c;
                (stretch, [2.0 * work, work, 0.5 * work])
            })
            .collect()
    }

    fn days() -> Days {
        let mut points = [[0.0; LANES]; MOST_UNKNOWNS];
        Draws::seeded(11).fill(&mut points, 8);
        Days {
            paces: std::array::from_fn(|knot| points[knot].map(|z| 0.3 * z)),
            slowing: points[6].map(|z| 0.001 * z),
            needed: points[7].map(|z| 0.01 * (0.5 * z).exp()),
        }
    }

    /// The pace between its knots.
    fn pace(paces: &[f64], after_h: f64) -> f64 {
        let Some(next) = KNOTS_H.iter().position(|knot_h| after_h < *knot_h) else {
            return paces[KNOTS_H.len()];
        };
        let before_h = if next == 0 { 0.0 } else { KNOTS_H[next - 1] };
        let part = (after_h - before_h) / (KNOTS_H[next] - before_h);
        paces[next] + (paces[next + 1] - paces[next]) * part
    }

    /// Hours to the drop, its climb, and heat work and chamber at the moments: one day by itself,
    /// stretch after stretch.
    fn one_day(days: &Days, day: usize, exp: fn(f64) -> f64) -> (f64, f64, Vec<([f64; 3], f64)>) {
        let paces = days.paces.each_ref().map(|knot| knot[day]);
        let (mut after_h, mut done) = (0.0, [0.0; 3]);
        let (mut drop, mut reached) = (None, Vec::new());
        for (stretch, work) in stretches() {
            let rise_c = 0.5 * (stretch.from_c + stretch.to_c) - 600.0;
            let slower = exp(-pace(&paces, after_h) - days.slowing[day] * rise_c);
            let hours = stretch.hours * slower;
            let added = work.map(|work| work * slower);
            let climb_c_per_h = (stretch.to_c - stretch.from_c) / hours;
            while let Some(moment_h) = MOMENTS_H.get(reached.len())
                && *moment_h <= after_h + hours
            {
                let part = (moment_h - after_h) / hours;
                let work = std::array::from_fn(|cone| done[cone] + part * added[cone]);
                let rise_c = stretch.from_c + part * (stretch.to_c - stretch.from_c) - 600.0;
                reached.push((work, rise_c));
            }
            if drop.is_none() && done[TARGET] + added[TARGET] >= days.needed[day] {
                let part = (days.needed[day] - done[TARGET]) / added[TARGET];
                drop = Some((after_h + part * hours, climb_c_per_h));
            }
            after_h += hours;
            done = std::array::from_fn(|cone| done[cone] + added[cone]);
        }
        let (drop_h, climb_c_per_h) = drop.unwrap_or((f64::INFINITY, 0.0));
        (drop_h, climb_c_per_h, reached)
    }

    /// Side by side as each by itself: exactly with the same exponential, and with the standard
    /// library's to what the coarse one leaves out.
    #[test]
    fn crosscheck_many_days_beside_one_at_a_time() {
        same_as_one_at_a_time(coarse_exp, 1e-10);
        same_as_one_at_a_time(f64::exp, 5e-6);
    }

    fn same_as_one_at_a_time(exp: fn(f64) -> f64, tolerance: f64) {
        let (way, days) = (Way::new(&stretches(), 600.0), days());
        let walked = way.walked(&days, &MOMENTS_H);
        let same = |a: f64, b: f64, what: &str| {
            let close = a == b || (a - b).abs() <= tolerance * b.abs().max(1e-3);
            assert!(close, "{what}: {a} beside {b}");
        };
        for day in 0..LANES {
            let (drop_h, climb_c_per_h, reached) = one_day(&days, day, exp);
            assert!(drop_h > 0.0 && drop_h.is_finite(), "an ordinary day: {drop_h}");
            same(walked.drop_h[day], drop_h, "hours to the drop");
            same(walked.drop_climb_c_per_h[day], climb_c_per_h, "climb at the drop");
            assert_eq!(reached.len(), MOMENTS_H.len());
            for (many, (work, rise_c)) in walked.reached.iter().zip(reached) {
                assert!(many.is_there(day));
                same(many.rise_c[day], rise_c, "chamber");
                for (many, one) in many.work.iter().zip(work) {
                    same(many[day], one, "heat work");
                }
            }
        }
    }

    #[test]
    fn law_a_target_that_the_way_never_brings_down_has_no_drop() {
        let days = Days { needed: [1e9; LANES], ..days() };
        let walked = Way::new(&stretches(), 600.0).walked(&days, &[1e6]);
        assert!(walked.drop_h.iter().all(|drop_h| drop_h.is_infinite()));
        assert!((0..LANES).all(|day| !walked.reached[0].is_there(day)));
        let end_c = 79.0 * 6.0;
        assert!(walked.reached[0].rise_c.iter().all(|c| (c - end_c).abs() < 1e-9));
    }
}
