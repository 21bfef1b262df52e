//! The casting bench at one moment: every mould in use, what is in it, and what is advised.

use std::collections::BTreeMap;

use crate::alarm::condition::{Condition, Figure};
use crate::casting::{Advice, Casting, Found, Learned, Mould, Remark};
use crate::firing::FiringId;
use crate::units::{Moment, Span};
use crate::watch::agenda::Errand;
use crate::watch::task::Task;

/// The bench as it was reckoned last.
#[derive(Debug, Clone, Default)]
pub struct BenchScene {
    /// Those in use, what is due first.
    pub moulds: Vec<MouldScene>,
    /// Whether the shop's hours are known: without them nothing is planned for when somebody is there.
    pub hours_known: bool,
    /// What it was reckoned from.
    pub casting: Option<Casting>,
}

/// What is seen is the same.
impl PartialEq for BenchScene {
    fn eq(&self, other: &BenchScene) -> bool {
        (&self.moulds, self.hours_known) == (&other.moulds, other.hours_known)
    }
}

/// One mould.
#[derive(Debug, Clone, PartialEq)]
pub struct MouldScene {
    pub mould: Mould,
    pub state: MouldState,
    /// The slip in it, or the one it is likely poured with next.
    pub body: Option<String>,
    /// For the cast in it or, empty, for one that is poured now.
    pub advice: Option<Advice>,
    pub remark: Option<Remark>,
    pub casts: usize,
    /// When and how the last cast was taken out.
    pub last: Option<(Moment, Option<Found>)>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MouldState {
    Empty,
    /// To be drained at this moment, as is usual.
    Poured(Moment),
    /// To be checked at this moment, if anybody comes.
    Closed(Option<Moment>),
}

/// Longer than this after it is too late, a mould is likely empty and nobody noted it.
const FORGOTTEN: Span = Span::hours(24);
/// Poured longer ago than this, its draining was not noted (a guess).
const UNDRAINED: Span = Span::hours(4);

impl BenchScene {
    /// Everything there is to say of the bench at the moment it is told for.
    pub fn of(casting: Casting) -> BenchScene {
        let learned = Learned::new(&casting);
        let in_use = (0..casting.moulds.len()).filter(|mould| {
            casting.moulds[*mould].retired.is_empty() || casting.full[*mould].is_some()
        });
        let mut unused = BTreeMap::new();
        let mut moulds: Vec<MouldScene> =
            in_use.map(|mould| MouldScene::of(&casting, &learned, mould, &mut unused)).collect();
        moulds.sort_by_key(|mould| mould.order(casting.now));
        BenchScene { moulds, hours_known: casting.staffed.is_some(), casting: Some(casting) }
    }

    /// The place of the mould of this code, or of this one before.
    pub fn place(&self, code: &str) -> Option<usize> {
        let code = self.casting.as_ref().map_or(code, |casting| casting.names.now(code));
        self.moulds.iter().position(|mould| mould.mould.code == code)
    }

    pub fn mould(&self, code: &str) -> Option<&MouldScene> {
        self.place(code).map(|place| &self.moulds[place])
    }

    /// What is to be drained and checked, the next first; moulds of one moment are one errand.
    pub fn errands(&self, now: Moment) -> Vec<Errand> {
        let due = |mould: &MouldScene| {
            let (task, at) = mould.task()?;
            Some((at.max(now), task, mould.mould.code.clone()))
        };
        let mut all: Vec<(Moment, Task, String)> = self.moulds.iter().filter_map(due).collect();
        all.sort();
        let together = all.chunk_by(|one, next| (one.0, one.1) == (next.0, next.1));
        let errand = |same: &[(Moment, Task, String)]| {
            let codes: Vec<&str> = same.iter().map(|(.., code)| code.as_str()).collect();
            Errand::new(&codes.join(", "), same[0].1, same[0].0, None)
        };
        together.map(errand).collect()
    }

    /// What is due, as the condition of an alarm, while somebody is there.
    pub fn rings(&self, now: Moment) -> Option<Condition> {
        let staffed = self.casting.as_ref()?.staffed.as_ref()?;
        let first = self.errands(now).into_iter().find(|errand| errand.at <= now)?;
        let due = self.moulds.iter().filter_map(MouldScene::task);
        let since = due.filter(|(task, at)| *task == first.task && *at <= now).max()?.1;
        let Errand { kiln, task, .. } = first;
        let (firing, fuel, figure) = (FiringId::SHOP, None, Figure::None);
        let there = !staffed.moments(now, now, Span::hours(1)).is_empty();
        there.then_some(Condition { firing, kiln, fuel, task, since, enters: true, figure })
    }
}

impl MouldScene {
    /// `unused` is what is advised of moulds that were never poured: by each slip the same.
    fn of(
        casting: &Casting,
        learned: &Learned,
        mould: usize,
        unused: &mut BTreeMap<String, Option<Advice>>,
    ) -> MouldScene {
        let cast = casting.full[mould].map(|full| &casting.casts[full]);
        let body = match cast {
            Some(cast) => cast.body.map(|body| casting.bodies[body].clone()),
            None => casting.usual_body(mould).map(str::to_owned),
        };
        let poured = body.as_deref().unwrap_or_default();
        let if_poured = cast.is_none().then_some(poured);
        let advised = || learned.advice(casting, mould, if_poured).ok();
        let advice = match casting.casts_of(mould).next() {
            Some(_) => advised(),
            None => unused.entry(poured.to_owned()).or_insert_with(advised).clone(),
        };
        let state = match cast {
            None => MouldState::Empty,
            Some(cast) if !cast.drain_noted && casting.now - cast.drained < UNDRAINED => {
                MouldState::Poured(cast.drained)
            }
            Some(_) => {
                let sure = advice.as_ref().filter(|advice| !is_forgotten(advice, casting.now));
                MouldState::Closed(sure.and_then(Advice::next_check))
            }
        };
        MouldScene {
            mould: casting.moulds[mould].clone(),
            state,
            body,
            advice,
            remark: casting.remarks[mould],
            casts: casting.poured(mould),
            last: casting.casts_of(mould).rev().find_map(|cast| cast.emptied),
        }
    }

    /// What is to be done at it, and when.
    pub fn task(&self) -> Option<(Task, Moment)> {
        let drains = matches!(self.state, MouldState::Poured(_));
        Some((if drains { Task::DrainMould } else { Task::CheckMould }, self.due()?))
    }

    /// When somebody is wanted at it.
    pub fn due(&self) -> Option<Moment> {
        match self.state {
            MouldState::Empty => None,
            MouldState::Poured(at) => Some(at),
            MouldState::Closed(next) => next,
        }
    }

    /// What is due, what can be poured, what is to come.
    fn order(&self, now: Moment) -> (u8, Moment) {
        match (self.state, self.due()) {
            (MouldState::Empty, _) => (2, Moment::default()),
            (MouldState::Poured(_), Some(at)) => (1, at),
            (_, Some(at)) if at > now => (3, at),
            (_, at) => (0, self.advice.as_ref().map_or(at.unwrap_or(now), |a| a.window.late_p05)),
        }
    }
}

/// Whether the cast was surely opened, and nobody noted it.
pub fn is_forgotten(advice: &Advice, now: Moment) -> bool {
    !advice.hypothetical && (advice.trouble || now > advice.window.late_p50 + FORGOTTEN)
}
