//! The next check: the plan of least expected cost over the hours at which somebody is there.
//!
//! A cracked piece costs 1. A check costs its walk, and more if the piece is not ready, since it may be
//! pulled; every hour of waiting costs a little. Found backwards over the candidates.

use crate::units::Moment;

/// Chances at one moment somebody is there.
#[derive(Debug, Clone)]
pub struct Candidate {
    pub at: Moment,
    pub hours: f64,
    /// The chance that it has not let go by then.
    pub closed: f64,
    /// The chance that it is too late by then, and it had not let go at each candidate before: the
    /// first is for no check at all, the next for a check at the first candidate, and so on.
    pub late: Vec<f64>,
}

/// What is planned, and what it is expected to bring.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plan {
    pub next: Moment,
    /// The chance that it is ready at the next check, and that it ends cracked.
    pub ready: f64,
    pub cracks: f64,
}

/// What a check costs, and one that comes too early, in pieces (guesses, chosen by simulation).
const CHECK: f64 = 0.03;
const EARLY: f64 = 0.12;
const WAITING_HOUR: f64 = 0.001;
/// A piece that is never opened is lost.
const NEVER: f64 = 1.0;

/// The plan; `None` where nobody comes.
pub fn plan(candidates: &[Candidate]) -> Option<Plan> {
    let count = candidates.len();
    // After a check at each candidate that found it closed: cost, cracks, and the next check.
    let mut best = vec![(0.0, 0.0, count); count + 1];
    for last in (0..=count).rev() {
        let (closed, hours) = match last.checked_sub(1) {
            Some(before) => (candidates[before].closed, candidates[before].hours),
            None => (1.0, candidates.first()?.hours),
        };
        let mut cheapest = (NEVER * closed, NEVER * closed, count);
        for (next, candidate) in candidates.iter().enumerate().skip(last) {
            let (later, cracks, _) = best[next + 1];
            let late = candidate.late[last];
            let cost = late
                + CHECK * closed
                + EARLY * candidate.closed
                + WAITING_HOUR * closed * (candidate.hours - hours)
                + later;
            if cost < cheapest.0 {
                cheapest = (cost, late + cracks, next);
            }
        }
        best[last] = cheapest;
    }
    let (_, cracks, next) = best[0];
    let first = candidates.get(next).or(candidates.first())?;
    Some(Plan { next: first.at, ready: 1.0 - first.closed, cracks })
}
