//! Workbooks and tables made to burst, given to `preen import`: refused in words, within bounded memory, and nothing is
//! sent.

use std::path::Path;
use std::process::{Command, Stdio};

use preen_tests::world::scratch;

use crate::pack::{Packed, blanks, zip};
use crate::target::Target;

/// The command by which this program is `preen`.
pub const WORD: &str = "be-preen";
/// Address space, KiB, within which each is refused.
const ROOM_KIB: u64 = 2 << 20;

/// A workbook in the newer of the two formats, with this for its sheet and its shared texts.
fn xlsx(path: &Path, sheet: &Packed, texts: &Packed) {
    let types = r#"<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/></Types>"#;
    let book = r#"<?xml version="1.0"?><workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets><sheet name="S" sheetId="1" r:id="rId1"/></sheets></workbook>"#;
    let links = r#"<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml"/><Relationship Id="rId2" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/sharedStrings" Target="sharedStrings.xml"/></Relationships>"#;
    let text = |text: &str| blanks(text.as_bytes(), 0);
    let parts: [(&[&str], &Packed); 5] = [
        (&["[Content_Types].xml"], &text(types)),
        (&["xl/workbook.xml"], &text(book)),
        (&["xl/_rels/workbook.xml.rels"], &text(links)),
        (&["xl/worksheets/sheet1.xml"], sheet),
        (&["xl/sharedStrings.xml"], texts),
    ];
    std::fs::write(path, zip(&parts)).unwrap();
}

/// A workbook in the older open format, with this for its rows.
fn ods(path: &Path, rows: &str) {
    let content = format!(
        r#"<?xml version="1.0"?><office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"><office:body><office:spreadsheet><table:table table:name="S">{rows}</table:table></office:spreadsheet></office:body></office:document-content>"#
    );
    let kind = "application/vnd.oasis.opendocument.spreadsheet";
    let (kind, content) = (blanks(kind.as_bytes(), 0), blanks(content.as_bytes(), 0));
    std::fs::write(path, zip(&[(&["mimetype"], &kind), (&["content.xml"], &content)])).unwrap();
}

/// All of them.
pub fn odd() -> String {
    let folder = scratch("preen-books");
    let file = |name: &str| folder.join(name);
    let sheet = |rows: &str| {
        let text = format!(
            r#"<?xml version="1.0"?><worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>{rows}</sheetData></worksheet>"#
        );
        blanks(text.as_bytes(), 0)
    };
    let none = blanks(b"<sst/>", 0);
    let one = r#"<row r="1"><c r="A1"><v>1</v></c></row>"#;
    let corners = format!(r#"{one}<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>"#);
    xlsx(&file("corners.xlsx"), &sheet(&corners), &none);
    let wide: String = (1..=20_000)
        .map(|row| format!(r#"<row r="{row}"><c r="A{row}"><v>1</v></c><c r="XFD{row}"><v>1</v></c></row>"#))
        .collect();
    xlsx(&file("wide.xlsx"), &sheet(&wide), &none);
    xlsx(&file("long.xlsx"), &blanks(b"<worksheet>", 600), &none);
    xlsx(&file("lying.xlsx"), &sheet(one), &blanks(b"<sst>", 3_000).said_to_be(100));
    let entity = br#"<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]><worksheet><sheetData><row r="1"><c r="A1" t="str"><v>&b;</v></c></row></sheetData></worksheet>"#;
    xlsx(&file("entities.xlsx"), &blanks(entity, 0), &none);
    let cell = r#"<table:table-cell office:value-type="string" table:number-columns-repeated="16384"><text:p>x</text:p></table:table-cell>"#;
    ods(
        &file("repeated.ods"),
        &format!(r#"<table:table-row table:number-rows-repeated="1048576">{cell}</table:table-row>"#),
    );
    let far = r#"<table:table-row table:number-rows-repeated="1048000"><table:table-cell/></table:table-row><table:table-row><table:table-cell table:number-columns-repeated="16383"/><table:table-cell office:value-type="float" office:value="1"/></table:table-row>"#;
    ods(
        &file("far.ods"),
        &format!(
            r#"<table:table-row><table:table-cell office:value-type="float" office:value="1"/></table:table-row>{far}"#
        ),
    );
    std::fs::write(file("none.xlsx"), b"PK\x05\x06\0\0\0\0\xff\xff\xff\xff\xff\xff\xff\xff\0\0\0\0\0\0")
        .unwrap();
    std::fs::write(file("quote.csv"), [b"model,pilot\n\"".to_vec(), vec![b'x'; 100 << 20]].concat()).unwrap();
    std::fs::write(file("commas.csv"), vec![b','; 100 << 20]).unwrap();
    std::fs::write(file("zeros.csv"), vec![0; 20 << 20]).unwrap();
    let names = [
        "corners.xlsx",
        "wide.xlsx",
        "long.xlsx",
        "lying.xlsx",
        "entities.xlsx",
        "repeated.ods",
        "far.ods",
        "none.xlsx",
        "quote.csv",
        "commas.csv",
        "zeros.csv",
    ];
    let target = Target::begin();
    for name in names {
        import(&target, &folder, &file(name), name);
    }
    std::fs::remove_dir_all(folder).unwrap();
    format!("{} files refused within {} MiB of address space, {}", names.len(), ROOM_KIB >> 10, target.end())
}

fn import(target: &Target, folder: &Path, path: &Path, name: &str) {
    let done = Command::new("sh")
        .args(["-c", &format!("ulimit -v {ROOM_KIB}; exec timeout 60 \"$0\" \"$@\"")])
        .arg(std::env::current_exe().unwrap())
        .args([WORD, "import", "flights"])
        .arg(path)
        .env("HOME", folder)
        .env("PREEN_URL", target.caller.base())
        .env("PREEN_TOKEN", &target.caller.token)
        .stdin(Stdio::null())
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&done.stderr).into_owned();
    assert_eq!(done.status.code(), Some(3), "{name}: {:?} {said}", done.status);
    assert!(!said.contains("panicked") && !said.contains("memory allocation"), "{name}: {said}");
}
