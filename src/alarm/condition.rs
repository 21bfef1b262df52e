//! Which conditions hold at one moment, from a firing, its advice and its plan.
//!
//! Each condition says since when it holds, worked out from what was written down, so that a
//! process that has just started, or has slept, knows how late it is.

use super::climb::{self, Holds};
use crate::cooling::{USUAL_DRAW_BELOW, USUALLY_HOT_FOR};
use crate::firing::after::STEP_EARLY;
use crate::firing::event::Look;
use crate::firing::read_by::as_one;
use crate::firing::{After, Firing, FiringId, Looked, Seen};
use crate::forecast::plausible::sift;
use crate::forecast::{Declined, Implausible};
use crate::kiln::Fuel;
use crate::schedule::Leg;
use crate::units::{Celsius, CelsiusPerHour, Moment, Span};
use crate::watch::Advice;
use crate::watch::request::Request;
use crate::watch::task::Task;
use crate::watch::walks::ANSWERED_WITHIN;

/// The chance of being down already that raises the alarm, and the one that keeps it.
pub const PROBABLY_DOWN: f64 = 0.5;
pub const PERHAPS_DOWN: f64 = 0.35;
/// Whoever recorded a look so recently is at the spyhole.
pub const LOOKED_JUST_NOW: Span = Span::minutes(3);
/// A look this long due is overdue, unless the load forgives less than twice that.
pub const OVERDUE_AFTER: Span = Span::minutes(5);
/// A look that was due stays due until the plan has moved it by this much.
pub const LOOK_MOVED_BY: Span = Span::minutes(2);
/// The window opens soon from here on; the alarm goes again beyond [`WINDOW_MOVED_TO`].
pub const WINDOW_SOON: Span = Span::minutes(15);
pub const WINDOW_MOVED_TO: Span = Span::minutes(25);
/// Where there is no forecast, somebody should look this often.
pub const LOOK_BY_EYE_EVERY: Span = Span::minutes(30);
/// A step of the schedule that nobody recorded is past after this long.
pub const STEP_PAST: Span = Span::minutes(60);
/// So far below what is ordered after the cone a kiln has gone out, C (a guess: a controlled fall runs
/// behind or ahead of its order by less).
const BELOW_ORDER_C: f64 = 60.0;
/// So far above the temperature below which it is drawn, C, a kiln is too hot again (rule of thumb).
pub const TOO_HOT_AGAIN_C: f64 = 10.0;
/// A cooling reading speaks for so long.
pub const COOLING_READING_SPEAKS_FOR: Span = Span::hours(4);
/// A request begins to ring within so long of its time, or not at all: so it rings twice at most.
const REQUEST_RINGS_WITHIN: Span = Span::minutes(10);
/// The outcome should be written so soon after drawing.
pub const OUTCOME_WITHIN: Span = Span::hours(2);

/// A setting the schedule asks for, by hand.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedStep {
    pub at: Moment,
    /// Where it leads from then on.
    pub leg: Leg,
}

/// What the shop planned for a firing, as far as alarms have to know.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// Up to the cone.
    pub steps: Vec<PlannedStep>,
    /// What the kiln is fired by, where the shop describes it.
    pub fuel: Option<Fuel>,
    /// When the schedule holds the temperature: no stall then.
    pub soaks: Vec<(Moment, Moment)>,
    pub soak_temperatures: Vec<Celsius>,
    /// The fastest climb that schedule, ware and kiln allow, each from its temperature on, in the
    /// order of the schedule.
    pub fastest: Vec<(Celsius, CelsiusPerHour)>,
    /// Below this it is drawn.
    pub draw_below: Celsius,
}

/// One firing and what is known of it now.
#[derive(Debug, Clone, Copy)]
pub struct Watched<'a> {
    pub firing: &'a Firing,
    pub advice: Option<&'a Advice>,
    pub plan: &'a Plan,
}

/// A value that goes with a condition.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Figure {
    #[default]
    None,
    /// How long the load forgives, or how long is left.
    Left(Span),
    Climb(CelsiusPerHour),
    Temperature(Celsius),
    Chance(f64),
    Reading(Implausible),
    Step(Leg),
    /// What was found, in words.
    Found(String),
}

/// A condition that holds now.
#[derive(Debug, Clone, PartialEq)]
pub struct Condition {
    pub firing: FiringId,
    pub kiln: String,
    pub fuel: Option<Fuel>,
    pub task: Task,
    pub since: Moment,
    /// True where it raises an alarm; false where it only keeps one that stands.
    pub enters: bool,
    pub figure: Figure,
}

