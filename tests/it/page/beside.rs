//! The pages beside the kilns: bench, plan, printed matter; and the page as a way to ring.

use spyhole::testing::alarm::Target;
use spyhole::testing::casting::What as Bench;
use spyhole::testing::edge::bell::page::OnPage;
use spyhole::testing::edge::bell::{Ring, Way};
use spyhole::testing::edge::journal::devices::rang;

use super::*;

#[test]
fn law_what_is_due_stands_above_whatever_is_looked_at() {
    let mut served = Served::new();
    served.set_pin("4821");
    let cookie = served.noting("Ada");
    let firing = served.ring("North").0;
    patiently("the kiln to be seen", || {
        Some(served.get("/", &cookie)).filter(|heard| heard.body.contains("Shut off North"))
    });
    for path in ["/bench", "/shop", "/plan", "/review", "/ledger", "/past?kiln=North"]
        .into_iter()
        .map(str::to_owned)
        .chain([format!("/card?firing={firing}"), format!("/correct?firing={firing}")])
    {
        let body = served.get(&path, &cookie).body;
        let place =
            |text: &str| body.find(text).unwrap_or_else(|| panic!("{text} in {path}: {body}"));
        let main = place("<main");
        let counts = place("<nav class=\"counts\"><a href=\"/kiln/North\">North<b");
        let due = place("<section class=\"first\">");
        let tap = place("name=\"kind\" value=\"off\"");
        let day = body.split("<pre>").nth(1).map(|rest| rest.split("</pre>").next().unwrap());
        assert!(day.is_none_or(|day| day.lines().count() > 2), "{path}: {day:?}");
        assert!(main < counts && counts < due && due < tap, "{path}");
        let rest = body.find("<section id=\"form\">").or(body.find("class=\"kiln list\""));
        assert!(rest.is_none_or(|rest| tap < rest), "{path}");
    }
}

#[test]
fn law_a_mould_is_noted_with_the_button_that_stands_at_it() {
    let served = Served::new();
    served.set_pin("4821");
    served.run(&["mould", "set", "A1", "--body", "white"], "");
    let cookie = served.noting("Ada");
    let taps = [
        ("Poured", "kind=poured", ""),
        ("Drained", "kind=drained", ""),
        ("Opened well", "kind=check", "&result=well"),
    ];
    for (number, (button, kind, said)) in (0..).zip(taps) {
        let bench = patiently(button, || {
            let body = served.get("/bench", &cookie).body;
            body.contains(&format!(">{button}</button>")).then_some(body)
        });
        assert!(bench.contains("name=\"kiln\" value=\"A1\""), "{bench}");
        let tap = format!("{kind}&kiln=A1&firing=&rev={}&uid={number}{said}", served.rev());
        let id = served.note(&cookie, &tap).saved();
        let What::Bench(noted) = served.event(id).what else { panic!("{button}") };
        match noted {
            Bench::Poured { mould, body, .. } => {
                assert_eq!((mould.as_str(), body.as_str()), ("A1", "white"));
            }
            Bench::Drained { mould, .. } | Bench::Check { mould, .. } => assert_eq!(mould, "A1"),
            other => panic!("{other:?}"),
        }
    }
}

