//! The page, through real sockets: who is let in, what is kept, and what is told.

mod beside;
mod browser;
mod day;
mod elsewhere;
mod hostile;
mod noting;
mod offered;
mod one_kiln;

use std::io::{Read, Write};
use std::net::{IpAddr, Ipv4Addr, SocketAddr, TcpListener, TcpStream, UdpSocket};
use std::sync::Arc;

use sha2::{Digest, Sha256};
use spyhole::testing::edge::page::Page;
use spyhole::testing::edge::page::routes::ROUTES;
use spyhole::testing::edge::shop::advised::Counsel;
use spyhole::testing::edge::shop::standing::Standing;
use spyhole::testing::edge::shop::watched::{Shown, View, show};

use crate::keeper::{NO_BUS, Running, TestShop, now, patiently, settings};
use crate::prelude::*;

const SCANNED: &str = "ABCDEFGHJKLMNPQR";
const TYPED: &str = "BCDFGHJK";
/// How long a socket may say nothing, where nothing is timed.
const SILENCE: Duration = Duration::from_secs(90);

/// A shop with its page switched on, and the watch beside it in this process.
pub(crate) struct Served {
    pub(crate) shop: TestShop,
    shown: Shown,
    page: Option<Page>,
    port: u16,
}

/// One answer.
#[derive(Debug)]
struct Heard {
    status: u16,
    head: String,
    body: String,
}

impl Heard {
    fn header(&self, name: &str) -> Option<&str> {
        let mut lines = self.head.lines().filter_map(|line| line.split_once(": "));
        lines.find(|(key, _)| key.eq_ignore_ascii_case(name)).map(|(_, value)| value)
    }
}

fn digest(text: &str) -> [u8; 32] {
    Sha256::digest(text.as_bytes()).into()
}

fn free_port() -> u16 {
    TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).unwrap().local_addr().unwrap().port()
}

fn connected(port: u16) -> Option<TcpStream> {
    let stream = TcpStream::connect((Ipv4Addr::LOCALHOST, port)).ok()?;
    stream.set_read_timeout(Some(SILENCE)).unwrap();
    Some(stream)
}

/// Sends these bytes and hears what comes until the other side ends; `None` of no answer.
fn send(mut stream: TcpStream, request: &str) -> Option<Heard> {
    // A server that turns away early does not read to the end.
    let _ = stream.write_all(request.as_bytes());
    let mut bytes = Vec::new();
    let _ = stream.read_to_end(&mut bytes);
    let text = String::from_utf8_lossy(&bytes).into_owned();
    let (head, body) = text.split_once("\r\n\r\n")?;
    let status = head.split(' ').nth(1)?.parse().ok()?;
    Some(Heard { status, head: head.into(), body: body.into() })
}

fn getting(host: &str, path: &str, cookie: &str) -> String {
    format!("GET {path} HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie}\r\nConnection: close\r\n\r\n")
}

fn posting(host: &str, origin: &str, path: &str, cookie: &str, body: &str) -> String {
    let length = body.len();
    format!(
        "POST {path} HTTP/1.1\r\nHost: {host}\r\n{origin}Cookie: {cookie}\r\nAccept: application/json\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: {length}\r\nConnection: close\r\n\r\n{body}"
    )
}

/// A keeper that rings has looked at the shop, and shows what it found.
fn step(shop: &TestShop, shown: &Shown) -> Vec<Alarm> {
    let mut watched = Standing::new(Counsel::default(), Vec::new());
    watched.refresh(&shop.journal, now()).unwrap();
    let standing = watched.alarms(now());
    let (rings, known) = (true, watched.known().clone());
    show(shown, View { rings, known, standing: standing.clone(), ..View::default() });
    standing
}

impl Served {
    fn new() -> Served {
        let shop = TestShop::new("{}");
        let port = free_port();
        shop.journal.switch_page_on(Some(port), port).unwrap();
        let mut served = Served { shop, shown: Shown::default(), page: None, port };
        served.watch();
        served
    }

