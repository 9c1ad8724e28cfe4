//! Labels for models and parts: a square code (ISO/IEC 18004) that leads to their page, and the tag to be read by eye.

use actix_web::{HttpRequest, HttpResponse, get};
use preen_domain::facts::Noun;
use preen_domain::ids::{ComponentId, ModelId};
use qrcode::render::svg;
use qrcode::{EcLevel, QrCode};
use serde::Serialize;

use super::press::Template;
use super::sheet::Paper;
use super::{PAPER, answer, paper};
use crate::access::actor::Reader;
use crate::answers::ask::Ask;
use crate::problem::Problem;
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::Shared;

/// The most labels of one answer.
const MOST: usize = 1000;

/// A sheet of labels.
#[derive(Debug, Serialize)]
struct Labels {
    club: String,
    title: &'static str,
    paper: Paper,
    columns: u32,
    height_mm: u32,
    tag_pt: u32,
    has_words: bool,
    labels: Vec<Label>,
}

#[derive(Debug, Serialize)]
struct Label {
    tag: String,
    words: String,
    code: String,
    says: String,
}

/// Prints labels with a square code and the tag, on a grid to cut out.
#[utoipa::path(
    tag = "sheets",
    params(
        ("models" = Option<String>, Query, description = "Ids or tags of models, with commas between. Nothing named at \
            all: every model."),
        ("components" = Option<String>, Query, description = "Ids or tags of parts, with commas between."),
        ("fitted_to" = Option<String>, Query, description = "Every part that is fitted to this model."),
        ("size" = Option<String>, Query, pattern = "^(large|small)$", description = "`large` (the default) or `small`, for parts."),
        ("address" = Option<String>, Query, pattern = "^https?://[A-Za-z0-9.:-]{1,120}$", description = "What the codes lead to: the address under which members reach \
            this service, such as https://fleet.example. Without it, the address of this request.")
    ),
    responses((status = 200, description = "The labels.", content_type = "application/pdf", body = Vec<u8>))
)]
#[get("/labels.pdf")]
pub async fn print_labels(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let known = ["models", "components", "fitted_to", "size", "address", PAPER];
    let ask = Ask::with(&state, &actor.0, &request, query, &known).await?;
    let address = match ask.parameter("address") {
        Some(address) => read_address(address)?,
        None => {
            let info = request.connection_info();
            format!("{}://{}", info.scheme(), info.host())
        }
    };
    let (columns, height_mm, tag_pt, has_words) = match ask.parameter("size") {
        None | Some("large") => (3, 30, 13, true),
        Some("small") => (4, 18, 8, false),
        Some(other) => {
            return Err(Problem::bad_parameter(
                "size",
                format!("There is no size `{other}`: large or small."),
            ));
        }
    };
    let labels = Labels {
        club: ask.held.fleet.club().title.clone(),
        title: "Labels",
        paper: paper(&ask)?,
        columns,
        height_mm,
        tag_pt,
        has_words,
        labels: collect(&ask, &address)?,
    };
    answer(&ask, Template::Labels, labels, "labels.pdf").await
}

/// An address that a code can lead to: its scheme and host, without a path.
fn read_address(address: &str) -> Result<String, Problem> {
    let bad = || {
        Problem::bad_parameter(
            "address",
            "Give the address under which members reach this service, such as https://fleet.example."
                .to_owned(),
        )
    };
    let address = address.trim_end_matches('/');
    let (scheme, host) = address.split_once("://").ok_or_else(bad)?;
    let is_host = |one: char| one.is_ascii_alphanumeric() || matches!(one, '.' | '-' | ':' | '[' | ']');
    let is_good = matches!(scheme, "http" | "https")
        && !host.is_empty()
        && host.len() <= 120
        && host.chars().all(is_host);
    if is_good { Ok(address.to_owned()) } else { Err(bad()) }
}

fn collect(ask: &Ask, address: &str) -> Result<Vec<Label>, Problem> {
    let fleet = &ask.held.fleet;
    let mut wanted: Vec<(Noun, String, String)> = Vec::new();
    let model = |id: ModelId| {
        let words = fleet.design_of(id).map_or_else(String::new, |design| design.tag.to_string());
        (Noun::Models, fleet.model_tag(id), words)
    };
    let component = |id: ComponentId| {
        let part = fleet.part_of(id).map_or_else(String::new, |part| part.tag.to_string());
        let batch = fleet.component_data(id).and_then(|data| data.batch.as_ref());
        let words = batch.map_or_else(|| part.clone(), |batch| format!("{part} batch {batch}"));
        (Noun::Components, fleet.component_tag(id), words)
    };
    for id in ask.models()?.unwrap_or_default() {
        wanted.push(model(id));
    }
    for id in ask.items("components", Noun::Components)?.unwrap_or_default() {
        wanted.push(component(ComponentId(id)));
    }
    for id in ask.items("fitted_to", Noun::Models)?.unwrap_or_default() {
        let fitted = fleet.fitted(ModelId(id), ask.moment.as_of);
        wanted.extend(fitted.iter().map(|one| component(one.id)));
    }
    if ["models", "components", "fitted_to"].iter().all(|name| ask.parameter(name).is_none()) {
        let mut all: Vec<ModelId> =
            fleet.models().map(|(id, _)| id).filter(|id| ask.sees_model(*id)).collect();
        all.sort_by_key(|id| fleet.model_tag(*id));
        wanted.extend(all.into_iter().map(model));
    }
    if wanted.len() > MOST {
        return Err(Problem::bad_parameter(
            "components",
            format!("{} labels are too many for one file: ask for {MOST} at most.", wanted.len()),
        ));
    }
    wanted.into_iter().map(|(noun, tag, words)| label(address, noun, tag, words)).collect()
}

fn label(address: &str, noun: Noun, tag: String, words: String) -> Result<Label, Problem> {
    let says = format!("{address}/{noun}/{tag}");
    let code = QrCode::with_error_correction_level(says.as_bytes(), EcLevel::M)
        .map_err(|fault| Problem::Internal(format!("no code for {says}: {fault}")))?;
    let code = code.render::<svg::Color<'_>>().quiet_zone(true).min_dimensions(100, 100).build();
    Ok(Label { tag, words, code, says })
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(print_labels);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_is_a_scheme_and_a_host() {
        for good in
            ["https://fleet.example", "http://127.0.0.1:8080", "http://[::1]:8080", "https://fleet.example/"]
        {
            assert_eq!(read_address(good).unwrap(), good.trim_end_matches('/'));
        }
        for bad in [
            "fleet.example",
            "ftp://fleet.example",
            "https://",
            "https://fleet.example/a",
            "javascript://a b",
        ] {
            assert!(read_address(bad).is_err(), "{bad}");
        }
    }
}
