//! The written form of an event: a kind, its version, and an object of named fields.
//!
//! The firing record and the journal share it. Kinds and fields may be added later, never
//! changed: a file written today has to be read for ever. Should the meaning of a kind ever have
//! to change, it gets a new version and [`What`] is read from both.

mod mark;
mod plan;

use serde_json::{Map, Value, json};

use super::fields::{FieldError, Fields};
use crate::cone::{Cone, Family, chart};
use crate::firing::event::{
    ConePack, Fullness, GlowSeen, Lit, Look, Outcome, Packing, Seen, ShelfCone, Verdict,
};
use crate::firing::{EventId, FiringId, What};
use crate::glow::GlowWord;
use crate::kiln::{Fuel, Kiln, LoadType, Miss};
use crate::review::suggestion::{Change, Suggestion};
use crate::units::{Celsius, CelsiusPerHour, RATE_RANGE_C_PER_H, Span, TEMPERATURE_RANGE_C};

/// The kinds of events. The number is what the journal stores; it is never used again for another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    Kiln = 2,
    LoadType = 3,
    Packed = 4,
    Lit = 5,
    Reading = 1,
    ProbeSilent = 6,
    Look = 7,
    Turned = 8,
    Note = 9,
    Off = 10,
    Aborted = 11,
    Resumed = 12,
    Drawn = 13,
    Outcome = 14,
    Acknowledged = 15,
    Shelved = 16,
    Struck = 17,
    Accepted = 18,
    ProbeChanged = 19,
    Called = 24,
    Marked = 25,
    Glow = 26,
}

impl Kind {
    pub const ALL: [Kind; 22] = [
        Kind::Lit,
        Kind::Reading,
        Kind::Look,
        Kind::Glow,
        Kind::Off,
        Kind::Drawn,
        Kind::Outcome,
        Kind::Packed,
        Kind::Turned,
        Kind::Note,
        Kind::ProbeSilent,
        Kind::Aborted,
        Kind::Resumed,
        Kind::Acknowledged,
        Kind::Shelved,
        Kind::Struck,
        Kind::Kiln,
        Kind::LoadType,
        Kind::Accepted,
        Kind::Called,
        Kind::Marked,
        Kind::ProbeChanged,
    ];

    /// The name in a firing record.
    pub fn name(self) -> &'static str {
        match self {
            Kind::Kiln => "kiln",
            Kind::LoadType => "load_type",
            Kind::Packed => "packed",
            Kind::Lit => "lit",
            Kind::Reading => "reading",
            Kind::ProbeSilent => "probe_silent",
            Kind::Look => "look",
            Kind::Glow => "glow",
            Kind::Turned => "turned",
            Kind::Note => "note",
            Kind::Off => "off",
            Kind::Aborted => "aborted",
            Kind::Resumed => "resumed",
            Kind::Drawn => "drawn",
            Kind::Outcome => "outcome",
            Kind::Acknowledged => "acknowledged",
            Kind::Shelved => "shelved",
            Kind::Struck => "struck",
            Kind::Accepted => "accepted",
            Kind::Called => "called",
            Kind::Marked => "marked",
            Kind::ProbeChanged => "probe_changed",
        }
    }

    /// The version its fields are written in; every version up to it can be read.
    pub fn version(self) -> i64 {
        1
    }

    pub fn numbered(number: i64) -> Option<Kind> {
        Kind::ALL.into_iter().find(|kind| *kind as i64 == number)
    }

    /// Whether it belongs to the shop and not to a firing.
    pub fn is_of_the_shop(self) -> bool {
        matches!(self, Kind::Kiln | Kind::LoadType | Kind::Accepted | Kind::ProbeChanged)
    }

    pub fn of(what: &What) -> Kind {
        match what {
            What::KilnSet(_) => Kind::Kiln,
            What::LoadTypeSet(_) => Kind::LoadType,
            What::Packed(_) => Kind::Packed,
            What::Lit(_) => Kind::Lit,
            What::Reading(_) => Kind::Reading,
            What::ProbeSilent { .. } => Kind::ProbeSilent,
            What::Look(_) => Kind::Look,
            What::Glow(_) => Kind::Glow,
            What::Turned { .. } => Kind::Turned,
            What::Note { .. } => Kind::Note,
            What::Off => Kind::Off,
            What::Aborted { .. } => Kind::Aborted,
            What::Resumed => Kind::Resumed,
            What::Drawn => Kind::Drawn,
            What::Outcome(_) => Kind::Outcome,
            What::Acknowledged { .. } => Kind::Acknowledged,
            What::Shelved { .. } => Kind::Shelved,
            What::Struck { .. } => Kind::Struck,
            What::Accepted(_) => Kind::Accepted,
            What::Called => Kind::Called,
            What::Marked(_) => Kind::Marked,
            What::ProbeChanged { .. } => Kind::ProbeChanged,
        }
    }
}

