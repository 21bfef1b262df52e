//! A process killed in the middle of writing, and a look at when the disk is told to keep things.
//!
//! The crash test in full: `SPYHOLE_CRASH_ROUNDS=500 cargo test --test it crash`.

use std::collections::BTreeMap;
use std::env;
use std::io::{BufRead, BufReader, Write};
use std::process::{Child, Command, Stdio};
use std::thread::sleep;

use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;

use crate::journal::{lit, look, minutes, reading};
use crate::prelude::*;

/// Set for the child: the shop's file, and the number it starts from.
const CHILD: &str = "SPYHOLE_CRASH_CHILD";
const ROUNDS: &str = "SPYHOLE_CRASH_ROUNDS";
const FEW_ROUNDS: usize = 25;
/// A new file every so often, so that beginning one is interrupted too.
const ROUNDS_A_FILE: usize = 25;

/// The event a child writes as its n-th: the same whenever it is tried again.
fn nth(n: i64) -> NewEvent {
    let what = match n {
        0 => lit("North"),
        n if n % 7 == 3 => look(Seen::Standing),
        n if n % 11 == 5 => What::Note { text: format!("note {n}") },
        n => reading(20.0 + (n % 700) as f64 / 2.0),
    };
    NewEvent {
        uid: Uid::from_number(1000 + n),
        firing: (n > 0).then_some(FiringId(1)),
        at: minutes(n),
        offset_minutes: 60,
        who: Who::Probe("ring".into()),
        what,
    }
}

/// What the child does until it is killed: append, then say so.
fn append_for_ever(instruction: &str) {
    let (start, path) = instruction.split_once(' ').unwrap();
    let mut journal = begun(Path::new(path));
    let mut out = std::io::stdout();
    for n in start.parse::<i64>().unwrap().. {
        let id = journal.append(&nth(n), minutes(n)).unwrap().id;
        writeln!(out, "\ndurable {n} {id}").unwrap();
        out.flush().unwrap();
    }
}

fn child(test: &str, start: i64, path: &Path) -> Command {
    let mut command = Command::new(env::current_exe().unwrap());
    command.args(["--exact", test, "--nocapture", "--test-threads=1"]);
    command.env(CHILD, format!("{start} {}", path.display()));
    command.stdout(Stdio::piped()).stderr(Stdio::null());
    command
}

/// Kills the child and returns what it had said by then: number and event id. One in four is
/// killed while it begins, the others while they write.
fn kill_at_random(mut child: Child, random: &mut Pcg64Mcg) -> BTreeMap<i64, i64> {
    let mut out = BufReader::new(child.stdout.take().unwrap());
    let mut all = BTreeMap::new();
    if random.random_range(0..4) > 0 {
        while all.is_empty() {
            let mut line = String::new();
            assert!(out.read_line(&mut line).unwrap() > 0, "the child ended by itself");
            all.extend(said(&mut line.as_bytes()));
        }
    }
    sleep(Duration::from_micros(random.random_range(0..30_000)));
    child.kill().unwrap();
    child.wait().unwrap();
    all.extend(said(&mut out));
    all
}

/// Whole lines only: one that was cut off was not said.
fn said(out: &mut impl BufRead) -> BTreeMap<i64, i64> {
    let mut said = BTreeMap::new();
    let mut line = String::new();
    while out.read_line(&mut line).unwrap() > 0 {
        if let Some(numbers) = line.strip_prefix("durable ")
            && let Some((n, id)) = numbers.trim_end().split_once(' ')
            && line.ends_with('\n')
        {
            said.insert(n.parse().unwrap(), id.parse().unwrap());
        }
        line.clear();
    }
    said
}

#[test]
fn law_a_killed_process_loses_and_doubles_nothing_it_had_said() {
    const SELF: &str = "crash::law_a_killed_process_loses_and_doubles_nothing_it_had_said";
    if let Ok(instruction) = env::var(CHILD) {
        return append_for_ever(&instruction);
    }
    let rounds = env::var(ROUNDS).map_or(FEW_ROUNDS, |rounds| rounds.parse().unwrap());
    let mut random = Pcg64Mcg::seed_from_u64(7);
    let folder = tempfile::tempdir().unwrap();
    let mut total = 0;
    let mut said_of_file: BTreeMap<i64, i64> = BTreeMap::new();
    for round in 0..rounds {
        let path = folder.path().join(format!("shop{}.db", round / ROUNDS_A_FILE));
        if round % ROUNDS_A_FILE == 0 {
            said_of_file.clear();
        }
        let start = said_of_file.last_key_value().map_or(0, |(n, _)| n + 1);
        let said = kill_at_random(child(SELF, start, &path).spawn().unwrap(), &mut random);
        total += said.len();
        said_of_file.extend(said);
        check_file(&path, &said_of_file, round);
    }
    assert!(total > rounds, "only {total} events were written in {rounds} rounds");
}

