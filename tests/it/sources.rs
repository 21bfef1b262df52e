//! Several sources of readings in one kiln: each is judged by itself, and none throws another out.

use spyhole::testing::forecast::evidence::Evidence;
use spyhole::testing::forecast::plausible::sift;

use crate::prelude::*;
use crate::simulator::{Dice, LIT, Reads, SimulatedKiln, after, pack};

/// Who read, hours since lit, C.
type Read<'a> = (&'a Who, f64, f64);

fn probe(name: &str) -> Who {
    Who::Probe(name.into())
}

fn firing(mut reads: Vec<Read<'_>>) -> Firing {
    let mut firing = Firing {
        id: FiringId(1),
        kiln: "North".into(),
        load_type: "gold".into(),
        pack: Some(pack()),
        lit: Some(LIT),
        state: State::Lit,
        ..Firing::default()
    };
    reads.sort_by(|a, b| a.1.total_cmp(&b.1));
    for (who, at_h, c) in reads {
        firing.take_reading(after(at_h), who, Celsius(c));
    }
    firing
}

/// 150 C/h from `off_c`, read every `every_min` from `from_h` to `to_h`.
fn climbing<'a>(who: &'a Who, every_min: f64, from_h: f64, to_h: f64, off_c: f64) -> Vec<Read<'a>> {
    let count = ((to_h - from_h) * 60.0 / every_min) as usize;
    let at_h = |nth: usize| from_h + nth as f64 * every_min / 60.0;
    (1..=count).map(|nth| (who, at_h(nth), 20.0 + 150.0 * at_h(nth) + off_c)).collect()
}

fn counts(firing: &Firing, now: Moment) -> (Vec<usize>, usize) {
    let sifted = sift(firing, now, &[]);
    (sifted.each.iter().map(Vec::len).collect(), sifted.aside.len())
}

#[test]
fn regress_two_probes_25_c_apart_do_not_throw_each_other_out() {
    let (top, bottom) = (probe("top"), probe("bottom"));
    let of_both = |off_c: f64| {
        // Half a minute after one another.
        let mut reads = climbing(&top, 1.0, 0.5, 4.0, 0.0);
        reads.extend(climbing(&bottom, 1.0, 0.5 + 1.0 / 120.0, 4.0, off_c));
        firing(reads)
    };
    for off_c in [-25.0, 25.0] {
        assert_eq!(counts(&of_both(off_c), after(4.0)), (vec![210, 209], 0), "{off_c}");
    }
    // A number mistyped is still judged by its own source's.
    let mut odd = of_both(-25.0);
    odd.take_reading(after(4.01), &top, Celsius(62.0));
    assert_eq!(counts(&odd, after(4.02)), (vec![210, 209], 1));
}

#[test]
fn regress_a_person_reads_the_display_20_c_above_the_probe() {
    let (inside, ida) = (probe("inside"), Who::Person("Ida".into()));
    let mut reads = climbing(&inside, 0.5, 0.0, 4.0, 0.0);
    reads.extend(climbing(&ida, 20.0, 0.001, 4.0, 20.0));
    // Whoever writes it down, it is the same display.
    let otto = Who::Person("Otto".into());
    reads.extend(climbing(&otto, 20.0, 0.171, 4.0, 20.0));
    assert_eq!(counts(&firing(reads), after(4.0)), (vec![480, 22], 0));
}

