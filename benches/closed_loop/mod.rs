//! Firings of simulated kilns, watched to their end by the program's advice.
//!
//! Somebody walks to the kiln when the advice says so; who is told to look again within a minute
//! stays and looks every minute. A "down" that the program doubts is looked at once more a minute
//! later, and struck if it was wrong; where the program asks for it, they read the numbers on the cones
//! then. Where no forecast is possible and a look is asked for, they
//! stay too.
//!
//! What the program asks for beside looks is done where the state of knowledge says so, and costs a walk
//! as well; everybody else is deaf to it. Who writes down a number that the program asks about reads the
//! display once more.
//!
//! Late: seen down after a cone half a number above the target would be down. Early: shut off before
//! a cone half a number below it would be. Either way the load is lost. Five minutes of standing
//! count as a look.

use std::io::{self, Write};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;

use spyhole::testing::cone::Family;
use spyhole::testing::firing::event::{GlowSeen, Look};
use spyhole::testing::firing::{Doubt, EventId, Firing, FiringId, Looked, Seen, State};
use spyhole::testing::forecast::misfit::misfit;
use spyhole::testing::forecast::{Question, USUAL_LIMIT, forecast};
use spyhole::testing::glow::{GlowWord, Room};
use spyhole::testing::kiln::{LoadType, Miss, starter};
use spyhole::testing::units::{Celsius, Moment, Span};
use spyhole::testing::watch::request::TEMPERATURE_AT;
use spyhole::testing::watch::task::Task;
use spyhole::testing::watch::{Advice, advise};

pub(crate) mod kilns;
#[path = "../../tests/it/simulator.rs"]
pub(crate) mod simulator;
#[path = "../../tests/it/strangers/mod.rs"]
pub(crate) mod strangers;

use kilns::{Kiln, Make, pack};
use strangers::chance::Chance;
use strangers::faults::Fault;
use strangers::firing::Firing as Truth;
use strangers::loads::Load;
use strangers::people::{Person, Typed, Word};

/// Firings behind a kiln that is well known.
pub(crate) const PAST_FIRINGS: u64 = 10;
/// Number of the day that is watched; the past ones are numbered from 1.
pub(crate) const TODAY: u64 = 100;
const EYE_DEG: f64 = 6.0;
/// How far off a person names the colour of the glow, C, as a standard deviation.
const GLOW_ERROR_C: f64 = 60.0;
const MINUTE_H: f64 = 1.0 / 60.0;
/// Share of the usual length at which the advice on a well-known kiln is first asked.
const FIRST_ASKED: f64 = 0.4;
/// How long after a load is over somebody still minds it, hours: it is lost anyway.
const GIVES_UP_H: f64 = 1.0;
/// Standing so long counts as one look, minutes.
pub(crate) const STANDING_LIKE_A_LOOK_MIN: f64 = 5.0;

/// The lighting of every firing: a moment of no meaning.
const LIT: Moment = Moment(1_750_000_000_000);

fn after(hours: f64) -> Moment {
    LIT + Span::from_hours(hours)
}

fn hours(at: Moment) -> f64 {
    (at - LIT).as_hours()
}

/// The loads that are tried.
pub(crate) const LOADS: [Load; 3] = [Load::Gold, Load::EarthenwareGlaze, Load::Bisque];

pub(crate) fn load_name(load: Load) -> &'static str {
    match load {
        Load::Gold => "gold",
        Load::EarthenwareGlaze => "glaze",
        Load::Bisque => "bisque",
        _ => "other",
    }
}

/// The load type of the shop's own starter set.
fn starters(load: Load) -> LoadType {
    let name = match load {
        Load::EarthenwareGlaze => "earthenware glaze",
        Load::Bisque => "earthenware bisque",
        _ => load_name(load),
    };
    let mut types = starter::load_types().into_iter();
    types.find(|load_type| load_type.name == name).expect("one of the starter set")
}

