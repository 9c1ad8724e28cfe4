//! Repeated weighings of one model in one configuration taken together: mass and CG, each with scatter and instrument, and
//! which weighing stands out. One weighing lives in `weighing`, the mean of estimates in `combine`.

use super::combine::{CombineError, Combined, Estimate, StandSetUp, combine};
use super::weighing::{Levelling, SupportReading, Weighed, WeighedArm, WeighingError, weigh};

/// Weighings taken together.
#[derive(Clone, Debug, PartialEq)]
pub struct Reweighed {
    /// Each weighing by itself, in order.
    pub each: Vec<Weighed>,
    /// Mass, grams; its one part is the scales.
    pub mass: Combined,
    /// CG along x, mm; its parts are scales, places, levelling. `None` when no weighing says anything about it.
    pub x: Option<Combined>,
    /// CG along y, the same.
    pub y: Option<Combined>,
}

/// Why weighings cannot be taken together. Weighings are counted from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ReweighError {
    /// One of them is no weighing.
    #[error("{why}")]
    Weighing {
        /// Which, from 1.
        weighing: usize,
        /// Why.
        why: WeighingError,
    },
    /// They do not combine.
    #[error(transparent)]
    Combine(#[from] CombineError),
}

/// Takes weighings of one model together, each quantity by [`combine`]. A weighing that says nothing about an axis has no
/// part in it, so that one on supports along x and one on supports along y complete each other.
///
/// Units g and mm. Outliers are numbered as the weighings are, from 1.
///
/// # Errors
/// The first weighing that is none; numbers that do not combine.
///
/// # Source
/// JCGM 100:2008, 4.2 and 5.1.
///
/// ```
/// use preen_domain::formulas::combine::StandSetUp;
/// use preen_domain::formulas::reweigh::reweigh;
/// use preen_domain::formulas::weighing::{Levelling, SupportReading};
/// let on = |x_mm, reading_g| SupportReading { reading_g, x_mm, y_mm: 0.0, u_reading_g: 0.5, u_place_mm: 0.5 };
/// let weighing = |tail_g| vec![on(-60.0, 1202.5 - tail_g), on(520.0, tail_g)];
/// let both = reweigh(&[weighing(324.5), weighing(325.5)], Levelling::default(), StandSetUp::Kept)?;
/// let x = both.x.ok_or("along x")?;
/// assert_eq!(format!("{:.2} scatter {:.2} instrument {:.2}", x.value, x.u_scatter, x.u_instrument),
///     "96.76 scatter 0.24 instrument 0.43");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn reweigh(
    weighings: &[Vec<SupportReading>],
    levelling: Levelling,
    set_up: StandSetUp,
) -> Result<Reweighed, ReweighError> {
    let each: Vec<Weighed> = weighings
        .iter()
        .enumerate()
        .map(|(index, supports)| {
            weigh(supports, levelling).map_err(|why| ReweighError::Weighing { weighing: index + 1, why })
        })
        .collect::<Result<_, _>>()?;
    let mass: Vec<Estimate> =
        each.iter().map(|one| Estimate { value: one.mass_g, parts: vec![one.u_mass_g] }).collect();
    let mass = combine(&mass, set_up)?;
    let x = axis(&each, set_up, |one| one.x)?;
    let y = axis(&each, set_up, |one| one.y)?;
    Ok(Reweighed { each, mass, x, y })
}

fn axis(
    each: &[Weighed],
    set_up: StandSetUp,
    arm: fn(&Weighed) -> Option<WeighedArm>,
) -> Result<Option<Combined>, CombineError> {
    let (numbers, estimates): (Vec<usize>, Vec<Estimate>) = each
        .iter()
        .enumerate()
        .filter_map(|(index, one)| {
            let arm = arm(one)?;
            let parts = vec![arm.u_scale_mm, arm.u_place_mm, arm.u_level_mm];
            Some((index + 1, Estimate { value: arm.at_mm, parts }))
        })
        .unzip();
    if estimates.is_empty() {
        return Ok(None);
    }
    let mut combined = combine(&estimates, set_up)?;
    for outlier in &mut combined.outliers {
        // Numbered among the estimates, to be numbered among the weighings.
        outlier.number = numbers.get(outlier.number.saturating_sub(1)).copied().unwrap_or(outlier.number);
    }
    Ok(Some(combined))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn on(x_mm: f64, y_mm: f64, reading_g: f64) -> SupportReading {
        SupportReading { reading_g, x_mm, y_mm, u_reading_g: 0.5, u_place_mm: 0.5 }
    }

    fn along(tail_g: f64) -> Vec<SupportReading> {
        vec![on(-60.0, 0.0, 1202.5 - tail_g), on(520.0, 0.0, tail_g)]
    }

    #[test]
    fn weighings_along_and_across_complete_each_other() {
        let across = vec![on(0.0, -420.0, 601.0), on(0.0, 420.0, 601.5)];
        let both =
            reweigh(&[along(324.5), across], Levelling::default(), StandSetUp::Kept).expect("two weighings");
        assert_eq!((both.mass.value, both.each.len()), (1202.5, 2));
        assert_eq!(both.x.map(|x| x.u_scatter), Some(0.0));
        assert!(both.y.is_some_and(|y| (y.value - 420.0 * 0.5 / 1202.5).abs() < 1e-9));
    }

    #[test]
    fn the_weighing_that_stands_out_is_named_by_its_number() {
        let across = vec![on(0.0, -420.0, 601.0), on(0.0, 420.0, 601.5)];
        let list = [across, along(324.5), along(324.6), along(324.4), along(331.0), along(324.5)];
        let all = reweigh(&list, Levelling::default(), StandSetUp::Kept).expect("weighings");
        let numbers: Vec<usize> = all.x.expect("along x").outliers.iter().map(|out| out.number).collect();
        assert_eq!(numbers, [5]);
    }

    #[test]
    fn what_is_no_weighing_is_named() {
        let why = WeighingError::TooFewSupports;
        let list = [along(324.5), Vec::new()];
        let refused = reweigh(&list, Levelling::default(), StandSetUp::Kept);
        assert_eq!(refused, Err(ReweighError::Weighing { weighing: 2, why }));
        let none = reweigh(&[], Levelling::default(), StandSetUp::Kept);
        assert_eq!(none, Err(ReweighError::Combine(CombineError::Nothing)));
    }
}
