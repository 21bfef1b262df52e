//! People who walk to the kiln, look, and write down.

use super::chance::Chance;
use super::faults::Fault;

/// What is said of one cone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Word {
    Standing,
    Leaning,
    Half,
    Down,
}

impl Word {
    const ALL: [Self; 4] = [Self::Standing, Self::Leaning, Self::Half, Self::Down];

    /// Word for a lean as it seems, degrees. Common practice, no source.
    pub(crate) fn of(lean_deg: f64) -> Self {
        match lean_deg {
            lean if lean < 15.0 => Self::Standing,
            lean if lean < 35.0 => Self::Leaning,
            lean if lean < 80.0 => Self::Half,
            _ => Self::Down,
        }
    }

    /// The next word in one direction, or in the other where there is none.
    pub(crate) fn beside(self, further: bool) -> Self {
        let place = self as usize;
        match (further, self) {
            (_, Self::Standing) | (true, Self::Leaning | Self::Half) => Self::ALL[place + 1],
            _ => Self::ALL[place - 1],
        }
    }
}

/// Somebody at the spyhole, with habits and with the faults of the firing.
#[derive(Debug, Clone)]
pub(crate) struct Person {
    chance: Chance,
    /// Error of the eye in a lean, degrees.
    eye_deg: f64,
    faults: Vec<Fault>,
    /// Walks that are 2 to 15 minutes late, as a share of all.
    late_share: f64,
    forgets_guide_share: f64,
    wrong_word_share: f64,
    takes_one_for_the_other: bool,
    looks: usize,
}

impl Person {
    /// Shares are guesses.
    pub(crate) fn new(eye_deg: f64, faults: &[Fault], seed: u64) -> Self {
        let mut chance = Chance::new(seed).branch(70);
        let swapped = faults.contains(&Fault::ConesSwapped);
        Self {
            eye_deg,
            faults: faults.to_vec(),
            late_share: chance.between(0.15, 0.45),
            forgets_guide_share: 0.2,
            wrong_word_share: 0.01,
            takes_one_for_the_other: chance.happens(0.01) || swapped,
            looks: 0,
            chance,
        }
    }

    /// The same person with no error of their own: only the faults of the firing are left.
    pub(crate) fn unerring(faults: &[Fault], seed: u64) -> Self {
        Self::careful(0.0, faults, seed)
    }

    /// Somebody who errs by their eye alone, in degrees, and by the faults of the firing.
    pub(crate) fn careful(eye_deg: f64, faults: &[Fault], seed: u64) -> Self {
        Self {
            late_share: 0.0,
            forgets_guide_share: 0.0,
            wrong_word_share: 0.0,
            takes_one_for_the_other: faults.contains(&Fault::ConesSwapped),
            ..Self::new(eye_deg, faults, seed)
        }
    }

    /// Somebody like those of the trials: over a third of the walks late, every fifth guide not
    /// mentioned, an eye of 6 degrees. What else is wrong is up to the faults of the firing.
    pub(crate) fn as_found(faults: &[Fault], seed: u64) -> Self {
        Self { late_share: 0.35, forgets_guide_share: 0.2, ..Self::careful(6.0, faults, seed) }
    }

    /// Takes no cone for another from now on.
    pub(crate) fn reads_the_numbers(&mut self) {
        self.takes_one_for_the_other = false;
    }

    /// Minutes from a call to standing at the kiln: mostly one or so, at times 2 to 15.
    pub(crate) fn walk_late_min(&mut self) -> f64 {
        let late = if self.chance.happens(self.late_share) {
            self.chance.log_normal(5.0, 0.6).clamp(2.0, 15.0)
        } else {
            self.chance.log_normal(0.7, 0.5).min(2.0)
        };
        let more = self.faults.iter().map(|fault| match fault {
            Fault::WalksLate { min } => *min,
            _ => 0.0,
        });
        late + more.sum::<f64>()
    }

