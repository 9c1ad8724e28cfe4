//! Voltage lost between the supply and a consumer: out and back through the wire, and through the contacts on both
//! ways. What the wire's resistance is, `gauge` and `stranded` say.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::formulas::range::{OutOfRange, within};

/// A lead under load.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lead {
    /// Length of the lead one way, m.
    pub length_m: f64,
    /// Resistance of each conductor, mΩ for each metre, at its temperature.
    pub mohm_per_m: f64,
    /// Contact pairs in the way: each has one contact out and one back.
    pub contact_pairs: u32,
    /// Resistance of each contact, mΩ.
    pub contact_mohm: f64,
    /// Current, A.
    pub current_a: f64,
}

/// Standard uncertainties (1u) of what a drop is computed from.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LeadUncertainty {
    /// Of the length, m.
    pub length_m: f64,
    /// Of the resistance for each metre, mΩ.
    pub mohm_per_m: f64,
    /// Of the resistance of each contact, mΩ, taken as common to all (one meter, one kind).
    pub contact_mohm: f64,
    /// Of the current, A.
    pub current_a: f64,
}

/// What is lost on the way.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Drop {
    /// Lost in all, V.
    pub drop_v: f64,
    /// Standard uncertainty (1u) of that, V, from the uncertainties given.
    pub u_drop_v: f64,
    /// Of that, lost in the wire, V.
    pub wire_v: f64,
    /// Of that, lost in the contacts, V.
    pub contacts_v: f64,
    /// How far the consumer's minus stands above the supply's, V: the way back, half of the drop. The signal wire
    /// carries no such current, so this comes off the signal's margin.
    pub ground_lift_v: f64,
    /// Heat in each contact, W.
    pub contact_heat_w: f64,
    /// Heat in both conductors together, W.
    pub wire_heat_w: f64,
}

/// Drop of a lead: U = I·(2·l·R′ + 2·n·r), out and back, with both contacts of each of n pairs.
///
/// Uncertainty by first order: u² = (U/I·u_I)² + (2·I·R′·u_l)² + (2·I·l·u_R′)² + (2·n·I·u_r)².
///
/// # Errors
/// Lengths outside 0 to 1000 m, resistances outside 0 to 1e5 mΩ, more than 100 pairs, a current outside 0 to 1000 A,
/// uncertainties outside the same ranges.
///
/// # Source
/// Ohm's law; uncertainties JCGM 100:2008, 5.1.2.
///
/// ```
/// use preen_domain::formulas::wire::drop::{Lead, LeadUncertainty, lead_drop};
/// let lead = Lead { length_m: 1.35, mohm_per_m: 133.9, contact_pairs: 3, contact_mohm: 20.0, current_a: 1.8 };
/// let lost = lead_drop(&lead, &LeadUncertainty::default())?;
/// assert_eq!(format!("{:.3} V, ground {:.2} V", lost.drop_v, lost.ground_lift_v), "0.867 V, ground 0.43 V");
/// # Ok::<(), preen_domain::formulas::range::OutOfRange>(())
/// ```
pub fn lead_drop(lead: &Lead, u: &LeadUncertainty) -> Result<Drop, OutOfRange> {
    within("length_m", lead.length_m, 0.0, 1000.0)?;
    within("mohm_per_m", lead.mohm_per_m, 0.0, 1e5)?;
    within("contact_pairs", f64::from(lead.contact_pairs), 0.0, 100.0)?;
    within("contact_mohm", lead.contact_mohm, 0.0, 1e5)?;
    within("current_a", lead.current_a, 0.0, 1000.0)?;
    within("u_length_m", u.length_m, 0.0, 1000.0)?;
    within("u_mohm_per_m", u.mohm_per_m, 0.0, 1e5)?;
    within("u_contact_mohm", u.contact_mohm, 0.0, 1e5)?;
    within("u_current_a", u.current_a, 0.0, 1000.0)?;
    let contacts = 2.0 * f64::from(lead.contact_pairs);
    let wire_ohm = 2.0 * lead.length_m * lead.mohm_per_m / 1000.0;
    let contacts_ohm = contacts * lead.contact_mohm / 1000.0;
    let wire_v = lead.current_a * wire_ohm;
    let contacts_v = lead.current_a * contacts_ohm;
    let parts = [
        (wire_ohm + contacts_ohm) * u.current_a,
        2.0 * lead.current_a * lead.mohm_per_m / 1000.0 * u.length_m,
        2.0 * lead.current_a * lead.length_m * u.mohm_per_m / 1000.0,
        contacts * lead.current_a * u.contact_mohm / 1000.0,
    ];
    Ok(Drop {
        drop_v: wire_v + contacts_v,
        u_drop_v: parts.iter().map(|part| part.powi(2)).sum::<f64>().sqrt(),
        wire_v,
        contacts_v,
        ground_lift_v: (wire_v + contacts_v) / 2.0,
        contact_heat_w: lead.current_a.powi(2) * lead.contact_mohm / 1000.0,
        wire_heat_w: lead.current_a * wire_v,
    })
}

