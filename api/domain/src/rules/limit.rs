//! Limits of the club: their unit, and what a new limit or a new programme would let through that those in force hold
//! back. Who may let it through is said by the access rule.

use std::collections::BTreeSet;

use super::{Verdict, programme::check_limit};
use crate::{
    facts::{ClubLimit, Limit, Programme},
    fleet::{Fleet, limits_with},
    ids::ModelId,
    quantities::quantity,
    words::Severity,
};

pub(super) fn check(fleet: &Fleet, limit: &ClubLimit, verdict: &mut Verdict) {
    check_limit(&limit.limit, "/limit", verdict);
    check_unit(fleet, &limit.limit, verdict);
}

/// A limit in another unit than the readings would hold for none of them.
fn check_unit(fleet: &Fleet, limit: &Limit, verdict: &mut Verdict) {
    let name = limit.quantity.as_str();
    let mut units: Vec<&str> = fleet
        .programmes()
        .flat_map(|(_, programme)| programme.fact.items.iter())
        .flat_map(|item| item.limits.iter())
        .filter(|known| known.quantity == limit.quantity)
        .map(|known| known.unit.as_str())
        .chain(quantity(name).map(|known| known.unit))
        .collect();
    units.sort_unstable();
    units.dedup();
    if !units.is_empty() && !units.contains(&limit.unit.as_str()) {
        verdict.value(
            "wrong_unit",
            "/limit/unit",
            format!(
                "`{name}` is read in {}: give the limit in that, not in {}",
                units.join(" or "),
                limit.unit
            ),
        );
    }
}

/// What a limit of the club would let through, in one sentence; `None` if it lets nothing through.
///
/// All limits in force are compared before and after, for every programme, kind of position and class: so neither small
/// steps, nor fewer kinds of position, nor another side, nor a second limit hide what becomes milder.
pub(super) fn relaxed_by_limit(fleet: &Fleet, new: &ClubLimit) -> Option<String> {
    let before: Vec<&ClubLimit> = fleet.limits().map(|(_, limit)| &limit.fact).collect();
    let after: Vec<&ClubLimit> =
        before.iter().copied().filter(|known| known.id != new.id).chain(std::iter::once(new)).collect();
    let mut subjects = BTreeSet::from([subject(&new.limit)]);
    subjects.extend(before.iter().filter(|known| known.id == new.id).map(|known| subject(&known.limit)));
    fleet.programmes().find_map(|(_, programme)| {
        let programme = &programme.fact;
        milder((&before, programme), (&after, programme), &subjects)
    })
}

/// What a programme would let through that those in force hold back, in one sentence.
pub(super) fn relaxed_by_programme(fleet: &Fleet, new: &Programme) -> Option<String> {
    let of_club: Vec<&ClubLimit> = fleet.limits().map(|(_, limit)| &limit.fact).collect();
    let models = fleet.models().map(|(id, _)| Some(id)).chain(std::iter::once(None));
    let mut compared = BTreeSet::new();
    for model in models {
        let Some(before) = fleet.programme_of(model) else { continue };
        let after = programme_after(fleet, new, model);
        if !compared.insert((before.fact.id, after.map(|after| after.id))) {
            continue;
        }
        let Some(after) = after else {
            return Some(format!("{} would hold for no model any more", before.fact.tag));
        };
        let items = before.fact.items.iter().chain(&after.items);
        let subjects = items.flat_map(|item| item.limits.iter().map(subject)).collect();
        let found = milder((&of_club, &before.fact), (&of_club, after), &subjects);
        if found.is_some() {
            return found;
        }
    }
    None
}

/// The programme that would be in force for a model with a new one on record.
fn programme_after<'a>(
    fleet: &'a Fleet,
    new: &'a Programme,
    model: Option<ModelId>,
) -> Option<&'a Programme> {
    let design = model.and_then(|model| fleet.model_data(model)).map(|data| data.design);
    fleet
        .programmes()
        .filter(|(id, _)| *id != new.id)
        .map(|(_, known)| (&known.fact, known.revision))
        .chain(std::iter::once((new, i64::MAX)))
        .filter(|(known, _)| {
            known.model.is_none_or(|named| Some(named) == model)
                && known.design.is_none_or(|named| Some(named) == design)
        })
        .max_by_key(|(known, revision)| (known.model.is_some(), known.design.is_some(), *revision))
        .map(|(known, _)| known)
}

/// A quantity in a unit.
fn subject(limit: &Limit) -> (String, String) {
    (limit.quantity.to_string(), limit.unit.to_string())
}

type Holding<'a> = (&'a [&'a ClubLimit], &'a Programme);

/// The first value, kind of position and quantity for which what holds after is milder than what held before.
fn milder(before: Holding<'_>, after: Holding<'_>, subjects: &BTreeSet<(String, String)>) -> Option<String> {
    subjects.iter().find_map(|(quantity, unit)| {
        let related: Vec<&Limit> = [before, after]
            .into_iter()
            .flat_map(|(of_club, programme)| {
                let own = of_club.iter().map(|club| &club.limit);
                own.chain(programme.items.iter().flat_map(|item| item.limits.iter()))
            })
            .filter(|limit| limit.quantity.as_str() == quantity && limit.unit.as_str() == unit)
            .collect();
        let values = probes(&related);
        kinds(&related).into_iter().find_map(|kind| {
            let class = |(of_club, programme): Holding<'_>, value: f64| -> Option<Severity> {
                limits_with(of_club.iter().copied(), programme, kind, quantity, unit)
                    .into_iter()
                    .filter_map(|in_force| in_force.limit.severity_of(value))
                    .max()
            };
            values.iter().find_map(|value| {
                let (was, would_be) = (class(before, *value), class(after, *value));
                (would_be < was).then(|| {
                    let place = kind.map(|kind| format!(" ({kind})")).unwrap_or_default();
                    let word = |class: Option<Severity>| class.map_or("good", Severity::as_str);
                    format!(
                        "{quantity} of {value} {unit}{place} is {} and would be {}",
                        word(was),
                        word(would_be)
                    )
                })
            })
        })
    })
}

/// The kinds of position that limits name, and none of them.
fn kinds<'a>(limits: &[&'a Limit]) -> Vec<Option<&'a str>> {
    let named: BTreeSet<&str> =
        limits.iter().flat_map(|limit| limit.position_kinds.iter().map(crate::text::Text::as_str)).collect();
    named.into_iter().map(Some).chain(std::iter::once(None)).collect()
}

/// Values between which no class can change: every limit, between each two, and beyond both ends.
fn probes(limits: &[&Limit]) -> Vec<f64> {
    let mut steps: Vec<f64> =
        limits.iter().flat_map(|limit| [limit.watch, limit.restrict, limit.ground]).flatten().collect();
    steps.sort_by(f64::total_cmp);
    steps.dedup();
    let between: Vec<f64> = steps
        .windows(2)
        .filter_map(|pair| match pair {
            [low, high] => Some(f64::midpoint(*low, *high)),
            _ => None,
        })
        .collect();
    let ends = [steps.first().map(|first| first - 1.0), steps.last().map(|last| last + 1.0)];
    steps.into_iter().chain(between).chain(ends.into_iter().flatten()).collect()
}
