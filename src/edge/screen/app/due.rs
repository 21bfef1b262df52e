//! What is due comes first: which kiln a key is for, what makes way for one that is due, and how
//! somebody goes there and back.

use super::{App, Context, Tone};
use crate::alarm::Alarm;
use crate::edge::screen::form::Form;
use crate::edge::screen::key::{self, Meaning};
use crate::edge::screen::pick::Pick;
use crate::edge::screen::view::View;
use crate::scene::{KilnScene, Scene};
use crate::units::Span;
use crate::words::{self, Title};

/// Which kilns the last frame named: the one keys are for, and the one whose alarm is answered.
#[derive(Debug, Clone, Default)]
pub(super) struct Named {
    pub(super) kilns: [Option<String>; 2],
    /// Those named before, and since when they no longer are.
    pub(super) before: [Option<(String, Span)>; 2],
}

/// A key that comes so soon after a frame named another kiln may be meant for the one before.
pub(super) const MEANT_FOR_ANOTHER: Span = Span::seconds(1);

/// Something that made way for a kiln that is due, as it was.
#[derive(Debug, Clone, Default)]
pub(super) struct Aside {
    view: View,
    form: Option<Form>,
    finder: Option<Pick>,
}

impl Aside {
    fn is_a_page(&self, meaning: Meaning) -> bool {
        self.form.is_none() && self.view.meaning() == meaning
    }

    /// What it is called where it is named.
    fn name(&self) -> String {
        match (&self.form, &self.finder) {
            (Some(form), _) => words::title(form.title, &form.kiln),
            (None, Some(_)) => words::FINDER_TITLE.into(),
            (None, None) => key::binding(self.view.meaning()).short.into(),
        }
    }
}

/// The form that a kiln which is due calls for.
#[derive(Debug, Clone, Copy)]
pub struct DueForm<'a> {
    pub kiln: &'a KilnScene,
    pub meaning: Meaning,
}

impl DueForm<'_> {
    fn is(&self, form: &Form) -> bool {
        let title =
            if self.meaning == Meaning::Form(Title::Off) { Title::Off } else { Title::Look };
        // An earlier look that is corrected is not the one that is due.
        form.kiln == self.kiln.kiln && form.title == title && form.corrects.is_none()
    }
}

impl App {
    /// Remembers which kilns a frame names. When another kiln becomes due, or the same one for
    /// something else, what covers the floor makes way for it; a form stays, below the large
    /// letters.
    pub fn shows(&mut self, scene: &Scene, running: Span) {
        self.make_way(scene, running);
        let kilns = self.names(scene);
        let before = self.named.kilns.iter().zip(&mut self.named.before);
        for ((was, before), is) in before.zip(&kilns) {
            if let Some(was) = was.as_ref().filter(|was| Some(*was) != is.as_ref()) {
                *before = Some((was.clone(), running));
            }
        }
        self.named.kilns = kilns;
    }

    fn make_way(&mut self, scene: &Scene, running: Span) {
        let due = scene.due().map(|due| (due.kiln.clone(), due.task()));
        if due.is_some() && self.form.is_some() {
            return;
        }
        if due.is_some() && due != self.due {
            self.help = None;
            if self.is_covered() {
                let aside = self.uncover();
                self.aside.push(aside);
                self.gave_way = Some(running);
            }
        }
        self.due = due;
    }

    fn names(&self, scene: &Scene) -> [Option<String>; 2] {
        let keys = self.kiln(scene).map(|kiln| kiln.kiln.clone());
        let on_the_floor = matches!(self.view, View::Floor);
        // The first line of a page names what is due, and no alarm of another kiln.
        let is_named =
            |alarm: &&Alarm| on_the_floor || scene.due().is_none_or(|due| due.kiln == alarm.kiln);
        [keys, scene.ringing().filter(is_named).map(|alarm| alarm.kiln.clone())]
    }

    /// The other kiln that a key may have been meant for: the one the last frame named, or the one
    /// before it, where that has only just changed. `which` as in [`Named`].
    pub(super) fn just_now(&self, which: usize, context: &Context<'_>) -> Option<String> {
        let is = &self.names(context.scene)[which];
        let drawn = self.named.kilns[which].as_ref();
        let before = self.named.before[which].as_ref();
        let before = before.filter(|(_, at)| context.running.0 - at.0 < MEANT_FOR_ANOTHER.0);
        let other = drawn.filter(|drawn| Some(*drawn) != is.as_ref());
        other.or(before.map(|(kiln, _)| kiln)).filter(|other| Some(*other) != is.as_ref()).cloned()
    }

    /// Whether anything but the floor is open.
    fn is_covered(&self) -> bool {
        self.form.is_some() || self.finder.is_some() || !matches!(self.view, View::Floor)
    }

    /// Takes away what is open.
    fn uncover(&mut self) -> Aside {
        self.help = None;
        let view = std::mem::take(&mut self.view);
        Aside { view, form: self.form.take(), finder: self.finder.take() }
    }

    /// What is due now, and the form it calls for.
    pub fn wanted<'a>(&self, scene: &'a Scene) -> Option<DueForm<'a>> {
        let kiln = scene.due()?;
        let [meaning, ..] = key::hints(Some(kiln), self.rehearsal, false);
        Some(DueForm { kiln, meaning })
    }

    /// What is due now and not what the open form is about.
    pub fn wanted_elsewhere<'a>(&self, scene: &'a Scene) -> Option<DueForm<'a>> {
        let here = |wanted: &DueForm<'_>| self.form.as_ref().is_some_and(|form| wanted.is(form));
        self.wanted(scene).filter(|wanted| !here(wanted))
    }

    /// The name of what made way last.
    pub fn made_way(&self) -> Option<String> {
        self.aside.last().map(Aside::name)
    }

    /// From whatever is open to the form of the kiln that is due, and from there or from the floor
    /// back to what made way for it. Nothing that was typed is lost.
    pub(super) fn go_to_due_and_back(&mut self, context: &Context<'_>) {
        self.message = None;
        let wanted = self.wanted_elsewhere(context.scene);
        match wanted.filter(|_| self.is_covered() || self.aside.is_empty()) {
            Some(wanted) => {
                if self.is_covered() {
                    let aside = self.uncover();
                    self.aside.push(aside);
                }
                let begun = |aside: &Aside| aside.form.as_ref().is_some_and(|form| wanted.is(form));
                match self.aside.iter().position(begun) {
                    Some(place) => self.take_up(place),
                    None => self.open_at(wanted.meaning, wanted.kiln, context),
                }
            }
            None if self.aside.is_empty() => {
                self.tell(Tone::Refused, words::NOTHING_DUE.into());
            }
            None => {
                let wanted = self.wanted(context.scene);
                let is_blank =
                    |form: &Form| !form.touched && wanted.is_some_and(|wanted| wanted.is(form));
                if self.is_covered() && !self.form.as_ref().is_some_and(is_blank) {
                    let aside = self.uncover();
                    self.aside.insert(0, aside);
                }
                self.take_up(self.aside.len() - 1);
            }
        }
    }

    fn take_up(&mut self, place: usize) {
        let aside = self.aside.remove(place);
        (self.view, self.form, self.finder) = (aside.view, aside.form, aside.finder);
        (self.help, self.far) = (None, false);
    }

    /// Takes up a page where it made way, if it did.
    pub(super) fn takes_up(&mut self, meaning: Meaning) -> bool {
        let place = self.aside.iter().rposition(|aside| aside.is_a_page(meaning));
        place.map(|place| self.take_up(place)).is_some()
    }
}
