//! `spyhole bell`: trying the ways to ring.

use std::thread;
use std::time::Duration;

use anyhow::bail;
use clap::{Args, Subcommand};
use serde_json::json;

use super::context::{Context, Unusable};
use crate::alarm::{Call, Priority, Target, WayName};
use crate::closed::Word;
use crate::edge::bell::Delivery;
use crate::edge::bell::equip::{Equipment, equip, plain_terminal};
use crate::edge::bell::settings::BellSettings;
use crate::edge::nearest::did_you_mean;

#[derive(Debug, Subcommand)]
pub enum BellCommand {
    /// Ring once by every way, or by one, and say which of them work.
    Test(TestArgs),
}

#[derive(Debug, Args)]
pub struct TestArgs {
    /// One way only: sound, desktop, terminal, command, speech, webhook, email, mqtt or page.
    #[arg(value_name = "WAY", value_parser = way)]
    way: Option<WayName>,
    /// How urgent it is to sound: highest, high, medium or low.
    #[arg(long, default_value = "medium", value_parser = priority)]
    priority: Priority,
}

fn way(text: &str) -> Result<WayName, String> {
    let names = WayName::ALL.map(WayName::name);
    WayName::named(text).ok_or_else(|| {
        format!("there are the ways {}{}", names.join(", "), did_you_mean(text, names))
    })
}

fn priority(text: &str) -> Result<Priority, String> {
    let names = Priority::ALL.map(Priority::name);
    Priority::ALL.into_iter().find(|priority| priority.name() == text).ok_or_else(|| {
        format!("there are the priorities {}{}", names.join(", "), did_you_mean(text, names))
    })
}

/// # Errors
/// Settings that cannot be used, or that no way rang.
pub fn run(command: &BellCommand, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let BellCommand::Test(args) = command;
    let Equipment { mut bell, settings, .. } = equip(&ctx.shop, ctx.scale, plain_terminal())?;
    let ways: Vec<WayName> = match args.way {
        Some(way) => vec![way],
        None => bell.ways().into_iter().collect(),
    };
    let targets = ways.iter().map(|way| target(*way, &settings)).collect();
    let call = Call {
        at: ctx.now,
        alarms: Vec::new(),
        priority: args.priority,
        count: 1,
        volume: 1.0,
        targets,
        fallback: Vec::new(),
        last_resort: Vec::new(),
        late: None,
    };
    let mut deliveries = bell.ring(&call);
    while bell.is_busy() {
        thread::sleep(Duration::from_millis(20));
        deliveries.extend(bell.poll());
    }
    deliveries.sort_by_key(|delivery| delivery.target.way);
    let settings_file = BellSettings::path(&ctx.shop);
    let object = json!({
        "settings": settings_file.display().to_string(),
        "ways": deliveries.iter().map(|delivery| json!({
            "way": delivery.target.way.name(),
            "works": delivery.result.is_ok(),
            "detail": detail(delivery),
        })).collect::<Vec<_>>(),
    });
    let mut lines: Vec<String> = deliveries
        .iter()
        .map(|delivery| {
            let verdict = if delivery.result.is_ok() { "rang" } else { "does not ring" };
            format!("{:<9} {verdict}: {}", delivery.target.way.name(), detail(delivery))
        })
        .collect();
    let there = if settings_file.exists() { "set in" } else { "could be set in" };
    lines.push(format!("Whom to call, and how, {there} {}", settings_file.display()));
    ctx.answer(&lines.join("\n"), &object)?;
    if deliveries.iter().all(|delivery| delivery.result.is_err()) {
        bail!(Unusable("no way to ring works here: nobody would be called".into()));
    }
    Ok(())
}

/// The first person who is called by this way.
fn target(way: WayName, settings: &BellSettings) -> Target {
    let person = settings.rota.people.iter().find(|person| person.ways.contains(&way));
    let (person, reach) =
        person.map_or_else(Default::default, |p| (p.name.clone(), p.reach.clone()));
    Target { person, reach, way }
}

fn detail(delivery: &Delivery) -> String {
    match &delivery.result {
        Ok(by) => by.clone(),
        Err(error) => error.to_string(),
    }
}
