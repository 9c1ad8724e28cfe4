//! Bringing spreadsheets into the record: tried first, all or nothing or row by row, and never twice.

use std::fmt::Write as _;
use std::io::Write as _;
use std::path::{Path, PathBuf};

use preen_tests::http::Caller;
use preen_tests::world::{items, scratch};
use serde_json::json;
use zip::ZipWriter;
use zip::write::SimpleFileOptions;

use crate::demo::Demo;

/// A folder with files to import.
struct Desk(PathBuf);

impl Desk {
    fn new() -> Self {
        Self(scratch("import"))
    }

    fn write(&self, name: &str, text: impl AsRef<[u8]>) -> String {
        let path = self.0.join(name);
        std::fs::write(&path, text).unwrap();
        path.to_str().unwrap().to_owned()
    }

    fn pack(&self, name: &str, parts: &[(&str, &str)]) -> String {
        let path = self.0.join(name);
        let mut zip = ZipWriter::new(std::fs::File::create(&path).unwrap());
        for (part, text) in parts {
            zip.start_file(*part, SimpleFileOptions::default()).unwrap();
            zip.write_all(text.as_bytes()).unwrap();
        }
        zip.finish().unwrap();
        path.to_str().unwrap().to_owned()
    }
}

impl Drop for Desk {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

fn count(demo: &Demo, model: &str) -> usize {
    items(Caller::new(&demo.url(), demo.token("FS")).get(&format!("/flights?model={model}&limit=500"))).len()
}

const FLIGHTS: &str = "\u{feff}Date;Plane;minutes;landing;Remarks\n\
    2026-05-20 10:00;SG-01;6,5;normal;calm\n\
    2026-05-20 10:20;SG-01;7;firm;\n\
    ;;;;\n\
    2026-05-20 10:40;SG-99;5;normal;\n\
    2026-05-20 11:00;SG-01;long;normal;\n\
    2026-05-20 11:20;SG-01;4;crash;\"two\nlines\"\n";

const MAP: &str = "--map Date=occurred_at --map Plane=model --map minutes=airtime_min --map Remarks=note --set pilot=FS \
    --set launches=1 --set motor_s=0 --set is_landing_flap_used=no --set is_post_flight_logged=no --decimal-comma";

#[test]
fn a_table_is_tried_first_and_every_row_gets_its_verdict() {
    let (demo, desk) = (Demo::own(), Desk::new());
    let preen = demo.preen("FS");
    let (file, report) = (desk.write("log.csv", FLIGHTS), desk.0.join("verdicts.csv"));
    let before = count(&demo, "SG-01");
    let said = preen.run(&format!("import flights {file} {MAP} --report {}", report.display())).code(1);
    said.shows("Tried, nothing is recorded: 5 rows of flights: 2 can be recorded, 3 refused.")
        .shows("There is no `SG-99` among the models")
        .shows("airtime_min: `long` is not a number")
        .shows("landing: `crash` is not one of");
    let report = std::fs::read_to_string(report).unwrap();
    let rows: Vec<&str> = report.lines().map(|line| line.split(',').next().unwrap()).collect();
    assert_eq!(rows.len(), 6, "{report}");
    assert!(report.contains("\n2,possible,\n") && report.contains("\n5,refused,"), "{report}");
    assert_eq!(count(&demo, "SG-01"), before);
    // All or nothing: one row that will not do keeps all others back.
    preen.run(&format!("import flights {file} {MAP} --record")).code(1).talks("Nothing is recorded");
    assert_eq!(count(&demo, "SG-01"), before);
    // Row by row: what can be recorded is, once, however often it is sent.
    let each = preen.json(&format!("import flights {file} {MAP} --record --each"));
    assert_eq!(each["counts"], json!({ "recorded": 2, "refused": 3 }));
    assert_eq!(count(&demo, "SG-01"), before + 2);
    let again = preen.json(&format!("import flights {file} {MAP} --record --each"));
    assert_eq!(again["counts"], json!({ "known": 2, "refused": 3 }));
    assert_eq!(count(&demo, "SG-01"), before + 2);
    let flight = &items(Caller::new(&demo.url(), demo.token("FS")).get("/flights?model=SG-01&limit=500"))
        .into_iter()
        .find(|flight| flight["note"] == "calm")
        .unwrap();
    assert_eq!(
        (&flight["airtime_min"], &flight["occurred_at"]),
        (&json!(6.5), &json!("2026-05-20T09:00:00Z"))
    );
}

#[test]
fn all_rows_go_in_as_one_change_and_may_rest_on_those_before() {
    let (demo, desk) = (Demo::own(), Desk::new());
    let preen = demo.preen("KD");
    let file = desk.write(
        "parts.csv",
        "tag,part,mass_g,state,opening.flights,opening.launches,opening.airtime_h,opening.motor_s,opening.riggings,\
        opening.is_estimate\n\
        SV08-Y001,SV08,10.41,serviceable,120,120,9.5,0,0,yes\n\
        SV08-Y002,SV08,10.38,serviceable,,,,,,\n",
    );
    preen.run(&format!("import components {file}")).code(0).shows("2 can be recorded").talks("--record");
    preen.run(&format!("import components {file} --record")).code(0).shows("Imported: 2 rows");
    let rows = items(Caller::new(&demo.url(), demo.token("KD")).get("/components?limit=500"));
    let of = |tag: &str| rows.iter().find(|row| row["tag"] == tag).unwrap().clone();
    assert_eq!(of("SV08-Y001")["revision"], of("SV08-Y002")["revision"], "one change");
    let usage = preen.json("usage SV08-Y001");
    assert_eq!(
        (&usage["opening"]["flights"], &usage["opening"]["is_estimate"]),
        (&json!(120), &json!(true)),
        "{usage}"
    );
    // A tag that is taken by another row is refused with its reason.
    let twice = desk.write(
        "twice.csv",
        "tag,part,mass_g,state\nSV08-Z1,SV08,10,serviceable\nSV08-Z1,SV08,11,serviceable\n",
    );
    let said = preen.run(&format!("import components {twice} --record")).code(1);
    said.shows("1 can be recorded, 1 refused").talks("Nothing is recorded");
    preen.run(&format!("import components {file} --record")).code(0).shows("2 on record already");
}

fn cells(values: &[&str]) -> String {
    values.iter().fold(String::new(), |mut text, value| {
        match value.parse::<f64>() {
            Ok(number) => write!(text, "<c><v>{number}</v></c>").unwrap(),
            Err(_text) => write!(text, "<c t=\"inlineStr\"><is><t>{value}</t></is></c>").unwrap(),
        }
        text
    })
}

/// A workbook of one sheet, as small as ISO/IEC 29500 lets it be.
fn xlsx(rows: &[&[&str]]) -> Vec<(&'static str, String)> {
    let rows: Vec<String> = rows.iter().map(|row| format!("<row>{}</row>", cells(row))).collect();
    let main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
    let office = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
    let package = "http://schemas.openxmlformats.org/package/2006";
    vec![
        (
            "[Content_Types].xml",
            format!(
                "<Types xmlns=\"{package}/content-types\"><Default Extension=\"xml\" ContentType=\"application/xml\"/></Types>"
            ),
        ),
        (
            "_rels/.rels",
            format!(
                "<Relationships xmlns=\"{package}/relationships\"><Relationship Id=\"r1\" Type=\"{office}/officeDocument\" Target=\"xl/workbook.xml\"/></Relationships>"
            ),
        ),
        (
            "xl/workbook.xml",
            format!(
                "<workbook xmlns=\"{main}\" xmlns:r=\"{office}\"><sheets><sheet name=\"Readings\" sheetId=\"1\" r:id=\"r1\"/></sheets></workbook>"
            ),
        ),
        (
            "xl/_rels/workbook.xml.rels",
            format!(
                "<Relationships xmlns=\"{package}/relationships\"><Relationship Id=\"r1\" Type=\"{office}/worksheet\" Target=\"worksheets/sheet1.xml\"/></Relationships>"
            ),
        ),
        (
            "xl/worksheets/sheet1.xml",
            format!("<worksheet xmlns=\"{main}\"><sheetData>{}</sheetData></worksheet>", rows.concat()),
        ),
    ]
}

/// A sheet as OpenDocument (ISO/IEC 26300).
fn ods(rows: &[&[&str]]) -> Vec<(&'static str, String)> {
    let cell = |value: &&str| match value.parse::<f64>() {
        Ok(number) => {
            format!(
                "<table:table-cell office:value-type=\"float\" office:value=\"{number}\"><text:p>{number}</text:p></table:table-cell>"
            )
        }
        Err(_text) => format!(
            "<table:table-cell office:value-type=\"string\"><text:p>{value}</text:p></table:table-cell>"
        ),
    };
    let row = |row: &&[&str]| {
        format!("<table:table-row>{}</table:table-row>", row.iter().map(cell).collect::<String>())
    };
    let names = "urn:oasis:names:tc:opendocument:xmlns";
    vec![
        ("mimetype", "application/vnd.oasis.opendocument.spreadsheet".to_owned()),
        (
            "META-INF/manifest.xml",
            format!(
                "<manifest:manifest xmlns:manifest=\"{names}:manifest:1.0\"><manifest:file-entry manifest:full-path=\"/\" manifest:media-type=\"application/vnd.oasis.opendocument.spreadsheet\"/></manifest:manifest>"
            ),
        ),
        (
            "content.xml",
            format!(
                "<office:document-content xmlns:office=\"{names}:office:1.0\" xmlns:table=\"{names}:table:1.0\" xmlns:text=\"{names}:text:1.0\"><office:body><office:spreadsheet><table:table table:name=\"Readings\">{}</table:table></office:spreadsheet></office:body></office:document-content>",
                rows.iter().map(row).collect::<String>()
            ),
        ),
    ]
}

fn refs<'a>(parts: &'a [(&'static str, String)]) -> Vec<(&'a str, &'a str)> {
    parts.iter().map(|(name, text)| (*name, text.as_str())).collect()
}

#[test]
fn workbooks_of_both_kinds_read_like_a_text_file() {
    let (demo, desk) = (Demo::own(), Desk::new());
    let preen = demo.preen("FS");
    let table: &[&[&str]] = &[
        &["subject.component", "quantity", "values", "unit", "occurred_at"],
        &["SV08-B002", "servo_free_play", "0.35", "deg", "2026-05-20 18:00"],
        &["SV08-B011", "servo_free_play", "0.4", "deg", "2026-05-20 18:05"],
    ];
    let book = desk.pack("readings.xlsx", &refs(&xlsx(table)));
    let open = desk.pack("readings.ods", &refs(&ods(table)));
    let said = preen.json(&format!("import measurements {book} --record"));
    assert_eq!(said["counts"], json!({ "recorded": 2 }), "{said}");
    // The same rows in another kind of file are the same rows.
    let said = preen.json(&format!("import measurements {open} --sheet Readings --record"));
    assert_eq!(said["counts"], json!({ "known": 2 }), "{said}");
    preen.run(&format!("import measurements {open} --sheet Other")).code(3).talks("hint: It has: Readings.");
}

#[test]
fn files_that_are_none_or_too_large_are_refused_before_they_are_unpacked() {
    let (demo, desk) = (Demo::shared(), Desk::new());
    let preen = demo.preen("FS");
    for (name, bytes, told) in [
        ("log.docx", b"x".to_vec(), "is no file of rows that is known here"),
        ("log.xlsx", b"no zip".to_vec(), "cannot be read"),
        ("empty.csv", b"".to_vec(), "holds no row"),
        ("latin.csv", b"model,note\nSG-01,M\xfcller\n".to_vec(), "not UTF-8"),
        ("odd.csv", b"model,colour\nSG-01,red\n".to_vec(), "have no field `colour`"),
        ("two.csv", b"model,model\nSG-01,SG-02\n".to_vec(), "Two columns fill"),
    ] {
        let file = desk.write(name, bytes);
        let said = preen.run(&format!("import flights {file}"));
        assert!(said.code == 3 || said.code == 1, "{name}: {}", said.stderr);
        let all = format!("{}{}", said.stdout, said.stderr);
        assert!(all.contains(told), "{name}: {all}");
    }
    preen.run("import flights /nowhere/log.csv").code(3).talks("/nowhere/log.csv cannot be read");
    preen.run("import spoons log.csv").code(3);
    // A sheet that unpacks to more than half a gibibyte lies in half a mebibyte.
    let path = desk.0.join("bomb.xlsx");
    let mut zip = ZipWriter::new(std::fs::File::create(&path).unwrap());
    zip.start_file("xl/worksheets/sheet1.xml", SimpleFileOptions::default()).unwrap();
    let zeros = vec![b'0'; 1 << 20];
    for _ in 0..520 {
        zip.write_all(&zeros).unwrap();
    }
    zip.finish().unwrap();
    assert!(std::fs::metadata(&path).unwrap().len() < 2 << 20);
    let said = preen.run(&format!("import flights {}", Path::new(&path).display())).code(3);
    said.talks("is too large: more than 512 MiB unpacked").talks("hint: Save the sheet as CSV");
}

#[test]
fn an_import_that_breaks_off_is_taken_up_by_the_same_command() {
    let (demo, desk) = (Demo::own(), Desk::new());
    let link = preen_tests::link::Link::to(&demo.url());
    let preen = demo.preen("FS").env("PREEN_URL", link.url());
    let mut text = "occurred_at,model,airtime_min,landing\n".to_owned();
    for number in 0..2_300 {
        let (day, hour, minute) = (1 + number / 600, 6 + number % 600 / 60, number % 60);
        writeln!(text, "2026-05-{day:02}T{hour:02}:{minute:02}:00Z,SG-01,0.5,normal").unwrap();
    }
    let file = desk.write("long.csv", &text);
    let set = "--set pilot=FS --set launches=1 --set motor_s=0 --set is_landing_flap_used=no --set is_post_flight_logged=no";
    // The first part is on record when the link breaks.
    let first: String = text.lines().take(2_001).collect::<Vec<_>>().join("\n");
    let part = desk.write("part.csv", first);
    let done = preen.json(&format!("import flights {part} {set} --record --each"));
    assert_eq!(done["rows"], json!(2_000), "{done}");
    link.cut();
    preen.run(&format!("import flights {file} {set} --record --each")).code(5);
    link.mend();
    let again = preen.json(&format!("import flights {file} {set} --record --each"));
    assert_eq!(again["counts"]["known"], done["counts"]["recorded"], "{again}");
    assert_eq!(again["rows"], json!(2_300));
}
