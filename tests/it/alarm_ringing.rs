//! Alarms over time with a made-up clock: what rings, how often, how loud, and to whom.

use std::collections::BTreeMap;

use proptest::prelude::*;
use spyhole::testing::alarm::annunciate::LONGEST_STEP;
use spyhole::testing::alarm::condition::{Condition, Figure};
use spyhole::testing::alarm::rules::RULES;
use spyhole::testing::alarm::{Desk, Key, State, Steady};
use spyhole::testing::words::alarms as words;

use crate::prelude::*;

const NINE: Moment = Moment(1_772_352_000_000);
const NORTH: FiringId = FiringId(1);

fn minutes(minutes: f64) -> Moment {
    NINE + Span::from_minutes(minutes)
}

fn finding(task: Task, firing: i64, since: Moment) -> Condition {
    let kiln = format!("Kiln {firing}");
    let firing = FiringId(firing);
    Condition { firing, kiln, fuel: None, task, since, enters: true, figure: Figure::None }
}

fn answer(at: Moment, what: Answering) -> Answer {
    Answer { at, firing: NORTH, who: "Ada".into(), what }
}

fn noon() -> MinuteOfDay {
    MinuteOfDay::new(12, 0).unwrap()
}

/// One kiln's alarms, stepped every second; every ring with its moment.
struct Shop {
    desk: Desk,
    book: Book,
    rota: Rota,
    answers: Vec<Answer>,
    rings: Vec<Call>,
}

impl Shop {
    fn new(rota: Rota) -> Shop {
        let (desk, book) = (Desk::default(), Book::default());
        Shop { desk, book, rota, answers: Vec::new(), rings: Vec::new() }
    }

    fn step(&mut self, findings: &[Condition], now: Moment) -> Vec<Alarm> {
        let alarms = self.desk.step(findings, &self.answers, now);
        let calls = self.book.step(&alarms, &self.rota, noon(), now);
        self.rings.extend(calls);
        alarms
    }

    /// Steps every second from `from` to before `to`; `findings` says what holds.
    fn run(&mut self, from: Moment, to: Moment, findings: impl Fn(Moment) -> Vec<Condition>) {
        let mut now = from;
        while now < to {
            self.step(&findings(now), now);
            now = now + Span::seconds(1);
        }
    }

    fn rung(&self, task: Task) -> Vec<Moment> {
        let with = |call: &&Call| call.alarms.iter().any(|alarm| alarm.key.task == task);
        self.rings.iter().filter(with).map(|call| call.at).collect()
    }
}

/// Two people with two ways each.
fn two_people() -> Rota {
    let person = |name: &str, ways: &[WayName]| Person {
        name: name.into(),
        reach: format!("{name}@example.org"),
        ways: ways.to_vec(),
        hours: None,
    };
    let people = vec![
        person("Ada", &[WayName::Sound, WayName::Desktop]),
        person("Ben", &[WayName::Command]),
        person("Cy", &[WayName::Command]),
    ];
    Rota { people, muted: None }
}

#[test]
fn law_it_rings_again_louder_and_wider_until_somebody_answers() {
    let mut shop = Shop::new(two_people());
    shop.run(NINE, minutes(12.0), |_| vec![finding(Task::LookOverdue, 1, NINE)]);
    // High priority: every 2 minutes (one step early, so never later), from 2 rungs, one more
    // every 4 minutes.
    let told = shop.rings.iter().map(|call| {
        let names = call.targets.iter().map(|t| format!("{} {}", t.person, t.way.name()));
        let (at, names) = ((call.at - NINE).as_minutes(), names.collect::<Vec<_>>().join(", "));
        format!("{at:.0} min, {:.4}: {names}", call.volume)
    });
    let ben = "Ada sound, Ada desktop, Ben command";
    let expected = [
        "0 min, 0.4000: Ada sound, Ada desktop".into(),
        "2 min, 0.5500: Ada sound, Ada desktop".into(),
        "4 min, 0.7000: Ada sound, Ada desktop".into(),
        format!("6 min, 0.8500: {ben}"),
        format!("8 min, 1.0000: {ben}"),
        format!("10 min, 1.0000: {ben}, Cy command"),
        format!("12 min, 1.0000: {ben}, Cy command"),
    ];
    assert_eq!(told.collect::<Vec<_>>(), expected);
    let gaps = shop.rings.windows(2).map(|pair| pair[1].at - pair[0].at);
    assert!(gaps.into_iter().all(|gap| gap <= Priority::High.repeat()));
    // Answered: silent from then on, until it is raised again because nobody looked.
    shop.answers.push(answer(minutes(12.0), Answering::Acknowledged(Task::LookOverdue)));
    let before = shop.rings.len();
    shop.run(minutes(12.0), minutes(17.0), |_| vec![finding(Task::LookOverdue, 1, NINE)]);
    assert_eq!(shop.rings.len(), before);
    shop.run(minutes(17.0), minutes(17.1), |_| vec![finding(Task::LookOverdue, 1, NINE)]);
    assert_eq!(shop.rings.len(), before + 1, "raised again after 5 minutes");
}

