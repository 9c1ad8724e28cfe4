//! A reading on a part or a model.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    ids::{ComponentId, MeasurementId, MemberId, ModelId},
    text::{Tag, Text},
    time::Instant,
};

/// What a reading, a defect or a loan is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Subject {
    /// The model as a whole.
    Model(ModelId),
    /// A single part, wherever it sits.
    Component(ComponentId),
}

/// A reading, with one value or one per cell or contact; several are judged on the worst.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Measurement {
    /// Id made by the client (UUIDv7).
    pub id: MeasurementId,
    /// Number in the club's own log, where it has one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tag: Option<Tag>,
    /// What was measured.
    pub subject: Subject,
    /// Which quantity, such as `servo_free_play`.
    pub quantity: Tag,
    /// The reading; one value per cell or contact.
    #[schema(schema_with = readings)]
    pub values: Vec<f64>,
    /// Unit of the values.
    pub unit: Text,
    /// When it was read.
    pub occurred_at: Instant,
    /// How it was read; a change of method starts a new series.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub method: Option<Text>,
    /// Temperature of the part, °C.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = -40.0, maximum = 120.0)]
    pub temperature_c: Option<f64>,
    /// Instrument used.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub instrument: Option<Text>,
    /// True if a re-work makes this the first reading of a new series.
    #[serde(default)]
    pub is_series_start: bool,
    /// Who read it, if not the member who records it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub measured_by: Option<MemberId>,
    /// Anything else worth knowing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<Text>,
}

/// One reading at least, each of a size that a number in any unit of the trade can have.
fn readings() -> utoipa::openapi::schema::Array {
    use utoipa::openapi::{Array, ObjectBuilder, Type};

    let reading = ObjectBuilder::new().schema_type(Type::Number).minimum(Some(-1e6)).maximum(Some(1e6));
    let mut readings = Array::new(reading);
    readings.min_items = Some(1);
    readings.description = Some("The reading, one value per cell or contact.".to_owned());
    readings
}
