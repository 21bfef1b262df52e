//! Pictures and cards: golden ones, and no text over another, in both scales, with short and long names, with
//! 3 readings and with 5,000.
//!
//! `SPYHOLE_BLESS=1 cargo test --test it picture` writes the golden pictures anew; look at them
//! (`rsvg-convert FILE.svg -o FILE.png`) before keeping them.

use crate::prelude::*;
use crate::review::made::{Chance, Making, cone, gold, judged, packed, price};
use crate::simulator::looked;
use spyhole::testing::edge::picture::axes::{Axis, round_step};
use spyhole::testing::edge::picture::chart;
use spyhole::testing::edge::picture::of_firing::Card;
use spyhole::testing::edge::picture::of_firing::OneFiring;
use spyhole::testing::edge::picture::sheet::{Sheet, Type, escaped};
use spyhole::testing::review::drift::Measure;
use spyhole::testing::review::nearest::course;
use spyhole::testing::review::prices::Kind;
use spyhole::testing::scene::{Page, ReviewQuestion, ReviewScene};

const LONG: &str = "The big old downdraught kiln behind the glaze room & next to the door <west>";

/// One text of a picture: where it stands and what it says.
#[derive(Debug)]
struct Text {
    x: f64,
    y: f64,
    width: f64,
    height: f64,
    says: String,
}

/// The texts of a picture, read from the SVG itself.
fn texts(svg: &str) -> Vec<Text> {
    let attribute = |tag: &str, name: &str| {
        let rest = tag.split_once(&format!(" {name}=\"")).map(|(_, rest)| rest)?;
        rest.split_once('"').map(|(value, _)| value.to_owned())
    };
    let text = |line: &str| {
        let (tag, rest) = line.strip_prefix("<text")?.split_once('>')?;
        let says = rest.strip_suffix("</text>")?;
        let plain = says.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"");
        let plain = plain.replace("&amp;", "&");
        let size: f64 = attribute(tag, "font-size")?.parse().ok()?;
        let bold = tag.contains("font-weight=\"bold\"");
        let width = Type { bold, ..Type::plain(size) }.width(&plain);
        let x: f64 = attribute(tag, "x")?.parse().ok()?;
        let x = match attribute(tag, "text-anchor")?.as_str() {
            "start" => x,
            "middle" => x - 0.5 * width,
            _ => x - width,
        };
        let y: f64 = attribute(tag, "y")?.parse().ok()?;
        // Ascender and descender of the letters that are really drawn: 0.76 and 0.24 of the size.
        Some(Text { x, y: y - 0.76 * size, width, height: size, says: plain })
    };
    let found: Vec<Text> = svg.lines().filter_map(text).collect();
    assert_eq!(found.len(), svg.matches("<text").count(), "every text was read");
    found
}

fn check_texts(name: &str, svg: &str) {
    let width: f64 =
        svg.split_once("width=\"").unwrap().1.split('"').next().unwrap().parse().unwrap();
    let height: f64 =
        svg.split_once("height=\"").unwrap().1.split('"').next().unwrap().parse().unwrap();
    let texts = texts(svg);
    assert!(texts.len() > 1, "{name} says something");
    for (index, a) in texts.iter().enumerate() {
        // Places are written with one decimal.
        let slack = 0.11;
        assert!(
            a.x >= -slack
                && a.y >= -slack
                && a.x + a.width <= width + slack
                && a.y + a.height <= height,
            "{name}: {a:?} is off the page"
        );
        for b in &texts[..index] {
            let apart = a.x + slack >= b.x + b.width
                || b.x + slack >= a.x + a.width
                || a.y + slack >= b.y + b.height
                || b.y + slack >= a.y + a.height;
            assert!(apart, "{name}: {:?} is drawn over {:?}", a.says, b.says);
        }
    }
}

fn check(name: &str, sheet: &Sheet) {
    let svg = sheet.svg();
    check_texts(name, &svg);
    check_golden(&format!("{name}.svg"), &svg);
}

fn check_golden(name: &str, text: &str) {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(format!("tests/golden/{name}"));
    if std::env::var_os("SPYHOLE_BLESS").is_some() {
        fs::write(&path, text).unwrap();
    }
    let golden = fs::read_to_string(&path).unwrap_or_default();
    assert!(golden == text, "{name} differs from the golden one: bless it and look at it");
}

