//! Packing and lighting: the two events that begin a firing.

use serde_json::{Value, json};

use super::super::cone_answer;
use super::super::context::{Context, Unusable, kiln_named, load_type_named};
use super::step::of_firing;
use super::{LightArgs, PackArgs, PackCones};
use crate::cone::{Cone, Family, chart};
use crate::edge::house_file::House;
use crate::edge::own_schedules;
use crate::firing::event::Packing;
use crate::firing::{ConePack, Firing, Holding, Lit, Shop, State, What};
use crate::kiln::LoadType;
use crate::schedule::Schedule;
use crate::words;

pub(super) fn pack(args: PackArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let mut journal = ctx.journal()?;
    let shop = journal.shop()?;
    let mut kiln = kiln_named(&shop, &args.kiln)?.name.clone();
    let firing = match args.when.firing {
        Some(firing) => {
            kiln = of_firing(&journal, firing, &kiln)?;
            Some(journal.firing(firing)?)
        }
        None => held(&shop, &kiln).cloned(),
    };
    let load_type = load_in(&shop, &kiln, args.load.as_deref(), firing.as_ref())?;
    let pack = cone_pack(&args.cones, load_type, packed_with(firing.as_ref(), load_type), ctx)?;
    let at = ctx.time(args.when.at.as_deref())?;
    let before = firing.as_ref().and_then(|firing| firing.packing.clone());
    let change = before.is_some();
    let said = before.unwrap_or_default();
    let what = What::Packed(Packing {
        kiln: kiln.clone(),
        load_type: load_type.name.clone(),
        contents: args.contents.unwrap_or(said.contents),
        pieces: args.pieces.or(said.pieces),
        full: args.full.or(said.full),
        worth: args.worth.or(said.worth),
        packed_by: args.packed_by.unwrap_or(said.packed_by),
        pack: Some(pack),
        cones_stand: args.cones_stand.unwrap_or(said.cones_stand),
    });
    let event = ctx.event(firing.map(|firing| firing.id), at, what);
    let appended = journal.append_having_seen(&event, shop.last_event, ctx.now)?;
    let done = if change {
        format!("Packing of {kiln} changed in the same firing, now {}, at", load_type.name)
    } else {
        format!("{kiln} packed with {} at", load_type.name)
    };
    let sentence = format!(
        "{done} {}. {} Event {}.",
        ctx.clock(at.moment),
        cone_answer::sentence(pack.target, pack.family, ctx.scale),
        appended.id
    );
    let object = json!({
        "event_id": appended.id.0,
        "firing": appended.firing.map(|firing| firing.0),
        "kiln": kiln,
        "load_type": load_type.name,
        "at": ctx.stamp(at.moment),
        "pack": pack_object(&pack),
        "changed": change,
    });
    ctx.answer(&sentence, &object)?;
    Ok(())
}

pub(super) fn light(args: LightArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let mut journal = ctx.journal()?;
    let shop = journal.shop()?;
    let kiln = kiln_named(&shop, &args.kiln)?.name.clone();
    let held = held(&shop, &kiln);
    let planned = held.filter(|firing| firing.state == State::Planned);
    let load_type = load_in(&shop, &kiln, args.load.as_deref(), held)?;
    let pack = cone_pack(&args.cones, load_type, packed_with(planned, load_type), ctx)?;
    let at = ctx.time(args.at.as_deref())?;
    let (schedule, plan) = match &args.schedule {
        Some(typed) => {
            let found =
                own_schedules::find(&ctx.shop, &House::read(&ctx.shop).unwrap_or_default(), typed)?;
            let plan = found.schedule().map(Schedule::plan).unwrap_or_default();
            (Some(found.reference), plan)
        }
        None => (None, Vec::new()),
    };
    let what = What::Lit(Lit {
        kiln: kiln.clone(),
        load_type: load_type.name.clone(),
        pack,
        schedule: schedule.clone(),
        plan,
    });
    let firing = planned.map(|firing| firing.id);
    let event = ctx.event(firing, at, what);
    let appended = journal.append_having_seen(&event, shop.last_event, ctx.now)?;
    let mut sentence = format!(
        "{kiln} lit at {}. Event {}.\n{}",
        ctx.clock(at.moment),
        appended.id,
        cone_answer::sentence(pack.target, pack.family, ctx.scale)
    );
    for caution in &load_type.cautions {
        sentence.push_str("\nCaution: ");
        sentence.push_str(&words::load_caution(caution, ctx.scale));
    }
    let object = json!({
        "event_id": appended.id.0,
        "firing": appended.firing.map(|firing| firing.0),
        "kiln": kiln,
        "load_type": load_type.name,
        "at": ctx.stamp(at.moment),
        "schedule": schedule,
        "pack": pack_object(&pack),
        "cautions": load_type.cautions,
    });
    ctx.answer(&sentence, &object)?;
    Ok(())
}

/// The firing this kiln holds: planned, alight or not drawn yet.
fn held<'s>(shop: &'s Shop, kiln: &str) -> Option<&'s Firing> {
    shop.firing_in(kiln).filter(|firing| firing.holding() > Holding::Nothing)
}

/// The load type that was named, or the one in the kiln.
fn load_in<'s>(
    shop: &'s Shop,
    kiln: &str,
    named: Option<&str>,
    firing: Option<&Firing>,
) -> Result<&'s LoadType, Unusable> {
    let name = named.or(firing.map(|firing| firing.load_type.as_str()));
    let unknown =
        || Unusable(format!("{kiln} was not packed yet, so say what is in it: --load TYPE"));
    load_type_named(shop, name.ok_or_else(unknown)?)
}

/// The cones in the kiln, if they were chosen for this load.
fn packed_with(firing: Option<&Firing>, load_type: &LoadType) -> Option<ConePack> {
    firing.filter(|firing| firing.load_type == load_type.name)?.pack
}

/// The cones as they were named, completed from what was packed or from the load type.
fn cone_pack(
    named: &PackCones,
    load_type: &LoadType,
    packed: Option<ConePack>,
    ctx: &mut Context<'_>,
) -> anyhow::Result<ConePack> {
    let own = ConePack::usual(load_type.target, load_type.family);
    let known = packed.unwrap_or(own);
    let target = named.cone.unwrap_or(known.target);
    let family = named.family.unwrap_or(known.family);
    chart::rows_or_reason(target, family)?;
    let usual = if (target, family) == (known.target, known.family) {
        known
    } else {
        ConePack::usual(target, family)
    };
    let guide = made(named.guide.map_or(usual.guide, |guide| guide.0), family)?;
    let guard = made(named.guard.map_or(usual.guard, |guard| guard.0), family)?;
    if let Some(guide) = guide.filter(|guide| *guide >= target) {
        let text = format!("the guide cone {guide} has to be cooler than the target {target}");
        return Err(Unusable(text).into());
    }
    if let Some(guard) = guard.filter(|guard| *guard <= target) {
        let text = format!("the guard cone {guard} has to be hotter than the target {target}");
        return Err(Unusable(text).into());
    }
    if named.cone.is_some() {
        cone_answer::check_distance(ctx, target, load_type)?;
    }
    Ok(ConePack { family, target, guide, guard })
}

fn made(cone: Option<Cone>, family: Family) -> anyhow::Result<Option<Cone>> {
    if let Some(cone) = cone {
        chart::rows_or_reason(cone, family)?;
    }
    Ok(cone)
}

fn pack_object(pack: &ConePack) -> Value {
    let mut object = cone_answer::object(pack.target, pack.family);
    object["guide"] = pack.guide.map(Cone::name).into();
    object["guard"] = pack.guard.map(Cone::name).into();
    object
}
