//! Noting from the page: who may, what is asked before, and that nothing is noted twice.

use std::process::Stdio;

use clap::CommandFactory;
use serde::Deserialize;
use spyhole::testing::edge::journal::rights::Trying;

use super::*;
use crate::journal::cli::{Bench, Commands, words};
use crate::program::command;

/// How the server answers what was to be noted.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Answer {
    pub(super) status: u16,
    pub(super) said: Value,
}

impl Answer {
    pub(super) fn of(heard: &Heard) -> Answer {
        Answer { status: heard.status, said: serde_json::from_str(&heard.body).unwrap_or_default() }
    }

    fn asks(&self) -> &str {
        assert_eq!(self.status, 409, "{self:?}");
        self.said["asks"].as_str().unwrap()
    }

    fn refused(&self) -> &str {
        assert_eq!(self.status, 422, "{self:?}");
        self.said["refused"].as_str().unwrap()
    }

    #[track_caller]
    pub(super) fn saved(&self) -> EventId {
        assert_eq!(self.status, 200, "{self:?}");
        EventId(self.said["saved"].as_i64().unwrap())
    }
}

impl Served {
    /// What the program does with this shop.
    pub(super) fn run(&self, args: &[&str], typed: &str) -> crate::program::Run {
        let mut asked = command();
        asked.args(args).arg("--shop").arg(self.shop.path());
        asked.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut running = asked.spawn().unwrap();
        // One that asks nothing may be gone already.
        let _ = running.stdin.take().unwrap().write_all(typed.as_bytes());
        let output = running.wait_with_output().unwrap();
        crate::program::Run {
            code: output.status.code().unwrap(),
            out: String::from_utf8(output.stdout).unwrap(),
            err: String::from_utf8(output.stderr).unwrap(),
        }
    }

    pub(super) fn set_pin(&self, pin: &str) {
        let run = self.run(&["page", "pin"], &format!("{pin}\n"));
        assert_eq!(run.code, 0, "{run:?}");
    }

    pub(super) fn unlock(&self, cookie: &str, pin: &str, person: &str) -> Heard {
        self.post("/who", cookie, &format!("pin={pin}&person={person}"))
    }

    /// A device of somebody's on which the PIN was typed.
    pub(super) fn noting(&self, person: &str) -> String {
        let cookie = self.pair(&format!("{person}%27s+phone"));
        let unlocked = || Some(self.unlock(&cookie, "4821", person)).filter(|it| it.status != 503);
        assert_eq!(patiently("an answer", unlocked).status, 204);
        cookie
    }

    pub(super) fn note(&self, cookie: &str, body: &str) -> Answer {
        // The same again is the same answer: one that comes too late is asked for again.
        patiently("an answer", || {
            let heard = self.post("/note", cookie, body);
            (heard.status != 503).then(|| Answer::of(&heard))
        })
    }

    fn write(&mut self, firing: Option<FiringId>, what: What) -> FiringId {
        self.shop.write(firing, now(), what)
    }

    pub(super) fn rev(&self) -> i64 {
        self.shop.journal.last_event().unwrap().unwrap().0
    }

    /// Notes it, and says that it is meant where that is asked.
    fn surely(&self, cookie: &str, body: &str) -> Answer {
        let answer = self.note(cookie, body);
        if answer.status != 409 {
            return answer;
        }
        let (head, rest) = body.split_once("rev=").unwrap();
        let rest = rest.split_once('&').unwrap().1;
        self.note(cookie, &format!("{head}rev={}&sure=1&{rest}", answer.said["rev"]))
    }

    pub(super) fn events(&self) -> Vec<StoredEvent> {
        stored(&self.shop.journal, None)
    }

    pub(super) fn event(&self, id: EventId) -> Event {
        self.shop.journal.event(id).unwrap().event
    }
}

fn person(name: &str) -> Who {
    Who::Person(name.into())
}

