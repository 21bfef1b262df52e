//! The three sounds as files, measured: pulses, spacing, rise and partial tones, against the
//! figures of IEC 60601-1-8 (as a design pattern; no compliance is claimed).

use spyhole::testing::edge::bell::tone::{SAMPLE_RATE, wav};

use crate::prelude::*;

/// The samples of a WAVE file, read by its own header.
fn read(file: &[u8]) -> Vec<f64> {
    let number = |at: usize, bytes: usize| {
        file[at..at + bytes].iter().rev().fold(0u64, |sum, byte| sum * 256 + u64::from(*byte))
    };
    assert_eq!(
        (&file[..4], &file[8..16], &file[36..40]),
        (&b"RIFF"[..], &b"WAVEfmt "[..], &b"data"[..])
    );
    assert_eq!(number(4, 4), file.len() as u64 - 8);
    assert_eq!(
        (number(16, 4), number(20, 2), number(22, 2)),
        (16, 1, 1),
        "plain samples, one channel"
    );
    assert_eq!(
        (number(24, 4), number(28, 4)),
        (u64::from(SAMPLE_RATE), 2 * u64::from(SAMPLE_RATE))
    );
    assert_eq!((number(32, 2), number(34, 2)), (2, 16));
    assert_eq!(number(40, 4), file.len() as u64 - 44);
    file[44..]
        .chunks_exact(2)
        .map(|pair| f64::from(i16::from_le_bytes([pair[0], pair[1]])))
        .collect()
}

/// Loudness over time: the root mean square of every five milliseconds.
fn envelope(samples: &[f64]) -> Vec<f64> {
    let window = SAMPLE_RATE as usize / 200;
    let rms = |part: &[f64]| (part.iter().map(|s| s * s).sum::<f64>() / part.len() as f64).sqrt();
    samples.chunks(window).map(rms).collect()
}

/// Start and length of each pulse in milliseconds, where the loudness is above a twentieth.
fn pulses(samples: &[f64]) -> Vec<(f64, f64)> {
    let envelope = envelope(samples);
    let loudest = envelope.iter().copied().fold(0.0, f64::max);
    let mut pulses: Vec<(f64, f64)> = Vec::new();
    let mut began = None;
    for (index, loud) in envelope.iter().chain([&0.0]).enumerate() {
        let at = 5.0 * index as f64;
        match (began, *loud > loudest / 20.0) {
            (None, true) => began = Some(at),
            (Some(start), false) => {
                pulses.push((start, at - start));
                began = None;
            }
            _ => {}
        }
    }
    pulses
}

/// How strong one tone is in these samples (Goertzel).
fn strength(samples: &[f64], hertz: f64) -> f64 {
    let turn = std::f64::consts::TAU * hertz / f64::from(SAMPLE_RATE);
    let (mut last, mut before) = (0.0, 0.0);
    for sample in samples {
        let now = sample + 2.0 * turn.cos() * last - before;
        (before, last) = (last, now);
    }
    (last * last + before * before - 2.0 * turn.cos() * last * before).max(0.0).sqrt()
}

fn burst(priority: Priority) -> (Vec<f64>, Vec<(f64, f64)>) {
    let samples = read(&wav(priority, 1.0));
    let pulses = pulses(&samples);
    (samples, pulses)
}

/// Gaps between the end of one pulse and the start of the next, milliseconds.
fn gaps(pulses: &[(f64, f64)]) -> Vec<f64> {
    pulses.windows(2).map(|pair| pair[1].0 - pair[0].0 - pair[0].1).collect()
}

/// The measure of a pulse's edges is five milliseconds coarse at either end, and the slow edges
/// themselves are below the threshold for some milliseconds.
const EDGE_MS: f64 = 15.0;

#[test]
fn published_high_priority_is_three_and_two_twice() {
    for priority in [Priority::Highest, Priority::High] {
        let (_, pulses) = burst(priority);
        assert_eq!(pulses.len(), 10);
        for (_, length) in &pulses {
            assert!((75.0..=200.0).contains(length), "{length}");
            assert_abs_diff_eq!(*length, 150.0, epsilon = EDGE_MS);
        }
        let gaps = gaps(&pulses);
        for index in [0, 1, 3, 5, 6, 8] {
            assert!((50.0..=125.0).contains(&gaps[index]), "gap {index}: {}", gaps[index]);
        }
        // After the 3rd and the 8th pulse: twice the gap and a pulse.
        for index in [2, 7] {
            assert!(abs_diff_eq!(gaps[index], 350.0, epsilon = EDGE_MS), "{}", gaps[index]);
        }
        assert!((350.0..=1300.0).contains(&gaps[4]), "{}", gaps[4]);
        // The worked time line: 1.40 s for five pulses, 3.30 s in all.
        let end = |index: usize| pulses[index].0 + pulses[index].1;
        assert_abs_diff_eq!(end(4), 1400.0, epsilon = EDGE_MS);
        assert_abs_diff_eq!(end(9), 3300.0, epsilon = EDGE_MS);
    }
}

