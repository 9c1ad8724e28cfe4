//! Photos: what comes in as a picture, what is kept of it, who gets to see it, and where it is kept.

mod bucket;
mod pictures;
mod sweep;

use image::RgbImage;
use preen_api::photos::place::PhotoPlace;
use preen_tests::http::{Caller, Reply};
use preen_tests::world::new_id;
use preen_tests::{Database, World, on_both};
use serde_json::{Value, json};

use pictures::{exif, huge_jpeg, huge_png, jpeg, png, segments, two_halves, webp, with_exif};

const AT: &str = "2026-05-20T10:00:00Z";

fn send(caller: &Caller, file: &[u8]) -> Reply {
    caller.post_file("/photos/files", "image/jpeg", file)
}

/// Waits for what happens by itself.
#[track_caller]
fn wait_until(is_so: impl Fn() -> bool) {
    let deadline = std::time::Instant::now() + std::time::Duration::from_secs(20);
    while !is_so() {
        assert!(std::time::Instant::now() < deadline, "it never came to that");
        std::thread::park_timeout(std::time::Duration::from_millis(20));
    }
}

/// A photo of a kept picture.
fn photo(kept: &Value, subject: Value) -> Value {
    let mut photo = kept.clone();
    photo["id"] = json!(new_id());
    photo["subject"] = subject;
    photo["occurred_at"] = json!(AT);
    photo
}

/// Sends a picture and records a photo of it; its id.
fn record(world: &World, file: &[u8], subject: Value) -> String {
    let kept = send(&world.av, file).json();
    world.add("photos", photo(&kept, subject))
}

fn decode(reply: &Reply) -> RgbImage {
    assert_eq!(reply.header("content-type"), Some("image/jpeg"));
    image::load_from_memory(&reply.bytes).unwrap().into_rgb8()
}

fn is_like(image: &RgbImage, x: u32, y: u32, wanted: [u8; 3]) -> bool {
    image.get_pixel(x, y).0.iter().zip(wanted).all(|(found, wanted)| found.abs_diff(wanted) < 40)
}

const RED: [u8; 3] = [200, 20, 20];
const BLUE: [u8; 3] = [20, 20, 200];

on_both!(nothing_but_pixels_is_kept_and_they_stand_upright, |world| {
    world.small_fleet();
    // The camera was held on its side: what lies left in the file is on top.
    let sent = with_exif(&jpeg(&two_halves(300, 200, RED, BLUE)), &exif(6));
    assert!(String::from_utf8_lossy(&sent).contains("QUILLCAM"));
    let kept = send(&world.av, &sent).expect(201).json();
    assert_eq!((&kept["width_px"], &kept["height_px"]), (&json!(200), &json!(300)));
    assert_eq!(kept["media_type"], "image/jpeg");
    let id = world.add("photos", photo(&kept, json!({ "model": "SG-01" })));
    for part in ["image", "thumbnail"] {
        let reply = world.av.get(&format!("/photos/{id}/{part}")).expect(200);
        let image = decode(&reply);
        assert_eq!(image.dimensions(), (200, 300), "{part}");
        assert!(is_like(&image, 100, 20, RED) && is_like(&image, 100, 280, BLUE), "{part}");
        for word in ["Exif", "QUILLCAM", "GPS", "http"] {
            assert!(!reply.text.contains(word), "{part} tells {word}");
        }
        // JFIF's own segment, tables, frame and scan; no further APPn and no comment.
        let odd: Vec<u8> =
            segments(&reply.bytes).into_iter().filter(|m| matches!(m, 0xe1..=0xef | 0xfe)).collect();
        assert_eq!(odd, Vec::<u8>::new(), "{part}");
        assert_eq!(reply.header("x-content-type-options"), Some("nosniff"));
        assert_eq!(reply.header("cache-control"), Some("private, no-cache"));
        let etag = reply.header("etag").unwrap().to_owned();
        let request = world.av.request("GET", &format!("/photos/{id}/{part}")).header("if-none-match", etag);
        assert!(Reply::of(request).expect(304).bytes.is_empty());
    }
    let reply = world.av.get(&format!("/photos/{id}/image"));
    assert_eq!(kept["size_bytes"], reply.bytes.len());
});

