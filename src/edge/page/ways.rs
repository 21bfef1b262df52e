//! The ways to ring that have to be set up: where each leads, and the form of one with which no secret goes.
//!
//! A device has the form of the screen, but for what may be a secret or leads to one: who signs in, in which
//! file the password stands, what headers say, and the whole of an address that is set already. A program of
//! the shop's own, which this computer runs, is set up nowhere but at it.

use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};

use super::forms::{choice, hidden, to_the_pin};
use super::routes::Asked;
use super::sent::Said;
use super::views::Told;
use super::{asking, html};
use crate::alarm::WayName;
use crate::edge::bell::settings::BellFile;
use crate::edge::draft::Draft;
use crate::edge::journal::Uid;
use crate::firing::Kind;
use crate::firing::fields::Field;
use crate::words::{self, Title, asks};

/// The fields with which a secret goes.
const LOGIN: [&str; 3] = ["user", "secret_file", "headers"];
/// May be a secret itself.
const ADDRESS: &str = "url";
/// What marks the settings on which a form was opened.
const WAS: &str = "was";

fn ways() -> impl Iterator<Item = WayName> {
    asks::OF_WAYS.iter().map(|(way, _)| *way).filter(|way| *way != WayName::Command)
}

/// What is asked of a way on a device, with what is said; `None` of one with which a secret goes.
fn asked(bell: &BellFile, way: WayName) -> Option<Vec<(&'static Field, String)>> {
    let set = bell.set_up(way);
    let says = |key: &str, lines: &[String]| LOGIN.contains(&key) && !lines.concat().is_empty();
    if set.iter().any(|(field, lines)| says(field.key, lines)) {
        return None;
    }
    let asked = set.into_iter().filter(|(field, _)| !LOGIN.contains(&field.key));
    Some(asked.map(|(field, lines)| (field, lines.concat())).collect())
}

/// Changes with any settings of the ways.
fn mark(bell: &BellFile) -> String {
    let set: Vec<_> = asks::OF_WAYS.iter().map(|(way, _)| bell.set_up(*way)).collect();
    let set: Vec<_> = set.iter().flatten().map(|(field, lines)| (field.key, lines)).collect();
    Uid::of_content(&format!("ways {set:?}")).number().to_string()
}

/// The bell's file with a way set up as a form of the page says.
///
/// # Errors
/// Why it cannot be set up so.
pub fn with(bell: &BellFile, said: &Said) -> Result<BellFile, String> {
    let of = |key: &str| said.of(key).map(str::trim);
    let way = ways().find(|way| of("way") == Some(way.name())).ok_or(words::PAGE_GARBLED)?;
    let known = asked(bell, way).ok_or(words::PAGE_WAY_SECRET)?;
    if of(WAS) != Some(&mark(bell)) {
        return Err(words::PAGE_WAY_CHANGED.into());
    }
    let drops = of(asks::KEEP.key) == Some(words::KEEP_OR_DROP[1]);
    let becomes = bell.with(way, |key| {
        let known = known.iter().filter(|(field, _)| field.key == key && !drops);
        // What is not sent is not sent back either.
        let text = || of(key).filter(|text| key != ADDRESS || !text.is_empty());
        let said = known.map(|(_, was)| text().unwrap_or(was).to_owned());
        said.filter(|text| !text.is_empty()).collect()
    })?;
    becomes.meant()?;
    Ok(becomes)
}

/// Has a way set up as a form says.
pub async fn set(Asked { web, device, said, .. }: Asked) -> Response {
    match web.ask(move |clerk, now| clerk.set_up(&device, &said, now)).await {
        Ok(Ok(())) => Redirect::to("/ways").into_response(),
        Ok(Err(why)) => {
            (StatusCode::CONFLICT, Html(asking::refused(&why, "/ways"))).into_response()
        }
        Err(late) => late,
    }
}

impl Told<'_> {
    /// Where each way leads, or the form of the one that is asked for.
    pub fn ways(&self, html: &mut html::Html, bell: &BellFile, asked_for: Option<usize>) {
        if !self.may_note() {
            return to_the_pin(html);
        }
        let Some(way) = asked_for.and_then(|number| ways().nth(number)) else {
            html.element("h1", &[], words::PAGE_WAYS);
            let line = |way| words::way_line(way, bell.leads_to(way).as_deref());
            let links = ways().enumerate();
            html.list("", links.map(|(number, way)| (format!("/ways?way={number}"), line(way))));
            return html.element("p", &[("class", "caution")], words::PAGE_WAYS_AT_COMPUTER);
        };
        html.element("h1", &[], &words::title(Title::Way(way), ""));
        let Some(asked) = asked(bell, way) else {
            return html.element("p", &[("class", "wrong")], words::PAGE_WAY_SECRET);
        };
        html.within("form", &[("method", "post"), ("action", "/ways")], |html| {
            hidden(html, &[("way", way.name()), (WAS, &mark(bell))]);
            for (field, said) in &asked {
                let mut draft = Draft::new(Kind::Note, "");
                if field.key != ADDRESS {
                    draft.say(field.key, said);
                }
                self.field(html, field, (&draft, None), None);
            }
            if let Some(place) = bell.leads_to(way) {
                html.element("p", &[], &words::page_way_leads(&place));
                let keep = words::KEEP_OR_DROP.map(|word| (word.to_owned(), word.to_owned()));
                choice(html, &asks::KEEP, &keep, words::KEEP_OR_DROP[0]);
            }
            html.element("button", &[], words::PAGE_WAY_SET);
        });
    }
}
