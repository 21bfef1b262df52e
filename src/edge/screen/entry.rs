//! Which form a key opens, and (in [`confirmed`]) the event a confirmed form stands for.

mod confirmed;
mod first;
pub mod settings;

use super::app::Context;
use super::form::{Field, Form};
use super::key::Meaning;
use crate::alarm::{Alarm, State, Task};
use crate::edge::draft::Draft;
use crate::edge::shop::store::{About, Entries};
use crate::firing::event::{Look, Packing, Role};
use crate::firing::fields::{self, Of, WHEN};
use crate::firing::{Doubt, Event, EventId, Kind, Others, What};
use crate::hours::Hours;
use crate::kiln::{Kiln, LoadType};
use crate::review::Suggestion;
use crate::review::suggestion::Change;
use crate::scene::{Doubted, KilnScene, PastFiring, Phase, Scene};
use crate::schedule::Ware;
use crate::units::{Moment, Span};
use crate::ware::{self, Lot};
use crate::words::{self, Dial, Refusal, Title, asks};
pub use first::first;

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
        Meaning::Reading => step(Title::Reading, kiln, None),
        Meaning::Glow => step(Title::Glow, kiln, Some(words::CAUTION_LOOK)),
        Meaning::Off => step(Title::Off, kiln, Some(words::caution_off(kiln.fuel))),
        Meaning::Drawn => step(Title::Drawn, kiln, Some(words::CAUTION_DRAW)),
        Meaning::Outcome => outcome(kiln, context.shelves),
        Meaning::Light => light(kiln, context),
        Meaning::Pack => pack(kiln, context),
        Meaning::Turned => step(Title::Turned, kiln, None),
        Meaning::Note => step(Title::Note, kiln, None),
        Meaning::GiveUp => step(Title::GiveUp, kiln, Some(words::caution_off(kiln.fuel))),
        Meaning::ProbeChanged => Ok(form(Title::ProbeChanged, &kiln.kiln, About::Shop)),
        Meaning::Past => Ok(past(kiln, context)),
        Meaning::PutOff => put_off(kiln),
        _ => Err(Refusal::NothingIn),
    }?;
    form.follow(context);
    Ok(form)
}

/// A form with all fields of a kind that somebody can say, those rarely said behind the others.
fn form(title: Title, kiln: &str, about: About) -> Form {
    let draft = title.kind().map(|kind| Draft::new(kind, kiln));
    draft.map_or_else(
        || Form::new(title, kiln, about, Vec::new()),
        |draft| form_of(title, kiln, about, &draft, &[]),
    )
}

/// The same with what a draft says in it.
fn form_of(title: Title, kiln: &str, about: About, draft: &Draft, load_types: &[LoadType]) -> Form {
    let entered = |rare: bool| {
        let fields = draft.kind.fields().iter();
        fields.filter(move |field| field.is_entered() && field.rare == rare)
    };
    let fields = |rare| entered(rare).flat_map(|asks| fields_of(asks, draft, load_types));
    let mut form = Form::new(title, kiln, about, fields(false).collect());
    // The outcome is written when it is seen; what is asked of all else is when it was.
    let timed = !draft.kind.describes() && !matches!(draft.kind, Kind::Shelved | Kind::Struck);
    let late = draft.kind == Kind::Outcome;
    form.fields.extend((timed && !late).then(|| Field::text(&WHEN)));
    let shown = form.fields.len();
    form.fields.extend(fields(true));
    form.fields.extend((timed && late).then(|| Field::text(&WHEN)));
    form.fold(shown);
    form
}

/// What asks for one field, with what the draft says of it.
fn fields_of(asks: &'static fields::Field, draft: &Draft, load_types: &[LoadType]) -> Vec<Field> {
    let said = draft.said(asks.key);
    let words = asks.of.words().map_or(&[][..], |(_, words)| words);
    vec![match asks.of {
        Of::Letter(..) => Field::lettered(asks, words, said),
        Of::Word(..) | Of::Family => {
            Field::named(asks, words.iter().map(|word| (word.replace('_', " "), *word)), said)
        }
        Of::LoadType => {
            Field::named(asks, load_types.iter().map(|load| (&load.name, &load.name)), said)
        }
        Of::Schedule | Of::Alarm => Field::named(asks, [("", ""); 0], said),
        _ if asks.is_many() => {
            return Field::lines(asks, draft.all_said(asks.key).map(str::to_owned)).collect();
        }
        _ => Field::filled(asks, said),
    }]
}

