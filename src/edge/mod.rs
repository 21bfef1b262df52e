//! Everything that is plugged into the core, one outside thing a file or folder.

pub mod bell;
pub mod calendar;
pub mod cli;
pub mod draft;
pub mod fields;
pub mod form;
pub mod house_file;
pub mod journal;
pub mod keeper;
pub mod nearest;
pub mod own_schedules;
pub mod picture;
pub mod plain;
pub mod plain_file;
pub mod plot;
pub mod prices_file;
pub mod program;
pub mod record;
pub mod rehearse;
pub mod schedule_file;
pub mod screen;
pub mod settings_file;
pub mod shipped_schedules;
pub mod shop;
pub mod time_entry;
pub mod whole_file;
