//! The lessons of a rehearsal: what the teacher says while a kiln is minded, and what it was worth.

use super::lengths::ago;
use super::rehearsal::load_signs;
use super::steps::NamedKeys;
use super::story::look_phrase;
use crate::firing::event::{Look, Verdict};
use crate::scene::MouldState;
use crate::units::{Moment, Span};
use crate::watch::task::Task;

closed! {
    /// What a new helper learns in five minutes each.
    pub enum Lesson {
        GoodFiring => "good-firing",
        MissedLook => "missed-look",
        DeadProbe => "dead-probe",
        CastDue => "cast-due",
    }
}

/// Where the kiln of a lesson is, beyond what the screen can know.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct LessonSoFar {
    /// Whether the trainee has looked.
    pub looked: bool,
    /// How long the target has been down, whether or not anybody saw it.
    pub down_for: Option<Span>,
    /// For how long the probe has read nonsense.
    pub probe_broken: Option<Span>,
    /// What was noted last, and what there was to see, where these differ.
    pub misread: Option<(Look, Look)>,
    /// What is in the mould of the lesson, once the bench is reckoned.
    pub mould: Option<MouldState>,
}

/// The mould that is due in its lesson.
pub const CAST_DUE: &str = "A3";
pub const CAST_LESSON_ENDED: &str = "The cast was opened when it let go, and its mould is full again: each cast noted makes the next window narrower.";

/// What became of the firing of a lesson.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LessonEnd<'a> {
    pub kiln: &'a str,
    pub load_type: &'a str,
    /// When the target went down, if it did before the kiln was off.
    pub down: Option<Moment>,
    /// When it was first noted as down.
    pub found: Option<Moment>,
    pub off: Moment,
    /// How late the load forgives.
    pub forgives: Option<Span>,
    /// How the load came out, whatever was written.
    pub came: Verdict,
    /// What the trainee wrote of it.
    pub written: Option<Verdict>,
}

/// The telephone call of the missed look lasts until the target has been down so long: too long for
/// any gold.
const CALL_ENDS: Span = Span::minutes(15);
/// Off within this of the drop is as good as anybody can do.
const AT_ONCE: Span = Span::minutes(3);

impl Lesson {
    /// What it teaches.
    pub fn about(self) -> &'static str {
        match self {
            Lesson::GoodFiring => {
                "One load of gold from lit to outcome: wait, look, shut off, unload"
            }
            Lesson::MissedLook => "A look nobody made: what the screen shows, and what to do then",
            Lesson::DeadProbe => {
                "A probe that reads nonsense: how it is seen, and firing without it"
            }
            Lesson::CastDue => {
                "A mould that is due: open it, note it, and ask before pouring again"
            }
        }
    }

    /// What the teacher says while the kiln asks for `prompt`.
    pub fn text(
        self,
        prompt: Task,
        course: &LessonSoFar,
        kiln: &str,
        keys: &NamedKeys<'_>,
    ) -> String {
        if let Some((noted, shown)) = &course.misread {
            return format!(
                "You noted {}, but the spyhole showed {}. A forecast is only as good as what is \
                 noted: {} strikes it, {} records it again.",
                look_phrase(noted),
                look_phrase(shown),
                keys.undo,
                keys.look
            );
        }
        match self {
            Lesson::GoodFiring => good_firing(prompt, course, kiln, keys),
            Lesson::MissedLook => missed_look(prompt, course, kiln, keys),
            Lesson::DeadProbe => dead_probe(prompt, course, kiln, keys),
            Lesson::CastDue => cast_due(course.mould, keys),
        }
    }
}

fn good_firing(prompt: Task, course: &LessonSoFar, kiln: &str, keys: &NamedKeys<'_>) -> String {
    match prompt {
        Task::Light => format!(
            "A good firing, 1 of 5: {kiln} is packed with gold. Press {}, read what has to be \
             minded, then Enter.",
            keys.light
        ),
        Task::NextLook if !course.looked => format!(
            "2 of 5: the big digits count down to the first look; until then {kiln} asks for \
             nothing. {} makes time run faster.",
            keys.faster
        ),
        Task::NextLook => {
            "3 of 5: not yet. The nearer the drop, the sooner the next look; each look \
                         narrows the watch window."
                .into()
        }
        Task::LookDue => format!(
            "3 of 5: look now. Press {}, then one key for each cone as you see it, then Enter. The \
             guide goes first and warns; the target decides.",
            keys.look
        ),
        Task::ShutOff => format!(
            "4 of 5: the target is down. Press {} and Enter at once: the load goes on firing while \
             you wait.",
            keys.off
        ),
        Task::LetCool => format!(
            "5 of 5: {kiln} is off and cools for hours; opened hot, ware can crack. {} makes time run \
             faster.",
            keys.faster
        ),
        Task::CoolEnough => {
            format!("5 of 5: {kiln} is cool: unload it, then press {}.", keys.drawn)
        }
        _ => format!(
            "5 of 5: press {} and write how the gold came out: the next forecast learns from it.",
            keys.outcome
        ),
    }
}

