//! What the air asks of servo and rod, and how fast a surface may fly with the servo it has. All of it is an estimate:
//! the hinge-moment coefficient decides, and it is known to a few tenths at best.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::error::{LinkageError, checked_length, checked_positive, finite};
use super::geometry::LinkagePosition;

/// Density of the air at sea level in the standard atmosphere, kg/m³ (ISO 2533).
pub const SEA_LEVEL_DENSITY_KG_M3: f64 = 1.225;

/// Share of the servo's work that arrives at the surface, the rest lost by friction. Common practice, no source.
pub const LINKAGE_EFFICIENCY: f64 = 0.9;

/// Standard uncertainty of a hinge-moment coefficient as a share of it, where none is given. Common practice, no source.
pub const U_HINGE_COEFFICIENT: f64 = 0.3;

/// The surface that the air acts on.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FlapSurface {
    /// Chord behind the hinge line, mm; of a tapered one the mean.
    pub chord_mm: f64,
    /// Length along the hinge line, mm.
    pub span_mm: f64,
}

/// The air and the servo that works against it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AirLoad {
    /// Airspeed, m/s.
    pub speed_ms: f64,
    /// Density of the air, kg/m³.
    pub density_kg_m3: f64,
    /// Hinge-moment coefficient C_H over the flap's own area and chord; its sign does not matter.
    pub hinge_coefficient: f64,
    /// Share of the servo's work that arrives, above 0 to 1.
    pub efficiency: f64,
}

/// Moments and forces at one position.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LinkageLoad {
    /// Dynamic pressure ½ρV², Pa.
    pub dynamic_pressure_pa: f64,
    /// Moment about the hinge line, N m.
    pub hinge_moment_nm: f64,
    /// Torque the servo must hold, N m.
    pub servo_torque_nm: f64,
    /// Force in the rod if the friction sits on the servo's side, N.
    pub rod_force_n: f64,
    /// Force in the rod if the friction sits on the surface's side, N: the higher of the two.
    pub rod_force_most_n: f64,
}

impl AirLoad {
    /// Hinge moment H = |C_H|·½ρV²·S_f·c_f, servo torque H·|gain|/efficiency, rod force H/lever of the horn.
    ///
    /// # Errors
    /// Sizes, speed or density that are not above zero; an efficiency above 1; numbers too large for a result.
    ///
    /// # Source
    /// Definition of the hinge-moment coefficient: E. L. Houghton, P. W. Carpenter, *Aerodynamics for Engineering
    /// Students*; virtual work over the linkage.
    ///
    /// ```
    /// use preen_domain::formulas::linkage::geometry::LinkagePosition;
    /// use preen_domain::formulas::linkage::load::{AirLoad, FlapSurface};
    /// // q = ½·1.25·16² = 160 Pa; H = 0.5·160·0.05·0.1 = 0.4 N m; at gain 1 and without loss the servo holds the same.
    /// let air = AirLoad { speed_ms: 16.0, density_kg_m3: 1.25, hinge_coefficient: 0.5, efficiency: 1.0 };
    /// let at = LinkagePosition { servo_deg: 0.0, deflection_deg: 0.0, gain: 1.0, arm_lever_mm: 5.0,
    ///     horn_lever_mm: 5.0, transmission_deg: 90.0 };
    /// let load = air.on(&FlapSurface { chord_mm: 100.0, span_mm: 500.0 }, &at)?;
    /// assert_eq!(format!("{:.3} {:.3} {:.1}", load.hinge_moment_nm, load.servo_torque_nm, load.rod_force_n),
    ///     "0.400 0.400 80.0");
    /// # Ok::<(), preen_domain::formulas::linkage::LinkageError>(())
    /// ```
    pub fn on(&self, surface: &FlapSurface, at: &LinkagePosition) -> Result<LinkageLoad, LinkageError> {
        self.check(surface)?;
        let dynamic_pressure_pa = 0.5 * self.density_kg_m3 * self.speed_ms * self.speed_ms;
        let moment = finite(self.hinge_coefficient.abs() * dynamic_pressure_pa * volume_m3(surface))?;
        let rod_force_n = finite(moment * 1000.0 / at.horn_lever_mm)?;
        Ok(LinkageLoad {
            dynamic_pressure_pa: finite(dynamic_pressure_pa)?,
            hinge_moment_nm: moment,
            servo_torque_nm: finite(moment * at.gain.abs() / self.efficiency)?,
            rod_force_n,
            rod_force_most_n: finite(rod_force_n / self.efficiency)?,
        })
    }

