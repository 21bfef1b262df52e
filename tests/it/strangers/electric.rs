//! An electric kiln of three zones.
//!
//! Ageing elements on sagging mains heat a wall and the ware of each zone; the zones see each
//! other. Either somebody turns three-step switches, or a controller follows ramps and a soak by
//! switching the elements on and off, with a sensor of its own that lags and is wrong.

use super::chance::{Chance, RedNoise};
use super::faults::{self, Fault};
use super::firing::{Book, Energy, Firing, STEP_S};
use super::loads::{Load, Plan};
use super::probes::Probe;
use super::wall::{Wall, Ware, radiated};

const SUBSTEP_S: f64 = 5.0;
const ZONES: usize = 3;

/// How the heat is switched.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Switching {
    /// Low, medium, high, turned on a walk about every so many minutes.
    ThreeStep { walks_every_min: f64 },
    /// Ramps and a soak; never more than a share of full power.
    Programme { power_limit: f64 },
}

/// Electric kiln as built, and how it is switched.
#[derive(Debug, Clone)]
pub(crate) struct ElectricKiln {
    pub(crate) seed: u64,
    pub(crate) switching: Switching,
    volume_m3: f64,
    walls: [Wall; ZONES],
    /// Heat of each zone's elements when new, at the nominal voltage, W.
    elements_w: [f64; ZONES],
    /// How much the resistance has grown with age, share.
    ageing: [f64; ZONES],
    elements_lag_s: f64,
    /// How far the mains differ from nominal, and how much they wander, shares.
    mains: (f64, f64),
    vent_kg_per_s: f64,
    probe_zone: usize,
    cone_zone: usize,
    spot_c: f64,
    probes: [Probe; 2],
    controller: Probe,
}

impl ElectricKiln {
    pub(crate) fn draw(seed: u64) -> Self {
        let mut chance = Chance::new(seed).branch(30);
        let volume_m3 = chance.between(0.07, 0.3);
        let area_m2 = 6.0 * volume_m3.powf(2.0 / 3.0);
        let thickness_m = chance.between(0.09, 0.13);
        let conductivity = chance.between(0.14, 0.22);
        let density = chance.between(450.0, 750.0);
        // The lid leaks most.
        let walls = [0.37, 0.28, 0.35]
            .map(|share| Wall::new(share * area_m2, thickness_m, conductivity, density));
        // Enough to go on climbing at 1300 C, with worn elements too.
        let through_w_per_m2 = 1_280.0 * conductivity * (1.0 + 8e-4 * 630.0) / thickness_m;
        let full_w = area_m2 * (through_w_per_m2 + chance.between(3.4e3, 5.0e3));
        let switching = if chance.happens(0.5) {
            Switching::ThreeStep { walks_every_min: chance.between(20.0, 45.0) }
        } else {
            Switching::Programme { power_limit: chance.between(0.85, 1.0) }
        };
        Self {
            seed,
            switching,
            volume_m3,
            walls,
            elements_w: [0.36, 0.29, 0.35].map(|share| share * full_w),
            ageing: [(); ZONES].map(|()| chance.between(0.0, 0.15)),
            elements_lag_s: chance.between(40.0, 150.0),
            mains: (chance.normal(0.0, 0.015), chance.between(0.003, 0.015)),
            vent_kg_per_s: chance.between(1.0e-3, 4.0e-3) * volume_m3,
            probe_zone: chance.one_of(&[0, 1, 1]),
            cone_zone: chance.one_of(&[0, 1, 1, 2]),
            spot_c: chance.normal(0.0, 5.0),
            probes: [Probe::draw(&mut chance), Probe::draw(&mut chance)],
            controller: Probe::draw(&mut chance),
        }
    }

