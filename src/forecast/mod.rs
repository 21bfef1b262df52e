//! When the target cone will drop, as a distribution.
//!
//! Reading order: [`evidence`] (what is known today), [`plausible`] (what is not believed),
//! [`past`] with [`past_end`] and [`pooling`] (what former firings teach), [`turns`] (of burners),
//! [`planned`] (what the schedule says), [`climb`] (the chamber now), `ahead` (the way from there), [`by_clock`],
//! [`by_one_reading`] and [`by_readings`] (firings that could be), `known` (which of them), [`sampler`] (those that agree
//! with what was seen), [`drops`] (the drop time they add up to).

pub mod ahead;
pub mod by_clock;
pub mod by_one_reading;
pub mod by_readings;
pub mod climb;
pub mod drops;
pub mod evidence;
pub mod known;
pub mod misfit;
pub mod past;
pub mod past_end;
pub mod path;
pub mod planned;
pub mod plausible;
pub mod pooling;
pub mod profile;
pub mod rise;
pub mod sampler;
mod told;
pub mod turns;
mod witnesses;

pub use drops::{Drops, Outlook};
pub use plausible::{Implausible, SetAside};

use crate::cone::{Cone, lean_deg};
use crate::firing::setting::Way;
use crate::firing::{Firing, State};
use crate::kiln::{Kiln, LoadType};
use crate::review::suggestion::Corrections;
use crate::units::{Celsius, CelsiusPerHour, Moment, Span};
use evidence::Evidence;
use known::Known;
use sampler::Weighted;
use told::StandsOn;
use witnesses::{Accounts, Witness};

/// Standard deviation of a single cone's own end point, C: the makers' figure of 2 C either way
/// (from memory), taken as the ends of an even spread.
pub const TOLERANCE_C: f64 = 1.15;

/// All that may be known about one firing, and the moment it is asked about.
#[derive(Debug, Clone, Copy)]
pub struct Question<'a> {
    pub firing: &'a Firing,
    pub load: Option<&'a LoadType>,
    pub kiln: Option<&'a Kiln>,
    /// Finished firings of the same shop, struck ones left out.
    pub past: &'a [Firing],
    /// The corner points of the plan: time since lit, and temperature.
    pub schedule: Option<&'a [(Span, Celsius)]>,
    /// Probe corrections that were accepted in this shop.
    pub corrections: Option<&'a Corrections>,
    pub now: Moment,
    /// The chance of finding the target down later than the load forgives that must not be
    /// exceeded, whatever the costs say.
    pub limit: f64,
}

/// The usual limit on being found too late: 1 in 200.
pub const USUAL_LIMIT: f64 = 1.0 / 200.0;

/// One firing that could be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Imagined {
    /// Hours from lit to the drop of the target.
    pub drop_h: f64,
    /// Heat work of guide, target and guard now.
    pub heat_work: [f64; 3],
    /// The chamber now, as a probe would read it, if anything is known of it.
    pub chamber_c: Option<f64>,
    /// The climb at the drop.
    pub climb_c_per_h: f64,
}

/// What is expected of one cone of the pack.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ConeNow {
    pub cone: Cone,
    /// 0 fresh, 1 at its end point.
    pub heat_work: f64,
    /// Degrees from upright, 8 to 90: as likely to be more as to be less.
    pub lean_deg: f64,
    /// The lean it is below, and above, one time in twenty.
    pub lean_range_deg: (f64, f64),
}

/// The drop of the target cone, and the state of the kiln it follows from.
#[derive(Debug, Clone, PartialEq)]
pub struct Forecast {
    /// Quantiles of the drop time; the drop lies before `p05` one time in twenty.
    pub p05: Moment,
    pub p50: Moment,
    pub p95: Moment,
    /// Chance that the target has dropped already, 0 to 1.
    pub dropped: f64,
    /// The pack, coolest first, as expected now.
    pub cones: Vec<ConeNow>,
    /// The chamber now, and how fast it climbs.
    pub chamber: Option<Celsius>,
    pub climb: Option<CelsiusPerHour>,
    /// What the forecast rests on, as whole phrases ("readings to 9:40" is left to the words).
    pub rests_on: Vec<Ground>,
    /// The whole distribution of the drop time.
    pub drops: Drops,
    /// Readings that were not believed, and a probe that fell silent.
    pub set_aside: Vec<SetAside>,
    /// How many times as wide as reckoned `p05` and `p95` are apart, by the shop's own record.
    pub width: f64,
}

