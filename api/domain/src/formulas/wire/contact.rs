//! Contacts: the class of a contact resistance, and the least force a sample crimp must hold. Heat and drop of
//! contacts under load live in `drop`.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::formulas::class::ClassLimits;
use crate::formulas::range::{OutOfRange, within};
use crate::words::Severity;

/// Resistance of one contact, mΩ, measured with four wires at 1 A: starting values of a club, common practice, no
/// source.
pub const CONTACT_LIMITS_MOHM: ClassLimits = ClassLimits::new(10.0, 20.0, 40.0);

/// Most contacts of one connector taken.
pub const MOST_CONTACTS: usize = 200;

/// Where a least pull-off force comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum CrimpSource {
    /// UL 486A as given in connector application specifications 114-2157 rev G and 114-2161 rev F (name of the
    /// standard from memory).
    Ul486a,
    /// Workmanship standards, from memory: check before relying on it.
    FromMemory,
}

/// Gauge and least pull-off force in N. Source: see [`CrimpSource`].
pub const CRIMP_PULL_OFF: [(i32, f64, CrimpSource); 11] = [
    (28, 9.0, CrimpSource::FromMemory),
    (26, 13.4, CrimpSource::Ul486a),
    (24, 22.3, CrimpSource::Ul486a),
    (22, 35.6, CrimpSource::Ul486a),
    (20, 57.9, CrimpSource::Ul486a),
    (18, 89.0, CrimpSource::Ul486a),
    (16, 133.5, CrimpSource::Ul486a),
    (14, 222.5, CrimpSource::Ul486a),
    (12, 311.5, CrimpSource::Ul486a),
    (10, 356.0, CrimpSource::Ul486a),
    (8, 400.5, CrimpSource::Ul486a),
];

/// What a crimp must hold.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CrimpLimit {
    /// Gauge.
    pub awg: i32,
    /// Least force at which it may come off, N.
    pub least_n: f64,
    /// Where that comes from.
    pub source: CrimpSource,
}

/// The least pull-off force of a crimp on a gauge; `None` for gauges that no source here holds.
///
/// # Source
/// See [`CrimpSource`].
///
/// ```
/// use preen_domain::formulas::wire::contact::crimp_limit;
/// assert_eq!(crimp_limit(24).map(|limit| limit.least_n), Some(22.3));
/// assert_eq!(crimp_limit(23), None);
/// ```
#[must_use]
pub fn crimp_limit(awg: i32) -> Option<CrimpLimit> {
    CRIMP_PULL_OFF.iter().find(|(gauge, ..)| *gauge == awg).map(|(awg, least_n, source)| CrimpLimit {
        awg: *awg,
        least_n: *least_n,
        source: *source,
    })
}

/// The class of a sample that came off at `pulled_n`: below the least force it grounds what was crimped like it.
///
/// # Errors
/// A force outside 0 to 1e5 N.
///
/// ```
/// use preen_domain::formulas::wire::contact::{crimp_limit, judge_crimp};
/// use preen_domain::words::Severity;
/// let limit = crimp_limit(26).ok_or("a gauge of the table")?;
/// assert_eq!(judge_crimp(&limit, 12.0)?, Some(Severity::Ground));
/// assert_eq!(judge_crimp(&limit, 13.4)?, None);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn judge_crimp(limit: &CrimpLimit, pulled_n: f64) -> Result<Option<Severity>, OutOfRange> {
    within("pulled_n", pulled_n, 0.0, 1e5)?;
    Ok((pulled_n < limit.least_n).then_some(Severity::Ground))
}

/// The worst of the contacts of one connector.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WorstContact {
    /// Which one, counted from 1.
    pub contact: usize,
    /// Its resistance, mΩ.
    pub mohm: f64,
    /// Its class; absent: better than all limits.
    pub class: Option<Severity>,
}

/// The contact with the largest resistance and its class: a connector is judged on its worst contact.
///
/// # Errors
/// No contacts or more than [`MOST_CONTACTS`], resistances outside 0 to 1e6 mΩ.
///
/// ```
/// use preen_domain::formulas::wire::contact::{CONTACT_LIMITS_MOHM, worst_contact};
/// use preen_domain::words::Severity;
/// let worst = worst_contact(&[6.0, 22.0, 7.5], &CONTACT_LIMITS_MOHM)?;
/// assert_eq!((worst.contact, worst.class), (2, Some(Severity::Restrict)));
/// # Ok::<(), preen_domain::formulas::range::OutOfRange>(())
/// ```
pub fn worst_contact(mohm: &[f64], limits: &ClassLimits) -> Result<WorstContact, OutOfRange> {
    let none = OutOfRange { input: "contacts_mohm (values)", least: 1.0, most: 200.0 };
    if mohm.len() > MOST_CONTACTS {
        return Err(none);
    }
    for value in mohm {
        within("contacts_mohm", *value, 0.0, 1e6)?;
    }
    let worst = mohm.iter().copied().enumerate().max_by(|(_, one), (_, other)| one.total_cmp(other));
    let (index, mohm) = worst.ok_or(none)?;
    Ok(WorstContact { contact: index + 1, mohm, class: limits.rising(mohm) })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_lies_outside_is_refused_by_name() {
        let refused =
            |mohm: &[f64]| worst_contact(mohm, &CONTACT_LIMITS_MOHM).map_err(|why| why.input).unwrap_err();
        assert_eq!(refused(&[]), "contacts_mohm (values)");
        assert_eq!(refused(&[1.0; 201]), "contacts_mohm (values)");
        assert_eq!(refused(&[5.0, f64::NAN]), "contacts_mohm");
        let limit = crimp_limit(28).expect("a gauge of the table");
        assert_eq!(judge_crimp(&limit, -1.0).map_err(|why| why.input), Err("pulled_n"));
    }
}
