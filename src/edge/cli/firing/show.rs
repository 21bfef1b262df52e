//! What the journal knows, shown: status, ledger and history.

use serde_json::{Value, json};

use super::super::bench::of_shop;
use super::super::context::{Context, Unusable, kiln_named};
use super::{HistoryArgs, LedgerArgs};
use crate::edge::form;
use crate::edge::journal::{Journal, LedgerFilter, LedgerRow};
use crate::edge::shop::advised;
use crate::firing::{Event, EventId, Firing, FiringId, Kind, State, What, Who};
use crate::kiln::same_name;
use crate::review::own_record::OwnRecord;
use crate::scene::Phase;
use crate::units::{Moment, Span};
use crate::watch::agenda::Errand;
use crate::words::{self, Striking};

pub(super) fn status(ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let journal = ctx.journal()?;
    let snapshot = advised::snapshot(&journal, ctx.now)?;
    let scene = snapshot.scene(ctx.now);
    let dial = ctx.dial();
    let shop = &snapshot.shop;
    // A kiln that is packed again before its last load is written up shows one of the two.
    let say = |firing: &Firing| -> anyhow::Result<Said> {
        if shop.is_packed_over(firing) {
            let packed = words::packed_over(&firing.kiln, &packings(&journal, firing.id)?);
            return Ok(Said { sentence: Some(packed), ..Said::default() });
        }
        let kiln = scene.kilns.iter().find(|kiln| kiln.firing == Some(firing.id));
        Ok(Said {
            phase: kiln.map(|kiln| kiln.phase),
            sentence: kiln.map(|kiln| words::say(kiln, ctx.now, &dial)),
            doubt: kiln.and_then(|kiln| words::doubt(kiln, ctx.now, &dial, Striking::ByCommand)),
            request: kiln.and_then(|kiln| Some(kiln.request?.asked.name())),
            misread: kiln.is_some_and(|kiln| !kiln.believes_its_last_reading()),
        })
    };
    let (mut lines, mut objects) = (Vec::new(), Vec::new());
    for firing in &shop.open {
        let said = say(firing)?;
        lines.push(status_line(firing, &said, ctx));
        objects.push(status_object(firing, &said, ctx));
    }
    let record = OwnRecord::of_firings(&journal.past_glance()?);
    let mut text = match lines.is_empty() {
        true if scene.kilns.is_empty() => words::headline(&scene, &dial, Striking::ByCommand),
        true => "No kiln is packed, lit or cooling.".into(),
        false => lines.join("\n"),
    };
    let bench = of_shop(&journal, shop, ctx.now)?.errands(ctx.now);
    if let Some(first) = bench.first() {
        let line = words::agenda_line(first, ctx.now, &dial);
        text.push_str(&format!("\nAt the casting bench: {line}."));
    }
    if let Some(held) = words::held_line(record.told, words::DROPS) {
        text.push_str(&format!("\n{held}"));
    }
    let mut object = json!({
        "at": ctx.stamp(ctx.now),
        "headline": words::headline(&scene, &dial, Striking::ByCommand),
        "last_event_id": shop.last_event.map(|id| id.0),
        "firings": objects,
        "drops_held": { "held": record.told.hits, "of": record.told.of },
    });
    if !bench.is_empty() {
        let errand = |one: &Errand| json!({ "at": ctx.stamp(one.at), "task": one.task.name(), "moulds": one.kiln });
        object["bench"] = bench.iter().map(errand).collect();
    }
    ctx.answer(&text, &object)
}

/// The events that packed a firing and were not struck.
fn packings(journal: &Journal, firing: FiringId) -> anyhow::Result<Vec<EventId>> {
    let fold = journal.fold(firing)?;
    let packed = fold.standing_events().filter(|event| matches!(event.what, What::Packed(_)));
    Ok(packed.map(|event| event.id).collect())
}

/// What is to be done at a kiln, and what speaks against it.
#[derive(Default)]
struct Said {
    phase: Option<Phase>,
    sentence: Option<String>,
    doubt: Option<String>,
    request: Option<&'static str>,
    /// The last reading is not believed.
    misread: bool,
}

/// `North: watch, gold to cone 018, lit 3 h 20 min ago. Last reading 702 C at 12:25. Look at
/// North in 12 min, at 12:41.`
fn status_line(firing: &Firing, said: &Said, ctx: &Context<'_>) -> String {
    let cone = firing.pack.map_or_else(String::new, |pack| format!(" to cone {}", pack.target));
    // In the words of the screen.
    let state = match (said.phase, firing.state) {
        (None, State::Planned) => words::phase_word(Phase::Packed),
        (None, state) => state.name(),
        (Some(phase), _) => words::phase_word(phase),
    };
    let mut line = format!("{}: {state}, {}{cone}", firing.kiln, firing.load_type);
    let mut since = |word: &str, at: Option<Moment>| {
        if let Some(at) = at {
            let ago = ctx.now - at;
            let ago = if ago < Span::minutes(1) { "just now".into() } else { format!("{ago} ago") };
            line.push_str(&format!(", {word} {ago}"));
        }
    };
    match firing.state {
        State::Planned => {}
        State::Lit | State::Watching | State::Dropped => since("lit", firing.lit),
        State::Aborted => since("given up", firing.standing().off),
        State::Off | State::Cooling => since("off", firing.off),
        State::Drawn | State::Closed => since("drawn", firing.drawn),
    }
    line.push('.');
    if let Some((at, celsius)) = firing.readings.last() {
        let reading = celsius.display(ctx.scale);
        let doubt = if said.misread { words::NOT_BELIEVED } else { "" };
        line.push_str(&format!(" Last reading {reading} {}{doubt}.", ctx.at(*at)));
    }
    for sentence in said.sentence.iter().chain(&said.doubt) {
        line.push_str(&format!(" {sentence}"));
    }
    line
}

