//! The firing card: one page about one firing, for pinning up.
//!
//! ```text
//! +--------------------------------------+
//! | kiln: load                   verdict |   head
//! | firing, day, times                   |
//! |   drop 16:48 to 16:52 | off 16:58    |   marks, each in the first free row
//! |  C  ________/|                       |
//! |  __/         |                       |   curve, drop shaded
//! |     12:00   14:00   16:00            |
//! | guide   / / / _                      |   cones as they were seen
//! | the load         | how it came out   |   two columns
//! | what it cost     | by shelf          |
//! | notes                                |
//! +--------------------------------------+
//! ```

use super::axes::{Axis, draw_upright};
use super::cones;
use super::sheet::{Anchor, Area, EMBER, INK, LINE, PALE, SLATE, STRAW, Sheet, Type};
use super::width::{fitted, wrapped};
use crate::firing::event::Look;
use crate::firing::mark::Marked;
use crate::firing::{Firing, Seen, Verdict};
use crate::kiln::LoadType;
use crate::review::Facts;
use crate::review::calendar::{Day, clock};
use crate::review::cost::Cost;
use crate::review::table::fixed;
use crate::units::{Celsius, Moment, Scale, Span};
use crate::words;

const WIDTH: f64 = 794.0;
const HEIGHT: f64 = 1123.0;
const MARGIN: f64 = 44.0;
/// The curve's own area: from here, in the page.
const CURVE: Area = Area { x: 104.0, y: 172.0, width: 646.0, height: 330.0 };
/// Where the two columns begin.
const COLUMNS_Y: f64 = 668.0;
const COLUMN_WIDTH: f64 = 340.0;
const ROW: f64 = 21.0;
/// A page has room for so many rows in each column.
const MOST_ROWS: usize = 16;

/// Everything the card shows.
#[derive(Debug, Clone, Copy)]
pub struct Card<'a> {
    pub firing: &'a Firing,
    pub facts: &'a Facts,
    pub load_type: Option<&'a LoadType>,
    pub cost: &'a Cost,
    pub scale: Scale,
    /// What the shop's wall clock is ahead of UTC.
    pub ahead: Span,
    /// Another course laid under this one's, and what it is.
    pub beside: Option<(&'a str, &'a [(Span, Celsius)])>,
    /// Which events of the firing could not be read.
    pub left_out: Option<&'a str>,
}

/// The card, a page of A4.
pub fn card(card: &Card<'_>) -> Sheet {
    let facts = card.facts;
    let title = format!("Firing {}: {} in {}", facts.id, facts.load_type, facts.kiln);
    let mut sheet = Sheet::new(&title, WIDTH, HEIGHT);
    card.head(&mut sheet);
    card.curve(&mut sheet);
    card.columns(&mut sheet);
    card.foot(&mut sheet);
    sheet
}

