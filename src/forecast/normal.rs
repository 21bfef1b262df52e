//! The normal distribution, as far as the forecast needs it, and a seeded source of its draws.

use std::sync::OnceLock;

use rand::RngExt as _;
use rand::SeedableRng as _;
use rand_pcg::Pcg64Mcg;

use super::lanes::{Block, LANES, Lanes, Task, at_best};

/// Standard normal draws, repeatable from a seed.
#[derive(Debug, Clone)]
pub struct Draws {
    streams: Streams,
    spare: Vec<f64>,
}

impl Draws {
    pub fn seeded(seed: u64) -> Self {
        let mut seeds = Pcg64Mcg::seed_from_u64(seed);
        let streams = Streams([(); 4].map(|()| [(); WIDTH].map(|()| seeds.random())));
        Draws { streams, spare: Vec::new() }
    }

    pub fn uniform(&mut self) -> f64 {
        (f64::from(self.streams.next()[0]) + 0.5) / TWO_POW_32
    }

    /// One standard normal draw.
    pub fn normal(&mut self) -> f64 {
        loop {
            if let Some(spare) = self.spare.pop() {
                return spare;
            }
            let mut columns = [[0.0; LANES]; 2];
            at_best(Filled { streams: &mut self.streams, columns: &mut columns });
            self.spare.extend_from_slice(columns.as_flattened());
        }
    }

    /// Standard normal draws for the first so many unknowns of a block; the rest stays.
    pub fn fill(&mut self, block: &mut Block, unknowns: usize) {
        at_best(Filled { streams: &mut self.streams, columns: &mut block[..unknowns] });
    }
}

/// Standard normal points that lie evenly in their space and are the same every time: the
/// generalised golden ratio's additive sequence (Roberts 2018, from memory) through a table of
/// the normal quantiles. Far fewer of them say as much as random ones, and each costs one look
/// into the table.
#[derive(Debug, Clone)]
pub struct Even {
    places: [u32; Even::MOST],
    quantiles: &'static [f64; Even::LEVELS],
}

impl Even {
    /// For so many unknowns at most.
    pub const MOST: usize = 4;
    const LEVELS: usize = 1 << Even::LEVEL_BITS;
    const LEVEL_BITS: u32 = 12;
    /// Powers of 1/g, the root of g^5 = g + 1, as parts of 2^32.
    const STEPS: [u32; Even::MOST] = [3_679_390_609, 3_152_041_523, 2_700_274_805, 2_313_257_605];

    pub fn begun() -> Even {
        static QUANTILES: OnceLock<Box<[f64; Even::LEVELS]>> = OnceLock::new();
        let quantiles = QUANTILES.get_or_init(quantiles);
        Even { places: [1 << 31; Even::MOST], quantiles }
    }

    /// The next points for the first so many unknowns of a block; the rest stays.
    pub fn fill(&mut self, block: &mut Block, unknowns: usize) {
        let columns = block[..unknowns].iter_mut().zip(&mut self.places).zip(Even::STEPS);
        for ((column, place), step) in columns {
            for value in column {
                *place = place.wrapping_add(step);
                *value = self.quantiles[(*place >> (32 - Even::LEVEL_BITS)) as usize];
            }
        }
    }
}

/// The middle of each of as many equally likely parts, by Newton's method from one to the next.
fn quantiles() -> Box<[f64; Even::LEVELS]> {
    let mut quantiles = Box::new([0.0; Even::LEVELS]);
    let half = Even::LEVELS / 2;
    let mut z = 0.0f64;
    for at in 0..half {
        let chance = 0.5 + (at as f64 + 0.5) / Even::LEVELS as f64;
        for _ in 0..3 {
            let density = (-0.5 * z * z).exp() / std::f64::consts::TAU.sqrt();
            z -= (chance_below(z) - chance) / density;
        }
        quantiles[half + at] = z;
        quantiles[half - 1 - at] = -z;
    }
    quantiles
}

/// Generators that run side by side.
const WIDTH: usize = 16;

/// Random bits: xoshiro128++ (Blackman and Vigna 2021, from memory), sixteen streams of it.
#[derive(Debug, Clone)]
struct Streams([[u32; WIDTH]; 4]);

impl Streams {
    #[inline(always)]
    fn next(&mut self) -> [u32; WIDTH] {
        let [a, b, c, d] = &mut self.0;
        std::array::from_fn(|i| {
            let bits = a[i].wrapping_add(d[i]).rotate_left(7).wrapping_add(a[i]);
            let shifted = b[i] << 9;
            c[i] ^= a[i];
            d[i] ^= b[i];
            b[i] ^= c[i];
            a[i] ^= d[i];
            c[i] ^= shifted;
            d[i] = d[i].rotate_left(11);
            bits
        })
    }
}

/// Fills columns with standard normal draws.
struct Filled<'a> {
    streams: &'a mut Streams,
    columns: &'a mut [Lanes],
}

impl Task for Filled<'_> {
    type Output = ();

    #[inline(always)]
    fn run(self) {
        for columns in self.columns.chunks_mut(2) {
            match columns {
                [first, second] => pairs(self.streams, first, second),
                [only, ..] => pairs(self.streams, only, &mut [0.0; LANES]),
                [] => {}
            }
        }
    }
}

