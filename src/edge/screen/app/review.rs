//! Keys of the review, and the forms it opens.

use super::{App, Context, Effect, Tone};
use crate::edge::screen::entry;
use crate::edge::screen::key::{Key, Meaning};
use crate::edge::screen::pick::{Pick, Picked};
use crate::edge::screen::review::Review;
use crate::edge::screen::view::{LedgerView, View};
use crate::edge::shop::store::Nearest;
use crate::firing::Firing;
use crate::scene::{FiringScene, ReviewScene};
use crate::words::{self, Refusal};

impl App {
    /// Opens the review and asks for it.
    pub(super) fn open_review(&mut self, context: &Context<'_>) -> Vec<Effect> {
        self.far = false;
        if !self.takes_up(Meaning::Review) {
            self.view = View::Review(Box::default());
        }
        self.review_anew(context)
    }

    /// Asks for the review that is open once more: something was written.
    pub(super) fn review_anew(&mut self, context: &Context<'_>) -> Vec<Effect> {
        let View::Review(review) = &self.view else { return Vec::new() };
        vec![Effect::Review(review.question(context.scene.now, &context.dial))]
    }

    /// The review as it came.
    pub(super) fn review_read(&mut self, scene: Box<ReviewScene>) {
        if let View::Review(review) = &mut self.view {
            review.scene = Some(scene);
        }
    }

    /// Opens the firing in the chosen kiln with the past one that went most like it.
    pub(super) fn most_like(&mut self, context: &Context<'_>) -> Vec<Effect> {
        let kiln = self.kiln(context.scene);
        let Some(firing) = kiln.and_then(|kiln| kiln.firing) else {
            let refusal = if kiln.is_some() { Refusal::NothingIn } else { Refusal::NoKiln };
            let name = kiln.map_or("", |kiln| &kiln.kiln);
            self.tell(Tone::Refused, words::refusal(refusal, name));
            return Vec::new();
        };
        self.far = false;
        self.view = View::Ledger(LedgerView::default());
        vec![Effect::ReadLedger, Effect::ReadNearest(firing)]
    }

    /// A firing and its like, as they were read.
    pub(super) fn nearest_read(&mut self, nearest: &Nearest, context: &Context<'_>) {
        let View::Ledger(ledger) = &mut self.view else { return };
        let first = nearest.near.first().map(|(_, firing)| firing);
        let both = std::iter::once(&nearest.firing).chain(first);
        ledger.open = both.map(FiringScene::of).collect();
        ledger.comparing = false;
        let verdict = |firing: &Firing| firing.outcome.as_ref().map(|(_, o)| o.verdict);
        let near = nearest.near.iter().map(|(near, of)| (near.clone(), verdict(of)));
        let near: Vec<_> = near.collect();
        let line = words::nearest_line(&nearest.firing.kiln, &near, context.dial.scale);
        self.tell(Tone::Saved, line);
    }

    /// What became of a file that was to be written.
    pub(super) fn exported(&mut self, written: Result<String, String>) {
        match (written, self.form.as_mut()) {
            (Ok(said), _) => {
                self.form = None;
                self.tell(Tone::Saved, said);
            }
            (Err(why), Some(form)) => form.unsaved(&why),
            (Err(why), None) => self.tell(Tone::Wrong, words::not_saved(&why)),
        }
    }

    pub(super) fn review_key(
        &mut self,
        mut review: Review,
        key: Key,
        context: &Context<'_>,
    ) -> Vec<Effect> {
        if let Some(why) = review.why.take() {
            return self.why_key(review, why, key);
        }
        let mut anew = false;
        let rows = review.page_rows().len();
        match key {
            Key::Tab | Key::Right => review.turn(false),
            Key::BackTab | Key::Left => review.turn(true),
            Key::Char('b') => {
                review.way += 1;
                review.rows.at = 0;
            }
            Key::Char('k') => {
                review.next_kiln(context.scene);
                anew = true;
            }
            Key::Char('p') => {
                review.period = review.period.next();
                anew = true;
            }
            Key::Char('a') => self.open_accept(&review, context),
            Key::Char('u') => self.open_strike(),
            Key::Char(_) => {}
            other => match review.rows.press(other, rows) {
                Picked::Taken(place) => {
                    review.rows.at = place;
                    review.why = Some(Pick::default());
                }
                Picked::Left => return Vec::new(),
                Picked::Moved | Picked::Ignored => {}
            },
        }
        if anew {
            review.scene = None;
            review.rows.at = 0;
        }
        self.view = View::Review(Box::new(review));
        if anew { self.review_anew(context) } else { Vec::new() }
    }

    /// A key while the firings behind a row are shown.
    fn why_key(&mut self, mut review: Review, mut why: Pick, key: Key) -> Vec<Effect> {
        let behind = review.behind();
        // Nothing is typed here: letters would only hide firings.
        let picked = match key {
            Key::Char(_) => Picked::Ignored,
            other => why.press(other, behind.len()),
        };
        if picked == Picked::Left {
            self.view = View::Review(Box::new(review));
            return Vec::new();
        }
        review.why = Some(why);
        let Picked::Taken(place) = picked else {
            self.view = View::Review(Box::new(review));
            return Vec::new();
        };
        self.view =
            View::Ledger(LedgerView { review: Some(Box::new(review)), ..LedgerView::default() });
        vec![Effect::ReadFiring(behind[place]), Effect::ReadLedger]
    }

    /// The form that accepts what the row suggests or, if it suggests nothing, what the page does.
    fn open_accept(&mut self, review: &Review, context: &Context<'_>) {
        let rows = review.page_rows();
        let of_row = review.row().and_then(|row| row.suggestion());
        let Some(suggestion) = of_row.or_else(|| rows.iter().find_map(|row| row.suggestion()))
        else {
            return self.tell(Tone::Refused, words::NOTHING_TO_ACCEPT.into());
        };
        if !review.is_whole() {
            return self.tell(Tone::Refused, words::ACCEPT_FROM_ALL.into());
        }
        self.form = Some(entry::accept(suggestion, &context.dial));
    }
}
