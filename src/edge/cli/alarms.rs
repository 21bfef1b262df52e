//! `spyhole alarms`: the table, what stands, answering, putting off, the measures, the calendar.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use anyhow::{Context as _, bail};
use clap::{Args, Subcommand};
use serde_json::{Value, json};

use super::bench::of_shop;
use super::context::{Context, Over, Unusable, kiln_named};
use crate::alarm::condition::Figure;
use crate::alarm::measure::{ENOUGH, Measures};
use crate::alarm::rules::RULES;
use crate::alarm::{Alarm, Key, Notice, Priority, State, Task};
use crate::edge::bell::log::{Line, Of, RingLog, Stamp, occurrences, open_alarms};
use crate::edge::bell::settings::BellSettings;
use crate::edge::calendar::{Planned, calendar, is_ours};
use crate::edge::journal::{Journal, LedgerFilter};
use crate::edge::nearest::did_you_mean;
use crate::edge::shop::advised::Counsel;
use crate::edge::shop::clock::LocalZone;
use crate::edge::shop::day_plan;
use crate::edge::shop::lease::{Watch, who_watches};
use crate::edge::shop::standing::Standing;
use crate::edge::shop::told::watch_words;
use crate::firing::{Firing, FiringId, What};
use crate::units::{Moment, Scale, Span};
use crate::words::PlanTold;
use crate::words::alarms as words;

/// Show the alarms that stand, answer or put off one, and see how well they work.
///
/// Without a command: what stands now, and whether anybody keeps watch.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  spyhole alarms
  spyhole alarms ack North look_due
  spyhole alarms shelve North probe_trouble --for 2h
  spyhole alarms --ics kilns.ics")]
pub struct AlarmsArgs {
    /// Write the coming windows, looks and draws into a calendar file, and what the plan says that is
    /// gone by, as tentative. Read in again later, it moves them.
    #[arg(long, value_name = "FILE")]
    ics: Option<PathBuf>,
    #[command(flatten)]
    over: Over,
    #[command(subcommand)]
    command: Option<AlarmsCommand>,
}

#[derive(Debug, Subcommand)]
pub enum AlarmsCommand {
    /// List the alarms that stand now, the most urgent first.
    List,
    /// Print the table of all alarms: why, what happens otherwise, what to do, and how soon.
    Rules,
    /// Measure the alarms against the benchmarks of the standards.
    Report(ReportArgs),
    /// Acknowledge an alarm: somebody is on the way. Doing what it asks for, and recording that,
    /// answers it as well.
    Ack(AckArgs),
    /// Put off an alarm for a limited time; it comes back by itself.
    Shelve(ShelveArgs),
}

#[derive(Debug, Args)]
pub struct ReportArgs {
    /// How many days back.
    #[arg(long, default_value_t = 30, value_parser = clap::value_parser!(u16).range(1..=3660))]
    days: u16,
}

#[derive(Debug, Args)]
pub struct AckArgs {
    /// The kiln; without one the alarms of the shop's file and of the bench are meant.
    kiln: Option<String>,
    /// The alarm, by its name in the list; all unanswered ones of the kiln if left out.
    #[arg(value_parser = task)]
    alarm: Option<Task>,
}

#[derive(Debug, Args)]
pub struct ShelveArgs {
    /// The kiln.
    kiln: String,
    /// The alarm, by its name in the list.
    #[arg(value_parser = task)]
    alarm: Task,
    /// For how long: 30min, 2h.
    #[arg(long = "for", value_name = "LENGTH", value_parser = |text: &str| Span::parse(text))]
    length: Span,
}

fn task(text: &str) -> Result<Task, String> {
    let names = || RULES.iter().map(|rule| rule.task.name());
    Task::of_alarm(text).ok_or_else(|| {
        let all = names().collect::<Vec<_>>().join(", ");
        format!("there are the alarms {all}{}", did_you_mean(text, names()))
    })
}

