//! Rings sent to other computers, each a real socket here: one that takes them, and others that hang,
//! drip, refuse or are gone.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::os::unix::fs::PermissionsExt;
use std::sync::mpsc::{self, Receiver, Sender};
use std::thread;

use spyhole::testing::alarm::{Key, Target};
use spyhole::testing::edge::bell::email::{Email, EmailSettings};
use spyhole::testing::edge::bell::mqtt::{Mqtt, MqttSettings};
use spyhole::testing::edge::bell::webhook::{Webhook, WebhookSettings};
use spyhole::testing::edge::bell::{Ring, Way};

use crate::prelude::*;

const NOW: Moment = Moment(1_772_352_000_000);
const KEY: Key = Key { task: Task::LookDue, firing: FiringId(7) };
/// Where the peer answers well.
const PLENTY: Duration = Duration::from_secs(20);
/// Where it does not.
const SHORT: Duration = Duration::from_millis(300);

fn ring(way: WayName) -> Ring {
    let alarm = Alarm { key: KEY, kiln: "Nörth".into(), ..crate::bell_ways::alarm() };
    let target = Target { person: "Ada".into(), reach: "ada@example.org".into(), way };
    let call = Call {
        at: NOW,
        alarms: vec![alarm],
        priority: Priority::Medium,
        count: 2,
        volume: 0.55,
        targets: vec![target.clone()],
        fallback: Vec::new(),
        last_resort: Vec::new(),
        late: None,
    };
    Ring::new(&call, target, Scale::Celsius)
}

/// A computer that treats every caller so; its address.
fn peer(serve: impl Fn(TcpStream) + Send + Clone + 'static) -> String {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = listener.local_addr().unwrap().to_string();
    thread::spawn(move || {
        for caller in listener.incoming().flatten() {
            let serve = serve.clone();
            thread::spawn(move || serve(caller));
        }
    });
    address
}

/// Addresses of computers that take nothing, with what each does.
fn bad_peers() -> [(&'static str, String); 3] {
    let hangs = peer(|caller| {
        thread::sleep(Duration::from_secs(60));
        drop(caller);
    });
    // A byte now and then: whoever limits the silence alone waits for ever.
    let drips = peer(|mut caller| {
        while caller.write_all(b"2").is_ok() {
            thread::sleep(Duration::from_millis(20));
        }
    });
    let gone = TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().to_string();
    [("hangs", hangs), ("drips", drips), ("is gone", gone)]
}

fn secret_file(folder: &Path, mode: u32) -> String {
    let file = folder.join("secret");
    fs::write(&file, "open sesame\n").unwrap();
    fs::set_permissions(&file, fs::Permissions::from_mode(mode)).unwrap();
    file.display().to_string()
}

/// A request with its body, and the answer it gets.
fn web_server(answers: &'static [&'static str]) -> (String, Receiver<String>) {
    let (tell, heard) = mpsc::channel();
    let turn = std::sync::Arc::new(std::sync::atomic::AtomicUsize::new(0));
    let address = peer(move |caller| {
        let mut reader = BufReader::new(&caller);
        let mut request = String::new();
        while !request.ends_with("\r\n\r\n") {
            assert_ne!(reader.read_line(&mut request).unwrap(), 0, "{request}");
        }
        let length = request.lines().find_map(|line| line.strip_prefix("content-length: "));
        let mut body = vec![0; length.unwrap().parse().unwrap()];
        reader.read_exact(&mut body).unwrap();
        request += &String::from_utf8(body).unwrap();
        let turn = turn.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
        let answer = answers[turn.min(answers.len() - 1)];
        write!(&caller, "HTTP/1.1 {answer}\r\ncontent-length: 0\r\n\r\n").unwrap();
        tell.send(request).unwrap();
    });
    (address, heard)
}

fn webhook(address: &str, limit: Duration) -> Webhook {
    let url = format!("http://{address}/kilns");
    Webhook::new(WebhookSettings { url, ..WebhookSettings::default() }, limit)
}

