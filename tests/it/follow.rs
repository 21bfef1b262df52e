//! `spyhole status --follow`: a line a change, each at once, and an end when nobody reads.

use std::io::{BufRead, BufReader};
use std::process::Stdio;
use std::sync::mpsc;
use std::thread;
use std::time::Instant;

use crate::prelude::*;
use crate::program::{command, finish};

#[test]
fn law_every_change_is_one_line_and_a_closed_pipe_ends_it() {
    let (_folder, shop) = shop_file();
    let shop = shop.to_str().unwrap();
    let spyhole = |arguments: &[&str]| {
        let run = finish(command().args(["--shop", shop]).args(arguments));
        assert_eq!(run.code, 0, "{arguments:?}: {}", run.err);
    };
    spyhole(&["kiln", "add", "Heron", "--fuel", "gas"]);
    let mut follower = command()
        .args(["--shop", shop, "status", "--follow"])
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut out = BufReader::new(follower.stdout.take().unwrap()).lines();
    let (say, lines) = mpsc::channel();
    let (read_on, wanted) = mpsc::channel::<()>();
    // It ends, and closes the pipe, once no line is wanted any more.
    let reader = thread::spawn(move || {
        while wanted.recv().is_ok() {
            say.send(out.next().unwrap().unwrap()).unwrap();
        }
    });
    // Each line is there before the next thing happens: none of them waits for another.
    let next = || {
        read_on.send(()).unwrap();
        let line: String = lines.recv_timeout(PATIENCE).expect("one more line");
        line.split_once(" Heron: ").unwrap_or_else(|| panic!("{line}")).1.to_owned()
    };
    assert_eq!(next(), "empty. Heron is empty.");
    spyhole(&["light", "Heron", "--load", "gold", "--at", "1 h ago"]);
    assert_eq!(next(), "lit");
    assert!(next().starts_with("heating. "));
    spyhole(&["note", "Heron", "a quiet burner"]);
    assert_eq!(next(), "note: a quiet burner");
    spyhole(&["off", "Heron"]);
    assert_eq!(next(), "off");
    assert!(next().starts_with("off. Let Heron cool: off since "));
    drop(read_on);
    reader.join().unwrap();
    let begun = Instant::now();
    let status = loop {
        if let Some(status) = follower.try_wait().unwrap() {
            break status;
        }
        if begun.elapsed() > PATIENCE {
            follower.kill().unwrap();
            panic!("still following, and nobody reads");
        }
        thread::sleep(Duration::from_millis(10));
    };
    assert!(status.success());
}
