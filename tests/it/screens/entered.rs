//! What is entered by a command and what is entered by keys: the same fields, the same events.

use std::collections::BTreeSet;

use clap::CommandFactory;
use serde::Deserialize;
use spyhole::testing::edge::draft::Draft;
use spyhole::testing::edge::form;
use spyhole::testing::edge::screen::form::Value;
use spyhole::testing::firing::Kind;
use spyhole::testing::firing::fields::Field;

use super::desk::{Desk, PLAIN, text};
use super::frames::begun;
use crate::journal::cli::{Bench, Commands, words};
use crate::prelude::*;
use crate::program::describes;

/// `tests/data/entered.toml`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Steps {
    step: Vec<Step>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Step {
    kind: String,
    line: String,
    opens: String,
    keys: String,
}

fn steps() -> Vec<Step> {
    data::<Steps>("entered.toml").step
}

/// The keys of the fields a command has arguments for.
fn arguments(line: &str) -> Vec<String> {
    let (all, line) = (Commands::command(), words(line));
    let mut command = all.find_subcommand(&line[0]).unwrap();
    if command.has_subcommands() {
        command = command.find_subcommand(&line[1]).unwrap();
    }
    command.get_arguments().map(|argument| argument.get_id().to_string()).collect()
}

#[test]
fn law_commands_and_keys_enter_the_same_events() {
    let mut bench = Bench::new();
    bench.say("kiln add Wren --fuel gas");
    let mut desk = Desk::busy().after("<");
    let mut said = BTreeSet::new();
    for (minute, Step { kind, line, opens, keys }) in (0..).zip(steps()) {
        let kind = Kind::ALL.into_iter().find(|known| known.name() == kind).unwrap();
        let asked = kind.fields().iter().filter(|field| field.is_entered());
        for field in asked.clone() {
            let known = arguments(&line).iter().any(|id| id == field.argument.0);
            assert!(known, "{line:?} has no argument for {}", field.key);
        }
        bench.at(minute).say(&line);
        desk.type_in(&opens);
        let form =
            desk.app.form.clone().unwrap_or_else(|| panic!("{kind}: {:?}", desk.app.message));
        // What is described anew keeps its name.
        let keeps = |field: &Field| kind.name_field() == Some(field) && !form.kiln.is_empty();
        for field in asked.filter(|field| !keeps(field)) {
            let known = form.fields.iter().any(|one| one.asks.key == field.key);
            assert!(known, "the form of {kind} does not ask for {}", field.key);
        }
        desk.type_in(&keys);
        let problem = desk.app.form.as_ref().map(|form| form.problem.clone());
        assert_eq!(problem, None, "{line:?}");
        let journal = Journal::open(&bench.shop()).unwrap();
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
        said.extend(form::write(&by_keys).keys().map(|key| (kind.name(), key.clone())));
        if !matches!(kind, Kind::Lit | Kind::Struck) {
            // What a draft is filled with from an event makes that event again.
            let again = Draft::of(&by_command).what(&Default::default()).unwrap();
            assert_eq!(again, by_command);
        }
    }
    for kind in Kind::ALL.into_iter().filter(|kind| said.iter().any(|(of, _)| *of == kind.name())) {
        for field in kind.fields().iter().filter(|field| field.is_entered()) {
            let known = said.contains(&(kind.name(), field.key.to_owned()));
            assert!(known, "no step says {} of {kind}", field.key);
        }
    }
}

/// Every kind is in the steps above but those that nobody fills in: answers to alarms, plans and
/// suggestions taken whole, each by a command and by keys, and what probes and the watch write.
#[test]
fn law_every_kind_is_entered_both_ways() {
    let taken_whole = [
        (Kind::Acknowledged, "alarms ack", "alarm", "", "a"),
        (Kind::Shelved, "alarms shelve", "length", "", "z\n"),
        (Kind::Accepted, "review accept", "", "with_a_year", "5\ta\n"),
        (Kind::Planned, "plan", "adopt", "the_day", "g"),
    ];
    for (kind, line, argument, desk, keys) in &taken_whole {
        let known = arguments(line);
        assert!(argument.is_empty() || known.iter().any(|id| id == argument), "{line}: {known:?}");
        let desk = begun(desk).after(keys);
        assert_eq!(desk.written.last().map(Kind::of), Some(*kind), "{keys:?}");
    }
    let by_nobody = [Kind::ProbeSilent, Kind::Called, Kind::Marked];
    for kind in Kind::ALL {
        let ways = [
            steps().iter().any(|step| step.kind == kind.name()),
            taken_whole.iter().any(|(taken, ..)| *taken == kind),
            by_nobody.contains(&kind),
        ];
        assert_eq!(ways.into_iter().filter(|way| *way).count(), 1, "{kind}");
    }
}

