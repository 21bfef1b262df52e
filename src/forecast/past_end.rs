//! How a past firing ended: when its target went down, and how fast it climbed there, by its
//! readings or by what was said of guide and target as they went down one after the other.

use statrs::distribution::{Continuous, ContinuousCDF, Normal};

use super::TOLERANCE_C;
use super::evidence::{Cones, Evidence, GUIDE, Reading, TARGET, chance_of_word};
use super::pooling::Measured;
use crate::cone::Curve;
use crate::firing::{Firing, Looked, Seen};
use crate::units::{CelsiusPerHour, Moment};

/// The climb by which times near an end point are judged, C/h.
pub const TYPICAL_CLIMB: f64 = 150.0;
/// Climbs by which words are judged, C/h.
const SLOWEST: f64 = 60.0;
const FASTEST: f64 = 350.0;
/// From guide to target it takes longer than this, hours.
const LEAST_GAP_H: f64 = 0.02;
/// A cone may have been down so long before somebody said so, or be so far from it, in ln heat
/// work: half of the words for a cone that is nearly down are "down".
const EARLY_AND_LATE: f64 = 0.2;
/// Looks further off than this say nothing of an end point, hours.
const NEAR_H: f64 = 1.0;

/// Between these moments the target of a past firing began to be called down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DropBetween {
    pub after_h: f64,
    pub before_h: f64,
}

/// Nobody had looked shortly before: the drop is taken to lie within this time, hours.
const UNSEEN_H: f64 = 0.3;

/// So much of the variance of what was expected is left where a bound says nothing.
const TELLS_NOTHING: f64 = 0.99;

/// "Down" is said from 80 degrees on; the tip is level with the base so much later at 150 C/h,
/// hours (from the bending law and the chart: 6.6 % of the heat work, which grows 12 % a minute).
/// Near enough for a length.
const DOWN_SAID_EARLY_H: f64 = 0.57 / 60.0;

impl DropBetween {
    /// `None` when nobody saw the target down and the firing was not shut off in the ordinary way,
    /// and when it was said to be down and then not: nobody knows which was wrong.
    pub fn of(firing: &Firing) -> Option<DropBetween> {
        if firing.aborted.is_some() {
            return None;
        }
        let lit = firing.lit_as_if_once(Moment(i64::MAX));
        let hours = |at: Moment| lit.map(|lit| (at - lit).as_hours());
        let down = firing.down();
        let (after, before) = match down {
            Some(down) => down.between()?,
            None => {
                let off = firing.off?;
                let said = firing.looks.iter().rev().filter_map(Looked::target);
                (said.map(|said| said.at).find(|at| *at < off), off)
            }
        };
        let before_h = hours(before)?;
        let after_h = match after.and_then(hours) {
            Some(after_h) => after_h.max(before_h - 3.0 * UNSEEN_H),
            // Found down by the first look that made it out: it may have been so for any time.
            None if down.is_some() => 0.0,
            None => before_h - UNSEEN_H,
        };
        let after_h = after_h.max(0.0);
        (before_h > 0.0).then_some(DropBetween { after_h, before_h })
    }

    /// Whether it was seen so badly that it says nothing of the end of the firing, only that the drop
    /// was some time before.
    pub fn is_some_time_before(&self) -> bool {
        self.before_h - self.after_h > 3.0 * UNSEEN_H + 1e-9
    }

    pub fn middle_h(&self) -> f64 {
        0.5 * (self.after_h + self.before_h)
    }

    fn variance_h2(&self) -> f64 {
        (self.before_h - self.after_h).powi(2) / 12.0
    }

    /// ln hours from lit to the drop.
    pub fn length(&self) -> Option<Length> {
        let middle = self.middle_h() + DOWN_SAID_EARLY_H;
        if middle <= 0.1 {
            return None;
        }
        Some(if self.is_some_time_before() {
            Length::Below((self.before_h + DOWN_SAID_EARLY_H).ln())
        } else {
            Length::About((middle.ln(), self.variance_h2() / (middle * middle)))
        })
    }
}

