//! The instance a plan is made for, and a plan as it was answered, read from JSON: nothing guessed.
//!
//! A key this program does not know is an error, as is a name that is nowhere else, a time without its
//! offset, and a number that cannot be. Moments become minutes from `now`.

mod keys;
mod stated;
mod was;

pub use stated::StatedZone;
pub use was::{Was, plan};

use chrono::{DateTime, Timelike};
use serde_json::Value;

use super::schedule_file::{self, LONGEST_FILE, ScheduleFileError};
use crate::plan::instance::{
    Fuel, Instance, Kiln, Limits, LoadType, Lot, Person, Tariff, Way, Weights,
};
use crate::plan::spread::Spread;
use crate::text;
use crate::units::Moment;
use crate::words::Zone;
use keys::{Can, InstanceKeys, Points};

/// The version of either form that is read and written.
pub const VERSION: u32 = 1;

/// How far from `now` a rota, a drop or a lighting may lie, minutes: two months.
const HORIZON_MIN: f64 = 60.0 * 1440.0;

/// How far away any other moment may lie, minutes: ten years.
const FAR_MIN: f64 = 3653.0 * 1440.0;

/// The longest climb or cooling, minutes: two weeks.
const LONGEST_MIN: f64 = 14.0 * 1440.0;

/// The most anything may be that has no bound of its own.
const MUCH: f64 = 1e6;