/// Before it is written, everything is told that was said: whatever else would be written were one field
/// left open, or the next word picked, stands in the line that tells it.
#[test]
fn law_the_line_of_what_enter_writes_says_all_of_it() {
    let told = |desk: &Desk| {
        let frame = text(&desk.draw(120, 60, PLAIN)).replace('│', " ");
        let words = frame.split_whitespace().collect::<Vec<_>>().join(" ");
        words.split_once("Enter writes: ").map(|(_, line)| line.to_owned())
    };
    let writes = |desk: &Desk| {
        let form = desk.app.form.as_ref().unwrap();
        form.entry(&desk.scene(), &desk.dial, &desk.schedules).map(|entry| entry.what)
    };
    let (mut desk, mut held) = (Desk::busy().after("<"), 0);
    for Step { kind, opens, keys, .. } in steps() {
        desk.type_in(&opens);
        let typed = keys.split('\n').next().unwrap();
        desk.type_in(typed);
        if let (Some(line), Ok(what)) = (told(&desk), writes(&desk)) {
            let fields = desk.app.form.as_ref().unwrap().fields.clone();
            for (at, field) in fields.iter().enumerate() {
                let other = &mut desk.app.form.as_mut().unwrap().fields[at];
                match &mut other.value {
                    Value::Text(input) => input.reset(),
                    Value::Choice { options, chosen } => {
                        *chosen = chosen.map(|at| (at + 1) % options.len());
                    }
                }
                // That there are none of a kind is left out of a count.
                if field.said() != "0" && writes(&desk).is_ok_and(|other| other != what) {
                    held += 1;
                    assert_ne!(told(&desk), Some(line.clone()), "{kind}: {}", field.asks.label);
                }
                desk.app.form.as_mut().unwrap().fields[at].clone_from(field);
            }
        }
        desk.type_in(&keys[typed.len()..]);
        assert!(desk.app.form.is_none(), "{kind}: {keys:?}");
    }
    assert!(held > 50, "only {held} fields");
}

/// Fields that are rarely said wait behind the others, and no form is cut where a screen is small.
#[test]
fn law_rare_fields_wait_until_they_are_asked_for() {
    for size in [(80, 24), (40, 12)] {
        let mut desk = Desk::busy().after("<p1");
        desk.press(Key::BackTab);
        // Tab goes through all of them and round again; each is seen as it is reached.
        for label in ["load", "contents", "how full", "target cone", "when"] {
            let shown = text(&desk.draw(size.0, size.1, PLAIN));
            assert!(shown.contains(&format!("> {label}")), "{shown}");
            // Those that wait are told of where all are seen, and behind the last one.
            assert!(shown.contains("more") || size.1 == 12 && label != "when", "{shown}");
            assert!(!shown.contains("packed by   who"), "{shown}");
            desk.press(Key::Tab);
        }
        for label in ["pieces", "worth", "packed by", "cones stand", "guide", "guard", "cone type"]
        {
            let shown = text(&desk.draw(size.0, size.1, PLAIN));
            assert!(shown.contains(&format!("> {label}")), "{shown}");
            desk.press(Key::Tab);
        }
        assert_eq!(desk.app.form.as_ref().unwrap().at_field, 0);
    }
}

/// The description of the record says of every kind and field what their table says.
#[test]
fn law_the_description_of_the_record_is_in_step() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/assets/firing-record.md");
    let mut rows = String::new();
    for kind in Kind::ALL {
        if kind.fields().is_empty() {
            rows += &format!("| `{}` | none | | |\n", kind.name());
        }
        for field in kind.fields() {
            let needed = if field.needed { "yes" } else { "no" };
            let about = field.about.trim_end_matches('.');
            rows += &format!("| `{}` | `{}` | {about} | {needed} |\n", kind.name(), field.key);
        }
    }
    describes(path, &rows);
}
