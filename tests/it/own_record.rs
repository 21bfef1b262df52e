//! What the watch writes down itself, and what the shop makes of it: calls, forecasts that are held
//! against the drop, and windows as wide as the shop's own record asks for.

use rand::RngExt as _;
use rand::SeedableRng as _;
use rand_pcg::Pcg64Mcg;
use spyhole::testing::alarm::Desk;
use spyhole::testing::edge::keeper::beside;
use spyhole::testing::edge::keeper::diary::Diary;
use spyhole::testing::edge::record::Time;
use spyhole::testing::edge::shop::advised::Counsel;
use spyhole::testing::firing::mark::{Mark, Marked, widened};
use spyhole::testing::review::own_record::{OwnRecord, RECENT, width_factor};
use spyhole::testing::review::windows::{Window, windows};
use spyhole::testing::watch::walks::walks;
use spyhole::testing::words;

use crate::forecast_trials::Trial;
use crate::journal::cli::Bench;
use crate::journal::{event, lit, look, minutes, outcome, strike};
use crate::keeper::{NO_BUS, TestShop, holder, now, until};
use crate::prelude::*;
use crate::program;
use crate::simulator::{Dice, LIT, Reads, gold, looked};

/// A window told `at` so many minutes since lit, from and to so many.
fn mark(when: When, at: i64, from: i64, to: i64) -> Mark {
    Mark {
        when,
        by: ForecastBy::Clock,
        p05: Span::minutes(from - at),
        p50: Span::minutes((from + to) / 2 - at),
        p95: Span::minutes(to - at),
        width: 1.0,
        lit: EventId(1),
    }
}

fn by_the_program(firing: FiringId, at: Moment, what: What) -> NewEvent {
    NewEvent { who: Who::Program, ..event(Some(firing), at, what) }
}

/// Events of one firing at so many minutes since lit, in the order of writing.
fn fold(events: &[(i64, What)]) -> Firing {
    Firing::fold(events.iter().zip(1..).map(|((at, what), id)| Event {
        id: EventId(id),
        firing: Some(FiringId(1)),
        at: minutes(*at),
        written: minutes(*at),
        who: Who::Person("Ida".into()),
        what: what.clone(),
    }))
}

#[test]
fn law_a_mark_is_of_the_lighting_that_stands() {
    let kept = What::Marked(mark(When::AtLighting, 5, 280, 340));
    let events = [(0, lit("North")), (5, kept.clone()), (6, strike(EventId(1))), (2, lit("North"))];
    assert_eq!(fold(&events[..2]).marks.len(), 1);
    assert!(fold(&events).marks.is_empty(), "lit at another time, so it was another forecast");
    let mut back = events.to_vec();
    back.extend([(7, strike(EventId(4))), (8, strike(EventId(3)))]);
    assert_eq!(fold(&back).marks.len(), 1, "the correction was taken back");
    // As taken in by another shop, whose event 1 is another.
    let elsewhere = [(0, What::Note { text: "n".into() }), (0, lit("North")), (5, kept)];
    assert!(fold(&elsewhere).marks.is_empty());
}

/// A firing whose target was seen standing and then down at these minutes, and its windows.
fn finished(seen: &[(i64, Seen)], marks: &[Mark]) -> Firing {
    let mut events = vec![(0, lit("North"))];
    events.extend(marks.iter().map(|mark| (240, What::Marked(*mark))));
    events.extend(seen.iter().map(|(at, seen)| (*at, look(*seen))));
    events.push((400, What::Off));
    fold(&events)
}

