//! `spyhole advise`: what is known of one firing, from its record alone.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use anyhow::bail;
use serde_json::{Value, json};

use super::context::{Context, Unusable};
use crate::edge::journal::{Journal, PAST_FIRINGS};
use crate::edge::record;
use crate::edge::shipped_schedules;
use crate::edge::time_entry;
use crate::firing::Kind;
use crate::firing::{Event, Firing, Shop};
use crate::forecast::Forecast;
use crate::kiln::{Fuel, Kiln, starter};
use crate::review::own_record::OwnRecord;
use crate::scene::{Floor, KilnScene, Scene, advice};
use crate::units::{Moment, Span};
use crate::watch::Advice;
use crate::words::{self, Meant, Striking};

/// A record whose last event is older than this is taken as it stood then, not as of now.
const LONG_OVER: Span = Span::hours(24);

/// Say what is known of a firing from its record, and what to do about it.
///
/// The record is a file of JSON Lines, as "spyhole export" writes it. The answer is as of now, or
/// of --at; for a record that is more than a day old, as of its last event.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:
  spyhole advise north-gold.jsonl
  spyhole advise north-gold.jsonl --history past-firings --at 2026-03-04T11:20:00+01:00 --json")]
pub struct AdviseArgs {
    /// The record of one firing.
    record: PathBuf,
    /// A folder of records of past firings to learn from, instead of the shop's own ledger.
    #[arg(long, value_name = "FOLDER")]
    history: Option<PathBuf>,
    /// The moment to answer for: 9:10, "20 min ago", or a full date and time. Events after it are
    /// left out.
    #[arg(long, value_name = "TIME")]
    at: Option<String>,
    /// Say what the answer rests on.
    #[arg(long)]
    explain: bool,
}

/// Runs the command.
///
/// # Errors
/// A record that cannot be read or used, with the lines at fault; a time nobody can read.
pub fn run(args: &AdviseArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let asked = args.at.as_deref();
    let asked = asked
        .map(|text| {
            time_entry::parse(text, ctx.now, Meant::Anytime, (ctx.clock_face, &chrono::Local))
        })
        .transpose()?;
    let until = asked.map_or(ctx.now, |asked| asked.moment);
    let (firing, last) = recorded(&args.record, until)?;
    let Some(last) = last else {
        bail!(Unusable(format!(
            "{} has no event up to {}: ask for a later time",
            args.record.display(),
            ctx.stamp(until)
        )));
    };
    if firing.kiln.is_empty() {
        bail!(Unusable(format!(
            "{} never says \"lit\" or \"packed\" up to then, so nobody knows which kiln it is: add such a line first",
            args.record.display()
        )));
    }
    let now = if asked.is_none() && until - last > LONG_OVER { last } else { until };
    let journal = shop_journal(ctx)?;
    let mut past = match (&args.history, &journal) {
        (Some(folder), _) => records_in(folder, &args.record)?,
        (None, Some(journal)) => journal.past(PAST_FIRINGS)?,
        (None, None) => Vec::new(),
    };
    past.retain(|past| past.off.is_some_and(|off| off <= now) && past.lit != firing.lit);
    let shop = match &journal {
        Some(journal) => journal.shop()?,
        None => Shop { load_types: starter::load_types(), ..Shop::default() },
    };
    let advice = advice(&shop, &firing, &past, shipped_schedules::plan, now);
    let down = firing.seen_down();
    let scene = scene_of(firing, &shop, &advice, now);
    let record = OwnRecord::of_firings(&past);
    answer(args, &advice, (&scene, down), &record, ctx)
}

/// The one firing a record tells of, as it was at `until`, and its last event by then.
fn recorded(path: &Path, until: Moment) -> anyhow::Result<(Firing, Option<Moment>)> {
    let name = path.display();
    let (mut firings, mut last) = (BTreeSet::new(), None);
    let read = record::open(path).and_then(|file| {
        record::read(file, |lines| {
            // A record of the whole shop describes its kilns and load types as well.
            let events =
                lines.map(Event::from).filter(|event| !Kind::of(&event.what).is_of_the_shop());
            let events = events.inspect(|event| firings.extend(event.firing));
            let events = events.filter(|event| event.at <= until);
            Firing::fold(events.inspect(|event| last = last.max(Some(event.at))))
        })
    });
    let firing = read.map_err(|errors| {
        let all: Vec<String> = errors.iter().map(ToString::to_string).collect();
        Unusable(format!("{name} cannot be used: {}", all.join("; ")))
    })?;
    if firings.len() > 1 {
        bail!(Unusable(format!(
            "{name} tells of {} firings, and advice is for one: export it with \"spyhole export --firing ID\"",
            firings.len()
        )));
    }
    Ok((firing, last))
}

/// The firings recorded in a folder, but for the record that is asked about.
fn records_in(folder: &Path, asked: &Path) -> anyhow::Result<Vec<Firing>> {
    let unreadable = |error: std::io::Error| {
        Unusable(format!("cannot read the folder {} ({error}): check its name", folder.display()))
    };
    let mut paths = Vec::new();
    for entry in fs::read_dir(folder).map_err(unreadable)? {
        let path = entry.map_err(unreadable)?.path();
        if path.extension().is_some_and(|ending| ending == "jsonl")
            && path.canonicalize().ok() != asked.canonicalize().ok()
        {
            paths.push(path);
        }
    }
    paths.sort();
    paths.iter().map(|path| Ok(recorded(path, Moment(i64::MAX))?.0)).collect()
}

