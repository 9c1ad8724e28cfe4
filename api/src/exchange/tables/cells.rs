//! One cell to its value: strict, with a reason in words when it does not fit.

use chrono::NaiveDate;
use preen_domain::{
    facts::Noun,
    text::{Tag, Text},
    time::Instant,
};
use serde_json::{Value, json};

use super::grammar::{Kind, Range};

/// What a cell says.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Nothing.
    Empty,
    /// A value, as it stands in the fact.
    Value(Value),
    /// The tag of another item.
    Item(Noun, String),
    /// Tags of other items.
    Items(Noun, Vec<String>),
    /// When the row's component was fitted.
    FittedAt(Instant),
    /// The key of another row; no part of the fact.
    Link(String),
    /// Something that does not fit; the reason was given.
    Wrong,
}

impl Cell {
    /// The cell as part of a key: equal values give equal texts.
    #[must_use]
    pub fn key(&self) -> String {
        match self {
            Self::Empty | Self::Wrong => String::new(),
            Self::Value(Value::String(text)) => text.clone(),
            Self::Value(value) => value.to_string(),
            Self::Item(_, tag) | Self::Link(tag) => tag.clone(),
            Self::Items(_, tags) => tags.join(";"),
            Self::FittedAt(at) => at.to_string(),
        }
    }
}

/// Understands a cell that is not empty.
///
/// # Errors
/// Says in words what is wrong with it.
pub fn read(kind: Kind, text: &str) -> Result<Cell, String> {
    if text.trim() != text {
        return Err("begins or ends with a blank".to_owned());
    }
    Ok(match kind {
        Kind::Tag => Cell::Value(tag(text)?.into()),
        Kind::Text => Cell::Value(free_text(text)?.into()),
        Kind::Texts => Cell::Value(list(text, |part| free_text(part).map(Value::from))?.into()),
        Kind::Word(check) => Cell::Value(word(check, text)?),
        Kind::Words(check) => Cell::Value(list(text, |part| word(check, part))?.into()),
        Kind::Instant => Cell::Value(instant(text)?.to_string().into()),
        Kind::Day => Cell::Value(day(text)?.to_string().into()),
        Kind::Number(range) => Cell::Value(number(range, text)?.into()),
        Kind::Numbers => Cell::Value(list(text, |part| number(Range::Any, part).map(Value::from))?.into()),
        Kind::Count(least) => Cell::Value(count(least, text)?.into()),
        Kind::YesNo => Cell::Value(yes_no(text)?.into()),
        Kind::Item(noun) => Cell::Item(noun, tag(text)?),
        Kind::Items(noun) => Cell::Items(noun, list(text, tag)?),
        Kind::FittedAt => Cell::FittedAt(instant(text)?),
        Kind::Zone => {
            text.parse::<chrono_tz::Tz>()
                .map_err(|_unknown| format!("`{text}` is no time zone: write it as in Europe/London"))?;
            Cell::Value(json!(text))
        }
        Kind::Link => Cell::Link(tag(text)?),
    })
}

fn list<T>(text: &str, read: impl Fn(&str) -> Result<T, String>) -> Result<Vec<T>, String> {
    text.split(';')
        .map(
            |part| {
                if part.is_empty() { Err("has an empty place in its list".to_owned()) } else { read(part) }
            },
        )
        .collect()
}

fn tag(text: &str) -> Result<String, String> {
    text.parse::<Tag>().map(String::from).map_err(|error| format!("`{text}` is no tag: it {error}"))
}

fn free_text(text: &str) -> Result<String, String> {
    text.parse::<Text>().map(String::from).map_err(|error| error.to_string())
}

fn word(
    check: fn(&str) -> Result<(), preen_domain::words::UnknownWord>,
    text: &str,
) -> Result<Value, String> {
    check(text).map(|()| text.into()).map_err(|error| error.to_string())
}

fn instant(text: &str) -> Result<Instant, String> {
    text.parse::<Instant>().map_err(|error| error.to_string())
}

fn day(text: &str) -> Result<NaiveDate, String> {
    let parsed = NaiveDate::parse_from_str(text, "%Y-%m-%d").ok().filter(|day| day.to_string() == text);
    parsed.ok_or_else(|| format!("`{text}` is no day: write it as in 2026-05-23"))
}

fn number(range: Range, text: &str) -> Result<f64, String> {
    let digits = text.strip_prefix('-').unwrap_or(text);
    let (whole, fraction) = digits.split_once('.').unwrap_or((digits, "0"));
    let is_decimal =
        [whole, fraction].iter().all(|part| !part.is_empty() && part.bytes().all(|c| c.is_ascii_digit()));
    let value = text.parse::<f64>().ok().filter(|value| is_decimal && value.is_finite());
    let value = value.ok_or_else(|| format!("`{text}` is no number: write it as in -12.5"))?;
    match range {
        Range::NotNegative if value < 0.0 => Err(format!("`{text}` must not be negative")),
        Range::Positive if value <= 0.0 => Err(format!("`{text}` must be more than 0")),
        Range::Any | Range::NotNegative | Range::Positive => Ok(value),
    }
}

fn count(least: u32, text: &str) -> Result<u32, String> {
    let parsed = text.parse::<u32>().ok().filter(|_| text.bytes().all(|c| c.is_ascii_digit()));
    let value = parsed.ok_or_else(|| format!("`{text}` is no whole number"))?;
    if value < least { Err(format!("`{text}` must be {least} or more")) } else { Ok(value) }
}

fn yes_no(text: &str) -> Result<bool, String> {
    match text {
        "yes" => Ok(true),
        "no" => Ok(false),
        _ => Err(format!("`{text}` is not one of: yes, no")),
    }
}
