//! Days of a shop with a fault of machine, file, clock or process in every hour, in each of which a target
//! goes down or a look comes due: whatever happened, it rings, and nothing that was noted is lost without
//! a word.
//!
//! An hour is as short as its fault. A few hours here; a week:
//! `SPYHOLE_FAULTS=168 cargo test --release --test it faulty -- --nocapture`.

#![expect(clippy::print_stdout, reason = "tells whoever asks for many hours what happened in each")]

use std::collections::BTreeMap;
use std::os::unix::fs::PermissionsExt;
use std::process::{Command, Stdio};
use std::thread;
use std::time::Instant;
use std::{env, mem};

use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;

use crate::journal::disk::SmallDisk;
use crate::keeper::{NO_BUS, Running, holder, holder_at, now, patiently, signal, until};
use crate::prelude::*;
use crate::program::{Run, command, finish};
use crate::same_shop::BLOWS;
use crate::terminal::Desk;

/// What goes wrong in an hour.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Fault {
    HolderFrozen,
    HolderKilled,
    BothKilled,
    FileDamaged,
    FolderAway,
    DiskFull,
    WayFails,
    WayHangs,
    ClockForward,
    ClockBack,
}

/// Each with the seconds within which it rings, where that is judged.
const FAULTS: [(Fault, u64); 10] = [
    (Fault::HolderFrozen, 20),
    (Fault::HolderKilled, 5),
    (Fault::BothKilled, 7),
    (Fault::FileDamaged, 5),
    (Fault::FolderAway, 5),
    (Fault::DiskFull, 5),
    (Fault::WayFails, 5),
    (Fault::WayHangs, 20),
    (Fault::ClockForward, 5),
    (Fault::ClockBack, 5),
];

impl Fault {
    fn limit(self) -> u64 {
        FAULTS.into_iter().find(|(named, _)| *named == self).unwrap().1
    }
}

/// How a command refuses what it needs something for that is lost.
const LOST: [&str; 3] = ["is not lit", "there is no kiln", "no shop found"];

const KILNS: [&str; 2] = ["North", "South"];

/// What has to ring, and what is said after it.
#[derive(Debug)]
struct Due {
    /// What is said before the fault.
    before: &'static [&'static [&'static str]],
    /// What is due as soon as this is said.
    said: &'static [&'static str],
    rings: &'static [&'static str],
    over: &'static [&'static [&'static str]],
}

const DOWN: Due = Due {
    before: &[&["light", "North", "--load", "gold"]],
    said: &["look", "North", "--target", "down"],
    rings: &["shut_off North"],
    over: &[&["off", "North"], &["drawn", "North"], &["outcome", "North", "good"]],
};

/// Kept from teaching anything: it is struck at the end. So long ago that it has to be looked at also by a shop
/// whose gold took eight hours: a clock that went forward teaches that.
const LOOK: Due = Due {
    before: &[],
    said: &["light", "South", "--load", "decal", "--at", "9 h ago"],
    rings: &["look_due South", "look_overdue South", "probably_down South"],
    over: &[&["strike", "--reason", "it was only tried"]],
};

/// A shop on a disk of its own, watched by a keeper and a screen.
struct Shop {
    keeper: Running,
    desk: Desk,
    disk: SmallDisk,
    place: TempDir,
    path: PathBuf,
    clock: WrongClock,
    random: Pcg64Mcg,
    /// Remarks that were saved, but for those whose loss was told.
    saved: Vec<String>,
    lost: usize,
}

