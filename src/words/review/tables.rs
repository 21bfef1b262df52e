//! Each answer of the review laid out as a table, with the formula and the firings of every row.

use std::slice::from_ref;

use super::says;
use crate::firing::mark::When;
use crate::review::bench::{Casts, CastsBy};
use crate::review::calendar::day;
use crate::review::charts::{DECISION_SIGMA, IN_CONTROL, LAMBDA, LIMIT_SIGMA, SLACK_SIGMA};
use crate::review::cost::{Costs, FuelFrom, MINUTES_A_LOOK};
use crate::review::decoration::{DEARER, Decoration};
use crate::review::drift::{Drift, ProbeOffset};
use crate::review::evenness::Evenness;
use crate::review::nearest::Near;
use crate::review::outcomes::{By, CLEAR, Outcomes, Overshoot, WentWith};
use crate::review::own_record::{OwnRecord, RECENT};
use crate::review::suggestion::Change;
use crate::review::table::{Cell, Table, Told, fixed};
use crate::review::tolerance::{FEWEST_TO_SUGGEST, FEWEST_TO_WIDEN, Side, Tolerance};
use crate::review::wilson::Share;
use crate::scene::ReviewRow;
use crate::units::{Celsius, Scale, Span};
use crate::words::when_word;

/// The table of one row, with its formula and firings.
pub fn row_table(row: &ReviewRow<'_>, scale: Scale, ahead: Span) -> Table {
    match *row {
        ReviewRow::Outcomes(by, group) => outcomes(by, from_ref(group)),
        ReviewRow::WentWith(row) => went_with(from_ref(row)),
        ReviewRow::Overshoot(row) => overshoots(from_ref(row)),
        ReviewRow::Probe(probe, true) => {
            probes(&[ProbeOffset { suggestion: None, ..probe.clone() }], scale)
        }
        ReviewRow::Probe(probe, false) => probes(from_ref(probe), scale),
        ReviewRow::Series(drift) => self::drift(from_ref(drift), scale, ahead),
        ReviewRow::Edge(row, side) => sides(&[(row, side)]),
        ReviewRow::Place(map, at) => places(&[(map, at)], scale),
        ReviewRow::Costs(by, group) => costs(by, from_ref(group)),
        ReviewRow::Decoration(row) => decorations(from_ref(row), None),
        ReviewRow::Casts(by, group) => casts(by, from_ref(group)),
    }
}

/// One of two keys or headings, by scale.
fn by_scale(scale: Scale, c: &'static str, f: &'static str) -> &'static str {
    match scale {
        Scale::Celsius => c,
        Scale::Fahrenheit => f,
    }
}

/// A share, or an end of its interval, in percent, where there are enough to say one.
fn percent(share: Share, value: Option<f64>) -> Cell {
    Cell::number(value.filter(|_| share.says_something()).map(|value| value * 100.0), 0)
}

pub fn outcomes(by: By, groups: &[Outcomes]) -> Table {
    let formula = |group: &Outcomes| {
        let later = group.trend.map(|t| {
            let [difference, low, high] =
                [t.difference, t.low, t.high].map(|value| fixed(value * 100.0, 0));
            format!("{difference} points, Newcombe's 95 % interval {low} to {high}")
        });
        format!(
            "counts of outcomes; good: {}, Wilson's 95 % interval; later half less earlier half: {}",
            group.good.text(),
            later.unwrap_or_else(|| "too few in a half to say".to_owned())
        )
    };
    let columns: &[Told<'_, Outcomes>] = &[
        (by.name(), by.name(), &|g| Cell::text(&g.group)),
        ("firings", "firings", &|g| Cell::Count(g.good.of)),
        ("under", "under", &|g| Cell::Count(g.under.hits)),
        ("good", "good", &|g| Cell::Count(g.good.hits)),
        ("over", "over", &|g| Cell::Count(g.over.hits)),
        ("pieces_good", "pieces good", &|g| Cell::Count(g.pieces.hits)),
        ("pieces_counted", "counted", &|g| Cell::Count(g.pieces.of)),
        ("good_percent", "good %", &|g| percent(g.good, g.good.value())),
        ("good_low_percent", "from %", &|g| percent(g.good, Some(g.good.low))),
        ("good_high_percent", "to %", &|g| percent(g.good, Some(g.good.high))),
        ("trend_points", "later half", &|g| Cell::number(g.trend.map(|t| t.difference * 100.0), 0)),
        ("says", "says", &|g| Cell::text(says::of_outcomes(g).table)),
    ];
    let title = format!("Outcomes by {}", by.name());
    let mut table = Table::of(title, groups, columns, |g| (formula(g), g.firings.clone()));
    let few = groups.iter().filter(|group| !group.good.says_something());
    table.remarks.extend(few.map(|group| format!("{}: good {}.", group.group, group.good.text())));
    table
}

