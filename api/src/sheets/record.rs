//! The record sheet of one model, for a buyer or for whoever takes it over: every part with its own life, what is
//! open, what was measured, weighed and repaired. It names no member but the owner's code: who did what is the
//! club's own business.

use actix_web::{HttpRequest, HttpResponse, get, web};
use preen_domain::answers::{
    TrendQuestion, balance, component_trend, component_usage, due_of_model, may_fly_one, model_usage,
    open_defects_of_model,
};
use preen_domain::facts::Noun;
use preen_domain::fleet::{Fitted, Fleet};
use preen_domain::ids::{ModelId, RepairId};
use preen_domain::time::Instant;

use super::discreet::leave_out_members;
use super::press::Template;
use super::sheet::{Cell, Sheet, narrow, number, wide};
use super::{PAPER, answer, blank};
use crate::access::actor::Reader;
use crate::answers::ask::Ask;
use crate::problem::Problem;
use crate::resources::entry::not_found;
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::Shared;
use crate::told::{day, fixed, moment, short};

/// Readings of a series that are printed; the newest ones.
const READINGS: usize = 12;

/// Prints the record of one model for a buyer: its parts with their own life, defects, readings, weighings, repairs.
#[utoipa::path(
    tag = "sheets",
    params(("id" = String, Path, description = "Id or tag of the model.")),
    responses((status = 200, description = "The sheet.", content_type = "application/pdf", body = Vec<u8>))
)]
#[get("/models/{id}/record.pdf")]
pub async fn print_record(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    id: web::Path<String>,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::with(&state, &actor.0, &request, query, &[PAPER]).await?;
    let model = ask.model(&id)?;
    let tag = ask.held.fleet.model_tag(model);
    let sheet = compose(&ask, model)?.ok_or_else(|| not_found(Noun::Models, &id))?;
    answer(&ask, Template::Sheet, sheet, &format!("record-{tag}.pdf")).await
}

fn compose(ask: &Ask, model: ModelId) -> Result<Option<Sheet>, Problem> {
    let fleet = &ask.held.fleet;
    let at = ask.moment.as_of;
    let (Some(data), Some(design)) = (fleet.model_data(model), fleet.design_of(model)) else {
        return Ok(None);
    };
    let Some(verdict) = may_fly_one(fleet, model, ask.moment) else { return Ok(None) };
    let zone = fleet.club().zone;
    let used = model_usage(fleet, model, at);
    let mut sheet = blank(ask, format!("Record of {}", data.tag), format!("design {}", design.tag))?;
    let owner = data.owner.map_or_else(|| "the club".to_owned(), |owner| fleet.member_tag(owner));
    sheet.facts(
        2,
        [
            ("tag", data.tag.to_string()),
            ("owner", owner),
            ("design", design.tag.to_string()),
            ("first flight", data.first_flight_on.to_string()),
            ("span", format!("{} m", fixed(design.span_m, 3))),
            ("area, wing and tail", format!("{} dm²", fixed(design.wing_area_dm2 + design.tail_area_dm2, 2))),
            ("flights", used.flights.to_string()),
            ("launches", used.launches.to_string()),
            ("in the air", format!("{} h", fixed(used.airtime_h, 1))),
            ("motor", format!("{} s", used.motor_s)),
            ("rigged", format!("{} times", used.riggings)),
            ("state on that day", verdict.state.as_str().replace('_', " ")),
        ],
    );
    if let Some(held) = balance(fleet, model, at) {
        let weighed = held
            .weighed_at
            .map_or_else(|| "never weighed: from the list of parts".to_owned(), |at| moment(at, zone));
        sheet.heading("Mass and balance");
        sheet.facts(
            2,
            [
                ("mass", format!("{} g", fixed(held.mass_g, 1))),
                ("centre of gravity", format!("{} mm behind the datum", fixed(held.x_mm, 2))),
                ("allowed", format!("{} to {} mm", short(held.range.min_mm), short(held.range.max_mm))),
                ("last weighed", weighed),
                ("datum", design.datum.to_string()),
            ],
        );
    }
    sheet.heading("What stands against it or is worth watching");
    sheet.findings(&verdict.reasons, "Nothing on record.");
    checks(&mut sheet, ask, model);
    let fitted = fleet.fitted(model, at);
    parts(&mut sheet, fleet, &fitted, at);
    defects(&mut sheet, ask, model);
    series(&mut sheet, fleet, &fitted, at);
    weighings(&mut sheet, fleet, model, at);
    repairs(&mut sheet, fleet, model, &fitted, at);
    sheet.caution(
        "What is not written here was not looked at or not entered. Weigh the model, measure and look for yourself before \
         the first flight; life before the record began is as stated by whoever entered it.",
    );
    leave_out_members(&mut sheet, fleet, data.owner);
    Ok(Some(sheet))
}

