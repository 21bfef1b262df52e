//! A firing of before, taken from paper: all of it in one entry, also while its kiln burns.

use clap::Args;
use serde_json::json;

use super::super::context::{Context, kiln_named, load_type_named};
use super::super::doubted::unusable;
use super::verdict;
use crate::edge::draft::Known;
use crate::edge::from_paper::FromPaper;
use crate::edge::journal::NewEvent;
use crate::edge::shop::store::Entry;
use crate::edge::time_entry;
use crate::firing::{Verdict, What};
use crate::units::Moment;

#[derive(Debug, Args)]
pub struct PastArgs {
    /// The kiln, for example North.
    pub kiln: String,
    /// The load type, for example gold.
    #[arg(long, value_name = "TYPE")]
    pub load: String,
    /// The target cone, if it is not the load type's own, for example 018.
    #[arg(long, default_value = "")]
    pub cone: String,
    /// When it was lit, for example "2026-03-14 8:10".
    #[arg(long, value_name = "TIME")]
    pub lit: String,
    /// When the target was last seen standing, if somebody wrote it down; needs --down as well. A bare time is the last one before that.
    #[arg(long, value_name = "TIME", default_value = "")]
    pub standing: String,
    /// When the target was seen down; needs --standing as well. A bare time is the last one before it was shut off.
    #[arg(long, value_name = "TIME", default_value = "")]
    pub down: String,
    /// When it was shut off; a bare time is the first one after it was lit.
    #[arg(long, value_name = "TIME")]
    pub off: String,
    /// When it was unloaded, about; a bare time is the first one after it was shut off.
    #[arg(long, value_name = "TIME")]
    pub drawn: String,
    /// How it came out: under, good, over or not-fired.
    #[arg(long, value_parser = verdict)]
    pub result: Option<Verdict>,
    /// A remark on how it came out.
    #[arg(long, default_value = "")]
    pub note: String,
}

pub(super) fn past(args: PastArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let mut journal = ctx.journal()?;
    let shop = journal.shop()?;
    let kiln = kiln_named(&shop, &args.kiln)?.name.clone();
    let load = load_type_named(&shop, &args.load)?;
    let paper = FromPaper {
        kiln: &kiln,
        load_type: &load.name,
        cone: &args.cone,
        lit: &args.lit,
        standing: &args.standing,
        down: &args.down,
        off: &args.off,
        drawn: &args.drawn,
        result: args.result.map_or("", Verdict::name),
        note: &args.note,
    };
    let known = Known { load_types: &shop.load_types, ..Known::default() };
    let read = |text: &str, until: Moment, meant| match ctx.time_before(text, until, meant) {
        Ok(time) => Ok(time.moment),
        Err(error) => Err(error.to_string()),
    };
    let told = paper.told(&known, ctx.now, &read).map_err(unusable)?;
    let Entry { at: lit, what: begins, then, .. } = told;
    let new =
        |at: Moment, what: What| ctx.event(None, time_entry::in_zone(at, &chrono::Local), what);
    let begins = new(lit, begins);
    let events: Vec<NewEvent> = then.iter().map(|(at, what)| new(*at, what.clone())).collect();
    let appended = journal.append_firing(&begins, &events, ctx.now)?;
    let when = |of: fn(&What) -> bool| then.iter().find(|(_, what)| of(what)).map(|(at, _)| *at);
    let stamp = |at: Option<Moment>| at.map(|at| ctx.stamp(at));
    let off = when(|what| *what == What::Off);
    let firing = appended.firing.map(|firing| firing.0);
    let sentence = format!(
        "{kiln} fired with {} from {} to {}{}. Firing {}.",
        load.name,
        ctx.clock(lit),
        off.map_or_else(String::new, |off| ctx.clock(off)),
        args.result.map_or_else(String::new, |verdict| format!(", {verdict}")),
        firing.unwrap_or_default(),
    );
    let object = json!({
        "event_id": appended.id.0,
        "firing": firing,
        "kiln": kiln,
        "load_type": load.name,
        "lit_at": ctx.stamp(lit),
        "seen_down_at": stamp(when(What::sees_down)),
        "off_at": stamp(off),
        "drawn_at": stamp(when(|what| *what == What::Drawn)),
        "result": args.result.map(Verdict::name),
    });
    ctx.answer(&sentence, &object)
}
