//! What past firings teach: outcomes, drift, tolerance, evenness, cost, and which firing to repeat.
//!
//! Reading order: [`facts`] (what one firing comes down to), [`ledger`] (many of them, and the
//! period and kilns asked for); the arithmetic in [`wilson`], [`fisher`] and [`charts`]; then one file for each
//! question, [`outcomes`], [`late`], [`drift`], [`tolerance`], [`evenness`], [`cost`], [`decoration`], [`nearest`],
//! [`own_record`], and [`bench`] for casts. Each
//! answer can be laid out as a [`table::Table`], in which every row names the firings and the
//! formula behind it.
//!
//! What this module is not: a decision. A change of a probe's correction or of a load type's
//! tolerance is a [`suggestion::Suggestion`], and holds only once somebody has accepted it.

pub mod bench;
pub mod calendar;
pub mod charts;
pub mod cone_steps;
pub mod consumption;
pub mod cost;
pub mod decoration;
pub mod drift;
pub mod drop_seen;
pub mod evenness;
pub mod facts;
pub mod fisher;
pub mod late;
pub mod ledger;
pub mod nearest;
pub mod outcomes;
pub mod own_record;
pub mod prices;
pub mod suggestion;
pub mod table;
pub mod tolerance;
pub mod wilson;
pub mod windows;

pub use facts::{Bounds, Facts};
pub use ledger::Ledger;
pub use suggestion::Suggestion;
pub use table::Table;
