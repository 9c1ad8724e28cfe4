//! Plane triangles and directions, as the linkage formulas need them. No linkage is known here.

/// A point or a direction in the plane of the linkage: x aft, z up, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Plane {
    pub x: f64,
    pub z: f64,
}

impl Plane {
    /// The direction at an angle from straight down, positive towards aft, radians.
    pub fn towards(angle: f64) -> Self {
        Self { x: angle.sin(), z: -angle.cos() }
    }

    pub fn scaled(self, by: f64) -> Self {
        Self { x: self.x * by, z: self.z * by }
    }

    pub fn plus(self, other: Self) -> Self {
        Self { x: self.x + other.x, z: self.z + other.z }
    }

    pub fn minus(self, other: Self) -> Self {
        Self { x: self.x - other.x, z: self.z - other.z }
    }

    pub fn length(self) -> f64 {
        self.x.hypot(self.z)
    }

    /// Positive when the other direction lies further round than this one, as [`Plane::towards`] counts.
    pub fn cross(self, other: Self) -> f64 {
        self.x * other.z - self.z * other.x
    }

    /// The angle from straight down, positive towards aft, radians.
    pub fn angle(self) -> f64 {
        self.x.atan2(-self.z)
    }
}

/// The angle between two sides of a triangle, radians, from the three lengths; `None` when they form no triangle.
///
/// The form that keeps its digits for needle-like triangles, where the law of cosines loses half of them.
///
/// # Source
/// W. Kahan, *Miscalculating Area and Angles of a Needle-like Triangle*, 2014, section 3.
pub(super) fn angle_between(one: f64, other: f64, opposite: f64) -> Option<f64> {
    let (long, short) = if one >= other { (one, other) } else { (other, one) };
    let slack = if short >= opposite { opposite - (long - short) } else { short - (long - opposite) };
    let reach = (long - opposite) + short;
    if short <= 0.0 || opposite < 0.0 || slack < 0.0 || reach < 0.0 {
        return None;
    }
    let above = ((long - short) + opposite) * slack;
    let below = (long + (short + opposite)) * reach;
    Some(2.0 * above.sqrt().atan2(below.sqrt()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn angles_of_known_triangles() {
        let check = |one, other, opposite, expected: Option<f64>| {
            let found = angle_between(one, other, opposite).map(f64::to_degrees);
            assert_eq!(found.map(|deg| (deg * 1e9).round()), expected.map(|deg| (deg * 1e9).round()));
        };
        check(3.0, 4.0, 5.0, Some(90.0));
        check(1.0, 1.0, 1.0, Some(60.0));
        check(2.0, 1.0, 1.0, Some(0.0));
        check(1.0, 2.0, 3.0, Some(180.0));
        check(1.0, 2.0, 3.0001, None);
        check(5.0, 1.0, 3.0, None);
        check(0.0, 1.0, 1.0, None);
    }

    #[test]
    fn directions_are_counted_from_straight_down_towards_aft() {
        let aft = Plane::towards(std::f64::consts::FRAC_PI_2);
        assert!((aft.x - 1.0).abs() < 1e-15 && aft.z.abs() < 1e-15);
        assert!(Plane::towards(0.1).cross(Plane::towards(0.2)) > 0.0);
        assert!((Plane::towards(0.3).scaled(4.0).angle() - 0.3).abs() < 1e-15);
    }
}