/// The fields of an event, those that say nothing left out.
pub fn write(what: &What) -> Map<String, Value> {
    let mut fields = match what {
        What::KilnSet(kiln) => json!({
            "name": kiln.name,
            "fuel": kiln.fuel.name(),
            "litres": kiln.litres,
            "ceiling_c": kiln.ceiling.map(|ceiling| ceiling.0),
            "fastest_climb_c_per_h": kiln.fastest_climb.map(|climb| climb.0),
        }),
        What::LoadTypeSet(load_type) => json!({
            "name": load_type.name,
            "cone": load_type.target.name(),
            "cone_family": load_type.family.name(),
            "under_cones": load_type.under_cones,
            "over_cones": load_type.over_cones,
            "under": load_type.under.name(),
            "over": load_type.over.name(),
            "usual_length_min": load_type.usual_length.map(Span::as_minutes),
            "cautions": load_type.cautions,
        }),
        What::Packed(packing) => {
            let mut fields = json!({
                "kiln": packing.kiln,
                "load_type": packing.load_type,
                "contents": packing.contents,
                "pieces": packing.pieces,
                "full": packing.full.map(Fullness::name),
                "worth": packing.worth,
                "packed_by": packing.packed_by,
                "cones_stand": packing.cones_stand,
            });
            if let (Some(pack), Some(fields)) = (&packing.pack, fields.as_object_mut()) {
                write_pack(pack, fields);
            }
            fields
        }
        What::Lit(lit) => {
            let mut fields = json!({ "kiln": lit.kiln, "load_type": lit.load_type });
            if let Some(fields) = fields.as_object_mut() {
                write_pack(&lit.pack, fields);
                fields.insert("schedule".into(), lit.schedule.clone().into());
                fields.insert("plan".into(), plan::write(&lit.plan));
            }
            fields
        }
        What::Reading(celsius) => json!({ "celsius": celsius.0 }),
        What::ProbeSilent { reason } | What::Aborted { reason } => json!({ "reason": reason }),
        What::Look(look) => json!({
            "target": look.target.map(Seen::name),
            "guide": look.guide.map(Seen::name),
            "guard": look.guard.map(Seen::name),
        }),
        What::Glow(glow) => {
            json!({ "colour": glow.colour.name(), "room": room_name(glow.room_dark) })
        }
        What::Turned { to } => json!({ "to": to }),
        What::Note { text } => json!({ "text": text }),
        What::Off | What::Resumed | What::Drawn | What::Called => json!({}),
        What::Outcome(outcome) => json!({
            "result": outcome.verdict.name(),
            "note": outcome.note,
            "shelves": outcome.shelves.iter().map(write_shelf).collect::<Vec<_>>(),
            "loss": outcome.loss,
        }),
        What::Acknowledged { alarm } => json!({ "alarm": alarm }),
        What::Shelved { alarm, length } => {
            json!({ "alarm": alarm, "length_min": length.as_minutes() })
        }
        What::Accepted(suggestion) => write_accepted(suggestion),
        What::Marked(mark) => mark::write(mark),
        What::ProbeChanged { kiln, note } => json!({ "kiln": kiln, "note": note }),
        What::Struck { event, reason } => json!({ "struck": event.0, "reason": reason }),
    };
    let mut fields = std::mem::take(fields.as_object_mut().expect("every form is an object"));
    fields.retain(|_, value| !says_nothing(value));
    fields
}

