//! Reading shapes field by field name: a list is not a shape, whatever stands in it.
//!
//! Derived readers also take a JSON array for a struct and deal its entries out in the order in which the fields
//! happen to be written down. That order is nobody's promise: a field put in between would move every value by one.

use serde::de::value::{MapAccessDeserializer, MapDeserializer, SeqDeserializer};
use serde::de::{Deserializer, Error, IntoDeserializer, Unexpected, Visitor};
use serde::forward_to_deserialize_any;
use serde_json::{Error as JsonError, Value};

/// A JSON value from which every struct, at any depth, is read by the names of its fields only.
///
/// A shape told apart by one of its own fields (`tag`) reads what is inside it without this guard.
///
/// # Errors
/// Those of `serde_json`; and, for a struct, anything that is not an object.
///
/// ```
/// use preen_domain::json::ByName;
/// use serde::Deserialize;
///
/// #[derive(Deserialize)]
/// struct Gap { width_mm: f64, depth_mm: f64 }
///
/// let gap = Gap::deserialize(ByName(serde_json::json!({"depth_mm": 4.0, "width_mm": 1.5}))).unwrap();
/// assert_eq!((gap.width_mm, gap.depth_mm), (1.5, 4.0));
/// assert!(Gap::deserialize(ByName(serde_json::json!([1.5, 4.0]))).is_err());
/// ```
#[derive(Debug, Clone)]
pub struct ByName(pub Value);

impl IntoDeserializer<'_, JsonError> for ByName {
    type Deserializer = Self;

    fn into_deserializer(self) -> Self {
        self
    }
}

/// What stands there, in the words of error texts.
fn found(value: &Value) -> Unexpected<'_> {
    match value {
        Value::Null => Unexpected::Unit,
        Value::Bool(value) => Unexpected::Bool(*value),
        Value::Number(number) => number
            .as_u64()
            .map(Unexpected::Unsigned)
            .or_else(|| number.as_i64().map(Unexpected::Signed))
            .unwrap_or_else(|| Unexpected::Float(number.as_f64().unwrap_or(f64::NAN))),
        Value::String(text) => Unexpected::Str(text),
        Value::Array(_) => Unexpected::Seq,
        Value::Object(_) => Unexpected::Map,
    }
}

/// Hands kinds of value on that hold no shape.
macro_rules! as_plain {
    ($($method:ident)+) => {
        $(fn $method<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, JsonError> {
            self.0.$method(visitor)
        })+
    };
}

impl<'de> Deserializer<'de> for ByName {
    type Error = JsonError;

    as_plain! {
        deserialize_bool deserialize_i8 deserialize_i16 deserialize_i32 deserialize_i64 deserialize_i128
        deserialize_u8 deserialize_u16 deserialize_u32 deserialize_u64 deserialize_u128
        deserialize_f32 deserialize_f64 deserialize_char deserialize_str deserialize_string
        deserialize_bytes deserialize_byte_buf deserialize_unit deserialize_identifier deserialize_ignored_any
    }

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, JsonError> {
        match self.0 {
            Value::Array(list) => {
                let mut list = SeqDeserializer::new(list.into_iter().map(ByName));
                let read = visitor.visit_seq(&mut list)?;
                list.end()?;
                Ok(read)
            }
            Value::Object(fields) => {
                let mut fields =
                    MapDeserializer::new(fields.into_iter().map(|(key, value)| (key, Self(value))));
                let read = visitor.visit_map(&mut fields)?;
                fields.end()?;
                Ok(read)
            }
            plain @ (Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_)) => {
                plain.deserialize_any(visitor)
            }
        }
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, JsonError> {
        if self.0.is_null() { visitor.visit_none() } else { visitor.visit_some(self) }
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        visitor: V,
    ) -> Result<V::Value, JsonError> {
        visitor.visit_newtype_struct(self)
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        _: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, JsonError> {
        if self.0.is_object() {
            self.deserialize_any(visitor)
        } else {
            Err(JsonError::invalid_type(found(&self.0), &"an object with named fields"))
        }
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        name: &'static str,
        variants: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, JsonError> {
        match self.0 {
            Value::Object(fields) if fields.len() == 1 => {
                let fields = fields.into_iter().map(|(key, value)| (key, Self(value)));
                visitor.visit_enum(MapAccessDeserializer::new(MapDeserializer::new(fields)))
            }
            other => other.deserialize_enum(name, variants, visitor),
        }
    }

    forward_to_deserialize_any! { seq tuple tuple_struct map unit_struct }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use serde::Deserialize;
    use serde_json::json;

    use super::*;

    #[derive(Debug, PartialEq, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Limits {
        warn: Option<f64>,
        ground: Option<f64>,
    }

    #[derive(Debug, PartialEq, Deserialize)]
    #[serde(rename_all = "snake_case")]
    enum Place {
        Shelf,
        Model(String),
        Seat { path: String, limits: Option<Limits> },
        Span(f64, f64),
    }

    #[derive(Debug, PartialEq, Deserialize)]
    struct Whole {
        place: Place,
        by_face: BTreeMap<String, Limits>,
        list: Vec<Limits>,
        pair: (u8, String),
        #[serde(default)]
        kept: Value,
        #[serde(flatten)]
        rest: BTreeMap<String, Value>,
    }

    fn whole(place: &Value) -> Value {
        json!({"place": place, "by_face": {"top": {"warn": 1, "ground": null}}, "list": [{"warn": 0.5}, {}],
               "pair": [7, "a"], "kept": [{"x": [1]}], "more": {"y": 2}})
    }

    #[test]
    fn what_is_told_by_names_is_read_as_the_plain_reader_reads_it() {
        let places = [
            json!("shelf"),
            json!({"model": "QM-1"}),
            json!({"seat": {"path": "wing/left", "limits": {"ground": 2.0}}}),
            json!({"span": [1.0, 2.0]}),
        ];
        for place in places {
            let json = whole(&place);
            let plain = Whole::deserialize(json.clone()).unwrap();
            assert_eq!(Whole::deserialize(ByName(json)).unwrap(), plain, "{place}");
        }
    }

    #[test]
    fn what_the_plain_reader_refuses_is_refused_alike() {
        for place in
            [json!("elsewhere"), json!({"model": 1}), json!({}), json!({"shelf": 1, "model": "a"}), json!(3)]
        {
            let json = whole(&place);
            let plain = Whole::deserialize(json.clone()).unwrap_err().to_string();
            assert_eq!(Whole::deserialize(ByName(json)).unwrap_err().to_string(), plain, "{place}");
        }
    }

    #[test]
    fn a_list_is_no_struct_at_any_depth() {
        let mut in_a_map = whole(&json!("shelf"));
        in_a_map["by_face"]["top"] = json!([1.0, 2.0]);
        let mut in_a_list = whole(&json!("shelf"));
        in_a_list["list"][0] = json!([null, null]);
        let in_an_option = whole(&json!({"seat": {"path": "a", "limits": [1.0, 2.0]}}));
        for json in [in_a_map, in_a_list, in_an_option] {
            assert!(Whole::deserialize(json.clone()).is_ok(), "the plain reader takes {json}");
            let refused = Whole::deserialize(ByName(json)).unwrap_err().to_string();
            assert_eq!(refused, "invalid type: sequence, expected an object with named fields");
        }
    }
}
