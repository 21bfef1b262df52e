//! The casting bench: what is due first, and what is advised of the mould somebody is at.
//!
//! ```text
//! countdown, five rows, while no kiln wants anything
//! + Casting bench ------------------------------+
//! | > A3  cup    open from 14:30; before 18:00  |
//! +---------------------------------------------+
//! what is advised of it
//! ```

use ratatui::layout::Constraint::{Length, Min};
use ratatui::layout::{Layout, Rect};

use super::{Drawing, digits, wrap};
use crate::edge::screen::theme::Part;
use crate::edge::screen::view::BenchView;
use crate::words;

/// On a screen of fewer rows the list needs those of the countdown.
const TALL: u16 = 20;
/// What is advised of one mould takes at most so many rows.
const ADVICE_ROWS: u16 = 8;

pub(super) fn render(view: &BenchView, picture: &Drawing<'_>, area: Rect) {
    let (bench, now, dial) = (&picture.scene.bench, picture.scene.now, &picture.dial);
    let here = view.mould(bench);
    let mut said: Vec<String> = match here {
        None => vec![words::HOW_TO_BEGIN.into()],
        Some(here) => here
            .advice
            .iter()
            .flat_map(|it| words::bench_lines(&here.mould.code, it, here.remark, (now, dial)))
            .collect(),
    };
    if here.is_some() && !bench.hours_known {
        said.insert(0, words::BENCH_NEEDS_HOURS.into());
    }
    said.push(words::CAUTION_BENCH.into());
    let told: Vec<String> = said.iter().flat_map(|line| wrap::wrap(line, area.width)).collect();
    let errands = bench.errands(now);
    let counts = errands
        .first()
        .and_then(|first| words::bench_counts(first, now))
        .filter(|_| area.height >= TALL && picture.scene.due().is_none());
    let big_rows = if counts.is_some() { digits::ROWS + 1 } else { 0 };
    let [big, list, advice] = Layout::vertical([
        Length(big_rows),
        Min(3),
        Length((told.len() as u16).min(ADVICE_ROWS).min(area.height / 2)),
    ])
    .areas(area);
    if let Some((text, caption)) = counts {
        digits::render(&text, 1, Part::Accent, big, picture);
        let beside = digits::width(&text) + 3;
        let caption_at = Rect {
            x: big.x + beside,
            y: big.y + 2,
            height: 1,
            width: big.width.saturating_sub(beside),
        };
        picture.line(caption, Part::Text, caption_at.intersection(big));
    }
    picture.lines(told.into_iter().map(|row| (row, Part::Quiet)), advice);
    if let (Some(from), Some(here), Some(casting)) = (view.casts, here, &bench.casting) {
        let code = &here.mould.code;
        let inside = picture.framed(words::casts_title(code), Part::Accent, list);
        let lines = words::mould_casts(casting, code, now, dial);
        let rows: Vec<String> =
            lines.iter().flat_map(|line| wrap::wrap(line, inside.width)).collect();
        let from = from.min(rows.len().saturating_sub(inside.height.into()));
        let shown = rows.into_iter().skip(from).map(|row| (row, Part::Text));
        picture.lines(shown, inside);
        return;
    }
    let inside = picture.framed(words::BENCH_TITLE.into(), Part::Accent, list);
    picture.choices(inside, (bench.moulds.len(), view.place(bench)), |place| {
        words::mould_line(&bench.moulds[place], now, dial)
    });
}
