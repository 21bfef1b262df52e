//! What forms and their answers say.

use super::dial::Dial;
use super::rehearsal::SPYHOLE_SHOWS;
use super::safety::{CAUTION_DRAW, CAUTION_LOOK, CAUTION_OFF, CAUTION_OFF_ELECTRIC};
use super::story::event_phrase;
use crate::alarm::WayName;
use crate::cone::{Cone, Family, curve};
use crate::firing::event::Seen;
use crate::firing::{Event, EventId, Kind, Others};
use crate::units::{CelsiusPerHour, Moment, UnitError};

/// The rate at which a form says what temperature a cone stands for: the middle one of the chart.
const SPOKEN_RATE: CelsiusPerHour = CelsiusPerHour(60.0);

/// What a form is about.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Title {
    #[default]
    Look,
    Reading,
    Glow,
    Off,
    Drawn,
    Outcome,
    Light,
    LightAgain,
    Pack,
    /// Packed before and not lit yet: a change.
    PackAgain,
    Turned,
    Note,
    GiveUp,
    ProbeChanged,
    /// On a kiln in which there is nothing.
    KilnNote,
    Rename,
    Retire,
    BringBack,
    Lot,
    Kiln,
    LoadType,
    Hours,
    Closed,
    Limits,
    Mould,
    MouldRenamed,
    Room,
    Poured,
    Drained,
    Check,
    PutOff,
    House,
    Bell,
    /// A way to ring that has to be set up.
    Way(WayName),
    Person,
    Resting,
    Strike,
    StrikeLook,
    Accept,
    Repeat,
    Card,
    /// Of a shop that has no kiln yet.
    First,
    /// Which kiln a form is to be opened for.
    Which,
    /// A firing of before, from paper.
    Past,
}

impl Title {
    /// The kind of event it writes, if it writes one, and what stands above it, `{}` for the name of
    /// what it is about.
    fn written(self) -> (Option<Kind>, &'static str) {
        match self {
            Title::Look => (Some(Kind::Look), "What do you see at {}?"),
            Title::Reading => (Some(Kind::Reading), "How hot is {}?"),
            Title::Glow => (Some(Kind::Glow), "What colour does {} glow?"),
            Title::Off => (Some(Kind::Off), "{} was shut off"),
            Title::Drawn => (Some(Kind::Drawn), "{} was unloaded"),
            Title::Outcome => (Some(Kind::Outcome), "How did the load in {} come out?"),
            Title::Light => (Some(Kind::Lit), "{} was lit"),
            Title::LightAgain => (Some(Kind::Resumed), "{} was lit again"),
            Title::Pack => (Some(Kind::Packed), "{} was packed"),
            Title::PackAgain => (Some(Kind::Packed), "Change what was packed in {}"),
            Title::Turned => (Some(Kind::Turned), "{}: the setting was changed"),
            Title::Note => (Some(Kind::Note), "Note on {}"),
            Title::GiveUp => (Some(Kind::Aborted), "{}'s firing was given up before its drop"),
            Title::ProbeChanged => {
                (Some(Kind::ProbeChanged), "The probe of {} was changed or moved")
            }
            Title::KilnNote => (Some(Kind::KilnNote), "Note on {}"),
            Title::Rename => (Some(Kind::KilnRenamed), "{} has another name now"),
            Title::Retire => (Some(Kind::KilnRetired), "{} leaves the floor"),
            Title::BringBack => (Some(Kind::KilnReturned), "{} is back"),
            Title::Lot => (Some(Kind::Lot), "Ware that waits to be fired"),
            Title::Kiln => (Some(Kind::Kiln), "Kiln: {}"),
            Title::LoadType => (Some(Kind::LoadType), "Load type: {}"),
            Title::Hours => (Some(Kind::Hours), "When is somebody here {}?"),
            Title::Limits => (Some(Kind::Limits), "What does the plan keep to?"),
            Title::Closed => (Some(Kind::Closed), "When is the shop closed?"),
            Title::Mould => (Some(Kind::Mould), "Mould {}"),
            Title::MouldRenamed => (Some(Kind::MouldRenamed), "Mould {} has another code now"),
            Title::Room => (Some(Kind::Room), "The air at the casting bench"),
            Title::Poured => (Some(Kind::Poured), "{} was poured"),
            Title::Drained => (Some(Kind::Drained), "{} was drained"),
            Title::Check => (Some(Kind::Check), "{} was checked"),
            Title::PutOff => (Some(Kind::Shelved), "Put off an alarm at {}"),
            Title::House => (None, "How things are shown"),
            Title::Bell => (None, "How the bell rings"),
            Title::Person => (None, "How {} is called"),
            Title::Resting => (None, "An alarm out of service"),
            Title::Strike => (Some(Kind::Struck), "Strike what was saved last?"),
            Title::StrikeLook => (Some(Kind::Struck), "Which of {}'s looks is wrong?"),
            Title::Accept => (Some(Kind::Accepted), "Accept this for {}?"),
            Title::Repeat => (None, "A schedule from this firing in {}"),
            Title::Card => (None, "Card of a firing in {}"),
            Title::First => (None, "Your shop: its first kiln, and what you fire in it"),
            Title::Which => (None, "Which kiln?"),
            Title::Past => (None, "A firing of before, from paper"),
            Title::Way(_) => (None, "Ring by {}"),
        }
    }

