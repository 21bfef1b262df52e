//! What is said of the shop's own record.

use crate::firing::mark::When;
use crate::review::own_record::OwnRecord;
use crate::review::table::fixed;
use crate::review::wilson::Share;

/// Below this many nothing is said of them.
const FEWEST_TO_TELL: usize = 5;

/// What is held by windows, as [`held_line`] says it.
pub const DROPS: (&str, &str) = ("", "drops");
pub const CASTS: (&str, &str) = ("about ", "casts");

/// `The window held 27 of the last 30 drops.` `hits` says how it is counted.
pub fn held_line(told: Share, (hits, noun): (&str, &str)) -> Option<String> {
    (told.of >= FEWEST_TO_TELL)
        .then(|| format!("The window held {hits}{} of the last {} {noun}.", told.hits, told.of))
}

/// Why windows are told wider or narrower than reckoned; nothing where they are not, to the tenth.
pub fn width_line(record: &OwnRecord) -> Option<String> {
    let (width, reckoned) = (fixed(record.width(), 1), record.reckoned);
    let drops = if reckoned.of == 1 { "drop" } else { "drops" };
    let line = format!(
        "Windows are {width} times as wide as reckoned: as reckoned they held {} of the last {} {drops}.",
        reckoned.hits, reckoned.of
    );
    (width != "1.0").then_some(line)
}

/// When a forecast was kept, as rows of the review and of a firing card say it.
pub fn when_word(when: When) -> &'static str {
    match when {
        When::AtLighting => "at lighting",
        When::HourBefore => "an hour before",
        When::FirstLook => "at the first look",
    }
}