#[test]
fn law_a_window_holds_the_middle_between_the_looks() {
    let marks = [mark(When::AtLighting, 240, 280, 310), mark(When::HourBefore, 240, 295, 310)];
    let held = |seen: &[(i64, Seen)]| -> Vec<bool> {
        windows(&finished(seen, &marks)).iter().map(|window| window.held).collect()
    };
    assert_eq!(held(&[(280, Seen::Standing), (300, Seen::Down)]), [true, false]);
    assert_eq!(held(&[(290, Seen::Leaning), (300, Seen::Down)]), [true, true]);
    assert!(held(&[(300, Seen::Down)]).is_empty(), "nobody knows how long it had been down");
    assert!(held(&[(260, Seen::Standing), (300, Seen::Down)]).is_empty(), "40 min tell too little");
    assert!(held(&[(280, Seen::Standing)]).is_empty());
    let burning = Firing { off: None, ..finished(&[(290, Seen::Half), (300, Seen::Down)], &marks) };
    assert!(windows(&burning).is_empty());
}

#[test]
fn law_a_drop_counts_once_by_the_window_people_act_on() {
    let seen = [(290, Seen::Standing), (300, Seen::Down)];
    let wide = mark(When::AtLighting, 240, 200, 400);
    let missed = mark(When::HourBefore, 240, 310, 320);
    let past = [finished(&seen, &[wide, missed]), finished(&seen, &[wide])];
    let record = OwnRecord::of_firings(&past);
    assert_eq!((record.told.hits, record.told.of), (1, 2));
    let many: Vec<Firing> = (0..RECENT + 9).map(|_| finished(&seen, &[wide])).collect();
    assert_eq!(OwnRecord::of_firings(&many).told.of, RECENT);
    assert_eq!(OwnRecord::of_firings(&[]).width(), 1.0);
}

#[test]
fn law_what_was_told_wider_is_judged_as_it_was_reckoned() {
    let seen = [(270, Seen::Standing), (280, Seen::Down)];
    let told = Mark { width: 2.0, ..mark(When::HourBefore, 240, 270, 330) };
    let windows = windows(&finished(&seen, &[told]));
    let expected = Window { when: When::HourBefore, held: true, as_reckoned: false };
    assert_eq!(windows, [expected], "half as wide it began at about 284");
    let marked = Marked { at: minutes(240), mark: told };
    let there = marked.reckoned(LIT_HERE);
    for (end, again) in marked.told().iter().zip(widened(there, LIT_HERE, 2.0)) {
        assert_abs_diff_eq!((*end - again).as_minutes(), 0.0, epsilon = 0.001);
    }
}

const LIT_HERE: Moment = crate::journal::LIT;

/// The mean of a beta distribution by summing its density, and the logistic quantile by halving.
#[test]
fn crosscheck_the_width_factor_is_that_of_beta_and_logistic() {
    for (held, of) in [(0, 8), (20, 30), (27, 30), (30, 30), (14, 14), (3, 5)] {
        let (a, b) = (18.0 + held as f64, 2.0 + (of - held) as f64);
        let steps = 20_000;
        let weigh = |power: i32| -> f64 {
            let density = |x: f64| ((a - 1.0) * x.ln() + (b - 1.0) * (1.0 - x).ln()).exp();
            let at = |step| (f64::from(step) + 0.5) / f64::from(steps);
            (0..steps).map(|step| at(step).powi(power) * density(at(step))).sum()
        };
        let mean = weigh(1) / weigh(0);
        let deviation = (weigh(2) / weigh(0) - mean * mean).sqrt();
        let share = if mean > 0.9 { (mean - deviation).max(0.9) } else { mean };
        let half_width = |share: f64| {
            let (mut low, mut high) = (0.0_f64, 50.0);
            for _ in 0..100 {
                let middle = 0.5 * (low + high);
                let inside = 2.0 / (1.0 + f64::exp(-middle)) - 1.0;
                if inside < share { low = middle } else { high = middle }
            }
            low
        };
        let expected = (half_width(0.9) / half_width(share)).clamp(0.8, 2.0);
        assert_abs_diff_eq!(width_factor(held, of), expected, epsilon = 0.0051);
    }
}

