//! A probe that was changed or moved: its error is learned again, in the forecast and in the review.

use spyhole::testing::edge::cli::exchange::record_line;
use spyhole::testing::edge::record;
use spyhole::testing::review::drift::{Measure, drifts, probe_offsets};
use spyhole::testing::words;

use crate::journal::{event, minutes, new_shop};
use crate::prelude::*;
use crate::review::made::{Chance, Making};
use crate::simulator::{Dice, LIT, Reads, SimulatedKiln, after};

/// The same firing so much earlier, with a probe that reads so much higher.
fn moved(firing: Firing, earlier: Span, high_c: f64) -> Firing {
    let mut firing = Firing { lit: firing.lit.map(|at| at - earlier), ..firing };
    for (at, c) in &mut firing.readings {
        (*at, *c) = (*at - earlier, Celsius(c.0 + high_c));
    }
    firing.looks.iter_mut().for_each(|looked| looked.at = looked.at - earlier);
    firing.off = firing.off.map(|at| at - earlier);
    firing
}

/// Ten firings with the old probe and `taught` with another that reads 8 to 16 C higher or lower: today's
/// drop, and what is forecast of it half an hour before, where the change is known or not.
fn exchanged(seed: u64, taught: i64, is_known: bool) -> (Moment, Forecast) {
    let dice = &mut Dice::new(seed);
    let kiln = SimulatedKiln::new("North", 150.0, dice);
    // The new one is off by one standard deviation of probes, to the other side.
    let by_c = -8.0_f64.copysign(kiln.probe_offset_c) - kiln.probe_offset_c;
    let days = |days: i64| Span::hours(24 * days);
    let past: Vec<Firing> = (1..=10 + taught)
        .rev()
        .map(|ago| {
            let high_c = if ago <= taught { by_c } else { 0.0 };
            moved(kiln.fire(dice).finished(&kiln, Reads::Probe, dice), days(ago), high_c)
        })
        .collect();
    let fired = kiln.fire(dice);
    let now_h = fired.drop_h - 0.5;
    let today = moved(fired.record(&kiln, Reads::Probe, now_h, dice), Span::ZERO, by_c);
    let mut corrections = Corrections::default();
    if is_known {
        corrections.change_probe(LIT - days(taught) - Span::hours(8), "north");
    }
    let asked = question(&today, &past, after(now_h));
    let told = forecast(&Question { corrections: Some(&corrections), ..asked }).unwrap();
    (after(fired.drop_h), told)
}

/// Without the event the window of the old probe misses; with it, it is wide until firings teach it anew.
#[test]
fn law_after_a_changed_probe_the_window_covers_the_drop_and_narrows_with_what_is_learned() {
    let states = [(0, false), (0, true), (5, true)];
    let (mut covered, mut width_min) = ([0; 3], [0.0; 3]);
    for (place, (taught, is_known)) in states.into_iter().enumerate() {
        for seed in 0..20 {
            let (drop, told) = exchanged(seed, taught, is_known);
            covered[place] += i32::from((told.p05..=told.p95).contains(&drop));
            width_min[place] += (told.p95 - told.p05).as_minutes() / 20.0;
            let names = |ground: &Ground| matches!(ground, Ground::ProbeChanged { .. });
            assert!(taught > 0 || told.rests_on.iter().any(names) == is_known, "{told:?}");
        }
    }
    println!("covered {covered:?} of 20, mean widths {width_min:.1?} min");
    // Of 20 true 90 % windows at least 15 cover in 999 of 1000 (binomial).
    assert!(covered[0] <= 9 && covered[1] >= 15 && covered[2] >= 15, "{covered:?} of 20");
    assert!(width_min[2] < 0.7 * width_min[1], "{width_min:?}");
}

