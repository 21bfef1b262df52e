//! What is said of the plan of the day: each firing, the reasons, the changes.

mod broken;
mod deeds;
mod drawing;
mod sheet;
mod timeline;

pub use deeds::{Deed, NextDeed, STEPS, deed_line, not_planned};
pub use drawing::drawing_list;
pub use sheet::{NOTHING_TOUCHES, SHEET_COLUMNS, SheetRow, cones_of};

use crate::plan::adopted::Adopted;
use crate::plan::again::{Change, Changed, Gone, GoneWhy, Reason, Since};
use crate::plan::duty::{self, Duty};
use crate::plan::of_shop::Taken;
use crate::plan::why::{self, Late, WaitsWhy};
use crate::plan::{DayPlan, Held, Plan, State, Tables};
use crate::units::{Moment, Span};

use super::Dial;
use super::lengths::in_a_row;

/// A plan with what is needed to speak of it.
#[derive(Debug, Clone, Copy)]
pub struct PlanTold<'a> {
    pub tables: &'a Tables,
    pub plan: &'a Plan,
    pub day: &'a DayPlan,
    pub dial: &'a Dial<'a>,
}

impl<'a> PlanTold<'a> {
    pub fn of(day: &'a DayPlan, dial: &'a Dial<'a>) -> PlanTold<'a> {
        PlanTold { tables: &day.tables, plan: &day.plan, day, dial }
    }
}

impl PlanTold<'_> {
    /// A moment of the plan, in minutes from when it is made.
    pub fn moment(&self, minute: f64) -> Moment {
        self.day.made_at + Span::seconds((minute * 60.0).round() as i64)
    }

    fn time(&self, minute: f64) -> String {
        self.dial.time(self.moment(minute))
    }

    fn weekday(&self, minute: f64, form: &str) -> String {
        self.dial.zone.wall(self.moment(minute)).format(form).to_string()
    }

    fn is_on(&self, day_of: f64, minute: f64) -> bool {
        self.weekday(day_of, "%F") == self.weekday(minute, "%F")
    }

    /// `at 8:00`, or `on Wed at 8:00` where that is another day than `of`.
    fn at(&self, minute: f64, of: f64) -> String {
        let at = format!("at {}", self.time(minute));
        if self.is_on(of, minute) { at } else { format!("on {} {at}", self.weekday(minute, "%a")) }
    }

    /// The same without `at` before a mere time.
    fn when(&self, minute: f64, of: f64) -> String {
        self.at(minute, of).trim_start_matches("at ").to_owned()
    }

    /// `8:00`, or `Wed 8:00` where that is another day than `of`.
    fn in_short(&self, minute: f64, of: f64) -> String {
        if self.is_on(of, minute) { self.time(minute) } else { self.on_day(minute) }
    }

    fn on_day(&self, minute: f64) -> String {
        format!("{} {}", self.weekday(minute, "%a"), self.time(minute))
    }

    fn kiln(&self, way: usize) -> &str {
        &self.tables.instance.kiln_of(way).name
    }

    fn load_type(&self, way: usize) -> &str {
        &self.tables.instance.load_type(way).name
    }

    fn id(&self, lot: usize) -> &str {
        &self.tables.instance.lots[lot].id
    }

    /// The same before a verb: what lies in it may be many.
    fn lot(&self, lot: usize) -> String {
        format!("lot {}", self.id(lot))
    }

    fn lots(&self, plan: &Plan, firing: usize) -> String {
        self.ids(plan.lots_in(firing))
    }

    fn ids(&self, lots: impl Iterator<Item = usize>) -> String {
        in_a_row(&lots.map(|lot| self.id(lot)).collect::<Vec<_>>())
    }

    /// The share of the kiln's room that is used.
    pub fn full_share(&self, firing: usize) -> f64 {
        let (instance, way) = (&self.tables.instance, self.plan.firings[firing].way);
        self.plan.litres_in(instance, firing) / instance.kiln_of(way).room_l
    }

    /// The last moment at which a firing may be lit.
    pub fn latest(&self, at: usize) -> f64 {
        why::light_no_later_than(self.tables, self.plan, at)
    }

    pub fn duty(&self, at: usize) -> Duty {
        duty::duties(self.tables, self.plan).swap_remove(at)
    }

    pub fn watchers(&self, duty: &Duty) -> Option<String> {
        let names = duty.watch.iter().map(|who| self.tables.instance.people[*who].name.as_str());
        Some(names.collect::<Vec<_>>().join(", then ")).filter(|names| !names.is_empty())
    }

