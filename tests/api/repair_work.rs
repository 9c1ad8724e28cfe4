//! Repairs by work sheet, over HTTP: sheets, work ticked on them, what blocks a release and who may give it.

use preen_tests::on_both;
use preen_tests::world::new_id;
use serde_json::{Value, json};

on_both!(a_repair_goes_by_its_sheet, |world| {
    world.small_fleet();
    let bk = world.member("BK", &["pilot", "builder"], &["read", "write"]);
    let qs = world.member("QS", &["inspector"], &["read", "write"]);
    let sheets = bk.get("/worksheets").expect(200).json();
    assert_eq!(sheets["worksheets"].as_array().unwrap().len(), 13);
    let r9 = bk.get("/worksheets/R9").expect(200).json();
    assert_eq!((&r9["kind"], &r9["released_by"]), (&json!("R9"), &json!("owner")));
    assert!(r9["steps"][1]["caution"].as_str().unwrap().contains("FFP2"), "{r9}");
    bk.get("/worksheets/R14").problem(404, "not_found");

    let repair = json!({
        "id": new_id(), "tag": "RE-K", "model": "SG-01", "kind": "R10", "occurred_at": "2026-05-20T08:00:00Z",
        "text": "boom scarfed",
    });
    bk.post("/repairs", &repair).expect(201);
    world.add(
        "lots",
        json!({"tag": "E-77", "item": "laminating epoxy", "quantity": 240.0, "unit": "g",
                             "use_by_on": "2026-05-01"}),
    );
    let steps: Vec<Value> = (1..=9).map(|number| json!({"number": number, "result": "done"})).collect();
    let work = |lot: Value, steps: &[Value]| {
        json!({
            "id": new_id(), "repair": "RE-K", "occurred_at": "2026-05-20T09:00:00Z", "steps": steps,
            "materials": [lot], "resin": "laminating_epoxy", "temperature_c": 20.0,
            "mass_added_g": 7.5, "x_mm": 360.0,
        })
    };
    let plain = json!({"lot": "E-77", "quantity": 12.0});
    let refused = bk.post("/repair-steps", &work(plain, &steps[..8]));
    refused.problem(409, "refused_by_rule");
    assert_eq!(refused.json()["errors"][0]["code"], "lot_out_of_date");
    let reasoned = json!({"lot": "E-77", "quantity": 12.0, "out_of_date_reason": "sample cured hard"});
    let body = work(reasoned, &steps[..8]);
    let stored = bk.post("/repair-steps", &body).expect(201).json();
    assert_eq!((&stored["steps"][7]["number"], &stored["mass_added_g"]), (&json!(8), &json!(7.5)));
    assert_eq!(bk.post("/repair-steps", &body).expect(200).json(), stored, "the same again");
    let found = bk.get(&format!("/repair-steps/{}", body["id"].as_str().unwrap())).expect(200).json();
    assert_eq!(found, stored);
    assert_eq!(bk.get("/repair-steps?repair=RE-K").expect(200).json()["items"].as_array().unwrap().len(), 1);

    // What is open, what blocks, who may.
    let sheet = bk.get("/repairs/RE-K/sheet").expect(200).json();
    assert_eq!((&sheet["is_kept"], &sheet["mass_added_g"]), (&json!(true), &json!(7.5)));
    assert_eq!(sheet["cure_until_at"], "2026-05-21T09:00:00Z");
    assert_eq!(sheet["cure_source"], "from memory; the data sheet of the resin wins");
    assert_eq!((&sheet["steps"][7]["result"], &sheet["steps"][7]["by"]), (&json!("done"), &json!("BK")));
    assert_eq!(sheet["steps"][8]["result"], Value::Null);
    let codes = |sheet: &Value| -> Vec<String> {
        let list = sheet["blocked_by"].as_array().unwrap().iter();
        list.map(|one| one["code"].as_str().unwrap().to_owned()).collect()
    };
    assert_eq!(codes(&sheet), ["still_curing", "steps_open", "not_checked_after_repair"]);
    let may: Vec<&Value> =
        sheet["may_release"].as_array().unwrap().iter().map(|one| &one["member"]).collect();
    assert!(may.contains(&&json!("QS")) && !may.contains(&&json!("BK")), "{may:?}");

    let give = |at: &str| json!({"id": new_id(), "repair": "RE-K", "occurred_at": at});
    bk.post("/releases", &give("2026-05-20T10:00:00Z")).problem(403, "not_allowed");
    qs.post("/releases", &give("2026-05-20T10:00:00Z")).problem(409, "refused_by_rule");
    world.clock.set("2026-05-21T10:00:00Z".parse().unwrap());
    let last =
        json!({"id": new_id(), "repair": "RE-K", "occurred_at": "2026-05-21T09:10:00Z", "steps": [steps[8]]});
    bk.post("/repair-steps", &last).expect(201);
    let check = json!({"id": new_id(), "model": "SG-01", "group": "RP", "result": "pass", "is_summary": true,
                       "occurred_at": "2026-05-21T09:20:00Z"});
    if bk.get("/programmes").expect(200).json()["items"].as_array().is_some_and(|list| !list.is_empty()) {
        qs.post("/inspections", &check).expect(201);
    }
    assert_eq!(codes(&bk.get("/repairs/RE-K/sheet").expect(200).json()), Vec::<String>::new());
    qs.post("/releases", &give("2026-05-21T09:30:00Z")).expect(201);
    assert_eq!(bk.get("/repairs/RE-K/sheet").expect(200).json()["released_at"], "2026-05-21T09:30:00Z");
    let again =
        json!({"id": new_id(), "repair": "RE-K", "occurred_at": "2026-05-21T09:15:00Z", "note": "late"});
    bk.post("/repair-steps", &again).problem(409, "refused_by_rule");
    // A slip on the sheet is corrected, and held against the release.
    let path = format!("/repair-steps/{}/correction", last["id"].as_str().unwrap());
    let void = json!({"id": new_id(), "reason": "not done", "is_void": true});
    bk.post(&path, &void).problem(409, "refused_by_rule");
    let mut noted = last.clone();
    noted["note"] = json!("load by FS's stand");
    bk.post(&path, &json!({"id": new_id(), "reason": "forgotten", "fact": noted})).expect(201);
});

