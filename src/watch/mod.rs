//! From a forecast to what to do: when to look, when to stay, when to shut off.

pub mod agenda;
pub mod forgives;
pub mod plan;
pub mod request;
pub mod seen;
pub mod task;
pub mod walks;

use crate::cooling::Cooling;
use crate::firing::{Doubt, Down, Looked, Seen};
pub use crate::forecast::Question;
use crate::forecast::{Declined, Forecast, Outlook, forecast, with_outlook};
use crate::units::{Celsius, CelsiusPerHour, Moment, Span};
use plan::{LookPlan, Wanted};
use request::Request;
use seen::Warning;
use task::Task;
use walks::ExpectedWalk;

/// What is known of a firing at one moment, and what follows from it.
#[derive(Debug, Clone, PartialEq)]
pub struct Advice {
    pub at: Moment,
    /// The one task now: to shut off, to stay, to look, or to wait for the next look.
    pub say: Task,
    pub forecast: Result<Forecast, Declined>,
    /// When the drop becomes likely enough to be watched for.
    pub watch_opens: Option<Moment>,
    /// The next time to look; at or before `at` means now.
    pub next_look: Option<Moment>,
    /// How long after the drop the load still comes out right, at the present climb.
    pub forgives: Option<Span>,
    /// How long the target has been seen down without `off`.
    pub overshoot: Option<Span>,
    /// The overshoot in cones, at the last known climb.
    pub overshoot_cones: Option<f64>,
    /// The looks planned from here, should each say "not yet"; the first is `next_look`.
    pub looks: Vec<Moment>,
    /// How late the drop would be found at worst with this plan.
    pub late_at_worst: Option<Span>,
    /// The schedule it was made with: time since lit, and temperature, at its corners.
    pub schedule: Vec<(Span, Celsius)>,
    /// Why the look that saw the target down may be wrong; the call to shut off stands meanwhile.
    pub doubt: Option<Doubt>,
    /// The forecast made without that look, where it is in doubt.
    pub otherwise: Option<Forecast>,
    /// What is asked for beside looks, while none is due.
    pub request: Option<Request>,
    /// How it cools, once it is off.
    pub cooling: Option<Cooling>,
}

/// When a load type does not say how far over it forgives, cones (a guess on the careful side).
const OVER_CONES_UNSAID: f64 = 0.5;
/// The watch opens when the drop is this likely to have happened, at the latest as the window begins.
const WATCH_OPENS_AT: f64 = 0.02;
/// Who looked so long ago may still be at the kiln.
const THERE: Span = Span::seconds(90);
/// A climb that is less than so much of the usual one at the end is no ground for coming later (a
/// guess): a probe may stand still, and a switch may be turned up.
const SLOWEST_OF_USUAL: f64 = 0.7;
/// A climb nobody knows is taken as this when lateness is reckoned, C/h.
const CLIMB_UNKNOWN_C_PER_H: f64 = 150.0;

/// A "down" that everything else gives less than this chance is asked about (a guess: once in
/// 250 firings it is right all the same).
pub const UNLIKELY: f64 = 0.004;

/// How far ahead a look is, and to what step it is rounded.
const CALM_STEPS: [(Span, Span); 3] = [
    (Span::hours(1), Span::minutes(15)),
    (Span::minutes(20), Span::minutes(5)),
    (Span(i64::MIN), Span::minutes(1)),
];

/// What to do about a firing now, and why.
pub fn advise(question: &Question) -> Advice {
    match with_outlook(question) {
        Ok((forecast, outlook)) => look_when_due(forecast, &outlook, question),
        Err(declined) => {
            let mut advice = Advice::bare(question, Err(declined));
            fall_back(&mut advice, declined, question);
            advice
        }
    }
}

impl Advice {
    /// Whether this kiln is watched: its window is open, or it wants a look or to be shut off.
    pub fn is_watched(&self) -> bool {
        let opened = self.watch_opens.is_some_and(|opens| opens <= self.at);
        let wanted = self.forecast.is_ok() && (opened || self.say != Task::NextLook);
        wanted || matches!(self.say, Task::ShutOff | Task::TurnDown)
    }

    /// The word for what to do in answers to other programs.
    pub fn said(&self) -> &'static str {
        match self.say {
            Task::NextLook => "wait",
            Task::LookDue => "look",
            other => other.name(),
        }
    }

    /// To wait, and nothing else.
    fn bare(question: &Question, forecast: Result<Forecast, Declined>) -> Advice {
        Advice {
            at: question.now,
            say: Task::NextLook,
            watch_opens: None,
            next_look: None,
            forgives: forgiven(question, None),
            overshoot: None,
            overshoot_cones: None,
            looks: Vec::new(),
            late_at_worst: None,
            doubt: None,
            otherwise: None,
            request: None,
            cooling: None,
            schedule: question.schedule.unwrap_or_default().to_vec(),
            forecast,
        }
    }
}

