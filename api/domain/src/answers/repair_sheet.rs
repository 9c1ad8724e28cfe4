//! The work sheet of one repair: what is ticked and by whom, what cures until when, what still stands against the
//! release, and who may give it.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{
    joiner_loss::{JoinerLoss, joiner_losses},
    repair_told::told_material,
};
use crate::{
    facts::{Recorded, Repair, RepairStep},
    finding::Finding,
    fleet::{Fleet, RepairFile, cure_of},
    formulas::{
        cure::SOURCE,
        joiner::sanding::{NEVER_MM, WITHOUT_INSPECTOR_MM},
        wire::slack::{KEPT_MM, TAKEN_EACH_MM, slack_left},
    },
    ids::RepairId,
    rules::release::{checked_after, needs_check_before, open_on_sheet, who_may},
    time::{Instant, day_of},
    words::{RepairKind, Severity, StepResult},
    worksheets::{ReleasedBy, Reopened, SecondPerson, WorkClass, worksheet},
};

/// The work sheet of one repair as it stands.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct RepairSheet {
    /// Tag of the repair, or its id.
    pub repair: String,
    /// Tag of the model.
    pub model: String,
    /// Tags of the parts it is done on.
    pub parts: Vec<String>,
    /// Its kind.
    pub kind: RepairKind,
    /// Name of the kind.
    pub title: String,
    /// What was said when it was started.
    pub text: String,
    /// When it was started.
    pub started_at: Instant,
    /// How much hangs on it.
    pub class_of_work: WorkClass,
    /// What a second person has to do.
    pub second_person: SecondPerson,
    /// Who releases it.
    pub released_by: ReleasedBy,
    /// Whether anything was ticked; older entries have no sheet.
    pub is_kept: bool,
    /// The steps, in order.
    pub steps: Vec<SheetRow>,
    /// Tags of everybody who worked on it.
    pub workers: Vec<String>,
    /// Tags of second persons who looked at it.
    pub looked_at_by: Vec<String>,
    /// Material used, in the order of entry.
    pub materials: Vec<String>,
    /// Material that stays on, g.
    pub mass_added_g: f64,
    /// End of all cures; null: nothing cures.
    pub cure_until_at: Option<Instant>,
    /// Seconds left until then; 0: cured.
    pub cure_left_s: i64,
    /// Where the time of the cure comes from, and what wins over it.
    pub cure_source: Option<String>,
    /// What it sanded off joiners, with the life of each face and the loss of section.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub joiners: Vec<JoinerLoss>,
    /// Limits that hold.
    pub limits: Vec<String>,
    /// What has to be looked at again.
    pub reopens: Vec<Reopened>,
    /// When it was released.
    pub released_at: Option<Instant>,
    /// What stands against a release now; empty where it is released.
    pub blocked_by: Vec<Finding>,
    /// Members who may give the release by their roles and because they did not do the work.
    pub may_release: Vec<SheetMember>,
    /// What is worth knowing before going on.
    pub findings: Vec<Finding>,
}

/// One step of the sheet.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SheetRow {
    /// Its number.
    pub number: u32,
    /// What is done.
    pub text: String,
    /// What can hurt a person or the model at this step.
    pub caution: Option<String>,
    /// What is recorded at this step.
    pub record: Option<String>,
    /// Whether it may be left out without a word.
    pub is_optional: bool,
    /// What became of it; null: open.
    pub result: Option<StepResult>,
    /// Tag of who ticked it.
    pub by: Option<String>,
    /// When.
    pub at: Option<Instant>,
    /// Why it is not applicable.
    pub reason: Option<String>,
}

/// A member who may release.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SheetMember {
    /// Tag of the member.
    pub member: String,
    /// Whether the member worked on it and so needs somebody else to read it back.
    pub is_worker: bool,
}

/// What a release does to the sheet of its repair.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ReleaseShown {
    /// Whether nothing was recorded.
    pub is_preview: bool,
    /// The sheet with the release.
    pub sheet: RepairSheet,
}

