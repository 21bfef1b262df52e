//! What can be noted on a page: large buttons for the usual step, the list of all steps, and the form of each,
//! drawn from the fields of its kind.

use super::html::Html;
use super::noting::{blank, described};
use super::sent::{OF_THE_SHOP, SCALE};
use super::views::{Told, in_address};
use crate::edge::draft::Draft;
use crate::edge::shop::steps::{self, STEPS};
use crate::edge::shop::store::About;
use crate::firing::Kind;
use crate::firing::event::Role;
use crate::firing::fields::{Field, Of, WHEN};
use crate::scene::KilnScene;
use crate::units::Scale;
use crate::ware::Place;
use crate::words::{self, Title};

/// Where a form is.
pub fn place(kind: Kind, kiln: &str) -> String {
    format!("/note?kind={}&kiln={}", kind.name(), in_address(kiln))
}

/// What a form says that nobody sees.
pub fn hidden(html: &mut Html, pairs: &[(&str, &str)]) {
    for (name, value) in pairs {
        html.open("input", &[("type", "hidden"), ("name", name), ("value", value)]);
    }
}

pub fn button(html: &mut Html, name: &str, value: &str, text: &str) {
    html.element("button", &[("name", name), ("value", value)], text);
}

/// One of several, each in its own words.
pub fn choice(html: &mut Html, field: &Field, options: &[(String, String)], said: &str) {
    html.within("fieldset", &[], |html| {
        html.element("legend", &[], field.label);
        for (value, shown) in options {
            let chosen = (value == said).then_some(("checked", ""));
            let one = [("type", "radio"), ("name", field.key), ("value", value.as_str())];
            html.within("label", &[], |html| {
                html.open("input", &one.into_iter().chain(chosen).collect::<Vec<_>>());
                html.text(shown);
            });
        }
    });
}

pub fn to_the_pin(html: &mut Html) {
    html.element("a", &[("href", "/who"), ("class", "button")], words::PAGE_TO_NOTE);
}

/// Where the rest is said of what is noted in one tap, or all of it.
pub fn to_the_form(html: &mut Html, (kind, name): (Kind, &str), in_one_tap: bool) {
    let (class, word) = match in_one_tap {
        true => ("more", words::PAGE_SAY_MORE),
        false => ("button", words::PAGE_FORM),
    };
    html.element("a", &[("href", &place(kind, name)), ("class", class)], word);
}

