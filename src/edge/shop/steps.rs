//! The steps that can be entered of a kiln as it stands, which firing each is of and what is known of it
//! before anybody says more: screen and page offer the same.

use super::store::About;
use crate::alarm::{Alarm, State, Task};
use crate::casting::Casting;
use crate::edge::draft::{Draft, Known, Lack};
use crate::firing::event::Packing;
use crate::firing::{Event, FiringId, Kind, What};
use crate::kiln::{LoadType, same_name};
use crate::scene::{BenchScene, KilnScene, Phase, Scene};
use crate::units::{Moment, Span};
use crate::ware::{self, Lot};
use crate::words::{self, Dial, Meant, Refusal, Title, Zone};

/// The steps of one kiln, in the order in which they are offered.
pub const STEPS: [Title; 16] = [
    Title::Look,
    Title::Reading,
    Title::Off,
    Title::Turned,
    Title::Glow,
    Title::Drawn,
    Title::Outcome,
    Title::Light,
    Title::LightAgain,
    Title::Pack,
    Title::PackAgain,
    Title::Note,
    Title::KilnNote,
    Title::GiveUp,
    Title::ProbeChanged,
    Title::PutOff,
];

/// The steps most useful for a task, the more useful first.
pub fn usual(task: Task) -> (Title, Option<Title>) {
    match task {
        Task::ShutOff => (Title::Off, Some(Title::Look)),
        Task::TurnDown | Task::AfterCone => (Title::Turned, Some(Title::Off)),
        Task::NextLook => (Title::Reading, None),
        Task::ProbablyDown | Task::Stay | Task::LookDue | Task::LookByEye => {
            (Title::Look, Some(Title::Off))
        }
        Task::LetCool | Task::CoolEnough => (Title::Drawn, None),
        Task::OutcomeNotRecorded => (Title::Outcome, None),
        Task::Decide => (Title::Light, Some(Title::Drawn)),
        Task::Light | Task::Nothing => (Title::Light, None),
        _ => (Title::Look, None),
    }
}

/// The firing a step is of.
///
/// # Errors
/// Why it cannot be entered now.
pub fn about(title: Title, kiln: &KilnScene) -> Result<About, Refusal> {
    let only_if = |may: bool| if may { Ok(()) } else { Err(Refusal::NotLit) };
    let there = kiln.firing.map(About::Firing).ok_or(Refusal::NothingIn);
    match (title, kiln.phase) {
        (Title::ProbeChanged | Title::KilnNote, _) => return Ok(About::Shop),
        (Title::Light, _) => return planned(kiln)?.ok_or(taken(kiln)),
        (Title::Pack | Title::PackAgain, _) => {
            let refused = if kiln.is_lit() { Refusal::LitAlready } else { Refusal::AlreadyIn };
            return planned(kiln)?.ok_or(refused);
        }
        (Title::Outcome, phase) => {
            return match kiln.unjudged {
                Some(drawn) => Ok(About::Firing(drawn)),
                None if kiln.is_lit() => Err(Refusal::StillLit),
                None if phase == Phase::Packed => Err(Refusal::NotLit),
                None => there,
            };
        }
        (Title::PutOff, _) if to_put_off(kiln).next().is_none() => {
            there?;
            return Err(Refusal::NothingRings);
        }
        _ => {}
    }
    let about = there?;
    match (title, kiln.phase) {
        (Title::Look | Title::Off | Title::Turned, _) => only_if(kiln.is_lit())?,
        (Title::Reading | Title::Glow, _) => only_if(kiln.lit.is_some())?,
        (Title::Drawn, _) if kiln.is_lit() => return Err(Refusal::StillLit),
        (Title::Drawn, phase) => {
            only_if(matches!(phase, Phase::Off | Phase::Cooling | Phase::Aborted))?;
        }
        (Title::GiveUp, Phase::Dropped) => return Err(Refusal::SeenDown),
        (Title::GiveUp, phase) => only_if(matches!(phase, Phase::Heating | Phase::Watch))?,
        (Title::LightAgain, phase) => only_if(phase == Phase::Aborted)?,
        _ => {}
    }
    Ok(about)
}

