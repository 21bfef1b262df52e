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

fn firings(plan: &Value) -> Vec<String> {
    let one = |firing: &Value| {
        let [kiln, lot, light] = ["/kiln", "/batch_ids/0", "/light_at"]
            .map(|at| firing.pointer(at).and_then(Value::as_str).unwrap_or_default());
        format!("{kiln}: {lot} at {}", &light[..light.len().min(16)])
    };
    plan["firings"].as_array().unwrap().iter().map(one).collect()
}

/// What was adopted is gone on from by whoever asks: it holds as time passes, takes in what is new, follows what
/// is lit whatever was planned, and is a plan from nothing again once it is struck.
#[test]
fn law_a_plan_that_is_adopted_is_gone_on_from() {
    let mut bench = shop();
    bench.say("lot gold --contents rims --fills full --of Wren --pieces 40");
    bench.say("lot gold --contents cups --fills full --of North --pieces 40");
    let first = bench.json("plan --adopt");
    assert_eq!(firings(&first).len(), 2, "{first}");
    let event = first["event_id"].to_string();
    let holds = bench.at(3).json("plan");
    assert_eq!((&holds["holds"], &holds["changed"]), (&true.into(), &serde_json::json!([])));
    assert_eq!(firings(&holds), firings(&first));
    // Another file with the same record goes by it as well.
    let other = Bench::new();
    let file = other.shop().with_file_name("record.jsonl");
    fs::write(&file, bench.say("export")).unwrap();
    other.say(&format!("import {}", file.display()));
    assert_eq!(other.json("plan")["holds"], true);
    // A lot that came later moves nothing.
    bench.say("lot decal --contents plates --fills full --of Wren --pieces 40");
    let more = bench.json("plan");
    assert_eq!(more["holds"], false);
    let known = firings(&first);
    assert!(known.iter().all(|one| firings(&more).contains(one)), "{more}");
    assert_eq!(firings(&more).len(), 3, "{more}");
    // What is lit is no error: its lots leave the plan, the rest stays.
    bench.at(10).say("pack North --load gold --lot 1");
    bench.at(11).say("light North");
    let lit = bench.at(12).json("plan");
    assert_eq!(lit["firings"][0]["state"], "lit");
    assert_eq!(lit["rules_broken"], serde_json::json!([]), "{lit}");
    let planned: Vec<String> = firings(&lit);
    assert_eq!(planned.iter().filter(|one| one.contains("rims")).count(), 1, "{lit}");
    // A kiln called otherwise is the same one.
    bench.say("kiln rename Wren Robin");
    assert!(!bench.json("plan")["changed"].to_string().contains("no kiln"));
    bench.say(&format!("strike {event} --reason 'not so'"));
    assert_eq!(bench.json("plan").get("holds"), None);
}

/// What somebody chose survives planning anew: a firing kept, a lot left out and taken in again, a load in
/// another kiln.
#[test]
fn law_a_choice_is_kept() {
    let mut bench = shop();
    bench.say("lot gold --contents rims --fills full --of Wren --pieces 40");
    bench.say("lot gold --contents cups --fills full --of Wren --pieces 40");
    let kiln = |plan: &Value, lot: &str| {
        let firings = plan["firings"].as_array().unwrap();
        let its = |one: &&Value| one["batch_ids"].to_string().contains(lot);
        firings.iter().find(its).map(|one| one["kiln"].as_str().unwrap().to_owned())
    };
    let first = bench.json("plan");
    let before = kiln(&first, "rims").unwrap();
    let moved = bench.json("plan --elsewhere 1");
    let other = kiln(&moved, "rims").unwrap();
    assert_ne!(other, before, "{moved}");
    bench.say("plan --adopt");
    let kept = bench.json("plan --keep 1");
    assert!(kept.to_string().contains("you chose to keep it as it is"), "{kept}");
    let left = bench.json("plan --leave-out 2");
    assert_eq!(kiln(&left, "cups"), None, "{left}");
    assert_eq!(left["left_waiting"][0]["why"], "you chose to leave it out");
    // Ware that comes in later changes none of it.
    bench.at(2).say("lot decal --contents plates --fills full --of Wren --pieces 40");
    let later = bench.json("plan");
    assert_eq!((kiln(&later, "rims"), kiln(&later, "cups")), (Some(other), None), "{later}");
    assert!(later.to_string().contains("you chose to keep it as it is"), "{later}");
    let again = bench.json("plan --leave-out 2");
    assert!(kiln(&again, "cups").is_some(), "{again}");
    assert!(bench.refused("plan --keep 9").contains("name one of those"), "9");
}