on_both!(sizes_are_capped_and_small_ones_stay, |world| {
    world.small_fleet();
    let wide = record(world, &jpeg(&two_halves(2500, 100, RED, BLUE)), json!({ "model": "SG-01" }));
    let whole = decode(&world.av.get(&format!("/photos/{wide}/image")));
    assert_eq!(whole.dimensions(), (2048, 82));
    let small = decode(&world.av.get(&format!("/photos/{wide}/thumbnail")));
    assert_eq!(small.dimensions(), (320, 13));
    assert!(is_like(&small, 10, 5, RED) && is_like(&small, 310, 5, BLUE));
    let tiny = record(world, &png(&two_halves(30, 20, RED, BLUE)), json!({ "model": "SG-01" }));
    for part in ["image", "thumbnail"] {
        assert_eq!(decode(&world.av.get(&format!("/photos/{tiny}/{part}"))).dimensions(), (30, 20));
    }
});

on_both!(what_shines_through_is_on_white, |world| {
    world.small_fleet();
    let id = record(world, &webp(40, 40, [0, 0, 0, 0]), json!({ "model": "SG-01" }));
    let image = decode(&world.av.get(&format!("/photos/{id}/image")));
    assert!(is_like(&image, 20, 20, [255, 255, 255]));
});

on_both!(what_is_no_picture_is_refused_by_its_content, |world| {
    send(&world.av, b"Flaps rattle on the left, see the log.\n").problem(415, "not_a_picture");
    send(&world.av, b"").problem(415, "not_a_picture");
    send(&world.av, b"GIF89a\x01\x00\x01\x00\x00\x00\x00;").problem(415, "not_a_picture");
    let whole = png(&two_halves(300, 200, RED, BLUE));
    send(&world.av, &whole[..whole.len() / 2]).problem(415, "not_a_picture");
    // A picture is one whatever it is called.
    world.av.post_file("/photos/files", "text/plain", &whole).expect(201);
});

on_both!(more_than_ten_mebibytes_are_refused, |world| {
    let mut file = jpeg(&two_halves(30, 20, RED, BLUE));
    file.resize((10 << 20) + 1, 0);
    send(&world.av, &file).problem(413, "too_large");
    // What follows the end of a picture is none of it.
    file.pop();
    send(&world.av, &file).expect(201);
});

/// Memory of this process at most so far, KiB.
fn peak_kib() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    let line = status.lines().find(|line| line.starts_with("VmHWM")).unwrap();
    line.split_whitespace().nth(1).unwrap().parse().unwrap()
}

on_both!(a_bomb_is_refused_before_it_goes_off, |world| {
    let before = peak_kib();
    for bomb in [huge_png(50_000, 50_000), huge_png(16_000, 16_000), huge_jpeg(65_000, 65_000)] {
        assert!(bomb.len() < 4096);
        send(&world.av, &bomb).problem(413, "too_many_pixels");
    }
    // Decoded, the smallest of them would take 730 MiB. Other tests use some meanwhile.
    assert!(peak_kib() - before < 500 << 10, "{} KiB", peak_kib() - before);
});

on_both!(the_same_picture_is_kept_once, |world| {
    let file = jpeg(&two_halves(300, 200, RED, BLUE));
    let first = send(&world.av, &file).expect(201).json();
    assert_eq!(send(&world.av, &file).expect(200).json(), first);
    // What differs beside the pixels alone is the same picture.
    assert_eq!(send(&world.av, &with_exif(&file, &exif(1))).expect(200).json(), first);
});

on_both!(a_photo_names_a_picture_that_is_kept, |world| {
    world.small_fleet();
    let kept = send(&world.av, &jpeg(&two_halves(300, 200, RED, BLUE))).json();
    let wrong_field = |mut body: Value, pointer: &str, value: Value| {
        *body.pointer_mut(pointer).unwrap() = value;
        world.av.post("/photos", &body).expect(422).wrong_field()
    };
    let body = photo(&kept, json!({ "model": "SG-01" }));
    let (pointer, code, text) = wrong_field(body.clone(), "/sha256", json!("0".repeat(64)));
    assert_eq!((pointer.as_str(), code.as_str()), ("/sha256", "unknown_reference"));
    assert!(text.contains("/photos/files"), "{text}");
    for field in ["/width_px", "/height_px", "/size_bytes"] {
        let (pointer, code, _) = wrong_field(body.clone(), field, json!(77));
        assert_eq!((pointer.as_str(), code.as_str()), (field, "other_picture"));
    }
    wrong_field(body.clone(), "/sha256", json!("0".repeat(63)));
    world.av.post("/photos", &body).expect(201);
    // Nor does a correction name another.
    let path = format!("/photos/{}/correction", body["id"].as_str().unwrap());
    let mut other = body.clone();
    other["sha256"] = json!("1".repeat(64));
    let correction = json!({ "id": new_id(), "reason": "a slip", "fact": other });
    let (pointer, code, _) = world.av.post(&path, &correction).expect(422).wrong_field();
    assert_eq!((pointer.as_str(), code.as_str()), ("/fact/sha256", "unknown_reference"));
});

