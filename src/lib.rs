//! Spyhole: when will the cone go down, and when should somebody go and look.
//!
//! In reading order. Everything a potter knows is at the top level, under the trade's own words,
//! and is pure: nothing outside `edge` and `main.rs` names `crate::edge`, a clock, a file, a
//! thread, a socket, rusqlite, ratatui or a file format. Time is always an argument.
//!
//! All of it is private to this crate, so that the compiler finds what nobody calls.

#[macro_use]
mod closed;

mod alarm;
mod casting;
mod cone;
mod cooling;
mod edge;
mod firing;
mod forecast;
mod glow;
mod hours;
mod kiln;
mod plan;
mod review;
mod scene;
mod schedule;
#[cfg(feature = "testing")]
pub mod testing;
mod text;
mod units;
mod ware;
mod watch;
mod words;

pub use edge::program::main;
