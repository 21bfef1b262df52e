//! Runs the built program, as a person at a prompt would.

use std::fs;
use std::path::Path;
use std::process::Command;

use crate::journal::cli::words;

/// What one run of the program gave back.
#[derive(Debug)]
pub(crate) struct Run {
    pub(crate) code: i32,
    pub(crate) out: String,
    pub(crate) err: String,
}

impl Run {
    /// The answer, where there has to be one.
    #[track_caller]
    pub(crate) fn ok(self) -> String {
        assert_eq!(self.code, 0, "{}{}", self.out, self.err);
        self.out
    }

    /// The refusal, where there has to be one and nothing else.
    #[track_caller]
    pub(crate) fn refused(self) -> String {
        assert_eq!((self.code, self.out.as_str()), (2, ""), "{}", self.err);
        self.err
    }
}

/// Runs a line of words in the shop of this file; single quotes hold words together.
pub(crate) fn at(shop: &Path, line: &str) -> Run {
    finish(command().arg("--shop").arg(shop).args(words(line)))
}

/// Runs `spyhole` with these arguments and none of the caller's settings.
pub(crate) fn spyhole(args: &[&str]) -> Run {
    finish(command().args(args))
}

/// The program, not yet started, with none of the caller's settings.
pub(crate) fn command() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_spyhole"));
    for variable in ["SPYHOLE_SHOP", "SPYHOLE_SCALE", "SPYHOLE_CLOCK", "SPYHOLE_ASCII", "NO_COLOR"]
    {
        command.env_remove(variable);
    }
    command
}

/// Runs a prepared command to its end.
pub(crate) fn finish(command: &mut Command) -> Run {
    let output = command.output().expect("the program starts");
    Run {
        code: output.status.code().expect("the program is not killed"),
        out: String::from_utf8(output.stdout).expect("the program writes UTF-8"),
        err: String::from_utf8(output.stderr).expect("the program writes UTF-8"),
    }
}

/// Runs a command that must succeed and reads its JSON.
pub(crate) fn json(args: &[&str]) -> serde_json::Value {
    serde_json::from_str(&spyhole(args).ok()).expect("the program writes JSON")
}

/// Holds the table of events in a description to these rows; `SPYHOLE_BLESS=1` writes it anew.
pub(crate) fn describes(path: &str, rows: &str) {
    let described = fs::read_to_string(path).unwrap();
    let table = format!("| `event` | key | what it is | needed |\n|---|---|---|---|\n{rows}");
    if std::env::var_os("SPYHOLE_BLESS").is_some() {
        let (head, rest) = described.split_once("| `event` | key").unwrap();
        let tail = rest.split_once("\n\n").unwrap().1;
        fs::write(path, format!("{head}{table}\n{tail}")).unwrap();
        return;
    }
    assert!(described.contains(&table), "SPYHOLE_BLESS=1 writes it anew; wanted\n{table}");
}