    /// A process takes the watch.
    fn watch(&mut self) {
        self.step();
        let (counsel, shown) = (Counsel::default(), Arc::clone(&self.shown));
        self.page = Some(Page::beside(&self.shop.path(), counsel, shown).unwrap());
        patiently("the page to be served", || connected(self.port));
    }

    /// The keeper has looked at the shop.
    fn step(&self) -> Vec<Alarm> {
        step(&self.shop, &self.shown)
    }

    fn raw(&self, request: &str) -> Heard {
        send(connected(self.port).unwrap(), request).unwrap_or_else(|| panic!("{request}"))
    }

    fn host(&self) -> String {
        format!("127.0.0.1:{}", self.port)
    }

    fn get(&self, path: &str, cookie: &str) -> Heard {
        self.raw(&getting(&self.host(), path, cookie))
    }

    fn post(&self, path: &str, cookie: &str, body: &str) -> Heard {
        let origin = format!("Origin: http://{}\r\n", self.host());
        self.post_from(&origin, path, cookie, body)
    }

    fn post_from(&self, origin: &str, path: &str, cookie: &str, body: &str) -> Heard {
        self.raw(&posting(&self.host(), origin, path, cookie, body))
    }

    /// Shows a code on the shop's computer.
    fn offer(&self) -> i64 {
        let ends = now() + Span::minutes(5);
        let number = self.shop.journal.offer(&digest(SCANNED), &digest(TYPED), ends).unwrap();
        self.shop.journal.show_offer(number, Span::minutes(5), now()).unwrap();
        number
    }

    fn pair_with(&self, code: &str, name: &str) -> Heard {
        self.post("/pair", "", &format!("code={code}&name={name}"))
    }

    /// Pairs a device, and gives the cookie it shows.
    fn pair(&self, name: &str) -> String {
        self.offer();
        let heard = self.pair_with(SCANNED, name);
        assert_eq!(heard.status, 303, "{heard:?}");
        heard.header("set-cookie").unwrap().split(';').next().unwrap().to_owned()
    }

    /// A kiln that is to be shut off, as the keeper has found.
    fn ring(&mut self, kiln: &str) -> FiringId {
        let firing = self.shop.light(kiln, Span::hours(1));
        self.shop.see_down(firing);
        let standing = self.step();
        assert!(standing.iter().any(|alarm| alarm.key.task == Task::ShutOff), "{standing:?}");
        firing
    }
}

#[test]
fn law_a_request_that_calls_this_computer_otherwise_is_turned_away() {
    let served = Served::new();
    let port = served.port;
    for host in [format!("127.0.0.1:{port}"), format!("LocalHost:{port}")] {
        assert_eq!(served.raw(&getting(&host, "/pair", "")).status, 200);
    }
    for (line, hosts) in [
        ("GET /pair HTTP/1.1", "Host: evil.test\r\n".to_owned()),
        ("GET /pair HTTP/1.1", format!("Host: evil.test:{port}\r\n")),
        ("GET /pair HTTP/1.1", format!("Host: 127.0.0.1.evil.test:{port}\r\n")),
        ("GET /pair HTTP/1.1", format!("Host: 127.0.0.1:{}\r\n", port ^ 1)),
        ("GET /pair HTTP/1.1", "Host: 127.0.0.1\r\n".into()),
        ("GET /pair HTTP/1.1", format!("Host: user@127.0.0.1:{port}\r\n")),
        ("GET /pair HTTP/1.1", String::new()),
        ("GET /pair HTTP/1.1", format!("Host: 127.0.0.1:{port}\r\nHost: 127.0.0.1:{port}\r\n")),
        ("GET /pair HTTP/1.1", format!("Host: 127.0.0.1:{port}\r\nHost: evil.test\r\n")),
        ("GET /pair HTTP/1.0", format!("Host: 127.0.0.1:{port}\r\n")),
        ("GET http://evil.test/pair HTTP/1.1", format!("Host: 127.0.0.1:{port}\r\n")),
        ("GET /nowhere HTTP/1.1", "Host: evil.test\r\n".into()),
    ] {
        let heard = served.raw(&format!("{line}\r\n{hosts}Connection: close\r\n\r\n"));
        assert_eq!(heard.status, 421, "{line} {hosts}: {heard:?}");
        assert!(!heard.body.contains("<form"), "{heard:?}");
    }
}

