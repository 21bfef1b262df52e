//! The entrance: reads what was typed and leads to the room that answers it: a command, the screen,
//! the keeper or a rehearsal.
//!
//! Every error ends here as one sentence: exit code 2 when what was asked for cannot be, 1 when the
//! machine failed.

use std::env;
use std::io::{self, IsTerminal, Write};
use std::iter;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::Context as _;
use clap::builder::{PossibleValuesParser, TypedValueParser};
use clap::{CommandFactory, Parser, Subcommand};
use etcetera::BaseStrategy;
use etcetera::base_strategy::Xdg;

use super::cli::context::{self, Context, Over, Painted, Unusable};
use super::cli::{
    advise, alarms, bell, bench, cast, cone, exchange, firing, journal, plan, review, schedule,
    shop,
};
use super::elsewhere::{self, door::Unfit};
use super::house_file::{House, usual_here};
use super::journal::{Journal, JournalError, Uid, UnreadEvents, shop_files, starters};
use super::keeper;
use super::page::{self, Page};
use super::plain::Plain;
use super::rehearse::{PRACTICE_KILN, RehearseArgs};
use super::screen::app::App;
use super::screen::theme::{self, Theme};
use super::screen::{self, Face};
use super::shop::advised::Counsel;
use super::shop::adviser::Patience;
use super::shop::clock::{LocalZone, SystemClock, Timekeeper};
use super::shop::kept::KeptShop;
use super::shop::watched::Beside;
use crate::text;
use crate::units::{Scale, Span};
use crate::words::{self, Clock, FixedZone};

/// The heading over the options that every command takes.
const EVERYWHERE: &str = "For every command";

/// Say when the cone will go down, and when to go and look.
///
/// Spyhole helps whoever minds the kilns of a pottery. It turns the published cone charts into
/// heat work, follows each kiln by the clock, by readings and by what was seen of the cones, and
/// says when to go to the spyhole and when to shut off. It advises; it never switches gas or
/// power. New here? Run: spyhole rehearse
///
/// Without a command the screen opens.
#[derive(Debug, Parser)]
#[command(name = "spyhole", version, max_term_width = 100)]
pub struct Cli {
    /// The shop's file, instead of the one in your data folder; or the address that "spyhole page" shows on
    /// the computer that has it, such as http://192.168.1.5:8766, to see it here.
    #[arg(long, global = true, env = "SPYHOLE_SHOP", value_name = "FILE", help_heading = EVERYWHERE)]
    shop: Option<PathBuf>,
    /// Your name, written beside what you enter.
    #[arg(long, global = true, env = "SPYHOLE_WHO", value_name = "NAME", default_value = "", help_heading = EVERYWHERE)]
    who: String,
    /// Answer with JSON, for other programs.
    #[arg(long, global = true, help_heading = EVERYWHERE)]
    json: bool,
    /// The scale temperatures are shown in; without it the shop's own setting, or C. What you type
    /// always carries its own unit.
    #[arg(long, global = true, env = "SPYHOLE_SCALE", value_parser = one_of([("c", Scale::Celsius), ("f", Scale::Fahrenheit)]), help_heading = EVERYWHERE)]
    scale: Option<Scale>,
    /// Shows times on a 12- or 24-hour clock; without it as the shop's settings say, or
    /// 24.
    #[arg(long, global = true, env = "SPYHOLE_CLOCK", value_name = "HOURS", value_parser = one_of([("12", Clock::TwelveHour), ("24", Clock::TwentyFourHour)]), help_heading = EVERYWHERE)]
    clock: Option<Clock>,
    /// How the screen looks; without it dark, and without colours where `NO_COLOR` is set.
    #[arg(long, global = true, env = "SPYHOLE_THEME", value_enum, help_heading = EVERYWHERE)]
    theme: Option<theme::Choice>,
    #[command(subcommand)]
    command: Option<Command>,
}

