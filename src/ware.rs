//! Ware that waits to be fired: lots as somebody said them, and where each is by now.
//!
//! Packed into a kiln a lot leaves the list. The outcome puts its pieces where they go next, in counts:
//! what came out well to the load type after, what is to be fired again back among what waits, and
//! what is broken or lost off the list.

use std::collections::BTreeMap;

use crate::casting::{Casting, Found};
use crate::firing::event::{Counted, Outcome, Packing};
use crate::firing::{Firing, FiringId, State, Verdict};
use crate::kiln::{LoadType, Miss, same_name};
use crate::review::ledger::median;
use crate::units::{Moment, Span};
use crate::words::Zone;

pub use crate::firing::Lot;

/// Where ware is.
#[derive(Debug, Clone, PartialEq)]
pub enum Place {
    Waits,
    /// In a kiln, or drawn from it with no outcome written.
    In {
        kiln: String,
        firing: FiringId,
        state: State,
    },
    /// Fired for the last time.
    Done,
}

/// The pieces of a lot that stay together, as they are now.
#[derive(Debug, Clone, PartialEq)]
pub struct Ware {
    pub lot: Lot,
    /// The firings it has been through, and is in.
    pub fired: Vec<FiringId>,
    pub place: Place,
}

/// Ware of a mould is dry enough for its first firing so long after it came out (common practice, no source),
/// until the shop's own past says it.
const DRY_AFTER: Span = Span::hours(3 * 24);
/// Older casts were fired, whoever wrote it down (a guess).
const LONG_FIRED: Span = Span::hours(60 * 24);

/// What came out of the moulds, a lot for each kind of ware and day of the shop's, for its bisque firing.
/// `firings` are those that name lots; a lot that none names has gone into the `last` bisque firing
/// that names none, if that was lit once it was dry.
pub fn from_moulds(
    (casting, zone): (&Casting, &dyn Zone),
    load_types: &[LoadType],
    firings: &[Firing],
    last: impl Fn(&str) -> Option<Moment>,
) -> Vec<Lot> {
    let raw = |load: &&LoadType| {
        ["bisque", "biscuit"].iter().any(|bisque| load.name.to_lowercase().contains(bisque))
    };
    let Some(load_type) = load_types.iter().find(raw).map(|load| load.name.clone()) else {
        return Vec::new();
    };
    let mut opened: BTreeMap<String, (Moment, Lot)> = BTreeMap::new();
    for cast in &casting.casts {
        let Some((at, Some(Found::Well | Found::Forced))) = cast.emptied else { continue };
        let mould = &casting.moulds[cast.mould];
        let contents = if mould.ware.is_empty() { &mould.code } else { &mould.ware };
        let name = format!("{contents} {}", zone.wall(at).date());
        let new = || {
            let (load_type, contents) = (load_type.clone(), contents.clone());
            (at, Lot { load_type, contents, name: name.clone(), ..Lot::default() })
        };
        let (last, lot) = opened.entry(name.clone()).or_insert_with(new);
        *last = at.max(*last);
        lot.pieces = Some(lot.pieces.unwrap_or(0) + mould.pieces.unwrap_or(1));
    }
    let lit_with = |name: &str| {
        let named = |firing: &&Firing| {
            let lots = firing.packing.iter().flat_map(|packing| &packing.lots);
            lots.into_iter().any(|lot| same_name(lot, name))
        };
        firings.iter().find(named).map(|firing| firing.lit)
    };
    let waited =
        opened.iter().filter_map(|(name, (at, _))| Some((lit_with(name)?? - *at).as_hours()));
    let dry = median(waited).map_or(DRY_AFTER, Span::from_hours);
    let last = last(&load_type);
    let waits = |(name, (at, lot)): (String, (Moment, Lot))| {
        let ready = at + dry;
        let fired = last.is_some_and(|lit| lit >= ready) || casting.now - at > LONG_FIRED;
        (!fired || lit_with(&name).is_some()).then_some(Lot { ready: Some(ready), ..lot })
    };
    opened.into_iter().filter_map(waits).collect()
}

/// Where the lots are after these firings, in the order in which they were first said.
pub fn follow(lots: &[Lot], firings: &[Firing], load_types: &[LoadType]) -> Vec<Ware> {
    let waits = |lot: &Lot| Ware { lot: lot.clone(), fired: Vec::new(), place: Place::Waits };
    let mut ware: Vec<Ware> = lots.iter().map(waits).collect();
    let mut packed: Vec<(&Firing, &Packing)> =
        firings.iter().filter_map(|firing| Some((firing, firing.packing.as_ref()?))).collect();
    packed.sort_by_key(|(firing, _)| (firing.lit.unwrap_or(Moment(i64::MAX)), firing.id));
    for (firing, packing) in packed {
        let mut inside: Vec<Ware> = Vec::new();
        for name in &packing.lots {
            // What waits for this load, else whatever of the lot is not in a kiln that burns.
            let rank = |ware: &Ware| match &ware.place {
                _ if !same_name(&ware.lot.name, name) => None,
                Place::Waits if same_name(&ware.lot.load_type, &firing.load_type) => Some(0),
                Place::Waits => Some(1),
                Place::In { state: State::Drawn, .. } => Some(2),
                Place::In { .. } | Place::Done => None,
            };
            let found = (0..ware.len()).filter_map(|at| Some((rank(&ware[at])?, at))).min();
            if let Some((_, at)) = found {
                inside.push(ware.remove(at));
                let (kiln, id, state) = (firing.kiln.clone(), firing.id, firing.state);
                let last = inside.len() - 1;
                inside[last].fired.push(id);
                inside[last].place = Place::In { kiln, firing: id, state };
            }
        }
        match &firing.outcome {
            None => ware.append(&mut inside),
            Some((at, outcome)) => {
                ware.extend(come_out(inside, (firing, *at, outcome), load_types));
            }
        }
    }
    let order = |ware: &Ware| lots.iter().position(|lot| lot.name == ware.lot.name);
    ware.sort_by_key(order);
    ware
}

