//! `POST /compute/wire`: what a servo gets at the end of its lead, which wire keeps a limit, what the supply has left,
//! the condition of contacts and crimps, and how often a lead can be terminated again. Each part is asked by itself.

mod answer;
mod question;

pub use answer::{CrimpAnswer, DutySource, LeadAnswer, SlackAnswer, SupplyAnswer, WireAnswer};
pub use question::{
    ChooseQuestion, ContactsQuestion, CrimpQuestion, LeadQuestion, SlackQuestion, SupplyQuestion,
    WireQuestion,
};

use super::BadQuestion;
use crate::formulas::range::OutOfRange;
use crate::formulas::wire::choose::{ChooseError, ChosenGauge, Demand, Stranding, smallest_gauge};
use crate::formulas::wire::contact::{
    CONTACT_LIMITS_MOHM, WorstContact, crimp_limit, judge_crimp, worst_contact,
};
use crate::formulas::wire::drop::{Lead, LeadUncertainty, Running, lead_drop, permitted_drop_v};
use crate::formulas::wire::gauge::{awg_area_mm2, copper_mohm_per_m};
use crate::formulas::wire::slack::{KEPT_MM, TAKEN_EACH_MM, halves_from_contacts, slack_left};
use crate::formulas::wire::stranded::{WireResistance, WireSource, flexible_area, stranded_awg};
use crate::formulas::wire::supply::{USUAL_DUTY_PCT, WANTED_MARGIN_PCT, load_supply};
use crate::words::Severity;

const METHOD: &str = "Ohm's law out and back through wire and contacts; gauges per ASTM B258, copper per IEC 60028, \
                      stranded wire by the greatest values of AC 43.13-1B Table 11-9 and IEC 60228 class 5; \
                      uncertainties (1u) of what was given combined per JCGM 100:2008; limits are starting values, \
                      common practice";

const BEFORE_PLUGGING: &str = "Before plugging a renewed connector: continuity of every pin end to end, no short from \
                               pin to pin, plus and minus in the right cavities measured with a meter; then servo by \
                               servo with a current limit, and the direction of control by a second person.";

const WARM_CONTACT: &str = "A contact that warms grows worse by itself: renew it, do not watch it.";

/// Answers a question about wires.
///
/// # Errors
/// No part asked; a wire given twice or not at all; contacts without their resistance; and whatever the formulas
/// refuse. Each names the field.
///
/// ```
/// use preen_domain::answers::compute::{WireQuestion, compute_wire};
/// let question: WireQuestion = serde_json::from_value(serde_json::json!({
///     "lead": {"length_m": 1.35, "current_a": 1.8, "awg": 26, "contact_pairs": 3, "contact_mohm": 20, "supply_v": 6.0}
/// }))?;
/// let lead = compute_wire(&question)?.lead.ok_or("asked for")?;
/// assert_eq!(lead.at_load_v.map(|volts| format!("{volts:.2}")).as_deref(), Some("5.13"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn compute_wire(question: &WireQuestion) -> Result<WireAnswer, BadQuestion> {
    if *question == WireQuestion::default() {
        let parts = "nothing is asked: give lead, choose, supply, contacts, crimp or slack";
        return Err(BadQuestion::at("", parts));
    }
    let lead = question.lead.as_ref().map(answer_lead).transpose()?;
    let choose = question.choose.as_ref().map(answer_choose).transpose()?;
    let supply = question.supply.as_ref().map(answer_supply).transpose()?;
    let contacts = question.contacts.as_ref().map(answer_contacts).transpose()?;
    let crimp = question.crimp.as_ref().map(answer_crimp).transpose()?;
    let slack = question.slack.as_ref().map(answer_slack).transpose()?;
    let classes = [
        supply.as_ref().and_then(|supply| supply.class),
        contacts.as_ref().and_then(|contacts| contacts.class),
        crimp.as_ref().and_then(|crimp| crimp.class),
        slack.as_ref().and_then(|slack| slack.left.class),
    ];
    let mut cautions = Vec::new();
    if contacts.as_ref().is_some_and(|worst| worst.class >= Some(Severity::Restrict)) {
        cautions.push(WARM_CONTACT.to_owned());
    }
    if slack.is_some() || crimp.is_some() {
        cautions.push(BEFORE_PLUGGING.to_owned());
    }
    Ok(WireAnswer {
        class: classes.into_iter().max().flatten(),
        lead,
        choose,
        supply,
        contacts,
        crimp,
        slack,
        cautions,
        method: METHOD.to_owned(),
    })
}

