//! Request bodies: JSON of at most 1 MiB, tags resolved to ids, every complaint with a pointer to its field.

use std::future::{Ready, ready};

use actix_web::dev::Payload;
use actix_web::{FromRequest, HttpRequest, http::header};
use futures_util::StreamExt as _;
use preen_domain::asked;
use preen_domain::facts::{Noun, QuestionReason, Reference};
use preen_domain::json::{ByName, JsonFault, read_json};
use serde::de::DeserializeOwned;
use serde_json::Value;

use crate::access::sight::Finds;
use crate::edge::patience::BrokeOff as _;
use crate::problem::{FieldError, Problem, sentence};
use crate::resources::page::Pairs;

pub use preen_domain::asked::{make_whole, names_ids_alone};

/// Bytes of a body at most.
pub const LIMIT: usize = 1 << 20;
/// Bytes that are still read and thrown away, so that the sender gets to hear the answer.
const DRAINED: usize = 16 << 20;

/// A body of JSON, not read yet: who asks is settled before a byte of it is looked at.
pub struct Body {
    is_json: bool,
    is_packed: bool,
    payload: Payload,
}

impl FromRequest for Body {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let is_json = request
            .headers()
            .get(header::CONTENT_TYPE)
            .and_then(|value| value.to_str().ok())
            .and_then(|value| value.split(';').next())
            .is_some_and(|kind| kind.trim().eq_ignore_ascii_case("application/json"));
        let packing = request.headers().get(header::CONTENT_ENCODING);
        let is_packed = packing.is_some_and(|packing| !packing.as_bytes().eq_ignore_ascii_case(b"identity"));
        ready(Ok(Self { is_json, is_packed, payload: payload.take() }))
    }
}

impl Body {
    /// Reads it.
    pub async fn read(self) -> Result<Value, Problem> {
        self.read_up_to(LIMIT).await
    }

    /// Reads one of so many bytes at most.
    pub async fn read_up_to(mut self, limit: usize) -> Result<Value, Problem> {
        let mut bytes = Vec::new();
        let mut length = 0_usize;
        while let Some(chunk) = self.payload.next().await {
            let broken = |text| Problem::MalformedJson(format!("The body broke off: {text}."));
            let chunk = chunk.map_err(|error| error.or_else(broken))?;
            length = length.saturating_add(chunk.len());
            if length <= limit {
                bytes.extend_from_slice(&chunk);
            } else if length > limit.saturating_add(DRAINED) {
                break;
            }
        }
        if length > limit {
            return Err(Problem::TooLarge(limit));
        }
        if self.is_packed {
            return Err(Problem::Packed);
        }
        if !self.is_json {
            return Err(Problem::NotJson);
        }
        parse_json(&bytes)
    }
}

/// The header `If-Match`, if it was sent.
pub struct IfMatch(pub Option<String>);

impl FromRequest for IfMatch {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let value = request.headers().get(header::IF_MATCH).and_then(|value| value.to_str().ok());
        ready(Ok(Self(value.map(|value| value.trim().to_owned()))))
    }
}

fn parse_json(bytes: &[u8]) -> Result<Value, Problem> {
    read_json(bytes).map_err(|fault| {
        let error = match fault {
            JsonFault::Doubled(pointers) => return doubled(pointers),
            JsonFault::Malformed(error) => error,
        };
        let text = String::from_utf8_lossy(bytes);
        let is_not_finite = ["NaN", "Infinity", "-Infinity"].iter().any(|word| text.contains(word))
            || error.to_string().contains("number out of range");
        let hint = if is_not_finite {
            " JSON knows no NaN and no infinities: send a finite number, or leave the field out."
        } else {
            ""
        };
        Problem::MalformedJson(format!("The body is not JSON: {error}.{hint}"))
    })
}

/// A key that stands twice: nobody can know which of the values is meant.
fn doubled(pointers: Vec<String>) -> Problem {
    let told = |pointer: String| {
        let key = pointer.rsplit('/').next().unwrap_or_default().replace("~1", "/").replace("~0", "~");
        let text = format!("The key `{key}` stands here more than once: say it once.");
        FieldError::new(pointer, "duplicate_key", text)
    };
    Problem::InvalidFields(pointers.into_iter().map(told).collect())
}

/// Reads a shape; a complaint points at its field, `prefix` before it.
pub fn parse_fact<T: DeserializeOwned>(prefix: &str, json: Value) -> Result<T, Problem> {
    parse_as_sent(prefix, make_whole(json))
}

