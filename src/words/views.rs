//! Titles and fillers of the views beside the floor.

use super::{say_short, shortened};
use crate::scene::{KilnScene, Scene};
use crate::units::Moment;

pub const TYPE_TO_FILTER: &str = "type to filter";
pub const FINDER_TITLE: &str = "What do you want to do?";
pub const NO_SUCH_ACTION: &str = "no such action or kiln";
pub const NO_SUCH_LINE: &str = "nothing in the shop has that name";

/// Said below a text that has more pages than one.
pub fn page_of_text(page: usize, pages: usize) -> String {
    format!("page {page} of {pages}: Down, Up")
}

/// Said after the key that does it, where nothing is due and nothing made way for it.
pub const NOTHING_DUE: &str =
    "No kiln needs anybody now, and no page or form was put aside for one.";

/// Said on a page, where what rings is at another kiln than the one its first line names.
pub const RINGS_ELSEWHERE: &str =
    "What rings is at another kiln: 1 shows which, and a answers it there.";

/// `F2 notes look at Heron; this is kept`: below a form while another kiln is due.
pub fn to_the_due(key: &str, action: &str, kiln: &str) -> String {
    format!("{key} notes {action} at {kiln}; this is kept")
}

/// The way back to what made way for a kiln that is due.
pub fn made_way(what: &str, key: &str) -> String {
    format!("Kept as it was: {what}. {key} leads back.")
}

/// `Heron: LOOK NOW. F2: look`, above something else that is open, in so many columns.
pub fn due_line(kiln: &KilnScene, now: Moment, (key, action): (&str, &str), room: usize) -> String {
    let said = format!(": {}", say_short(kiln, now));
    let name = shortened(&kiln.kiln, room.saturating_sub(said.len()));
    let whole = format!("{name}{said}. {key}: {action}");
    if whole.len() <= room { whole } else { format!("{name}{said}") }
}

/// What the finder finds: every action, then every kiln.
pub fn finder_lines(actions: &[String], scene: &Scene) -> Vec<String> {
    let kilns = scene.names().into_iter().filter_map(|name| scene.kiln(name));
    let kilns = kilns
        .map(|kiln| format!("{}: choose this kiln, {}", kiln.kiln, super::phase_word(kiln.phase)));
    actions.iter().cloned().chain(kilns).collect()
}

pub const PLAN_TITLE: &str = "The day";
pub const PLANNING: &str = "The plan is being made; it takes a few seconds.";
/// Said where nothing can be chosen.
pub const NO_CHOICE: &str = "k and o are for what is planned and not packed yet.";
pub const NO_LOTS: &str = "No ware is said to wait to be fired: i says what does.";

/// Where somebody is, which decides the keys that are named.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ViewKeys {
    List,
    Ledger,
    Compare,
    Firing,
    Schedule,
    Review,
    Why,
    Plan,
    Bench,
    Back,
}

/// The most useful keys of a view.
pub fn view_keys(keys: ViewKeys) -> &'static str {
    match keys {
        ViewKeys::List => "Enter opens, Esc goes back, ? help",
        ViewKeys::Ledger => "Enter opens, Tab sorts, Esc goes back",
        ViewKeys::Compare => "Enter lays it over, Esc goes back",
        ViewKeys::Firing => "Enter another over it, m most like, s schedule, c card, Esc back",
        ViewKeys::Back => "Esc goes back, ? help",
        ViewKeys::Schedule => "f lights a kiln by it, Esc goes back",
        ViewKeys::Review => {
            "Tab page, k kiln, p period, Enter why, b by load or kiln, a accept, Esc back"
        }
        ViewKeys::Plan => {
            "Enter why, g go by it, k keep, n not this, o other kiln, d to draw, r again"
        }
        ViewKeys::Bench => {
            "p pour, d drain; w well, n not yet, f forced, c cracked; Enter its casts, ? help"
        }
        ViewKeys::Why => "Enter opens the firing, Esc goes back",
    }
}
