//! Bench calculators: numbers in, numbers out, nothing looked up and nothing recorded.

use actix_web::{HttpResponse, post};
use preen_domain::answers::compute::{
    BadQuestion, BalanceAnswer, BalanceQuestion, WeighingAnswer, WeighingQuestion, compute_balance,
    compute_weighing,
};
use utoipa_actix_web::service_config::ServiceConfig;

use crate::access::actor::Reader;
use crate::problem::Problem;
use crate::resources::body::{Body, parse_fact};

/// Computes mass, centre of gravity and inertia of a list of items, and what changes do to them.
#[utoipa::path(
    tag = "compute",
    request_body = BalanceQuestion,
    responses((status = 200, description = "Computed.", body = BalanceAnswer))
)]
#[post("/compute/balance")]
pub async fn balance_items(_actor: Reader, body: Body) -> Result<HttpResponse, Problem> {
    let question: BalanceQuestion = parse_fact("", body.read().await?)?;
    let answer = compute_balance(&question).map_err(refuse)?;
    Ok(HttpResponse::Ok().json(answer))
}

/// Computes mass and centre of gravity from the readings of scales under supports, with their uncertainty.
#[utoipa::path(
    tag = "compute",
    request_body = WeighingQuestion,
    responses((status = 200, description = "Computed.", body = WeighingAnswer))
)]
#[post("/compute/weighing")]
pub async fn weigh_supports(_actor: Reader, body: Body) -> Result<HttpResponse, Problem> {
    let question: WeighingQuestion = parse_fact("", body.read().await?)?;
    let answer = compute_weighing(&question).map_err(refuse)?;
    Ok(HttpResponse::Ok().json(answer))
}

fn refuse(bad: BadQuestion) -> Problem {
    Problem::field(bad.pointer, bad.text)
}

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config.service(balance_items).service(weigh_supports);
}
