//! The plan of a shop by its journal.

use crate::journal::cli::Bench;
use crate::prelude::*;

fn shop() -> Bench {
    let bench = Bench::new();
    bench.say("kiln add Wren --fuel gas --litres 100");
    bench.say("hours set 'every day' 0:00 24:00 --people 2");
    bench
}

#[test]
fn law_the_shop_is_planned_by_its_journal() {
    let mut bench = shop();
    assert!(bench.say("plan").starts_with("No ware waits to be fired."));
    bench.say("lot gold --contents rims --fills full --of Wren --pieces 40");
    let plan = bench.json("plan");
    let firing = &plan["firings"][0];
    assert_eq!((&firing["kiln"], &firing["batch_ids"][0]), (&"Wren".into(), &"1 rims".into()));
    let none = serde_json::json!([]);
    assert_eq!((&plan["left_waiting"], &plan["rules_broken"]), (&none, &none));
    // Nobody fired gold here: that is said, and the window is wide.
    let taken = plan["taken_as_usual"].to_string();
    assert!(taken.contains("North and Wren have not fired gold yet"), "{taken}");
    assert_eq!(bench.json("plan"), plan);
    // What burns stays as it is, and is watched.
    bench.say("pack Wren --load gold --lot 1");
    let packed = bench.json("plan");
    assert_eq!(packed["firings"][0]["state"], "packed");
    bench.at(1).say("light Wren");
    bench.say("lot gold --contents plates --fills full --of Wren --pieces 40");
    let lit = bench.at(20).json("plan");
    let states: Vec<&Value> =
        lit["firings"].as_array().unwrap().iter().map(|firing| &firing["state"]).collect();
    assert_eq!(states, ["lit", "planned"]);
    assert_eq!(lit["firings"][0]["batch_ids"][0], "1 rims");
    assert_eq!(lit["rules_broken"], serde_json::json!([]));
}

/// A load whose drop nobody would see is not planned, and it is said what would help.
#[test]
fn law_what_cannot_be_watched_is_not_planned() {
    let bench = shop();
    bench.say("hours set 'every day' 8:00 10:00");
    bench.say("lot 'stoneware bisque' --fills full --of Wren");
    let plan = bench.json("plan");
    assert_eq!(plan["firings"], serde_json::json!([]));
    let waits = &plan["left_waiting"][0];
    assert!(waits["why"].as_str().unwrap().contains("drop while somebody is there"), "{waits}");
    assert!(waits["would_help"].as_str().unwrap().starts_with("somebody there until"), "{waits}");
}
