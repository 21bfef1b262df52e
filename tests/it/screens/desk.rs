//! A screen without a terminal: the real update and draw over a made-up shop and made-up time.

use std::cell::RefCell;
use std::sync::{Arc, OnceLock};

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use spyhole::testing::casting::{Found, Mould, What as Bench};
use spyhole::testing::edge::own_schedules;
use spyhole::testing::edge::screen::app::App;
use spyhole::testing::edge::screen::draw::{Picture, draw};
use spyhole::testing::edge::screen::input::{Context, Effect};
use spyhole::testing::edge::screen::spots::Spots;
use spyhole::testing::edge::screen::unwritten::{Unwritten, reason};
use spyhole::testing::edge::shop::day_plan;
use spyhole::testing::edge::shop::kept::entry_of;
use spyhole::testing::edge::shop::standing::Standing;
use spyhole::testing::edge::shop::store::{Nearest, Record, Settings};
use spyhole::testing::firing::Unread;
use spyhole::testing::forecast::Drops;
use spyhole::testing::hours::{Hours, Open, People, TimeOfDay};
use spyhole::testing::kiln::starter;
use spyhole::testing::plan::DayPlan;
use spyhole::testing::review::nearest::nearest;
use spyhole::testing::scene::{BenchScene, Floor, PastFiring, advices};
use spyhole::testing::ware;

use crate::prelude::*;
use crate::review::history;
use crate::review::made::came;

/// 2026-03-12T13:40:20Z, a made-up moment.
pub(super) const NOW: Moment = Moment(1_773_322_820_000);

/// The casting bench, and after which event and when it was reckoned.
type Reckoned = (Option<(EventId, Moment)>, Arc<BenchScene>);

#[derive(Debug)]
pub(super) struct Desk {
    pub(super) memory: Memory,
    /// What happened and was written, in the order of writing.
    pub(super) written: Vec<What>,
    pub(super) advices: Vec<(FiringId, Advice)>,
    pub(super) app: App,
    pub(super) now: Moment,
    /// What a review reckons with.
    prices: Prices,
    /// The shop refuses to write, with this reason.
    pub(super) refuses: Option<&'static str>,
    /// What the shop keeps beside its journal; without it, a shop that keeps nothing there.
    pub(super) settings: Option<Settings>,
    pub(super) schedules: Vec<Offered>,
    pub(super) dial: Dial<'static>,
    /// The line that stays.
    pub(super) guidance: Option<&'static str>,
    /// Events that could not be read.
    pub(super) unread: Vec<Unread>,
    /// The plan that comes where it is asked for.
    pub(super) plans: Option<Arc<DayPlan>>,
    spots: Spots,
    /// Since the screen opened.
    pub(super) running: Span,
    /// A key is pressed before its frame was drawn.
    pub(super) hasty: bool,
    bench: RefCell<Reckoned>,
}

impl Desk {
    /// A shop without kilns.
    pub(super) fn empty() -> Desk {
        let memory = Memory::new(Vec::new(), starter::load_types());
        Desk {
            memory,
            written: Vec::new(),
            advices: Vec::new(),
            app: App::default(),
            now: NOW,
            prices: Prices::default(),
            refuses: None,
            settings: Some(Settings { house: Ok(House::default()), bell: Ok(BellFile::default()) }),
            schedules: own_schedules::shipped(),
            dial: DIAL,
            guidance: None,
            unread: Vec::new(),
            plans: None,
            spots: Spots::default(),
            running: Span::ZERO,
            hasty: false,
            bench: RefCell::default(),
        }
    }