/// The step as it is called at this kiln: one that was given up is lit again, one that is packed is
/// packed otherwise, a note of an empty one is the kiln's own.
pub fn called(title: Title, kiln: &KilnScene) -> Title {
    match title {
        Title::Light | Title::LightAgain => match kiln.phase {
            Phase::Aborted => Title::LightAgain,
            _ => Title::Light,
        },
        Title::Pack | Title::PackAgain => match said(kiln) {
            Some(_) => Title::PackAgain,
            None => Title::Pack,
        },
        Title::Note | Title::KilnNote => match kiln.firing {
            Some(_) => Title::Note,
            None => Title::KilnNote,
        },
        other => other,
    }
}

/// What to mind at a step.
pub fn caution(title: Title, kiln: &KilnScene) -> Option<&'static str> {
    match title {
        Title::Look | Title::Glow => Some(words::CAUTION_LOOK),
        Title::Off | Title::GiveUp => Some(words::caution_off(kiln.fuel)),
        Title::LightAgain => Some(words::caution_relight(kiln.fuel)),
        Title::Drawn => Some(words::CAUTION_DRAW),
        _ => None,
    }
}

/// Whether something else of the shop has this name; a kiln also that which it was called before.
pub fn is_taken(kind: Kind, name: &str, scene: &Scene) -> bool {
    let now = scene.names.now(name);
    match kind {
        Kind::Kiln => {
            let retired = scene.retired.iter().map(|kiln| kiln.name.as_str());
            scene.names().into_iter().chain(retired).any(|kiln| same_name(kiln, now))
        }
        Kind::LoadType => scene.load_types.iter().any(|load| same_name(&load.name, name)),
        Kind::Mould => scene.bench.mould(name).is_some(),
        _ => false,
    }
}

/// Whether it is asked when it happened.
pub fn is_timed(kind: Kind) -> bool {
    !kind.describes() && !matches!(kind, Kind::Shelved | Kind::Struck)
}

/// When it happened, as it is said; a correction that says what it said as it was opened leaves the moment as it was.
///
/// # Errors
/// Why the text is no time.
pub fn when(
    text: &str,
    was: Option<(&Event, &str)>,
    now: Moment,
    dial: &Dial<'_>,
) -> Result<Moment, String> {
    match (text, was) {
        (text, Some((was, opened))) if text == opened => Ok(was.at),
        ("", _) => Ok(now),
        (text, _) => words::read_past(text, now, Meant::Past, dial),
    }
}

/// What is known of a step: a load that is packed is what was said of it.
pub fn draft(kind: Kind, kiln: &KilnScene, load_types: &[LoadType]) -> Draft {
    let before = said(kiln).filter(|_| matches!(kind, Kind::Packed | Kind::Lit));
    let mut draft = match before {
        Some(said) => Draft::again(kind, said, load_types),
        None => Draft::new(kind, &kiln.kiln),
    };
    if let (Kind::Shelved, Some(first)) = (kind, to_put_off(kiln).next()) {
        let most = first.priority().longest_shelf();
        let shelf = most.map_or(USUAL_SHELF, |most| most.min(USUAL_SHELF));
        draft.say("alarm", first.name());
        draft.say("length_min", &shelf.to_string());
    }
    draft
}

/// What is known of a lot, or of the next one.
pub fn lot_draft(known: Option<&Lot>, scene: &Scene, zone: &dyn Zone) -> Draft {
    let Some(lot) = known else {
        let mut draft = Draft::new(Kind::Lot, "");
        draft.say("lot", &ware::next_name(&scene.lots));
        return draft;
    };
    let mut draft = Draft::of(&What::LotSet(lot.clone()));
    let wall = |at| zone.wall(at).format("%Y-%m-%d %H:%M").to_string();
    draft.say("ready", &lot.ready.map(wall).unwrap_or_default());
    draft.say("wanted", &lot.wanted.map(wall).unwrap_or_default());
    draft
}

