//! Which key means what. The table is also the help panel and the hint line: the rest of the
//! screen knows meanings only.

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
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Meaning {
    Look,
    Reading,
    Glow,
    Off,
    Drawn,
    Outcome,
    Light,
    Pack,
    Turned,
    Note,
    GiveUp,
    ProbeChanged,
    Ware,
    Acknowledge,
    PutOff,
    Undo,
    Correct,
    Past,
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
    pub keys: &'static [Key],
    /// How the keys are printed.
    pub label: &'static str,
    pub meaning: Meaning,
    /// A word or two for the hint line.
    pub short: &'static str,
    /// A phrase for the help panel.
    pub long: &'static str,
    /// Only in a rehearsal.
    pub rehearsal_only: bool,
}

const fn bind(
    keys: &'static [Key],
    label: &'static str,
    meaning: Meaning,
    short: &'static str,
    long: &'static str,
) -> Binding {
    Binding { keys, label, meaning, short, long, rehearsal_only: false }
}

const fn rehearsing(binding: Binding) -> Binding {
    Binding { rehearsal_only: true, ..binding }
}

/// Every key of the screen.
pub const TABLE: [Binding; 40] = [
    bind(&[Key::Char('l')], "l", Meaning::Look, "look", "note a look through the spyhole"),
    bind(&[Key::Char('r')], "r", Meaning::Reading, "reading", "note a temperature"),
    bind(&[Key::Char('g')], "g", Meaning::Glow, "glow", "note the colour of the glow"),
    bind(&[Key::Char('o')], "o", Meaning::Off, "off", "the kiln was shut off"),
    bind(&[Key::Char('d')], "d", Meaning::Drawn, "drawn", "the kiln was unloaded (drawn)"),
    bind(&[Key::Char('e')], "e", Meaning::Outcome, "outcome", "write how the load came out"),
    bind(&[Key::Char('f')], "f", Meaning::Light, "light", "the kiln was lit or switched on"),
    bind(&[Key::Char('p')], "p", Meaning::Pack, "packed", "the kiln was packed"),
    bind(
        &[Key::Char('t')],
        "t",
        Meaning::Turned,
        "turned",
        "burners or switches were set differently",
    ),
    bind(&[Key::Char('n')], "n", Meaning::Note, "note", "write a note"),
    bind(&[Key::Char('x')], "x", Meaning::GiveUp, "given up", "the firing was given up"),
    bind(&[Key::Char('b')], "b", Meaning::ProbeChanged, "probe", "its probe was changed or moved"),
    bind(&[Key::Char('i')], "i", Meaning::Ware, "ware", "ware came in that waits to be fired"),
    bind(
        &[Key::Char('a')],
        "a",
        Meaning::Acknowledge,
        "answer",
        "answer the alarm: somebody is on the way",
    ),
    bind(
        &[Key::Char('z')],
        "z",
        Meaning::PutOff,
        "put off",
        "put off an alarm; it comes back by itself",
    ),
    bind(&[Key::Char('u')], "u", Meaning::Undo, "undo", "strike what was saved last"),
    bind(&[Key::Char('y')], "y", Meaning::Past, "from paper", "take a firing of before from paper"),
    bind(&[Key::Char('w')], "w", Meaning::Correct, "correct", "correct an earlier entry"),
    bind(
        &[Key::Tab, Key::Down, Key::Right],
        "Tab",
        Meaning::NextKiln,
        "next kiln",
        "choose the next kiln (also the arrow keys)",
    ),
    bind(
        &[Key::BackTab, Key::Up, Key::Left],
        "Up",
        Meaning::PreviousKiln,
        "previous kiln",
        "choose the previous kiln (also Shift-Tab)",
    ),
    bind(
        &[Key::Function(2), Key::Control('g')],
        "F2",
        Meaning::Due,
        "due, back",
        "to the kiln that is due, and back (Ctrl-G)",
    ),
    bind(&[Key::Char('v')], "v", Meaning::FarView, "far view", "to be read from across the shop"),
    bind(&[Key::Char('s')], "s", Meaning::Alone, "alone", "this kiln alone, its spyhole large"),
    bind(&[Key::Char('1')], "1", Meaning::Floor, "floor", "all kilns, from wherever you are"),
    bind(&[Key::Char('2')], "2", Meaning::Ledger, "ledger", "past firings"),
    bind(&[Key::Char('3')], "3", Meaning::Schedules, "schedules", "the schedules"),
    bind(&[Key::Char('4')], "4", Meaning::Shop, "shop", "kilns and load types"),
    bind(&[Key::Char('5')], "5", Meaning::Review, "review", "what past firings teach"),
    bind(&[Key::Char('6')], "6", Meaning::Bench, "bench", "moulds, and when to open them"),
    bind(&[Key::Char('7')], "7", Meaning::Plan, "plan", "the plan of the day"),
    bind(
        &[Key::Char('m')],
        "m",
        Meaning::MostLike,
        "most like",
        "lay the most like past firing over this one",
    ),
    bind(&[Key::Char('/')], "/", Meaning::Find, "find", "find an action by its name"),
    bind(&[Key::Char('c')], "c", Meaning::ChangeScale, "C or F", "temperatures in C or in F"),
    bind(&[Key::Char('k')], "k", Meaning::ChangeClock, "12 or 24 h", "12- or 24-hour clock"),
    bind(&[Key::Char('?'), Key::Char('h')], "?", Meaning::Help, "help", "this list"),
    rehearsing(bind(
        &[Key::Char('+'), Key::Char('=')],
        "+",
        Meaning::Faster,
        "faster",
        "time runs twice as fast",
    )),
    rehearsing(bind(&[Key::Char('-')], "-", Meaning::Slower, "slower", "time runs half as fast")),
    bind(&[Key::Control('l')], "Ctrl-L", Meaning::Redraw, "redraw", "redraw the screen"),
    bind(
        &[Key::Control('z')],
        "Ctrl-Z",
        Meaning::Suspend,
        "pause",
        "back to the shell; fg returns",
    ),
    bind(
        &[Key::Char('q'), Key::Control('c')],
        "q",
        Meaning::Quit,
        "quit",
        "leave the screen; the kilns go on",
    ),
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

/// The keys of the casting bench, as its help shows them: how they are printed, a word or two, a phrase.
pub const BENCH: [(&str, &str, &str); 13] = [
    ("p", "poured", "the mould was poured; several at once: A1-A4,B7"),
    ("d", "drained", "its slip was drained"),
    ("w", "well", "checked: it came out well"),
    ("n", "not yet", "checked: not yet ready"),
    ("f", "forced", "checked: it had to be forced"),
    ("c", "cracked", "checked: it cracked"),
    ("o", "other crack", "checked: it cracked for another cause"),
    ("Enter", "its casts", "what became of its casts"),
    ("m", "a mould", "describe another mould"),
    ("e", "change it", "change what is known of this one"),
    ("k", "its code", "it has another code now"),
    ("r", "the room", "note the air of the room"),
    ("Esc", "back", "back"),
];

/// What a key means where no form is open.
pub fn meaning(key: Key, rehearsal: bool) -> Option<Meaning> {
    let key = match key {
        Key::Char(c) => Key::Char(c.to_ascii_lowercase()),
        other => other,
    };
    TABLE
        .iter()
        .find(|binding| binding.keys.contains(&key) && (rehearsal || !binding.rehearsal_only))
        .map(|binding| binding.meaning)
}

/// The lines of the table that mean something here.
pub fn bindings(rehearsal: bool) -> impl Iterator<Item = &'static Binding> {
    TABLE.iter().filter(move |binding| rehearsal || !binding.rehearsal_only)
}

