//! The steps of a firing, each one event.

use serde_json::{Map, Value};

use super::super::context::{Context, Unusable, kiln_named};
use super::{
    AbortArgs, GlowArgs, LookArgs, NoteArgs, OutcomeArgs, ReadArgs, StepArgs, StrikeArgs, TurnArgs,
    When,
};
use crate::cone::Cone;
use crate::cooling::{Cooling, USUAL_DRAW_BELOW};
use crate::edge::form;
use crate::edge::house_file::House;
use crate::edge::journal::{Journal, JournalError, PAST_FIRINGS, StoredEvent};
use crate::edge::shipped_schedules;
use crate::firing::event::{GlowSeen, Look, Outcome, ShelfCone};
use crate::firing::{Event, EventId, Firing, FiringId, Refusal, Seen, Shop, What, Who};
use crate::forecast::misfit::{Against, misfit};
use crate::glow::{Glow, GlowWord};
use crate::kiln::same_name;
use crate::scene::advices;
use crate::units::{Celsius, Moment, Scale};
use crate::words;

pub(super) fn read(args: &ReadArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let what = What::Reading(args.temperature);
    let done = format!("read {} at", args.temperature.display(ctx.scale));
    enter(&args.kiln, &args.when, what, &done, ctx)
}

pub(super) fn look(args: &LookArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let look = Look { target: args.target, guide: args.guide, guard: args.guard };
    if look == Look::default() {
        let text = "a look says what at least one cone does: add --target, --guide or --guard with standing, leaning, half or down";
        return Err(Unusable(text.into()).into());
    }
    let seen = [("guide", look.guide), ("target", look.target), ("guard", look.guard)];
    let seen: Vec<String> =
        seen.into_iter().filter_map(|(cone, seen)| Some(format!("{cone} {}", seen?))).collect();
    let done = format!("looked at, {}, at", seen.join(", "));
    if let Some(question) = contradiction(&look, args, ctx)? {
        ask(&question, ctx)?;
    }
    enter(&args.kiln, &args.when, What::Look(look), &done, ctx)?;
    if look.target == Some(Seen::Down) && !ctx.json {
        let kiln = &args.kiln;
        let next = format!(
            "The target is down: shut it off now, then say so with \"spyhole off {kiln}\"."
        );
        writeln!(ctx.out, "{next}")?;
    }
    Ok(())
}

pub(super) fn glow(args: &GlowArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let said = args.colour.join(" ").replace(['-', '_'], " ");
    let wrong =
        match (said.is_empty(), super::word("colour", &said, &GlowWord::ALL, GlowWord::name)) {
            (false, Ok(colour)) => {
                let glow = GlowSeen { colour, room_dark: !args.room_light };
                let done = match colour {
                    GlowWord::NoGlow => "does not glow yet, at".into(),
                    _ => format!("glows {} at", colour.name()),
                };
                return enter(&args.kiln, &args.when, What::Glow(glow), &done, ctx);
            }
            (false, Err(error)) => error.to_string(),
            (true, _) => {
                format!("no colour is named: write it like \"spyhole glow {} dark red\"", args.kiln)
            }
        };
    let swatches = ctx.interactive && std::env::var_os("NO_COLOR").is_none();
    let colours = GlowWord::ALL.map(|word| colour_line(word, swatches, ctx.scale));
    Err(Unusable(format!("{wrong}\n{}", colours.join("\n"))).into())
}

/// `  dark red      705 C to 814 C`, with a patch of the colour before it.
fn colour_line(word: GlowWord, swatch: bool, scale: Scale) -> String {
    let patch = Glow::of(word.middle()).filter(|_| swatch).map_or(String::new(), |glow| {
        let (red, green, blue) = glow.colour();
        format!("\x1b[48;2;{red};{green};{blue}m    \x1b[0m ")
    });
    let (low, high) = word.range_c();
    let [low, high] = [low, high].map(|c| Celsius(c).display(scale));
    format!("  {patch}{:<13} {low} to {high}", word.name())
}

pub(super) fn turn(args: TurnArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let done = format!("turned to {} at", args.to.trim());
    let what = What::Turned { to: said("setting", &args.to)? };
    enter(&args.kiln, &args.when, what, &done, ctx)
}

pub(super) fn note(args: NoteArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let what = What::Note { text: said("note", &args.text)? };
    enter(&args.kiln, &args.when, what, "noted at", ctx)
}

pub(super) fn off(args: &StepArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    enter(&args.kiln, &args.when, What::Off, "off at", ctx)
}

pub(super) fn abort(args: AbortArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let what = What::Aborted { reason: args.reason.trim().into() };
    enter(&args.kiln, &args.when, what, "given up at", ctx)
}

