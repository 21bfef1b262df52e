//! Which form a key opens, and the event a confirmed form stands for.

use super::form::{Field, Form};
use super::key::Meaning;
use super::store::{About, Entry};
use crate::cone::{Cone, Family};
use crate::firing::event::{Look, Outcome, Seen, Verdict, What};
use crate::firing::{ConePack, EventId, Lit};
use crate::kiln::LoadType;
use crate::scene::{ConeScene, KilnScene, Phase, Role, Scene};
use crate::units::{Celsius, Moment};
use crate::words::{self, Dial, Label, Meant, Refusal, Title};

/// How far from the usual cone, in whole cones, a target may lie before the form asks again.
/// A guess: more than any load type of the trade is likely to be moved on purpose.
const USUAL_CONES: f64 = 2.0;

/// Why a confirmed form was not written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Problem {
    /// It cannot be written as it is.
    Wrong(String),
    /// It can, if somebody confirms once more.
    Unusual(String),
}

/// The form for a meaning, or why there is none now.
///
/// # Errors
/// The [`Refusal`] to show.
pub fn open(
    meaning: Meaning,
    kiln: &KilnScene,
    load_types: &[LoadType],
    glimpse: Option<&Look>,
    shelves: Option<&str>,
) -> Result<Form, Refusal> {
    match meaning {
        Meaning::Look => look(kiln, glimpse),
        Meaning::Reading => reading(kiln),
        Meaning::Off => off(kiln),
        Meaning::Drawn => drawn(kiln),
        Meaning::Outcome => outcome(kiln, shelves),
        Meaning::Light => light(kiln, load_types),
        _ => Err(Refusal::NothingIn),
    }
}

/// The form that strikes an entry saved earlier.
pub fn strike(kiln: &str, about: About, event: EventId, phrase: &str) -> Form {
    let mut form = Form::new(Title::Strike, kiln, about, Vec::new());
    form.notices = vec![phrase.to_owned()];
    form.strikes = Some((event, phrase.to_owned()));
    form
}

fn about(kiln: &KilnScene) -> Result<About, Refusal> {
    kiln.firing.map(About::Firing).ok_or(Refusal::NothingIn)
}

fn look(kiln: &KilnScene, glimpse: Option<&Look>) -> Result<Form, Refusal> {
    let about = about(kiln)?;
    if !kiln.is_lit() {
        return Err(Refusal::NotLit);
    }
    let words = || Seen::ALL.map(|seen| (words::seen_key(seen), seen.name().to_owned())).to_vec();
    let mut fields: Vec<Field> =
        kiln.cones.iter().map(|cone| Field::choice(label_of(cone), words())).collect();
    fields.push(Field::text(Label::When));
    let mut form = Form::new(Title::Look, &kiln.kiln, about, fields);
    form.notices.extend(glimpse.map(words::spyhole_shows));
    form.notices.push(words::CAUTION_LOOK.into());
    Ok(form)
}

fn label_of(cone: &ConeScene) -> Label {
    match cone.role {
        Role::Guide => Label::Guide,
        Role::Target => Label::Target,
        Role::Guard => Label::Guard,
    }
}

fn reading(kiln: &KilnScene) -> Result<Form, Refusal> {
    let about = about(kiln)?;
    if kiln.lit.is_none() {
        return Err(Refusal::NotLit);
    }
    let fields = vec![Field::text(Label::Temperature), Field::text(Label::When)];
    Ok(Form::new(Title::Reading, &kiln.kiln, about, fields))
}

fn off(kiln: &KilnScene) -> Result<Form, Refusal> {
    let about = about(kiln)?;
    if !kiln.is_lit() {
        return Err(Refusal::NotLit);
    }
    let mut form = Form::new(Title::Off, &kiln.kiln, about, vec![Field::text(Label::When)]);
    form.notices.push(words::CAUTION_OFF.into());
    Ok(form)
}

fn drawn(kiln: &KilnScene) -> Result<Form, Refusal> {
    let about = about(kiln)?;
    match kiln.phase {
        Phase::Off | Phase::Cooling | Phase::Aborted => {
            Ok(Form::new(Title::Drawn, &kiln.kiln, about, vec![Field::text(Label::When)]))
        }
        Phase::Heating | Phase::Watch | Phase::Dropped => Err(Refusal::StillLit),
        Phase::Empty | Phase::Packed | Phase::Drawn => Err(Refusal::NotLit),
    }
}

fn outcome(kiln: &KilnScene, shelves: Option<&str>) -> Result<Form, Refusal> {
    let about = about(kiln)?;
    if kiln.is_lit() {
        return Err(Refusal::StillLit);
    }
    if kiln.phase == Phase::Packed {
        return Err(Refusal::NotLit);
    }
    let verdicts =
        Verdict::ALL.map(|verdict| (words::verdict_key(verdict), verdict.name().to_owned()));
    let fields = vec![Field::choice(Label::Verdict, verdicts.to_vec()), Field::text(Label::Note)];
    let mut form = Form::new(Title::Outcome, &kiln.kiln, about, fields);
    form.notices.extend(shelves.map(str::to_owned));
    Ok(form)
}

