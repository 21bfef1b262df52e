//! What one false witness costs: firings of simulated kilns, each with one fault, watched by the
//! program's advice to their end.
//!
//! `cargo bench --bench false_witnesses -- --seeds 10 [WORDS]` fires a gas and an electric kiln for
//! each seed and row; of the rows only those with WORDS in fault, state of knowledge and load. A
//! row has one day for each kiln, the same in all rows: only the fault tells them apart.
//!
//! A kiln has ten faultless firings behind it. Somebody with an eye of 6 degrees walks to it when the
//! advice says so; who is told to look again within a minute stays and looks every minute. A "down"
//! that the program doubts is looked at once more a minute later, and struck if it was wrong. Where
//! no forecast is possible and a look is asked for, they stay too.
//!
//! Late: seen down after a cone half a number above the target would be down. Early: shut off before
//! a cone half a number below it would be. Five minutes of standing count as a look. In the last
//! columns nineteen of twenty were found down at most so many minutes late, and as many loads forgave
//! at least so many.

use std::io::Write;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;

use spyhole::testing::cone::{Cone, Family};
use spyhole::testing::firing::event::Look;
use spyhole::testing::firing::{ConePack, EventId, Firing, FiringId, Looked, Seen, State};
use spyhole::testing::forecast::{Question, USUAL_LIMIT};
use spyhole::testing::kiln::{LoadType, Miss};
use spyhole::testing::units::{Celsius, Moment, Span};
use spyhole::testing::watch::{Advice, Say, advise};

#[path = "false_witnesses/rows.rs"]
mod rows;
#[allow(dead_code, unused_imports, reason = "their own tests use the rest")]
#[path = "../tests/it/strangers/mod.rs"]
mod strangers;

use rows::{Knows, Row, load_name, rows};
use strangers::Kiln;
use strangers::chance::Chance;
use strangers::firing::Firing as Truth;
use strangers::loads::Load;
use strangers::people::{Person, Word};

const PAST_FIRINGS: u64 = 10;
/// Number of the day that is watched; the past ones are numbered from 1.
const TODAY: u64 = 100;
const EYE_DEG: f64 = 6.0;
const MINUTE_H: f64 = 1.0 / 60.0;
/// Share of the usual length at which the advice is first asked.
const FIRST_ASKED: f64 = 0.4;
/// How long after a load is over somebody still minds it, hours: it is lost anyway.
const GIVES_UP_H: f64 = 1.0;
/// Standing so long counts as one look, minutes.
const STANDING_LIKE_A_LOOK_MIN: f64 = 5.0;

/// The lighting of every firing: a moment of no meaning.
const LIT: Moment = Moment(1_750_000_000_000);

fn after(hours: f64) -> Moment {
    LIT + Span::from_hours(hours)
}

fn hours(at: Moment) -> f64 {
    (at - LIT).as_hours()
}

/// A kiln with a load and what is known of its past.
struct Shop {
    kiln: Kiln,
    load: Load,
    seed: u64,
    past: Vec<Truth>,
    load_type: LoadType,
}

/// What came of one firing.
#[derive(Debug, Clone, Copy)]
struct Came {
    late_min: f64,
    /// From the drop until the load is over, minutes.
    forgives_min: f64,
    over: bool,
    under: bool,
    walks: usize,
    standing_min: f64,
}

/// A reading, and when it became known, hours since the lighting.
#[derive(Debug, Clone, Copy)]
struct Known {
    from_h: f64,
    reading: (Moment, Celsius),
}

fn pack(load: Load) -> ConePack {
    let [guide, target, guard] =
        load.pack().map(|cone| Cone::parse(cone).expect("every cone of a load is a cone"));
    ConePack { family: Family::SelfSupporting, target, guide: Some(guide), guard: Some(guard) }
}

impl Shop {
    fn open(kiln: Kiln, load: Load, seed: u64) -> Shop {
        let past =
            (1..=PAST_FIRINGS).map(|day| kiln.fire(load, &[], day).without_slips()).collect();
        let load_type = LoadType {
            name: load_name(load).into(),
            target: pack(load).target,
            family: Family::SelfSupporting,
            under_cones: 0.5,
            over_cones: 0.5,
            under: Miss::FireAgain,
            over: Miss::Lost,
            usual_length: None,
            cautions: Vec::new(),
        };
        Shop { kiln, load, seed, past, load_type }
    }

    fn usual_h(&self) -> f64 {
        self.past.iter().map(|truth| truth.drop_h).sum::<f64>() / self.past.len() as f64
    }

