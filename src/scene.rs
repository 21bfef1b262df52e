//! What there is to see at one moment, as plain data.
//!
//! Every screen, page and printed status draws a [`Scene`] and nothing else. It holds values, not
//! sentences and not colours: sentences are in [`crate::words`], drawing is at the edge.

mod advice;
mod agenda;
mod bench;
mod chart;
mod curve;
mod ledger;
mod review;
mod story;

use std::sync::Arc;

use crate::alarm::Alarm;
use crate::cone::Cone;
use crate::cooling::{Cooling, USUAL_DRAW_BELOW};
use crate::firing::down::Said;
pub use crate::firing::event::Role;
use crate::firing::event::{Look, Packing, Seen};
use crate::firing::{After, ConePack, Doubt, EventId, Firing, FiringId, Shop, State, Unread};
use crate::forecast::{ConeNow, Declined, Forecast, Ground};
use crate::hours::ShopHours;
use crate::kiln::names::Names;
use crate::kiln::{Fuel, Kiln, LoadType, same_name};
use crate::plan::limits::HouseLimits;
use crate::units::{Celsius, CelsiusPerHour, Moment, Span};
use crate::ware::{Lot, Ware};
use crate::watch::Advice;
use crate::watch::agenda::{Errand, after_cone, agenda};
use crate::watch::request::Request;
use crate::watch::task::Task;

pub use advice::{advice, advices};
use agenda::todo_of;
pub use bench::{BenchScene, MouldScene, MouldState, is_forgotten};
pub use chart::{Bar, Control};
pub use curve::CurveScene;
pub use ledger::{FiringScene, PastFiring, Sort};
pub use review::{Page, ReviewQuestion, ReviewRow, ReviewScene};
pub use story::Happened;
use story::{deeds_of, story_of};

/// Countdowns this short are shown with their seconds.
pub const SECONDS_SHOWN_BELOW: Span = Span::minutes(10);

/// What a scene is made of: the shop as folded from its events, and the advice for each firing
/// under way. Firings without advice are shown without a forecast.
#[derive(Debug, Clone, Default)]
pub struct Floor {
    pub shop: Arc<Shop>,
    pub advices: Arc<Vec<(FiringId, Advice)>>,
    /// The alarms that stand, the most urgent first.
    pub alarms: Vec<Alarm>,
    /// Below what a kiln is drawn in this shop; where nothing is said, as is usual.
    pub draw_below: Option<Celsius>,
    /// The readings are not read yet: there is neither a curve nor a story that would lack them.
    pub glance: bool,
    /// Events that could not be read, and that all this lacks.
    pub unread: Vec<Unread>,
    /// Where the ware is that was said.
    pub ware: Arc<Vec<Ware>>,
    /// The casting bench, as it was reckoned last.
    pub bench: Arc<BenchScene>,
}

/// The shop at one moment, the most urgent kiln first.
#[derive(Debug, Clone, PartialEq)]
pub struct Scene {
    pub now: Moment,
    pub kilns: Vec<KilnScene>,
    /// Kilns no longer on the floor.
    pub retired: Vec<Kiln>,
    /// What kilns were called before.
    pub names: Names,
    pub load_types: Vec<LoadType>,
    /// Ware as it was said, and where it is.
    pub lots: Vec<Lot>,
    pub ware: Arc<Vec<Ware>>,
    /// When somebody is there.
    pub hours: ShopHours,
    /// What the plan keeps to.
    pub limits: HouseLimits,
    /// The alarms that stand, the most urgent first.
    pub alarms: Vec<Alarm>,
    /// Below this a kiln is drawn.
    pub draw_below: Celsius,
    /// Events that could not be read, and that this scene lacks.
    pub unread: Vec<Unread>,
    /// The last event this scene rests on.
    pub last_event: Option<EventId>,
    pub bench: Arc<BenchScene>,
}

