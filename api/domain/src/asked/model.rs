//! Questions about one model: usage, balance, ballast, limits, its class, what stands against it until a day.

use serde::Deserialize;
use serde::de::IntoDeserializer;
use serde::de::value::Error as NoSuchWord;

use super::{Asked, Refused};
use crate::{
    answers::compute::{BadQuestion, BallastCell},
    answers::{
        self, Ahead, Balanced, BallastWanted, ClassCheck, ModelBallast, ModelLimits, ModelReadiness,
        ModelUsage, Moment, NoBallast, model_limits, model_readiness,
    },
    classes::{of_tag, tags},
    facts::{ClassProfile, Noun},
    formulas::planform::AreaDefinition,
    ids::{ContestId, ModelId},
    text::Tag,
};

pub(super) const BALLAST: &[&str] = &[
    "target_loading_g_dm2",
    "target_mass_g",
    "area",
    "mass_tolerance_g",
    "target_x_mm",
    "x_tolerance_mm",
    "y_tolerance_mm",
    "cells",
];
pub(super) const LIMITS: &[&str] = &["quantity"];
pub(super) const CLASS_CHECK: &[&str] = &["class"];
pub(super) const READINESS: &[&str] = &["contest", "flights", "until_on"];

/// The longest look ahead of a single model, flights.
const MOST_FLIGHTS: u32 = 2_000;

/// Usage of a model.
///
/// # Errors
/// There is no such model for the asker.
pub fn model_usage<'a>(
    asked: &Asked<'a>,
    name: &str,
) -> Result<impl FnOnce() -> ModelUsage + use<'a>, Refused> {
    let (asked, model) = (*asked, asked.model(name)?);
    Ok(move || answers::model_usage(asked.fleet, model, asked.moment.as_of))
}

/// Mass and centre of gravity of a model.
///
/// # Errors
/// There is no such model for the asker.
pub fn balance(asked: &Asked<'_>, name: &str) -> Result<Balanced, Refused> {
    let model = asked.model(name)?;
    answers::balance(asked.fleet, model, asked.moment.as_of)
        .ok_or_else(|| Refused::not_found(Noun::Models, name))
}

/// Ballast for a model.
///
/// # Errors
/// There is no such model for the asker, a parameter does not fit, or nothing is known to load.
pub fn ballast(asked: &Asked<'_>, name: &str) -> Result<ModelBallast, Refused> {
    let model = asked.model(name)?;
    let wanted = ballast_wanted(asked)?;
    answers::ballast(asked.fleet, model, &wanted, asked.moment.as_of).map_err(|why| match why {
        NoBallast::NoBalance => Refused::not_found(Noun::Models, name),
        NoBallast::NoSlugs { .. } => Refused::parameter("id", format!("{why}.")),
        NoBallast::NoCells { .. } => Refused::parameter("cells", format!("{why}.")),
        NoBallast::NoProjectedArea { .. } => Refused::parameter("area", format!("{why}.")),
        NoBallast::Bad(bad) => refuse_ballast(&bad),
    })
}

fn ballast_wanted(asked: &Asked<'_>) -> Result<BallastWanted, Refused> {
    let number = |name: &str| -> Result<Option<f64>, Refused> {
        let wrong = |value: &str| Refused::parameter(name, format!("`{value}` is not a number."));
        let parse = |value: &str| match value.parse::<f64>() {
            Ok(number) if number.is_finite() => Ok(number),
            _ => Err(wrong(value)),
        };
        asked.parameter(name).map(parse).transpose()
    };
    Ok(BallastWanted {
        target_mass_g: number("target_mass_g")?,
        target_loading_g_dm2: number("target_loading_g_dm2")?,
        area: asked.parameter("area").map(area).transpose()?.unwrap_or_default(),
        mass_tolerance_g: number("mass_tolerance_g")?,
        target_x_mm: number("target_x_mm")?,
        x_tolerance_mm: number("x_tolerance_mm")?,
        y_tolerance_mm: number("y_tolerance_mm")?,
        cells: asked.parameter("cells").map(cells).transpose()?,
    })
}

fn area(word: &str) -> Result<AreaDefinition, Refused> {
    let deserializer = IntoDeserializer::<NoSuchWord>::into_deserializer(word);
    AreaDefinition::deserialize(deserializer)
        .map_err(|error| Refused::parameter("area", format!("There is no such area: {error}.")))
}

fn cells(text: &str) -> Result<Vec<BallastCell>, Refused> {
    text.split(',').map(str::trim).map(cell).collect()
}

