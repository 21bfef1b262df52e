//! The firing card: one sheet about one firing, for pinning up. It is a page of HTML that needs nothing
//! beside itself and prints on one sheet of A4 or Letter.
//!
//! ```text
//! +--------------------------------------+
//! | kiln: load                   verdict |
//! | firing, day, times                   |
//! | the curve and the cones, a picture   |
//! | the load         | how it went       |   two columns of tables
//! | what it cost     | by shelf          |
//! | notes                                |
//! +--------------------------------------+
//! ```

use super::curve;
use super::of_firing::Card;
use super::sheet::{FONTS, INK, LINE, PALE, PAPER, STRAW, escaped};
use crate::firing::Verdict;
use crate::firing::event::{Packing, ShelfCone};
use crate::firing::mark::Marked;
use crate::review::Bounds;
use crate::review::calendar::day;
use crate::review::cost::Lost;
use crate::review::table::fixed;
use crate::units::{Scale, Span};
use crate::words;

/// Room for text under the curve, in lines.
const MOST_LINES: usize = 24;
/// A list has room for so many rows.
const MOST_ROWS: usize = 12;
/// Letters to a line of a value beside its name, of one without a name, and of a note; what takes more
/// than two lines is cut.
const LETTERS: [usize; 3] = [26, 44, 92];