#[test]
fn law_what_changes_something_comes_from_the_page_itself() {
    let mut served = Served::new();
    let cookie = served.pair("phone");
    let firing = served.ring("North");
    let body = format!("alarm=shut_off&firing={}", firing.0);
    let (host, other) = (served.host(), format!("127.0.0.1:{}", served.port ^ 1));
    for origin in [
        String::new(),
        "Origin: null\r\n".into(),
        format!("Origin: http://{other}\r\n"),
        format!("Origin: https://{host}\r\n"),
        format!("Origin: http://localhost:{}\r\n", served.port),
        "Origin: http://evil.test\r\n".into(),
        format!("Origin: http://{host}\r\nOrigin: http://{host}\r\n"),
    ] {
        for path in ["/answer", "/pair", "/armed", "/rang", "/note", "/who"] {
            let heard = served.post_from(&origin, path, &cookie, &body);
            assert_eq!(heard.status, 403, "{origin} {path}: {heard:?}");
        }
    }
    let preflight = format!(
        "OPTIONS /answer HTTP/1.1\r\nHost: {host}\r\nOrigin: http://evil.test\r\nAccess-Control-Request-Method: POST\r\nConnection: close\r\n\r\n"
    );
    let heard = served.raw(&preflight);
    assert_eq!(heard.status, 403);
    assert_eq!(heard.header("access-control-allow-origin"), None);
    assert!(answers(&served, firing).is_empty());
    assert_eq!(served.post("/answer", &cookie, &body).status, 200);
}

/// Who answered the alarm of a firing.
fn answers(served: &Served, firing: FiringId) -> Vec<Who> {
    let events = stored(&served.shop.journal, Some(&[firing]));
    let answers =
        events.into_iter().filter(|one| matches!(one.event.what, What::Acknowledged { .. }));
    answers.map(|one| one.event.who).collect()
}

/// What anybody may ask for: the pairing, and what the pages are dressed in.
const OPEN: [&str; 8] =
    ["/P/{code}", "/pair", "/page.css", "/card.css", "/page.js", "/old.js", "/w.js", "/icon.svg"];

#[test]
fn law_no_route_tells_anything_to_a_device_that_is_not_paired() {
    let mut served = Served::new();
    served.ring("Secret");
    let cookie = served.pair("phone");
    for open in OPEN {
        assert!(ROUTES.iter().any(|route| route.path == open), "{open}");
    }
    let shut = ROUTES.iter().map(|route| route.path).filter(|path| !OPEN.contains(path));
    let routes: Vec<(&str, bool)> =
        shut.flat_map(|path| [false, true].map(|is_post| (path, is_post))).collect();
    assert!(routes.len() > 2 * OPEN.len(), "{routes:?}");
    let (name, token) = cookie.split_once('=').unwrap();
    let wrong = [
        "".into(),
        format!("{name}={}", "0".repeat(32)),
        format!("other_{name}={token}"),
        format!("{name}="),
    ];
    for (path, is_post) in routes {
        let asked = path.replace("{name}", "Secret");
        for cookie in &wrong {
            let heard = match is_post {
                true => served.post(&asked, cookie, "alarm=shut_off&firing=1&sound=on&kind=look&kiln=Secret&rev=0&uid=1&target=down&pin=1234&person=Eve"),
                false => served.get(&asked, cookie),
            };
            assert_eq!(heard.status, 401, "{path} {cookie}: {heard:?}");
            assert!(!heard.body.contains("Secret"), "{path}: {heard:?}");
            assert_eq!(heard.header("set-cookie"), None);
        }
    }
    let heard = patiently("the kiln to be seen", || {
        Some(served.get("/", &cookie)).filter(|heard| heard.body.contains("Secret"))
    });
    assert_eq!(heard.status, 200);
}

