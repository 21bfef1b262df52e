//! What is entered by a command and what is entered by keys: the same fields, the same events.

use clap::CommandFactory;
use spyhole::testing::edge::draft::Draft;
use spyhole::testing::edge::journal::Journal;
use spyhole::testing::edge::screen::key::Key;
use spyhole::testing::firing::event::{Outcome, Packing};
use spyhole::testing::firing::{EventId, Kind, What};

use super::desk::{Desk, PLAIN, text};
use crate::journal::cli::{Bench, Commands};

/// One event: its kind, the command that enters it, the keys that open its form, and those that
/// fill it in: `\n` Enter, `\t` Tab, `^` Ctrl-U, `!` Escape.
type Step = (Kind, &'static [&'static str], &'static str, &'static str);

/// Every kind that somebody enters, with every field it has.
const STEPS: [Step; 20] = [
    (
        Kind::Packed,
        &[
            "pack",
            "Wren",
            "--load",
            "gold",
            "--contents",
            "cups",
            "--pieces",
            "40",
            "--full",
            "half",
            "--worth",
            "350.5",
            "--packed-by",
            "Mia",
            "--cones-stand",
            "left",
            "--cone",
            "017",
            "--guide",
            "none",
            "--guard",
            "015",
            "--family",
            "large",
        ],
        "p",
        "1\tcups\t3\t017\t\t40\t350.5\tMia\tleft\tnone\t015\t3\n",
    ),
    (
        Kind::Packed,
        &["pack", "Wren", "--contents", "bowls", "--pieces", ""],
        "p",
        "\t^bowls\t\t\t\t^\n",
    ),
    (
        Kind::Packed,
        &["pack", "Wren", "--load", "gold", "--cone", "018", "--guide", "019", "--guard", "017"],
        "p",
        "\t\t\t^018\t\t\t\t\t\t^019\t^017\n",
    ),
    (
        Kind::Lit,
        &["light", "Wren", "--schedule", "Lustre and gold", "--family", "self-supporting"],
        "f",
        "2\t\t\t\t\t1\n",
    ),
    (Kind::Reading, &["read", "Wren", "120C"], "r", "120C\n"),
    (
        Kind::Look,
        &["look", "Wren", "--guide", "down", "--target", "leaning", "--guard", "standing"],
        "l",
        "dls\n",
    ),
    (Kind::Glow, &["glow", "Wren", "dark", "red", "--room", "light"], "g", "42\n"),
    (Kind::Turned, &["turn", "Wren", "half open"], "t", "half open\n"),
    (Kind::Note, &["note", "Wren", "quiet burner"], "n", "quiet burner\n"),
    (Kind::Aborted, &["abort", "Wren", "--reason", "gas ran out"], "x", "gas ran out\n"),
    (Kind::Resumed, &["resume", "Wren"], "f", "\n"),
    (Kind::Off, &["off", "Wren"], "o", "\n"),
    (Kind::Drawn, &["drawn", "Wren"], "d", "\n\n"),
    (
        Kind::Outcome,
        &[
            "outcome",
            "Wren",
            "over",
            "--note",
            "dull",
            "--loss",
            "20",
            "--shelf",
            "top left=018:down",
            "--shelf",
            "bottom=018:half",
        ],
        "e",
        "o\tdull\t20\ttop left=018:down\tbottom=018:half\n",
    ),
    (Kind::ProbeChanged, &["probe-changed", "Wren", "--note", "type K"], "b", "type K\n"),
    (
        Kind::Kiln,
        &[
            "kiln",
            "add",
            "Kite",
            "--fuel",
            "electric",
            "--litres",
            "250",
            "--ceiling",
            "2300F",
            "--fastest-climb",
            "180C/h",
        ],
        "4add a kiln\n",
        "Kite\t2\t250\t2300F\t180C/h\n!!",
    ),
    (
        Kind::Kiln,
        &["kiln", "change", "Kite", "--fuel", "gas", "--litres", "", "--ceiling", "1300C"],
        "4kite\n",
        "1\t^\t^1300C\n!!",
    ),
    (
        Kind::LoadType,
        &[
            "load-type",
            "add",
            "fine gold",
            "--cone",
            "019",
            "--family",
            "large",
            "--under",
            "0.3",
            "--over",
            "0.4",
            "--if-under",
            "lost",
            "--if-over",
            "fire-again",
            "--usual-length",
            "4h30",
            "--caution",
            "Be there.",
            "--caution",
            "Air the room.",
        ],
        "4add a load type\n",
        "fine gold\t019\t3\t^0.3\t^0.4\t21\t4h30\tBe there.\tAir the room.\n!!",
    ),
    (
        Kind::LoadType,
        &[
            "load-type",
            "change",
            "fine gold",
            "--cone",
            "018",
            "--usual-length",
            "",
            "--caution",
            "",
        ],
        "4fine gold\n",
        "^018\t\t\t\t\t\t^\t^\t^\n!!",
    ),
    (Kind::Struck, &["strike", "--reason", "wrong kiln"], "u", "wrong kiln\n"),
];

