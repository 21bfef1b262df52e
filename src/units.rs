//! Quantities, and the one place where another unit than ours is read or written.
//!
//! Inside the program there is one unit for each quantity: degrees Celsius, degrees Celsius an
//! hour, milliseconds. Fahrenheit exists only in [`parse`](Celsius::parse) and in display. A bare
//! number is never accepted where a unit matters: `712` could be either scale, and the difference
//! spoils a load.
//!
//! What this module is not: a general units library, and a clock. A [`Moment`] is always given.

use std::fmt;
use std::ops::{Add, Sub};

use serde::{Deserialize, Serialize};

/// 0 C in kelvin, exact by definition (SI Brochure, 9th edition).
pub const KELVIN_AT_ZERO_CELSIUS: f64 = 273.15;

/// The temperatures a person or a probe may enter, in C. Below is colder than any kiln room,
/// above is hotter than any cone of the chart (cone 14 at 600 C/h is below 1,420 C).
pub const TEMPERATURE_RANGE_C: (f64, f64) = (-40.0, 1500.0);

/// The heating rates the engine answers for, in C/h. The chart covers 15 to 300 C/h; a factor of
/// two to three beyond is as far as a straight extension is worth showing.
pub const RATE_RANGE_C_PER_H: (f64, f64) = (5.0, 600.0);

/// Why a quantity was refused. Each text names the rule, the value seen, the range and what to do.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum UnitError {
    #[error(
        "{what} \"{seen}\" has no unit: write {example_c} or {example_f}, so that nobody has to guess the scale"
    )]
    NoUnit { what: &'static str, seen: String, example_c: &'static str, example_f: &'static str },
    #[error("{what} \"{seen}\" is not a number with a unit: write it like {example}")]
    Unreadable { what: &'static str, seen: String, example: &'static str },
    #[error("{what} {seen} is outside {low} to {high}: {advice}")]
    OutOfRange { what: &'static str, seen: String, low: String, high: String, advice: &'static str },
}

/// A temperature in degrees Celsius.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
pub struct Celsius(pub f64);

/// A heating rate in degrees Celsius an hour; cooling is negative.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
pub struct CelsiusPerHour(pub f64);

/// A length of time in whole milliseconds; may be negative.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Span(pub i64);

/// A point in time: milliseconds since 1970-01-01T00:00:00Z, leap seconds not counted.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize,
)]
pub struct Moment(pub i64);

closed! {
    /// The scale a person reads temperatures in.
    #[derive(Default)]
    pub enum Scale {
        #[default]
        Celsius => "C",
        Fahrenheit => "F",
    }
}

impl Scale {
    pub fn other(self) -> Scale {
        match self {
            Scale::Celsius => Scale::Fahrenheit,
            Scale::Fahrenheit => Scale::Celsius,
        }
    }

    /// `C` or `F`.
    pub fn letter(self) -> &'static str {
        self.name()
    }

    /// A difference of temperatures, C, in this scale.
    pub fn degrees(self, c: f64) -> f64 {
        match self {
            Scale::Celsius => c,
            Scale::Fahrenheit => c * 1.8,
        }
    }
}

impl Celsius {
    pub const fn from_fahrenheit(fahrenheit: f64) -> Self {
        Celsius((fahrenheit - 32.0) / 1.8)
    }
    pub const fn fahrenheit(self) -> f64 {
        self.0 * 1.8 + 32.0
    }

    /// The number of degrees in this scale.
    pub const fn in_scale(self, scale: Scale) -> f64 {
        match scale {
            Scale::Celsius => self.0,
            Scale::Fahrenheit => self.fahrenheit(),
        }
    }

    /// Reads `712C`, `712 °C`, `1350F`. A bare number is refused.
    ///
    /// # Errors
    /// [`UnitError`] when there is no unit, no number, or the value is outside
    /// [`TEMPERATURE_RANGE_C`].
    pub fn parse(text: &str) -> Result<Self, UnitError> {
        let (number, unit) = split_number("temperature", text, "712C or 1314F")?;
        let value = match unit.trim_start_matches(['°', 'º']) {
            "c" | "celsius" => Celsius(number),
            "f" | "fahrenheit" => Celsius::from_fahrenheit(number),
            "" => {
                return Err(UnitError::NoUnit {
                    what: "temperature",
                    seen: text.trim().into(),
                    example_c: "712C",
                    example_f: "1314F",
                });
            }
            _ => return Err(unreadable("temperature", text, "712C or 1314F")),
        };
        value.checked(text)
    }

