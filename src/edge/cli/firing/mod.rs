//! A firing by hand: what the person at the kiln enters, and what it adds up to.

mod begin;
mod correct;
mod entered;
mod follow;
mod glow;
mod past;
mod show;
mod step;

use clap::{Args, Subcommand};

pub use entered::{Entered, Said};

use super::context::Context;
use crate::edge::draft::read_word;
use crate::firing::{EventId, FiringId, Kind, Verdict};
use crate::words;

#[derive(Debug, Subcommand)]
pub enum FiringCommand {
    /// Write down what was packed into a kiln, before it is lit. Run again for the same load, it changes what you name and keeps the rest.
    Pack(Entered<{ Kind::Packed as i64 }, true>),
    /// Write down that a kiln was lit (an electric kiln: switched on), with which load and to which cone.
    Light(Entered<{ Kind::Lit as i64 }, true>),
    /// Write down a temperature, read by hand.
    Read(Entered<{ Kind::Reading as i64 }, false>),
    /// Write down what the cones do, seen through the spyhole.
    Look(Entered<{ Kind::Look as i64 }, false>),
    /// Write down the colour of the glow, where no temperature can be read.
    Glow(glow::GlowArgs),
    /// Write down that a burner or switch was set by hand.
    Turn(Entered<{ Kind::Turned as i64 }, false>),
    /// Write down a remark.
    Note(Entered<{ Kind::Note as i64 }, false>),
    /// Write down that a kiln was shut off at the end of its firing.
    Off(Entered<{ Kind::Off as i64 }, false>),
    /// Write down that a firing was given up before its end: the gas failed, or it was shut off early.
    Abort(Entered<{ Kind::Aborted as i64 }, false>),
    /// Write down that a firing that was given up was lit again. Purge a hot gas kiln first.
    Resume(Entered<{ Kind::Resumed as i64 }, false>),
    /// Write down that the cooled kiln was unloaded (drawn).
    Drawn(Entered<{ Kind::Drawn as i64 }, false>),
    /// Write down how the load came out: under, good or over.
    Outcome(Entered<{ Kind::Outcome as i64 }, false>),
    /// Write down a firing of before, from paper: all of it at once, also while its kiln burns. Forecasts learn from it.
    Past(past::PastArgs),
    /// Correct an earlier entry: what it says or when it happened. Another stands in its place; striking that one brings it back.
    Correct(correct::CorrectArgs),
    /// Take back the last event, or a named one. It stays visible in the history.
    Strike(StrikeArgs),
    /// Show every kiln that is packed, lit or cooling.
    Status(StatusArgs),
    /// List past firings, newest first.
    Ledger(LedgerArgs),
    /// Show every event of one firing, struck ones included.
    History(HistoryArgs),
}

#[derive(Debug, Args)]
pub struct StatusArgs {
    /// Stay, and print one line for each change: for a screen reader, a log or a status bar.
    #[arg(long)]
    pub follow: bool,
}

#[derive(Debug, Args)]
pub struct StrikeArgs {
    /// The number of the event, as printed when it was saved; the last one if left out.
    #[arg(value_parser = event_id)]
    pub event: Option<EventId>,
    /// Why it is taken back.
    #[arg(long)]
    pub reason: String,
}

#[derive(Debug, Args)]
pub struct LedgerArgs {
    /// Only firings of this kiln.
    #[arg(long)]
    pub kiln: Option<String>,
    /// Only firings with this load type.
    #[arg(long, value_name = "TYPE")]
    pub load: Option<String>,
    /// Only firings that came out like this: under, good, over or not-fired.
    #[arg(long, value_parser = verdict)]
    pub result: Option<Verdict>,
    /// Only firings lit at or after this time, for example 2026-01-01T00:00:00+01:00.
    #[arg(long, value_name = "TIME")]
    pub since: Option<String>,
    /// At most this many, the newest.
    #[arg(long, default_value_t = 20)]
    pub limit: u32,
}

#[derive(Debug, Args)]
pub struct HistoryArgs {
    /// The kiln whose present or last firing is meant, for example North.
    #[arg(required_unless_present = "firing")]
    pub kiln: Option<String>,
    /// The number of the firing, as the ledger shows it.
    #[arg(long, value_name = "ID", value_parser = firing_id)]
    pub firing: Option<FiringId>,
}

/// # Errors
/// Whatever keeps the command from being done, with what to do about it.
pub fn run(command: FiringCommand, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    match command {
        FiringCommand::Pack(Entered(said)) | FiringCommand::Light(Entered(said)) => {
            begin::begin(&said, ctx)
        }
        FiringCommand::Read(Entered(said))
        | FiringCommand::Look(Entered(said))
        | FiringCommand::Turn(Entered(said))
        | FiringCommand::Note(Entered(said))
        | FiringCommand::Off(Entered(said))
        | FiringCommand::Abort(Entered(said))
        | FiringCommand::Resume(Entered(said))
        | FiringCommand::Drawn(Entered(said))
        | FiringCommand::Outcome(Entered(said)) => step::enter(&said, ctx),
        FiringCommand::Glow(args) => glow::glow(args, ctx),
        FiringCommand::Past(args) => past::past(args, ctx),
        FiringCommand::Correct(args) => correct::correct(args, ctx),
        FiringCommand::Strike(args) => step::strike(args, ctx),
        FiringCommand::Status(StatusArgs { follow: true }) => follow::follow(ctx),
        FiringCommand::Status(StatusArgs { follow: false }) => show::status(ctx),
        FiringCommand::Ledger(args) => show::ledger(args, ctx),
        FiringCommand::History(args) => show::history(&args, ctx),
    }
}

fn firing_id(text: &str) -> Result<FiringId, String> {
    words::read_number("firing", text).map(FiringId)
}

fn event_id(text: &str) -> Result<EventId, String> {
    words::read_number("event", text).map(EventId)
}

fn verdict(text: &str) -> Result<Verdict, String> {
    read_word("result", text)
}
