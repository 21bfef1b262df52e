//! `spyhole mould`, `spyhole cast` and `spyhole room`: what is noted at the casting bench.

use clap::Subcommand;
use serde_json::{Value, json};

use super::bench::{casting, mould_object, unmet, utc};
use super::context::Context;
use super::doubted::unusable;
use super::firing::{Entered, Said};
use crate::casting::casts::Cast;
use crate::casting::{self, Found, What as Bench};
use crate::edge::draft::{Draft, Known};
use crate::edge::form;
use crate::edge::journal::Journal;
use crate::edge::shop::steps;
use crate::firing::{Kind, What};
use crate::scene::BenchScene;
use crate::words::{self, CAUTION_BENCH};

#[derive(Debug, Subcommand)]
pub enum CastCommands {
    /// Describe the moulds of the casting bench, or list them.
    Mould {
        #[command(subcommand)]
        command: MouldCommand,
    },
    /// Note what was done at the casting bench: poured, drained, checked. Several moulds at once:
    /// A1-A4,B7 or "all but B7".
    Cast {
        #[command(subcommand)]
        command: CastCommand,
    },
    /// Note the air of the room in which the casts dry. Never a duty; a reading morning and evening makes the windows narrower.
    Room(Entered<{ Kind::Room as i64 }, false>),
}

#[derive(Debug, Subcommand)]
pub enum MouldCommand {
    /// Add a mould, or change what is known of it. What you do not name stays as it is.
    Set(Entered<{ Kind::Mould as i64 }, true>),
    /// Give a mould another code; its casts come with it, and its earlier code still finds it.
    Rename(Entered<{ Kind::MouldRenamed as i64 }, false>),
    /// List every mould, retired ones included.
    List,
}

#[derive(Debug, Subcommand)]
pub enum CastCommand {
    /// Moulds were poured.
    Poured(Entered<{ Kind::Poured as i64 }, true>),
    /// Their slip was drained.
    Drained(Entered<{ Kind::Drained as i64 }, false>),
    /// They were checked, with what was found. All but "not-yet" empties a mould.
    Check(Entered<{ Kind::Check as i64 }, false>),
    /// List the casts of the last two years, the newest first: what was seen of each, and how many the
    /// windows held.
    List {
        /// The code written on the mould; all of them if left out.
        mould: Option<String>,
    },
}

/// Runs the command.
///
/// # Errors
/// Whatever keeps it from being done, with what to do about it.
pub fn run(command: CastCommands, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    match command {
        CastCommands::Mould { command: MouldCommand::Set(Entered(said)) } => describe(&said, ctx),
        CastCommands::Mould { command: MouldCommand::Rename(Entered(said)) } => cast(&said, ctx),
        CastCommands::Mould { command: MouldCommand::List } => list(ctx),
        CastCommands::Cast { command } => match command {
            CastCommand::Poured(Entered(said))
            | CastCommand::Drained(Entered(said))
            | CastCommand::Check(Entered(said)) => cast(&said, ctx),
            CastCommand::List { mould } => casts(mould.as_deref(), ctx),
        },
        CastCommands::Room(Entered(said)) => {
            let what = said.over(Draft::new(said.kind, "")).what(&Known::default());
            let journal = ctx.journal()?;
            write(journal, vec![what.map_err(unusable)?], &said, ctx)
        }
    }
}

/// Describes a mould; what was not typed stays.
fn describe(said: &Said, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let journal = ctx.journal()?;
    let casting = casting(&journal, ctx.now)?;
    let draft = match casting.mould(&said.kiln) {
        Ok(mould) => {
            let known = casting.moulds[mould].clone();
            let code = known.code.clone();
            let mut draft = said.over(Draft::of(&What::Bench(Bench::Mould(known))));
            draft.say("mould", &code);
            draft
        }
        Err(_) => said.over(Draft::new(said.kind, "")),
    };
    let what = draft.what(&Known::default()).map_err(unusable)?;
    write(journal, vec![what], said, ctx)
}

/// Notes the same of one or several moulds: all of it or none.
fn cast(said: &Said, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let journal = ctx.journal()?;
    let casting = casting(&journal, ctx.time(said.at.as_deref())?.moment)?;
    let draft = said.over(Draft::new(said.kind, ""));
    let (noted, question) = steps::each_mould(&draft, &casting).map_err(unusable)?;
    if let Some(question) = question {
        ctx.asks_whether_meant(&question, "", "nothing was written")?;
    }
    write(journal, noted, said, ctx)
}