/// The work sheet of a repair at a moment. `None` if there is no such repair, or not yet.
#[must_use]
pub fn repair_sheet(fleet: &Fleet, id: RepairId, as_of: Instant) -> Option<RepairSheet> {
    let file = fleet.repair(id)?;
    let repair = &file.repair.as_ref()?.fact;
    if repair.occurred_at > as_of {
        return None;
    }
    let sheet = worksheet(repair.kind);
    let workers = file.workers(as_of);
    let entries = file.steps.until(as_of);
    let cure_until_at = file.cure_until(as_of);
    let released_at = file.releases.until(as_of).first().map(|release| release.fact.occurred_at);
    let is_by_table =
        entries.iter().any(|entry| entry.fact.resin.is_some() && entry.fact.cure_until_at.is_none());
    let mut may_release: Vec<SheetMember> = who_may(fleet, file, repair, as_of)
        .into_iter()
        .map(|id| SheetMember { member: fleet.member_tag(id), is_worker: workers.contains(&id) })
        .collect();
    may_release.sort_by(|a, b| a.member.cmp(&b.member));
    let source = if is_by_table { SOURCE } else { "as stated; the data sheet of the resin wins" };
    Some(RepairSheet {
        repair: repair.name(),
        model: fleet.model_tag(repair.model),
        parts: repair.components.iter().map(|part| fleet.component_tag(*part)).collect(),
        kind: repair.kind,
        title: sheet.title.clone(),
        text: repair.text.to_string(),
        started_at: repair.occurred_at,
        class_of_work: sheet.class_of_work,
        second_person: sheet.second_person,
        released_by: sheet.released_by,
        is_kept: file.keeps_sheet(as_of),
        steps: rows(fleet, file, repair, as_of),
        workers: workers.iter().map(|member| fleet.member_tag(*member)).collect(),
        looked_at_by: file.lookers(as_of).iter().map(|member| fleet.member_tag(*member)).collect(),
        materials: entries
            .iter()
            .flat_map(|entry| entry.fact.materials.iter())
            .map(|used| told_material(fleet, used))
            .collect(),
        mass_added_g: repair.material_mass_g
            + entries.iter().map(|entry| entry.fact.mass_added_g).sum::<f64>(),
        cure_until_at,
        cure_left_s: cure_until_at.map_or(0, |until| until.seconds_since(as_of).max(0)),
        cure_source: cure_until_at.map(|_| source.to_owned()),
        joiners: joiner_losses(fleet, file, as_of),
        limits: sheet.limits.clone(),
        reopens: sheet.reopens.clone(),
        released_at,
        blocked_by: if released_at.is_some() { Vec::new() } else { blocked_by(fleet, file, repair, as_of) },
        may_release,
        findings: findings(fleet, file, repair, entries, as_of),
    })
}

fn rows(fleet: &Fleet, file: &RepairFile, repair: &Repair, as_of: Instant) -> Vec<SheetRow> {
    let row = |step: &crate::worksheets::SheetStep| {
        let ticked = file.tick(step.number, as_of);
        SheetRow {
            number: step.number,
            text: step.text.clone(),
            caution: step.caution.clone(),
            record: step.record.clone(),
            is_optional: step.is_optional,
            result: ticked.map(|(_, tick)| tick.result),
            by: ticked.map(|(entry, _)| fleet.member_tag(entry.fact.done_by.unwrap_or(entry.recorded_by))),
            at: ticked.map(|(entry, _)| entry.fact.occurred_at),
            reason: ticked.and_then(|(_, tick)| tick.reason.as_ref().map(ToString::to_string)),
        }
    };
    worksheet(repair.kind).steps.iter().map(row).collect()
}

