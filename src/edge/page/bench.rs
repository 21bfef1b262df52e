//! The casting bench on a page: the moulds by what is due, each with large buttons for what is done at it.

use super::forms::{button, place, to_the_form, to_the_pin};
use super::html::Html;
use super::views::Told;
use crate::casting::Found;
use crate::edge::shop::store::About;
use crate::firing::Kind;
use crate::scene::{MouldScene, MouldState};
use crate::watch::agenda::Errand;
use crate::words::{self, Title};

impl Told<'_> {
    pub fn bench(&self, html: &mut Html) {
        let (bench, now) = (&self.scene.bench, self.scene.now);
        let errands = bench.errands(now);
        let next = errands.first().filter(|_| self.scene.due().is_none());
        let counted = |first| Some((first, words::bench_counts(first, now)?));
        if let Some((Errand { at, .. }, (_, caption))) = next.and_then(counted) {
            match *at <= now {
                true => html.big(None, "NOW", &caption),
                false => html.big(Some(*at), &words::left_text(*at - now), &caption),
            }
        }
        if !bench.hours_known && !bench.moulds.is_empty() {
            html.element("p", &[], words::BENCH_NEEDS_HOURS);
        }
        if bench.moulds.is_empty() {
            html.element("p", &[("class", "say")], words::PAGE_NO_MOULDS);
        }
        if self.may_note() {
            self.people(html);
        } else {
            to_the_pin(html);
        }
        html.within("div", &[("class", "kilns")], |html| {
            bench.moulds.iter().for_each(|mould| self.mould(html, mould));
        });
        if !self.may_note() {
            return;
        }
        html.element("p", &[("class", "caution")], words::CAUTION_BENCH);
        let several = words::PAGE_OF_SEVERAL.map(|(kind, word)| (place(kind, ""), word.to_owned()));
        let others = [Title::Mould, Title::Room].into_iter();
        let others =
            others.filter_map(|title| Some((place(title.kind()?, ""), words::title(title, ""))));
        html.list(words::PAGE_SEVERAL_MOULDS, several.into_iter().chain(others));
    }

    fn mould(&self, html: &mut Html, mould: &MouldScene) {
        let (code, now) = (mould.mould.code.as_str(), self.scene.now);
        let is_due = mould.due().is_some_and(|at| at <= now);
        let class = if is_due { "kiln wanted" } else { "kiln" };
        html.within("article", &[("class", class)], |html| {
            html.within("h2", &[], |html| {
                html.text(code);
                html.element("small", &[], &mould.mould.ware);
            });
            let said = words::mould_state(mould, now, &self.picture.dial());
            html.element("p", &[("class", "do")], &said);
            if self.may_note() {
                html.within("div", &[("class", "steps")], |html| self.deeds(html, mould));
            }
        });
    }

    /// What can be noted of a mould with one tap, and where the rest is.
    fn deeds(&self, html: &mut Html, mould: &MouldScene) {
        let code = mould.mould.code.as_str();
        let kind = match mould.state {
            MouldState::Empty => Kind::Poured,
            MouldState::Poured(_) => Kind::Drained,
            MouldState::Closed(_) => Kind::Check,
        };
        // What is poured for the first time has no usual slip.
        let in_one_tap = kind != Kind::Poured || mould.body.is_some();
        if in_one_tap {
            self.noting(html, (kind, code, About::Shop), |html| match kind {
                Kind::Check => {
                    for found in [Found::Well, Found::NotYet, Found::Forced, Found::Cracked] {
                        button(html, "result", found.name(), words::page_found(found));
                    }
                }
                Kind::Poured => html.element("button", &[], words::PAGE_POURED),
                _ => html.element("button", &[], words::PAGE_DRAINED),
            });
        }
        to_the_form(html, (kind, code), in_one_tap);
        for (title, kind) in
            [(Title::Mould, Kind::Mould), (Title::MouldRenamed, Kind::MouldRenamed)]
        {
            let link = [("href", &*place(kind, code)), ("class", "more")];
            html.element("a", &link, &words::title(title, code));
        }
    }
}
