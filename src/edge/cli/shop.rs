//! What the shop has: kilns, load types, probes, and ware that waits to be fired.

use clap::Subcommand;
use serde_json::{Value, json};

use super::cone_answer;
use super::context::{Context, Unusable, kiln_named, load_type_named};
use super::doubted::{doubted, unusable};
use super::firing::{Entered, Said};
use crate::edge::draft::{Against, Draft, Known};
use crate::edge::form;
use crate::edge::journal::Journal;
use crate::edge::shop::clock::LocalZone;
use crate::firing::{Kind, Shop, What};
use crate::kiln::{Kiln, LoadType, same_name, starter};
use crate::plan::limits::HouseLimits;
use crate::ware::{self, Place, Ware};
use crate::words;

#[derive(Debug, Subcommand)]
pub enum ShopCommand {
    /// Add, list or change the kilns of the shop.
    Kiln {
        #[command(subcommand)]
        command: KilnCommand,
    },
    /// Add, list, show or change load types: which cone a kind of load goes to, and what it forgives.
    LoadType {
        #[command(subcommand)]
        command: LoadTypeCommand,
    },
    /// Write down that the probe of a kiln was changed or moved: its error is learned again, and no correction accepted before holds any longer.
    ProbeChanged(Entered<{ Kind::ProbeChanged as i64 }, false>),
    /// Write down ware that waits to be fired. Vague is welcome: only the load type has to be said.
    Lot(Entered<{ Kind::Lot as i64 }, true>),
    /// List the ware that waits to be fired.
    Waiting {
        /// Also what is in a kiln or done, with the firings it has been through.
        #[arg(long)]
        all: bool,
    },
    /// Say when somebody is in the shop, or list it: nothing is planned for hours when nobody is.
    Hours {
        #[command(subcommand)]
        command: HoursCommand,
    },
    /// Say what the plan keeps to: how many gas kilns at once, what power, cheap hours, and what you would rather have. What is not named stays.
    Limits(Entered<{ Kind::Limits as i64 }, true>),
    /// Say on which days the shop is closed. To take them back, strike the event.
    Closed(Entered<{ Kind::Closed as i64 }, false>),
}

#[derive(Debug, Subcommand)]
pub enum HoursCommand {
    /// Say the hours of some days of the week. The other days stay as they are.
    Set(Entered<{ Kind::Hours as i64 }, false>),
    /// List the hours of the week, the closed days, and what the plan keeps to.
    List,
}

#[derive(Debug, Subcommand)]
pub enum KilnCommand {
    /// Add a kiln. Its name is how you call it from then on. The first one begins the shop.
    Add(Entered<{ Kind::Kiln as i64 }, false>),
    /// List the kilns of the shop.
    List,
    /// Call a kiln by another name. Its records follow, and the earlier name still finds it.
    Rename(Entered<{ Kind::KilnRenamed as i64 }, false>),
    /// Take a kiln off the floor and off the lists of choices; its history stays. Refused while one of its firings is open.
    Retire(Entered<{ Kind::KilnRetired as i64 }, false>),
    /// Bring a retired kiln back to the floor.
    BringBack(Entered<{ Kind::KilnReturned as i64 }, false>),
    /// Change what is known of a kiln. What you do not name stays as it is.
    Change(Entered<{ Kind::Kiln as i64 }, true>),
}

#[derive(Debug, Subcommand)]
pub enum LoadTypeCommand {
    /// Add a load type.
    Add(Entered<{ Kind::LoadType as i64 }, false>),
    /// List the load types of the shop.
    List,
    /// Show one load type with everything that is known of it.
    Show {
        /// Its name.
        name: String,
    },
    /// Change a load type. What you do not name stays as it is.
    Change(Entered<{ Kind::LoadType as i64 }, true>),
}

