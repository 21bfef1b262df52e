//! The steps of a firing, each one event.

use serde_json::{Map, Value};

use super::super::context::{Context, Unusable, kiln_named};
use super::super::doubted::{ask, doubted, unusable};
use super::super::shop;
use super::{Said, StrikeArgs};
use crate::cooling::{Cooling, USUAL_DRAW_BELOW};
use crate::edge::draft::{Against, Draft, Known};
use crate::edge::form;
use crate::edge::house_file::House;
use crate::edge::journal::{Journal, JournalError, PAST_FIRINGS, StoredEvent};
use crate::edge::shop::advised::advised;
use crate::firing::{
    After, Event, EventId, Firing, FiringId, Fold, Kind, Refusal, Seen, Shop, What, Who,
};
use crate::forecast::misfit::{Against as MisfitAgainst, misfit};
use crate::glow::GlowWord;
use crate::kiln::{Fuel, same_name};
use crate::text::argument;
use crate::units::{Celsius, Moment, Scale};
use crate::words;

/// What was done, and when.
fn done(what: &What, kiln: &str, at: &str, scale: Scale) -> String {
    let done = match what {
        What::Look(look) => {
            return format!("Looked at {kiln} {at}: {}.", words::look_phrase(look));
        }
        What::Note { .. } => return format!("Note on {kiln} saved {at}."),
        What::Reading(celsius) => format!("read {}", celsius.display(scale)),
        What::Glow(glow) if glow.colour == GlowWord::NoGlow => "does not glow yet,".into(),
        What::Glow(glow) => format!("glows {}", glow.colour),
        What::Turned { to } => format!("set to {to}"),
        What::Aborted { .. } => "given up".into(),
        What::Resumed => "lit again".into(),
        What::Drawn => "unloaded".into(),
        What::Outcome(outcome) => format!("{}, noted", words::came_out_so(outcome)),
        _ => Kind::of(what).to_string(),
    };
    format!("{kiln} {done} {at}.")
}

/// What is to be said after it.
fn next(
    what: &What,
    (kiln, fuel): (&str, Fuel),
    after: Option<After>,
    scale: Scale,
) -> Option<String> {
    match (what, after) {
        (What::Look(look), Some(After { leg, .. })) if look.target == Some(Seen::Down) => {
            let order = words::leg_order(&leg, scale);
            Some(format!(
                "The target is down. The schedule of {kiln} goes on: {order}. Turn it down and record the setting, or shut it off."
            ))
        }
        (What::Look(look), None) if look.target == Some(Seen::Down) => Some(format!(
            "The target is down: shut it off now, then say so with \"spyhole off {}\".",
            argument(kiln)
        )),
        (What::Resumed, _) => Some(format!("Caution: {}", words::caution_relight(fuel))),
        _ => None,
    }
}

/// The chance that the target has dropped, where somebody says that it is down.
fn dropped(
    what: &What,
    firing: &Firing,
    journal: &Journal,
    at: Moment,
) -> anyhow::Result<Option<f64>> {
    let down = matches!(what, What::Look(look) if look.target == Some(Seen::Down));
    if !down || !firing.burns() {
        return Ok(None);
    }
    let shop = Shop { open: vec![firing.clone()], ..journal.described()? };
    let forecast =
        advised(journal, &shop, at)?.into_iter().find_map(|(_, advice)| advice.forecast.ok());
    Ok(forecast.map(|forecast| forecast.dropped))
}

