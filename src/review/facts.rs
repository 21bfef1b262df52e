//! What one finished firing comes down to: the numbers every review is made of.
//!
//! The drop is known between two looks, never at a point, so whatever follows from it is given as
//! [`Bounds`]. The probe is judged by the cones: the shift that, added to every reading, makes the
//! chart say "down" exactly when the target was seen down is how far the probe reads low.

use serde::{Deserialize, Serialize};

use super::cone_steps::{USUAL_CLIMB, degrees_per_cone, lean_bounds_c};
use super::consumption::Consumption;
use super::drop_seen::DropSeen;
use super::windows::{Window, windows};
use crate::cone::{Cone, Curve, Equivalent, HeatWork, curve};
use crate::firing::down::{Looked, Said};
use crate::firing::event::{Fullness, ShelfCone};
use crate::firing::{ConePack, Counted, Firing, FiringId, State, Verdict};
use crate::units::{Celsius, CelsiusPerHour, Moment, Span};

/// Counted up with every change, here or in the cone chart, after which a firing would be digested
/// differently: facts that were kept are of one version, and those of another are made anew.
pub const VERSION: i64 = 8;

/// Readings this far below the highest one do no heat work worth counting: the rate law falls by a
/// factor e about every 20 C, so what is left out is below 1 % and moves no cone by more than 0.1 C.
const TAIL_C: f64 = 110.0;
/// The stretch over which the final climb is taken; the chart's own rule.
const FINAL_STRETCH_C: f64 = 100.0;
/// Within this of the highest reading counts as soak.
const SOAK_BAND_C: f64 = 5.0;
/// Longer than this within the soak band is no climb any more, minutes: at the slowest usual climb
/// the band is passed in less.
const HELD_MIN: f64 = 12.0;
/// A last reading this long before a moment may still be carried on to it by the climb.
const CARRY_ON: Span = Span::minutes(20);
/// The tolerance of a cone, C (makers' figure, from memory).
pub const CONE_TOLERANCE_C: f64 = 2.0;
/// How well a probe that no cone has checked is trusted, C: about the tolerance of a type K probe
/// of class 2 at 1000 C (IEC 60584-1).
const UNCHECKED_PROBE_C: f64 = 8.0;
/// A value known between two others.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(from = "Written", into = "Written")]
pub struct Bounds {
    pub low: f64,
    pub best: f64,
    pub high: f64,
}

/// The same three values as they are kept: a side that is open has no number.
type Written = (Option<f64>, f64, Option<f64>);

closed! {
    /// What the overshoot in cones rests on.
    #[derive(Hash, Serialize, Deserialize)]
    pub enum Basis {
        /// The drop as seen, and readings set right by it.
        DropAndReadings => "the drop as seen, and the readings set right by it",
        /// Readings alone, the drop was not seen.
        Readings => "readings alone",
        /// The drop as seen, and the usual climb of this kiln.
        DropAndClimb => "the drop as seen, and the usual climb of the kiln",
        /// The lean of the target at the last look.
        Lean => "the lean of the target at the last look",
    }
}