/// What stands against a release at a moment, whoever gives it.
fn blocked_by(fleet: &Fleet, file: &RepairFile, repair: &Repair, as_of: Instant) -> Vec<Finding> {
    let name = repair.name();
    let mut list = Vec::new();
    let mut say = |code: &str, text: String, clear_by: String| {
        list.push(Finding::new(code, Severity::Ground, &name, text, clear_by));
    };
    if let Some(until) = file.cure_until(as_of).filter(|until| as_of < *until) {
        say("still_curing", format!("it cures until {until}"), format!("wait until {until}"));
    }
    let (open, missing) = open_on_sheet(file, repair, as_of);
    if !open.is_empty() {
        let numbers = open.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
        say(
            "steps_open",
            format!("step {numbers} of sheet {} is open", repair.kind),
            format!("tick step {numbers}, or say why one is not applicable"),
        );
    }
    if let Some(detail) = missing {
        say(
            "detail_missing",
            format!("sheet {} keeps `{detail}`, and nothing is recorded of it", repair.kind),
            format!("record `{detail}` with a step"),
        );
    }
    if needs_check_before(file, repair, as_of)
        && let Some((group, false)) = checked_after(fleet, file, repair, as_of)
    {
        say(
            "not_checked_after_repair",
            format!("{group} was not passed since the work was over and cured"),
            format!("pass {group} when it is cured"),
        );
    }
    list
}

fn findings(
    fleet: &Fleet,
    file: &RepairFile,
    repair: &Repair,
    entries: &[Recorded<RepairStep>],
    as_of: Instant,
) -> Vec<Finding> {
    let mut list = Vec::new();
    for part in &repair.components {
        let tag = fleet.component_tag(*part);
        if repair.kind == RepairKind::ConnectorRetermination {
            list.push(slack_finding(fleet, *part, &tag, as_of));
        }
        let worn_mm = fleet.sanded(*part, as_of, None).deepest_mm();
        if worn_mm > 0.0 {
            list.push(Finding::new(
                "sanded_in_its_life",
                Severity::Watch,
                &tag,
                format!(
                    "{tag} has lost {worn_mm:.2} mm from a face in its life; over {WITHOUT_INSPECTOR_MM:.2} mm needs an \
                     inspector, {NEVER_MM:.2} mm never goes"
                ),
                "re-sleeve or replace it before that",
            ));
        }
    }
    for entry in entries {
        let on = day_of(entry.fact.occurred_at, fleet.club().zone);
        for lot in entry.fact.materials.iter().filter_map(|used| fleet.lot(used.lot?)) {
            let lot = &lot.fact;
            if let Some(last_on) = lot.use_by_on.filter(|last_on| on > *last_on) {
                list.push(Finding::new(
                    "lot_out_of_date",
                    Severity::Watch,
                    lot.tag.as_str(),
                    format!(
                        "lot {} ({}) was to be used by {last_on}, and was used on {on}",
                        lot.tag, lot.item
                    ),
                    "take another lot next time",
                ));
            }
        }
        if let Some(until) = cure_of(file.worksheet(), &entry.fact)
            && entry.fact.resin.is_some_and(|_| entry.fact.cure_until_at.is_some())
        {
            list.push(Finding::new(
                "cure_stated",
                Severity::Watch,
                repair.name(),
                format!("the end of the cure, {until}, is stated and not taken from the table"),
                "hold it against the data sheet",
            ));
        }
    }
    list
}

fn slack_finding(fleet: &Fleet, half: crate::ids::ComponentId, tag: &str, as_of: Instant) -> Finding {
    let Some(slack) = fleet.lead_slack(half, as_of, None) else {
        return Finding::new(
            "slack_unknown",
            Severity::Watch,
            tag,
            format!("the slack of {tag} was never read: nobody knows how often it can still be terminated"),
            "measure `lead_slack` before cutting",
        );
    };
    let left_mm = slack.left_mm();
    let times = slack_left(left_mm, KEPT_MM, TAKEN_EACH_MM).map_or(0, |left| left.re_terminations);
    let text = match times {
        0 => format!("{tag} has {left_mm} mm of slack left: none for another re-termination"),
        1 => format!("{tag} has {left_mm} mm of slack left: the next re-termination is the last"),
        more => format!("{tag} has {left_mm} mm of slack left for {more} re-terminations"),
    };
    let (code, clear_by) = match times {
        0 => ("no_slack_left", "splice in an extension with staggered joints, or replace the lead"),
        1 => ("last_retermination", "plan an extension or a new lead before the next failure"),
        _ => ("slack_left", "nothing to do"),
    };
    Finding::new(code, Severity::Watch, tag, text, clear_by)
}
