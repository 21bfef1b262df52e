//! The way from the last reading on, walked by many days side by side.
//!
//! Every day goes the same stretches, each at its own pace; what differs is how long a stretch
//! takes, and heat work takes just as much longer. So one factor for each stretch and day is all
//! there is to reckon, and one exponential.

use super::evidence::TARGET;
use super::lanes::{LANES, Lanes, Task, any, at_best, larger, short_exp};
use super::planned::Stretch;

/// When, after the last reading, the wandering climb has its knots, hours.
pub(super) const KNOTS_H: [f64; 5] = [0.2, 0.5, 1.0, 2.0, 4.0];

/// A stretch at the usual pace.
#[derive(Debug, Clone, Copy)]
struct Leg {
    /// Its start and its middle above the start of the way, C.
    start_c: f64,
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

/// The days at one moment.
#[derive(Debug, Clone)]
pub(super) struct Reached {
    /// Heat work of the pack since the start of the way, and the chamber above that, C.
    pub(super) work: [Lanes; 3],
    pub(super) rise_c: Lanes,
    /// Whether the way leads so far; if not, the numbers are those of its end.
    pub(super) on_the_way: [bool; LANES],
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
            start_c: stretch.from_c - from_c,
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
        let Days { slowing, needed, .. } = self.days;
        let bends = bends(&self.days.paces);
        let mut places = Places::new(self.moments_h);
        let (mut after, mut done) = ([0.0; LANES], [0.0; LANES]);
        let mut drop_h = [f64::INFINITY; LANES];
        // The usual climb at the drop, and how much slower that day is.
        let (mut usual_climb, mut drop_slower) = ([0.0; LANES], [1.0; LANES]);
        let mut knots = 0;
        for leg in &self.way.legs {
            while knots < KNOTS_H.len() && any(|i| after[i] > KNOTS_H[knots]) {
                knots += 1;
            }
            let mut slower: Lanes = [0.0; LANES];
            for i in 0..LANES {
                slower[i] =
                    bends[0][i] * after[i] - self.days.paces[0][i] - slowing[i] * leg.rise_c;
            }
            for (bend, knot_h) in bends[1..].iter().zip(KNOTS_H).take(knots) {
                for i in 0..LANES {
                    slower[i] += bend[i] * larger(after[i] - knot_h, 0.0);
                }
            }
            for slower in &mut slower {
                *slower = short_exp(*slower);
            }
            if places.left() {
                places.pass(leg, &after, &slower);
            }
            let (work, climb) = (leg.work[TARGET], leg.climb_c_per_h);
            let hours_each = leg.hours / work;
            for i in 0..LANES {
                let next = done[i] + work * slower[i];
                let drops = (done[i] < needed[i]) & (next >= needed[i]);
                let at_h = after[i] + (needed[i] - done[i]) * hours_each;
                drop_h[i] = if drops { at_h } else { drop_h[i] };
                usual_climb[i] = if drops { climb } else { usual_climb[i] };
                drop_slower[i] = if drops { slower[i] } else { drop_slower[i] };
                done[i] = next;
                after[i] += leg.hours * slower[i];
            }
            if !places.left() && !any(|i| done[i] < needed[i]) {
                break;
            }
        }
        let drop_climb_c_per_h = std::array::from_fn(|i| usual_climb[i] / drop_slower[i]);
        Walked { drop_h, drop_climb_c_per_h, reached: places.reached }
    }
}

/// The pace between its knots is a line with a bend at each of them: how much steeper -pace
/// becomes at the last reading and at every knot, so that -pace is that of the last reading plus
/// each of these times the hours since. Beyond the last knot it stays.
#[inline(always)]
fn bends(paces: &[Lanes; KNOTS_H.len() + 1]) -> [Lanes; KNOTS_H.len() + 1] {
    let mut bends = [[0.0; LANES]; KNOTS_H.len() + 1];
    let mut before_h = 0.0;
    for (knot, at_h) in KNOTS_H.into_iter().enumerate() {
        let each = 1.0 / (at_h - before_h);
        for i in 0..LANES {
            let steepness = (paces[knot][i] - paces[knot + 1][i]) * each;
            bends[knot][i] += steepness;
            bends[knot + 1][i] -= steepness;
        }
        before_h = at_h;
    }
    bends
}