on_both!(a_photo_shows_what_its_defect_sits_on, |world| {
    world.small_fleet();
    world.component("PN-1", "PANEL");
    world.component("SV-1", "SV08");
    let defect = world.add(
        "defects",
        json!({ "model": "SG-01", "subject": { "component": "PN-1" }, "severity": "watch", "text": "a dent",
            "occurred_at": AT }),
    );
    let check = world.add(
        "inspections",
        json!({ "model": "SG-01", "group": "N25", "occurred_at": AT, "result": "pass", "is_summary": true }),
    );
    let kept = send(&world.av, &jpeg(&two_halves(30, 20, RED, BLUE))).json();
    let of_defect = |subject: Value| {
        let mut body = photo(&kept, subject);
        body["defect"] = json!(defect);
        body
    };
    let refused = world.av.post("/photos", &of_defect(json!({ "component": "SV-1" })));
    refused.problem(409, "refused_by_rule");
    assert_eq!(refused.wrong_field().1, "shows_something_else");
    let near = world.add("photos", of_defect(json!({ "component": "PN-1" })));
    let mut far = of_defect(json!({ "model": "SG-01" }));
    far["inspection"] = json!(check);
    let far = world.add("photos", far);
    let listed = world.av.get(&format!("/photos?defect={defect}")).expect(200).json();
    assert_eq!(listed["items"].as_array().unwrap().len(), 2);
    let mut of_check = photo(&kept, json!({ "component": "SV-1" }));
    of_check["inspection"] = json!(check);
    assert_eq!(world.av.post("/photos", &of_check).expect(422).wrong_field().0, "/inspection");

    // The defect stays while photos show it; a photo that never was is not shown any more.
    let never = || json!({ "id": new_id(), "reason": "another model", "is_void": true });
    world.av.post(&format!("/defects/{defect}/correction"), &never()).problem(409, "refused_by_rule");
    for id in [near, far] {
        world.av.get(&format!("/photos/{id}/image")).expect(200);
        world.av.post(&format!("/photos/{id}/correction"), &never()).expect(201);
        world.av.get(&format!("/photos/{id}/image")).problem(404, "not_found");
    }
    world.av.post(&format!("/defects/{defect}/correction"), &never()).expect(201);
});

on_both!(no_picture_leads_into_another_club, |world| {
    world.small_fleet();
    let file = jpeg(&two_halves(300, 200, RED, BLUE));
    let kept = send(&world.av, &file).json();
    let id = world.add("photos", photo(&kept, json!({ "model": "SG-01" })));
    let member = json!({ "id": new_id(), "tag": "ZZ", "roles": ["keeper", "pilot", "builder"] });
    let other = world.av.with_token(&world.begin_club("reedbed", &member));
    for part in ["", "/image", "/thumbnail"] {
        other.get(&format!("/photos/{id}{part}")).problem(404, "not_found");
    }
    let mut design = preen_tests::world::design("SEDGE");
    design["id"] = json!(new_id());
    other.post("/designs", &design).expect(201);
    let mut model = preen_tests::world::model("SG-01", "ZZ");
    model["id"] = json!(new_id());
    other.post("/models", &model).expect(201);
    let body = photo(&kept, json!({ "model": "SG-01" }));
    assert_eq!(other.post("/photos", &body).expect(422).wrong_field().0, "/sha256");
    // The same picture of their own is theirs.
    assert_eq!(send(&other, &file).expect(201).json(), kept);
    other.post("/photos", &body).expect(201);
    other.get(&format!("/photos/{}/image", body["id"].as_str().unwrap())).expect(200);
});