/// The drawing list of the morning and the sheet for the wall: what cools, what is drawn, what came out today.
#[test]
fn law_the_morning_has_its_list_and_the_wall_its_sheet() {
    let mut bench = shop();
    let list = |bench: &Bench| bench.json("plan --drawing")["drawing"].to_string();
    assert!(list(&bench).contains("No kiln is due to be drawn"));
    bench.say("lot decal --contents plates --pieces 12 --fills half --of North --then gold");
    bench.say("lot gold --contents rims --fills full --of Wren --pieces 40");
    bench.say("pack North --load decal --lot 1 --cones-stand 'middle shelf'");
    bench.at(1).say("light North");
    bench.at(400).say("off North");
    let cooling = list(bench.at(401));
    assert!(cooling.contains("open North (decal): 1 plates, then gold"), "{cooling}");
    // What cools goes on to its gold before anybody wrote how it came out.
    let plan = bench.json("plan");
    assert!(plan.to_string().contains("batch_id\":\"1 plates"), "{plan}");
    bench.at(1500).say("drawn North");
    let drawn = list(bench.at(1501));
    assert!(drawn.contains("how North came out (firing 1): 1 plates, then gold"), "{drawn}");
    bench.at(1502).say("outcome North --good 9 --under 2 --broken 1");
    let out = list(bench.at(1503));
    assert!(out.contains("on to gold: 1 plates, 9 pieces"), "{out}");
    assert!(out.contains("back to decal, to be fired again: 1 plates, 2 pieces"), "{out}");
    let file = bench.shop().with_file_name("wall.html");
    bench.say(&format!("plan --sheet {}", file.display()));
    let sheet = fs::read_to_string(&file).unwrap();
    for said in [
        "No two pieces may touch",
        "2 rims",
        "to be fired again",
        "Cones 019, 018, 017, target 018",
    ] {
        assert!(sheet.contains(said), "{said}: {sheet}");
    }
    // It loads nothing, and is written over nothing unasked.
    assert!(!sheet.contains("http") && !sheet.contains("src="), "{sheet}");
    assert!(bench.refused(&format!("plan --sheet {}", file.display())).contains("--replace"));
    bench.say(&format!("plan --sheet {} --kiln wren --replace", file.display()));
    let sheet = fs::read_to_string(&file).unwrap();
    assert!(sheet.contains("Wren: ") && sheet.contains("40 pieces"), "{sheet}");
}

