//! What is known of a firing before any is imagined, and which model reckons with it.

use super::by_clock::ByClock;
use super::by_one_reading::ByOneReading;
use super::by_readings::ByReadings;
use super::climb::{self, ChamberStates, RESTLESSNESS, Ruler};
use super::evidence::{Evidence, Turn};
use super::past::{Beforehand, Experience};
use super::planned::Planned;
use super::sampler::{self, Model, Point};
use super::{Declined, Ground, Imagined, Question};
use crate::kiln::starter;
use crate::units::{Moment, Span};

/// How much the pace of one day differs from another's at least, in ln; and from a plan's, for a
/// kiln whose readings were never seen beside a plan (guesses).
const LEAST_DAY: f64 = 0.03;
const PLAN_DAY: f64 = 0.15;
/// What is known, before any firing is imagined.
#[derive(Clone, Debug)]
pub struct Known {
    pub evidence: Evidence,
    planned: Option<Planned>,
    pub experience: Experience,
    pub now_h: f64,
}

impl Known {
    pub fn of(question: &Question) -> Result<Known, Declined> {
        let soaks = question.schedule.map(Planned::soaks).unwrap_or_default();
        let evidence =
            Evidence::until(question.firing, question.now, &soaks).ok_or(Declined::NothingKnown)?;
        let evidence = evidence.or_by_the_glow(question.firing);
        let planned = question.schedule.and_then(|s| Planned::of(s, &evidence.cones));
        let experience = experience(question, &evidence, planned.as_ref());
        let now_h = evidence.hours(question.now);
        Ok(Known { evidence, planned, experience, now_h })
    }

    /// The same without any reading.
    pub fn without_readings(&self) -> Known {
        Known { evidence: self.evidence.without_readings(), ..self.clone() }
    }

    /// The same with every reading set aside, because what was seen contradicts them.
    pub fn contradicted(&self) -> Known {
        Known { evidence: self.evidence.contradicted(), ..self.clone() }
    }

    /// The same with the readings of one source only.
    pub fn of_source(&self, source: usize) -> Known {
        Known { evidence: self.evidence.of_source(source), ..self.clone() }
    }

    /// The same without what was read since the climb of the readings changed, though nobody turned a
    /// burner, and how many times likelier that makes them.
    pub fn before_change(&self) -> Option<(Known, f64)> {
        let (evidence, experience) = (&self.evidence, &self.experience);
        let ruler = ruler(evidence, experience, self.planned.as_ref());
        let turned = experience.habit.turned(&evidence.turns, !matches!(ruler, Ruler::Plain));
        let log_sum = |today: &[f64; RESTLESSNESS.len()]| experience.log_likelihood_today(today);
        let (at_h, odds) = climb::changed(&evidence.readings, ruler, &turned, log_sum)?;
        Some((Known { evidence: evidence.read_until(at_h), ..self.clone() }, odds))
    }

    /// One over how likely everything but the looks is, 1 where that is not known: the constant of a
    /// model whose likelihood is only known up to one.
    pub fn before_looks(&self, question: &Question, seed: u64) -> f64 {
        let evidence = Evidence { sights: Vec::new(), ..self.evidence.clone() };
        let unseen = Known { evidence, ..self.clone() };
        let sample = unseen
            .model(question)
            .map(|(model, _)| sampler::sample(&model, sampler::DRAWS_BESIDE, seed));
        sample.map_or(1.0, |sample| (-sample.log_evidence).exp())
    }

    /// The same for a day of which the clock tells nothing.
    pub fn without_clock(self) -> Known {
        Known { experience: self.experience.without_clock(), ..self }
    }

    /// By readings where there are enough of them, by a single one where other days tell the climb,
    /// else by the clock.
    pub fn model(
        &self,
        question: &Question,
    ) -> Result<(Either<'_>, Option<ChamberStates>), Declined> {
        let evidence = &self.evidence;
        let (planned, experience) = (self.planned.as_ref(), &self.experience);
        let ruler = ruler(evidence, experience, planned);
        let course_known = !matches!(ruler, Ruler::Plain);
        let turned = experience.habit.turned(&evidence.turns, course_known);
        let states = climb::filter(&evidence.readings, ruler, &turned);
        let by_readings = states.and_then(|states| {
            ByReadings::new(evidence, experience, planned, &states, &turned, self.now_h)
        });
        if let Some(model) = by_readings {
            return Ok((Either::Readings(Box::new(model)), states));
        }
        if !experience.length_known && !evidence.saw_a_cone_move() {
            return Err(Declined::NothingKnown);
        }
        let by_one = (experience.length_known)
            .then(|| ByOneReading::new(evidence, experience, planned, self.now_h))
            .flatten();
        if let Some(model) = by_one {
            return Ok((Either::OneReading(Box::new(model)), states));
        }
        let fastest = question.kiln.and_then(|kiln| kiln.fastest_climb).map(|climb| climb.0);
        let model = ByClock::new(evidence, experience, planned, fastest, self.now_h);
        Ok((Either::Clock(model), states))
    }

