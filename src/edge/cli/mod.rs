//! The command line: what can be typed, and which function answers it.
//!
//! One file a group of commands. What was typed is a clap struct; what it means is worked out in
//! the command's own file. Every error ends here as one sentence and exit code 2.

pub mod cone;
pub mod report;
pub mod schedule;
mod schedule_text;

use std::io::{self, Write};
use std::path::PathBuf;
use std::process::ExitCode;

use clap::{CommandFactory, Parser, Subcommand};

use crate::units::Scale;
use report::Report;

/// The heading over the options that every command takes.
const EVERYWHERE: &str = "For every command";

/// Say when the cone will go down, and when to go and look.
///
/// Spyhole helps whoever minds the kilns of a pottery. It turns the published cone charts into
/// heat work, follows each kiln by the clock, by readings and by what was seen of the cones, and
/// says when to go to the spyhole and when to shut off. It advises; it never switches gas or
/// power. New here? Run: spyhole rehearse
#[derive(Debug, Parser)]
#[command(name = "spyhole", version, max_term_width = 100)]
pub struct Cli {
    /// The shop's file, instead of the one in your data folder.
    #[arg(long, global = true, env = "SPYHOLE_SHOP", value_name = "FILE", help_heading = EVERYWHERE)]
    shop: Option<PathBuf>,
    /// Answer with JSON, for other programs.
    #[arg(long, global = true, help_heading = EVERYWHERE)]
    json: bool,
    /// The scale temperatures are shown in; what you type always carries its own unit.
    #[arg(long, global = true, env = "SPYHOLE_SCALE", value_enum, default_value_t = ScaleChoice::C, help_heading = EVERYWHERE)]
    scale: ScaleChoice,
    #[command(subcommand)]
    command: Option<Command>,
}

#[derive(Debug, Clone, Copy, clap::ValueEnum)]
enum ScaleChoice {
    C,
    F,
}

#[derive(Debug, Subcommand)]
enum Command {
    Cone(cone::ConeArgs),
    /// Print a completion script for your shell.
    Completions {
        /// The shell you type commands into.
        shell: clap_complete::Shell,
    },
    /// Write the manual pages, one for each command, into a folder.
    Manual {
        /// Where the pages go; made if it is not there.
        folder: PathBuf,
    },
}

/// Runs the program on the process's own arguments.
pub fn main() -> ExitCode {
    let cli = Cli::parse();
    let stdout = io::stdout();
    let mut out = io::BufWriter::new(stdout.lock());
    let result = run(&cli, &mut out).and_then(|()| Ok(out.flush()?));
    match result {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) if reader_is_gone(&error) => ExitCode::SUCCESS,
        Err(error) => {
            // If standard error is gone too there is nobody left to tell.
            let _ = writeln!(io::stderr(), "spyhole: {error:#}");
            ExitCode::from(2)
        }
    }
}

/// `spyhole ... | head` closes our output early; that is no error of ours.
fn reader_is_gone(error: &anyhow::Error) -> bool {
    error
        .chain()
        .filter_map(|cause| cause.downcast_ref::<io::Error>())
        .any(|io| io.kind() == io::ErrorKind::BrokenPipe)
}

fn run(cli: &Cli, out: &mut dyn Write) -> anyhow::Result<()> {
    let scale = match cli.scale {
        ScaleChoice::C => Scale::Celsius,
        ScaleChoice::F => Scale::Fahrenheit,
    };
    let mut report = Report { out, json: cli.json, scale };
    match &cli.command {
        None => Ok(Cli::command().print_long_help()?),
        Some(Command::Cone(args)) => cone::run(args, &mut report),
        Some(Command::Completions { shell }) => {
            clap_complete::generate(*shell, &mut Cli::command(), "spyhole", &mut report.out);
            Ok(())
        }
        Some(Command::Manual { folder }) => {
            std::fs::create_dir_all(folder)?;
            Ok(clap_mangen::generate_to(Cli::command(), folder)?)
        }
    }
}
