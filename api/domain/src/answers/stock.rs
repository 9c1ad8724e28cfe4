//! What there is of a part type, batch by batch: fitted, on which shelf in which state, lent, and what campaigns still
//! need of it.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{Moment, campaigns::campaign_progress};
use crate::{
    fleet::{ComponentFile, Fleet, Place},
    ids::{ComponentId, PartId},
    rules::campaign::{is_gone, loan_around, open_at},
    text::Tag,
    words::{ComponentState, PartKind},
};

/// Stock of part types.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Stock {
    /// One row a part type and batch, in order of both.
    pub rows: Vec<StockRow>,
}

/// Stock of one batch of a part type.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct StockRow {
    /// Tag of the part type.
    pub part: String,
    /// What kind of part it is.
    pub kind: Option<PartKind>,
    /// Batch; null: none is on record.
    pub batch: Option<String>,
    /// All that are not scrapped.
    pub total_count: usize,
    /// In a model or panel.
    pub fitted_count: usize,
    /// Loose, serviceable and at hand.
    pub ready_count: usize,
    /// Loose, new and untested.
    pub untested_count: usize,
    /// Loose and held back.
    pub held_count: usize,
    /// Loose and unserviceable.
    pub unserviceable_count: usize,
    /// Loose and in repair.
    pub in_repair_count: usize,
    /// Lent, loose or in a lent panel.
    pub lent_count: usize,
    /// Scrapped.
    pub scrapped_count: usize,
    /// How many of the ready ones open campaigns still need to replace others.
    pub reserved_count: usize,
    /// Ready ones that nothing needs.
    pub free_count: usize,
    /// How many open campaigns need beyond what is ready.
    pub short_count: usize,
    /// What needs them.
    pub reserved_for: Vec<Reservation>,
    /// Loose parts with where they lie, in order of tags.
    pub loose: Vec<LoosePart>,
}

/// A need for parts of a batch.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Reservation {
    /// Tag of the campaign.
    pub source: String,
    /// How many it needs.
    pub need_count: usize,
}

/// A part that sits in nothing.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct LoosePart {
    /// Its tag.
    pub component: String,
    /// Its kept state.
    pub component_state: ComponentState,
    /// Shelf, bench or case; null: not on record.
    pub location: Option<String>,
    /// Tag of the member it is lent to.
    pub lent_to: Option<String>,
}

/// Serviceable parts of a type, and of a batch if one is given, that lie loose and are not lent, in order of tags.
pub(crate) fn ready_on_shelf(
    fleet: &Fleet,
    part: PartId,
    batch: Option<&Tag>,
    moment: Moment,
) -> Vec<ComponentId> {
    let mut list: Vec<(&Tag, ComponentId)> = fleet
        .components()
        .filter_map(|(id, file)| {
            let data = &file.component.as_ref()?.fact;
            let wanted = data.part == part && batch.is_none_or(|batch| Some(batch) == data.batch.as_ref());
            (wanted && is_ready(fleet, id, file, moment)).then_some((&data.tag, id))
        })
        .collect();
    list.sort();
    list.into_iter().map(|(_, id)| id).collect()
}

fn is_ready(fleet: &Fleet, id: ComponentId, file: &ComponentFile, moment: Moment) -> bool {
    file.state_at(moment.as_of) == ComponentState::Serviceable
        && file.span_at(moment.as_of).is_none()
        && loan_around(fleet, id, moment.as_of, moment.on).is_none()
}

/// What there is of one part type, or of all.
#[must_use]
pub fn stock(fleet: &Fleet, part: Option<PartId>, moment: Moment) -> Stock {
    let mut rows: Vec<StockRow> = Vec::new();
    let mut members: Vec<(String, Option<String>, &ComponentFile, ComponentId)> = fleet
        .components()
        .filter_map(|(id, file)| {
            let data = &file.component.as_ref()?.fact;
            let known = fleet.part(data.part)?;
            part.is_none_or(|part| part == data.part)
                .then(|| (known.fact.tag.to_string(), data.batch.as_ref().map(ToString::to_string), file, id))
        })
        .collect();
    members.sort_by(|one, other| (&one.0, &one.1, one.3).cmp(&(&other.0, &other.1, other.3)));
    for (tag, batch, file, id) in members {
        if rows.last().is_none_or(|row| (&row.part, &row.batch) != (&tag, &batch)) {
            rows.push(empty(fleet, tag, batch, id));
        }
        if let Some(row) = rows.last_mut() {
            count(fleet, row, file, id, moment);
        }
    }
    reserve(fleet, part, moment, &mut rows);
    Stock { rows }
}

