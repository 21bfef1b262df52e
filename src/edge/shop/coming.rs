//! An alarm that rings or is to come, as a device or another computer hears of it and may ring for alone.

use serde::{Deserialize, Serialize};

/// Moments are those of the shop's computer, milliseconds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Coming {
    pub id: String,
    pub at: i64,
    pub level: String,
    pub words: String,
    pub body: String,
    /// After how long it rings again; 0 for never.
    pub every: i64,
    /// From when on it would be over by itself.
    #[serde(default)]
    pub over: Option<i64>,
}
