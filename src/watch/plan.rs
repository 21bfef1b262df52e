//! The look plan: the fewest looks that never let a load go over.
//!
//! A look costs a walk; finding the cone down late costs more with every minute, steeply. The next
//! looks are those of least expected cost, found backwards over a grid of minutes, as if each look
//! only said "not yet" (what else it says can only save looks later).
//!
//! Whatever the costs say, the chance of finding the cone down later than the load forgives stays
//! under a limit. Each look spends of that limit: half of it is shared out over the looks in
//! halves of what is left, the other half by the chance that the drop lies before this look. So
//! the sum stays below the limit however often the plan is made anew.

use crate::forecast::Drops;
use crate::units::{Moment, Span};

/// What a plan is made for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wanted {
    /// How long the load forgives.
    pub forgives: Span,
    /// The limit on being found later than that.
    pub limit: f64,
    /// Looks already made at which the drop was possible.
    pub looks_made: u32,
    /// When the last look was, or when the firing was lit.
    pub last_look: Moment,
}

/// The next looks, in the order of time.
#[derive(Debug, Clone, PartialEq)]
pub struct LookPlan {
    pub looks: Vec<Moment>,
    /// How late the drop would be found at worst with this plan: the longest pause after the
    /// drop has become possible.
    pub late_at_worst: Span,
}

/// How late the target may be found without harm to anything but the evening, minutes: the unit
/// in which lateness is weighed against a walk.
const LATE_MINUTES: f64 = 2.5;
/// What being found so late costs, in walks; it grows with the square.
const LATE_COST: f64 = 8.0;
/// Looks closer than this are staying at the spyhole, minutes.
pub const STAY_MINUTES: usize = 1;
/// A pause longer than this never follows from cost alone, minutes.
const LONGEST_PAUSE: usize = 60;
/// The grid reaches over this much of the drops' chance at either end.
const THIN_END: f64 = 1e-5;
/// Longest grid, minutes: two days.
const LONGEST_GRID: usize = 2880;

/// Chances of the drop on a grid of whole minutes since lit.
#[derive(Debug)]
struct Grid {
    /// The minute of the first entry.
    from: i64,
    /// Chance of a drop in each minute, after smoothing.
    chance: Vec<f64>,
    /// Cumulative: chance, chance times minute, chance times minute squared, before each entry.
    sums: Vec<[f64; 3]>,
}

pub fn plan(drops: &Drops, wanted: &Wanted) -> LookPlan {
    let grid = Grid::of(drops, wanted.last_look);
    let pauses = grid.cheapest();
    let mut looks = Vec::new();
    let mut at = 0;
    let mut late_at_worst: usize = 0;
    let mut made = wanted.looks_made;
    while at + 1 < grid.chance.len() && looks.len() < 12 {
        let safe = grid.latest_safe(at, wanted, made);
        let next = pauses[at].min(safe).max(at + STAY_MINUTES);
        looks.push(grid.moment(drops.lit(), next));
        let first_possible = grid.first_possible(at);
        late_at_worst = late_at_worst.max(next.saturating_sub(first_possible.max(at)));
        at = next;
        made += 1;
    }
    LookPlan { looks, late_at_worst: Span::minutes(late_at_worst as i64) }
}

impl Grid {
    fn of(drops: &Drops, last_look: Moment) -> Grid {
        let lit = drops.lit();
        let minutes = |at: Moment| (at - lit).as_minutes();
        let spread = (minutes(drops.quantile(0.84)) - minutes(drops.quantile(0.16))) / 2.0;
        let blur = (0.2 * spread).max(0.4);
        let last_look = minutes(last_look).floor() as i64;
        let earliest = (minutes(drops.quantile(THIN_END)) - 4.0 * blur).floor() as i64;
        let from = last_look.max(earliest.min(minutes(drops.quantile(0.5)) as i64 - 5));
        let latest = (minutes(drops.quantile(1.0 - THIN_END)) + 4.0 * blur).ceil() as i64;
        let count = ((latest - from).max(2) as usize).min(LONGEST_GRID);
        let mut chance = vec![0.0; count];
        for (hours, weight) in drops.weighted_hours() {
            spread_out(&mut chance, hours * 60.0 - from as f64, blur, weight);
        }
        let mut sums = vec![[0.0; 3]; count + 1];
        for (at, chance) in chance.iter().enumerate() {
            let minute = at as f64 + 0.5;
            for (power, value) in [1.0, minute, minute * minute].into_iter().enumerate() {
                sums[at + 1][power] = sums[at][power] + chance * value;
            }
        }
        Grid { from, chance, sums }
    }

