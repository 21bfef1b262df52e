//! Kilns that are renamed: every way to their records leads to the same kiln.

use spyhole::testing::edge::journal::Mode;
use spyhole::testing::edge::shop::advised::Counsel;
use spyhole::testing::edge::shop::standing::Standing;
use spyhole::testing::review::Suggestion;
use spyhole::testing::review::suggestion::Change;

use super::exchange::export;
use super::*;

fn gas(name: &str) -> What {
    What::KilnSet(Kiln::undescribed(name))
}

fn renamed(kiln: &str, name: &str) -> What {
    What::KilnRenamed { kiln: kiln.into(), name: name.into() }
}

/// A firing that is over and one that burns in North, whose probe was corrected; then it is renamed twice.
fn renamed_shop(path: &Path) -> EventId {
    let mut journal = begun(path);
    let mut write = |firing, at, what| done(&mut journal, firing, at, what);
    write(None, -9_000, gas("North"));
    let firing = write(None, -3_000, lit("North")).firing;
    write(firing, -2_700, look(Seen::Down));
    write(firing, -2_699, What::Off);
    write(firing, -2_000, What::Drawn);
    write(firing, -1_999, outcome(Verdict::Good));
    let change = Change::ProbeCorrection { kiln: "North".into(), add_c: 7.0 };
    write(None, -1_000, What::Accepted(Suggestion { change, evidence: Vec::new() }));
    write(None, 0, lit("North"));
    write(None, 5, renamed("North", "Old North"));
    write(None, 6, renamed("north", "Grandmother")).id
}

#[test]
fn law_a_renamed_kiln_is_the_same_wherever_its_records_go() {
    let (folder, path) = shop_file();
    let last = renamed_shop(&path);
    let names = |journal: &Journal| -> Vec<String> {
        let filter = LedgerFilter { kiln: Some("NORTH".into()), ..LedgerFilter::default() };
        let shop = journal.shop().unwrap();
        assert_eq!(shop.corrections.at("Grandmother", minutes(7)), 7.0);
        assert_eq!(shop.kilns.len(), 1);
        let ledger = journal.ledger(&filter).unwrap();
        assert_eq!(shop.firing_in("old north").unwrap().id, ledger[0].firing);
        let facts = journal.facts(&filter, &shop.corrections, &mut |_, _| {}).unwrap();
        let facts = facts.into_iter().map(|facts| facts.kiln);
        ledger.into_iter().map(|row| row.kiln).chain(facts).collect()
    };
    let mut journal = Journal::open(&path).unwrap();
    assert_eq!(names(&journal), ["Grandmother"; 4]);
    assert!(journal.check().unwrap().is_whole());
    journal.rebuild_summary().unwrap();
    assert_eq!(names(&journal), ["Grandmother"; 4]);
    // Taken into a shop that has nothing yet, the renaming comes along.
    let exported = export(&path, &[]);
    assert!(exported.contains("\"kiln\":\"North\""), "what was written stays as it was");
    let other = folder.path().join("other.db");
    let lines = crate::records::read(&exported).unwrap();
    let mut taken = begun(&other);
    taken.import(lines.into_iter().map(Ok), minutes(99), Mode::Keep).unwrap();
    assert_eq!(names(&taken), ["Grandmother"; 4]);
    assert_eq!(export(&other, &[]), exported);
    // Struck, the kiln has the name before again, in its summaries as well.
    done(&mut journal, None, 8, strike(last));
    let filter = LedgerFilter { kiln: Some("Grandmother".into()), ..LedgerFilter::default() };
    assert_eq!(journal.ledger(&filter).unwrap(), []);
    assert_eq!(journal.shop().unwrap().kilns[0].name, "Old North");
    assert!(journal.check().unwrap().is_whole());
}

#[test]
fn law_an_alarm_out_of_service_stays_so_under_the_new_name() {
    let rings = |out: &[(&str, Task)]| {
        let (_folder, path) = shop_file();
        renamed_shop(&path);
        let mut journal = Journal::open(&path).unwrap();
        for (at, c) in [(60, 400.0), (120, 420.0), (121, 900.0), (125, 1_000.0)] {
            let read = event(Some(FiringId(2)), minutes(at), reading(c));
            journal.append(&read, minutes(at)).unwrap();
        }
        let out = out.iter().map(|(kiln, task)| ((*kiln).to_owned(), *task)).collect();
        let mut standing = Standing::new(Counsel::default(), out);
        standing.refresh(&journal, minutes(126)).unwrap();
        let alarms = standing.alarms(minutes(126));
        alarms.iter().any(|alarm| alarm.key.task == Task::ProbeTrouble && alarm.state.rings())
    };
    assert!(rings(&[]));
    assert!(!rings(&[("North", Task::ProbeTrouble)]));
    assert!(rings(&[("South", Task::ProbeTrouble)]));
}
