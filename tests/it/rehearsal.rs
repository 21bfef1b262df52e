//! The rehearsal and its lessons, from the first key to the last sentence, with made-up time: the
//! real screen's update, its forms and its advice, over the made-up shop.

use spyhole::testing::edge::own_schedules;
use spyhole::testing::edge::rehearse::{PRACTICE_KILN, RehearsalShop};
use spyhole::testing::edge::screen::app::App;
use spyhole::testing::edge::screen::export::{self, Export, Wanted};
use spyhole::testing::edge::screen::input::{Context, Effect};
use spyhole::testing::edge::screen::key::named_keys;
use spyhole::testing::edge::screen::unwritten::reason;
use spyhole::testing::edge::shop::behind_screen::Behind;
use spyhole::testing::scene::{Floor, KilnScene, PastFiring, Role};
use spyhole::testing::words::{self, Lesson};

use crate::prelude::*;

/// Somebody in front of the screen of a rehearsal.
struct Trainee {
    shop: RehearsalShop,
    app: App,
    now: Moment,
    snapshot: Floor,
    /// Since the screen opened, two seconds a key.
    running: Span,
}

impl Trainee {
    fn comes(lesson: Option<Lesson>, seed: u64) -> Trainee {
        let mut shop = RehearsalShop::new(lesson, seed, PATIENCE).unwrap();
        let now = shop.came();
        let snapshot = shop.snapshot(now).unwrap();
        let app = App::rehearsing(PRACTICE_KILN);
        Trainee { shop, app, now, snapshot, running: Span::ZERO }
    }

    fn scene(&self) -> Scene {
        self.snapshot.scene(self.now)
    }

    fn kiln(&self, name: &str) -> KilnScene {
        self.scene().kiln(name).unwrap().clone()
    }

    /// Whether somebody on the bench's page is at this mould.
    fn bench_shows(&self, code: &str) -> bool {
        let View::Bench(view) = &self.app.view else { panic!("another page is open") };
        view.mould(&self.scene().bench).is_some_and(|mould| mould.mould.code == code)
    }

    /// The line the rehearsal shows.
    fn told(&self) -> String {
        self.shop.guidance(&self.scene(), &named_keys()).unwrap()
    }

    fn seen(&self) -> Look {
        let firing = self.kiln(PRACTICE_KILN).firing.unwrap();
        self.shop.glimpse(firing).unwrap()
    }

    fn wait(&mut self, span: Span) {
        self.now = self.now + span;
        if self.shop.changed(self.now).unwrap() {
            self.snapshot = self.shop.snapshot(self.now).unwrap();
        }
    }

    /// Lets hours pass, half an hour at a time.
    fn wait_hours(&mut self, hours: usize) {
        (0..2 * hours).for_each(|_| self.wait(Span::minutes(30)));
    }

    /// Waits until the line says this, doing nothing.
    #[track_caller]
    fn until_told(&mut self, wanted: &str) {
        let begun = self.now;
        while !self.told().contains(wanted) {
            assert!(self.now - begun < Span::hours(30), "waited for {wanted:?}: {}", self.told());
            let todo = self.kiln(PRACTICE_KILN).todo;
            let calm = match todo.task {
                Task::NextLook => (todo.at - self.now).0.clamp(60_000, 1_200_000),
                Task::LetCool | Task::CoolEnough => 1_200_000,
                _ => 60_000,
            };
            self.wait(Span(calm));
        }
    }

    /// Types a text, one key a character; `\n` is Enter.
    fn press(&mut self, keys: &str) {
        for key in keys.chars() {
            self.hear(Input::Key(if key == '\n' { Key::Enter } else { Key::Char(key) }));
        }
    }

    fn hear(&mut self, input: Input) {
        let scene = self.scene();
        let firing = self.app.kiln(&scene).and_then(|kiln| kiln.firing);
        let glimpse = firing.and_then(|firing| self.shop.glimpse(firing));
        let shelves = firing.and_then(|firing| self.shop.shelves(firing));
        let context = Context {
            scene: &scene,
            dial: DIAL,
            glimpse: glimpse.as_ref(),
            shelves: shelves.as_deref(),
            schedules: &own_schedules::shipped(),
            running: self.running,
        };
        self.running = self.running + Span::seconds(2);
        for effect in self.app.update(input, &context) {
            if let Effect::Append(entry) = effect {
                let answer = self.shop.append(&entry, self.now).map_err(|error| reason(&error));
                self.app.update(Input::Answered(answer), &context);
                self.snapshot = self.shop.snapshot(self.now).unwrap();
            }
        }
    }