/// Never later than the table says, and one step earlier at most.
#[test]
fn law_every_alarm_rings_as_often_as_the_table_says() {
    for rule in &RULES {
        let mut shop = Shop::new(Rota::default());
        let from = NINE + rule.on_delay;
        let until = from + rule.task.repeat();
        shop.run(NINE, until + Span::seconds(1), |_| vec![finding(rule.task, 1, NINE)]);
        let rung = shop.rung(rule.task);
        assert_eq!(rung.len(), 2, "{}", rule.task);
        assert_eq!(rung[0], from, "{}", rule.task);
        assert!((until - LONGEST_STEP..=until).contains(&rung[1]), "{}", rule.task);
    }
}

#[test]
fn law_recording_the_look_answers_the_look_alarm() {
    let mut shop = Shop::new(Rota::default());
    shop.run(NINE, minutes(3.0), |_| vec![finding(Task::LookDue, 1, NINE)]);
    shop.answers.push(answer(minutes(3.0), Answering::Did(Kind::Look)));
    let alarms = shop.step(&[], minutes(3.0));
    assert_eq!(alarms, [], "nothing is left to acknowledge");
    let again = minutes(10.0);
    shop.run(minutes(3.0), minutes(12.0), |now| {
        if now >= again { vec![finding(Task::LookDue, 1, again)] } else { Vec::new() }
    });
    assert_eq!(shop.rung(Task::LookDue), [NINE, again], "the next look is an alarm of its own");
}

/// A look that came, after which another is due without the kiln having been quiet in between.
#[test]
fn law_what_was_done_and_was_not_enough_is_another_alarm() {
    let mut shop = Shop::new(Rota::default());
    shop.run(NINE, minutes(3.0), |_| vec![finding(Task::LookOverdue, 1, NINE)]);
    shop.answers.push(answer(minutes(3.0), Answering::Did(Kind::Look)));
    shop.run(minutes(3.0), minutes(4.0), |_| vec![finding(Task::LookOverdue, 1, minutes(4.0))]);
    let before = shop.rung(Task::LookOverdue).len();
    shop.run(minutes(4.0), minutes(4.5), |_| vec![finding(Task::LookOverdue, 1, minutes(4.0))]);
    assert_eq!(shop.rung(Task::LookOverdue)[before..], [minutes(4.0)]);
}

#[test]
fn law_an_answer_to_one_alarm_leaves_the_others_of_its_kiln_ringing() {
    let mut shop = Shop::new(Rota::default());
    let holds =
        |_: Moment| vec![finding(Task::LookOverdue, 1, NINE), finding(Task::ProbeTrouble, 1, NINE)];
    shop.run(NINE, minutes(1.0), holds);
    shop.answers.push(answer(minutes(1.0), Answering::Acknowledged(Task::ProbeTrouble)));
    shop.run(minutes(1.0), minutes(4.5), holds);
    assert_eq!(shop.rung(Task::ProbeTrouble).len(), 1, "it was answered");
    assert_eq!(shop.rung(Task::LookOverdue).len(), 3, "nobody answered it");
}

