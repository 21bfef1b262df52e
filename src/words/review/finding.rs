//! The most important finding of each page of the review.

use super::{
    NOTHING_TO_REVIEW, Standing, drift_sentence, evenness_sentence, high_or_low, how_many_casts,
    probe_sentence, says, signed, tolerance_sentence, went_with_sentence,
};
use crate::review::bench::{BenchReview, Casts, CastsBy, LIFE};
use crate::review::drift::{Measure, ProbeOffset};
use crate::review::outcomes::{Outcomes, WentWith};
use crate::review::table::fixed;
use crate::review::tolerance::{Side, Tolerance};
use crate::review::wilson::Share;
use crate::scene::{Page, ReviewScene};
use crate::units::Scale;
use crate::words::{DROPS, held_line};

/// The most important finding of a page: a word to be read from across the room, and a sentence.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    pub big: String,
    pub say: String,
    /// Somebody should do something about it.
    pub loud: bool,
}

fn finding(big: impl Into<String>, say: impl Into<String>) -> Finding {
    Finding { big: big.into(), say: say.into(), loud: false }
}

fn loud(big: impl Into<String>, say: impl Into<String>) -> Finding {
    Finding { loud: true, ..finding(big, say) }
}

/// What a page comes down to.
pub fn page_finding(page: Page, scene: &ReviewScene, scale: Scale) -> Finding {
    if scene.past.is_empty() && page != Page::Bench {
        return finding("nothing yet", NOTHING_TO_REVIEW);
    }
    match page {
        Page::Outcomes => {
            let mut finding = outcomes_finding(scene);
            let Share { hits, of, .. } = scene.pieces;
            let pieces = format!(" {hits} of {of} pieces counted came out good.");
            finding.say.extend((of > 0).then_some(pieces));
            finding
                .say
                .extend(held_line(scene.own_record.told, DROPS).map(|held| format!(" {held}")));
            finding
        }
        Page::Drift => drift_finding(scene, scale),
        Page::Tolerance => tolerance_finding(scene),
        Page::Evenness => evenness_finding(scene, scale),
        Page::Cost => cost_finding(scene),
        Page::Bench => scene.bench.as_ref().map_or(finding("", ""), bench_finding),
    }
}

fn outcomes_finding(scene: &ReviewScene) -> Finding {
    let good = scene.good;
    let Some(value) = good.value().filter(|_| good.says_something()) else {
        let big =
            if good.of == 0 { "none yet".into() } else { format!("{} of {}", good.hits, good.of) };
        let say = match good.of {
            0 => "No firing of this period has its outcome.".into(),
            _ => {
                format!("{} of {} came out good: too few to say a share.", good.hits, good.of)
            }
        };
        return finding(big, say);
    };
    let percent = |share: f64| fixed(share * 100.0, 0);
    let counts = format!(
        "{} of {} came out good ({} to {} %).",
        good.hits,
        good.of,
        percent(good.low),
        percent(good.high)
    );
    let big = format!("{} % good", percent(value));
    let goes_with =
        |row: &&WentWith| row.is_clear() && row.missed_with.value() > row.missed_without.value();
    let by_size = |row: &&WentWith| row.difference.map_or(0.0, |difference| difference.difference);
    let clearest = scene.went_with.iter().filter(goes_with);
    if let Some(row) = clearest.max_by(|a, b| by_size(a).total_cmp(&by_size(b))) {
        let say = format!("{counts} {}", went_with_sentence(row));
        return loud(big, say);
    }
    let groups = scene.outcomes.first().map_or(&[] as &[Outcomes], |(_, groups)| groups);
    let worse = |group: &&Outcomes| group.trend.is_some_and(|t| t.is_clear() && t.difference < 0.0);
    if let Some(group) = groups.iter().find(worse) {
        return loud(big, format!("{counts} {} came out worse in its later half.", group.group));
    }
    finding(big, format!("{counts} Nothing stands out among the misses yet."))
}

fn drift_finding(scene: &ReviewScene, scale: Scale) -> Finding {
    let mut changed = scene.clearest_first().into_iter().filter(|drift| drift.signal().is_some());
    let open =
        |probe: &&ProbeOffset| probe.suggestion.is_some() && !scene.accepted.contains(&probe.kiln);
    let suggested = scene.probes.iter().find(open);
    if let Some(probe) = suggested {
        let (by, way) = high_or_low(probe.high_c, scale);
        let more = more_changed(changed.filter(|d| d.measure != Measure::ProbeHigh).count());
        let big = format!("{by} {} {way}", scale.letter());
        return loud(
            big,
            format!("{} Press a to set it right.{more}", probe_sentence(probe, scale)),
        );
    }
    if let Some(drift) = changed.next() {
        let more = more_changed(changed.count());
        let change = drift.signal().map_or(0.0, |signal| signal.change);
        let big = format!(
            "{} {}",
            signed(drift.measure.shown(change, scale), 0),
            drift.measure.unit(scale)
        );
        // No letter is as wide as a stroke: what stands for "an hour" is left to the sentence.
        let big = big.replace("/h", "");
        return loud(big, format!("{}{more}", drift_sentence(drift, scene, scale)));
    }
    let charted = scene.drifts.iter().filter(|drift| drift.chart.is_some()).count();
    let all = scene.drifts.len();
    match charted {
        0 => finding(
            "too few",
            format!(
                "None of the {all} kinds of firing has been fired often enough to say what is usual."
            ),
        ),
        _ => finding(
            "steady",
            format!(
                "Nothing has drifted: {charted} of {all} series have a chart, and none shows a lasting change."
            ),
        ),
    }
}

