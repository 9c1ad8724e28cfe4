//! When a check falls due.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// From where the next due point of a check counts after it was done.
#[derive(
    Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Rebasing {
    /// Early: from when it was done. Inside the tolerance: from the due point. Later: from when it was done.
    #[default]
    DuePointInsideTolerance,
    /// Always from when it was done.
    FromDone,
    /// Early: from when it was done. Late, however late: from the due point.
    DuePointWhenLate,
    /// Within the tolerance on either side: from the due point. Else from when it was done.
    Window,
}
