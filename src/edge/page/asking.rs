//! Pages that ask one thing: those that pair a device and ask for the PIN, and what became of something noted,
//! told to a browser without a script.

use super::forms;
use super::html::{Attributes, Html};
use super::noting::Noted;
use super::sent::Said;
use super::views::frame;
use crate::edge::journal::devices::Device;
use crate::firing::Kind;
use crate::units::Moment;
use crate::words;

/// A form on a page of its own.
struct Asked<'a> {
    action: &'a str,
    /// What it says that nobody sees.
    known: &'a [(&'a str, &'a str)],
    /// What has to be typed, each with its words.
    typed: &'a [(&'a str, Attributes<'a>)],
    button: &'a str,
    /// The button that says yes to a question, if one is asked.
    yes: Option<&'a str>,
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
            if let Some(Asked { action, known, typed, button, yes }) = asked {
                html.within("form", &[("method", "post"), ("action", action)], |html| {
                    forms::hidden(html, known);
                    for (text, input) in *typed {
                        html.within("label", &[], |html| {
                            html.text(text);
                            html.open("input", &[input, &[("required", "")][..]].concat());
                        });
                    }
                    html.element("button", &[], button);
                    yes.iter().for_each(|yes| forms::button(html, "again", "1", yes));
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
/// Where the name is taken, it may be by this very device.
pub fn pairing(code: Option<&str>, (name, taken): (&str, bool), wrong: Option<&str>) -> String {
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
    let yes = taken.then_some(words::PAGE_PAIR_AGAIN);
    let asked = Asked { action, known: known.as_slice(), typed, button, yes };
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
    let (button, yes) = (words::PAGE_NOTE_HERE, None);
    let asked = Asked { action: "/who", known: &[], typed, button, yes };
    asking(title, (said, wrong.is_some()), Some(&asked), Some(("/", words::PAGE_FLOOR)))
}

/// A page that says why nothing was done, and leads back.
pub fn refused(why: &str, back: &str) -> String {
    asking(words::PROGRAM, (Some(why), true), None, Some((back, words::PAGE_BACK)))
}

/// What became of something noted, told to a browser without a script.
pub fn noted(noted: &Noted, Said(sent): &Said, mark: &str) -> String {
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
    let (action, typed, yes) = ("/note", &[][..], None);
    let asked = form.map(|(known, button)| Asked { action, known, typed, button, yes });
    let is_wrong = !matches!(noted, Noted::Saved { .. });
    asking(words::PROGRAM, (Some(said), is_wrong), asked.as_ref(), Some(away))
}
