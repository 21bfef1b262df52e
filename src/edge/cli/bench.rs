//! `spyhole bench`: the casting bench, from its events alone.

use std::path::PathBuf;

use chrono::SecondsFormat;
use clap::{Args, Subcommand};
use serde_json::{Value, json};

use super::context::{Context, Unusable};
use crate::casting::{Advice, Casting, Field, Kind, Learned, NoAdvice, NoMould};
use crate::edge::casting_events;
use crate::edge::record::Time;
use crate::edge::shop::clock::LocalZone;
use crate::edge::time_entry;
use crate::units::Moment;
use crate::words::{BenchTold, Dial, Meant, Zone, bench_lines};

#[derive(Debug, Subcommand)]
pub enum BenchCommand {
    /// Say when to open a mould, from the events of the casting bench.
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
    for kind in Kind::ALL {
        for Field { key, about, needed, .. } in kind.fields() {
            let optional = if *needed { "" } else { "; may be left out" };
            text += &format!("  {:8} {key:8} {about}{optional}\n", kind.name());
        }
    }
    text + "\n" + EXAMPLES
}

/// Runs the command.
///
/// # Errors
/// Events that cannot be read, with the lines at fault; a mould nobody can give advice for.
pub fn run(BenchCommand::Advise(args): &BenchCommand, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let meant = |text: &String| {
        time_entry::parse(text, ctx.now, Meant::Anytime, (ctx.clock_face, &chrono::Local))
    };
    let now = args.at.as_ref().map(meant).transpose()?.map_or(ctx.now, |typed| typed.moment);
    let events = casting_events::read(&args.events).map_err(|errors| {
        let all: Vec<String> = errors.iter().map(ToString::to_string).collect();
        Unusable(format!("{} cannot be used: {}", args.events.display(), all.join("; ")))
    })?;
    let unmet = |error: NoMould| Unusable(error.to_string());
    let casting = Casting::new(events, now).map_err(unmet)?;
    let mould = casting.mould(&args.mould).map_err(unmet)?;
    let advice = Learned::new(&casting)
        .advice(&casting, mould, args.if_poured.as_deref())
        .map_err(|error: NoAdvice| Unusable(error.to_string()))?;
    let zone: &dyn Zone = match &casting.staffed {
        Some(staffed) => &*staffed.zone,
        None => &LocalZone,
    };
    let dial = Dial { zone, clock: ctx.clock_face, scale: ctx.scale };
    let lines = bench_lines(&BenchTold { casting: &casting, mould, advice: &advice }, &dial);
    if ctx.json {
        return ctx.value(&object(&casting, mould, &advice, &lines));
    }
    Ok(ctx.answer(&lines.join("\n"), &Value::Null)?)
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
fn utc(at: Moment) -> String {
    Time::at(at, 0).local().to_utc().to_rfc3339_opts(SecondsFormat::Secs, true)
}
