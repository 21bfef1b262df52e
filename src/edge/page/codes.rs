//! The codes that pair a device, and what a paired one shows from then on.

use std::fs::File;
use std::io::{self, Read};

use sha2::{Digest as _, Sha256};

use crate::edge::journal::devices::{Code, Digest};

/// The letters of a code that is typed: no vowels, so that no words come out (RFC 8628, 6.1).
const TYPED: &[u8] = b"BCDFGHJKLMNPQRSTVWXZ";
const TYPED_LETTERS: usize = 8;
/// Those of one that is scanned: capitals and digits make the smaller picture.
const SCANNED: &[u8] = b"ABCDEFGHJKLMNPQRSTUVWXYZ23456789";
/// 80 bits.
const SCANNED_LETTERS: usize = 16;

/// One code in its two forms.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pair {
    pub scanned: String,
    pub typed: String,
}

impl Pair {
    /// Made by chance.
    ///
    /// # Errors
    /// When the system gives no random bytes.
    pub fn fresh() -> io::Result<Pair> {
        let scanned = letters(SCANNED, SCANNED_LETTERS)?;
        Ok(Pair { scanned, typed: letters(TYPED, TYPED_LETTERS)? })
    }

    /// The typed form as it is read out, in two halves.
    pub fn said(&self) -> String {
        let (first, second) = self.typed.split_at(TYPED_LETTERS / 2);
        format!("{first}-{second}")
    }
}

pub fn random<const N: usize>() -> io::Result<[u8; N]> {
    let mut bytes = [0; N];
    File::open("/dev/urandom")?.read_exact(&mut bytes)?;
    Ok(bytes)
}

fn letters(of: &[u8], count: usize) -> io::Result<String> {
    let mut text = String::new();
    // Bytes from here on would favour the first letters.
    let fair = 256 / of.len() * of.len();
    while text.len() < count {
        let bytes = random::<32>()?.into_iter().map(usize::from).filter(|byte| *byte < fair);
        text.extend(bytes.map(|byte| char::from(of[byte % of.len()])).take(count - text.len()));
    }
    Ok(text)
}

/// What a device that is paired shows with each request: 128 bits.
///
/// # Errors
/// When the system gives no random bytes.
pub fn token() -> io::Result<String> {
    Ok(random::<16>()?.iter().map(|byte| format!("{byte:02x}")).collect())
}

pub fn digest(text: &str) -> Digest {
    Sha256::digest(text.as_bytes()).into()
}

/// A code as somebody typed it or a picture held it; `None` of what cannot be one.
pub fn read(text: &str) -> Option<Code> {
    let letters = text.chars().filter(|c| !c.is_whitespace() && *c != '-');
    let code: String = letters.map(|c| c.to_ascii_uppercase()).take(2 * SCANNED_LETTERS).collect();
    let is_of = |known: &[u8]| code.bytes().all(|letter| known.contains(&letter));
    match code.len() {
        TYPED_LETTERS if is_of(TYPED) => Some(Code::Typed(digest(&code))),
        SCANNED_LETTERS if is_of(SCANNED) => Some(Code::Scanned(digest(&code))),
        _ => None,
    }
}
