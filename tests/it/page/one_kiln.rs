//! Two phones and the terminal at one kiln, through the program: answers are lost on the way and asked for
//! again, and whoever holds the watch is killed.
//!
//! The number of rounds is small here; the full count is
//! `SPYHOLE_PAGE_ROUNDS=1000 cargo test --release --test it one_kiln -- --nocapture` (`SPYHOLE_SEED=1`).

use std::collections::{BTreeMap, BTreeSet};
use std::env;
use std::thread;

use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;

use super::noting::Answer;
use super::*;
use crate::keeper::{Running, calling, holder};
use crate::program;

/// What is said at the kiln, on a page and by a command; most of it is refused as the kiln stands.
const STEPS: [(&str, &str); 12] = [
    ("note&text=quiet", "note North quiet"),
    ("reading&celsius=640C", "read North 640C"),
    ("look&target=standing", "look North --target standing"),
    ("look&target=leaning", "look North --target leaning"),
    ("look&target=down", "look North --target down"),
    ("turned&to=half+open", "turn North 'half open'"),
    ("off", "off North"),
    ("drawn", "drawn North"),
    ("outcome&result=good", "outcome North good"),
    ("packed&load_type=gold", "pack North --load gold"),
    ("lit&load_type=gold", "light North --load gold"),
    ("lit&load_type=gold", "light North --load gold"),
];
/// In every so many rounds the holder of the watch is killed.
const KILLED_EVERY: u64 = 10;

/// A device that taps, and loses answers on the way.
struct Phone {
    port: u16,
    cookie: String,
    rng: Pcg64Mcg,
    taps: u64,
    firing: String,
    answers: usize,
    saved: BTreeSet<EventId>,
}

impl Phone {
    /// Sends it until an answer comes, however often it has to be sent.
    fn send(&mut self, path: &str, body: &str) -> Heard {
        let host = format!("127.0.0.1:{}", self.port);
        let origin = format!("Origin: http://{host}\r\n");
        let request = posting(&host, &origin, path, &self.cookie, body);
        patiently("an answer", || {
            let mut stream = connected(self.port)?;
            match self.rng.random_range(0..4) {
                // The whole of it arrives, its answer does not.
                0 => drop(stream.write_all(request.as_bytes())),
                // It breaks off on the way.
                1 => drop(stream.write_all(&request.as_bytes()[..request.len() - 3])),
                _ => return send(stream, &request).filter(|heard| heard.status != 503),
            }
            None
        })
    }

    /// What the page shows.
    fn get(&self, path: &str) -> String {
        let asked = getting(&format!("127.0.0.1:{}", self.port), path, &self.cookie);
        let heard = patiently("the page", || {
            send(connected(self.port)?, &asked).filter(|heard| heard.status == 200)
        });
        heard.body
    }

    /// What is to be seen of the kiln and when, without the moment and who uses the device.
    fn shows(&self) -> (i64, String) {
        let state: Value = serde_json::from_str(&self.get("/state.json?kiln=North")).unwrap();
        let html = state["html"].as_str().unwrap();
        let without = |html: &str, from: &str, to: &str| {
            let (head, rest) = html.split_once(from)?;
            Some(format!("{head}{}", rest.split_once(to)?.1))
        };
        let html = without(html, "<p id=\"asof\">", "</p>").unwrap();
        let html = without(&html, "action=\"/who\"", "</form>").unwrap_or(html);
        (state["rev"].as_i64().unwrap(), html)
    }

    fn tap(&mut self) {
        let step = STEPS[self.rng.random_range(0..STEPS.len())].0;
        let kind = step.split('&').next().unwrap();
        // The form says which firing is meant, and on what picture; a step that is not offered is sent as well.
        let form = self.get(&format!("/note?kind={kind}&kiln=North"));
        let hidden = |name: &str| {
            let form = form.split("name=\"kind\"").nth(1)?;
            Some(
                form.split(&format!("name=\"{name}\" value=\""))
                    .nth(1)?
                    .split('"')
                    .next()?
                    .to_owned(),
            )
        };
        self.firing = hidden("firing").unwrap_or(std::mem::take(&mut self.firing));
        let rev = hidden("rev").unwrap_or("0".into());
        self.taps += 1;
        let step = match self.saved.last().filter(|_| self.rng.random_range(0..8) == 0) {
            Some(last) => format!("struck&struck={}", last.0),
            None => format!("{step}&firing={}", self.firing),
        };
        let body = format!("uid=tap{}&kiln=North&kind={step}", self.taps);
        let mut answer = Answer::of(&self.send("/note", &format!("{body}&rev={rev}")));
        // Somebody else was quicker, or it is hard to believe: it is meant all the same.
        while answer.status == 409 {
            let sure = format!("{body}&sure=1&rev={}", answer.said["rev"]);
            answer = Answer::of(&self.send("/note", &sure));
        }
        match answer.status {
            200 => assert!(self.saved.insert(answer.saved()), "{answer:?} is another event"),
            status => assert_eq!(status, 422, "{answer:?}"),
        }
        if answer.status == 200 && step.contains("target=down") {
            self.answer();
        }
    }