    pub(crate) fn fire(&self, load: Load, faults: &[Fault], seed: u64) -> Firing {
        let chance = Chance::new(self.seed).branch(seed);
        let mut day = chance.branch(40);
        let own_plan = Plan::usual(load, self.seed);
        let mut book = Book::open(load, &mut day);
        let mut hot = Hot::pack(self, load, &mut day, &chance);
        let pace = faults::pace(faults);
        let mut switch: Box<dyn Switch> = match self.switching {
            Switching::ThreeStep { walks_every_min } => {
                let plan = own_plan.at_pace(pace * day.normal(1.0, 0.06));
                Box::new(Steps::new(plan, walks_every_min, chance.branch(41)))
            }
            Switching::Programme { power_limit } => {
                let kilns = &mut Chance::new(self.seed).branch(42);
                let sensor = self.controller.on_the_day(&mut day);
                Box::new(Controller::new(own_plan.at_pace(pace), load, power_limit, sensor, kilns))
            }
        };
        while !book.full() {
            let at_min = book.at_h() * 60.0;
            let supply = faults::supply(faults, at_min);
            let on = switch.shares(at_min, supply, hot.at_probe_c(self));
            if at_min * 60.0 % STEP_S == 0.0 {
                hot.mains.step();
            }
            hot.step(self, on, supply);
            book.write(SUBSTEP_S, hot.at_probe_c(self), hot.at_cone_c(self));
        }
        let energy = Energy { stored_j: hot.stored_j() - hot.stored_at_start_j, ..hot.energy };
        book.close(energy, [&self.probes[0], &self.probes[1]], faults, &chance)
    }
}

/// Choice of the elements that are on.
trait Switch {
    /// Share of full power for each zone in the next substep.
    fn shares(&mut self, at_min: f64, supply: f64, true_c: f64) -> [f64; ZONES];
}

/// Three-step switches, one a zone, and the person who turns them.
#[derive(Debug)]
struct Steps {
    plan: Plan,
    chance: Chance,
    every_min: f64,
    next_min: f64,
    last: (f64, f64),
    /// Steps of all switches together, from all on low.
    steps: usize,
}

impl Steps {
    const SHARES: [f64; 3] = [0.25, 0.5, 1.0];
    const HIGHEST: usize = 6;

    fn new(plan: Plan, liked_min: f64, chance: Chance) -> Self {
        let every_min = plan.walks_every_min(liked_min);
        Self { plan, chance, every_min, next_min: every_min, last: (0.0, 20.0), steps: 0 }
    }
}

impl Switch for Steps {
    /// One switch is turned where the climb is a little off; all three where it is far too slow.
    fn shares(&mut self, at_min: f64, supply: f64, true_c: f64) -> [f64; ZONES] {
        if at_min >= self.next_min && supply > 0.0 {
            let seen_c = true_c + self.chance.normal(0.0, 2.0);
            let climb = 60.0 * (seen_c - self.last.1) / (at_min - self.last.0);
            let meant = self.plan.climb_at(seen_c);
            if climb < 0.4 * meant {
                self.steps += ZONES;
            } else if climb < 0.75 * meant {
                self.steps += 1;
            } else if climb > 1.5 * meant {
                self.steps = self.steps.saturating_sub(1);
            }
            self.steps = self.steps.min(Self::HIGHEST);
            let near_end = if self.plan.near_end(seen_c) { 0.5 } else { 1.0 };
            self.last = (at_min, seen_c);
            self.next_min =
                at_min + near_end * self.every_min + self.chance.log_normal(3.0, 0.8).min(20.0);
        }
        // The middle zone goes first.
        [1, 2, 0].map(|ahead| Self::SHARES[(self.steps + ahead) / ZONES])
    }
}

/// Controller: a set point that waits for the kiln, and power in pulses.
#[derive(Debug)]
struct Controller {
    plan: Plan,
    sensor: Probe,
    power_limit: f64,
    sensed_c: f64,
    set_c: f64,
    peak_c: f64,
    soak_h: f64,
    /// Sum of the error, as a share of full power.
    integral: f64,
    pulse_left: f64,
    substep: usize,
}