#[test]
fn law_a_correction_from_before_the_change_no_longer_holds() {
    let accept = |add_c| Change::ProbeCorrection { kiln: "North".into(), add_c };
    let mut corrections = Corrections::default();
    corrections.accept(minutes(10), &accept(-8.0));
    corrections.change_probe(minutes(20), "NORTH");
    corrections.change_probe(minutes(25), "South");
    let at = |corrections: &Corrections, minute| corrections.at("North", minutes(minute));
    assert_eq!(
        (at(&corrections, 15), at(&corrections, 20), at(&corrections, 30)),
        (-8.0, 0.0, 0.0)
    );
    corrections.accept(minutes(40), &accept(3.0));
    assert_eq!((at(&corrections, 39), at(&corrections, 41)), (0.0, 3.0));
}

/// Twelve firings with a probe 8 C high, and seven after another took its place, which reads right.
#[test]
fn law_the_chart_of_a_changed_probe_begins_anew() {
    let mut chance = Chance::seeded(19);
    let begin = |nth: i64| Moment(1_750_000_000_000) + Span::hours(48 * nth);
    let firings: Vec<Firing> = (0..19)
        .map(|nth| {
            let making = Making {
                id: nth + 1,
                lit: begin(nth),
                climb: 150.0 + 10.0 * chance.normal(),
                probe_high: if nth < 12 { 8.0 } else { 0.0 },
                off_after: 3.0,
                looks_every_min: 3,
                seed: nth as u64,
                ..Making::default()
            };
            making.firing()
        })
        .collect();
    let probe_of = |firings: &[Firing], corrections: &Corrections| {
        let ledger = Ledger::new(firings, vec![], vec![], corrections, Span::ZERO);
        let facts: Vec<&Facts> = ledger.facts.iter().collect();
        let series = drifts(&facts, corrections);
        let drift = series.into_iter().find(|drift| drift.measure == Measure::ProbeHigh).unwrap();
        (drift, probe_offsets(&facts, corrections))
    };
    let mut corrections = Corrections::default();
    assert_eq!(probe_of(&firings, &corrections).0.values.len(), 19);
    corrections.change_probe(begin(12) - Span::hours(5), "North");
    let (drift, offsets) = probe_of(&firings, &corrections);
    assert_eq!((drift.values.len(), drift.firings[0].0), (7, 13));
    assert!(drift.signal().is_none(), "{drift:?}");
    assert!(offsets[0].high_c.abs() < 3.0 && offsets[0].suggestion.is_none(), "{offsets:?}");
    let said = words::begun_anew(&drift, Span::ZERO).unwrap();
    assert_eq!(
        said,
        "The probe on North was changed or moved on 2025-07-09; its error is learned again."
    );
    // Nothing is known of the new one yet.
    let (drift, offsets) = probe_of(&firings[..12], &corrections);
    assert_eq!((drift.values.len(), offsets.len()), (0, 0));
    assert!(words::drifted(&drift, Scale::Celsius, Span::ZERO).is_none());
}

#[test]
fn law_a_changed_probe_reads_back_from_journal_and_record() {
    let (_folder, path, mut journal) = new_shop();
    let what = What::ProbeChanged { kiln: "North".into(), note: "type K, another hole".into() };
    let id = journal.append_checked(&event(None, minutes(5), what.clone()), minutes(6)).unwrap().id;
    drop(journal);
    let journal = Journal::open(&path).unwrap();
    assert_eq!(journal.event(id).unwrap().event.what, what);
    assert_eq!(
        journal.shop().unwrap().corrections.probe_since("north", minutes(9)),
        Some(minutes(5))
    );
    let mut out = Vec::new();
    for stored in stored(&journal, None) {
        record::write(&mut out, &record_line(stored)).unwrap();
    }
    let text = String::from_utf8(out).unwrap();
    let last = |text: &str| record::read(text.as_bytes(), |lines| lines.last()).unwrap().unwrap();
    assert_eq!(last(&text).what, what);
    let bare = r#"{"at": "2026-03-14T09:00:00Z", "event": "probe_changed", "kiln": "North"}"#;
    let what = What::ProbeChanged { kiln: "North".into(), note: String::new() };
    assert_eq!(last(bare).what, what);
}
