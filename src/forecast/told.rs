//! How wide the window of a forecast is told, by the shop's own record. The distribution itself, and
//! so the look plan, stays as it was reckoned.

use super::{Forecast, Question};
use crate::firing::mark::widened;
use crate::firing::{Looked, Seen};
use crate::review::own_record::OwnRecord;

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
