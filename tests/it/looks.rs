//! The look plan: is it worth following, is its bound kept, is it calm.

use crate::forecast_trials::Closed;
use crate::simulator::Reads;

/// Gold firings climbing 100 to 250 C/h, ten in the past: found late by at most 2.5 minutes in 95
/// of 100 and never later than the load forgives; 7, 5 and 4 looks on average at most.
#[test]
fn law_the_plan_finds_the_drop_in_time_with_few_looks() {
    for (reads, most_looks) in [(Reads::Nothing, 7.0), (Reads::ByHand, 5.0), (Reads::Probe, 4.0)] {
        let firings = if reads == Reads::Probe { 8 } else { 20 };
        let (by_plan, by_habit) = Closed::run(reads, firings, 30_000);
        assert!(by_plan.looks() <= most_looks, "{reads:?}: {by_plan}");
        assert!(by_plan.within(2.5) >= 0.95, "{reads:?}: {by_plan}");
        assert_eq!(by_plan.spoiled(), 0, "{reads:?}: {by_plan}");
        assert!(by_plan.within(2.5) > by_habit.within(2.5), "{reads:?}: {by_habit}");
    }
}