/// A shop whose errors are `scale` times what its windows are made for, 40 shops each: after 30
/// drops its windows hold nearer to 9 in 10 than as reckoned, and an honest shop's stay as they are.
#[test]
fn law_the_width_brings_windows_nearer_to_nine_in_ten() {
    let dice = &mut Pcg64Mcg::seed_from_u64(7);
    let mut normal = || {
        let (u, v): (f64, f64) = (dice.random(), dice.random());
        (-2.0 * (1.0 - u).ln()).sqrt() * (std::f64::consts::TAU * v).cos()
    };
    let half = 1.645;
    for (scale, least, most) in [(0.6, 0.93, 0.995), (1.0, 0.87, 0.93), (1.5, 0.80, 0.90)] {
        let (mut inside, mut as_reckoned, shops, drops) = (0, 0, 40, 500);
        for _ in 0..shops {
            let held = (0..RECENT).filter(|_| (scale * normal()).abs() <= half).count();
            let width = width_factor(held, RECENT);
            for _ in 0..drops {
                let error = (scale * normal()).abs();
                inside += usize::from(error <= half * width);
                as_reckoned += usize::from(error <= half);
            }
        }
        let share = |count: usize| count as f64 / f64::from(shops * drops);
        let (with, without) = (share(inside), share(as_reckoned));
        assert!((least..=most).contains(&with), "{scale}: {with}");
        let farther = (with - 0.9).abs() - (without - 0.9).abs();
        assert!(farther <= if scale == 1.0 { 0.02 } else { -0.005 }, "{scale}: {with} {without}");
    }
}

#[test]
fn law_widening_comes_sooner_than_narrowing_and_both_are_bounded() {
    assert!(width_factor(2, 5) > 1.15, "three of five missed widen at once");
    assert_eq!(width_factor(10, 10), 1.0, "ten held narrow nothing yet");
    assert!((0.85..1.0).contains(&width_factor(30, 30)));
    assert_eq!((width_factor(0, 30), width_factor(27, 30), width_factor(0, 0)), (2.0, 1.0, 1.0));
    for of in 1..=RECENT {
        let widths: Vec<f64> = (0..=of).map(|held| width_factor(held, of)).collect();
        assert!(widths.is_sorted_by(|fewer, more| fewer >= more), "{of}: {widths:?}");
    }
}

/// The same shop with and without a record of windows that missed.
#[test]
fn law_the_record_widens_what_is_told_and_nothing_else() {
    let dice = &mut Dice::new(3);
    let mut trial = Trial::new(8, Reads::Nothing, 150.0, dice);
    let firing = trial.truth.record(&trial.kiln, Reads::Nothing, 1.0, dice);
    let now = LIT + Span::hours(1);
    let reckoned = forecast(&trial.question(&firing, now)).unwrap();
    for past in &mut trial.past {
        past.marks = vec![Marked { at: LIT, mark: mark(When::HourBefore, 0, 10, 20) }];
    }
    let told = forecast(&trial.question(&firing, now)).unwrap();
    assert!(told.width > 1.5 && reckoned.width == 1.0, "{} {}", told.width, reckoned.width);
    let window = [reckoned.p05, reckoned.p50, reckoned.p95];
    assert_eq!([told.p05, told.p50, told.p95], widened(window, LIT, told.width));
    assert!(told.p05 < reckoned.p05 && told.p95 > reckoned.p95);
    assert_eq!((&told.drops, told.dropped), (&reckoned.drops, reckoned.dropped));
    let plan = |past: &[Firing]| {
        let question = trial.question(&firing, now);
        advise(&Question { past, ..question }).looks
    };
    let plain: Vec<Firing> =
        trial.past.iter().map(|one| Firing { marks: Vec::new(), ..one.clone() }).collect();
    assert_eq!(plan(&trial.past), plan(&plain), "the looks are planned by what was reckoned");
}

