//! The rows of the table: one fault each, in one state of knowledge, with one load.

use crate::closed_loop::strangers::faults::Fault;
use crate::closed_loop::strangers::loads::Load;
use crate::closed_loop::{Knows, Manner, load_name};

/// One row of the table.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Row {
    pub(crate) name: &'static str,
    pub(crate) knows: Knows,
    pub(crate) load: Load,
    /// The fault, where the firing of this kiln and load usually takes so many minutes.
    pub(crate) faults: fn(f64) -> Vec<Fault>,
    pub(crate) manner: Manner,
}

impl Row {
    /// What a filter is searched in.
    pub(crate) fn label(&self) -> String {
        format!("{} {} {}", self.name, self.knows.name(), load_name(self.load))
    }
}

use Knows::{Asked, Clock, Hand, Probe, TwoProbes};

const EVERY: &[Knows] = &[Clock, Hand, Probe];
const READ: &[Knows] = &[Hand, Probe];
const GOLD: &[Load] = &[Load::Gold];
const WITH_GLAZE: &[Load] = &[Load::Gold, Load::EarthenwareGlaze];
const WITH_BISQUE: &[Load] = &[Load::Gold, Load::Bisque];
const THREE: &[Load] = &[Load::Gold, Load::EarthenwareGlaze, Load::Bisque];

/// Every fault in the states of knowledge that it bears on, with the loads it is tried on. Slower by
/// a share means that the firing takes so much longer.
pub(crate) fn rows() -> Vec<Row> {
    let mut rows = Vec::new();
    let mut add = |name, states: &[Knows], loads: &[Load], faults: fn(f64) -> Vec<Fault>| {
        for &load in loads {
            rows.extend(states.iter().map(|&knows| Row {
                name,
                knows,
                load,
                faults,
                manner: Manner::AT_HAND,
            }));
        }
    };
    add("nothing is wrong", EVERY, THREE, |_| Vec::new());
    probe_off(&mut add);
    probe_changing(&mut add);
    probe_gone(&mut add);
    typed(&mut add);
    time(&mut add);
    words(&mut add);
    heat(&mut add);
    for (name, walk_min) in [
        ("walks 2 min late", (2.0, 2.0)),
        ("walks 5 min late", (5.0, 5.0)),
        ("walks 2 to 15 min late", (2.0, 15.0)),
    ] {
        rows.extend(EVERY.iter().map(|&knows| Row {
            name,
            knows,
            load: Load::Gold,
            faults: |_| Vec::new(),
            manner: Manner::Careful { walk_min },
        }));
    }
    // What the clock alone costs, and what it costs where people do what they are asked for.
    let asked = |row: Row| (row.knows == Clock).then_some(Row { knows: Asked, ..row });
    rows.into_iter().flat_map(|row| [Some(row), asked(row)]).flatten().collect()
}

