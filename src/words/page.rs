//! What is said on the page, and to whoever switches it on.

use super::alarms;
use super::dial::Dial;
use super::lengths::ago;
use crate::alarm::Alarm;
use crate::casting::Found;
use crate::firing::Kind;
use crate::review::Table;
use crate::review::table::{Cell, Told};
use crate::scene::{PastFiring, Sort};
use crate::units::{Moment, Span};

/// What stands largest while a device would not be heard.
pub const PAGE_SILENT: &str = "Tap: this device is silent";
pub const PAGE_LOST: &str =
    "No word from the computer: this device counts on alone, by what it knew last.";
pub const PAGE_BYE: &str = "The page was switched off, or this device was unpaired.";
pub const PAGE_ON_THE_WAY: &str = "I am on the way";
pub const PAGE_SENDING: &str = "Sending ...";
pub const PAGE_NOT_SENT: &str = "Not sent: the computer does not answer. Tap again.";
pub const PAGE_HUSH: &str = "Silence this device";
pub const PAGE_HUSH_SAYS: &str =
    "The computer does not answer, so nobody else hears of it from here.";
pub const PAGE_FLOOR: &str = "All kilns";
pub const PAGE_TRY: &str = "Try the sound";
pub const PAGE_LOCKED: &str = "A phone that is locked, or shows something else, is silent: only e-mail, a web request to another service (webhook) or the shop's message broker (MQTT) reaches it then (\"Kilns and loads\", \"Ways to ring\").";

/// Said to what is turned away.
pub const PAGE_NOT_HERE: &str =
    "This computer is not called that: open the page by the address that \"spyhole page\" shows.\n";
pub const PAGE_FROM_ELSEWHERE: &str = "This came from another page, and nothing was done.\n";
pub const PAGE_TOO_SLOW: &str =
    "This took the computer too long, and nothing was done: try again.\n";
pub const PAGE_NO_SUCH_PLACE: &str = "There is nothing here.\n";

pub const PAGE_PAIR_TITLE: &str = "Pair this device";
pub const PAGE_NOT_PAIRED: &str = "This device is not paired with the shop. On the shop's computer, run \"spyhole page\": scan the picture it shows, or type the letters beside it here.";
pub const PAGE_CODE: &str = "The eight letters";
pub const PAGE_NAME: &str = "What this device is called, written beside what is answered on it";
pub const PAGE_PAIR: &str = "Pair";
pub const PAGE_PAIR_AGAIN: &str = "It is this device: pair it anew";
pub const PAGE_NAME_MISSING: &str =
    "The device has no name: call it something like \"Ada's phone\".";
pub const PAGE_NO_CODE: &str =
    "That is no code: it is the eight letters that \"spyhole page\" shows on the shop's computer.";
pub const PAGE_NO_SUCH_CODE: &str = "No such code is shown on the shop's computer: it was used already, its time has run out, or a letter is wrong. \"spyhole page\" on that computer shows a new one.";
pub const PAGE_NOTHING_RINGS: &str = "That alarm was over or answered before: nothing is changed.";

/// Said where what was answered rings no more.
pub const PAGE_ANSWERED: &str = "Answered.";

pub const PAGE_TO_NOTE: &str = "To note on this device, type the PIN";
pub const PAGE_PIN_TITLE: &str = "Note on this device";
pub const PAGE_PIN_SAYS: &str = "To note on this device what is seen and done, type the shop's PIN here once. Without it the device shows, rings and answers.";
pub const PAGE_PIN: &str = "The shop's PIN";
pub const PAGE_PERSON: &str = "Your name, written beside what you note";
pub const PAGE_PERSON_MISSING: &str = "Nobody is named: type your name.";
pub const PAGE_NOTE_HERE: &str = "Note here";
pub const PAGE_WHO_TITLE: &str = "Who notes on this device?";
pub const PAGE_NOTED_BY: &str = "Noted by ";
pub const PAGE_SOMEBODY_ELSE: &str = "somebody else";
pub const PAGE_NO_PIN: &str = "Devices show, ring and answer. To note on them as well, set a PIN: run \"spyhole page pin\" on the shop's computer.";
pub const PAGE_NO_SUCH_PIN: &str = "That cannot be the PIN: it has four to eight digits.";
pub const PAGE_BAD_PIN: &str =
    "a PIN has four to eight digits and nothing else; nothing was changed: choose another one";