    fn moment(&self, lit: Moment, at: usize) -> Moment {
        lit + Span::minutes(self.from + at as i64)
    }

    fn chance_between(&self, from: usize, to: usize) -> f64 {
        let end = self.chance.len();
        (self.sums[to.min(end)][0] - self.sums[from.min(end)][0]).max(0.0)
    }

    /// What lateness costs when the drop lies between two looks, in walks times chance.
    fn lateness(&self, from: usize, to: usize) -> f64 {
        let (low, high) = (&self.sums[from], &self.sums[to]);
        let look = to as f64;
        let square =
            look * look * (high[0] - low[0]) - 2.0 * look * (high[1] - low[1]) + (high[2] - low[2]);
        LATE_COST * square.max(0.0) / (LATE_MINUTES * LATE_MINUTES)
    }

    /// For each minute with a look, when the next one is best.
    fn cheapest(&self) -> Vec<usize> {
        let count = self.chance.len();
        let mut cost = vec![0.0; count + 1];
        let mut next = vec![count; count + 1];
        for at in (0..count).rev() {
            let left = self.chance_between(at, count);
            let mut best = (f64::INFINITY, count);
            let until = count.min(at + LONGEST_PAUSE);
            for (to, cost_from) in cost.iter().enumerate().take(until + 1).skip(at + 1) {
                let total = left + self.lateness(at, to) + cost_from;
                if total < best.0 {
                    best = (total, to);
                }
            }
            // Before anything can have happened, waiting is free.
            let waiting = self.chance_between(at, at + 1) < 1e-12 && at + 1 < count;
            if waiting {
                best = (cost[at + 1], next[at + 1]);
            }
            (cost[at], next[at]) = best;
        }
        next
    }

    /// The latest look after `from` that keeps within the limit.
    fn latest_safe(&self, from: usize, wanted: &Wanted, made: u32) -> usize {
        let forgives = wanted.forgives.as_minutes().floor().max(1.0) as usize;
        let left = self.chance_between(from, self.chance.len()).max(1e-9);
        let shared = 0.5f64.powi(made.min(20) as i32 + 2);
        let mut to = from + STAY_MINUTES;
        while to < self.chance.len() {
            let next = to + 1;
            let late = self.chance_between(from, next.saturating_sub(forgives).max(from)) / left;
            let before = self.chance_between(from, next) / left;
            if late > wanted.limit * (shared + 0.5 * before) {
                break;
            }
            to = next;
        }
        to
    }

    /// The first minute from `from` on in which the drop is not out of the question.
    fn first_possible(&self, from: usize) -> usize {
        let end = self.chance.len();
        (from..end).find(|at| self.chance_between(from, at + 1) > 1e-3).unwrap_or(end)
    }
}

/// Adds `weight` to the grid as a normal bump around `centre` (in entries). What falls before the
/// grid (the drop may already have happened) or after it counts in the first or last entry.
fn spread_out(chance: &mut [f64], centre: f64, blur: f64, weight: f64) {
    let end = chance.len() as f64 - 1.0;
    let centre = centre.clamp(0.0, end + 1.0);
    let first = (centre - 4.0 * blur).floor().max(0.0) as usize;
    let last = (centre + 4.0 * blur).ceil().min(end) as usize;
    let height = |at: usize| (-0.5 * ((at as f64 + 0.5 - centre) / blur).powi(2)).exp();
    let sum: f64 = (first..=last).map(height).sum();
    for (at, chance) in chance.iter_mut().enumerate().take(last + 1).skip(first) {
        *chance += weight * height(at) / sum;
    }
}
