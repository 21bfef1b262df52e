//! What an ideally followed schedule does to the cones.
//!
//! Every leg is a straight line, so heat work is exact at any moment, and a cone's drop is found to
//! the millisecond by halving.

use super::{Leg, Schedule};
use crate::cone::chart::FamilyError;
use crate::cone::{Cone, Curve, Equivalent, curve, lean_deg};
use crate::firing::event::ConePack;
pub use crate::firing::event::Role;
use crate::units::{Celsius, Span};

/// The heat work at which a planned cone counts as down. Lengths are whole milliseconds, so a chart
/// value typed to the degree may come out parts in ten million short of 1; a cone's own tolerance,
/// 2 C, is worth about a tenth.
pub const PLANNED_DOWN: f64 = 1.0 - 1e-6;

/// Heat work of one cone along a schedule.
#[derive(Debug, Clone)]
pub struct Course {
    curve: &'static Curve,
    legs: Vec<Leg>,
    /// Heat work at the end of each leg.
    done: Vec<f64>,
}

/// What becomes of one cone of the pack.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ConeCourse {
    pub cone: Cone,
    pub role: Role,
    /// When it goes down, since the kiln was lit, and the temperature then; `None` if it never does.
    pub down: Option<(Span, Celsius)>,
    /// Heat work at the end of the schedule: 0 fresh, 1 down.
    pub heat_work: f64,
}

/// The state of the kiln and of the pack at one moment.
#[derive(Debug, Clone, PartialEq)]
pub struct Sample {
    pub elapsed: Span,
    pub temperature: Celsius,
    /// Heat work and lean (degrees from upright) of each cone of the pack, coolest first.
    pub cones: Vec<(f64, f64)>,
}

/// An ideally followed schedule.
#[derive(Debug, Clone, PartialEq)]
pub struct Simulation {
    pub total: Span,
    /// Guide, target and guard, those that are made, coolest first.
    pub pack: Vec<ConeCourse>,
    /// Which cone the whole schedule is worth.
    pub equivalent: Equivalent,
    /// Evenly spaced from lit to the end, both included.
    pub samples: Vec<Sample>,
}

impl Course {
    pub fn new(schedule: &Schedule, curve: &'static Curve) -> Self {
        let legs = schedule.legs();
        let mut sum = 0.0;
        let done = legs
            .iter()
            .map(|leg| {
                sum += curve.mean_heat_work_per_hour(leg.from, leg.to) * leg.length.as_hours();
                sum
            })
            .collect();
        Course { curve, legs, done }
    }

    /// Heat work this long after the kiln was lit; constant after the end.
    pub fn heat_work_at(&self, elapsed: Span) -> f64 {
        let index = self.legs.partition_point(|leg| leg.ends() < elapsed);
        let before = if index == 0 { 0.0 } else { self.done[index - 1] };
        let Some(leg) = self.legs.get(index).filter(|leg| elapsed > leg.starts) else {
            return before;
        };
        let mean = self.curve.mean_heat_work_per_hour(leg.from, leg.temperature_at(elapsed));
        before + mean * Span(elapsed.0 - leg.starts.0).as_hours()
    }

    /// Heat work at the end.
    pub fn total(&self) -> f64 {
        self.done.last().copied().unwrap_or(0.0)
    }

    /// The first millisecond at which this much heat work is done, and the temperature then;
    /// `None` if it never is.
    pub fn reaches(&self, heat_work: f64) -> Option<(Span, Celsius)> {
        let leg = self.legs.get(self.done.partition_point(|done| *done < heat_work))?;
        let (mut before, mut after) = (leg.starts.0, leg.ends().0);
        while after - before > 1 {
            let middle = before + (after - before) / 2;
            if self.heat_work_at(Span(middle)) < heat_work {
                before = middle;
            } else {
                after = middle;
            }
        }
        Some((Span(after), leg.temperature_at(Span(after))))
    }
}

impl Simulation {
    /// One cone of the pack; `None` where the family has no such cone.
    pub fn cone(&self, role: Role) -> Option<&ConeCourse> {
        self.pack.iter().find(|course| course.role == role)
    }
}

/// Follows the schedule ideally. The result holds `samples` evenly spaced states, at least 2.
///
/// # Errors
/// [`FamilyError::NotMade`] when the family has no such target cone.
pub fn simulate(schedule: &Schedule, samples: usize) -> Result<Simulation, FamilyError> {
    curve(schedule.target, schedule.family)?;
    let courses: Vec<(Cone, Role, Course)> = pack_of(schedule)
        .map(|(cone, role)| Ok((cone, role, Course::new(schedule, curve(cone, schedule.family)?))))
        .collect::<Result<_, FamilyError>>()?;
    let pack = courses
        .iter()
        .map(|(cone, role, course)| ConeCourse {
            cone: *cone,
            role: *role,
            down: course.reaches(PLANNED_DOWN),
            heat_work: course.total(),
        })
        .collect();
    let (total, legs, last) = (schedule.total(), schedule.legs(), samples.max(2) - 1);
    let samples = (0..=last)
        .map(|index| {
            let elapsed = Span((total.0 as i128 * index as i128 / last as i128) as i64);
            sample(&legs, schedule.start, &courses, elapsed)
        })
        .collect();
    Ok(Simulation { total, pack, equivalent: equivalent(schedule)?, samples })
}

fn sample(legs: &[Leg], start: Celsius, courses: &[(Cone, Role, Course)], elapsed: Span) -> Sample {
    let on = legs.iter().find(|leg| elapsed > leg.starts && elapsed <= leg.ends());
    let temperature = on.map_or(start, |leg| leg.temperature_at(elapsed));
    let cones = courses
        .iter()
        .map(|(_, _, course)| {
            let heat_work = course.heat_work_at(elapsed);
            (heat_work, lean_deg(heat_work))
        })
        .collect();
    Sample { elapsed, temperature, cones }
}

/// The usual cone pack for the schedule's target, coolest first.
fn pack_of(schedule: &Schedule) -> impl Iterator<Item = (Cone, Role)> {
    let pack = ConePack::usual(schedule.target, schedule.family);
    let parts =
        [(pack.guide, Role::Guide), (Some(pack.target), Role::Target), (pack.guard, Role::Guard)];
    parts.into_iter().filter_map(|(cone, role)| Some((cone?, role)))
}

/// Which cone of its family the whole schedule is worth.
///
/// # Errors
/// [`FamilyError`] never, for a family of the chart; the signature leaves that to the chart.
fn equivalent(schedule: &Schedule) -> Result<Equivalent, FamilyError> {
    let heat_work = schedule
        .family
        .cones()
        .map(|cone| {
            let done = Course::new(schedule, curve(cone, schedule.family)?).total();
            Ok((cone, if done >= PLANNED_DOWN { done.max(1.0) } else { done }))
        })
        .collect::<Result<Vec<_>, FamilyError>>()?;
    Ok(Equivalent::from_heat_work(&heat_work).expect("a family has cones"))
}
