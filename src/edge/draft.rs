//! What somebody said of one event, before it is written: the one judge of it for every way of
//! entering, with no screen and no command line in it.
//!
//! A draft holds texts, one or several a field. It says what is missing or wrong, makes the event,
//! and asks once where what was said is hard to believe.

mod doubtful;

use serde_json::{Map, Value, json};

use super::fields::{FieldError, Fields};
use super::form;
use super::nearest::did_you_mean;
use super::own_schedules::Offered;
use crate::alarm::Task;
use crate::closed::Word;
use crate::cone::{Cone, Family, chart};
use crate::firing::event::Packing;
use crate::firing::fields::{Field, Of};
use crate::firing::{ConePack, Kind, Seen, What};
use crate::hours::{Day, TimeOfDay, WeekDays};
use crate::kiln::{LoadType, same_name, typed};
use crate::schedule::Schedule;
use crate::text;
use crate::units::{Celsius, CelsiusPerHour, Moment, Span};
use crate::ware::{Place, Ware};
use crate::words::{self, Dial};
pub use doubtful::{Against, Doubtful};

/// The keys that say which cones are at the spyhole.
pub const CONES: [&str; 4] = ["cone", "cone_family", "guide", "guard"];

/// The word that there is no such cone.
const NO_CONE: &str = "none";

/// What somebody said of one event.
#[derive(Debug, Clone)]
pub struct Draft {
    pub kind: Kind,
    /// The texts that say something, several of one field in their order.
    said: Vec<(&'static str, String)>,
}

/// Why a draft makes no event.
#[derive(Debug, Clone, PartialEq)]
pub enum Lack {
    Wrong(String),
    /// Nothing is said where something has to be.
    Missing(&'static Field),
}

impl Lack {
    /// For somebody who has a form before them.
    pub fn said(self) -> String {
        match self {
            Lack::Wrong(text) => text,
            Lack::Missing(field) => field.missing.into(),
        }
    }
}

/// What a draft is completed from.
#[derive(Debug, Clone, Copy, Default)]
pub struct Known<'a> {
    pub load_types: &'a [LoadType],
    pub schedules: &'a [Offered],
    /// What was said of the load before.
    pub before: Option<&'a Packing>,
    /// The ware of the shop, where what is packed is held against it.
    pub ware: Option<&'a [Ware]>,
    /// What a time to come is read by.
    pub clock: Option<(Moment, Dial<'a>)>,
}

impl Draft {
    /// A draft that says what is usual, and the kiln.
    pub fn new(kind: Kind, kiln: &str) -> Draft {
        let mut draft = Draft { kind, said: Vec::new() };
        draft.say("kiln", kiln);
        for field in kind.fields().iter().filter(|field| !field.usual.is_empty()) {
            draft.say(field.key, field.usual);
        }
        draft
    }

    /// A draft that says what an event says.
    pub fn of(what: &What) -> Draft {
        let kind = Kind::of(what);
        let mut draft = Draft { kind, said: Vec::new() };
        for (key, value) in form::write(what) {
            let field = kind.field(&key);
            match value {
                Value::Array(several) => {
                    draft.say_all(field.key, several.iter().map(|one| text(field, one)));
                }
                one => draft.say(field.key, &text(field, &one)),
            }
        }
        draft
    }

    /// A draft that says what a packing said; of the cones only what is not usual for its load.
    pub fn again(kind: Kind, packing: &Packing, load_types: &[LoadType]) -> Draft {
        let mut draft = Draft { kind, ..Draft::of(&What::Packed(packing.clone())) };
        let load = load_types.iter().find(|load| load.name == packing.load_type);
        let (Some(pack), Some(load)) = (packing.pack, load) else { return draft };
        let usual = ConePack::usual(pack.target, pack.family);
        let as_usual = [
            pack.target == load.target,
            pack.family == load.family,
            pack.guide == usual.guide,
            pack.guard == usual.guard,
        ];
        for (key, _) in CONES.into_iter().zip(as_usual).filter(|(_, as_usual)| *as_usual) {
            draft.say(key, "");
        }
        for (key, cone, usual) in
            [("guide", pack.guide, usual.guide), ("guard", pack.guard, usual.guard)]
        {
            if cone.is_none() && usual.is_some() {
                draft.say(key, NO_CONE);
            }
        }
        draft
    }

    /// A draft that says what an earlier entry said; of its cones only what is not usual for its load, so
    /// that they go with the load.
    pub fn of_earlier(what: &What, load_types: &[LoadType]) -> Draft {
        match what {
            What::Packed(packing) => Draft::again(Kind::Packed, packing, load_types),
            What::Lit(lit) => {
                let (kiln, load_type) = (lit.kiln.clone(), lit.load_type.clone());
                let load = Packing { kiln, load_type, pack: Some(lit.pack), ..Packing::default() };
                let mut draft = Draft::again(Kind::Lit, &load, load_types);
                draft.say("schedule", lit.schedule.as_deref().unwrap_or_default());
                draft
            }
            other => Draft::of(other),
        }
    }