    fn lit(&self, truth: &Truth, number: u64) -> Firing {
        Firing {
            id: FiringId(number.cast_signed()),
            kiln: "North".into(),
            load_type: self.load_type.name.clone(),
            pack: Some(pack(self.load)),
            lit: Some(after(truth.lit_noted_h)),
            state: State::Lit,
            ..Firing::default()
        }
    }

    /// The records of the past, as people leave them who look a few times near the end.
    fn records(&self, knows: Knows) -> Vec<Firing> {
        let record = |(number, truth): (u64, &Truth)| {
            let mut chance = Chance::new(self.seed).branch(200 + number);
            let mut person = Person::careful(EYE_DEG, &[], self.seed + 1_000 * number);
            let mut firing = self.lit(truth, number);
            let mut at_h = truth.drop_h - chance.between(0.3, 0.9);
            loop {
                let look = look(truth, at_h, &mut person);
                firing.looks.push(Looked { event: EventId(0), at: after(at_h), look });
                if look.target == Some(Seen::Down) {
                    break;
                }
                let near = look.guide == Some(Seen::Down);
                at_h += if near { chance.between(0.04, 0.09) } else { chance.between(0.1, 0.2) };
            }
            firing.readings = known_by(&readings(truth, knows), at_h);
            firing.off = Some(after(at_h));
            firing.state = State::Closed;
            firing
        };
        (1..).zip(&self.past).map(record).collect()
    }

    fn question<'a>(&'a self, firing: &'a Firing, past: &'a [Firing], now_h: f64) -> Question<'a> {
        Question {
            firing,
            load: Some(&self.load_type),
            kiln: None,
            past,
            schedule: None,
            corrections: None,
            now: after(now_h),
            limit: USUAL_LIMIT,
        }
    }

    /// Today's firing with the fault of a row, watched to its end.
    fn watched(&self, row: &Row, past: &[Firing]) -> Came {
        let faults = (row.faults)(60.0 * self.usual_h());
        let truth = self.kiln.fire(self.load, &faults, TODAY).without_slips();
        let readings = readings(&truth, row.knows);
        let mut walk = Chance::new(self.seed).branch(300);
        let mut person = Person::careful(EYE_DEG, &faults, self.seed);
        let mut firing = self.lit(&truth, PAST_FIRINGS + 1);
        let mut now_h = FIRST_ASKED * self.usual_h();
        let (mut walks, mut standing_min) = (0, 0.0);
        let mut is_there = false;
        let mut doubted = false;
        loop {
            firing.readings = known_by(&readings, now_h);
            let advice = advise(&self.question(&firing, past, now_h));
            if advice.say == Say::ShutOff && (advice.doubt.is_none() || doubted) {
                return came(&truth, now_h, walks, standing_min);
            }
            if now_h > truth.over_h + GIVES_UP_H {
                return came(&truth, now_h, walks, standing_min);
            }
            if !calls(&advice, is_there, now_h) {
                is_there = false;
                now_h = next_asked(&advice, &readings, now_h);
                continue;
            }
            if is_there {
                now_h += MINUTE_H;
                standing_min += 1.0;
            } else {
                now_h += walk.between(row.walk_min.0, row.walk_min.1) * MINUTE_H;
                walks += 1;
                is_there = true;
            }
            let look = look(&truth, now_h, &mut person);
            let down = look.target == Some(Seen::Down);
            if advice.say == Say::ShutOff && !down {
                // The first of the two was wrong, and is struck.
                firing.looks.pop();
            }
            doubted = advice.say == Say::ShutOff && down;
            firing.looks.push(Looked { event: EventId(0), at: after(now_h), look });
        }
    }
}

/// Whether somebody looks now, or a minute later if they are at the kiln already.
fn calls(advice: &Advice, is_there: bool, now_h: f64) -> bool {
    let soon = advice.next_look.is_some_and(|next| hours(next) <= now_h + 1.01 * MINUTE_H);
    advice.say != Say::Wait || (is_there && soon)
}

/// When the advice is asked again: at the next look, or before it with the next number written
/// down; a probe is heard the oftener the nearer the look is.
fn next_asked(advice: &Advice, readings: &[Known], now_h: f64) -> f64 {
    let look_h = advice.next_look.map_or(now_h + 0.25, hours);
    let pause_h = ((look_h - now_h) / 4.0).clamp(2.0 * MINUTE_H, 10.0 * MINUTE_H);
    let heard_h = readings.iter().map(|known| known.from_h).find(|from_h| *from_h > now_h);
    let heard_h = heard_h.map_or(f64::INFINITY, |heard_h| heard_h.max(now_h + pause_h));
    look_h.min(heard_h).max(now_h + MINUTE_H)
}

