//! A firing by hand: what the person at the kiln enters, and what it adds up to.

mod begin;
mod follow;
mod show;
mod step;

use clap::{Args, Subcommand};

use super::context::{Context, Unusable};
use crate::cone::{Cone, Family};
use crate::edge::nearest::did_you_mean;
use crate::firing::event::Fullness;
use crate::firing::{EventId, FiringId, Seen, Verdict};
use crate::units::Celsius;

#[derive(Debug, Subcommand)]
pub enum FiringCommand {
    /// Write down what was packed into a kiln, before it is lit. Packing it again changes what was said; what is left out stays.
    Pack(PackArgs),
    /// Write down that a kiln was lit, with which load and to which cone.
    Light(LightArgs),
    /// Write down a temperature, read by hand.
    Read(ReadArgs),
    /// Write down what the cones do, seen through the spyhole.
    Look(LookArgs),
    /// Write down the colour of the glow, where no temperature can be read.
    Glow(GlowArgs),
    /// Write down that a burner or switch was set by hand.
    Turn(TurnArgs),
    /// Write down a remark.
    Note(NoteArgs),
    /// Write down that a kiln was switched off at the end of its firing.
    Off(StepArgs),
    /// Write down that a firing was given up before its end: the gas failed, or it was switched off early.
    Abort(AbortArgs),
    /// Write down that a firing that was given up was lit again. Purge a hot gas kiln first.
    Resume(StepArgs),
    /// Write down that the cooled kiln was unpacked.
    Drawn(StepArgs),
    /// Write down how the load came out: under, good or over.
    Outcome(OutcomeArgs),
    /// Take back the last event, or a named one. It stays visible in the history.
    Strike(StrikeArgs),
    /// Show every kiln that is packed, lit or cooling.
    Status(StatusArgs),
    /// List past firings, the youngest first.
    Ledger(LedgerArgs),
    /// Show every event of one firing, struck ones included.
    History(HistoryArgs),
}

/// When it happened and which firing is meant; shared by everything that is entered.
#[derive(Debug, Default, Args)]
pub struct When {
    /// When it happened, if not now: 9:10, "20 min ago", "yesterday 21:40" or a full date and time.
    #[arg(long, value_name = "TIME")]
    pub at: Option<String>,
    /// The number of the firing, if the present one of this kiln is not meant.
    #[arg(long, value_name = "ID", value_parser = firing_id)]
    pub firing: Option<FiringId>,
}

#[derive(Debug, Args)]
pub struct StatusArgs {
    /// Stay, and print one line for each change: for a screen reader, a log or a status bar.
    #[arg(long)]
    pub follow: bool,
}

#[derive(Debug, Args)]
pub struct StepArgs {
    /// The kiln, for example North.
    pub kiln: String,
    #[command(flatten)]
    pub when: When,
}

/// The cones at the spyhole, where they differ from the load type's own.
#[derive(Debug, Default, Args)]
pub struct PackCones {
    /// The target cone, if it is not the load type's own, for example 018.
    #[arg(long, value_parser = Cone::parse)]
    pub cone: Option<Cone>,
    /// The guide cone, one cooler than the target; "none" if there is none.
    #[arg(long, value_parser = some_cone)]
    pub guide: Option<MaybeCone>,
    /// The guard cone, one hotter than the target; "none" if there is none.
    #[arg(long, value_parser = some_cone)]
    pub guard: Option<MaybeCone>,
    /// The make of the cones, if it is not the load type's own, for example large.
    #[arg(long, value_parser = Family::parse)]
    pub family: Option<Family>,
}

/// A cone, or the word that there is none.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MaybeCone(pub Option<Cone>);