/// # Errors
/// Whatever keeps the command from being done, with what to do about it.
pub fn run(command: ShopCommand, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    match command {
        ShopCommand::Kiln { command } => match command {
            KilnCommand::Add(Entered(said)) => add(&said, ctx),
            KilnCommand::List => list_kilns(ctx),
            KilnCommand::Change(Entered(said)) => change(&said, ctx),
            KilnCommand::Rename(Entered(said))
            | KilnCommand::Retire(Entered(said))
            | KilnCommand::BringBack(Entered(said)) => of_kiln(&said, ctx),
        },
        ShopCommand::LoadType { command } => match command {
            LoadTypeCommand::Add(Entered(said)) => add(&said, ctx),
            LoadTypeCommand::List => list_load_types(ctx),
            LoadTypeCommand::Show { name } => show_load_type(&name, ctx),
            LoadTypeCommand::Change(Entered(said)) => change(&said, ctx),
        },
        ShopCommand::ProbeChanged(Entered(said)) => probe_changed(&said, ctx),
        ShopCommand::Lot(Entered(said)) => lot(&said, ctx),
        ShopCommand::Waiting { all } => waiting(all, ctx),
        ShopCommand::Hours { command: HoursCommand::Set(Entered(said)) }
        | ShopCommand::Closed(Entered(said))
        | ShopCommand::Limits(Entered(said)) => note(&said, ctx),
        ShopCommand::Hours { command: HoursCommand::List } => list_hours(ctx),
    }
}

/// Adds a kiln or a load type.
fn add(said: &Said, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let journal = if said.kind == Kind::Kiln { ctx.journal_or_new()? } else { ctx.journal()? };
    let shop = journal.shop()?;
    let (known, command) = match said.kind {
        Kind::Kiln => (shop.kiln(&said.kiln).map(|kiln| &kiln.name), "kiln"),
        _ => (shop.load_type(&said.kiln).map(|load| &load.name), "load-type"),
    };
    if let Some(known) = known {
        let noun = said.kind;
        let text = format!(
            "there is a {noun} \"{known}\" already: to change it, use spyhole {command} change"
        );
        return Err(Unusable(text).into());
    }
    describe(said, Draft::new(said.kind, ""), "added", (journal, &shop), ctx)
}

/// Describes a kiln or a load type anew; what was not typed stays.
fn change(said: &Said, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let journal = ctx.journal()?;
    let shop = journal.shop()?;
    let known = match said.kind {
        Kind::Kiln => What::KilnSet(kiln_named(&shop, &said.kiln)?.clone()),
        _ => What::LoadTypeSet(load_type_named(&shop, &said.kiln)?.clone()),
    };
    describe(said, Draft::of(&known), "changed", (journal, &shop), ctx)
}

fn describe(
    said: &Said,
    known: Draft,
    done: &str,
    (journal, shop): (Journal, &Shop),
    ctx: &mut Context<'_>,
) -> anyhow::Result<()> {
    let name = known.said("name").to_owned();
    let mut draft = said.over(known);
    if !name.is_empty() {
        // It is called as it was, whatever the case that was typed.
        draft.say("name", &name);
    }
    let what = draft.what(&Known::default()).map_err(unusable)?;
    let known = Known { load_types: &shop.load_types, ..Known::default() };
    let kilns = shop.kilns.iter().map(|kiln| kiln.name.as_str()).collect();
    let against = Against { kilns, ..Against::of(known, ctx.now, ctx.dial()) };
    doubted(&what, ctx.now, &against, ctx)?;
    let sentence = match &what {
        What::LoadTypeSet(load) => {
            let cone = cone_answer::sentence(load.target, load.family, ctx.scale);
            format!("Load type {} {done}. {cone}", load.name)
        }
        _ => format!("Kiln {} {done}.", draft.said("name")),
    };
    set(what, None, &sentence, journal, ctx)
}

/// Writes what happens to a kiln itself: another name, off the floor or back, a remark on it while nothing
/// is in it.
pub fn of_kiln(said: &Said, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let journal = ctx.journal()?;
    let shop = journal.described()?;
    let kiln = kiln_named(&shop, &said.kiln)?.name.clone();
    let what = said.over(Draft::new(said.kind, &kiln)).what(&Known::default());
    let what = what.map_err(unusable)?;
    let others = shop.kilns.iter().filter(|other| other.name != kiln);
    let kilns = others.map(|other| other.name.as_str()).collect();
    let against = Against { kilns, ..Against::of(Known::default(), ctx.now, ctx.dial()) };
    doubted(&what, ctx.now, &against, ctx)?;
    let sentence = format!("{}.", words::event_phrase(&what, &kiln, &ctx.dial()));
    set(what, said.at.as_deref(), &sentence, journal, ctx)
}