    /// Three kilns: Heron near its drop, Otter far from it, Wren cold and empty.
    pub(super) fn busy() -> Desk {
        let kilns =
            vec![kiln("Heron", Fuel::Gas), kiln("Otter", Fuel::Electric), kiln("Wren", Fuel::Gas)];
        let mut desk = Desk { memory: Memory::new(kilns, starter::load_types()), ..Desk::empty() };
        desk.light("Heron", "gold", "018", NOW - Span::hours(4));
        desk.light("Otter", "earthenware bisque", "04", NOW - Span::hours(3));
        for step in 0..=8 {
            let at = NOW - Span::minutes(240 - 29 * step);
            desk.write(1, at, What::Reading(Celsius(20.0 + 86.0 * step as f64)));
        }
        desk.write(2, NOW - Span::minutes(100), What::Reading(Celsius(180.0)));
        let look = Look {
            guide: Some(Seen::Half),
            target: Some(Seen::Standing),
            guard: Some(Seen::Standing),
        };
        desk.write(1, NOW - Span::minutes(6), What::Look(look));
        desk.advices =
            vec![(FiringId(1), near_the_drop(NOW)), (FiringId(2), far_from_the_drop(NOW))];
        desk
    }

    /// The same, with two golds fired in Wren in the days before.
    pub(super) fn with_past() -> Desk {
        let mut desk = Desk::busy();
        for (days, length, verdict, note) in
            [(8, 250, Verdict::Good, "bright and even"), (3, 280, Verdict::Over, "dull at the top")]
        {
            let lit = NOW - Span::hours(24 * days);
            desk.light("Wren", "gold", "018", lit);
            let id = desk.memory.shop().firing_in("Wren").unwrap().id.0;
            for step in 1..=10 {
                let at = lit + Span::minutes(length * step / 10);
                desk.write(id, at, What::Reading(Celsius(20.0 + 70.0 * step as f64)));
            }
            let end = lit + Span::minutes(length + 5);
            let look = Look { target: Some(Seen::Down), guide: Some(Seen::Down), guard: None };
            desk.write(id, end, What::Look(look));
            desk.write(id, end + Span::minutes(2), What::Off);
            desk.write(id, lit + Span::hours(20), What::Drawn);
            let outcome = Outcome { note: note.into(), ..came(verdict) };
            desk.write(id, lit + Span::hours(20), What::Outcome(outcome));
        }
        desk
    }

    /// A year of firings to look back on, none under way.
    pub(super) fn with_a_year() -> Desk {
        let memory = history::remembered(&history::firings(NOW));
        Desk { memory, prices: history::prices(), ..Desk::empty() }
    }

    /// The plan of this shop.
    pub(super) fn day_plan(&self) -> DayPlan {
        day_plan::of(self.memory.journal(), Arc::new(ZONE), self.now).unwrap()
    }

    fn light(&mut self, kiln: &str, load_type: &str, target: &str, at: Moment) {
        let pack = ConePack::usual(Cone::parse(target).unwrap(), Family::SelfSupporting);
        let lit = lit_with(kiln, load_type, pack);
        let entry = Entry::new(About::NewFiring, at, What::Lit(lit));
        self.append(entry, at);
    }

    pub(super) fn write(&mut self, firing: i64, at: Moment, what: What) {
        let entry = Entry::new(About::Firing(FiringId(firing)), at, what);
        self.append(entry, at);
    }

    fn append(&mut self, entry: Entry, at: Moment) {
        self.memory.append(&entry, Who::Program, at).unwrap();
        self.written.push(entry.what);
    }

    /// The advice of Heron, to be changed.
    pub(super) fn heron(&mut self) -> &mut Advice {
        &mut self.advices[0].1
    }

    /// Makes the advice for kilns that cool.
    pub(super) fn advise_cooling(&mut self) {
        self.advices = advices(&self.memory.shop(), &self.memory.closed(), |_| None, self.now);
    }

    pub(super) fn scene(&self) -> Scene {
        let (shop, advices) = (Arc::new(self.memory.shop()), Arc::new(self.advices.clone()));
        let alarms = self.memory.alarms_on(&mut Standing::default(), &advices, self.now);
        let unread = self.unread.clone();
        let ware = Arc::new(ware::follow(&shop.lots, &shop.open, &shop.load_types));
        let bench = self.bench(&shop);
        Floor { shop, advices, alarms, unread, ware, bench, ..Floor::default() }.scene(self.now)
    }

