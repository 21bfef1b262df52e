//! What is said of a mould at the casting bench.

use super::Dial;
use crate::casting::{Advice, Casting, Remark};
use crate::units::{Moment, Span};

/// What is told of: one mould, and everything that was noted.
#[derive(Debug, Clone, Copy)]
pub struct BenchTold<'a> {
    pub casting: &'a Casting,
    pub mould: usize,
    pub advice: &'a Advice,
}

/// Longer than this after it is too late, a mould is likely empty and nobody noted it.
const FORGOTTEN: Span = Span::hours(24);

/// What to do first, then when it lets go, then what was strange.
pub fn bench_lines(told: &BenchTold<'_>, dial: &Dial<'_>) -> Vec<String> {
    let BenchTold { casting, mould, advice } = *told;
    let (code, now) = (&casting.moulds[mould].code, casting.now);
    let window = &advice.window;
    let time = |at: Moment| dial.time_and_day(at, now);
    if advice.trouble {
        return vec![format!(
            "Something is wrong with the cast in {code}: it should have let go long ago. Is it still closed? A wrong or overdone slip, a wet, new or stained mould, and an opening that nobody noted are what it may be."
        )];
    }
    let mut lines = vec![first(told, dial)];
    let lets_go = format!(
        "It will likely let go between {} and {}, about {}",
        time(window.opens_p05),
        time(window.opens_p95),
        time(window.opens_p50)
    );
    let edge = if advice.late_of_the_trade {
        "by the trade: this shop has too few cracked casts to tell"
    } else {
        "by this shop's own cracked casts"
    };
    lines.push(format!("{lets_go}; after {} it may be too late ({edge}).", time(window.late_p05)));
    if !advice.hypothetical && now > window.late_p50 + FORGOTTEN {
        lines.push(format!("Is {code} still closed? If not, note how it came out."));
    }
    if !advice.cast.drain_noted {
        lines.push("Nobody noted when it was drained: the usual minutes are taken.".into());
    }
    let mut remarks =
        casting.remarks.iter().filter_map(|remark| remark_line(remark, code, dial, now));
    lines.extend(remarks.next_back());
    lines
}

fn first(BenchTold { casting, mould, advice }: &BenchTold<'_>, dial: &Dial<'_>) -> String {
    let (code, now) = (&casting.moulds[*mould].code, casting.now);
    let Some(plan) = advice.plan else {
        return format!("{code}: nobody is there in the next weeks by the hours that are noted.");
    };
    let from = if plan.next - now < Span::minutes(1) {
        "now".to_owned()
    } else {
        format!("from {}", dial.time_and_day(plan.next, now))
    };
    let check = dial.at(plan.next, now);
    let late = dial.time_and_day(advice.window.late_p05, now);
    let before =
        if plan.next < advice.window.late_p05 { format!("; before {late}") } else { String::new() };
    match (advice.hypothetical, advice.pour) {
        (true, Some(pour)) => {
            format!(
                "{code} poured now has no good hour: pour it {}, or cover it.",
                dial.at(pour, now)
            )
        }
        (true, None) => format!("Pour {code} now, and open it {from}{before}."),
        (false, _) if advice.good => format!("Open {code} {from}{before}."),
        (false, _) => format!(
            "{code} has no good hour: look {check} ({:.0} in 100 ready), or cover it.",
            100.0 * plan.ready
        ),
    }
}

fn remark_line(remark: &Remark, code: &str, dial: &Dial<'_>, now: Moment) -> Option<String> {
    let time = |at: Moment| dial.time_and_day(at, now);
    match remark {
        Remark::NeverOpened { mould, poured } if mould == code => {
            Some(format!("Nobody noted how the cast of {} was opened.", time(*poured)))
        }
        Remark::NeverPoured { mould, at } if mould == code => {
            Some(format!("Nobody noted the pouring before {}.", time(*at)))
        }
        _ => None,
    }
}