fn came(truth: &Truth, off_h: f64, walks: usize, standing_min: f64) -> Came {
    Came {
        late_min: 60.0 * (off_h - truth.drop_h),
        forgives_min: 60.0 * (truth.over_h - truth.drop_h),
        over: off_h > truth.over_h,
        under: off_h < truth.under_h,
        walks,
        standing_min,
    }
}

fn look(truth: &Truth, at_h: f64, person: &mut Person) -> Look {
    let [guide, target, guard] = truth.look(at_h, person).map(|word| {
        word.map(|word| match word {
            Word::Standing => Seen::Standing,
            Word::Leaning => Seen::Leaning,
            Word::Half => Seen::Half,
            Word::Down => Seen::Down,
        })
    });
    Look { guide, target, guard }
}

/// All readings that will be known of a firing, in the order in which they become known.
fn readings(truth: &Truth, knows: Knows) -> Vec<Known> {
    let every_min = |first: f64, reading: &dyn Fn(f64) -> Option<f64>| -> Vec<Known> {
        let end_h = truth.leans.len() as f64 * truth.step_s / 3600.0;
        let times = (0..).map(|nth| (first + 2.0 * f64::from(nth)) * MINUTE_H);
        let known = |at_h: f64| {
            let c = (reading(at_h)? * 10.0).round() / 10.0;
            Some(Known { from_h: at_h, reading: (after(at_h), Celsius(c)) })
        };
        times.take_while(|at_h| *at_h < end_h).filter_map(known).collect()
    };
    let first = || every_min(2.0, &|at_h| truth.probe_reading(at_h));
    match knows {
        Knows::Clock => Vec::new(),
        Knows::Hand => {
            // A number noted ahead of the clock counts from the time beside it.
            let typed = truth.typed_readings(20.0).into_iter();
            let mut known: Vec<Known> = typed
                .map(|typed| Known {
                    from_h: typed.at_h.max(typed.noted_h),
                    reading: (after(typed.noted_h), Celsius(typed.c)),
                })
                .collect();
            known.sort_by(|a, b| a.from_h.total_cmp(&b.from_h));
            known
        }
        Knows::Probe => first(),
        Knows::TwoProbes => {
            let mut both = first();
            both.extend(every_min(3.0, &|at_h| truth.second_probe_reading(at_h)));
            both.sort_by(|a, b| a.from_h.total_cmp(&b.from_h));
            both
        }
    }
}

/// Readings known by then, in the order of the times noted.
fn known_by(readings: &[Known], at_h: f64) -> Vec<(Moment, Celsius)> {
    let known = readings.iter().take_while(|known| known.from_h <= at_h);
    let mut known: Vec<_> = known.map(|known| known.reading).collect();
    known.sort_by_key(|(at, _)| *at);
    known
}

/// All of one row, or of many.
fn line(label: &str, came: &[Came]) -> String {
    let count = |hit: fn(&Came) -> bool| came.iter().filter(|came| hit(came)).count();
    let mean = |of: fn(&Came) -> f64| came.iter().map(of).sum::<f64>() / came.len() as f64;
    let quantile = |share: f64, of: fn(&Came) -> f64| {
        let mut sorted: Vec<f64> = came.iter().map(of).collect();
        sorted.sort_by(f64::total_cmp);
        sorted[((share * sorted.len() as f64).ceil() as usize).max(1) - 1]
    };
    format!(
        "{label:53} {:5} {:5} {:5} {:6.2} {:6.1} {:6.2} {:7.1} {:8.1}",
        came.len(),
        count(|came| came.over),
        count(|came| came.under),
        mean(|came| came.walks as f64),
        mean(|came| came.standing_min),
        mean(|came| came.walks as f64 + came.standing_min / STANDING_LIKE_A_LOOK_MIN),
        quantile(0.95, |came| came.late_min),
        quantile(0.05, |came| came.forgives_min),
    )
}

/// A kiln of one kind from its seed.
type Build = fn(u64) -> Kiln;

