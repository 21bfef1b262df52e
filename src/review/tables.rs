//! Each answer of the review laid out as a table, with the formula and the firings of every row.

use super::cost::{Costs, FuelFrom, MINUTES_A_LOOK};
use super::drift::{Drift, Measure, ProbeOffset};
use super::evenness::Evenness;
use super::nearest::Near;
use super::outcomes::{By, Outcomes, Overshoot, WentWith};
use super::own_record::OwnRecord;
use super::suggestion::Change;
use super::table::{Cell, Table, fixed};
use super::tolerance::{Edge, FEWEST_TO_SUGGEST, FEWEST_TO_WIDEN, Tolerance};
use super::wilson::Share;
use crate::review::calendar::Day;
use crate::units::{Celsius, Scale, Span};

/// A difference of temperatures in the scale asked for.
pub fn degrees(c: f64, scale: Scale) -> f64 {
    match scale {
        Scale::Celsius => c,
        Scale::Fahrenheit => c * 1.8,
    }
}

/// The letter of the scale.
pub fn letter(scale: Scale) -> &'static str {
    match scale {
        Scale::Celsius => "C",
        Scale::Fahrenheit => "F",
    }
}

/// One of two keys or headings, by scale.
fn by_scale(scale: Scale, c: &'static str, f: &'static str) -> &'static str {
    match scale {
        Scale::Celsius => c,
        Scale::Fahrenheit => f,
    }
}

fn percent(share: Share, value: f64) -> Cell {
    if share.says_something() { Cell::Number(value * 100.0, 0) } else { Cell::Unknown }
}

pub fn outcomes(by: By, groups: &[Outcomes]) -> Table {
    let columns = [
        (by.name(), by.name()),
        ("firings", "firings"),
        ("under", "under"),
        ("good", "good"),
        ("over", "over"),
        ("good_percent", "good %"),
        ("good_low_percent", "from %"),
        ("good_high_percent", "to %"),
        ("trend_points", "later half"),
        ("says", "says"),
    ];
    let mut table = Table::new(format!("Outcomes by {}", by.name()), &columns);
    for group in groups {
        let good = group.good;
        let trend = match group.trend {
            None => "too few to say a trend",
            Some(trend) if !trend.is_clear() => "no clear change",
            Some(trend) if trend.difference > 0.0 => "better",
            Some(_) => "worse",
        };
        let says = if good.says_something() { trend } else { "too few to say" };
        let formula = format!(
            "counts of outcomes; good: {}, Wilson's 95 % interval; later half less earlier half: {}",
            good.text(),
            match group.trend {
                Some(t) => format!(
                    "{} points, Newcombe's 95 % interval {} to {}",
                    fixed(t.difference * 100.0, 0),
                    fixed(t.low * 100.0, 0),
                    fixed(t.high * 100.0, 0)
                ),
                None => "too few in a half to say".to_owned(),
            }
        );
        let cells = vec![
            Cell::text(&group.group),
            Cell::Count(good.of),
            Cell::Count(group.under.hits),
            Cell::Count(good.hits),
            Cell::Count(group.over.hits),
            good.value().map_or(Cell::Unknown, |value| percent(good, value)),
            percent(good, good.low),
            percent(good, good.high),
            Cell::number(group.trend.map(|t| t.difference * 100.0), 0),
            Cell::text(says),
        ];
        table.row(cells, formula, group.firings.clone());
        if !good.says_something() {
            table.remarks.push(format!("{}: good {}.", group.group, good.text()));
        }
    }
    table
}

/// How many drops the windows held that were told before them, each row of windows kept at another
/// time of the firing.
pub fn windows(kept: &[(&str, OwnRecord)]) -> Table {
    let columns = [
        ("window", "window"),
        ("drops", "drops"),
        ("held", "held"),
        ("held_percent", "held %"),
        ("held_low_percent", "from %"),
        ("held_high_percent", "to %"),
    ];
    let mut table = Table::new("Drops held by the windows told before them", &columns);
    for (name, record) in kept.iter().filter(|(_, record)| record.told.of > 0) {
        let held = record.told;
        let formula = format!(
            "{name}: drops seen within the window of 9 in 10 told then, of the last {}; {}, Wilson's 95 % interval; as reckoned, before the shop's own record widened or narrowed it: {} of {}",
            super::own_record::RECENT,
            held.text(),
            record.reckoned.hits,
            record.reckoned.of
        );
        let cells = vec![
            Cell::text(*name),
            Cell::Count(held.of),
            Cell::Count(held.hits),
            held.value().map_or(Cell::Unknown, |value| percent(held, value)),
            percent(held, held.low),
            percent(held, held.high),
        ];
        table.row(cells, formula, record.firings.clone());
    }
    table
}