fn says_nothing(value: &Value) -> bool {
    match value {
        Value::Null => true,
        Value::String(text) => text.is_empty(),
        Value::Array(list) => list.is_empty(),
        _ => false,
    }
}

fn write_pack(pack: &ConePack, fields: &mut Map<String, Value>) {
    fields.insert("cone".into(), pack.target.name().into());
    fields.insert("guide".into(), pack.guide.map(|cone| cone.name()).into());
    fields.insert("guard".into(), pack.guard.map(|cone| cone.name()).into());
    fields.insert("cone_family".into(), pack.family.name().into());
}

fn write_accepted(suggestion: &Suggestion) -> Value {
    let evidence: Vec<String> = suggestion.evidence.iter().map(FiringId::to_string).collect();
    match &suggestion.change {
        Change::ProbeCorrection { kiln, add_c } => {
            json!({ "kiln": kiln, "add_c": add_c, "firings": evidence })
        }
        Change::Tolerance { load_type, under_cones, over_cones } => json!({
            "load_type": load_type,
            "under_cones": under_cones,
            "over_cones": over_cones,
            "firings": evidence,
        }),
    }
}

fn write_shelf(shelf: &ShelfCone) -> Value {
    json!({ "place": shelf.place, "cone": shelf.cone.name(), "seen": shelf.seen.name() })
}

/// An event of this kind from its fields, of any version up to the present one.
///
/// # Errors
/// [`FieldError`] for the first key that is missing, unknown or has a value that is not allowed.
pub fn read(kind: Kind, mut fields: Fields) -> Result<What, FieldError> {
    let what = match kind {
        Kind::Kiln => What::KilnSet(read_kiln(&mut fields)?),
        Kind::LoadType => What::LoadTypeSet(read_load_type(&mut fields)?),
        Kind::Packed => What::Packed(read_packing(&mut fields)?),
        Kind::Lit => What::Lit(Lit {
            kiln: fields.text("kiln", "\"North\"")?,
            load_type: fields.text("load_type", "\"gold\"")?,
            pack: read_pack(&mut fields)?,
            schedule: fields.optional_text("schedule", "\"gold on glazed ware\"")?,
            plan: plan::read(&mut fields)?,
        }),
        Kind::Reading => What::Reading(Celsius(fields.number(
            "celsius",
            "712",
            TEMPERATURE_RANGE_C,
            "check the number and its scale",
        )?)),
        Kind::ProbeSilent => {
            What::ProbeSilent { reason: fields.text_or_empty("reason", "\"the cable came off\"")? }
        }
        Kind::Look => What::Look(read_look(&mut fields)?),
        Kind::Glow => What::Glow(GlowSeen {
            colour: fields.choice("colour", &GlowWord::ALL, GlowWord::name)?,
            room_dark: fields.choice("room", &[true, false], room_name)?,
        }),
        Kind::Turned => What::Turned { to: fields.text("to", "\"half open\"")? },
        Kind::Note => What::Note { text: fields.text("text", "\"draught from the door\"")? },
        Kind::Off => What::Off,
        Kind::Aborted => {
            What::Aborted { reason: fields.text_or_empty("reason", "\"gas failed\"")? }
        }
        Kind::Resumed => What::Resumed,
        Kind::Drawn => What::Drawn,
        Kind::Outcome => What::Outcome(read_outcome(&mut fields)?),
        Kind::Acknowledged => What::Acknowledged { alarm: fields.text("alarm", "\"look\"")? },
        Kind::Shelved => What::Shelved {
            alarm: fields.text("alarm", "\"look\"")?,
            length: read_length(fields.number(
                "length_min",
                "10",
                LENGTH_RANGE_MIN,
                LENGTH_ADVICE,
            )?),
        },
        Kind::Accepted => What::Accepted(read_accepted(&mut fields)?),
        Kind::Called => What::Called,
        Kind::Marked => What::Marked(mark::read(&mut fields)?),
        Kind::ProbeChanged => What::ProbeChanged {
            kiln: fields.text("kiln", "\"North\"")?,
            note: fields.text_or_empty("note", "\"a new one, type K\"")?,
        },
        Kind::Struck => What::Struck {
            event: EventId(fields.whole("struck", "17")?),
            reason: fields.text_or_empty("reason", "\"wrong kiln\"")?,
        },
    };
    fields.finish()?;
    Ok(what)
}