/// The card as a page: one sheet that needs nothing beside itself, every element closed, the curve
/// in it as a picture, and no more lines than a sheet holds.
fn check_card(name: &str, html: &str) {
    let from = html.find("<svg").unwrap();
    let until = html.find("</svg>").unwrap() + 7;
    check_texts(name, &html[from..until]);
    let plain = html.replace("http://www.w3.org/2000/svg", "");
    for loads in ["http", "src=", "href=", "@import", "url(", "<script", "<link"] {
        assert!(!plain.contains(loads), "{name} loads {loads}");
    }
    for element in [
        "html", "head", "body", "style", "article", "header", "section", "div", "table", "caption",
        "tr", "td", "p", "li", "footer",
    ] {
        let opened = [format!("<{element}>"), format!("<{element} ")];
        let opened: usize = opened.iter().map(|tag| html.matches(tag.as_str()).count()).sum();
        let closed = html.matches(&format!("</{element}>")).count();
        assert_eq!(opened, closed, "{name}: {element}");
    }
    assert!(html.contains("@page") && html.contains("height: 254mm; overflow: hidden"), "{name}");
    // Both columns share the lines under the curve, at most two to a row, with the notes below.
    let main = &html[html.find("<section>").unwrap()..html.find("</section>").unwrap()];
    let lines =
        |column: &str| 2 * column.matches("<caption>").count() + column.matches("<tr>").count();
    let columns = main.split("</div>").map(lines).max().unwrap();
    assert!(columns + html.matches("<li>").count() <= 26, "{name}: {columns} lines in a column");
}

fn check_cards(name: &str, firing: &Firing, scale: Scale) -> String {
    let html = drawn(firing, scale, "html");
    check_card(name, &html);
    check_golden(&format!("{name}.html"), &html);
    html
}

fn prices() -> Prices {
    let price = |kind, of, value| price(kind, of, value, "kW");
    Prices::new(vec![
        price(Kind::Fuel, "gas m3", 1.2),
        price(Kind::Cone, "", 0.4),
        price(Kind::Thing, "g gold", 80.0),
        price(Kind::Hour, "", 28.0),
        price(Kind::Hands, "", 90.0),
    ])
}

fn gold_firing() -> Firing {
    let mut firing = Making { off_after: 3.0, ..Making::default() }.firing();
    firing = packed(firing, 42, 380.0);
    let lit = firing.lit.unwrap();
    firing.notes.push((lit + Span::minutes(2), "meter 4812.0 m3".into()));
    firing.notes.push((lit + Span::minutes(170), "meter 4819.5 m3".into()));
    firing.notes.push((lit + Span::minutes(30), "used 3.5 g gold".into()));
    firing.turned.push((lit, "low".into()));
    firing.turned.push((lit + Span::minutes(60), "half".into()));
    for (index, Looked { look, .. }) in firing.looks.iter_mut().enumerate() {
        look.guide = Some(if index < 3 { Seen::Half } else { Seen::Down });
        look.guard = Some(Seen::Standing);
    }
    let shelves =
        [("top", "018", Seen::Down), ("middle", "018", Seen::Down), ("floor", "018", Seen::Half)];
    judged(firing, Verdict::Good, &shelves)
}

/// The card of a firing in a file with this ending.
fn drawn(firing: &Firing, scale: Scale, ending: &str) -> String {
    let kilns = vec![kiln("North", Fuel::Gas)];
    let shop = Shop { kilns, load_types: vec![gold(0.5, 0.4)], ..Shop::default() };
    let one = OneFiring::of(firing.clone(), shop, &prices(), Span::hours(2)).unwrap();
    let slower = Making { climb: 140.0, off_after: 30.0, ..Making::default() }.firing();
    let beside = (firing.readings.len() > 100).then(|| (LONG.to_owned(), course(&slower)));
    let card = Card { one: &one, scale, beside: beside.as_ref(), left_out: None };
    card.file(ending).unwrap()
}

#[test]
fn regress_card_of_a_gold_firing() {
    let firing = gold_firing();
    check_cards("card_gold_c", &firing, Scale::Celsius);
    check_cards("card_gold_f", &firing, Scale::Fahrenheit);
    let (page, curve) =
        (drawn(&firing, Scale::Celsius, "html"), drawn(&firing, Scale::Celsius, "svg"));
    assert!(page.contains(&curve), "the picture alone is the one on the card");
}

