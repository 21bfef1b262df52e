//! Commands run in this process, in a shop of their own and at a made-up time.

use std::io::{BufRead, BufReader, Read};

use clap::{CommandFactory, Parser};
use spyhole::testing::edge::cli::context::{Context, exit_code};
use spyhole::testing::edge::cli::{
    alarms, bench, cast, exchange, firing, journal, plan, review, shop,
};
use spyhole::testing::edge::journal::UnreadEvents;

use super::*;

/// What a command said.
#[derive(Debug, Default)]
pub(crate) struct Said {
    pub(crate) out: String,
    pub(crate) warned: String,
    pub(crate) error: Option<String>,
    pub(crate) code: i32,
}

/// The commands that answer by the present moment.
#[derive(Debug, Parser)]
pub(crate) enum Commands {
    #[command(flatten)]
    Shop(shop::ShopCommand),
    #[command(flatten)]
    Firing(firing::FiringCommand),
    #[command(flatten)]
    Cast(cast::CastCommands),
    Bench(bench::BenchArgs),
    #[command(subcommand)]
    Journal(journal::JournalCommand),
    Alarms(alarms::AlarmsArgs),
    Plan(plan::PlanArgs),
    #[command(subcommand)]
    Review(review::ReviewCommand),
    #[command(flatten)]
    Exchange(exchange::ExchangeCommand),
}

impl Commands {
    pub(crate) fn know(line: &[String]) -> bool {
        let all = Commands::command();
        line.first().is_some_and(|word| all.find_subcommand(word).is_some())
    }
}

/// By whom, when and how a command is run.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Setting<'a> {
    pub(crate) json: bool,
    /// What is answered when it asks; without it nobody is there to be asked.
    pub(crate) answers: Option<&'a str>,
    pub(crate) now: Moment,
    pub(crate) who: &'a str,
    pub(crate) scale: Scale,
    pub(crate) clock_face: Clock,
}

impl Setting<'_> {
    pub(crate) fn at(now: Moment) -> Self {
        let (scale, clock_face) = (Scale::Celsius, Clock::default());
        Setting { json: false, answers: None, now, who: "Ida", scale, clock_face }
    }
}

/// The words of a command line, in which single quotes hold words together.
pub(crate) fn words(line: &str) -> Vec<String> {
    let (mut words, mut word, mut quoted) = (Vec::new(), None::<String>, false);
    for c in line.chars() {
        match c {
            '\'' => {
                quoted = !quoted;
                word.get_or_insert_default();
            }
            c if c.is_whitespace() && !quoted => words.extend(word.take()),
            c => word.get_or_insert_default().push(c),
        }
    }
    words.extend(word);
    words
}

/// What the shop answers to a command line.
pub(crate) fn typed(shop: &Path, line: &[String], setting: &Setting<'_>) -> Said {
    let mut answers = setting.answers.unwrap_or_default().as_bytes();
    typed_to(shop, line, setting, &mut answers)
}

/// The same, with somebody at the keyboard.
/// Questions are answered with yes, the first after something was done.
pub(crate) struct YesAfter<Deed> {
    deed: Option<Deed>,
    answer: BufReader<&'static [u8]>,
}

impl<Deed: FnOnce()> YesAfter<Deed> {
    pub(crate) fn new(deed: Deed) -> Self {
        YesAfter { deed: Some(deed), answer: BufReader::new(b"yes\nyes\n".as_slice()) }
    }
}

impl<Deed: FnOnce()> Read for YesAfter<Deed> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        self.answer.read(buffer)
    }
}

impl<Deed: FnOnce()> BufRead for YesAfter<Deed> {
    fn fill_buf(&mut self) -> std::io::Result<&[u8]> {
        self.deed.take().into_iter().for_each(|deed| deed());
        self.answer.fill_buf()
    }

    fn consume(&mut self, amount: usize) {
        self.answer.consume(amount);
    }
}

