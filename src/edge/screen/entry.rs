//! Which form a key opens, and (in [`confirmed`]) the event a confirmed form stands for.

mod confirmed;
pub mod settings;
pub mod shop;

use super::app::Context;
use super::form::{Field, Form};
use super::key::Meaning;
use super::store::About;
use crate::alarm::{Alarm, Cause, State};
use crate::firing::event::{Fullness, Look, Packing, Seen, Verdict};
use crate::firing::{Doubt, EventId};
use crate::kiln::LoadType;
use crate::review::Suggestion;
use crate::review::suggestion::Change;
use crate::scene::{ConeScene, Doubted, KilnScene, PastFiring, Phase, Role};
use crate::schedule::Ware;
use crate::units::{Moment, Span};
use crate::words::{self, Dial, Label, Refusal, Title};

/// Why a confirmed form was not written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Problem {
    /// It cannot be written as it is.
    Wrong(String),
    /// It can, if somebody confirms once more.
    Unusual(String),
}

/// The form for a meaning, or why there is none now.
///
/// # Errors
/// The [`Refusal`] to show.
pub fn open(meaning: Meaning, kiln: &KilnScene, context: &Context<'_>) -> Result<Form, Refusal> {
    let mut form = match meaning {
        Meaning::Look => look(kiln, context.glimpse),
        Meaning::Reading => reading(kiln),
        Meaning::Off => off(kiln),
        Meaning::Drawn => drawn(kiln),
        Meaning::Outcome => outcome(kiln, context.shelves),
        Meaning::Light => light(kiln, context),
        Meaning::Pack => pack(kiln, context),
        Meaning::Turned => turned(kiln),
        Meaning::Note => note(kiln),
        Meaning::GiveUp => give_up(kiln),
        Meaning::PutOff => put_off(kiln),
        _ => Err(Refusal::NothingIn),
    }?;
    form.follow(context);
    Ok(form)
}

/// The form that strikes an entry saved earlier.
pub fn strike(kiln: &str, about: About, event: EventId, phrase: &str) -> Form {
    let mut form = Form::new(Title::Strike, kiln, about, Vec::new());
    form.notices = vec![phrase.to_owned()];
    form.strikes = vec![(event, phrase.to_owned())];
    form
}

/// The form that strikes one of the looks which cannot all be right.
pub fn strike_look(
    kiln: &KilnScene,
    now: Moment,
    doubted: &Doubted,
    dial: &Dial<'_>,
) -> Result<Form, Refusal> {
    let other = match doubted.why {
        Doubt::StoodUp(other) => Some(other),
        Doubt::GuideStood(_) | Doubt::Unlikely(_) => None,
    };
    let looks: Vec<(EventId, String)> = [doubted.down]
        .into_iter()
        .chain(other)
        .map(|said| (said.event, words::look_of(&said, now, dial)))
        .collect();
    let names = looks.iter().map(|(_, phrase)| phrase.clone());
    let chosen = (looks.len() == 1).then_some(0);
    let fields = vec![Field::named(Label::Look, names, chosen)];
    let mut form = Form::new(Title::StrikeLook, &kiln.kiln, about(kiln)?, fields);
    form.strikes =
        looks.into_iter().map(|(id, look)| (id, format!("{}: {look}", kiln.kiln))).collect();
    Ok(form)
}

/// The form that accepts a change of this kiln's probe or this load type's tolerance.
pub fn accept(suggestion: &Suggestion, dial: &Dial<'_>) -> Form {
    let of = match &suggestion.change {
        Change::ProbeCorrection { kiln, .. } => kiln,
        Change::Tolerance { load_type, .. } => load_type,
    };
    let mut form = Form::new(Title::Accept, of, About::Shop, Vec::new());
    let phrase = words::accepted_phrase(suggestion, dial.scale);
    form.notices = vec![phrase, words::ACCEPT_NOTICE.into()];
    form.accepts = Some(suggestion.clone());
    form
}

/// The form that writes the card of a past firing.
pub fn card(past: &PastFiring) -> Form {
    let file = Field::filled(Label::File, format!("firing-{}.html", past.firing.0));
    Form::new(Title::Card, &past.kiln, About::Firing(past.firing), vec![file])
}

/// The form that makes a schedule from a past firing.
pub fn repeat(past: &PastFiring) -> Form {
    let file = format!("firing-{}.json", past.firing.0);
    let ware = Ware::ALL.map(|ware| ware.name().to_owned());
    let fields =
        vec![Field::named(Label::Ware, ware.into_iter(), None), Field::filled(Label::File, file)];
    Form::new(Title::Repeat, &past.kiln, About::Firing(past.firing), fields)
}

fn about(kiln: &KilnScene) -> Result<About, Refusal> {
    kiln.firing.map(About::Firing).ok_or(Refusal::NothingIn)
}

