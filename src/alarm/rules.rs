//! The one table of alarms: why each is raised, what happens if nobody acts, what to do, how long
//! there is. An alarm that cannot fill its row is no alarm.
//!
//! Delays and limits are starting values of our own (common practice, no source), chosen after
//! the standard's advice that the condition to enter an alarm and the one to leave it differ.

use std::fmt;

use super::priority::Priority;
use crate::units::{Celsius, Span};
use crate::watch::request::{Asked, REPEATED_AFTER};

/// A kiln hotter than this stays shut (common practice, no source).
pub const SHUT_ABOVE: Celsius = Celsius(100.0);

/// Why an alarm is raised.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Cause {
    ShutOff,
    GuardMoving,
    ProbablyDown,
    Stay,
    LookOverdue,
    OffNotRecorded,
    LookDue,
    Stalled,
    TooFast,
    ProbeTrouble,
    Step,
    WindowOpens,
    ReadTemperature,
    NameGlow,
    StillHot,
    CoolEnough,
    OutcomeNotRecorded,
}

/// Something somebody did and wrote down that answers an alarm by itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Deed {
    Look,
    Off,
    Drawn,
    Outcome,
    Turned,
    Reading,
    Glow,
}

/// What happened and needs no response; it is shown and written down, and rings nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Notice {
    /// A condition went away before anybody answered.
    ReturnedUnanswered,
    FloodBegan,
    FloodOver,
    /// This process rings from now on.
    TookOver,
}

/// Why an alarm cannot be put off.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum CannotPutOff {
    #[error("{cause} has the highest priority and cannot be put off: {}", cause.rule().response)]
    Highest { cause: Cause },
    #[error(
        "{cause} has {} priority and can be put off for 1 s to {longest}, not for {length}: say a shorter time",
        cause.priority()
    )]
    Length { cause: Cause, length: Span, longest: Span },
}

/// One row of the table. A limit stands in its sentences by its name in braces, since each reader
/// has a scale; [`crate::words::alarms::in_scale`] writes it out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rule {
    pub cause: Cause,
    pub priority: Priority,
    /// When the alarm is raised.
    pub enters: &'static str,
    /// When it goes away; never the mere opposite of entering.
    pub leaves: &'static str,
    pub consequence: &'static str,
    pub response: &'static str,
    /// How long there is to act before the consequence.
    pub time_to_respond: Span,
    /// Whether it stays on the list after the condition is gone until somebody has seen it.
    pub latching: bool,
    /// The condition must hold this long before the alarm is raised.
    pub on_delay: Span,
    /// The condition must be gone this long before the alarm returns to normal.
    pub off_delay: Span,
    /// Acknowledged and still so after this long, it is raised again.
    pub raised_again_after: Option<Span>,
    pub answered_by: &'static [Deed],
    /// While one of these stands, this one says nothing new.
    pub suppressed_by: &'static [Cause],
}

/// Alarms beside which one about the time before the looks is not rung.
const BEFORE_LOOKS: &[Cause] = &[
    Cause::ShutOff,
    Cause::GuardMoving,
    Cause::ProbablyDown,
    Cause::Stay,
    Cause::LookOverdue,
    Cause::LookDue,
    Cause::OffNotRecorded,
];

