//! What is asked by the forms that write no event.

use crate::alarm::WayName;
use crate::firing::fields::{Field, Of};

const fn text(key: &'static str, label: &'static str, ask: &'static str) -> Field {
    Field::asking(key, label, Of::Text(""), ask)
}

/// One of several, given as it is opened.
const fn one_of(key: &'static str, label: &'static str) -> Field {
    Field::asking(key, label, Of::Text(""), "")
}

pub static LOOK: Field = one_of("struck", "look");
pub static FILE: Field = text("file", "file", "what the file is to be called");
pub static WARE: Field = one_of("ware", "ware");
pub static SCALE: Field = one_of("scale", "shown in");
pub static CLOCK: Field = one_of("clock", "clock");
pub static FOLDER: Field =
    text("folder", "schedules", "in a folder beside the shop's file, or in another");
pub static DRAW_BELOW: Field =
    text("draw_below", "open below", "100C if left empty (common practice)");
pub static NAME: Field = text("name", "name", "as you call it");
pub static WAYS: Field =
    text("ways", "called by", "sound, speech, desktop, email ... in this order");
pub static REACH: Field = text("reach", "reached at", "e-mail address, or what the command needs");
pub static ON_DUTY: Field = text("on_duty", "on duty", "always, or 6:00 to 18:00");
pub static KEEP: Field = one_of("keep", "keep?");
pub static MUTED: Field = text("muted", "quiet hours", "never, or 22:00 to 7:00");
pub static LOUDEST: Field = text("loudest", "loudest", "0 is silent, 0.5 half, 1 full");

const SECRET_FILE: Field =
    text("secret_file", "secret in", "full path of its file, which you alone can read");
const USER: Field = text("user", "user", "nobody, or the name to sign in with");

/// What the ways are set by that have to be set up, in the words of the bell's file; each can do
/// nothing without the first.
pub static OF_WAYS: [(WayName, &[Field]); 4] = [
    (
        WayName::Command,
        &[
            text("program", "command", "none, or a program of your own"),
            Field::asking("arguments", "argument", Of::Texts, "one more argument"),
            Field::asking("time_limit_s", "time limit", Of::Count, "10, from 1 to 30 seconds"),
        ],
    ),
    (
        WayName::Webhook,
        &[
            text("url", "address", "none, or https://example.org/kilns"),
            text("body", "sent as", "json, or text"),
            Field::asking("headers", "header", Of::Texts, "Title: Kilns; {secret} is the secret"),
            SECRET_FILE,
        ],
    ),
    (
        WayName::Email,
        &[
            text("server", "mail server", "none, or mail.example.org"),
            text("from", "from", "kilns@example.org"),
            USER,
            SECRET_FILE,
            text("security", "encryption", "what the server offers, or tls, starttls, none"),
        ],
    ),
    (
        WayName::Mqtt,
        &[
            text("broker", "broker", "none, or its address in your network, like 192.168.1.5"),
            USER,
            SECRET_FILE,
        ],
    ),
];

/// What a way is set up by.
pub fn of_way(way: WayName) -> &'static [Field] {
    OF_WAYS.iter().find(|(one, _)| *one == way).map_or(&[], |(_, fields)| fields)
}

pub static KILN: Field = one_of("kiln", "kiln");
pub static LIT: Field = text("lit", "lit", "2026-03-10 8:00, yesterday 8:00");
pub static SEEN_STANDING: Field =
    text("standing", "last standing", "12:05, if it is written down; then also:");
pub static SEEN_DOWN: Field = text("down", "seen down", "12:10");
pub static SHUT_OFF: Field = text("off", "shut off", "12:12");
pub static UNLOADED: Field = text("drawn", "unloaded", "8:00, the next morning");
pub static OTHERS: Field = one_of("others", "other times");
pub static ALARM: Field = one_of("alarm", "alarm");
pub static WHY: Field = text("why", "why", "gas ran out, power cut");
