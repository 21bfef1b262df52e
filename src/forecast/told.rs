//! How wide the window of a forecast is told, by the shop's own record. The distribution itself, and
//! so the look plan, stays as it was reckoned.

use super::{Drops, Forecast, Question};
use crate::firing::mark::{Quantiles, widened};
use crate::firing::{Looked, Seen};
use crate::review::own_record::OwnRecord;

/// What a forecast stands on, as far as the width of its window goes.
pub(super) struct StandsOn {
    /// Whether a cone was seen to move.
    pub(super) moved_cone: bool,
    /// Whether readings count for more than half.
    pub(super) readings: bool,
    /// Past firings with a known drop.
    pub(super) firings: usize,
}

/// Fewer past firings than this do not tell how one day differs from the next.
const FEW: usize = 4;

impl StandsOn {
    /// Ends and middle of the window, wider than the drops imagined by what windows needed to hold nine
    /// drops in ten on simulated kilns of other physics than the forecast's (measured by the bench
    /// `judged`): cones of other kinetics, and switches that nobody notes.
    pub(super) fn window(&self, drops: &Drops) -> Quantiles {
        let times = match (self.moved_cone, self.readings, self.firings < FEW) {
            (true, _, _) => 1.4,
            (false, true, true) => 1.45,
            (false, true, false) => 1.25,
            (false, false, true) => 1.25,
            (false, false, false) => 1.05,
        };
        widened([0.05, 0.5, 0.95].map(|part| drops.quantile(part)), drops.lit(), times)
    }
}

impl Forecast {
    /// The same with its window as wide as what was told before has held the drop.
    pub(super) fn told(self, question: &Question) -> Forecast {
        let width = OwnRecord::of_firings(question.past).width();
        let reckoned = [self.p05, self.p50, self.p95];
        let [p05, _, p95] = widened(reckoned, self.drops.lit(), width);
        // A target that was seen less than down had not dropped by then.
        let seen = question.firing.looks.iter().filter_map(Looked::target);
        let not_down = seen.filter(|said| said.at <= question.now && said.seen != Seen::Down);
        let last = not_down.map(|said| said.at).next_back();
        let p05 = last.map_or(p05, |last| p05.max(last.min(self.p05)));
        Forecast { p05, p95, width, ..self }
    }
}
