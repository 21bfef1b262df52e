//! The event a confirmed form stands for.

use super::Problem;
use crate::alarm::rules::RULES;
use crate::cone::Cone;
use crate::edge::own_schedules::Offered;
use crate::edge::screen::app::Context;
use crate::edge::screen::form::Form;
use crate::edge::screen::key::Meaning;
use crate::edge::screen::store::Entry;
use crate::firing::event::{Fullness, Look, Outcome, Packing, Seen, Verdict, What};
use crate::firing::{ConePack, Lit};
use crate::kiln::LoadType;
use crate::scene::Scene;
use crate::schedule::Schedule;
use crate::schedule::check::Limits;
use crate::units::{Celsius, Moment, Span};
use crate::words::{self, Dial, Label, Meant, Refusal, Title};

/// How far from the usual cone, in whole cones, a target may lie before the form asks again.
/// A guess: more than any load type of the trade is likely to be moved on purpose.
const USUAL_CONES: f64 = 2.0;

impl Form {
    /// The event this form stands for, if it were confirmed now.
    ///
    /// # Errors
    /// A [`Problem`] with its sentence.
    pub fn entry(
        &self,
        scene: &Scene,
        dial: &Dial<'_>,
        schedules: &[Offered],
    ) -> Result<Entry, Problem> {
        let wrong = |text: String| Problem::Wrong(text);
        let refused = |refusal| Problem::Wrong(words::refusal(refusal, &self.kiln));
        let at = self.when(scene.now, dial).map_err(wrong)?;
        let what = match self.title {
            Title::Look => What::Look(self.look_meant(scene, at, dial)?),
            Title::Reading => What::Reading(
                Celsius::parse(self.typed(Label::Temperature)).map_err(|e| wrong(e.to_string()))?,
            ),
            Title::Off => What::Off,
            Title::Drawn => {
                self.cool_enough(scene, at, dial)?;
                What::Drawn
            }
            Title::Outcome => {
                What::Outcome(self.outcome().ok_or_else(|| refused(Refusal::NoVerdict))?)
            }
            Title::Light => What::Lit(self.lit(scene, schedules)?),
            Title::LightAgain => What::Resumed,
            Title::Pack | Title::PackAgain => What::Packed(self.packing(scene)?),
            Title::Turned => What::Turned { to: self.said(Label::Setting).map_err(refused)? },
            Title::Note => What::Note { text: self.said(Label::Note).map_err(refused)? },
            Title::GiveUp => What::Aborted { reason: self.typed(Label::Reason).to_owned() },
            Title::Kiln => self.kiln_set(scene)?,
            Title::LoadType => self.load_type_set(scene)?,
            // A file is no event: this only says what Enter does.
            Title::Repeat | Title::Card => {
                return Err(wrong(words::will_write_file(self.typed(Label::File))));
            }
            Title::Accept => {
                What::Accepted(self.accepts.clone().ok_or_else(|| refused(Refusal::NothingSaid))?)
            }
            Title::PutOff => self.put_off()?,
            Title::House | Title::Bell | Title::Person | Title::Resting => {
                // These are kept beside the journal, not in it.
                return Err(Problem::Wrong(String::new()));
            }
            Title::Strike | Title::StrikeLook => What::Struck {
                event: self.struck().ok_or_else(|| refused(Refusal::NoLookChosen))?.0,
                reason: words::undo_reason().into(),
            },
        };
        Ok(Entry { about: self.about, at, what, seen: self.seen })
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

    /// Asks whether a kiln is meant that may still be too hot to be drawn.
    fn cool_enough(&self, scene: &Scene, at: Moment, dial: &Dial<'_>) -> Result<(), Problem> {
        let cooling = scene.kiln(&self.kiln).and_then(|kiln| kiln.cooling.as_ref());
        let too_hot = cooling.and_then(|cooling| cooling.too_hot(scene.draw_below, at));
        match too_hot.filter(|_| !self.asked) {
            None => Ok(()),
            Some(why) => {
                Err(Problem::Unusual(words::drawn_so_hot(why, &self.kiln, at, scene.now, dial)))
            }
        }
    }

    /// What was seen, with the question whether a look is meant that does not fit what is known.
    fn look_meant(&self, scene: &Scene, at: Moment, dial: &Dial<'_>) -> Result<Look, Problem> {
        let nothing = || Problem::Wrong(words::refusal(Refusal::NothingSeen, &self.kiln));
        let look = self.look().ok_or_else(nothing)?;
        let kiln = scene.kiln(&self.kiln).filter(|_| !self.asked);
        let question = kiln.and_then(|kiln| {
            let (looks, chance) = (&kiln.curve.looks, kiln.dropped);
            words::ask_of_look(&look, at, looks, chance, (scene.now, dial))
        });
        match question {
            Some(question) => Err(Problem::Unusual(words::enter_again(&question))),
            None => Ok(look),
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

    /// A text that has to say something.
    fn said(&self, label: Label) -> Result<String, Refusal> {
        match self.typed(label) {
            "" => Err(Refusal::NothingSaid),
            text => Ok(text.to_owned()),
        }
    }

    /// The alarm picked, put off for as long as was said, if it may be.
    fn put_off(&self) -> Result<What, Problem> {
        let wrong = |text: String| Problem::Wrong(text);
        let picked = self.chosen_word(Label::Alarm).unwrap_or_default();
        let causes = RULES.iter().map(|rule| rule.cause);
        let cause = causes.into_iter().find(|cause| words::alarm_word(cause.name()) == picked);
        let refused = || wrong(words::refusal(Refusal::NoAlarmChosen, &self.kiln));
        let cause = cause.ok_or_else(refused)?;
        let length = Span::parse(self.typed(Label::Length)).map_err(|e| wrong(e.to_string()))?;
        cause.may_be_put_off(length).map_err(|error| wrong(error.to_string()))?;
        Ok(What::Shelved { alarm: cause.name().into(), length })
    }

    /// The schedule picked in a light form.
    pub fn schedule<'a>(&self, schedules: &'a [Offered]) -> Option<&'a Offered> {
        // The first option stands for no schedule.
        let picked = self.offers.get(self.chosen(Label::Schedule)?.checked_sub(1)?)?;
        schedules.iter().find(|one| one.reference == *picked && one.found.is_ok())
    }

    /// Picks a schedule in a light form, if it is offered.
    pub fn choose_schedule(&mut self, reference: &str) {
        if let Some(place) = self.offers.iter().position(|one| one == reference) {
            self.choose(Label::Schedule, place + 1);
        }
    }

    fn lit(&self, scene: &Scene, schedules: &[Offered]) -> Result<Lit, Problem> {
        let (load, pack) = self.load_and_pack(scene)?;
        let picked = self.schedule(schedules);
        let schedule = picked.map(|picked| picked.reference.clone());
        let plan = picked.and_then(Offered::schedule).map(Schedule::plan).unwrap_or_default();
        let kiln = self.kiln.clone();
        Ok(Lit { kiln, load_type: load.name.clone(), pack, schedule, plan })
    }

    /// What was said, and what was said before of all that this form does not ask.
    fn packing(&self, scene: &Scene) -> Result<Packing, Problem> {
        let (load, pack) = self.load_and_pack(scene)?;
        Ok(Packing {
            kiln: self.kiln.clone(),
            load_type: load.name.clone(),
            contents: self.typed(Label::Contents).to_owned(),
            full: self.chosen(Label::Full).and_then(|place| Fullness::ALL.get(place).copied()),
            pack: Some(pack),
            ..self.said.clone().unwrap_or_default()
        })
    }

    /// What was said of the load, with the question whether an unusual cone is meant.
    fn load_and_pack<'a>(&self, scene: &'a Scene) -> Result<(&'a LoadType, ConePack), Problem> {
        let load = self
            .load_type(&scene.load_types)
            .ok_or_else(|| Problem::Wrong(words::refusal(Refusal::NoLoadChosen, &self.kiln)))?;
        let said = self.said.as_ref().filter(|said| said.load_type == load.name);
        let said_pack = said.and_then(|said| said.pack);
        if let (Some(said), Some(pack)) = (said, said_pack)
            && self.typed(Label::Cone) == words_of_cone(said, load)
        {
            return Ok((load, pack));
        }
        let target = self.target(load).map_err(Problem::Wrong)?;
        if !self.asked && (target.position() - load.target.position()).abs() > USUAL_CONES {
            return Err(Problem::Unusual(words::cone_far_from(target, load)));
        }
        let packed = said_pack.filter(|pack| pack.target == target);
        Ok((load, packed.unwrap_or_else(|| ConePack::usual(target, load.family))))
    }