impl Shop {
    /// `None` where the machine gives no disk.
    fn new(seed: u64) -> Option<Shop> {
        let (place, disk) = (tempfile::tempdir().unwrap(), SmallDisk::mount(16)?);
        let folder = disk.path().join("shop");
        fs::create_dir(&folder).unwrap();
        let path = folder.join("shop.db");
        let ring = place.path().join("ring");
        let script = format!(
            "#!/bin/sh\ncd {}\n[ $SPYHOLE_PERSON = Ada ] && [ -e fails ] && exit 1\n\
             [ $SPYHOLE_PERSON = Ada ] && [ -e hangs ] && exec sleep 600\n\
             echo $SPYHOLE_ALARM $SPYHOLE_KILN $SPYHOLE_PERSON $(date +%T) >> rings\n",
            place.path().display()
        );
        fs::write(&ring, script).unwrap();
        fs::set_permissions(&ring, fs::Permissions::from_mode(0o700)).unwrap();
        let settings = serde_json::json!({
            "people": [{"name": "Ada", "ways": ["command"]}, {"name": "Bo", "ways": ["command"]}],
            "command": {"program": ring},
        });
        fs::write(folder.join("shop.db.bell.json"), settings.to_string()).unwrap();
        let clock = WrongClock::new(place.path());
        for kiln in KILNS {
            let mut add = command();
            add.args(["kiln", "add", kiln, "--fuel", "gas", "--shop"]).arg(&path);
            let added = finish(&mut add);
            assert_eq!(added.code, 0, "{}", added.err);
        }
        let (keeper, desk) = (keep(&path, &clock), screen(&path, &clock));
        until("the watch", || holder(&path));
        desk.see("North");
        let random = Pcg64Mcg::seed_from_u64(seed);
        Some(Shop { place, disk, path, clock, keeper, desk, random, saved: Vec::new(), lost: 0 })
    }

    fn run(&self, line: &[&str]) -> Run {
        finish(command().args(line).arg("--shop").arg(&self.path).envs(self.clock.set()))
    }

    /// Says it until it is saved.
    #[track_caller]
    fn say(&self, line: &[&str]) {
        let mut refused = String::new();
        patiently(&format!("{line:?}"), || {
            let run = self.run(line);
            if run.code == 0 {
                return Some(());
            }
            if run.err != refused {
                println!("    {line:?}: {}", run.err.trim_end());
                refused = run.err;
            }
            thread::sleep(Duration::from_millis(100));
            None
        });
    }

    /// One hour; how long the shop was silent after something was due.
    fn hour(&mut self, number: usize, fault: Fault) -> Duration {
        // A kiln that was lit is entered with its time while the clock stands before the newest entry.
        let looks = fault != Fault::ClockBack && self.random.random_bool(0.5);
        let due = if looks { LOOK } else { DOWN };
        let before = self.rings(&due);
        self.begin(number, &due);
        thread::sleep(Duration::from_millis(self.random.random_range(0..2_000)));
        let clock = || now() + Span::seconds(self.clock.ahead);
        let held = Some(until("the watch", || holder_at(&self.path, clock())));
        self.strike(fault, held);
        let said = self.run(due.said);
        if said.code != 0 {
            println!("    {:?}: {}", due.said, said.err.trim_end());
            // What can be read no more is begun again.
            if LOST.iter().any(|lost| said.err.contains(lost)) {
                self.begin(number, &due);
            }
            self.say(due.said);
        }
        let (noted, limit) = (Instant::now(), Duration::from_secs(fault.limit()));
        let mut told = false;
        patiently(&format!("{:?} of hour {number}, {fault:?}", due.rings), || {
            if noted.elapsed() > limit && !mem::replace(&mut told, true) {
                let alarms = self.run(&["alarms"]);
                let rings = fs::read_to_string(self.place.path().join("rings")).unwrap_or_default();
                let from = rings.len().saturating_sub(1_000);
                let (clock, screen) = (self.run(&["status"]).out, self.desk.text());
                println!("{}{}{clock}{screen}{}", alarms.out, alarms.err, &rings[from..]);
            }
            (self.rings(&due) > before).then_some(())
        });
        let silent = noted.elapsed();
        if told {
            println!("    {number} {fault:?}: {:?} after {silent:.1?}", due.rings);
        }
        self.mend(held);
        for line in due.over {
            self.say(line);
        }
        self.count(fault);
        // With what was lost a kiln may burn that was drawn hours ago, more than once; it is to teach nothing.
        let mut kilns = if fault == Fault::FileDamaged { KILNS.to_vec() } else { Vec::new() };
        while !kilns.is_empty() {
            kilns.retain(|kiln| {
                let said = ["abort", "off", "drawn"].map(|step| self.run(&[step, kiln]).code);
                said.contains(&0)
            });
        }
        silent
    }