fn answer_lead(lead: &LeadQuestion) -> Result<LeadAnswer, BadQuestion> {
    let at_input = |why: OutOfRange| BadQuestion::at_input("/lead", &why);
    let WireResistance { mohm_per_m, source } = resistance(lead)?;
    let asked = Lead {
        length_m: lead.length_m,
        mohm_per_m,
        contact_pairs: lead.contact_pairs,
        contact_mohm: contact_mohm("/lead", lead.contact_pairs, lead.contact_mohm)?,
        current_a: lead.current_a,
    };
    let u = LeadUncertainty {
        length_m: lead.u_length_m,
        mohm_per_m: lead.u_mohm_per_m,
        contact_mohm: lead.u_contact_mohm,
        current_a: lead.u_current_a,
    };
    let lost = lead_drop(&asked, &u).map_err(at_input)?;
    let at_load_v = lead.supply_v.map(|supply_v| supply_v - lost.drop_v);
    if at_load_v.is_some_and(|volts| volts <= 0.0) {
        let text = "such a current does not flow: the lead alone would drop the whole supply";
        return Err(BadQuestion::at("/lead/current_a", text));
    }
    Ok(LeadAnswer { mohm_per_m, source, lost, at_load_v })
}

fn resistance(lead: &LeadQuestion) -> Result<WireResistance, BadQuestion> {
    let temperature_c = lead.temperature_c.unwrap_or(20.0);
    let by_area = |mohm_per_m| WireResistance { mohm_per_m, source: WireSource::CopperArea };
    let is_stranded = lead.wire == Some(Stranding::Stranded);
    let wire = match (lead.awg, lead.area_mm2, lead.mohm_per_m) {
        (Some(awg), None, None) if is_stranded => stranded_awg(awg, temperature_c),
        (Some(awg), None, None) => {
            awg_area_mm2(awg).and_then(|area| copper_mohm_per_m(area, temperature_c)).map(by_area)
        }
        (None, Some(area_mm2), None) if is_stranded => flexible_area(area_mm2, temperature_c),
        (None, Some(area_mm2), None) => copper_mohm_per_m(area_mm2, temperature_c).map(by_area),
        (None, None, Some(_)) if lead.temperature_c.is_some() => {
            let text = "a measured resistance is taken as it is; leave temperature_c away";
            return Err(BadQuestion::at("/lead/temperature_c", text));
        }
        (None, None, Some(mohm_per_m)) => Ok(WireResistance { mohm_per_m, source: WireSource::Given }),
        _ => {
            return Err(BadQuestion::at("/lead", "give one of awg, area_mm2 and mohm_per_m"));
        }
    };
    wire.map_err(|why| BadQuestion::at_input("/lead", &why))
}

fn contact_mohm(block: &str, pairs: u32, mohm: Option<f64>) -> Result<f64, BadQuestion> {
    match mohm {
        None if pairs > 0 => {
            let text = "contacts are in the way: give the resistance of each (new ones have 3 to 7)";
            Err(BadQuestion::at(format!("{block}/contact_mohm"), text))
        }
        mohm => Ok(mohm.unwrap_or(0.0)),
    }
}

fn answer_choose(choose: &ChooseQuestion) -> Result<ChosenGauge, BadQuestion> {
    let conductors = if choose.is_return_by_structure { 1 } else { 2 };
    let contacts = Lead {
        length_m: choose.length_m,
        mohm_per_m: 0.0,
        contact_pairs: choose.contact_pairs,
        contact_mohm: contact_mohm("/choose", choose.contact_pairs, choose.contact_mohm)?,
        current_a: choose.current_a,
    };
    let contacts_v = lead_drop(&contacts, &LeadUncertainty::default())
        .map_err(|why| BadQuestion::at_input("/choose", &why))?
        .contacts_v;
    let demand = Demand {
        length_m: choose.length_m,
        current_a: choose.current_a,
        max_drop_v: permitted(choose)?,
        contacts_v: contacts_v * f64::from(conductors) / 2.0,
        conductors,
        temperature_c: choose.temperature_c.unwrap_or(20.0),
    };
    smallest_gauge(&demand, choose.wire.unwrap_or(Stranding::Solid)).map_err(|why| match why {
        ChooseError::OutOfRange(why) => BadQuestion::at_input("/choose", &why),
        ChooseError::ContactsAlone(_) => BadQuestion::at("/choose/contact_mohm", &why),
        ChooseError::NoneThickEnough => BadQuestion::at("/choose/max_drop_v", &why),
    })
}