/// One source of knowledge a forecast rests on.
#[derive(Debug, Clone, PartialEq)]
pub enum Ground {
    Schedule {
        name: String,
    },
    PastFirings {
        count: usize,
    },
    Readings {
        count: usize,
        last: Moment,
        /// When it would drop by them alone, where they count for less than half.
        doubted: Option<Moment>,
    },
    /// The colour of the glow in place of readings, as it was named then.
    Glow {
        at: Moment,
    },
    Looks {
        count: usize,
        last: Moment,
    },
    /// A burner or switch turned by hand.
    Turns {
        count: usize,
        last: Moment,
        /// The way of the last turn, where its words say.
        way: Option<Way>,
    },
    /// What was accepted to be added to the probe, C.
    Correction {
        add_c: f64,
    },
    /// What past firings taught of its probe before counts no more: it was changed or moved then.
    ProbeChanged {
        at: Moment,
    },
    /// Only the load type's usual length.
    UsualLength,
}

/// Why there is no forecast.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Declined {
    NotLit,
    /// The target was seen down, or the kiln is off: nothing is left to forecast.
    Over,
    /// No schedule, no usual length, no past firing and too few readings.
    NothingKnown,
    /// The kiln was given up before its drop and is not lit again.
    Aborted,
    /// The kiln has stopped climbing, far from the drop.
    NotClimbing,
}

/// Readings whose share falls below this when a cone was seen to move are set aside as contradicted.
const CONTRADICTED: f64 = 0.1;
/// Readings whose share is less than this count for little, which is told.
const COUNT_LITTLE: f64 = 0.5;
/// A kiln that climbs slower than this and is this far from its drop has stopped.
const STOPPED_C_PER_H: f64 = 15.0;
const STOPPED_AHEAD_H: f64 = 2.0;

/// The forecast at `question.now`, from what had happened by then.
///
/// # Errors
/// [`Declined`] with the reason when there is nothing to forecast, or too little is known.
pub fn forecast(question: &Question) -> Result<Forecast, Declined> {
    with_outlook(question).map(|(forecast, _)| forecast)
}

