//! Which of the windows told before a drop held it.

use serde::{Deserialize, Serialize};

use super::drop_seen::DropSeen;
use crate::firing::Firing;
use crate::firing::mark::{Marked, Quantiles, When};

/// Whether one window of a finished firing held its drop.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Window {
    pub when: When,
    /// As it was told.
    pub held: bool,
    /// As it was reckoned.
    pub as_reckoned: bool,
}

/// Which windows of a firing held its drop; none while it burns or where nobody saw the drop.
pub fn windows(firing: &Firing) -> Vec<Window> {
    let dropped = DropSeen::of(firing).and_then(DropSeen::sharp);
    let (Some(lit), Some(_), Some(dropped)) = (firing.lit, firing.off, dropped) else {
        return Vec::new();
    };
    let holds = |[from, _, to]: Quantiles| (from..=to).contains(&dropped);
    let window = |marked: &Marked| Window {
        when: marked.mark.when,
        held: holds(marked.told()),
        as_reckoned: holds(marked.reckoned(lit)),
    };
    firing.marks.iter().map(window).collect()
}
