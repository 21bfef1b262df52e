//! The page in a real browser, by the address that a phone uses: when the computer is frozen or killed, it
//! rings alone. What it sounds is measured where it goes out, not assumed.
//!
//! Needs `chromium` and `chromedriver`, and takes most of a minute a round, so it is asked for:
//! `SPYHOLE_BROWSER_ROUNDS=20 cargo test --release --test it browser -- --ignored --nocapture`.

use std::process::{Command, Stdio};
use std::thread;

use serde_json::json;

use super::one_kiln::number;
use super::*;
use crate::keeper::{calling, signal};

/// From a shop that begins to what is due; longer than a browser lets a page be that sounded last.
const DUE_IN: Span = Span::seconds(55);
/// How late it may sound.
const WITHIN_MS: i64 = 2_000;
/// A hidden page is let alone for so long before the browser saves on it; five minutes where nobody says
/// otherwise.
const GRACE: &str = "--enable-features=IntensiveWakeUpThrottling:grace_period_seconds/10";
/// The driver switches off what a browser does to hidden pages; here it is done.
const THROTTLED: [&str; 3] = [
    "disable-background-timer-throttling",
    "disable-renderer-backgrounding",
    "disable-backgrounding-occluded-windows",
];

/// Runs before the page: sets its clock wrong, and measures what is sent to the loudspeaker: when it began to
/// sound by the true clock, how loud it became, and whether the page was hidden.
const BEFORE: &str = "
window.trueNow = Date.now.bind(Date);
Date.now = () => trueNow() + WRONG_MS;
window.sounded = [];
window.last = 0;
const meters = new Map();
const connect = AudioNode.prototype.connect;
// All that goes out of one context is measured together, as a loudspeaker gets it.
function metered(to) {
    const meter = to.context.createScriptProcessor(1024, 1, 1);
    meter.onaudioprocess = ({ inputBuffer }) => {
      const peak = Math.max(...inputBuffer.getChannelData(0).map(Math.abs));
      if (peak < 0.05) return;
      if (trueNow() - last > 3000) sounded.push({ at: trueNow(), hidden: document.hidden, peak });
      last = trueNow();
      sounded.at(-1).peak = Math.max(peak, sounded.at(-1).peak);
    };
    connect.call(meter, to);
    meters.set(to.context, meter);
    return meter;
}
AudioNode.prototype.connect = function (to, ...more) {
  if (to instanceof AudioDestinationNode) connect.call(this, meters.get(to.context) ?? metered(to));
  return connect.call(this, to, ...more);
};";

/// A browser with one page, led by its driver.
struct Browser {
    _driver: Running,
    agent: ureq::Agent,
    session: String,
}

impl Browser {
    /// A browser whose clock is wrong by so much, and which is told this as well.
    fn open(wrong_ms: i64, more: &[String]) -> Browser {
        let port = free_port();
        let mut driver = Command::new("chromedriver");
        driver.arg(format!("--port={port}")).stdout(Stdio::null()).stderr(Stdio::null());
        let driver = Running(driver.spawn().expect("chromedriver is installed"));
        patiently("the driver", || connected(port));
        let config = ureq::Agent::config_builder().http_status_as_error(false).build();
        let base = format!("http://127.0.0.1:{port}/session");
        let mut browser = Browser { _driver: driver, agent: config.into(), session: base };
        let args = ["--headless=new", "--no-sandbox", "--disable-dev-shm-usage", GRACE];
        let args = [&args.map(str::to_owned)[..], more].concat();
        let options = json!({"args": args, "excludeSwitches": THROTTLED});
        let always = json!({"goog:chromeOptions": options});
        let opened = browser.post("", &json!({"capabilities": {"alwaysMatch": always}}));
        browser.session += &format!("/{}", opened["sessionId"].as_str().unwrap());
        let before = BEFORE.replace("WRONG_MS", &wrong_ms.to_string());
        let params = json!({"source": format!("(() => {{{before}}})()")});
        let add = json!({"cmd": "Page.addScriptToEvaluateOnNewDocument", "params": params});
        browser.post("/goog/cdp/execute", &add);
        browser
    }

