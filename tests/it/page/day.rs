//! A day in a shop with four devices, through a keeper and real sockets: what the log of rings says of it
//! afterwards. The kilns are lit at once and not hours apart; nothing else of it is made up.
//!
//! The table by itself: `cargo test --release --test it day_with_four_devices -- --nocapture`.

use serde_json::json;

use super::*;
use crate::program;
use spyhole::testing::edge::bell::log::{Deed, Line, Of, Stamp};

/// What rang, by what the log says of it alone.
#[derive(Debug)]
struct Rang {
    of: Of,
    kiln: String,
    /// The devices that sounded, and when.
    sounded: Vec<(String, Stamp)>,
    /// When, by whom, and on which device if on one.
    answered: Option<(Stamp, String)>,
    on: Option<String>,
    /// The device on which something was noted meanwhile.
    noted: Option<String>,
    over: Option<Stamp>,
}

fn of_log(lines: &[Line]) -> Vec<Rang> {
    let mut all: Vec<Rang> = Vec::new();
    for line in lines {
        if let Line::Raised { of, kiln, .. } = line {
            let (of, kiln, sounded) = (of.clone(), kiln.clone(), Vec::new());
            let (answered, on, noted, over) = (None, None, None, None);
            all.push(Rang { of, kiln, sounded, answered, on, noted, over });
        }
    }
    for line in lines {
        let (Line::Device { of, .. } | Line::Answered { of, .. } | Line::Returned { of, .. }) =
            line
        else {
            continue;
        };
        let one = all.iter_mut().find(|one| one.of == *of).expect("it was raised");
        match line {
            Line::Answered { at, who, .. } => one.answered = Some((*at, who.clone())),
            Line::Device { device, did: Deed::Answered, .. } => {
                assert_eq!(one.on.replace(device.clone()), None, "answered twice: {lines:?}");
            }
            Line::Device { device, did: Deed::Noted, .. } => one.noted = Some(device.clone()),
            Line::Returned { at, .. } => one.over = Some(*at),
            Line::Device { at, device, .. } => one.sounded.push((device.clone(), *at)),
            _ => {}
        }
    }
    all
}

/// `| 2026-12-01 09:14:03 | shut_off, North | Ada's phone after 0.3 s | Ben after 4.2 s, on Ben's phone |`
fn row(one: &Rang) -> String {
    let raised = one.of.raised.0;
    let after = |at: Stamp| format!("after {:.1} s", (at.0 - raised).0 as f64 / 1_000.0);
    let sounded = one.sounded.iter().map(|(device, at)| format!("{device} {}", after(*at)));
    let on = one.on.as_ref().or(one.noted.as_ref());
    let on = on.map_or("at the computer".into(), |on| format!("on {on}"));
    let answered = match (&one.answered, one.over) {
        (Some((at, who)), _) if who.is_empty() => format!("somebody {}, {on}", after(*at)),
        (Some((at, who)), _) => format!("{who} {}, {on}", after(*at)),
        (None, Some(at)) => format!("over {} by what was noted {on}", after(at)),
        (None, None) => "nobody".into(),
    };
    let at = chrono::DateTime::from_timestamp_millis(raised.0).unwrap().format("%F %T");
    let (alarm, sounded) = (&one.of.alarm, sounded.collect::<Vec<_>>().join(", "));
    format!("| {at} | {alarm}, {} | {sounded} | {answered} |", one.kiln)
}

impl Served {
    /// A keeper that serves the page and calls Ada by it.
    fn kept() -> (Served, Running) {
        let ways = json!({"people": [{"name": "Ada", "ways": ["page"]}]});
        let (shop, port) = (TestShop::new(&ways.to_string()), free_port());
        shop.journal.switch_page_on(Some(port), port).unwrap();
        let keeper = shop.keep(NO_BUS);
        patiently("the page to be served", || connected(port));
        (Served { shop, shown: Shown::default(), page: None, port }, keeper)
    }

    /// What rings at a kiln whose target was just seen down, as a device hears of it.
    fn rings_at(&mut self, kiln: &str, cookie: &str) -> (FiringId, String) {
        let firing = self.shop.light(kiln, Span::hours(1));
        self.shop.see_down(firing);
        let begins = format!("shut_off-{}-", firing.0);
        let mark = patiently("it to ring", || {
            let state: Value = serde_json::from_str(&self.get("/state.json", cookie).body).ok()?;
            let id = state["ring"]["id"].as_str()?;
            id.starts_with(&begins).then(|| id.to_owned())
        });
        (firing, mark)
    }

