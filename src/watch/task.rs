//! What there is to do at a kiln and at the casting bench: one list, of which advice, alarms, screen, calendar, status and
//! rehearsal speak. What is said of each task is in `crate::words`, when it rings in
//! `crate::alarm::rules`.

closed! {
    /// What there is to do, by its name in the journal and in answers to programs. Those an
    /// alarm calls for come first, in the order of the table of alarms.
    #[derive(PartialOrd, Ord, Hash)]
    pub enum Task {
        ShutOff => "shut_off",
        /// To be turned down for what the schedule orders after the cone, or shut off.
        TurnDown => "turn_down",
        /// To be shut off, since the guard moves.
        GuardMoving => "guard_moving",
        /// A look that most likely comes after the drop.
        ProbablyDown => "probably_down",
        /// To see to the shop's file: it was damaged or exchanged, is missing, or cannot be read.
        ShopFile => "shop_file",
        /// To be at the spyhole until the target is down.
        Stay => "stay",
        LookOverdue => "look_overdue",
        OffNotRecorded => "off_not_recorded",
        LookDue => "look_due",
        Stalled => "stalled",
        TooFast => "too_fast",
        ProbeTrouble => "probe_trouble",
        /// A burner or switch to be turned by hand.
        Step => "step",
        WindowOpens => "window_opens",
        ReadTemperature => "read_temperature",
        NameGlow => "name_glow",
        StillHot => "still_hot",
        /// Cool enough to be drawn.
        CoolEnough => "cool_enough",
        OutcomeNotRecorded => "outcome_not_recorded",
        /// To pour the slip out of a mould.
        DrainMould => "drain_mould",
        /// To see whether a cast lets go, and to open its mould if it does.
        CheckMould => "check_mould",
        /// To wait for the next look.
        NextLook => "next_look",
        /// Nobody knows when it will drop: to look by eye.
        LookByEye => "look_by_eye",
        /// To wait for the drop.
        Drop => "drop",
        /// To follow what the schedule orders after the cone, until the kiln is to be shut off.
        AfterCone => "after_cone",
        /// Given up before the drop: to light again or to draw.
        Decide => "decide",
        /// Packed and not lit.
        Light => "light",
        LetCool => "let_cool",
        Nothing => "nothing",
    }
}

use Task::*;

/// Tasks as urgent as each other, the most urgent first.
const URGENCY: [&[Task]; 15] = [
    &[ShutOff, TurnDown, GuardMoving],
    &[ProbablyDown],
    &[Stay],
    &[LookOverdue, LookDue, OffNotRecorded],
    &[Stalled, TooFast, ProbeTrouble, Step, ShopFile],
    &[NextLook, AfterCone],
    &[WindowOpens],
    &[Drop],
    &[LookByEye, ReadTemperature, NameGlow],
    &[OutcomeNotRecorded],
    &[Decide],
    &[Light],
    &[StillHot, CoolEnough, LetCool],
    &[DrainMould, CheckMould],
    &[Nothing],
];

impl Task {
    /// How much it asks for somebody: the place in the order of urgency, the most urgent 0.
    pub fn urgency(self) -> usize {
        URGENCY.iter().position(|tasks| tasks.contains(&self)).unwrap_or(URGENCY.len())
    }

    /// Whether somebody has to be at the spyhole or the switch now.
    pub fn is_at_the_kiln(self) -> bool {
        self.urgency() <= LookDue.urgency()
    }

    pub fn is_of_the_bench(self) -> bool {
        matches!(self, DrainMould | CheckMould)
    }

    /// Whether somebody is wanted at the kiln now, also where something is wrong with it.
    pub fn wants_somebody(self) -> bool {
        self.urgency() <= Stalled.urgency()
    }
}
