//! The stored form of an event: a kind, its version, and an object of named fields.
//!
//! The firing record and the journal share it. Kinds and fields may be added later, never
//! changed: a file written today has to be read for ever. Should the meaning of a kind ever have
//! to change, it gets a new version and [`What`] is read from both.

mod several;

use std::fmt;
use std::str::FromStr;

use chrono::DateTime;
use serde_json::{Map, Value, json};

use super::fields::{FieldError, Fields};
use crate::casting::{Found, Mould, What as Bench};
use crate::closed::Word;
use crate::cone::{Cone, Family, chart};
use crate::firing::event::{
    Counted, Fullness, GlowSeen, Lit, Look, Outcome, Packing, Seen, ShelfCone,
};
use crate::firing::fields::{DRAW_FROM, Field, LIGHT_AT, Of, PACK_FROM};
use crate::firing::mark::{ForecastBy, Mark, When};
use crate::firing::{EventId, FiringId, Kind, What};
use crate::glow::{GlowWord, Room};
use crate::hours::{Closed, Day, Hours, Open, People, TimeOfDay, WeekDays};
use crate::kiln::{Fuel, Kiln, LoadType, Miss};
use crate::plan::adopted::{Adopted, LotOf, Said};
use crate::plan::limits::{Counts, HouseLimits};
use crate::review::suggestion::Suggestion;
use crate::units::{Celsius, CelsiusPerHour, Moment, Span, TEMPERATURE_RANGE_C};
use crate::ware::Lot;

/// One line a kind: the shape of its event, and the key under which each part of it stands, in the
/// order of writing.
macro_rules! forms {
    ($($kind:ident: ($($shape:tt)+) [$($part:ident $key:literal),*];)+) => {
        /// The fields of an event, those that say nothing left out.
        pub fn write(what: &What) -> Map<String, Value> {
            let mut fields = Map::new();
            match what {
                $($($shape)+ => { $($part.put($key, &mut fields);)* })+
            }
            fields.retain(|_, value| !says_nothing(value));
            fields
        }

        /// An event of this kind from its fields, of any version up to the present one.
        ///
        /// # Errors
        /// [`FieldError`] for the first key that is missing, unknown or has a value that is not
        /// allowed.
        pub fn read(kind: Kind, mut fields: Fields) -> Result<What, FieldError> {
            let what = match kind {
                $(Kind::$kind => {
                    $(let $part = Stored::take(&mut fields, Kind::$kind, $key)?;)*
                    $($shape)+
                })+
            };
            fits(&what)?;
            fields.finish()?;
            Ok(what)
        }
    };
}

