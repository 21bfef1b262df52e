//! A year of a made-up shop for the review: Heron's probe reads high since the autumn, Otter has
//! become slow, somebody looks late at times, and Wren is fired too seldom to say much.

use super::made::{Chance, Making, cone, gold, judged, kiln, packed, price};
use spyhole::testing::edge::shop::store::{About, Entry};
use spyhole::testing::firing::{Firing, FiringId, Lit, Looked, Seen, Verdict, What, Who};
use spyhole::testing::kiln::{Fuel, Kiln, LoadType};
use spyhole::testing::review::prices::{Kind, Price, Prices};
use spyhole::testing::units::{Moment, Span};

use crate::memory::Memory;

/// The kilns and load types of this shop.
pub(crate) fn kilns() -> Vec<Kiln> {
    let fuels = [("Heron", Fuel::Gas), ("Otter", Fuel::Electric), ("Wren", Fuel::Gas)];
    fuels.map(|(name, fuel)| kiln(name, fuel)).to_vec()
}

pub(crate) fn load_types() -> Vec<LoadType> {
    let decal = LoadType { name: "decal".into(), target: cone("016"), ..gold(0.6, 0.8) };
    vec![gold(0.5, 0.9), decal]
}

/// What things cost from the beginning of time.
pub(crate) fn prices() -> Prices {
    Prices::new(listed())
}

pub(crate) fn listed() -> Vec<Price> {
    vec![
        price(Kind::Fuel, "gas m3", 1.15, ""),
        price(Kind::Fuel, "electric kWh", 0.31, ""),
        price(Kind::Draw, "Heron", 2.4, "m3/h"),
        price(Kind::Draw, "Wren", 1.8, "m3/h"),
        price(Kind::Draw, "Otter", 9.0, "kW"),
        price(Kind::Duty, "Otter", 0.6, ""),
        price(Kind::Cone, "", 0.45, ""),
        price(Kind::Hour, "", 28.0, ""),
        price(Kind::Hands, "", 80.0, ""),
    ]
}

/// Its finished firings, the last one some days before `now`.
pub(crate) fn firings(now: Moment) -> Vec<Firing> {
    let mut chance = Chance::seeded(11);
    let mut firings = Vec::new();
    for (name, load, target, count, days) in [
        ("Heron", "gold", "018", 64, 5),
        ("Otter", "decal", "016", 52, 6),
        ("Wren", "gold", "018", 9, 35),
    ] {
        for nth in 0..count {
            let late = chance.uniform() < 0.2;
            let changed = nth * 3 > count * 2;
            let climb = 148.0 + 4.0 * chance.normal();
            let making = Making {
                kiln: name,
                load_type: load,
                target: cone(target),
                lit: now - Span::hours(24 * days * (count - nth) - nth % 3),
                climb: if name == "Otter" && changed { climb - 12.0 } else { climb },
                probe_high: if name == "Heron" && changed { 9.0 } else { 0.5 },
                noise: 1.5,
                cone_late: 1.5 * chance.normal(),
                every_min: 10,
                looks_every_min: if late { 24 } else { 4 },
                off_after: if chance.uniform() < 0.1 { -9.0 } else { 1.0 },
                seed: (nth + 100 * days) as u64,
                ..Making::default()
            };
            firings.push(judged_by(&making, &mut chance));
        }
    }
    firings.sort_by_key(|firing| firing.lit);
    for (id, firing) in (1..).zip(&mut firings) {
        firing.id = FiringId(id);
    }
    firings
}

/// With an outcome that follows from how long after the drop it was off, give and take.
fn judged_by(making: &Making, chance: &mut Chance) -> Firing {
    let firing = making.firing();
    let off = firing.off.zip(firing.lit).map(|(off, lit)| (off - lit).as_minutes());
    let over = off.unwrap_or(0.0) - making.drop_minutes() + 2.0 * chance.normal();
    let verdict = match over {
        over if over > 8.0 => Verdict::Over,
        over if over < -6.0 => Verdict::Under,
        _ => Verdict::Good,
    };
    let at_floor = if chance.uniform() < 0.6 { Seen::Half } else { Seen::Leaning };
    let on_top = if chance.uniform() < 0.6 { Seen::Half } else { Seen::Down };
    let shelves = [
        ("top", "017", on_top),
        ("middle", "018", Seen::Down),
        ("middle", "017", Seen::Leaning),
        ("floor", "018", at_floor),
    ];
    let shelves = if making.kiln == "Heron" { &shelves[..] } else { &[] };
    judged(packed(firing, 40, 300.0), verdict, shelves)
}

/// Everything that was written of a firing, in the order of time; the first event begins it.
pub(crate) fn events(firing: &Firing) -> Vec<(Moment, What)> {
    let lit = firing.lit.unwrap();
    let begin = Lit {
        kiln: firing.kiln.clone(),
        load_type: firing.load_type.clone(),
        pack: firing.pack.unwrap(),
        schedule: None,
        plan: Vec::new(),
    };
    let mut events = vec![(lit, What::Lit(begin))];
    if let Some(packing) = &firing.packing {
        events.insert(0, (lit - Span::minutes(30), What::Packed(packing.clone())));
    }
    let mut heating: Vec<(Moment, What)> =
        firing.readings.iter().map(|(at, t)| (*at, What::Reading(*t))).collect();
    heating.extend(firing.looks.iter().map(|Looked { at, look, .. }| (*at, What::Look(*look))));
    heating.sort_by_key(|(at, _)| *at);
    events.extend(heating);
    let (drawn, outcome) = firing.outcome.clone().unwrap();
    events.push((firing.off.unwrap(), What::Off));
    events.push((drawn, What::Drawn));
    events.push((drawn, What::Outcome(outcome)));
    events
}

/// The shop in memory, with all of these firings.
pub(crate) fn remembered(firings: &[Firing]) -> Memory {
    let mut memory = Memory::new(kilns(), load_types());
    for firing in firings {
        for (index, (at, what)) in events(firing).into_iter().enumerate() {
            let about = if index == 0 { About::NewFiring } else { About::Firing(firing.id) };
            memory.append(&Entry::new(about, at, what), Who::Program, at).unwrap();
        }
    }
    memory
}
