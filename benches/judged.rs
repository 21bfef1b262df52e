//! The program's advice judged on kilns and people it does not know (`closed_loop`), section by section.
//!
//! `cargo bench --bench judged -- [ordinary] [coverage] [first] [people] [knowing] [--seeds 10]` fires
//! gold, glaze and bisque in a gas and an electric kiln and in the calibration's own, one of each for
//! every seed.
//! In full: `--seeds 70`, which makes more than 200 firings of every line pooled over loads or makes;
//! coverage wants `--seeds 170`, for more than 500 firings a line, of which fewer are still watched
//! at the later moments.

use std::io::{self, Write};

#[allow(dead_code, unused_imports, reason = "every bench uses a part of it")]
mod closed_loop;
#[path = "judged/coverage.rs"]
mod coverage;
#[path = "judged/knowing.rs"]
mod knowing;

use closed_loop::kilns::Make;
use closed_loop::strangers::loads::Load;
use closed_loop::{
    Asked, Came, Knows, LOADS, Manner, PAST_FIRINGS, Shop, TODAY, Watch, all, headline, line,
    load_name, shops, tell_processor_time,
};
use spyhole::testing::firing::Firing;

const SEEDS: u64 = 10;
/// Firings of a new shop that are watched, one after the other.
const FIRST: usize = 3;

type Section = fn(&mut dyn Write, u64) -> io::Result<()>;
const SECTIONS: [(&str, Section); 5] = [
    ("ordinary", ordinary),
    ("coverage", coverage::tell),
    ("first", first),
    ("people", people),
    ("knowing", knowing::tell),
];

/// One watch, and what tells it apart from others.
#[derive(Debug, Clone, Copy)]
struct One {
    make: Make,
    knows: Knows,
    load: &'static str,
    nth: usize,
    came: Came,
}

fn main() -> io::Result<()> {
    let out = &mut io::stdout().lock();
    let asked = Asked::of(&[])?;
    let names = SECTIONS.map(|(name, _)| name);
    if let Some(unknown) = asked.words.iter().find(|word| !names.contains(&word.as_str())) {
        let names = names.join(", ");
        return Err(io::Error::other(format!("no section is \"{unknown}\"; there are: {names}")));
    }
    let wanted = |name: &str| asked.words.is_empty() || asked.words.iter().any(|one| one == name);
    for (_, tell) in SECTIONS.iter().filter(|(name, _)| wanted(name)) {
        tell(out, asked.seeds.unwrap_or(SEEDS))?;
        writeln!(out)?;
        out.flush()?;
    }
    tell_processor_time(out)
}

/// Ten past firings, nothing wrong, somebody there within a minute with an eye of 6 degrees.
fn ordinary(out: &mut dyn Write, seeds: u64) -> io::Result<()> {
    let ones = on_a_faultless_day(seeds, Manner::AT_HAND);
    writeln!(out, "{}", headline("ordinary days"))?;
    by(out, &ones, |one| format!("{:10} {:7} {}", one.knows.name(), one.load, one.make.name()))?;
    by(out, &ones, |one| format!("{:10} {}", one.knows.name(), one.load))?;
    by(out, &ones, |one| one.knows.name().into())
}

/// Ten past firings and today's minded by somebody as found in the trials.
fn people(out: &mut dyn Write, seeds: u64) -> io::Result<()> {
    let ones = on_a_faultless_day(seeds, Manner::AsFound);
    writeln!(out, "{}", headline("people as found"))?;
    by(out, &ones, |one| format!("{:10} {}", one.knows.name(), one.load))?;
    by(out, &ones, |one| format!("{:10} {}", one.knows.name(), one.make.name()))?;
    by(out, &ones, |one| one.knows.name().into())?;
    by(out, &ones, |_| "all".into())
}

fn on_a_faultless_day(seeds: u64, manner: Manner) -> Vec<One> {
    on_every_kiln(seeds, PAST_FIRINGS, |shop, knows| {
        let past = &shop.records(knows, manner);
        let truth = shop.fire(&[], TODAY);
        let watch = Watch { shop, past, truth, faults: &[], knows, manner };
        vec![watch.follow_advice(&[]).came]
    })
}

/// A new shop with nothing but the starter set; what is on record of one firing is known at the next.
fn first(out: &mut dyn Write, seeds: u64) -> io::Result<()> {
    let manner = Manner::AT_HAND;
    let ones = on_every_kiln(seeds, 0, |shop, knows| {
        let mut past: Vec<Firing> = Vec::new();
        let mut came = Vec::new();
        for day in 1..=FIRST as u64 {
            let truth = shop.fire(&[], day);
            let watch = Watch { shop, past: &past, truth, faults: &[], knows, manner };
            let watched = watch.follow_advice(&[]);
            came.push(watched.came);
            past.push(watched.record);
        }
        came
    });
    writeln!(out, "{}", headline("firings of a new shop"))?;
    let nth = |one: &One| ["first", "second", "third"][one.nth];
    by(out, &ones, |one| format!("{:10} {:7} {}", one.knows.name(), one.load, nth(one)))?;
    by(out, &ones, |one| format!("{:10} {:8} {}", one.knows.name(), one.make.name(), nth(one)))?;
    by(out, &ones, |one| format!("{:10} {}", one.knows.name(), nth(one)))?;
    by(out, &ones, |one| one.knows.name().into())
}

/// One kiln of every make for every load and seed; no two loads have a day in common.
fn kilns(seeds: u64) -> Vec<(Make, Load, u64)> {
    let mut kilns = shops(&Make::ALL, &LOADS, seeds);
    for (_, load, seed) in &mut kilns {
        *seed += 10_000 * *load as u64;
    }
    kilns
}

/// Watches on every make of kiln, with every load, in every state of knowledge.
fn on_every_kiln(
    seeds: u64,
    past: u64,
    watched: impl Fn(&Shop, Knows) -> Vec<Came> + Sync,
) -> Vec<One> {
    let fired = all(&kilns(seeds), |&(make, load, seed)| {
        let shop = Shop::open(make, load, seed, past);
        let load = load_name(load);
        let in_state = |knows| {
            let came = watched(&shop, knows).into_iter().enumerate();
            came.map(move |(nth, came)| One { make, knows, load, nth, came })
        };
        Knows::ONE.into_iter().flat_map(in_state).collect::<Vec<One>>()
    });
    fired.concat()
}

/// A line for every label, in the order of states of knowledge and then as they come.
fn by(out: &mut dyn Write, ones: &[One], label: impl Fn(&One) -> String) -> io::Result<()> {
    for (label, these) in grouped(ones, label) {
        let came: Vec<Came> = these.iter().map(|one| one.came).collect();
        writeln!(out, "{}", line(&label, &came))?;
    }
    writeln!(out)
}

/// Those of each label together, in the order of states of knowledge and then as they come.
fn grouped(ones: &[One], label: impl Fn(&One) -> String) -> Vec<(String, Vec<One>)> {
    let mut groups: Vec<(String, Vec<One>)> = Vec::new();
    for knows in Knows::ONE {
        for one in ones.iter().filter(|one| one.knows == knows) {
            let label = label(one);
            match groups.iter_mut().find(|(known, _)| *known == label) {
                Some((_, these)) => these.push(*one),
                None => groups.push((label, vec![*one])),
            }
        }
    }
    groups
}