fn light(kiln: &KilnScene, load_types: &[LoadType]) -> Result<Form, Refusal> {
    if kiln.phase == Phase::Aborted {
        let fields = vec![Field::text(Label::When)];
        let mut form = Form::new(Title::LightAgain, &kiln.kiln, about(kiln)?, fields);
        form.notices.push(words::CAUTION_OFF.into());
        return Ok(form);
    }
    let about = match (kiln.phase, kiln.firing) {
        (Phase::Packed, Some(firing)) => About::Firing(firing),
        (Phase::Empty, _) => About::NewFiring,
        _ => return Err(Refusal::AlreadyIn),
    };
    if load_types.is_empty() {
        return Err(Refusal::NoLoadType);
    }
    let options = load_types
        .iter()
        .zip("123456789abcdefghijklmnopqrstuvwxyz".chars())
        .map(|(load, key)| (key, load.name.clone()))
        .collect();
    let mut load_field = Field::choice(Label::LoadType, options);
    if let super::form::Value::Choice { chosen, .. } = &mut load_field.value {
        let packed = kiln.load_type.as_deref();
        *chosen = load_types.iter().position(|load| Some(load.name.as_str()) == packed);
    }
    let fields = vec![load_field, Field::text(Label::Cone), Field::text(Label::When)];
    Ok(Form::new(Title::Light, &kiln.kiln, about, fields))
}

impl Form {
    /// The event this form stands for, if it were confirmed now.
    ///
    /// # Errors
    /// A [`Problem`] with its sentence.
    pub fn entry(&self, scene: &Scene, dial: &Dial<'_>) -> Result<Entry, Problem> {
        let wrong = |text: String| Problem::Wrong(text);
        let refused = |refusal| Problem::Wrong(words::refusal(refusal, &self.kiln));
        let at = self.when(scene.now, dial).map_err(wrong)?;
        let what = match self.title {
            Title::Look => What::Look(self.look().ok_or_else(|| refused(Refusal::NothingSeen))?),
            Title::Reading => What::Reading(
                Celsius::parse(self.typed(Label::Temperature)).map_err(|e| wrong(e.to_string()))?,
            ),
            Title::Off => What::Off,
            Title::Drawn => What::Drawn,
            Title::Outcome => {
                What::Outcome(self.outcome().ok_or_else(|| refused(Refusal::NoVerdict))?)
            }
            Title::Light => What::Lit(self.lit(scene)?),
            Title::LightAgain => What::Resumed,
            Title::Strike => What::Struck {
                event: self
                    .strikes
                    .as_ref()
                    .map(|(id, _)| *id)
                    .ok_or_else(|| refused(Refusal::NothingToUndo))?,
                reason: words::undo_reason().into(),
            },
        };
        Ok(Entry { about: self.about, at, what })
    }

    /// The load type picked in a light form.
    pub fn load_type<'a>(&self, load_types: &'a [LoadType]) -> Option<&'a LoadType> {
        load_types.get(self.chosen(Label::LoadType)?)
    }

    /// The target cone of a light form: what was typed, else the load's usual one.
    ///
    /// # Errors
    /// The sentence to show when what was typed is no cone of the family.
    pub fn target(&self, load: &LoadType) -> Result<Cone, String> {
        let typed = self.typed(Label::Cone);
        if typed.is_empty() {
            return Ok(load.target);
        }
        let cone = Cone::parse(typed).map_err(|error| error.to_string())?;
        crate::cone::curve(cone, load.family).map_err(|error| error.to_string())?;
        Ok(cone)
    }

    fn when(&self, now: Moment, dial: &Dial<'_>) -> Result<Moment, String> {
        match self.typed(Label::When) {
            "" => Ok(now),
            text => words::read_time(text, now, Meant::Latest, dial)
                .map(|typed| typed.moment)
                .map_err(|error| error.to_string()),
        }
    }

    fn look(&self) -> Option<Look> {
        let seen = |label| self.chosen(label).and_then(|index| Seen::ALL.get(index).copied());
        let look = Look {
            target: seen(Label::Target),
            guide: seen(Label::Guide),
            guard: seen(Label::Guard),
        };
        (look != Look::default()).then_some(look)
    }

    fn outcome(&self) -> Option<Outcome> {
        let verdict = *Verdict::ALL.get(self.chosen(Label::Verdict)?)?;
        let note = self.typed(Label::Note).to_owned();
        Some(Outcome { verdict, note, shelves: Vec::new(), loss: None })
    }

    fn lit(&self, scene: &Scene) -> Result<Lit, Problem> {
        let load = self
            .load_type(&scene.load_types)
            .ok_or_else(|| Problem::Wrong(words::refusal(Refusal::NoLoadChosen, &self.kiln)))?;
        let target = self.target(load).map_err(Problem::Wrong)?;
        if !self.asked && (target.position() - load.target.position()).abs() > USUAL_CONES {
            return Err(Problem::Unusual(words::cone_far_from(target, load)));
        }
        let pack = self.pack(scene, target, load.family);
        Ok(Lit { kiln: self.kiln.clone(), load_type: load.name.clone(), pack, schedule: None })
    }

    /// The cones packed, if this very target was packed, else the usual ones around it.
    fn pack(&self, scene: &Scene, target: Cone, family: Family) -> ConePack {
        scene
            .kiln(&self.kiln)
            .and_then(|kiln| kiln.pack)
            .filter(|pack| pack.target == target && pack.family == family)
            .unwrap_or_else(|| ConePack::usual(target, family))
    }
}