/// The forecast with what looks are planned on: the same distribution, but as long as no cone was
/// seen to move, each witness keeps a least chance of being the right one.
///
/// # Errors
/// As for [`forecast`].
pub fn with_outlook(question: &Question) -> Result<(Forecast, Outlook), Declined> {
    still_going(question)?;
    let known = Known::of(question)?;
    let accounts = Accounts::of(&known, question)?;
    let sample = accounts.mixed();
    let drops = Drops::of(&sample, known.evidence.lit);
    let states = accounts.states();
    let readings = accounts.share(Witness::Readings);
    let climb = match states {
        Some(states) if readings > 0.5 && known.turns_since().is_empty() => {
            Some(states.likeliest().climb_c_per_h())
        }
        _ => middle(&sample, |imagined| Some(imagined.climb_c_per_h)),
    };
    let stopped = states.is_some_and(|s| s.likeliest().climb_c_per_h() < STOPPED_C_PER_H);
    let by_readings = accounts.firings_by(Witness::Readings);
    let ahead = middle(by_readings, |imagined| Some(imagined.drop_h - known.now_h));
    let far = ahead.is_some_and(|hours| hours > STOPPED_AHEAD_H);
    let turned_up = known.turns_since().last().is_some_and(|turn| turn.way != Some(Way::Down));
    if stopped && far && !accounts.has(Witness::Clock) && !known.planned_to_soak() && !turned_up {
        return Err(Declined::NotClimbing);
    }
    let spoken = known.evidence.saw_a_cone_move();
    let usual_climb = CelsiusPerHour(known.experience.climb.mean.exp());
    let looked_for = if spoken { &sample } else { &accounts.with_least_shares() };
    let outlook = Outlook::of(looked_for, known.evidence.lit, usual_climb);
    let doubted = ahead.filter(|_| readings < COUNT_LITTLE);
    let doubted = doubted.map(|hours| question.now + Span::from_hours(hours));
    let known = if spoken && accounts.has(Witness::Readings) && readings < CONTRADICTED {
        known.contradicted()
    } else {
        known
    };
    let stands_on = StandsOn {
        moved_cone: spoken,
        readings: readings > 0.5,
        firings: known.experience.firings,
    };
    let [p05, p50, p95] = stands_on.window(&drops);
    let forecast = Forecast {
        p05,
        p50,
        p95,
        dropped: drops.chance_before(question.now),
        cones: cones_now(&known.evidence, &sample),
        chamber: middle(&sample, |imagined| imagined.chamber_c).map(Celsius),
        climb: climb.map(CelsiusPerHour),
        rests_on: known.grounds(question, doubted),
        drops,
        set_aside: known.evidence.set_aside,
        width: 1.0,
    }
    .told(question);
    Ok((forecast, outlook))
}

/// Whether there is anything left to forecast.
fn still_going(question: &Question) -> Result<(), Declined> {
    let firing = question.firing;
    if firing.lit.is_none_or(|lit| lit > question.now) || firing.state == State::Planned {
        return Err(Declined::NotLit);
    }
    if firing.aborted.as_ref().is_some_and(|(at, _)| *at <= question.now) {
        return Err(Declined::Aborted);
    }
    let over = firing.off.is_some_and(|off| off <= question.now);
    if over || firing.down_by(question.now).is_some() {
        return Err(Declined::Over);
    }
    Ok(())
}

/// The same record gives the same draws.
fn seed(evidence: &Evidence) -> u64 {
    evidence.lit.0.unsigned_abs()
}

/// The weighted median of something known of the sample.
fn middle(sample: &[Weighted], value: impl Fn(&Imagined) -> Option<f64>) -> Option<f64> {
    quantiles(sample, [0.5], value).map(|[middle]| middle)
}

/// What something known of the sample is below with these chances, each 0 to 1; `None` if it is
/// known of less than half of it.
fn quantiles<const N: usize>(
    sample: &[Weighted],
    chances: [f64; N],
    value: impl Fn(&Imagined) -> Option<f64>,
) -> Option<[f64; N]> {
    let mut values: Vec<(f64, f64)> =
        sample.iter().filter_map(|s| value(&s.firing).map(|v| (v, s.weight))).collect();
    let whole: f64 = values.iter().map(|(_, weight)| weight).sum();
    if whole < 0.5 {
        return None;
    }
    values.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    let mut sum = 0.0;
    for (_, weight) in &mut values {
        sum += *weight;
        *weight = sum;
    }
    let last = values.len() - 1;
    Some(chances.map(|chance| {
        let at = values.partition_point(|(_, sum)| *sum < chance * whole);
        values[at.min(last)].0
    }))
}

fn cones_now(evidence: &Evidence, sample: &[Weighted]) -> Vec<ConeNow> {
    let mut cones = Vec::new();
    for (at, curve) in evidence.cones.curves.iter().enumerate() {
        let Some(curve) = curve else { continue };
        let chances = [0.05, 0.5, 0.95];
        let [least, heat_work, most] =
            quantiles(sample, chances, |imagined| Some(imagined.heat_work[at])).unwrap_or_default();
        cones.push(ConeNow {
            cone: curve.cone,
            heat_work,
            lean_deg: lean_deg(heat_work),
            lean_range_deg: (lean_deg(least), lean_deg(most)),
        });
    }
    cones
}