/// Writes what was said, and says so once it is on the disk; of what was poured or is still closed, when to
/// open it.
fn write(
    mut journal: Journal,
    noted: Vec<What>,
    said: &Said,
    ctx: &mut Context<'_>,
) -> anyhow::Result<()> {
    let at = ctx.time(said.at.as_deref())?;
    let phrases: Vec<String> =
        noted.iter().map(|what| words::event_phrase(what, "", &ctx.dial())).collect();
    let mut objects: Vec<Value> =
        noted.iter().map(|what| Value::Object(form::write(what))).collect();
    let events: Vec<_> = noted.into_iter().map(|what| ctx.event(None, at, what)).collect();
    let written = journal.append_all(&events, ctx.now)?;
    for (object, appended) in objects.iter_mut().zip(&written) {
        object["event_id"] = appended.id.0.into();
    }
    let ids = match (written.first(), written.last()) {
        (Some(first), Some(last)) if first.id != last.id => {
            format!("Events {} to {}.", first.id, last.id)
        }
        (Some(first), _) => format!("Event {}.", first.id),
        _ => String::new(),
    };
    let mut lines = vec![format!("Noted: {}. {ids}", phrases.join(", "))];
    let bench = BenchScene::of(casting(&journal, ctx.now)?);
    let of_casts = said.kind != Kind::Mould;
    let codes = objects.iter().filter(|_| of_casts).filter_map(|object| object["mould"].as_str());
    let shown = || codes.clone().filter_map(|code| bench.mould(code));
    lines.extend(shown().map(|mould| words::mould_line(mould, ctx.now, &ctx.dial())));
    if !bench.hours_known && codes.clone().next().is_some() {
        lines.push(words::BENCH_NEEDS_HOURS.into());
    }
    let moulds: Vec<Value> =
        shown().map(|mould| mould_object(mould, ctx.now, &ctx.dial())).collect();
    ctx.answer(&lines.join("\n"), &json!({ "events": objects, "moulds": moulds }))
}

/// What became of each cast, the newest first, then of all of each mould, and whether the windows held.
fn casts(code: Option<&str>, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let journal = ctx.journal()?;
    let casting = casting(&journal, ctx.now)?;
    let moulds = match code {
        Some(code) => vec![casting.mould(code).map_err(unmet)?],
        None => (0..casting.moulds.len()).collect(),
    };
    let (now, dial) = (ctx.now, ctx.dial());
    let shown = || casting.casts.iter().rev().filter(|cast| moulds.contains(&cast.mould));
    let code = |cast: &Cast| casting.moulds[cast.mould].code.as_str();
    let said = |cast: &Cast| words::cast_line(cast, &casting.bodies, now, &dial);
    let mut lines: Vec<String> =
        shown().map(|cast| format!("{} {}", code(cast), said(cast))).collect();
    let used = moulds.iter().filter(|mould| casting.poured(**mould) > 0);
    lines.extend(used.map(|mould| words::casts_line(&casting, *mould)));
    if lines.is_empty() {
        lines.push(words::NO_CASTS.into());
    }
    let held = casting::held(&journal.bench(now)?, &casting).map_err(unmet)?;
    lines.extend(words::held_line(held, words::CASTS));
    let object = |cast: &Cast| {
        let (after, before) = cast.window().unwrap_or_default();
        let (emptied, found) = cast.emptied.unzip();
        json!({
            "mould": code(cast),
            "body": cast.body.map(|body| &casting.bodies[body]),
            "poured": cast.poured.map(utc),
            "drained": utc(cast.drained),
            "drained_noted": cast.drain_noted,
            "not_yet": cast.not_yets.iter().copied().map(utc).collect::<Vec<_>>(),
            "emptied": emptied.map(utc),
            "found": found.flatten().map(Found::name),
            "let_go_after": after.map(utc),
            "let_go_before": before.map(utc),
        })
    };
    let objects: Vec<Value> = shown().map(object).collect();
    let held = json!({ "held": held.hits, "of": held.of });
    ctx.answer(&lines.join("\n"), &json!({ "casts": objects, "windows": held }))
}

fn list(ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let journal = ctx.journal()?;
    let casting = casting(&journal, ctx.now)?;
    let mut lines: Vec<String> = casting.moulds.iter().map(words::mould_phrase).collect();
    let object = |mould| Value::Object(form::write(&What::Bench(Bench::Mould(mould))));
    let objects: Vec<Value> = casting.moulds.iter().cloned().map(object).collect();
    match lines.is_empty() {
        true => lines.push(words::NO_MOULDS.into()),
        false => lines.push(CAUTION_BENCH.into()),
    }
    ctx.answer(&lines.join("\n"), &json!({ "moulds": objects }))
}
