//! How far a campaign is: each part it covers with where it is, what is done on it and until when the rest is to be
//! done; what was replaced; stock against need; the work list.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::super::Moment;
use super::{
    PartLeft, ReplacementNeed, WorkGroup,
    deadline::{deadline, words},
    left::left,
    need::needs,
    work::work_list,
};
use crate::{
    facts::{Campaign, CampaignAction, CampaignClosure, Recorded},
    fleet::Fleet,
    ids::{CampaignId, MemberId, ModelId},
    rules::campaign::{Target, closing, is_serial_unknown, name, outcome, targets},
    time::Instant,
    words::{CampaignTask, ComponentState, Standing, TargetPlace},
};

/// How far a campaign is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CampaignProgress {
    /// Tag of the campaign, or its id.
    pub campaign: String,
    /// The club day asked about.
    pub on: NaiveDate,
    /// Tag of the part type it covers.
    pub part: String,
    /// Batch it covers; null: all.
    pub batch: Option<String>,
    /// First serial number it covers; null: from the lowest.
    pub serial_from: Option<String>,
    /// Last serial number it covers; null: to the highest.
    pub serial_to: Option<String>,
    /// Kind of position it covers; null: all.
    pub position_kind: Option<String>,
    /// Why it was opened.
    pub text: Option<String>,
    /// When it was opened.
    pub opened_at: Instant,
    /// Tag of who opened it.
    pub opened_by: Option<String>,
    /// Whether it is open.
    pub is_open: bool,
    /// When it was closed.
    pub closed_at: Option<Instant>,
    /// Tag of who closed it.
    pub closed_by: Option<String>,
    /// Parts on which something was let stand at the closing, each with the reason.
    pub waived: Vec<WaiverSaid>,
    /// Each action with how it stands over all parts.
    pub actions: Vec<ActionProgress>,
    /// All parts together; each counts once, by what is worst on it.
    pub counts: TargetCounts,
    /// Each part that it covers now.
    pub targets: Vec<CampaignTarget>,
    /// Parts that left their position since the opening day.
    pub left: Vec<PartLeft>,
    /// Tags of parts of the type and batch whose serial number is not on record, so that nobody can say whether they
    /// are meant: look at them.
    pub serials_unknown: Vec<String>,
    /// Stock against need of each action that replaces.
    pub needs: Vec<ReplacementNeed>,
    /// What is to be done, place by place.
    pub work_list: Vec<WorkGroup>,
}

/// A preview of a campaign, or one as it was just closed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CampaignShown {
    /// Whether nothing was recorded.
    pub is_preview: bool,
    /// How far the campaign would be, or is.
    pub progress: CampaignProgress,
}

/// A part on which something was let stand.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct WaiverSaid {
    /// Tag of the part.
    pub component: String,
    /// Why.
    pub reason: String,
}

/// How many parts stand how.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct TargetCounts {
    /// All of them.
    pub targets: usize,
    /// Not done yet.
    pub open: usize,
    /// Not done, deadline past.
    pub overdue: usize,
    /// Looked at, and to come off for what was found.
    pub failed: usize,
    /// Not fitted and kept out of the positions.
    pub kept_out: usize,
    /// All done.
    pub done: usize,
    /// Not done, lent and not at hand: counted above too.
    pub out_of_reach: usize,
    /// Left their position since the opening: replaced, moved or scrapped. Not among the targets, unless they lie loose.
    pub left: usize,
}

impl TargetCounts {
    fn add(&mut self, standing: Standing, is_out_of_reach: bool) {
        self.targets += 1;
        match standing {
            Standing::Open => self.open += 1,
            Standing::Overdue => self.overdue += 1,
            Standing::Failed => self.failed += 1,
            Standing::KeptOut => self.kept_out += 1,
            Standing::Done => self.done += 1,
        }
        if is_out_of_reach && standing != Standing::Done {
            self.out_of_reach += 1;
        }
    }
}

/// An action over all parts.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ActionProgress {
    /// Its number.
    pub number: u32,
    /// What is asked.
    pub task: CampaignTask,
    /// What it says.
    pub text: String,
    /// Its deadlines in words.
    pub deadline: String,
    /// How many parts stand how.
    pub counts: TargetCounts,
}