impl Default for Plan {
    fn default() -> Self {
        Plan {
            steps: Vec::new(),
            fuel: None,
            soaks: Vec::new(),
            soak_temperatures: Vec::new(),
            fastest: Vec::new(),
            draw_below: USUAL_DRAW_BELOW,
        }
    }
}

impl Plan {
    /// Burners are turned by hand; an electric kiln follows its own controller.
    pub fn by_hand(&self) -> bool {
        self.fuel.is_some_and(|fuel| fuel != Fuel::Electric)
    }
}

/// A task with how far its condition holds, if it does.
type Found = (Task, Option<Holds>, Figure);

/// Every condition that holds of one firing at `now`.
pub fn findings(watched: &Watched<'_>, now: Moment) -> Vec<Condition> {
    let eye = Eye::of(watched, now);
    let mut found: Vec<Found> = Vec::new();
    if eye.burns() {
        found.extend(eye.of_the_cones());
        found.extend(eye.requested());
        found.extend(eye.of_the_plan());
        found.extend(eye.of_the_readings());
    } else {
        found.extend(eye.after_off());
    }
    let firing = watched.firing;
    let finding = |(task, holds, figure): Found| {
        let Holds { since, enters } = holds.filter(|holds| holds.since <= now)?;
        let (firing, kiln, fuel) = (firing.id, firing.kiln.clone(), watched.plan.fuel);
        Some(Condition { firing, kiln, fuel, task, since, enters, figure })
    };
    found.into_iter().filter_map(finding).collect()
}

/// Everything that is known of one firing by `now`; later events do not exist for it.
struct Eye<'a> {
    firing: &'a Firing,
    advice: Option<&'a Advice>,
    plan: &'a Plan,
    lit: Option<Moment>,
    looks: Vec<Looked>,
    good: Vec<(Moment, Celsius)>,
    trouble: Option<(Moment, Implausible)>,
    /// What the schedule orders now that the target is down.
    after_cone: Option<After>,
    now: Moment,
}

/// Whether a look says that the guard moves. By the chart a guard already leans a little when the
/// target goes down, and an eye may take a standing cone for leaning; so one that only leans counts
/// when no standing target contradicts it, and not where it `bends` as planned.
fn guard_moves(look: &Look, bends: bool) -> bool {
    match look.guard {
        Some(Seen::Half | Seen::Down) => true,
        Some(Seen::Leaning) => !bends && look.target.is_none_or(|target| target == Seen::Down),
        Some(Seen::Standing) | None => false,
    }
}

fn holds(since: Moment) -> Option<Holds> {
    Some(Holds { since, enters: true })
}