#[test]
fn law_printed_matter_is_what_the_commands_write() {
    let mut served = Served::new();
    let cookie = served.pair("phone");
    let firing = served.shop.light("North", Span::hours(5));
    served.shop.light("South", Span::hours(2));
    served.shop.see_down(firing);
    let path = served.shop.path().with_file_name("card.html");
    let number = firing.0.to_string();
    let run = served.run(&["review", "card", &number, path.to_str().unwrap()], "");
    assert_eq!(run.code, 0, "{run:?}");
    let file = fs::read_to_string(path).unwrap();
    let sheet = &file[file.find("<article").unwrap()..file.find("</body>").unwrap()];
    let page = served.get(&format!("/card?firing={number}"), &cookie).body;
    assert!(sheet.contains("<svg") && page.contains(sheet), "{page}");
    assert!(page.contains("href=\"/card.css\""));
    let style = served.get("/card.css", "").body;
    assert!(style.contains(".card svg") && file.contains(&style), "{style}");
    assert_eq!(served.get("/card?firing=99", &cookie).status, 404);
    let svg = served.shop.path().with_file_name("outcomes.svg");
    served.run(&["review", "outcomes", "--picture", svg.to_str().unwrap()], "");
    let review = served.get("/review", &cookie).body;
    assert!(review.contains("Outcomes by load</"), "{review}");
    assert!(review.contains(&fs::read_to_string(svg).unwrap()), "{review}");
    for (words, there) in
        [("north+GOLD", [true, false]), ("", [true, true]), ("copper", [false; 2])]
    {
        let ledger = served.get(&format!("/ledger?words={words}"), &cookie).body;
        let found = ["North", "South"]
            .map(|kiln| ledger.contains(&format!("<td class=\"text\">{kiln}</td>")));
        assert_eq!(found, there, "{words}: {ledger}");
    }
}

#[test]
fn law_the_page_has_rung_once_a_device_says_that_it_sounds() {
    let mut served = Served::new();
    let cookie = served.pair("Ada%27s+phone");
    served.ring("North");
    let alarm = served.step().into_iter().find(|one| one.key.task == Task::ShutOff).unwrap();
    let target = Target { person: "Ada".into(), reach: String::new(), way: WayName::Page };
    let ring = |alarms: &[Alarm], at: Moment| {
        let call = Call {
            at,
            alarms: alarms.to_vec(),
            priority: Priority::High,
            count: 1,
            volume: 1.0,
            targets: Vec::new(),
            fallback: Vec::new(),
            last_resort: Vec::new(),
            late: None,
        };
        let mut way = OnPage::new(served.shop.path(), Duration::ZERO);
        way.ring(&Ring::new(&call, target.clone(), Scale::Celsius))
    };
    let one = std::slice::from_ref(&alarm);
    assert!(
        ring(one, now()).unwrap_err().to_string().contains("no phone or tablet has its sound on")
    );
    assert!(ring(&[], now()).unwrap_err().to_string().contains("Try the sound"));
    let again = Alarm { raised: now() + Span::hours(1), ..alarm.clone() };
    // What does not stand is nothing to ring for.
    let tablet = served.pair("tablet");
    served.post("/rang", &tablet, &format!("alarm={}", again.mark()));
    let by = patiently("the device to be heard", || {
        assert_eq!(served.post("/rang", &cookie, &format!("alarm={}", alarm.mark())).status, 204);
        ring(one, now()).ok()
    });
    assert_eq!(by, "Ada's phone");
    assert_eq!(rang(&served.shop.path()).unwrap().len(), 1, "not the tablet");
    assert!(ring(&[again], now()).is_err(), "raised again, it has to be heard again");
    assert!(ring(one, now() + Span::hours(1)).is_err(), "so it has at its next ring");
    assert_eq!(ring(&[], now()).as_deref(), Ok("Ada's phone"));
    served.shop.journal.forget_device("Ada's phone").unwrap();
    assert!(ring(one, now()).is_err());
}

#[test]
fn law_the_floor_names_the_devices_that_would_not_be_heard() {
    let mut served = Served::new();
    let (phone, tablet) = (served.pair("phone"), served.pair("tablet"));
    let shows = |what: &str, is_silent: bool| {
        patiently(what, || {
            let floor = served.get("/", &phone).body;
            (floor.contains("known: tablet.") == is_silent).then_some(())
        });
    };
    let listen = || {
        let mut stream = connected(served.port).unwrap();
        let host = served.host();
        let asked = format!("GET /state HTTP/1.1\r\nHost: {host}\r\nCookie: {tablet}\r\n\r\n");
        stream.write_all(asked.as_bytes()).unwrap();
        assert!(stream.read(&mut [0; 64]).unwrap() > 0);
        stream
    };
    shows("one that never said so", true);
    let first = listen();
    assert_eq!(served.post("/armed", &tablet, "sound=on").status, 204);
    shows("one that sounds", false);
    // One of its two pages is closed: the other one still rings.
    let second = listen();
    drop(first);
    shows("its other page", false);
    drop(second);
    shows("one that was closed", true);
    let last = listen();
    assert_eq!(served.post("/armed", &tablet, "sound=on").status, 204);
    shows("one that is back", false);
    assert!(
        !served.get("/", &tablet).body.contains("known: tablet"),
        "its own page says so itself"
    );
    // Whoever takes over has heard of none.
    drop(served.page.take());
    patiently("the port to be closed", || connected(served.port).is_none().then_some(()));
    served.watch();
    patiently("nobody to be heard", || {
        served.get("/", &phone).body.contains("known: tablet").then_some(())
    });
    drop(last);
}

