//! When the target went down, as far as it was seen.

use serde::{Deserialize, Serialize};

use super::cone_steps::lean_bounds_c;
use crate::cone::Curve;
use crate::firing::Firing;
use crate::firing::down::Looked;
use crate::units::{CelsiusPerHour, Moment, Span};

/// A drop known no better than this says nothing about the probe or the length of the firing.
const WIDEST_DROP_MIN: f64 = 30.0;

/// When the target went down, as far as the looks tell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct DropSeen {
    /// The last look that saw it not down yet.
    pub after: Option<Moment>,
    /// The first look that saw it down.
    pub by: Moment,
}

impl DropSeen {
    /// From the looks of a firing; `None` when the target was never seen down, and when looks that
    /// say so and looks that do not were left as they were.
    pub fn of(firing: &Firing) -> Option<DropSeen> {
        let (after, by) = firing.down()?.between()?;
        Some(DropSeen { after, by })
    }

    /// The middle of the interval; the first look that saw it down if nobody had looked before.
    pub fn middle(self) -> Moment {
        self.after.map_or(self.by, |after| after + Span((self.by - after).0 / 2))
    }

    /// Narrowed by what the target looked like before it was down: a cone seen leaning is so many
    /// degrees from its end point, and so many minutes at this climb. Words that contradict each
    /// other leave the interval as it is.
    pub(super) fn narrowed(
        self,
        firing: &Firing,
        curve: &Curve,
        climb: CelsiusPerHour,
    ) -> DropSeen {
        let Some(after) = self.after else { return self };
        let (mut low, mut high) = (after, self.by);
        let words = firing.looks.iter().filter_map(Looked::target);
        for said in words.filter(|said| said.at <= after && climb.0 > 0.0) {
            let (below_low, below_high) = lean_bounds_c(curve, said.seen, climb);
            let later = |c: f64| said.at + Span::from_hours(-c / climb.0);
            low = low.max(below_high.map_or(low, later));
            high = high.min(below_low.map_or(high, later));
        }
        if low < high { DropSeen { after: Some(low), by: high } } else { self }
    }

    /// The length of the interval, minutes; `None` if nobody had looked before.
    pub fn gap_minutes(self) -> Option<f64> {
        self.after.map(|after| (self.by - after).as_minutes())
    }

    /// The middle, if the interval is short enough to learn from.
    pub(super) fn sharp(self) -> Option<Moment> {
        self.gap_minutes().filter(|gap| *gap <= WIDEST_DROP_MIN).map(|_| self.middle())
    }
}