    /// The kind of event it writes, if it writes one.
    pub fn kind(self) -> Option<Kind> {
        self.written().0
    }

    /// The title of the form that corrects an event of this kind.
    pub fn corrects(kind: Kind) -> Title {
        use Title::{Drawn, GiveUp, Glow, Light, LightAgain, Look, Note, Off, Outcome};
        let all = [Light, Title::Reading, Look, Glow, Off, Drawn, Outcome, Title::PackAgain];
        let rest = [Title::Turned, Note, GiveUp, LightAgain];
        let mut all = all.into_iter().chain(rest);
        all.find(|title| title.kind() == Some(kind)).unwrap_or(Note)
    }

    /// Whether it is about what the shop keeps beside its journal.
    pub fn is_setting(self) -> bool {
        matches!(self, Title::House | Title::Bell | Title::Way(_) | Title::Person | Title::Resting)
    }
}

/// Why a key did nothing, or a form was not saved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Refusal {
    NoKiln,
    NothingIn,
    NotLit,
    StillLit,
    AlreadyIn,
    BurnsAlready,
    NoLoadType,
    NothingToUndo,
    NoLookChosen,
    LitAlready,
    SeenDown,
    NothingRings,
    SettingsGarbled,
}

pub fn title(title: Title, kiln: &str) -> String {
    match title {
        Title::Rename if kiln.is_empty() => "Which kiln has another name now?".into(),
        Title::Retire if kiln.is_empty() => "Which kiln leaves the floor?".into(),
        Title::BringBack if kiln.is_empty() => "Which kiln is back?".into(),
        Title::Kiln if kiln.is_empty() => "A new kiln".into(),
        Title::LoadType if kiln.is_empty() => "A new load type".into(),
        Title::Hours if kiln.is_empty() => "When is somebody here?".into(),
        Title::Mould if kiln.is_empty() => "A new mould".into(),
        Title::Person if kiln.is_empty() => "Somebody to call".into(),
        Title::Way(way) => title.written().1.replacen("{}", super::shop::way_word(way), 1),
        title => title.written().1.replacen("{}", kiln, 1),
    }
}

/// A line that opens the form of something new, or of a kiln that is picked in it.
pub fn begins(title: Title) -> &'static str {
    match title {
        Title::Kiln => "add a kiln",
        Title::Rename => "rename a kiln",
        Title::Retire => "retire a kiln",
        Title::LoadType => "add a load type",
        Title::Hours => "add hours when somebody is here",
        Title::Closed => "add closed days",
        Title::Person => "add somebody to call",
        Title::Resting => "take an alarm out of service",
        _ => "",
    }
}

/// The same of a form that corrects: `Correction: Otter was lit`.
pub fn correction(title: &str) -> String {
    format!("Correction: {title}")
}

/// The cone type that goes with the load.
pub const AS_THE_LOAD: &str = "as usual for the load";

/// The key that picks a word by its first letter.
pub fn letter(word: &str) -> char {
    word.chars().next().unwrap_or_default()
}

/// Said where the next load is in the kiln before the outcome of the last one was written.
pub const OUTCOME_OF_THE_LAST_LOAD: &str =
    "This is about the load that was drawn last, not about the one in the kiln now.";

/// Said of a packing whose kiln holds another firing as well, and which is not the one meant there.
pub fn packed_over(kiln: &str, packings: &[EventId]) -> String {
    let strikes = packings.iter().map(|event| format!("\"spyhole strike {event} --reason TEXT\""));
    let strikes: Vec<String> = strikes.collect();
    format!(
        "{kiln} holds another firing as well, packed or lit after this one: to take this packing \
         back, use {}.",
        strikes.join(" and ")
    )
}

