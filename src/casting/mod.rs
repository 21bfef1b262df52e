//! Casting in plaster moulds: when a slip-cast piece lets go, when it is too late, when to check.
//!
//! What is noted is folded to casts ([`Casting`]), learned from once ([`Learned`]) and asked mould
//! by mould ([`Learned::advice`]). No time of letting go is ever made up: a look says before or
//! after, and all that is known of a cast is an interval.

mod advice;
pub mod air;
pub mod casts;
mod code;
pub mod dose;
mod event;
mod fit;
mod held;
mod interval;
mod late;
mod learned;
mod plan;
mod several;

pub use advice::Advice;
pub use casts::{Casting, Remark};
pub use event::{Event, Found, Mould, What};
pub use held::held;
pub use learned::Learned;
