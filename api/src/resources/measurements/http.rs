//! Routes of measurements. A reading can be tried out first.

use actix_web::{HttpResponse, post};
use preen_domain::answers::{ReadingTried, reading_tried};
use preen_domain::facts::{Fact, Measurement, Noun, Recorded};
use serde::Serialize;
use utoipa::ToSchema;

use crate::access::actor::Writer;
use crate::access::sight::sight_of;
use crate::problem::Problem;
use crate::resources::body::{Body, is_preview, parse_fact, resolve};
use crate::resources::entry::{add, tried_out};
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::Shared;

reading_routes! {
    Measurement, "measurements",
    list_measurements "/measurements" "Lists measurements.",
    find_measurement "/measurements/{id}" "Finds a measurement by id or tag."
}

changing_route! {
    correct Measurement, "measurements",
    correct_measurement "/measurements/{id}/correction" "Corrects a measurement, or says that it never was."
}

/// What recording a reading answers: what it would say, or what is on record.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[serde(untagged)]
pub enum ReadingAnswered {
    /// A preview.
    Preview(Box<ReadingTried>),
    /// As it stands in the record.
    Stored(Box<Recorded<Measurement>>),
}

/// Records a reading, or says beforehand what it would mean.
///
/// Fields that point at other items take an id or, where the item has one, its tag.
#[utoipa::path(
    tag = "measurements",
    params(("preview" = Option<bool>, Query, description = "Only say what it would mean; nothing is recorded.")),
    request_body = Measurement,
    responses(
        (status = 201, description = "Recorded.", body = Recorded<Measurement>,
            headers(("ETag" = String, description = "Validator of this item."))),
        (status = 200, description = "A preview, or the same was recorded before and this is what is stored.",
            body = ReadingAnswered),
    )
)]
#[post("/measurements")]
pub async fn record_measurement(
    state: Shared,
    actor: Writer,
    query: Pairs,
    body: Body,
) -> Result<HttpResponse, Problem> {
    let mut body = body.read().await?;
    if !is_preview(&query)? {
        return add::<Measurement>(&state, &actor.0, "record_measurement", body).await;
    }
    let held = actor.0.fleet(&state).await?;
    resolve(Noun::Measurements, "", &mut body, &sight_of(&actor.0, &held, state.now()))?;
    let reading: Measurement = parse_fact("", body)?;
    let now = state.now();
    let with = tried_out(&held.fleet, &actor.0, &Fact::from(reading.clone()), now)?;
    let tried = reading_tried(&held.fleet, &with, &reading, now);
    Ok(HttpResponse::Ok().json(ReadingAnswered::Preview(Box::new(tried))))
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config
        .service(list_measurements)
        .service(record_measurement)
        .service(correct_measurement)
        .service(find_measurement);
}
