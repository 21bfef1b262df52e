//! One firing: its numbers, its card, its like, and how to repeat it.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use super::super::context::{Context, Over, Unusable};
use super::answer::{self, TableForm};
use super::{pictures, prices};
use crate::edge::picture::of_firing::OneFiring;
use crate::edge::schedule_file;
use crate::edge::shop::card;
use crate::firing::FiringId;
use crate::review::cost::{Cost, FuelFrom, Lost};
use crate::review::drift::Measure;
use crate::review::nearest;
use crate::review::table::{Cell, Table, Told};
use crate::review::{Bounds, Facts};
use crate::schedule::Ware;
use crate::units::{Celsius, Scale};
use crate::words;

#[derive(Debug, Args)]
pub struct FiringArgs {
    /// The firing's number, as the ledger lists it.
    firing: i64,
    /// The list of prices, instead of the one beside the shop's file.
    #[arg(long, value_name = "FILE.csv")]
    prices: Option<PathBuf>,
    #[command(flatten)]
    form: TableForm,
}

#[derive(Debug, Args)]
pub struct CardArgs {
    /// The firing's number, as the ledger lists it.
    firing: i64,
    /// Where the card goes: card.html, a page for a browser that prints on one sheet of A4 or Letter,
    /// or card.svg, its curve alone.
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// Lay the course of this other firing under the curve, instead of the usual one of the kiln
    /// with this load.
    #[arg(long, value_name = "FIRING")]
    over: Option<i64>,
    /// The list of prices, instead of the one beside the shop's file.
    #[arg(long, value_name = "FILE.csv")]
    prices: Option<PathBuf>,
    #[command(flatten)]
    replace: Over,
}

#[derive(Debug, Args)]
pub struct NearArgs {
    /// The firing's number; it may still be running.
    firing: i64,
    /// How many past firings to name.
    #[arg(long, default_value_t = 5)]
    most: usize,
    /// Any kiln, not only the same one.
    #[arg(long)]
    any_kiln: bool,
    #[command(flatten)]
    form: TableForm,
}

#[derive(Debug, Args)]
pub struct RepeatArgs {
    /// The firing's number, as the ledger lists it.
    firing: i64,
    /// What the schedule is called; otherwise after the kiln, the load and the firing.
    #[arg(long)]
    name: Option<String>,
    /// What is fired, so that its cautions are known: "raw cast ware", "glazed bisque",
    /// "raw-glazed ware", "china paint", decals, "lustre and gold".
    #[arg(long, value_parser = ware)]
    ware: Ware,
    /// No reading may be further from the schedule than this, in C, 2 to 60.
    #[arg(long, default_value_t = 12.0)]
    within: f64,
    /// Write the schedule into this file instead of showing it.
    #[arg(long, value_name = "FILE.json")]
    file: Option<PathBuf>,
    #[command(flatten)]
    over: Over,
}

fn ware(text: &str) -> Result<Ware, String> {
    let plain = |text: &str| text.trim().to_lowercase().replace(['-', '_'], " ");
    Ware::ALL
        .into_iter()
        .find(|ware| plain(ware.name()) == plain(text))
        .ok_or_else(|| format!("what is fired is one of {}", Ware::ALL.map(Ware::name).join(", ")))
}

fn one(ctx: &mut Context<'_>, id: i64, listed: Option<&PathBuf>) -> anyhow::Result<OneFiring> {
    let prices = prices(ctx, listed)?;
    card::one(&ctx.journal()?, FiringId(id), &prices, &ctx.dial())?.ok_or_else(|| {
        let text = format!("firing {id} was never lit, so there is nothing to review");
        Unusable(text).into()
    })
}

pub(super) fn firing(args: &FiringArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let one = one(ctx, args.firing, args.prices.as_ref())?;
    let table = facts_table(&one.facts, &one.cost, ctx.scale);
    answer::tables(ctx, args.form, &[table])
}

/// A number of a firing: what it is, its bounds, decimals, unit, and how it comes about.
type Number = (&'static str, (Option<Bounds>, usize, &'static str), String);

fn exact(value: Option<f64>) -> Option<Bounds> {
    value.map(|v| Bounds { low: v, best: v, high: v })
}

/// How the firing went.
fn course(facts: &Facts, scale: Scale) -> Vec<Number> {
    let in_scale = |b: Bounds| {
        let [low, best, high] = [b.low, b.best, b.high].map(|c| scale.degrees(c));
        Bounds { low, best, high }
    };
    let step = |celsius| Celsius::display_step(celsius, scale);
    let unit = scale.letter();
    let basis = facts.basis.map_or("not known", |basis| basis.name());
    vec![
        (
            "lit to drop",
            (exact(facts.minutes_to_drop), 0, "min"),
            "the middle between the last look that saw the target not down and the first that saw it down, narrowed by the leans seen before, less the time it was lit; only if known to half an hour".into(),
        ),
        (
            "off after the drop",
            (facts.overshoot_minutes, 0, "min"),
            "off less that middle; bounds: off less the two looks".into(),
        ),
        (
            "over the target",
            (facts.overshoot_cones, 2, "cones"),
            format!("from {basis}; bounds: how well the drop is known and the cone's own tolerance"),
        ),
        (
            "final climb",
            (exact(facts.final_climb.map(|climb| scale.degrees(climb.0))), 0, Measure::FinalClimb.unit(scale)),
            format!(
                "from the last reading {} below the top to the first within {} of it",
                step(100.0),
                step(3.0)
            ),
        ),
        (
            "at the top",
            (exact(facts.soak_minutes), 0, "min"),
            format!(
                "from the first reading within {} of the highest to the last before off",
                step(5.0)
            ),
        ),
        (
            "probe at the drop",
            (exact(facts.probe_at_drop.map(|t| t.in_scale(scale))), 0, unit),
            "between the readings around the drop, accepted correction included".into(),
        ),
        (
            "probe reads high",
            (facts.probe_high_c.map(in_scale), 1, unit),
            "the shift of all readings with which the chart says \"down\" exactly at the drop, with its sign turned round".into(),
        ),
    ]
}