fn cell(text: &str) -> Result<BallastCell, Refused> {
    let wrong =
        || Refused::parameter("cells", format!("`{text}` is not X:CAPACITY or X:Y:CAPACITY, such as 62:3."));
    let parts: Vec<&str> = text.split(':').collect();
    let (x, y, capacity) = match parts.as_slice() {
        [x, capacity] => (*x, "0", *capacity),
        [x, y, capacity] => (*x, *y, *capacity),
        _ => return Err(wrong()),
    };
    let place = |text: &str| text.parse::<f64>().ok().filter(|mm| mm.is_finite()).ok_or_else(wrong);
    Ok(BallastCell {
        cell: text.rsplit_once(':').map_or_else(String::new, |(place, _)| place.to_owned()),
        x_mm: place(x)?,
        y_mm: place(y)?,
        capacity: capacity.parse().map_err(|_not_whole| wrong())?,
        pair: None,
    })
}

/// A field at fault is named as the parameter it came by; what came from the record, as the model.
fn refuse_ballast(bad: &BadQuestion) -> Refused {
    let name = bad.pointer.split('/').nth(1).unwrap_or_default();
    let name = if BALLAST.contains(&name) { name } else { "id" };
    Refused::parameter(name, format!("{}.", bad.text))
}

/// The limits by which readings on a model are judged; with `quantity` those alone.
///
/// # Errors
/// There is no such model for the asker.
pub fn limits(asked: &Asked<'_>, name: &str) -> Result<ModelLimits, Refused> {
    let model = asked.model(name)?;
    let mut answer =
        model_limits(asked.fleet, model).ok_or_else(|| Refused::not_found(Noun::Models, name))?;
    answer.limits.retain(|held| asked.parameter("quantity").is_none_or(|wanted| wanted == held.quantity));
    Ok(answer)
}

/// A model against a contest class.
///
/// # Errors
/// There is no such model for the asker, or no such class.
pub fn class_check(asked: &Asked<'_>, name: &str) -> Result<ClassCheck, Refused> {
    let model = asked.model(name)?;
    let class = class_asked_for(asked, model)?;
    answers::class_check(asked.fleet, model, class, asked.moment.as_of)
        .ok_or_else(|| Refused::not_found(Noun::Models, name))
}

/// The class that the parameter names, or the one that the design of the model is built for.
///
/// # Errors
/// There is no such class, or none is known.
pub fn class_asked_for<'a>(asked: &Asked<'a>, model: ModelId) -> Result<&'a ClassProfile, Refused> {
    let fleet = asked.fleet;
    let unknown = |text: &str| {
        Refused::parameter(
            "class",
            format!("There is no class `{text}`. There are: {}, and the club's own.", tags()),
        )
    };
    let tag: Tag = match asked.parameter("class") {
        Some(text) => text.parse().map_err(|_bad_text: crate::text::BadText| unknown(text))?,
        None => fleet
            .design_of(model)
            .and_then(|design| design.class_use.clone())
            .ok_or_else(|| Refused::parameter("class", "The design names no class: say which."))?,
    };
    of_tag(fleet, &tag).ok_or_else(|| unknown(tag.as_str()))
}

/// What stands against a model until the last round of a contest, or until so many flights are flown by a day.
///
/// # Errors
/// There is no such model or contest for the asker, or a parameter does not fit.
pub fn readiness(asked: &Asked<'_>, name: &str) -> Result<ModelReadiness, Refused> {
    let model = asked.model(name)?;
    let fleet = asked.fleet;
    let contest =
        asked.item("contest", Noun::Contests)?.and_then(|contest| fleet.contest(ContestId(contest)));
    let ahead = match contest {
        Some(_) if asked.parameter("flights").or(asked.parameter("until_on")).is_some() => {
            return Err(Refused::parameter("contest", "Give a contest, or flights and a day, not both."));
        }
        Some(contest) => Ahead::of_contest(fleet, &contest.fact),
        None => by_hand(asked)?,
    };
    // Asked without a pilot it is asked for the owner.
    let owner = fleet.model_data(model).and_then(|data| data.owner);
    let pilot =
        if asked.parameter("pilot").is_some() { asked.moment.pilot } else { owner.or(asked.moment.pilot) };
    let moment = Moment { pilot, ..asked.moment };
    model_readiness(fleet, model, &ahead, &[], moment).ok_or_else(|| Refused::not_found(Noun::Models, name))
}

fn by_hand(asked: &Asked<'_>) -> Result<Ahead<'static>, Refused> {
    let flights = match asked.parameter("flights") {
        None => 0,
        Some(text) => text.parse().ok().filter(|flights| *flights <= MOST_FLIGHTS).ok_or_else(|| {
            Refused::parameter(
                "flights",
                format!("`{text}` is not a number of flights from 0 to {MOST_FLIGHTS}."),
            )
        })?,
    };
    let until_on = match asked.parameter("until_on") {
        None => asked.moment.on,
        Some(text) => text.parse().map_err(|_not_a_day: chrono::ParseError| {
            Refused::parameter("until_on", format!("`{text}` is not a day such as 2026-05-31."))
        })?,
    };
    if until_on < asked.moment.on {
        return Err(Refused::parameter("until_on", format!("{until_on} lies before {}.", asked.moment.on)));
    }
    Ok(Ahead::of_flights(flights, until_on))
}
