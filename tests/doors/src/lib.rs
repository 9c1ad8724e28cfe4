//! Takes bytes, makes of them a file that is almost a sensible one, and gives it to a reader of the service or of the command
//! line: it ends, it does not panic, and what it refuses it refuses in words that say where. What is written for others
//! (the calendar) is read back by a reader that shares nothing with its writer.

pub mod calendar;
pub mod files;
pub mod labels;
pub mod tables;

use arbitrary::Unstructured;

/// One input made from these bytes, for one of the readers.
///
/// # Panics
/// Where a reader breaks a promise.
pub fn try_doors(bytes: &[u8]) {
    let mut bytes = Unstructured::new(bytes);
    match bytes.int_in_range(0..=11_u8).unwrap_or(0) {
        0..=2 => tables::try_tables(&mut bytes),
        3..=4 => tables::try_bodies(&mut bytes),
        5..=6 => files::try_rows(&mut bytes),
        7..=8 => files::try_archive(&mut bytes),
        9..=10 => calendar::try_calendar(&mut bytes),
        _ => labels::try_label(&mut bytes),
    }
}

/// Some letters of a text made others, dropped or repeated.
fn scratched(text: &mut Vec<u8>, bytes: &mut Unstructured<'_>) {
    for _ in 0..bytes.int_in_range(1..=6).unwrap_or(1) {
        if text.is_empty() {
            return;
        }
        let at = bytes.int_in_range(0..=text.len() - 1).unwrap_or(0);
        match bytes.int_in_range(0..=4_u8).unwrap_or(0) {
            0 => text[at] = bytes.arbitrary().unwrap_or(0),
            1 => {
                text.remove(at);
            }
            2 => text.truncate(at),
            3 => {
                let odd = preen_fuzz::texts::odd_text(bytes);
                text.splice(at..at, odd.bytes().take(4096));
            }
            _ => {
                let end = (at + 200).min(text.len());
                let again = text[at..end].to_vec();
                text.splice(at..at, again);
            }
        }
    }
}