/// The words of an option, each with what it means.
fn one_of<T: Clone + Send + Sync + 'static>(
    words: [(&'static str, T); 2],
) -> impl TypedValueParser<Value = T> {
    PossibleValuesParser::new(words.each_ref().map(|(word, _)| *word)).map(move |said: String| {
        let [(first, meant), (_, other)] = words.clone();
        if said == first { meant } else { other }
    })
}

#[derive(Debug, Subcommand)]
enum Command {
    Rehearse(RehearseArgs),
    #[command(flatten)]
    Shop(shop::ShopCommand),
    #[command(flatten)]
    Firing(firing::FiringCommand),
    Advise(advise::AdviseArgs),
    Plan(plan::PlanArgs),
    /// Look back at what the ledger teaches: outcomes, drift, tolerance, evenness, cost, cards
    #[command(subcommand)]
    Review(review::ReviewCommand),
    Keep(keeper::command::KeepArgs),
    Page(page::command::PageArgs),
    Alarms(alarms::AlarmsArgs),
    /// Try the ways to ring.
    #[command(subcommand)]
    Bell(bell::BellCommand),
    #[command(flatten)]
    Cast(cast::CastCommands),
    /// Say when slip-cast pieces let go of their moulds, when to check, and when it is too late.
    Bench(bench::BenchArgs),
    Cone(cone::ConeArgs),
    #[command(subcommand)]
    Schedule(schedule::ScheduleCommand),
    #[command(flatten)]
    Exchange(exchange::ExchangeCommand),
    /// Check, back up or restore the shop's file.
    #[command(subcommand)]
    Journal(journal::JournalCommand),
    /// Print a completion script for your shell.
    Completions {
        /// The shell you type commands into.
        shell: clap_complete::Shell,
    },
    /// Write the manual pages, one for each command, into a folder.
    Manual {
        /// Where the pages go; made if it is not there.
        folder: PathBuf,
        #[command(flatten)]
        over: Over,
    },
}

/// The program's folder in the XDG data folder. It need not exist.
fn data_folder() -> anyhow::Result<PathBuf> {
    let no_home = "there is no home folder to keep the shop's file in: name a file with --shop FILE or SPYHOLE_SHOP=FILE";
    Xdg::new().map(|xdg| xdg.data_dir().join("spyhole")).context(no_home)
}

/// The shop's file: the one named, or `shop.db` in the program's folder. It need not exist.
fn shop_file(named: Option<PathBuf>) -> anyhow::Result<PathBuf> {
    named.map_or_else(|| Ok(data_folder()?.join("shop.db")), Ok)
}

/// The screen of a shop that another computer keeps.
fn open_elsewhere(address: &str, cli: &Cli, out: &mut dyn Write) -> anyhow::Result<()> {
    if cli.command.is_some() || cli.json {
        return Err(Unusable(words::ELSEWHERE_SCREEN_ONLY.into()).into());
    }
    let shown = elsewhere::run(address, &data_folder()?, (&mut io::stdin().lock(), out));
    shown.map_err(|error| match error.downcast::<Unfit>() {
        Ok(Unfit(why)) => Unusable(why).into(),
        Err(error) => error,
    })
}

/// Runs the program on the process's own arguments.
pub fn main() -> ExitCode {
    let mut out = Plain::new(io::BufWriter::new(io::stdout()));
    let result = typed().and_then(|cli| run(cli, &mut out)).and_then(|()| Ok(out.flush()?));
    match result {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) if reader_is_gone(&error) => ExitCode::SUCCESS,
        Err(error) => {
            // What was answered before the error stays answered; and if standard error is gone
            // too, there is nobody left to tell.
            let _ = out.flush();
            let _ = match error.downcast_ref::<Painted>() {
                Some(painted) => writeln!(io::stderr(), "spyhole: {painted}"),
                None => writeln!(Plain::new(io::stderr()), "spyhole: {error:#}"),
            };
            ExitCode::from(context::exit_code(&error))
        }
    }
}

