//! Which key means what. The table is also the help panel and the hint line: the rest of the
//! screen knows meanings only.

use crate::casting::Found;
use crate::edge::shop::steps;
use crate::firing::Seen;
use crate::scene::{KilnScene, Phase};
use crate::watch::task::Task;
use crate::words::{NamedKeys, Title};

/// A key, whatever the terminal calls it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Key {
    Char(char),
    Control(char),
    Enter,
    Escape,
    Tab,
    BackTab,
    Backspace,
    Delete,
    Up,
    Down,
    Left,
    Right,
    Home,
    End,
    /// F1, F2 and so on.
    Function(u8),
}

/// What somebody wants to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Meaning {
    /// Opens this form at a kiln.
    Form(Title),
    Ware,
    Acknowledge,
    Undo,
    Correct,
    NextKiln,
    PreviousKiln,
    Due,
    Floor,
    FarView,
    Alone,
    Ledger,
    Schedules,
    Shop,
    Review,
    Plan,
    Bench,
    MostLike,
    Find,
    ChangeScale,
    ChangeClock,
    Help,
    Faster,
    Slower,
    Redraw,
    Suspend,
    Quit,
}

/// One line of the table.
#[derive(Debug, Clone, Copy)]
pub struct Binding {
    /// The names of the keys with blanks between them, the one that is printed first.
    names: &'static str,
    pub meaning: Meaning,
    /// A word or two for the hint line.
    pub short: &'static str,
    /// A phrase for the help panel.
    pub long: &'static str,
    /// Only in a rehearsal.
    pub rehearsal_only: bool,
}

const fn bind(
    names: &'static str,
    meaning: Meaning,
    short: &'static str,
    long: &'static str,
) -> Binding {
    Binding { names, meaning, short, long, rehearsal_only: false }
}

impl Binding {
    /// How the key is printed.
    pub fn label(&self) -> &'static str {
        self.names.split(' ').next().unwrap_or_default()
    }

    pub fn keys(&self) -> impl Iterator<Item = Key> {
        self.names.split(' ').map(Key::named)
    }
}

impl Key {
    /// The key of this name, as the table below prints it.
    fn named(name: &str) -> Key {
        let letter = |name: &str| name.chars().next().unwrap_or_default();
        match name {
            "Tab" => Key::Tab,
            "Shift-Tab" => Key::BackTab,
            "Up" => Key::Up,
            "Down" => Key::Down,
            "Left" => Key::Left,
            "Right" => Key::Right,
            "F2" => Key::Function(2),
            _ => match name.strip_prefix("Ctrl-") {
                Some(with) => Key::Control(letter(with).to_ascii_lowercase()),
                None => Key::Char(letter(name)),
            },
        }
    }
}

const fn rehearsing(binding: Binding) -> Binding {
    Binding { rehearsal_only: true, ..binding }
}