    /// Waits until the log has so many lines that say that an alarm was answered.
    fn answered(&self, so_many: usize) {
        patiently("the answer in the log", || {
            let log = self.shop.log();
            let answers = log.iter().filter(|line| matches!(line, Line::Answered { .. }));
            (answers.count() == so_many).then_some(())
        });
    }
}

#[test]
fn law_the_log_of_a_day_with_four_devices_says_what_rang_where_and_who_answered() {
    let (mut served, _keeper) = Served::kept();
    served.set_pin("4821");
    let [ada, ben] = ["Ada", "Ben"].map(|person| served.noting(person));
    let [tablet, office] = ["tablet", "office"].map(|name| served.pair(name));
    let sounds = |served: &Served, cookie: &str, mark: &str| {
        let heard = served.post("/rang", cookie, &format!("alarm={mark}"));
        assert_eq!(heard.status, 204);
    };
    let answers = |served: &Served, cookie: &str, firing: FiringId| {
        let body = format!("alarm=shut_off&firing={}&uid=tap{}", firing.0, firing.0);
        // The same again is the same answer: one that comes too late is asked for again.
        patiently("an answer", || {
            let heard = served.post("/answer", cookie, &body);
            (heard.status != 503).then(|| assert_eq!(heard.status, 200, "{heard:?}"))
        });
    };
    // In the morning two devices sound, one of them again and again; a third is quicker.
    let (north, mark) = served.rings_at("North", &office);
    for _ in 0..3 {
        sounds(&served, &ada, &mark);
    }
    sounds(&served, &tablet, &mark);
    answers(&served, &ben, north);
    answers(&served, &ben, north);
    served.answered(1);
    // What does not ring is no ring, whoever says so.
    sounds(&served, &office, &mark.replace("shut_off", "look_due"));
    served.shop.write(Some(north), now(), What::Off);
    // At noon it is answered on a device of nobody's in particular.
    let (south, mark) = served.rings_at("South", &office);
    sounds(&served, &tablet, &mark);
    answers(&served, &tablet, south);
    served.answered(2);
    served.shop.write(Some(south), now(), What::Off);
    // In the evening somebody goes to the computer.
    let (_, mark) = served.rings_at("West", &office);
    sounds(&served, &ben, &mark);
    sounds(&served, &office, &mark);
    program::at(&served.shop.path(), "alarms ack West").ok();
    served.answered(3);
    // At night what it asks for is noted at once.
    let (east, mark) = served.rings_at("East", &office);
    sounds(&served, &ada, &mark);
    let off = format!("kind=off&kiln=East&firing={}&rev={}&uid=off", east.0, served.rev());
    assert_eq!(served.note(&ada, &off).status, 200);
    patiently("it to be over", || {
        let over = |line: &Line| matches!(line, Line::Returned { of, .. } if of.firing == east.0);
        served.shop.log().iter().any(over).then_some(())
    });
    let log = served.shop.log();
    let all: Vec<Rang> =
        of_log(&log).into_iter().filter(|one| one.of.alarm == "shut_off").collect();
    println!("| when (UTC) | what rang | sounded on | who answered |\n|---|---|---|---|");
    all.iter().for_each(|one| println!("{}", row(one)));
    let told: Vec<_> = all
        .iter()
        .map(|one| {
            let sounded: Vec<&str> = one.sounded.iter().map(|(device, _)| &**device).collect();
            (one.kiln.as_str(), sounded.join(", "), one.on.as_deref())
        })
        .collect();
    let expected = [
        ("North", "Ada's phone, tablet".to_owned(), Some("Ben's phone")),
        ("South", "tablet".into(), Some("tablet")),
        ("West", "Ben's phone, office".into(), None),
        ("East", "Ada's phone".into(), None),
    ];
    assert_eq!(told, expected);
    let who = |number: usize| all[number].answered.as_ref().map(|(_, who)| who.as_str());
    assert_eq!([who(0), who(1)], [Some("Ben"), Some("tablet")]);
    assert_eq!((who(2).is_some(), who(3)), (true, None));
    assert_eq!(all[3].noted.as_deref(), Some("Ada's phone"));
    // The devices that sounded count as those by which Ada was reached.
    let delivered = log.iter().any(|line| {
        matches!(line, Line::Delivery { way, delivered: true, detail, .. } if way == "page" && detail.contains("Ada's phone"))
    });
    assert!(delivered, "{log:?}");
}
