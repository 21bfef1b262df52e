//! `spyhole review`: what the ledger teaches.

pub mod answer;
mod pictures;
mod single;

use std::path::{Path, PathBuf};

use chrono::{Local, NaiveDate, TimeZone as _};
use clap::{Args, Subcommand};
use serde_json::json;

use super::context::{Context, Over, Unusable, kiln_named, load_type_named};
use crate::edge::form;
use crate::edge::picture::chart;
use crate::edge::prices_file;
use crate::edge::shop::clock::{LocalZone, ahead};
use crate::firing::What;
use crate::review::Table;
use crate::review::bench::CastsBy;
use crate::review::ledger::Asked;
use crate::review::outcomes::By;
use crate::review::prices::{Kind, Prices};
use crate::review::suggestion::{Change, Suggestion};
use crate::scene::{Page, ReviewQuestion, ReviewScene};
use crate::units::Moment;
use crate::words::{self, ReviewTable};
use answer::TableForm;

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
    /// Map the kiln from the cones read on its shelves after unloading.
    Evenness(PictureArgs),
    /// Add up what loads cost and what the misses lost, and say what late looks had in common.
    Cost(CostArgs),
    /// Say what a piece costs by its decoration, gold or decals, at the price of gold of the day and at another.
    Decoration(DecorationArgs),
    /// Count how casts came out, by mould, weekday of pouring and slip, and say whether a mould lets go later
    /// than it did.
    Bench(PictureArgs),
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
    form: TableForm,
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
    #[command(flatten)]
    over: Over,
}

impl PictureArgs {
    /// Where its pictures go.
    fn pictures(&self) -> (Option<&Path>, Over) {
        (self.picture.as_deref(), self.over)
    }
}

#[derive(Debug, Args)]
pub struct OutcomesArgs {
    /// Group loads by: load, kiln, schedule, season or month.
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
    /// Group costs by: load, kiln or month.
    #[arg(long, default_value = "load", value_parser = cost_by)]
    by: By,
    /// The list of prices, a CSV file "from,what,of,value,unit"; otherwise the one beside the shop's file.
    #[arg(long, value_name = "FILE.csv")]
    prices: Option<PathBuf>,
    #[command(flatten)]
    rest: PictureArgs,
}

#[derive(Debug, Args)]
#[command(
    after_help = "Gold and decals are said of a lot: spyhole lot gold --pieces 40 --gold 48.2-44.7
