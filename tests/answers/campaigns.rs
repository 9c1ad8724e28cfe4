//! How far the demo's campaign is.

use preen_domain::answers::campaign_progress;
use preen_domain::facts::Noun;
use preen_domain::ids::CampaignId;

use preen_tests::demo_fleet::{demo, id, model, moment};

#[test]
fn look() {
    let fleet = demo();
    let ca = CampaignId(id(&fleet, Noun::Campaigns, "CA-2026-1"));
    let entries = ["SG-01", "SG-02", "SG-03", "SG-04", "SG-05", "SG-06"].map(|tag| model(&fleet, tag));
    let progress = campaign_progress(&fleet, ca, Some(&entries), moment("2026-05-21")).unwrap();
    println!("{}", serde_json::to_string_pretty(&progress).unwrap());
    let stock = preen_domain::answers::stock(&fleet, Some(preen_tests::demo_fleet::part(&fleet, "SV08")), moment("2026-05-21"));
    println!("{}", serde_json::to_string_pretty(&stock).unwrap());
}
