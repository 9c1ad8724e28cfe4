//! Repairs by work sheet at the command line: the sheet of a kind, work ticked, how one stands, who may release.

use serde_json::json;

use crate::demo::Demo;

#[test]
fn the_sheet_of_a_kind() {
    let preen = Demo::shared().preen("FS");
    preen.run("repair sheet R3").code(0).is_as_expected("sheet_of_a_connector");
    preen
        .run("repair sheet R3")
        .shows("Pull at each contact with 5 N.")
        .shows("(slack − 10) / 7, rounded down");
    let json = preen.json("repair sheet R10");
    assert_eq!((&json["class_of_work"], &json["released_by"]), (&json!("structure"), &json!("inspector")));
    preen.run("repair sheet R14").code(3);
    preen.run("repair").code(3).talks("<MODEL>");
}

#[test]
fn how_the_boom_of_mp_03_stands() {
    let preen = Demo::shared().preen("FS");
    preen
        .run("repair show RE-014")
        .code(1)
        .shows("RE-014 R10 Boom or fuselage on MP-03: open")
        .shows("until 2026-05-22 22:00")
        .shows("release blocked: it cures until 2026-05-22T21:00:00Z")
        .shows(
            "release blocked: RP was not passed since the work was over and cured; pass RP when it is cured",
        )
        .talks("older papers");
    let json = preen.json("repair show RE-014");
    let may: Vec<&str> =
        json["may_release"].as_array().unwrap().iter().map(|one| one["member"].as_str().unwrap()).collect();
    assert_eq!(may, ["AV", "FS", "QS"], "inspectors who did not mend it");
    preen.run("repair show RE-006").code(0).shows("released 2025-11-22 18:00");
    preen.run("repair show RE-999").code(3);
    // How the right connector of SG-03 came to 6 mm of slack.
    let history = preen.json("history CF-SG-03-R");
    let events = history["events"].as_array().unwrap();
    let cuts: Vec<(&str, &str)> = events
        .iter()
        .filter(|event| event["kind"] == "repair")
        .map(|event| (event["tag"].as_str().unwrap(), event["text"].as_str().unwrap()))
        .collect();
    let expected =
        [("RE-002", "27 mm left 20 mm"), ("RE-004", "20 mm left 13 mm"), ("RE-007", "13 mm left 6 mm")];
    for ((tag, text), (expected_tag, expected_text)) in cuts.iter().zip(expected) {
        assert_eq!(*tag, expected_tag);
        assert!(text.contains("7 mm of lead used") && text.contains(expected_text), "{text}");
    }
    assert_eq!((cuts.len(), &history["riggings"]), (3, &json!(77)), "mating cycles are those of rigging");
    assert!(events.iter().any(|event| event["text"].as_str().unwrap().contains("22 mOhm")), "{history}");
}

#[test]
fn a_boom_is_released_after_its_cure_and_flown_gently_first() {
    let demo = Demo::own();
    demo.clock.set("2026-05-22T20:00:00Z".parse().unwrap());
    let (qs, bk) = (demo.preen("QS"), demo.preen("BK"));
    qs.run("release RE-014").code(4).talks("It cures until 2026-05-22T21:00:00Z");
    demo.clock.set("2026-05-22T21:30:00Z".parse().unwrap());
    qs.run("release RE-014").code(4).talks("pass RP first");
    qs.run("inspect MP-03 RP --result pass").code(0);
    bk.run("release RE-014").code(4).talks("BK did the work").talks("released by an inspector");
    qs.run("release RE-014").code(0).shows("RE-014 is released");
    qs.run("may-fly MP-03").code(1).shows("restricted").shows("no full-power zoom and no dive");

    // A cover by its sheet, from the start to the check it asks for.
    let av = demo.preen("AV");
    av.run("repair SG-01 R4 'left flap servo cover' --part PN-C-01 --tag RE-C")
        .code(0)
        .talks("preen repair sheet R4");
    av.run("repair step RE-C --done 1,2,4 --not-applicable '3=room enough' --lot S-02=0.01 --resin canopy_adhesive \
            --cover glass --thickness 0.5 --relief none --mass 1.2 --x 62 --y -95")
        .code(0)
        .shows("Recorded: work on RE-C")
        .talks("preen repair show RE-C");
    av.run("sign RE-C").code(4).talks("AV did the work");
    qs.run("sign RE-C --note 'room at the top'").code(0).shows("RE-C was looked at by a second person");
    let sheet = av.json("repair show RE-C");
    assert_eq!(sheet["looked_at_by"], json!(["QS"]));
    assert_eq!(
        (&sheet["cure_until_at"], &sheet["mass_added_g"]),
        (&json!("2026-05-23T00:30:00Z"), &json!(1.2))
    );
    assert_eq!(sheet["materials"], json!(["0.01 m2 cover sheet 0.5 mm of lot S-02"]));
    assert_eq!(sheet["steps"][2]["reason"], "room enough");
    av.run("repair show RE-C").code(1).shows("3 h 00 min left").shows("step 5, 6 of sheet R4 is open");
    av.run("repair step RE-C --lot H-03").code(4).talks("Lot H-03");
    av.run("repair step RE-C --sanded 0.01").code(3).talks("Sheet R4 keeps cover");
    av.run("repair step RE-C --not-applicable 3").code(3).talks("NUMBER=WHY");
    av.run("history PN-C-01").code(0).shows("repair_step").shows("0.01 m2 cover sheet 0.5 mm of lot S-02");
}