/// One kiln and what is in it.
#[derive(Debug, Clone, PartialEq)]
pub struct KilnScene {
    pub kiln: String,
    pub fuel: Fuel,
    /// The kiln as the shop describes it.
    pub described: Kiln,
    pub firing: Option<FiringId>,
    pub load_type: Option<String>,
    pub pack: Option<ConePack>,
    /// What was said of the load when it was packed.
    pub packing: Option<Packing>,
    /// The last firing that was drawn here and waits for its outcome, also where the next load is
    /// packed by now.
    pub unjudged: Option<FiringId>,
    /// The firing that waits for its outcome was given up.
    pub given_up: bool,
    /// Another packing is open here, which is not the one meant.
    pub packed_over: bool,
    pub phase: Phase,
    /// What is to be done here, whatever rings.
    pub todo: Errand,
    /// What the schedule orders now that the target is down and from then on, or ordered last.
    pub after_cone: Vec<After>,
    /// What lies ahead.
    pub ahead: Vec<Errand>,
    /// What is asked for beside looks.
    pub request: Option<Request>,
    /// The alarms that stand at it, the most urgent first.
    pub alarms: Vec<Alarm>,
    pub lit: Option<Moment>,
    pub off: Option<Moment>,
    /// How it cools, once it is off, and when it can be drawn, as far as there is anything to go on.
    pub cooling: Option<Cooling>,
    pub cool_at: Option<Moment>,
    /// When the drop becomes likely enough to be watched for.
    pub watch_opens: Option<Moment>,
    pub drop: Option<DropTimes>,
    /// How long after the drop the load still comes out right.
    pub forgives: Option<Span>,
    /// How far over the target is since it was seen down, in cones, at the last known climb.
    pub overshoot_cones: Option<f64>,
    /// The look that saw the target down, where it may be wrong, while the kiln is on.
    pub doubted: Option<Doubted>,
    /// The chance that the target has dropped already, 0 to 1, where there is a forecast.
    pub dropped: Option<f64>,
    /// The pack, coolest first.
    pub cones: Vec<ConeScene>,
    /// The chamber now, and how fast it climbs, as the forecast takes it.
    pub chamber: Option<Celsius>,
    pub climb: Option<CelsiusPerHour>,
    pub last_reading: Option<(Moment, Celsius)>,
    pub last_look: Option<(Moment, Look)>,
    pub rests_on: Vec<Ground>,
    pub no_forecast: Option<Declined>,
    pub curve: CurveScene,
    /// What happened beside the readings, in the order of time.
    pub deeds: Vec<(Moment, Happened)>,
    /// What happened to the kiln itself between firings, in the order of time.
    pub of_kiln: Vec<(Moment, Happened)>,
}

closed! {
    /// Where a kiln is in its day.
    #[derive(Hash)]
    pub enum Phase {
        Empty => "empty",
        Packed => "packed",
        Heating => "heating",
        /// The watch window is open.
        Watch => "watch",
        /// The target was seen down and the kiln is not off.
        Dropped => "down",
        Off => "off",
        Cooling => "cooling",
        Drawn => "drawn",
        Aborted => "given_up",
    }
}

/// Quantiles of the drop time: before `p05` one time in twenty, after `p95` one in twenty.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DropTimes {
    pub p05: Moment,
    pub p50: Moment,
    pub p95: Moment,
}

/// A look that saw the target down and may be wrong.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Doubted {
    pub down: Said,
    pub why: Doubt,
    /// The drop as it is expected if that look is wrong.
    pub otherwise: Option<DropTimes>,
}

impl Doubted {
    /// The later of the looks that do not fit together.
    pub fn last_event(&self) -> EventId {
        match self.why {
            Doubt::StoodUp(later) => later.event.max(self.down.event),
            Doubt::GuideStood(_) | Doubt::Unlikely(_) => self.down.event,
        }
    }
}

/// One cone of the pack: what is expected of it, and what was last seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ConeScene {
    pub role: Role,
    pub cone: Cone,
    pub expected: Option<ConeNow>,
    pub seen: Option<(Moment, Seen)>,
}

