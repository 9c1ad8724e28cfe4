//! Loans and their return.

use chrono::NaiveDate;

use super::{
    Verdict,
    campaign::{is_gone, loan_around},
};
use crate::{
    facts::{Inside, Loan, LoanReturn, Subject},
    fleet::{Fleet, LoanFile, Place},
    ids::{ComponentId, LoanId, ModelId},
    text::Tag,
    time::{Instant, day_of},
    words::ComponentState,
};

/// The loan that runs on a club day by what had happened by a moment: agreed, begun, not returned.
pub(crate) fn running<'a>(
    fleet: &'a Fleet,
    loans: &[LoanId],
    as_of: Instant,
    on: NaiveDate,
) -> Option<&'a LoanFile> {
    loans.iter().filter_map(|id| fleet.loan(*id)).find(|file| {
        file.loan.as_ref().is_some_and(|loan| {
            loan.fact.occurred_at <= as_of && loan.fact.from_on <= on && file.returns.until(as_of).is_empty()
        })
    })
}

pub(super) fn check(fleet: &Fleet, loan: &Loan, verdict: &mut Verdict) {
    verdict.subject(fleet, "/item", loan.item);
    verdict.member(fleet, "/lent_to", loan.lent_to);
    if let Some(model) = loan.for_model {
        verdict.model(fleet, "/for_model", model);
    }
    if loan.due_back_on < loan.from_on {
        verdict.value("due_before_start", "/due_back_on", "it is due back on or after its first day");
    }
    check_at_hand(fleet, loan, verdict);
    let of_item: &[LoanId] = match loan.item {
        Subject::Model(model) => fleet.model(model).map_or(&[], |file| file.loans.as_slice()),
        Subject::Component(component) => fleet.component(component).map_or(&[], |file| file.loans.as_slice()),
    };
    for other in of_item.iter().filter(|other| **other != loan.id).filter_map(|other| fleet.loan(*other)) {
        let Some(known) = &other.loan else { continue };
        let is_back = !other.returns.is_empty();
        let overlaps = known.fact.from_on <= loan.due_back_on && loan.from_on <= known.fact.due_back_on;
        // Late, it is still with who has it, however short the loan was meant to be.
        let agreed_on = day_of(loan.occurred_at, fleet.club().zone);
        let is_late = known.fact.occurred_at <= loan.occurred_at && known.fact.due_back_on < agreed_on;
        if !is_back && (overlaps || is_late) {
            verdict.record(
                "lent_already",
                "/item",
                format!(
                    "it is lent to {} from {} to {}",
                    fleet.member_tag(known.fact.lent_to),
                    known.fact.from_on,
                    known.fact.due_back_on
                ),
            );
        }
    }
}

pub(super) fn check_return(fleet: &Fleet, back: &LoanReturn, verdict: &mut Verdict) {
    let Some(file) = fleet.loan(back.loan).filter(|file| file.loan.is_some()) else {
        verdict.value("unknown_reference", "/loan", format!("no loan `{}` in this club", back.loan));
        return;
    };
    if let Some(loan) = file.loan.as_ref().map(|loan| &loan.fact) {
        if back.occurred_at < loan.occurred_at {
            verdict.record(
                "returned_before_lent",
                "/occurred_at",
                format!("it was lent at {}: it comes back later than that", loan.occurred_at),
            );
        }
        if let Subject::Component(component) = loan.item
            && let Place::InModel(model, path) = fleet.place_at(component, back.occurred_at)
            && is_borrowers(fleet, loan, model, back.occurred_at)
        {
            verdict.record(
                "still_fitted",
                "/loan",
                format!(
                    "{} still sits in {} {path}: take it out before it comes back",
                    fleet.component_tag(component),
                    fleet.model_tag(model)
                ),
            );
        }
    }
    if file.returns.iter().any(|known| known.fact.id != back.id) {
        verdict.record("already_returned", "/loan", "it is back already");
    }
}

/// What is lent has to be there: neither scrapped, sold nor lent along with what it sits in.
fn check_at_hand(fleet: &Fleet, loan: &Loan, verdict: &mut Verdict) {
    match loan.item {
        Subject::Model(model) => {
            if is_gone(fleet, model, loan.occurred_at) {
                verdict.record(
                    "model_gone",
                    "/item",
                    format!("{} has left the fleet: nobody can lend it", fleet.model_tag(model)),
                );
            }
        }
        Subject::Component(component) => {
            let Some(file) = fleet.component(component) else { return };
            let tag = fleet.component_tag(component);
            if file.state_at(loan.occurred_at) == ComponentState::Scrapped {
                verdict.record("scrapped", "/item", format!("{tag} was scrapped: nobody can lend it"));
            }
            let holder = file.span_at(loan.occurred_at).map(|span| span.inside);
            if let Some(Inside::Component(holder)) = holder
                && loan_around(fleet, holder, loan.occurred_at, loan.from_on).is_some_and(|around| {
                    around.id != loan.id && matches!(around.item, Subject::Component(_))
                })
            {
                verdict.record(
                    "lent_already",
                    "/item",
                    format!("{tag} is lent along with what it sits in: take it out first"),
                );
            }
        }
    }
}

/// Whether a model is one for which a part was lent: named by the loan, the borrower's own, or lent to the borrower too.
fn is_borrowers(fleet: &Fleet, loan: &Loan, model: ModelId, at: Instant) -> bool {
    let Some(file) = fleet.model(model) else { return false };
    let on = day_of(at, fleet.club().zone);
    let has_model = running(fleet, &file.loans, at, on)
        .and_then(|other| other.loan.as_ref())
        .is_some_and(|other| other.fact.lent_to == loan.lent_to);
    let is_own = file.model.as_ref().is_some_and(|data| data.fact.owner == Some(loan.lent_to));
    loan.for_model == Some(model) || is_own || has_model
}

/// A part that is lent goes into what it was lent for, or into a model of who has it, and nowhere else.
pub(super) fn check_fit(
    fleet: &Fleet,
    component: ComponentId,
    tag: &Tag,
    inside: Inside,
    at: Instant,
    verdict: &mut Verdict,
) {
    let Some(file) = fleet.component(component) else { return };
    let on = day_of(at, fleet.club().zone);
    let Some(loan) = running(fleet, &file.loans, at, on).and_then(|file| file.loan.as_ref()) else { return };
    let model = match inside {
        Inside::Model(model) => Some(model),
        Inside::Component(holder) => match fleet.place_at(holder, at) {
            Place::InModel(model, _) => Some(model),
            Place::InPanel(..) | Place::Loose => None,
        },
    };
    if model.is_some_and(|model| !is_borrowers(fleet, &loan.fact, model, at)) {
        verdict.record(
            "lent_elsewhere",
            "/component",
            format!(
                "{tag} is lent to {} since {}: record its return first",
                fleet.member_tag(loan.fact.lent_to),
                loan.fact.from_on
            ),
        );
    }
}
