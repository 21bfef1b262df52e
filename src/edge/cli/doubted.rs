//! What is wrong with an entry or hard to believe of it, said by a command.

use super::cone_answer;
use super::context::{Context, Unusable};
use crate::edge::draft::{Against, Doubtful, Lack};
use crate::firing::What;
use crate::units::Moment;

const NO_RESULT_SAID: &str = "an outcome says how the load came out: add under, good, over or not-fired, or count its pieces with --good, --under, --over, --broken or --not-fired";

const NO_CONE_SEEN: &str = "a look says what at least one cone does: add --target, --guide or --guard with standing, leaning, half or down";

/// Why a draft makes no event, in the words of a command.
pub fn unusable(lack: Lack) -> anyhow::Error {
    Unusable(match lack {
        Lack::Wrong(text) => text,
        Lack::Missing(field) if field.key == "result" => NO_RESULT_SAID.into(),
        Lack::Missing(_) => NO_CONE_SEEN.into(),
    })
    .into()
}

/// Something hard to believe is asked about, or warned of when nobody is there.
pub fn doubted(
    what: &What,
    at: Moment,
    against: &Against<'_>,
    ctx: &mut Context<'_>,
) -> anyhow::Result<()> {
    let Some(doubtful) = against.doubt(what, at) else { return Ok(()) };
    let said = against.says(&doubtful, at);
    match doubtful {
        Doubtful::FarCone(cone, load) => {
            let meant = cone_answer::sentence(cone, load.family, ctx.scale);
            let unless = "nothing was written: give the cone you mean with --cone";
            ctx.asks_whether_meant(&format!("{said} {meant}"), "", unless)
        }
        _ => ask(&said, ctx),
    }
}

pub fn ask(remark: &str, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let done = " It is written as you said; \"spyhole strike\" takes it back.";
    ctx.asks_whether_meant(remark, done, "nothing was written")
}
