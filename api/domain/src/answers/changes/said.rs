//! A fact in a few words, for people who ask what was recorded.

use crate::{
    facts::{Fact, Inside, Subject},
    fleet::Fleet,
    ids::{ComponentId, DefectId},
};

/// What a fact says, in a few words with the numbers; names of members stay out of it.
pub(crate) fn said_of(fleet: &Fleet, fact: &Fact) -> String {
    let part = |id: ComponentId| fleet.component_tag(id);
    let about = |subject: Subject| match subject {
        Subject::Model(model) => fleet.model_tag(model),
        Subject::Component(id) => fleet.component_tag(id),
    };
    let campaign = |id| {
        let known = fleet.campaign(id);
        known.map_or_else(|| id.to_string(), |known| named(&known.fact.clone().into()))
    };
    match fact {
        Fact::Flight(flight) => {
            let landing = flight.landing;
            let launches = if flight.launches > 1 {
                format!("{} launches", flight.launches)
            } else {
                "flight".to_owned()
            };
            format!(
                "{launches} of {}, {} min, landing {landing}",
                fleet.model_tag(flight.model),
                flight.airtime_min
            )
        }
        Fact::Rigging(rigging) => {
            let cycles = rigging.cycles;
            format!("{} rigged{}", fleet.model_tag(rigging.model), times(cycles))
        }
        Fact::Measurement(reading) => {
            let values: Vec<String> = reading.values.iter().map(ToString::to_string).collect();
            format!(
                "{} of {}: {} {}",
                reading.quantity.as_str().replace('_', " "),
                about(reading.subject),
                values.join(" / "),
                reading.unit
            )
        }
        Fact::Inspection(check) => {
            let on = check.model.map(|model| fleet.model_tag(model)).or_else(|| check.component.map(part));
            format!("{} of {}: {}", check.group, on.unwrap_or_default(), check.result)
        }
        Fact::Weighing(weighing) => {
            format!("{}: {} g at x {} mm", fleet.model_tag(weighing.model), weighing.mass_g, weighing.x_mm)
        }
        Fact::Installation(fitted) => {
            let inside = match fitted.inside {
                Inside::Model(model) => fleet.model_tag(model),
                Inside::Component(id) => part(id),
            };
            format!("{} fitted in {inside} {}", part(fitted.component), fitted.position)
        }
        Fact::Removal(removal) => {
            format!("{} taken out, {}", part(removal.component), removal.reason.as_str().replace('_', " "))
        }
        Fact::Condition(condition) => {
            format!("{} {}", part(condition.component), condition.state.as_str().replace('_', " "))
        }
        Fact::Defect(defect) => {
            format!("{} on {}: {}", defect.severity, about(defect.subject), defect.text)
        }
        Fact::Repair(repair) => {
            format!("{} of {}: {}", repair.kind, fleet.model_tag(repair.model), repair.text)
        }
        Fact::Release(release) => {
            let repair = fleet.repair(release.repair).and_then(|file| file.repair.as_ref());
            format!(
                "release of {}",
                repair
                    .map_or_else(|| release.repair.to_string(), |repair| named(&repair.fact.clone().into()))
            )
        }
        Fact::RepairStep(step) => {
            let repair = fleet.repair(step.repair).and_then(|file| file.repair.as_ref());
            let name =
                repair.map_or_else(|| step.repair.to_string(), |repair| named(&repair.fact.clone().into()));
            if step.is_second_look {
                format!("{name} looked at by a second person")
            } else {
                format!("work on {name}")
            }
        }
        Fact::Closure(closure) => format!("{} closed: {}", defect_named(fleet, closure.defect), closure.text),
        Fact::Deferral(deferral) => {
            let until = deferral.fix_by_on.map(|on| format!(" to {on}")).unwrap_or_default();
            format!("{} put off{until}: {}", defect_named(fleet, deferral.defect), deferral.reason)
        }
        Fact::Loan(loan) => format!("{} lent until {}", about(loan.item), loan.due_back_on),
        Fact::Event(event) => {
            format!("{} {}", fleet.model_tag(event.model), event.kind.as_str().replace('_', " "))
        }
        Fact::CampaignWork(work) => format!(
            "{} looked at for action {} of {}, {}",
            part(work.component),
            work.action,
            campaign(work.campaign),
            work.result
        ),
        Fact::CampaignClosure(closing) => format!("{} closed", campaign(closing.campaign)),
        Fact::Photo(photo) => format!("{} photographed", about(photo.subject)),
        Fact::Charge(charge) => format!("{} charged", part(charge.component)),
        Fact::Correction(correction) => {
            let what = if correction.is_void { "never was" } else { "corrected" };
            format!("one of the {} {what}: {}", correction.noun, correction.reason)
        }
        other => named(other),
    }
}

/// Noun and tag, or id.
fn named(fact: &Fact) -> String {
    fact.tag().map_or_else(|| format!("{} {}", fact.noun(), fact.id()), ToString::to_string)
}

fn times(count: u32) -> String {
    if count == 1 { String::new() } else { format!(" {count} times") }
}

fn defect_named(fleet: &Fleet, defect: DefectId) -> String {
    let recorded = fleet.defect(defect).and_then(|file| file.defect.as_ref());
    recorded.map_or_else(|| defect.to_string(), |defect| named(&defect.fact.clone().into()))
}
