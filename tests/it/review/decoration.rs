//! What a piece costs by how it is decorated.

use spyhole::testing::review::decoration::{Decoration, decorations};
use spyhole::testing::review::prices::Kind;
use spyhole::testing::ware::Lot;

use super::history;
use crate::prelude::*;

const NOW: Moment = Moment(1_770_000_000_000);

fn prices(gold: f64) -> Prices {
    let thing = |of: &str, value| {
        let (kind, of) = (Kind::Thing, of.to_owned());
        Price { from: Moment(0), kind, of, value, unit: String::new() }
    };
    Prices::new([history::listed(), vec![thing("g gold", gold), thing("decal", 0.9)]].concat())
}

fn rows(lots: &[Lot], prices: &Prices) -> Vec<Decoration> {
    let firings = history::firings(NOW);
    let (kilns, load_types) = (history::kilns(), history::load_types());
    let ledger = Ledger::new(&firings, kilns, load_types, &Corrections::default(), Span::ZERO);
    let facts: Vec<&Facts> = ledger.facts.iter().collect();
    decorations(&ledger, (lots, &facts), prices, NOW)
}

fn lot(load_type: &str, gold_g: Option<f64>, decals: Option<u32>) -> Lot {
    let (pieces, worth) = (Some(40), Some(8.0));
    Lot { load_type: load_type.into(), pieces, worth, gold_g, decals, ..Lot::default() }
}

/// Amounts are of one piece at the price that is asked, and what is not known is not known.
#[test]
fn law_gold_and_decals_are_reckoned_a_piece() {
    let lots = [lot("gold", Some(6.0), None), lot("decal", Some(1.2), Some(40))];
    let now = rows(&lots, &prices(82.0));
    let [gold, trim] = &now[..] else { panic!("{now:?}") };
    assert_eq!((gold.name, trim.name), ("gold", "decals and gold"));
    assert!((gold.gold(gold.gold_price).unwrap() - 6.0 / 40.0 * 82.0).abs() < 1e-9);
    assert_eq!(trim.decal, Some(0.9));
    assert!(gold.lost.unwrap() > 0.0 && gold.firing.unwrap() > 0.0, "{gold:?}");
    assert!(!gold.firings.is_empty());
    let dearer = rows(&lots, &prices(100.0));
    assert_eq!(dearer[0].total(Some(100.0)), gold.total(Some(100.0)));
    assert!(gold.total(gold.gold_price) < gold.total(Some(100.0)));
    // No lot is no row.
    let unpriced = rows(&lots, &history::prices());
    assert_eq!((unpriced[0].total(unpriced[0].gold_price), unpriced[1].decal), (None, None));
    let no_worth = Lot { worth: None, ..lots[0].clone() };
    assert_eq!(rows(&[no_worth], &prices(82.0))[0].lost, None);
    assert_eq!(rows(&[lot("gold", None, None)], &prices(82.0)), []);
}