#[derive(Debug, Args)]
pub struct PackArgs {
    /// The kiln, for example North.
    pub kiln: String,
    /// The load type, for example gold. May be left out when the kiln was packed before.
    #[arg(long, value_name = "TYPE")]
    pub load: Option<String>,
    /// What is in it, in your own words; "" takes back what was said.
    #[arg(long)]
    pub contents: Option<String>,
    /// How many pieces are in it.
    #[arg(long)]
    pub pieces: Option<u32>,
    /// How full the kiln is: full, "three quarters", half or quarter.
    #[arg(long, value_parser = fullness)]
    pub full: Option<Fullness>,
    /// What the load is worth, in your own money.
    #[arg(long, value_parser = money)]
    pub worth: Option<f64>,
    /// Who packed it; "" takes back what was said.
    #[arg(long)]
    pub packed_by: Option<String>,
    /// Where the cones stand, in your own words; "" takes back what was said.
    #[arg(long)]
    pub cones_stand: Option<String>,
    #[command(flatten)]
    pub cones: PackCones,
    #[command(flatten)]
    pub when: When,
}

#[derive(Debug, Args)]
pub struct LightArgs {
    /// The kiln, for example North.
    pub kiln: String,
    /// The load type, for example gold. May be left out when the kiln was packed.
    #[arg(long, value_name = "TYPE")]
    pub load: Option<String>,
    /// The schedule it follows: the name of a shipped one, or a file.
    #[arg(long, value_name = "NAME or FILE")]
    pub schedule: Option<String>,
    #[command(flatten)]
    pub cones: PackCones,
    /// When it was lit, if not now: 9:10, "20 min ago", "yesterday 21:40" or a full date and time.
    #[arg(long, value_name = "TIME")]
    pub at: Option<String>,
}

#[derive(Debug, Args)]
pub struct ReadArgs {
    /// The kiln, for example North.
    pub kiln: String,
    /// The temperature with its unit, for example 712C or 1314F.
    #[arg(value_parser = Celsius::parse, allow_hyphen_values = true)]
    pub temperature: Celsius,
    #[command(flatten)]
    pub when: When,
}

#[derive(Debug, Args)]
pub struct LookArgs {
    /// The kiln, for example North.
    pub kiln: String,
    /// What the target cone does: standing, leaning, half or down.
    #[arg(long, value_parser = seen)]
    pub target: Option<Seen>,
    /// What the guide cone (one cooler) does: standing, leaning, half or down.
    #[arg(long, value_parser = seen)]
    pub guide: Option<Seen>,
    /// What the guard cone (one hotter) does: standing, leaning, half or down.
    #[arg(long, value_parser = seen)]
    pub guard: Option<Seen>,
    #[command(flatten)]
    pub when: When,
}

#[derive(Debug, Args)]
pub struct GlowArgs {
    /// The kiln, for example North.
    pub kiln: String,
    /// The colour, for example dark red; without one the colours are listed.
    pub colour: Vec<String>,
    /// The room is not dark: a colour tells less there.
    #[arg(long)]
    pub room_light: bool,
    #[command(flatten)]
    pub when: When,
}

#[derive(Debug, Args)]
pub struct TurnArgs {
    /// The kiln, for example North.
    pub kiln: String,
    /// The new setting, in your own words, for example "half open".
    pub to: String,
    #[command(flatten)]
    pub when: When,
}

#[derive(Debug, Args)]
pub struct NoteArgs {
    /// The kiln, for example North.
    pub kiln: String,
    /// The remark.
    pub text: String,
    #[command(flatten)]
    pub when: When,
}

#[derive(Debug, Args)]
pub struct AbortArgs {
    /// The kiln, for example North.
    pub kiln: String,
    /// Why it was given up.
    #[arg(long, default_value = "")]
    pub reason: String,
    #[command(flatten)]
    pub when: When,
}

#[derive(Debug, Args)]
pub struct OutcomeArgs {
    /// The kiln, for example North.
    pub kiln: String,
    /// How the load came out: under, good or over.
    #[arg(value_parser = verdict)]
    pub result: Verdict,
    /// A remark on it.
    #[arg(long, default_value = "")]
    pub note: String,
    /// What was lost, in your own money.
    #[arg(long, value_parser = money)]
    pub loss: Option<f64>,
    /// A cone read on a shelf after drawing, as PLACE=CONE:LEAN, for example "top left=018:down". May be given several times.
    #[arg(long, value_name = "PLACE=CONE:LEAN", value_parser = step::shelf)]
    pub shelf: Vec<crate::firing::event::ShelfCone>,
    #[command(flatten)]
    pub when: When,
}