/// The same of every mould that is named, with what is asked first; what is of no cast is as it is.
///
/// # Errors
/// Why it cannot be noted of one of them.
pub fn of_each_mould(
    what: What,
    named: &str,
    bench: &BenchScene,
) -> Result<(Vec<What>, Option<String>), String> {
    let mut draft = Draft::of(&what);
    let of_moulds = draft.kind.is_of_the_bench() && draft.kind != Kind::Room;
    let Some(casting) = bench.casting.as_ref().filter(|_| of_moulds) else {
        return Ok((vec![what], None));
    };
    draft.say("mould", named);
    each_mould(&draft, casting).map_err(Lack::said)
}

/// What a draft says, of every mould that it names; where it names no slip, each is poured with its usual one.
///
/// # Errors
/// What is missing, or why it cannot be noted of one of them.
pub fn each_mould(draft: &Draft, casting: &Casting) -> Result<(Vec<What>, Option<String>), Lack> {
    let wrong = |error: &dyn std::fmt::Display| Lack::Wrong(error.to_string());
    let pours = draft.kind == Kind::Poured;
    let moulds = match draft.kind {
        Kind::MouldRenamed => casting.mould(draft.said("mould")).map(|mould| vec![mould]),
        _ => casting.several(draft.said("mould"), pours),
    };
    let (mut all, mut question) = (Vec::new(), None);
    for mould in moulds.map_err(|error| wrong(&error))? {
        let code = &casting.moulds[mould].code;
        let mut draft = draft.clone();
        draft.say("mould", code);
        if pours && draft.said("body").is_empty() {
            let usual = casting.usual_body(mould).ok_or_else(|| wrong(&words::NO_SLIP_KNOWN))?;
            draft.say("body", usual);
        }
        let what = draft.what(&Known::default())?;
        if let What::Bench(noted) = &what {
            casting.permit(mould, noted).map_err(|error| wrong(&error))?;
        }
        let overlooks = pours && casting.full[mould].is_some();
        question = question.or(overlooks.then(|| words::still_full(code)));
        all.push(what);
    }
    let any = !all.is_empty();
    any.then_some((all, question)).ok_or_else(|| wrong(&words::NO_MOULD_MEANT))
}

/// What was said of the load that is packed and not lit yet.
pub fn said(kiln: &KilnScene) -> Option<&Packing> {
    kiln.packing.as_ref().filter(|_| kiln.phase == Phase::Packed)
}

/// The firing that is packed, or the one to begin; `None` where one is under way.
fn planned(kiln: &KilnScene) -> Result<Option<About>, Refusal> {
    Ok(match kiln.phase {
        Phase::Packed => Some(kiln.firing.map(About::Firing).ok_or(Refusal::NothingIn)?),
        Phase::Empty | Phase::Drawn => Some(About::NewFiring),
        _ => None,
    })
}

/// Why nothing can be lit in a kiln that is not empty.
pub fn taken(kiln: &KilnScene) -> Refusal {
    if kiln.is_lit() { Refusal::BurnsAlready } else { Refusal::AlreadyIn }
}

/// How long an alarm is put off where nobody says otherwise.
const USUAL_SHELF: Span = Span::minutes(15);

/// The alarms at a kiln that can be put off.
pub fn to_put_off(kiln: &KilnScene) -> impl Iterator<Item = Task> {
    let stand = kiln.alarms.iter().filter(|alarm| can_stand(alarm) && can_be_put_off(alarm));
    stand.map(|alarm| alarm.key.task)
}

/// Whether an alarm stands that somebody can do something about.
pub fn can_stand(alarm: &Alarm) -> bool {
    matches!(alarm.state, State::Unacknowledged | State::Acknowledged)
}

/// Whether its priority lets an alarm be put off; one of the shop itself is answered.
pub fn can_be_put_off(alarm: &Alarm) -> bool {
    alarm.key.firing != FiringId::SHOP && alarm.key.task.priority().longest_shelf().is_some()
}