impl Controller {
    /// Substeps of one pulse.
    const PULSE: usize = 12;
    const GAIN_PER_C: f64 = 0.03;
    const INTEGRAL_S: f64 = 900.0;
    /// How far the kiln may fall behind before the set point waits, C.
    const WAITS_C: f64 = 20.0;

    /// The top of the programme was tuned on earlier firings: near the end temperature at its
    /// climb, or well above it where the cone is meant to drop on the way.
    fn new(plan: Plan, load: Load, power_limit: f64, sensor: Probe, kiln: &mut Chance) -> Self {
        let (above_c, soak_h) = if kiln.happens(0.6) {
            (kiln.between(-12.0, 6.0), kiln.between(0.1, 0.75))
        } else {
            (60.0, 0.0)
        };
        let peak_c = load.end_c() + above_c;
        let (sensed_c, set_c, integral, pulse_left, substep) = (20.0, 20.0, 0.0, 0.0, 0);
        Self {
            plan,
            sensor,
            power_limit,
            sensed_c,
            set_c,
            peak_c,
            soak_h,
            integral,
            pulse_left,
            substep,
        }
    }
}

impl Switch for Controller {
    /// After the soak a person finds the target standing and adds a little, again and again.
    fn shares(&mut self, at_min: f64, supply: f64, true_c: f64) -> [f64; ZONES] {
        const ADDED_C_PER_H: f64 = 25.0;
        let hours = SUBSTEP_S / 3600.0;
        self.sensed_c += (true_c - self.sensed_c) * SUBSTEP_S / self.sensor.lag_s.max(SUBSTEP_S);
        let shown_c =
            self.sensed_c + self.sensor.offset_c + self.sensor.creep_c_per_h * at_min / 60.0;
        let behind_c = self.set_c - shown_c;
        if behind_c < Self::WAITS_C {
            if self.set_c < self.peak_c {
                self.set_c += hours * self.plan.climb_at(self.set_c);
            } else if self.soak_h > 0.0 {
                self.soak_h -= hours;
            } else {
                self.set_c += hours * ADDED_C_PER_H;
            }
        }
        if self.substep.is_multiple_of(Self::PULSE) {
            let asked = Self::GAIN_PER_C * behind_c + self.integral;
            self.pulse_left = asked.clamp(0.0, self.power_limit) * Self::PULSE as f64;
            let saturated =
                (asked > self.power_limit && behind_c > 0.0) || (asked < 0.0 && behind_c < 0.0);
            if !saturated && supply > 0.0 {
                let pulse_s = Self::PULSE as f64 * SUBSTEP_S;
                self.integral += Self::GAIN_PER_C * behind_c * pulse_s / Self::INTEGRAL_S;
            }
        }
        self.substep += 1;
        let on = self.pulse_left.clamp(0.0, 1.0);
        self.pulse_left -= on;
        [on; ZONES]
    }
}

/// What is hot, and the mains of the day.
#[derive(Debug)]
struct Hot {
    walls: [Wall; ZONES],
    wares: [Ware; ZONES],
    /// Heat each zone's elements give off, W: it follows what is put in.
    glow_w: [f64; ZONES],
    elements_lag_s: f64,
    mains: RedNoise,
    room_c: f64,
    spot_c: f64,
    hot_c: f64,
    energy: Energy,
    stored_at_start_j: f64,
}

