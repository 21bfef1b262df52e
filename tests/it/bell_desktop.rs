//! Desktop notifications on a private session bus, with a notification service of the test's own.

use std::collections::HashMap;
use std::io::{BufRead, BufReader};
use std::process::{Command, Stdio};
use std::sync::mpsc::{self, Receiver, Sender};

use spyhole::testing::edge::bell::log::Line;
use zbus::block_on;

use crate::keeper::{Running, TestShop, now, until};
use crate::prelude::*;

const PATH: &str = "/org/freedesktop/Notifications";
const NAME: &str = "org.freedesktop.Notifications";

/// A session bus that ends with the test.
struct Bus {
    _daemon: Running,
    address: String,
}

impl Bus {
    fn new() -> Bus {
        let daemon = Command::new("dbus-daemon")
            .args(["--session", "--nofork", "--nopidfile", "--print-address=1"])
            .stdout(Stdio::piped())
            .spawn()
            .expect("dbus-daemon is installed");
        let mut daemon = Running(daemon);
        let mut address = String::new();
        BufReader::new(daemon.0.stdout.take().unwrap()).read_line(&mut address).unwrap();
        Bus { _daemon: daemon, address: address.trim().to_owned() }
    }
}

/// One notification, as the service gets it.
#[derive(Debug, Clone)]
struct Shown {
    id: u32,
    replaces: u32,
    summary: String,
    body: String,
    actions: Vec<String>,
    urgency: u8,
}

struct Service {
    shown: Sender<Shown>,
    last: u32,
    hangs: bool,
}

#[zbus::interface(name = "org.freedesktop.Notifications")]
impl Service {
    async fn get_capabilities(&self) -> Vec<String> {
        if self.hangs {
            std::future::pending::<()>().await;
        }
        vec!["actions".into(), "body".into()]
    }

    #[expect(clippy::too_many_arguments, reason = "the interface is the desktop's")]
    fn notify(
        &mut self,
        _app_name: String,
        replaces: u32,
        _icon: String,
        summary: String,
        body: String,
        actions: Vec<String>,
        hints: HashMap<String, zbus::OwnedVariant>,
        _timeout: i32,
    ) -> u32 {
        let id = if replaces > 0 {
            replaces
        } else {
            self.last += 1;
            self.last
        };
        let urgency = hints.get("urgency").and_then(|hint| u8::try_from(hint).ok()).unwrap_or(9);
        self.shown.send(Shown { id, replaces, summary, body, actions, urgency }).unwrap();
        id
    }

    fn close_notification(&self, _id: u32) {}

    fn get_server_information(&self) -> (String, String, String, String) {
        ("test".into(), "spyhole".into(), "1".into(), "1.2".into())
    }
}

fn serve(bus: &Bus, hangs: bool) -> (zbus::Connection, Receiver<Shown>) {
    let (tell, shown) = mpsc::channel();
    let service = Service { shown: tell, last: 0, hangs };
    let connection = block_on(
        zbus::connection::Builder::address(bus.address.as_str())
            .name(NAME)
            .serve_at(PATH, service)
            .build(),
    )
    .unwrap();
    (connection, shown)
}

fn press(connection: &zbus::Connection, id: u32, action: &str) {
    block_on(connection.emit_signal(None::<&str>, PATH, NAME, "ActionInvoked", &(id, action)))
        .unwrap();
}

/// The next notification that is no mere repeat of "answered".
fn next(shown: &Receiver<Shown>, headline: &str) -> Shown {
    loop {
        let shown = shown.recv_timeout(Duration::from_secs(20)).expect("a notification comes");
        if shown.summary.starts_with(headline) {
            return shown;
        }
    }
}

const DESKTOP_ONLY: &str = r#"{"people": [{"name": "Ada", "ways": ["desktop"]}]}"#;