/// How long the current flows, for the permitted drop.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Running {
    /// All the time.
    Continuous,
    /// Two minutes at most.
    Intermittent,
}

/// Permitted drop between bus and consumer by nominal voltage, in full-size aircraft: of 14, 28, 115 and 200 V.
/// `None` for other voltages: model supplies have no published value; give a limit of one's own.
///
/// # Source
/// FAA AC 43.13-1B, Table 11-6 (the intermittent column from memory).
///
/// ```
/// use preen_domain::formulas::wire::drop::{Running, permitted_drop_v};
/// assert_eq!(permitted_drop_v(28, Running::Continuous), Some(1.0));
/// assert_eq!(permitted_drop_v(6, Running::Continuous), None);
/// ```
#[must_use]
pub fn permitted_drop_v(nominal_v: u32, running: Running) -> Option<f64> {
    let continuous = match nominal_v {
        14 => 0.5,
        28 => 1.0,
        115 => 4.0,
        200 => 7.0,
        _ => return None,
    };
    Some(match running {
        Running::Continuous => continuous,
        Running::Intermittent => 2.0 * continuous,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_add_up_and_uncertainty_follows_its_only_source() {
        let lead =
            Lead { length_m: 2.0, mohm_per_m: 50.0, contact_pairs: 1, contact_mohm: 10.0, current_a: 4.0 };
        let lost = lead_drop(&lead, &LeadUncertainty { current_a: 0.4, ..LeadUncertainty::default() })
            .expect("computable");
        assert!((lost.drop_v - 0.88).abs() < 1e-12 && (lost.wire_v - 0.8).abs() < 1e-12);
        assert!((lost.u_drop_v - 0.088).abs() < 1e-12, "{}", lost.u_drop_v);
        assert!((lost.contact_heat_w - 0.16).abs() < 1e-12 && (lost.wire_heat_w - 3.2).abs() < 1e-12);
    }

    #[test]
    fn what_lies_outside_is_refused_by_name() {
        let lead =
            Lead { length_m: 1.0, mohm_per_m: 50.0, contact_pairs: 1, contact_mohm: 5.0, current_a: 1.0 };
        let refused = |lead: &Lead| lead_drop(lead, &LeadUncertainty::default()).unwrap_err().input;
        assert_eq!(refused(&Lead { length_m: -1.0, ..lead }), "length_m");
        assert_eq!(refused(&Lead { contact_pairs: u32::MAX, ..lead }), "contact_pairs");
        assert_eq!(refused(&Lead { contact_mohm: f64::NAN, ..lead }), "contact_mohm");
        assert_eq!(refused(&Lead { current_a: f64::INFINITY, ..lead }), "current_a");
    }
}