/// What is read off the display of the kiln.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Knows {
    /// Nothing: there is the clock, and what is seen of the cones.
    Clock,
    /// Nothing but what the program asks for: one number, or at every second kiln, which has no
    /// display, the colour of the glow.
    Asked,
    /// Numbers written down every 20 minutes.
    Hand,
    /// The probe, every 2 minutes.
    Probe,
    /// Two probes, each every 2 minutes and in turns.
    TwoProbes,
}

impl Knows {
    pub(crate) const ONE: [Knows; 4] = [Knows::Clock, Knows::Asked, Knows::Hand, Knows::Probe];
    pub(crate) const ALL: [Knows; 5] =
        [Knows::Clock, Knows::Asked, Knows::Hand, Knows::Probe, Knows::TwoProbes];

    pub(crate) fn name(self) -> &'static str {
        match self {
            Knows::Clock => "clock",
            Knows::Asked => "clock+asks",
            Knows::Hand => "hand",
            Knows::Probe => "probe",
            Knows::TwoProbes => "two probes",
        }
    }
}

/// How somebody minds a kiln.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Manner {
    /// Errs by an eye of 6 degrees alone; there anything between so many minutes after a call.
    Careful { walk_min: (f64, f64) },
    /// As found in the trials: over a third of the walks 2 to 15 minutes late, every fifth guide not
    /// mentioned, times up to 3 minutes off, one number in fifty mistyped.
    AsFound,
}

impl Manner {
    /// Ordinary days: there within a minute.
    pub(crate) const AT_HAND: Manner = Manner::Careful { walk_min: (0.0, 1.0) };

    /// Share of the numbers that are mistyped.
    fn slips(self) -> f64 {
        if matches!(self, Manner::AsFound) { 0.02 } else { 0.0 }
    }
}

/// Somebody who minds one firing.
#[derive(Debug)]
struct Minder {
    person: Person,
    manner: Manner,
    chance: Chance,
    /// Whether the kiln has a display that shows its temperature.
    has_display: bool,
}

impl Minder {
    fn new(manner: Manner, faults: &[Fault], seed: u64) -> Minder {
        let person = match manner {
            Manner::Careful { .. } => Person::careful(EYE_DEG, faults, seed),
            Manner::AsFound => Person::as_found(faults, seed),
        };
        let has_display = seed.is_multiple_of(2);
        Minder { person, manner, chance: Chance::new(seed).branch(300), has_display }
    }

    fn walk_h(&mut self) -> f64 {
        let min = match self.manner {
            Manner::Careful { walk_min } => self.chance.between(walk_min.0, walk_min.1),
            Manner::AsFound => self.person.walk_late_min(),
        };
        min * MINUTE_H
    }

    /// Does what is asked for: the number, where there is a display, else the colour of the glow in a dark
    /// room, and declines what cannot be done.
    fn answer(
        &mut self,
        asked: Task,
        truth: &Truth,
        at_h: f64,
        firing: &mut Firing,
    ) -> Option<Known> {
        let at = after(at_h);
        let read = truth.probe_reading(at_h).filter(|_| self.has_display);
        match (asked, read) {
            (Task::ReadTemperature, Some(c)) => {
                let reading = (at, tenths(c));
                return Some(Known { from_h: at_h, reading });
            }
            (Task::ReadTemperature, None) => {
                firing.acknowledged.push((at, asked.name().to_owned()));
            }
            _ => {
                let chamber = &truth.chamber_at_cone_c;
                let step =
                    ((at_h.max(0.0) * 3600.0 / truth.step_s) as usize).min(chamber.len() - 1);
                let c = chamber[step] + self.chance.normal(0.0, GLOW_ERROR_C);
                let off = |word: &GlowWord| (word.middle().0 - c).abs();
                let nearest = GlowWord::ALL.into_iter().min_by(|a, b| off(a).total_cmp(&off(b)));
                let glow = nearest.map(|colour| (at, GlowSeen { colour, room: Room::Dark }));
                firing.glows.extend(glow);
            }
        }
        None
    }

