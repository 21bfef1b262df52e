//! The chart of one cone as a smooth rate law.
//!
//! A chart row says: heated steadily at rate b, the cone ends at temperature T. Turned round,
//! B(T) is the rate for which T is the end temperature. Heat work is additive over the history
//! and every row of the chart must come out exactly 1; then the rate of heat work at T is
//! k(T) = dB/dT, and nothing is left to fit.
//!
//! ln B against 1/T (absolute temperature) is close to a straight line, the Kissinger relation
//! (Kissinger 1956), whose slope is -E/R. Cones with one or two published rates are that line.
//! For cones with three, interpolating ln B itself by the usual monotone cubics lets k dip for some
//! rows of the chart (which is rounded to whole degrees), and then a hotter firing could do less
//! work. So it is ln k that is interpolated, straight in T between the published temperatures, with
//! each piece's area equal to the step between its published rates and k at the middle rate where
//! the two neighbouring Kissinger lines have it (their geometric mean). k is then continuous and
//! rises with T for every row, and everything has a closed form. Beyond the published rates the curve
//! goes on as a Kissinger line with the same k.

use std::sync::OnceLock;

use super::chart::{self, Certainty, Family, FamilyError, Row};
use super::name::Cone;
use crate::units::{Celsius, CelsiusPerHour, KELVIN_AT_ZERO_CELSIUS, Scale, UnitError};

closed! {
    /// Where a chart value comes from.
    pub enum Basis {
        /// Printed on the chart.
        Published => "published",
        /// Between two published rates of this cone.
        Interpolated => "interpolated",
        /// Beyond the published rates of this cone.
        Extrapolated => "extrapolated",
        /// This cone has one published rate; the slope is that of the same cone in another family.
        Estimated => "estimated",
    }
}

/// Where a cone ends when heated steadily at one rate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EndPoint {
    pub end: Celsius,
    pub basis: Basis,
    /// The weakest certainty among the chart rows this value rests on.
    pub certainty: Certainty,
}

/// One stretch of a curve; it reaches from the end of the one before up to `up_to_c`.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Piece {
    /// Upper end, C; infinite for the hottest piece.
    up_to_c: f64,
    law: Law,
}

/// How B, and with it k = dB/dT, depends on temperature along one piece.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Law {
    /// B = rate exp(slope_k (1/T_at - 1/T)), absolute temperatures.
    Kissinger { at_c: f64, rate_c_per_h: f64, slope_k: f64 },
    /// k = k_at_per_h exp(growth_per_c (T - T_at)), with B = rate at T_at.
    Exponential { at_c: f64, rate_c_per_h: f64, k_at_per_h: f64, growth_per_c: f64 },
}

impl Law {
    /// B at this temperature, C/h.
    fn rate(&self, t_c: f64) -> f64 {
        match *self {
            Law::Kissinger { at_c, rate_c_per_h, slope_k } => {
                rate_c_per_h * (slope_k * inverse_difference(at_c, t_c)).exp()
            }
            Law::Exponential { at_c, rate_c_per_h, k_at_per_h, growth_per_c } => {
                let rise = t_c - at_c;
                rate_c_per_h + k_at_per_h * (growth_per_c * rise).exp_m1() / growth_per_c
            }
        }
    }

    /// k at this temperature, heat work per hour.
    fn k(&self, t_c: f64) -> f64 {
        match *self {
            Law::Kissinger { slope_k, .. } => {
                let kelvin = t_c + KELVIN_AT_ZERO_CELSIUS;
                self.rate(t_c) * slope_k / (kelvin * kelvin)
            }
            Law::Exponential { at_c, k_at_per_h, growth_per_c, .. } => {
                k_at_per_h * (growth_per_c * (t_c - at_c)).exp()
            }
        }
    }

    /// Mean of k between two temperatures of this piece, `low_c <= high_c`, per hour.
    ///
    /// B(high) - B(low) loses every digit when the two are close, so for both laws the mean is
    /// written as (something at the hot end) times (1 - e^-d)/d, with d free of cancellation.
    fn mean_k(&self, low_c: f64, high_c: f64) -> f64 {
        let rise = high_c - low_c;
        match *self {
            Law::Kissinger { slope_k, .. } => {
                let kelvins = (low_c + KELVIN_AT_ZERO_CELSIUS) * (high_c + KELVIN_AT_ZERO_CELSIUS);
                let per_degree = slope_k / kelvins;
                self.rate(high_c) * per_degree * mean_of_decay(per_degree * rise)
            }
            Law::Exponential { growth_per_c, .. } => {
                self.k(high_c) * mean_of_decay(growth_per_c * rise)
            }
        }
    }