/// What was typed, and what the environment says in its place.
fn typed() -> anyhow::Result<Cli> {
    let ours = env::vars_os().filter(|(name, _)| name.to_string_lossy().starts_with("SPYHOLE_"));
    for said in env::args_os().skip(1).chain(ours.map(|(_, said)| said)) {
        text::line(&said.to_string_lossy()).map_err(|unfit| Unusable(unfit.to_string()))?;
    }
    let cli = Cli::try_parse().unwrap_or_else(|error| {
        // It loses its colours only where something it quotes would turn round the line.
        let said = error.render().to_string();
        if text::shown(&said) == said {
            error.exit();
        }
        let _ = write!(Plain::new(io::stderr()), "{said}");
        std::process::exit(error.exit_code())
    });
    text::name(&cli.who).map_err(|unfit| Unusable(unfit.to_string()))?;
    Ok(cli)
}

/// `spyhole ... | head` closes our output early; that is no error of ours.
fn reader_is_gone(error: &anyhow::Error) -> bool {
    error
        .chain()
        .filter_map(|cause| cause.downcast_ref::<io::Error>())
        .any(|io| io.kind() == io::ErrorKind::BrokenPipe)
}

fn run(cli: Cli, out: &mut dyn Write) -> anyhow::Result<()> {
    if let Some(address) = cli.shop.as_deref().and_then(elsewhere::address) {
        return open_elsewhere(address, &cli, out);
    }
    let shop = shop_file(cli.shop)?;
    let house = match cli.command {
        // A rehearsal looks for nothing of the shop's own.
        Some(Command::Rehearse(_)) => House::default(),
        // A slip in how things are shown is no reason not to write down a look.
        _ => House::read(&shop).or_else(|error| {
            writeln!(
                Plain::new(io::stderr()),
                "spyhole: {error}; the usual ones hold until it is put right"
            )?;
            anyhow::Ok(House::default())
        })?,
    };
    let scale = cli.scale.or(house.scale).unwrap_or_default();
    let clock = cli.clock.or(house.clock).unwrap_or_default();
    let face = Face { scale, clock, theme: Theme::of_environment(cli.theme) };
    let mut ctx = Context {
        out,
        err: &mut Plain::new(io::stderr()),
        input: &mut io::stdin().lock(),
        json: cli.json,
        scale,
        clock_face: clock,
        shop,
        now: SystemClock.now(),
        interactive: io::stdin().is_terminal() && io::stderr().is_terminal(),
        who: cli.who,
        unread: UnreadEvents::default(),
        mark: Uid::fresh(),
        behind: None,
    };
    let mut command = cli.command;
    let answered = match command {
        // It says itself what is damaged.
        Some(Command::Journal(command)) => journal::run(command, &mut ctx),
        _ => ctx.undeterred(|ctx| {
            // Done again, it is read anew from what was typed.
            let command = command.take().or_else(|| Cli::parse().command);
            answer(command, face, ctx)
        }),
    };
    ctx.tell_unread()?;
    answered
}

