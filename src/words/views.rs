//! Titles and fillers of the views beside the floor.

pub const TYPE_TO_FILTER: &str = "type to filter";
pub const FINDER_TITLE: &str = "What do you want to do?";
pub const NO_SUCH_ACTION: &str = "no such action";
pub const NO_SUCH_LINE: &str = "nothing in the shop is called so";

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
}

/// The most useful keys of a view.
pub fn view_keys(keys: ViewKeys) -> &'static str {
    match keys {
        ViewKeys::List => "Enter opens, Esc goes back, ? help",
        ViewKeys::Ledger => "Enter opens, Tab sorts, Esc goes back",
        ViewKeys::Compare => "Enter lays it over, Esc goes back",
        ViewKeys::Firing => "Enter lays another over it, Esc back",
        ViewKeys::Schedule => "f lights a kiln by it, Esc goes back",
        ViewKeys::Review => {
            "Tab page, k kiln, p period, Enter why, b by load or kiln, a accept, Esc back"
        }
        ViewKeys::Why => "Enter opens the firing, Esc goes back",
    }
}