fn probe_changed(said: &Said, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let journal = ctx.journal()?;
    let shop = journal.described()?;
    let kiln = kiln_named(&shop, &said.kiln)?.name.clone();
    let at = ctx.time(said.at.as_deref())?.moment;
    let mut sentence = format!(
        "The probe on {kiln} was changed or moved {}: its error is learned again from now on.",
        ctx.at(at)
    );
    if let Some((_, add_c)) = shop.corrections.in_force(&kiln, at) {
        let by = ctx.dial().difference(add_c);
        sentence += &format!(" The correction of {by} accepted before no longer holds.");
    }
    let what = said.over(Draft::new(said.kind, &kiln)).what(&Known::default());
    set(what.map_err(unusable)?, said.at.as_deref(), &sentence, journal, ctx)
}

/// Says what waits, or anew what was said of a lot.
fn lot(said: &Said, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let journal = ctx.journal()?;
    let shop = journal.described()?;
    let named = said.text("lot").unwrap_or_default();
    let before = shop.lots.iter().find(|lot| same_name(&lot.name, named));
    let next = before.map_or_else(
        || if named.is_empty() { ware::next_name(&shop.lots) } else { named.to_owned() },
        |lot| lot.name.clone(),
    );
    let draft = before.cloned().map(What::LotSet);
    let mut draft = said.over(draft.map_or(Draft::new(said.kind, ""), |lot| Draft::of(&lot)));
    draft.say("lot", &next);
    let load_type = &load_type_named(&shop, draft.said("load_type"))?.name;
    draft.say("load_type", load_type);
    if !draft.said("of_kiln").is_empty() {
        let kiln = &kiln_named(&shop, draft.said("of_kiln"))?.name;
        draft.say("of_kiln", kiln);
    }
    let clock = Some((ctx.now, ctx.dial()));
    let what = draft.what(&Known { load_types: &shop.load_types, clock, ..Known::default() });
    let what = what.map_err(unusable)?;
    let sentence = format!("Noted: {}.", words::event_phrase(&what, "", &ctx.dial()));
    set(what, None, &sentence, journal, ctx)
}

fn waiting(all: bool, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let journal = ctx.journal()?;
    let ware = journal.ware(&journal.described()?, &LocalZone)?;
    let shown: Vec<&Ware> = ware.iter().filter(|ware| all || ware.waits()).collect();
    let (now, dial) = (ctx.now, ctx.dial());
    let lines: Vec<String> = shown.iter().map(|ware| words::ware_line(ware, now, &dial)).collect();
    let objects = shown.iter().map(|ware| {
        let mut object = Value::Object(form::write(&What::LotSet(ware.lot.clone())));
        let (place, kiln) = match &ware.place {
            Place::Waits => ("waits", None),
            Place::In { kiln, state, .. } => (state.name(), Some(kiln)),
            Place::Done => ("done", None),
        };
        object["place"] = place.into();
        object["kiln"] = kiln.cloned().into();
        object["firings"] = ware.fired.iter().map(|firing| Value::from(firing.0)).collect();
        object
    });
    let objects: Vec<Value> = objects.collect();
    let none = || words::NOTHING_WAITS.into();
    let text = if lines.is_empty() { none() } else { lines.join("\n") };
    ctx.answer(&text, &json!({ "waiting": objects }))
}

/// Writes down what is said of the shop itself.
fn note(said: &Said, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let journal = ctx.journal()?;
    let known = match said.kind {
        Kind::Limits => Draft::of(&What::LimitsSet(journal.described()?.limits)),
        _ => Draft::new(said.kind, ""),
    };
    let what = said.over(known).what(&Known::default()).map_err(unusable)?;
    let sentence = format!("Noted: {}.", words::event_phrase(&what, "", &ctx.dial()));
    set(what, None, &sentence, journal, ctx)
}