pub fn went_with(traits: &[WentWith]) -> Table {
    let columns = [("missed_with", "missed with it"), ("missed_without", "missed without")];
    let says = ["goes with misses", "goes with good loads"];
    compared("What went with the misses", columns, says, traits)
}

pub fn late_looks(traits: &[WentWith]) -> Table {
    let columns = [("late_with", "late with it"), ("late_without", "late without")];
    let says = ["goes with late looks", "goes with looks in time"];
    compared("What the late looks had in common", columns, says, traits)
}

fn compared(
    title: &str,
    [with, without]: [(&'static str, &'static str); 2],
    [more, fewer]: [&str; 2],
    traits: &[WentWith],
) -> Table {
    let chance = ("by_chance_percent", "by chance, %");
    let columns = [("trait", "went with"), with, without, chance, ("says", "says")];
    let mut table = Table::new(title, &columns);
    for row in traits {
        let few = |share: Share| share.of < super::wilson::FEWEST_TO_SAY;
        let says = match row.difference {
            None => "nothing to compare",
            Some(d) if row.is_clear() && d.difference > 0.0 => more,
            Some(_) if row.is_clear() => fewer,
            Some(_) if few(row.missed_with) || few(row.missed_without) => "too few to say",
            Some(_) => "no clear difference",
        };
        let cells = vec![
            Cell::text(row.name()),
            Cell::text(row.missed_with.text()),
            Cell::text(row.missed_without.text()),
            Cell::number(row.difference.map(|_| row.by_chance * 100.0), 1),
            Cell::text(says),
        ];
        let formula = format!(
            "{}: {}; by chance: Fisher's exact test, two-sided; clear when it is at most {} % after Holm's allowance for all rows, here {} %; the firings named are those missed with it",
            row.name(),
            row.what.meaning(),
            fixed(super::outcomes::CLEAR * 100.0, 0),
            fixed(row.by_chance_of_all * 100.0, 1)
        );
        table.row(cells, formula, row.firings.clone());
    }
    if traits.iter().any(WentWith::is_clear) {
        table.remarks.push("This is what went together, not what caused it.".to_owned());
    }
    table
}

pub fn overshoots(rows: &[Overshoot]) -> Table {
    let columns = [
        ("outcome", "outcome"),
        ("firings", "firings"),
        ("overshoot_min", "off after drop, min"),
        ("overshoot_cones", "over target, cones"),
    ];
    let mut table = Table::new("Overshoot by outcome (middle value)", &columns);
    for row in rows {
        let cells = vec![
            Cell::text(row.verdict.name()),
            Cell::Count(row.firings.len()),
            Cell::number(row.minutes, 1),
            Cell::number(row.cones, 2),
        ];
        let formula = "median of the firings; minutes: off less the middle between the last look that saw the target not down and the first that saw it down; cones: heat work of the readings, shifted so that the target is down at that middle";
        table.row(cells, formula, row.firings.clone());
    }
    table
}

pub fn drift(drifts: &[Drift], scale: Scale, ahead: Span) -> Table {
    let columns = [
        ("measure", "measure"),
        ("kiln", "kiln"),
        ("load", "load"),
        ("firings", "firings"),
        ("usual", "usual"),
        ("scatter", "scatter"),
        ("change", "change"),
        ("plus_or_minus", "+-"),
        ("unit", "unit"),
        ("since", "since"),
        ("says", "says"),
    ];
    let mut table = Table::new("Drift", &columns);
    for drift in drifts {
        let in_degrees = matches!(drift.measure, Measure::FinalClimb | Measure::ProbeHigh);
        let shown = |value: f64| if in_degrees { degrees(value, scale) } else { value };
        let unit = match (drift.measure, scale) {
            (Measure::FinalClimb, Scale::Fahrenheit) => "F/h",
            (Measure::ProbeHigh, Scale::Fahrenheit) => "F",
            (measure, _) => measure.unit(),
        };
        let usual = drift.chart.as_ref().map(|chart| chart.in_control);
        let signal = drift.signal();
        let since = drift.since().map(|at| Day::of(at, ahead).to_string());
        let says = match (&drift.chart, signal) {
            (None, _) => "too few to say",
            (Some(_), None) if drift.values.len() <= super::charts::IN_CONTROL => {
                "still learning what is usual"
            }
            (Some(_), None) => "as usual",
            (Some(_), Some(signal)) => drift.measure.where_to_look(signal.change > 0.0),
        };
        let cells = vec![
            Cell::text(drift.measure.name()),
            Cell::text(&drift.kiln),
            Cell::text(drift.load_type.as_deref().unwrap_or("any")),
            Cell::Count(drift.values.len()),
            Cell::number(usual.map(|usual| shown(usual.mean)), 1),
            Cell::number(usual.map(|usual| shown(usual.sigma)), 1),
            Cell::number(signal.map(|signal| shown(signal.change)), 1),
            Cell::number(signal.map(|signal| shown(signal.plus_or_minus)), 1),
            Cell::text(unit),
            since.map_or(Cell::Unknown, Cell::Text),
            Cell::text(says),
        ];
        let formula = format!(
            "usual: mean and standard deviation of the first {} firings; signal when the CUSUM (slack {} sigma) is beyond {} sigma and the EWMA (weight {}) beyond {} of its sigmas on the same side; change: mean since less usual mean, +- 95 %",
            super::charts::IN_CONTROL,
            super::charts::SLACK_SIGMA,
            super::charts::DECISION_SIGMA,
            super::charts::LAMBDA,
            super::charts::LIMIT_SIGMA
        );
        table.row(cells, formula, drift.evidence());
    }
    table
}

