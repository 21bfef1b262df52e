//! A gas kiln by its balance of energy.
//!
//! Fuel burns with as much air as damper and wind let in; the flame radiates to wall and ware, and
//! what it keeps goes up the stack. A person comes by at times, compares the climb with what they
//! mean it to be, and turns the pressure. The bottle cools and sags, the wind blows in gusts.

use super::chance::{Chance, RedNoise};
use super::faults::{self, Fault};
use super::firing::{Book, Energy, Firing, STEP_S};
use super::loads::{Load, Plan};
use super::probes::Probe;
use super::wall::{Wall, Ware, radiated};

const SUBSTEP_S: f64 = 5.0;
/// Lower heating value of propane, J a kg, and the air it takes, kg a kg (from memory).
const HEATING_VALUE: f64 = 46.3e6;
const AIR_PER_FUEL: f64 = 15.6;

/// Gas kiln as built, and how its people run it.
#[derive(Debug, Clone)]
pub(crate) struct GasKiln {
    pub(crate) seed: u64,
    volume_m3: f64,
    wall: Wall,
    /// Heat of the burners at full pressure, W.
    burners_w: f64,
    flame_emissivity: f64,
    /// Air beyond what the fuel takes, as a share, with the damper out and with it pushed in.
    excess_air: [f64; 2],
    /// Cold air drawn in by the draught, kg/s.
    leak_kg_per_s: f64,
    /// Where the cones stand: up to 1 in the lee of the shelves, down to -1 in the way of the flame.
    shelter: f64,
    /// How much hotter it is at the cones than at the probe when hot, C.
    spot_c: f64,
    probes: [Probe; 2],
    /// Minutes between two turns of the pressure.
    turns_every_min: f64,
    /// Share of a wished climb within which nobody touches anything.
    content_within: f64,
    /// How far the pressure of a bottle sags as it cools, share.
    sag: f64,
    gust: f64,
}

impl GasKiln {
    pub(crate) fn draw(seed: u64) -> Self {
        let mut chance = Chance::new(seed).branch(10);
        let volume_m3 = chance.between(0.12, 0.6);
        let area_m2 = 6.0 * volume_m3.powf(2.0 / 3.0);
        Self {
            seed,
            volume_m3,
            wall: Wall::new(
                area_m2,
                chance.between(0.115, 0.2),
                chance.between(0.15, 0.28),
                chance.between(500.0, 850.0),
            ),
            burners_w: area_m2 * chance.between(26e3, 36e3),
            flame_emissivity: chance.between(0.15, 0.35),
            excess_air: [chance.between(0.3, 0.7), chance.between(0.0, 0.25)],
            leak_kg_per_s: area_m2 * chance.between(0.0, 1.0e-3),
            shelter: chance.between(-1.0, 1.0),
            spot_c: chance.normal(0.0, 8.0),
            probes: [Probe::draw(&mut chance), Probe::draw(&mut chance)],
            turns_every_min: chance.between(20.0, 60.0),
            content_within: chance.between(0.1, 0.3),
            sag: chance.between(0.0, 0.15),
            gust: chance.between(0.02, 0.15),
        }
    }

    pub(crate) fn fire(&self, load: Load, faults: &[Fault], seed: u64) -> Firing {
        let chance = Chance::new(self.seed).branch(seed);
        let mut day = chance.branch(20);
        let pace = faults::pace(faults) * day.normal(1.0, 0.06);
        let plan = Plan::usual(load, self.seed).at_pace(pace);
        let mut book = Book::open(load, &mut day);
        let mut fire = Fire::lay(self, load, &mut day, &chance);
        let mut hand = Hand::new(self, &plan, chance.branch(21));
        while !book.full() {
            let at_min = book.at_h() * 60.0;
            let supply = faults::supply(faults, at_min);
            hand.come_by(at_min, supply, fire.at_probe_c());
            if at_min * 60.0 % STEP_S == 0.0 {
                fire.wind.step();
            }
            fire.step(self, &hand, supply);
            book.write(SUBSTEP_S, fire.at_probe_c(), fire.at_cone_c(self));
        }
        let energy = Energy {
            stored_j: fire.wall.stored_j() + fire.ware.stored_j() - fire.stored_at_start_j,
            ..fire.energy
        };
        book.close(energy, [&self.probes[0], &self.probes[1]], faults, &chance)
    }
}