impl<'a> Eye<'a> {
    fn of(watched: &Watched<'a>, now: Moment) -> Eye<'a> {
        let firing = watched.firing;
        let sifted = sift(firing, now, &watched.plan.soak_temperatures);
        Eye {
            firing,
            advice: watched.advice,
            plan: watched.plan,
            lit: firing.lit.filter(|at| *at <= now),
            looks: firing.looks.iter().filter(|looked| looked.at <= now).copied().collect(),
            good: as_one(&sifted.each).into_owned(),
            trouble: sifted.trouble,
            after_cone: firing.after_cone(now),
            now,
        }
    }

    fn happened(&self, at: Option<Moment>) -> Option<Moment> {
        at.filter(|at| *at <= self.now)
    }

    fn burns(&self) -> bool {
        let given_up = self.firing.aborted.as_ref().map(|(at, _)| *at);
        self.lit.is_some()
            && self.happened(self.firing.off).is_none()
            && self.happened(given_up).is_none()
            && self.happened(self.firing.drawn).is_none()
    }

    fn last_look(&self) -> Option<Moment> {
        self.looks.last().map(|looked| looked.at)
    }

    /// `at`, but not before the pause after the last look is over.
    fn not_just_looked(&self, at: Moment, pause: Span) -> Moment {
        self.last_look().map_or(at, |look| at.max(look + pause))
    }

    fn of_the_cones(&self) -> Vec<Found> {
        let last_look = self.looks.iter().rev().find(|looked| looked.look.guard.is_some());
        // A fall that is ordered after the cone goes on bending the guard.
        let bends = self.firing.order_after(self.now).is_some();
        let guard_moves = |look: &Look| guard_moves(look, bends);
        let guard_moving = last_look
            .filter(|looked| guard_moves(&looked.look))
            .and_then(|_| self.looks.iter().find(|looked| guard_moves(&looked.look)))
            .map(|looked| looked.at);
        let shut_off = self.firing.off_from(self.now);
        let order = self.firing.order_after(self.now);
        let forgives = self.advice.and_then(|advice| advice.forgives);
        let figure = forgives.map_or(Figure::None, Figure::Left);
        let mut found = vec![
            (Task::ShutOff, shut_off.and_then(holds), figure.clone()),
            (
                Task::TurnDown,
                self.firing.turn_down_from(self.now).and_then(holds),
                order.map_or(Figure::None, |after| Figure::Step(after.leg)),
            ),
            (Task::GuardMoving, guard_moving.and_then(holds), figure),
        ];
        if shut_off.is_none() {
            found.push(self.probably_down());
            found.extend(self.looks_due());
        }
        found
    }

    /// A request that could not be made in its first minutes, because another kiln was watched, is shown
    /// later but not rung.
    fn requested(&self) -> Option<Found> {
        let Request { asked, since } = self.advice?.request?;
        let enters = self.now - since < REQUEST_RINGS_WITHIN;
        Some((asked, Some(Holds { since, enters }), Figure::None))
    }

    fn probably_down(&self) -> Found {
        let forecast = self.advice.and_then(|advice| advice.forecast.as_ref().ok());
        let Some(forecast) = forecast.filter(|forecast| forecast.dropped >= PERHAPS_DOWN) else {
            return (Task::ProbablyDown, None, Figure::None);
        };
        let since = self.not_just_looked(forecast.p50.min(self.now), LOOKED_JUST_NOW);
        let enters = forecast.dropped >= PROBABLY_DOWN;
        (Task::ProbablyDown, Some(Holds { since, enters }), Figure::Chance(forecast.dropped))
    }

    fn looks_due(&self) -> Vec<Found> {
        let Some(advice) = self.advice else { return Vec::new() };
        let figure = advice.forgives.map_or(Figure::None, Figure::Left);
        let due = match advice.forecast {
            // Nothing is known, so the plan says "now" at every moment: look at regular times.
            Err(Declined::NothingKnown | Declined::NotClimbing) => {
                let since = self.last_look().or(self.lit).max(self.firing.resumed_by(self.now));
                since.map(|last| last + LOOK_BY_EYE_EVERY)
            }
            // Whoever looked just now and is told to stay looks again without being called.
            _ => {
                let pause = if advice.say == Task::Stay { LOOKED_JUST_NOW } else { Span::ZERO };
                advice.next_look.map(|at| self.not_just_looked(at, pause))
            }
        };
        let Some(due) = due else { return Vec::new() };
        let soon = due > self.now && due - self.now <= LOOK_MOVED_BY;
        let look_due = Holds { since: due.min(self.now), enters: !soon };
        let look_due = Some(look_due).filter(|_| soon || due <= self.now);
        let half = advice.forgives.map_or(OVERDUE_AFTER, |span| Span(span.0 / 2));
        let overdue = self.known_since(due) + OVERDUE_AFTER.min(half.max(Span::minutes(1)));
        // The first look may be planned before the window opens.
        let opens =
            advice.watch_opens.map(|opens| opens.min(due)).filter(|_| self.looks.is_empty());
        let to_window = opens.map(|opens| opens - self.now).filter(|left| *left > Span::ZERO);
        let window =
            to_window.filter(|left| *left <= WINDOW_MOVED_TO).zip(opens).map(|(left, opens)| {
                Holds { since: (opens - WINDOW_SOON).min(self.now), enters: left <= WINDOW_SOON }
            });
        let stay = (advice.say == Task::Stay).then_some(Holds { since: due, enters: true });
        vec![
            (Task::Stay, stay, figure.clone()),
            (Task::LookOverdue, holds(overdue).filter(|_| look_due.is_some()), figure.clone()),
            (Task::LookDue, look_due, figure),
            (Task::WindowOpens, window, to_window.map_or(Figure::None, Figure::Left)),
        ]
    }

    /// Since when a look that is due by the plan could be known to be: a reading may move the drop forward,
    /// and with it the look into the past. The first call to it, or where nobody wrote a call down the
    /// last reading.
    fn known_since(&self, due: Moment) -> Moment {
        let last_look = self.last_look().max(self.firing.resumed_by(self.now));
        let of_this_look =
            |at: &Moment| *at <= self.now && Some(*at) > last_look && due - *at <= ANSWERED_WITHIN;
        let called = self.firing.calls.iter().map(|(_, at)| *at).find(of_this_look);
        let read = || self.good.last().map(|(at, _)| *at);
        called.or_else(read).map_or(due, |known| known.max(due))
    }

    fn of_the_plan(&self) -> Option<Found> {
        let turned = self.firing.turned.iter().filter(|(at, _)| *at <= self.now);
        let last_turned = turned.map(|(at, _)| *at).max();
        let (step, leg) = if self.firing.down_by(self.now).is_some() {
            let after = self.after_cone.filter(|_| self.plan.by_hand())?;
            (after.since, after.leg)
        } else {
            let step = self.plan.steps.iter().rev().find(|step| step.at <= self.now)?;
            (step.at, step.leg)
        };
        let taken = last_turned.is_some_and(|at| at >= step - STEP_EARLY);
        let past = self.now - step > STEP_PAST;
        (!taken && !past).then(|| (Task::Step, holds(step), Figure::Step(leg)))
    }

    fn of_the_readings(&self) -> Vec<Found> {
        let figure = climb::climb_now(&self.good, self.now).map_or(Figure::None, Figure::Climb);
        let soaks = self
            .plan
            .soaks
            .iter()
            .any(|(from, to)| *from <= self.now && self.now <= *to + climb::MEASURED_OVER);
        let stalled = climb::stalled(&self.good, self.now).filter(|_| !soaks);
        let too_fast =
            self.allowed_climb().and_then(|allowed| climb::too_fast(&self.good, allowed, self.now));
        let fallen = self.good.last().map_or(Figure::None, |(_, t)| Figure::Temperature(*t));
        let mut found = vec![(Task::TooFast, too_fast, figure.clone())];
        let ordered = |at: &(Moment, Celsius)| {
            self.after_cone.is_some_and(|after| at.1.0 > after.leg.to.0 - BELOW_ORDER_C)
        };
        if !self.good.last().is_some_and(ordered) {
            let falls = climb::falls_as_if_off(&self.good);
            found.push((Task::OffNotRecorded, falls, fallen));
        }
        if self.after_cone.is_none() {
            found.push((Task::Stalled, stalled, figure));
        }
        found.extend(self.probe_trouble());
        found
    }

    /// The fastest climb that is allowed here. A ramp is meant for the temperatures it leads
    /// through, whether the kiln is early or late; where the climb was measured over two of them,
    /// the steeper one counts.
    fn allowed_climb(&self) -> Option<CelsiusPerHour> {
        let (_, last) = *self.good.last()?;
        let measured = climb::measured_from(&self.good, self.good.len() - 1);
        let before = measured.map_or(last, |(_, before)| before);
        let ramp = |c: Celsius| self.plan.fastest.iter().rposition(|(from, _)| *from <= c);
        let (one, other) = (ramp(before).unwrap_or(0), ramp(last).unwrap_or(0));
        let ramps = self.plan.fastest.get(one.min(other)..=one.max(other))?;
        ramps.iter().map(|(_, allowed)| *allowed).max_by(|a, b| a.0.total_cmp(&b.0))
    }

    /// Trouble stands while nothing plausible has come since.
    fn probe_trouble(&self) -> Option<Found> {
        let last_good = self.good.last().map(|(at, _)| *at);
        let silences = self.firing.silences.iter().filter(|(at, _)| *at <= self.now);
        let silent = silences.map(|(at, _)| (*at, Implausible::Silent)).next_back();
        let silent = silent.filter(|(at, _)| last_good.is_none_or(|good| *at >= good));
        let (since, why) = self.trouble.into_iter().chain(silent).min_by_key(|(at, _)| *at)?;
        Some((Task::ProbeTrouble, holds(since), Figure::Reading(why)))
    }

    fn after_off(&self) -> Vec<Found> {
        if let Some(drawn) = self.happened(self.firing.drawn) {
            let outcome = self.firing.outcome.as_ref().map(|(at, _)| *at);
            let missing = self.happened(outcome).is_none();
            let due = holds(drawn + OUTCOME_WITHIN).filter(|_| missing);
            return vec![(Task::OutcomeNotRecorded, due, Figure::None)];
        }
        let Some(off) = self.happened(self.firing.off) else { return Vec::new() };
        let readings = self.firing.readings.iter();
        let cooling = readings.rev().find(|(at, _)| *at >= off && *at <= self.now);
        let below = self.plan.draw_below.0;
        let cool = cooling
            .filter(|(_, t)| t.0 < below + TOO_HOT_AGAIN_C)
            .map(|(at, t)| (Holds { since: *at, enters: t.0 < below }, Figure::Temperature(*t)));
        let silent_since = cooling.map_or(off, |(at, _)| *at + COOLING_READING_SPEAKS_FOR);
        let still_hot = holds(silent_since.max(off + USUALLY_HOT_FOR));
        let figure = cooling.map_or(Figure::None, |(_, t)| Figure::Temperature(*t));
        match cool {
            Some((holds, figure)) => vec![(Task::CoolEnough, Some(holds), figure)],
            None => vec![(Task::StillHot, still_hot, figure)],
        }
    }
}
