//! What forms and their answers say.

use super::dial::Dial;
use super::kiln::{CAUTION_DRAW, CAUTION_LOOK, CAUTION_OFF};
use super::rehearsal::SPYHOLE_SHOWS;
use super::story::look_phrase;
use crate::cone::{Cone, Family, curve};
use crate::cooling::TooHot;
use crate::firing::EventId;
use crate::firing::event::{Look, Seen, Verdict};
use crate::kiln::LoadType;
use crate::units::{CelsiusPerHour, Moment, Span, UnitError};

/// The rate at which a form says what temperature a cone stands for: the middle one of the chart.
const SPOKEN_RATE: CelsiusPerHour = CelsiusPerHour(60.0);

/// What a form is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Title {
    Look,
    Reading,
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
    Kiln,
    LoadType,
    PutOff,
    House,
    Bell,
    Person,
    Resting,
    Strike,
    StrikeLook,
    Accept,
    Repeat,
    Card,
}

impl Title {
    /// Whether it is about what the shop keeps beside its journal.
    pub fn is_setting(self) -> bool {
        matches!(self, Title::House | Title::Bell | Title::Person | Title::Resting)
    }
}

/// A field of a form.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Label {
    Look,
    Guide,
    Target,
    Guard,
    Temperature,
    Verdict,
    Note,
    LoadType,
    Cone,
    Schedule,
    Contents,
    Full,
    Setting,
    Reason,
    Name,
    Fuel,
    Litres,
    Ceiling,
    FastestClimb,
    Family,
    Under,
    Over,
    IfUnder,
    IfOver,
    UsualLength,
    Caution,
    Alarm,
    Length,
    Scale,
    Clock,
    Folder,
    DrawBelow,
    Ways,
    Reach,
    OnDuty,
    Keep,
    Muted,
    Loudest,
    Program,
    Argument,
    TimeLimit,
    Kiln,
    When,
    File,
    Ware,
}

/// Why a key did nothing, or a form was not saved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Refusal {
    NoKiln,
    NothingIn,
    NotLit,
    StillLit,
    AlreadyIn,
    NoLoadType,
    NothingToUndo,
    NoLookChosen,
    NothingSeen,
    NoVerdict,
    NoLoadChosen,
    LitAlready,
    SeenDown,
    NothingSaid,
    NothingRings,
    NoAlarmChosen,
    SettingsGarbled,
}

pub fn title(title: Title, kiln: &str) -> String {
    match title {
        Title::Look => format!("What do you see at {kiln}?"),
        Title::Reading => format!("How hot is {kiln}?"),
        Title::Off => format!("{kiln} was shut off"),
        Title::Drawn => format!("{kiln} was drawn"),
        Title::Outcome => format!("How did the load in {kiln} come out?"),
        Title::Light => format!("{kiln} was lit"),
        Title::LightAgain => format!("{kiln} was lit again"),
        Title::Pack => format!("{kiln} was packed"),
        Title::PackAgain => format!("Change what was packed in {kiln}"),
        Title::Turned => format!("{kiln} was turned up or down"),
        Title::Note => format!("Note on {kiln}"),
        Title::GiveUp => format!("{kiln} was given up before its drop"),
        Title::Kiln if kiln.is_empty() => "A new kiln".into(),
        Title::Kiln => format!("What {kiln} is"),
        Title::LoadType if kiln.is_empty() => "A new load type".into(),
        Title::LoadType => format!("What {kiln} goes to"),
        Title::PutOff => format!("Put an alarm of {kiln} off"),
        Title::House => "How things are shown".into(),
        Title::Bell => "How the bell rings".into(),
        Title::Person if kiln.is_empty() => "Somebody to call".into(),
        Title::Person => format!("How {kiln} is called"),
        Title::Resting => "An alarm out of service".into(),
        Title::Strike => "Strike what was saved last?".into(),
        Title::StrikeLook => format!("Which look at {kiln} is wrong?"),
        Title::Card => format!("The card of a firing of {kiln}"),
        Title::Repeat => format!("A schedule as {kiln} was fired"),
        Title::Accept => format!("Accept this for {kiln}?"),
    }
}

