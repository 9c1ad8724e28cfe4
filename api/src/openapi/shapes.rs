//! Shapes as the description shows them: those written as a stamp around another joined to one, counts, and
//! sentences without the examples that are meant for readers of the code.

use utoipa::openapi::schema::{AdditionalProperties, ArrayItems, Object};
use utoipa::openapi::{KnownFormat, ObjectBuilder, RefOr, Schema, SchemaFormat, Type};

/// Makes one object of a shape that is written as a stamp around another, wherever it stands. Left as two, the
/// inner one would forbid the fields of the outer.
pub fn join_parts(schema: &mut RefOr<Schema>) {
    let RefOr::T(inner) = schema else { return };
    match inner {
        Schema::Object(object) => object.properties.values_mut().for_each(join_parts),
        Schema::Array(array) => {
            if let ArrayItems::RefOrSchema(items) = &mut array.items {
                join_parts(items);
            }
        }
        Schema::OneOf(one) => one.items.iter_mut().for_each(join_parts),
        Schema::AnyOf(any) => any.items.iter_mut().for_each(join_parts),
        Schema::AllOf(all) => {
            let mut joined =
                ObjectBuilder::new().schema_type(Type::Object).description(all.description.clone()).build();
            for part in &all.items {
                let RefOr::T(Schema::Object(part)) = part else { return };
                joined.properties.extend(part.properties.clone());
                joined.required.extend(part.required.iter().cloned());
            }
            joined.properties.values_mut().for_each(join_parts);
            *schema = RefOr::T(Schema::Object(joined));
        }
        _ => {}
    }
}

/// Whether a field says which choice it is: the only one, or one that can read in one way only.
fn names_choice(choice: &Object, field: &str) -> bool {
    let is_fixed = match choice.properties.get(field) {
        Some(RefOr::T(Schema::Object(said))) => {
            said.enum_values.as_ref().is_some_and(|values| values.len() == 1)
        }
        _ => false,
    };
    is_fixed || (choice.properties.len() == 1 && choice.required.len() == 1)
}

/// Says of a choice (`{"model": …}`, or `{"shape": "rectangle", …}`) that no other key may stand there.
pub fn close_choices(schema: &mut RefOr<Schema>) {
    let RefOr::T(inner) = schema else { return };
    match inner {
        Schema::Object(object) => object.properties.values_mut().for_each(close_choices),
        Schema::Array(array) => {
            if let ArrayItems::RefOrSchema(items) = &mut array.items {
                close_choices(items);
            }
        }
        Schema::OneOf(one) => {
            for item in &mut one.items {
                if let RefOr::T(Schema::Object(choice)) = item
                    && choice.required.iter().any(|field| names_choice(choice, field))
                {
                    choice.additional_properties = Some(Box::new(AdditionalProperties::FreeForm(false)));
                }
            }
        }
        _ => {}
    }
}

/// Says of whole numbers that are never negative what they hold: twice as much as the format says.
pub fn widen_counts(schema: &mut RefOr<Schema>) {
    let RefOr::T(inner) = schema else { return };
    match inner {
        Schema::Object(object) => {
            object.properties.values_mut().for_each(widen_counts);
            let is_count = object.format == Some(SchemaFormat::KnownFormat(KnownFormat::Int32))
                && object.minimum.is_some()
                && object.maximum.is_none();
            if is_count {
                object.format = None;
                object.maximum = Some(u32::MAX.into());
            }
        }
        Schema::Array(array) => {
            if let ArrayItems::RefOrSchema(items) = &mut array.items {
                widen_counts(items);
            }
        }
        Schema::OneOf(one) => one.items.iter_mut().for_each(widen_counts),
        _ => {}
    }
}

/// Cuts worked examples of code from the sentences of a shape and of its fields.
pub fn cut_examples(schema: &mut RefOr<Schema>) {
    let RefOr::T(inner) = schema else { return };
    let description = match inner {
        Schema::Object(object) => {
            object.properties.values_mut().for_each(cut_examples);
            &mut object.description
        }
        Schema::Array(array) => &mut array.description,
        Schema::OneOf(one) => &mut one.description,
        Schema::AnyOf(any) => &mut any.description,
        _ => return,
    };
    if let Some(text) = description
        && let Some((before, _)) = text.split_once("```")
    {
        *text = before.trim_end().to_owned();
    }
}