/// The form that takes a firing of before from paper.
fn past(kiln: &KilnScene, context: &Context<'_>) -> Form {
    let scene = context.scene;
    let names = scene.names().into_iter().map(|name| (name, name));
    let (lit, outcome) = (Draft::new(Kind::Lit, ""), Draft::new(Kind::Outcome, ""));
    let of = |draft: &Draft, key| fields_of(draft.kind.field(key), draft, &scene.load_types);
    let mut fields = vec![Field::named(&asks::KILN, names, &kiln.kiln)];
    fields.extend(of(&lit, "load_type"));
    fields.extend([&asks::LIT, &asks::SHUT_OFF, &asks::UNLOADED].map(Field::text));
    fields.extend(of(&outcome, "result"));
    fields.extend(of(&outcome, "note"));
    fields.extend([&asks::SEEN_STANDING, &asks::SEEN_DOWN].map(Field::text));
    fields.extend(of(&lit, "cone"));
    let mut form = Form::new(Title::Past, &kiln.kiln, About::NewFiring, fields);
    form.at_field = 1;
    form
}

/// The form that puts another entry in the place of an earlier one of this firing.
pub fn correct(entries: &Entries, was: &Event, context: &Context<'_>) -> Form {
    let (scene, dial) = (context.scene, &context.dial);
    let draft = Draft::of_earlier(&was.what, &scene.load_types);
    let about = About::Firing(entries.firing);
    let title = Title::corrects(draft.kind);
    let mut form = form_of(title, &entries.kiln, about, &draft, &scene.load_types);
    form.folded = None;
    form.offer_lots(scene);
    let begins = matches!(was.what, What::Packed(_) | What::Lit(_));
    let names = scene.names().into_iter().map(|name| (name, name));
    form.fields.extend(begins.then(|| Field::named(&asks::KILN, names, &entries.kiln)));
    if matches!(was.what, What::Lit(_)) {
        let others = Others::ALL.map(|one| (words::others(one), one.name()));
        form.fields.push(Field::named(&asks::OTHERS, others, Others::Stay.name()));
    }
    let at = dial.time_and_day(was.at, scene.now);
    for when in form.fields.iter_mut().filter(|field| field.asks.key == WHEN.key) {
        *when = Field::filled(&WHEN, &at);
    }
    form.notices = vec![words::corrects(was, &entries.kiln, scene.now, dial)];
    form.corrects = Some((Box::new(was.clone()), at));
    form.follow(context);
    if let What::Lit(lit) = &was.what {
        form.choose("schedule", lit.schedule.as_deref().unwrap_or_default());
    }
    form
}

/// Asks which kiln is to be packed or lit, where it cannot be this one and there are others.
pub fn which(then: Meaning, chosen: &KilnScene, scene: &Scene) -> Option<Form> {
    let is_free =
        |kiln: &&KilnScene| matches!(kiln.phase, Phase::Empty | Phase::Packed | Phase::Drawn);
    let names: Vec<&str> =
        scene.kilns.iter().filter(is_free).map(|kiln| kiln.kiln.as_str()).collect();
    if names.is_empty() || is_free(&chosen) || chosen.phase == Phase::Aborted {
        return None;
    }
    let fields = vec![Field::named(&asks::KILN, names.into_iter().map(|name| (name, name)), "")];
    let mut form = Form::new(Title::Which, &chosen.kiln, About::Shop, fields);
    form.notices = vec![words::refusal(taken(chosen), &chosen.kiln)];
    form.then = Some(then);
    Some(form)
}

/// Why nothing can be lit in a kiln that is not empty.
fn taken(kiln: &KilnScene) -> Refusal {
    if kiln.is_lit() { Refusal::BurnsAlready } else { Refusal::AlreadyIn }
}

/// The form that describes a kiln anew, or a new one.
pub fn kiln(known: Option<&Kiln>) -> Form {
    described(Title::Kiln, known.cloned().map(What::KilnSet))
}

/// The form that says what waits to be fired, or anew what was said of a lot.
pub fn lot(known: Option<&Lot>, context: &Context<'_>) -> Form {
    let (scene, dial) = (context.scene, &context.dial);
    let draft = match known {
        Some(lot) => Draft::of(&What::LotSet(lot.clone())),
        None => {
            let mut draft = Draft::new(Kind::Lot, "");
            draft.say("lot", &ware::next_name(&scene.lots));
            draft
        }
    };
    let mut form = form_of(Title::Lot, "", About::Shop, &draft, &scene.load_types);
    let names = scene.names();
    for field in &mut form.fields {
        match field.asks.key {
            "of_kiln" => {
                let names = names.iter().map(|name| (*name, *name));
                *field = Field::named(field.asks, names, draft.said("of_kiln"));
            }
            "ready" | "wanted" => {
                let said = known.and_then(|lot| match field.asks.key {
                    "ready" => lot.ready,
                    _ => lot.wanted,
                });
                let wall = |at| dial.zone.wall(at).format("%Y-%m-%d %H:%M").to_string();
                *field = Field::filled(field.asks, said.map(wall).unwrap_or_default());
            }
            _ => {}
        }
    }
    form
}

