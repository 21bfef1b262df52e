//! What a rehearsal tells the trainee.

use super::lengths::ago;
use super::steps::NamedKeys;
use super::story::look_phrase;
use crate::firing::event::{Look, Verdict};
use crate::scene::{KilnScene, Phase};
use crate::units::Span;
use crate::watch::task::Task;

/// Said of firings that are no real ones.
pub const MADE_UP: &str = "made up";

/// Something that goes wrong in a made-up shop.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mishap {
    /// The probe reads nonsense.
    ProbeBroken,
    /// The burners hardly give anything.
    PressureLow,
    /// Whoever minds the kiln is called away.
    NobodyLooks,
}

/// What is to be done next to get one firing through. `cool` says whether the kiln can be touched,
/// `done` whether an outcome has been written already; then there is nothing more to be done.
pub fn prompt(kiln: &KilnScene, cool: bool, done: bool) -> Task {
    match (kiln.phase, kiln.todo.task) {
        (Phase::Empty, _) if done => Task::Nothing,
        (Phase::Empty | Phase::Packed | Phase::Aborted, _) => Task::Light,
        // Nothing has been said of it yet: its advice is being made.
        (_, Task::LookByEye) if kiln.drop.is_none() && kiln.no_forecast.is_none() => Task::NextLook,
        (_, Task::ProbablyDown | Task::Stay | Task::LookByEye) => Task::LookDue,
        (Phase::Off | Phase::Cooling, _) if cool => Task::CoolEnough,
        (Phase::Off | Phase::Cooling, _) => Task::LetCool,
        (_, task) => task,
    }
}

/// What to do, and with which key.
pub fn prompt_text(prompt: Task, kiln: &str, keys: &NamedKeys<'_>) -> String {
    match prompt {
        Task::Light => {
            format!(
                "Rehearsal: {kiln} is packed with gold. Press {} to light it. {COLLEAGUE} minds \
                     the other kilns.",
                keys.light
            )
        }
        Task::LookDue => format!(
            "Rehearsal: look at {kiln} now. Press {}, note what you see of each cone, Enter.",
            keys.look
        ),
        Task::ShutOff => format!(
            "Rehearsal: the target is down. Press {} and Enter: late costs the load.",
            keys.off
        ),
        Task::LetCool => format!(
            "Rehearsal: {kiln} cools for hours before it can be unloaded; {} makes time run \
                 faster.",
            keys.faster
        ),
        Task::CoolEnough => {
            format!("Rehearsal: {kiln} is cool: unload it, then press {}.", keys.drawn)
        }
        Task::OutcomeNotRecorded => format!(
            "Rehearsal: {kiln} is unloaded. Press {} and write how the gold came out.",
            keys.outcome
        ),
        Task::Nothing => format!(
            "Rehearsal: that was one firing from lit to outcome. {} lights another, {} ends.",
            keys.light, keys.quit
        ),
        _ => format!(
            "Rehearsal: {kiln} climbs. Nothing to do until the countdown ends; {} makes time \
                 run faster.",
            keys.faster
        ),
    }
}

/// Who minds the kilns of a made-up shop that the trainee does not.
pub const COLLEAGUE: &str = "Ada";

/// What went wrong at a kiln so long ago, and what that means.
pub fn mishap(mishap: Mishap, kiln: &str, age: Span, keys: &NamedKeys<'_>) -> String {
    let ago = ago(age);
    match mishap {
        Mishap::ProbeBroken => {
            format!("{kiln}: its probe died {ago}; what it reads is set aside, and looks decide.")
        }
        Mishap::PressureLow => {
            format!("{kiln}: the gas pressure fell {ago}, and it hardly climbs; looks decide.")
        }
        Mishap::NobodyLooks => format!(
            "{kiln}: {COLLEAGUE} was called away {ago}, so its looks are yours: {} chooses it.",
            keys.next_kiln
        ),
    }
}

/// How it begins what a trainee sees when looking.
pub(super) const SPYHOLE_SHOWS: &str = "Through the spyhole:";

/// What a trainee sees when looking: `Through the spyhole: guide down, target leaning`.
pub fn spyhole_shows(look: &Look) -> String {
    format!("{SPYHOLE_SHOWS} {}.", look_phrase(look))
}

/// How a load came out that is so many cones over its target, within what it forgives.
pub fn came_out(cones_over: f64, under_cones: f64, over_cones: f64) -> Verdict {
    if cones_over > over_cones {
        Verdict::Over
    } else if cones_over < -under_cones {
        Verdict::Under
    } else {
        Verdict::Good
    }
}

/// What drawing the kiln shows of the load.
pub fn load_shows(load_type: &str, came: Verdict) -> String {
    let signs = load_signs(load_type, came);
    format!("On the shelves: {signs}: {came}.")
}

/// Told when another outcome was written than the shelves show.
pub fn misjudged(load_type: &str, written: Verdict, came: Verdict, keys: &NamedKeys<'_>) -> String {
    let signs = load_signs(load_type, came);
    format!(
        "Rehearsal: you wrote {written}, but {signs}: that is {came}. Forecasts learn from what is \
         written: {} strikes it, {} writes it again.",
        keys.undo, keys.outcome
    )
}

/// `the gold is dull and lifts`.
pub(super) fn load_signs(load_type: &str, came: Verdict) -> String {
    match (load_type, came) {
        ("gold", Verdict::Over) => "the gold is dull and lifts".into(),
        ("gold", Verdict::Under) => "the gold rubs off".into(),
        ("gold", Verdict::Good) => "the gold is bright and holds".into(),
        (other, Verdict::Over) => format!("the {other} has had too much heat"),
        (other, Verdict::Under) => format!("the {other} has had too little heat"),
        (other, Verdict::Good) => format!("the {other} is as it should be"),
        (other, Verdict::NotFired) => format!("the {other} is not fired"),
    }
}

/// `made up, x60`: that a rehearsal is none of the shop's own, and how many times as fast as the clock it runs.
pub fn made_up(speed: f64) -> String {
    if speed <= 0.0 {
        format!("{MADE_UP}, standing still")
    } else if speed >= 10.0 {
        format!("{MADE_UP}, x{speed:.0}")
    } else {
        format!("{MADE_UP}, x{speed:.1}")
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
