//! What the morning's drawing is about: kilns that can be opened, loads whose outcome is due, and where the
//! ware goes that came out.

use super::of_shop::{Known, called};
use super::{Plan, Tables};
use crate::firing::{Firing, FiringId, State};
use crate::kiln::same_name;
use crate::ware::{Lot, Place, Ware, goes_on};

/// How far ahead it looks, minutes: to this time tomorrow.
const AHEAD_MIN: f64 = 1440.0;

/// One thing to do: a kiln that can be opened from then on, minutes; a drawn load of which nobody said how it
/// came out; ware that came out today.
#[derive(Debug, Clone, PartialEq)]
pub enum Errand {
    Open { at: f64, kiln: String, load_type: String, lots: Vec<Goes> },
    Judge { kiln: String, firing: FiringId, lots: Vec<Goes> },
    PutAway { lot: String, pieces: Option<u32>, to: To },
}

/// A lot that comes out, and the load type it goes to after that.
#[derive(Debug, Clone, PartialEq)]
pub struct Goes {
    pub lot: String,
    pub then: Option<String>,
}

#[derive(Debug, Clone, PartialEq)]
pub enum To {
    Shelf,
    Next(String),
    Again(String),
}

/// The errands until this time tomorrow: what can be opened in the order of time, then what is due, then
/// what came out today.
pub fn errands(known: &Known<'_>, tables: &Tables, plan: &Plan) -> Vec<Errand> {
    let shop = known.shop;
    let instance = &tables.instance;
    let mut open: Vec<(f64, Errand)> = Vec::new();
    for (kiln, free) in instance.kilns.iter().zip(&tables.free_from) {
        let here = |one: &&Firing| one.cools() && same_name(&one.kiln, &kiln.name);
        if let Some(firing) = shop.open.iter().filter(here).max_by_key(|one| one.id) {
            let (name, load_type) = (kiln.name.clone(), firing.load_type.clone());
            let (at, lots) = (free - kiln.draw_min, inside(known, firing));
            open.push((at, Errand::Open { at, kiln: name, load_type, lots }));
        }
    }
    for (nth, firing) in plan.firings.iter().enumerate() {
        let way = &instance.ways[firing.way];
        let then = |lot: usize| {
            let next =
                instance.lots.iter().find(|next| next.after.is_some_and(|(of, _)| of == lot));
            next.map(|next| instance.load_types[next.load_type].name.clone())
        };
        let goes = |lot: usize| Goes { lot: instance.lots[lot].id.clone(), then: then(lot) };
        let (at, lots) = (firing.draw, plan.lots_in(nth).map(goes).collect());
        let kiln = instance.kilns[way.kiln].name.clone();
        let load_type = instance.load_types[way.load_type].name.clone();
        open.push((at, Errand::Open { at, kiln, load_type, lots }));
    }
    open.retain(|(at, _)| *at < AHEAD_MIN);
    open.sort_by(|a, b| a.0.total_cmp(&b.0));
    let drawn = shop.open.iter().filter(|one| one.state == State::Drawn);
    let judge = drawn.map(|one| {
        let lots = inside(known, one);
        Errand::Judge { kiln: one.kiln.clone(), firing: one.id, lots }
    });
    let put_away = known.ware.iter().filter_map(|ware| put_away(known, ware));
    open.into_iter().map(|(_, errand)| errand).chain(judge).chain(put_away).collect()
}

/// What is in a kiln or was drawn from it.
fn inside(known: &Known<'_>, firing: &Firing) -> Vec<Goes> {
    let its =
        |ware: &&Ware| matches!(&ware.place, Place::In { firing: id, .. } if *id == firing.id);
    let goes = |ware: &Ware| {
        let mut lot = ware.lot.clone();
        let then = goes_on(&mut lot, &known.shop.load_types).then_some(lot.load_type);
        Goes { lot: called(&ware.lot), then }
    };
    let lots: Vec<Goes> = known.ware.iter().filter(its).map(goes).collect();
    let contents = firing.packing.as_ref().map(|packing| packing.contents.clone());
    match contents.filter(|said| lots.is_empty() && !said.is_empty()) {
        Some(lot) => vec![Goes { lot, then: None }],
        None => lots,
    }
}

/// Where ware goes of which the outcome was written today.
fn put_away(known: &Known<'_>, ware: &Ware) -> Option<Errand> {
    let Lot { pieces, ready, load_type, .. } = &ware.lot;
    let zone = &known.staffed.zone;
    let today = ready.is_some_and(|at| zone.wall(at).date() == zone.wall(known.now).date());
    let last = ware.fired.last().filter(|_| today)?;
    let fired = known.past.iter().chain(&known.shop.open).find(|one| one.id == *last)?;
    let to = match ware.place {
        Place::In { .. } => return None,
        Place::Done => To::Shelf,
        Place::Waits if same_name(&fired.load_type, load_type) => To::Again(load_type.clone()),
        Place::Waits => To::Next(load_type.clone()),
    };
    Some(Errand::PutAway { lot: called(&ware.lot), pieces: *pieces, to })
}