/// What the firing cost.
fn money(cost: &Cost) -> [Number; 6] {
    let fuel = cost.fuel_from.map_or("not known", FuelFrom::name);
    let money =
        |name, value: Option<f64>, how: &str| (name, (exact(value), 2, "money"), how.to_owned());
    let lost = cost.lost.map(Lost::total);
    [
        money("fuel", cost.fuel, &format!("from {fuel}, at the price of its day")),
        money("cones", cost.cones, "cones of the pack at the price of a cone"),
        money(
            "materials",
            cost.things,
            "each note that begins with \"used\", at the price of its day",
        ),
        money(
            "work",
            cost.work,
            "minutes to pack and draw, and 4 for each look, at the price of an hour",
        ),
        money("together", Some(cost.total), "the sum of what is known"),
        money("lost", lost, "as noted; else what is lost of the load's worth, or firing it again"),
    ]
}

fn facts_table(facts: &Facts, cost: &Cost, scale: Scale) -> Table {
    let rows: Vec<Number> = course(facts, scale).into_iter().chain(money(cost)).collect();
    let columns: &[Told<'_, Number>] = &[
        ("what", "what", &|row| Cell::text(row.0)),
        ("value", "value", &|(_, (b, decimals, _), _)| Cell::number(b.map(|b| b.best), *decimals)),
        ("low", "from", &|row| {
            Cell::number(row.1.0.filter(|b| b.low < b.best).map(|b| b.low), row.1.1)
        }),
        ("high", "to", &|row| {
            Cell::number(row.1.0.filter(|b| b.high > b.best).map(|b| b.high), row.1.1)
        }),
        ("unit", "unit", &|row| Cell::text(row.1.2)),
    ];
    let title = format!("Firing {}: {} in {}", facts.id, facts.load_type, facts.kiln);
    let mut table = Table::of(title, &rows, columns, |row| (row.2.clone(), vec![facts.id]));
    if !cost.unknown.is_empty() {
        table.remarks.push(format!("Not known: {}.", cost.unknown.join(", ")));
    }
    table
}

pub(super) fn card(args: &CardArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let one = one(ctx, args.firing, args.prices.as_ref())?;
    let (journal, path) = (ctx.journal()?, args.file.display().to_string());
    let over = args.over.map(FiringId);
    let (dial, ending) = (ctx.dial(), pictures::ending(&args.file));
    let drawn = card::card(&journal, &one, over, (&dial, ctx.now), |card| card.file(&ending))?;
    let Some(text) = drawn else {
        let text = format!(
            "\"{path}\" ends in neither .html nor .svg: name the file after what it is to be, a page to print or a picture of the curve"
        );
        return Err(Unusable(text).into());
    };
    ctx.place(&args.file, args.replace, |out| Ok(out.write_all(text.as_bytes())?))?;
    ctx.answer(
        &words::card_written(&path, one.firing.id),
        &json!({ "firing": args.firing, "file": path }),
    )
}

pub(super) fn near(args: &NearArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let journal = ctx.journal()?;
    let now = journal.firing(FiringId(args.firing))?;
    let kiln = (!args.any_kiln).then(|| now.kiln.clone());
    let near = journal.nearest(&now, (kiln, None), args.most)?;
    answer::tables(ctx, args.form, &[words::tables::near(&near, ctx.scale)])
}

pub(super) fn repeat(args: &RepeatArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let firing = ctx.journal()?.firing(FiringId(args.firing))?;
    let name = args.name.clone().unwrap_or_else(|| words::repeat_name(&firing));
    let repeat = nearest::repeat(&firing, &name, args.ware, args.within)?;
    repeat.schedule.well_formed()?;
    let text = schedule_file::to_json(&repeat.schedule);
    let Some(file) = &args.file else {
        writeln!(ctx.out, "{}", text.trim_end())?;
        return Ok(());
    };
    ctx.place(file, args.over, |out| Ok(out.write_all(text.as_bytes())?))?;
    let path = file.display().to_string();
    ctx.answer(
        &words::schedule_written(&path, &repeat, ctx.scale),
        &json!({
            "file": path,
            "segments": repeat.schedule.segments.len(),
            "readings": repeat.readings,
            "furthest_c": repeat.furthest_c,
        }),
    )
}
