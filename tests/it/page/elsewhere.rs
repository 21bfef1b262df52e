//! Another computer's terminal at the page's door: how it is let in, and what it rings for alone.

use std::os::unix::fs::PermissionsExt;

use spyhole::testing::edge::elsewhere::door::{Door, Heard};
use spyhole::testing::edge::elsewhere::known::Known;

use super::*;

#[test]
fn law_another_computer_is_paired_once_and_hears_what_a_device_hears() {
    let mut served = Served::new();
    let data = tempfile::tempdir().unwrap();
    let address = format!("http://127.0.0.1:{}", served.port);
    let door = || Door::at(&address, data.path()).unwrap();
    assert!(matches!(door().ask().unwrap(), Heard::NotPaired));
    served.pair("phone");
    served.offer();
    for (code, name, why) in [
        ("ZZZ", "office", "eight letters"),
        ("ZZZZZZZZ", "office", "No such code"),
        (TYPED, "", "no name"),
        (TYPED, "phone", "page forget"),
    ] {
        let refused = door().pair(code, name).unwrap_err().to_string();
        assert!(refused.contains(why), "{refused}");
    }
    door().pair("bcdf-ghjk", "office").unwrap();
    let kept = fs::read_dir(data.path().join("devices")).unwrap().next().unwrap().unwrap();
    assert_eq!(kept.metadata().unwrap().permissions().mode() & 0o077, 0);
    served.ring("North");
    let state = patiently("the ring", || match door().ask().unwrap() {
        Heard::State(state) => state.ring.is_some().then_some(state),
        Heard::NotPaired => panic!("it was paired"),
    });
    assert_eq!(state.ring.unwrap().words, "Shut off North now");
    let floor = state.floor;
    assert!(floor.iter().any(|(line, _)| line.starts_with("North: ")), "{floor:?}");
    served.shop.journal.forget_device("office").unwrap();
    patiently("it to be forgotten", || {
        matches!(door().ask().unwrap(), Heard::NotPaired).then_some(())
    });
    for other in [
        "https://192.168.1.5:8766",
        "http://example.org:8766",
        "http://192.0.2.7:8766",
        "http://192.168.1.5",
        "http://me@192.168.1.5:8766",
    ] {
        let refused = Door::at(other, data.path()).unwrap_err().to_string();
        assert!(refused.contains("no address in the shop's network"), "{refused}");
    }
    // What is no shop, and a computer that is gone.
    let gone = Door::at(&format!("http://127.0.0.1:{}", free_port()), data.path()).unwrap();
    assert!(gone.ask().unwrap_err().to_string().contains("does not answer"));
    let run = crate::program::spyhole(&["--shop", &address, "status"]);
    assert!(run.refused().contains("only shown here"));
}

#[test]
fn law_a_computer_that_hears_nothing_rings_alone_for_what_was_to_come() {
    let there = 1_772_352_000_000;
    let minute = 60_000;
    let coming = |id: &str, level: &str, at: i64, over: Option<i64>| {
        serde_json::json!({"id": id, "at": there + at * minute, "level": level, "words": id, "body": "",
            "every": 2 * minute, "over": over.map(|over| there + over * minute)})
    };
    let state = |ring: Value, now: i64| {
        let floor = serde_json::json!([["North: heating", there], ["watch", null]]);
        let plan = [coming("look", "medium", 10, Some(20)), coming("off", "high", 15, None)];
        serde_json::from_value(
            serde_json::json!({"now": now, "floor": floor, "ring": ring, "plan": plan}),
        )
        .unwrap()
    };
    // Its own clock is 90 s slow.
    let at = |seconds: i64| Moment(there - 90_000 + seconds * 1_000);
    let mut known = Known::of(state(Value::Null, there), at(0));
    let id = |known: &Known, now| known.due(now).map(|one| one.id);
    for (seconds, due, rings) in [
        (5, None, false),
        (8, None, false),
        // Nobody knows, and a look is to come within the half hour.
        (61, Some("lost"), true),
        (100, Some("lost"), false),
        (182, Some("lost"), true),
        (600, Some("look"), true),
        (660, Some("look"), false),
        (720, Some("look"), true),
        (900, Some("off"), true),
    ] {
        assert_eq!(known.is_lost(at(seconds)), seconds > 7);
        assert_eq!(id(&known, at(seconds)).as_deref(), due, "after {seconds} s");
        assert_eq!(known.rings(at(seconds)), rings, "after {seconds} s");
    }
    // The computer is back: what it says holds.
    let ring = coming("stay", "low", 21, None);
    known.hear(state(ring, there + 21 * minute), at(1_260));
    assert_eq!(id(&known, at(1_261)).as_deref(), Some("stay"));
    assert!(known.rings(at(1_261)));
    assert_eq!(id(&known, at(1_269)).as_deref(), Some("off"));
}
