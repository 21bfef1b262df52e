//! What comes of a firing, and how it is written while a kiln runs.

use std::ops::Deref;

use super::chance::Chance;
use super::cones::{Cone, DOWN_DEG, Kinetics};
use super::faults::Fault;
use super::loads::Load;
use super::people::{Person, Typed, Word, Writer};
use super::probes::Probe;

/// Seconds between two entries of a firing.
pub(crate) const STEP_S: f64 = 30.0;
/// Longest firing, hours: a kiln that does not get its cones down by then is badly simulated.
const LONGEST_H: f64 = 48.0;
/// How long a firing runs on at most once the load is over, for the guard to go down too, hours.
const AFTER_OVER_H: f64 = 1.0;
/// Lean at which a cone is down, with room for rounding, degrees.
const FLAT_DEG: f64 = DOWN_DEG - 1e-9;

/// Where the heat went, J.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Energy {
    pub(crate) supplied_j: f64,
    pub(crate) lost_j: f64,
    pub(crate) stored_j: f64,
}

/// A firing as it truly was, and what people and probes make of it.
#[derive(Debug, Clone)]
pub(crate) struct Firing {
    course: Course,
    /// Climb at the probe in the last quarter of an hour before the drop, C/h.
    pub(crate) climb_at_drop_c_per_h: f64,
    /// When the lighting is said to have been, hours since the true one.
    pub(crate) lit_noted_h: f64,
    faults: Vec<Fault>,
    readings: Vec<Option<f64>>,
    second_readings: Vec<Option<f64>>,
    writer: Writer,
}

impl Deref for Firing {
    type Target = Course;

    fn deref(&self) -> &Course {
        &self.course
    }
}

impl Firing {
    fn step_at(&self, at_h: f64) -> usize {
        (at_h.max(0.0) * 3600.0 / self.step_s) as usize
    }

    /// Last reading of the probe by then; none where the probe is silent or the firing over.
    pub(crate) fn probe_reading(&self, at_h: f64) -> Option<f64> {
        self.readings.get(self.step_at(at_h)).copied().flatten()
    }

    /// The same of a second probe, beside the cones, which the faults of the first leave alone.
    pub(crate) fn second_probe_reading(&self, at_h: f64) -> Option<f64> {
        self.second_readings.get(self.step_at(at_h)).copied().flatten()
    }

    /// Entries in the book when somebody means to write the display down every so many minutes.
    /// Nothing is written while the display is dark.
    pub(crate) fn typed_readings(&self, every_min: f64) -> Vec<Typed> {
        let mut writer = self.writer.clone();
        let mut typed = Vec::new();
        for walk in 1.. {
            let late_min = writer.chance.log_normal(1.0, 1.0).min(0.8 * every_min);
            let at_h = (f64::from(walk) * every_min + late_min) / 60.0;
            if self.step_at(at_h) >= self.readings.len() {
                break;
            }
            if let Some(c) = self.probe_reading(at_h) {
                typed.push(writer.write(typed.len(), at_h, c, &self.faults));
            }
        }
        typed
    }

    /// The same firing, in whose book such a share is mistyped beside what its faults ask for.
    pub(crate) fn slipping(self, share: f64) -> Self {
        Self { writer: self.writer.slipping(share), ..self }
    }

    /// True leans at a moment, degrees; after the end as they lay at the end.
    pub(crate) fn leans_at(&self, at_h: f64) -> [f64; 3] {
        self.leans[self.step_at(at_h).min(self.leans.len() - 1)]
    }

    /// Somebody for this firing, with its faults and an eye of so many degrees.
    pub(crate) fn person(&self, eye_deg: f64, seed: u64) -> Person {
        Person::new(eye_deg, &self.faults, seed)
    }

    /// What somebody says of guide, target and guard.
    pub(crate) fn look(&self, at_h: f64, person: &mut Person) -> [Option<Word>; 3] {
        person.look(self.leans_at(at_h))
    }
}

/// Book of a firing that is running: the cones bend as it is written.
#[derive(Debug)]
pub(crate) struct Book {
    load: Load,
    cones: [Cone; 3],
    half_below: Cone,
    half_above: Cone,
    seconds: f64,
    chamber_at_probe_c: Vec<f64>,
    chamber_at_cone_c: Vec<f64>,
    leans: Vec<[f64; 3]>,
    under_s: Option<f64>,
    drop_s: Option<f64>,
    over_s: Option<f64>,
}

impl Book {
    /// Cones differ from the master cone by up to 2 C (the foundation's tolerance), taken as two
    /// standard deviations.
    pub(crate) fn open(load: Load, chance: &mut Chance) -> Self {
        let pack = load.pack();
        let tolerances = [(); 3].map(|()| chance.normal(0.0, 1.0));
        let cone = |place: usize| Cone::new(Kinetics::of(pack[place]), tolerances[place]);
        Self {
            load,
            cones: [0, 1, 2].map(cone),
            // Half a cone either way is reckoned from the very cone that drops.
            half_below: Cone::new(Kinetics::halfway(pack[0], pack[1]), tolerances[1]),
            half_above: Cone::new(Kinetics::halfway(pack[1], pack[2]), tolerances[1]),
            seconds: 0.0,
            chamber_at_probe_c: Vec::new(),
            chamber_at_cone_c: Vec::new(),
            leans: Vec::new(),
            under_s: None,
            drop_s: None,
            over_s: None,
        }
    }

