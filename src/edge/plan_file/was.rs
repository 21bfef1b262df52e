//! A plan as it was answered, read again to be gone on from.

use anyhow::{Result, bail, ensure};

use super::keys::{FiringKeys, PlanKeys, StateKey};
use super::{
    Asked, HORIZON_MIN, Reader, StatedZone, few, once, parsed, place_of, twice, version, wrong,
};
use crate::plan::again::{Gone, GoneWhy, Was, keep_hands};
use crate::plan::spread::Spread;
use crate::plan::{Firing, Plan, State, Tables};
use crate::text;

/// Reads a plan that was made for this instance, or for one like it.
///
/// # Errors
/// For the first rule that is broken. A planned firing of a kiln or with a lot that is no more breaks none.
pub fn plan(text: &str, asked: &Asked, tables: &Tables) -> Result<Was> {
    let keys: PlanKeys = parsed(text, "the plan")?;
    version("plan", keys.plan)?;
    few("firings", keys.firings.len(), 200)?;
    once("firings", keys.firings.iter().flat_map(|firing| &firing.batch_ids))?;
    let mut read = Reader { now: asked.made_at, zone: StatedZone::default() };
    let mut was = Was { plan: Plan::empty(&asked.instance), ..Was::default() };
    for (nth, keys) in keys.firings.iter().enumerate() {
        let number = keys.number.map_or(nth + 1, |number| number as usize);
        if was.plan.firings.iter().any(|firing| firing.number == number) {
            return twice(&format!("firings {}.number", nth + 1), &number.to_string());
        }
        old_firing(&mut was, (nth, number, keys), tables, &mut read)?;
    }
    was.spoilt = !was.gone.is_empty();
    Ok(was)
}

fn old_firing(
    was: &mut Was,
    (nth, number, keys): (usize, usize, &FiringKeys),
    tables: &Tables,
    read: &mut Reader,
) -> Result<()> {
    let instance = &tables.instance;
    let place = format!("firings {}", nth + 1);
    let kiln = instance.kilns.iter().position(|kiln| kiln.name == keys.kiln);
    let load_type = instance.load_types.iter().position(|of| of.name == keys.load_type);
    let way = kiln.zip(load_type).and_then(|(kiln, load_type)| instance.way(kiln, load_type));
    let planned = keys.state.unwrap_or(StateKey::Planned) == StateKey::Planned;
    let gone = |lots: Vec<String>, why| Gone {
        firing: number,
        kiln: text::marked(keys.kiln.clone()),
        load_type: text::marked(keys.load_type.clone()),
        lots: lots.into_iter().map(text::marked).collect(),
        why,
    };
    let Some(way) = way else {
        let why = if kiln.is_none() { GoneWhy::NoKiln } else { GoneWhy::CannotFire };
        ensure!(
            planned,
            "{place} has a kiln or a load type in it that the instance has not: a packed or lit firing needs them"
        );
        was.gone.push(gone(keys.batch_ids.clone(), why));
        return Ok(());
    };
    let mut firing =
        Firing::new(way, read.time(format!("{place}.light_at"), &keys.light_at, HORIZON_MIN)?);
    let pack = read.time_if(&format!("{place}.pack_from"), &keys.pack_from, HORIZON_MIN)?;
    let draw = read.time_if(&format!("{place}.draw_from"), &keys.draw_from, HORIZON_MIN)?;
    firing.state = match keys.state {
        None | Some(StateKey::Planned) => State::Planned,
        Some(StateKey::Packed) => State::Packed,
        Some(StateKey::Lit) => {
            firing.forecast = Some(forecast(&place, keys, firing.light, read)?);
            State::Lit
        }
    };
    let kiln = &instance.ways[way].kiln;
    firing.pack = match pack {
        Some(pack) => pack,
        None => tables.pack_before(*kiln, firing.light).unwrap_or(f64::NAN),
    };
    let drawn = || tables.next_there(tables.drawable_at(&firing), instance.kilns[*kiln].draw_min);
    firing.draw = draw.unwrap_or_else(drawn);
    keep_hands(tables, &mut firing);
    let (mut lots, mut missing) = (Vec::new(), Vec::new());
    for id in &keys.batch_ids {
        match instance.lots.iter().position(|lot| lot.id == *id) {
            Some(lot) => lots.push(lot),
            None if planned => missing.push(id.clone()),
            None => {
                let ids = instance.lots.iter().map(|lot| &lot.id);
                place_of(&place, id, "batches of the instance", ids)?;
            }
        }
    }
    firing.number = number;
    was.push(firing, &lots);
    if !missing.is_empty() {
        was.gone.push(gone(missing, GoneWhy::NoLot));
    }
    Ok(())
}

/// From lit to the drop, as it is forecast for a firing that burns.
fn forecast(place: &str, keys: &FiringKeys, light: f64, read: &mut Reader) -> Result<Spread> {
    let (Some(p05), Some(p50), Some(p95)) = (&keys.drop_p05, &keys.drop_p50, &keys.drop_p95) else {
        bail!(
            "{place} has to have drop_p05, drop_p50 and drop_p95, since it is lit: give all three"
        )
    };
    let drop = read.points(place, [("drop_p05", p05), ("drop_p50", p50), ("drop_p95", p95)])?;
    if light > 0.0 || drop.p05 < light {
        let rule = "after now or after its drop_p05, though it is lit";
        return wrong(&format!("{place}.light_at"), &keys.light_at, rule);
    }
    Ok(Spread::new([drop.p05, drop.p50, drop.p95].map(|at| at - light)))
}
