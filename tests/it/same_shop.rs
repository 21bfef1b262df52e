//! Everybody watches the same shop: screen, keeper and commands notice that the file was damaged,
//! emptied, moved, exchanged or is missing, call somebody for it, and go on in the same file.
//!
//! Each kind of damage is tried once here; with its times judged:
//! `SPYHOLE_BLOWS=20 cargo test --release --test it through_any_damage -- --nocapture`.

use std::process::Stdio;
use std::thread;
use std::time::Instant;

use crate::keeper::{Running, TestShop, calling, patiently, until};
use crate::prelude::*;
use crate::program::{at, command};
use crate::terminal::{Desk, begin_shop};

/// The command that is run for each ring writes the alarm's name, and what is said of it.
fn settings(rings: &Path) -> String {
    let says = "echo $SPYHOLE_ALARM: $SPYHOLE_HEADLINE: $SPYHOLE_BODY";
    calling(&format!("{says} >> {}", rings.display()))
}

/// A kiln that burns, watched by a keeper, a screen and a command that follows it.
struct Watched {
    _place: TempDir,
    rings: PathBuf,
    said: PathBuf,
    shop: TestShop,
    keeper: Running,
    desk: Desk,
    _follow: Running,
}

impl Watched {
    fn new() -> Watched {
        let place = tempfile::tempdir().unwrap();
        let (rings, said) = (place.path().join("rings"), place.path().join("said"));
        let mut shop = TestShop::new(&settings(&rings));
        shop.light("North", Span::minutes(20));
        let keeper = shop.keep_saying(&said);
        until("the keeper", || crate::keeper::holder(&shop.path()));
        let desk = Desk::run(&["--shop", shop.path().to_str().unwrap()]);
        desk.resize(160, 40);
        desk.see("North");
        let mut follow = command();
        follow.args(["status", "--follow", "--shop"]).arg(shop.path()).stdout(Stdio::null());
        let follow = Running(follow.stderr(Stdio::null()).spawn().unwrap());
        // With a backup, and all of it in the one file, as in a shop that has stood for a while.
        let backups = shop.path().with_file_name("backups");
        let made =
            |folder: &Path| fs::read_dir(folder).ok()?.flatten().find(|one| whole(&one.path()));
        patiently("the first backup", || made(&backups).map(drop));
        let fold = rusqlite::Connection::open(shop.path()).unwrap();
        fold.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(())).unwrap();
        thread::sleep(Duration::from_millis(1500));
        Watched { _place: place, rings, said, shop, keeper, desk, _follow: follow }
    }

    fn rang(&self, alarm: &str) -> Option<String> {
        self.rang_of(alarm, "")
    }

    fn rang_of(&self, alarm: &str, says: &str) -> Option<String> {
        let rings = fs::read_to_string(&self.rings).unwrap_or_default();
        let mut of = rings.lines().filter(|line| line.starts_with(alarm));
        of.find(|line| line.contains(says)).map(str::to_owned)
    }

    fn run(&self, line: &str) -> crate::program::Run {
        at(&self.shop.path(), line)
    }
}

fn whole(backup: &Path) -> bool {
    backup.to_string_lossy().ends_with(".backup.db")
}

/// What can happen to a file, done to the file at this path.
pub(crate) type Blow = fn(&Path);

fn over(path: &Path, from: usize, to: usize, byte: u8) {
    use std::os::unix::fs::FileExt;
    let file = fs::OpenOptions::new().write(true).open(path).unwrap();
    let length = file.metadata().unwrap().len() as usize;
    let to = to.min(length);
    file.write_all_at(&vec![byte; to - from], from as u64).unwrap();
}

pub(crate) fn put_in_its_place(path: &Path, bytes: &[u8]) {
    let other = path.with_file_name("other");
    fs::write(&other, bytes).unwrap();
    fs::rename(other, path).unwrap();
}

