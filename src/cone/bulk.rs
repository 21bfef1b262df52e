//! Heat work of stored histories: millions of readings, many firings at once.
//!
//! The law is that of [`super::heat_work`]; only the order of the arithmetic differs. Between two
//! readings the mean of k is written around the middle of the step,
//!
//! > mean k = k_middle sinh(x)/x, with x half of the step in the exponent,
//!
//! which is the same from either end, has no cancellation however short the step, and needs one
//! exponential. The inner loops are plain Rust over slices, without branches, so that the compiler
//! turns them into vector code; they are compiled three times, for three sets of instructions, and
//! the best one the processor has is chosen when the program runs.
//!
//! A stretch of readings goes through the inner loop as long as it stays on one piece of the
//! curve. The step that crosses to another piece is left to [`Curve::mean_heat_work_per_hour`].

pub(crate) mod arithmetic;

use self::arithmetic::{Arithmetic, Fused, Plain, SERIES_REACH, StandardExp, sinh_over};
use super::curve::{Curve, Law, Piece};
use super::heat_work::CompensatedSum;
use crate::units::{Celsius, KELVIN_AT_ZERO_CELSIUS, Moment, Span};

const HOURS_PER_MILLISECOND: f64 = 1.0 / Span::hours(1).0 as f64;

/// Most steps added up before the sum is compensated; the work space of the inner loop.
const BLOCK: usize = 64;

/// Which instructions the inner loop is compiled for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum VectorLevel {
    /// The plain path with the exponential of the standard library. Never chosen: it is what the
    /// plain path is measured and checked against.
    StandardExp,
    /// What every processor of this architecture has.
    Plain,
    /// AVX2 and fused multiply-add: four readings at a time.
    Avx2,
    /// AVX-512: eight readings at a time.
    Avx512,
}

impl VectorLevel {
    pub const ALL: [VectorLevel; 4] =
        [VectorLevel::StandardExp, VectorLevel::Plain, VectorLevel::Avx2, VectorLevel::Avx512];

    pub fn name(self) -> &'static str {
        match self {
            VectorLevel::StandardExp => "plain with the standard library's exp",
            VectorLevel::Plain => "plain",
            VectorLevel::Avx2 => "AVX2 with FMA",
            VectorLevel::Avx512 => "AVX-512",
        }
    }

    /// Whether this processor can run it.
    pub fn is_available(self) -> bool {
        match self {
            VectorLevel::StandardExp | VectorLevel::Plain => true,
            #[cfg(target_arch = "x86_64")]
            VectorLevel::Avx2 => {
                is_x86_feature_detected!("avx2") && is_x86_feature_detected!("fma")
            }
            #[cfg(target_arch = "x86_64")]
            VectorLevel::Avx512 => {
                is_x86_feature_detected!("avx512f")
                    && is_x86_feature_detected!("avx512dq")
                    && is_x86_feature_detected!("avx512vl")
                    && is_x86_feature_detected!("fma")
            }
            #[cfg(not(target_arch = "x86_64"))]
            VectorLevel::Avx2 | VectorLevel::Avx512 => false,
        }
    }

    /// The levels this processor can run, slowest first.
    pub fn available() -> impl Iterator<Item = VectorLevel> {
        Self::ALL.into_iter().filter(|level| level.is_available())
    }
}

/// Why histories could not be taken in.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BulkError {
    #[error(
        "every reading needs a time and a temperature: {times} times, {temperatures} temperatures were given"
    )]
    Uneven { times: usize, temperatures: usize },
    #[error(
        "firing {firing} starts at reading {start}, outside {low} to {high}: the starts of firings ascend from 0 and stay within the readings"
    )]
    Start { firing: usize, start: usize, low: usize, high: usize },
    #[error("this processor cannot run the vector level {}: use one of {}", .0.name(), available_list())]
    Level(VectorLevel),
}

fn available_list() -> String {
    VectorLevel::available().map(VectorLevel::name).collect::<Vec<_>>().join(", ")
}

/// The stored readings of many firings, end to end.
#[derive(Debug, Clone, Copy)]
pub struct Histories<'a> {
    times: &'a [Moment],
    temperatures: &'a [Celsius],
    starts: &'a [usize],
}