#[derive(Debug, Args)]
pub struct StrikeArgs {
    /// The number of the event, as it was answered; the last one if left out.
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
    /// Only firings that came out like this: under, good or over.
    #[arg(long, value_parser = verdict)]
    pub result: Option<Verdict>,
    /// Only firings lit at or after this time, for example 2026-01-01T00:00:00+01:00.
    #[arg(long, value_name = "TIME")]
    pub since: Option<String>,
    /// At most so many, the youngest.
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
        FiringCommand::Pack(args) => begin::pack(args, ctx),
        FiringCommand::Light(args) => begin::light(args, ctx),
        FiringCommand::Read(args) => step::read(&args, ctx),
        FiringCommand::Look(args) => step::look(&args, ctx),
        FiringCommand::Glow(args) => step::glow(&args, ctx),
        FiringCommand::Turn(args) => step::turn(args, ctx),
        FiringCommand::Note(args) => step::note(args, ctx),
        FiringCommand::Off(args) => step::off(&args, ctx),
        FiringCommand::Abort(args) => step::abort(args, ctx),
        FiringCommand::Resume(args) => step::resume(&args, ctx),
        FiringCommand::Drawn(args) => step::drawn(&args, ctx),
        FiringCommand::Outcome(args) => step::outcome(args, ctx),
        FiringCommand::Strike(args) => step::strike(args, ctx),
        FiringCommand::Status(StatusArgs { follow: true }) => follow::follow(ctx),
        FiringCommand::Status(StatusArgs { follow: false }) => show::status(ctx),
        FiringCommand::Ledger(args) => show::ledger(args, ctx),
        FiringCommand::History(args) => show::history(&args, ctx),
    }
}

fn number(what: &str, text: &str) -> Result<i64, Unusable> {
    text.trim().parse().ok().filter(|number| *number > 0).ok_or_else(|| {
        Unusable(format!("{what} \"{text}\" is no number from 1 up: write it like 17"))
    })
}

fn firing_id(text: &str) -> Result<FiringId, Unusable> {
    number("firing", text).map(FiringId)
}

fn event_id(text: &str) -> Result<EventId, Unusable> {
    number("event", text).map(EventId)
}

fn fullness(text: &str) -> Result<Fullness, Unusable> {
    let plain = text.trim().to_lowercase().replace('-', " ");
    Fullness::ALL.into_iter().find(|full| full.name() == plain).ok_or_else(|| {
        let names = Fullness::ALL.map(Fullness::name).join(", ");
        Unusable(format!("\"{text}\" is no word for how full a kiln is: say one of {names}"))
    })
}

fn money(text: &str) -> Result<f64, Unusable> {
    match text.trim().parse::<f64>() {
        Ok(sum) if (0.0..=1e9).contains(&sum) => Ok(sum),
        _ => Err(Unusable(format!(
            "sum \"{text}\" is not a number from 0 to 1000000000: write it like 350 or 349.50"
        ))),
    }
}

fn some_cone(text: &str) -> Result<MaybeCone, crate::cone::name::ConeError> {
    if text.trim().eq_ignore_ascii_case("none") {
        return Ok(MaybeCone(None));
    }
    Cone::parse(text).map(|cone| MaybeCone(Some(cone)))
}

fn word<T: Copy>(
    what: &str,
    text: &str,
    all: &[T],
    name: fn(T) -> &'static str,
) -> Result<T, Unusable> {
    let names = || all.iter().map(|one| name(*one));
    all.iter().copied().find(|one| name(*one) == text.trim().to_lowercase()).ok_or_else(|| {
        let (known, hint) = (names().collect::<Vec<_>>().join(", "), did_you_mean(text, names()));
        Unusable(format!("{what} \"{text}\" is none of {known}{hint}"))
    })
}

fn seen(text: &str) -> Result<Seen, Unusable> {
    word("what a cone does,", text, &Seen::ALL, Seen::name)
}

fn verdict(text: &str) -> Result<Verdict, Unusable> {
    word("result", text, &Verdict::ALL, Verdict::name)
}