#[test]
fn law_a_code_pairs_one_device_and_asking_for_it_spends_nothing() {
    let served = Served::new();
    served.offer();
    for _ in 0..3 {
        let heard = served.get(&format!("/P/{SCANNED}"), "");
        assert_eq!((heard.status, heard.header("set-cookie")), (200, None));
    }
    let heard = served.pair_with(SCANNED, "Ada%27s+phone");
    assert_eq!(heard.status, 303, "{heard:?}");
    let cookie = heard.header("set-cookie").unwrap();
    assert!(cookie.starts_with(&format!("spyhole_{}=", served.port)), "{cookie}");
    for flag in ["HttpOnly", "SameSite=Lax", "Path=/", "Max-Age="] {
        assert!(cookie.contains(flag), "{cookie}");
    }
    let devices = served.shop.journal.devices().unwrap();
    assert_eq!(devices[0].name, "Ada's phone");
    let token = cookie.split(['=', ';']).nth(1).unwrap();
    assert_eq!(devices[0].token, digest(token), "only its check sum is kept");
    // Spent, whichever form it is typed in.
    assert_eq!(served.pair_with(SCANNED, "other").status, 410);
    assert_eq!(served.pair_with(TYPED, "other").status, 410);
    // Over, and not shown any more.
    let number = served.offer();
    served.shop.journal.show_offer(number, Span::seconds(-1), now()).unwrap();
    assert_eq!(served.pair_with(SCANNED, "other").status, 410);
    let over = now() - Span::seconds(1);
    let number = served.shop.journal.offer(&digest(SCANNED), &digest(TYPED), over).unwrap();
    // It was shown until a moment ago.
    served.shop.journal.show_offer(number, Span::minutes(5), over - Span(1)).unwrap();
    assert_eq!(served.pair_with(SCANNED, "other").status, 410);
    // Typed as people do; a name that is taken does not spend it.
    served.offer();
    assert_eq!(served.pair_with("bcdf-ghjk", "Ada%27s+phone").status, 409);
    assert_eq!(served.pair_with("bcdf-ghjk", "tablet").status, 303);
    assert_eq!(served.shop.journal.devices().unwrap().len(), 2);
}

#[test]
fn law_a_device_takes_the_place_of_the_one_of_its_name_only_by_a_code_and_where_somebody_says_so() {
    let served = Served::new();
    served.set_pin("4821");
    let before = served.noting("Ada");
    served.offer();
    let again =
        |code: &str| served.post("/pair", "", &format!("code={code}&name=Ada%27s+phone&again=1"));
    // Not by its name alone, and not by a guess.
    let asked = served.pair_with(TYPED, "Ada%27s+phone");
    assert_eq!(asked.status, 409);
    assert!(asked.body.contains("name=\"again\""), "{asked:?}");
    assert!(!served.pair_with("ZZZ", "Ada%27s+phone").body.contains("again"));
    assert_eq!(again("ZZZZZZZZ").status, 410);
    assert_eq!(served.get("/", &before).status, 200);
    let heard = again(TYPED);
    assert_eq!(heard.status, 303, "{heard:?}");
    let cookie = heard.header("set-cookie").unwrap().split(';').next().unwrap();
    assert_eq!(served.get("/", cookie).status, 200);
    assert_eq!(served.get("/", &before).status, 401);
    // It is told the PIN anew, and the code is spent.
    let devices = served.shop.journal.devices().unwrap();
    let rights: Vec<_> = devices.iter().map(|one| (one.name.as_str(), one.unlocked)).collect();
    assert_eq!(rights, [("Ada's phone", false)]);
    assert_eq!(again(TYPED).status, 410);
    assert_eq!(served.get("/", cookie).status, 200);
}

#[test]
fn law_five_wrong_codes_burn_the_one_that_is_shown() {
    let served = Served::new();
    for wrong in [4, 5] {
        served.offer();
        for _ in 0..wrong {
            assert_eq!(served.pair_with("ZZZZZZZZ", "thief").status, 410);
        }
        // What cannot be a code, or was scanned, is no guess.
        assert_eq!(served.pair_with("ZZZ", "thief").status, 400);
        assert_eq!(served.pair_with("ABCDEFGHJKLMNPQS", "thief").status, 410);
        let heard = served.pair_with(TYPED, "owner");
        assert_eq!(heard.status, if wrong < 5 { 303 } else { 410 }, "{wrong}: {heard:?}");
    }
}

