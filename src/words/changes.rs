//! What changed at the kilns between two scenes, a line each: for a log, a pipe, or a screen
//! reader, which are told nothing twice.

use std::mem::{Discriminant, discriminant};

use super::dial::Dial;
use super::doubt::{Striking, doubt};
use super::kiln::{phase_word, say};
use super::story::happened_line;
use crate::firing::Doubt;
use crate::scene::{KilnScene, Phase, Scene};
use crate::units::Moment;
use crate::watch::task::Task;

/// One change at one kiln.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct News {
    pub at: Moment,
    pub kiln: String,
    pub text: String,
}

impl News {
    /// `13:40 Heron: looked: guide down`, with the day where it is not today's.
    pub fn line(&self, now: Moment, dial: &Dial<'_>) -> String {
        format!("{} {}: {}", dial.time_and_day(self.at, now), self.kiln, self.text)
    }
}

/// Every kiln as it stands, for whoever begins to listen.
pub fn standings(scene: &Scene, dial: &Dial<'_>) -> Vec<News> {
    scene.kilns.iter().map(|kiln| standing(kiln, scene.now, dial)).collect()
}

/// What happened since, in the order of the kilns' urgency, and for each kiln whose state or task
/// is another one, how it stands. A countdown that runs is no change.
pub fn changes(before: &Scene, after: &Scene, dial: &Dial<'_>) -> Vec<News> {
    let mut changes = Vec::new();
    for kiln in &after.kilns {
        let earlier = before.kiln(&kiln.kiln);
        let same_firing = earlier.filter(|earlier| earlier.firing == kiln.firing);
        let known = same_firing.map(KilnScene::happened).unwrap_or_default();
        let fresh = kiln.happened().into_iter().filter(|happened| !known.contains(happened));
        changes.extend(fresh.map(|(at, happened)| News {
            at,
            kiln: kiln.kiln.clone(),
            text: happened_line(&happened, dial),
        }));
        if earlier.map(task) != Some(task(kiln)) {
            changes.push(standing(kiln, after.now, dial));
        }
    }
    changes
}

fn standing(kiln: &KilnScene, now: Moment, dial: &Dial<'_>) -> News {
    let doubt = doubt(kiln, now, dial, Striking::ByCommand);
    let doubt = doubt.map_or_else(String::new, |doubt| format!(" {doubt}"));
    let text = format!("{}. {}{doubt}", phase_word(kiln.phase), say(kiln, now, dial));
    News { at: now, kiln: kiln.kiln.clone(), text }
}

/// What decides whether a kiln stands as it did: its state, what is to be done, but not when, whether
/// somebody is wanted, and what a look is doubted for.
fn task(kiln: &KilnScene) -> (Phase, Task, bool, Option<Discriminant<Doubt>>) {
    let doubted = kiln.doubted.map(|doubted| discriminant(&doubted.why));
    let todo = match kiln.todo.task {
        Task::NextLook => Task::LookDue,
        Task::CoolEnough => Task::LetCool,
        task => task,
    };
    (kiln.phase, todo, kiln.task().wants_somebody(), doubted)
}