    /// The temperature at which B has this value: the inverse of [`Self::rate`], C.
    fn temperature(&self, rate: f64) -> f64 {
        match *self {
            Law::Kissinger { at_c, rate_c_per_h, slope_k } => {
                let at_k = at_c + KELVIN_AT_ZERO_CELSIUS;
                let shift = at_k * (rate / rate_c_per_h).ln() / slope_k;
                at_c + at_k * shift / (1.0 - shift)
            }
            Law::Exponential { at_c, rate_c_per_h, k_at_per_h, growth_per_c } => {
                at_c + (growth_per_c * (rate - rate_c_per_h) / k_at_per_h).ln_1p() / growth_per_c
            }
        }
    }
}

/// 1/T(from) - 1/T(to) for temperatures in C, without cancellation: positive when `to` is hotter.
fn inverse_difference(from_c: f64, to_c: f64) -> f64 {
    (to_c - from_c) / ((from_c + KELVIN_AT_ZERO_CELSIUS) * (to_c + KELVIN_AT_ZERO_CELSIUS))
}

/// (1 - e^-d)/d, the mean of e^-x for x from 0 to d; 1 at d = 0.
fn mean_of_decay(d: f64) -> f64 {
    if d == 0.0 { 1.0 } else { -(-d).exp_m1() / d }
}

/// The rate law of one cone of one family.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    pub cone: Cone,
    pub family: Family,
    pieces: Vec<Piece>,
}

impl Curve {
    fn from_rows(cone: Cone, family: Family, rows: &[Row]) -> Curve {
        let points: Vec<(f64, f64)> = rows.iter().map(|row| (row.end.0, row.rate.0)).collect();
        let chord = |a: (f64, f64), b: (f64, f64)| (b.1 / a.1).ln() / inverse_difference(a.0, b.0);
        let line = |up_to_c: f64, (at_c, rate_c_per_h): (f64, f64), slope_k: f64| Piece {
            up_to_c,
            law: Law::Kissinger { at_c, rate_c_per_h, slope_k },
        };
        let hottest = f64::INFINITY;
        let pieces = match points[..] {
            [only] => {
                let lender = chart::rows(cone, Family::SelfSupporting);
                let [.., cool, hot] = lender else {
                    unreachable!("every self-supporting cone of the chart has two rates")
                };
                let slope = chord((cool.end.0, cool.rate.0), (hot.end.0, hot.rate.0));
                vec![line(hottest, only, slope)]
            }
            [cool, hot] => vec![line(hottest, hot, chord(cool, hot))],
            [cool, middle, hot] => three_rates(cool, middle, hot),
            _ => unreachable!("the chart gives one to three rates for a cone"),
        };
        Curve { cone, family, pieces }
    }

    fn law(&self, t_c: f64) -> &Law {
        &self.pieces[self.pieces.partition_point(|piece| piece.up_to_c < t_c)].law
    }

    /// B(T): the steady heating rate, C/h, at which the cone would end at this temperature.
    pub fn rate_ending_at(&self, t: Celsius) -> CelsiusPerHour {
        CelsiusPerHour(self.law(t.0).rate(t.0))
    }

    /// k(T) = dB/dT: heat work per hour of soak at this temperature.
    pub fn heat_work_per_hour(&self, t: Celsius) -> f64 {
        self.law(t.0).k(t.0)
    }

    /// Mean of k along a straight piece of history from `a` to `b`, in either direction, per hour.
    /// Exact, and without cancellation however short the piece.
    pub fn mean_heat_work_per_hour(&self, a: Celsius, b: Celsius) -> f64 {
        let (low, high) = if a.0 <= b.0 { (a.0, b.0) } else { (b.0, a.0) };
        let first = self.pieces.partition_point(|piece| piece.up_to_c < low);
        if high <= self.pieces[first].up_to_c {
            return self.pieces[first].law.mean_k(low, high);
        }
        let mut sum = 0.0;
        let mut from = low;
        for piece in &self.pieces[first..] {
            let to = high.min(piece.up_to_c);
            sum += piece.law.mean_k(from, to) * (to - from);
            from = to;
            if from >= high {
                break;
            }
        }
        sum / (high - low)
    }

