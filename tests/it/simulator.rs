//! Kilns for the tests, of another make than the forecast's own model: two thermal masses driven
//! by burner steps, with draughts, sagging gas, a probe that lags, and cones integrated here from
//! the chart's rows by small steps of the bending law. Nothing is shared with the forecast but the
//! published chart. All sizes are invented.

use rand::RngExt as _;
use rand::SeedableRng as _;
use rand_pcg::Pcg64Mcg;
use spyhole::testing::cone::{Cone, Family, chart};
use spyhole::testing::firing::event::Look;
use spyhole::testing::firing::{ConePack, EventId, Firing, FiringId, Looked, Seen, State};
use spyhole::testing::kiln::{LoadType, Miss};
use spyhole::testing::units::{Celsius, Moment, Span};

/// Length of a step of the simulation, hours.
pub(crate) const STEP_H: f64 = 15.0 / 3600.0;
const LONGEST_H: f64 = 16.0;
/// How late a burner is usually turned, hours.
const USUALLY_LATE_H: f64 = 0.03;

pub(crate) struct Dice(Pcg64Mcg);

impl Dice {
    pub(crate) fn new(seed: u64) -> Self {
        Dice(Pcg64Mcg::seed_from_u64(seed))
    }

    pub(crate) fn uniform(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.0.random::<f64>()
    }

    /// A normal draw (Box and Muller).
    pub(crate) fn normal(&mut self, mean: f64, deviation: f64) -> f64 {
        let (u, v): (f64, f64) = (self.0.random(), self.0.random());
        mean + deviation * (-2.0 * (1.0 - u).ln()).sqrt() * (std::f64::consts::TAU * v).cos()
    }
}

/// One kiln of the simulated shop.
#[derive(Debug, Clone)]
pub(crate) struct SimulatedKiln {
    pub(crate) name: String,
    pack: ConePack,
    /// Heating by the burner at full, C/h of the light mass.
    full: f64,
    /// Burner settings, parts of full, and when somebody turns to them, hours.
    pub(crate) steps: Vec<(f64, f64)>,
    /// Exchange between the light mass (air, shelves' skin) and the heavy one (walls, load), 1/h.
    light_per_h: f64,
    heavy_per_h: f64,
    /// Losses of the heavy mass, 1/h.
    loss_per_h: f64,
    pub(crate) probe_offset_c: f64,
    probe_lag_h: f64,
    /// How much hotter the cones stand than the probe.
    place_c: f64,
    /// How far the person minding it errs in where a word begins, degrees.
    eye_shift_deg: f64,
    /// Hours to the drop when nothing out of the ordinary happens.
    pub(crate) nominal_h: f64,
}

/// One simulated firing, step by step.
#[derive(Debug, Clone)]
pub(crate) struct SimulatedFiring {
    /// What the probe would read without noise, C.
    pub(crate) probe_c: Vec<f64>,
    /// What the cones stand in, C.
    pub(crate) cones_c: Vec<f64>,
    /// Lean of guide, target and guard, degrees.
    pub(crate) leans: Vec<[f64; 3]>,
    /// When the target reaches its end point, hours since lit.
    pub(crate) drop_h: f64,
    /// When cones half a number below and above the target would reach theirs.
    pub(crate) under_h: f64,
    pub(crate) over_h: f64,
    /// Climb at the cones' place at the drop, C/h.
    pub(crate) climb_c_per_h: f64,
    eye_shift_deg: f64,
}

/// How the readings of a firing come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Reads {
    Nothing,
    /// Once, between a quarter of an hour and an hour ago.
    Once,
    /// Whole degrees written down about every half hour.
    ByHand,
    /// Every 20 seconds.
    Probe,
}

pub(crate) fn pack() -> ConePack {
    ConePack::usual(Cone::parse("018").unwrap(), Family::SelfSupporting)
}