Their prices are lines of the list of prices:
  2026-01-01,thing,g gold,82,
  2026-01-01,thing,decal,0.9,"
)]
pub struct DecorationArgs {
    /// The other price of a gram of gold; a quarter dearer if left out.
    #[arg(long, value_name = "PRICE", value_parser = price)]
    gold: Option<f64>,
    #[command(flatten)]
    all: AllArgs,
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

fn price(text: &str) -> Result<f64, String> {
    words::read_sum(text, Kind::Thing.range())
}

fn by(text: &str) -> Result<By, String> {
    named(&By::ALL, "outcomes", text)
}

fn cost_by(text: &str) -> Result<By, String> {
    named(&By::COSTS, "costs", text)
}

fn named(known: &[By], what: &str, text: &str) -> Result<By, String> {
    known.iter().copied().find(|by| by.name() == text).ok_or_else(|| {
        let names: Vec<&str> = known.iter().map(|by| by.name()).collect();
        format!("{what} can be grouped by {}", names.join(", "))
    })
}

/// Runs the command.
///
/// # Errors
/// What was asked for cannot be, or the shop's file or the output fails.
pub fn run(command: ReviewCommand, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    match command {
        ReviewCommand::All(args) => {
            let (scene, scale) = (priced(ctx, &args.table, args.prices.as_ref())?, ctx.scale);
            // A shop that never kept a forecast is not told what it might have learned.
            let is_silent = |answer: &ReviewTable| {
                answer.is_apart() && answer.table(&scene, scale).rows.is_empty()
            };
            let all = ReviewTable::all().into_iter().filter(|answer| !is_silent(answer));
            tables(ctx, args.table.form, &scene, all)
        }
        ReviewCommand::Outcomes(args) => {
            let scene = unpriced(ctx, &args.rest.table.period)?;
            let way = By::ALL.iter().position(|by| *by == args.by).unwrap_or(0);
            page(ctx, &args.rest, &scene, (Page::Outcomes, way))
        }
        ReviewCommand::Windows(args) => {
            let scene = unpriced(ctx, &args.period)?;
            tables(ctx, args.form, &scene, [ReviewTable::Windows])
        }
        ReviewCommand::Drift(args) => {
            let mut scene = unpriced(ctx, &args.rest.table.period)?;
            scene.drifts.retain(|drift| !args.changed || drift.signal().is_some());
            page(ctx, &args.rest, &scene, (Page::Drift, 0))
        }
        ReviewCommand::Tolerance(args) => {
            let scene = unpriced(ctx, &args.period)?;
            tables(ctx, args.form, &scene, [ReviewTable::Tolerance])
        }
        ReviewCommand::Evenness(args) => {
            let scene = unpriced(ctx, &args.table.period)?;
            page(ctx, &args, &scene, (Page::Evenness, 0))
        }
        ReviewCommand::Cost(args) => {
            let scene = priced(ctx, &args.rest.table, args.prices.as_ref())?;
            let way = By::COSTS.iter().position(|by| *by == args.by).unwrap_or(0);
            page(ctx, &args.rest, &scene, (Page::Cost, way))
        }
        ReviewCommand::Decoration(args) => {
            let scene = priced(ctx, &args.all.table, args.all.prices.as_ref())?;
            tables(ctx, args.all.table.form, &scene, [ReviewTable::Decorations(args.gold)])
        }
        ReviewCommand::Bench(args) => {
            let scene = unpriced(ctx, &args.table.period)?;
            let ways = 0..ReviewScene::ways(Page::Bench);
            let drawn = ways.flat_map(|way| chart::of_page((Page::Bench, way), &scene, ctx.scale));
            pictures::write_all(ctx, args.pictures(), drawn)?;
            let casts = CastsBy::ALL.iter().filter(|_| scene.bench.is_some());
            let answers = casts.map(|by| ReviewTable::Casts(*by)).chain([ReviewTable::MouldDrift]);
            tables(ctx, args.table.form, &scene, answers)
        }
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

/// Every answer for the firings of a period.
fn answers(ctx: &mut Context<'_>, period: &Period, prices: &Prices) -> anyhow::Result<ReviewScene> {
    let (now, journal) = (ctx.now, ctx.journal()?);
    let shop = journal.described()?;
    let kiln = period.kiln.as_deref().map(|kiln| kiln_named(&shop, kiln)).transpose()?;
    if let Some(load) = &period.load {
        load_type_named(&shop, load)?;
    }
    if let (Some(since), Some(until)) = (period.since, period.until)
        && until < since
    {
        let text = format!("--until {until} is before --since {since}: no day is in between");
        return Err(Unusable(text).into());
    }
    let asked = Asked {
        kiln: kiln.map(|kiln| kiln.name.clone()),
        load_type: period.load.clone(),
        since: period.since.map(midnight),
        until: period.until.and_then(|day| day.succ_opt()).map(midnight),
    };
    let question = ReviewQuestion { asked, now, ahead: ahead(now, &LocalZone) };
    // Ten years take a while the first time; somebody who waits is told how far it is, in ten steps.
    let mut steps = 0;
    let mut told = |done: usize, all: usize| {
        if ctx.interactive && done < all && done * 10 / all > steps {
            steps = done * 10 / all;
            let _ = ctx.warn(&words::digested(done, all));
        }
    };
    Ok(journal.review(&question, prices, &mut told)?)
}

/// The same without a list of prices.
fn unpriced(ctx: &mut Context<'_>, period: &Period) -> anyhow::Result<ReviewScene> {
    answers(ctx, period, &Prices::default())
}

/// The list of prices named, or the one beside the shop, or none.
fn prices(ctx: &Context<'_>, named: Option<&PathBuf>) -> anyhow::Result<Prices> {
    let ahead = ahead(ctx.now, &LocalZone);
    Ok(match named {
        Some(path) => prices_file::read(path, ahead.0)?,
        None => prices_file::of_shop(&ctx.shop, ahead)?,
    })
}

/// Every answer at these prices.
fn priced(
    ctx: &mut Context<'_>,
    args: &TableArgs,
    named: Option<&PathBuf>,
) -> anyhow::Result<ReviewScene> {
    let prices = prices(ctx, named)?;
    answers(ctx, &args.period, &prices)
}

/// A page of the review, its pictures where they are asked for.
fn page(
    ctx: &mut Context<'_>,
    args: &PictureArgs,
    scene: &ReviewScene,
    (page, way): (Page, usize),
) -> anyhow::Result<()> {
    let drawn = chart::of_page((page, way), scene, ctx.scale);
    pictures::write_all(ctx, args.pictures(), drawn)?;
    let answers = ReviewTable::of_page(page, way).into_iter().filter(|answer| !answer.is_apart());
    tables(ctx, args.table.form, scene, answers)
}

fn tables(
    ctx: &mut Context<'_>,
    form: TableForm,
    scene: &ReviewScene,
    answers: impl IntoIterator<Item = ReviewTable>,
) -> anyhow::Result<()> {
    let table = |answer: ReviewTable| {
        let mut table = answer.table(scene, ctx.scale);
        match answer {
            ReviewTable::Costs(_) if !scene.priced => {
                let path = prices_file::beside(&ctx.shop).display().to_string();
                table.remarks.push(format!(
                    "There is no list of prices: write one to {path}, with the first line from,what,of,value,unit."
                ));
            }
            ReviewTable::Decorations(_) if table.rows.is_empty() => {
                table.remarks.push(words::NOTHING_DECORATED.into());
            }
            _ => {}
        }
        table
    };
    let tables: Vec<Table> = answers.into_iter().map(table).collect();
    answer::tables(ctx, form, &tables)
}

fn accept(command: AcceptCommand, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let nothing = Period { since: None, until: None, kiln: None, load: None };
    let (suggestion, name) = match command {
        AcceptCommand::Probe { kiln } => {
            let period = Period { kiln: Some(kiln.clone()), ..nothing };
            let probes = unpriced(ctx, &period)?.probes;
            let found = probes.into_iter().find_map(|probe| probe.suggestion);
            (found, format!("the probe of \"{kiln}\""))
        }
        AcceptCommand::Tolerance { load } => {
            let period = Period { load: Some(load.clone()), ..nothing };
            let rows = unpriced(ctx, &period)?.tolerances;
            let found = rows.into_iter().find_map(|row| row.suggestion);
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
    )
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