#[test]
fn law_a_body_that_is_too_long_is_not_read() {
    let served = Served::new();
    served.offer();
    let long = format!("code={SCANNED}&name={}", "a".repeat(40_000));
    assert_eq!(served.post("/pair", "", &long).status, 413);
    // The same without a length said before.
    let (host, piece) = (served.host(), "a".repeat(40_000));
    let heard = served.raw(&format!(
        "POST /pair HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nContent-Type: application/x-www-form-urlencoded\r\nTransfer-Encoding: chunked\r\nConnection: close\r\n\r\n{:x}\r\n{piece}\r\n0\r\n\r\n",
        piece.len()
    ));
    assert_eq!(heard.status, 413, "{heard:?}");
    assert_eq!(served.pair_with(SCANNED, "phone").status, 303);
}

/// An address of this computer from which a connection does not count as of 127.0.0.1.
fn another_address() -> IpAddr {
    let socket = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).unwrap();
    let leads_out = socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9));
    let found = leads_out.ok().and_then(|()| Some(socket.local_addr().ok()?.ip()));
    found.unwrap_or("::1".parse().unwrap())
}

#[test]
fn law_connections_that_say_nothing_keep_nobody_out() {
    let served = Served::new();
    let silent: Vec<TcpStream> = (0..200)
        .map(|number| {
            let mut stream = connected(served.port).unwrap();
            if number % 2 == 0 {
                let _ = stream.write_all(b"GET / HTTP/1.1\r\nHost: 127");
            }
            stream
        })
        .collect();
    // Another address is answered meanwhile.
    let ip = another_address();
    let host = SocketAddr::new(ip, served.port);
    let stream = TcpStream::connect(host).unwrap();
    stream.set_read_timeout(Some(SILENCE)).unwrap();
    assert_eq!(send(stream, &getting(&host.to_string(), "/pair", "")).unwrap().status, 200);
    // And in time the first one as well, though none of the silent has gone.
    let asked = getting(&served.host(), "/pair", "");
    patiently("an answer", || {
        send(connected(served.port)?, &asked).filter(|heard| heard.status == 200)
    });
    drop(silent);
}

/// A connection from this address of this computer.
#[cfg(target_os = "linux")]
fn connected_from(from: Ipv4Addr, port: u16) -> TcpStream {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_io().build().unwrap();
    let connecting = async {
        let socket = tokio::net::TcpSocket::new_v4().unwrap();
        socket.bind((from, 0).into()).unwrap();
        socket.connect((Ipv4Addr::LOCALHOST, port).into()).await.unwrap().into_std().unwrap()
    };
    let stream = runtime.block_on(connecting);
    stream.set_nonblocking(false).unwrap();
    stream.set_read_timeout(Some(SILENCE)).unwrap();
    stream
}

#[test]
#[cfg(target_os = "linux")]
fn law_one_connection_too_many_is_let_go_of_and_one_that_ends_makes_room() {
    let served = Served::new();
    let from = |last: u8| Ipv4Addr::new(127, 0, 0, last);
    let asked = getting(&served.host(), "/pair", "");
    let ask = |last: u8| send(connected_from(from(last), served.port), &asked);
    // Each address has no more than it may have by itself.
    let all = || (0..128).map(|number| connected_from(from(2 + number / 16), served.port));
    let mut held = patiently("there to be no room", || {
        let held: Vec<TcpStream> = all().collect();
        ask(100).is_none().then_some(held)
    });
    held.pop();
    patiently("room", || ask(100).filter(|heard| heard.status == 200));
}

