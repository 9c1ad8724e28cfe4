//! What can be measured on a model and its parts, each in its unit with the limits that hold, as choices of a form.

use preen_domain::answers::{HeldLimit, model_limits};
use preen_domain::fleet::Fleet;
use preen_domain::ids::ModelId;
use preen_domain::quantities;

use crate::told::classes;

/// A quantity to choose.
pub struct Choice {
    /// Quantity and unit, as the form sends them.
    pub value: String,
    /// The quantity in words.
    pub name: String,
    /// Its unit.
    pub unit: String,
    /// Kind of position it holds for; empty: wherever no other row says more.
    pub kind: String,
    /// Its limits in words; empty where none holds.
    pub limits: String,
}

/// Choices under one heading, for forms without a script.
pub struct Kind {
    /// Kind of position, or what holds everywhere.
    pub name: String,
    /// What is measured there.
    pub choices: Vec<Choice>,
}

fn choice(held: &HeldLimit) -> Choice {
    Choice {
        value: format!("{} {}", held.quantity, held.unit),
        name: held.quantity.replace('_', " "),
        unit: held.unit.clone(),
        kind: held.position_kind.clone().unwrap_or_default(),
        limits: classes(held.direction, held.watch, held.restrict, held.ground),
    }
}

/// What can be measured on a model and on what sits in it; on one kind of position, if one is named.
pub fn of_model(fleet: &Fleet, model: ModelId, only: Option<&str>) -> Vec<Kind> {
    let held = model_limits(fleet, model).map(|held| held.limits).unwrap_or_default();
    let mut kinds: Vec<Kind> = Vec::new();
    for limit in &held {
        let choice = choice(limit);
        if only.is_some_and(|only| !choice.kind.is_empty() && choice.kind != only) {
            continue;
        }
        let name =
            if choice.kind.is_empty() { "any part, or the model" } else { choice.kind.as_str() }.to_owned();
        match kinds.iter_mut().find(|kind| kind.name == name) {
            // Two limits of one quantity, one to each side, or by two items of the programme.
            Some(kind) => match kind.choices.iter_mut().find(|known| known.value == choice.value) {
                Some(known) if known.limits != choice.limits => {
                    known.limits = format!("{}; {}", known.limits, choice.limits);
                }
                Some(_) => {}
                None => kind.choices.push(choice),
            },
            None => kinds.push(Kind { name, choices: vec![choice] }),
        }
    }
    // What holds for one kind of position comes before what holds for all.
    kinds.sort_by_key(|kind| kind.choices.iter().all(|choice| choice.kind.is_empty()));
    kinds
}

/// What the product itself knows, for a part that never sat in a model: no limits hold for it yet.
pub fn without_model() -> Vec<Kind> {
    let all = quantities::ALL.iter().map(|known| Choice {
        value: format!("{} {}", known.name, known.unit),
        name: known.name.replace('_', " "),
        unit: known.unit.to_owned(),
        kind: String::new(),
        limits: String::new(),
    });
    vec![Kind {
        name: "no limits hold yet: the part never sat in a model".to_owned(),
        choices: all.collect(),
    }]
}
