//! `spyhole plan`: what goes into which kiln and when to light it, by the journal or by an instance.

use std::fs::OpenOptions;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use serde_json::{Value, json};

use super::context::{Context, Over, Unusable, kiln_named};
use crate::edge::journal::{Journal, PAST_FIRINGS};
use crate::edge::picture::day_sheet;
use crate::edge::plain_file;
use crate::edge::plan_file::{self, VERSION};
use crate::edge::record::Time;
use crate::edge::schedule_file::LONGEST_FILE;
use crate::edge::shop::clock::{LocalZone, ahead};
use crate::edge::shop::day_plan;
use crate::firing::{EventId, What};
use crate::kiln::same_name;
use crate::plan::adopted::{Adopted, Choice};
use crate::plan::{DayPlan, Judged, Plan, State, Tables, duty, why};
use crate::units::Moment;
use crate::words::{self, Dial, PlanTold, SheetRow, Zone};

/// Plan what goes into which kiln, and when to light it.
///
/// It plans the next three days of the shop: the ware that is said to wait (spyhole lot), each kiln by its own
/// firings, and who is there (spyhole hours). The plan keeps the watches apart and has every cone drop while somebody is there. It is advice, a
/// good plan and not proven to be the best, and the same question always gets the same answer. With
/// --was an earlier answer is gone on from: it holds, or it is mended with as few changes as
/// possible. Set "state" of its firings to "packed" or "lit" as the day goes on; a lit one needs
/// "drop_p05", "drop_p50" and "drop_p95" as they are forecast now.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:
  spyhole plan
  spyhole plan --adopt
  spyhole plan --keep 7
  spyhole plan --drawing
  spyhole plan --sheet today.html
  spyhole plan --sheet north.html --kiln North
  spyhole plan --from week.json
  spyhole plan --from week.json --json > plan.json
  spyhole plan --from week.json --was plan.json")]
pub struct PlanArgs {
    /// A file that states kilns, people, ware and limits, in JSON, in place of the shop.
    #[arg(long, value_name = "INSTANCE")]
    from: Option<PathBuf>,
    /// An earlier answer, in JSON, to go on from.
    #[arg(long, value_name = "PLAN", requires = "from")]
    was: Option<PathBuf>,
    /// Go by this plan from here on: what is planned later keeps to it, with as few changes as possible.
    #[arg(long, conflicts_with = "from")]
    adopt: bool,
    /// Keep the firing that this lot goes into as it is; said once more, it may change again.
    #[arg(long, value_name = "LOT", conflicts_with = "from")]
    keep: Option<String>,
    /// Leave this lot out of the plan; said once more, it is taken in again.
    #[arg(long, value_name = "LOT", conflicts_with_all = ["from", "keep"])]
    leave_out: Option<String>,
    /// Have what this lot is fired with in another kiln.
    #[arg(long, value_name = "LOT", conflicts_with_all = ["from", "keep", "leave_out"])]
    elsewhere: Option<String>,
    /// Only what is to be drawn until this time tomorrow, what is due for an outcome, and where today's ware goes.
    #[arg(long, conflicts_with = "from")]
    drawing: bool,
    /// Write the day on one sheet for the wall: a page of HTML that prints on A4 or Letter.
    #[arg(long, value_name = "FILE.html", conflicts_with_all = ["from", "drawing"])]
    sheet: Option<PathBuf>,
    /// The sheet of the next load of one kiln.
    #[arg(long, value_name = "KILN", requires = "sheet")]
    kiln: Option<String>,
    #[command(flatten)]
    over: Over,
}

/// Runs the command.
///
/// # Errors
/// A file that cannot be read, or not be used as it is.
pub fn run(args: &PlanArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let Some(from) = &args.from else { return by_journal(args, ctx) };
    let asked = used(from, plan_file::instance(&read(from)?))?;
    let tables = Tables::new(asked.instance.clone());
    let day = match &args.was {
        None => {
            let nothing = Plan::empty(&tables.instance);
            DayPlan::searched(tables, &nothing, asked.made_at)
        }
        Some(path) => {
            let was = used(path, plan_file::plan(&read(path)?, &asked, &tables))?;
            DayPlan::gone_on(tables, was, asked.made_at)
        }
    };
    let dial = Dial { zone: &asked.zone, clock: ctx.clock_face, scale: ctx.scale };
    tell(PlanTold::of(&day, &dial), None, ctx)
}

fn by_journal(args: &PlanArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let mut journal = ctx.journal()?;
    let made = |journal: &Journal, now| day_plan::of(journal, Arc::new(LocalZone), now);
    let mut day = made(&journal, ctx.now)?;
    let mut event_id = None;
    if let Some(adopted) = chosen(args, &day)?.or_else(|| args.adopt.then(|| day.adopted())) {
        let event = ctx.event(None, ctx.time(None)?, What::Planned(adopted));
        event_id = Some(journal.append_checked(&event, ctx.now)?.id);
        day = made(&journal, ctx.now)?;
    }
    let dial = ctx.dial();
    let told = PlanTold::of(&day, &dial);
    if let Some(file) = &args.sheet {
        return sheet(told, (file, args), &journal, ctx);
    }
    if args.drawing {
        let lines = told.drawing();
        return ctx.answer(&lines.join("\n"), &json!({ "drawing": lines }));
    }
    tell(told, event_id, ctx)
}