    /// Notes a look with what these cones are said to do.
    fn note(&mut self, look: Look) {
        // The target is asked for first, then the others from the coolest on.
        let kiln = self.kiln(PRACTICE_KILN);
        let mut cones: Vec<_> = kiln.cones.iter().collect();
        cones.sort_by_key(|cone| cone.role != Role::Target);
        let seen = |role| spyhole::testing::scene::seen_of(&look, role).unwrap().name();
        let keys: String = cones.iter().map(|cone| words::letter(seen(cone.role))).collect();
        self.press(&format!("l{keys}\n"));
        assert!(self.app.form.is_none(), "{:?}", self.app.form);
    }

    /// Looks whenever that is asked for, and notes what there is, until the target is down.
    fn look_until_down(&mut self) {
        loop {
            self.until_told("ook now");
            let seen = self.seen();
            self.note(seen);
            if seen.target == Some(Seen::Down) {
                return;
            }
            self.wait(Span::minutes(1));
        }
    }

    /// The line begins so.
    #[track_caller]
    fn tells(&self, begins: &str) {
        assert!(self.told().starts_with(begins), "{}", self.told());
    }

    /// The line says this somewhere.
    #[track_caller]
    fn says(&self, part: &str) {
        assert!(self.told().contains(part), "{}", self.told());
    }

    #[track_caller]
    fn ended(&self) -> words::LessonEnd<'_> {
        self.shop.ended().unwrap_or_else(|| panic!("the lesson goes on: {}", self.told()))
    }
}

#[test]
fn law_the_whole_shop_shows_kilns_in_every_state() {
    for seed in 1..=3 {
        let mut trainee = Trainee::comes(None, seed);
        trainee.tells("Rehearsal: Heron is packed with gold. Press f to light it.");
        let mut phases: Vec<Phase> = trainee.scene().kilns.iter().map(|kiln| kiln.phase).collect();
        for wanted in [Phase::Packed, Phase::Heating, Phase::Cooling, Phase::Empty] {
            assert!(phases.contains(&wanted), "{wanted:?} in {phases:?}");
        }
        // The one near its end is in its watch within minutes, or somebody has found it down.
        for _ in 0..20 {
            trainee.wait(Span::minutes(1));
            phases.extend(trainee.scene().kilns.iter().map(|kiln| kiln.phase));
        }
        let near_its_end = |phase: &Phase| matches!(phase, Phase::Watch | Phase::Dropped);
        assert!(phases.iter().any(near_its_end), "{seed}: {phases:?}");
    }
}

#[test]
fn law_the_same_seed_gives_the_same_shop() {
    let shop = |seed| Trainee::comes(None, seed).snapshot.shop;
    assert_eq!(shop(1), shop(1));
    assert_ne!(shop(1), shop(2));
}

/// Gold lit by its schedule: the heat curve shows the plan, as the real screen does.
#[test]
fn law_a_rehearsed_firing_shows_its_plan() {
    let trainee = Trainee::comes(Some(Lesson::DeadProbe), 1);
    let plan = shipped_schedules::named("lustre_and_gold").unwrap().plan();
    assert_eq!(trainee.kiln(PRACTICE_KILN).curve.schedule.len(), plan.len());
}

/// One of the kilns goes wrong; which one, the seed decides.
#[test]
fn law_every_seed_has_its_mishap() {
    for (seed, said) in [
        (1, "Wren: its probe died"),
        (2, "Badger: Ada was called away"),
        (3, "Wren: the gas pressure fell"),
    ] {
        let mut trainee = Trainee::comes(None, seed);
        trainee.until_told(said);
        trainee.wait(Span::minutes(25));
        match seed {
            1 => assert!(!trainee.kiln("Wren").curve.set_aside.is_empty()),
            2 => {
                trainee.wait(Span::minutes(25));
                assert!(trainee.kiln("Badger").task().wants_somebody());
            }
            _ => {
                let climb = trainee.kiln("Wren").climb.map(|climb| climb.0);
                assert!(climb.is_none_or(|climb| climb < 120.0), "{climb:?}");
            }
        }
    }
}