fn empty(fleet: &Fleet, part: String, batch: Option<String>, member: ComponentId) -> StockRow {
    StockRow {
        kind: fleet.part_of(member).map(|part| part.kind),
        part,
        batch,
        total_count: 0,
        fitted_count: 0,
        ready_count: 0,
        untested_count: 0,
        held_count: 0,
        unserviceable_count: 0,
        in_repair_count: 0,
        lent_count: 0,
        scrapped_count: 0,
        reserved_count: 0,
        free_count: 0,
        short_count: 0,
        reserved_for: Vec::new(),
        loose: Vec::new(),
    }
}

fn count(fleet: &Fleet, row: &mut StockRow, file: &ComponentFile, id: ComponentId, moment: Moment) {
    let state = file.state_at(moment.as_of);
    if state == ComponentState::Scrapped {
        row.scrapped_count += 1;
        return;
    }
    let carrier = match fleet.place_at(id, moment.as_of) {
        Place::InModel(model, _) => Some(model),
        Place::InPanel(..) | Place::Loose => None,
    };
    if carrier.is_some_and(|model| is_gone(fleet, model, moment.as_of)) {
        return;
    }
    row.total_count += 1;
    let loan = loan_around(fleet, id, moment.as_of, moment.on);
    let is_fitted = file.span_at(moment.as_of).is_some();
    if !is_fitted {
        row.loose.push(LoosePart {
            component: fleet.component_tag(id),
            component_state: state,
            location: file.location_at(moment.as_of).map(ToOwned::to_owned),
            lent_to: loan.map(|loan| fleet.member_tag(loan.lent_to)),
        });
        row.loose.sort_by(|one, other| one.component.cmp(&other.component));
    }
    match (carrier, loan, is_fitted, state) {
        (Some(_), ..) => row.fitted_count += 1,
        (None, Some(_), ..) => row.lent_count += 1,
        (None, None, true, _) => row.fitted_count += 1,
        (None, None, false, ComponentState::Serviceable) => row.ready_count += 1,
        (None, None, false, ComponentState::NewUntested) => row.untested_count += 1,
        (None, None, false, ComponentState::Held) => row.held_count += 1,
        (None, None, false, ComponentState::Unserviceable) => row.unserviceable_count += 1,
        (None, None, false, ComponentState::InRepair) => row.in_repair_count += 1,
        (None, None, false, ComponentState::Scrapped) => {}
    }
}

/// Writes down what open campaigns need of the batches that they name.
fn reserve(fleet: &Fleet, part: Option<PartId>, moment: Moment, rows: &mut Vec<StockRow>) {
    let campaigns =
        open_at(fleet, moment.as_of).filter(|open| part.is_none_or(|part| part == open.fact.part));
    for campaign in campaigns {
        let Some(progress) = campaign_progress(fleet, campaign.fact.id, None, moment) else { continue };
        for need in progress.needs.iter().filter(|need| need.need_count > 0) {
            let Some(batch) = &need.batch else { continue };
            let known =
                rows.iter().position(|row| row.part == need.part && row.batch.as_ref() == Some(batch));
            let reservation = Reservation { source: progress.campaign.clone(), need_count: need.need_count };
            match known.and_then(|index| rows.get_mut(index)) {
                Some(row) => row.reserved_for.push(reservation),
                // Nothing of the batch was ever entered: it is missing altogether.
                None => {
                    let like = fleet.components().find(|(_, file)| {
                        file.component.as_ref().is_some_and(|data| data.fact.part == campaign.fact.part)
                    });
                    if let Some((id, _)) = like {
                        let mut row = empty(fleet, need.part.clone(), Some(batch.clone()), id);
                        row.reserved_for.push(reservation);
                        rows.push(row);
                    }
                }
            }
        }
    }
    rows.sort_by(|one, other| (&one.part, &one.batch).cmp(&(&other.part, &other.batch)));
    for row in rows {
        let needed: usize = row.reserved_for.iter().map(|one| one.need_count).sum();
        row.reserved_count = needed.min(row.ready_count);
        row.free_count = row.ready_count.saturating_sub(needed);
        row.short_count = needed.saturating_sub(row.ready_count);
    }
}
