//! The parts of which a forecast is made, each beside a closed form, small steps or another library.

mod setting {
    use spyhole::testing::firing::setting::{Way, way};

    #[test]
    fn law_settings_say_which_way_they_were_turned() {
        for (before, to, expected) in [
            (Some("half"), "full", Some(Way::Up)),
            (Some("80 %"), "60%", Some(Way::Down)),
            (Some("half open"), "60 %", Some(Way::Up)),
            (Some("medium"), "high", Some(Way::Up)),
            (Some("2"), "3", Some(Way::Up)),
            (Some("0.25 bar"), "0.2 bar", Some(Way::Down)),
            (Some("2 burners"), "0.3 bar", None),
            (Some("half"), "half", None),
            (None, "up a little", Some(Way::Up)),
            (Some("full"), "turned down", Some(Way::Down)),
            (None, "full", Some(Way::Up)),
            (None, "off", Some(Way::Down)),
            (None, "60 %", None),
            (None, "the blue mark", None),
        ] {
            assert_eq!(way(before, to), expected, "{before:?} to {to:?}");
        }
    }
}

mod ahead {
    use approx::assert_relative_eq;
    use spyhole::testing::forecast::ahead::{Ahead, Day, KNOTS_H};
    use spyhole::testing::forecast::evidence::TARGET;
    use spyhole::testing::forecast::planned::Stretch;

    /// From 600 C to 1070 C with a soak in between, and heat work that grows as it gets hotter, in
    /// so many stretches a rung.
    fn ahead(fine: usize) -> Ahead {
        let mut from_c = 600.0;
        let stretches = (0..80 * fine)
            .map(|at| {
                let soaks = (30 * fine..31 * fine).contains(&at);
                let (rise_c, hours) = if soaks { (0.0, 0.2) } else { (6.0, 0.05) };
                let (rise_c, hours) = (rise_c / fine as f64, hours / fine as f64);
                let stretch = Stretch { from_c, to_c: from_c + rise_c, hours };
                let growth = GROWTH_PER_C * rise_c;
                let mean = if soaks { 1.0 } else { growth.exp_m1() / growth };
                let work = hours * work_per_h(from_c) * mean;
                from_c += rise_c;
                (stretch, [2.0 * work, work, 0.5 * work], growth)
            })
            .collect();
        Ahead { stretches, from_c: 600.0, climb_c_per_h: 120.0, known: true }
    }

    const GROWTH_PER_C: f64 = 0.02;

    fn work_per_h(c: f64) -> f64 {
        0.01 * (GROWTH_PER_C * (c - 600.0)).exp()
    }

    fn day() -> Day {
        let paces = [0.3, -0.2, 0.1, 0.25, -0.1, 0.2];
        Day { paces, slowing: 0.001, needed: 0.5 }
    }

    /// Everything by Euler's method, minute parts of a second at a time, from the usual climb of the
    /// place that has been reached.
    #[test]
    fn crosscheck_a_day_beside_small_steps_of_time() {
        const STEP_H: f64 = 1e-5;
        let (day, moments_h) = (day(), [0.0, 0.13, 1.2, 2.4]);
        let walked = ahead(200).walked(&day, &moments_h);
        let (mut soaked_h, mut rise_c, mut work, mut at_h) = (0.0, 0.0f64, 0.0f64, 0.0f64);
        let mut reached = Vec::new();
        let mut drop = None;
        while drop.is_none() || reached.len() < moments_h.len() {
            if moments_h.get(reached.len()).is_some_and(|moment_h| *moment_h <= at_h) {
                reached.push((work, rise_c));
            }
            let pace = (day.pace(at_h) + day.slowing * rise_c).exp();
            work += STEP_H * work_per_h(600.0 + rise_c);
            if rise_c >= 180.0 && soaked_h < 0.2 {
                soaked_h += STEP_H * pace;
            } else {
                rise_c += STEP_H * pace * 120.0;
            }
            at_h += STEP_H;
            if drop.is_none() && work >= day.needed {
                drop = Some((at_h, pace * 120.0));
            }
        }
        let ((drop_h, climb), (euler_h, euler_climb)) = (walked.drop.unwrap(), drop.unwrap());
        assert_relative_eq!(drop_h, euler_h, max_relative = 1e-3);
        assert_relative_eq!(climb, euler_climb, max_relative = 1e-3);
        for (ours, (work, rise_c)) in walked.reached.iter().zip(reached) {
            assert!(ours.is_there);
            assert_relative_eq!(ours.work[TARGET], work, max_relative = 2e-3, epsilon = 1e-6);
            assert_relative_eq!(ours.work[0], 2.0 * ours.work[TARGET], max_relative = 1e-9);
            assert_relative_eq!(ours.rise_c, rise_c, max_relative = 1e-3, epsilon = 1e-2);
        }
    }

