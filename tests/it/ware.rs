//! Ware that waits: where a lot goes from firing to firing, in counts.

use spyhole::testing::kiln::starter;
use spyhole::testing::ware::{Lot, Place, Ware as Waiting, follow};

use crate::journal::cli::Bench;
use crate::prelude::*;
use crate::review::made::came;

fn lot(name: &str, load_type: &str, pieces: u32) -> Lot {
    let (name, load_type) = (name.into(), load_type.into());
    Lot { name, load_type, pieces: Some(pieces), fills: Some(0.5), ..Lot::default() }
}

/// A firing with these lots, and its outcome.
fn firing(id: i64, load_type: &str, lots: &[&str], outcome: Option<Outcome>) -> Firing {
    let lots = lots.iter().map(|lot| (*lot).to_owned()).collect();
    let (kiln, load) = ("North".to_owned(), load_type.to_owned());
    let packing = Packing { kiln, load_type: load, lots, ..Packing::default() };
    let at = Moment(0) + Span::hours(24 * id);
    Firing {
        id: FiringId(id),
        kiln: "North".into(),
        load_type: load_type.into(),
        state: if outcome.is_some() { State::Closed } else { State::Lit },
        packing: Some(packing),
        lit: Some(at),
        outcome: outcome.map(|outcome| (at + Span::hours(20), outcome)),
        ..Firing::default()
    }
}

fn counted(verdict: Verdict, good: u32, under: u32, broken: u32) -> Option<Outcome> {
    let (good, under, broken) = (Some(good), Some(under), Some(broken));
    let counted = Counted { good, under, broken, ..Counted::default() };
    Some(Outcome { counted, ..came(verdict) })
}

/// Name, load type, pieces, and whether it waits.
fn told(ware: &[Waiting]) -> Vec<(&str, &str, Option<u32>, bool)> {
    let one = |ware: &Waiting| ware.place == Place::Waits;
    let all = ware.iter();
    all.map(|w| (w.lot.name.as_str(), w.lot.load_type.as_str(), w.lot.pieces, one(w))).collect()
}

#[test]
fn law_pieces_go_where_the_outcome_puts_them() {
    let load_types = starter::load_types();
    let mut mugs = lot("7", "stoneware bisque", 24);
    let follow = |lots: &[Lot], firings: &[Firing]| follow(lots, firings, &load_types);
    // Bisque goes on to the glaze of the same name; two are broken, three are fired again.
    let bisque = firing(1, "stoneware bisque", &["7"], counted(Verdict::Under, 19, 3, 2));
    let ware = follow(&[mugs.clone()], std::slice::from_ref(&bisque));
    // Under-fired bisque of the starter set is fired again.
    let expected =
        [("7", "stoneware glaze", Some(19), true), ("7", "stoneware bisque", Some(3), true)];
    assert_eq!(told(&ware), expected);
    assert!((ware[0].lot.fills.unwrap() - 0.5 * 19.0 / 24.0).abs() < 1e-9);
    // A kiln of glaze takes the part that waits for glaze, and what comes out of it is done.
    let glaze = firing(2, "stoneware glaze", &["7"], None);
    let ware = follow(&[mugs.clone()], &[glaze.clone(), bisque.clone()]);
    assert_eq!(told(&ware)[1], ("7", "stoneware glaze", Some(19), false));
    assert_eq!(ware[1].fired, [FiringId(1), FiringId(2)]);
    let glaze = firing(2, "stoneware glaze", &["7"], counted(Verdict::Good, 19, 0, 0));
    let all = [bisque, glaze];
    let done = |ware: Vec<Waiting>| ware.iter().filter(|one| one.place == Place::Done).count();
    assert_eq!(done(follow(&[mugs.clone()], &all)), 1);
    // Unless it was said where it goes after that.
    mugs.then = vec!["stoneware glaze".into(), "gold".into()];
    let ware = follow(&[mugs], &all);
    assert!(told(&ware).contains(&("7", "gold", Some(19), true)), "{:?}", told(&ware));
}

