//! The pages: the floor, one kiln, the view from afar, and what stands around others. Each can be read
//! without a script; with one it is drawn anew from the same piece of HTML.

use serde_json::{Value, json};

use super::chart::chart;
use super::clerk::Picture;
use super::forms;
use super::html::{Attributes, Html};
use super::sent::{Said, kind_named};
use super::stream;
use crate::alarm::{Alarm, Priority};
use crate::edge::bell::tone::pulses;
use crate::edge::journal::devices::{Device, Digest};
use crate::firing::Kind;
use crate::scene::{KilnScene, Phase, Scene};
use crate::units::Moment;
use crate::words::{self, Dial, Striking};

/// So many lines of a firing's story are told.
const STORY: usize = 12;
/// As wide as a line of cones may be.
const COLUMNS: usize = 60;

/// What somebody looks at.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum View {
    Floor,
    Far,
    Kiln(String),
    /// What notes an event of this kind, of a kiln or of what is called so.
    Form(Kind, String),
    /// Kilns and load types.
    Shop,
    Bench,
    /// What comes first, beside something that does not change while it is looked at.
    Beside,
    /// The floor in words, for the terminal of another computer.
    Plain,
}

/// What is asked for by one word.
static NAMED: [(&str, View); 5] = [
    ("far", View::Far),
    ("shop", View::Shop),
    ("bench", View::Bench),
    ("beside", View::Beside),
    ("plain", View::Plain),
];

impl View {
    /// What an address asks for.
    pub fn of(said: &Said) -> View {
        let kind = said.of("kind").and_then(kind_named);
        let named = || NAMED.iter().find(|(word, _)| said.of(word).is_some());
        match (said.of("kiln"), kind) {
            (Some(name), Some(kind)) => View::Form(kind, name.into()),
            (Some(name), None) => View::Kiln(name.into()),
            (None, _) => named().map_or(View::Floor, |(_, view)| view.clone()),
        }
    }

    /// Where its stream is.
    fn stream(&self) -> String {
        match self {
            View::Form(kind, name) if !name.is_empty() => {
                format!("/state?kiln={}&kind={}", in_address(name), kind.name())
            }
            View::Kiln(name) => format!("/state?kiln={}", in_address(name)),
            view => {
                let named = NAMED.iter().find(|(_, named)| named == view);
                named.map_or("/state".into(), |(word, _)| format!("/state?{word}=1"))
            }
        }
    }
}

/// A name as it may stand in an address.
pub fn in_address(name: &str) -> String {
    let plain = |byte: u8| byte.is_ascii_alphanumeric();
    let letter = |byte: u8| match plain(byte) {
        true => char::from(byte).to_string(),
        false => format!("%{byte:02X}"),
    };
    name.bytes().map(letter).collect()
}

/// The shop in the picture at one moment, as it is told there.
#[derive(Debug)]
pub struct Told<'a> {
    pub picture: &'a Picture,
    pub scene: Scene,
    dial: Dial<'static>,
    /// The device it is told to.
    pub device: Option<&'a Device>,
    /// What marks the forms of one page, where no script does.
    pub mark: String,
}

