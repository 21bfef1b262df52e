//! The instance a plan is made for, and a plan as it was answered, read from JSON: nothing guessed.
//!
//! A key this program does not know is an error, as is a name that is nowhere else, a time without its
//! offset, and a number that cannot be. Moments become minutes from `now`.

mod keys;
mod stated;
mod was;

pub use stated::StatedZone;
pub use was::plan;

use anyhow::{Result, anyhow, bail, ensure};
use chrono::{DateTime, Timelike};
use serde_json::Value;

use super::schedule_file::{self, LONGEST_FILE};
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

fn twice<T>(place: &str, seen: &str) -> Result<T> {
    let seen = text::marked(seen.to_owned());
    bail!("{place}: \"{seen}\" is there twice: leave one of them out")
}

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
    fn time(&mut self, place: String, text: &str, farthest: f64) -> Result<f64> {
        let (at, offset) = moment(&place, text)?;
        self.zone.state(at, offset);
        let minutes = (at - self.now).as_minutes();
        let rule = match farthest {
            HORIZON_MIN => "more than two months from now",
            _ => "more than ten years from now",
        };
        if minutes.abs() > farthest { wrong(&place, text, rule) } else { Ok(minutes) }
    }

    fn time_if(
        &mut self,
        place: &str,
        text: &Option<String>,
        farthest: f64,
    ) -> Result<Option<f64>> {
        text.as_ref().map(|text| self.time(place.into(), text, farthest)).transpose()
    }

    fn points(&mut self, place: &str, points: [(&str, &String); 3]) -> Result<Spread> {
        let mut read = [0.0; 3];
        for (at, (key, text)) in points.into_iter().enumerate() {
            read[at] = self.time(format!("{place}.{key}"), text, HORIZON_MIN)?;
        }
        rising(place, read, points.map(|(_, text)| text.clone()))
    }
}

fn rising(place: &str, points: [f64; 3], seen: [String; 3]) -> Result<Spread> {
    if points.is_sorted() {
        return Ok(Spread::new(points));
    }
    wrong(place, &seen.join(", "), "which does not rise from p05 over p50 to p95")
}

fn moment(place: &str, text: &str) -> Result<(Moment, i32)> {
    let Ok(read) = DateTime::parse_from_rfc3339(text) else {
        let seen = text::marked(text.to_owned());
        bail!(
            "{place} is \"{seen}\", which is no time with date and offset: write it like 2026-03-14T09:10:00+01:00"
        )
    };
    Ok((Moment(read.timestamp_millis()), read.offset().local_minus_utc() / 60))
}

fn wrong<T>(place: &str, seen: &str, rule: &str) -> Result<T> {
    bail!("{place} is {seen}, {rule}: put it right")
}

fn number(place: &str, key: &str, seen: f64, (low, high): (f64, f64)) -> Result<f64> {
    let fits = (low..=high).contains(&seen);
    ensure!(fits, "{place}.{key} is {seen}, not a number from {low} to {high}: put it right");
    Ok(seen)
}

fn name(place: &str, name: &str) -> Result<String> {
    ensure!(!name.trim().is_empty(), "{place}: the name is empty: give one");
    text::name(name).map_err(|unfit| anyhow!("{place}: {unfit}"))?;
    Ok(name.to_owned())
}

/// Its place in a list, by name.
fn place_of<'n>(
    place: &str,
    seen: &str,
    among: &str,
    names: impl Iterator<Item = &'n String>,
) -> Result<usize> {
    let names: Vec<&str> = names.map(String::as_str).collect();
    if let Some(at) = names.iter().position(|name| *name == seen) {
        return Ok(at);
    }
    let seen = text::marked(seen.to_owned());
    let known = if names.is_empty() { "none".into() } else { names.join(", ") };
    bail!("{place}: \"{seen}\" is not among the {among}: it must be one of {known}")
}

fn load_type_of(place: &str, seen: &str, load_types: &[LoadType]) -> Result<usize> {
    place_of(place, seen, "load types of \"watch\"", load_types.iter().map(|of| &of.name))
}

fn once<'n>(place: &str, names: impl Iterator<Item = &'n String>) -> Result<()> {
    let mut seen = std::collections::BTreeSet::new();
    for name in names {
        if !seen.insert(name) {
            return twice(place, name);
        }
    }
    Ok(())
}

