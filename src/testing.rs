//! The program's modules as tests, benches and examples see them: the feature `testing` opens
//! them, which `cargo test`, `cargo bench` and `cargo run --example` switch on by themselves.
//! Nothing is added here, so what only a test calls is dead code in the program.

macro_rules! open {
    ($($module:ident)*) => {
        $(pub mod $module {
            pub use crate::$module::*;
        })*
    };
}

open! {
    alarm casting cone cooling edge firing forecast glow hours kiln plan review scene schedule text units ware watch words
}
