//! Conditions found in a firing: each at the moment it begins, gone when it is answered, and
//! different on the way in and out.

use spyhole::testing::alarm::condition::LOOK_BY_EYE_EVERY;
use spyhole::testing::alarm::condition::{Condition, PlannedStep};
use spyhole::testing::alarm::{Desk, State, plan};
use spyhole::testing::review::Bounds;
use spyhole::testing::schedule::Leg;

use crate::prelude::*;
use crate::simulator::{gold, pack};

const LIT: Moment = Moment(1_772_352_000_000);

fn at(hours: f64) -> Moment {
    LIT + Span::from_hours(hours)
}

/// A firing with these events, each at so many hours after lighting.
fn firing(events: &[(f64, What)]) -> Firing {
    let lit = (LIT, What::Lit(lit_with("North", "gold", pack())));
    firing_of(
        [lit].into_iter().chain(events.iter().map(|(at, what)| (self::at(*at), what.clone()))),
    )
}

fn read(hours: f64, celsius: f64) -> (f64, What) {
    (hours, What::Reading(Celsius(celsius)))
}

fn look(target: Option<Seen>, guard: Option<Seen>) -> What {
    What::Look(Look { target, guide: None, guard })
}

fn found_with(
    firing: &Firing,
    plan: &Plan,
    usual_hours: Option<f64>,
    hours: f64,
) -> Vec<Condition> {
    let now = at(hours);
    let load = gold(usual_hours.map(Span::from_hours));
    let advice = advise(&Question { load: Some(&load), ..question(firing, &[], now) });
    findings(&Watched { firing, advice: Some(&advice), plan }, now)
}

/// Every task that would raise an alarm at this hour, and since when in hours.
fn entering(firing: &Firing, hours: f64) -> Vec<(Task, f64)> {
    found_with(firing, &Plan::default(), Some(5.0), hours)
        .into_iter()
        .filter(|finding| finding.enters)
        .map(|finding| (finding.task, (finding.since - LIT).as_hours()))
        .collect()
}

fn has(firing: &Firing, hours: f64, task: Task) -> Option<f64> {
    entering(firing, hours).into_iter().find(|(found, _)| *found == task).map(|(_, since)| since)
}

#[test]
fn law_a_target_seen_down_asks_to_shut_off_until_off_is_recorded() {
    let mut events =
        vec![(4.0, look(Some(Seen::Leaning), None)), (4.2, look(Some(Seen::Down), None))];
    let burning = firing(&events);
    assert_eq!(has(&burning, 4.1, Task::ShutOff), None, "not before it was seen");
    assert_eq!(has(&burning, 4.25, Task::ShutOff), Some(4.2));
    assert_eq!(has(&burning, 4.25, Task::LookDue), None, "nothing is left to look for");
    events.push((4.3, What::Off));
    assert_eq!(entering(&firing(&events), 4.35), []);
    events[2] = (4.3, What::Aborted { reason: "no gas".into() });
    assert_eq!(entering(&firing(&events), 4.35), []);
}

#[test]
fn law_the_guard_counts_when_it_surely_moves() {
    let seen = |target, guard| firing(&[(4.0, look(target, guard))]);
    for (target, guard, counts) in [
        (Some(Seen::Leaning), Some(Seen::Leaning), false),
        (Some(Seen::Standing), Some(Seen::Leaning), false),
        (Some(Seen::Half), Some(Seen::Leaning), false),
        (None, Some(Seen::Leaning), true),
        (Some(Seen::Standing), Some(Seen::Half), true),
        (Some(Seen::Half), Some(Seen::Standing), false),
    ] {
        let since = has(&seen(target, guard), 4.05, Task::GuardMoving);
        assert_eq!(since, counts.then_some(4.0), "{target:?} {guard:?}");
    }
    let corrected = firing(&[
        (4.0, look(None, Some(Seen::Leaning))),
        (4.1, look(Some(Seen::Leaning), Some(Seen::Standing))),
    ]);
    assert_eq!(has(&corrected, 4.15, Task::GuardMoving), None);
}