/// How casts came out.
pub fn casts(by: CastsBy, groups: &[Casts]) -> Table {
    let formula = |group: &Casts| {
        format!(
            "casts whose opening was noted, of the last two years; forced or cracked by the hour: {}, Wilson's 95 % interval",
            group.missed.text()
        )
    };
    let columns: &[Told<'_, Casts>] = &[
        ("group", by.name(), &|g| Cell::text(&g.group)),
        ("casts", "casts", &|g| Cell::Count(g.missed.of)),
        ("forced", "forced", &|g| Cell::Count(g.forced)),
        ("cracked", "cracked", &|g| Cell::Count(g.cracked)),
        ("missed_percent", "either %", &|g| percent(g.missed, g.missed.value())),
        ("missed_low_percent", "from %", &|g| percent(g.missed, Some(g.missed.low))),
        ("missed_high_percent", "to %", &|g| percent(g.missed, Some(g.missed.high))),
        ("says", "says", &|g| Cell::text(says::of_casts(g).table)),
    ];
    let title = format!("Casts by {}", by.name());
    Table::of(title, groups, columns, |group| (formula(group), Vec::new()))
}

/// How many drops the windows held that were told before them, each row of windows kept at another
/// time of the firing.
pub fn windows(kept: &[(When, OwnRecord)]) -> Table {
    let told: Vec<_> = kept.iter().filter(|(_, record)| record.told.of > 0).collect();
    let formula = |(when, record): &(When, OwnRecord)| {
        format!(
            "{}: drops seen within the window of 9 in 10 told then, of the last {RECENT}; {}, Wilson's 95 % interval; as reckoned, before the shop's own record widened or narrowed it: {} of {}",
            when_word(*when),
            record.told.text(),
            record.reckoned.hits,
            record.reckoned.of
        )
    };
    let columns: &[Told<'_, &(When, OwnRecord)>] = &[
        ("window", "window", &|(when, _)| Cell::text(when_word(*when))),
        ("drops", "drops", &|(_, r)| Cell::Count(r.told.of)),
        ("held", "held", &|(_, r)| Cell::Count(r.told.hits)),
        ("held_percent", "held %", &|(_, r)| percent(r.told, r.told.value())),
        ("held_low_percent", "from %", &|(_, r)| percent(r.told, Some(r.told.low))),
        ("held_high_percent", "to %", &|(_, r)| percent(r.told, Some(r.told.high))),
    ];
    let title = "Drops held by the windows told before them";
    Table::of(title, &told, columns, |row| (formula(row), row.1.firings.clone()))
}

pub fn went_with(traits: &[WentWith]) -> Table {
    let with = [("missed_with", "missed with it"), ("missed_without", "missed without")];
    compared("What went with the misses", with, str::to_owned, traits)
}

pub fn late_looks(traits: &[WentWith]) -> Table {
    let with = [("late_with", "late with it"), ("late_without", "late without")];
    let says =
        |says: &str| says.replace("misses", "late looks").replace("good loads", "looks in time");
    compared("What the late looks had in common", with, says, traits)
}

fn compared(
    title: &str,
    [with, without]: [(&'static str, &'static str); 2],
    told: impl Fn(&str) -> String,
    traits: &[WentWith],
) -> Table {
    let formula = |row: &WentWith| {
        format!(
            "{}: {}; by chance: Fisher's exact test, two-sided; clear when it is at most {} % after Holm's allowance for all rows, here {} %; the firings named are those missed with it",
            row.name(),
            row.what.meaning(),
            fixed(CLEAR * 100.0, 0),
            fixed(row.by_chance_of_all * 100.0, 1)
        )
    };
    let columns: &[Told<'_, WentWith>] = &[
        ("trait", "went with", &|row| Cell::text(row.name())),
        (with.0, with.1, &|row| Cell::text(row.missed_with.text())),
        (without.0, without.1, &|row| Cell::text(row.missed_without.text())),
        ("by_chance_percent", "by chance, %", &|row| {
            Cell::number(row.difference.map(|_| row.by_chance * 100.0), 1)
        }),
        ("says", "says", &|row| Cell::text(told(says::of_trait(row).table))),
    ];
    let mut table = Table::of(title, traits, columns, |row| (formula(row), row.firings.clone()));
    if traits.iter().any(WentWith::is_clear) {
        table.remarks.push("This is what went together, not what caused it.".to_owned());
    }
    table
}

