//! From what a device sent to an event in the journal: the same draft, the same questions and the same store
//! as at the computer.

use super::clerk::Picture;
use crate::edge::draft::{Against, Draft, Known, Lack};
use crate::edge::journal::Uid;
use crate::edge::journal::devices::Device;
use crate::edge::own_schedules::Offered;
use crate::edge::shop::clock::LocalZone;
use crate::edge::shop::kept::KeptShop;
use crate::edge::shop::steps::{self, STEPS};
use crate::edge::shop::store::{About, Entry};
use crate::firing::event::Look;
use crate::firing::fields::{Of, WHEN};
use crate::firing::{Event, EventId, FiringId, Kind, Refusal, Seen, What, Who};
use crate::kiln::same_name;
use crate::scene::Scene;
use crate::units::{Moment, Span};
use crate::words::{self, Dial, Meant};

/// A tap that is older is asked about.
const OLD: Span = Span::minutes(10);
/// The unit of a temperature that was typed without one.
pub const SCALE: &str = "scale";

/// What a device sent to be noted.
#[derive(Debug, Clone)]
pub struct Sent {
    pub kind: Kind,
    /// The kiln it is about, or the name of what is described anew.
    pub kiln: String,
    /// The firing that was seen there as it was tapped.
    firing: Option<FiringId>,
    /// The last event in the picture on which it was tapped.
    rev: EventId,
    /// Mark made by the device: what comes twice with the same one is one event.
    uid: String,
    /// How long ago it was tapped.
    age: Span,
    /// Somebody was asked whether it is meant.
    sure: bool,
    /// What is said of each field.
    pub fields: Vec<(String, String)>,
}

/// What became of it.
#[derive(Debug, Clone)]
pub enum Noted {
    /// It is in the journal.
    Saved { id: EventId, said: String, is_strike: bool },
    /// Nothing was written before somebody says that it is meant; the newest event known by now.
    Asks { question: String, rev: EventId },
    /// Nothing was written, and why.
    Refused(String),
    /// The PIN was not typed on this device.
    NoRight,
}

/// The kinds that can be noted.
pub fn kind_named(name: &str) -> Option<Kind> {
    let kind = Kind::ALL.into_iter().find(|kind| kind.name() == name)?;
    let of_a_kiln = STEPS.iter().any(|title| title.kind() == Some(kind));
    let others = [Kind::Kiln, Kind::LoadType, Kind::Struck];
    (of_a_kiln || others.contains(&kind)).then_some(kind)
}

impl Sent {
    /// What was sent; `None` of what no form of the page sends.
    pub fn read(mut fields: Vec<(String, String)>) -> Option<Sent> {
        let mut take = |key: &str| {
            let place = fields.iter().position(|(name, _)| name == key)?;
            Some(fields.remove(place).1)
        };
        let kind = kind_named(&take("kind")?)?;
        let kiln = take("kiln").unwrap_or_default();
        let firing = take("firing").filter(|text| !text.is_empty());
        let firing = firing.map(|text| text.parse().map(FiringId)).transpose().ok()?;
        let rev = EventId(take("rev")?.parse().ok()?);
        let uid = take("uid").filter(|uid| !uid.is_empty())?;
        let age = take("age_ms").map_or(Some(0), |text| text.parse::<u32>().ok())?;
        let sure = take("sure").is_some();
        Some(Sent { kind, kiln, firing, rev, uid, age: Span(age.into()), sure, fields })
    }

    /// What is said of a field; `None` where nothing was asked.
    fn said(&self, key: &str) -> Option<&str> {
        self.fields.iter().find(|(name, _)| name == key).map(|(_, text)| text.as_str())
    }

    /// The mark that makes it one event.
    fn mark(&self, by: &Device) -> Uid {
        let (kind, said) = (self.kind, &self.fields);
        Uid::of_content(&format!("page {:?} {} {kind} {} {said:?}", by.token, self.uid, self.kiln))
    }

