//! Where parts are: in which model and position, in a panel on the bench, on a shelf, or lent.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::Moment;
use crate::{
    facts::Subject,
    fleet::{Fleet, LoanFile, Place},
    formulas::calendar::days_between,
    ids::{ComponentId, LoanId, PartId},
    rules::{campaign::loan_around, loan::running},
    text::Tag,
    words::ComponentState,
};

/// Which parts are asked for; every field that is given must hold.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct WhereQuestion {
    /// One component.
    pub component: Option<ComponentId>,
    /// Parts of a type.
    pub part: Option<PartId>,
    /// Parts of a batch.
    pub batch: Option<Tag>,
    /// Parts fitted in this kind of position.
    pub position_kind: Option<String>,
}

/// Where the parts asked for are.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Whereabouts {
    /// Tags of the models that carry at least one of them.
    pub models: Vec<String>,
    /// One row a part, in order of tags.
    pub components: Vec<WhereRow>,
}

/// Where one part is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WhereRow {
    /// Tag of the part.
    pub component: String,
    /// Tag of its type.
    pub part: String,
    /// Its batch.
    pub batch: Option<String>,
    /// Its kept state.
    pub state: ComponentState,
    /// Tag of the model that carries it.
    pub model: Option<String>,
    /// Tag of the panel it sits in, where that is in no model.
    pub inside: Option<String>,
    /// Path from the model, or from that panel, down.
    pub path: Option<String>,
    /// What the position is for.
    pub position_kind: Option<String>,
    /// Shelf, bench or case, where it is in nothing.
    pub location: Option<String>,
    /// Tag of the member it is lent to.
    pub lent_to: Option<String>,
    /// Day the loan is due back.
    pub due_back_on: Option<NaiveDate>,
    /// Days the loan is late on the day asked about; 0 if it is not.
    pub days_late: i64,
}

/// The loan that runs on the day asked about, if any.
pub(crate) fn running_loan<'a>(fleet: &'a Fleet, loans: &[LoanId], moment: Moment) -> Option<&'a LoanFile> {
    running(fleet, loans, moment.as_of, moment.on)
}

/// Where the parts asked for are on the day asked about.
#[must_use]
pub fn whereabouts(fleet: &Fleet, question: &WhereQuestion, moment: Moment) -> Whereabouts {
    let mut rows: Vec<WhereRow> = fleet
        .components()
        .filter(|(id, _)| question.component.is_none_or(|asked| asked == *id))
        .filter_map(|(id, file)| {
            let data = &file.component.as_ref()?.fact;
            let wanted = question.part.is_none_or(|part| part == data.part)
                && question.batch.as_ref().is_none_or(|batch| Some(batch) == data.batch.as_ref());
            wanted.then(|| where_row(fleet, id, moment)).flatten()
        })
        .filter(|row| {
            question.position_kind.is_none()
                || (row.position_kind == question.position_kind && row.model.is_some())
        })
        .collect();
    rows.sort_by(|a, b| a.component.cmp(&b.component));
    let mut models: Vec<String> = rows.iter().filter_map(|row| row.model.clone()).collect();
    models.sort();
    models.dedup();
    Whereabouts { models, components: rows }
}

fn where_row(fleet: &Fleet, id: ComponentId, moment: Moment) -> Option<WhereRow> {
    let file = fleet.component(id)?;
    let data = &file.component.as_ref()?.fact;
    let (model, inside, path) = match fleet.place_at(id, moment.as_of) {
        Place::InModel(model, path) => (Some(fleet.model_tag(model)), None, Some(path)),
        Place::InPanel(panel, path) => (None, Some(fleet.component_tag(panel)), Some(path)),
        Place::Loose => (None, None, None),
    };
    // What is lent carries everything in it along.
    let loan = loan_around(fleet, id, moment.as_of, moment.on)
        .filter(|loan| matches!(loan.item, Subject::Component(_)));
    Some(WhereRow {
        component: data.tag.to_string(),
        part: fleet.part(data.part).map_or_else(|| data.part.to_string(), |part| part.fact.tag.to_string()),
        batch: data.batch.as_ref().map(ToString::to_string),
        state: file.state_at(moment.as_of),
        position_kind: fleet.position_at(id, moment.as_of).map(|position| position.kind.to_string()),
        location: path.is_none().then(|| file.location_at(moment.as_of).map(ToOwned::to_owned)).flatten(),
        model,
        inside,
        path,
        lent_to: loan.map(|loan| fleet.member_tag(loan.lent_to)),
        due_back_on: loan.map(|loan| loan.due_back_on),
        days_late: loan.map_or(0, |loan| days_between(loan.due_back_on, moment.on).max(0)),
    })
}
