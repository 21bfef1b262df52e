//! The casting bench's advice on made-up shops of other physics, beside the rules of the trade in the
//! same run.
//!
//! `cargo bench --bench casting -- [--seeds 4] [--from 0]`; every seed is a quarter of twelve moulds.

use std::env;
use std::io::{self, Write};
use std::time::Instant;

use spyhole::testing::casting::{Casting, Learned};

#[path = "../tests/it/casting/shops.rs"]
#[allow(dead_code, reason = "the bench uses a part of it")]
mod shops;
#[path = "../tests/it/casting/worlds.rs"]
mod worlds;

use shops::{ADVISED, Asked, Policy, Setting, Shop, Told, moment};
use worlds::{Pace, Physics};

const POLICIES: [(&str, Policy); 6] = [
    ("opens at 24 h", Policy::At24),
    ("every morning", Policy::Mornings),
    ("mornings and evenings", Policy::MorningsAndEvenings),
    ("advised", ADVISED),
    ("advised before pouring", Policy::Advised { before_pouring: true }),
    ("knows the truth", Policy::Knows),
];

fn option(name: &str, otherwise: u64) -> u64 {
    let mut args = env::args().skip_while(|arg| arg != name).skip(1);
    args.next().and_then(|text| text.parse().ok()).unwrap_or(otherwise)
}

fn main() -> io::Result<()> {
    let (from, seeds) = (option("--from", 0), option("--seeds", 4));
    let out = &mut io::stdout().lock();
    let began = Instant::now();
    writeln!(
        out,
        "{:46} {:>6} {:>6} {:>6} {:>7} | {:>6} {:>6} {:>6} {:>6} {:>6} {:>6}",
        "",
        "casts",
        "checks",
        "forced",
        "cracked",
        "first3",
        "held",
        "late",
        "width",
        "laws",
        "looked"
    )?;
    let tell = |out: &mut dyn Write, name: String, setting: &dyn Fn(u64) -> Setting| {
        let mut told = Told::default();
        for seed in from..from + seeds {
            told.add(Shop::run(setting(seed)));
        }
        line(out, &name, &told)
    };
    for physics in [Physics::Diffusion, Physics::Strain, Physics::Times] {
        for pace in [Pace::Fast, Pace::Usual, Pace::Slow] {
            for (name, policy) in POLICIES {
                let setting = |seed| Setting::usual(physics, pace, policy, seed);
                tell(out, format!("{physics:?} {pace:?} {name}"), &setting)?;
            }
        }
        let usual = |seed| Setting::usual(physics, Pace::Usual, ADVISED, seed);
        let knows = |seed| Setting::usual(physics, Pace::Usual, Policy::Knows, seed);
        tell(out, format!("{physics:?} no air"), &|seed| Setting { air: false, ..usual(seed) })?;
        tell(out, format!("{physics:?} forget"), &|seed| Setting { forgets: 0.1, ..usual(seed) })?;
        tell(out, format!("{physics:?} misjudge"), &|seed| Setting {
            misjudges: 0.12,
            ..usual(seed)
        })?;
        tell(out, format!("{physics:?} misjudge, know"), &|seed| Setting {
            misjudges: 0.12,
            ..knows(seed)
        })?;
    }
    timed(out)?;
    writeln!(out, "{:.0} s", began.elapsed().as_secs_f64())
}

fn line(out: &mut dyn Write, name: &str, told: &Told) -> io::Result<()> {
    let part = |of: &dyn Fn(&Asked) -> bool, holds: fn(&Asked) -> bool| {
        let asked: Vec<&Asked> = told.asked.iter().filter(|asked| of(asked)).collect();
        100.0 * asked.iter().filter(|asked| holds(asked)).count() as f64 / asked.len() as f64
    };
    let width = |of: fn(&Asked) -> Option<f64>| {
        let settled = told.asked.iter().filter(|asked| asked.before >= 5 && !asked.looked);
        let mut widths: Vec<f64> = settled.filter_map(of).collect();
        widths.sort_by(f64::total_cmp);
        widths.get(widths.len() / 2).copied().unwrap_or(f64::NAN)
    };
    let later = |asked: &Asked| asked.day >= 21 && !asked.looked;
    writeln!(
        out,
        "{name:46} {:6} {:6.2} {:6.1} {:7.1} | {:6.1} {:6.1} {:6.1} {:6.1} {:6.1} {:6.1}",
        told.casts,
        told.checks as f64 / told.casts as f64,
        told.share(told.forced),
        told.share(told.cracked),
        part(&|asked| asked.day < 21 && !asked.looked, |asked| asked.held),
        part(&later, |asked| asked.held),
        part(&later, |asked| asked.late_before),
        width(|asked| Some(asked.width_h)),
        width(|asked| asked.known_h),
        part(&|asked| asked.day >= 21 && asked.looked, |asked| asked.held),
    )
}

/// How long learning and advising take as a shop's events grow.
fn timed(out: &mut dyn Write) -> io::Result<()> {
    for (moulds, days) in [(12, 60), (24, 100), (24, 200), (400, 21)] {
        let setting =
            Setting::usual(Physics::Diffusion, Pace::Usual, Policy::MorningsAndEvenings, 3);
        let told = Shop::run(Setting { moulds, days, ..setting });
        let count = told.events.len();
        let began = Instant::now();
        let casting = Casting::new(told.events, told.staffed, moment(24.0 * days as f64))
            .expect("plain codes");
        let learned = Learned::new(&casting);
        let learning = began.elapsed();
        for mould in 0..moulds {
            let body = casting.full[mould].is_none().then_some("white");
            learned.advice(&casting, mould, body).expect("a cast");
        }
        writeln!(
            out,
            "{count} events: learned in {:.0} ms, {moulds} moulds advised in {:.0} ms",
            1e3 * learning.as_secs_f64(),
            1e3 * (began.elapsed() - learning).as_secs_f64()
        )?;
    }
    Ok(())
}
