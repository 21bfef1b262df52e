//! The simulators, as one: whichever made a firing, the same probes and people come to it.

use spyhole::testing::cone::{Cone, Family};
use spyhole::testing::firing::ConePack;

use super::simulator::{Dice, STEP_H, SimulatedKiln};
use super::strangers;
use super::strangers::chance::Chance;
use super::strangers::faults::{self, Fault};
use super::strangers::firing::{Course, Energy, Firing};
use super::strangers::loads::Load;
use super::strangers::probes::Probe;

/// Which simulator makes the kilns.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Make {
    Gas,
    Electric,
    /// The gas kiln of the calibration: cones by the chart itself, and a probe of its own.
    HeldOut,
}

impl Make {
    /// Those that share nothing with the program.
    pub(crate) const STRANGERS: [Make; 2] = [Make::Gas, Make::Electric];
    pub(crate) const ALL: [Make; 3] = [Make::Gas, Make::Electric, Make::HeldOut];

    pub(crate) fn name(self) -> &'static str {
        match self {
            Make::Gas => "gas",
            Make::Electric => "electric",
            Make::HeldOut => "held-out",
        }
    }
}

/// A kiln of any make, which is fired with one load.
#[derive(Debug)]
pub(crate) enum Kiln {
    Stranger(strangers::Kiln),
    HeldOut(SimulatedKiln, u64),
}

pub(crate) fn pack(load: Load) -> ConePack {
    let [guide, target, guard] =
        load.pack().map(|cone| Cone::parse(cone).expect("every cone of a load is a cone"));
    ConePack { family: Family::SelfSupporting, target, guide: Some(guide), guard: Some(guard) }
}

impl Kiln {
    pub(crate) fn draw(make: Make, load: Load, seed: u64) -> Kiln {
        match make {
            Make::Gas => Kiln::Stranger(strangers::Kiln::gas(seed)),
            Make::Electric => Kiln::Stranger(strangers::Kiln::electric(seed)),
            Make::HeldOut => {
                let dice = &mut Dice::new(seed);
                // Climb at the drop, C/h: a gold firing is quicker.
                let (low, high) = if load == Load::Gold { (100.0, 250.0) } else { (80.0, 180.0) };
                let climb = dice.uniform(low, high);
                Kiln::HeldOut(SimulatedKiln::firing("North", pack(load), climb, dice), seed)
            }
        }
    }

    /// Firing of the load on the day of that number, as in `strangers::Kiln::fire`.
    pub(crate) fn fire(&self, load: Load, faults: &[Fault], day: u64) -> Firing {
        let (kiln, seed) = match self {
            Kiln::Stranger(kiln) => return kiln.fire(load, faults, day),
            Kiln::HeldOut(kiln, seed) => (kiln, seed),
        };
        let share = |at_h: f64| faults::supply(faults, 60.0 * at_h);
        let dice = &mut Dice::new(seed + 1_000_000 * day);
        let fired = kiln.fire_at(faults::pace(faults), &share, dice);
        // The lag and the habit of the probe are in what the simulator says it feels.
        let probe = Probe { lag_s: 0.0, noise_c: 0.7, offset_c: 0.0, creep_c_per_h: 0.0 };
        let course = Course {
            load,
            step_s: 3600.0 * STEP_H,
            chamber_at_probe_c: fired.probe_c,
            chamber_at_cone_c: fired.cones_c,
            leans: fired.leans,
            under_h: fired.under_h,
            drop_h: fired.drop_h,
            over_h: fired.over_h,
            energy: Energy::default(),
        };
        course.told([&probe, &probe], faults, &Chance::new(*seed).branch(day))
    }
}
