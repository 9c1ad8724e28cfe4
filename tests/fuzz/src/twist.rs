//! Makes an odd question of a sensible one: numbers pushed to the edges of what a double holds, scaled, swapped or made
//! equal; lists emptied, repeated and cut; fields dropped, words exchanged.

use arbitrary::{Result, Unstructured};
use serde_json::{Map, Number, Value};

/// Numbers that formulas stumble over.
const EDGES: [f64; 26] = [
    0.0,
    -0.0,
    1.0,
    -1.0,
    0.5,
    2.0,
    3.0,
    90.0,
    -90.0,
    180.0,
    360.0,
    1e-300,
    -1e-300,
    5e-324,
    1e-16,
    1e-9,
    1e9,
    1e16,
    -1e16,
    1e150,
    -1e150,
    1e300,
    f64::MAX,
    f64::MIN,
    4_294_967_296.0,
    9_007_199_254_740_993.0,
];

/// Most entries a list is blown up to.
const MOST_ENTRIES: usize = 600;

/// The seed with as many changes as the bytes ask for.
pub fn twisted(mut seed: Value, bytes: &mut Unstructured<'_>) -> Value {
    let changes = bytes.int_in_range(1..=6).unwrap_or(1);
    for _ in 0..changes {
        if twist_once(&mut seed, bytes).is_err() {
            break;
        }
    }
    seed
}

fn twist_once(seed: &mut Value, bytes: &mut Unstructured<'_>) -> Result<()> {
    let places = count(seed);
    let wanted = bytes.int_in_range(0..=places.saturating_sub(1))?;
    let words = words_of(seed);
    let numbers = numbers_of(seed);
    let mut left = wanted;
    let Some(place) = nth(seed, &mut left) else { return Ok(()) };
    match place {
        Value::Number(_) => *place = number(place.as_f64().unwrap_or(0.0), &numbers, bytes)?,
        Value::String(text) => {
            if let Some(word) = words.get(bytes.int_in_range(0..=words.len().saturating_sub(1))?) {
                text.clone_from(word);
            }
        }
        Value::Bool(truth) => *truth = !*truth,
        Value::Array(list) => twist_list(list, bytes)?,
        Value::Object(fields) => drop_field(fields, bytes)?,
        Value::Null => *place = number(0.0, &numbers, bytes)?,
    }
    Ok(())
}

fn number(old: f64, numbers: &[f64], bytes: &mut Unstructured<'_>) -> Result<Value> {
    let new = match bytes.int_in_range(0..=6_u8)? {
        0 => *bytes.choose(&EDGES)?,
        1 => old * *bytes.choose(&[-1.0, 0.0, 0.5, 2.0, 10.0, 1e3, 1e-3, 1e8, 1e-8])?,
        2 => old + *bytes.choose(&[-1.0, 1.0, 1e-12, -1e-12, 0.1, 1e6])?,
        3 => *numbers.get(bytes.int_in_range(0..=numbers.len().saturating_sub(1))?).unwrap_or(&0.0),
        4 => f64::from(bytes.arbitrary::<i16>()?),
        5 => f64::from(bytes.arbitrary::<i32>()?) / 1024.0,
        _ => bytes.arbitrary::<f64>()?,
    };
    // Whole numbers stay whole, so that counts stay counts.
    if new.fract() == 0.0 && new.abs() < 9e15 {
        return Ok(Value::from(new as i64));
    }
    Ok(Number::from_f64(new).map_or(Value::Null, Value::Number))
}

fn twist_list(list: &mut Vec<Value>, bytes: &mut Unstructured<'_>) -> Result<()> {
    if list.is_empty() {
        return Ok(());
    }
    let index = bytes.int_in_range(0..=list.len() - 1)?;
    match bytes.int_in_range(0..=5_u8)? {
        0 => list.clear(),
        1 => list.truncate(index),
        2 => {
            list.remove(index);
        }
        3 => list.push(list[index].clone()),
        4 => list.reverse(),
        _ => {
            let once = list.clone();
            while list.len() < MOST_ENTRIES {
                list.extend(once.iter().cloned());
            }
        }
    }
    Ok(())
}

fn drop_field(fields: &mut Map<String, Value>, bytes: &mut Unstructured<'_>) -> Result<()> {
    if fields.is_empty() {
        return Ok(());
    }
    let index = bytes.int_in_range(0..=fields.len() - 1)?;
    if let Some(name) = fields.keys().nth(index).cloned() {
        fields.remove(&name);
    }
    Ok(())
}

fn count(value: &Value) -> usize {
    1 + match value {
        Value::Array(items) => items.iter().map(count).sum(),
        Value::Object(fields) => fields.values().map(count).sum(),
        _ => 0,
    }
}

fn nth<'a>(value: &'a mut Value, left: &mut usize) -> Option<&'a mut Value> {
    if *left == 0 {
        return Some(value);
    }
    *left -= 1;
    match value {
        Value::Array(items) => items.iter_mut().find_map(|item| nth(item, left)),
        Value::Object(fields) => fields.values_mut().find_map(|item| nth(item, left)),
        _ => None,
    }
}

fn words_of(value: &Value) -> Vec<String> {
    match value {
        Value::String(text) => vec![text.clone()],
        Value::Array(items) => items.iter().flat_map(words_of).collect(),
        Value::Object(fields) => fields.values().flat_map(words_of).collect(),
        _ => Vec::new(),
    }
}

fn numbers_of(value: &Value) -> Vec<f64> {
    match value {
        Value::Number(number) => number.as_f64().into_iter().collect(),
        Value::Array(items) => items.iter().flat_map(numbers_of).collect(),
        Value::Object(fields) => fields.values().flat_map(numbers_of).collect(),
        _ => Vec::new(),
    }
}
