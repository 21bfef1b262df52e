//! What a device sent to be noted: the texts of a form, taken apart.

use std::str::FromStr;

use serde::Deserialize;

use crate::edge::draft::Draft;
use crate::edge::journal::Uid;
use crate::edge::journal::devices::Device;
use crate::edge::shop::steps::STEPS;
use crate::firing::fields::Of;
use crate::firing::{EventId, FiringId, Kind};
use crate::units::Span;
use crate::words::Title;

/// What a correction said of the time as it was opened.
pub const OPENED: &str = "opened";
/// The unit of a temperature that was typed without one.
pub const SCALE: &str = "scale";

/// What is noted of the shop itself and of the casting bench.
pub const OF_THE_SHOP: [Title; 16] = [
    Title::Kiln,
    Title::LoadType,
    Title::Lot,
    Title::Hours,
    Title::Closed,
    Title::Limits,
    Title::Mould,
    Title::MouldRenamed,
    Title::Room,
    Title::Poured,
    Title::Drained,
    Title::Check,
    Title::Rename,
    Title::Retire,
    Title::BringBack,
    Title::Strike,
];

/// What is said by an address or a form: names, each with a text.
#[derive(Debug, Clone, Deserialize)]
#[serde(transparent)]
pub struct Said(pub Vec<(String, String)>);

impl Said {
    /// A field that is chosen stands behind what is known.
    pub fn of(&self, key: &str) -> Option<&str> {
        self.0.iter().rev().find(|(name, _)| name == key).map(|(_, text)| text.as_str())
    }

    pub fn text(&self, key: &str) -> &str {
        self.of(key).unwrap_or_default()
    }

    pub fn number<T: FromStr>(&self, key: &str) -> Option<T> {
        self.of(key)?.parse().ok()
    }
}

/// What a device sent to be noted.
#[derive(Debug, Clone)]
pub struct Sent {
    pub kind: Kind,
    /// The kiln it is about, or the name of what is described anew.
    pub kiln: String,
    /// The firing that was seen there as it was tapped.
    pub firing: Option<FiringId>,
    /// The last event in the picture on which it was tapped.
    pub rev: EventId,
    /// Mark made by the device: what comes twice with the same one is one event.
    uid: String,
    /// How long ago it was tapped.
    pub age: Span,
    /// Somebody was asked whether it is meant.
    pub sure: bool,
    /// It is a firing of before, from paper.
    pub past: bool,
    /// The entry in whose place it is put.
    pub corrects: Option<EventId>,
    /// What is said of each field.
    fields: Vec<(String, String)>,
}

/// The kinds that can be noted.
pub fn kind_named(name: &str) -> Option<Kind> {
    let kind = Kind::ALL.into_iter().find(|kind| kind.name() == name)?;
    let mut titles = STEPS.iter().chain(&OF_THE_SHOP);
    titles.any(|title| title.kind() == Some(kind)).then_some(kind)
}

impl Sent {
    /// What was sent; `None` of what no form of the page sends.
    pub fn read(Said(mut fields): Said) -> Option<Sent> {
        let mut take = |key: &str| {
            let place = fields.iter().rposition(|(name, _)| name == key)?;
            Some(fields.remove(place).1)
        };
        let kind = kind_named(&take("kind")?)?;
        let kiln = take("kiln").unwrap_or_default();
        let firing = take("firing").filter(|text| !text.is_empty());
        let firing = firing.map(|text| text.parse().map(FiringId)).transpose().ok()?;
        let rev = EventId(take("rev")?.parse().ok()?);
        let uid = take("uid").filter(|uid| !uid.is_empty())?;
        let age = take("age_ms").map_or(Some(0), |text| text.parse::<u32>().ok())?;
        let (sure, past) = (take("sure").is_some(), take("past").is_some());
        let corrects = take("corrects").map(|id| id.parse().map(EventId)).transpose().ok()?;
        let age = Span(age.into());
        Some(Sent { kind, kiln, firing, rev, uid, age, sure, past, corrects, fields })
    }

    /// What is said of a field; `None` where nothing was asked.
    pub fn said(&self, key: &str) -> Option<&str> {
        self.fields.iter().find(|(name, _)| name == key).map(|(_, text)| text.as_str())
    }

    /// The mark that makes it one event.
    pub fn mark(&self, by: &Device) -> Uid {
        let (kind, said) = (self.kind, &self.fields);
        Uid::of_content(&format!("page {:?} {} {kind} {} {said:?}", by.token, self.uid, self.kiln))
    }

    /// The draft with what was said in place of what is known.
    pub fn over(&self, mut draft: Draft) -> Draft {
        for field in self.kind.fields().iter().filter(|field| field.is_entered()) {
            let Some(said) = self.said(field.key) else { continue };
            let bare = field.of == Of::Temperature && said.trim().parse::<f64>().is_ok();
            match self.said(SCALE).filter(|scale| bare && ["C", "F"].contains(scale)) {
                Some(scale) => draft.say(field.key, &format!("{said}{scale}")),
                None if field.is_many() => {
                    draft.say_all(field.key, said.lines().map(str::to_owned));
                }
                None => draft.say(field.key, said),
            }
        }
        draft
    }
}