fn look(kiln: &KilnScene, glimpse: Option<&Look>) -> Result<Form, Refusal> {
    let about = about(kiln)?;
    if !kiln.is_lit() {
        return Err(Refusal::NotLit);
    }
    let words = || Seen::ALL.map(|seen| (words::seen_key(seen), seen.name().to_owned())).to_vec();
    let mut fields: Vec<Field> =
        kiln.cones.iter().map(|cone| Field::choice(label_of(cone), words())).collect();
    fields.push(Field::text(Label::When));
    let mut form = Form::new(Title::Look, &kiln.kiln, about, fields);
    form.notices.extend(glimpse.map(words::spyhole_shows));
    form.notices.push(words::CAUTION_LOOK.into());
    Ok(form)
}

fn label_of(cone: &ConeScene) -> Label {
    match cone.role {
        Role::Guide => Label::Guide,
        Role::Target => Label::Target,
        Role::Guard => Label::Guard,
    }
}

fn reading(kiln: &KilnScene) -> Result<Form, Refusal> {
    let about = about(kiln)?;
    if kiln.lit.is_none() {
        return Err(Refusal::NotLit);
    }
    let fields = vec![Field::text(Label::Temperature), Field::text(Label::When)];
    Ok(Form::new(Title::Reading, &kiln.kiln, about, fields))
}

fn off(kiln: &KilnScene) -> Result<Form, Refusal> {
    let about = about(kiln)?;
    if !kiln.is_lit() {
        return Err(Refusal::NotLit);
    }
    let mut form = Form::new(Title::Off, &kiln.kiln, about, vec![Field::text(Label::When)]);
    form.notices.push(words::CAUTION_OFF.into());
    Ok(form)
}

fn drawn(kiln: &KilnScene) -> Result<Form, Refusal> {
    let about = about(kiln)?;
    match kiln.phase {
        Phase::Off | Phase::Cooling | Phase::Aborted => {
            let fields = vec![Field::text(Label::When)];
            let mut form = Form::new(Title::Drawn, &kiln.kiln, about, fields);
            form.notices.push(words::CAUTION_DRAW.into());
            Ok(form)
        }
        Phase::Heating | Phase::Watch | Phase::Dropped => Err(Refusal::StillLit),
        Phase::Empty | Phase::Packed | Phase::Drawn => Err(Refusal::NotLit),
    }
}

fn outcome(kiln: &KilnScene, shelves: Option<&str>) -> Result<Form, Refusal> {
    let about = match kiln.unjudged {
        Some(drawn) => About::Firing(drawn),
        None if kiln.is_lit() => return Err(Refusal::StillLit),
        None if kiln.phase == Phase::Packed => return Err(Refusal::NotLit),
        None => about(kiln)?,
    };
    let verdicts =
        Verdict::ALL.map(|verdict| (words::verdict_key(verdict), verdict.name().to_owned()));
    let fields = vec![Field::choice(Label::Verdict, verdicts.to_vec()), Field::text(Label::Note)];
    let mut form = Form::new(Title::Outcome, &kiln.kiln, about, fields);
    if kiln.unjudged.is_some() && kiln.unjudged != kiln.firing {
        form.notices.push(words::OUTCOME_OF_THE_LAST_LOAD.into());
    } else {
        form.notices.extend(shelves.map(str::to_owned));
    }
    Ok(form)
}

fn light(kiln: &KilnScene, context: &Context<'_>) -> Result<Form, Refusal> {
    if kiln.phase == Phase::Aborted {
        let fields = vec![Field::text(Label::When)];
        let mut form = Form::new(Title::LightAgain, &kiln.kiln, about(kiln)?, fields);
        form.notices.push(words::CAUTION_OFF.into());
        return Ok(form);
    }
    let about = planned(kiln)?.ok_or(Refusal::AlreadyIn)?;
    let fields = vec![
        load_field(kiln, &context.scene.load_types)?,
        Field::named(Label::Schedule, std::iter::empty(), None),
        cone_field(kiln, &context.scene.load_types),
        Field::text(Label::When),
    ];
    let mut form = begin(Title::Light, kiln, about, fields, context);
    // What was packed is known: the schedule is asked for first.
    form.at_field = usize::from(form.chosen(Label::LoadType).is_some());
    Ok(form)
}

/// A packing, or a change of one: then the form says what was said before.
fn pack(kiln: &KilnScene, context: &Context<'_>) -> Result<Form, Refusal> {
    let refused = if kiln.is_lit() { Refusal::LitAlready } else { Refusal::AlreadyIn };
    let about = planned(kiln)?.ok_or(refused)?;
    let said = said(kiln);
    let contents = said.map(|said| said.contents.clone()).unwrap_or_default();
    let full = said.and_then(|said| said.full);
    let fields = vec![
        load_field(kiln, &context.scene.load_types)?,
        Field::filled(Label::Contents, contents),
        Field::named(
            Label::Full,
            Fullness::ALL.map(|full| full.name().to_owned()).into_iter(),
            Fullness::ALL.into_iter().position(|one| Some(one) == full),
        ),
        cone_field(kiln, &context.scene.load_types),
        Field::text(Label::When),
    ];
    let title = if said.is_some() { Title::PackAgain } else { Title::Pack };
    Ok(begin(title, kiln, about, fields, context))
}