fn few(what: &str, seen: usize, most: usize) -> Result<()> {
    ensure!(
        seen <= most,
        "{what} are {seen}, more than the {most} one plan is made for: leave some out"
    );
    Ok(())
}

fn version(key: &str, seen: u32) -> Result<()> {
    ensure!(
        seen == VERSION,
        "{key} is {seen}, a form that is not known here: write {VERSION}, or use a newer program"
    );
    Ok(())
}

/// The keys under which a list stands.
const LISTS: &str = "people can there kilns durations watch batches firings batch_ids watch_meets left_waiting late checks rules_broken changed";

/// Refuses what the parser lets pass: a list of values in the order of the keys.
fn keyed(value: &Value, place: &str) -> Result<()> {
    let keys = match value {
        Value::Object(keys) => keys,
        Value::Array(_) => {
            bail!("{place}: there is a list in the place of keys: write it in braces")
        }
        _ => return Ok(()),
    };
    for (key, value) in keys {
        let place = format!("{place}.{key}");
        match value.as_array() {
            Some(all) if LISTS.split(' ').any(|list| list == key) => {
                all.iter().try_for_each(|one| keyed(one, &place))?;
            }
            _ => keyed(value, &place)?,
        }
    }
    Ok(())
}

fn parsed<'t, T: serde::Deserialize<'t>>(text: &'t str, what: &str) -> Result<T> {
    ensure!(
        text.len() as u64 <= LONGEST_FILE,
        "it is longer than {LONGEST_FILE} bytes, which no plan needs: give the right file"
    );
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let fault = |error| schedule_file::explained(&error);
    let read = serde_json::from_str(text).map_err(fault)?;
    keyed(&serde_json::from_str(text).map_err(fault)?, what)?;
    Ok(read)
}

/// A number under a key of this object, within these bounds.
macro_rules! read {
    ($place:expr, $keys:expr, $key:ident, $within:expr) => {
        number($place, stringify!($key), $keys.$key, $within)?
    };
}

