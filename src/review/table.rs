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
    pub fn number(value: impl Into<Option<f64>>, decimals: usize) -> Cell {
        value.into().filter(|v| v.is_finite()).map_or(Cell::Unknown, |v| Cell::Number(v, decimals))
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

/// A column with its cell in the row of a `T`: key, heading, cell.
pub type Told<'a, T> = (&'static str, &'static str, &'a dyn Fn(&T) -> Cell);

impl Table {
    /// A table with a row for each of these; `basis` is the formula of a row and its firings.
    pub fn of<T>(
        title: impl Into<String>,
        rows: &[T],
        columns: &[Told<'_, T>],
        basis: impl Fn(&T) -> (String, Vec<FiringId>),
    ) -> Table {
        let row = |of: &T| {
            let (formula, firings) = basis(of);
            Row { cells: columns.iter().map(|(_, _, cell)| cell(of)).collect(), formula, firings }
        };
        Table {
            title: title.into(),
            columns: columns.iter().map(|&(key, heading, _)| Column { key, heading }).collect(),
            rows: rows.iter().map(row).collect(),
            remarks: Vec::new(),
        }
    }
}
