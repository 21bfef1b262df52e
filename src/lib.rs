//! Spyhole: when will the cone go down, and when should somebody go and look.
//!
//! In reading order. Everything a potter knows is at the top level, under the trade's own words,
//! and is pure: nothing outside [`edge`] and `main.rs` names `crate::edge`, a clock, a file, a
//! thread, a socket, rusqlite, ratatui or a serialiser. Time is always an argument.

pub mod alarm;
pub mod cone;
pub mod cooling;
pub mod edge;
pub mod firing;
pub mod forecast;
pub mod glow;
pub mod kiln;
pub mod review;
pub mod scene;
pub mod schedule;
pub mod units;
pub mod watch;
pub mod words;
