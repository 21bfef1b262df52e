//! Situations a kiln lead gets into, one file each in `tests/scenarios/`: what had happened, and
//! what the forecast and the advice must say. Unknown keys are refused.

use std::collections::{BTreeMap, BTreeSet};

use serde::Deserialize;

use spyhole::testing::firing::known::Interruption;

use crate::prelude::*;
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
    /// When it was lit again after that.
    resumed_h: Option<f64>,
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

/// What is expected, by its name: two numbers to lie between, a word, or words of which none may be
/// missing and none be there beside.
type Expected = BTreeMap<String, toml::Value>;

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
        let aborted = self.aborted_h.map(|h| (after(h), "gas ran out".into()));
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
            aborted: aborted.clone().filter(|_| self.resumed_h.is_none()),
            interruptions: aborted
                .zip(self.resumed_h)
                .map(|((aborted, reason), h)| Interruption { aborted, reason, resumed: after(h) })
                .into_iter()
                .collect(),
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
            load: Some(&self.load()),
            kiln: Some(&kiln),
            schedule: schedule.as_deref(),
            corrections: Some(&corrections),
            ..question(&self.firing(), &past, after(self.asked_h))
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

/// A case by its name in words: `FlatLine` is "flat line".
fn name_of(case: impl std::fmt::Debug) -> String {
    let told = format!("{case:?}");
    let name = told.chars().take_while(|c| c.is_alphanumeric());
    let word = |c: char| if c.is_uppercase() { format!(" {}", c.to_lowercase()) } else { c.into() };
    name.map(word).collect::<String>().trim_start().to_owned()
}

fn name_of_ground(ground: &Ground) -> String {
    match ground {
        Ground::Readings { doubted: Some(_), .. } => "doubted readings".into(),
        other => name_of(other),
    }
}

/// What came of a scenario, by the names under which it may be expected.
fn outcome(scenario: &Scenario, advice: &Advice) -> BTreeMap<&'static str, toml::Value> {
    let forecast = advice.forecast.as_ref().ok();
    let hours = |at: Option<Moment>| at.map(|at| (at - LIT).as_hours());
    let minutes = |span: Option<Span>| span.map(Span::as_minutes);
    let target = pack(&scenario.target).target;
    let lean = forecast.and_then(|f| f.cones.iter().find(|cone| cone.cone == target));
    let aside = forecast.map_or(&[][..], |f| &f.set_aside);
    let numbers = [
        ("p05_h", hours(forecast.map(|f| f.p05))),
        ("p50_h", hours(forecast.map(|f| f.p50))),
        ("if_not_down_p50_h", hours(advice.otherwise.as_ref().map(|f| f.p50))),
        ("p95_h", hours(forecast.map(|f| f.p95))),
        ("width_min", minutes(forecast.map(|f| f.p95 - f.p05))),
        ("dropped", forecast.map(|f| f.dropped)),
        ("watch_opens_h", hours(advice.watch_opens)),
        ("next_look_h", hours(advice.next_look)),
        ("forgives_min", minutes(advice.forgives)),
        ("overshoot_min", minutes(advice.overshoot)),
        ("overshoot_cones", advice.overshoot_cones),
        ("chamber_c", forecast.and_then(|f| f.chamber).map(|c| c.0)),
        ("climb_c_per_h", forecast.and_then(|f| f.climb).map(|c| c.0)),
        ("target_lean_deg", lean.map(|cone| cone.lean_deg)),
        ("set_aside_count", Some(aside.len() as f64)),
    ];
    let reasons: BTreeSet<String> = aside.iter().map(|one| name_of(one.why)).collect();
    let grounds = forecast.map_or(Vec::new(), |f| f.rests_on.iter().map(name_of_ground).collect());
    let request = advice.request.map_or("nothing", |request| request.asked.name());
    let words = [
        ("say", Some(advice.said().to_owned())),
        ("declined", advice.forecast.as_ref().err().map(name_of)),
        ("doubt", advice.doubt.map(name_of)),
        ("request", Some(request.to_owned())),
    ];
    let numbers = numbers.into_iter().filter_map(|(name, value)| Some((name, value?.into())));
    let words = words.into_iter().filter_map(|(name, value)| Some((name, value?.into())));
    let lists = [("set_aside", Vec::from_iter(reasons).into()), ("rests_on", grounds.into())];
    numbers.chain(words).chain(lists).collect()
}

/// What does not come out as expected, each as a line; a forecast may be declined and a look be doubted
/// only where that is expected.
fn differences(scenario: &Scenario, advice: &Advice) -> Vec<String> {
    let (outcome, expect) = (outcome(scenario, advice), &scenario.expect);
    let as_expected = |name: &str, wanted: &toml::Value| {
        let seen = outcome.get(name);
        let bounds = wanted.as_array().map(|list| list.iter().map(number).collect::<Vec<_>>());
        match (bounds.as_deref(), seen.and_then(number)) {
            (Some(&[Some(low), Some(high)]), seen) => seen.is_some_and(|v| low <= v && v <= high),
            _ => seen == Some(wanted),
        }
    };
    let unexpected = ["declined", "doubt"].into_iter().filter(|name| !expect.contains_key(*name));
    let unexpected =
        unexpected.filter_map(|name| Some(format!("{name} is {}", outcome.get(name)?)));
    let wrong = expect.iter().filter(|(name, wanted)| !as_expected(name, wanted));
    let wrong =
        wrong.map(|(name, wanted)| format!("{name} is {:?}, not {wanted}", outcome.get(&name[..])));
    wrong.chain(unexpected).collect()
}

fn number(value: &toml::Value) -> Option<f64> {
    value.as_float().or(value.as_integer().map(|whole| whole as f64))
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
