//! Parse, run, exit code. Everything else is in the library.

use std::process::ExitCode;

fn main() -> ExitCode {
    spyhole::main()
}
