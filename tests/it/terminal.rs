//! The real program on a real pseudo-terminal: keys in, what a terminal would show out.

use std::io::{Read, Write};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};
use std::time::Instant;

use portable_pty::{Child, CommandBuilder, ExitStatus, MasterPty, PtySize, native_pty_system};
use spyhole::testing::edge::screen::terminal::{Heard, Seat};

use crate::prelude::*;
use crate::program::{at, command, finish};

pub(crate) struct Desk {
    pub(crate) child: Box<dyn Child + Send + Sync>,
    master: Box<dyn MasterPty + Send>,
    keys: Box<dyn Write + Send>,
    shown: Arc<Mutex<vt100::Parser>>,
    /// How often the terminal's bell was sent.
    bells: Arc<AtomicUsize>,
}

fn size(columns: u16, rows: u16) -> PtySize {
    PtySize { rows, cols: columns, pixel_width: 0, pixel_height: 0 }
}

/// Starts a program on a terminal of its own.
pub(crate) fn start(
    program: &str,
    arguments: &[&str],
    set: &[(&str, &str)],
) -> (Box<dyn Child + Send + Sync>, Box<dyn MasterPty + Send>) {
    let pair = native_pty_system().openpty(size(80, 24)).unwrap();
    let mut command = CommandBuilder::new(program);
    command.args(arguments);
    for (name, value) in set {
        command.env(name, value);
    }
    command.env("TERM", "xterm-256color");
    command.env("LC_ALL", "C.UTF-8");
    command.env_remove("NO_COLOR");
    (pair.slave.spawn_command(command).unwrap(), pair.master)
}

impl Desk {
    pub(crate) fn run(arguments: &[&str]) -> Desk {
        Desk::run_with(arguments, &[])
    }

    /// With variables of the environment set for it.
    pub(crate) fn run_with(arguments: &[&str], set: &[(&str, &str)]) -> Desk {
        Desk::of(env!("CARGO_BIN_EXE_spyhole"), arguments, set)
    }

    /// Another program.
    fn of(program: &str, arguments: &[&str], set: &[(&str, &str)]) -> Desk {
        let (child, master) = start(program, arguments, set);
        let shown = Arc::new(Mutex::new(parser(80, 24)));
        let mut reader = master.try_clone_reader().unwrap();
        let feed = Arc::clone(&shown);
        let bells = Arc::new(AtomicUsize::new(0));
        let rung = Arc::clone(&bells);
        std::thread::spawn(move || {
            let mut bytes = [0; 4096];
            while let Ok(count) = reader.read(&mut bytes) {
                if count == 0 {
                    break;
                }
                let bell = bytes[..count].iter().filter(|byte| **byte == 7).count();
                rung.fetch_add(bell, Ordering::Relaxed);
                feed.lock().unwrap().process(&bytes[..count]);
            }
        });
        let keys = master.take_writer().unwrap();
        Desk { child, master, keys, shown, bells }
    }

    pub(crate) fn text(&self) -> String {
        self.shown.lock().unwrap().screen().contents()
    }

    /// Waits until the screen satisfies `wanted`.
    #[track_caller]
    pub(crate) fn until(&self, what: &str, wanted: impl Fn(&str) -> bool) -> String {
        let begun = Instant::now();
        loop {
            let text = self.text();
            if wanted(&text) {
                return text;
            }
            assert!(begun.elapsed() < PATIENCE, "waited for {what}; the screen shows:\n{text}");
            std::thread::sleep(Duration::from_millis(10));
        }
    }

    #[track_caller]
    pub(crate) fn see(&self, text: &str) -> String {
        self.until(text, |shown| shown.contains(text))
    }

    /// Presses these keys one after the other, and waits each time until something is shown.
    #[track_caller]
    fn play(&mut self, steps: &[(&str, &str)]) {
        for (keys, shown) in steps {
            self.press(keys);
            self.see(shown);
        }
    }

    /// Confirms the form, twice where another kiln was due a second before it was opened.
    #[track_caller]
    fn confirm(&mut self, shown: &str) {
        self.press("\r");
        let asked = |text: &str| text.contains("Enter again if you mean");
        if asked(&self.until(shown, |text| text.contains(shown) || asked(text))) {
            self.mean_it();
        }
        self.see(shown);
    }

