//! Windows, looks and draws as a calendar file (RFC 5545).
//!
//! Every event keeps its UID however often the plan moves it, and its SEQUENCE grows with every
//! export, so that reading the file again moves events instead of doubling them. All times are in
//! universal time: the reader's calendar shows them right on both sides of daylight saving.

use chrono::{DateTime, Duration, Utc};
use icalendar::{Alarm, Calendar, Component, Event, EventLike, EventStatus};

use crate::alarm::rules::SHUT_ABOVE;
use crate::alarm::upcoming::{Coming, Upcoming, upcoming};
use crate::alarm::{Plan, Watched};
use crate::firing::{Firing, FiringId};
use crate::units::{Moment, Scale, Span};

/// SEQUENCE counts from here in seconds, 2024-01-01T00:00:00Z, and lasts for a lifetime.
const SEQUENCE_ZERO: Moment = Moment(1_704_067_200_000);

/// The calendar of everything ahead, as the text of a file.
///
/// `left_out` says which events of a firing could not be read, if any.
pub fn calendar<'a>(
    firings: impl Iterator<Item = Watched<'a>>,
    left_out: impl Fn(FiringId) -> Option<String>,
    scale: Scale,
    now: Moment,
) -> String {
    let mut calendar = Calendar::empty();
    for property in
        [("VERSION", "2.0"), ("PRODID", "-//Spyhole//Kilns//EN"), ("CALSCALE", "GREGORIAN")]
    {
        calendar.append_property(property);
    }
    calendar.name("Kilns");
    for Watched { firing, advice, plan } in firings {
        let left_out = left_out(firing.id).map(|lacks| format!(" {lacks}")).unwrap_or_default();
        for ahead in upcoming(firing, advice, plan) {
            let description = description(ahead.coming, plan, scale) + &left_out;
            calendar.push(event(firing, &description, &ahead, now));
        }
    }
    calendar.done().to_string()
}

fn event(firing: &Firing, description: &str, ahead: &Upcoming, now: Moment) -> Event {
    let uid = uid(firing, ahead.coming);
    let summary = summary(firing, ahead.coming);
    let mut event = Event::with_uid(&uid);
    event
        .timestamp(utc(now))
        .summary(&summary)
        .description(description)
        .starts(utc(ahead.from))
        .ends(utc(ahead.to))
        .sequence(sequence(now))
        .status(if ahead.cancelled { EventStatus::Cancelled } else { EventStatus::Confirmed });
    if !ahead.cancelled {
        let before = Duration::milliseconds(-ahead.remind.0);
        let mut alarm = Alarm::display(&summary, before);
        // The crate would give the alarm a stamp and a name by chance: the file would differ
        // with every export.
        alarm.timestamp(utc(now)).uid(&format!("reminder-{uid}"));
        event.alarm(alarm);
    }
    event.done()
}

/// Made of what never changes of a firing, so that it stays, and differs between shops.
fn uid(firing: &Firing, coming: Coming) -> String {
    let lit = firing.lit.unwrap_or_default().0;
    format!("{}-{}-{lit}@spyhole", coming.slug(), firing.id)
}

fn sequence(now: Moment) -> u32 {
    u32::try_from((now - SEQUENCE_ZERO).0.max(0) / 1000).unwrap_or(u32::MAX)
}

fn summary(firing: &Firing, coming: Coming) -> String {
    let (kiln, load) = (&firing.kiln, &firing.load_type);
    match coming {
        Coming::Window => format!("{kiln}: watch window ({load})"),
        Coming::Look(number) => format!("{kiln}: look {number} ({load})"),
        Coming::Draw => format!("{kiln}: cool enough to draw? ({load})"),
    }
}

fn description(coming: Coming, plan: &Plan, scale: Scale) -> String {
    match coming {
        Coming::Window => {
            "The target cone may drop from here on. Be within earshot, with shaded glasses.".into()
        }
        Coming::Look(_) => {
            "Look through the spyhole, with shaded glasses, and record what is seen. The plan moves with every look and reading.".into()
        }
        Coming::Draw => format!(
            "The kiln usually cools for {}. Read the temperature first, and leave it shut above {}.",
            plan.cools_for,
            SHUT_ABOVE.display(scale)
        ),
    }
}

fn utc(at: Moment) -> DateTime<Utc> {
    // RFC 5545 has whole seconds.
    DateTime::from_timestamp(at.0.div_euclid(Span::seconds(1).0), 0).unwrap_or_default()
}
