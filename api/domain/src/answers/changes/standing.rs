//! How the answers about single things read: short texts that can be compared between two states of knowledge.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    answers::{
        DueItem, Moment, WhereQuestion, WhereRow, balance, due_of_model, model_usage,
        readings::beyond_limits, service::in_service, whereabouts,
    },
    fleet::{Fleet, Place},
    text_enum,
};

text_enum! {
    /// An answer about one thing.
    ChangedAnswer {
        /// When a check of a model falls due.
        Due = "due",
        /// How much a model was used.
        Usage = "usage",
        /// Mass and centre of gravity of a model.
        Balance = "balance",
        /// Where a part is, and its state.
        Where = "where",
        /// Readings of a part against their limits.
        Readings = "readings",
    }
}

/// How one answer reads.
pub(super) struct Standing {
    /// In one line.
    pub text: String,
    /// Word by word: what decides whether it reads differently.
    pub exact: String,
    /// Tag of the model that is or carries it.
    pub model: Option<String>,
    /// Tag of the part, where it is about one.
    pub part: Option<String>,
}

/// All answers about single things, by what they are about.
pub(super) fn standings(fleet: &Fleet, moment: Moment) -> BTreeMap<(ChangedAnswer, String), Standing> {
    let mut all = BTreeMap::new();
    for (tag, model) in in_service(fleet, moment) {
        let tag = tag.to_string();
        let of_model =
            |text: String, exact: String| Standing { text, exact, model: Some(tag.clone()), part: None };
        for item in due_of_model(fleet, model, moment) {
            let standing = of_model(due_text(&item), exact_of(&item));
            all.insert((ChangedAnswer::Due, format!("{tag} {}", item.group)), standing);
        }
        let used = model_usage(fleet, model, moment.as_of);
        let text = format!(
            "{} flights, {} launches, {:.1} h in the air, {} s of motor, {} riggings",
            used.flights, used.launches, used.airtime_h, used.motor_s, used.riggings
        );
        all.insert((ChangedAnswer::Usage, tag.clone()), of_model(text, exact_of(&used)));
        if let Some(balanced) = balance(fleet, model, moment.as_of) {
            let text = format!(
                "{:.1} g at x {:.2}, y {:.2}, z {:.2} mm",
                balanced.mass_g, balanced.x_mm, balanced.y_mm, balanced.z_mm
            );
            all.insert((ChangedAnswer::Balance, tag.clone()), of_model(text.clone(), text));
        }
    }
    for row in whereabouts(fleet, &WhereQuestion::default(), moment).components {
        let (text, exact) = (where_text(&row), exact_of(&row));
        let standing = Standing { text, exact, model: row.model, part: Some(row.component.clone()) };
        all.insert((ChangedAnswer::Where, row.component), standing);
    }
    for (id, _) in fleet.components() {
        let model = match fleet.place_at(id, moment.as_of) {
            Place::InModel(model, _) => Some(model),
            Place::InPanel(..) | Place::Loose => None,
        };
        let judged = beyond_limits(fleet, model, id, moment.as_of);
        if judged.is_empty() {
            continue;
        }
        let mut texts: Vec<String> = judged
            .iter()
            .map(|one| {
                let reading = one.measurement;
                format!("{} {} {}, class {}", reading.quantity, one.value, reading.unit, one.severity)
            })
            .collect();
        texts.sort();
        let tag = fleet.component_tag(id);
        let text = texts.join("; ");
        let standing = Standing {
            exact: text.clone(),
            text,
            model: model.map(|model| fleet.model_tag(model)),
            part: Some(tag.clone()),
        };
        all.insert((ChangedAnswer::Readings, tag), standing);
    }
    all
}

fn exact_of(answer: &impl Serialize) -> String {
    serde_json::to_string(answer).unwrap_or_default()
}

fn due_text(item: &DueItem) -> String {
    let mut parts = vec![item.state.as_str().replace('_', " ")];
    if let Some(due) = item.due_at_count {
        parts.push(format!("due at {due} {}", item.counter.map_or("", |counter| counter.as_str())));
        match (item.count_over, item.count_left) {
            (Some(over), _) if over > 0 => parts.push(format!("{over} over")),
            (_, Some(left)) => parts.push(format!("{left} left")),
            _ => {}
        }
    }
    if let Some(now) = item.now_at_count.filter(|_| item.due_at_count.is_none()) {
        parts.push(format!("now at {now} {}", item.counter.map_or("", |counter| counter.as_str())));
    }
    parts.extend(item.due_on.map(|on| format!("due on {on}")));
    let forecast = item.forecast_on.zip(item.forecast_from.zip(item.forecast_to));
    parts.extend(forecast.map(|(on, (from, to))| format!("forecast {on} ({from} to {to})")));
    parts.extend(item.opened_by.iter().map(|opened| format!("opened by {}", opened.subject)));
    parts.join(", ")
}

fn where_text(row: &WhereRow) -> String {
    let place = match (&row.model, &row.inside, &row.path) {
        (Some(holder), _, Some(path)) | (None, Some(holder), Some(path)) => format!("{holder} {path}"),
        _ => row.location.clone().unwrap_or_else(|| "in nothing".to_owned()),
    };
    let lent = row.lent_to.as_ref().zip(row.due_back_on);
    let lent = lent.map(|(_, back)| format!(", lent until {back}")).unwrap_or_default();
    format!("{place}, {}{lent}", row.state.as_str().replace('_', " "))
}