/// Kilns the trainee does not mind are shut off and drawn by somebody else.
#[test]
fn law_the_other_kilns_are_minded() {
    let mut trainee = Trainee::comes(None, 1);
    trainee.wait_hours(10);
    let badger = trainee.kiln("Badger");
    assert!(!badger.is_lit() && trainee.shop.ended().is_none());
    let otter = trainee.kiln("Otter");
    assert_eq!(otter.phase, Phase::Empty, "drawn and judged");
}

#[test]
fn law_a_good_firing_done_right_ends_well() {
    let mut trainee = Trainee::comes(Some(Lesson::GoodFiring), 1);
    trainee.tells("A good firing, 1 of 5: Heron is packed with gold. Press f");
    trainee.press("f\n");
    trainee.tells("2 of 5: the big digits");
    trainee.look_until_down();
    trainee.tells("4 of 5: the target is down. Press o");
    trainee.press("o\n");
    trainee.until_told("Heron is cool: unload it");
    trainee.press("d\n");
    trainee.until_told("press e and write how the gold came out");
    trainee.press("eg\n");
    let ended = trainee.ended();
    assert_eq!((ended.came, ended.written), (Verdict::Good, Some(Verdict::Good)));
    trainee.tells("The lesson is over. The ");
    let told = trainee.told();
    assert!(told.ends_with("The load is good: the gold is bright and holds. q leaves."), "{told}");
}

#[test]
fn law_a_good_firing_done_wrong_is_told_why() {
    // Off at once, hours before the target.
    let mut early = Trainee::comes(Some(Lesson::GoodFiring), 1);
    early.press("f\n");
    early.wait(Span::hours(2));
    early.press("o\n\n");
    early.until_told("Heron is cool: unload it");
    early.press("d\n");
    early.until_told("press e");
    early.press("eg\n");
    assert_eq!(
        early.told(),
        "The lesson is over. Heron was off before its target was down, so it lacks heat work. The \
         load is under: the gold rubs off. You wrote good: write what the shelves show. q leaves."
    );
    // A look that is noted as it was not: said at once, and over once it is noted anew.
    let mut blind = Trainee::comes(Some(Lesson::GoodFiring), 1);
    blind.press("f\n");
    blind.until_told("look now");
    let seen = blind.seen();
    let wrong = if seen.target == Some(Seen::Half) { Seen::Leaning } else { Seen::Half };
    // With its guide down, so that the form has nothing to ask.
    blind.note(Look { guide: Some(Seen::Down), target: Some(wrong), ..seen });
    blind.tells("You noted ");
    blind.press("u\n");
    blind.note(seen);
    assert!(!blind.told().contains("You noted"), "{}", blind.told());
}

/// Off a little early, the load may still be good: then that is what is said.
#[test]
fn law_a_lesson_does_not_contradict_itself() {
    let mut ended = words::LessonEnd {
        kiln: "Heron",
        load_type: "gold",
        down: None,
        found: None,
        off: Moment(0),
        forgives: None,
        came: Verdict::Good,
        written: None,
    };
    let told = words::lesson_ended(&ended);
    assert!(told.contains("so shortly that gold still takes it"), "{told}");
    assert!(!told.contains("lacks"), "{told}");
    ended.came = Verdict::Under;
    assert!(words::lesson_ended(&ended).contains("so it lacks heat work"));
}

/// In the whole shop, too, an outcome that is not what the shelves show is told of, until it is put
/// right.
#[test]
fn law_a_wrong_outcome_is_not_taken_silently() {
    let mut trainee = Trainee::comes(None, 1);
    trainee.press("f\n");
    trainee.wait(Span::hours(2));
    // By then another kiln is due: Heron is chosen on purpose.
    trainee.press("/Heron\no\n\n");
    trainee.wait_hours(20);
    trainee.press("/Heron\nd\neg\n");
    trainee.tells("Rehearsal: you wrote good, but the gold rubs off: that is under.");
    trainee.press("u\neu\n");
    trainee.tells("Rehearsal: that was one firing");
}