#[test]
fn law_looks_come_due_then_overdue_then_the_cone_is_probably_down() {
    let (fresh, mut later) = (firing(&[]), 1.0);
    let order = [Task::WindowOpens, Task::LookDue, Task::LookOverdue, Task::ProbablyDown];
    for (place, task) in order.iter().enumerate() {
        loop {
            let found = entering(&fresh, later);
            let there = |task: &Task| found.iter().any(|(found, _)| found == task);
            if there(task) {
                break;
            }
            assert!(!order[place..].iter().any(there), "before {task}: {found:?}");
            later += 0.01;
            assert!(later < 8.0, "{task} comes");
        }
    }
    // A look that sees it standing answers all of them for a while.
    later += 0.01;
    let looked = firing(&[(later, look(Some(Seen::Standing), None))]);
    assert_eq!(entering(&looked, later + 0.005), []);
}

/// The number written down at 4.4 h tells of a faster climb, by which the look should have been before it: it is
/// due at once, but overdue only when nobody has come since.
#[test]
fn law_a_look_that_a_reading_moves_into_the_past_is_not_overdue_at_once() {
    let mut events: Vec<(f64, What)> =
        (1..=11).map(|n| read(f64::from(n) / 3.0, 50.0 * f64::from(n))).collect();
    events.push((3.0, look(Some(Seen::Standing), Some(Seen::Standing))));
    assert_eq!(has(&firing(&events), 4.39, Task::LookDue), None, "not due by the slow climb");
    events.push(read(4.4, 725.0));
    let moved = firing(&events);
    let due = has(&moved, 4.4, Task::LookDue).expect("due at once");
    assert!(due < 4.33, "planned before it was known: {due}");
    assert_eq!(has(&moved, 4.4, Task::LookOverdue), None);
    assert!(has(&moved, 4.5, Task::LookOverdue).is_some(), "nobody came");
    events.push((4.45, What::Called));
    assert_eq!(has(&firing(&events), 4.47, Task::LookOverdue), None, "called just now");
    assert!(has(&firing(&events), 4.55, Task::LookOverdue).is_some(), "called, and nobody came");
}

#[test]
fn law_without_any_forecast_somebody_should_look_at_regular_times() {
    let fresh = firing(&[]);
    let due = |firing: &Firing, hours: f64| {
        let found = found_with(firing, &Plan::default(), None, hours);
        found.into_iter().find(|f| f.task == Task::LookDue && f.enters).map(|f| f.since)
    };
    assert_eq!(due(&fresh, 0.4), None);
    assert_eq!(due(&fresh, 0.6), Some(LIT + LOOK_BY_EYE_EVERY));
    let looked = firing(&[(0.6, look(Some(Seen::Standing), None))]);
    assert_eq!(due(&looked, 0.9), None);
}

/// A kiln that climbs 150 C/h to 600 C at four hours, read every ten minutes, and goes on at
/// `climb` C/h for an hour.
fn climbs_on(climb: f64) -> Firing {
    let before = (1..=24).map(|n| (f64::from(n) / 6.0, 25.0 * f64::from(n)));
    let after = (1..=6).map(|n| (4.0 + f64::from(n) / 6.0, 600.0 + climb * f64::from(n) / 6.0));
    // Hand readings wander by a degree.
    let wander = |index: usize| if index.is_multiple_of(2) { 0.4 } else { -0.4 };
    let events: Vec<(f64, What)> =
        before.chain(after).enumerate().map(|(i, (hours, c))| read(hours, c + wander(i))).collect();
    firing(&events)
}

#[test]
fn law_a_stall_is_found_and_has_a_deadband() {
    let since = has(&climbs_on(3.0), 5.0, Task::Stalled).expect("stalled");
    assert!((4.0..=4.6).contains(&since), "{since}");
    assert_eq!(has(&climbs_on(60.0), 5.0, Task::Stalled), None);
    // Between the limits: it raises nothing, and keeps what stands.
    let between = climbs_on(22.0);
    let keeps = |firing: &Firing| {
        let found = found_with(firing, &Plan::default(), Some(5.0), 5.0);
        found.into_iter().find(|f| f.task == Task::Stalled).map(|f| f.enters)
    };
    assert_eq!((keeps(&between), keeps(&climbs_on(60.0))), (Some(false), None));
    // A soak in the schedule is no stall.
    let soak = Plan { soaks: vec![(at(4.0), at(5.5))], ..Plan::default() };
    let found = found_with(&climbs_on(3.0), &soak, Some(5.0), 5.0);
    assert!(found.iter().all(|finding| finding.task != Task::Stalled));
}