#[test]
fn law_only_a_device_that_was_told_the_pin_notes() {
    let mut served = Served::new();
    let firing = served.shop.light("North", Span::hours(1));
    let before = served.events().len();
    let look =
        format!("kind=look&kiln=North&firing={}&rev={}&target=standing", firing.0, served.rev());
    let phone = served.pair("phone");
    // No PIN is set, then a wrong one is typed, then it is only known on another device.
    assert_eq!(served.unlock(&phone, "4821", "Ada").status, 403);
    served.set_pin("4821");
    for wrong in ["4822", "", "48211", "four"] {
        assert_eq!(served.unlock(&phone, wrong, "Ada").status, 403, "{wrong}");
    }
    let tablet = served.noting("Ben");
    assert_eq!(served.note(&phone, &format!("{look}&uid=a")).status, 403);
    assert_eq!(served.note("", &format!("{look}&uid=b")).status, 401);
    for origin in ["", "Origin: null\r\n", "Origin: http://evil.test\r\n"] {
        for path in ["/note", "/who"] {
            let heard = served.post_from(origin, path, &tablet, &format!("{look}&uid=c"));
            assert_eq!(heard.status, 403, "{origin} {path}");
            assert!(!heard.body.contains('{'), "{heard:?}");
        }
    }
    assert_eq!(served.events().len(), before);
    assert_eq!(served.unlock(&phone, "48+21", "Ada").status, 204);
    let id = served.note(&phone, &format!("{look}&uid=d")).saved();
    assert_eq!((served.event(id).who, served.event(id).firing), (person("Ada"), Some(firing)));
    // Somebody else takes the device, with one tap.
    assert_eq!(served.post("/who", &phone, "person=Cleo").status, 204);
    let id = served.note(&phone, &format!("{look}&uid=e")).saved();
    assert_eq!(served.event(id).who, person("Cleo"));
    // Nobody used it for a month; then the PIN is another one; then it is unpaired.
    let month = now() - Span::hours(30 * 24);
    served.shop.journal.note_device("phone", None, month).unwrap();
    assert_eq!(served.note(&phone, &format!("{look}&uid=f")).status, 403);
    served.set_pin("998877");
    assert_eq!(served.note(&tablet, &format!("{look}&uid=g")).status, 403);
    assert_eq!(served.unlock(&tablet, "4821", "Ben").status, 403);
    assert_eq!(served.unlock(&tablet, "998877", "Ben").status, 204);
    served.shop.journal.forget_device("Ben's phone").unwrap();
    let gone = patiently("it to be forgotten", || {
        Some(served.note(&tablet, &format!("{look}&uid=h"))).filter(|answer| answer.status != 200)
    });
    assert!([401, 403].contains(&gone.status), "{gone:?}");
}

#[test]
fn law_between_two_looks_what_is_seen_is_noted_with_one_tap() {
    let mut served = Served::new();
    served.set_pin("4821");
    let firing = served.shop.light("North", Span::hours(1)).0;
    let cookie = served.noting("Ada");
    let seen = |cookie: &str| {
        patiently("the look not to be due", || {
            let body = served.get("/kiln/North", cookie).body;
            body.contains("value=\"reading\"").then_some(body)
        })
    };
    let body = seen(&cookie);
    let form = body.split("<form").find(|form| form.contains("value=\"look\"")).unwrap();
    let taps = form.matches("<button name=\"target\"").count();
    assert_eq!(taps, Seen::ALL.len(), "{form}");
    // As the form of the screen would, it asks nothing of what can be believed, and something of the rest.
    let look = format!("kind=look&kiln=North&firing={firing}&rev={}", served.rev());
    served.note(&cookie, &format!("{look}&uid=a&target=standing")).saved();
    let off = format!("kind=off&kiln=North&firing={firing}&rev={}&uid=b", served.rev());
    served.surely(&cookie, &off).saved();
    let off = patiently("it to be off", || {
        let body = served.get("/kiln/North", &cookie).body;
        (!body.contains("value=\"look\"")).then_some(body)
    });
    assert!(!off.contains("name=\"target\""), "{off}");
}

#[test]
fn law_what_is_no_pin_is_refused_and_the_one_before_stays() {
    let served = Served::new();
    served.set_pin("4821");
    for typed in ["", "482", "123456789", "48a1", "kiln", "-4821", "4821.0"] {
        let run = served.run(&["page", "pin"], &format!("{typed}\n"));
        assert_eq!(run.code, 2, "{typed}: {run:?}");
        assert!(run.err.contains("four to eight digits"), "{typed}: {run:?}");
    }
    served.noting("Ada");
}