fn status_object(firing: &Firing, said: &Said, ctx: &Context<'_>) -> Value {
    let stamp = |at: Option<Moment>| at.map(|at| ctx.stamp(at));
    let reading = firing.readings.last();
    let look = firing.looks.last();
    json!({
        "firing": firing.id.0,
        "kiln": firing.kiln,
        "load_type": firing.load_type,
        "state": firing.state.name(),
        "cone": firing.pack.map(|pack| pack.target.name()),
        "cone_family": firing.pack.map(|pack| pack.family.name()),
        "schedule": firing.schedule,
        "lit_at": stamp(firing.lit),
        "seen_down_at": stamp(firing.seen_down()),
        "off_at": stamp(firing.standing().off),
        "drawn_at": stamp(firing.drawn),
        "last_reading_c": reading.map(|(_, celsius)| celsius.0),
        "last_reading_at": stamp(reading.map(|(at, _)| *at)),
        "last_look": look.map(|looked| form::write(&What::Look(looked.look))),
        "last_look_at": stamp(look.map(|looked| looked.at)),
        "request": said.request,
        "sentence": said.sentence,
        "doubt": said.doubt,
        "oddities": firing.oddities.iter().map(|odd| odd.kind.to_string()).collect::<Vec<_>>(),
    })
}

pub(super) fn ledger(args: LedgerArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let journal = ctx.journal()?;
    let since = args.since.as_deref().map(|since| ctx.time(Some(since))).transpose()?;
    let filter = LedgerFilter {
        kiln: args.kiln,
        load_type: args.load,
        result: args.result,
        since: since.map(|since| since.moment),
        until: None,
        limit: Some(args.limit),
    };
    let rows = journal.ledger(&filter)?;
    let objects: Vec<Value> = rows.iter().map(|row| ledger_object(row, ctx)).collect();
    let mut lines: Vec<(Moment, String)> =
        rows.iter().map(|row| (row.begun, ledger_line(row, ctx))).collect();
    let oldest = rows.last().map(|row| row.begun).filter(|_| rows.len() as u32 == args.limit);
    let oldest = oldest.into_iter().chain(filter.since).max();
    let shop = journal.described()?;
    let any_load = filter.load_type.is_none() && filter.result.is_none();
    let between: Vec<(&str, &Event)> = shop
        .of_kilns
        .iter()
        .filter_map(|event| Some((shop.names.now(event.what.of_kiln()?), event)))
        .filter(|(kiln, event)| {
            let asked = filter.kiln.as_ref().map(|asked| shop.names.now(asked));
            let of_kiln = asked.is_none_or(|asked| same_name(asked, kiln));
            any_load && of_kiln && oldest.is_none_or(|oldest| event.at >= oldest)
        })
        .collect();
    lines.extend(between.iter().map(|(kiln, event)| {
        let said = words::event_phrase(&event.what, kiln, &ctx.dial());
        (event.at, format!("{:>5}  {:<18} {said}", "", ctx.clock(event.at)))
    }));
    lines.sort_by_key(|(at, _)| std::cmp::Reverse(*at));
    let lines: Vec<String> = lines.into_iter().map(|(_, line)| line).collect();
    let between: Vec<Value> = between
        .iter()
        .map(|(kiln, event)| {
            let mut object = Value::Object(form::write(&event.what));
            object["kiln"] = (*kiln).into();
            object["event"] = Kind::of(&event.what).name().into();
            object["at"] = ctx.stamp(event.at).into();
            object
        })
        .collect();
    let text =
        if lines.is_empty() { "The ledger has no such firing.".into() } else { lines.join("\n") };
    ctx.answer(&text, &json!({ "firings": objects, "of_kilns": between }))
}

fn ledger_line(row: &LedgerRow, ctx: &Context<'_>) -> String {
    let result = row.verdict.map_or(row.state.name(), |verdict| verdict.name());
    let loss = row.loss.map_or_else(String::new, |loss| format!("  loss {loss}"));
    let odd = if row.oddities > 0 { "  (odd record: see its history)" } else { "" };
    format!(
        "{:>5}  {:<18} {:<12} {:<18} {:<6} {:<9} {}{loss}{odd}",
        row.firing,
        ctx.clock(row.begun),
        row.kiln,
        row.load_type,
        row.cone.map_or("", |cone| cone.name()),
        result,
        row.note
    )
}

