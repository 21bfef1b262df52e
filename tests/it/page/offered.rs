//! The code that pairs a device on the terminal: at which address of this computer, chosen by keys, and told
//! large where it is another than before.

use super::*;
use crate::terminal::Desk;

/// An address that is kept for documents (RFC 5737), so none of this computer.
const BEFORE: Ipv4Addr = Ipv4Addr::new(203, 0, 113, 7);

/// A terminal on which a code is shown.
fn offering(served: &Served, more: &[&str]) -> Desk {
    let path = served.shop.path();
    Desk::run(&[&["page", "--shop", path.to_str().unwrap()], more].concat())
}

/// What stands below these words.
fn below<'t>(text: &'t str, words: &str) -> &'t str {
    let mut lines = text.lines().skip_while(|line| !line.contains(words)).skip(1);
    lines.next().unwrap().rsplit("  ").next().unwrap().trim()
}

fn picture(text: &str) -> Vec<String> {
    text.lines().take(17).map(|line| line.chars().take(33).collect()).collect()
}

#[test]
fn law_an_arrow_key_shows_the_next_address_of_this_computer_and_its_picture() {
    let served = Served::new();
    let mut desk = offering(&served, &["--address", "127.0.0.1"]);
    let first = desk.see("(1 of ");
    let places: usize = first.split("(1 of ").nth(1).unwrap()[..1].parse().unwrap();
    assert!(places > 1, "{first}");
    let (mut addresses, mut pictures) = (Vec::new(), Vec::new());
    for number in 1..=places {
        let shown = format!("({number} of {places}");
        // A frame comes piece by piece.
        let code = below(&first, "type there");
        let whole = |text: &str| text.contains(&shown) && text.contains(code);
        let text = desk.until("the same code", whole);
        addresses.push(below(&text, "open this address").to_owned());
        pictures.push(picture(&text));
        desk.press(if number % 2 == 0 { "\t" } else { "\x1b[B" });
    }
    assert_eq!(addresses[0], format!("http://127.0.0.1:{}/pair", served.port));
    for all in [addresses.len(), pictures.len()] {
        assert_eq!(all, places);
    }
    addresses.dedup();
    pictures.dedup();
    assert_eq!((addresses.len(), pictures.len()), (places, places), "{addresses:?}");
    // Round to the first, and back to the last.
    desk.see("(1 of ");
    desk.press("\x1b[A");
    desk.see(&format!("({places} of {places}"));
    let code = below(&first, "type there").to_owned();
    assert_eq!(served.pair_with(&code, "phone").status, 303);
    desk.see("phone is paired");
    assert!(desk.ended().success());
}

#[test]
fn law_a_key_that_ends_it_leaves_no_code_behind() {
    let served = Served::new();
    for key in ["q", "\x1b", "\x03"] {
        let mut desk = offering(&served, &["--address", "127.0.0.1"]);
        let code = below(&desk.see("type there"), "type there").to_owned();
        desk.press(key);
        assert!(desk.ended().success());
        let status = || Some(served.pair_with(&code, "late").status).filter(|it| *it != 503);
        assert_eq!(patiently("an answer", status), 410, "{key:?}");
    }
}

#[test]
fn law_a_changed_address_is_told_large_with_a_new_code_until_a_device_is_paired_there() {
    let here = another_address();
    if here.is_loopback() {
        // Without a network there is no other address either.
        return;
    }
    let shop = TestShop::new("{}");
    let port = free_port();
    shop.journal.switch_page_on(Some(port), port).unwrap();
    shop.journal.note_door(BEFORE.into()).unwrap();
    let mut served = Served { shop, shown: Shown::default(), page: None, port };
    served.watch();
    let trouble = || served.shop.journal.page().unwrap().unwrap().trouble;
    let said = patiently("the notice", || Some(trouble()).filter(|it| !it.is_empty()));
    let (was, now) = (SocketAddr::new(BEFORE.into(), port), SocketAddr::new(here, port));
    assert!(said.contains(&format!("http://{was}")) && said.contains("http://"), "{said}");
    let mut desk = offering(&served, &[]);
    let text = desk.see("type there").replace('\n', " ");
    assert!(text.contains(&format!("was at http://{was}")), "{text}");
    // A digit is four letters wide and five high: nothing else there is as large.
    assert!(here.is_ipv6() || desk.text().lines().any(|line| line.starts_with("████")), "{text}");
    let code = below(&desk.text(), "type there").to_owned();
    let body = format!("code={code}&name=phone");
    let origin = format!("Origin: http://{now}\r\n");
    let stream = TcpStream::connect(now).unwrap();
    stream.set_read_timeout(Some(SILENCE)).unwrap();
    let heard = send(stream, &posting(&now.to_string(), &origin, "/pair", "", &body)).unwrap();
    assert_eq!(heard.status, 303, "{heard:?}");
    assert!(desk.ended().success());
    patiently("the notice to be gone", || trouble().is_empty().then_some(()));
    assert_eq!(served.shop.journal.door().unwrap(), Some(here));
    // What was paired at an address stays there, however else devices come.
    let cookie = heard.header("set-cookie").unwrap().split(';').next().unwrap().to_owned();
    assert_eq!(served.get("/", &cookie).status, 200);
    assert_eq!(served.shop.journal.door().unwrap(), Some(here));
}

#[test]
fn law_the_screen_tells_of_a_changed_address() {
    let mut shop = TestShop::new("{}");
    shop.light("North", Span::hours(1));
    let port = free_port();
    shop.journal.switch_page_on(Some(port), port).unwrap();
    shop.journal.note_door(BEFORE.into()).unwrap();
    if another_address().is_loopback() {
        return;
    }
    let mut desk = Desk::run(&["--shop", shop.path().to_str().unwrap()]);
    desk.see(&format!("http://{BEFORE}:{port}"));
    desk.press("q");
    desk.ended();
}