#[test]
fn law_wrong_pins_slow_the_device_that_tries_them_and_no_other() {
    let served = Served::new();
    served.set_pin("4821");
    let (thief, owner) = (served.pair("thief"), served.pair("owner"));
    let journal = &served.shop.journal;
    let mut waits = Vec::new();
    let mut at = now();
    let mut tries = 0;
    while journal.may_try_pin("thief", at).unwrap() != Trying::NoMore {
        journal.note_pin_tried("thief", false, at).unwrap();
        tries += 1;
        assert!(tries <= 20, "a thief goes on");
        if let Trying::Later(wait) = journal.may_try_pin("thief", at).unwrap() {
            let almost = journal.may_try_pin("thief", at + wait - Span(1)).unwrap();
            assert_eq!(almost, Trying::Later(Span(1)));
            waits.push(wait.0 / 1_000);
            at = at + wait;
        }
    }
    assert_eq!(tries, 20);
    assert_eq!(waits[..7], [30, 60, 120, 240, 480, 900, 900]);
    // The right one is of no use there now; the other device heard of nothing.
    let heard = served.unlock(&thief, "4821", "Eve");
    assert_eq!(heard.status, 403);
    assert!(heard.body.contains("Too many wrong PINs"), "{heard:?}");
    assert_eq!(served.unlock(&owner, "4821", "Ada").status, 204);
    served.set_pin("4821");
    assert_eq!(served.unlock(&thief, "4821", "Eve").status, 204);
}

#[test]
fn law_the_same_tap_is_one_event_whoever_serves_the_page() {
    let mut served = Served::new();
    served.set_pin("4821");
    let firing = served.shop.light("North", Span::hours(1));
    served.write(None, What::KilnSet(kiln("South", Fuel::Gas)));
    let cookie = served.noting("Ada");
    let rev = served.rev();
    let taps = [
        format!("kind=look&kiln=North&firing={}&rev={rev}&uid=1&target=standing", firing.0),
        format!("kind=packed&kiln=South&firing=&rev={rev}&uid=2&load_type=gold&contents=cups"),
        format!("kind=kiln&kiln=&rev={rev}&uid=3&name=East&fuel=gas"),
    ];
    let ids: Vec<EventId> = taps.iter().map(|tap| served.note(&cookie, tap).saved()).collect();
    let undo = format!("kind=struck&struck={}&rev={rev}&uid=4", ids[0].0);
    let struck = served.note(&cookie, &undo).saved();
    let written = served.events().len();
    for takeover in [false, true] {
        if takeover {
            drop(served.page.take());
            patiently("the port to be closed", || connected(served.port).is_none().then_some(()));
            served.watch();
        }
        // The second time it comes late: that is another age, not another tap.
        for (tap, id) in taps.iter().zip(&ids) {
            assert_eq!(served.note(&cookie, &format!("{tap}&age_ms=900000")).saved(), *id);
        }
        assert_eq!(served.note(&cookie, &undo).saved(), struck);
    }
    assert_eq!(served.events().len(), written);
    let fold = served.shop.journal.fold(firing).unwrap();
    assert!(fold.is_struck(ids[0]), "undone");
    // Another tap is another event, and so is the same of another device.
    let other = served.noting("Ben");
    assert_ne!(served.surely(&other, &taps[0]).saved(), ids[0]);
    assert_ne!(served.surely(&cookie, &taps[0].replace("uid=1", "uid=9")).saved(), ids[0]);
}

