//! Packs with their launches per charge, altimeters that the class accepts, and the check before contests.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{
    super::{Moment, defects::open_defects},
    ahead::Ahead,
    told::{ReadinessFinding, ReadyTask},
};
use crate::{
    facts::Subject,
    finding::Finding,
    fleet::{Fitted, Fleet},
    formulas::calendar::add_days,
    ids::{ComponentId, ModelId},
    time::day_of,
    words::{ClassQuantity, ComponentState, Opener, PartKind, RestrictionKind, Severity},
};

/// The check before contests is done from so many days before check-in on (common practice, no source).
const CONTEST_CHECK_DAYS: i64 = 3;

/// A pack that goes along.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PackAhead {
    /// Tag of the pack.
    pub pack: String,
    /// Tag of its type.
    pub part: String,
    /// Path of the seat; null for one taken along loose.
    pub path: Option<String>,
    /// Its kept state.
    pub state: ComponentState,
    /// Cells in series; null where its type does not say.
    pub cells: Option<u32>,
    /// Capacity read last, mAh; null where none was read.
    pub capacity_mah: Option<f64>,
    /// The same in per cent of rated.
    pub of_rated_pct: Option<f64>,
    /// Launches for each charge, where a restriction says so.
    pub launches_per_charge: Option<f64>,
    /// Charges that the contest asks of it, if it is the only one.
    pub charges_needed: i64,
    /// What that rests on.
    pub assumption: String,
}

/// An altimeter or run timer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct AltimeterAhead {
    /// Tag of the part.
    pub component: String,
    /// Tag of its type.
    pub part: String,
    /// Path of the seat.
    pub path: String,
    /// Whether somebody found its type accepted for the class; null without a class.
    pub is_accepted: Option<bool>,
}

