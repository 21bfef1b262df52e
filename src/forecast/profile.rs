//! How a kiln usually climbs at each temperature, from the readings of past firings.

use super::evidence::Reading;
use super::planned::Stretch;

/// The usual climb on a ladder of temperatures.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    /// The lower end of the first rung, C.
    from_c: f64,
    /// ln of the usual climb on each rung, ln C/h.
    log_climb: Vec<f64>,
}

/// Height of a rung, C.
const RUNG_C: f64 = 20.0;
/// Below this the early firing is slow and erratic, and far from any cone, C.
const LOWEST_C: f64 = 100.0;
/// The slowest and fastest climb of a rung that is believed, C/h.
const CLIMB_BOUNDS: (f64, f64) = (4.0, 900.0);
/// So many firings, and such a part of them, must have passed a rung.
const ENOUGH_FIRINGS: usize = 2;
const MOST_FIRINGS: f64 = 0.7;

/// How far from the middle one a single firing's climb counts, ln.
const ODD: f64 = 0.6;

impl Profile {
    /// `None` unless several firings have readings over the same hundred degrees.
    pub fn of<'a>(firings: impl Iterator<Item = &'a [Reading]>) -> Option<Profile> {
        let mut rungs: Vec<Vec<f64>> = Vec::new();
        let mut told = 0;
        for readings in firings.filter(|readings| readings.len() > 1) {
            told += 1;
            for (rung, climb) in climbs(readings) {
                if rungs.len() <= rung {
                    rungs.resize(rung + 1, Vec::new());
                }
                rungs[rung].push(climb);
            }
        }
        // A rung that only the hottest firings reached would speak for fast ones alone.
        let most = (told as f64 * MOST_FIRINGS).ceil() as usize;
        let enough = |rung: &Vec<f64>| rung.len() >= most.max(ENOUGH_FIRINGS);
        let first = rungs.iter().position(enough)?;
        let known = rungs[first..].iter().take_while(|rung| enough(rung)).count();
        if (known as f64) < 100.0 / RUNG_C {
            return None;
        }
        let log_climb = rungs[first..first + known].iter_mut().map(|rung| middle(rung)).collect();
        Some(Profile { from_c: LOWEST_C + first as f64 * RUNG_C, log_climb })
    }

    /// The usual climb at a temperature, C/h; beyond the ladder that of its nearer end.
    pub fn climb(&self, c: f64) -> f64 {
        self.log_climb[self.rung(c)].exp()
    }

    /// Hours the kiln usually takes from the foot of the ladder to `c`; negative below it.
    pub fn hours_to(&self, c: f64) -> f64 {
        let rung = self.rung(c);
        let below: f64 = self.log_climb[..rung].iter().map(|log| RUNG_C / log.exp()).sum();
        below + (c - self.from_c - rung as f64 * RUNG_C) / self.log_climb[rung].exp()
    }

    /// Whether the profile tells of this temperature, or of one just below it.
    pub fn covers(&self, c: f64) -> bool {
        c >= self.from_c && c < self.from_c + (self.log_climb.len() as f64 + 2.0) * RUNG_C
    }

    fn rung(&self, c: f64) -> usize {
        let rung = ((c - self.from_c) / RUNG_C).floor().max(0.0) as usize;
        rung.min(self.log_climb.len() - 1)
    }

    /// The usual way from `from_c` up to `to_c`, rung by rung.
    pub fn stretches(&self, from_c: f64, to_c: f64) -> Vec<Stretch> {
        let mut stretches = Vec::new();
        let mut c = from_c;
        while c < to_c {
            let above = self.from_c + (((c - self.from_c) / RUNG_C).floor() + 1.0) * RUNG_C;
            let next = above.min(to_c).max(c + 0.01);
            let hours = (next - c) / self.climb(c);
            stretches.push(Stretch { from_c: c, to_c: next, hours });
            c = next;
        }
        stretches
    }
}

/// ln of the climb that takes as long over the rung as these do on average: it is times that add
/// up along the way. None counts as further from the middle one than [`ODD`].
fn middle(logs: &mut [f64]) -> f64 {
    logs.sort_by(f64::total_cmp);
    let median = logs[logs.len() / 2];
    let slowness = logs.iter().map(|log| (-log.clamp(median - ODD, median + ODD)).exp());
    -(slowness.sum::<f64>() / logs.len() as f64).ln()
}

/// ln climb of each rung that these readings pass on their way up.
fn climbs(readings: &[Reading]) -> Vec<(usize, f64)> {
    let mut climbs = Vec::new();
    let mut passed: Option<(usize, f64)> = None;
    let mut hottest = f64::NEG_INFINITY;
    for pair in readings.windows(2) {
        let (from, to) = (pair[0], pair[1]);
        hottest = hottest.max(from.c);
        // Only new heights count; a kiln that fell back passes a rung once.
        while to.c > hottest {
            let rung = ((hottest - LOWEST_C) / RUNG_C).floor() + 1.0;
            let edge_c = LOWEST_C + rung * RUNG_C;
            if edge_c > to.c || rung < 0.0 && to.c < LOWEST_C {
                break;
            }
            hottest = edge_c;
            if rung < 0.0 {
                continue;
            }
            let at_h = from.at_h + (to.at_h - from.at_h) * (edge_c - from.c) / (to.c - from.c);
            if let Some((below, below_h)) = passed
                && at_h > below_h
            {
                let climb = (RUNG_C / (at_h - below_h)).clamp(CLIMB_BOUNDS.0, CLIMB_BOUNDS.1);
                climbs.push((below, climb.ln()));
            }
            passed = Some((rung as usize, at_h));
        }
    }
    climbs
}
