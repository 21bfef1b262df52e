//! The three sounds, made from their figures.
//!
//! The shape (how many pulses, how long, how spaced, how they rise, which partial tones) follows
//! the figures of IEC 60601-1-8 for high, medium and low priority, as evidence of what people tell
//! apart and wake up to. Spyhole is no medical device and claims no compliance.
//!
//! ```text
//! high    ### ### ###      ### ###          ### ### ###      ### ###     3 + 2, then again
//! medium  #### ....#### ....####                                         3
//! low     #### ....####                                                  2
//! ```

use crate::alarm::Priority;

/// Samples a second.
pub const SAMPLE_RATE: u32 = 44_100;

/// One pulse: when it starts, how long it lasts, and its lowest tone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pulse {
    pub start_ms: u32,
    pub length_ms: u32,
    pub hertz: f64,
}

/// Equal temperament from A4 = 440 Hz.
const C4: f64 = 261.626;
const D4: f64 = 293.665;
const E4: f64 = 329.628;
const F4: f64 = 349.228;
const G4: f64 = 391.995;

/// A short pulse of high priority, and the gap after it; the 3rd is followed by a longer one.
const HIGH_PULSE_MS: u32 = 150;
const HIGH_GAP_MS: u32 = 100;
/// Between the two halves of a high burst.
const HIGH_PAUSE_MS: u32 = 500;
/// Pulse and gap of medium and low priority.
const SLOW_PULSE_MS: u32 = 200;
const SLOW_GAP_MS: u32 = 200;
/// The part of a pulse over which it rises, and falls.
const RISE: f64 = 0.2;
/// How strong the first five partial tones are; the weakest is 8 dB below the strongest.
const PARTIALS: [f64; 5] = [1.0, 0.8, 0.63, 0.5, 0.4];
/// How far the loudest sample may go.
const FULL: f64 = 0.9 * 32_767.0;

/// The pulses of a priority's burst, in the order of time.
pub fn pulses(priority: Priority) -> Vec<Pulse> {
    match priority {
        Priority::Highest | Priority::High => {
            let mut pulses = Vec::new();
            let mut start_ms = 0;
            for _ in 0..2 {
                for (index, hertz) in [C4, D4, E4, F4, G4].into_iter().enumerate() {
                    pulses.push(Pulse { start_ms, length_ms: HIGH_PULSE_MS, hertz });
                    let gap = match index {
                        2 => 2 * HIGH_GAP_MS + HIGH_PULSE_MS,
                        4 => HIGH_PAUSE_MS,
                        _ => HIGH_GAP_MS,
                    };
                    start_ms += HIGH_PULSE_MS + gap;
                }
            }
            pulses
        }
        Priority::Medium => slow(&[C4, D4, E4]),
        Priority::Low => slow(&[E4, C4]),
    }
}

fn slow(tones: &[f64]) -> Vec<Pulse> {
    (0..)
        .zip(tones)
        .map(|(index, &hertz)| Pulse {
            start_ms: index * (SLOW_PULSE_MS + SLOW_GAP_MS),
            length_ms: SLOW_PULSE_MS,
            hertz,
        })
        .collect()
}

/// One burst at a volume of 0 to 1, as 16-bit samples.
pub fn samples(priority: Priority, volume: f64) -> Vec<i16> {
    let pulses = pulses(priority);
    let at = |ms: u32| (u64::from(ms) * u64::from(SAMPLE_RATE) / 1000) as usize;
    let ends = pulses.last().map_or(0, |pulse| at(pulse.start_ms + pulse.length_ms));
    let mut samples = vec![0; ends];
    let scale = volume.clamp(0.0, 1.0) * FULL / PARTIALS.iter().sum::<f64>();
    for pulse in pulses {
        let length = at(pulse.length_ms);
        for (index, sample) in samples[at(pulse.start_ms)..][..length].iter_mut().enumerate() {
            let seconds = index as f64 / f64::from(SAMPLE_RATE);
            let part = index as f64 / length as f64;
            let envelope = (part / RISE).min((1.0 - part) / RISE).min(1.0);
            let tone: f64 = (1..)
                .zip(PARTIALS)
                .map(|(partial, strength)| {
                    let turns = f64::from(partial) * pulse.hertz * seconds;
                    strength * (std::f64::consts::TAU * turns).sin()
                })
                .sum();
            *sample = (scale * envelope * tone).round() as i16;
        }
    }
    samples
}

/// A RIFF WAVE file of one burst: one channel, 16 bits.
pub fn wav(priority: Priority, volume: f64) -> Vec<u8> {
    let samples = samples(priority, volume);
    let data_length = (samples.len() * 2) as u32;
    let mut file = Vec::with_capacity(44 + samples.len() * 2);
    file.extend_from_slice(b"RIFF");
    file.extend_from_slice(&(36 + data_length).to_le_bytes());
    file.extend_from_slice(b"WAVEfmt ");
    for (value, bytes) in
        [(16, 4), (1, 2), (1, 2), (SAMPLE_RATE, 4), (2 * SAMPLE_RATE, 4), (2, 2), (16, 2)]
    {
        file.extend_from_slice(&value.to_le_bytes()[..bytes]);
    }
    file.extend_from_slice(b"data");
    file.extend_from_slice(&data_length.to_le_bytes());
    for sample in samples {
        file.extend_from_slice(&sample.to_le_bytes());
    }
    file
}
