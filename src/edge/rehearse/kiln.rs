//! A kiln that does not exist: it climbs, wanders and cools, and its cones bend by the heat work
//! they really get.
//!
//! The numbers are made up to be like a small kiln, and are no model of any. What is real is the
//! cones: the chamber's temperature goes through the same heat work and bending as everywhere.

use rand::{RngExt, SeedableRng};
use rand_distr::StandardNormal;
use rand_pcg::Pcg64Mcg;

use crate::cone::{Cone, Equivalent, HeatWork, curve, lean_deg};
use crate::firing::event::{Look, Seen};
use crate::firing::{ConePack, FiringId};
use crate::kiln::Fuel;
use crate::units::{Celsius, CelsiusPerHour, Moment, Span};

/// How finely the simulation steps.
const STEP: Span = Span::seconds(10);
const ROOM_C: f64 = 18.0;
pub(super) const ROOM: Celsius = Celsius(ROOM_C);
/// A chamber this close to the room, C, has nothing left to simulate.
const AT_REST_C: f64 = 0.5;
/// What a probe reads whose wire is broken, or that is in a kiln nobody shuts off: the end of the range
/// of a type K thermocouple (IEC 60584-1).
const MOST_READ_C: f64 = 1372.0;
/// How often the probe is read while heating, and while cooling.
const READ_EVERY: (Span, Span) = (Span::minutes(5), Span::minutes(30));
/// One standard deviation of a cone's own end point, C; the maker's tolerance is +-2 C.
const CONE_SPREAD_C: f64 = 1.0;
/// How far the cones' place differs from the probe's, C, one standard deviation: made up.
const PLACE_SPREAD_C: f64 = 3.0;

/// Below this no cone does anything that could be seen.
const COLD_C: f64 = 300.0;
/// How far from the target, in whole cones, heat work is followed: further is only "far".
const FOLLOWED_CONES: f64 = 3.0;

/// How a kind of kiln behaves.
#[derive(Debug, Clone, Copy)]
struct Manner {
    /// Climb when cold, C/h, and the temperature at which nothing is left of it.
    climb_c_per_h: f64,
    limit_c: f64,
    /// One standard deviation of the climb's wander, C/h, and how long a wander lasts.
    wander_c_per_h: f64,
    wander_hours: f64,
    /// Time constant of cooling.
    cooling_hours: f64,
}

impl Manner {
    fn of(fuel: Fuel) -> Manner {
        match fuel {
            Fuel::Electric => Manner {
                climb_c_per_h: 135.0,
                limit_c: 1900.0,
                wander_c_per_h: 2.0,
                wander_hours: 1.0,
                cooling_hours: 3.5,
            },
            Fuel::Gas | Fuel::Wood | Fuel::Oil => Manner {
                climb_c_per_h: 250.0,
                limit_c: 1600.0,
                wander_c_per_h: 14.0,
                wander_hours: 0.6,
                cooling_hours: 2.6,
            },
        }
    }
}

/// The climb of a kiln of some kind without its wander, in closed form.
#[derive(Debug, Clone, Copy)]
pub(super) struct Climb {
    /// C/h when cold, and how far the limit lies above the room, C.
    cold_c_per_h: f64,
    reach_c: f64,
}

impl Climb {
    /// At so much of its usual pace.
    pub(super) fn of(fuel: Fuel, pace: f64) -> Climb {
        let Manner { climb_c_per_h, limit_c, .. } = Manner::of(fuel);
        Climb { cold_c_per_h: pace * climb_c_per_h, reach_c: limit_c - ROOM_C }
    }

    /// How fast it climbs at this temperature.
    pub(super) fn rate_at(self, at: Celsius) -> CelsiusPerHour {
        CelsiusPerHour(self.cold_c_per_h * (1.0 - (at.0 - ROOM_C) / self.reach_c))
    }

    /// From the room to this temperature.
    pub(super) fn takes(self, to: Celsius) -> Span {
        let left = 1.0 - (to.0 - ROOM_C) / self.reach_c;
        Span::from_hours(-left.ln() * self.reach_c / self.cold_c_per_h)
    }