#[test]
fn law_connections_that_say_nothing_disturb_neither_journal_nor_bell() {
    let place = tempfile::tempdir().unwrap();
    let out = place.path().join("rings");
    let mut shop = TestShop::new(&settings(&out));
    let port = free_port();
    shop.journal.switch_page_on(Some(port), port).unwrap();
    let firing = shop.light("North", Span::hours(1));
    // With few files, as on a small computer.
    let plain = shop.keeper();
    let mut keeper = std::process::Command::new("sh");
    keeper.args(["-c", "ulimit -n 96; exec \"$@\"", "sh"]).arg(plain.get_program());
    keeper.args(plain.get_args()).env("DBUS_SESSION_BUS_ADDRESS", NO_BUS);
    let _keeper = Running(keeper.stdout(std::process::Stdio::null()).spawn().unwrap());
    patiently("the page", || connected(port));
    let ips = ["127.0.0.1".parse().unwrap(), "::1".parse().unwrap(), another_address()];
    let addresses = ips.into_iter().cycle().take(300).map(|ip| SocketAddr::new(ip, port));
    let connect = |at: SocketAddr| TcpStream::connect_timeout(&at, Duration::from_secs(2)).ok();
    let mut silent: Vec<TcpStream> = addresses.filter_map(connect).collect();
    for stream in &mut silent {
        let _ = stream.write_all(b"GET / HTTP/1.1\r\nHost: 127");
    }
    shop.see_down(firing);
    patiently("the bell to ring", || {
        fs::read_to_string(&out).is_ok_and(|rings| rings.contains("North")).then_some(())
    });
    patiently("the call to be written down", || {
        let of_program = |one: &StoredEvent| one.event.who == Who::Program;
        stored(&shop.journal, None).iter().any(of_program).then_some(())
    });
    drop(silent);
}

#[test]
fn law_a_device_that_does_not_read_is_told_the_newest_and_holds_up_nobody() {
    const CHANGES: usize = 36;
    let mut served = Served::new();
    served.set_pin("4821");
    let firing = served.shop.light("North", Span::hours(1)).0;
    let cookie = served.noting("Ada");
    let mut stream = connected(served.port).unwrap();
    let host = served.host();
    let asked =
        format!("GET /state?kiln=North HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie}\r\n\r\n");
    stream.write_all(asked.as_bytes()).unwrap();
    // More in all than lies between two programs.
    let long = "🏺".repeat(3_900);
    for number in 0..CHANGES {
        let note = format!("kind=note&kiln=North&firing={firing}&rev=0&uid={number}&text={long}");
        served.note(&cookie, &note).saved();
    }
    let (newest, mut heard) = (format!("\"rev\":{}", served.rev()), Vec::new());
    let mut piece = vec![0; 1 << 20];
    let mut from = 0;
    while !String::from_utf8_lossy(&heard[from..]).contains(&newest) {
        let count = stream.read(&mut piece).unwrap();
        assert!(count > 0, "it ends without {newest}");
        // It may lie across two pieces.
        from = heard.len().saturating_sub(newest.len());
        heard.extend_from_slice(&piece[..count]);
    }
    let told = String::from_utf8_lossy(&heard).matches("event: state").count();
    assert!(told < CHANGES, "{told} pictures waited for it");
}

#[test]
fn law_every_answer_says_what_a_browser_may_do_with_it() {
    let served = Served::new();
    let cookie = served.pair("phone");
    for heard in [
        served.get("/", &cookie),
        served.get("/", ""),
        served.get("/page.js", ""),
        served.get("/nowhere", &cookie),
        served.post_from("", "/answer", &cookie, ""),
        served.raw("GET / HTTP/1.1\r\nHost: evil.test\r\nConnection: close\r\n\r\n"),
    ] {
        let policy = heard.header("content-security-policy").unwrap();
        assert!(policy.contains("default-src 'none'") && policy.contains("frame-ancestors 'none'"));
        assert!(!policy.contains("unsafe"), "{policy}");
        for (name, value) in [
            ("x-frame-options", "DENY"),
            ("x-content-type-options", "nosniff"),
            ("referrer-policy", "same-origin"),
            ("cross-origin-resource-policy", "same-origin"),
            ("cache-control", "no-store"),
        ] {
            assert_eq!(heard.header(name), Some(value), "{heard:?}");
        }
        assert_eq!(heard.header("access-control-allow-origin"), None);
        assert!(!heard.body.contains(" style="), "{}", heard.body);
    }
    // Over plain http a browser goes by this one at the computer itself only.
    let (opener, port) = ("cross-origin-opener-policy", served.port);
    assert_eq!(served.get("/pair", "").header(opener), Some("same-origin"));
    let host = SocketAddr::new(another_address(), port);
    let stream = TcpStream::connect(host).unwrap();
    stream.set_read_timeout(Some(SILENCE)).unwrap();
    let heard = send(stream, &getting(&host.to_string(), "/pair", "")).unwrap();
    let is_here = host.ip().is_loopback();
    assert_eq!((heard.status, heard.header(opener).is_some()), (200, is_here));
}

