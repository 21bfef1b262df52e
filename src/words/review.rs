//! What is said of what past firings teach.

mod drifted;
mod finding;
mod says;
pub mod tables;
mod which_table;

pub use drifted::{begun_anew, drifted};
pub use finding::{Finding, page_finding};
pub use says::{Says, Standing};
pub use which_table::ReviewTable;

use crate::firing::{Firing, FiringId, Verdict};
use crate::review::bench::{Casts, CastsBy};
use crate::review::calendar::day;
use crate::review::charts::FEWEST_IN_CONTROL;
use crate::review::cost::Costs;
use crate::review::decoration::{DEARER, Decoration};
use crate::review::drift::{Drift, Measure, ProbeOffset};
use crate::review::evenness::Evenness;
use crate::review::nearest::{Near, Repeat};
use crate::review::outcomes::{By, Outcomes, Trait, WentWith};
use crate::review::suggestion::{Change, Suggestion};
use crate::review::table::{Cell, fixed};
use crate::review::tolerance::{Edge, Side, Tolerance};
use crate::review::wilson::Share;
use crate::scene::{Page, ReviewRow, ReviewScene};
use crate::units::Scale;

/// How far a review is that has to look through firings for the first time.
pub fn digested(done: usize, all: usize) -> String {
    format!(
        "{done} of {all} firings looked through; what they come down to is kept for the next time."
    )
}

pub const NOTHING_TO_REVIEW: &str = "No firing that was lit is in this period.";
pub const NOTHING_DECORATED: &str =
    "No lot says what gold or decals are on it: spyhole lot gold --pieces 40 --gold 48.2-44.7";
pub const NOTHING_TO_ACCEPT: &str = "Nothing is suggested in this row that could be accepted.";
pub const ACCEPT_FROM_ALL: &str =
    "To accept a change, first show all kilns (k) and all time (p): it rests on the whole shop.";
pub const ACCEPT_NOTICE: &str =
    "It holds from now on and changes nothing that was written. u takes it back.";
pub const NOTHING_READ_YET: &str = "reading the ledger...";

/// The texts of one row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RowWords {
    pub name: String,
    pub figures: String,
    pub says: Says,
}

pub fn page_name(page: Page, way: usize) -> String {
    match page {
        Page::Outcomes => format!("Outcomes by {}", By::ALL[way % By::ALL.len()].name()),
        Page::Drift => "Drift".into(),
        Page::Tolerance => "Tolerance".into(),
        Page::Evenness => "Evenness".into(),
        Page::Cost => format!("Cost by {}", By::COSTS[way % By::COSTS.len()].name()),
        Page::Bench => format!("Casts by {}", CastsBy::ALL[way % CastsBy::ALL.len()].name()),
    }
}

/// `1 of 5`.
pub fn page_number(page: Page, bench: bool) -> String {
    let here = Page::ALL.iter().position(|known| *known == page).unwrap_or(0);
    format!("{} of {}", here + 1, Page::all(bench).len())
}

pub fn which_kilns(kiln: Option<&str>) -> String {
    kiln.map_or_else(|| "all kilns".into(), str::to_owned)
}

pub fn how_many_casts(casts: usize) -> String {
    if casts == 1 { "1 cast".into() } else { format!("{casts} casts") }
}

pub fn how_many(firings: usize) -> String {
    if firings == 1 { "1 firing".into() } else { format!("{firings} firings") }
}

fn went_with_sentence(row: &WentWith) -> String {
    let what = match row.what {
        Trait::LateLook => "looks that came late".to_owned(),
        Trait::LateOff => "a late shut-off".to_owned(),
        Trait::FastClimb => "a fast climb".to_owned(),
        Trait::PartLoad => "a part load".to_owned(),
        Trait::NeverSeenDown => "a target nobody saw down".to_owned(),
        _ => row.name(),
    };
    let (with, without) = (row.missed_with, row.missed_without);
    format!(
        "With {what}, {} of {} loads missed; without, {} of {}.",
        with.hits, with.of, without.hits, without.of
    )
}

/// `9` and `high`.
fn high_or_low(high_c: f64, scale: Scale) -> (String, &'static str) {
    let way = if high_c > 0.0 { "high" } else { "low" };
    (fixed(scale.degrees(high_c.abs()), 0), way)
}