pub const PAGE_PIN_WRONG: &str =
    "That is not the PIN. \"spyhole page pin\" on the shop's computer sets a new one.";
pub const PAGE_PIN_NO_MORE: &str = "Too many wrong PINs were typed on this device: on the shop's computer, set a new one with \"spyhole page pin\", or unpair this device and pair it again.";
pub const PAGE_NEW_PIN: &str = "The new PIN, four to eight digits:";
pub const PAGE_PIN_SET: &str = "The PIN is set. Type it once on each device on which somebody is to note, also where an earlier one was typed.";

/// How long somebody has to wait who typed wrong PINs.
pub fn page_pin_later(left: Span) -> String {
    format!("Wrong PINs were typed on this device: wait {left}, then type it again.")
}

/// Where every page leads to.
pub const PAGE_PLACES: [(&str, &str); 7] = [
    ("/", PAGE_FLOOR),
    ("/bench", "Casting bench"),
    ("/plan", "The day"),
    ("/far", "Large, from afar"),
    ("/shop", "Kilns and loads"),
    ("/ledger", "Ledger"),
    ("/review", "Review"),
];
pub const PAGE_POURED: &str = "Poured";
pub const PAGE_DRAINED: &str = "Drained";
pub const PAGE_SEVERAL_MOULDS: &str = "Several at once, and new ones";
/// The forms in which several moulds can be named.
pub const PAGE_OF_SEVERAL: [(Kind, &str); 3] = [
    (Kind::Poured, "Several moulds were poured"),
    (Kind::Drained, "Several moulds were drained"),
    (Kind::Check, "Several moulds were checked"),
];
pub const PAGE_NO_MOULDS: &str = "No mould is described yet: begin with the code written on one.";
pub const PAGE_SOUGHT: &str = "Kiln, load, cone, outcome, day or words of a note";
pub const PAGE_SEEK: &str = "Search";
pub const PAGE_NO_LOTS: &str = "No ware is said to wait to be fired.";
pub const PAGE_WAYS: &str = "Ways to ring";
pub const PAGE_WAYS_AT_COMPUTER: &str = "Who is called, names and secrets to sign in with, and a program of your own are set up at the shop's computer.";
pub const PAGE_WAY_SECRET: &str = "A secret or headers go with it, and neither is sent to a device: change it at the shop's computer.";
pub const PAGE_WAY_CHANGED: &str =
    "The ways to ring were changed meanwhile: go back and open this form again.";
pub const PAGE_WAY_SET: &str = "Ring this way";
pub const PAGE_BACK: &str = "Back";

/// Where a way leads by now, whose whole address a device does not hear.
pub fn page_way_leads(place: &str) -> String {
    format!(
        "It is set up, and leads to {place}. An address that is not shown stays as it is where nothing is typed."
    )
}

/// What the letters of the plan mean.
pub const PAGE_PLAN_MEANS: &str =
    "P packing, = climbing, # when it drops, D drawing, ~ cooling; the last line is who watches.";

/// Above the picture of a kiln's places.
pub fn hotter_and_colder(kiln: &str) -> String {
    format!("{kiln}: hotter and colder places")
}

/// Lines of the ledger, of which there are so many more.
pub fn ledger_table(past: &[PastFiring], more: usize, now: Moment, dial: &Dial<'_>) -> Table {
    let columns: &[Told<'_, PastFiring>] = &[
        ("when", "when", &|one| Cell::text(dial.time_and_day(one.begun, now))),
        ("kiln", "kiln", &|one| Cell::text(&one.kiln)),
        ("load", "load", &|one| Cell::text(&one.load_type)),
        ("cone", "cone", &|one| Cell::text(one.target.map_or("", |cone| cone.name()))),
        ("result", "came out", &|one| Cell::text(one.verdict.map_or("", |verdict| verdict.name()))),
        ("note", "note", &|one| Cell::text(&one.note)),
    ];
    let title = super::ledger_title(Sort::Youngest, false);
    let mut table = Table::of(title, past, columns, |one| (String::new(), vec![one.firing]));
    let more = (more > 0).then(|| format!("{more} more: search for words that fewer lines have."));
    let none = past.is_empty().then(|| super::NO_SUCH_FIRING.to_owned());
    table.remarks = more.or(none).into_iter().collect();
    table
}