    /// Whether the plan holds the temperature of the last reading.
    pub fn planned_to_soak(&self) -> bool {
        let (Some(planned), Some(last)) = (&self.planned, self.evidence.readings.last()) else {
            return false;
        };
        let place = planned.place_of(last.c, climb::time_near(&self.evidence.readings));
        place.is_some_and(|place| planned.in_soak(place))
    }

    /// How the burner was turned since the last reading.
    pub fn turns_since(&self) -> &[Turn] {
        let last_h = self.evidence.readings.last().map_or(0.0, |reading| reading.at_h);
        let turns = &self.evidence.turns;
        &turns[turns.partition_point(|turn| turn.at_h < last_h)..]
    }

    pub fn grounds(&self, question: &Question, doubted: Option<Moment>) -> Vec<Ground> {
        let mut grounds = Vec::new();
        if let (true, Some(name)) = (self.planned.is_some(), &question.firing.schedule) {
            grounds.push(Ground::Schedule { name: name.clone() });
        }
        if self.experience.firings > 0 {
            grounds.push(Ground::PastFirings { count: self.experience.firings });
        }
        if let Some((count, last)) = self.evidence.read() {
            grounds.push(Ground::Readings { count, last, doubted });
            if let Some(add_c) = self.experience.correction_c {
                grounds.push(Ground::Correction { add_c });
            }
            grounds.extend(self.experience.probe_changed.map(|at| Ground::ProbeChanged { at }));
        }
        grounds.extend(self.evidence.glow.map(|at| Ground::Glow { at }));
        if let Some(turn) = self.evidence.turns.last() {
            let last = self.evidence.lit + Span::from_hours(turn.at_h);
            let count = self.evidence.turns.len();
            grounds.push(Ground::Turns { count, last, way: turn.way });
        }
        if let Some(last) = self.evidence.sights.last() {
            let last = self.evidence.lit + Span::from_hours(last.at_h);
            grounds.push(Ground::Looks { count: self.evidence.sights.len(), last });
        }
        let usual = question.load.is_some_and(|load| load.usual_length.is_some());
        if usual && self.planned.is_none() && self.experience.firings == 0 {
            grounds.push(Ground::UsualLength);
        }
        grounds
    }
}

/// The model in use.
#[derive(Debug)]
pub enum Either<'a> {
    Clock(ByClock<'a>),
    OneReading(Box<ByOneReading<'a>>),
    Readings(Box<ByReadings<'a>>),
}

impl Model for Either<'_> {
    fn unknowns(&self) -> usize {
        match self {
            Either::Clock(model) => model.unknowns(),
            Either::OneReading(model) => model.unknowns(),
            Either::Readings(model) => model.unknowns(),
        }
    }

    fn imagine(&self, point: &Point) -> (Imagined, f64) {
        match self {
            Either::Clock(model) => model.imagine(point),
            Either::OneReading(model) => model.imagine(point),
            Either::Readings(model) => model.imagine(point),
        }
    }
}

/// What today's readings are laid along: the plan where they pass one of its soaks, which no ladder of
/// temperatures tells of; else this kiln's usual course, else the plan, else nothing.
fn ruler<'a>(
    evidence: &Evidence,
    experience: &'a Experience,
    planned: Option<&'a Planned>,
) -> Ruler<'a> {
    let last = evidence.readings.last().map_or(0.0, |reading| reading.c);
    let soaked = |planned: &&Planned| planned.soaks_between(climb::lately(&evidence.readings));
    match (&experience.profile, planned) {
        (Some(_), Some(planned)) if soaked(&planned) => Ruler::Plan(planned, PLAN_DAY),
        (Some(profile), _) if profile.covers(last) => {
            Ruler::Usual(profile, experience.length.spread.max(LEAST_DAY))
        }
        (_, Some(planned)) => Ruler::Plan(planned, PLAN_DAY),
        _ => Ruler::Plain,
    }
}

fn experience(question: &Question, evidence: &Evidence, planned: Option<&Planned>) -> Experience {
    let before = Beforehand {
        planned,
        corrections: question.corrections.map(|corrections| (corrections, question.now)),
        usual_length_is_a_guess: question.load.is_some_and(starter::has_its_length),
        usual_length_h: question
            .load
            .and_then(|load| load.usual_length)
            .map(Span::as_hours)
            .filter(|hours| *hours > 0.1),
    };
    Experience::of(question.past, question.firing, &evidence.cones, &before)
}