fn permitted(choose: &ChooseQuestion) -> Result<f64, BadQuestion> {
    match (choose.max_drop_v, choose.nominal_v) {
        (Some(_), None) if choose.running.is_some() => Err(BadQuestion::at(
            "/choose/running",
            "running belongs to the published limit of a nominal_v; leave it away with max_drop_v",
        )),
        (Some(max_drop_v), None) => Ok(max_drop_v),
        (None, Some(nominal_v)) => permitted_drop_v(nominal_v, choose.running.unwrap_or(Running::Continuous))
            .ok_or_else(|| {
                let text = "a published limit is known for 14, 28, 115 and 200 V only; give max_drop_v";
                BadQuestion::at("/choose/nominal_v", text)
            }),
        _ => Err(BadQuestion::at("/choose", "give either max_drop_v or nominal_v")),
    }
}

fn answer_supply(supply: &SupplyQuestion) -> Result<SupplyAnswer, BadQuestion> {
    for (index, servo) in supply.servos.iter().enumerate() {
        let row = format!("/supply/servos/{index}");
        servo.check().map_err(|why| BadQuestion::at_input(&row, &why))?;
    }
    let wanted_margin_pct = supply.wanted_margin_pct.unwrap_or(WANTED_MARGIN_PCT);
    let (duty_pct, duty_from) = duty(supply)?;
    let load = load_supply(&supply.servos, supply.steady_a, supply.peak_a, duty_pct, wanted_margin_pct)
        .map_err(|why| BadQuestion::at_input("/supply", &why))?;
    let class = (!load.is_enough).then_some(Severity::Restrict);
    Ok(SupplyAnswer { load, duty_from, wanted_margin_pct, class })
}

fn duty(supply: &SupplyQuestion) -> Result<(f64, DutySource), BadQuestion> {
    match (supply.duty_pct, supply.stir_a) {
        (Some(_), Some(_)) => {
            Err(BadQuestion::at("/supply/duty_pct", "give either duty_pct or stir_a, not both"))
        }
        (Some(duty_pct), None) => Ok((duty_pct, DutySource::Given)),
        (None, None) => Ok((USUAL_DUTY_PCT, DutySource::Assumed)),
        (None, Some(stir_a)) => {
            let stalled: f64 = supply.servos.iter().map(|servo| f64::from(servo.count) * servo.stall_a).sum();
            let duty_pct = 100.0 * (stir_a - supply.steady_a) / stalled;
            if (0.0..=100.0).contains(&duty_pct) {
                Ok((duty_pct, DutySource::Measured))
            } else {
                let text = "a stir draws at least the steady current and at most all servos stalled";
                Err(BadQuestion::at("/supply/stir_a", text))
            }
        }
    }
}

fn answer_contacts(contacts: &ContactsQuestion) -> Result<WorstContact, BadQuestion> {
    let limits = contacts.limits_mohm.unwrap_or(CONTACT_LIMITS_MOHM);
    limits.check("/contacts/limits_mohm", true)?;
    worst_contact(&contacts.contacts_mohm, &limits)
        .map_err(|why| BadQuestion::at_value("/contacts", &why, &contacts.contacts_mohm))
}

fn answer_crimp(crimp: &CrimpQuestion) -> Result<CrimpAnswer, BadQuestion> {
    let limit = crimp_limit(crimp.awg).ok_or_else(|| {
        let text = "a pull-off force is known for the even gauges 8 to 28 only";
        BadQuestion::at("/crimp/awg", text)
    })?;
    let judged = crimp.pulled_n.map(|pulled_n| judge_crimp(&limit, pulled_n)).transpose();
    let class = judged.map_err(|why| BadQuestion::at_input("/crimp", &why))?.flatten();
    Ok(CrimpAnswer { limit, pulled_n: crimp.pulled_n, class })
}

