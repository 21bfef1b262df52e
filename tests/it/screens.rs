//! Screens: what keys and clicks do, what every frame shows, and what no sequence of them may do.

mod adviser;
mod desk;
mod doubt;
mod due;
mod entered;
mod frames;
mod lead;
mod port;
mod presses;
mod review;
mod settings;
mod small;
mod stories;
mod views;
mod whole;

use std::collections::BTreeSet;
use std::iter::successors;

use desk::{ASCII, Desk, NOW, PLAIN};
use proptest::prelude::*;
use spyhole::testing::edge::screen::key;
use spyhole::testing::edge::screen::theme::palette::{contrast, of_index, of_sixteen};
use spyhole::testing::edge::screen::theme::{Choice, Part, Rgb, indexed, pair, pair_of_sixteen};
use spyhole::testing::words;

use crate::prelude::*;

/// The form of a kiln that is packed says what was said, and saving it changes the same firing and
/// nothing that the form does not ask.
#[test]
fn regress_packing_again_by_keys_keeps_what_was_said() {
    let mut desk = Desk::busy();
    desk.press(Key::BackTab);
    let gold = desk.memory.load_type("gold").unwrap().clone();
    let said = Packing {
        kiln: "Wren".into(),
        load_type: "gold".into(),
        contents: "forty cups".into(),
        pieces: Some(40),
        full: Some(Fullness::Half),
        worth: Some(350.0),
        packed_by: "Mia".into(),
        pack: Some(ConePack { guard: None, ..ConePack::usual(gold.target, Family::Large) }),
        cones_stand: "left".into(),
        lots: Vec::new(),
    };
    let (at, what) = (NOW, What::Packed(said.clone()));
    let entry = Entry::new(About::NewFiring, at, what);
    desk.memory.append(&entry, Who::Person("Mia".into()), NOW).unwrap();
    let packing = |desk: &Desk| desk.scene().kiln("Wren").unwrap().packing.clone().unwrap();
    let firing = desk.scene().kiln("Wren").unwrap().firing;
    desk.type_in("p");
    assert_eq!(desk.app.form.as_ref().unwrap().title, Title::PackAgain);
    desk.type_in("\n");
    assert_eq!(packing(&desk), said);
    let message = desk.app.message.clone().unwrap().text;
    assert!(
        message.contains("packing of Wren changed (gold), same firing (u undoes)"),
        "{message}"
    );
    desk.type_in("p\t and a plate\n");
    let wanted = Packing { contents: "forty cups and a plate".into(), ..said.clone() };
    assert_eq!(packing(&desk), wanted);
    assert_eq!(desk.scene().kiln("Wren").unwrap().firing, firing);
    // The cones that were packed are those it is lit with.
    desk.type_in("f\n");
    let lit = desk.memory.firing(firing.unwrap()).unwrap();
    assert_eq!((lit.state, lit.pack), (State::Lit, said.pack));
}

