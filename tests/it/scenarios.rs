//! Situations a kiln lead gets into, one file each in `tests/scenarios/`: what had happened, and
//! what the forecast and the advice must say. Unknown keys are refused.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use serde::Deserialize;
use spyhole::testing::cone::{Cone, Family};
use spyhole::testing::firing::event::{GlowSeen, Look};
use spyhole::testing::firing::{ConePack, Doubt, Firing, Looked, Seen, State};
use spyhole::testing::forecast::{Declined, Ground, Implausible, Question, USUAL_LIMIT};
use spyhole::testing::glow::{GlowWord, Room};
use spyhole::testing::kiln::{Fuel, Kiln, LoadType, Miss};
use spyhole::testing::review::suggestion::{Change, Corrections};
use spyhole::testing::units::{Celsius, CelsiusPerHour, Moment, Span};
use spyhole::testing::watch::task::Task;
use spyhole::testing::watch::{Advice, advise};

use crate::simulator::looked;

const LIT: Moment = Moment(1_750_000_000_000);

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Scenario {
    /// One sentence for whoever reads the file.
    about: String,
    asked_h: f64,
    #[serde(default = "yes")]
    lit: bool,
    #[serde(default = "cone_018")]
    target: String,
    usual_length_h: Option<f64>,
    #[serde(default = "half_a_cone")]
    over_cones: f64,
    fastest_climb_c_per_h: Option<f64>,
    /// Corners of the plan: hours since lit, C.
    schedule: Option<Vec<(f64, f64)>>,
    /// Single readings: hours since lit, C.
    #[serde(default)]
    readings: Vec<(f64, f64)>,
    /// Readings at even steps along a straight line.
    #[serde(default)]
    lines: Vec<Line>,
    #[serde(default)]
    looks: Vec<Seeing>,
    #[serde(default)]
    silent_h: Vec<f64>,
    /// The colour of the glow in a dark room: hours since lit.
    #[serde(default)]
    glows: Vec<(f64, String)>,
    /// Burner or switch: hours since lit, and the new setting.
    #[serde(default)]
    turned: Vec<(f64, String)>,
    /// What was accepted to be added to the probe of this kiln, hours since lit (below 0 before)
    /// and C.
    correction: Option<(f64, f64)>,
    off_h: Option<f64>,
    aborted_h: Option<f64>,
    #[serde(default)]
    past: Vec<Former>,
    expect: Expected,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Line {
    from_h: f64,
    to_h: f64,
    every_min: f64,
    from_c: f64,
    to_c: f64,
    /// Readings go up and down by this much in turn, C.
    #[serde(default)]
    jitter_c: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Seeing {
    h: f64,
    target: Option<String>,
    guide: Option<String>,
    guard: Option<String>,
}

/// A finished firing: looked at three minutes before and one minute after its drop.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Former {
    #[serde(default = "north")]
    kiln: String,
    #[serde(default = "gold")]
    load: String,
    #[serde(default = "cone_018")]
    target: String,
    length_h: f64,
    /// With half-hourly readings that climb steadily to this temperature at the drop.
    read_to_c: Option<f64>,
    #[serde(default)]
    turned: Vec<(f64, String)>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Expected {
    say: Option<String>,
    declined: Option<String>,
    p05_h: Option<(f64, f64)>,
    p50_h: Option<(f64, f64)>,
    p95_h: Option<(f64, f64)>,
    width_min: Option<(f64, f64)>,
    dropped: Option<(f64, f64)>,
    watch_opens_h: Option<(f64, f64)>,
    next_look_h: Option<(f64, f64)>,
    forgives_min: Option<(f64, f64)>,
    overshoot_min: Option<(f64, f64)>,
    overshoot_cones: Option<(f64, f64)>,
    chamber_c: Option<(f64, f64)>,
    climb_c_per_h: Option<(f64, f64)>,
    target_lean_deg: Option<(f64, f64)>,
    /// Every reason for which something was set aside, no more and no less.
    set_aside: Option<BTreeSet<String>>,
    set_aside_count: Option<(f64, f64)>,
    rests_on: Option<Vec<String>>,
    /// What is asked for beside looks.
    request: Option<String>,
    /// Why a "down" may be wrong, and the drop as expected if it is.
    doubt: Option<String>,
    if_not_down_p50_h: Option<(f64, f64)>,
}

fn yes() -> bool {
    true
}
fn cone_018() -> String {
    "018".into()
}
fn north() -> String {
    "North".into()
}
fn gold() -> String {
    "gold".into()
}
fn half_a_cone() -> f64 {
    0.5
}

fn after(hours: f64) -> Moment {
    LIT + Span::from_hours(hours)
}

fn pack(target: &str) -> ConePack {
    ConePack::usual(Cone::parse(target).unwrap(), Family::SelfSupporting)
}

fn word(text: &Option<String>) -> Option<Seen> {
    let text = text.as_ref()?;
    Some(Seen::ALL.into_iter().find(|seen| seen.name() == text).expect("a word for a cone"))
}

fn glow(name: &str) -> GlowSeen {
    let named = GlowWord::ALL.into_iter().find(|word| word.name() == name);
    GlowSeen { colour: named.expect("a word for the glow"), room: Room::Dark }
}

impl Scenario {
    fn firing(&self) -> Firing {
        let mut readings: Vec<(f64, f64)> = self.readings.clone();
        for line in &self.lines {
            let count = ((line.to_h - line.from_h) * 60.0 / line.every_min).round() as usize;
            for at in 0..=count {
                let part = at as f64 / count as f64;
                let jitter = if at % 2 == 0 { line.jitter_c } else { -line.jitter_c };
                readings.push((
                    line.from_h + part * (line.to_h - line.from_h),
                    line.from_c + part * (line.to_c - line.from_c) + jitter,
                ));
            }
        }
        readings.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut looks: Vec<Looked> = self
            .looks
            .iter()
            .map(|seeing| {
                let look = Look {
                    target: word(&seeing.target),
                    guide: word(&seeing.guide),
                    guard: word(&seeing.guard),
                };
                looked(after(seeing.h), look)
            })
            .collect();
        looks.sort_by_key(|looked| looked.at);
        Firing {
            kiln: north(),
            load_type: gold(),
            pack: Some(pack(&self.target)),
            schedule: self.schedule.as_ref().map(|_| "the plan".into()),
            lit: self.lit.then_some(LIT),
            readings: readings.iter().map(|(h, c)| (after(*h), Celsius(*c))).collect(),
            silences: self.silent_h.iter().map(|h| (after(*h), "unplugged".into())).collect(),
            looks,
            glows: self.glows.iter().map(|(h, name)| (after(*h), glow(name))).collect(),
            turned: self.turned.iter().map(|(h, to)| (after(*h), to.clone())).collect(),
            off: self.off_h.map(after),
            aborted: self.aborted_h.map(|h| (after(h), "gas ran out".into())),
            state: if self.lit { State::Lit } else { State::Planned },
            ..Firing::default()
        }
    }

    fn load(&self) -> LoadType {
        let pack = pack(&self.target);
        LoadType {
            name: gold(),
            target: pack.target,
            family: pack.family,
            under_cones: 0.5,
            over_cones: self.over_cones,
            under: Miss::FireAgain,
            over: Miss::Lost,
            usual_length: self.usual_length_h.map(Span::from_hours),
            cautions: Vec::new(),
        }
    }

    fn advice(&self) -> Advice {
        let schedule: Option<Vec<(Span, Celsius)>> = self.schedule.as_ref().map(|corners| {
            corners.iter().map(|(h, c)| (Span::from_hours(*h), Celsius(*c))).collect()
        });
        let mut corrections = Corrections::default();
        if let Some((from_h, add_c)) = self.correction {
            let change = Change::ProbeCorrection { kiln: north(), add_c };
            corrections.accept(after(from_h), &change);
        }
        let past: Vec<Firing> = self.past.iter().map(Former::firing).collect();
        let kiln = Kiln {
            name: north(),
            fuel: Fuel::Gas,
            litres: None,
            ceiling: None,
            fastest_climb: self.fastest_climb_c_per_h.map(CelsiusPerHour),
        };
        advise(&Question {
            firing: &self.firing(),
            load: Some(&self.load()),
            kiln: Some(&kiln),
            past: &past,
            schedule: schedule.as_deref(),
            corrections: Some(&corrections),
            now: after(self.asked_h),
            limit: USUAL_LIMIT,
        })
    }
}

impl Former {
    fn firing(&self) -> Firing {
        let look = |target| Look { target: Some(target), guide: None, guard: None };
        let readings = self.read_to_c.map_or(Vec::new(), |end_c| {
            (1..)
                .map(|half_hour| f64::from(half_hour) * 0.5)
                .take_while(|h| *h < self.length_h)
                .map(|h| (after(h), Celsius((20.0 + (end_c - 20.0) * h / self.length_h).round())))
                .collect()
        });
        let down = after(self.length_h + 1.0 / 60.0);
        Firing {
            kiln: self.kiln.clone(),
            load_type: self.load.clone(),
            pack: Some(pack(&self.target)),
            lit: Some(LIT),
            readings,
            turned: self.turned.iter().map(|(h, to)| (after(*h), to.clone())).collect(),
            looks: vec![
                looked(after(self.length_h - 0.05), look(Seen::Half)),
                looked(down, look(Seen::Down)),
            ],
            off: Some(down),
            state: State::Closed,
            ..Firing::default()
        }
    }
}

fn name_of(why: Implausible) -> &'static str {
    match why {
        Implausible::Jump => "jump",
        Implausible::FlatLine => "flat line",
        Implausible::Reversed => "reversed",
        Implausible::OpenCircuit => "open circuit",
        Implausible::LikelyFahrenheit => "likely fahrenheit",
        Implausible::ContradictsLook => "contradicts look",
        Implausible::Silent => "silent",
    }
}

fn name_of_declined(declined: Declined) -> &'static str {
    match declined {
        Declined::NotLit => "not lit",
        Declined::Over => "over",
        Declined::NothingKnown => "nothing known",
        Declined::Aborted => "aborted",
        Declined::NotClimbing => "not climbing",
    }
}

