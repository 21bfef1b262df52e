//! A firing: the events of its life, and what they add up to.

pub mod after;
pub mod down;
pub mod event;
pub mod fields;
pub mod fold;
pub mod holding;
pub mod ids;
pub mod kind;
pub mod known;
pub mod life;
pub mod lot;
pub mod mark;
pub mod read_by;
pub mod resumed;
pub mod setting;
pub mod shop;
pub mod stands;
pub mod unread;

pub use after::After;
pub use down::{Doubt, Down, Looked, StoodUp};
pub use event::{ConePack, Counted, Event, Lit, Others, Seen, Verdict, What, Who};
pub use fold::Fold;
pub use holding::{Holding, permit_in_kiln};
pub use ids::{EventId, FiringId};
pub use kind::Kind;
pub use known::{Firing, OddityKind};
pub use life::{Refusal, Standing, State};
pub use lot::Lot;
pub use shop::Shop;
pub use unread::Unread;
