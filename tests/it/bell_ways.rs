//! Ways to ring that hang, fail, print without end or are missing, and the settings of the bell.

use std::sync::mpsc;
use std::thread;
use std::time::Instant;

use spyhole::testing::alarm::condition::Figure;
use spyhole::testing::alarm::{Key, State, Target};
use spyhole::testing::edge::bell::command::OwnCommand;
use spyhole::testing::edge::bell::limited::KEPT_OUTPUT;
use spyhole::testing::edge::bell::settings::{BellSettings, CommandSettings};
use spyhole::testing::edge::bell::sound::Sound;
use spyhole::testing::edge::bell::speech::Speech;
use spyhole::testing::edge::bell::terminal::{Receipt, Terminal};
use spyhole::testing::edge::bell::tone::wav;
use spyhole::testing::edge::bell::{Bell, Delivery, Ring, Way, WayError};
use spyhole::testing::words::alarms as words;

use crate::prelude::*;

const NOW: Moment = Moment(1_772_352_000_000);

pub(crate) fn alarm() -> Alarm {
    Alarm {
        key: Key { task: Task::LookDue, firing: FiringId(7) },
        kiln: "North".into(),
        fuel: None,
        state: State::Unacknowledged,
        since: NOW - Span::minutes(3),
        raised: NOW - Span::minutes(3),
        answered: None,
        shelved_until: None,
        figure: Figure::Left(Span::minutes(6)),
    }
}

/// What is to be done is told of the fuel the kiln has.
#[test]
fn law_an_alarm_speaks_of_no_other_fuel() {
    let said = |task, fuel| {
        let key = Key { task, firing: FiringId(7) };
        words::response(&Alarm { key, fuel, ..alarm() }, Scale::Celsius)
    };
    for task in [Task::Stalled, Task::OffNotRecorded] {
        let electric = said(task, Some(Fuel::Electric));
        let gas = said(task, Some(Fuel::Gas));
        assert!(electric.contains("switch and fuse") && !electric.contains("gas"), "{electric}");
        assert!(!electric.contains("flame"), "{electric}");
        assert!(gas.contains("shut the gas") && !gas.contains("fuse"), "{gas}");
        let unknown = said(task, None);
        assert!(unknown.contains("shut the gas") && unknown.contains("fuse"), "{unknown}");
    }
}

fn target(person: &str, way: WayName) -> Target {
    Target { person: person.into(), reach: format!("{person}@example.org"), way }
}

fn call(targets: &[WayName], fallback: &[WayName]) -> Call {
    let all = |ways: &[WayName]| ways.iter().map(|way| target("Ada", *way)).collect();
    Call {
        at: NOW,
        alarms: vec![alarm()],
        priority: Priority::Medium,
        count: 2,
        volume: 0.55,
        targets: all(targets),
        fallback: all(fallback),
        last_resort: Vec::new(),
        late: Some(Span::minutes(3)),
    }
}

fn shell(script: &str, time_limit_s: u64) -> CommandSettings {
    CommandSettings {
        program: "sh".into(),
        arguments: vec!["-c".into(), script.into()],
        time_limit_s,
    }
}

fn ring_command(settings: CommandSettings) -> Result<String, WayError> {
    let call = call(&[WayName::Command], &[]);
    let ring = Ring::new(&call, target("Ada", WayName::Command), Scale::Celsius);
    OwnCommand::new(settings).ring(&ring)
}

#[test]
fn law_the_command_gets_the_alarm_as_json_and_in_variables() {
    let folder = tempfile::tempdir().unwrap();
    let place = folder.path().display();
    let script = format!("cat > {place}/input; env | grep SPYHOLE_ | sort > {place}/variables");
    assert_eq!(ring_command(shell(&script, 10)), Ok("sh".into()));
    let input: Value =
        serde_json::from_str(&fs::read_to_string(folder.path().join("input")).unwrap()).unwrap();
    assert_eq!(input["headline"], "Look at North (3 min late)");
    assert_eq!(input["priority"], "medium");
    assert_eq!((&input["ring"], &input["late_minutes"]), (&2.into(), &3.into()));
    assert_eq!((&input["person"], &input["reach"]), (&"Ada".into(), &"Ada@example.org".into()));
    assert_eq!(input["alarms"][0]["alarm"], "look_due");
    assert_eq!(input["alarms"][0]["kiln"], "North");
    let variables = fs::read_to_string(folder.path().join("variables")).unwrap();
    for line in [
        "SPYHOLE_ALARM=look_due",
        "SPYHOLE_HEADLINE=Look at North (3 min late)",
        "SPYHOLE_KILN=North",
        "SPYHOLE_LATE_MINUTES=3",
        "SPYHOLE_PERSON=Ada",
        "SPYHOLE_PRIORITY=medium",
        "SPYHOLE_RING=2",
    ] {
        assert!(variables.lines().any(|seen| seen == line), "{line} in {variables}");
    }
}