/// From lighting to the drop, minute by minute; somebody comes six minutes after every call, and
/// the process that keeps watch ends and starts again every half hour.
#[test]
fn law_each_walk_is_called_once_and_each_forecast_kept_once() {
    let dice = &mut Dice::new(5);
    let trial = Trial::new(8, Reads::Nothing, 150.0, dice);
    let mut firing = trial.truth.record(&trial.kiln, Reads::Nothing, 0.0, dice);
    firing.lit_event = Some(EventId(1));
    let (plan, mut desk, mut diary) = (Plan::default(), Desk::default(), Diary::default());
    let (mut answers, mut comes, mut came) = (Vec::<Answer>::new(), None, 0);
    let mut advice = advise(&trial.question(&firing, LIT));
    for minute in 1.. {
        let now = LIT + Span::minutes(minute);
        if comes.is_some_and(|comes| comes <= now) {
            let look = trial.truth.look((now - LIT).as_hours(), dice);
            let what = Answering::Did(Kind::Look);
            answers.push(Answer { at: now, firing: firing.id, who: String::new(), what });
            firing.looks.push(looked(now, look));
            (comes, came) = (None, came + 1);
            if look.target == Some(Seen::Down) {
                break;
            }
        }
        if minute % 5 == 0 || advice.next_look.is_none_or(|look| now >= look) {
            advice = advise(&trial.question(&firing, now));
        }
        let watched = Watched { firing: &firing, advice: Some(&advice), plan: &plan };
        let standing = desk.step(&findings(&watched, now), &answers, now);
        if minute % 30 == 0 {
            diary = Diary::default();
        }
        let due = diary.due([watched].into_iter(), &standing, now);
        for due in due {
            diary.written(&due, now);
            match due.what {
                What::Called => {
                    assert!(comes.is_none(), "called at {now:?} while somebody is on the way");
                    firing.calls.push((EventId(0), now));
                    comes = Some(now + Span::minutes(6));
                }
                What::Marked(mark) => firing.marks.push(Marked { at: now, mark }),
                other => panic!("{other:?}"),
            }
        }
    }
    assert_eq!(firing.calls.len(), came);
    let late: Vec<f64> = walks(&firing, &[]).iter().map(|walk| walk.late_min).collect();
    assert!(came > 1 && late == vec![6.0; came], "{late:?}");
    let kept: Vec<When> = firing.marks.iter().map(|marked| marked.mark.when).collect();
    assert_eq!(kept, When::ALL);
    let [_, hour_before, first_look] = firing.marks[..] else { panic!("three") };
    assert!((45.0..=60.0).contains(&hour_before.mark.p50.as_minutes()));
    assert!(first_look.at >= firing.looks[0].at && first_look.mark.by == ForecastBy::Clock);
    // One that was struck is not written again by whoever wrote it.
    let at = firing.marks[0].at;
    let first = Firing { marks: Vec::new(), looks: Vec::new(), ..firing.clone() };
    let advice = advise(&trial.question(&first, at));
    let watched = Watched { firing: &first, advice: Some(&advice), plan: &plan };
    let mut diary = Diary::default();
    let due = diary.due([watched].into_iter(), &[], at);
    assert_eq!(due.len(), 1);
    diary.written(&due[0], at);
    assert!(diary.due([watched].into_iter(), &[], at).is_empty());
}

/// How often the watch wrote of these firings: calls, and marks by their time.
fn written(journal: &Journal, firings: &[FiringId]) -> (usize, Vec<&'static str>) {
    let (mut calls, mut marks) = (0, Vec::new());
    for firing in firings {
        for stored in stored(journal, Some(&[*firing])) {
            match stored.event.what {
                What::Called => calls += 1,
                What::Marked(mark) => marks.push(mark.when.name()),
                _ => continue,
            }
            assert_eq!(stored.event.who, Who::Program);
        }
    }
    (calls, marks)
}