forms! {
    Kiln: (What::KilnSet(Kiln { name, fuel, litres, ceiling, fastest_climb }))
        [name "name", fuel "fuel", litres "litres", ceiling "ceiling_c",
         fastest_climb "fastest_climb_c_per_h"];
    LoadType: (What::LoadTypeSet(LoadType {
            name, target, family, under_cones, over_cones, under, over, usual_length, cautions
        }))
        [name "name", target "cone", family "cone_family", under_cones "under_cones",
         over_cones "over_cones", under "under", over "over", usual_length "usual_length_min",
         cautions "cautions"];
    Lot: (What::LotSet(Lot {
            load_type, name, contents, pieces, fills, of_kiln, ready, wanted, worth, gold_g, decals, then
        }))
        [load_type "load_type", name "lot", contents "contents", pieces "pieces", fills "fills",
         of_kiln "of_kiln", ready "ready", wanted "wanted", worth "worth", gold_g "gold_g", decals "decals",
         then "then"];
    Planned: (What::Planned(Adopted { firings, waiting, barred }))
        [firings "firings", waiting "waiting", barred "barred"];
    Packed: (What::Packed(Packing {
            kiln, load_type, contents, lots, pieces, full, worth, packed_by, cones_stand, pack
        }))
        [kiln "kiln", load_type "load_type", contents "contents", lots "lots", pieces "pieces", full "full",
         worth "worth", packed_by "packed_by", cones_stand "cones_stand", pack "cone"];
    Lit: (What::Lit(Lit { kiln, load_type, pack, schedule, plan }))
        [kiln "kiln", load_type "load_type", pack "cone", schedule "schedule", plan "plan"];
    Reading: (What::Reading(celsius)) [celsius "celsius"];
    ProbeSilent: (What::ProbeSilent { reason }) [reason "reason"];
    ProbeChanged: (What::ProbeChanged { kiln, note }) [kiln "kiln", note "note"];
    KilnRenamed: (What::KilnRenamed { kiln, name }) [kiln "kiln", name "name"];
    KilnRetired: (What::KilnRetired { kiln, reason }) [kiln "kiln", reason "reason"];
    KilnReturned: (What::KilnReturned { kiln }) [kiln "kiln"];
    KilnNote: (What::KilnNote { kiln, text }) [kiln "kiln", text "text"];
    Look: (What::Look(Look { target, guide, guard }))
        [target "target", guide "guide", guard "guard"];
    Glow: (What::Glow(GlowSeen { colour, room })) [colour "colour", room "room"];
    Turned: (What::Turned { to }) [to "to"];
    Note: (What::Note { text }) [text "text"];
    Off: (What::Off) [];
    Aborted: (What::Aborted { reason }) [reason "reason"];
    Resumed: (What::Resumed) [];
    Drawn: (What::Drawn) [];
    Outcome: (What::Outcome(Outcome {
            verdict, note, shelves, loss, counted: Counted { good, under, over, broken, not_fired }, full
        }))
        [verdict "result", note "note", shelves "shelves", loss "loss", good "good",
         under "under", over "over", broken "broken", not_fired "not_fired", full "full"];
    Acknowledged: (What::Acknowledged { alarm }) [alarm "alarm"];
    Shelved: (What::Shelved { alarm, length }) [alarm "alarm", length "length_min"];
    Called: (What::Called) [];
    Marked: (What::Marked(Mark { when, by, p05, p50, p95, width, lit }))
        [when "when", by "forecast_by", p05 "p05_min", p50 "p50_min", p95 "p95_min", width "width",
         lit "lit"];
    Accepted: (What::Accepted(Suggestion { change, evidence }))
        [change "kiln", evidence "firings"];
    Hours: (What::Hours(Hours { days, open: Open { from, to, people } }))
        [days "days", from "from", to "to", people "people"];
    Closed: (What::Closed(Closed { from, until, why })) [from "from", until "until", why "why"];
    Limits: (What::LimitsSet(HouseLimits {
            gas_kilns, power_kw, cheap_from, cheap_to, cheap_price, on_time, at_once, apart, attended, full
        }))
        [gas_kilns "gas_kilns", power_kw "power_kw", cheap_from "cheap_from", cheap_to "cheap_to",
         cheap_price "cheap_price", on_time "on_time", at_once "at_once", apart "apart",
         attended "attended", full "full"];
    Mould: (What::Bench(Bench::Mould(Mould {
            code, parts, pieces, body, ware, place, note, retired
        })))
        [code "mould", parts "parts", pieces "pieces", body "body", ware "ware", place "place",
         note "note", retired "retired"];
    MouldRenamed: (What::Bench(Bench::Renamed { mould, name })) [mould "mould", name "name"];
    Room: (What::Bench(Bench::Room { celsius, humidity })) [celsius "celsius", humidity "rh"];
    Poured: (What::Bench(Bench::Poured { mould, body })) [mould "mould", body "body"];
    Drained: (What::Bench(Bench::Drained { mould })) [mould "mould"];
    Check: (What::Bench(Bench::Check { mould, found })) [mould "mould", found "result"];
    Struck: (What::Struck { event, reason, corrected_by })
        [event "struck", reason "reason", corrected_by "corrected_by"];
}

fn says_nothing(value: &Value) -> bool {
    match value {
        Value::Null => true,
        Value::String(text) => text.is_empty(),
        Value::Array(list) => list.is_empty(),
        _ => false,
    }
}