#[test]
fn law_a_missed_look_costs_the_load() {
    let mut trainee = Trainee::comes(Some(Lesson::MissedLook), 1);
    trainee.tells("A missed look: the guide of Heron leans");
    trainee.until_told("The telephone rings");
    trainee.until_told("The call is over.");
    let seen = trainee.seen();
    assert_eq!(seen.target, Some(Seen::Down));
    trainee.note(seen);
    trainee.tells("It is down, and nobody knows since when. Press o");
    trainee.press("o\n");
    let ended = trainee.ended();
    assert_eq!(ended.came, Verdict::Over);
    assert!(ended.off - ended.down.unwrap() > ended.forgives.unwrap());
    trainee.tells("The lesson is over. The drop was found late by ");
    trainee.says("The load is over: the gold is dull and lifts.");
}

/// Who does not let the look pass has nothing to repair.
#[test]
fn law_a_look_that_is_not_missed_saves_the_load() {
    let mut trainee = Trainee::comes(Some(Lesson::MissedLook), 1);
    trainee.until_told("The telephone rings");
    let mut seen = trainee.seen();
    trainee.note(seen);
    while seen.target != Some(Seen::Down) {
        trainee.wait(Span::minutes(1));
        seen = trainee.seen();
    }
    trainee.note(seen);
    trainee.press("o\n");
    assert_eq!(trainee.ended().came, Verdict::Good, "{}", trainee.told());
    trainee.says("The target went down and Heron was off");
}

#[test]
fn law_a_dead_probe_is_seen_and_fired_without() {
    let mut trainee = Trainee::comes(Some(Lesson::DeadProbe), 1);
    trainee.tells("A dead probe: Heron climbs");
    assert!(trainee.kiln(PRACTICE_KILN).curve.set_aside.is_empty());
    trainee.until_told("The probe's wire broke");
    trainee.wait(Span::minutes(11));
    let curve = trainee.kiln(PRACTICE_KILN).curve;
    assert!(!curve.set_aside.is_empty());
    assert!(curve.set_aside.iter().all(|(_, celsius)| celsius.0 == 1372.0));
    trainee.look_until_down();
    trainee.press("o\n");
    assert_eq!(trainee.ended().came, Verdict::Good, "{}", trainee.told());
}

#[test]
fn law_who_waits_for_a_dead_probe_spoils_the_load() {
    let mut trainee = Trainee::comes(Some(Lesson::DeadProbe), 1);
    trainee.until_told("Look now");
    // Nobody looks for two hours.
    trainee.wait_hours(2);
    trainee.press("o\n\n");
    assert_eq!(trainee.ended().came, Verdict::Over);
    trainee.says("without anybody having seen it down");
}

/// The cast is opened when it is due, and its mould poured again.
#[test]
fn law_the_lesson_of_a_cast_goes_from_due_to_poured() {
    let mut trainee = Trainee::comes(Some(Lesson::CastDue), 1);
    let left = trainee.shop.closing();
    assert!(left.contains("left before its end"), "{left}");
    trainee.until_told("1 of 2");
    trainee.press("6w\n");
    trainee.until_told("2 of 2");
    trainee.wait(Span::minutes(10));
    trainee.hear(Input::Key(Key::Escape));
    trainee.press("6");
    while !trainee.bench_shows(words::CAST_DUE) {
        trainee.hear(Input::Key(Key::Down));
    }
    trainee.press("p\n");
    trainee.until_told("The lesson is over");
    assert!(trainee.shop.closing().contains("full again"), "{}", trainee.shop.closing());
}

#[test]
fn law_every_sentence_of_a_lesson_has_room_at_80_columns() {
    for lesson in Lesson::ALL {
        let told = Trainee::comes(Some(lesson), 1).told();
        assert!(told.len() <= 3 * 76 && told.is_ascii(), "{told}");
    }
}

