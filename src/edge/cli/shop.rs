//! `spyhole kiln`, `spyhole load-type` and `spyhole probe-changed`: what the shop has.

use clap::{Args, Subcommand};
use serde_json::{Value, json};

use super::cone_answer;
use super::context::{Context, Unusable, kiln_named, load_type_named};
use crate::cone::{Cone, Family, chart};
use crate::edge::form;
use crate::firing::What;
use crate::kiln::{Fuel, Kiln, LoadType, Miss, starter, typed};
use crate::units::{Celsius, CelsiusPerHour, Span};
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
    /// Write down that the probe of a kiln was changed or moved: its error is learned anew, and no correction accepted before holds any longer.
    ProbeChanged(ProbeChangedArgs),
}

#[derive(Debug, Args)]
pub struct ProbeChangedArgs {
    /// The kiln, for example North.
    kiln: String,
    /// What was done, in your own words, for example "a new one, type K".
    #[arg(long, default_value = "")]
    note: String,
    /// When it was done, if not now: 9:10, "20 min ago", "yesterday 21:40" or a full date and time.
    #[arg(long, value_name = "TIME")]
    at: Option<String>,
}

#[derive(Debug, Subcommand)]
pub enum KilnCommand {
    /// Add a kiln. Its name is how you call it from then on.
    Add {
        /// The kiln's name, for example North.
        name: String,
        /// What it burns: gas, electric, wood or oil.
        #[arg(long, value_parser = fuel)]
        fuel: Fuel,
        #[command(flatten)]
        facts: KilnFacts,
    },
    /// List the kilns of the shop.
    List,
    /// Change what is known of a kiln. What you do not name stays as it is.
    Change {
        /// The kiln's name.
        name: String,
        /// What it burns: gas, electric, wood or oil.
        #[arg(long, value_parser = fuel)]
        fuel: Option<Fuel>,
        #[command(flatten)]
        facts: KilnFacts,
    },
}

#[derive(Debug, Default, Args)]
pub struct KilnFacts {
    /// The volume of its chamber in litres, for example 250.
    #[arg(long)]
    pub litres: Option<f64>,
    /// The hottest the maker allows, with its unit, for example 1260C.
    #[arg(long, value_parser = Celsius::parse)]
    pub ceiling: Option<Celsius>,
    /// The fastest it can climb near the top, with its unit, for example 180C/h.
    #[arg(long, value_parser = CelsiusPerHour::parse)]
    pub fastest_climb: Option<CelsiusPerHour>,
}

#[derive(Debug, Subcommand)]
pub enum LoadTypeCommand {
    /// Add a load type.
    Add {
        /// Its name, for example gold.
        name: String,
        /// The cone it goes to, for example 018.
        #[arg(long, value_parser = Cone::parse)]
        cone: Cone,
        #[command(flatten)]
        facts: LoadTypeFacts,
    },
    /// List the load types of the shop.
    List,
    /// Show one load type with everything that is known of it.
    Show {
        /// Its name.
        name: String,
    },
    /// Change a load type. What you do not name stays as it is.
    Change {
        /// Its name.
        name: String,
        /// The cone it goes to, for example 018.
        #[arg(long, value_parser = Cone::parse)]
        cone: Option<Cone>,
        #[command(flatten)]
        facts: LoadTypeFacts,
    },
}

#[derive(Debug, Default, Args)]
pub struct LoadTypeFacts {
    /// The make of cone: self-supporting, large, small, or the first two "iron-free".
    #[arg(long, value_parser = Family::parse)]
    pub family: Option<Family>,
    /// How far under the target the load still comes out right, in cones, for example 0.5.
    #[arg(long, value_name = "CONES", value_parser = typed::tolerance)]
    pub under: Option<f64>,
    /// How far over the target the load still comes out right, in cones, for example 0.5.
    #[arg(long, value_name = "CONES", value_parser = typed::tolerance)]
    pub over: Option<f64>,
    /// What happens to a load that came out further under: fire-again or lost.
    #[arg(long, value_parser = miss)]
    pub if_under: Option<Miss>,
    /// What happens to a load that came out further over: fire-again or lost.
    #[arg(long, value_parser = miss)]
    pub if_over: Option<Miss>,
    /// The usual time from lit to the drop of the cone, for example 5h or 4h30.
    #[arg(long, value_parser = Span::parse)]
    pub usual_length: Option<Span>,
    /// A caution shown when such a load is lit. May be given several times; replaces the old ones.
    #[arg(long)]
    pub caution: Vec<String>,
}

