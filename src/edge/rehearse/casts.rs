//! The casting bench of a made-up shop: a few moulds with some casts behind them, and what is in them as the
//! trainee comes.

use crate::casting::{Found, Mould, What as Bench};
use crate::firing::What;
use crate::hours::{Hours, Open, People, TimeOfDay, WeekDays};
use crate::units::{Moment, Span};
use crate::words::CAST_DUE;

/// Each with what comes out of it.
const MOULDS: [(&str, &str); 3] = [(CAST_DUE, "small jug"), ("B1", "cup"), ("B2", "cup")];
const SLIP: &str = "porcelain";
/// Casts of before, two days apart, and after how many hours each was not ready yet, and ready.
const BEFORE: i64 = 6;
const NOT_YET_H: i64 = 20;
const READY_H: i64 = 25;

/// Everything noted of it before the trainee comes; the first mould was drained so long ago.
pub(super) fn entries(came: Moment, drained: Span) -> Vec<(Moment, What)> {
    let begins = came - Span::hours(48 * (BEFORE + 1));
    // Somebody is there day and night: a made-up day has no hours of its own.
    let open = Open { from: TimeOfDay(0), to: TimeOfDay(TimeOfDay::DAY), people: People(1) };
    let mut entries = vec![(begins, What::Hours(Hours { days: WeekDays([true; 7]), open }))];
    for (code, ware) in MOULDS {
        let mut note = |at: Moment, what: Bench| entries.push((at, What::Bench(what)));
        let mould = || code.to_owned();
        let (body, ware, pieces) = (SLIP.to_owned(), ware.to_owned(), Some(1));
        note(begins, Bench::Mould(Mould { code: mould(), body, ware, pieces, ..Mould::default() }));
        let last = if code == CAST_DUE { drained } else { Span::hours(2) };
        let past = (1..=BEFORE).map(|nth| (came - Span::hours(48 * (nth + 1)), true));
        for (at, opened) in past.rev().chain([(came - last, false)]) {
            note(at - Span::minutes(20), Bench::Poured { mould: mould(), body: SLIP.into() });
            note(at, Bench::Drained { mould: mould() });
            let checks = [(NOT_YET_H, Found::NotYet), (READY_H, Found::Well)];
            for (hours, found) in checks.into_iter().filter(|_| opened) {
                note(at + Span::hours(hours), Bench::Check { mould: mould(), found });
            }
        }
    }
    entries
}
