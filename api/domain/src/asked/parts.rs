//! Questions about parts: what they went through, how they wear, how long they last, how many to take along.

use super::{Asked, Refused};
use crate::{
    answers::{
        ComponentHistory, ComponentTrend, ComponentUsage, PartLife, PartLifeQuestion, SparesWanted,
        TeamSpares, TrendQuestion, TypeExchange, component_history, component_trend, component_usage,
        exchange_of_type, part_life, team_spares,
    },
    facts::Noun,
    ids::{ContestId, ModelId, PartId},
    text::Tag,
    words::{Counter, EntryState},
};

pub(super) const LIFE: &[&str] =
    &["part", "batches", "position_kind", "counter", "quantity", "as_new", "confidence"];
pub(super) const EXCHANGE: &[&str] = &["part", "with"];
pub(super) const SPARES: &[&str] = &["contest", "models", "flights", "target"];
pub(super) const TREND: &[&str] = &["quantity", "by", "whole_history"];

/// Usage of a component through every level of nesting.
///
/// # Errors
/// There is no such component for the asker.
pub fn usage<'a>(
    asked: &Asked<'a>,
    name: &str,
) -> Result<impl FnOnce() -> ComponentUsage + use<'a>, Refused> {
    let (asked, component) = (*asked, asked.component(name)?);
    Ok(move || component_usage(asked.fleet, component, asked.moment.as_of))
}

/// What happened to a component, in order of time.
///
/// # Errors
/// There is no such component for the asker.
pub fn history<'a>(
    asked: &Asked<'a>,
    name: &str,
) -> Result<impl FnOnce() -> ComponentHistory + use<'a>, Refused> {
    let (asked, component) = (*asked, asked.component(name)?);
    Ok(move || component_history(asked.fleet, component, asked.moment.as_of))
}

/// How a component wears.
///
/// # Errors
/// There is no such component for the asker, no reading of the quantity, or a parameter does not fit.
pub fn trend(asked: &Asked<'_>, name: &str) -> Result<ComponentTrend, Refused> {
    let component = asked.component(name)?;
    let question = trend_question(asked)?;
    let answer = component_trend(asked.fleet, component, &question, asked.moment.as_of);
    match (&question.quantity, answer.series.is_empty()) {
        (Some(quantity), true) => {
            let known = match answer.quantities.join(", ") {
                none if none.is_empty() => "nothing was read on it by then".to_owned(),
                known => format!("what was read on it: {known}"),
            };
            Err(Refused::parameter(
                "quantity",
                format!("There is no reading of `{quantity}` on {}; {known}.", answer.component),
            ))
        }
        _ => Ok(answer),
    }
}

fn trend_question(asked: &Asked<'_>) -> Result<TrendQuestion, Refused> {
    let by = asked.parameter("by").map(str::parse).transpose();
    let is_whole_history = match asked.parameter("whole_history") {
        None | Some("false") => false,
        Some("true") => true,
        Some(other) => {
            return Err(Refused::parameter("whole_history", format!("`{other}` is neither true nor false.")));
        }
    };
    Ok(TrendQuestion {
        quantity: asked.parameter("quantity").map(ToOwned::to_owned),
        by: by.map_err(|unknown| Refused::parameter("by", format!("{unknown}.")))?,
        is_whole_history,
    })
}

/// What it would do to each model that the asker may see if every part of one type were exchanged for one of another.
///
/// # Errors
/// A parameter is missing or names no part type; the two are not of one kind, or the second has no mass of its own.
pub fn exchange<'a>(asked: &Asked<'a>) -> Result<impl FnOnce() -> TypeExchange + use<'a>, Refused> {
    let asked = *asked;
    let part = |name: &str| {
        let missing =
            || Refused::parameter(name, format!("Say which part type is meant, such as `{name}=SV08`."));
        let id = asked.item(name, Noun::Parts)?.map(PartId).ok_or_else(missing)?;
        let known = asked.fleet.part(id).map(|recorded| &recorded.fact);
        known.ok_or_else(|| Refused::parameter(name, "There was no such part type by then."))
    };
    let (off, on) = (part("part")?, part("with")?);
    if off.kind != on.kind {
        let text = format!(
            "{} is a {}, {} is a {}: none fits where the other sits.",
            on.tag, on.kind, off.tag, off.kind
        );
        return Err(Refused::parameter("with", text));
    }
    if on.nominal_mass_g <= 0.0 {
        let text = format!(
            "{} has no mass on record, since each one is weighed: ask model by model (swap).",
            on.tag
        );
        return Err(Refused::parameter("with", text));
    }
    Ok(move || {
        let mut answer = exchange_of_type(asked.fleet, off, on, asked.moment);
        answer.models.retain(|row| asked.sees_model_tagged(&row.model));
        answer
    })
}

/// How long parts of a type last.
///
/// # Errors
/// The asker does not see the whole fleet, or a parameter does not fit.
pub fn life(asked: &Asked<'_>) -> Result<PartLife, Refused> {
    if !asked.sees_all {
        return Err(Refused::NotAllowed(
            "Statistics of the club's parts are for those who see the whole fleet.".to_owned(),
        ));
    }
    let question = life_question(asked)?;
    part_life(asked.fleet, &question, asked.moment.as_of).ok_or_else(|| {
        if asked.fleet.part(question.part).is_some() {
            return Refused::parameter("counter", "Charges are counted for packs alone.");
        }
        Refused::parameter("part", "There was no such part type by then.")
    })
}