/// A name and a value to a row.
type Rows = Vec<(&'static str, String)>;

impl Card<'_> {
    /// What a file with this ending holds: `html` the card, `svg` its curve alone; `None` of others.
    pub fn file(&self, ending: &str) -> Option<String> {
        match ending {
            "html" => Some(self.html()),
            "svg" => Some(curve::alone(self).svg()),
            _ => None,
        }
    }

    fn html(&self) -> String {
        page(&self.title(), &self.sheet())
    }

    /// The sheet by itself, to be dressed in [`style`].
    pub fn sheet(&self) -> String {
        let facts = &self.one.facts;
        let verdict = facts.verdict.map_or("no outcome yet", Verdict::name);
        let badge = if facts.verdict == Some(Verdict::Good) { "good" } else { "other" };
        let left_out = self
            .left_out
            .map_or_else(String::new, |left_out| format!("<p><b>{}</b></p>\n", escaped(left_out)));
        let columns = [
            vec![("The load", self.load_rows()), ("What it cost", self.cost_rows())],
            vec![
                ("How it went", self.went_rows()),
                ("Drop as forecast", self.window_rows()),
                ("Cones on the shelves", self.shelf_rows()),
            ],
        ];
        let mut used = 0;
        let columns = columns.map(|lists| {
            let (lines, html) = column(lists);
            used = used.max(lines);
            html
        });
        format!(
            "<article class=\"card\">\n<header><h1>{kiln}: {load}</h1><b class=\"{badge}\">{verdict}</b></header>\n<p>{line}</p>\n{left_out}{curve}<section>\n{left}{right}</section>\n{notes}<footer>Spyhole. Where each number comes from: spyhole review firing {id} --explain</footer>\n</article>\n",
            kiln = escaped(&facts.kiln),
            load = escaped(&facts.load_type),
            line = escaped(&self.head_line()),
            curve = curve::curve(self).svg(),
            left = columns[0],
            right = columns[1],
            notes = self.notes(MOST_LINES.saturating_sub(used)),
            id = facts.id,
        )
    }

    fn head_line(&self) -> String {
        let facts = &self.one.facts;
        let day = day(facts.lit, self.one.ledger.ahead);
        let line = format!("Firing {}, {day}, lit at {}", facts.id, self.clock(facts.lit));
        let off =
            facts.off.map(|off| format!(", off at {} after {}", self.clock(off), off - facts.lit));
        line + &off.unwrap_or_default()
    }

    fn load_rows(&self) -> Rows {
        let facts = &self.one.facts;
        let packing = self.one.firing.packing.as_ref();
        let said = |text: fn(&Packing) -> &String| {
            packing.map(text).filter(|text| !text.trim().is_empty()).cloned()
        };
        let load = self.one.ledger.load_type(&facts.load_type);
        known([
            ("cone", Some(format!("{} ({})", facts.pack.target, facts.pack.family))),
            ("schedule", facts.schedule.clone()),
            ("contents", said(|packing| &packing.contents)),
            ("packed by", said(|packing| &packing.packed_by)),
            ("cones stand", said(|packing| &packing.cones_stand)),
            ("pieces", facts.pieces.map(|pieces| pieces.to_string())),
            ("worth", facts.worth.map(money)),
            (
                "forgives, in cones",
                load.map(|load| {
                    format!(
                        "{} under, {} over",
                        fixed(load.under_cones, 1),
                        fixed(load.over_cones, 1)
                    )
                }),
            ),
        ])
    }

    fn went_rows(&self) -> Rows {
        let facts = &self.one.facts;
        let long = |minutes: f64| Span::from_minutes(minutes).to_string();
        let stretch = match self.scale {
            Scale::Celsius => "climb, last 100 C",
            Scale::Fahrenheit => "climb, last 180 F",
        };
        let note = self.one.firing.outcome.as_ref().map(|(_, outcome)| outcome.note.clone());
        known([
            ("lit to drop", facts.minutes_to_drop.map(long)),
            ("off after the drop", facts.overshoot_minutes.map(|over| between(over, 0, "min"))),
            ("over the target", facts.overshoot_cones.map(|over| between(over, 1, "cones"))),
            (stretch, facts.final_climb.map(|climb| climb.display(self.scale))),
            ("probe at the drop", facts.probe_at_drop.map(|top| top.display(self.scale))),
            ("soak", facts.soak_minutes.map(long)),
            ("looks", Some(facts.looks.to_string())),
            ("came out", Some(facts.counted.to_string()).filter(|text| !text.is_empty())),
            ("outcome", note.filter(|note| !note.trim().is_empty())),
        ])
    }

    /// What was forecast of the drop, and whether it held, where the drop was seen.
    fn window_rows(&self) -> Rows {
        let row = |marked: &Marked| {
            let [from, _, to] = marked.told().map(|at| self.clock(at));
            let window = self.one.facts.windows.iter().find(|w| w.when == marked.mark.when);
            let held = match window.map(|window| window.held) {
                Some(true) => ": it held",
                Some(false) => ": missed",
                None => "",
            };
            (words::when_word(marked.mark.when), format!("{from} to {to}{held}"))
        };
        self.one.firing.marks.iter().map(row).collect()
    }

    fn shelf_rows(&self) -> Rows {
        let row =
            |shelf: &ShelfCone| ("", format!("{}: {} {}", shelf.place, shelf.cone, shelf.seen));
        self.one.facts.shelves.iter().map(row).collect()
    }

    fn cost_rows(&self) -> Rows {
        let cost = &self.one.cost;
        let some = |value: Option<f64>| value.filter(|value| *value > 0.0).map(money);
        known([
            ("fuel", some(cost.fuel)),
            ("cones", some(cost.cones)),
            ("materials", some(cost.things)),
            ("labour", some(cost.work)),
            ("total", Some(money(cost.total))),
            ("lost", some(cost.lost.map(Lost::total))),
            ("not known", (!cost.unknown.is_empty()).then(|| cost.unknown.join(", "))),
        ])
    }

    /// The notes for which there are lines.
    fn notes(&self, mut lines: usize) -> String {
        let mut items = String::new();
        for (at, text) in &self.one.firing.notes {
            let text = format!("{}  {text}", self.clock(*at));
            let takes = lines_of(&text, LETTERS[2]);
            if takes > lines {
                break;
            }
            lines -= takes;
            items += &format!("<li>{}</li>\n", escaped(&text));
        }
        if items.is_empty() { items } else { format!("<ul>\n{items}</ul>\n") }
    }
}

