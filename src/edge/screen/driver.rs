//! The loop: hears, updates, performs the effects, and draws when something changed.

use std::sync::Arc;
use std::time::{Duration, Instant};

use ratatui::style::{Modifier, Style};

use super::app::{App, Tone};
use super::draw::{self, Picture};
use super::export;
use super::input::{Context, Effect, Input, Mouse};
use super::key::named_keys;
use super::spots::Spots;
use super::terminal::{Heard, Seat};
use super::theme::Theme;
use super::unwritten::reason;
use crate::edge::own_schedules::Offered;
use crate::edge::shop::advised::is_calm;
use crate::edge::shop::behind_screen::Behind;
use crate::edge::shop::clock::Timekeeper;
use crate::edge::shop::kept::entry_of;
use crate::scene::{Floor, Scene};
use crate::units::{Moment, Span};
use crate::words::Dial;

/// How often another process's events are looked for.
const POLL: Duration = Duration::from_millis(1000);
/// The same while nothing rings, nor is any look due within the hour.
const POLL_CALM: Duration = Duration::from_secs(3);
/// A made-up shop has no other process. There time is to be seen to run: it is looked at after
/// this much of its own time, but no oftener than after this much of the clock's.
const POLL_MADE_UP_S: f64 = 20.0;
const POLL_FAST: Duration = Duration::from_millis(100);
/// How often it is asked whether the advice has come.
const POLL_ADVICE: Duration = Duration::from_millis(60);
/// A look that is due so soon after a drawing, or before, is made with it: waking once is enough.
const TOGETHER: Duration = Duration::from_millis(250);
/// Waking at a moment takes less than this.
const WAKING: Span = Span(100);
/// How long a message stays that somebody need not act on.
const MESSAGE: Duration = Duration::from_secs(8);
/// How long the screen flashes for a ring.
const FLASH: Duration = Duration::from_millis(400);
/// Schedules read longer ago than this are read again before the next key.
const SCHEDULES_FRESH: Duration = Duration::from_secs(2);
/// Two frames are at least this far apart.
const FRAME: Duration = Duration::from_millis(40);

/// The screen of one shop, until somebody leaves it.
///
/// # Errors
/// When there is no terminal, or it fails. Errors of the shop are shown on the screen instead.
pub fn run(
    store: &mut dyn Behind,
    clock: &mut dyn Timekeeper,
    dial: Dial<'_>,
    theme: Theme,
    app: App,
) -> anyhow::Result<()> {
    let mut driver = Driver {
        store,
        clock,
        dial,
        theme,
        app,
        floor: Floor::default(),
        began: Instant::now(),
        polled: Instant::now(),
        told: None,
        flashed: None,
        spots: Spots::default(),
        schedules: Vec::new(),
        schedules_read: None,
    };
    driver.refresh();
    let mut seat = Seat::take()?;
    driver.take(Input::Opened, &mut seat)?;
    driver.turn(&mut seat)
}

/// What the shop answers, or why it does not, in words.
fn said<T>(answer: anyhow::Result<T>) -> Result<T, String> {
    answer.map_err(|error| format!("{error:#}"))
}

struct Driver<'a> {
    store: &'a mut dyn Behind,
    clock: &'a mut dyn Timekeeper,
    dial: Dial<'a>,
    theme: Theme,
    app: App,
    floor: Floor,
    began: Instant,
    polled: Instant,
    /// Since when the message that is shown has been.
    told: Option<Instant>,
    /// Since when the screen flashes for a ring.
    flashed: Option<Instant>,
    /// What the last frame shows, and where.
    spots: Spots,
    /// The schedules a kiln can be lit by, and when they were read.
    schedules: Vec<Offered>,
    schedules_read: Option<Instant>,
}

/// Whether the loop goes on.
#[derive(PartialEq, Eq)]
enum Next {
    Draw,
    Sleep,
    Leave,
}