fn life_question(asked: &Asked<'_>) -> Result<PartLifeQuestion, Refused> {
    let part = asked.item("part", Noun::Parts)?.map(PartId).ok_or_else(|| {
        Refused::parameter("part", "Say which part type is asked about, such as `part=SV08`.")
    })?;
    let mut batches: Vec<Tag> = Vec::new();
    for text in asked.parameter("batches").into_iter().flat_map(|list| list.split(',')) {
        let batch: Tag = text
            .trim()
            .parse()
            .map_err(|error| Refused::parameter("batches", format!("`{text}` {error}.")))?;
        if !batches.contains(&batch) {
            batches.push(batch);
        }
    }
    let counter = asked.parameter("counter").unwrap_or("flights");
    let counter = counter.parse::<Counter>().map_err(
        |_unknown| {
            Refused::parameter(
                "counter",
                format!(
                    "Lives are not counted in `{counter}`: ask for flights, launches, airtime_h, motor_s, riggings, or for a pack charges."
                ),
            )
        },
    )?;
    let quantity = asked.parameter("quantity").map(ToOwned::to_owned);
    let as_new = number(asked, "as_new")?;
    if as_new.is_some() && quantity.is_none() {
        return Err(Refused::parameter("as_new", "Say which `quantity` reads that on a new part."));
    }
    let confidence = number(asked, "confidence")?.unwrap_or(0.9);
    if !(0.5..=0.999).contains(&confidence) {
        return Err(Refused::parameter("confidence", "Send a number from 0.5 to 0.999, such as 0.9."));
    }
    let position_kind = asked.parameter("position_kind").map(ToOwned::to_owned);
    Ok(PartLifeQuestion { part, batches, position_kind, counter, quantity, as_new, confidence })
}

fn number(asked: &Asked<'_>, name: &str) -> Result<Option<f64>, Refused> {
    let read = |text: &str| {
        text.parse::<f64>()
            .ok()
            .filter(|number| number.abs() <= 1e12)
            .ok_or_else(|| Refused::parameter(name, format!("`{text}` is no number such as 0.25.")))
    };
    asked.parameter(name).map(read).transpose()
}

/// What spares a team should take.
///
/// # Errors
/// The asker does not see the whole fleet, or a parameter does not fit.
pub fn spares(asked: &Asked<'_>) -> Result<TeamSpares, Refused> {
    if !asked.sees_all {
        return Err(Refused::NotAllowed(
            "Spares of a team are for those who see the whole fleet.".to_owned(),
        ));
    }
    let wanted = spares_wanted(asked)?;
    team_spares(asked.fleet, &wanted, asked.moment)
        .map_err(|why| Refused::parameter("target", format!("{why}.")))
}

fn spares_wanted(asked: &Asked<'_>) -> Result<SparesWanted, Refused> {
    let target = match asked.parameter("target") {
        None => 0.95,
        Some(text) => text
            .parse::<f64>()
            .ok()
            .filter(|target| *target > 0.0 && *target <= 0.999_999)
            .ok_or_else(|| Refused::parameter("target", format!("`{text}` is no chance such as 0.95.")))?,
    };
    let flights = asked
        .parameter("flights")
        .map(|text| {
            text.parse::<u32>().ok().filter(|flights| (1..=100_000).contains(flights)).ok_or_else(|| {
                Refused::parameter("flights", format!("`{text}` is no number of flights from 1 to 100000."))
            })
        })
        .transpose()?;
    let named = asked.models()?;
    let contest = asked.item("contest", Noun::Contests)?.map(ContestId);
    let (mut models, flights) = match (contest, named, flights) {
        (Some(contest), named, flights) => {
            let (entered, most) = entered(asked, contest)?;
            (named.unwrap_or(entered), flights.unwrap_or(most))
        }
        (None, Some(models), Some(flights)) => (models, flights),
        (None, Some(_), None) => {
            let text = "Say how many flights each model will make, such as `flights=20`.";
            return Err(Refused::parameter("flights", text));
        }
        (None, None, _) => {
            return Err(Refused::parameter("contest", "Name a contest, or `models` with `flights`."));
        }
    };
    models.sort();
    models.dedup();
    if flights == 0 || models.is_empty() {
        let text = "The contest has no entry, or no round: give `models` and `flights`.";
        return Err(Refused::parameter("contest", text));
    }
    Ok(SparesWanted { models, flights, target })
}

/// The models first flown in the entries that stand, and the most flights that each may make.
fn entered(asked: &Asked<'_>, contest: ContestId) -> Result<(Vec<ModelId>, u32), Refused> {
    let fact = asked
        .fleet
        .contest(contest)
        .map(|contest| &contest.fact)
        .ok_or_else(|| Refused::parameter("contest", "There was no such contest by then."))?;
    let models = asked
        .fleet
        .contest_entries()
        .map(|(_, entry)| &entry.fact)
        .filter(|entry| entry.contest == contest && entry.state == EntryState::Entered)
        .map(|entry| entry.model)
        .collect();
    Ok((models, fact.flights_max().saturating_add(fact.training_flights)))
}