#[test]
fn law_a_way_to_ring_is_set_up_as_on_the_screen_and_no_secret_leaves_the_computer() {
    let served = Served::new();
    served.set_pin("4821");
    let (tablet, cookie) = (served.pair("tablet"), served.noting("Ada"));
    let file = served.shop.path().with_file_name("shop.db.bell.json");
    let bell = || BellFile::read(&served.shop.path()).unwrap();
    let form = |number: usize| served.get(&format!("/ways?way={number}"), &cookie).body;
    let mark = || {
        let forms: String = (0..3).map(form).collect();
        let mark = forms.split("name=\"was\" value=\"").nth(1).unwrap();
        mark.split('"').next().unwrap().to_owned()
    };
    let set = |cookie: &str, was: &str, said: &str| {
        served.post("/ways", cookie, &format!("was={was}&{said}"))
    };
    let (first, mail) = (mark(), "way=email&server=mail.example.org&from=kilns%40example.org");
    assert_eq!(set(&cookie, &first, mail).status, 303);
    assert_eq!(bell().email.unwrap().server, "mail.example.org");
    assert!(form(1).contains("value=\"mail.example.org\""), "{}", form(1));
    // Seen before it was changed, as the screen would not take it, without the PIN, a program, from elsewhere.
    let (before, now) = (bell(), mark());
    for (cookie, was, said, why) in [
        (&cookie, &first, "way=mqtt&broker=192.168.1.5", "changed meanwhile"),
        (&cookie, &now, "way=mqtt&broker=8.8.8.8", "not in the shop"),
        (&cookie, &now, "way=webhook&url=http%3A%2F%2Fexample.org", "use https"),
        (&cookie, &now, "way=email&server=mail.example.org&from=kilns&user=x", "from"),
        (&cookie, &now, "way=command&program=sh", "out of date"),
        (&tablet, &now, "way=mqtt&broker=192.168.1.5", "PIN"),
    ] {
        let heard = set(cookie, was, said);
        assert!(heard.status == 409 && heard.body.contains(why), "{said}: {heard:?}");
        assert_eq!(bell(), before, "{said}");
    }
    let heard = served.post_from("", "/ways", &cookie, &format!("was={now}&{mail}"));
    assert_eq!(heard.status, 403);
    // No secret, and nothing that leads to one, is sent; a form that is sent back leaves what it was not told.
    let text = r#"{"webhook": {"url": "https://example.org/swordfish"}, "mqtt": {"broker": "10.0.0.2", "user": "swordfish", "secret_file": "/swordfish"}}"#;
    fs::write(&file, text).unwrap();
    let pages: String = (0..4).map(form).collect::<String>() + &served.get("/shop", &cookie).body;
    assert!(pages.contains("leads to example.org") && !pages.contains("swordfish"), "{pages}");
    assert_eq!(set(&cookie, &mark(), "way=webhook&url=&body=text").status, 303);
    let hook = bell().webhook.unwrap();
    assert_eq!((&*hook.url, &*hook.body), ("https://example.org/swordfish", "text"));
    let elsewhere = set(&cookie, &mark(), "way=mqtt&broker=10.0.0.9");
    assert!(elsewhere.status == 409 && elsewhere.body.contains("secret"), "{elsewhere:?}");
    assert_eq!(set(&cookie, &mark(), "way=webhook&url=&keep=take+it+off+the+list").status, 303);
    assert_eq!((bell().webhook, bell().mqtt.unwrap().broker), (None, "10.0.0.2".into()));
}