pub fn probes(offsets: &[ProbeOffset], scale: Scale) -> Table {
    let columns = [
        ("kiln", "kiln"),
        ("firings", "firings"),
        (
            by_scale(scale, "reads_high_c", "reads_high_f"),
            by_scale(scale, "reads high, C", "reads high, F"),
        ),
        (by_scale(scale, "plus_or_minus_c", "plus_or_minus_f"), "+-"),
        ("says", "says"),
    ];
    let mut table = Table::new("Probes against the cones", &columns);
    for probe in offsets {
        let add_c = probe.suggestion.as_ref().and_then(|suggestion| match suggestion.change {
            Change::ProbeCorrection { add_c, .. } => Some(add_c),
            Change::Tolerance { .. } => None,
        });
        let says = match add_c {
            Some(add_c) => format!(
                "add {} {} to what it reads, if you accept it",
                fixed(degrees(add_c, scale), 0),
                letter(scale)
            ),
            None => "no correction suggested".to_owned(),
        };
        let cells = vec![
            Cell::text(&probe.kiln),
            Cell::Count(probe.firings.len()),
            Cell::Number(degrees(probe.high_c, scale), 1),
            Cell::Number(degrees(probe.plus_or_minus_c, scale), 1),
            Cell::text(says),
        ];
        let formula = format!(
            "for each firing the shift of all readings with which the chart says \"down\" exactly at the drop as seen; weighted mean of the newest firings, and what is added to its readings now; +- 95 % with {} for the box of cones",
            Celsius::display_step(1.0, scale)
        );
        table.row(cells, &formula, probe.firings.clone());
    }
    table
}

pub fn tolerance(tolerances: &[Tolerance]) -> Table {
    let columns = [
        ("load", "load"),
        ("side", "side"),
        ("figure_cones", "figure"),
        ("edge_low_cones", "edge from"),
        ("edge_cones", "edge"),
        ("edge_high_cones", "edge to"),
        ("firings", "firings"),
        ("missed", "missed"),
        ("suggested_cones", "suggested"),
        ("says", "says"),
    ];
    let mut table = Table::new("Tolerance, in cones", &columns);
    for row in tolerances {
        for (side, edge) in [("under", &row.under), ("over", &row.over)] {
            let cells = vec![
                Cell::text(&row.load_type),
                Cell::text(side),
                Cell::Number(edge.figure, 1),
                Cell::Number(edge.p025, 2),
                Cell::Number(edge.p50, 2),
                Cell::Number(edge.p975, 2),
                Cell::Count(edge.cases),
                Cell::Count(edge.missed),
                Cell::number(edge.suggested(), 1),
                Cell::text(tolerance_says(edge)),
            ];
            let formula = format!(
                "edge: where half of the loads miss {side}, posterior median and 95 % from overshoot in cones and outcome, prior around the load type's own figure; suggested: what keeps nine of ten loads right with 9 in 10 certainty, here {} cones; at least {FEWEST_TO_SUGGEST} firings, {FEWEST_TO_WIDEN} to widen",
                fixed(edge.safe, 2)
            );
            table.row(cells, formula, row.firings.clone());
        }
    }
    table
}

fn tolerance_says(edge: &Edge) -> &'static str {
    match edge.suggested() {
        Some(to) if to > edge.figure => "forgives more than its figure",
        Some(_) => "forgives less than its figure",
        None if edge.cases < FEWEST_TO_SUGGEST => "too few to say",
        None => "its figure stands",
    }
}