    fn begin(&mut self, number: usize, due: &Due) {
        let there = self.run(&["kiln", "list"]).out;
        for kiln in KILNS.into_iter().filter(|kiln| !there.contains(kiln)) {
            self.say(&["kiln", "add", kiln, "--fuel", "gas"]);
        }
        for line in due.before {
            self.say(line);
        }
        let remark = format!("the remark of hour {number}");
        self.say(&["note", "North", &remark]);
        self.saved.push(remark);
    }

    fn strike(&mut self, fault: Fault, held: Option<u32>) {
        let flag = |name: &str| fs::write(self.place.path().join(name), "").unwrap();
        match fault {
            Fault::HolderFrozen => signal(held.unwrap(), "STOP"),
            Fault::HolderKilled => signal(held.unwrap(), "KILL"),
            Fault::BothKilled => {
                signal(self.keeper.0.id(), "KILL");
                signal(self.desk.child.process_id().unwrap(), "KILL");
                // As the unit of the keeper does it.
                thread::sleep(Duration::from_secs(2));
                self.keeper = keep(&self.path, &self.clock);
            }
            Fault::FileDamaged => {
                let (what, blow) = BLOWS[self.random.random_range(0..BLOWS.len())];
                let mut file = self.path.clone();
                while file.with_extension("rescued.db").exists() {
                    file = file.with_extension("rescued.db");
                }
                println!("    {what}: {}", file.display());
                blow(&file);
            }
            Fault::FolderAway => {
                let (here, away) = (self.path.parent().unwrap(), self.disk.path().join("away"));
                fs::rename(here, &away).unwrap();
                assert_ne!(self.run(DOWN.said).code, 0);
                thread::sleep(Duration::from_millis(self.random.random_range(500..8_000)));
                fs::rename(&away, here).unwrap();
            }
            Fault::DiskFull => {
                let ballast = self.disk.path().join("ballast");
                assert!(fs::write(&ballast, vec![7; 64 << 20]).is_err(), "the disk is small");
                let refused = self.run(&["note", "North", &"a long remark ".repeat(280)]);
                println!("    full: {} {}", refused.code, refused.err.trim_end());
                thread::sleep(Duration::from_millis(self.random.random_range(500..8_000)));
                fs::remove_file(ballast).unwrap();
            }
            Fault::WayFails => flag("fails"),
            Fault::WayHangs => flag("hangs"),
            Fault::ClockForward => self.clock.move_by(self.random.random_range(5 * 60..8 * 3600)),
            Fault::ClockBack => self.clock.move_by(-self.random.random_range(5 * 60..8 * 3600)),
        }
    }

    /// Everything as before, and who was killed started again. A clock that went forward stays there.
    fn mend(&mut self, held: Option<u32>) {
        self.clock.right();
        for flag in ["fails", "hangs"] {
            let _ = fs::remove_file(self.place.path().join(flag));
        }
        if self.keeper.0.try_wait().unwrap().is_some() {
            self.keeper = keep(&self.path, &self.clock);
        } else {
            signal(self.keeper.0.id(), "CONT");
        }
        if self.desk.child.try_wait().unwrap().is_some() {
            self.desk = screen(&self.path, &self.clock);
            // While the shop is away it would ask whether to begin another, and wait for the answer.
            self.desk.see("╭");
        } else if held == self.desk.child.process_id() {
            self.desk.signal("CONT");
        }
    }

    /// Nothing that was saved is missing, unless damage took it and that is told.
    fn count(&mut self, fault: Fault) {
        let export = self.run(&["export"]);
        let (there, missing): (Vec<_>, Vec<_>) =
            self.saved.drain(..).partition(|remark| export.out.contains(&format!("\"{remark}\"")));
        let told = fault == Fault::FileDamaged && export.code != 0;
        assert!(missing.is_empty() || told, "{fault:?}: {missing:?}: {}", export.err);
        self.lost += missing.len();
        self.saved = there;
    }

    fn rings(&self, due: &Due) -> usize {
        let rings = fs::read_to_string(self.place.path().join("rings")).unwrap_or_default();
        rings.lines().filter(|line| due.rings.iter().any(|ring| names(line, ring))).count()
    }
}

