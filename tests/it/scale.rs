//! A reader of Fahrenheit is told every temperature and every rate in Fahrenheit.

use spyhole::testing::edge::shop::clock::{SystemClock, Timekeeper};
use spyhole::testing::schedule::Leg;
use spyhole::testing::schedule::caution::{Hazard, Rule};
use spyhole::testing::words;

use crate::journal::{gold_pack, lit, outcome};
use crate::prelude::*;
use crate::program::{self, Run};

/// A gas kiln lit 230 minutes ago by "Lustre and gold", and a firing of it that is over.
fn shop() -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    run(&folder, "kiln add North --fuel gas --ceiling 1100C --fastest-climb 200C/h").ok();
    run(&folder, "kiln add South --fuel electric").ok();
    let mut journal = Journal::open(&folder.path().join("shop.db")).unwrap();
    let now = SystemClock.now();
    let look = Look { guide: Some(Seen::Half), target: Some(Seen::Standing), guard: None };
    let lustre = What::Lit(Lit {
        kiln: "North".into(),
        load_type: "gold".into(),
        pack: gold_pack(),
        schedule: Some("Lustre and gold".into()),
        plan: shipped_schedules::plan("Lustre and gold").unwrap(),
    });
    let past = |minutes: f64| Celsius(20.0 + 700.0 * (minutes / 300.0));
    let mut written: Vec<(Option<i64>, i64, What)> = vec![(None, 3_000, lit("North"))];
    let steps = (0..=30).map(|step| 10 * step);
    written.extend(
        steps.clone().map(|step| (Some(1), 3_000 - step, What::Reading(past(step as f64)))),
    );
    written.extend([
        (Some(1), 2_705, What::Look(Look { target: Some(Seen::Down), ..look })),
        (Some(1), 2_700, What::Off),
        (Some(1), 2_000, What::Reading(Celsius(60.0))),
        (Some(1), 1_990, What::Drawn),
        (Some(1), 1_980, outcome(Verdict::Good)),
        (None, 230, lustre),
    ]);
    let climbs = steps.take_while(|step| *step < 225);
    written.extend(
        climbs.map(|step| (Some(2), 230 - step, What::Reading(Celsius(20.0 + 2.2 * step as f64)))),
    );
    written.push((Some(2), 4, What::Look(look)));
    for (firing, minutes, what) in written {
        let at = now - Span::minutes(minutes);
        let who = Who::Person("Ida".into());
        journal.append(&NewEvent::new(firing.map(FiringId), at, who, what), at).unwrap();
    }
    folder
}

/// Runs a line, in which `{}/` is the folder of the shop.
fn run(shop: &TempDir, line: &str) -> Run {
    let line = line.replace("{}/", &format!("{}/", shop.path().display()));
    program::at(&shop.path().join("shop.db"), &format!("--scale f {line}"))
}

/// Numbers in C or C/h in a text, each with some words before it; but for those that stand beside
/// the same in F: `1353 F (734 C)`, `500 C (932 F)`.
fn celsius_in(text: &str) -> Vec<String> {
    let words: Vec<&str> = text.split_whitespace().collect();
    let bare =
        |word: &str| word.trim_matches(|c: char| !c.is_ascii_alphanumeric() && c != '/').to_owned();
    let is_number = |word: &str| {
        let word = word.trim_matches(|c: char| !c.is_ascii_digit());
        !word.is_empty() && word.replace(['.', ','], "").bytes().all(|byte| byte.is_ascii_digit())
    };
    let is_c = |word: &str| ["C", "C/h"].contains(&bare(word).as_str());
    let glued = |word: &str| {
        let word = bare(word);
        let number = word.strip_suffix("C/h").or(word.strip_suffix('C'));
        number
            .is_some_and(|number| !number.is_empty() && is_number(number) && number == bare(number))
    };
    let found = (0..words.len()).filter(|&at| {
        let pair = at > 0 && is_c(words[at]) && is_number(words[at - 1]);
        let beside = at > 1
            && (words[at - 1].starts_with('(') && bare(words[at - 2]).starts_with('F')
                || words.get(at + 1).is_some_and(|next| next.starts_with('(')));
        (pair && !beside) || glued(words[at])
    });
    found.map(|at| words[at.saturating_sub(6)..=at].join(" ")).collect()
}

#[test]
fn law_the_search_finds_celsius_and_knows_both_scales_at_once() {
    assert_eq!(celsius_in("climb 150 C/h to 734 C."), ["climb 150 C/h", "climb 150 C/h to 734 C."]);
    assert_eq!(celsius_in("at 20C now").len(), 1);
    assert!(celsius_in("climb to 1353 F at 270 F/h, C 7, cone 018").is_empty());
    assert!(celsius_in("down at 1353 F (734 C) and below 500 C (932 F).").is_empty());
}

