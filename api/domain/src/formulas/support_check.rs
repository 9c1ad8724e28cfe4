//! What readings beyond those that a CG needs tell about the set-up: the model weighed whole beside its supports, and how
//! evenly more than three supports carry it. The CG itself lives in `weighing`.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::all_finite;
use super::trend::{FitError, least_squares::least_squares};
use super::weighing::{Levelling, SupportReading, Weighed, WeighedArm, WeighingError, weigh};

/// The mass of the whole model by one scale.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WholeMass {
    /// Mass, grams.
    pub mass_g: f64,
    /// Its standard uncertainty (1u), grams.
    pub u_g: f64,
}

/// Supports against the whole, and both reconciled by least squares.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WholeCheck {
    /// Sum of the supports less the whole, grams.
    pub misfit_g: f64,
    /// 2u of that difference, grams.
    pub misfit_2u_g: f64,
    /// Whether the difference stays within it. If not, a stand touches something, or a scale is off.
    pub agrees: bool,
    /// By how much each reading is changed so that the sum fits, grams, in the order of the supports.
    pub residuals_g: Vec<f64>,
    /// Mass and CG from the readings so changed.
    pub adjusted: Weighed,
}

/// Compares the supports with the whole and adjusts the readings by least squares.
///
/// With d = M₀ − ΣW and D = Σu² + u₀², each reading becomes W + d·u²/D; mass, CG and their uncertainties follow with
/// the correlation that this brings: u²(M) = Σu²·u₀²/D.
///
/// # Errors
/// As [`weigh`]; a whole without mass or a negative uncertainty; no uncertainty on either side, which leaves nothing to
/// judge the difference by.
///
/// # Source
/// Least squares with a condition between observations (textbook adjustment); JCGM 100:2008, 5.2 for the correlation.
///
/// ```
/// use preen_domain::formulas::support_check::{WholeMass, check_whole};
/// use preen_domain::formulas::weighing::{Levelling, SupportReading};
/// let on = |x_mm, reading_g| SupportReading { reading_g, x_mm, y_mm: 0.0, u_reading_g: 0.5, u_place_mm: 0.5 };
/// let supports = [on(-60.0, 878.0), on(520.0, 324.5)];
/// let check = check_whole(&supports, Levelling::default(), WholeMass { mass_g: 1201.6, u_g: 0.1 })?;
/// assert_eq!((format!("{:+.1} {:.2}", check.misfit_g, check.misfit_2u_g), check.agrees), ("+0.9 1.43".to_owned(), true));
/// assert_eq!(check.residuals_g.iter().map(|g| format!("{g:.2}")).collect::<Vec<_>>(), ["-0.44", "-0.44"]);
/// // The mass is now known almost as well as the whole was weighed.
/// assert_eq!(format!("{:.3}", check.adjusted.u_mass_g), "0.099");
/// # Ok::<(), preen_domain::formulas::support_check::WholeError>(())
/// ```
pub fn check_whole(
    supports: &[SupportReading],
    levelling: Levelling,
    whole: WholeMass,
) -> Result<WholeCheck, WholeError> {
    let by_supports = weigh(supports, levelling)?;
    if !(whole.mass_g > 0.0 && whole.u_g >= 0.0 && all_finite(&[whole.mass_g, whole.u_g])) {
        return Err(WholeError::BadWhole);
    }
    let sum: f64 = supports.iter().map(|on| on.u_reading_g.powi(2)).sum();
    let all = sum + whole.u_g.powi(2);
    if !all.is_normal() {
        return Err(WholeError::NoUncertainty);
    }
    let misfit_g = by_supports.mass_g - whole.mass_g;
    let residuals_g: Vec<f64> = supports.iter().map(|on| -misfit_g * on.u_reading_g.powi(2) / all).collect();
    let changed: Vec<SupportReading> = supports
        .iter()
        .zip(&residuals_g)
        .map(|(on, residual_g)| SupportReading { reading_g: (on.reading_g + residual_g).max(0.0), ..*on })
        .collect();
    let plain = weigh(&changed, levelling)?;
    let correlated = |arm: WeighedArm, place: fn(&SupportReading) -> f64| {
        let pull: f64 =
            supports.iter().map(|on| (place(on) - arm.at_mm) / plain.mass_g * on.u_reading_g.powi(2)).sum();
        let u_scale_mm = (arm.u_scale_mm.powi(2) - pull.powi(2) / all).max(0.0).sqrt();
        let u_mm = (u_scale_mm.powi(2) + arm.u_place_mm.powi(2) + arm.u_level_mm.powi(2)).sqrt();
        WeighedArm { u_scale_mm, u_mm, ..arm }
    };
    let adjusted = Weighed {
        u_mass_g: (sum * (whole.u_g.powi(2) / all)).sqrt(),
        x: plain.x.map(|arm| correlated(arm, |on| on.x_mm)),
        y: plain.y.map(|arm| correlated(arm, |on| on.y_mm)),
        ..plain
    };
    let misfit_2u_g = 2.0 * all.sqrt();
    if !all_finite(&[misfit_g, misfit_2u_g, adjusted.u_mass_g]) {
        return Err(WholeError::Weighing(WeighingError::TooLarge));
    }
    Ok(WholeCheck { misfit_g, misfit_2u_g, agrees: misfit_g.abs() <= misfit_2u_g, residuals_g, adjusted })
}

/// Why supports and whole cannot be compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum WholeError {
    /// The readings give no CG.
    #[error(transparent)]
    Weighing(#[from] WeighingError),
    /// The whole is no mass.
    #[error("the whole needs a mass above zero and an uncertainty of 0 or more")]
    BadWhole,
    /// Neither side is uncertain.
    #[error("give the scales or the whole an uncertainty, else there is nothing to judge the difference by")]
    NoUncertainty,
}