impl<'a> Histories<'a> {
    /// `starts` holds for each firing the place of its first reading; a firing reaches to the
    /// start of the next one, the last one to the end. A firing may be empty.
    ///
    /// # Errors
    /// [`BulkError::Uneven`] and [`BulkError::Start`]; the first start has to be 0 unless there
    /// are no readings.
    pub fn new(
        times: &'a [Moment],
        temperatures: &'a [Celsius],
        starts: &'a [usize],
    ) -> Result<Self, BulkError> {
        if times.len() != temperatures.len() {
            return Err(BulkError::Uneven { times: times.len(), temperatures: temperatures.len() });
        }
        let mut low = 0;
        for (firing, &start) in starts.iter().enumerate() {
            let high = if firing == 0 { 0 } else { times.len() };
            if !(low..=high).contains(&start) {
                return Err(BulkError::Start { firing, start, low, high });
            }
            low = start;
        }
        Ok(Histories { times, temperatures, starts })
    }

    /// The readings of each firing, in the order of the starts.
    fn firings(self) -> impl Iterator<Item = (&'a [Moment], &'a [Celsius])> {
        (0..self.starts.len()).map(move |firing| {
            let end = self.starts.get(firing + 1).copied().unwrap_or(self.times.len());
            let range = self.starts[firing]..end;
            (&self.times[range.clone()], &self.temperatures[range])
        })
    }
}

/// The bulk engine at one vector level that this processor is known to have.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bulk {
    level: VectorLevel,
}

impl Default for Bulk {
    /// The fastest level this processor has.
    fn default() -> Self {
        let level = VectorLevel::available().last().expect("the plain level is always there");
        Bulk { level }
    }
}

impl Bulk {
    /// The engine at a level of the caller's choice.
    ///
    /// # Errors
    /// [`BulkError::Level`] when this processor does not have it.
    pub fn at_level(level: VectorLevel) -> Result<Self, BulkError> {
        if level.is_available() { Ok(Bulk { level }) } else { Err(BulkError::Level(level)) }
    }

    pub fn level(self) -> VectorLevel {
        self.level
    }

    /// Heat work of each firing: 0 fresh, 1 at the end point, more beyond it.
    ///
    /// The same as taking the readings in one by one with [`super::HeatWork::append`], to within
    /// 1 part in 10^14 for a firing that reaches the heat of the cone, and 3 in 10^12 for one that
    /// stays far too cold; for temperatures above absolute zero. A reading not later than the
    /// one before adds nothing and replaces it. Heat work too small for a normal number (below
    /// about 10^-300) comes out as some number as small.
    pub fn heat_work(self, curve: &Curve, histories: Histories<'_>) -> Vec<f64> {
        histories
            .firings()
            .map(|(times, temperatures)| self.one(curve, times, temperatures))
            .collect()
    }