/// Names and notes are text, not markup.
#[test]
fn law_hostile_names_stay_text_on_the_card() {
    let hostile = "<script>alert(\"x\")</script>&amp;<img src=x onerror='y'></td></table>\u{7}";
    let mut firing = gold_firing();
    firing.kiln = hostile.into();
    firing.load_type = hostile.into();
    firing.schedule = Some(hostile.into());
    firing.turned = vec![(firing.lit.unwrap() + Span::minutes(9), hostile.into())];
    firing.notes = vec![(firing.lit.unwrap(), hostile.into())];
    let packing = firing.packing.as_mut().unwrap();
    (packing.contents, packing.packed_by) = (hostile.into(), hostile.into());
    firing.outcome.as_mut().unwrap().1.note = hostile.into();
    firing.outcome.as_mut().unwrap().1.shelves[0].place = hostile.into();
    let html = drawn(&firing, Scale::Celsius, "html");
    for markup in ["<script", "<img", "\u{7}"] {
        assert!(!html.contains(markup), "{markup}: {html}");
    }
    let text =
        "&lt;script&gt;alert(&quot;x&quot;)&lt;/script&gt;&amp;amp;&lt;img src=x onerror='y'&gt;";
    assert!(html.matches(text).count() >= 8, "{html}");
    check_card("hostile", &html.replace(&escaped(hostile), "name"));
}

/// Everything long, and more of everything than the page holds.
#[test]
fn regress_card_with_long_names_and_five_thousand_readings() {
    let mut firing = gold_firing();
    let lit = firing.lit.unwrap();
    let length = firing.off.unwrap() - lit;
    let mut chance = Chance::seeded(3);
    firing.readings = (0..5000)
        .map(|n| {
            let at = lit + Span(length.0 * n / 5000);
            (at, Celsius(20.0 + 150.0 * (at - lit).as_hours() + chance.normal()))
        })
        .collect();
    firing.kiln = LONG.into();
    firing.load_type = LONG.into();
    firing.schedule = Some(LONG.into());
    let packing = firing.packing.as_mut().unwrap();
    packing.contents = [LONG; 4].join(", ");
    packing.packed_by = "W".repeat(90);
    packing.cones_stand = LONG.into();
    firing.outcome.as_mut().unwrap().1.note = [LONG; 3].join(". ");
    for n in 0..40 {
        firing.notes.push((lit + Span::minutes(n), format!("note {n}: {LONG} {LONG} {LONG}")));
        firing.turned.push((lit + Span::minutes(60 + n), LONG.into()));
    }
    let place = firing.outcome.as_ref().unwrap().1.shelves[0].clone();
    for n in 0..30 {
        let mut shelf = place.clone();
        shelf.place = format!("{n} {LONG}");
        firing.outcome.as_mut().unwrap().1.shelves.push(shelf);
    }
    for n in 0..200 {
        let look = Look { target: Some(Seen::Standing), ..Look::default() };
        let at = lit + Span::minutes(100) - Span::seconds(20 * n);
        firing.looks.insert(0, looked(at, look));
    }
    for (name, scale) in [("card_long_c", Scale::Celsius), ("card_long_f", Scale::Fahrenheit)] {
        let html = check_cards(name, &firing, scale);
        assert!(html.len() < 120_000, "{} bytes for 5,000 readings", html.len());
        assert!(!html.contains("<west>"), "names are escaped");
        assert!(html.contains("and more"), "what there is no room for is said to be left out");
    }
}

#[test]
fn regress_card_with_three_readings_and_nothing_else() {
    let mut firing = Making { off_after: -20.0, ..Making::default() }.firing();
    firing.kiln = "N".into();
    firing.looks.clear();
    let keep = [5, 15, 25].map(|index| firing.readings[index]);
    firing.readings = keep.to_vec();
    check_cards("card_bare_c", &firing, Scale::Celsius);
    firing.readings.clear();
    firing.off = None;
    check_card("no readings", &drawn(&firing, Scale::Fahrenheit, "html"));
}

/// A ledger with something to show: a kiln that slows down, a probe that drifts, misses, shelves.
fn ledger() -> Ledger {
    let mut chance = Chance::seeded(12);
    let firings: Vec<Firing> = (0..70)
        .map(|n| {
            let late = n % 7 == 3;
            let making = Making {
                id: n + 1,
                lit: Moment(1_735_000_000_000) + Span::hours(50 * n),
                climb: if n < 45 { 150.0 } else { 132.0 } + 3.0 * chance.normal(),
                probe_high: if n < 45 { 0.0 } else { 9.0 },
                looks_every_min: if late { 22 } else { 4 },
                seed: n as u64,
                ..Making::default()
            };
            let verdict = if late { Verdict::Over } else { Verdict::Good };
            let hot = if n % 3 == 0 { Seen::Half } else { Seen::Down };
            let shelves =
                [("top", "017", hot), ("middle", "018", Seen::Down), ("floor", "018", Seen::Half)];
            let mut firing = judged(packed(making.firing(), 40, 300.0), verdict, &shelves);
            if n % 11 == 5 {
                firing.load_type = LONG.into();
            }
            firing
        })
        .collect();
    let kilns = vec![kiln("North", Fuel::Gas)];
    Ledger::new(&firings, kilns, vec![gold(0.5, 0.4)], &Corrections::default(), Span::hours(1))
}