/// `The probe on North reads 9 C high (+- 2 C).`
pub fn probe_sentence(probe: &ProbeOffset, scale: Scale) -> String {
    let (by, way) = high_or_low(probe.high_c, scale);
    let about = fixed(scale.degrees(probe.plus_or_minus_c), 0);
    let unit = scale.letter();
    format!("The probe on {} reads {by} {unit} {way} (+- {about} {unit}).", probe.kiln)
}

fn signed(value: f64, decimals: usize) -> String {
    let text = fixed(value, decimals);
    if value > 0.0 && text.bytes().any(|b| (b'1'..=b'9').contains(&b)) {
        format!("+{text}")
    } else {
        text
    }
}

/// The value of a series that is long enough for a chart and never moved.
fn unmoved(drift: &Drift) -> Option<f64> {
    let first = drift.values.first().copied()?;
    let enough = drift.values.len() >= FEWEST_IN_CONTROL && drift.chart.is_none();
    enough.then_some(first)
}

/// What a series has come to, in one sentence.
pub fn drift_sentence(drift: &Drift, scene: &ReviewScene, scale: Scale) -> String {
    let anew = begun_anew(drift, scene.ahead).map(|anew| anew + " ").unwrap_or_default();
    anew + &come_to(drift, scene, scale)
}

fn come_to(drift: &Drift, scene: &ReviewScene, scale: Scale) -> String {
    let whose = match &drift.load_type {
        None if drift.measure == Measure::LetsGo => format!("Mould {}", drift.kiln),
        Some(load) => format!("{} with {load}", drift.kiln),
        None => format!("The probe on {}", drift.kiln),
    };
    let count = drift.values.len();
    let unit = drift.measure.unit(scale);
    let Some(chart) = &drift.chart else {
        if let Some(always) = unmoved(drift) {
            let always = fixed(drift.measure.shown(always, scale), 0);
            let name = drift.measure.name();
            return format!("{whose}: {name} was {always} {unit} in each of {count} firings.");
        }
        let count = match drift.measure {
            Measure::LetsGo => how_many_casts(count) + " with a known window",
            measure => {
                let firings = if count == 1 { "firing" } else { "firings" };
                format!("{count} {firings} with a known {}", measure.name())
            }
        };
        return format!("{whose}: {count} are too few to say what is usual.");
    };
    drifted(drift, scale, scene.ahead).unwrap_or_else(|| {
        format!(
            "{whose}: {} is usually {} {unit} with {} {unit} of scatter; no lasting change in {}.",
            drift.measure.name(),
            fixed(drift.measure.shown(chart.in_control.mean, scale), 0),
            fixed(drift.measure.shown(chart.in_control.sigma, scale), 1),
            if drift.measure == Measure::LetsGo { how_many_casts(count) } else { how_many(count) }
        )
    })
}

/// What is known of one side of a load type, in one sentence.
pub fn tolerance_sentence(row: &Tolerance, side: Side) -> String {
    let edge = row.edge(side);
    let (load, figure, name) = (&row.load_type, fixed(edge.figure, 1), side.name());
    match edge.suggested() {
        Some(to) => {
            let way = if to > edge.figure { "more" } else { "less" };
            format!(
                "{load} forgives {way} than set: {} cones {name} instead of {figure}, on {} firings with {} misses.",
                fixed(to, 1),
                edge.cases,
                edge.missed
            )
        }
        None => format!(
            "{load}: half would miss at {} cones {name} ({} to {}); its figure is {figure}. {} firings, {} missed.",
            fixed(edge.p50, 2),
            fixed(edge.p025, 2),
            fixed(edge.p975, 2),
            edge.cases,
            edge.missed
        ),
    }
}

/// Where a kiln is hottest and coldest, and what to do about it.
pub fn evenness_sentence(map: &Evenness, scale: Scale) -> String {
    let (Some(cold), Some(hot)) = (map.places.first(), map.places.last()) else {
        return String::new();
    };
    let unit = scale.letter();
    let advice = match map.steady.as_slice() {
        [] => "Too few cones yet to say where it is steady.".to_owned(),
        steady => format!("Put what forgives least here: {}.", steady.join(", ")),
    };
    format!(
        "{}: {} is coldest, {} is hottest, {} {unit} and {} cones apart. {advice}",
        map.kiln,
        cold.place,
        hot.place,
        fixed(scale.degrees(map.spread_c), 0),
        fixed(hot.differs_cones - cold.differs_cones, 1)
    )
}