pub fn overshoots(rows: &[Overshoot]) -> Table {
    let formula = "median of the firings; minutes: off less the middle between the last look that saw the target not down and the first that saw it down; cones: heat work of the readings, shifted so that the target is down at that middle";
    let columns: &[Told<'_, Overshoot>] = &[
        ("outcome", "outcome", &|row| Cell::text(row.verdict.name())),
        ("firings", "firings", &|row| Cell::Count(row.firings.len())),
        ("overshoot_min", "off after drop, min", &|row| Cell::number(row.minutes, 1)),
        ("overshoot_cones", "over target, cones", &|row| Cell::number(row.cones, 2)),
    ];
    let title = "Overshoot by outcome (middle value)";
    Table::of(title, rows, columns, |row| (formula.to_owned(), row.firings.clone()))
}

pub fn drift(drifts: &[Drift], scale: Scale, ahead: Span) -> Table {
    let formula = format!(
        "usual: mean and standard deviation of the first {IN_CONTROL} firings; signal when the CUSUM (slack {SLACK_SIGMA} sigma) is beyond {DECISION_SIGMA} sigma and the EWMA (weight {LAMBDA}) beyond {LIMIT_SIGMA} of its sigmas on the same side; change: mean since less usual mean, +- 95 %"
    );
    let usual = |d: &Drift| d.chart.as_ref().map(|chart| chart.in_control);
    let number = |d: &Drift, value: Option<f64>| {
        Cell::number(value.map(|value| d.measure.shown(value, scale)), 1)
    };
    let columns: &[Told<'_, Drift>] = &[
        ("measure", "measure", &|d| Cell::text(d.measure.name())),
        ("kiln", "kiln", &|d| Cell::text(&d.kiln)),
        ("load", "load", &|d| Cell::text(d.load_type.as_deref().unwrap_or("any"))),
        ("firings", "firings", &|d| Cell::Count(d.values.len())),
        ("usual", "usual", &|d| number(d, usual(d).map(|usual| usual.mean))),
        ("scatter", "scatter", &|d| number(d, usual(d).map(|usual| usual.sigma))),
        ("change", "change", &|d| number(d, d.signal().map(|signal| signal.change))),
        ("plus_or_minus", "+-", &|d| number(d, d.signal().map(|signal| signal.plus_or_minus))),
        ("unit", "unit", &|d| Cell::text(d.measure.unit(scale))),
        ("since", "since", &|d| {
            d.since().map_or(Cell::Unknown, |at| Cell::text(day(at, ahead).to_string()))
        }),
        ("says", "says", &|d| Cell::text(says::of_series(d).table)),
    ];
    let mut table = Table::of("Drift", drifts, columns, |d| (formula.clone(), d.evidence()));
    let changed = drifts.iter().filter_map(|drift| super::drifted(drift, scale, ahead));
    table.remarks.extend(changed);
    table.remarks.extend(drifts.iter().filter_map(|drift| super::begun_anew(drift, ahead)));
    table
}

pub fn probes(offsets: &[ProbeOffset], scale: Scale) -> Table {
    let formula = format!(
        "for each firing the shift of all readings with which the chart says \"down\" exactly at the drop as seen; weighted mean of the newest firings, and what is added to its readings now; +- 95 % with {} for the box of cones",
        Celsius::display_step(1.0, scale)
    );
    let says = |probe: &ProbeOffset| match probe.suggestion.as_ref().map(|s| &s.change) {
        Some(Change::ProbeCorrection { add_c, .. }) => format!(
            "add {} {} to what it reads, if you accept it",
            fixed(scale.degrees(*add_c), 0),
            scale.letter()
        ),
        _ => "no correction suggested".to_owned(),
    };
    let keys = [
        by_scale(scale, "reads_high_c", "reads_high_f"),
        by_scale(scale, "reads high, C", "reads high, F"),
        by_scale(scale, "plus_or_minus_c", "plus_or_minus_f"),
    ];
    let columns: &[Told<'_, ProbeOffset>] = &[
        ("kiln", "kiln", &|probe| Cell::text(&probe.kiln)),
        ("firings", "firings", &|probe| Cell::Count(probe.firings.len())),
        (keys[0], keys[1], &|probe| Cell::number(scale.degrees(probe.high_c), 1)),
        (keys[2], "+-", &|probe| Cell::number(scale.degrees(probe.plus_or_minus_c), 1)),
        ("says", "says", &|probe| Cell::text(says(probe))),
    ];
    let title = "Probes against the cones";
    let mut table =
        Table::of(title, offsets, columns, |probe| (formula.clone(), probe.firings.clone()));
    let accept = offsets.iter().filter(|probe| probe.suggestion.is_some());
    table.remarks.extend(
        accept.map(|probe| format!("To accept: spyhole review accept probe \"{}\"", probe.kiln)),
    );
    table
}

