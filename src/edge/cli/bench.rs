//! `spyhole bench`: when to open each mould, from the shop's own journal or from events in a file.

use std::path::PathBuf;
use std::sync::Arc;

use chrono::SecondsFormat;
use clap::{Args, Subcommand};
use serde_json::{Value, json};

use super::context::{Context, Unusable};
use crate::casting::{Advice, Casting, Learned};
use crate::edge::casting_events::{self, KINDS, ZONE};
use crate::edge::journal::Journal;
use crate::edge::record::Time;
use crate::edge::shop::clock::LocalZone;
use crate::edge::time_entry;
use crate::firing::{Kind, Shop};
use crate::hours::Staffed;
use crate::scene::{BenchScene, MouldScene, MouldState};
use crate::units::Moment;
use crate::words::{self, Dial, Meant, Zone};

#[derive(Debug, Args)]
pub struct BenchArgs {
    #[command(subcommand)]
    command: Option<BenchCommand>,
}

#[derive(Debug, Subcommand)]
pub enum BenchCommand {
    /// Show one mould: what is in it, when to open it, and how its last casts came out.
    Show {
        /// The code written on the mould.
        mould: String,
        /// Answer as if this empty mould were poured now, with this slip.
        #[arg(long, value_name = "BODY")]
        if_poured: Option<String>,
    },
    /// Say when to open a mould, from the events of the casting bench in a file.
    ///
    /// The events are a file of JSON Lines, each with "at" (date, time and offset), "event" and the
    /// keys below. They count in the order of "at"; those after --at are left out. The shop's own
    /// file is not read.
    #[command(after_help = EXAMPLES, after_long_help = described())]
    Advise(BenchAdviseArgs),
}

#[derive(Debug, Args)]
pub struct BenchAdviseArgs {
    /// The events of the casting bench.
    events: PathBuf,
    /// The code written on the mould.
    #[arg(long, value_name = "CODE")]
    mould: String,
    /// Answer as if this empty mould were poured now, with this slip.
    #[arg(long, value_name = "BODY")]
    if_poured: Option<String>,
    /// The moment to answer for: 9:10, "20 min ago", or a full date and time.
    #[arg(long, value_name = "TIME")]
    at: Option<String>,
}

const EXAMPLES: &str = "Examples:
  spyhole bench advise casting.jsonl --mould A3
  spyhole bench advise casting.jsonl --mould A3 --if-poured porcelain --json";

/// The events and their keys, and the examples.
fn described() -> String {
    let mut text = String::from("Events:\n");
    for kind in KINDS {
        for field in kind.fields() {
            let optional = if field.needed { "" } else { "; may be left out" };
            let about = field.about.trim_end_matches('.');
            text += &format!("  {:8} {:8} {about}{optional}\n", kind.name(), field.key);
        }
    }
    let (zone, about) = ZONE;
    text += &format!("  {:8} {zone:8} {about}\n", Kind::Hours.name());
    text + "\n" + EXAMPLES
}

/// Runs the command.
///
/// # Errors
/// What cannot be read, with the lines at fault; a mould nobody can give advice for.
pub fn run(args: &BenchArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    match &args.command {
        None => list(ctx),
        Some(BenchCommand::Show { mould, if_poured }) => show(mould, if_poured.as_deref(), ctx),
        Some(BenchCommand::Advise(args)) => advise(args, ctx),
    }
}

/// Every mould in use, what is due first.
fn list(ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let journal = ctx.journal()?;
    let bench = BenchScene::of(casting(&journal, ctx.now)?);
    let (now, dial) = (ctx.now, ctx.dial());
    let mut lines: Vec<String> =
        bench.moulds.iter().map(|mould| words::mould_line(mould, now, &dial)).collect();
    if lines.is_empty() {
        lines.push(words::NO_MOULDS.into());
    } else if !bench.hours_known {
        lines.push(words::BENCH_NEEDS_HOURS.into());
    }
    let moulds: Vec<Value> =
        bench.moulds.iter().map(|mould| mould_object(mould, now, &dial)).collect();
    let object = json!({ "at": utc(now), "hours_known": bench.hours_known, "moulds": moulds });
    ctx.answer(&lines.join("\n"), &object)
}

/// How many of the last casts of a mould are told.
const LAST: usize = 5;

fn show(code: &str, if_poured: Option<&str>, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let journal = ctx.journal()?;
    let casting = casting(&journal, ctx.now)?;
    let mould = casting.mould(code).map_err(unmet)?;
    let (now, dial) = (ctx.now, ctx.dial());
    let mut lines = vec![words::mould_phrase(&casting.moulds[mould])];
    let mut object = json!({ "mould": casting.moulds[mould].code });
    if casting.full[mould].is_some() || if_poured.is_some() {
        let learned = Learned::new(&casting);
        let advice = learned.advice(&casting, mould, if_poured).map_err(unmet)?;
        let said = told(&casting, mould, &advice, &dial);
        object = self::object(&casting, mould, &advice, &said);
        lines.extend(said);
    } else {
        lines.push(words::mould_is_empty(&casting.moulds[mould].code));
    }
    let last = casting.casts_of(mould).rev().filter(|cast| cast.emptied.is_some());
    lines.extend(last.take(LAST).map(|cast| words::cast_line(cast, &casting.bodies, now, &dial)));
    ctx.answer(&lines.join("\n"), &object)
}