#[test]
fn law_a_command_that_fails_says_why() {
    let missing = CommandSettings { program: "/nowhere/siren".into(), ..shell("", 10) };
    for (settings, says) in [
        (
            shell("echo the siren is unplugged >&2; exit 3", 10),
            "sh: ended with 3: the siren is unplugged",
        ),
        (shell("exit 4", 10), "sh: ended with 4: and said nothing"),
        (shell("kill -9 $$", 10), "sh: was killed: and said nothing"),
        (
            missing,
            "/nowhere/siren was not found: correct \"program\" in the bell settings, or install it",
        ),
    ] {
        assert_eq!(ring_command(settings).unwrap_err().to_string(), says);
    }
}

#[test]
fn law_a_command_that_hangs_is_killed_with_all_it_started() {
    let folder = tempfile::tempdir().unwrap();
    let sign = folder.path().join("lived_on");
    // A child of its own that would outlive it, and would leave a sign.
    let script = format!("(sleep 3; touch {}) & sleep 60", sign.display());
    let hung = ring_command(shell(&script, 1)).unwrap_err();
    assert_eq!(hung, WayError::TimedOut { what: "sh".into(), seconds: 1 });
    thread::sleep(Duration::from_secs(3));
    assert!(!sign.exists());
}

#[test]
fn law_a_command_that_prints_megabytes_is_heard_out_but_not_kept() {
    let megabytes = "head -c 20000000 /dev/zero | tr '\\0' x";
    assert_eq!(ring_command(shell(megabytes, 20)), Ok("sh".into()));
    let loud = ring_command(shell(&format!("({megabytes}) >&2; exit 1"), 20)).unwrap_err();
    let length = loud.to_string().len();
    assert!((KEPT_OUTPUT..KEPT_OUTPUT + 100).contains(&length), "{length}");
    // One that does not read its input is not held against it.
    assert_eq!(ring_command(shell("exec <&-; exit 0", 10)), Ok("sh".into()));
}

type Does = fn() -> Result<String, WayError>;

/// A way that does what the test says.
struct Fake {
    name: WayName,
    does: Does,
    limit: Duration,
}

impl Way for Fake {
    fn name(&self) -> WayName {
        self.name
    }
    fn limit(&self) -> Duration {
        self.limit
    }
    fn ring(&mut self, _: &Ring) -> Result<String, WayError> {
        (self.does)()
    }
}

fn hangs() -> Result<String, WayError> {
    thread::sleep(Duration::from_secs(3600));
    Ok("never".into())
}

fn fails() -> Result<String, WayError> {
    Err(WayError::Failed { what: "the service".into(), reason: "it is down".into() })
}

fn works() -> Result<String, WayError> {
    Ok("rung".into())
}

fn bell(ways: &[(WayName, Does)]) -> Bell {
    let limit = Duration::from_millis(300);
    let fake = |(name, does): &(WayName, Does)| Fake { name: *name, does: *does, limit };
    bell_of(ways.iter().map(|way| ("", fake(way))))
}

