//! Packing and lighting: the two events that begin a firing.

use serde_json::{Value, json};

use super::super::cone_answer;
use super::super::context::{Context, Unusable, kiln_named, load_type_named};
use super::{LightArgs, PackArgs, PackCones};
use crate::cone::{Cone, Family, chart};
use crate::edge::house_file::House;
use crate::edge::own_schedules;
use crate::firing::event::Packing;
use crate::firing::{ConePack, Firing, Lit, Shop, State, What};
use crate::kiln::LoadType;
use crate::schedule::Schedule;
use crate::words;

pub(super) fn pack(args: PackArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let mut journal = ctx.journal()?;
    let shop = journal.shop()?;
    let kiln = kiln_named(&shop, &args.kiln)?.name.clone();
    let load_type = load_type_named(&shop, &args.load)?;
    let pack = cone_pack(&args.cones, load_type, None, ctx)?;
    let at = ctx.time(args.when.at.as_deref())?;
    let what = What::Packed(Packing {
        kiln: kiln.clone(),
        load_type: load_type.name.clone(),
        contents: args.contents,
        pieces: args.pieces,
        full: args.full,
        worth: args.worth,
        packed_by: args.packed_by,
        pack: Some(pack),
        cones_stand: args.cones_stand,
    });
    let firing = args.when.firing.or_else(|| planned(&shop, &kiln).map(|firing| firing.id));
    let appended = journal.append_checked(&ctx.event(firing, at, what), ctx.now)?;
    let sentence = format!(
        "{kiln} packed with {} at {}. {} Event {}.",
        load_type.name,
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
    });
    ctx.answer(&sentence, &object)?;
    Ok(())
}

pub(super) fn light(args: LightArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let mut journal = ctx.journal()?;
    let shop = journal.shop()?;
    let kiln = kiln_named(&shop, &args.kiln)?.name.clone();
    let planned = planned(&shop, &kiln);
    let load_name = args.load.as_deref().or(planned.map(|firing| firing.load_type.as_str()));
    let load_name = load_name.ok_or_else(|| {
        Unusable(format!("{kiln} was not packed yet, so say what is in it: --load TYPE"))
    })?;
    let load_type = load_type_named(&shop, load_name)?;
    let same_load = |firing: &&Firing| firing.load_type == load_type.name;
    let packed = planned.filter(same_load).and_then(|firing| firing.pack);
    let pack = cone_pack(&args.cones, load_type, packed, ctx)?;
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
    let appended = journal.append_checked(&ctx.event(firing, at, what), ctx.now)?;
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

/// The firing that was packed in this kiln and not lit yet.
fn planned<'s>(shop: &'s Shop, kiln: &str) -> Option<&'s Firing> {
    shop.firing_in(kiln).filter(|firing| firing.state == State::Planned)
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