pub fn tolerance(tolerances: &[Tolerance]) -> Table {
    let both = |row| [(row, Side::Under), (row, Side::Over)];
    let mut table = sides(&tolerances.iter().flat_map(both).collect::<Vec<_>>());
    let accept = tolerances.iter().filter(|row| row.suggestion.is_some());
    table
        .remarks
        .extend(accept.map(|row| {
            format!("To accept: spyhole review accept tolerance \"{}\"", row.load_type)
        }));
    table
}

fn sides(rows: &[(&Tolerance, Side)]) -> Table {
    let formula = |(row, side): &(&Tolerance, Side)| {
        format!(
            "edge: where half of the loads miss {}, posterior median and 95 % from overshoot in cones and outcome, prior around the load type's own figure; suggested: what keeps nine of ten loads right with 9 in 10 certainty, here {} cones; at least {FEWEST_TO_SUGGEST} firings, {FEWEST_TO_WIDEN} to widen",
            side.name(),
            fixed(row.edge(*side).safe, 2)
        )
    };
    let columns: &[Told<'_, (&Tolerance, Side)>] = &[
        ("load", "load", &|(row, _)| Cell::text(&row.load_type)),
        ("side", "side", &|(_, side)| Cell::text(side.name())),
        ("figure_cones", "figure", &|(row, side)| Cell::number(row.edge(*side).figure, 1)),
        ("edge_low_cones", "edge from", &|(row, side)| Cell::number(row.edge(*side).p025, 2)),
        ("edge_cones", "edge", &|(row, side)| Cell::number(row.edge(*side).p50, 2)),
        ("edge_high_cones", "edge to", &|(row, side)| Cell::number(row.edge(*side).p975, 2)),
        ("firings", "firings", &|(row, side)| Cell::Count(row.edge(*side).cases)),
        ("missed", "missed", &|(row, side)| Cell::Count(row.edge(*side).missed)),
        ("suggested_cones", "suggested", &|(row, side)| {
            Cell::number(row.edge(*side).suggested(), 1)
        }),
        ("says", "says", &|(row, side)| Cell::text(says::of_edge(row.edge(*side)).table)),
    ];
    Table::of("Tolerance, in cones", rows, columns, |row| (formula(row), row.0.firings.clone()))
}

pub fn evenness(maps: &[Evenness], scale: Scale) -> Table {
    let rows = maps.iter().flat_map(|map| (0..map.places.len()).map(move |at| (map, at)));
    let mut table = places(&rows.collect::<Vec<_>>(), scale);
    let steady = maps.iter().filter(|map| !map.steady.is_empty());
    table.remarks.extend(steady.map(|map| {
        let steady = map.steady.join(", ");
        format!("{}: put the loads that forgive least here: {steady}.", map.kiln)
    }));
    table
}

fn places(rows: &[(&Evenness, usize)], scale: Scale) -> Table {
    let formula = "each cone read says between which temperatures its place ended, at that firing's final climb; firing plus place fitted to all of them; later half less earlier half of the firings";
    let number = |c: Option<f64>| Cell::number(c.map(|c| scale.degrees(c)), 1);
    let keys = [
        by_scale(scale, "differs_c", "differs_f"),
        by_scale(scale, "differs, C", "differs, F"),
        by_scale(scale, "plus_or_minus_c", "plus_or_minus_f"),
        by_scale(scale, "change_c", "change_f"),
    ];
    let columns: &[Told<'_, (&Evenness, usize)>] = &[
        ("kiln", "kiln", &|(map, _)| Cell::text(&map.kiln)),
        ("place", "place", &|(map, at)| Cell::text(&map.places[*at].place)),
        ("firings", "firings", &|(map, at)| Cell::Count(map.places[*at].firings.len())),
        (keys[0], keys[1], &|(map, at)| number(Some(map.places[*at].differs_c))),
        (keys[2], "+-", &|(map, at)| number(Some(map.places[*at].plus_or_minus_c))),
        ("differs_cones", "in cones", &|(map, at)| Cell::number(map.places[*at].differs_cones, 2)),
        (keys[3], "later half", &|(map, at)| {
            number(map.places[*at].change_c.map(|(change, _)| change))
        }),
        ("says", "says", &|(map, at)| Cell::text(says::of_place(map, *at).table)),
    ];
    let title = "Evenness: each place against the mean of its kiln";
    Table::of(title, rows, columns, |(map, at)| {
        (formula.to_owned(), map.places[*at].firings.clone())
    })
}

