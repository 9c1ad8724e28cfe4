//! Questions about the whole fleet: boards, lists, the audit, campaigns, defects and repairs.

use super::{Asked, Refused, Sight, make_whole, resolve};
use crate::{
    answers::{
        self, CAUTION, CampaignList, CampaignProgress, Changes, DefectStanding, DueList, FindingCounts,
        Findings, FleetBoard, OpenQuestions, RepairSheet, Stock, WhereQuestion, Whereabouts, due_of_model,
        findings_of_model, may_fly_one, open_questions,
    },
    facts::{Fact, Noun, Question, QuestionReason, Recorded},
    fleet::Fleet,
    ids::{CampaignId, ComponentId, DefectId, PartId, RepairId},
    rules::may::{may_read_names, may_see, may_see_defect},
    text::Tag,
    words::Severity,
};

pub(super) const MAY_FLY: &[&str] = &["model"];
pub(super) const DUE: &[&str] = &["model", "group"];
pub(super) const FINDINGS: &[&str] = &["model", "severity", "code"];
pub(super) const WHERE: &[&str] = &["component", "part", "batch", "position_kind"];
pub(super) const STOCK: &[&str] = &["part"];
pub(super) const PROGRESS: &[&str] = &["models"];

/// Which models may fly on the day asked about; with the parameter `model` that one alone.
///
/// # Errors
/// There is no such model for the asker.
pub fn may_fly<'a>(asked: &Asked<'a>) -> Result<impl FnOnce() -> FleetBoard + use<'a>, Refused> {
    let (asked, model) = (*asked, asked.model_asked_for()?);
    Ok(move || match model {
        Some(model) => {
            let verdict = may_fly_one(asked.fleet, model, asked.moment);
            FleetBoard {
                on: asked.moment.on,
                models: verdict.into_iter().collect(),
                caution: CAUTION.to_owned(),
            }
        }
        None => {
            let mut board = answers::may_fly(asked.fleet, asked.moment);
            board.models.retain(|verdict| asked.sees_model_tagged(&verdict.model));
            board
        }
    })
}

/// How the checks stand against their due points; with `model` and `group` those alone.
///
/// # Errors
/// There is no such model for the asker.
pub fn due<'a>(asked: &Asked<'a>) -> Result<impl FnOnce() -> DueList + use<'a>, Refused> {
    let (asked, model) = (*asked, asked.model_asked_for()?);
    Ok(move || {
        let mut list = match model {
            Some(model) => {
                DueList { on: asked.moment.on, items: due_of_model(asked.fleet, model, asked.moment) }
            }
            None => answers::due(asked.fleet, asked.moment),
        };
        list.items.retain(|item| {
            asked.sees_model_tagged(&item.model)
                && asked.parameter("group").is_none_or(|group| group == item.group)
        });
        list
    })
}

/// The audit of the record; with `model`, `severity`, `code` what fits these alone.
///
/// # Errors
/// There is no such model for the asker, or no such class of findings.
pub fn findings<'a>(asked: &Asked<'a>) -> Result<impl FnOnce() -> Findings + use<'a>, Refused> {
    let asked = *asked;
    let model = asked.model_asked_for()?;
    let severity: Option<Severity> = asked
        .parameter("severity")
        .map(str::parse)
        .transpose()
        .map_err(|unknown| Refused::parameter("severity", format!("{unknown}.")))?;
    Ok(move || {
        let mut audit = match model {
            Some(model) => findings_of_model(asked.fleet, model, asked.moment),
            None => audit_seen(&asked),
        };
        audit.findings.retain(|found| {
            severity.is_none_or(|wanted| wanted == found.finding.severity)
                && asked.parameter("code").is_none_or(|wanted| wanted == found.finding.code)
        });
        Findings { counts: FindingCounts::of(&audit.findings), ..audit }
    })
}

/// The audit as far as the asker sees it.
#[must_use]
pub fn audit_seen(asked: &Asked<'_>) -> Findings {
    let mut audit = answers::findings(asked.fleet, asked.moment);
    if !asked.sees_all {
        // What is about no model is about the club: for those who see all of it.
        audit
            .findings
            .retain(|found| found.model.as_ref().is_some_and(|model| asked.sees_model_tagged(model)));
        audit.counts = FindingCounts::of(&audit.findings);
    }
    audit
}

/// Where the parts asked for are.
///
/// # Errors
/// A parameter names what is not there, or two part types.
pub fn whereabouts<'a>(asked: &Asked<'a>) -> Result<impl FnOnce() -> Whereabouts + use<'a>, Refused> {
    let asked = *asked;
    let mut question = WhereQuestion {
        component: asked.item("component", Noun::Components)?.map(ComponentId),
        part: asked.item("part", Noun::Parts)?.map(PartId),
        batch: None,
        position_kind: asked.parameter("position_kind").map(ToOwned::to_owned),
    };
    if let Some(text) = asked.parameter("batch") {
        let batch = match text.split_once('/') {
            Some((part, batch)) => {
                let unknown = || Refused::unknown_in("batch", Noun::Parts, part);
                let part = PartId(asked.names.find(Noun::Parts, part).ok_or_else(unknown)?);
                if question.part.is_some_and(|said| said != part) {
                    return Err(Refused::parameter("batch", "It names another part than `part` does."));
                }
                question.part = Some(part);
                batch
            }
            None => text,
        };
        let tag: Tag =
            batch.parse().map_err(|error| Refused::parameter("batch", format!("`{batch}` {error}.")))?;
        question.batch = Some(tag);
    }
    Ok(move || {
        let mut answer = answers::whereabouts(asked.fleet, &question, asked.moment);
        answer.components.retain(|row| asked.sees_all || asked.component(&row.component).is_ok());
        answer.models.retain(|tag| asked.sees_model_tagged(tag));
        answer
    })
}

