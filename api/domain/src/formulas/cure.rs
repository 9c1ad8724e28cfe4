//! How long resins and adhesives cure: by kind and, for laminating resin, by temperature. From memory; the data sheet
//! wins. Which repair waits for which cure is not known here.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::range::{OutOfRange, within};
use crate::text_enum;

text_enum! {
    /// What bonds.
    Resin {
        /// Epoxy that sets in five minutes: not for structure.
        FiveMinuteEpoxy = "five_minute_epoxy",
        /// Epoxy that sets in half an hour.
        ThirtyMinuteEpoxy = "thirty_minute_epoxy",
        /// Resin for laminates and structure, thickened or not.
        LaminatingEpoxy = "laminating_epoxy",
        /// Instant adhesive.
        Cyanoacrylate = "cyanoacrylate",
        /// Adhesive that comes off with water or a blade.
        CanopyAdhesive = "canopy_adhesive",
        /// Tape, under pressure.
        HingeTape = "hinge_tape",
    }
}

/// Laminating resin that is colder than this does not finish, °C.
pub const DOES_NOT_FINISH_BELOW_C: f64 = 15.0;

/// Temperature at which laminating resin takes [`LAMINATING_H`], °C.
pub const LAMINATING_AT_C: f64 = 20.0;

/// Hours of laminating resin at 20 °C.
pub const LAMINATING_H: f64 = 24.0;

/// So much warmer, °C, halves the time of laminating resin.
pub const HALVES_EVERY_C: f64 = 10.0;

/// What every answer about a cure says.
pub const SOURCE: &str = "from memory; the data sheet of the resin wins";

/// How long a resin takes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Cure {
    /// The resin.
    pub resin: Resin,
    /// Temperature counted with, °C; null where it does not matter.
    pub temperature_c: Option<f64>,
    /// Hours until it may be handled.
    pub handle_after_h: f64,
    /// Hours until it may be loaded, and released.
    pub load_after_h: f64,
    /// Whether it may carry structure.
    pub is_for_structure: bool,
    /// Where the hours come from, and what wins over them.
    pub source: String,
}

/// Why there is no time of cure.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum CureError {
    /// The temperature decides and was not given.
    #[error("laminating resin cures by its temperature: give the temperature of the bench in °C")]
    TemperatureMissing,
    /// Too cold to finish.
    #[error(
        "laminating resin does not finish below {DOES_NOT_FINISH_BELOW_C} °C, and it is {0} °C: warm it, or give the \
         end of the cure by the data sheet"
    )]
    TooCold(f64),
    /// Outside what a bench can be.
    #[error(transparent)]
    OutOfRange(#[from] OutOfRange),
}

/// Hours until a resin may be handled and loaded. Laminating resin: 24 h at 20 °C, half of that for each 10 °C more,
/// twice for each 10 °C less, and never finished below 15 °C. The others are taken as they stand at room temperature.
///
/// # Errors
/// No temperature for laminating resin, one below 15 °C, one outside −20 to 90 °C.
///
/// # Source
/// From memory; the data sheet of the resin wins.
///
/// ```
/// use preen_domain::formulas::cure::{Resin, cure};
/// let warm = cure(Resin::LaminatingEpoxy, Some(30.0))?;
/// assert_eq!((warm.handle_after_h, warm.load_after_h), (12.0, 12.0));
/// assert!(cure(Resin::LaminatingEpoxy, Some(14.0)).is_err());
/// assert_eq!(cure(Resin::FiveMinuteEpoxy, None)?.load_after_h, 24.0);
/// # Ok::<(), preen_domain::formulas::cure::CureError>(())
/// ```
pub fn cure(resin: Resin, temperature_c: Option<f64>) -> Result<Cure, CureError> {
    if let Some(given) = temperature_c {
        within("temperature_c", given, -20.0, 90.0)?;
    }
    let fixed = |handle_after_h, load_after_h| (handle_after_h, load_after_h, None);
    let (handle_after_h, load_after_h, temperature_c) = match resin {
        Resin::FiveMinuteEpoxy => fixed(1.0, 24.0),
        Resin::ThirtyMinuteEpoxy => fixed(6.0, 24.0),
        Resin::Cyanoacrylate | Resin::HingeTape => fixed(1.0, 1.0),
        Resin::CanopyAdhesive => fixed(3.0, 3.0),
        Resin::LaminatingEpoxy => {
            let given = temperature_c.ok_or(CureError::TemperatureMissing)?;
            if given < DOES_NOT_FINISH_BELOW_C {
                return Err(CureError::TooCold(given));
            }
            let hours = LAMINATING_H * 2.0_f64.powf((LAMINATING_AT_C - given) / HALVES_EVERY_C);
            (hours, hours, Some(given))
        }
    };
    let is_for_structure = match resin {
        Resin::LaminatingEpoxy | Resin::ThirtyMinuteEpoxy => true,
        Resin::FiveMinuteEpoxy | Resin::Cyanoacrylate | Resin::CanopyAdhesive | Resin::HingeTape => false,
    };
    Ok(Cure {
        resin,
        temperature_c,
        handle_after_h,
        load_after_h,
        is_for_structure,
        source: SOURCE.to_owned(),
    })
}

/// Seconds of a number of hours, rounded up to the next minute: a clock time that nobody reads too early.
///
/// ```
/// use preen_domain::formulas::cure::whole_minutes_s;
/// assert_eq!(whole_minutes_s(12.0), 43_200);
/// assert_eq!(whole_minutes_s(0.0101), 60);
/// ```
#[must_use]
pub fn whole_minutes_s(hours: f64) -> i64 {
    // Counting up needs no conversion of a fraction; at most 100 000 h are counted.
    let mut seconds = 0_i64;
    let mut left_h = hours.clamp(0.0, 100_000.0);
    for (block_h, block_s) in [(1000.0, 3_600_000), (24.0, 86_400), (1.0, 3600)] {
        while left_h >= block_h {
            left_h -= block_h;
            seconds += block_s;
        }
    }
    while left_h > 1e-9 {
        left_h -= 1.0 / 60.0;
        seconds += 60;
    }
    seconds
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn warmth_shortens_the_cure_of_laminating_resin_and_of_no_other() {
        let hours = |resin, at| cure(resin, at).map(|cure| cure.load_after_h);
        assert_eq!(hours(Resin::LaminatingEpoxy, Some(20.0)), Ok(24.0));
        assert_eq!(hours(Resin::LaminatingEpoxy, Some(40.0)), Ok(6.0));
        let cold = hours(Resin::LaminatingEpoxy, Some(15.0)).expect("it just finishes");
        assert!((cold - 33.94).abs() < 0.01, "{cold}");
        assert_eq!(hours(Resin::ThirtyMinuteEpoxy, Some(40.0)), Ok(24.0));
    }

    #[test]
    fn what_has_no_cure_says_why() {
        assert_eq!(cure(Resin::LaminatingEpoxy, None), Err(CureError::TemperatureMissing));
        assert_eq!(cure(Resin::LaminatingEpoxy, Some(14.9)), Err(CureError::TooCold(14.9)));
        let refused = cure(Resin::Cyanoacrylate, Some(f64::NAN)).unwrap_err().to_string();
        assert_eq!(refused, "temperature_c must be from -20 to 90");
    }

    #[test]
    fn a_clock_time_is_never_early() {
        assert_eq!(whole_minutes_s(33.941), 33 * 3600 + 57 * 60);
        assert_eq!(whole_minutes_s(1030.5), 1030 * 3600 + 1800);
        assert_eq!(whole_minutes_s(-1.0), 0);
    }
}
