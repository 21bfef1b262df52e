//! The event a confirmed form stands for.

use super::Problem;
use crate::closed::Word;
use crate::edge::draft::{Against, Doubtful, Known};
use crate::edge::from_paper::FromPaper;
use crate::edge::own_schedules::Offered;
use crate::edge::screen::form::{Field, Form};
use crate::edge::screen::input::Context;
use crate::edge::screen::key::Meaning;
use crate::edge::shop::steps;
use crate::edge::shop::store::Entry;
use crate::firing::{Kind, Others, What};
use crate::scene::Scene;
use crate::schedule::Schedule;
use crate::schedule::check::Limits;
use crate::units::Moment;
use crate::words::{self, Dial, Refusal, Title};

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
        if self.title == Title::Past {
            return self.past(scene, dial);
        }
        let was = self.corrects.as_ref().map(|(was, opened)| (&**was, opened.as_str()));
        let at = steps::when(self.said("at"), was, scene.now, dial).map_err(wrong)?;
        let load_types = scene.load_types.as_slice();
        let known = Known {
            load_types,
            schedules,
            before: self.said.as_ref(),
            ware: Some(&scene.ware),
            clock: Some((scene.now, *dial)),
        };
        let what = self.what(scene, &known)?;
        let corrects = self.corrects.as_ref().map(|(was, _)| {
            let others = Others::named(self.said("others")).unwrap_or(Others::Stay);
            (was.id, others)
        });
        let begins = matches!(what, What::Packed(_) | What::Lit(_));
        if !self.asked && (corrects.is_none() || begins) {
            if let Some(question) = &self.mistaken {
                return Err(Problem::Unusual(question.clone()));
            }
            let against = Against {
                record: self.record.as_deref().map(|record| (&record.firing, &*record.past)),
                ..Against::in_scene(known, &self.kiln, scene, *dial)
            };
            if let Some(doubtful) = against.doubt(&what, at) {
                return Err(Problem::Unusual(asks_whether(&against, &doubtful, at)));
            }
        }
        let (mut all, question) =
            steps::of_each_mould(what, self.said("mould"), &scene.bench).map_err(wrong)?;
        if let Some(question) = question.filter(|_| !self.asked) {
            return Err(Problem::Unusual(words::meant_again(&question)));
        }
        let what = all.remove(0);
        let then = all.into_iter().map(|what| (at, what)).collect();
        Ok(Entry { about: self.about, at, what, seen: self.seen, corrects, then })
    }

    fn what(&self, scene: &Scene, known: &Known<'_>) -> Result<What, Problem> {
        let wrong = |text: String| Problem::Wrong(text);
        match (self.title, &self.accepts) {
            // A file is no event: this only says what Enter does.
            (Title::Repeat | Title::Card, _) => {
                return Err(wrong(words::will_write_file(self.said("file"))));
            }
            (_, Some(accepted)) => return Ok(What::Accepted(accepted.clone())),
            (Title::StrikeLook, _) if self.said("struck").is_empty() => {
                return Err(wrong(words::refusal(Refusal::NoLookChosen, &self.kiln)));
            }
            _ => {}
        }
        // What is kept beside the journal is no event.
        let mut draft = self.draft().ok_or_else(|| wrong(String::new()))?;
        let kind = draft.kind;
        let taken = |name: &str| steps::is_taken(kind, name, scene);
        match (self.title, kind.name_field()) {
            (_, Some(name)) if !self.kiln.is_empty() => draft.say(name.key, &self.kiln),
            (_, Some(name)) if taken(draft.said(name.key)) => {
                return Err(wrong(words::name_taken(draft.said(name.key))));
            }
            (Title::Rename | Title::Retire | Title::BringBack, _)
                if draft.said("kiln").is_empty() =>
            {
                return Err(wrong(words::SAY_WHICH_KILN.into()));
            }
            (Title::Strike | Title::StrikeLook, _) if draft.said("reason").is_empty() => {
                draft.say("reason", words::undo_reason());
            }
            _ => {}
        }
        let what = match &self.corrects {
            None => draft.what(known),
            Some((was, _)) => draft.in_place_of(&was.what, known),
        };
        what.map_err(Problem::from)
    }

    /// A firing of before, with all that followed its lighting.
    fn past(&self, scene: &Scene, dial: &Dial<'_>) -> Result<Entry, Problem> {
        let paper = FromPaper::of(|key| self.said(key));
        let known = Known { load_types: &scene.load_types, ..Known::default() };
        let read = |text: &str, until, meant| words::read_past(text, until, meant, dial);
        Ok(paper.told(&known, scene.now, &read)?)
    }

    /// The schedule picked in a light form.
    pub fn schedule<'a>(&self, schedules: &'a [Offered]) -> Option<&'a Offered> {
        let picked = self.said("schedule");
        schedules.iter().find(|one| one.reference == picked && one.found.is_ok())
    }

    /// Asks for lots where any were ever said, and tells which wait.
    pub(super) fn offer_lots(&mut self, scene: &Scene) {
        if scene.lots.is_empty() {
            let shown = self.folded.unwrap_or(0);
            let hidden =
                self.fields.iter().take(shown).filter(|one| one.asks.key == "lots").count();
            self.fields.retain(|field| field.asks.key != "lots");
            self.folded = self.folded.map(|shown| shown - hidden);
        } else if self.title.kind() == Some(Kind::Packed) {
            self.notices.extend(words::waiting_lots(&scene.ware));
        }
    }

    /// Shows what goes with what was chosen: the schedules that fit the load first, and what load
    /// and schedule call for at this kiln.
    pub fn follow(&mut self, context: &Context<'_>) {
        if self.title == Title::Light {
            self.offer_schedules(context);
        }
        // What was lit before is past caution.
        let lights = self.title == Title::Light && self.corrects.is_none();
        let load = self.load_type(&context.scene.load_types).filter(|_| lights);
        let of_load = load.map(|load| load.cautions.as_slice()).unwrap_or_default();
        let scale = context.dial.scale;
        let of_load = of_load.iter().map(|caution| words::load_caution(caution, scale));
        let schedule = self.schedule(context.schedules).filter(|_| self.corrects.is_none());
        let schedule = schedule.and_then(Offered::schedule);
        let kiln = context.scene.kiln(&self.kiln);
        let limits = kiln.map(|kiln| Limits::from(&kiln.described)).unwrap_or_default();
        let of_schedule =
            schedule.map(|schedule| words::schedule_cautions(schedule, &limits, &context.dial));
        self.called_for = of_load.chain(of_schedule.unwrap_or_default()).collect();
    }

    /// First what goes to the target of the load, and what this kiln was lit by last: while nobody has
    /// picked another, it is picked for a load that it goes to.
    fn offer_schedules(&mut self, context: &Context<'_>) {
        let load = self.load_type(&context.scene.load_types);
        let said = |load| self.draft()?.target(load).ok();
        let target = load.map(|load| said(load).map_or(load.target, |(target, _)| target));
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
        let usual = offers.iter().find(|(one, of)| last(one) && fits(of) && called_so(of));
        let usual = usual.map(|(one, _)| one.reference.clone()).unwrap_or_default();
        let none = std::iter::once((words::NO_SCHEDULE.to_owned(), String::new()));
        let names = none.chain(offers.iter().map(|(one, schedule)| {
            let shown = words::offered_schedule(schedule, one.own, fits(schedule), last(one));
            (shown, one.reference.clone())
        }));
        let names: Vec<_> = names.collect();
        let is_it = |field: &&mut Field| field.asks.key == "schedule";
        let Some(field) = self.fields.iter_mut().find(is_it) else { return };
        let opened = self.opened.iter_mut().find(is_it);
        let untouched = opened.filter(|opened| opened.said() == field.said());
        let picked = if untouched.is_some() { usual } else { field.said().to_owned() };
        *field = Field::named(field.asks, names, &picked);
        if let Some(opened) = untouched {
            opened.clone_from(field);
        }
    }

    /// Takes in what others wrote of this kiln since the form was opened to pack or light it: what
    /// somebody entered stays, the other fields show what stands now.
    pub fn take_in(&mut self, context: &Context<'_>) {
        let meaning = match self.title {
            Title::Pack | Title::PackAgain => Meaning::Form(Title::Pack),
            Title::Light => Meaning::Form(Title::Light),
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
            if field.said() == opened.said() {
                field.clone_from(now);
            }
        }
        (self.title, self.about, self.seen) = (now.title, now.about, now.seen);
        (self.said, self.opened) = (now.said, now.opened);
        self.folded = self.folded.and(now.folded);
        self.follow(context);
    }
}

/// The question before something hard to believe is written.
fn asks_whether(against: &Against<'_>, doubtful: &Doubtful<'_>, at: Moment) -> String {
    let said = against.says(doubtful, at);
    match doubtful {
        Doubtful::TooHot(why) => {
            words::drawn_so_hot(*why, against.kiln, at, against.now, &against.dial)
        }
        Doubtful::Misfit(..) => words::read_again(&said),
        Doubtful::Look(_) => words::enter_again(&said),
        Doubtful::OffUnseen => words::off_again(&said),
        Doubtful::FarCone(..) | Doubtful::OtherCone(..) | Doubtful::Name(_) => {
            words::meant_again(&said)
        }
    }
}
