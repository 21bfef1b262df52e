//! The schedule file: JSON, units in the names of the keys, nothing guessed.
//!
//! What is in the file and what it means are two types: the keys here, [`Schedule`] in the core.
//! A key this program does not know is an error, so that a misspelt `soak` is not a missing one.
//! The JSON Schema in `assets/schedule.schema.json` is generated from the types here.

mod keys;

use std::fmt::Display;

use serde_json::Value;

use super::nearest::nearest;
use crate::cone::{Cone, Family};
use crate::schedule::{Malformed, Pace, START, Schedule, Segment, Ventilate};
use crate::text::marked;
use crate::units::{Celsius, CelsiusPerHour, Span, UnitError};
use keys::{CoolKeys, Number, RampKeys, ScheduleKeys, SegmentKeys, SoakKeys, VentilateKeys};

/// The version of the file format written and read.
pub const VERSION: u32 = 1;

/// A file longer than this is no schedule, bytes.
pub const LONGEST_FILE: u64 = 1 << 20;

/// Why a schedule file was refused.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{0}")]
pub struct ScheduleFileError(String);

impl From<Malformed> for ScheduleFileError {
    fn from(Malformed(why): Malformed) -> ScheduleFileError {
        ScheduleFileError(why)
    }
}

/// The same of one place in the file.
fn wrong_at(place: &str, why: impl Display) -> ScheduleFileError {
    ScheduleFileError(format!("{place}: {why}"))
}

/// Reads a schedule from the text of a file.
///
/// # Errors
/// [`ScheduleFileError`], with line and column where the text itself is at fault, and with the
/// number of the segment where what it orders is.
pub fn from_json(text: &str) -> Result<Schedule, ScheduleFileError> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let keys: ScheduleKeys = serde_json::from_str(text).map_err(|error| explained(&error))?;
    keyed(&serde_json::from_str(text).map_err(|error| explained(&error))?)?;
    if keys.version != VERSION {
        return Err(ScheduleFileError(format!(
            "version {} of the file format is not known here: write version {VERSION}, or use a \
             newer program",
            keys.version
        )));
    }
    let target = Cone::parse(&keys.target).map_err(|error| wrong_at("target", error))?;
    let family = Family::parse(&keys.family).map_err(|error| wrong_at("family", error))?;
    let start = one_of("start", [("start_c", keys.start_c), ("start_f", keys.start_f)])?;
    let start = start.map_or(Ok(START), celsius).map_err(|error| wrong_at("start", error))?;
    let segments = keys.segments.iter().enumerate().map(|(index, keys)| segment(index + 1, keys));
    let ventilate = keys.ventilate.into_iter().enumerate();
    let schedule = Schedule {
        name: marked(keys.name.trim().to_owned()),
        ware: keys.ware,
        target,
        family,
        start,
        segments: segments.collect::<Result<_, _>>()?,
        ventilate: ventilate
            .map(|(index, keys)| stretch(index + 1, keys))
            .collect::<Result<_, _>>()?,
        reasoning: keys.reasoning,
    };
    schedule.well_formed()?;
    Ok(schedule)
}

/// Refuses what the parser lets pass: a list of values in the order of the keys. A number there has
/// no unit.
fn keyed(file: &Value) -> Result<(), ScheduleFileError> {
    let unkeyed = |place: &str| {
        let why = "there is a list in the place of keys: write it in braces, each number under the \
                   key that says its unit";
        Err(wrong_at(place, why))
    };
    if !file.is_object() {
        return unkeyed("the file");
    }
    let list = |key| file.get(key).and_then(Value::as_array).into_iter().flatten().enumerate();
    for (index, segment) in list("segments") {
        if !segment.as_object().is_some_and(|order| order.values().all(Value::is_object)) {
            return unkeyed(&format!("segment {}", index + 1));
        }
    }
    for (index, stretch) in list("ventilate") {
        if !stretch.is_object() {
            return unkeyed(&format!("ventilate {}", index + 1));
        }
    }
    Ok(())
}

