//! The look plan: when to walk to the kiln, when to stay there, when to leave again.
//!
//! A walk costs 1. A minute of standing at the kiln costs a fifth of that, finding the cone down
//! late costs more with the square of the minutes, and a load that is over costs as much as the limit
//! on losing one says: as many walks as there are loads to one that may be lost. The plan of
//! least expected cost is found backwards over a grid of minutes. It reckons with three facts
//! of the trade: that a look at which no cone has moved rules out a drop for as long as the next
//! cone takes from its first lean on, that people come late to a call, and that whoever stands there
//! sees the cone go down.

use super::seen::Warning;
use super::walks::ExpectedWalk;
use crate::forecast::Outlook;
use crate::units::{Moment, Span};

/// What a plan is made for.
#[derive(Debug, Clone, Copy)]
pub struct Wanted {
    /// How long the load forgives.
    pub forgives: Span,
    /// The chance of being found later than that which is worth a walk.
    pub limit: f64,
    /// When the last look was, or when the firing was lit.
    pub last_look: Moment,
    /// Whether somebody may be at the kiln since then, and whether no cone had moved.
    pub there: bool,
    pub stood: bool,
    /// How late people come when they are called.
    pub walks: ExpectedWalk,
    /// How long before the drop the next cone gives warning of it, if any does.
    pub warning: Option<Warning>,
}

/// The next looks, in the order of time.
#[derive(Debug, Clone, PartialEq)]
pub struct LookPlan {
    /// Minute by minute where somebody is to stay.
    pub looks: Vec<Moment>,
    /// How late the drop would be found at worst with this plan: the longest pause after the
    /// drop has become possible.
    pub late_at_worst: Span,
}

/// How late the target may be found without harm to anything but the evening, minutes, or half of what
/// the load forgives, if that is more: the unit in which lateness is weighed against a walk.
const LATE_MINUTES: f64 = 2.5;
/// So much of what a load is reckoned to forgive is sure (a guess): the climb at the end is not
/// known to the minute, nor is the kiln the chart's.
const FORGIVES_SURELY: f64 = 0.7;
/// What being found so late costs, in walks.
const LATE_COST: f64 = 8.0;
/// What a minute of standing at the kiln costs, in walks.
const STANDING_COST: f64 = 0.2;
/// What is still to come when a cone was seen to move, in walks: one more, and some minutes there (a
/// guess).
const NEAR_COST: f64 = 1.8;
/// Pauses are tried to the minute up to this many, then in steps of ten up to so many.
const PAUSES: [usize; 2] = [60, 600];
/// The grid reaches over this much of the drops' chance at either end.
const THIN_END: f64 = 1e-5;
/// Longest plan, minutes: two days. It is reckoned in as many steps at most.
const LONGEST_GRID: f64 = 2880.0;
const MOST_STEPS: f64 = 900.0;
/// How many looks ahead are told.
const LOOKS_TOLD: usize = 12;

/// Chances of the drop on a grid of whole minutes, or of several.
struct Grid {
    /// What a lost load costs, in walks.
    lost: f64,
    /// Minutes from one entry to the next.
    step_min: f64,
    /// Cumulative: chance, chance times entry, chance times entry squared, before each entry.
    sums: Vec<[f64; 3]>,
    /// The first entry at which the drop may be when no cone has moved at an entry.
    free: Vec<usize>,
    /// Entries a load forgives, and the unit of lateness, entries.
    forgives: f64,
    late: f64,
    /// How late people come, entries, and how often.
    walks: [(usize, f64); ExpectedWalk::PARTS],
}

/// What is best for somebody who is there after a look at an entry at which no cone had moved, in
/// walks times chance.
#[derive(Clone, Copy)]
struct Best {
    /// For somebody who leaves: when the next call is due.
    next: usize,
    /// Whether to stay for another entry instead.
    stay: bool,
    /// What either is expected to cost.
    cost: f64,
}