/// Somebody else packs while the form is open: nothing is written over, and what was entered stays.
#[test]
fn regress_a_form_opened_before_somebody_else_packed_is_refused() {
    let mut desk = Desk::busy();
    desk.type_in("<p1cups");
    let theirs = Packing {
        kiln: "Wren".into(),
        load_type: "stoneware bisque".into(),
        contents: "jugs".into(),
        pieces: Some(60),
        worth: Some(900.0),
        full: Some(Fullness::Full),
        ..Packing::default()
    };
    let at = NOW - Span::minutes(2);
    let entry = Entry::new(About::NewFiring, at, What::Packed(theirs));
    desk.memory.append(&entry, Who::Person("Ann".into()), NOW).unwrap();
    let before = desk.memory.shop().last_event;
    // A shop that cannot write tells nothing of the others, so nothing is taken for known.
    desk.refuses = Some("the disk is full");
    desk.type_in("\n");
    assert_eq!(desk.app.form.as_ref().unwrap().title, Title::Pack);
    desk.refuses = None;
    desk.type_in("\n");
    let form = desk.app.form.clone().unwrap();
    assert_eq!(
        form.problem.as_deref(),
        Some(
            "Not saved: Wren was packed with stoneware bisque, 60 pieces, by Ann 2 min ago, after \
             this form was opened: where you entered nothing, it shows that now. What you entered \
             is still here; Enter tries again."
        )
    );
    assert_eq!(desk.memory.shop().last_event, before, "nothing was written");
    assert_eq!(form.said("contents"), "cups");
    assert_eq!(form.said("load_type"), "gold");
    assert_eq!(form.said("full"), "full");
    // Now that it is known, it is a change of their packing.
    desk.type_in("\n");
    let scene = desk.scene();
    let wren = scene.kiln("Wren").unwrap();
    let packing = wren.packing.as_ref().unwrap();
    assert_eq!((packing.contents.as_str(), packing.load_type.as_str()), ("cups", "gold"));
    assert_eq!((packing.pieces, packing.worth), (Some(60), Some(900.0)));
    assert_eq!(desk.memory.shop().open.iter().filter(|one| one.kiln == "Wren").count(), 1);

    // Lit meanwhile, nothing can be packed any more; the form still has what was typed.
    desk.type_in("p\t and bowls");
    let what = What::Lit(lit_with("Wren", "gold", wren.pack.unwrap()));
    let about = About::Firing(wren.firing.unwrap());
    let entry = Entry::new(about, NOW, what);
    desk.memory.append(&entry, Who::Person("Ann".into()), NOW).unwrap();
    for _ in 0..2 {
        desk.type_in("\n");
        let form = desk.app.form.as_ref().unwrap();
        let problem = form.problem.as_deref().unwrap();
        assert!(
            problem.starts_with("Not saved: Wren was lit with gold by Ann just now"),
            "{problem}"
        );
        assert_eq!(form.said("contents"), "cups and bowls");
    }
}

#[test]
fn law_every_key_has_one_meaning_and_every_meaning_a_key() {
    let mut seen = Vec::new();
    for binding in &key::TABLE {
        assert_eq!(key::binding(binding.meaning).label(), binding.label());
        for key in binding.keys() {
            assert!(!seen.contains(&key), "{key:?} stands twice in the table");
            seen.push(key);
            assert_eq!(key::meaning(key, true), Some(binding.meaning));
            if let Key::Char(letter) = key {
                let with_caps_lock = Key::Char(letter.to_ascii_uppercase());
                assert_eq!(key::meaning(with_caps_lock, true), Some(binding.meaning));
            }
            let outside = (!binding.rehearsal_only).then_some(binding.meaning);
            assert_eq!(key::meaning(key, false), outside);
        }
    }
}

/// Every part that a piece of text plays; the compiler says where a new one is missing.
fn parts() -> impl Iterator<Item = Part> {
    successors(Some(Part::Text), |part| match part {
        Part::Text => Some(Part::Quiet),
        Part::Quiet => Some(Part::Accent),
        Part::Accent => Some(Part::Urgent),
        Part::Urgent => Some(Part::Window),
        Part::Window => Some(Part::Key),
        Part::Key => Some(Part::Wrong),
        Part::Wrong => None,
    })
}