/// The text of a schedule's file, in C. Reading it back gives the same schedule.
pub fn to_json(schedule: &Schedule) -> String {
    let keys = ScheduleKeys {
        version: VERSION,
        name: schedule.name.clone(),
        ware: schedule.ware,
        target: schedule.target.name().to_owned(),
        family: schedule.family.name().to_owned(),
        start_c: Number::of(schedule.start.0),
        start_f: Number::default(),
        segments: schedule.segments.iter().map(segment_keys).collect(),
        ventilate: schedule
            .ventilate
            .iter()
            .map(|stretch| VentilateKeys {
                from_c: Number::of(stretch.from.0),
                from_f: Number::default(),
                to_c: Number::of(stretch.to.0),
                to_f: Number::default(),
                why: stretch.why.clone(),
            })
            .collect(),
        reasoning: schedule.reasoning.clone(),
    };
    let mut text = serde_json::to_string_pretty(&keys).expect("keys are strings");
    text.push('\n');
    text
}

/// The JSON Schema (2020-12) of the schedule file, as far as a schema can say its rules.
pub const JSON_SCHEMA: &str = include_str!("../../assets/schedule.schema.json");

fn segment_keys(segment: &Segment) -> SegmentKeys {
    match *segment {
        Segment::Ramp { to, pace: Pace::Rate(rate) } => SegmentKeys::Ramp(RampKeys {
            to_c: Number::of(to.0),
            rate_c_per_h: Number::of(rate.0),
            ..RampKeys::default()
        }),
        Segment::Ramp { to, pace: Pace::Within(length) } => SegmentKeys::Ramp(RampKeys {
            to_c: Number::of(to.0),
            minutes: Number::of(length.as_minutes()),
            ..RampKeys::default()
        }),
        Segment::Soak(length) => SegmentKeys::Soak(SoakKeys {
            minutes: Number::of(length.as_minutes()),
            hours: Number::default(),
        }),
        Segment::Cool { to, rate } => SegmentKeys::Cool(CoolKeys {
            to_c: Number::of(to.0),
            rate_c_per_h: Number::of(rate.0),
            ..CoolKeys::default()
        }),
    }
}

