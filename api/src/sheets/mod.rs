//! Paper: answers set in type, for the flight line, the bench, scrutineers and buyers. One file a sheet.
//!
//! A sheet says what the answers say, in the same words; it decides nothing. Here is what all sheets have in common:
//! the paper asked for, the footer, and the way into the press.

mod campaign;
mod check;
mod discreet;
mod field_card;
mod labels;
mod press;
mod readiness;
mod record;
mod repair;
mod scrutineering;
mod sheet;

use actix_web::HttpResponse;
use actix_web::http::header;
use preen_domain::time::Instant;

use self::press::Template;
use self::sheet::{Paper, Sheet};
use crate::answers::ask::Ask;
use crate::desk::PRESS;
use crate::problem::Problem;
use crate::routes::Routes;
use crate::told::moment;

/// What every printed page says about itself.
const WHAT_IT_IS: &str = "A club record as of the moment above: it makes no model legal or safe to fly. The pilot decides \
                          and is responsible, every flight.";

/// The parameter that every sheet knows.
const PAPER: &str = "paper";

/// The paper asked for.
fn paper(ask: &Ask) -> Result<Paper, Problem> {
    ask.parameter(PAPER).map_or(Ok(Paper::A4), |word| {
        Paper::parse(word).ok_or_else(|| {
            Problem::bad_parameter(PAPER, format!("There is no paper `{word}`: a4 or letter."))
        })
    })
}

/// A sheet with its head and footer and nothing on it yet.
fn blank(ask: &Ask, title: impl Into<String>, subtitle: impl Into<String>) -> Result<Sheet, Problem> {
    let fleet = &ask.held.fleet;
    let club = fleet.club();
    let as_of = moment(ask.moment.as_of, club.zone);
    let newest = fleet.newest_at().map_or_else(|| "none".to_owned(), |at: Instant| moment(at, club.zone));
    Ok(Sheet {
        club: club.title.clone(),
        title: title.into(),
        subtitle: Some(subtitle.into()),
        footer: format!(
            "As of {as_of} · revision {} · newest entry used {newest}. {WHAT_IT_IS}",
            fleet.revision()
        ),
        page_word: "page",
        paper: paper(ask)?,
        is_wide: false,
        code: None,
        code_says: None,
        blocks: Vec::new(),
    })
}

/// Prints in the background and answers with the file.
///
/// A sheet that the asker has already is not printed again.
async fn answer(
    ask: &Ask,
    template: Template,
    sheet: impl serde::Serialize + Send + 'static,
    file_name: &str,
) -> Result<HttpResponse, Problem> {
    let etag = ask.validator();
    if let Some(unchanged) = ask.unchanged(&etag) {
        return Ok(unchanged);
    }
    let printed = PRESS.compute(move || press::print(template, &sheet)).await?;
    let pdf = printed.map_err(|fault| Problem::Internal(fault.to_string()))?;
    let name: String = file_name
        .chars()
        .map(|one| if one.is_ascii_alphanumeric() || one == '.' { one } else { '-' })
        .collect();
    Ok(HttpResponse::Ok()
        .content_type("application/pdf")
        .insert_header((header::CONTENT_DISPOSITION, format!("inline; filename=\"{name}\"")))
        .insert_header((header::ETAG, etag))
        .insert_header((header::CACHE_CONTROL, "private, no-cache"))
        .insert_header((header::VARY, "Authorization, Cookie"))
        .body(pdf))
}

/// The routes of all sheets.
pub fn routes(config: &mut Routes<'_, '_>) {
    record::routes(config);
    field_card::routes(config);
    check::routes(config);
    campaign::routes(config);
    repair::routes(config);
    labels::routes(config);
    scrutineering::routes(config);
    readiness::routes(config);
}