    /// The chamber so long after it was lit.
    pub(super) fn chamber(self, after: Span) -> Celsius {
        let done = 1.0 - (-after.as_hours() * self.cold_c_per_h / self.reach_c).exp();
        Celsius(ROOM_C + self.reach_c * done)
    }
}

/// One simulated kiln.
#[derive(Debug, Clone)]
pub struct SimulatedKiln {
    manner: Manner,
    random: Pcg64Mcg,
    now: Moment,
    chamber_c: f64,
    wander_c_per_h: f64,
    burning: bool,
    /// How much of its usual climb the burners give.
    pressure: f64,
    /// How fast it climbed when it burned last.
    climb: CelsiusPerHour,
    /// When it was shut off since, and how many cones over the target its load was then.
    off: Option<(Moment, Option<f64>)>,
    load: Option<Load>,
    probe_offset_c: f64,
    probe_broken: bool,
    read_last: Moment,
}

/// The cones of the firing that is in the kiln.
#[derive(Debug, Clone)]
struct Load {
    firing: FiringId,
    pack: ConePack,
    /// What this place gets more than the probe's, and each cone of the family by itself, C.
    place_c: f64,
    cones: Vec<(Cone, f64, HeatWork)>,
    /// When the target went down, whether or not anybody saw it.
    down: Option<Moment>,
}

impl SimulatedKiln {
    /// A cold and empty kiln.
    pub fn new(fuel: Fuel, seed: u64, now: Moment) -> SimulatedKiln {
        let mut random = Pcg64Mcg::seed_from_u64(seed);
        let probe_offset_c = 2.0 * random.sample::<f64, _>(StandardNormal);
        SimulatedKiln {
            manner: Manner::of(fuel),
            random,
            now,
            chamber_c: ROOM_C,
            wander_c_per_h: 0.0,
            burning: false,
            pressure: 1.0,
            climb: CelsiusPerHour(0.0),
            off: None,
            load: None,
            probe_offset_c,
            probe_broken: false,
            read_last: now,
        }
    }

    /// Puts fresh cones in, unless those of this firing are in already.
    pub fn load(&mut self, firing: FiringId, pack: ConePack) {
        if self.load.as_ref().is_some_and(|load| load.firing == firing && load.pack == pack) {
            return;
        }
        let place_c = PLACE_SPREAD_C * self.random.sample::<f64, _>(StandardNormal);
        let cones = pack
            .family
            .cones()
            .filter(|cone| (cone.position() - pack.target.position()).abs() <= FOLLOWED_CONES)
            .filter_map(|cone| curve(cone, pack.family).ok().map(|curve| (cone, curve)))
            .map(|(cone, curve)| {
                (
                    cone,
                    CONE_SPREAD_C * self.random.sample::<f64, _>(StandardNormal),
                    HeatWork::new(curve),
                )
            })
            .collect();
        self.load = Some(Load { firing, pack, place_c, cones, down: None });
    }

    /// Lights it or shuts it off.
    pub fn burn(&mut self, burning: bool) {
        if burning {
            self.off = None;
        } else if self.burning {
            self.off = Some((self.now, self.cones_over()));
        }
        self.burning = burning;
    }

    /// When it was really shut off, whatever was written of it.
    pub fn off(&self) -> Option<Moment> {
        self.off.map(|(at, _)| at)
    }

    /// How fast it climbed when it burned last.
    pub fn climb(&self) -> CelsiusPerHour {
        self.climb
    }

    /// From here on the burners give this much of their usual climb.
    pub fn set_pressure(&mut self, share: f64) {
        self.pressure = share;
    }

    /// From here on the probe reads nonsense, or sense again.
    pub fn break_probe(&mut self, broken: bool) {
        self.probe_broken = broken;
    }

    pub fn chamber(&self) -> Celsius {
        Celsius(self.chamber_c)
    }

    /// When the target of its load went down, whether or not anybody saw it.
    pub fn down(&self) -> Option<Moment> {
        self.load.as_ref()?.down
    }