type Add<'a> = &'a mut dyn FnMut(&'static str, &[Knows], &[Load], fn(f64) -> Vec<Fault>);

fn probe_off(add: Add<'_>) {
    add("probe 10 C low", READ, GOLD, |_| vec![Fault::ProbeOffset { c: -10.0 }]);
    add("probe 10 C high", READ, GOLD, |_| vec![Fault::ProbeOffset { c: 10.0 }]);
    add("probe 20 C low", READ, THREE, |_| vec![Fault::ProbeOffset { c: -20.0 }]);
    add("probe 20 C high", READ, GOLD, |_| vec![Fault::ProbeOffset { c: 20.0 }]);
    add("probe 40 C low", READ, WITH_BISQUE, |_| vec![Fault::ProbeOffset { c: -40.0 }]);
    add("probe 40 C high", READ, GOLD, |_| vec![Fault::ProbeOffset { c: 40.0 }]);
    add("scale 5 % low", READ, WITH_GLAZE, |_| vec![Fault::ProbeScale { factor: 0.95 }]);
    add("scale 5 % high", READ, GOLD, |_| vec![Fault::ProbeScale { factor: 1.05 }]);
    add("one of two 25 C low", &[TwoProbes], WITH_GLAZE, |_| vec![Fault::ProbeOffset { c: -25.0 }]);
    add("one of two 25 C high", &[TwoProbes], GOLD, |_| vec![Fault::ProbeOffset { c: 25.0 }]);
}

fn probe_changing(add: Add<'_>) {
    add("probe steps down 25 C", READ, GOLD, |usual| {
        vec![Fault::ProbeStep { c: -25.0, at_min: 0.7 * usual }]
    });
    add("probe steps up 25 C", &[Probe], GOLD, |usual| {
        vec![Fault::ProbeStep { c: 25.0, at_min: 0.7 * usual }]
    });
    add("probe sinks 30 C in 40 min", READ, WITH_GLAZE, |usual| {
        vec![Fault::ProbeSink { c: 30.0, at_min: 0.75 * usual, over_min: 40.0 }]
    });
    add("probe creeps down 10 C/h", &[Probe], GOLD, |usual| {
        vec![Fault::ProbeCreep { c_per_h: -10.0, from_min: 0.4 * usual }]
    });
    add("probe creeps down 30 C/h", READ, WITH_BISQUE, |usual| {
        vec![Fault::ProbeCreep { c_per_h: -30.0, from_min: 0.5 * usual }]
    });
    add("probe creeps down 60 C/h", READ, GOLD, |usual| {
        vec![Fault::ProbeCreep { c_per_h: -60.0, from_min: 0.5 * usual }]
    });
    add("probe creeps down 150 C/h", &[Probe], GOLD, |usual| {
        vec![Fault::ProbeCreep { c_per_h: -150.0, from_min: 0.6 * usual }]
    });
    add("probe creeps up 30 C/h", &[Probe], GOLD, |usual| {
        vec![Fault::ProbeCreep { c_per_h: 30.0, from_min: 0.5 * usual }]
    });
    add("probe creeps up 150 C/h", &[Probe], GOLD, |usual| {
        vec![Fault::ProbeCreep { c_per_h: 150.0, from_min: 0.6 * usual }]
    });
}

fn probe_gone(add: Add<'_>) {
    add("probe stuck", READ, WITH_GLAZE, |usual| {
        vec![Fault::ProbeStuck { at_min: 0.8 * usual, noisy: false }]
    });
    add("probe stuck, with noise", &[Probe], WITH_BISQUE, |usual| {
        vec![Fault::ProbeStuck { at_min: 0.8 * usual, noisy: true }]
    });
    add("probe dead", READ, GOLD, |usual| vec![Fault::ProbeDead { at_min: 0.8 * usual }]);
    add("probe silent for 30 min", &[Probe], GOLD, |usual| {
        vec![Fault::ProbeSilent { at_min: 0.8 * usual, for_min: 30.0 }]
    });
    add("2 % of readings nonsense", &[Probe], GOLD, |_| vec![Fault::ProbeNonsense { share: 0.02 }]);
}

fn typed(add: Add<'_>) {
    add("first number mistyped", &[Hand], THREE, |_| vec![Fault::NumberMistyped { nth: 0 }]);
    add("second number mistyped", &[Hand], GOLD, |_| vec![Fault::NumberMistyped { nth: 1 }]);
    add("number near half way mistyped", &[Hand], GOLD, |usual| {
        vec![Fault::NumberMistyped { nth: (0.55 * usual / 20.0) as usize }]
    });
    add("first number, digits swapped", &[Hand], GOLD, |_| vec![Fault::DigitsSwapped { nth: 0 }]);
    add("second number, digits swapped", &[Hand], GOLD, |_| vec![Fault::DigitsSwapped { nth: 1 }]);
    add("other scale from the first on", &[Hand], WITH_GLAZE, |_| {
        vec![Fault::OtherScale { from_nth: 0 }]
    });
    add("other scale from half way on", &[Hand], GOLD, |usual| {
        vec![Fault::OtherScale { from_nth: (0.5 * usual / 20.0) as usize }]
    });
    add("times 20 min late", &[Hand], GOLD, |_| vec![Fault::TimesOff { late_min: 20.0 }]);
}

fn time(add: Add<'_>) {
    add("lit noted 30 min late", EVERY, GOLD, |_| vec![Fault::LitNoted { late_min: 30.0 }]);
    add("lit noted 30 min early", &[Clock], GOLD, |_| vec![Fault::LitNoted { late_min: -30.0 }]);
    add("lit noted 60 min late", EVERY, WITH_GLAZE, |_| vec![Fault::LitNoted { late_min: 60.0 }]);
    add("lit noted 60 min early", EVERY, GOLD, |_| vec![Fault::LitNoted { late_min: -60.0 }]);
    add("10 % faster", &[Clock], GOLD, |_| vec![Fault::Pace { factor: 1.1 }]);
    add("20 % faster", &[Clock], THREE, |_| vec![Fault::Pace { factor: 1.2 }]);
    add("50 % faster", EVERY, GOLD, |_| vec![Fault::Pace { factor: 1.5 }]);
    add("10 % slower", &[Clock], GOLD, |_| vec![Fault::Pace { factor: 1.0 / 1.1 }]);
    add("20 % slower", &[Clock], GOLD, |_| vec![Fault::Pace { factor: 1.0 / 1.2 }]);
    add("50 % slower", EVERY, GOLD, |_| vec![Fault::Pace { factor: 1.0 / 1.5 }]);
}

fn words(add: Add<'_>) {
    const GUIDE: usize = 0;
    const TARGET: usize = 1;
    add("first look, target one too far", EVERY, GOLD, |_| {
        vec![Fault::WordWrong { nth_look: 0, cone: TARGET, further: true }]
    });
    add("second look, target one too far", EVERY, GOLD, |_| {
        vec![Fault::WordWrong { nth_look: 1, cone: TARGET, further: true }]
    });
    add("first look, target one too little", EVERY, GOLD, |_| {
        vec![Fault::WordWrong { nth_look: 0, cone: TARGET, further: false }]
    });
    add("first look, guide one too little", EVERY, GOLD, |_| {
        vec![Fault::WordWrong { nth_look: 0, cone: GUIDE, further: false }]
    });
    add("guide and target swapped", EVERY, GOLD, |_| vec![Fault::ConesSwapped]);
    add("guide forgotten", EVERY, WITH_GLAZE, |_| vec![Fault::GuideForgotten]);
}

fn heat(add: Add<'_>) {
    add("burner out for 30 min", EVERY, WITH_BISQUE, |usual| {
        vec![Fault::BurnerOut { at_min: 0.6 * usual, for_min: 30.0 }]
    });
    add("power cut of 40 min", EVERY, GOLD, |usual| {
        vec![Fault::PowerCut { at_min: 0.7 * usual, for_min: 40.0 }]
    });
    add("gas running low", EVERY, WITH_GLAZE, |usual| {
        vec![Fault::GasLow { from_min: 0.6 * usual, to_share: 0.7, until_min: 0.9 * usual }]
    });
}