/// The table, in the order of priority.
pub const RULES: [Rule; 17] = [
    Rule {
        cause: Cause::ShutOff,
        priority: Priority::Highest,
        enters: "the target cone was seen down, or the advice is to shut off, and off is not recorded",
        leaves: "off is recorded, or the firing is given up",
        consequence: "the load goes on firing: over-fired metal and glaze cannot be brought back",
        response: "shut the kiln off now, then record off",
        time_to_respond: Span::minutes(2),
        latching: false,
        on_delay: Span::ZERO,
        off_delay: Span::ZERO,
        raised_again_after: Some(Span::minutes(2)),
        answered_by: &[Deed::Off],
        suppressed_by: &[Cause::OffNotRecorded],
    },
    Rule {
        cause: Cause::GuardMoving,
        priority: Priority::Highest,
        enters: "the guard cone was seen half down or lower, or leaning while the target is down or cannot be made out",
        leaves: "off is recorded, a later look sees the guard standing, or the look is struck",
        consequence: "the load is on its way to a whole cone over",
        response: "shut the kiln off now, then record off",
        time_to_respond: Span::minutes(2),
        latching: false,
        on_delay: Span::ZERO,
        off_delay: Span::ZERO,
        raised_again_after: Some(Span::minutes(2)),
        answered_by: &[Deed::Off],
        suppressed_by: &[Cause::ShutOff, Cause::OffNotRecorded],
    },
    Rule {
        cause: Cause::ProbablyDown,
        priority: Priority::Highest,
        enters: "the chance that the target is down already is 50 in 100 or more, and nobody has looked for 3 minutes",
        leaves: "somebody looked, or the chance is below 35 in 100",
        consequence: "nobody sees the drop, and the load goes over",
        response: "look through the spyhole now, with shaded glasses; shut off if the target is down",
        time_to_respond: Span::minutes(3),
        latching: false,
        on_delay: Span::ZERO,
        off_delay: Span::ZERO,
        raised_again_after: Some(Span::minutes(3)),
        answered_by: &[Deed::Look, Deed::Off],
        suppressed_by: &[Cause::ShutOff, Cause::GuardMoving, Cause::OffNotRecorded],
    },
    Rule {
        cause: Cause::Stay,
        priority: Priority::High,
        enters: "the drop is so near that the advice is to stay, and nobody has looked for 3 minutes",
        leaves: "somebody looked, or the advice has changed",
        consequence: "a walk away now may be longer than the load forgives",
        response: "stay by the kiln and look every minute, with shaded glasses",
        time_to_respond: Span::minutes(3),
        latching: false,
        on_delay: Span::ZERO,
        off_delay: Span::ZERO,
        raised_again_after: Some(Span::minutes(5)),
        answered_by: &[Deed::Look, Deed::Off],
        suppressed_by: &[
            Cause::ShutOff,
            Cause::GuardMoving,
            Cause::ProbablyDown,
            Cause::OffNotRecorded,
        ],
    },
    Rule {
        cause: Cause::LookOverdue,
        priority: Priority::High,
        enters: "a look has been due for 5 minutes, or for half of what the load forgives if that is shorter",
        leaves: "somebody looked, or the plan has moved the look by 2 minutes or more",
        consequence: "the drop may be seen later than the load forgives",
        response: "look through the spyhole, with shaded glasses, and record what is seen",
        time_to_respond: Span::minutes(5),
        latching: false,
        on_delay: Span::ZERO,
        off_delay: Span::ZERO,
        raised_again_after: Some(Span::minutes(5)),
        answered_by: &[Deed::Look, Deed::Off],
        suppressed_by: &[
            Cause::ShutOff,
            Cause::GuardMoving,
            Cause::ProbablyDown,
            Cause::Stay,
            Cause::OffNotRecorded,
        ],
    },
    Rule {
        cause: Cause::OffNotRecorded,
        priority: Priority::High,
        enters: "the temperature has fallen {fallen_by} below its peak and still falls, and off is not recorded",
        leaves: "off is recorded, or the temperature is back within {back_within} of its peak",
        consequence: "a flame that went out unseen lets gas into the room, and the record is wrong",
        response: "go to the kiln. Off on purpose: record off. Gone out: shut the gas, ventilate, and never relight a hot gas kiln without purging it",
        time_to_respond: Span::minutes(10),
        latching: false,
        on_delay: Span::minutes(1),
        off_delay: Span::minutes(1),
        raised_again_after: Some(Span::minutes(15)),
        answered_by: &[Deed::Off],
        suppressed_by: &[],
    },
    Rule {
        cause: Cause::LookDue,
        priority: Priority::Medium,
        enters: "the time of the next look has come",
        leaves: "somebody looked, or the plan has moved the look by 2 minutes or more",
        consequence: "the forecast is not sharpened, and the drop may be missed",
        response: "look through the spyhole, with shaded glasses, and record what is seen",
        time_to_respond: Span::minutes(5),
        latching: false,
        on_delay: Span::ZERO,
        off_delay: Span::ZERO,
        raised_again_after: Some(Span::minutes(5)),
        answered_by: &[Deed::Look, Deed::Off],
        suppressed_by: &[
            Cause::ShutOff,
            Cause::GuardMoving,
            Cause::ProbablyDown,
            Cause::Stay,
            Cause::LookOverdue,
            Cause::OffNotRecorded,
        ],
    },
    Rule {
        cause: Cause::Stalled,
        priority: Priority::Medium,
        enters: "a kiln that should climb has climbed less than {stalled_below} for 20 minutes",
        leaves: "it climbs {climbs_again} or more again",
        consequence: "the drop comes hours late or not at all, and fuel is wasted",
        response: "check burner, gas and switch by the kiln maker's manual; give the firing up if it cannot go on",
        time_to_respond: Span::minutes(20),
        latching: false,
        on_delay: Span::minutes(1),
        off_delay: Span::minutes(2),
        raised_again_after: Some(Span::minutes(30)),
        answered_by: &[Deed::Turned],
        suppressed_by: &[Cause::OffNotRecorded, Cause::ShutOff, Cause::GuardMoving],
    },
    Rule {
        cause: Cause::TooFast,
        priority: Priority::Medium,
        enters: "the kiln climbs more than 1.15 times as fast as the schedule allows at its temperature, or the ware",
        leaves: "it climbs less than 1.05 times as fast as allowed",
        consequence: "ware cracks or bursts, decoration boils, and the drop comes early",
        response: "turn the burner or switch down, and record the setting",
        time_to_respond: Span::minutes(10),
        latching: true,
        on_delay: Span::minutes(1),
        off_delay: Span::minutes(1),
        raised_again_after: Some(Span::minutes(20)),
        answered_by: &[Deed::Turned],
        suppressed_by: &[Cause::ShutOff, Cause::GuardMoving],
    },
    Rule {
        cause: Cause::ProbeTrouble,
        priority: Priority::Medium,
        enters: "the readings contradict physics, or a probe that spoke is silent",
        leaves: "plausible readings come again",
        consequence: "the forecast rests on less than it seems, and is wider",
        response: "check probe and lead from outside; read by hand, or watch by the clock and by eye",
        time_to_respond: Span::minutes(15),
        latching: true,
        on_delay: Span::ZERO,
        off_delay: Span::minutes(2),
        raised_again_after: Some(Span::hours(1)),
        answered_by: &[],
        suppressed_by: &[Cause::ShutOff, Cause::GuardMoving],
    },
    Rule {
        cause: Cause::Step,
        priority: Priority::Medium,
        enters: "the schedule asks for another setting of the burner or switch, by hand",
        leaves: "the setting is recorded, or the step is an hour past",
        consequence: "the firing leaves its schedule, and the drop comes at another time",
        response: "turn the burner or switch as the schedule says, and record the setting",
        time_to_respond: Span::minutes(10),
        latching: false,
        on_delay: Span::ZERO,
        off_delay: Span::ZERO,
        raised_again_after: Some(Span::minutes(15)),
        answered_by: &[Deed::Turned],
        suppressed_by: &[Cause::ShutOff, Cause::GuardMoving, Cause::OffNotRecorded],
    },
    Rule {
        cause: Cause::WindowOpens,
        priority: Priority::Low,
        enters: "the watch window opens, or the first look comes, within 15 minutes",
        leaves: "that time has come, somebody looked, or it has moved beyond 25 minutes",
        consequence: "the first look is late because nobody was near",
        response: "finish what is in hand, have shaded glasses ready, and be within earshot",
        time_to_respond: Span::minutes(15),
        latching: false,
        on_delay: Span::ZERO,
        off_delay: Span::ZERO,
        raised_again_after: None,
        answered_by: &[Deed::Look, Deed::Off],
        suppressed_by: BEFORE_LOOKS,
    },
    Rule {
        cause: Cause::ReadTemperature,
        priority: Priority::Low,
        enters: "nothing was read in 40 in 100 of the way to the drop, as forecast at the lighting, and no kiln wants a look or is watched",
        leaves: "a reading or the glow is recorded, it is acknowledged, or 35 minutes have passed: it is repeated once, after 20 minutes",
        consequence: "the clock alone says when to look, and a day faster than ever is found too late",
        response: "write down one temperature; acknowledge this where none can be read",
        time_to_respond: Span::minutes(35),
        latching: false,
        on_delay: Span::ZERO,
        off_delay: Span::ZERO,
        raised_again_after: None,
        answered_by: &[Deed::Reading, Deed::Glow, Deed::Off],
        suppressed_by: BEFORE_LOOKS,
    },
    Rule {
        cause: Cause::NameGlow,
        priority: Priority::Low,
        enters: "no temperature could be read, 55 in 100 of the way are done, and no kiln wants a look or is watched",
        leaves: "the glow or a reading is recorded, it is acknowledged, or 35 minutes have passed: it is repeated once, after 20 minutes",
        consequence: "the clock alone says when to look, and a day faster than ever is found too late",
        response: "look through the spyhole, with shaded glasses that leave colours as they are, and write down the colour of the glow",
        time_to_respond: Span::minutes(35),
        latching: false,
        on_delay: Span::ZERO,
        off_delay: Span::ZERO,
        raised_again_after: None,
        answered_by: &[Deed::Glow, Deed::Reading, Deed::Off],
        suppressed_by: BEFORE_LOOKS,
    },
    Rule {
        cause: Cause::StillHot,
        priority: Priority::Low,
        enters: "off for longer than the kiln usually cools, and for 4 hours no reading says that it is cool",
        leaves: "a reading is recorded, or the kiln is drawn",
        consequence: "opened too hot, ware cracks and hands burn",
        response: "read the temperature before opening; leave the kiln shut above {shut_above}",
        time_to_respond: Span::hours(4),
        latching: false,
        on_delay: Span::ZERO,
        off_delay: Span::ZERO,
        raised_again_after: None,
        answered_by: &[Deed::Reading, Deed::Drawn],
        suppressed_by: &[Cause::CoolEnough],
    },
    Rule {
        cause: Cause::CoolEnough,
        priority: Priority::Low,
        enters: "a reading after off is below {draw_below}, or what the shop's settings say instead (common practice, no source)",
        leaves: "the kiln is drawn, or a reading is more than {too_hot_again} above that",
        consequence: "the kiln stands idle and the ware is late",
        response: "draw the kiln, with gloves, and record it",
        time_to_respond: Span::hours(4),
        latching: false,
        on_delay: Span::ZERO,
        off_delay: Span::ZERO,
        raised_again_after: None,
        answered_by: &[Deed::Drawn],
        suppressed_by: &[],
    },
    Rule {
        cause: Cause::OutcomeNotRecorded,
        priority: Priority::Low,
        enters: "drawn for 2 hours, and nobody has written how the load came out",
        leaves: "the outcome is recorded",
        consequence: "nothing is learned from the firing",
        response: "write down under, good or over",
        time_to_respond: Span::hours(8),
        latching: false,
        on_delay: Span::ZERO,
        off_delay: Span::ZERO,
        raised_again_after: None,
        answered_by: &[Deed::Outcome],
        suppressed_by: &[],
    },
];

