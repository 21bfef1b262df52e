//! What the trade would say about a schedule, each with where it comes from.
//!
//! Most of it is rules of thumb: the temperatures are physics, the paces are habit. Each says
//! which. Nothing here replaces the maker's manual of the kiln, the clay, the glaze or the gold.

use crate::cone::{Basis, Cone};
use crate::units::{Celsius, CelsiusPerHour, Span};

closed! {
    /// How much it matters.
    #[derive(PartialOrd, Ord, Hash)]
    pub enum Severity {
        /// Worth knowing; nothing to change.
        Remark => "remark",
        /// Ware may suffer.
        Caution => "caution",
        /// The firing cannot come out as planned, or the kiln cannot do it.
        Wrong => "wrong",
    }
}

/// Quartz changes its size here.
pub const QUARTZ_INVERSION: Celsius = Celsius(573.0);
/// Cristobalite changes its size here.
pub const CRISTOBALITE_INVERSION: Celsius = Celsius(220.0);
/// A kiln is not cracked open above this, and not unloaded above [`UNLOADED_BELOW`] (common practice,
/// no source).
pub const CRACKED_BELOW: Celsius = Celsius(200.0);
pub const UNLOADED_BELOW: Celsius = Celsius(100.0);

closed! {
    /// A temperature band in which a pace matters.
    #[derive(Hash)]
    pub enum Hazard {
        /// Water between the grains turns to steam.
        DampWare => "damp_ware",
        /// Water bound in the clay leaves.
        CombinedWater => "combined_water",
        /// Quartz grows by 0.45 % at 573 C.
        QuartzUp => "quartz_up",
        /// Quartz shrinks again at 573 C.
        QuartzDown => "quartz_down",
        /// Carbon and sulfur need time and air to burn out.
        CarbonBurnOut => "carbon_burn_out",
        /// Oils, resins and covercoats burn off.
        OrganicMedia => "organic_media",
        /// Cristobalite grows near 220 C, in ware that was glazed and fired before.
        CristobaliteUp => "cristobalite_up",
        /// Cristobalite shrinks near 220 C.
        CristobaliteDown => "cristobalite_down",
    }
}

/// One finding, with the values it rests on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Rule {
    /// The pace through a band is faster than the trade likes.
    TooFast {
        hazard: Hazard,
        /// Positive, also for cooling.
        rate: CelsiusPerHour,
        limit: CelsiusPerHour,
    },
    /// Fumes early in the firing, and the file does not say to ventilate all through them.
    Unventilated { up_to: Celsius },
    /// Fumes early in the firing, and the file says to ventilate.
    Fumes { up_to: Celsius },
    /// Hotter than the kiln's maker allows.
    AboveCeiling { top: Celsius, ceiling: Celsius },
    /// Faster than the kiln can climb.
    FasterThanKiln { rate: CelsiusPerHour, fastest: CelsiusPerHour },
    /// The target is not down at the end; its heat work then.
    NeverDrops { target: Cone, heat_work: f64 },
    /// The target goes down well before the end of the soak at the top.
    PastDrop { target: Cone, early: Span },
    /// Hotter than the target needs even at the fastest rate the chart is asked for,
    /// [`crate::units::RATE_RANGE_C_PER_H`].
    AboveChart { target: Cone, top: Celsius, hottest: Celsius },
    /// The last 100 C before the top are not climbed at one rate.
    RateChangesNearTop { slowest: CelsiusPerHour, fastest: CelsiusPerHour },
    /// The final rate is not between published rates of this cone.
    RateOffChart { target: Cone, rate: CelsiusPerHour, basis: Basis },
    /// The guard cone goes down too.
    GuardDown { guard: Cone, at: Span },
    /// Nothing is ordered for the fall through the quartz inversion.
    FreeCooling,
    /// When to open.
    Opening,
}

/// A finding and the segment it is about.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Caution {
    pub rule: Rule,
    /// The index of the segment; `None` when it is about the whole schedule.
    pub segment: Option<usize>,
}

