//! What somebody tries who is in the network and not meant to be: guesses of the PIN, what an answer gives
//! away, and connections that are never read.

use std::io::{BufRead, BufReader};
use std::process::{Child, Stdio};

use super::*;
use crate::keeper::signal;
use crate::program::command;

/// A command that shows a code, and both forms of that.
fn shown(served: &Served) -> (Child, [String; 2]) {
    let mut shows = command();
    shows.args(["page", "--json", "--address", "127.0.0.1", "--shop"]).arg(served.shop.path());
    let mut shows = shows.stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
    let lines = BufReader::new(shows.stdout.as_mut().unwrap()).lines().map(Result::unwrap);
    let text: String = lines.take_while(|line| line != "}").collect();
    let said: Value = serde_json::from_str(&(text + "}")).unwrap();
    let scanned = said["scan"].as_str().unwrap().rsplit('/').next().unwrap().to_owned();
    (shows, [scanned, said["code"].as_str().unwrap().to_owned()])
}

#[test]
fn law_a_code_that_somebody_read_off_is_worth_nothing_later() {
    let served = Served::new();
    // A busy computer may say that it answers later.
    let paired = |code: &str, name: &str| {
        let answer = || Some(served.pair_with(code, name).status).filter(|it| *it != 503);
        patiently("an answer", answer)
    };
    let worthless = |codes: &[String]| {
        for code in codes {
            assert_eq!(paired(code, "thief"), 410, "{code}");
        }
    };
    let (mut first, used) = shown(&served);
    assert_eq!(paired(&used[0], "phone"), 303);
    worthless(&used);
    drop(first.stdout.take());
    first.wait().unwrap();
    // Ended before anybody used it, and another one in its place.
    let (mut second, ended) = shown(&served);
    signal(second.id(), "INT");
    second.wait().unwrap();
    worthless(&ended);
    let (mut third, newest) = shown(&served);
    worthless(&ended);
    assert_eq!(paired(&newest[1], "tablet"), 303);
    drop(third.stdout.take());
    third.wait().unwrap();
}

#[test]
fn law_guesses_of_the_pin_are_few_and_lock_out_nobody_else() {
    let mut served = Served::new();
    served.set_pin("4821");
    let firing = served.shop.light("North", Span::hours(1)).0;
    let (thief, owner) = (served.pair("thief"), served.noting("Ada"));
    let guessed = (0..30).map(|pin| served.unlock(&thief, &format!("{pin:04}"), "Eve"));
    let tried = guessed.filter(|heard| heard.body.contains("That is not the PIN")).count();
    // On a busy computer some of the five are answered too late to say so.
    assert!((1..=5).contains(&tried), "{tried}");
    let heard = served.unlock(&thief, "4821", "Eve");
    assert!(heard.status == 403 && heard.body.contains("wait"), "{heard:?}");
    // Who is not paired guesses nothing, whether it is right or wrong.
    for pin in ["4821", "0000"] {
        assert_eq!(served.unlock("", pin, "Eve").status, 401);
    }
    // All of them have one address.
    let tablet = served.pair("tablet");
    assert_eq!(served.unlock(&tablet, "4821", "Ben").status, 204);
    for (uid, cookie) in [&owner, &tablet].into_iter().enumerate() {
        let note = format!("kind=note&kiln=North&firing={firing}&rev=0&uid={uid}&text=quiet");
        served.note(cookie, &note).saved();
    }
}

#[test]
fn law_nothing_but_its_cookie_tells_what_a_device_shows() {
    let mut served = Served::new();
    served.set_pin("4821");
    served.ring("North");
    let cookie = served.noting("Ada");
    let (name, token) = cookie.split_once('=').unwrap();
    // The stream does not end.
    for path in ROUTES.iter().map(|route| route.path).filter(|path| *path != "/state") {
        let asked = path.replace("{name}", "North").replace("{code}", SCANNED);
        let Heard { head, body, .. } = served.get(&asked, &cookie);
        let others = head.lines().filter(|line| !line.to_lowercase().starts_with("set-cookie: "));
        assert!(
            !body.contains(token) && !others.into_iter().any(|it| it.contains(token)),
            "{path}"
        );
        if !OPEN.contains(&path) {
            let heard = served.get(&format!("{asked}?{name}={token}&token={token}"), "");
            assert_eq!(heard.status, 401, "{path}");
        }
    }
    let folder = served.shop.path().parent().unwrap().to_owned();
    let kept = fs::read_dir(folder).unwrap().filter_map(|file| fs::read(file.ok()?.path()).ok());
    let kept: Vec<u8> = kept.flatten().collect();
    for secret in [token, SCANNED, TYPED, "4821\n"] {
        assert!(!kept.windows(secret.len()).any(|part| part == secret.as_bytes()), "{secret}");
    }
}

#[test]
#[cfg(target_os = "linux")]
fn law_devices_that_do_not_read_take_no_memory_and_hold_up_no_ring() {
    const DEVICES: usize = 12;
    let place = tempfile::tempdir().unwrap();
    let out = place.path().join("rings");
    let shop = TestShop::new(&settings(&out));
    let port = free_port();
    shop.journal.switch_page_on(Some(port), port).unwrap();
    let keeper = shop.keep(NO_BUS);
    patiently("the page", || connected(port));
    let mut served = Served { shop, shown: Shown::default(), page: None, port };
    served.set_pin("4821");
    let firing = served.shop.light("North", Span::hours(1));
    let cookie = served.noting("Ada");
    let asked = format!(
        "GET /state?kiln=North HTTP/1.1\r\nHost: {}\r\nCookie: {cookie}\r\n\r\n",
        served.host()
    );
    let silent: Vec<TcpStream> = (0..DEVICES)
        .map(|_| {
            let mut stream = connected(port).unwrap();
            stream.write_all(asked.as_bytes()).unwrap();
            stream
        })
        .collect();
    let resident_kb = || -> i64 {
        let status = fs::read_to_string(format!("/proc/{}/status", keeper.0.id())).unwrap();
        let line = status.lines().find(|line| line.starts_with("VmRSS:")).unwrap();
        line.split_whitespace().nth(1).unwrap().parse().unwrap()
    };
    let note = |from: usize, long: &str| {
        for number in from..from + 12 {
            let said =
                format!("kind=note&kiln=North&firing={}&rev=0&uid={number}&text={long}", firing.0);
            served.note(&cookie, &said).saved();
        }
    };
    // The story of a kiln tells its last twelve entries: from then on no picture is longer than another.
    let long = "🏺".repeat(3_900);
    note(0, &long);
    let before = resident_kb();
    (1..4).for_each(|round| note(12 * round, &long));
    let more = resident_kb() - before;
    println!("{more} kB more for {DEVICES} devices and 36 pictures");
    assert!(more < 20_000, "{more} kB");
    served.shop.see_down(firing);
    patiently("the bell to ring", || {
        fs::read_to_string(&out).is_ok_and(|rings| rings.contains("North")).then_some(())
    });
    drop(silent);
}