    /// T_end(b): where the cone ends when heated steadily at `rate`.
    ///
    /// # Errors
    /// [`UnitError::OutOfRange`] outside 5 to 600 C/h.
    pub fn end_point(&self, rate: CelsiusPerHour) -> Result<EndPoint, UnitError> {
        let rate = rate.checked(&rate.display(Scale::Celsius))?;
        let rows = chart::rows(self.cone, self.family);
        let published = rows.iter().find(|row| (row.rate.0 - rate.0).abs() <= 1e-9 * rate.0);
        let weakest = rows.iter().map(|row| row.certainty).max();
        let (basis, certainty) = match (published, rows) {
            (Some(row), _) => (Basis::Published, Some(row.certainty)),
            (None, [first, .., last]) if (first.rate.0..=last.rate.0).contains(&rate.0) => {
                (Basis::Interpolated, weakest)
            }
            (None, [_, _, ..]) => (Basis::Extrapolated, weakest),
            (None, _) => (Basis::Estimated, weakest),
        };
        Ok(EndPoint {
            end: self.temperature_ending(rate),
            basis,
            certainty: certainty.expect("a curve has rows"),
        })
    }

    /// The inverse of [`Self::rate_ending_at`], for any positive rate.
    pub fn temperature_ending(&self, rate: CelsiusPerHour) -> Celsius {
        let bounded = &self.pieces[..self.pieces.len() - 1];
        let at = bounded.partition_point(|piece| piece.law.rate(piece.up_to_c) < rate.0);
        Celsius(self.pieces[at].law.temperature(rate.0))
    }
}

/// The four pieces of a cone with three published (temperature, rate) pairs.
fn three_rates(cool: (f64, f64), middle: (f64, f64), hot: (f64, f64)) -> Vec<Piece> {
    let k_on_line = |a: (f64, f64), b: (f64, f64)| {
        let slope = (b.1 / a.1).ln() / inverse_difference(a.0, b.0);
        middle.1 * slope / (middle.0 + KELVIN_AT_ZERO_CELSIUS).powi(2)
    };
    let k_middle = (k_on_line(cool, middle) * k_on_line(middle, hot)).sqrt();
    let (fall, rise) = (middle.0 - cool.0, hot.0 - middle.0);
    let below = inverse_mean_of_growth((middle.1 - cool.1) / (fall * k_middle)) / -fall;
    let above = inverse_mean_of_growth((hot.1 - middle.1) / (rise * k_middle)) / rise;
    let k_cool = k_middle * (-below * fall).exp();
    let k_hot = k_middle * (above * rise).exp();
    let outside = |up_to_c: f64, (at_c, rate_c_per_h): (f64, f64), k: f64| Piece {
        up_to_c,
        law: Law::Kissinger {
            at_c,
            rate_c_per_h,
            slope_k: k * (at_c + KELVIN_AT_ZERO_CELSIUS).powi(2) / rate_c_per_h,
        },
    };
    let inside = |up_to_c: f64, growth_per_c: f64| Piece {
        up_to_c,
        law: Law::Exponential {
            at_c: middle.0,
            rate_c_per_h: middle.1,
            k_at_per_h: k_middle,
            growth_per_c,
        },
    };
    vec![
        outside(cool.0, cool, k_cool),
        inside(middle.0, below),
        inside(hot.0, above),
        outside(f64::INFINITY, hot, k_hot),
    ]
}

/// The x with (e^x - 1)/x = `mean`, by bisection; `mean` is positive and not 1.
fn inverse_mean_of_growth(mean: f64) -> f64 {
    let mean_of_growth = |x: f64| if x == 0.0 { 1.0 } else { x.exp_m1() / x };
    let (mut low, mut high) = (-50.0, 50.0);
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if mean_of_growth(middle) < mean {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// The rate law of a cone, or the reason why the chart has none. Built once.
///
/// # Errors
/// [`FamilyError::NotMade`] naming the families this cone does exist in.
pub fn curve(cone: Cone, family: Family) -> Result<&'static Curve, FamilyError> {
    type Slot = OnceLock<Curve>;
    static CURVES: OnceLock<Vec<Slot>> = OnceLock::new();
    let rows = chart::rows_or_reason(cone, family)?;
    let families = Family::ALL.len();
    let curves =
        CURVES.get_or_init(|| (0..Cone::all().len() * families).map(|_| Slot::new()).collect());
    let slot = &curves[cone.index() * families + family as usize];
    Ok(slot.get_or_init(|| Curve::from_rows(cone, family, rows)))
}
