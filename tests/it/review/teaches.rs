//! Outcomes, overshoot, evenness, cost and repeating, on made-up firings with known answers.

use super::made::{Chance, Making, cone, gold, judged, kiln, packed};
use crate::prelude::*;
use spyhole::testing::review::cost::{Cost, FuelFrom, Lost, cost, costs};
use spyhole::testing::review::evenness::evenness;
use spyhole::testing::review::facts::Basis;
use spyhole::testing::review::ledger::Asked;
use spyhole::testing::review::nearest::{RepeatError, nearest, repeat, simplified};
use spyhole::testing::review::outcomes::{By, Trait, outcomes, went_with};
use spyhole::testing::review::prices::Kind;
use spyhole::testing::words::tables;

fn ledger(firings: &[Firing]) -> Ledger {
    let kilns = vec![kiln("North", Fuel::Gas), kiln("East", Fuel::Electric)];
    Ledger::new(firings, kilns, vec![gold(0.5, 0.5)], &Corrections::default(), Span::ZERO)
}

fn all(ledger: &Ledger) -> Vec<&Facts> {
    ledger.facts.iter().collect()
}

/// Off 12 minutes after a drop seen to the minute, at 150 C/h: 30 C of climb later.
#[test]
fn crosscheck_overshoot_in_cones_against_plain_degrees() {
    for (climb, after) in [(60.0, 20.0), (150.0, 12.0), (240.0, 6.0)] {
        let making = Making {
            climb,
            off_after: after,
            looks_every_min: 1,
            noise: 0.0,
            every_min: 1,
            ..Making::default()
        };
        let facts = Facts::of(&making.firing(), 0.0).unwrap();
        let (minutes, cones) = (facts.overshoot_minutes.unwrap(), facts.overshoot_cones.unwrap());
        assert!(abs_diff_eq!(minutes.best, after, epsilon = 0.6), "{minutes:?}");
        assert_eq!(facts.basis, Some(Basis::DropAndReadings));
        // The plain way: degrees climbed since, over the chart's own step from 018 to 017 or 016.
        let end = |name: &str| {
            let curve = curve(cone(name), Default::default()).unwrap();
            curve.end_point(CelsiusPerHour(climb)).unwrap().end.0
        };
        let at_end = end("018") + climb * after / 60.0;
        let plain = if at_end < end("017") {
            (at_end - end("018")) / (end("017") - end("018"))
        } else {
            1.0 + (at_end - end("017")) / (end("016") - end("017"))
        };
        // ln J between two cones is not quite straight in degrees, and the drop is known to half a
        // minute: 0.15 cones.
        near(cones.best, plain, 0.15, format_args!("{climb}: {cones:?} against {plain}"));
        near(facts.final_climb.unwrap().0, climb, 3.0, format_args!("{:?}", facts.final_climb));
    }
}

/// Minutes after the last reading count as well: the kiln went on climbing.
#[test]
fn law_a_late_off_counts_whether_or_not_it_was_read() {
    let often = Making { off_after: 12.0, every_min: 1, noise: 0.0, ..Making::default() };
    let seldom = Making { every_min: 16, ..often.clone() };
    let cones =
        |making: Making| Facts::of(&making.firing(), 0.0).unwrap().overshoot_cones.unwrap().best;
    let (often, seldom) = (cones(often), cones(seldom));
    assert!(abs_diff_eq!(often, seldom, epsilon = 0.1) && often > 1.0, "{often} against {seldom}");
}

#[test]
fn law_off_before_the_drop_is_under() {
    let making = Making { off_after: -12.0, ..Making::default() };
    let facts = Facts::of(&making.firing(), 0.0).unwrap();
    let cones = facts.overshoot_cones.unwrap();
    assert!(facts.drop.is_none() && facts.overshoot_minutes.is_none());
    assert!(cones.best < -0.5 && cones.low < cones.best, "{cones:?}");
    assert_eq!(facts.basis, Some(Basis::Readings));
    // Without readings the lean at the last look still says something.
    let mut blind = Making { off_after: -2.0, looks_every_min: 1, ..Making::default() }.firing();
    blind.readings.clear();
    let facts = Facts::of(&blind, 0.0).unwrap();
    assert_eq!(facts.basis, Some(Basis::Lean));
    let cones = facts.overshoot_cones.unwrap();
    assert!(cones.best < 0.0 && cones.best > -1.0, "{cones:?}");
}

