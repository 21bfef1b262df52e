//! How long after letting go it is too late: mostly from the trade, since few pieces crack.

use super::interval::below;

/// ln of the dose at which it is too late over that of letting go: what is known of it to begin
/// with (common practice, no source: the day after, mostly).
const RATIO: (f64, f64) = (0.742, 0.25);
/// How much that differs from cast to cast (guesses).
const SPREADS: [(f64, f64); 3] = [(0.12, 0.3), (0.2, 0.4), (0.33, 0.3)];
const STEPS: i32 = 8;
/// One crack in so many has another cause (a guess).
const OTHER_CAUSE: f64 = 0.01;
/// So many casts that cracked say more than the trade.
const ENOUGH: usize = 5;

/// One cast that was opened in time or not.
#[derive(Debug, Clone)]
pub struct Opened {
    /// ln dose of opening over that of letting go, as far as that is known, each with its share.
    pub ratios: Vec<(f64, f64)>,
    pub cracked: bool,
    pub weight: f64,
}

/// Distribution of ln of the ratio.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Late {
    pub mean: f64,
    pub spread: f64,
    /// How many casts cracked.
    pub cracked: usize,
}

impl Late {
    pub fn new(opened: &[Opened]) -> Late {
        let mut cells = Vec::new();
        for (spread, share) in SPREADS {
            for step in -STEPS..=STEPS {
                let z = 3.0 * f64::from(step) / f64::from(STEPS);
                let mean = RATIO.0 + z * RATIO.1;
                let mut log = f64::ln(share) - 0.5 * z * z;
                for one in opened {
                    let late: f64 = one
                        .ratios
                        .iter()
                        .map(|(ln, part)| part * below((ln - mean) / spread))
                        .sum();
                    let late = OTHER_CAUSE + (1.0 - OTHER_CAUSE) * late;
                    log += one.weight * if one.cracked { late } else { 1.0 - late }.max(1e-9).ln();
                }
                cells.push((mean, spread, log));
            }
        }
        let best = cells.iter().map(|cell| cell.2).fold(f64::NEG_INFINITY, f64::max);
        let (mut sum, mut first, mut second) = (0.0, 0.0, 0.0);
        for (mean, spread, log) in cells {
            let share = f64::exp(log - best);
            sum += share;
            first += share * mean;
            second += share * (mean * mean + spread * spread);
        }
        let mean = first / sum;
        let spread = (second / sum - mean * mean).max(1e-4).sqrt();
        Late { mean, spread, cracked: opened.iter().filter(|one| one.cracked).count() }
    }

    /// Whether it rests on the trade more than on the shop's own casts.
    pub fn is_of_the_trade(&self) -> bool {
        self.cracked < ENOUGH
    }
}