pub(crate) fn gold(usual_length: Option<Span>) -> LoadType {
    LoadType {
        name: "gold".into(),
        target: pack().target,
        family: Family::SelfSupporting,
        under_cones: 0.5,
        over_cones: 0.5,
        under: Miss::FireAgain,
        over: Miss::Lost,
        usual_length,
        cautions: Vec::new(),
    }
}

/// The lighting of every simulated firing: a moment of no meaning.
pub(crate) const LIT: Moment = Moment(1_750_000_000_000);

/// A look that no journal keeps.
pub(crate) fn looked(at: Moment, look: Look) -> Looked {
    Looked { event: EventId(0), at, look }
}

pub(crate) fn after(hours: f64) -> Moment {
    LIT + Span::from_hours(hours)
}

impl SimulatedKiln {
    /// A kiln that fires gold, and whose climb at the drop is about `climb_c_per_h` on an ordinary
    /// day.
    pub(crate) fn new(name: &str, climb_c_per_h: f64, dice: &mut Dice) -> Self {
        Self::firing(name, pack(), climb_c_per_h, dice)
    }

    /// The same of any cones.
    pub(crate) fn firing(name: &str, pack: ConePack, climb_c_per_h: f64, dice: &mut Dice) -> Self {
        let mut kiln = SimulatedKiln {
            name: name.into(),
            pack,
            full: 0.0,
            steps: vec![
                (0.0, dice.uniform(0.25, 0.4)),
                (dice.uniform(0.8, 1.3), dice.uniform(0.5, 0.65)),
                (dice.uniform(1.8, 2.4), dice.uniform(0.8, 0.9)),
                (dice.uniform(2.8, 3.2), 1.0),
            ],
            light_per_h: dice.uniform(5.0, 8.0),
            heavy_per_h: dice.uniform(2.0, 3.5),
            loss_per_h: dice.uniform(0.05, 0.12),
            probe_offset_c: dice.normal(0.0, 4.0),
            probe_lag_h: dice.uniform(40.0, 150.0) / 3600.0,
            place_c: dice.normal(0.0, 5.0),
            eye_shift_deg: dice.normal(0.0, 2.0),
            nominal_h: 0.0,
        };
        let (mut low, mut high) = (150.0, 3000.0);
        for _ in 0..11 {
            kiln.full = 0.5 * (low + high);
            let fired = kiln.fire_quietly();
            if fired.climb_c_per_h < climb_c_per_h { low = kiln.full } else { high = kiln.full }
        }
        kiln.nominal_h = kiln.fire_quietly().drop_h;
        kiln
    }

    fn fire_quietly(&self) -> SimulatedFiring {
        self.run(&Day::ordinary(self.steps.len()), &mut None, 1.0, &|_| 1.0)
    }

    pub(crate) fn fire(&self, dice: &mut Dice) -> SimulatedFiring {
        self.fire_at(1.0, &|_| 1.0, dice)
    }

    /// A firing in which all heat flows at a pace of its own, and whose burner gives a share of what
    /// it should, by the hours since lit.
    pub(crate) fn fire_at(
        &self,
        pace: f64,
        share: &dyn Fn(f64) -> f64,
        dice: &mut Dice,
    ) -> SimulatedFiring {
        let day = Day::drawn(self.steps.len(), dice);
        self.run(&day, &mut Some(dice), pace, share)
    }