/// Said where a kiln is packed or lit that holds more than one packing.
pub fn packed_more_than_once(kiln: &str) -> String {
    format!("{kiln} holds another packing as well: \"spyhole status\" says how it is taken back.")
}

pub fn refusal(refusal: Refusal, kiln: &str) -> String {
    match refusal {
        Refusal::NoKiln => "There is no kiln in this shop yet.".into(),
        Refusal::NothingIn => {
            format!("{kiln} stands as empty here: first write down that it was lit.")
        }
        Refusal::NotLit => format!("{kiln} is not firing."),
        Refusal::StillLit => format!("{kiln} is still firing: first record that it is off."),
        Refusal::AlreadyIn => {
            format!("{kiln} still holds its last firing: first record that it was drawn.")
        }
        Refusal::BurnsAlready => format!("{kiln} is firing already."),
        Refusal::NoLoadType => "There is no load type in this shop yet.".into(),
        Refusal::NothingToUndo => {
            "There is nothing to undo: nothing was saved from this screen.".into()
        }
        Refusal::NoLookChosen => "First say which look is wrong.".into(),
        Refusal::LitAlready => {
            format!("{kiln} was lit already: what was packed is changed only before that.")
        }
        Refusal::SeenDown => {
            format!("The target cone of {kiln} was seen down: note that the kiln is off.")
        }
        Refusal::NothingRings => "No alarm stands that could be answered or put off.".into(),
        Refusal::SettingsGarbled => "There are no such settings here.".into(),
    }
}

/// The keys of a form, on its last line.
pub fn form_keys(title: Title) -> &'static str {
    match title {
        Title::Strike | Title::StrikeLook => "Enter strikes it, Esc leaves it",
        Title::Accept => "Enter accepts it, Esc leaves it",
        Title::Which => "press the kiln's number, or Esc to leave",
        Title::Repeat | Title::Card => "Enter writes the file, Esc leaves it",
        _ => "Enter saves, Esc leaves it unsaved",
    }
}

/// `North fired with gold, lit 2026-03-10 8:00`
pub fn past_phrase(kiln: &str, load_type: &str, lit: Moment, dial: &Dial<'_>) -> String {
    format!("{kiln} fired with {load_type}, lit {} {}", dial.day(lit), dial.time(lit))
}

/// What becomes of the other entries of a firing whose lighting is corrected, as a choice.
pub fn others(others: Others) -> &'static str {
    match others {
        Others::Stay => "stay",
        Others::Move => "move by as much",
        Others::Keep => "stay, also before lighting",
    }
}

/// `Corrects entry 19: Heron read 712 C, at 9:10.`
pub fn corrects(was: &Event, kiln: &str, now: Moment, dial: &Dial<'_>) -> String {
    let said = event_phrase(&was.what, kiln, dial);
    format!("Corrects entry {}: {said}, {}.", was.id, dial.at(was.at, now))
}

/// Above the list of what was entered of a firing.
pub fn entries_title(kiln: &str) -> String {
    format!("Which entry of {kiln} is wrong?")
}

/// Where the list of entries is filtered to nothing.
pub const NO_SUCH_ENTRY: &str = "No entry has these words.";

/// Where nobody entered anything that could be corrected.
pub fn nothing_entered(kiln: &str) -> String {
    format!("Nobody entered anything of {kiln} that could be corrected.")
}

/// `9:10  Heron read 712 C (19)`
pub fn entry_line(was: &Event, kiln: &str, now: Moment, dial: &Dial<'_>) -> String {
    let said = event_phrase(&was.what, kiln, dial);
    format!("{}  {said} ({})", dial.time_and_day(was.at, now), was.id)
}

/// Said where Enter comes before a kiln was picked.
pub const SAY_WHICH_KILN: &str = "First say which kiln.";

/// Once the page of a new shop says enough.
pub const WRITES_FIRST: &str = "Enter writes it all; then the kiln can be lit.";

/// After the page of a new shop.
pub fn ready_to_light(light: &str, shop: &str) -> String {
    format!("Saved. {light} when the kiln is lit; {shop} adds more kilns and loads.")
}