impl From<Asked> for Cause {
    fn from(asked: Asked) -> Cause {
        match asked {
            Asked::ReadTemperature => Cause::ReadTemperature,
            Asked::NameGlow => Cause::NameGlow,
        }
    }
}

impl Cause {
    /// The alarm's own name, as it is typed and as it stands in the journal.
    pub fn name(self) -> &'static str {
        match self {
            Cause::ShutOff => "shut_off",
            Cause::GuardMoving => "guard_moving",
            Cause::ProbablyDown => "probably_down",
            Cause::Stay => "stay",
            Cause::LookOverdue => "look_overdue",
            Cause::OffNotRecorded => "off_not_recorded",
            Cause::LookDue => "look_due",
            Cause::Stalled => "stalled",
            Cause::TooFast => "too_fast",
            Cause::ProbeTrouble => "probe_trouble",
            Cause::Step => "step",
            Cause::WindowOpens => "window_opens",
            Cause::ReadTemperature => Asked::ReadTemperature.name(),
            Cause::NameGlow => Asked::NameGlow.name(),
            Cause::StillHot => "still_hot",
            Cause::CoolEnough => "cool_enough",
            Cause::OutcomeNotRecorded => "outcome_not_recorded",
        }
    }

    /// The cause of this name.
    pub fn named(name: &str) -> Option<Cause> {
        RULES.iter().map(|rule| rule.cause).find(|cause| cause.name() == name)
    }

    /// The cause's row of the table.
    pub fn rule(self) -> &'static Rule {
        // The table has one row for every cause, in the order of the causes; a test holds it so.
        &RULES[self as usize]
    }

    /// Whether it can be put off for so long.
    ///
    /// # Errors
    /// [`CannotPutOff`].
    pub fn may_be_put_off(self, length: Span) -> Result<(), CannotPutOff> {
        match self.priority().longest_shelf() {
            None => Err(CannotPutOff::Highest { cause: self }),
            Some(longest) if length > Span::ZERO && length <= longest => Ok(()),
            Some(longest) => Err(CannotPutOff::Length { cause: self, length, longest }),
        }
    }

    pub fn priority(self) -> Priority {
        self.rule().priority
    }

    /// Unanswered, it is never silent for longer than this.
    pub fn repeat(self) -> Span {
        if self.is_request() { REPEATED_AFTER } else { self.priority().repeat() }
    }

    /// Whether it asks for something that may be declined.
    pub fn is_request(self) -> bool {
        matches!(self, Cause::ReadTemperature | Cause::NameGlow)
    }
}

impl Notice {
    pub const ALL: [Notice; 4] =
        [Notice::ReturnedUnanswered, Notice::FloodBegan, Notice::FloodOver, Notice::TookOver];

    pub fn name(self) -> &'static str {
        match self {
            Notice::ReturnedUnanswered => "returned_unanswered",
            Notice::FloodBegan => "flood_began",
            Notice::FloodOver => "flood_over",
            Notice::TookOver => "took_over",
        }
    }
}

impl fmt::Display for Cause {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}