/// Every key of the screen.
pub const TABLE: [Binding; 40] = [
    bind("l", Meaning::Form(Title::Look), "look", "note a look through the spyhole"),
    bind("r", Meaning::Form(Title::Reading), "reading", "note a temperature"),
    bind("g", Meaning::Form(Title::Glow), "glow", "note the colour of the glow"),
    bind("o", Meaning::Form(Title::Off), "off", "the kiln was shut off"),
    bind("d", Meaning::Form(Title::Drawn), "drawn", "the kiln was unloaded (drawn)"),
    bind("e", Meaning::Form(Title::Outcome), "outcome", "write how the load came out"),
    bind("f", Meaning::Form(Title::Light), "light", "the kiln was lit or switched on"),
    bind("p", Meaning::Form(Title::Pack), "packed", "the kiln was packed"),
    bind("t", Meaning::Form(Title::Turned), "turned", "burners or switches were set differently"),
    bind("n", Meaning::Form(Title::Note), "note", "write a note"),
    bind("x", Meaning::Form(Title::GiveUp), "given up", "the firing was given up"),
    bind("b", Meaning::Form(Title::ProbeChanged), "probe", "its probe was changed or moved"),
    bind("i", Meaning::Ware, "ware", "ware came in that waits to be fired"),
    bind("a", Meaning::Acknowledge, "answer", "answer the alarm: somebody is on the way"),
    bind("z", Meaning::Form(Title::PutOff), "put off", "put off an alarm; it comes back by itself"),
    bind("u", Meaning::Undo, "undo", "strike what was saved last"),
    bind("y", Meaning::Form(Title::Past), "from paper", "take a firing of before from paper"),
    bind("w", Meaning::Correct, "correct", "correct an earlier entry"),
    bind(
        "Tab Down Right",
        Meaning::NextKiln,
        "next kiln",
        "choose the next kiln (also the arrow keys)",
    ),
    bind(
        "Up Shift-Tab Left",
        Meaning::PreviousKiln,
        "previous kiln",
        "choose the previous kiln (also Shift-Tab)",
    ),
    bind("F2 Ctrl-G", Meaning::Due, "due, back", "to the kiln that is due, and back (Ctrl-G)"),
    bind("v", Meaning::FarView, "far view", "to be read from across the shop"),
    bind("s", Meaning::Alone, "alone", "this kiln alone, its spyhole large"),
    bind("1", Meaning::Floor, "floor", "all kilns, from wherever you are"),
    bind("2", Meaning::Ledger, "ledger", "past firings"),
    bind("3", Meaning::Schedules, "schedules", "the schedules"),
    bind("4", Meaning::Shop, "shop", "kilns and load types"),
    bind("5", Meaning::Review, "review", "what past firings teach"),
    bind("6", Meaning::Bench, "bench", "moulds, and when to open them"),
    bind("7", Meaning::Plan, "plan", "the plan of the day"),
    bind("m", Meaning::MostLike, "most like", "lay the most like past firing over this one"),
    bind("/", Meaning::Find, "find", "find an action by its name"),
    bind("c", Meaning::ChangeScale, "C or F", "temperatures in C or in F"),
    bind("k", Meaning::ChangeClock, "12 or 24 h", "12- or 24-hour clock"),
    bind("? h", Meaning::Help, "help", "this list"),
    rehearsing(bind("+ =", Meaning::Faster, "faster", "time runs twice as fast")),
    rehearsing(bind("-", Meaning::Slower, "slower", "time runs half as fast")),
    bind("Ctrl-L", Meaning::Redraw, "redraw", "redraw the screen"),
    bind("Ctrl-Z", Meaning::Suspend, "pause", "back to the shell; fg returns"),
    bind("q Ctrl-C", Meaning::Quit, "quit", "leave the screen; the kilns go on"),
];

/// What keys mean on every page without a field to type in.
pub const EVERY_PAGE: [Meaning; 10] = [
    Meaning::Acknowledge,
    Meaning::Undo,
    Meaning::Floor,
    Meaning::Ledger,
    Meaning::Schedules,
    Meaning::Shop,
    Meaning::Review,
    Meaning::Bench,
    Meaning::Plan,
    Meaning::Quit,
];

/// A key of the casting bench: how it is printed, what it notes of a mould, a word or two, a phrase.
type OfBench = (&'static str, Option<(Title, Option<Found>)>, &'static str, &'static str);

const fn found(found: Found) -> Option<(Title, Option<Found>)> {
    Some((Title::Check, Some(found)))
}

/// The keys of the casting bench, as its help shows them.
pub const BENCH: [OfBench; 13] = [
    ("p", Some((Title::Poured, None)), "poured", "the mould was poured; several at once: A1-A4,B7"),
    ("d", Some((Title::Drained, None)), "drained", "its slip was drained"),
    ("w", found(Found::Well), "well", "checked: it came out well"),
    ("n", found(Found::NotYet), "not yet", "checked: not yet ready"),
    ("f", found(Found::Forced), "forced", "checked: it had to be forced"),
    ("c", found(Found::Cracked), "cracked", "checked: it cracked"),
    ("o", found(Found::OtherCrack), "other crack", "checked: it cracked for another cause"),
    ("Enter", None, "its casts", "what became of its casts"),
    ("m", None, "a mould", "describe another mould"),
    ("e", None, "change it", "change what is known of this one"),
    ("k", Some((Title::MouldRenamed, None)), "its code", "it has another code now"),
    ("r", None, "the room", "note the air of the room"),
    ("Esc", None, "back", "back"),
];

/// What a key means where no form is open.
pub fn meaning(key: Key, rehearsal: bool) -> Option<Meaning> {
    let key = match key {
        Key::Char(c) => Key::Char(c.to_ascii_lowercase()),
        other => other,
    };
    let mut here = bindings(rehearsal);
    here.find(|binding| binding.keys().any(|one| one == key)).map(|binding| binding.meaning)
}

/// The lines of the table that mean something here.
pub fn bindings(rehearsal: bool) -> impl Iterator<Item = &'static Binding> {
    TABLE.iter().filter(move |binding| rehearsal || !binding.rehearsal_only)
}