#[test]
fn law_a_shelved_alarm_comes_back_by_itself_and_the_highest_cannot_be_shelved() {
    let mut shop = Shop::new(Rota::default());
    let holds =
        |_: Moment| vec![finding(Task::ProbeTrouble, 1, NINE), finding(Task::GuardMoving, 2, NINE)];
    shop.run(NINE, minutes(1.0), holds);
    let week = Span::hours(168);
    shop.answers.push(answer(minutes(1.0), Answering::Shelved(Task::ProbeTrouble, week)));
    shop.answers.push(Answer {
        firing: FiringId(2),
        ..answer(minutes(1.0), Answering::Shelved(Task::GuardMoving, Span::minutes(30)))
    });
    let alarms = shop.step(&holds(NINE), minutes(2.0));
    let states: Vec<(Task, State)> = alarms.iter().map(|a| (a.key.task, a.state)).collect();
    let (guard, probe) = (Task::GuardMoving, Task::ProbeTrouble);
    assert_eq!(states, [(guard, State::Unacknowledged), (probe, State::Shelved)]);
    // A week is more than the priority allows: it is back after 4 hours.
    assert_eq!(alarms[1].shelved_until, Some(minutes(1.0) + Span::hours(4)));
    let alarms = shop.step(&holds(NINE), minutes(1.0) + Span::hours(4));
    assert_eq!(alarms[1].state, State::Unacknowledged);
    assert_eq!(alarms[1].raised, minutes(1.0) + Span::hours(4));
}

#[test]
fn law_the_more_urgent_alarm_silences_the_lesser_of_the_same_kiln() {
    let mut shop = Shop::new(Rota::default());
    shop.run(NINE, minutes(10.0), |now| {
        let mut found = vec![finding(Task::LookDue, 1, NINE)];
        if now >= minutes(4.0) {
            found.push(finding(Task::LookOverdue, 1, minutes(4.0)));
        }
        found
    });
    let last_due = shop.rung(Task::LookDue).into_iter().max().unwrap();
    assert!(last_due < minutes(4.0));
    assert_eq!(shop.rung(Task::LookOverdue).first(), Some(&minutes(4.0)));
    // It steps back: the lesser is raised anew, as the condition then is.
    let alarms = shop.step(&[finding(Task::LookDue, 1, NINE)], minutes(10.0));
    let due = alarms.iter().find(|alarm| alarm.key.task == Task::LookDue).unwrap();
    assert_eq!((due.state, due.raised), (State::Unacknowledged, minutes(10.0)));
}

#[test]
fn law_a_condition_at_its_limit_does_not_chatter() {
    let mut shop = Shop::new(Rota::default());
    // The chance wanders about its limit: sometimes it would enter, sometimes it only keeps.
    shop.run(NINE, minutes(30.0), |now| {
        let enters = (now - NINE).as_seconds() as i64 % 7 < 3;
        vec![Condition { enters, ..finding(Task::ProbablyDown, 1, NINE) }]
    });
    let alarms = shop.step(&[finding(Task::ProbablyDown, 1, NINE)], minutes(30.0));
    assert_eq!(alarms[0].raised, NINE, "raised once");
    // A stall that flickers off for less than its off-delay is one stall.
    let mut shop = Shop::new(Rota::default());
    shop.run(NINE, minutes(30.0), |now| {
        let gone = (now - NINE).as_seconds() as i64 % 100 > 90;
        if gone { Vec::new() } else { vec![finding(Task::Stalled, 1, NINE)] }
    });
    let alarms = shop.step(&[finding(Task::Stalled, 1, NINE)], minutes(30.0));
    assert_eq!(alarms[0].raised, minutes(1.0), "raised once, after its on-delay");
}

#[test]
fn law_nothing_rings_for_what_is_no_longer_so() {
    let mut shop = Shop::new(Rota::default());
    shop.run(NINE, minutes(2.0), |_| vec![finding(Task::Stalled, 1, NINE)]);
    let before = shop.rings.len();
    assert!(before > 0);
    shop.run(minutes(2.0), minutes(5.0), |_| Vec::new());
    let alarms = shop.step(&[], minutes(5.0));
    assert_eq!(alarms[0].state, State::ReturnedUnacknowledged, "it stays on the list");
    // It may ring until the off-delay is over, and not after.
    let late = shop.rings[before..].iter().filter(|call| call.at >= minutes(4.0)).count();
    assert_eq!(late, 0);
    shop.answers.push(answer(minutes(5.0), Answering::Acknowledged(Task::Stalled)));
    assert_eq!(shop.step(&[], minutes(5.0)), []);
}