/// A firing watched by eye alone gets its cones from the usual climb of its kiln.
#[test]
fn law_cones_without_readings_come_from_the_usual_climb() {
    let mut blind = Making { id: 9, off_after: 10.0, ..Making::default() }.firing();
    blind.readings.clear();
    let firings =
        [Making::default().firing(), Making { id: 2, ..Making::default() }.firing(), blind];
    let ledger = ledger(&firings);
    let facts = ledger.facts.iter().find(|facts| facts.id == FiringId(9)).unwrap();
    assert_eq!(facts.basis, Some(Basis::DropAndClimb));
    assert!(facts.overshoot_cones.unwrap().best > 0.5, "{facts:?}");
}

#[test]
fn law_outcomes_count_and_name_their_firings() {
    let firings: Vec<Firing> = (0..40)
        .map(|n| {
            let lit = Moment(1_750_000_000_000) + Span::hours(24 * n);
            let late = n % 4 == 0;
            let making = Making {
                id: n + 1,
                lit,
                looks_every_min: if late { 25 } else { 4 },
                seed: n as u64,
                ..Making::default()
            };
            judged(making.firing(), if late { Verdict::Over } else { Verdict::Good }, &[])
        })
        .collect();
    let ledger = ledger(&firings);
    let rows = outcomes(ledger.ahead, &all(&ledger), By::LoadType);
    assert_eq!(rows.len(), 1);
    assert_eq!((rows[0].under.hits, rows[0].good.hits, rows[0].over.hits), (0, 30, 10));
    assert_eq!(rows[0].firings.len(), 40);
    let traits = went_with(&all(&ledger));
    let late = traits.iter().find(|row| row.what == Trait::LateLook).unwrap();
    assert!(late.is_clear() && late.missed_with.hits >= 8, "{late:?}");
    assert!(late.firings.iter().all(|id| (id.0 - 1) % 4 == 0));
    let off = traits.iter().find(|row| row.what == Trait::LateOff).unwrap();
    assert!(!off.is_clear(), "{off:?}");
    // By month the counts add up to the same.
    let months = outcomes(ledger.ahead, &all(&ledger), By::Month);
    assert_eq!(months.iter().map(|m| m.good.of).sum::<usize>(), 40);
    // A period is taken by when it was lit; its end is not in it.
    let asked = Asked {
        since: Some(firings[10].lit.unwrap()),
        until: Some(firings[20].lit.unwrap()),
        kiln: Some(" north".into()),
        load_type: Some("GOLD".into()),
    };
    let ids: Vec<i64> = ledger.select(&asked).iter().map(|f| f.id.0).collect();
    assert_eq!(ids, (11..=20).collect::<Vec<_>>());
    let table = tables::outcomes(By::LoadType, &rows);
    assert!(table.rows[0].formula.contains("30 of 40: 75 %"), "{}", table.rows[0].formula);
}

/// A kiln whose top is 14 C hotter and whose floor is 10 C colder than its middle, found from
/// nothing but cones read in words.
#[test]
fn law_a_map_of_the_kiln_from_its_shelf_cones() {
    let truth = [("top", 14.0), ("middle", 0.0), ("floor", -10.0)];
    let mut chance = Chance::seeded(5);
    let firings: Vec<Firing> = (0..40)
        .map(|n| {
            let making = Making { id: n + 1, lit: Moment(n * 90_000_000), ..Making::default() };
            let hotter = 8.0 * chance.normal();
            let mut shelves = Vec::new();
            for (place, differs) in truth {
                for name in ["020", "019", "018", "017", "016"] {
                    let curve = curve(cone(name), Default::default()).unwrap();
                    let climb = CelsiusPerHour(150.0);
                    let end = curve.end_point(climb).unwrap().end.0;
                    let here = 725.0 + hotter + differs + 2.0 * chance.normal();
                    let work = curve.rate_ending_at(Celsius(here)).0 / 150.0;
                    let lean = spyhole::testing::cone::lean_deg(work);
                    let seen =
                        Seen::ALL.into_iter().find(|s| lean <= s.lean_range_deg().1).unwrap();
                    assert!(end > 0.0);
                    shelves.push((place, name, seen));
                }
            }
            judged(making.firing(), Verdict::Good, &shelves)
        })
        .collect();
    let ledger = ledger(&firings);
    let maps = evenness(&all(&ledger));
    let map = &maps[0];
    let names: Vec<&str> = map.places.iter().map(|place| place.place.as_str()).collect();
    assert_eq!(names, ["floor", "middle", "top"]);
    for (place, truth) in map.places.iter().zip([-10.0, 0.0, 14.0]) {
        // The truth around its own mean; words for leans are coarse, 3 C is what they give.
        let truth = truth - 4.0 / 3.0;
        assert!(abs_diff_eq!(place.differs_c, truth, epsilon = 3.0), "{place:?} against {truth}");
        assert!(place.differs_cones * place.differs_c >= 0.0);
        assert_eq!(place.firings.len(), 40);
    }
    assert_eq!(map.steady, ["middle"]);
    let (change, about) = map.places[0].change_c.unwrap();
    near(change, 0.0, 2.0 * about, format_args!("nothing has changed: {change} +- {about}"));
}