/// Looks by the forecast, and by what was seen last.
fn look_when_due(forecast: Forecast, outlook: &Outlook, question: &Question) -> Advice {
    let mut opens = forecast.drops.quantile(WATCH_OPENS_AT).min(forecast.p05);
    let climb = forecast.climb;
    let mut advice = Advice::bare(question, Ok(forecast));
    // A kiln that hardly climbs now may climb as usual before the load is over.
    let least = SLOWEST_OF_USUAL * outlook.usual_climb.0;
    let surely = climb.map(|climb| CelsiusPerHour(climb.0.max(least)));
    advice.forgives = forgiven(question, surely);
    let forgives = advice.forgives.unwrap_or(Span::minutes(3));
    let wanted = wanted(question, forgives);
    let LookPlan { looks, late_at_worst } = plan::plan(outlook, &wanted);
    let mut looks: Vec<Moment> = looks.into_iter().map(|look| calm(look, question)).collect();
    // What was seen with one's own eyes holds even where everything else says otherwise.
    if let Some((seen, by)) = seen::look_again(question, climb, outlook.usual_climb, forgives)
        && looks.first().is_none_or(|first| *first > by)
    {
        looks.insert(0, calm(by, question));
        opens = opens.min(seen);
    }
    advice.watch_opens = Some(opens);
    advice.next_look = looks.first().copied();
    advice.say = say(question, &looks, wanted.there);
    advice.late_at_worst = Some(late_at_worst);
    advice.looks = looks;
    // It takes a forecast of its own, so it is asked only where it may be told.
    if advice.say == Task::NextLook {
        advice.request = request::open(question);
    }
    advice
}

/// Without a forecast: shut off what is down, and watch what is not known from now on.
fn fall_back(advice: &mut Advice, declined: Declined, question: &Question) {
    match declined {
        Declined::Over => {
            let off = question.firing.off.is_some_and(|off| off <= question.now);
            if let (false, Some(down)) = (off, question.firing.down_by(question.now)) {
                shut_off(advice, &down, question);
            }
        }
        Declined::NothingKnown => {
            advice.say = Task::LookDue;
            advice.watch_opens = Some(question.now);
            advice.next_look = Some(question.now);
        }
        Declined::NotClimbing => {
            advice.say = Task::LookDue;
            advice.next_look = Some(question.now);
        }
        Declined::NotLit | Declined::Aborted => {}
    }
}

/// What is down is shut off, or what the schedule orders after the cone is followed, whatever speaks against
/// the look that says so; that is told beside it.
fn shut_off(advice: &mut Advice, down: &Down, question: &Question) {
    let since = down.first.at;
    let turn_down = question.firing.turn_down_from(question.now);
    let due = turn_down.or(question.firing.off_from(question.now)).unwrap_or(since);
    let overshoot = Some(question.now - due).filter(|over| *over >= Span::ZERO);
    let before = forecast(&Question { now: Moment(since.0 - 1), ..*question }).ok();
    let climb = before.as_ref().and_then(|before| before.climb);
    let climb = climb.unwrap_or(CelsiusPerHour(CLIMB_UNKNOWN_C_PER_H));
    advice.say = match (turn_down, overshoot) {
        (Some(_), _) => Task::TurnDown,
        (None, Some(_)) => Task::ShutOff,
        (None, None) => Task::AfterCone,
    };
    advice.overshoot = overshoot;
    advice.overshoot_cones = question
        .firing
        .pack
        .zip(overshoot)
        .and_then(|(pack, over)| forgives::cones_over(pack.target, pack.family, climb, over));
    let chance = before.map(|before| before.drops.chance_before(since));
    let unlikely = chance.filter(|chance| down.again.is_none() && *chance < UNLIKELY);
    advice.doubt = down.doubt().or(unlikely.map(Doubt::Unlikely));
    if advice.doubt.is_some() {
        let firing = question.firing.without_down(question.now);
        advice.otherwise = forecast(&Question { firing: &firing, ..*question }).ok();
    }
}

fn forgiven(question: &Question, climb: Option<CelsiusPerHour>) -> Option<Span> {
    let pack = question.firing.pack?;
    let over_cones = question.load.map_or(OVER_CONES_UNSAID, |load| load.over_cones);
    let climb = climb.unwrap_or(CelsiusPerHour(CLIMB_UNKNOWN_C_PER_H));
    forgives::forgives(pack.target, pack.family, climb, over_cones)
}

fn wanted(question: &Question, forgives: Span) -> Wanted {
    let firing = question.firing;
    let said = firing.looks.iter().filter_map(Looked::target);
    // Looks that could make out the target.
    let last = said.rev().find(|said| said.at <= question.now && said.seen != Seen::Down);
    Wanted {
        forgives,
        limit: question.limit,
        last_look: last
            .map(|said| said.at)
            .max(firing.resumed_by(question.now))
            .unwrap_or(firing.lit.unwrap_or(question.now)),
        there: last.is_some_and(|said| question.now - said.at <= THERE),
        stood: last.is_some_and(|said| said.seen == Seen::Standing),
        walks: ExpectedWalk::of(firing, question.past),
        warning: Warning::of(question),
    }
}

/// A look far ahead is planned in round steps, always earlier and never later, so that it does
/// not jump about with every reading.
fn calm(look: Moment, question: &Question) -> Moment {
    let Some(lit) = question.firing.lit else { return look };
    let ahead = look - question.now;
    let (_, step) =
        CALM_STEPS.into_iter().find(|(from, _)| ahead >= *from).unwrap_or(CALM_STEPS[2]);
    lit + Span((look - lit).0.div_euclid(step.0) * step.0)
}

fn say(question: &Question, looks: &[Moment], there: bool) -> Task {
    let Some(first) = looks.first() else { return Task::LookDue };
    let stays = looks.get(1).is_some_and(|second| *second - *first <= Span::minutes(1));
    let ahead = *first - question.now;
    if there && ahead <= Span::minutes(1) || stays && ahead <= Span::ZERO {
        return Task::Stay;
    }
    if ahead <= Span::ZERO { Task::LookDue } else { Task::NextLook }
}
