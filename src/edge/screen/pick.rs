//! A list somebody picks from: typed letters filter it, arrows move, Enter takes, Escape leaves.

use super::key::Key;

/// What was typed, and where in what is left of the list somebody is.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Pick {
    pub typed: String,
    pub at: usize,
}

/// What a key did to a list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Picked {
    Moved,
    /// Taken: the place among those that the filter left.
    Taken(usize),
    Left,
    Ignored,
}

impl Pick {
    /// Presses a key while the filter leaves `found` lines.
    pub fn press(&mut self, key: Key, found: usize) -> Picked {
        let last = found.saturating_sub(1);
        let here = self.at.min(last);
        match key {
            Key::Enter if found > 0 => return Picked::Taken(here),
            Key::Escape if self.typed.is_empty() => return Picked::Left,
            Key::Down => self.at = if here == last { 0 } else { here + 1 },
            Key::Up => self.at = if here == 0 { last } else { here - 1 },
            Key::Home => self.at = 0,
            Key::End => self.at = last,
            Key::Escape | Key::Control('u') => self.refilter(String::new()),
            Key::Backspace => {
                let mut typed = self.typed.clone();
                typed.pop();
                self.refilter(typed);
            }
            Key::Char(c) if !c.is_control() => {
                let typed = format!("{}{c}", self.typed);
                self.refilter(typed);
            }
            _ => return Picked::Ignored,
        }
        Picked::Moved
    }

    fn refilter(&mut self, typed: String) {
        self.typed = typed;
        self.at = 0;
    }

    /// The places of the lines that hold every word typed.
    pub fn with_words(&self, lines: impl Iterator<Item = String>) -> Vec<usize> {
        self.in_small_letters(lines.map(|line| line.to_lowercase()))
    }

    /// The same of lines in small letters.
    pub fn in_small_letters(&self, lines: impl Iterator<Item: AsRef<str>>) -> Vec<usize> {
        let typed = self.typed.to_lowercase();
        let holds = |line: &str| typed.split_whitespace().all(|word| line.contains(word));
        let kept = lines.enumerate().filter(|(_, line)| holds(line.as_ref()));
        kept.map(|(place, _)| place).collect()
    }

    /// The places of the lines that hold every word typed, then of those that hold the letters
    /// typed in their order.
    pub fn with_letters(&self, lines: &[String]) -> Vec<usize> {
        let mut found = self.with_words(lines.iter().cloned());
        let near = (0..lines.len()).filter(|place| holds_letters(&lines[*place], &self.typed));
        let near: Vec<usize> = near.filter(|place| !found.contains(place)).collect();
        found.extend(near);
        found
    }
}

fn holds_letters(line: &str, typed: &str) -> bool {
    let line = line.to_lowercase();
    let mut letters = line.chars();
    let typed = typed.to_lowercase();
    typed.chars().filter(|c| !c.is_whitespace()).all(|wanted| letters.any(|c| c == wanted))
}
