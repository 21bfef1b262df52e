//! What would ring if nobody did anything, held against what rings as time passes.

use std::collections::BTreeMap;

use spyhole::testing::alarm::{Desk, Upcoming, upcoming};

use crate::prelude::*;
use crate::simulator::{gold, pack};

const LIT: Moment = Moment(1_772_352_000_000);

fn at(hours: f64) -> Moment {
    LIT + Span::from_hours(hours)
}

fn lit() -> Firing {
    firing_of([(LIT, What::Lit(lit_with("North", "gold", pack())))])
}

fn advice(firing: &Firing, now: Moment) -> Advice {
    let load = gold(Some(Span::hours(5)));
    advise(&Question { load: Some(&load), ..question(firing, &[], now) })
}

/// What is to come by what is known at `now`, with these answers.
fn ahead(firing: &Firing, answers: &[Answer], now: Moment) -> (Advice, Vec<Upcoming>) {
    let (advice, plan) = (advice(firing, now), Plan::default());
    let watched = Watched { firing, advice: Some(&advice), plan: &plan };
    let mut desk = Desk::default();
    desk.step(&findings(&watched, now), answers, now);
    let coming = upcoming(&[watched], answers, &desk, now);
    (advice, coming)
}

fn first(coming: &[Upcoming], task: Task) -> Option<Moment> {
    coming.iter().find(|one| one.alarm.key.task == task).map(|one| one.alarm.raised)
}

#[test]
fn law_what_is_to_come_rings_at_its_moment_and_in_the_order_of_time() {
    let (firing, now) = (lit(), at(1.0));
    let (advice, coming) = ahead(&firing, &[], now);
    let look = advice.next_look.unwrap();
    assert!(look > now, "{look:?}");
    assert_eq!(first(&coming, Task::LookDue), Some(look));
    assert!(first(&coming, Task::LookOverdue) > Some(look));
    let drop = advice.forecast.unwrap().p50;
    let probably = first(&coming, Task::ProbablyDown).unwrap();
    assert!((probably - drop).0.abs() <= 60_000, "{probably:?} {drop:?}");
    assert!(coming.iter().all(|one| one.alarm.raised > now && one.alarm.state.rings()));
    assert!(coming.is_sorted_by_key(|one| one.alarm.raised));
    let window = coming.iter().find(|one| one.alarm.key.task == Task::WindowOpens).unwrap();
    assert!(window.over.is_some_and(|over| over > window.alarm.raised), "{window:?}");
}

#[test]
fn law_what_was_answered_and_is_not_done_comes_again() {
    let firing = lit();
    let (advice, _) = ahead(&firing, &[], at(1.0));
    let now = advice.next_look.unwrap() + Span::minutes(1);
    let who = String::from("Ada");
    let what = Answering::Acknowledged(Task::LookDue);
    let answers = [Answer { at: now, firing: firing.id, who, what }];
    let (_, coming) = ahead(&firing, &answers, now);
    let again = first(&coming, Task::LookDue);
    let overdue = first(&coming, Task::LookOverdue);
    assert!(again == Some(now + Span::minutes(5)) || overdue <= Some(now + Span::minutes(5)));
    assert!(again.or(overdue).is_some(), "{coming:?}");
}

/// The desk as it is led by advice made anew every other minute, while nobody does anything.
#[test]
fn crosscheck_what_is_to_come_is_what_comes() {
    let (firing, now, plan) = (lit(), at(1.0), Plan::default());
    let (_, coming) = ahead(&firing, &[], now);
    let mut desk = Desk::default();
    let mut rang: BTreeMap<Task, Moment> = BTreeMap::new();
    for step in 0..=150 {
        let then = now + Span::minutes(2 * step);
        let advice = advice(&firing, then);
        let watched = Watched { firing: &firing, advice: Some(&advice), plan: &plan };
        for alarm in desk.step(&findings(&watched, then), &[], then) {
            if alarm.state.rings() {
                rang.entry(alarm.key.task).or_insert(alarm.raised);
            }
        }
    }
    for task in [Task::WindowOpens, Task::LookDue, Task::LookOverdue, Task::ProbablyDown] {
        let (foreseen, came) = (first(&coming, task).unwrap(), rang[&task]);
        // Plans of looks are moved by minutes as they come nearer.
        let apart = foreseen - came;
        assert!(apart.0.abs() <= Span::minutes(10).0, "{task}: foreseen {apart} after it came");
    }
}
