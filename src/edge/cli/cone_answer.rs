//! What a cone that somebody entered stands for, so that 06 is never taken for 6.

use serde_json::{Value, json};

use crate::cone::{Cone, Family, chart, curve};
use crate::units::{CelsiusPerHour, Scale};

/// The rates the answer is given for: the chart's usual ones, or what is published of this cone.
fn rates(cone: Cone, family: Family) -> Vec<CelsiusPerHour> {
    let published: Vec<_> = chart::rows(cone, family).iter().map(|row| row.rate).collect();
    let usual: Vec<_> =
        published.iter().copied().filter(|rate| [60.0, 150.0].contains(&rate.0)).collect();
    if usual.is_empty() { published } else { usual }
}

/// `Cone 018 ends at 715 C when it climbs 60 C/h, at 734 C when it climbs 150 C/h.`
pub fn sentence(cone: Cone, family: Family, scale: Scale) -> String {
    let ends: Vec<String> = ends(cone, family)
        .into_iter()
        .map(|(rate, end)| {
            format!("at {} when it climbs {}", end.display(scale), rate.display(scale))
        })
        .collect();
    format!("Cone {cone} ({family}) ends {}.", ends.join(", "))
}

fn ends(cone: Cone, family: Family) -> Vec<(CelsiusPerHour, crate::units::Celsius)> {
    rates(cone, family)
        .into_iter()
        .filter_map(|rate| Some((rate, curve(cone, family).ok()?.end_point(rate).ok()?.end)))
        .collect()
}

/// The same for programs.
pub fn object(cone: Cone, family: Family) -> Value {
    let ends: Vec<Value> = ends(cone, family)
        .into_iter()
        .map(|(rate, end)| {
            json!({ "rate_c_per_h": rate.0, "end_c": end.0, "end_f": end.fahrenheit().round() })
        })
        .collect();
    json!({ "cone": cone.name(), "family": family.name(), "ends": ends })
}
