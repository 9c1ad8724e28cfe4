//! Connectors: leads that cannot be terminated again, contacts that run out, and what a tired contact costs in voltage.

use super::{Audit, Family, FoundReading, PlacedFinding, Whereabouts};
use crate::{
    answers::readings::{newest, seat_of, slack_now},
    facts::{FedLead, Lot, Measurement},
    finding::Finding,
    fleet::limits_of,
    formulas::wire::{
        drop::{Lead, LeadUncertainty, lead_drop},
        slack::{KEPT_MM, TAKEN_EACH_MM, halves_from_contacts, slack_left},
        stranded::stranded_awg,
    },
    ids::ComponentId,
    words::{PartKind, Severity},
};

/// A stock of contacts that makes fewer halves than this is said beforehand (common practice, no source).
const FEW_HALVES: u32 = 2;

/// Temperature at which the wire is taken, °C.
const WIRE_AT_C: f64 = 20.0;

pub(super) fn look(audit: &Audit<'_>, list: &mut Vec<PlacedFinding>) {
    let stock = contact_stock(audit);
    for (id, _) in audit.components() {
        let is_connector = audit.fleet.part_of(id).is_some_and(|part| part.kind == PartKind::ConnectorHalf);
        if let Some(whereabouts) = audit.whereabouts(id).filter(|_| is_connector) {
            list.extend(re_terminations(audit, id, &whereabouts, &stock));
            list.extend(lost_voltage(audit, id, &whereabouts));
        }
    }
    for (lot, ways, halves) in stock.iter().filter(|(_, _, halves)| *halves < FEW_HALVES) {
        list.push(PlacedFinding::new(
            Family::Wiring,
            Finding::new(
                "contacts_low",
                Severity::Watch,
                lot.tag.as_str(),
                format!(
                    "{} {} of lot {} make {halves} {ways}-way {}: the next re-termination may want more",
                    lot.quantity,
                    lot.item,
                    lot.tag,
                    if *halves == 1 { "half only" } else { "halves" }
                ),
                format!("order {}, then enter what is there as a new version of lot {}", lot.item, lot.tag),
            ),
        ));
    }
}

fn re_terminations(
    audit: &Audit<'_>,
    id: ComponentId,
    whereabouts: &Whereabouts,
    stock: &[(&Lot, u32, u32)],
) -> Option<PlacedFinding> {
    let slack = slack_now(audit.fleet, id, audit.moment.as_of)?;
    let left = slack_left(slack.slack_mm, KEPT_MM, TAKEN_EACH_MM).ok()?;
    if left.re_terminations > 0 {
        return None;
    }
    let tag = audit.fleet.component_tag(id);
    let used = if slack.used_mm > 0.0 {
        format!(" ({} mm read, {} mm used since)", slack.read_mm, slack.used_mm)
    } else {
        String::new()
    };
    let contacts: Vec<String> =
        stock.iter().map(|(lot, ways, halves)| format!("{} make {halves} {ways}-way", lot.item)).collect();
    let contacts =
        if contacts.is_empty() { String::new() } else { format!("; in stock: {}", contacts.join(", ")) };
    let finding = Finding::new(
        "no_re_termination_left",
        Severity::Watch,
        &tag,
        format!(
            "{tag} has {} mm of slack{used}: it cannot be terminated again, which takes {TAKEN_EACH_MM} mm and leaves {KEPT_MM}{contacts}",
            slack.slack_mm
        ),
        format!(
            "splice an extension or replace the lead of {tag} before the next failure, then measure its lead_slack"
        ),
    );
    Some(PlacedFinding {
        reading: Some(FoundReading {
            tag: None,
            quantity: "lead_slack".to_owned(),
            value: slack.slack_mm,
            unit: "mm".to_owned(),
            read_at: slack.read_at,
        }),
        ..PlacedFinding::new(Family::Wiring, finding).at(whereabouts)
    })
}