impl Floor {
    /// The scene at `now`.
    pub fn scene(&self, now: Moment) -> Scene {
        Scene::of(self, now)
    }

    /// The alarms that stand. One that called to the spyhole is over once its kiln is off.
    fn alarms(&self) -> impl Iterator<Item = Alarm> {
        let firing = |alarm: &Alarm| self.shop.open.iter().find(|one| one.id == alarm.key.firing);
        let over = move |alarm: &&Alarm| {
            alarm.key.task.is_at_the_kiln() && firing(alarm).is_some_and(|one| !one.burns())
        };
        self.alarms.iter().filter(move |alarm| !over(alarm)).cloned()
    }

    fn draw_below(&self) -> Celsius {
        self.draw_below.unwrap_or(USUAL_DRAW_BELOW)
    }
}

impl Scene {
    /// The scene of a shop at `now`.
    pub fn of(floor: &Floor, now: Moment) -> Scene {
        let mut kilns: Vec<KilnScene> =
            floor.shop.kilns.iter().map(|kiln| KilnScene::of(kiln, floor, now)).collect();
        kilns.sort_by_key(KilnScene::order);
        let (load_types, alarms) = (floor.shop.load_types.clone(), floor.alarms().collect());
        let (draw_below, unread) = (floor.draw_below(), floor.unread.clone());
        let bench = Arc::clone(&floor.bench);
        let last_event = floor.shop.last_event;
        let (retired, names) = (floor.shop.retired.clone(), floor.shop.names.clone());
        let (lots, ware) = (floor.shop.lots.clone(), Arc::clone(&floor.ware));
        let (hours, limits) = (floor.shop.hours.clone(), floor.shop.limits);
        Scene {
            now,
            kilns,
            retired,
            names,
            load_types,
            lots,
            ware,
            hours,
            limits,
            alarms,
            draw_below,
            unread,
            last_event,
            bench,
        }
    }

    /// The names of the kilns in their own order, which no urgency changes.
    pub fn names(&self) -> Vec<&str> {
        let mut names: Vec<&str> = self.kilns.iter().map(|kiln| kiln.kiln.as_str()).collect();
        names.sort_unstable();
        names
    }

    /// Whether no kiln is described yet.
    pub fn is_new(&self) -> bool {
        self.kilns.is_empty() && self.retired.is_empty() && self.unread.is_empty()
    }

    /// The kiln of this name, or of this one before.
    pub fn kiln(&self, name: &str) -> Option<&KilnScene> {
        let name = self.names.now(name);
        self.kilns.iter().find(|kiln| kiln.kiln == name)
    }

    /// When this scene is next to be drawn for the clock alone, because a second or a minute of a
    /// countdown, a minute of an age or the minute hand has changed. It is a whole second: all that
    /// changes at different moments of one second is drawn once, at its end.
    pub fn next_change(&self) -> Moment {
        let minute = self.now + Span(60_000 - self.now.0.rem_euclid(60_000));
        let kilns = self.kilns.iter().map(|kiln| kiln.next_change(self.now));
        let next = kilns.fold(minute, Moment::min);
        next + Span((-next.0).rem_euclid(1_000))
    }
}