fn press(desk: &mut Desk, keys: &str) {
    for key in keys.chars() {
        desk.press(match key {
            '\n' => Key::Enter,
            '\t' => Key::Tab,
            '^' => Key::Control('u'),
            '!' => Key::Escape,
            other => Key::Char(other),
        });
    }
}

/// The keys of the fields a command has arguments for.
fn arguments(line: &[&str]) -> Vec<String> {
    let all = Commands::command();
    let mut command = all.find_subcommand(line[0]).unwrap();
    if command.has_subcommands() {
        command = command.find_subcommand(line[1]).unwrap();
    }
    command.get_arguments().map(|argument| argument.get_id().to_string()).collect()
}

#[test]
fn law_commands_and_keys_enter_the_same_events() {
    let mut bench = Bench::new();
    bench.say(&["kiln", "add", "Wren", "--fuel", "gas"]);
    let mut desk = Desk::busy().before();
    for (minute, (kind, line, opens, keys)) in (0..).zip(STEPS) {
        let asked = kind.fields().iter().filter(|field| field.is_entered());
        for field in asked.clone() {
            let known = arguments(line).iter().any(|id| id == field.argument.0);
            assert!(known, "{line:?} has no argument for {}", field.key);
        }
        bench.at(minute).say(line);
        press(&mut desk, opens);
        let form =
            desk.app.form.clone().unwrap_or_else(|| panic!("{kind}: {:?}", desk.app.message));
        for field in asked.filter(|field| field.key != "name" || form.kiln.is_empty()) {
            let known = form.fields.iter().any(|one| one.asks.key == field.key);
            assert!(known, "the form of {kind} does not ask for {}", field.key);
        }
        press(&mut desk, keys);
        let problem = desk.app.form.as_ref().map(|form| form.problem.clone());
        assert_eq!(problem, None, "{line:?}");
        let journal = Journal::open(bench.shop()).unwrap();
        let id = journal.last_event().unwrap().unwrap();
        let by_command = journal.event(id).unwrap().event.what;
        let by_keys = desk.written.last().unwrap().clone();
        match (&by_command, &by_keys) {
            // The numbers are each shop's own.
            (What::Struck { reason, .. }, What::Struck { reason: same, .. }) => {
                assert_eq!(reason, same);
            }
            _ => assert_eq!(by_command, by_keys, "{line:?}"),
        }
        assert_eq!(Kind::of(&by_command), kind);
        if !matches!(kind, Kind::Lit | Kind::Struck) {
            // What a draft is filled with from an event makes that event again.
            let again = Draft::of(&by_command).what(&Default::default()).unwrap();
            assert_eq!(again, by_command);
        }
    }
}

/// Every kind is in the steps above but those that nobody fills in: answers to alarms, what probes
/// and the watch write, and suggestions accepted whole.
#[test]
fn law_every_kind_is_entered_both_ways() {
    let of_no_form = [Kind::Acknowledged, Kind::Accepted, Kind::ProbeSilent];
    let of_the_watch = [Kind::Called, Kind::Marked];
    for kind in Kind::ALL {
        let entered = STEPS.iter().any(|(step, ..)| *step == kind);
        let put_off = kind == Kind::Shelved;
        let none = of_no_form.contains(&kind) || of_the_watch.contains(&kind);
        assert!(entered ^ (none || put_off), "{kind}");
    }
}