impl Hot {
    fn pack(kiln: &ElectricKiln, load: Load, day: &mut Chance, chance: &Chance) -> Self {
        let shelves_kg = 170.0 * kiln.volume_m3;
        let ware_kg = 150.0 * kiln.volume_m3 * day.between(0.6, 1.4);
        let core_lag_s = day.between(200.0, 700.0);
        let area_m2: f64 = kiln.walls.iter().map(|wall| wall.area_m2).sum();
        let wares = [(); ZONES].map(|()| {
            let ware_kg = ware_kg * day.between(0.8, 1.2);
            let mass_kg = (shelves_kg + ware_kg) / ZONES as f64;
            let water = 1e3 * load.water_kj_per_kg() * ware_kg / (shelves_kg + ware_kg);
            Ware::new(1.3 * area_m2 / ZONES as f64, mass_kg, water, core_lag_s)
        });
        let mut hot = Self {
            walls: kiln.walls.clone(),
            wares,
            glow_w: [0.0; ZONES],
            elements_lag_s: kiln.elements_lag_s,
            mains: RedNoise::new(kiln.mains.1, 3_600.0, STEP_S, chance.branch(43)),
            room_c: day.between(5.0, 30.0),
            spot_c: kiln.spot_c + day.normal(0.0, 2.0),
            hot_c: load.end_c(),
            energy: Energy::default(),
            stored_at_start_j: 0.0,
        };
        hot.stored_at_start_j = hot.stored_j();
        hot
    }

    fn stored_j(&self) -> f64 {
        let walls: f64 = self.walls.iter().map(Wall::stored_j).sum();
        let wares: f64 = self.wares.iter().map(Ware::stored_j).sum();
        walls + wares + self.elements_lag_s * self.glow_w.iter().sum::<f64>()
    }

    fn step(&mut self, kiln: &ElectricKiln, on: [f64; ZONES], supply: f64) {
        /// How well a zone sees the next, as a share of the zone's ware.
        const SEEN: f64 = 0.25;
        let volts = 1.0 + kiln.mains.0 + self.mains.value;
        let before_c = self.wares.each_ref().map(|ware| ware.skin_c);
        for zone in 0..ZONES {
            let wall = &mut self.walls[zone];
            let ware = &mut self.wares[zone];
            // Resistance grows by a few hundredths on the way to white heat (from memory).
            let resistance = (1.0 + kiln.ageing[zone]) * (1.0 + 3e-5 * wall.face_c());
            let in_w = kiln.elements_w[zone] * on[zone] * supply * volts * volts / resistance;
            let out_w = self.glow_w[zone];
            self.glow_w[zone] += (in_w - out_w) * SUBSTEP_S / self.elements_lag_s;
            let exchange_w = 0.7 * ware.area_m2 * radiated(wall.face_c(), ware.skin_c)
                + 8.0 * ware.area_m2 * (wall.face_c() - ware.skin_c);
            let neighbours = [zone.checked_sub(1), Some(zone + 1).filter(|next| *next < ZONES)];
            let from_zones_w: f64 = neighbours
                .into_iter()
                .flatten()
                .map(|next| SEEN * ware.area_m2 * radiated(before_c[next], before_c[zone]))
                .sum();
            let vent_w = kiln.vent_kg_per_s * 1_100.0 * (wall.face_c() - self.room_c);
            let into_wall_w = 0.45 * out_w - exchange_w - vent_w;
            let through_j = wall.step(SUBSTEP_S, into_wall_w, self.room_c, 0.5);
            ware.step(SUBSTEP_S, 0.55 * out_w + exchange_w + from_zones_w);
            self.energy.supplied_j += in_w * SUBSTEP_S;
            self.energy.lost_j += through_j + vent_w * SUBSTEP_S;
        }
    }

    fn at_probe_c(&self, kiln: &ElectricKiln) -> f64 {
        let zone = kiln.probe_zone;
        0.65 * self.walls[zone].face_c() + 0.35 * self.wares[zone].skin_c
    }

    fn at_cone_c(&self, kiln: &ElectricKiln) -> f64 {
        let zone = kiln.cone_zone;
        let site_c = 0.2 * self.walls[zone].face_c() + 0.8 * self.wares[zone].skin_c;
        site_c + self.spot_c * site_c / self.hot_c
    }
}
