//! What somebody needs who has seen forty firings of the kiln with this load: they foretell the drop by
//! least squares over what the probe read, and make one visit, at which they stand until the target
//! is down. A look that tells witnesses apart comes on top.
//!
//! The call is as early before the drop foretold as costs the fewest looks, where nineteen of twenty
//! drops are found within 2.5 minutes for gold, and else within half of what the load forgives.

use std::io::{self, Write};

use crate::closed_loop::kilns::Make;
use crate::closed_loop::strangers::firing::Firing as Truth;
use crate::closed_loop::strangers::loads::Load;
use crate::closed_loop::{LOADS, STANDING_LIKE_A_LOOK_MIN, Shop, all, load_name, quantile};
use crate::kilns;

/// Numbers of the days that are learned from and foretold, in turns.
const DAYS: std::ops::Range<u64> = 200..280;
/// Minutes to the drop: the least and the most that are looked at, and how many times as many the next.
const LEADS_MIN: (f64, f64, f64) = (3.0, 90.0, 1.12);
/// Classes of minutes to the drop as foretold.
const CLASSES_MIN: [(f64, f64); 4] = [(4.0, 8.0), (8.0, 14.0), (14.0, 25.0), (25.0, 45.0)];
const FOUND_WITHIN_MIN: f64 = 2.5;
const TERMS: usize = 11;

/// A moment of a firing: what is foretold from, and what comes.
struct Told {
    terms: [f64; TERMS],
    left_min: f64,
    /// How late the target may be found, minutes.
    allowed_min: f64,
}

/// A drop that was foretold, minutes from then, and how much later it came.
#[derive(Clone, Copy)]
struct Foretold {
    make: Make,
    load: Load,
    left_min: f64,
    later_min: f64,
    allowed_min: f64,
}

pub(crate) fn tell(out: &mut dyn Write, seeds: u64) -> io::Result<()> {
    let foretold = all(&kilns(seeds), |&(make, load, seed)| {
        let shop = Shop::open(make, load, seed, 0);
        let days: Vec<Vec<Told>> = DAYS.map(|day| told(&shop.fire(&[], day), load)).collect();
        let weights = least_squares(days.iter().step_by(2).flatten());
        let foretell = |told: &Told| {
            let left_min = product(&weights, &told.terms).exp();
            let later_min = told.left_min - left_min;
            Foretold { make, load, left_min, later_min, allowed_min: told.allowed_min }
        };
        days.iter().skip(1).step_by(2).flatten().map(foretell).collect::<Vec<_>>()
    });
    let foretold = foretold.concat();
    writeln!(
        out,
        "{:35} {:>6} {:>6} {:>6} {:>6} {:>6}",
        "one visit, decided so many minutes before", "n", "5 %", "95 %", "before", "looks"
    )?;
    for load in LOADS {
        for make in Make::ALL {
            for (from, to) in CLASSES_MIN {
                let here = |one: &&Foretold| (one.make, one.load) == (make, load);
                let within = |one: &&Foretold| (from..to).contains(&one.left_min);
                let these: Vec<Foretold> =
                    foretold.iter().filter(here).filter(within).copied().collect();
                let label = format!("{:10} {:7} {from:2} to {to:2}", make.name(), load_name(load));
                writeln!(out, "{label:41} {}", line(&these))?;
            }
        }
    }
    Ok(())
}

fn line(these: &[Foretold]) -> String {
    if these.is_empty() {
        return format!("{:6}", 0);
    }
    let later = |share| quantile(share, these.iter().map(|one| one.later_min).collect());
    let visits = (-40..160).filter_map(|quarters| visit(these, f64::from(quarters) / 4.0));
    let (before, looks) = visits.min_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or_default();
    let (least, most) = (later(0.05), later(0.95));
    format!("{:6} {least:6.1} {most:6.1} {before:6.1} {looks:6.2}", these.len())
}

/// Minutes before the drop foretold and looks of visits called then; none where they are too late.
fn visit(these: &[Foretold], before_min: f64) -> Option<(f64, f64)> {
    // Walks up to a minute, spread evenly.
    let walks = (0..10).cycle().map(|tenths| f64::from(tenths) / 10.0);
    let late = these.iter().zip(walks).map(|(one, walk)| walk - before_min - one.later_min);
    let late: Vec<f64> = late.collect();
    let used = late.iter().zip(these).map(|(late, one)| late / one.allowed_min).collect();
    let stands = late.iter().map(|late| (-late).max(0.0)).sum::<f64>() / late.len() as f64;
    (quantile(0.95, used) <= 1.0).then(|| (before_min, 1.0 + stands / STANDING_LIKE_A_LOOK_MIN))
}

/// A firing at moments before its drop.
fn told(truth: &Truth, load: Load) -> Vec<Told> {
    let (first, last, times) = LEADS_MIN;
    let forgives_min = 60.0 * (truth.over_h - truth.drop_h);
    let allowed_min = if load == Load::Gold { FOUND_WITHIN_MIN } else { 0.5 * forgives_min };
    let leads = std::iter::successors(Some(first), |lead| Some(lead * times));
    leads
        .take_while(|lead| *lead < last)
        .map(|left_min| Told {
            terms: terms(truth, truth.drop_h - left_min / 60.0, load.end_c()),
            left_min,
            allowed_min,
        })
        .collect()
}

/// The temperature, climbs over three spans, and when it is.
fn terms(truth: &Truth, at_h: f64, end_c: f64) -> [f64; TERMS] {
    let read = |back_min: f64| {
        let at = |off_min: f64| truth.probe_reading((at_h - (back_min + off_min) / 60.0).max(0.01));
        let read: Vec<f64> = [0.0, 1.5, 3.0].into_iter().filter_map(at).collect();
        read.iter().sum::<f64>() / read.len().max(1) as f64
    };
    let now = read(0.0);
    let [short, middle, long] =
        [10.0, 30.0, 80.0].map(|min| ((now - read(min)) * 60.0 / min).max(5.0).ln());
    let c = (now - end_c) / 20.0;
    let ln_h = at_h.max(0.1).ln();
    [1.0, c, short, middle, long, ln_h, c * c, c * c * c, c * middle, c * short, c * c * middle]
}

fn product(weights: &[f64; TERMS], terms: &[f64; TERMS]) -> f64 {
    weights.iter().zip(terms).map(|(weight, term)| weight * term).sum()
}

/// Weights of the terms for ln of the minutes left.
fn least_squares<'a>(told: impl Iterator<Item = &'a Told>) -> [f64; TERMS] {
    let mut rows = [[0.0; TERMS + 1]; TERMS];
    for (place, row) in rows.iter_mut().enumerate() {
        // So little that it only keeps terms apart that say the same.
        row[place] = 1e-3;
    }
    for one in told {
        let mut with_left = [one.left_min.ln(); TERMS + 1];
        with_left[..TERMS].copy_from_slice(&one.terms);
        for (row, term) in rows.iter_mut().zip(one.terms) {
            row.iter_mut().zip(with_left).for_each(|(sum, other)| *sum += term * other);
        }
    }
    for place in 0..TERMS {
        let pivot = rows[place].map(|value| value / rows[place][place]);
        for row in &mut rows {
            let times = row[place];
            row.iter_mut().zip(pivot).for_each(|(value, one)| *value -= times * one);
        }
        rows[place] = pivot;
    }
    rows.map(|row| row[TERMS])
}