    /// Answers what rings now, unless somebody has shut off meanwhile.
    fn answer(&mut self) {
        let rings = |_: &usize| {
            thread::sleep(Duration::from_millis(50));
            self.get("/state.json?kiln=North").contains("name=\\\"alarm\\\" value=\\\"shut_off")
        };
        if (0..60).find(rings).is_some() {
            let uid = format!("{}answer{}", self.cookie, self.taps);
            let answer = format!("alarm=shut_off&firing={}&uid={uid}", self.firing);
            let heard = self.send("/answer", &answer);
            assert!([200, 409].contains(&heard.status), "{heard:?}");
            self.answers += usize::from(heard.status == 200);
        }
    }
}

/// What the terminal writes; its number if it is written.
fn said(shop: &Path, rng: &mut Pcg64Mcg) -> Option<EventId> {
    let line = STEPS[rng.random_range(0..STEPS.len())].1;
    let run = program::at(shop, &format!("{line} --json --who Cleo"));
    let said: Value = serde_json::from_str(&run.out).unwrap_or_default();
    assert!(run.code == 0 || run.code == 2, "{line}: {run:?}");
    (run.code == 0).then(|| EventId(said["event_id"].as_i64().unwrap()))
}

/// The processes of which one keeps watch and serves the page, and another is ready to.
struct Keepers<'a>(&'a TestShop, BTreeMap<u32, Running>);

impl Keepers<'_> {
    fn two(&mut self) {
        while self.1.len() < 2 {
            let mut keeper = self.0.keeper();
            let keeper = Running(keeper.stdout(std::process::Stdio::null()).spawn().unwrap());
            self.1.insert(keeper.0.id(), keeper);
        }
    }

    fn kill_the_holder(&mut self) {
        let pid = patiently("somebody to keep watch", || holder(&self.0.path()));
        drop(self.1.remove(&pid).expect("one of these"));
        self.two();
    }
}

pub(super) fn number(name: &str, usual: u64) -> u64 {
    env::var(name).map_or(usual, |number| number.parse().unwrap())
}

#[test]
fn law_two_phones_and_the_terminal_at_one_kiln_double_and_lose_nothing() {
    let (rounds, seed) = (number("SPYHOLE_PAGE_ROUNDS", 8), number("SPYHOLE_SEED", 1));
    let mut shop = TestShop::new(&calling("true"));
    shop.write(None, now(), What::KilnSet(kiln("North", Fuel::Gas)));
    let port = free_port();
    shop.journal.switch_page_on(Some(port), port).unwrap();
    let served = Served { shop, shown: Shown::default(), page: None, port };
    served.set_pin("4821");
    let mut keepers = Keepers(&served.shop, BTreeMap::new());
    keepers.two();
    patiently("the page", || connected(port));
    let mut phones = ["Ada", "Ben"].map(|name| Phone {
        port,
        cookie: served.noting(name),
        rng: Pcg64Mcg::seed_from_u64(2 * seed + u64::from(name == "Ben")),
        taps: 0,
        firing: String::new(),
        answers: 0,
        saved: BTreeSet::new(),
    });
    let mut rng = Pcg64Mcg::seed_from_u64(!seed);
    let before = served.rev();
    let (mut by_command, mut killed) = (BTreeSet::new(), 0);
    let shop = served.shop.path();
    for round in 0..rounds {
        thread::scope(|scope| {
            for phone in &mut phones {
                scope.spawn(|| (0..2).for_each(|_| phone.tap()));
            }
            if round % KILLED_EVERY == KILLED_EVERY / 2 {
                thread::sleep(Duration::from_millis(rng.random_range(0..300)));
                keepers.kill_the_holder();
                killed += 1;
            }
            by_command.extend(said(&shop, &mut rng));
        });
    }
    let mut written: BTreeMap<String, BTreeSet<EventId>> = BTreeMap::new();
    let (mut marks, mut answers) = (BTreeSet::new(), BTreeSet::new());
    for StoredEvent { uid, event, .. } in
        served.events().into_iter().filter(|one| one.event.id.0 > before)
    {
        assert!(marks.insert(uid.number()), "{event:?} has the mark of another");
        let Who::Person(who) = event.who else { continue };
        match event.what {
            // What answers an alarm is told no number.
            What::Acknowledged { .. } => answers.insert(event.id),
            _ => written.entry(who).or_default().insert(event.id),
        };
    }
    println!(
        "{rounds} rounds, {killed} holders killed; saved by page {:?}, by command {}, answers {}",
        phones.each_ref().map(|phone| phone.saved.len()),
        by_command.len(),
        answers.len(),
    );
    for (who, saved) in
        [("Ada", &phones[0].saved), ("Ben", &phones[1].saved), ("Cleo", &by_command)]
    {
        let written = written.remove(who).unwrap_or_default();
        assert_eq!(&written, saved, "by {who}");
    }
    let last = served.rev();
    patiently("all three to show the same", || {
        let [one, other] = phones.each_ref().map(Phone::shows);
        let told: Value = serde_json::from_str(&program::at(&shop, "status --json").ok()).unwrap();
        assert_eq!(told["last_event_id"], last);
        let mut firings = told["firings"].as_array().unwrap().iter();
        let said = firings.all(|it| one.1.contains(it["sentence"].as_str().unwrap_or_default()));
        (one.0 == last && one == other && said).then_some(())
    });
    assert_eq!(answers.len(), phones.iter().map(|phone| phone.answers).sum::<usize>());
}
