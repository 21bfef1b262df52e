//! How often the 5 to 95 % window holds the drop: should be nine times in ten, whatever is known.
//!
//! A window is told in the course of a watch, with the looks made so far: at lighting; 60, 30 and 15
//! minutes before the middle forecast made at lighting; right after the first look that saw the
//! target move; and, which picks by the answer and is for comparison only, counted back from the
//! true drop. A watch that has ended by then, or a kiln of which nothing is known yet, tells none.

use std::io::{self, Write};

use spyhole::testing::firing::Firing;

use crate::closed_loop::kilns::Make;
use crate::closed_loop::strangers::chance::Chance;
use crate::closed_loop::strangers::faults::Fault;
use crate::closed_loop::{Knows, Manner, PAST_FIRINGS, Shop, TODAY, Watch, Window, all, quantile};
use crate::kilns;

/// Moments before the forecast or true drop, hours.
const BEFORE_H: [f64; 3] = [1.0, 0.5, 0.25];
const PLACES: [&str; 8] =
    ["lighting", "60 before", "30 before", "15 before", "moved", "true 60", "true 30", "true 15"];
/// Looks of a firing that may have a wrong word.
const LOOKS: usize = 60;

/// Kilns of one kind in one state of knowledge on one kind of day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct State {
    make: Make,
    knows: Knows,
    well_known: bool,
    faulty: bool,
}

impl State {
    fn label(self) -> String {
        format!(
            "{:10} {:6} {:12} {}",
            self.make.name(),
            self.knows.name(),
            if self.well_known { "10 past" } else { "0 to 3 past" },
            if self.faulty { "faults" } else { "faultless" }
        )
    }
}

type Told = [Option<Window>; PLACES.len()];

pub(crate) fn tell(out: &mut dyn Write, seeds: u64) -> io::Result<()> {
    let told = all(&kilns(seeds), |&(make, load, seed)| {
        let shop = Shop::open(make, load, seed, PAST_FIRINGS);
        let faults = of_the_day(&mut Chance::new(seed).branch(400 + load as u64), &shop);
        let mut told = Vec::new();
        for knows in Knows::ONE {
            let past = shop.records(knows, Manner::AT_HAND);
            for well_known in [true, false] {
                let past = if well_known { &past[..] } else { &past[..(seed % 4) as usize] };
                let state = |faulty| State { make, knows, well_known, faulty };
                let faultless = windows(&shop, past, knows, &[]);
                told.push((state(false), faultless));
                let with_faults = if faults.is_empty() {
                    faultless
                } else {
                    windows(&shop, past, knows, &faults)
                };
                told.push((state(true), with_faults));
            }
        }
        told
    });
    let told = told.concat();
    write!(out, "{:41}", "share held, of so many, median width in minutes")?;
    for place in PLACES {
        write!(out, " {place:>15}")?;
    }
    writeln!(out)?;
    for knows in Knows::ONE {
        for well_known in [true, false] {
            for faulty in [false, true] {
                for make in Make::ALL {
                    let state = State { make, knows, well_known, faulty };
                    let these = told.iter().filter(|(told, _)| *told == state);
                    let these: Vec<&Told> = these.map(|(_, told)| told).collect();
                    writeln!(out, "{:41}{}", state.label(), line(&these))?;
                }
            }
        }
    }
    Ok(())
}

fn windows(shop: &Shop, past: &[Firing], knows: Knows, faults: &[Fault]) -> Told {
    let truth = shop.fire(faults, TODAY);
    let lit_h = truth.lit_noted_h;
    let middle_h = shop.middle_at_lighting_h(&truth, past).unwrap_or(f64::NEG_INFINITY);
    let mut moments = vec![lit_h];
    for from_h in [middle_h, truth.drop_h] {
        moments.extend(BEFORE_H.map(|before_h| from_h - before_h));
    }
    let watch = Watch { shop, past, truth, faults, knows, manner: Manner::AT_HAND };
    let watched = watch.follow_advice(&moments);
    let [lighting, a, b, c, d, e, f] = watched.windows[..] else {
        unreachable!("every moment has its place");
    };
    [lighting, a, b, c, watched.moved, d, e, f]
}

fn line(told: &[&Told]) -> String {
    let place = |place: usize| {
        let windows: Vec<Window> = told.iter().filter_map(|told| told[place]).collect();
        if windows.is_empty() {
            return format!(" {:>15}", "-");
        }
        let held = windows.iter().filter(|window| window.holds_the_drop).count();
        let share = held as f64 / windows.len() as f64;
        let width_min = quantile(0.5, windows.iter().map(|window| window.width_min).collect());
        format!(" {share:5.2} {:4} {width_min:4.0}", windows.len())
    };
    (0..PLACES.len()).map(place).collect()
}

/// Faults at the rates of ordinary life: readings fail one day in twenty, the clock three in a
/// hundred, a word at one look in a hundred.
fn of_the_day(chance: &mut Chance, shop: &Shop) -> Vec<Fault> {
    let usual_min = 60.0 * shop.usual_h();
    let mut faults = Vec::new();
    if chance.happens(0.05) {
        faults.push(of_the_readings(chance, usual_min));
    }
    if chance.happens(0.03) {
        let sign = chance.one_of(&[-1.0, 1.0]);
        let pace = 1.0 + chance.between(0.1, 0.3);
        faults.push(if chance.happens(0.5) {
            Fault::LitNoted { late_min: sign * chance.between(30.0, 60.0) }
        } else {
            Fault::Pace { factor: if sign > 0.0 { pace } else { 1.0 / pace } }
        });
    }
    for nth_look in 0..LOOKS {
        if chance.happens(0.01) {
            let (cone, further) = (chance.one_of(&[0, 1]), chance.happens(0.5));
            faults.push(Fault::WordWrong { nth_look, cone, further });
        }
    }
    faults
}

/// One of the faults of a probe, each as likely as any other.
fn of_the_readings(chance: &mut Chance, usual_min: f64) -> Fault {
    let sign = chance.one_of(&[-1.0, 1.0]);
    let c = sign * chance.between(10.0, 40.0);
    let at_min = chance.between(0.3, 0.9) * usual_min;
    match chance.one_of(&[0, 1, 2, 3, 4, 5, 6, 7, 8]) {
        0 => Fault::ProbeOffset { c },
        1 => Fault::ProbeStep { c, at_min },
        2 => Fault::ProbeSink { c: c.abs(), at_min, over_min: chance.between(20.0, 90.0) },
        3 => Fault::ProbeCreep { c_per_h: sign * chance.between(10.0, 150.0), from_min: at_min },
        4 => Fault::ProbeStuck { at_min, noisy: chance.happens(0.5) },
        5 => Fault::ProbeDead { at_min },
        6 => Fault::ProbeSilent { at_min, for_min: chance.between(10.0, 60.0) },
        7 => Fault::ProbeScale { factor: 1.0 + sign * 0.05 },
        _ => Fault::ProbeNonsense { share: chance.between(0.005, 0.05) },
    }
}
