//! The review: published checks, power and false alarms by simulation, and its laws.

mod association;
mod command;
mod decoration;
pub(crate) mod history;
mod kept;
pub(crate) mod made;
mod numbers;
mod probe;
mod signals;
mod teaches;
mod tolerance;