fn answer_slack(slack: &SlackQuestion) -> Result<SlackAnswer, BadQuestion> {
    let kept_mm = slack.kept_mm.unwrap_or(KEPT_MM);
    let taken_mm = slack.taken_mm.unwrap_or(TAKEN_EACH_MM);
    let left =
        slack_left(slack.slack_mm, kept_mm, taken_mm).map_err(|why| BadQuestion::at_input("/slack", &why))?;
    let halves_from_stock = match (slack.contacts_in_stock, slack.ways) {
        (None, None) => None,
        (Some(contacts), Some(ways)) => {
            let none = || BadQuestion::at("/slack/ways", "a connector has at least one way");
            Some(halves_from_contacts(contacts, ways).ok_or_else(none)?)
        }
        _ => {
            return Err(BadQuestion::at("/slack/ways", "give contacts_in_stock and ways together"));
        }
    };
    Ok(SlackAnswer { left, halves_from_stock })
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::*;

    fn ask(question: Value) -> Result<WireAnswer, BadQuestion> {
        compute_wire(&serde_json::from_value(question).expect("the shape of a question"))
    }

    #[test]
    fn a_question_at_fault_names_its_field() {
        let check = |question: Value, pointer: &str| {
            let refused = ask(question.clone()).map_err(|bad| bad.pointer);
            assert_eq!(refused.err().as_deref(), Some(pointer), "{question}");
        };
        let lead = |more: Value| {
            let mut lead = json!({"length_m": 1, "current_a": 1});
            let fields = lead.as_object_mut().expect("an object");
            fields.extend(more.as_object().expect("an object").clone());
            json!({ "lead": lead })
        };
        check(json!({}), "");
        check(lead(json!({})), "/lead");
        check(lead(json!({"awg": 26, "mohm_per_m": 100})), "/lead");
        check(lead(json!({"awg": 99})), "/lead/awg");
        check(lead(json!({"mohm_per_m": 100, "temperature_c": 60})), "/lead/temperature_c");
        check(lead(json!({"awg": 26, "contact_pairs": 3})), "/lead/contact_mohm");
        check(lead(json!({"awg": 26, "u_current_a": -1})), "/lead/u_current_a");
        check(lead(json!({"awg": 26, "length_m": -1})), "/lead/length_m");
        check(lead(json!({"awg": 26, "length_m": 900, "supply_v": 6})), "/lead/current_a");
        let choose = |more: Value| json!({"choose": {"length_m": 1, "current_a": 10, "max_drop_v": more}});
        check(choose(json!(null)), "/choose");
        check(choose(json!(0)), "/choose/max_drop_v");
        check(json!({"choose": {"length_m": 1, "current_a": 1, "nominal_v": 6}}), "/choose/nominal_v");
        check(
            json!({"choose": {"length_m": 1, "current_a": 10, "max_drop_v": 0.1, "contact_pairs": 2, "contact_mohm": 20}}),
            "/choose/contact_mohm",
        );
        check(
            json!({"supply": {"servos": [{"count": 1, "stall_a": 1}, {"count": 0, "stall_a": 1}], "peak_a": 5}}),
            "/supply/servos/1/count",
        );
        check(json!({"supply": {"servos": [], "peak_a": 5}}), "/supply/servos");
        check(
            json!({"supply": {"servos": [{"count": 2, "stall_a": 1}], "peak_a": 5, "stir_a": 3}}),
            "/supply/stir_a",
        );
        check(json!({"contacts": {"contacts_mohm": []}}), "/contacts/contacts_mohm");
        check(json!({"contacts": {"contacts_mohm": [5, -5]}}), "/contacts/contacts_mohm/1");
        check(
            json!({"contacts": {"contacts_mohm": [5], "limits_mohm": {"watch": 9, "ground": 5}}}),
            "/contacts/limits_mohm",
        );
        check(json!({"crimp": {"awg": 23}}), "/crimp/awg");
        check(json!({"crimp": {"awg": 24, "pulled_n": -1}}), "/crimp/pulled_n");
        check(json!({"slack": {"slack_mm": -1}}), "/slack/slack_mm");
        check(json!({"slack": {"slack_mm": 20, "contacts_in_stock": 9}}), "/slack/ways");
    }

    #[test]
    fn a_measured_stir_tells_the_duty_and_the_worst_class_of_all_parts_counts() {
        let answer = ask(json!({
            "supply": {"servos": [{"count": 6, "stall_a": 1.5}], "steady_a": 0.15, "peak_a": 5, "stir_a": 3.75},
            "contacts": {"contacts_mohm": [6, 22]},
            "slack": {"slack_mm": 6, "contacts_in_stock": 9, "ways": 6}
        }))
        .expect("answered");
        let supply = answer.supply.expect("asked for");
        assert_eq!(supply.duty_from, DutySource::Measured);
        assert!((supply.load.duty_pct - 40.0).abs() < 1e-9 && supply.class.is_none());
        assert_eq!(answer.slack.and_then(|slack| slack.halves_from_stock), Some(1));
        assert_eq!(answer.class, Some(Severity::Restrict));
        assert_eq!(answer.cautions, [WARM_CONTACT, BEFORE_PLUGGING]);
    }
}