/// Each way with the person it calls alone.
fn bell_of(ways: impl IntoIterator<Item = (&'static str, Fake)>) -> Bell {
    let boxed = |(person, way): (&str, Fake)| (person.to_owned(), Box::new(way) as Box<dyn Way>);
    Bell::new(ways.into_iter().map(boxed).collect(), Scale::Celsius)
}

/// Rings and waits for everything that comes of it: way, whether delivered, whether it fell back.
fn outcome(bell: &mut Bell, call: &Call) -> Vec<(WayName, bool, bool)> {
    let mut deliveries = bell.ring(call);
    let began = Instant::now();
    while bell.is_busy() {
        assert!(began.elapsed() < Duration::from_secs(30), "the bell comes to an end");
        thread::sleep(Duration::from_millis(5));
        deliveries.extend(bell.poll());
    }
    let told =
        |delivery: &Delivery| (delivery.target.way, delivery.result.is_ok(), delivery.fell_back);
    deliveries.iter().map(told).collect()
}

#[test]
fn law_a_ring_that_fails_or_hangs_falls_back_to_the_next_way() {
    use WayName::{Command, Desktop, Sound, Terminal};
    let mut bell = bell(&[(Sound, fails), (Desktop, hangs), (Terminal, works), (Command, works)]);
    let call = call(&[Sound], &[Desktop, Command]);
    // The one that hangs is not asked again, and holds nobody up.
    for _ in 0..2 {
        let rung = [(Sound, false, true), (Desktop, false, true), (Command, true, false)];
        assert_eq!(outcome(&mut bell, &call), rung);
    }
    // No way is left.
    let last = super::bell_ways::call(&[Sound], &[Desktop]);
    assert_eq!(outcome(&mut bell, &last), [(Sound, false, true), (Desktop, false, false)]);
}

#[test]
fn law_a_way_that_hangs_does_not_delay_the_others() {
    use WayName::{Command, Desktop};
    let mut bell = bell(&[(Desktop, hangs), (Command, works)]);
    bell.ring(&call(&[Desktop, Command], &[]));
    let mut first = Vec::new();
    while first.is_empty() {
        thread::sleep(Duration::from_millis(5));
        first = bell.poll();
    }
    assert_eq!((first[0].target.way, first[0].result.is_ok()), (Command, true));
    assert!(bell.is_busy(), "the other still hangs");
}

/// The first that is told of a call, while others may still hang.
fn first_told(bell: &mut Bell) -> (String, bool) {
    loop {
        thread::sleep(Duration::from_millis(5));
        if let Some(delivery) = bell.poll().into_iter().next() {
            return (delivery.target.person, delivery.result.is_ok());
        }
    }
}

/// Where a command or a server hangs for one person, the others are called by it all the same: at once,
/// and in place of the one whose ring stands in line behind.
#[test]
fn law_one_who_cannot_be_reached_holds_up_nobody_else() {
    let limit = Duration::from_secs(1_000);
    let by = |does| Fake { name: WayName::Command, does, limit };
    let [ada, bo] = ["Ada", "Bo"].map(|person| target(person, WayName::Command));
    let mut bell = bell_of([("Ada", by(hangs)), ("Bo", by(works))]);
    let targets = vec![ada.clone(), bo.clone()];
    bell.ring(&Call { targets, ..call(&[], &[]) });
    assert_eq!(first_told(&mut bell), ("Bo".into(), true));
    let next = Call { targets: vec![ada.clone()], fallback: vec![bo], ..call(&[], &[]) };
    bell.ring(&next);
    assert_eq!(first_told(&mut bell), ("Bo".into(), true));
    assert!(bell.is_busy(), "Ada's still hang");
}

#[test]
fn law_the_terminal_gets_its_bell_and_the_screen_its_flash() {
    struct Heard(mpsc::Sender<Vec<u8>>);
    impl std::io::Write for Heard {
        fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
            self.0.send(bytes.to_vec()).unwrap();
            Ok(bytes.len())
        }
        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }
    let call = call(&[WayName::Terminal], &[]);
    let ring = Ring::new(&call, target("Ada", WayName::Terminal), Scale::Celsius);
    let (tell, heard) = mpsc::channel();
    let (flash, flashes) = mpsc::channel();
    let mut terminal = Terminal::new(Some(Box::new(Heard(tell))), Some(flash.clone()));
    let shows = thread::spawn(move || {
        let receipt: Receipt = flashes.recv().unwrap();
        receipt.send(()).unwrap();
        flashes
    });
    assert_eq!(terminal.ring(&ring), Ok("bell and flash".into()));
    assert_eq!(heard.recv().unwrap(), b"\x07");
    // A screen whose terminal takes nothing gives no receipt, and has rung nobody.
    let flashes = shows.join().unwrap();
    let blocked = thread::spawn(move || drop(flashes.recv().unwrap()));
    let error = Terminal::new(None, Some(flash)).ring(&ring).unwrap_err().to_string();
    assert_eq!(error, "the screen's terminal: it takes nothing that is written to it");
    blocked.join().unwrap();
    assert!(Terminal::new(None, None).ring(&ring).is_err());
}

