//! The drawing list of the morning: kilns that can be opened, loads whose outcome is due, and where the
//! ware goes that came out.

use super::PlanTold;
use crate::firing::{Firing, State};
use crate::kiln::same_name;
use crate::plan::of_shop::{Known, called};
use crate::plan::{Plan, Tables};
use crate::ware::{Lot, Place, Ware, goes_on};

/// Where nothing is to be drawn.
const NOTHING_DRAWN: &str = "No kiln is due to be drawn before this time tomorrow.";
/// How far ahead it looks, minutes: to this time tomorrow.
const AHEAD_MIN: f64 = 1440.0;

/// What is to be done until this time tomorrow, each from so many minutes on or at once: what can be opened in
/// the order of time, then what is due, then what came out today.
pub fn drawing_list(known: &Known<'_>, tables: &Tables, plan: &Plan) -> Vec<(Option<f64>, String)> {
    let (shop, instance) = (known.shop, &tables.instance);
    let open = |at: f64, kiln: &str, load_type: &str, lots: &[String]| {
        (at, format!("open {kiln} ({load_type}){}", listed(lots)))
    };
    let hot = instance.kilns.iter().zip(&tables.free_from).filter_map(|(kiln, free)| {
        let firing = shop.firing_in(&kiln.name).filter(|one| one.cools())?;
        let lots = inside(known, firing);
        Some(open(free - kiln.draw_min, &kiln.name, &firing.load_type, &lots))
    });
    let planned = plan.firings.iter().enumerate().map(|(nth, firing)| {
        let goes = |lot: usize| {
            let then = instance.next_of(lot).map(|next| instance.load_type_of(next));
            going(&instance.lots[lot].id, then)
        };
        let (kiln, load_type) = (instance.kiln_of(firing.way), instance.load_type(firing.way));
        let lots: Vec<String> = plan.lots_in(nth).map(goes).collect();
        open(firing.draw, &kiln.name, &load_type.name, &lots)
    });
    let mut open: Vec<(f64, String)> =
        hot.chain(planned).filter(|(at, _)| *at < AHEAD_MIN).collect();
    open.sort_by(|a, b| a.0.total_cmp(&b.0));
    let drawn = shop.open.iter().filter(|one| one.state == State::Drawn);
    let due = drawn.map(|one| {
        format!("how {} came out (firing {}){}", one.kiln, one.id, listed(&inside(known, one)))
    });
    let away = known.ware.iter().filter_map(|ware| put_away(known, ware));
    let at_once = due.chain(away).map(|what| (None, what));
    open.into_iter().map(|(at, what)| (Some(at), what)).chain(at_once).collect()
}

/// What is in a kiln or was drawn from it.
fn inside(known: &Known<'_>, firing: &Firing) -> Vec<String> {
    let goes = |ware: &Ware| {
        let mut lot = ware.lot.clone();
        let then = goes_on(&mut lot, &known.shop.load_types);
        going(&called(&ware.lot), then.then_some(lot.load_type.as_str()))
    };
    let lots: Vec<String> = known.ware.iter().filter(|ware| ware.is_in(firing)).map(goes).collect();
    let contents = firing.packing.as_ref().map(|packing| packing.contents.clone());
    match contents.filter(|said| lots.is_empty() && !said.is_empty()) {
        Some(lot) => vec![lot],
        None => lots,
    }
}

/// Where ware goes of which the outcome was written today.
fn put_away(known: &Known<'_>, ware: &Ware) -> Option<String> {
    let Lot { pieces, ready, load_type, .. } = &ware.lot;
    let zone = &known.staffed.zone;
    let today = ready.is_some_and(|at| zone.wall(at).date() == zone.wall(known.now).date());
    let last = ware.fired.last().filter(|_| today)?;
    let fired = known.past.iter().chain(&known.shop.open).find(|one| one.id == *last)?;
    let to = match ware.place {
        Place::In { .. } => return None,
        Place::Done => "on the shelf".to_owned(),
        Place::Waits if same_name(&fired.load_type, load_type) => {
            format!("back to {load_type}, to be fired again")
        }
        Place::Waits => format!("on to {load_type}"),
    };
    let pieces = pieces.map(|pieces| format!(", {pieces} pieces")).unwrap_or_default();
    Some(format!("{to}: {}{pieces}", called(&ware.lot)))
}

/// A lot, and the load type it goes to after that.
fn going(lot: &str, then: Option<&str>) -> String {
    then.map_or(lot.to_owned(), |then| format!("{lot}, then {then}"))
}

/// `: 1 rims, then gold; 2 cups`.
fn listed(lots: &[String]) -> String {
    if lots.is_empty() { String::new() } else { format!(": {}", lots.join("; ")) }
}

impl PlanTold<'_> {
    /// A line an errand.
    pub fn drawing(&self) -> Vec<String> {
        let line = |(at, what): &(Option<f64>, String)| match *at {
            None => what.clone(),
            Some(at) if at <= 0.0 => format!("now: {what}"),
            Some(at) => format!("{}: {what}", self.when(at, 0.0)),
        };
        let lines: Vec<String> = self.day.shop.drawing.iter().map(line).collect();
        if lines.is_empty() { vec![NOTHING_DRAWN.into()] } else { lines }
    }
}