/// The form that describes a load type anew, or a new one.
pub fn load_type(known: Option<&LoadType>) -> Form {
    described(Title::LoadType, known.cloned().map(What::LoadTypeSet))
}

/// The form that says when somebody is there: on days that have their hours, or on others.
pub fn hours(known: Option<Hours>) -> Form {
    described(Title::Hours, known.map(What::Hours))
}

/// The form for days on which nobody is there.
pub fn closed() -> Form {
    form(Title::Closed, "", About::Shop)
}

/// What is known keeps its name.
fn described(title: Title, known: Option<What>) -> Form {
    let Some(known) = known else { return form(title, "", About::Shop) };
    let draft = Draft::of(&known);
    let name = draft.kind.fields()[0].key;
    let mut form = form_of(title, draft.said(name), About::Shop, &draft, &[]);
    form.fields.retain(|field| field.asks.key != name);
    form
}

/// The form that strikes an entry: the one saved last, or another by its number.
pub fn strike(saved: Option<(&str, About, EventId, &str)>) -> Form {
    let (kiln, about, notice) = match saved {
        Some((kiln, about, _, phrase)) => (kiln, about, phrase.to_owned()),
        None => ("", About::Shop, words::refusal(Refusal::NothingToUndo, "")),
    };
    let mut draft = Draft::new(Kind::Struck, kiln);
    if let Some((.., event, _)) = saved {
        draft.say("struck", &event.to_string());
    }
    let mut form = form_of(Title::Strike, kiln, about, &draft, &[]);
    form.strikes =
        saved.map(|(.., event, phrase)| (event, phrase.to_owned())).into_iter().collect();
    form.notices = vec![notice];
    // Which one is known: the reason may be said.
    form.at_field = usize::from(saved.is_some());
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
    let names = looks.iter().map(|(id, phrase)| (phrase.clone(), id.to_string()));
    let chosen = if looks.len() == 1 { doubted.down.event.to_string() } else { String::new() };
    let why = Field::text(Kind::Struck.field("reason"));
    let fields = vec![Field::named(&asks::LOOK, names, &chosen), why];
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
    let file = Field::filled(&asks::FILE, format!("firing-{}.html", past.firing.0));
    Form::new(Title::Card, &past.kiln, About::Firing(past.firing), vec![file])
}

/// The form that makes a schedule from a past firing.
pub fn repeat(past: &PastFiring) -> Form {
    let file = format!("firing-{}.json", past.firing.0);
    let ware = Ware::ALL.map(|ware| (ware.name(), ware.name()));
    let fields = vec![Field::named(&asks::WARE, ware, ""), Field::filled(&asks::FILE, file)];
    Form::new(Title::Repeat, &past.kiln, About::Firing(past.firing), fields)
}

fn about(kiln: &KilnScene) -> Result<About, Refusal> {
    kiln.firing.map(About::Firing).ok_or(Refusal::NothingIn)
}

/// A form for a step of a firing that can be taken now, with its caution above.
fn step(title: Title, kiln: &KilnScene, caution: Option<&str>) -> Result<Form, Refusal> {
    let about = about(kiln)?;
    let only_if = |lit: bool| if lit { Ok(()) } else { Err(Refusal::NotLit) };
    match (title, kiln.phase) {
        (Title::Look | Title::Off | Title::Turned, _) => only_if(kiln.is_lit())?,
        (Title::Reading | Title::Glow, _) => only_if(kiln.lit.is_some())?,
        (Title::Drawn, _) if kiln.is_lit() => return Err(Refusal::StillLit),
        (Title::Drawn, phase) => {
            only_if(matches!(phase, Phase::Off | Phase::Cooling | Phase::Aborted))?;
        }
        (Title::GiveUp, Phase::Dropped) => return Err(Refusal::SeenDown),
        (Title::GiveUp, phase) => only_if(matches!(phase, Phase::Heating | Phase::Watch))?,
        _ => {}
    }
    let mut form = form(title, &kiln.kiln, about);
    form.notices.extend(caution.map(str::to_owned));
    Ok(form)
}

