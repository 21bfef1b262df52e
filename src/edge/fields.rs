//! Reading one JSON object strictly: every key is known, every value allowed, and what is wrong is
//! said with the key, the value seen and what to write instead.

use serde_json::Value;

use super::nearest::{did_you_mean, slip_of};
use crate::cone::{Cone, Family};
use crate::text::marked;

/// What is wrong with one key of an object.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FieldError {
    #[error("key \"{key}\" is missing{hint}: add it, for example {example}")]
    Missing { key: &'static str, hint: String, example: String },
    #[error("there is no key \"{key}\" here{hint}: use {known}")]
    Unknown { key: String, hint: String, known: String },
    #[error("key \"{key}\" is {seen}, but must be {wanted}: write it like {example}")]
    WrongType { key: &'static str, seen: String, wanted: &'static str, example: String },
    #[error("key \"{key}\" is {seen}, which is none of {allowed}{hint}")]
    NotAllowed { key: &'static str, seen: String, allowed: String, hint: String },
    #[error("key \"{key}\" is {seen}, outside {low} to {high}: {advice}")]
    OutOfRange { key: &'static str, seen: String, low: String, high: String, advice: &'static str },
    #[error("key \"{key}\": {reason}")]
    Refused { key: &'static str, reason: String },
}

/// One object, taken apart key by key; [`Fields::finish`] reports what nobody asked for.
#[derive(Debug, Clone)]
pub struct Fields {
    /// What was not asked for yet; an object has few keys, so they are searched one by one.
    left: Vec<(String, Value)>,
    asked: Vec<&'static str>,
    strict: bool,
}

type Result<T> = std::result::Result<T, FieldError>;

impl Fields {
    pub fn new(object: impl IntoIterator<Item = (String, Value)>) -> Self {
        let asked = Vec::with_capacity(16);
        Fields { left: object.into_iter().collect(), asked, strict: true }
    }

    /// For what a newer version of this program may have written: keys that nobody asked for are
    /// no error.
    pub fn lenient(object: impl IntoIterator<Item = (String, Value)>) -> Self {
        Fields { strict: false, ..Fields::new(object) }
    }

    fn take(&mut self, key: &'static str) -> Option<Value> {
        self.asked.push(key);
        let at = self.left.iter().position(|(left, _)| left == key)?;
        Some(self.left.swap_remove(at).1).filter(|value| !value.is_null())
    }

    fn optional<T>(
        &mut self,
        key: &'static str,
        wanted: &'static str,
        example: &str,
        read: impl FnOnce(&mut Value) -> Option<T>,
    ) -> Result<Option<T>> {
        let Some(mut value) = self.take(key) else { return Ok(None) };
        match read(&mut value) {
            Some(read) => Ok(Some(read)),
            None => Err(FieldError::WrongType {
                key,
                seen: shown(&value),
                wanted,
                example: pair(key, example),
            }),
        }
    }

    /// A value of a form of its own, which has to be there.
    pub fn value<T>(
        &mut self,
        key: &'static str,
        example: &str,
        wanted: &'static str,
        read: impl FnOnce(&Value) -> Option<T>,
    ) -> Result<T> {
        let value = self.optional(key, wanted, example, |value| read(value))?;
        value.ok_or_else(|| self.missing(key, example))
    }

    pub fn optional_text(&mut self, key: &'static str, example: &str) -> Result<Option<String>> {
        self.optional(key, "text", example, |value| match value {
            Value::String(text) => Some(marked(std::mem::take(text))),
            _ => None,
        })
    }

    /// Text that may be left out; then it is empty.
    pub fn text_or_empty(&mut self, key: &'static str, example: &str) -> Result<String> {
        Ok(self.optional_text(key, example)?.unwrap_or_default())
    }

    /// Text that has to be there and has to say something.
    pub fn text(&mut self, key: &'static str, example: &str) -> Result<String> {
        let text = self.optional_text(key, example)?.ok_or_else(|| self.missing(key, example))?;
        if text.trim().is_empty() {
            return Err(FieldError::Refused { key, reason: "the text is empty".into() });
        }
        Ok(text)
    }

    pub fn optional_number(
        &mut self,
        key: &'static str,
        example: &str,
        (low, high): (f64, f64),
        advice: &'static str,
    ) -> Result<Option<f64>> {
        let number = self.optional(key, "a number", example, |value| value.as_f64())?;
        match number {
            Some(number) if !(low..=high).contains(&number) => Err(FieldError::OutOfRange {
                key,
                seen: number.to_string(),
                low: low.to_string(),
                high: high.to_string(),
                advice,
            }),
            number => Ok(number),
        }
    }

    pub fn optional_whole(&mut self, key: &'static str, example: &str) -> Result<Option<i64>> {
        self.optional(key, "a whole number", example, |value| value.as_i64())
    }

    pub fn optional_count(&mut self, key: &'static str, example: &str) -> Result<Option<u32>> {
        let count = |value: &mut Value| value.as_u64().and_then(|count| u32::try_from(count).ok());
        self.optional(key, "a whole number from 0", example, count)
    }

    /// True or false; false where it is left out.
    pub fn optional_flag(&mut self, key: &'static str) -> Result<bool> {
        let flag = self.optional(key, "true or false", "true", |value| value.as_bool())?;
        Ok(flag.unwrap_or_default())
    }

    /// One of a closed list of words.
    pub fn optional_choice<T: Copy>(
        &mut self,
        key: &'static str,
        choices: &[T],
        name: fn(T) -> &'static str,
    ) -> Result<Option<T>> {
        let names = || choices.iter().map(|choice| name(*choice));
        let Some(value) = self.take(key) else { return Ok(None) };
        let found = choices.iter().copied().find(|choice| value.as_str() == Some(name(*choice)));
        found.map(Some).ok_or_else(|| FieldError::NotAllowed {
            key,
            seen: shown(&value),
            allowed: names().collect::<Vec<_>>().join(", "),
            hint: did_you_mean(value.as_str().unwrap_or_default(), names()),
        })
    }

    pub fn choice<T: Copy>(
        &mut self,
        key: &'static str,
        choices: &[T],
        name: fn(T) -> &'static str,
    ) -> Result<T> {
        self.optional_choice(key, choices, name)?
            .ok_or_else(|| self.missing(key, &format!("\"{}\"", name(choices[0]))))
    }

    /// A cone is text: as a number, 06 and 6 would be the same.
    pub fn optional_cone(&mut self, key: &'static str) -> Result<Option<Cone>> {
        let Some(name) =
            self.optional(key, "text in quotes, because cones 06 and 6 differ", "\"018\"", |v| {
                v.as_str().map(|text| marked(text.to_owned()))
            })?
        else {
            return Ok(None);
        };
        Cone::parse(&name)
            .map(Some)
            .map_err(|error| FieldError::Refused { key, reason: error.to_string() })
    }

    pub fn cone(&mut self, key: &'static str) -> Result<Cone> {
        self.optional_cone(key)?.ok_or_else(|| self.missing(key, "\"018\""))
    }

    pub fn optional_family(&mut self, key: &'static str) -> Result<Option<Family>> {
        const EXAMPLE: &str = "\"self-supporting\"";
        let Some(name) = self.optional_text(key, EXAMPLE)? else { return Ok(None) };
        Family::parse(&name).map(Some).map_err(|_| FieldError::NotAllowed {
            key,
            seen: format!("\"{name}\""),
            allowed: Family::ALL.map(Family::name).join(", "),
            hint: did_you_mean(&name, Family::ALL.map(Family::name)),
        })
    }

    pub fn family(&mut self, key: &'static str) -> Result<Family> {
        self.optional_family(key)?.ok_or_else(|| self.missing(key, "\"self-supporting\""))
    }

    pub fn texts(&mut self, key: &'static str, example: &str) -> Result<Vec<String>> {
        let texts = self.optional(key, "a list of texts", example, |value| {
            let text = |one: &Value| one.as_str().map(|text| marked(text.to_owned()));
            value.as_array()?.iter().map(text).collect()
        })?;
        Ok(texts.unwrap_or_default())
    }

    pub fn pairs(&mut self, key: &'static str, example: &str) -> Result<Vec<(f64, f64)>> {
        let pairs = self.optional(key, "a list of pairs of numbers", example, |value| {
            let pair = |one: &Value| match one.as_array()?.as_slice() {
                [first, second] => Some((first.as_f64()?, second.as_f64()?)),
                _ => None,
            };
            value.as_array()?.iter().map(pair).collect()
        })?;
        Ok(pairs.unwrap_or_default())
    }

    pub fn objects(&mut self, key: &'static str, example: &str) -> Result<Vec<Fields>> {
        let objects = self.optional(key, "a list of objects", example, |value| {
            value
                .as_array()?
                .iter()
                .map(|one| one.as_object().cloned().map(Fields::new))
                .collect::<Option<Vec<_>>>()
        })?;
        Ok(objects.unwrap_or_default())
    }

    /// A key that has to be there is not; a misspelt one in its place is named.
    pub fn missing(&self, key: &'static str, example: &str) -> FieldError {
        let left = self.left.iter().map(|(key, _)| key.as_str());
        let hint = slip_of(key, left).map_or_else(String::new, |seen| {
            format!(" (\"{}\" is there: is it a slip for \"{key}\"?)", marked(seen.to_owned()))
        });
        FieldError::Missing { key, hint, example: pair(key, example) }
    }

    /// Every key has been asked for; one that is left is unknown.
    ///
    /// # Errors
    /// [`FieldError::Unknown`] for the first key nobody asked for.
    pub fn finish(self) -> Result<()> {
        let mut left = self.left.iter().map(|(key, _)| key);
        match left.find(|key| !self.asked.contains(&key.as_str())) {
            Some(key) if self.strict => Err(FieldError::Unknown {
                key: marked(key.clone()),
                hint: did_you_mean(key, self.asked.iter().copied()),
                known: self.asked.join(", "),
            }),
            _ => Ok(()),
        }
    }
}

fn pair(key: &str, example: &str) -> String {
    format!("\"{key}\": {example}")
}

/// A value as it was written, cut short when it is long.
pub fn shown(value: &Value) -> String {
    let text = value.to_string();
    if text.chars().count() <= 40 {
        return text;
    }
    format!("{} ...", text.chars().take(40).collect::<String>())
}