pub fn plan(outlook: &Outlook, wanted: &Wanted) -> LookPlan {
    let drops = &outlook.drops;
    let lit = drops.lit();
    let minutes = |at: Moment| (at - lit).as_minutes();
    let spread = (minutes(drops.quantile(0.84)) - minutes(drops.quantile(0.16))) / 2.0;
    let blur_min = (0.1 * spread).max(0.4);
    let last_look = minutes(wanted.last_look).floor();
    let earliest = (minutes(drops.quantile(THIN_END)) - 4.0 * blur_min).floor();
    let middle = minutes(drops.quantile(0.5)).floor();
    let starts = if wanted.there { last_look } else { earliest.min(middle - 5.0).max(last_look) };
    let latest = (minutes(drops.quantile(1.0 - THIN_END)) + 4.0 * blur_min).ceil();
    let long = (latest - starts).clamp(2.0, LONGEST_GRID);
    let step_min = (long / MOST_STEPS).ceil();
    let grid =
        Grid::of(outlook, wanted, starts, step_min, (long / step_min).ceil() as usize, blur_min);
    let best = grid.cheapest();
    let end = grid.end();
    let mut looks = Vec::new();
    let mut late_at_worst: usize = 0;
    // A look made just now tells as much as one that is still to come.
    let mut known = if wanted.there && wanted.stood { grid.free[0] } else { 0 };
    let (mut at, mut there) = (0, wanted.there);
    while at + 1 < end && looks.len() < LOOKS_TOLD {
        let Best { next, stay, .. } =
            if at == 0 { grid.best_from(0, known, &best) } else { best[at] };
        let next = if there && stay { at + 1 } else { next };
        looks.push(lit + Span::from_hours((starts + next as f64 * step_min) / 60.0));
        late_at_worst = late_at_worst.max(next.saturating_sub(grid.first_possible(known.max(at))));
        (at, known, there) = (next, grid.free[next.min(end)], true);
    }
    LookPlan { looks, late_at_worst: Span::minutes((late_at_worst as f64 * step_min) as i64) }
}

impl Grid {
    fn of(
        outlook: &Outlook,
        wanted: &Wanted,
        starts: f64,
        step_min: f64,
        count: usize,
        blur_min: f64,
    ) -> Grid {
        let mut chance = vec![0.0; count];
        for (hours, weight) in outlook.drops.weighted_hours() {
            let centre = (hours * 60.0 - starts) / step_min;
            spread_out(&mut chance, centre, blur_min / step_min, weight);
        }
        let mut sums = vec![[0.0; 3]; count + 1];
        for (at, chance) in chance.iter().enumerate() {
            let entry = at as f64 + 0.5;
            for (power, value) in [1.0, entry, entry * entry].into_iter().enumerate() {
                sums[at + 1][power] = sums[at][power] + chance * value;
            }
        }
        // When a cone first moves that goes down in this entry, and from that the other way round.
        let moves = |entry: usize| {
            let hours = (starts + entry as f64 * step_min) / 60.0;
            let climb = outlook.climb_at(hours);
            let before_min = wanted.warning.map_or(0.0, |w| w.before(climb).as_minutes());
            entry as f64 - before_min / step_min
        };
        let mut drop = 0;
        let free = (0..=count).map(|at| {
            while drop < count && moves(drop) + 1.0 <= at as f64 {
                drop += 1;
            }
            drop
        });
        let free = free.collect();
        let forgives_min = FORGIVES_SURELY * wanted.forgives.as_minutes();
        Grid {
            lost: 1.0 / wanted.limit,
            step_min,
            sums,
            free,
            forgives: (forgives_min / step_min).max(1.0),
            late: LATE_MINUTES.max(0.5 * forgives_min) / step_min,
            walks: wanted.walks.0.map(|(min, chance)| ((min / step_min).round() as usize, chance)),
        }
    }

    fn end(&self) -> usize {
        self.sums.len() - 1
    }

    fn chance_between(&self, from: usize, to: usize) -> f64 {
        let end = self.end();
        (self.sums[to.min(end)][0] - self.sums[from.min(end)][0]).max(0.0)
    }