/// The same for a shape that keeps parts of what was sent as they are.
pub fn parse_as_sent<T: DeserializeOwned>(prefix: &str, json: Value) -> Result<T, Problem> {
    serde_path_to_error::deserialize(ByName(json)).map_err(|error| {
        let mut pointer = prefix.to_owned();
        for segment in error.path() {
            match segment {
                serde_path_to_error::Segment::Seq { index } => pointer.push_str(&format!("/{index}")),
                serde_path_to_error::Segment::Map { key } => {
                    pointer.push_str(&format!("/{}", key.replace('~', "~0").replace('/', "~1")));
                }
                serde_path_to_error::Segment::Enum { variant } => pointer.push_str(&format!("/{variant}")),
                serde_path_to_error::Segment::Unknown => {}
            }
        }
        let text = error.inner().to_string();
        if let Some(field) = field_named(&text)
            && !pointer.ends_with(&format!("/{field}"))
        {
            pointer.push_str(&format!("/{field}"));
        }
        Problem::unreadable(pointer, sentence(&text))
    })
}

/// The field that a complaint is about but its path does not name.
fn field_named(text: &str) -> Option<&str> {
    let rest = text.strip_prefix("unknown field `").or_else(|| text.strip_prefix("missing field `"))?;
    rest.split('`').next()
}

/// Puts a field in that the path has said already. Saying something else is refused.
pub fn fill_in(body: &mut Value, field: &str, value: &str) -> Result<(), Problem> {
    let Some(object) = body.as_object_mut() else {
        return Err(Problem::unreadable("", "The body must be a JSON object."));
    };
    match object.get(field) {
        None => {
            object.insert(field.to_owned(), Value::String(value.to_owned()));
            Ok(())
        }
        Some(Value::String(said)) if said.eq_ignore_ascii_case(value) => Ok(()),
        Some(_) => Err(Problem::field(
            format!("/{field}"),
            format!("The path says {value}: leave the field out or say the same."),
        )),
    }
}

/// Turns tags into ids wherever the noun points at other items, and says which of them do not exist.
pub fn resolve(noun: Noun, prefix: &str, body: &mut Value, names: &dyn Finds) -> Result<(), Problem> {
    asked::resolve(noun, prefix, body, names).map_err(unknown_names)
}

/// The same at pointers of any request.
pub fn resolve_at_pointers(
    pointers: &[Reference],
    prefix: &str,
    body: &mut Value,
    names: &dyn Finds,
) -> Result<(), Problem> {
    asked::resolve_at_pointers(pointers, prefix, body, names).map_err(unknown_names)
}

fn unknown_names(reasons: Vec<QuestionReason>) -> Problem {
    let error = |QuestionReason { pointer, code, text }| FieldError { pointer, code, text };
    Problem::InvalidFields(reasons.into_iter().map(error).collect())
}

/// Whether only a preview is wanted, of a command that takes no other parameter.
pub fn is_preview(query: &Pairs) -> Result<bool, Problem> {
    let mut is_preview = false;
    for (name, value) in &query.0 {
        if name != "preview" {
            return Err(Problem::bad_parameter(name, "This knows only the parameter `preview`.".into()));
        }
        is_preview = value.parse().map_err(|_not_a_flag| {
            Problem::bad_parameter(name, format!("`{value}` is neither true nor false."))
        })?;
    }
    Ok(is_preview)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_that_json_does_not_know_are_explained() {
        for bad in [&b"{\"mass_g\": NaN}"[..], b"{\"mass_g\": -Infinity}", b"{\"mass_g\": 1e999}"] {
            let Err(Problem::MalformedJson(text)) = parse_json(bad) else { panic!("accepted") };
            assert!(text.contains("finite number"), "{text}");
        }
    }

    #[test]
    fn a_count_may_be_sent_with_a_fraction_of_nothing() {
        let read = make_whole(
            parse_json(b"[4.0, -3e2, 0.5, -0.0, 1e300, {\"a\": [1.0, 9007199254740992.0]}]").unwrap(),
        );
        assert_eq!(read.to_string(), r#"[4,-300,0.5,-0.0,1e+300,{"a":[1,9007199254740992.0]}]"#);
    }

    #[test]
    fn a_complaint_points_at_its_field() {
        let json = serde_json::json!({
            "id": "01970a3c-5d00-7000-8000-000000000001", "tag": "SV08", "kind": "servo",
            "tracking": "serial", "nominal_mass_g": 10.4, "colour": "red"
        });
        let found = parse_fact::<preen_domain::facts::Part>("/fact", json);
        let Err(Problem::InvalidFields(errors)) = found else { panic!("{found:?}") };
        assert_eq!(errors[0].pointer, "/fact/colour");
    }
}
