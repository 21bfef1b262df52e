//! What goes wrong, on purpose: a closed list, every entry of which suits either kind of kiln.

/// One fault. Minutes count from the true lighting; places in a row count from zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Fault {
    /// The probe reads too high by this much all through.
    ProbeOffset { c: f64 },
    /// The probe reads too high by this much from one moment on, as after a knock.
    ProbeStep { c: f64, at_min: f64 },
    /// The probe's reading sinks by this much over some minutes and stays there.
    ProbeSink { c: f64, at_min: f64, over_min: f64 },
    /// The probe creeps away from the truth.
    ProbeCreep { c_per_h: f64, from_min: f64 },
    /// The probe repeats its last value; with noise it still flickers about it.
    ProbeStuck { at_min: f64, noisy: bool },
    /// No reading from then on.
    ProbeDead { at_min: f64 },
    /// No readings for a while.
    ProbeSilent { at_min: f64, for_min: f64 },
    /// The probe multiplies what it feels above the room, as with the wrong type of wire.
    ProbeScale { factor: f64 },
    /// A share of all readings is nonsense: an open circuit, a zero, a full register.
    ProbeNonsense { share: f64 },
    /// A digit of one typed number is wrong.
    NumberMistyped { nth: usize },
    /// Two digits of one typed number are swapped.
    DigitsSwapped { nth: usize },
    /// From one typed number on, Fahrenheit is written as if it were Celsius.
    OtherScale { from_nth: usize },
    /// Typed readings carry a time that is too late by this much, or too early if negative.
    TimesOff { late_min: f64 },
    /// The lighting was noted later than it was, or earlier if negative.
    LitNoted { late_min: f64 },
    /// The plan of this day is quicker than the kiln's usual one, or slower below one.
    Pace { factor: f64 },
    /// The burner goes out, or the breaker trips, until somebody finds it.
    BurnerOut { at_min: f64, for_min: f64 },
    /// Mains off: no heat either, as the gas valve shuts, and no probe.
    PowerCut { at_min: f64, for_min: f64 },
    /// Gas running low, or sagging mains: heat falls to a share in an hour, until put right.
    GasLow { from_min: f64, to_share: f64, until_min: f64 },
    /// On one look a cone is called one word further than it is, or one less.
    WordWrong { nth_look: usize, cone: usize, further: bool },
    /// Guide and target were set in each other's place, or are taken for each other.
    ConesSwapped,
    /// Nobody ever says what the guide does.
    GuideForgotten,
    /// Every walk to the kiln is later by this much.
    WalksLate { min: f64 },
}

/// Share of the heat asked for that the supply gives at a moment.
pub(crate) fn supply(faults: &[Fault], at_min: f64) -> f64 {
    faults
        .iter()
        .map(|&fault| match fault {
            Fault::BurnerOut { at_min: from, for_min }
            | Fault::PowerCut { at_min: from, for_min }
                if at_min >= from && at_min < from + for_min =>
            {
                0.0
            }
            Fault::GasLow { from_min, to_share, until_min } if at_min < until_min => {
                1.0 - (1.0 - to_share) * ((at_min - from_min) / 60.0).clamp(0.0, 1.0)
            }
            _ => 1.0,
        })
        .product()
}

/// Pace of the day: the product of all paces asked for.
pub(crate) fn pace(faults: &[Fault]) -> f64 {
    faults
        .iter()
        .map(|&fault| if let Fault::Pace { factor } = fault { factor } else { 1.0 })
        .product()
}