    /// The draft with what was said in place of what is known.
    fn over(&self, mut draft: Draft) -> Draft {
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

/// Whoever notes, and what is known as it comes in.
#[derive(Debug)]
pub struct Desk<'a> {
    pub kept: &'a mut KeptShop,
    pub picture: &'a Picture,
    pub by: &'a Device,
    pub now: Moment,
}

impl Desk<'_> {
    /// Writes what was sent, once.
    ///
    /// # Errors
    /// When the file can neither be read nor written.
    pub fn note(&mut self, sent: &Sent) -> anyhow::Result<Noted> {
        if !self.by.may_note(self.now) {
            return Ok(Noted::NoRight);
        }
        let (uid, dial) = (sent.mark(self.by), self.picture.dial());
        if let Some(id) = self.kept.journal().marked(self.place(sent), uid)? {
            return self.saved(id, &dial);
        }
        let (picture, schedules) = (self.picture, &self.picture.schedules);
        let scene = picture.floor.scene(self.now);
        let (entry, questions) = match self.entry(sent, &scene, schedules, &dial) {
            Ok(judged) => judged,
            Err(why) => return Ok(Noted::Refused(why)),
        };
        if !questions.is_empty() {
            let rev = scene.last_event.unwrap_or(EventId(0)).max(sent.rev);
            return Ok(Noted::Asks { question: questions.join(" "), rev });
        }
        match self.kept.append_by(&entry, (self.by.person(), uid), self.now) {
            Ok(id) => self.saved(id, &dial),
            Err(error) => Ok(Noted::Refused(format!("{error:#}"))),
        }
    }

    /// Where the event would be, if it was written before.
    fn place(&self, sent: &Sent) -> Option<FiringId> {
        let struck = || EventId(sent.said("struck").and_then(|id| id.parse().ok()).unwrap_or(0));
        match sent.kind {
            Kind::Struck => {
                self.kept.journal().event(struck()).ok()?.event.firing.or(Some(FiringId::SHOP))
            }
            kind if kind.is_of_the_shop() => Some(FiringId::SHOP),
            _ => sent.firing,
        }
    }

    /// Says what is in the journal.
    fn saved(&self, id: EventId, dial: &Dial<'_>) -> anyhow::Result<Noted> {
        let event = self.kept.journal().event(id)?.event;
        let firing = event.firing.filter(|firing| *firing != FiringId::SHOP);
        let kiln = firing.map(|firing| self.kept.firing(firing)).transpose()?;
        let kiln = kiln.map(|firing| firing.kiln).unwrap_or_default();
        let said = words::saved_in_shop(&words::event_phrase(&event.what, &kiln, dial), id);
        Ok(Noted::Saved { id, said, is_strike: matches!(event.what, What::Struck { .. }) })
    }

    /// What is to be written, and what is asked before.
    fn entry(
        &self,
        sent: &Sent,
        scene: &Scene,
        schedules: &[Offered],
        dial: &Dial<'_>,
    ) -> Result<(Entry, Vec<String>), String> {
        let about = self.about(sent, scene)?;
        let tapped = self.now - sent.age;
        let at = match sent.said(WHEN.key).unwrap_or_default() {
            "" => tapped,
            text => {
                words::read_time(text, tapped, Meant::Past, dial)
                    .map_err(|error| error.to_string())?
                    .moment
            }
        };
        let kiln = scene.kiln(&sent.kiln);
        let before = kiln.and_then(steps::said);
        let known = Known {
            load_types: &scene.load_types,
            schedules,
            before,
            ware: Some(&scene.ware),
            clock: Some((tapped, *dial)),
        };
        let draft = self.draft(sent, scene)?;
        let what = draft.what(&known).map_err(|lack| match lack {
            Lack::Wrong(text) => text,
            Lack::Missing(_) if sent.kind == Kind::Look => words::PAGE_NO_CONE.into(),
            Lack::Missing(field) => field.missing.to_owned(),
        })?;
        let mut questions = Vec::new();
        if sent.age > OLD && !sent.sure {
            questions.push(words::page_tapped_long_ago(sent.age));
        }
        if let About::Firing(firing) = about {
            questions.extend(self.changed(firing, sent).map(|(who, event)| {
                let said = words::event_phrase(&event.what, &sent.kiln, dial);
                words::page_changed_since(&said, &who, &dial.at(event.at, self.now))
            }));
        }
        let record = match (&what, about) {
            (What::Reading(_), About::Firing(firing)) => self.kept.record(firing).ok(),
            _ => None,
        };
        let names = match sent.kind {
            Kind::Kiln => scene.names(),
            _ => scene.load_types.iter().map(|load| load.name.as_str()).collect(),
        };
        let against = Against {
            names: &names,
            record: record.as_ref().map(|record| (&record.firing, &*record.past)),
            ..Against::in_scene(known, &sent.kiln, scene, *dial)
        };
        let doubt = against.doubt(&what, at).filter(|_| !sent.sure);
        questions.extend(doubt.map(|doubtful| against.says(&doubtful, at)));
        let seen = scene.last_event;
        Ok((Entry { about, at, what, seen, corrects: None, then: Vec::new() }, questions))
    }

