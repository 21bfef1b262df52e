//! `spyhole schedule`: the shipped schedules and files of the shop's own.

use std::io::Write;
use std::path::Path;

use anyhow::Result;
use clap::Subcommand;
use serde_json::{Value, json};

use super::context::Unusable;
use super::schedule_text as text;
use super::tops::{Finish, Tops, solve_cone, solve_schedule};
use crate::cone::{Cone, Family, curve};
use crate::edge::house_file::House;
use crate::edge::own_schedules::{self, Offered};
use crate::edge::plain;
use crate::edge::schedule_file;
use crate::edge::shipped_schedules;
use crate::schedule::{Caution, Limits, Schedule, Severity, Simulation, check, simulate};
use crate::units::{Celsius, CelsiusPerHour, Scale, Span};
use crate::words;

/// The states a simulation is printed with in JSON.
const SAMPLES: usize = 241;

/// Firing schedules: list and show them, check them, solve them for a cone, try them out.
#[derive(Debug, Clone, Subcommand)]
pub enum ScheduleCommand {
    /// List the schedules that come with the program, and the shop's own.
    List,
    /// Show one schedule with its plan and the reasons for it.
    Show {
        /// The name of a schedule, or a file.
        #[arg(value_name = "NAME|FILE")]
        schedule: String,
    },
    /// Check a schedule against what the trade would say, and against what a kiln can do.
    ///
    /// Each finding says where it comes from. A schedule with something wrong in it ends with
    /// exit code 2; cautions and remarks do not.
    Check {
        /// The name of a schedule, or a file.
        #[arg(value_name = "NAME|FILE")]
        schedule: String,
        /// The hottest the kiln's maker allows, like 1100C or 2012F.
        #[arg(long, value_name = "TEMPERATURE", value_parser = Celsius::parse)]
        ceiling: Option<Celsius>,
        /// The fastest the kiln can climb, like 200C/h or 360F/h.
        #[arg(long, value_name = "RATE", value_parser = CelsiusPerHour::parse)]
        fastest: Option<CelsiusPerHour>,
    },
    /// Find the top temperature at which a cone is just down at the end of the soak.
    ///
    /// For a schedule, its own top is set beside the one solved for; with --final-rate or --soak
    /// the answer is the top that does the same heat work when the firing ends that way. For a bare
    /// cone give the cone and the rate.
    Solve {
        /// The name of a schedule, or a file. Left out: give --cone and --rate.
        #[arg(
            value_name = "NAME|FILE",
            conflicts_with_all = ["cone", "rate", "family"],
            required_unless_present = "cone"
        )]
        schedule: Option<String>,
        /// The cone, as potters write it: 018, 05.5, 6.
        #[arg(long, requires = "rate", value_parser = Cone::parse)]
        cone: Option<Cone>,
        /// The rate of the climb to the top, like 150C/h or 270F/h.
        #[arg(long, requires = "cone", value_parser = CelsiusPerHour::parse)]
        rate: Option<CelsiusPerHour>,
        /// The type of the cone: "self-supporting", "large", "small" and so on.
        #[arg(long, requires = "cone", value_parser = Family::parse)]
        family: Option<Family>,
        /// How long to stay at the top, like 10min or 1h30.
        #[arg(long, value_name = "LENGTH", value_parser = Span::parse)]
        soak: Option<Span>,
        /// Another rate for the climb to the top, to compare with.
        #[arg(long, value_name = "RATE", value_parser = CelsiusPerHour::parse)]
        final_rate: Option<CelsiusPerHour>,
    },
    /// Follow a schedule as if the kiln did exactly what it says, and see when the cones go down.
    Simulate {
        /// The name of a schedule, or a file.
        #[arg(value_name = "NAME|FILE")]
        schedule: String,
        /// Draw with characters that every terminal has.
        #[arg(long)]
        ascii: bool,
        /// How many columns the drawing takes.
        #[arg(long, default_value_t = 80, value_parser = clap::value_parser!(u16).range(40..=400))]
        width: u16,
        /// How many rows the drawing takes.
        #[arg(long, default_value_t = 20, value_parser = clap::value_parser!(u16).range(10..=200))]
        height: u16,
    },
    /// Print the JSON Schema of a schedule file, for editors that can use one.
    Schema,
}

