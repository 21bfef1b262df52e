//! The day as it stands on a sheet for the wall.

use super::deeds::ADVICE;
use super::{PlanTold, full};
use crate::firing::{ConePack, Firing, Shop};
use crate::kiln::same_name;
use crate::plan::{State, duty};

/// What hangs beside every kiln. Common practice, no source.
pub const NOTHING_TOUCHES: &str =
    "No two pieces may touch: leave a finger's breadth between glazed pieces, and wipe every foot.";
pub const SHEET_COLUMNS: [&str; 6] = ["pack", "light", "not after", "watch", "drops about", "draw"];

/// Where cones stand that nobody said anything of. Common practice, no source.
const CONES_STAND: &str = "in sight of the spyhole";

/// One firing of the sheet.
#[derive(Debug)]
pub struct SheetRow {
    pub kiln: String,
    pub load_type: String,
    pub full: String,
    /// A cell for each of [`SHEET_COLUMNS`].
    pub cells: [String; 6],
    pub lots: Vec<String>,
}

/// Which cones go into a load, and where they stood when this kiln was packed with it last.
pub fn cones_of(row: &SheetRow, shop: &Shop, past: &[Firing]) -> String {
    let Some(load) = shop.load_type(&row.load_type) else { return String::new() };
    let pack = ConePack::usual(load.target, load.family);
    let cones: Vec<&str> = pack.cones().map(|cone| cone.name()).collect();
    let here = |one: &&Firing| same_name(&one.kiln, &row.kiln);
    let stood = past.iter().chain(&shop.open).filter(here).filter_map(|one| {
        let packing = one.packing.as_ref().filter(|said| !said.cones_stand.trim().is_empty())?;
        let same = same_name(&one.load_type, &load.name);
        Some(((same, one.lit), packing.cones_stand.as_str()))
    });
    let stand = stood.max_by_key(|(rank, _)| *rank).map_or(CONES_STAND, |(_, stand)| stand);
    format!("Cones {}, target {}: {stand}.", cones.join(", "), pack.target)
}

impl PlanTold<'_> {
    /// Today's firings, or the next one of a kiln.
    pub fn sheet_rows(&self, only: Option<&str>) -> Vec<SheetRow> {
        let of_kiln = |at: &usize| match only {
            Some(kiln) => self.kiln(self.plan.firings[*at].way) == kiln,
            None => self.is_today(*at),
        };
        let most = if only.is_some() { 1 } else { usize::MAX };
        let rows = (0..self.plan.firings.len()).filter(of_kiln).take(most);
        rows.map(|at| self.sheet_row(at)).collect()
    }

    fn sheet_row(&self, at: usize) -> SheetRow {
        let instance = &self.tables.instance;
        let firing = &self.plan.firings[at];
        let day = |at: f64| self.in_short(at, 0.0);
        let packed = matches!(firing.state, State::Packed | State::Lit);
        let latest = self.latest(at);
        let lit = firing.state == State::Lit;
        let watch = day(duty::watch(self.tables, firing).0);
        let watch = format!("{watch} {}", self.watchers(&self.duty(at)).unwrap_or_default());
        let lot = |lot: usize| {
            let is = &instance.lots[lot];
            let share = is.room_l / instance.kiln_of(firing.way).room_l;
            format!("{}: {:.0} pieces, {:.0} % of the kiln", is.id, is.pieces, 100.0 * share)
        };
        SheetRow {
            kiln: self.kiln(firing.way).to_owned(),
            load_type: self.load_type(firing.way).to_owned(),
            full: full(self.full_share(at)),
            cells: [
                if packed { "packed".into() } else { day(firing.pack) },
                day(firing.light),
                if lit { "lit".into() } else { day(latest) },
                watch.trim().to_owned(),
                day(self.tables.drop_at(firing)),
                day(firing.draw),
            ],
            lots: self.plan.lots_in(at).map(lot).collect(),
        }
    }

    /// When it was made.
    pub fn as_of(&self) -> String {
        let time = self.dial.time(self.day.asked_at);
        format!("As planned at {time}. {ADVICE}")
    }
}