fn list_hours(ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let Shop { hours, limits, .. } = ctx.journal()?.described()?;
    let object = |what: What| Value::Object(form::write(&what));
    let mut lines = Vec::new();
    let (mut week, mut closed) = (Vec::new(), Vec::new());
    for hours in hours.spans() {
        lines.push(words::hours_line(&hours, ctx.clock_face));
        week.push(object(What::Hours(hours)));
    }
    if week.is_empty() {
        let nobody = if hours.is_unknown() { words::NO_HOURS } else { words::NOBODY_ANY_DAY };
        lines.push(nobody.into());
    }
    for (event, days) in &hours.closed {
        lines.push(format!("{} (event {event})", words::closed_line(days)));
        let mut days = object(What::Closed(days.clone()));
        days["event_id"] = event.0.into();
        closed.push(days);
    }
    if limits != HouseLimits::default() {
        lines.push(words::limits_line(&limits, ctx.clock_face));
    }
    let limits = object(What::LimitsSet(limits));
    ctx.answer(&lines.join("\n"), &json!({ "hours": week, "closed": closed, "limits": limits }))
}

/// Writes an event of the shop and says so once it is on the disk.
fn set(
    what: What,
    at: Option<&str>,
    sentence: &str,
    mut journal: Journal,
    ctx: &mut Context<'_>,
) -> anyhow::Result<()> {
    let mut object = Value::Object(form::write(&what));
    let event = ctx.event(None, ctx.time(at)?, what);
    let appended = journal.append_checked(&event, ctx.now)?;
    object["event_id"] = appended.id.0.into();
    ctx.answer(&format!("{sentence} Event {}.", appended.id), &object)
}

fn list_kilns(ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let shop = ctx.journal()?.described()?;
    let scale = ctx.scale;
    let on_floor = shop.kilns.iter().map(|kiln| (kiln, false));
    let all: Vec<_> = on_floor.chain(shop.retired.iter().map(|kiln| (kiln, true))).collect();
    let line = |(kiln, retired): &(&Kiln, bool)| {
        words::kiln_line(kiln, scale) + if *retired { "  (retired)" } else { "" }
    };
    let lines: Vec<String> = all.iter().map(line).collect();
    let object = |(kiln, retired): &(&Kiln, bool)| {
        let mut object = Value::Object(form::write(&What::KilnSet((*kiln).clone())));
        object["retired"] = (*retired).into();
        object
    };
    let objects: Vec<Value> = all.iter().map(object).collect();
    let text = if lines.is_empty() {
        "This shop has no kiln yet. Add one with: spyhole kiln add North --fuel gas".into()
    } else {
        lines.join("\n")
    };
    ctx.answer(&text, &json!({ "kilns": objects }))
}

fn load_type_object(load_type: &LoadType) -> Value {
    let mut object = Value::Object(form::write(&What::LoadTypeSet(load_type.clone())));
    object["ends"] = cone_answer::object(load_type.target, load_type.family)["ends"].take();
    object["basis"] =
        if starter::is_as_it_came(load_type) { starter::BASIS } else { "your own" }.into();
    object
}

fn list_load_types(ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let shop = ctx.journal()?.described()?;
    let mut lines: Vec<String> = Vec::new();
    for load_type in &shop.load_types {
        let mark = if starter::is_as_it_came(load_type) { "  *" } else { "" };
        lines.push(format!("{}{mark}", words::load_type_line(load_type)));
    }
    if shop.load_types.iter().any(starter::is_as_it_came) {
        lines.push(format!("* {}", starter::BASIS));
    }
    let objects: Vec<Value> = shop.load_types.iter().map(load_type_object).collect();
    ctx.answer(&lines.join("\n"), &json!({ "load_types": objects }))
}

fn show_load_type(name: &str, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let shop = ctx.journal()?.described()?;
    let load_type = load_type_named(&shop, name)?;
    let mut lines = vec![
        load_type.name.clone(),
        cone_answer::sentence(load_type.target, load_type.family, ctx.scale),
        format!(
            "It forgives {} cones under (beyond that: {}) and {} cones over (beyond that: {}).",
            load_type.under_cones, load_type.under, load_type.over_cones, load_type.over
        ),
    ];
    if let Some(length) = load_type.usual_length {
        lines.push(format!("From lit to the drop it usually takes {length}."));
    }
    if let Some(schedule) = starter::schedule(load_type) {
        lines.push(format!("Its schedule is \"{schedule}\"."));
    }
    let cautions = load_type.cautions.iter();
    lines.extend(cautions.map(|caution| words::load_caution(caution, ctx.scale)));
    if starter::is_as_it_came(load_type) {
        lines.push(format!("This entry is from the starter set: {}.", starter::BASIS));
    }
    ctx.answer(&lines.join("\n"), &load_type_object(load_type))
}