/// One choice for each cone of the pack, the target before the others: it decides, and often it is all
/// that is said.
fn look(kiln: &KilnScene, glimpse: Option<&Look>) -> Result<Form, Refusal> {
    let mut form = step(Title::Look, kiln, Some(words::CAUTION_LOOK))?;
    let blank = Draft::new(Kind::Look, &kiln.kiln);
    let mut roles: Vec<Role> = kiln.cones.iter().map(|cone| cone.role).collect();
    roles.sort_by_key(|role| *role != Role::Target);
    let cones = roles.into_iter().map(|role| Kind::Look.field(role.name()));
    let when = form.fields.pop();
    form.fields = cones.flat_map(|asks| fields_of(asks, &blank, &[])).chain(when).collect();
    form.notices.splice(..0, glimpse.map(words::spyhole_shows));
    Ok(form)
}

fn outcome(kiln: &KilnScene, shelves: Option<&str>) -> Result<Form, Refusal> {
    let about = match kiln.unjudged {
        Some(drawn) => About::Firing(drawn),
        None if kiln.is_lit() => return Err(Refusal::StillLit),
        None if kiln.phase == Phase::Packed => return Err(Refusal::NotLit),
        None => about(kiln)?,
    };
    let mut form = form(Title::Outcome, &kiln.kiln, about);
    if kiln.unjudged.is_some() && kiln.unjudged != kiln.firing {
        form.notices.push(words::OUTCOME_OF_THE_LAST_LOAD.into());
    } else {
        form.notices.extend(shelves.map(str::to_owned));
    }
    Ok(form)
}

fn light(kiln: &KilnScene, context: &Context<'_>) -> Result<Form, Refusal> {
    if kiln.phase == Phase::Aborted {
        return step(Title::LightAgain, kiln, Some(words::caution_off(kiln.fuel)));
    }
    let about = planned(kiln)?.ok_or(taken(kiln))?;
    let mut form = begin(Title::Light, kiln, about, context)?;
    // What was packed is known: the schedule is asked for first.
    form.at_field = usize::from(!form.said("load_type").is_empty());
    Ok(form)
}

/// A packing, or a change of one: then the form says what was said before.
fn pack(kiln: &KilnScene, context: &Context<'_>) -> Result<Form, Refusal> {
    let refused = if kiln.is_lit() { Refusal::LitAlready } else { Refusal::AlreadyIn };
    let about = planned(kiln)?.ok_or(refused)?;
    let title = if said(kiln).is_some() { Title::PackAgain } else { Title::Pack };
    begin(title, kiln, about, context)
}

/// A form that packs or lights a kiln, which remembers what was known when it was opened.
fn begin(
    title: Title,
    kiln: &KilnScene,
    about: About,
    context: &Context<'_>,
) -> Result<Form, Refusal> {
    let load_types = &context.scene.load_types;
    if load_types.is_empty() {
        return Err(Refusal::NoLoadType);
    }
    let kind = if title == Title::Light { Kind::Lit } else { Kind::Packed };
    let blank = Draft::new(kind, &kiln.kiln);
    let before = said(kiln).map(|said| Draft::again(kind, said, load_types));
    let draft = before.unwrap_or(blank);
    let mut form = form_of(title, &kiln.kiln, about, &draft, load_types);
    form.offer_lots(context.scene);
    form.opened.clone_from(&form.fields);
    form.said = said(kiln).cloned();
    form.seen = context.scene.last_event;
    if kiln.packed_over {
        form.notices.push(words::packed_more_than_once(&kiln.kiln));
    }
    Ok(form)
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

/// How long an alarm is put off where nobody says otherwise.
const USUAL_SHELF: Span = Span::minutes(15);

/// Whether an alarm stands that somebody can do something about.
pub fn can_stand(alarm: &Alarm) -> bool {
    matches!(alarm.state, State::Unacknowledged | State::Acknowledged)
}

/// Whether its priority lets an alarm be put off.
pub fn can_be_put_off(alarm: &Alarm) -> bool {
    alarm.key.task.priority().longest_shelf().is_some()
}

fn put_off(kiln: &KilnScene) -> Result<Form, Refusal> {
    let about = about(kiln)?;
    let stand = kiln.alarms.iter().filter(|alarm| can_stand(alarm) && can_be_put_off(alarm));
    let tasks: Vec<Task> = stand.map(|alarm| alarm.key.task).collect();
    let first = *tasks.first().ok_or(Refusal::NothingRings)?;
    let shelf = first.priority().longest_shelf().map_or(USUAL_SHELF, |most| most.min(USUAL_SHELF));
    let alarms = tasks.iter().map(|task| (words::alarm_word(task.name()), task.name()));
    let fields = vec![
        Field::named(Kind::Shelved.field("alarm"), alarms, first.name()),
        Field::filled(Kind::Shelved.field("length_min"), shelf.to_string()),
    ];
    Ok(Form::new(Title::PutOff, &kiln.kiln, about, fields))
}