pub fn costs(by: By, rows: &[Costs]) -> Table {
    let formula = format!(
        "fuel: {}, or else {}; each at the price of its day; work: minutes to pack and draw plus {MINUTES_A_LOOK} a look; lost: as noted, else the worth of a lost load or the cost of firing it again, by its share where pieces were counted; incomplete: loads for which part of the cost is unknown and not in the sum",
        FuelFrom::Meter.name(),
        FuelFrom::DrawAndDuty.name()
    );
    let columns: &[Told<'_, Costs>] = &[
        (by.name(), by.name(), &|row| Cell::text(&row.group)),
        ("loads", "loads", &|row| Cell::Count(row.loads)),
        ("pieces", "pieces", &|row| {
            row.pieces.map_or(Cell::Unknown, |pieces| Cell::Count(pieces as usize))
        }),
        ("fuel", "fuel", &|row| Cell::number(row.fuel, 2)),
        ("cones", "cones", &|row| Cell::number(row.cones, 2)),
        ("materials", "materials", &|row| Cell::number(row.things, 2)),
        ("work", "work", &|row| Cell::number(row.work, 2)),
        ("total", "total", &|row| Cell::number(row.total, 2)),
        ("per_load", "a load", &|row| {
            Cell::number((row.loads > 0).then(|| row.total / row.loads as f64), 2)
        }),
        ("per_piece", "a piece", &|row| Cell::number(row.per_piece, 2)),
        ("per_good_piece", "a good piece", &|row| Cell::number(row.per_good_piece, 2)),
        ("lost_under", "lost under", &|row| Cell::number(row.lost.under, 2)),
        ("lost_over", "lost over", &|row| Cell::number(row.lost.over, 2)),
        ("lost_broken", "lost broken", &|row| Cell::number(row.lost.broken, 2)),
        ("incomplete", "incomplete", &|row| Cell::Count(row.incomplete)),
    ];
    let title = format!("Cost by {}", by.name());
    Table::of(title, rows, columns, |row| (formula.clone(), row.firings.clone()))
}

/// What a piece costs by how it is decorated, at the price of gold of the day and at another.
pub fn decorations(rows: &[Decoration], other: Option<f64>) -> Table {
    let other = |row: &Decoration| other.or(row.gold_price.map(|price| price * DEARER));
    let money = |value: Option<f64>| Cell::number(value, 2);
    let formula = "of one piece; gold and decals: what was said of the lots, at the price of the day; firing: fuel, cones and work of the shop's own loads of these types, for each of their pieces; lost: the share of these loads that came out under or over, times the worth of a piece, or another firing where it is fired again; where part of a sum is unknown, so is the sum";
    let columns: &[Told<'_, Decoration>] = &[
        ("decoration", "decoration", &|row| Cell::text(row.name)),
        ("pieces", "pieces", &|row| Cell::Count(row.pieces as usize)),
        ("gold_g", "gold, g", &|row| Cell::number(row.gold_g, 3)),
        ("decals", "decals", &|row| Cell::number(row.decals, 2)),
        ("gold", "gold", &|row| money(row.gold(row.gold_price))),
        ("decal_cost", "decals cost", &|row| money(row.decal)),
        ("firing", "firing", &|row| money(row.firing)),
        ("lost", "lost", &|row| money(row.lost)),
        ("total", "total", &|row| money(row.total(row.gold_price))),
        ("other_gold_price", "gold at", &|row| money(other(row))),
        ("total_then", "total then", &|row| money(row.total(other(row)))),
    ];
    let title = "Cost of a piece by decoration";
    Table::of(title, rows, columns, |row| (formula.to_owned(), row.firings.clone()))
}

pub fn near(rows: &[Near], scale: Scale) -> Table {
    let formula = "root of the mean squared difference of the two curves at 60 moments over the time both have, from lit";
    let yes = |yes: bool| Cell::text(if yes { "yes" } else { "no" });
    let keys = [by_scale(scale, "apart_c", "apart_f"), by_scale(scale, "apart, C", "apart, F")];
    let columns: &[Told<'_, Near>] = &[
        ("firing", "firing", &|row| Cell::text(row.id.to_string())),
        (keys[0], keys[1], &|row| Cell::number(scale.degrees(row.apart_c), 1)),
        ("compared_min", "over", &|row| Cell::text(row.over.to_string())),
        ("same_kiln", "same kiln", &|row| yes(row.same_kiln)),
        ("same_load", "same load", &|row| yes(row.same_load)),
    ];
    Table::of("Nearest past firings", rows, columns, |row| (formula.to_owned(), vec![row.id]))
}