/// What is known of several sources as one does not depend on where the second one hangs.
#[test]
fn law_two_probes_apart_are_two_witnesses() {
    let dice = &mut Dice::new(8);
    let kiln = SimulatedKiln::new("North", 150.0, dice);
    let past: Vec<Firing> =
        (0..6).map(|_| kiln.fire(dice).finished(&kiln, Reads::Probe, dice)).collect();
    let fired = kiln.fire(dice);
    let now_h = fired.drop_h - 1.0;
    let alone = fired.readings(Reads::Probe, now_h, dice);
    let (first, second) = (probe("first"), probe("second"));
    let read = |moments: &[(Moment, Celsius)], off_c: f64| {
        let mut reads: Vec<Read<'_>> = Vec::new();
        for (at, c) in moments {
            let at_h = (*at - LIT).as_hours();
            reads.push((&first, at_h, c.0));
            if off_c != 0.0 {
                reads.push((&second, at_h, c.0 + off_c));
            }
        }
        firing(reads)
    };
    let window = |firing: &Firing| {
        let question = question(firing, &past, after(now_h));
        let forecast = forecast(&question).unwrap();
        [forecast.p05, forecast.p50, forecast.p95].map(|at| (at - LIT).as_minutes())
    };
    let (of_one, of_two) = (read(&alone, 0.0), read(&alone, 25.0));
    // What reads 25 C more says that it is sooner; the truth may be with either.
    let (one, two) = (window(&of_one), window(&of_two));
    assert!(two[0] < one[0] - 5.0, "{one:?} {two:?}");
    assert!((one[1]..one[2] + 1.0).contains(&two[2]), "{one:?} {two:?}");
    let evidence = Evidence::until(&of_two, after(now_h), &[]).unwrap();
    assert_eq!(evidence.sources(), 2);
    let last = |source: usize| evidence.of_source(source).readings.last().unwrap().c;
    assert!((last(1) - last(0) - 25.0).abs() < 1e-6);
    assert!((evidence.readings.last().unwrap().c - last(0)).abs() < 1e-6);
    assert_eq!(evidence.read().unwrap().0, 2 * alone.len());
}

/// The digest of a finished firing neither.
#[test]
fn crosscheck_a_second_probe_does_not_change_what_a_firing_is_digested_to() {
    let dice = &mut Dice::new(9);
    let kiln = SimulatedKiln::new("North", 150.0, dice);
    let finished = kiln.fire(dice).finished(&kiln, Reads::Probe, dice);
    let (first, second) = (probe("first"), probe("second"));
    let mut of_two = Firing { readings: Vec::new(), ..finished.clone() };
    for (at, c) in &finished.readings {
        of_two.take_reading(*at, &first, *c);
        of_two.take_reading(*at, &second, Celsius(c.0 - 25.0));
    }
    let [alone, both] = [&finished, &of_two].map(|firing| Facts::of(firing, 0.0).unwrap());
    let near = |a: Option<f64>, b: Option<f64>, by: f64| (a.unwrap() - b.unwrap()).abs() < by;
    let climb = |facts: &Facts| facts.final_climb.map(|climb| climb.0);
    assert!(near(climb(&alone), climb(&both), 0.5), "{alone:?} {both:?}");
    let high = |facts: &Facts| facts.probe_high_c.map(|high| high.best);
    assert!(near(high(&alone), high(&both), 0.5), "{alone:?} {both:?}");
}

#[test]
fn law_a_probe_that_falls_silent_is_named_though_another_goes_on() {
    let (top, bottom) = (probe("top"), probe("bottom"));
    let mut reads = climbing(&top, 1.0, 0.0, 4.0, 0.0);
    reads.extend(climbing(&bottom, 1.0, 0.001, 2.0, -15.0));
    let firing = firing(reads);
    let trouble = |now_h: f64| {
        let plan = Plan::default();
        let watched = Watched { firing: &firing, advice: None, plan: &plan };
        findings(&watched, after(now_h)).into_iter().find(|f| f.task == Task::ProbeTrouble)
    };
    assert_eq!(trouble(2.0), None);
    let since = trouble(3.0).expect("the lower one is silent").since;
    assert!(since - after(2.0) <= Span::minutes(1) && since <= after(2.001), "{since:?}");
    let sifted = sift(&firing, after(3.0), &[]);
    assert_eq!(sifted.trouble.map(|(_, why)| why), Some(Implausible::Silent));
    assert_eq!(sifted.each[0].len(), 180, "what the other reads is used");
}