    /// What lateness costs when the drop lies between two entries and is found at the second.
    fn lateness(&self, from: usize, to: usize) -> f64 {
        if to <= from {
            return 0.0;
        }
        let (look, end) = (to as f64, self.end());
        let over = ((look - self.forgives).floor().max(0.0) as usize).clamp(from, to);
        let (low, high) = (&self.sums[over.min(end)], &self.sums[to.min(end)]);
        let square =
            look * look * (high[0] - low[0]) - 2.0 * look * (high[1] - low[1]) + (high[2] - low[2]);
        LATE_COST * square.max(0.0) / (self.late * self.late)
            + self.lost * self.chance_between(from, over)
    }

    /// What comes after a look at an entry, before which the drop was not: near where a cone has moved
    /// by then.
    fn after_look(&self, known: usize, at: usize, best: &[Best]) -> f64 {
        let at = at.min(self.end());
        let near = self.chance_between(known.max(at), self.free[at].max(known));
        let worst = self.walks[ExpectedWalk::PARTS - 1].0.saturating_sub(1) as f64;
        (NEAR_COST + STANDING_COST * worst * self.step_min) * near + best[at].cost
    }

    /// The best after an entry from which on the drop may be from `known` on.
    fn best_from(&self, at: usize, known: usize, best: &[Best]) -> Best {
        let end = self.end();
        let left = self.chance_between(known, end);
        let (mut away, mut next) = (f64::INFINITY, end);
        let pauses = (1..=PAUSES[0]).chain((PAUSES[0] + 10..=PAUSES[1]).step_by(10));
        for to in pauses.map(|pause| at + pause).take_while(|to| *to <= end) {
            // Later calls are only later still.
            if left + self.lateness(known, to) > away {
                break;
            }
            let mut total = left;
            for (late, chance) in self.walks {
                let come = to + late;
                total += chance * (self.lateness(known, come) + self.after_look(known, come, best));
            }
            if total < away {
                (away, next) = (total, to);
            }
        }
        let stays = STANDING_COST * self.step_min * left
            + self.lateness(known, at + 1)
            + self.after_look(known, at + 1, best);
        Best { next, stay: stays < away, cost: stays.min(away) }
    }

    /// For each entry with a look at which nothing had moved, what is best then.
    fn cheapest(&self) -> Vec<Best> {
        let end = self.end();
        let over = Best { next: end, stay: false, cost: 0.0 };
        let mut best = vec![over; end + 1];
        for at in (1..end).rev() {
            // Before any cone can have moved, waiting is free.
            let waiting = self.chance_between(0, self.free[at + 1]) < 1e-9 && at + 1 < end;
            best[at] =
                if waiting { best[at + 1] } else { self.best_from(at, self.free[at], &best) };
        }
        best
    }

    /// The first entry from `from` on in which the drop is not out of the question.
    fn first_possible(&self, from: usize) -> usize {
        let end = self.end();
        (from..end).find(|at| self.chance_between(from, at + 1) > 1e-3).unwrap_or(end)
    }
}

/// Adds `weight` to the grid as a normal bump around `centre` (in entries). What falls before the
/// grid (the drop may already have happened) or after it counts in the first or last entry.
fn spread_out(chance: &mut [f64], centre: f64, blur: f64, weight: f64) {
    let end = chance.len() as f64 - 1.0;
    let centre = centre.clamp(0.0, end + 1.0);
    let first = (centre - 4.0 * blur).floor().clamp(0.0, end) as usize;
    let last = (centre + 4.0 * blur).ceil().min(end) as usize;
    let height = |at: usize| (-0.5 * ((at as f64 + 0.5 - centre) / blur).powi(2)).exp();
    let sum: f64 = (first..=last).map(height).sum();
    if sum < 1e-300 {
        chance[first] += weight;
        return;
    }
    for (at, chance) in chance.iter_mut().enumerate().take(last + 1).skip(first) {
        *chance += weight * height(at) / sum;
    }
}