#[test]
fn law_no_name_becomes_anything_but_text() {
    let mut served = Served::new();
    let cookie = served.pair("%3Cscript%3Ealert(2)%3C%2Fscript%3E");
    let firing = served.ring("</svg><script>alert(1)</script>\" onload=\"x").0;
    let floor = patiently("the kiln to be seen", || {
        Some(served.get("/", &cookie)).filter(|heard| heard.body.contains("alert(1)"))
    });
    let kiln = floor.body.split("href=\"/kiln/").nth(1).unwrap().split('"').next().unwrap();
    let written = ["/bench", "/shop", "/plan", "/review", "/ledger?words=%3Cscript%3E"];
    let of_kiln = [format!("/kiln/{kiln}"), format!("/past?kiln={kiln}")];
    let of_firing = ["card", "correct"].map(|path| format!("/{path}?firing={firing}"));
    let paths = ["/", "/far", "/P/%3Cscript%3E%22"].into_iter().chain(written).map(str::to_owned);
    for path in paths.chain(of_kiln).chain(of_firing) {
        let heard = served.get(&path, &cookie);
        assert_eq!(heard.status, 200, "{path}: {heard:?}");
        let own = heard.body.matches("<script").count();
        assert_eq!(own, heard.body.matches("<script src=\"/").count());
        assert!(!heard.body.contains("\" onload=\""), "{}", heard.body);
        assert!(!heard.body.contains(" style=") && !heard.body.contains("<style"), "{path}");
    }
    let told = served.get("/state.json", &cookie);
    let told: Value = serde_json::from_str(&told.body).unwrap();
    assert!(!told["html"].as_str().unwrap().contains("<script"), "{told}");
}

#[test]
fn law_an_answer_is_written_once_by_the_name_of_the_device() {
    let mut served = Served::new();
    let cookie = served.pair("Ada%27s+phone");
    let firing = served.ring("North");
    let body = format!("alarm=shut_off&firing={}&uid=0123456789abcdef", firing.0);
    for _ in 0..3 {
        let heard = served.post("/answer", &cookie, &body);
        assert_eq!(heard.status, 200, "{heard:?}");
        assert!(heard.body.contains("Shut off North now"), "{heard:?}");
    }
    assert_eq!(answers(&served, firing), [Who::Person("Ada's phone".into())]);
    // What does not ring is not answered.
    for body in [format!("alarm=stay&firing={}", firing.0), "alarm=shut_off&firing=77".into()] {
        assert_eq!(served.post("/answer", &cookie, &body).status, 409);
    }
    assert_eq!(served.post("/answer", &cookie, "alarm=lunch&firing=1").status, 400);
}

#[test]
fn law_a_device_hears_what_rings_until_it_is_forgotten() {
    let mut served = Served::new();
    let cookie = served.pair("phone");
    let mut stream = connected(served.port).unwrap();
    let host = served.host();
    let asked = format!("GET /state HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie}\r\n\r\n");
    stream.write_all(asked.as_bytes()).unwrap();
    let mut heard = String::new();
    let mut hear = |what: &str| {
        let mut bytes = [0; 4096];
        for tries in 0.. {
            if heard.contains(what) {
                break;
            }
            // A tick comes every few seconds, whatever else does.
            assert!(tries < 40, "{what} in {heard}");
            let count = stream.read(&mut bytes).unwrap();
            assert!(count > 0, "{what} in {heard}");
            heard.push_str(&String::from_utf8_lossy(&bytes[..count]));
        }
        heard.clone()
    };
    let first = hear("event: state");
    assert!(first.contains("data: null"), "{first}");
    hear("event: tick");
    served.ring("North");
    let rings = hear("Shut off North now");
    assert!(!rings.contains("event: bye"), "{rings}");
    served.shop.journal.forget_device("phone").unwrap();
    hear("data: forgotten");
    assert_eq!(served.get("/", &cookie).status, 401);
}

