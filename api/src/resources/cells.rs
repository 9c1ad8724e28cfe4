//! What fits into a column, both ways: the kinds of columns and the values of facts that travel in them.

use std::fmt::Display;
use std::str::FromStr;

use preen_domain::time::Instant;
use serde::{Serialize, de::DeserializeOwned};
use serde_json::Value;

use crate::db::door::DoorError;

/// The SQL types of columns, by what is kept in them.
pub mod kinds {
    use diesel::sql_types::{self, Nullable};

    pub use sql_types::{BigInt, Bool, Text};
    /// A text that may be absent.
    pub type MaybeText = Nullable<Text>;
    /// A number with a fraction.
    pub type Number = sql_types::Double;
    /// A number that may be absent.
    pub type MaybeNumber = Nullable<sql_types::Double>;
    /// A whole number, 0 or more.
    pub type Count = BigInt;
    /// A whole number, 0 or more, that may be absent.
    pub type MaybeCount = Nullable<BigInt>;
    /// Microseconds since 1970, UTC.
    pub type Moment = BigInt;
    /// A moment that may be absent.
    pub type MaybeMoment = Nullable<BigInt>;
    /// Yes or no.
    pub type Flag = Bool;
    /// A list or a group of fields, as JSON.
    pub type Json = Text;
    /// What a fact is about, as `<kind>:<id>`.
    pub type Pointer = Text;
    /// JSON that may be absent.
    pub type MaybeJson = Nullable<Text>;
}

/// The Rust type that a column's value travels in.
pub trait Column {
    /// That type.
    type Raw;
}

impl Column for diesel::sql_types::Text {
    type Raw = String;
}
impl Column for diesel::sql_types::BigInt {
    type Raw = i64;
}
impl Column for diesel::sql_types::Double {
    type Raw = f64;
}
impl Column for diesel::sql_types::Bool {
    type Raw = bool;
}
impl<S: Column + diesel::sql_types::SqlType> Column for diesel::sql_types::Nullable<S> {
    type Raw = Option<S::Raw>;
}

/// A value that fits a column, both ways.
pub trait Cell<Raw>: Sized {
    /// Into the column.
    fn put(&self) -> Raw;
    /// Out of the column.
    fn take(raw: Raw) -> Result<Self, String>;
}

impl<T: Display + FromStr<Err: Display>> Cell<String> for T {
    fn put(&self) -> String {
        self.to_string()
    }

    fn take(raw: String) -> Result<Self, String> {
        raw.parse().map_err(|error: T::Err| error.to_string())
    }
}

impl Cell<f64> for f64 {
    fn put(&self) -> f64 {
        *self
    }

    fn take(raw: f64) -> Result<Self, String> {
        Ok(raw)
    }
}

impl Cell<bool> for bool {
    fn put(&self) -> bool {
        *self
    }

    fn take(raw: bool) -> Result<Self, String> {
        Ok(raw)
    }
}

impl Cell<i64> for u32 {
    fn put(&self) -> i64 {
        i64::from(*self)
    }

    fn take(raw: i64) -> Result<Self, String> {
        Self::try_from(raw).map_err(|error| error.to_string())
    }
}

impl Cell<i64> for Instant {
    fn put(&self) -> i64 {
        self.micros()
    }

    fn take(raw: i64) -> Result<Self, String> {
        Ok(Self::from_micros(raw))
    }
}

impl<Raw, T: Cell<Raw>> Cell<Option<Raw>> for Option<T> {
    fn put(&self) -> Option<Raw> {
        self.as_ref().map(T::put)
    }

    fn take(raw: Option<Raw>) -> Result<Self, String> {
        raw.map(T::take).transpose()
    }
}

/// Into a JSON column.
pub fn put_json<T: Serialize>(value: &T) -> Result<String, DoorError> {
    serde_json::to_string(value).map_err(|error| DoorError::Broken(error.to_string()))
}

/// Out of a JSON column.
pub fn take_json<T: DeserializeOwned>(raw: &str) -> Result<T, String> {
    serde_json::from_str(raw).map_err(|error| error.to_string())
}

/// Whether stored JSON says what would be written now. A later version of a shape may write more fields, and leave out
/// those that say nothing.
pub fn same_json(stored: Option<&str>, written: Option<&str>) -> bool {
    let read = |text: Option<&str>| text.map(serde_json::from_str::<Value>).transpose();
    match (read(stored), read(written)) {
        (Ok(stored), Ok(written)) => is_within(&stored.unwrap_or_default(), &written.unwrap_or_default()),
        (Err(_), _) | (_, Err(_)) => false,
    }
}

fn is_within(stored: &Value, written: &Value) -> bool {
    match (stored, written) {
        (Value::Object(stored), Value::Object(written)) => {
            stored.iter().all(|(key, value)| is_within(value, written.get(key).unwrap_or(&Value::Null)))
        }
        (Value::Array(stored), Value::Array(written)) => {
            stored.len() == written.len()
                && stored.iter().zip(written).all(|(one, other)| is_within(one, other))
        }
        (Value::Number(stored), Value::Number(written)) => stored.as_f64() == written.as_f64(),
        (stored, written) => stored == written,
    }
}

/// Into a pointer column: `{"model": id}` becomes `model:id`.
pub fn put_pointer<T: Serialize>(value: &T) -> Result<String, DoorError> {
    let broken = |text: String| DoorError::Broken(format!("not a pointer: {text}"));
    let json = serde_json::to_value(value).map_err(|error| broken(error.to_string()))?;
    json.as_object()
        .and_then(|object| object.iter().next())
        .and_then(|(kind, id)| id.as_str().map(|id| format!("{kind}:{id}")))
        .ok_or_else(|| broken(json.to_string()))
}

/// Out of a pointer column.
pub fn take_pointer<T: DeserializeOwned>(raw: &str) -> Result<T, String> {
    let (kind, id) = raw.split_once(':').ok_or_else(|| format!("`{raw}` is no pointer"))?;
    serde_json::from_value(serde_json::json!({ kind: id })).map_err(|error| error.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn json_may_gain_fields_and_nothing_else() {
        let same = |stored: &str, written: &str| same_json(Some(stored), Some(written));
        assert!(same(r#"[{"a": 1, "b": null}]"#, r#"[{"a":1.0,"c":[2]}]"#));
        for (stored, written) in [
            (r#"[{"a": 1, "b": 2}]"#, r#"[{"a": 1}]"#),
            (r#"["AB"]"#, r#"["ab"]"#),
            ("[1]", "[1, 2]"),
            ("[1", "[1]"),
            ("", "null"),
        ] {
            assert!(!same(stored, written), "{stored} {written}");
        }
        assert!(same_json(None, None));
        assert!(!same_json(Some("[]"), None));
    }
}