    /// Words for guide, target and guard; none where nothing is said.
    pub(crate) fn look(&mut self, leans_deg: [f64; 3]) -> [Option<Word>; 3] {
        let mut words = leans_deg.map(|lean| {
            let seen = Word::of(lean + self.chance.normal(0.0, self.eye_deg));
            let further = self.chance.happens(0.5);
            let wrong = self.chance.happens(self.wrong_word_share);
            Some(if wrong { seen.beside(further) } else { seen })
        });
        for fault in &self.faults {
            match *fault {
                Fault::WordWrong { nth_look, cone, further } if nth_look == self.looks => {
                    words[cone] = words[cone].map(|word| word.beside(further));
                }
                _ => {}
            }
        }
        if self.takes_one_for_the_other {
            words.swap(0, 1);
        }
        let forgets = self.chance.happens(self.forgets_guide_share);
        if forgets || self.faults.contains(&Fault::GuideForgotten) {
            words[0] = None;
        }
        self.looks += 1;
        words
    }
}

/// Number written down at the kiln, as it stands in the book.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Typed {
    /// When the display was read, hours since the lighting.
    pub(crate) at_h: f64,
    /// The time beside the number, hours since the lighting.
    pub(crate) noted_h: f64,
    pub(crate) c: f64,
}

/// Habits of whoever writes readings down.
#[derive(Debug, Clone)]
pub(crate) struct Writer {
    pub(crate) chance: Chance,
    rounds_to_c: f64,
    /// Error of the times noted, minutes.
    times_min: f64,
    mistypes_share: f64,
}

impl Writer {
    pub(crate) fn draw(mut chance: Chance) -> Self {
        Self {
            rounds_to_c: chance.one_of(&[1.0, 1.0, 2.0, 5.0, 10.0]),
            times_min: chance.between(0.0, 2.5),
            mistypes_share: 0.005,
            chance,
        }
    }

    /// The same writer, who mistypes such a share beside what the faults of a firing ask for.
    pub(crate) fn slipping(self, mistypes_share: f64) -> Self {
        Self { mistypes_share, ..self }
    }

    /// The entry for a reading, `nth` in the book.
    pub(crate) fn write(&mut self, nth: usize, at_h: f64, c: f64, faults: &[Fault]) -> Typed {
        let mut noted_h = at_h + self.chance.normal(0.0, self.times_min) / 60.0;
        let mut written_c = (c / self.rounds_to_c).round() * self.rounds_to_c;
        let place = self.chance.one_of(&[0, 1]);
        let by = self.chance.one_of(&[-2, -1, 1, 2]);
        if self.chance.happens(self.mistypes_share) {
            written_c = digit_wrong(written_c, place, by);
        }
        for fault in faults {
            match *fault {
                Fault::NumberMistyped { nth: wrong } if wrong == nth => {
                    written_c = digit_wrong(written_c, place, by);
                }
                Fault::DigitsSwapped { nth: wrong } if wrong == nth => {
                    written_c = digits_swapped(written_c);
                }
                Fault::OtherScale { from_nth } if nth >= from_nth => {
                    written_c = (written_c * 1.8 + 32.0).round();
                }
                Fault::TimesOff { late_min } => noted_h += late_min / 60.0,
                _ => {}
            }
        }
        Typed { at_h, noted_h, c: written_c }
    }
}

/// Digits of a whole number of degrees.
fn digits(c: f64) -> Vec<char> {
    format!("{:.0}", c.max(0.0)).chars().collect()
}

fn number(digits: &[char]) -> f64 {
    digits.iter().collect::<String>().parse().unwrap()
}

/// The number with one digit replaced by a neighbour on the keys, never the same digit.
pub(crate) fn digit_wrong(c: f64, place: usize, by: i32) -> f64 {
    let mut digits = digits(c);
    let place = place.min(digits.len() - 1);
    let digit = digits[place].to_digit(10).unwrap().cast_signed();
    let lowest = i32::from(place == 0 && digits.len() > 1);
    let wrong = if (lowest..=9).contains(&(digit + by)) { digit + by } else { digit - by };
    digits[place] = char::from_digit(wrong.cast_unsigned(), 10).unwrap();
    number(&digits)
}

/// The number with the first two unlike neighbouring digits swapped that leave it as long.
pub(crate) fn digits_swapped(c: f64) -> f64 {
    let mut digits = digits(c);
    let unlike = |place: &usize| {
        digits[*place] != digits[place + 1] && (*place > 0 || digits[place + 1] != '0')
    };
    if let Some(place) = (0..digits.len() - 1).find(unlike) {
        digits.swap(place, place + 1);
    }
    number(&digits)
}
