//! The rule of a campaign: which parts it names, which kinds of position it covers, and when it is open.

use crate::{
    facts::{Campaign, CampaignClosure, Component, Recorded},
    fleet::Fleet,
    formulas::serial::{is_in_range, reads_alike},
    ids::CampaignId,
    text::Tag,
    time::{Instant, day_of, start_of_day},
};

/// What people call a campaign.
pub(crate) fn name(campaign: &Campaign) -> String {
    campaign.tag.as_ref().map_or_else(|| campaign.id.to_string(), ToString::to_string)
}

/// The beginning of the club day on which it was opened: flights, readings and inspections count from then on.
pub(crate) fn counts_from(fleet: &Fleet, campaign: &Campaign) -> Instant {
    let zone = fleet.club().zone;
    start_of_day(day_of(campaign.occurred_at, zone), zone)
}

/// The closing of a campaign that had happened by a moment.
pub(crate) fn closing(fleet: &Fleet, id: CampaignId, at: Instant) -> Option<&Recorded<CampaignClosure>> {
    fleet.campaign_file(id)?.closures.until(at).first()
}

/// Campaigns opened and not closed by a moment.
pub(crate) fn open_at(fleet: &Fleet, at: Instant) -> impl Iterator<Item = &Recorded<Campaign>> {
    fleet
        .campaigns()
        .filter(move |(id, campaign)| campaign.fact.occurred_at <= at && closing(fleet, *id, at).is_none())
        .map(|(_, campaign)| campaign)
}

/// What a part is compared by with a range of serial numbers: its own, or else its tag.
fn serial_of(data: &Component) -> &str {
    data.serial.as_ref().unwrap_or(&data.tag).as_str()
}

fn is_of_type_and_batch(campaign: &Campaign, data: &Component) -> bool {
    data.part == campaign.part
        && campaign.batch.as_ref().is_none_or(|batch| Some(batch) == data.batch.as_ref())
}

/// Whether a campaign names a part by its type, batch and serial number, wherever the part is.
pub(crate) fn names_part(campaign: &Campaign, data: &Component) -> bool {
    let ends = (campaign.serial_from.as_ref().map(Tag::as_str), campaign.serial_to.as_ref().map(Tag::as_str));
    is_of_type_and_batch(campaign, data) && is_in_range(serial_of(data), ends.0, ends.1)
}

/// Whether a campaign asks for serial numbers and the part has none that could be compared: nobody can say whether it
/// is meant.
pub(crate) fn is_serial_unknown(campaign: &Campaign, data: &Component) -> bool {
    let mut ends = campaign.serial_from.iter().chain(&campaign.serial_to).peekable();
    ends.peek().is_some()
        && data.serial.is_none()
        && is_of_type_and_batch(campaign, data)
        && !ends.any(|end| reads_alike(end.as_str(), data.tag.as_str()))
}

/// Whether a campaign covers a kind of position.
pub(crate) fn covers_kind(campaign: &Campaign, kind: Option<&str>) -> bool {
    campaign.position_kind.as_ref().is_none_or(|wanted| Some(wanted.as_str()) == kind)
}