on_both!(whoever_corrects_does_not_become_the_one_who_did_it, |world| {
    world.small_fleet();
    let bk = world.member("BK", &["pilot", "inspector", "builder"], &["read", "write"]);
    let qs = world.member("QS", &["inspector"], &["read", "write"]);
    let mut defect = json!({ "id": new_id(), "tag": "DE-S", "model": "SG-01", "subject": { "model": "SG-01" },
                             "occurred_at": "2026-05-19T08:00:00Z", "severity": "restrict", "text": "hinge stif" });
    bk.post("/defects", &defect).expect(201);
    let mut deferral = json!({ "id": new_id(), "defect": "DE-S", "occurred_at": "2026-05-19T09:00:00Z",
                               "reason": "tape orderd", "restrictions": [{ "kind": "no_contest" }],
                               "fix_by_on": "2026-05-30" });
    bk.post("/deferrals", &deferral).expect(201);
    let mut repair = json!({ "id": new_id(), "tag": "RE-S", "model": "SG-01", "kind": "R8", "defect": "DE-S",
                             "occurred_at": "2026-05-19T10:00:00Z", "text": "hinge fred" });
    bk.post("/repairs", &repair).expect(201);
    // Another inspector mends the spelling of all three, and names nobody.
    for (noun, body, field, text) in [
        ("defects", &mut defect, "text", "hinge stiff"),
        ("deferrals", &mut deferral, "reason", "tape ordered"),
        ("repairs", &mut repair, "text", "hinge freed"),
    ] {
        let name = body["id"].as_str().unwrap().to_owned();
        body[field] = json!(text);
        let correction = json!({ "id": new_id(), "reason": "spelling", "fact": body });
        qs.post(&format!("/{noun}/{name}/correction"), &correction).expect(201);
        assert_eq!(qs.get(&format!("/{noun}/{name}")).expect(200).json()[field], text);
    }
    let standing = qs.get("/defects/DE-S/standing").expect(200).json();
    assert_eq!(standing["found_by"], "BK");
    assert_eq!(standing["deferrals"][0]["by"], "BK");
    assert_eq!(qs.get("/repairs/RE-S/sheet").expect(200).json()["workers"], json!(["BK"]));
});

