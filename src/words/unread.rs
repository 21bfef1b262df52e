//! Events whose content cannot be read, named on every answer that lacks them.

use super::Dial;
use crate::firing::{FiringId, Unread};
use crate::units::Moment;

/// Number of events named one by one; "spyhole journal check" lists them all.
const NAMED: usize = 3;

/// Which events an answer lacks; `None` when it lacks none.
///
/// `Event 14 (look, North, firing 1, 12:25) cannot be read and counts nowhere here.`
fn left_out(unread: &[Unread], now: Moment, dial: &Dial<'_>) -> Option<String> {
    let named = unread.iter().take(NAMED).map(|one| described(one, now, dial));
    let named = named.collect::<Vec<_>>().join(", ");
    match unread.len() {
        0 => None,
        1 => Some(format!("Event {named} cannot be read and counts nowhere here.")),
        count => {
            let more = count.saturating_sub(NAMED);
            let more = if more > 0 { format!(" and {more} more") } else { String::new() };
            Some(format!("Events {named}{more} cannot be read and count nowhere here."))
        }
    }
}

/// Which events of one firing an answer lacks, for a card or a calendar.
pub fn left_out_of(
    firing: FiringId,
    unread: &[Unread],
    now: Moment,
    dial: &Dial<'_>,
) -> Option<String> {
    let of_it = unread.iter().filter(|one| one.firing == Some(firing));
    left_out(&of_it.cloned().collect::<Vec<_>>(), now, dial)
}

/// Which events an answer lacks, and what to do about it.
pub fn left_out_and_remedy(unread: &[Unread], now: Moment, dial: &Dial<'_>) -> Option<String> {
    let (kept, lacking): (Vec<Unread>, Vec<Unread>) =
        unread.iter().cloned().partition(|one| one.by_summary);
    let beginnings = kept.iter().map(|one| begun_by_summary(one, now, dial));
    let lacking = lacking_and_remedy(&lacking, now, dial);
    beginnings.chain(lacking).reduce(|said, more| format!("{said} {more}"))
}

/// What is still known of a firing whose beginning cannot be read.
fn begun_by_summary(unread: &Unread, now: Moment, dial: &Dial<'_>) -> String {
    format!(
        "Event {} cannot be read: which kiln, load and cone it is about is known from the summary kept beside it, its schedule is not. Restore a backup when no kiln is firing: see \"spyhole journal check\".",
        described(unread, now, dial)
    )
}

/// The same in the least room.
pub fn left_out_in_brief(unread: &[Unread]) -> Option<String> {
    Some(match unread {
        [] => return None,
        [one] if one.newer => {
            format!("A newer Spyhole wrote event {}: use that one.", one.event)
        }
        [Unread { event, by_summary: false, .. }] => format!(
            "Event {event} cannot be read: enter it again, then \"spyhole strike {event} --reason damaged\"."
        ),
        [one] => {
            format!("Event {} cannot be read: see \"spyhole journal check\".", one.event)
        }
        all => {
            format!("{} events cannot be read: \"spyhole journal check\" names them.", all.len())
        }
    })
}

fn lacking_and_remedy(unread: &[Unread], now: Moment, dial: &Dial<'_>) -> Option<String> {
    let said = left_out(unread, now, dial)?;
    let first = unread.iter().find(|one| !one.newer);
    let remedy = match first {
        Some(damaged) => format!(
            "Enter it again and take the damaged one back with \"spyhole strike {} --reason damaged\", or restore a backup: see \"spyhole journal check\".",
            damaged.event
        ),
        None => "A newer Spyhole wrote it: use that one.".into(),
    };
    Some(format!("{said} {remedy}"))
}

/// `14 (look, North, firing 1, 12:25)`, as much of it as is known.
fn described(unread: &Unread, now: Moment, dial: &Dial<'_>) -> String {
    let kind = unread.kind.map_or("of an unknown kind".into(), |kind| kind.replace('_', " "));
    let kiln = Some(unread.kiln.clone()).filter(|kiln| !kiln.is_empty());
    let firing = unread.firing.map(|firing| format!("firing {firing}"));
    let at = dial.time_and_day(unread.at, now);
    let known: Vec<String> = [Some(kind), kiln, firing, Some(at)].into_iter().flatten().collect();
    format!("{} ({})", unread.event, known.join(", "))
}
