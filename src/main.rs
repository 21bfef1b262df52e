use std::process::ExitCode;

use clap::{Parser, Subcommand};
use spyhole::edge::rehearse::{self, RehearseArgs};

/// When will the cone go down, and when should somebody go and look.
#[derive(Debug, Parser)]
#[command(name = "spyhole", version)]
struct CommandLine {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Rehearse(RehearseArgs),
}

#[expect(clippy::print_stderr, reason = "the last word of a program that failed")]
fn main() -> ExitCode {
    let Command::Rehearse(args) = CommandLine::parse().command;
    match rehearse::run(&args, &mut std::io::stdout()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("spyhole: {error:#}");
            ExitCode::from(2)
        }
    }
}