/// Lots of contacts with how many ways their connector has, by the words of the lot, and how many halves they make.
fn contact_stock<'a>(audit: &Audit<'a>) -> Vec<(&'a Lot, u32, u32)> {
    let mut list: Vec<(&Lot, u32, u32)> = audit
        .fleet
        .lots()
        .map(|(_, lot)| &lot.fact)
        .filter(|lot| lot.item.as_str().contains("contact"))
        .filter_map(|lot| {
            let ways = lot.item.as_str().split_whitespace().find_map(|word| {
                word.strip_suffix("-way").and_then(|ways| ways.parse::<u32>().ok()).filter(|ways| *ways > 0)
            })?;
            Some((lot, ways, halves_from_contacts(whole(lot.quantity), ways)?))
        })
        .collect();
    list.sort_by_key(|(lot, ..)| &lot.tag);
    list
}

/// A quantity rounded down: never more than is there.
fn whole(quantity: f64) -> u32 {
    #[expect(
        clippy::as_conversions,
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to a small range before"
    )]
    let whole = quantity.floor().clamp(0.0, 1e6) as u32;
    whole
}

/// What the newest contact resistance costs the consumer, where the design says what hangs on it: its supply judged as
/// the lowest voltage of a receiver.
fn lost_voltage(audit: &Audit<'_>, id: ComponentId, whereabouts: &Whereabouts) -> Option<PlacedFinding> {
    let fleet = audit.fleet;
    let lead = seat_of(fleet, id, audit.moment.as_of)?.lead?;
    let readings = fleet.component(id)?.measurements.until(audit.moment.as_of);
    let newest = newest(readings);
    let reading = newest.iter().find(|reading| {
        reading.fact.quantity.as_str() == "contact_resistance_worst" && reading.fact.unit.as_str() == "mOhm"
    })?;
    let (left_v, text) = supply_left(&reading.fact, &lead)?;
    let programme = fleet.programme_of(whereabouts.model.as_ref().map(|(model, _)| *model))?;
    let severity = limits_of(fleet, &programme.fact, None, "receiver_minimum_voltage", "V")
        .into_iter()
        .filter_map(|limit| limit.severity_of(left_v))
        .max()?;
    let tag = fleet.component_tag(id);
    let finding = Finding::new(
        "supply_low_behind_connector",
        severity,
        &tag,
        format!("behind {tag} {text}"),
        format!("terminate or replace {tag}, then measure its contact_resistance_worst"),
    );
    Some(PlacedFinding {
        reading: Some(FoundReading::of(&reading.fact, "receiver_minimum_voltage", left_v, "V")),
        ..PlacedFinding::new(Family::Wiring, finding).at(whereabouts)
    })
}

/// Voltage left at the consumer with the worst contact, to the hundredth, and the numbers in words.
fn supply_left(reading: &Measurement, lead: &FedLead) -> Option<(f64, String)> {
    let contact_mohm = reading.values.iter().copied().reduce(f64::max)?;
    let wire = stranded_awg(lead.awg, WIRE_AT_C).ok()?;
    let lead_now = Lead {
        length_m: lead.length_m,
        mohm_per_m: wire.mohm_per_m,
        contact_pairs: lead.contact_pairs,
        contact_mohm,
        current_a: lead.current_a,
    };
    let lost = lead_drop(&lead_now, &LeadUncertainty::default()).ok()?;
    let left_v: f64 = format!("{:.2}", lead.supply_v - lost.drop_v).parse().ok()?;
    let text = format!(
        "{:.2} V are lost at {} A (AWG {}, {} m, {} pairs of {contact_mohm} mΩ): {left_v:.2} V of {} V are left, ground lifted by {:.2} V",
        lost.drop_v,
        lead.current_a,
        lead.awg,
        lead.length_m,
        lead.contact_pairs,
        lead.supply_v,
        lost.ground_lift_v
    );
    Some((left_v, text))
}
