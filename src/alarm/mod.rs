//! Alarms: what is worth calling somebody for, and how long the calling goes on.
//!
//! Built in the words of the published standards for alarm management (ANSI/ISA-18.2, IEC 62682,
//! EEMUA 191). An alarm asks for a response; what needs none is a [`Notice`].
//!
//! Reading order: [`rules`] (the one table), `priority` (how urgent each is), [`condition`] (what holds at a moment, from a firing
//! and its advice), [`plan`] (what its schedule means for it), [`climb`] (what the readings say by themselves), [`state`] (the standard's
//! state machine), [`desk`] (every alarm of the shop, as a fold over conditions and answers),
//! [`rota`] (whom to call and by which way), [`annunciate`] (what rings now), [`ahead`] (what would ring later), [`steady`] (the time it counts by), [`measure`] (how it
//! compares with the standard's benchmarks). What is said of an alarm is in [`crate::words::alarms`].
//!
//! What this module is not: a bell, a clock or a file. Given the same conditions, answers and
//! times it says the same, whichever process asks.

pub mod ahead;
pub mod annunciate;
pub mod climb;
pub mod condition;
pub mod desk;
pub mod measure;
pub mod plan;
mod priority;
pub mod rota;
pub mod rules;
pub mod state;
pub mod steady;

pub use crate::watch::task::Task;
pub use ahead::{Upcoming, upcoming};
pub use annunciate::{Book, Call, Rang};
pub use condition::{Plan, Watched, findings};
pub use desk::{Alarm, Answer, Answering, Desk, Key};
pub use priority::Priority;
pub use rota::{Hours, MinuteOfDay, Person, Rota, Target, WayName};
pub use rules::{AlarmRule, Notice};
pub use state::State;
pub use steady::Steady;
