//! Correcting an earlier entry: another stands in its place.

use clap::Args;
use serde_json::{Map, Value};

use super::super::context::{Context, Unusable, kiln_named, load_type_named};
use super::super::doubted::{doubted, unusable};
use super::{event_id, read_word};
use crate::edge::draft::{Against, Draft, Known};
use crate::edge::form;
use crate::edge::house_file::House;
use crate::edge::journal::{JournalError, StoredEvent};
use crate::edge::nearest::did_you_mean;
use crate::edge::own_schedules;
use crate::firing::fields::{Field, Of};
use crate::firing::{EventId, Kind, Others};
use crate::words;

#[derive(Debug, Args)]
pub struct CorrectArgs {
    /// The number of the entry, as printed when it was saved; "spyhole history" shows it.
    #[arg(value_parser = event_id)]
    pub event: EventId,
    /// What it should say, each as name=value, by the names that its own command has: load=glaze, kiln=South, target=down.
    #[arg(value_name = "NAME=VALUE")]
    pub says: Vec<String>,
    /// When it really happened: 9:10, "20 min ago", "yesterday 21:40" or a full date and time.
    #[arg(long, value_name = "TIME")]
    pub at: Option<String>,
    /// What becomes of the other entries where the lighting is corrected: stay, move (by as much) or keep (also before the lighting, where they count for nothing).
    #[arg(long, value_name = "WHAT", default_value = "stay", value_parser = others)]
    pub others: Others,
}

fn others(text: &str) -> Result<Others, String> {
    read_word("what becomes of the other entries,", text)
}

pub(super) fn correct(args: CorrectArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let mut journal = ctx.journal()?;
    let StoredEvent { event: was, .. } = journal.event(args.event)?;
    let kind = Kind::of(&was.what);
    if !kind.is_corrected() {
        return Err(JournalError::NotCorrected(args.event).into());
    }
    if args.says.is_empty() && args.at.is_none() {
        let names: Vec<String> = names(kind).map(|(name, _)| format!("{name}=")).collect();
        let text = words::nothing_to_correct(args.event, kind, &names);
        return Err(Unusable(text).into());
    }
    let shop = journal.shop()?;
    let mut draft = Draft::of_earlier(&was.what, &shop.load_types);
    let mut offered = Vec::new();
    for said in &args.says {
        let (field, text) = named(kind, said)?;
        match field.of {
            Of::Kiln => draft.say(field.key, &kiln_named(&shop, text)?.name),
            Of::LoadType => draft.say(field.key, &load_type_named(&shop, text)?.name),
            Of::Schedule if !text.is_empty() => {
                let house = House::or_usual(&ctx.shop);
                offered.push(own_schedules::find(&ctx.shop, &house, text)?);
                draft.say(field.key, &offered[offered.len() - 1].reference);
            }
            // Of a field with several parts all that were said.
            _ => {
                let said = args.says.iter().filter_map(|said| named(kind, said).ok());
                let texts = said.filter(|(of, _)| of.key == field.key);
                draft.say_all(field.key, texts.map(|(_, text)| text.to_owned()));
            }
        }
    }
    let before = None;
    let known =
        Known { load_types: &shop.load_types, schedules: &offered, before, ..Known::default() };
    let what = draft.in_place_of(&was.what, &known).map_err(unusable)?;
    let mut at = ctx.time(args.at.as_deref())?;
    if args.at.is_none() {
        at.moment = was.at;
    }
    if matches!(kind, Kind::Lit | Kind::Packed) {
        doubted(&what, at.moment, &Against::of(known, ctx.now, ctx.dial()), ctx)?;
    }
    let event = ctx.event(was.firing, at, what);
    let corrected = journal.correct(args.event, &event, args.others, ctx.now);
    let appended = corrected.map_err(|error| match error {
        JournalError::LeftBefore { .. } => {
            Unusable(format!("{error}. Say which: --others move or --others keep")).into()
        }
        error => anyhow::Error::from(error),
    })?;
    let kiln = appended
        .firing
        .map_or(Ok(String::new()), |firing| Ok::<_, JournalError>(journal.firing(firing)?.kiln))?;
    let phrase = words::event_phrase(&event.what, &kiln, &ctx.dial());
    let sentence = format!(
        "Event {} corrected: {phrase}, {}. Event {} stands in its place.",
        args.event,
        ctx.at(at.moment),
        appended.id
    );
    let mut object = Map::new();
    object.insert("event_id".into(), appended.id.0.into());
    object.insert("corrected".into(), args.event.0.into());
    object.insert("firing".into(), appended.firing.map(|firing| firing.0).into());
    object.insert("at".into(), ctx.stamp(at.moment).into());
    object.extend(form::write(&event.what));
    object.insert("kiln".into(), kiln.into());
    ctx.answer(&sentence, &Value::Object(object))
}

/// What can be said of an entry of this kind, by the names its own command has.
fn names(kind: Kind) -> impl Iterator<Item = (String, &'static Field)> {
    let fields = kind.fields().iter();
    let said = fields.filter(|field| field.is_entered() || field.of == Of::Kiln);
    said.map(|field| (field.argument.0.replace('_', "-"), field))
}

/// The field that is named, and what is said of it.
fn named(kind: Kind, said: &str) -> Result<(&'static Field, &str), Unusable> {
    let all = || names(kind).map(|(name, _)| name).collect::<Vec<String>>();
    let (name, text) = said
        .split_once('=')
        .ok_or_else(|| Unusable(words::no_correction(said, kind, &all(), "")))?;
    let plain = name.trim().to_lowercase().replace('_', "-");
    let field = names(kind).find(|(name, field)| *name == plain || field.key == plain);
    let field = field.ok_or_else(|| {
        let all = all();
        let hint = did_you_mean(&plain, all.iter().map(String::as_str));
        Unusable(words::no_correction(said, kind, &all, &hint))
    })?;
    Ok((field.1, text))
}
