//! The fuzz targets on the present compiler: their corpus, and ten thousand inputs made from it.

#[path = "../../fuzz/targets.rs"]
mod targets;

use std::panic;

use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;

use crate::prelude::*;

const INPUTS: u64 = 10_000;

/// What often matters: signs, borders of numbers, and what steers a terminal.
const PIECES: [&str; 24] = [
    "\"",
    "\\",
    "{",
    "}",
    "[",
    "]",
    ":",
    ",",
    "-",
    "0",
    "1e999",
    "-9223372036854775808",
    "null",
    "true",
    "\\u001b",
    "\\n",
    "\u{202e}",
    "é",
    "窯",
    " ",
    "24:00",
    "29 feb",
    "0180",
    "\n",
];

fn corpus(target: &str) -> Vec<Vec<u8>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fuzz/corpus").join(target);
    let mut files: Vec<PathBuf> =
        fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    assert!(!files.is_empty(), "{target} has a corpus");
    files.into_iter().map(|file| fs::read(file).unwrap()).collect()
}

/// One of the corpus with a few things done to it.
fn made(corpus: &[Vec<u8>], seed: u64) -> Vec<u8> {
    let mut random = Pcg64Mcg::seed_from_u64(seed);
    let mut bytes = corpus[random.random_range(0..corpus.len())].clone();
    for _ in 0..random.random_range(1..=6) {
        let at = random.random_range(0..=bytes.len());
        let length = random.random_range(0..=16).min(bytes.len() - at);
        match random.random_range(0..6) {
            0 if at < bytes.len() => bytes[at] ^= 1 << random.random_range(0..8),
            1 => drop(bytes.drain(at..at + length)),
            2 => {
                let piece = PIECES[random.random_range(0..PIECES.len())];
                bytes.splice(at..at, piece.bytes());
            }
            3 => {
                let again = bytes[at..at + length].to_vec();
                bytes.splice(at..at, again);
            }
            4 => {
                let other = &corpus[random.random_range(0..corpus.len())];
                let from = random.random_range(0..=other.len());
                let to = (from + random.random_range(0..=64)).min(other.len());
                bytes.splice(at..at + length, other[from..to].iter().copied());
            }
            _ if at < bytes.len() => bytes[at] = random.random(),
            _ => bytes.truncate(at),
        }
    }
    bytes
}

fn hold(name: &str, target: fn(&[u8])) {
    let corpus = corpus(name);
    let holds = |bytes: &[u8]| panic::catch_unwind(|| target(bytes)).is_ok();
    for bytes in &corpus {
        assert!(holds(bytes), "{name}: {:?} of the corpus", String::from_utf8_lossy(bytes));
    }
    for seed in 0..INPUTS {
        let bytes = made(&corpus, seed);
        assert!(holds(&bytes), "{name}, seed {seed}: {:?}", String::from_utf8_lossy(&bytes));
    }
}

#[test]
fn law_any_record_line_is_read_or_refused() {
    hold("record_line", targets::record_line);
}

#[test]
fn law_any_schedule_is_read_or_refused() {
    hold("schedule", targets::schedule);
}

#[test]
fn law_any_settings_are_read_or_refused() {
    hold("settings", targets::settings);
}

#[test]
fn law_any_time_is_read_or_refused() {
    hold("time_entry", targets::time_entry);
}

#[test]
fn law_any_cone_is_read_or_refused() {
    hold("cone_name", targets::cone_name);
}

#[test]
fn law_any_journal_is_read_or_refused() {
    hold("journal", targets::journal);
}
