//! Whether the target is down: the one answer to that question, from everything that was seen.
//!
//! The target is down from the first look that says so, and stays down until that look is struck,
//! for a cone does not stand up again and a load that waits is lost. A look that does not fit is a
//! [`Doubt`], to be answered by striking the wrong one; a further look that says down settles it.

use super::event::{Look, Seen};
use super::ids::EventId;
use crate::units::{Moment, Span};

/// A look, when it was made and which event tells of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Looked {
    pub event: EventId,
    pub at: Moment,
    pub look: Look,
}

/// What one look says of one cone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Said {
    pub event: EventId,
    pub at: Moment,
    pub seen: Seen,
}

/// The target seen down, and the looks that bear on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Down {
    /// The first look that says down.
    pub first: Said,
    /// The last look before it that made out the target.
    pub before: Option<Moment>,
    /// The last look after it that saw the target less than down.
    pub stood_up: Option<Said>,
    /// The first look after these that says down again.
    pub again: Option<Moment>,
    /// The look that saw the guide less than down when the target was, or still standing shortly before.
    pub guide_stood: Option<Moment>,
}

/// Why a "down" may be wrong.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Doubt {
    /// A later look saw the target less than down.
    StoodUp(Said),
    /// The guide, which goes down first, was not down, or shortly before still standing, at this moment.
    GuideStood(Moment),
    /// By everything else that is known there was only this chance of it, 0 to 1.
    Unlikely(f64),
}

/// Two looks of which one must be wrong: a cone further down in the earlier one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct StoodUp {
    pub cone: &'static str,
    pub earlier: (Moment, Seen),
    pub later: (Moment, Seen),
}

/// For so long after the guide was seen standing the target cannot well be down: at a slow 60 C/h
/// it takes about this to bring down the guide, and then the target one cone on (a guess). Where
/// more time has passed nobody need have seen the guide move.
pub const GUIDE_STANDS_FOR: Span = Span::minutes(30);

impl Down {
    /// From looks in the order of time; `None` if none of them says down.
    pub fn among<'a>(looks: impl Iterator<Item = &'a Looked> + Clone) -> Option<Down> {
        let said: Vec<Said> = looks.clone().filter_map(Looked::target).collect();
        let says_down = |said: &Said| said.seen == Seen::Down;
        let at = said.iter().position(says_down)?;
        let (first, after) = (said[at], &said[at + 1..]);
        let last_other = after.iter().rposition(|said| !says_down(said));
        let since = last_other.map_or(0, |at| at + 1);
        let guide = looks
            .take_while(|looked| looked.at <= first.at)
            .filter_map(|looked| Some((looked.at, looked.look.guide?)))
            .last();
        let too_early = |at: Moment, seen: Seen| match seen {
            Seen::Standing => first.at - at < GUIDE_STANDS_FOR,
            Seen::Leaning | Seen::Half => at == first.at,
            Seen::Down => false,
        };
        let guide_stood = guide.filter(|(at, seen)| too_early(*at, *seen)).map(|(at, _)| at);
        Some(Down {
            first,
            before: said[..at].last().map(|said| said.at),
            stood_up: last_other.map(|at| after[at]),
            again: after[since..].iter().find(|said| says_down(said)).map(|said| said.at),
            guide_stood,
        })
    }

    /// Whether a look contradicts it and none has settled it since.
    pub fn contradicted(&self) -> Option<Said> {
        self.stood_up.filter(|_| self.again.is_none())
    }

    /// Why it may be wrong, by the looks alone; nothing once another look says down again.
    pub fn doubt(&self) -> Option<Doubt> {
        match self.again {
            Some(_) => None,
            None => self.stood_up.map(Doubt::StoodUp).or(self.guide_stood.map(Doubt::GuideStood)),
        }
    }

    /// Between which looks the target went down, the first of them unknown where nobody had made it
    /// out before. A "down" that was contradicted and then said again may have been right or wrong,
    /// so the interval reaches to the look that settled it; one that nothing settled tells nothing.
    pub fn between(&self) -> Option<(Option<Moment>, Moment)> {
        match (self.stood_up, self.again) {
            (None, _) => Some((self.before, self.first.at)),
            (Some(_), Some(again)) => Some((self.before, again)),
            (Some(_), None) => None,
        }
    }
}

impl Looked {
    /// What it says of the target.
    pub fn target(&self) -> Option<Said> {
        let seen = self.look.target?;
        Some(Said { event: self.event, at: self.at, seen })
    }

    /// Pairs of it with a look before or after it, among `looks` in the order of time, of which one
    /// must be wrong.
    pub fn stood_up<'a>(&'a self, looks: &'a [Looked]) -> impl Iterator<Item = StoodUp> + 'a {
        type Pick = fn(&Look) -> Option<Seen>;
        let cones: [(&str, Pick); 3] = [
            ("target", |look| look.target),
            ("guide", |look| look.guide),
            ("guard", |look| look.guard),
        ];
        let next = looks.partition_point(|other| other.at <= self.at);
        cones.into_iter().filter_map(move |(cone, pick)| {
            let said = |looked: &Looked| Some((looked.at, pick(&looked.look)?));
            let here = said(self)?;
            let before = looks[..next].iter().rev().find_map(said).map(|before| (before, here));
            let after = looks[next..].iter().find_map(said).map(|after| (here, after));
            let mut pairs = before.into_iter().chain(after);
            let (earlier, later) = pairs.find(|(earlier, later)| later.1 < earlier.1)?;
            Some(StoodUp { cone, earlier, later })
        })
    }
}