    /// Looks, and writes it down; the answer is what was written of the target.
    fn look(&mut self, truth: &Truth, at_h: f64, firing: &mut Firing) -> Option<Seen> {
        let mut look = seen(truth.look(at_h, &mut self.person));
        // The program asks whether that is meant, and says to read the numbers.
        if look.is_against_the_order() {
            self.person.reads_the_numbers();
            look = seen(truth.look(at_h, &mut self.person));
        }
        let off_h = match self.manner {
            Manner::Careful { .. } => 0.0,
            // Nobody writes down a time that has not come.
            Manner::AsFound => self.chance.between(-3.0, 3.0).min(0.0) * MINUTE_H,
        };
        let at = after(at_h + off_h);
        // Looks stay in the order in which they were made.
        let at = firing.looks.last().map_or(at, |last| at.max(last.at + Span::seconds(1)));
        firing.looks.push(Looked { event: EventId(0), at, look });
        look.target
    }
}

/// What a person said, as the program has it.
fn seen(words: [Option<Word>; 3]) -> Look {
    let [guide, target, guard] = words.map(|word| {
        word.map(|word| match word {
            Word::Standing => Seen::Standing,
            Word::Leaning => Seen::Leaning,
            Word::Half => Seen::Half,
            Word::Down => Seen::Down,
        })
    });
    Look { guide, target, guard }
}

/// A kiln with a load and what is known of its past.
pub(crate) struct Shop {
    kiln: Kiln,
    pub(crate) load: Load,
    pub(crate) make: Make,
    pub(crate) seed: u64,
    past: Vec<Truth>,
    load_type: LoadType,
}

/// What came of one firing.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Came {
    pub(crate) late_min: f64,
    /// From the drop until the load is over, minutes.
    pub(crate) forgives_min: f64,
    pub(crate) over: bool,
    pub(crate) under: bool,
    pub(crate) walks: usize,
    pub(crate) standing_min: f64,
}

impl Came {
    pub(crate) fn lost(&self) -> bool {
        self.over || self.under
    }

    fn looks(&self) -> f64 {
        self.walks as f64 + self.standing_min / STANDING_LIKE_A_LOOK_MIN
    }
}

/// A reading, and when it became known, hours since the lighting.
#[derive(Debug, Clone, Copy)]
struct Known {
    from_h: f64,
    reading: (Moment, Celsius),
}

/// The 5 to 95 % window told at some moment of a watch.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Window {
    pub(crate) holds_the_drop: bool,
    pub(crate) width_min: f64,
}

/// A watch that has ended.
pub(crate) struct Watched {
    pub(crate) came: Came,
    /// What is on record of it from now on.
    pub(crate) record: Firing,
    /// At each moment asked for; none where the load was out by then, or no forecast was made.
    pub(crate) windows: Vec<Option<Window>>,
    /// Right after the first look that saw the target move and not down.
    pub(crate) moved: Option<Window>,
}

impl Shop {
    /// A shop that has its load type from the starter set, and so many firings behind it.
    pub(crate) fn open(make: Make, load: Load, seed: u64, past: u64) -> Shop {
        let kiln = Kiln::draw(make, load, seed);
        let past = (1..=past).map(|day| kiln.fire(load, &[], day)).collect();
        let load_type = LoadType {
            target: pack(load).target,
            family: Family::SelfSupporting,
            under_cones: 0.5,
            over_cones: 0.5,
            under: Miss::FireAgain,
            over: Miss::Lost,
            ..starters(load)
        };
        Shop { kiln, load, make, seed, past, load_type }
    }

    /// The same shop, where nobody ever said how long such a firing usually takes.
    pub(crate) fn without_usual_length(mut self) -> Shop {
        self.load_type.usual_length = None;
        self
    }

