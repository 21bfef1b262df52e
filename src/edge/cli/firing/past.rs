//! A firing of before, taken from paper: all of it in one entry, also while its kiln burns.

use clap::Args;
use serde_json::json;

use super::super::context::{Context, Unusable, kiln_named, load_type_named};
use super::step::unusable;
use super::verdict;
use crate::edge::draft::{Draft, Known};
use crate::edge::journal::NewEvent;
use crate::edge::record::Time;
use crate::firing::event::{Look, Outcome};
use crate::firing::{Counted, Kind, Seen, Verdict, What};
use crate::units::{Moment, Span};
use crate::words;

#[derive(Debug, Args)]
pub struct PastArgs {
    /// The kiln, for example North.
    pub kiln: String,
    /// The load type, for example gold.
    #[arg(long, value_name = "TYPE")]
    pub load: String,
    /// The target cone, if it is not the load type's own, for example 018.
    #[arg(long)]
    pub cone: Option<String>,
    /// When it was lit, for example "2026-03-14 8:10".
    #[arg(long, value_name = "TIME")]
    pub lit: String,
    /// When the target was seen down, if somebody wrote it down; a bare time is the first one after it was lit.
    #[arg(long, value_name = "TIME")]
    pub down: Option<String>,
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
    let lit = ctx.time(Some(&args.lit))?;
    let off = first_after(&args.off, lit.moment, ctx)?;
    let down = args.down.as_deref().map(|text| first_after(text, lit.moment, ctx)).transpose()?;
    let drawn = first_after(&args.drawn, off.moment, ctx)?;
    let mut draft = Draft::new(Kind::Lit, &kiln);
    draft.say("load_type", &load.name);
    draft.say("cone", args.cone.as_deref().unwrap_or_default());
    let known = Known { load_types: &shop.load_types, ..Known::default() };
    let begins = ctx.event(None, lit, draft.what(&known).map_err(unusable)?);
    let look = Look { target: Some(Seen::Down), ..Look::default() };
    let outcome = args.result.map(|verdict| Outcome {
        verdict,
        note: args.note.trim().to_owned(),
        shelves: Vec::new(),
        loss: None,
        counted: Counted::default(),
    });
    if outcome.is_none() && !args.note.trim().is_empty() {
        return Err(Unusable(words::NOTE_OF_NO_RESULT.into()).into());
    }
    let then = [
        down.map(|at| (at, What::Look(look))),
        Some((off, What::Off)),
        Some((drawn, What::Drawn)),
        outcome.map(|outcome| (drawn, What::Outcome(outcome))),
    ];
    let then: Vec<NewEvent> =
        then.into_iter().flatten().map(|(at, what)| ctx.event(None, at, what)).collect();
    let appended = journal.append_firing(&begins, &then, ctx.now)?;
    let firing = appended.firing.map(|firing| firing.0);
    let came = args.result.map_or_else(String::new, |verdict| format!(", {verdict}"));
    let sentence = format!(
        "{kiln} fired with {} from {} to {}{came}. Firing {}.",
        load.name,
        ctx.clock(lit.moment),
        ctx.clock(off.moment),
        firing.unwrap_or_default(),
    );
    let object = json!({
        "event_id": appended.id.0,
        "firing": firing,
        "kiln": kiln,
        "load_type": load.name,
        "lit_at": ctx.stamp(lit.moment),
        "seen_down_at": down.map(|at| ctx.stamp(at.moment)),
        "off_at": ctx.stamp(off.moment),
        "drawn_at": ctx.stamp(drawn.moment),
        "result": args.result.map(Verdict::name),
    });
    Ok(ctx.answer(&sentence, &object)?)
}

/// The time that is meant: without a day the first one after this.
fn first_after(text: &str, after: Moment, ctx: &Context<'_>) -> anyhow::Result<Time> {
    let day_later = (after + Span::hours(24)).min(ctx.now);
    let first = ctx.time_before(text, day_later).ok().filter(|time| time.moment >= after);
    Ok(first.map_or_else(|| ctx.time(Some(text)), Ok)?)
}