/// Every row on every kiln, by as many workers as there are processors. The past of a kiln is fired
/// once for all its rows.
fn fire_all(rows: &[Row], seeds: u64) -> Vec<Vec<Came>> {
    let loads = [Load::Gold, Load::EarthenwareGlaze, Load::Bisque];
    let used = loads.into_iter().filter(|load| rows.iter().any(|row| row.load == *load));
    let shops: Vec<(Load, u64, Build)> = used
        .flat_map(|load| {
            (1..=seeds).flat_map(move |seed| {
                [Kiln::gas as Build, Kiln::electric].map(|kiln| (load, seed, kiln))
            })
        })
        .collect();
    let next = AtomicUsize::new(0);
    let came = Mutex::new(vec![Vec::new(); rows.len()]);
    let workers = thread::available_parallelism().map_or(1, usize::from);
    thread::scope(|scope| {
        for _ in 0..workers {
            scope.spawn(|| {
                while let Some(&(load, seed, kiln)) =
                    shops.get(next.fetch_add(1, Ordering::Relaxed))
                {
                    let shop = Shop::open(kiln(seed), load, seed);
                    for knows in [Knows::Clock, Knows::Hand, Knows::Probe, Knows::TwoProbes] {
                        let past = shop.records(knows);
                        let of_these = |row: &Row| row.load == load && row.knows == knows;
                        for (place, row) in rows.iter().enumerate().filter(|(_, row)| of_these(row))
                        {
                            let one = shop.watched(row, &past);
                            came.lock().expect("no worker fails while it tells")[place].push(one);
                        }
                    }
                }
            });
        }
    });
    came.into_inner().expect("all workers are done")
}

/// Processor time of this program so far, seconds; `None` where the system does not tell it.
fn processor_s() -> Option<f64> {
    /// Ticks a second, as `/proc` counts them on Linux.
    const TICKS_PER_S: f64 = 100.0;
    let stat = std::fs::read_to_string("/proc/self/stat").ok()?;
    let fields: Vec<&str> = stat.rsplit_once(") ")?.1.split(' ').collect();
    let ticks = |place: usize| fields.get(place)?.parse::<f64>().ok();
    Some((ticks(11)? + ticks(12)?) / TICKS_PER_S)
}

/// Number of seeds, and the words a row must have.
fn asked() -> Result<(u64, String), String> {
    let mut seeds = 10;
    let mut words = Vec::new();
    let mut arguments = std::env::args().skip(1).filter(|argument| argument != "--bench");
    while let Some(argument) = arguments.next() {
        if argument == "--seeds" {
            let number = arguments.next().unwrap_or_default();
            seeds = number.parse().ok().filter(|seeds| (1..=10_000).contains(seeds)).ok_or_else(
                || format!("--seeds takes a whole number from 1 to 10000, not \"{number}\""),
            )?;
        } else {
            words.push(argument);
        }
    }
    Ok((seeds, words.join(" ")))
}

fn main() -> std::io::Result<()> {
    let out = &mut std::io::stdout().lock();
    let (seeds, words) = asked().map_err(std::io::Error::other)?;
    let rows: Vec<Row> = rows().into_iter().filter(|row| row.label().contains(&words)).collect();
    if rows.is_empty() {
        return Err(std::io::Error::other(format!("no row has \"{words}\" in it")));
    }
    let came = fire_all(&rows, seeds);
    writeln!(
        out,
        "{:34} {:10} {:7} {:>5} {:>5} {:>5} {:>6} {:>6} {:>6} {:>7} {:>8}",
        "fault",
        "knows",
        "load",
        "n",
        "late",
        "early",
        "walks",
        "stands",
        "looks",
        "p95",
        "forgives"
    )?;
    for (row, came) in rows.iter().zip(&came) {
        let label = format!("{:34} {:10} {}", row.name, row.knows.name(), load_name(row.load));
        writeln!(out, "{}", line(&label, came))?;
    }
    writeln!(out)?;
    for knows in [Knows::Clock, Knows::Hand, Knows::Probe, Knows::TwoProbes] {
        let these = rows.iter().zip(&came).filter(|(row, _)| row.knows == knows);
        let all: Vec<Came> = these.flat_map(|(_, came)| came.clone()).collect();
        if !all.is_empty() {
            writeln!(out, "{}", line(&format!("{:34} {}", "all", knows.name()), &all))?;
        }
    }
    let all = came.concat();
    writeln!(out, "{}", line(&format!("all {} rows", rows.len()), &all))?;
    let lost = all.iter().filter(|came| came.over || came.under).count();
    let limit_in_a_row = |came: &&Vec<Came>| {
        20 * came.iter().filter(|came| came.over || came.under).count() > came.len()
    };
    writeln!(
        out,
        "lost: {lost} of {} ({:.1} in 100); rows with more than 1 in 20 lost: {}",
        all.len(),
        100.0 * lost as f64 / all.len() as f64,
        came.iter().filter(limit_in_a_row).count()
    )?;
    match processor_s() {
        Some(seconds) => writeln!(out, "processor time: {seconds:.0} s"),
        None => writeln!(out, "processor time: not told by this system"),
    }
}
