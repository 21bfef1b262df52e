//! Who minds the kilns of a made-up shop that the trainee does not: somebody who looks by eye near
//! the end, shuts off what is down, draws what is cool and writes how it came out.

use std::collections::BTreeMap;

use super::kiln::SimulatedKiln;
use super::setting::Described;
use crate::edge::journal::NewEvent;
use crate::firing::event::{Counted, Outcome, Seen};
use crate::firing::{Firing, FiringId, State, What, Who};
use crate::kiln::LoadType;
use crate::units::{Celsius, Moment, Span};
use crate::words;

/// How often a kiln is looked at once its guide leans, and once its target does.
const LOOK_EVERY: (Span, Span) = (Span::minutes(6), Span::minutes(2));
/// Colder than this a kiln is drawn. Common practice, no source: cool enough for bare hands.
pub(super) const COOL: Celsius = Celsius(60.0);

/// One kiln of the made-up shop, and what is in it.
#[derive(Debug)]
pub(super) struct MadeUpKiln {
    pub(super) name: String,
    pub(super) kiln: SimulatedKiln,
    probe: bool,
    pub(super) firing: Option<FiringId>,
    /// Whether somebody else than the trainee minds it.
    pub(super) minded: bool,
}

impl MadeUpKiln {
    /// A cold and empty kiln.
    pub(super) fn new(described: &Described, seed: u64, now: Moment) -> MadeUpKiln {
        let (name, probe) = (described.name.to_owned(), described.probe);
        let kiln = SimulatedKiln::new(described.fuel, seed, now);
        MadeUpKiln { name, kiln, probe, firing: None, minded: true }
    }

    /// Does what its firing says.
    pub(super) fn follow(&mut self, firing: Option<&Firing>) {
        self.firing = firing.map(|firing| firing.id);
        if let Some((firing, pack)) = firing.and_then(|f| f.lit.and(f.pack).map(|p| (f, p))) {
            self.kiln.load(firing.id, pack);
        }
        self.kiln.burn(firing.is_some_and(Firing::burns));
    }

    /// What the probe read, as an event, if anything lit is in the kiln.
    pub(super) fn reading(
        &self,
        firings: &BTreeMap<FiringId, Firing>,
        at: Moment,
        celsius: Celsius,
    ) -> Option<NewEvent> {
        let firing = firings.get(&self.firing.filter(|_| self.probe)?)?;
        let open = firing.lit.is_some_and(|lit| lit <= at) && firing.drawn.is_none();
        let event = |who| NewEvent::new(Some(firing.id), at, who, What::Reading(celsius));
        open.then(|| event(Who::Probe(self.name.clone())))
    }
}

/// What is to be done at a kiln that is minded, if anything is at this minute.
pub(super) fn deed(
    place: &MadeUpKiln,
    firing: &Firing,
    load: &LoadType,
    now: Moment,
) -> Option<What> {
    Some(match firing.state {
        State::Lit | State::Watching => {
            let seen = place.kiln.seen()?;
            let every = match seen.target {
                Some(Seen::Standing) | None => LOOK_EVERY.0,
                Some(_) => LOOK_EVERY.1,
            };
            let last = firing.looks.last().map(|looked| looked.at);
            let due = last.is_none_or(|last| now - last >= every);
            (due && seen.guide > Some(Seen::Standing)).then_some(What::Look(seen))?
        }
        State::Dropped => What::Off,
        State::Off | State::Cooling if place.kiln.chamber() < COOL => What::Drawn,
        State::Drawn => {
            let over = place.kiln.load_over()?;
            let verdict = words::came_out(over, load.under_cones, load.over_cones);
            let (note, shelves) = (String::new(), Vec::new());
            let counted = Counted::default();
            What::Outcome(Outcome { verdict, note, shelves, loss: None, counted, full: None })
        }
        _ => return None,
    })
}
