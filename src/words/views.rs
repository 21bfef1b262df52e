//! Titles and fillers of the views beside the floor.

use crate::alarm::Alarm;
use crate::alarm::words::headline;

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

/// What rings, in so many columns: what to do at which kiln, and why where there is room for it.
pub fn ringing_line(alarm: &Alarm, columns: usize) -> String {
    let headline = format!("! {}", headline(alarm));
    match headline.split_once(": ") {
        Some((what, _)) if headline.len() > columns => what.to_owned(),
        _ => headline,
    }
}
