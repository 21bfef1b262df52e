//! One clear error for each kind of bad input: the rule, the value seen, what is allowed, what to
//! do. Exit code 2, nothing on standard output. Every text is pinned.

use crate::program::spyhole;

/// One refused command line and its whole message, without the program's name in front.
type Case = (&'static [&'static str], &'static str);

const CHART: &str = "it runs 022, 021 ... 02, 01, 1, 2 ... 14, with the half cones 05.5 and 5.5";
const FAMILIES: &str =
    "use one of self-supporting, self-supporting iron-free, large, large iron-free, small";

fn check(cases: &[Case]) {
    for (args, message) in cases {
        let run = spyhole(args);
        let expected = format!(
            "spyhole: {}\n",
            message.replace("{CHART}", CHART).replace("{FAMILIES}", FAMILIES)
        );
        assert_eq!(run.err, expected, "{args:?}");
        assert_eq!(run.code, 2, "{args:?}");
        assert_eq!(run.out, "", "{args:?}");
    }
}

#[test]
fn law_malformed_cones() {
    check(&[
        (&["cone", "23"], "there is no cone 23 on the chart: {CHART}"),
        (&["cone", "0"], "there is no cone 0 on the chart: {CHART}"),
        (&["cone", "00"], "there is no cone 00 on the chart: {CHART}"),
        (&["cone", "15"], "there is no cone 15 on the chart: {CHART}; did you mean 015?"),
        (
            &["cone", "014.5"],
            "there is no cone 014.5 on the chart: {CHART}; did you mean 014 or 14?",
        ),
        (&["cone", "006"], "there is no cone 006 on the chart: {CHART}; did you mean 06 or 6?"),
        (&["cone", "6.25"], "\"6.25\" is not a cone name: write it like 018, 05.5, 6 or ^6"),
        (&["cone", "o18"], "\"o18\" is not a cone name: write it like 018, 05.5, 6 or ^6"),
        (&["cone", "0x6"], "\"0x6\" is not a cone name: write it like 018, 05.5, 6 or ^6"),
        (&["cone", ""], "\"\" is not a cone name: write it like 018, 05.5, 6 or ^6"),
        (&["cone", "six"], "\"six\" is not a cone name: write it like 018, 05.5, 6 or ^6"),
        (
            &["cone", "022", "--family", "large"],
            "the chart has no large cone 022: it has 022 as self-supporting, small",
        ),
        (
            &["cone", "13", "--family", "small"],
            "the chart has no small cone 13: it has 13 as self-supporting, large",
        ),
        (&["cone", "6", "--family", "tiny"], "\"tiny\" is not a cone family: {FAMILIES}"),
    ]);
}

#[test]
fn law_malformed_rates() {
    const EXAMPLE: &str = "is not a number with a unit: write it like 150C/h or 270F/h";
    const RANGE: &str = "is outside 5 C/h (9 F/h) to 600 C/h (1080 F/h): the cone chart says nothing of rates so far from its 15 to 300 C/h";
    let cases: Vec<(&str, String)> = vec![
        (
            "150",
            "rate \"150\" has no unit: write 150C/h or 270F/h, so that nobody has to guess the scale".into(),
        ),
        ("fast", format!("rate \"fast\" {EXAMPLE}")),
        ("", format!("rate \"\" {EXAMPLE}")),
        ("150C", format!("rate \"150C\" {EXAMPLE}")),
        ("150K/h", format!("rate \"150K/h\" {EXAMPLE}")),
        ("150C/day", format!("rate \"150C/day\" {EXAMPLE}")),
        ("1e3C/h", format!("rate \"1e3C/h\" {EXAMPLE}")),
        ("4.9C/h", format!("rate 4.9C/h {RANGE}")),
        ("0C/h", format!("rate 0C/h {RANGE}")),
        ("-60C/h", format!("rate -60C/h {RANGE}")),
        ("601C/h", format!("rate 601C/h {RANGE}")),
        ("1100F/h", format!("rate 1100F/h {RANGE}")),
        ("99999999999999999999C/h", format!("rate 99999999999999999999C/h {RANGE}")),
    ];
    for (rate, message) in cases {
        let run = spyhole(&["cone", "018", "--rate", rate]);
        assert_eq!((run.code, run.err), (2, format!("spyhole: {message}\n")), "{rate}");
    }
}

#[test]
fn law_malformed_temperatures() {
    const EXAMPLE: &str = "is not a number with a unit: write it like 712C or 1314F";
    const RANGE: &str =
        "is outside -40 C (-40 F) to 1500 C (2732 F): check the number and its scale";
    let cases: Vec<(&str, String)> = vec![
        (
            "712",
            "temperature \"712\" has no unit: write 712C or 1314F, so that nobody has to guess the scale".into(),
        ),
        ("hot", format!("temperature \"hot\" {EXAMPLE}")),
        ("NaNC", format!("temperature \"NaNC\" {EXAMPLE}")),
        ("infC", format!("temperature \"infC\" {EXAMPLE}")),
        ("7.1.2C", format!("temperature \"7.1.2C\" {EXAMPLE}")),
        ("712K", format!("temperature \"712K\" {EXAMPLE}")),
        ("1501C", format!("temperature 1501C {RANGE}")),
        ("2800F", format!("temperature 2800F {RANGE}")),
        ("-41C", format!("temperature -41C {RANGE}")),
    ];
    for (at, message) in cases {
        let run = spyhole(&["cone", "--rate", "150C/h", "--at", at]);
        assert_eq!((run.code, run.err), (2, format!("spyhole: {message}\n")), "{at}");
    }
    check(&[(
        &["cone", "--at", "700C"],
        "--at needs --rate: a cone answers to time and temperature together, so say how fast the kiln climbed, like --rate 150C/h",
    )]);
}