    /// By straight lines through a stretch, a drop in its middle would come 0.0008 h early.
    #[test]
    fn law_a_drop_within_a_stretch_is_where_finer_stretches_have_it() {
        for needed in [0.3, 0.31, 0.32, 0.33, 0.34] {
            let even = Day { paces: [0.0; KNOTS_H.len() + 1], slowing: 0.0, needed };
            let [coarse, fine] = [1, 100].map(|fine| ahead(fine).walked(&even, &[2.02]));
            let apart_h = coarse.drop.unwrap().0 - fine.drop.unwrap().0;
            assert!(apart_h.abs() < 1e-6, "{needed}: {apart_h} h");
            assert_relative_eq!(
                coarse.reached[0].work[TARGET],
                fine.reached[0].work[TARGET],
                max_relative = 1e-6
            );
        }
    }

    #[test]
    fn law_a_day_at_an_even_pace_takes_that_much_longer() {
        let usual = Day { paces: [0.0; KNOTS_H.len() + 1], slowing: 0.0, needed: 0.5 };
        let slower = Day { paces: [-0.4; KNOTS_H.len() + 1], needed: 0.5 * 0.4f64.exp(), ..usual };
        let [usual, slower] = [usual, slower].map(|day| ahead(1).walked(&day, &[]).drop.unwrap());
        assert_relative_eq!(slower.0, usual.0 * 0.4f64.exp(), max_relative = 1e-12);
        assert_relative_eq!(slower.1, usual.1 * (-0.4f64).exp(), max_relative = 1e-12);
    }

    #[test]
    fn law_a_target_that_the_way_never_brings_down_has_no_drop() {
        let walked = ahead(1).walked(&Day { needed: 1e9, ..day() }, &[1e6]);
        assert_eq!(walked.drop, None);
        assert!(!walked.reached[0].is_there);
        assert_relative_eq!(walked.reached[0].rise_c, 79.0 * 6.0, max_relative = 1e-12);
    }
}

mod by_readings {
    use spyhole::testing::firing::event::Look;
    use spyhole::testing::forecast::by_readings::WANDER;
    use spyhole::testing::forecast::known::{Either, Known};
    use spyhole::testing::forecast::sampler::{Model, Point};

    use crate::prelude::*;

    /// A kiln that climbs so fast that it runs off the end of the way before the look.
    #[test]
    fn law_a_day_on_which_the_target_was_down_before_a_look_at_it_standing_is_unlikely() {
        let after = |minutes| Moment(0) + Span::minutes(minutes);
        let target = Cone::parse("018").unwrap();
        let look = Look { target: Some(Seen::Standing), ..Look::default() };
        let firing = Firing {
            lit: Some(after(0)),
            state: State::Lit,
            pack: Some(ConePack {
                family: Family::SelfSupporting,
                target,
                guide: None,
                guard: None,
            }),
            readings: (1..=24)
                .map(|at| (after(10 * at), Celsius(20.0 + 25.0 * at as f64)))
                .collect(),
            looks: vec![Looked { event: EventId(0), at: after(300), look }],
            ..Firing::default()
        };
        let question = question(&firing, &[], after(310));
        let known = Known::of(&question).unwrap();
        let Ok((Either::Readings(model), _)) = known.model(&question) else {
            panic!("readings that tell a climb are walked on from");
        };
        let mut point = Point::default();
        point[WANDER] = 60.0;
        let (imagined, log_likelihood) = model.imagine(&point);
        assert!(imagined.drop_h < 4.5, "{} h", imagined.drop_h);
        assert!(log_likelihood < -5.0, "{log_likelihood}");
    }
}