on_both!(a_release_is_given_at_its_repair, |world| {
    world.small_fleet();
    let bk = world.member("BK", &["pilot", "builder"], &["read", "write"]);
    let qs = world.member("QS", &["inspector"], &["read", "write"]);
    let repair = json!({
        "id": new_id(), "tag": "RE-C", "model": "SG-01", "kind": "R4", "occurred_at": "2026-05-20T08:00:00Z",
        "cure_until_at": "2026-05-20T20:00:00Z", "text": "skin closed",
    });
    bk.post("/repairs", &repair).expect(201);
    let give = |at: &str| json!({"id": new_id(), "occurred_at": at});
    let revision = || qs.get("/club").expect(200).json()["revision"].clone();
    let before = revision();
    for path in ["/repairs/RE-C/release", "/repairs/RE-C/release?preview=true"] {
        let early = qs.post(path, &give("2026-05-20T19:45:00Z"));
        early.problem(409, "refused_by_rule");
        let error = early.json()["errors"][0].clone();
        assert_eq!((&error["code"], &error["pointer"]), (&json!("still_curing"), &json!("/occurred_at")));
        assert!(error["text"].as_str().unwrap().contains("until 2026-05-20T20:00:00Z"), "{error}");
        let mut looked = give("2026-05-20T20:30:00Z");
        looked["second_person"] = json!("BK");
        let looked = qs.post(path, &looked);
        looked.problem(409, "refused_by_rule");
        assert_eq!(looked.json()["errors"][0]["code"], "worker_as_second_person");
    }
    let release = give("2026-05-20T20:30:00Z");
    let preview = qs.post("/repairs/RE-C/release?preview=true", &release).expect(200).json();
    assert_eq!(preview["is_preview"], true);
    assert_eq!(preview["sheet"]["released_at"], "2026-05-20T20:30:00Z");
    assert_eq!(revision(), before, "nothing is written");
    assert_eq!(qs.get("/repairs/RE-C/sheet").expect(200).json()["released_at"], Value::Null);
    assert_eq!(qs.get("/releases").expect(200).json()["items"], json!([]));

    let given = qs.post("/repairs/RE-C/release", &release).expect(201).json();
    assert_eq!((&given["is_preview"], &given["sheet"]), (&json!(false), &preview["sheet"]));
    let stored = qs.get(&format!("/releases/{}", release["id"].as_str().unwrap())).expect(200).json();
    assert_eq!((&stored["repair"], &stored["recorded_by"]), (&repair["id"], &qs_id(&qs)));
    let after = revision();
    assert_eq!(qs.post("/repairs/RE-C/release", &release).expect(200).json(), given, "the same again");
    assert_eq!(revision(), after);
    let mut other = release.clone();
    other["note"] = json!("no landing flap");
    qs.post("/repairs/RE-C/release", &other).problem(409, "id_taken");
    // The collection takes the same, and knows it.
    let mut whole = release.clone();
    whole["repair"] = json!("RE-C");
    qs.post("/releases", &whole).expect(200);
    // The path says which repair.
    let mut elsewhere = give("2026-05-20T21:00:00Z");
    elsewhere["repair"] = json!(new_id());
    qs.post("/repairs/RE-C/release", &elsewhere).problem(422, "invalid_fields");
    qs.post("/repairs/RE-X/release", &give("2026-05-20T21:00:00Z")).problem(404, "not_found");
    qs.post("/repairs/RE-C/release?when=now", &release).problem(400, "bad_parameter");
});

/// The id of the member that a token belongs to.
fn qs_id(caller: &preen_tests::http::Caller) -> Value {
    caller.get("/members/QS").expect(200).json()["id"].clone()
}
