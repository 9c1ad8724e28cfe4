//! The table of photos.

use preen_domain::facts::Photo;

fact_rows! {
    photos: Photo, moment: some, {
        subject: Pointer,
        defect: MaybeText,
        repair: MaybeText,
        inspection: MaybeText,
        occurred_at: Moment,
        sha256: Text,
        width_px: Count,
        height_px: Count,
        size_bytes: Count,
        media_type: Text,
        text: MaybeText,
        taken_by: MaybeText,
    }
}
