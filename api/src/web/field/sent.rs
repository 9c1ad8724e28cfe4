//! A form of the field as the fact that REST would be sent. What it says is judged elsewhere.
//!
//! `static/field_facts.js` does the same on the device for what is kept there; `tests/web` holds the two together.

use chrono_tz::Tz;
use preen_domain::ids::MemberId;
use preen_domain::time::Instant;
use preen_domain::words::{CheckResult, ItemResult};
use serde_json::{Map, Value, json};

use crate::problem::Problem;
use crate::web::form::Fields;

/// What the form does not say itself.
#[derive(Debug, Clone, Copy)]
pub struct Given<'a> {
    /// Id of the model; for a reading of a part in none there is none.
    pub model: Option<&'a str>,
    /// Who sends it.
    pub sender: MemberId,
    /// The service's clock.
    pub now: Instant,
    /// The club's time zone.
    pub zone: Tz,
}

/// A flight. The form says when it landed; it began as long before as it was in the air.
pub fn flight(form: &Fields, given: Given<'_>) -> Result<Value, Problem> {
    let airtime_min = match form.number("airtime_other")? {
        Some(typed) => typed,
        None => form.number("airtime_min")?.ok_or_else(|| missing("airtime_min", "Say how long it flew."))?,
    };
    if !(0.0..=1440.0).contains(&airtime_min) {
        return Err(missing("airtime_min", "A flight lasts 0 to 1440 minutes."));
    }
    let landed = form.moment("landed_at", given.zone, given.now)?;
    let began = landed.plus_seconds(-whole(airtime_min * 60.0));
    let landing = form.get("landing").ok_or_else(|| missing("landing", "Say how it landed."))?;
    let mut fact = fact(form, began)?;
    put(&mut fact, "model", given.model.map(Value::from));
    let pilot = form.get("pilot").map_or_else(|| given.sender.to_string(), ToOwned::to_owned);
    put(&mut fact, "pilot", Some(pilot.into()));
    put(&mut fact, "airtime_min", Some(json!(airtime_min)));
    put(&mut fact, "landing", Some(landing.into()));
    put(&mut fact, "is_landing_flap_used", Some(form.get("flap").is_some().into()));
    put(&mut fact, "is_post_flight_logged", Some(form.get("looked").is_some().into()));
    put(&mut fact, "launches", form.number("launches")?.map(Value::from));
    put(&mut fact, "motor_s", form.number("motor_s")?.map(Value::from));
    put(&mut fact, "note", form.get("note").map(Value::from));
    Ok(Value::Object(fact))
}

/// A check by exception: each item of the form with its result. What was not looked at is no pass.
pub fn check(form: &Fields, given: Given<'_>) -> Result<Value, Problem> {
    let mut items = Vec::new();
    let (mut has_failed, mut is_whole) = (false, true);
    for (name, said) in &form.0 {
        let Some(code) = name.strip_prefix("item.") else { continue };
        has_failed |= said == ItemResult::Fail.as_str();
        is_whole &= said != ItemResult::NotLookedAt.as_str();
        let mut item = Map::new();
        put(&mut item, "item", Some(code.into()));
        put(&mut item, "result", Some(said.as_str().into()));
        put(&mut item, "note", form.get(&format!("note.{code}")).map(Value::from));
        items.push(Value::Object(item));
    }
    let result = match (has_failed, is_whole) {
        (true, _) => form.get("verdict").unwrap_or(CheckResult::Fail.as_str()),
        (false, true) => CheckResult::Pass.as_str(),
        (false, false) => CheckResult::Restrict.as_str(),
    };
    let mut fact = fact(form, form.moment("at", given.zone, given.now)?)?;
    put(&mut fact, "model", given.model.map(Value::from));
    put(&mut fact, "group", Some(form.need("group")?.into()));
    put(&mut fact, "result", Some(result.into()));
    put(&mut fact, "is_summary", Some(false.into()));
    put(&mut fact, "items", Some(items.into()));
    put(&mut fact, "note", form.get("note").map(Value::from));
    Ok(Value::Object(fact))
}

/// A reading: of the part or the model chosen, in the unit that goes with the quantity.
pub fn reading(form: &Fields, given: Given<'_>) -> Result<Value, Problem> {
    let chosen = form.get("quantity").ok_or_else(|| missing("quantity", "Say what was measured."))?;
    let (quantity, unit) = chosen.split_once(' ').unwrap_or((chosen, ""));
    let said = form.get("values").ok_or_else(|| missing("values", "Fill in the reading."))?;
    let mut values = Vec::new();
    for word in said.split([' ', ';']).filter(|word| !word.is_empty()) {
        let number = word.replace(',', ".").parse::<f64>().ok().filter(|number| number.is_finite());
        let number = number.ok_or_else(|| missing("values", &format!("`{word}` is not a number.")))?;
        values.push(json!(number));
    }
    let mut fact = fact(form, form.moment("at", given.zone, given.now)?)?;
    put(&mut fact, "subject", Some(subject(form)?));
    put(&mut fact, "quantity", Some(quantity.into()));
    put(&mut fact, "unit", Some(unit.into()));
    put(&mut fact, "values", Some(values.into()));
    put(&mut fact, "temperature_c", form.number("temperature_c")?.map(Value::from));
    put(&mut fact, "note", form.get("note").map(Value::from));
    Ok(Value::Object(fact))
}

