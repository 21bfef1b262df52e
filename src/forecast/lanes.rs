//! Many possible firings side by side.
//!
//! Sums over a sample are written as plain loops over [`Lanes`], one entry a firing, without
//! branches, so that the compiler turns them into vector code. [`at_best`] runs them compiled for
//! the best instructions the processor has. Multiplications and additions are never fused: every
//! processor gives the same bits, and the same record the same answer everywhere.

use super::sampler::MOST_UNKNOWNS;
use crate::cone::bulk::arithmetic::{self, Arithmetic as _, Plain};
use crate::cone::bulk::{Bulk, VectorLevel};

/// How many firings go side by side.
pub const LANES: usize = 64;

/// One number for each of them.
pub type Lanes = [f64; LANES];

/// Points of the space of unknowns side by side: for each unknown the numbers of all lanes.
pub type Block = [Lanes; MOST_UNKNOWNS];

/// Loops over lanes that are worth vector instructions.
pub(super) trait Task {
    type Output;
    /// Has to be `#[inline(always)]`, and so has everything it calls in its loops.
    fn run(self) -> Self::Output;
}

/// Runs a task with the best instructions this processor has.
pub(super) fn at_best<T: Task>(task: T) -> T::Output {
    match Bulk::default().level() {
        #[cfg(target_arch = "x86_64")]
        #[expect(unsafe_code, reason = "vector instructions chosen at run time")]
        // SAFETY: this level is only chosen after AVX2 was found.
        VectorLevel::Avx2 => unsafe { run_avx2(task) },
        #[cfg(target_arch = "x86_64")]
        #[expect(unsafe_code, reason = "vector instructions chosen at run time")]
        // SAFETY: this level is only chosen after AVX-512 F, DQ and VL were found.
        VectorLevel::Avx512 => unsafe { run_avx512(task) },
        _ => task.run(),
    }
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2")]
fn run_avx2<T: Task>(task: T) -> T::Output {
    task.run()
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx512f,avx512dq,avx512vl")]
fn run_avx512<T: Task>(task: T) -> T::Output {
    task.run()
}

/// e^x, for x up to 709.
#[inline(always)]
pub(super) fn exp(x: f64) -> f64 {
    Plain::exp(x)
}

/// e^x to 4 parts in 10^6, for x from -708 to 709.
#[inline(always)]
pub(super) fn coarse_exp(x: f64) -> f64 {
    arithmetic::coarse_exp::<Plain>(x)
}

/// ln x, for positive normal numbers.
#[inline(always)]
pub(super) fn ln(x: f64) -> f64 {
    arithmetic::ln::<Plain>(x)
}

/// The larger of two numbers, as one instruction.
#[inline(always)]
pub(super) fn larger(a: f64, b: f64) -> f64 {
    if a > b { a } else { b }
}

/// The smaller of two numbers, as one instruction.
#[inline(always)]
pub(super) fn smaller(a: f64, b: f64) -> f64 {
    if a < b { a } else { b }
}

/// Whether anything holds of any lane; counting has no early way out and so is vector code.
#[inline(always)]
pub(super) fn any(holds: impl Fn(usize) -> bool) -> bool {
    (0..LANES).filter(|lane| holds(*lane)).count() > 0
}