/// Writes one event of a firing and answers once it is on the disk.
pub(super) fn enter(said: &Said, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let mut journal = ctx.journal()?;
    let what = said.over(Draft::new(said.kind, &said.kiln)).what(&Known::default());
    let what = what.map_err(unusable)?;
    // The firing is added up once, on the way to the shop, where what is said is held against it.
    let against = matches!(what, What::Look(_) | What::Off | What::Drawn | What::Reading(_));
    let mut folds: Vec<Fold> = Vec::new();
    let shop = journal.shop_seeing(|fold| {
        folds.extend(against.then(|| fold.clone()));
    })?;
    let empty = said.firing.is_none() && shop.firing_in(&said.kiln).is_none();
    if let (What::Note { .. }, true) = (&what, empty) {
        return shop::of_kiln(&Said { kind: Kind::KilnNote, ..said.clone() }, ctx);
    }
    let (kiln, firing) = match said.firing {
        Some(firing) => (of_firing(&journal, firing, &said.kiln)?, firing),
        None => present_firing(&shop, &journal, &said.kiln, &what)?,
    };
    let at = ctx.entry_time(said.at.as_deref(), said.kind)?;
    let fold = folds.into_iter().find(|fold| fold.firing().id == firing);
    let fold = || fold.map_or_else(|| journal.fold(firing), Ok);
    let misfit = if let What::Reading(celsius) = what {
        Misfitting::of(&journal, fold()?, (at.moment, celsius), ctx)?
    } else if against {
        let folded = fold()?.into_firing();
        let below = House::or_usual(&ctx.shop).draw_below;
        let cooling = Cooling::of(&folded, &journal.past(PAST_FIRINGS)?);
        let against = Against {
            kiln: &kiln,
            cooling: cooling.as_ref().map(|cooling| (cooling, below.unwrap_or(USUAL_DRAW_BELOW))),
            looks: &folded.looks,
            seen_down: folded.down_by(at.moment).is_some(),
            dropped: dropped(&what, &folded, &journal, at.moment)?,
            ..Against::of(Known::default(), ctx.now, ctx.dial())
        };
        doubted(&what, at.moment, &against, ctx)?;
        None
    } else {
        None
    };
    if let Some(misfit) = misfit.as_ref().filter(|misfit| misfit.is_asked && ctx.interactive) {
        ask(&misfit.said, ctx)?;
    }
    let wanted = what.clone();
    let mut object = Map::new();
    let fields = form::write(&what);
    let appended = journal.append_checked(&ctx.event(Some(firing), at, what), ctx.now)?;
    let state = journal.state_of(firing)?;
    let after = match wanted {
        What::Look(_) => journal.firing(firing)?.order_after(ctx.now),
        _ => None,
    };
    let fuel = shop.kiln(&kiln).map_or(Fuel::Gas, |kiln| kiln.fuel);
    let next = next(&wanted, (&kiln, fuel), after, ctx.scale);
    object.insert("event_id".into(), appended.id.0.into());
    object.insert("firing".into(), firing.0.into());
    object.insert("kiln".into(), kiln.clone().into());
    object.insert("at".into(), ctx.stamp(at.moment).into());
    object.insert("state".into(), state.name().into());
    object.extend(fields);
    let done = done(&wanted, &kiln, &ctx.at(at.moment), ctx.scale);
    let mut sentence = format!("{done} Event {}.", appended.id);
    if let Some(Misfitting { said, before, .. }) = misfit {
        let doubt = format!("{said} {}", words::strike_misfit(appended.id, before));
        sentence += &format!("\n{doubt}");
        object.insert("doubt".into(), doubt.into());
    }
    ctx.answer(&sentence, &Value::Object(object))?;
    if let Some(next) = next.filter(|_| !ctx.json) {
        writeln!(ctx.out, "{next}")?;
    }
    Ok(())
}

/// A reading that does not fit.
struct Misfitting {
    said: String,
    is_asked: bool,
    /// The reading before it, where that one may be the wrong one.
    before: Option<EventId>,
}

impl Misfitting {
    fn of(
        journal: &Journal,
        mut fold: Fold,
        (at, celsius): (Moment, Celsius),
        ctx: &Context<'_>,
    ) -> anyhow::Result<Option<Misfitting>> {
        let firing = fold.firing().id;
        let (id, who) = (EventId(i64::MAX), Who::Person(ctx.who.clone()));
        let what = What::Reading(celsius);
        fold.apply(Event { id, firing: Some(firing), at, written: ctx.now, who, what });
        let past = journal.past(PAST_FIRINGS)?;
        let Some(misfit) = misfit(fold.firing(), (at, celsius), &past) else { return Ok(None) };
        let before = match misfit.against {
            MisfitAgainst::Before { last, few: true, .. } => fold.standing_events().find(|event| {
                event.at == last.0 && event.what == What::Reading(last.1) && event.id != id
            }),
            _ => None,
        };
        Ok(Some(Misfitting {
            said: words::misfit(&misfit, (at, celsius), &ctx.dial()),
            is_asked: misfit.is_asked(),
            before: before.map(|event| event.id),
        }))
    }
}

