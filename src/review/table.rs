//! A table as plain data: what a review prints, exports and explains.

use crate::firing::FiringId;

/// A table of a review. Every row carries what it stands on.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Table {
    pub title: String,
    pub columns: Vec<Column>,
    pub rows: Vec<Row>,
    /// Sentences below the table: findings, and what was too little to say.
    pub remarks: Vec<String>,
}

/// A column; `key` is its name for other programs, with its unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Column {
    pub key: &'static str,
    pub heading: &'static str,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    pub cells: Vec<Cell>,
    /// How the numbers of this row come about.
    pub formula: String,
    /// The firings they rest on, in the order of the ledger.
    pub firings: Vec<FiringId>,
}

/// What stands in one place of a table. A value that is not known is [`Cell::Unknown`], never 0.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    Text(String),
    Count(usize),
    /// A number, and how many decimals of it mean something.
    Number(f64, usize),
    Unknown,
}

impl Cell {
    pub fn text(text: impl Into<String>) -> Cell {
        Cell::Text(text.into())
    }

    /// The number if there is one.
    pub fn number(value: Option<f64>, decimals: usize) -> Cell {
        value.filter(|v| v.is_finite()).map_or(Cell::Unknown, |v| Cell::Number(v, decimals))
    }

    /// As a person reads it; what is not known is a dash.
    pub fn shown(&self) -> String {
        match self {
            Cell::Text(text) => text.clone(),
            Cell::Count(count) => count.to_string(),
            Cell::Number(value, decimals) => fixed(*value, *decimals),
            Cell::Unknown => "-".to_owned(),
        }
    }
}

/// With so many decimals, and without a minus sign before a zero.
pub fn fixed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(bare) if bare.bytes().all(|b| b == b'0' || b == b'.') => bare.to_owned(),
        _ => text,
    }
}

impl Table {
    pub fn new(title: impl Into<String>, columns: &[(&'static str, &'static str)]) -> Table {
        let columns = columns.iter().map(|&(key, heading)| Column { key, heading }).collect();
        Table { title: title.into(), columns, ..Table::default() }
    }

    pub fn row(&mut self, cells: Vec<Cell>, formula: impl Into<String>, firings: Vec<FiringId>) {
        debug_assert_eq!(cells.len(), self.columns.len(), "a cell for each column");
        self.rows.push(Row { cells, formula: formula.into(), firings });
    }
}
