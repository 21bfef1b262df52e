//! Everything that is plugged into the core, one outside thing a file or folder.

pub mod cli;
pub mod plot;
pub mod schedule_file;
pub mod shipped_schedules;
