//! What is said of a temperature that does not fit, where it is written down.

use super::alarms::trouble;
use super::dial::Dial;
use crate::firing::EventId;
use crate::forecast::SetAside;
use crate::forecast::misfit::{Against, Misfit};
use crate::units::{Celsius, Moment};

/// What a kiln cannot have cooled below is not said: the cold of a winter's night, C (a guess).
const COLDEST: Celsius = Celsius(0.0);

/// `41 C does not fit: 20 min after 475 C a kiln is between 263 C and 737 C.`
pub fn misfit(misfit: &Misfit, (at, read): (Moment, Celsius), dial: &Dial<'_>) -> String {
    let t = |c: Celsius| dial.temperature(c);
    let against = match misfit.against {
        Against::Before { last, from, to, .. } => {
            let (since, last) = (at - last.0, t(last.1));
            match from > COLDEST {
                true => format!("{since} after {last} a kiln is between {} and {}", t(from), t(to)),
                false => format!("{since} after {last} a kiln is at {} at most", t(to)),
            }
        }
        Against::Lit { since, most } => {
            format!("{since} after lighting no kiln is hotter than {}", t(most))
        }
        Against::Target { end } => format!("its target cone goes down at about {}", t(end)),
        Against::Usual { since, about } => {
            format!("{since} after lighting this kiln usually reads about {}", t(about))
        }
        Against::Itself(why) => trouble(why).to_owned(),
    };
    let scale = misfit.other_scale.map_or(String::new(), |other| {
        let scale = if other < read { "Fahrenheit" } else { "Celsius" };
        format!(" If {scale} was meant, it is {}, which fits.", t(other))
    });
    format!("{} does not fit: {against}.{scale}", t(read))
}

/// `Not believed: 725 C at 7:30 (a reading changed faster than any kiln can).` Of several the last, and how
/// many there are; `None` where all are believed.
pub fn not_believed(aside: &[SetAside], now: Moment, dial: &Dial<'_>) -> Option<String> {
    let read = |one: &SetAside| Some((one.at, one.reading?, one.why));
    let (at, reading, why) = aside.iter().rev().find_map(read)?;
    let others = aside.iter().filter_map(read).count() - 1;
    let others = if others == 0 { String::new() } else { format!(", and {others} before it") };
    let (reading, at) = (dial.temperature(reading), dial.at(at, now));
    Some(format!("Not believed: {reading} {at} ({}){others}.", trouble(why)))
}

/// The way through in a form.
pub fn read_again(question: &str) -> String {
    format!("{question} Enter again if you read it so.")
}

/// How to take it back, or the reading before it.
pub fn strike_misfit(event: EventId, before: Option<EventId>) -> String {
    let command = format!("\"spyhole strike {event} --reason mistyped\"");
    match before {
        Some(before) => format!(
            "Strike the one that was mistyped: {command}, or {before} for the one before it."
        ),
        None => format!("If it was mistyped, take it back: {command}."),
    }
}