/// Tells a plan, and by which event it was adopted.
fn tell(
    told: PlanTold<'_>,
    event_id: Option<EventId>,
    ctx: &mut Context<'_>,
) -> anyhow::Result<()> {
    let (mut text, mut value) = match ctx.json {
        true => (String::new(), object(&told)),
        false => (lines(&told).join("\n"), Value::Null),
    };
    if let Some(id) = event_id {
        text += &format!("\nThe shop goes by this plan. Event {id}.");
        value["event_id"] = id.0.into();
    }
    ctx.answer(&text, &value)
}

/// Writes the day, or the next load of a kiln, as a sheet for the wall.
fn sheet(
    told: PlanTold<'_>,
    (file, args): (&Path, &PlanArgs),
    journal: &Journal,
    ctx: &mut Context<'_>,
) -> anyhow::Result<()> {
    let (shop, past) = (journal.shop()?, journal.past(PAST_FIRINGS)?);
    let kiln = args.kiln.as_deref().map(|name| kiln_named(&shop, name)).transpose()?;
    let cones = |row: &SheetRow| words::cones_of(row, &shop, &past);
    let html = day_sheet::html(&told, kiln.map(|kiln| kiln.name.as_str()), &cones);
    ctx.place(file, args.over, |out| Ok(out.write_all(html.as_bytes())?))?;
    let file = file.display().to_string();
    let said = format!("The sheet is in {file}: open it in a browser and print it.");
    ctx.answer(&said, &json!({ "file": file }))
}

/// The plan with what somebody chose in it.
fn chosen(args: &PlanArgs, day: &DayPlan) -> Result<Option<Adopted>, Unusable> {
    let said = [
        (&args.keep, Choice::Keep),
        (&args.leave_out, Choice::LeaveOut),
        (&args.elsewhere, Choice::Elsewhere),
    ];
    let said = said.into_iter().find_map(|(lot, choice)| Some((lot.as_deref()?, choice)));
    let Some((name, choice)) = said else { return Ok(None) };
    let names = &day.tables.names;
    let mut lots = (0..names.len()).filter(|lot| same_name(&names[*lot], name));
    let chosen = lots.find_map(|lot| day.chosen(lot, choice));
    chosen.map(Some).ok_or_else(|| Unusable(words::no_choice(name, names)))
}

/// The text of a file; no more of it than a plan may have.
fn read(path: &Path) -> anyhow::Result<String> {
    let mut text = String::new();
    let read = plain_file::open(path, OpenOptions::new().read(true))
        .and_then(|file| file.take(LONGEST_FILE + 1).read_to_string(&mut text));
    read.map_err(|error| {
        let name = path.display();
        Unusable(format!(
            "{name} cannot be read ({error}): check its name, and that it is text in UTF-8"
        ))
    })?;
    Ok(text)
}

fn used<T>(path: &Path, read: anyhow::Result<T>) -> Result<T, Unusable> {
    read.map_err(|error| Unusable(format!("{}: {error}", path.display())))
}

fn lines(told: &PlanTold<'_>) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    lines.extend(told.standing());
    lines.extend(told.changes().iter().map(|(_, what, why)| format!("  {what}: {why}.")));
    let mut day = String::new();
    for (at, firing) in told.plan.firings.iter().enumerate() {
        let heading = told.long_date(firing.light);
        if heading != day {
            lines.extend((!lines.is_empty()).then(String::new));
            lines.push(heading.clone());
            day = heading;
        }
        lines.push(format!("  {}", told.firing(at)));
        lines.push(format!("    Why: {}.", told.why(at)));
    }
    if told.plan.firings.is_empty() {
        let waits = !told.tables.instance.lots.is_empty();
        lines.push(if waits { words::NOTHING_PLANNED } else { words::NOTHING_WAITS }.into());
    }
    let mut section = |heading: &str, all: Vec<String>| {
        lines.extend((!all.is_empty()).then(|| format!("\n{heading}")));
        lines.extend(all.into_iter().map(|line| format!("  {line}")));
    };
    let waiting = why::left_waiting(told.tables, told.plan).into_iter().map(|(lot, why)| {
        let id = &told.tables.instance.lots[lot].id;
        format!("{id}: {}", told.waits_line(lot, &why))
    });
    section("Left waiting", waiting.collect());
    let late = why::late(told.tables, told.plan);
    section("Late", late.iter().map(|late| format!("{}.", told.late(late))).collect());
    let broken = Judged::of(told.tables, told.plan).broken.into_iter();
    let broken = broken.map(|(_, broken)| format!("{}.", told.broken(&broken)));
    section("No change keeps every rule", broken.collect());
    section("You said", words::turned(&told.day.shop.limits));
    section("Taken as usual", told.day.shop.taken.iter().map(words::taken).collect());
    lines.push(format!("\n{}", told.closing()));
    lines
}