pub(crate) fn typed_to(
    shop: &Path,
    line: &[String],
    setting: &Setting<'_>,
    input: &mut dyn BufRead,
) -> Said {
    let words = std::iter::once("spyhole").chain(line.iter().map(String::as_str));
    if let Err(error) = Commands::try_parse_from(words.clone()) {
        return Said { error: Some(error.to_string()), code: 2, ..Said::default() };
    }
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let mut ctx = Context {
        out: &mut out,
        err: &mut err,
        input,
        json: setting.json,
        scale: setting.scale,
        clock_face: setting.clock_face,
        shop: shop.to_path_buf(),
        now: setting.now,
        interactive: setting.answers.is_some(),
        who: setting.who.into(),
        unread: UnreadEvents::default(),
        mark: Uid::fresh(),
        behind: None,
    };
    let done = ctx.undeterred(|ctx| match Commands::parse_from(words.clone()) {
        Commands::Shop(command) => shop::run(command, ctx),
        Commands::Firing(command) => firing::run(command, ctx),
        Commands::Cast(command) => cast::run(command, ctx),
        Commands::Bench(args) => bench::run(&args, ctx),
        Commands::Journal(command) => journal::run(command, ctx),
        Commands::Alarms(args) => alarms::run(&args, ctx),
        Commands::Plan(args) => plan::run(&args, ctx),
        Commands::Review(command) => review::run(command, ctx),
        Commands::Exchange(command) => exchange::run(command, ctx),
    });
    let error = done.err();
    let code = error.as_ref().map_or(0, |error| exit_code(error).into());
    let [out, warned] = [out, err].map(|bytes| String::from_utf8(bytes).unwrap());
    Said { out, warned, error: error.map(|error| format!("{error:#}")), code }
}

/// A shop with the kiln North.
pub(crate) struct Bench {
    folder: TempDir,
    pub(crate) minute: i64,
}

impl Bench {
    pub(crate) fn new() -> Bench {
        let bench = Bench { folder: tempfile::tempdir().unwrap(), minute: 0 };
        let added = bench.say("kiln add North --fuel gas");
        assert!(added.starts_with("Kiln North added. Event "), "{added}");
        bench
    }

    pub(crate) fn shop(&self) -> PathBuf {
        self.folder.path().join("shop.db")
    }

    pub(crate) fn at(&mut self, minute: i64) -> &mut Bench {
        self.minute = minute;
        self
    }

    pub(crate) fn said(&self, line: &str, json: bool) -> Said {
        let setting = Setting { json, ..Setting::at(minutes(self.minute)) };
        typed(&self.shop(), &words(line), &setting)
    }

    pub(crate) fn say(&self, line: &str) -> String {
        let said = self.said(line, false);
        assert_eq!(said.error, None, "{line}");
        said.out
    }

    pub(crate) fn json(&self, line: &str) -> Value {
        let said = self.said(line, true);
        assert_eq!(said.error, None, "{line}");
        serde_json::from_str(&said.out).unwrap()
    }

    pub(crate) fn refused(&self, line: &str) -> String {
        self.said(line, false).error.unwrap_or_else(|| panic!("{line} was not refused"))
    }
}

#[test]
fn law_a_schedule_edited_later_does_not_change_what_a_firing_was_lit_by() {
    let bench = Bench::new();
    let file = bench.shop().with_file_name("mine.json");
    let text = schedule_file::to_json(&shipped_schedules::named("lustre_and_gold").unwrap());
    fs::write(&file, text).unwrap();
    bench.say(&format!("light North --load gold --schedule {}", file.display()));
    let then = shipped_schedules::plan(file.to_str().unwrap()).unwrap();
    fs::remove_file(&file).unwrap();
    let firing = Journal::open(&bench.shop()).unwrap().firing(FiringId(1)).unwrap();
    assert!(then.len() > 2, "{then:?}");
    assert_eq!(firing.plan, then);
    assert_eq!(firing.schedule.as_deref(), file.canonicalize().unwrap_or(file.clone()).to_str());
}

#[test]
fn law_a_changed_probe_belongs_to_its_kiln_with_or_without_a_firing() {
    let mut bench = Bench::new();
    let said = bench.say("probe-changed north --note 'a new one'");
    assert!(said.starts_with("The probe on North was changed or moved at "), "{said}");
    let since = |bench: &Bench| {
        let journal = Journal::open(&bench.shop()).unwrap();
        journal.shop().unwrap().corrections.probe_since("North", minutes(10_000))
    };
    assert_eq!(since(&bench), Some(minutes(0)));
    bench.at(60).say("light North --load gold");
    let answer = bench.at(90).json("probe-changed North --at '10 min ago'");
    assert_eq!((&answer["kiln"], answer["note"].as_str()), (&"North".into(), None));
    assert_eq!(since(&bench), Some(minutes(80)));
    bench.say(&format!("strike {} --reason 'other kiln'", answer["event_id"]));
    assert_eq!(since(&bench), Some(minutes(0)));
    let refused = bench.refused("probe-changed South");
    assert!(refused.contains("there is no kiln \"South\""), "{refused}");
}