    fn check(&self, surface: &FlapSurface) -> Result<(), LinkageError> {
        checked_length("chord_mm", surface.chord_mm)?;
        checked_length("span_mm", surface.span_mm)?;
        checked_positive("speed_ms", self.speed_ms)?;
        checked_positive("density_kg_m3", self.density_kg_m3)?;
        checked_positive("efficiency", self.efficiency)?;
        if self.efficiency > 1.0 {
            return Err(LinkageError::OutOfRange { field: "efficiency", least: 0.0, most: 1.0 });
        }
        if self.hinge_coefficient.is_finite() {
            Ok(())
        } else {
            Err(LinkageError::NotFinite { field: "hinge_coefficient" })
        }
    }

    /// The airspeed at which a servo just holds the surface here, m/s: torque grows with the square of the speed.
    /// Above it the flap blows back or the gears strip. `speed_ms` of the load itself plays no part.
    ///
    /// # Errors
    /// As [`AirLoad::on`]; a torque that is not above zero; a coefficient of zero, which asks for no torque.
    ///
    /// ```
    /// use preen_domain::formulas::linkage::geometry::LinkagePosition;
    /// use preen_domain::formulas::linkage::load::{AirLoad, FlapSurface};
    /// let air = AirLoad { speed_ms: 16.0, density_kg_m3: 1.25, hinge_coefficient: 0.5, efficiency: 1.0 };
    /// let at = LinkagePosition { servo_deg: 0.0, deflection_deg: 0.0, gain: 1.0, arm_lever_mm: 5.0,
    ///     horn_lever_mm: 5.0, transmission_deg: 90.0 };
    /// // 0.4 N m at 16 m/s, so four times as much at twice the speed.
    /// assert_eq!(air.speed_limit_ms(&FlapSurface { chord_mm: 100.0, span_mm: 500.0 }, &at, 1.6)?, 32.0);
    /// # Ok::<(), preen_domain::formulas::linkage::LinkageError>(())
    /// ```
    pub fn speed_limit_ms(
        &self,
        surface: &FlapSurface,
        at: &LinkagePosition,
        servo_torque_nm: f64,
    ) -> Result<f64, LinkageError> {
        checked_positive("servo_torque_nm", servo_torque_nm)?;
        let asked = Self { speed_ms: 1.0, ..*self }.on(surface, at)?.servo_torque_nm;
        checked_positive("hinge_coefficient", asked)?;
        finite((servo_torque_nm / asked).sqrt())
    }
}

/// Area times chord, m³.
fn volume_m3(surface: &FlapSurface) -> f64 {
    surface.chord_mm * surface.chord_mm * surface.span_mm * 1e-9
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_carries_no_load_is_refused_by_its_field() {
        let air = AirLoad { speed_ms: 12.0, density_kg_m3: 1.225, hinge_coefficient: 0.7, efficiency: 0.9 };
        let flap = FlapSurface { chord_mm: 62.0, span_mm: 930.0 };
        let at = LinkagePosition {
            servo_deg: 0.0,
            deflection_deg: 0.0,
            gain: 1.0,
            arm_lever_mm: 4.5,
            horn_lever_mm: 4.5,
            transmission_deg: 90.0,
        };
        let check = |air: AirLoad, flap: FlapSurface, expected| assert_eq!(air.on(&flap, &at), Err(expected));
        check(AirLoad { speed_ms: 0.0, ..air }, flap, LinkageError::NotPositive { field: "speed_ms" });
        check(
            AirLoad { efficiency: 1.1, ..air },
            flap,
            LinkageError::OutOfRange { field: "efficiency", least: 0.0, most: 1.0 },
        );
        check(
            AirLoad { hinge_coefficient: f64::NAN, ..air },
            flap,
            LinkageError::NotFinite { field: "hinge_coefficient" },
        );
        check(AirLoad { speed_ms: 1e200, ..air }, flap, LinkageError::TooLarge);
        check(air, FlapSurface { span_mm: 0.0, ..flap }, LinkageError::NotPositive { field: "span_mm" });
        let still = AirLoad { hinge_coefficient: 0.0, ..air };
        assert_eq!(
            still.speed_limit_ms(&flap, &at, 0.5),
            Err(LinkageError::NotPositive { field: "hinge_coefficient" })
        );
    }
}