    /// The same temperature if it lies in [`TEMPERATURE_RANGE_C`]; `seen` is quoted in the error.
    ///
    /// # Errors
    /// [`UnitError::OutOfRange`].
    pub fn checked(self, seen: &str) -> Result<Self, UnitError> {
        let (low, high) = TEMPERATURE_RANGE_C;
        if self.0 >= low && self.0 <= high {
            return Ok(self);
        }
        Err(UnitError::OutOfRange {
            what: "temperature",
            seen: seen.trim().into(),
            low: format!("{low} C ({:.0} F)", Celsius(low).fahrenheit()),
            high: format!("{high} C ({:.0} F)", Celsius(high).fahrenheit()),
            advice: "check the number, and whether it is in C or F",
        })
    }

    /// `734 C (1353 F)`, where nobody knows who reads it.
    pub fn in_both_scales(self) -> String {
        format!("{} ({})", self.display(Scale::Celsius), self.display(Scale::Fahrenheit))
    }

    /// A difference of so many C as `100 C` or `180 F`, to the whole degree.
    pub fn display_step(celsius: f64, scale: Scale) -> String {
        format!("{:.0} {scale}", scale.degrees(celsius))
    }

    /// `734 C` or `1353 F`, to the whole degree.
    pub fn display(self, scale: Scale) -> String {
        format!("{:.0} {scale}", self.in_scale(scale))
    }
}

impl CelsiusPerHour {
    /// Reads `150C/h`, `270 F/h`, `2.5C/min`; the range is that of the engine,
    /// [`RATE_RANGE_C_PER_H`].
    ///
    /// # Errors
    /// [`UnitError`] when there is no unit, no number, or the rate is out of range.
    pub fn parse(text: &str) -> Result<Self, UnitError> {
        const EXAMPLE: &str = "150C/h or 270F/h";
        let (number, unit) = split_number("rate", text, EXAMPLE)?;
        let no_unit = || UnitError::NoUnit {
            what: "rate",
            seen: text.trim().into(),
            example_c: "150C/h",
            example_f: "270F/h",
        };
        let (scale, time) = match unit.split_once('/') {
            Some((scale, time)) => (scale.trim().trim_start_matches(['°', 'º']), time.trim()),
            None if unit.is_empty() => return Err(no_unit()),
            None => return Err(unreadable("rate", text, EXAMPLE)),
        };
        let per_degree = match scale {
            "c" => 1.0,
            "f" => 1.0 / 1.8,
            _ => return Err(unreadable("rate", text, EXAMPLE)),
        };
        let per_time = match time {
            "h" | "hr" | "hour" => 1.0,
            "min" | "m" | "minute" => 60.0,
            _ => return Err(unreadable("rate", text, EXAMPLE)),
        };
        CelsiusPerHour(number * per_degree * per_time).checked(text)
    }

    /// The same rate if it lies in [`RATE_RANGE_C_PER_H`]; `seen` is quoted in the error.
    ///
    /// # Errors
    /// [`UnitError::OutOfRange`].
    pub fn checked(self, seen: &str) -> Result<Self, UnitError> {
        let (low, high) = RATE_RANGE_C_PER_H;
        if self.0 >= low && self.0 <= high {
            return Ok(self);
        }
        Err(UnitError::OutOfRange {
            what: "rate",
            seen: seen.trim().into(),
            low: format!("{low} C/h ({:.0} F/h)", low * 1.8),
            high: format!("{high} C/h ({:.0} F/h)", high * 1.8),
            advice: "the cone chart says nothing of rates so far from its 15 to 300 C/h",
        })
    }

    /// `150 C/h` or `270 F/h`, to the whole degree.
    pub fn display(self, scale: Scale) -> String {
        format!("{:.0} {scale}/h", scale.degrees(self.0))
    }
}

impl Span {
    pub const ZERO: Span = Span(0);

    pub const fn seconds(seconds: i64) -> Self {
        Span(seconds * 1000)
    }
    pub const fn minutes(minutes: i64) -> Self {
        Span(minutes * 60_000)
    }
    pub const fn hours(hours: i64) -> Self {
        Span(hours * 3_600_000)
    }
    /// The nearest millisecond.
    pub fn from_hours(hours: f64) -> Self {
        Span((hours * 3_600_000.0).round() as i64)
    }
    pub fn from_minutes(minutes: f64) -> Self {
        Span((minutes * 60_000.0).round() as i64)
    }
    pub fn as_hours(self) -> f64 {
        self.0 as f64 / 3_600_000.0
    }
    pub fn as_minutes(self) -> f64 {
        self.0 as f64 / 60_000.0
    }
    pub fn as_seconds(self) -> f64 {
        self.0 as f64 / 1000.0
    }