    fn one(self, curve: &Curve, times: &[Moment], temperatures: &[Celsius]) -> f64 {
        match self.level {
            VectorLevel::StandardExp => firing::<StandardExp>(curve, times, temperatures),
            VectorLevel::Plain => firing::<Plain>(curve, times, temperatures),
            #[cfg(target_arch = "x86_64")]
            #[expect(unsafe_code, reason = "vector instructions chosen at run time")]
            // SAFETY: a Bulk with this level is only made after `is_available` found AVX2 and FMA.
            VectorLevel::Avx2 => unsafe { firing_avx2(curve, times, temperatures) },
            #[cfg(target_arch = "x86_64")]
            #[expect(unsafe_code, reason = "vector instructions chosen at run time")]
            // SAFETY: a Bulk with this level is only made after `is_available` found AVX-512 F, DQ
            // and VL, and FMA.
            VectorLevel::Avx512 => unsafe { firing_avx512(curve, times, temperatures) },
            #[cfg(not(target_arch = "x86_64"))]
            VectorLevel::Avx2 | VectorLevel::Avx512 => unreachable!("refused by at_level"),
        }
    }
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2,fma")]
fn firing_avx2(curve: &Curve, times: &[Moment], temperatures: &[Celsius]) -> f64 {
    firing::<Fused>(curve, times, temperatures)
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx512f,avx512dq,avx512vl,fma")]
fn firing_avx512(curve: &Curve, times: &[Moment], temperatures: &[Celsius]) -> f64 {
    firing::<Fused>(curve, times, temperatures)
}

// Everything below is inlined into the three functions above it, and so compiled for the
// instructions each of them may use.

#[inline(always)]
fn firing<A: Arithmetic>(curve: &Curve, times: &[Moment], temperatures: &[Celsius]) -> f64 {
    let mut sum = CompensatedSum::default();
    let mut steps = Steps::new();
    let last = temperatures.len().saturating_sub(1);
    let mut from = 0;
    while from < last {
        let room = steps.room().min(last - from);
        let (law, on_one_piece) = stretch(curve.pieces(), &temperatures[from..=from + room]);
        if on_one_piece == 0 {
            sum.add(crossing(curve, times, temperatures, from));
            from += 1;
            continue;
        }
        let to = from + on_one_piece;
        let (times, temperatures) = (&times[from..=to], &temperatures[from..=to]);
        match *law {
            Law::Kissinger { at_c, rate_c_per_h, slope_k } => {
                let line = KissingerLine::new(at_c, rate_c_per_h, slope_k);
                steps.extend::<A, _>(&line, times, temperatures);
            }
            Law::Exponential { at_c, k_at_per_h, growth_per_c, .. } => {
                let line = ExponentialLine { at_c, k_at_per_h, half_growth: 0.5 * growth_per_c };
                steps.extend::<A, _>(&line, times, temperatures);
            }
        }
        if steps.room() == 0 {
            sum.add(steps.take_heat_work::<A>());
        }
        from = to;
    }
    sum.add(steps.take_heat_work::<A>());
    sum.value()
}

/// The heat work of one step, by the scalar engine.
fn crossing(curve: &Curve, times: &[Moment], temperatures: &[Celsius], from: usize) -> f64 {
    let step = times[from + 1] - times[from];
    if step.0 <= 0 {
        return 0.0;
    }
    curve.mean_heat_work_per_hour(temperatures[from], temperatures[from + 1]) * step.as_hours()
}

/// The law of the first reading, and the steps from there until one leaves its piece of the curve;
/// 0 when the very next reading is on another piece.
#[inline(always)]
fn stretch<'a>(pieces: &'a [Piece], temperatures: &[Celsius]) -> (&'a Law, usize) {
    let first = temperatures[0].0;
    let at = pieces.iter().position(|piece| first <= piece.up_to_c).unwrap_or(pieces.len() - 1);
    let low = if at == 0 { f64::NEG_INFINITY } else { pieces[at - 1].up_to_c };
    let high = pieces[at].up_to_c;
    let inside = |t: &Celsius| low <= t.0 && t.0 <= high;
    // Counting has no early way out and so is vector code; most of the time nothing is outside.
    let outside = temperatures.iter().filter(|t| !inside(t)).count();
    let steps = if outside == 0 {
        temperatures.len() - 1
    } else {
        temperatures[1..].iter().take_while(|t| inside(t)).count()
    };
    (&pieces[at].law, steps)
}

/// One law of the curve, made ready for steps between two temperatures.
trait Line {
    /// k in the middle of the step (where ln k is the mean of both ends), per hour, as a factor
    /// and an exponent; and half of the step in the exponent.
    fn middle<A: Arithmetic>(&self, from_c: f64, to_c: f64) -> (f64, f64, f64);
}

struct KissingerLine {
    at_c: f64,
    at_k: f64,
    slope_k: f64,
    slope_times_rate: f64,
    slope_over_at: f64,
}

impl KissingerLine {
    #[inline(always)]
    fn new(at_c: f64, rate_c_per_h: f64, slope_k: f64) -> Self {
        let at_k = at_c + KELVIN_AT_ZERO_CELSIUS;
        KissingerLine {
            at_c,
            at_k,
            slope_k,
            slope_times_rate: slope_k * rate_c_per_h,
            slope_over_at: slope_k / at_k,
        }
    }
}

impl Line for KissingerLine {
    /// B(to) - B(from) = rate (e^u(to) - e^u(from)) with u = slope (1/T_at - 1/T). The mean of the
    /// two u is written with differences from T_at, so that it is exact where B is near the rate.
    #[inline(always)]
    fn middle<A: Arithmetic>(&self, from_c: f64, to_c: f64) -> (f64, f64, f64) {
        let inverse = 1.0 / ((from_c + KELVIN_AT_ZERO_CELSIUS) * (to_c + KELVIN_AT_ZERO_CELSIUS));
        let (from_rise, to_rise) = (from_c - self.at_c, to_c - self.at_c);
        let shift = A::multiply_add(0.5 * self.at_k, from_rise + to_rise, from_rise * to_rise);
        let exponent = self.slope_over_at * shift * inverse;
        (self.slope_times_rate * inverse, exponent, 0.5 * self.slope_k * (to_c - from_c) * inverse)
    }
}

struct ExponentialLine {
    at_c: f64,
    k_at_per_h: f64,
    half_growth: f64,
}

impl Line for ExponentialLine {
    #[inline(always)]
    fn middle<A: Arithmetic>(&self, from_c: f64, to_c: f64) -> (f64, f64, f64) {
        let rises = (from_c - self.at_c) + (to_c - self.at_c);
        (self.k_at_per_h, self.half_growth * rises, self.half_growth * (to_c - from_c))
    }
}

/// Steps waiting for their exponentials, which are the larger part of the work and the same for
/// every law. All places are worked through, in use or not; those not in use get no weight.
struct Steps {
    count: usize,
    /// The factor of k times the length of the step.
    weights: [f64; BLOCK],
    exponents: [f64; BLOCK],
    halves: [f64; BLOCK],
}

impl Steps {
    #[inline(always)]
    fn new() -> Self {
        Steps { count: 0, weights: [0.0; BLOCK], exponents: [0.0; BLOCK], halves: [0.0; BLOCK] }
    }

