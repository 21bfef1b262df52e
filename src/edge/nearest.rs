//! Which known word somebody may have meant.

/// The known word nearest to `seen`, if one is near enough to be worth naming: at most one slip
/// for every three letters, and always one.
pub fn nearest<'a>(seen: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let seen = seen.trim().to_lowercase().replace(['-', ' '], "_");
    known
        .into_iter()
        .map(|word| (slips(&seen, &word.to_lowercase().replace(['-', ' '], "_")), word))
        .filter(|(slips, word)| *slips <= 1.max(word.chars().count() / 3))
        .min_by_key(|(slips, _)| *slips)
        .map(|(_, word)| word)
}

/// `; did you mean "down"?`, or nothing when no known word is near.
pub fn did_you_mean<'a>(seen: &str, known: impl IntoIterator<Item = &'a str>) -> String {
    nearest(seen, known).map_or_else(String::new, |word| format!("; did you mean \"{word}\"?"))
}

/// Letters to insert, drop, replace or swap with their neighbour (Damerau 1964, restricted form).
fn slips(a: &str, b: &str) -> usize {
    let (a, b): (Vec<char>, Vec<char>) = (a.chars().collect(), b.chars().collect());
    let mut rows: Vec<Vec<usize>> = vec![(0..=b.len()).collect(); a.len() + 1];
    for (i, row) in rows.iter_mut().enumerate() {
        row[0] = i;
    }
    for i in 1..=a.len() {
        for j in 1..=b.len() {
            let replaced = rows[i - 1][j - 1] + usize::from(a[i - 1] != b[j - 1]);
            let mut best = replaced.min(rows[i - 1][j] + 1).min(rows[i][j - 1] + 1);
            if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                best = best.min(rows[i - 2][j - 2] + 1);
            }
            rows[i][j] = best;
        }
    }
    rows[a.len()][b.len()]
}
