//! Readings at or beyond a limit that no open defect speaks of. Parts held, in quarantine, in repair or scrapped are
//! left out: nobody flies them.

use super::{Audit, Family, FoundReading, PlacedFinding};
use crate::answers::readings::{Judged, beyond_limits, finding, is_answered, model_beyond_limits};

pub(super) fn look(audit: &Audit<'_>, list: &mut Vec<PlacedFinding>) {
    let as_of = audit.moment.as_of;
    for (tag, model) in &audit.models {
        for judged in model_beyond_limits(audit.fleet, *model, as_of) {
            if !is_answered(audit.fleet, &judged, as_of) {
                list.push(PlacedFinding {
                    reading: Some(reading_of(&judged)),
                    ..PlacedFinding::new(Family::Readings, finding(&judged, tag, None)).in_model(tag)
                });
            }
        }
    }
    for (id, _) in audit.components() {
        let Some(whereabouts) = audit.whereabouts(id) else { continue };
        let model = whereabouts.model.as_ref().map(|(model, _)| *model);
        let path = whereabouts.place.as_deref();
        for judged in beyond_limits(audit.fleet, model, id, as_of) {
            if is_answered(audit.fleet, &judged, as_of) {
                continue;
            }
            let found = finding(&judged, &audit.fleet.component_tag(id), path);
            list.push(PlacedFinding {
                reading: Some(reading_of(&judged)),
                ..PlacedFinding::new(Family::Readings, found).at(&whereabouts)
            });
        }
    }
}

fn reading_of(judged: &Judged<'_>) -> FoundReading {
    FoundReading::of(judged.measurement, &judged.quantity, judged.value, &judged.unit)
}