fn checks(sheet: &mut Sheet, ask: &Ask, model: ModelId) {
    sheet.heading("Checks");
    let rows = due_of_model(&ask.held.fleet, model, ask.moment)
        .into_iter()
        .filter(|item| item.done_on.is_some() || item.due_at_count.is_some() || item.due_on.is_some())
        .map(|item| {
            let due = match (item.due_at_count, item.due_on) {
                (Some(count), Some(on)) => format!("at {count} or on {on}"),
                (Some(count), None) => format!("at {count}"),
                (None, Some(on)) => format!("on {on}"),
                (None, None) => String::new(),
            };
            vec![
                Cell::from(item.group),
                item.name.into(),
                item.done_on.map_or_else(|| "not on record".to_owned(), |on| on.to_string()).into(),
                due.into(),
                item.state.as_str().replace('_', " ").into(),
            ]
        })
        .collect();
    sheet.table(
        vec![narrow("check"), wide("what it is", 1.0), narrow("last done"), narrow("due"), narrow("state")],
        rows,
        "No check is on record.",
    );
}

fn parts(sheet: &mut Sheet, fleet: &Fleet, fitted: &[Fitted<'_>], at: Instant) {
    let zone = fleet.club().zone;
    sheet.heading("Parts fitted, each with its own life in all models");
    let rows = fitted
        .iter()
        .map(|one| {
            let used = component_usage(fleet, one.id, at);
            let data = fleet.component_data(one.id);
            let before = used.opening.map_or_else(String::new, |opening| {
                format!("{}{} before", if opening.is_estimate { "about " } else { "" }, opening.flights)
            });
            vec![
                Cell::from(one.path.as_str()),
                used.component.clone().into(),
                fleet.part_of(one.id).map_or_else(String::new, |part| part.tag.to_string()).into(),
                data.and_then(|data| data.batch.as_ref())
                    .map_or_else(String::new, ToString::to_string)
                    .into(),
                day(one.in_model_since, zone).into(),
                used.flights.to_string().into(),
                fixed(used.airtime_h, 1).into(),
                used.riggings.to_string().into(),
                before.into(),
            ]
        })
        .collect();
    sheet.table(
        vec![
            wide("position", 1.2),
            narrow("part"),
            narrow("type"),
            narrow("batch"),
            narrow("here since"),
            number("flights"),
            number("hours"),
            number("rigged"),
            wide("not counted", 0.8),
        ],
        rows,
        "No part is fitted.",
    );
}

fn defects(sheet: &mut Sheet, ask: &Ask, model: ModelId) {
    let fleet = &ask.held.fleet;
    let zone = fleet.club().zone;
    sheet.heading("Open defects");
    let rows = open_defects_of_model(fleet, model, ask.moment)
        .into_iter()
        .map(|one| {
            vec![
                Cell::from(one.defect),
                one.subject.into(),
                day(one.found_at, zone).into(),
                one.severity.map_or("", preen_domain::words::Severity::as_str).into(),
                one.text.into(),
                one.clear_by.into(),
            ]
        })
        .collect();
    sheet.table(
        vec![
            narrow("defect"),
            narrow("on"),
            narrow("found"),
            narrow("class"),
            wide("what", 1.5),
            wide("what clears it", 1.0),
        ],
        rows,
        "None on record.",
    );
}

fn series(sheet: &mut Sheet, fleet: &Fleet, fitted: &[Fitted<'_>], at: Instant) {
    let zone = fleet.club().zone;
    sheet.heading("Readings");
    let mut rows = Vec::new();
    for one in fitted {
        for line in component_trend(fleet, one.id, &TrendQuestion::default(), at).series {
            let left_out = line.readings.len().saturating_sub(READINGS);
            let mut said: Vec<String> = line
                .readings
                .iter()
                .skip(left_out)
                .map(|reading| format!("{} {}", day(reading.at, zone), short(reading.value)))
                .collect();
            if left_out > 0 {
                said.insert(0, format!("({left_out} older)"));
            }
            rows.push(vec![
                Cell::from(fleet.component_tag(one.id)),
                line.quantity.replace('_', " ").into(),
                line.unit.into(),
                said.join(" · ").into(),
                line.restarts.join("; ").into(),
            ]);
        }
    }
    sheet.table(
        vec![
            narrow("part"),
            wide("quantity", 0.8),
            narrow("unit"),
            wide("day and reading", 2.5),
            wide("started anew by", 0.9),
        ],
        rows,
        "None on record.",
    );
}

fn weighings(sheet: &mut Sheet, fleet: &Fleet, model: ModelId, at: Instant) {
    let zone = fleet.club().zone;
    sheet.heading("Weighings");
    let rows = fleet
        .model(model)
        .into_iter()
        .flat_map(|file| file.weighings.until(at))
        .map(|weighing| {
            let fact = &weighing.fact;
            vec![
                Cell::from(day(fact.occurred_at, zone)),
                fixed(fact.mass_g, 1).into(),
                fixed(fact.x_mm, 2).into(),
                fixed(fact.u_x_mm, 2).into(),
                fact.configuration.as_ref().map_or_else(String::new, ToString::to_string).into(),
            ]
        })
        .collect();
    sheet.table(
        vec![
            narrow("day"),
            number("mass, g"),
            number("CG, mm"),
            number("± (1 σ), mm"),
            wide("configuration", 1.0),
        ],
        rows,
        "None on record.",
    );
}

fn repairs(sheet: &mut Sheet, fleet: &Fleet, model: ModelId, fitted: &[Fitted<'_>], at: Instant) {
    let zone = fleet.club().zone;
    let on_model = fleet.model(model).into_iter().flat_map(|file| file.repairs.iter());
    let on_parts =
        fitted.iter().filter_map(|one| fleet.component(one.id)).flat_map(|file| file.repairs.iter());
    let mut ids: Vec<RepairId> = on_model.chain(on_parts).copied().collect();
    ids.sort_unstable();
    ids.dedup();
    let mut done: Vec<_> = ids
        .into_iter()
        .filter_map(|id| fleet.repair(id))
        .filter_map(|file| file.repair.as_ref().map(|repair| (file, &repair.fact)))
        .filter(|(_, fact)| fact.occurred_at <= at)
        .collect();
    done.sort_by_key(|(_, fact)| fact.occurred_at);
    sheet.heading("Repairs");
    let rows = done
        .into_iter()
        .map(|(file, fact)| {
            vec![
                Cell::from(fact.name()),
                day(fact.occurred_at, zone).into(),
                fact.kind.as_str().into(),
                fact.text.to_string().into(),
                if file.is_released_at(at) { "released" } else { "not released" }.into(),
            ]
        })
        .collect();
    sheet.table(
        vec![narrow("repair"), narrow("day"), narrow("kind"), wide("what was done", 1.0), narrow("")],
        rows,
        "None on record.",
    );
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(print_record);
}