/// Whether a line of the log of rings names this alarm of this kiln, alone or in the one ring of a flood.
fn names(line: &str, ring: &str) -> bool {
    let mut words = line.split(' ').map(|word| word.split(','));
    let (Some(alarms), Some(kilns)) = (words.next(), words.next()) else { return false };
    alarms.zip(kilns).any(|(alarm, kiln)| ring.split_once(' ') == Some((alarm, kiln)))
}

/// A clock that can be set wrong for the programs that are begun with it.
struct WrongClock {
    library: String,
    file: PathBuf,
    /// Seconds before the true time, and how many of them stay.
    ahead: i64,
    stays: i64,
}

impl WrongClock {
    fn new(place: &Path) -> WrongClock {
        let (library, file) = (place.join("wrong_clock.so"), place.join("clock"));
        let source = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/wrong_clock.c");
        let mut compiler = Command::new("cc");
        compiler.args(["-shared", "-fPIC", "-o"]).arg(&library).arg(source);
        assert!(compiler.status().expect("a C compiler").success());
        let library = library.to_str().unwrap().to_owned();
        WrongClock { library, file, ahead: 0, stays: 0 }
    }

    fn set(&self) -> [(&'static str, &str); 2] {
        let file = self.file.to_str().unwrap();
        [("LD_PRELOAD", &self.library), ("SPYHOLE_TEST_CLOCK", file)]
    }

    fn move_by(&mut self, seconds: i64) {
        println!("    the clock moves by {seconds} s");
        self.ahead += seconds;
        self.stays = self.ahead.max(self.stays);
        self.write();
    }

    fn right(&mut self) {
        self.ahead = self.stays;
        self.write();
    }

    fn write(&self) {
        let beside = self.file.with_extension("part");
        fs::write(&beside, self.ahead.to_string()).unwrap();
        fs::rename(beside, &self.file).unwrap();
    }
}

fn keep(shop: &Path, clock: &WrongClock) -> Running {
    let mut keeper = command();
    keeper.envs(clock.set());
    keeper.args(["keep", "--wait", "--shop"]).arg(shop).env("DBUS_SESSION_BUS_ADDRESS", NO_BUS);
    keeper.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
    Running(keeper.spawn().unwrap())
}

fn screen(shop: &Path, clock: &WrongClock) -> Desk {
    Desk::run_with(&["--shop", shop.to_str().unwrap()], &clock.set())
}

#[test]
fn law_in_faulty_hours_every_look_and_shut_off_rings() {
    let asked: Option<usize> = env::var("SPYHOLE_FAULTS").ok().map(|hours| hours.parse().unwrap());
    let seed = env::var("SPYHOLE_SEED").map_or(1, |seed| seed.parse().unwrap());
    // Some shops at once: most of it is waiting.
    let (shops, hours) = asked.map_or((3, 6), |hours| (8, hours));
    let silent: Vec<Vec<(Fault, Duration)>> = thread::scope(|scope| {
        let days =
            (0..shops).map(|shop| scope.spawn(move || day(seed + shop, hours / shops as usize)));
        let days: Vec<_> = days.collect();
        days.into_iter().map(|day| day.join().unwrap()).collect()
    });
    let (mut of, mut late) = (BTreeMap::<Fault, Vec<Duration>>::new(), Vec::new());
    for (fault, silent) in silent.into_iter().flatten() {
        of.entry(fault).or_default().push(silent);
    }
    for (fault, mut silent) in of {
        silent.sort();
        let (median, longest) = (silent[silent.len() / 2], silent[silent.len() - 1]);
        println!("{fault:?}: {} hours, silent {median:.1?}, at most {longest:.1?}", silent.len());
        late.extend((longest > Duration::from_secs(fault.limit())).then_some(fault));
    }
    assert!(asked.is_none() || late.is_empty(), "{late:?}");
}

/// So many hours of one shop.
fn day(seed: u64, hours: usize) -> Vec<(Fault, Duration)> {
    let Some(mut shop) = Shop::new(seed) else { return Vec::new() };
    let mut silent = Vec::new();
    for hour in 0..hours {
        let (fault, _) = FAULTS[shop.random.random_range(0..FAULTS.len())];
        println!("shop {seed}, hour {hour}: {fault:?}");
        silent.push((fault, shop.hour(hour, fault)));
    }
    println!("shop {seed}: {} remarks there, {} lost and told", shop.saved.len(), shop.lost);
    silent
}
