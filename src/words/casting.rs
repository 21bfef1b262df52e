//! What is said of a mould at the casting bench.

use super::Dial;
use super::lengths::length_phrase;
use crate::casting::casts::Cast;
use crate::casting::{Advice, Casting, Found, Mould, Remark, What};
use crate::scene::{MouldScene, MouldState, is_forgotten};
use crate::units::{Moment, Span};
use crate::watch::agenda::Errand;
use crate::watch::task::Task;

/// What to do first, then when it lets go, then what was strange.
pub fn bench_lines(
    code: &str,
    advice: &Advice,
    remark: Option<Remark>,
    (now, dial): (Moment, &Dial<'_>),
) -> Vec<String> {
    let window = &advice.window;
    let time = |at: Moment| dial.time_and_day(at, now);
    if advice.trouble {
        return vec![format!(
            "Something is wrong with the cast in {code}: it should have let go long ago. Is it still closed? A wrong or overdone slip, a wet, new or stained mould, and an opening that nobody noted are what it may be."
        )];
    }
    let mut lines = vec![bench_first(code, advice, now, dial)];
    let lets_go =
        if window.opens_p95 <= now { "It likely let go" } else { "It will likely let go" };
    let lets_go = format!(
        "{lets_go} between {} and {}, about {}",
        time(window.opens_p05),
        time(window.opens_p95),
        time(window.opens_p50)
    );
    let edge = if advice.late_of_the_trade {
        "by the trade: this shop has too few cracked casts to tell"
    } else {
        "by this shop's own cracked casts"
    };
    let from = if window.late_p05 <= now { "since" } else { "after" };
    lines.push(format!("{lets_go}; {from} {} it may be too late ({edge}).", time(window.late_p05)));
    if is_forgotten(advice, now) {
        lines.push(format!("Is {code} still closed? If not, note how it came out."));
    }
    if !advice.cast.drain_noted {
        lines.push("Nobody noted when it was drained: the usual draining time is assumed.".into());
    }
    lines.extend(remark.map(|remark| remark_line(remark, dial, now)));
    lines
}

/// What to do with it.
pub fn bench_first(code: &str, advice: &Advice, now: Moment, dial: &Dial<'_>) -> String {
    let Some(plan) = advice.plan else {
        return format!("{code}: nobody is there in the next weeks by the hours that are noted.");
    };
    let from = from_until(plan.next, advice, now, dial);
    let check = dial.at(plan.next, now);
    match (advice.hypothetical, advice.pour) {
        (true, Some(pour)) => {
            format!(
                "{code} poured now would be ready when nobody is here: pour it {}, or cover it.",
                dial.at(pour, now)
            )
        }
        (true, None) => format!("Pour {code} now, and open it {from}."),
        (false, _) if advice.good => format!("Open {code} {from}."),
        (false, _) => format!(
            "{code} has no good hour: look {check} ({:.0} in 100 ready), or cover it.",
            100.0 * plan.ready
        ),
    }
}

/// `from 14:30; before tomorrow 12:00`.
fn from_until(next: Moment, advice: &Advice, now: Moment, dial: &Dial<'_>) -> String {
    let late = advice.window.late_p05;
    let from = match next - now < Span::minutes(1) {
        true => "now".to_owned(),
        false => format!("from {}", dial.time_and_day(next, now)),
    };
    let before = (next < late).then(|| format!("; before {}", dial.time_and_day(late, now)));
    from + &before.unwrap_or_default()
}

fn remark_line(remark: Remark, dial: &Dial<'_>, now: Moment) -> String {
    let at = dial.time_and_day(remark.at, now);
    match remark.poured {
        true => format!("Nobody noted how the cast of {at} was opened."),
        false => format!("Nobody noted the pouring before {at}."),
    }
}

pub const BENCH_TITLE: &str = "Casting bench, what is due first";
/// Said where the shop has no mould.
pub const NO_MOULDS: &str =
    "No mould is described yet. Begin with: spyhole mould set A3 --body porcelain --ware cup";
/// Said on the page of a shop that has no mould.
pub const HOW_TO_BEGIN: &str = "No mould is described yet: press m and type the code written on one. From then on p notes that it was poured, d that it was drained, and w, n, f or c what a check found: well, not yet, forced, cracked. After a few casts the window of each mould is known.";
/// Over what became of its casts.
pub fn casts_title(code: &str) -> String {
    format!("Casts of {code}, the newest first")
}
pub const NO_CASTS: &str = "No cast is noted yet.";
/// Said where "all" are none.
pub const NO_MOULD_MEANT: &str =
    "No mould is named: write them like A3, A1-A4,B7 or \"all but B7\".";
pub const NO_SLIP_KNOWN: &str = "no slip is known for it: say which was poured, with --body";
pub const NO_MOULDS_YET: &str = "There is no mould yet: m describes one.";
/// Said where nobody said when somebody is there.
pub const BENCH_NEEDS_HOURS: &str = "Nobody has said when somebody is here, so checks may fall on any hour: say it with \"spyhole hours set mon-fri 8:00 17:30\".";
/// Of plaster and slip: HSE ceramics sheets CR2 and CR3 (silica dust); common practice (crumbs); the makers'
/// limit for plaster.
pub const CAUTION_BENCH: &str = "Dust of dry slip harms the lungs: wipe and mop, never sweep. No plaster crumbs back into the slip. Never dry moulds above 49 C (120 F).";

/// `A3     cup                open from 14:30; before tomorrow 12:00`.
pub fn mould_line(mould: &MouldScene, now: Moment, dial: &Dial<'_>) -> String {
    let Mould { code, ware, .. } = &mould.mould;
    let body = mould.body.as_deref().unwrap_or_default();
    let ware = if ware.is_empty() { body } else { ware };
    format!("{code:<6} {:<16} {}", super::shortened(ware, 16), mould_state(mould, now, dial))
}

/// What is in it and what is to be done.
pub fn mould_state(mould: &MouldScene, now: Moment, dial: &Dial<'_>) -> String {
    let time = |at: Moment| dial.time_and_day(at, now);
    let rested = mould.last.map(|(at, _)| now - at).filter(|rested| *rested >= Span::hours(1));
    let rested = rested.map(|rested| format!(", rested {rested}")).unwrap_or_default();
    let empty = || format!("empty{rested}");
    let Some(advice) = &mould.advice else { return empty() };
    match (mould.state, advice.plan, advice.pour) {
        (MouldState::Poured(drain), ..) => format!("poured; drain about {}", time(drain)),
        (MouldState::Empty, _, Some(pour)) => {
            format!("{}; pour it {}", empty(), dial.at(pour, now))
        }
        (MouldState::Empty, Some(plan), _) => {
            format!("{}; poured now: open {}", empty(), time(plan.next))
        }
        (MouldState::Empty, ..) => empty(),
        _ if is_forgotten(advice, now) => "still closed? note how it came out".into(),
        (_, Some(plan), _) if advice.good => {
            format!("open {}", from_until(plan.next, advice, now, dial))
        }
        (_, Some(plan), _) => {
            let ready = 100.0 * plan.ready;
            format!("no good hour: look {} ({ready:.0} in 100 ready)", dial.at(plan.next, now))
        }
        _ => "nobody is there in the next weeks".into(),
    }
}

/// Asked before a mould is poured that is full by what was noted.
pub fn still_full(code: &str) -> String {
    format!("Nobody noted how the last cast of {code} was opened, and it will teach nothing.")
}

pub fn mould_is_empty(code: &str) -> String {
    format!("{code} is empty; --if-poured BODY says what pouring it now would do.")
}

/// `poured Mon 9:10, porcelain, drained Mon 9:30: not yet ready Tue 8:00, came out well Tue 12:00; let go
/// 22 h 30 min to 26 h 30 min after draining`. What nobody saw is no time.
pub fn cast_line(cast: &Cast, bodies: &[String], now: Moment, dial: &Dial<'_>) -> String {
    let time = |at: Moment| dial.time_and_day(at, now);
    let body = cast.body.map(|body| format!(", {}", bodies[body])).unwrap_or_default();
    let poured =
        cast.poured.map_or("pouring not noted".into(), |at| format!("poured {}", time(at)));
    let drained = cast.drain_noted.then(|| format!(", drained {}", time(cast.drained)));
    let found = |at, found| format!("{} {}", found_phrase(found), time(at));
    let mut seen: Vec<String> = cast.not_yets.iter().map(|at| found(*at, Found::NotYet)).collect();
    seen.push(match cast.emptied {
        Some((at, Some(out))) => found(at, out),
        Some((_, None)) => "nobody noted how it was opened".into(),
        None => "still closed".into(),
    });
    let after = |at: Moment| length_phrase(at - cast.drained);
    let let_go = match cast.window().unwrap_or_default() {
        (Some(low), Some(high)) => format!("{} to {}", after(low), after(high)),
        (None, Some(high)) => format!("at most {}", after(high)),
        (Some(low), None) => format!("more than {}", after(low)),
        (None, None) => String::new(),
    };
    let about = if let_go.is_empty() { ["", ""] } else { ["; let go ", " after draining"] };
    let [let_go, drained] = [about.join(&let_go), drained.unwrap_or_default()];
    format!("{poured}{body}{drained}: {}{let_go}", seen.join(", "))
}

/// The casts of a mould, the newest first, then how all of them came out.
pub fn mould_casts(casting: &Casting, code: &str, now: Moment, dial: &Dial<'_>) -> Vec<String> {
    let Ok(mould) = casting.mould(code) else { return Vec::new() };
    let casts = casting.casts_of(mould).rev();
    let mut lines: Vec<String> =
        casts.map(|cast| cast_line(cast, &casting.bodies, now, dial)).collect();
    lines.push(casts_line(casting, mould));
    lines
}

/// `A3: 12 casts, 9 came out well, 2 had to be forced, 1 cracked`, or `A3: 300 casts, 120 of them in the
/// last two years, 110 came out well`.
pub fn casts_line(casting: &Casting, mould: usize) -> String {
    let (code, poured) = (&casting.moulds[mould].code, casting.poured(mould));
    let last = casting.casts_of(mould).count();
    let found = |found: Found| {
        let came = |cast: &&Cast| cast.emptied.is_some_and(|(_, out)| out == Some(found));
        Some(casting.casts_of(mould).filter(came).count())
            .filter(|count| *count > 0)
            .map(|count| format!(", {count} {}", found_phrase(found)))
    };
    let all = [Found::Well, Found::Forced, Found::Cracked, Found::OtherCrack];
    let counts: String = all.into_iter().filter_map(found).collect();
    let recent = format!(", {last} of them in the last two years");
    let of_last = if last < poured { recent.as_str() } else { "" };
    format!("{code}: {poured} cast{}{of_last}{counts}", if poured == 1 { "" } else { "s" })
}

/// The counting down to what is next at the bench, with what it counts to.
pub fn bench_counts(errand: &Errand, now: Moment) -> Option<(String, String)> {
    let minutes = (errand.at - now).0 / 60_000;
    let deed = if errand.task == Task::DrainMould { "drain" } else { "open" };
    let text = format!("{}:{:02}", minutes / 60, minutes % 60);
    (minutes < 100 * 60).then(|| (text, format!("to {deed} {}", errand.kiln)))
}

/// `A3: 2 parts, 1 piece; porcelain; cup; top shelf`.
pub fn mould_phrase(mould: &Mould) -> String {
    let count = |count: Option<u32>, one: &str| {
        count.map(|count| format!("{count} {one}{}", if count == 1 { "" } else { "s" }))
    };
    let said = |text: &String| Some(text.clone()).filter(|text| !text.is_empty());
    let facts = [
        count(mould.parts, "part"),
        count(mould.pieces, "piece"),
        said(&mould.body),
        said(&mould.ware),
        said(&mould.place),
        said(&mould.note),
        said(&mould.retired).map(|why| format!("retired: {why}")),
    ];
    let facts: Vec<String> = facts.into_iter().flatten().collect();
    let between = if facts.is_empty() { "" } else { ": " };
    format!("mould {}{between}{}", mould.code, facts.join("; "))
}

/// What was noted at the bench, in a phrase.
pub fn bench_phrase(what: &What, dial: &Dial<'_>) -> String {
    match what {
        What::Mould(mould) => mould_phrase(mould),
        What::Room { celsius, humidity } => {
            format!("room {}, {:.0} %", dial.temperature(*celsius), 100.0 * humidity)
        }
        What::Renamed { mould, name } => format!("mould {mould} is called {name} from now on"),
        What::Poured { mould, body } => format!("{mould} poured with {body}"),
        What::Drained { mould } => format!("{mould} drained"),
        What::Check { mould, found } => format!("{mould} {}", found_phrase(*found)),
    }
}

/// How a cast was found.
pub fn found_phrase(found: Found) -> &'static str {
    match found {
        Found::NotYet => "not yet ready",
        Found::Well => "came out well",
        Found::Forced => "had to be forced",
        Found::Cracked => "cracked",
        Found::OtherCrack => "cracked, for another cause",
    }
}

/// Humidity as it is typed, from 0 to 1.
///
/// # Errors
/// What to write instead.
pub fn read_humidity(text: &str) -> Result<f64, String> {
    let percent = text.trim().strip_suffix('%').map(|number| number.trim().parse::<f64>());
    match percent {
        Some(Ok(percent)) if (0.0..=100.0).contains(&percent) => Ok(percent / 100.0),
        _ => Err(format!("\"{text}\" is no humidity: write it like 58%, from 0% to 100%")),
    }
}

pub fn no_room_temperature(text: &str) -> String {
    format!(
        "{text} is outside -20 C to 60 C for the air of a room: check the number, and whether it is in C or F"
    )
}
