//! From what a device sent to an event in the journal: the same draft, the same questions and the same store
//! as at the computer.

use super::clerk::Picture;
use super::sent::{OPENED, Sent};
use crate::casting::What as Bench;
use crate::closed::Word;
use crate::edge::draft::{Against, Draft, Known, Lack};
use crate::edge::from_paper::FromPaper;
use crate::edge::journal::devices::Device;
use crate::edge::own_schedules::Offered;
use crate::edge::shop::clock::LocalZone;
use crate::edge::shop::kept::KeptShop;
use crate::edge::shop::steps;
use crate::edge::shop::store::{About, Entry};
use crate::firing::event::Look;
use crate::firing::fields::WHEN;
use crate::firing::{Event, EventId, FiringId, Kind, Others, Refusal, Seen, What, Who};
use crate::kiln::{Kiln, same_name};
use crate::scene::Scene;
use crate::units::{Moment, Span};
use crate::words::{self, Dial};

/// A tap that is older is asked about.
const OLD: Span = Span::minutes(10);
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
        let journal = self.kept.journal();
        let Event { firing, at, what, .. } = journal.event(id)?.event;
        let kiln = firing.filter(|firing| *firing != FiringId::SHOP);
        let kiln = kiln.map(|firing| self.kept.firing(firing)).transpose()?;
        let kiln = kiln.map(|firing| firing.kiln).unwrap_or_default();
        let is_strike = matches!(what, What::Struck { .. });
        let with = journal.written_with(id)?.into_iter().map(|other| journal.event(other));
        let with = with.map(|other| other.map(|one| (one.event.at, one.event.what)));
        let entry =
            Entry { then: with.collect::<Result<_, _>>()?, ..Entry::new(About::Shop, at, what) };
        let said = words::saved_in_shop(&entry.phrase(&kiln, dial), id);
        Ok(Noted::Saved { id, said, is_strike })
    }

    /// What is to be written, and what is asked before.
    fn entry(
        &self,
        sent: &Sent,
        scene: &Scene,
        schedules: &[Offered],
        dial: &Dial<'_>,
    ) -> Result<(Entry, Vec<String>), String> {
        let tapped = self.now - sent.age;
        let old = (sent.age > OLD && !sent.sure).then(|| words::page_tapped_long_ago(sent.age));
        let mut questions: Vec<String> = old.into_iter().collect();
        if sent.past {
            return Ok((past(sent, scene, (tapped, dial))?, questions));
        }
        let was = sent.corrects.map(|id| self.was(id, sent.kind)).transpose()?;
        let about = match &was {
            Some((_, firing)) => About::Firing(*firing),
            None => self.about(sent, scene)?,
        };
        let was = was.map(|(was, _)| was);
        let opened = was.as_ref().zip(sent.said(OPENED));
        let at = steps::when(sent.said(WHEN.key).unwrap_or_default(), opened, tapped, dial)?;
        let kiln = scene.kiln(&sent.kiln);
        let known = Known {
            load_types: &scene.load_types,
            schedules,
            before: kiln.and_then(steps::said).filter(|_| was.is_none()),
            ware: Some(&scene.ware),
            clock: Some((tapped, *dial)),
        };
        let draft = self.draft(sent, was.as_ref(), scene)?;
        let what = match &was {
            Some(was) => draft.in_place_of(&was.what, &known),
            None => draft.what(&known),
        };
        let what = what.map_err(|lack| match lack {
            Lack::Missing(_) if sent.kind == Kind::Look => words::PAGE_NO_CONE.into(),
            lack => lack.said(),
        })?;
        questions.extend(self.changed(about, sent).map(|(who, event)| {
            let said = words::event_phrase(&event.what, &sent.kiln, dial);
            words::page_changed_since(&said, &who, &dial.at(event.at, self.now))
        }));
        if !sent.sure && (was.is_none() || matches!(what, What::Packed(_) | What::Lit(_))) {
            questions.extend(self.doubt(sent, (&what, at, about), (known, scene), dial));
        }
        let (mut all, full) = steps::of_each_mould(what, draft.said("mould"), &scene.bench)?;
        questions.extend(full.filter(|_| !sent.sure));
        all.extend(self.struck_with(sent, &all[0]));
        let mut all = all.into_iter().map(|what| (at, what));
        let (_, what) = all.next().ok_or(words::NO_MOULD_MEANT)?;
        let corrects = was.map(|was| {
            let others = sent.said("others").and_then(Others::named);
            (was.id, others.unwrap_or(Others::Stay))
        });
        let (seen, then) = (scene.last_event, all.collect());
        Ok((Entry { about, at, what, seen, corrects, then }, questions))
    }

    /// The entry that is corrected, and its firing.
    fn was(&self, id: EventId, kind: Kind) -> Result<(Event, FiringId), String> {
        let found = self.kept.journal().event(id).map_err(|error| error.to_string())?.event;
        let firing = found.firing.filter(|_| kind.is_corrected() && Kind::of(&found.what) == kind);
        firing.map(|firing| (found, firing)).ok_or_else(|| words::PAGE_GARBLED.into())
    }

    /// The strikes of everything that was noted by the tap that is taken back.
    fn struck_with(&self, sent: &Sent, strike: &What) -> Vec<What> {
        let What::Struck { event, reason, .. } = strike else { return Vec::new() };
        let whole = sent.said("whole").is_some() && self.place(sent) == Some(FiringId::SHOP);
        let with = self.kept.journal().written_with(*event).unwrap_or_default();
        let strike = |event| What::Struck { event, reason: reason.clone(), corrected_by: None };
        with.into_iter().filter(|_| whole).map(strike).collect()
    }

    /// What is hard to believe of it.
    fn doubt(
        &self,
        sent: &Sent,
        (what, at, about): (&What, Moment, About),
        (known, scene): (Known<'_>, &Scene),
        dial: &Dial<'_>,
    ) -> Option<String> {
        let record = match (what, about) {
            (What::Reading(_), About::Firing(firing)) => self.kept.record(firing).ok(),
            _ => None,
        };
        let against = Against {
            record: record.as_ref().map(|record| (&record.firing, &*record.past)),
            ..Against::in_scene(known, &sent.kiln, scene, *dial)
        };
        let doubtful = against.doubt(what, at)?;
        Some(against.says(&doubtful, at))
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

    fn draft(&self, sent: &Sent, was: Option<&Event>, scene: &Scene) -> Result<Draft, String> {
        if let Some(was) = was {
            let mut draft = sent.over(Draft::of_earlier(&was.what, &scene.load_types));
            if let Some(kiln) = scene.kiln(&sent.kiln) {
                draft.say("kiln", &kiln.kiln);
            }
            return Ok(draft);
        }
        let known = described(sent.kind, &sent.kiln, scene);
        let blank = known.clone().unwrap_or_else(|| blank(sent.kind, &sent.kiln, scene));
        let mut draft = sent.over(blank);
        match (sent.kind, &known, sent.kind.name_field()) {
            (_, Some(known), Some(name)) => draft.say(name.key, known.said(name.key)),
            (kind, None, Some(name)) if steps::is_taken(kind, draft.said(name.key), scene) => {
                return Err(words::name_taken(draft.said(name.key)));
            }
            (Kind::Struck, ..) if draft.said("reason").is_empty() => {
                draft.say("reason", words::undo_reason());
            }
            _ => {}
        }
        Ok(draft)
    }

    /// What somebody else noted since it was tapped, where it moves the firing.
    fn changed(&self, about: About, sent: &Sent) -> Option<(String, Event)> {
        let About::Firing(firing) = about else { return None };
        let fold = self.kept.journal().fold(firing).ok()?;
        let since = fold.events().iter().rev().filter(|event| event.id > sent.rev);
        let mut moved = since.filter(|event| moves(&event.what) && sent.kind != Kind::Note);
        moved.find_map(|event| match &event.who {
            Who::Person(name) if name != self.by.person() => Some((name.clone(), event.clone())),
            _ => None,
        })
    }
}

/// A firing of before, with all that followed its lighting.
fn past(sent: &Sent, scene: &Scene, (now, dial): (Moment, &Dial<'_>)) -> Result<Entry, String> {
    let kiln = scene.kiln(&sent.kiln).ok_or(words::PAGE_NO_SUCH_PLACE.trim_end())?;
    let said = |key| match key {
        "kiln" => kiln.kiln.as_str(),
        key => sent.said(key).unwrap_or_default(),
    };
    let known = Known { load_types: &scene.load_types, ..Known::default() };
    let read = |text: &str, until, meant| words::read_past(text, until, meant, dial);
    FromPaper::of(said).told(&known, now, &read).map_err(Lack::said)
}

fn is_retired(name: &str, scene: &Scene) -> bool {
    scene.retired.iter().any(|kiln: &Kiln| same_name(&kiln.name, name))
}

/// What is known of something before anybody says more.
pub fn blank(kind: Kind, name: &str, scene: &Scene) -> Draft {
    if let Some(kiln) = scene.kiln(name).filter(|_| !kind.is_of_the_bench()) {
        return steps::draft(kind, kiln, &scene.load_types);
    }
    if kind == Kind::Lot {
        return steps::lot_draft(None, scene, &LocalZone);
    }
    let mut draft = Draft::new(kind, name);
    if kind.is_of_the_bench() {
        let body = scene.bench.mould(name).and_then(|mould| mould.body.as_deref());
        draft.say("mould", name);
        draft.say("body", body.unwrap_or_default());
    }
    draft
}

/// Something of the shop as it is known.
pub fn described(kind: Kind, name: &str, scene: &Scene) -> Option<Draft> {
    let is = |known: &str| same_name(known, name);
    let what = match kind {
        Kind::Kiln => {
            What::KilnSet(scene.kilns.iter().find(|one| is(&one.kiln))?.described.clone())
        }
        Kind::LoadType => {
            What::LoadTypeSet(scene.load_types.iter().find(|one| is(&one.name))?.clone())
        }
        Kind::Lot => {
            let lot = scene.lots.iter().find(|one| is(&one.name))?;
            return Some(steps::lot_draft(Some(lot), scene, &LocalZone));
        }
        Kind::Hours => {
            let spans = scene.hours.spans();
            What::Hours(*spans.iter().find(|hours| hours.days.to_string() == name)?)
        }
        Kind::Limits => What::LimitsSet(scene.limits),
        Kind::Mould => {
            let moulds = &scene.bench.casting.as_ref()?.moulds;
            What::Bench(Bench::Mould(moulds.iter().find(|one| is(&one.code))?.clone()))
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
