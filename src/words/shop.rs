//! What is said of the shop's kilns and load types.

use crate::kiln::{Kiln, LoadType};
use crate::units::Scale;

pub const ADD_KILN: &str = "add a kiln";
pub const ADD_LOAD_TYPE: &str = "add a load type";
pub const SHOP_TITLE: &str = "Shop";

/// `North            gas       250 litres, up to 1260 C`.
pub fn kiln_line(kiln: &Kiln, scale: Scale) -> String {
    let facts = [
        kiln.litres.map(|litres| format!("{litres} litres")),
        kiln.ceiling.map(|ceiling| format!("up to {}", ceiling.display(scale))),
        kiln.fastest_climb.map(|climb| format!("climbs {} at most", climb.display(scale))),
    ];
    let facts: Vec<String> = facts.into_iter().flatten().collect();
    format!("{:<16} {:<9} {}", kiln.name, kiln.fuel, facts.join(", "))
}

/// `gold               cone 018   self-supporting  -0.5 to +0.25 cones`.
pub fn load_type_line(load: &LoadType) -> String {
    format!(
        "{:<18} cone {:<5} {:<16} -{} to +{} cones",
        load.name,
        load.target,
        load.family.name(),
        load.under_cones,
        load.over_cones
    )
}
