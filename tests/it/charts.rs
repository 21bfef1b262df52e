//! The cone chart and the rate law built on it.

use spyhole::testing::cone::{Basis, chart};

use crate::prelude::*;

/// Orton Ceramic Foundation, wall chart, 2016 edition: every entry, to the printed degree.
#[test]
fn published_every_chart_entry_comes_out() {
    assert_eq!(chart::all().len(), 279);
    for row in chart::all() {
        let end = curve(row.cone, row.family).unwrap().end_point(row.rate).unwrap();
        assert!(abs_diff_eq!(end.end.0, row.end.0, epsilon = 1e-9), "{row:?} came out as {end:?}");
        assert_eq!(end.basis, Basis::Published);
        assert_eq!(end.certainty, row.certainty);
    }
}

#[test]
fn law_a_value_between_two_entries_is_only_as_sure_as_the_weaker() {
    let mut mixed = 0;
    for pair in chart::all().windows(2) {
        let (slow, fast) = (&pair[0], &pair[1]);
        if (slow.cone, slow.family) != (fast.cone, fast.family) {
            continue;
        }
        let between = CelsiusPerHour((slow.rate.0 + fast.rate.0) / 2.0);
        let end = curve(slow.cone, slow.family).unwrap().end_point(between).unwrap();
        assert_eq!(end.basis, Basis::Interpolated, "{slow:?}, {fast:?}");
        assert!(end.certainty >= slow.certainty.max(fast.certainty), "{slow:?}, {fast:?}: {end:?}");
        mixed += usize::from(slow.certainty != fast.certainty);
    }
    assert!(mixed > 5, "there are such pairs: {mixed}");
}

#[test]
fn law_the_rate_of_heat_work_rises_with_temperature() {
    for family in Family::ALL {
        for cone in family.cones() {
            let curve = curve(cone, family).unwrap();
            let mut last = 0.0;
            for tenth in 2000..15000 {
                let k = curve.heat_work_per_hour(Celsius(f64::from(tenth) / 10.0));
                assert!(k >= last, "{family} cone {cone} at {} C", f64::from(tenth) / 10.0);
                last = k;
            }
        }
    }
}

#[test]
fn law_end_point_and_rate_are_inverse() {
    for family in Family::ALL {
        for cone in family.cones() {
            let curve = curve(cone, family).unwrap();
            for rate in [5.0, 14.9, 15.0, 37.0, 60.0, 61.0, 149.0, 150.0, 222.0, 300.0, 600.0] {
                let end = curve.end_point(CelsiusPerHour(rate)).unwrap().end;
                let back = curve.rate_ending_at(end).0;
                near(back / rate, 1.0, 1e-11, format_args!("{family} {cone}: {rate} -> {back}"));
            }
        }
    }
}

#[test]
fn law_positions_count_whole_cones() {
    for cone in Cone::all().filter(|cone| !cone.is_half()) {
        if let Some(hotter) = cone.hotter() {
            assert_eq!(hotter.position() - cone.position(), 1.0, "{cone} to {hotter}");
        }
    }
    let position = |name| Cone::parse(name).unwrap().position();
    assert_eq!(position("05.5") - position("06"), 0.5);
    assert_eq!(position("6") - position("5.5"), 0.5);
    assert_eq!(position("6") - position("06"), 11.0);
}