#[test]
fn law_two_that_keep_watch_write_once_also_after_one_is_killed() {
    let mut shop = TestShop::new("{}");
    shop.write(None, now(), What::LoadTypeSet(gold(Some(Span::hours(5)))));
    let firings = [shop.light("North", Span::minutes(5)), shop.light("South", Span::hours(5))];
    let mut keepers = vec![shop.keep(NO_BUS), shop.keep(NO_BUS)];
    let whole = (1, vec!["at_lighting"]);
    let all = |shop: &TestShop| (written(&shop.journal, &firings) == whole).then_some(());
    until("the call and the mark", || all(&shop));
    let held = until("a holder", || holder(&shop.path()));
    keepers.retain_mut(|keeper| {
        let stays = keeper.0.id() != held;
        if !stays {
            keeper.0.kill().unwrap();
            keeper.0.wait().unwrap();
        }
        stays
    });
    let next = until("another", || holder(&shop.path()).filter(|pid| *pid != held));
    assert_eq!(next, keepers[0].0.id());
    // It reads the shop anew, and has nothing to add: a second lighting shows that it has.
    let third = shop.light("East", Span::minutes(1));
    until("its mark", || (written(&shop.journal, &[third]).1.len() == 1).then_some(()));
    assert!(all(&shop).is_some(), "{:?}", written(&shop.journal, &firings));
    assert!(shop.journal.check().unwrap().is_whole());
}

#[test]
fn law_what_cannot_be_written_is_told_and_costs_no_alarm() {
    let mut shop = TestShop::new("{}");
    shop.light("South", Span::hours(6));
    let refuse = "CREATE TRIGGER full BEFORE INSERT ON events WHEN NEW.kind IN (24, 25)
                  BEGIN SELECT RAISE(ABORT, 'no room'); END";
    rusqlite::Connection::open(shop.path()).unwrap().execute_batch(refuse).unwrap();
    let beside = beside::start(&shop.path(), Scale::default(), Counsel::default()).unwrap();
    let said = until("the trouble", || {
        let mut lines = beside.told.try_iter().map(|told| told.line());
        lines.find(|line| line.contains("not written down"))
    });
    assert!(said.contains("a call to look is not written down"), "{said}");
    assert!(said.contains("no room"), "{said}");
    let rings = || beside.view().standing.iter().any(|alarm| alarm.state.rings());
    until("the alarm", || rings().then_some(()));
}

#[test]
fn law_striking_without_a_number_passes_over_what_the_watch_wrote() {
    let mut bench = Bench::new();
    bench.say("light North --load gold");
    bench.at(10).say("read North 300C");
    let mut journal = Journal::open(&bench.shop()).unwrap();
    let kept = mark(When::AtLighting, 10, 280, 310);
    for what in [What::Called, What::Marked(kept)] {
        let event = by_the_program(FiringId(1), minutes(11), what);
        journal.append_checked(&event, minutes(11)).unwrap();
    }
    let struck = bench.at(12).say("strike --reason misread");
    assert!(struck.contains("(reading at "), "{struck}");
    let history = bench.say("history North");
    let told = |line: &&str| line.contains("by the program");
    assert_eq!(history.lines().filter(told).count(), 2, "{history}");
}

#[test]
fn law_the_same_mark_twice_is_written_once() {
    let (_folder, _path, mut journal) = crate::journal::new_shop();
    let firing = crate::journal::light(&mut journal, "North");
    let kept = |to| What::Marked(mark(When::AtLighting, 10, 280, to));
    let uid = Uid::of_content("marked at_lighting 1");
    for (to, refused) in [(310, false), (320, true)] {
        let event = NewEvent { uid, ..by_the_program(firing, minutes(10), kept(to)) };
        assert_eq!(journal.append_checked(&event, minutes(10)).is_err(), refused);
    }
    assert_eq!(journal.firing(firing).unwrap().marks.len(), 1);
}