/// A number under the key that says its unit.
type Typed = (&'static str, f64);

fn segment(number: usize, keys: &SegmentKeys) -> Result<Segment, ScheduleFileError> {
    let kind = match keys {
        SegmentKeys::Ramp(_) => "ramp",
        SegmentKeys::Soak(_) => "soak",
        SegmentKeys::Cool(_) => "cool",
    };
    let place = format!("segment {number} ({kind})");
    let quantity = |error: UnitError| wrong_at(&place, error);
    let missing = |what, keys| neither(&place, what, keys);
    let end = |to_c, to_f| {
        let typed = one_of(&place, [("to_c", to_c), ("to_f", to_f)])?;
        let typed = typed.ok_or_else(|| missing("the temperature to reach", "to_c or to_f"))?;
        celsius(typed).map_err(quantity)
    };
    match keys {
        SegmentKeys::Ramp(keys) => {
            let to = end(keys.to_c, keys.to_f)?;
            let rates = [("rate_c_per_h", keys.rate_c_per_h), ("rate_f_per_h", keys.rate_f_per_h)];
            let lengths = [("minutes", keys.minutes), ("hours", keys.hours)];
            let all = [rates[0], rates[1], lengths[0], lengths[1]];
            let typed = one_of(&place, all)?.ok_or_else(|| {
                missing("the pace", "rate_c_per_h or rate_f_per_h, or as minutes or hours")
            })?;
            let pace = match typed.0 {
                "minutes" | "hours" => Pace::Within(span(typed)),
                _ => Pace::Rate(rate(typed).map_err(quantity)?),
            };
            Ok(Segment::Ramp { to, pace })
        }
        SegmentKeys::Soak(keys) => {
            let typed = one_of(&place, [("minutes", keys.minutes), ("hours", keys.hours)])?;
            let typed = typed.ok_or_else(|| missing("the length", "minutes or hours"))?;
            Ok(Segment::Soak(span(typed)))
        }
        SegmentKeys::Cool(keys) => {
            let to = end(keys.to_c, keys.to_f)?;
            let rates = [("rate_c_per_h", keys.rate_c_per_h), ("rate_f_per_h", keys.rate_f_per_h)];
            let typed = one_of(&place, rates)?
                .ok_or_else(|| missing("the rate", "rate_c_per_h or rate_f_per_h"))?;
            Ok(Segment::Cool { to, rate: rate(typed).map_err(quantity)? })
        }
    }
}

fn stretch(number: usize, keys: VentilateKeys) -> Result<Ventilate, ScheduleFileError> {
    let place = format!("ventilate {number}");
    let end = |what, both, pair| {
        let typed = one_of(&place, pair)?;
        let typed = typed.ok_or_else(|| neither(&place, what, both))?;
        celsius(typed).map_err(|error| wrong_at(&place, error))
    };
    let from = [("from_c", keys.from_c), ("from_f", keys.from_f)];
    let to = [("to_c", keys.to_c), ("to_f", keys.to_f)];
    Ok(Ventilate {
        from: end("where it begins", "from_c or from_f", from)?,
        to: end("where it ends", "to_c or to_f", to)?,
        why: marked(keys.why),
    })
}

/// Refuses what none of these keys says.
fn neither(place: &str, what: &str, keys: &str) -> ScheduleFileError {
    wrong_at(place, format!("{what} is missing: give it as {keys}"))
}

/// The one key that is given, if any.
fn one_of<const N: usize>(
    place: &str,
    keys: [(&'static str, Number); N],
) -> Result<Option<Typed>, ScheduleFileError> {
    let mut given = keys.into_iter().filter_map(|(key, value)| Some((key, value.0?)));
    let (first, second) = (given.next(), given.next());
    if let (Some((first, _)), Some((second, _))) = (first, second) {
        let why = format!("{first} and {second} are both given: keep the one you mean");
        return Err(wrong_at(place, why));
    }
    Ok(first)
}

fn celsius((key, value): Typed) -> Result<Celsius, UnitError> {
    if key.ends_with("_f") {
        return Celsius::from_fahrenheit(value).checked(&format!("{value} F"));
    }
    Celsius(value).checked(&format!("{value} C"))
}

fn rate((key, value): Typed) -> Result<CelsiusPerHour, UnitError> {
    if key == "rate_f_per_h" {
        return CelsiusPerHour(value / 1.8).checked(&format!("{value} F/h"));
    }
    CelsiusPerHour(value).checked(&format!("{value} C/h"))
}

fn span((key, value): Typed) -> Span {
    if key == "hours" { Span::from_hours(value) } else { Span::from_minutes(value) }
}

/// What the parser said, in words for a person.
///
/// The parser hands out kind and names only within its message, in a fixed form: the word at fault
/// and the words it knows stand in backticks.
pub fn explained(error: &serde_json::Error) -> ScheduleFileError {
    let (line, column) = (error.line(), error.column());
    let message = marked(error.to_string());
    let position = format!(" at line {line} column {column}");
    let message = message.strip_suffix(&position).unwrap_or(&message).to_owned();
    let wrong = |why: String| ScheduleFileError(format!("line {line}, column {column}: {why}"));
    if !error.is_data() {
        return wrong(format!("this is not JSON: {message}"));
    }
    let mut quoted = message.split('`').skip(1).step_by(2).map(str::to_owned);
    let first = quoted.next().unwrap_or_default();
    let known: Vec<String> = quoted.collect();
    let nearest = nearest(&first, known.iter().map(String::as_str));
    let meant = nearest.map_or(String::new(), |word| format!(", did you mean \"{word}\"?"));
    let known = known.join(", ");
    wrong(match message.split_whitespace().next() {
        Some("unknown") if message.starts_with("unknown field") => {
            format!("unknown key \"{first}\"{meant}: the keys here are {known}")
        }
        Some("unknown") => format!("unknown word \"{first}\"{meant}: use one of {known}"),
        Some("missing") => format!("the key \"{first}\" is missing here: add it"),
        Some("duplicate") => format!("the key \"{first}\" is given twice: keep one"),
        _ => message.replace("f64", "a number").replace("u32", "a whole number").replace(
            "unit variant, expected newtype variant",
            "a bare word, expected braces after it",
        ),
    })
}
