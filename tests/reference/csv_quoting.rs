//! How CSV quotes: the bytes that leave the product and come back.

const ROWS: [[&str; 2]; 5] =
    [["id", "note"], ["1", "plain"], ["2", "comma, here"], ["3", "quote \" here"], ["4", "line\r\nbreak"]];

// RFC 4180 section 2; the same bytes as Python's csv module writes.
const BYTES: &str =
    "id,note\r\n1,plain\r\n2,\"comma, here\"\r\n3,\"quote \"\" here\"\r\n4,\"line\r\nbreak\"\r\n";

#[test]
fn rows_are_quoted_byte_for_byte() {
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    for row in ROWS {
        writer.write_record(row).expect("into memory");
    }
    let written = writer.into_inner().expect("into memory");
    assert_eq!(String::from_utf8(written).as_deref(), Ok(BYTES));
}

#[test]
fn quoted_rows_come_back_unchanged() {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(BYTES.as_bytes());
    let read: Vec<csv::StringRecord> = reader.records().map(|row| row.expect("a row")).collect();
    assert_eq!(read, ROWS.map(|row| csv::StringRecord::from(row.to_vec())));
}