fn name_of_ground(ground: &Ground) -> &'static str {
    match ground {
        Ground::Schedule { .. } => "schedule",
        Ground::PastFirings { .. } => "past firings",
        Ground::Readings { doubted: Some(_), .. } => "doubted readings",
        Ground::Readings { .. } => "readings",
        Ground::Glow { .. } => "glow",
        Ground::Looks { .. } => "looks",
        Ground::Turns { .. } => "turns",
        Ground::ProbeChanged { .. } => "changed probe",
        Ground::Correction { .. } => "correction",
        Ground::UsualLength => "usual length",
    }
}

/// Whatever does not come out as expected, each as a line.
fn differences(scenario: &Scenario, advice: &Advice) -> Vec<String> {
    let expect = &scenario.expect;
    let mut wrong = Vec::new();
    let mut within = |what: &str, expected: Option<(f64, f64)>, seen: Option<f64>| {
        let Some((low, high)) = expected else { return };
        if seen.is_none_or(|seen| seen < low || seen > high) {
            wrong.push(format!("{what} is {seen:?}, not from {low} to {high}"));
        }
    };
    let hours = |at: Option<Moment>| at.map(|at| (at - LIT).as_hours());
    let minutes = |span: Option<Span>| span.map(Span::as_minutes);
    let forecast = advice.forecast.as_ref().ok();
    within("p05_h", expect.p05_h, hours(forecast.map(|f| f.p05)));
    within("p50_h", expect.p50_h, hours(forecast.map(|f| f.p50)));
    let otherwise = advice.otherwise.as_ref();
    within("if_not_down_p50_h", expect.if_not_down_p50_h, hours(otherwise.map(|f| f.p50)));
    within("p95_h", expect.p95_h, hours(forecast.map(|f| f.p95)));
    within("width_min", expect.width_min, minutes(forecast.map(|f| f.p95 - f.p05)));
    within("dropped", expect.dropped, forecast.map(|f| f.dropped));
    within("watch_opens_h", expect.watch_opens_h, hours(advice.watch_opens));
    within("next_look_h", expect.next_look_h, hours(advice.next_look));
    within("forgives_min", expect.forgives_min, minutes(advice.forgives));
    within("overshoot_min", expect.overshoot_min, minutes(advice.overshoot));
    within("overshoot_cones", expect.overshoot_cones, advice.overshoot_cones);
    within("chamber_c", expect.chamber_c, forecast.and_then(|f| f.chamber).map(|c| c.0));
    within("climb_c_per_h", expect.climb_c_per_h, forecast.and_then(|f| f.climb).map(|c| c.0));
    let target = pack(&scenario.target).target;
    let lean = forecast.and_then(|f| f.cones.iter().find(|cone| cone.cone == target));
    within("target_lean_deg", expect.target_lean_deg, lean.map(|cone| cone.lean_deg));
    let aside = forecast.map_or(&[][..], |f| &f.set_aside);
    within("set_aside_count", expect.set_aside_count, Some(aside.len() as f64));
    let reasons: BTreeSet<String> = aside.iter().map(|a| name_of(a.why).to_owned()).collect();
    let mut same = |what: &str, equal: bool, seen: String| {
        if !equal {
            wrong.push(format!("{what} is {seen}"));
        }
    };
    if let Some(expected) = &expect.set_aside {
        same("set_aside", reasons == *expected, format!("{reasons:?}"));
    }
    if let Some(expected) = &expect.say {
        let said = match advice.say {
            Task::NextLook => "wait",
            Task::LookDue => "look",
            other => other.name(),
        };
        same("say", said == expected, said.into());
    }
    let declined = advice.forecast.as_ref().err().map(|declined| name_of_declined(*declined));
    same("declined", declined == expect.declined.as_deref(), format!("{declined:?}"));
    let doubt = advice.doubt.map(|doubt| match doubt {
        Doubt::StoodUp(_) => "stood up",
        Doubt::GuideStood(_) => "guide stood",
        Doubt::Unlikely(_) => "unlikely",
    });
    same("doubt", doubt == expect.doubt.as_deref(), format!("{doubt:?}"));
    if let Some(expected) = &expect.request {
        let seen = advice.request.map_or("nothing", |request| request.asked.name());
        same("request", seen == expected, seen.into());
    }
    if let Some(expected) = &expect.rests_on {
        let grounds: Vec<&str> =
            forecast.map_or(Vec::new(), |f| f.rests_on.iter().map(name_of_ground).collect());
        same("rests_on", grounds == *expected, format!("{grounds:?}"));
    }
    wrong
}

#[test]
fn regress_every_situation_comes_out_as_its_file_says() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/scenarios");
    let mut wrong = Vec::new();
    let mut count = 0;
    for entry in fs::read_dir(folder).expect("the folder of scenarios") {
        let path = entry.expect("a scenario").path();
        let text = fs::read_to_string(&path).expect("a scenario file");
        let name = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        let scenario: Scenario =
            toml::from_str(&text).unwrap_or_else(|error| panic!("{name}: {error}"));
        assert!(!scenario.about.is_empty(), "{name} does not say what it is about");
        for line in differences(&scenario, &scenario.advice()) {
            wrong.push(format!("{name}: {line}"));
        }
        count += 1;
    }
    assert!(count >= 25, "only {count} scenarios");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
