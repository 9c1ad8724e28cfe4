//! Printed sheets, read back by programs that share nothing with what printed them: the text, sizes and fonts by
//! poppler's tools, the square codes by another decoder.

use std::io::Write as _;
use std::process::{Command, Stdio};

use preen_tests::http::Caller;
use preen_tests::on_both;
use preen_tests::world::{Database, World, flight, new_id};
use serde_json::json;

/// The bytes of a sheet. They are kept below the target folder, to be looked at.
#[track_caller]
fn fetch(caller: &Caller, path: &str) -> Vec<u8> {
    let pdf = fetch_bytes(caller, path);
    let name = path.replace(['/', '?', '&', '=', '%', ':'], "-");
    let folder = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join("sheets");
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(folder.join(name.trim_start_matches('-')), &pdf).unwrap();
    pdf
}

#[track_caller]
fn fetch_bytes(caller: &Caller, path: &str) -> Vec<u8> {
    let response = caller.request("GET", path).send().unwrap();
    assert_eq!(response.status().as_u16(), 200, "{path}");
    assert_eq!(response.headers()["content-type"], "application/pdf", "{path}");
    response.bytes().unwrap().to_vec()
}

/// What a program makes of a file that it reads from its input.
#[track_caller]
fn read_by(program: &str, arguments: &[&str], pdf: &[u8]) -> Vec<u8> {
    let mut child = Command::new(program)
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap_or_else(|error| panic!("{program} (Debian: poppler-utils): {error}"));
    let mut stdin = child.stdin.take().unwrap();
    let pdf = pdf.to_vec();
    let feeder = std::thread::spawn(move || stdin.write_all(&pdf));
    let output = child.wait_with_output().unwrap();
    feeder.join().unwrap().unwrap();
    assert!(output.status.success(), "{program} {arguments:?}");
    output.stdout
}

/// The text of a sheet, lines as they are laid out.
#[track_caller]
fn text_of(pdf: &[u8]) -> String {
    String::from_utf8(read_by("pdftotext", &["-layout", "-", "-"], pdf)).unwrap()
}

