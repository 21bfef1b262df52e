//! What comes next, across all kilns.

use super::{Scene, Todo};
use crate::units::Moment;

/// Something that lies ahead at a kiln.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Coming {
    /// Already past where it is due now.
    pub at: Moment,
    pub kiln: String,
    pub what: Ahead,
}

/// What lies ahead.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Ahead {
    /// Shut off: the target was seen down then.
    ShutOff,
    /// Go and look.
    Look,
    WatchOpens,
    /// The target goes down, as likely before as after.
    Drop,
    /// It is cool enough to be drawn.
    Draw,
}

impl Scene {
    /// What lies ahead at every kiln, the next first. What is due and not done stays at the top;
    /// a forecast moment goes with its minute.
    pub fn coming(&self) -> Vec<Coming> {
        let minute = Moment(self.now.0 - self.now.0.rem_euclid(60_000));
        let mut coming: Vec<Coming> = Vec::new();
        for kiln in self.kilns.iter().filter(|kiln| kiln.is_lit()) {
            let due = match kiln.todo {
                Todo::ShutOff { down_since } => {
                    Some((down_since.unwrap_or(self.now), Ahead::ShutOff))
                }
                Todo::Stay | Todo::LookTooLate { .. } => Some((self.now, Ahead::Look)),
                Todo::Look { at } => Some((at, Ahead::Look)),
                _ => None,
            };
            let opens = kiln.watch_opens.map(|at| (at, Ahead::WatchOpens));
            let drop = kiln.drop.map(|drop| (drop.p50, Ahead::Drop));
            let ahead = opens.into_iter().chain(drop).filter(|(at, _)| *at >= minute);
            coming.extend(due.into_iter().chain(ahead).map(|(at, what)| Coming {
                at,
                kiln: kiln.kiln.clone(),
                what,
            }));
        }
        for kiln in &self.kilns {
            let cool = kiln.cool_at.filter(|at| *at >= minute);
            coming.extend(cool.map(|at| Coming { at, kiln: kiln.kiln.clone(), what: Ahead::Draw }));
        }
        coming.sort_by(|a, b| (a.at, a.what, &a.kiln).cmp(&(b.at, b.what, &b.kiln)));
        coming
    }
}
