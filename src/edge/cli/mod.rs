//! The commands: what can be typed after the program's name, and which function answers it.
//!
//! One file or folder a group of commands. What was typed is a clap struct; what it means is
//! worked out in the command's own file.

pub mod advise;
pub mod alarms;
pub mod bell;
pub mod bench;
pub mod cast;
pub mod cone;
pub mod cone_answer;
pub mod context;
pub mod doubted;
pub mod exchange;
pub mod firing;
pub mod journal;
pub mod plan;
pub mod review;
pub mod schedule;
mod schedule_text;
pub mod shop;
mod tops;