    #[track_caller]
    fn post(&self, path: &str, what: &Value) -> Value {
        self.tried(path, what).unwrap_or_else(|error| panic!("{path} {what}: {error}"))
    }

    fn tried(&self, path: &str, what: &Value) -> Result<Value, Value> {
        let request = self.agent.post(format!("{}{path}", self.session));
        let mut answer = request.send(what.to_string()).unwrap();
        let said = answer.body_mut().read_to_string().unwrap();
        let mut said: Value = serde_json::from_str(&said).unwrap();
        let said = said["value"].take();
        if said["error"].is_null() { Ok(said) } else { Err(said) }
    }

    fn go(&self, url: &str) {
        self.post("/url", &json!({"url": url}));
    }

    fn asked(&self, script: &str) -> Value {
        self.post("/execute/sync", &json!({"script": script, "args": []}))
    }

    /// As a finger does, once it is there: a browser takes no tap of a script for one.
    fn tap(&self, what: &str) {
        let sought = json!({"using": "css selector", "value": what});
        patiently(what, || {
            let found = self.tried("/element", &sought).ok()?;
            let id = found.as_object()?.values().next()?.as_str()?.to_owned();
            self.tried(&format!("/element/{id}/click"), &json!({})).ok()
        });
    }

    /// Another page stands before it from now on.
    fn hide(&self) {
        let other = json!({"url": "about:blank"});
        self.post("/goog/cdp/execute", &json!({"cmd": "Target.createTarget", "params": other}));
        patiently("it to be hidden", || {
            self.asked("return document.hidden").as_bool().filter(|it| *it)
        });
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        let _ = self.agent.delete(&self.session).call();
    }
}

/// A shop in which the call to shut off, which was answered and then nothing was done, comes again so soon.
fn shop_that_rings_in(wanted: Span) -> TestShop {
    let mut shop = TestShop::new(&calling("true"));
    let firing = shop.light("North", Span::hours(5));
    let again = spyhole::testing::alarm::Key { task: Task::ShutOff, firing }
        .rule()
        .raised_again_after
        .unwrap();
    let answered = now() + wanted - again;
    let down = Look { target: Some(Seen::Down), ..Look::default() };
    shop.write(Some(firing), answered - Span::seconds(5), What::Look(down));
    let what = What::Acknowledged { alarm: Task::ShutOff.name().into() };
    shop.write(Some(firing), answered, what);
    shop
}

/// What becomes of the computer.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Becomes {
    Frozen,
    /// Beside a page that is hidden, on a device whose clock is wrong.
    Killed {
        wrong_ms: i64,
    },
}

/// How late the page sounded after the computer was lost so long before the look was due, ms.
#[expect(clippy::print_stdout, reason = "what was measured is to be seen")]
fn sounded_late(becomes: Becomes, before: Span) -> i64 {
    let shop = shop_that_rings_in(DUE_IN);
    let (port, ip) = (free_port(), another_address());
    shop.journal.switch_page_on(Some(port), port).unwrap();
    let keeper = shop.keep(NO_BUS);
    patiently("the page", || connected(port));
    let number = shop.journal.offer(&digest(SCANNED), &digest(TYPED), now() + DUE_IN).unwrap();
    shop.journal.show_offer(number, DUE_IN, now()).unwrap();
    let wrong_ms = if let Becomes::Killed { wrong_ms } = becomes { wrong_ms } else { 0 };
    let browser = Browser::open(wrong_ms, &[]);
    browser.go(&format!("http://{}/P/{SCANNED}", SocketAddr::new(ip, port)));
    browser.tap("button");
    browser.tap("#silent");
    let planned =
        || browser.asked("return known.plan.find((one) => one.id.startsWith('shut_off'))?.at");
    let due = patiently("the plan", || planned().as_i64());
    patiently("the sound of the tap", || {
        browser.asked("return sounded.length").as_i64().filter(|it| *it > 0)
    });
    if becomes != Becomes::Frozen {
        browser.hide();
    }
    let until =
        |at: Moment| thread::sleep(Duration::from_millis((at - now()).0.max(0).unsigned_abs()));
    until(Moment(due) - before);
    let newest = planned().as_i64().unwrap();
    assert!((newest - due).abs() < 1_000, "the plan is another one: {due}, {newest}");
    let heard = browser.asked("return sounded.length").as_u64().unwrap();
    let lost_at = now();
    match becomes {
        Becomes::Frozen => signal(keeper.0.id(), "STOP"),
        Becomes::Killed { .. } => signal(keeper.0.id(), "KILL"),
    }
    assert!(lost_at < Moment(newest), "the machine is too slow for this test");
    let count = || browser.asked("return sounded.length").as_u64().filter(|count| *count > heard);
    patiently("the page to sound", count);
    // How loud it became is known a little later.
    thread::sleep(Duration::from_secs(1));
    let sounded = browser.asked("return sounded")[heard as usize].take();
    let says = browser.asked("return document.querySelector('#alone h1').textContent");
    assert!(says.as_str().unwrap().contains("North"), "{says}");
    assert_eq!(sounded["hidden"], becomes != Becomes::Frozen);
    let late = sounded["at"].as_i64().unwrap() - newest;
    println!("{becomes:?} {} s before: {late} ms late, {sounded}", before.0 / 1_000);
    assert!(sounded["peak"].as_f64().unwrap() > 0.1, "{sounded}");
    if becomes == Becomes::Frozen {
        signal(keeper.0.id(), "CONT");
        let found = || browser.asked("return document.getElementById('lost').hidden");
        patiently("the computer to be found again", || found().as_bool().filter(|found| *found));
    }
    late
}