/// 4.5 to 1 is the bound of the Web Content Accessibility Guidelines 2 for text (success
/// criterion 1.4.3); black on white is 21 to 1 by the same formula.
#[test]
fn published_contrast_of_every_pair_of_colours() {
    assert_abs_diff_eq!(contrast((0, 0, 0), (255, 255, 255)), 21.0, epsilon = 1e-9);
    let rounded = |colour| match indexed(colour) {
        ratatui::style::Color::Indexed(index) => of_index(index),
        other => panic!("{other:?} is not of the 256"),
    };
    for paper in [Paper::Dark, Paper::Bright] {
        for part in parts() {
            let (ink, under) = pair(part, paper);
            assert!(contrast(ink, under) >= 4.5, "{part:?}, {paper:?}: {}", contrast(ink, under));
            let (ink, under) = (rounded(ink), rounded(under));
            assert!(contrast(ink, under) >= 4.5, "{part:?}, {paper:?}: {}", contrast(ink, under));
            let (ink, under) = pair_of_sixteen(part, paper);
            for (ink, under) in of_sixteen(ink).into_iter().zip(of_sixteen(under)) {
                assert!(contrast(ink, under) >= 4.5, "{part:?}, {paper:?}: {ink:?} on {under:?}");
            }
        }
        // The curve's lines run over the shaded window.
        for part in [Part::Accent, Part::Quiet] {
            let (ink, window) = (pair(part, paper).0, pair(Part::Window, paper).1);
            assert!(contrast(ink, window) >= 3.0, "{part:?} in the window of {paper:?}");
        }
    }
}

/// Lightness is what every eye sees alike: what is to be done now differs from the rest in it.
#[test]
fn law_what_is_urgent_stands_out_without_its_hue() {
    for paper in [Paper::Dark, Paper::Bright] {
        let plain = pair(Part::Text, paper).1;
        for part in [Part::Urgent, Part::Key] {
            assert!(contrast(pair(part, paper).1, plain) >= 4.5, "{part:?} on {paper:?}");
        }
    }
}

