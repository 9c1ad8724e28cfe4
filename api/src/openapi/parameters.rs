//! Parameters that many operations share: those of every list, and those of every question about the fleet.

use utoipa::openapi::header::HeaderBuilder;
use utoipa::openapi::path::{Operation, Parameter, ParameterBuilder, ParameterIn};
use utoipa::openapi::schema::OneOfBuilder;
use utoipa::openapi::{
    KnownFormat, ObjectBuilder, RefOr, Required, ResponseBuilder, Schema, SchemaFormat, Type,
};

use crate::resources::page::{MOST, USUAL_LIMIT};
use crate::resources::rows::Filter;

/// A row of a page: the key and the id that a cursor is made of.
const CURSOR: &str = "^-?[0-9]{1,18}_[0-9a-fA-F]{8}(-[0-9a-fA-F]{4}){3}-[0-9a-fA-F]{12}$";

fn of_type(kind: Type) -> ObjectBuilder {
    ObjectBuilder::new().schema_type(kind)
}

fn format(known: KnownFormat) -> ObjectBuilder {
    of_type(Type::String).format(Some(SchemaFormat::KnownFormat(known)))
}

/// An id or a tag.
fn name() -> ObjectBuilder {
    of_type(Type::String).min_length(Some(1))
}

/// A moment, or a whole club day.
fn moment() -> Schema {
    Schema::OneOf(
        OneOfBuilder::new().item(format(KnownFormat::DateTime)).item(format(KnownFormat::Date)).build(),
    )
}

fn parameter(name: &str, place: ParameterIn, text: String, schema: impl Into<RefOr<Schema>>) -> Parameter {
    ParameterBuilder::new()
        .name(name)
        .parameter_in(place)
        .required(Required::False)
        .description(Some(text))
        .schema(Some(schema.into()))
        .build()
}

fn add(operation: &mut Operation, parameter: Parameter) {
    let list = operation.parameters.get_or_insert_default();
    // What an operation says of a parameter itself is worth more than what is said of it everywhere.
    let is_there = list.iter().any(|known| match known {
        RefOr::T(known) => known.name == parameter.name,
        RefOr::Ref(_) => false,
    });
    if !is_there {
        list.push(RefOr::T(parameter));
    }
}

/// Adds what a list may be asked: its page, its order, and values of its fields.
pub fn of_list(operation: &mut Operation, known: &[(&'static str, Filter)]) {
    let has_moment = known.iter().any(|(name, _)| *name == "occurred_from");
    let orders: &[&str] = if has_moment {
        &["revision", "-revision", "occurred_at", "-occurred_at"]
    } else {
        &["revision", "-revision"]
    };
    for (field, filter) in known {
        let (schema, text): (Schema, String) = match *field {
            "limit" => (
                of_type(Type::Integer).minimum(Some(1)).maximum(Some(MOST)).into(),
                format!("Items of a page, 1 to {MOST}; {USUAL_LIMIT} if absent."),
            ),
            "cursor" => (
                of_type(Type::String).pattern(Some(CURSOR)).into(),
                "Where the page begins: from the header Link of the page before.".to_owned(),
            ),
            "sort" => (
                of_type(Type::String).enum_values(Some(orders.iter().copied())).into(),
                "What comes first; `-` before it for newest first.".to_owned(),
            ),
            "occurred_from" => {
                (moment(), "Happened at or after this instant, or on or after this club day.".to_owned())
            }
            "occurred_to" => {
                (moment(), "Happened before this instant, or by the end of this club day.".to_owned())
            }
            _ => {
                let schema = match filter {
                    Filter::Flag => of_type(Type::Boolean),
                    Filter::Count => {
                        of_type(Type::Integer).format(Some(SchemaFormat::KnownFormat(KnownFormat::Int64)))
                    }
                    Filter::Text | Filter::None => of_type(Type::String),
                };
                let text = "Only items whose field has this value; where it points at an item, by id or tag.";
                (schema.into(), text.to_owned())
            }
        };
        add(operation, parameter(field, ParameterIn::Query, text, schema));
    }
}

/// Whether an operation answers a question about the fleet: its answer says what it rests on.
pub fn is_question(operation: &Operation) -> bool {
    let Some(RefOr::T(answer)) = operation.responses.responses.get("200") else { return false };
    if is_sheet(operation) || answer.content.contains_key("text/calendar") {
        return true;
    }
    answer.content.values().any(|content| match content {
        RefOr::T(content) => matches!(
            &content.schema,
            Some(RefOr::Ref(named)) if named.ref_location.starts_with("#/components/schemas/Answer_")
        ),
        RefOr::Ref(_) => false,
    })
}

/// Whether an operation prints.
pub fn is_sheet(operation: &Operation) -> bool {
    matches!(operation.responses.responses.get("200"),
        Some(RefOr::T(answer)) if answer.content.contains_key("application/pdf"))
}

/// Adds on what a sheet may be printed.
pub fn of_sheet(operation: &mut Operation) {
    let papers = ObjectBuilder::new().schema_type(Type::String).enum_values(Some(["a4", "letter"]));
    let text = "The paper: `a4` (the default) or `letter`.".to_owned();
    add(operation, parameter("paper", ParameterIn::Query, text, papers));
}

/// Adds what says that a replica answered.
pub fn of_read(operation: &mut Operation) {
    let behind = HeaderBuilder::new()
        .schema(Some(of_type(Type::Integer).minimum(Some(0))))
        .description(Some(
            "Answered by a read replica, which lacks at most what was recorded in the last so many ms.",
        ))
        .build();
    if let Some(RefOr::T(answer)) = operation.responses.responses.get_mut("200") {
        answer.headers.insert("Preen-Behind-Ms".to_owned(), RefOr::T(behind));
    }
}

/// Adds what every question may be asked, and that it answers nothing to who has the answer already.
pub fn of_question(operation: &mut Operation) {
    let said: [(&str, Schema, &str); 4] = [
        (
            "as_of",
            moment(),
            "What had happened by then is counted: an instant, or the end of a club day; now if absent.",
        ),
        (
            "at_revision",
            of_type(Type::Integer).minimum(Some(0)).into(),
            "What was known at this revision of the club; the newest if absent.",
        ),
        ("on", format(KnownFormat::Date).into(), "The club day asked about, not before that of `as_of`."),
        ("pilot", name().into(), "Who wants to fly, by id or tag; the asker if absent."),
    ];
    for (name, schema, text) in said {
        add(operation, parameter(name, ParameterIn::Query, text.to_owned(), schema));
    }
    add(
        operation,
        parameter(
            "If-None-Match",
            ParameterIn::Header,
            "The ETag of the answer at hand.".to_owned(),
            of_type(Type::String),
        ),
    );
    let validator = HeaderBuilder::new()
        .schema(Some(of_type(Type::String)))
        .description(Some("Validator: revision, moment until which it holds, and what the asker may see."))
        .build();
    let unchanged = ResponseBuilder::new()
        .description("The answer at hand still holds.")
        .header("ETag", validator.clone())
        .build();
    operation.responses.responses.insert("304".to_owned(), RefOr::T(unchanged));
    if let Some(RefOr::T(answer)) = operation.responses.responses.get_mut("200") {
        answer.headers.insert("ETag".to_owned(), RefOr::T(validator));
    }
}