pub(super) fn resume(args: &StepArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    enter(&args.kiln, &args.when, What::Resumed, "resumed at", ctx)?;
    if !ctx.json {
        let caution = "Caution: never relight a hot gas kiln without purging it first; the maker's manual comes before this program.";
        writeln!(ctx.out, "{caution}")?;
    }
    Ok(())
}

pub(super) fn drawn(args: &StepArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let journal = ctx.journal()?;
    if let Some(firing) = meant(&journal, &args.kiln, &args.when)? {
        let at = ctx.time(args.when.at.as_deref())?.moment;
        let below = House::read(&ctx.shop).ok().and_then(|house| house.draw_below);
        let cooling = Cooling::of(&firing, &journal.past(PAST_FIRINGS)?);
        let below = below.unwrap_or(USUAL_DRAW_BELOW);
        if let Some(why) = cooling.and_then(|cooling| cooling.too_hot(below, at)) {
            let dial = ctx.dial();
            let said = words::may_be_too_hot(why, &firing.kiln, at, ctx.now, &dial);
            ask(&format!("{said}. {}", words::CAUTION_DRAW), ctx)?;
        }
    }
    drop(journal);
    enter(&args.kiln, &args.when, What::Drawn, "drawn at", ctx)
}

/// The firing that is meant, if there is one; what is wrong with it is said when it is written to.
fn meant(journal: &Journal, kiln: &str, when: &When) -> anyhow::Result<Option<Firing>> {
    Ok(match when.firing {
        Some(firing) => journal.firing(firing).ok(),
        None => journal.shop()?.firing_in(kiln).cloned(),
    })
}

/// Why a look is hard to believe: it is against the order of the cones, against another look, or
/// against all else that is known.
fn contradiction(
    look: &Look,
    args: &LookArgs,
    ctx: &mut Context<'_>,
) -> anyhow::Result<Option<String>> {
    let journal = ctx.journal()?;
    let at = ctx.time(args.when.at.as_deref())?.moment;
    let firing = meant(&journal, &args.kiln, &args.when)?.unwrap_or_default();
    let mut chance = None;
    if look.target == Some(Seen::Down) && firing.burns() {
        let shop = Shop { open: vec![firing.clone()], ..journal.described()? };
        let past = journal.past(PAST_FIRINGS)?;
        let advices = advices(&shop, &past, shipped_schedules::plan, at);
        let forecast = advices.into_iter().find_map(|(_, advice)| advice.forecast.ok());
        chance = forecast.map(|forecast| forecast.dropped);
    }
    let dial = ctx.dial();
    Ok(words::ask_of_look(look, at, &firing.looks, chance, (ctx.now, &dial)))
}

/// Something hard to believe is asked about, or warned of when nobody is there.
fn ask(remark: &str, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let done = " It is written as you said; \"spyhole strike\" takes it back.";
    ctx.asks_whether_meant(remark, done, "nothing was written")
}

pub(super) fn outcome(args: OutcomeArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let done = format!("came out {}, noted at", args.result);
    let what = What::Outcome(Outcome {
        verdict: args.result,
        note: args.note.trim().into(),
        shelves: args.shelf,
        loss: args.loss,
    });
    enter(&args.kiln, &args.when, what, &done, ctx)
}

/// Writes one event of a firing and answers once it is on the disk.
fn enter(
    kiln: &str,
    when: &When,
    what: What,
    done: &str,
    ctx: &mut Context<'_>,
) -> anyhow::Result<()> {
    let mut journal = ctx.journal()?;
    let shop = journal.shop()?;
    let (kiln, firing) = match when.firing {
        Some(firing) => (of_firing(&journal, firing, kiln)?, firing),
        None => present_firing(&shop, &journal, kiln, &what)?,
    };
    let at = ctx.time(when.at.as_deref())?;
    let misfit = match what {
        What::Reading(celsius) => Misfitting::of(&journal, firing, (at.moment, celsius), ctx)?,
        _ => None,
    };
    if let Some(misfit) = misfit.as_ref().filter(|misfit| misfit.other_scale && ctx.interactive) {
        ask(&misfit.said, ctx)?;
    }
    let mut object = Map::new();
    let fields = form::write(&what);
    let appended = journal.append_checked(&ctx.event(Some(firing), at, what), ctx.now)?;
    let state = journal.firing(firing)?.state;
    object.insert("event_id".into(), appended.id.0.into());
    object.insert("firing".into(), firing.0.into());
    object.insert("kiln".into(), kiln.clone().into());
    object.insert("at".into(), ctx.stamp(at.moment).into());
    object.insert("state".into(), state.name().into());
    object.extend(fields);
    let mut sentence = format!("{kiln} {done} {}. Event {}.", ctx.clock(at.moment), appended.id);
    if let Some(Misfitting { said, before, .. }) = misfit {
        let doubt = format!("{said} {}", words::strike_misfit(appended.id, before));
        sentence += &format!("\n{doubt}");
        object.insert("doubt".into(), doubt.into());
    }
    ctx.answer(&sentence, &Value::Object(object))?;
    Ok(())
}

