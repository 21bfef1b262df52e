//! The table of alarms: whole, consistent, and in step with what the conditions really do.

use spyhole::testing::alarm::rules::RULES;
use spyhole::testing::alarm::{climb, condition};
use spyhole::testing::watch::request;
use spyhole::testing::words::alarms::in_scale;

use crate::prelude::*;

#[test]
fn law_every_alarm_asks_for_a_response_and_says_why() {
    for (index, rule) in RULES.iter().enumerate() {
        assert_eq!(
            rule.task as usize, index,
            "{}: the table is in the order of the tasks",
            rule.task
        );
        assert_eq!(Task::of_alarm(rule.task.name()), Some(rule.task));
        for text in [rule.enters, rule.leaves, rule.consequence, rule.response] {
            assert!(text.len() > 15 && !text.ends_with('.'), "{}: {text:?}", rule.task);
        }
        assert_ne!(rule.enters, rule.leaves, "{}", rule.task);
        assert!(rule.time_to_respond > Span::ZERO, "{}", rule.task);
    }
}

#[test]
fn law_more_urgent_comes_first_and_leaves_less_time() {
    assert!(RULES.windows(2).all(|pair| pair[0].priority <= pair[1].priority));
    for pair in Priority::ALL.windows(2) {
        assert!(pair[0].repeat() < pair[1].repeat());
        assert!(pair[0].widens_after() < pair[1].widens_after());
        assert!(pair[0].widens_after() >= pair[0].repeat());
    }
}

#[test]
fn law_the_highest_priority_cannot_be_put_off() {
    assert_eq!(Priority::Highest.longest_shelf(), None);
    for priority in &Priority::ALL[1..] {
        assert!(priority.longest_shelf().is_some());
    }
    for rule in RULES.iter().filter(|rule| rule.priority == Priority::Highest) {
        assert!(!rule.latching && rule.on_delay == Span::ZERO && rule.raised_again_after.is_some());
        // Only something that makes it untrue, or asks for the same with the same urgency.
        for by in rule.suppressed_by {
            assert!(by.priority() == Priority::Highest || *by == Task::OffNotRecorded);
        }
    }
}

#[test]
fn law_no_two_alarms_suppress_each_other() {
    for rule in &RULES {
        for by in rule.suppressed_by {
            assert!(!by.rule().suppressed_by.contains(&rule.task), "{} and {by}", rule.task);
        }
    }
}

/// The numbers in the sentences are the numbers in the conditions.
#[test]
fn law_the_table_tells_the_limits_that_are_used() {
    let says = |task: Task, number: String| {
        let rule = task.rule();
        let text = in_scale(&format!("{} {}", rule.enters, rule.leaves), Scale::Celsius);
        assert!(text.contains(&number), "{task}: {number:?} is not in {text:?}");
    };
    let minutes = |span: Span| format!("{:.0} minutes", span.as_minutes());
    let hours = |span: Span| format!("{:.0} hours", span.as_hours());
    says(Task::ProbablyDown, format!("{:.0} in 100 or more", 100.0 * condition::PROBABLY_DOWN));
    says(Task::ProbablyDown, format!("below {:.0} in 100", 100.0 * condition::PERHAPS_DOWN));
    says(Task::ProbablyDown, minutes(condition::LOOKED_JUST_NOW));
    says(Task::Stay, minutes(condition::LOOKED_JUST_NOW));
    says(Task::LookOverdue, minutes(condition::OVERDUE_AFTER));
    says(Task::LookDue, minutes(condition::LOOK_MOVED_BY));
    says(Task::WindowOpens, minutes(condition::WINDOW_SOON));
    says(Task::WindowOpens, minutes(condition::WINDOW_MOVED_TO));
    says(
        Task::Stalled,
        format!("{:.0} C/h for {}", climb::STALLED_BELOW.0, minutes(climb::MEASURED_OVER)),
    );
    says(Task::Stalled, format!("{:.0} C/h or more", climb::CLIMBS_AGAIN.0));
    says(Task::TooFast, format!("more than {} times", climb::TOO_FAST));
    says(Task::TooFast, format!("less than {} times", climb::SLOW_ENOUGH));
    says(Task::OffNotRecorded, format!("fallen {:.0} C", climb::FALLEN_BY_C));
    says(Task::OffNotRecorded, format!("within {:.0} C", climb::BACK_WITHIN_C));
    says(Task::CoolEnough, format!("below {:.0} C", spyhole::testing::cooling::USUAL_DRAW_BELOW.0));
    says(Task::CoolEnough, format!("more than {:.0} C above", condition::TOO_HOT_AGAIN_C));
    for task in [Task::ReadTemperature, Task::NameGlow] {
        says(task, minutes(request::REPEATED_AFTER));
        says(task, minutes(request::RUNS_OUT_AFTER));
    }
    says(Task::ReadTemperature, format!("{:.0} in 100", 100.0 * request::TEMPERATURE_AT));
    says(Task::NameGlow, format!("{:.0} in 100", 100.0 * request::GLOW_AT));
    says(Task::StillHot, hours(condition::COOLING_READING_SPEAKS_FOR));
    says(Task::OutcomeNotRecorded, hours(condition::OUTCOME_WITHIN));
}

/// The documentation shows the table that the program prints, and the diagram of the code.
#[test]
fn law_the_documentation_shows_the_same_table_and_diagram() {
    let document = include_str!("../../assets/alarms.md");
    let printed = crate::program::spyhole(&["alarms", "rules"]).out;
    assert!(document.contains(printed.trim_end()), "assets/alarms.md shows another table");
    let source = include_str!("../../src/alarm/state.rs");
    let diagram: Vec<&str> = source
        .split("//! ```text\n")
        .nth(1)
        .unwrap()
        .lines()
        .take_while(|line| *line != "//! ```")
        .map(|line| line.strip_prefix("//!").unwrap().strip_prefix(' ').unwrap_or(""))
        .collect();
    assert!(document.contains(&diagram.join("\n")), "assets/alarms.md shows another diagram");
}

/// The service units start the command there is.
#[test]
fn law_the_service_units_keep_watch() {
    let unit = include_str!("../../assets/spyhole.service");
    for line in [
        "Type=notify",
        "ExecStart=%h/.cargo/bin/spyhole keep --wait",
        "WatchdogSec=30",
        "Restart=always",
        // Never left alone, however often it ended.
        "StartLimitIntervalSec=0",
    ] {
        assert!(unit.lines().any(|said| said == line), "{line}");
    }
    let agent = include_str!("../../assets/spyhole.keep.plist");
    assert!(
        agent.contains("<string>keep</string>\n    <string>--wait</string>")
            && agent.contains("<key>KeepAlive</key>\n  <true/>")
    );
    assert_eq!(crate::program::spyhole(&["keep", "--wait", "--help"]).code, 0);
}
