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
/// A walk of another person than today's counts so much (a guess).
const ANOTHER_COUNTS: f64 = 0.3;

/// The chance, before a walk of today was seen, that people come today like on no day before (a guess).
const DAY_UNLIKE: f64 = 0.015;
/// Walks up to so many minutes are alike, beginning with those of somebody near; longer ones are too.
const ALIKE_MIN: [f64; 5] = [1.0, 2.0, 4.0, 8.0, 16.0];
/// How walks lie in these classes on a day like no other, and what counts of them before the first
/// was seen: minutes, and how many walks they count like (guesses).
const UNLIKE_SHARES: [f64; ALIKE_MIN.len() + 1] = [0.1, 0.1, 0.2, 0.3, 0.2, 0.1];
const UNLIKE_BEFOREHAND: [(f64, f64); 4] = [(1.0, 0.2), (4.0, 0.3), (8.0, 0.3), (14.0, 0.2)];
/// So many walks are spread over all classes beside those that were seen (a guess).
const SPREAD_OVER: f64 = 0.6;

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

    /// From every answered call of this firing and of past ones: mixed of a day like the others and
    /// of a day like none, by how well either foretold the walks of today.
    pub fn of(firing: &Firing, past: &[Firing]) -> ExpectedWalk {
        let looker = firing.lookers.last().map(|(_, name)| name.as_str());
        let mut like: Vec<(f64, f64)> = BEFOREHAND.into();
        let mut unlike: Vec<(f64, f64)> = UNLIKE_BEFOREHAND.into();
        let mut odds = DAY_UNLIKE / (1.0 - DAY_UNLIKE);
        for walk in walks(firing, past) {
            let counts = if walk.today || walk.who == looker { 1.0 } else { ANOTHER_COUNTS };
            if walk.today {
                odds *= UNLIKE_SHARES[class(walk.late_min)] / share_alike(&like, walk.late_min);
                unlike.push((walk.late_min, counts));
            }
            like.push((walk.late_min, counts));
        }
        let of = |walks: Vec<(f64, f64)>, chance: f64| {
            let whole: f64 = walks.iter().map(|(_, counts)| counts).sum();
            walks.into_iter().map(move |(late, counts)| (late, chance * counts / whole))
        };
        let is_unlike = odds / (1.0 + odds);
        let mut walks: Vec<_> = of(like, 1.0 - is_unlike).chain(of(unlike, is_unlike)).collect();
        walks.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut from = 0.0;
        ExpectedWalk(SHARES.map(|share| {
            let until = from + share;
            let (mut minutes, mut before) = (0.0, 0.0);
            for (late, chance) in &walks {
                let within = (before + chance).min(until) - f64::max(before, from);
                minutes += late * within.max(0.0);
                before += chance;
            }
            from = until;
            (minutes / share, share)
        }))
    }
}

/// Number of the class of walks alike in which a walk so late lies.
fn class(late_min: f64) -> usize {
    ALIKE_MIN.iter().filter(|until| late_min > **until).count()
}

/// Share of these walks that lie in the class of one so late.
fn share_alike(walks: &[(f64, f64)], late_min: f64) -> f64 {
    let count =
        |walks: &mut dyn Iterator<Item = &(f64, f64)>| walks.map(|(_, counts)| counts).sum::<f64>();
    let alike = count(&mut walks.iter().filter(|(late, _)| class(*late) == class(late_min)));
    (alike + SPREAD_OVER / UNLIKE_SHARES.len() as f64) / (count(&mut walks.iter()) + SPREAD_OVER)
}