/// A checked schedule in which something is wrong.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "the schedule \"{name}\" has {count} {} and cannot be fired as it stands; see above",
    if *count == 1 { "fault" } else { "faults" }
)]
pub struct WrongSchedule {
    pub name: String,
    pub count: usize,
}

/// Runs one command and writes its answer, as sentences or as JSON.
///
/// # Errors
/// What was asked cannot be answered (the root is one of the typed errors of the schedule modules),
/// [`WrongSchedule`] after a report that found something wrong, or the answer cannot be written.
pub fn run(
    command: &ScheduleCommand,
    shop: &Path,
    json: bool,
    scale: Scale,
    out: &mut dyn Write,
) -> Result<()> {
    let house = House::or_usual(shop);
    let find = |typed: &str| -> Result<Schedule> {
        let found = own_schedules::find(shop, &house, typed)?.found;
        found.map_err(|why| Unusable(why).into())
    };
    let known = || own_schedules::offered(shop, &house);
    match command {
        ScheduleCommand::List => list(&known(), json, scale, out),
        ScheduleCommand::Show { schedule } => {
            let schedule = find(schedule)?;
            let simulation = simulate(&schedule, 2)?;
            if json {
                return write_json(out, &shown(&schedule, &simulation));
            }
            text::show(&schedule, &simulation, scale, out)
        }
        ScheduleCommand::Check { schedule, ceiling, fastest } => {
            let limits = Limits { ceiling: *ceiling, fastest: *fastest };
            run_check(&find(schedule)?, &limits, json, scale, out)
        }
        ScheduleCommand::Solve { schedule: Some(name), soak, final_rate, .. } => {
            let schedule = find(name)?;
            let (tops, mut solved) = solve_schedule(&schedule, *final_rate, *soak)?;
            if json {
                // The reasons given were for the old top.
                let anew = text::ending(&tops.after, scale);
                solved.reasoning = format!("Solved again: {anew}. {}", solved.reasoning);
                let file: Value = serde_json::from_str(&schedule_file::to_json(&solved))?;
                let mut answer = tops_json(&tops);
                answer["schedule"] = file;
                return write_json(out, &answer);
            }
            let changed = final_rate.is_some() || soak.is_some();
            text::solved_schedule(&schedule, &tops, changed, scale, out)
        }
        ScheduleCommand::Solve { cone, rate, family, soak, final_rate, .. } => {
            let (Some(cone), Some(rate)) = (*cone, *rate) else {
                return Err(NothingToSolve.into());
            };
            let curve = curve(cone, family.unwrap_or_default())?;
            let tops = solve_cone(curve, rate, soak.unwrap_or_default(), *final_rate)?;
            if json {
                return write_json(out, &tops_json(&tops));
            }
            text::solved_cone(&tops, scale, out)
        }
        ScheduleCommand::Simulate { schedule, ascii, width, height } => {
            let schedule = find(schedule)?;
            let simulation = simulate(&schedule, SAMPLES)?;
            if json {
                return write_json(out, &simulated(&schedule, &simulation));
            }
            let plot = crate::edge::plot::Plot::of_schedule(&schedule, &simulation, scale);
            text::simulation(&schedule, &simulation, scale, out)?;
            let drawing = crate::edge::plot::curve_plot(&plot, *width, *height, *ascii);
            Ok(write!(out, "\n{drawing}")?)
        }
        ScheduleCommand::Schema => Ok(out.write_all(schedule_file::JSON_SCHEMA.as_bytes())?),
    }
}

/// Neither a schedule nor a cone with a rate was given.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("nothing to solve: give a schedule, or a cone and a rate, like --cone 018 --rate 150C/h")]
pub struct NothingToSolve;

fn list(known: &[Offered], json: bool, scale: Scale, out: &mut dyn Write) -> Result<()> {
    let shipped: Vec<(&str, Schedule)> = shipped_schedules::all().collect();
    let own: Vec<&Offered> = known.iter().filter(|one| one.own).collect();
    if !json {
        return text::list(&shipped, &own, scale, out);
    }
    let row = |key: &str, schedule: &Schedule, own: bool| {
        json!({
            "key": key,
            "name": schedule.name,
            "ware": schedule.ware.name(),
            "target": schedule.target.name(),
            "family": schedule.family.name(),
            "top_c": rounded(schedule.top().0),
            "total_minutes": rounded(schedule.total().as_minutes()),
            "own": own,
        })
    };
    let shipped = shipped.iter().map(|(key, schedule)| row(key, schedule, false));
    let own = own.iter().map(|one| match &one.found {
        Ok(schedule) => row(&one.reference, schedule, true),
        Err(why) => json!({ "key": one.reference, "own": true, "cannot_be_used": why }),
    });
    write_json(out, &shipped.chain(own).collect())
}

