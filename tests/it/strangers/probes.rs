//! What a thermocouple makes of the chamber.

use super::chance::Chance;
use super::faults::Fault;

/// Thermocouple in its sheath.
#[derive(Debug, Clone)]
pub(crate) struct Probe {
    pub(crate) lag_s: f64,
    pub(crate) noise_c: f64,
    pub(crate) offset_c: f64,
    pub(crate) creep_c_per_h: f64,
}

impl Probe {
    /// Probe of a kiln: its sheath, its noise and what it is used to read too high.
    pub(crate) fn draw(chance: &mut Chance) -> Self {
        Self {
            lag_s: chance.between(20.0, 150.0),
            noise_c: chance.between(0.2, 1.5),
            offset_c: chance.normal(0.0, 4.0),
            creep_c_per_h: 0.0,
        }
    }

    /// The same probe on another day.
    pub(crate) fn on_the_day(&self, chance: &mut Chance) -> Self {
        Self {
            offset_c: self.offset_c + chance.normal(0.0, 1.5),
            creep_c_per_h: chance.normal(0.0, 0.3),
            ..*self
        }
    }

    /// Readings at every step, faults and all.
    pub(crate) fn readings(
        &self,
        chamber_c: &[f64],
        step_s: f64,
        faults: &[Fault],
        chance: &mut Chance,
    ) -> Vec<Option<f64>> {
        let keeps = (-step_s / self.lag_s).exp();
        let mut inside_c = chamber_c[0];
        let mut stuck: Vec<Option<f64>> = vec![None; faults.len()];
        let mut readings = Vec::with_capacity(chamber_c.len());
        for (step, &outside_c) in chamber_c.iter().enumerate() {
            inside_c = outside_c + (inside_c - outside_c) * keeps;
            let min = step as f64 * step_s / 60.0;
            let noise = chance.normal(0.0, self.noise_c);
            let mut c = inside_c + self.offset_c + self.creep_c_per_h * min / 60.0;
            let mut noisy = true;
            let mut silent = false;
            for (fault, stuck) in faults.iter().zip(&mut stuck) {
                match *fault {
                    Fault::ProbeOffset { c: by } => c += by,
                    Fault::ProbeStep { c: by, at_min } if min >= at_min => c += by,
                    Fault::ProbeSink { c: by, at_min, over_min } => {
                        c -= by * ((min - at_min) / over_min).clamp(0.0, 1.0);
                    }
                    Fault::ProbeCreep { c_per_h, from_min } => {
                        c += c_per_h * (min - from_min).max(0.0) / 60.0;
                    }
                    Fault::ProbeScale { factor } => c = 20.0 + (c - 20.0) * factor,
                    Fault::ProbeStuck { at_min, noisy: flickers } if min >= at_min => {
                        c = *stuck.get_or_insert(c);
                        noisy &= flickers;
                    }
                    Fault::ProbeDead { at_min } => silent |= min >= at_min,
                    Fault::ProbeSilent { at_min, for_min }
                    | Fault::PowerCut { at_min, for_min } => {
                        silent |= min >= at_min && min < at_min + for_min;
                    }
                    Fault::ProbeNonsense { share } if chance.happens(share) => {
                        c = chance.one_of(&[-270.0, 0.0, 1_372.0, 3_276.7, 85.0]);
                        noisy = false;
                    }
                    _ => {}
                }
            }
            readings.push((!silent).then_some(if noisy { c + noise } else { c }));
        }
        readings
    }
}