/// One firing, digested.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Facts {
    pub id: FiringId,
    pub kiln: String,
    pub load_type: String,
    pub schedule: Option<String>,
    pub pack: ConePack,
    pub state: State,
    pub lit: Moment,
    pub off: Option<Moment>,
    /// When its heating ended: off, or turned down for what its schedule orders after the cone.
    pub heated_to: Option<Moment>,
    pub drop: Option<DropSeen>,
    pub verdict: Option<Verdict>,
    pub loss: Option<f64>,
    /// Pieces packed.
    pub pieces: Option<u32>,
    pub counted: Counted,
    /// How full the kiln was, if somebody said so.
    pub full: Option<Fullness>,
    pub worth: Option<f64>,
    pub looks: usize,
    /// Whether any look said that the target was down, contradicted or not.
    pub seen_down: bool,
    pub shelves: Vec<ShelfCone>,
    /// When the drop probably was: the interval between the looks, narrowed by the leans seen.
    pub dropped: Option<DropSeen>,
    /// From lit to the drop, minutes; only when the drop is known to half an hour.
    pub minutes_to_drop: Option<f64>,
    pub final_climb: Option<CelsiusPerHour>,
    /// Time within 5 C of the highest reading before off, minutes.
    pub soak_minutes: Option<f64>,
    /// What the probe read at the drop, its accepted correction included.
    pub probe_at_drop: Option<Celsius>,
    /// What was added to every reading, C.
    pub correction_c: f64,
    /// How much the probe reads above what the cones say, C, that correction included.
    pub probe_high_c: Option<Bounds>,
    /// Off after the drop, minutes; negative when off came first.
    pub overshoot_minutes: Option<Bounds>,
    /// Over (positive) or under the target, in cones.
    pub overshoot_cones: Option<Bounds>,
    pub basis: Option<Basis>,
    pub consumption: Consumption,
    /// Which of the windows told before the drop held it.
    pub windows: Vec<Window>,
}

impl From<Written> for Bounds {
    fn from((low, best, high): Written) -> Bounds {
        let (low, high) = (low.unwrap_or(f64::NEG_INFINITY), high.unwrap_or(f64::INFINITY));
        Bounds { low, best, high }
    }
}

impl From<Bounds> for Written {
    fn from(bounds: Bounds) -> Written {
        let known = |side: f64| side.is_finite().then_some(side);
        (known(bounds.low), bounds.best, known(bounds.high))
    }
}

impl Bounds {
    fn around(best: f64, half: f64) -> Bounds {
        Bounds { low: best - half, best, high: best + half }
    }

    /// The standard deviation of a uniform spread over the bounds.
    pub fn spread(self) -> f64 {
        (self.high - self.low) / 12_f64.sqrt()
    }
}

impl Facts {
    /// Digests one firing; `None` if it was never lit or nothing says which cone it went for.
    /// `correction_c` is added to every reading: what was accepted for this kiln's probe by then.
    pub fn of(firing: &Firing, correction_c: f64) -> Option<Facts> {
        let (lit, pack) = (firing.lit?, firing.pack?);
        let drop = DropSeen::of(firing);
        let outcome = firing.outcome.as_ref().map(|(_, outcome)| outcome);
        let mut facts = Facts {
            id: firing.id,
            kiln: firing.kiln.clone(),
            load_type: firing.load_type.clone(),
            schedule: firing.schedule.clone(),
            pack,
            state: firing.state,
            lit,
            off: firing.off.or(firing.aborted.as_ref().map(|(at, _)| *at)),
            heated_to: firing.heated_to(),
            drop,
            verdict: outcome.map(|outcome| outcome.verdict),
            loss: outcome.and_then(|outcome| outcome.loss),
            pieces: firing.pieces(),
            counted: outcome.map(|outcome| outcome.counted).unwrap_or_default(),
            full: firing.full(),
            worth: firing.packing.as_ref().and_then(|packing| packing.worth),
            looks: firing.looks.len(),
            seen_down: firing.down().is_some(),
            shelves: outcome.map(|outcome| outcome.shelves.clone()).unwrap_or_default(),
            dropped: drop,
            minutes_to_drop: None,
            final_climb: None,
            soak_minutes: None,
            probe_at_drop: None,
            correction_c,
            probe_high_c: None,
            overshoot_minutes: None,
            overshoot_cones: None,
            basis: None,
            consumption: Consumption::of(firing),
            windows: windows(firing),
        };
        if let Ok(curve) = curve(pack.target, pack.family) {
            facts.see(firing, curve);
            facts.read(firing, curve, correction_c);
            facts.judge_by_lean(firing, curve);
        }
        Some(facts)
    }

    /// How the load came out, where it was fired.
    pub fn judged(&self) -> Option<Verdict> {
        self.verdict.filter(|verdict| *verdict != Verdict::NotFired)
    }

