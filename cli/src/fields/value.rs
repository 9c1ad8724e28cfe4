//! Reading `FIELD=VALUE` into a fact.

use preen_domain::facts::Noun;
use serde_json::{Map, Number, Value};

use super::shape::{Field, Kind, fields_of};
use crate::client::Client;
use crate::failure::Failure;
use crate::moments::parse_moment;
use crate::suggest::closest;

/// A field of a noun's facts, found once and filled many times.
#[derive(Clone, Debug)]
pub struct Target {
    /// Its name, with dots between those of the groups it lies in.
    pub path: String,
    kind: Kind,
}

impl Target {
    /// Finds it.
    pub fn find(noun: Noun, path: &str) -> Result<Self, Failure> {
        let mut known = fields_of(noun);
        let mut names = path.split('.').peekable();
        while let Some(name) = names.next() {
            let kind = find(noun, &known, name)?.kind.clone();
            match (names.peek(), kind) {
                (None, kind) => return Ok(Self { path: path.to_owned(), kind }),
                (Some(_), Kind::Group(inner)) => known = inner,
                (Some(_), _) => return Err(no_group(noun, name)),
            }
        }
        Err(Failure::bad_input("A field has a name."))
    }

    /// Whether it holds a number.
    pub fn is_number(&self) -> bool {
        matches!(self.kind, Kind::Number | Kind::Whole)
    }

    /// Puts a value into a fact; an empty text takes the field away.
    pub fn put(&self, client: &Client, fact: &mut Map<String, Value>, text: &str) -> Result<(), Failure> {
        let mut here = fact;
        let mut names = self.path.split('.').peekable();
        while let Some(name) = names.next() {
            if names.peek().is_none() {
                if text.is_empty() {
                    here.remove(name);
                } else {
                    here.insert(name.to_owned(), read(client, &self.path, &self.kind, text)?);
                }
                return Ok(());
            }
            if text.is_empty() && !here.contains_key(name) {
                return Ok(());
            }
            let group = here.entry(name).or_insert_with(|| Value::Object(Map::new()));
            if !group.is_object() {
                *group = Value::Object(Map::new());
            }
            let Value::Object(inside) = group else { return Ok(()) };
            here = inside;
        }
        Ok(())
    }
}

/// Puts one `FIELD=VALUE` into a fact. `FIELD=` takes the field away.
pub fn assign(client: &Client, noun: Noun, fact: &mut Map<String, Value>, pair: &str) -> Result<(), Failure> {
    let (path, text) = pair.split_once('=').ok_or_else(|| {
        Failure::bad_input(format!("`{pair}` is not FIELD=VALUE."))
            .hint(format!("`preen {noun} fields` lists the fields."))
    })?;
    Target::find(noun, path)?.put(client, fact, text)
}

fn no_group(noun: Noun, name: &str) -> Failure {
    Failure::bad_input(format!("The field `{name}` of {noun} has no fields of its own."))
}

fn find<'a>(noun: Noun, known: &'a [Field], name: &str) -> Result<&'a Field, Failure> {
    known.iter().find(|field| field.name == name).ok_or_else(|| {
        let failure = Failure::bad_input(format!("The {noun} have no field `{name}`."));
        match closest(name, known.iter().map(|field| field.name.as_str())) {
            Some(close) => failure.hint(format!("Did you mean {close}?")),
            None => failure.hint(format!("`preen {noun} fields` lists the fields.")),
        }
    })
}