    fn run(
        &self,
        day: &Day,
        dice: &mut Option<&mut Dice>,
        pace: f64,
        share: &dyn Fn(f64) -> f64,
    ) -> SimulatedFiring {
        let [guide, target, guard] = [self.pack.guide, Some(self.pack.target), self.pack.guard]
            .map(|cone| RateLaw::of(cone.unwrap()));
        let halves = [guide.halfway(&target), target.halfway(&guard)];
        let rates = [guide, target, guard];
        let (mut light, mut heavy) = (day.ambient_c, day.ambient_c);
        let mut probe = day.ambient_c;
        let mut sag = 0.0;
        let mut draught: (f64, f64) = (0.0, 1.0);
        let mut lean = [8.0f64; 3];
        let mut half_work = [0.0; 2];
        let mut fired = SimulatedFiring {
            probe_c: Vec::new(),
            cones_c: Vec::new(),
            leans: Vec::new(),
            drop_h: LONGEST_H,
            under_h: LONGEST_H,
            over_h: LONGEST_H,
            climb_c_per_h: 0.0,
            eye_shift_deg: self.eye_shift_deg,
        };
        let mut before_c = light;
        let bend = -(4.0f64.to_radians().tan().ln());
        let mut past_drop = 0;
        for step in 0..(LONGEST_H / STEP_H) as usize {
            let at_h = step as f64 * STEP_H;
            let setting = self
                .steps
                .iter()
                .zip(&day.late_h)
                .rev()
                .find(|((from_h, _), late_h)| pace * at_h >= from_h + *late_h)
                .map_or(self.steps[0].1, |((_, setting), _)| *setting);
            if let Some(dice) = dice {
                sag += -sag * STEP_H / 0.7 + dice.normal(0.0, 0.03 * (2.0 * STEP_H / 0.7).sqrt());
                if draught.0 > 0.0 {
                    draught.0 -= STEP_H;
                } else {
                    draught.1 = 1.0;
                    if dice.uniform(0.0, 1.0) < 0.25 * STEP_H {
                        draught = (dice.uniform(0.08, 0.35), dice.uniform(0.85, 0.97));
                    }
                }
            }
            let heating =
                share(at_h) * self.full * setting * day.pressure * draught.1 * (1.0 + sag);
            let exchange = light - heavy;
            light += pace * STEP_H * (heating - self.light_per_h * exchange);
            heavy += pace
                * STEP_H
                * (self.heavy_per_h * exchange / day.mass
                    - self.loss_per_h * (heavy - day.ambient_c));
            probe += STEP_H / self.probe_lag_h * (light - probe);
            let cones_c = light + self.place_c + day.place_c;
            let climb = (cones_c - before_c) / STEP_H;
            before_c = cones_c;
            for cone in 0..3 {
                if lean[cone] >= 90.0 {
                    continue;
                }
                let work = rates[cone].per_hour(cones_c + day.tolerance_c[cone]) * STEP_H;
                // Half a step first, so that the fast end of the bend is not overshot.
                let half =
                    lean[cone] + 0.5 * (bend * work * lean[cone].to_radians().sin()).to_degrees();
                let next = lean[cone] + (bend * work * half.to_radians().sin()).to_degrees();
                if cone == 1 && lean[1] < 90.0 && next >= 90.0 {
                    fired.drop_h = at_h + STEP_H * (90.0 - lean[1]) / (next - lean[1]);
                    fired.climb_c_per_h = climb;
                }
                lean[cone] = next.min(90.0);
            }
            fired.probe_c.push(probe + self.probe_offset_c + day.probe_c);
            fired.cones_c.push(cones_c);
            fired.leans.push(lean);
            let ends = [&mut fired.under_h, &mut fired.over_h];
            for ((rate, work), end_h) in halves.iter().zip(&mut half_work).zip(ends) {
                let before = *work;
                *work += rate.per_hour(cones_c + day.tolerance_c[1]) * STEP_H;
                if before < 1.0 && *work >= 1.0 {
                    *end_h = at_h + STEP_H;
                }
            }
            if lean[1] >= 90.0 {
                past_drop += 1;
                if past_drop > (1.0 / STEP_H) as usize && half_work[1] >= 1.0 {
                    break;
                }
            }
        }
        fired
    }
}

/// What is different today.
struct Day {
    pressure: f64,
    mass: f64,
    ambient_c: f64,
    /// How late each burner step is turned, hours.
    late_h: Vec<f64>,
    probe_c: f64,
    place_c: f64,
    tolerance_c: [f64; 3],
}

