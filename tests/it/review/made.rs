//! Made-up firings for the review: a kiln with its own habits, a probe that may be off, cones that
//! differ, somebody who looks every few minutes.

use rand::{RngExt as _, SeedableRng as _};
use rand_pcg::Pcg64Mcg;
use spyhole::testing::cone::{Cone, Family, HeatWork, curve, lean_deg};
use spyhole::testing::firing::event::Outcome;
use spyhole::testing::firing::event::{Counted, Look, Packing, ShelfCone};
use spyhole::testing::firing::{ConePack, EventId, Firing, FiringId, Looked, Seen, State, Verdict};
use spyhole::testing::kiln::{Fuel, Kiln, LoadType, Miss};
use spyhole::testing::review::prices::{Kind, Price};
use spyhole::testing::units::{Celsius, Moment, Span};

pub(crate) fn cone(name: &str) -> Cone {
    Cone::parse(name).unwrap()
}

/// How one made-up firing goes.
#[derive(Debug, Clone)]
pub(crate) struct Making {
    pub id: i64,
    pub kiln: &'static str,
    pub load_type: &'static str,
    pub target: Cone,
    pub lit: Moment,
    /// C/h over the whole climb.
    pub climb: f64,
    /// What the probe reads above the chamber, C.
    pub probe_high: f64,
    /// Scatter of a single reading, C.
    pub noise: f64,
    /// This cone goes down so much hotter than the chart says, C.
    pub cone_late: f64,
    /// Minutes between readings and between looks near the end.
    pub every_min: i64,
    pub looks_every_min: i64,
    /// Off so long after the target was seen down, minutes; negative is before the drop.
    pub off_after: f64,
    pub seed: u64,
}

impl Default for Making {
    fn default() -> Self {
        Making {
            id: 1,
            kiln: "North",
            load_type: "gold",
            target: cone("018"),
            lit: Moment(1_750_000_000_000),
            climb: 150.0,
            probe_high: 0.0,
            noise: 1.0,
            cone_late: 0.0,
            every_min: 5,
            looks_every_min: 5,
            off_after: 2.0,
            seed: 1,
        }
    }
}

/// Standard normal draws, repeatable (sum of twelve uniforms: plain, and another way than ours).
pub(crate) struct Chance(Pcg64Mcg);

impl Chance {
    pub(crate) fn seeded(seed: u64) -> Self {
        Chance(Pcg64Mcg::seed_from_u64(seed))
    }
    pub(crate) fn uniform(&mut self) -> f64 {
        self.0.random()
    }
    pub(crate) fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}

impl Making {
    /// The chamber, so many minutes after lit.
    fn chamber(&self, minutes: f64) -> f64 {
        20.0 + self.climb * minutes / 60.0
    }

    /// What somebody calls the cone before it is down; the eye is off by 5 degrees or so.
    fn word(&self, minutes: f64, chance: &mut Chance) -> Seen {
        let curve = curve(self.target, Family::SelfSupporting).unwrap();
        let ends = Celsius(self.chamber(minutes) - self.cone_late);
        let lean = lean_deg(curve.rate_ending_at(ends).0 / self.climb) + 5.0 * chance.normal();
        let seen = Seen::ALL.into_iter().find(|seen| lean <= seen.lean_range_deg().1);
        seen.unwrap_or(Seen::Down).min(Seen::Half)
    }

    /// Minutes from lit to the drop, by adding up heat work minute by minute.
    pub(crate) fn drop_minutes(&self) -> f64 {
        let mut work = HeatWork::new(curve(self.target, Family::SelfSupporting).unwrap());
        let step = Span::seconds(10);
        for index in 0.. {
            let at = Moment(step.0 * index);
            let minutes = Span(at.0).as_minutes();
            work.append(at, Celsius(self.chamber(minutes) - self.cone_late));
            if work.total() >= 1.0 {
                return minutes;
            }
        }
        unreachable!()
    }

    pub(crate) fn firing(&self) -> Firing {
        let mut chance = Chance::seeded(self.seed);
        let drop = self.drop_minutes();
        let at = |minutes: f64| self.lit + Span::from_minutes(minutes);
        let mut looks = Vec::new();
        let early = drop + self.off_after.min(0.0);
        // Where the looks fall against the drop is a matter of chance.
        let mut minutes = drop - 40.0 - self.looks_every_min as f64 * chance.uniform();
        let off = loop {
            let seen = if minutes >= drop { Seen::Down } else { self.word(minutes, &mut chance) };
            if self.off_after < 0.0 && minutes > early {
                break early;
            }
            let look = Look { target: Some(seen), ..Look::default() };
            looks.push(Looked { event: EventId(0), at: at(minutes), look });
            if seen == Seen::Down {
                break minutes + self.off_after;
            }
            minutes += self.looks_every_min as f64;
        };
        let mut readings = Vec::new();
        let mut minutes = 0.0;
        while minutes <= off {
            let read = self.chamber(minutes) + self.probe_high + self.noise * chance.normal();
            readings.push((at(minutes), Celsius(read)));
            minutes += self.every_min as f64;
        }
        Firing {
            id: FiringId(self.id),
            kiln: self.kiln.to_owned(),
            load_type: self.load_type.to_owned(),
            pack: Some(ConePack::usual(self.target, Family::SelfSupporting)),
            lit: Some(self.lit),
            readings,
            looks,
            off: Some(at(off)),
            state: State::Off,
            ..Firing::default()
        }
    }
}

pub(crate) fn judged(
    mut firing: Firing,
    verdict: Verdict,
    shelves: &[(&str, &str, Seen)],
) -> Firing {
    let shelves = shelves
        .iter()
        .map(|&(place, name, seen)| ShelfCone { place: place.to_owned(), cone: cone(name), seen })
        .collect();
    let outcome = Outcome { shelves, ..came(verdict) };
    firing.outcome = firing.off.map(|off| (off + Span::hours(12), outcome));
    firing.state = State::Closed;
    firing
}

pub(crate) fn packed(mut firing: Firing, pieces: u32, worth: f64) -> Firing {
    firing.packing = Some(Packing {
        kiln: firing.kiln.clone(),
        load_type: firing.load_type.clone(),
        contents: "cups".into(),
        pieces: Some(pieces),
        worth: Some(worth),
        pack: firing.pack,
        ..Packing::default()
    });
    firing
}

pub(crate) fn gold(under_cones: f64, over_cones: f64) -> LoadType {
    LoadType {
        name: "gold".into(),
        target: cone("018"),
        family: Family::SelfSupporting,
        under_cones,
        over_cones,
        under: Miss::FireAgain,
        over: Miss::Lost,
        usual_length: None,
        cautions: Vec::new(),
    }
}

/// What something costs from the beginning of time.
pub(crate) fn price(kind: Kind, of: &str, value: f64, unit: &str) -> Price {
    Price { from: Moment(0), kind, of: of.into(), value, unit: unit.into() }
}

/// An outcome of which nothing is said but this.
pub(crate) fn came(verdict: Verdict) -> Outcome {
    let (note, shelves) = (String::new(), Vec::new());
    Outcome { verdict, note, shelves, loss: None, counted: Counted::default(), full: None }
}

pub(crate) fn kiln(name: &str, fuel: Fuel) -> Kiln {
    Kiln { name: name.into(), fuel, litres: None, ceiling: None, fastest_climb: None }
}
