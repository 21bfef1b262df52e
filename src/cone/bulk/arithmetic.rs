//! The exponential, the logarithm and sinh(x)/x for inner loops: branch-free, so that they become
//! vector code in whatever function they are inlined into.

/// The series of [`sinh_over`] is for x up to this either way: the first term left out, x^24/25!,
/// is then below 1e-16 of the sum.
pub(crate) const SERIES_REACH: f64 = 2.2;

/// The arithmetic that differs between the vector levels.
pub(crate) trait Arithmetic {
    /// a b + c, rounded once where the instructions allow it.
    fn multiply_add(a: f64, b: f64, c: f64) -> f64;

    /// e^x.
    #[inline(always)]
    fn exp(x: f64) -> f64 {
        exp::<Self>(x)
    }
}

pub(crate) struct StandardExp;
pub(crate) struct Plain;
pub(crate) struct Fused;

impl Arithmetic for StandardExp {
    #[inline(always)]
    fn multiply_add(a: f64, b: f64, c: f64) -> f64 {
        a * b + c
    }
    #[inline(always)]
    fn exp(x: f64) -> f64 {
        x.exp()
    }
}

impl Arithmetic for Plain {
    #[inline(always)]
    fn multiply_add(a: f64, b: f64, c: f64) -> f64 {
        a * b + c
    }
}

impl Arithmetic for Fused {
    #[inline(always)]
    fn multiply_add(a: f64, b: f64, c: f64) -> f64 {
        a.mul_add(b, c)
    }
}

/// The polynomial with these coefficients, constant first, in groups of four: each group is
/// independent of the others, where a single chain of multiplications would leave most of the
/// processor waiting.
#[inline(always)]
fn polynomial<A: Arithmetic + ?Sized, const GROUPS: usize>(
    x: f64,
    coefficients: [[f64; 4]; GROUPS],
) -> f64 {
    let square = x * x;
    let fourth = square * square;
    let group = |[a, b, c, d]: [f64; 4]| {
        A::multiply_add(A::multiply_add(d, x, c), square, A::multiply_add(b, x, a))
    };
    let mut value = group(coefficients[GROUPS - 1]);
    for lower in coefficients.into_iter().rev().skip(1) {
        value = A::multiply_add(value, fourth, group(lower));
    }
    value
}

/// sinh(x)/x for x up to [`SERIES_REACH`] either way, by its Taylor series in x².
#[inline(always)]
pub(crate) fn sinh_over<A: Arithmetic>(x: f64) -> f64 {
    const SERIES: [[f64; 4]; 3] = [
        [1.0, 1.0 / FACTORIALS[3], 1.0 / FACTORIALS[5], 1.0 / FACTORIALS[7]],
        [1.0 / FACTORIALS[9], 1.0 / FACTORIALS[11], 1.0 / FACTORIALS[13], 1.0 / FACTORIALS[15]],
        [1.0 / FACTORIALS[17], 1.0 / FACTORIALS[19], 1.0 / FACTORIALS[21], 1.0 / FACTORIALS[23]],
    ];
    polynomial::<A, 3>(x * x, SERIES)
}

/// Adding this to a small number leaves its nearest whole number in the last bits.
const TO_WHOLE: f64 = 1.5 * (1u64 << 52) as f64;

/// (e^r - 1 - r)/r².
const EXP_SERIES: [[f64; 4]; 3] = [
    [0.5, 1.0 / FACTORIALS[3], 1.0 / FACTORIALS[4], 1.0 / FACTORIALS[5]],
    [1.0 / FACTORIALS[6], 1.0 / FACTORIALS[7], 1.0 / FACTORIALS[8], 1.0 / FACTORIALS[9]],
    [1.0 / FACTORIALS[10], 1.0 / FACTORIALS[11], 1.0 / FACTORIALS[12], 1.0 / FACTORIALS[13]],
];

/// e^x without a branch: x = n ln 2 + r with |r| at most half of ln 2, the Taylor series of e^r,
/// and n added to the binary exponent. For x up to 709; below -708, where 2^n is no longer a normal
/// number, e^-708 is given.
#[inline(always)]
fn exp<A: Arithmetic + ?Sized>(x: f64) -> f64 {
    // ln 2 in two parts, the first short enough for n times it to be exact (as in fdlibm's exp).
    const LN_2_HIGH: f64 = f64::from_bits(0x3fe6_2e42_fee0_0000);
    const LN_2_LOW: f64 = f64::from_bits(0x3dea_39ef_3579_3c76);
    let x = if x > -708.0 { x } else { -708.0 };
    let shifted = A::multiply_add(x, std::f64::consts::LOG2_E, TO_WHOLE);
    let n = shifted - TO_WHOLE;
    let r = A::multiply_add(n, -LN_2_LOW, A::multiply_add(n, -LN_2_HIGH, x));
    exp_of::<A, 3>(shifted, r)
}

/// e^x to 4 parts in 10^6, for x from -708 to 709: as [`exp`], with a third of its series and ln 2
/// as it comes.
#[inline(always)]
pub(crate) fn coarse_exp<A: Arithmetic>(x: f64) -> f64 {
    let shifted = A::multiply_add(x, std::f64::consts::LOG2_E, TO_WHOLE);
    let r = A::multiply_add(shifted - TO_WHOLE, -std::f64::consts::LN_2, x);
    exp_of::<A, 1>(shifted, r)
}

