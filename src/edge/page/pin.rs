//! The shop's PIN: what may be one, and how it is kept.
//!
//! Whoever can read the shop's file can write into it and needs no PIN; it is hashed for those who use the
//! same one elsewhere. The hash is PBKDF2 over the SHA-256 that pairing uses, since no hash keeps ten thousand
//! PINs apart for long: a larger library would guard nothing more. A PIN that is typed is guarded by how few
//! may be tried.

use std::io;

use pbkdf2::pbkdf2_hmac;
use sha2::Sha256;
use subtle::ConstantTimeEq;

use super::codes::random;
use crate::edge::journal::rights::KeptPin;

/// How many digits a PIN has.
const DIGITS: std::ops::RangeInclusive<usize> = 4..=8;
/// Rounds of the hash, which take a few milliseconds (a guess).
const ROUNDS: u32 = 20_000;

/// A PIN as somebody typed it; `None` of what cannot be one.
pub fn read(text: &str) -> Option<String> {
    let digits: String = text.chars().filter(|c| !c.is_whitespace()).collect();
    let is_pin = DIGITS.contains(&digits.len()) && digits.bytes().all(|it| it.is_ascii_digit());
    is_pin.then_some(digits)
}

fn proof(pin: &str, salt: &[u8; 16]) -> [u8; 32] {
    let mut proof = [0; 32];
    pbkdf2_hmac::<Sha256>(pin.as_bytes(), salt, ROUNDS, &mut proof);
    proof
}

/// What is kept of a PIN.
///
/// # Errors
/// When the system gives no random bytes.
pub fn kept(pin: &str) -> io::Result<KeptPin> {
    let salt = random()?;
    Ok(KeptPin { salt, proof: proof(pin, &salt) })
}

/// Whether this is the PIN that is kept, in the same time whether it is or not.
pub fn is(kept: &KeptPin, pin: &str) -> bool {
    proof(pin, &kept.salt).ct_eq(&kept.proof).into()
}