/// What there is of part types; with `part` of that one alone.
///
/// # Errors
/// There is no such part type.
pub fn stock<'a>(asked: &Asked<'a>) -> Result<impl FnOnce() -> Stock + use<'a>, Refused> {
    let asked = *asked;
    let part = asked.item("part", Noun::Parts)?.map(PartId);
    Ok(move || {
        let mut stock = answers::stock(asked.fleet, part, asked.moment);
        stock.rows.retain(|_| asked.sees_all);
        stock
    })
}

/// The open questions that the asker may see.
#[must_use]
pub fn questions(asked: &Asked<'_>) -> OpenQuestions {
    let sight = asked.sight();
    let mut open = open_questions(asked.fleet, asked.moment.as_of, |question| read(question, &sight));
    let own = asked.fleet.member_tag(asked.member);
    let reads_names = may_read_names(asked.fleet, asked.member);
    open.questions.retain(|question| {
        question.sent_by == own || (asked.sees_all && (question.noun != Noun::Members || reads_names))
    });
    open
}

/// What was sent, as the fact it would become.
fn read(question: &Question, sight: &Sight<'_>) -> Result<Fact, Vec<QuestionReason>> {
    let mut json = question.fact.clone();
    resolve(question.noun, "", &mut json, sight)?;
    Fact::from_json(question.noun, make_whole(json)).map_err(|error| {
        let text = format!("It does not read as one of the {}: {error}.", question.noun);
        vec![QuestionReason { code: "unreadable".to_owned(), pointer: String::new(), text }]
    })
}

/// Every campaign with how its parts stand.
#[must_use]
pub fn campaigns(asked: &Asked<'_>) -> CampaignList {
    let mut list = answers::campaigns_said(asked.fleet, asked.moment);
    list.campaigns.retain(|_| asked.sees_all);
    list
}

/// How far a campaign is; the parameter `models` names those whose own need of parts is asked about.
///
/// # Errors
/// There is no such campaign for the asker, or no such model.
pub fn campaign_progress(asked: &Asked<'_>, name: &str) -> Result<CampaignProgress, Refused> {
    let unknown = || Refused::not_found(Noun::Campaigns, name);
    let campaign = CampaignId(asked.names.find(Noun::Campaigns, name).ok_or_else(unknown)?);
    let models = asked.models()?;
    answers::campaign_progress(asked.fleet, campaign, models.as_deref(), asked.moment)
        .filter(|_| asked.sees_all)
        .ok_or_else(unknown)
}

/// How a defect stands.
///
/// # Errors
/// There is no such defect for the asker.
pub fn defect_standing(asked: &Asked<'_>, name: &str) -> Result<DefectStanding, Refused> {
    let unknown = || Refused::not_found(Noun::Defects, name);
    let defect = DefectId(asked.names.find(Noun::Defects, name).ok_or_else(unknown)?);
    if !asked.sees_all && !may_see_defect(asked.fleet, asked.member, defect, asked.now) {
        return Err(unknown());
    }
    answers::defect_standing(asked.fleet, defect, asked.moment).ok_or_else(unknown)
}

/// The work sheet of a repair as it stands.
///
/// # Errors
/// There is no such repair for the asker.
pub fn repair_sheet(asked: &Asked<'_>, name: &str) -> Result<RepairSheet, Refused> {
    let unknown = || Refused::not_found(Noun::Repairs, name);
    let repair = RepairId(asked.names.find(Noun::Repairs, name).ok_or_else(unknown)?);
    let fact = asked.fleet.repair(repair).and_then(|file| file.repair.as_ref()).ok_or_else(unknown)?;
    if !may_see(asked.fleet, asked.member, &fact.fact.clone().into(), asked.now) {
        return Err(unknown());
    }
    answers::repair_sheet(asked.fleet, repair, asked.moment.as_of).ok_or_else(unknown)
}

/// Whether some facts correct one that is not among them, so that the older ones are needed to say whom that concerns.
#[must_use]
pub fn corrects_older(facts: &[Recorded<Fact>]) -> bool {
    facts.iter().any(|recorded| match &recorded.fact {
        Fact::Correction(correction) => !facts.iter().any(|known| known.fact.id() == correction.original),
        _ => false,
    })
}

/// What reads differently than by what was known at revision `since`. `before` is the Fleet as it was known then,
/// `facts` what came since, `older` what was before, needed where [`corrects_older`] says so.
#[must_use]
pub fn changes(
    asked: &Asked<'_>,
    since: i64,
    before: &Fleet,
    facts: &[Recorded<Fact>],
    older: &[Recorded<Fact>],
) -> Changes {
    let mut changes = answers::changes(before, asked.fleet, since, facts, older, asked.moment);
    changes.models.retain(|change| asked.sees_model_tagged(&change.model));
    if !asked.sees_all {
        changes
            .answers
            .retain(|change| change.model.as_ref().is_some_and(|model| asked.sees_model_tagged(model)));
        changes.facts.retain(|fact| fact.models.iter().any(|model| asked.sees_model_tagged(model)));
    }
    changes
}