/// # Errors
/// Whatever keeps the command from being done, with what to do about it.
pub fn run(args: &AlarmsArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    if let Some(file) = &args.ics {
        if args.command.is_some() {
            bail!(Unusable("--ics is a command of its own: leave the other one out".into()));
        }
        return write_calendar(file, args.over, ctx);
    }
    match &args.command {
        None | Some(AlarmsCommand::List) => list(ctx),
        Some(AlarmsCommand::Rules) => rules(ctx),
        Some(AlarmsCommand::Report(args)) => report(args, ctx),
        Some(AlarmsCommand::Ack(args)) => acknowledge(args, ctx),
        Some(AlarmsCommand::Shelve(args)) => shelve(args, ctx),
    }
}

/// The shop as it stands, and its alarms.
fn standing(ctx: &mut Context<'_>) -> anyhow::Result<(Journal, Standing, Vec<Alarm>)> {
    let (settings, trouble) = BellSettings::read_or_usual(&ctx.shop);
    trouble.map_or(Ok(()), |trouble| ctx.warn(&trouble))?;
    let journal = ctx.journal()?;
    let mut standing = Standing::new(Counsel::default(), settings.out_of_service);
    standing.refresh(&journal, ctx.now)?;
    let alarms = standing.alarms(ctx.now);
    Ok((journal, standing, alarms))
}

/// The alarms of the shop itself, which whoever keeps watch has raised and nobody has answered.
fn of_the_shop(ctx: &Context<'_>) -> anyhow::Result<Vec<Alarm>> {
    let lines = RingLog::of(&ctx.shop).tail().context("cannot read the log of rings")?;
    let alarm = |(key, (of, kiln)): (Key, (Of, &str))| {
        let (kiln, state, since) = (kiln.to_owned(), State::Unacknowledged, of.raised.0);
        let (fuel, answered, shelved_until, figure) = (None, None, None, Figure::None);
        Alarm { key, kiln, fuel, state, since, raised: since, answered, shelved_until, figure }
    };
    let open = open_alarms(&lines).into_iter().filter(|(key, _)| key.firing == FiringId::SHOP);
    Ok(open.map(alarm).collect())
}

fn list(ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let mut alarms = of_the_shop(ctx)?;
    let of_kilns = standing(ctx).map(|(_, _, alarms)| alarms);
    // Where the shop's file is what rings, that is the answer.
    let of_file = alarms.iter().any(|alarm| alarm.key.task == Task::ShopFile);
    alarms.extend(if of_file { of_kilns.unwrap_or_default() } else { of_kilns? });
    alarms.sort_by_key(|alarm| alarm.key);
    let watch = who_watches(&ctx.shop, ctx.now)?;
    let (now, scale) = (ctx.now, ctx.scale);
    let mut lines: Vec<String> = alarms
        .iter()
        .map(|alarm| {
            let name = alarm.key.task.name();
            let (headline, state) = (words::headline(alarm), words::standing(alarm, now));
            let priority = alarm.key.task.priority();
            let body = words::body(alarm, now, scale);
            format!("{headline} [{priority}, {state}] ({name})\n  {body}")
        })
        .collect();
    if lines.is_empty() {
        lines.push("No alarm stands.".into());
    }
    lines.push(watch_words(&watch));
    let object = json!({
        "alarms": alarms.iter().map(|alarm| alarm_object(alarm, ctx)).collect::<Vec<_>>(),
        "watch": watch_object(&watch),
    });
    ctx.answer(&lines.join("\n"), &object)
}

fn alarm_object(alarm: &Alarm, ctx: &Context<'_>) -> Value {
    json!({
        "alarm": alarm.key.task.name(),
        "kiln": alarm.kiln,
        "firing": alarm.key.firing.0,
        "priority": alarm.key.task.priority().name(),
        "state": alarm.state.name(),
        "since": ctx.stamp(alarm.since),
        "raised": ctx.stamp(alarm.raised),
        "shelved_until": alarm.shelved_until.map(|until| ctx.stamp(until)),
        "acknowledged_by": alarm.answered.as_ref().map(|(_, who)| who),
        "say": words::headline(alarm),
        "response": words::response(alarm, Scale::Celsius),
    })
}