#[test]
fn law_a_latched_alarm_waits_to_be_seen_and_reset() {
    let mut shop = Shop::new(Rota::default());
    shop.run(NINE, minutes(5.0), |_| vec![finding(Task::TooFast, 1, NINE)]);
    shop.run(minutes(5.0), minutes(7.0), |_| Vec::new());
    let state = |shop: &mut Shop, at: f64| shop.step(&[], minutes(at)).first().map(|a| a.state);
    assert_eq!(state(&mut shop, 7.0), Some(State::LatchedUnacknowledged));
    shop.answers.push(answer(minutes(8.0), Answering::Acknowledged(Task::TooFast)));
    assert_eq!(state(&mut shop, 8.0), Some(State::LatchedAcknowledged));
    shop.answers.push(answer(minutes(9.0), Answering::Acknowledged(Task::TooFast)));
    assert_eq!(state(&mut shop, 9.0), None);
}

#[test]
fn published_ten_alarms_in_ten_minutes_are_a_flood_and_ring_as_one() {
    // Flood as in ISA-18.2 / TR18.2.5: it begins with 10 alarms in 10 minutes and ends when fewer
    // than 5 come in 10 minutes.
    let mut shop = Shop::new(Rota::default());
    let came = |now: Moment| {
        let since = |firing: i64| minutes(0.5 * firing as f64);
        (1..=12)
            .filter(|firing| since(*firing) <= now)
            .map(|firing| finding(Task::Stalled, firing, since(firing) - Span::minutes(1)))
            .collect::<Vec<_>>()
    };
    shop.run(NINE, minutes(20.0), came);
    let summaries: Vec<&Call> = shop.rings.iter().filter(|call| call.alarms.len() > 1).collect();
    let first = summaries.first().unwrap();
    assert_eq!((first.at, first.alarms.len()), (minutes(5.0), 10), "the tenth alarm began it");
    assert_eq!(words::call_headline(first), "10 alarms at once: Kiln 1 has stalled");
    let alone_in_flood = shop
        .rings
        .iter()
        .filter(|call| call.alarms.len() == 1 && call.at > minutes(5.0) && call.at < minutes(13.0));
    assert_eq!(alone_in_flood.count(), 0);
    let [begun, eleventh, twelfth, again @ ..] = &summaries[..] else { panic!("{summaries:?}") };
    let new = [(eleventh.at - begun.at, 11), (twelfth.at - eleventh.at, 12)];
    assert_eq!(new, [(Span::seconds(30), eleventh.alarms.len()), (Span::seconds(30), 12)]);
    assert!(again.len() <= 2, "at the pace of its most urgent: {}", again.len());
    assert_eq!(shop.book.flood(), None, "over by 9:20");
    assert!(summaries.last().unwrap().at < minutes(15.0));
}

#[test]
fn law_a_sleep_is_told_when_it_is_over() {
    let mut shop = Shop::new(Rota::default());
    shop.run(minutes(-5.0), minutes(-4.0), |_| Vec::new());
    // The machine slept from 8:56 to 9:40; the look was due at 9:00.
    let calls = shop.rings.len();
    shop.step(&[finding(Task::LookDue, 1, NINE)], minutes(40.0));
    let call = &shop.rings[calls];
    assert_eq!((call.late, call.at), (Some(Span::minutes(40)), minutes(40.0)));
    assert_eq!(words::call_headline(call), "Look at Kiln 1 (40 min late)");
    let body = words::call_body(call, Scale::Celsius);
    assert!(body.starts_with("Due 40 min ago, while nothing here could ring."), "{body}");
    shop.run(minutes(40.0), minutes(46.0), |_| vec![finding(Task::LookDue, 1, NINE)]);
    assert_eq!(shop.rings.last().unwrap().late, None, "said once");
}

#[test]
fn law_a_clock_set_back_silences_nothing() {
    let mut shop = Shop::new(Rota::default());
    let holds = |_: Moment| vec![finding(Task::ShutOff, 1, minutes(-120.0))];
    shop.run(NINE, minutes(5.0), holds);
    let before = shop.rings.len();
    shop.run(minutes(-55.0), minutes(-50.0), holds);
    assert!(shop.rings.len() >= before + 5, "five more minutes, a ring in each");
    let gap = shop.rings[before].at - minutes(-55.0);
    assert!(gap <= Priority::Highest.repeat());
}

