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
