//! Made-up casting shops: who pours, who checks when, what is noted, and what came of it.
//!
//! Nobody is there at night and on Sundays.

use std::sync::Arc;

use rand::RngExt as _;
use spyhole::testing::casting::{self, Advice, Casting, Event, Found, Learned, What};
use spyhole::testing::hours::{Hours, Open, People, ShopHours, Staffed, TimeOfDay};
use spyhole::testing::units::{Celsius, Moment, Span};
use spyhole::testing::words::FixedZone;

use super::worlds::{Chance, Pace, Physics, Seen, Truth, World, chance, normal};

/// Who says when to check.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Policy {
    At24,
    Mornings,
    MorningsAndEvenings,
    /// The program, asked before pouring or not.
    Advised {
        before_pouring: bool,
    },
    Knows,
}

/// The program, not asked before pouring.
pub const ADVISED: Policy = Policy::Advised { before_pouring: false };

/// What kind of shop it is.
#[derive(Debug, Clone, Copy)]
pub struct Setting {
    pub physics: Physics,
    pub pace: Pace,
    pub policy: Policy,
    /// How far people misjudge what they see, in ln of a piece's time.
    pub misjudges: f64,
    /// How often a note is forgotten.
    pub forgets: f64,
    /// Whether the room is read.
    pub air: bool,
    pub moulds: usize,
    pub days: usize,
    pub seed: u64,
}

impl Setting {
    pub fn usual(physics: Physics, pace: Pace, policy: Policy, seed: u64) -> Setting {
        let (misjudges, forgets) = (0.03, 0.0);
        Setting { physics, pace, policy, misjudges, forgets, air: true, moulds: 12, days: 91, seed }
    }
}

/// One forecast beside the truth.
#[derive(Debug, Clone, Copy)]
pub struct Asked {
    pub day: usize,
    /// Casts of the same mould before.
    pub before: usize,
    /// Whether it was found not ready before.
    pub looked: bool,
    pub held: bool,
    pub early: bool,
    pub late_before: bool,
    pub width_h: f64,
    /// The width of somebody who knows the world's laws.
    pub known_h: Option<f64>,
}

/// What came of it.
#[derive(Debug, Clone, Default)]
pub struct Told {
    pub casts: usize,
    pub checks: usize,
    pub forced: usize,
    pub cracked: usize,
    pub waited_h: f64,
    pub asked: Vec<Asked>,
    /// All that was noted.
    pub events: Vec<Event>,
    pub staffed: Option<Staffed>,
}

impl Told {
    pub fn add(&mut self, other: Told) {
        self.casts += other.casts;
        self.checks += other.checks;
        self.forced += other.forced;
        self.cracked += other.cracked;
        self.waited_h += other.waited_h;
        self.asked.extend(other.asked);
    }

    /// Per hundred casts.
    pub fn share(&self, count: usize) -> f64 {
        100.0 * count as f64 / self.casts.max(1) as f64
    }
}

const OPENS: f64 = 8.0;
const CLOSES: f64 = 18.0;
const BODIES: [(&str, f64); 2] = [("white", 1.0), ("stone", 1.18)];
/// A Monday.
const BEGINS: Moment = Moment(1_704_067_200_000);

pub fn moment(at: f64) -> Moment {
    BEGINS + Span::from_hours(at)
}

fn hours(at: Moment) -> f64 {
    (at - BEGINS).as_hours()
}

fn is_staffed(at: f64) -> bool {
    let of_day = at % 24.0;
    (at / 24.0) as usize % 7 != 6 && (OPENS..CLOSES).contains(&of_day)
}

fn first_staffed(from: f64) -> f64 {
    let mut at = (4.0 * from).ceil() / 4.0;
    while !is_staffed(at) {
        at += 0.25;
    }
    at
}

#[derive(Debug, Clone, Default)]
struct Mould {
    minutes: f64,
    body: usize,
    /// When it will be poured, while it is empty.
    pours: f64,
    cast: Option<(f64, Truth)>,
    next: f64,
    /// What was seen of its casts, the one in it included.
    seen: Vec<Seen>,
}