pub fn label(label: Label) -> &'static str {
    match label {
        Label::Guide => "guide",
        Label::Target => "target",
        Label::Guard => "guard",
        Label::Temperature => "temperature",
        Label::Look => "look",
        Label::Verdict => "came out",
        Label::Note => "note",
        Label::LoadType => "load",
        Label::Cone => "target cone",
        Label::Schedule => "schedule",
        Label::Contents => "contents",
        Label::Full => "how full",
        Label::Setting => "turned to",
        Label::Reason => "why",
        Label::Name => "name",
        Label::Fuel => "burns",
        Label::Litres => "litres",
        Label::Ceiling => "hottest",
        Label::FastestClimb => "climbs",
        Label::Family => "cones are",
        Label::Under => "cones under",
        Label::Over => "cones over",
        Label::IfUnder => "if under",
        Label::IfOver => "if over",
        Label::UsualLength => "usual time",
        Label::Caution => "caution",
        Label::Alarm => "alarm",
        Label::Length => "for",
        Label::Scale => "shown in",
        Label::Clock => "clock",
        Label::Folder => "schedules",
        Label::DrawBelow => "draw below",
        Label::Ways => "called by",
        Label::Reach => "reached at",
        Label::OnDuty => "on duty",
        Label::Keep => "on the list",
        Label::Muted => "low muted",
        Label::Loudest => "loudest",
        Label::Program => "command",
        Label::Argument => "argument",
        Label::TimeLimit => "time limit",
        Label::Kiln => "kiln",
        Label::When => "when",
        Label::File => "file",
        Label::Ware => "fired is",
    }
}

/// What may be typed into a text field, shown while it is empty.
pub fn placeholder(label: Label) -> &'static str {
    match label {
        Label::Temperature => "712C or 1314F",
        Label::File => "what the file is called",
        Label::When => "now, or 9:10, 20 min ago",
        Label::Note => "anything worth knowing next time",
        Label::Cone => "as usual for the load",
        Label::Contents => "what is on the shelves",
        Label::Setting => "half open, 5 of 10, both burners off",
        Label::Reason => "gas ran out, power cut",
        Label::Name => "as you call it",
        Label::Litres => "volume of the chamber, if known",
        Label::Ceiling => "the maker's limit, 1260C or 2300F, if known",
        Label::FastestClimb => "at most near the top, 180C/h, if known",
        Label::Under | Label::Over => "how far the load forgives, 0 to 5",
        Label::UsualLength => "from lit to the drop, 5h or 4h30, if known",
        Label::Caution => "one more caution, shown when such a load is lit",
        Label::Length => "15 min",
        Label::Folder => "in a folder beside the shop's file, or in another",
        Label::DrawBelow => "100C, common practice, no source",
        Label::Ways => "sound, desktop, terminal, command: in this order",
        Label::Reach => "handed to the command: an address, a number",
        Label::OnDuty => "always, or 6:00 to 18:00",
        Label::Muted => "never, or 22:00 to 7:00",
        Label::Loudest => "1, from 0 to 1",
        Label::Program => "none, or a program of your own",
        Label::Argument => "one more argument",
        Label::TimeLimit => "10 s, from 1 to 30 s",
        _ => "",
    }
}

/// The key that picks a state of a cone in the look form: its first letter.
pub fn seen_key(seen: Seen) -> char {
    match seen {
        Seen::Standing => 's',
        Seen::Leaning => 'l',
        Seen::Half => 'h',
        Seen::Down => 'd',
    }
}

pub fn verdict_key(verdict: Verdict) -> char {
    match verdict {
        Verdict::Under => 'u',
        Verdict::Good => 'g',
        Verdict::Over => 'o',
    }
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
        Refusal::NothingIn => format!("{kiln} is empty: note first that it was lit."),
        Refusal::NotLit => format!("{kiln} is not alight."),
        Refusal::StillLit => format!("{kiln} is still alight: note first that it is off."),
        Refusal::AlreadyIn => {
            format!("{kiln} still holds its last firing: note first that it was drawn.")
        }
        Refusal::NoLoadType => "There is no load type in this shop yet.".into(),
        Refusal::NothingToUndo => {
            "There is nothing to undo: nothing was saved from this screen.".into()
        }
        Refusal::NoLookChosen => "Say first which look is wrong.".into(),
        Refusal::NothingSeen => "No cone is noted yet: press one key for each cone you saw.".into(),
        Refusal::NoVerdict => "Say first whether it came out under, good or over.".into(),
        Refusal::NoLoadChosen => "Say first what the load is.".into(),
        Refusal::LitAlready => {
            format!("{kiln} was lit already: what was packed is changed only before that.")
        }
        Refusal::SeenDown => {
            format!("The target cone of {kiln} was seen down: note that the kiln is off.")
        }
        Refusal::NothingSaid => "Nothing is written here yet: type a few words.".into(),
        Refusal::NothingRings => "No alarm stands that could be answered or put off.".into(),
        Refusal::NoAlarmChosen => "Say first which alarm.".into(),
        Refusal::SettingsGarbled => "There are no such settings here.".into(),
    }
}

