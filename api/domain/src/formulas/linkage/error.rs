//! Why a linkage gives no number, and the checks of single numbers. Each error says what to mend.

/// Why a linkage gives no number.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum LinkageError {
    /// A number is infinite or not a number.
    #[error("{field} must be a finite number")]
    NotFinite {
        /// Which one.
        field: &'static str,
    },
    /// A number must be above zero.
    #[error("{field} must be above zero")]
    NotPositive {
        /// Which one.
        field: &'static str,
    },
    /// A number must not be negative.
    #[error("{field} must be 0 or more")]
    Negative {
        /// Which one.
        field: &'static str,
    },
    /// A number is beyond what a linkage can have.
    #[error("{field} must lie between {least} and {most}; check the unit")]
    OutOfRange {
        /// Which one.
        field: &'static str,
        /// The least taken.
        least: f64,
        /// The most taken.
        most: f64,
    },
    /// Arm or horn reaches from one axis to the other.
    #[error("{field} must be shorter than the way from servo axis to hinge line, {ground_mm:.2} mm")]
    LongerThanGround {
        /// Which one.
        field: &'static str,
        /// From servo axis to hinge line, mm.
        ground_mm: f64,
    },
    /// The rod does not reach the horn.
    #[error(
        "the linkage cannot be put together: a rod of {rod_mm:.2} mm does not reach the horn with the servo at neutral; \
         it must be between {least_mm:.2} and {most_mm:.2} mm long"
    )]
    CannotAssemble {
        /// The rod's length, mm.
        rod_mm: f64,
        /// The shortest that reaches, mm.
        least_mm: f64,
        /// The longest that reaches, mm.
        most_mm: f64,
    },
    /// Two links are in line, so that the next move is not told.
    #[error(
        "the linkage stands at a dead point with the servo at {servo_deg:.2}°: the rod is in line with arm or horn; \
         turn the arm on its spline or move the horn's hole"
    )]
    AtDeadPoint {
        /// The servo's angle from neutral, deg.
        servo_deg: f64,
    },
    /// The way from neutral leads over a dead point of the arm.
    #[error(
        "servo travel to {servo_deg:.2}° passes a dead point: at {dead_point_deg:.2}° arm and rod are in line and the \
         surface would turn back; keep the travel inside, or set the arm otherwise"
    )]
    PassesArmDeadPoint {
        /// The servo's angle asked for, deg.
        servo_deg: f64,
        /// Where the dead point lies, deg.
        dead_point_deg: f64,
    },
    /// The way from neutral leads over a dead point of the horn.
    #[error(
        "servo travel to {servo_deg:.2}° passes a dead point: at {dead_point_deg:.2}° horn and rod are in line, the \
         linkage locks and cannot be put together beyond; keep the travel inside, or lengthen the horn"
    )]
    PassesHornDeadPoint {
        /// The servo's angle asked for, deg.
        servo_deg: f64,
        /// Where the dead point lies, deg.
        dead_point_deg: f64,
    },
    /// The deflection lies beyond the dead points.
    #[error(
        "a deflection of {deflection_deg:.2}° is out of reach: between its dead points the linkage reaches \
         {up_deg:.2} to {down_deg:.2}°"
    )]
    OutOfReach {
        /// The deflection asked for, deg.
        deflection_deg: f64,
        /// The farthest up, deg.
        up_deg: f64,
        /// The farthest down, deg.
        down_deg: f64,
    },
    /// The result has no finite value.
    #[error(
        "the numbers are too large or too small to compute with; check the units (millimetres, degrees, newton metres)"
    )]
    TooLarge,
}

/// Longest length and farthest place taken, mm.
pub const LONGEST_MM: f64 = 1e5;
/// Shortest length taken, mm.
pub const SHORTEST_MM: f64 = 1e-3;
/// Largest angle taken, deg.
pub const LARGEST_DEG: f64 = 360.0;

/// A length: above zero and not absurd.
pub(super) fn checked_length(field: &'static str, mm: f64) -> Result<(), LinkageError> {
    if !mm.is_finite() {
        Err(LinkageError::NotFinite { field })
    } else if mm <= 0.0 {
        Err(LinkageError::NotPositive { field })
    } else {
        within(field, mm, SHORTEST_MM, LONGEST_MM)
    }
}

/// A coordinate: any sign, not absurd.
pub(super) fn checked_place(field: &'static str, mm: f64) -> Result<(), LinkageError> {
    if mm.is_finite() {
        within(field, mm, -LONGEST_MM, LONGEST_MM)
    } else {
        Err(LinkageError::NotFinite { field })
    }
}

/// An angle: at most one turn.
pub(super) fn checked_angle(field: &'static str, deg: f64) -> Result<(), LinkageError> {
    if deg.is_finite() {
        within(field, deg, -LARGEST_DEG, LARGEST_DEG)
    } else {
        Err(LinkageError::NotFinite { field })
    }
}

/// Something that may be nothing but not less.
pub(super) fn checked_amount(field: &'static str, value: f64) -> Result<(), LinkageError> {
    if !value.is_finite() {
        Err(LinkageError::NotFinite { field })
    } else if value < 0.0 {
        Err(LinkageError::Negative { field })
    } else {
        Ok(())
    }
}

/// Something that must be there.
pub(super) fn checked_positive(field: &'static str, value: f64) -> Result<(), LinkageError> {
    if !value.is_finite() {
        Err(LinkageError::NotFinite { field })
    } else if value <= 0.0 {
        Err(LinkageError::NotPositive { field })
    } else {
        Ok(())
    }
}

fn within(field: &'static str, value: f64, least: f64, most: f64) -> Result<(), LinkageError> {
    if (least..=most).contains(&value) {
        Ok(())
    } else {
        Err(LinkageError::OutOfRange { field, least, most })
    }
}

/// A result, or the error that it is none.
pub(super) fn finite(value: f64) -> Result<f64, LinkageError> {
    if value.is_finite() { Ok(value) } else { Err(LinkageError::TooLarge) }
}