#[test]
fn law_a_climb_is_too_fast_against_what_is_allowed() {
    let plan = Plan { fastest: vec![(Celsius(20.0), CelsiusPerHour(150.0))], ..Plan::default() };
    let too_fast = |climb: f64| {
        let found = found_with(&climbs_on(climb), &plan, Some(5.0), 5.0);
        found.into_iter().find(|f| f.task == Task::TooFast).map(|f| f.enters)
    };
    assert_eq!([150.0, 165.0, 200.0].map(too_fast), [None, Some(false), Some(true)]);
    // Nothing is allowed or forbidden where nobody said anything.
    assert_eq!(has(&climbs_on(200.0), 5.0, Task::TooFast), None);
}

/// Burners are turned by hand: a kiln is soon ahead of its schedule or behind it.
#[test]
fn law_a_ramp_is_for_its_temperatures_whatever_the_clock_says() {
    let too_fast = |ramps: [(f64, f64); 2]| {
        let fastest = ramps.map(|(from, climb)| (Celsius(from), CelsiusPerHour(climb))).to_vec();
        let plan = Plan { fastest, ..Plan::default() };
        // At 750 C, and 700 C twenty minutes ago.
        let found = found_with(&climbs_on(150.0), &plan, Some(5.0), 5.0);
        found.into_iter().find(|f| f.task == Task::TooFast).map(|f| f.enters)
    };
    assert_eq!(too_fast([(20.0, 100.0), (600.0, 150.0)]), None, "in the steeper ramp");
    assert_eq!(too_fast([(20.0, 100.0), (800.0, 150.0)]), Some(true), "not there yet");
    assert_eq!(too_fast([(20.0, 150.0), (730.0, 100.0)]), None, "measured over both");
    assert_eq!(too_fast([(20.0, 150.0), (650.0, 100.0)]), Some(true), "beyond the steeper one");
}

#[test]
fn law_a_kiln_that_cools_is_off_or_out() {
    let cooling = climbs_on(-90.0);
    let since = has(&cooling, 5.0, Task::OffNotRecorded).expect("it cools");
    assert!((4.3..=4.7).contains(&since), "{since}");
    // It says more than a stall does.
    let mut desk = Desk::default();
    let found = found_with(&cooling, &Plan::default(), Some(9.0), 5.0);
    let alarms = desk.step(&found, &[], at(5.0));
    let state = |task| alarms.iter().find(|alarm| alarm.key.task == task).map(|alarm| alarm.state);
    assert_eq!(state(Task::OffNotRecorded), Some(State::Unacknowledged));
    assert_eq!(state(Task::Stalled), Some(State::SuppressedByDesign));
    // One that climbs again burns, however far below its peak.
    let mut again = cooling;
    again.take_reading(at(5.15), &Who::Person(String::new()), Celsius(516.0));
    assert_eq!(has(&again, 5.15, Task::OffNotRecorded), None);
}

#[test]
fn law_a_probe_in_trouble_is_named_until_it_speaks_sense() {
    let mut events: Vec<(f64, What)> =
        (1..=12).map(|n| read(f64::from(n) / 6.0, 25.0 * f64::from(n))).collect();
    events.push((2.1, What::ProbeSilent { reason: "no answer".into() }));
    assert_eq!(has(&firing(&events), 2.2, Task::ProbeTrouble), Some(2.1));
    events.push(read(2.3, 345.0));
    assert_eq!(has(&firing(&events), 2.35, Task::ProbeTrouble), None);
    events.push(read(2.4, 1370.0));
    assert_eq!(has(&firing(&events), 2.45, Task::ProbeTrouble), Some(2.4));
}