pub fn evenness(maps: &[Evenness], scale: Scale) -> Table {
    let columns = [
        ("kiln", "kiln"),
        ("place", "place"),
        ("firings", "firings"),
        (by_scale(scale, "differs_c", "differs_f"), by_scale(scale, "differs, C", "differs, F")),
        (by_scale(scale, "plus_or_minus_c", "plus_or_minus_f"), "+-"),
        ("differs_cones", "in cones"),
        (by_scale(scale, "change_c", "change_f"), "later half"),
        ("says", "says"),
    ];
    let mut table = Table::new("Evenness: each place against the mean of its kiln", &columns);
    for map in maps {
        let ends = (map.places.first(), map.places.last());
        for place in &map.places {
            let says = if place.firings.len() < super::evenness::FEWEST_TO_SAY {
                "too few to say"
            } else if ends.0 == Some(place) {
                "coldest"
            } else if ends.1 == Some(place) {
                "hottest"
            } else {
                ""
            };
            let cells = vec![
                Cell::text(&map.kiln),
                Cell::text(&place.place),
                Cell::Count(place.firings.len()),
                Cell::Number(degrees(place.differs_c, scale), 1),
                Cell::Number(degrees(place.plus_or_minus_c, scale), 1),
                Cell::Number(place.differs_cones, 2),
                Cell::number(place.change_c.map(|(change, _)| degrees(change, scale)), 1),
                Cell::text(says),
            ];
            let formula = "each cone read says between which temperatures its place ended, at that firing's final climb; firing plus place fitted to all of them; later half less earlier half of the firings";
            table.row(cells, formula, place.firings.clone());
        }
        if !map.steady.is_empty() {
            let steady = map.steady.join(", ");
            table
                .remarks
                .push(format!("{}: put the loads that forgive least here: {steady}.", map.kiln));
        }
    }
    table
}

pub fn costs(title: &str, key: &'static str, rows: &[Costs]) -> Table {
    let columns = [
        (key, key),
        ("loads", "loads"),
        ("pieces", "pieces"),
        ("fuel", "fuel"),
        ("cones", "cones"),
        ("materials", "materials"),
        ("work", "work"),
        ("total", "total"),
        ("per_load", "a load"),
        ("per_piece", "a piece"),
        ("lost_under", "lost under"),
        ("lost_over", "lost over"),
        ("incomplete", "incomplete"),
    ];
    let mut table = Table::new(title, &columns);
    for row in rows {
        let cells = vec![
            Cell::text(&row.group),
            Cell::Count(row.loads),
            row.pieces.map_or(Cell::Unknown, |pieces| Cell::Count(pieces as usize)),
            Cell::Number(row.fuel, 2),
            Cell::Number(row.cones, 2),
            Cell::Number(row.things, 2),
            Cell::Number(row.work, 2),
            Cell::Number(row.total, 2),
            Cell::number((row.loads > 0).then(|| row.total / row.loads as f64), 2),
            Cell::number(row.per_piece, 2),
            Cell::Number(row.lost_under, 2),
            Cell::Number(row.lost_over, 2),
            Cell::Count(row.incomplete),
        ];
        let formula = format!(
            "fuel: {}, or else {}; each at the price of its day; work: minutes to pack and draw plus {MINUTES_A_LOOK} a look; lost: as noted, else the worth of a lost load or the cost of firing it again; incomplete: loads of which a part is not known and not in the sum",
            FuelFrom::Meter.name(),
            FuelFrom::DrawAndDuty.name()
        );
        table.row(cells, formula, row.firings.clone());
    }
    table
}

pub fn near(rows: &[Near], scale: Scale) -> Table {
    let columns = [
        ("firing", "firing"),
        (by_scale(scale, "apart_c", "apart_f"), by_scale(scale, "apart, C", "apart, F")),
        ("compared_min", "over"),
        ("same_kiln", "same kiln"),
        ("same_load", "same load"),
    ];
    let yes = |yes: bool| Cell::text(if yes { "yes" } else { "no" });
    let mut table = Table::new("Nearest past firings", &columns);
    for row in rows {
        let cells = vec![
            Cell::text(row.id.to_string()),
            Cell::Number(degrees(row.apart_c, scale), 1),
            Cell::text(row.over.to_string()),
            yes(row.same_kiln),
            yes(row.same_load),
        ];
        let formula = "root of the mean squared difference of the two curves at 60 moments over the time both have, from lit";
        table.row(cells, formula, vec![row.id]);
    }
    table
}
