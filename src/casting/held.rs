//! The bench's own record: whether the windows that were told held the letting go.

use super::casts::{Casting, NoMould};
use super::event::Event;
use super::learned::Learned;
use crate::review::own_record::RECENT;
use crate::review::wilson::Share;

/// How many of the last casts let go within the window told when they were drained. It is made again
/// from the events before; a cast of which nobody saw when counts by the chance that it did.
///
/// # Errors
/// [`NoMould`] as for [`Casting::new`].
pub fn held(events: &[Event], casting: &Casting) -> Result<Share, NoMould> {
    let seen = casting.casts.iter().rev().filter_map(|cast| Some((cast, cast.window()?)));
    let mut seen: Vec<_> = seen.take(RECENT).collect();
    seen.sort_by_key(|(cast, _)| cast.drained);
    let (mut sum, mut of) = (0.0, 0);
    let mut learned = None;
    for (cast, window) in seen {
        let then = cast.poured.map_or(cast.drained, |poured| poured.max(cast.drained));
        let before = Casting::new(events.to_vec(), None, then)?;
        let full = before.full[cast.mould].map(|full| &before.casts[full]);
        let Some(as_known) = full.filter(|known| known.poured == cast.poured) else { continue };
        // What is learned changes with every cast that is emptied.
        let emptied = before.casts.iter().filter(|cast| cast.emptied.is_some()).count();
        let known = (emptied, before.moulds.len(), before.bodies.len());
        learned.take_if(|(then, _)| *then != known);
        let (_, learned) = learned.get_or_insert_with(|| (known, Learned::new(&before)));
        sum += learned.holds(as_known, window);
        of += 1;
    }
    Ok(Share::new(sum.round() as usize, of))
}
