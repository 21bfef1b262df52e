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
            rule.cause as usize, index,
            "{}: the table is in the order of the causes",
            rule.cause
        );
        assert_eq!(Cause::named(rule.cause.name()), Some(rule.cause));
        for text in [rule.enters, rule.leaves, rule.consequence, rule.response] {
            assert!(text.len() > 15 && !text.ends_with('.'), "{}: {text:?}", rule.cause);
        }
        assert_ne!(rule.enters, rule.leaves, "{}", rule.cause);
        assert!(rule.time_to_respond > Span::ZERO, "{}", rule.cause);
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
            assert!(by.priority() == Priority::Highest || *by == Cause::OffNotRecorded);
        }
    }
}

#[test]
fn law_no_two_alarms_suppress_each_other() {
    for rule in &RULES {
        for by in rule.suppressed_by {
            assert!(!by.rule().suppressed_by.contains(&rule.cause), "{} and {by}", rule.cause);
        }
    }
}

/// The numbers in the sentences are the numbers in the conditions.
#[test]
fn law_the_table_tells_the_limits_that_are_used() {
    let says = |cause: Cause, number: String| {
        let rule = cause.rule();
        let text = in_scale(&format!("{} {}", rule.enters, rule.leaves), Scale::Celsius);
        assert!(text.contains(&number), "{cause}: {number:?} is not in {text:?}");
    };
    let minutes = |span: Span| format!("{:.0} minutes", span.as_minutes());
    let hours = |span: Span| format!("{:.0} hours", span.as_hours());
    says(Cause::ProbablyDown, format!("{:.0} in 100 or more", 100.0 * condition::PROBABLY_DOWN));
    says(Cause::ProbablyDown, format!("below {:.0} in 100", 100.0 * condition::PERHAPS_DOWN));
    says(Cause::ProbablyDown, minutes(condition::LOOKED_JUST_NOW));
    says(Cause::Stay, minutes(condition::LOOKED_JUST_NOW));
    says(Cause::LookOverdue, minutes(condition::OVERDUE_AFTER));
    says(Cause::LookDue, minutes(condition::LOOK_MOVED_BY));
    says(Cause::WindowOpens, minutes(condition::WINDOW_SOON));
    says(Cause::WindowOpens, minutes(condition::WINDOW_MOVED_TO));
    says(
        Cause::Stalled,
        format!("{:.0} C/h for {}", climb::STALLED_BELOW.0, minutes(climb::MEASURED_OVER)),
    );
    says(Cause::Stalled, format!("{:.0} C/h or more", climb::CLIMBS_AGAIN.0));
    says(Cause::TooFast, format!("more than {} times", climb::TOO_FAST));
    says(Cause::TooFast, format!("less than {} times", climb::SLOW_ENOUGH));
    says(Cause::OffNotRecorded, format!("fallen {:.0} C", climb::FALLEN_BY_C));
    says(Cause::OffNotRecorded, format!("within {:.0} C", climb::BACK_WITHIN_C));
    says(
        Cause::CoolEnough,
        format!("below {:.0} C", spyhole::testing::cooling::USUAL_DRAW_BELOW.0),
    );
    says(Cause::CoolEnough, format!("more than {:.0} C above", condition::TOO_HOT_AGAIN_C));
    for cause in [Cause::ReadTemperature, Cause::NameGlow] {
        says(cause, minutes(request::REPEATED_AFTER));
        says(cause, minutes(request::RUNS_OUT_AFTER));
    }
    says(Cause::ReadTemperature, format!("{:.0} in 100", 100.0 * request::TEMPERATURE_AT));
    says(Cause::NameGlow, format!("{:.0} in 100", 100.0 * request::GLOW_AT));
    says(Cause::StillHot, hours(condition::COOLING_READING_SPEAKS_FOR));
    says(Cause::OutcomeNotRecorded, hours(condition::OUTCOME_WITHIN));
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
    assert!(unit.contains("spyhole keep\n") && unit.contains("Restart=always"));
    let agent = include_str!("../../assets/spyhole.keep.plist");
    assert!(
        agent.contains("<string>keep</string>")
            && agent.contains("<key>KeepAlive</key>\n  <true/>")
    );
    assert_eq!(crate::program::spyhole(&["keep", "--help"]).code, 0);
}
