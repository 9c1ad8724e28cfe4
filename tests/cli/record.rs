//! Recording with a look beforehand, and what is refused: the sentence and the exit code.

use serde_json::json;

use crate::demo::Demo;

#[test]
fn a_reading_is_tried_out_before_it_is_recorded() {
    let demo = Demo::own();
    let av = demo.preen("AV");
    let before = av.json("measurements list subject=SV08-B001")["items"].as_array().unwrap().len();
    // Beyond a limit that nobody raised a defect for.
    av.run("measure SV08-B001 servo_free_play 1.05 deg --preview")
        .code(1)
        .shows("Would be recorded, nothing is: servo_free_play of SV08-B001.")
        .shows("restrict, from 1 deg on")
        .shows("fit, then restricted")
        .talks("class restrict, and no defect was raised")
        .talks("The same without --preview records it.");
    let tried = av.json("measure SV08-B001 servo_free_play 1.25 deg --preview");
    assert_eq!(
        (&tried["is_preview"], &tried["class"], &tried["state_after"]),
        (&json!(true), &json!("ground"), &json!("grounded"))
    );
    av.run("measure SV08-B001 servo_free_play 1.25 deg --preview").code(2);
    // A good one, a jump that can hardly be right, and a unit that nobody judges it by.
    av.run("measure SV08-B002 servo_free_play 0.92 deg --preview").code(1).shows("watch, from 0.8 deg on");
    av.run("measure SV08-B002 servo_free_play 9.5 deg --method 'arm pointer 50 mm, 0.2 N' --preview")
        .code(2)
        .talks("measure again, or correct the reading");
    av.run("measure SV08-B002 servo_free_play 0.92 mm --preview").code(3).talks("is read in deg");
    let after = av.json("measurements list subject=SV08-B001")["items"].as_array().unwrap().len();
    assert_eq!(before, after, "nothing was recorded");
}

#[test]
fn a_defect_with_several_restrictions() {
    let demo = Demo::own();
    let dr = demo.preen("DR");
    dr.run("defect SG-05 restrict 'flap hinge stiff' --restrict no_contest --restrict max_wind=6 --restrict max_flights=5 --tag DE-A")
        .code(0);
    dr.run("may-fly SG-05")
        .code(1)
        .shows("no contest, by DE-A")
        .shows("wind up to 6 m/s, by DE-A")
        .shows("max 5 flights");
    let stored = dr.json("defects show DE-A");
    assert_eq!(stored["restriction"], json!({"kind": "no_contest"}));
    assert_eq!(stored["restrictions"][1], json!({"kind": "max_flights", "value": 5.0}));
    assert_eq!(dr.json("standing DE-A")["restrictions"].as_array().unwrap().len(), 3);
    dr.run("defect SG-05 restrict 'too windy' --restrict no_contest --restrict max_wind")
        .code(3)
        .talks("`max_wind` needs a number");
    dr.run("defect SG-05 ground 'spar cracked' --restrict no_contest --restrict owner_only")
        .code(3)
        .talks("leave the restriction out");
}

#[test]
fn bad_input_says_what_to_do_instead() {
    let demo = Demo::own();
    demo.clock.set("2026-05-22T20:00:00Z".parse().unwrap());
    let [qs, bk, fs, cm, av] = ["QS", "BK", "FS", "CM", "AV"].map(|tag| demo.preen(tag));
    qs.run("release RE-014").code(4).talks("It cures until 2026-05-22T21:00:00Z");
    fs.run("defer DE-008 --until 2026-05-30 --restrict max_flights=4 --reason 'servo ordered'")
        .code(4)
        .talks("repair and release it");
    cm.run("fit SV08-B008 PN-C-04 FS.L").code(4).talks("only a serviceable part may be fitted");
    bk.run("repair SG-03 R3 'contacts worn' --part CF-SG-03-R --slack-used 7")
        .code(4)
        .talks("splice in an extension");
    av.run("measure SV08-B001 servo_free_play 0.7 mm").code(3).talks("convert the reading from mm");
    qs.run("campaign close CA-2026-1 --text enough").code(4).talks("SV08-B001");
    cm.run("remove PN-L-04 --reason suspected --at '2026-05-17 13:10'")
        .code(4)
        .talks("was in the air until 2026-05-17T12:18:00Z");
    bk.run("repair SG-03 R1 'too tight' --part JN-SG-03-R --tag RE-J").code(0);
    bk.run("repair step RE-J --sanded 0.15").code(4).talks("inspector");
    qs.run("repair step RE-J --sanded 0.2").code(4).talks("re-sleeve");
    bk.run("repair step RE-J --sanded 0.06").code(0);
    let sheet = bk.run("repair show RE-J").code(1);
    assert!(
        sheet.stdout.contains("JN-SG-03-R sanded: top 0.06 mm (life 0.06, 0.04 left without an inspector)"),
        "{}",
        sheet.stdout
    );
    demo.clock.set("2026-05-22T21:30:00Z".parse().unwrap());
    bk.run("release RE-014").code(4).talks("BK did the work");
}
