//! Loans that are late, that end soon, and that begin soon.

use super::{Audit, Family, PlacedFinding, Whereabouts};
use crate::{
    facts::{Loan, Subject},
    finding::Finding,
    words::Severity,
};

/// What ends or begins within so many days is said beforehand (common practice, no source).
const SAY_BEFORE_DAYS: i64 = 14;

pub(super) fn look(audit: &Audit<'_>, list: &mut Vec<PlacedFinding>) {
    let as_of = audit.moment.as_of;
    for (_, file) in audit.fleet.loans() {
        let Some(loan) = file.loan.as_ref().map(|loan| &loan.fact) else { continue };
        if loan.occurred_at > as_of || !file.returns.until(as_of).is_empty() {
            continue;
        }
        let (tag, whereabouts) = match loan.item {
            Subject::Model(model) => {
                let Some((tag, _)) = audit.models.iter().find(|(_, known)| *known == model) else { continue };
                (tag.clone(), Whereabouts { model: Some((model, tag.clone())), place: None })
            }
            Subject::Component(id) => {
                let Some(whereabouts) = audit.whereabouts(id) else { continue };
                (audit.fleet.component_tag(id), whereabouts)
            }
        };
        let finding = judge(audit, loan, &tag, &whereabouts);
        list.extend(finding.map(|finding| PlacedFinding::new(Family::Loans, finding).at(&whereabouts)));
    }
}

fn judge(audit: &Audit<'_>, loan: &Loan, tag: &str, whereabouts: &Whereabouts) -> Option<Finding> {
    let on = audit.moment.on;
    let to = audit.fleet.member_tag(loan.lent_to);
    let in_model = whereabouts.model.as_ref().map(|(_, model)| model.as_str()).filter(|model| *model != tag);
    let place = in_model.map(|model| format!(", in {model}")).unwrap_or_default();
    let (from_on, due_on) = (loan.from_on, loan.due_back_on);
    let late = on.signed_duration_since(due_on).num_days();
    let ahead = from_on.signed_duration_since(on).num_days();
    let back = format!("{to} returns {tag}, or a later day is agreed");
    if late > 0 {
        let severity = if in_model.is_some() { Severity::Restrict } else { Severity::Watch };
        let days = if late == 1 { "1 day".to_owned() } else { format!("{late} days") };
        let text = format!("{tag} is lent to {to}{place} and was due back on {due_on}: {days} late");
        return Some(Finding::new("loan_late", severity, tag, text, back));
    }
    if ahead > 0 {
        return (ahead <= SAY_BEFORE_DAYS).then(|| {
            Finding::new(
                "loan_begins_soon",
                Severity::Watch,
                tag,
                format!("{tag} is lent to {to} from {from_on} to {due_on}"),
                format!("have {tag} ready by {from_on}, or void the loan"),
            )
        });
    }
    (-late <= SAY_BEFORE_DAYS).then(|| {
        let text = format!("{tag} is lent to {to}{place} and due back on {due_on}");
        Finding::new("loan_ends_soon", Severity::Watch, tag, text, back)
    })
}