/// A defect: what was chosen from the list, what was written, or both.
pub fn defect(form: &Fields, given: Given<'_>) -> Result<Value, Problem> {
    let text: Vec<&str> = ["seen", "text"].iter().filter_map(|name| form.get(name)).collect();
    if text.is_empty() {
        return Err(missing("text", "Choose what is wrong, or say it in words."));
    }
    let severity = form.get("severity").ok_or_else(|| missing("severity", "Say how bad it is."))?;
    let mut fact = fact(form, form.moment("at", given.zone, given.now)?)?;
    put(&mut fact, "model", given.model.map(Value::from));
    put(&mut fact, "subject", Some(subject(form)?));
    put(&mut fact, "severity", Some(severity.into()));
    put(&mut fact, "text", Some(text.join(": ").into()));
    put(&mut fact, "place", form.get("place").map(Value::from));
    Ok(Value::Object(fact))
}

fn missing(name: &str, text: &str) -> Problem {
    Problem::field(format!("/{name}"), text)
}

/// Id and moment, which all facts have.
fn fact(form: &Fields, at: Instant) -> Result<Map<String, Value>, Problem> {
    let mut fact = Map::new();
    put(&mut fact, "id", Some(form.need("id")?.into()));
    put(&mut fact, "occurred_at", Some(json!(at)));
    Ok(fact)
}

/// What it is about: `model:<id>` or `component:<id>`.
fn subject(form: &Fields) -> Result<Value, Problem> {
    let chosen = form.need("subject")?.split_once(':');
    let (kind, id) = chosen.ok_or_else(|| missing("subject", "Say which part, or the model."))?;
    Ok(json!({ kind: id }))
}

fn put(fact: &mut Map<String, Value>, key: &str, value: Option<Value>) {
    if let Some(value) = value {
        fact.insert(key.to_owned(), value);
    }
}

/// Seconds as a whole number; what a flight can last always fits.
fn whole(seconds: f64) -> i64 {
    format!("{:.0}", seconds.round()).parse().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn form(pairs: &[(&str, &str)]) -> Fields {
        Fields(pairs.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())).collect())
    }

    fn given() -> Given<'static> {
        let now = "2026-05-21T08:00:00Z".parse().unwrap();
        let sender = "01970a3c-5d00-7000-8000-000000000009".parse().unwrap();
        Given { model: Some("M"), sender, now, zone: chrono_tz::Europe::London }
    }

    #[test]
    fn a_flight_began_before_it_landed() {
        let said = [("id", "X"), ("airtime_min", "6.5"), ("landing", "hard"), ("looked", "on")];
        let fact = flight(&form(&said), given()).unwrap();
        assert_eq!(fact["occurred_at"], "2026-05-21T07:53:30Z");
        assert_eq!(fact["is_post_flight_logged"], true);
        assert_eq!(fact["is_landing_flap_used"], false);
        let typed =
            [said.as_slice(), &[("airtime_other", "4,5"), ("landed_at", "2026-05-20T18:00")]].concat();
        let fact = flight(&form(&typed), given()).unwrap();
        assert_eq!(
            (&fact["airtime_min"], &fact["occurred_at"]),
            (&json!(4.5), &json!("2026-05-20T16:55:30Z"))
        );
    }

    #[test]
    fn a_flight_without_a_grade_or_a_sound_time_is_refused() {
        assert!(flight(&form(&[("id", "X"), ("airtime_min", "6")]), given()).is_err());
        assert!(flight(&form(&[("id", "X"), ("landing", "soft"), ("airtime_min", "1e9")]), given()).is_err());
    }

    #[test]
    fn what_was_not_looked_at_is_no_pass() {
        let result = |first: &str, second: &str| {
            let said = [("id", "X"), ("group", "PF"), ("item.PF-01", first), ("item.PF-02", second)];
            check(&form(&said), given()).unwrap()["result"].as_str().unwrap().to_owned()
        };
        assert_eq!(result("pass", "pass"), "pass");
        assert_eq!(result("pass", "not_looked_at"), "restrict");
        assert_eq!(result("fail", "not_looked_at"), "fail");
    }

    #[test]
    fn a_reading_has_one_value_or_several() {
        let said = [
            ("id", "X"),
            ("subject", "component:P"),
            ("quantity", "cell_resistance mOhm"),
            ("values", "3,1 3.2; 3.3"),
        ];
        let fact = reading(&form(&said), given()).unwrap();
        assert_eq!(fact["values"], json!([3.1, 3.2, 3.3]));
        assert_eq!(fact["subject"], json!({ "component": "P" }));
        assert_eq!(fact["unit"], "mOhm");
        assert!(reading(&form(&[("id", "X"), ("quantity", "x mm"), ("values", "much")]), given()).is_err());
    }

    #[test]
    fn a_defect_needs_words_of_either_kind() {
        let said = [("id", "X"), ("subject", "model:M"), ("severity", "watch"), ("seen", "Servo covers")];
        assert_eq!(defect(&form(&said), given()).unwrap()["text"], "Servo covers");
        let both = [said.as_slice(), &[("text", "left one lifts")]].concat();
        assert_eq!(defect(&form(&both), given()).unwrap()["text"], "Servo covers: left one lifts");
        assert!(defect(&form(&said[..3]), given()).is_err());
    }
}
