//! Which form a key opens, and (in [`confirmed`]) the event a confirmed form stands for.

mod confirmed;
mod first;
pub mod settings;

use super::form::{Field, Form};
use super::input::Context;
use super::key::Meaning;
use crate::casting::Found;
use crate::edge::draft::{Draft, Lack};
use crate::edge::from_paper;
use crate::edge::shop::steps;
use crate::edge::shop::store::{About, Entries};
use crate::firing::event::{Look, Role};
use crate::firing::fields::{self, Of, WHEN};
use crate::firing::{Doubt, Event, EventId, Kind, Others, Verdict, What};
use crate::kiln::LoadType;
use crate::plan::limits::HouseLimits;
use crate::review::Suggestion;
use crate::review::suggestion::Change;
use crate::scene::{Doubted, KilnScene, MouldScene, PastFiring, Phase, Scene};
use crate::schedule::Ware;
use crate::units::Moment;
use crate::ware::Lot;
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

impl Problem {
    /// Its sentence.
    pub fn said(self) -> String {
        match self {
            Problem::Wrong(text) | Problem::Unusual(text) => text,
        }
    }
}

impl From<Lack> for Problem {
    fn from(lack: Lack) -> Problem {
        Problem::Wrong(lack.said())
    }
}

/// The form for a meaning, or why there is none now.
///
/// # Errors
/// The [`Refusal`] to show.
pub fn open(meaning: Meaning, kiln: &KilnScene, context: &Context<'_>) -> Result<Form, Refusal> {
    let title = meaning.title().ok_or(Refusal::NothingIn)?;
    let mut form = match steps::called(title, kiln) {
        Title::Past => Ok(past(kiln, context)),
        Title::Look => look(kiln, context.glimpse),
        Title::Outcome => outcome(kiln, context.shelves),
        Title::Light => light(kiln, context),
        title @ (Title::Pack | Title::PackAgain) => begin(title, kiln, context),
        Title::PutOff => put_off(kiln),
        title => step(title, kiln),
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
    let timed = steps::is_timed(draft.kind);
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
        Of::LoadType => Field::words(asks, load_types.iter().map(|load| &*load.name), said),
        Of::Schedule | Of::Alarm => Field::words(asks, [], said),
        _ if asks.is_many() => {
            return Field::lines(asks, draft.all_said(asks.key).map(str::to_owned)).collect();
        }
        _ => Field::filled(asks, said),
    }]
}

/// The form that takes a firing of before from paper.
fn past(kiln: &KilnScene, context: &Context<'_>) -> Form {
    let scene = context.scene;
    let draft = Draft::new(Kind::Lit, "");
    let of = |field: &'static fields::Field| match field.key {
        "kiln" => vec![Field::words(field, scene.names(), &kiln.kiln)],
        _ => fields_of(field, &draft, &scene.load_types),
    };
    let fields = from_paper::fields().into_iter().flat_map(of).collect();
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
    for field in form.fields.iter_mut().filter(|field| field.asks.of == Of::Family) {
        let words = field.asks.of.words().map_or(&[][..], |(_, words)| words);
        let all =
            [(words::AS_THE_LOAD, "")].into_iter().chain(words.iter().map(|one| (*one, *one)));
        *field = Field::named(field.asks, all, draft.said(field.asks.key));
    }
    form.offer_lots(scene);
    let begins = matches!(was.what, What::Packed(_) | What::Lit(_));
    form.fields.extend(begins.then(|| Field::words(&asks::KILN, scene.names(), &entries.kiln)));
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
    let fields = vec![Field::words(&asks::KILN, names, "")];
    let mut form = Form::new(Title::Which, &chosen.kiln, About::Shop, fields);
    form.notices = vec![words::refusal(steps::taken(chosen), &chosen.kiln)];
    form.then = Some(then);
    Some(form)
}

/// The form that renames one of these kilns, or takes it off the floor or back.
pub fn of_kiln(title: Title, names: Vec<&str>) -> Form {
    let mut form = form(title, "", About::Shop);
    form.fields.insert(0, Field::words(&asks::KILN, names, ""));
    form.fold(form.fields.len());
    form
}

/// The form that says what waits to be fired, or anew what was said of a lot.
pub fn lot(known: Option<&Lot>, context: &Context<'_>) -> Form {
    let (scene, dial) = (context.scene, &context.dial);
    let draft = steps::lot_draft(known, scene, dial.zone);
    let mut form = form_of(Title::Lot, "", About::Shop, &draft, &scene.load_types);
    for field in &mut form.fields {
        match field.asks.key {
            "of_kiln" => {
                *field = Field::words(field.asks, scene.names(), draft.said("of_kiln"));
            }
            key @ ("ready" | "wanted") => *field = Field::filled(field.asks, draft.said(key)),
            _ => {}
        }
    }
    form
}