    /// What is to be done for one firing, in two or three sentences.
    pub fn firing(&self, at: usize) -> String {
        let (firing, duty) = (&self.plan.firings[at], self.duty(at));
        let (kiln, light) = (self.kiln(firing.way), firing.light);
        let (lots, full) = (self.lots(self.plan, at), full(self.full_share(at)));
        let starts = self.tables.instance.kiln_of(firing.way).starts_by_itself;
        let latest = self.latest(at);
        let no_later = if latest > light + 1.0 {
            format!("not after {}", self.time(latest))
        } else {
            "no later".into()
        };
        let set = if starts { "set it to start" } else { "light it" };
        let lit = format!("{set} at {}, {no_later}", self.time(light));
        let load = self.load_type(firing.way);
        let first = match firing.state {
            State::Planned => {
                let pack = self.at(firing.pack, light);
                format!("Pack {kiln} {pack} with {load} {lots} ({full}) and {lit}.")
            }
            State::Packing => {
                format!("Pack {kiln} now with {load} {lots} ({full}) and {lit}.")
            }
            State::Packed => format!("{kiln} is packed with {load} {lots} ({full}): {lit}."),
            State::Lit => {
                format!("{kiln} is firing {load} ({lots}), lit {}.", self.at(light, light))
            }
        };
        let drop = self.at(self.tables.drop_at(firing), light);
        let from = duty::watch(self.tables, firing).0;
        let watch = match self.watchers(&duty) {
            Some(names) => format!("{names} {} from {}", verb(&duty), self.in_short(from, light)),
            None => format!("its watch begins {}, and nobody is there", self.at(from, light)),
        };
        let drawn = self.at(firing.draw, light);
        format!("{first} Its cone likely drops {drop}; {watch}. Draw it {drawn}.")
    }

    /// `Tuesday 3 March`.
    pub fn long_date(&self, minute: f64) -> String {
        self.weekday(minute, "%A %-d %B")
    }

    pub fn why(&self, at: usize) -> String {
        if self.plan.firings[at].state == State::Lit {
            return "it is firing already".into();
        }
        if self.plan.firings[at].held == Held::Whole {
            return KEPT.into();
        }
        let Some((lot, by, then)) = why::hurry(self.tables, self.plan, at) else {
            let full = full(self.full_share(at));
            return format!("the kiln is {full}, and to leave its lots waiting would cost more");
        };
        let then = then.map(|then| format!(" and still needs its {then} after this"));
        format!("{} is wanted by {}{}", self.lot(lot), self.on_day(by), then.unwrap_or_default())
    }

    /// Why a lot waits, and what would help.
    pub fn waits(&self, lot: usize, why: &WaitsWhy) -> (String, Option<String>) {
        let is = &self.tables.instance.lots[lot];
        let load = self.tables.instance.load_type_of(lot);
        match *why {
            WaitsWhy::After { first } => {
                let first = self.lot(first);
                (
                    format!("it needs {first} first, which waits as well"),
                    Some(format!("what helps {first}")),
                )
            }
            WaitsWhy::Barred => (LEFT_OUT.into(), Some(TAKEN_IN_AGAIN.into())),
            WaitsWhy::NoKiln => (format!("no kiln fires {load}"), None),
            WaitsWhy::TooLarge { most } => (
                format!(
                    "it takes {} l, and no kiln that fires {load} holds more than {most} l",
                    is.room_l
                ),
                Some("to divide it".into()),
            ),
            WaitsWhy::NobodyAtDrop { way, light, until, chance } => (
                format!(
                    "no kiln that may fire {load} can drop while somebody is there often enough; the best would be {}, lit {}, with {}",
                    self.kiln(way),
                    self.on_day(light),
                    in_100(chance)
                ),
                Some(format!("somebody there until {}", self.on_day(until))),
            ),
            WaitsWhy::Breaks { way, light, broken } => {
                let kiln = self.kiln(way);
                let fired =
                    format!("in {kiln}, lit {}, {}", self.on_day(light), self.broken(&broken));
                (format!("wherever it goes a rule is broken: {fired}"), self.remedy(&broken))
            }
            WaitsWhy::NotWorthIt { way, light, eur, room_left } => {
                let (kiln, light) = (self.kiln(way), self.on_day(light));
                let why = if eur > 0.0 {
                    format!(
                        "a firing for it, in {kiln}, lit {light}, costs {eur:.0} EUR more than to leave it waiting"
                    )
                } else {
                    format!(
                        "it could go into {kiln}, lit {light}; the search found nothing cheaper with it in"
                    )
                };
                let help = format!("{room_left:.0} l more of {load} to fill {kiln}");
                (why, Some(help).filter(|_| room_left >= 1.0 && eur > 0.0))
            }
        }
    }

    /// The same in sentences.
    pub fn waits_line(&self, lot: usize, why: &WaitsWhy) -> String {
        let (why, help) = self.waits(lot, why);
        let help = help.map_or(String::new(), |help| format!(" What would help: {help}."));
        format!("{why}.{help}")
    }

