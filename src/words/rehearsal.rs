//! What a rehearsal tells the trainee.

use super::kiln::look_phrase;
use crate::firing::event::Look;
use crate::scene::{KilnScene, Phase, Todo};
use crate::units::Moment;

/// What to do next to get one firing through.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lesson {
    Light,
    Wait,
    Look,
    ShutOff,
    Cool,
    Draw,
    WriteOutcome,
    Done,
}

/// The keys a lesson names, as the key table labels them.
#[derive(Debug, Clone, Copy)]
pub struct LessonKeys<'a> {
    pub light: &'a str,
    pub look: &'a str,
    pub off: &'a str,
    pub drawn: &'a str,
    pub outcome: &'a str,
    pub faster: &'a str,
    pub quit: &'a str,
}

/// The lesson a kiln is at. `cool` says whether it can be touched, `done` whether an outcome has
/// been written already.
pub fn lesson(kiln: &KilnScene, now: Moment, cool: bool, done: bool) -> Lesson {
    match (kiln.phase, kiln.todo) {
        (Phase::Empty, _) if done => Lesson::Done,
        (Phase::Empty | Phase::Packed | Phase::Aborted, _) => Lesson::Light,
        (_, Todo::ShutOff { .. }) => Lesson::ShutOff,
        (_, Todo::Look { at }) if at > now => Lesson::Wait,
        (_, Todo::Wait { .. }) => Lesson::Wait,
        (_, Todo::Look { .. } | Todo::LookTooLate { .. } | Todo::Stay | Todo::LookByEye) => {
            Lesson::Look
        }
        (Phase::Off | Phase::Cooling, _) if cool => Lesson::Draw,
        (Phase::Off | Phase::Cooling, _) => Lesson::Cool,
        (Phase::Drawn, _) => Lesson::WriteOutcome,
        _ => Lesson::Wait,
    }
}

impl Lesson {
    /// What to do, and with which key.
    pub fn text(self, kiln: &str, keys: &LessonKeys<'_>) -> String {
        match self {
            Lesson::Light => {
                format!("Rehearsal: {kiln} is packed with gold. Press {} to light it.", keys.light)
            }
            Lesson::Wait => format!(
                "Rehearsal: {kiln} climbs. Nothing to do until the countdown ends; {} makes time \
                 run faster.",
                keys.faster
            ),
            Lesson::Look => format!(
                "Rehearsal: look at {kiln} now. Press {}, note what you see of each cone, Enter.",
                keys.look
            ),
            Lesson::ShutOff => format!(
                "Rehearsal: the target is down. Press {} and Enter: late costs the load.",
                keys.off
            ),
            Lesson::Cool => format!(
                "Rehearsal: {kiln} cools for hours before it can be drawn; {} makes time run \
                 faster.",
                keys.faster
            ),
            Lesson::Draw => {
                format!("Rehearsal: {kiln} is cool. Press {} to draw it.", keys.drawn)
            }
            Lesson::WriteOutcome => format!(
                "Rehearsal: {kiln} is drawn. Press {} and write how the gold came out.",
                keys.outcome
            ),
            Lesson::Done => format!(
                "Rehearsal: that was one firing from lit to outcome. {} lights another, {} ends.",
                keys.light, keys.quit
            ),
        }
    }
}

/// What a trainee sees when looking: `Through the spyhole: guide down, target leaning`.
pub fn spyhole_shows(look: &Look) -> String {
    format!("Through the spyhole: {}.", look_phrase(look))
}

/// What drawing the kiln shows of the load.
pub fn load_shows(cones_over: f64, under_cones: f64, over_cones: f64) -> String {
    let came = if cones_over > over_cones {
        "the gold is dull and lifts: over"
    } else if cones_over < -under_cones {
        "the gold wipes off: under"
    } else {
        "the gold is bright and holds: good"
    };
    format!("On the shelves: {came}.")
}

/// `time x60`: how many times as fast as the clock a rehearsal runs.
pub fn scale_of_time(speed: f64) -> String {
    if speed <= 0.0 {
        "time stands still".into()
    } else if speed >= 10.0 {
        format!("time x{speed:.0}")
    } else {
        format!("time x{speed:.1}")
    }
}

/// Said on the way out.
pub fn rehearsal_ended(outcomes: usize) -> String {
    match outcomes {
        0 => "The rehearsal is over; nothing of it was kept.".into(),
        1 => "The rehearsal is over, with one outcome written; nothing of it was kept.".into(),
        many => {
            format!("The rehearsal is over, with {many} outcomes written; nothing of it was kept.")
        }
    }
}
