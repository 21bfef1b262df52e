//! Which moulds a text names, one or several, and what may be noted of them.

use super::casts::{Casting, NoMould};
use super::event::What;

/// Why something cannot be noted of a mould.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotNow {
    #[error("mould {0} is empty: first note that it was poured (with --at TIME, if it was before)")]
    Empty(String),
    #[error("mould {code} is retired ({why}): if it is poured again, take that back first")]
    Retired { code: String, why: String },
    #[error("there is a mould {0} already: write another code")]
    Taken(String),
}

impl Casting {
    /// The moulds meant by `A3`, `A1-A4, B7`, `all` or `all but B7`, each once, where they are poured or
    /// something of their casts is noted.
    ///
    /// # Errors
    /// [`NoMould`] for the first code that no mould answers to, or more than one.
    pub fn several(&self, text: &str, pours: bool) -> Result<Vec<usize>, NoMould> {
        let text = text.trim();
        let words = text.to_lowercase();
        if words == "all" {
            return Ok((0..self.moulds.len())
                .filter(|mould| self.is_meant(*mould, pours))
                .collect());
        }
        if let Some(rest) = words.strip_prefix("all but ") {
            let but = self.several(&text[text.len() - rest.len()..], pours)?;
            let rest = (0..self.moulds.len())
                .filter(|mould| self.is_meant(*mould, pours) && !but.contains(mould));
            return Ok(rest.collect());
        }
        let mut moulds = Vec::new();
        for code in text.split(',').flat_map(|part| self.codes(part)) {
            let here = match (self.mould(code), self.range(code)) {
                (Ok(mould), _) => vec![mould],
                (Err(_), Some(range)) => range?,
                (Err(none), None) => return Err(none),
            };
            moulds.extend(
                here.into_iter().filter(|mould| !moulds.contains(mould)).collect::<Vec<_>>(),
            );
        }
        Ok(moulds)
    }

    /// One code, with its blanks where a mould is called so, else each word.
    fn codes<'t>(&self, part: &'t str) -> Vec<&'t str> {
        match self.mould(part.trim()) {
            Ok(_) => vec![part.trim()],
            Err(_) => part.split_whitespace().collect(),
        }
    }

    /// Every mould in use from one code to another of the same letters; `None` for no such pair.
    fn range(&self, text: &str) -> Option<Result<Vec<usize>, NoMould>> {
        let (from, to) = text.split_once('-')?;
        let (letters, from) = numbered(from)?;
        let (same, to) = numbered(to)?;
        if letters != same || from > to {
            return None;
        }
        let inside = |code: &str| {
            numbered(code).is_some_and(|(its, nth)| its == letters && (from..=to).contains(&nth))
        };
        let moulds = self.moulds.iter().enumerate().filter(|(_, mould)| mould.retired.is_empty());
        let found = moulds.filter(|(_, mould)| inside(&mould.code)).map(|(at, _)| at);
        let found: Vec<usize> = found.collect();
        Some(if found.is_empty() { self.mould(text).map(|mould| vec![mould]) } else { Ok(found) })
    }

    /// Whether this can be noted of a mould now.
    ///
    /// # Errors
    /// [`NotNow`].
    pub fn permit(&self, mould: usize, what: &What) -> Result<(), NotNow> {
        let code = self.moulds[mould].code.clone();
        let why = self.moulds[mould].retired.clone();
        match what {
            What::Poured { .. } if !why.is_empty() => Err(NotNow::Retired { code, why }),
            What::Renamed { name, .. } => match self.mould(name) {
                Ok(other) if other != mould => Err(NotNow::Taken(self.moulds[other].code.clone())),
                _ => Ok(()),
            },
            What::Drained { .. } | What::Check { .. } if self.full[mould].is_none() => {
                Err(NotNow::Empty(code))
            }
            _ => Ok(()),
        }
    }

    /// Whether it is meant by "all" where this is noted: what is empty is poured, what is full is
    /// drained or checked.
    fn is_meant(&self, mould: usize, is_pouring: bool) -> bool {
        let full = self.full[mould];
        match is_pouring {
            true => full.is_none() && self.moulds[mould].retired.is_empty(),
            false => full.is_some(),
        }
    }
}

/// `A12` as its letters and its number.
fn numbered(code: &str) -> Option<(String, u32)> {
    let code = code.trim();
    let letters = code.trim_end_matches(|c: char| c.is_ascii_digit());
    Some((letters.to_uppercase(), code[letters.len()..].parse().ok()?))
}