    /// Reads `20 min`, `1h30`, `1 h 30 min`, `90s`, `1:30` (hours and minutes).
    ///
    /// # Errors
    /// [`UnitError`] when it is not a length of time with a unit, or longer than 30 days.
    pub fn parse(text: &str) -> Result<Self, UnitError> {
        const EXAMPLE: &str = "20min, 1h30 or 1:30";
        let bad = || unreadable("length of time", text, EXAMPLE);
        let lower = text.trim().to_lowercase();
        let hours = if let Some((h, m)) = lower.split_once(':') {
            let (h, m): (u32, u32) =
                (h.trim().parse().map_err(|_| bad())?, m.trim().parse().map_err(|_| bad())?);
            if m > 59 {
                return Err(bad());
            }
            f64::from(h) + f64::from(m) / 60.0
        } else {
            let mut rest = lower.as_str();
            let mut hours = 0.0;
            let mut after_hours = false;
            while !rest.is_empty() {
                let (number, tail) = leading_number(rest).ok_or_else(bad)?;
                let tail = tail.trim_start();
                let word_length = tail.find(|c: char| !c.is_alphabetic()).unwrap_or(tail.len());
                let (unit, tail) = tail.split_at(word_length);
                let scale = match unit {
                    "h" | "hr" | "hour" | "hours" => {
                        after_hours = true;
                        1.0
                    }
                    "m" | "min" | "mins" | "minute" | "minutes" => 1.0 / 60.0,
                    "s" | "sec" | "second" | "seconds" => 1.0 / 3600.0,
                    "d" | "day" | "days" => 24.0,
                    // "1h30": a bare number after hours is minutes.
                    "" if after_hours && tail.is_empty() => 1.0 / 60.0,
                    _ => return Err(bad()),
                };
                if number < 0.0 {
                    return Err(bad());
                }
                hours += number * scale;
                rest = tail.trim_start();
            }
            if lower.is_empty() {
                return Err(bad());
            }
            hours
        };
        if hours > 720.0 {
            return Err(UnitError::OutOfRange {
                what: "length of time",
                seen: text.trim().into(),
                low: "0".into(),
                high: "30 days".into(),
                advice: "no firing lasts that long",
            });
        }
        Ok(Span::from_hours(hours))
    }
}

/// `1 h 05 min`, `12 min`, `45 s`, `0 min`; a negative span gets a minus sign.
impl fmt::Display for Span {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.0 < 0 {
            f.write_str("-")?;
        }
        let seconds = (self.0.unsigned_abs() + 500) / 1000;
        if seconds > 0 && seconds < 60 {
            return write!(f, "{seconds} s");
        }
        let minutes = (seconds + 30) / 60;
        match (minutes / 60, minutes % 60) {
            (0, minutes) => write!(f, "{minutes} min"),
            (hours, 0) if hours < 48 => write!(f, "{hours} h"),
            (hours, minutes) if hours < 48 => write!(f, "{hours} h {minutes:02} min"),
            (hours, _) => write!(f, "{} days {} h", hours / 24, hours % 24),
        }
    }
}

impl Add<Span> for Moment {
    type Output = Moment;
    fn add(self, span: Span) -> Moment {
        Moment(self.0.saturating_add(span.0))
    }
}

impl Sub<Span> for Moment {
    type Output = Moment;
    fn sub(self, span: Span) -> Moment {
        Moment(self.0.saturating_sub(span.0))
    }
}

impl Sub<Moment> for Moment {
    type Output = Span;
    fn sub(self, earlier: Moment) -> Span {
        Span(self.0.saturating_sub(earlier.0))
    }
}

impl Add<Span> for Span {
    type Output = Span;
    fn add(self, other: Span) -> Span {
        Span(self.0.saturating_add(other.0))
    }
}

fn unreadable(what: &'static str, seen: &str, example: &'static str) -> UnitError {
    UnitError::Unreadable { what, seen: seen.trim().into(), example }
}

/// The finite number at the start of `text`, and what follows it.
fn leading_number(text: &str) -> Option<(f64, &str)> {
    let text = text.trim_start();
    let end = text
        .char_indices()
        .find(|&(at, c)| !(c.is_ascii_digit() || c == '.' || (at == 0 && (c == '-' || c == '+'))))
        .map_or(text.len(), |(at, _)| at);
    let number: f64 = text[..end].parse().ok()?;
    number.is_finite().then_some((number, &text[end..]))
}

/// A number and its unit, in lower case and without blanks around.
fn split_number(
    what: &'static str,
    text: &str,
    example: &'static str,
) -> Result<(f64, String), UnitError> {
    let (number, unit) = leading_number(text).ok_or_else(|| unreadable(what, text, example))?;
    Ok((number, unit.trim().to_lowercase()))
}
