//! What `spyhole schedule` says to a person.

use std::io::Write;

use anyhow::Result;

use super::tops::{Finish, Tops};
use crate::cone::chart::SOURCE;
use crate::edge::own_schedules::Offered;
use crate::schedule::simulate::ConeCourse;
use crate::schedule::{Caution, Schedule, Simulation};
use crate::units::{Scale, Span};
use crate::words;

/// The columns running text is kept to.
const WIDTH: usize = 80;

pub(super) fn list(
    shipped: &[(&str, Schedule)],
    own: &[&Offered],
    scale: Scale,
    out: &mut dyn Write,
) -> Result<()> {
    let usable = own.iter().filter_map(|one| Some((one.file_name(), one.schedule()?)));
    let all: Vec<(&str, &Schedule, bool)> = shipped
        .iter()
        .map(|(key, schedule)| (*key, schedule, false))
        .chain(usable.map(|(file, schedule)| (file, schedule, true)))
        .collect();
    let widest = all.iter().map(|(key, ..)| key.len()).max().unwrap_or(0);
    for (key, schedule, own) in all {
        writeln!(
            out,
            "{key:widest$}  cone {:<4} top {:<7} {:>11}  {}",
            schedule.target,
            schedule.top().display(scale),
            schedule.total().to_string(),
            words::schedule_name(schedule, own),
        )?;
    }
    for one in own {
        if let Err(why) = &one.found {
            writeln!(out, "{}", words::garbled_schedule(one.file_name(), why))?;
        }
    }
    Ok(())
}

pub(super) fn show(
    schedule: &Schedule,
    simulation: &Simulation,
    scale: Scale,
    out: &mut dyn Write,
) -> Result<()> {
    writeln!(out, "{}", schedule.name)?;
    writeln!(
        out,
        "For {}, to cone {} ({}), {} from lighting to the end.\n",
        schedule.ware, schedule.target, schedule.family, simulation.total
    )?;
    for line in words::schedule_orders(schedule, scale).iter().skip(1) {
        writeln!(out, "{line}")?;
    }
    writeln!(out)?;
    cones(simulation, scale, out)?;
    for airing in words::schedule_airing(schedule, scale) {
        wrapped(&airing, "", out)?;
    }
    writeln!(out)?;
    wrapped(&schedule.reasoning, "", out)
}

fn cones(simulation: &Simulation, scale: Scale, out: &mut dyn Write) -> Result<()> {
    for course in &simulation.pack {
        writeln!(out, "{}", fate(course, scale))?;
    }
    Ok(())
}

/// What becomes of one cone, as a sentence.
fn fate(course: &ConeCourse, scale: Scale) -> String {
    let (role, cone) = (course.role.name(), course.cone);
    match course.down {
        Some((at, t)) => {
            format!("The {role} cone {cone} goes down after {at}, at {}.", t.display(scale))
        }
        None => format!(
            "The {role} cone {cone} does not go down: {:.0} % of its heat work is done.",
            (course.heat_work * 100.0).floor()
        ),
    }
}

pub(super) fn cautions(
    schedule: &Schedule,
    cautions: &[Caution],
    scale: Scale,
    out: &mut dyn Write,
) -> Result<()> {
    writeln!(out, "{}\n", schedule.name)?;
    for caution in cautions {
        let place = caution.segment.map_or(String::new(), |index| {
            format!(" in segment {} ({})", index + 1, schedule.segments[index].name())
        });
        writeln!(out, "{}{place}", caution.rule.severity().name().to_uppercase())?;
        wrapped(&words::caution(&caution.rule, scale), "  ", out)?;
        wrapped(&format!("Source: {}.", caution.rule.source()), "  ", out)?;
    }
    Ok(())
}

pub(super) fn solved_cone(tops: &Tops, scale: Scale, out: &mut dyn Write) -> Result<()> {
    let what = format!("Cone {} ({})", tops.cone, tops.family);
    writeln!(out, "{what}: {}.", ending(&tops.before, scale))?;
    if tops.after != tops.before {
        writeln!(out, "{what}: {}.", ending(&tops.after, scale))?;
        writeln!(out, "{}", comparison(tops, scale))?;
    }
    wrapped(&format!("From the chart: {SOURCE}."), "", out)
}

pub(super) fn solved_schedule(
    schedule: &Schedule,
    tops: &Tops,
    changed: bool,
    scale: Scale,
    out: &mut dyn Write,
) -> Result<()> {
    writeln!(out, "{}, cone {} ({})", schedule.name, tops.cone, tops.family)?;
    writeln!(out, "As written: {}.", ending(&tops.before, scale))?;
    let lead = if changed { "Same heat work" } else { "Cone just down at the end" };
    writeln!(out, "{lead}: {}.", ending(&tops.after, scale))?;
    writeln!(out, "{}", comparison(tops, scale))?;
    Ok(())
}

pub(super) fn ending(finish: &Finish, scale: Scale) -> String {
    let soak = match finish.soak {
        Span::ZERO => "no soak".to_owned(),
        length => format!("{length} there"),
    };
    let (rate, top, basis) =
        (finish.rate.display(scale), finish.top.display(scale), finish.basis.name());
    format!("{rate} up to {top}, {soak} ({basis})")
}

/// "Slower at the end: 14 C lower."
fn comparison(tops: &Tops, scale: Scale) -> String {
    let (before, after) = (&tops.before, &tops.after);
    let mut how = Vec::new();
    // A ramp's length is whole milliseconds, so equal rates may differ in the last places.
    if (after.rate.0 - before.rate.0).abs() > 1e-3 {
        how.push(if after.rate < before.rate { "slower at the end" } else { "faster at the end" });
    }
    if after.soak != before.soak {
        how.push(if after.soak > before.soak { "longer at the top" } else { "shorter at the top" });
    }
    let mut lead = if how.is_empty() { "solved".to_owned() } else { how.join(" and ") };
    lead[..1].make_ascii_uppercase();
    let degrees = scale.degrees(after.top.0 - before.top.0);
    let unit = scale.letter();
    match degrees.round() {
        0.0 => format!("{lead}: the same top, to the degree."),
        lower if lower < 0.0 => format!("{lead}: {:.0} {unit} lower.", -lower),
        higher => format!("{lead}: {higher:.0} {unit} higher."),
    }
}

pub(super) fn simulation(
    schedule: &Schedule,
    simulation: &Simulation,
    scale: Scale,
    out: &mut dyn Write,
) -> Result<()> {
    writeln!(out, "{}, followed exactly: {} in all.", schedule.name, simulation.total)?;
    cones(simulation, scale, out)?;
    writeln!(out, "The whole firing is worth cone {}.", simulation.equivalent)?;
    Ok(())
}

/// Writes running text, broken between words, every line led by `indent`.
fn wrapped(text: &str, indent: &str, out: &mut dyn Write) -> Result<()> {
    let mut line = indent.to_owned();
    for word in text.split_whitespace() {
        if line.len() > indent.len() && line.chars().count() + 1 + word.chars().count() > WIDTH {
            writeln!(out, "{line}")?;
            line = indent.to_owned();
        }
        if line.len() > indent.len() {
            line.push(' ');
        }
        line.push_str(word);
    }
    Ok(writeln!(out, "{line}")?)
}