/// What a past firing says of how long it took, ln hours.
#[derive(Debug, Clone, Copy)]
pub enum Length {
    About(Measured),
    /// Its drop was some time before.
    Below(f64),
}

impl Length {
    pub fn about(self) -> Option<Measured> {
        match self {
            Length::About(measured) => Some(measured),
            Length::Below(_) => None,
        }
    }

    /// What is said by a target found down at `below`, beside a length that was expected at `mean` give or take
    /// `spread`: mostly somebody came for it, and it went down within the time in which looks count as near;
    /// where that is no likelier than any time before, it is a bound. Were it never more than a bound, kilns
    /// found down each time somebody came would be taken for ever faster ones.
    pub fn found_down(below: f64, mean: f64, spread: f64) -> Option<Measured> {
        let (hours, soon_h) = (below.exp(), 3.0 * UNSEEN_H);
        let chance_by = |h: f64| Normal::standard().cdf((h.max(1e-3).ln() - mean) / spread);
        let (by, before) = (chance_by(hours), chance_by(hours - soon_h));
        if by - before <= by * soon_h / hours {
            return Length::bounded(below, mean, spread);
        }
        let middle = hours - 0.5 * soon_h;
        Some((middle.ln(), soon_h.powi(2) / 12.0 / (middle * middle)))
    }

    /// What a bound says beside a length that was expected at `mean` give or take `spread`, as the
    /// measured value that says as much: one step of expectation propagation (Minka 2001, from
    /// memory). `None` for a length that was expected well below it.
    fn bounded(below: f64, mean: f64, spread: f64) -> Option<Measured> {
        let standard = Normal::standard();
        let at = (below - mean) / spread;
        let lift = standard.pdf(at) / standard.cdf(at).max(1e-12);
        let left = (1.0 - lift * (at + lift)).max(1e-3);
        let told = (left < TELLS_NOTHING).then(|| 1.0 / left - 1.0)?;
        Some((mean - spread * lift * (1.0 + 1.0 / told), spread * spread / told))
    }
}

/// What a past firing says of the climb at its drop.
#[derive(Debug, Clone, Copy)]
pub enum ClimbSeen {
    /// Over the last three quarters of an hour of readings: ln C/h.
    Read(Measured),
    /// From guide to target: hours between them and the variance of that.
    Between { gap_h: f64, variance_h2: f64 },
}

impl ClimbSeen {
    pub fn of(evidence: &Evidence, drop: &DropBetween) -> Option<ClimbSeen> {
        if drop.is_some_time_before() {
            return None;
        }
        let middle = drop.middle_h();
        let near: Vec<&Reading> = evidence
            .readings
            .iter()
            .filter(|r| r.at_h > middle - 0.8 && r.at_h <= drop.before_h)
            .collect();
        if let [first, .., last] = near[..]
            && last.at_h - first.at_h > 0.3
        {
            let climb = (last.c - first.c) / (last.at_h - first.at_h);
            let error = first.noise_c.hypot(last.noise_c) / (last.at_h - first.at_h);
            return (climb > 5.0).then(|| ClimbSeen::Read((climb.ln(), (error / climb).powi(2))));
        }
        // How fast the words follow each other depends on the climb, too.
        let (gap_h, _) = between(evidence, TYPICAL_CLIMB)?;
        let (climb, _) = climb_from_gap(gap_h, &evidence.cones)?;
        let (gap_h, variance_h2) = between(evidence, climb.clamp(SLOWEST, FASTEST))?;
        Some(ClimbSeen::Between { gap_h, variance_h2 })
    }

    /// Hours from guide to target, if that is what it rests on.
    pub fn gap_h(&self) -> Option<f64> {
        match self {
            ClimbSeen::Between { gap_h, .. } => Some(*gap_h),
            ClimbSeen::Read(_) => None,
        }
    }

