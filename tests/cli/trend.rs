//! `preen trend` on the demo club: when the left joiner and a servo reach their limits, and what is not told.

use serde_json::{Value, json};

use crate::demo::Demo;

fn number(answer: &Value, pointer: &str) -> f64 {
    answer.pointer(pointer).and_then(Value::as_f64).unwrap_or_else(|| panic!("{pointer} in {answer}"))
}

#[test]
fn when_the_left_joiner_reaches_watch_and_restrict() {
    let preen = Demo::shared().preen("FS");
    let answer = preen.json("trend JN-SG-01-L");
    let [watch, restrict] = [0, 1].map(|index| format!("/series/0/forecast/{index}"));
    assert_eq!(format!("{:.5}", number(&answer, "/series/0/line/slope")), "0.00279");
    assert_eq!(format!("{:.1}", number(&answer, &format!("{watch}/count_left"))), "5.7");
    assert_eq!(format!("{:.1}", number(&answer, &format!("{watch}/earliest_left"))), "1.1");
    assert_eq!(format!("{:.1}", number(&answer, &format!("{restrict}/count_left"))), "34.4");
    assert_eq!(format!("{:.1}", number(&answer, &format!("{restrict}/earliest_left"))), "25.5");
    preen.run("trend JN-SG-01-L").code(0).is_as_expected("trend_of_the_left_joiner");
    preen.run("trend JN-SG-01-L --whole-history").code(4).shows("RE-006").shows("started the series anew");
}

#[test]
fn when_a_servo_reaches_its_limit() {
    let preen = Demo::shared().preen("FS");
    let answer = preen.json("trend SV08-B002 --what servo_free_play");
    let ground = answer["series"][0]["forecast"].as_array().unwrap().last().unwrap();
    assert_eq!(ground["limit"], json!(1.2));
    assert_eq!(format!("{:.0}", number(ground, "/at_count")), "377");
    assert_eq!(format!("{:.0}", number(ground, "/earliest_left")), "22");
    assert_eq!(ground["earliest_on"], "2026-06-12");
    preen.run("trend SV08-B002").code(0).is_as_expected("trend_of_a_servo");
    preen.run("trend SV08-B002 --csv").code(0).shows("SV08-B002");
}

#[test]
fn what_has_no_trend_says_why() {
    let preen = Demo::shared().preen("FS");
    preen.run("trend SV08-B002 --as-of 2025-12-31").code(0).shows("readings in this series 2, needed 4");
    preen.run("trend SV08-B002 --what crimp_pull").code(3).talks("servo_free_play");
    preen.run("trend SV08-B002 --by moons").code(3).talks("flights");
    preen.run("trend SV08-BO02").code(3).talks("hint: Did you mean SV08-B002?");
    preen.run("trend SG-01").code(3);
}
