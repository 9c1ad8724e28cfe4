//! The plane four-bar of any size: both ways it can be put together for an angle of its crank. What a servo, a rod and
//! a flap make of it lives in `geometry`.

use serde::{Deserialize, Serialize};

use super::triangle::angle_between;

/// Four links in a ring, mm: crank from the origin, coupler, rocker, and the ground link along +x.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct FourBar {
    /// The driven link, from the origin.
    pub crank_mm: f64,
    /// The link between crank and rocker.
    pub coupler_mm: f64,
    /// The driven link's counterpart, turning about the far end of the ground link.
    pub rocker_mm: f64,
    /// The link that does not move, from the origin along +x.
    pub ground_mm: f64,
}

/// One way of putting the four links together; angles counter-clockwise from +x, within ±180°.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct FourBarPosition {
    /// Angle of the coupler, from crank to rocker.
    pub coupler_deg: f64,
    /// Angle of the rocker, from the ground to the coupler.
    pub rocker_deg: f64,
    /// Transmission angle: between coupler and rocker, 0 to 90°; at 0 the linkage stands at a dead point.
    pub transmission_deg: f64,
}

/// Why four links have no position.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum FourBarError {
    /// A length or the angle cannot be used.
    #[error(
        "{field} must be a finite number, a length above zero and at most a million, an angle at most 3600"
    )]
    BadNumber {
        /// Which one.
        field: &'static str,
    },
    /// Coupler and rocker do not meet.
    #[error(
        "the links cannot be put together with the crank at {crank_deg:.3}°: crank and rocker ends would be \
         {apart_mm:.4} mm apart, and coupler and rocker span {least_mm:.4} to {most_mm:.4} mm; change the angle or \
         a length"
    )]
    CannotAssemble {
        /// The crank's angle.
        crank_deg: f64,
        /// From the crank's end to the rocker's axis.
        apart_mm: f64,
        /// The least that coupler and rocker span.
        least_mm: f64,
        /// The most that they span.
        most_mm: f64,
    },
}

/// Longest link and largest angle taken.
const LONGEST_MM: f64 = 1e6;
const LARGEST_DEG: f64 = 3600.0;

impl FourBar {
    /// Both positions for a crank angle: first the open one (the rocker's end right of the way from the rocker's
    /// axis to the crank's end), then the crossed one.
    ///
    /// With P the crank's end and e the distance from P to the rocker's axis, the triangle of sides e, rocker and
    /// coupler is solved in closed form; the two positions are its two mirror images. Angles deg, lengths mm.
    ///
    /// # Errors
    /// Lengths that are not positive, numbers that are not finite; lengths that cannot meet at this angle.
    ///
    /// # Source
    /// R. L. Norton, *Design of Machinery*, position analysis of the four-bar and transmission angle.
    ///
    /// ```
    /// use preen_domain::formulas::linkage::four_bar::FourBar;
    /// // A parallelogram: the rocker follows the crank, the coupler stays level.
    /// let bars = FourBar { crank_mm: 10.0, coupler_mm: 50.0, rocker_mm: 10.0, ground_mm: 50.0 };
    /// let [open, _crossed] = bars.positions(75.0)?;
    /// assert_eq!(format!("{:.9} {:.9}", open.rocker_deg, open.coupler_deg.abs()), "75.000000000 0.000000000");
    /// # Ok::<(), preen_domain::formulas::linkage::four_bar::FourBarError>(())
    /// ```
    pub fn positions(&self, crank_deg: f64) -> Result<[FourBarPosition; 2], FourBarError> {
        self.check(crank_deg)?;
        let crank = crank_deg.to_radians();
        let (end_x, end_y) = (self.crank_mm * crank.cos(), self.crank_mm * crank.sin());
        let (apart_x, apart_y) = (end_x - self.ground_mm, end_y);
        let apart_mm = apart_x.hypot(apart_y);
        let angle = angle_between(self.rocker_mm, apart_mm, self.coupler_mm);
        let half = angle.ok_or_else(|| FourBarError::CannotAssemble {
            crank_deg,
            apart_mm,
            least_mm: (self.coupler_mm - self.rocker_mm).abs(),
            most_mm: self.coupler_mm + self.rocker_mm,
        })?;
        let towards = apart_y.atan2(apart_x);
        Ok([towards - half, towards + half].map(|rocker| {
            let (x, y) = (
                self.ground_mm + self.rocker_mm * rocker.cos() - end_x,
                self.rocker_mm * rocker.sin() - end_y,
            );
            let coupler = y.atan2(x);
            let across = (rocker - coupler).sin().atan2((rocker - coupler).cos()).abs();
            FourBarPosition {
                coupler_deg: coupler.to_degrees(),
                rocker_deg: rocker.sin().atan2(rocker.cos()).to_degrees(),
                transmission_deg: across.min(std::f64::consts::PI - across).to_degrees(),
            }
        }))
    }

    fn check(&self, crank_deg: f64) -> Result<(), FourBarError> {
        let lengths = [
            ("crank_mm", self.crank_mm),
            ("coupler_mm", self.coupler_mm),
            ("rocker_mm", self.rocker_mm),
            ("ground_mm", self.ground_mm),
        ];
        let is_length = |mm: f64| mm > 0.0 && mm <= LONGEST_MM;
        match lengths.into_iter().find(|(_, mm)| !is_length(*mm)) {
            Some((field, _)) => Err(FourBarError::BadNumber { field }),
            None if crank_deg.abs() <= LARGEST_DEG => Ok(()),
            None => Err(FourBarError::BadNumber { field: "crank_deg" }),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_has_no_position_is_refused() {
        let bars = FourBar { crank_mm: 20.0, coupler_mm: 25.0, rocker_mm: 22.0, ground_mm: 80.0 };
        let refused = bars.positions(0.0).expect_err("too far apart");
        assert!(refused.to_string().contains("60.0000 mm apart"), "{refused}");
        let check = |bars: FourBar, crank_deg, field| {
            assert_eq!(bars.positions(crank_deg), Err(FourBarError::BadNumber { field }));
        };
        check(FourBar { crank_mm: 0.0, ..bars }, 0.0, "crank_mm");
        check(FourBar { coupler_mm: f64::NAN, ..bars }, 0.0, "coupler_mm");
        check(FourBar { rocker_mm: f64::INFINITY, ..bars }, 0.0, "rocker_mm");
        check(FourBar { ground_mm: -1.0, ..bars }, 0.0, "ground_mm");
        check(bars, f64::NAN, "crank_deg");
        // The crank's end on the rocker's axis leaves the rocker free to turn: no position.
        let loose = FourBar { crank_mm: 5.0, coupler_mm: 7.0, rocker_mm: 7.0, ground_mm: 5.0 };
        assert!(matches!(loose.positions(0.0), Err(FourBarError::CannotAssemble { .. })));
    }
}