/// The same with every run of white space as one blank: cells of tables are broken into lines.
#[track_caller]
fn words_of(pdf: &[u8]) -> String {
    let raw = String::from_utf8(read_by("pdftotext", &["-raw", "-", "-"], pdf)).unwrap();
    raw.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// How many pages a sheet has.
#[track_caller]
fn pages_of(pdf: &[u8]) -> usize {
    let told = String::from_utf8(read_by("pdfinfo", &["-"], pdf)).unwrap();
    let line = told.lines().find_map(|line| line.strip_prefix("Pages:")).unwrap();
    line.trim().parse().unwrap()
}

/// What the square codes of a sheet say, page by page.
fn codes_of(pdf: &[u8]) -> Vec<String> {
    let gray = read_by("pdftoppm", &["-gray", "-r", "300", "-"], pdf);
    let mut codes = Vec::new();
    let mut rest = gray.as_slice();
    while !rest.is_empty() {
        // Portable graymap, binary: "P5", width, height, 255, each followed by one white space.
        let mut fields = Vec::new();
        let mut at = 0;
        while fields.len() < 4 {
            let end = at + rest[at..].iter().position(u8::is_ascii_whitespace).unwrap();
            fields.push(std::str::from_utf8(&rest[at..end]).unwrap().to_owned());
            at = end + 1;
        }
        assert_eq!((fields[0].as_str(), fields[3].as_str()), ("P5", "255"));
        let (width, height): (usize, usize) = (fields[1].parse().unwrap(), fields[2].parse().unwrap());
        let page = &rest[at..at + width * height];
        let mut image =
            rqrr::PreparedImage::prepare_from_greyscale(width, height, |x, y| page[y * width + x]);
        codes.extend(image.detect_grids().iter().map(|grid| grid.decode().unwrap().1));
        rest = &rest[at + width * height..];
    }
    codes
}

#[test]
fn sheets_of_the_demo_club_say_what_the_answers_say() {
    let world = World::demo(Database::Sqlite);
    let record = fetch(&world.av, "/models/SG-01/record.pdf");
    let words = words_of(&record);
    for said in [
        "Record of SG-01",
        "flights 271",
        "mass 1209.0 g",
        "centre of gravity 95.80 mm behind the datum",
        // The joiner of the trend: all its readings, and what started them anew.
        "2026-05-16 0.101",
        "RE-006",
        "N25 Every 25 flights or 60 days 2026-05-09 at 275 or on 2026-07-08",
        "W.C/FS.L SV08-B001 SV08 B",
        "DE-014",
        "it makes no model legal or safe to fly",
    ] {
        assert!(words.contains(said), "{said} is not in: {words}");
    }
    // No member but the owner.
    let members = world.av.get("/members?limit=200").expect(200).json();
    let members: Vec<&str> =
        members["items"].as_array().unwrap().iter().map(|one| one["tag"].as_str().unwrap()).collect();
    assert!(members.len() >= 6, "{members:?}");
    let named: Vec<&&str> = members.iter().filter(|tag| words.split(' ').any(|word| word == **tag)).collect();
    assert_eq!(named, [&"AV"], "the owner and nobody else");

    let campaign = words_of(&fetch(&world.av, "/campaigns/CA-2026-1/work-list.pdf"));
    for said in
        ["SV08/B at flap servo", "2 SV08 C 7 3 4 SV08-C004, SV08-C005, SV08-C006", "SV08-B006", "with VW"]
    {
        assert!(campaign.contains(said), "{said} is not in: {campaign}");
    }
    let repair = words_of(&fetch(&world.av, "/repairs/RE-014/sheet.pdf"));
    for said in
        ["Repair RE-014 on MP-03", "not before 2026-05-22 22:00 BST", "nitrile gloves", "It is nothing more"]
    {
        assert!(repair.contains(said), "{said} is not in: {repair}");
    }
    let check = words_of(&fetch(&world.av, "/models/SG-01/check-sheet.pdf?group=N25"));
    for said in
        ["N25-01", "Free play at the trailing edge", "ground ≥ 3 mm", "What was not looked at is not good"]
    {
        assert!(check.contains(said), "{said} is not in: {check}");
    }
    let card = words_of(&fetch(&world.av, "/models/SG-04/field-card.pdf"));
    for said in ["may fly no", "grounded", "DE-012", "soft", "hard"] {
        assert!(card.contains(said), "{said} is not in: {card}");
    }
    // The class check of the worked example, and the two traps of the entries.
    let model = words_of(&fetch(&world.av, "/models/SG-05/scrutineering.pdf?class=F5J"));
    for said in [
        "Model sheet SG-05 for F5J",
        "span 3.900 m",
        "no slugs 0.0 1206.2 15.76 97.91 inside inside",
        "the result is unconfirmed",
        "none on record",
    ] {
        assert!(model.contains(said), "{said} is not in: {model}");
    }
    let team = words_of(&fetch(&world.av, "/contests/CT-2026-1/readiness.pdf"));
    for said in [
        "Readiness for Quillmarsh Reedbed Open",
        "check-in 2026-05-29 21:00 BST",
        "PN-R-02",
        "last day",
        "N100",
    ] {
        assert!(team.contains(said), "{said} is not in: {team}");
    }
    let one = words_of(&fetch(&world.av, "/contests/CT-2026-1/readiness.pdf?pilot=DR"));
    assert!(one.contains("flies SG-05") && !one.contains("flies SG-03"), "{one}");
    // What is filled in by hand on the field is one sheet.
    for tag in ["SG-01", "SG-05", "TS-01"] {
        assert_eq!(pages_of(&fetch(&world.av, &format!("/models/{tag}/field-card.pdf"))), 1, "{tag}");
    }
}

on_both!(paper_fonts_and_bytes_are_what_was_asked_for, |world| {
    world.small_fleet();
    world.add("flights", flight("SG-01", "AV", "2026-05-20T10:00:00Z"));
    let a4 = fetch(&world.av, "/models/SG-01/record.pdf");
    let letter = fetch(&world.av, "/models/SG-01/record.pdf?paper=letter");
    let seen = world.av.get("/models/SG-01/record.pdf");
    let again = world.av.request("GET", "/models/SG-01/record.pdf");
    let again = again.header("if-none-match", seen.header("etag").unwrap()).send().unwrap();
    assert_eq!(again.status().as_u16(), 304, "what was fetched is not printed again");
    // ISO 216 and ANSI/ASME Y14.1 in points of 1/72 inch.
    for (pdf, size) in [(&a4, "595.276 x 841.89 pts (A4)"), (&letter, "612 x 792 pts (letter)")] {
        let told = String::from_utf8(read_by("pdfinfo", &["-"], pdf)).unwrap();
        assert!(told.contains(size), "{told}");
        let fonts = String::from_utf8(read_by("pdffonts", &["-"], pdf)).unwrap();
        let fonts: Vec<&str> = fonts.lines().skip(2).collect();
        assert!(!fonts.is_empty());
        for font in fonts {
            let fields: Vec<&str> = font.split_whitespace().collect();
            // From the right: object and generation, unicode, subset, embedded.
            assert_eq!(fields[fields.len() - 5..fields.len() - 2], ["yes", "yes", "yes"], "{font}");
        }
    }
    assert_eq!(a4, fetch(&world.av, "/models/SG-01/record.pdf"), "the same sheet gives the same bytes");
    let earlier = words_of(&fetch(&world.av, "/models/SG-01/record.pdf?as_of=2026-05-19"));
    assert!(earlier.contains("flights 0 "), "{earlier}");
});

on_both!(texts_are_printed_as_they_stand, |world| {
    world.small_fleet();
    let text = r#"#panic("x") *bold* _it_ $a^2$ \ @ref <label> = head `raw` // gone? "quoted" ölig"#;
    let defect = json!({
        "id": new_id(), "tag": "DE-1", "model": "SG-01", "subject": { "model": "SG-01" },
        "occurred_at": "2026-05-20T10:00:00Z", "severity": "watch", "text": text
    });
    world.av.post("/defects", &defect).expect(201);
    let words = words_of(&fetch(&world.av, "/models/SG-01/record.pdf"));
    let plain = |text: &str| text.replace(['\u{201c}', '\u{201d}'], "\"").replace(' ', "");
    assert!(plain(&words).contains(&plain(text)), "{words}");
});

on_both!(codes_of_labels_are_read_by_another_decoder, |world| {
    world.small_fleet();
    world.component("B001", "SV08");
    world.component("PANEL-1", "PANEL");
    world.fit("PANEL-1", json!({ "model": "SG-01" }), "W.C", "2026-05-01T08:00:00Z");
    let pdf = fetch(
        &world.av,
        "/labels.pdf?models=SG-01&components=B001&fitted_to=SG-01&size=small&address=https%3A%2F%2Ffleet.example",
    );
    let mut codes = codes_of(&pdf);
    codes.sort();
    assert_eq!(
        codes,
        [
            "https://fleet.example/components/B001",
            "https://fleet.example/components/PANEL-1",
            "https://fleet.example/models/SG-01"
        ]
    );
    let text = text_of(&pdf);
    for tag in ["SG-01", "B001", "PANEL-1"] {
        assert!(text.contains(tag), "{tag} is to be read by eye: {text}");
    }
    assert_eq!(codes_of(&fetch(&world.av, "/labels.pdf")), [format!("{}/models/SG-01", world.url())]);
});

on_both!(what_cannot_be_printed_says_what_to_mend, |world| {
    world.small_fleet();
    let field = |path: &str, name: &str, text: &str| {
        let reply = world.av.get(path);
        assert_eq!(reply.status, 400, "{path}: {}", reply.text);
        let problem = reply.json();
        let said = problem.to_string();
        assert!(said.contains(name) && said.contains(text), "{path}: {said}");
    };
    field("/models/SG-01/record.pdf?paper=a5", "paper", "a4 or letter");
    field("/models/SG-01/check-sheet.pdf", "group", "group=N25");
    field("/models/SG-01/check-sheet.pdf?group=N7", "group", "It knows:");
    field("/labels.pdf?size=huge", "size", "large or small");
    field("/labels.pdf?models=SG-99", "models", "no `SG-99`");
    field("/labels.pdf?address=javascript:x", "address", "https://fleet.example");
    world.av.get("/models/SG-99/record.pdf").problem(404, "not_found");
    world.av.get("/campaigns/CA-99/work-list.pdf").problem(404, "not_found");
    world.av.get("/repairs/RE-99/sheet.pdf").problem(404, "not_found");
    world.av.with_token("").get("/models/SG-01/record.pdf").problem(401, "token_missing");
});
