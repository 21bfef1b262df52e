//! The one table of alarms: why each is raised, what happens if nobody acts, what to do, how long
//! there is. An alarm that cannot fill its row is no alarm.
//!
//! Delays and limits are starting values of our own (common practice, no source), chosen after
//! the standard's advice that the condition to enter an alarm and the one to leave it differ.

use super::priority::Priority::{self, High, Highest, Medium};
use crate::firing::Kind::{self, Aborted, Drawn, Glow, Look, Off, Outcome, Reading, Turned};
use crate::units::{Celsius, Span};
use crate::watch::request::REPEATED_AFTER;
use crate::watch::task::Task::{self, *};

/// A kiln hotter than this stays shut (common practice, no source).
pub const SHUT_ABOVE: Celsius = Celsius(100.0);

closed! {
    /// What happened and needs no response; it is shown and written down, and rings nothing.
    #[derive(Hash)]
    pub enum Notice {
        /// A condition went away before anybody answered.
        ReturnedUnanswered => "returned_unanswered",
        FloodBegan => "flood_began",
        FloodOver => "flood_over",
        /// This process rings from now on.
        TookOver => "took_over",
    }
}

/// Why an alarm cannot be put off.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum CannotPutOff {
    #[error("{} has the highest priority and cannot be put off: {}", task.name(), task.rule().response)]
    Highest { task: Task },
    #[error(
        "{} has {} priority and can be put off for 1 s to {longest}, not for {length}: say a shorter time",
        task.name(),
        task.priority()
    )]
    Length { task: Task, length: Span, longest: Span },
}

/// One row of the table. A limit stands in its sentences by its name in braces, since each reader
/// has a scale; [`crate::words::alarms::in_scale`] writes it out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AlarmRule {
    pub task: Task,
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
    /// Events that answer it by themselves, written down by whoever did what it asks for.
    pub answered_by: &'static [Kind],
    /// While one of these stands, this one says nothing new.
    pub suppressed_by: &'static [Task],
}

/// What no alarm rings for, and what a row of the table says nothing of.
const QUIET: AlarmRule = AlarmRule {
    task: Nothing,
    priority: Priority::Low,
    enters: "",
    leaves: "",
    consequence: "",
    response: "",
    time_to_respond: Span::ZERO,
    latching: false,
    on_delay: Span::ZERO,
    off_delay: Span::ZERO,
    raised_again_after: None,
    answered_by: &[],
    suppressed_by: &[],
};

/// Alarms beside which one about the time before the looks is not rung.
const BEFORE_LOOKS: &[Task] =
    &[ShutOff, TurnDown, GuardMoving, ProbablyDown, Stay, LookOverdue, LookDue, OffNotRecorded];

