//! The commands by which a firing is entered by hand, as they answer.

use std::fs;
use std::path::Path;

use approx::assert_abs_diff_eq;
use clap::Parser;
use serde_json::Value;
use spyhole::testing::edge::cli::context::Context;
use spyhole::testing::edge::cli::{firing, journal, shop};
use spyhole::testing::edge::{schedule_file, shipped_schedules};
use spyhole::testing::units::Scale;

use super::*;

/// What a command said.
pub(crate) struct Said {
    pub(crate) out: String,
    pub(crate) warned: String,
    pub(crate) error: Option<String>,
}

#[derive(Debug, Parser)]
pub(crate) enum Commands {
    #[command(flatten)]
    Shop(shop::ShopCommand),
    #[command(flatten)]
    Firing(firing::FiringCommand),
    #[command(subcommand)]
    Journal(journal::JournalCommand),
}

struct Setting<'a> {
    json: bool,
    answers: Option<&'a str>,
    now: Moment,
}

fn surroundings(
    shop: &Path,
    setting: &Setting<'_>,
    run: impl FnOnce(&mut Context<'_>) -> anyhow::Result<()>,
) -> Said {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let mut input = setting.answers.unwrap_or_default().as_bytes();
    let mut ctx = Context {
        out: &mut out,
        err: &mut err,
        input: &mut input,
        json: setting.json,
        scale: Scale::Celsius,
        clock_face: spyhole::testing::words::Clock::default(),
        shop: shop.to_path_buf(),
        now: setting.now,
        interactive: setting.answers.is_some(),
        who: "Ida".into(),
        unread: spyhole::testing::edge::journal::UnreadEvents::default(),
    };
    let error = run(&mut ctx).err().map(|error| format!("{error:#}"));
    let text = |bytes| String::from_utf8(bytes).unwrap();
    Said { out: text(out), warned: text(err), error }
}

pub(crate) fn command(
    shop: &Path,
    run: impl FnOnce(&mut Context<'_>) -> anyhow::Result<()>,
) -> Said {
    surroundings(shop, &Setting { json: false, answers: None, now: minutes(60) }, run)
}

fn typed(shop: &Path, line: &[&str], setting: &Setting<'_>) -> Said {
    let words = std::iter::once(&"spyhole").chain(line);
    match Commands::try_parse_from(words) {
        Err(error) => {
            Said { out: String::new(), warned: String::new(), error: Some(error.to_string()) }
        }
        Ok(commands) => surroundings(shop, setting, |ctx| match commands {
            Commands::Shop(command) => shop::run(command, ctx),
            Commands::Firing(command) => firing::run(command, ctx),
            Commands::Journal(command) => journal::run(command, ctx),
        }),
    }
}

pub(crate) struct Bench {
    _folder: TempDir,
    shop: PathBuf,
    minute: i64,
}

impl Bench {
    pub(crate) fn new() -> Bench {
        let folder = tempfile::tempdir().unwrap();
        let bench = Bench { shop: folder.path().join("shop.db"), _folder: folder, minute: 0 };
        assert!(
            bench
                .say(&["kiln", "add", "North", "--fuel", "gas"])
                .starts_with("Kiln North added. Event ")
        );
        bench
    }

    pub(crate) fn shop(&self) -> &Path {
        &self.shop
    }

    pub(crate) fn at(&mut self, minute: i64) -> &mut Bench {
        self.minute = minute;
        self
    }

    fn try_it(&self, line: &[&str]) -> Said {
        let setting = Setting { json: false, answers: None, now: minutes(self.minute) };
        typed(&self.shop, line, &setting)
    }

    pub(crate) fn say(&self, line: &[&str]) -> String {
        let said = self.try_it(line);
        assert_eq!(said.error, None, "{line:?}");
        said.out
    }

    pub(crate) fn json(&self, line: &[&str]) -> Value {
        let setting = Setting { json: true, answers: None, now: minutes(self.minute) };
        let said = typed(&self.shop, line, &setting);
        assert_eq!(said.error, None, "{line:?}");
        serde_json::from_str(&said.out).unwrap()
    }

    pub(crate) fn refused(&self, line: &[&str]) -> String {
        self.try_it(line).error.unwrap_or_else(|| panic!("{line:?} was not refused"))
    }
}

/// The number at the end of "Event 17."
fn event_number(answer: &str) -> i64 {
    let tail = answer.rsplit_once("Event ").unwrap().1;
    tail.split('.').next().unwrap().parse().unwrap()
}

#[test]
fn law_a_firing_by_hand_from_lit_to_its_outcome() {
    let mut bench = Bench::new();
    let lit = bench.say(&["light", "north", "--load", "gold"]);
    let first = event_number(lit.lines().next().unwrap());
    assert!(lit.starts_with("North lit at "), "{lit}");
    assert!(lit.contains("Cone 018 (self-supporting) ends at 715 C when it climbs 60 C/h, at 734 C when it climbs 150 C/h."), "{lit}");
    assert_eq!(lit.matches("Caution: ").count(), 4, "{lit}");
    let read = bench.at(60).say(&["read", "North", "712C"]);
    assert!(read.starts_with("North read 712 C at "), "{read}");
    assert_eq!(event_number(&read), first + 1);
    let look = bench.at(200).say(&["look", "North", "--guide", "down", "--target", "leaning"]);
    assert!(look.starts_with("North looked at, guide down, target leaning, at "), "{look}");
    let look = bench.at(210).say(&["look", "North", "--target", "down"]);
    assert!(look.contains("The target is down: shut it off now"), "{look}");
    bench.at(215).say(&["off", "North", "--at", "2 min ago"]);
    bench.at(900).say(&["drawn", "North"]);
    bench.at(910).say(&[
        "outcome",
        "North",
        "good",
        "--note",
        "bright",
        "--shelf",
        "top left=018:down",
    ]);
    let ledger = bench.json(&["ledger"]);
    assert_eq!(ledger["firings"][0]["result"], "good");
    assert_eq!(ledger["firings"][0]["off_at"].as_str().unwrap().len(), 25);
    let history = bench.json(&["history", "North"]);
    assert_eq!(history["events"].as_array().unwrap().len(), 7);
    assert_eq!(history["events"][6]["fields"]["shelves"][0]["place"], "top left");
    assert_eq!(bench.say(&["status"]), "No kiln is packed, lit or cooling.\n");
}

#[test]
fn law_answers_for_programs_name_the_event() {
    let bench = Bench::new();
    let lit = bench.json(&["light", "North", "--load", "gold"]);
    assert_eq!(lit["pack"]["cone"], "018");
    assert_eq!(lit["pack"]["ends"][1]["end_c"], 734.0);
    let read = bench.json(&["read", "North", "1314F"]);
    assert_eq!(read["event_id"], lit["event_id"].as_i64().unwrap() + 1);
    assert_abs_diff_eq!(read["celsius"].as_f64().unwrap(), 712.22, epsilon = 0.01);
    let status = bench.json(&["status"]);
    assert_eq!(status["firings"][0]["state"], "lit");
    assert_eq!(status["firings"][0]["last_look"], Value::Null);
}

#[test]
fn law_striking_takes_back_the_last_event_or_a_named_one() {
    let mut bench = Bench::new();
    bench.say(&["light", "North", "--load", "gold"]);
    let read = event_number(&bench.at(10).say(&["read", "North", "300C"]));
    let off = event_number(&bench.at(11).say(&["off", "North"]));
    let struck = bench.at(12).say(&["strike", "--reason", "wrong kiln"]);
    assert!(struck.starts_with(&format!("Event {off} (off at ")), "{struck}");
    bench.say(&["strike", &read.to_string(), "--reason", "misread"]);
    let history = bench.say(&["history", "North"]);
    assert_eq!(history.matches("(struck)").count(), 2, "{history}");
    let again = bench.refused(&["strike", &read.to_string(), "--reason", "misread"]);
    assert!(again.contains("was struck already"), "{again}");
    assert_eq!(
        bench.refused(&["strike", "999", "--reason", "x"]),
        "there is no event 999 in this shop: \"spyhole history\" lists them"
    );
}

#[test]
fn law_a_cone_far_from_the_loads_own_is_asked_about() {
    let bench = Bench::new();
    let far = ["light", "North", "--load", "stoneware glaze", "--cone", "06"];
    let ask = |answers| {
        let setting = Setting { json: false, answers: Some(answers), now: LIT };
        typed(&bench.shop, &far, &setting)
    };
    let said = ask("no\n");
    assert!(
        said.warned
            .contains("Cone 06 is 11.0 cones cooler than cone 6, which stoneware glaze goes to."),
        "{}",
        said.warned
    );
    assert_eq!(said.error.unwrap(), "nothing was written: give the cone you mean with --cone");
    assert!(bench.json(&["status"])["firings"].as_array().unwrap().is_empty());
    // Nobody is there to ask: it warns and does as told.
    let said = bench.try_it(&far);
    assert!(said.warned.starts_with("Warning: Cone 06 is 11.0 cones cooler"), "{}", said.warned);
    assert_eq!(said.error, None);
}

#[test]
fn law_what_cannot_be_is_refused_and_nothing_is_written() {
    let mut bench = Bench::new();
    let before = bench.json(&["status"])["last_event_id"].clone();
    for (line, message) in [
        (
            vec!["light", "Norht", "--load", "gold"],
            "there is no kiln \"Norht\" in this shop; did you mean \"North\"? (to add it: spyhole kiln add \"Norht\" --fuel gas)",
        ),
        (vec!["light", "North"], "North was not packed yet, so say what is in it: --load TYPE"),
        (
            vec!["look", "North", "--target", "down"],
            "North is not lit, so a look cannot be: light it first with \"spyhole light North --load TYPE\"; if it was lit earlier, add --at TIME",
        ),
        (
            vec!["look", "North"],
            "a look says what at least one cone does: add --target, --guide or --guard with standing, leaning, half or down",
        ),
        (
            vec!["kiln", "add", "north", "--fuel", "gas"],
            "there is a kiln \"North\" already: to describe it anew, use spyhole kiln change",
        ),
        (vec!["history", "North"], "North has not been fired yet"),
        (
            vec!["light", "North", "--load", "gold", "--guide", "016"],
            "the guide cone 016 has to be cooler than the target 018",
        ),
    ] {
        assert_eq!(bench.refused(&line), message);
    }
    for (line, part) in [
        (
            vec!["light", "North", "--load", "glod"],
            "there is no load type \"glod\" in this shop; did you mean \"gold\"?",
        ),
        (vec!["read", "North", "712"], "temperature \"712\" has no unit: write 712C or 1314F"),
        (
            vec!["look", "North", "--target", "dwn"],
            "what a cone does, \"dwn\" is none of standing, leaning, half, down; did you mean \"down\"?",
        ),
        (vec!["light", "North", "--load", "gold", "--cone", "18"], "did you mean 018?"),
        (
            vec!["light", "North", "--load", "gold", "--at", "tomorrow"],
            "time \"tomorrow\" is not understood",
        ),
        (vec!["outcome", "North", "fine"], "result \"fine\" is none of under, good, over"),
        (
            vec!["kiln", "add", "South", "--fuel", "peat"],
            "fuel \"peat\" is none of gas, electric, wood, oil",
        ),
    ] {
        let error = bench.refused(&line);
        assert!(error.contains(part), "{error}");
    }
    assert_eq!(bench.at(5).json(&["status"])["last_event_id"], before);
}

#[test]
fn law_kilns_and_load_types_are_the_shops_own() {
    let bench = Bench::new();
    bench.say(&["kiln", "change", "North", "--ceiling", "1260C", "--litres", "250"]);
    let kilns = bench.json(&["kiln", "list"]);
    assert_eq!(kilns["kilns"][0]["ceiling_c"], 1260.0);
    assert_eq!(kilns["kilns"][0]["fuel"], "gas");
    let list = bench.say(&["load-type", "list"]);
    assert!(list.contains("* common practice, no source"), "{list}");
    bench.say(&["load-type", "change", "gold", "--over", "0.3", "--usual-length", "4h30"]);
    let gold = bench.json(&["load-type", "show", "gold"]);
    assert_eq!(
        (gold["over_cones"].as_f64(), gold["usual_length_min"].as_f64()),
        (Some(0.3), Some(270.0))
    );
    assert_eq!(gold["basis"], "your own");
    let added = bench.say(&["load-type", "add", "mother of pearl", "--cone", "^019"]);
    assert!(added.contains("Cone 019 (self-supporting) ends at"), "{added}");
    assert!(bench.say(&["journal", "check"]).contains("The file is whole."));
}

#[test]
fn law_a_schedule_edited_later_does_not_change_what_a_firing_was_lit_by() {
    let bench = Bench::new();
    let file = bench.shop.with_file_name("mine.json");
    let text = schedule_file::to_json(&shipped_schedules::named("lustre_and_gold").unwrap());
    fs::write(&file, text).unwrap();
    bench.say(&["light", "North", "--load", "gold", "--schedule", file.to_str().unwrap()]);
    let then = shipped_schedules::plan(file.to_str().unwrap()).unwrap();
    fs::remove_file(&file).unwrap();
    let firing = Journal::open(&bench.shop).unwrap().firing(FiringId(1)).unwrap();
    assert!(then.len() > 2, "{then:?}");
    assert_eq!(firing.plan, then);
    assert_eq!(firing.schedule.as_deref(), file.canonicalize().unwrap_or(file.clone()).to_str());
}

/// A kiln that is hot by all that is known is not drawn without a word, nor is a look taken that
/// contradicts the cones; the way through is the same for both.
#[test]
fn law_what_is_hard_to_believe_is_asked_about() {
    let mut bench = Bench::new();
    bench.at(0).say(&["light", "North", "--load", "gold"]);
    bench.at(60).say(&["read", "North", "640C"]);
    bench.at(61).say(&["look", "North", "--guide", "half", "--target", "leaning"]);
    let warned = |bench: &Bench, line: &[&str]| {
        let said = bench.try_it(line);
        assert_eq!(said.error, None, "{line:?}");
        said.warned
    };
    let against =
        warned(bench.at(62), &["look", "North", "--guide", "leaning", "--target", "down"]);
    assert!(against.contains("the cooler cone goes down first"), "{against}");
    bench.say(&["strike", "--reason", "slip"]);
    let stood = warned(bench.at(63), &["look", "North", "--guide", "standing"]);
    assert!(
        stood.contains("The guide was half at ") && stood.contains(" and standing at "),
        "{stood}"
    );
    bench.at(64).say(&["off", "North"]);
    // Somebody who is asked can say no, and nothing is written.
    let setting = Setting { json: false, answers: Some("no\n"), now: minutes(66) };
    let refused = typed(&bench.shop, &["drawn", "North"], &setting);
    assert_eq!(refused.error.as_deref(), Some("nothing was written"));
    assert!(refused.warned.contains("North had been off for 2 min"), "{}", refused.warned);
    let setting = Setting { json: false, answers: Some("yes\n"), now: minutes(66) };
    assert_eq!(typed(&bench.shop, &["drawn", "North"], &setting).error, None);
    bench.say(&["strike", "--reason", "slip"]);
    assert!(warned(bench.at(67), &["drawn", "North"]).contains("Open and draw by the kiln maker"));
    bench.say(&["strike", "--reason", "slip"]);
    assert_eq!(warned(bench.at(64 + 15 * 60), &["drawn", "North"]), "");
}

/// A target that is down hours before its time, or while the guide stands: whoever is asked can say no.
#[test]
fn law_a_down_that_does_not_fit_is_asked_about() {
    let mut bench = Bench::new();
    bench.at(0).say(&["light", "North", "--load", "gold"]);
    for (minute, read) in [(60, "180C"), (75, "215C"), (90, "250C"), (105, "285C")] {
        bench.at(minute).say(&["read", "North", read]);
    }
    let answered = |bench: &Bench, minute: i64, line: &[&str], answer| {
        let setting = Setting { json: false, answers: Some(answer), now: minutes(minute) };
        typed(&bench.shop, line, &setting)
    };
    let down = ["look", "North", "--target", "down"];
    let refused = answered(&bench, 110, &down, "no\n");
    assert_eq!(refused.error.as_deref(), Some("nothing was written"));
    assert!(refused.warned.contains("less than 1 chance in 250"), "{}", refused.warned);
    bench.at(112).say(&["look", "North", "--guide", "standing"]);
    let refused = answered(&bench, 115, &down, "no\n");
    assert!(refused.warned.contains("the guide, which goes first, stood at"));
    assert_eq!(answered(&bench, 115, &down, "yes\n").error, None);
    let status = bench.at(116).say(&["status"]);
    assert!(status.contains("Shut off North now") && status.contains("spyhole strike"), "{status}");
    assert_eq!(answered(&bench, 118, &down, "").error, None, "another look confirms it");
    assert!(!bench.at(119).say(&["status"]).contains("spyhole strike"));
}

/// The plan of a firing is told in temperatures and times.
#[test]
fn law_the_history_tells_a_plan_in_words() {
    let mut bench = Bench::new();
    bench.at(0).say(&["light", "North", "--load", "gold", "--schedule", "Lustre and gold"]);
    bench.at(60).say(&["read", "North", "612C"]);
    let history = bench.say(&["history", "North"]);
    assert!(
        history.contains("plan 20 C, 400 C after 3 h 48 min, 734 C after 6 h 02 min"),
        "{history}"
    );
    assert!(history.contains("reading       612 C"), "{history}");
}

/// What is typed at the kiln is judged at once: what was expected, and how to take it back.
#[test]
fn law_a_temperature_that_does_not_fit_is_named_where_it_is_written() {
    let mut bench = Bench::new();
    bench.at(0).say(&["light", "North", "--load", "gold"]);
    let reads = |bench: &mut Bench, minute: i64, read: &str| {
        let said = bench.at(minute).say(&["read", "North", read]);
        let number = event_number(&said);
        if said.lines().count() > 1 {
            let command = format!("\"spyhole strike {number} --reason mistyped\"");
            assert!(said.contains(&command), "{said}");
            bench.say(&["strike", &number.to_string(), "--reason", "mistyped"]);
        }
        said
    };
    for (minute, read) in [(60, "200C"), (80, "245C"), (100, "290C"), (120, "335C")] {
        assert_eq!(reads(&mut bench, minute, read).lines().count(), 1, "{read}");
    }
    let said = reads(&mut bench, 140, "38C");
    let range = "20 min after 335 C a kiln is at 123 C to 597 C";
    assert!(said.contains(&format!("38 C does not fit: {range}.")), "{said}");
    // The number is right and the scale is not, either way.
    let said = reads(&mut bench, 141, "720C");
    assert!(said.contains("Taken as Fahrenheit it is 382 C, which fits."), "{said}");
    let said = reads(&mut bench, 142, "385F");
    assert!(said.contains("Taken as Celsius it is 385 C, which fits."), "{said}");
    assert_eq!(reads(&mut bench, 143, "387C").lines().count(), 1, "what fits is believed");
    let doubt = bench.at(144).json(&["read", "North", "2000F"])["doubt"].clone();
    assert!(doubt.as_str().unwrap().starts_with("1093 C does not fit"), "{doubt}");
    // Cooling is no climb.
    bench.at(150).say(&["off", "North"]);
    assert_eq!(reads(&mut bench, 240, "60C").lines().count(), 1);
}

/// The second number shows that the first may have been wrong: both are named.
#[test]
fn law_a_mistyped_first_temperature_is_named_with_the_second() {
    let mut bench = Bench::new();
    bench.at(0).say(&["light", "North", "--load", "gold"]);
    let first = event_number(&bench.at(100).say(&["read", "North", "41C"]));
    let said = bench.at(120).say(&["read", "North", "475C"]);
    let second = event_number(&said);
    let way =
        format!("\"spyhole strike {second} --reason mistyped\", or {first} for the one before");
    assert!(said.contains("20 min after 41 C a kiln is at") && said.contains(&way), "{said}");
}

#[test]
fn law_a_first_temperature_is_held_against_what_a_kiln_can_do() {
    let asked = |minute: i64, read: &str, answer: &str| {
        let mut bench = Bench::new();
        bench.at(0).say(&["light", "North", "--load", "gold"]);
        let setting = Setting { json: false, answers: Some(answer), now: minutes(minute) };
        typed(&bench.shop, &["read", "North", read], &setting)
    };
    // 590 F is 310 C, which a kiln may reach within half an hour.
    let refused = asked(30, "590C", "no\n");
    assert_eq!(refused.error.as_deref(), Some("nothing was written"));
    assert!(
        refused.warned.contains("30 min after lighting a kiln is at most at 487 C. Taken as Fahrenheit it is 310 C, which fits. Is that meant?"),
        "{}",
        refused.warned
    );
    assert_eq!(asked(30, "590C", "yes\n").error, None);
    // The target of gold is down at 740 C or so.
    let refused = asked(240, "1200C", "no\n");
    assert!(refused.warned.contains("its target is down at about 7"), "{}", refused.warned);
    // Nothing that fits is asked about.
    for (minute, read) in [(30, "310C"), (30, "590F"), (240, "700C"), (240, "1290F"), (5, "95C")] {
        let said = asked(minute, read, "");
        assert_eq!((said.error, said.warned.as_str()), (None, ""), "{read}");
    }
}

/// Past firings tell what a first number must be near: neither the other scale nor a digit lost.
#[test]
fn law_a_first_temperature_is_held_against_what_the_kiln_usually_reads() {
    let mut bench = Bench::new();
    bench.at(0).say(&["light", "North", "--load", "gold"]);
    for (minute, read) in [(60, "200C"), (120, "400C"), (180, "560C"), (240, "690C")] {
        bench.at(minute).say(&["read", "North", read]);
    }
    bench.at(260).say(&["off", "North"]);
    bench.at(1000).say(&["drawn", "North"]);
    let day = 1440;
    bench.at(day).say(&["light", "North", "--load", "gold"]);
    let said = bench.at(day + 120).say(&["read", "North", "41C"]);
    assert!(
        said.contains(
            "41 C does not fit: 2 h 00 min after lighting this kiln usually reads about 400 C."
        ),
        "{said}"
    );
    bench.say(&["strike", "--reason", "mistyped"]);
    let said = bench.say(&["read", "North", "410F"]);
    assert!(said.contains("Taken as Celsius it is 410 C, which fits."), "{said}");
    bench.say(&["strike", "--reason", "mistyped"]);
    assert_eq!(bench.say(&["read", "North", "330C"]).lines().count(), 1, "a slow day");
}

#[test]
fn law_a_changed_probe_belongs_to_its_kiln_with_or_without_a_firing() {
    let mut bench = Bench::new();
    let said = bench.say(&["probe-changed", "north", "--note", "a new one"]);
    assert!(said.starts_with("The probe on North was changed or moved at "), "{said}");
    let since = |bench: &Bench| {
        let journal = Journal::open(bench.shop()).unwrap();
        journal.shop().unwrap().corrections.probe_since("North", minutes(10_000))
    };
    assert_eq!(since(&bench), Some(minutes(0)));
    bench.at(60).say(&["light", "North", "--load", "gold"]);
    let answer = bench.at(90).json(&["probe-changed", "North", "--at", "10 min ago"]);
    assert_eq!((&answer["kiln"], answer["note"].as_str()), (&"North".into(), None));
    assert_eq!(since(&bench), Some(minutes(80)));
    bench.say(&["strike", &answer["event_id"].to_string(), "--reason", "other kiln"]);
    assert_eq!(since(&bench), Some(minutes(0)));
    let refused = bench.refused(&["probe-changed", "South"]);
    assert!(refused.contains("there is no kiln \"South\""), "{refused}");
}