/// What a check found, on its button.
pub fn page_found(found: Found) -> &'static str {
    match found {
        Found::Well => "Opened well",
        Found::NotYet => "Not yet",
        Found::Forced => "Forced",
        Found::Cracked => "Cracked",
        Found::OtherCrack => "Cracked otherwise",
    }
}
pub const PAGE_NOTE_IT: &str = "Note it";
pub const PAGE_FORM: &str = "Open the form";
pub const PAGE_SAY_MORE: &str = "Say more, or another time";
pub const PAGE_STRIKE: &str = "Strike an entry";
pub const PAGE_CORRECT: &str = "Correct an entry";
/// What takes back something that was said before.
pub const PAGE_NOT_SAID: &str = "say nothing";
pub const PAGE_SCALE: &str = "unit";
pub const PAGE_UNDO: &str = "Undo";
pub const PAGE_YES: &str = "Yes, note it";
pub const PAGE_NO: &str = "No, leave it";
pub const PAGE_AGAIN: &str = "Try again";
pub const PAGE_SAVING: &str = "Saving ...";
pub const PAGE_NOT_SAVED: &str = "NOT SAVED for";
pub const PAGE_NO_CONE: &str = "First say what at least one cone does.";
pub const PAGE_GARBLED: &str =
    "Not saved: this page is out of date. Go back, open it on the page again, and enter it there.";

/// `Target: leaning`
pub fn page_target(seen: &str) -> String {
    format!("Target: {seen}")
}

/// On the button that notes a temperature typed without its unit.
pub fn page_note_in(scale: &str) -> String {
    format!("Note it in {scale}")
}

pub fn page_all_steps(kiln: &str) -> String {
    format!("What can be noted of {kiln}")
}

/// Asked where a tap comes late.
pub fn page_tapped_long_ago(age: Span) -> String {
    format!("This was tapped {age} ago: is it still to be noted, as of then?")
}

/// Asked where somebody else was faster.
pub fn page_changed_since(said: &str, who: &str, at: &str) -> String {
    let who = if who.is_empty() { "somebody" } else { who };
    format!("Meanwhile {who} noted {at}: {said}. Is this to be noted as well?")
}

pub const PAGE_WAY: &str = "the page";
pub const PAGE_NOBODY_RINGS: &str =
    "no phone or tablet has its sound on: open the page on one and tap it once";
pub const PAGE_NOT_TRIED: &str = "no device has said within five minutes that it sounds: tap \"Try the sound\" on one, then try the bell again";

/// On a computer that shows a shop elsewhere.
pub const ELSEWHERE_CODE: &str = "This computer is not paired with that shop. Run \"spyhole page\" on the shop's computer, and type the eight letters here:";
pub const ELSEWHERE_NAME: &str = "What this computer is called, such as \"office\":";
pub const ELSEWHERE_FORGOTTEN: &str = "this computer was unpaired: \"spyhole page\" on the shop's computer shows a code that pairs it again";
pub const ELSEWHERE_KEYS: &str =
    "q leaves. What is seen and done is noted at the shop's computer or on a phone.";
pub const ELSEWHERE_SCREEN_ONLY: &str = "a shop on another computer is only shown here: run \"spyhole --shop ADDRESS\" with no command, and commands on the computer that has it";
pub const ELSEWHERE_NO_TERMINAL: &str =
    "a shop on another computer is shown in a terminal: run this in one";

pub fn elsewhere_no_address(address: &str) -> String {
    format!(
        "\"{address}\" is no address in the shop's network: write it with its port as \"spyhole page\" shows it there, such as http://192.168.1.5:8766"
    )
}

pub fn elsewhere_name_taken(name: &str) -> String {
    format!(
        "Another device is called \"{name}\": choose another name, or unpair that one with \"spyhole page forget\"."
    )
}

pub fn elsewhere_silent(base: &str) -> String {
    format!(
        "{base} does not answer: somebody has to keep watch on the shop's computer, with the page switched on (\"spyhole page\")"
    )
}

pub fn elsewhere_other(base: &str) -> String {
    format!(
        "what answers at {base} is not the page of this version of Spyhole: run the same version on both computers"
    )
}

/// Why nothing was saved while the disk hangs.
pub const PAGE_FILE_SILENT: &str = "the shop's file does not answer";