impl KilnScene {
    fn of(kiln: &Kiln, floor: &Floor, now: Moment) -> KilnScene {
        let firing = floor.shop.firing_in(&kiln.name);
        let advice = firing.and_then(|firing| {
            floor.advices.iter().find(|(id, _)| *id == firing.id).map(|(_, advice)| advice)
        });
        let nothing = Firing::default();
        let known = firing.unwrap_or(&nothing);
        let forecast = advice.and_then(|advice| advice.forecast.as_ref().ok());
        // A kiln that was shut off this moment has no advice on its cooling yet.
        let cooling = advice.and_then(|advice| advice.cooling.clone());
        let cooling = cooling.or_else(|| Cooling::of(firing?, &[]));
        let cool_at = cooling.as_ref().and_then(|cooling| cooling.below(floor.draw_below()));
        let drop = forecast.map(DropTimes::of);
        let watch_opens = advice.and_then(|advice| advice.watch_opens);
        let phase = phase_of(firing, watch_opens, now);
        let chamber = forecast.and_then(|f| f.chamber);
        let climb = forecast.and_then(|f| f.climb);
        KilnScene {
            kiln: kiln.name.clone(),
            fuel: kiln.fuel,
            described: kiln.clone(),
            firing: firing.map(|firing| firing.id),
            load_type: firing.map(|firing| firing.load_type.clone()),
            pack: known.pack,
            packing: known.packing.clone(),
            packed_over: floor
                .shop
                .open
                .iter()
                .any(|one| same_name(&one.kiln, &kiln.name) && floor.shop.is_packed_over(one)),
            unjudged: floor.shop.unjudged_in(&kiln.name).map(|firing| firing.id),
            given_up: floor
                .shop
                .unjudged_in(&kiln.name)
                .or(firing)
                .is_some_and(|one| one.aborted.is_some()),
            phase,
            todo: todo_of(&kiln.name, firing, advice, cool_at, now),
            after_cone: firing.filter(|one| one.burns()).map_or_else(Vec::new, |one| {
                let last = one.last_after(now);
                let orders = one.ordered_after(now).into_iter();
                orders.filter(|after| last.is_some_and(|last| after.since >= last.since)).collect()
            }),
            ahead: {
                let mut ahead = agenda(&kiln.name, advice.filter(|_| known.burns()), cool_at);
                let ordered = firing.filter(|one| one.burns()).map(|one| after_cone(one, now));
                ahead.extend(ordered.into_iter().flatten().filter(|errand| errand.at > now));
                ahead
            },
            request: advice.and_then(|advice| advice.request),
            alarms: floor
                .alarms()
                .filter(|alarm| Some(alarm.key.firing) == firing.map(|firing| firing.id))
                .collect(),
            lit: known.lit,
            off: known.off,
            cool_at,
            cooling,
            watch_opens,
            drop,
            doubted: doubted(known, advice),
            dropped: forecast.map(|forecast| forecast.dropped),
            forgives: advice.and_then(|advice| advice.forgives),
            overshoot_cones: advice.and_then(|advice| advice.overshoot_cones),
            cones: cones_of(known, forecast.map_or(&[], |f| f.cones.as_slice())),
            chamber,
            climb,
            last_reading: known.readings.last().copied(),
            last_look: known.looks.last().map(|looked| (looked.at, looked.look)),
            rests_on: forecast.map(|f| f.rests_on.clone()).unwrap_or_default(),
            no_forecast: advice.and_then(|advice| advice.forecast.as_ref().err().copied()),
            curve: match floor.glance {
                true => CurveScene::default(),
                false => CurveScene::of(known, advice, now),
            },
            deeds: if floor.glance { Vec::new() } else { deeds_of(known) },
            of_kiln: floor.shop.of_kiln(&kiln.name).map(Happened::of_kiln).collect(),
        }
    }

    /// What happened, the readings included, in the order of time: at the load that is in it, or else at
    /// the kiln itself.
    pub fn happened(&self) -> Vec<(Moment, Happened)> {
        match self.firing {
            Some(_) => story_of(&self.curve.readings, self.deeds.clone()),
            None => self.of_kiln.clone(),
        }
    }

    /// Whether the kiln is alight.
    pub fn is_lit(&self) -> bool {
        matches!(self.phase, Phase::Heating | Phase::Watch | Phase::Dropped)
    }

    /// How hot the chamber is, as well as it is known: forecast, else as it was read last.
    pub fn heat(&self) -> Option<Celsius> {
        self.chamber
            .or_else(|| self.curve.believed().last().map(|(_, read)| read))
            .filter(|_| self.is_lit())
    }

