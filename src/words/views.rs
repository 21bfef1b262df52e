//! Titles and fillers of the views beside the floor.

use crate::scene::Scene;

pub const TYPE_TO_FILTER: &str = "type to filter";
pub const FINDER_TITLE: &str = "What do you want to do?";
pub const NO_SUCH_ACTION: &str = "no such action or kiln";
pub const NO_SUCH_LINE: &str = "nothing in the shop has that name";

/// Said below a text that has more pages than one.
pub fn page_of_text(page: usize, pages: usize) -> String {
    format!("page {page} of {pages}: Down, Up")
}

/// What the finder finds: every action, then every kiln.
pub fn finder_lines(actions: &[String], scene: &Scene) -> Vec<String> {
    let kilns = scene.names().into_iter().filter_map(|name| scene.kiln(name));
    let kilns = kilns
        .map(|kiln| format!("{}: choose this kiln, {}", kiln.kiln, super::phase_word(kiln.phase)));
    actions.iter().cloned().chain(kilns).collect()
}

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
        ViewKeys::Why => "Enter opens the firing, Esc goes back",
    }
}