    /// Writes what the chamber does up to `seconds` later, which divide a step of the book.
    pub(crate) fn write(&mut self, seconds: f64, at_probe_c: f64, at_cone_c: f64) {
        if self.seconds % STEP_S == 0.0 {
            self.chamber_at_probe_c.push(at_probe_c);
            self.chamber_at_cone_c.push(at_cone_c);
            self.leans.push(self.cones.each_ref().map(Cone::lean_deg));
        }
        for cone in &mut self.cones {
            cone.step(seconds / 3600.0, at_cone_c);
        }
        self.half_below.step(seconds / 3600.0, at_cone_c);
        self.half_above.step(seconds / 3600.0, at_cone_c);
        self.seconds += seconds;
        let end_s = self.seconds;
        if self.under_s.is_none() && self.half_below.lean_deg() >= FLAT_DEG {
            self.under_s = Some(end_s);
        }
        if self.drop_s.is_none() && self.cones[1].lean_deg() >= FLAT_DEG {
            self.drop_s = Some(end_s);
        }
        // In a climb far beyond the chart the two may cross: a load is over only after the drop.
        let over = self.drop_s.is_some() && self.half_above.lean_deg() >= FLAT_DEG;
        if self.over_s.is_none() && over {
            self.over_s = Some(end_s);
        }
    }

    pub(crate) fn at_h(&self) -> f64 {
        self.seconds / 3600.0
    }

    /// Whether there is nothing more to see.
    pub(crate) fn full(&self) -> bool {
        assert!(self.at_h() < LONGEST_H, "the cones never went down: {:?}", self.cones);
        let Some(over_s) = self.drop_s.and(self.over_s) else { return false };
        self.cones[2].lean_deg() >= FLAT_DEG || self.seconds > over_s + AFTER_OVER_H * 3600.0
    }

    /// Closes the book and lets the probes and the writer loose on it.
    pub(crate) fn close(
        self,
        energy: Energy,
        probes: [&Probe; 2],
        faults: &[Fault],
        chance: &Chance,
    ) -> Firing {
        let [drop_h, over_h] = [self.drop_s, self.over_s].map(|s| s.unwrap() / 3600.0);
        // Far beyond the chart those two may cross as well: what is down is not under.
        let under_h = self.under_s.map_or(drop_h, |s| drop_h.min(s / 3600.0));
        let course = Course {
            load: self.load,
            step_s: STEP_S,
            chamber_at_probe_c: self.chamber_at_probe_c,
            chamber_at_cone_c: self.chamber_at_cone_c,
            leans: self.leans,
            under_h,
            drop_h,
            over_h,
            energy,
        };
        course.told(probes, faults, chance)
    }
}

/// A firing as it truly was, in whatever kiln, before probes and people come to it.
#[derive(Debug, Clone)]
pub(crate) struct Course {
    pub(crate) load: Load,
    pub(crate) step_s: f64,
    /// True temperatures at every step, C, from the lighting on.
    pub(crate) chamber_at_probe_c: Vec<f64>,
    pub(crate) chamber_at_cone_c: Vec<f64>,
    /// True leans of guide, target and guard at every step, degrees.
    pub(crate) leans: Vec<[f64; 3]>,
    /// When a cone half a number below the target is down, hours since the lighting: a load shut off
    /// before that is under.
    pub(crate) under_h: f64,
    /// When the target is down, hours since the lighting.
    pub(crate) drop_h: f64,
    /// When a cone half a number above the target would be down, had nobody shut off.
    pub(crate) over_h: f64,
    pub(crate) energy: Energy,
}

impl Course {
    pub(crate) fn told(self, probes: [&Probe; 2], faults: &[Fault], chance: &Chance) -> Firing {
        let drop_step = (self.drop_h * 3600.0 / self.step_s) as usize;
        let quarter = (900.0 / self.step_s) as usize;
        let climb_at_drop_c_per_h = 4.0
            * (self.chamber_at_probe_c[drop_step] - self.chamber_at_probe_c[drop_step - quarter]);
        let mut day = chance.branch(50);
        let [first, second] = probes.map(|probe| probe.on_the_day(&mut day));
        let late_min: f64 = faults
            .iter()
            .map(|fault| if let Fault::LitNoted { late_min } = fault { *late_min } else { 0.0 })
            .sum();
        let lit_noted_h = (day.normal(0.0, 1.5) + late_min) / 60.0;
        let of_the_supply: Vec<_> = faults
            .iter()
            .copied()
            .filter(|fault| matches!(fault, Fault::PowerCut { .. }))
            .collect();
        let noises = [51, 52].map(|purpose| chance.branch(purpose));
        let [mut noise, mut second_noise] = noises;
        Firing {
            readings: first.readings(&self.chamber_at_probe_c, self.step_s, faults, &mut noise),
            second_readings: second.readings(
                &self.chamber_at_cone_c,
                self.step_s,
                &of_the_supply,
                &mut second_noise,
            ),
            course: self,
            climb_at_drop_c_per_h,
            lit_noted_h,
            faults: faults.to_vec(),
            writer: Writer::draw(chance.branch(53)),
        }
    }
}