impl Day {
    fn ordinary(steps: usize) -> Day {
        Day {
            pressure: 1.0,
            mass: 1.0,
            ambient_c: 20.0,
            late_h: (0..steps).map(|at| if at == 0 { 0.0 } else { USUALLY_LATE_H }).collect(),
            probe_c: 0.0,
            place_c: 0.0,
            tolerance_c: [0.0; 3],
        }
    }

    fn drawn(steps: usize, dice: &mut Dice) -> Day {
        Day {
            pressure: dice.normal(0.0, 0.045).exp(),
            mass: dice.normal(0.0, 0.03).exp(),
            ambient_c: dice.normal(19.0, 5.0),
            late_h: (0..steps)
                .map(|at| if at == 0 { 0.0 } else { dice.normal(USUALLY_LATE_H, 0.09) })
                .collect(),
            probe_c: dice.normal(0.0, 1.0),
            place_c: dice.normal(0.0, 1.5),
            tolerance_c: [0; 3].map(|_| dice.uniform(-2.0, 2.0)),
        }
    }
}

/// The cones used here do not soften below this, C: a ten-thousandth of their heat work.
const NOTHING_BELOW_C: f64 = 480.0;

/// k(T) of one cone from its chart rows: ln B straight in 1/T from row to row, and beyond.
struct RateLaw {
    /// Inverse kelvin and ln rate of each row, coolest first.
    rows: Vec<(f64, f64)>,
}

impl RateLaw {
    fn of(cone: Cone) -> RateLaw {
        let rows = chart::rows(cone, Family::SelfSupporting)
            .iter()
            .map(|row| (1.0 / (row.end.0 + 273.15), row.rate.0.ln()))
            .collect();
        RateLaw { rows }
    }

    /// The law of a cone in the middle of two.
    fn halfway(&self, next: &RateLaw) -> RateLaw {
        let middle =
            |(row, next): (&(f64, f64), &(f64, f64))| (f64::midpoint(row.0, next.0), row.1);
        RateLaw { rows: self.rows.iter().zip(&next.rows).map(middle).collect() }
    }

    fn per_hour(&self, c: f64) -> f64 {
        if c < NOTHING_BELOW_C {
            return 0.0;
        }
        let inverse = 1.0 / (c + 273.15);
        let at = self.rows[1..self.rows.len() - 1]
            .iter()
            .position(|row| inverse >= row.0)
            .unwrap_or(self.rows.len() - 2);
        let (cool, hot) = (self.rows[at], self.rows[at + 1]);
        let slope = (hot.1 - cool.1) / (cool.0 - hot.0);
        let rate = (hot.1 + slope * (hot.0 - inverse)).exp();
        rate * slope * inverse * inverse
    }
}

impl SimulatedFiring {
    fn step(&self, at_h: f64) -> usize {
        // The first entry is the end of the first step.
        ((at_h / STEP_H).round() as usize).saturating_sub(1).min(self.leans.len() - 1)
    }

    /// What somebody says who looks at `at_h`.
    pub(crate) fn look(&self, at_h: f64, dice: &mut Dice) -> Look {
        let leans = self.leans[self.step(at_h)];
        let mut word = |lean: f64| {
            let seen = lean + self.eye_shift_deg + dice.normal(0.0, 2.5);
            if lean >= 89.9 {
                return Some(Seen::Down);
            }
            Seen::ALL.into_iter().find(|word| seen < word.lean_range_deg().1).or(Some(Seen::Down))
        };
        Look { guide: word(leans[0]), target: word(leans[1]), guard: word(leans[2]) }
    }

