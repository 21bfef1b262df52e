//! What `spyhole schedule` answers, as text and as JSON.

use clap::Parser;
use spyhole::testing::edge::cli::schedule::{ScheduleCommand, run};
use spyhole::testing::edge::plot::{Mark, Plot, curve_plot};

use crate::prelude::*;

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
fn law_every_shipped_schedule_is_listed() {
    let listed = json(&["list"]);
    let rows = listed.as_array().unwrap();
    assert_eq!(rows.len(), shipped_schedules::SHIPPED.len());
    let text = text(&["list"]);
    for row in rows {
        let key = row["key"].as_str().unwrap();
        assert!(text.lines().any(|line| line.starts_with(key)), "{key}");
        assert!(json(&["show", key])["plan"].as_array().unwrap().len() > 2);
    }
}

#[test]
fn law_what_is_not_there_is_said_with_the_nearest_that_is() {
    let nearest = "there is no shipped schedule and no file \"lustre\"; did you mean \"lustre_and_gold\"? `spyhole schedule list` shows the shipped ones";
    assert_eq!(refused(&["show", "lustre"]), nearest);
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("cups.json");
    let name = file.to_str().unwrap();
    let longer = format!("\"{name}\" is longer than 1048576 bytes: that is no schedule");
    for (text, why) in [
        (
            "{\"x\": 1}".to_owned(),
            "line 1, column 4: unknown key \"x\": the keys here are version, name, ware, target, family, start_c, start_f, segments, ventilate, reasoning",
        ),
        (" ".repeat((1 << 20) + 1), &longer),
    ] {
        fs::write(&file, text).unwrap();
        let says = format!("cannot use the schedule file {name}: {why}");
        assert_eq!(refused(&["check", name]), says);
    }
    let long = "a soak of 30 h is outside 0 to 24 h: give a shorter soak and a hotter top";
    assert_eq!(refused(&["solve", "--cone", "6", "--rate", "150C/h", "--soak", "30h"]), long);
}

/// A file of the shop's own is used like a shipped one.
#[test]
fn law_a_file_is_used_like_a_shipped_schedule() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("mine.json");
    let (_, text) = shipped_schedules::SHIPPED[0];
    fs::write(&file, text).unwrap();
    let (key, _) = shipped_schedules::SHIPPED[0];
    assert_eq!(self::text(&["show", file.to_str().unwrap()]), self::text(&["show", key]));
}

/// The shop's own schedules stand in the list and are known by their names; one that cannot be used is
/// listed with the reason.
#[test]
fn law_the_shops_own_schedules_are_listed() {
    let (folder, shop) = shop_file();
    let own = folder.path().join("schedules");
    fs::create_dir(&own).unwrap();
    let mut mine = shipped_schedules::named("lustre_and_gold").unwrap();
    mine.name = "Gold on cups".into();
    fs::write(own.join("cups.json"), schedule_file::to_json(&mine)).unwrap();
    fs::write(own.join("bad.json"), "{").unwrap();
    let said = |line: &[&str], json: bool| {
        let typed = Typed::try_parse_from([&["schedule"], line].concat()).unwrap();
        let mut out = Vec::new();
        run(&typed.command, &shop, json, Scale::Celsius, &mut out).unwrap();
        String::from_utf8(out).unwrap()
    };
    let listed = said(&["list"], false);
    let cups = |line: &str| line.starts_with("cups.json") && line.ends_with("Gold on cups (own)");
    assert!(listed.lines().any(cups), "{listed}");
    assert!(listed.contains("cannot be used: bad.json"), "{listed}");
    let rows: Value = serde_json::from_str(&said(&["list"], true)).unwrap();
    let named = |row: &&Value| row["name"] == "Gold on cups";
    assert_eq!(rows.as_array().unwrap().iter().find(named).unwrap()["own"], true);
    assert!(said(&["show", "gold on cups"], false).starts_with("Gold on cups\n"));
}
