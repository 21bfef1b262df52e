//! `spyhole cone`: the chart, one cone, or a whole family at one temperature.

use std::io::Write;

use anyhow::bail;
use serde_json::{Value, json};

use super::context::Context;
use crate::cone::chart::{self, Row};
use crate::cone::{Cone, Curve, EndPoint, Equivalent, Family, curve, lean_deg};
use crate::units::{Celsius, CelsiusPerHour};
use crate::words;

/// Say where a cone goes down, or what a temperature has done to every cone.
///
/// A pyrometric cone answers to heat work, time and temperature together, so its end temperature
/// depends on how fast the kiln climbs over the last 100 C (180 F). Without a cone the whole chart is
/// shown; with --at, how far every cone of the family has come when a steady climb reaches that
/// temperature.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:
  spyhole cone 018 --rate 150C/h
  spyhole cone 05.5 --rate 108F/h --family large
  spyhole cone --at 1350F --rate 270F/h
  spyhole cone")]
pub struct ConeArgs {
    /// The cone, as potters write it: 018, 05.5, 05½, 6, ^6, "cone 6". Mind the zero: 06 and 6
    /// are different cones.
    cone: Option<String>,
    /// How fast the kiln climbs over the last 100 C (180 F), with its unit: 150C/h or 270F/h.
    #[arg(long, allow_hyphen_values = true)]
    rate: Option<String>,
    /// The temperature reached, with its unit: 732C or 1350F. Needs --rate.
    #[arg(long, allow_hyphen_values = true)]
    at: Option<String>,
    /// self-supporting, large or small; iron-free cones: "self-supporting iron-free", "large
    /// iron-free".
    #[arg(long, default_value = "self-supporting")]
    family: String,
}

/// Runs the command.
///
/// # Errors
/// Anything typed that cannot be read, with what would be right; or `out` failing.
pub fn run(args: &ConeArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let family = Family::parse(&args.family)?;
    let cone = args.cone.as_deref().map(Cone::parse).transpose()?;
    let rate = args.rate.as_deref().map(CelsiusPerHour::parse).transpose()?;
    let at = args.at.as_deref().map(Celsius::parse).transpose()?;
    match (cone, rate, at) {
        (cone, Some(rate), Some(at)) => at_temperature(family, cone, rate, at, ctx),
        (_, None, Some(_)) => bail!(
            "--at needs --rate: a cone answers to time and temperature together, so say how fast the kiln climbed, like --rate 150C/h"
        ),
        (Some(cone), Some(rate), None) => one_cone(curve(cone, family)?, rate, ctx),
        (Some(cone), None, None) => published(family, Some(cone), ctx),
        (None, Some(rate), None) => family_at_rate(family, rate, ctx),
        (None, None, None) => published(family, None, ctx),
    }
}

/// A number for JSON without digits that mean nothing: two decimals.
fn rounded(value: f64) -> Value {
    json!((value * 100.0).round() / 100.0)
}

fn end_json(cone: Cone, family: Family, rate: CelsiusPerHour, end: EndPoint) -> Value {
    json!({
        "cone": cone.name(),
        "family": family.name(),
        "rate_c_per_h": rounded(rate.0),
        "end_c": rounded(end.end.0),
        "end_f": end.end.fahrenheit().round(),
        "basis": end.basis.name(),
        "certainty": end.certainty.name(),
    })
}

fn row_json(row: &Row) -> Value {
    let end =
        EndPoint { end: row.end, basis: crate::cone::Basis::Published, certainty: row.certainty };
    end_json(row.cone, row.family, row.rate, end)
}

fn one_cone(curve: &Curve, rate: CelsiusPerHour, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let end = curve.end_point(rate)?;
    let (cone, family) = (curve.cone, curve.family);
    if ctx.json {
        return ctx.value(&end_json(cone, family, rate, end));
    }
    let out = &mut ctx.out;
    writeln!(
        out,
        "Cone {cone} ({family}) goes down at {} ({}) when the kiln climbs {} over the last {}.",
        end.end.display(ctx.scale),
        end.end.display(ctx.scale.other()),
        rate.display(ctx.scale),
        words::last_hundred(ctx.scale),
    )?;
    writeln!(out, "This number is {} ({}).", basis_sentence(end), end.certainty.name())?;
    if let Some(twin) = zero_twin(cone)
        && let Ok(twin_curve) = crate::cone::curve(twin, family)
    {
        let twin_end = twin_curve.end_point(rate)?.end;
        writeln!(
            out,
            "Mind the zero: cone {twin} is another cone, down at {}.",
            twin_end.display(ctx.scale)
        )?;
    }
    writeln!(out, "Source: {}.", chart::SOURCE)?;
    Ok(())
}

/// The cone whose name differs from this one by the leading zero only.
fn zero_twin(cone: Cone) -> Option<Cone> {
    let twin = match cone.name().strip_prefix('0') {
        Some(bare) => bare.to_owned(),
        None => format!("0{cone}"),
    };
    Cone::parse(&twin).ok()
}

fn basis_sentence(end: EndPoint) -> String {
    use crate::cone::Basis;
    match end.basis {
        Basis::Published => "published on the chart".into(),
        Basis::Interpolated => "interpolated between published rates of this cone".into(),
        Basis::Extrapolated => "extrapolated beyond the published rates of this cone".into(),
        Basis::Estimated => {
            "estimated: the chart has one rate for this cone, the slope is that of the same cone in the self-supporting family".into()
        }
    }
}