#[test]
fn law_a_webhook_posts_the_ring_as_json_or_as_text() {
    let folder = tempfile::tempdir().unwrap();
    let (address, heard) = web_server(&["202 Accepted"]);
    let by = webhook(&address, PLENTY).ring(&ring(WayName::Webhook)).unwrap();
    assert_eq!(by, "127.0.0.1 took it (202), by http: who listens in the network can read it");
    let request = heard.recv().unwrap();
    assert!(request.starts_with("POST /kilns HTTP/1.1\r\n"), "{request}");
    assert!(request.contains("content-type: application/json\r\n"), "{request}");
    let (_, body) = request.split_once("\r\n\r\n").unwrap();
    let body: Value = serde_json::from_str(body).unwrap();
    assert_eq!(body["headline"], "Look at Nörth");
    assert_eq!(
        (&body["alarms"][0]["alarm"], &body["ring"], &body["person"], &body["late_minutes"]),
        (&"look_due".into(), &2.into(), &"Ada".into(), &Value::Null)
    );
    let settings = WebhookSettings {
        url: format!("http://{address}/kilns"),
        body: "text".into(),
        headers: vec!["Authorization: Bearer {secret}".into(), "Title: Kilns".into()],
        secret_file: secret_file(folder.path(), 0o600),
    };
    settings.check().unwrap();
    let mut hook = Webhook::new(settings.clone(), PLENTY);
    hook.ring(&ring(WayName::Webhook)).unwrap();
    let request = heard.recv().unwrap();
    assert!(request.contains("authorization: Bearer open sesame\r\ntitle: Kilns\r\n"), "{request}");
    assert!(
        request.contains("\r\n\r\nLook at Nörth\nOnce the cone is down you have 6 min."),
        "{request}"
    );
    assert!(!format!("{hook:?}").contains("sesame"));
    // A secret that others can read goes nowhere, and is not said.
    let settings = WebhookSettings { secret_file: secret_file(folder.path(), 0o644), ..settings };
    let refused = Webhook::new(settings, PLENTY).ring(&ring(WayName::Webhook)).unwrap_err();
    assert!(refused.to_string().contains("others can read it too: run chmod 600"), "{refused}");
    assert!(!refused.to_string().contains("sesame") && heard.try_recv().is_err());
}

#[test]
fn law_a_webhook_is_tried_again_where_that_may_help_and_led_nowhere_else() {
    let (address, heard) = web_server(&["503 Busy", "200 OK"]);
    let by = webhook(&address, Duration::from_secs(6)).ring(&ring(WayName::Webhook));
    assert!(by.unwrap().starts_with("127.0.0.1 took it (200)"));
    let key = |request: String| {
        let line = request.lines().find(|line| line.starts_with("idempotency-key: "));
        line.unwrap().to_owned()
    };
    assert_eq!(key(heard.recv().unwrap()), key(heard.recv().unwrap()));
    let (elsewhere, never) = web_server(&["200 OK"]);
    let moved = format!("302 Found\r\nlocation: http://{elsewhere}/");
    for (answer, says) in
        [("404 Not Found", "it answers 404 Not Found"), (moved.leak(), "it answers 302 Found")]
    {
        let (address, heard) = web_server(Box::leak(Box::new([answer])));
        let refused = webhook(&address, PLENTY).ring(&ring(WayName::Webhook)).unwrap_err();
        assert_eq!(refused.to_string(), format!("127.0.0.1: {says}"));
        assert_eq!(heard.iter().take(1).count(), 1);
        assert!(heard.try_recv().is_err(), "it is asked once");
    }
    assert!(never.try_recv().is_err());
}

#[test]
fn law_a_hook_that_answers_without_end_is_not_listened_to() {
    let (tell, taken) = mpsc::channel();
    let address = peer(move |mut caller| {
        let _ = caller.write_all(b"HTTP/1.1 200 OK\r\ncontent-length: 1000000000000\r\n\r\n");
        let pieces = (0..).take_while(|_| caller.write_all(&[b'x'; 4_096]).is_ok());
        tell.send(4_096 * pieces.count()).unwrap();
    });
    let by = webhook(&address, Duration::from_secs(6)).ring(&ring(WayName::Webhook)).unwrap();
    assert!(by.starts_with("127.0.0.1 took it (200)"), "{by}");
    // What lies between two programs is not read.
    let taken = taken.recv_timeout(PLENTY).unwrap();
    assert!(taken < 16 << 20, "{taken} bytes");
}

