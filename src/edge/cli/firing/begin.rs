//! Packing and lighting: the two events that begin a firing.

use serde_json::{Value, json};

use super::super::cone_answer;
use super::super::context::{Context, Unusable, kiln_named, load_type_named};
use super::super::doubted::{doubted, unusable};
use super::Said;
use super::step::of_firing;
use crate::cone::Cone;
use crate::edge::draft::{Against, CONES, Draft, Known};
use crate::edge::house_file::House;
use crate::edge::own_schedules;
use crate::edge::shop::clock::LocalZone;
use crate::firing::event::Packing;
use crate::firing::{ConePack, Firing, Holding, Kind, Shop, State, What};
use crate::kiln::LoadType;
use crate::words;

pub(super) fn begin(said: &Said, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let mut journal = ctx.journal()?;
    let shop = journal.shop()?;
    let mut kiln = kiln_named(&shop, &said.kiln)?.name.clone();
    let held = match said.firing {
        Some(firing) => {
            kiln = of_firing(&journal, firing, &kiln)?;
            Some(journal.firing(firing)?)
        }
        None => {
            let held = shop.firing_in(&kiln).filter(|firing| firing.holding() > Holding::Nothing);
            held.cloned()
        }
    };
    let load_type = load_in(&shop, &kiln, said.text("load_type"), held.as_ref())?;
    let lights = said.kind == Kind::Lit;
    // Only what is packed is lit as what it is; lit over what burns, it is another one, and refused.
    let firing = held.filter(|firing| !lights || firing.state == State::Planned);
    let at = ctx.entry_time(said.at.as_deref(), said.kind)?;
    let named = said.text("schedule").filter(|named| !named.is_empty());
    let found = named
        .map(|named| own_schedules::find(&ctx.shop, &House::or_usual(&ctx.shop), named))
        .transpose()?;
    let before = firing.as_ref().and_then(said_before);
    let asks = lights || said.text("lots").is_some();
    let ware = if asks { journal.ware(&shop, &LocalZone)? } else { Vec::new() };
    let known = Known {
        load_types: &shop.load_types,
        before: before.as_ref(),
        schedules: found.as_slice(),
        ware: Some(&ware),
        clock: None,
    };
    let what = begun(said, Draft::new(said.kind, &kiln), load_type, &known)?;
    doubted(&what, at.moment, &Against::of(known, ctx.now, ctx.dial()), ctx)?;
    let event = ctx.event(firing.as_ref().map(|firing| firing.id), at, what);
    let appended = journal.append_having_seen(&event, shop.last_event, ctx.now)?;
    let (clock, id) = (ctx.at(at.moment), appended.id);
    let ends = |pack: ConePack| cone_answer::sentence(pack.target, pack.family, ctx.scale);
    let mut object = json!({
        "event_id": id.0,
        "firing": appended.firing.map(|firing| firing.0),
        "kiln": kiln,
        "load_type": load_type.name,
        "at": ctx.stamp(at.moment),
    });
    let sentence = match &event.what {
        What::Lit(lit) => {
            object["schedule"] = lit.schedule.clone().into();
            object["pack"] = pack_object(&lit.pack);
            object["cautions"] = load_type.cautions.as_slice().into();
            let of_load = load_type.cautions.iter();
            let cautions = of_load.map(|caution| words::load_caution(caution, ctx.scale));
            let dial = ctx.dial();
            let damp = words::damp_in(&kiln, &ware, at.moment, &dial);
            let cautions: String =
                damp.chain(cautions).map(|caution| format!("\nCaution: {caution}")).collect();
            format!("{kiln} lit {clock}. Event {id}.\n{}{cautions}", ends(lit.pack))
        }
        _ => {
            let pack = packed(&event.what);
            let changed = firing.is_some_and(|firing| firing.packing.is_some());
            object["pack"] = pack.map_or(Value::Null, |pack| pack_object(&pack));
            object["changed"] = changed.into();
            let done = match changed {
                true => {
                    format!("Packing of {kiln} changed in the same firing, now {},", load_type.name)
                }
                false => format!("{kiln} packed with {}", load_type.name),
            };
            format!("{done} {clock}. {} Event {id}.", pack.map_or_else(String::new, ends))
        }
    };
    ctx.answer(&sentence, &object)
}

/// The cones of a packing.
fn packed(what: &What) -> Option<ConePack> {
    match what {
        What::Packed(packing) => packing.pack,
        _ => None,
    }
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

/// What was said of the load that is in the kiln; of its cones also where it was lit unpacked.
fn said_before(firing: &Firing) -> Option<Packing> {
    let lit = || Packing {
        kiln: firing.kiln.clone(),
        load_type: firing.load_type.clone(),
        pack: firing.pack,
        ..Packing::default()
    };
    let packing = firing.packing.clone();
    packing.or_else(|| firing.pack.map(|_| lit())).map(|said| Packing { pack: firing.pack, ..said })
}

/// The event that packs or lights a kiln: what was typed, else what was said before. Cones that
/// were said of another load, and guide and guard of another target, are not meant.
fn begun(
    said: &Said,
    blank: Draft,
    load_type: &LoadType,
    known: &Known<'_>,
) -> anyhow::Result<What> {
    let mut draft = match known.before {
        Some(before) => Draft::again(blank.kind, before, known.load_types),
        None => blank,
    };
    let other_load = known.before.is_some_and(|before| before.load_type != load_type.name);
    let other = |key| said.text(key).is_some_and(|text| text != draft.said(key));
    let other_cone = other("cone") || other("cone_family");
    for key in CONES {
        if other_load || other_cone && key.starts_with("gu") {
            draft.say(key, "");
        }
    }
    draft = said.over(draft);
    draft.say("load_type", &load_type.name);
    if let [schedule] = known.schedules {
        draft.say("schedule", &schedule.reference);
    }
    draft.what(known).map_err(unusable)
}

fn pack_object(pack: &ConePack) -> Value {
    let mut object = cone_answer::object(pack.target, pack.family);
    object["guide"] = pack.guide.map(Cone::name).into();
    object["guard"] = pack.guard.map(Cone::name).into();
    object
}