/// The kiln of a firing named by its number, which has to be the kiln that was named.
pub(super) fn of_firing(journal: &Journal, firing: FiringId, kiln: &str) -> anyhow::Result<String> {
    let folded = journal.firing(firing)?;
    if !same_name(&folded.kiln, journal.described()?.names.now(kiln)) {
        let text = format!("firing {firing} is of kiln {}, not of {kiln}", folded.kiln);
        return Err(Unusable(text).into());
    }
    Ok(folded.kiln)
}

/// The firing that is meant by a kiln's name: an outcome is for the one that is drawn, everything
/// else for the one that burns or cools.
fn present_firing(
    shop: &Shop,
    journal: &Journal,
    kiln: &str,
    what: &What,
) -> anyhow::Result<(String, FiringId)> {
    let kiln = kiln_named(shop, kiln)?.name.clone();
    let firing = match what {
        What::Outcome(_) => shop.unjudged_in(&kiln).or_else(|| shop.firing_in(&kiln)),
        _ => shop.firing_in(&kiln),
    };
    if let Some(firing) = firing {
        return Ok((kiln, firing.id));
    }
    // An outcome belongs to the last firing even when that one is closed, and is refused for what it is.
    if matches!(what, What::Outcome(_))
        && let Some(last) = super::show::last_of(journal, &kiln)?
    {
        return Ok((kiln, last));
    }
    Err(Refusal::NotLit { kiln, step: what.phrase() }.into())
}

pub(super) fn strike(args: StrikeArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let mut journal = ctx.journal()?;
    let reason = args.reason.trim().to_owned();
    if reason.is_empty() {
        return Err(Unusable(words::is_empty("reason")).into());
    }
    let event = match args.event {
        Some(event) => event,
        None => last_standing(&journal)?,
    };
    let (kind, at, firing) = match journal.event(event) {
        Ok(StoredEvent { event, .. }) => (Kind::of(&event.what).name(), event.at, event.firing),
        // What cannot be read can still be taken back.
        Err(JournalError::Unread(event)) => {
            (event.kind.unwrap_or("unknown"), event.at, event.firing)
        }
        Err(error) => return Err(error.into()),
    };
    let what = What::Struck { event, reason: reason.clone(), corrected_by: None };
    let struck = ctx.event(firing, ctx.time(None)?, what);
    let appended = journal.append_checked(&struck, ctx.now)?;
    let sentence = format!(
        "Event {event} ({} {}) struck. It stays in the history. Event {}.",
        kind.replace('_', " "),
        ctx.at(at),
        appended.id
    );
    let object = serde_json::json!({
        "event_id": appended.id.0,
        "firing": firing.map(|firing| firing.0),
        "struck": event.0,
        "reason": reason,
    });
    ctx.answer(&sentence, &object)
}

/// The last event somebody entered that is neither struck nor a strike itself.
fn last_standing(journal: &Journal) -> anyhow::Result<EventId> {
    let nothing = || Unusable("nothing has been written yet, so there is nothing to strike".into());
    let mut id = journal.last_event()?.ok_or_else(nothing)?;
    let mut taken_back = Vec::new();
    loop {
        match journal.event(id).map(|stored| stored.event.what) {
            Ok(What::Struck { event, .. }) => taken_back.push(event),
            Ok(what) if what.is_of_the_watch() => {}
            Ok(_) if !taken_back.contains(&id) => return Ok(id),
            // Nobody takes back unnamed what nobody can read.
            Err(error) if !taken_back.contains(&id) => return Err(error.into()),
            Ok(_) | Err(_) => {}
        }
        if id.0 == 1 {
            return Err(nothing().into());
        }
        id = EventId(id.0 - 1);
    }
}