#[test]
fn law_a_refused_step_says_what_the_command_says() {
    let mut served = Served::new();
    served.set_pin("4821");
    let firing = served.shop.light("North", Span::hours(1));
    served.write(None, What::KilnSet(kiln("South", Fuel::Gas)));
    for mould in ["A1", "A2"] {
        served.run(&["mould", "set", mould], "");
    }
    let cookie = served.noting("Ada");
    let before = served.events().len();
    let of = |kind: &str, rest: &str| format!("kind={kind}&kiln=North&firing={}&{rest}", firing.0);
    for (body, line) in [
        ("kind=off&kiln=South&firing=".to_owned(), "off South"),
        (of("drawn", ""), "drawn North"),
        (of("resumed", ""), "resume North"),
        (of("reading", "celsius=700"), "read North 700"),
        (of("reading", "celsius=9000C"), "read North 9000C"),
        (of("turned", "to="), "turn North ''"),
        (of("look", "target=melted"), "look North --target melted"),
        ("kind=struck&kiln=&struck=999".to_owned(), "strike 999 --reason wrong"),
        ("kind=lit&kiln=North&firing=&load_type=gold".to_owned(), "light North --load gold"),
    ] {
        let answer = served.note(&cookie, &format!("{body}&rev={}&uid={line}", served.rev()));
        let line = words(line);
        let run = served.run(&line.iter().map(String::as_str).collect::<Vec<_>>(), "");
        assert_ne!(run.code, 0, "{line:?}");
        let plain = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
        if !line[1..].contains(&String::new()) {
            assert!(plain(&run.err).contains(&plain(answer.refused())), "{answer:?}, {run:?}");
        }
        assert_eq!(answer.status, 422);
    }
    // Either mould is one of this shop, or nothing is noted of both.
    let poured = format!("kind=poured&kiln=&mould=A1,A9&body=white&rev={}&uid=two", served.rev());
    let refused = served.note(&cookie, &poured);
    assert!(refused.refused().contains("A9"), "{refused:?}");
    // What no form of the page sends.
    for body in [
        "",
        "kind=lunch&rev=1&uid=1",
        "kind=called&rev=1&uid=1",
        "kind=off&rev=1",
        "kind=off&rev=1&uid=1&age_ms=-1",
    ] {
        served.note(&cookie, body).refused();
    }
    assert_eq!(served.events().len(), before);
}

#[test]
fn law_what_is_hard_to_believe_or_comes_late_is_asked_first() {
    let mut served = Served::new();
    served.set_pin("4821");
    let firing = served.shop.light("North", Span::hours(1));
    let (ada, ben) = (served.noting("Ada"), served.noting("Ben"));
    let old = served.rev();
    let of = |kind: &str| format!("kind={kind}&kiln=North&firing={}", firing.0);
    let unseen = served.note(&ada, &format!("{}&rev={old}&uid=1", of("off")));
    assert!(unseen.asks().contains("Nobody saw the target of North down"), "{unseen:?}");
    let late = format!("{}&rev={old}&uid=2&text=draught", of("note"));
    let asked = served.note(&ada, &format!("{late}&age_ms=660000"));
    assert!(asked.asks().contains("11 min ago"), "{asked:?}");
    assert_eq!(served.rev(), old, "nothing is written before");
    let id = served.note(&ada, &format!("{late}&age_ms=660000&sure=1")).saved();
    let ago = now() - served.event(id).at;
    assert!((11.0..13.0).contains(&ago.as_minutes()), "{ago}");
    // Ben saw it down and shut it off, on a picture that Ada has not.
    let down = format!("{}&rev={old}&uid=3&target=down", of("look"));
    served.surely(&ben, &down).saved();
    let off = format!("{}&rev={old}&uid=4", of("off"));
    assert_eq!(served.surely(&ben, &off).status, 200);
    let look = format!("{}&rev={old}&uid=5&target=leaning&age_ms=60000", of("look"));
    let asked = served.note(&ada, &format!("{look}&sure=1"));
    let asks = asked.asks();
    assert!(asks.contains("Meanwhile Ben noted") && asks.contains("off"), "{asked:?}");
    // What is only remarked is not asked about.
    served.note(&ada, &format!("{}&rev={old}&uid=6&text=quiet", of("note"))).saved();
}

/// The events that stand, of those written after this one.
fn standing(served: &Served, after: i64) -> Vec<Event> {
    let events: Vec<Event> = served.events().into_iter().map(|stored| stored.event).collect();
    let strikes = |id: EventId| {
        let of = move |one: &&Event| matches!(one.what, What::Struck { event, .. } if event == id);
        events.iter().filter(of).count()
    };
    let stands = |one: &&Event| {
        one.id.0 > after && !matches!(one.what, What::Struck { .. }) && strikes(one.id) == 0
    };
    events.iter().filter(stands).cloned().collect()
}