    /// How long such a firing took in the past, hours.
    pub(crate) fn usual_h(&self) -> f64 {
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
    pub(crate) fn records(&self, knows: Knows, manner: Manner) -> Vec<Firing> {
        let record = |(number, truth): (u64, &Truth)| {
            let mut chance = Chance::new(self.seed).branch(200 + number);
            let mut minder = Minder::new(manner, &[], self.seed + 1_000 * number);
            let mut firing = self.lit(truth, number);
            let mut walk_h = minder.walk_h();
            let mut at_h = truth.drop_h - chance.between(0.3, 0.9);
            loop {
                called(&mut firing, after(at_h - walk_h));
                if minder.look(truth, at_h, &mut firing) == Some(Seen::Down) {
                    break;
                }
                let near = firing.looks.last().and_then(|last| last.look.guide) == Some(Seen::Down);
                let pause_h =
                    if near { chance.between(0.04, 0.09) } else { chance.between(0.1, 0.2) };
                walk_h = minder.walk_h();
                at_h += pause_h.max(walk_h);
            }
            let truth = truth.clone().slipping(manner.slips());
            firing.readings = known_by(&readings(&truth, knows, &firing, &[]), at_h);
            if knows == Knows::Asked {
                let asked_h = TEMPERATURE_AT * self.usual_h() + minder.walk_h();
                let asked = [Task::ReadTemperature, Task::NameGlow].into_iter();
                let read = asked.take(2 - usize::from(minder.has_display));
                firing.readings = read
                    .filter_map(|asked| minder.answer(asked, &truth, asked_h, &mut firing))
                    .map(|known| known.reading)
                    .collect();
            }
            closed(&mut firing, at_h);
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

    /// Firing of one more day, with its faults.
    pub(crate) fn fire(&self, faults: &[Fault], day: u64) -> Truth {
        self.kiln.fire(self.load, faults, day)
    }

    /// The middle of the forecast made at the lighting, hours since the true one.
    pub(crate) fn middle_at_lighting_h(&self, truth: &Truth, past: &[Firing]) -> Option<f64> {
        let firing = self.lit(truth, past.len() as u64 + 1);
        let forecast = forecast(&self.question(&firing, past, truth.lit_noted_h)).ok()?;
        Some(hours(forecast.p50))
    }
}

/// Somebody is called to the kiln by the watch.
fn called(firing: &mut Firing, at: Moment) {
    firing.calls.push((EventId(0), at));
}

fn closed(firing: &mut Firing, off_h: f64) {
    firing.off = Some(after(off_h));
    firing.state = State::Closed;
}

/// A firing and those who watch it.
pub(crate) struct Watch<'a> {
    pub(crate) shop: &'a Shop,
    pub(crate) past: &'a [Firing],
    pub(crate) truth: Truth,
    pub(crate) faults: &'a [Fault],
    pub(crate) knows: Knows,
    pub(crate) manner: Manner,
}

impl Watch<'_> {
    /// Follows the advice to the end. The windows of the moments are told as they pass, hours since
    /// the lighting.
    pub(crate) fn follow_advice(self, moments: &[f64]) -> Watched {
        let Watch { shop, past, truth, faults, knows, manner } = self;
        let truth = truth.slipping(manner.slips());
        let mut minder = Minder::new(manner, faults, shop.seed);
        let mut firing = shop.lit(&truth, past.len() as u64 + 1);
        let mut readings = readings(&truth, knows, &firing, past);
        // A kiln that nobody knows is watched from the lighting on.
        let well_known = past.len() as u64 >= PAST_FIRINGS;
        let first_asked_h = FIRST_ASKED * shop.usual_h() + truth.lit_noted_h.min(0.0);
        let mut now_h = if well_known { first_asked_h } else { truth.lit_noted_h };
        let (mut walks, mut standing_min) = (0, 0.0);
        let (mut is_there, mut doubted) = (false, false);
        let window = |firing: &Firing, now_h: f64| {
            let forecast = forecast(&shop.question(firing, past, now_h)).ok()?;
            let drop = after(truth.drop_h);
            let holds_the_drop = forecast.p05 <= drop && drop <= forecast.p95;
            Some(Window { holds_the_drop, width_min: (forecast.p95 - forecast.p05).as_minutes() })
        };
        let mut windows = vec![None; moments.len()];
        let mut moved = None;
        let mut passed_h = truth.lit_noted_h - MINUTE_H;
        let mut pass = |firing: &mut Firing, readings: &[Known], now_h: f64| {
            for (told, &at_h) in windows.iter_mut().zip(moments) {
                if passed_h < at_h && at_h <= now_h {
                    firing.readings = known_by(readings, at_h);
                    *told = window(firing, at_h);
                }
            }
            passed_h = now_h;
            firing.readings = known_by(readings, now_h);
        };
        let gives_up_h = truth.over_h + GIVES_UP_H;
        loop {
            pass(&mut firing, &readings, now_h);
            let advice = advise(&shop.question(&firing, past, now_h));
            if advice.say == Task::ShutOff && (advice.doubt.is_none() || doubted) {
                break;
            }
            if now_h > gives_up_h {
                minder.look(&truth, now_h, &mut firing);
                break;
            }
            if !calls(&advice, is_there, now_h) {
                is_there = false;
                if let (Knows::Asked, Some(request)) = (knows, advice.request) {
                    now_h += minder.walk_h();
                    walks += 1;
                    readings.extend(minder.answer(request.asked, &truth, now_h, &mut firing));
                    continue;
                }
                now_h = next_asked(&advice, &readings, now_h);
                continue;
            }
            if is_there {
                now_h += MINUTE_H;
                standing_min += 1.0;
            } else {
                called(&mut firing, after(now_h));
                now_h += minder.walk_h();
                walks += 1;
                is_there = true;
            }
            pass(&mut firing, &readings, now_h);
            if matches!(advice.doubt, Some(Doubt::GuideStood(_))) {
                minder.person.reads_the_numbers();
            }
            let target = minder.look(&truth, now_h, &mut firing);
            let down = target == Some(Seen::Down);
            if advice.say == Task::ShutOff && !down {
                // The first of the two was wrong, and is struck.
                firing.looks.remove(firing.looks.len() - 2);
            }
            doubted = advice.say == Task::ShutOff && down;
            if moved.is_none() && matches!(target, Some(Seen::Leaning | Seen::Half)) {
                moved = Some(window(&firing, now_h));
            }
        }
        closed(&mut firing, now_h);
        let came = Came {
            late_min: 60.0 * (now_h - truth.drop_h),
            forgives_min: 60.0 * (truth.over_h - truth.drop_h),
            over: now_h > truth.over_h,
            under: now_h < truth.under_h,
            walks,
            standing_min,
        };
        Watched { came, record: firing, windows, moved: moved.flatten() }
    }
}

/// Whether somebody looks now, or a minute later if they are at the kiln already.
fn calls(advice: &Advice, is_there: bool, now_h: f64) -> bool {
    let soon = advice.next_look.is_some_and(|next| hours(next) <= now_h + 1.01 * MINUTE_H);
    advice.say != Task::NextLook || (is_there && soon)
}

/// When the advice is asked again: at the next look, or before it with the next number written
/// down; a probe is heard the oftener the nearer the look is. As long as nothing is written down, every
/// ten minutes, so that requests are met.
fn next_asked(advice: &Advice, readings: &[Known], now_h: f64) -> f64 {
    let look_h = advice.next_look.map_or(now_h + 0.25, hours);
    let pause_h = ((look_h - now_h) / 4.0).clamp(2.0 * MINUTE_H, 10.0 * MINUTE_H);
    let heard_h = readings.iter().map(|known| known.from_h).find(|from_h| *from_h > now_h);
    let heard_h = heard_h.map_or(f64::INFINITY, |heard_h| heard_h.max(now_h + pause_h));
    let heard_h = if readings.is_empty() { now_h + 10.0 * MINUTE_H } else { heard_h };
    look_h.min(heard_h).max(now_h + MINUTE_H)
}

/// All readings that will be known of a firing, in the order in which they become known.
fn readings(truth: &Truth, knows: Knows, firing: &Firing, past: &[Firing]) -> Vec<Known> {
    let every_min = |first: f64, reading: &dyn Fn(f64) -> Option<f64>| -> Vec<Known> {
        let end_h = truth.leans.len() as f64 * truth.step_s / 3600.0;
        let times = (0..).map(|nth| (first + 2.0 * f64::from(nth)) * MINUTE_H);
        let known = |at_h: f64| {
            let c = tenths(reading(at_h)?);
            Some(Known { from_h: at_h, reading: (after(at_h), c) })
        };
        times.take_while(|at_h| *at_h < end_h).filter_map(known).collect()
    };
    let first = || every_min(2.0, &|at_h| truth.probe_reading(at_h));
    match knows {
        Knows::Clock | Knows::Asked => Vec::new(),
        Knows::Hand => written(truth, firing, past),
        Knows::Probe => first(),
        Knows::TwoProbes => {
            let mut both = first();
            both.extend(every_min(3.0, &|at_h| truth.second_probe_reading(at_h)));
            both.sort_by(|a, b| a.from_h.total_cmp(&b.from_h));
            both
        }
    }
}

/// As a display shows it.
fn tenths(c: f64) -> Celsius {
    Celsius((c * 10.0).round() / 10.0)
}

/// What is written down every 20 minutes: whatever the program asks about is read once more.
fn written(truth: &Truth, firing: &Firing, past: &[Firing]) -> Vec<Known> {
    // A number noted ahead of the clock counts from the time beside it.
    let mut typed = truth.typed_readings(20.0);
    let from_h = |typed: &Typed| typed.at_h.max(typed.noted_h);
    typed.sort_by(|a, b| from_h(a).total_cmp(&from_h(b)));
    let mut book = firing.clone();
    let mut known = Vec::new();
    for typed in typed {
        let at = after(typed.noted_h);
        let place = book.readings.partition_point(|(noted, _)| *noted <= at);
        book.readings.insert(place, (at, Celsius(typed.c)));
        if misfit(&book, book.readings[place], past).is_some()
            && let Some(c) = truth.probe_reading(typed.at_h)
        {
            book.readings[place].1 = tenths(c);
        }
        known.push(Known { from_h: from_h(&typed), reading: book.readings[place] });
    }
    known
}

/// Readings known by then, in the order of the times noted.
fn known_by(readings: &[Known], at_h: f64) -> Vec<(Moment, Celsius)> {
    let known = readings.iter().take_while(|known| known.from_h <= at_h);
    let mut known: Vec<_> = known.map(|known| known.reading).collect();
    known.sort_by_key(|(at, _)| *at);
    known
}

/// Work on every job by as many workers as there are processors; the answers in the order of the jobs.
pub(crate) fn all<J: Sync, A: Send>(jobs: &[J], work: impl Fn(&J) -> A + Sync) -> Vec<A> {
    let next = AtomicUsize::new(0);
    let answers: Mutex<Vec<(usize, A)>> = Mutex::default();
    let workers = thread::available_parallelism().map_or(1, usize::from);
    thread::scope(|scope| {
        for _ in 0..workers {
            scope.spawn(|| {
                loop {
                    let place = next.fetch_add(1, Ordering::Relaxed);
                    let Some(job) = jobs.get(place) else { return };
                    let answer = work(job);
                    answers.lock().expect("no worker fails while it tells").push((place, answer));
                }
            });
        }
    });
    let mut answers = answers.into_inner().expect("all workers are done");
    answers.sort_by_key(|(place, _)| *place);
    answers.into_iter().map(|(_, answer)| answer).collect()
}

/// Makes, loads and seeds from 1 on, in every combination.
pub(crate) fn shops(makes: &[Make], loads: &[Load], seeds: u64) -> Vec<(Make, Load, u64)> {
    let mut shops = Vec::new();
    for seed in 1..=seeds {
        for &load in loads {
            shops.extend(makes.iter().map(|&make| (make, load, seed)));
        }
    }
    shops
}

/// Value that a share of all does not exceed.
pub(crate) fn quantile(share: f64, mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[((share * values.len() as f64).ceil() as usize).max(1) - 1]
}

/// What stands over the lines of [`line`].
pub(crate) fn headline(label: &str) -> String {
    format!(
        "{label:53} {:>5} {:>5} {:>5} {:>6} {:>6} {:>6} {:>6} {:>6} {:>6} {:>6} {:>8} {:>6}",
        "n",
        "late",
        "early",
        "walks",
        "stands",
        "looks",
        "most",
        "p50",
        "p95",
        "max",
        "forgives",
        "share"
    )
}

/// What came of many watches: lost because found late or shut off early; walks, minutes of standing and
/// looks on average, and the most looks; how late the target was found, minutes; what nineteen of
/// twenty loads forgave at least, minutes; and what share of it nineteen of twenty used up at most.
pub(crate) fn line(label: &str, came: &[Came]) -> String {
    let count = |hit: fn(&Came) -> bool| came.iter().filter(|came| hit(came)).count();
    let mean = |of: fn(&Came) -> f64| came.iter().map(of).sum::<f64>() / came.len() as f64;
    let at = |share: f64, of: fn(&Came) -> f64| quantile(share, came.iter().map(of).collect());
    let late = |share: f64| at(share, |came| came.late_min);
    format!(
        "{label:53} {:5} {:5} {:5} {:6.2} {:6.1} {:6.2} {:6.1} {:6.1} {:6.1} {:6.1} {:8.1} {:6.2}",
        came.len(),
        count(|came| came.over),
        count(|came| came.under),
        mean(|came| came.walks as f64),
        mean(|came| came.standing_min),
        mean(Came::looks),
        at(1.0, Came::looks),
        late(0.5),
        late(0.95),
        late(1.0),
        at(0.05, |came| came.forgives_min),
        at(0.95, |came| came.late_min / came.forgives_min),
    )
}

pub(crate) fn lost(came: &[Came]) -> usize {
    came.iter().filter(|came| came.lost()).count()
}

/// What was asked for on the command line.
#[derive(Debug)]
pub(crate) struct Asked {
    pub(crate) seeds: Option<u64>,
    /// Flags that were given, of those there are.
    pub(crate) flags: Vec<String>,
    pub(crate) words: Vec<String>,
}

impl Asked {
    pub(crate) fn of(known: &[&str]) -> io::Result<Asked> {
        let mut asked = Asked { seeds: None, flags: Vec::new(), words: Vec::new() };
        let mut arguments = std::env::args().skip(1).filter(|argument| argument != "--bench");
        while let Some(argument) = arguments.next() {
            if argument == "--seeds" {
                let number = arguments.next().unwrap_or_default();
                let seeds = number.parse().ok().filter(|seeds| (1..=10_000).contains(seeds));
                asked.seeds = Some(seeds.ok_or_else(|| {
                    io::Error::other(format!(
                        "--seeds takes a whole number from 1 to 10000, not \"{number}\""
                    ))
                })?);
            } else if known.contains(&&*argument) {
                asked.flags.push(argument);
            } else if argument.starts_with("--") {
                let known = [&["--seeds"], known].concat().join(", ");
                let said = format!("there is no option \"{argument}\"; there are: {known}");
                return Err(io::Error::other(said));
            } else {
                asked.words.push(argument);
            }
        }
        Ok(asked)
    }

    pub(crate) fn has(&self, flag: &str) -> bool {
        self.flags.iter().any(|given| given == flag)
    }
}

pub(crate) fn tell_processor_time(out: &mut impl Write) -> io::Result<()> {
    match processor_s() {
        Some(seconds) => writeln!(out, "processor time: {seconds:.0} s"),
        None => writeln!(out, "processor time: not told by this system"),
    }
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
