//! What twenty minutes too late does to a gold firing.

use spyhole::testing::cone::Equivalent;

use crate::prelude::*;

/// A climb of 150 C/h through cone 018, left on for twenty minutes after the drop, comes out more
/// than one cone over. The trade calls such a load spoiled: common practice, no source.
#[test]
fn law_twenty_minutes_late_is_more_than_one_cone_over() {
    let family = Family::SelfSupporting;
    let target = Cone::parse("018").unwrap();
    let history = |minutes: f64| {
        let lit = Moment(0);
        let temperature = Celsius(20.0 + 150.0 * minutes / 60.0);
        [(lit, Celsius(20.0)), (lit + Span::from_minutes(minutes), temperature)]
    };
    let worth = |minutes: f64| {
        let heat_work: Vec<(Cone, f64)> = family
            .cones()
            .map(|cone| {
                let mut heat_work = HeatWork::new(curve(cone, family).unwrap());
                for (at, temperature) in history(minutes) {
                    heat_work.append(at, temperature);
                }
                (cone, heat_work.total())
            })
            .collect();
        Equivalent::from_heat_work(&heat_work).unwrap()
    };
    // The chart's 734 C at 150 C/h, from 20 C.
    let drop_minutes = (734.0 - 20.0) / 150.0 * 60.0;
    let at_drop = worth(drop_minutes).cones_over(target);
    near(at_drop, 0.0, 0.01, format_args!("at the drop the load is worth its cone: {at_drop}"));
    let late = worth(drop_minutes + 20.0).cones_over(target);
    assert!((1.2..2.2).contains(&late), "twenty minutes late: {late} cones over");
    let early = worth(drop_minutes - 20.0).cones_over(target);
    assert!((-2.2..-0.8).contains(&early), "twenty minutes early: {early} cones");
}
