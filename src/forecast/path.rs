//! The heat work done so far, from readings.

use super::evidence::{Cones, Evidence, Reading};
use crate::units::Celsius;

/// Heat work of the pack along readings joined by straight pieces, and a little beyond.
#[derive(Debug, Clone)]
pub struct Path {
    cones: Cones,
    readings: Vec<Reading>,
    sums: Vec<[f64; 3]>,
}

impl Path {
    /// `None` without two readings.
    pub fn of(evidence: &Evidence) -> Option<Path> {
        Path::through(&evidence.readings, evidence.cones)
    }

    /// The same for these cones of the pack alone.
    pub fn through(readings: &[Reading], cones: Cones) -> Option<Path> {
        let readings = readings.to_vec();
        let [first, second, ..] = readings[..] else { return None };
        // What was done before the first reading, as if it had climbed there steadily.
        let slope = (second.c - first.c) / (second.at_h - first.at_h).max(0.01);
        let steady = slope.max((first.c - 20.0) / first.at_h.max(0.05)).clamp(20.0, 600.0);
        let before = cones.curves.map(|curve| {
            curve.map_or(0.0, |curve| curve.rate_ending_at(Celsius(first.c)).0 / steady)
        });
        let mut sums = vec![before];
        let mut sum = before;
        for pair in readings.windows(2) {
            let done = cones.heat_work(pair[0].c, pair[1].c, pair[1].at_h - pair[0].at_h);
            for (sum, done) in sum.iter_mut().zip(done) {
                *sum += done;
            }
            sums.push(sum);
        }
        Some(Path { cones, readings, sums })
    }

    pub fn last_h(&self) -> f64 {
        self.readings.last().map_or(0.0, |reading| reading.at_h)
    }

    /// When one cone's heat work reached `level`; `None` when it has not yet.
    pub fn when(&self, cone: usize, level: f64) -> Option<f64> {
        let next = self.sums.partition_point(|sum| sum[cone] < level);
        let to = self.sums.get(next)?;
        let Some(before) = next.checked_sub(1) else { return Some(self.readings[0].at_h) };
        let from = self.sums[before][cone];
        // Heat work grows nearly geometrically from one reading to the next.
        let part = if from > 0.0 {
            (level / from).ln() / (to[cone] / from).ln()
        } else {
            (level - from) / (to[cone] - from)
        };
        let (from_h, to_h) = (self.readings[before].at_h, self.readings[next].at_h);
        Some(from_h + part.clamp(0.0, 1.0) * (to_h - from_h))
    }

    pub fn last_sum(&self) -> [f64; 3] {
        self.sums.last().copied().unwrap_or_default()
    }

    /// Heat work at `at_h`; beyond the last reading as if the last half hour's climb went on.
    pub fn heat_work(&self, at_h: f64) -> [f64; 3] {
        let next = self.readings.partition_point(|reading| reading.at_h <= at_h);
        if next == 0 {
            return [0.0; 3];
        }
        let from = self.readings[next - 1];
        let mut sum = self.sums[next - 1];
        let slope = match self.readings.get(next) {
            Some(to) => (to.c - from.c) / (to.at_h - from.at_h),
            None => {
                let back = self.readings[..next - 1]
                    .iter()
                    .rev()
                    .find(|earlier| from.at_h - earlier.at_h > 0.3)
                    .or(self.readings.first());
                back.map_or(0.0, |back| (from.c - back.c) / (from.at_h - back.at_h).max(0.05))
            }
        };
        let hours = at_h - from.at_h;
        let done = self.cones.heat_work(from.c, from.c + slope * hours, hours);
        for (sum, done) in sum.iter_mut().zip(done) {
            *sum += done;
        }
        sum
    }
}