/// The form for what the plan keeps to.
pub fn limits(known: HouseLimits) -> Form {
    form_of(Title::Limits, "", About::Shop, &Draft::of(&What::LimitsSet(known)), &[])
}

/// The form that notes something of a mould, with what pouring it now would do.
pub fn cast(title: Title, here: &MouldScene, found: Option<Found>, context: &Context<'_>) -> Form {
    let code = here.mould.code.as_str();
    let mut draft = Draft::new(title.kind().unwrap_or(Kind::Check), "");
    draft.say("mould", code);
    draft.say("body", here.body.as_deref().unwrap_or_default());
    draft.say("result", found.map_or("", Found::name));
    let mut form = form_of(title, code, About::Shop, &draft, &[]);
    if let (Title::Poured, Some(advice)) = (title, here.advice.as_ref().filter(|a| a.hypothetical))
    {
        let now = context.scene.now;
        form.notices = vec![words::bench_first(code, advice, now, &context.dial)];
    }
    form.at_field = 1;
    form
}

/// The form that describes what is known anew, which keeps its name, or something new.
pub fn described(title: Title, known: Option<What>) -> Form {
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
    let ware = Ware::ALL.map(Ware::name);
    let fields = vec![Field::words(&asks::WARE, ware, ""), Field::filled(&asks::FILE, file)];
    Form::new(Title::Repeat, &past.kiln, About::Firing(past.firing), fields)
}

fn about(kiln: &KilnScene) -> Result<About, Refusal> {
    kiln.firing.map(About::Firing).ok_or(Refusal::NothingIn)
}

/// A form for a step of a firing that can be taken now, with its caution above.
fn step(title: Title, kiln: &KilnScene) -> Result<Form, Refusal> {
    let mut form = form(title, &kiln.kiln, steps::about(title, kiln)?);
    form.notices.extend(steps::caution(title, kiln).map(str::to_owned));
    Ok(form)
}

/// One choice for each cone of the pack, the target before the others: it decides, and often it is all
/// that is said.
fn look(kiln: &KilnScene, glimpse: Option<&Look>) -> Result<Form, Refusal> {
    let mut form = step(Title::Look, kiln)?;
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
    let mut form = step(Title::Outcome, kiln)?;
    if !kiln.given_up {
        form.fields.iter_mut().for_each(|field| field.leave_out(Verdict::NotFired.name()));
    }
    if kiln.unjudged.is_some() && kiln.unjudged != kiln.firing {
        form.notices.push(words::OUTCOME_OF_THE_LAST_LOAD.into());
    } else {
        form.notices.extend(shelves.map(str::to_owned));
    }
    Ok(form)
}

fn light(kiln: &KilnScene, context: &Context<'_>) -> Result<Form, Refusal> {
    let mut form = begin(Title::Light, kiln, context)?;
    // What was packed is known: the schedule is asked for first.
    form.at_field = usize::from(!form.said("load_type").is_empty());
    let scene = context.scene;
    form.notices.extend(words::damp_in(&kiln.kiln, &scene.ware, scene.now, &context.dial));
    Ok(form)
}

/// A form that packs or lights a kiln, which remembers what was known when it was opened; a change of a
/// packing says what was said before.
fn begin(title: Title, kiln: &KilnScene, context: &Context<'_>) -> Result<Form, Refusal> {
    let about = steps::about(title, kiln)?;
    let load_types = &context.scene.load_types;
    if load_types.is_empty() {
        return Err(Refusal::NoLoadType);
    }
    let kind = if title == Title::Light { Kind::Lit } else { Kind::Packed };
    let draft = steps::draft(kind, kiln, load_types);
    let mut form = form_of(title, &kiln.kiln, about, &draft, load_types);
    form.offer_lots(context.scene);
    form.opened.clone_from(&form.fields);
    form.said = steps::said(kiln).cloned();
    form.seen = context.scene.last_event;
    if kiln.packed_over {
        form.notices.push(words::packed_more_than_once(&kiln.kiln));
    }
    Ok(form)
}

fn put_off(kiln: &KilnScene) -> Result<Form, Refusal> {
    let about = steps::about(Title::PutOff, kiln)?;
    let draft = steps::draft(Kind::Shelved, kiln, &[]);
    let alarms = steps::to_put_off(kiln);
    let alarms = alarms.map(|task| (words::alarm_word(task.name()), task.name()));
    let fields = vec![
        Field::named(Kind::Shelved.field("alarm"), alarms, draft.said("alarm")),
        Field::filled(Kind::Shelved.field("length_min"), draft.said("length_min")),
    ];
    Ok(Form::new(Title::PutOff, &kiln.kiln, about, fields))
}
