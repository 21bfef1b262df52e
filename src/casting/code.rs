//! Codes pencilled on moulds, and which of them may be the same.

/// A code as it may have been meant: neither case nor blanks count, 1, I and 7 are one letter, as 0 and O
/// are; and on a mould of several parts neither a prime nor a doubled code.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Code(String);

impl Code {
    /// Without regard to primes and doubling.
    pub fn whole(text: &str) -> Code {
        let letters = text.chars().filter(|c| !c.is_whitespace()).flat_map(char::to_uppercase);
        Code(letters.map(alike).collect())
    }

    /// As it may stand on a part.
    pub fn of_part(text: &str) -> Code {
        let Code(text) = Code::whole(text);
        let bare = text.trim_end_matches(PRIMES);
        let half = bare.len() / 2;
        let doubled = bare.is_char_boundary(half) && bare[..half] == bare[half..];
        Code(if doubled { &bare[..half] } else { bare }.to_owned())
    }
}

const PRIMES: [char; 8] = ['\'', '"', '\u{2032}', '\u{2033}', '\u{2019}', '\u{b4}', '`', '*'];

fn alike(letter: char) -> char {
    match letter {
        'I' | '7' => '1',
        'O' => '0',
        other => other,
    }
}