/// Reads an instance.
///
/// # Errors
/// For the first of its rules that is broken.
pub fn instance(text: &str) -> Result<Asked> {
    let keys: InstanceKeys = parsed(text, "the instance")?;
    version("plan_instance", keys.plan_instance)?;
    few("people", keys.people.len(), 60)?;
    few("kilns", keys.kilns.len(), 60)?;
    few("durations", keys.durations.len(), 240)?;
    few("batches", keys.batches.len(), 500)?;
    let (now, offset) = moment("now", &keys.now)?;
    let mut read = Reader { now, zone: StatedZone::default() };
    read.zone.state(now, offset);
    let last_drop_by = read.time("last_drop_by".into(), &keys.last_drop_by, HORIZON_MIN)?;
    if last_drop_by < 0.0 {
        return wrong("last_drop_by", &keys.last_drop_by, "before now");
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

fn people(keys: &InstanceKeys, read: &mut Reader) -> Result<Vec<Person>> {
    once("people", keys.people.iter().map(|person| &person.name))?;
    let mut people = Vec::new();
    for (nth, person) in keys.people.iter().enumerate() {
        let place = format!("people {}", nth + 1);
        let mut there = Vec::new();
        for (nth, stretch) in person.there.iter().enumerate() {
            let place = format!("{place}.there {}", nth + 1);
            let from = read.time(format!("{place}.from"), &stretch.from, HORIZON_MIN)?;
            let to = read.time(format!("{place}.to"), &stretch.to, HORIZON_MIN)?;
            if to <= from {
                return wrong(&format!("{place}.to"), &stretch.to, "not after its \"from\"");
            }
            if there.iter().any(|(a, b)| from < *b && *a < to) {
                return wrong(&place, &stretch.from, "within another stretch of the same person");
            }
            there.push((from, to));
        }
        let can = |what: Can| person.can.contains(&what);
        let name = name(&place, &person.name)?;
        people.push(Person { name, packs: can(Can::Pack), watches: can(Can::Watch), there });
    }
    Ok(people)
}

fn load_types(keys: &InstanceKeys) -> Result<Vec<LoadType>> {
    once("watch", keys.watch.iter().map(|watch| &watch.load_type))?;
    let one = |(nth, watch): (usize, &keys::WatchKeys)| {
        let place = format!("watch {}", nth + 1);
        Ok(LoadType {
            name: name(&place, &watch.load_type)?,
            before_drop_min: read!(&place, watch, before_drop_min, (0.0, 1440.0)),
            after_drop_min: read!(&place, watch, after_drop_min, (0.0, 1440.0)),
        })
    };
    keys.watch.iter().enumerate().map(one).collect()
}

fn kilns(keys: &InstanceKeys, read: &mut Reader) -> Result<Vec<Kiln>> {
    once("kilns", keys.kilns.iter().map(|kiln| &kiln.kiln))?;
    let mut kilns = Vec::new();
    for (nth, kiln) in keys.kilns.iter().enumerate() {
        let place = format!("kilns {}", nth + 1);
        let power = kiln.power_kw.map(|kw| number(&place, "power_kw", kw, (0.0, MUCH)));
        let power = power.transpose()?;
        let burns_gas = kiln.fuel == keys::FuelKey::Gas;
        ensure!(burns_gas || power.is_some(), "{place} has no power_kw: an electric kiln needs it");
        let hot = kiln.hot_now.as_ref().map(|hot| {
            let points = [
                ("cool_at_p05", &hot.cool_at_p05),
                ("cool_at_p50", &hot.cool_at_p50),
                ("cool_at_p95", &hot.cool_at_p95),
            ];
            read.points(&format!("{place}.hot_now"), points)
        });
        kilns.push(Kiln {
            name: name(&place, &kiln.kiln)?,
            power_kw: power.filter(|_| !burns_gas),
            room_l: number(&place, "room_l", kiln.room_l, (0.1, MUCH))?,
            pack_min: read!(&place, kiln, pack_min, (1.0, 1440.0)),
            draw_min: read!(&place, kiln, draw_min, (1.0, 1440.0)),
            starts_by_itself: kiln.starts_by_itself,
            cool_at: hot.transpose()?,
        });
    }
    Ok(kilns)
}

fn spread(place: &str, points: &Points) -> Result<Spread> {
    let within = (0.0, LONGEST_MIN);
    let points = [
        read!(place, points, p05, within),
        read!(place, points, p50, within),
        read!(place, points, p95, within),
    ];
    rising(place, points, points.map(|point| point.to_string()))
}

fn ways(keys: &InstanceKeys, kilns: &[Kiln], load_types: &[LoadType]) -> Result<Vec<Way>> {
    let mut ways: Vec<Way> = Vec::new();
    for (nth, way) in keys.durations.iter().enumerate() {
        let place = format!("durations {}", nth + 1);
        let kiln = place_of(&place, &way.kiln, "kilns", kilns.iter().map(|kiln| &kiln.name))?;
        let load_type = load_type_of(&place, &way.load_type, load_types)?;
        if ways.iter().any(|other| (other.kiln, other.load_type) == (kiln, load_type)) {
            return twice(&place, &format!("{}, {}", way.kiln, way.load_type));
        }
        let fuel = match (way.gas_eur, way.energy_kwh) {
            (Some(eur), None) => Fuel::GasEur(number(&place, "gas_eur", eur, (0.0, MUCH))?),
            (None, Some(kwh)) => Fuel::Kwh(number(&place, "energy_kwh", kwh, (0.0, MUCH))?),
            _ => bail!("{place} has to have either gas_eur or energy_kwh: give one of them"),
        };
        let drop = spread(&format!("{place}.lit_to_drop_min"), &way.lit_to_drop_min)?;
        let cool = spread(&format!("{place}.drop_to_cool_min"), &way.drop_to_cool_min)?;
        ways.push(Way { kiln, load_type, drop, cool, fuel });
    }
    Ok(ways)
}

fn lots(keys: &InstanceKeys, load_types: &[LoadType], read: &mut Reader) -> Result<Vec<Lot>> {
    let ids = || keys.batches.iter().map(|lot| &lot.id);
    once("batches", ids())?;
    let mut lots = Vec::new();
    for (nth, lot) in keys.batches.iter().enumerate() {
        let place = format!("batches {}", nth + 1);
        let ready = format!("{place}.ready_from");
        let ready_from = read.time_if(&ready, &lot.ready_from, FAR_MIN)?;
        let wanted_by = read.time_if(&format!("{place}.wanted_by"), &lot.wanted_by, FAR_MIN)?;
        let after = match (&lot.after, lot.bench_min) {
            (Some(first), Some(bench)) => {
                let first = place_of(&place, first, "batches", ids())?;
                Some((first, number(&place, "bench_min", bench, (0.0, 60.0 * 1440.0))?))
            }
            (None, None) if ready_from.is_some() => None,
            (None, None) => bail!(
                "{place} has neither ready_from nor after with bench_min: say when it is ready"
            ),
            _ => bail!("{place} has only one of after and bench_min: give both, or neither"),
        };
        lots.push(Lot {
            id: name(&place, &lot.id)?,
            load_type: load_type_of(&place, &lot.load_type, load_types)?,
            pieces: number(&place, "pieces", lot.pieces, (0.0, MUCH))?,
            room_l: read!(&place, lot, room_l, (0.0, MUCH)),
            worth_eur_per_piece: read!(&place, lot, worth_eur_per_piece, (0.0, MUCH)),
            ready_from,
            after,
            wanted_by,
        });
    }
    for (nth, lot) in lots.iter().enumerate() {
        let before = |lot: &&Lot| lot.after.map(|(first, _)| &lots[first]);
        let chain = std::iter::successors(Some(lot), |lot| before(lot));
        ensure!(
            chain.take(lots.len() + 1).count() <= lots.len(),
            "batches {} has an \"after\" that leads back to itself: something has to come first",
            nth + 1
        );
    }
    Ok(lots)
}

fn limits(keys: &InstanceKeys) -> Result<Limits> {
    let limits = &keys.limits;
    let chance = (0.0, 1.0);
    number("limits", "watches_at_once", f64::from(limits.watches_at_once), (1.0, 1.0))?;
    Ok(Limits {
        gas_kilns_climbing_at_once: limits.gas_kilns_climbing_at_once as usize,
        power_kw_at_once: read!("limits", limits, power_kw_at_once, (0.0, MUCH)),
        watches_meet_at_most: read!("limits", limits, watches_meet_at_most, chance),
        dropped_while_there_at_least: read!("limits", limits, dropped_while_there_at_least, chance),
        cool_in_time_at_least: read!("limits", limits, cool_in_time_at_least, chance),
    })
}

fn tariff(keys: &InstanceKeys) -> Result<Tariff> {
    let tariff = &keys.tariff;
    let clock = |key: &str, text: &str| {
        let read = chrono::NaiveTime::parse_from_str(text, "%H:%M");
        let read = read.ok().filter(|_| text.len() == 5);
        let Some(time) = read else {
            let seen = text::marked(text.to_owned());
            bail!("tariff.{key} is \"{seen}\", which is no time of day: write it like 22:00")
        };
        Ok(f64::from(time.hour() * 60 + time.minute()))
    };
    Ok(Tariff {
        day_eur_per_kwh: read!("tariff", tariff, day_eur_per_kwh, (0.0, MUCH)),
        night_eur_per_kwh: read!("tariff", tariff, night_eur_per_kwh, (0.0, MUCH)),
        night: (clock("night_from", &tariff.night_from)?, clock("night_to", &tariff.night_to)?),
    })
}

fn weights(keys: &InstanceKeys) -> Result<Weights> {
    let (costs, eur, share) = (&keys.costs, (0.0, MUCH), (0.0, 1.0));
    Ok(Weights {
        late_eur_per_piece_day: read!("costs", costs, late_eur_per_piece_day, eur),
        waiting_eur_per_piece_day: read!("costs", costs, waiting_eur_per_piece_day, eur),
        lost_share_if_watches_meet: read!("costs", costs, lost_share_if_watches_meet, share),
        lost_share_if_nobody_there: read!("costs", costs, lost_share_if_nobody_there, share),
        put_off_eur: read!("costs", costs, put_off_eur, eur),
        firing_work_eur: read!("costs", costs, firing_work_eur, eur),
    })
}