/// What no field can say alone.
fn fits(what: &What) -> Result<(), FieldError> {
    match what {
        What::LoadTypeSet(load) => made("cone", load.target, load.family),
        What::Marked(Mark { p05, p50, p95, .. }) if !(p05 <= p50 && p50 <= p95) => {
            let reason = format!("{p50} has to lie between p05_min, {p05}, and p95_min, {p95}");
            Err(FieldError::Refused { key: "p50_min", reason })
        }
        What::Hours(Hours { open: Open { from, to, .. }, .. }) if from == to => {
            let reason = format!("from and to are both {from}: say when the last one leaves");
            Err(FieldError::Refused { key: "to", reason })
        }
        What::LimitsSet(limits) if !limits.cheap_is_whole() => {
            let reason = "say from when to when power is cheap, and what a kWh costs then";
            Err(FieldError::Refused { key: "cheap_from", reason: reason.into() })
        }
        What::Closed(closed) if closed.last() < closed.from => {
            let reason = format!("{} is before {}: say the last day", closed.last(), closed.from);
            Err(FieldError::Refused { key: "until", reason })
        }
        _ => Ok(()),
    }
}

fn made(key: &'static str, cone: Cone, family: Family) -> Result<(), FieldError> {
    chart::rows_or_reason(cone, family)
        .map(|_| ())
        .map_err(|error| FieldError::Refused { key, reason: error.to_string() })
}

/// A part of an event, under one key or under a few.
trait Stored: Sized {
    fn take(from: &mut Fields, kind: Kind, key: &'static str) -> Result<Self, FieldError>;
    fn put(&self, key: &str, into: &mut Map<String, Value>);
}

/// A value under one key.
trait Part: Sized {
    /// `None` where the key is not there.
    fn read(from: &mut Fields, field: &Field) -> Result<Option<Self>, FieldError>;
    fn written(&self) -> Value;
}

impl<P: Part> Stored for P {
    fn take(from: &mut Fields, kind: Kind, key: &'static str) -> Result<P, FieldError> {
        let field = kind.field(key);
        P::read(from, field)?.ok_or_else(|| from.missing(field.key, &example(field)))
    }

    fn put(&self, key: &str, into: &mut Map<String, Value>) {
        into.insert(key.into(), self.written());
    }
}

impl<P: Part> Stored for Option<P> {
    fn take(from: &mut Fields, kind: Kind, key: &'static str) -> Result<Option<P>, FieldError> {
        P::read(from, kind.field(key))
    }