#[test]
fn law_a_peer_that_hangs_drips_or_is_gone_is_given_up_on_by_every_way() {
    let folder = tempfile::tempdir().unwrap();
    for (what, address) in bad_peers() {
        let email = EmailSettings {
            server: address.clone(),
            from: "kilns@example.org".into(),
            ..EmailSettings::default()
        };
        let broker = MqttSettings { broker: address.clone(), ..MqttSettings::default() };
        let ways: [Box<dyn Way>; 3] = [
            Box::new(webhook(&address, SHORT)),
            Box::new(Email::new(email, SHORT)),
            Box::new(Mqtt::new(broker, &folder.path().join("shop.db"), SHORT)),
        ];
        for mut way in ways {
            let name = way.name();
            // On a thread of its own: the test ends even if the ring does not.
            let (tell, told) = mpsc::channel();
            thread::spawn(move || {
                way.hold(true);
                tell.send(way.ring(&ring(way.name())))
            });
            let came_back = told.recv_timeout(PLENTY);
            let result =
                came_back.unwrap_or_else(|_| panic!("{name}: a peer that {what} holds it"));
            assert!(result.is_err(), "{name}: a peer that {what} delivers: {result:?}");
        }
    }
}

/// A mail server that offers this, answers the recipient so, and tells every line it hears.
fn mail_server(offers: &'static str, recipient: &'static str) -> (String, Receiver<String>) {
    let (tell, heard) = mpsc::channel();
    let address = peer(move |caller| {
        let answer = |text: &str| write!(&caller, "{text}\r\n").unwrap();
        let mut reader = BufReader::new(&caller);
        let mut in_data = false;
        answer("220 mail.example.org");
        loop {
            let mut line = String::new();
            if reader.read_line(&mut line).unwrap_or(0) == 0 {
                return;
            }
            let line = line.trim_end().to_owned();
            match line.split([' ', ':']).next().unwrap() {
                "." => {
                    in_data = false;
                    answer("250 taken");
                }
                _ if in_data => {}
                "EHLO" => answer(&format!("250-mail.example.org\r\n250-8BITMIME\r\n250 {offers}")),
                "AUTH" => answer("235 welcome"),
                "RCPT" => answer(recipient),
                "DATA" => {
                    in_data = true;
                    answer("354 go on");
                }
                "QUIT" => answer("221 bye"),
                _ => answer("250 fine"),
            }
            // Nobody may listen any more.
            let _ = tell.send(line);
        }
    });
    (address, heard)
}

