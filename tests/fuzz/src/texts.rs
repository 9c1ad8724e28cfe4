//! Small texts: moments, days, tags, digests, ids, words. Each is read or refused in words, and what was read is written as
//! what reads back to the same.

use std::fmt::{Debug, Display};
use std::str::FromStr;

use arbitrary::Unstructured;
use preen_domain::digest::Digest;
use preen_domain::facts::Noun;
use preen_domain::ids::{MemberId, ModelId};
use preen_domain::text::{Tag, Text};
use preen_domain::time::{Instant, day_of, end_of_day, start_of_day};
use preen_domain::words::{Role, Scope};

/// Texts that readers stumble over.
const ODD: [&str; 40] = [
    "",
    " ",
    "\0",
    "\u{7f}",
    "\u{feff}",
    "\u{202e}SG-01",
    "é",
    "e\u{301}",
    "\u{1f6e9}\u{fe0f}",
    "\u{10ffff}",
    "\r\n",
    "a\nb",
    "\\",
    "\"",
    "null",
    "NaN",
    "-0",
    "1e309",
    "0x10",
    "2026-05-20",
    "2026-02-30",
    "0000-01-01",
    "9999-12-31",
    "+262143-01-01T00:00:00Z",
    "-262144-01-01T00:00:00Z",
    "2026-05-20T10:00:00Z",
    "2026-05-20T23:59:60Z",
    "2026-05-20T10:00:00.9999999999Z",
    "2026-05-20T10:00:00+23:59",
    "2026-05-20T10:00:00-24:00",
    "2026-05-20T24:00:00Z",
    "1969-12-31T23:59:59.999999Z",
    "2026-05-20t10:00:00z",
    "2026-03-29T01:30:00+01:00",
    "SG-01",
    "sg-01",
    "01970a3c-5d00-7000-8000-000000000001",
    "{01970A3C-5D00-7000-8000-000000000001}",
    "..",
    "=1+1",
];

/// A text that is odd, or made of these bytes.
pub fn odd_text(bytes: &mut Unstructured<'_>) -> String {
    let mut text = bytes.choose(&ODD).map_or(String::new(), |odd| (*odd).to_owned());
    match bytes.int_in_range(0..=5_u8).unwrap_or(0) {
        0 => text.push_str(bytes.arbitrary().unwrap_or_default()),
        1 => text.insert_str(0, bytes.arbitrary().unwrap_or_default()),
        2 => text = bytes.arbitrary::<&str>().unwrap_or_default().to_owned(),
        3 => text = text.repeat(bytes.int_in_range(0..=3_000).unwrap_or(0)),
        _ => {}
    }
    text
}

fn reads_back<T: FromStr + Display + PartialEq + Debug>(text: &str) -> Option<T>
where
    T::Err: Display,
{
    match text.parse::<T>() {
        Ok(read) => {
            let written = read.to_string();
            let again = written
                .parse::<T>()
                .unwrap_or_else(|error| panic!("{text:?} is written as {written:?}: {error}"));
            assert_eq!(again, read, "{text:?} is written as {written:?}");
            Some(read)
        }
        Err(error) => {
            assert!(error.to_string().len() > 5, "{text:?}: `{error}` says nothing");
            None
        }
    }
}

/// Reads a text as everything that a text may be.
///
/// # Panics
/// Where a promise is broken.
pub fn try_text(text: &str) {
    let zones = [chrono_tz::Europe::London, chrono_tz::Australia::Lord_Howe, chrono_tz::America::St_Johns];
    if let Some(at) = reads_back::<Instant>(text) {
        for zone in zones {
            let day = day_of(at, zone);
            assert!(start_of_day(day, zone) <= at && at < end_of_day(day, zone), "{text} in {zone}");
        }
    }
    reads_back::<Tag>(text);
    reads_back::<Text>(text);
    reads_back::<Digest>(text);
    reads_back::<ModelId>(text);
    reads_back::<MemberId>(text);
    reads_back::<Noun>(text);
    reads_back::<Role>(text);
    reads_back::<Scope>(text);
}