pub(crate) const BLOWS: [(&str, Blow); 13] = [
    ("header zeroed", |path| over(path, 0, 100, 0)),
    ("first page zeroed", |path| over(path, 0, 4096, 0)),
    ("first page overwritten", |path| over(path, 0, 4096, 0xff)),
    ("schema overwritten", |path| over(path, 100, 4096, 0xff)),
    ("all but the first page zeroed", |path| over(path, 4096, usize::MAX, 0)),
    ("all but the first page overwritten", |path| over(path, 4096, usize::MAX, 0xff)),
    ("cut to half", |path| {
        let file = fs::OpenOptions::new().write(true).open(path).unwrap();
        let length = file.metadata().unwrap().len();
        file.set_len(length / 2).unwrap();
    }),
    ("emptied", |path| drop(fs::File::create(path).unwrap())),
    ("written over with a text", |path| fs::write(path, "a note of somebody's\n").unwrap()),
    ("a text put in its place", |path| put_in_its_place(path, b"a note of somebody's\n")),
    ("noise put in its place", |path| put_in_its_place(path, &[0xa5; 20_000])),
    ("the file beside it damaged as well", |path| {
        put_in_its_place(path, &[0xa5; 20_000]);
        let beside = path.with_extension("rescued.db");
        patiently("the file beside it", || beside.exists().then_some(()));
        over(&beside, 0, 100, 0);
    }),
    ("one file after the other damaged", |path| {
        put_in_its_place(path, &[0xa5; 20_000]);
        let beside = path.with_extension("rescued.db");
        patiently("the file beside it", || beside.exists().then_some(()));
        // Written over, it would stay whole where its log has that page as well.
        put_in_its_place(&beside, &[0xff; 20_000]);
        let third = beside.with_extension("rescued.db");
        patiently("the file beside that", || third.exists().then_some(()));
        drop(fs::File::create(third).unwrap());
    }),
];

/// Where nothing of the shop could be read any more, whoever stands at the kiln begins again: everybody
/// has to be in the same file then.
const BEGUN_AGAIN: [&str; 3] =
    ["kiln add North --fuel gas", "light North --load gold --at '20 min ago'", LOOK];
const LOOK: &str = "look North --target down";

#[test]
fn law_a_target_seen_down_rings_through_any_damage() {
    let asked = std::env::var("SPYHOLE_BLOWS").ok();
    let rounds: usize = asked.as_ref().map_or(1, |rounds| rounds.parse().unwrap());
    let mut silent = Vec::new();
    for _ in 0..rounds {
        // All at once: most of it is waiting.
        silent.push(thread::scope(|scope| {
            let blows = BLOWS.map(|(what, blow)| scope.spawn(move || rings_through(what, blow)));
            blows.map(|one| one.join().unwrap())
        }));
    }
    for (number, (what, _)) in BLOWS.iter().enumerate() {
        let longest = silent.iter().map(|round| round[number]).max().unwrap();
        println!("{what}: {rounds} rang, after {longest:.1?} at most");
        assert!(asked.is_none() || longest <= Duration::from_secs(5), "{what}");
    }
}

/// How long it was silent after the target was noted down.
fn rings_through(what: &str, blow: Blow) -> Duration {
    let watched = Watched::new();
    blow(&watched.shop.path());
    // A busy computer may have rung before that the file does not answer.
    patiently(what, || {
        watched.rang_of("shop_file", "is damaged: the shop goes on in shop.rescued.")
    });
    watched.desk.see("the shop goes on in shop.rescued.");
    if watched.run(LOOK).code != 0 {
        for line in BEGUN_AGAIN {
            watched.run(line).ok();
        }
    }
    let noted = Instant::now();
    patiently(what, || watched.rang("shut_off"));
    let silent = noted.elapsed();
    watched.desk.see("Shut off North now");
    silent
}

#[test]
fn law_a_moved_shop_is_missed_and_taken_up_again() {
    let mut watched = Watched::new();
    let path = watched.shop.path();
    let away = path.with_file_name("away.db");
    fs::rename(&path, &away).unwrap();
    let named = format!("See to the shop's file {}", path.display());
    let says = format!("{named}: No shop found at {}: ", path.display());
    patiently("the ring", || watched.rang_of("shop_file: ", &says));
    watched.desk.see("See to the shop's file");
    watched.desk.see("no shop found at");
    for line in ["status", LOOK, "export"] {
        let said = watched.run(line).refused();
        assert!(said.contains(&format!("no shop found at {}", path.display())), "{said}");
    }
    assert!(!path.exists(), "nobody begins another");
    let alarms = watched.run("alarms");
    assert!(alarms.out.contains(&format!("{named} [highest, ")), "{}{}", alarms.out, alarms.err);
    // A look entered on the screen is not written into the file that is away.
    watched.desk.press("l");
    watched.desk.see("What do you see at North?");
    watched.desk.press("d\t\tdd\r");
    watched.desk.see("no shop found at");
    watched.desk.press("\u{1b}");
    assert_eq!(watched.run("alarms ack").out, "The shop's file: acknowledged shop_file\n");
    patiently("the answer", || {
        let said = fs::read_to_string(&watched.said).unwrap();
        said.contains(&format!("Answered: {named}")).then_some(())
    });
    fs::rename(&away, &path).unwrap();
    patiently("the shop", || (watched.run("status").code == 0).then_some(()));
    watched.run(LOOK).ok();
    patiently("the kiln's ring", || watched.rang("shut_off"));
    assert_eq!(watched.keeper.0.try_wait().unwrap(), None);
}

