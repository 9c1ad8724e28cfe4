//! A photo of a model or a part. The picture itself is kept beside the record, under the digest that the fact names.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::Subject;
use crate::{
    digest::Digest,
    ids::{DefectId, InspectionId, MemberId, PhotoId, RepairId},
    text::Text,
    time::Instant,
    words::PhotoType,
};

/// Pixels of the longer side of a kept picture at most.
pub const LONGER_SIDE_PX: u32 = 2048;
/// Pixels of the longer side of a thumbnail.
pub const THUMBNAIL_PX: u32 = 320;
/// Bytes of a picture at most, as it is sent and as it is kept.
pub const MOST_BYTES: u32 = 10 << 20;

/// A photo of a model or a part. Send the picture first; what comes back says how it is kept.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Photo {
    /// Id made by the client (UUIDv7).
    pub id: PhotoId,
    /// What it shows.
    pub subject: Subject,
    /// The defect it shows.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub defect: Option<DefectId>,
    /// The repair it shows.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub repair: Option<RepairId>,
    /// The check at which it was taken.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub inspection: Option<InspectionId>,
    /// When it was taken.
    pub occurred_at: Instant,
    /// SHA-256 of the picture as it is kept.
    pub sha256: Digest,
    /// Width of the kept picture, px.
    #[schema(minimum = 1, maximum = 2048)]
    pub width_px: u32,
    /// Height of the kept picture, px.
    #[schema(minimum = 1, maximum = 2048)]
    pub height_px: u32,
    /// Size of the kept picture, bytes.
    #[schema(minimum = 1, maximum = 10_485_760)]
    pub size_bytes: u32,
    /// How the kept picture is encoded.
    pub media_type: PhotoType,
    /// What is to be seen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub text: Option<Text>,
    /// Who took it, if not the member who records it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taken_by: Option<MemberId>,
}