impl Told<'_> {
    /// As it is told to the device that shows this token.
    pub fn of<'p>(picture: &'p Picture, token: &Digest, now: Moment) -> Told<'p> {
        let device = picture.device(token);
        let (scene, dial) = (picture.floor.scene(now), picture.dial());
        Told { picture, scene, dial, device, mark: String::new() }
    }

    /// The alarms that ring, the most urgent first.
    pub fn ringing(&self) -> impl Iterator<Item = &Alarm> {
        self.scene.alarms.iter().filter(|alarm| alarm.state.rings())
    }

    /// What to do about an alarm, and the rest of what is known of it.
    pub fn said_of(&self, alarm: &Alarm) -> (String, String) {
        let body = words::alarms::body(alarm, self.scene.now.max(alarm.raised), self.dial.scale);
        (words::alarms::headline(alarm), body)
    }

    /// The name of the page in a row of them.
    pub fn title(&self) -> String {
        let ringing = self.ringing().next().map(words::alarms::headline);
        let first = self.scene.kilns.first();
        let short =
            first.map(|kiln| format!("{}: {}", kiln.kiln, words::say_short(kiln, self.scene.now)));
        ringing.or(short).unwrap_or_else(|| words::PROGRAM.into())
    }

    /// What changes of a view.
    pub fn inside(&self, view: &View) -> String {
        let mut html = Html::default();
        let said = words::page_as_of(self.scene.now, &self.dial);
        html.element("p", &[("id", "asof")], &said);
        if let Some(line) = &self.picture.line {
            html.element("p", &[("class", "wrong")], &words::page_wrong(line));
        }
        self.ringing().for_each(|alarm| self.ring(&mut html, alarm));
        match view {
            View::Floor => self.floor(&mut html),
            View::Far => self.far(&mut html),
            _ => self.below_what_is_due(&mut html, view),
        }
        html.done()
    }

    fn below_what_is_due(&self, html: &mut Html, view: &View) {
        let of_kiln = match view {
            View::Kiln(name) | View::Form(_, name) => self.scene.kiln(name),
            _ => None,
        };
        self.counts(html);
        // Nothing stands above what is due, whatever is looked at.
        let due = self.scene.due().filter(|due| of_kiln.is_none_or(|kiln| kiln.kiln != due.kiln));
        if let Some(due) = due {
            self.first(html, due);
            self.usual_steps(html, due);
        }
        match (view, of_kiln) {
            (View::Kiln(_), Some(kiln)) => self.one(html, kiln),
            (View::Kiln(_), None) => {
                html.element("p", &[], words::PAGE_NO_SUCH_PLACE.trim_end());
            }
            (View::Shop, _) => self.descriptions(html),
            (View::Bench, _) => self.bench(html),
            (_, kiln) => {
                kiln.iter().for_each(|kiln| self.first(html, kiln));
                self.people(html);
            }
        }
    }

    /// Every kiln that counts down or wants somebody, in a line that stays in sight.
    fn counts(&self, html: &mut Html) {
        let now = self.scene.now;
        let kilns = self.scene.kilns.iter();
        let counting: Vec<(&KilnScene, String)> =
            kilns.filter_map(|kiln| Some((kiln, words::big_text(kiln, now)?))).collect();
        if counting.is_empty() {
            return;
        }
        html.within("nav", &[("class", "counts")], |html| {
            for (kiln, text) in &counting {
                let place = format!("/kiln/{}", in_address(&kiln.kiln));
                html.within("a", &[("href", &place)], |html| {
                    html.text(&kiln.kiln);
                    html.count((text != "NOW").then_some(kiln.todo.at), text);
                });
            }
        });
    }

    /// One that rings, and the one tap that answers it.
    fn ring(&self, html: &mut Html, alarm: &Alarm) {
        let (what, body) = self.said_of(alarm);
        html.within("section", &[("class", "ring")], |html| {
            html.element("h1", &[], &what);
            html.element("p", &[], &body);
            let answer = [("method", "post"), ("action", "/answer"), ("class", "answer")];
            html.within("form", &answer, |html| {
                let firing = alarm.key.firing.0.to_string();
                forms::hidden(html, &[("alarm", alarm.key.task.name()), ("firing", &firing)]);
                html.element("button", &[], words::PAGE_ON_THE_WAY);
            });
        });
    }

    fn floor(&self, html: &mut Html) {
        let scene = &self.scene;
        html.within("section", &[("class", "first")], |html| {
            if let Some(kiln) = scene.kilns.first() {
                self.big(html, kiln);
            }
            let headline = words::headline(scene, &self.dial, Striking::AtTheComputer);
            html.element("p", &[("class", "say")], &headline);
        });
        self.counts(html);
        let others = self.picture.devices.iter().filter(|one| Some(*one) != self.device);
        let silent: Vec<&str> = others.filter(|one| !one.sound).map(|one| &*one.name).collect();
        if !silent.is_empty() {
            let said = words::page_would_not_be_heard(&silent.join(", "));
            html.element("p", &[("class", "caution")], &said);
        }
        if let Some(kiln) = scene.kilns.first() {
            self.usual_steps(html, kiln);
            self.people(html);
        }
        html.within("div", &[("class", "kilns")], |html| {
            scene.kilns.iter().for_each(|kiln| self.card(html, kiln));
        });
    }

    /// A countdown, or one word, as large as there is room.
    fn big(&self, html: &mut Html, kiln: &KilnScene) {
        let now = self.scene.now;
        let Some(word) = words::big_word(kiln, now) else { return };
        let counts = word != "NOW" && words::big_text(kiln, now).is_some_and(|text| text == word);
        html.big(counts.then_some(kiln.todo.at), &word, &words::big_caption(kiln, now));
    }

    fn card(&self, html: &mut Html, kiln: &KilnScene) {
        let class = if kiln.task().wants_somebody() { "kiln wanted" } else { "kiln" };
        html.within("article", &[("class", class)], |html| {
            let place = format!("/kiln/{}", in_address(&kiln.kiln));
            html.within("h2", &[], |html| {
                html.element("a", &[("href", &place)], &kiln.kiln);
                html.element("small", &[], words::phase_word(kiln.phase));
            });
            html.element("p", &[("class", "do")], &words::say_short(kiln, self.scene.now));
            self.facts(html, kiln);
        });
    }

    /// What is known of a kiln, line by line.
    fn facts(&self, html: &mut Html, kiln: &KilnScene) {
        if kiln.phase == Phase::Empty {
            return;
        }
        let (now, dial) = (self.scene.now, &self.dial);
        html.within("ul", &[], |html| {
            html.element("li", &[], &words::load_line(kiln, now, dial));
            for cone in &kiln.cones {
                html.element("li", &[("class", "cone")], &words::cone_line(cone, now, COLUMNS));
            }
            let lines = [
                words::drop_line(kiln, now, dial),
                words::watch_line(kiln, now, dial),
                words::chamber_line(kiln, dial),
                words::reading_line(kiln, now, dial),
                words::cool_line(kiln, now, dial),
            ];
            lines.iter().flatten().for_each(|line| html.element("li", &[], line));
        });
    }

    /// The floor in lines, each with what is counted down to behind it.
    pub fn plain(&self) -> Value {
        let (scene, now, dial) = (&self.scene, self.scene.now, &self.dial);
        let wrong = self.picture.line.as_deref().map(words::page_wrong);
        let headline = words::headline(scene, dial, Striking::AtTheComputer);
        let mut lines = vec![(words::page_as_of(now, dial), None)];
        lines.extend(wrong.into_iter().chain([headline]).map(|line| (line, None)));
        for kiln in &scene.kilns {
            let counts = words::big_text(kiln, now).is_some_and(|text| text != "NOW");
            let phase = format!("{}: {}", kiln.kiln, words::phase_word(kiln.phase));
            let drop = words::drop_line(kiln, now, dial);
            let facts =
                [Some(words::say_short(kiln, now)), drop, words::watch_line(kiln, now, dial)];
            lines.extend([(String::new(), None), (phase, counts.then_some(kiln.todo.at.0))]);
            lines.extend(facts.into_iter().flatten().map(|line| (line, None)));
        }
        json!(lines)
    }

    /// What comes first at a kiln.
    fn first(&self, html: &mut Html, kiln: &KilnScene) {
        html.within("section", &[("class", "first")], |html| {
            html.element("h1", &[], &kiln.kiln);
            self.big(html, kiln);
            let now = self.scene.now;
            let said = words::say_in_full(kiln, now, &self.dial, Striking::AtTheComputer);
            html.element("p", &[("class", "say")], &said);
        });
    }

    fn one(&self, html: &mut Html, kiln: &KilnScene) {
        let (now, dial) = (self.scene.now, &self.dial);
        self.first(html, kiln);
        self.usual_steps(html, kiln);
        self.people(html);
        html.within("article", &[("class", "kiln")], |html| {
            chart(kiln, now, dial).iter().for_each(|picture| html.picture(picture));
            self.facts(html, kiln);
        });
        self.all_steps(html, kiln);
        let happened = kiln.happened();
        if happened.is_empty() {
            return;
        }
        html.within("article", &[("class", "kiln")], |html| {
            html.element("h2", &[], &words::story_title(&kiln.kiln));
            html.within("ul", &[], |html| {
                for (at, what) in happened.iter().rev().take(STORY) {
                    let said = words::happened_line(what, dial);
                    let line = format!("{} {said}", dial.time_and_day(*at, now));
                    html.element("li", &[], &line);
                }
            });
        });
    }

    fn far(&self, html: &mut Html) {
        let idle = words::large_when_idle(&self.scene);
        let first = self.scene.kilns.first();
        html.within("section", &[("class", "far")], |html| {
            let phrase = first.map(words::far_phrase).or(idle.into_iter().next());
            html.element("p", &[("class", "phrase")], &phrase.unwrap_or_default());
            if let Some(kiln) = first {
                let now = self.scene.now;
                match words::big_text(kiln, now) {
                    Some(text) => html.count((text != "NOW").then_some(kiln.todo.at), &text),
                    None => html.count(None, &words::say_short(kiln, now).to_uppercase()),
                }
            }
        });
    }

    /// The whole page of a view, with what stands beside what is drawn anew: nothing that is typed there is
    /// lost.
    pub fn page(&self, view: &View, beside: impl FnOnce(&mut Html)) -> String {
        let mut html = Html::default();
        let tones = Value::from_iter(Priority::ALL.map(|priority| {
            let pulses = pulses(priority).into_iter();
            let pulses = pulses.map(|one| json!([one.start_ms, one.length_ms, one.hertz]));
            (priority.name().to_owned(), Value::from_iter(pulses))
        }));
        let (at, tones) = (view.stream(), tones.to_string());
        let known = stream::known(self).to_string();
        let texts = [
            ("data-stream", at.as_str()),
            ("data-tones", &tones),
            ("data-known", &known),
            ("data-bye", words::PAGE_BYE),
            ("data-sending", words::PAGE_SENDING),
            ("data-unsent", words::PAGE_NOT_SENT),
            ("data-saving", words::PAGE_SAVING),
            ("data-unsaved", words::PAGE_NOT_SAVED),
            ("data-undo", words::PAGE_UNDO),
            ("data-yes", words::PAGE_YES),
            ("data-no", words::PAGE_NO),
            ("data-again", words::PAGE_AGAIN),
        ];
        // A form without a script is not asked for anew: what is typed would be lost.
        let scripts: &[&str] = match view {
            View::Form(..) | View::Beside => &["/page.js"],
            _ => &["/old.js", "/page.js"],
        };
        frame(&mut html, &self.title(), scripts, &texts, |html| {
            let lost = [("id", "lost"), ("role", "status"), ("hidden", "")];
            html.element("p", &lost, words::PAGE_LOST);
            html.element("button", &[("id", "silent"), ("hidden", "")], words::PAGE_SILENT);
            html.element("p", &[("id", "alert"), ("role", "alert")], "");
            html.within("section", &[("id", "alone"), ("class", "ring"), ("hidden", "")], |html| {
                html.element("h1", &[], "");
                html.element("p", &[], "");
                html.element("button", &[("id", "hush")], words::PAGE_HUSH);
                html.element("p", &[], words::PAGE_HUSH_SAYS);
            });
            html.within("section", &[("id", "notes"), ("aria-live", "polite")], |_| ());
            html.open("main", &[("id", "main")]);
            html.inside(self, view);
            html.close("main");
            if matches!(view, View::Form(..) | View::Beside) {
                html.within("section", &[("id", "form")], beside);
            }
            html.within("nav", &[], |html| {
                for (place, word) in words::PAGE_PLACES {
                    html.element("a", &[("href", place)], word);
                }
                html.element("button", &[("id", "try"), ("hidden", "")], words::PAGE_TRY);
            });
            let caution = format!("{} {}", words::PAGE_LOCKED, words::CAUTION_ALONE);
            html.element("footer", &[], &caution);
        });
        html.done()
    }
}

/// What stands around every page.
pub fn frame(
    html: &mut Html,
    title: &str,
    scripts: &[&str],
    texts: Attributes<'_>,
    inside: impl FnOnce(&mut Html),
) {
    html.open("!DOCTYPE", &[("html", "")]);
    html.within("html", &[("lang", "en")], |html| {
        html.within("head", &[], |html| {
            html.open("meta", &[("charset", "utf-8")]);
            let size = "width=device-width, initial-scale=1";
            html.open("meta", &[("name", "viewport"), ("content", size)]);
            html.element("title", &[], title);
            html.open("link", &[("rel", "stylesheet"), ("href", "/page.css")]);
            html.open("link", &[("rel", "icon"), ("href", "/icon.svg")]);
            if scripts.len() > 1 {
                html.within("noscript", &[], |html| {
                    html.open("meta", &[("http-equiv", "refresh"), ("content", "20")]);
                });
            }
            for script in scripts {
                html.element("script", &[("src", script), ("defer", "")], "");
            }
        });
        html.within("body", texts, inside);
    });
}