mod evidence {
    use spyhole::testing::firing::Seen;
    use spyhole::testing::forecast::evidence::{chance_of_word, log_chance_of_word};

    #[test]
    fn law_the_table_of_words_says_what_their_formula_says() {
        for word in Seen::ALL {
            for step in 0..=30_000 {
                let heat_work = f64::from(step) / 25_000.0 - 0.1;
                let exactly = chance_of_word(word, heat_work).ln();
                let read = log_chance_of_word(word, heat_work);
                assert!((read - exactly).abs() < 1e-3, "{word:?} at {heat_work}: {read} {exactly}");
            }
        }
    }
}

mod misfit {
    use spyhole::testing::forecast::misfit::{Misfit, ROOM_C, misfit};

    use crate::prelude::*;

    /// So many C/h are planned, and these minutes and temperatures were written down; the last is asked about.
    fn asked(planned_c_per_h: f64, read: &[(i64, f64)]) -> Option<Misfit> {
        let after = |minutes| Moment(0) + Span::minutes(minutes);
        let readings: Vec<_> = read.iter().map(|&(min, c)| (after(min), Celsius(c))).collect();
        let end = Celsius(ROOM_C + 10.0 * planned_c_per_h);
        let firing = Firing {
            lit: Some(after(0)),
            state: State::Lit,
            plan: vec![(Span::ZERO, Celsius(ROOM_C)), (Span::hours(10), end)],
            readings: readings.clone(),
            ..Firing::default()
        };
        misfit(&firing, *readings.last()?, &[])
    }

    /// 60 C is 140 F, and 120 C is 248 F.
    #[test]
    fn law_a_number_on_the_other_scale_is_asked_about_from_the_first_one_that_tells_them_apart() {
        let other = |read: &[(i64, f64)]| Some(asked(120.0, read)?.other_scale?.0.round());
        assert_eq!(other(&[(20, 140.0)]), Some(60.0));
        assert_eq!(other(&[(5, 86.0), (50, 248.0)]), Some(120.0));
        assert_eq!(other(&[(20, 60.0)]), None);
        assert_eq!(other(&[(5, 30.0), (50, 120.0)]), None);
    }

    #[test]
    fn law_a_kiln_still_warm_is_not_asked_about() {
        assert_eq!(asked(120.0, &[(20, 110.0)]), None);
    }
}

mod pooling {
    use spyhole::testing::forecast::pooling::heavier_tail;
    use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

    /// Beside the quantiles of Student's t at the same chance, out to three standard deviations.
    #[test]
    fn crosscheck_the_heavier_tail_beside_students_t() {
        for freedom in [5.0, 8.0, 15.0, 50.0] {
            let student = StudentsT::new(0.0, 1.0, freedom).unwrap();
            for z in [-3.0, -2.0, -1.0, -0.3, 0.0, 0.5, 1.5, 2.5, 3.0] {
                let exact = student.inverse_cdf(Normal::standard().cdf(z));
                let ours = heavier_tail(z, freedom);
                let off = (ours - exact).abs();
                assert!(off <= 0.06 * exact.abs() + 1e-9, "{freedom}: {ours} beside {exact}");
            }
        }
    }
}

mod rise {
    use spyhole::testing::forecast::evidence::{Cones, Reading};
    use spyhole::testing::forecast::past_end::TYPICAL_CLIMB;
    use spyhole::testing::forecast::pooling::Predicted;
    use spyhole::testing::forecast::rise::{COLD_C, Rise};

    use crate::prelude::*;

    fn cones() -> Cones {
        let pack = ConePack {
            family: Family::SelfSupporting,
            target: Cone::parse("018").unwrap(),
            guide: None,
            guard: None,
        };
        Cones::of(&pack).unwrap()
    }

    /// Half of the rise after half of the time, and a quarter after half of it.
    #[test]
    fn law_an_even_climb_has_the_power_one() {
        let cones = cones();
        let end_c = cones.target.temperature_ending(CelsiusPerHour(TYPICAL_CLIMB)).0;
        for (share, power) in [(0.5, 1.0), (0.25, 2.0)] {
            let c = COLD_C + share * (end_c - COLD_C);
            let reading = Reading { at_h: 2.0, c, noise_c: 1.0 };
            let (found, _) = Rise::learned(&[reading], &cones, 4.0).unwrap();
            assert!((found - power).abs() < 1e-12, "{found} for {power}");
        }
    }