#[test]
fn law_an_email_has_the_whole_message_in_its_subject_and_goes_out_safely() {
    let folder = tempfile::tempdir().unwrap();
    let settings = |server: String, security: &str| EmailSettings {
        server,
        from: "Kilns <kilns@example.org>".into(),
        user: "kilns".into(),
        secret_file: secret_file(folder.path(), 0o600),
        security: security.into(),
    };
    let send = |server: &str, security: &str| {
        let settings = settings(server.into(), security);
        settings.check().unwrap();
        Email::new(settings, PLENTY).ring(&ring(WayName::Email))
    };
    let (server, heard) = mail_server("AUTH PLAIN", "250 fine");
    assert_eq!(send(&server, ""), Ok(format!("handed to the mail server {server}")));
    let lines: Vec<String> = heard.iter().take_while(|line| line != ".").collect();
    // The mechanism PLAIN of RFC 4616: nothing, the user, the secret.
    assert!(lines.contains(&"AUTH PLAIN AGtpbG5zAG9wZW4gc2VzYW1l".into()), "{lines:?}");
    assert!(lines.iter().any(|line| line.starts_with("RCPT TO:<ada@example.org>")), "{lines:?}");
    assert!(lines.contains(&"Auto-Submitted: auto-generated".into()), "{lines:?}");
    let subject = lines.iter().position(|line| line.starts_with("Subject: ")).unwrap();
    let folded = lines[subject + 1..].iter().take_while(|line| line.starts_with(' '));
    let words = folded.fold(lines[subject].clone(), |all, line| all + line);
    // "Nörth" as an encoded word of RFC 2047; the rest in plain letters.
    assert!(words.contains("=?utf-8?b?") && words.contains("Look through the spyhole"), "{words}");
    // No encryption is offered: nothing of worth is said.
    for security in ["starttls", "tls"] {
        let (server, heard) = mail_server("AUTH PLAIN", "250 fine");
        assert!(send(&server, security).is_err());
        let lines: Vec<String> = heard.try_iter().collect();
        assert!(!lines.iter().any(|line| line.starts_with("AUTH")), "{security}: {lines:?}");
    }
    let (server, _heard) = mail_server("AUTH PLAIN", "550 no such person here");
    let refused = send(&server, "").unwrap_err().to_string();
    assert!(refused.contains("no such person here"), "{refused}");
}

/// What a broker hears, of the messages that matter here.
#[derive(Debug, PartialEq)]
enum Heard {
    /// Who it is, and the will: topic, text, whether it stays.
    Connect(String, Option<(String, String, bool)>),
    /// Topic, text, whether it stays.
    Publish(String, String, bool),
    Goodbye,
    /// It asks for messages.
    Subscribe,
    /// The connection has ended.
    Lost,
}

/// A broker after the tables of MQTT 3.1.1, sections 2.2 to 3.14.
fn broker() -> (String, Receiver<Heard>) {
    broker_that_says(&[])
}

/// The same, and it says this unasked to every caller it has welcomed.
fn broker_that_says(unasked: &'static [u8]) -> (String, Receiver<Heard>) {
    let (tell, heard) = mpsc::channel();
    (peer(move |caller| serve_mqtt(&caller, unasked, &tell)), heard)
}

fn serve_mqtt(mut caller: &TcpStream, unasked: &[u8], tell: &Sender<Heard>) {
    let mut first = [0; 2];
    // Its messages are shorter than 128 bytes or need one more byte of length.
    while caller.read_exact(&mut first).is_ok() {
        let mut length = usize::from(first[1] & 0x7F);
        let mut shift = 7;
        let mut more = first[1];
        while more & 0x80 != 0 {
            let mut byte = [0];
            caller.read_exact(&mut byte).unwrap();
            more = byte[0];
            length += usize::from(more & 0x7F) << shift;
            shift += 7;
        }
        let mut packet = vec![0; length];
        caller.read_exact(&mut packet).unwrap();
        let mut rest = &packet[..];
        let text = |rest: &mut &[u8]| {
            let (text, after) =
                rest[2..].split_at(usize::from(u16::from_be_bytes([rest[0], rest[1]])));
            let text = String::from_utf8(text.to_vec()).unwrap();
            *rest = &rest[rest.len() - after.len()..];
            text
        };
        let heard = match first[0] >> 4 {
            1 => {
                assert_eq!(text(&mut rest), "MQTT");
                let (flags, mut rest) = (packet[7], &packet[10..]);
                let name = text(&mut rest);
                let mut will = || (text(&mut rest), text(&mut rest), flags & 32 != 0);
                let will = (flags & 4 != 0).then(&mut will);
                caller.write_all(&[0x20, 2, 0, 0]).unwrap();
                // Whoever does not want it may be gone.
                let _ = caller.write_all(unasked);
                Heard::Connect(name, will)
            }
            3 => {
                let topic = text(&mut rest);
                if first[0] & 6 != 0 {
                    caller.write_all(&[0x40, 2, rest[0], rest[1]]).unwrap();
                    rest = &rest[2..];
                }
                let said = String::from_utf8(rest.to_vec()).unwrap();
                Heard::Publish(topic, said, first[0] & 1 != 0)
            }
            8 => Heard::Subscribe,
            14 => Heard::Goodbye,
            _ => continue,
        };
        tell.send(heard).unwrap();
    }
    // Nobody may listen any more.
    let _ = tell.send(Heard::Lost);
}

