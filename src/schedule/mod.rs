//! Firing schedules: the planned heating of a load, as segments of ramp, soak and cooling.
//!
//! Reading order: this file (what a schedule is, and the corner points of its curve), [`malformed`]
//! (orders no kiln could follow), [`simulate`] (what an ideally followed schedule does to the
//! cones), [`solve`] (from a cone back to the top temperature), [`caution`] and [`check`] (what the
//! trade would say about it).
//!
//! What this module is not: a kiln. It says what was ordered; how a real kiln follows is learned
//! elsewhere.

pub mod caution;
pub mod check;
pub mod malformed;
pub mod simulate;
pub mod solve;

use serde::{Deserialize, Serialize};

use crate::cone::{Cone, Family};
use crate::units::{Celsius, CelsiusPerHour, Span};

pub use caution::{Caution, Severity};
pub use check::{Limits, check};
pub use malformed::Malformed;
pub use simulate::{Simulation, simulate};

/// Where a schedule starts when it does not say: a cold kiln in an ordinary room. The cone chart
/// does not care, but every length of time does.
pub const START: Celsius = Celsius(20.0);

closed! {
    /// What is in the kiln, as far as a schedule has to care.
    #[derive(Hash, Serialize, Deserialize)]
    #[serde(rename_all = "snake_case")]
    pub enum Ware {
        /// Never fired: holds damp, combined water and carbon.
        RawCast => "raw cast ware",
        /// Fired once, with raw glaze on it.
        GlazedBisque => "glazed bisque",
        /// Glazed raw and fired once for both.
        RawGlazed => "raw-glazed ware",
        /// Glazed and fired; painted with enamel colours in an oil or water medium.
        ChinaPaint => "china paint",
        /// Glazed and fired; with transfers on it.
        Decals => "decals",
        /// Glazed and fired; with liquid bright gold, platinum or lustre on it.
        LustreAndGold => "lustre and gold",
    }
}

/// How a ramp is paced.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Pace {
    Rate(CelsiusPerHour),
    /// The ramp takes this long, whatever the rate that makes.
    Within(Span),
}

/// One order of a schedule. Each begins where the one before ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Segment {
    /// Climb.
    Ramp { to: Celsius, pace: Pace },
    /// Stay at the temperature reached.
    Soak(Span),
    /// Fall under control, at this many degrees an hour (a positive number).
    Cool { to: Celsius, rate: CelsiusPerHour },
}

/// A stretch of temperature during which the room or the kiln has to be ventilated.
#[derive(Debug, Clone, PartialEq)]
pub struct Ventilate {
    pub from: Celsius,
    pub to: Celsius,
    pub why: String,
}

/// A planned firing. [`Schedule::well_formed`] says whether a kiln could follow it at all.
#[derive(Debug, Clone, PartialEq)]
pub struct Schedule {
    pub name: String,
    pub ware: Ware,
    pub target: Cone,
    pub family: Family,
    /// The temperature of the kiln when it is lit; see [`START`].
    pub start: Celsius,
    pub segments: Vec<Segment>,
    pub ventilate: Vec<Ventilate>,
    /// Why it is as it is.
    pub reasoning: String,
}

/// A leg steeper than this climbs or cools, flatter is a soak, C/h.
const LEVEL_C_PER_H: f64 = 1.0;

/// One segment as a straight line in time: from where, to where, and when.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Leg {
    /// The index of its segment in the schedule.
    pub segment: usize,
    /// Since the kiln was lit.
    pub starts: Span,
    pub length: Span,
    pub from: Celsius,
    pub to: Celsius,
}

/// The segments that decide when the cone goes down.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Peak {
    /// The index of the last ramp to the highest temperature.
    pub ramp: usize,
    /// The index of the soak straight after it, if there is one.
    pub soak: Option<usize>,
}

impl Segment {
    /// What a person calls it.
    pub fn name(&self) -> &'static str {
        match self {
            Segment::Ramp { .. } => "ramp",
            Segment::Soak(_) => "soak",
            Segment::Cool { .. } => "cool",
        }
    }

    /// The temperature at its end, when the one at its start is `from`.
    fn end(&self, from: Celsius) -> Celsius {
        match *self {
            Segment::Ramp { to, .. } | Segment::Cool { to, .. } => to,
            Segment::Soak(_) => from,
        }
    }

    /// How long it takes from this temperature, to the nearest millisecond.
    fn length(&self, from: Celsius) -> Span {
        let at_rate =
            |to: Celsius, rate: CelsiusPerHour| Span::from_hours((to.0 - from.0).abs() / rate.0);
        match *self {
            Segment::Ramp { pace: Pace::Within(length), .. } | Segment::Soak(length) => length,
            Segment::Ramp { to, pace: Pace::Rate(rate) } | Segment::Cool { to, rate } => {
                at_rate(to, rate)
            }
        }
    }
}