on_both!(a_visitor_sends_and_sees_what_is_lent, |world| {
    world.small_fleet();
    world.add("models", preen_tests::world::model("SG-02", "AV"));
    let visitor = world.member("VV", &["visitor"], &["read", "write"]);
    let file = jpeg(&two_halves(300, 200, RED, BLUE));
    send(&visitor, &file).problem(403, "not_allowed");
    world.add(
        "loans",
        json!({ "item": { "model": "SG-01" }, "lent_to": "VV", "from_on": "2026-05-20",
            "due_back_on": "2026-05-31", "occurred_at": AT }),
    );
    let kept = send(&visitor, &file).expect(201).json();
    let lent = photo(&kept, json!({ "model": "SG-01" }));
    visitor.post("/photos", &lent).expect(201);
    let (lent, other) = (
        lent["id"].as_str().unwrap().to_owned(),
        world.add("photos", photo(&kept, json!({ "model": "SG-02" }))),
    );
    for part in ["image", "thumbnail"] {
        visitor.get(&format!("/photos/{lent}/{part}")).expect(200);
        visitor.get(&format!("/photos/{other}/{part}")).problem(404, "not_found");
        world.av.with_token("").get(&format!("/photos/{lent}/{part}")).problem(401, "token_missing");
    }
    let reader = world.token_of("AV", &["read"], None);
    send(&reader, &file).problem(403, "scope_missing");
});

on_both!(pages_show_what_is_to_be_seen, |world| {
    world.small_fleet();
    world.component("PN-1", "PANEL");
    world.component("SV-1", "SV08");
    world.fit("PN-1", json!({ "model": "SG-01" }), "W.C", "2026-05-01T08:00:00Z");
    let defect = world.add(
        "defects",
        json!({ "model": "SG-01", "subject": { "component": "PN-1" }, "severity": "watch", "text": "a dent",
            "occurred_at": AT }),
    );
    let kept = send(&world.av, &jpeg(&two_halves(800, 500, RED, BLUE))).json();
    let mut of_defect = photo(&kept, json!({ "component": "PN-1" }));
    of_defect["defect"] = json!(defect);
    of_defect["text"] = json!("near the <tip>");
    let of_defect = world.add("photos", of_defect);
    let of_model = world.add("photos", photo(&kept, json!({ "model": "SG-01" })));
    let of_part = world.add("photos", photo(&kept, json!({ "component": "PN-1" })));
    let page = |path: &str| {
        let client = reqwest::blocking::Client::builder().no_proxy().build().unwrap();
        let request = client.get(format!("{}{path}", world.url())).bearer_auth(&world.av.token);
        let reply = request.send().unwrap();
        assert_eq!(reply.status(), 200);
        reply.text().unwrap()
    };
    let shows = |page: &str, id: &str| {
        let small = format!("<img src=\"/api/v1/photos/{id}/thumbnail\" width=\"320\" height=\"200\"");
        page.contains(&small) && page.contains(&format!("href=\"/api/v1/photos/{id}/image\""))
    };
    let (model, part, other) = (page("/models/SG-01"), page("/components/PN-1"), page("/components/SV-1"));
    let found = |page: &str| [&of_defect, &of_model, &of_part].map(|id| shows(page, id));
    assert_eq!(found(&model), [true, true, false], "{model}");
    assert_eq!(found(&part), [true, false, true], "{part}");
    assert_eq!(found(&other), [false; 3]);
    assert!(model.contains("PN-1: near the ") && !model.contains("<tip>"), "{model}");
});

fn check_restart(database: Database) {
    let mut world = World::begin(database);
    world.small_fleet();
    let id = record(&world, &jpeg(&two_halves(300, 200, RED, BLUE)), json!({ "model": "SG-01" }));
    let before = world.av.get(&format!("/photos/{id}/image")).expect(200);
    world.restart();
    assert_eq!(world.av.get(&format!("/photos/{id}/image")).expect(200).bytes, before.bytes);
    // A file that is not the one of its name is not shown.
    let PhotoPlace::Folder(folder) = world.photos.clone() else { panic!("a folder") };
    let sha256 = world.av.get(&format!("/photos/{id}")).json()["sha256"].as_str().unwrap().to_owned();
    let file = folder.join("quillmarsh").join(&sha256[..2]).join(format!("{sha256}.jpg"));
    assert_eq!(std::fs::read(&file).unwrap(), before.bytes);
    std::fs::write(&file, jpeg(&two_halves(30, 20, BLUE, RED))).unwrap();
    world.av.get(&format!("/photos/{id}/image")).problem(500, "internal");
    // Sent again, it is mended.
    send(&world.av, &jpeg(&two_halves(300, 200, RED, BLUE))).expect(200);
    world.av.get(&format!("/photos/{id}/image")).expect(200);
}

#[test]
fn pictures_outlive_the_process_on_sqlite() {
    check_restart(Database::Sqlite);
}

#[test]
fn pictures_outlive_the_process_on_postgres() {
    check_restart(Database::Postgres);
}