/// The person at the valve.
#[derive(Debug)]
struct Hand<'a> {
    kiln: &'a GasKiln,
    plan: &'a Plan,
    chance: Chance,
    /// Gauge pressure, share of the highest.
    pressure: f64,
    damper_out: bool,
    /// Temperature at which the damper is pushed in, C.
    damper_in_at_c: f64,
    every_min: f64,
    next_min: f64,
    last: (f64, f64),
    was_out: bool,
}

impl<'a> Hand<'a> {
    fn new(kiln: &'a GasKiln, plan: &'a Plan, mut chance: Chance) -> Self {
        // A rough idea of what the first climb takes: the bricks near the face and the ware.
        let watts =
            kiln.volume_m3 * 900e3 * plan.climb_at(20.0) / 3600.0 * chance.between(0.5, 1.2);
        let pressure = (watts / kiln.burners_w).powi(2).clamp(0.002, 1.0);
        let damper_in_at_c = chance.between(300.0, 900.0);
        let every_min = plan.walks_every_min(kiln.turns_every_min);
        Self {
            kiln,
            plan,
            chance,
            pressure,
            damper_out: true,
            damper_in_at_c,
            every_min,
            next_min: every_min,
            last: (0.0, 20.0),
            was_out: false,
        }
    }

    /// Turns the pressure when it is time to: by how far the climb since the last turn was from
    /// the one meant, never by more than the nerve allows.
    fn come_by(&mut self, at_min: f64, supply: f64, true_c: f64) {
        self.was_out |= supply == 0.0;
        if at_min < self.next_min || supply == 0.0 {
            return;
        }
        let seen_c = true_c + self.chance.normal(0.0, 2.0);
        let climb = 60.0 * (seen_c - self.last.1) / (at_min - self.last.0);
        let off = self.plan.climb_at(seen_c) / climb.max(8.0);
        if !self.was_out && (off - 1.0).abs() > self.kiln.content_within {
            // In a hot kiln most of the heat keeps it hot, and a little more or less is felt.
            let nerve = if seen_c < 700.0 { 0.8 } else { 0.4 };
            let turn = off.powf(nerve).clamp(0.5, 1.7) * self.chance.normal(1.0, 0.03);
            self.pressure = (self.pressure * turn).clamp(0.002, 1.0);
        }
        if seen_c > self.damper_in_at_c {
            self.damper_out = false;
        }
        self.was_out = false;
        self.last = (at_min, seen_c);
        let near_end = if self.plan.near_end(seen_c) { 0.5 } else { 1.0 };
        self.next_min =
            at_min + near_end * self.every_min + self.chance.log_normal(3.0, 0.8).min(20.0);
    }
}

/// What is hot, and the weather.
#[derive(Debug)]
struct Fire {
    flame_c: f64,
    wall: Wall,
    ware: Ware,
    wind: RedNoise,
    room_c: f64,
    spot_c: f64,
    hot_c: f64,
    /// Share of the bottle's cold that has set in.
    bottle_cold: f64,
    bottle_h: f64,
    energy: Energy,
    stored_at_start_j: f64,
}

impl Fire {
    fn lay(kiln: &GasKiln, load: Load, day: &mut Chance, chance: &Chance) -> Self {
        let shelves_kg = 110.0 * kiln.volume_m3;
        let ware_kg = 80.0 * kiln.volume_m3 * day.between(0.6, 1.4);
        let mass_kg = shelves_kg + ware_kg;
        let water = 1e3 * load.water_kj_per_kg() * ware_kg / mass_kg;
        let ware = Ware::new(1.2 * kiln.wall.area_m2, mass_kg, water, day.between(240.0, 900.0));
        Self {
            flame_c: 60.0,
            stored_at_start_j: kiln.wall.stored_j() + ware.stored_j(),
            wall: kiln.wall.clone(),
            ware,
            wind: RedNoise::new(kiln.gust, day.between(120.0, 900.0), STEP_S, chance.branch(22)),
            room_c: day.between(2.0, 30.0),
            spot_c: kiln.spot_c + day.normal(0.0, 3.0),
            hot_c: load.end_c(),
            bottle_cold: 0.0,
            bottle_h: day.between(2.0, 8.0),
            energy: Energy::default(),
        }
    }

