//! What members record by the command line, and how the answers change by it.

use serde_json::{Value, json};

use crate::demo::Demo;

/// A day at the field, on a club of its own.
#[test]
fn a_day_of_the_club() {
    let demo = Demo::own();
    let (dr, qs, av) = (demo.preen("DR"), demo.preen("QS"), demo.preen("AV"));

    // A flight with a hard landing opens the check at once, and the check closes it.
    dr.run("rig SG-05 --at 08:40").code(0).shows("Recorded: SG-05 assembled");
    dr.run("log SG-05 9:30 hard --at 08:50 --motor 22 --landing-flap --tag FL-A")
        .code(0)
        .shows("Recorded: flight of SG-05, 9.5 min, landing hard (flights FL-A, revision ")
        .talks("hint: A hard landing opens a check at once");
    let flight = dr.json("flights show FL-A");
    assert_eq!(flight["occurred_at"], "2026-05-21T07:50:00Z", "08:50 by the club's clock");
    assert_eq!((&flight["airtime_min"], &flight["motor_s"]), (&json!(9.5), &json!(22)));
    assert_eq!(flight["is_post_flight_logged"], false);
    dr.run("may-fly SG-05").code(2).shows("■ grounded").shows("HL not passed since");
    dr.run("due --model SG-05").code(2).shows("HL     ■ overdue");
    qs.run("inspect SG-05 HL --result pass --at 08:58").code(0).talks("hint: `preen may-fly SG-05`");
    assert_eq!(qs.json("inspections list model=SG-05 group=HL")["items"][0]["is_summary"], true);
    dr.run("may-fly SG-05").code(0).shows("● fit");

    // A swap is done as it was previewed, and shows up where parts are asked for.
    demo.clock.set("2026-05-21T08:30:00Z".parse().unwrap());
    let cm = demo.preen("CM");
    let line = "swap SG-04 W.C/FS.L SV08-C004 --reason preventive";
    let preview = cm.json(&format!("{line} --preview"));
    let done = cm.json(line);
    for key in ["before", "after", "delta", "range", "nose_weight_g", "checks_opened"] {
        assert_eq!(preview[key], done[key], "{key}");
    }
    assert_eq!((&preview["is_preview"], &done["is_preview"]), (&json!(true), &json!(false)));
    cm.run("where SV08-C004").code(0).shows("SG-04");
    cm.run("where SV08-B006").code(0).shows("1 part, none in a model.");
    cm.run("may-fly SG-04").code(2).shows("SW not passed since");

    // Taking off and putting on, with where the part goes said by the panel or the model.
    demo.clock.set("2026-05-21T08:40:00Z".parse().unwrap());
    cm.run("remove SV08-C004 --reason suspected --preview").code(0).talks("without --preview records it");
    cm.run("remove SV08-C004 --reason suspected --note 'buzzes'")
        .code(0)
        .shows("Recorded: SV08-C004 comes off.");
    let panel = av.json("where SV08-B001")["components"][0]["path"].clone();
    assert_eq!(panel, "W.C/FS.L");
    demo.clock.set("2026-05-21T08:50:00Z".parse().unwrap());
    cm.run("fit SV08-C004 PN-C-04 FS.L").code(0).shows("Recorded: SV08-C004 into PN-C-04 FS.L.");
    cm.run("fit SV08-C004 PN-C-04 FS.L").code(4);

    // A reading, a defect that restricts, a repair and its release by somebody else.
    av.run("measure SV08-B002 servo_free_play 0.95 deg --tag ME-A").code(0);
    assert_eq!(av.json("measurements show ME-A")["values"], json!([0.95]));
    // A reading beyond its limit, and one that can hardly be right, are recorded and questioned at once.
    let said = av.run("measure SV08-B001 servo_free_play 1.05 deg --at 09:45 --tag ME-B").code(0);
    said.talks("class restrict, and no defect was raised").talks("raise a defect on SV08-B001");
    let said = av.run("measure SV08-B001 servo_free_play 40 deg --at 09:46 --tag ME-C").code(0);
    said.talks("not within 0 to 30 deg").talks("measure again, or correct the reading");
    av.run("measurements correct ME-C --void --reason 'typed wrong'").code(0);
    let said =
        av.run("measure SV08-B001 servo_free_play 0.75 deg --at 09:47 --new-series --tag ME-D").code(0);
    assert!(!said.stderr.contains("class"), "{}", said.stderr);
    av.run("defect SG-01 restrict 'skin dent' --on PN-C-01 --restrict max_flights=2 --fix-by 2026-05-30 --tag DE-A")
        .code(0);
    let sg_01 = av.json("may-fly SG-01");
    assert_eq!(sg_01["models"][0]["max_flights"], 2, "the smaller number counts: {sg_01}");
    av.run("repair SG-01 R9 'filled and sanded' --part PN-C-01 --defect DE-A --cure-until 10:30 --material 1.2 --x 12 --tag RE-A")
        .code(0)
        .shows("R9 on SG-01 is open");
    assert_eq!(av.json("repairs show RE-A")["cure_until_at"], "2026-05-21T09:30:00Z");
    qs.run("release RE-A --second-person QS").code(4);
    av.run("may-fly SG-01").code(2).shows("it cures until 2026-05-21T09:30:00Z");
    demo.clock.set("2026-05-21T09:40:00Z".parse().unwrap());
    qs.run("inspect SG-01 RP --result pass").code(0);
    qs.run("release RE-A --second-person QS").code(0).shows("Recorded: RE-A is released");

    // Loans out and back.
    let kd = demo.preen("KD");
    kd.run("lend SV08-C005 VW --until 2026-05-30 --tag LN-A").code(0).shows("from 2026-05-21 to 2026-05-30");
    kd.run("where SV08-C005").code(0).shows("with VW").shows("to VW, due back 2026-05-30");
    kd.run("return LN-A --note 'as it went'").code(0).shows("LN-A came back");
    assert!(!kd.run("where SV08-C005").code(0).stdout.contains("VW"));
    kd.run("condition SV08-C005 held --reason 'to be looked at' --location 'quarantine shelf'").code(0);
    kd.run("where SV08-C005").code(0).shows("held").shows("quarantine shelf");
}

