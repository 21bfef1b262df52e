//! One firing read from the journal with what its card shows of the shop around it.

use super::clock::ahead;
use crate::edge::journal::{Journal, LedgerFilter};
use crate::edge::picture::of_firing::Card;
use crate::edge::picture::of_firing::{Beside, OneFiring};
use crate::firing::{Firing, FiringId};
use crate::review::nearest::{course, usual_curve};
use crate::review::prices::Prices;
use crate::units::{Moment, Span};
use crate::words::{self, Dial};

/// The usual course is drawn from at least and at most so many firings before this one.
const FEWEST_FOR_USUAL: usize = 3;
const MOST_FOR_USUAL: u32 = 30;

/// A firing, digested and reckoned at these prices; `None` if it was never lit.
///
/// # Errors
/// When it could not be read.
pub fn one(
    journal: &Journal,
    firing: FiringId,
    prices: &Prices,
    dial: &Dial<'_>,
) -> anyhow::Result<Option<OneFiring>> {
    let (firing, shop) = (journal.firing(firing)?, journal.described()?);
    let Some(lit) = firing.lit else { return Ok(None) };
    Ok(OneFiring::of(firing, shop, prices, ahead(lit, dial.zone)))
}

/// Shows the card of a firing, with the course of the firing named, or the usual one of the same kiln with the
/// same load, under its own.
///
/// # Errors
/// When the firings could not be read.
pub fn card<T>(
    journal: &Journal,
    one: &OneFiring,
    over: Option<FiringId>,
    (dial, now): (&Dial<'_>, Moment),
    show: impl FnOnce(&Card<'_>) -> T,
) -> anyhow::Result<T> {
    let beside = match over {
        Some(other) => Some((format!("firing {other}"), course(&journal.firing(other)?))),
        None => usual(journal, &one.firing)?,
    };
    let unread = journal.unread().list();
    let left_out = match journal.file() {
        Some(_) => words::left_out_of(one.firing.id, &unread, now, dial),
        None => Some(format!("{}: {}", words::PROGRAM, words::REHEARSAL)),
    };
    let (beside, left_out) = (beside.as_ref(), left_out.as_deref());
    Ok(show(&Card { one, scale: dial.scale, beside, left_out }))
}

/// The usual course of the firings of the same kiln and load before this one; `None` of too few.
fn usual(journal: &Journal, firing: &Firing) -> anyhow::Result<Option<Beside>> {
    let filter = LedgerFilter {
        kiln: Some(firing.kiln.clone()),
        load_type: Some(firing.load_type.clone()),
        until: firing.lit,
        limit: Some(MOST_FOR_USUAL),
        ..LedgerFilter::default()
    };
    let rows = journal.ledger(&filter)?.into_iter().filter(|row| row.firing != firing.id);
    let past: Vec<Firing> = rows.map(|row| journal.firing(row.firing)).collect::<Result<_, _>>()?;
    let past: Vec<&Firing> = past.iter().filter(|one| one.off.is_some()).collect();
    let what = format!("the usual course of the {} firings before", past.len());
    let enough = past.len() >= FEWEST_FOR_USUAL;
    Ok(enough.then(|| (what, usual_curve(&past, Span::minutes(10)))))
}
