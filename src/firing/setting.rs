//! What a burner or switch was turned to, in the shop's own words, as far as it can be understood.

/// Which way a burner or switch was turned.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    Up,
    Down,
}

/// `60 %`, `60%`, `full`, `half`, `off` as a share of full, 0 to 1.
pub fn share(text: &str) -> Option<f64> {
    match text.trim().to_lowercase().as_str() {
        "full" => Some(1.0),
        "half" => Some(0.5),
        "off" => Some(0.0),
        other => {
            let percent: f64 = other.strip_suffix('%')?.trim().parse().ok()?;
            (0.0..=100.0).contains(&percent).then_some(percent / 100.0)
        }
    }
}

/// Which way a setting lies from the one before it: as its words say ("up a little"), else by
/// both as shares or levels of full, else by a number with the same words beside it ("3" after
/// "2", "0.2 bar" after "0.1 bar"). `None` when it cannot be told.
pub fn way(before: Option<&str>, to: &str) -> Option<Way> {
    let words = words(to);
    let says = |any: &[&str]| words.iter().any(|word| any.contains(&word.as_str()));
    match (says(&["up", "higher", "more"]), says(&["down", "lower", "less"])) {
        (true, false) => return Some(Way::Up),
        (false, true) => return Some(Way::Down),
        _ => {}
    }
    let (from, to) = match (before.and_then(level), level(to)) {
        (Some(from), Some(to)) => (from, to),
        // Nothing is more than full, or less than off.
        (None, Some(1.0)) => (0.0, 1.0),
        (None, Some(0.0)) => (1.0, 0.0),
        _ => {
            let ((from, unit), (to, same)) = (number(before?)?, number(to)?);
            (unit == same).then_some((from, to))?
        }
    };
    match from.total_cmp(&to) {
        std::cmp::Ordering::Less => Some(Way::Up),
        std::cmp::Ordering::Greater => Some(Way::Down),
        std::cmp::Ordering::Equal => None,
    }
}

fn words(text: &str) -> Vec<String> {
    let apart = |c: char| !c.is_alphanumeric();
    text.split(apart).filter(|word| !word.is_empty()).map(str::to_lowercase).collect()
}

/// A share, also with other words beside it ("half open"), or low, medium and high: fit to be
/// compared, not to be reckoned with.
fn level(text: &str) -> Option<f64> {
    share(text).or_else(|| {
        let level = |word: &String| match word.as_str() {
            "low" => Some(0.3),
            "medium" => Some(0.6),
            "high" => Some(1.0),
            other => share(other),
        };
        words(text).iter().find_map(level)
    })
}

/// The first number of a setting, and the words beside it.
fn number(text: &str) -> Option<(f64, Vec<String>)> {
    let numeric = |c: char| c.is_ascii_digit() || c == '.';
    let from = text.find(|c: char| c.is_ascii_digit())?;
    let to = text[from..].find(|c| !numeric(c)).map_or(text.len(), |end| from + end);
    let value: f64 = text[from..to].trim_end_matches('.').parse().ok()?;
    let mut beside = words(&text[..from]);
    beside.extend(words(&text[to..]));
    Some((value, beside))
}
