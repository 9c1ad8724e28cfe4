//! `preen linkage` and `preen cover`: computed without a service, as table, JSON and CSV, and what they refuse.

use crate::preen::Preen;

const FLAP: &str = "linkage --arm 4.5:28 --hinge 62:3.5 --horn 4.6:0.5";

fn run(line: &str) -> crate::preen::Said {
    Preen::default().run(line)
}

#[test]
fn the_deflection_table_with_play() {
    run(&format!(
        "{FLAP} --at 20,10,0,-10,-20,-30,-40,-50,-55,-60 --per-us 0.1 --chord 62 --servo-play 0.6 --hole-play 0.06"
    ))
    .code(0)
    .is_as_expected("linkage_table");
}

#[test]
fn loads_and_the_speed_limit() {
    run(&format!(
        "{FLAP} --at -50 --chord 62 --span 930 --chord-ratio 0.267 --load -50:12:0.7 --load -50:20:0.7 \
         --load -10:28 --load -40:28 --torque 0.5"
    ))
    .code(0)
    .shows("TOO WEAK")
    .is_as_expected("linkage_loads");
}

#[test]
fn a_right_flap_that_lags_is_not_mended_by_end_points() {
    let said = run(&format!("{FLAP} --at 0 --chord 62 --right-arm 4.5:33 --ends -50:20")).code(0);
    said.clone().shows("NOT two end points").shows("-0.56");
    said.is_as_expected("linkage_mismatch");
    run(&format!("{FLAP} --at 0 --chord 62 --ends -50:20")).code(0).shows("none needed");
}

#[test]
fn sizes_for_wanted_throws_under_a_cover() {
    run("linkage --hinge 62:3.5 --want 53.5:16.1 --travel 50:20 --arms 3:5:0.5 --horns 2:8 --under-cover 7:1:1.9")
        .code(0)
        .is_as_expected("linkage_sizes");
}

#[test]
fn geometry_is_fitted_to_measured_throws() {
    run(&format!(
        "{FLAP} --at 0 --chord 62 --measured 20:-16.1 --measured -20:18.8 --measured -35:35.0 --measured -50:56mm \
         --find arm_deg,horn_mm"
    ))
    .code(0)
    .is_as_expected("linkage_fit");
}

#[test]
fn a_question_comes_from_a_file_and_the_answer_goes_to_a_program() {
    let question = r#"{"geometry":{"arm_mm":4.5,"arm_deg":28,"hinge_x_mm":62,"hinge_z_mm":3.5,"horn_mm":4.6,
        "set_back_mm":0.5},"servo_deg":[-50],"surface":{"chord_mm":62},"servo_play_deg":0.6}"#;
    let answer = Preen::default().input(question).json("linkage --from -");
    assert_eq!(format!("{:.1}", answer["rows"][0]["deflection_deg"].as_f64().unwrap()), "53.5");
    assert_eq!(format!("{:.2}", answer["rows"][0]["play"]["total_mm"].as_f64().unwrap()), "0.91");
    let rows = run(&format!("{FLAP} --at -50 --csv")).code(0).stdout;
    assert!(rows.starts_with("servo_deg,surface_deg,2u_deg,"), "{rows}");
    assert!(rows.lines().nth(1).unwrap().starts_with("-50,53.5,"), "{rows}");
    Preen::default().input(r#"{"geometri":{}}"#).run("linkage --from -").code(3).talks("geometri");
}

