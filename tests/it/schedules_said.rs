//! What `spyhole schedule` answers, as text and as JSON.

use std::path::Path;

use clap::{CommandFactory, Parser};
use serde_json::Value;
use spyhole::testing::edge::cli::schedule::{ScheduleCommand, run};
use spyhole::testing::edge::plot::{Mark, Plot, curve_plot};
use spyhole::testing::units::Scale;

#[derive(Debug, Parser)]
struct Typed {
    #[command(subcommand)]
    command: ScheduleCommand,
}

/// The answer to a command line, and the error after it, if any.
fn said(line: &[&str], json: bool, scale: Scale) -> (String, Option<String>) {
    let typed = Typed::try_parse_from([&["schedule"], line].concat()).unwrap();
    let mut out = Vec::new();
    let error = run(&typed.command, Path::new("/nowhere/shop.db"), json, scale, &mut out).err();
    (String::from_utf8(out).unwrap(), error.map(|error| format!("{error:#}")))
}

fn text(line: &[&str]) -> String {
    let (text, error) = said(line, false, Scale::Celsius);
    assert_eq!(error, None);
    text
}

fn json(line: &[&str]) -> Value {
    let (text, error) = said(line, true, Scale::Celsius);
    assert_eq!(error, None);
    serde_json::from_str(&text).unwrap()
}

fn refused(line: &[&str]) -> String {
    let (text, error) = said(line, false, Scale::Celsius);
    assert_eq!(text, "", "nothing is written before the error");
    error.unwrap()
}

#[test]
fn regress_a_bare_cone_is_solved_and_compared() {
    let line = ["solve", "--cone", "018", "--rate", "150C/h", "--final-rate", "60C/h"];
    assert_eq!(
        text(&line),
        "\
Cone 018 (self-supporting): 150 C/h up to 734 C, no soak (published).
Cone 018 (self-supporting): 60 C/h up to 715 C, no soak (published).
Slower at the end: 19 C lower.
From the chart: Orton Ceramic Foundation, Temperature Equivalents for Orton
Pyrometric Cones, wall chart, 2016 edition.
"
    );
    let answer = json(&["solve", "--cone", "018", "--rate", "150C/h", "--soak", "10min"]);
    assert_eq!(answer["before"]["top_c"], 734.0);
    assert_eq!(answer["before"]["top_f"], 1353.2);
    assert_eq!(answer["before"]["basis"], "published");
    assert_eq!(answer["after"]["soak_minutes"], 10.0);
    assert_eq!(answer["after"]["basis"], "interpolated");
    assert_eq!(answer["difference_c"], -16.3093);
}

#[test]
fn regress_a_schedule_is_solved_for_another_finish() {
    let line = ["solve", "lustre_and_gold", "--final-rate", "60C/h"];
    assert_eq!(
        text(&line),
        "\
Lustre and gold, cone 018 (self-supporting)
As written: 150 C/h up to 734 C, no soak (published).
Same heat work: 60 C/h up to 715 C, no soak (published).
Slower at the end: 19 C lower.
"
    );
    let answer = json(&line);
    assert_eq!(answer["difference_c"], -19.0);
    let file = answer["schedule"].to_string();
    let solved = spyhole::testing::edge::schedule_file::from_json(&file).unwrap();
    assert!(solved.reasoning.starts_with("Solved anew: 60 C/h up to 715 C, no soak (published). "));
}

#[test]
fn regress_a_schedule_is_shown_with_its_reasons() {
    let (text, _) = said(&["show", "Lustre and gold"], false, Scale::Fahrenheit);
    assert_eq!(
        text,
        "\
Lustre and gold
For lustre and gold, to cone 018 (self-supporting), 6 h 02 min from lighting to the end.

      0 min  start at 68 F
 3 h 48 min  climb to 752 F at 180 F/h
 6 h 02 min  climb to 1353 F at 270 F/h

The guide cone 019 goes down after 5 h 46 min, at 1283 F.
The target cone 018 goes down after 6 h 02 min, at 1353 F.
The guard cone 017 does not go down: 34 % of its heat work is done.
Ventilate from 68 F to 932 F. Resins and oils burn off: fumes that must not be
breathed. Open the vents, air the room and stay out of it.

Slow and vented to 400 C while the resin burns off; smoke that stays in the kiln
dulls the gold. Then 150 C/h to the end, where the chart has a printed value.
There is no soak: the metal is right when the cone is down, and late is worse
than early, since under-fired gold can be fired again and burnt gold cannot.
"
    );
}