fn one_of<T: Copy>(
    what: &str,
    seen: &str,
    all: &[T],
    name: fn(T) -> &'static str,
) -> Result<T, Unusable> {
    let plain = |text: &str| text.trim().to_lowercase().replace(['-', ' '], "_");
    all.iter().copied().find(|one| plain(name(*one)) == plain(seen)).ok_or_else(|| {
        let names: Vec<_> = all.iter().map(|one| name(*one).replace('_', "-")).collect();
        Unusable(format!("{what} \"{seen}\" is none of {}", names.join(", ")))
    })
}

fn fuel(text: &str) -> Result<Fuel, Unusable> {
    one_of("fuel", text, &Fuel::ALL, Fuel::name)
}

fn miss(text: &str) -> Result<Miss, Unusable> {
    one_of("what a miss costs,", text, &Miss::ALL, Miss::name)
}

/// # Errors
/// Whatever keeps the command from being done, with what to do about it.
pub fn run(command: ShopCommand, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    match command {
        ShopCommand::Kiln { command } => match command {
            KilnCommand::Add { name, fuel, facts } => add_kiln(&name, fuel, &facts, ctx),
            KilnCommand::List => list_kilns(ctx),
            KilnCommand::Change { name, fuel, facts } => change_kiln(&name, fuel, &facts, ctx),
        },
        ShopCommand::LoadType { command } => match command {
            LoadTypeCommand::Add { name, cone, facts } => add_load_type(&name, cone, facts, ctx),
            LoadTypeCommand::List => list_load_types(ctx),
            LoadTypeCommand::Show { name } => show_load_type(&name, ctx),
            LoadTypeCommand::Change { name, cone, facts } => {
                change_load_type(&name, cone, facts, ctx)
            }
        },
        ShopCommand::ProbeChanged(args) => probe_changed(&args, ctx),
    }
}

fn add_kiln(
    name: &str,
    fuel: Fuel,
    facts: &KilnFacts,
    ctx: &mut Context<'_>,
) -> anyhow::Result<()> {
    let journal = ctx.journal()?;
    if let Some(known) = journal.shop()?.kiln(name) {
        let text = format!(
            "there is a kiln \"{}\" already: to describe it anew, use spyhole kiln change",
            known.name
        );
        return Err(Unusable(text).into());
    }
    let kiln = Kiln {
        name: typed::name(name)?,
        fuel,
        litres: facts.litres.map(typed::litres).transpose()?,
        ceiling: facts.ceiling,
        fastest_climb: facts.fastest_climb,
    };
    let sentence = format!("Kiln {} added.", kiln.name);
    set(What::KilnSet(kiln), None, &sentence, journal, ctx)
}

fn change_kiln(
    name: &str,
    fuel: Option<Fuel>,
    facts: &KilnFacts,
    ctx: &mut Context<'_>,
) -> anyhow::Result<()> {
    let journal = ctx.journal()?;
    let shop = journal.shop()?;
    let known = kiln_named(&shop, name)?.clone();
    let kiln = Kiln {
        fuel: fuel.unwrap_or(known.fuel),
        litres: facts.litres.map(typed::litres).transpose()?.or(known.litres),
        ceiling: facts.ceiling.or(known.ceiling),
        fastest_climb: facts.fastest_climb.or(known.fastest_climb),
        name: known.name,
    };
    let sentence = format!("Kiln {} changed.", kiln.name);
    set(What::KilnSet(kiln), None, &sentence, journal, ctx)
}

fn probe_changed(args: &ProbeChangedArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let journal = ctx.journal()?;
    let shop = journal.described()?;
    let kiln = kiln_named(&shop, &args.kiln)?.name.clone();
    let at = ctx.time(args.at.as_deref())?.moment;
    let mut sentence = format!(
        "The probe on {kiln} was changed or moved at {}: its error is learned anew.",
        ctx.clock(at)
    );
    if let Some((_, add_c)) = shop.corrections.in_force(&kiln, at) {
        let by = ctx.dial().difference(add_c);
        sentence += &format!(" The correction of {by} accepted before no longer holds.");
    }
    let what = What::ProbeChanged { kiln, note: args.note.trim().into() };
    set(what, args.at.as_deref(), &sentence, journal, ctx)
}

/// Writes an event of the shop and says so once it is on the disk.
fn set(
    what: What,
    at: Option<&str>,
    sentence: &str,
    mut journal: crate::edge::journal::Journal,
    ctx: &mut Context<'_>,
) -> anyhow::Result<()> {
    let mut object = Value::Object(form::write(&what));
    let event = ctx.event(None, ctx.time(at)?, what);
    let appended = journal.append_checked(&event, ctx.now)?;
    object["event_id"] = appended.id.0.into();
    ctx.answer(&format!("{sentence} Event {}.", appended.id), &object)?;
    Ok(())
}