fn object(told: &PlanTold<'_>) -> Value {
    let Judged { broken, costs } = Judged::of(told.tables, told.plan);
    let stamp = |minute: f64| stamp(told.dial.zone, told.moment(minute));
    let firings = (0..told.plan.firings.len()).map(|at| firing(told, at, &stamp));
    let id = |lot: usize| told.tables.instance.lots[lot].id.as_str();
    let waiting = why::left_waiting(told.tables, told.plan);
    let waiting = waiting.iter().map(|(lot, why)| {
        let (why, help) = told.waits(*lot, why);
        json!({ "batch_id": id(*lot), "why": why, "would_help": help })
    });
    let late = why::late(told.tables, told.plan).into_iter().map(|late| {
        json!({ "batch_id": id(late.lot), "days": late.days as u32, "why": told.late(&late) })
    });
    let days = why::days(told.tables, told.plan).into_iter().map(|(day, meet, there)| {
        json!({
            "day": told.date(day),
            "watches_meet": places(meet, 4),
            "all_dropped_while_there": places(there, 4),
        })
    });
    let costs = costs.each().into_iter().chain([("total", costs.total())]);
    let costs = costs.map(|(kind, eur)| (kind.to_owned(), places(eur, 2).into()));
    let mut object = json!({
        "plan": VERSION,
        "made_at": stamp(0.0),
        "until": stamp(told.tables.instance.last_drop_by),
    });
    if let Some(since) = &told.day.since {
        object["holds"] = since.holds.into();
        let change = |(number, what, why)| json!({ "firing": number, "what": what, "why": why });
        object["changed"] = told.changes().into_iter().map(change).collect();
    }
    object["firings"] = firings.collect();
    object["left_waiting"] = waiting.collect();
    object["late"] = late.collect();
    object["checks"] = days.collect();
    object["rules_broken"] = broken.iter().map(|(_, broken)| told.broken(broken)).collect();
    let turned = words::turned(&told.day.shop.limits);
    if !turned.is_empty() {
        object["you_said"] = turned.into();
    }
    if !told.day.shop.taken.is_empty() {
        object["taken_as_usual"] = told.day.shop.taken.iter().map(words::taken).collect();
    }
    object["costs_eur"] = Value::Object(costs.collect());
    object["tried"] = told.day.tried.into();
    object["best_not_proven"] = true.into();
    object
}

fn firing(told: &PlanTold<'_>, at: usize, stamp: &dyn Fn(f64) -> String) -> Value {
    let (tables, firing, duty) = (told.tables, &told.plan.firings[at], told.duty(at));
    let instance = &tables.instance;
    let kiln = instance.kiln_of(firing.way);
    let drop = tables.drop_of(firing);
    let ids: Vec<&str> = told.plan.lots_in(at).map(|lot| instance.lots[lot].id.as_str()).collect();
    let meets = told.plan.firings.iter().enumerate().filter_map(|(other, meets)| {
        let chance = if other == at { 0.0 } else { tables.meet(firing, meets) };
        let shown = chance >= 0.00005;
        shown.then(|| json!({ "firing": meets.number, "chance": places(chance, 4) }))
    });
    json!({
        "number": firing.number,
        "batch_ids": ids,
        "kiln": kiln.name,
        "load_type": instance.load_type(firing.way).name,
        "full_share": places(told.full_share(at), 3),
        "starts_by_itself": kiln.starts_by_itself,
        "pack_from": if firing.pack.is_nan() { Value::Null } else { stamp(firing.pack).into() },
        "packed_by": duty.packs.map(|who| instance.people[who].name.as_str()),
        "light_at": stamp(firing.light),
        "light_no_later_than": stamp(told.latest(at)),
        "watch_from": stamp(duty::watch(tables, firing).0),
        "watched_by": told.watchers(&duty),
        "drop_p05": stamp(firing.light + drop.p05),
        "drop_p50": stamp(firing.light + drop.p50),
        "drop_p95": stamp(firing.light + drop.p95),
        "draw_from": stamp(firing.draw),
        "dropped_while_there": places(tables.there(firing), 4),
        "watch_meets": meets.collect::<Vec<_>>(),
        "why": told.why(at),
        "state": match firing.state {
            State::Planned | State::Packing => "planned",
            State::Packed => "packed",
            State::Lit => "lit",
        },
    })
}

/// A moment in the offset from UTC that this zone has then.
fn stamp(zone: &dyn Zone, moment: Moment) -> String {
    Time::at(moment, (ahead(moment, zone).as_minutes()) as i32).to_string()
}

fn places(value: f64, places: i32) -> f64 {
    let scale = 10f64.powi(places);
    (value * scale).round() / scale
}