#[test]
fn law_the_time_told_goes_on_while_the_clock_is_set_back() {
    let mut steady = Steady::default();
    let second = Span::seconds(1);
    assert_eq!(steady.tell(NINE, Span::ZERO, Some(minutes(-3.0))), NINE);
    // Set back an hour: time goes on by what really passed.
    assert_eq!(steady.tell(minutes(-60.0), second, Some(minutes(-3.0))), NINE + second);
    assert_eq!(steady.set_back_by(minutes(-60.0)), Span::hours(1) + second);
    // Set forward, or slept: believed.
    assert_eq!(steady.tell(minutes(30.0), second, Some(minutes(-3.0))), minutes(30.0));
    // A fresh process whose clock is behind the journal begins where the journal ends.
    let mut steady = Steady::default();
    assert_eq!(steady.tell(minutes(-60.0), Span::ZERO, Some(minutes(-3.0))), minutes(-3.0));
    // Nothing burns: the clock is believed.
    assert_eq!(steady.tell(minutes(-60.0), second, None), minutes(-60.0));
}

#[test]
fn law_muted_hours_silence_low_priority_only_and_run_over_midnight() {
    let at = |hour, minute| MinuteOfDay::new(hour, minute).unwrap();
    let muted = Some(Hours { from: at(22, 0), to: at(7, 0) });
    let rota = Rota { muted, ..Rota::default() };
    let heard = |priority, minute| {
        rota.ladder(priority, minute).iter().any(|target| target.way == WayName::Sound)
    };
    for (minute, low) in [
        (at(21, 59), true),
        (at(22, 0), false),
        (at(23, 59), false),
        (at(0, 0), false),
        (at(6, 59), false),
        (at(7, 0), true),
    ] {
        assert_eq!(heard(Priority::Low, minute), low, "{minute:?}");
        assert!(Priority::ALL[..3].iter().all(|priority| heard(*priority, minute)));
    }
    assert_eq!(MinuteOfDay::of_second(86_400), at(23, 59), "a leap second belongs to its day");
}

#[test]
fn law_off_duty_people_are_called_last_and_only_for_urgent_alarms() {
    let at = |hour| MinuteOfDay::new(hour, 0).unwrap();
    let mut rota = two_people();
    rota.people[0].hours = Some(Hours { from: at(8), to: at(16) });
    let names = |rota: &Rota, priority, hour| {
        rota.ladder(priority, at(hour)).into_iter().map(|t| t.person).collect::<Vec<_>>()
    };
    assert_eq!(names(&rota, Priority::Highest, 9), ["Ada", "Ada", "Ben", "Cy"]);
    assert_eq!(names(&rota, Priority::Highest, 20), ["Ben", "Cy", "Ada", "Ada"]);
    assert_eq!(names(&rota, Priority::Medium, 20), ["Ben", "Cy"]);
    // With nobody on duty at all somebody is called all the same.
    for person in &mut rota.people {
        person.hours = Some(Hours { from: at(8), to: at(16) });
    }
    assert_eq!(names(&rota, Priority::Low, 20).len(), 4);
}

/// What may happen in the property test, second by second.
#[derive(Debug, Clone)]
enum Happens {
    /// Time passes, in seconds, with a step at most every two of them.
    Passes(i64),
    /// The condition of an alarm comes or goes.
    Comes(usize),
    Goes(usize),
    Acknowledged(usize),
    Shelved(usize),
    Looked(i64),
    /// The clock is set, by so many seconds.
    Set(i64),
    /// The process is killed, and another takes over.
    TakenOver,
}

fn happens() -> impl Strategy<Value = Happens> {
    prop_oneof![
        4 => (1i64..150).prop_map(Happens::Passes),
        3 => (0usize..18).prop_map(Happens::Comes),
        1 => (0usize..18).prop_map(Happens::Goes),
        1 => (0usize..18).prop_map(Happens::Acknowledged),
        1 => (0usize..18).prop_map(Happens::Shelved),
        1 => (1i64..7).prop_map(Happens::Looked),
        1 => (-7200i64..7200).prop_map(Happens::Set),
        1 => Just(Happens::TakenOver),
    ]
}