    /// The readings up to `until_h`.
    pub(crate) fn readings(
        &self,
        reads: Reads,
        until_h: f64,
        dice: &mut Dice,
    ) -> Vec<(Moment, Celsius)> {
        let mut readings = Vec::new();
        let (pause_h, noise) = match reads {
            Reads::Nothing => return readings,
            Reads::Once => {
                let at_h = until_h - dice.uniform(0.25, 1.0);
                let c = self.probe_c[self.step(at_h)] + dice.normal(0.0, 1.0);
                return vec![(after(at_h), Celsius(c.round()))];
            }
            Reads::ByHand => (0.5, 1.0),
            Reads::Probe => (20.0 / 3600.0, 0.7),
        };
        let mut at_h = pause_h;
        while at_h <= until_h {
            let c = self.probe_c[self.step(at_h)] + dice.normal(0.0, noise);
            let c = if reads == Reads::ByHand { c.round() } else { (c * 10.0).round() / 10.0 };
            readings.push((after(at_h), Celsius(c)));
            at_h += pause_h * if reads == Reads::ByHand { dice.uniform(0.8, 1.2) } else { 1.0 };
        }
        readings
    }

    /// The record of this firing up to `until_h`, without looks.
    pub(crate) fn record(
        &self,
        kiln: &SimulatedKiln,
        reads: Reads,
        until_h: f64,
        dice: &mut Dice,
    ) -> Firing {
        Firing {
            id: FiringId(1),
            kiln: kiln.name.clone(),
            load_type: "gold".into(),
            pack: Some(kiln.pack),
            lit: Some(LIT),
            readings: self.readings(reads, until_h, dice),
            state: State::Lit,
            ..Firing::default()
        }
    }

    /// The finished record, as somebody leaves it who begins to look about half an hour before
    /// the usual time and then every few minutes.
    pub(crate) fn finished(&self, kiln: &SimulatedKiln, reads: Reads, dice: &mut Dice) -> Firing {
        let mut firing = self.record(kiln, reads, self.drop_h, dice);
        let mut at_h = self.drop_h - dice.uniform(0.3, 0.9);
        loop {
            let look = self.look(at_h, dice);
            firing.looks.push(looked(after(at_h), look));
            if look.target == Some(Seen::Down) {
                break;
            }
            let near = look.guide == Some(Seen::Down);
            at_h += if near { dice.uniform(0.04, 0.09) } else { dice.uniform(0.1, 0.2) };
        }
        firing.off = Some(after(at_h));
        firing.state = State::Closed;
        firing
    }
}

#[test]
fn law_a_load_is_under_before_its_drop_and_over_after_it() {
    let bisque = ConePack::usual(Cone::parse("04").unwrap(), Family::SelfSupporting);
    for seed in 0..10 {
        for pack in [pack(), bisque] {
            let dice = &mut Dice::new(seed);
            let kiln = SimulatedKiln::firing("North", pack, dice.uniform(80.0, 250.0), dice);
            let fire =
                |pace, share: &dyn Fn(f64) -> f64| kiln.fire_at(pace, share, &mut Dice::new(seed));
            let usual = fire(1.0, &|_| 1.0);
            let slow = fire(0.8, &|_| 1.0);
            let low = fire(1.0, &|at_h| if at_h < 2.0 { 0.5 } else { 1.0 });
            for fired in [&usual, &slow, &low] {
                assert!(fired.under_h < fired.drop_h && fired.drop_h < fired.over_h);
                let drop_c = fired.cones_c[fired.step(fired.drop_h)];
                let nearest = chart::rows(pack.target, pack.family).iter().min_by(|a, b| {
                    let off = |row: &chart::Row| (row.rate.0 / fired.climb_c_per_h).ln().abs();
                    off(a).total_cmp(&off(b))
                });
                let end_c = nearest.unwrap().end.0;
                assert!((drop_c - end_c).abs() < 50.0, "{drop_c} beside {end_c}");
            }
            assert!(slow.drop_h > usual.drop_h && low.drop_h > usual.drop_h);
            assert!((0.75..0.95).contains(&(usual.drop_h / slow.drop_h)));
        }
    }
}
