//! The plan of the day as it stands on a screen: a line of the day for each kiln, the next days.

use super::PlanTold;
use crate::plan::{Held, State, duty, why};
use crate::words::{alarms, shortened, turned};

/// The hours of a line of the day.
const HOURS: (f64, f64) = (6.0, 22.0);
/// What is said beside a line needs so many columns; a narrower screen has none.
const SAID: usize = 30;
const NAME: usize = 8;
/// On a screen of more columns than these, a third of them goes to the names of kilns, a quarter to what is said.
const ORDINARY: usize = 80;
/// Above the firings of the next days.
const NEXT: [&str; 7] = ["day", "kiln", "load", "light", "not after", "drops", "who"];
/// So many changes of a plan are shown.
const CHANGES: usize = 3;

/// One line of letters, and what is painted over it.
struct Strip {
    from: f64,
    to: f64,
    cells: Vec<u8>,
}

impl Strip {
    fn paint(&mut self, from: f64, to: f64, ink: u8) {
        if to <= self.from || from >= self.to || from.is_nan() {
            return;
        }
        let columns = self.cells.len() as f64;
        let place =
            |at: f64| ((at - self.from) / (self.to - self.from) * columns).clamp(0.0, columns);
        let first = (place(from) as usize).min(self.cells.len() - 1);
        let last = (place(to).ceil() as usize).max(first + 1);
        self.cells[first..last].fill(ink);
    }

    fn text(self) -> String {
        self.cells.into_iter().map(char::from).collect()
    }
}

