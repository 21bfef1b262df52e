//! The day on one sheet for the wall, or the load of one kiln: a page of HTML that needs nothing beside itself
//! and prints on one sheet of A4 or Letter, as the firing card does.

use super::card::page;
use super::sheet::{INK, LINE, escaped};
use crate::words::{NOTHING_TOUCHES, PlanTold, SHEET_COLUMNS, SheetRow};

/// As many firings, and lines of a list, as there is room for.
const MOST_FIRINGS: usize = 8;
const MOST_LINES: usize = 12;

/// Where the cones of a load stand in a kiln, and which they are.
pub type Cones<'a> = &'a dyn Fn(&SheetRow) -> String;

/// The sheet of today, or of the next load of one kiln.
pub fn html(told: &PlanTold<'_>, kiln: Option<&str>, cones: Cones<'_>) -> String {
    let rows = told.sheet_rows(kiln);
    let title =
        kiln.map_or_else(|| told.long_date(0.0), |kiln| format!("{kiln}: {}", told.long_date(0.0)));
    let heads = SHEET_COLUMNS.map(|name| format!("<th>{name}</th>")).concat();
    let firings: String =
        rows.iter().take(MOST_FIRINGS).map(|row| firing(row, &cones(row))).collect();
    let drawing = if kiln.is_none() { list("To draw", &told.drawing()) } else { String::new() };
    let next = told.next_table().join("\n");
    let next = match kiln {
        None if !next.is_empty() => {
            format!("<h2>The next days</h2>\n<pre>{}</pre>\n", escaped(&next))
        }
        _ => String::new(),
    };
    let more = rows.len().saturating_sub(MOST_FIRINGS);
    let more = if more > 0 { format!("<p>and {more} more</p>\n") } else { String::new() };
    let none = if rows.is_empty() { "<p>Nothing is fired.</p>\n" } else { "" };
    let body = format!(
        "<style>
.card .day {{ table-layout: auto; margin: 8px 0; font-size: 14px; line-height: 20px; }}
.card .day th {{ width: auto; }} .card .day td {{ border-top: 1px solid {LINE}; padding: 2px 4px; }} .card .day td b {{ font-size: 18px; }}
.card h2 {{ font-size: 14px; margin-top: 8px; border-bottom: 1px solid {INK}; }}
</style>
<article class=\"card\">
<header><h1>{title}</h1></header>
<p>{as_of}</p>
<table class=\"day\"><tr><th>kiln</th>{heads}</tr>
{firings}</table>
{none}{more}<p><b>{NOTHING_TOUCHES}</b></p>
{drawing}{next}</article>
",
        title = escaped(&title),
        as_of = escaped(&told.as_of()),
    );
    page(&title, &body)
}

/// Its times, and below them what goes in and where the cones go.
fn firing(row: &SheetRow, cones: &str) -> String {
    let cells: String =
        row.cells.iter().map(|cell| format!("<td><b>{}</b></td>", escaped(cell))).collect();
    let lots: Vec<String> = row.lots.iter().map(|lot| escaped(lot)).collect();
    format!(
        "<tr><td><b>{}</b><br>{}, {}</td>{cells}</tr>\n<tr><td colspan=\"7\">{}<br>{}</td></tr>\n",
        escaped(&row.kiln),
        escaped(&row.load_type),
        row.full,
        lots.join("; "),
        escaped(cones),
    )
}

fn list(heading: &str, lines: &[String]) -> String {
    if lines.is_empty() {
        return String::new();
    }
    let items: String =
        lines.iter().take(MOST_LINES).map(|line| format!("<li>{}</li>\n", escaped(line))).collect();
    let more = if lines.len() > MOST_LINES { "<li>and more</li>\n" } else { "" };
    format!("<h2>{heading}</h2>\n<ul>\n{items}{more}</ul>\n")
}