/// Those lines as the finder shows them: `look: note a look through the spyhole (l)`.
pub fn phrases(rehearsal: bool) -> Vec<String> {
    let phrase =
        |binding: &Binding| format!("{}: {} ({})", binding.short, binding.long, binding.label());
    bindings(rehearsal).map(phrase).collect()
}

/// The keys that sentences name.
pub fn named_keys() -> NamedKeys<'static> {
    let label = |meaning| binding(meaning).label();
    NamedKeys {
        pack: label(Meaning::Form(Title::Pack)),
        light: label(Meaning::Form(Title::Light)),
        look: label(Meaning::Form(Title::Look)),
        off: label(Meaning::Form(Title::Off)),
        drawn: label(Meaning::Form(Title::Drawn)),
        outcome: label(Meaning::Form(Title::Outcome)),
        give_up: label(Meaning::Form(Title::GiveUp)),
        note: label(Meaning::Form(Title::Note)),
        undo: label(Meaning::Undo),
        next_kiln: label(Meaning::NextKiln),
        faster: label(Meaning::Faster),
        quit: label(Meaning::Quit),
    }
}

/// The line of the table for a meaning.
pub fn binding(meaning: Meaning) -> &'static Binding {
    // Every meaning has a line, and a test holds the table to it.
    TABLE.iter().find(|binding| binding.meaning == meaning).unwrap_or(&TABLE[0])
}

impl Meaning {
    /// The form it opens at a kiln.
    pub fn title(self) -> Option<Title> {
        match self {
            Meaning::Form(title) => Some(title),
            _ => None,
        }
    }

    /// Whether it opens a form for one kiln.
    pub fn is_of_a_kiln(self) -> bool {
        self.title().is_some_and(|title| !matches!(title, Title::Past | Title::PutOff))
    }
}

/// The three most useful keys for a kiln as it stands, the most useful first; while something
/// rings, the one that answers is among them.
pub fn hints(kiln: Option<&KilnScene>, rehearsal: bool, rings: bool) -> [Meaning; 3] {
    let [first, second, third] = usual_hints(kiln, rehearsal);
    if rings { [first, Meaning::Acknowledge, second] } else { [first, second, third] }
}

fn usual_hints(kiln: Option<&KilnScene>, rehearsal: bool) -> [Meaning; 3] {
    let idle = if rehearsal { Meaning::Faster } else { Meaning::FarView };
    let Some(kiln) = kiln else {
        return [Meaning::Form(Title::Light), Meaning::Shop, Meaning::Help];
    };
    let waits = [Task::NextLook, Task::LetCool, Task::CoolEnough].contains(&kiln.todo.task);
    // Once a cone moves, or the drop may come, the next thing is a look.
    let moves = kiln.last_look.is_some_and(|(_, look)| look.target > Some(Seen::Standing));
    let task = match kiln.todo.task {
        Task::NextLook if moves || kiln.phase == Phase::Watch => Task::LookDue,
        task => task,
    };
    let (first, second) = steps::usual(task);
    let otherwise = if waits { idle } else { Meaning::NextKiln };
    [Meaning::Form(first), second.map_or(otherwise, Meaning::Form), Meaning::Help]
}
