//! Two years of firings before the rehearsal, so that ledger, review and similar firings show what they
//! can: in closed form, a few readings and looks each. All of it is made up, and says so.

use rand::{RngExt, SeedableRng};
use rand_distr::StandardNormal;
use rand_pcg::Pcg64Mcg;

use super::kiln::Climb;
use super::setting::{CARE, PRACTICE_KILN, START};
use crate::cone::curve;
use crate::edge::shop::store::{About, Entry};
use crate::firing::event::{Look, Outcome, Packing, Seen, Verdict};
use crate::firing::{ConePack, Counted, Lit, What};
use crate::kiln::{Fuel, LoadType, Miss};
use crate::units::{Celsius, Moment, Span};
use crate::watch::forgives::forgives;
use crate::words;

/// What was fired in one kiln, again and again.
struct Habit {
    kiln: &'static str,
    fuel: Fuel,
    load_type: &'static str,
    every: Span,
    /// How much more its probe reads at the end than at first, C; `None` without a probe.
    drifts_c: Option<f64>,
}

const fn habit(
    (kiln, fuel): (&'static str, Fuel),
    load_type: &'static str,
    days: i64,
    drifts_c: Option<f64>,
) -> Habit {
    Habit { kiln, fuel, load_type, every: Span::hours(24 * days), drifts_c }
}

/// Heron's gold, which the rehearsal is about, and the others; the probe of one drifts.
const HABITS: [Habit; 4] = [
    habit((PRACTICE_KILN, Fuel::Gas), "gold", 7, Some(0.0)),
    habit(("Badger", Fuel::Electric), "decal", 12, None),
    habit(("Wren", Fuel::Gas), "earthenware bisque", 15, Some(0.0)),
    habit(("Finch", Fuel::Electric), "china paint", 14, Some(16.0)),
];

/// How long before [`START`] it begins, and ends: before the days that are simulated.
const FROM: Span = Span::hours(24 * 730);
const UNTIL: Span = Span::hours(24 * 6);
/// The weeks in which looks came late, as shares of the two years.
const LATE: (f64, f64) = (0.55, 0.68);
/// One firing in so many was shut off too early.
const EARLY_OFF: f64 = 0.04;
/// The share of their time at which temperatures were written down.
const READ_AT: [f64; 5] = [0.45, 0.7, 0.85, 0.95, 0.985];
/// What a gold load was worth two years ago, and is since gold became dearer; any other.
const WORTH: [f64; 3] = [260.0, 390.0, 120.0];

/// Everything that happened in the two years, each firing as one entry.
pub(super) fn entries(load_types: &[LoadType], seed: u64) -> Vec<Entry> {
    let mut random = Pcg64Mcg::seed_from_u64(seed ^ 0x2_0005);
    let mut all = Vec::new();
    for habit in &HABITS {
        let Some(load) = load_types.iter().find(|load| load.name == habit.load_type) else {
            continue;
        };
        let mut begins = START - FROM;
        while begins < START - UNTIL {
            let hour = Span::from_hours(random.random_range(-1.5..1.5));
            all.extend(firing(habit, load, begins + hour, &mut random));
            begins = begins + habit.every;
        }
    }
    let note = |(days, kiln, text): &(i64, &str, &str)| {
        let (kiln, text) = ((*kiln).to_owned(), (*text).to_owned());
        entry(
            About::Shop,
            START - Span::hours(24 * days),
            What::KilnNote { kiln, text },
            Vec::new(),
        )
    };
    all.extend(CARE.iter().map(note));
    all.sort_by_key(|entry| entry.at);
    all
}

fn entry(about: About, at: Moment, what: What, then: Vec<(Moment, What)>) -> Entry {
    Entry { about, at, what, seen: None, corrects: None, then }
}

/// One firing from packing to outcome; `None` where the chart has no such cone.
fn firing(habit: &Habit, load: &LoadType, lit: Moment, random: &mut Pcg64Mcg) -> Option<Entry> {
    let mut normal = || random.sample::<f64, _>(StandardNormal);
    let age = (lit - (START - FROM)).as_hours() / FROM.as_hours();
    let pack = ConePack::usual(load.target, load.family);
    let climb = Climb::of(habit.fuel, (0.03 * normal()).exp());
    // The climb at the cone's own end follows from where that is; one step settles it.
    let chart = curve(load.target, load.family).ok()?;
    let near = chart
        .temperature_ending(climb.rate_at(chart.temperature_ending(climb.rate_at(Celsius(700.0)))));
    let ends = Celsius(near.0 + 1.5 * normal());
    let (drop, rate) = (lit + climb.takes(ends), climb.rate_at(ends));
    let late = (LATE.0..LATE.1).contains(&age);
    let minutes = if late { 15.0 + 6.0 * normal() } else { 2.5 + 1.2 * normal() };
    let down = drop + Span::from_minutes(minutes.max(0.5));
    let offset_c = habit.drifts_c.unwrap_or(0.0) * ((age - 0.4) / 0.6).max(0.0) + normal();
    let early = random.random::<f64>() < EARLY_OFF;
    let off = if early { drop - Span::minutes(22) } else { down + Span::minutes(1) };
    let mut then = Vec::new();
    let lit_by = Lit {
        kiln: habit.kiln.into(),
        load_type: load.name.clone(),
        pack,
        schedule: None,
        plan: Vec::new(),
    };
    then.push((lit, What::Lit(lit_by)));
    let read = READ_AT.map(|share| lit + Span::from_minutes(share * (drop - lit).as_minutes()));
    let read = read.into_iter().filter(|at| habit.drifts_c.is_some() && *at < off);
    then.extend(read.map(|at| {
        let read = climb.chamber(at - lit).0 + offset_c;
        (at, What::Reading(Celsius(read.round())))
    }));
    let look = |target| What::Look(Look { target: Some(target), ..Look::default() });
    then.push((drop - Span::minutes(if late { 30 } else { 26 }), look(Seen::Standing)));
    if !early {
        then.push((down, look(Seen::Down)));
    }
    then.push((off, What::Off));
    then.sort_by_key(|(at, _)| *at);
    let drawn = off + Span::hours(20);
    then.push((drawn, What::Drawn));
    let forgiven = forgives(load.target, load.family, rate, load.over_cones)?;
    let verdict = match off - drop {
        _ if early => Verdict::Under,
        over if over > forgiven => Verdict::Over,
        _ => Verdict::Good,
    };
    let worth = match (load.name.as_str(), age > 0.5) {
        ("gold", dearer) => WORTH[usize::from(dearer)],
        _ => WORTH[2],
    };
    let lost = verdict == Verdict::Over && load.over == Miss::Lost;
    let outcome = Outcome {
        verdict,
        note: words::MADE_UP.into(),
        shelves: Vec::new(),
        loss: lost.then_some(worth),
        counted: Counted::default(),
        full: None,
    };
    then.push((drawn + Span::minutes(40), What::Outcome(outcome)));
    let packing = Packing {
        kiln: habit.kiln.into(),
        load_type: load.name.clone(),
        contents: words::MADE_UP.into(),
        pieces: Some(random.random_range(30..70)),
        worth: Some(worth),
        pack: Some(pack),
        ..Packing::default()
    };
    Some(entry(About::NewFiring, lit - Span::minutes(30), What::Packed(packing), then))
}