/// An unknown lesson is refused with the names there are; help names them too.
#[test]
fn law_lessons_are_known_by_name() {
    let run = crate::program::spyhole(&["rehearse", "--script", "a-better-firing"]);
    assert_eq!(run.code, 2);
    let help = crate::program::spyhole(&["rehearse", "--help"]);
    assert_eq!(help.code, 0);
    for lesson in Lesson::ALL {
        assert!(run.err.contains(lesson.name()), "{}", run.err);
        assert!(help.out.contains(lesson.name()), "{}", help.out);
        assert!(help.out.contains(lesson.about()), "{}", help.out);
    }
}

/// The whole shop has two years behind it, light enough to begin at once, and all of it says that it is
/// made up; a lesson has none.
#[test]
fn law_the_made_up_shop_has_two_years_to_explore() {
    let mut shop = RehearsalShop::new(None, 3, PATIENCE).unwrap();
    let begun = shop.came() - Span::hours(24 * 6);
    let past = shop.shop().ledger().unwrap();
    let old: Vec<_> = past.iter().filter(|past| past.begun < begun).collect();
    let firings: Vec<_> = old.iter().filter(|past| past.firing != FiringId::SHOP).collect();
    assert!((150..400).contains(&firings.len()), "{}", firings.len());
    assert!(old.len() > firings.len(), "notes stand between the firings");
    assert!(firings.iter().all(|past| past.note == words::MADE_UP));
    let came = |verdict| firings.iter().filter(|past| past.verdict == Some(verdict)).count();
    let (under, over) = (came(Verdict::Under), came(Verdict::Over));
    assert!(under >= 4 && over >= 8 && 4 * (under + over) < firings.len(), "{under} {over}");
    let events = shop.shop().journal().last_event().unwrap().unwrap();
    assert!(events.0 < 8_000, "{events}");
    let lesson = RehearsalShop::new(Some(Lesson::GoodFiring), 3, PATIENCE).unwrap().shop().ledger();
    assert!(lesson.unwrap().iter().all(|past| past.begun > begun));
}

/// What leaves a rehearsal as a file says that it is made up, also of what nobody wrote a note on.
#[test]
fn law_what_is_exported_says_that_it_is_made_up() {
    let mut shop = RehearsalShop::new(None, 3, PATIENCE).unwrap();
    let (folder, came) = (tempfile::tempdir().unwrap(), shop.came());
    let past = shop.shop().ledger().unwrap();
    let unsaid = |past: &&PastFiring| past.verdict.is_some() && !past.note.contains(words::MADE_UP);
    let firing = past.iter().find(unsaid).expect("one of the simulated days").firing;
    for (what, name) in [
        (Wanted::Card, "card.html"),
        (Wanted::Card, "curve.svg"),
        (Wanted::Schedule(Ware::LustreAndGold), "again.json"),
    ] {
        let file = folder.path().join(name).display().to_string();
        let export = Export { firing, what, file: file.clone() };
        export::write(shop.shop(), &export, &DIAL, came).unwrap();
        let text = fs::read_to_string(&file).unwrap();
        assert!(text.contains("made up") || text.contains("made-up"), "{name}: {text}");
    }
}

/// Nothing rings where the teacher says that there is nothing to do.
#[test]
fn law_no_alarm_speaks_against_the_teacher() {
    let mut trainee = Trainee::comes(Some(Lesson::DeadProbe), 1);
    let mut minutes = 0;
    while trainee.told().contains("nothing else to do yet") {
        let rings = trainee.scene().alarms;
        assert!(rings.is_empty(), "{rings:?}");
        trainee.wait(Span::minutes(2));
        minutes += 2;
    }
    assert!(minutes >= 10, "{minutes}");
}

/// Whoever lets the kiln of a rehearsal burn on loses its load, and not the shop.
#[test]
fn regress_a_kiln_that_nobody_shuts_off_ends_no_rehearsal() {
    let mut trainee = Trainee::comes(Some(Lesson::GoodFiring), 1);
    trainee.press("f\n");
    trainee.wait(Span::hours(30));
    let (_, read) = trainee.kiln(PRACTICE_KILN).last_reading.unwrap();
    assert_eq!(read, Celsius(1372.0), "the probe has come to its end, the kiln has not");
}