    fn step(&mut self, kiln: &GasKiln, hand: &Hand<'_>, supply: f64) {
        let wind = self.wind.value;
        self.bottle_cold += (1.0 - self.bottle_cold) * SUBSTEP_S / (3600.0 * self.bottle_h);
        let pressure = hand.pressure * (1.0 - kiln.sag * self.bottle_cold);
        let heat_w = kiln.burners_w * pressure.sqrt() * supply;
        let excess = kiln.excess_air[usize::from(!hand.damper_out)] * (1.0 + wind).max(0.2);
        let burnt_kg_per_s = heat_w / HEATING_VALUE * (1.0 + AIR_PER_FUEL * (1.0 + excess));
        let draught = if hand.damper_out { 1.0 } else { 0.4 };
        let air_kg_per_s =
            burnt_kg_per_s + kiln.leak_kg_per_s * draught * (1.0 + 2.0 * wind).max(0.0);
        let [to_wall_w, to_ware_w, up_stack_w] = self.flame(kiln, heat_w, air_kg_per_s);
        let exchange_w = 0.6 * self.ware.area_m2 * radiated(self.wall.face_c(), self.ware.skin_c);
        // The spyhole and the flue see the room.
        let out_w = 2e-3 * kiln.volume_m3 * radiated(self.wall.face_c(), self.room_c);
        let through_j = self.wall.step(
            SUBSTEP_S,
            to_wall_w - exchange_w - out_w,
            self.room_c,
            1.0 + 5.0 * wind,
        );
        self.ware.step(SUBSTEP_S, to_ware_w + exchange_w);
        self.energy.supplied_j += heat_w * SUBSTEP_S;
        self.energy.lost_j += through_j + (up_stack_w + out_w) * SUBSTEP_S;
    }

    /// Heat from the flame to wall and ware and up the stack, W. The flame holds next to nothing,
    /// so it is as hot as lets all of it go somewhere: Newton's method from where it was.
    fn flame(&mut self, kiln: &GasKiln, heat_w: f64, air_kg_per_s: f64) -> [f64; 3] {
        const STIRRED: f64 = 12.0;
        let surfaces =
            [(kiln.wall.area_m2, self.wall.face_c()), (self.ware.area_m2, self.ware.skin_c)];
        let flows = |flame_c: f64| {
            let [wall, ware] = surfaces.map(|(area, c)| {
                area * (kiln.flame_emissivity * radiated(flame_c, c) + STIRRED * (flame_c - c))
            });
            let stack = air_kg_per_s
                * (1_000.0 * (flame_c - self.room_c)
                    + 0.1 * (flame_c.powi(2) - self.room_c.powi(2)));
            [wall, ware, stack]
        };
        let mut flame_c = self.flame_c;
        for _ in 0..3 {
            let left_w = heat_w - flows(flame_c).iter().sum::<f64>();
            let slope = (flows(flame_c + 1.0).iter().sum::<f64>() + left_w) - heat_w;
            flame_c += (left_w / slope).clamp(-400.0, 400.0);
        }
        self.flame_c = flame_c;
        flows(flame_c)
    }

    fn at_probe_c(&self) -> f64 {
        0.1 * self.flame_c + 0.55 * self.wall.face_c() + 0.35 * self.ware.skin_c
    }

    fn at_cone_c(&self, kiln: &GasKiln) -> f64 {
        let skin_c = self.ware.skin_c;
        let site_c = if kiln.shelter < 0.0 {
            skin_c - 0.4 * kiln.shelter * (self.flame_c - skin_c)
        } else {
            skin_c + 0.6 * kiln.shelter * (self.ware.core_c - skin_c)
        };
        site_c + self.spot_c * site_c / self.hot_c
    }
}