    fn bench(&self, shop: &Shop) -> Arc<BenchScene> {
        let (of, bench) = &mut *self.bench.borrow_mut();
        let now = shop.last_event.map(|last| (last, self.now));
        if shop.casts && *of != now {
            (*of, *bench) = (now, Arc::new(self.memory.bench(self.now)));
        }
        Arc::clone(bench)
    }

    /// Kilns that are cold, and a casting bench: A1 to A8 were poured two days ago, B1 to B5 are empty.
    pub(super) fn at_the_bench() -> Desk {
        let memory = Memory::new(vec![kiln("Wren", Fuel::Gas)], starter::load_types());
        let mut desk = Desk { memory, ..Desk::empty() };
        let days = "every day".parse().unwrap();
        let open = Open { from: TimeOfDay(0), to: TimeOfDay(24 * 60), people: People(1) };
        desk.note_of_shop(200, What::Hours(Hours { days, open }));
        let codes =
            (1..=8).map(|nth| format!("A{nth}")).chain((1..=5).map(|nth| format!("B{nth}")));
        for code in codes {
            desk.add_mould(&code);
            desk.pour(&code, 140);
            desk.note_of_shop(
                116,
                What::Bench(Bench::Check { mould: code.clone(), found: Found::Well }),
            );
            if code.starts_with('A') {
                desk.pour(&code, 48);
            }
        }
        desk.written.clear();
        // Reckoned once for all of them.
        static BENCH: OnceLock<Arc<BenchScene>> = OnceLock::new();
        let of = desk.memory.shop().last_event.map(|last| (last, desk.now));
        let bench = BENCH.get_or_init(|| Arc::new(desk.memory.bench(desk.now)));
        desk.bench = RefCell::new((of, Arc::clone(bench)));
        desk
    }

    fn note_of_shop(&mut self, hours_ago: i64, what: What) {
        let at = NOW - Span::hours(hours_ago);
        let about = About::Shop;
        self.append(Entry::new(about, at, what), at);
    }

    pub(super) fn add_mould(&mut self, code: &str) {
        let mould = Mould { code: code.into(), body: "porcelain".into(), ..Mould::default() };
        self.note_of_shop(200, What::Bench(Bench::Mould(mould)));
    }

    /// Poured and drained so many hours ago.
    pub(super) fn pour(&mut self, mould: &str, hours_ago: i64) {
        let (mould, body) = (mould.to_owned(), "porcelain".to_owned());
        self.note_of_shop(hours_ago, What::Bench(Bench::Poured { mould: mould.clone(), body }));
        self.note_of_shop(hours_ago, What::Bench(Bench::Drained { mould }));
    }

    /// Presses a key; the entries handed out are written as the driver would, and returned.
    pub(super) fn press(&mut self, key: Key) -> Vec<Entry> {
        self.hear(Input::Key(key))
    }

    /// Clicks on what a frame of this size shows at a place.
    pub(super) fn click(&mut self, (columns, rows): (u16, u16), at: (u16, u16)) -> Vec<Entry> {
        self.draw(columns, rows, PLAIN);
        let spot = self.spots.at(at.0, at.1);
        spot.map_or(Vec::new(), |spot| self.hear(Input::Mouse(Mouse::Clicked(spot))))
    }

    /// Clicks on the first place where a frame of this size says this.
    pub(super) fn click_on(&mut self, size: (u16, u16), wanted: &str) -> Vec<Entry> {
        let frame = text(&self.draw(size.0, size.1, PLAIN));
        let found = frame.lines().zip(0..).find_map(|(line, row)| {
            let before = line.find(wanted)?;
            Some((line[..before].chars().count() as u16, row))
        });
        let place = found.unwrap_or_else(|| panic!("{wanted} is not in\n{frame}"));
        self.click(size, place)
    }

    /// The same desk after these keys.
    pub(super) fn after(mut self, keys: &str) -> Desk {
        self.type_in(keys);
        self
    }