fn more_changed(series: usize) -> String {
    match series {
        0 => String::new(),
        1 => " One more series has changed.".into(),
        more => format!(" {more} more series have changed."),
    }
}

fn tolerance_finding(scene: &ReviewScene) -> Finding {
    let sides = || {
        let both = |row| [(row, Side::Under), (row, Side::Over)];
        scene.tolerances.iter().flat_map(both)
    };
    let suggested = |(row, side): &(&Tolerance, Side)| row.edge(*side).suggested().is_some();
    if let Some((row, side)) = sides().find(suggested) {
        let edge = row.edge(side);
        let to = fixed(edge.suggested().unwrap_or(edge.figure), 1);
        return loud(
            format!("{to} {}", side.name()),
            format!("{} Press a to accept.", tolerance_sentence(row, side)),
        );
    }
    let load_types = scene.tolerances.len();
    let too_few = |(row, side): &(&Tolerance, Side)| {
        says::of_edge(row.edge(*side)).standing == Standing::TooFew
    };
    if sides().all(|side| too_few(&side)) {
        return finding(
            "too few",
            "No load type has enough firings with an outcome yet to say how far it forgives.",
        );
    }
    finding(
        "stands",
        format!("The figures of {load_types} load types stand: no firing speaks against them."),
    )
}

fn evenness_finding(scene: &ReviewScene, scale: Scale) -> Finding {
    let widest = scene.maps.iter().max_by(|a, b| a.spread_c.total_cmp(&b.spread_c));
    match widest {
        None => finding(
            "no cones",
            "No cones were read on the shelves: read some after unloading, and write them with the outcome.",
        ),
        Some(map) => {
            let spread = fixed(scale.degrees(map.spread_c), 0);
            finding(format!("{spread} {}", scale.letter()), evenness_sentence(map, scale))
        }
    }
}

fn bench_finding(bench: &BenchReview) -> Finding {
    let missed = bench.missed();
    let [forced, cracked] = [|group: &Casts| group.forced, |group: &Casts| group.cracked]
        .map(|count| bench.by(CastsBy::Mould).iter().map(count).sum::<usize>());
    let counts =
        format!("{} opened: {forced} forced, {cracked} cracked.", how_many_casts(missed.of));
    let big = match missed.value().filter(|_| missed.says_something()) {
        Some(share) => format!("{} % missed", fixed(100.0 * share, 0)),
        None => format!("{} of {}", missed.hits, missed.of),
    };
    let groups = bench.groups.iter().flat_map(|(by, groups)| groups.iter().map(move |g| (by, g)));
    let later = bench.by(CastsBy::Mould).iter().find(|group| group.is_later);
    let mut worse = groups.filter(|(_, group)| group.is_worse);
    let old = bench.by(CastsBy::Mould).iter().find(|group| group.is_old);
    match (later, worse.next(), old) {
        (Some(Casts { group, .. }), ..) => {
            loud(big, format!("{counts} {group} lets go later than it did: worn plaster?"))
        }
        (_, Some((by, Casts { group, missed, .. })), _) => {
            let Share { hits, of, .. } = missed;
            let by = by.name();
            loud(big, format!("{counts} By {by}, {group} stands out: {hits} of {of} missed."))
        }
        (_, _, Some(Casts { group, .. })) => finding(
            big,
            format!(
                "{counts} {group} has had {LIFE} casts or more, when plaster is often worn (from the trade); nothing seen says so yet."
            ),
        ),
        _ => finding(big, format!("{counts} No mould, weekday or slip stands out.")),
    }
}

const NO_PRICES: &str = "There is no list of prices, so costs are not known: \"spyhole review cost --help\" says how to give one.";

fn cost_finding(scene: &ReviewScene) -> Finding {
    let (year, all) = (&scene.this_year, &scene.all_costs);
    let lost = year.lost.total();
    if !scene.priced && lost <= 0.0 {
        return finding("no prices", NO_PRICES);
    }
    let mut say = format!(
        "Misses cost {} this year: {} under, {} over.",
        fixed(year.lost.under + year.lost.over, 2),
        fixed(year.lost.under, 2),
        fixed(year.lost.over, 2)
    );
    if year.lost.broken > 0.0 {
        say.push_str(&format!(" Breakage cost {}.", fixed(year.lost.broken, 2)));
    }
    if scene.priced && all.loads > 0 {
        say.push_str(&format!(" A load costs {}", fixed(all.total / all.loads as f64, 2)));
        if let Some(piece) = all.per_piece {
            say.push_str(&format!(", a piece {}", fixed(piece, 2)));
        }
        if let Some(piece) = all.per_good_piece {
            say.push_str(&format!(", a good piece {}", fixed(piece, 2)));
        }
        say.push('.');
    }
    if !scene.priced {
        say.push_str(&format!(" {NO_PRICES}"));
    } else if all.incomplete > 0 {
        say.push_str(&format!(
            " For {} of {} loads part of the cost is unknown.",
            all.incomplete, all.loads
        ));
    }
    let big = format!("lost {}", fixed(lost, 0));
    if lost > 0.0 { loud(big, say) } else { finding(big, say) }
}
