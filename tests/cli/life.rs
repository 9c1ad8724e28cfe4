//! How long parts last, at the command line: by the demo club's record, and lives from a file without a service.

use serde_json::{Value, json};

use crate::demo::Demo;
use crate::preen::Preen;

const ASKED: [&str; 8] = ["life", "SV08", "--batch", "A", "--batch", "B", "--position-kind", "flap servo"];

fn asked(more: &[&str]) -> Vec<String> {
    ASKED.iter().chain(more).map(|word| (*word).to_owned()).collect()
}

#[test]
fn is_batch_b_worse() {
    let preen = Demo::shared().preen("FS");
    let json = preen.run_args(&asked(&["--json"])).code(0);
    let answer: Value = serde_json::from_str(&json.stdout).unwrap();
    let kind = &answer["kinds"][0];
    let counts: Vec<(&Value, &Value, &Value)> = kind["groups"]
        .as_array()
        .unwrap()
        .iter()
        .map(|group| (&group["failures"], &group["mtbf"]["exposure"], &group["mtbf"]["mtbf"]))
        .collect();
    let (a, b) = ((json!(1), json!(1293.0), json!(1293.0)), (json!(2), json!(2344.0), json!(1172.0)));
    assert_eq!(counts, [(&a.0, &a.1, &a.2), (&b.0, &b.1, &b.2)]);
    assert_eq!(kind["comparisons"][0]["is_shown"], false);
    assert_eq!(kind["wear"][0]["comparisons"][0]["is_shown"], true);
    let said = preen.run_args(&asked(&[])).code(0);
    said.is_as_expected("life_of_two_batches");
    let said = said.shows("By failures, A against B: the failures show no difference");
    said.shows("B wears faster than A: 0.320 against 0.179 deg per 100 flights (p 0.0041 one-sided");
}

#[test]
fn every_part_and_rows() {
    let preen = Demo::shared().preen("FS");
    let said = preen.run_args(&asked(&["--parts"])).code(0);
    said.shows("servo_free_play read 1.3 deg, limit 1.2").shows("0 to 175").shows("taken off");
    let rows = preen.run_args(&asked(&["--csv"])).code(0);
    let lines: Vec<&str> = rows.stdout.lines().collect();
    assert_eq!(lines.len(), 3, "{}", rows.stdout);
    assert!(lines[1].starts_with("SV08,flap servo,A,9,1,1293,1293,"), "{}", lines[1]);
    preen.run("life SV08 --by charges").code(3).talks("Charges are counted for packs alone.");
    preen.run("life SV80").code(3).talks("SV08");
}

#[test]
fn lives_from_a_file_need_no_service() {
    let alone = Preen::at("http://127.0.0.1:1", "t");
    let ages = [(96, true), (110, true), (128, false), (84, true), (140, true), (72, false), (118, true)];
    let more = [(133, false), (101, false), (90, false), (125, true), (60, false)];
    let lives: Vec<Value> = ages
        .into_iter()
        .chain(more)
        .map(|(age, failed)| json!({ "group": "B", if failed { "failed_at" } else { "running_at" }: age }))
        .collect();
    let question = json!({ "lives": lives, "stretches": [{ "from": 100, "to": 150 }] }).to_string();
    let said = alone.input(&question).run("life --from -").code(0);
    said.is_as_expected("lives_on_the_bench");
    let said = said.shows("Weibull B10 94.").shows("Weibull B50 123 (");
    said.shows("Of those at 100, 0.064");
    let alone = Preen::at("http://127.0.0.1:1", "t");
    let wrong =
        alone.input(r#"{"lives": [{"failed_at": 5}, {"failed_at": -5}]}"#).run("life --from -").code(3);
    wrong.talks("lives.1: holds an age that is negative");
}

#[test]
fn repairs_of_systems_from_a_file_show_their_trend() {
    let alone = Preen::at("http://127.0.0.1:1", "t");
    // NIST/SEMATECH e-Handbook 8.2.3.4 and 8.4.5.2: ten failures of one system, watched for 1500 h; and two of our own.
    let ten = [5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478];
    let question = json!({"unit": "h", "confidence": 0.8, "systems": [
        {"system": "ten", "repaired_at": ten, "watched_until": 1500},
        {"system": "wears", "repaired_at": [400, 600, 700, 780, 840, 880, 920, 950, 970, 990], "watched_until": 1000},
        {"system": "new", "repaired_at": [], "watched_until": 200}]});
    let said = alone.input(&question.to_string()).run("life --from -").code(0);
    said.is_as_expected("repairs_of_systems");
    said.shows("wears: its failures come closer together (3 of 3 tests show it)");
    let alone = Preen::at("http://127.0.0.1:1", "t");
    let answer = alone.input(&question.to_string()).json("life --from -");
    let first = &answer["repairs"]["systems"][0];
    assert_eq!(first["arrangement"]["reversals"], 33);
    let low = first["now"]["low"].as_f64().unwrap();
    assert!((low - 157.7138).abs() < 0.0005, "{low}");
    let bad = json!({"systems": [{"repaired_at": [9, 5], "watched_until": 10}]}).to_string();
    Preen::at("http://127.0.0.1:1", "t")
        .input(&bad)
        .run("life --from -")
        .code(3)
        .talks("systems.0.repaired_at.1");
}
