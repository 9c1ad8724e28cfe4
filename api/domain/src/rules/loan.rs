//! Loans and their return.

use chrono::NaiveDate;

use super::Verdict;
use crate::{
    facts::{Loan, LoanReturn, Subject},
    fleet::{Fleet, LoanFile},
    ids::LoanId,
    time::Instant,
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
    let of_item: &[LoanId] = match loan.item {
        Subject::Model(model) => fleet.model(model).map_or(&[], |file| file.loans.as_slice()),
        Subject::Component(component) => fleet.component(component).map_or(&[], |file| file.loans.as_slice()),
    };
    for other in of_item.iter().filter(|other| **other != loan.id).filter_map(|other| fleet.loan(*other)) {
        let Some(known) = &other.loan else { continue };
        let is_back = !other.returns.is_empty();
        if !is_back && known.fact.from_on <= loan.due_back_on && loan.from_on <= known.fact.due_back_on {
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
    if file.returns.iter().any(|known| known.fact.id != back.id) {
        verdict.record("already_returned", "/loan", "it is back already");
    }
}
