//! Which field of a linkage question is at fault when a formula refuses.

use super::super::BadQuestion;
use crate::formulas::linkage::LinkageError;
use crate::formulas::linkage::fit::FitError;
use crate::formulas::linkage::proposal::ProposalError;

/// The fault of a formula that was given numbers from below `base`.
pub(super) fn bad_linkage(base: &str, why: LinkageError) -> BadQuestion {
    let pointer = match why {
        LinkageError::NotFinite { field }
        | LinkageError::NotPositive { field }
        | LinkageError::Negative { field }
        | LinkageError::OutOfRange { field, .. }
        | LinkageError::LongerThanGround { field, .. } => match place(field) {
            Some(place) => place.to_owned(),
            None => format!("{base}/{field}"),
        },
        LinkageError::CannotAssemble { .. } => format!("{base}/rod_mm"),
        LinkageError::PassesArmDeadPoint { .. }
        | LinkageError::PassesHornDeadPoint { .. }
        | LinkageError::AtDeadPoint { .. }
        | LinkageError::OutOfReach { .. }
        | LinkageError::TooLarge => base.to_owned(),
    };
    BadQuestion::at(pointer, &why)
}

/// Fields that stand at one place, wherever the formula was asked from.
fn place(field: &str) -> Option<&'static str> {
    Some(match field {
        "chord_mm" => "/surface/chord_mm",
        "span_mm" => "/surface/span_mm",
        "chord_ratio" => "/surface/chord_ratio",
        "servo_play_deg" => "/servo_play_deg",
        "hole_play_mm" => "/hole_play_mm",
        "density_kg_m3" => "/density_kg_m3",
        "efficiency" => "/efficiency",
        "servo_torque_nm" => "/servo_torque_nm",
        "length_mm" => "/uncertainty/length_mm",
        "angle_deg" => "/uncertainty/angle_deg",
        _ => return None,
    })
}

/// A servo angle of a list.
pub(super) fn bad_angle(list: &str, index: usize, why: LinkageError) -> BadQuestion {
    match bad_linkage("", why) {
        // Its own field is an entry of the list.
        bad if bad.pointer.is_empty() || bad.pointer == "/servo_deg" => {
            BadQuestion::at(format!("{list}/{index}"), &why)
        }
        bad => bad,
    }
}

pub(super) fn bad_wanted(why: ProposalError) -> BadQuestion {
    match why {
        ProposalError::Linkage(why) => bad_linkage("/wanted", why),
        ProposalError::BadSteps { field } => BadQuestion::at(format!("/wanted/{field}"), &why),
        ProposalError::TooMany { .. } => BadQuestion::at("/wanted/arm_mm", &why),
        ProposalError::Cover(_) => BadQuestion::at("/wanted/cover", &why),
        ProposalError::NothingReaches { .. } => BadQuestion::at("/wanted", &why),
    }
}

pub(super) fn bad_fit(why: FitError) -> BadQuestion {
    match why {
        FitError::Start(why) => bad_linkage("/geometry", why),
        FitError::Point { point, .. } => BadQuestion::at_row("/measured/points", point, &why),
        FitError::NoUnknowns | FitError::NotTold { .. } => BadQuestion::at("/measured/unknowns", &why),
        FitError::TooFewPoints { .. }
        | FitError::TooManyPoints
        | FitError::NoSpread
        | FitError::NoMovement
        | FitError::NotFound => BadQuestion::at("/measured/points", &why),
    }
}