/// The packs in a model, and those taken along.
pub(super) fn packs_ahead(
    fleet: &Fleet,
    model: ModelId,
    fitted: &[Fitted<'_>],
    along: &[ComponentId],
    ahead: &Ahead<'_>,
    moment: Moment,
) -> Vec<PackAhead> {
    let defects = open_defects(fleet, model, fitted, moment);
    let seated = fitted.iter().map(|fitted| (fitted.id, Some(fitted.path.clone())));
    let loose = along.iter().filter(|id| fitted.iter().all(|fitted| fitted.id != **id));
    let is_pack = |id: ComponentId| fleet.part_of(id).is_some_and(|part| part.kind == PartKind::Pack);
    seated
        .chain(loose.map(|id| (*id, None)))
        .filter(|(id, _)| is_pack(*id))
        .filter_map(|(id, path)| {
            let (file, part) = (fleet.component(id)?, fleet.part_of(id)?);
            let capacity_mah = file
                .measurements
                .until(moment.as_of)
                .iter()
                .rev()
                .find(|reading| reading.fact.quantity.as_str() == "capacity")
                .and_then(|reading| reading.fact.values.first().copied());
            let stated = defects
                .iter()
                .filter(|open| open.defect().subject == Subject::Component(id) || path.is_some())
                .flat_map(|open| open.restrictions())
                .filter(|one| one.kind == RestrictionKind::MaxLaunchesPerCharge)
                .filter_map(|one| one.value)
                .min_by(f64::total_cmp);
            let rounds = i64::from(ahead.rounds);
            let per_charge = stated.filter(|launches| *launches >= 1.0).unwrap_or(1.0);
            let assumption = match stated {
                Some(launches) => format!("by the restriction in force: {launches} for each charge"),
                None => {
                    "launches for each charge are not on record: one is assumed, the worst case".to_owned()
                }
            };
            Some(PackAhead {
                pack: fleet.component_tag(id),
                part: part.tag.to_string(),
                path,
                state: file.state_at(moment.as_of),
                cells: part.cells,
                capacity_mah,
                of_rated_pct: capacity_mah.zip(part.rated_capacity_mah).map(|(is, rated)| 100.0 * is / rated),
                launches_per_charge: stated,
                charges_needed: charges(rounds, per_charge),
                assumption,
            })
        })
        .collect()
}

/// Charges for so many launches, a started one counted whole.
fn charges(launches: i64, per_charge: f64) -> i64 {
    (0..=launches)
        .find(|charges| {
            f64::from(i32::try_from(*charges).unwrap_or(i32::MAX)) * per_charge
                >= f64::from(i32::try_from(launches).unwrap_or(i32::MAX))
        })
        .unwrap_or(launches)
}

/// Packs taken along loose that may not be fitted.
pub(super) fn pack_findings(model: &str, packs: &[PackAhead], ahead: &Ahead<'_>) -> Vec<ReadinessFinding> {
    let unfit = |pack: &&PackAhead| pack.path.is_none() && pack.state != ComponentState::Serviceable;
    packs
        .iter()
        .filter(unfit)
        .map(|pack| {
            let found = Finding::new(
                "pack_not_serviceable",
                Severity::Restrict,
                &pack.pack,
                format!("{} goes along and is {}", pack.pack, pack.state.as_str().replace('_', " ")),
                format!("pass its check (PK20) and put {} into service, or take another along", pack.pack),
            );
            ReadinessFinding::of(ReadyTask::DoCheck, model, found)
                .by(ahead.ready_on)
                .with_parts(vec![pack.pack.clone()])
        })
        .collect()
}

/// The altimeters in a model, and what stands against them.
pub(super) fn altimeters_ahead(
    fleet: &Fleet,
    model: &str,
    fitted: &[Fitted<'_>],
    ahead: &Ahead<'_>,
) -> (Vec<AltimeterAhead>, Vec<ReadinessFinding>) {
    let rows: Vec<AltimeterAhead> = fitted
        .iter()
        .filter_map(|fitted| {
            let part = fleet.part_of(fitted.id).filter(|part| part.kind == PartKind::Altimeter)?;
            Some(AltimeterAhead {
                component: fleet.component_tag(fitted.id),
                part: part.tag.to_string(),
                path: fitted.path.clone(),
                is_accepted: ahead.class.map(|class| part.accepted_in.contains(&class.tag)),
            })
        })
        .collect();
    let Some(class) = ahead.class else { return (rows, Vec::new()) };
    let is_asked = [ClassQuantity::MotorRun, ClassQuantity::MotorRuns]
        .into_iter()
        .any(|quantity| class.limit(quantity).is_some());
    let mut findings = Vec::new();
    if is_asked && rows.is_empty() {
        let found = Finding::new(
            "altimeter_missing",
            Severity::Ground,
            model,
            format!("{} asks for an altimeter or run timer, and none is fitted", class.tag),
            "fit one that the organiser accepts",
        );
        findings.push(ReadinessFinding::of(ReadyTask::FitPart, model, found).by(ahead.ready_on));
    }
    for row in rows.iter().filter(|row| is_asked && row.is_accepted == Some(false)) {
        let found = Finding::new(
            "altimeter_not_accepted",
            Severity::Ground,
            &row.component,
            format!(
                "nobody has found {} ({}) among what is accepted for {}",
                row.component, row.part, class.tag
            ),
            format!(
                "look for {} on the organiser's list, then name {} in `accepted_in` of part type {}",
                row.part, class.tag, row.part
            ),
        );
        findings.push(
            ReadinessFinding::of(ReadyTask::AcceptPart, model, found)
                .by(ahead.ready_on)
                .with_parts(vec![row.component.clone()]),
        );
    }
    (rows, findings)
}

/// The check before contests, where it was not passed in the days before check-in.
pub(super) fn contest_check(
    fleet: &Fleet,
    model: ModelId,
    ahead: &Ahead<'_>,
    moment: Moment,
) -> Vec<ReadinessFinding> {
    let Some(programme) = fleet.programme_of(Some(model)).filter(|_| ahead.is_contest) else {
        return Vec::new();
    };
    let zone = fleet.club().zone;
    let from = add_days(ahead.ready_on, -CONTEST_CHECK_DAYS).unwrap_or(ahead.ready_on);
    let is_done = |code: &str| {
        fleet.model(model).is_some_and(|file| {
            file.inspections.until(moment.as_of).iter().any(|check| {
                check.fact.group.as_str() == code
                    && fleet.is_done(&check.fact)
                    && day_of(check.fact.occurred_at, zone) >= from
            })
        })
    };
    let groups = programme.fact.groups.iter().filter(|group| group.opened_by == Some(Opener::ContestEntry));
    let open = groups.filter(|group| !is_done(group.code.as_str()));
    open.map(|group| {
        let found = Finding::new(
            "contest_check_open",
            Severity::Ground,
            group.code.as_str(),
            format!("{} ({}) is done from {from} to check-in", group.code, group.name),
            format!("pass {} ({})", group.code, group.name),
        );
        let mut found =
            ReadinessFinding::of(ReadyTask::DoCheck, &fleet.model_tag(model), found).by(ahead.ready_on);
        found.not_before_on = Some(from).filter(|from| *from > moment.on);
        found
    })
    .collect()
}