/// What is said of one mould.
fn told(casting: &Casting, mould: usize, advice: &Advice, dial: &Dial<'_>) -> Vec<String> {
    let code = casting.moulds[mould].code.as_str();
    words::bench_lines(code, advice, casting.remarks[mould], (casting.now, dial))
}

fn advise(args: &BenchAdviseArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let meant = |text: &String| {
        time_entry::parse(text, ctx.now, Meant::Anytime, (ctx.clock_face, &chrono::Local))
    };
    let now = args.at.as_ref().map(meant).transpose()?.map_or(ctx.now, |typed| typed.moment);
    let noted = casting_events::read(&args.events).map_err(|errors| {
        let all: Vec<String> = errors.iter().map(ToString::to_string).collect();
        Unusable(format!("{} cannot be used: {}", args.events.display(), all.join("; ")))
    })?;
    let staffed = noted.staffed(now);
    let casting = Casting::new(noted.events, staffed, now).map_err(unmet)?;
    let mould = casting.mould(&args.mould).map_err(unmet)?;
    let advice =
        Learned::new(&casting).advice(&casting, mould, args.if_poured.as_deref()).map_err(unmet)?;
    let zone: &dyn Zone = match &casting.staffed {
        Some(staffed) => &*staffed.zone,
        None => &LocalZone,
    };
    let dial = Dial { zone, clock: ctx.clock_face, scale: ctx.scale };
    let lines = told(&casting, mould, &advice, &dial);
    ctx.answer(&lines.join("\n"), &object(&casting, mould, &advice, &lines))
}

/// A mould of the list, for other programs.
pub fn mould_object(mould: &MouldScene, now: Moment, dial: &Dial<'_>) -> Value {
    let advice = mould.advice.as_ref();
    json!({
        "mould": mould.mould.code,
        "ware": mould.mould.ware,
        "body": mould.body,
        "state": match mould.state {
            MouldState::Empty => "empty",
            MouldState::Poured(_) => "poured",
            MouldState::Closed(_) => "closed",
        },
        "due": mould.due().map(utc),
        "opens_p05": advice.map(|advice| utc(advice.window.opens_p05)),
        "opens_p95": advice.map(|advice| utc(advice.window.opens_p95)),
        "late_p05": advice.map(|advice| utc(advice.window.late_p05)),
        "pour_instead": advice.and_then(|advice| advice.pour).map(utc),
        "trouble": advice.is_some_and(|advice| advice.trouble),
        "casts": mould.casts,
        "say": words::mould_line(mould, now, dial),
    })
}

fn object(casting: &Casting, mould: usize, advice: &Advice, lines: &[String]) -> Value {
    let Advice { cast, window, plan, .. } = advice;
    json!({
        "at": utc(casting.now),
        "mould": casting.moulds[mould].code,
        "body": cast.body.map(|body| &casting.bodies[body]),
        "if_poured": advice.hypothetical,
        "poured": cast.poured.map(utc),
        "drained": utc(cast.drained),
        "drained_noted": cast.drain_noted,
        "opens_p05": utc(window.opens_p05),
        "opens_p50": utc(window.opens_p50),
        "opens_p95": utc(window.opens_p95),
        "late_p05": utc(window.late_p05),
        "late_p50": utc(window.late_p50),
        "late_from_the_trade": advice.late_of_the_trade,
        "next_check": advice.next_check().map(utc),
        "ready": plan.map(|plan| plan.ready),
        "cracks": plan.map(|plan| plan.cracks),
        "good_hour": advice.good,
        "pour_instead": advice.pour.map(utc),
        "trouble": advice.trouble,
        "say": lines,
    })
}

/// RFC 3339 in UTC, to the second.
pub fn utc(at: Moment) -> String {
    Time::at(at, 0).local().to_utc().to_rfc3339_opts(SecondsFormat::Secs, true)
}

/// The bench of this shop as it was at a moment.
///
/// # Errors
/// When it cannot be read.
pub fn casting(journal: &Journal, at: Moment) -> anyhow::Result<Casting> {
    let hours = journal.described()?.hours;
    let staffed = Staffed { hours, zone: Arc::new(LocalZone) };
    Ok(journal.casting(staffed.known(), at)?.map_err(unmet)?)
}

/// What there is to see of it, if the shop has moulds.
///
/// # Errors
/// When it cannot be read.
pub fn of_shop(journal: &Journal, shop: &Shop, now: Moment) -> anyhow::Result<BenchScene> {
    if !shop.casts {
        return Ok(BenchScene::default());
    }
    Ok(BenchScene::of(casting(journal, now)?))
}

/// What the text says of moulds, as an error of what was asked.
pub fn unmet(error: impl std::fmt::Display) -> Unusable {
    Unusable(error.to_string())
}