/// So many rounds, each lost at another moment before the look.
#[expect(clippy::print_stdout, reason = "what was measured is to be seen")]
fn rings_alone(becomes: impl Fn(u64) -> Becomes) {
    let late: Vec<i64> = (0..number("SPYHOLE_BROWSER_ROUNDS", 2))
        .map(|round| sounded_late(becomes(round), Span::seconds(2 + (7 * round % 20) as i64)))
        .collect();
    println!("{} rounds, late by {late:?} ms", late.len());
    assert!(late.iter().all(|late| (0..=WITHIN_MS).contains(late)), "{late:?}");
}

#[test]
#[ignore = "needs chromium and chromedriver"]
fn law_a_page_rings_alone_when_the_computer_freezes() {
    rings_alone(|_| Becomes::Frozen);
}

#[test]
#[ignore = "needs chromium and chromedriver"]
fn law_a_hidden_page_with_a_wrong_clock_rings_alone_when_the_computer_is_killed() {
    rings_alone(|round| Becomes::Killed {
        wrong_ms: if round % 2 == 0 { -90_000 } else { 90_000 },
    });
}

#[test]
#[ignore = "needs chromium and chromedriver"]
fn law_a_device_that_is_tried_while_it_rings_rings_and_no_louder_than_a_loudspeaker_can() {
    let mut served = Served::new();
    served.ring("North");
    served.offer();
    let browser = Browser::open(0, &[]);
    let base = format!("http://{}", SocketAddr::new(another_address(), served.port));
    browser.go(&format!("{base}/P/{SCANNED}"));
    browser.tap("button");
    patiently("to be paired", || served.shop.journal.devices().unwrap().pop());
    browser.go(&base);
    browser.tap("#silent");
    for _ in 0..6 {
        browser.tap("#try");
    }
    // The one of high priority lasts for three seconds, the one of a try for less than one.
    let lasted =
        "return sounded.length && trueNow() - last < 200 && trueNow() - sounded[0].at > 2500";
    patiently("it to ring", || browser.asked(lasted).as_bool().filter(|it| *it));
    let peak = browser.asked("return sounded[0].peak").as_f64().unwrap();
    assert!((0.3..=1.0).contains(&peak), "{peak}");
    let rang = || devices_rang(&served).into_iter().find(|one| one.alarm.starts_with("shut_off"));
    patiently("the device to say that it rings", rang);
}

fn devices_rang(served: &Served) -> Vec<spyhole::testing::edge::journal::devices::Rang> {
    spyhole::testing::edge::journal::devices::rang(&served.shop.path()).unwrap()
}