/// One shop as it goes on.
#[derive(Debug)]
pub struct Shop {
    setting: Setting,
    world: World,
    moulds: Vec<Mould>,
    chance: Chance,
    learned: Option<(usize, usize, Learned)>,
    told: Told,
}

impl Shop {
    /// Runs a shop from its first day to its last.
    pub fn run(setting: Setting) -> Told {
        let mut shop = Shop::new(setting);
        let mut at = 0.0;
        while at < 24.0 * setting.days as f64 {
            if setting.air && (at % 24.0 == OPENS || at % 24.0 == 17.0) && is_staffed(at) {
                let (celsius, humid) = shop.world.air(at);
                let humidity = (humid + 0.015 * normal(&mut shop.chance)).clamp(0.2, 0.98);
                shop.note(at, What::Room { celsius: Celsius(celsius), humidity });
            }
            if is_staffed(at) {
                for mould in 0..setting.moulds {
                    shop.mind(mould, at);
                }
            }
            at += 0.25;
        }
        shop.told
    }

    fn new(setting: Setting) -> Shop {
        let mut chance = chance(setting.seed, 7);
        let moulds = (0..setting.moulds)
            .map(|number| Mould {
                minutes: chance.random_range(12.0..26.0),
                body: number % 3 / 2,
                pours: 24.0 * chance.random_range(0..3) as f64 + chance.random_range(8.5..16.5),
                ..Mould::default()
            })
            .collect();
        let world = World::new(setting.physics, setting.pace, setting.moulds, setting.seed);
        let told = Told::default();
        let mut shop = Shop { setting, world, moulds, chance, learned: None, told };
        let days = "mon-sat".parse().unwrap();
        let zone = Arc::new(FixedZone(Span::ZERO));
        let [from, to] = [OPENS, CLOSES].map(|hour| TimeOfDay(60 * hour as u32));
        let mut hours = ShopHours::default();
        hours.set(Hours { days, open: Open { from, to, people: People(1) } });
        shop.told.staffed = Some(Staffed { hours, zone });
        for mould in 0..setting.moulds {
            let (code, parts) = (code(mould), Some(2));
            let described = casting::Mould { code, parts, ..Default::default() };
            shop.note(0.0, What::Mould(described));
        }
        shop
    }

    fn note(&mut self, at: f64, what: What) {
        self.told.events.push(Event { at: moment(at), what });
    }

    /// The same, if nobody forgets it.
    fn noted(&mut self, at: f64, what: What) {
        let forgets = self.setting.forgets;
        if forgets == 0.0 || self.chance.random_range(0.0..1.0) >= forgets {
            self.note(at, what);
        }
    }

    fn mind(&mut self, mould: usize, at: f64) {
        match self.moulds[mould].cast {
            None if self.moulds[mould].pours <= at && is_staffed(at + 0.75) => self.pour(mould, at),
            Some(_) if self.moulds[mould].next <= at => self.check(mould, at),
            _ => {}
        }
    }

    fn pour(&mut self, mould: usize, at: f64) {
        let (name, heavy) = BODIES[self.moulds[mould].body];
        if self.setting.policy == (Policy::Advised { before_pouring: true })
            && self.advice(mould, at, Some(name)).is_some_and(|advice| !advice.good)
        {
            // Asked again later in the day.
            self.moulds[mould].pours = first_staffed(at + 2.0);
            return;
        }
        let minutes = self.moulds[mould].minutes * (0.08 * normal(&mut self.chance)).exp();
        let drained = at + minutes / 60.0;
        self.note(at, What::Poured { mould: code(mould), body: name.into() });
        self.noted(drained, What::Drained { mould: code(mould) });
        let truth = self.world.drained(mould, drained, minutes, heavy);
        let of_mould = &mut self.moulds[mould];
        of_mould.cast = Some((drained, truth));
        let (after, before) = (drained, f64::INFINITY);
        of_mould.seen.push(Seen { drained, minutes, heavy, after, before });
        self.told.casts += 1;
        self.moulds[mould].next = self.next(mould, drained, false);
    }

