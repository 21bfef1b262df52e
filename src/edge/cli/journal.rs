//! `spyhole journal`: the care of the shop's file.

use std::path::PathBuf;

use clap::{Args, Subcommand};
use serde_json::json;

use super::context::{Context, Unusable};
use crate::edge::journal::{CheckReport, Journal, backup};
use crate::text::argument;

#[derive(Debug, Subcommand)]
pub enum JournalCommand {
    /// Check the shop's file: whether it is whole, and whether any clock jumped.
    Check(CheckArgs),
    /// Copy the shop's file, verify the copy, and keep a number of such copies.
    Backup(BackupArgs),
    /// Put a backup in the place of the shop's file, which is moved aside and kept.
    Restore(RestoreArgs),
}

#[derive(Debug, Args)]
pub struct CheckArgs {
    /// Make the summary of firings anew from their events. No event is touched.
    #[arg(long)]
    pub rebuild: bool,
}

#[derive(Debug, Args)]
pub struct BackupArgs {
    /// How many backups to keep, this one included. Without it: one each of the last 14 days, 8 weeks
    /// and 12 months, in at most a tenth of the free space.
    #[arg(long)]
    pub keep: Option<usize>,
}

#[derive(Debug, Args)]
pub struct RestoreArgs {
    /// The backup to use; the one that holds most if left out.
    pub from: Option<PathBuf>,
}

/// # Errors
/// Whatever keeps the command from being done, with what to do about it.
pub fn run(command: JournalCommand, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    match command {
        JournalCommand::Check(args) => check(&args, ctx),
        JournalCommand::Backup(args) => make_backup(&args, ctx),
        JournalCommand::Restore(args) => restore(&args, ctx),
    }
}

/// How many numbers of a list are shown to people; programs get them all.
const SHOWN: usize = 10;

fn check(args: &CheckArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    if !ctx.shop.exists() {
        let text = format!("there is no shop at {} yet, so nothing to check", ctx.shop.display());
        return Err(Unusable(text).into());
    }
    let mut journal = Journal::open(&ctx.shop)?;
    if args.rebuild {
        journal.rebuild_summary()?;
    }
    let report = journal.check()?;
    let object = json!({
        "whole": report.is_whole(),
        "events": report.events,
        "firings": report.firings,
        "damage": report.damage,
        "unreadable_event_ids": report.unreadable.iter().map(|id| id.0).collect::<Vec<_>>(),
        "unreadable_and_struck_event_ids":
            report.unreadable_and_struck.iter().map(|id| id.0).collect::<Vec<_>>(),
        "missing_events": report.missing,
        "orphaned_event_ids": report.orphans.iter().map(|id| id.0).collect::<Vec<_>>(),
        "stale_firings": report.stale.iter().map(|id| id.0).collect::<Vec<_>>(),
        "clock": report.clock.iter().map(|(id, oddity)| json!({
            "event_id": id.0, "oddity": oddity.to_string(),
        })).collect::<Vec<_>>(),
    });
    let whole = report.is_whole();
    ctx.answer(&check_words(&report), &object)?;
    if whole {
        return Ok(());
    }
    let advice = "the shop's file is not whole: \"spyhole journal restore\" brings back the last backup; what can be read stays readable";
    Err(Unusable(advice.into()).into())
}

fn check_words(report: &CheckReport) -> String {
    let mut lines = vec![format!("{} events of {} firings read.", report.events, report.firings)];
    lines.extend(report.damage.iter().map(|damage| format!("Damage: {damage}")));
    if report.missing > 0 {
        lines.push(format!("{} events are missing between the others.", report.missing));
    }
    let mut list = |what: &str, ids: &[String]| {
        if !ids.is_empty() {
            let more = if ids.len() > SHOWN { " ..." } else { "" };
            let shown = ids[..ids.len().min(SHOWN)].join(", ");
            lines.push(format!("{what}: {} ({shown}{more})", ids.len()));
        }
    };
    let ids = |ids: &[crate::firing::EventId]| ids.iter().map(ToString::to_string).collect();
    let unreadable: Vec<String> = ids(&report.unreadable);
    let orphans: Vec<String> = ids(&report.orphans);
    let stale: Vec<String> = report.stale.iter().map(ToString::to_string).collect();
    list("Events whose content is damaged or of a newer version", &unreadable);
    list(
        "Damaged events that were struck, so that no answer lacks them",
        &ids(&report.unreadable_and_struck),
    );
    list("Events that belong to nothing", &orphans);
    list(
        "Firings whose summary is out of date (mend it with: spyhole journal check --rebuild)",
        &stale,
    );
    for (id, oddity) in report.clock.iter().take(SHOWN) {
        lines.push(format!("Clock: event {id} was {oddity}."));
    }
    if report.clock.len() > SHOWN {
        lines.push(format!("Clock: {} more.", report.clock.len() - SHOWN));
    }
    if report.is_whole() {
        lines.push("The file is whole.".into());
    }
    lines.join("\n")
}

fn make_backup(args: &BackupArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    if !ctx.shop.exists() {
        let text = format!("there is no shop at {} yet, so nothing to copy", ctx.shop.display());
        return Err(Unusable(text).into());
    }
    let journal = Journal::open(&ctx.shop)?;
    let made = journal.backup(ctx.now, args.keep)?;
    let kept = backup::list(&ctx.shop).len();
    let path = made.display().to_string();
    let sentence = format!("Copied to {path} and verified. {kept} backups are kept.");
    ctx.answer(&sentence, &json!({ "file": path, "kept": kept }))
}

fn restore(args: &RestoreArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let backup::Prospect { from, lacks, fuller } =
        backup::prospect(&ctx.shop, args.from.as_deref())?;
    let mut lost = Vec::new();
    if lacks > 0 {
        lost.push(format!("The last {lacks} events of the shop are not in {}.", from.display()));
    }
    if let Some((fuller, more)) = &fuller {
        lost.push(format!("{} holds {more} events more.", fuller.display()));
    }
    if !lost.is_empty() {
        let remark = lost.join(" ");
        let done = " It is brought back all the same; what is there now is kept beside it.";
        ctx.asks_whether_meant(&remark, done, "nothing was brought back")?;
    }
    let restored = backup::restore(&ctx.shop, Some(&from), ctx.now)?;
    let mut sentence = format!(
        "The shop is back from {}, with {} events.",
        restored.from.display(),
        restored.events
    );
    if let Some(replaced) = &restored.replaced {
        sentence.push_str(&format!(" What was there before is kept as {}.", replaced.display()));
    }
    if let Some(rescued) = &restored.rescued {
        let rescued = rescued.display().to_string();
        sentence.push_str(&format!(
            " What was written meanwhile is in {rescued}: to bring it over, use \"spyhole --shop {} export -o meanwhile.jsonl\" and \"spyhole import meanwhile.jsonl\".",
            argument(&rescued)
        ));
    }
    let object = json!({
        "rescued": restored.rescued.as_ref().map(|path| path.display().to_string()),
        "from": restored.from.display().to_string(),
        "replaced": restored.replaced.as_ref().map(|path| path.display().to_string()),
        "events": restored.events,
        "lacks_events": lacks,
        "fuller": fuller.map(|(path, _)| path.display().to_string()),
    });
    ctx.answer(&sentence, &object)
}