/// A form that packs or lights a kiln, which remembers what was known when it was opened.
fn begin(
    title: Title,
    kiln: &KilnScene,
    about: About,
    fields: Vec<Field>,
    context: &Context<'_>,
) -> Form {
    let mut form = Form::new(title, &kiln.kiln, about, fields);
    form.opened.clone_from(&form.fields);
    form.said = said(kiln).cloned();
    form.seen = context.scene.last_event;
    if kiln.packed_over {
        form.notices.push(words::packed_more_than_once(&kiln.kiln));
    }
    form
}

/// What was said of the load that is packed and not lit yet.
fn said(kiln: &KilnScene) -> Option<&Packing> {
    kiln.packing.as_ref().filter(|_| kiln.phase == Phase::Packed)
}

/// The firing that is packed, or the one to begin; `None` where one is under way.
fn planned(kiln: &KilnScene) -> Result<Option<About>, Refusal> {
    Ok(match kiln.phase {
        Phase::Packed => Some(about(kiln)?),
        Phase::Empty | Phase::Drawn => Some(About::NewFiring),
        _ => None,
    })
}

fn load_field(kiln: &KilnScene, load_types: &[LoadType]) -> Result<Field, Refusal> {
    if load_types.is_empty() {
        return Err(Refusal::NoLoadType);
    }
    let packed = said(kiln).map(|said| said.load_type.as_str());
    let chosen = load_types.iter().position(|load| Some(load.name.as_str()) == packed);
    Ok(Field::named(Label::LoadType, load_types.iter().map(|load| load.name.clone()), chosen))
}

/// The field for the target cone; it shows the one packed where that is not the load type's own.
fn cone_field(kiln: &KilnScene, load_types: &[LoadType]) -> Field {
    let cone = said(kiln).and_then(|said| {
        let load = load_types.iter().find(|load| load.name == said.load_type)?;
        Some(confirmed::words_of_cone(said, load))
    });
    Field::filled(Label::Cone, cone.unwrap_or_default().into())
}

fn turned(kiln: &KilnScene) -> Result<Form, Refusal> {
    let about = about(kiln)?;
    if !kiln.is_lit() {
        return Err(Refusal::NotLit);
    }
    let fields = vec![Field::text(Label::Setting), Field::text(Label::When)];
    Ok(Form::new(Title::Turned, &kiln.kiln, about, fields))
}

fn note(kiln: &KilnScene) -> Result<Form, Refusal> {
    let fields = vec![Field::text(Label::Note), Field::text(Label::When)];
    Ok(Form::new(Title::Note, &kiln.kiln, about(kiln)?, fields))
}

fn give_up(kiln: &KilnScene) -> Result<Form, Refusal> {
    let about = about(kiln)?;
    match kiln.phase {
        Phase::Heating | Phase::Watch => {}
        Phase::Dropped => return Err(Refusal::SeenDown),
        _ => return Err(Refusal::NotLit),
    }
    let fields = vec![Field::text(Label::Reason), Field::text(Label::When)];
    let mut form = Form::new(Title::GiveUp, &kiln.kiln, about, fields);
    form.notices.push(words::CAUTION_OFF.into());
    Ok(form)
}

/// How long an alarm is put off where nobody says otherwise.
const USUAL_SHELF: Span = Span::minutes(15);

/// Whether an alarm stands that somebody can do something about.
pub fn can_stand(alarm: &Alarm) -> bool {
    matches!(alarm.state, State::Unacknowledged | State::Acknowledged)
}

/// Whether its priority lets an alarm be put off.
pub fn can_be_put_off(alarm: &Alarm) -> bool {
    alarm.key.cause.priority().longest_shelf().is_some()
}

fn put_off(kiln: &KilnScene) -> Result<Form, Refusal> {
    let about = about(kiln)?;
    let stand = kiln.alarms.iter().filter(|alarm| can_stand(alarm) && can_be_put_off(alarm));
    let causes: Vec<Cause> = stand.map(|alarm| alarm.key.cause).collect();
    let first = *causes.first().ok_or(Refusal::NothingRings)?;
    let shelf = first.priority().longest_shelf().map_or(USUAL_SHELF, |most| most.min(USUAL_SHELF));
    let words = causes.iter().map(|cause| words::alarm_word(cause.name()));
    let fields = vec![
        Field::named(Label::Alarm, words, Some(0)),
        Field::filled(Label::Length, shelf.to_string()),
    ];
    Ok(Form::new(Title::PutOff, &kiln.kiln, about, fields))
}
