//! `preen spares`: kinds from a file on the bench, and a team's by the demo club's record.

use crate::demo::Demo;
use crate::preen::Preen;

#[test]
fn kinds_with_given_rates_on_the_bench() {
    let kinds = include_str!("../fuzz/seeds/spares/contest.json");
    Preen::default()
        .input(kinds)
        .run("spares --from -")
        .code(0)
        .shows("0.620 / 0.917 / 0.987 / 0.999")
        .shows("0.301 / 0.663 / 0.879 / 0.966 / 0.992")
        .is_as_expected("spares_on_the_bench");
    let short = r#"{"kinds":[{"kind":"flap servo","exposure":100,"mtbf":209.5,"in_stock":1}]}"#;
    Preen::default().input(short).run("spares --from -").code(1).shows("2 × flap servo; get 1 more");
    let said = Preen::default()
        .input(r#"{"kinds":[{"kind":"servo","exposure":-1,"mtbf":5}]}"#)
        .run("spares --from -");
    assert!(said.code(3).stderr.contains("0 or more"));
}

#[test]
fn spares_of_the_team_by_the_record() {
    let preen = Demo::shared().preen("FS");
    let said = preen.run("spares --models SG-01,SG-03,SG-04,SG-05,SG-06 --flights 20").code(1);
    said.clone().shows("not of batch B (CA-2026-1)").shows("not SV08-B016: held back");
    let answer = preen.json("spares --models SG-01,SG-03,SG-04,SG-05,SG-06 --flights 20");
    let kinds = answer["kinds"].as_array().unwrap();
    let flap = kinds.iter().find(|kind| kind["position_kind"] == "flap servo").unwrap();
    assert_eq!((flap["needed"].as_u64(), flap["short"].as_u64()), (Some(1), Some(1)));
    // The contest's own models and rounds: eight training flights, eight preliminary and four fly-off rounds.
    let contest = preen.json("spares CT-2026-1");
    assert_eq!((contest["flights"].as_u64(), &contest["models"]), (Some(20), &answer["models"]));
    assert_eq!(contest["kinds"], answer["kinds"]);
}