/// The texts of a row; `roomy` adds what a narrow screen leaves out.
pub fn review_row(row: &ReviewRow<'_>, scene: &ReviewScene, scale: Scale, roomy: bool) -> RowWords {
    let (name, figures) = match row {
        ReviewRow::Outcomes(_, group) => (group.group.clone(), outcomes_figures(group, roomy)),
        ReviewRow::WentWith(row) => {
            let (with, without) = (row.missed_with, row.missed_without);
            let figures = format!(
                "missed {} of {}, without it {} of {}",
                with.hits, with.of, without.hits, without.of
            );
            (row.name(), figures)
        }
        ReviewRow::Overshoot(row) => {
            let minutes = row.minutes.map(|minutes| format!("{} min late", fixed(minutes, 1)));
            let cones = row.cones.map(|cones| format!("{} cones", signed(cones, 2)));
            let figures: Vec<String> = minutes.into_iter().chain(cones).collect();
            (format!("{}, middle", row.verdict.name()), figures.join(", "))
        }
        ReviewRow::Probe(probe, _) => {
            let (_, way) = high_or_low(probe.high_c, scale);
            let figures = format!(
                "reads {} {} {way}, +- {}",
                fixed(scale.degrees(probe.high_c.abs()), 1),
                scale.letter(),
                fixed(scale.degrees(probe.plus_or_minus_c), 1)
            );
            (format!("{} probe", probe.kiln), figures)
        }
        ReviewRow::Series(drift) => series_words(drift, scene, scale),
        ReviewRow::Edge(row, side) => {
            (format!("{} {}", row.load_type, side.name()), edge_figures(row.edge(*side), roomy))
        }
        ReviewRow::Place(map, at) => {
            let place = &map.places[*at];
            let figures = format!(
                "{} {} +- {}, {} cones",
                signed(scale.degrees(place.differs_c), 1),
                scale.letter(),
                fixed(scale.degrees(place.plus_or_minus_c), 1),
                signed(place.differs_cones, 2)
            );
            (format!("{}, {}", map.kiln, place.place), figures)
        }
        ReviewRow::Costs(_, group) => (group.group.clone(), cost_figures(group, scene, roomy)),
        ReviewRow::Decoration(row) => (row.name.to_owned(), decoration_figures(row)),
        ReviewRow::Casts(_, group) => {
            let Casts { group, forced, cracked, missed, .. } = group;
            let casts = how_many_casts(missed.of);
            (group.clone(), format!("{casts}, {forced} forced, {cracked} cracked"))
        }
    };
    RowWords { name, figures, says: says::of_row(row) }
}

fn outcomes_figures(group: &Outcomes, roomy: bool) -> String {
    let pieces = Some(group.pieces).filter(|pieces| roomy && pieces.of > 0);
    let pieces = pieces.map(|Share { hits, of, .. }| format!(", {hits} of {of} pieces good"));
    let (under, over) = (group.under.hits, group.over.hits);
    let counts = format!(", {under} under, {over} over{}", pieces.unwrap_or_default());
    let good = group.good;
    match good.value().filter(|_| good.says_something()) {
        Some(_) => format!("{}{}", good.text(), if roomy { counts } else { String::new() }),
        None => format!("{} of {}{counts}", good.hits, good.of),
    }
}