#[test]
fn what_cannot_be_computed_says_what_to_mend() {
    run("linkage").code(3).talks("--arm MM:DEG");
    run("linkage --arm 4.5:28 --horn 4.6").code(3).talks("--hinge X[:Z] is missing");
    run("linkage --arm 4.5 --hinge 62 --horn 4.6").code(3).talks("two numbers joined by a colon");
    run(&format!("{FLAP} --at -80")).code(3).talks("passes a dead point").talks("servo_deg");
    run(&format!("{FLAP} --rod 20")).code(3).talks("cannot be put together").talks("rod");
    run(&format!("{FLAP} --servo-play 0.6")).code(3).talks("--chord");
    run("linkage --hinge 62 --want 53:16 --travel 50:20 --arms 3:5 --horns 9:12")
        .code(3)
        .talks("the horn would have to be shorter than allowed");
    run(&format!("{FLAP} --measured -50:53 --find arm_mm,horn_mm"))
        .code(3)
        .talks("1 different servo angles cannot tell 2 unknowns");
    run(&format!("{FLAP} --measured -50:53 --find colour")).code(3).talks("none of arm_mm");
}

#[test]
fn a_cover_that_the_arm_scrapes() {
    run("cover --depth 7 --sheet 1 --arm 4.5 --tip 1.9 --try 0.5,0.3")
        .code(0)
        .shows("-0.40")
        .shows("5.82 mm long")
        .shows("0.70 mm high")
        .is_as_expected("cover_scrapes");
    run("cover --depth 7 --sheet 0.3 --swept 6.4 --swing -22:48").code(0).shows("clear");
    assert_eq!(Preen::default().json("cover --depth 7 --sheet 1 --swept 6.4")["is_clear"], false);
    run("cover --depth 7 --sheet 1").code(3).talks("Give --swept, or --arm and --tip");
    run("cover --depth 1.2 --sheet 1 --swept 6.4").code(3).talks("axis must lie deeper");
    run("cover --depth 7 --sheet 1 --swept 6.4 --swing 20:-20").code(3).talks("swing");
}

#[test]
fn air_wear_and_ruler_are_said_by_flags() {
    let line = format!("{FLAP} --at -50 --chord 62 --span 930 --load -50:12:0.7 --torque 0.5");
    let torque = |more: &str| {
        let answer = Preen::default().json(&format!("{line} {more}"));
        let load = &answer["loads"][0];
        (load["servo_torque_nm"].as_f64().unwrap(), load["u_servo_torque_nm"].as_f64().unwrap())
    };
    let near = |got: f64, wanted: f64| assert!((got / wanted - 1.0).abs() < 1e-9, "{got} for {wanted}");
    let (usual, u_usual) = torque("");
    near(torque("--density 1.0").0, usual / 1.225);
    near(torque("--efficiency 0.6").0, usual * 1.5);
    // The coefficient's 30 % alone, then the gain's part alone.
    near(torque("--u-length 0 --u-angle 0").1, usual * 0.3);
    let gain_alone = torque("--u-coefficient 0").1;
    near(gain_alone.hypot(usual * 0.3), u_usual);
    assert!((0.02..0.2).contains(&(gain_alone / usual)), "{}", gain_alone / usual);
    let theory = format!("{FLAP} --at 0 --chord 62 --span 930 --chord-ratio 0.267 --load -10:28");
    let coefficient = |more: &str| {
        Preen::default().json(&format!("{theory} {more}"))["loads"][0]["hinge_coefficient"].as_f64().unwrap()
    };
    assert!(coefficient("--incidence 5") > coefficient(""));
    run(&format!("{line} --incidence 5")).code(3).talks("--chord-ratio");
}

#[test]
fn sizes_for_throws_in_mm() {
    let sizes = "linkage --hinge 62:3.5 --travel 50:20 --arms 4:5:0.5 --horns 3:8 --chord 62";
    let by_mm = Preen::default().json(&format!("{sizes} --want-mm 55.8:17.4 --set-back 0.5"));
    let best = &by_mm["proposals"][0];
    let down = best["down_deg"].as_f64().unwrap();
    assert!((53.4..53.6).contains(&down), "{best}");
    run(sizes).code(3).talks("The throws wanted are missing");
    run(&format!("{sizes} --want-mm 55.8:17.4 --want 50:20")).code(3).talks("cannot be used with");
}