const LENGTH_RANGE_MIN: (f64, f64) = (0.0, 43_200.0);
const LENGTH_ADVICE: &str = "a length of time in minutes, at most 30 days";
const TOLERANCE_RANGE_CONES: (f64, f64) = (0.0, 5.0);
/// No probe that is still of use is further off, C.
const CORRECTION_RANGE_C: (f64, f64) = (-60.0, 60.0);
const MONEY_RANGE: (f64, f64) = (0.0, 1e9);

fn read_length(minutes: f64) -> Span {
    Span::from_minutes(minutes)
}

fn read_kiln(fields: &mut Fields) -> Result<Kiln, FieldError> {
    Ok(Kiln {
        name: fields.text("name", "\"North\"")?,
        fuel: fields.choice("fuel", &Fuel::ALL, Fuel::name)?,
        litres: fields.optional_number(
            "litres",
            "250",
            (1.0, 100_000.0),
            "the volume of the chamber in litres",
        )?,
        ceiling: fields
            .optional_number("ceiling_c", "1260", TEMPERATURE_RANGE_C, "the maker's limit in C")?
            .map(Celsius),
        fastest_climb: fields
            .optional_number(
                "fastest_climb_c_per_h",
                "180",
                RATE_RANGE_C_PER_H,
                "the fastest climb near the top in C/h",
            )?
            .map(CelsiusPerHour),
    })
}

/// A probe correction names a kiln, a tolerance a load type.
fn read_accepted(fields: &mut Fields) -> Result<Suggestion, FieldError> {
    let change = match fields.optional_text("kiln", "\"North\"")? {
        Some(kiln) => Change::ProbeCorrection {
            kiln,
            add_c: fields.number("add_c", "-8", CORRECTION_RANGE_C, "C to add to every reading")?,
        },
        None => {
            let mut cones = |key| {
                let what = "how far off the target the load forgives, in cones";
                fields.optional_number(key, "0.5", TOLERANCE_RANGE_CONES, what)
            };
            let (under_cones, over_cones) = (cones("under_cones")?, cones("over_cones")?);
            let load_type = fields.text("load_type", "\"gold\"")?;
            Change::Tolerance { load_type, under_cones, over_cones }
        }
    };
    let example = "[\"12\", \"15\"]";
    let evidence = fields.texts("firings", example)?;
    let number = |text: String| {
        text.parse().map(FiringId).map_err(|_| FieldError::Refused {
            key: "firings",
            reason: format!("\"{text}\" is no number of a firing: write them like {example}"),
        })
    };
    let evidence = evidence.into_iter().map(number).collect::<Result<_, _>>()?;
    Ok(Suggestion { change, evidence })
}

fn read_load_type(fields: &mut Fields) -> Result<LoadType, FieldError> {
    let tolerance = "how far off the target the load forgives, in cones";
    let name = fields.text("name", "\"gold\"")?;
    let target = fields.cone("cone")?;
    let family = fields.family("cone_family")?;
    made("cone", target, family)?;
    Ok(LoadType {
        name,
        target,
        family,
        under_cones: fields.number("under_cones", "0.5", TOLERANCE_RANGE_CONES, tolerance)?,
        over_cones: fields.number("over_cones", "0.5", TOLERANCE_RANGE_CONES, tolerance)?,
        under: fields.choice("under", &Miss::ALL, Miss::name)?,
        over: fields.choice("over", &Miss::ALL, Miss::name)?,
        usual_length: fields
            .optional_number("usual_length_min", "300", LENGTH_RANGE_MIN, LENGTH_ADVICE)?
            .map(read_length),
        cautions: fields.texts("cautions", "[\"Be at the kiln near the end.\"]")?,
    })
}