impl Leg {
    /// The legs between the corner points of a plan: time since lit, and temperature.
    pub fn between(corners: &[(Span, Celsius)]) -> impl Iterator<Item = Leg> {
        corners.windows(2).enumerate().map(|(segment, ends)| {
            let [(starts, from), (stops, to)] = [ends[0], ends[1]];
            Leg { segment, starts, length: Span(stops.0 - starts.0), from, to }
        })
    }

    pub fn ends(&self) -> Span {
        self.starts + self.length
    }

    /// The slope; 0 for a soak, negative for cooling.
    pub fn rate(&self) -> CelsiusPerHour {
        if self.from == self.to {
            return CelsiusPerHour(0.0);
        }
        CelsiusPerHour((self.to.0 - self.from.0) / self.length.as_hours())
    }

    /// Whether it is flat enough to count as a soak.
    pub fn is_level(&self) -> bool {
        self.rate().0.abs() < LEVEL_C_PER_H
    }

    pub fn climbs(&self) -> bool {
        self.rate().0 >= LEVEL_C_PER_H
    }

    /// The temperature this long after the kiln was lit, on this leg's line.
    pub fn temperature_at(&self, elapsed: Span) -> Celsius {
        if elapsed >= self.ends() {
            return self.to;
        }
        let part = (elapsed.0 - self.starts.0) as f64 / self.length.0 as f64;
        Celsius(self.from.0 + (self.to.0 - self.from.0) * part)
    }
}

impl Schedule {
    /// The segments as straight lines, in the order of time.
    pub fn legs(&self) -> Vec<Leg> {
        let mut legs = Vec::with_capacity(self.segments.len());
        let (mut starts, mut from) = (Span::ZERO, self.start);
        for (segment, order) in self.segments.iter().enumerate() {
            let (length, to) = (order.length(from), order.end(from));
            legs.push(Leg { segment, starts, length, from, to });
            starts = starts + length;
            from = to;
        }
        legs
    }

    /// The corner points of the planned curve: time since the kiln was lit, and temperature. The
    /// first is the start, the last the end.
    pub fn plan(&self) -> Vec<(Span, Celsius)> {
        let corners = self.legs().into_iter().map(|leg| (leg.ends(), leg.to));
        std::iter::once((Span::ZERO, self.start)).chain(corners).collect()
    }

    /// From lit to the end of the last segment.
    pub fn total(&self) -> Span {
        self.legs().last().map_or(Span::ZERO, Leg::ends)
    }

    /// The planned temperature this long after the kiln was lit; `None` before, and after the end:
    /// of that the schedule says nothing.
    pub fn temperature_at(&self, elapsed: Span) -> Option<Celsius> {
        if elapsed == Span::ZERO {
            return Some(self.start);
        }
        self.legs()
            .iter()
            .find(|leg| leg.starts < elapsed && elapsed <= leg.ends())
            .map(|leg| leg.temperature_at(elapsed))
    }

    /// The segments that decide when the cone goes down; `None` without any ramp.
    pub fn peak(&self) -> Option<Peak> {
        let mut hottest: Option<(usize, Celsius)> = None;
        for (index, segment) in self.segments.iter().enumerate() {
            if let Segment::Ramp { to, .. } = *segment
                && hottest.is_none_or(|(_, top)| to >= top)
            {
                hottest = Some((index, to));
            }
        }
        let (ramp, _) = hottest?;
        let soak = matches!(self.segments.get(ramp + 1), Some(Segment::Soak(_)));
        Some(Peak { ramp, soak: soak.then_some(ramp + 1) })
    }

    /// The highest planned temperature.
    pub fn top(&self) -> Celsius {
        let hottest = self.plan().into_iter().map(|(_, t)| t.0).fold(f64::NEG_INFINITY, f64::max);
        Celsius(hottest)
    }

    /// When heating is planned to end: at the end of the soak at the top.
    pub fn heating_ends(&self) -> Span {
        let legs = self.legs();
        let last = self.peak().map(|peak| peak.soak.unwrap_or(peak.ramp));
        last.map_or(Span::ZERO, |segment| legs[segment].ends())
    }
}