#[test]
fn law_a_step_by_hand_is_asked_for_until_it_is_recorded() {
    let leg = Leg {
        segment: 1,
        starts: Span::hours(1),
        length: Span::hours(2),
        from: Celsius(400.0),
        to: Celsius(700.0),
    };
    let step = |at| PlannedStep { at, leg };
    let plan = Plan { steps: vec![step(at(1.0))], ..Plan::default() };
    let asked = |firing: &Firing, hours: f64| {
        let found = found_with(firing, &plan, Some(5.0), hours);
        found.into_iter().any(|finding| finding.task == Task::Step)
    };
    let fresh = firing(&[]);
    assert_eq!([0.9, 1.05, 1.9, 2.1].map(|hours| asked(&fresh, hours)), [false, true, true, false]);
    let early = firing(&[(0.8, What::Turned { to: "half".into() })]);
    assert!(!asked(&early, 1.05), "taken a little before its time");
    let long_before = firing(&[(0.3, What::Turned { to: "half".into() })]);
    assert!(asked(&long_before, 1.05));
}

#[test]
fn law_after_off_it_asks_for_a_reading_the_draw_and_the_outcome() {
    let off = vec![(5.0, What::Off)];
    assert_eq!(entering(&firing(&off), 18.9), []);
    assert_eq!(has(&firing(&off), 19.1, Task::StillHot), Some(19.0));
    let with = |mut events: Vec<(f64, What)>, more: (f64, What)| {
        events.push(more);
        events
    };
    let warm = with(off.clone(), read(19.2, 140.0));
    assert_eq!(entering(&firing(&warm), 20.0), [], "a reading speaks for four hours");
    assert_eq!(has(&firing(&warm), 23.3, Task::StillHot), Some(23.2));
    let cool = with(off.clone(), read(19.2, 95.0));
    assert_eq!(entering(&firing(&cool), 20.0), [(Task::CoolEnough, 19.2)]);
    let drawn = with(cool, (20.0, What::Drawn));
    assert_eq!(entering(&firing(&drawn), 21.9), []);
    assert_eq!(entering(&firing(&drawn), 22.1), [(Task::OutcomeNotRecorded, 22.0)]);
}

#[test]
fn law_a_schedule_says_steps_soaks_and_the_fastest_climb() {
    let schedule = shipped_schedules::named("lustre_and_gold").unwrap();
    let kiln = |fuel| kiln("North", fuel);
    let legs = schedule.legs();
    let by_hand = plan::plan(LIT, &schedule.plan(), Some(&kiln(Fuel::Gas)));
    let by_itself = plan::plan(LIT, &schedule.plan(), Some(&kiln(Fuel::Electric)));
    assert!(!by_hand.steps.is_empty() && by_hand.steps.len() < legs.len());
    assert!(by_hand.steps.iter().all(|step| legs.iter().any(|leg| LIT + leg.starts == step.at)));
    assert!(by_itself.steps.is_empty(), "its own controller turns it");
    let fastest = legs.iter().map(|leg| leg.rate().0).fold(0.0, f64::max);
    let allowed = by_hand.fastest.iter().map(|(_, rate)| rate.0).fold(0.0, f64::max);
    assert_abs_diff_eq!(fastest, allowed, epsilon = 1e-9);
}

/// A gold firing by a plan that falls for half an hour and holds for half an hour after the cone.
fn falls_and_holds(events: &[(f64, What)]) -> Firing {
    let corners = [(0.0, 20.0), (4.0, 734.0), (4.5, 684.0), (5.0, 684.0)];
    let corner = |(hours, c): (f64, f64)| (Span::from_hours(hours), Celsius(c));
    Firing { plan: corners.map(corner).to_vec(), ..firing(events) }
}