fn ledger_object(row: &LedgerRow, ctx: &Context<'_>) -> Value {
    let stamp = |at: Option<Moment>| at.map(|at| ctx.stamp(at));
    json!({
        "firing": row.firing.0,
        "kiln": row.kiln,
        "load_type": row.load_type,
        "cone": row.cone.map(|cone| cone.name()),
        "cone_family": row.family.map(|family| family.name()),
        "state": row.state.name(),
        "lit_at": stamp(row.lit),
        "seen_down_at": stamp(row.seen_down),
        "off_at": stamp(row.off),
        "drawn_at": stamp(row.drawn),
        "result": row.verdict.map(|verdict| verdict.name()),
        "note": row.note,
        "loss": row.loss,
        "oddities": row.oddities,
    })
}

/// The youngest firing of a kiln, closed or not.
pub(super) fn last_of(journal: &Journal, kiln: &str) -> anyhow::Result<Option<FiringId>> {
    let filter =
        LedgerFilter { kiln: Some(kiln.into()), limit: Some(1), ..LedgerFilter::default() };
    Ok(journal.ledger(&filter)?.first().map(|row| row.firing))
}

pub(super) fn history(args: &HistoryArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let journal = ctx.journal()?;
    let firing = match (args.firing, &args.kiln) {
        (Some(firing), _) => firing,
        (None, Some(kiln)) => {
            let shop = journal.shop()?;
            let kiln = kiln_named(&shop, kiln)?.name.clone();
            let present = shop.firing_in(&kiln).map(|firing| firing.id);
            let last = match present {
                Some(firing) => Some(firing),
                None => last_of(&journal, &kiln)?,
            };
            last.ok_or_else(|| Unusable(format!("{kiln} has not been fired yet")))?
        }
        (None, None) => {
            return Err(Unusable("name a kiln, or a firing with --firing ID".into()).into());
        }
    };
    let fold = journal.fold(firing)?;
    let mut lines = Vec::new();
    let mut objects = Vec::new();
    for event in fold.events() {
        let struck = fold.is_struck(event.id);
        let corrected_by = fold.corrections().find(|(was, _)| *was == event.id).map(|(_, by)| by);
        let in_place_of = fold.corrections().find(|(_, by)| *by == event.id).map(|(was, _)| was);
        let odd = fold.firing().oddities.iter().find(|oddity| oddity.event == event.id);
        let mut line = history_line(event, ctx);
        match (corrected_by, in_place_of) {
            (Some(by), _) => line.push_str(&format!("  (corrected: see event {by})")),
            _ if struck => line.push_str("  (struck)"),
            (None, Some(was)) => line.push_str(&format!("  (in the place of event {was})")),
            _ => {}
        }
        if let Some(odd) = odd {
            line.push_str(&format!("\n       odd: {}", odd.kind));
        }
        // A correction is told at the entry itself and at the one in its place.
        let tells = !matches!(event.what, What::Struck { corrected_by: Some(_), .. }) || struck;
        lines.extend(tells.then_some(line));
        objects.push(json!({
            "event_id": event.id.0,
            "event": Kind::of(&event.what).name(),
            "at": ctx.stamp(event.at),
            "written": ctx.stamp(event.written),
            "who": who(&event.who),
            "fields": form::write(&event.what),
            "struck": struck,
            "odd": odd.map(|odd| odd.kind.to_string()),
        }));
    }
    ctx.answer(&lines.join("\n"), &json!({ "firing": firing.0, "events": objects }))
}

/// `   17  9:10               reading       712 C  by Ida`
fn history_line(event: &Event, ctx: &Context<'_>) -> String {
    let fields: Vec<String> = form::write(&event.what)
        .into_iter()
        .map(|(key, value)| {
            let text = match (&event.what, key.as_str()) {
                (What::Lit(lit), "plan") => words::plan_text(&lit.plan, ctx.scale),
                (What::Reading(celsius), "celsius") => return celsius.display(ctx.scale),
                _ => value.as_str().map_or_else(|| value.to_string(), str::to_owned),
            };
            format!("{} {text}", key.replace('_', " "))
        })
        .collect();
    let late = event.written - event.at;
    let late =
        if late > Span::minutes(1) { format!("  (written {late} later)") } else { String::new() };
    let by = who(&event.who);
    let by = if by.is_empty() { by } else { format!("  by {by}") };
    format!(
        "{:>6}  {:<18} {:<13} {}{by}{late}",
        event.id,
        ctx.clock(event.at),
        Kind::of(&event.what).name().replace('_', " "),
        fields.join(", ")
    )
}

fn who(who: &Who) -> String {
    match who {
        Who::Person(name) => name.clone(),
        Who::Probe(name) => format!("probe {name}"),
        Who::Program => "the program".into(),
    }
}