    pub fn late(&self, late: &Late) -> String {
        let Late { lot, wanted, drawn, days } = *late;
        let days = if days == 1.0 { "a day".to_owned() } else { format!("{days:.0} days") };
        format!(
            "{} is {days} late: wanted by {}, drawn by {}",
            self.lot(lot),
            self.on_day(wanted),
            self.on_day(drawn)
        )
    }

    /// `2026-03-03`, a day of the plan by its number.
    pub fn date(&self, day: i64) -> String {
        let noon = (day as f64 + 0.5) * 1440.0 - self.tables.instance.made_at_min;
        self.weekday(noon, "%F")
    }

    pub fn closing(&self) -> String {
        match self.day.tried {
            ..=1 => "No other plan was tried.".into(),
            tried => format!("Good, not proven to be the best: {tried} plans were tried."),
        }
    }

    /// Whether the plan said before holds; nothing where there is none.
    pub fn standing(&self) -> Option<String> {
        let Since { was, holds, changed } = self.day.since.as_ref()?;
        let said =
            was.said.map(|at| format!(" of {}", self.dial.time_and_day(at, self.day.made_at)));
        let how = match (holds, changed.is_empty() && was.gone.is_empty()) {
            (true, _) => "holds",
            (false, true) => "breaks a rule that no change of it keeps",
            (false, false) => "is changed",
        };
        Some(format!("The plan{} {how}.", said.unwrap_or_default()))
    }

    /// Every change since the plan said before: the number of its firing, what it is, and why.
    pub fn changes(&self) -> Vec<(usize, String, String)> {
        let Some(Since { was, changed, .. }) = &self.day.since else { return Vec::new() };
        let gone = was.gone.iter().map(|gone| {
            let (what, why) = self.gone(gone);
            (gone.firing, what, why)
        });
        let changed = changed.iter().map(|change| {
            let firing = match change.what {
                Change::Moved { at, .. } | Change::New { at } => &self.plan.firings[at],
                Change::LeftOut { was: at } => &was.plan.firings[at],
            };
            let (what, why) = self.changed(&was.plan, change);
            (firing.number, what, why)
        });
        gone.chain(changed).collect()
    }

    /// What one change of an old plan is, and why.
    fn changed(&self, old: &Plan, change: &Changed) -> (String, String) {
        let what = match change.what {
            Change::Moved { was, at } => self.moved(&old.firings[was], old, (was, at)),
            Change::LeftOut { was } => {
                let crate::plan::Firing { way, light, .. } = old.firings[was];
                let (load, kiln, lots) = (self.load_type(way), self.kiln(way), self.lots(old, was));
                format!("Leave out the {load} in {kiln} of {} with {lots}", self.on_day(light))
            }
            Change::New { at } => format!("{}, which was not planned", self.fire(at)),
        };
        let why = match change.reason {
            Reason::Breaks(broken) => {
                let slow = self.slow(&broken).map(|slow| slow + "; ").unwrap_or_default();
                format!("{slow}else {}", self.broken(&broken))
            }
            Reason::Saves(eur) => format!("with the other changes this costs {eur:.0} EUR less"),
            Reason::Follows => "it follows from the other changes".into(),
        };
        (what, why)
    }

    fn fire(&self, at: usize) -> String {
        let firing = &self.plan.firings[at];
        let (load, kiln) = (self.load_type(firing.way), self.kiln(firing.way));
        let (lots, lit) = (self.lots(self.plan, at), self.on_day(firing.light));
        format!("Fire {load} {lots} in {kiln}, lit {lit}")
    }

    fn moved(&self, was: &crate::plan::Firing, old: &Plan, (old_at, at): (usize, usize)) -> String {
        let now = &self.plan.firings[at];
        let (kiln, light) = (self.kiln(now.way), now.light);
        let starts = self.tables.instance.kiln_of(now.way).starts_by_itself;
        let verb = if starts { "Start" } else { "Light" };
        let mut said = Vec::new();
        let same_day = self.is_on(was.light, light);
        if was.way != now.way {
            let (fire, before, lit) = (self.fire(at), self.kiln(was.way), self.on_day(was.light));
            said.push(format!("{fire}, instead of in {before}, lit {lit}"));
        } else if was.light != light {
            let (at, before) = match same_day {
                true => (self.at(light, 0.0), self.time(was.light)),
                false => (format!("on {}", self.on_day(light)), self.on_day(was.light)),
            };
            said.push(format!("{verb} {kiln} {at} instead of {before}"));
        } else if was.pack != now.pack && now.state == State::Planned {
            let (now, was) = (self.on_day(now.pack), self.on_day(was.pack));
            said.push(format!("Pack {kiln} from {now} instead of {was}"));
        } else if was.draw != now.draw {
            let (now, was) = (self.on_day(now.draw), self.on_day(was.draw));
            said.push(format!("Draw {kiln} on {now} instead of {was}"));
        }
        let before: Vec<usize> = old.lots_in(old_at).collect();
        let after: Vec<usize> = self.plan.lots_in(at).collect();
        let ids = |lots: &[usize], other: &[usize]| {
            self.ids(lots.iter().copied().filter(|lot| !other.contains(lot)))
        };
        let (into, out) = (ids(&after, &before), ids(&before, &after));
        for (lots, deed) in [(into, "put in"), (out, "leave out")] {
            if !lots.is_empty() {
                let place = if said.is_empty() {
                    format!("In {kiln}, {}, ", self.on_day(light))
                } else {
                    String::new()
                };
                said.push(format!("{place}{deed} {lots}"));
            }
        }
        said.join(", and ")
    }