#[test]
fn law_what_is_ordered_after_the_cone_is_followed_before_the_kiln_is_shut_off() {
    let mut events = vec![(4.2, look(Some(Seen::Down), None))];
    // Until a setting is recorded nobody knows that the kiln was turned down; nothing says "shut off"
    // against the schedule until its last order is over.
    assert_eq!(entering(&falls_and_holds(&events), 4.25), [(Task::TurnDown, 4.2)]);
    assert_eq!(entering(&falls_and_holds(&events), 5.25), [(Task::ShutOff, 4.2)]);
    events.push((4.22, What::Turned { to: "low".into() }));
    let readings = [(4.4, 714.0), (4.5, 700.0), (4.7, 684.0), (4.9, 684.0), (5.1, 684.0)];
    events.extend(readings.map(|(hours, c)| read(hours, c)));
    events.push((4.6, look(Some(Seen::Down), Some(Seen::Leaning))));
    let firing = falls_and_holds(&events);
    // It runs from the drop, which came later than planned.
    assert_eq!(entering(&firing, 4.25), []);
    assert_eq!(entering(&firing, 4.75), [], "a controller takes the second order");
    assert_eq!(entering(&firing, 5.15), []);
    let by_hand = Plan { fuel: Some(Fuel::Gas), ..Plan::default() };
    let found = found_with(&firing, &by_hand, Some(5.0), 4.75);
    assert_eq!(found.iter().map(|one| one.task).collect::<Vec<_>>(), [Task::Step]);
    events.push((4.72, What::Turned { to: "hold".into() }));
    events.sort_by(|a, b| a.0.total_cmp(&b.0));
    let firing = falls_and_holds(&events);
    assert_eq!(found_with(&firing, &by_hand, Some(5.0), 4.75), []);
    // When the last order is over it is to be shut off.
    assert_eq!(has(&firing, 5.25, Task::ShutOff), Some(5.2));
    // One that falls far below what is ordered has gone out.
    events.retain(|(hours, _)| *hours < 4.85);
    events.push(read(4.9, 590.0));
    assert_eq!(has(&falls_and_holds(&events), 4.95, Task::OffNotRecorded), Some(4.9));
}

#[test]
fn law_a_plan_asks_for_no_step_after_the_cone_before_the_cone_is_down() {
    let firing = falls_and_holds(&[]);
    let kiln = Kiln { fuel: Fuel::Gas, ..Kiln::undescribed("North") };
    let plan = plan::plan(LIT, &firing.plan, Some(&kiln));
    assert_eq!(plan.steps, []);
    let down = (4.2, look(Some(Seen::Down), None));
    let turned = (4.25, What::Turned { to: "low".into() });
    let say = |events: &[(f64, What)]| {
        let advice = advise(&question(&falls_and_holds(events), &[], at(4.3)));
        (advice.say, advice.overshoot.is_some())
    };
    assert_eq!(say(std::slice::from_ref(&down)), (Task::TurnDown, true));
    assert_eq!(say(&[down, turned]), (Task::AfterCone, false));
}

/// What is ordered after the cone is no overshoot; going on at full heat until then is.
#[test]
fn law_a_review_counts_no_ordered_hold_as_overshoot() {
    let over = |turned_h: Option<f64>, off_h: f64| {
        let mut events = vec![(4.15, look(Some(Seen::Standing), None))];
        events.push((4.2, look(Some(Seen::Down), None)));
        events.extend(turned_h.map(|hours| (hours, What::Turned { to: "low".into() })));
        events.push((off_h, What::Off));
        let facts = Facts::of(&falls_and_holds(&events), 0.0).unwrap();
        facts.overshoot_minutes.unwrap()
    };
    let near = |found: Bounds, expected: f64| {
        assert!((found.best - expected).abs() < 2.0, "{found:?}");
        assert!(found.low + 0.3 < found.best && found.best + 0.3 < found.high, "{found:?}");
    };
    near(over(Some(4.22), 5.2), 2.7);
    near(over(None, 5.2), 1.5);
    near(over(Some(4.6), 5.2), 25.5);
    near(over(None, 4.6), 25.5);
}

/// While it was given up it cooled as it should: neither that fall nor the time counts.
#[test]
fn a_kiln_that_was_given_up_is_watched_from_when_it_was_lit_again() {
    let given_up = (3.0, What::Aborted { reason: "gas ran out".into() });
    let firing = firing(&[
        read(1.0, 200.0),
        read(2.0, 360.0),
        read(3.0, 510.0),
        given_up,
        (7.0, What::Resumed),
        read(7.1, 260.0),
        read(7.5, 330.0),
        read(8.0, 415.0),
    ]);
    assert_eq!(entering(&firing, 8.0), []);
    let soon_after = entering(&firing, 7.05);
    assert!(soon_after.iter().all(|(_, since)| *since >= 7.0), "{soon_after:?}");
}