fn price(kind: Kind, of: &str, value: f64, from: i64, unit: &str) -> Price {
    Price { from: Moment(from), kind, of: of.into(), value, unit: unit.into() }
}

#[test]
fn law_costs_follow_dated_prices_and_name_what_is_unknown() {
    let lit = Making::default().lit;
    let mut firing = packed(judged(Making::default().firing(), Verdict::Over, &[]), 40, 300.0);
    for (minutes, text) in [
        (1, "meter 4812.0 m3"),
        (50, "used 3.5 g gold"),
        (60, "used 40 decal"),
        (170, "meter 4819.5 m3"),
        (171, "used up the old cones"),
    ] {
        firing.notes.push((lit + Span::minutes(minutes), text.to_owned()));
    }
    let dear = lit.0 + 1;
    let mut prices = vec![
        price(Kind::Fuel, "gas m3", 1.2, 0, ""),
        price(Kind::Fuel, "gas m3", 9.0, dear, ""),
        price(Kind::Thing, "g gold", 80.0, 0, ""),
        price(Kind::Cone, "", 0.4, 0, ""),
        price(Kind::Hour, "", 30.0, 0, ""),
        price(Kind::Hands, "", 60.0, 0, ""),
    ];
    let ledger = ledger(&[firing.clone()]);
    let facts = &ledger.facts[0];
    let one: Cost = cost(&ledger, facts, &Prices::new(prices.clone()));
    assert!(abs_diff_eq!(one.fuel.unwrap(), 7.5 * 1.2, epsilon = 1e-9), "{one:?}");
    assert_eq!(one.fuel_from, Some(FuelFrom::Meter));
    assert_abs_diff_eq!(one.cones.unwrap(), 3.0 * 0.4, epsilon = 1e-9);
    assert_eq!(one.things, None, "the price of a decal is not known");
    let work = 30.0 * (60.0 + 4.0 * facts.looks as f64) / 60.0;
    assert_abs_diff_eq!(one.work.unwrap(), work, epsilon = 1e-9);
    assert_eq!(one.unknown, ["materials"]);
    assert_eq!(
        one.lost,
        Some(Lost { over: 300.0, ..Lost::default() }),
        "over-fired gold is lost: the load's worth"
    );
    prices.push(price(Kind::Thing, "decal", 0.5, 0, ""));
    let one = cost(&ledger, facts, &Prices::new(prices.clone()));
    assert_abs_diff_eq!(one.things.unwrap(), (3.5 * 80.0 + 20.0), epsilon = 1e-9);
    assert_abs_diff_eq!(one.total, (9.0 + 1.2 + 300.0 + work), epsilon = 1e-9);
    let sum = &costs(&ledger, &[facts], &Prices::new(prices), By::Month)[0];
    assert_eq!((sum.group.as_str(), sum.loads, sum.pieces), ("2025-06", 1, Some(40)));
    assert_abs_diff_eq!(sum.per_piece.unwrap(), one.total / 40.0, epsilon = 1e-9);
    assert_eq!((sum.lost.under, sum.lost.over, sum.incomplete), (0.0, 300.0, 0));
}