/// Every answer for a ledger.
fn answers(ledger: &Ledger) -> ReviewScene {
    let question = ReviewQuestion { ahead: ledger.ahead, ..ReviewQuestion::default() };
    ReviewScene::of(ledger, &Corrections::default(), &prices(), &question)
}

#[test]
fn regress_charts() {
    let ledger = ledger();
    let scene = answers(&ledger);
    for (scale, letter) in [(Scale::Celsius, "c"), (Scale::Fahrenheit, "f")] {
        for drift in scene.drifts.iter().filter(|d| d.values.len() > 20) {
            let name = match drift.measure {
                Measure::TimeToDrop => "time_to_drop",
                Measure::FinalClimb => "final_climb",
                Measure::Soak => "soak",
                Measure::ProbeHigh => "probe",
                Measure::LetsGo => "lets_go",
            };
            check(&format!("chart_{name}_{letter}"), &chart::drift(drift, &scene, scale));
        }
        let places = scene.rows(Page::Evenness, 0);
        let bars = chart::bars((Page::Evenness, "North"), &places, &scene, scale);
        check(&format!("chart_evenness_{letter}"), &bars);
    }
    for (page, way, name) in [
        (Page::Outcomes, 0, "outcomes"),
        (Page::Tolerance, 0, "tolerance"),
        (Page::Cost, 2, "cost"),
    ] {
        let bars = chart::bars((page, name), &scene.rows(page, way), &scene, Scale::Celsius);
        check(&format!("chart_{name}"), &bars);
    }
    check_texts("nothing", &chart::bars((Page::Outcomes, LONG), &[], &scene, Scale::Celsius).svg());
    let few = answers(&Ledger { facts: ledger.facts[..3].to_vec(), ..ledger });
    for drift in &few.drifts {
        check_texts("three firings", &chart::drift(drift, &few, Scale::Celsius).svg());
    }
}

#[test]
fn law_texts_are_cut_to_measure() {
    let mut chance = Chance::seeded(4);
    for _ in 0..500 {
        let length = (chance.uniform() * 80.0) as usize;
        let letters = ['a', 'W', 'i', ' ', '&', 'é', 'Ü', '陶', '.'];
        let text: String =
            (0..length).map(|_| letters[(chance.uniform() * 9.0) as usize % 9]).collect();
        let set = Type::plain(8.0 + 20.0 * chance.uniform());
        let width = 10.0 + 400.0 * chance.uniform();
        let cut = set.fitted(&text, width);
        assert!(cut.is_empty() || set.width(&cut) <= width, "{cut:?}");
        assert!(cut == text || set.width(&text) > width, "{text:?}");
    }
    assert_eq!(Type::plain(10.0).width("陶a"), Type::plain(10.0).width("aaa"));
}

#[test]
fn law_ticks_are_round_and_within() {
    for (low, high) in [(0.0, 812.0), (-3.2, 4.1), (0.001, 0.0042), (1e6, 3e6), (5.0, 5.4)] {
        let axis = Axis { low, high, from: 0.0, to: 100.0 };
        let ticks = axis.ticks(6);
        assert!((1..=8).contains(&ticks.len()), "{low} to {high}: {ticks:?}");
        assert!(ticks.iter().all(|t| *t >= low - 1e-9 && *t <= high + 1e-9));
    }
    let step = |least| round_step(least, &[1.0, 2.0, 5.0, 10.0]);
    assert_eq!([0.3, 1.0, 1.1, 4.0, 70.0].map(step), [0.5, 1.0, 2.0, 5.0, 100.0]);
    assert_eq!(step(f64::NAN), 1.0);
    assert_eq!(escaped("a<b>&\"c\"\u{7}"), "a&lt;b&gt;&amp;&quot;c&quot; ");
    assert_eq!(cone("018").name(), "018");
}