#[test]
fn law_a_broker_hears_of_the_watch_and_of_each_alarm_until_it_is_answered() {
    let (address, heard) = broker();
    let settings = MqttSettings { broker: address, ..MqttSettings::default() };
    settings.check().unwrap();
    let mut mqtt = Mqtt::new(settings, Path::new("/srv/my shop.db"), PLENTY);
    let next = || heard.recv_timeout(PLENTY).unwrap();
    let watch = |said: &str| ("spyhole/my-shop/watch".to_owned(), said.to_owned(), true);
    let publish = |(topic, said, stays)| Heard::Publish(topic, said, stays);
    mqtt.hold(true);
    let Heard::Connect(own, will) = next() else { panic!("it connects") };
    assert_eq!(will, Some(watch("gone")));
    assert_eq!(next(), publish(watch("here")));
    mqtt.ring(&ring(WayName::Mqtt)).unwrap();
    let Heard::Publish(topic, said, true) = next() else { panic!("it stays at its topic") };
    assert_eq!(topic, "spyhole/my-shop/alarm/7-look_due");
    let said: Value = serde_json::from_str(&said).unwrap();
    assert_eq!(said["headline"], "Look at Nörth");
    mqtt.settle(KEY);
    assert_eq!(next(), publish((topic, String::new(), true)));
    // It ends without a goodbye, so that the broker opens the will.
    mqtt.hold(false);
    let rest: Vec<Heard> =
        std::iter::repeat_with(next).take_while(|one| *one != Heard::Lost).collect();
    assert!(!rest.contains(&Heard::Goodbye), "{rest:?}");
    // A test is another caller, leaves no will, and nothing behind.
    let mut test = ring(WayName::Mqtt);
    test.call.alarms.clear();
    mqtt.ring(&test).unwrap();
    let Heard::Connect(name, None) = next() else { panic!("a test leaves no will") };
    assert_ne!(name, own);
    let Heard::Publish(topic, _, true) = next() else { panic!("it is sent") };
    assert_eq!(next(), publish((topic, String::new(), true)));
}

#[test]
fn law_a_broker_gives_no_orders_and_what_it_says_is_read_to_a_limit() {
    // An answer to the alarm, as a message of MQTT 3.1.1, section 3.3.
    let order = b"\x30\x2f\0\x27spyhole/my-shop/alarm/7-look_due/answerAda!  ";
    let (address, heard) = broker_that_says(order);
    let settings = MqttSettings { broker: address, ..MqttSettings::default() };
    let mut mqtt = Mqtt::new(settings.clone(), Path::new("/srv/my shop.db"), PLENTY);
    mqtt.hold(true);
    mqtt.ring(&ring(WayName::Mqtt)).unwrap();
    mqtt.hold(false);
    let all: Vec<Heard> = heard.iter().take_while(|one| *one != Heard::Lost).collect();
    assert!(!all.contains(&Heard::Subscribe), "{all:?}");
    let rings = all
        .iter()
        .filter(|one| matches!(one, Heard::Publish(topic, ..) if topic.contains("alarm")));
    assert_eq!(rings.count(), 1, "{all:?}");
    // The same of three megabytes: it is hung up on.
    let long: Vec<u8> = [b"\x30\x80\x80\xc0\x01\0\x01x", &vec![b'x'; (3 << 20) - 3][..]].concat();
    let (address, heard) = broker_that_says(long.leak());
    let mut mqtt = Mqtt::new(
        MqttSettings { broker: address, ..settings },
        Path::new("/srv/my shop.db"),
        PLENTY,
    );
    mqtt.hold(true);
    let next = || heard.recv_timeout(PLENTY).unwrap();
    assert!(matches!(next(), Heard::Connect(..)));
    while next() != Heard::Lost {}
}