#[test]
fn regress_a_check_names_the_rule_the_segment_and_the_source() {
    let line = ["check", "lustre_and_gold", "--ceiling", "700C", "--fastest", "120C/h"];
    let (text, error) = said(&line, false, Scale::Celsius);
    assert_eq!(
        error.unwrap(),
        "the schedule \"Lustre and gold\" has 2 wrong things in it: it cannot be fired as it is, see above"
    );
    assert_eq!(
        text,
        "\
Lustre and gold

WRONG in segment 2 (ramp)
  The top of 734 C is above the kiln's ceiling of 700 C: use another kiln or a
  cooler cone.
  Source: what was said of the kiln.
WRONG in segment 2 (ramp)
  150 C/h is faster than the kiln can climb (120 C/h): the real firing will be
  longer than planned, so slow the ramp and solve again.
  Source: what was said of the kiln.
REMARK
  Fumes come off up to about 500 C: ventilate the kiln and the room, and do not
  work beside it. The maker's data sheet comes first.
  Source: common practice, no source.
REMARK
  The kiln falls through the quartz inversion at 573 C as it likes: keep it
  closed there.
  Source: not above 50 C/h through 573 C: Fortuna 2000 (as quoted elsewhere), a
  factory figure for sanitaryware; studio ware is often cooled faster.
REMARK
  Do not crack the kiln above about 200 C, and unload below about 100 C.
  Source: no agreed standard: general texts, from memory. Cristobalite inversion
  at 220 C: encyclopaedias.
"
    );
    let (text, error) = said(&line, true, Scale::Celsius);
    assert!(error.is_some());
    let answer: Value = serde_json::from_str(&text).unwrap();
    let first = &answer["cautions"][0];
    assert_eq!((&first["rule"], &first["segment"]), (&"above_ceiling".into(), &2.into()));
    assert_eq!(answer["cautions"].as_array().unwrap().len(), 5);
}

#[test]
fn regress_a_simulation_is_drawn_in_plain_characters() {
    let line = ["simulate", "lustre_and_gold", "--ascii", "--width", "60", "--height", "14"];
    let text = text(&line);
    assert!(text.is_ascii());
    assert_eq!(
        text,
        "\
Lustre and gold, followed exactly: 6 h 02 min in all.
The guide cone 019 goes down after 5 h 46 min, at 695 C.
The target cone 018 goes down after 6 h 02 min, at 734 C.
The guard cone 017 does not go down: 34 % of its heat work is done.
The whole firing is worth cone 018.

                                            guide 019 down
                                             target 018 down
  750 C|                                                 ***
       |                                            *****: :
       |                                        ****
  500 C|                                   *****         : :
       |                             ******
       |                       ******                    : :
  250 C|                 ******
       |          *******                                : :
       |    ******
    0 C|****                                             : :
       +----------------------------------------------------
        0 h              2 h              4 h            6 h
"
    );
}

#[test]
fn regress_a_curve_is_drawn_in_braille() {
    let plot = Plot {
        curve: vec![(0.0, 0.0), (2.0, 1000.0), (4.0, 400.0)],
        marks: vec![Mark { hours: 2.0, name: "top".into() }],
        unit: "C",
        ..Plot::default()
    };
    let drawn = curve_plot(&plot, 40, 10, false);
    assert_eq!(
        drawn,
        "\
\x20                     top
 1000 C│              ⣀⠔⠑⠢⢄⡀
       │            ⡠⠊     ⠈⠑⠢⢄⡀
       │         ⢀⠔⠉    •      ⠈⠑⠢⢄⡀
  500 C│       ⡠⠔⠁                 ⠈⠑⠢⢄⡀
       │    ⢀⡠⠊         •              ⠈
       │  ⢀⠔⠁
    0 C│⡠⠊⠁             •
       └────────────────────────────────
        0 h             2 h          4 h
"
    );
    assert_eq!(curve_plot(&plot, 1, 1, false), drawn, "never smaller than can be read");
}

#[test]
fn regress_a_simulation_in_json_has_its_units_in_its_keys() {
    let answer = json(&["simulate", "lustre_and_gold"]);
    assert_eq!(answer["total_minutes"], 361.6);
    assert_eq!(answer["cone_equivalent"], "018");
    assert_eq!(answer["cones"][1]["role"], "target");
    assert_eq!(answer["cones"][1]["down_c"], 734.0);
    assert_eq!(answer["cones"][2]["down_minutes"], Value::Null);
    let samples = answer["samples"].as_array().unwrap();
    assert_eq!(samples.len(), 241);
    assert_eq!(samples[0]["celsius"], 20.0);
    assert_eq!(samples[0]["lean_deg"], serde_json::json!([8.0, 8.0, 8.0]));
    assert_eq!(samples[240]["lean_deg"][1], 90.0);
    assert_eq!(samples[240]["minutes"], 361.6);
}

