//! A firing: the events of its life, and what they add up to.

pub mod down;
pub mod event;
pub mod fold;
pub mod life;
pub mod setting;
pub mod shop;

pub use down::{Doubt, Down, Looked, StoodUp};
pub use event::{ConePack, Event, EventId, FiringId, Lit, Outcome, Seen, Verdict, What, Who};
pub use fold::{Firing, Fold, Interruption, Oddity, OddityKind};
pub use life::{Refusal, Standing, State, permit};
pub use shop::Shop;
