//! `spyhole review`: what the ledger teaches.

pub mod answer;
mod pictures;
mod single;

use std::path::PathBuf;

use chrono::{Local, NaiveDate, TimeZone as _};
use clap::{Args, Subcommand};
use serde_json::json;

use super::context::{Context, Unusable, kiln_named, load_type_named};
use crate::edge::form;
use crate::edge::journal::{LedgerFilter, local_offset_minutes};
use crate::edge::picture::chart;
use crate::edge::prices_file;
use crate::firing::mark::When;
use crate::firing::{Shop, What};
use crate::review::cost::{CostBy, Costs, costs};
use crate::review::drift::{Drift, drifts, probe_offsets};
use crate::review::evenness::evenness;
use crate::review::late::late_looks;
use crate::review::outcomes::{By, outcomes, overshoots, went_with};
use crate::review::own_record::OwnRecord;
use crate::review::prices::Prices;
use crate::review::suggestion::{Change, Corrections, Suggestion};
use crate::review::tolerance::tolerances;
use crate::review::{Facts, Ledger, Table, tables};
use crate::units::{Moment, Scale, Span};
use crate::words;
use answer::Form;

#[derive(Debug, Subcommand)]
pub enum ReviewCommand {
    /// Show every table of the review, one after another.
    All(AllArgs),
    /// Count how loads came out, and say what went with the misses.
    Outcomes(OutcomesArgs),
    /// Count how many drops the windows held that were told before them.
    Windows(TableArgs),
    /// Say whether a kiln or its probe has changed, with control charts.
    Drift(DriftArgs),
    /// Say how far each load type really forgives, from overshoot and outcome.
    Tolerance(TableArgs),
    /// Map the kiln from the cones read on its shelves after drawing.
    Evenness(PictureArgs),
    /// Add up what loads cost and what the misses lost, and say what late looks had in common.
    Cost(CostArgs),
    /// Show the numbers of one firing, and where each comes from.
    Firing(single::FiringArgs),
    /// Write a one-page card of a firing as a page for a browser, for pinning up.
    Card(single::CardArgs),
    /// Find the past firings whose curves went most like this one.
    Near(single::NearArgs),
    /// Make a schedule from a past firing's own curve.
    Repeat(single::RepeatArgs),
    /// Accept a suggested probe correction or tolerance; it holds from now on.
    #[command(subcommand)]
    Accept(AcceptCommand),
}

/// Which firings are looked at.
#[derive(Debug, Args)]
pub struct Period {
    /// From this day on, like 2026-03-01. What is usual is learned from the first firings of it.
    #[arg(long, value_name = "DAY")]
    since: Option<NaiveDate>,
    /// Up to and with this day.
    #[arg(long, value_name = "DAY")]
    until: Option<NaiveDate>,
    /// Only firings of this kiln.
    #[arg(long)]
    kiln: Option<String>,
    /// Only firings of this load type.
    #[arg(long)]
    load: Option<String>,
}

#[derive(Debug, Args)]
pub struct TableArgs {
    #[command(flatten)]
    period: Period,
    #[command(flatten)]
    form: Form,
}

#[derive(Debug, Args)]
pub struct AllArgs {
    /// The list of prices, instead of the one beside the shop's file.
    #[arg(long, value_name = "FILE.csv")]
    prices: Option<PathBuf>,
    #[command(flatten)]
    table: TableArgs,
}

#[derive(Debug, Args)]
pub struct PictureArgs {
    #[command(flatten)]
    table: TableArgs,
    /// Also draw it into this file, chart.svg; several pictures are numbered.
    #[arg(long, value_name = "FILE")]
    picture: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub struct OutcomesArgs {
    /// What loads are told apart by: load, kiln, schedule, season or month.
    #[arg(long, default_value = "load", value_parser = by)]
    by: By,
    #[command(flatten)]
    rest: PictureArgs,
}

#[derive(Debug, Args)]
pub struct DriftArgs {
    /// Only series in which a change was found.
    #[arg(long)]
    changed: bool,
    #[command(flatten)]
    rest: PictureArgs,
}

#[derive(Debug, Args)]
#[command(
    after_help = "The list of prices is a CSV file; a price holds from its day until the next one:
  from,what,of,value,unit
  2026-01-01,fuel,gas m3,1.15,
  2026-01-01,fuel,electric kWh,0.31,
  2026-01-01,draw,East,11,kW
  2026-01-01,duty,East,0.6,
  2026-01-01,thing,g gold,82,
  2026-01-01,cone,,0.45,
  2026-01-01,hour,,28,
  2026-01-01,hands,gold,90,
A kiln draws that much an hour at full; its duty is the share of the time it does. Hands are the
minutes to pack and draw a load. A firing's own meter readings and materials are notes:
  spyhole note North \"meter 4812.3 m3\"      once before and once after
  spyhole note North \"used 3.5 g gold\""
)]
pub struct CostArgs {
    /// What costs are told apart by: load, kiln or month.
    #[arg(long, default_value = "load", value_parser = cost_by)]
    by: CostBy,
    /// The list of prices, a CSV file "from,what,of,value,unit"; otherwise the one beside the shop's file.
    #[arg(long, value_name = "FILE.csv")]
    prices: Option<PathBuf>,
    #[command(flatten)]
    rest: PictureArgs,
}

