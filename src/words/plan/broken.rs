//! What is wrong with a plan, and what would help.

use super::{PlanTold, in_100};
use crate::plan::Broken;

impl PlanTold<'_> {
    pub(super) fn remedy(&self, broken: &Broken) -> Option<String> {
        let help = match broken {
            Broken::HandsShort { at, .. } if at.is_finite() => {
                format!("one more pair of hands on {}", self.on_day(*at))
            }
            Broken::WatchesMeet { .. } => "a time of day at which nothing else drops".into(),
            Broken::HotFromBefore | Broken::NotDrawnYet => "a kiln that is free sooner".into(),
            Broken::OnTheBench { .. } | Broken::DropsAfterEnd => "a longer plan".into(),
            Broken::NobodyPacks | Broken::NobodyLights => "somebody there sooner".into(),
            _ => return None,
        };
        Some(help)
    }

    /// What is wrong, as the second half of a sentence.
    pub fn broken(&self, broken: &Broken) -> String {
        let id = |lot: usize| self.lot(lot);
        match *broken {
            Broken::WrongLoadType { lot } => format!("{} is of another load type", id(lot)),
            Broken::Barred { lot } => format!("{} is to go elsewhere by your choice", id(lot)),
            Broken::TooFull { litres } => format!("its {litres:.0} l are more than it holds"),
            Broken::Empty => "it would be fired empty".into(),
            Broken::NobodyPacks => "nobody can pack it in time".into(),
            Broken::PackedBeforeNow => "its packing would have had to begin already".into(),
            Broken::LitBeforePacked => "it would be lit before it is packed".into(),
            Broken::LitLongAfterPacking => {
                "it would be lit more than a day after it is packed".into()
            }
            Broken::NobodyLights => "nobody is there to light it".into(),
            Broken::DropsAfterEnd => "it would drop after the plan's end".into(),
            Broken::NeedsFirst { lot } => format!("what {} needs first is not fired", id(lot)),
            Broken::OnTheBench { lot } => format!("{} would still be on the bench", id(lot)),
            Broken::NotDry { lot } => format!("{} would not be dry", id(lot)),
            Broken::NobodyDraws => "nobody is there to draw it".into(),
            Broken::DrawnHot { chance } => {
                format!("it would be cool in time with {} only", in_100(chance))
            }
            Broken::NobodyAtDrop { chance } => {
                format!("somebody would be there at its drop with {} only", in_100(chance))
            }
            Broken::HotFromBefore => "it would still be hot from before".into(),
            Broken::NotDrawnYet => "it would not be drawn yet from the firing before".into(),
            Broken::HandsShort { minutes, at } => {
                let from = at.is_finite().then(|| format!(" from {}", self.on_day(at)));
                let from = from.unwrap_or_default();
                format!("too few people would be there for {minutes:.0} min{from}")
            }
            Broken::GasAtOnce { kilns } => {
                let may = self.tables.instance.limits.gas_kilns_climbing_at_once;
                format!("{kilns} gas kilns would climb at once, and {may} may")
            }
            Broken::PowerAtOnce { kw } => {
                let may = self.tables.instance.limits.power_kw_at_once;
                format!("{kw:.1} kW would be drawn at once, and {may} kW are there")
            }
            Broken::WatchesMeet { chance, .. } => {
                format!("watches of that day would meet with {}", in_100(chance))
            }
        }
    }

    /// Which lit kiln is slower or faster than usual, where that is why watches would meet.
    pub(super) fn slow(&self, broken: &Broken) -> Option<String> {
        let Broken::WatchesMeet { day, .. } = broken else { return None };
        let firings = self.plan.firings.iter().filter(|firing| self.tables.day_of(firing) == *day);
        let off = firings.filter_map(|firing| {
            let usual = self.tables.instance.ways[firing.way].drop.p50;
            let minutes = (firing.forecast?.p50 - usual).round();
            (minutes.abs() >= 5.0).then_some((firing.way, minutes))
        });
        let (way, minutes) = off.max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))?;
        let how = if minutes > 0.0 { "slow" } else { "fast" };
        Some(format!("{} is {:.0} min {how}", self.kiln(way), minutes.abs()))
    }
}
