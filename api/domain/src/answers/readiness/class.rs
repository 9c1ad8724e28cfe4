//! The class check as readiness sees it: the model as it is fitted, in one word, and what stands against it.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{
    super::{Moment, class_check::as_fitted},
    ahead::Ahead,
    told::{ReadinessFinding, ReadyTask},
};
use crate::{
    classes::of_tag,
    facts::Contest,
    finding::Finding,
    fleet::Fleet,
    formulas::class_limits::{ClassResult, LimitVerdict},
    ids::ModelId,
    words::Severity,
};

/// Whether a model keeps the limits of its class, in one word.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ClassWord {
    /// Tag of the class.
    pub class: String,
    /// What came of it.
    pub result: ClassResult,
    /// Loading on the area of the class, g/dm²; null where mass or area is not known.
    pub loading_g_dm2: Option<f64>,
    /// In one sentence.
    pub text: String,
}

/// The class check of a model as it is fitted.
pub(super) fn class_findings(
    fleet: &Fleet,
    model: ModelId,
    ahead: &Ahead<'_>,
    moment: Moment,
) -> (Option<ClassWord>, Vec<ReadinessFinding>) {
    let Some(class) = ahead.class else { return (None, Vec::new()) };
    let checked = as_fitted(fleet, model, class, moment.as_of);
    let tag = fleet.model_tag(model);
    let mut findings = Vec::new();
    for row in checked.rows.iter().filter(|row| row.verdict == LimitVerdict::Outside) {
        let found = Finding::new(
            "class_limit",
            Severity::Ground,
            row.quantity.as_str(),
            format!("{}: {}", class.tag, row.text),
            "bring it back inside, or enter another model",
        );
        findings.push(ReadinessFinding::of(ReadyTask::MeetClass, &tag, found).by(ahead.ready_on));
    }
    let unknown: Vec<&str> = checked
        .rows
        .iter()
        .filter(|row| row.verdict == LimitVerdict::NotKnown)
        .map(|row| row.quantity.as_str())
        .collect();
    if !unknown.is_empty() {
        let found = Finding::new(
            "class_not_measured",
            Severity::Watch,
            &tag,
            format!("{} limits {}, which is not on record", class.tag, unknown.join(", ")),
            "measure it and record the reading under that name",
        );
        findings.push(ReadinessFinding::of(ReadyTask::MeetClass, &tag, found).by(ahead.ready_on));
    }
    let word = ClassWord {
        class: class.tag.to_string(),
        result: checked.result,
        loading_g_dm2: checked.loading_g_dm2,
        text: checked.text,
    };
    (Some(word), findings)
}

/// That nobody has compared the limits of the class with the edition in force.
pub(super) fn confirmation(fleet: &Fleet, contest: &Contest, ahead: &Ahead<'_>) -> Vec<ReadinessFinding> {
    let Some(class) = of_tag(fleet, &contest.class).filter(|class| !class.is_confirmed()) else {
        return Vec::new();
    };
    let found = Finding::new(
        "class_unconfirmed",
        Severity::Ground,
        class.tag.as_str(),
        format!(
            "nobody has compared the limits of {} (edition: {}) with the edition in force",
            class.tag, class.edition
        ),
        format!(
            "compare them, mend what changed, and put class {} on record with confirmed_by and confirmed_on",
            class.tag
        ),
    );
    let mut found = ReadinessFinding::of(ReadyTask::ConfirmClass, "", found).by(ahead.ready_on);
    found.model = None;
    vec![found]
}