fn read(client: &Client, path: &str, kind: &Kind, text: &str) -> Result<Value, Failure> {
    let wrong = |what: &str| Failure::bad_input(format!("{path}: `{text}` is not {what}."));
    match kind {
        Kind::Text => Ok(Value::String(text.to_owned())),
        Kind::Moment => Ok(Value::String(parse_moment(text, client.zone()?, client.now()?)?.to_string())),
        Kind::Day => match text.parse::<chrono::NaiveDate>() {
            Ok(day) => Ok(Value::String(day.to_string())),
            Err(_not_a_day) => Err(wrong("a day: write it as in 2026-05-23")),
        },
        Kind::Number => text
            .parse::<f64>()
            .ok()
            .and_then(Number::from_f64)
            .map(Value::Number)
            .ok_or_else(|| wrong("a number")),
        Kind::Whole => text.parse::<i64>().map(Value::from).map_err(|_not_whole| wrong("a whole number")),
        Kind::YesNo => match text {
            "yes" | "true" => Ok(Value::Bool(true)),
            "no" | "false" => Ok(Value::Bool(false)),
            _ => Err(wrong("yes or no")),
        },
        Kind::Word(words) => {
            if words.iter().any(|word| word == text) {
                return Ok(Value::String(text.to_owned()));
            }
            let failure = wrong(&format!("one of {}", words.join(", ")));
            match closest(text, words.iter().map(String::as_str)) {
                Some(close) => Err(failure.hint(format!("Did you mean {close}?"))),
                None => Err(failure),
            }
        }
        Kind::List(inner) if !matches!(**inner, Kind::Group(_)) => {
            text.split(',').map(|one| read(client, path, inner, one.trim())).collect()
        }
        Kind::List(_) | Kind::Group(_) => {
            serde_json::from_str(text).map_err(|error| wrong(&format!("JSON ({error})")))
        }
    }
}

/// The needed fields that a fact does not have.
pub fn missing(noun: Noun, fact: &Map<String, Value>) -> Vec<Field> {
    fields_of(noun).into_iter().filter(|field| field.is_needed && !fact.contains_key(&field.name)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::Access;
    use serde_json::json;

    /// What needs no club is read without asking: nothing listens at this address.
    fn assigned(noun: Noun, pairs: &[&str]) -> Result<Value, Failure> {
        let access = Access { url: "http://127.0.0.1:1".to_owned(), token: None, token_id: None };
        let client = Client::new(&access).unwrap();
        let mut fact = Map::new();
        for pair in pairs {
            assign(&client, noun, &mut fact, pair)?;
        }
        Ok(Value::Object(fact))
    }

    #[test]
    fn values_are_read_by_the_kind_of_their_field() {
        let pairs = ["subject.component=SV08-B011", "quantity=42", "values=5.5, 7", "is_series_start=yes"];
        assert_eq!(
            assigned(Noun::Measurements, &pairs).unwrap(),
            json!({"subject": {"component": "SV08-B011"}, "quantity": "42", "values": [5.5, 7.0], "is_series_start": true})
        );
        let supports = r#"supports=[{"x_mm":-60,"y_mm":0,"reading_g":878}]"#;
        assert_eq!(
            assigned(Noun::Weighings, &[supports]).unwrap(),
            json!({"supports": [{"x_mm": -60, "y_mm": 0, "reading_g": 878}]})
        );
    }

    #[test]
    fn an_empty_value_takes_the_field_away() {
        assert_eq!(assigned(Noun::Flights, &["note=x", "note="]).unwrap(), json!({}));
    }

    #[test]
    fn what_does_not_fit_is_refused_with_what_would() {
        let refused = |noun, pair: &str| {
            let failure = assigned(noun, &[pair]).unwrap_err();
            assert_eq!(failure.code(), 3, "{pair}");
            format!("{} {}", failure.text, failure.hints.join(" "))
        };
        assert!(refused(Noun::Flights, "airtime=3").contains("Did you mean airtime_min?"));
        assert!(refused(Noun::Flights, "landing=sofd").contains("Did you mean soft?"));
        assert!(refused(Noun::Flights, "airtime_min=NaN").contains("is not a number"));
        assert!(refused(Noun::Flights, "launches=1.5").contains("is not a whole number"));
        assert!(refused(Noun::Loans, "due_back_on=31.5.").contains("is not a day"));
        assert!(refused(Noun::Flights, "note").contains("is not FIELD=VALUE"));
        assert!(refused(Noun::Flights, "note.x=1").contains("has no fields of its own"));
    }
}
