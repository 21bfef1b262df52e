//! How a kiln usually climbs at each temperature, from the readings of past firings.

use super::evidence::Reading;
use super::planned::Stretch;
use crate::review::ledger::median;

/// The usual climb on a ladder of temperatures.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    /// The lower end of the first rung, C.
    from_c: f64,
    /// When the kiln is usually there, hours since lit.
    from_h: f64,
    /// ln of the usual climb on each rung, ln C/h.
    log_climb: Vec<f64>,
    /// How much more than elsewhere days differ on each rung, apart from their pace as a whole: most
    /// where a burner is turned by the clock, which finds each day at another temperature.
    unrest: Vec<f64>,
}

/// Height of a rung, C.
const RUNG_C: f64 = 20.0;
/// Below this the early firing is slow and erratic, and far from any cone, C.
const LOWEST_C: f64 = 100.0;
/// The slowest and fastest climb of a rung that is believed, C/h.
const CLIMB_BOUNDS: (f64, f64) = (4.0, 900.0);
/// With steady burners a kiln climbs the slower the hotter it is: of what it is hotter it loses such a
/// part in an hour, 1/h (a guess, from how kilns cool).
const LOSES_PER_H: f64 = 0.06;
/// So many firings, and such a part of them, must have passed a rung.
const ENOUGH_FIRINGS: usize = 2;
const MOST_FIRINGS: f64 = 0.7;

/// How far from the middle one a single firing's climb counts, ln.
const ODD: f64 = 0.6;
/// How many firings the typical unrest counts for on each rung, and how far from that a rung's may
/// be (guesses).
const TYPICAL_COUNTS: f64 = 4.0;
const UNREST_BOUNDS: (f64, f64) = (0.7, 5.0);

impl Profile {
    /// `None` unless several firings have readings over the same hundred degrees.
    pub fn of<'a>(firings: impl Iterator<Item = &'a [Reading]>) -> Option<Profile> {
        let ways: Vec<Vec<(usize, f64)>> =
            firings.filter(|readings| readings.len() > 1).map(edges).collect();
        let mut rungs: Vec<Vec<f64>> = Vec::new();
        for (rung, climb) in ways.iter().flat_map(|edges| climbs(edges)) {
            if rungs.len() <= rung {
                rungs.resize(rung + 1, Vec::new());
            }
            rungs[rung].push(climb);
        }
        // A rung that only the hottest firings reached would speak for fast ones alone.
        let most = (ways.len() as f64 * MOST_FIRINGS).ceil() as usize;
        let enough = |rung: &Vec<f64>| rung.len() >= most.max(ENOUGH_FIRINGS);
        let first = rungs.iter().position(enough)?;
        let known = rungs[first..].iter().take_while(|rung| enough(rung)).count();
        if (known as f64) < 100.0 / RUNG_C {
            return None;
        }
        let log_climb: Vec<f64> =
            rungs[first..first + known].iter().map(|rung| middle(rung)).collect();
        let at_foot =
            |edges: &Vec<(usize, f64)>| edges.iter().find(|(edge, _)| *edge == first).copied();
        let there: Vec<f64> = ways.iter().filter_map(at_foot).map(|(_, at_h)| at_h).collect();
        Some(Profile {
            from_c: LOWEST_C + first as f64 * RUNG_C,
            from_h: there.iter().sum::<f64>() / there.len() as f64,
            unrest: unrest(&ways, first, &log_climb),
            log_climb,
        })
    }

    /// The usual climb at a temperature, C/h; below the ladder that of its lowest rung, above it that
    /// of its highest, slowing.
    pub fn climb(&self, c: f64) -> f64 {
        let highest = self.log_climb.len() as f64 - 0.5;
        let beyond = (c - self.from_c - highest * RUNG_C).max(0.0);
        let climb = self.log_climb[self.rung(c)].exp() - LOSES_PER_H * beyond;
        climb.max(CLIMB_BOUNDS.0)
    }

    /// Hours the kiln usually takes from lit to `c`; below the ladder as if it climbed as on its
    /// lowest rung.
    pub fn hours_to(&self, c: f64) -> f64 {
        let rung = self.rung(c);
        let below: f64 = self.log_climb[..rung].iter().map(|log| RUNG_C / log.exp()).sum();
        let foot_c = self.from_c + rung as f64 * RUNG_C;
        self.from_h + below + (c - foot_c) / self.climb(0.5 * (c + foot_c))
    }

    /// How much more than elsewhere days differ between two usual hours since lit.
    pub fn unrest(&self, from_h: f64, to_h: f64) -> f64 {
        let to_h = to_h.max(from_h + 1e-3);
        let last = self.log_climb.len() - 1;
        let (mut start_h, mut squares) = (self.from_h, 0.0);
        for (rung, (log, unrest)) in self.log_climb.iter().zip(&self.unrest).enumerate() {
            let end_h = start_h + RUNG_C / log.exp();
            // Lowest and highest rung speak for what is beyond them.
            let low = if rung == 0 { from_h } else { from_h.max(start_h) };
            let high = if rung == last { to_h } else { to_h.min(end_h) };
            squares += (high - low).max(0.0) * unrest * unrest;
            start_h = end_h;
        }
        (squares / (to_h - from_h)).sqrt()
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
            let hours = (next - c) / self.climb(0.5 * (c + next));
            stretches.push(Stretch { from_c: c, to_c: next, hours });
            c = next;
        }
        stretches
    }
}