    /// How much the probe itself reads above what the cones say, C, whatever was added to it.
    pub fn probe_itself_high_c(&self) -> Option<f64> {
        self.probe_high_c.map(|high| high.best - self.correction_c)
    }

    /// Everything that comes from the looks: the climb only turns leans into minutes.
    fn see(&mut self, firing: &Firing, curve: &Curve) {
        let end = self.heated_to.or(self.drop.map(|drop| drop.by));
        let sharp = self.drop.and_then(DropSeen::sharp);
        self.final_climb = final_climb(heating(&firing.readings_as_one(), end), sharp.or(end));
        let climb = self.final_climb.unwrap_or(USUAL_CLIMB);
        self.dropped = self.drop.map(|drop| drop.narrowed(firing, curve, climb));
        let sharp = self.dropped.and_then(DropSeen::sharp);
        self.minutes_to_drop = sharp.map(|at| (at - self.lit).as_minutes());
        self.overshoot_minutes = self.minutes_over();
    }

    fn minutes_over(&self) -> Option<Bounds> {
        let (drop, off) = (self.dropped?, self.heated_to?);
        let after = |at: Moment| (off - at).as_minutes();
        let best = if off < drop.by { drop.by } else { drop.middle() };
        let low = after(drop.by);
        let high = drop.after.map_or(f64::INFINITY, after);
        Some(Bounds { low, best: after(best), high })
    }

    /// Everything that comes from the readings.
    fn read(&mut self, firing: &Firing, curve: &'static Curve, correction_c: f64) {
        let end = self.heated_to.or(self.drop.map(|drop| drop.by));
        let readings = firing.readings_as_one();
        let heating = heating(&readings, end);
        // What is ordered after the cone is no heating of the load beyond it.
        let all = if self.heated_to == self.off { &readings } else { heating };
        let Some(top) = heating.iter().map(|(_, t)| t.0).max_by(f64::total_cmp) else { return };
        let sharp = self.dropped.and_then(DropSeen::sharp);
        self.soak_minutes = self.off.and(minutes_at_top(heating, top));
        let mut tail = tail(all, heating, top, correction_c);
        self.carry_on_to_off(&mut tail);
        let at_drop = sharp.and_then(|at| self.carried(&tail, at).map(|t| (at, t)));
        self.probe_at_drop = at_drop.map(|(_, t)| t);
        let climb = self.final_climb.unwrap_or(USUAL_CLIMB);
        let step_c = degrees_per_cone(self.pack.target, self.pack.family, climb);
        let drop_c = self.dropped.and_then(DropSeen::gap_minutes).unwrap_or(0.0) / 60.0 * climb.0;
        if let Some((at, at_drop)) = at_drop {
            let before = until(&tail, at, at_drop);
            if let Some(shift) = shift_to_drop(curve, &before) {
                let half = 0.5 * drop_c.abs() + CONE_TOLERANCE_C;
                self.probe_high_c = Some(Bounds::around(-shift, half));
                let cones = cones_over(self.pack, &tail, shift);
                let half = (0.5 * drop_c.abs() + CONE_TOLERANCE_C) / step_c;
                self.overshoot_cones = cones.map(|cones| Bounds::around(cones, half));
                self.basis = self.overshoot_cones.map(|_| Basis::DropAndReadings);
            }
        } else if self.drop.is_none() && self.off.is_some() && reaches(heating, self.off) {
            let cones = cones_over(self.pack, &tail, 0.0);
            self.overshoot_cones = cones.map(|c| Bounds::around(c, UNCHECKED_PROBE_C / step_c));
            self.basis = self.overshoot_cones.map(|_| Basis::Readings);
        }
    }