fn answer(command: Option<Command>, face: Face, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    match command {
        None => open_screen(ctx, face),
        Some(Command::Rehearse(args)) => rehearse(&args, face, ctx.out),
        Some(Command::Shop(command)) => shop::run(command, ctx),
        Some(Command::Firing(command)) => firing::run(command, ctx),
        Some(Command::Advise(args)) => advise::run(&args, ctx),
        Some(Command::Plan(args)) => plan::run(&args, ctx),
        Some(Command::Keep(args)) => {
            let company = |counsel, shown| Page::beside(&ctx.shop, counsel, shown);
            keeper::command::run(&args, &ctx.shop, (ctx.scale, ctx.json), company, ctx.out)
        }
        Some(Command::Page(args)) => {
            let bright = face.theme.paper == theme::Paper::Bright;
            let on_terminal = io::stdin().is_terminal() && io::stdout().is_terminal();
            let answering = page::command::Answering { json: ctx.json, on_terminal, bright };
            page::command::run(&args, &ctx.shop, answering, (ctx.input, ctx.out))
        }
        Some(Command::Alarms(args)) => alarms::run(&args, ctx),
        Some(Command::Bell(command)) => bell::run(&command, ctx),
        Some(Command::Cast(command)) => cast::run(command, ctx),
        Some(Command::Bench(args)) => bench::run(&args, ctx),
        Some(Command::Review(command)) => review::run(command, ctx),
        Some(Command::Cone(args)) => cone::run(&args, ctx),
        Some(Command::Schedule(command)) => {
            schedule::run(&command, &ctx.shop, ctx.json, ctx.scale, ctx.out)
        }
        Some(Command::Exchange(command)) => exchange::run(command, ctx),
        Some(Command::Journal(command)) => journal::run(command, ctx),
        Some(Command::Completions { shell }) => {
            clap_complete::generate(shell, &mut Cli::command(), "spyhole", &mut ctx.out);
            Ok(())
        }
        Some(Command::Manual { folder, over }) => {
            std::fs::create_dir_all(&folder)?;
            let mut command = Cli::command().disable_help_subcommand(true);
            command.build();
            let mut pages = manual_pages(&command);
            // Those that are there already come first, so that refusing one leaves nothing half done.
            pages.sort_by_key(|page| !folder.join(page.get_filename()).exists());
            pages.into_iter().try_for_each(|page| {
                let file = folder.join(page.get_filename());
                ctx.place(&file, over, |mut out| Ok(page.render(&mut out)?))
            })
        }
    }
}

/// Manual pages of a command and of its own commands.
fn manual_pages(command: &clap::Command) -> Vec<clap_mangen::Man> {
    let of_its_own = command.get_subcommands().flat_map(manual_pages);
    iter::once(clap_mangen::Man::new(command.clone())).chain(of_its_own).collect()
}

/// The screen on the shop's file, with a keeper beside it, until somebody leaves it.
fn open_screen(ctx: &mut Context<'_>, face: Face) -> anyhow::Result<()> {
    let mut clock = SystemClock;
    if let Err(missing) = shop_files::check(&ctx.shop) {
        let path = ctx.shop.display();
        let question = format!("There is no shop at {path} yet. Begin one there?");
        let asks = ctx.interactive && matches!(missing, JournalError::NoShop { .. });
        if !(asks && ctx.confirms(&question)?) {
            return Err(missing.into());
        }
        let now = clock.now();
        Journal::begin(&ctx.shop, &starters(now), now)?;
    }
    let (who, patience) = (ctx.who.clone(), Patience::OF_A_SCREEN);
    let mut shop = KeptShop::open(&ctx.shop, who, patience, clock.now())?;
    shop.watch(keep_beside, face.scale);
    let app = App::in_country(usual_here(|name| env::var(name).ok()));
    screen::run(&mut shop, &mut clock, face.dial(&LocalZone), face.theme, app)
}

/// A keeper beside a screen, and the page beside that.
fn keep_beside(shop: &Path, scale: Scale, counsel: Counsel) -> anyhow::Result<Beside> {
    let beside = keeper::beside::start(shop, scale, counsel.clone())?;
    Ok(beside.with(|shown| Page::beside(shop, counsel, shown)))
}

/// The screen on a made-up shop until the trainee leaves it, then one line.
fn rehearse(args: &RehearseArgs, face: Face, out: &mut dyn Write) -> anyhow::Result<()> {
    let (mut shop, mut clock) = args.begin(Patience::OF_A_SCREEN)?;
    let zone = FixedZone(Span::ZERO);
    let app = App::rehearsing(PRACTICE_KILN);
    screen::run(&mut shop, &mut clock, face.dial(&zone), face.theme, app)?;
    Ok(writeln!(out, "{}", shop.closing())?)
}