/// A reading that does not fit.
struct Misfitting {
    said: String,
    other_scale: bool,
    /// The reading before it, where that one may be the wrong one.
    before: Option<EventId>,
}

impl Misfitting {
    fn of(
        journal: &Journal,
        firing: FiringId,
        (at, celsius): (Moment, Celsius),
        ctx: &Context<'_>,
    ) -> anyhow::Result<Option<Misfitting>> {
        let mut fold = journal.fold(firing)?;
        let (id, who) = (EventId(i64::MAX), Who::Person(ctx.who.clone()));
        let what = What::Reading(celsius);
        fold.apply(Event { id, firing: Some(firing), at, written: ctx.now, who, what });
        let past = journal.past(PAST_FIRINGS)?;
        let Some(misfit) = misfit(fold.firing(), (at, celsius), &past) else { return Ok(None) };
        let before = match misfit.against {
            Against::Before { last, few: true, .. } => fold.standing_events().find(|event| {
                event.at == last.0 && event.what == What::Reading(last.1) && event.id != id
            }),
            _ => None,
        };
        Ok(Some(Misfitting {
            said: words::misfit(&misfit, (at, celsius), &ctx.dial()),
            other_scale: misfit.other_scale.is_some(),
            before: before.map(|event| event.id),
        }))
    }
}

/// The kiln of a firing named by its number, which has to be the kiln that was named.
pub(super) fn of_firing(journal: &Journal, firing: FiringId, kiln: &str) -> anyhow::Result<String> {
    let folded = journal.firing(firing)?;
    if !same_name(&folded.kiln, kiln) {
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
    // A remark belongs to the last firing even when that one is closed.
    if let (What::Note { .. }, Some(last)) = (what, super::show::last_of(journal, &kiln)?) {
        return Ok((kiln, last));
    }
    Err(Refusal::NotLit { kiln, step: what.phrase() }.into())
}

pub(super) fn strike(args: StrikeArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let mut journal = ctx.journal()?;
    let reason = said("reason", &args.reason)?;
    let event = match args.event {
        Some(event) => event,
        None => last_standing(&journal)?,
    };
    let (kind, at, firing) = match journal.event(event) {
        Ok(StoredEvent { event, .. }) => {
            (form::Kind::of(&event.what).name(), event.at, event.firing)
        }
        // What cannot be read can still be taken back.
        Err(JournalError::Unread(event)) => {
            (event.kind.unwrap_or("unknown"), event.at, event.firing)
        }
        Err(error) => return Err(error.into()),
    };
    let what = What::Struck { event, reason: reason.clone() };
    let struck = ctx.event(firing, ctx.time(None)?, what);
    let appended = journal.append_checked(&struck, ctx.now)?;
    let sentence = format!(
        "Event {event} ({} at {}) struck. It stays in the history. Event {}.",
        kind.replace('_', " "),
        ctx.clock(at),
        appended.id
    );
    let object = serde_json::json!({
        "event_id": appended.id.0,
        "firing": firing.map(|firing| firing.0),
        "struck": event.0,
        "reason": reason,
    });
    ctx.answer(&sentence, &object)?;
    Ok(())
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

fn said(what: &str, text: &str) -> Result<String, Unusable> {
    let text = text.trim();
    if text.is_empty() {
        return Err(Unusable(format!("the {what} is empty: say it in a few words")));
    }
    Ok(text.into())
}

/// Reads `top left=018:down`.
pub(super) fn shelf(text: &str) -> Result<ShelfCone, Unusable> {
    let bad = |reason: String| {
        Unusable(format!("shelf \"{text}\" {reason}: write it like \"top left=018:down\""))
    };
    let (place, rest) = text.split_once('=').ok_or_else(|| bad("has no \"=\"".into()))?;
    let (cone, lean) = rest.split_once(':').ok_or_else(|| bad("has no \":\"".into()))?;
    Ok(ShelfCone {
        place: said("place", place)?,
        cone: Cone::parse(cone).map_err(|error| bad(format!("names no cone ({error})")))?,
        seen: super::seen(lean)?,
    })
}