#[test]
fn law_an_electric_kiln_costs_rating_times_hours_times_duty() {
    let mut firing = Making { kiln: "East", ..Making::default() }.firing();
    firing.off = firing.lit.map(|lit| lit + Span::hours(5));
    let mut prices = vec![
        price(Kind::Draw, "east", 10.0, 0, "kW"),
        price(Kind::Fuel, "electric kWh", 0.3, 0, ""),
    ];
    let fuel = |prices: &[Price], firing: &Firing| {
        let ledger = ledger(std::slice::from_ref(firing));
        cost(&ledger, &ledger.facts[0], &Prices::new(prices.to_vec())).fuel
    };
    assert_eq!(fuel(&prices, &firing), None, "its rating alone says nothing");
    prices.push(price(Kind::Duty, "East", 0.6, 0, ""));
    assert_abs_diff_eq!(fuel(&prices, &firing).unwrap(), 10.0 * 5.0 * 0.6 * 0.3, epsilon = 1e-9);
    let lit = firing.lit.unwrap();
    firing.turned = vec![(lit, "40 %".into()), (lit + Span::hours(2), "full".into())];
    let share = (2.0 * 0.4 + 3.0) / 5.0;
    assert_abs_diff_eq!(fuel(&prices, &firing).unwrap(), 10.0 * 5.0 * share * 0.3, epsilon = 1e-9);
}

#[test]
fn law_the_nearest_firing_is_the_one_that_went_alike() {
    let past: Vec<Firing> = (0..8)
        .map(|n| {
            let making = Making { id: n + 1, climb: 100.0 + 20.0 * n as f64, ..Making::default() };
            making.firing()
        })
        .collect();
    let mut now = Making { id: 99, climb: 183.0, seed: 7, ..Making::default() }.firing();
    now.off = None;
    now.readings.truncate(30);
    let near = nearest(&now, &past, 3);
    let ids: Vec<i64> = near.iter().map(|near| near.id.0).collect();
    assert_eq!(ids, [5, 6, 4]);
    assert!(near[0].apart_c < near[1].apart_c && near[0].same_kiln && near[0].same_load);
    assert!(nearest(&now, [&now], 3).is_empty(), "a firing is not near itself");
}

#[test]
fn law_a_repeated_firing_stays_within_the_distance_asked_for() {
    for (tolerance, noise) in [(5.0, 0.5), (10.0, 1.0), (25.0, 4.0)] {
        let firing = Making { noise, every_min: 1, ..Making::default() }.firing();
        let repeat = repeat(&firing, "gold again", Ware::LustreAndGold, tolerance).unwrap();
        assert!(repeat.furthest_c <= tolerance + 1e-9, "{repeat:?}");
        assert!(repeat.schedule.segments.len() <= 6, "{:?}", repeat.schedule.segments);
        repeat.schedule.well_formed().unwrap();
    }
    let firing = Making::default().firing();
    let few = Firing { readings: firing.readings[..3].to_vec(), ..firing.clone() };
    let error = repeat(&few, "x", Ware::Decals, 10.0).unwrap_err();
    assert!(matches!(error, RepeatError::TooFewReadings { count: 3, .. }), "{error}");
    let error = repeat(&firing, "x", Ware::Decals, 0.5).unwrap_err();
    assert_eq!(error.to_string(), "0.5 C is not a distance a schedule can keep: use 2 to 60 C");
}

/// Against the slow way: every point of every simplified curve is looked at.
#[test]
fn law_simplified_curves_keep_every_point_near() {
    let mut chance = Chance::seeded(9);
    for tolerance in [1.0, 5.0, 20.0] {
        let mut t = 20.0;
        let curve: Vec<(Span, Celsius)> = (0..600)
            .map(|n| {
                t += 6.0 * chance.normal() + if n % 200 < 120 { 2.0 } else { -1.0 };
                (Span::minutes(n), Celsius(t))
            })
            .collect();
        let corners = simplified(&curve, tolerance);
        assert_eq!((corners[0], corners.last().copied()), (curve[0], curve.last().copied()));
        for (at, t) in &curve {
            let pair = corners.windows(2).find(|p| p[0].0 <= *at && *at <= p[1].0).unwrap();
            let part = (at.0 - pair[0].0.0) as f64 / (pair[1].0.0 - pair[0].0.0) as f64;
            let on_line = pair[0].1.0 + part * (pair[1].1.0 - pair[0].1.0);
            assert_abs_diff_eq!(on_line, t.0, epsilon = tolerance + 1e-9);
        }
    }
    assert!(simplified(&[], 1.0).is_empty());
}