impl PlanTold<'_> {
    fn strip(&self, columns: usize) -> Strip {
        let midnight = -self.tables.instance.made_at_min;
        let (from, to) = (midnight + HOURS.0 * 60.0, midnight + HOURS.1 * 60.0);
        let from = from.min((-60.0_f64).max(midnight));
        Strip { from, to, cells: vec![b' '; columns] }
    }

    pub(super) fn is_today(&self, at: usize) -> bool {
        let firing = &self.plan.firings[at];
        self.is_on(0.0, firing.light.max(0.0))
    }

    /// Today: the hours, a line for each kiln and one for the eyes.
    pub fn timeline(&self, now_min: f64, columns: usize) -> Vec<String> {
        let wide = columns >= NAME + SAID + 30;
        let kilns = &self.tables.instance.kilns;
        let longest = kilns.iter().map(|kiln| kiln.name.chars().count()).max().unwrap_or(0);
        let more = columns.saturating_sub(ORDINARY);
        let (names, said_room) = (longest.clamp(NAME, NAME + more / 3), SAID + more / 4);
        let room = columns.saturating_sub(names + 1 + if wide { said_room } else { 0 }).max(10);
        let mut hours = self.strip(room);
        let midnight = -self.tables.instance.made_at_min;
        for hour in (0..24).step_by(2) {
            let at = midnight + f64::from(hour) * 60.0;
            if at < hours.from || at >= hours.to {
                continue;
            }
            for (nth, digit) in hour.to_string().bytes().enumerate() {
                let each = (hours.to - hours.from) / room as f64;
                hours.paint(at + nth as f64 * each, at + nth as f64 * each, digit);
            }
        }
        let mut eyes = self.strip(room);
        let mut lines = vec![format!("{:names$} {}", "", hours.text())];
        for (kiln, is) in kilns.iter().enumerate() {
            let mut strip = self.strip(room);
            let cool = is.cool_at.as_ref().map(|cool| cool.p50);
            if let Some(cool) = cool.filter(|cool| *cool > 0.0) {
                strip.paint(strip.from.max(0.0), cool, b'~');
                let free = self.tables.free_from[kiln];
                strip.paint(free - is.draw_min, free, b'D');
            }
            let mut said = String::new();
            for (at, firing) in self.plan.firings.iter().enumerate() {
                if self.tables.instance.ways[firing.way].kiln != kiln {
                    continue;
                }
                let drop = self.tables.drop_of(firing);
                let light = firing.light;
                let (early, late) = (light + drop.p05, light + drop.p95);
                if matches!(firing.state, State::Planned | State::Packing) {
                    strip.paint(firing.pack, light, b'.');
                    strip.paint(firing.pack, firing.pack + is.pack_min, b'P');
                }
                strip.paint(light, early, b'=');
                strip.paint(early, late, b'#');
                strip.paint(firing.draw, firing.draw + is.draw_min, b'D');
                let watch = duty::watch(self.tables, firing);
                eyes.paint(watch.0, watch.1, b'-');
                if said.is_empty() && self.is_today(at) {
                    said = self.beside(at, said_room - 1);
                }
            }
            strip.paint(now_min, now_min, b'|');
            let (name, said) = (shortened(&is.name, names), shortened(&said, said_room - 1));
            let line = format!("{name:names$} {} {}", strip.text(), if wide { &said } else { "" });
            lines.push(line.trim_end().to_owned());
        }
        lines.push(format!("{:names$} {}", "eyes", eyes.text()).trim_end().to_owned());
        lines
    }

    /// `gold 10:15-12:50, drops 14:08`.
    fn beside(&self, at: usize, columns: usize) -> String {
        let firing = &self.plan.firings[at];
        let drops = self.time(self.tables.drop_at(firing));
        let load = self.load_type(firing.way);
        let lit = match firing.state {
            State::Lit => "is firing".to_owned(),
            _ => {
                let latest = self.latest(at);
                format!("{}-{}", self.time(firing.light), self.time(latest))
            }
        };
        let rest = format!(" {lit}, drops {drops}");
        format!("{}{rest}", shortened(load, columns.saturating_sub(rest.len())))
    }

    /// The firings after today as a table: a line each below its heads.
    pub fn next_table(&self) -> Vec<String> {
        let next = (0..self.plan.firings.len()).filter(|at| !self.is_today(*at));
        let next = next.map(|at| {
            let firing = &self.plan.firings[at];
            let latest = self.latest(at);
            let drop = self.tables.drop_at(firing);
            [
                self.weekday(firing.light, "%a"),
                self.kiln(firing.way).to_owned(),
                self.load_type(firing.way).to_owned(),
                self.time(firing.light),
                self.time(latest),
                self.in_short(drop, firing.light),
                self.watchers(&self.duty(at)).unwrap_or_default(),
            ]
        });
        let rows: Vec<[String; 7]> = [NEXT.map(str::to_owned)].into_iter().chain(next).collect();
        let width = |column: usize| rows.iter().map(|row| row[column].chars().count()).max();
        let line = |row: &[String; 7]| {
            let cells = row.iter().enumerate();
            let padded = cells.map(|(at, cell)| format!("{cell:0$}", width(at).unwrap_or(0)));
            padded.collect::<Vec<_>>().join("  ").trim_end().to_owned()
        };
        if rows.len() == 1 { Vec::new() } else { rows.iter().map(line).collect() }
    }

    /// Whether the plan that is gone by holds, or what has changed, as many lines as there is room for; and what
    /// counts otherwise than usual.
    pub fn standing_lines(&self) -> Vec<String> {
        let mut lines: Vec<String> = self.standing().into_iter().collect();
        let changes = self.changes();
        let shown = changes.iter().take(CHANGES);
        lines.extend(shown.map(|(_, what, why)| format!("{what}: {why}.")));
        let more = changes.len().saturating_sub(CHANGES);
        lines.extend((more > 0).then(|| format!("and {more} more: spyhole plan")));
        lines.extend(turned(&self.day.shop.limits).iter().map(|said| alarms::capital(said) + "."));
        lines
    }

    /// A lot in a line: where it is planned, or that it is left waiting.
    pub fn lot_line(&self, lot: usize) -> String {
        let is = &self.tables.instance.lots[lot];
        let load = self.tables.instance.load_type_of(lot);
        let load = if is.id.ends_with(load) { String::new() } else { format!(", {load}") };
        match self.plan.firing_of(lot) {
            Some(at) => {
                let firing = &self.plan.firings[at];
                let (kiln, light) = (self.kiln(firing.way), self.on_day(firing.light));
                let lit = if firing.state == State::Lit { "lit" } else { "light" };
                let kept = if firing.held == Held::Whole { ", kept" } else { "" };
                format!("{}{load}: {kiln}, {lit} {light}{kept}", is.id)
            }
            None => format!("{}{load}: left waiting", is.id),
        }
    }

    /// Why a lot is where it is, and what would help where it waits.
    pub fn lot_why(&self, lot: usize) -> String {
        if let Some(at) = self.plan.firing_of(lot) {
            return format!("{} Why: {}.", self.firing(at), self.why(at));
        }
        let waiting = why::left_waiting(self.tables, self.plan);
        let found = waiting.iter().find(|(of, _)| *of == lot);
        found.map_or_else(String::new, |(_, why)| {
            format!("Lot {} waits: {}", self.id(lot), self.waits_line(lot, why))
        })
    }

    /// When it was made, as the title of its page.
    pub fn plan_title(&self, now_min: f64) -> String {
        let (day, time) = (self.long_date(0.0), self.dial.time(self.day.asked_at));
        let age = (self.moment(now_min) - self.day.asked_at).as_minutes().floor();
        let old = if age < 1.0 { String::new() } else { format!(", {age:.0} min ago") };
        format!("The day, {day}: planned at {time}{old}")
    }
}
