//! The colour of the glow: one word or two, and the list of colours where none fits.

use std::env::var_os;

use clap::Args;

use super::super::context::{Context, Painted, Unusable};
use super::entered::Said;
use super::{firing_id, step};
use crate::edge::draft::check;
use crate::firing::{FiringId, Kind};
use crate::glow::{Glow, GlowWord};
use crate::text::{argument, shown};
use crate::units::{Celsius, Scale};

#[derive(Debug, Args)]
pub struct GlowArgs {
    /// The kiln, for example North.
    pub kiln: String,
    /// The colour, for example dark red, or no glow; without one the colours are listed.
    pub colour: Vec<String>,
    /// How light it is around the kiln, dark or light: a colour tells less in the light.
    #[arg(long, default_value = "dark", value_parser = room)]
    pub room: String,
    /// When it happened, if not now: 9:10, "20 min ago", "yesterday 21:40" or a full date and time.
    #[arg(long, value_name = "TIME")]
    pub at: Option<String>,
    /// The number of the firing, if the present one of this kiln is not meant.
    #[arg(long, value_name = "ID", value_parser = firing_id)]
    pub firing: Option<FiringId>,
}

fn room(text: &str) -> Result<String, String> {
    check(Kind::Glow.field("room"), text).map(|_| text.to_owned())
}

pub(super) fn glow(args: GlowArgs, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let colour = args.colour.join(" ");
    let field = Kind::Glow.field("colour");
    let wrong = match check(field, &colour) {
        Ok(_) => {
            let GlowArgs { kiln, at, firing, room: light, .. } = args;
            let fields = vec![(field, vec![colour]), (Kind::Glow.field("room"), vec![light])];
            return step::enter(&Said { kind: Kind::Glow, kiln, fields, at, firing }, ctx);
        }
        Err(_) if colour.is_empty() => {
            format!(
                "no colour is named: write it like \"spyhole glow {} dark red\"",
                argument(&args.kiln)
            )
        }
        Err(error) => error,
    };
    let swatches = ctx.interactive && var_os("NO_COLOR").is_none();
    let colours = GlowWord::ALL.map(|word| colour_line(word, swatches, ctx.scale));
    let text = format!("{}\n{}", shown(&wrong), colours.join("\n"));
    Err(if swatches { Painted(text).into() } else { Unusable(text).into() })
}

/// `  dark red      705 C to 814 C`, with a patch of the colour before it.
fn colour_line(word: GlowWord, swatch: bool, scale: Scale) -> String {
    let patch = Glow::of(word.middle()).filter(|_| swatch).map_or(String::new(), |glow| {
        let (red, green, blue) = glow.colour();
        format!("\x1b[48;2;{red};{green};{blue}m    \x1b[0m ")
    });
    let (low, high) = word.range_c();
    let [low, high] = [low, high].map(|c| Celsius(c).display(scale));
    format!("  {patch}{:<13} {low} to {high}", word.name())
}