#[test]
fn crosscheck_a_notification_is_seen_and_what_is_pressed_is_written_down() {
    let bus = Bus::new();
    let (connection, shown) = serve(&bus, false);
    let mut shop = TestShop::new(DESKTOP_ONLY);
    // Gold takes about five hours by the starter set: after seven it is probably down.
    let firing = shop.light("North", Span::hours(7));
    let _keeper = shop.keep(&bus.address);
    let asked = next(&shown, "Look at North now");
    assert_eq!((asked.urgency, asked.replaces), (2, 0), "critical, and new");
    assert!(asked.body.contains("Look through the spyhole"), "{}", asked.body);
    let actions: Vec<&str> = asked.actions.iter().step_by(2).map(String::as_str).collect();
    assert_eq!(actions, ["seen_standing", "seen_leaning", "seen_down", "acknowledge"]);
    // Somebody went, saw it down, and says so where they sit. The signal is repeated until it is
    // heard: the listener may come a moment after the notification.
    until("the look to be written down", || {
        press(&connection, asked.id, "seen_down");
        std::thread::sleep(Duration::from_millis(200));
        let seen =
            shop.journal.firing(firing).unwrap().looks.last().map(|looked| looked.look.target);
        (seen == Some(Some(Seen::Down))).then_some(())
    });
    assert_eq!(shop.journal.firing(firing).unwrap().looks.len(), 1, "once");
    // Now it asks for the next thing, and that can be acknowledged.
    let off = next(&shown, "Shut off North now");
    let actions: Vec<&str> = off.actions.iter().step_by(2).map(String::as_str).collect();
    assert_eq!(actions, ["acknowledge"]);
    until("the answer to be written down", || {
        press(&connection, off.id, "acknowledge");
        std::thread::sleep(Duration::from_millis(200));
        let answered = shop.journal.firing(firing).unwrap().acknowledged;
        (answered.len() == 1 && answered[0].1 == "shut_off").then_some(())
    });
    until("the answer to be told", || {
        shop.log()
            .iter()
            .any(|line| matches!(line, Line::Answered { of, .. } if of.alarm == "shut_off"))
            .then_some(())
    });
}

/// A repeat replaces the notification it repeats.
#[test]
fn crosscheck_a_repeat_replaces_and_an_end_says_so() {
    let bus = Bus::new();
    let (_connection, shown) = serve(&bus, false);
    let mut shop = TestShop::new(DESKTOP_ONLY);
    let firing = shop.light("North", Span::hours(1));
    shop.see_down(firing);
    let _keeper = shop.keep(&bus.address);
    let first = next(&shown, "Shut off North now");
    shop.write(Some(firing), now(), What::Off);
    let over = next(&shown, "Answered");
    assert_eq!((over.replaces, over.id, over.urgency), (first.id, first.id, 0));
}

/// Without a bus, or with a service that never answers, the next way rings.
#[test]
fn law_without_a_desktop_the_next_way_rings() {
    let bus = Bus::new();
    let (_connection, _shown) = serve(&bus, true);
    for (address, complaint) in [
        ("unix:path=/nonexistent/bus", "the desktop's notification service: "),
        (bus.address.as_str(), "desktop did not answer within 3 s"),
    ] {
        let place = tempfile::tempdir().unwrap();
        let out = place.path().join("rings");
        let settings = serde_json::json!({
            "people": [{"name": "Ada", "ways": ["desktop", "command"]}],
            "command": {"program": "sh", "arguments": ["-c", format!("echo $SPYHOLE_ALARM >> {}", out.display())]},
        });
        let mut shop = TestShop::new(&settings.to_string());
        // Nothing is known of this load: the first look by eye is due half an hour after lighting,
        // with medium priority, which begins with one way.
        let firing = light_unknown(&mut shop, Span::minutes(31));
        let _keeper = shop.keep(address);
        until("the command", || {
            let rung = fs::read_to_string(&out).unwrap_or_default();
            rung.contains("look_due").then_some(())
        });
        let told = shop.log().into_iter().find_map(|line| match line {
            Line::Delivery { way, delivered: false, detail, fell_back, .. } if way == "desktop" => {
                Some((detail, fell_back))
            }
            _ => None,
        });
        let (detail, fell_back) = told.unwrap();
        assert!(detail.starts_with(complaint) && fell_back, "{detail}");
        assert_eq!(shop.journal.firing(firing).unwrap().looks, []);
    }
}

/// A firing of which nothing is known, lit so long ago.
pub(crate) fn light_unknown(shop: &mut TestShop, ago: Span) -> FiringId {
    shop.light("South", Span::hours(1));
    let south = shop.journal.shop().unwrap().firing_in("South").unwrap().id;
    shop.write(Some(south), now(), What::Aborted { reason: "no gas".into() });
    let kiln = kiln("West", Fuel::Electric);
    shop.write(None, now() - Span::hours(1), What::KilnSet(kiln));
    let load =
        LoadType { name: "unknown".into(), usual_length: None, ..crate::simulator::gold(None) };
    shop.write(None, now() - Span::hours(1), What::LoadTypeSet(load));
    let lit = lit_with("West", "unknown", crate::simulator::pack());
    shop.write(None, now() - ago, What::Lit(lit))
}