fn read_packing(fields: &mut Fields) -> Result<Packing, FieldError> {
    Ok(Packing {
        kiln: fields.text("kiln", "\"North\"")?,
        load_type: fields.text("load_type", "\"gold\"")?,
        contents: fields.text_or_empty("contents", "\"cups and plates\"")?,
        pieces: fields.optional_count("pieces", "40")?,
        full: fields.optional_choice("full", &Fullness::ALL, Fullness::name)?,
        worth: fields.optional_number("worth", "350", MONEY_RANGE, "the worth of the load")?,
        packed_by: fields.text_or_empty("packed_by", "\"Anna\"")?,
        cones_stand: fields.text_or_empty("cones_stand", "\"middle shelf\"")?,
        pack: read_optional_pack(fields)?,
    })
}

fn read_pack(fields: &mut Fields) -> Result<ConePack, FieldError> {
    read_optional_pack(fields)?.ok_or_else(|| fields.missing("cone", "\"018\""))
}

fn read_optional_pack(fields: &mut Fields) -> Result<Option<ConePack>, FieldError> {
    let target = fields.optional_cone("cone")?;
    let guide = fields.optional_cone("guide")?;
    let guard = fields.optional_cone("guard")?;
    let Some(target) = target else {
        fields.optional_family("cone_family")?;
        return Ok(None);
    };
    let family = fields.family("cone_family")?;
    for (key, cone) in [("cone", Some(target)), ("guide", guide), ("guard", guard)] {
        if let Some(cone) = cone {
            made(key, cone, family)?;
        }
    }
    if let Some(guide) = guide.filter(|guide| *guide >= target) {
        let reason = format!("the guide cone {guide} has to be cooler than the target {target}");
        return Err(FieldError::Refused { key: "guide", reason });
    }
    if let Some(guard) = guard.filter(|guard| *guard <= target) {
        let reason = format!("the guard cone {guard} has to be hotter than the target {target}");
        return Err(FieldError::Refused { key: "guard", reason });
    }
    Ok(Some(ConePack { family, target, guide, guard }))
}

fn made(key: &'static str, cone: Cone, family: Family) -> Result<(), FieldError> {
    chart::rows_or_reason(cone, family)
        .map(|_| ())
        .map_err(|error| FieldError::Refused { key, reason: error.to_string() })
}

fn read_look(fields: &mut Fields) -> Result<Look, FieldError> {
    Ok(Look {
        target: fields.optional_choice("target", &Seen::ALL, Seen::name)?,
        guide: fields.optional_choice("guide", &Seen::ALL, Seen::name)?,
        guard: fields.optional_choice("guard", &Seen::ALL, Seen::name)?,
    })
}

fn room_name(dark: bool) -> &'static str {
    if dark { "dark" } else { "light" }
}

fn read_outcome(fields: &mut Fields) -> Result<Outcome, FieldError> {
    let mut shelves = Vec::new();
    for mut shelf in fields
        .objects("shelves", "[{\"place\": \"top\", \"cone\": \"018\", \"seen\": \"down\"}]")?
    {
        shelves.push(ShelfCone {
            place: shelf.text("place", "\"top\"")?,
            cone: shelf.cone("cone")?,
            seen: shelf.choice("seen", &Seen::ALL, Seen::name)?,
        });
        shelf.finish()?;
    }
    Ok(Outcome {
        verdict: fields.choice("result", &Verdict::ALL, Verdict::name)?,
        note: fields.text_or_empty("note", "\"bright and even\"")?,
        shelves,
        loss: fields.optional_number("loss", "350", MONEY_RANGE, "what was lost")?,
    })
}
