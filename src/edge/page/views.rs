//! The pages: the floor, one kiln, the view from afar, and the one that pairs a device. Each can be read
//! without a script; with one it is drawn anew from the same piece of HTML.

use super::chart::chart;
use super::clerk::Picture;
use super::html::Html;
use super::stream;
use crate::alarm::{Alarm, Priority};
use crate::edge::bell::tone::pulses;
use crate::edge::shop::clock::LocalZone;
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
}

impl View {
    /// Where its stream is.
    fn stream(&self) -> String {
        match self {
            View::Floor => "/state".into(),
            View::Far => "/state?far=1".into(),
            View::Kiln(name) => format!("/state?kiln={}", in_address(name)),
        }
    }
}

/// A name as it may stand in an address.
fn in_address(name: &str) -> String {
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
}

impl Told<'_> {
    pub fn of(picture: &Picture, now: Moment) -> Told<'_> {
        let (scale, clock) = (picture.house.scale, picture.house.clock);
        let (scale, clock) = (scale.unwrap_or_default(), clock.unwrap_or_default());
        let dial = Dial { zone: &LocalZone, clock, scale };
        Told { picture, scene: picture.floor.scene(now), dial }
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
            View::Kiln(name) => match self.scene.kiln(name) {
                Some(kiln) => self.one(&mut html, kiln),
                None => html.element("p", &[], words::PAGE_NO_SUCH_PLACE.trim_end()),
            },
        }
        html.done()
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
                for (name, value) in [("alarm", alarm.key.task.name()), ("firing", &firing)] {
                    html.open("input", &[("type", "hidden"), ("name", name), ("value", value)]);
                }
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
        html.within("div", &[("class", "kilns")], |html| {
            scene.kilns.iter().for_each(|kiln| self.card(html, kiln));
        });
    }

    /// A countdown, or one word, as large as there is room.
    fn big(&self, html: &mut Html, kiln: &KilnScene) {
        let now = self.scene.now;
        let Some(word) = words::big_word(kiln, now) else { return };
        html.within("p", &[("class", "big"), ("role", "timer"), ("aria-live", "off")], |html| {
            let counts = words::big_text(kiln, now).is_some_and(|text| text == word);
            let to = kiln.todo.at.0.to_string();
            match counts && word != "NOW" {
                true => html.element("b", &[("data-to", &to)], &word),
                false => html.element("b", &[], &word),
            }
            html.element("span", &[], &words::big_caption(kiln, now));
        });
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

    fn one(&self, html: &mut Html, kiln: &KilnScene) {
        let (now, dial) = (self.scene.now, &self.dial);
        html.within("section", &[("class", "first")], |html| {
            html.element("h1", &[], &kiln.kiln);
            self.big(html, kiln);
            let said = words::say_in_full(kiln, now, dial, Striking::AtTheComputer);
            html.element("p", &[("class", "say")], &said);
        });
        html.within("article", &[("class", "kiln")], |html| {
            chart(kiln, now, dial).iter().for_each(|picture| html.picture(picture));
            self.facts(html, kiln);
        });
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
                let to = kiln.todo.at.0.to_string();
                match words::big_text(kiln, now) {
                    Some(text) if text == "NOW" => html.element("b", &[], &text),
                    Some(text) => html.element("b", &[("data-to", &to)], &text),
                    None => html.element("b", &[], &words::say_short(kiln, now).to_uppercase()),
                }
            }
        });
    }

    /// The whole page of a view.
    pub fn page(&self, view: &View) -> String {
        let mut html = Html::default();
        let tones = serde_json::Value::from_iter(Priority::ALL.map(|priority| {
            let pulses = pulses(priority).into_iter();
            let pulses =
                pulses.map(|one| (f64::from(one.start_ms), f64::from(one.length_ms), one.hertz));
            let pulses: Vec<[f64; 3]> =
                pulses.map(|(start, length, hertz)| [start, length, hertz]).collect();
            (priority.name().to_owned(), pulses)
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
        ];
        frame(&mut html, &self.title(), true, &texts, |html| {
            html.element(
                "p",
                &[("id", "lost"), ("role", "status"), ("hidden", "")],
                words::PAGE_LOST,
            );
            html.element("button", &[("id", "silent"), ("hidden", "")], words::PAGE_SILENT);
            html.element("p", &[("id", "alert"), ("role", "alert")], "");
            html.within("section", &[("id", "alone"), ("class", "ring"), ("hidden", "")], |html| {
                html.element("h1", &[], "");
                html.element("p", &[], "");
                html.element("button", &[("id", "hush")], words::PAGE_HUSH);
                html.element("p", &[], words::PAGE_HUSH_SAYS);
            });
            html.open("main", &[("id", "main")]);
            html.inside(self, view);
            html.close("main");
            html.within("nav", &[], |html| {
                html.element("a", &[("href", "/")], words::PAGE_FLOOR);
                html.element("a", &[("href", "/far")], words::PAGE_FAR);
                html.element("button", &[("id", "try"), ("hidden", "")], words::PAGE_TRY);
            });
            html.element(
                "footer",
                &[],
                &format!("{} {}", words::PAGE_LOCKED, words::CAUTION_ALONE),
            );
        });
        html.done()
    }
}

/// What stands around every page.
fn frame(
    html: &mut Html,
    title: &str,
    live: bool,
    texts: super::html::Attributes<'_>,
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
            if live {
                html.within("noscript", &[], |html| {
                    html.open("meta", &[("http-equiv", "refresh"), ("content", "20")]);
                });
                for script in ["/old.js", "/page.js"] {
                    html.element("script", &[("src", script), ("defer", "")], "");
                }
            }
        });
        html.within("body", texts, inside);
    });
}

/// The page that asks for a code, or shows the one in its address, and says what was wrong before.
pub fn pairing(code: Option<&str>, name: &str, wrong: Option<&str>) -> String {
    let mut html = Html::default();
    frame(&mut html, words::PAGE_PAIR_TITLE, false, &[], |html| {
        html.within("main", &[("class", "pair")], |html| {
            html.element("h1", &[], words::PAGE_PAIR_TITLE);
            let said = wrong.or(code.is_none().then_some(words::PAGE_NOT_PAIRED));
            let class = if wrong.is_some() { "wrong" } else { "say" };
            said.iter().for_each(|said| html.element("p", &[("class", class)], said));
            html.within("form", &[("method", "post"), ("action", "/pair")], |html| {
                match code {
                    Some(code) => {
                        html.open(
                            "input",
                            &[("type", "hidden"), ("name", "code"), ("value", code)],
                        );
                    }
                    None => html.within("label", &[], |html| {
                        html.text(words::PAGE_CODE);
                        html.open(
                            "input",
                            &[
                                ("name", "code"),
                                ("required", ""),
                                ("autocomplete", "off"),
                                ("autocapitalize", "characters"),
                                ("spellcheck", "false"),
                            ],
                        );
                    }),
                }
                html.within("label", &[], |html| {
                    html.text(words::PAGE_NAME);
                    let named =
                        [("name", "name"), ("required", ""), ("maxlength", "60"), ("value", name)];
                    html.open("input", &named);
                });
                html.element("button", &[], words::PAGE_PAIR);
            });
        });
    });
    html.done()
}