fn watch_object(watch: &Watch) -> Value {
    match watch {
        Watch::Nobody => json!({"watched": false}),
        Watch::By(None) => json!({"watched": true}),
        Watch::By(Some(holder)) => {
            json!({"watched": true, "pid": holder.pid, "doing": holder.doing, "reaches": holder.reaches})
        }
        Watch::Gone(holder) => {
            json!({"watched": false, "pid": holder.pid, "doing": holder.doing, "gone": true})
        }
        Watch::Stuck(holder, still) => {
            json!({"watched": false, "pid": holder.pid, "doing": holder.doing, "stuck_s": still.as_seconds()})
        }
    }
}

fn rules(ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let object = json!({
        "alarms": RULES.iter().map(|rule| json!({
            "alarm": rule.task.name(),
            "priority": rule.priority.name(),
            "enters": words::in_scale(rule.enters, Scale::Celsius),
            "leaves": words::in_scale(rule.leaves, Scale::Celsius),
            "consequence": rule.consequence,
            "response": words::in_scale(rule.response, Scale::Celsius),
            "time_to_respond_minutes": rule.time_to_respond.as_minutes(),
            "latching": rule.latching,
            "on_delay_s": rule.on_delay.as_seconds(),
            "off_delay_s": rule.off_delay.as_seconds(),
            "raised_again_after_minutes": rule.raised_again_after.map(Span::as_minutes),
            "suppressed_by": rule.suppressed_by.iter().map(|by| by.name()).collect::<Vec<_>>(),
        })).collect::<Vec<_>>(),
        "notices": Notice::ALL.map(Notice::name),
    });
    ctx.answer(&rules_text(ctx.scale), &object)
}

/// The table of alarms as text; the documentation shows the same, in C.
pub fn rules_text(scale: Scale) -> String {
    let mut text = String::from("Every alarm asks for a response. Most urgent first.\n");
    for rule in &RULES {
        let again = rule.raised_again_after.map_or("once".into(), |after| {
            format!("again {after} after it was acknowledged and still holds")
        });
        let latching =
            if rule.latching { ", and stays listed until somebody has seen it" } else { "" };
        text += &format!(
            "\n{} [{}]\n  raised when   {}\n  goes when     {}{latching}\n  otherwise     {}\n  what to do    {}\n  time for it   {}; raised {again}\n",
            rule.task.name(),
            rule.priority,
            words::in_scale(rule.enters, scale),
            words::in_scale(rule.leaves, scale),
            rule.consequence,
            words::in_scale(rule.response, scale),
            rule.time_to_respond,
        );
    }
    text += "\nHow it rings, until somebody answers:\n";
    for priority in Priority::ALL {
        text += &format!("  {}\n", words::pace(priority));
    }
    text += "\nWhat needs no response is a notice, and rings nothing:\n";
    for notice in Notice::ALL {
        text += &format!("  {}: {}\n", notice.name(), words::notice(notice));
    }
    text
}