#[test]
fn law_what_one_tap_noted_one_tap_takes_back() {
    let mut served = Served::new();
    served.set_pin("4821");
    served.write(None, What::KilnSet(kiln("North", Fuel::Gas)));
    for mould in ["A1", "A2", "A3", "A4"] {
        served.run(&["mould", "set", mould], "");
    }
    let cookie = served.noting("Ada");
    let rev = served.rev();
    let poured = format!("kind=poured&kiln=&mould=A1-A3&body=white&rev={rev}&uid=1");
    let paper = format!(
        "kind=lit&past=1&kiln=&rev={rev}&uid=2&kiln=North&load_type=gold&lit=2026-03-10+8:00&off=12:12&standing=12:05&down=12:10&drawn=8:00&result=good&note=bright"
    );
    for (tap, count) in [(poured, 3), (paper, 6)] {
        let before = served.rev();
        let answer = served.note(&cookie, &tap);
        let id = answer.saved();
        assert_eq!(standing(&served, before).len(), count, "{answer:?}");
        let said = answer.said["said"].as_str().unwrap();
        assert!(said.contains(if count == 3 { "A3" } else { "North fired with gold" }), "{said}");
        let undo = format!("kind=struck&struck={}&whole=1&rev={rev}&uid=u{count}", id.0);
        let noted = served.rev();
        for _ in 0..2 {
            assert_eq!(served.note(&cookie, &tap), answer, "the same tap is the same entry");
            let undone = served.note(&cookie, &undo);
            assert!(undone.saved().0 > noted, "{undone:?}");
            assert_eq!(standing(&served, before), [], "{undone:?}");
        }
        assert_eq!(served.rev(), noted + count as i64, "each is struck once");
        let again = served.note(&cookie, &undo.replace("uid=u", "uid=v"));
        assert!(again.refused().contains("struck already"), "{again:?}");
    }
    // One of several, by its number, is struck alone.
    let before = served.rev();
    let id =
        served.note(&cookie, &format!("kind=poured&kiln=&mould=A1,A2&body=white&rev={rev}&uid=5"));
    let strike = format!("kind=struck&struck={}&rev={rev}&uid=6", id.saved().0);
    served.note(&cookie, &strike).saved();
    assert_eq!(standing(&served, before).len(), 1);
    let half = "kind=lit&past=1&kiln=North&rev=0&uid=7&load_type=gold&lit=2026-03-11+8:00&off=12:12&down=12:10&drawn=8:00";
    assert!(served.note(&cookie, half).refused().contains("standing"));
}

#[test]
fn law_a_correction_stands_in_the_place_of_its_entry() {
    let mut served = Served::new();
    served.set_pin("4821");
    let firing = served.shop.light("North", Span::hours(1));
    let cookie = served.noting("Ada");
    let of = |kind: &str| format!("kind={kind}&kiln=North&firing={}", firing.0);
    let note = served.note(&cookie, &format!("{}&rev=0&uid=1&text=wrogn", of("note"))).saved();
    let was = served.event(note);
    let list = served.get(&format!("/correct?firing={}", firing.0), &cookie);
    assert!(list.body.contains(&format!("/correct?event={}\"", note.0)), "{list:?}");
    let form = served.get(&format!("/correct?event={}", note.0), &cookie).body;
    assert!(form.contains("value=\"wrogn\""), "{form}");
    let opened = form.split("name=\"opened\" value=\"").nth(1).unwrap().split('"').next().unwrap();
    let corrects = format!("{}&corrects={}&opened={opened}&at={opened}", of("note"), note.0);
    let tap = format!("{corrects}&rev=0&uid=2&text=right");
    let id = served.note(&cookie, &tap).saved();
    let written = served.rev();
    assert_eq!(served.note(&cookie, &tap).saved(), id);
    assert_eq!(served.rev(), written);
    let stands = served.event(id);
    assert_eq!((stands.what, stands.at), (What::Note { text: "right".into() }, was.at));
    assert!(served.shop.journal.fold(firing).unwrap().is_struck(note));
    // What is struck is not corrected, and nothing is corrected into something else.
    assert_eq!(served.note(&cookie, &tap.replace("uid=2", "uid=3")).status, 422);
    let other = tap.replace("kind=note", "kind=turned").replace("uid=2", "uid=4");
    assert!(served.note(&cookie, &other).refused().contains("out of date"));
    let undo = format!("kind=struck&struck={}&whole=1&rev=0&uid=5", id.0);
    served.note(&cookie, &undo).saved();
    let fold = served.shop.journal.fold(firing).unwrap();
    assert!(!fold.is_struck(note) && fold.is_struck(id), "both are taken back");
    // A kiln is not called as another one was.
    served.note(&cookie, "kind=kiln_renamed&kiln=North&rev=0&uid=6&name=Heron").saved();
    let taken = served.note(&cookie, "kind=kiln&kiln=&rev=0&uid=7&name=North&fuel=gas");
    assert!(taken.refused().contains("North"), "{taken:?}");
}

