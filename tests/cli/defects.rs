//! Defects on the command line: raised, put off with a preview, extended by another, and how they stand.

use serde_json::json;

use crate::demo::Demo;

#[test]
fn what_grounds_is_refused_with_its_reason() {
    let fs = Demo::shared().preen("FS");
    for line in [
        "defer DE-008 --until 2026-05-30 --restrict max_flights=4 --reason 'servo ordered'",
        "defer DE-008 --until 2026-05-30 --restrict max_flights=4 --reason 'servo ordered' --preview",
    ] {
        fs.run(line)
            .code(4)
            .talks("DE-008 grounds, and what grounds is never deferred: repair and release it");
    }
    fs.run("standing DE-008")
        .code(2)
        .shows("■ ground")
        .shows("now in      MP-01")
        .shows("repair and release DE-008, or take the part off");
}

#[test]
fn a_defect_is_put_off_and_extended_once() {
    let demo = Demo::own();
    let (cm, av, qs) = (demo.preen("CM"), demo.preen("AV"), demo.preen("QS"));
    let found =
        "defect SG-05 restrict 'flap hinge stiff' --cause wear --cause-note 'sand in the tape' --tag DE-A";
    demo.preen("DR").run(found).code(0).talks("hint: `preen defer DEFECT --restrict KIND --until DAY");
    let line = "defer DE-A --until 2026-05-22 --restrict max_flights=4 --restrict no_contest --reason 'tape ordered'";
    cm.run(line).code(4).talks("A defect is deferred by the model's owner or by an inspector.");
    let dr = demo.preen("DR");
    dr.run(&format!("{line} --preview"))
        .code(0)
        .shows("Would be deferred, nothing is recorded: DE-A.")
        .shows("max 4 flights (until 2026-05-22); no contest (until 2026-05-22)")
        .talks("hint: The same without --preview records it.");
    dr.run(line).code(0).shows("Recorded: DE-A is deferred.").talks("hint: `preen may-fly SG-05`");
    dr.run("may-fly SG-05").code(1).shows("▲ restricted").shows("no contest (until 2026-05-22), by DE-A");
    dr.run("standing DE-A")
        .code(1)
        .shows("wear: sand in the tape")
        .shows("ground after 2026-05-22, 1 days left; 4 flights left")
        .shows("may extend")
        .shows("AV, FS, QS");

    // Its time runs out; the owner cannot extend it, an inspector can, and nobody a second time.
    dr.run("standing DE-A --on 2026-05-23").code(2).shows("have DE-A extended by an inspector other than DR");
    demo.clock.set("2026-05-23T07:00:00Z".parse().unwrap());
    dr.run("may-fly SG-05").code(2);
    let more = "defer DE-A --until 2026-05-28 --restrict no_contest --reason 'tape comes on Monday'";
    dr.run(more).code(4).talks("by an inspector other than the one who signed first");
    qs.run(more).code(0).shows("Recorded: DE-A is extended.");
    dr.run("may-fly SG-05").shows("▲ restricted");
    av.run(more).code(4).talks("is extended once only");
    let standing = av.json("standing DE-A");
    assert_eq!(standing["found_by"], "DR");
    assert_eq!((&standing["can_be_deferred"], &standing["may_sign"]), (&json!(false), &json!([])));
    assert_eq!(av.json("deferrals list defect=DE-A")["items"].as_array().unwrap().len(), 2);
    av.run("deferrals list --csv").code(0).shows("occurred,defect,restrictions,fix_by_on,within_flights");

    // Found wrong: only with a fresh reading.
    dr.run("close DE-A found_wrong 'moves freely'").code(4).talks("measure SG-05 again");
    dr.run("measure SG-05 hinge_force 0.4 N --tag ME-A").code(0);
    dr.run("close DE-A found_wrong 'moves freely' --measurement ME-A").code(0);
    dr.run("standing DE-A").code(0).shows("● closed").shows("closed, found wrong: moves freely");
}

#[test]
fn several_restrictions_are_told_together() {
    let demo = Demo::own();
    let dr = demo.preen("DR");
    dr.run("defect SG-05 restrict 'skin dent' --restrict max_wind=9 --fix-by 2026-05-30 --tag DE-A").code(0);
    dr.run("defect SG-05 restrict 'hinge stiff' --restrict max_wind=6.5 --fix-by 2026-05-29 --tag DE-B")
        .code(0);
    dr.run("may-fly SG-05")
        .code(1)
        .shows("wind up to 9 m/s (until 2026-05-30), by DE-A")
        .shows("wind up to 6.5 m/s (until 2026-05-29), by DE-B")
        .shows("together")
        .shows("wind up to 6.5 m/s\n");
    assert_eq!(dr.json("may-fly SG-05")["models"][0]["tightest"][0]["sources"], json!(["DE-B"]));
}

#[test]
fn terms_that_cannot_be_read() {
    let fs = Demo::shared().preen("FS");
    for (line, code, text) in [
        ("defer DE-007 --until 2026-06-04 --restrict slowly --reason x", 3, "slowly"),
        ("defer DE-007 --until yesterday --restrict no_contest --reason x", 3, "yesterday"),
        ("defer DE-007 --restrict no_contest --reason x", 3, "Say until when"),
        ("defer DE-007 --until 2026-06-04 --reason x", 3, "say at least one restriction"),
        ("defer DE-07 --until 2026-06-04 --restrict no_contest --reason x", 3, "Did you mean DE-007?"),
        ("defect SG-05 restrict 'puffed' --cause swollen_pack", 3, "always grounds"),
        ("standing DE-07", 3, "Did you mean DE-007?"),
    ] {
        fs.run(line).code(code).talks(text);
    }
}
