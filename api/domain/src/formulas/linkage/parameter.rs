//! The single numbers of a linkage by name, so that each can be varied: for uncertainties and for fitting.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::geometry::{Linkage, LinkageGeometry};

/// One number of a linkage's geometry.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum LinkageParameter {
    /// Arm radius.
    ArmMm,
    /// Arm angle at neutral.
    ArmDeg,
    /// Hinge line aft of the servo's axis.
    HingeXMm,
    /// Hinge line above the servo's axis.
    HingeZMm,
    /// Horn height.
    HornMm,
    /// Set-back of the horn's hole.
    SetBackMm,
    /// Rod length of its own, so that neutral need not be at 0°.
    RodMm,
}

impl LinkageParameter {
    /// All of them.
    pub const ALL: [Self; 7] = [
        Self::ArmMm,
        Self::ArmDeg,
        Self::HingeXMm,
        Self::HingeZMm,
        Self::HornMm,
        Self::SetBackMm,
        Self::RodMm,
    ];

    /// Its name, as in the geometry.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::ArmMm => "arm_mm",
            Self::ArmDeg => "arm_deg",
            Self::HingeXMm => "hinge_x_mm",
            Self::HingeZMm => "hinge_z_mm",
            Self::HornMm => "horn_mm",
            Self::SetBackMm => "set_back_mm",
            Self::RodMm => "rod_mm",
        }
    }

    /// Its value; of a rod cut to fit, the length that fits, if the linkage can be put together.
    #[must_use]
    pub fn of(self, geometry: &LinkageGeometry) -> Option<f64> {
        Some(match self {
            Self::ArmMm => geometry.arm_mm,
            Self::ArmDeg => geometry.arm_deg,
            Self::HingeXMm => geometry.hinge_x_mm,
            Self::HingeZMm => geometry.hinge_z_mm,
            Self::HornMm => geometry.horn_mm,
            Self::SetBackMm => geometry.set_back_mm,
            Self::RodMm => return Linkage::new(geometry).ok().map(|linkage| linkage.rod_mm()),
        })
    }

    /// The same geometry with this number set.
    #[must_use]
    pub const fn set(self, geometry: &LinkageGeometry, value: f64) -> LinkageGeometry {
        let mut changed = *geometry;
        match self {
            Self::ArmMm => changed.arm_mm = value,
            Self::ArmDeg => changed.arm_deg = value,
            Self::HingeXMm => changed.hinge_x_mm = value,
            Self::HingeZMm => changed.hinge_z_mm = value,
            Self::HornMm => changed.horn_mm = value,
            Self::SetBackMm => changed.set_back_mm = value,
            Self::RodMm => changed.rod_mm = Some(value),
        }
        changed
    }
}