#[test]
fn law_a_shop_put_in_the_place_of_another_is_told_and_watched() {
    let mut watched = Watched::new();
    let (_folder, other) = shop_file();
    for line in &BEGUN_AGAIN[..2] {
        at(&other, &line.replace("North", "South")).ok();
    }
    put_in_its_place(&watched.shop.path(), &fs::read(&other).unwrap());
    let rung = patiently("the ring", || watched.rang("shop_file"));
    assert!(rung.contains("Another file was put in its place"), "{rung}");
    watched.desk.see("South");
    // Answered on the screen, where it is the first line.
    watched.desk.see("See to the shop's file");
    watched.desk.press("a");
    watched.desk.see("Acknowledged: shop_file");
    watched.run("look South --target down").ok();
    patiently("the kiln's ring", || watched.rang("shut_off"));
    watched.desk.see("Shut off South now");
    let alarms = watched.run("alarms").out;
    assert!(!alarms.contains("shop_file"), "{alarms}");
}

#[test]
fn law_a_keeper_of_no_shop_ends_or_waits_as_it_was_told() {
    let folder = tempfile::tempdir().unwrap();
    let shop = folder.path().join("not").join("there.db");
    let keep = at(&shop, "keep");
    let says = format!(
        "spyhole: no shop found at {}: name another file with --shop FILE, or begin one with the \
         screen, \"spyhole kiln add\" or \"spyhole import\"\n",
        shop.display()
    );
    assert_eq!((keep.code, keep.err), (2, says));
    assert!(!shop.parent().unwrap().exists(), "nothing was made");
    // As its unit starts it: whom to call is not known before the shop is there.
    let (rings, said) = (folder.path().join("rings"), folder.path().join("said"));
    let mut keeper = command();
    keeper.args(["keep", "--wait", "--shop"]).arg(&shop).stdin(Stdio::null());
    keeper.env("DBUS_SESSION_BUS_ADDRESS", crate::keeper::NO_BUS).stderr(Stdio::null());
    let _keeper = Running(keeper.stdout(fs::File::create(&said).unwrap()).spawn().unwrap());
    let heard = || fs::read_to_string(&said).unwrap();
    for says in ["Trouble: no shop found at", "Ring 1: See to the shop's file"] {
        let says = format!("{says} {}", shop.display());
        patiently("the ring", || heard().contains(&says).then_some(()));
    }
    let kept = TestShop::new(&settings(&rings));
    drop(kept.journal.backup(crate::keeper::now(), Some(1)).unwrap());
    fs::rename(kept.path().parent().unwrap(), shop.parent().unwrap()).unwrap();
    let mounted = shop.parent().unwrap();
    for (from, to) in [("shop.db", "there.db"), ("shop.db.bell.json", "there.db.bell.json")] {
        fs::rename(mounted.join(from), mounted.join(to)).unwrap();
    }
    for line in BEGUN_AGAIN {
        at(&shop, line).ok();
    }
    patiently("the kiln's ring by the way set beside the shop", || {
        fs::read_to_string(&rings).ok().filter(|rung| rung.contains("shut_off"))
    });
}

/// Only adding a kiln and importing begin a shop, and they say so; the screen asks first.
#[test]
fn law_only_what_is_meant_to_begins_a_shop() {
    let folder = tempfile::tempdir().unwrap();
    let shop = folder.path().join("typo.db");
    let lines = "status|ledger|kiln list|load-type add raku --cone 06|light North --load gold|\
        export|alarms|status --follow|review outcomes|history North";
    for line in lines.split('|') {
        let said = at(&shop, line).refused();
        assert!(said.contains("no shop found at "), "{line}: {said}");
        assert!(!shop.exists(), "{line}");
    }
    let asked = |answer: &str| {
        let mut desk = Desk::run(&["--shop", shop.to_str().unwrap()]);
        desk.see("Begin one there? (yes/no)");
        desk.press(answer);
        desk
    };
    assert!(!asked("no\r").ended().success());
    assert!(!shop.exists());
    let mut desk = asked("yes\r");
    desk.see("Your shop: its first kiln");
    desk.press("\u{1b}");
    desk.until("the page is left", |shown| !shown.contains("Your shop: its first kiln"));
    desk.press("\u{1b}");
    desk.see("No kiln yet");
    desk.press("q");
    desk.ended();
    fs::remove_file(&shop).unwrap();
    let begins = |line: &str| {
        let run = at(&shop, line);
        assert!(run.err.contains("This is a new shop, kept in "), "{}", run.err);
        run.ok();
    };
    begins("kiln add North --fuel gas");
    let other = folder.path().join("kept.db");
    begin_shop(&other);
    at(&other, "light Heron --load gold --at '20 min ago'").ok();
    let file = folder.path().join("record.jsonl");
    at(&other, &format!("export --firing 1 -o {}", file.display())).ok();
    fs::remove_file(&shop).unwrap();
    begins(&format!("import {}", file.display()));
}