#[test]
fn law_every_shipped_schedule_is_listed() {
    let listed = json(&["list"]);
    let rows = listed.as_array().unwrap();
    assert_eq!(rows.len(), spyhole::testing::edge::shipped_schedules::SHIPPED.len());
    let text = text(&["list"]);
    for row in rows {
        let key = row["key"].as_str().unwrap();
        assert!(text.lines().any(|line| line.starts_with(key)), "{key}");
        assert!(json(&["show", key])["plan"].as_array().unwrap().len() > 2);
    }
}

#[test]
fn law_what_is_not_there_is_said_with_the_nearest_that_is() {
    assert_eq!(
        refused(&["show", "lustre"]),
        "there is no shipped schedule and no file \"lustre\": did you mean \"lustre_and_gold\"?; `spyhole schedule list` shows the shipped ones"
    );
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("cups.json");
    let name = file.to_str().unwrap();
    std::fs::write(&file, "{\"x\": 1}").unwrap();
    assert_eq!(
        refused(&["check", name]),
        format!(
            "cannot use the schedule file {name}: line 1, column 4: unknown key \"x\": the keys here are version, name, ware, target, family, start_c, start_f, segments, ventilate, reasoning"
        )
    );
    std::fs::write(&file, " ".repeat((1 << 20) + 1)).unwrap();
    assert_eq!(
        refused(&["check", name]),
        format!(
            "cannot use the schedule file {name}: \"{name}\" is longer than 1048576 bytes: that is no schedule"
        )
    );
    assert_eq!(
        refused(&["solve", "--cone", "6", "--rate", "150C/h", "--soak", "30h"]),
        "a soak of 30 h 00 min is outside 0 to 24 h: give a shorter soak and a hotter top"
    );
}

/// A file of the shop's own is used like a shipped one.
#[test]
fn law_a_file_is_used_like_a_shipped_schedule() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("mine.json");
    let (_, text) = spyhole::testing::edge::shipped_schedules::SHIPPED[0];
    std::fs::write(&file, text).unwrap();
    let (key, _) = spyhole::testing::edge::shipped_schedules::SHIPPED[0];
    assert_eq!(self::text(&["show", file.to_str().unwrap()]), self::text(&["show", key]));
}

#[test]
fn law_every_command_and_argument_has_a_help_sentence() {
    let commands = Typed::command();
    for command in commands.get_subcommands() {
        assert!(command.get_about().is_some(), "{}", command.get_name());
        for argument in command.get_arguments() {
            assert!(argument.get_help().is_some(), "{} {}", command.get_name(), argument.get_id());
        }
    }
}

/// The shop's own schedules stand in the list and are known by their names; one that cannot be used is
/// listed with the reason.
#[test]
fn law_the_shops_own_schedules_are_listed() {
    let folder = tempfile::tempdir().unwrap();
    let shop = folder.path().join("shop.db");
    let own = folder.path().join("schedules");
    std::fs::create_dir(&own).unwrap();
    let mut mine = spyhole::testing::edge::shipped_schedules::named("lustre_and_gold").unwrap();
    mine.name = "Gold on cups".into();
    std::fs::write(own.join("cups.json"), spyhole::testing::edge::schedule_file::to_json(&mine))
        .unwrap();
    std::fs::write(own.join("bad.json"), "{").unwrap();
    let said = |line: &[&str], json: bool| {
        let typed = Typed::try_parse_from([&["schedule"], line].concat()).unwrap();
        let mut out = Vec::new();
        run(&typed.command, &shop, json, Scale::Celsius, &mut out).unwrap();
        String::from_utf8(out).unwrap()
    };
    let listed = said(&["list"], false);
    assert!(
        listed
            .lines()
            .any(|line| line.starts_with("cups.json") && line.ends_with("Gold on cups (own)")),
        "{listed}"
    );
    assert!(listed.contains("cannot be used: bad.json"), "{listed}");
    let rows: Value = serde_json::from_str(&said(&["list"], true)).unwrap();
    let named = |row: &&Value| row["name"] == "Gold on cups";
    assert_eq!(rows.as_array().unwrap().iter().find(named).unwrap()["own"], true);
    assert!(said(&["show", "gold on cups"], false).starts_with("Gold on cups\n"));
}
