//! How late people come when they are called to look: what the planner learns its walks from.

use crate::firing::{Firing, Looked};
use crate::units::Span;

/// One call to look that was answered.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Walk<'a> {
    /// Minutes from the call to the look that answered it, 0 where somebody was there already.
    pub late_min: f64,
    /// Whether it was in the firing that burns now.
    pub today: bool,
    /// Who looked, where the look names somebody.
    pub who: Option<&'a str>,
}

/// How late the next walk is, as parts of all walks: minutes, and the share of the part, the shares
/// adding up to 1, the longest last.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExpectedWalk(pub [(f64, f64); ExpectedWalk::PARTS]);

/// Shares of the parts.
const SHARES: [f64; ExpectedWalk::PARTS] = [0.7, 0.2, 0.1];
/// What counts before any walk was seen: minutes, and how many walks they count like (guesses).
const BEFOREHAND: [(f64, f64); 3] = [(1.0, 2.4), (2.0, 0.4), (6.0, 0.2)];
/// A walk of today counts like so many of other days, for today may be unlike them, and a walk of
/// another person than today's so much (guesses).
const TODAY_COUNTS: f64 = 5.0;
const ANOTHER_COUNTS: f64 = 0.3;

/// A look later than this after a call answers another one, or none (a guess).
pub const ANSWERED_WITHIN: Span = Span::minutes(60);
/// A look made so shortly before the call and written down after it answers the call: whoever made
/// it was there already (a guess).
const THERE_ALREADY: Span = Span::minutes(10);

/// Every answered call of this firing and of past ones, in the order of time within each; calls
/// nobody answered tell nothing of a walk.
pub fn walks<'a>(firing: &'a Firing, past: &'a [Firing]) -> Vec<Walk<'a>> {
    let past = past.iter().flat_map(|firing| walks_of(firing, false));
    past.chain(walks_of(firing, true)).collect()
}

fn walks_of(firing: &Firing, today: bool) -> impl Iterator<Item = Walk<'_>> {
    firing.calls.iter().enumerate().filter_map(move |(place, &(call, called))| {
        let until = called + ANSWERED_WITHIN;
        let next = firing.calls.get(place + 1).map_or(until, |(_, next)| until.min(*next));
        let answers = |looked: &&Looked| {
            (called..next).contains(&looked.at)
                || looked.event > call && (called - THERE_ALREADY..called).contains(&looked.at)
        };
        let look = firing.looks.iter().find(answers)?;
        let who = firing.lookers.iter().find(|(event, _)| *event == look.event);
        let late_min = (look.at - called).as_minutes().max(0.0);
        Some(Walk { late_min, today, who: who.map(|(_, name)| name.as_str()) })
    })
}

impl ExpectedWalk {
    pub const PARTS: usize = 3;

    /// From every answered call of this firing and of past ones.
    pub fn of(firing: &Firing, past: &[Firing]) -> ExpectedWalk {
        let looker = firing.lookers.last().map(|(_, name)| name.as_str());
        let counts = |walk: &Walk| match (walk.today, walk.who == looker) {
            (true, _) => TODAY_COUNTS,
            (false, true) => 1.0,
            (false, false) => ANOTHER_COUNTS,
        };
        let seen = walks(firing, past).into_iter().map(|walk| (walk.late_min, counts(&walk)));
        let mut walks: Vec<(f64, f64)> = BEFOREHAND.into_iter().chain(seen).collect();
        walks.sort_by(|a, b| a.0.total_cmp(&b.0));
        let whole: f64 = walks.iter().map(|(_, counts)| counts).sum();
        let mut from = 0.0;
        ExpectedWalk(SHARES.map(|share| {
            let until = from + share * whole;
            let (mut minutes, mut before) = (0.0, 0.0);
            for (late, counts) in &walks {
                let within = (before + counts).min(until) - f64::max(before, from);
                minutes += late * within.max(0.0);
                before += counts;
            }
            from = until;
            (minutes / (share * whole), share)
        }))
    }
}