/// What somebody without red or without green cones sees, as linear sRGB: Vienot, Brettel and
/// Mollon, "Digital video colourmaps for checking the legibility of displays by dichromats", Color
/// Research and Application 24 (1999), the matrices of its table of steps (from memory). No matrix
/// of the paper is for the rare lack of blue cones: lightness, which all pairs differ in, carries
/// there too.
fn as_dichromats_see(colour: Rgb) -> [Rgb; 2] {
    const TO_LMS: [[f64; 3]; 3] = [
        [17.8824, 43.5161, 4.11935],
        [3.45565, 27.1554, 3.86714],
        [0.029_956_6, 0.184_309, 1.46709],
    ];
    const FROM_LMS: [[f64; 3]; 3] = [
        [0.080_944, -0.130_504, 0.116_721],
        [-0.010_248_5, 0.054_019_4, -0.113_615],
        [-0.000_365_294, -0.004_121_63, 0.693_513],
    ];
    const NO_RED: [[f64; 3]; 3] = [[0.0, 2.02344, -2.52581], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
    const NO_GREEN: [[f64; 3]; 3] = [[1.0, 0.0, 0.0], [0.494_207, 0.0, 1.24827], [0.0, 0.0, 1.0]];
    let apply = |matrix: [[f64; 3]; 3], v: [f64; 3]| {
        matrix.map(|row| row.iter().zip(v).map(|(m, v)| m * v).sum::<f64>())
    };
    let linear = [colour.0, colour.1, colour.2].map(|channel| {
        let c = f64::from(channel) / 255.0;
        if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
    });
    [NO_RED, NO_GREEN].map(|lack| {
        let [red, green, blue] = apply(FROM_LMS, apply(lack, apply(TO_LMS, linear))).map(|l| {
            let l = l.clamp(0.0, 1.0);
            let c = if l <= 0.003_130_8 { 12.92 * l } else { 1.055 * l.powf(1.0 / 2.4) - 0.055 };
            (255.0 * c).round() as u8
        });
        (red, green, blue)
    })
}

/// Grey stays grey, red and green of one lightness become one hue: the simulation is what it says.
#[test]
fn published_dichromats_confuse_red_and_green_and_no_grey() {
    for grey in [0, 90, 180, 255] {
        for (red, green, blue) in as_dichromats_see((grey, grey, grey)) {
            let off = [red, green, blue].map(|channel| channel.abs_diff(grey));
            assert!(off.iter().all(|off| *off <= 2), "{grey} became {red} {green} {blue}");
        }
    }
    for (red, green, _) in
        as_dichromats_see((200, 40, 30)).into_iter().chain(as_dichromats_see((40, 140, 30)))
    {
        assert!(red.abs_diff(green) <= 2, "red and green are told apart: {red} {green}");
    }
}

/// Every pair of ink and paper can be read by them, and what is urgent stands out for them.
#[test]
fn published_every_pair_is_read_by_dichromats() {
    for paper in [Paper::Dark, Paper::Bright] {
        let plain = pair(Part::Text, paper).1;
        for part in parts() {
            let (ink, under) = pair(part, paper);
            let seen = as_dichromats_see(ink).into_iter().zip(as_dichromats_see(under));
            for (ink, under) in seen {
                assert!(contrast(ink, under) >= 4.5, "{part:?} on {paper:?}");
            }
        }
        let seen = as_dichromats_see(pair(Part::Urgent, paper).1);
        for (urgent, plain) in seen.into_iter().zip(as_dichromats_see(plain)) {
            assert!(contrast(urgent, plain) >= 4.5, "urgent on {paper:?}");
        }
    }
}

/// No state is told by its colour: each has a word and a shape of its own, in either alphabet.
#[test]
fn law_every_state_has_a_word_and_a_shape_of_its_own() {
    const ALL: [Phase; 9] = [
        Phase::Empty,
        Phase::Packed,
        Phase::Heating,
        Phase::Watch,
        Phase::Dropped,
        Phase::Off,
        Phase::Cooling,
        Phase::Drawn,
        Phase::Aborted,
    ];
    for theme in [PLAIN, ASCII] {
        let shapes: BTreeSet<&str> = ALL.into_iter().map(|phase| theme.shape(phase)).collect();
        assert_eq!(shapes.len(), ALL.len());
    }
    let said: BTreeSet<&str> = ALL.into_iter().map(Phase::name).collect();
    assert_eq!(said.len(), ALL.len());
}

#[test]
fn law_the_environment_decides_colour_and_letters() {
    let theme = |set: &[(&str, &str)]| {
        let set: Vec<(String, String)> =
            set.iter().map(|(n, v)| ((*n).to_owned(), (*v).to_owned())).collect();
        Theme::chosen(None, move |name| set.iter().find(|(n, _)| n == name).map(|(_, v)| v.clone()))
    };
    let utf8 = ("LANG", "de_DE.UTF-8");
    let term = ("TERM", "xterm-256color");
    assert_eq!(theme(&[utf8, term, ("NO_COLOR", "1")]), PLAIN);
    assert_eq!(theme(&[("LANG", "C"), ("TERM", "vt100")]), ASCII);
    assert_eq!(theme(&[utf8, ("SPYHOLE_ASCII", "1"), ("TERM", "dumb")]), ASCII);
    assert_eq!(theme(&[utf8, term, ("COLORTERM", "truecolor")]), desk::TRUE_COLOUR);
    assert_eq!(theme(&[("LC_ALL", "C"), utf8, term]), desk::INDEXED);
    assert_eq!(theme(&[utf8, ("TERM", "linux")]).depth, Depth::Sixteen);
    let bare = |name: &str| (name == "TERM").then(|| "xterm-256color".to_owned());
    for (choice, depth, paper) in [
        (Choice::Dark, Depth::Indexed, Paper::Dark),
        (Choice::Bright, Depth::Indexed, Paper::Bright),
        (Choice::None, Depth::None, Paper::Dark),
    ] {
        let seen = Theme::chosen(Some(choice), bare);
        assert_eq!((seen.depth, seen.paper), (depth, paper), "{choice:?}");
    }
}

/// What a scene says in numbers that run with the clock.
fn said(desk: &Desk) -> Vec<String> {
    let scene = desk.scene();
    let kilns = scene.kilns.iter().flat_map(|kiln| {
        let cones = kiln.cones.iter().map(|cone| words::cone_line(cone, desk.now, 80));
        [
            Some(words::say(kiln, desk.now, &DIAL)),
            Some(words::say_short(kiln, desk.now)),
            words::big_text(kiln, desk.now),
            Some(words::big_caption(kiln, desk.now)),
            words::watch_line(kiln, desk.now, &DIAL),
            words::reading_line(kiln, desk.now, &DIAL),
        ]
        .into_iter()
        .flatten()
        .chain(cones)
        .collect::<Vec<_>>()
    });
    let coming = scene.agenda();
    let coming = coming.iter().map(|one| words::agenda_line(one, desk.now, &DIAL));
    kilns.chain(coming).chain([DIAL.time(desk.now)]).collect()
}

#[derive(Debug, Clone, Copy)]
enum Step {
    Key(Key),
    Click(u16, u16),
    Wheel(bool),
    Wait(i64),
    Refuse(bool),
    Size(u16, u16),
}

fn steps() -> impl Strategy<Value = Step> {
    let key = prop_oneof![
        6 => proptest::sample::select("lrodefuptnxcvazs?hkq+-2344/".chars().collect::<Vec<_>>())
            .prop_map(Key::Char),
        6 => proptest::sample::select("sldhugo123409:CF\u{bd}\u{6f22}\u{301} amin".chars().collect::<Vec<_>>())
            .prop_map(Key::Char),
        4 => Just(Key::Enter),
        3 => proptest::sample::select(vec![
            Key::Escape, Key::Tab, Key::BackTab, Key::Backspace, Key::Delete, Key::Up, Key::Down,
            Key::Left, Key::Right, Key::Home, Key::End, Key::Control('c'), Key::Control('u'),
            Key::Control('w'), Key::Control('z'), Key::Control('l'),
        ]),
        1 => any::<char>().prop_map(Key::Char),
    ];
    prop_oneof![
        12 => key.prop_map(Step::Key),
        3 => (0..130u16, 0..45u16).prop_map(|(column, row)| Step::Click(column, row)),
        1 => any::<bool>().prop_map(Step::Wheel),
        1 => (0..40_000_000i64).prop_map(Step::Wait),
        1 => any::<bool>().prop_map(Step::Refuse),
        1 => (0..130u16, 0..45u16).prop_map(|(columns, rows)| Step::Size(columns, rows)),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, ..ProptestConfig::default() })]

    #[test]
    fn law_no_keys_panic_or_write_what_no_form_confirmed(
        steps in proptest::collection::vec(steps(), 1..120)
    ) {
        let mut desk = Desk::with_past();
        (desk.settings, desk.schedules) =
            (frames::with_settings().settings, frames::own_schedules().schedules);
        let (mut columns, mut rows) = (80, 24);
        for step in steps {
            match step {
                Step::Wait(ms) => desk.now = desk.now + Span(ms),
                Step::Refuse(refuses) => desk.refuses = refuses.then_some("the disk is full"),
                Step::Size(c, r) => (columns, rows) = (c, r),
                Step::Key(key) => press_and_judge(&mut desk, key)?,
                Step::Click(column, row) => {
                    let (rings, kept) = (answer_to_what_rings(&desk), desk.settings.clone());
                    let written = desk.click((columns, rows), (column, row));
                    prop_assert!(
                        written.is_empty() || written.first() == rings.as_ref(),
                        "a click confirms no form: {written:?}"
                    );
                    prop_assert_eq!(kept, desk.settings.clone());
                }
                Step::Wheel(up) => {
                    let wheel = if up { Mouse::WheelUp } else { Mouse::WheelDown };
                    prop_assert!(desk.hear(Input::Mouse(wheel)).is_empty());
                }
            }
            desk.draw(columns, rows, if desk.now.0 % 2 == 0 { PLAIN } else { ASCII });
        }
    }

    #[test]
    fn law_what_is_said_changes_in_no_second_but_the_one_before_the_next_change(
        late_ms in 0..30_000_000i64, share in 0.0..1.0f64
    ) {
        let mut desk = Desk::busy();
        desk.now = NOW + Span(late_ms);
        let (before, due) = (said(&desk), desk.scene().next_change());
        prop_assert!(due > desk.now && due - desk.now <= Span::minutes(1));
        prop_assert_eq!(due.0 % 1_000, 0, "one frame a second is enough");
        let wait = ((due - desk.now).0 as f64 * share) as i64;
        let then = Moment((desk.now.0 + wait).min(due.0 - 1_000));
        if then > desk.now {
            desk.now = then;
            prop_assert_eq!(before, said(&desk));
        }
    }
}

