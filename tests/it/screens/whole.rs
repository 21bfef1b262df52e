//! No sentence of the floor is cut: the text of the frames against the words they were made from.

use spyhole::testing::words;

use super::desk::{Desk, NOW, PLAIN, text};
use super::port::{lit, usual};
use crate::prelude::*;

/// Twenty to midnight at the desk's moment, so that much of what is said is of tomorrow.
const ZONE: FixedZone = FixedZone(Span::hours(10));
const DIAL: Dial<'static> =
    Dial { zone: &ZONE, clock: Clock::TwelveHour, scale: Scale::Fahrenheit };

/// So many kilns, most of them with long names, each somewhat later than the one before.
fn floor(kilns: usize, first: Task) -> Desk {
    const NAMES: [&str; 4] = [
        "The large gas kiln behind the glaze room",
        "Grandmother's electric kiln with the new elements",
        "Old Gas",
        "Wren",
    ];
    let names: Vec<String> = (0..kilns).map(|at| format!("{} {at}", NAMES[at % 4])).collect();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let mut desk = lit(&names, usual());
    for (at, (_, advice)) in (0i64..).zip(&mut desk.advices) {
        let later = Span::minutes(50 * at);
        advice.say = if at == 0 { first } else { Task::NextLook };
        advice.next_look = Some(NOW + Span::minutes(95) + later);
        advice.watch_opens = Some(NOW + Span::minutes(if at == 0 { -70 } else { 90 }) + later);
        let forecast = advice.forecast.as_mut().unwrap();
        forecast.p05 = forecast.p05 + later - Span::minutes(30);
        forecast.p50 = forecast.p50 + later;
        forecast.p95 = forecast.p95 + Span(2 * later.0) + Span::hours(1);
    }
    desk.dial = DIAL;
    desk
}

/// What the floor says, sentence by sentence.
fn said(desk: &Desk) -> Vec<String> {
    let (scene, now) = (desk.scene(), desk.now);
    let mut said = vec![words::CAUTION_ALONE.to_owned()];
    said.extend(scene.kilns.first().map(|_| words::headline(&scene, &DIAL, Striking::ByKey("u"))));
    for kiln in &scene.kilns {
        let facts = [
            words::drop_line(kiln, now, &DIAL),
            words::drop_short(kiln, now, &DIAL, 0),
            words::drop_short(kiln, now, &DIAL, 30),
            words::drop_line(kiln, now, &DIAL).map(|line| line.replace(" likely", "")),
            words::watch_line(kiln, now, &DIAL),
            words::chamber_line(kiln, &DIAL),
            words::reading_line(kiln, now, &DIAL),
            words::forgives_line(kiln),
            words::rests_on_line(kiln, now, &DIAL),
            Some(words::load_line(kiln, now, &DIAL)),
            Some(words::say_short(kiln, now)),
        ];
        said.extend(facts.into_iter().flatten());
        said.extend(kiln.happened().iter().map(|(_, one)| words::happened_line(one, &DIAL)));
    }
    said.extend(scene.agenda().iter().map(|one| words::agenda_line(one, now, &DIAL)));
    said
}

/// What stands in a row from this column to the end of its cell.
fn cell(row: &[char], from: usize) -> String {
    let rest: String = row.get(from..).unwrap_or_default().iter().collect();
    let end = rest.find(['│', '╭', '╰']).unwrap_or(rest.len());
    let end = rest.find("   ").map_or(end, |blanks| blanks.min(end));
    rest[..end].trim().to_owned()
}

/// Whether a cell begins here, or what is said after the name of a kiln.
fn begins_a_cell(row: &[char], from: usize) -> bool {
    let before: String = row[from.saturating_sub(2)..from].iter().collect();
    before.len() < 2 || before.ends_with('│') || ["  ", "> ", ": ", "│ "].contains(&&*before)
}

/// Whether what begins here is all of a sentence, over several rows too, or says by two points that it is cut.
fn is_whole(sentence: &str, rows: &[Vec<char>], from: usize) -> bool {
    let first = cell(&rows[0], from);
    let below = rows.iter().map(|row| cell(row, from)).collect::<Vec<_>>().join(" ");
    below.starts_with(sentence) || first.contains("..")
}

#[test]
fn law_no_sentence_of_the_floor_is_cut() {
    let mut read = 0;
    for (kilns, first) in [
        (0, Task::Nothing),
        (1, Task::NextLook),
        (1, Task::LookDue),
        (5, Task::NextLook),
        (8, Task::LookDue),
        (24, Task::NextLook),
    ] {
        let desk = floor(kilns, first);
        let said = said(&desk);
        for (columns, rows) in [(80, 24), (120, 40), (40, 12), (200, 60)] {
            let frame = text(&desk.draw(columns, rows, PLAIN));
            let rows: Vec<Vec<char>> = frame.lines().map(|line| line.chars().collect()).collect();
            for sentence in &said {
                let begins: Vec<char> = sentence
                    .match_indices(' ')
                    .nth(1)
                    .map_or(&sentence[..], |(at, _)| &sentence[..=at])
                    .chars()
                    .collect();
                let like: Vec<&String> = said
                    .iter()
                    .filter(|one| one.starts_with(&*begins.iter().collect::<String>()))
                    .collect();
                for (at, row) in rows.iter().enumerate() {
                    let found = (0..row.len()).find(|from| {
                        begins_a_cell(row, *from) && row[*from..].starts_with(&begins)
                    });
                    let Some(from) = found else { continue };
                    read += 1;
                    let whole = like.iter().any(|one| is_whole(one, &rows[at..], from));
                    assert!(
                        whole,
                        "{kilns} kilns, {columns} columns, row {at}: {sentence}\n{frame}"
                    );
                }
            }
        }
    }
    assert!(read > 300, "only {read} sentences were found");
}

/// Names give way in what comes next, and never what there is to do.
#[test]
fn law_what_comes_next_is_told_to_its_end() {
    for (kilns, size) in [(5, (80, 24)), (5, (200, 60)), (8, (200, 60)), (24, (200, 60))] {
        let mut desk = floor(kilns, Task::NextLook);
        let frame = text(&desk.draw(size.0, size.1, PLAIN));
        assert!(frame.contains("What comes next") && frame.contains("likely drops"), "{frame}");
        for cut in ["0's..", "1's..", "3's..", "cone..", "likely..", "watch.."] {
            assert!(!frame.contains(cut), "{cut}: {frame}");
        }
        // Nor in the ledger what became of a firing.
        desk.type_in("2");
        let frame = text(&desk.draw(size.0, size.1, PLAIN));
        assert_eq!(frame.matches("  018   open").count(), kilns, "{frame}");
        let frame = text(&desk.draw(40, 12, PLAIN));
        assert_eq!(frame.matches(" gold, ").count(), kilns.min(7), "{frame}");
    }
}