/// 2^n e^r by so many groups of the series, with n in the last bits of `shifted`.
#[inline(always)]
fn exp_of<A: Arithmetic + ?Sized, const GROUPS: usize>(shifted: f64, r: f64) -> f64 {
    const ONE: u64 = 1f64.to_bits();
    let tail = polynomial::<A, GROUPS>(r, std::array::from_fn(|group| EXP_SERIES[group]));
    let mantissa = 1.0 + A::multiply_add(r * r, tail, r);
    mantissa * f64::from_bits((shifted.to_bits() << 52).wrapping_add(ONE))
}

/// ln x without a branch, for positive normal numbers: x = 2^n m with m from 1/sqrt 2 to sqrt 2, and
/// ln m = 2 artanh(s) with s = (m - 1)/(m + 1), by its Taylor series in s².
#[inline(always)]
pub(crate) fn ln<A: Arithmetic>(x: f64) -> f64 {
    const LN_2_HIGH: f64 = f64::from_bits(0x3fe6_2e42_fee0_0000);
    const LN_2_LOW: f64 = f64::from_bits(0x3dea_39ef_3579_3c76);
    const ROOT_HALF: u64 = std::f64::consts::FRAC_1_SQRT_2.to_bits();
    const MANTISSA: u64 = (1 << 52) - 1;
    // A number that counts its last bits, and the excess of the binary exponent taken from it.
    const COUNTING: u64 = 0x4330_0000_0000_0000; // 2^52
    const EXCESS: f64 = f64::from_bits(COUNTING) + 1024.0;
    // artanh(s)/s - 1 = s²/3 + s⁴/5 + ...; s² is below 0.0295, so the first term left out is
    // below 1e-19.
    const SERIES: [[f64; 4]; 3] = [
        [1.0 / 3.0, 1.0 / 5.0, 1.0 / 7.0, 1.0 / 9.0],
        [1.0 / 11.0, 1.0 / 13.0, 1.0 / 15.0, 1.0 / 17.0],
        [1.0 / 19.0, 1.0 / 21.0, 1.0 / 23.0, 1.0 / 25.0],
    ];
    // Counted from sqrt 1/2, the bits above the mantissa are the exponent n of x = 2^n m.
    let from_root = x.to_bits().wrapping_sub(ROOT_HALF).wrapping_add(1024 << 52);
    let n = f64::from_bits(COUNTING | from_root >> 52) - EXCESS;
    let m = f64::from_bits((from_root & MANTISSA).wrapping_add(ROOT_HALF));
    let s = (m - 1.0) / (m + 1.0);
    let square = s * s;
    let tail = square * polynomial::<A, 3>(square, SERIES);
    A::multiply_add(
        n,
        LN_2_HIGH,
        A::multiply_add(2.0 * s, tail, A::multiply_add(n, LN_2_LOW, 2.0 * s)),
    )
}

/// n! for n from 0; each within a rounding.
const FACTORIALS: [f64; 24] = {
    let mut factorials = [1.0; 24];
    let mut n = 1;
    while n < factorials.len() {
        factorials[n] = factorials[n - 1] * n as f64;
        n += 1;
    }
    factorials
};

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn crosscheck_the_coarse_exponential_against_the_standard_library() {
        const TOLERANCE: f64 = 4e-6;
        for step in 0..100_000 {
            let x = -50.0 + 100.0 * (f64::from(step) / 100_000.0);
            let off = (coarse_exp::<Plain>(x) / x.exp() - 1.0).abs();
            assert!(off <= TOLERANCE, "exp({x}) is {off} off");
        }
        assert_eq!(coarse_exp::<Plain>(0.0), 1.0);
    }

    /// Against the standard library, from the smallest normal numbers up and closely around 1; near
    /// 1 a logarithm is small and so is what is asked of it.
    #[test]
    fn crosscheck_ln_against_the_standard_library() {
        const TOLERANCE: f64 = 4e-16;
        let off = |own: f64, x: f64| ((own - x.ln()) / x.ln().abs().max(1e-300)).abs();
        for step in 1..200_000 {
            let wide = 10f64.powf(600.0 * f64::from(step) / 200_000.0 - 300.0);
            let near = 0.5 + 1.5 * f64::from(step) / 200_000.0;
            for x in [wide, near].into_iter().filter(|x| *x != 1.0) {
                let worst = off(ln::<Plain>(x), x).max(off(ln::<Fused>(x), x));
                assert!(worst <= TOLERANCE, "ln({x}) is {worst} off");
            }
        }
        assert_eq!(ln::<Plain>(1.0), 0.0);
    }

    /// Against the standard library, over every exponent that can come up, in units of the last
    /// place of the result.
    #[test]
    fn crosscheck_exp_against_the_standard_library() {
        const TOLERANCE_ULP: f64 = 1.0;
        let off = |own: f64, x: f64| {
            let standard = x.exp();
            let ulp = standard.next_up() - standard;
            ((own - standard) / ulp).abs()
        };
        for step in 0..400_000 {
            let x = -708.0 + 1417.0 * (f64::from(step) / 400_000.0);
            let worst = off(exp::<Plain>(x), x).max(off(exp::<Fused>(x), x));
            assert!(worst <= TOLERANCE_ULP, "exp({x}) is {worst} units off");
        }
        assert_eq!(exp::<Plain>(0.0), 1.0);
        assert_eq!(exp::<Fused>(0.0), 1.0);
        assert_eq!(exp::<Plain>(-1e6), exp::<Plain>(-708.0));
    }
}