/// A kiln that should be packed by now is, until an hour after the time of its lighting.
#[test]
fn law_a_plan_gives_time_to_pack() {
    let mut bench = shop();
    bench.say("lot gold --contents rims --fills full --of Wren --pieces 40");
    let first = bench.json("plan --adopt");
    let light = first["firings"][0]["light_at"].as_str().unwrap().to_owned();
    let minute = |light: &str| {
        let at = chrono::DateTime::parse_from_rfc3339(light).unwrap();
        let now = first["made_at"].as_str().unwrap();
        (at - chrono::DateTime::parse_from_rfc3339(now).unwrap()).num_minutes()
    };
    let lit = minute(&light);
    let packing = bench.at(lit - 10).json("plan");
    assert_eq!(
        (&packing["holds"], &packing["firings"][0]["light_at"]),
        (&true.into(), &light.clone().into())
    );
    let late = bench.at(lit + 30).json("plan");
    assert_eq!(late["changed"][0]["why"], "it is not lit yet", "{late}");
    assert!(
        (lit + 30..lit + 45).contains(&minute(late["firings"][0]["light_at"].as_str().unwrap()))
    );
    let over = bench.at(lit + 90).json("plan");
    assert!(minute(over["firings"][0]["light_at"].as_str().unwrap()) >= lit + 90 + 40, "{over}");
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

/// A plan is reckoned from a whole step of its grid, and knows all the same what was written since: a cone that
/// moved, a target that is down.
#[test]
fn regress_a_plan_leaves_out_nothing_just_written() {
    let mut bench = shop();
    bench.say("lot gold --contents rims --fills full --of Wren --pieces 40");
    bench.say("pack Wren --load gold --lot 1");
    bench.at(1).say("light Wren");
    let drop = |bench: &Bench| {
        let plan = bench.json("plan");
        let at =
            chrono::DateTime::parse_from_rfc3339(plan["firings"][0]["drop_p50"].as_str().unwrap());
        (at.unwrap().timestamp_millis() - crate::journal::minutes(0).0) / 60_000
    };
    let usual = drop(bench.at(149));
    bench.at(151).say("look Wren --guide down");
    let (soon, later) = (drop(bench.at(152)), drop(bench.at(155)));
    assert!(soon < usual - 30 && (soon - later).abs() <= 5, "{usual}, {soon}, {later}");
    bench.at(172).say("look Wren --target down");
    assert_eq!([173, 176, 190].map(|at| drop(bench.at(at))), [172; 3]);
}

/// What the shop says of gas, power and cheap hours bounds its plan, and the plan says so; said anew without it,
/// there is no limit.
#[test]
fn law_a_plan_keeps_to_what_the_shop_says() {
    let bench = shop();
    bench.say("lot gold --contents rims --fills full --of Wren --pieces 40");
    let first = bench.json("plan");
    let why = |plan: &Value| plan["left_waiting"][0]["why"].as_str().unwrap_or_default().to_owned();
    assert_eq!(firings(&first).len(), 1, "{first}");
    bench.say("limits --gas-kilns 0");
    let none = bench.json("plan");
    assert!(why(&none).ends_with("1 gas kilns would climb at once, and 0 may"), "{none}");
    assert_eq!(firings(&none).len(), 0, "{none}");
    assert!(bench.say("hours list").contains("the plan keeps to: 0 gas kilns at once"));
    bench.say("limits --gas-kilns ''");
    assert_eq!(bench.json("plan"), first);
    // Two that may not climb together do not.
    bench.say("lot gold --contents cups --fills full --of North --pieces 40");
    bench.say("limits --gas-kilns 1");
    let apart = bench.json("plan");
    let climbs = |plan: &Value| -> Vec<(String, String)> {
        let one = |firing: &Value| {
            let of = |key: &str| firing[key].as_str().unwrap().to_owned();
            (of("light_at"), of("drop_p50"))
        };
        plan["firings"].as_array().unwrap().iter().map(one).collect()
    };
    let [one, other] = &climbs(&apart)[..] else { panic!("{apart}") };
    assert!(one.1 <= other.0, "{apart}");
    // Power, and what it costs at night.
    let other = Bench::new();
    other.say("kiln change North --fuel electric");
    other.say("hours set 'every day' 0:00 24:00");
    other.say("lot gold --contents rims --fills full --of North --pieces 40");
    let fuel = |plan: &Value| plan["costs_eur"]["fuel"].as_f64().unwrap();
    let dear = other.json("plan");
    other.say("limits --cheap-from 22:00 --cheap-to 21:59 --cheap-price 0.03");
    let cheap = other.json("plan");
    assert!(fuel(&dear) > 1.0 && fuel(&cheap) < 0.2 * fuel(&dear), "{dear} {cheap}");
    other.say("limits --power 5kW");
    let none = other.json("plan");
    assert!(why(&none).ends_with("8.0 kW would be drawn at once, and 5 kW are there"), "{none}");
    assert!(other.refused("limits --cheap-price ''").contains("from when to when power is cheap"));
    let list = other.say("hours list");
    assert!(list.contains("5 kW at once; power at 0.03 a kWh 22:00 to 21:59"), "{list}");
}

/// A sentence that counts more or less changes the plan, and stands with it.
#[test]
fn law_sentences_change_what_a_plan_is_worth() {
    let bench = shop();
    bench.say("lot gold --contents rims --fills quarter --of Wren --pieces 60");
    let usual = bench.json("plan");
    assert!(firings(&usual).is_empty() && usual.get("you_said").is_none(), "{usual}");
    bench.say("limits --at-once more --full less");
    let turned = bench.json("plan");
    assert_eq!(firings(&turned).len(), 1, "{turned}");
    let said = "counts more: I would rather fire today than let ware wait";
    assert_eq!(turned["you_said"][0], said);
    assert!(bench.say("plan").contains(&format!("You said\n  {said}\n")));
    bench.say("limits --at-once usual --full ''");
    assert_eq!(bench.json("plan"), usual);
}

/// How full a kiln was, said as it is unpacked, teaches what the lots of that load type fill.
#[test]
fn law_how_full_it_was_is_learned() {
    let mut bench = shop();
    bench.say("lot gold --contents rims --fills half --of Wren --pieces 40");
    bench.say("pack Wren --load gold --lot 1");
    bench.at(1).say("light Wren");
    bench.at(400).say("off Wren");
    bench.at(1500).say("drawn Wren");
    bench.at(1501).say("outcome Wren good --full full");
    bench.say("lot gold --contents cups --fills 75% --of Wren --pieces 40");
    bench.say("lot decal --contents jugs --fills 75% --of Wren --pieces 40");
    let plan = bench.json("plan");
    // Twice as much as was said, beside what was said twice.
    let times = 2.0_f64.powf(1.0 / 3.0);
    let share = |lot: &str| {
        let all = plan["firings"].as_array().unwrap();
        let its = all.iter().find(|one| one["batch_ids"].to_string().contains(lot));
        its.map(|one| (one["full_share"].as_f64().unwrap(), one["kiln"].as_str().unwrap()))
    };
    let (full, kiln) = share("cups").expect("cups are fired");
    assert_eq!(kiln, "Wren", "{plan}");
    assert!((full - 0.75 * times).abs() < 1e-3, "{plan}");
    let taken = plan["taken_as_usual"].to_string();
    let said = "Lots of gold fill 1.3 times what is said of them, by how full 1 kiln was.";
    assert!(taken.contains(said) && !taken.contains("Lots of decal"), "{taken}");
}

/// The calendar has what is planned as tentative and without a reminder; another plan moves it, and what is no
/// longer planned is cancelled.
#[test]
fn law_the_calendar_goes_with_the_plan() {
    let bench = shop();
    let file = bench.shop().with_file_name("kilns.ics");
    let calendar = || {
        bench.say(&format!("alarms --ics {}", file.display()));
        let text = fs::read_to_string(&file).unwrap().replace("\r\n ", "");
        let events = text.split("BEGIN:VEVENT").skip(1).map(str::to_owned);
        events.filter(|event| event.contains("UID:plan-")).collect::<Vec<String>>()
    };
    assert_eq!(calendar(), Vec::<String>::new());
    bench.say("lot gold --contents rims --fills full --of Wren --pieces 40");
    let cancelled = |event: &&String| event.contains("STATUS:CANCELLED");
    assert!(calendar().iter().all(|event| cancelled(&event)), "nobody goes by it yet");
    let plan = bench.json("plan --adopt");
    let of = |key: &str| {
        let time = plan["firings"][0][key].as_str().unwrap();
        let at = chrono::DateTime::parse_from_rfc3339(time).unwrap();
        at.with_timezone(&chrono::Utc).format("%Y%m%dT%H%M%SZ").to_string()
    };
    let is = |event: &String, step: &str, kiln: &str| {
        event.contains(&format!("UID:plan-{step}-0-{kiln}@spyhole"))
    };
    let adopted = calendar();
    let find = |events: &[String], step: &str, kiln: &str| {
        events.iter().find(|event| is(event, step, kiln)).unwrap().clone()
    };
    for (step, key) in [
        ("pack", "pack_from"),
        ("light", "light_at"),
        ("watch", "watch_from"),
        ("draw", "draw_from"),
    ] {
        let event = find(&adopted, step, "Wren");
        assert!(event.contains("STATUS:TENTATIVE") && !event.contains("VALARM"), "{event}");
        assert!(event.contains("SUMMARY:Plan: "), "{event}");
        assert!(event.contains(&format!("DTSTART:{}", of(key))), "{step} {}: {event}", of(key));
    }
    assert_eq!(adopted.iter().filter(cancelled).count(), adopted.len() - 4);
    bench.say("plan --elsewhere 1");
    let moved = calendar();
    assert!(cancelled(&&find(&moved, "pack", "Wren")));
    assert!(find(&moved, "pack", "North").contains("Plan: Pack North"));
}