/// The keys of a form, on its last line.
pub fn form_keys(title: Title) -> &'static str {
    match title {
        Title::Strike | Title::StrikeLook => "Enter strikes it, Esc leaves it",
        Title::Accept => "Enter accepts it, Esc leaves it",
        Title::Repeat | Title::Card => "Enter writes the file, Esc leaves it",
        _ => "Enter saves, Esc leaves it unsaved",
    }
}

/// Said where there is no room for all cautions above the fields.
pub fn more_to_read(count: usize) -> String {
    match count {
        1 => "Read first (Up): one caution more".into(),
        _ => format!("Read first (Up): {count} cautions more"),
    }
}

/// The keys while they are read.
pub const READING_KEYS: &str = "Up, Down: read on, then the form";

/// Said beside the one picked of many.
pub fn other_options(count: usize) -> String {
    format!(" or {count} others")
}

/// Said beside a choice of which only some options are shown.
pub const MORE_OPTIONS: &str = "  Left, Right";

/// What the program itself says above a form, in the least words, for a very small screen: of what a
/// rehearsal shows at the spyhole, the keys that note it.
pub fn in_brief(text: &str) -> String {
    if let Some(shown) = text.strip_prefix(SPYHOLE_SHOWS) {
        let keys = Seen::ALL.iter().fold(shown.to_owned(), |said, seen| {
            said.replace(seen.name(), &seen_key(*seen).to_string())
        });
        return format!("Seen:{keys}");
    }
    let brief = match text {
        CAUTION_LOOK => "Shaded glasses. Mind the draught.",
        CAUTION_OFF => "By the maker's manual. Purge before relighting; ventilate.",
        CAUTION_DRAW => "By the maker's manual: hot ware cracks, shelves burn.",
        other => other,
    };
    brief.to_owned()
}

/// What will be written if the form is confirmed.
pub fn will_write(phrase: &str, at: Moment, now: Moment, dial: &Dial<'_>) -> String {
    format!("Enter writes: {phrase}, {}.", dial.time_and_day(at, now))
}

pub fn will_strike(phrase: &str) -> String {
    format!("Enter strikes: {phrase}. It stays in the journal, marked as a mistake.")
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

/// A cooler cone goes down before a hotter one: asked once where a look says otherwise.
pub fn against_the_order(look: &Look) -> String {
    format!("{}: the cooler cone goes down first.", look_phrase(look))
}

/// The way through in a form, after what is hard to believe of a look.
pub fn enter_again(question: &str) -> String {
    format!("{question} Enter again if you saw it so.")
}

/// Asked when a kiln that is said to be drawn may be too hot for it, as the first words of a question.
pub fn may_be_too_hot(
    why: TooHot,
    kiln: &str,
    when: Moment,
    now: Moment,
    dial: &Dial<'_>,
) -> String {
    match why {
        TooHot::About(about) => {
            let then = if now - when < Span::minutes(1) { "still" } else { "then" };
            format!("{kiln} should {then} be at about {}", dial.temperature(about))
        }
        TooHot::Read(at, read) => {
            let at = dial.time_and_day(at, now);
            format!("{kiln} was read {} at {at}", dial.temperature(read))
        }
        TooHot::OffFor(span) => format!("{kiln} had been off for {span} only"),
    }
}

/// The same in a form.
pub fn drawn_so_hot(why: TooHot, kiln: &str, when: Moment, now: Moment, dial: &Dial<'_>) -> String {
    let said = may_be_too_hot(why, kiln, when, now, dial);
    format!("{said}: is it really drawn? Enter again if it is.")
}

/// Asked when the cone is far from what the load usually gets.
pub fn cone_far_from(cone: Cone, load: &LoadType) -> String {
    format!(
        "Cone {cone} is far from {}, the usual cone for {}: Enter again if that is right.",
        load.target, load.name
    )
}

/// The reason written with an entry struck from the screen.
pub fn undo_reason() -> &'static str {
    "entered by mistake"
}

/// Asked where a kiln has no fuel yet.
pub const SAY_FUEL: &str = "Say first what it burns.";

pub fn name_taken(name: &str) -> String {
    format!("There is \"{name}\" already: choose it in the list to describe it anew.")
}
