//! The heat curve of one firing, and what is marked on it.

use super::{Advice, DropTimes};
use crate::cone::curve;
use crate::cooling::sifted;
use crate::firing::{ConePack, Firing, Looked};
use crate::units::{Celsius, CelsiusPerHour, Moment, RATE_RANGE_C_PER_H, Span};

/// The heat curve: temperature against time, and what is marked on it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CurveScene {
    pub readings: Vec<(Moment, Celsius)>,
    pub fan: Option<Fan>,
    /// The watch window: from when it opens to the latest likely drop.
    pub window: Option<(Moment, Moment)>,
    pub looks: Vec<Looked>,
    /// Readings that were not believed.
    pub set_aside: Vec<(Moment, Celsius)>,
    /// The corners of the schedule it follows.
    pub schedule: Vec<(Moment, Celsius)>,
    /// When the target was first seen down.
    pub down: Option<Moment>,
    pub off: Option<Moment>,
    /// First and last moment, coolest and hottest temperature to show; `None` with nothing to show.
    pub frame: Option<((Moment, Moment), (Celsius, Celsius))>,
}

/// Where the temperature may go from here: straight lines from now to the temperature at which
/// the target goes down, reached at the early, middle and late quantile of the drop.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fan {
    pub from: (Moment, Celsius),
    pub drop: DropTimes,
    pub at_drop: Celsius,
}

impl CurveScene {
    pub(super) fn of(firing: &Firing, advice: Option<&Advice>, now: Moment) -> CurveScene {
        let forecast = advice.and_then(|advice| advice.forecast.as_ref().ok());
        let drop = forecast.map(DropTimes::of);
        let climbing = forecast.and_then(|f| f.chamber.zip(f.climb));
        let watch_opens = advice.and_then(|advice| advice.watch_opens);
        // Where there is no forecast, as after the drop, what was not believed still is not.
        let set_aside = match forecast {
            Some(forecast) => {
                let aside = forecast.set_aside.iter();
                aside.filter_map(|one| Some((one.at, one.reading?))).collect()
            }
            None => sifted(firing, now).1,
        };
        let corners = advice.map_or(&[] as &[_], |advice| advice.schedule.as_slice());
        let scheduled = |lit: Moment| corners.iter().map(move |(after, t)| (lit + *after, *t));
        let fan = climbing.zip(drop).zip(firing.pack).map(|(((chamber, climb), drop), pack)| {
            let at_drop = temperature_at_drop(pack, climb).unwrap_or(chamber);
            Fan { from: (now, chamber), drop, at_drop: Celsius(at_drop.0.max(chamber.0)) }
        });
        let window = drop.and_then(|drop| watch_opens.map(|opens| (opens.min(drop.p95), drop.p95)));
        let mut curve = CurveScene {
            readings: firing.readings.clone(),
            schedule: firing.lit.map(scheduled).into_iter().flatten().collect(),
            down: firing.seen_down(),
            set_aside,
            fan,
            window,
            looks: firing.looks.clone(),
            off: firing.off,
            frame: None,
        };
        curve.frame = firing.lit.map(|lit| curve.frame_from(lit, now));
        curve
    }

    /// The readings that were not set aside.
    pub fn believed(&self) -> impl Iterator<Item = (Moment, Celsius)> {
        self.readings.iter().copied().filter(|reading| !self.set_aside.contains(reading))
    }

    fn frame_from(&self, lit: Moment, now: Moment) -> ((Moment, Moment), (Celsius, Celsius)) {
        let last_reading = self.readings.last().map_or(now, |(at, _)| *at);
        let running = if self.off.is_none() { now } else { last_reading };
        let latest = self
            .fan
            .map(|fan| fan.drop.p95)
            .into_iter()
            .chain(self.window.map(|(_, closes)| closes))
            .chain(self.off)
            .chain(self.schedule.last().map(|(at, _)| *at).filter(|_| self.off.is_none()))
            .fold(running, Moment::max);
        let first = self.readings.first().map_or(lit, |(at, _)| lit.min(*at));
        let temperatures = self
            .believed()
            .map(|(_, t)| t.0)
            .chain(self.schedule.iter().map(|(_, t)| t.0))
            .chain(self.fan.iter().flat_map(|fan| [fan.from.1.0, fan.at_drop.0]));
        let (low, high) = temperatures
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), t| (low.min(t), high.max(t)));
        let (low, high) = if low > high { (0.0, 100.0) } else { (low.min(20.0), high.max(100.0)) };
        ((first, latest.max(first + Span::minutes(10))), (Celsius(low), Celsius(high)))
    }
}

/// Where the target goes down when the kiln climbs as it does now, by the chart. A climb the
/// chart says nothing of is taken as the nearest one it does.
fn temperature_at_drop(pack: ConePack, climb: CelsiusPerHour) -> Option<Celsius> {
    let (slowest, fastest) = RATE_RANGE_C_PER_H;
    let climb = CelsiusPerHour(climb.0.clamp(slowest, fastest));
    Some(curve(pack.target, pack.family).ok()?.temperature_ending(climb))
}