/// Everybody called fails, whatever the reason: the machine's own ways are tried then, and not before.
#[test]
fn law_where_nobody_called_is_reached_the_machine_calls_whoever_is_near() {
    use WayName::{Command, Desktop, Sound, Terminal};
    let own = |call: Call| {
        let last_resort = [Sound, Terminal].map(|way| target("", way)).into();
        Call { last_resort, ..call }
    };
    for (command, desktop, expected) in [
        (fails as Does, hangs as Does, vec![Command, Desktop, Sound, Terminal]),
        (fails, works, vec![Command, Desktop]),
        (works, fails, vec![Command, Desktop]),
    ] {
        let mut bell =
            bell(&[(Command, command), (Desktop, desktop), (Sound, fails), (Terminal, works)]);
        let mut tried: Vec<WayName> = outcome(&mut bell, &own(call(&[Command, Desktop], &[])))
            .into_iter()
            .map(|(way, ..)| way)
            .collect();
        tried[..2].sort_by_key(|way| *way == Desktop);
        assert_eq!(tried, expected);
    }
    // By which ways that is: those nobody is called by.
    let rota = Rota {
        people: vec![Person {
            name: "Ada".into(),
            reach: String::new(),
            ways: vec![Command, Desktop],
            hours: None,
        }],
        muted: None,
    };
    let noon = MinuteOfDay::new(12, 0).unwrap();
    let ways: Vec<_> =
        rota.last_resort(Priority::High, noon).into_iter().map(|target| target.way).collect();
    assert_eq!(ways, [Sound, Terminal]);
    assert_eq!(Rota::default().last_resort(Priority::High, noon), []);
}

/// A way that cannot even be started keeps none of the others from being rung.
#[test]
fn regress_a_way_that_fails_at_once_does_not_silence_those_after_it() {
    use WayName::{Command, Desktop};
    let mut bell = bell(&[(Command, works)]);
    let rung = outcome(&mut bell, &call(&[Desktop, Command], &[]));
    assert_eq!(rung, [(Desktop, false, false), (Command, true, false)]);
}

/// What a command started lives on in a session of its own, with the command's outputs open: nothing
/// of ours waits for it.
#[test]
fn law_what_outlives_the_command_keeps_no_thread_of_ours() {
    const SELF: &str = "bell_ways::law_what_outlives_the_command_keeps_no_thread_of_ours";
    const ALONE: &str = "SPYHOLE_TEST_ALONE";
    if std::env::var_os(ALONE).is_none() {
        // In a process of its own, where nobody else begins threads and opens files.
        let mut alone = std::process::Command::new(std::env::current_exe().unwrap());
        let run = alone.args(["--exact", SELF]).env(ALONE, "1").output().unwrap();
        let said = String::from_utf8_lossy(&run.stdout);
        assert!(run.status.success() && said.contains("1 passed"), "{said}");
        return;
    }
    let count = |of: &str| fs::read_dir(format!("/proc/self/{of}")).unwrap().count();
    let held = || (count("task"), count("fd"));
    let script = "setsid sleep 60 & echo away >&2; exit 1";
    let before = held();
    for _ in 0..4 {
        let said = ring_command(shell(script, 10)).unwrap_err().to_string();
        assert_eq!(said, "sh: ended with 1: away");
    }
    let began = Instant::now();
    while held() != before {
        assert!(began.elapsed() < Duration::from_secs(20), "{before:?}, now {:?}", held());
        thread::sleep(Duration::from_millis(20));
    }
}

/// A folder with a player that does what the script says.
fn player(folder: &Path, name: &str, script: &str) {
    use std::os::unix::fs::PermissionsExt;
    let path = folder.join(name);
    fs::write(&path, format!("#!/bin/sh\n{script}\n")).unwrap();
    fs::set_permissions(&path, fs::Permissions::from_mode(0o755)).unwrap();
}