impl Driver<'_> {
    fn turn(&mut self, seat: &mut Seat) -> anyhow::Result<()> {
        let mut next = Next::Draw;
        let mut change_due = Moment(i64::MIN);
        loop {
            let now = self.clock.now();
            if next == Next::Draw || now >= change_due {
                let scene = self.floor.scene(self.drawn_at(now, change_due));
                change_due = scene.next_change();
                self.draw(seat, &scene)?;
            }
            let heard = seat.listen(self.patience(change_due))?;
            next = match heard {
                Heard::Leave => Next::Leave,
                Heard::Pause => {
                    seat.suspend()?;
                    Next::Draw
                }
                Heard::Resized => {
                    seat.forget_picture()?;
                    Next::Draw
                }
                Heard::Key(key) => self.take(Input::Key(key), seat)?,
                Heard::WheelUp => self.take(Input::Mouse(Mouse::WheelUp), seat)?,
                Heard::WheelDown => self.take(Input::Mouse(Mouse::WheelDown), seat)?,
                Heard::Clicked(column, row) => match self.spots.at(column, row) {
                    Some(spot) => self.take(Input::Mouse(Mouse::Clicked(spot)), seat)?,
                    None => Next::Sleep,
                },
                Heard::Nothing => Next::Sleep,
            };
            if next == Next::Leave {
                return Ok(());
            }
            let rings = self.store.shop().rings();
            if !rings.is_empty() {
                seat.ring()?;
                for receipt in rings {
                    // Whoever gave up waiting for it has called by another way.
                    let _ = receipt.send(());
                }
                self.flashed = Some(Instant::now());
                next = Next::Draw;
            }
            if self.poll() | self.forget_message() | self.end_flash() {
                next = Next::Draw;
            }
        }
    }

    /// The moment to draw: one that was waited for is drawn as it was due, though waking takes a
    /// few milliseconds more or less, so that a countdown leaves no second out.
    fn drawn_at(&self, now: Moment, change_due: Moment) -> Moment {
        if (change_due..change_due + WAKING).contains(&now) { change_due } else { now }
    }

    /// How long nothing can change.
    fn patience(&mut self, change_due: Moment) -> Duration {
        let left = |since: Instant, of: Duration| of.saturating_sub(since.elapsed());
        let draw = self.clock.until(change_due).max(FRAME);
        let every = self.poll_every();
        let poll = left(self.polled, every);
        let wake = if draw.saturating_sub(poll) < TOGETHER { draw } else { poll };
        let told = self.told.filter(|_| self.message_goes());
        let message = told.map_or(Duration::MAX, |told| left(told, MESSAGE).max(FRAME));
        let flash = self.flashed.map_or(Duration::MAX, |flashed| left(flashed, FLASH));
        wake.min(message).min(flash)
    }

    fn poll_every(&mut self) -> Duration {
        if self.store.shop().awaits() {
            return POLL_ADVICE;
        }
        match self.clock.speed() {
            // Time that stands still brings nothing.
            Some(speed) if speed <= 0.0 => Duration::MAX,
            Some(speed) => Duration::from_secs_f64(POLL_MADE_UP_S / speed).max(POLL_FAST),
            None if self.is_calm() => POLL_CALM,
            None => POLL,
        }
    }

    fn is_calm(&self) -> bool {
        let Floor { shop, advices, alarms, .. } = &self.floor;
        alarms.is_empty() && is_calm(shop, advices, self.clock.now())
    }

    /// Looks for events of others; true if there is something new to show.
    fn poll(&mut self) -> bool {
        let every = self.poll_every();
        let soon = every.saturating_sub(TOGETHER.min(every / 4));
        if self.polled.elapsed() < soon {
            return false;
        }
        self.polled = Instant::now();
        let made = self.hear_what_was_made();
        match self.store.changed(self.clock.now()) {
            Ok(false) => return made,
            Ok(true) => {
                self.refresh();
                self.renew_plan();
            }
            Err(error) => self.unreadable(&error),
        }
        true
    }

    /// Asks for the plan that is open once more, if the shop has gone on from what it was made of.
    fn renew_plan(&mut self) {
        if self.app.shows_plan() && self.store.shop().plan_is_behind() {
            let failed = self.answer(Effect::Plan);
            failed.map(|failed| self.update(failed));
        }
    }

    /// Takes in the review and the plan that were asked for, as far as they are there.
    fn hear_what_was_made(&mut self) -> bool {
        let review = self.store.shop().review();
        let review = review.map(|read| Input::Review(said(read.map(Box::new))));
        let plan = self.store.shop().plan();
        let plan = plan.map(|made| Input::Plan(said(made.map(Arc::new))));
        let made = review.into_iter().chain(plan);
        made.map(|input| self.update(input)).count() > 0
    }

    /// Whether the flash of a ring is over by now; true once.
    fn end_flash(&mut self) -> bool {
        self.flashed.take_if(|flashed| flashed.elapsed() >= FLASH).is_some()
    }

    /// Takes a message away that has been read by now; true if there was one.
    fn forget_message(&mut self) -> bool {
        if !self.message_goes() || self.told.is_none_or(|told| told.elapsed() < MESSAGE) {
            return false;
        }
        self.app.message = None;
        true
    }

    /// Whether there is a message that goes by itself.
    fn message_goes(&self) -> bool {
        self.app.message.as_ref().is_some_and(|message| message.tone != Tone::Wrong)
    }

    fn refresh(&mut self) {
        match self.store.snapshot(self.clock.now()) {
            Ok(floor) => self.floor = floor,
            Err(error) => self.unreadable(&error),
        }
    }

    fn unreadable(&mut self, error: &anyhow::Error) {
        // What rings is known all the same.
        self.floor.alarms = self.store.shop().alarms();
        let input = Input::Unreadable(format!("{error:#}"));
        self.update(input);
    }

    fn update(&mut self, input: Input) -> Vec<Effect> {
        let now = self.clock.now();
        let scene = self.floor.scene(now);
        let firing = self.app.kiln(&scene).and_then(|kiln| kiln.firing);
        let glimpse = firing.and_then(|firing| self.store.glimpse(firing));
        let shelves = firing.and_then(|firing| self.store.shelves(firing));
        let context = Context {
            scene: &scene,
            dial: self.dial,
            glimpse: glimpse.as_ref(),
            shelves: shelves.as_deref(),
            schedules: &self.schedules,
            running: self.running(),
        };
        let before = self.app.message.clone();
        let effects = self.app.update(input, &context);
        if self.app.message != before {
            self.told = Some(Instant::now());
        }
        // Time does not run away from somebody who is typing.
        self.clock.hold(self.app.form.is_some());
        effects
    }

    fn read_schedules(&mut self) {
        self.schedules = self.store.shop().schedules();
        self.schedules_read = Some(Instant::now());
    }

    fn take(&mut self, input: Input, seat: &mut Seat) -> anyhow::Result<Next> {
        // A file may have been written meanwhile; below an open form nothing moves.
        let fresh = self.schedules_read.is_some_and(|read| read.elapsed() < SCHEDULES_FRESH);
        if self.app.form.is_none() && !fresh {
            self.read_schedules();
        }
        let effects = self.update(input);
        self.perform(effects, seat)
    }

    fn perform(&mut self, effects: Vec<Effect>, seat: &mut Seat) -> anyhow::Result<Next> {
        for effect in effects {
            match effect {
                Effect::Quit => return Ok(Next::Leave),
                Effect::Suspend => seat.suspend()?,
                Effect::Redraw => seat.forget_picture()?,
                other => {
                    if let Some(answer) = self.answer(other) {
                        let effects = self.update(answer);
                        self.perform(effects, seat)?;
                    }
                    self.hear_what_was_made();
                }
            }
        }
        Ok(Next::Draw)
    }

    /// What comes of an effect that needs no terminal, if anybody waits for it.
    fn answer(&mut self, effect: Effect) -> Option<Input> {
        let (shop, now) = (self.store.shop(), self.clock.now());
        Some(match effect {
            Effect::ReadSettings => Input::Settings(Box::new(shop.settings()?)),
            Effect::Keep(kept) => {
                let answer = said(shop.keep(&kept)).map(|()| Box::new(kept.becomes.clone()));
                if let (Ok(_), Ok(house)) = (&answer, &kept.becomes.house) {
                    self.dial.scale = house.scale.unwrap_or(self.dial.scale);
                    self.dial.clock = house.clock.unwrap_or(self.dial.clock);
                    self.read_schedules();
                }
                Input::Kept(answer)
            }
            Effect::ReadLedger => Input::Ledger(said(shop.ledger())),
            Effect::ReadFiring(firing) => Input::Firing(said(shop.firing(firing).map(Box::new))),
            Effect::ReadEntries(firing) => Input::Entries(said(shop.entries(firing).map(Box::new))),
            Effect::ReadEntry(id) => Input::Entry(said(entry_of(shop.journal(), id).map(Box::new))),
            // A shop that cannot be read asks nothing.
            Effect::ReadRecord(firing) => Input::Record(Box::new(shop.record(firing).ok()?)),
            Effect::ReadNearest(firing) => Input::Nearest(said(shop.nearest(firing).map(Box::new))),
            Effect::Export(export) => {
                Input::Exported(said(export::write(shop, &export, &self.dial, now)))
            }
            Effect::Answer(of) => {
                let done = format!("Acknowledged: {}", of.alarm);
                Input::Exported(said(shop.answer(of, now).map(|()| done).map_err(Into::into)))
            }
            Effect::Review(question) => Input::Review(Err(said(shop.ask_review(&question)).err()?)),
            Effect::Plan => Input::Plan(Err(said(shop.ask_plan(now)).err()?)),
            Effect::Append(entry) => {
                let answer = self.store.append(&entry, now).map_err(|error| reason(&error));
                // What was refused may rest on what others wrote meanwhile.
                self.refresh();
                Input::Answered(answer)
            }
            Effect::ChangeScale => {
                self.dial.scale = self.dial.scale.other();
                return None;
            }
            Effect::ChangeClock => {
                self.dial.clock = self.dial.clock.other();
                return None;
            }
            Effect::ChangeSpeed(factor) => {
                self.clock.change_speed(factor);
                return None;
            }
            Effect::Quit | Effect::Suspend | Effect::Redraw => return None,
        })
    }

    /// Time since the screen opened.
    fn running(&self) -> Span {
        Span(i64::try_from(self.began.elapsed().as_millis()).unwrap_or(i64::MAX))
    }

    fn draw(&mut self, seat: &mut Seat, scene: &Scene) -> anyhow::Result<()> {
        self.app.shows(scene, self.running());
        let guidance = self.store.guidance(scene, &named_keys());
        let picture = Picture {
            scene,
            schedules: &self.schedules,
            app: &self.app,
            dial: self.dial,
            theme: self.theme,
            guidance: guidance.as_deref(),
            speed: self.clock.speed(),
            spots: &self.spots,
        };
        seat.terminal.draw(|frame| {
            let area = frame.area();
            if let Some(cursor) = draw::draw(&picture, area, frame.buffer_mut()) {
                frame.set_cursor_position(cursor);
            }
            if self.flashed.is_some() {
                let reversed = Style::new().add_modifier(Modifier::REVERSED);
                frame.buffer_mut().set_style(area, reversed);
            }
        })?;
        Ok(())
    }
}