    #[inline(always)]
    fn room(&self) -> usize {
        BLOCK - self.count
    }

    /// Takes in the steps between these readings, which all lie on one line; there is room.
    #[inline(always)]
    fn extend<A: Arithmetic, L: Line>(
        &mut self,
        line: &L,
        times: &[Moment],
        temperatures: &[Celsius],
    ) {
        let more = temperatures.len() - 1;
        let places = self.count..self.count + more;
        let weights = &mut self.weights[places.clone()];
        let exponents = &mut self.exponents[places.clone()];
        let halves = &mut self.halves[places];
        let (from, to) = (&temperatures[..more], &temperatures[1..=more]);
        let (start, end) = (&times[..more], &times[1..=more]);
        for i in 0..more {
            let (factor, exponent, half) = line.middle::<A>(from[i].0, to[i].0);
            weights[i] = factor * (milliseconds(start[i], end[i]) * HOURS_PER_MILLISECOND);
            exponents[i] = exponent;
            halves[i] = half.abs();
        }
        self.count += more;
    }

    /// The heat work of all steps; there are none afterwards.
    #[inline(always)]
    fn take_heat_work<A: Arithmetic>(&mut self) -> f64 {
        self.weights[self.count..].fill(0.0);
        let Steps { weights, exponents, halves, .. } = self;
        let mut means: [f64; BLOCK] =
            std::array::from_fn(|i| A::exp(exponents[i]) * sinh_over::<A>(halves[i]));
        if halves.iter().filter(|half| **half > SERIES_REACH).count() > 0 {
            means = std::array::from_fn(|i| {
                let half = halves[i];
                let wide = A::exp(exponents[i] + half) * (1.0 - A::exp(-2.0 * half)) / (2.0 * half);
                if half > SERIES_REACH { wide } else { means[i] }
            });
        }
        self.count = 0;
        sum_of_products(weights, &means)
    }
}

/// Milliseconds from one reading to the next; 0 when it is not later.
///
/// There is no vector instruction below AVX-512 for this conversion. The upper and the lower half
/// of the bits are set into two numbers whose spacing they then count.
#[inline(always)]
fn milliseconds(start: Moment, end: Moment) -> f64 {
    const LOWER: u64 = 0x4330_0000_0000_0000; // 2^52
    const UPPER: u64 = 0x4530_0000_8000_0000; // 2^84 + 2^63
    const BOTH: f64 = f64::from_bits(UPPER) + f64::from_bits(LOWER);
    let bits = end.0.wrapping_sub(start.0) as u64;
    let lower = f64::from_bits(bits & 0xffff_ffff | LOWER);
    let upper = f64::from_bits(bits >> 32 ^ UPPER);
    let milliseconds = (upper - BOTH) + lower;
    if milliseconds > 0.0 { milliseconds } else { 0.0 }
}

#[inline(always)]
fn sum_of_products(a: &[f64; BLOCK], b: &[f64; BLOCK]) -> f64 {
    const LANES: usize = 8;
    let mut lanes = [0.0; LANES];
    for (a, b) in a.chunks_exact(LANES).zip(b.chunks_exact(LANES)) {
        for lane in 0..LANES {
            lanes[lane] += a[lane] * b[lane];
        }
    }
    lanes.iter().sum()
}
