//! Reading JSON so that nothing that was sent is lost without a word: an object that says one key twice is
//! refused, where a plain reader would keep the last and drop the others, and a list is never taken for a shape.
//!
//! Not here: what the values mean. Depth is limited to 128 by the reader underneath.

use std::cell::{Cell, RefCell};

use serde::de::{Deserialize, DeserializeSeed, Deserializer, Error, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Number, Value};

mod by_name;

pub use by_name::ByName;

/// Doubled keys that are told at most.
const TOLD: usize = 20;

/// Why a text was not read.
#[derive(Debug, thiserror::Error)]
pub enum JsonFault {
    /// It is no JSON.
    #[error(transparent)]
    Malformed(#[from] serde_json::Error),
    /// Keys that stand twice or more in their object, as JSON pointers in the order of reading; twenty at most.
    #[error("a key may stand once in its object; these stand more often: {}", .0.join(", "))]
    Doubled(Vec<String>),
}

/// Reads one JSON value in which every object names each key once.
///
/// Numbers are read as `serde_json` reads them. Keys are compared as the texts they stand for, so that `"a"` and
/// `"\u0061"` are the same key.
///
/// # Errors
/// The bytes are no JSON, more follows behind the value, or a key is doubled.
///
/// ```
/// use preen_domain::json::{JsonFault, read_json};
/// assert_eq!(read_json(br#"{"mass_g": 10.4}"#).unwrap()["mass_g"], 10.4);
/// let Err(JsonFault::Doubled(keys)) = read_json(br#"{"items": [{"mass_g": 1, "mass_g": 2}]}"#) else { panic!() };
/// assert_eq!(keys, ["/items/0/mass_g"]);
/// ```
pub fn read_json(bytes: &[u8]) -> Result<Value, JsonFault> {
    let doubled = RefCell::new(Vec::new());
    let mut reader = serde_json::Deserializer::from_slice(bytes);
    let value = Strict { place: &Place::Top, doubled: &doubled }.deserialize(&mut reader)?;
    reader.end()?;
    let doubled = doubled.into_inner();
    if doubled.is_empty() { Ok(value) } else { Err(JsonFault::Doubled(doubled)) }
}

/// Where a value stands, as a chain back to the top.
enum Place<'a> {
    Top,
    Key(&'a Place<'a>, &'a str),
    Index(&'a Place<'a>, &'a Cell<usize>),
}

impl Place<'_> {
    fn pointer(&self) -> String {
        match self {
            Self::Top => String::new(),
            Self::Key(outer, key) => {
                format!("{}/{}", outer.pointer(), key.replace('~', "~0").replace('/', "~1"))
            }
            Self::Index(outer, index) => format!("{}/{}", outer.pointer(), index.get()),
        }
    }
}

/// Reads one value and notes doubled keys.
#[derive(Clone, Copy)]
struct Strict<'a> {
    place: &'a Place<'a>,
    doubled: &'a RefCell<Vec<String>>,
}

impl<'de> DeserializeSeed<'de> for Strict<'_> {
    type Value = Value;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Value, D::Error> {
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Strict<'_> {
    type Value = Value;

    fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("a JSON value")
    }

    fn visit_bool<E>(self, value: bool) -> Result<Value, E> {
        Ok(Value::Bool(value))
    }

    fn visit_i64<E>(self, value: i64) -> Result<Value, E> {
        Ok(Value::Number(value.into()))
    }

    fn visit_u64<E>(self, value: u64) -> Result<Value, E> {
        Ok(Value::Number(value.into()))
    }

    fn visit_f64<E: Error>(self, value: f64) -> Result<Value, E> {
        let number = Number::from_f64(value).ok_or_else(|| E::custom("number out of range"))?;
        Ok(Value::Number(number))
    }

    fn visit_str<E>(self, value: &str) -> Result<Value, E> {
        Ok(Value::String(value.to_owned()))
    }

    fn visit_string<E>(self, value: String) -> Result<Value, E> {
        Ok(Value::String(value))
    }

    fn visit_unit<E>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }

    fn visit_none<E>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }

    fn visit_some<D: Deserializer<'de>>(self, deserializer: D) -> Result<Value, D::Error> {
        Value::deserialize(deserializer)
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Value, A::Error> {
        let mut values = Vec::new();
        let index = Cell::new(0);
        let place = Place::Index(self.place, &index);
        while let Some(value) = list.next_element_seed(Strict { place: &place, ..self })? {
            values.push(value);
            index.set(values.len());
        }
        Ok(Value::Array(values))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut object: A) -> Result<Value, A::Error> {
        let mut values = Map::new();
        while let Some(key) = object.next_key::<String>()? {
            let place = Place::Key(self.place, &key);
            let value = object.next_value_seed(Strict { place: &place, ..self })?;
            if values.contains_key(&key) {
                let mut doubled = self.doubled.borrow_mut();
                let pointer = place.pointer();
                if doubled.len() < TOLD && !doubled.contains(&pointer) {
                    doubled.push(pointer);
                }
            }
            values.insert(key, value);
        }
        Ok(Value::Object(values))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn doubled(text: &str) -> Vec<String> {
        match read_json(text.as_bytes()) {
            Err(JsonFault::Doubled(keys)) => keys,
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn what_a_plain_reader_reads_is_read_alike() {
        for text in [
            "null",
            "-0.0",
            "18446744073709551615",
            "-9223372036854775808",
            "1e300",
            "0.1",
            r#""é\u0000\ud83d\ude00""#,
            r#"[1, [2, {}], {"a": [], "b": {"a": true}}]"#,
            r#"{"a": {"x": 1}, "b": {"x": 1}}"#,
        ] {
            let plain: Value = serde_json::from_str(text).unwrap();
            assert_eq!(read_json(text.as_bytes()).unwrap(), plain, "{text}");
        }
    }

    #[test]
    fn doubled_keys_are_told_wherever_they_stand() {
        assert_eq!(doubled(r#"{"a": 1, "a": 1}"#), ["/a"]);
        assert_eq!(doubled(r#"{"a": 1, "\u0061": 2, "a": 3}"#), ["/a"]);
        assert_eq!(doubled(r#"[{"b": {"c/d": 1, "c/d": 2}}, {"e": 0, "e": 0}]"#), ["/0/b/c~1d", "/1/e"]);
    }

    #[test]
    fn however_many_are_doubled_the_answer_stays_short() {
        let many: Vec<String> = (0..1000).map(|key| format!("\"{key}\": 1, \"{key}\": 2")).collect();
        assert_eq!(doubled(&format!("{{{}}}", many.join(", "))).len(), TOLD);
    }

    #[test]
    fn what_is_no_json_is_malformed() {
        for text in ["", "{", "{} {}", "[1,]", "NaN", "1e999", "{\"a\": 1, \"a\":"] {
            assert!(matches!(read_json(text.as_bytes()), Err(JsonFault::Malformed(_))), "{text}");
        }
        let deep = "[".repeat(200) + &"]".repeat(200);
        assert!(matches!(read_json(deep.as_bytes()), Err(JsonFault::Malformed(_))));
    }
}