    /// Takes an input in; the entries handed out are written as the driver would, and returned.
    pub(super) fn hear(&mut self, input: Input) -> Vec<Entry> {
        let scene = self.scene();
        if !self.hasty {
            self.app.shows(&scene, self.running);
            self.running = self.running + Span::seconds(2);
        }
        let context = Context {
            scene: &scene,
            dial: self.dial,
            glimpse: None,
            shelves: None,
            schedules: &[],
            running: self.running,
        };
        let schedules = std::mem::take(&mut self.schedules);
        let context = Context { schedules: &schedules, ..context };
        let effects = self.app.update(input, &context);
        let mut entries = Vec::new();
        self.perform(effects, &context, &mut entries);
        self.schedules = schedules;
        entries
    }

    fn perform(&mut self, effects: Vec<Effect>, context: &Context<'_>, entries: &mut Vec<Entry>) {
        for effect in effects {
            if let Some(answer) = self.answer(effect, entries) {
                let effects = self.app.update(answer, context);
                self.perform(effects, context, entries);
            }
        }
    }

    /// What the driver would answer.
    fn answer(&mut self, effect: Effect, entries: &mut Vec<Entry>) -> Option<Input> {
        let memory = &mut self.memory;
        Some(match effect {
            Effect::Append(entry) => {
                let answer = match self.refuses {
                    Some(why) => Err(Unwritten { why: why.to_owned(), overtaken: false }),
                    None => memory
                        .append(&entry, Who::Person(String::new()), self.now)
                        .map_err(|error| reason(&error)),
                };
                self.written.extend(answer.is_ok().then(|| entry.what.clone()));
                entries.push(entry);
                Input::Answered(answer)
            }
            Effect::ReadSettings => Input::Settings(Box::new(self.settings.clone()?)),
            Effect::Keep(kept) => {
                let answer = match self.refuses {
                    Some(why) => Err(why.to_owned()),
                    None => Ok(Box::new(kept.becomes.clone())),
                };
                if answer.is_ok() {
                    assert_eq!(self.settings.as_ref(), Some(&kept.was));
                    self.settings = Some(kept.becomes);
                }
                Input::Kept(answer)
            }
            Effect::ChangeScale => {
                self.dial.scale = self.dial.scale.other();
                return None;
            }
            Effect::ChangeClock => {
                self.dial.clock = self.dial.clock.other();
                return None;
            }
            Effect::ReadLedger => {
                let listed = memory.journal().ledger(&LedgerFilter::default()).unwrap();
                let begun = |id| listed.iter().find(|row| row.firing == id).unwrap().begun;
                let past = memory.firings().map(PastFiring::of);
                let rows = past.map(|past| PastFiring { begun: begun(past.firing), ..past });
                Input::Ledger(Ok(rows.collect()))
            }
            Effect::ReadFiring(id) => {
                let firing = memory.firing(id).cloned().map(Box::new);
                Input::Firing(firing.ok_or("no such firing".to_owned()))
            }
            Effect::ReadRecord(id) => {
                let (firing, past) = (memory.firing(id)?.clone(), memory.closed());
                Input::Record(Box::new(Record { firing, past }))
            }
            Effect::ReadEntry(id) => {
                let entry = entry_of(memory.journal(), id).map(Box::new);
                Input::Entry(entry.map_err(|error| error.to_string()))
            }
            Effect::ReadNearest(id) => {
                let firing = memory.firing(id)?.clone();
                let past = memory.firings().filter(|past| past.kiln == firing.kiln);
                let near = nearest(&firing, past, 3).into_iter();
                let near = near.map(|near| (near.clone(), memory.firing(near.id).unwrap().clone()));
                Input::Nearest(Ok(Box::new(Nearest { near: near.collect(), firing })))
            }
            Effect::Plan => Input::Plan(Ok(self.plans.clone()?)),
            Effect::Review(question) => {
                Input::Review(Ok(Box::new(memory.review(&question, &self.prices))))
            }
            _ => return None,
        })
    }

    /// Types a text, one key a character: `\n` is Enter, `\t` Tab, `<` Shift-Tab, `^` Ctrl-U, `!` Escape,
    /// `@` the key to what is due, and arrows are arrows. The answer is what was handed out to be written.
    pub(super) fn type_in(&mut self, text: &str) -> Vec<Entry> {
        let key = |c: char| match c {
            '\n' => Key::Enter,
            '\t' => Key::Tab,
            '<' => Key::BackTab,
            '^' => Key::Control('u'),
            '!' => Key::Escape,
            '@' => super::due::DUE,
            '↑' => Key::Up,
            '↓' => Key::Down,
            '←' => Key::Backspace,
            c => Key::Char(c),
        };
        text.chars().flat_map(|c| self.press(key(c))).collect()
    }