    #[test]
    fn law_what_is_hot_early_is_likeliest_on_a_short_day() {
        let cones = cones();
        let end_c = cones.target.temperature_ending(CelsiusPerHour(TYPICAL_CLIMB)).0;
        let reading = Reading { at_h: 2.0, c: COLD_C + 0.5 * (end_c - COLD_C), noise_c: 5.0 };
        let rise = Rise::of(&reading, &cones).unwrap();
        let power = Predicted { mean: 1.0, spread: 0.08, freedom: 10.0, each: 1.0 };
        let at = |length_h: f64| rise.log_density(&power, length_h);
        assert!(at(4.0) > at(3.0) && at(4.0) > at(5.0), "{} {} {}", at(3.0), at(4.0), at(5.0));
    }
}

mod sampler {
    use approx::assert_relative_eq;
    use spyhole::testing::forecast::Imagined;
    use spyhole::testing::forecast::sampler::{DRAWS_LEADING, Model, Point, cholesky, sample};

    /// One unknown is seen as `seen`, with an error of this standard deviation.
    struct Measured {
        seen: f64,
        error: f64,
    }

    impl Model for Measured {
        fn unknowns(&self) -> usize {
            2
        }

        fn imagine(&self, point: &Point) -> (Imagined, f64) {
            let [drop_h, other, ..] = *point;
            let imagined =
                Imagined { drop_h, heat_work: [other; 3], chamber_c: None, climb_c_per_h: 0.0 };
            (imagined, -0.5 * ((drop_h - self.seen) / self.error).powi(2))
        }
    }

    /// A standard normal prior and a normal error: mean s/(1+e²), variance e²/(1+e²), and an
    /// unknown that was not measured stays as it was. Four standard errors of 2560 draws of which
    /// at least three in ten count.
    #[test]
    fn crosscheck_a_sample_beside_the_normal_posterior_in_closed_form() {
        for (seen, error) in [(0.5, 1.0), (2.0, 0.2), (-3.0, 0.05)] {
            let sample = sample(&Measured { seen, error }, DRAWS_LEADING, 7).firings;
            let mean = |value: &dyn Fn(&Imagined) -> f64| -> f64 {
                sample.iter().map(|s| s.weight * value(&s.firing)).sum()
            };
            let variance = error * error / (1.0 + error * error);
            let exact = seen / (1.0 + error * error);
            let four = 4.0 / (0.3 * DRAWS_LEADING as f64).sqrt();
            let found = mean(&|firing| firing.drop_h);
            assert!((found - exact).abs() < four * variance.sqrt(), "{seen}: {found} {exact}");
            let square = mean(&|firing| (firing.drop_h - exact).powi(2)) / variance;
            assert!((square - 1.0).abs() < four * 2f64.sqrt(), "{seen}: {square} of the variance");
            let other = mean(&|firing| firing.heat_work[0]);
            assert!(other.abs() < four, "{seen}: {other} of what was not measured");
        }
    }

    /// The evidence itself: e/sqrt(1+e²) exp(-s²/2(1+e²)), to four standard errors of 640 draws.
    #[test]
    fn crosscheck_the_mean_likelihood_beside_its_closed_form() {
        let (seen, error): (f64, f64) = (0.5, 1.0);
        let whole = 1.0 + error * error;
        let exact = error / whole.sqrt() * (-0.5 * seen * seen / whole).exp();
        let found = sample(&Measured { seen, error }, DRAWS_LEADING, 7).log_evidence.exp();
        assert!((found - exact).abs() < 4.0 * 0.35 / 640f64.sqrt(), "{found} beside {exact}");
    }

    /// A factor times its transpose is the covariance again.
    #[test]
    fn law_a_cholesky_factor_is_a_root() {
        let covariance = [[4.0, 0.0, 0.0], [2.0, 3.0, 0.0], [-1.0, 0.5, 2.0]];
        let factor = cholesky(&covariance, 1e-9);
        for row in 0..3 {
            for column in 0..=row {
                let product: f64 = (0..3).map(|k| factor[row][k] * factor[column][k]).sum();
                assert_relative_eq!(product, covariance[row][column], epsilon = 1e-12);
            }
        }
    }
}