#[test]
fn the_same_command_file_twice_records_once() {
    let demo = Demo::changed();
    let fs = demo.preen("FS");
    let facts = json!([
        { "id": "019e4a00-0000-7000-8000-0000000000a1", "model": "MP-01", "occurred_at": "2026-05-21T07:00:00Z", "cycles": 1 },
        { "id": "019e4a00-0000-7000-8000-0000000000a2", "model": "MP-01", "occurred_at": "2026-05-21T07:30:00Z", "cycles": 1 },
    ]);
    let fs = fs.input(&facts.to_string());
    fs.run("riggings add --file -").code(0).shows("Recorded: 2, the last one is");
    fs.run("riggings add --file -").code(0).shows("On record: 2, the last one is");
    assert_eq!(fs.json("usage MP-01")["riggings"], 60);
    // A list that breaks off says how far it came.
    let mut broken = facts.as_array().unwrap().clone();
    broken.push(json!({ "id": "019e4a00-0000-7000-8000-0000000000a3", "model": "MP-99", "occurred_at": "2026-05-21T07:30:00Z", "cycles": 1 }));
    fs.input(&Value::from(broken).to_string())
        .run("riggings add --file -")
        .code(3)
        .talks("Number 3 of 3")
        .talks("hint: 2 before it are on record.")
        .talks("hint: Did you mean MP-01?");
}

#[test]
fn facts_are_added_and_corrected_by_their_fields() {
    let demo = Demo::changed();
    let av = demo.preen("AV");
    av.run(
        "flights add model=SG-01 pilot=AV airtime_min=7 landing=normal is_post_flight_logged=yes tag=FL-B",
    )
    .code(0)
    .shows("Recorded: 1 (flights FL-B");
    assert_eq!(av.json("flights show FL-B")["occurred_at"], "2026-05-21T08:00:00Z", "now, by the service");
    av.run("flights correct FL-B airtime_min=8").code(3).talks("A correction needs a reason.");
    av.run("flights correct FL-B airtime_min=8 --reason 'typed wrong'").code(0).shows("the original stays");
    let corrected = av.json("flights show FL-B");
    assert_eq!(corrected["airtime_min"], 8.0);
    // The original is still there to be read.
    let before = corrected["revision"].as_i64().unwrap() - 1;
    assert_eq!(av.json(&format!("flights show FL-B --at-revision {before}"))["airtime_min"], 7.0);
    av.run(&format!("flights show FL-B --at-revision {}", before + 500)).code(3).talks("the newest");
    assert_eq!(av.json("corrections list")["items"][0]["reason"], "typed wrong");
    let flights = av.json("usage SG-01")["flights"].clone();
    assert_eq!(flights, 272);
    av.run("flights correct FL-B --void --reason 'never flown'").code(0);
    assert_eq!(av.json("usage SG-01")["flights"], 271);
    // Master data gets a new version instead.
    let kd = demo.preen("KD");
    kd.run("parts correct SV08 'note=gears wear early in batch B'").code(0).shows("a new version");
    assert_eq!(kd.json("parts show SV08")["note"], "gears wear early in batch B");
    kd.run("parts correct SV08 --void --reason x").code(3);
}

#[test]
fn a_weighing_is_computed_and_recorded_with_its_supports() {
    let demo = Demo::changed();
    let dr = demo.preen("DR");
    let line = "weigh --support -60:878.0 --support 520:324.5 --record SG-05 --configuration 'no ballast'";
    let said = dr.json(line);
    assert_eq!(said["computed"]["mass"]["mass_g"], 1202.5);
    assert_eq!(said["recorded"]["supports"][1]["reading_g"], 324.5);
    let balance = dr.json("balance SG-05");
    assert_eq!(balance["mass_g"], 1202.5);
    assert_eq!(balance["configuration"], "no ballast");
    dr.run("weigh --support 10:1:600 --support 10:-1:600 --record SG-05").code(3);
}
