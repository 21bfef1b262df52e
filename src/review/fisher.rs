//! Whether two shares differ, for counts as small as a pottery has them: Fisher's exact test
//! (R. A. Fisher, The Design of Experiments, 1935, chapter II), and the allowance for having asked
//! several questions at once (S. Holm, Scandinavian Journal of Statistics 6:65, 1979).

use statrs::function::factorial::ln_binomial;

use super::wilson::Share;

/// Tables whose chances differ by less than this part are equally probable: on paper they often are
/// exactly, and the sums of logarithms are not.
const SAME: f64 = 1e-7;

/// How probable it is by chance alone that two groups come apart as far as these or further, either
/// way, when hits have nothing to do with the group; 1 when a group is empty.
pub fn by_chance(a: Share, b: Share) -> f64 {
    let (hits, of) = (a.hits + b.hits, a.of + b.of);
    let ln = |n: usize, k: usize| ln_binomial(n as u64, k as u64);
    // So many of all the hits are in the first group, all margins being as they are.
    let chance = |in_a: usize| (ln(hits, in_a) + ln(of - hits, a.of - in_a) - ln(of, a.of)).exp();
    let here = chance(a.hits) * (1.0 + SAME);
    let possible = (a.of + hits).saturating_sub(of)..=a.of.min(hits);
    possible.map(chance).filter(|chance| *chance <= here).sum::<f64>().min(1.0)
}

/// The same chances when the least of several is looked for: Holm's step-down.
pub fn adjusted(chances: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..chances.len()).collect();
    order.sort_by(|a, b| chances[*a].total_cmp(&chances[*b]));
    let mut adjusted = vec![1.0; chances.len()];
    let mut least: f64 = 0.0;
    for (rank, index) in order.into_iter().enumerate() {
        least = least.max(chances[index] * (chances.len() - rank) as f64).min(1.0);
        adjusted[index] = least;
    }
    adjusted
}
