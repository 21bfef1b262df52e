//! A firing taken from paper: its times as somebody wrote them down.

use spyhole::testing::edge::draft::{Known, Lack};
use spyhole::testing::edge::from_paper::FromPaper;
use spyhole::testing::words::read_past;

use crate::prelude::*;
use crate::review::made::gold;

fn at(stamp: &str) -> Moment {
    Moment(chrono::DateTime::parse_from_rfc3339(stamp).unwrap().timestamp_millis())
}

/// The paper every case below starts from.
const PAPER: FromPaper<'static> = FromPaper {
    kiln: "North",
    load_type: "gold",
    cone: "",
    lit: "2026-03-10 8:00 am",
    standing: "12:05",
    down: "12:10",
    off: "12:12 pm",
    drawn: "8:00 am",
    result: "good",
    note: "",
};

fn told(paper: FromPaper<'_>, clock: Clock) -> Result<Entry, String> {
    let dial = Dial { clock, ..DIAL };
    let types = [gold(0.5, 0.5)];
    let known = Known { load_types: &types, ..Known::default() };
    let read = |text: &str, until, meant| read_past(text, until, meant, &dial);
    paper.told(&known, at("2026-03-20T12:00:00Z"), &read).map_err(Lack::said)
}

/// When it was lit, seen standing, seen down, shut off and unloaded.
fn times(paper: FromPaper<'_>, clock: Clock) -> Vec<Moment> {
    let Entry { at: lit, then, .. } = told(paper, clock).unwrap();
    let mut times = vec![lit];
    times.extend(then.iter().map(|(at, _)| *at));
    times.truncate(5);
    times
}

fn on(stamps: [&str; 5]) -> Vec<Moment> {
    stamps.iter().map(|stamp| at(&format!("2026-03-{stamp}:00Z"))).collect()
}

#[test]
fn regress_on_a_clock_of_twelve_hours_the_cone_goes_down_before_the_kiln_is_off() {
    let morning = on(["10T08:00", "10T12:05", "10T12:10", "10T12:12", "11T08:00"]);
    assert_eq!(times(PAPER, Clock::TwelveHour), morning);
    let (lit, off, drawn) = ("2026-03-10 8:00", "12:12", "8:00");
    let all_day = FromPaper { lit, off, drawn, ..PAPER };
    assert_eq!(times(all_day, Clock::TwentyFourHour), morning);
    // A bisque of fourteen hours: the cone belongs to its end.
    let bisque = FromPaper { lit: "2026-03-10 6:00 am", off: "8:10 pm", ..PAPER };
    let bisque = FromPaper { standing: "7:50", down: "8:05", drawn: "5 pm", ..bisque };
    let evening = on(["10T06:00", "10T19:50", "10T20:05", "10T20:10", "11T17:00"]);
    assert_eq!(times(bisque, Clock::TwelveHour), evening);
    let slow = FromPaper { lit: "2026-03-10 6:00", off: "2026-03-11 8:10", ..bisque };
    let next_day = on(["10T06:00", "11T07:50", "11T08:05", "11T08:10", "11T17:00"]);
    assert_eq!(times(FromPaper { drawn: "17:00", ..slow }, Clock::TwentyFourHour), next_day);
    let late = FromPaper { down: "12:14", ..PAPER };
    let after = on(["10T08:00", "10T12:05", "10T12:12", "10T12:14", "11T08:00"]);
    let mut found = times(late, Clock::TwelveHour);
    found.sort();
    assert_eq!(found, after);
}

#[test]
fn regress_a_firing_is_not_lit_twelve_hours_late_because_nobody_said_which_half_of_the_day() {
    let unsaid = |paper| told(paper, Clock::TwelveHour).unwrap_err();
    let which = |text: &str| {
        format!(
            "\"{text}\" may be in the morning or in the evening: write \"{text} am\" or \"{text} pm\""
        )
    };
    let lit = "2026-03-10 8:00";
    assert_eq!(unsaid(FromPaper { lit, ..PAPER }), which(lit));
    assert_eq!(unsaid(FromPaper { off: "12:12", ..PAPER }), which("12:12"));
    assert_eq!(unsaid(FromPaper { drawn: "8:00", ..PAPER }), which("8:00"));
    let crossed = FromPaper { standing: "12:11", ..PAPER };
    let check =
        "the target would have been seen down before it was last seen standing: check both times";
    assert_eq!(unsaid(FromPaper { lit: "2026-03-10 12:10 pm", off: "2:00 pm", ..crossed }), check);
}