    /// What was taken out of an old plan because it is no more.
    fn gone(&self, gone: &Gone) -> (String, String) {
        let (kiln, load, lots) = (&gone.kiln, &gone.load_type, in_a_row(&gone.lots));
        let all = format!("Leave out the {load} in {kiln} with {lots}");
        match gone.why {
            GoneWhy::NoKiln => (all, format!("there is no kiln {kiln} any more")),
            GoneWhy::CannotFire => (all, format!("{kiln} does not fire {load} any more")),
            GoneWhy::NoLot => (
                format!("Leave {lots} out of the {load} in {kiln}"),
                format!("there is no lot {lots} any more"),
            ),
            GoneWhy::Late { was, becomes } => {
                let [was, becomes] =
                    [was, becomes].map(|at| self.dial.time_and_day(at, self.day.made_at));
                (format!("Light {kiln} at {becomes} instead of {was}"), "it is not lit yet".into())
            }
        }
    }
}

/// Why nothing can be chosen of this lot.
pub fn no_choice(name: &str, lots: &[String]) -> String {
    let mut known = lots.to_vec();
    known.retain(|name| !name.is_empty());
    known.dedup();
    let known = in_a_row(&known);
    format!(
        "lot \"{name}\" cannot be chosen: it is not known here, is in a kiln already, or is not planned; name one of those in \"spyhole plan\": {known}"
    )
}

/// The plan that is gone by, in a phrase.
pub fn plan_phrase(adopted: &Adopted) -> String {
    match adopted.firings.len() {
        1 => "the plan to go by: it has 1 firing".into(),
        firings => format!("the plan to go by: it has {firings} firings"),
    }
}

const LEFT_OUT: &str = "you chose to leave it out";
const TAKEN_IN_AGAIN: &str =
    "to take it in again: n on page 7, or spyhole plan --leave-out once more";
const KEPT: &str = "you chose to keep it as it is";

pub const NOTHING_PLANNED: &str = "Nothing is fired.";

/// What was taken as usual, and how to say otherwise.
pub fn taken(taken: &Taken) -> String {
    match taken {
        Taken::Hours => {
            "Somebody is there from 8:00 to 18:00 every day: say when with spyhole hours set."
                .into()
        }
        Taken::Length { kilns, load_type, usual } => {
            let have = if kilns.len() > 1 { "have" } else { "has" };
            let kilns = in_a_row(kilns);
            format!("{kilns} {have} not fired {load_type} yet: about {usual}, in a wide window.")
        }
        Taken::NoLength { load_type } => format!(
            "How long {load_type} takes is not known, so it is not planned: say its usual time with spyhole load-type change."
        ),
        Taken::Fills { lots } => format!(
            "Taken as half a kiln: {}. If that is wrong, say how much with spyhole lot and --fills.",
            in_a_row(&lots.iter().map(|lot| format!("lot {lot}")).collect::<Vec<_>>())
        ),
        Taken::FilledBefore { load_type, times, kilns } => {
            let by = if *kilns == 1 { "1 kiln was" } else { &format!("{kilns} kilns were") };
            format!(
                "Lots of {load_type} fill {times:.1} times what is said of them, by how full {by}."
            )
        }
    }
}

fn verb(duty: &Duty) -> &'static str {
    if duty.watch.len() > 1 { "watch" } else { "watches" }
}

/// `full`, or how many tenths.
fn full(share: f64) -> String {
    let tenths = (share * 10.0).floor();
    if share >= 0.97 { "full".into() } else { format!("{tenths:.0} tenths full") }
}

/// `2 in 100`.
pub fn in_100(chance: f64) -> String {
    // Sums of chances may be a hair below nothing.
    let hundredths = (100.0 * chance).round().max(0.0) + 0.0;
    if hundredths == 0.0 && chance > 0.0 {
        return "less than 1 in 100".into();
    }
    format!("{hundredths:.0} in 100")
}