/// What a device may be called, by what its browser says of itself.
pub fn page_device(browser: &str) -> &'static str {
    let known = ["iPhone", "iPad", "Android"];
    let found = known.iter().find(|name| browser.contains(**name));
    found.map_or("computer", |name| if *name == "Android" { "phone" } else { name })
}

pub fn page_name_taken(name: &str) -> String {
    format!(
        "A device called \"{name}\" is paired. If that is not this one, choose another name: the device of that name falls silent where this takes its place."
    )
}

pub fn page_not_written(why: &str) -> String {
    format!("Nothing was saved: {why}.")
}

/// Said where an alarm was answered on a device.
pub fn page_answered(alarm: &Alarm) -> String {
    format!("Answered: {}", alarms::headline(alarm))
}

pub fn page_not_served(port: u16, why: &str) -> String {
    format!(
        "port {port} cannot be had ({why}): another program may have it, or name another with --port"
    )
}

/// Said where this computer has another address than the one by which its devices came.
pub fn page_moved(was: &str, now: &str) -> String {
    format!(
        "The page is at {now} now and no longer at {was}: every device that opened it there has to be paired anew. \"spyhole page\" shows a code; let the router give this computer the same address each time."
    )
}

/// `as of 14:05`.
pub fn page_as_of(now: Moment, dial: &Dial<'_>) -> String {
    format!("as of {}", dial.time(now))
}

/// The other devices that would not be heard.
pub fn page_would_not_be_heard(devices: &str) -> String {
    format!("Would not be heard, as far as is known: {devices}.")
}

/// What is wrong with this shop, above all else.
pub fn page_wrong(line: &str) -> String {
    format!("On the computer: {line}")
}

/// A device that is paired, in a line.
pub fn page_device_line(
    name: &str,
    (paired, seen): (Moment, Moment),
    (sound, notes): (bool, Option<&str>),
    now: Moment,
) -> String {
    let sound = if sound { "sound on" } else { "silent" };
    let notes = notes.map_or("shows and answers".into(), |person| format!("{person} notes on it"));
    format!(
        "{name}: {sound} as it said last, {notes}, here {}, paired {}",
        ago(now - seen),
        ago(now - paired)
    )
}

pub const PAGE_SWITCHED_OFF: &str =
    "The page is switched off. Devices stay paired for when it is switched on again.";
pub const PAGE_NO_DEVICE: &str = "No device is paired: \"spyhole page\" pairs one.";
pub const PAGE_NO_NETWORK: &str = "this computer has no address in a network that a phone could reach: connect it to the shop's network, or name an address with --address";
pub const PAGE_NOT_SERVED_YET: &str =
    "The page cannot be opened until \"spyhole keep\" or the screen runs on this computer.";
pub const PAGE_BURNT: &str = "five wrong codes were typed, so this one is worth nothing any more: look who is in the network, then run \"spyhole page\" again";
pub const PAGE_CODE_OVER: &str = "The code is over. The page stays switched on.";
pub const PAGE_OTHER_ADDRESSES: [&str; 3] =
    ["", "It does not open? Other addresses of this", "computer, to be named with --address:"];

/// How the next address of this computer is shown; the one that is, by its number and by what it is there.
pub fn page_next_address((number, of): (usize, usize), by: &str) -> [String; 3] {
    let by = if by.is_empty() { String::new() } else { format!(", {by}") };
    let next = "It does not open? An arrow key shows the";
    [String::new(), next.into(), format!("next address of this computer ({number} of {of}{by}).")]
}

/// What stands beside the picture with the code, in lines that fit there.
pub fn page_how_to_pair(url: &str, code: &str, lasts: Span) -> Vec<String> {
    let lines = [
        "Scan this with the phone's camera.",
        "",
        "Or open this address in a browser",
        &format!("  {url}/pair"),
        "and type there",
        &format!("  {code}"),
        "",
        &format!("It pairs one device, for {lasts}, while it"),
        "is shown here. Ctrl-C ends it.",
    ];
    lines.map(str::to_owned).to_vec()
}

/// Beside a code where this computer has another address than before.
pub fn page_was_at(was: &str) -> String {
    format!("This computer was at {was} before: what was paired there has to be paired anew.")
}

pub fn page_paired(device: &str) -> String {
    format!("{device} is paired. \"spyhole page\" pairs another one.")
}

pub fn page_forgotten(device: &str) -> String {
    format!("{device} is not paired any more.")
}