/// Everything said is there under the id that was said, nothing is there twice, and what is there
/// are the first so many events, whether they were said or not.
fn check_file(path: &Path, said: &BTreeMap<i64, i64>, round: usize) {
    let journal = begun(path);
    let report = journal.check().unwrap();
    assert!(report.is_whole(), "round {round}: {report:?}");
    let stored = stored(&journal, None);
    for (index, stored) in stored.iter().enumerate() {
        let expected = nth(index as i64);
        assert_eq!(stored.uid, expected.uid, "round {round}");
        assert_eq!(stored.event.what, expected.what, "round {round}");
        if let Some(id) = said.get(&(index as i64)) {
            assert_eq!(stored.event.id.0, *id, "round {round}");
        }
    }
    let last_said = said.last_key_value().map_or(-1, |(n, _)| *n);
    assert!(stored.len() as i64 > last_said, "round {round}: event {last_said} was said and lost");
}

/// Needs `strace`; `.ci/run` installs it. A machine without it says so by `SPYHOLE_NO_STRACE=1`.
#[test]
fn crosscheck_the_disk_is_told_before_an_event_is_acknowledged() {
    const SELF: &str = "crash::crosscheck_the_disk_is_told_before_an_event_is_acknowledged";
    if let Ok(instruction) = env::var(CHILD) {
        let (_, path) = instruction.split_once(' ').unwrap();
        let mut journal = begun(Path::new(path));
        let mut out = std::io::stdout();
        for n in 0..20 {
            let id = journal.append(&nth(n), minutes(n)).unwrap().id;
            writeln!(out, "\ndurable {n} {id}").unwrap();
            out.flush().unwrap();
        }
        return;
    }
    let (folder, path) = shop_file();
    let trace = folder.path().join("trace");
    if env::var_os("SPYHOLE_NO_STRACE").is_some_and(|value| value == "1") {
        return;
    }
    let plain = child(SELF, 0, &path);
    let mut traced = Command::new("strace");
    traced.args(["-f", "-e", "trace=fsync,fdatasync,write,pwrite64", "-s", "40", "-o"]);
    traced.arg(&trace).arg(plain.get_program()).args(plain.get_args());
    traced.env(CHILD, format!("0 {}", path.display()));
    let traced = traced.stdout(Stdio::null()).stderr(Stdio::null()).status();
    assert!(traced.expect("strace is installed, or SPYHOLE_NO_STRACE=1 is set").success());
    let trace = fs::read_to_string(trace).unwrap();
    let (mut synced, mut acknowledged) = (false, 0);
    for call in trace.lines() {
        if call.contains("fdatasync(") || call.contains("fsync(") {
            synced = true;
        } else if call.contains("durable ") {
            assert!(synced, "event acknowledged without a sync: {call}");
            (synced, acknowledged) = (false, acknowledged + 1);
        } else if call.contains("pwrite64(") {
            synced = false;
        }
    }
    assert_eq!(acknowledged, 20);
}

/// Another process's event is seen, and both keep their order and lose nothing.
#[test]
fn law_two_processes_write_thousands_of_events_each() {
    const SELF: &str = "crash::law_two_processes_write_thousands_of_events_each";
    const EACH: i64 = 2_500;
    if let Ok(instruction) = env::var(CHILD) {
        let (start, path) = instruction.split_once(' ').unwrap();
        let start: i64 = start.parse().unwrap();
        let mut journal = Journal::open(Path::new(path)).unwrap();
        for n in start..start + EACH {
            let written = Moment(minutes(0).0 + n);
            let new = NewEvent { at: written, what: reading(n as f64 / 100.0), ..nth(n) };
            journal.append_checked(&new, written).unwrap();
        }
        return;
    }
    let (_folder, path) = shop_file();
    let mut journal = begun(&path);
    journal.append(&nth(0), minutes(0)).unwrap();
    let before = journal.data_version().unwrap();
    let writers: Vec<Child> =
        [1, 1 + EACH].map(|start| child(SELF, start, &path).spawn().unwrap()).into();
    for mut writer in writers {
        assert!(writer.wait().unwrap().success());
    }
    assert_ne!(journal.data_version().unwrap(), before);
    let stored = stored(&journal, None).split_off(1);
    assert_eq!(stored.len() as i64, 2 * EACH);
    let ids: Vec<i64> = stored.iter().map(|stored| stored.event.id.0).collect();
    assert_eq!(ids, (2..=2 * EACH + 1).collect::<Vec<_>>());
    for half in [1..=EACH, EACH + 1..=2 * EACH] {
        let uids: Vec<i64> = stored
            .iter()
            .map(|stored| stored.uid.number() - 1000)
            .filter(|n| half.contains(n))
            .collect();
        assert_eq!(uids, half.collect::<Vec<_>>(), "each writer's events keep their order");
    }
    let firing = journal.firing(FiringId(1)).unwrap();
    assert_eq!(firing.readings.len() as i64, 2 * EACH);
    assert!(firing.readings.is_sorted_by_key(|(at, _)| *at));
}
