//! What is hard to believe of an event, asked once before it is written.

use super::Known;
use crate::cone::Cone;
use crate::cooling::{Cooling, TooHot};
use crate::edge::own_schedules::Offered;
use crate::firing::event::Packing;
use crate::firing::{Firing, Looked, What};
use crate::forecast::misfit::{Misfit, misfit_if_read};
use crate::kiln::{Kiln, LoadType, same_name};
use crate::scene::{Phase, Scene};
use crate::text;
use crate::units::{Celsius, Moment};
use crate::words::{self, Dial};

/// How far from the usual cone, in cones, a target may lie before it is asked whether it is meant.
/// A guess: more than any load type of the trade is likely to be moved on purpose.
const USUAL_CONES: f64 = 2.0;

/// What an event may be hard to believe by.
#[derive(Debug, Clone)]
pub struct Against<'a> {
    pub kiln: &'a str,
    pub known: Known<'a>,
    /// How the kiln cools, and below what it is drawn.
    pub cooling: Option<(&'a Cooling, Celsius)>,
    pub looks: &'a [Looked],
    /// The firing and the finished ones that a reading is held against.
    pub record: Option<(&'a Firing, &'a [Firing])>,
    /// Whether the target was seen down.
    pub seen_down: bool,
    /// The chance that the target has dropped, 0 to 1.
    pub dropped: Option<f64>,
    /// What other kilns are called in this shop.
    pub kilns: Vec<&'a str>,
    pub now: Moment,
    pub dial: Dial<'a>,
}

/// What is asked once before something hard to believe is written.
#[derive(Debug, Clone, PartialEq)]
pub enum Doubtful<'a> {
    TooHot(TooHot),
    /// A temperature that does not fit.
    Misfit(Misfit, Celsius),
    /// A look that does not fit, and why.
    Look(String),
    /// Shut off, though nobody saw the target down.
    OffUnseen,
    /// A target far from the usual cone of its load.
    FarCone(Cone, &'a LoadType),
    /// A schedule to another cone than the target at the spyhole; both.
    OtherCone(Cone, Cone),
    /// A new name that looks like another one of the shop.
    Name(&'a str),
}

impl<'a> Against<'a> {
    /// Against what is known of loads alone.
    pub fn of(known: Known<'a>, now: Moment, dial: Dial<'a>) -> Against<'a> {
        Against {
            kiln: "",
            known,
            cooling: None,
            looks: &[],
            record: None,
            seen_down: false,
            dropped: None,
            kilns: Vec::new(),
            now,
            dial,
        }
    }

    /// Against what is to be seen of a kiln.
    pub fn in_scene(known: Known<'a>, kiln: &'a str, scene: &'a Scene, dial: Dial<'a>) -> Self {
        let here = scene.kiln(kiln);
        let cooling = here.and_then(|kiln| kiln.cooling.as_ref());
        Against {
            kiln,
            cooling: cooling.map(|cooling| (cooling, scene.draw_below)),
            looks: here.map_or(&[], |kiln| &kiln.curve.looks),
            seen_down: here.is_some_and(|kiln| kiln.phase == Phase::Dropped),
            dropped: here.and_then(|kiln| kiln.dropped),
            kilns: scene.names(),
            ..Against::of(known, scene.now, dial)
        }
    }

    /// What is hard to believe, in a sentence.
    pub fn says(&self, doubtful: &Doubtful<'_>, at: Moment) -> String {
        match doubtful {
            Doubtful::TooHot(why) => {
                let said = words::may_be_too_hot(*why, self.kiln, at, self.now, &self.dial);
                format!("{said}. {}", words::CAUTION_DRAW)
            }
            Doubtful::Misfit(misfit, read) => words::misfit(misfit, (at, *read), &self.dial),
            Doubtful::Look(question) => question.clone(),
            Doubtful::OffUnseen => words::off_unseen(self.kiln),
            Doubtful::FarCone(cone, load) => words::cone_far_from(*cone, load),
            Doubtful::OtherCone(goes_to, target) => {
                words::schedule_to_other_cone(*goes_to, *target)
            }
            Doubtful::Name(like) => words::looks_like(like),
        }
    }

    /// What is asked before this is written, if anything.
    pub fn doubt(&self, what: &What, at: Moment) -> Option<Doubtful<'a>> {
        match what {
            What::Drawn => {
                let (cooling, below) = self.cooling?;
                cooling.too_hot(below, at).map(Doubtful::TooHot)
            }
            What::Reading(read) => {
                let (firing, past) = self.record?;
                let misfit = misfit_if_read(firing, (at, *read), past).filter(Misfit::is_asked);
                misfit.map(|misfit| Doubtful::Misfit(misfit, *read))
            }
            What::Off => (!self.seen_down).then_some(Doubtful::OffUnseen),
            What::Look(look) => {
                let said = (self.now, &self.dial);
                words::ask_of_look(look, at, self.looks, self.dropped, said).map(Doubtful::Look)
            }
            What::Packed(Packing { load_type, pack: Some(pack), .. }) => {
                self.far_cone(load_type, pack.target)
            }
            What::Lit(lit) => self
                .far_cone(&lit.load_type, lit.pack.target)
                .or_else(|| self.other_cone(lit.schedule.as_deref()?, lit.pack.target)),
            What::LoadTypeSet(load) => {
                let loads = self.known.load_types.iter().map(|load| load.name.as_str());
                let like = || name_like(&load.name, loads);
                self.far_cone(&load.name, load.target).or_else(like)
            }
            What::KilnSet(Kiln { name, .. }) | What::KilnRenamed { name, .. } => {
                name_like(name, self.kilns.iter().copied())
            }
            _ => None,
        }
    }

    fn far_cone(&self, load_type: &str, target: Cone) -> Option<Doubtful<'a>> {
        let load = self.known.load_types.iter().find(|load| load.name == load_type)?;
        let far = (target.position() - load.target.position()).abs() > USUAL_CONES;
        let before = self.known.before.filter(|before| before.load_type == load_type);
        let said_before = before.and_then(|before| before.pack).map(|pack| pack.target);
        (far && said_before != Some(target)).then_some(Doubtful::FarCone(target, load))
    }

    fn other_cone(&self, schedule: &str, target: Cone) -> Option<Doubtful<'a>> {
        let named = self.known.schedules.iter().find(|one| one.reference == schedule);
        let goes_to = named.and_then(Offered::schedule)?.target;
        (goes_to != target).then_some(Doubtful::OtherCone(goes_to, target))
    }
}

fn name_like<'a>(
    name: &str,
    mut others: impl Iterator<Item = &'a str> + Clone,
) -> Option<Doubtful<'a>> {
    let known = others.clone().any(|known| same_name(known, name));
    let like = others.find(|like| text::look_alike(like, name));
    like.filter(|_| !known).map(Doubtful::Name)
}