/// A web site of somebody else on the same computer, which shows this page; its port.
fn foreign_site(page: String) -> u16 {
    let listener = TcpListener::bind(("0.0.0.0", 0)).unwrap();
    let port = listener.local_addr().unwrap().port();
    thread::spawn(move || {
        for mut caller in listener.incoming().flatten() {
            let _ = caller.read(&mut [0; 4096]);
            let length = page.len();
            let head = format!(
                "HTTP/1.1 200 OK\r\nContent-Type: text/html\r\nContent-Length: {length}\r\nConnection: close\r\n\r\n"
            );
            let _ = caller.write_all((head + &page).as_bytes());
        }
    });
    port
}

#[test]
#[ignore = "needs chromium and chromedriver"]
fn law_no_other_site_sees_or_does_anything_through_the_browser_of_a_device() {
    let eve = "\"><img src=x onerror=\"document.title='Eve'\"></svg><script>document.title='Eve'</script>";
    let mut served = Served::new();
    let firing = served.ring(eve);
    served.set_pin("4821");
    let ip = another_address();
    let browser = Browser::open(0, &[format!("--host-resolver-rules=MAP evil.test {ip}")]);
    let base = format!("http://{}", SocketAddr::new(ip, served.port));
    // The page's own form is heard: it says where it comes from.
    served.offer();
    browser.go(&format!("{base}/P/{SCANNED}"));
    browser.asked(
        "document.querySelector('[name=name]').value = '<img src=x onerror=\"document.title=1\">'",
    );
    browser.tap("button");
    assert_eq!(served.shop.journal.devices().unwrap().len(), 1);
    // What the device shows is nothing to a script, and in no address.
    let known = browser.asked("return document.cookie + location.href");
    assert!(!known.as_str().unwrap().contains("spyhole_"), "{known}");
    // Names are text, wherever they stand.
    for path in [
        "/",
        "/shop",
        "/far",
        "/bench",
        "/plan",
        "/ledger",
        "/review",
        "/card?firing=1",
        "/correct?firing=1",
    ] {
        browser.go(&format!("{base}{path}"));
        let of_name = "return [document.title, document.querySelectorAll('img, main script, #form script').length]";
        let found = browser.asked(of_name);
        assert!(
            found[1] == 0 && !["Eve", "1"].contains(&found[0].as_str().unwrap()),
            "{path}: {found}"
        );
    }
    // Called by a name that only leads here.
    browser.go(&format!("http://evil.test:{}/", served.port));
    let shown = browser.asked("return document.body.textContent");
    assert!(shown.as_str().unwrap().contains("is not called that"), "{shown}");
    // Another site on the same computer: the same cookie goes with what it sends.
    let body = format!("alarm=shut_off&firing={}", firing.0);
    let foreign = foreign_site(format!(
        "<title>foreign</title><iframe src='{base}/'></iframe><form method=post action='{base}/answer'><input name=alarm value=shut_off><input name=firing value={}></form>",
        firing.0
    ));
    let site = format!("http://{}", SocketAddr::new(ip, foreign));
    browser.go(&site);
    let sent = format!(
        "return fetch('{base}/answer', {{method: 'POST', mode: 'no-cors', credentials: 'include', body: new URLSearchParams('{body}')}}).then((answer) => answer.type, String)"
    );
    let read = format!(
        "return fetch('{base}/state.json', {{credentials: 'include'}}).then((answer) => answer.text(), () => 'refused')"
    );
    println!("sent blindly: {}", browser.asked(&sent));
    assert_eq!(browser.asked(&read), "refused");
    assert_eq!(
        browser.asked("return frames[0].length + document.querySelectorAll('iframe').length"),
        1
    );
    browser.post("/frame", &json!({"id": 0}));
    let framed = browser.asked("return document.body.textContent");
    assert!(
        !framed.as_str().unwrap().contains("North") && !framed.as_str().unwrap().contains("Tap"),
        "{framed}"
    );
    browser.go(&site);
    browser.asked("document.forms[0].submit()");
    let shown = patiently("an answer to the form", || {
        let shown = browser.asked("return document.body.textContent");
        shown.as_str().filter(|it| it.contains("from another page")).map(str::to_owned)
    });
    assert!(answers(&served, firing).is_empty(), "{shown}");
    // The device itself may.
    browser.go(&base);
    browser.tap("form.answer button");
    patiently("the answer", || (!answers(&served, firing).is_empty()).then_some(()));
}
