//! The command line: one file or folder for each family of commands.

pub mod cone_answer;
pub mod context;
pub mod exchange;
pub mod firing;
pub mod journal;
pub mod shop;