/// Those lines as the finder shows them: `look: note a look through the spyhole (l)`.
pub fn phrases(rehearsal: bool) -> Vec<String> {
    let phrase =
        |binding: &Binding| format!("{}: {} ({})", binding.short, binding.long, binding.label);
    bindings(rehearsal).map(phrase).collect()
}

/// The keys that sentences name.
pub fn named_keys() -> NamedKeys<'static> {
    let label = |meaning| binding(meaning).label;
    NamedKeys {
        pack: label(Meaning::Pack),
        light: label(Meaning::Light),
        look: label(Meaning::Look),
        off: label(Meaning::Off),
        drawn: label(Meaning::Drawn),
        outcome: label(Meaning::Outcome),
        give_up: label(Meaning::GiveUp),
        note: label(Meaning::Note),
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
        Some(match self {
            Meaning::Look => Title::Look,
            Meaning::Reading => Title::Reading,
            Meaning::Glow => Title::Glow,
            Meaning::Off => Title::Off,
            Meaning::Drawn => Title::Drawn,
            Meaning::Outcome => Title::Outcome,
            Meaning::Light => Title::Light,
            Meaning::Pack => Title::Pack,
            Meaning::Turned => Title::Turned,
            Meaning::Note => Title::Note,
            Meaning::GiveUp => Title::GiveUp,
            Meaning::ProbeChanged => Title::ProbeChanged,
            Meaning::Past => Title::Past,
            Meaning::PutOff => Title::PutOff,
            _ => return None,
        })
    }

    /// What opens this form.
    fn of(title: Title) -> Option<Meaning> {
        TABLE.iter().map(|one| one.meaning).find(|meaning| meaning.title() == Some(title))
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
    let Some(kiln) = kiln else { return [Meaning::Light, Meaning::Shop, Meaning::Help] };
    let waits = [Task::NextLook, Task::LetCool, Task::CoolEnough].contains(&kiln.todo.task);
    // Once a cone moves, or the drop may come, the next thing is a look.
    let moves = kiln.last_look.is_some_and(|(_, look)| look.target > Some(Seen::Standing));
    let task = match kiln.todo.task {
        Task::NextLook if moves || kiln.phase == Phase::Watch => Task::LookDue,
        task => task,
    };
    let (first, second) = steps::usual(task);
    let first = Meaning::of(first).unwrap_or(Meaning::Look);
    let otherwise = if waits { idle } else { Meaning::NextKiln };
    let second = second.and_then(Meaning::of).unwrap_or(otherwise);
    [first, second, Meaning::Help]
}