/// A part that the campaign covers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CampaignTarget {
    /// Tag of the part.
    pub component: String,
    /// Its batch.
    pub batch: Option<String>,
    /// Its serial number, where it is not the tag.
    pub serial: Option<String>,
    /// Where it is.
    pub place: TargetPlace,
    /// Its kept state.
    pub component_state: ComponentState,
    /// Tag of the model that carries it.
    pub model: Option<String>,
    /// Tag of the loose panel that holds it.
    pub inside: Option<String>,
    /// Path from the model or panel down.
    pub path: Option<String>,
    /// Kind of its position.
    pub position_kind: Option<String>,
    /// Shelf, bench or case of a loose part.
    pub location: Option<String>,
    /// Tag of the member it is lent to, by itself or with what carries it.
    pub lent_to: Option<String>,
    /// Day on which that loan ends.
    pub due_back_on: Option<NaiveDate>,
    /// Tag of the member who has it: the borrower, or else the owner of the model; null: the club.
    pub has_it: Option<String>,
    /// Whether it is lent and not at hand.
    pub is_out_of_reach: bool,
    /// The worst of its actions.
    pub standing: Standing,
    /// Flights that its model has left before something is overdue; null: no flights are counted.
    pub flights_left: Option<i64>,
    /// The earliest last day of what is not done; null: none.
    pub due_on: Option<NaiveDate>,
    /// Each action on it.
    pub actions: Vec<TargetAction>,
}

/// An action on a part.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct TargetAction {
    /// Number of the action.
    pub number: u32,
    /// How it stands.
    pub standing: Standing,
    /// When it was done.
    pub done_at: Option<Instant>,
    /// The reading, in the action's unit.
    pub value: Option<f64>,
    /// What was found, in words.
    pub found: Option<String>,
    /// Its deadline in words, with the flights left.
    pub deadline: String,
    /// Its last day; null where none binds it or it is done.
    pub due_on: Option<NaiveDate>,
    /// Flights left; null where none are counted or it is done.
    pub flights_left: Option<i64>,
}

/// How far a campaign is. `models` are those whose own need is asked about, such as the entries of a contest. `None`
/// if the Fleet does not know the campaign, or it was not opened by then.
#[must_use]
pub fn campaign_progress(
    fleet: &Fleet,
    campaign: CampaignId,
    models: Option<&[ModelId]>,
    moment: Moment,
) -> Option<CampaignProgress> {
    let recorded = fleet.campaign(campaign).filter(|known| known.fact.occurred_at <= moment.as_of)?;
    let fact = &recorded.fact;
    let closed = closing(fleet, campaign, moment.as_of);
    let covered = targets(fleet, fact, moment.as_of, moment.on);
    let said: Vec<CampaignTarget> =
        covered.iter().map(|target| target_said(fleet, fact, target, moment)).collect();
    let left = left(fleet, fact, closed.map_or(moment.as_of, |closed| closed.fact.occurred_at), moment);
    let mut counts = TargetCounts { left: left.len(), ..TargetCounts::default() };
    for target in &said {
        counts.add(target.standing, target.is_out_of_reach);
    }
    let of_serial = |data: &crate::facts::Component| is_serial_unknown(fact, data);
    let mut serials_unknown: Vec<String> = fleet
        .components()
        .filter(|(_, file)| file.state_at(moment.as_of) != ComponentState::Scrapped)
        .filter_map(|(_, file)| file.component.as_ref().map(|component| &component.fact))
        .filter(|data| of_serial(data))
        .map(|data| data.tag.to_string())
        .collect();
    serials_unknown.sort();
    let text = |tag: Option<&crate::text::Tag>| tag.map(ToString::to_string);
    Some(CampaignProgress {
        campaign: name(fact),
        on: moment.on,
        part: fleet.part(fact.part).map_or_else(|| fact.part.to_string(), |part| part.fact.tag.to_string()),
        batch: text(fact.batch.as_ref()),
        serial_from: text(fact.serial_from.as_ref()),
        serial_to: text(fact.serial_to.as_ref()),
        position_kind: fact.position_kind.as_ref().map(ToString::to_string),
        text: fact.text.as_ref().map(ToString::to_string),
        opened_at: fact.occurred_at,
        opened_by: who(fleet, fact.opened_by, recorded.recorded_by),
        is_open: closed.is_none(),
        closed_at: closed.map(|closed| closed.fact.occurred_at),
        closed_by: closed.and_then(|closed| who(fleet, closed.fact.closed_by, closed.recorded_by)),
        waived: closed.map(|closed| waived(fleet, closed)).unwrap_or_default(),
        actions: fact.actions.iter().map(|action| over_all(action, &said)).collect(),
        counts,
        needs: needs(fleet, fact, &covered, models, moment),
        work_list: work_list(fact, &said),
        targets: said,
        left,
        serials_unknown,
    })
}