/// Fields that are rarely said wait behind the others, and no form is cut where a screen is small.
#[test]
fn law_rare_fields_wait_until_they_are_asked_for() {
    for size in [(80, 24), (40, 12)] {
        let mut desk = Desk::busy().before().after("p1");
        // Tab goes through all of them and round again; each is seen as it is reached.
        for label in ["load", "contents", "how full", "target cone", "when"] {
            let shown = text(&desk.draw(size.0, size.1, PLAIN));
            assert!(shown.contains(&format!("> {label}")), "{shown}");
            // Those that wait are told of where all are seen, and behind the last one.
            assert!(shown.contains("more") || size.1 == 12 && label != "when", "{shown}");
            assert!(!shown.contains("packed by   who"), "{shown}");
            desk.press(Key::Tab);
        }
        for label in ["pieces", "worth", "packed by", "cones stand", "guide", "guard", "cones are"]
        {
            let shown = text(&desk.draw(size.0, size.1, PLAIN));
            assert!(shown.contains(&format!("> {label}")), "{shown}");
            desk.press(Key::Tab);
        }
        assert_eq!(desk.app.form.as_ref().unwrap().at_field, 0);
    }
}

/// What was said once stays where it is not said again, by a command as by keys.
#[test]
fn regress_packing_again_forgets_nothing() {
    let bench = Bench::new();
    let last = || -> Packing {
        let journal = Journal::open(bench.shop()).unwrap();
        let id = journal.last_event().unwrap().unwrap();
        match journal.event(id).unwrap().event.what {
            What::Packed(packing) => packing,
            other => panic!("{other:?}"),
        }
    };
    let mut line = STEPS[0].1.to_vec();
    line[1] = "North";
    bench.say(&line);
    let said = last();
    bench.say(&["pack", "North"]);
    assert_eq!(last(), said);
    bench.say(&["pack", "North", "--worth", "20"]);
    assert_eq!(last(), Packing { worth: Some(20.0), ..said.clone() });
    for (field, without) in [
        ("--contents", Packing { contents: String::new(), worth: Some(20.0), ..said.clone() }),
        (
            "--packed-by",
            Packing {
                packed_by: String::new(),
                contents: String::new(),
                worth: Some(20.0),
                ..said.clone()
            },
        ),
    ] {
        bench.say(&["pack", "North", field, ""]);
        assert_eq!(last(), without);
    }
}

/// An outcome that is there already is refused for what it is, also where nobody names the firing.
#[test]
fn regress_an_outcome_given_again_is_refused_as_one() {
    let mut bench = Bench::new();
    bench.say(&["light", "North", "--load", "gold"]);
    bench.at(300).say(&["off", "North"]);
    bench.at(900).say(&["drawn", "North"]);
    bench.say(&["outcome", "North", "good"]);
    let wanted = "this firing of North has its outcome already: to change it, strike that outcome and enter it again";
    assert_eq!(bench.refused(&["outcome", "North", "good", "--loss", "20"]), wanted);
    let journal = Journal::open(bench.shop()).unwrap();
    let outcome = journal.last_event().unwrap().unwrap();
    bench.say(&["strike", &outcome.to_string(), "--reason", "the loss was forgotten"]);
    bench.say(&["outcome", "North", "good", "--loss", "20"]);
    let journal = Journal::open(bench.shop()).unwrap();
    let EventId(last) = journal.last_event().unwrap().unwrap();
    let what = journal.event(EventId(last)).unwrap().event.what;
    assert!(matches!(what, What::Outcome(Outcome { loss: Some(20.0), .. })), "{what:?}");
}

/// The description of the record says of every kind and field what their table says.
#[test]
fn law_the_description_of_the_record_is_in_step() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/assets/firing-record.md");
    let described = std::fs::read_to_string(path).unwrap();
    let mut table = String::from("| `event` | key | what it is | needed |\n|---|---|---|---|\n");
    for kind in Kind::ALL {
        if kind.fields().is_empty() {
            table += &format!("| `{}` | none | | |\n", kind.name());
        }
        for field in kind.fields() {
            let needed = if field.needed { "yes" } else { "no" };
            let about = field.about.trim_end_matches('.');
            table += &format!("| `{}` | `{}` | {about} | {needed} |\n", kind.name(), field.key);
        }
    }
    if std::env::var_os("SPYHOLE_BLESS").is_some() {
        let (head, rest) = described.split_once("| `event` | key").unwrap();
        let tail = rest.split_once("\n\n").unwrap().1;
        std::fs::write(path, format!("{head}{table}\n{tail}")).unwrap();
        return;
    }
    assert!(described.contains(&table), "SPYHOLE_BLESS=1 writes it anew; wanted\n{table}");
}