#[derive(Debug, Subcommand)]
pub enum AcceptCommand {
    /// Accept the suggested correction of a kiln's probe.
    Probe {
        /// The kiln.
        kiln: String,
    },
    /// Accept the suggested tolerance of a load type.
    Tolerance {
        /// The load type.
        load: String,
    },
}

fn by(text: &str) -> Result<By, String> {
    By::ALL.into_iter().find(|by| by.name() == text).ok_or_else(|| {
        let names = By::ALL.map(By::name).join(", ");
        format!("outcomes can be told apart by {names}")
    })
}

fn cost_by(text: &str) -> Result<CostBy, String> {
    CostBy::ALL.into_iter().find(|by| by.name() == text).ok_or_else(|| {
        let names = CostBy::ALL.map(CostBy::name).join(", ");
        format!("costs can be told apart by {names}")
    })
}

/// Runs the command.
///
/// # Errors
/// What was asked for cannot be, or the shop's file or the output fails.
pub fn run(command: ReviewCommand, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    match command {
        ReviewCommand::All(args) => review_all(&args, ctx),
        ReviewCommand::Outcomes(args) => review_outcomes(&args, ctx),
        ReviewCommand::Windows(args) => {
            let (ledger, _) = ledger(ctx, &args.period)?;
            answer::tables(ctx, args.form, &[windows_table(&all(&ledger))])
        }
        ReviewCommand::Drift(args) => review_drift(&args, ctx),
        ReviewCommand::Tolerance(args) => {
            let (ledger, _) = ledger(ctx, &args.period)?;
            answer::tables(ctx, args.form, &[tolerance_table(&ledger)])
        }
        ReviewCommand::Evenness(args) => {
            let (ledger, _) = ledger(ctx, &args.table.period)?;
            let maps = evenness(&all(&ledger));
            let drawn = maps.iter().map(|map| chart::evenness(map, ctx.scale));
            pictures::write_all(args.picture.as_deref(), drawn)?;
            answer::tables(ctx, args.table.form, &[tables::evenness(&maps, ctx.scale)])
        }
        ReviewCommand::Cost(args) => review_cost(&args, ctx),
        ReviewCommand::Firing(args) => single::firing(&args, ctx),
        ReviewCommand::Card(args) => single::card(&args, ctx),
        ReviewCommand::Near(args) => single::near(&args, ctx),
        ReviewCommand::Repeat(args) => single::repeat(&args, ctx),
        ReviewCommand::Accept(command) => accept(command, ctx),
    }
}

fn midnight(day: NaiveDate) -> Moment {
    let local = day.and_hms_opt(0, 0, 0).and_then(|at| Local.from_local_datetime(&at).earliest());
    // Where the clock was put forward over midnight, the day in UTC is near enough.
    let utc = || day.and_time(chrono::NaiveTime::MIN).and_utc().timestamp_millis();
    Moment(local.map_or_else(utc, |at| at.timestamp_millis()))
}

/// What the wall clock is ahead of UTC at that moment.
fn ahead(at: Moment) -> Span {
    Span::minutes(i64::from(local_offset_minutes(at)))
}