/// The name of a series and its figures.
pub fn series_words(drift: &Drift, scene: &ReviewScene, scale: Scale) -> (String, String) {
    let measure = match drift.measure {
        Measure::TimeToDrop => "to the drop",
        Measure::FinalClimb => "final climb",
        Measure::Soak => "soak",
        Measure::ProbeHigh => "probe",
        Measure::LetsGo => "letting go",
    };
    let name = match &drift.load_type {
        Some(load) => format!("{} {load} {measure}", drift.kiln),
        None => format!("{} {measure} chart", drift.kiln),
    };
    let unit = drift.measure.unit(scale);
    let shown = |value: f64, decimals| fixed(drift.measure.shown(value, scale), decimals);
    let figures = match (&drift.chart, drift.signal().zip(drift.since())) {
        (_, Some((signal, since))) => format!(
            "{}{} {unit} +- {} since {}",
            if signal.change > 0.0 { "+" } else { "" },
            shown(signal.change, 1),
            shown(signal.plus_or_minus, 1),
            day(since, scene.ahead)
        ),
        (Some(chart), None) => format!(
            "usual {} {unit}, scatter {}",
            shown(chart.in_control.mean, 1),
            shown(chart.in_control.sigma, 1)
        ),
        (None, None) => match unmoved(drift) {
            Some(always) => format!("always {} {unit}", shown(always, 1)),
            None if drift.measure == Measure::LetsGo => how_many_casts(drift.values.len()),
            None => how_many(drift.values.len()),
        },
    };
    (name, figures)
}

fn edge_figures(edge: &Edge, roomy: bool) -> String {
    let interval = format!(
        "figure {}, edge {} ({} to {})",
        fixed(edge.figure, 1),
        fixed(edge.p50, 2),
        fixed(edge.p025, 2),
        fixed(edge.p975, 2)
    );
    match roomy {
        true => format!("{interval}, {} of {} missed", edge.missed, edge.cases),
        false => interval,
    }
}

fn decoration_figures(row: &Decoration) -> String {
    let money = |value: Option<f64>| Cell::number(value, 2).shown();
    let dearer = row.gold_price.map(|price| price * DEARER);
    let [now, at, then] = [row.total(row.gold_price), dearer, row.total(dearer)].map(money);
    format!("a piece {now}, with gold at {at} {then}")
}

fn cost_figures(group: &Costs, scene: &ReviewScene, roomy: bool) -> String {
    let loads = if group.loads == 1 { "1 load".into() } else { format!("{} loads", group.loads) };
    let lost = fixed(group.lost.total(), 2);
    if !scene.priced {
        let noted = group.lost.total() > 0.0;
        return if noted { format!("{loads}, losses {lost}") } else { loads };
    }
    let per_load = fixed(group.total / group.loads.max(1) as f64, 2);
    let piece = match group.per_piece {
        Some(piece) if roomy => format!(", {} a piece", fixed(piece, 2)),
        _ => String::new(),
    };
    format!("{loads} at {per_load}{piece}, losses {lost}")
}

/// What a row comes to, for the lines below the list.
pub fn row_sentence(row: &ReviewRow<'_>, scene: &ReviewScene, scale: Scale) -> String {
    match row {
        ReviewRow::Probe(probe, _) => probe_sentence(probe, scale),
        ReviewRow::Series(drift) => drift_sentence(drift, scene, scale),
        ReviewRow::Edge(row, side) => tolerance_sentence(row, *side),
        ReviewRow::Place(map, _) => evenness_sentence(map, scale),
        ReviewRow::WentWith(row) => went_with_sentence(row),
        _ => String::new(),
    }
}

/// Every number of a row with its heading, then how it comes about.
pub fn why_lines(row: &ReviewRow<'_>, scene: &ReviewScene, scale: Scale) -> Vec<String> {
    let table = tables::row_table(row, scale, scene.ahead);
    let Some(of_row) = table.rows.first() else { return Vec::new() };
    let told = table.columns.iter().zip(&of_row.cells).filter(|(_, cell)| **cell != Cell::text(""));
    let numbers: Vec<String> =
        told.map(|(column, cell)| format!("{}: {}", column.heading, cell.shown())).collect();
    let rests = match of_row.firings.len() {
        0 => String::new(),
        firings => format!("Rests on {}; Enter opens one:", how_many(firings)),
    };
    vec![format!("{}.", numbers.join("; ")), format!("How: {}.", of_row.formula), rests]
}

pub fn why_title(row: &RowWords) -> String {
    format!("Why: {}", row.name)
}

/// `add -9 C to what the probe of North reads, on 20 firings`.
pub fn accepted_phrase(suggestion: &Suggestion, scale: Scale) -> String {
    let firings = how_many(suggestion.evidence.len());
    format!("{}, on {firings}", change_phrase(&suggestion.change, scale))
}

