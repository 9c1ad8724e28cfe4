//! Lots of consumables and counted slugs.

use super::Verdict;
use crate::{
    facts::{Lot, Slug},
    fleet::Fleet,
};

pub(super) fn check_lot(lot: &Lot, verdict: &mut Verdict) {
    verdict.range("/quantity", lot.quantity, 0.0, 1e6, lot.unit.as_str());
    if let (Some(opened_on), Some(use_by_on)) = (lot.opened_on, lot.use_by_on)
        && use_by_on < opened_on
    {
        verdict.value(
            "out_of_date_when_opened",
            "/use_by_on",
            "the last day lies before the day it was opened",
        );
    }
}

pub(super) fn check_slug(fleet: &Fleet, slug: &Slug, verdict: &mut Verdict) {
    verdict.range("/mass_g", slug.mass_g, 0.01, 5000.0, "g");
    verdict.range("/count", f64::from(slug.count), 0.0, 10_000.0, "slugs");
    if let Some(design) = slug.design {
        verdict.design(fleet, "/design", design);
    }
}