    fn check(&mut self, mould: usize, at: f64) {
        let (drained, truth) = self.moulds[mould].cast.expect("it is full");
        self.told.checks += 1;
        let seems = self.setting.misjudges * normal(&mut self.chance);
        let seems_ready = at - drained >= (truth.lets_go - drained) * seems.exp();
        let found = match (at >= truth.late, seems_ready, at >= truth.lets_go) {
            (true, ..) => Found::Cracked,
            (_, true, true) => Found::Well,
            (_, true, false) => Found::Forced,
            _ => Found::NotYet,
        };
        self.noted(at, What::Check { mould: code(mould), found });
        let seen = self.moulds[mould].seen.last_mut().expect("a cast");
        match found {
            Found::NotYet | Found::Forced => seen.after = at,
            _ => seen.before = at,
        }
        if found == Found::NotYet {
            self.moulds[mould].next = self.next(mould, at, true);
            return;
        }
        self.told.forced += usize::from(found == Found::Forced);
        self.told.cracked += usize::from(found == Found::Cracked);
        self.told.waited_h += at - drained;
        self.moulds[mould].cast = None;
        let rest = first_staffed(at + self.chance.random_range(0.5..22.0));
        self.moulds[mould].pours = rest;
    }

    /// When it is checked next.
    fn next(&mut self, mould: usize, at: f64, looked: bool) -> f64 {
        let (drained, truth) = self.moulds[mould].cast.expect("it is full");
        let advice = self.advice(mould, at, None);
        if let Some(advice) = &advice {
            self.hold(mould, &truth, advice, (at, looked));
        }
        let after = first_staffed(at + 0.5);
        let on = |times: [f64; 2]| {
            let day = (after / 24.0).floor() * 24.0;
            let of_day =
                (0..9).flat_map(|ahead| times.map(|time| day + 24.0 * ahead as f64 + time));
            of_day.into_iter().find(|time| *time >= after && is_staffed(*time)).expect("a day")
        };
        match self.setting.policy {
            Policy::At24 => {
                first_staffed((drained + 24.0).max(if looked { at + 2.0 } else { 0.0 }))
            }
            Policy::Mornings => on([8.5, 8.5]),
            Policy::MorningsAndEvenings => on([8.5, 17.5]),
            Policy::Knows => first_staffed(truth.lets_go.max(at + 0.5)),
            Policy::Advised { .. } => {
                let planned = advice.and_then(|advice| advice.plan);
                let planned = planned.map(|plan| hours(plan.next));
                first_staffed(planned.unwrap_or(at + 4.0).max(at + 0.5))
            }
        }
    }

    fn hold(&mut self, mould: usize, truth: &Truth, advice: &Advice, (at, looked): (f64, bool)) {
        let window = &advice.window;
        let (from, to) = (hours(window.opens_p05), hours(window.opens_p95));
        let seen = &self.moulds[mould].seen;
        let (before, knows) = (seen.len() - 1, self.setting.policy == ADVISED);
        let known_h = if before >= 5 && !looked && knows {
            self.world.known_width(seen, &mut chance(self.setting.seed, seen.len() as u64))
        } else {
            None
        };
        self.told.asked.push(Asked {
            day: (at / 24.0) as usize,
            before,
            looked,
            held: (from..=to).contains(&truth.lets_go),
            early: truth.lets_go < from,
            late_before: hours(window.late_p05) < truth.late,
            width_h: to - from,
            known_h,
        });
    }

    /// What the program says; it learns anew once a day.
    fn advice(&mut self, mould: usize, at: f64, if_poured: Option<&str>) -> Option<Advice> {
        if !matches!(self.setting.policy, Policy::Advised { .. }) {
            return None;
        }
        let casting = Casting::new(self.told.events.clone(), self.told.staffed.clone(), moment(at))
            .expect("plain codes");
        let day = (at / 24.0) as usize;
        let stale = |(learned_on, bodies, _): &(usize, usize, Learned)| {
            *learned_on != day || *bodies != casting.bodies.len()
        };
        if self.learned.as_ref().is_none_or(stale) {
            self.learned = Some((day, casting.bodies.len(), Learned::new(&casting)));
        }
        let (_, _, learned) = self.learned.as_ref()?;
        learned.advice(&casting, mould, if_poured).ok()
    }
}

pub fn code(mould: usize) -> String {
    format!("M{mould}")
}