    /// The event in the place of an earlier one, whose plan holds while its schedule does.
    ///
    /// # Errors
    /// See [`Draft::what`].
    pub fn in_place_of(&self, was: &What, known: &Known<'_>) -> Result<What, Lack> {
        let mut what = self.what(known)?;
        if let (What::Lit(lit), What::Lit(was)) = (&mut what, was)
            && lit.schedule == was.schedule
        {
            lit.plan.clone_from(&was.plan);
        }
        Ok(what)
    }

    /// Says this in place of what was said of the field; an empty text takes it back.
    pub fn say(&mut self, key: &'static str, text: &str) {
        self.say_all(key, std::iter::once(text.to_owned()));
    }

    /// The same of a field that is said in several parts.
    pub fn say_all(&mut self, key: &'static str, texts: impl IntoIterator<Item = String>) {
        self.said.retain(|(said, _)| *said != key);
        let texts = texts.into_iter().map(|text| text.trim().to_owned());
        self.said.extend(texts.filter(|text| !text.is_empty()).map(|text| (key, text)));
    }

    /// What is said of a field, empty for nothing.
    pub fn said(&self, key: &str) -> &str {
        let said = self.said.iter().find(|(said, _)| *said == key);
        said.map_or("", |(_, text)| text)
    }

    pub fn all_said<'d>(&'d self, key: &'d str) -> impl Iterator<Item = &'d str> {
        self.said.iter().filter(move |(said, _)| *said == key).map(|(_, text)| text.as_str())
    }

    /// What the phrase of the event leaves out, each field behind its name, as the reader likes it written.
    pub fn beside_its_phrase(&self, now: Moment, dial: &Dial<'_>) -> Vec<String> {
        let Some(told) = words::told_in_phrase(self.kind) else { return Vec::new() };
        let fields = self.kind.fields().iter();
        let rest = fields.filter(|field| field.is_entered() && !told.contains(&field.key));
        let said = rest.filter_map(|field| {
            let said = self.all_said(field.key).map(|text| shown(field, text, now, dial));
            let said: Vec<String> = said.collect();
            (!said.is_empty()).then(|| words::field_said(field.label, &said))
        });
        said.collect()
    }

    /// The event.
    ///
    /// # Errors
    /// [`Lack`] for the first field that is missing or wrong.
    pub fn what(&self, known: &Known<'_>) -> Result<What, Lack> {
        let draft = self.completed(known)?;
        let mut fields = Map::new();
        for field in self.kind.fields() {
            let said: Vec<&str> = draft.all_said(field.key).collect();
            let value = match said.as_slice() {
                [] if field.needed && !field.missing.is_empty() => {
                    return Err(Lack::Missing(field));
                }
                [] if field.needed => known.check(field, "").map_err(Lack::Wrong)?,
                [] => continue,
                _ if !field.is_many() => known.check(field, said[0]).map_err(Lack::Wrong)?,
                several => {
                    let several = several.iter().map(|text| check(field, text));
                    several.collect::<Result<_, _>>().map_err(Lack::Wrong)?
                }
            };
            fields.insert(field.key.into(), value);
        }
        if self.kind == Kind::Look && fields.is_empty() {
            return Err(Lack::Missing(&self.kind.fields()[0]));
        }
        let read = form::read(self.kind, Fields::new(fields));
        let mut what = read.map_err(|error| match error {
            FieldError::Missing { key, .. } if !self.kind.field(key).missing.is_empty() => {
                Lack::Missing(self.kind.field(key))
            }
            FieldError::Refused { reason, .. } => Lack::Wrong(reason),
            other => Lack::Wrong(other.to_string()),
        })?;
        match &mut what {
            What::Lit(lit) => {
                let named = |one: &&Offered| Some(&one.reference) == lit.schedule.as_ref();
                let named = known.schedules.iter().find(named).and_then(Offered::schedule);
                lit.plan = named.map(Schedule::plan).unwrap_or_default();
            }
            What::Packed(Packing { lots, .. }) => known.holds(lots).map_err(Lack::Wrong)?,
            What::LotSet(lot) => known.names(&mut lot.then).map_err(Lack::Wrong)?,
            What::Shelved { alarm, length } => {
                let may = Task::of_alarm(alarm).map_or(Ok(()), |task| task.may_be_put_off(*length));
                may.map_err(|error| Lack::Wrong(error.to_string()))?;
            }
            _ => {}
        }
        Ok(what)
    }