/// The firings of a period, digested.
fn ledger(ctx: &mut Context<'_>, period: &Period) -> anyhow::Result<(Ledger, Shop)> {
    let journal = ctx.journal()?;
    let shop = journal.described()?;
    if let Some(kiln) = &period.kiln {
        kiln_named(&shop, kiln)?;
    }
    if let Some(load) = &period.load {
        load_type_named(&shop, load)?;
    }
    if let (Some(since), Some(until)) = (period.since, period.until)
        && until < since
    {
        let text = format!("--until {until} is before --since {since}: no day is in between");
        return Err(Unusable(text).into());
    }
    let filter = LedgerFilter {
        kiln: period.kiln.clone(),
        load_type: period.load.clone(),
        since: period.since.map(midnight),
        until: period.until.and_then(|day| day.succ_opt()).map(midnight),
        ..LedgerFilter::default()
    };
    let facts = journal.facts(&filter, &shop.corrections)?;
    let (kilns, load_types) = (shop.kilns.clone(), shop.load_types.clone());
    Ok((Ledger::from_facts(facts, kilns, load_types, ahead(ctx.now)), shop))
}

fn all(ledger: &Ledger) -> Vec<&Facts> {
    ledger.facts.iter().collect()
}

/// The list of prices named, or the one beside the shop, or none.
fn prices(ctx: &Context<'_>, named: Option<&PathBuf>) -> anyhow::Result<Prices> {
    let beside = prices_file::beside(&ctx.shop);
    let path = match named {
        Some(path) => path,
        None if beside.exists() => &beside,
        None => return Ok(Prices::default()),
    };
    Ok(prices_file::read(path, ahead(ctx.now).0)?)
}

fn review_all(args: &AllArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let prices = prices(ctx, args.prices.as_ref())?;
    let (ledger, shop) = ledger(ctx, &args.table.period)?;
    let facts = all(&ledger);
    let mut answers: Vec<Table> =
        By::ALL.map(|by| tables::outcomes(by, &outcomes(&ledger, &facts, by))).into();
    answers.push(tables::overshoots(&overshoots(&facts)));
    answers.push(tables::went_with(&went_with(&facts)));
    answers.push(tables::late_looks(&late_looks(&ledger, &facts)));
    // A shop that never kept a forecast is not told what it might have learned.
    answers.extend(Some(windows_table(&facts)).filter(|table| !table.rows.is_empty()));
    let series = drifts(&facts, &shop.corrections);
    answers.push(drift_table(&series, ctx.scale, ledger.ahead));
    answers.push(probe_table(&facts, &shop.corrections, ctx.scale));
    answers.push(tolerance_table(&ledger));
    answers.push(tables::evenness(&evenness(&facts), ctx.scale));
    for by in CostBy::ALL {
        let rows = costs(&ledger, &facts, &prices, by);
        answers.push(cost_table(by, rows, &ledger, &prices, ctx));
    }
    answer::tables(ctx, args.table.form, &answers)
}

/// The windows, one row for each time at which they are kept, and how wide they are told for it.
fn windows_table(facts: &[&Facts]) -> Table {
    let kept =
        When::ALL.map(|when| (words::when_word(when), OwnRecord::of_facts(facts, Some(when))));
    let mut table = tables::windows(&kept);
    let record = OwnRecord::of_facts(facts, None);
    table.remarks.extend(words::held_line(&record));
    table.remarks.extend(words::width_line(&record));
    table
}

fn review_outcomes(args: &OutcomesArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let (ledger, _) = ledger(ctx, &args.rest.table.period)?;
    let facts = all(&ledger);
    let groups = outcomes(&ledger, &facts, args.by);
    let drawn = chart::outcomes(args.by.name(), &groups);
    pictures::write_all(args.rest.picture.as_deref(), [drawn])?;
    let mut answers = vec![tables::outcomes(args.by, &groups)];
    answers.push(tables::overshoots(&overshoots(&facts)));
    answers.push(tables::went_with(&went_with(&facts)));
    answer::tables(ctx, args.rest.table.form, &answers)
}

fn review_drift(args: &DriftArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let (ledger, shop) = ledger(ctx, &args.rest.table.period)?;
    let facts = all(&ledger);
    let mut series = drifts(&facts, &shop.corrections);
    if args.changed {
        series.retain(|drift| drift.signal().is_some());
    }
    let ahead = ledger.ahead;
    let drawn = series.iter().map(|drift| chart::drift(drift, ctx.scale, ahead));
    pictures::write_all(args.rest.picture.as_deref(), drawn)?;
    let probes = probe_table(&facts, &shop.corrections, ctx.scale);
    let answers = [drift_table(&series, ctx.scale, ahead), probes];
    answer::tables(ctx, args.rest.table.form, &answers)
}