#[test]
fn published_medium_is_three_pulses_and_low_is_two() {
    for (priority, count) in [(Priority::Medium, 3), (Priority::Low, 2)] {
        let (_, pulses) = burst(priority);
        assert_eq!(pulses.len(), count);
        for (_, length) in &pulses {
            assert!((125.0..=250.0).contains(length), "{length}");
        }
        for gap in gaps(&pulses) {
            assert!((125.0..=250.0).contains(&gap), "{gap}");
        }
    }
    // Medium must not be faster than high.
    let pace = |priority| {
        let (_, pulses) = burst(priority);
        pulses[1].0 - pulses[0].0
    };
    assert!(pace(Priority::Medium) >= pace(Priority::High));
}

#[test]
fn published_four_partial_tones_within_fifteen_decibels() {
    for priority in Priority::ALL {
        let (samples, pulses) = burst(priority);
        for (start, length) in pulses {
            let at = |ms: f64| (ms * f64::from(SAMPLE_RATE) / 1000.0) as usize;
            let pulse = &samples[at(start)..at(start + length).min(samples.len())];
            // The lowest strong tone is the pulse's own.
            let own = (200..=450).max_by(|a, b| {
                strength(pulse, f64::from(*a)).total_cmp(&strength(pulse, f64::from(*b)))
            });
            let own = f64::from(own.unwrap());
            assert!((150.0..=1000.0).contains(&own), "{priority}: {own} Hz");
            let mut strengths: Vec<f64> = (1..=8)
                .map(|n| f64::from(n) * own)
                .filter(|hertz| *hertz <= 4000.0)
                .map(|hertz| strength(pulse, hertz))
                .collect();
            strengths.sort_by(|a, b| b.total_cmp(a));
            let spread_db = 20.0 * (strengths[0] / strengths[3]).log10();
            assert!((0.0..=15.0).contains(&spread_db), "{priority}: {spread_db} dB");
        }
    }
}

#[test]
fn published_each_pulse_rises_over_a_tenth_to_four_tenths_of_its_length() {
    for priority in Priority::ALL {
        let (samples, pulses) = burst(priority);
        let envelope = envelope(&samples);
        let mut loudness = Vec::new();
        for (start, length) in pulses {
            let windows = &envelope[(start / 5.0) as usize..((start + length) / 5.0) as usize];
            let top = windows.iter().copied().fold(0.0, f64::max);
            loudness.push(top);
            let to =
                |part: f64| windows.iter().position(|loud| *loud >= part * top).unwrap() as f64;
            // From a tenth to nine tenths of the height is eight tenths of the rise.
            let rise = (to(0.9) - to(0.1)) * 5.0 / 0.8;
            let share = rise / length;
            assert!((0.10..=0.40).contains(&share), "{priority}: {share}");
        }
        let loudest = loudness.iter().copied().fold(0.0, f64::max);
        let quietest = loudness.iter().copied().fold(f64::INFINITY, f64::min);
        assert!(20.0 * (loudest / quietest).log10() <= 10.0, "pulses of one burst within 10 dB");
    }
}

#[test]
fn law_the_volume_rises_and_never_clips() {
    let loudest = |volume: f64| {
        read(&wav(Priority::High, volume)).into_iter().map(f64::abs).fold(0.0, f64::max)
    };
    let steps: Vec<f64> = [0.4, 0.55, 0.7, 0.85, 1.0].map(loudest).to_vec();
    assert!(steps.windows(2).all(|pair| pair[1] > 1.15 * pair[0]), "{steps:?}");
    assert!(steps[4] > 15_000.0 && steps[4] < 32_767.0, "{}", steps[4]);
    assert_abs_diff_eq!(steps[0] / steps[4], 0.4, epsilon = 0.01);
    assert_eq!(loudest(7.0), steps[4], "more than full is full");
    assert_eq!(loudest(0.0), 0.0);
}