    /// What it is about, if there is such a kiln and something in it.
    fn about(&self, sent: &Sent, scene: &Scene) -> Result<About, String> {
        let kiln = || scene.kiln(&sent.kiln).ok_or(words::PAGE_NO_SUCH_PLACE.trim_end().to_owned());
        match (sent.kind, sent.firing) {
            (Kind::Kiln | Kind::LoadType | Kind::Struck, _) => Ok(About::Shop),
            (Kind::ProbeChanged | Kind::KilnNote, _) => kiln().map(|_| About::Shop),
            (Kind::Packed | Kind::Lit, None) => kiln().map(|_| About::NewFiring),
            (kind, None) => {
                let kiln = kiln()?.kiln.clone();
                Err(Refusal::NotLit { kiln, step: kind.phrase() }.to_string())
            }
            (_, Some(firing)) => {
                let found = self.kept.firing(firing).map_err(|error| format!("{error:#}"))?;
                let is_here = same_name(&found.kiln, &kiln()?.kiln);
                is_here.then_some(About::Firing(firing)).ok_or(words::PAGE_GARBLED.into())
            }
        }
    }

    fn draft(&self, sent: &Sent, scene: &Scene) -> Result<Draft, String> {
        let known = described(sent.kind, &sent.kiln, scene);
        let blank = match (&known, scene.kiln(&sent.kiln)) {
            (Some(known), _) => known.clone(),
            (None, Some(kiln)) => steps::draft(sent.kind, kiln, &scene.load_types),
            (None, None) => Draft::new(sent.kind, &sent.kiln),
        };
        let mut draft = sent.over(blank);
        let name = draft.said("name").to_owned();
        match sent.kind {
            Kind::Kiln | Kind::LoadType if known.is_some() => draft.say("name", &sent.kiln),
            Kind::Kiln | Kind::LoadType if described(sent.kind, &name, scene).is_some() => {
                return Err(words::name_taken(&name));
            }
            Kind::Struck if draft.said("reason").is_empty() => {
                draft.say("reason", words::undo_reason());
            }
            _ => {}
        }
        Ok(draft)
    }

    /// What somebody else noted since it was tapped, where it moves the firing.
    fn changed(&self, firing: FiringId, sent: &Sent) -> Option<(String, Event)> {
        let fold = self.kept.journal().fold(firing).ok()?;
        let since = fold.events().iter().rev().filter(|event| event.id > sent.rev);
        let mut moved = since.filter(|event| moves(&event.what) && sent.kind != Kind::Note);
        moved.find_map(|event| match &event.who {
            Who::Person(name) if name != self.by.person() => Some((name.clone(), event.clone())),
            _ => None,
        })
    }
}

/// A kiln or a load type as it is known.
pub fn described(kind: Kind, name: &str, scene: &Scene) -> Option<Draft> {
    let what = match kind {
        Kind::Kiln => {
            let mut kilns = scene.kilns.iter().filter(|kiln| same_name(&kiln.kiln, name));
            What::KilnSet(kilns.next()?.described.clone())
        }
        Kind::LoadType => {
            let mut loads = scene.load_types.iter().filter(|load| same_name(&load.name, name));
            What::LoadTypeSet(loads.next()?.clone())
        }
        _ => return None,
    };
    Some(Draft::of(&what))
}

/// Whether a firing stands elsewhere after it.
fn moves(what: &What) -> bool {
    match what {
        What::Look(Look { target, .. }) => *target == Some(Seen::Down),
        What::Packed(_) | What::Lit(_) | What::Off | What::Aborted { .. } | What::Resumed => true,
        What::Drawn | What::Outcome(_) | What::Struck { .. } => true,
        _ => false,
    }
}

impl Picture {
    /// How the shop likes things told.
    pub fn dial(&self) -> Dial<'static> {
        let (scale, clock) = (self.house.scale, self.house.clock);
        let (scale, clock) = (scale.unwrap_or_default(), clock.unwrap_or_default());
        Dial { zone: &LocalZone, clock, scale }
    }
}