/// A text without what it only quotes: the sources of a rule, and the prose of a schedule's file.
fn without_quotations(text: &str) -> String {
    let mut text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for (_, schedule) in shipped_schedules::all() {
        let whys = schedule.ventilate.iter().map(|stretch| stretch.why.clone());
        for quoted in whys.chain([schedule.reasoning.clone()]) {
            let quoted = quoted.split_whitespace().collect::<Vec<_>>().join(" ");
            if !quoted.is_empty() {
                text = text.replace(&quoted, "");
            }
        }
    }
    for hazard in Hazard::ALL {
        let rate = CelsiusPerHour(1.0);
        let rule = Rule::TooFast { hazard, rate, limit: rate };
        text = text.replace(rule.source(), "");
    }
    for rule in [
        Rule::FreeCooling,
        Rule::Opening,
        Rule::RateChangesNearTop { slowest: CelsiusPerHour(1.0), fastest: CelsiusPerHour(1.0) },
    ] {
        text = text.replace(rule.source(), "");
    }
    text
}

#[test]
fn law_no_answer_to_a_reader_of_fahrenheit_is_in_celsius() {
    let shop = shop();
    run(&shop, "export --firing 2 -o {}/north.jsonl").ok();
    let asked = "status|history North|ledger|alarms|alarms rules|alarms report|\
        alarms --ics {}/kilns.ics|advise {}/north.jsonl --explain|kiln list|load-type list|\
        load-type show gold|cone 018|cone 018 --rate 270F/h|cone --rate 270F/h|\
        cone 018 --rate 270F/h --at 1300F|schedule list|schedule show 'Lustre and gold'|\
        schedule check 'Lustre and gold'|\
        schedule check 'Lustre and gold' --ceiling 1000F --fastest 100F/h|\
        schedule solve 'Lustre and gold'|schedule simulate 'Lustre and gold'|\
        review all --explain|review firing 1 --explain|review near 2 --explain|\
        review card 1 {}/card.html";
    for line in asked.split('|') {
        let run = run(&shop, line);
        assert!(!run.out.is_empty(), "{line:?}: {}", run.err);
        let said = without_quotations(&(run.out + &run.err));
        assert_eq!(celsius_in(&said), [""; 0], "{line:?}");
    }
    for printed in ["kilns.ics", "card.html"] {
        let text = fs::read_to_string(shop.path().join(printed)).unwrap().replace("\r\n ", "");
        let text = text.replace("&lt;", "<").replace('<', " <").replace('>', "> ");
        assert_eq!(celsius_in(&text), [""; 0], "{printed}");
    }
}

#[test]
fn law_a_step_by_hand_is_asked_for_in_the_words_and_the_scale_of_the_schedule() {
    let shop = shop();
    let alarms = run(&shop, "alarms").out;
    assert!(alarms.contains("Climb to 1353 F at 270 F/h."), "{alarms}");
    let shown = run(&shop, "schedule show 'Lustre and gold'").out;
    assert!(shown.contains("climb to 1353 F at 270 F/h"), "{shown}");
    let leg = |from, to, minutes| Leg {
        segment: 0,
        starts: Span::ZERO,
        length: Span::minutes(minutes),
        from: Celsius(from),
        to: Celsius(to),
    };
    let said = [leg(400.0, 700.0, 120), leg(700.0, 700.0, 20), leg(700.0, 600.0, 60)]
        .map(|leg| [Scale::Celsius, Scale::Fahrenheit].map(|scale| words::leg_order(&leg, scale)));
    let expected = [
        ["climb to 700 C at 150 C/h", "climb to 1292 F at 270 F/h"],
        ["hold 700 C for 20 min", "hold 1292 F for 20 min"],
        ["cool to 600 C at 100 C/h", "cool to 1112 F at 180 F/h"],
    ];
    assert_eq!(said, expected);
}

#[test]
fn law_a_caution_is_in_the_scale_of_its_reader() {
    let rate = CelsiusPerHour(300.0);
    let target = gold_pack().target;
    let hot = Rule::AboveChart { target, top: Celsius(900.0), hottest: Celsius(800.0) };
    let quartz = Rule::TooFast { hazard: Hazard::QuartzUp, rate, limit: rate };
    let cristobalite = Rule::TooFast { hazard: Hazard::CristobaliteDown, rate, limit: rate };
    for (rule, celsius, fahrenheit) in [
        (hot, "(800 C at 600 C/h)", "(1472 F at 1080 F/h)"),
        (quartz, "quartz grows at 573 C;", "quartz grows at 1063 F;"),
        (cristobalite, "shrinks near 220 C;", "shrinks near 428 F;"),
    ] {
        let [in_c, in_f] =
            [Scale::Celsius, Scale::Fahrenheit].map(|scale| words::caution(&rule, scale));
        assert!(in_c.contains(celsius), "{in_c}");
        assert!(in_f.contains(fahrenheit) && celsius_in(&in_f).is_empty(), "{in_f}");
    }
}
