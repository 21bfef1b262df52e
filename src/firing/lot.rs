//! A lot of ware, as somebody says it.

use crate::units::Moment;

/// A lot of ware, as it was said last.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Lot {
    pub load_type: String,
    pub name: String,
    pub contents: String,
    pub pieces: Option<u32>,
    /// The share of a kiln's room that it takes, and of which kiln.
    pub fills: Option<f64>,
    pub of_kiln: String,
    pub ready: Option<Moment>,
    pub wanted: Option<Moment>,
    /// What one piece is worth, in the shop's own money.
    pub worth: Option<f64>,
    /// The gold and the decals on all of it, grams and pieces.
    pub gold_g: Option<f64>,
    pub decals: Option<u32>,
    /// The load types it goes through after this one.
    pub then: Vec<String>,
}