/// Why an instance or a plan was refused.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PlanFileError {
    #[error(transparent)]
    Text(#[from] ScheduleFileError),
    #[error("it is longer than {LONGEST_FILE} bytes, which no plan needs: give the right file")]
    TooLong,
    #[error("{place}: there is a list in the place of keys: write it in braces")]
    Unkeyed { place: String },
    #[error(
        "{key} is {seen}, a form that is not known here: write {VERSION}, or use a newer program"
    )]
    Version { key: &'static str, seen: u32 },
    #[error("{place} is {seen}, not a number from {low} to {high}: put it right")]
    Number { place: String, seen: f64, low: f64, high: f64 },
    #[error(
        "{place} is \"{seen}\", which is no time with date and offset: write it like 2026-03-14T09:10:00+01:00"
    )]
    NoTime { place: String, seen: String },
    #[error("{place} is \"{seen}\", which is no time of day: write it like 22:00")]
    NoClock { place: String, seen: String },
    #[error("{place} is {seen}, {rule}: put it right")]
    Moment { place: String, seen: String, rule: &'static str },
    #[error("{place}: {0}", problem)]
    Name { place: String, problem: String },
    #[error("{place}: \"{seen}\" is there twice: leave one of them out")]
    Twice { place: String, seen: String },
    #[error("{place}: \"{seen}\" is not among the {among}: it must be one of {known}")]
    Unknown { place: String, seen: String, among: &'static str, known: String },
    #[error("{place} has {rule}")]
    Keys { place: String, rule: &'static str },
    #[error("{what} are {seen}, more than the {most} one plan is made for: leave some out")]
    TooMany { what: &'static str, seen: usize, most: usize },
}

impl PlanFileError {
    fn keys<T>(place: String, rule: &'static str) -> Read<T> {
        Err(PlanFileError::Keys { place, rule })
    }

    fn moment<T>(place: impl Into<String>, seen: impl Into<String>, rule: &'static str) -> Read<T> {
        Err(PlanFileError::Moment { place: place.into(), seen: seen.into(), rule })
    }
}

type Read<T> = Result<T, PlanFileError>;

/// An instance with the clock that its times were written by.
#[derive(Debug)]
pub struct Asked {
    pub instance: Instance,
    pub made_at: Moment,
    pub zone: StatedZone,
}

/// What is read from, with the moment all others are reckoned from.
struct Reader {
    now: Moment,
    zone: StatedZone,
}

impl Reader {
    /// A moment as minutes from now, no further away than this.
    fn time(&mut self, place: String, text: &str, farthest: f64) -> Read<f64> {
        let (at, offset) = moment(&place, text)?;
        self.zone.state(at, offset);
        let minutes = (at - self.now).as_minutes();
        let rule = match farthest {
            HORIZON_MIN => "more than two months from now",
            _ => "more than ten years from now",
        };
        if minutes.abs() > farthest {
            PlanFileError::moment(place, text, rule)
        } else {
            Ok(minutes)
        }
    }

    fn points(&mut self, place: &str, points: [(&str, &str); 3]) -> Read<[f64; 3]> {
        let mut read = [0.0; 3];
        for (at, (key, text)) in points.into_iter().enumerate() {
            read[at] = self.time(format!("{place}.{key}"), text, HORIZON_MIN)?;
        }
        if read[0] > read[1] || read[1] > read[2] {
            return PlanFileError::moment(place, points.map(|(_, text)| text).join(", "), FALLING);
        }
        Ok(read)
    }
}

const FALLING: &str = "which does not rise from p05 over p50 to p95";

fn moment(place: &str, text: &str) -> Read<(Moment, i32)> {
    let read = DateTime::parse_from_rfc3339(text).map_err(|_| PlanFileError::NoTime {
        place: place.to_owned(),
        seen: text::marked(text.to_owned()),
    })?;
    Ok((Moment(read.timestamp_millis()), read.offset().local_minus_utc() / 60))
}

fn number(place: &str, key: &str, seen: f64, (low, high): (f64, f64)) -> Read<f64> {
    if (low..=high).contains(&seen) {
        return Ok(seen);
    }
    Err(PlanFileError::Number { place: format!("{place}.{key}"), seen, low, high })
}

fn name(place: &str, name: &str) -> Read<String> {
    let fault = |problem: String| PlanFileError::Name { place: place.to_owned(), problem };
    if name.trim().is_empty() {
        return Err(fault("the name is empty: give one".into()));
    }
    text::name(name).map_err(|unfit| fault(unfit.to_string()))?;
    Ok(name.to_owned())
}

/// Its place in a list, by name.
fn place_of(place: &str, seen: &str, among: &'static str, names: &[&str]) -> Read<usize> {
    names.iter().position(|name| *name == seen).ok_or_else(|| PlanFileError::Unknown {
        place: place.to_owned(),
        seen: text::marked(seen.to_owned()),
        among,
        known: if names.is_empty() { "none".into() } else { names.join(", ") },
    })
}

fn once<'n>(place: &str, names: impl Iterator<Item = &'n str>) -> Read<()> {
    let mut seen = std::collections::BTreeSet::new();
    for name in names {
        if !seen.insert(name) {
            let seen = text::marked(name.to_owned());
            return Err(PlanFileError::Twice { place: place.to_owned(), seen });
        }
    }
    Ok(())
}

fn few(what: &'static str, seen: usize, most: usize) -> Read<()> {
    if seen > most { Err(PlanFileError::TooMany { what, seen, most }) } else { Ok(()) }
}

/// The keys under which a list stands.
const LISTS: [&str; 15] = [
    "people",
    "can",
    "there",
    "kilns",
    "durations",
    "watch",
    "batches",
    "firings",
    "batch_ids",
    "watch_meets",
    "left_waiting",
    "late",
    "checks",
    "rules_broken",
    "changed",
];

/// Refuses what the parser lets pass: a list of values in the order of the keys.
fn keyed(value: &Value, place: &str) -> Read<()> {
    let unkeyed = |place: &str| Err(PlanFileError::Unkeyed { place: place.to_owned() });
    let keys = match value {
        Value::Object(keys) => keys,
        Value::Array(_) => return unkeyed(place),
        _ => return Ok(()),
    };
    for (key, value) in keys {
        let place = format!("{place}.{key}");
        match value.as_array() {
            Some(all) if LISTS.contains(&key.as_str()) => {
                all.iter().try_for_each(|one| keyed(one, &place))?;
            }
            _ => keyed(value, &place)?,
        }
    }
    Ok(())
}

fn parsed<'t, T: serde::Deserialize<'t>>(text: &'t str, what: &str) -> Read<T> {
    if text.len() as u64 > LONGEST_FILE {
        return Err(PlanFileError::TooLong);
    }
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let fault = |error| schedule_file::explained(&error);
    let read = serde_json::from_str(text).map_err(fault)?;
    keyed(&serde_json::from_str(text).map_err(fault)?, what)?;
    Ok(read)
}

/// Reads an instance.
///
/// # Errors
/// [`PlanFileError`] for the first of its rules that is broken.
pub fn instance(text: &str) -> Read<Asked> {
    let keys: InstanceKeys = parsed(text, "the instance")?;
    if keys.plan_instance != VERSION {
        return Err(PlanFileError::Version { key: "plan_instance", seen: keys.plan_instance });
    }
    few("people", keys.people.len(), 60)?;
    few("kilns", keys.kilns.len(), 60)?;
    few("durations", keys.durations.len(), 240)?;
    few("batches", keys.batches.len(), 500)?;
    let (now, offset) = moment("now", &keys.now)?;
    let mut read = Reader { now, zone: StatedZone::default() };
    read.zone.state(now, offset);
    let last_drop_by = read.time("last_drop_by".into(), &keys.last_drop_by, HORIZON_MIN)?;
    if last_drop_by < 0.0 {
        return PlanFileError::moment("last_drop_by", keys.last_drop_by, "before now");
    }
    let wall = read.zone.wall(now);
    let load_types = load_types(&keys)?;
    let kilns = kilns(&keys, &mut read)?;
    let ways = ways(&keys, &kilns, &load_types)?;
    let instance = Instance {
        made_at_min: f64::from(wall.hour() * 60 + wall.minute()),
        last_drop_by,
        people: people(&keys, &mut read)?,
        lots: lots(&keys, &load_types, &mut read)?,
        kilns,
        load_types,
        ways,
        limits: limits(&keys)?,
        tariff: tariff(&keys)?,
        weights: weights(&keys)?,
    };
    Ok(Asked { instance, made_at: now, zone: read.zone })
}

fn people(keys: &InstanceKeys, read: &mut Reader) -> Read<Vec<Person>> {
    once("people", keys.people.iter().map(|person| person.name.as_str()))?;
    let mut people = Vec::new();
    for (nth, person) in keys.people.iter().enumerate() {
        let place = format!("people {}", nth + 1);
        let mut there = Vec::new();
        for (nth, stretch) in person.there.iter().enumerate() {
            let place = format!("{place}.there {}", nth + 1);
            let from = read.time(format!("{place}.from"), &stretch.from, HORIZON_MIN)?;
            let to = read.time(format!("{place}.to"), &stretch.to, HORIZON_MIN)?;
            if to <= from {
                let place = format!("{place}.to");
                return PlanFileError::moment(place, &stretch.to, "not after its \"from\"");
            }
            if there.iter().any(|(a, b)| from < *b && *a < to) {
                let rule = "within another stretch of the same person";
                return PlanFileError::moment(place, &stretch.from, rule);
            }
            there.push((from, to));
        }
        let can = |what: Can| person.can.contains(&what);
        let name = name(&place, &person.name)?;
        people.push(Person { name, packs: can(Can::Pack), watches: can(Can::Watch), there });
    }
    Ok(people)
}

fn load_types(keys: &InstanceKeys) -> Read<Vec<LoadType>> {
    once("watch", keys.watch.iter().map(|watch| watch.load_type.as_str()))?;
    let one = |(nth, watch): (usize, &keys::WatchKeys)| {
        let place = format!("watch {}", nth + 1);
        let min = |key, seen| number(&place, key, seen, (0.0, 1440.0));
        Ok(LoadType {
            name: name(&place, &watch.load_type)?,
            before_drop_min: min("before_drop_min", watch.before_drop_min)?,
            after_drop_min: min("after_drop_min", watch.after_drop_min)?,
        })
    };
    keys.watch.iter().enumerate().map(one).collect()
}

fn kilns(keys: &InstanceKeys, read: &mut Reader) -> Read<Vec<Kiln>> {
    once("kilns", keys.kilns.iter().map(|kiln| kiln.kiln.as_str()))?;
    let mut kilns = Vec::new();
    for (nth, kiln) in keys.kilns.iter().enumerate() {
        let place = format!("kilns {}", nth + 1);
        let power = kiln.power_kw.map(|kw| number(&place, "power_kw", kw, (0.0, MUCH)));
        let power = power.transpose()?;
        let burns_gas = kiln.fuel == keys::FuelKey::Gas;
        if !burns_gas && power.is_none() {
            return PlanFileError::keys(place, "no power_kw: an electric kiln needs it");
        }
        let hot = kiln.hot_now.as_ref().map(|hot| {
            let points = [
                ("cool_at_p05", hot.cool_at_p05.as_str()),
                ("cool_at_p50", hot.cool_at_p50.as_str()),
                ("cool_at_p95", hot.cool_at_p95.as_str()),
            ];
            let [p05, p50, p95] = read.points(&format!("{place}.hot_now"), points)?;
            Ok::<_, PlanFileError>(Spread::new(p05, p50, p95))
        });
        let work = |key, seen| number(&place, key, seen, (1.0, 1440.0));
        kilns.push(Kiln {
            name: name(&place, &kiln.kiln)?,
            power_kw: power.filter(|_| !burns_gas),
            room_l: number(&place, "room_l", kiln.room_l, (0.1, MUCH))?,
            pack_min: work("pack_min", kiln.pack_min)?,
            draw_min: work("draw_min", kiln.draw_min)?,
            starts_by_itself: kiln.starts_by_itself,
            cool_at: hot.transpose()?,
        });
    }
    Ok(kilns)
}

fn spread(place: &str, points: &Points) -> Read<Spread> {
    let point = |key, seen| number(place, key, seen, (0.0, LONGEST_MIN));
    let (p05, p50, p95) =
        (point("p05", points.p05)?, point("p50", points.p50)?, point("p95", points.p95)?);
    if p05 > p50 || p50 > p95 {
        return PlanFileError::moment(place, format!("{p05}, {p50}, {p95}"), FALLING);
    }
    Ok(Spread::new(p05, p50, p95))
}

fn ways(keys: &InstanceKeys, kilns: &[Kiln], load_types: &[LoadType]) -> Read<Vec<Way>> {
    let kilns: Vec<&str> = kilns.iter().map(|kiln| kiln.name.as_str()).collect();
    let types: Vec<&str> = load_types.iter().map(|of| of.name.as_str()).collect();
    let mut ways: Vec<Way> = Vec::new();
    for (nth, way) in keys.durations.iter().enumerate() {
        let place = format!("durations {}", nth + 1);
        let kiln = place_of(&place, &way.kiln, "kilns", &kilns)?;
        let load_type = place_of(&place, &way.load_type, "load types of \"watch\"", &types)?;
        if ways.iter().any(|other| (other.kiln, other.load_type) == (kiln, load_type)) {
            let seen = format!("{}, {}", way.kiln, way.load_type);
            return Err(PlanFileError::Twice { place, seen });
        }
        let fuel = match (way.gas_eur, way.energy_kwh) {
            (Some(eur), None) => Fuel::GasEur(number(&place, "gas_eur", eur, (0.0, MUCH))?),
            (None, Some(kwh)) => Fuel::Kwh(number(&place, "energy_kwh", kwh, (0.0, MUCH))?),
            _ => {
                let rule = "to have either gas_eur or energy_kwh: give one of them";
                return PlanFileError::keys(place, rule);
            }
        };
        let drop = spread(&format!("{place}.lit_to_drop_min"), &way.lit_to_drop_min)?;
        let cool = spread(&format!("{place}.drop_to_cool_min"), &way.drop_to_cool_min)?;
        ways.push(Way { kiln, load_type, drop, cool, fuel });
    }
    Ok(ways)
}

fn lots(keys: &InstanceKeys, load_types: &[LoadType], read: &mut Reader) -> Read<Vec<Lot>> {
    let ids: Vec<&str> = keys.batches.iter().map(|lot| lot.id.as_str()).collect();
    once("batches", ids.iter().copied())?;
    let types: Vec<&str> = load_types.iter().map(|of| of.name.as_str()).collect();
    let mut lots = Vec::new();
    for (nth, lot) in keys.batches.iter().enumerate() {
        let place = format!("batches {}", nth + 1);
        let mut time = |key: &str, text: &Option<String>| {
            let read = text.as_ref().map(|text| read.time(format!("{place}.{key}"), text, FAR_MIN));
            read.transpose()
        };
        let ready_from = time("ready_from", &lot.ready_from)?;
        let wanted_by = time("wanted_by", &lot.wanted_by)?;
        let after = match (&lot.after, lot.bench_min) {
            (Some(first), Some(bench)) => {
                let first = place_of(&place, first, "batches", &ids)?;
                Some((first, number(&place, "bench_min", bench, (0.0, 60.0 * 1440.0))?))
            }
            (None, None) if ready_from.is_some() => None,
            (None, None) => {
                let rule = "neither ready_from nor after with bench_min: say when it is ready";
                return PlanFileError::keys(place, rule);
            }
            _ => {
                let rule = "only one of after and bench_min: give both, or neither";
                return PlanFileError::keys(place, rule);
            }
        };
        lots.push(Lot {
            id: name(&place, &lot.id)?,
            load_type: place_of(&place, &lot.load_type, "load types of \"watch\"", &types)?,
            pieces: number(&place, "pieces", lot.pieces, (0.0, MUCH))?,
            room_l: number(&place, "room_l", lot.room_l, (0.0, MUCH))?,
            worth_eur_per_piece: number(
                &place,
                "worth_eur_per_piece",
                lot.worth_eur_per_piece,
                (0.0, MUCH),
            )?,
            ready_from,
            after,
            wanted_by,
        });
    }
    for (nth, lot) in lots.iter().enumerate() {
        let before = |lot: &&Lot| lot.after.map(|(first, _)| &lots[first]);
        let chain = std::iter::successors(Some(lot), |lot| before(lot));
        if chain.take(lots.len() + 1).count() > lots.len() {
            let rule = "an \"after\" that leads back to itself: something has to come first";
            return PlanFileError::keys(format!("batches {}", nth + 1), rule);
        }
    }
    Ok(lots)
}

fn limits(keys: &InstanceKeys) -> Read<Limits> {
    let limits = &keys.limits;
    let chance = |key, seen| number("limits", key, seen, (0.0, 1.0));
    number("limits", "watches_at_once", f64::from(limits.watches_at_once), (1.0, 1.0))?;
    Ok(Limits {
        gas_kilns_climbing_at_once: limits.gas_kilns_climbing_at_once as usize,
        power_kw_at_once: number(
            "limits",
            "power_kw_at_once",
            limits.power_kw_at_once,
            (0.0, MUCH),
        )?,
        watches_meet_at_most: chance("watches_meet_at_most", limits.watches_meet_at_most)?,
        dropped_while_there_at_least: chance(
            "dropped_while_there_at_least",
            limits.dropped_while_there_at_least,
        )?,
        cool_in_time_at_least: chance("cool_in_time_at_least", limits.cool_in_time_at_least)?,
    })
}

fn tariff(keys: &InstanceKeys) -> Read<Tariff> {
    let tariff = &keys.tariff;
    let eur = |key, seen| number("tariff", key, seen, (0.0, MUCH));
    let clock = |key: &str, text: &str| {
        let read = chrono::NaiveTime::parse_from_str(text, "%H:%M");
        let read = read.ok().filter(|_| text.len() == 5);
        read.map(|time| f64::from(time.hour() * 60 + time.minute())).ok_or_else(|| {
            let seen = text::marked(text.to_owned());
            PlanFileError::NoClock { place: format!("tariff.{key}"), seen }
        })
    };
    Ok(Tariff {
        day_eur_per_kwh: eur("day_eur_per_kwh", tariff.day_eur_per_kwh)?,
        night_eur_per_kwh: eur("night_eur_per_kwh", tariff.night_eur_per_kwh)?,
        night: (clock("night_from", &tariff.night_from)?, clock("night_to", &tariff.night_to)?),
    })
}

fn weights(keys: &InstanceKeys) -> Read<Weights> {
    let costs = &keys.costs;
    let eur = |key, seen| number("costs", key, seen, (0.0, MUCH));
    let share = |key, seen| number("costs", key, seen, (0.0, 1.0));
    Ok(Weights {
        late_eur_per_piece_day: eur("late_eur_per_piece_day", costs.late_eur_per_piece_day)?,
        waiting_eur_per_piece_day: eur(
            "waiting_eur_per_piece_day",
            costs.waiting_eur_per_piece_day,
        )?,
        lost_share_if_watches_meet: share(
            "lost_share_if_watches_meet",
            costs.lost_share_if_watches_meet,
        )?,
        lost_share_if_nobody_there: share(
            "lost_share_if_nobody_there",
            costs.lost_share_if_nobody_there,
        )?,
        put_off_eur: eur("put_off_eur", costs.put_off_eur)?,
        firing_work_eur: eur("firing_work_eur", costs.firing_work_eur)?,
    })
}