impl Card<'_> {
    fn clock(&self, at: Moment) -> String {
        clock(at, self.ahead)
    }

    fn degrees(&self, celsius: Celsius) -> f64 {
        match self.scale {
            Scale::Celsius => celsius.0,
            Scale::Fahrenheit => celsius.fahrenheit(),
        }
    }

    fn head(&self, sheet: &mut Sheet) {
        let verdict = self.facts.verdict.map_or("no outcome yet", Verdict::name);
        let badge = Type::bold(20.0);
        let width = badge.width(verdict) + 28.0;
        let area = Area { x: WIDTH - MARGIN - width, y: 40.0, width, height: 36.0 };
        let fill = if self.facts.verdict == Some(Verdict::Good) { "none" } else { STRAW };
        sheet.fill(area, fill);
        sheet.frame(area, INK);
        sheet.text(area.x + 0.5 * width, 65.0, Anchor::Middle, badge, verdict);
        let title = format!("{}: {}", self.facts.kiln, self.facts.load_type);
        let room = area.x - MARGIN - 16.0;
        sheet.text_within((MARGIN, 66.0), Anchor::Start, Type::bold(26.0), &title, room);
        let day = Day::of(self.facts.lit, self.ahead);
        let mut line =
            format!("Firing {}, {day}, lit at {}", self.facts.id, self.clock(self.facts.lit));
        if let Some(off) = self.facts.off {
            line.push_str(&format!(", off at {} after {}", self.clock(off), off - self.facts.lit));
        }
        let room = WIDTH - 2.0 * MARGIN;
        sheet.text_within((MARGIN, 94.0), Anchor::Start, Type::pale(13.0), &line, room);
        if let Some(left_out) = self.left_out {
            sheet.text_within((MARGIN, 110.0), Anchor::Start, Type::bold(11.0), left_out, room);
        }
    }

    /// The stretch of time shown: from lit to somewhat after off.
    fn stretch(&self) -> (Moment, Moment) {
        let lit = self.facts.lit;
        let last = [
            self.facts.off,
            self.facts.drop.map(|drop| drop.by),
            self.firing.looks.last().map(|looked| looked.at),
        ];
        let read = self.firing.readings.last().map(|(at, _)| *at);
        let end = last.into_iter().flatten().max().or(read).unwrap_or(lit + Span::hours(1));
        let end = end.max(lit + Span::minutes(10));
        (lit, end + Span((end - lit).0 / 12))
    }

    fn curve(&self, sheet: &mut Sheet) {
        let (from, until) = self.stretch();
        let time =
            Axis { low: 0.0, high: (until - from).as_hours(), from: CURVE.x, to: CURVE.right() };
        let x = |at: Moment| time.place((at - from).as_hours());
        let shown: Vec<(Moment, f64)> = self
            .firing
            .readings
            .iter()
            .filter(|(at, _)| (from..=until).contains(at))
            .map(|(at, t)| (*at, self.degrees(*t)))
            .collect();
        let top = shown.iter().map(|(_, t)| *t).fold(100.0, f64::max) * 1.06;
        let height = Axis { low: 0.0, high: top, from: CURVE.bottom(), to: CURVE.y };
        self.shade(sheet, &x);
        draw_upright(sheet, &height, CURVE, 8, crate::review::tables::letter(self.scale));
        self.hours(sheet, from, until, &x);
        let points: Vec<(f64, f64)> =
            shown.iter().map(|(at, t)| (x(*at), height.place(*t))).collect();
        self.beside(sheet, &time, &height);
        sheet.polyline(&thinned(&points), EMBER, 2.0);
        if points.len() <= 60 {
            for point in &points {
                sheet.dot(*point, 2.6, EMBER);
            }
        }
        if points.is_empty() {
            let middle = (CURVE.x + 0.5 * CURVE.width, CURVE.y + 0.5 * CURVE.height);
            let text = "no readings: followed by the clock and the looks";
            sheet.text(middle.0, middle.1, Anchor::Middle, Type::pale(13.0), text);
        }
        self.marks(sheet, &x);
        self.looks(sheet, &x);
    }

    /// The other course, pale, up to where this firing ended.
    fn beside(&self, sheet: &mut Sheet, time: &Axis, height: &Axis) {
        let Some((what, course)) = self.beside else { return };
        let points: Vec<(f64, f64)> = course
            .iter()
            .take_while(|(since, _)| since.as_hours() <= time.high)
            .map(|(since, t)| (time.place(since.as_hours()), height.place(self.degrees(*t))))
            .collect();
        sheet.polyline(&thinned(&points), PALE, 1.5);
        let place = (CURVE.x + 10.0, CURVE.y + 22.0);
        sheet.text_within(place, Anchor::Start, Type::pale(11.0), &format!("pale: {what}"), 400.0);
    }

    /// The time within which the target went down.
    fn shade(&self, sheet: &mut Sheet, x: &dyn Fn(Moment) -> f64) {
        let Some(drop) = self.facts.drop else { return };
        let from = x(drop.after.unwrap_or(drop.by));
        let width = (x(drop.by) - from).max(1.5);
        sheet.fill(Area { x: from, y: CURVE.y, width, height: CURVE.height }, STRAW);
    }

    fn hours(&self, sheet: &mut Sheet, from: Moment, until: Moment, x: &dyn Fn(Moment) -> f64) {
        let hours = (until - from).as_hours();
        let step = [1, 2, 3, 4, 6, 8, 12, 24]
            .into_iter()
            .find(|step| hours / f64::from(*step) <= 9.0)
            .unwrap_or(48);
        let step = if hours < 3.0 { Span::minutes(30) } else { Span::hours(i64::from(step)) };
        let mut at = Moment(((from + self.ahead).0.div_euclid(step.0) + 1) * step.0) - self.ahead;
        sheet.line((CURVE.x, CURVE.bottom()), (CURVE.right(), CURVE.bottom()), INK, 1.0);
        while at <= until {
            sheet.line((x(at), CURVE.bottom()), (x(at), CURVE.bottom() + 5.0), INK, 1.0);
            let place = (x(at), CURVE.bottom() + 18.0);
            sheet.text(place.0, place.1, Anchor::Middle, Type::pale(11.0), &self.clock(at));
            at = at + step;
        }
    }

    /// Upright lines for what happened, each with its words in the first row that is free.
    fn marks(&self, sheet: &mut Sheet, x: &dyn Fn(Moment) -> f64) {
        let mut marks: Vec<(Moment, String)> = Vec::new();
        if let Some(drop) = self.facts.drop {
            let words = match drop.after {
                Some(after) => {
                    format!("down between {} and {}", self.clock(after), self.clock(drop.by))
                }
                None => format!("found down at {}", self.clock(drop.by)),
            };
            marks.push((drop.by, words));
        } else if let Some(down) = self.firing.down()
            && let Some(other) = down.contradicted()
        {
            let (down, at) = (down.first.at, self.clock(other.at));
            marks.push((
                down,
                format!("down {}, {} {at}: one is wrong", self.clock(down), other.seen),
            ));
        }
        if let Some(off) = self.facts.off {
            marks.push((off, format!("off {}", self.clock(off))));
        }
        for (at, to) in self.firing.turned.iter().take(6) {
            let words = fitted(&format!("to {to}"), 11.0, false, 120.0);
            marks.push((*at, words));
        }
        let set = Type { size: 11.0, bold: false, colour: SLATE };
        for (at, words) in marks {
            let x = x(at);
            sheet.dashed((x, CURVE.y - 4.0), (x, CURVE.bottom()), SLATE);
            let rows = [CURVE.y - 8.0, CURVE.y - 23.0, CURVE.y - 38.0, CURVE.y - 53.0];
            let places = rows.iter().flat_map(|row| {
                [Anchor::Middle, Anchor::End, Anchor::Start].map(|anchor| (*row, anchor))
            });
            // Not into the margin, which a printer may not reach.
            let _drawn = places
                .filter(|(row, anchor)| {
                    set.area(x, *row, *anchor, &words).right() <= WIDTH - MARGIN
                })
                .any(|(row, anchor)| sheet.text(x, row, anchor, set, &words));
        }
    }

    /// The cones as they were seen, one row for each cone of the pack, under their times.
    fn looks(&self, sheet: &mut Sheet, x: &dyn Fn(Moment) -> f64) {
        type Pick = fn(&Look) -> Option<Seen>;
        let pack = self.facts.pack;
        let rows: [(Option<String>, Pick); 3] = [
            (pack.guide.map(|cone| format!("guide {cone}")), |look| look.guide),
            (Some(format!("target {}", pack.target)), |look| look.target),
            (pack.guard.map(|cone| format!("guard {cone}")), |look| look.guard),
        ];
        let mut floor = CURVE.bottom() + 56.0;
        for (name, pick) in rows {
            let Some(name) = name else { continue };
            sheet.text(CURVE.x - 14.0, floor - 3.0, Anchor::End, Type::plain(11.0), &name);
            sheet.line((CURVE.x - 8.0, floor), (CURVE.right(), floor), LINE, 1.0);
            // From the last to the first: where looks are crowded the later ones matter.
            let mut next = f64::INFINITY;
            for looked in self.firing.looks.iter().rev() {
                let Some(seen) = pick(&looked.look) else { continue };
                let at = x(looked.at);
                if at + cones::ROOM <= next {
                    cones::draw(sheet, (at, floor), seen, STRAW);
                    next = at;
                }
            }
            floor += cones::ROOM_HEIGHT + 8.0;
        }
        if self.firing.looks.is_empty() {
            let place = (CURVE.x + 0.5 * CURVE.width, CURVE.bottom() + 52.0);
            sheet.text(place.0, place.1, Anchor::Middle, Type::pale(11.0), "nobody looked");
        }
    }

    fn columns(&self, sheet: &mut Sheet) {
        let right = WIDTH - MARGIN - COLUMN_WIDTH;
        let mut left_y = list(sheet, MARGIN, COLUMNS_Y, "The load", &self.load_rows());
        left_y = list(sheet, MARGIN, left_y + 14.0, "What it cost", &self.cost_rows());
        let mut right_y = list(sheet, right, COLUMNS_Y, "How it went", &self.went_rows());
        let lists =
            [("Drop as forecast", self.window_rows()), ("Cones on the shelves", self.shelf_rows())];
        for (heading, rows) in lists.iter().filter(|(_, rows)| !rows.is_empty()) {
            right_y = list(sheet, right, right_y + 14.0, heading, rows);
        }
        self.notes(sheet, left_y.max(right_y) + 16.0);
    }

    fn load_rows(&self) -> Vec<(&'static str, String)> {
        let facts = self.facts;
        let mut rows = vec![("cone", format!("{} ({})", facts.pack.target, facts.pack.family))];
        if let Some(schedule) = &facts.schedule {
            rows.push(("schedule", schedule.clone()));
        }
        if let Some(packing) = &self.firing.packing {
            for (name, value) in [
                ("contents", &packing.contents),
                ("packed by", &packing.packed_by),
                ("cones stand", &packing.cones_stand),
            ] {
                if !value.trim().is_empty() {
                    rows.push((name, value.clone()));
                }
            }
        }
        if let Some(pieces) = facts.pieces {
            rows.push(("pieces", pieces.to_string()));
        }
        if let Some(worth) = facts.worth {
            rows.push(("worth", fixed(worth, 2)));
        }
        if let Some(load) = self.load_type {
            let forgives =
                format!("{} under, {} over", fixed(load.under_cones, 1), fixed(load.over_cones, 1));
            rows.push(("forgives, in cones", forgives));
        }
        rows
    }

    fn went_rows(&self) -> Vec<(&'static str, String)> {
        let facts = self.facts;
        let mut rows = Vec::new();
        if let Some(minutes) = facts.minutes_to_drop {
            rows.push(("lit to drop", Span::from_minutes(minutes).to_string()));
        }
        if let Some(over) = facts.overshoot_minutes {
            rows.push(("off after the drop", between(over.low, over.best, over.high, 0, "min")));
        }
        if let Some(over) = facts.overshoot_cones {
            rows.push(("over the target", between(over.low, over.best, over.high, 1, "cones")));
        }
        if let Some(climb) = facts.final_climb {
            let stretch = match self.scale {
                Scale::Celsius => "climb, last 100 C",
                Scale::Fahrenheit => "climb, last 180 F",
            };
            rows.push((stretch, climb.display(self.scale)));
        }
        if let Some(top) = facts.probe_at_drop {
            rows.push(("probe at the drop", top.display(self.scale)));
        }
        if let Some(minutes) = facts.soak_minutes {
            rows.push(("at the top", Span::from_minutes(minutes).to_string()));
        }
        rows.push(("looks", facts.looks.to_string()));
        if let Some((_, outcome)) = &self.firing.outcome
            && !outcome.note.trim().is_empty()
        {
            rows.push(("outcome", outcome.note.clone()));
        }
        rows
    }

    /// What was forecast of the drop, and whether it held, where the drop was seen.
    fn window_rows(&self) -> Vec<(&'static str, String)> {
        let row = |marked: &Marked| {
            let [from, _, to] = marked.told().map(|at| self.clock(at));
            let window = self.facts.windows.iter().find(|w| w.when == marked.mark.when);
            let held = match window.map(|window| window.held) {
                Some(true) => ": it held",
                Some(false) => ": missed",
                None => "",
            };
            (words::when_word(marked.mark.when), format!("{from} to {to}{held}"))
        };
        self.firing.marks.iter().map(row).collect()
    }

    fn shelf_rows(&self) -> Vec<(&'static str, String)> {
        let row = |shelf: &crate::firing::event::ShelfCone| {
            ("", format!("{}: {} {}", shelf.place, shelf.cone, shelf.seen))
        };
        self.facts.shelves.iter().map(row).collect()
    }

    fn cost_rows(&self) -> Vec<(&'static str, String)> {
        let cost = self.cost;
        let mut rows = Vec::new();
        for (name, value) in [
            ("fuel", cost.fuel),
            ("cones", cost.cones),
            ("materials", cost.things),
            ("work", cost.work),
        ] {
            if let Some(value) = value.filter(|value| *value > 0.0) {
                rows.push((name, fixed(value, 2)));
            }
        }
        rows.push(("together", fixed(cost.total, 2)));
        if let Some(loss) = cost.loss.filter(|loss| *loss > 0.0) {
            rows.push(("lost", fixed(loss, 2)));
        }
        if !cost.unknown.is_empty() {
            rows.push(("not known", cost.unknown.join(", ")));
        }
        rows
    }

    fn notes(&self, sheet: &mut Sheet, mut y: f64) {
        let width = WIDTH - 2.0 * MARGIN;
        for (at, text) in &self.firing.notes {
            let text = format!("{}  {text}", self.clock(*at));
            for line in wrapped(&text, 11.0, false, width, 2) {
                if y > HEIGHT - 56.0 {
                    return;
                }
                sheet.text(MARGIN, y, Anchor::Start, Type::plain(11.0), &line);
                y += 15.0;
            }
        }
    }

    fn foot(&self, sheet: &mut Sheet) {
        let text = format!(
            "Spyhole. Where each number comes from: spyhole review firing {} --explain",
            self.facts.id
        );
        let set = Type::pale(10.0);
        sheet.text_within((MARGIN, HEIGHT - 30.0), Anchor::Start, set, &text, WIDTH - 2.0 * MARGIN);
    }
}

