//! The shop as its guests find it: journal, advice, time, standing alarms and settings.
//!
//! Screen, command line, keeper and rehearsal come here for all of that, and know nothing of each
//! other. Reading order: [`clock`], [`store`] (what is entered, and what a screen needs of a shop),
//! [`steps`] (what can be entered now),
//! [`kept`] (a shop that is open), [`advised`] with [`adviser`] (advice, made once and beside the
//! loop), [`standing`] (the alarms), [`lease`], [`told`] and [`watched`] (who keeps watch, and what
//! of it is shown).

pub mod advised;
pub mod adviser;
pub mod behind_screen;
mod bench;
pub mod card;
pub mod clock;
pub mod coming;
pub mod day_plan;
pub mod kept;
pub mod lease;
pub mod standing;
pub mod steps;
pub mod store;
pub mod told;
pub mod watched;
