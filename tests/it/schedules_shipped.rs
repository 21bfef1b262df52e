//! The shipped schedules: each is well formed, goes down as planned, and says no more than it
//! should. What is pinned here is printed in the files and in the README.

use spyhole::testing::kiln::starter;
use spyhole::testing::schedule::simulate::Role;
use spyhole::testing::schedule::{Limits, Schedule, Severity, check, simulate, solve};

use crate::prelude::*;

/// The top in the file is the solver's, rounded up to the whole degree.
const TOP_ROUNDING_C: f64 = 1.0;

/// Key, target, top (C), minutes in all, and the minutes after which guide and target are down.
type Plan = (&'static str, &'static str, f64, i64, i64, i64);

const PLANS: [Plan; 14] = [
    ("cast_earthenware_first_firing", "04", 1053.0, 946, 909, 945),
    ("cast_earthenware_clear_glaze", "05", 1020.0, 423, 394, 422),
    ("cast_earthenware_once_fired", "04", 1056.0, 993, 967, 992),
    ("stoneware_first_firing", "06", 988.0, 890, 863, 889),
    ("porcelain_first_firing", "08", 937.0, 822, 801, 822),
    ("mid_range_stoneware_glaze", "6", 1211.0, 590, 479, 519),
    ("porcelain_glaze", "9", 1246.0, 533, 516, 532),
    ("china_paint_on_porcelain", "016", 778.0, 327, 311, 327),
    ("decals_on_earthenware", "018", 716.0, 381, 358, 380),
    ("decals_on_porcelain", "015", 800.0, 393, 381, 393),
    ("decals", "017", 745.0, 371, 357, 371),
    ("lustre_and_gold", "018", 734.0, 362, 346, 362),
    ("gold_in_a_gas_kiln", "018", 735.0, 247, 231, 246),
    ("new_body_test_bars", "04", 1047.0, 1557, 1244, 1289),
];

fn shipped() -> Vec<(&'static str, Schedule)> {
    shipped_schedules::all().collect()
}

#[test]
fn regress_the_plans_of_the_shipped_schedules() {
    let shipped = shipped();
    assert_eq!(shipped.len(), PLANS.len());
    for ((key, schedule), plan) in shipped.iter().zip(PLANS) {
        let simulation = simulate(schedule, 2).unwrap();
        let whole_minutes = |role| {
            let (at, _) = simulation.cone(role).unwrap().down.unwrap();
            at.as_minutes().round() as i64
        };
        let found = (
            *key,
            schedule.target.name(),
            schedule.top().0,
            simulation.total.as_minutes().round() as i64,
            whole_minutes(Role::Guide),
            whole_minutes(Role::Target),
        );
        assert_eq!(found, plan);
    }
}

/// The drop by the schedule and the usual length of its load are as far apart at most.
const LENGTHS_APART_MIN: f64 = 15.0;

#[test]
fn law_every_starter_load_has_a_schedule_to_its_cone_of_its_usual_length() {
    let mut sagging = false;
    for load in starter::load_types() {
        let name = starter::schedule(&load).unwrap();
        let schedule = shipped_schedules::named(name).unwrap();
        assert_eq!((schedule.target, schedule.family), (load.target, load.family), "{name}");
        let simulation = simulate(&schedule, 2).unwrap();
        let (drop, _) = simulation.cone(Role::Target).unwrap().down.unwrap();
        let usual = load.usual_length.unwrap();
        let apart = drop.as_minutes() - usual.as_minutes();
        assert!(apart.abs() <= LENGTHS_APART_MIN, "{name}: {drop}, {usual}");
        // What sags is forgiven no more than half a cone.
        let touchy = schedule.reasoning.contains("the rims sag");
        assert!(!touchy || load.over_cones <= 0.5, "{name}: {}", load.over_cones);
        sagging |= touchy;
    }
    assert!(sagging);
}

#[test]
fn law_the_tops_come_from_the_solver() {
    for (key, schedule) in shipped() {
        let solved = solve::solved(&schedule).unwrap().top().0;
        let over = schedule.top().0 - solved;
        assert!((-1e-6..TOP_ROUNDING_C).contains(&over), "{key}: {solved}");
    }
}

#[test]
fn law_the_target_is_down_when_heating_ends_and_the_guard_stands() {
    for (key, schedule) in shipped() {
        let simulation = simulate(&schedule, 2).unwrap();
        let (down, _) = simulation.cone(Role::Target).unwrap().down.unwrap();
        let early = schedule.heating_ends().as_minutes() - down.as_minutes();
        assert!((0.0..2.0).contains(&early), "{key}: {early} min before heating ends");
        assert_eq!(simulation.cone(Role::Guard).unwrap().down, None, "{key}");
    }
}

#[test]
fn law_the_trade_has_only_remarks_on_the_shipped_schedules() {
    for (key, schedule) in shipped() {
        let cautions = check(&schedule, &Limits::default()).unwrap();
        for caution in cautions {
            assert_eq!(caution.rule.severity(), Severity::Remark, "{key}: {caution:?}");
        }
    }
}

#[test]
fn law_every_shipped_schedule_gives_its_reasons_and_is_found_by_key_and_by_name() {
    for (key, schedule) in shipped() {
        assert!(schedule.reasoning.split_whitespace().count() > 30, "{key}");
        assert!(!schedule.ventilate.is_empty(), "{key}");
        assert_eq!(shipped_schedules::named(key).as_ref(), Some(&schedule));
        assert_eq!(shipped_schedules::named(&schedule.name.to_uppercase()), Some(schedule));
    }
}

/// Every file of the folder is built in, and no other.
#[test]
fn law_the_folder_and_the_program_hold_the_same_schedules() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/schedules");
    let mut files: Vec<String> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path().file_stem().unwrap().to_string_lossy().into_owned())
        .collect();
    files.sort();
    let mut keys: Vec<&str> = shipped_schedules::SHIPPED.iter().map(|(key, _)| *key).collect();
    keys.sort_unstable();
    assert_eq!(files, keys);
}

#[test]
fn law_shipped_schedules_survive_being_written_and_read() {
    for (key, schedule) in shipped() {
        let text = schedule_file::to_json(&schedule);
        assert_eq!(schedule_file::from_json(&text).unwrap(), schedule, "{key}");
    }
}
