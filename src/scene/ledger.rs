//! Past firings: a line of the ledger each, and one of them opened.

use super::story::{Happened, deeds_of, story_of};
use crate::cone::Cone;
use crate::cooling::sifted;
use crate::firing::{Firing, FiringId, Verdict};
use crate::units::{Celsius, Moment, Span};

/// One firing of the ledger, or what was written of a kiln between two of them.
#[derive(Debug, Clone, PartialEq)]
pub struct PastFiring {
    /// [`FiringId::SHOP`] where it is of the kiln itself.
    pub firing: FiringId,
    pub kiln: String,
    pub load_type: String,
    pub target: Option<Cone>,
    /// When it was lit, or until then its first event.
    pub begun: Moment,
    pub verdict: Option<Verdict>,
    pub note: String,
}

/// In which order the ledger is shown; within the same, the youngest comes first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Sort {
    #[default]
    Youngest,
    Kiln,
    Load,
    CameOut,
}

/// One firing, opened.
#[derive(Debug, Clone, PartialEq)]
pub struct FiringScene {
    pub past: PastFiring,
    /// What was read and believed, by the time since it was lit, so that two firings can be laid
    /// over each other.
    pub curve: Vec<(Span, Celsius)>,
    /// What was read and not believed.
    pub set_aside: Vec<(Span, Celsius)>,
    /// When the target was seen down and when the kiln was off, since lit.
    pub down: Option<Span>,
    pub off: Option<Span>,
    pub happened: Vec<(Moment, Happened)>,
}

impl Sort {
    pub fn next(self) -> Sort {
        match self {
            Sort::Youngest => Sort::Kiln,
            Sort::Kiln => Sort::Load,
            Sort::Load => Sort::CameOut,
            Sort::CameOut => Sort::Youngest,
        }
    }

    /// Puts rows in this order, each of a firing.
    pub fn sort<R>(self, rows: &mut [R], of: fn(&R) -> &PastFiring) {
        rows.sort_by_key(|row| std::cmp::Reverse((of(row).begun, of(row).firing)));
        match self {
            Sort::Youngest => {}
            Sort::Kiln => rows.sort_by_cached_key(|row| of(row).kiln.to_lowercase()),
            Sort::Load => rows.sort_by_cached_key(|row| of(row).load_type.to_lowercase()),
            // What went wrong comes first.
            Sort::CameOut => rows.sort_by_key(|row| match of(row).verdict {
                Some(Verdict::Over) => 0,
                Some(Verdict::Under) => 1,
                Some(Verdict::NotFired) => 2,
                Some(Verdict::Good) => 3,
                None => 4,
            }),
        }
    }
}

impl PastFiring {
    /// A firing's line, if anything is known of when it began.
    pub fn of(firing: &Firing) -> PastFiring {
        let outcome = firing.outcome.as_ref().map(|(_, outcome)| outcome);
        let first_deed = deeds_of(firing).first().map(|(at, _)| *at);
        let first_reading = firing.readings.first().map(|(at, _)| *at);
        let first = first_deed.into_iter().chain(first_reading).min();
        PastFiring {
            firing: firing.id,
            kiln: firing.kiln.clone(),
            load_type: firing.load_type.clone(),
            target: firing.pack.map(|pack| pack.target),
            begun: firing.lit.or(first).unwrap_or_default(),
            verdict: outcome.map(|outcome| outcome.verdict),
            note: outcome.map(|outcome| outcome.note.clone()).unwrap_or_default(),
        }
    }
}

impl FiringScene {
    pub fn of(firing: &Firing) -> FiringScene {
        let past = PastFiring::of(firing);
        let since = |at: Moment| at - past.begun;
        let (good, aside) = sifted(firing, Moment(i64::MAX));
        let aside = aside.iter().map(|(at, t)| (since(*at), *t));
        FiringScene {
            curve: good.iter().map(|(at, t)| (since(*at), *t)).collect(),
            set_aside: aside.collect(),
            down: firing.seen_down().map(since),
            off: firing.off.map(since),
            happened: story_of(&firing.readings, deeds_of(firing)),
            past,
        }
    }
}