/// Said where there is no room for all cautions above the fields.
pub fn more_to_read(count: usize) -> String {
    match count {
        1 => "Read first (Up): one more caution".into(),
        _ => format!("Read first (Up): {count} more cautions"),
    }
}

/// The keys while they are read.
pub const READING_KEYS: &str = "Up, Down: read on, then the form";

/// Said of many options beside the one picked, or where none is.
pub fn other_options(count: usize, picked: bool) -> String {
    if picked { format!(" or {} others", count - 1) } else { format!("{count} to choose from") }
}

/// Said beside a choice of which only some options are shown.
pub const MORE_OPTIONS: &str = "  Left, Right";

/// Before the names of the fields that are rarely said.
pub const MORE: &str = "more";

/// Before an entry is struck that was named by its number.
pub fn will_show(id: EventId) -> String {
    format!("Enter shows what entry {id} says; nothing is struck yet.")
}

/// What the program itself says above a form, in the least words, for a very small screen: of what a
/// rehearsal shows at the spyhole, the keys that note it.
pub fn in_brief(text: &str) -> String {
    if let Some(shown) = text.strip_prefix(SPYHOLE_SHOWS) {
        let keys = Seen::ALL.iter().fold(shown.to_owned(), |said, seen| {
            said.replace(seen.name(), &letter(seen.name()).to_string())
        });
        return format!("Seen:{keys}");
    }
    let brief = match text {
        CAUTION_LOOK => "Shaded glasses. Mind the draught.",
        CAUTION_OFF => "As the maker's manual says: air the room and purge before you relight.",
        CAUTION_OFF_ELECTRIC => "As the maker's manual says; ventilate.",
        CAUTION_DRAW => "As the maker's manual says: hot ware can crack, shelves burn hands.",
        other => other,
    };
    brief.to_owned()
}

/// What will be written if the form is confirmed: `Enter writes: Heron came out over, 5:40; note: dull.`
pub fn will_write(
    phrase: &str,
    rest: &[String],
    at: Moment,
    (now, dial): (Moment, &Dial<'_>),
) -> String {
    let rest: String = rest.iter().map(|part| format!("; {part}")).collect();
    format!("Enter writes: {phrase}, {}{rest}.", dial.time_and_day(at, now))
}

pub fn will_strike(phrase: &str, reason: &str) -> String {
    let why = if reason.is_empty() { undo_reason() } else { reason };
    format!("Enter strikes: {phrase}. It stays in the journal, marked: {why}.")
}

pub fn saved(phrase: &str, id: impl std::fmt::Display, undo: &str) -> String {
    format!("Saved, {id}: {phrase} ({undo} undoes)")
}

/// The same where the key does not undo it.
pub fn saved_in_shop(phrase: &str, id: impl std::fmt::Display) -> String {
    format!("Saved, {id}: {phrase}")
}

pub fn struck(phrase: &str) -> String {
    format!("Struck: {phrase}.")
}

pub fn not_saved(why: &str) -> String {
    format!("Not saved: {why}. What you entered is still here; Enter tries again.")
}

/// The same where no form is open.
pub fn not_written(why: &str) -> String {
    format!("Not saved: {why}.")
}

pub fn shop_unreadable(why: &str) -> String {
    format!("The shop cannot be read: {why}. What is shown may be old.")
}

/// `cone 018 is down at 715 C if the last 100 C climb 60 C/h`, or why nobody can say.
pub fn cone_stands_for(cone: Cone, family: Family, dial: &Dial<'_>) -> String {
    let end = curve(cone, family)
        .map_err(|error| error.to_string())
        .and_then(|curve| curve.end_point(SPOKEN_RATE).map_err(|e: UnitError| e.to_string()));
    match end {
        Ok(end) => format!(
            "cone {cone} is down at {} when it climbs {} ({})",
            dial.temperature(end.end),
            dial.rate(SPOKEN_RATE),
            end.basis.name()
        ),
        Err(why) => why,
    }
}

/// Said in a form for one kiln while another wants somebody.
pub fn another_is_due(due: &str, kiln: &str) -> String {
    format!("This is for {kiln}, but {due} is due now.")
}

/// Said of a letter that is no key.
pub fn no_such_key(letter: char, help: &str) -> String {
    format!("{letter} is no key here: {help} lists them all.")
}

/// The reason written with an entry struck from the screen.
pub fn undo_reason() -> &'static str {
    "entered by mistake"
}

pub fn name_taken(name: &str) -> String {
    format!("There is \"{name}\" already: choose it in the list to change it.")
}