fn report(args: &ReportArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let lines = RingLog::of(&ctx.shop).all().context("cannot read the log of rings")?;
    let journal = ctx.journal()?;
    let from = ctx.now - Span::hours(24 * i64::from(args.days));
    let lit = lit_time(&journal, from, ctx.now)?;
    let measures = Measures::of(&occurrences(&lines), from, ctx.now, lit);
    let mut text = format!(
        "{} alarms in {} days, while a kiln was lit for {lit} in all.\n",
        measures.alarms, args.days
    );
    if lit == Span::ZERO {
        text += "  There is nothing to measure yet.\n";
    }
    for (benchmark, measured, grade) in measures.compared().iter().filter(|_| lit > Span::ZERO) {
        text += &format!(
            "  {:<46} {measured:>7.2}  {} (up to {}, {})\n",
            benchmark.what,
            words::grade(*grade),
            benchmark.acceptable,
            benchmark.source
        );
    }
    let (in_time, counted) = measures.answered_in_time;
    text += &format!("  answered within the time to respond: {in_time} of {counted}\n");
    let mix = Priority::ALL.map(|p| format!("{p} {:.0}", 100.0 * measures.share(p)));
    text += &format!(
        "  of 100: {}; the standard's mix is about 80 low, 15 medium, 5 high, and less than 1 of the highest\n",
        mix.join(", ")
    );
    if Span::hours(24 * i64::from(args.days)) < ENOUGH {
        text += "  Less than 30 days say little.\n";
    }
    let object = json!({
        "from": ctx.stamp(measures.from),
        "to": ctx.stamp(measures.to),
        "lit_hours": measures.lit.as_hours(),
        "alarms": measures.alarms,
        "measures": measures.compared().map(|(benchmark, measured, grade)| json!({
            "what": benchmark.what, "measured": measured, "acceptable": benchmark.acceptable,
            "manageable": benchmark.manageable, "grade": words::grade(grade), "source": benchmark.source,
        })),
        "answered_in_time": in_time,
        "answered_or_over_time": counted,
    });
    ctx.answer(&text, &object)
}

/// How long at least one kiln was lit in the period.
fn lit_time(journal: &Journal, from: Moment, to: Moment) -> anyhow::Result<Span> {
    // A firing that began before the period may reach into it.
    let since = Some(from - Span::hours(72));
    let rows = journal.ledger(&LedgerFilter { since, ..LedgerFilter::default() })?;
    let mut times: Vec<(Moment, Moment)> = rows
        .iter()
        .filter_map(|row| Some((row.lit?.max(from), row.off.unwrap_or(to).min(to))))
        .filter(|(lit, off)| lit < off)
        .collect();
    times.sort_unstable();
    let mut total = Span::ZERO;
    let mut until = from;
    for (lit, off) in times {
        total = total + Span((off - lit.max(until)).0.max(0));
        until = until.max(off);
    }
    Ok(total)
}

/// The open firing of the kiln whose alarms are meant.
fn firing_of<'s>(standing: &'s Standing, kiln: &str) -> anyhow::Result<&'s Firing> {
    let kiln = kiln_named(standing.shop(), kiln)?;
    let Some(firing) = standing.shop().firing_in(&kiln.name) else {
        bail!(Unusable(format!("{} has no firing that is not closed, so no alarm", kiln.name)));
    };
    Ok(firing)
}

/// Answers the alarms of the shop itself. Its file may be what is wrong: so this is written down in the
/// log of rings.
fn acknowledge_of_the_shop(ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let alarms = of_the_shop(ctx)?;
    if alarms.is_empty() {
        bail!(Unusable(
            "no alarm of the shop's file waits for an answer: for one of a kiln, name the kiln"
                .into()
        ));
    }
    let (at, who) = (Stamp(ctx.now), &ctx.who);
    let line = |alarm| Line::Answered { at, of: Of::alarm(alarm), who: who.clone() };
    let lines: Vec<Line> = alarms.iter().map(line).collect();
    RingLog::of(&ctx.shop).append(&lines).context("cannot write the log of rings")?;
    let names: Vec<&str> = alarms.iter().map(|alarm| alarm.key.task.name()).collect();
    let object = json!({"acknowledged": names});
    ctx.answer(&format!("The shop's file: acknowledged {}", names.join(", ")), &object)
}