#[test]
fn law_a_player_that_fails_is_followed_by_the_next_one() {
    let folder = tempfile::tempdir().unwrap();
    let kept = folder.path().join("played.wav");
    player(folder.path(), "pw-play", "echo no server >&2; exit 1");
    player(folder.path(), "aplay", &format!("test \"$1\" = -q && cp \"$2\" {}", kept.display()));
    let call = call(&[WayName::Sound], &[]);
    let ring = Ring::new(&call, target("", WayName::Sound), Scale::Celsius);
    let mut sound = Sound::with_path(folder.path().as_os_str(), 1.0);
    assert_eq!(sound.ring(&ring), Ok("aplay".into()));
    // The burst of its priority at its volume.
    assert_eq!(fs::read(&kept).unwrap(), wav(Priority::Medium, 0.55));
    let empty = tempfile::tempdir().unwrap();
    let mut silent = Sound::with_path(empty.path().as_os_str(), 1.0);
    let says = "a sound player was not found: install one of pw-play, paplay, aplay or afplay";
    assert_eq!(silent.ring(&ring).unwrap_err().to_string(), says);
}

#[test]
fn law_the_words_are_said_twice_after_the_burst_and_a_player_says_whether_they_were_heard() {
    let folder = tempfile::tempdir().unwrap();
    let heard = folder.path().join("heard");
    // As it is where no sound system runs: the service fails, the voice makes its file all the same.
    player(folder.path(), "spd-say", "echo no service >&2; exit 1");
    player(folder.path(), "espeak-ng", "test \"$1\" = -w && cat > \"$2\"");
    player(folder.path(), "aplay", &format!("cat \"$2\" >> {}", heard.display()));
    let call = call(&[WayName::Speech], &[]);
    let ring = Ring::new(&call, target("", WayName::Speech), Scale::Celsius);
    let mut speech = Speech::new(Sound::with_path(folder.path().as_os_str(), 1.0));
    assert_eq!(speech.ring(&ring), Ok("espeak-ng by aplay".into()));
    let mut expected = wav(Priority::Medium, 0.55);
    expected.extend(b"Look at North, 3 minutes late. Look at North, 3 minutes late.");
    assert_eq!(fs::read(&heard).unwrap(), expected);
    assert_eq!(words::spoken("Look at 018"), "Look at oh 18. Look at oh 18.");
    player(folder.path(), "aplay", "echo no device >&2; exit 1");
    assert_eq!(speech.ring(&ring).unwrap_err().to_string(), "aplay: no device");
    fs::remove_file(folder.path().join("spd-say")).unwrap();
    fs::remove_file(folder.path().join("espeak-ng")).unwrap();
    let says = "a program that speaks was not found: install espeak-ng or speech-dispatcher";
    assert_eq!(speech.ring(&ring).unwrap_err().to_string(), says);
}

#[test]
fn law_malformed_settings_say_what_is_wrong() {
    let (_folder, shop) = shop_file();
    let file = BellSettings::path(&shop);
    let refused = |text: &str| {
        fs::write(&file, text).unwrap();
        BellSettings::read(&shop).unwrap_err().to_string()
    };
    let rows: toml::Table = data("refused/bell_settings.toml");
    for row in rows["settings"].as_array().unwrap() {
        let [text, says] = ["text", "says"].map(|key| row[key].as_str().unwrap());
        assert_eq!(refused(text), format!("the bell settings {}{says}", file.display()), "{text}");
    }
}

#[test]
fn law_the_documented_settings_are_read() {
    let source = include_str!("../../src/edge/bell/settings.rs");
    let example: String = source
        .split("//! ```json\n")
        .nth(1)
        .unwrap()
        .lines()
        .take_while(|line| !line.contains("```"))
        .map(|line| line.trim_start_matches("//!"))
        .collect();
    let (_folder, shop) = shop_file();
    let usual = BellSettings::read(&shop).unwrap();
    assert_eq!(usual, BellSettings::default());
    fs::write(BellSettings::path(&shop), example).unwrap();
    let settings = BellSettings::read(&shop).unwrap();
    assert_eq!(settings.rota.people.len(), 2);
    assert_eq!(settings.out_of_service, [("North".to_owned(), Task::ProbeTrouble)]);
}