impl Hazard {
    /// The band it belongs to, cooler end first.
    pub fn band(self) -> (Celsius, Celsius) {
        let (low, high) = match self {
            Hazard::DampWare => (20.0, 120.0),
            Hazard::CombinedWater => (350.0, 600.0),
            // The inversion is sharp; a chamber is not: 10 C of unevenness either way.
            Hazard::QuartzUp | Hazard::QuartzDown => (563.0, 583.0),
            Hazard::CarbonBurnOut => (700.0, 900.0),
            Hazard::OrganicMedia => (150.0, 500.0),
            Hazard::CristobaliteUp | Hazard::CristobaliteDown => (200.0, 270.0),
        };
        (Celsius(low), Celsius(high))
    }

    /// Whether it belongs to the fall rather than the climb.
    pub fn on_cooling(self) -> bool {
        matches!(self, Hazard::QuartzDown | Hazard::CristobaliteDown)
    }

    fn source(self) -> &'static str {
        match self {
            Hazard::DampWare => {
                "water smoking to about 120 C: glossaries; Rhodes, Hamer (from memory). The pace is common practice, no source"
            }
            Hazard::CombinedWater => {
                "350 to 600 C: Rhodes, Hamer (from memory); kaolinite loses its water at 450 to 600 C (mineral tables). The pace is common practice, no source"
            }
            Hazard::QuartzUp => {
                "quartz inversion 573 C, 0.45 % linear: Fraser 1986; Dodd & Murfin 1994 (both as quoted elsewhere). The pace is common practice, no source"
            }
            Hazard::QuartzDown => {
                "not above 50 C/h through 573 C: Fortuna 2000 (as quoted elsewhere), a factory figure for sanitaryware; studio ware is often cooled faster"
            }
            Hazard::CarbonBurnOut => {
                "700 to 900 C with air: general texts. The pace is common practice, no source"
            }
            Hazard::OrganicMedia => "common practice, no source",
            Hazard::CristobaliteUp | Hazard::CristobaliteDown => {
                "inversion at 220 C: encyclopaedias; 226 C: Hamer & Hamer (from memory). The pace is common practice, no source"
            }
        }
    }
}

impl Rule {
    /// A name for machines, in snake case.
    pub fn name(&self) -> &'static str {
        match self {
            Rule::TooFast { hazard, .. } => hazard.name(),
            Rule::Unventilated { .. } => "unventilated",
            Rule::Fumes { .. } => "fumes",
            Rule::AboveCeiling { .. } => "above_ceiling",
            Rule::FasterThanKiln { .. } => "faster_than_kiln",
            Rule::NeverDrops { .. } => "never_drops",
            Rule::PastDrop { .. } => "past_drop",
            Rule::AboveChart { .. } => "above_chart",
            Rule::RateChangesNearTop { .. } => "rate_changes_near_top",
            Rule::RateOffChart { .. } => "rate_off_chart",
            Rule::GuardDown { .. } => "guard_down",
            Rule::FreeCooling => "free_cooling",
            Rule::Opening => "opening",
        }
    }

    pub fn severity(&self) -> Severity {
        match self {
            Rule::AboveCeiling { .. }
            | Rule::FasterThanKiln { .. }
            | Rule::NeverDrops { .. }
            | Rule::AboveChart { .. } => Severity::Wrong,
            Rule::TooFast { .. }
            | Rule::Unventilated { .. }
            | Rule::PastDrop { .. }
            | Rule::RateChangesNearTop { .. }
            | Rule::GuardDown { .. } => Severity::Caution,
            Rule::Fumes { .. } | Rule::RateOffChart { .. } | Rule::FreeCooling | Rule::Opening => {
                Severity::Remark
            }
        }
    }

    /// Where the rule comes from; what is habit says so.
    pub fn source(&self) -> &'static str {
        match self {
            Rule::TooFast { hazard, .. } => hazard.source(),
            Rule::Unventilated { .. } | Rule::Fumes { .. } => "common practice, no source",
            Rule::AboveCeiling { .. } | Rule::FasterThanKiln { .. } => "what was said of the kiln",
            Rule::NeverDrops { .. } | Rule::PastDrop { .. } | Rule::GuardDown { .. } => {
                "heat work from the cone chart"
            }
            Rule::AboveChart { .. } | Rule::RateOffChart { .. } => crate::cone::chart::SOURCE,
            Rule::RateChangesNearTop { .. } => {
                "the rate over the last 100 C decides a cone's end temperature: general texts"
            }
            Rule::FreeCooling => Hazard::QuartzDown.source(),
            Rule::Opening => {
                "no agreed standard: general texts, from memory. Cristobalite inversion at 220 C: encyclopaedias"
            }
        }
    }
}