fn missed_look(prompt: Task, course: &LessonSoFar, kiln: &str, keys: &NamedKeys<'_>) -> String {
    let calling = course.down_for.is_none_or(|down| down < CALL_ENDS);
    match prompt {
        Task::NextLook if !course.looked => format!(
            "A missed look: the guide of {kiln} leans, and the next look is yours. Miss it on \
             purpose this once: press no key until this line tells you to."
        ),
        Task::LookDue if !course.looked && calling => {
            "The telephone rings and the look is due: see how the screen asks for it; with \
             `spyhole keep` running it would be ringing by now. Press nothing yet."
                .into()
        }
        Task::LookDue => format!(
            "The call is over. A look that was missed is made at once, and noted as it is now: \
             press {}, each cone, Enter.",
            keys.look
        ),
        Task::ShutOff => format!(
            "It is down, and nobody knows since when. Press {} and Enter now: an unseen drop is \
             not made better by one more minute.",
            keys.off
        ),
        other => good_firing(other, course, kiln, keys),
    }
}

fn dead_probe(prompt: Task, course: &LessonSoFar, kiln: &str, keys: &NamedKeys<'_>) -> String {
    match (prompt, course.probe_broken) {
        (Task::NextLook, None) => format!(
            "A dead probe: {kiln} climbs, and its probe is read every five minutes. Watch the last \
             reading and the heat curve; nothing else to do yet."
        ),
        (Task::NextLook, Some(broken)) => format!(
            "The probe's wire broke {}: it reads the end of its range, hotter than any kiln. The \
             screen sets that aside, and goes by the climb before, the clock and your looks.",
            ago(broken)
        ),
        (Task::LookDue, Some(_)) => format!(
            "Look now: press {}, each cone, Enter. With a dead probe looks come sooner and more often, \
             and no number may talk you out of one.",
            keys.look
        ),
        (Task::ShutOff, _) => format!(
            "The target is down, whatever any probe says. Press {} and Enter at once.",
            keys.off
        ),
        (other, _) => good_firing(other, course, kiln, keys),
    }
}

fn cast_due(mould: Option<MouldState>, keys: &NamedKeys<'_>) -> String {
    match mould {
        None => "A cast that is due: the bench is being reckoned.".into(),
        Some(MouldState::Closed(_)) => format!(
            "A cast that is due, 1 of 2: the clay in {CAST_DUE} stands off at the pour hole, and it lets go. \
             Press 6 for the bench, w for \"came out well\", Enter."
        ),
        Some(MouldState::Empty) => format!(
            "2 of 2: {CAST_DUE} is empty. Go to it and press p: the form says when it could be opened if it is \
             poured now. Enter pours it."
        ),
        Some(MouldState::Poured(_)) => {
            format!("The lesson is over. {CAST_LESSON_ENDED} {} leaves.", keys.quit)
        }
    }
}

/// How a lesson ended, and why: `The target went down and Heron was off 2 min later; gold forgives
/// 9 min. The load is good: the gold is bright and holds.`
pub fn lesson_ended(ended: &LessonEnd<'_>) -> String {
    let signs = load_signs(ended.load_type, ended.came);
    let said = format!("{} The load is {}: {signs}.", what_happened(ended), ended.came);
    match ended.written.filter(|written| *written != ended.came) {
        Some(written) => format!("{said} You wrote {written}: write what the shelves show."),
        None => said,
    }
}

/// The same as the last words of the teacher.
pub fn lesson_closing(ended: &LessonEnd<'_>, quit: &str) -> String {
    format!("The lesson is over. {} {quit} leaves.", lesson_ended(ended))
}

fn what_happened(ended: &LessonEnd<'_>) -> String {
    let kiln = ended.kiln;
    let Some(down) = ended.down else {
        return match ended.came {
            Verdict::Under => {
                format!("{kiln} was off before its target was down, so it lacks heat work.")
            }
            _ => format!(
                "{kiln} was off before its target was down, but so shortly that {} still takes it: \
                 wait for the cone next time.",
                ended.load_type
            ),
        };
    };
    let late = ended.off - down;
    let forgives = match ended.forgives {
        Some(forgives) => format!("; {} forgives {forgives}", ended.load_type),
        None => String::new(),
    };
    match ended.found {
        None => format!(
            "{kiln} was off {late} after its target went down, without anybody having seen it \
             down{forgives}."
        ),
        Some(_) if late <= AT_ONCE => {
            format!("The target went down and {kiln} was off {late} later{forgives}.")
        }
        Some(found) => format!(
            "The drop was found late by {}, and {kiln} was shut off {late} after it{forgives}.",
            found - down
        ),
    }
}

/// Said on the way out of a lesson that was not brought to its end.
pub fn lesson_left(lesson: Lesson) -> String {
    format!(
        "The lesson was left before its end; nothing of it was kept. Once more: spyhole rehearse \
         --script {}",
        lesson.name()
    )
}
