//! What a device hears of the shop while it looks: the whole picture whenever it is another, a tick that says
//! that the computer is there, what rings, and that it is over.

use std::collections::VecDeque;
use std::convert::Infallible;
use std::sync::Arc;
use std::time::Duration;

use axum::response::Sse;
use axum::response::sse::Event;
use futures_util::stream::{Stream, unfold};
use serde_json::{Value, json};
use tokio::sync::watch;
use tokio::time::{Interval, MissedTickBehavior, interval};

use super::clerk::{Picture, Pictures};
use super::codes;
use super::views::{Told, View};
use crate::alarm::{Alarm, Priority};
use crate::edge::journal::devices::Digest;
use crate::edge::shop::clock::{SystemClock, Timekeeper};
use crate::edge::shop::coming::Coming;
use crate::units::{Moment, Span};

/// A device that hears nothing for longer takes the computer for lost.
const TICK: Duration = Duration::from_secs(5);
/// How often what is seen is told anew while nothing happens: a device counts by itself, sentences do not.
const SEEN_EVERY: Span = Span::seconds(15);

/// What is to be told of an alarm that rings or is to come.
fn coming(told: &Told<'_>, alarm: &Alarm, over: Option<Moment>) -> Coming {
    let (words, body) = told.said_of(alarm);
    let priority = alarm.key.task.priority();
    // What is of low priority is heard once: it may come at night.
    let every = if priority == Priority::Low { 0 } else { alarm.key.task.repeat().0 };
    let (at, level) = (alarm.raised.0, priority.name().to_owned());
    Coming { id: alarm.mark(), at, level, words, body, every, over: over.map(|over| over.0) }
}

/// What rings, the most urgent of it.
fn ring(told: &Told<'_>) -> Option<Coming> {
    told.ringing().next().map(|one| coming(told, one, None))
}

/// What would ring if nobody did anything.
fn plan(told: &Told<'_>) -> Vec<Coming> {
    told.picture.upcoming.iter().map(|one| coming(told, &one.alarm, one.over)).collect()
}

/// What a page goes by before it hears anything.
pub fn known(told: &Told<'_>) -> Value {
    json!({"now": told.scene.now.0, "ring": ring(told), "plan": plan(told)})
}

/// The whole of what is to be seen.
pub fn state(told: &Told<'_>, view: &View) -> Value {
    let (what, seen) = match view {
        View::Plain => ("floor", told.plain()),
        view => ("html", told.inside(view).into()),
    };
    json!({
        "rev": told.scene.last_event.map_or(0, |last| last.0),
        "title": told.title(),
        what: seen,
        "plan": plan(told),
    })
}

/// One device that listens.
struct Listener {
    view: View,
    token: Digest,
    pictures: Pictures,
    stopped: watch::Receiver<bool>,
    ticks: Interval,
    /// The marks of what it heard last, of what rings and of all there is, and at which of its turns: a hundred
    /// devices are not to hold a hundred pictures.
    told: [Digest; 2],
    turn: i64,
    waiting: VecDeque<Event>,
    ended: bool,
}

/// The stream of a device that shows this token. A device that does not listen holds up nothing: what is
/// told is always the newest. `listens` is let go of as it ends.
pub fn stream(
    view: View,
    token: Digest,
    (pictures, stopped): (Pictures, watch::Receiver<bool>),
    listens: impl Send + 'static,
) -> Sse<impl Stream<Item = Result<Event, Infallible>>> {
    let mut ticks = interval(TICK);
    ticks.set_missed_tick_behavior(MissedTickBehavior::Delay);
    let (waiting, told, ended) = (VecDeque::new(), [Digest::default(); 2], false);
    let turn = 0;
    let listener = Listener { view, token, pictures, stopped, ticks, told, turn, waiting, ended };
    Sse::new(unfold((listener, listens), |(mut listener, listens)| async move {
        let event = listener.next().await?;
        Some((Ok(event), (listener, listens)))
    }))
}

impl Listener {
    async fn next(&mut self) -> Option<Event> {
        loop {
            if let Some(event) = self.waiting.pop_front() {
                return Some(event);
            }
            if self.ended {
                return None;
            }
            let woken = tokio::select! {
                _ = self.stopped.wait_for(|stopped| *stopped) => None,
                changed = self.pictures.changed() => changed.ok().map(|()| false),
                _ = self.ticks.tick() => Some(true),
            };
            match woken {
                Some(ticked) => self.look(ticked),
                None => self.end("off"),
            }
        }
    }

    fn end(&mut self, why: &'static str) {
        self.ended = true;
        self.waiting.push_back(Event::default().event("bye").data(why));
    }

    fn tell(&mut self, name: &str, what: &str) {
        self.waiting.push_back(Event::default().event(name).data(what));
    }

    /// Tells that the computer is there, and what is another than before.
    fn look(&mut self, ticked: bool) {
        let now = SystemClock.now();
        let turn = now.0.div_euclid(SEEN_EVERY.0);
        if ticked {
            self.tell("tick", &json!({"now": now.0}).to_string());
            if self.turn == turn {
                return;
            }
        }
        self.turn = turn;
        let picture: Arc<Picture> = Arc::clone(&self.pictures.borrow_and_update());
        if !picture.devices.iter().any(|device| device.token == self.token) {
            return self.end("forgotten");
        }
        let told = Told::of(&picture, &self.token, now);
        let newest = [("ring", json!(ring(&told))), ("state", state(&told, &self.view))];
        for (number, (name, what)) in newest.into_iter().enumerate() {
            let what = what.to_string();
            let mark = codes::digest(&what);
            if self.told[number] != mark {
                self.tell(name, &what);
                self.told[number] = mark;
            }
        }
    }
}
