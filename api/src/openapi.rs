//! The description of the interface (OpenAPI 3.1), gathered from the handlers themselves.
//!
//! What all operations have in common is added here: access by bearer token and the problems each may answer; and
//! in the files below what a shape alone cannot say: [`parameters`] of lists and questions, [`bodies`] whose path
//! says part of them, [`shapes`] that are written around others.

mod bodies;
mod parameters;
mod shapes;

use std::sync::OnceLock;

use utoipa::openapi::path::Operation;
use utoipa::openapi::security::{
    ApiKey, ApiKeyValue, HttpAuthScheme, HttpBuilder, SecurityRequirement, SecurityScheme,
};
use utoipa::openapi::{
    ContentBuilder, InfoBuilder, LicenseBuilder, OpenApi, OpenApiBuilder, PathItem, Ref, RefOr,
    ResponseBuilder,
};
use utoipa::{PartialSchema, ToSchema};
use utoipa_actix_web::AppExt;

use crate::access::sessions;
use crate::problem::{FieldError, ProblemBody};
use crate::resources::nouns;
use crate::server;

/// The whole description.
pub fn describe() -> OpenApi {
    let (_, gathered) = actix_web::App::new()
        .into_utoipa_app()
        .openapi(empty())
        .configure(server::documented)
        .split_for_parts();
    finish(gathered)
}

/// The description as it is served and checked in: pretty JSON, a line break at the end. Made once.
pub fn describe_as_json() -> &'static str {
    static JSON: OnceLock<String> = OnceLock::new();
    JSON.get_or_init(|| {
        let json = describe().to_pretty_json().unwrap_or_else(|error| format!("{{\"error\": \"{error}\"}}"));
        json + "\n"
    })
}

/// Methods and path templates of everything described. Made once.
pub fn templates() -> &'static [(String, String)] {
    static TEMPLATES: OnceLock<Vec<(String, String)>> = OnceLock::new();
    TEMPLATES.get_or_init(|| {
        let mut list = Vec::new();
        for (path, item) in &mut describe().paths.paths {
            for (method, _) in operations(item) {
                list.push((method.to_uppercase(), path.clone()));
            }
        }
        list
    })
}

fn empty() -> OpenApi {
    OpenApiBuilder::new()
        .info(
            InfoBuilder::new()
                .title("Preen")
                .version(env!("CARGO_PKG_VERSION"))
                .description(Some(
                    "Fleet and maintenance records of a club that flies moulded competition model gliders. \
                     Club practice; grants nothing under any aviation law.",
                ))
                .license(Some(
                    LicenseBuilder::new()
                        .name("MIT OR Apache-2.0")
                        .identifier(Some("MIT OR Apache-2.0"))
                        .build(),
                ))
                .build(),
        )
        .build()
}

fn finish(mut api: OpenApi) -> OpenApi {
    let components = api.components.get_or_insert_default();
    components.security_schemes.insert(
        "token".to_owned(),
        RefOr::T(SecurityScheme::Http(
            HttpBuilder::new().scheme(HttpAuthScheme::Bearer).bearer_format("preen_<club>_<secret>").build(),
        )),
    );
    components.security_schemes.insert(
        "session".to_owned(),
        RefOr::T(SecurityScheme::ApiKey(ApiKey::Cookie(ApiKeyValue::with_description(
            sessions::COOKIE,
            "The cookie that POST /api/v1/session sets. Requests that change anything also need the header \
             X-CSRF-Token with the `csrf_token` of GET /api/v1/session, and must come from a page of the service.",
        )))),
    );
    components.schemas.insert(ProblemBody::name().into_owned(), ProblemBody::schema());
    components.schemas.insert(FieldError::name().into_owned(), FieldError::schema());
    for schema in components.schemas.values_mut() {
        shapes::join_parts(schema);
        shapes::cut_examples(schema);
        shapes::widen_counts(schema);
        shapes::close_choices(schema);
    }
    bodies::leave_out_what_the_path_says(&mut api);
    let lists = nouns::list_parameters();
    for (path, item) in &mut api.paths.paths {
        let noun = path.strip_prefix("/api/v1/").unwrap_or_default().to_owned();
        for (method, operation) in operations(item) {
            let is_open = operation.security.is_some();
            if !is_open {
                let requirement = SecurityRequirement::new::<&str, [&str; 0], &str>;
                operation.security = Some(vec![requirement("token", []), requirement("session", [])]);
            }
            add_problems(operation, method, path, is_open);
            if method == "get" && !is_open {
                parameters::of_read(operation);
            }
            if method == "get"
                && let Some((_, known)) = lists.iter().find(|(of, _)| *of == noun)
            {
                parameters::of_list(operation, known);
            }
            if parameters::is_question(operation) {
                parameters::of_question(operation);
            }
            if parameters::is_sheet(operation) {
                parameters::of_sheet(operation);
            }
        }
    }
    api
}

fn operations(item: &mut PathItem) -> impl Iterator<Item = (&'static str, &mut Operation)> {
    [("get", &mut item.get), ("put", &mut item.put), ("post", &mut item.post), ("delete", &mut item.delete)]
        .into_iter()
        .filter_map(|(method, operation)| operation.as_mut().map(|operation| (method, operation)))
}

fn add_problems(operation: &mut Operation, method: &str, path: &str, is_open: bool) {
    let mut problems =
        vec![("400", "A parameter or the JSON cannot be read."), ("503", "Too busy, or no room left.")];
    if is_open && method == "get" {
        problems.remove(0);
    } else {
        problems.push(("401", "No token and no session, or none that is valid."));
    }
    if !is_open {
        problems.push(("403", "The member or the access may not do this."));
    }
    if path.contains('{') {
        problems.push(("404", "There is no such item, or none that the asker may know of."));
    }
    if method == "post" || method == "put" {
        problems.push(("408", "The body came too slowly."));
        problems.push(("409", "The id or tag is taken, or a rule of the record stands against it."));
        problems.push(("413", "The body is longer than allowed."));
        problems.push(("415", "The body is not sent as JSON, or packed."));
        problems.push(("422", "Fields do not fit; each is named by a JSON pointer."));
    }
    if method == "put" && !path.ends_with("/password") {
        problems.push(("412", "It was changed meanwhile."));
        problems.push(("428", "If-Match is needed."));
    }
    for (status, description) in problems {
        let response = ResponseBuilder::new()
            .description(description)
            .content(
                "application/problem+json",
                ContentBuilder::new().schema(Some(Ref::from_schema_name(ProblemBody::name()))).build(),
            )
            .build();
        operation.responses.responses.entry(status.to_owned()).or_insert(RefOr::T(response));
    }
}