/// The shop's journal, if there is one already; asking for advice never begins a shop.
fn shop_journal(ctx: &Context<'_>) -> anyhow::Result<Option<Journal>> {
    if !ctx.shop.exists() {
        return Ok(None);
    }
    Ok(Some(Journal::open(&ctx.shop)?.with_unread(&ctx.unread)))
}

fn scene_of(firing: Firing, shop: &Shop, advice: &Advice, now: Moment) -> Scene {
    let kiln = shop.kiln(&firing.kiln).cloned().unwrap_or_else(|| Kiln {
        name: firing.kiln.clone(),
        // A record does not tell what its kiln burns, and nothing said here depends on it.
        fuel: Fuel::Gas,
        litres: None,
        ceiling: None,
        fastest_climb: None,
    });
    let advices = Arc::new(vec![(firing.id, advice.clone())]);
    let shop = Arc::new(Shop { kilns: vec![kiln], open: vec![firing], ..Shop::default() });
    // Neither curve nor story is told.
    Floor { shop, advices, glance: true, ..Floor::default() }.scene(now)
}

fn answer(
    args: &AdviseArgs,
    advice: &Advice,
    (scene, down): (&Scene, Option<Moment>),
    record: &OwnRecord,
    ctx: &mut Context<'_>,
) -> anyhow::Result<()> {
    let [kiln] = scene.kilns.as_slice() else { bail!("a record tells of one kiln") };
    let dial = ctx.dial();
    let sentence = words::say(kiln, scene.now, &dial);
    let doubt = words::doubt(kiln, scene.now, &dial, Striking::InItsShop);
    let rests_on = words::rests_on_line(kiln, scene.now, &dial);
    let forecast = advice.forecast.as_ref().ok();
    let not_believed = forecast.and_then(|f| words::not_believed(&f.set_aside, scene.now, &dial));
    if ctx.json {
        let mut object = object(advice, (kiln, down), &sentence, rests_on, ctx);
        object["doubt"] = doubt.into();
        object["not_believed"] = not_believed.into();
        return ctx.value(&object);
    }
    let mut lines = vec![sentence];
    lines.extend(doubt);
    lines.extend(not_believed);
    lines.extend(words::drop_sentences(kiln, scene.now, &dial));
    let cones = kiln.cones.iter();
    lines.extend(cones.map(|cone| format!("  {}", words::cone_line(cone, scene.now, usize::MAX))));
    if args.explain {
        let otherwise = match down {
            Some(_) => "rests on the look that says the target is down",
            None => "rests on nothing yet",
        };
        let rests_on = rests_on.as_deref().unwrap_or(otherwise);
        lines.push(format!("This {rests_on}."));
        lines.extend(words::width_line(record).filter(|_| kiln.drop.is_some()));
    }
    ctx.answer(&lines.join("\n"), &Value::Null)
}

fn object(
    advice: &Advice,
    (kiln, down): (&KilnScene, Option<Moment>),
    sentence: &str,
    rests_on: Option<String>,
    ctx: &Context<'_>,
) -> Value {
    let stamp = |at: Option<Moment>| at.map(|at| ctx.stamp(at));
    let forecast: Option<&Forecast> = advice.forecast.as_ref().ok();
    let cones: Vec<Value> = kiln
        .cones
        .iter()
        .map(|cone| {
            json!({
                "role": cone.role.name(),
                "cone": cone.cone.name(),
                "heat_work": cone.expected.map(|now| now.heat_work),
                "lean_deg": cone.expected.map(|now| now.lean_deg),
                "seen": cone.seen.map(|(_, seen)| seen.name()),
            })
        })
        .collect();
    json!({
        "at": ctx.stamp(advice.at),
        "kiln": kiln.kiln,
        "load_type": kiln.load_type,
        "state": kiln.phase.to_string(),
        "cones": cones,
        "chamber_c": kiln.chamber.map(|t| t.0),
        "climb_c_per_h": kiln.climb.map(|rate| rate.0),
        "p05": stamp(forecast.map(|f| f.p05)),
        "p50": stamp(forecast.map(|f| f.p50)),
        "p95": stamp(forecast.map(|f| f.p95)),
        "window_width": forecast.map(|f| f.width),
        "seen_down_at": stamp(down),
        "if_not_down": advice.otherwise.as_ref().map(|f| json!({
            "p05": ctx.stamp(f.p05),
            "p50": ctx.stamp(f.p50),
            "p95": ctx.stamp(f.p95),
        })),
        "dropped_probability": forecast.map(|f| f.dropped),
        "watch_opens": stamp(advice.watch_opens),
        "next_look": stamp(advice.next_look),
        "forgives_min": advice.forgives.map(Span::as_minutes),
        "overshoot_min": advice.overshoot.map(Span::as_minutes),
        "overshoot_cones": advice.overshoot_cones,
        "say": advice.said(),
        "request": advice.request.map(|request| request.asked.name()),
        "sentence": sentence,
        "rests_on": rests_on,
        "declined": kiln.no_forecast.map(|_| words::no_forecast(kiln.no_forecast)),
    })
}