fn acknowledge(args: &AckArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let Some(kiln) = &args.kiln else { return acknowledge_of_the_shop(ctx) };
    let (journal, standing, alarms) = standing(ctx)?;
    let firing = firing_of(&standing, kiln)?;
    let (id, kiln) = (firing.id, firing.kiln.clone());
    let unanswered = |alarm: &&Alarm| {
        alarm.key.firing == id
            && matches!(
                alarm.state,
                State::Unacknowledged
                    | State::ReturnedUnacknowledged
                    | State::LatchedUnacknowledged
                    | State::LatchedAcknowledged
            )
    };
    // Whoever keeps watch may ring by a forecast that is some seconds older than this one.
    let lines = RingLog::of(&ctx.shop).tail().context("cannot read the log of rings")?;
    let rings = open_alarms(&lines).into_keys().filter(|key| key.firing == id).map(|key| key.task);
    let stands = alarms.iter().filter(unanswered).map(|alarm| alarm.key.task);
    let meant: BTreeSet<Task> = match args.alarm {
        Some(task) => [task].into(),
        None => stands.chain(rings).collect(),
    };
    if meant.is_empty() {
        bail!(Unusable(format!("no alarm of {kiln} waits for an answer")));
    }
    let events = meant.iter().map(|task| What::Acknowledged { alarm: task.name().into() });
    let names = meant.iter().map(|task| task.name()).collect::<Vec<_>>().join(", ");
    enter(journal, id, events.collect(), &format!("{kiln}: acknowledged {names}"), ctx)
}

fn shelve(args: &ShelveArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let (journal, standing, _) = standing(ctx)?;
    let firing = firing_of(&standing, &args.kiln)?;
    let (task, length) = (args.alarm, args.length);
    task.may_be_put_off(length).map_err(|error| Unusable(error.to_string()))?;
    let what = What::Shelved { alarm: task.name().into(), length };
    let done = format!("{}: {} put off for {length}", firing.kiln, task.name());
    enter(journal, firing.id, vec![what], &done, ctx)
}

/// Writes events down and says so once they are durable.
fn enter(
    mut journal: Journal,
    firing: FiringId,
    events: Vec<What>,
    done: &str,
    ctx: &mut Context<'_>,
) -> anyhow::Result<()> {
    let at = ctx.time(None)?;
    let mut ids = Vec::new();
    for what in events {
        let event = ctx.event(Some(firing), at, what);
        ids.push(journal.append_checked(&event, ctx.now)?.id);
    }
    let numbers = ids.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
    let object = json!({"events": ids.iter().map(|id| id.0).collect::<Vec<_>>()});
    ctx.answer(&format!("{done} (event {numbers})"), &object)
}

fn write_calendar(file: &Path, over: Over, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let (journal, standing, _) = standing(ctx)?;
    let bench = of_shop(&journal, standing.shop(), ctx.now)?;
    let (unread, dial) = (ctx.unread.list(), ctx.dial());
    let left_out = |firing| crate::words::left_out_of(firing, &unread, ctx.now, &dial);
    let shop = standing.shop();
    let adopted = shop.adopted.is_some();
    let day = adopted.then(|| day_plan::of(&journal, Arc::new(LocalZone), ctx.now)).transpose()?;
    let plan = day.as_ref().map(|day| PlanTold::of(day, &dial));
    let kilns: Vec<String> =
        shop.kilns.iter().chain(&shop.retired).map(|kiln| kiln.name.clone()).collect();
    let planned = (!shop.lots.is_empty()).then_some(Planned { plan, kilns: &kilns });
    let watched = standing.watched();
    let text = calendar(watched, &bench, planned, left_out, ctx.scale, ctx.now);
    // One of its own is what the reader's calendar reads again and again.
    let replace = over.replace || is_ours(file);
    ctx.place(file, Over { replace }, |out| Ok(out.write_all(text.as_bytes())?))?;
    let events = text.matches("BEGIN:VEVENT").count();
    let object = json!({"file": file.display().to_string(), "calendar_events": events});
    ctx.answer(&format!("{events} calendar events in {}", file.display()), &object)
}