    pub(super) fn draw(&self, columns: u16, rows: u16, theme: Theme) -> Buffer {
        self.draw_of(&self.scene(), Rect::new(0, 0, columns, rows), theme)
    }

    pub(super) fn draw_of(&self, scene: &Scene, area: Rect, theme: Theme) -> Buffer {
        let mut buffer = Buffer::empty(area);
        let picture = Picture {
            scene,
            schedules: &self.schedules,
            app: &self.app,
            dial: self.dial,
            theme,
            guidance: self.guidance,
            speed: None,
            spots: &self.spots,
        };
        draw(&picture, area, &mut buffer);
        buffer
    }
}

/// Heron: half of the drop times lie within twelve minutes, and a look is due.
fn near_the_drop(now: Moment) -> Advice {
    let after = |minutes| now + Span::minutes(minutes);
    let cone = |name: &str, heat_work, lean_deg| ConeNow {
        cone: Cone::parse(name).unwrap(),
        heat_work,
        lean_deg,
        lean_range_deg: (0.8 * lean_deg, (1.3 * lean_deg).min(90.0)),
    };
    advice(
        now,
        Task::LookDue,
        (after(4), after(12), after(24)),
        vec![cone("019", 0.93, 76.0), cone("018", 0.62, 31.0), cone("017", 0.35, 16.0)],
        Celsius(716.0),
        (after(-3), after(-1)),
    )
}

/// Otter: hours to go.
fn far_from_the_drop(now: Moment) -> Advice {
    let after = |minutes| now + Span::minutes(minutes);
    advice(
        now,
        Task::NextLook,
        (after(380), after(430), after(500)),
        Vec::new(),
        Celsius(310.0),
        (after(360), after(350)),
    )
}

fn advice(
    now: Moment,
    say: Task,
    (p05, p50, p95): (Moment, Moment, Moment),
    cones: Vec<ConeNow>,
    chamber: Celsius,
    (watch_opens, next_look): (Moment, Moment),
) -> Advice {
    let forecast = Forecast {
        p05,
        p50,
        p95,
        dropped: 0.0,
        cones,
        chamber: Some(chamber),
        climb: Some(CelsiusPerHour(148.0)),
        rests_on: vec![
            Ground::Readings { count: 9, last: now - Span::minutes(8), doubted: None },
            Ground::Looks { count: 1, last: now - Span::minutes(6) },
        ],
        drops: Drops::of(&[], now),
        set_aside: Vec::new(),
        width: 1.0,
    };
    Advice {
        request: None,
        at: now,
        say,
        forecast: Ok(forecast),
        watch_opens: Some(watch_opens),
        next_look: Some(next_look),
        forgives: Some(Span::minutes(11)),
        overshoot: None,
        overshoot_cones: None,
        looks: vec![next_look],
        late_at_worst: None,
        doubt: None,
        otherwise: None,
        cooling: None,
        schedule: Vec::new(),
    }
}

pub(super) const PLAIN: Theme = Theme { depth: Depth::None, paper: Paper::Dark, ascii: false };
pub(super) const ASCII: Theme = Theme { depth: Depth::None, paper: Paper::Dark, ascii: true };
pub(super) const TRUE_COLOUR: Theme =
    Theme { depth: Depth::True, paper: Paper::Dark, ascii: false };
pub(super) const INDEXED: Theme = Theme { depth: Depth::Indexed, paper: Paper::Dark, ascii: true };

/// The text of a frame, a line a row, without blanks at the ends of rows.
pub(super) fn text(buffer: &Buffer) -> String {
    let mut text = String::new();
    for row in buffer.area.rows() {
        let line: String = row.positions().map(|position| buffer[position].symbol()).collect();
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}