    pub(crate) fn press(&mut self, keys: &str) {
        self.keys.write_all(keys.as_bytes()).unwrap();
        self.keys.flush().unwrap();
    }

    /// Enter again, not as a key that is held.
    pub(crate) fn mean_it(&mut self) {
        std::thread::sleep(Duration::from_millis(1100));
        self.press("\r");
    }

    /// A continue that comes before the stop it is meant for would be lost. Where the system does
    /// not tell, it is taken for stopped.
    fn is_stopped(&self) -> bool {
        let stat = fs::read_to_string(format!("/proc/{}/stat", self.child.process_id().unwrap()));
        stat.map_or(true, |stat| stat.rsplit(')').next().is_some_and(|rest| rest.starts_with(" T")))
    }

    pub(crate) fn signal(&self, name: &str) {
        let id = self.child.process_id().unwrap().to_string();
        let sent = std::process::Command::new("kill").args(["-s", name, &id]).status().unwrap();
        assert!(sent.success());
    }

    #[track_caller]
    pub(crate) fn ended(&mut self) -> ExitStatus {
        let begun = Instant::now();
        loop {
            if let Some(status) = self.child.try_wait().unwrap() {
                return status;
            }
            assert!(begun.elapsed() < PATIENCE, "still running; it shows:\n{}", self.text());
            std::thread::sleep(Duration::from_millis(10));
        }
    }

    /// The terminal is as it was found: lines and echo, the main screen, a cursor.
    #[track_caller]
    pub(crate) fn assert_sane(&self) {
        self.until("the main screen", |_| {
            let shown = self.shown.lock().unwrap();
            let screen = shown.screen();
            let mouse = screen.mouse_protocol_mode() != vt100::MouseProtocolMode::None;
            !screen.alternate_screen() && !screen.hide_cursor() && !mouse
        });
        // What a terminal shows and what it does with keys are given back one after the other.
        self.until("lines and echo", |_| {
            let flags = format!("{:?}", self.master.get_termios().unwrap().local_flags);
            ["ICANON", "ECHO", "ISIG"].iter().all(|flag| flags.contains(flag))
        });
    }

    /// Leaves the screen by its key.
    #[track_caller]
    pub(crate) fn leave(&mut self) {
        self.press("q");
        assert!(self.ended().success());
        self.assert_sane();
    }

    fn assert_taken(&self) {
        let shown = self.shown.lock().unwrap();
        assert!(shown.screen().alternate_screen() && shown.screen().hide_cursor());
        let flags = format!("{:?}", self.master.get_termios().unwrap().local_flags);
        assert!(!flags.contains("ICANON"), "the terminal is not raw: {flags}");
    }

    pub(crate) fn resize(&self, columns: u16, rows: u16) {
        // The parser first: what is drawn for the new size must not fall on the old one.
        let (cells, lines) = (columns.try_into().unwrap(), rows.try_into().unwrap());
        self.shown.lock().unwrap().screen_mut().set_size(lines, cells);
        self.master.resize(size(columns, rows)).unwrap();
    }
}

