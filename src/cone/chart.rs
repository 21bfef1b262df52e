//! The published cone chart: one end temperature for each cone, family and heating rate.
//!
//! Source: Edward Orton Jr. Ceramic Foundation, "Temperature Equivalents for Orton Pyrometric
//! Cones", wall chart, 2016 edition, degrees Celsius. The table is `assets/cone_chart.csv`. Each
//! row carries how sure we are of the number: read in at least one public copy of the chart, or
//! written down from memory in both scales with the two agreeing.
//!
//! An older chart for large cones (before 1996) still circulates; it is another calibration and
//! none of it is here.

use std::sync::OnceLock;

use serde::{Deserialize, Serialize};

use super::name::Cone;
use crate::units::{Celsius, CelsiusPerHour};

/// The name of the source, as the program shows it.
pub const SOURCE: &str = "Orton Ceramic Foundation, Temperature Equivalents for Orton Pyrometric Cones, wall chart, 2016 edition";

const TABLE: &str = include_str!("../../assets/cone_chart.csv");

closed! {
    /// The make of a cone. Iron-free cones are for reduction firings.
    #[derive(PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
    pub enum Family {
        #[default]
        SelfSupporting => "self-supporting",
        SelfSupportingIronFree => "self-supporting iron-free",
        Large => "large",
        LargeIronFree => "large iron-free",
        Small => "small",
    }
}

closed! {
    /// How sure we are that a number is what the printed chart says.
    #[derive(PartialOrd, Ord)]
    pub enum Certainty {
        /// Also read in a public copy of the chart.
        CrossChecked => "cross-checked",
        /// Written down from memory, not read anywhere.
        FromMemory => "from memory",
    }
}

/// One number of the chart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    pub cone: Cone,
    pub family: Family,
    pub rate: CelsiusPerHour,
    pub end: Celsius,
    pub certainty: Certainty,
}

#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum FamilyError {
    #[error("\"{seen}\" is not a cone family: use one of {}", family_list())]
    Unknown { seen: String },
    #[error("the chart has no {family} cone {cone}: it has {cone} as {has}")]
    NotMade { cone: Cone, family: Family, has: String },
}

impl Family {
    /// Reads a family name; blanks, hyphens and underscores count the same.
    ///
    /// # Errors
    /// [`FamilyError::Unknown`] with the list of families.
    pub fn parse(text: &str) -> Result<Self, FamilyError> {
        let plain = |s: &str| s.trim().to_lowercase().replace(['-', '_'], " ");
        let is_named = |family: &Family| family.name() == text;
        let is_meant = |family: &Family| plain(family.name()) == plain(text);
        // The chart itself is read through here whenever the program starts.
        let found = Family::ALL.into_iter().find(is_named);
        found
            .or_else(|| Family::ALL.into_iter().find(is_meant))
            .ok_or_else(|| FamilyError::Unknown { seen: text.trim().into() })
    }

    /// The cones this family is made in, coolest first.
    pub fn cones(self) -> impl Iterator<Item = Cone> {
        Cone::all().filter(move |cone| !rows(*cone, self).is_empty())
    }
}

fn family_list() -> String {
    Family::ALL.map(Family::name).join(", ")
}

/// Every number of the chart, in the order cone, family, rate.
pub fn all() -> &'static [Row] {
    static ROWS: OnceLock<Vec<Row>> = OnceLock::new();
    ROWS.get_or_init(|| {
        let mut rows: Vec<Row> = TABLE
            .lines()
            .skip(1)
            .map(|line| row(line).unwrap_or_else(|| panic!("cone chart: bad line {line:?}")))
            .collect();
        rows.sort_by(|a, b| {
            (a.cone, a.family).cmp(&(b.cone, b.family)).then(a.rate.0.total_cmp(&b.rate.0))
        });
        rows
    })
}

fn row(line: &str) -> Option<Row> {
    let mut fields = line.split(',');
    let row = Row {
        cone: Cone::parse(fields.next()?).ok()?,
        family: Family::parse(fields.next()?).ok()?,
        rate: CelsiusPerHour(fields.next()?.parse().ok()?),
        end: Celsius(fields.next()?.parse().ok()?),
        certainty: match fields.next()? {
            "cross-checked" => Certainty::CrossChecked,
            "from memory" => Certainty::FromMemory,
            _ => return None,
        },
    };
    fields.next().is_none().then_some(row)
}

/// The published rows of one cone, slowest rate first; empty when the chart does not have it.
pub fn rows(cone: Cone, family: Family) -> &'static [Row] {
    let all = all();
    let start = all.partition_point(|row| (row.cone, row.family) < (cone, family));
    let end = all.partition_point(|row| (row.cone, row.family) <= (cone, family));
    &all[start..end]
}

/// The rows of a cone, or the reason why the chart has none.
///
/// # Errors
/// [`FamilyError::NotMade`] naming the families this cone does exist in.
pub fn rows_or_reason(cone: Cone, family: Family) -> Result<&'static [Row], FamilyError> {
    let rows = rows(cone, family);
    if rows.is_empty() {
        let has: Vec<&str> = Family::ALL
            .into_iter()
            .filter(|other| !self::rows(cone, *other).is_empty())
            .map(Family::name)
            .collect();
        return Err(FamilyError::NotMade { cone, family, has: has.join(", ") });
    }
    Ok(rows)
}