#[test]
fn law_the_page_is_there_while_it_is_switched_on_and_the_watch_is_held() {
    let shop = TestShop::new("{}");
    let port = free_port();
    let shown = Shown::default();
    step(&shop, &shown);
    let page = Page::beside(&shop.path(), Counsel::default(), Arc::clone(&shown)).unwrap();
    assert_eq!(shop.journal.page().unwrap(), None);
    let mut served = Served { shop, shown, page: Some(page), port };
    // Off until somebody switches it on.
    served.shop.journal.switch_page_on(Some(port), port).unwrap();
    served.step();
    let by = |served: &Served| served.shop.journal.page().unwrap().map(|page| page.served);
    patiently("the page", || (by(&served) == Some(std::process::id())).then_some(()));
    let cookie = served.pair("phone");
    served.shop.journal.switch_page_off().unwrap();
    served.step();
    patiently("the port to be closed", || connected(port).is_none().then_some(()));
    served.shop.journal.switch_page_on(None, 1).unwrap();
    served.step();
    patiently("the page again", || connected(port));
    assert_eq!(served.get("/", &cookie).status, 200);
    // Whoever loses the watch closes it, and whoever takes it over lets the same devices in.
    show(&served.shown, View::default());
    patiently("the port to be closed", || connected(port).is_none().then_some(()));
    drop(served.page.take());
    served.watch();
    assert_eq!(served.get("/", &cookie).status, 200);
}

#[test]
fn law_a_port_that_another_has_is_told_and_taken_once_it_is_free() {
    let shop = TestShop::new("{}");
    let taken = TcpListener::bind(("::", 0)).unwrap();
    let port = taken.local_addr().unwrap().port();
    shop.journal.switch_page_on(Some(port), port).unwrap();
    let shown = Shown::default();
    step(&shop, &shown);
    let page = Page::beside(&shop.path(), Counsel::default(), shown).unwrap();
    patiently("the trouble to be told", || {
        let page = shop.journal.page().unwrap()?;
        page.trouble.contains(&port.to_string()).then_some(())
    });
    drop(taken);
    patiently("the page", || {
        let page = shop.journal.page().unwrap()?;
        (page.served == std::process::id() && page.trouble.is_empty()).then_some(())
    });
    drop(page);
}

/// Contrast of two colours, `#26221f`, after WCAG 2.2.
fn contrast(one: &str, other: &str) -> f64 {
    let light = |colour: &str| -> f64 {
        let part = |from: usize| {
            let part = f64::from(u8::from_str_radix(&colour[from..from + 2], 16).unwrap()) / 255.0;
            if part <= 0.040_45 { part / 12.92 } else { ((part + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * part(1) + 0.7152 * part(3) + 0.0722 * part(5)
    };
    let (a, b) = (light(one), light(other));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

#[test]
fn published_every_letter_of_the_page_stands_out() {
    let style = include_str!("../../src/edge/page/page.css");
    let papers: Vec<&str> = style.split("--paper: ").skip(1).collect();
    assert_eq!(papers.len(), 2, "bright and dark");
    for paper in papers {
        let block = format!("--paper: {paper}");
        let colour = |name: &str| {
            let rest = block.split(&format!("--{name}: ")).nth(1).unwrap();
            rest.split(';').next().unwrap().to_owned()
        };
        for (letters, ground) in [
            ("ink", "paper"),
            ("ink", "card"),
            ("ink", "straw"),
            ("quiet", "paper"),
            ("quiet", "card"),
            ("ember", "paper"),
            ("ember", "card"),
            ("on-ember", "ember"),
            ("slate", "card"),
        ] {
            let found = contrast(&colour(letters), &colour(ground));
            assert!(found >= 4.5, "{letters} on {ground}: {found:.1}");
        }
    }
}