/// `2 min (0 to 4)`, or only the value when nobody knows its bounds.
fn between(low: f64, best: f64, high: f64, decimals: usize, unit: &str) -> String {
    let best = fixed(best, decimals);
    if low.is_finite() && high.is_finite() {
        return format!("{best} {unit} ({} to {})", fixed(low, decimals), fixed(high, decimals));
    }
    format!("at least {} {unit}", fixed(low, decimals))
}

/// A heading and rows of a name and a value; gives back where the next thing may begin.
fn list(sheet: &mut Sheet, x: f64, y: f64, heading: &str, rows: &[(&str, String)]) -> f64 {
    sheet.text(x, y, Anchor::Start, Type::bold(13.0), heading);
    sheet.line((x, y + 6.0), (x + COLUMN_WIDTH, y + 6.0), LINE, 1.0);
    let mut y = y + 6.0;
    for (index, (name, value)) in rows.iter().enumerate() {
        if y + ROW > HEIGHT - 60.0 || index == MOST_ROWS {
            sheet.text(x, y + 16.0, Anchor::Start, Type::pale(11.0), "and more");
            return y + ROW;
        }
        let set = Type::plain(12.0);
        let named = if name.is_empty() { 0.0 } else { 128.0 };
        let lines = wrapped(value, set.size, false, COLUMN_WIDTH - named, 2);
        sheet.text_within((x, y + 17.0), Anchor::Start, Type::pale(12.0), name, named);
        for (row, line) in lines.iter().enumerate() {
            sheet.text(x + named, y + 17.0 + 15.0 * row as f64, Anchor::Start, set, line);
        }
        y += ROW + 15.0 * (lines.len().max(1) - 1) as f64;
    }
    y + 14.0
}

/// No more than the first, lowest, highest and last point of each step of the page: 5,000 readings
/// look the same, and the file stays small.
fn thinned(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    const STEP: f64 = 1.0;
    let mut kept: Vec<(f64, f64)> = Vec::new();
    let mut rest = points;
    while let Some(first) = rest.first() {
        let count = rest.iter().take_while(|(x, _)| x - first.0 < STEP).count().max(1);
        let (here, after) = rest.split_at(count);
        rest = after;
        if count <= 4 {
            kept.extend_from_slice(here);
            continue;
        }
        let by_height = |a: &usize, b: &usize| here[*a].1.total_cmp(&here[*b].1);
        let lowest = (0..count).min_by(by_height).unwrap_or(0);
        let highest = (0..count).max_by(by_height).unwrap_or(0);
        let mut order = [0, lowest, highest, count - 1];
        order.sort_unstable();
        kept.extend(order.map(|index| here[index]));
        kept.dedup();
    }
    kept
}
