//! `preen campaign` and `preen stock` on the demo club.

use serde_json::json;

use crate::demo::Demo;

#[test]
fn how_far_the_campaign_is_and_what_is_missing() {
    let preen = Demo::shared().preen("FS");
    preen
        .run("campaign progress CA-2026-1 --models SG-01,SG-02,SG-03,SG-04,SG-05,SG-06")
        .code(2)
        .is_as_expected("campaign_progress");
    let answer = preen.json("campaign progress CA-2026-1 --models SG-01,SG-03,SG-04,SG-05,SG-06");
    let need = &answer["needs"][0];
    assert_eq!((&need["need_count"], &need["short_count"]), (&json!(7), &json!(4)));
    assert_eq!((&need["models_need_count"], &need["models_short_count"]), (&json!(5), &json!(2)));
    assert_eq!(answer["as_of"], "2026-05-21T08:00:00Z");
    preen.run("campaign work-list CA-2026-1").code(0).is_as_expected("campaign_work_list");
    preen
        .run("campaign list")
        .code(0)
        .shows("CA-2026-1")
        .shows("SV08/B at flap servo")
        .shows("2 overdue, 1 to come off");
    let csv = preen.run("campaign progress CA-2026-1 --csv").code(2).stdout;
    assert_eq!(csv.lines().count(), 12);
    assert!(csv.lines().any(|line| line.starts_with("SV08-B015,B,,loaned,held,")), "{csv}");
    preen.run("campaign progress CA-2026-9").code(3).talks("Did you mean CA-2026-1?");
    preen.run("campaign progress CA-2026-1 --models SG-99").code(3);
}

#[test]
fn what_there_is_of_a_servo() {
    let preen = Demo::shared().preen("FS");
    preen.run("stock SV08").code(0).is_as_expected("stock");
    let csv = preen.run("stock SV08 --csv").code(0).stdout;
    assert!(csv.lines().any(|line| line == "SV08,C,6,3,3,0,0,0,0,0,0,3,0,4"), "{csv}");
    preen.run("stock SV80").code(3).talks("Did you mean SV08?");
}

#[test]
fn a_campaign_is_opened_worked_off_and_closed() {
    let demo = Demo::own();
    let (qs, bk) = (demo.preen("QS"), demo.preen("BK"));
    let line = "campaign open SV08 --batch C --position-kind 'flap servo' --tag CA-T \
                --action 'inspect: look for cracks; by_on=2026-05-22'";
    qs.run(&format!("{line} --preview"))
        .code(0)
        .shows("Would be opened")
        .shows("SV08-C001")
        .talks("without --preview");
    bk.run(line).code(4);
    qs.run(line).code(0).shows("Recorded: campaign over SV08");
    qs.run("campaign open SV08 --action 'look: x'").code(3).talks("Action 1");
    qs.run("campaign open SV08 --action 'measure: x; limit=a'").code(3).talks("is not a number");
    qs.run("campaign progress CA-T").code(1);
    qs.run("campaign close CA-T --preview").code(4).talks("SV08-C001");
    for part in ["SV08-C001", "SV08-C002", "SV08-C003", "SV08-C004", "SV08-C005"] {
        qs.run(&format!("campaign done CA-T 1 {part} --result pass"))
            .code(0)
            .shows("looked at for action 1 of CA-T, pass");
    }
    qs.run("campaign close CA-T --waive SV08-C006").code(3).talks("gives no reason");
    let close = "campaign close CA-T --waive 'SV08-C006=still packed'";
    qs.run(&format!("{close} --preview")).code(0).shows("Would be closed");
    qs.run(close)
        .code(0)
        .shows("Recorded: CA-T is closed, one part let stand.")
        .shows("SV08-C006, still packed");
    qs.run("campaign list").code(0).shows("closed");
    qs.run("campaign close CA-T").code(4);
}
