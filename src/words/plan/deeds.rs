//! What is to be done by the plan, deed by deed.

use super::PlanTold;
use crate::plan::{State, duty};

/// A deed at one kiln, from when to when, minutes.
#[derive(Debug, Clone, PartialEq)]
pub struct Deed {
    pub step: &'static str,
    pub kiln: usize,
    pub from: f64,
    pub until: f64,
    /// Whether its firing is still to be lit; what burns goes by its own watch.
    pub to_be_lit: bool,
    /// `Pack Wren`.
    pub deed: String,
    /// ` with gold: 7 rims`.
    pub with: String,
}

/// The deed that comes next.
#[derive(Debug, Clone, PartialEq)]
pub struct NextDeed {
    pub at: f64,
    /// Large, with the deed where there is room.
    pub time: String,
    pub deed: String,
    pub what: String,
}

/// The steps of a planned firing.
pub const STEPS: [&str; 4] = ["pack", "light", "watch", "draw"];
/// To light a kiln takes so long, minutes (a guess).
const LIGHTING_MIN: f64 = 5.0;
/// A deed whose time is over for longer than this is not the next one, minutes.
const OVER_MIN: f64 = 60.0;
const NOW: &str = "NOW";
pub(super) const ADVICE: &str = "It is advice: a kiln that is firing goes by its own watch.";

/// Behind what the kilns want: ` By the plan, at 8:10: Pack Wren with gold: 7 rims.`
pub fn deed_line(deed: &NextDeed) -> String {
    let NextDeed { time, what, .. } = deed;
    let at = if time == NOW { "now".into() } else { format!("at {time}") };
    format!(" By the plan, {at}: {what}")
}

impl PlanTold<'_> {
    /// Every deed, of one firing after the other.
    pub fn deeds(&self) -> Vec<Deed> {
        let mut deeds = Vec::new();
        let instance = &self.tables.instance;
        for (at, firing) in self.plan.firings.iter().enumerate() {
            let kiln = instance.ways[firing.way].kiln;
            let is = &instance.kilns[kiln];
            let to_be_lit = firing.state != State::Lit;
            let with =
                format!(" with {}: {}", self.load_type(firing.way), self.lots(self.plan, at));
            let mut add = |step, verb: &str, (from, until), with: &str| {
                let deed = format!("{verb} {}", is.name);
                let with = with.to_owned();
                deeds.push(Deed { step, kiln, from, until, to_be_lit, deed, with });
            };
            if matches!(firing.state, State::Planned | State::Packing) {
                add(STEPS[0], "Pack", (firing.pack, firing.pack + is.pack_min), &with);
            }
            if to_be_lit {
                let verb = if is.starts_by_itself { "Set" } else { "Light" };
                add(STEPS[1], verb, (firing.light, firing.light + LIGHTING_MIN), &with);
            }
            add(STEPS[2], "Watch", duty::watch(self.tables, firing), "");
            add(STEPS[3], "Draw", (firing.draw, firing.draw + is.draw_min), "");
        }
        for (kiln, (is, until)) in instance.kilns.iter().zip(&self.tables.free_from).enumerate() {
            if is.cool_at.is_some() {
                let (deed, with) = (format!("Draw {}", is.name), String::new());
                let (step, from, until) = (STEPS[3], until - is.draw_min, *until);
                deeds.push(Deed { step, kiln, from, until, to_be_lit: false, deed, with });
            }
        }
        deeds
    }

    /// The deed that comes next; a watch is told by the kiln itself.
    pub fn next_deed(&self, now_min: f64) -> Option<NextDeed> {
        let to_do = |one: &Deed| one.step != STEPS[2] && one.from > now_min - OVER_MIN;
        let deeds = self.deeds().into_iter().filter(to_do);
        let Deed { from: at, deed, with, .. } = deeds.min_by(|a, b| a.from.total_cmp(&b.from))?;
        let time = if at <= now_min { NOW.into() } else { self.time(at) };
        let day = if self.is_on(now_min, at) { String::new() } else { self.weekday(at, "%A: ") };
        let what = format!("{day}{deed}{with}.");
        Some(NextDeed { at, time, deed, what })
    }

    /// The same where it is of today.
    pub fn deed_of_today(&self, now_min: f64) -> Option<NextDeed> {
        self.next_deed(now_min).filter(|deed| self.is_on(now_min, deed.at))
    }

    /// What a deed is called in a calendar, and what is to be known of it.
    pub fn in_calendar(&self, deed: &Deed) -> (String, String) {
        let Deed { deed, with, .. } = deed;
        (format!("Plan: {deed}"), format!("{deed}{with}. {ADVICE}"))
    }
}

/// The same of a step of a kiln that is planned no more.
pub fn not_planned(step: &str, kiln: &str) -> (String, String) {
    (format!("Plan: {step} {kiln}"), "No longer planned.".into())
}