/// The rows of which the value is known.
fn known<const N: usize>(rows: [(&'static str, Option<String>); N]) -> Rows {
    rows.into_iter().filter_map(|(name, value)| Some((name, value?))).collect()
}

fn money(value: f64) -> String {
    fixed(value, 2)
}

/// The lines a text takes; no more than two of them are shown.
fn lines_of(text: &str, letters: usize) -> usize {
    if ratatui::text::Span::raw(text).width() > letters { 2 } else { 1 }
}

/// Lists one below the other, as many rows as there is room for, and the lines they take.
fn column(lists: Vec<(&str, Rows)>) -> (usize, String) {
    let mut used = 0;
    let mut html = String::from("<div>\n");
    for (heading, rows) in lists.into_iter().filter(|(_, rows)| !rows.is_empty()) {
        html += &format!("<table><caption>{heading}</caption>\n");
        used += 2;
        for (index, (name, value)) in rows.iter().enumerate() {
            let takes = lines_of(value, LETTERS[usize::from(name.is_empty())]);
            if index == MOST_ROWS || used + takes >= MOST_LINES {
                html += "<tr><td colspan=\"2\">and more</td></tr>\n";
                used += 1;
                break;
            }
            used += takes;
            let value = escaped(value);
            html += &match name.is_empty() {
                true => format!("<tr><td colspan=\"2\"><p>{value}</p></td></tr>\n"),
                false => format!("<tr><th>{name}</th><td><p>{value}</p></td></tr>\n"),
            };
        }
        html += "</table>\n";
    }
    (used, html + "</div>\n")
}

/// A whole page around a sheet.
pub(super) fn page(title: &str, sheet: &str) -> String {
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" content=\"width=device-width\">\n<title>{}</title>\n<style>\nbody {{ margin: 0; background: {PAPER}; }}\n{}</style>\n</head>\n<body>\n{sheet}</body>\n</html>\n",
        escaped(title),
        style(),
    )
}

/// The look of the sheet. What would go beyond one is not printed; the lists are cut before.
pub fn style() -> String {
    format!(
        "@page {{ margin: 10mm 12mm; }}
.card * {{ box-sizing: border-box; margin: 0; padding: 0; }}
.card {{ width: 702px; max-width: 100%; margin: 0 auto; font: 12px/16px {FONTS}; color: {INK}; background: {PAPER}; }}
@media print {{ .card {{ height: 254mm; overflow: hidden; }} }}
.card header {{ display: flex; justify-content: space-between; align-items: center; gap: 16px; }}
.card h1 {{ font-size: 24px; line-height: 32px; max-height: 32px; overflow: hidden; }}
.card header b {{ font-size: 18px; padding: 4px 12px; border: 1px solid {INK}; border-radius: 4px; white-space: nowrap; print-color-adjust: exact; }}
.card b.other {{ background: {STRAW}; }}
.card svg {{ display: block; width: auto; max-width: 100%; height: auto; max-height: none; print-color-adjust: exact; }}
.card section {{ display: grid; grid-template-columns: 1fr 1fr; gap: 24px; }}
.card table {{ width: 100%; border-collapse: collapse; table-layout: fixed; margin-bottom: 8px; }}
.card caption {{ text-align: left; font-weight: bold; border-bottom: 1px solid {LINE}; }}
.card th {{ width: 38%; }}
.card th, .card footer {{ text-align: left; font-size: 12px; font-weight: normal; color: {PALE}; }}
.card th, .card td {{ vertical-align: top; }}
.card td p, .card li {{ display: -webkit-box; -webkit-box-orient: vertical; -webkit-line-clamp: 2; overflow: hidden; overflow-wrap: anywhere; }}
.card ul {{ list-style: none; color: {INK}; }}
"
    )
}

/// `2 min (0 to 4)`, or only the value when nobody knows its bounds.
fn between(Bounds { low, best, high }: Bounds, decimals: usize, unit: &str) -> String {
    let [low_text, best] = [low, best].map(|value| fixed(value, decimals));
    match low.is_finite() && high.is_finite() {
        true => format!("{best} {unit} ({low_text} to {})", fixed(high, decimals)),
        false => format!("at least {low_text} {unit}"),
    }
}