/// The table, in the order of priority.
pub const RULES: [AlarmRule; 21] = [
    AlarmRule {
        task: ShutOff,
        priority: Highest,
        enters: "the target cone was seen down, or the advice is to shut off, and off is not recorded; not while the schedule orders something after the cone",
        leaves: "off is recorded, or the firing is given up",
        consequence: "the load goes on firing: over-fired gold has to be put on again, over-fired glaze is lost",
        response: "shut the kiln off now, then record off",
        time_to_respond: Span::minutes(2),
        raised_again_after: Some(Span::minutes(2)),
        answered_by: &[Off, Aborted],
        suppressed_by: &[OffNotRecorded],
        ..QUIET
    },
    AlarmRule {
        task: TurnDown,
        priority: Highest,
        enters: "the target cone was seen down, the schedule orders something after it, and no setting is recorded for that",
        leaves: "a setting or off is recorded, or the last order is over: then it is to be shut off",
        consequence: "the load goes on heating: over-fired gold has to be put on again, over-fired glaze is lost",
        response: "turn the kiln down as the schedule says and record the setting; or, to end the firing, shut it off and record off",
        time_to_respond: Span::minutes(2),
        raised_again_after: Some(Span::minutes(2)),
        answered_by: &[Turned, Off, Aborted],
        suppressed_by: &[OffNotRecorded],
        ..QUIET
    },
    AlarmRule {
        task: GuardMoving,
        priority: Highest,
        enters: "the guard cone was seen half down or lower, or leaning while the target is down, and nothing is ordered after the cone, or cannot be made out",
        leaves: "off is recorded, a later look sees the guard standing, or the look is struck",
        consequence: "the load is on its way to a whole cone over",
        response: "shut the kiln off now, then record off",
        time_to_respond: Span::minutes(2),
        raised_again_after: Some(Span::minutes(2)),
        answered_by: &[Off, Aborted],
        suppressed_by: &[ShutOff, OffNotRecorded],
        ..QUIET
    },
    AlarmRule {
        task: ProbablyDown,
        priority: Highest,
        enters: "the chance that the target is down already is 50 in 100 or more, and nobody has looked for 3 minutes",
        leaves: "somebody looked, or the chance is below 35 in 100",
        consequence: "nobody sees the drop, and the load goes over",
        response: "look through the spyhole now, with shaded glasses; shut off if the target is down",
        time_to_respond: Span::minutes(3),
        raised_again_after: Some(Span::minutes(3)),
        answered_by: &[Look, Off, Aborted],
        suppressed_by: &[ShutOff, TurnDown, GuardMoving, OffNotRecorded],
        ..QUIET
    },
    AlarmRule {
        task: ShopFile,
        priority: Highest,
        enters: "the shop's file was damaged or exchanged, or is missing or could not be read for 10 seconds",
        leaves: "it is acknowledged, and the file is there and can be read",
        consequence: "looks and readings may be missing, and the alarms that follow from them",
        response: "go to the kilns and see how each stands; \"spyhole journal check\" says what the file lacks",
        time_to_respond: Span::minutes(3),
        raised_again_after: Some(Span::minutes(15)),
        ..QUIET
    },
    AlarmRule {
        task: Stay,
        priority: High,
        enters: "the drop is so near that the advice is to stay, and nobody has looked for 3 minutes",
        leaves: "somebody looked, or the advice has changed",
        consequence: "a walk away now may be longer than the load forgives",
        response: "stay by the kiln and look every minute, with shaded glasses",
        time_to_respond: Span::minutes(3),
        raised_again_after: Some(Span::minutes(5)),
        answered_by: &[Look, Off, Aborted],
        suppressed_by: &[ShutOff, TurnDown, GuardMoving, ProbablyDown, OffNotRecorded],
        ..QUIET
    },
    AlarmRule {
        task: LookOverdue,
        priority: High,
        enters: "a look has been due for 5 minutes, or for half of what the load forgives if that is shorter",
        leaves: "somebody looked, or the plan has moved the look by 2 minutes or more",
        consequence: "the drop may be seen later than the load forgives",
        response: "look through the spyhole, with shaded glasses, and record what is seen",
        time_to_respond: Span::minutes(5),
        raised_again_after: Some(Span::minutes(5)),
        answered_by: &[Look, Off, Aborted],
        suppressed_by: &[ShutOff, TurnDown, GuardMoving, ProbablyDown, Stay, OffNotRecorded],
        ..QUIET
    },
    AlarmRule {
        task: OffNotRecorded,
        priority: High,
        enters: "the temperature has fallen {fallen_by} below its peak and still falls, further than the schedule orders after the cone, and off is not recorded",
        leaves: "off is recorded, or the temperature is back within {back_within} of its peak",
        consequence: "a flame that went out unseen lets gas into the room, and the record is wrong",
        response: "go to the kiln. Off on purpose: record off. Gas gone out: touch no switch, keep flames away, shut the gas, ventilate, leave if you smell gas, and never relight a hot gas kiln without purging it. Electric: check switch and fuse as the maker's manual says",
        time_to_respond: Span::minutes(10),
        on_delay: Span::minutes(1),
        off_delay: Span::minutes(1),
        raised_again_after: Some(Span::minutes(15)),
        answered_by: &[Off, Aborted],
        ..QUIET
    },
    AlarmRule {
        task: LookDue,
        priority: Medium,
        enters: "the time of the next look has come",
        leaves: "somebody looked, or the plan has moved the look by 2 minutes or more",
        consequence: "the forecast is not sharpened, and the drop may be missed",
        response: "look through the spyhole, with shaded glasses, and record what is seen",
        time_to_respond: Span::minutes(5),
        raised_again_after: Some(Span::minutes(5)),
        answered_by: &[Look, Off, Aborted],
        suppressed_by: &[
            ShutOff,
            TurnDown,
            GuardMoving,
            ProbablyDown,
            Stay,
            LookOverdue,
            OffNotRecorded,
        ],
        ..QUIET
    },
    AlarmRule {
        task: Stalled,
        priority: Medium,
        enters: "a kiln that should climb, and is not at what the schedule orders after the cone, has climbed less than {stalled_below} for 20 minutes",
        leaves: "it climbs {climbs_again} or more again",
        consequence: "the drop comes hours late or not at all, and fuel is wasted",
        response: "Gas: if the flame is out touch no switch, keep flames away, shut the gas and ventilate; else check burners and gas as the maker's manual says. Electric: check switch and fuse as the maker's manual says. If it cannot go on, give the firing up",
        time_to_respond: Span::minutes(20),
        on_delay: Span::minutes(1),
        off_delay: Span::minutes(2),
        raised_again_after: Some(Span::minutes(30)),
        answered_by: &[Turned],
        suppressed_by: &[OffNotRecorded, ShutOff, TurnDown, GuardMoving],
        ..QUIET
    },
    AlarmRule {
        task: TooFast,
        priority: Medium,
        enters: "the kiln climbs more than 1.15 times as fast as the schedule allows at its temperature, or the ware",
        leaves: "it climbs less than 1.05 times as fast as allowed",
        consequence: "ware cracks or bursts, decoration boils, and the drop comes early",
        response: "turn the burners or switches down, and record the setting",
        time_to_respond: Span::minutes(10),
        latching: true,
        on_delay: Span::minutes(1),
        off_delay: Span::minutes(1),
        raised_again_after: Some(Span::minutes(20)),
        answered_by: &[Turned],
        suppressed_by: &[ShutOff, TurnDown, GuardMoving],
    },
    AlarmRule {
        task: ProbeTrouble,
        priority: Medium,
        enters: "the readings contradict physics, or a probe that spoke is silent",
        leaves: "plausible readings come again",
        consequence: "the forecast rests on less than it seems, and is wider",
        response: "check probe and lead from outside; read by hand, or watch by the clock and by eye",
        time_to_respond: Span::minutes(15),
        latching: true,
        off_delay: Span::minutes(2),
        raised_again_after: Some(Span::hours(1)),
        suppressed_by: &[ShutOff, TurnDown, GuardMoving],
        ..QUIET
    },
    AlarmRule {
        task: Step,
        priority: Medium,
        enters: "the schedule asks for another setting of burners or switches, by the clock or since the target is down",
        leaves: "the setting is recorded, or the step is an hour past",
        consequence: "the firing leaves its schedule, and the drop comes at another time",
        response: "set the burners or switches as the schedule says, and record the setting",
        time_to_respond: Span::minutes(10),
        raised_again_after: Some(Span::minutes(15)),
        answered_by: &[Turned],
        suppressed_by: &[ShutOff, TurnDown, GuardMoving, OffNotRecorded],
        ..QUIET
    },
    AlarmRule {
        task: WindowOpens,
        enters: "the watch window opens, or the first look comes, within 15 minutes",
        leaves: "that time has come, somebody looked, or it has moved beyond 25 minutes",
        consequence: "the first look is late because nobody was near",
        response: "finish what is in hand, have shaded glasses ready, and be within earshot",
        time_to_respond: Span::minutes(15),
        answered_by: &[Look, Off, Aborted],
        suppressed_by: BEFORE_LOOKS,
        ..QUIET
    },
    AlarmRule {
        task: ReadTemperature,
        enters: "no temperature was noted in the first 40 in 100 of the time from lighting to the drop, as forecast then, and no kiln is due a look or watched",
        leaves: "a reading or the glow is recorded, it is acknowledged, or 35 minutes have passed: it is repeated once, after 20 minutes",
        consequence: "the clock alone says when to look, and a day faster than ever is found too late",
        response: "write down one temperature; where none can be read, answer this alarm",
        time_to_respond: Span::minutes(35),
        answered_by: &[Reading, Glow, Off, Aborted],
        suppressed_by: BEFORE_LOOKS,
        ..QUIET
    },
    AlarmRule {
        task: NameGlow,
        enters: "no temperature could be read, 55 in 100 of the way are done, and no kiln wants a look or is watched",
        leaves: "the glow or a reading is recorded, it is acknowledged, or 35 minutes have passed: it is repeated once, after 20 minutes",
        consequence: "the clock alone says when to look, and a day faster than ever is found too late",
        response: "look through the spyhole, with shaded glasses that leave colours as they are, and write down the colour of the glow",
        time_to_respond: Span::minutes(35),
        answered_by: &[Glow, Reading, Off, Aborted],
        suppressed_by: BEFORE_LOOKS,
        ..QUIET
    },
    AlarmRule {
        task: StillHot,
        enters: "off for longer than the kiln usually cools, and for 4 hours no reading says that it is cool",
        leaves: "a reading is recorded, or the kiln is drawn",
        consequence: "opened too hot, ware can crack and hands burn",
        response: "read the temperature before opening; leave the kiln shut above {shut_above}",
        time_to_respond: Span::hours(4),
        answered_by: &[Reading, Drawn],
        suppressed_by: &[CoolEnough],
        ..QUIET
    },
    AlarmRule {
        task: CoolEnough,
        enters: "a reading after off is below {draw_below}, or what the shop's settings say instead (common practice, no source)",
        leaves: "the kiln is drawn, or a reading is more than {too_hot_again} above that",
        consequence: "the kiln stands idle and the ware is late",
        response: "unload the kiln, with gloves, and record it",
        time_to_respond: Span::hours(4),
        answered_by: &[Drawn],
        ..QUIET
    },
    AlarmRule {
        task: OutcomeNotRecorded,
        enters: "unloaded 2 hours ago, and nobody has written how the load came out",
        leaves: "the outcome is recorded",
        consequence: "nothing is learned from the firing",
        response: "write down under, good or over",
        time_to_respond: Span::hours(8),
        answered_by: &[Outcome],
        ..QUIET
    },
    AlarmRule {
        task: DrainMould,
        enters: "a mould has stood full for as long as is usual before draining, somebody is there by the shop's hours, and nothing rings at a kiln",
        leaves: "the draining or a check is noted, 4 hours have passed since then, or everybody has left",
        consequence: "the wall gets too thick, and lets go later",
        response: "pour the slip out, and note that it was drained",
        time_to_respond: Span::minutes(10),
        ..QUIET
    },
    AlarmRule {
        task: CheckMould,
        enters: "the next check of a cast is due, somebody is there by the shop's hours, and nothing rings at a kiln and no mould is to be drained",
        leaves: "the check is noted, the plan has moved it for 10 minutes, everybody has left, or it was surely opened before",
        consequence: "the clay shrinks onto the plaster, and the piece cracks",
        response: "see at the pour hole whether the clay stands off, open the mould if it lets go, and note what was found",
        time_to_respond: Span::hours(1),
        off_delay: Span::minutes(10),
        ..QUIET
    },
];

impl Task {
    /// The task an alarm of this name calls for.
    pub fn of_alarm(name: &str) -> Option<Task> {
        RULES.iter().map(|rule| rule.task).find(|task| task.name() == name)
    }

    /// Its row of the table.
    pub fn rule(self) -> &'static AlarmRule {
        // The table has one row for every alarm, in the order of the tasks; a test holds it so.
        RULES.get(self as usize).unwrap_or(&QUIET)
    }

    /// Whether it can be put off for so long.
    ///
    /// # Errors
    /// [`CannotPutOff`].
    pub fn may_be_put_off(self, length: Span) -> Result<(), CannotPutOff> {
        match self.priority().longest_shelf() {
            None => Err(CannotPutOff::Highest { task: self }),
            Some(longest) if length > Span::ZERO && length <= longest => Ok(()),
            Some(longest) => Err(CannotPutOff::Length { task: self, length, longest }),
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
        matches!(self, ReadTemperature | NameGlow)
    }
}