/// `add -9 C to what the probe of North reads`, `gold forgives 0.7 cones under and 0.4 cones over`.
pub fn change_phrase(change: &Change, scale: Scale) -> String {
    match change {
        Change::ProbeCorrection { kiln, add_c } => format!(
            "add {} {} to what the probe of {kiln} reads",
            fixed(scale.degrees(*add_c), 0),
            scale.letter()
        ),
        Change::Tolerance { load_type, under_cones, over_cones } => {
            let side = |name: &str, cones: &Option<f64>| {
                cones.map(|cones| format!("{} cones {name}", fixed(cones, 1)))
            };
            let sides: Vec<String> = [side("under", under_cones), side("over", over_cones)]
                .into_iter()
                .flatten()
                .collect();
            format!("{load_type} forgives {}", sides.join(" and "))
        }
    }
}

pub fn since(day: &str) -> String {
    format!("since {day}")
}

/// What is drawn in the picture of a series.
pub const CHART_MEANS: &str =
    "dots: firings; line: the average that follows them; band: where it usually stays";

/// What the bars of a page mean.
pub fn bars_mean(page: Page) -> &'static str {
    match page {
        Page::Outcomes => "bar: share good, below share missed; whiskers: 95 % sure",
        Page::Drift => "chart: dots firings, line their average, dashes its limits",
        Page::Tolerance => "stroke: the figure; whiskers: where half of the loads miss",
        Page::Evenness => "bar: this place was colder (left) or hotter (right) than the kiln",
        Page::Cost => "dark: cost; light: losses",
        Page::Bench => "bar: share forced or cracked; whiskers: 95 % sure",
    }
}

/// Under a chart of months: what its columns mean.
pub fn months_mean(page: Page) -> &'static str {
    match page {
        Page::Cost => "each month, dark: cost; light: losses",
        _ => "each month, dark: loads; light: misses",
    }
}

pub fn most_in_a_month(most: &str) -> String {
    format!("tallest {most}")
}

/// The lanes of a chart of overshoot, from above, and what stands left of the figures.
pub const LANES: [(Verdict, &str); 3] =
    [(Verdict::Under, "under"), (Verdict::Good, "good"), (Verdict::Over, "over")];
pub const FIGURE_LANE: &str = "figure";
pub const EDGE_LANE: &str = "edge";
pub const CONES_LANE: &str = "cones";

/// The firings that went most like one, nearest first.
pub fn nearest_line(kiln: &str, near: &[(Near, Option<Verdict>)], scale: Scale) -> String {
    let one = |(near, verdict): &(Near, Option<Verdict>)| {
        let apart = fixed(scale.degrees(near.apart_c), 0);
        let came_out = verdict.map_or("", |verdict| verdict.name());
        let text = format!("{} ({apart} {} apart, {came_out})", near.id, scale.letter());
        text.replace(", )", ")")
    };
    match near {
        [] => format!(
            "No past firing of {kiln} has readings over enough of the same hours to be compared."
        ),
        _ => {
            format!("Most like it: firing {}.", near.iter().map(one).collect::<Vec<_>>().join(", "))
        }
    }
}

/// The schedule that was made from a firing, and how near it keeps to it.
pub fn schedule_written(path: &str, repeat: &Repeat, scale: Scale) -> String {
    format!(
        "{path}: {} segments; none of {} readings is further than {} {} from it.",
        repeat.schedule.segments.len(),
        repeat.readings,
        fixed(scale.degrees(repeat.furthest_c), 0),
        scale.letter()
    )
}

/// Where the card of a firing is.
pub fn card_written(path: &str, firing: FiringId) -> String {
    format!("The card of firing {firing} is in {path}.")
}

pub fn will_write_file(path: &str) -> String {
    format!("Enter writes {path}.")
}

/// What a schedule made from a firing is called.
pub fn repeat_name(firing: &Firing) -> String {
    format!("{} in {}, as firing {}", firing.load_type, firing.kiln, firing.id)
}

pub const SAY_WARE: &str = "First say what is fired, so that its cautions are known.";
pub const SAY_FILE: &str = "First say what the file is to be called.";
