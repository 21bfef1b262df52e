//! From what a device sent to an event in the journal: the same draft, the same questions and the same store
//! as at the computer.

use super::clerk::Picture;
use crate::casting::What as Bench;
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
use crate::hours::Hours;
use crate::kiln::{Kiln, same_name};
use crate::scene::Scene;
use crate::units::{Moment, Span};
use crate::ware;
use crate::words::{self, Dial, Meant, Title, Zone};

/// A tap that is older is asked about.
const OLD: Span = Span::minutes(10);
/// The unit of a temperature that was typed without one.
pub const SCALE: &str = "scale";

/// What is noted of the shop itself and of the casting bench.
pub const OF_THE_SHOP: [Title; 14] = [
    Title::Kiln,
    Title::LoadType,
    Title::Lot,
    Title::Hours,
    Title::Closed,
    Title::Mould,
    Title::Room,
    Title::Poured,
    Title::Drained,
    Title::Check,
    Title::Rename,
    Title::Retire,
    Title::BringBack,
    Title::Strike,
];

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
    let mut titles = STEPS.iter().chain(&OF_THE_SHOP);
    titles.any(|title| title.kind() == Some(kind)).then_some(kind)
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
            Kind::Kiln | Kind::KilnRenamed => scene.names(),
            _ => scene.load_types.iter().map(|load| load.name.as_str()).collect(),
        };
        let against = Against {
            names: &names,
            record: record.as_ref().map(|record| (&record.firing, &*record.past)),
            ..Against::in_scene(known, &sent.kiln, scene, *dial)
        };
        let doubt = against.doubt(&what, at).filter(|_| !sent.sure);
        questions.extend(doubt.map(|doubtful| against.says(&doubtful, at)));
        let (mut all, full) = steps::of_each_mould(what, draft.said("mould"), &scene.bench)?;
        questions.extend(full.filter(|_| !sent.sure));
        // What a device saves it can take back with one tap.
        let (seen, what) = (scene.last_event, all.remove(0));
        if !all.is_empty() {
            return Err(words::PAGE_ONE_MOULD.into());
        }
        Ok((Entry { about, at, what, seen, corrects: None, then: Vec::new() }, questions))
    }

    /// What it is about, if there is such a kiln and something in it.
    fn about(&self, sent: &Sent, scene: &Scene) -> Result<About, String> {
        let kiln = || scene.kiln(&sent.kiln).ok_or(words::PAGE_NO_SUCH_PLACE.trim_end().to_owned());
        match (sent.kind, sent.firing) {
            (Kind::KilnRenamed | Kind::KilnReturned, _) if is_retired(&sent.kiln, scene) => {
                Ok(About::Shop)
            }
            (Kind::KilnReturned, _) => Err(words::PAGE_NO_SUCH_PLACE.trim_end().into()),
            (Kind::ProbeChanged | Kind::KilnNote | Kind::KilnRenamed | Kind::KilnRetired, _) => {
                kiln().map(|_| About::Shop)
            }
            (kind, _) if kind == Kind::Struck || kind.is_of_the_shop() => Ok(About::Shop),
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
        let blank = known.clone().unwrap_or_else(|| blank(sent.kind, &sent.kiln, scene));
        let mut draft = sent.over(blank);
        let key = named_by(sent.kind);
        let name = draft.said(key).to_owned();
        let taken = |name| {
            let known = described(sent.kind, name, scene).is_some();
            known || sent.kind == Kind::Kiln && is_retired(name, scene)
        };
        match (sent.kind, &known) {
            (_, Some(known)) => draft.say(key, known.said(key)),
            (Kind::Kiln | Kind::LoadType | Kind::Mould, None) if taken(&name) => {
                return Err(words::name_taken(&name));
            }
            (Kind::Struck, _) if draft.said("reason").is_empty() => {
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

fn is_retired(name: &str, scene: &Scene) -> bool {
    scene.retired.iter().any(|kiln: &Kiln| same_name(&kiln.name, name))
}

/// The field by which something that is described anew is known; empty of what is not.
pub fn named_by(kind: Kind) -> &'static str {
    match kind {
        Kind::Lot => "lot",
        kind if kind.describes() => kind.fields()[0].key,
        _ => "",
    }
}

/// What is known of something before anybody says more.
pub fn blank(kind: Kind, name: &str, scene: &Scene) -> Draft {
    if let Some(kiln) = scene.kiln(name).filter(|_| !kind.is_of_the_bench()) {
        return steps::draft(kind, kiln, &scene.load_types);
    }
    let mut draft = Draft::new(kind, name);
    if kind == Kind::Lot {
        draft.say("lot", &ware::next_name(&scene.lots));
    }
    if kind.is_of_the_bench() {
        let body = scene.bench.mould(name).and_then(|mould| mould.body.as_deref());
        draft.say("mould", name);
        draft.say("body", body.unwrap_or_default());
    }
    draft
}

/// Something of the shop as it is known.
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
        Kind::Lot => {
            let mut lots = scene.lots.iter().filter(|lot| same_name(&lot.name, name));
            What::LotSet(lots.next()?.clone())
        }
        Kind::Hours => {
            let spans = scene.hours.spans();
            let mut spans = spans.iter().filter(|hours: &&Hours| hours.days.to_string() == name);
            What::Hours(*spans.next()?)
        }
        Kind::Mould => {
            let moulds = &scene.bench.casting.as_ref()?.moulds;
            let mut moulds = moulds.iter().filter(|mould| same_name(&mould.code, name));
            What::Bench(Bench::Mould(moulds.next()?.clone()))
        }
        _ => return None,
    };
    let mut draft = Draft::of(&what);
    if let What::LotSet(lot) = &what {
        let wall = |at| LocalZone.wall(at).format("%Y-%m-%d %H:%M").to_string();
        draft.say("ready", &lot.ready.map(wall).unwrap_or_default());
        draft.say("wanted", &lot.wanted.map(wall).unwrap_or_default());
    }
    Some(draft)
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
