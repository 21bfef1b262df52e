//! Instances and plans that are refused, each with one clear error.

use std::collections::BTreeMap;

use super::{asked, path, text};
use crate::prelude::*;
use crate::program::at;
use spyhole::testing::edge::plan_file;

/// What is written in the place of what, and what the error says.
#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields)]
struct Change {
    from: String,
    to: String,
    says: String,
}

/// Each row of `tests/data/refused/plans.toml` of this kind, written into a good text, is refused.
fn refuses(kind: &str, good: &str, read: impl Fn(&str) -> Option<anyhow::Error>) {
    let rows: BTreeMap<String, Vec<Change>> = data("refused/plans.toml");
    for Change { from, to, says } in &rows[kind] {
        assert!(good.contains(from), "{from}");
        let error = read(&good.replacen(from, to, 1)).unwrap().to_string();
        assert!(error.contains(says), "{to}: {error}");
    }
}

#[test]
fn law_an_instance_that_cannot_be_is_refused() {
    let good = text("tiny1");
    refuses("instance", &good, |text| plan_file::instance(text).err());
    let list = plan_file::instance(&good.replacen(
        "\"limits\": {",
        "\"limits\": [1, 1, 1, 1, 1, 1], \"tariff\": {",
        1,
    ));
    assert!(list.is_err());
}

#[test]
fn law_an_old_plan_that_cannot_be_is_refused() {
    let (asked, tables) = asked(&text("tiny1"));
    let good = r#"{"plan": 1, "firings": [{"number": 1, "batch_ids": ["B01"], "kiln": "Heron", "load_type": "gold",
        "light_at": "2026-03-03T09:00:00+01:00", "state": "planned"}, {"batch_ids": ["B04"], "kiln": "North",
        "load_type": "glaze", "light_at": "2026-03-04T09:00:00+01:00"}]}"#;
    assert!(plan_file::plan(good, &asked, &tables).unwrap().gone.is_empty());
    refuses("plan", good, |text| plan_file::plan(text, &asked, &tables).err());
    // A kiln that is no more, or a lot, is a reason to plan anew.
    let gone = plan_file::plan(&good.replace("North", "South"), &asked, &tables).unwrap();
    assert_eq!(gone.gone.len(), 1);
    assert_eq!(gone.plan.firings.len(), 1);
}

#[test]
fn law_a_refusal_is_one_line_and_exit_code_2() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("bad.json");
    fs::write(&file, text("tiny1").replacen("\"room_l\": 100", "\"room_l\": -1", 1)).unwrap();
    let file = file.to_str().unwrap();
    let from = path("tiny1");
    for line in [format!("plan --from {file}"), format!("plan --from {from} --was {file}")] {
        let said = at(Path::new("/nowhere/shop.db"), &line).refused();
        assert_eq!(said.lines().count(), 1, "{said}");
        assert!(said.starts_with(&format!("spyhole: {file}: ")), "{said}");
    }
}