/// How evenly supports carry, where there are more than a plane needs.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LoadSharing {
    /// Reading less what it would be were all supports of one height and stiffness, grams, in their order.
    pub residuals_g: Vec<f64>,
    /// The largest by size, grams.
    pub largest_g: f64,
}

/// Fits the loads of equal supports, W = a + b·x + c·y, to the readings and gives what is left.
///
/// A difference is no error of the CG, for which equilibrium holds however the load is shared; it says that a support
/// stands high or low, so that another hardly carries, its scale works near zero and the model may rock.
///
/// # Errors
/// As [`weigh`]. `None` when there are not more supports than the plane (or, for supports in one line, the line) needs.
///
/// # Source
/// A stiff body on equal springs (textbook statics), fitted by least squares.
///
/// ```
/// use preen_domain::formulas::support_check::share_load;
/// use preen_domain::formulas::weighing::SupportReading;
/// let on = |x_mm, y_mm, reading_g| SupportReading { reading_g, x_mm, y_mm, u_reading_g: 0.5, u_place_mm: 0.5 };
/// // The far right stand is low: one diagonal carries 40 g too much, the other 40 g too little.
/// let four = [on(0.0, -100.0, 290.0), on(0.0, 100.0, 370.0), on(400.0, -100.0, 330.0), on(400.0, 100.0, 250.0)];
/// let sharing = share_load(&four)?.ok_or("four supports")?;
/// assert_eq!(sharing.residuals_g.iter().map(|g| g.round()).collect::<Vec<_>>(), [-40.0, 40.0, 40.0, -40.0]);
/// assert_eq!(share_load(&four[..3])?, None);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn share_load(supports: &[SupportReading]) -> Result<Option<LoadSharing>, WeighingError> {
    weigh(supports, Levelling::default())?;
    let readings: Vec<f64> = supports.iter().map(|on| on.reading_g).collect();
    let ones = || vec![1.0; supports.len()];
    let (x, y): (Vec<f64>, Vec<f64>) = supports.iter().map(|on| (on.x_mm, on.y_mm)).unzip();
    let plane = [ones(), x.clone(), y.clone()];
    let ways: [&[Vec<f64>]; 3] = [&plane, &[ones(), x], &[ones(), y]];
    for columns in ways {
        match least_squares(columns, &readings) {
            Ok(fit) => {
                let largest_g = fit.residuals.iter().fold(0.0, |most: f64, off| most.max(off.abs()));
                return Ok(Some(LoadSharing { residuals_g: fit.residuals, largest_g }));
            }
            // Supports in one line: what is left of the plane is the line.
            Err(FitError::Dependent) => {}
            Err(FitError::TooFewPoints { .. }) if supports.len() > 2 && lies_in_line(supports) => {}
            Err(FitError::TooFewPoints { .. }) => return Ok(None),
            Err(_) => return Err(WeighingError::TooLarge),
        }
    }
    Ok(None)
}

fn lies_in_line(supports: &[SupportReading]) -> bool {
    let (Some(first), Some(last)) = (supports.first(), supports.last()) else { return false };
    let (x, y) = (last.x_mm - first.x_mm, last.y_mm - first.y_mm);
    supports.iter().all(|on| {
        let across = (on.x_mm - first.x_mm) * y - (on.y_mm - first.y_mm) * x;
        across.abs() <= 1e-9 * (x * x + y * y)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn on(x_mm: f64, y_mm: f64, reading_g: f64) -> SupportReading {
        SupportReading { reading_g, x_mm, y_mm, u_reading_g: 0.5, u_place_mm: 0.0 }
    }

    #[test]
    fn supports_in_one_line_share_by_the_line() {
        let three = [on(0.0, 0.0, 100.0), on(100.0, 0.0, 130.0), on(200.0, 0.0, 100.0)];
        let sharing = share_load(&three).expect("a CG").expect("one more than a line needs");
        assert!((sharing.largest_g - 20.0).abs() < 1e-9, "{sharing:?}");
        let aslant = [on(0.0, 0.0, 100.0), on(100.0, 50.0, 130.0), on(200.0, 100.0, 100.0)];
        assert!((share_load(&aslant).expect("a CG").expect("a line").largest_g - 20.0).abs() < 1e-9);
        assert_eq!(share_load(&three[..2]), Ok(None));
    }

    #[test]
    fn a_whole_that_disagrees_is_said_and_an_exact_one_takes_all() {
        let supports = [on(-60.0, 0.0, 878.0), on(520.0, 0.0, 324.5)];
        let level = Levelling::default();
        let check =
            check_whole(&supports, level, WholeMass { mass_g: 1199.0, u_g: 0.0 }).expect("comparable");
        assert!(!check.agrees);
        assert_eq!((check.adjusted.mass_g, check.adjusted.u_mass_g), (1199.0, 0.0));
        assert_eq!(check.residuals_g, [-1.75, -1.75]);
        // With the sum exact only the difference of the readings is uncertain: u = 580/2 · √(0.5) · … by hand.
        let x = check.adjusted.x.expect("along x");
        let by_hand = 580.0 / 1199.0 * 0.5 / 2f64.sqrt();
        assert!((x.u_scale_mm - by_hand).abs() < 1e-9, "{} for {by_hand}", x.u_scale_mm);
        let exact = supports.map(|on| SupportReading { u_reading_g: 0.0, ..on });
        let whole = WholeMass { mass_g: 1199.0, u_g: 0.0 };
        assert_eq!(check_whole(&exact, level, whole), Err(WholeError::NoUncertainty));
        let none = WholeMass { mass_g: 0.0, u_g: 0.1 };
        assert_eq!(check_whole(&supports, level, none), Err(WholeError::BadWhole));
    }
}
