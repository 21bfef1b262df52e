//! `spyhole export` and `spyhole import`: firing records, whole shops, and tables.

use std::io::Write;
use std::path::{Path, PathBuf};

use chrono::Local;
use clap::{Args, Subcommand, ValueEnum};
use serde_json::{Value, json};

use super::context::{Context, Incomplete, Over, Unusable, kiln_named};
use crate::edge::journal::{Imported, Journal, LedgerFilter, Mode, StoredEvent};
use crate::edge::plain::cell;
use crate::edge::record::{self, RecordLine, Time};
use crate::edge::time_entry::in_zone;
use crate::firing::FiringId;
use crate::units::Moment;
use crate::words;

#[derive(Debug, Subcommand)]
pub enum ExchangeCommand {
    /// Write firings out as a firing record (one JSON object a line), or as a table.
    Export(ExportArgs),
    /// Import firing records. A file with a wrong line is left out whole; what is there already is not added twice.
    Import(ImportArgs),
}

#[derive(Debug, Args)]
pub struct ExportArgs {
    /// Only this firing, by its number in the ledger.
    #[arg(long, value_name = "ID")]
    pub firing: Option<i64>,
    /// Only the firings of this kiln.
    #[arg(long, value_name = "NAME", conflicts_with = "firing")]
    pub kiln: Option<String>,
    /// A table (comma-separated values) instead of a record: the ledger, or all readings.
    #[arg(long, value_enum)]
    pub csv: Option<CsvTable>,
    /// Write into this file instead of showing it.
    #[arg(long, short, value_name = "FILE")]
    pub output: Option<PathBuf>,
    #[command(flatten)]
    pub over: Over,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum CsvTable {
    /// One line for each firing.
    Ledger,
    /// One line for each reading.
    Readings,
}

#[derive(Debug, Args)]
pub struct ImportArgs {
    /// The records to take in.
    #[arg(required = true)]
    pub files: Vec<PathBuf>,
    /// Only say what would be taken in.
    #[arg(long)]
    pub dry_run: bool,
}

/// # Errors
/// Whatever keeps the command from being done, with what to do about it.
pub fn run(command: ExchangeCommand, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    match command {
        ExchangeCommand::Export(args) => export(&args, ctx),
        ExchangeCommand::Import(args) => import(&args, ctx),
    }
}

fn export(args: &ExportArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let journal = ctx.journal()?;
    let firings = wanted(args, &journal)?;
    let firings = firings.as_deref();
    let mut lines = 0;
    match &args.output {
        Some(file) => {
            ctx.place(file, args.over, |out| {
                lines = write_table(args.csv, &journal, firings, out)?;
                Ok(())
            })?;
        }
        None => lines = write_table(args.csv, &journal, firings, ctx.out)?,
    }
    let mut lacks: Vec<String> =
        Vec::from_iter(words::left_out_and_remedy(&ctx.unread.list(), ctx.now, &ctx.dial()));
    let gaps = journal.gaps()?;
    if !gaps.is_empty() && args.firing.is_none() {
        let gaps = gaps.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
        lacks.push(format!("Events are lost from this shop, and from this: {gaps}."));
    }
    if let Some(file) = &args.output {
        let file = file.display().to_string();
        let sentence = format!("{lines} lines written to {file}.");
        ctx.answer(&sentence, &json!({ "lines": lines, "file": file }))?;
    }
    // What could be read is written all the same; but nobody is to take it for everything.
    ctx.unread.take();
    match lacks.is_empty() {
        true => Ok(()),
        false => Err(Incomplete(lacks.join(" ")).into()),
    }
}

/// How many lines were written.
fn write_table(
    table: Option<CsvTable>,
    journal: &Journal,
    firings: Option<&[FiringId]>,
    out: &mut dyn Write,
) -> anyhow::Result<usize> {
    match table {
        None => write_record(journal, firings, out),
        Some(CsvTable::Ledger) => write_ledger(journal, firings, out),
        Some(CsvTable::Readings) => write_readings(journal, firings, out),
    }
}

/// The firings that are wanted; `None` is the whole shop.
fn wanted(args: &ExportArgs, journal: &Journal) -> anyhow::Result<Option<Vec<FiringId>>> {
    if let Some(firing) = args.firing {
        journal.firing(FiringId(firing))?;
        return Ok(Some(vec![FiringId(firing)]));
    }
    let Some(kiln) = &args.kiln else { return Ok(None) };
    let kiln = kiln_named(&journal.described()?, kiln)?.name.clone();
    let rows = journal.ledger(&LedgerFilter { kiln: Some(kiln), ..LedgerFilter::default() })?;
    let mut firings: Vec<FiringId> = rows.into_iter().map(|row| row.firing).collect();
    firings.sort_unstable();
    Ok(Some(firings))
}

/// An event as a line of a record.
pub fn record_line(stored: StoredEvent) -> RecordLine {
    let StoredEvent { event, uid, offset_minutes } = stored;
    RecordLine {
        line: 0,
        at: Time::at(event.at, offset_minutes),
        written: Some(Time::at(event.written, offset_minutes)),
        id: Some(event.id),
        uid: Some(uid),
        firing: event.firing,
        who: event.who,
        what: event.what,
    }
}

fn write_record(
    journal: &Journal,
    firings: Option<&[FiringId]>,
    out: &mut dyn Write,
) -> anyhow::Result<usize> {
    let mut lines = 0;
    journal.each_event(firings, |stored| {
        lines += 1;
        anyhow::Ok(record::write(out, &record_line(stored))?)
    })?;
    Ok(lines)
}

fn write_ledger(
    journal: &Journal,
    firings: Option<&[FiringId]>,
    out: &mut dyn Write,
) -> anyhow::Result<usize> {
    let mut table = csv::Writer::from_writer(out);
    table.write_record([
        "firing",
        "kiln",
        "load_type",
        "cone",
        "cone_family",
        "state",
        "lit_at",
        "seen_down_at",
        "off_at",
        "drawn_at",
        "result",
        "loss",
        "note",
    ])?;
    let mut rows = journal.ledger(&LedgerFilter::default())?;
    rows.retain(|row| firings.is_none_or(|firings| firings.binary_search(&row.firing).is_ok()));
    rows.sort_by_key(|row| row.firing);
    let lines = rows.len() + 1;
    for row in rows {
        let stamp =
            |at: Option<Moment>| at.map_or_else(String::new, |at| in_zone(at, &Local).to_string());
        table.write_record([
            row.firing.to_string(),
            cell(row.kiln),
            cell(row.load_type),
            row.cone.map_or("", |cone| cone.name()).into(),
            row.family.map_or("", |family| family.name()).into(),
            row.state.name().into(),
            stamp(row.lit),
            stamp(row.seen_down),
            stamp(row.off),
            stamp(row.drawn),
            row.verdict.map_or("", |verdict| verdict.name()).into(),
            row.loss.map_or_else(String::new, |loss| loss.to_string()),
            cell(row.note),
        ])?;
    }
    table.flush()?;
    Ok(lines)
}

fn write_readings(
    journal: &Journal,
    firings: Option<&[FiringId]>,
    out: &mut dyn Write,
) -> anyhow::Result<usize> {
    let mut table = csv::Writer::from_writer(out);
    table.write_record(["firing", "kiln", "at", "celsius"])?;
    let all: Vec<FiringId>;
    let firings = match firings {
        Some(firings) => firings,
        None => {
            let rows = journal.ledger(&LedgerFilter::default())?;
            let mut ids: Vec<FiringId> = rows.into_iter().map(|row| row.firing).collect();
            ids.sort_unstable();
            all = ids;
            &all
        }
    };
    let mut lines = 1;
    for id in firings {
        let firing = journal.firing(*id)?;
        lines += firing.readings.len();
        for (at, celsius) in &firing.readings {
            table.write_record([
                id.to_string(),
                cell(firing.kiln.clone()),
                in_zone(*at, &chrono::Utc).to_string(),
                celsius.0.to_string(),
            ])?;
        }
    }
    table.flush()?;
    Ok(lines)
}

fn import(args: &ImportArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let mut journal = ctx.journal_or_new()?;
    let mode = if args.dry_run { Mode::DryRun } else { Mode::Keep };
    let mut objects = Vec::new();
    let mut lines = Vec::new();
    let mut problems = Vec::new();
    for path in &args.files {
        let name = path.display().to_string();
        match import_file(&mut journal, path, ctx, mode) {
            Ok(imported) => {
                lines.push(format!("{name}: {}.", imported_words(&imported, mode)));
                objects.push(json!({
                    "file": name,
                    "dry_run": args.dry_run,
                    "events": imported.events,
                    "already_there": imported.already,
                    "new_firings": imported.firings,
                    "new_kilns": imported.kilns,
                }));
            }
            Err(reasons) => {
                objects.push(json!({ "file": name, "errors": reasons }));
                problems.extend(reasons.iter().map(|reason| format!("{name}: {reason}")));
            }
        }
    }
    if !lines.is_empty() || ctx.json {
        ctx.answer(&lines.join("\n"), &Value::from(objects))?;
    }
    if problems.is_empty() {
        return Ok(());
    }
    let text = format!(
        "{}\nNothing of such a file was taken in: mend the lines named and import it again.",
        problems.join("\n")
    );
    Err(Unusable(text).into())
}

/// One transaction for each file: it goes in whole, or (and on a dry run) not at all.
fn import_file(
    journal: &mut Journal,
    path: &Path,
    ctx: &Context<'_>,
    mode: Mode,
) -> Result<Imported, Vec<String>> {
    let file = record::open(path).map_err(|errors| said(&errors))?;
    journal.import(record::lines(file), ctx.now, mode).map_err(|errors| said(&errors))
}

fn said(errors: &[impl ToString]) -> Vec<String> {
    errors.iter().map(ToString::to_string).collect()
}

fn imported_words(imported: &Imported, mode: Mode) -> String {
    let Imported { events, already, firings, kilns } = imported;
    let verb = if mode == Mode::DryRun { "would be taken in" } else { "taken in" };
    let kilns = match kilns.as_slice() {
        [] => String::new(),
        new => format!(
            "; kilns nobody had described, listed as fired by gas: {} (\"spyhole kiln change\" describes them)",
            new.join(", ")
        ),
    };
    format!(
        "{events} events {verb}, {firings} new firings; {already} events were there already{kilns}"
    )
}