    /// The chamber went on climbing from the last reading to off; what no reading saw is carried on
    /// by the climb, so that a late off counts whether or not somebody read the probe again.
    fn carry_on_to_off(&self, tail: &mut Vec<(Moment, Celsius)>) {
        let (Some(off), Some(climb)) = (self.heated_to, self.final_climb) else { return };
        let next = tail.partition_point(|(at, _)| *at <= off);
        let Some(&(last, t)) = tail[..next].last() else { return };
        let late = off - last;
        if late > Span::ZERO && late <= CARRY_ON {
            // A kiln that was held at the top before is not climbing any more.
            let held = self.soak_minutes.is_some_and(|soak| soak > HELD_MIN);
            let rise = if held { 0.0 } else { climb.0 * late.as_hours() };
            tail.insert(next, (off, Celsius(t.0 + rise)));
        }
    }

    /// The reading at this moment: between two readings, or carried on by the climb for a while.
    fn carried(&self, tail: &[(Moment, Celsius)], at: Moment) -> Option<Celsius> {
        let next = tail.partition_point(|(t, _)| *t < at);
        let (before, t_before) = *tail[..next].last()?;
        if let Some(&(after, t_after)) = tail.get(next) {
            let part = (at - before).0 as f64 / ((after - before).0 as f64).max(1.0);
            return Some(Celsius(t_before.0 + (t_after.0 - t_before.0) * part));
        }
        let late = at - before;
        let climb = self.final_climb.filter(|_| late <= CARRY_ON)?;
        Some(Celsius(t_before.0 + climb.0 * late.as_hours()))
    }

    /// A target last seen leaning says how far under the firing ended, if nothing better does.
    fn judge_by_lean(&mut self, firing: &Firing, curve: &Curve) {
        let (None, false, Some(off)) = (self.overshoot_cones, self.seen_down, self.off) else {
            return;
        };
        let last = firing.looks.iter().rev().find_map(Looked::target);
        let Some(Said { at, seen, .. }) = last else { return };
        if off - at > CARRY_ON {
            return;
        }
        let climb = self.final_climb.unwrap_or(USUAL_CLIMB);
        let step_c = degrees_per_cone(self.pack.target, self.pack.family, climb);
        if let (Some(low), Some(high)) = lean_bounds_c(curve, seen, climb) {
            // It went on climbing between the look and off.
            let later_c = climb.0 * (off - at).as_hours();
            let (low, high) = (low / step_c, ((high + later_c) / step_c).min(0.0));
            self.overshoot_cones = Some(Bounds { low, best: 0.5 * (low + high), high });
            self.basis = Some(Basis::Lean);
        }
    }
}

/// The readings up to the end of heating.
fn heating(readings: &[(Moment, Celsius)], end: Option<Moment>) -> &[(Moment, Celsius)] {
    match end {
        Some(end) => &readings[..readings.partition_point(|(at, _)| *at <= end)],
        None => readings,
    }
}

fn reaches(heating: &[(Moment, Celsius)], off: Option<Moment>) -> bool {
    let last = heating.last().map(|(at, _)| *at);
    last.zip(off).is_some_and(|(last, off)| off - last <= CARRY_ON)
}

/// The hot part of the readings, corrected: from the last time below the tail to the first time
/// below it after heating.
fn tail(
    all: &[(Moment, Celsius)],
    heating: &[(Moment, Celsius)],
    top: f64,
    correction_c: f64,
) -> Vec<(Moment, Celsius)> {
    let floor = top - TAIL_C;
    let begins = heating.iter().rposition(|(_, t)| t.0 < floor).unwrap_or(0);
    let cooling = &all[heating.len()..];
    let ends =
        heating.len() + cooling.iter().position(|(_, t)| t.0 < floor).unwrap_or(cooling.len());
    all[begins..ends].iter().map(|&(at, t)| (at, Celsius(t.0 + correction_c))).collect()
}

/// The readings up to a moment, with the temperature at that moment as the last.
fn until(tail: &[(Moment, Celsius)], at: Moment, at_end: Celsius) -> Vec<(Moment, Celsius)> {
    let next = tail.partition_point(|(t, _)| *t < at);
    tail[..next].iter().copied().chain([(at, at_end)]).collect()
}