#[derive(Deserialize)]
struct Steps {
    step: Vec<Step>,
}

/// One of `tests/data/entered.toml`.
#[derive(Deserialize)]
struct Step {
    kind: String,
    line: String,
}

/// What a line says of each field, and of which kiln.
fn said(kind: Kind, line: &str) -> (String, Vec<(&'static str, String)>) {
    let line = words(line);
    let all = Commands::command().no_binary_name(true);
    let matches = all.get_matches_from(&line);
    let (name, mut matches) = matches.subcommand().unwrap();
    if let Some((_, inner)) = matches.subcommand() {
        matches = inner;
    }
    let many = |id: &str| -> Option<Vec<String>> {
        let found = matches.try_get_many::<String>(id).ok().flatten()?;
        Some(found.cloned().collect())
    };
    let fields = kind.fields().iter().filter(|field| field.is_entered());
    let mut fields: Vec<(&str, String)> = fields
        .filter_map(|field| {
            Some((
                field.key,
                many(field.argument.0)?.join(if field.is_many() { "\n" } else { " " }),
            ))
        })
        .collect();
    let mut kiln = many("kiln").unwrap_or_default().concat();
    if line[1] == "change" || line.get(2).is_some_and(|code| code == "a3") {
        kiln = fields.remove(0).1;
    }
    if kind == Kind::Poured {
        "B7".clone_into(&mut kiln);
    }
    assert!(!name.is_empty());
    (kiln, fields)
}

fn in_form(text: &str) -> String {
    text.bytes().map(|byte| format!("%{byte:02X}")).collect()
}

#[test]
fn law_every_kind_is_noted_as_the_command_writes_it() {
    let mut bench = Bench::new();
    bench.say("kiln add Wren --fuel gas");
    let served = Served::new();
    served.set_pin("4821");
    served.run(&["kiln", "add", "Wren", "--fuel", "gas"], "");
    let cookie = served.noting("Ada");
    for (number, Step { kind, line }) in (0..).zip(data::<Steps>("entered.toml").step) {
        let kind = Kind::ALL.into_iter().find(|known| known.name() == kind).unwrap();
        bench.at(number).say(&line);
        let journal = Journal::open(&bench.shop()).unwrap();
        let by_command = journal.event(journal.last_event().unwrap().unwrap()).unwrap().event.what;
        let (kiln, mut fields) = said(kind, &line);
        let rev = served.rev();
        if kind == Kind::Struck {
            fields.push(("struck", rev.to_string()));
        }
        // The form of the page asks for every field, and says which firing is meant.
        let form = format!("/note?kind={}&kiln={}", kind.name(), in_form(&kiln));
        let form = patiently("the newest form", || {
            let heard = served.get(&form, &cookie);
            heard.body.contains(&format!("name=\"rev\" value=\"{rev}\"")).then_some(heard.body)
        });
        for field in kind.fields().iter().filter(|field| field.is_entered()) {
            let named = kind.name_field() == Some(field) && !kiln.is_empty();
            let asked = form.contains(&format!("name=\"{}\"", field.key));
            assert!(asked != named, "{kind}: {} in {form}", field.key);
        }
        let firing = form.split("name=\"firing\" value=\"").nth(1);
        let firing = firing.map_or("", |rest| rest.split('"').next().unwrap());
        let mut body = format!(
            "kind={}&kiln={}&firing={firing}&rev={rev}&uid={number}",
            kind.name(),
            in_form(&kiln)
        );
        for (key, text) in fields {
            body += &format!("&{key}={}", in_form(&text));
        }
        let id = served.surely(&cookie, &body).saved();
        match (served.event(id).what, by_command) {
            // The numbers are each shop's own.
            (What::Struck { event, reason, .. }, What::Struck { reason: same, .. }) => {
                assert_eq!((event, reason), (EventId(rev), same));
            }
            (by_page, by_command) => assert_eq!(by_page, by_command, "{line}"),
        }
    }
}