/// Six gold firings a day apart, the drops of the last two outside of what was told; the first without
/// a window at lighting.
#[test]
fn law_the_shop_sees_what_its_windows_held() {
    let mut bench = Bench::new();
    let mut journal = Journal::open(&bench.shop()).unwrap();
    for day in 0..6 {
        let begun = day * 1440;
        let at = |minute: i64| minutes(begun + minute);
        let begins = journal.append(&event(None, at(0), lit("North")), at(0)).unwrap();
        let firing = begins.firing.unwrap();
        let kept = |journal: &mut Journal, when, from: i64, to: i64| {
            let mark = Mark { lit: begins.id, ..mark(when, 0, from, to) };
            journal.append(&by_the_program(firing, at(0), What::Marked(mark)), at(0)).unwrap();
        };
        if day > 0 {
            kept(&mut journal, When::AtLighting, 200, 400);
        }
        kept(&mut journal, When::HourBefore, 280, if day < 4 { 310 } else { 285 });
        for (minute, what) in [
            (290, look(Seen::Standing)),
            (300, look(Seen::Down)),
            (301, What::Off),
            (900, What::Drawn),
            (910, outcome(Verdict::Good)),
        ] {
            journal.append(&event(Some(firing), at(minute), what), at(minute)).unwrap();
        }
    }
    let bench = bench.at(9000);
    let held = "The window held 4 of the last 6 drops.";
    let status = bench.say("status");
    assert_eq!(status.trim(), format!("No kiln is packed, lit or cooling.\n{held}"));
    assert_eq!(bench.json("status")["drops_held"], serde_json::json!({"held": 4, "of": 6}));
    let asked = |line: &str| program::at(&bench.shop(), line).ok();
    let review = asked("review windows --explain");
    assert!(review.contains(held), "{review}");
    let row = |name: &str| review.lines().find(|line| line.trim().starts_with(name));
    let cells = |name| row(name).unwrap().split_whitespace().collect::<Vec<_>>();
    assert_eq!(cells("at lighting")[2..4], ["5", "5"]);
    assert_eq!(cells("an hour before")[3..5], ["6", "4"]);
    assert!(row("at the first look").is_none());
    assert!(asked("review all").contains("Drops held by the windows"));
    let card = bench.shop().with_file_name("card.html");
    asked(&format!("review card 6 {}", card.display()));
    let svg = fs::read_to_string(&card).unwrap();
    for said in ["Drop as forecast", ": it held", ": missed"] {
        assert!(svg.contains(said), "{said}");
    }
    let record = bench.shop().with_file_name("next.jsonl");
    let at = Time::at(minutes(9000), 0);
    let line = format!(
        r#"{{"at": "{at}", "event": "lit", "kiln": "North", "load_type": "gold", "cone": "018", "guide": "019", "cone_family": "self-supporting"}}"#
    );
    fs::write(&record, line).unwrap();
    let at = Time::at(minutes(9060), 0);
    let advice = asked(&format!("advise {} --explain --at {at}", record.display()));
    let wider =
        "Windows are 1.2 times as wide as reckoned: as reckoned they held 4 of the last 6 drops.";
    assert!(advice.lines().any(|line| line == wider), "{advice}");
}

#[test]
fn law_the_record_is_told_from_five_drops_on_and_a_width_that_differs() {
    let seen = [(290, Seen::Standing), (300, Seen::Down)];
    let (held, missed) =
        (mark(When::HourBefore, 240, 290, 310), mark(When::HourBefore, 240, 310, 320));
    let record = |held_in: usize, missed_in: usize| {
        let marks =
            std::iter::repeat_n(held, held_in).chain(std::iter::repeat_n(missed, missed_in));
        OwnRecord::of_firings(&marks.map(|mark| finished(&seen, &[mark])).collect::<Vec<_>>())
    };
    assert_eq!(words::held_line(record(4, 0).told, words::DROPS), None);
    let line = words::held_line(record(4, 1).told, words::DROPS);
    assert_eq!(line.as_deref(), Some("The window held 4 of the last 5 drops."));
    assert_eq!(words::width_line(&record(27, 3)), None);
    let line = words::width_line(&record(20, 10));
    let wider =
        "Windows are 1.5 times as wide as reckoned: as reckoned they held 20 of the last 30 drops.";
    assert_eq!(line.as_deref(), Some(wider));
    let line = words::width_line(&record(30, 0)).unwrap();
    assert!(line.starts_with("Windows are 0.9 times as wide as reckoned"), "{line}");
}
