//! The pages: the floor, one kiln, the view from afar, and the one that pairs a device. Each can be read
//! without a script; with one it is drawn anew from the same piece of HTML.

use super::chart::chart;
use super::clerk::Picture;
use super::forms;
use super::html::{Attributes, Html};
use super::noting::Noted;
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
    /// What comes first, beside something that does not change while it is looked at.
    Beside,
}

impl View {
    /// Where its stream is.
    fn stream(&self) -> String {
        match self {
            View::Floor => "/state".into(),
            View::Form(_, name) if name.is_empty() => "/state".into(),
            View::Form(kind, name) => {
                format!("/state?kiln={}&kind={}", in_address(name), kind.name())
            }
            View::Far => "/state?far=1".into(),
            View::Kiln(name) => format!("/state?kiln={}", in_address(name)),
            View::Shop => "/state?shop=1".into(),
            View::Beside => "/state?beside=1".into(),
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
        let device = picture.devices.iter().find(|device| device.token == *token);
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
            View::Kiln(name) => match self.scene.kiln(name) {
                Some(kiln) => self.one(&mut html, kiln),
                None => html.element("p", &[], words::PAGE_NO_SUCH_PLACE.trim_end()),
            },
            View::Form(..) | View::Beside => {
                let of_kiln = match view {
                    View::Form(_, name) => self.scene.kiln(name),
                    _ => None,
                };
                of_kiln.iter().for_each(|kiln| self.first(&mut html, kiln));
                self.people(&mut html);
            }
            View::Shop => self.descriptions(&mut html),
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
                let to = kiln.todo.at.0.to_string();
                match words::big_text(kiln, now) {
                    Some(text) if text == "NOW" => html.element("b", &[], &text),
                    Some(text) => html.element("b", &[("data-to", &to)], &text),
                    None => html.element("b", &[], &words::say_short(kiln, now).to_uppercase()),
                }
            }
        });
    }

    /// The whole page of a view, with what stands beside what is drawn anew: nothing that is typed there is
    /// lost.
    pub fn page(&self, view: &View, beside: impl FnOnce(&mut Html)) -> String {
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
            html.within("section", &[("id", "notes"), ("aria-live", "polite")], |_| ());
            html.open("main", &[("id", "main")]);
            html.inside(self, view);
            html.close("main");
            if matches!(view, View::Form(..) | View::Beside) {
                html.within("section", &[("id", "form")], beside);
            }
            html.within("nav", &[], |html| {
                html.element("a", &[("href", "/")], words::PAGE_FLOOR);
                html.element("a", &[("href", "/far")], words::PAGE_FAR);
                html.element("a", &[("href", "/shop")], words::PAGE_SHOP);
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

/// A form on a page of its own.
struct Asked<'a> {
    action: &'a str,
    /// What it says that nobody sees.
    known: &'a [(&'a str, &'a str)],
    /// What has to be typed, each with its words.
    typed: &'a [(&'a str, Attributes<'a>)],
    button: &'a str,
}

/// A page that says something, asks something, and leads away.
fn asking(
    title: &str,
    (said, is_wrong): (Option<&str>, bool),
    asked: Option<&Asked<'_>>,
    away: Option<(&str, &str)>,
) -> String {
    let mut html = Html::default();
    frame(&mut html, title, &[], &[], |html| {
        html.within("main", &[("class", "pair")], |html| {
            html.element("h1", &[], title);
            let class = if is_wrong { "wrong" } else { "say" };
            said.iter().for_each(|said| html.element("p", &[("class", class)], said));
            if let Some(Asked { action, known, typed, button }) = asked {
                html.within("form", &[("method", "post"), ("action", action)], |html| {
                    forms::hidden(html, known);
                    for (text, input) in *typed {
                        html.within("label", &[], |html| {
                            html.text(text);
                            html.open("input", &[input, &[("required", "")][..]].concat());
                        });
                    }
                    html.element("button", &[], button);
                });
            }
            if let Some((place, word)) = away {
                html.element("a", &[("href", place), ("class", "button")], word);
            }
        });
    });
    html.done()
}

/// The page that asks for a code, or shows the one in its address, and says what was wrong before.
pub fn pairing(code: Option<&str>, name: &str, wrong: Option<&str>) -> String {
    let said = wrong.or(code.is_none().then_some(words::PAGE_NOT_PAIRED));
    let known = code.map(|code| ("code", code));
    let letters = [
        ("name", "code"),
        ("autocomplete", "off"),
        ("autocapitalize", "characters"),
        ("spellcheck", "false"),
    ];
    let called = [("name", "name"), ("maxlength", "60"), ("value", name)];
    let typed = [(words::PAGE_CODE, &letters[..]), (words::PAGE_NAME, &called)];
    let typed = &typed[usize::from(code.is_some())..];
    let (action, button) = ("/pair", words::PAGE_PAIR);
    let asked = Asked { action, known: known.as_slice(), typed, button };
    asking(words::PAGE_PAIR_TITLE, (said, wrong.is_some()), Some(&asked), None)
}

/// The page that asks who notes on a device, and for the PIN where it was not told that.
pub fn unlocking(device: &Device, now: Moment, wrong: Option<&str>) -> String {
    let may_note = device.may_note(now);
    let said = wrong.or((!may_note).then_some(words::PAGE_PIN_SAYS));
    let digits =
        [("type", "password"), ("name", "pin"), ("inputmode", "numeric"), ("autocomplete", "off")];
    let known = if may_note { "" } else { device.person() };
    let person = [("name", "person"), ("maxlength", "60"), ("value", known)];
    let typed = [(words::PAGE_PIN, &digits[..]), (words::PAGE_PERSON, &person)];
    let typed = &typed[usize::from(may_note)..];
    let title = if may_note { words::PAGE_WHO_TITLE } else { words::PAGE_PIN_TITLE };
    let asked = Asked { action: "/who", known: &[], typed, button: words::PAGE_NOTE_HERE };
    asking(title, (said, wrong.is_some()), Some(&asked), Some(("/", words::PAGE_FLOOR)))
}

/// What became of something noted, told to a browser without a script.
pub fn noted(noted: &Noted, sent: &[(String, String)], mark: &str) -> String {
    let (said, newest) = match noted {
        Noted::Saved { said, id, .. } => (said.as_str(), id.to_string()),
        Noted::Asks { question, rev } => (question.as_str(), rev.to_string()),
        Noted::Refused(why) => (why.as_str(), String::new()),
        Noted::NoRight => (words::PAGE_PIN_SAYS, String::new()),
    };
    let rev = ("rev", newest.as_str());
    let strike = Kind::Struck.name();
    let strike = [("kind", strike), ("struck", &newest), ("whole", "1"), ("uid", mark), rev];
    let same = sent.iter().map(|(key, value)| (key.as_str(), value.as_str()));
    let same = same.filter(|(key, _)| !["rev", "sure"].contains(key));
    let again: Vec<(&str, &str)> = same.chain([rev, ("sure", "1")]).collect();
    let (form, away) = match noted {
        Noted::Saved { is_strike: false, .. } => {
            (Some((&strike[..], words::PAGE_UNDO)), ("/", words::PAGE_FLOOR))
        }
        Noted::Asks { .. } => (Some((&again[..], words::PAGE_YES)), ("/", words::PAGE_NO)),
        Noted::NoRight => (None, ("/who", words::PAGE_TO_NOTE)),
        _ => (None, ("/", words::PAGE_FLOOR)),
    };
    let asked = form.map(|(known, button)| Asked { action: "/note", known, typed: &[], button });
    let is_wrong = !matches!(noted, Noted::Saved { .. });
    asking(words::PROGRAM, (Some(said), is_wrong), asked.as_ref(), Some(away))
}