    fn put(&self, key: &str, into: &mut Map<String, Value>) {
        into.insert(key.into(), self.as_ref().map_or(Value::Null, Part::written));
    }
}

/// How a record writes a field: one of its words, if it has some.
fn example(field: &Field) -> String {
    let words = field.of.words().map(|(_, words)| format!("\"{}\"", words[0]));
    words.unwrap_or_else(|| field.example.into())
}

/// One line a type: how it is read, and how it is written.
macro_rules! parts {
    ($($part:ty: $read:expr, $write:expr;)+) => {
        $(impl Part for $part {
            fn read(from: &mut Fields, field: &Field) -> Result<Option<Self>, FieldError> {
                let read: fn(&mut Fields, &Field) -> Result<Option<Self>, FieldError> = $read;
                read(from, field)
            }

            fn written(&self) -> Value {
                let write: fn(&Self) -> Value = $write;
                write(self)
            }
        })+
    };
}

parts! {
    f64: number, |number| (*number).into();
    Celsius: |from, field| Ok(number(from, field)?.map(Celsius)), |celsius| celsius.0.into();
    CelsiusPerHour: |from, field| Ok(number(from, field)?.map(CelsiusPerHour)),
        |rate| rate.0.into();
    Moment: moment, |at| rfc3339(*at).into();
    Span: |from, field| Ok(number(from, field)?.map(Span::from_minutes)),
        |span| span.as_minutes().into();
    u32: |from, field| from.optional_count(field.key, field.example), |count| (*count).into();
    EventId: |from, field| Ok(from.optional_whole(field.key, field.example)?.map(EventId)),
        |event| event.0.into();
    Fuel: word, |fuel| fuel.name().into();
    Miss: word, |miss| miss.name().into();
    Fullness: word, |full| full.name().into();
    Seen: word, |seen| seen.name().into();
    GlowWord: word, |colour| colour.name().into();
    Room: word, |room| room.name().into();
    When: word, |when| when.name().into();
    ForecastBy: word, |by| by.name().into();
    Found: word, |found| found.name().into();
    Counts: word, |counts| counts.name().into();
    WeekDays: read_days, |days| days.to_string().into();
    People: |from, field| {
        let people = from.optional_count(field.key, field.example)?;
        Ok(Some(People(people.unwrap_or(1))))
    }, |people| people.0.into();
    TimeOfDay: typed, |time| time.to_string().into();
    Day: typed, |day| day.to_string().into();
    Family: |from, field| from.optional_family(field.key), |family| family.name().into();
    Cone: |from, field| from.optional_cone(field.key), |cone| cone.name().into();
    String: read_text, |text| text.as_str().into();
    Vec<String>: |from, field| from.texts(field.key, field.example).map(Some),
        |texts| texts.as_slice().into();
    Vec<ShelfCone>: |from, field| listed(from, field, read_shelf), |shelves| shelves.iter().map(write_shelf).collect();
    Vec<Said>: |from, field| listed(from, field, read_said), |said| said.iter().map(write_said).collect();
    Vec<LotOf>: |from, field| listed(from, field, read_lot), |lots| lots.iter().map(write_lot).collect();
    Vec<FiringId>: read_firings, |firings| firings.iter().map(FiringId::to_string).collect();
    Vec<(Span, Celsius)>: read_plan, |plan| plan.iter().map(write_corner).collect();
}

fn number(from: &mut Fields, field: &Field) -> Result<Option<f64>, FieldError> {
    from.optional_number(field.key, field.example, field.of.range(), field.advice)
}

/// A moment as it is stored in a field.
pub fn rfc3339(at: Moment) -> String {
    DateTime::from_timestamp_millis(at.0).unwrap_or_default().to_rfc3339()
}

/// The moment that is stored so.
pub fn from_rfc3339(text: &str) -> Option<Moment> {
    Some(Moment(DateTime::parse_from_rfc3339(text).ok()?.timestamp_millis()))
}

fn moment(from: &mut Fields, field: &Field) -> Result<Option<Moment>, FieldError> {
    let Some(text) = from.optional_text(field.key, field.example)? else { return Ok(None) };
    let read = from_rfc3339(&text).ok_or_else(|| FieldError::Refused {
        key: field.key,
        reason: format!(
            "\"{text}\" is no time with date and offset: write it like {}",
            field.example
        ),
    })?;
    Ok(Some(read))
}

fn word<W: Word>(from: &mut Fields, field: &Field) -> Result<Option<W>, FieldError> {
    from.optional_choice(field.key, W::ALL, W::name)
}

/// A value that is stored as it is typed.
fn typed<T: FromStr<Err: fmt::Display>>(
    from: &mut Fields,
    field: &Field,
) -> Result<Option<T>, FieldError> {
    let text = from.optional_text(field.key, field.example)?;
    text.map(|text| text.parse())
        .transpose()
        .map_err(|error: T::Err| FieldError::Refused { key: field.key, reason: error.to_string() })
}

/// Days of the week: names, with ranges such as "mon-sat", as text or as a list; or numbers from 1 (Monday)
/// to 7, from 0 where there is a 0.
fn read_days(from: &mut Fields, field: &Field) -> Result<Option<WeekDays>, FieldError> {
    let days = |value: &Value| {
        let listed = match value {
            Value::String(text) => return text.parse().ok(),
            other => other.as_array()?,
        };
        let first = if listed.iter().any(|day| day.as_u64() == Some(0)) { 0 } else { 1 };
        let mut days = WeekDays::default();
        for listed in listed {
            match listed {
                Value::String(text) => {
                    let WeekDays(named) = text.parse().ok()?;
                    days.0.iter_mut().zip(named).for_each(|(day, named)| *day |= named);
                }
                number => {
                    *days.0.get_mut((number.as_u64()? as usize).checked_sub(first)?)? = true;
                }
            }
        }
        Some(days)
    };
    from.value(field.key, field.example, "days of the week", days).map(Some)
}

/// Text, which says something where it has to be there, and may be empty where it is in the shop's
/// own words.
fn read_text(from: &mut Fields, field: &Field) -> Result<Option<String>, FieldError> {
    match field.of {
        _ if field.needed => from.text(field.key, field.example).map(Some),
        Of::Text(_) | Of::Name => from.text_or_empty(field.key, field.example).map(Some),
        _ => from.optional_text(field.key, field.example),
    }
}

fn write_shelf(shelf: &ShelfCone) -> Value {
    json!({ "place": shelf.place, "cone": shelf.cone.name(), "seen": shelf.seen.name() })
}

fn read_shelf(shelf: &mut Fields) -> Result<ShelfCone, FieldError> {
    Ok(ShelfCone {
        place: shelf.text("place", "\"top\"")?,
        cone: shelf.cone("cone")?,
        seen: shelf.choice("seen", &Seen::ALL, Seen::name)?,
    })
}

fn write_said(said: &Said) -> Value {
    let Said { kiln, load_type, lots, light, pack, draw, kept } = said;
    json!({
        "kiln": kiln, "load_type": load_type, "lots": lots, PACK_FROM.key: pack.written(),
        LIGHT_AT.key: light.written(), DRAW_FROM.key: draw.written(), "kept": kept,
    })
}

fn read_said(said: &mut Fields) -> Result<Said, FieldError> {
    let time = |said: &mut Fields, field: &Field| {
        moment(said, field)?.ok_or_else(|| said.missing(field.key, field.example))
    };
    Ok(Said {
        kiln: said.text("kiln", "\"North\"")?,
        load_type: said.text("load_type", "\"glaze\"")?,
        lots: said.texts("lots", "[\"7\"]")?,
        light: time(said, &LIGHT_AT)?,
        pack: time(said, &PACK_FROM)?,
        draw: time(said, &DRAW_FROM)?,
        kept: said.optional_flag("kept")?,
    })
}

fn write_lot(LotOf { lot, load_type, kiln }: &LotOf) -> Value {
    json!({ "lot": lot, "load_type": load_type, "kiln": kiln })
}

fn read_lot(lot: &mut Fields) -> Result<LotOf, FieldError> {
    Ok(LotOf {
        lot: lot.text("lot", "\"7\"")?,
        load_type: lot.text("load_type", "\"glaze\"")?,
        kiln: lot.optional_text("kiln", "\"North\"")?,
    })
}

/// A list of objects, each read strictly.
fn listed<T>(
    from: &mut Fields,
    field: &Field,
    read: fn(&mut Fields) -> Result<T, FieldError>,
) -> Result<Option<Vec<T>>, FieldError> {
    let one = |mut object: Fields| {
        let read = read(&mut object)?;
        object.finish().map(|()| read)
    };
    let all = from.objects(field.key, field.example)?.into_iter().map(one);
    all.collect::<Result<_, _>>().map(Some)
}

fn read_firings(from: &mut Fields, field: &Field) -> Result<Option<Vec<FiringId>>, FieldError> {
    let Field { key, example, .. } = *field;
    let number = |text: String| {
        text.parse().map(FiringId).map_err(|_| FieldError::Refused {
            key,
            reason: format!("\"{text}\" is no number of a firing: write them like {example}"),
        })
    };
    let numbers = from.texts(key, example)?.into_iter().map(number);
    numbers.collect::<Result<_, _>>().map(Some)
}

/// A corner point as a pair of minutes and degrees.
fn write_corner((after, celsius): &(Span, Celsius)) -> Value {
    json!([after.as_minutes(), celsius.0])
}

/// More corner points than any kiln's controller knows; a plan is not a record of readings.
const LONGEST_PLAN: usize = 300;

fn read_plan(from: &mut Fields, field: &Field) -> Result<Option<Vec<(Span, Celsius)>>, FieldError> {
    let pairs = from.pairs(field.key, field.example)?;
    let refused = |reason| Err(FieldError::Refused { key: field.key, reason });
    if pairs.len() > LONGEST_PLAN {
        let count = pairs.len();
        return refused(format!("{count} points are more than the {LONGEST_PLAN} a plan may have"));
    }
    let mut plan: Vec<(Span, Celsius)> = Vec::with_capacity(pairs.len());
    for (minutes, celsius) in pairs {
        for (value, name, (low, high)) in [
            (minutes, "time in minutes", field.of.range()),
            (celsius, "temperature in C", TEMPERATURE_RANGE_C),
        ] {
            if !(low..=high).contains(&value) {
                return refused(format!("the {name} {value} is outside {low} to {high}"));
            }
        }
        let after = Span::from_minutes(minutes);
        if let Some((before, _)) = plan.last().filter(|(before, _)| *before >= after) {
            let before = before.as_minutes();
            return refused(format!(
                "the point at {minutes} min comes after the one at {before} min: put the points in the order of time, each later than the one before"
            ));
        }
        plan.push((after, Celsius(celsius)));
    }
    Ok(Some(plan))
}