fn family_at_rate(
    family: Family,
    rate: CelsiusPerHour,
    ctx: &mut Context<'_>,
) -> anyhow::Result<()> {
    let ends: Vec<(Cone, EndPoint)> = family
        .cones()
        .map(|cone| Ok((cone, curve(cone, family)?.end_point(rate)?)))
        .collect::<anyhow::Result<_>>()?;
    if ctx.json {
        let cones: Vec<Value> =
            ends.iter().map(|(cone, end)| end_json(*cone, family, rate, *end)).collect();
        return ctx.value(&json!(cones));
    }
    let scale = ctx.scale;
    writeln!(ctx.out, "{family} cones when the kiln climbs {}:", rate.display(scale))?;
    for (cone, end) in ends {
        writeln!(ctx.out, "  {cone:>5}  {:>7}  {}", end.end.display(scale), end.basis.name())?;
    }
    writeln!(ctx.out, "Source: {}.", chart::SOURCE)?;
    Ok(())
}

fn published(family: Family, only: Option<Cone>, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let cones: Vec<Cone> = match only {
        Some(cone) => vec![curve(cone, family)?.cone],
        None => family.cones().collect(),
    };
    if ctx.json {
        let rows: Vec<Value> =
            cones.iter().flat_map(|cone| chart::rows(*cone, family)).map(row_json).collect();
        return ctx.value(&json!({ "source": chart::SOURCE, "rows": rows }));
    }
    let scale = ctx.scale;
    let mut rates: Vec<f64> =
        cones.iter().flat_map(|cone| chart::rows(*cone, family)).map(|row| row.rate.0).collect();
    rates.sort_by(f64::total_cmp);
    rates.dedup();
    write!(ctx.out, " cone")?;
    for rate in &rates {
        write!(ctx.out, "  {:>8}", CelsiusPerHour(*rate).display(scale))?;
    }
    writeln!(ctx.out, "   ({family})")?;
    let mut starred = false;
    for cone in cones {
        let rows = chart::rows(cone, family);
        write!(ctx.out, "{cone:>5}")?;
        let mut from_memory = false;
        for rate in &rates {
            let cell = rows.iter().find(|row| row.rate.0 == *rate);
            from_memory |= cell.is_some_and(|row| row.certainty == chart::Certainty::FromMemory);
            let text = cell.map_or_else(|| "-".to_owned(), |row| row.end.display(scale));
            write!(ctx.out, "  {text:>8}")?;
        }
        starred |= from_memory;
        writeln!(ctx.out, "{}", if from_memory { "   *" } else { "" })?;
    }
    if starred {
        writeln!(ctx.out, "* at least one number of this line is from memory, not cross-checked.")?;
    }
    let last = words::last_hundred(scale);
    writeln!(ctx.out, "The rate is that of the last {last}. Source: {}.", chart::SOURCE)?;
    Ok(())
}

fn at_temperature(
    family: Family,
    only: Option<Cone>,
    rate: CelsiusPerHour,
    at: Celsius,
    ctx: &mut Context<'_>,
) -> anyhow::Result<()> {
    if let Some(cone) = only {
        curve(cone, family)?;
    }
    let mut cones = Vec::new();
    for cone in family.cones() {
        let curve = curve(cone, family)?;
        let heat_work = curve.rate_ending_at(at).0 / rate.0;
        cones.push((cone, heat_work, curve.end_point(rate)?));
    }
    let heat_work: Vec<(Cone, f64)> = cones.iter().map(|(cone, j, _)| (*cone, *j)).collect();
    let Some(equivalent) = Equivalent::from_heat_work(&heat_work) else {
        bail!("the chart has no cones of the family {family}");
    };
    cones.retain(|(cone, ..)| only.is_none_or(|only| only == *cone));
    if ctx.json {
        let cones: Vec<Value> = cones
            .iter()
            .map(|(cone, j, end)| {
                let mut value = end_json(*cone, family, rate, *end);
                value["heat_work"] = json!(j);
                value["lean_deg"] = json!(rounded(lean_deg(*j)));
                value
            })
            .collect();
        return ctx.value(&json!({
            "family": family.name(),
            "rate_c_per_h": rounded(rate.0),
            "at_c": rounded(at.0),
            "at_f": rounded(at.fahrenheit()),
            "cone_equivalent": equivalent.to_string(),
            "cones": cones,
        }));
    }
    let scale = ctx.scale;
    writeln!(
        ctx.out,
        "A steady climb of {} that reaches {} is worth cone {equivalent} ({family}).",
        rate.display(scale),
        at.display(scale)
    )?;
    for (cone, j, end) in cones {
        let state = match j {
            j if j >= 1.0 => "down".to_owned(),
            j if j < 0.01 => "untouched".to_owned(),
            j => format!("leans {:.0} degrees, {:.0} % of its heat work", lean_deg(j), j * 100.0),
        };
        writeln!(
            ctx.out,
            "  {cone:>5}  {state:<42} ends at {} ({})",
            end.end.display(scale),
            end.basis.name()
        )?;
    }
    Ok(())
}