/// The slope from the last time 100 C below the end to the end; `None` with fewer than two
/// readings in that stretch.
fn final_climb(heating: &[(Moment, Celsius)], end: Option<Moment>) -> Option<CelsiusPerHour> {
    let heating = match end {
        Some(end) => &heating[..heating.partition_point(|(at, _)| *at <= end)],
        None => heating,
    };
    // A soak at the end is no climb: take the first time the highest temperature was come near.
    let top = heating.iter().map(|(_, t)| t.0).max_by(f64::total_cmp)?;
    let reached = heating.iter().position(|(_, t)| t.0 >= top - 3.0)?;
    let (end_at, end_t) = heating[reached];
    let from = heating[..reached].iter().rposition(|(_, t)| t.0 <= end_t.0 - FINAL_STRETCH_C)?;
    let (from_at, from_t) = heating[from];
    let hours = (end_at - from_at).as_hours();
    (hours > 0.0).then(|| CelsiusPerHour((end_t.0 - from_t.0) / hours))
}

fn minutes_at_top(heating: &[(Moment, Celsius)], top: f64) -> Option<f64> {
    let first = heating.iter().find(|(_, t)| t.0 >= top - SOAK_BAND_C)?;
    Some((heating.last()?.0 - first.0).as_minutes())
}

fn heat_work(curve: &'static Curve, history: &[(Moment, Celsius)], shift: f64) -> f64 {
    let mut work = HeatWork::new(curve);
    for &(at, t) in history {
        work.append(at, Celsius(t.0 + shift));
    }
    work.total()
}

/// A probe further off than this is broken, not off, C.
const WILDEST_SHIFT_C: f64 = 160.0;

/// The shift of all readings with which the cone is just down at their end. ln J is nearly straight
/// in the shift, so a few secant steps reach 0.1 C.
fn shift_to_drop(curve: &'static Curve, history: &[(Moment, Celsius)]) -> Option<f64> {
    let log_work = |shift: f64| heat_work(curve, history, shift).ln();
    let (mut a, mut at_a) = (0.0, log_work(0.0));
    if !at_a.is_finite() {
        return None;
    }
    // The usual slope of ln J is one in about 20 C.
    let mut b = -20.0 * at_a;
    for _ in 0..12 {
        if (b - a).abs() < 0.1 {
            return Some(b);
        }
        let at_b = log_work(b);
        let slope = (at_b - at_a) / (b - a);
        if !slope.is_finite() || slope <= 0.0 || b.abs() > WILDEST_SHIFT_C {
            return None;
        }
        (a, at_a) = (b, at_b);
        b -= at_b / slope;
    }
    None
}

/// How many cones over the target this history came out.
fn cones_over(pack: ConePack, history: &[(Moment, Celsius)], shift: f64) -> Option<f64> {
    let cones: Vec<Cone> = pack.family.cones().collect();
    let target = cones.iter().position(|cone| *cone == pack.target)?;
    let work = |index: usize| -> Option<(Cone, f64)> {
        let cone = *cones.get(index)?;
        Some((cone, heat_work(curve(cone, pack.family).ok()?, history, shift)))
    };
    let (mut index, mut here) = (target, work(target)?);
    let pair = if here.1 >= 1.0 {
        loop {
            match work(index + 1) {
                Some(next) if next.1 >= 1.0 => (index, here) = (index + 1, next),
                next => break [Some(here), next],
            }
        }
    } else {
        loop {
            let cooler = index.checked_sub(1).and_then(work);
            match cooler {
                Some(cooler) if cooler.1 < 1.0 => (index, here) = (index - 1, cooler),
                cooler => break [cooler, Some(here)],
            }
        }
    };
    let pair: Vec<(Cone, f64)> = pair.into_iter().flatten().collect();
    Some(Equivalent::from_heat_work(&pair)?.cones_over(pack.target))
}