impl Told<'_> {
    /// A form that notes something of a kiln.
    pub fn noting(
        &self,
        html: &mut Html,
        (kind, kiln, about): (Kind, &str, About),
        inside: impl FnOnce(&mut Html),
    ) {
        let what =
            [("method", "post"), ("action", "/note"), ("class", "note"), ("data-says", kiln)];
        html.within("form", &what, |html| {
            let firing = match about {
                About::Firing(firing) => firing.0.to_string(),
                About::NewFiring | About::Shop => String::new(),
            };
            let rev = self.scene.last_event.map_or(0, |last| last.0).to_string();
            let known = [("kind", kind.name()), ("kiln", kiln), ("firing", &firing)];
            hidden(html, &known);
            hidden(html, &[("rev", &rev), ("uid", &self.mark)]);
            inside(html);
        });
    }

    /// The buttons of the usual steps, where this device may note; else the way to the PIN.
    pub fn usual_steps(&self, html: &mut Html, kiln: &KilnScene) {
        if !self.may_note() {
            return html.within("p", &[("class", "steps")], to_the_pin);
        }
        let (first, second) = steps::usual(kiln.task());
        // Whoever looks between two looks notes what is seen with one tap as well.
        let between = kiln.is_lit().then_some(Title::Look);
        let between = between.filter(|look| ![Some(first), second].contains(&Some(*look)));
        let titles = [Some(first), second, between].into_iter().flatten();
        let possible = titles.filter_map(|title| self.possible(title, kiln));
        possible.for_each(|found| self.quick(html, found, kiln));
    }

    /// A step as it is called now, if it can be noted.
    fn possible(&self, title: Title, kiln: &KilnScene) -> Option<(Title, About)> {
        let title = steps::called(title, kiln);
        Some((title, steps::about(title, kiln).ok()?))
    }

    /// A step in one tap, where it needs no more.
    fn quick(&self, html: &mut Html, (title, about): (Title, About), kiln: &KilnScene) {
        let Some(kind) = title.kind() else { return };
        let (name, said) = (kiln.kiln.as_str(), words::title(title, &kiln.kiln));
        html.within("section", &[("class", "steps")], |html| {
            html.element("h2", &[], &said);
            let in_one_tap =
                kind == Kind::Look || kind == Kind::Reading || kind.fields().is_empty();
            if in_one_tap {
                self.noting(html, (kind, name, about), |html| self.tap(html, kind));
            }
            to_the_form(html, (kind, name), in_one_tap);
        });
    }

    /// What is tapped for a look at the target, for a temperature, or for what says all by itself.
    fn tap(&self, html: &mut Html, kind: Kind) {
        let Some(field) = kind.fields().first() else {
            return html.element("button", &[], words::PAGE_NOTE_IT);
        };
        if let Some((_, all)) = field.of.words() {
            for word in all {
                button(html, field.key, word, &words::page_target(word));
            }
            return;
        }
        let named = [("name", field.key), ("aria-label", field.label), ("autocomplete", "off")];
        html.open("input", &[&named[..], &[("inputmode", "decimal"), ("required", "")]].concat());
        let letter = self.scale().letter();
        button(html, SCALE, letter, &words::page_note_in(letter));
    }

    /// All that can be noted of a kiln.
    pub fn all_steps(&self, html: &mut Html, kiln: &KilnScene) {
        if !self.may_note() {
            return;
        }
        let name = kiln.kiln.as_str();
        let link = |title: Title| Some((place(title.kind()?, name), words::title(title, name)));
        let may = |title: &Title| {
            steps::called(*title, kiln) == *title && self.possible(*title, kiln).is_some()
        };
        let steps = STEPS.into_iter().filter(may).chain([Title::Rename, Title::Retire]);
        let strike = (place(Kind::Struck, ""), words::PAGE_STRIKE.to_owned());
        let firing = kiln.firing.or(kiln.unjudged);
        let entries = firing.map(|firing| format!("/correct?firing={}", firing.0));
        let correct = entries.map(|place| (place, words::PAGE_CORRECT.to_owned()));
        let past = (format!("/past?kiln={}", in_address(name)), words::title(Title::Past, ""));
        let links = steps.filter_map(link).chain([strike]).chain(correct).chain([past]);
        html.list(&words::page_all_steps(name), links);
    }

    /// What is described of the shop and noted at its bench, each with its form.
    pub fn descriptions(&self, html: &mut Html) {
        let scene = &self.scene;
        let loads = scene.load_types.iter().map(|load| load.name.clone());
        let waits = scene.ware.iter().filter(|one| one.place != Place::Done);
        let spans = scene.hours.spans();
        let kilns = scene.names().into_iter().map(str::to_owned);
        let one = || vec![String::new()];
        for (title, names) in [
            (Title::Kiln, kilns.chain(one()).collect()),
            (Title::BringBack, scene.retired.iter().map(|kiln| kiln.name.clone()).collect()),
            (Title::LoadType, loads.chain(one()).collect()),
            (Title::Lot, waits.map(|one| one.lot.name.clone()).chain(one()).collect()),
            (Title::Hours, spans.iter().map(|one| one.days.to_string()).chain(one()).collect()),
            (Title::Closed, one()),
            (Title::Limits, one()),
        ] {
            let Some(kind) = title.kind().filter(|_| !names.is_empty()) else { continue };
            let links = names.iter().map(|name| {
                let said = words::title(title, name);
                let named = kind == Kind::Lot && !name.is_empty();
                (place(kind, name), if named { format!("{said}: {name}") } else { said })
            });
            html.list("", links);
        }
        html.element("a", &[("href", "/ways"), ("class", "button")], words::PAGE_WAYS);
    }

    /// The form of one step, with all that can be said of it.
    pub fn form(&self, html: &mut Html, kind: Kind, name: &str) {
        let kiln = self.scene.kiln(name);
        let of_kiln = |kiln: &KilnScene| {
            STEPS.into_iter().find_map(|title| {
                let title = steps::called(title, kiln);
                (title.kind() == Some(kind)).then(|| (title, steps::about(title, kiln)))
            })
        };
        let of_shop = OF_THE_SHOP.into_iter().find(|title| title.kind() == Some(kind));
        let of_shop = of_shop.map(|title| (title, Ok(About::Shop)));
        let found = of_shop.or_else(|| kiln.and_then(of_kiln));
        let Some((title, about)) = found else { return };
        if !self.may_note() {
            return to_the_pin(html);
        }
        match kind {
            Kind::Struck => html.element("h1", &[], words::PAGE_STRIKE),
            _ => html.element("h1", &[], &words::title(title, name)),
        }
        let about = match about {
            Ok(about) => about,
            Err(refusal) => {
                return html.element("p", &[("class", "wrong")], &words::refusal(refusal, name));
            }
        };
        let bench = kind.is_of_the_bench().then_some(words::CAUTION_BENCH);
        let caution = kiln.and_then(|kiln| steps::caution(title, kiln)).or(bench);
        caution.iter().for_each(|caution| html.element("p", &[("class", "caution")], caution));
        let known = described(kind, name, &self.scene);
        let draft = known.unwrap_or_else(|| blank(kind, name, &self.scene));
        self.noting(html, (kind, name, about), |html| {
            let asked = |field: &&Field| {
                let named = kind.name_field() == Some(*field) && !name.is_empty();
                field.is_entered() && !named && kiln.is_none_or(|kiln| has_cone(kind, field, kiln))
            };
            let fields = kind.fields().iter().filter(asked);
            let (rare, usual): (Vec<_>, Vec<_>) = fields.partition(|field| field.rare);
            let timed = steps::is_timed(kind).then_some(&WHEN);
            let usual = usual.into_iter().chain(timed);
            usual.for_each(|it| self.field(html, it, (&draft, None), kiln));
            if !rare.is_empty() {
                html.within("details", &[], |html| {
                    html.element("summary", &[], words::MORE);
                    rare.iter().for_each(|it| self.field(html, it, (&draft, None), kiln));
                });
            }
            html.element("button", &[], words::PAGE_NOTE_IT);
        });
    }

    /// What asks for one field, with what the draft says of it, and the word for saying nothing where
    /// something was said before.
    pub fn field(
        &self,
        html: &mut Html,
        field: &Field,
        (draft, nothing): (&Draft, Option<&str>),
        kiln: Option<&KilnScene>,
    ) {
        let said = draft.said(field.key);
        let loads =
            || self.scene.load_types.iter().map(|load| (load.name.clone(), load.name.clone()));
        let mut options: Vec<(String, String)> = match field.of {
            Of::LoadType => loads().collect(),
            Of::Alarm => kiln.map_or(Vec::new(), |kiln| {
                let tasks = steps::to_put_off(kiln).map(|task| task.name());
                tasks.map(|name| (name.to_owned(), words::alarm_word(name))).collect()
            }),
            Of::Schedule => return self.schedules(html, field, said),
            of => {
                let words = of.words().map_or(&[][..], |(_, words)| words);
                words.iter().map(|word| ((*word).to_owned(), word.replace('_', " "))).collect()
            }
        };
        if !options.is_empty() {
            let of_load = field.of == Of::Family;
            let nothing = nothing.filter(|_| of_load || !field.needed);
            let nothing = nothing.map(|word| if of_load { words::AS_THE_LOAD } else { word });
            options.extend(nothing.map(|word| (String::new(), word.to_owned())));
            return choice(html, field, &options, said);
        }
        html.within("label", &[], |html| {
            html.text(field.label);
            let named = [("name", field.key), ("placeholder", field.ask), ("autocomplete", "off")];
            if field.is_many() {
                return html.lines("textarea", &named, draft.all_said(field.key));
            }
            html.open("input", &[&named[..], &[("value", said)]].concat());
        });
        if field.of == Of::Temperature {
            html.within("select", &[("name", SCALE), ("aria-label", words::PAGE_SCALE)], |html| {
                for scale in [self.scale(), self.scale().other()] {
                    html.element("option", &[("value", scale.letter())], scale.letter());
                }
            });
        }
    }

    fn schedules(&self, html: &mut Html, field: &Field, said: &str) {
        html.within("label", &[], |html| {
            html.text(field.label);
            html.within("select", &[("name", field.key)], |html| {
                html.element("option", &[("value", "")], words::NO_SCHEDULE);
                for offered in &self.picture.schedules {
                    let Some(schedule) = offered.schedule() else { continue };
                    let shown = words::offered_schedule(schedule, offered.own, false, false);
                    let chosen = (offered.reference == said).then_some(("selected", ""));
                    let value = [("value", offered.reference.as_str())];
                    let all: Vec<_> = value.into_iter().chain(chosen).collect();
                    html.element("option", &all, &shown);
                }
            });
        });
    }

    /// Who notes here, each of those who do with one tap.
    pub fn people(&self, html: &mut Html) {
        let Some(device) = self.device.filter(|_| self.may_note()) else { return };
        html.within("form", &[("method", "post"), ("action", "/who"), ("class", "who")], |html| {
            html.text(words::PAGE_NOTED_BY);
            let now = device.person();
            html.element("b", &[], now);
            for person in device.people.iter().filter(|person| *person != now) {
                button(html, "person", person, person);
            }
            html.element("a", &[("href", "/who")], words::PAGE_SOMEBODY_ELSE);
        });
    }

    fn scale(&self) -> Scale {
        self.picture.house.scale.unwrap_or_default()
    }

    pub fn may_note(&self) -> bool {
        self.device.is_some_and(|device| device.may_note(self.scene.now))
    }
}

/// Whether a field of a look is of a cone that stands there; so is any other.
fn has_cone(kind: Kind, field: &Field, kiln: &KilnScene) -> bool {
    let role = Role::ALL.into_iter().find(|role| kind == Kind::Look && role.name() == field.key);
    role.is_none_or(|role| kiln.cones.iter().any(|cone| cone.role == role))
}
