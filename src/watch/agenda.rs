//! What is to be done at a kiln and what lies ahead of it, as far as it can be foreseen: windows, drops,
//! looks and draws.

use super::Advice;
use super::task::Task;
use crate::firing::Firing;
use crate::units::{Moment, Span};

/// So many looks ahead are told; plans beyond are too vague to stand in a calendar.
pub const LOOKS_AHEAD: usize = 6;
/// How long a look takes, with the walk (common practice, no source).
pub const LOOK_TAKES: Span = Span::minutes(5);
/// How long drawing takes (common practice, no source).
const DRAW_TAKES: Span = Span::hours(1);

/// One task at one kiln.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Errand {
    pub kiln: String,
    pub task: Task,
    /// From when; for what should have been done before, since when.
    pub at: Moment,
    /// Until when, where that can be said.
    pub until: Option<Moment>,
}

impl Errand {
    pub fn new(kiln: &str, task: Task, at: Moment, lasts: Option<Span>) -> Errand {
        Errand { kiln: kiln.to_owned(), task, at, until: lasts.map(|lasts| at + lasts) }
    }
}

/// What the schedule orders after the cone: each setting after the first, and to shut off at the end.
pub fn after_cone(firing: &Firing, now: Moment) -> Vec<Errand> {
    let orders = firing.ordered_after(now);
    let errand = |task, at| Errand::new(&firing.kiln, task, at, Some(LOOK_TAKES));
    let settings = orders.iter().skip(1).map(|order| errand(Task::Step, order.since));
    settings.chain(orders.last().map(|last| errand(Task::ShutOff, last.until))).collect()
}

/// What lies ahead of a kiln, by the advice on it while it burns; `draw` is when it is cool enough to be
/// drawn.
pub fn agenda(kiln: &str, advice: Option<&Advice>, draw: Option<Moment>) -> Vec<Errand> {
    let errand = |task, at, lasts| Errand::new(kiln, task, at, lasts);
    let forecast = advice.and_then(|advice| advice.forecast.as_ref().ok());
    let window = advice.and_then(|advice| advice.watch_opens).map(|opens| {
        let lasts = forecast.map(|forecast| LOOK_TAKES.max(forecast.p95 - opens));
        errand(Task::WindowOpens, opens, lasts)
    });
    let drop = forecast.map(|forecast| errand(Task::Drop, forecast.p50, None));
    let draw = draw.map(|draw| errand(Task::CoolEnough, draw, Some(DRAW_TAKES)));
    let looks = advice.into_iter().flat_map(|advice| &advice.looks).take(LOOKS_AHEAD);
    let looks = looks.map(|look| errand(Task::NextLook, *look, Some(LOOK_TAKES)));
    [window, drop, draw].into_iter().flatten().chain(looks).collect()
}