/// ln of the climb that takes as long over the rung as these do on average: it is times that add
/// up along the way. None counts as further from the middle one than [`ODD`].
fn middle(logs: &[f64]) -> f64 {
    let median = median(logs.iter().copied()).unwrap_or_default();
    let slowness = logs.iter().map(|log| (-log.clamp(median - ODD, median + ODD)).exp());
    -(slowness.sum::<f64>() / logs.len() as f64).ln()
}

/// The edges of rungs that these readings pass on their way up, and when, hours since lit.
fn edges(readings: &[Reading]) -> Vec<(usize, f64)> {
    let mut edges = Vec::new();
    let mut hottest = f64::NEG_INFINITY;
    for pair in readings.windows(2) {
        let (from, to) = (pair[0], pair[1]);
        hottest = hottest.max(from.c);
        // Only new heights count; a kiln that fell back passes a rung once.
        while to.c > hottest {
            let edge = ((hottest - LOWEST_C) / RUNG_C).floor() + 1.0;
            let edge_c = LOWEST_C + edge * RUNG_C;
            if edge_c > to.c {
                break;
            }
            hottest = edge_c;
            if edge >= 0.0 {
                let part = (edge_c - from.c) / (to.c - from.c);
                edges.push((edge as usize, from.at_h + (to.at_h - from.at_h) * part));
            }
        }
    }
    edges
}

/// ln climb of each rung between edges that were passed.
fn climbs(edges: &[(usize, f64)]) -> impl Iterator<Item = (usize, f64)> {
    edges.windows(2).filter(|pair| pair[1].1 > pair[0].1).map(|pair| {
        let climb = RUNG_C / (pair[1].1 - pair[0].1);
        (pair[0].0, climb.clamp(CLIMB_BOUNDS.0, CLIMB_BOUNDS.1).ln())
    })
}

/// How much days differ on each rung, when the pace of each as a whole is taken out, beside the
/// middle one of the rungs.
fn unrest(ways: &[Vec<(usize, f64)>], first: usize, log_climb: &[f64]) -> Vec<f64> {
    let mut squares = vec![(0.0, 0.0); log_climb.len()];
    for edges in ways {
        let known = climbs(edges).filter_map(|(rung, log)| {
            let rung = rung.checked_sub(first).filter(|rung| *rung < log_climb.len())?;
            Some((rung, log - log_climb[rung]))
        });
        let off: Vec<(usize, f64)> = known.collect();
        let Some(pace) = median(off.iter().map(|(_, off)| *off)) else { continue };
        for (rung, off) in off {
            squares[rung].0 += (off - pace).powi(2);
            squares[rung].1 += 1.0;
        }
    }
    let each = squares.iter().filter(|(_, count)| *count > 0.0).map(|(sum, count)| sum / count);
    let typical = median(each).unwrap_or(0.0).max(1e-6);
    let beside = |(sum, count): (f64, f64)| {
        let variance = (TYPICAL_COUNTS * typical + sum) / (TYPICAL_COUNTS + count);
        (variance / typical).sqrt().clamp(UNREST_BOUNDS.0, UNREST_BOUNDS.1)
    };
    squares.into_iter().map(beside).collect()
}
