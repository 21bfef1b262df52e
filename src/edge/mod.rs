//! Everything that is plugged into the core, one outside thing a file or folder.

pub mod cli;
pub mod picture;
