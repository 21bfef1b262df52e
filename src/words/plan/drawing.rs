//! The drawing list of the morning, in words.

use super::PlanTold;
use crate::plan::drawing::{Errand, Goes, To};

/// Where nothing is to be drawn.
const NOTHING_DRAWN: &str = "Nothing is to be drawn until this time tomorrow.";

impl PlanTold<'_> {
    /// A line an errand.
    pub fn drawing(&self) -> Vec<String> {
        let lines: Vec<String> = self.errands.iter().map(|errand| self.errand(errand)).collect();
        if lines.is_empty() { vec![NOTHING_DRAWN.into()] } else { lines }
    }

    fn errand(&self, errand: &Errand) -> String {
        match errand {
            Errand::Open { at, kiln, load_type, lots } => {
                let when = if *at <= 0.0 { "now".into() } else { self.when(*at, 0.0) };
                format!("{when}: open {kiln} ({load_type}){}", going(lots))
            }
            Errand::Judge { kiln, firing, lots } => {
                format!("how {kiln} came out (firing {firing}){}", going(lots))
            }
            Errand::PutAway { lot, pieces, to } => {
                let pieces = pieces.map(|pieces| format!(", {pieces} pieces")).unwrap_or_default();
                let to = match to {
                    To::Shelf => "on the shelf".to_owned(),
                    To::Next(load_type) => format!("on to {load_type}"),
                    To::Again(load_type) => format!("back to {load_type}, to be fired again"),
                };
                format!("{to}: {lot}{pieces}")
            }
        }
    }
}

/// `: 1 rims, then gold; 2 cups`.
fn going(lots: &[Goes]) -> String {
    let one = |goes: &Goes| match &goes.then {
        Some(then) => format!("{}, then {then}", goes.lot),
        None => goes.lot.clone(),
    };
    let all: Vec<String> = lots.iter().map(one).collect();
    if all.is_empty() { String::new() } else { format!(": {}", all.join("; ")) }
}