    /// Shows what goes with what was chosen: the schedules that fit the load first, and what load
    /// and schedule call for at this kiln.
    pub fn follow(&mut self, context: &Context<'_>) {
        if self.title == Title::Light {
            self.offer_schedules(context);
        }
        let load = self.load_type(&context.scene.load_types).filter(|_| self.title == Title::Light);
        let of_load = load.map(|load| load.cautions.as_slice()).unwrap_or_default();
        let scale = context.dial.scale;
        let of_load = of_load.iter().map(|caution| words::load_caution(caution, scale));
        let schedule = self.schedule(context.schedules).and_then(Offered::schedule);
        let kiln = context.scene.kiln(&self.kiln);
        let limits = kiln.map(|kiln| Limits::from(&kiln.described)).unwrap_or_default();
        let of_schedule =
            schedule.map(|schedule| words::schedule_cautions(schedule, &limits, &context.dial));
        self.called_for = of_load.chain(of_schedule.unwrap_or_default()).collect();
    }

    /// First what this kiln was lit by last, then what goes to the target of the load, then the others.
    fn offer_schedules(&mut self, context: &Context<'_>) {
        let picked = self.schedule(context.schedules).map(|picked| picked.reference.clone());
        let load = self.load_type(&context.scene.load_types);
        let target = load.map(|load| self.target(load).unwrap_or(load.target));
        let called_so = |schedule: &Schedule| {
            let (name, ware) = (schedule.name.to_lowercase(), schedule.ware.name());
            let words = load.map(|load| load.name.to_lowercase()).unwrap_or_default();
            // A word of a few letters may stand in any name.
            words.split_whitespace().any(|w| w.len() > 3 && (name.contains(w) || ware.contains(w)))
        };
        let fits = |schedule: &Schedule| target.is_none_or(|target| schedule.target == target);
        let last = |one: &Offered| one.last_in.contains(&self.kiln);
        let usable = context.schedules.iter().filter_map(|one| Some((one, one.schedule()?)));
        let mut offers: Vec<(&Offered, &Schedule)> = usable.collect();
        // What was fired last is of no use to another load.
        offers.sort_by_key(|(one, schedule)| (!fits(schedule), !called_so(schedule), !last(one)));
        let none = std::iter::once(words::NO_SCHEDULE.to_owned());
        let names = none.chain(offers.iter().map(|(one, schedule)| {
            words::offered_schedule(schedule, one.own, fits(schedule), last(one))
        }));
        let place = offers.iter().position(|(one, _)| Some(&one.reference) == picked.as_ref());
        let names: Vec<String> = names.collect();
        self.offers = offers.iter().map(|(one, _)| one.reference.clone()).collect();
        self.offer(Label::Schedule, names.into_iter(), Some(place.map_or(0, |place| place + 1)));
    }

