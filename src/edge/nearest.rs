//! Which known word somebody may have meant.

/// So many words that may be meant are named.
const MOST_MEANT: usize = 3;

/// The known word nearest to `seen`, if one is near enough to be worth naming: one that is a slip
/// away, else one that holds what was written, the shortest of them.
pub fn nearest<'a>(seen: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let known: Vec<&str> = known.into_iter().collect();
    let part = plain(seen);
    // Two letters are part of too many words.
    let holds = |word: &&&str| part.chars().count() > 2 && plain(word).contains(&part);
    slip_of(seen, known.iter().copied())
        .or_else(|| known.iter().filter(holds).min_by_key(|word| word.len()).copied())
}

/// The known word that `seen` is a slip for: at most one letter inserted, dropped, replaced or
/// swapped with its neighbour for every three letters, and always one.
pub fn slip_of<'a>(seen: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let seen = plain(seen);
    known
        .into_iter()
        .map(|word| (strsim::osa_distance(&seen, &plain(word)), word))
        .filter(|(slips, word)| *slips <= 1.max(word.chars().count() / 3))
        .min_by_key(|(slips, _)| *slips)
        .map(|(_, word)| word)
}

/// `; did you mean "down"?`, or nothing when no known word is near.
pub fn did_you_mean<'a>(seen: &str, known: impl IntoIterator<Item = &'a str>) -> String {
    let known: Vec<&str> = known.into_iter().collect();
    let part = plain(seen);
    // Several that hold what was written are as near as one another.
    let held = known.iter().copied().filter(|word| part.len() > 2 && plain(word).contains(&part));
    let meant: Vec<String> = match slip_of(seen, known.iter().copied()) {
        Some(slip) => vec![slip],
        None => held.take(MOST_MEANT).collect(),
    }
    .into_iter()
    .map(|word| format!("\"{word}\""))
    .collect();
    if meant.is_empty() { String::new() } else { format!("; did you mean {}?", meant.join(" or ")) }
}

/// Neither case nor the way words are joined counts.
fn plain(word: &str) -> String {
    word.trim().to_lowercase().replace(['-', ' '], "_")
}