/// What is counted only in part loses nothing: the rest came out as the whole did.
#[test]
fn law_pieces_nobody_counted_are_not_lost() {
    let load_types = starter::load_types();
    let broken = Counted { broken: Some(2), ..Counted::default() };
    for (pieces, expected) in [(Some(10), Some(8)), (None, None)] {
        let lots = [Lot { pieces, then: vec!["gold".into()], ..lot("7", "decal", 0) }];
        let outcome = Outcome { counted: broken, ..counted(Verdict::Good, 0, 0, 0).unwrap() };
        let ware = follow(&lots, &[firing(1, "decal", &["7"], Some(outcome))], &load_types);
        assert_eq!(told(&ware), [("7", "gold", expected, true)]);
    }
}

/// Pieces counted of a load are divided among its lots, and none is lost by rounding.
#[test]
fn law_counts_are_divided_among_the_lots() {
    let load_types = starter::load_types();
    let lots = [lot("a", "gold", 10), lot("b", "gold", 21), lot("c", "gold", 9)];
    let fired = firing(1, "gold", &["a", "b", "c"], counted(Verdict::Under, 28, 8, 4));
    let ware = follow(&lots, &[fired], &load_types);
    let sum = |waits: bool| {
        let of = ware.iter().filter(|one| (one.place == Place::Waits) == waits);
        of.filter_map(|one| one.lot.pieces).sum::<u32>()
    };
    assert_eq!((sum(false), sum(true)), (28, 8));
}

/// The whole way through the shop's file: said, packed, struck, fired, and out and in again.
#[test]
fn law_a_lot_leaves_the_list_and_comes_back() {
    let mut bench = Bench::new();
    let waiting = |bench: &Bench, of: &str| {
        let told = bench.json(of)["waiting"].as_array().unwrap().clone();
        told.iter().map(|one| format!("{} {}", one["lot"], one["load_type"])).collect::<Vec<_>>()
    };
    assert!(bench.say("waiting").starts_with("No ware waits"));
    bench.say("lot decal --contents plates --pieces 12 --fills half --of north --then gold");
    bench.say("lot 'stoneware glaze'");
    let said = bench.refused("pack North --load decal --lot 9");
    assert_eq!(said, "no lot \"9\" waits to be fired: name one of those that do (1, 2), or none");
    assert!(bench.refused("lot gold --then golf").contains("there is no load type \"golf\""));
    bench.say("pack North --load decal --lot 1");
    assert_eq!(waiting(&bench, "waiting"), ["\"2\" \"stoneware glaze\""]);
    bench.say("strike --reason 'other kiln'");
    assert_eq!(waiting(&bench, "waiting").len(), 2);
    bench.say("pack North --load decal --lot 1");
    bench.at(1).say("light North");
    bench.at(400).say("off North");
    bench.at(900).say("drawn North");
    assert_eq!(bench.json("waiting --all")["waiting"][0]["place"], "drawn");
    bench.at(901).say("outcome North --good 11 --broken 1");
    let told = &bench.json("waiting")["waiting"][0];
    assert_eq!((&told["load_type"], &told["pieces"]), (&"gold".into(), &11.into()));
    assert_eq!(told["firings"], serde_json::json!([2]));
    // What was said of it before stays where it is said anew.
    bench.say("lot gold --name 2");
    assert_eq!(waiting(&bench, "waiting"), ["\"1\" \"gold\"", "\"2\" \"gold\""]);
    let record = bench.say("export");
    let other = Bench::new();
    let file = other.shop().with_file_name("record.jsonl");
    fs::write(&file, &record).unwrap();
    other.say(&format!("import {}", file.display()));
    assert_eq!(other.json("waiting --all"), bench.json("waiting --all"));
}

/// What came out of a mould waits on while firings that name their lots go by; a bisque firing that names none has
/// taken it along.
#[test]
fn law_a_firing_that_names_its_lots_takes_no_other() {
    let mut bench = Bench::new();
    bench.say("mould set A1 --body earthenware --ware cup --pieces 6");
    bench.say("cast poured A1");
    bench.at(60).say("cast check A1 well");
    bench.say("lot 'earthenware bisque' --contents bowls --pieces 10");
    for (day, lots, still) in [(5, " --lot 1", true), (10, "", false)] {
        let at = 1440 * day;
        bench.at(at).say(&format!("pack North --load 'earthenware bisque'{lots}"));
        bench.at(at + 1).say("light North");
        bench.at(at + 900).say("off North");
        bench.at(at + 1500).say("drawn North");
        bench.at(at + 1501).say("outcome North --good 10");
        let waits = bench.json("waiting")["waiting"].to_string();
        assert_eq!(waits.contains("\"lot\":\"cup "), still, "{waits}");
    }
}