    /// Lets time pass up to `now`; the answer is what the probe read meanwhile.
    pub fn advance(&mut self, now: Moment) -> Vec<(Moment, Celsius)> {
        let mut readings = Vec::new();
        if !self.burning && self.chamber_c - ROOM_C < AT_REST_C {
            self.now = self.now + Span((now - self.now).0.div_euclid(STEP.0) * STEP.0);
        }
        while self.now + STEP <= now {
            self.step();
            let every = if self.burning { READ_EVERY.0 } else { READ_EVERY.1 };
            if self.now - self.read_last >= every {
                self.read_last = self.now;
                readings.push((self.now, self.read()));
            }
        }
        readings
    }

    fn step(&mut self) {
        let hours = STEP.as_hours();
        let manner = self.manner;
        self.now = self.now + STEP;
        // A wander that is pulled back to nothing (Ornstein-Uhlenbeck).
        let kept = (-hours / manner.wander_hours).exp();
        self.wander_c_per_h = self.wander_c_per_h * kept
            + manner.wander_c_per_h
                * (1.0 - kept * kept).sqrt()
                * self.random.sample::<f64, _>(StandardNormal);
        if self.burning {
            let left = 1.0 - (self.chamber_c - ROOM_C) / (manner.limit_c - ROOM_C);
            let climb = self.pressure * (manner.climb_c_per_h * left + self.wander_c_per_h);
            self.climb = CelsiusPerHour(climb);
            self.chamber_c += climb * hours;
        } else {
            self.chamber_c += (ROOM_C - self.chamber_c) * hours / manner.cooling_hours;
        }
        if let Some(load) = self.load.as_mut().filter(|_| self.chamber_c > COLD_C) {
            for (_, own_c, heat_work) in &mut load.cones {
                heat_work.append(self.now, Celsius(self.chamber_c + load.place_c + *own_c));
            }
            let target = load.heat_work(load.pack.target).map(|done| seen_at(lean_deg(done)));
            if load.down.is_none() && target == Some(Seen::Down) {
                load.down = Some(self.now);
            }
        }
    }

    /// What the probe shows: a little off, and to the whole degree.
    fn read(&mut self) -> Celsius {
        let noise = self.random.sample::<f64, _>(StandardNormal);
        if self.probe_broken {
            return Celsius(MOST_READ_C);
        }
        Celsius((self.chamber_c + self.probe_offset_c + noise).round().min(MOST_READ_C))
    }

    /// What somebody sees at the spyhole.
    pub fn seen(&self) -> Option<Look> {
        let load = self.load.as_ref()?;
        let seen = |cone: Cone| load.heat_work(cone).map(|j| seen_at(lean_deg(j)));
        Some(Look {
            target: seen(load.pack.target),
            guide: load.pack.guide.and_then(seen),
            guard: load.pack.guard.and_then(seen),
        })
    }

    /// How many cones over the target the load was when it was shut off, or is while it burns;
    /// negative when under. What it gets while it cools is left out: a shop that shuts off at the
    /// drop has always had that too.
    pub fn load_over(&self) -> Option<f64> {
        self.off.map_or_else(|| self.cones_over(), |(_, over)| over)
    }

    fn cones_over(&self) -> Option<f64> {
        let load = self.load.as_ref()?;
        let done: Vec<(Cone, f64)> =
            load.cones.iter().map(|(cone, _, heat_work)| (*cone, heat_work.total())).collect();
        Some(Equivalent::from_heat_work(&done)?.cones_over(load.pack.target))
    }
}

impl Load {
    fn heat_work(&self, cone: Cone) -> Option<f64> {
        self.cones.iter().find(|(known, _, _)| *known == cone).map(|(_, _, done)| done.total())
    }
}

/// The word for a lean.
fn seen_at(lean_deg: f64) -> Seen {
    let below = |seen: &Seen| lean_deg < seen.lean_range_deg().1;
    Seen::ALL.into_iter().find(below).unwrap_or(Seen::Down)
}