/// The alarms of the property test: three tasks on six kilns.
fn key(index: usize) -> Key {
    let task = [Task::ShutOff, Task::ProbablyDown, Task::LookDue][index % 3];
    Key { task, firing: FiringId(1 + (index / 3) as i64) }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]
    /// Whatever happens in whatever order, an unanswered alarm of the highest priority is never
    /// silent for longer than its repeat time, measured by a stopwatch that cannot be set.
    #[test]
    fn law_the_highest_priority_is_never_silent_for_long(story in prop::collection::vec(happens(), 1..60)) {
        let mut shop = Shop::new(two_people());
        let mut steady = Steady::default();
        let mut present: BTreeMap<Key, Moment> = BTreeMap::new();
        let (mut wall, mut stopwatch) = (NINE, Span::ZERO);
        let mut newest = NINE;
        // When each unanswered alarm of the highest priority was last heard, by the stopwatch.
        let mut heard: BTreeMap<Key, Span> = BTreeMap::new();
        for happened in story {
            let mut steps = 0;
            let mut answered = |firing, what| shop.answers.push(Answer { firing, ..answer(newest, what) });
            match happened {
                Happens::Passes(seconds) => steps = seconds,
                Happens::Comes(index) => {
                    present.entry(key(index)).or_insert(newest);
                }
                Happens::Goes(index) => {
                    present.remove(&key(index));
                }
                Happens::Acknowledged(index) => {
                    let Key { task, firing } = key(index);
                    answered(firing, Answering::Acknowledged(task));
                }
                Happens::Shelved(index) => {
                    let Key { task, firing } = key(index);
                    answered(firing, Answering::Shelved(task, Span::minutes(20)));
                }
                Happens::Looked(firing) => answered(FiringId(firing), Answering::Did(Kind::Look)),
                Happens::Set(seconds) => wall = wall + Span::seconds(seconds),
                Happens::TakenOver => {
                    let rang: Vec<_> = (0..18).filter_map(|index| shop.book.rang(key(index)).copied()).collect();
                    shop.book = Book::resume(rang);
                    shop.desk = Desk::default();
                    steady = Steady::default();
                }
            }
            for _ in 0..=steps {
                let findings: Vec<Condition> = present
                    .iter()
                    .map(|(key, since)| finding(key.task, key.firing.0, *since))
                    .collect();
                let passed = if steps == 0 { Span::ZERO } else { Span::seconds(1) };
                wall = wall + passed;
                stopwatch = stopwatch + passed;
                let now = steady.tell(wall, passed, Some(newest));
                newest = now;
                let calls = shop.rings.len();
                let alarms = shop.step(&findings, now);
                let highest: Vec<Key> = alarms
                    .iter()
                    .filter(|alarm| alarm.state.rings())
                    .map(|alarm| alarm.key)
                    .filter(|key| key.task.priority() == Priority::Highest)
                    .collect();
                heard.retain(|key, _| highest.contains(key));
                for call in &shop.rings[calls..] {
                    for alarm in &call.alarms {
                        if highest.contains(&alarm.key) {
                            heard.insert(alarm.key, stopwatch);
                        }
                    }
                }
                for key in highest {
                    let last = heard.get(&key).copied();
                    prop_assert!(last.is_some(), "{key:?} rings at once");
                    let silent = Span(stopwatch.0 - last.unwrap().0);
                    prop_assert!(silent <= Priority::Highest.repeat(), "{key:?} silent for {silent}");
                }
            }
        }
        prop_assert!(LONGEST_STEP < Priority::Highest.repeat());
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]
    /// A process that starts now stands where one that was there all the time stands, for every
    /// alarm whose condition holds.
    #[test]
    fn law_a_fresh_process_arrives_at_the_same_place(
        came in 0i64..3600,
        answered in prop::collection::vec((0i64..7200, 0usize..3), 0..6),
        now in 3600i64..9000,
    ) {
        let since = NINE + Span::seconds(came);
        let now = NINE + Span::seconds(now);
        for task in [Task::ShutOff, Task::LookDue, Task::Stalled, Task::TooFast, Task::CoolEnough] {
            let mut answers: Vec<Answer> = answered
                .iter()
                .map(|(at, kind)| {
                    let what = match kind {
                        0 => Answering::Acknowledged(task),
                        1 => Answering::Shelved(task, Span::minutes(25)),
                        _ => Answering::Did(Kind::Reading),
                    };
                    answer(NINE + Span::seconds(*at), what)
                })
                .collect();
            answers.sort_by_key(|answer| answer.at);
            let known = |at: Moment| -> Vec<Answer> {
                answers.iter().filter(|answer| answer.at <= at).cloned().collect()
            };
            let mut there = Desk::default();
            let mut at = NINE;
            let mut stands = Vec::new();
            while at <= now {
                let findings = if at >= since { vec![finding(task, 1, since)] } else { Vec::new() };
                stands = there.step(&findings, &known(at), at);
                at = at + Span::seconds(30);
            }
            let at = at - Span::seconds(30);
            let fresh = Desk::default().step(&[finding(task, 1, since)], &known(at), at);
            prop_assert_eq!(stands, fresh);
        }
    }
}