    /// Takes in what others wrote of this kiln since the form was opened to pack or light it: what
    /// somebody entered stays, the other fields show what stands now.
    pub fn take_in(&mut self, context: &Context<'_>) {
        let meaning = match self.title {
            Title::Pack | Title::PackAgain => Meaning::Pack,
            Title::Light => Meaning::Light,
            _ => return,
        };
        let kiln = context.scene.kiln(&self.kiln).filter(|_| self.seen != context.scene.last_event);
        let Some(Ok(now)) = kiln.map(|kiln| super::open(meaning, kiln, context)) else { return };
        if now.title == Title::LightAgain {
            return;
        }
        for (field, (opened, now)) in
            self.fields.iter_mut().zip(self.opened.iter().zip(&now.fields))
        {
            if field.says_as(opened) {
                field.clone_from(now);
            }
        }
        (self.title, self.about, self.seen) = (now.title, now.about, now.seen);
        (self.said, self.opened) = (now.said, now.opened);
        self.follow(context);
    }
}

/// The cone of a packing as a form shows it: nothing where it is the load type's own.
pub(super) fn words_of_cone(said: &Packing, load: &LoadType) -> &'static str {
    let other = said.pack.filter(|pack| pack.target != load.target);
    other.map_or("", |pack| pack.target.name())
}
