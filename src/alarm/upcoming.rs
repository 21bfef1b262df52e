//! What lies ahead, as far as it can be planned: windows, looks and draws.

use super::condition::Plan;
use crate::firing::Firing;
use crate::units::{Moment, Span};
use crate::watch::Advice;

/// So many looks ahead are told; plans beyond are too vague to stand in a calendar.
pub const LOOKS_AHEAD: usize = 6;
/// How long a look takes, with the walk (common practice, no source).
const LOOK_TAKES: Span = Span::minutes(5);
/// How long drawing takes (common practice, no source).
const DRAW_TAKES: Span = Span::hours(1);

/// What kind of thing comes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Coming {
    Window,
    /// The how-manieth look of its firing, from 1.
    Look(usize),
    Draw,
}

/// One thing that comes, of one firing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Upcoming {
    pub coming: Coming,
    pub from: Moment,
    pub to: Moment,
    /// How long before it somebody should be reminded.
    pub remind: Span,
    /// It was planned once and will not be.
    pub cancelled: bool,
}

impl Coming {
    /// A part of an identifier that stays the same however often the plan moves it.
    pub fn slug(self) -> String {
        match self {
            Coming::Window => "window".into(),
            Coming::Look(number) => format!("look-{number}"),
            Coming::Draw => "draw".into(),
        }
    }
}

/// Everything ahead of one firing. What can no longer come is there too, as cancelled, so that a
/// calendar that has it lets it go.
pub fn upcoming(firing: &Firing, advice: Option<&Advice>, plan: &Plan) -> Vec<Upcoming> {
    if firing.lit.is_none() {
        return Vec::new();
    }
    let mut ahead = if firing.burns() && firing.seen_down().is_none() {
        advice.map_or_else(Vec::new, |advice| while_heating(firing, advice, plan))
    } else {
        called_off(firing)
    };
    let off = firing.off.filter(|_| firing.drawn.is_none());
    ahead.extend(off.map(|off| draw(off + plan.cools_for)));
    ahead
}

fn while_heating(firing: &Firing, advice: &Advice, plan: &Plan) -> Vec<Upcoming> {
    let mut ahead = Vec::new();
    if let Ok(forecast) = &advice.forecast {
        if let Some(opens) = advice.watch_opens {
            let (from, to) = (opens, forecast.p95.max(opens + LOOK_TAKES));
            let remind = Span::minutes(15);
            ahead.push(Upcoming { coming: Coming::Window, from, to, remind, cancelled: false });
        }
        ahead.push(draw(forecast.p50 + plan.cools_for));
    }
    let made = firing.looks.len();
    ahead.extend(advice.looks.iter().take(LOOKS_AHEAD).zip(made + 1..).map(|(&from, number)| {
        Upcoming {
            coming: Coming::Look(number),
            from,
            to: from + LOOK_TAKES,
            remind: Span::ZERO,
            cancelled: false,
        }
    }));
    ahead
}

/// What was ahead of a firing that is off, given up or down.
fn called_off(firing: &Firing) -> Vec<Upcoming> {
    let over = firing.off.or(firing.aborted.as_ref().map(|(at, _)| *at)).or(firing.seen_down());
    let Some(from) = over.or(firing.lit) else { return Vec::new() };
    let made = firing.looks.len();
    let looks = (made + 1..=made + LOOKS_AHEAD).map(Coming::Look);
    std::iter::once(Coming::Window)
        .chain(looks)
        .map(|coming| Upcoming {
            coming,
            from,
            to: from + LOOK_TAKES,
            remind: Span::ZERO,
            cancelled: true,
        })
        .collect()
}

fn draw(from: Moment) -> Upcoming {
    let (to, remind) = (from + DRAW_TAKES, Span::ZERO);
    Upcoming { coming: Coming::Draw, from, to, remind, cancelled: false }
}