fn drift_table(series: &[Drift], scale: Scale, ahead: Span) -> Table {
    let mut table = tables::drift(series, scale, ahead);
    table.remarks.extend(series.iter().filter_map(|drift| words::drifted(drift, scale, ahead)));
    table.remarks.extend(series.iter().filter_map(|drift| words::begun_anew(drift, ahead)));
    table
}

fn probe_table(facts: &[&Facts], corrections: &Corrections, scale: Scale) -> Table {
    let probes = probe_offsets(facts, corrections);
    let mut table = tables::probes(&probes, scale);
    for probe in probes.iter().filter(|probe| probe.suggestion.is_some()) {
        let kiln = &probe.kiln;
        table.remarks.push(format!("To accept: spyhole review accept probe \"{kiln}\""));
    }
    table
}

fn tolerance_table(ledger: &Ledger) -> Table {
    let rows = tolerances(ledger, &all(ledger));
    let mut table = tables::tolerance(&rows);
    for row in rows.iter().filter(|row| row.suggestion.is_some()) {
        let load = &row.load_type;
        table.remarks.push(format!("To accept: spyhole review accept tolerance \"{load}\""));
    }
    table
}

fn review_cost(args: &CostArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let prices = prices(ctx, args.prices.as_ref())?;
    let (ledger, _) = ledger(ctx, &args.rest.table.period)?;
    let facts = all(&ledger);
    let rows = costs(&ledger, &facts, &prices, args.by);
    let drawn = chart::costs(args.by.title(), &rows);
    pictures::write_all(args.rest.picture.as_deref(), [drawn])?;
    let table = cost_table(args.by, rows, &ledger, &prices, ctx);
    let late = tables::late_looks(&late_looks(&ledger, &facts));
    answer::tables(ctx, args.rest.table.form, &[table, late])
}

/// The costs of each group, and of all of them together.
fn cost_table(
    by: CostBy,
    mut rows: Vec<Costs>,
    ledger: &Ledger,
    prices: &Prices,
    ctx: &Context<'_>,
) -> Table {
    rows.push(Costs::of("all".to_owned(), &all(ledger), ledger, prices));
    let mut table = tables::costs(by.title(), by.name(), &rows);
    if prices.is_empty() {
        let path = prices_file::beside(&ctx.shop).display().to_string();
        table.remarks.push(format!(
            "There is no list of prices: write one to {path}, with the first line from,what,of,value,unit."
        ));
    }
    table
}

fn accept(command: AcceptCommand, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let nothing = Period { since: None, until: None, kiln: None, load: None };
    let (suggestion, name) = match command {
        AcceptCommand::Probe { kiln } => {
            let period = Period { kiln: Some(kiln.clone()), ..nothing };
            let (ledger, shop) = ledger(ctx, &period)?;
            let probes = probe_offsets(&all(&ledger), &shop.corrections);
            let found = probes.into_iter().find_map(|p| p.suggestion);
            (found, format!("the probe of \"{kiln}\""))
        }
        AcceptCommand::Tolerance { load } => {
            let period = Period { load: Some(load.clone()), ..nothing };
            let (ledger, _) = ledger(ctx, &period)?;
            let found = tolerances(&ledger, &all(&ledger)).into_iter().find_map(|t| t.suggestion);
            (found, format!("the tolerance of \"{load}\""))
        }
    };
    let Some(suggestion) = suggestion else {
        let text = format!("the ledger suggests no change of {name}, so there is none to accept");
        return Err(Unusable(text).into());
    };
    let sentence = accepted_sentence(&suggestion, ctx);
    let what = What::Accepted(suggestion);
    let fields = form::write(&what);
    let event = ctx.event(None, ctx.time(None)?, what);
    let appended = ctx.journal()?.append(&event, ctx.now)?;
    let id = appended.id;
    ctx.answer(
        &format!("{sentence} Event {id}; to take it back: spyhole strike {id}"),
        &json!({ "event_id": id.0, "accepted": fields }),
    )?;
    Ok(())
}

fn accepted_sentence(suggestion: &Suggestion, ctx: &Context<'_>) -> String {
    let firings = suggestion.evidence.len();
    let change = words::change_phrase(&suggestion.change, ctx.scale);
    let who = match &suggestion.change {
        Change::ProbeCorrection { .. } => "forecasts and reviews ",
        Change::Tolerance { .. } => "",
    };
    format!("From now on {who}{change} ({firings} firings say so).")
}
