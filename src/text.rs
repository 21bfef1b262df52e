//! What a text may hold: letters of any script, and nothing that steers a terminal or passes for a
//! line of its own.
//!
//! What somebody types is refused where it holds more than that ([`line`], [`name`], [`note`]).
//! What comes from a file is marked as it is read ([`marked`]), and all of it once more as it is
//! shown ([`shown`]).

use std::borrow::Cow;

use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

/// What a name may take on a screen.
const NAME_COLUMNS: usize = 60;
const NOTE_LETTERS: usize = 4_000;

/// Why a text cannot be taken as it is.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Unfit {
    #[error(
        "\"{seen}\" holds {what}: a text is one line of letters, digits and signs, so leave that out"
    )]
    Steers { seen: String, what: String },
    #[error(
        "the {what} \"{seen} ...\" has {has} {of}, more than the {most} it may have: shorten it"
    )]
    TooLong { what: &'static str, seen: String, has: usize, of: &'static str, most: usize },
}

/// A name or path as it stands in a command that is suggested: quoted where it has blanks.
pub fn argument(name: &str) -> Cow<'_, str> {
    let plain = |c: char| c.is_alphanumeric() || "-_.,/".contains(c);
    if name.chars().all(plain) {
        return Cow::Borrowed(name);
    }
    Cow::Owned(format!("'{}'", name.replace('\'', r"'\''")))
}

/// Whether a character is a command to a terminal, or ends a line.
fn steers(c: char) -> bool {
    c.is_control() || matches!(c, '\u{2028}' | '\u{2029}')
}

/// Whether a character turns round the order in which those after it are shown.
fn turns(c: char) -> bool {
    matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// What stands in the place of a character that is not to be obeyed: its picture, where it has one.
fn mark(c: char) -> char {
    match c {
        '\0'..='\x1f' => char::from_u32(0x2400 + u32::from(c)).unwrap_or('\u{fffd}'),
        '\x7f' => '\u{2421}',
        '\u{2028}' | '\u{2029}' => '\u{2424}',
        _ => '\u{fffd}',
    }
}

fn replaced(text: &str, is_wrong: impl Fn(char) -> bool) -> Cow<'_, str> {
    match text.contains(&is_wrong) {
        true => text.chars().map(|c| if is_wrong(c) { mark(c) } else { c }).collect(),
        false => Cow::Borrowed(text),
    }
}

/// The text with a mark for everything that would steer a terminal or end a line.
pub fn marked(text: String) -> String {
    match replaced(&text, steers) {
        Cow::Owned(marked) => marked,
        Cow::Borrowed(_) => text,
    }
}

/// Lines as they may be shown to somebody: what turns the order round is marked as well.
pub fn shown(lines: &str) -> Cow<'_, str> {
    replaced(lines, |c| (steers(c) || turns(c)) && !matches!(c, '\n' | '\t'))
}

/// The beginning of a text, to be quoted.
fn beginning(text: &str) -> String {
    shown(&marked(text.chars().take(40).collect())).into_owned()
}

/// One line of text.
///
/// # Errors
/// [`Unfit::Steers`].
pub fn line(text: &str) -> Result<&str, Unfit> {
    let Some(c) = text.chars().find(|c| steers(*c)) else { return Ok(text) };
    let what = match c {
        '\n' | '\r' | '\u{85}' | '\u{2028}' | '\u{2029}' => "the end of a line".to_owned(),
        '\t' => "a tab".to_owned(),
        c => format!("the control character U+{:04X}", u32::from(c)),
    };
    Err(Unfit::Steers { seen: beginning(text), what })
}

/// What somebody or something is called: one line of at most 60 columns.
///
/// # Errors
/// [`Unfit`].
pub fn name(text: &str) -> Result<&str, Unfit> {
    let columns = line(text)?.width();
    at_most(NAME_COLUMNS, text, ("name", columns, "columns"))
}

/// What somebody remarks: one line of at most 4,000 letters.
///
/// # Errors
/// [`Unfit`].
pub fn note(text: &str) -> Result<&str, Unfit> {
    at_most(NOTE_LETTERS, text, ("text", line(text)?.chars().count(), "letters"))
}

fn at_most<'t>(
    most: usize,
    text: &'t str,
    (what, has, of): (&'static str, usize, &'static str),
) -> Result<&'t str, Unfit> {
    let too_long = || Unfit::TooLong { what, seen: beginning(text), has, of, most };
    if has > most { Err(too_long()) } else { Ok(text) }
}

/// Letters of other alphabets and of other forms, each above the one it looks like.
const LIKE: [(&str, &str); 3] = [
    ("АВЕЅІЈКМНОРСТУХҮЗԌԚԜаеѕіјкморсухһԁԛԝӏ", "ABESIJKMHOPCTYXY3GQWaesijkmopcyxhdqwl"),
    ("ΑΒΕΖΗΙΚΜΝΟΡΤΥΧαικνορυχ", "ABEZHIKMNOPTYXaikvopux"),
    (
        "ÀÁÂÃÄÅÇÈÉÊËÌÍÎÏÑÒÓÔÕÖØÙÚÛÜÝàáâãäåçèéêëìíîïñòóôõöøùúûüýÿı",
        "AAAAAACEEEEIIIINOOOOOOUUUUYaaaaaaceeeeiiiinoooooouuuuyyi",
    ),
];

/// What is left of a name to somebody who reads it from afar: no accents, no letters that cannot be
/// seen, and one letter for all that look alike.
fn outline(name: &str) -> String {
    let plain = |c: char| match c {
        '\u{ff01}'..='\u{ff5e}' => char::from_u32(u32::from(c) - 0xfee0).unwrap_or(c),
        '\u{2800}' | '\u{3164}' | '\u{ffa0}' => ' ',
        c if c.is_whitespace() => ' ',
        c => LIKE
            .iter()
            .find_map(|(like, plain)| plain.chars().nth(like.chars().position(|l| l == c)?))
            .unwrap_or(c),
    };
    let seen = name.chars().filter(|c| c.width().unwrap_or(0) > 0 && *c != '\u{ad}').map(plain);
    let lower = seen.collect::<String>().to_lowercase();
    let one = lower.chars().map(|c| match c {
        '0' => 'o',
        '1' | 'i' | '|' => 'l',
        c => c,
    });
    one.collect::<String>().split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Whether two names look the same though they are not.
pub fn look_alike(one: &str, other: &str) -> bool {
    let (a, b) = (outline(one), outline(other));
    let turned = |text: &str| text.contains(turns);
    let round = |text: &str| text.chars().rev().collect::<String>();
    one != other && (a == b || (turned(one) || turned(other)) && round(&a) == b)
}