/// Where the days are at the moments asked for.
struct Places<'a> {
    moments_h: &'a [f64],
    /// Moments that every day has passed.
    past: usize,
    /// Heat work of the pack at the start of the leg.
    done: [Lanes; 3],
    reached: Vec<Reached>,
}

impl<'a> Places<'a> {
    #[inline(always)]
    fn new(moments_h: &'a [f64]) -> Self {
        let start =
            Reached { work: [[0.0; LANES]; 3], rise_c: [0.0; LANES], on_the_way: [false; LANES] };
        let reached = vec![start; moments_h.len()];
        Places { moments_h, past: 0, done: [[0.0; LANES]; 3], reached }
    }

    #[inline(always)]
    fn left(&self) -> bool {
        self.past < self.moments_h.len()
    }

    /// Along one leg, from `after` hours on, that takes `slower` times as long as usual.
    #[inline(always)]
    fn pass(&mut self, leg: &Leg, after: &Lanes, slower: &Lanes) {
        let moments = self.moments_h.iter().zip(&mut self.reached);
        for (moment_h, reached) in moments.skip(self.past) {
            for i in 0..LANES {
                let hours = leg.hours * slower[i];
                let inside = larger(*moment_h - after[i], 0.0);
                let inside = if inside < hours { inside } else { hours };
                let open = !reached.on_the_way[i];
                for cone in 0..3 {
                    let work = self.done[cone][i] + inside * (leg.work[cone] / leg.hours);
                    let kept = reached.work[cone][i];
                    reached.work[cone][i] = if open { work } else { kept };
                }
                let rise_c = leg.start_c + inside * leg.climb_c_per_h / slower[i];
                reached.rise_c[i] = if open { rise_c } else { reached.rise_c[i] };
                reached.on_the_way[i] |= *moment_h <= after[i] + hours;
            }
        }
        for (done, work) in self.done.iter_mut().zip(leg.work) {
            for i in 0..LANES {
                done[i] += work * slower[i];
            }
        }
        while self.left() && self.reached[self.past].on_the_way.iter().all(|there| *there) {
            self.past += 1;
        }
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
    fn one_day(days: &Days, day: usize) -> (f64, f64, Vec<([f64; 3], f64)>) {
        let paces = days.paces.each_ref().map(|knot| knot[day]);
        let (mut after_h, mut done) = (0.0, [0.0; 3]);
        let (mut drop, mut reached) = (None, Vec::new());
        for (stretch, work) in stretches() {
            let rise_c = 0.5 * (stretch.from_c + stretch.to_c) - 600.0;
            let slower = (-pace(&paces, after_h) - days.slowing[day] * rise_c).exp();
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

    /// Side by side as each by itself, to what the short exponential leaves out.
    #[test]
    fn crosscheck_many_days_beside_one_at_a_time() {
        const TOLERANCE: f64 = 1e-10;
        let (way, days) = (Way::new(&stretches(), 600.0), days());
        let walked = way.walked(&days, &MOMENTS_H);
        let same = |a: f64, b: f64, what: &str| {
            let close = a == b || (a - b).abs() <= TOLERANCE * b.abs().max(1e-3);
            assert!(close, "{what}: {a} beside {b}");
        };
        for day in 0..LANES {
            let (drop_h, climb_c_per_h, reached) = one_day(&days, day);
            assert!(drop_h > 0.0 && drop_h.is_finite(), "an ordinary day: {drop_h}");
            same(walked.drop_h[day], drop_h, "hours to the drop");
            same(walked.drop_climb_c_per_h[day], climb_c_per_h, "climb at the drop");
            assert_eq!(reached.len(), MOMENTS_H.len());
            for (many, (work, rise_c)) in walked.reached.iter().zip(reached) {
                assert!(many.on_the_way[day]);
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
        assert!(walked.reached[0].on_the_way.iter().all(|there| !there));
        let end_c = 79.0 * 6.0;
        assert!(walked.reached[0].rise_c.iter().all(|c| (c - end_c).abs() < 1e-9));
    }
}