    /// The load type that is named.
    pub fn load_type<'k>(&self, load_types: &'k [LoadType]) -> Option<&'k LoadType> {
        load_types.iter().find(|load| same_name(&load.name, self.said("load_type")))
    }

    /// The target cone and its family: as they were said, else as usual for the load.
    ///
    /// # Errors
    /// Why there is no such cone.
    pub fn target(&self, load: &LoadType) -> Result<(Cone, Family), String> {
        let cone = match self.said("cone") {
            "" => load.target,
            text => Cone::parse(text).map_err(|error| error.to_string())?,
        };
        let family = match self.said("cone_family") {
            "" => load.family,
            text => Family::parse(text).map_err(|error| error.to_string())?,
        };
        chart::rows_or_reason(cone, family).map_err(|error| error.to_string())?;
        Ok((cone, family))
    }

    /// The same with all cones named, where they are those of a load.
    fn completed(&self, known: &Known<'_>) -> Result<Draft, Lack> {
        let mut draft = self.clone();
        let begins = matches!(self.kind, Kind::Packed | Kind::Lit);
        let Some(load) = self.load_type(known.load_types).filter(|_| begins) else {
            return Ok(draft);
        };
        let (target, family) = self.target(load).map_err(Lack::Wrong)?;
        let usual = ConePack::usual(target, family);
        draft.say("cone", target.name());
        draft.say("cone_family", family.name());
        for (key, cone) in [("guide", usual.guide), ("guard", usual.guard)] {
            if self.said(key).is_empty() {
                draft.say(key, cone.map_or(NO_CONE, Cone::name));
            }
        }
        Ok(draft)
    }
}

impl Known<'_> {
    fn check(&self, field: &Field, text: &str) -> Result<Value, String> {
        match (field.of, &self.clock) {
            (Of::Ahead(hour), Some((now, dial))) => {
                let at = words::read_ahead(text, *now, hour, dial).map_err(|e| e.to_string())?;
                Ok(form::rfc3339(at).into())
            }
            _ => check(field, text),
        }
    }

    /// Whether these lots wait, or are where they were said to be before.
    fn holds(&self, lots: &[String]) -> Result<(), String> {
        let Some(ware) = self.ware else { return Ok(()) };
        let before = self.before.map_or(&[][..], |before| &before.lots);
        let is = |name: &String| {
            let there = |ware: &&Ware| same_name(&ware.lot.name, name);
            before.contains(name) || ware.iter().filter(there).any(|one| one.place != Place::Done)
        };
        let none = lots.iter().find(|name| !is(name));
        none.map_or(Ok(()), |name| Err(words::no_such_lot(name, ware)))
    }

    /// Names load types as the shop does.
    fn names(&self, said: &mut [String]) -> Result<(), String> {
        for name in said.iter_mut().filter(|_| !self.load_types.is_empty()) {
            let load = self.load_types.iter().find(|load| same_name(&load.name, name));
            let names = self.load_types.iter().map(|load| load.name.as_str());
            *name = load.map(|load| load.name.clone()).ok_or_else(|| {
                format!("there is no load type \"{name}\"{}", did_you_mean(name, names))
            })?;
        }
        Ok(())
    }
}

/// The value that a text stands for, as it is stored.
///
/// # Errors
/// What is wrong with the text, and what to write instead.
pub fn check(field: &Field, text: &str) -> Result<Value, String> {
    let text = text.trim();
    let said = |error: &dyn std::fmt::Display| error.to_string();
    let number = |read: Result<f64, String>| read.map(Value::from);
    if let Some((tells, all)) = field.of.words().filter(|_| field.of != Of::Family) {
        return word(tells, text, all).map(|place| all[place].into());
    }
    match field.of {
        Of::Name => typed::name(text).map(Value::from).map_err(|e| said(&e)),
        Of::Temperature => number(Celsius::parse(text).map(|t| t.0).map_err(|e| said(&e))),
        Of::RoomTemperature => number(Celsius::parse(text).map_err(|e| said(&e)).and_then(|t| {
            let (low, high) = field.of.range();
            let inside = (low..=high).contains(&t.0);
            inside.then_some(t.0).ok_or_else(|| words::no_room_temperature(text))
        })),
        Of::Humidity => number(words::read_humidity(text)),
        Of::Rate => number(CelsiusPerHour::parse(text).map(|rate| rate.0).map_err(|e| said(&e))),
        Of::Length => number(Span::parse(text).map(Span::as_minutes).map_err(|e| said(&e))),
        Of::Litres => number(typed::read_litres(text).map_err(|e| said(&e))),
        Of::Cones => number(typed::tolerance(text).map_err(|e| said(&e))),
        Of::Share => number(words::read_share(text, field.of.range())),
        Of::Grams => number(words::read_grams(text, field.of.range())),
        Of::Money => number(words::read_sum(text, field.of.range())),
        Of::Kilowatts => number(words::read_kilowatts(text, field.of.range())),
        Of::Count => text.parse::<u32>().map(Value::from).map_err(|_| words::no_count(text)),
        Of::MaybeCone if text.eq_ignore_ascii_case(NO_CONE) => Ok(Value::Null),
        Of::Cone | Of::MaybeCone => {
            Cone::parse(text).map(|cone| cone.name().into()).map_err(|e| said(&e))
        }
        Of::Family => Family::parse(text).map(|family| family.name().into()).map_err(|e| said(&e)),
        Of::WeekDays => {
            text.parse::<WeekDays>().map(|d| d.to_string().into()).map_err(|e| said(&e))
        }
        Of::TimeOfDay => {
            text.parse::<TimeOfDay>().map(|time| time.to_string().into()).map_err(|e| said(&e))
        }
        Of::Date => text.parse::<Day>().map(|day| day.to_string().into()).map_err(|e| said(&e)),
        Of::Event => words::read_number("event", text).map(Value::from),
        Of::ShelfCones => shelf(text),
        Of::Text(noun) if text.is_empty() && !noun.is_empty() => Err(words::is_empty(noun)),
        _ => text::note(text).map(Value::from).map_err(|e| said(&e)),
    }
}

