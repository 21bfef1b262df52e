//! Tables of the review as text, CSV or JSON, with what each row stands on if asked for.

use std::io::Write;

use serde_json::{Map, Value, json};

use super::super::context::Context;
use crate::edge::plain::cell;
use crate::firing::FiringId;
use crate::review::Table;
use crate::review::table::{Cell, Row};

/// How tables are written.
#[derive(Debug, Clone, Copy, clap::Args)]
pub struct TableForm {
    /// Write CSV, for a spreadsheet.
    #[arg(long)]
    csv: bool,
    /// Name the formula and the firings behind every row.
    #[arg(long)]
    explain: bool,
}

/// Writes the tables one after another.
///
/// # Errors
/// When the output is gone.
pub fn tables(ctx: &mut Context<'_>, form: TableForm, tables: &[Table]) -> anyhow::Result<()> {
    if ctx.json {
        let tables: Vec<Value> = tables.iter().map(|table| object(table, form)).collect();
        return ctx.value(&json!({ "tables": tables }));
    }
    let mut written = Vec::new();
    for (index, table) in tables.iter().enumerate() {
        if index > 0 {
            writeln!(written)?;
        }
        if form.csv { csv(&mut written, table, form)? } else { text(&mut written, table, form)? }
    }
    if form.csv {
        return Ok(ctx.out.write_all(&written)?);
    }
    ctx.answer(&String::from_utf8_lossy(&written), &Value::Null)
}

fn object(table: &Table, form: TableForm) -> Value {
    let row = |row: &Row| {
        let mut object = Map::new();
        for (column, cell) in table.columns.iter().zip(&row.cells) {
            object.insert(column.key.into(), value(cell));
        }
        if form.explain {
            object.insert("formula".into(), row.formula.clone().into());
            object.insert("firings".into(), row.firings.iter().map(|id| id.0).collect());
        }
        Value::Object(object)
    };
    json!({
        "title": table.title,
        "rows": table.rows.iter().map(row).collect::<Vec<_>>(),
        "remarks": table.remarks,
    })
}

fn value(cell: &Cell) -> Value {
    match cell {
        Cell::Text(text) => json!(text),
        Cell::Count(count) => json!(count),
        Cell::Number(number, decimals) => {
            let scale = 10_f64.powi(*decimals as i32);
            json!((number * scale).round() / scale)
        }
        Cell::Unknown => Value::Null,
    }
}

/// `3, 5 to 9, 12`: runs of numbers drawn together.
pub fn numbers(firings: &[FiringId]) -> String {
    let mut ids: Vec<i64> = firings.iter().map(|id| id.0).collect();
    ids.sort_unstable();
    let mut parts: Vec<String> = Vec::new();
    for run in ids.chunk_by(|a, b| b - a <= 1) {
        match run {
            [.., last] if run.len() > 2 => parts.push(format!("{} to {last}", run[0])),
            _ => parts.extend(run.iter().map(i64::to_string)),
        }
    }
    parts.join(", ")
}

fn csv(out: &mut dyn Write, table: &Table, form: TableForm) -> anyhow::Result<()> {
    let mut writer = csv::Writer::from_writer(out);
    let mut heading: Vec<&str> = table.columns.iter().map(|column| column.key).collect();
    if form.explain {
        heading.extend(["formula", "firings"]);
    }
    writer.write_record(&heading)?;
    for row in &table.rows {
        let mut fields: Vec<String> = row
            .cells
            .iter()
            .map(|value| match value {
                Cell::Unknown => String::new(),
                Cell::Text(text) => cell(text.clone()),
                number => number.shown(),
            })
            .collect();
        if form.explain {
            fields.extend([row.formula.clone(), numbers(&row.firings)]);
        }
        writer.write_record(&fields)?;
    }
    Ok(writer.flush()?)
}

fn text(out: &mut dyn Write, table: &Table, form: TableForm) -> anyhow::Result<()> {
    writeln!(out, "{}", table.title)?;
    if table.rows.is_empty() {
        writeln!(out, "  nothing to say yet: nothing in this period has what it needs")?;
    }
    let shown: Vec<Vec<String>> =
        table.rows.iter().map(|row| row.cells.iter().map(Cell::shown).collect()).collect();
    let width = |column: usize| {
        let cells = shown.iter().map(|row| row[column].chars().count());
        cells.chain([table.columns[column].heading.chars().count()]).max().unwrap_or(0)
    };
    let widths: Vec<usize> = (0..table.columns.len()).map(width).collect();
    let is_text =
        |column: usize| table.rows.iter().any(|row| matches!(row.cells[column], Cell::Text(_)));
    let line = |cells: &mut dyn Iterator<Item = &str>| {
        let padded: Vec<String> = cells
            .zip(&widths)
            .enumerate()
            .map(|(column, (cell, width))| {
                if is_text(column) { format!("{cell:<width$}") } else { format!("{cell:>width$}") }
            })
            .collect();
        format!("  {}", padded.join("  ").trim_end())
    };
    if !table.rows.is_empty() {
        writeln!(out, "{}", line(&mut table.columns.iter().map(|column| column.heading)))?;
    }
    for (cells, row) in shown.iter().zip(&table.rows) {
        writeln!(out, "{}", line(&mut cells.iter().map(String::as_str)))?;
        if form.explain {
            writeln!(out, "    {}", row.formula)?;
            writeln!(out, "    firings: {}", numbers(&row.firings))?;
        }
    }
    for remark in &table.remarks {
        writeln!(out, "{remark}")?;
    }
    Ok(())
}