    /// ln C/h; a gap is judged by how long the kiln usually takes, for the noise of a short one
    /// would look larger than that of a long one.
    pub fn measured(&self, usual_gap_h: Option<f64>, cones: &Cones) -> Option<Measured> {
        let (gap_h, variance_h2) = match *self {
            ClimbSeen::Read(measured) => return Some(measured),
            ClimbSeen::Between { gap_h, variance_h2 } => (gap_h, variance_h2),
        };
        let usual_h = usual_gap_h?.max(LEAST_GAP_H);
        let (climb, apart_c) = climb_from_gap(gap_h, cones)?;
        let own = 2.0 * (TOLERANCE_C / apart_c).powi(2);
        let seen = variance_h2 / (usual_h * usual_h);
        // The mean of a logarithm is lower than the logarithm of the mean.
        Some((climb.ln() - 0.5 * (own + seen), own + seen))
    }
}

/// Hours from guide to target and the variance of that, judged by this climb.
fn between(evidence: &Evidence, climb: f64) -> Option<(f64, f64)> {
    let per_h = evidence.cones.per_degree(climb) * climb;
    let guide = EndPoint::of(evidence, GUIDE, per_h)?;
    let target = EndPoint::of(evidence, TARGET, per_h)?;
    Some((target.at_h - guide.at_h, target.variance_h2 + guide.variance_h2))
}

/// The climb that takes so long from guide to target, C/h, and how far their end points are apart
/// at it, C.
fn climb_from_gap(gap_h: f64, cones: &Cones) -> Option<(f64, f64)> {
    let guide = cones.curves[GUIDE]?;
    let end = |curve: &Curve, climb| curve.temperature_ending(CelsiusPerHour(climb)).0;
    let (mut climb, mut apart_c) = (TYPICAL_CLIMB, 0.0);
    for _ in 0..5 {
        apart_c = end(cones.target, climb) - end(guide, climb);
        climb = (apart_c / gap_h.max(LEAST_GAP_H)).clamp(5.0, 600.0);
    }
    Some((climb, apart_c))
}

/// When a cone reached its end point, from all that was said of it.
struct EndPoint {
    at_h: f64,
    variance_h2: f64,
}

impl EndPoint {
    /// Weighs moments on a grid by the words. Around its end point heat work grows by `per_h`, ln
    /// an hour: a cone seen half soon follows, one that only leans takes longer.
    fn of(evidence: &Evidence, cone: usize, per_h: f64) -> Option<EndPoint> {
        const STEPS: usize = 24;
        let words = || evidence.sights.iter().filter_map(|s| Some((s.at_h, s.seen[cone]?)));
        let is_down = |(_, word): &(f64, Seen)| *word == Seen::Down;
        let (down_h, _) = words().find(is_down)?;
        // A "down" that was taken back leaves its moment open, whichever look was wrong.
        if !words().skip_while(|word| !is_down(word)).all(|word| is_down(&word)) {
            return None;
        }
        let before_h = words().take_while(|(at_h, _)| *at_h < down_h).last()?.0;
        let late_h = EARLY_AND_LATE / per_h;
        let (from_h, to_h) = (before_h - 0.2 * late_h, down_h + late_h);
        let near = || words().filter(|(at_h, _)| (at_h - down_h).abs() < NEAR_H);
        let (mut sum, mut first, mut second) = (0.0, 0.0, 0.0);
        for step in 0..STEPS {
            let at_h = from_h + (to_h - from_h) * (step as f64 + 0.5) / STEPS as f64;
            let weight: f64 = near()
                .map(|(seen_h, word)| chance_of_word(word, (per_h * (seen_h - at_h)).exp()))
                .product();
            sum += weight;
            first += weight * at_h;
            second += weight * at_h * at_h;
        }
        let at_h = first / sum;
        Some(EndPoint { at_h, variance_h2: (second / sum - at_h * at_h).max(0.0) })
    }
}
