//! Spares of the demo's team: how often its parts failed, what of the shelf may be taken, and what the campaign takes.

use preen_domain::answers::{SparesWanted, TeamSpares, TeamSparesKind, team_spares};
use preen_domain::fleet::Fleet;

use preen_tests::demo_fleet::{demo, model, moment};

fn asked(fleet: &Fleet, models: &[&str], flights: u32) -> TeamSpares {
    let models = models.iter().map(|tag| model(fleet, tag)).collect();
    team_spares(fleet, &SparesWanted { models, flights, target: 0.95 }, moment("2026-05-21"))
        .expect("an answer")
}

fn kind<'a>(spares: &'a TeamSpares, part: &str, kind: &str) -> &'a TeamSparesKind {
    let found = spares.kinds.iter().find(|one| one.part == part && one.position_kind == kind);
    found.unwrap_or_else(|| panic!("no {part} as {kind}"))
}

#[test]
fn flap_servos_by_all_batches_on_record_against_what_the_campaign_leaves() {
    let fleet = demo();
    let spares = asked(&fleet, &["SG-01", "SG-03", "SG-04", "SG-05", "SG-06"], 20);
    let flap = kind(&spares, "SV08", "flap servo");
    // Two of each model; A and B of the club's life answer, 1293 and 2344 flights with three failures, and batch C.
    assert_eq!((flap.fitted_count, flap.advice.exposure), (10, 200.0));
    let measured = flap.advice.measured.expect("measured");
    assert_eq!(measured.failures, 3);
    assert!(measured.exposure > 3637.0 && measured.exposure < 3800.0, "{}", measured.exposure);
    assert!((flap.advice.mean - 200.0 * 3.0 / measured.exposure).abs() < 1e-12);
    // Mean 0.16: one is enough with 0.98, none with 0.85.
    assert_eq!(flap.advice.needed, 1);
    assert!(flap.advice.needed_at_bound.is_some_and(|needed| needed > 1));
    // Three of batch C lie ready, and five have to go into the entries first.
    assert_eq!(flap.usable, ["SV08-C004", "SV08-C005", "SV08-C006"]);
    assert_eq!((flap.needed_before_count, flap.advice.in_stock, flap.advice.short), (5, Some(0), Some(1)));
    assert_eq!(flap.advice.match_needed.as_deref(), Some("not of batch B (CA-2026-1)"));
    let refused = flap.not_usable.iter().find(|spare| spare.component == "SV08-B016").expect("held");
    assert_eq!(refused.why, "held back");
    assert!(
        spares.packing.iter().any(|line| line.contains("SV08 as flap servo, not of batch B")),
        "{:?}",
        spares.packing
    );
    // An aileron servo wears elsewhere and has no campaign.
    let aileron = kind(&spares, "SV08", "aileron servo");
    assert_eq!((aileron.needed_before_count, aileron.advice.match_needed.as_deref()), (0, None));
}

#[test]
fn a_joiner_that_was_never_fitted_is_no_spare() {
    let fleet = demo();
    let spares = asked(&fleet, &["SG-01", "SG-05"], 20);
    let joiner = spares.kinds.iter().find(|kind| kind.part == "JN-SG").expect("joiners");
    assert!(joiner.usable.is_empty() && joiner.advice.is_fitted_before);
    let refused = joiner.not_usable.iter().find(|spare| spare.component == "JN-SP-01").expect("on the shelf");
    assert!(refused.why.contains("fit, mark and measure it before the journey"), "{}", refused.why);
}

#[test]
fn more_flights_and_more_models_never_need_fewer() {
    let fleet = demo();
    let few = asked(&fleet, &["SG-01"], 5);
    let more = asked(&fleet, &["SG-01", "SG-03"], 60);
    for one in &few.kinds {
        let other = kind(&more, &one.part, &one.position_kind);
        assert!(other.advice.to_take >= one.advice.to_take, "{} {}", one.part, one.position_kind);
        assert!(other.advice.mean >= one.advice.mean);
    }
    assert!(few.assumptions.iter().any(|text| text.contains("5 flights")));
    // What is wanted is reached by what is taken, kind by kind, where nothing is short.
    for one in few.kinds.iter().filter(|kind| kind.advice.short == Some(0)) {
        assert!(one.advice.enough_with_stock >= 0.95, "{}", one.advice.says);
    }
}