fn who(fleet: &Fleet, said: Option<MemberId>, recorded_by: MemberId) -> Option<String> {
    Some(fleet.member_tag(said.unwrap_or(recorded_by)))
}

fn waived(fleet: &Fleet, closed: &Recorded<CampaignClosure>) -> Vec<WaiverSaid> {
    let said = |waiver: &crate::facts::Waiver| WaiverSaid {
        component: fleet.component_tag(waiver.component),
        reason: waiver.reason.to_string(),
    };
    closed.fact.waived.iter().map(said).collect()
}

fn over_all(action: &CampaignAction, targets: &[CampaignTarget]) -> ActionProgress {
    let mut counts = TargetCounts::default();
    for target in targets {
        for stands in target.actions.iter().filter(|stands| stands.number == action.number) {
            counts.add(stands.standing, target.is_out_of_reach);
        }
    }
    ActionProgress {
        number: action.number,
        task: action.task,
        text: action.text.to_string(),
        deadline: words(action),
        counts,
    }
}

fn target_said(fleet: &Fleet, campaign: &Campaign, target: &Target<'_>, moment: Moment) -> CampaignTarget {
    let actions: Vec<TargetAction> =
        campaign.actions.iter().map(|action| action_said(fleet, campaign, action, target, moment)).collect();
    let file = fleet.component(target.id);
    let owner = target.model.and_then(|model| fleet.model_data(model)).and_then(|model| model.owner);
    let lent_to = target.loan.map(|loan| loan.lent_to);
    CampaignTarget {
        component: target.data.tag.to_string(),
        batch: target.data.batch.as_ref().map(ToString::to_string),
        serial: target.data.serial.as_ref().map(ToString::to_string),
        place: target.place,
        component_state: file.map_or(ComponentState::Held, |file| file.state_at(moment.as_of)),
        model: target.model.map(|model| fleet.model_tag(model)),
        inside: target.inside.map(|panel| fleet.component_tag(panel)),
        path: target.path.clone(),
        position_kind: target.position_kind.clone(),
        location: file
            .filter(|_| target.path.is_none())
            .and_then(|file| file.location_at(moment.as_of))
            .map(ToOwned::to_owned),
        lent_to: lent_to.map(|member| fleet.member_tag(member)),
        due_back_on: target.loan.map(|loan| loan.due_back_on),
        has_it: lent_to.or(owner).map(|member| fleet.member_tag(member)),
        is_out_of_reach: target.is_out_of_reach(fleet, moment.as_of, moment.on),
        standing: actions.iter().map(|action| action.standing).min().unwrap_or(Standing::Done),
        flights_left: actions.iter().filter_map(|action| action.flights_left).min(),
        due_on: actions.iter().filter_map(|action| action.due_on).min(),
        actions,
    }
}

fn action_said(
    fleet: &Fleet,
    campaign: &Campaign,
    action: &CampaignAction,
    target: &Target<'_>,
    moment: Moment,
) -> TargetAction {
    let came = outcome(fleet, campaign, action, target.id, target.is_in_position, moment.as_of);
    let until = deadline(fleet, campaign, action, target.model, moment);
    let is_open = came.standing == Standing::Open;
    let standing = if is_open && until.is_over { Standing::Overdue } else { came.standing };
    let unit = action.unit.as_ref().map(|unit| format!(" {unit}")).unwrap_or_default();
    let found = match (came.reading, came.work) {
        (Some((reading, worst)), _) => {
            let limit = action.limit.map(|limit| format!(", limit {limit}{unit}")).unwrap_or_default();
            Some(format!("{} {worst}{unit}{limit}", reading.fact.quantity))
        }
        (None, Some(work)) => {
            let note = work.fact.note.as_ref().map(|note| format!(": {note}")).unwrap_or_default();
            Some(format!("{}{note}", work.fact.result))
        }
        (None, None) => None,
    };
    let left = until.flights_left.filter(|_| is_open);
    let deadline = match (is_open, left) {
        (true, Some(left)) => format!("{}: {} left", words(action), left.max(0)),
        (true, None) => words(action),
        (false, _) => String::new(),
    };
    TargetAction {
        number: action.number,
        standing,
        done_at: came
            .reading
            .map(|(reading, _)| reading.fact.occurred_at)
            .or(came.work.map(|work| work.fact.occurred_at)),
        value: came.reading.map(|(_, worst)| worst),
        found,
        deadline,
        due_on: until.due_on.filter(|_| is_open),
        flights_left: left,
    }
}