/// One of a closed list of words, as it was typed.
///
/// # Errors
/// The words there are, with what they tell.
pub fn read_word<W: Word>(tells: &str, text: &str) -> Result<W, String> {
    word(tells, text, W::NAMES).map(|place| W::ALL[place])
}

/// The place of a word; blanks, hyphens, underscores and capitals count the same.
fn word(tells: &str, text: &str, all: &[&str]) -> Result<usize, String> {
    let plain = |text: &str| text.trim().to_lowercase().replace(['-', '_'], " ");
    all.iter().position(|one| plain(one) == plain(text)).ok_or_else(|| {
        let all: Vec<String> = all.iter().map(|one| one.replace('_', "-")).collect();
        let hint = did_you_mean(text, all.iter().map(String::as_str));
        format!("{tells} \"{text}\" is none of {}{hint}", all.join(", "))
    })
}

/// Reads `top left=018:down`.
fn shelf(text: &str) -> Result<Value, String> {
    let bad = |reason: &str| words::no_shelf_cone(text, reason);
    let (place, rest) = text.split_once('=').ok_or_else(|| bad("has no \"=\""))?;
    let (cone, lean) = rest.split_once(':').ok_or_else(|| bad("has no \":\""))?;
    let cone = Cone::parse(cone).map_err(|error| bad(&format!("names no cone ({error})")))?;
    if place.trim().is_empty() {
        return Err(words::is_empty("place"));
    }
    let place = text::name(place.trim()).map_err(|error| error.to_string())?;
    let seen: Seen = read_word("what a cone does,", lean)?;
    Ok(json!({ "place": place, "cone": cone.name(), "seen": seen.name() }))
}

/// A stored value as somebody would type it.
fn text(field: &Field, value: &Value) -> String {
    let number = value.as_f64().unwrap_or_default();
    let part = |key: &str| value.get(key).and_then(Value::as_str).unwrap_or_default().to_owned();
    match (field.of, value) {
        (Of::Temperature | Of::RoomTemperature, _) => format!("{number}C"),
        (Of::Humidity, _) => format!("{}%", (1e6 * number).round() / 1e4),
        (Of::Rate, _) => format!("{number}C/h"),
        (Of::Length, _) => {
            let length = Span::from_minutes(number);
            let shown = length.to_string();
            // Days and hours alone would lose the rest.
            let whole = Span::parse(&shown).is_ok_and(|read| read == length);
            if whole { shown } else { format!("{number} min") }
        }
        (Of::ShelfCones, _) => format!("{}={}:{}", part("place"), part("cone"), part("seen")),
        (_, Value::String(text)) => text.clone(),
        _ => value.to_string(),
    }
}

/// What stands for a value where it is typed, as the reader likes it written.
fn shown(field: &Field, text: &str, now: Moment, dial: &Dial<'_>) -> String {
    let told = match field.of {
        Of::Temperature => Celsius::parse(text).ok().map(|t| dial.temperature(t)),
        Of::Rate => CelsiusPerHour::parse(text).ok().map(|rate| dial.rate(rate)),
        Of::Ahead(_) => form::from_rfc3339(text).map(|at| dial.time_and_day(at, now)),
        Of::Word(..) => Some(text.replace('_', " ")),
        _ => None,
    };
    told.unwrap_or_else(|| text.to_owned())
}
