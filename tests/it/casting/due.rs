//! A mould that is due: what rings, what stands in the agenda, what is in the calendar.

use spyhole::testing::alarm::State as AlarmState;
use spyhole::testing::casting::{Found, Mould, What as Bench};
use spyhole::testing::edge::calendar::calendar;
use spyhole::testing::edge::cli::bench::of_shop;
use spyhole::testing::edge::shop::advised;
use spyhole::testing::edge::shop::standing::Standing;
use spyhole::testing::hours::{Hours, Open, People, TimeOfDay};
use spyhole::testing::scene::Floor;

use crate::keeper::{TestShop, now, until};
use crate::prelude::*;

impl TestShop {
    fn at_bench(&mut self, at: Moment, what: Bench) {
        self.write(None, at, What::Bench(what));
    }

    /// A mould drained so many hours ago.
    fn closed(&mut self, code: &str, hours: i64) {
        let (mould, at) = (code.to_owned(), now() - Span::hours(hours));
        self.at_bench(at, Bench::Mould(Mould { code: mould.clone(), ..Mould::default() }));
        self.at_bench(at, Bench::Poured { mould: mould.clone(), body: "white".into() });
        self.at_bench(at + Span::minutes(20), Bench::Drained { mould });
    }

    fn bench(&self) -> BenchScene {
        of_shop(&self.journal, &self.journal.shop().unwrap(), now()).unwrap()
    }

    /// As the keeper hears of the bench.
    fn heard(&self, standing: &mut Standing) -> Vec<(Task, String, AlarmState)> {
        standing.refresh(&self.journal, now()).unwrap();
        until("the bench", || standing.reckon(&self.journal, now()).then_some(()));
        told(standing)
    }
}

fn told(standing: &mut Standing) -> Vec<(Task, String, AlarmState)> {
    let alarms = standing.alarms(now()).into_iter();
    alarms.map(|alarm| (alarm.key.task, alarm.kiln, alarm.state)).collect()
}

fn staffed() -> TestShop {
    let mut shop = TestShop::new("{}");
    let open = Open { from: TimeOfDay(0), to: TimeOfDay(24 * 60), people: People(1) };
    let hours = Hours { days: "every day".parse().unwrap(), open };
    shop.write(None, now() - Span::hours(300), What::Hours(hours));
    shop
}

#[test]
fn law_a_mould_rings_low_and_never_beside_a_kiln() {
    let (mut shop, mut standing) = (staffed(), Standing::default());
    shop.closed("A1", 60);
    let alarm = |codes: &str, state| vec![(Task::CheckMould, codes.to_owned(), state)];
    assert_eq!(shop.heard(&mut standing), alarm("A1", AlarmState::Unacknowledged));
    assert_eq!(Task::CheckMould.priority(), Priority::Low);
    standing.answer(Task::CheckMould, "Ada".into(), now());
    assert_eq!(told(&mut standing), alarm("A1", AlarmState::Acknowledged));
    // Another one that is due by now rings, both of them in one alarm.
    shop.closed("B2", 60);
    assert_eq!(shop.heard(&mut standing), alarm("A1, B2", AlarmState::Unacknowledged));
    standing.answer(Task::CheckMould, "Ada".into(), now());
    shop.at_bench(now(), Bench::Check { mould: "B2".into(), found: Found::Well });
    assert_eq!(shop.heard(&mut standing), alarm("A1", AlarmState::Acknowledged));
    // A kiln that rings is alone, and first in the agenda.
    let firing = shop.light("North", Span::hours(5));
    shop.see_down(firing);
    standing.refresh(&shop.journal, now()).unwrap();
    let rings: Vec<Task> = told(&mut standing).into_iter().map(|(task, ..)| task).collect();
    assert_eq!(rings, [Task::ShutOff]);
    let floor = advised::snapshot(&shop.journal, now()).unwrap();
    let bench = shop.bench();
    let scene = Floor { bench: bench.into(), ..floor }.scene(now());
    let agenda: Vec<Task> = scene.agenda().into_iter().map(|errand| errand.task).collect();
    assert_eq!(agenda[..2], [Task::ShutOff, Task::CheckMould]);
    assert_eq!(scene.bench_first(), None, "the far view is the kiln's");
}

#[test]
fn law_a_mould_surely_opened_is_asked_about_on_the_bench_alone() {
    let (mut shop, mut standing) = (staffed(), Standing::default());
    shop.closed("A1", 250);
    assert_eq!(shop.heard(&mut standing), []);
    let bench = shop.bench();
    assert_eq!(bench.errands(now()), []);
    let dial =
        Dial { zone: &FixedZone::default(), clock: Clock::default(), scale: Scale::default() };
    let line = spyhole::testing::words::mould_line(&bench.moulds[0], now(), &dial);
    assert!(line.ends_with("still closed? note how it came out"), "{line}");
}

#[test]
fn law_a_calendar_has_each_mould_once_and_lets_go_of_what_was_opened() {
    let mut shop = staffed();
    let export = |shop: &TestShop| {
        calendar(std::iter::empty(), &shop.bench(), None, |_| None, Scale::Celsius, now())
    };
    shop.closed("A1", 5);
    let before = export(&shop);
    let uid = before.lines().find(|line| line.starts_with("UID:check_mould-A1-")).unwrap();
    assert!(before.contains("STATUS:CONFIRMED") && before.contains("SUMMARY:Open A1"), "{before}");
    shop.at_bench(now(), Bench::Check { mould: "A1".into(), found: Found::Forced });
    let after = export(&shop);
    assert!(after.contains(uid) && after.contains("STATUS:CANCELLED"), "{after}");
    assert_eq!(after.matches("BEGIN:VEVENT").count(), 1);
}
