//! Pyrometric cones: their names, the published chart, and what the chart says about heat work.
//!
//! Reading order: [`name`] (which cones there are), [`chart`] (what is published of them),
//! [`curve`] (the chart turned into a rate law), [`heat_work`] (what a temperature history has
//! done to a cone), [`bending`] (how far it leans by then), [`equivalent`] (which cone a history
//! is worth).

pub mod bending;
pub mod chart;
pub mod curve;
pub mod equivalent;
pub mod heat_work;
pub mod name;

pub use bending::{LEAN_DOWN_DEG, LEAN_START_DEG, lean_deg};
pub use chart::Family;
pub use curve::{Basis, Curve, EndPoint, curve};
pub use equivalent::Equivalent;
pub use heat_work::HeatWork;
pub use name::Cone;
