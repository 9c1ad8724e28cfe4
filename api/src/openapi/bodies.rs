//! Bodies of requests whose path says part of them already: a new version of an item, the correction of a fact, and the
//! deferral of a defect.
//! What the path says may be left out, so that these bodies are shapes of their own.

use utoipa::openapi::path::Operation;
use utoipa::openapi::schema::{AdditionalProperties, OneOfBuilder};
use utoipa::openapi::{ObjectBuilder, OpenApi, Ref, RefOr, Schema, Type, schema::Object};

/// Where shapes have their names.
const NAMED: &str = "#/components/schemas/";

/// Describes these bodies as they may be sent.
pub fn leave_out_what_the_path_says(api: &mut OpenApi) {
    let mut made: Vec<(String, Object)> = Vec::new();
    let schemas = api.components.get_or_insert_default().schemas.clone();
    let object = |name: &str| match schemas.get(name) {
        Some(RefOr::T(Schema::Object(object))) => Some(object.clone()),
        _ => None,
    };
    // The shape of a noun's facts is what is posted to it.
    let of_noun = |noun: &str, paths: &utoipa::openapi::Paths| {
        paths.paths.get(&format!("/api/v1/{noun}")).and_then(|item| body_of(item.post.as_ref()?))
    };
    let known = api.paths.clone();
    for (path, item) in &mut api.paths.paths {
        let Some((noun, rest)) = path.strip_prefix("/api/v1/").and_then(|path| path.split_once('/')) else {
            continue;
        };
        let Some(name) = of_noun(noun, &known) else { continue };
        let Some(shape) = object(&name) else { continue };
        let version = format!("{name}_version");
        match (rest, &mut item.put, &mut item.post) {
            ("{id}", Some(operation), _) => {
                send(operation, &version);
                made.push((version, without_id(shape)));
            }
            ("{id}/correction", _, Some(operation)) => {
                let Some(correction) = object("Correction") else { continue };
                let corrected = format!("{name}_correction");
                send(operation, &corrected);
                made.push((corrected, correction_of(correction, noun, &version)));
                made.push((version, without_id(shape)));
            }
            ("{id}/deferral", _, Some(operation)) => {
                let Some(mut deferral) = object("Deferral") else { continue };
                deferral.required.retain(|field| field != "defect");
                let name = "Deferral_of_defect".to_owned();
                send(operation, &name);
                made.push((name, deferral));
            }
            _ => {}
        }
    }
    let all = &mut api.components.get_or_insert_default().schemas;
    all.extend(made.into_iter().map(|(name, object)| (name, RefOr::T(Schema::Object(object)))));
}

/// The name of the shape that is sent.
fn body_of(operation: &Operation) -> Option<String> {
    let Some(RefOr::T(body)) = &operation.request_body else { return None };
    let Some(RefOr::T(content)) = body.content.get("application/json") else { return None };
    match content.schema.as_ref()? {
        RefOr::Ref(named) => named.ref_location.strip_prefix(NAMED).map(ToOwned::to_owned),
        RefOr::T(_) => None,
    }
}

fn send(operation: &mut Operation, name: &str) {
    if let Some(RefOr::T(body)) = &mut operation.request_body
        && let Some(RefOr::T(content)) = body.content.get_mut("application/json")
    {
        content.schema = Some(RefOr::Ref(Ref::from_schema_name(name)));
    }
}

fn without_id(mut shape: Object) -> Object {
    shape.required.retain(|field| field != "id");
    let before = shape.description.take().unwrap_or_default();
    shape.description = Some(format!("{before} The path says the id: it may be left out."));
    shape
}

/// A correction of a noun's facts: `noun` and `original` as the path says them, the corrected fact in its shape.
fn correction_of(mut correction: Object, noun: &str, version: &str) -> Object {
    correction.required.retain(|field| field != "noun" && field != "original");
    let said = ObjectBuilder::new()
        .schema_type(Type::String)
        .enum_values(Some([noun]))
        .description(Some("The noun of the path; it may be left out."));
    correction.properties.insert("noun".to_owned(), said.into());
    let corrected = OneOfBuilder::new()
        .item(Ref::from_schema_name(version))
        .item(ObjectBuilder::new().schema_type(Type::Null))
        .description(Some("The whole corrected fact; left out if the original never happened."));
    correction.properties.insert("fact".to_owned(), corrected.into());
    correction.additional_properties = Some(Box::new(AdditionalProperties::FreeForm(false)));
    correction
}