const TWO_POW_32: f64 = 4_294_967_296.0;

/// Two columns of standard normal draws at once (Box and Muller 1958), in single precision: what a
/// draw is off by, 1 part in 10^6, is nothing beside what it stands for.
#[inline(always)]
fn pairs(streams: &mut Streams, first: &mut Lanes, second: &mut Lanes) {
    const ONE: u32 = 1f32.to_bits();
    const HALF_TURN_EACH: f32 = std::f32::consts::PI / TWO_POW_32 as f32;
    let (mut lengths, mut angles) = ([0u32; LANES], [0u32; LANES]);
    for bits in [&mut lengths, &mut angles] {
        for chunk in bits.chunks_exact_mut(WIDTH) {
            chunk.copy_from_slice(&streams.next());
        }
    }
    // Turned into columns afterwards: as many of these fit side by side as single precision allows.
    let (mut cosines, mut sines) = ([0f32; LANES], [0f32; LANES]);
    for i in 0..LANES {
        // The middle of one of 2^23 equal parts of 0 to 1: the mantissa of a number from 1 to 2.
        let part = f32::from_bits(ONE | lengths[i] >> 9) - (1.0 - 0.5 * f32::EPSILON);
        let length = (-2.0 * ln_of_part(part)).sqrt();
        // Half a turn from the angle, the other half from its last bit.
        let (sine, cosine) = sine_and_cosine(angles[i] as i32 as f32 * HALF_TURN_EACH);
        let side = f32::from_bits(cosine.to_bits() ^ angles[i] << 31);
        cosines[i] = length * side;
        sines[i] = length * sine;
    }
    for (column, draws) in [(first, cosines), (second, sines)] {
        for i in 0..LANES {
            column[i] = f64::from(draws[i]);
        }
    }
}

/// ln x, from 2^-24 to 1: x = 2^n m with m from 1/sqrt 2 to sqrt 2, and ln m = 2 artanh(s) with
/// s = (m - 1)/(m + 1), by its Taylor series in s^2, which is below 0.0295; the first term left out
/// is below 1e-7 of the sum.
#[inline(always)]
fn ln_of_part(x: f32) -> f32 {
    const ROOT_HALF: u32 = std::f32::consts::FRAC_1_SQRT_2.to_bits();
    const MANTISSA: u32 = (1 << 23) - 1;
    let from_root = x.to_bits().wrapping_sub(ROOT_HALF);
    let n = ((from_root as i32) >> 23) as f32;
    let m = f32::from_bits((from_root & MANTISSA) + ROOT_HALF);
    let s = (m - 1.0) / (m + 1.0);
    let square = s * s;
    let tail = square * (1.0 / 3.0 + square * (1.0 / 5.0 + square * (1.0 / 7.0)));
    n * std::f32::consts::LN_2 + 2.0 * (s + s * tail)
}

/// Sine and cosine from -pi/2 to pi/2 by their Taylor series; the first terms left out are below
/// 6e-8.
#[inline(always)]
fn sine_and_cosine(x: f32) -> (f32, f32) {
    const fn terms(first: i32) -> [f32; 7] {
        let mut terms = [1.0; 7];
        let mut at = 1;
        while at < terms.len() {
            let n = (2 * at as i32 + first) as f32;
            terms[at] = -terms[at - 1] / (n * (n - 1.0));
            at += 1;
        }
        terms
    }
    const SINE: [f32; 7] = terms(1);
    const COSINE: [f32; 7] = terms(0);
    let square = x * x;
    let (mut sine, mut cosine) = (SINE[6], COSINE[6]);
    for at in (0..6).rev() {
        sine = sine * square + SINE[at];
        cosine = cosine * square + COSINE[at];
    }
    (x * sine, cosine)
}

/// The chance that a standard normal is below `x`, to 1.2e-7 (Numerical Recipes' rational form of
/// erfc, from memory; the tests hold it against quadrature).
pub fn chance_below(x: f64) -> f64 {
    let z = x.abs() / std::f64::consts::SQRT_2;
    let t = 1.0 / (1.0 + 0.5 * z);
    const TERMS: [f64; 10] = [
        0.17087277,
        -0.82215223,
        1.48851587,
        -1.13520398,
        0.27886807,
        -0.18628806,
        0.09678418,
        0.37409196,
        1.00002368,
        -1.26551223,
    ];
    let series = TERMS.iter().fold(0.0, |sum, term| sum * t + term);
    let tail = 0.5 * t * (-z * z + series).exp();
    if x > 0.0 { 1.0 - tail } else { tail }
}

/// A draw of Student's t with `freedom` degrees of freedom from a standard normal one: the
/// Cornish-Fisher expansion to second order, good to a few percent of a standard deviation from
/// five degrees of freedom up, out to three standard deviations.
#[inline(always)]
pub fn heavier_tail(z: f64, freedom: f64) -> f64 {
    let part = 1.0 / freedom;
    let (fourth, second) = (part / 4.0, part * part / 96.0);
    let square = z * z;
    let (bend, lift) = (fourth + 16.0 * second, 1.0 + fourth + 3.0 * second);
    z * ((5.0 * second * square + bend) * square + lift)
}