fn run_check(
    schedule: &Schedule,
    limits: &Limits,
    json: bool,
    scale: Scale,
    out: &mut dyn Write,
) -> Result<()> {
    let cautions = check(schedule, limits)?;
    if json {
        let rows: Vec<Value> =
            cautions.iter().map(|caution| caution_json(caution, scale)).collect();
        write_json(out, &json!({ "name": schedule.name, "cautions": rows }))?;
    } else {
        text::cautions(schedule, &cautions, scale, out)?;
    }
    match cautions.iter().filter(|caution| caution.rule.severity() == Severity::Wrong).count() {
        0 => Ok(()),
        count => Err(WrongSchedule { name: schedule.name.clone(), count }.into()),
    }
}

fn caution_json(caution: &Caution, scale: Scale) -> Value {
    json!({
        "rule": caution.rule.name(),
        "severity": caution.rule.severity().name(),
        "segment": caution.segment.map(|index| index + 1),
        "text": words::caution(&caution.rule, scale),
        "source": caution.rule.source(),
    })
}

fn tops_json(tops: &Tops) -> Value {
    let finish = |finish: &Finish| {
        json!({
            "rate_c_per_h": rounded(finish.rate.0),
            "soak_minutes": rounded(finish.soak.as_minutes()),
            "top_c": rounded(finish.top.0),
            "top_f": rounded(finish.top.fahrenheit()),
            "basis": finish.basis.name(),
        })
    };
    json!({
        "cone": tops.cone.name(),
        "family": tops.family.name(),
        "before": finish(&tops.before),
        "after": finish(&tops.after),
        "difference_c": rounded(tops.after.top.0 - tops.before.top.0),
    })
}

fn shown(schedule: &Schedule, simulation: &Simulation) -> Value {
    let file: Value =
        serde_json::from_str(&schedule_file::to_json(schedule)).expect("it was just written");
    let plan = schedule.plan().into_iter().map(
        |(elapsed, t)| json!({ "minutes": rounded(elapsed.as_minutes()), "celsius": rounded(t.0) }),
    );
    json!({
        "schedule": file,
        "plan": plan.collect::<Vec<_>>(),
        "total_minutes": rounded(simulation.total.as_minutes()),
        "cones": pack_json(simulation),
    })
}

fn pack_json(simulation: &Simulation) -> Vec<Value> {
    let cones = simulation.pack.iter().map(|course| {
        json!({
            "role": course.role.name(),
            "cone": course.cone.name(),
            "down_minutes": course.down.map(|(at, _)| rounded(at.as_minutes())),
            "down_c": course.down.map(|(_, t)| rounded(t.0)),
            "heat_work": rounded(course.heat_work),
        })
    });
    cones.collect()
}

fn simulated(schedule: &Schedule, simulation: &Simulation) -> Value {
    let samples = simulation.samples.iter().map(|sample| {
        let (heat_work, lean): (Vec<f64>, Vec<f64>) =
            sample.cones.iter().map(|(j, lean)| (rounded(*j), rounded(*lean))).unzip();
        json!({
            "minutes": rounded(sample.elapsed.as_minutes()),
            "celsius": rounded(sample.temperature.0),
            "heat_work": heat_work,
            "lean_deg": lean,
        })
    });
    json!({
        "name": schedule.name,
        "target": schedule.target.name(),
        "family": schedule.family.name(),
        "total_minutes": rounded(simulation.total.as_minutes()),
        "cones": pack_json(simulation),
        "cone_equivalent": simulation.equivalent.to_string(),
        "samples": samples.collect::<Vec<_>>(),
    })
}

/// To four places: finer than anything a kiln does, and short enough to read.
fn rounded(value: f64) -> f64 {
    (value * 1e4).round() / 1e4
}

fn write_json(out: &mut dyn Write, value: &Value) -> Result<()> {
    Ok(plain::write_json(out, value)?)
}
