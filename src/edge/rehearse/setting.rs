//! The made-up shops, as tables: which kilns there are, what was lit in them and when, and what
//! goes wrong.

use super::kiln::{Climb, ROOM};
use crate::firing::event::Seen;
use crate::kiln::{Fuel, Kiln};
use crate::scene::Role;
use crate::units::{Celsius, Moment, Span};
use crate::words::{Lesson, Mishap};

/// When a rehearsal begins: nine in the morning of a made-up day.
pub const START: Moment = Moment(1_773_306_000_000);

/// The kiln the trainee is to mind.
pub const PRACTICE_KILN: &str = "Heron";

/// One made-up shop.
#[derive(Debug)]
pub(super) struct Setting {
    pub(super) kilns: &'static [Described],
    /// What was lit before the trainee came, in the order of time.
    pub(super) lit: &'static [Lit],
    /// What is packed and waits to be lit.
    pub(super) packed: Option<&'static str>,
    /// The trainee comes when this cone of this kiln is so far; at [`START`] where nothing
    /// is said.
    pub(super) comes_at: Option<(&'static str, Role, Seen)>,
    /// The kiln in which something goes wrong, and how long after the trainee came.
    pub(super) wrong: Option<(&'static str, Span, Mishap)>,
}

/// A kiln of a made-up shop.
#[derive(Debug)]
pub(super) struct Described {
    pub(super) name: &'static str,
    pub(super) fuel: Fuel,
    pub(super) litres: f64,
    pub(super) ceiling_c: f64,
    /// Whether its probe is read; without one there are the clock and the looks.
    pub(super) probe: bool,
}

impl Described {
    pub(super) fn kiln(&self) -> Kiln {
        let (litres, ceiling) = (Some(self.litres), Some(Celsius(self.ceiling_c)));
        // As fast as it is simulated: no alarm for that speaks against the teacher.
        let fastest_climb = Some(Climb::of(self.fuel, 1.0).rate_at(ROOM));
        Kiln { name: self.name.into(), fuel: self.fuel, litres, ceiling, fastest_climb }
    }
}

/// One firing lit before the trainee came.
#[derive(Debug)]
pub(super) struct Lit {
    pub(super) kiln: &'static str,
    pub(super) load_type: &'static str,
    pub(super) schedule: Option<&'static str>,
    /// How long before [`START`].
    pub(super) before: Span,
}

/// What was done to kilns between firings: how many days ago, which, and what.
pub(super) const CARE: [(i64, &str, &str); 3] = [
    (410, "Otter", "new elements"),
    (255, PRACTICE_KILN, "burners cleaned"),
    (60, "Finch", "door seal mended"),
];

const GOLD: Option<&str> = Some("Lustre and gold");

const fn lit(
    kiln: &'static str,
    load_type: &'static str,
    schedule: Option<&'static str>,
    before: Span,
) -> Lit {
    Lit { kiln, load_type, schedule, before }
}

const fn kiln(name: &'static str, fuel: Fuel, litres: f64, ceiling_c: f64) -> Described {
    Described { name, fuel, litres, ceiling_c, probe: true }
}

const HERON: Described = kiln(PRACTICE_KILN, Fuel::Gas, 300.0, 1100.0);
const OTTER: Described = kiln("Otter", Fuel::Electric, 120.0, 1260.0);
const WREN: Described = kiln("Wren", Fuel::Gas, 90.0, 1260.0);

/// The whole shop on its morning: gold packed, one kiln cooling, one heating, one in its watch,
/// one cold, and firings of the days before.
const WHOLE: Setting = Setting {
    kilns: &[
        HERON,
        OTTER,
        WREN,
        Described { probe: false, ..kiln("Badger", Fuel::Electric, 200.0, 1280.0) },
        kiln("Finch", Fuel::Electric, 40.0, 1300.0),
    ],
    lit: &[
        lit(PRACTICE_KILN, "gold", GOLD, Span::hours(70)),
        lit("Wren", "earthenware bisque", None, Span::hours(68)),
        lit("Badger", "decal", None, Span::hours(54)),
        lit(PRACTICE_KILN, "gold", GOLD, Span::hours(46)),
        lit("Finch", "china paint", None, Span::hours(44)),
        lit("Otter", "decal", None, Span::hours(15)),
        lit("Badger", "decal", None, Span::minutes(395)),
        lit("Wren", "earthenware bisque", None, Span::minutes(150)),
    ],
    packed: Some("gold"),
    comes_at: Some(("Badger", Role::Target, Seen::Leaning)),
    wrong: None,
};

/// What goes wrong in the whole shop: which one, the seed decides.
const WRONG: [(&str, Span, Mishap); 3] = [
    ("Wren", Span::minutes(40), Mishap::ProbeBroken),
    ("Badger", Span::minutes(5), Mishap::NobodyLooks),
    ("Wren", Span::minutes(40), Mishap::PressureLow),
];

/// The days before a lesson, and the same with gold under way.
const GOLD_BEFORE: [Lit; 2] = [
    lit(PRACTICE_KILN, "gold", GOLD, Span::hours(70)),
    lit(PRACTICE_KILN, "gold", GOLD, Span::hours(46)),
];
const GOLD_UNDER_WAY: [Lit; 3] = {
    let [first, second] = GOLD_BEFORE;
    [first, second, lit(PRACTICE_KILN, "gold", GOLD, Span::minutes(150))]
};

/// The shop of a lesson: one kiln with work in it, so that the screen is that kiln.
const ALONE: Setting = Setting {
    kilns: &[HERON, OTTER, WREN],
    lit: &GOLD_BEFORE,
    packed: Some("gold"),
    comes_at: None,
    wrong: None,
};

/// The shop in which a whole firing is practised.
pub(super) fn whole(seed: u64) -> Setting {
    Setting { wrong: Some(WRONG[(seed.wrapping_sub(1) % 3) as usize]), ..WHOLE }
}

/// The shop of a lesson.
pub(super) fn of(lesson: Lesson) -> Setting {
    let under_way = Setting { lit: &GOLD_UNDER_WAY, packed: None, ..ALONE };
    match lesson {
        Lesson::GoodFiring => ALONE,
        Lesson::CastDue => Setting { packed: None, ..ALONE },
        Lesson::MissedLook => {
            Setting { comes_at: Some((PRACTICE_KILN, Role::Guide, Seen::Leaning)), ..under_way }
        }
        Lesson::DeadProbe => Setting {
            wrong: Some((PRACTICE_KILN, Span::minutes(12), Mishap::ProbeBroken)),
            ..under_way
        },
    }
}

/// How many times as fast as the clock time runs in a lesson, unless somebody says otherwise:
/// each takes about five minutes with the reading.
pub(super) fn speed(lesson: Lesson) -> f64 {
    match lesson {
        Lesson::GoodFiring => 90.0,
        Lesson::MissedLook => 20.0,
        Lesson::DeadProbe => 40.0,
        Lesson::CastDue => 10.0,
    }
}
