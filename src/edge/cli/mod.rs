//! What can be asked on the command line, one command a file.

pub mod schedule;
mod schedule_text;
