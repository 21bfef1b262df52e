//! A made-up shop for the bench of the screen and for the pictures: kilns simulated up to the stage
//! of their firing that is wanted, then forecast as any other.

use std::sync::Arc;

use spyhole::testing::edge::journal::{Journal, NewEvent};
use spyhole::testing::edge::rehearse::kiln::SimulatedKiln;
use spyhole::testing::edge::shipped_schedules;
use spyhole::testing::firing::event::{Look, Seen};
use spyhole::testing::firing::{ConePack, FiringId, Lit, What, Who};
use spyhole::testing::kiln::{Fuel, Kiln, LoadType, starter};
use spyhole::testing::scene::{Floor, advices};
use spyhole::testing::units::{Celsius, Moment, Span};

/// 2026-03-12T13:40:20Z, a made-up moment.
pub(crate) const NOW: Moment = Moment(1_773_322_820_000);

/// How far a firing is.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Stage {
    Empty,
    /// Lit so many minutes ago.
    Minutes(i64),
    /// The guide has just been seen like this.
    Guide(Seen),
    Target(Seen),
    /// Shut off at the drop, so many minutes ago.
    Cooling(i64),
}

/// One kiln of the made-up shop.
#[derive(Debug, Clone, Copy)]
pub(crate) struct MadeUp {
    pub(crate) name: &'static str,
    pub(crate) fuel: Fuel,
    pub(crate) load: &'static str,
    pub(crate) schedule: Option<&'static str>,
    pub(crate) stage: Stage,
    /// A reading that was not believed: so many minutes ago.
    pub(crate) slip: Option<i64>,
}

impl MadeUp {
    pub(crate) const fn new(
        name: &'static str,
        fuel: Fuel,
        load: &'static str,
        stage: Stage,
    ) -> MadeUp {
        MadeUp { name, fuel, load, schedule: None, stage, slip: None }
    }
}

/// Eight kilns in different states.
pub(crate) const FLOOR: [MadeUp; 8] = [
    MadeUp::new("Heron", Fuel::Gas, "gold", Stage::Target(Seen::Leaning)),
    MadeUp::new("Otter", Fuel::Electric, "decal", Stage::Guide(Seen::Half)),
    MadeUp::new("Wren", Fuel::Gas, "china paint", Stage::Minutes(150)),
    MadeUp::new("Badger", Fuel::Gas, "stoneware glaze", Stage::Minutes(420)),
    MadeUp::new("Finch", Fuel::Electric, "earthenware glaze", Stage::Minutes(330)),
    MadeUp::new("Hare", Fuel::Electric, "earthenware bisque", Stage::Minutes(95)),
    MadeUp::new("Owl", Fuel::Gas, "gold", Stage::Cooling(140)),
    MadeUp::new("Stoat", Fuel::Gas, "stoneware bisque", Stage::Empty),
];

/// The shop of these kilns at [`NOW`].
pub(crate) fn shop(kilns: &[MadeUp]) -> Floor {
    let described = |one: &MadeUp| Kiln {
        name: one.name.into(),
        fuel: one.fuel,
        litres: None,
        ceiling: None,
        fastest_climb: None,
    };
    let load_types = starter::load_types();
    let described = kilns.iter().map(described).map(What::KilnSet);
    let described = described.chain(load_types.iter().cloned().map(What::LoadTypeSet));
    let event = |firing, at, what| NewEvent::new(firing, at, Who::Program, what);
    let mut events: Vec<NewEvent> = described.map(|what| event(None, Moment(0), what)).collect();
    let mut firing = FiringId(0);
    for (seed, one) in (1u64..).zip(kilns) {
        if matches!(one.stage, Stage::Empty) {
            continue;
        }
        firing.0 += 1;
        let load = load_types.iter().find(|load| load.name == one.load).expect("a starter load");
        let lived = lived(one, load, seed, firing).into_iter();
        events.extend(lived.map(|(firing, at, what)| event(firing, at, what)));
    }
    let mut journal = Journal::in_memory().expect("there is memory");
    journal.append_all(&events, NOW).expect("it can be written");
    let shop = journal.shop().expect("it can be read");
    let advices = advices(&shop, &[], shipped_schedules::plan, NOW);
    let (shop, advices) = (Arc::new(shop), Arc::new(advices));
    Floor { shop, advices, ..Floor::default() }
}

/// The events of one firing, so moved that it is at its stage now.
fn lived(
    one: &MadeUp,
    load: &LoadType,
    seed: u64,
    firing: FiringId,
) -> Vec<(Option<FiringId>, Moment, What)> {
    let pack = ConePack::usual(load.target, load.family);
    let lit = Moment(0);
    let schedule = one.schedule.map(str::to_owned);
    let (kiln, load_type) = (one.name.to_owned(), load.name.clone());
    let plan = one.schedule.and_then(shipped_schedules::plan).unwrap_or_default();
    let what = What::Lit(Lit { kiln, load_type, pack, schedule, plan });
    let about = Some(firing);
    let mut events = vec![(None, lit, what)];
    let mut simulated = SimulatedKiln::new(one.fuel, seed, lit);
    simulated.load(firing, pack);
    simulated.burn(true);
    let mut now = lit;
    let mut off = None;
    let mut last_look = lit;
    while !reached(one.stage, now, off, simulated.seen().unwrap_or_default()) {
        now = now + Span::minutes(1);
        for (at, reading) in simulated.advance(now) {
            events.push((about, at, What::Reading(reading)));
        }
        let seen = simulated.seen().unwrap_or_default();
        let moving = seen.guide >= Some(Seen::Leaning);
        let gone = reached(one.stage, now, off, seen);
        if off.is_none() && moving && (now - last_look >= Span::minutes(7) || gone) {
            last_look = now;
            events.push((about, now, What::Look(seen)));
        }
        if off.is_none() && seen.target == Some(Seen::Down) && !gone {
            off = Some(now);
            simulated.burn(false);
            events.push((about, now, What::Off));
        }
    }
    if let Some(minutes) = one.slip {
        let at = now - Span(minutes * 60_000 - 1);
        events.push((about, at, What::Reading(Celsius(1200.0))));
    }
    let shift = NOW - now;
    events.sort_by_key(|(_, at, _)| *at);
    events.into_iter().map(|(about, at, what)| (about, at + shift, what)).collect()
}

fn reached(stage: Stage, now: Moment, off: Option<Moment>, seen: Look) -> bool {
    match stage {
        Stage::Empty => true,
        Stage::Minutes(minutes) => now >= Moment(0) + Span::minutes(minutes),
        Stage::Guide(wanted) => seen.guide >= Some(wanted),
        Stage::Target(wanted) => seen.target >= Some(wanted),
        Stage::Cooling(minutes) => off.is_some_and(|off| now - off >= Span::minutes(minutes)),
    }
}