    /// Whether physics allows what was read last, beside what was read before; a single reading has to
    /// agree with clock and looks.
    pub fn believes_its_last_reading(&self) -> bool {
        let counts_little =
            |ground: &Ground| matches!(ground, Ground::Readings { count: 1, doubted: Some(_), .. });
        let aside = |reading| self.curve.set_aside.contains(&reading);
        !self.last_reading.is_some_and(aside) && !self.rests_on.iter().any(counts_little)
    }

    /// When a number said of this kiln next changes by the clock alone.
    fn next_change(&self, now: Moment) -> Moment {
        // What comes after this is told without a countdown.
        let counts = self.todo.task.urgency() <= Task::LookByEye.urgency();
        let counted = [self.watch_opens, Some(self.todo.at).filter(|_| counts)];
        let counted = counted.into_iter().flatten();
        let counted = counted.map(|to| {
            let left = to - now;
            let step = if left.0.abs() < SECONDS_SHOWN_BELOW.0 { 1_000 } else { 60_000 };
            // The shown number changes when what is left crosses a whole step.
            now + Span((left.0 - 1).rem_euclid(step) + 1)
        });
        let read = self.last_reading.map(|(at, _)| at);
        let seen = self.cones.iter().filter_map(|cone| cone.seen).map(|(at, _)| at);
        let ages = read.into_iter().chain(seen);
        let ages = ages.map(|at| now + Span(60_000 - (now - at).0.rem_euclid(60_000)));
        counted.chain(ages).fold(Moment(i64::MAX), Moment::min)
    }
}

impl DropTimes {
    fn of(forecast: &Forecast) -> DropTimes {
        DropTimes { p05: forecast.p05, p50: forecast.p50, p95: forecast.p95 }
    }
}

/// What speaks against the look that saw the target down: by all that is known where there is
/// advice, else by the other looks.
fn doubted(firing: &Firing, advice: Option<&Advice>) -> Option<Doubted> {
    let down = firing.down().filter(|_| firing.burns())?;
    let unlikely = || {
        let of_all_else = |doubt: &Doubt| matches!(doubt, Doubt::Unlikely(_));
        advice?.doubt.filter(of_all_else).filter(|_| down.again.is_none())
    };
    let why = down.doubt().or_else(unlikely)?;
    let otherwise = advice.and_then(|advice| advice.otherwise.as_ref()).map(DropTimes::of);
    Some(Doubted { down: down.first, why, otherwise })
}

fn phase_of(firing: Option<&Firing>, watch_opens: Option<Moment>, now: Moment) -> Phase {
    let Some(firing) = firing else { return Phase::Empty };
    match firing.state {
        State::Planned => Phase::Packed,
        State::Lit | State::Watching if watch_opens.is_some_and(|opens| opens <= now) => {
            Phase::Watch
        }
        State::Lit | State::Watching => Phase::Heating,
        State::Dropped => Phase::Dropped,
        State::Off => Phase::Off,
        State::Cooling => Phase::Cooling,
        State::Drawn => Phase::Drawn,
        State::Closed => Phase::Empty,
        State::Aborted => Phase::Aborted,
    }
}

fn cones_of(firing: &Firing, expected: &[ConeNow]) -> Vec<ConeScene> {
    let Some(pack) = firing.pack else { return Vec::new() };
    [(Role::Guide, pack.guide), (Role::Target, Some(pack.target)), (Role::Guard, pack.guard)]
        .into_iter()
        .filter_map(|(role, cone)| Some((role, cone?)))
        .map(|(role, cone)| ConeScene {
            role,
            cone,
            expected: expected.iter().find(|now| now.cone == cone).copied(),
            seen: firing
                .looks
                .iter()
                .rev()
                .find_map(|looked| Some((looked.at, seen_of(&looked.look, role)?))),
        })
        .collect()
}

/// What a look says of one cone.
pub fn seen_of(look: &Look, role: Role) -> Option<Seen> {
    match role {
        Role::Guide => look.guide,
        Role::Target => look.target,
        Role::Guard => look.guard,
    }
}