/// What becomes of the lots of one firing: the pieces counted are divided among them by their own.
fn come_out(
    inside: Vec<Ware>,
    (firing, at, outcome): (&Firing, Moment, &Outcome),
    load_types: &[LoadType],
) -> Vec<Ware> {
    let load = load_types.iter().find(|load| same_name(&load.name, &firing.load_type));
    let again = |miss: fn(&LoadType) -> Miss| load.is_none_or(|l| miss(l) == Miss::FireAgain);
    let pieces: Option<u32> = inside.iter().map(|ware| ware.lot.pieces).sum();
    let Outcome { counted, verdict, .. } = outcome.clone().completed(pieces);
    let is_counted = counted != Counted::default() && (counted.good.is_some() || pieces.is_some());
    // As counted, else all of it by the verdict.
    let count = |of: Option<u32>, is: Verdict| match is_counted {
        true => of.unwrap_or(0),
        false => u32::from(verdict == is),
    };
    let (good, not_fired) =
        (count(counted.good, Verdict::Good), count(counted.not_fired, Verdict::NotFired));
    let (under, over) = (count(counted.under, Verdict::Under), count(counted.over, Verdict::Over));
    let all = good + not_fired + under + over + counted.broken.filter(|_| is_counted).unwrap_or(0);
    let mut fire_again = not_fired;
    fire_again += if again(|load| load.under) { under } else { 0 };
    fire_again += if again(|load| load.over) { over } else { 0 };
    let off_the_list = all - good - fire_again;
    let weight = |ware: &Ware| ware.lot.pieces.map_or(ware.lot.fills.unwrap_or(1.0), f64::from);
    let whole: f64 = inside.iter().map(weight).sum();
    let alone = inside.len() == 1;
    let (mut before, mut out) = (0.0, Vec::new());
    for ware in inside {
        let after = before + weight(&ware) / whole.max(f64::MIN_POSITIVE);
        let part = |count: u32| {
            let upto = |share: f64| (f64::from(count) * share).round();
            (upto(after) - upto(before)) as u32
        };
        let [again_here, off_here] = [fire_again, off_the_list].map(part);
        before = after;
        for (is_good, of) in [(true, good), (false, fire_again)] {
            let pieces = match (is_counted, ware.lot.pieces) {
                (true, Some(pieces)) if is_good => {
                    Some(pieces.saturating_sub(again_here + off_here))
                }
                (true, Some(_)) => Some(again_here),
                (true, None) if alone => Some(of),
                (_, pieces) => pieces,
            };
            if of == 0 || pieces == Some(0) {
                continue;
            }
            let mut lot = Lot { pieces, ready: Some(at), ..ware.lot.clone() };
            lot.fills = lot.fills.map(|fills| fills * f64::from(of) / f64::from(all));
            let waits = !is_good || goes_on(&mut lot, load_types);
            let place = if waits { Place::Waits } else { Place::Done };
            out.push(Ware { lot, fired: ware.fired.clone(), place });
        }
    }
    out
}

/// To the load type after this one, if there is any: the one that was said, or from a bisque firing to
/// the glaze of the same name.
pub fn goes_on(lot: &mut Lot, load_types: &[LoadType]) -> bool {
    if !lot.then.is_empty() {
        lot.load_type = lot.then.remove(0);
        return true;
    }
    let name = lot.load_type.to_lowercase();
    let glaze = ["bisque", "biscuit"].map(|bisque| name.replace(bisque, "glaze"));
    let next = load_types
        .iter()
        .find(|load| glaze.iter().any(|glaze| *glaze != name && same_name(glaze, &load.name)));
    if let Some(next) = next {
        lot.load_type.clone_from(&next.name);
    }
    next.is_some()
}

impl Ware {
    pub fn waits(&self) -> bool {
        self.place == Place::Waits
    }

    /// Whether it is in this firing, or was drawn from it with no outcome written.
    pub fn is_in(&self, of: &Firing) -> bool {
        matches!(self.place, Place::In { firing, .. } if firing == of.id)
    }
}

/// The next free number as a name.
pub fn next_name(lots: &[Lot]) -> String {
    let numbers = lots.iter().filter_map(|lot| lot.name.parse::<u32>().ok());
    (numbers.max().unwrap_or(0) + 1).to_string()
}