/// The one entry that needs no form: the answer to what rings, by the key that is shown for it.
fn answer_to_what_rings(desk: &Desk) -> Option<Entry> {
    let scene = desk.scene();
    let alarm = scene.ringing()?;
    let what = What::Acknowledged { alarm: alarm.key.task.name().into() };
    Some(Entry::new(About::Firing(alarm.key.firing), desk.now, what))
}

/// Whether the key that answers means so here: beside no form, no list and no help, on the floor,
/// or on a page whose first line names the kiln that rings.
fn answers_here(desk: &Desk, key: Key) -> bool {
    let app = &desk.app;
    let open = app.form.is_some() || app.finder.is_some();
    let answers = key::meaning(key, false) == Some(Meaning::Acknowledge);
    let scene = desk.scene();
    let rings = scene.ringing().map(|alarm| &alarm.kiln);
    let named = scene.due().is_none_or(|due| Some(&due.kiln) == rings);
    let here = match app.view {
        View::Floor => app.help.is_none(),
        View::Plan(_) | View::Bench(_) => app.help.is_none() && named,
        _ => false,
    };
    let finder = key == Key::Enter && app.finder.is_some();
    finder || (here && !open && answers)
}

/// Presses a key, and holds what was written to what the open form said it would write.
fn press_and_judge(desk: &mut Desk, key: Key) -> Result<(), TestCaseError> {
    let confirmed = desk.app.form.as_ref().filter(|_| key == Key::Enter);
    let setting = confirmed.filter(|form| form.title.is_setting());
    // An entry that is named by its number is shown before it is struck.
    let shows = confirmed.is_some_and(|form| matches!(form.struck(), Some((_, None))));
    let promised = match (confirmed, answers_here(desk, key)) {
        _ if shows => None,
        (Some(form), _) => form.entry(&desk.scene(), &desk.dial, &desk.schedules).ok(),
        (None, true) => answer_to_what_rings(desk),
        (None, false) => None,
    };
    let kept = match (setting, &desk.settings, desk.refuses) {
        (Some(form), Some(settings), None) => form.kept(settings).ok(),
        _ => None,
    };
    let (events, before, through_finder) =
        (desk.written.len(), desk.settings.clone(), desk.app.finder.is_some());
    let had_form = desk.app.form.is_some();
    let handed_out = desk.press(key);
    if !(through_finder && handed_out.is_empty()) {
        prop_assert_eq!(handed_out.first(), promised.as_ref());
    }
    prop_assert_eq!(&desk.settings, &kept.or(before), "settings are kept as the form said");
    prop_assert!(handed_out.len() <= 1);
    let written = desk.written.len() - events;
    prop_assert!(written <= handed_out.len());
    let told_saved = desk.app.message.as_ref().is_some_and(|m| m.tone == Tone::Saved);
    if !handed_out.is_empty() {
        prop_assert_eq!(told_saved, written == 1, "saved is said when, and only when, it is");
        prop_assert_eq!(had_form && desk.app.form.is_some(), had_form && written == 0);
    }
    Ok(())
}