impl Drop for Desk {
    fn drop(&mut self) {
        // Already gone in a test that passed.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

pub(crate) fn parser(columns: u16, rows: u16) -> vt100::Parser {
    vt100::Parser::new(rows.try_into().unwrap(), columns.try_into().unwrap(), 0)
}

/// Whether a form shows what is to be seen.
fn is_seen(shown: &str) -> bool {
    shown.contains("Through the spyhole:") || shown.contains("Seen: guide")
}

/// The keys that note what is shown, the target first: "Through the spyhole: guide down, target leaning", or
/// where there is little room "Seen: guide d, target l".
fn keys_for(shown: &str) -> String {
    let line = shown.split_once("Through the spyhole:").or(shown.split_once("Seen:")).unwrap().1;
    let line = line.split('.').next().unwrap();
    let said = |role: &&str| line.split(role).nth(1).unwrap().trim_start().chars().next().unwrap();
    ["target", "guide", "guard"].iter().map(said).collect()
}

#[test]
fn law_a_rehearsal_goes_from_lit_to_a_logged_outcome() {
    let mut desk = Desk::run(&["rehearse", "--speed", "2000", "--seed", "1"]);
    desk.see("Press f to light it");
    desk.play(&[("f", "Heron was lit"), ("\r", "Heron lit: gold, target cone 018 (u undoes)")]);
    desk.see("Rehearsal: Heron climbs.");
    for looks in 0.. {
        let text = desk.until("something to do", |text| {
            // Another kiln may be due at the same time, and its look be somebody else's.
            text.contains("Press l, note") && text.contains("look Heron")
                || text.contains("Press o and Enter")
        });
        if text.contains("Press o and Enter") {
            break;
        }
        assert!(looks < 40, "the target never goes down:\n{text}");
        desk.press("l");
        let seen =
            |text: &str| text.contains("Through the spyhole:") || text.contains("Seen: guide");
        let shown = desk.until("what is seen", seen);
        desk.press(&keys_for(&shown));
        desk.press("\r");
        let asked = |text: &str| text.contains("Enter again");
        let closed = |text: &str| !text.contains("What do you see at");
        if asked(&desk.until("an answer", |text| closed(text) || asked(text))) {
            desk.mean_it();
        }
        desk.until("the form to close", closed);
    }
    desk.play(&[("o", "Heron was shut off")]);
    desk.confirm("Heron off (u undoes)");
    // Cooling takes all night.
    desk.play(&[("+++", "unload it, then press d"), ("d", "Heron was unloaded")]);
    desk.confirm("Press e and write");
    desk.play(&[("e", "On the shelves:")]);
    // What the shelves show is written; anything else would be told of.
    let shown = desk.shown.lock().unwrap().screen().contents();
    let (key, came) = [("u", "under"), ("o", "over"), ("g", "good")]
        .into_iter()
        .find(|(_, came)| shown.contains(&format!(": {came}.")))
        .unwrap();
    desk.press(&format!("{key}\r"));
    desk.see(&format!("Heron came out {came} (u undoes)"));
    desk.see("one firing from lit to outcome");
    desk.leave();
    desk.see("The rehearsal is over, with one outcome written; nothing of it was kept.");
}

#[test]
fn law_signals_give_the_terminal_back() {
    for signal in ["TERM", "HUP", "INT", "QUIT"] {
        let mut desk = Desk::run(&["rehearse"]);
        desk.see("Press f to light it");
        desk.assert_taken();
        desk.signal(signal);
        assert!(desk.ended().success(), "{signal}");
        desk.assert_sane();
    }
}

/// A lost connection, or a closed window: also where nobody listens to the signal of it.
#[test]
fn regress_a_screen_leaves_with_its_terminal() {
    let script = concat!("trap '' HUP; exec ", env!("CARGO_BIN_EXE_spyhole"), " rehearse");
    for (program, arguments) in
        [(env!("CARGO_BIN_EXE_spyhole"), vec!["rehearse"]), ("sh", vec!["-c", script])]
    {
        let (mut child, master) = start(program, &arguments, &[]);
        let mut reader = master.try_clone_reader().unwrap();
        let mut shown = parser(80, 24);
        let mut bytes = [0; 4096];
        while !shown.screen().contents().contains("Press f to light it") {
            let count = reader.read(&mut bytes).unwrap();
            assert!(count > 0, "the screen left by itself:\n{}", shown.screen().contents());
            shown.process(&bytes[..count]);
        }
        drop((reader, master));
        let begun = Instant::now();
        while child.try_wait().unwrap().is_none() {
            if begun.elapsed() > PATIENCE {
                child.kill().unwrap();
                panic!("{program} still runs without its terminal");
            }
            std::thread::sleep(Duration::from_millis(10));
        }
    }
}

/// What is said on the way out has nowhere to go either: that is no panic.
#[test]
fn regress_a_terminal_that_is_lost_is_left_in_peace() {
    const SELF: &str = "terminal::regress_a_terminal_that_is_lost_is_left_in_peace";
    const LEAVES: &str = "SPYHOLE_TEST_LEAVES";
    const IN_PEACE: i32 = 7;
    if std::env::var_os(LEAVES).is_some() {
        let mut seat = Seat::take().unwrap();
        seat.terminal.draw(|frame| frame.render_widget("drawn before it", frame.area())).unwrap();
        let mut out = std::io::stdout();
        while out.write_all(b"\0").and_then(|()| out.flush()).is_ok() {
            std::thread::sleep(Duration::from_millis(5));
        }
        drop(seat);
        std::process::exit(IN_PEACE);
    }
    let program = std::env::current_exe().unwrap();
    let arguments = ["--exact", SELF, "--nocapture"];
    let (mut child, master) = start(program.to_str().unwrap(), &arguments, &[(LEAVES, "1")]);
    let mut reader = master.try_clone_reader().unwrap();
    let mut shown = parser(80, 24);
    let mut bytes = [0; 4096];
    while !shown.screen().contents().contains("drawn before it") {
        let count = reader.read(&mut bytes).unwrap();
        shown.process(&bytes[..count]);
    }
    drop((reader, master));
    let left = crate::keeper::patiently("its end", || child.try_wait().unwrap());
    assert_eq!(left.exit_code(), IN_PEACE as u32);
}

#[test]
fn law_a_suspended_screen_gives_the_terminal_back_and_returns() {
    let mut desk = Desk::run(&["rehearse"]);
    for stop in ["key", "signal"] {
        desk.see("Press f to light it");
        desk.assert_taken();
        match stop {
            "key" => desk.press("\u{1a}"),
            _ => desk.signal("TSTP"),
        }
        desk.assert_sane();
        desk.until("the program to stop", |_| desk.is_stopped());
        desk.signal("CONT");
        desk.until("the screen to return", |_| {
            desk.shown.lock().unwrap().screen().alternate_screen()
        });
    }
    desk.see("Press f to light it");
    desk.leave();
}

#[test]
fn law_a_screen_follows_its_terminal_to_another_size() {
    let mut desk = Desk::run(&["rehearse", "--script", "good-firing"]);
    desk.see("Heron is packed with gold");
    for (columns, rows) in [(40, 12), (120, 40), (80, 24)] {
        desk.resize(columns, rows);
        // What only this size shows: one kiln, every kiln with its story, or a list beside one.
        desk.until("the new size", |text| {
            let one = !text.contains("Temperature at Heron");
            let story = text.contains("What happened at Heron");
            text.contains("can be lit") && (one, story) == (columns == 40, columns == 120)
        });
        desk.press("f");
        desk.see("Heron was lit");
        desk.press("\u{1b}");
        desk.until("the form to close", |text| !text.contains("Heron was lit"));
    }
    desk.leave();
}

#[test]
fn law_a_killed_screen_loses_nothing_and_sees_what_others_write() {
    let (_folder, file) = shop_file();
    let shop = file.to_str().unwrap();
    let now = begin_shop(&file);
    let mut desk = Desk::run(&["--shop", shop]);
    desk.see("All kilns are empty.");
    desk.play(&[("f", "Heron was lit"), ("1\r", "Heron lit: gold, target cone 018 (u undoes)")]);
    desk.signal("KILL");
    assert!(!desk.ended().success());

    let mut desk = Desk::run(&["--shop", shop]);
    desk.see("gold, lit");
    let mut journal = Journal::open(&file).unwrap();
    let firing = journal.shop().unwrap().firing_in("Heron").unwrap().clone();
    assert_eq!(firing.state, State::Lit);
    let lit = firing.lit.unwrap();
    let what = What::Reading(Celsius(123.0));
    let reading = NewEvent::new(Some(firing.id), lit, Who::Person("somebody else".into()), what);
    journal.append_checked(&reading, now).unwrap();
    desk.see("read 123 C");

    // The firing goes on where it was, at another size, and comes to its end.
    desk.resize(100, 30);
    desk.see("Look at Heron in");
    desk.press("l");
    desk.see("What do you see at Heron?");
    // Minutes after it was lit: what else is known speaks against it.
    desk.play(&[("dds\r", "Enter again if you saw it so.")]);
    desk.mean_it();
    desk.see("Shut off Heron now");
    for (key, form, saved) in [
        ("o", "Heron was shut off", "Heron off (u undoes)"),
        ("d", "Heron was unloaded", "Heron drawn (u undoes)"),
    ] {
        desk.press(key);
        desk.see(form);
        desk.press("\r");
        if key == "d" {
            desk.see("is it really unloaded?");
            desk.mean_it();
        }
        desk.see(saved);
    }
    desk.play(&[
        ("e", "How did the load in Heron come out?"),
        ("g\r", "Heron came out good (u undoes)"),
    ]);
    desk.leave();
    let closed = journal.firing(firing.id).unwrap();
    assert_eq!((closed.state, closed.readings.len()), (State::Closed, 1));
}

/// A new shop at the screen, with gold just lit in Heron.
fn gold_in_heron() -> (TempDir, PathBuf, Desk) {
    let (folder, file) = shop_file();
    begin_shop(&file);
    let mut desk = Desk::run(&["--shop", file.to_str().unwrap()]);
    desk.see("All kilns are empty.");
    desk.play(&[("f", "Heron was lit"), ("1\r", "Heron lit: gold, target cone 018 (u undoes)")]);
    (folder, file, desk)
}

#[test]
fn law_an_earlier_entry_is_corrected_by_keys_and_taken_back() {
    let (_folder, file, mut desk) = gold_in_heron();
    desk.play(&[("n", "Note on Heron"), ("quiet\r", "Heron: quiet (u undoes)")]);
    desk.play(&[("w", "Which entry of Heron is wrong?"), ("\r", "Correction: Note on Heron")]);
    desk.play(&[("\u{15}draughty\r", "Heron: draughty (u undoes)")]);
    let notes = || {
        let journal = Journal::open(&file).unwrap();
        let firing = journal.shop().unwrap().firing_in("Heron").unwrap().id;
        let notes = journal.firing(firing).unwrap().notes;
        notes.into_iter().map(|(_, text)| text).collect::<Vec<_>>()
    };
    assert_eq!(notes(), ["draughty"]);
    desk.play(&[("u", "Heron: draughty"), ("\r", "Struck")]);
    assert_eq!(notes(), ["quiet"]);
    desk.leave();
}

#[test]
fn law_a_firing_of_before_is_taken_from_paper_by_keys_while_the_kiln_burns() {
    let (_folder, file, mut desk) = gold_in_heron();
    desk.play(&[("y", "A firing of before, from paper"), ("1yesterday 1:00\t", "yesterday 1:00")]);
    desk.play(&[("2:00\t3:00\tg\t1:45\t1:50", "Enter writes: Heron fired with gold, lit")]);
    desk.play(&[("\r", ": Heron fired with gold, lit")]);
    desk.leave();
    let journal = Journal::open(&file).unwrap();
    let (now, past) = (journal.firing(FiringId(1)).unwrap(), journal.firing(FiringId(2)).unwrap());
    assert_eq!((now.state, past.state), (State::Lit, State::Closed));
    assert_eq!(past.off.unwrap() - past.lit.unwrap(), Span::hours(1));
    assert_eq!(past.drawn.unwrap() - past.seen_down().unwrap(), Span::minutes(70));
    assert!(past.oddities.is_empty(), "{:?}", past.oddities);
}

/// Two people pack one kiln: one at the screen, one with a command while the form is open.
#[test]
fn regress_a_kiln_packed_by_a_command_is_not_packed_over_by_the_screen() {
    let (_folder, file) = shop_file();
    let shop = file.to_str().unwrap();
    begin_shop(&file);
    let mut desk = Desk::run(&["--shop", shop]);
    desk.see("All kilns are empty.");
    desk.play(&[("p", "Heron was packed"), ("1cups", "cups")]);
    at(&file, "pack Heron --load 'stoneware bisque' --pieces 60 --worth 900").ok();
    desk.press("\r");
    desk.see("Not saved: Heron was packed");
    desk.see("cups");
    let journal = Journal::open(&file).unwrap();
    let open = || journal.shop().unwrap().open;
    let [firing] = &open()[..] else { panic!("{:?}", open()) };
    assert_eq!(firing.load_type, "stoneware bisque");
    desk.press("\r");
    desk.see("packing of Heron changed (gold), same firing");
    let [changed] = &open()[..] else { panic!("{:?}", open()) };
    let packing = changed.packing.as_ref().unwrap();
    assert_eq!(changed.id, firing.id);
    assert_eq!((packing.contents.as_str(), packing.load_type.as_str()), ("cups", "gold"));
    assert_eq!((packing.pieces, packing.worth), (Some(60), Some(900.0)));
    desk.press("q");
    assert!(desk.ended().success());
}

/// A lesson on a real terminal: the look is missed, the load is lost, and the last line says why.
#[test]
fn law_a_lesson_is_played_to_its_end() {
    let mut desk = Desk::run(&["rehearse", "--script", "missed-look", "--speed", "600"]);
    desk.see("A missed look: the guide of Heron leans");
    desk.see("The telephone rings");
    desk.see("The call is over.");
    desk.press("l");
    desk.press(&keys_for(&desk.until("what is seen", is_seen)));
    desk.play(&[
        ("\r", "It is down, and nobody knows since when."),
        ("o", "Heron was shut off"),
        ("\r", "The lesson is over."),
    ]);
    desk.leave();
    let left = desk.see("The drop was found late by").replace('\n', "");
    assert!(left.contains("The load is over: the gold is dull and lifts."), "{left}");
}

/// Whichever thread panics: what it says stands on a terminal that is as it was found.
#[test]
fn law_a_panic_gives_the_terminal_back() {
    const SELF: &str = "terminal::law_a_panic_gives_the_terminal_back";
    const IN_LOOP: &str = "SPYHOLE_TEST_PANICS_IN_LOOP";
    const BESIDE: &str = "SPYHOLE_TEST_PANICS_BESIDE";
    let begun = |name| std::env::var_os(name).is_some();
    if begun(IN_LOOP) || begun(BESIDE) {
        let mut seat = Seat::take().unwrap();
        seat.terminal.draw(|frame| frame.render_widget("drawn before it", frame.area())).unwrap();
        // Until the other side has seen it.
        assert_ne!(seat.listen(PATIENCE).unwrap(), Heard::Nothing);
        assert!(begun(BESIDE), "it panics in the loop");
        std::thread::spawn(|| panic!("it panics beside the loop")).join().unwrap();
        unreachable!("the program has ended");
    }
    let program = std::env::current_exe().unwrap();
    for (set, said) in [(IN_LOOP, "it panics in the loop"), (BESIDE, "it panics beside the loop")] {
        let arguments = ["--exact", SELF, "--nocapture"];
        let mut desk = Desk::of(program.to_str().unwrap(), &arguments, &[(set, "1")]);
        desk.see("drawn before it");
        desk.assert_taken();
        desk.press("x");
        desk.see(said);
        assert_eq!(desk.ended().exit_code(), 101);
        desk.assert_sane();
    }
}

/// As a person does it, with the shell in between.
#[test]
fn law_a_shell_stops_the_screen_and_brings_it_back() {
    let mut desk = Desk::of("sh", &["-i"], &[]);
    desk.press(concat!("PS1='ready> '; ", env!("CARGO_BIN_EXE_spyhole"), " rehearse\r"));
    for _ in 0..2 {
        desk.see("Press f to light it");
        desk.assert_taken();
        desk.press("\u{1a}");
        desk.until("the shell", |text| text.trim_end().ends_with("ready>"));
        assert!(!desk.shown.lock().unwrap().screen().alternate_screen());
        desk.press("fg\r");
    }
    desk.see("Press f to light it");
    desk.press("q");
    desk.see("The rehearsal is over");
    desk.until("the shell", |text| text.trim_end().ends_with("ready>"));
    desk.press("exit\r");
    assert!(desk.ended().success());
}

/// A target that was seen down with the kiln still on: the screen rings, and the log of rings says
/// so.
#[test]
fn law_the_screen_rings_until_it_is_shut_off() {
    let (folder, file) = shop_file();
    let shop = file.to_str().unwrap();
    begin_shop(&file);
    at(&file, "light Heron --load gold --at '4 h ago'").ok();
    at(&file, "look Heron --target down --at '2 min ago'").ok();
    let mut desk = Desk::run(&["--shop", shop]);
    desk.see("Shut off Heron now");
    desk.until("the bell", |_| desk.bells.load(Ordering::Relaxed) > 0);
    // Other ways may be missing on this machine; the terminal's bell has reached somebody.
    let log = folder.path().join("shop.db.rings.jsonl");
    desk.until("the log of rings", |_| {
        fs::read_to_string(&log)
            .is_ok_and(|log| log.contains(r#""way":"terminal","person":"","delivered":true"#))
    });
    assert!(!desk.text().contains("reached nobody"), "{}", desk.text());
    desk.play(&[("o", "was shut off"), ("\r", "Heron off (u undoes)")]);
    desk.leave();
}

/// A handful of events with fields that are rarely said, by keys on a terminal and by commands: the
/// shops hold the same but for numbers and times.
#[test]
fn law_a_terminal_and_commands_write_the_same_events() {
    let folder = tempfile::tempdir().unwrap();
    let (keyed, told) = (folder.path().join("keyed.db"), folder.path().join("told.db"));
    begin_shop(&keyed);
    begin_shop(&told);
    let mut desk = Desk::run(&["--shop", keyed.to_str().unwrap()]);
    desk.see("All kilns are empty.");
    let pack = "pack Heron --load gold --contents cups --pieces 40 --packed-by Mia \
                --cones-stand left --guide none";
    let packed = "1cups\t\t\t\t40\t\tMia\tleft\tnone\r";
    let changed = "\t\x15bowls\t\t\t\t\x15\r";
    for (line, opens, keys, saved) in [
        (pack, ("p", "Heron was packed"), packed, "Heron packed with gold (u undoes)"),
        (
            "pack Heron --contents bowls --pieces ''",
            ("p", "Change what was packed"),
            changed,
            "changed (gold), same firing (u undoes)",
        ),
        ("light Heron", ("f", "Heron was lit"), "\r", "Heron lit: gold"),
        ("read Heron 25C", ("r", "How hot is Heron?"), "25C\r", "Heron read 25 C (u undoes)"),
        (
            "probe-changed Heron --note 'type K'",
            ("b", "The probe of Heron"),
            "type K\r",
            "probe changed or moved (u undoes)",
        ),
        (
            "strike --reason 'wrong kiln'",
            ("u", "Strike what was saved last?"),
            "wrong kiln\r",
            "Struck: ",
        ),
    ] {
        at(&told, line).ok();
        desk.play(&[opens, (keys, saved)]);
    }
    desk.leave();
    let whats = |file: &Path| -> Vec<What> {
        let stored = stored(&Journal::open(file).unwrap(), None);
        let whats = stored.into_iter().map(|stored| stored.event.what);
        // The screen keeps watch and writes of it, so the numbers are each shop's own.
        whats
            .filter(|what| !what.is_of_the_watch())
            .map(|what| match what {
                What::Struck { reason, .. } => {
                    What::Struck { event: EventId(0), reason, corrected_by: None }
                }
                other => other,
            })
            .collect()
    };
    let (keyed, told) = (whats(&keyed), whats(&told));
    assert_eq!(keyed, told);
    assert!(matches!(keyed.last(), Some(What::Struck { .. })), "{keyed:?}");
}

/// A kept shop with one kiln.
pub(crate) fn begin_shop(file: &Path) -> Moment {
    let now = Moment(1_773_306_000_000);
    let mut journal = begun_by_the_program(file, now);
    let kiln = kiln("Heron", Fuel::Gas);
    journal.append(&NewEvent::new(None, now, Who::Program, What::KilnSet(kiln)), now).unwrap();
    now
}

#[test]
fn law_without_a_terminal_the_screen_says_what_to_do_instead() {
    let run = finish(command().arg("rehearse").stdin(std::process::Stdio::null()));
    assert_eq!(run.code, 2);
    assert_eq!(
        run.err,
        "spyhole: the screen needs a terminal for its keys and its picture, and this is a pipe \
         or a file: run it in a terminal, or use `spyhole status`\n"
    );
    let run = crate::program::spyhole(&["rehearse", "--speed", "0"]);
    assert_eq!(run.code, 2);
    assert_eq!(run.err, "spyhole: speed 0 is outside 0.1 to 100000: 60 runs an hour in a minute\n");
}