fn list_kilns(ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let shop = ctx.journal()?.described()?;
    let scale = ctx.scale;
    let lines: Vec<String> = shop.kilns.iter().map(|kiln| words::kiln_line(kiln, scale)).collect();
    let objects: Vec<Value> = shop
        .kilns
        .iter()
        .map(|kiln| Value::Object(form::write(&What::KilnSet(kiln.clone()))))
        .collect();
    let text = if lines.is_empty() {
        "This shop has no kiln yet. Add one with: spyhole kiln add North --fuel gas".into()
    } else {
        lines.join("\n")
    };
    ctx.answer(&text, &json!({ "kilns": objects }))?;
    Ok(())
}

fn with_facts(
    known: LoadType,
    cone: Option<Cone>,
    facts: LoadTypeFacts,
) -> anyhow::Result<LoadType> {
    let target = cone.unwrap_or(known.target);
    let family = facts.family.unwrap_or(known.family);
    chart::rows_or_reason(target, family)?;
    Ok(LoadType {
        target,
        family,
        under_cones: facts.under.unwrap_or(known.under_cones),
        over_cones: facts.over.unwrap_or(known.over_cones),
        under: facts.if_under.unwrap_or(known.under),
        over: facts.if_over.unwrap_or(known.over),
        usual_length: facts.usual_length.or(known.usual_length),
        cautions: if facts.caution.is_empty() { known.cautions } else { facts.caution },
        name: known.name,
    })
}

fn add_load_type(
    name: &str,
    cone: Cone,
    facts: LoadTypeFacts,
    ctx: &mut Context<'_>,
) -> anyhow::Result<()> {
    let journal = ctx.journal()?;
    if let Some(known) = journal.shop()?.load_type(name) {
        let text = format!(
            "there is a load type \"{}\" already: to describe it anew, use spyhole load-type change",
            known.name
        );
        return Err(Unusable(text).into());
    }
    // A careful start: half a cone either way, and what is over is lost.
    let blank = LoadType {
        name: typed::name(name)?,
        target: cone,
        family: Family::SelfSupporting,
        under_cones: 0.5,
        over_cones: 0.5,
        under: Miss::FireAgain,
        over: Miss::Lost,
        usual_length: None,
        cautions: Vec::new(),
    };
    let load_type = with_facts(blank, Some(cone), facts)?;
    let sentence = format!(
        "Load type {} added. {}",
        load_type.name,
        cone_answer::sentence(load_type.target, load_type.family, ctx.scale)
    );
    set(What::LoadTypeSet(load_type), None, &sentence, journal, ctx)
}

fn change_load_type(
    name: &str,
    cone: Option<Cone>,
    facts: LoadTypeFacts,
    ctx: &mut Context<'_>,
) -> anyhow::Result<()> {
    let journal = ctx.journal()?;
    let shop = journal.shop()?;
    let known = load_type_named(&shop, name)?.clone();
    if let Some(cone) = cone {
        cone_answer::check_distance(ctx, cone, &known)?;
    }
    let load_type = with_facts(known, cone, facts)?;
    let sentence = format!(
        "Load type {} changed. {}",
        load_type.name,
        cone_answer::sentence(load_type.target, load_type.family, ctx.scale)
    );
    set(What::LoadTypeSet(load_type), None, &sentence, journal, ctx)
}

fn is_starter(load_type: &LoadType) -> bool {
    starter::load_types().contains(load_type)
}

fn load_type_object(load_type: &LoadType) -> Value {
    let mut object = Value::Object(form::write(&What::LoadTypeSet(load_type.clone())));
    object["ends"] = cone_answer::object(load_type.target, load_type.family)["ends"].take();
    object["basis"] = if is_starter(load_type) { starter::BASIS } else { "your own" }.into();
    object
}

fn list_load_types(ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let shop = ctx.journal()?.described()?;
    let mut lines: Vec<String> = Vec::new();
    for load_type in &shop.load_types {
        let mark = if is_starter(load_type) { "  *" } else { "" };
        lines.push(format!("{}{mark}", words::load_type_line(load_type)));
    }
    if shop.load_types.iter().any(is_starter) {
        lines.push(format!("* {}", starter::BASIS));
    }
    let objects: Vec<Value> = shop.load_types.iter().map(load_type_object).collect();
    ctx.answer(&lines.join("\n"), &json!({ "load_types": objects }))?;
    Ok(())
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
    let cautions = load_type.cautions.iter();
    lines.extend(cautions.map(|caution| words::load_caution(caution, ctx.scale)));
    if is_starter(load_type) {
        lines.push(format!("This entry is of the starter set: {}.", starter::BASIS));
    }
    ctx.answer(&lines.join("\n"), &load_type_object(load_type))?;
    Ok(())
}
