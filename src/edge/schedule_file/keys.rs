//! The keys of a schedule file, as types: what is typed, not yet what it means. The same keys stand
//! in `assets/schedule.schema.json` for editors.

use serde::{Deserialize, Deserializer, Serialize};

use crate::schedule::Ware;

/// A number under a key that may be left out. Unlike an `Option` it takes no `null`: a key that is
/// there has a number.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
#[serde(transparent)]
pub(super) struct Number(pub(super) Option<f64>);

impl Number {
    pub(super) fn of(value: f64) -> Self {
        Number(Some(value))
    }

    fn is_absent(&self) -> bool {
        self.0.is_none()
    }
}

impl<'de> Deserialize<'de> for Number {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        f64::deserialize(deserializer).map(Number::of)
    }
}

/// A firing schedule: the planned heating of one load.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a schedule in braces")]
pub(super) struct ScheduleKeys {
    /// The version of this format.
    pub(super) version: u32,
    /// What the schedule is for, in a few words.
    pub(super) name: String,
    /// What is in the kiln.
    pub(super) ware: Ware,
    /// The cone that has to go down, as potters write it: "018", "05.5", "6".
    pub(super) target: String,
    /// The type of the cone; "large" and "self-supporting" end at different temperatures.
    pub(super) family: String,
    /// The temperature of the kiln when it is lit, C. Left out: 20 C.
    #[serde(default, skip_serializing_if = "Number::is_absent")]
    pub(super) start_c: Number,
    /// The temperature of the kiln when it is lit, F. Not together with start_c.
    #[serde(default, skip_serializing_if = "Number::is_absent")]
    pub(super) start_f: Number,
    /// The orders, one after the other.
    pub(super) segments: Vec<SegmentKeys>,
    /// Where to ventilate, and why.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub(super) ventilate: Vec<VentilateKeys>,
    /// Why the schedule is as it is, in whole sentences.
    pub(super) reasoning: String,
}

/// One order. Each begins where the one before ends.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", expecting = "one of ramp, soak or cool, in braces")]
pub(super) enum SegmentKeys {
    /// Climb to a temperature, at a rate or in a length of time.
    Ramp(RampKeys),
    /// Stay at the temperature reached.
    Soak(SoakKeys),
    /// Fall to a temperature under control.
    Cool(CoolKeys),
}

#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields, expecting = "a ramp in braces")]
pub(super) struct RampKeys {
    /// Where the climb ends, C.
    #[serde(skip_serializing_if = "Number::is_absent")]
    pub(super) to_c: Number,
    /// Where the climb ends, F.
    #[serde(skip_serializing_if = "Number::is_absent")]
    pub(super) to_f: Number,
    /// How fast it climbs, C an hour.
    #[serde(skip_serializing_if = "Number::is_absent")]
    pub(super) rate_c_per_h: Number,
    /// How fast it climbs, F an hour.
    #[serde(skip_serializing_if = "Number::is_absent")]
    pub(super) rate_f_per_h: Number,
    /// How long the climb takes, minutes.
    #[serde(skip_serializing_if = "Number::is_absent")]
    pub(super) minutes: Number,
    /// How long the climb takes, hours.
    #[serde(skip_serializing_if = "Number::is_absent")]
    pub(super) hours: Number,
}

#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields, expecting = "a soak in braces")]
pub(super) struct SoakKeys {
    /// How long, minutes.
    #[serde(skip_serializing_if = "Number::is_absent")]
    pub(super) minutes: Number,
    /// How long, hours.
    #[serde(skip_serializing_if = "Number::is_absent")]
    pub(super) hours: Number,
}

#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields, expecting = "a cool in braces")]
pub(super) struct CoolKeys {
    /// Where the fall ends, C.
    #[serde(skip_serializing_if = "Number::is_absent")]
    pub(super) to_c: Number,
    /// Where the fall ends, F.
    #[serde(skip_serializing_if = "Number::is_absent")]
    pub(super) to_f: Number,
    /// How fast it falls, C an hour; a positive number.
    #[serde(skip_serializing_if = "Number::is_absent")]
    pub(super) rate_c_per_h: Number,
    /// How fast it falls, F an hour; a positive number.
    #[serde(skip_serializing_if = "Number::is_absent")]
    pub(super) rate_f_per_h: Number,
}

/// A stretch of temperature with the vents open and the room aired.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, expecting = "a stretch to ventilate, in braces")]
pub(super) struct VentilateKeys {
    /// Where it begins, C.
    #[serde(default, skip_serializing_if = "Number::is_absent")]
    pub(super) from_c: Number,
    /// Where it begins, F.
    #[serde(default, skip_serializing_if = "Number::is_absent")]
    pub(super) from_f: Number,
    /// Where it ends, C.
    #[serde(default, skip_serializing_if = "Number::is_absent")]
    pub(super) to_c: Number,
    /// Where it ends, F.
    #[serde(default, skip_serializing_if = "Number::is_absent")]
    pub(super) to_f: Number,
    /// What leaves the ware there.
    pub(super) why: String,
}
